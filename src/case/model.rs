//! One household's case as data, in the order of the contract.
//!
//! Every value that a finding might point at is an [`At`]. Optional things are `Option` or empty lists; no
//! default of the law is applied here, only the defaults of the contract.

pub use super::client::*;
pub use super::home::*;
use super::kinds::*;
use crate::finding::{At, Span};
use crate::money::{Money, Quantity, Rate};
pub use crate::record::Key;
use jiff::civil::Date;
use std::fmt;

/// A calendar tax year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
#[serde(transparent)]
pub struct TaxYear(pub i16);

impl TaxYear {
    /// The year before.
    pub fn before(self) -> TaxYear {
        TaxYear(self.0 - 1)
    }

    /// The year after.
    pub fn after(self) -> TaxYear {
        TaxYear(self.0 + 1)
    }

    /// The year a day falls in.
    pub fn of(day: Date) -> TaxYear {
        TaxYear(day.year())
    }
}

impl fmt::Display for TaxYear {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// The whole case.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Span of the whole file, for findings about what is absent.
    pub whole: Span,
    /// Who the client is.
    pub client: Client,
    /// Who prepared the case and when.
    pub prepared: Option<Signed>,
    /// Who reviewed it and when.
    pub reviewed: Option<Signed>,
    /// The homes, in case order.
    pub homes: Vec<Home>,
    /// The property, in case order.
    pub property: Vec<Item>,
    /// Costs and incentives that lie over several items.
    pub shared: Vec<Shared>,
    /// The returns, by year.
    pub returns: Vec<TaxReturn>,
    /// Balances brought in that start a chain.
    pub carried_in: Vec<CarriedIn>,
    /// Credits of earlier years, for lifetime limits.
    pub earlier_credits: Vec<EarlierCredits>,
    /// Figures for planning.
    pub planning: Planning,
    /// Papers.
    pub evidence: Vec<Evidence>,
    /// Answers to questions.
    pub answers: Vec<Answer>,
}

/// A postal address.
#[derive(Clone, Debug, PartialEq)]
pub struct Address {
    /// Where it stands in the case.
    pub span: Span,
    /// Street and number, or PO box.
    pub street: At<String>,
    /// Apartment, suite.
    pub unit: Option<At<String>>,
    /// City.
    pub city: At<String>,
    /// Two-letter state.
    pub state: At<String>,
    /// ZIP or ZIP+4, as written.
    pub zip: At<String>,
}

/// One item of property.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Its key.
    pub key: At<Key>,
    /// What it is.
    pub kind: At<Kind>,
    /// The home it serves.
    pub home: At<Key>,
    /// Existing home, renovation or new home.
    pub part_of: At<PartOf>,
    /// How it was acquired.
    pub acquired: At<Acquired>,
    /// New or used.
    pub condition: At<Condition>,
    /// The day the original installation was complete.
    pub installed: Option<At<Date>>,
    /// The day of the final inspection.
    pub inspected: Option<At<Date>>,
    /// The day the utility gave leave to switch on.
    pub permission_to_operate: Option<At<Date>>,
    /// The day it was ready and available for its use.
    pub placed_in_service: Option<At<Date>>,
    /// Home energy audit: the day it was done.
    pub performed: Option<At<Date>>,
    /// Home energy audit: the day it was paid.
    pub paid: Option<At<Date>>,
    /// The day construction began (fuel cells).
    pub construction_began: Option<At<Date>>,
    /// By whom it is certified, and under which number.
    pub certified: Option<Certified>,
    /// Kilowatts (fuel cells, wind, solar).
    pub capacity_kw: Option<At<Quantity>>,
    /// Kilowatt-hours (batteries).
    pub capacity_kwh: Option<At<Quantity>>,
    /// Share of the energy that comes from the sun (solar water heating).
    pub solar_share: Option<At<Rate>>,
    /// Thermal or electrical efficiency, by kind.
    pub efficiency: Option<At<Rate>>,
    /// Amperes (enabling property).
    pub amperage: Option<At<Quantity>>,
    /// Fuel, in words.
    pub fuel: Option<At<String>>,
    /// The efficiency standard it meets, in words, such as `CEE highest tier 2025`.
    pub meets: Option<At<String>>,
    /// Auditor's certification program (audits from 2024).
    pub auditor: Option<Auditor>,
    /// Number of equal units, at least one; amounts are the entry's total.
    pub units: At<u16>,
    /// The maker's four-character code, one for all units or one per unit.
    pub maker_code: Vec<At<String>>,
    /// The 17-character product number, one for all units or one per unit.
    pub pin: Vec<At<String>>,
    /// What enabling property enables.
    pub enables: Vec<At<Key>>,
    /// Share of nonbusiness use.
    pub nonbusiness_use: Option<At<Rate>>,
    /// What joint occupants and co-owners outside this return paid for the same item.
    pub paid_by_others: Option<At<Money>>,
    /// The condominium association or cooperative whose costs these are.
    pub association: Option<Association>,
    /// How it was financed.
    pub financed: Option<Financed>,
    /// The costs, in case order.
    pub costs: Vec<Cost>,
    /// The incentives, in case order.
    pub incentives: Vec<Incentive>,
}

