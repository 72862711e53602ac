//! Whether the date of letters fits what they tell.
//!
//! Comes in: a request for letters. Goes out: a warning for each day that they speak of as past and that lies after
//! their own date, as where last year's date was left in a command.

use super::Request;
use crate::case::TaxYear;
use crate::credit::qualify;
use crate::finding::{Finding, Spanned};
use jiff::civil::Date;

/// Finds the days of the case that the letters tell as past and that come after their date.
pub(super) fn find(request: &Request<'_>) -> Vec<Finding> {
    let Request { case, year, dated, .. } = *request;
    let mut found = Vec::new();
    let mut after = |day: &Spanned<Date>, what: String| {
        if day.value > dated {
            found.push(
                Finding::warning(
                    "letter-before-what-it-tells",
                    format!("the letters are dated {dated}, and {what} on {}", day.value),
                )
                .at(day.span)
                .help("correct the day, or date the letters later with `--dated`"),
            );
        }
    };
    // Letters of a year tell of the return after it as well. A payment may be one that is agreed on and still to come.
    for one in case.returns.iter().filter(|one| one.year.value <= year.after()) {
        if let Some(filed) = &one.filed {
            after(filed, format!("the {} return was filed", one.year.value));
        }
    }
    for item in &case.property {
        let Some(home) = case.home(&item.home.value) else { continue };
        let told = qualify::timing(item, home).year().is_some_and(|its_year: TaxYear| its_year <= year);
        if let Some(installed) = item.installed.as_ref().filter(|_| told) {
            after(installed, format!("`{}` was finished", item.key.value));
        }
    }
    found
}
