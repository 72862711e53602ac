//! What the credits of a case come to.

use super::evaluate::credits::CREDITS;
use super::evaluate::line;
use super::evaluate::{Figure, Figures, Used};
use crate::case::{ReturnForm, TaxYear};
use crate::finding::Finding;
use std::collections::{BTreeMap, BTreeSet};

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

    /// Returns the findings that have to do with a year: all that do not speak of one other year alone, and of those the
    /// ones whose year this year's credits come from in part.
    pub fn findings_for(&self, year: TaxYear) -> Vec<Finding> {
        let concerns =
            |one: &&Finding| one.year.is_none_or(|of| of == year.0 || self.comes_from(year, TaxYear(of)));
        self.findings.iter().filter(concerns).cloned().collect()
    }

    /// Says whether some of a year's credits comes from what was bought in another year: whether a cost or an incentive of
    /// that one is found on the way back from the credits, over amounts that are not zero.
    fn comes_from(&self, year: TaxYear, other: TaxYear) -> bool {
        let of_credits = |figure: &&Figure| CREDITS.iter().any(|one| one.sheet == figure.place.line.sheet());
        let mut open: Vec<&Figure> = self.figures.of_year(year).into_iter().filter(of_credits).collect();
        let mut seen = BTreeSet::new();
        while let Some(figure) = open.pop() {
            let ruled = matches!(figure.place.line, line::COST_COUNTED | line::INCENTIVE_REDUCES);
            if ruled && figure.place.year == other {
                return true;
            }
            // What is ruled out is zero by its ruling.
            let led = ruled || figure.value.number().is_none_or(|number| !number.is_zero());
            if led && seen.insert(&figure.place) {
                let used = figure.used.iter().filter_map(|used| match used {
                    Used::Figure(place, _) => self.figures.get(place),
                    Used::Fact(_) | Used::Law(..) => None,
                });
                open.extend(used);
            }
        }
        false
    }
}