/// A certificate.
#[derive(Clone, Debug, PartialEq)]
pub struct Certified {
    /// By whom.
    pub by: At<String>,
    /// Its number.
    pub number: Option<At<String>>,
}

/// A home energy auditor's particulars, which the report must show from 2024 on (Notice 2023-59).
#[derive(Clone, Debug, PartialEq)]
pub struct Auditor {
    /// The auditor's name.
    pub name: At<String>,
    /// The auditor's employer or other identifying number, masked or in full as an EIN.
    pub number: Option<At<String>>,
    /// The certification program.
    pub program: Option<At<String>>,
}

/// An association or cooperative and the client's share.
#[derive(Clone, Debug, PartialEq)]
pub struct Association {
    /// Its name.
    pub name: At<String>,
    /// The client's proportionate share.
    pub share: At<Rate>,
}

/// Financing.
#[derive(Clone, Debug, PartialEq)]
pub struct Financed {
    /// What it is.
    pub how: At<FinancedAs>,
    /// How much.
    pub amount: At<Money>,
}

/// One cost.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Where the row stands.
    pub span: Span,
    /// What it was for, in words.
    pub item: At<String>,
    /// What it was for, by nature.
    pub nature: At<CostNature>,
    /// The amount.
    pub amount: At<Money>,
    /// The part of one price that is materials.
    pub materials: Option<At<Rate>>,
    /// The day it was paid.
    pub paid: Option<At<Date>>,
    /// The paper that shows it.
    pub evidence: Option<At<Key>>,
    /// A treatment the preparer has chosen where the law leaves it open.
    pub treat_as: Option<At<TreatAs>>,
    /// Why.
    pub because: Option<At<String>>,
}

/// One incentive.
#[derive(Clone, Debug, PartialEq)]
pub struct Incentive {
    /// Where the row stands.
    pub span: Span,
    /// Who pays it.
    pub from: At<String>,
    /// What it is by character.
    pub kind: At<IncentiveKind>,
    /// The amount.
    pub amount: At<Money>,
    /// The day it was agreed.
    pub agreed: Option<At<Date>>,
    /// The day it was received.
    pub received: Option<At<Date>>,
    /// The paper that shows it.
    pub evidence: Option<At<Key>>,
    /// A treatment the preparer has chosen where the law leaves it open.
    pub treat_as: Option<At<TreatAs>>,
    /// Why.
    pub because: Option<At<String>>,
}

/// A treatment chosen by the preparer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TreatAs {
    /// The cost counts.
    Counted,
    /// The cost does not count.
    NotCounted,
    /// This much of the cost counts.
    CountedInPart(Money),
    /// The incentive reduces the cost.
    ReducesCost,
    /// This much of the incentive reduces the cost that counts.
    ReducesInPart(Money),
    /// The incentive leaves the cost alone.
    DoesNotReduce,
}

/// One invoice or incentive over several items; its parts add up to the whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Shared {
    /// Where the row stands.
    pub span: Span,
    /// The cost or incentive itself.
    pub row: SharedRow,
    /// The items and the part each bears.
    pub over: Vec<(At<Key>, At<Part>)>,
}

/// What is shared.
#[derive(Clone, Debug, PartialEq)]
pub enum SharedRow {
    /// A cost.
    Cost(Cost),
    /// An incentive.
    Incentive(Incentive),
}

/// The part of something shared that one item bears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A percentage of the whole.
    Share(Rate),
    /// An amount.
    Amount(Money),
}

/// One year's return.
#[derive(Clone, Debug, PartialEq)]
pub struct TaxReturn {
    /// Where it stands.
    pub span: Span,
    /// The tax year.
    pub year: At<TaxYear>,
    /// Form 1040, 1040-SR or 1040-NR.
    pub form: At<ReturnForm>,
    /// How far it has come.
    pub stage: At<Stage>,
    /// Filing status.
    pub filing_status: At<FilingStatus>,
    /// The day it was filed.
    pub filed: Option<At<Date>>,
    /// Its due date, where it is not the ordinary one.
    pub due: Option<At<Date>>,
    /// Its extended due date.
    pub extended_to: Option<At<Date>>,
    /// When tax was paid.
    pub tax_paid: Vec<TaxPaid>,
    /// Tax before credits (Form 1040 line 18 in 2020-2025).
    pub tax_before_credits: At<Money>,
    /// The other credits of the year.
    pub other_credits: Vec<OtherCreditEntry>,
    /// What the filed return shows. Never read by the computation.
    pub claimed: Option<Claimed>,
    /// Whole dollars or cents.
    pub rounding: RoundingChoice,
    /// A married couple with two main homes.
    pub separate_main_homes: Option<At<bool>>,
}

