//! What the words of the questions mean, in short plain sentences for whoever writes `?`.
//!
//! Comes in: a kind, a nature, a credit and the like, and the law of the year. Goes out: words. What something is called
//! comes from the tables of the case; whether it counts, and why, from the law; only what everyday people call it is
//! ours. Knows no case.

use crate::case::{Acquired, CostNature, HeldAs, HomeUse, IncentiveKind, Kind, PartOf, ReminderBasis, Stage};
use crate::law::{Class, Credit, FactName, KindLaw, Law, Rule, YearLaw};
use crate::wording::sentence;

/// What a kind is in everyday words.
pub(super) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::SolarElectric => {
            "panels or solar shingles that make electricity for the home, with inverter and wiring"
        }
        Kind::SolarWaterHeating => {
            "collectors that heat water for the home from the sun; never for a pool or hot tub"
        }
        Kind::SmallWind => "a wind turbine that makes electricity for the home",
        Kind::GeothermalHeatPump => "a heat pump that takes heat from the ground or ground water",
        Kind::BatteryStorage => "a battery that stores electricity for the home",
        Kind::FuelCell => "a fuel cell plant that makes electricity for the home",
        Kind::InsulationOrAirSealing => "material put in to keep heat in or out, or to close leaks",
        Kind::ExteriorDoor => "a door between inside and outside, not a garage door",
        Kind::WindowOrSkylight => "windows and skylights, whole, not panes",
        Kind::Roof => "a metal or asphalt roof with pigments or granules that keep heat out",
        Kind::CentralAirConditioner => "one air conditioner for the whole home",
        Kind::FuelWaterHeater => "a water heater that burns gas, propane or oil",
        Kind::FurnaceOrBoiler => "a furnace or hot water boiler that burns gas, propane or oil",
        Kind::AirCirculatingFan => "the fan inside a furnace that moves air through the ducts",
        Kind::EnablingProperty => {
            "a panelboard, circuit or feeder needed for another improvement, such as a heat pump"
        }
        Kind::HomeEnergyAudit => "an inspection of the home with a written report by a certified auditor",
        Kind::HeatPump => "a heat pump that takes heat from the air, for heating and cooling",
        Kind::HeatPumpWaterHeater => "a water heater that works as a heat pump",
        Kind::BiomassStoveOrBoiler => "a stove or boiler that burns wood, pellets or other plant matter",
    }
}

/// What people call a kind, where that is something else than its name in the law.
fn everyday(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::SolarElectric => Some("solar panels"),
        Kind::SolarWaterHeating => Some("solar water heater"),
        Kind::SmallWind => Some("wind turbine"),
        Kind::BatteryStorage => Some("battery"),
        _ => None,
    }
}

/// Names a kind for a list: as people call it, and as the law does.
pub(super) fn kind_choice(kind: Kind) -> String {
    match everyday(kind) {
        Some(name) => format!("{name}: {}", kind.label()),
        None => kind.label().to_string(),
    }
}

/// Explains the kinds of a year.
pub(super) fn kinds(kinds: &[Kind], year: &YearLaw) -> String {
    let mut out = String::new();
    for one in kinds {
        let Some(kind_law) = year.kinds.get(one) else { continue };
        let under = kind_law.credit.section();
        out.push_str(&format!("{} ({under}): {}.\n", one.label(), kind(*one)));
    }
    let named = year.credits.iter().map(|(credit, one)| (credit.section(), &one.name)).enumerate();
    let named = named.map(|(at, (section, name))| match at {
        0 => format!("{section} is the {name}"),
        _ => format!("{section} the {name}"),
    });
    let year_names = format!("{}.", named.collect::<Vec<_>>().join(", "));
    format!("{out}{year_names} `gablework law {}` prints the law with its sources.", year.year)
}

