//! What letters say of the property of a year: each item, what of it counts, and where a limit of the law bit.

use super::Telling;
use crate::case::{Home, HomeAddress, Item, Key, Kind, TaxYear};
use crate::credit::evaluate;
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::other_years::{Happened, OtherYear, other_years};
use crate::credit::{Figure, qualify};
use crate::law::Credit;
use crate::letter::names;
use crate::money::Money;
use crate::wording::capital;
use jiff::civil::Date;

/// What a limited line is about, as its owner would say it; other lines are called by their label.
const LIMITED: &[(Line, &str)] = &[
    (line::INSULATION_CREDIT, "insulation and air sealing"),
    (line::FAN_CREDIT, "advanced main air circulating fans"),
    (line::IMPROVEMENT_BEFORE_LIMIT, "the credit of all years together"),
    (line::DOOR_TOP_CREDIT, "the costliest outside door"),
    (line::DOOR_CREDIT, "all outside doors together"),
    (line::WINDOW_CREDIT, "windows and skylights"),
    (line::AIR_CONDITIONER_CREDIT, "central air conditioners"),
    (line::FUEL_WATER_HEATER_CREDIT, "gas, propane or oil water heaters"),
    (line::FURNACE_CREDIT, "furnaces and hot water boilers"),
    (line::ENABLING_CREDIT, "electrical panels and circuits"),
    (line::AUDIT_CREDIT, "home energy audits"),
    (line::GENERAL_CREDIT, "all work but heat pumps, heat pump water heaters and biomass"),
    (line::HEAT_PUMP_GROUP_CREDIT, "heat pumps, heat pump water heaters and biomass"),
    (line::FUEL_CELL_CREDIT, "the fuel cell"),
];

/// The phrases of [`LIMITED`] and of the names of items, which a table of words must hold.
#[cfg(test)]
pub(super) fn phrases() -> Vec<&'static str> {
    let names = Kind::ALL.iter().flat_map(|kind| [plain_words(*kind, 1), plain_words(*kind, 2)]);
    let although = ALTHOUGH.iter().map(|(_, words)| *words);
    LIMITED.iter().map(|(_, words)| *words).chain(names).chain(although).collect()
}

