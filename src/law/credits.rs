//! The credits: what is the same of each in every year, and what a year's law says of it.
//!
//! A row of [`ROWS`] is a credit. Whether new property earns it, under what name, from and through which day, whether
//! what the tax cannot take goes on, and by which steps it is figured, a year's file says. Knows no line and no case.

use super::{Authority, LawKey, Rule, YearLaw, source_key};
use crate::case::{Kind, TaxYear, words};
use jiff::civil::Date;
use std::fmt;

words! {
    /// A credit. Of several on one return the first takes its part of the tax first.
    Credit {
        Improvement = "improvement", "section 25C";
        Clean = "clean", "section 25D";
    }
}

/// What is the same of a credit in every year.
struct Row {
    credit: Credit,
    /// Its section of the Code.
    section: &'static str,
    /// What papers call it for short, as the law names it today.
    called: &'static str,
    /// The name of its rate in a year's law.
    rate: LawKey,
    /// Where it stands when its property counts, which day completes an installation where several could, and what
    /// becomes of what others than the client pay.
    timing: Rule,
    completion: Rule,
    sharing: Rule,
    /// Documents about it alone whose keys do not begin with its section.
    documents: &'static [&'static str],
    /// Provisions of another section that are its own as well: how the key begins, and the part.
    borrows: &'static [(&'static str, &'static str)],
}

const ROWS: &[Row] = &[
    Row {
        credit: Credit::Improvement,
        section: "25C",
        called: "home improvement credit",
        rate: LawKey::ImprovementRate,
        timing: Rule::TimingImprovement,
        completion: Rule::TimingImprovement,
        sharing: Rule::JointImprovement,
        documents: &[],
        // Section 25C borrows the special rules of 25D(e) (26 U.S.C. 25C(f)(1)).
        borrows: &[("USC25D", "(e)(")],
    },
    Row {
        credit: Credit::Clean,
        section: "25D",
        called: "clean energy credit",
        rate: LawKey::CleanRate,
        timing: Rule::TimingInstalled,
        completion: Rule::InstalledOrPlacedInService,
        sharing: Rule::JointCleanOthers,
        documents: &["DOE_GUIDE"],
        borrows: &[],
    },
];

impl Credit {
    fn row(self) -> &'static Row {
        ROWS.iter().find(|row| row.credit == self).unwrap_or_else(|| panic!("`{self}` has no row"))
    }

    /// Returns its section of the Code, such as `25D`.
    pub fn section(self) -> &'static str {
        self.row().section
    }

    /// Returns what papers call the credit for short, as the law names it today.
    pub fn called(self) -> &'static str {
        self.row().called
    }

    /// Returns the name of its rate in a year's law.
    pub fn rate(self) -> LawKey {
        self.row().rate
    }

    /// Returns the rule that says when its property counts.
    pub fn timing(self) -> Rule {
        self.row().timing
    }

    /// Returns the rule that says which of several days completes an installation.
    pub fn completion(self) -> Rule {
        self.row().completion
    }

    /// Returns the rule that says what becomes of what others than the client pay.
    pub fn sharing(self) -> Rule {
        self.row().sharing
    }

    /// Returns the credit that a source is about alone: a section of the Code, the questions and answers on it, or a
    /// document of its own.
    fn of_source(reference: &str) -> Option<Credit> {
        let key = source_key(reference);
        let about = |row: &&Row| {
            let section = key.strip_prefix("USC").or(key.strip_prefix("FAQ"));
            section.is_some_and(|rest| rest.starts_with(row.section)) || row.documents.contains(&key)
        };
        ROWS.iter().find(about).map(|row| row.credit)
    }
}

/// Leaves out the sources that are about another credit alone.
pub fn sources_for(sources: &[String], credit: Credit) -> Vec<String> {
    let borrowed = |one: &str| {
        let from = |(key, part): &(&str, &str)| one.starts_with(key) && one.contains(part);
        credit.row().borrows.iter().any(from)
    };
    let own = |one: &&String| Credit::of_source(one).is_none_or(|of| of == credit || borrowed(one));
    sources.iter().filter(own).cloned().collect()
}

