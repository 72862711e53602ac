//! An assumption and what it comes to as JSON, with its schema: what `suppose --as json` prints.

use super::{Assumed, From, Supposed, Way, Year};
use crate::case::{Case, TaxYear};
use crate::contract::{Contract, FormatOne, choice, contract, whole};
use crate::money::Money;
use serde_json::Value;

contract! {
    /// What years to come would use of the clean energy credit, on tax that was assumed for them. Arithmetic on an
    /// assumption, no forecast: no return rests on any amount here, and no law of a year to come was read.
    struct Whole of (case: &Case, supposed: &Supposed) {
        format: FormatOne = FormatOne;
        /// The client's reference.
        case: String = case.client.reference.value.to_string();
        /// The first year that is open.
        first_open_year: TaxYear = supposed.first;
        /// One or two assumptions, in the order in which they were made.
        assumptions: Vec<Assumption> = supposed.ways.iter().map(Assumption::of).collect();
    }
}

contract! {
    /// An assumption and what it comes to.
    struct Assumption "assumption" of (way: &Way) {
        /// What was assumed, by year.
        assumed: Vec<OfYear> = way.assumed.iter().map(OfYear::of).collect();
        /// The years in which there is credit to use, in order.
        years: Vec<OneYear> = way.years.iter().map(OneYear::of).collect();
        /// The year whose return would use the last of the credit; null where some is left after the last year assumed.
        used_up_in: Option<TaxYear> = way.last().filter(|_| way.left().is_zero());
        /// What would be left after the last of the years.
        left: Money = way.left();
        /// Years that were assumed and in which there is nothing left to use.
        not_needed: Vec<TaxYear> = way.not_needed.clone();
    }
}

contract! {
    /// What was assumed of a year.
    struct OfYear "assumed" of (one: &Assumed) {
        year: TaxYear = one.year;
        /// The tax before credits.
        tax: Money = one.tax;
        /// Credits that come before the clean energy credit, in one amount; null where nothing was assumed of them.
        credits_before: Option<Money> = one.other;
    }
}

contract! {
    /// A year.
    struct OneYear "year" of (one: &Year) {
        year: TaxYear = one.year;
        /// Where its tax comes from: it is assumed, or it is in the case, of a return that is not filed or of figures for
        /// planning.
        tax_from: From = one.from;
        /// The tax before credits.
        tax: Money = one.tax;
        /// Credits that come before the clean energy credit.
        credits_before: Money = one.credits_before;
        /// What would be left of the tax for it.
        tax_left: Money = one.tax_left;
        /// What there would be to use.
        available: Money = one.available;
        /// What would be used.
        used: Money = one.used;
        /// What would be left for the year after.
        left: Money = one.left;
    }
}

choice! {
    From {
        From::Assumed => "assumed",
        From::Return => "return",
        From::Planned => "planned",
    }
}

/// Returns what was supposed as JSON.
pub fn json(case: &Case, supposed: &Supposed) -> Value {
    Whole::of(case, supposed).json()
}

/// Returns its schema.
pub fn schema() -> Value {
    whole::<Whole>("What if, format 1")
}
