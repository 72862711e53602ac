//! Work that people expect in another year than the one its credit is in, because a day of it is in that year.
//!
//! Comes in: the case. Goes out: each such item with the year that decides, the other year, and the day that misleads;
//! and the notes that say so. Told only where the case has a return of the other year, for only then can the credit be
//! looked for in the wrong place. No figure depends on it.

use crate::case::{Case, Home, Item, Kind, TaxYear};
use crate::credit::codes;
use crate::credit::plan::qualify::{self, Timing};
use crate::finding::{Finding, Span, Spanned};
use crate::law::{Credit, Law, Rule};
use jiff::civil::Date;

/// What happened in the other year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Happened {
    /// It was paid, wholly or in part.
    Paid,
    /// It was installed, before the client first used the home.
    Installed,
    /// The audit was made.
    Made,
    /// It passed its inspection.
    Inspected,
    /// The utility gave permission to operate.
    Permitted,
    /// It was placed in service.
    Served,
}

impl Happened {
    /// Returns what happened as the end of a sentence about the item.
    fn words(self) -> &'static str {
        match self {
            Happened::Paid => "paid",
            Happened::Installed => "installed",
            Happened::Made => "made",
            Happened::Inspected => "inspected",
            Happened::Permitted => "permitted to operate",
            Happened::Served => "placed in service",
        }
    }
}

/// An item that may be looked for in another year than its own.
#[derive(Clone, Copy, Debug)]
pub struct OtherYear<'a> {
    /// The item.
    pub item: &'a Item,
    /// The day that decides its year; none where it is not complete yet.
    pub day: Option<Date>,
    /// The other year.
    pub year: TaxYear,
    /// What happened in that year.
    pub happened: Happened,
    /// When.
    pub on: Date,
    span: Span,
}

/// Returns the items that may be looked for in another year than their own, in case order, each year once.
pub fn other_years(case: &Case) -> Vec<OtherYear<'_>> {
    let with_home = case.property.iter().filter_map(|item| Some((item, case.home(&item.home.value)?)));
    let all = with_home.flat_map(|(item, home)| of_item(item, home));
    all.filter(|one| case.tax_return(one.year).is_some()).collect()
}

fn of_item<'a>(item: &'a Item, home: &Home) -> Vec<OtherYear<'a>> {
    let day = match qualify::timing(item, home) {
        Timing::On(day) => Some(day),
        Timing::NotYet => None,
        // An error asks for the day first.
        Timing::Unsaid => return Vec::new(),
    };
    let audit = item.kind.value == Kind::HomeEnergyAudit;
    let paid = item.costs.iter().filter_map(|cost| cost.paid.as_ref()).chain(item.paid.as_ref());
    // What people go by comes first; of several in one year only the first is told.
    let before = [(Happened::Made, &item.performed), (Happened::Installed, &item.installed)];
    let later = [
        (Happened::Inspected, &item.inspected),
        (Happened::Permitted, &item.permission_to_operate),
        (Happened::Served, &item.placed_in_service),
    ];
    let given = |(what, day): (Happened, &'a Option<Spanned<Date>>)| Some((what, day.as_ref()?));
    let days = before.into_iter().filter_map(given);
    let days = days.chain(paid.map(|paid| (Happened::Paid, paid)));
    let days = days.chain(later.into_iter().filter_map(given));
    let mut found: Vec<OtherYear<'a>> = Vec::new();
    for (happened, on) in days {
        let year = TaxYear::of(on.value);
        let known = found.iter().any(|one| one.year == year);
        let own = day.is_some_and(|day| TaxYear::of(day) == year);
        // Of an audit only the making and the payment have a year to speak of, of other work never the making.
        let matters = match happened {
            Happened::Paid => true,
            Happened::Made => audit,
            _ => !audit,
        };
        if matters && !known && !own {
            found.push(OtherYear { item, day, year, happened, on: on.value, span: on.span });
        }
    }
    found
}

/// Says of each item which year its credit is in, and that another day does not decide it.
pub(in crate::credit) fn notes(case: &Case, law: &Law, found: &[Finding]) -> Vec<Finding> {
    let said = |one: &OtherYear<'_>| {
        // A question about the days, or the end of the credit, says it already.
        let about = |finding: &Finding| match finding.code {
            "days-straddle-year-end" => {
                finding.about.as_deref() == Some(&format!("property.{}", one.item.key.value))
            }
            "ended" => finding.message.starts_with(&format!("`{}`", one.item.key.value)),
            _ => false,
        };
        found.iter().any(about)
    };
    other_years(case).iter().filter(|one| !said(one)).filter_map(|one| note(one, law)).collect()
}

fn note(one: &OtherYear<'_>, law: &Law) -> Option<Finding> {
    let OtherYear { item, year, happened, on, .. } = one;
    let (key, what) = (&item.key.value, happened.words());
    let audit = item.kind.value == Kind::HomeEnergyAudit;
    // What is not complete has a warning of its own, which names the payment.
    let day = one.day?;
    let own = TaxYear::of(day);
    let decides = match (audit, &item.installed) {
        (true, _) => "paid",
        (_, Some(installed)) if installed.value == day => "complete",
        _ => "first used with the finished home",
    };
    let span = match decides {
        "complete" => item.installed.as_ref().map_or(item.key.span, |day| day.span),
        _ => item.key.span,
    };
    let help = match decides {
        "paid" => format!("{year} has no credit for it; correct the day of payment if it was paid then"),
        "complete" => {
            format!("{year} has no credit for it; correct `installed:` if the work was complete then")
        }
        _ => {
            format!("{year} has no credit for it; correct `original_use:` of the home if it was in use then")
        }
    };
    let credit = law.year(own).and_then(|law| law.kinds.get(&item.kind.value)).map(|kind| kind.credit);
    let rule = match (audit, decides, credit) {
        (true, ..) => Rule::AuditYearPaid,
        (_, "complete", credit) => credit.map_or(Rule::TimingInstalled, Credit::timing),
        _ => Rule::OriginalUse,
    };
    let rule = law.year(own).and_then(|law| law.rules.get(&rule));
    let finding = codes::COUNTS_IN_ANOTHER_YEAR
        .finding(format!(
            "`{key}` was {decides} on {day}, so it belongs to {own}, although it was {what} on {on}"
        ))
        .at(span)
        .with(one.span, format!("this day is in {year} and does not decide"))
        .help(help);
    Some(match rule {
        Some(rule) => finding.under(rule.authority.source.join("; ")),
        None => finding,
    })
}