impl Telling<'_> {
    /// Returns the items whose credit falls in the year.
    pub(super) fn items(&self) -> Vec<names::Item> {
        let case = self.request.case;
        let of_year = |item: &Item| {
            let home = case.home(&item.home.value)?;
            match qualify::timing(item, home) {
                qualify::Timing::On(day) if TaxYear::of(day) == self.request.year => {
                    Some(self.item(item, home, day))
                }
                _ => None,
            }
        };
        case.property.iter().filter_map(of_year).collect()
    }

    /// Returns property that may be looked for in the year although its credit is in another one, or the other way round.
    pub(super) fn other_years(&self) -> Vec<names::OtherYear> {
        let year = self.request.year;
        let of_year =
            |one: &OtherYear<'_>| one.year == year || one.day.is_some_and(|day| TaxYear::of(day) == year);
        let told = |one: &OtherYear<'_>| names::OtherYear {
            name: self.item_name(one.item),
            timing: one.day.map_or_else(String::new, |day| self.timing_words(one.item, day)),
            belongs_to: one.day.map_or_else(String::new, |day| TaxYear::of(day).to_string()),
            although: self.speech.say(although(one.happened), &[&one.year.to_string()]),
        };
        other_years(self.request.case).iter().filter(|one| of_year(one)).map(told).collect()
    }

    fn item(&self, item: &Item, home: &Home, day: Date) -> names::Item {
        let (law, outcome, year) = (self.request.law, self.request.outcome, self.request.year);
        let at = |line: Line| Place::of_item(year, line, &item.key.value);
        let money = |line: Line| outcome.figures.money(&at(line)).unwrap_or(Money::ZERO);
        let ruling = outcome
            .figures
            .get(&at(line::ITEM_QUALIFIED))
            .and_then(|figure| figure.rulings().into_iter().next().cloned());
        let counts = ruling.as_ref().is_some_and(|ruling| ruling.counts);
        let year_law = law.year(year);
        let credit = year_law.and_then(|law| law.kinds.get(&item.kind.value)).map(|kind| kind.credit);
        let in_force = year_law.is_some_and(|law| match credit {
            Some(credit) => law.in_force(credit),
            None => Credit::ALL.iter().any(|credit| law.in_force(*credit)),
        });
        let named = credit.and_then(|credit| Some(year_law?.name(credit)));
        let credit_name = named.map_or_else(String::new, |name| self.speech.tell(name));
        let paid = money(if item.association.is_some() { line::ITEM_CLIENT_PAID } else { line::ITEM_PAID });
        let qualified = money(line::ITEM_QUALIFIED);
        names::Item {
            name: self.item_name(item),
            kind: self.speech.tell(item.kind.value.label()),
            home: address_line(&home.address),
            completed: self.speech.date(day),
            timing: self.timing_words(item, day),
            paid: paid.spoken(),
            qualified: qualified.spoken(),
            whole: paid == qualified,
            counts,
            ended: !counts && !in_force,
            because: ruling
                .filter(|ruling| !ruling.counts)
                .map_or_else(String::new, |ruling| self.sentence(&ruling.because)),
            credit_name,
            improvement: credit == Some(Credit::Improvement),
            left_out: if counts { self.left_out(&item.key.value) } else { Vec::new() },
            incentives: self.incentives(&item.key.value),
        }
    }

    /// Returns the costs of an item that do not count, or count in part: how much of each, and why.
    fn left_out(&self, key: &Key) -> Vec<names::LeftOut> {
        let figures = &self.request.outcome.figures;
        let of_item = |figure: &&&Figure| {
            matches!(&figure.place.of, Subject::Cost(of, _) if of == key)
                && figure.place.line == line::COST_COUNTED
        };
        let of_year = figures.of_year(self.request.year);
        of_year
            .iter()
            .filter(of_item)
            .filter_map(|figure| {
                let paid = figures.money(&Place { line: line::COST_PAID, ..figure.place.clone() })?;
                let difference = paid - figure.value.money()?;
                let ruling = figure.rulings().into_iter().next()?;
                (!difference.is_negative() && !difference.is_zero()).then(|| names::LeftOut {
                    what: capital(&row_words(figure).0),
                    amount: difference.spoken(),
                    because: self.sentence(&ruling.because),
                })
            })
            .collect()
    }

    fn incentives(&self, key: &Key) -> Vec<names::Incentive> {
        let figures = &self.request.outcome.figures;
        let of_year = figures.of_year(self.request.year);
        of_year
            .iter()
            .filter(|figure| {
                matches!(&figure.place.of, Subject::Incentive(of, _) if of == key)
                    && figure.place.line == line::INCENTIVE_AMOUNT
            })
            .filter_map(|figure| {
                let reduces =
                    figures.get(&Place { line: line::INCENTIVE_REDUCES, ..figure.place.clone() })?;
                let ruling = reduces.rulings().into_iter().next()?;
                let (from, kind) = row_words(figure);
                Some(names::Incentive {
                    from,
                    kind: self.speech.tell(&kind),
                    amount: figure.value.money()?.spoken(),
                    reduces: ruling.counts,
                    because: self.sentence(&ruling.because),
                })
            })
            .collect()
    }

    /// Returns where a limit of the law made a credit smaller; the limit that the tax sets is another matter.
    pub(super) fn limits(&self) -> Vec<names::Limit> {
        let (law, outcome) = (self.request.law, self.request.outcome);
        let of_year = outcome.figures.of_year(self.request.year);
        let by_tax = [line::IMPROVEMENT_ALLOWED, line::CLEAN_ALLOWED];
        let limited = |figure: &&&Figure| {
            matches!(figure.place.line.sheet(), 300 | 400) && !by_tax.contains(&figure.place.line)
        };
        of_year
            .iter()
            .filter(limited)
            .filter_map(|figure| {
                let bound = evaluate::bound(figure, law, &outcome.figures)?;
                let known = LIMITED.iter().find(|(line, _)| *line == figure.place.line);
                let label = figure.label.split(": credit").next().unwrap_or(&figure.label);
                let what = self.speech.tell(known.map_or(label, |(_, words)| words));
                Some(names::Limit {
                    what: capital(&what),
                    figured: bound.before.spoken(),
                    limit: bound.limit.spoken(),
                    law_limit: bound.shared.map_or_else(String::new, Money::spoken),
                })
            })
            .collect()
    }

    /// Names an item in plain words, with the words of its key where another item of the case would be named alike.
    pub(super) fn item_name(&self, item: &Item) -> String {
        let name = self.speech.tell(plain_words(item.kind.value, item.units.value));
        let property = &self.request.case.property;
        let alike = property.iter().filter(|other| other.kind.value == item.kind.value).count();
        if alike > 1 {
            return format!("{} ({})", capital(&name), item.key.value.as_str().replace(['-', '_'], " "));
        }
        capital(&name)
    }

    /// Says what happened to an item on the day that decides its year.
    fn timing_words(&self, item: &Item, day: Date) -> String {
        let words = match (&item.installed, item.kind.value) {
            (_, Kind::HomeEnergyAudit) => "paid {}",
            (Some(installed), _) if installed.value == day => "finished {}",
            _ => "in use from {}",
        };
        self.speech.say(words, &[&self.speech.date(day)])
    }
}