/// Says whether a nature of cost makes sense for a class of property, so that short lists stay short.
pub(super) fn fits(nature: CostNature, class: Class, item: Kind) -> bool {
    use CostNature::*;
    match nature {
        SalesTax | Discount | LumpSum | Other => true,
        Equipment => class != Class::Envelope && class != Class::Audit,
        Material => class == Class::Envelope,
        OnsiteLabor | Permit | DesignFee | RemovalOrDisposal | DealerFee | Financing | Warranty => {
            class != Class::Audit
        }
        PipingAndWiring | ElectricalPanel => !matches!(class, Class::Envelope | Class::Audit),
        RoofStructure | RoofCovering | BuildingReinforcement | Monitoring => class == Class::Clean,
        SolarRoofing => item == Kind::SolarElectric,
        PoolOrHotTub => item == Kind::SolarWaterHeating,
    }
}

pub(super) use crate::law::effects::{of_cost as counts, of_incentive as effect};

/// Explains natures of cost: what becomes of each and why.
pub(super) fn natures(natures: &[CostNature], class: Class, year: &YearLaw) -> String {
    let mut out = String::from("What the bill calls it does not matter; what was done or delivered does.\n");
    for nature in natures {
        let because = year.costs.get(&(class, *nature)).map_or("", |one| one.because.as_str());
        let said = counts(year, class, *nature);
        out.push_str(&format!("{}: {said}. {}\n", nature.label(), sentence(because)));
    }
    out.push_str("A bill with one price for goods and labor is \"one price for goods and labor\".");
    out
}

/// Explains incentives: what each does and why.
pub(super) fn incentives(kinds: &[IncentiveKind], credit: Credit, year: &YearLaw, law: &Law) -> String {
    let mut out = String::from("What it is decides, not what its payer calls it.\n");
    for kind in kinds {
        let Some(one) = year.incentives.get(&(credit, *kind)) else { continue };
        let cited = law.cite(&one.authority.source.join("; "));
        out.push_str(&format!("{}: {} ({cited})\n", kind.label(), sentence(&one.because)));
    }
    out.trim_end().to_string()
}

/// Explains a fact that the law asks for.
pub(super) fn fact(name: FactName, kind: &KindLaw, law: &Law) -> String {
    let asked = kind.requires.iter().find(|one| one.fact == name);
    asked.map_or_else(
        || name.label().to_string(),
        |one| format!("{} Law: {}.", sentence(&one.because), law.cite(&one.authority.source.join("; "))),
    )
}

/// Explains a rule of the law, if the year has it.
pub(super) fn rule(year: &YearLaw, law: &Law, rule: Rule) -> String {
    year.rules.get(&rule).map_or_else(String::new, |rule| {
        format!("{} Law: {}.", sentence(&rule.says), law.cite(&rule.authority.source.join("; ")))
    })
}

pub(super) fn home_use(one: HomeUse) -> &'static str {
    match one {
        HomeUse::MainHome => "main home: where the client mostly lived",
        HomeUse::OtherResidence => "second home: the client lived there too",
        HomeUse::RentedToOthers => "rented to others",
        HomeUse::Vacant => "vacant",
    }
}

pub(super) fn held_as(one: HeldAs) -> &'static str {
    match one {
        HeldAs::Owner => "owner",
        HeldAs::Renter => "tenant",
        HeldAs::CoopShareholder => "shareholder of a cooperative",
        HeldAs::CondoMember => "owner of a condominium unit",
    }
}

pub(super) fn part_of(one: PartOf) -> &'static str {
    match one {
        PartOf::ExistingHome => "a home that was lived in",
        PartOf::Renovation => "a rebuilding of a home that stood",
        PartOf::NewHome => "the building of a new home",
    }
}

pub(super) fn acquired(one: Acquired) -> &'static str {
    match one {
        Acquired::Bought => "bought, also on credit",
        Acquired::Leased => "leased",
        Acquired::PowerContract => "not owned; the client buys the power (power purchase contract)",
    }
}

pub(super) fn stage(one: Stage) -> &'static str {
    match one {
        Stage::Projected => "not begun; the figures are expected ones",
        Stage::Draft => "being prepared",
        Stage::Filed => "filed",
        Stage::Amended => "filed, and amended since",
    }
}