/// A payment of tax.
#[derive(Clone, Debug, PartialEq)]
pub struct TaxPaid {
    /// The day.
    pub on: At<Date>,
    /// The amount.
    pub amount: At<Money>,
}

/// Another credit of the year.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherCreditEntry {
    /// Which.
    pub credit: At<OtherCredit>,
    /// The amount on the return.
    pub amount: At<Money>,
    /// Child tax credit only: line 14 of Credit Limit Worksheet B of Schedule 8812, where it was used.
    pub worksheet_b: Option<At<Money>>,
    /// Child tax credit only: the case gave a bare amount, so whether Worksheet B was used is not said.
    pub worksheet_b_unsaid: bool,
}

/// What a filed return shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Claimed {
    /// Where it stands.
    pub span: Span,
    /// The 25C credit.
    pub improvement: Option<At<Money>>,
    /// The 25D credit.
    pub clean: Option<At<Money>>,
    /// The 25D credit carried out.
    pub carried_out: Option<At<Money>>,
    /// Why it differs from what is computed, in words for Form 1040-X.
    pub because: Option<At<String>>,
}

/// A balance brought in, at which the chain starts.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedIn {
    /// Where it stands.
    pub span: Span,
    /// The year it is brought into.
    pub year: At<TaxYear>,
    /// The amount.
    pub amount: At<Money>,
    /// Where it was shown.
    pub shown_on: Option<At<String>>,
    /// Whose it is, by name.
    pub belongs_to: Option<At<String>>,
    /// Why it is taken instead of what the case itself yields.
    pub instead_of_computed: Option<At<String>>,
}

/// Credits of an earlier year that count against lifetime limits.
#[derive(Clone, Debug, PartialEq)]
pub struct EarlierCredits {
    /// The year.
    pub year: At<TaxYear>,
    /// The 25C credit taken.
    pub nonbusiness_energy_credit: Option<At<Money>>,
    /// The window cost counted.
    pub window_cost: Option<At<Money>>,
}

/// Figures for planning; never part of a return's computation.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Planning {
    /// The years planned, in order.
    pub years: Vec<PlannedYear>,
    /// The client's federal marginal rate.
    pub federal_rate: Option<At<Rate>>,
    /// Whether the client itemizes deductions.
    pub itemizes: Option<At<bool>>,
}

/// What is expected of a year to come.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedYear {
    /// The year.
    pub year: At<TaxYear>,
    /// Tax before credits.
    pub tax_before_credits: At<Money>,
    /// The credits that come before the clean energy credit, in one amount.
    pub credits_before: Option<At<Money>>,
}

/// One paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Its key.
    pub key: At<Key>,
    /// What it is.
    pub kind: At<EvidenceKind>,
    /// Whether it is on file.
    pub on_file: At<bool>,
    /// Where the firm keeps it.
    pub kept_at: Option<At<String>>,
    /// The file, relative to the case.
    pub file: Option<At<String>>,
    /// The items it belongs to, where the case says so here.
    pub items: Vec<At<Key>>,
}

/// An answer to a question.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Where it stands.
    pub span: Span,
    /// The code of the question.
    pub question: At<String>,
    /// What it is about, such as `property.roof-collector`.
    pub about: Option<At<String>>,
    /// The facts it was given for; when they change it answers no longer.
    pub given: Option<At<String>>,
    /// The answer.
    pub answer: At<String>,
    /// Who answered.
    pub by: Option<At<String>>,
    /// When.
    pub on: Option<At<Date>>,
    /// Why.
    pub because: Option<At<String>>,
}

impl Case {
    /// Finds a home by its key.
    pub fn home(&self, key: &Key) -> Option<&Home> {
        self.homes.iter().find(|home| home.key.value == *key)
    }

    /// Finds an item by its key.
    pub fn item(&self, key: &Key) -> Option<&Item> {
        self.property.iter().find(|item| item.key.value == *key)
    }

    /// Finds the return of a year.
    pub fn tax_return(&self, year: TaxYear) -> Option<&TaxReturn> {
        self.returns.iter().find(|one| one.year.value == year)
    }

    /// Finds the balance brought into a year.
    pub fn carried_in(&self, year: TaxYear) -> Option<&CarriedIn> {
        self.carried_in.iter().find(|one| one.year.value == year)
    }
}

impl Address {
    /// Writes the address in one line, as the worksheet shows it.
    pub fn one_line(&self) -> String {
        super::home::one_line(
            &self.street,
            self.unit.as_ref(),
            &self.city,
            Some(&self.state),
            Some(&self.zip),
        )
    }
}
