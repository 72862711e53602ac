//! Tax years, and the years that a case may speak of.

use crate::contract::values;
use crate::finding::Spanned;
use crate::record::{Fields, Given, Years};
use jiff::civil::Date;
use std::fmt;
use std::ops::RangeInclusive;

/// The tax years for which there can be a return: those that the program has the law of, from the first year of the
/// credits on.
pub(super) struct ReturnYears;

impl Years for ReturnYears {
    fn years() -> RangeInclusive<i16> {
        crate::editions::years()
    }
}

/// The years to plan for.
pub(super) const PLANNED_YEARS: RangeInclusive<i16> = 2006..=2045;

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

values! {
    TaxYear: one => one.0, {"type": "integer"};
}

impl Given for Spanned<TaxYear> {
    /// The year an entry is written under. An entry under anything else is looked through and then left out.
    fn given(group: &Fields<'_>) -> Spanned<TaxYear> {
        let year = group.under.and_then(|under| under.value.parse().ok());
        Spanned::new(TaxYear(year.unwrap_or(0)), group.head)
    }
}