/// What happened in a year that does not decide.
const ALTHOUGH: &[(Happened, &str)] = &[
    (Happened::Paid, "you paid in {}"),
    (Happened::Installed, "it was installed in {}"),
    (Happened::Made, "the audit was made in {}"),
    (Happened::Inspected, "it was inspected in {}"),
    (Happened::Permitted, "the utility gave permission to operate it in {}"),
    (Happened::Served, "it was placed in service in {}"),
];

fn although(happened: Happened) -> &'static str {
    ALTHOUGH.iter().find(|(one, _)| *one == happened).map_or("", |(_, words)| words)
}

/// Splits what a cost or incentive row is about into its own words and the label of its nature.
fn row_words(figure: &Figure) -> (String, String) {
    let about = figure.about.as_deref().unwrap_or("");
    match about.rsplit_once(" (") {
        Some((words, label)) => (words.to_string(), label.trim_end_matches(')').to_string()),
        None => (about.to_string(), String::new()),
    }
}

/// Names a kind of property as its owner would.
fn plain_words(kind: Kind, units: u16) -> &'static str {
    let several = units > 1;
    match kind {
        Kind::SolarElectric => "solar electric system",
        Kind::SolarWaterHeating => "solar water heating system",
        Kind::SmallWind => "small wind turbine",
        Kind::GeothermalHeatPump => "geothermal heat pump",
        Kind::BatteryStorage => "battery storage",
        Kind::FuelCell => "fuel cell",
        Kind::InsulationOrAirSealing => "insulation or air sealing",
        Kind::ExteriorDoor if several => "outside doors",
        Kind::ExteriorDoor => "outside door",
        Kind::WindowOrSkylight if several => "windows or skylights",
        Kind::WindowOrSkylight => "window or skylight",
        Kind::Roof => "roof",
        Kind::CentralAirConditioner => "central air conditioner",
        Kind::FuelWaterHeater => "gas, propane or oil water heater",
        Kind::FurnaceOrBoiler => "furnace or hot water boiler",
        Kind::AirCirculatingFan => "air circulating fan",
        Kind::EnablingProperty => "electrical panel or circuit",
        Kind::HomeEnergyAudit => "home energy audit",
        Kind::HeatPump if several => "heat pumps",
        Kind::HeatPump => "heat pump",
        Kind::HeatPumpWaterHeater => "heat pump water heater",
        Kind::BiomassStoveOrBoiler => "biomass stove or boiler",
    }
}

fn address_line(address: &HomeAddress) -> String {
    let mut parts = vec![address.street.value.clone()];
    parts.extend(address.unit.as_ref().map(|unit| unit.value.clone()));
    parts.push(address.city.value.clone());
    let region: Vec<&str> =
        [&address.state, &address.zip].into_iter().flatten().map(|one| one.value.as_str()).collect();
    parts.extend((!region.is_empty()).then(|| region.join(" ")));
    parts.join(", ")
}