pub(super) fn reminder(one: ReminderBasis) -> &'static str {
    match one {
        ReminderBasis::Preparation => "yes, as part of preparing the returns",
        ReminderBasis::AccountingServices => "yes, as part of accounting services",
        ReminderBasis::Consent => "yes, with the client's written consent",
    }
}

pub(super) const DAY: &str = "The day on which the installation was complete decides the tax year; the days of order, \
delivery and payment do not (26 U.S.C. 25D(e)(8)). A home energy audit belongs to the year in which it was paid.\n\
Write the day as year-month-day, such as 2025-07-30.";

pub(super) const HOME_USE: &str = "Windows, doors and insulation must go into the client's main home; most other things may \
go into any home where the client lives. A home that the client only rents to others earns neither credit.";

pub(super) const PART_OF: &str = "The home improvement credit is for homes that were lived in before, never for building one. \
The clean energy credit counts in a new home too, when the client first lives there.";

pub(super) const ORDINARY: &str = "Write no if any of it is not so: it was leased or used, put into a new, a rebuilt or another \
home, a second home, or one that the client rents. What is so is asked then.";

pub(super) const ACQUIRED: &str = "Only what the client owns earns a credit. Something bought with a loan is bought. Under a \
lease or a power contract the owner is someone else.";

pub(super) const CONDITION: &str = "Both credits are for new things only; what was used before never counts.";

pub(super) const UNITS: &str = "Equal ones at one price, entered together: the amounts are then for all of them. What cost \
something else is entered on its own, because the form gives the costliest a row of their own.";

pub(super) const MAKER_CODE: &str = "Four letters or digits, from the label or the maker's letter; the product number of \
seventeen characters is as good. Where each of several has its own, write them one after another with blanks between. Left out, \
the item earns nothing until a code is added.";

pub(super) const MEETS: &str = "The law asks for a standard, and each kind and year has its own; that something is sold as \
energy saving is not enough. Write the standard as the maker's statement names it. Left out, it will be asked again.";

pub(super) const PRIVATE: &str = "Where part of the home serves a business, and more than a fifth of the use does, only the \
private part of the cost counts (26 U.S.C. 25D(e)(7)). 100% means private only.";

pub(super) const OTHERS_PAID: &str = "Someone who lives there or owns part of it and is not on this return, such as a sister \
or a friend. Spouses on one return are one. Utilities, makers and States come later.";

pub(super) const ASSOCIATION: &str = "Where an association or cooperative bought it, each member counts a share of its cost. \
The amounts are then the association's, and the program takes the share.";

pub(super) const FINANCED: &str = "Borrowed money counts as paid. Only for the home improvement credit there is an exception: \
cost paid from a federal, State or local program for saving energy, such as a loan without interest, does not count.";

pub(super) const PAPER: &str = "The paper that shows the amount. The program keeps a list of what is in the file and what is \
missing; the case can be made without papers, but they will be asked for.";

pub(super) const CARRIED_IN: &str = "The clean energy credit that an earlier year's tax could not take is carried forward, \
year after year (26 U.S.C. 25D(c)). Line 16 of the last filed Form 5695 shows it. The home improvement credit is never carried.";

pub(super) const TAX: &str = "The income tax before any credit, as it stands on this line of the return. It is the most that \
both credits can be in the year; refund and withholding do not matter.";

pub(super) const WORKSHEET_B: &str = "With a clean energy credit and children on the return, the child tax credit is usually \
limited by Credit Limit Worksheet B of Schedule 8812. Then the clean energy credit is limited by its line 14, not by the amount \
on the return. If the worksheet is not at hand, leave it out; the program will ask.";

pub(super) const CLAIMED: &str = "What the filed return shows, to compare it with what the law gives. The computation never \
reads it. Write 0 where the return shows none; leave it out if the return is not at hand.";

pub(super) const EARLIER: &str = "In its earlier years the home improvement credit had a limit for the whole life, and one \
within it for windows. What earlier returns took of it must be known.";

pub(super) const REMINDERS: &str = "Whether the firm may use what it knows from a return to write to the client each season \
(26 CFR 301.7216-2 and 301.7216-3). With no, the case says nothing of it.";