/// What a year's law says of a credit.
#[derive(Clone, Debug, PartialEq)]
pub struct CreditLaw {
    /// Its name in that year.
    pub name: String,
    /// Whether new property earns it.
    pub new_property: bool,
    /// The first day of completion that earns it, where the law names one.
    pub from: Option<Date>,
    /// The last day of completion that earns it, where the law names one.
    pub through: Option<Date>,
    /// Whether what the tax cannot take goes to the next year; otherwise it is lost.
    pub carried_forward: bool,
    /// Where it stands.
    pub authority: Authority,
}

/// How a credit of a year is figured.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodLaw {
    /// The steps, in their order.
    pub steps: Vec<MethodStep>,
    /// The earlier years whose credits count against a limit for several years together.
    pub earlier_credits: Vec<TaxYear>,
    /// The earlier years whose window costs count against the ceiling of window cost.
    pub earlier_windows: Vec<TaxYear>,
    /// Where it stands.
    pub authority: Authority,
}

words! {
    /// A step by which a credit is figured before the tax limit. What a step plans is in `credit`.
    MethodStep {
        TwoMainHomes = "two_main_homes", "two main homes of a couple are asked about";
        EnvelopeQuestions = "envelope_questions", "the form's questions about the building envelope";
        Insulation = "insulation", "insulation and air sealing at the rate, up to their limit";
        Doors = "doors", "exterior doors at the rate, with a limit for each and one for all";
        Windows = "windows", "windows and skylights at the rate, up to their limit";
        EnergyPropertyQuestions = "energy_property_questions", "the form's questions about energy property";
        EnergyProperty = "energy_property", "each kind of energy property at the rate, up to its limit";
        EnablingProperty = "enabling_property", "enabling property at the rate, up to its limit";
        Audits = "audits", "home energy audits at the rate, up to their limit";
        YearlyLimit = "yearly_limit", "one limit for the year over all of these";
        HeatPumps = "heat_pumps", "heat pumps and biomass at the rate, up to a limit of their own";
        YearlyTotal = "yearly_total", "both together";
        Questions = "questions", "the form's questions";
        EarlierWindows = "earlier_windows", "window costs of earlier years";
        EnvelopeCost = "envelope_cost", "cost of insulation, doors and roofs";
        WindowCeiling = "window_ceiling", "window cost up to what earlier years leave of its ceiling";
        EnvelopeRate = "envelope_rate", "a rate of the cost of the building envelope";
        EnergyPropertyAmounts = "energy_property_amounts", "cost of energy property up to fixed amounts";
        AmountsTotal = "amounts_total", "both together";
        CostOfAll = "cost_of_all", "cost of windows and energy property";
        RateOfAll = "rate_of_all", "one rate of all costs";
        LimitOfAllYears = "limit_of_all_years", "one limit for several years together, less earlier credits";
        Address = "address", "the address of the home served";
        Costs = "costs", "cost of each kind; the rate, up to its limit, where the kind has one";
        Rate = "rate", "the rate of the cost of all other kinds together";
        FuelCells = "fuel_cells", "fuel cells at the rate, up to a limit by capacity";
    }
}

impl MethodStep {
    /// Returns the credit that is figured with the step.
    pub fn credit(self) -> Credit {
        match self {
            MethodStep::Address | MethodStep::Costs | MethodStep::Rate | MethodStep::FuelCells => {
                Credit::Clean
            }
            _ => Credit::Improvement,
        }
    }

