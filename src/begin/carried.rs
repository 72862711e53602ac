//! Questions about what comes from before the case: credit carried in, and what lifetime limits have used.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Carried, Draft, Earlier};
use super::{money, terms};
use crate::case::single::{Form, Refusal};
use crate::case::{ReturnForm, TaxYear};
use crate::credit::line::{CARRIED_OUT, Subject};
use crate::law::YearLaw;
use crate::money::Money;
use crate::sheet::official;

/// Asks whether the client comes with credit left over.
pub(super) fn carried_in(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("Credit from earlier years");
    let words = "Does the client bring clean energy credit left over from an earlier return?";
    let brings = Question::yes_no("carried.brings", words, draft.items.is_empty()).explain(terms::CARRIED_IN);
    if !i.yes_no(brings)? {
        return Ok(());
    }
    let years = super::years(i.law);
    let first = draft.items.iter().map(|one| one.year).min().or_else(|| years.last().copied());
    let words = "Into which tax year is it brought? The first one that this case computes";
    let question = year_of("carried.year".to_string(), words, years)
        .maybe(first.map(|year| year.to_string()))
        .decides("carried.");
    let explain = "Not the year that earned it: the year after the return that shows how much is left. Nothing before it is computed.";
    let year = i.ask(question.explain(explain))?;
    let year = year_in(&year)?;
    if first.is_some_and(|first| first < year) && !draft.items.is_empty() {
        i.note(&format!("The case then begins with {year}; what was bought before stays for the home's basis and its papers only."));
    }
    let amount = Question::value("carried.amount", format!("How much is carried into {year}?"), Form::Amount);
    let amount = money(i, amount.explain(terms::CARRIED_IN))?;
    let shown = Question::value("carried.shown_on", "Where is it shown?", Form::Line)
        .maybe(usual_place(year.before()));
    let shown_on =
        i.maybe(shown.explain("The form and line of the last return, so that anyone can look it up."))?;
    let belongs_to = whose(i, draft)?;
    draft.carried_in = Some(Carried { year, amount, shown_on, belongs_to });
    Ok(())
}

/// Asks for one of some years, which are too many for a list.
fn year_of(id: String, words: &str, years: Vec<TaxYear>) -> Question {
    Question::value(id, words, Form::Line).when(move |text| {
        if years.iter().any(|year| year.to_string() == text) {
            return Ok(());
        }
        let (first, last) = (years.first(), years.last());
        let help = first.zip(last).map_or_else(
            || "leave it out".to_string(),
            |(first, last)| format!("write a year from {first} to {last} in four digits"),
        );
        Err(Refusal::new(format!("`{text}` is not one of the years that are meant"), help))
    })
}

fn year_in(text: &str) -> Result<TaxYear, Stop> {
    text.parse().map(TaxYear).map_err(|_| Stop::Fault(format!("{text} was taken for a year")))
}

/// Returns the official line of a year's return that shows what is carried forward.
fn usual_place(year: TaxYear) -> Option<String> {
    let line = official::map(year)?
        .references(CARRIED_OUT.0, &Subject::Return, ReturnForm::Form1040)
        .into_iter()
        .next()?;
    Some(format!("{year} {line}"))
}

fn whose(i: &mut Conversation<'_>, draft: &Draft) -> Result<Option<String>, Stop> {
    if draft.people.len() < 2 {
        return Ok(None);
    }
    let mut choices = vec![Choice::new("both", "both")];
    choices.extend(draft.people.iter().map(|one| Choice::new(one.name.to_lowercase(), &one.name)));
    let question = Question::choice("carried.belongs_to", "Whose is it?", choices)
        .or("both")
        .explain("One person's, where it was earned on a return that the other was not on. No rule divides it; the case says whose it is.");
    let word = i.ask(question)?;
    Ok(draft.people.iter().find(|one| one.name.to_lowercase() == word).map(|one| one.name.clone()))
}

/// Returns the earlier years whose home improvement credits count against the limit of a year.
fn looks_back(year: &YearLaw) -> &[TaxYear] {
    year.looking_back().map_or(&[], |how| &how.earlier_credits)
}

/// Asks what earlier returns took of a lifetime limit, where an item falls under one.
pub(super) fn earlier(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    let limited = |one: &&super::draft::Item| {
        i.law.year(one.year).is_some_and(|law| {
            one.credit
                .and_then(|credit| law.method(credit))
                .is_some_and(|how| !how.earlier_credits.is_empty())
        })
    };
    let Some(last) = draft.items.iter().filter(limited).map(|one| one.year).max() else {
        return Ok(());
    };
    // What the case computes itself need not be said.
    let begins =
        draft.items.iter().map(|one| one.year).chain(draft.carried_in.iter().map(|one| one.year)).min();
    let before = |year: &TaxYear| begins.is_none_or(|begins| *year < begins);
    let years = i.law.year(last).map(looks_back).unwrap_or_default();
    let years: Vec<TaxYear> = years.iter().copied().filter(before).collect();
    let Some(latest) = years.last().copied() else { return Ok(()) };
    i.heading("Earlier home improvement credits");
    for n in 1.. {
        let words = match n {
            1 => "In which earlier year did the client take the home improvement credit?",
            _ => "In which other year?",
        };
        let known: Vec<TaxYear> = draft.earlier.iter().map(|one| one.year).collect();
        let left = years.iter().copied().filter(|year| !known.contains(year)).collect();
        let question = year_of(format!("earlier.{n}.year"), words, left).explain(terms::EARLIER);
        let Some(year) = i.maybe(question)? else { break };
        let year = year_in(&year)?;
        let question = Question::value(
            format!("earlier.{n}.credit"),
            format!("The credit taken in {year}"),
            Form::Amount,
        );
        let credit = money(i, question.explain("As Form 5695 of that year shows it."))?;
        let question = Question::value(
            format!("earlier.{n}.windows"),
            "What the windows and skylights of that year cost",
            Form::Amount,
        );
        let windows = i.maybe(question.or("0").explain(terms::EARLIER))?;
        let windows = windows.map(|text| super::amount(&text)).transpose()?;
        draft.earlier.push(Earlier { year, credit, windows });
    }
    if draft.earlier.is_empty() {
        // That nothing was taken is a statement too: without one the case would be asked.
        draft.earlier.push(Earlier { year: latest, credit: Money::ZERO, windows: None });
    }
    draft.earlier.sort_by_key(|one| one.year);
    Ok(())
}
