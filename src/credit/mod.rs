//! From facts and law to numbered lines.
//!
//! Comes in: a case and the law. Goes out: the figures of every year that can be computed, chained, and all that
//! was found on the way. A line is an expression and expressions are data: the plan writes them, `evaluate`
//! is the only arithmetic, and everything later reads them.
//!
//! The rooms, each of which uses only those before it: `codes` (what can be found), `evaluate` (lines, expressions, arithmetic), `plan` (which lines a
//! year has), `papers` (what proves an item, and for how long), `returns` (where each return stands, and what that makes
//! of the figures), `chain` (year by year), `explain` (figures for people) and `review` (what is asked and told once the
//! figures stand).

mod chain;
pub mod codes;
pub mod evaluate;
mod explain;
pub mod papers;
mod plan;
mod returns;
mod review;

pub use evaluate::{CaseRef, Expr, Line, LineKind, Of, Place, Ruling, Value};
pub use evaluate::{Fault, Figure, Figures, Step, Used};
pub use evaluate::{credits, expression, line};
pub use explain::{facts, why};
pub use plan::{brought_in, qualify};
pub use returns::{amend, as_filed, planning, season, stage, unclaimed, window};
pub use review::{other_years, weight};

use crate::case::{Case, ReturnForm, TaxYear};
use crate::finding::Finding;
use crate::law::Law;
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

/// Computes every year of a case that has a return or property, chained from year to year, and reviews what came of it.
///
/// Fails only through a mistake of the program: a plan that asks for what is not there.
pub fn compute(case: &Case, law: &Law) -> Result<Outcome, Fault> {
    let mut chain = chain::reckon(case, law)?;
    chain.years_to_come()?;
    Ok(review::review(case, law, chain))
}

/// A small household for the tests of this module.
#[cfg(test)]
mod sample {
    use super::{Outcome, compute};
    use crate::case::Case;
    use crate::law::Law;

    /// Reads and computes a case of one person with one home, `h`; `rest` is what follows `homes`.
    pub(super) fn household(rest: &str) -> (Case, Outcome) {
        let text = format!(
            "format: 1\nclient:\n  reference: HH-1\n  people: [{{name: A Person}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 1 A St, city: X, state: VT, zip: 05099}}\n    use: main_home\n    held_as: owner\n{rest}"
        );
        let mut sources = crate::finding::Sources::default();
        let (case, findings) = crate::case::read("x.case.yaml", text.as_bytes(), &mut sources);
        let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
        let case = case.unwrap_or_else(|| panic!("{}", told.join("\n")));
        let outcome = compute(&case, Law::built_in()).unwrap();
        (case, outcome)
    }
}
