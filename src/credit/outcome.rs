//! What the credits of a case come to.

use super::evaluate::Figures;
use crate::case::{ReturnForm, TaxYear};
use crate::finding::Finding;
use std::collections::BTreeMap;

/// Everything the credits of a case come to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// The figures.
    pub figures: Figures,
    /// The years with figures, in order.
    pub years: Vec<TaxYear>,
    /// The forms of the returns: which official papers the figures of a year belong to.
    pub forms: BTreeMap<TaxYear, ReturnForm>,
    /// What was found on the way and stands open.
    pub findings: Vec<Finding>,
    /// The questions that the case answers, each with the number of its answer, from zero.
    pub answered: Vec<(usize, Finding)>,
}

impl Outcome {
    /// Returns the form of a year's return; Form 1040 where the case has no return of the year.
    pub fn form(&self, year: TaxYear) -> ReturnForm {
        self.forms.get(&year).copied().unwrap_or(ReturnForm::Form1040)
    }
}
