//! The list that a firm fills in for a season: for each client what the case knows and what it needs of the years up to
//! one, with blanks for exactly that.
//!
//! Comes in: computed cases. Goes out: [`Line`]s, by the columns that an intake reads; [`super::workbook`] writes them.

use super::columns::{Column, Field, all};
use super::standing::said;
use super::values::written;
use crate::assemble::Computed;
use crate::case::{Case, OtherCredit, TaxReturn, TaxYear};
use crate::credit::season::entering;
use crate::credit::stage;
use crate::law::{Credit, Law};
use std::collections::BTreeSet;

/// What one cell of the list is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// The case says it; nothing is to be typed.
    Known(String),
    /// The case needs it.
    Wanted,
    /// It may be filled in, where it is so.
    Open,
    /// Nothing is to be typed.
    Closed,
}

/// One row of the list: a client and a year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What is in each column, in the order of [`columns`].
    pub places: Vec<Place>,
}

/// Other credits that many returns have, which the list always has room for.
const USUAL: [OtherCredit; 5] = [
    OtherCredit::ForeignTax,
    OtherCredit::ChildAndDependentCare,
    OtherCredit::Education,
    OtherCredit::RetirementSavings,
    OtherCredit::ChildTax,
];

/// Leaves out the columns of rare credits that none of the clients has had.
pub fn in_use(columns: &[&'static Column], mut lines: Vec<Line>) -> (Vec<&'static Column>, Vec<Line>) {
    let used = |(n, column): (usize, &&'static Column)| match column.field {
        Field::Credit(credit) => {
            let has = |line: &Line| matches!(line.places.get(n), Some(Place::Known(_) | Place::Wanted));
            USUAL.contains(&credit) || lines.iter().any(has)
        }
        _ => true,
    };
    let kept: Vec<bool> = columns.iter().enumerate().map(used).collect();
    for line in &mut lines {
        let mut kept = kept.iter();
        line.places.retain(|_| kept.next().is_none_or(|kept| *kept));
    }
    let columns = columns.iter().zip(&kept).filter(|(_, kept)| **kept).map(|(column, _)| *column);
    (columns.collect(), lines)
}

/// Why a client is not in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeftOut {
    /// No credit is carried into the years, and nothing was bought that needs a return.
    NoCredit,
    /// The return of the year is in the case, with all that is asked here.
    Complete,
    /// The case has errors.
    Errors,
}

/// The columns of the list of a year.
pub fn columns(year: TaxYear, law: &Law) -> Vec<&'static Column> {
    let before = before(year, law);
    let in_force = law.year(year).is_some_and(|law| law.in_force(Credit::Improvement));
    let fits = |field: Field| match field {
        Field::Reference | Field::Name | Field::Spouse | Field::Year | Field::Balance => true,
        Field::Form | Field::Stage | Field::FilingStatus | Field::Filed | Field::TaxBeforeCredits => true,
        Field::Credit(credit) => before.contains(&credit),
        Field::WorksheetB => before.contains(&OtherCredit::ChildTax),
        Field::ClaimedImprovement => in_force,
        Field::ClaimedClean | Field::ClaimedCarriedOut => true,
        _ => false,
    };
    all().iter().filter(|one| fits(one.field)).collect()
}

/// The other credits that come before ours in a year.
fn before(year: TaxYear, law: &Law) -> BTreeSet<OtherCredit> {
    let Some(law) = law.year(year) else { return OtherCredit::ALL.iter().copied().collect() };
    law.before.values().flat_map(|one| one.credits.iter().copied()).collect()
}

/// Makes the lines of a case: one for each year that has no return, from the first that credit enters, up to `last`; or
/// one for `last` itself, where its return lacks something.
pub fn lines(computed: &Computed, last: TaxYear, law: &Law) -> Result<Vec<Line>, LeftOut> {
    let Some(case) = computed.case.as_ref().filter(|_| !computed.has_errors()) else {
        return Err(LeftOut::Errors);
    };
    let columns = columns(last, law);
    let line =
        |year| Line { places: columns.iter().map(|one| place(one.field, case, computed, year)).collect() };
    if let Some(one) = case.tax_return(last) {
        let lacks = !wanted_of(one).is_empty();
        return if lacks { Ok(vec![line(last)]) } else { Err(LeftOut::Complete) };
    }
    let returns = case.returns.iter().map(|one| one.year.value.after());
    let balances = case.carried_in.iter().map(|one| one.year.value);
    let installed = case.property.iter().filter_map(|one| Some(TaxYear::of(one.installed.as_ref()?.value)));
    let Some(first) = returns.clone().max().or_else(|| balances.chain(installed).min()) else {
        return Err(LeftOut::NoCredit);
    };
    let begins_here = case
        .property
        .iter()
        .any(|one| one.installed.as_ref().is_some_and(|day| TaxYear::of(day.value) >= first));
    if first > last || entering(case, &computed.outcome, first).is_none() && !begins_here {
        return Err(LeftOut::NoCredit);
    }
    Ok((first.0..=last.0).map(|year| line(TaxYear(year))).collect())
}

/// What a return lacks that a list can give.
fn wanted_of(one: &TaxReturn) -> Vec<Field> {
    if !stage::is_filed(one) {
        return Vec::new();
    }
    let claimed = one.claimed.as_ref();
    let lacking = [
        (Field::Filed, one.filed.is_none()),
        (Field::ClaimedClean, claimed.is_none_or(|one| one.clean.is_none())),
        (Field::ClaimedCarriedOut, claimed.is_none_or(|one| one.carried_out.is_none())),
    ];
    lacking.into_iter().filter(|(_, lacks)| *lacks).map(|(field, _)| field).collect()
}

fn place(field: Field, case: &Case, computed: &Computed, year: TaxYear) -> Place {
    let known = |text: Option<String>| text.map_or(Place::Closed, Place::Known);
    let of_return = case.tax_return(year);
    match field {
        Field::Year => Place::Known(year.to_string()),
        Field::Balance => known(entering(case, &computed.outcome, year).map(|one| written(one.amount))),
        Field::Reference | Field::Name | Field::Spouse => known(said(case, None, field).map(|one| one.text)),
        _ => match (said(case, Some(year), field), of_return) {
            (Some(said), Some(_)) => Place::Known(said.text),
            (_, Some(one)) if wanted_of(one).contains(&field) => Place::Wanted,
            (_, Some(_)) if field == Field::WorksheetB => Place::Closed,
            (_, Some(_)) => Place::Open,
            (_, None) => wanted_anew(field, case),
        },
    }
}

/// What a return that is not there needs: stage, status and tax, and the credits that the last one had.
fn wanted_anew(field: Field, case: &Case) -> Place {
    let last = case.returns.iter().max_by_key(|one| one.year.value);
    let had = |credit: OtherCredit| {
        last.is_some_and(|one| one.other_credits.iter().any(|entry| entry.credit.value == credit))
    };
    let wanted = match field {
        Field::Stage | Field::FilingStatus | Field::TaxBeforeCredits => true,
        Field::Credit(credit) => had(credit),
        _ => false,
    };
    if wanted { Place::Wanted } else { Place::Open }
}