    /// Returns the single values of the law that the step takes, apart from rates.
    pub fn takes(self) -> &'static [LawKey] {
        match self {
            MethodStep::Insulation => &[LawKey::InsulationCap],
            MethodStep::Doors => &[LawKey::DoorCapEach, LawKey::DoorCapAll],
            MethodStep::Windows => &[LawKey::WindowCap],
            MethodStep::EnergyProperty | MethodStep::EnablingProperty => &[LawKey::EnergyPropertyCap],
            MethodStep::Audits => &[LawKey::AuditCap],
            MethodStep::YearlyLimit => &[LawKey::GeneralCap],
            MethodStep::HeatPumps => &[LawKey::HeatPumpCap],
            MethodStep::EarlierWindows => &[LawKey::EarlierWindowsTimes],
            MethodStep::WindowCeiling => &[LawKey::WindowCostCap],
            MethodStep::EnergyPropertyAmounts => {
                &[LawKey::BuildingPropertyCap, LawKey::FurnaceCap, LawKey::FanCap]
            }
            MethodStep::LimitOfAllYears => &[LawKey::AllYearsCap],
            MethodStep::FuelCells => &[
                LawKey::FuelCellCapPerKw,
                LawKey::FuelCellJointCostPerHalfKw,
                LawKey::FuelCellEfficiencyAbove,
            ],
            _ => &[],
        }
    }
}

impl YearLaw {
    /// Says whether new property earns a credit in this year.
    pub fn in_force(&self, credit: Credit) -> bool {
        self.credits.get(&credit).is_some_and(|one| one.new_property)
    }

    /// Says whether what the tax cannot take of a credit goes to the next year.
    pub fn carries_forward(&self, credit: Credit) -> bool {
        self.credits.get(&credit).is_some_and(|one| one.carried_forward)
    }

    /// Returns the name of a credit in this year; where its law has none, the short one.
    pub fn name(&self, credit: Credit) -> &str {
        self.credits.get(&credit).map_or(credit.called(), |one| &one.name)
    }

    /// Returns what papers of this year call a credit: the short name where the year's name ends in it, otherwise the
    /// year's own name, for the credits were called differently in earlier years.
    pub fn called(&self, credit: Credit) -> &str {
        let name = self.name(credit);
        if name.ends_with(credit.called()) { credit.called() } else { name }
    }

    /// Returns where it stands whether new property earns a credit; of a credit that the year does not have, where that
    /// of the others stands.
    pub fn grant(&self, credit: Credit) -> Authority {
        let own = self.credits.get(&credit).or(self.credits.values().next());
        own.map_or_else(Authority::none, |one| one.authority.clone())
    }

    /// Returns how a credit is figured; none where nothing new earns it.
    pub fn method(&self, credit: Credit) -> Option<&MethodLaw> {
        self.methods.get(&credit)
    }

    /// Returns how the credit is figured that has a limit for several years together, where there is one.
    pub fn looking_back(&self) -> Option<&MethodLaw> {
        self.methods.values().find(|how| !how.earlier_credits.is_empty())
    }

    /// Says whether a credit of this year is figured with a step.
    pub fn figured_with(&self, step: MethodStep) -> bool {
        self.method(step.credit()).is_some_and(|how| how.steps.contains(&step))
    }

    /// Says whether a limit holds for a kind of property of a credit, by itself or together with others.
    pub fn is_limited(&self, kind: Kind, credit: Credit) -> bool {
        let over_all = [MethodStep::YearlyLimit, MethodStep::LimitOfAllYears];
        let of_credit = |step: &MethodStep| step.credit() == credit && self.figured_with(*step);
        self.limit_of(kind).is_some() || over_all.iter().any(of_credit)
    }

    /// Says up to when work earned any credit, where all of them have ended; `told` writes the last day.
    pub fn all_ended<T: fmt::Display>(&self, told: impl Fn(Date) -> T) -> Option<String> {
        let ended: Option<Vec<Date>> = self.credits.values().map(|one| one.through).collect();
        let last = ended?.into_iter().max()?;
        let all = if self.credits.len() == 2 { "both credits" } else { "all credits" };
        Some(format!("{all} ended for work completed after {}", told(last)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_credit_has_a_row_and_a_section_of_its_own() {
        for (at, credit) in Credit::ALL.iter().enumerate() {
            assert_eq!(ROWS[at].credit, *credit, "rows stand in the order of the credits");
            assert_eq!(credit.label(), format!("section {}", credit.section()));
            assert_eq!(Credit::of_source(&format!("USC{}_2023 (a)", credit.section())), Some(*credit));
        }
    }
}
