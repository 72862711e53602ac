//! Questions about the returns of the years that matter: those that earn credit, and those through which it is carried.
//!
//! Whether a later year is needed is not guessed: what is known so far is computed, and where credit is left the next
//! year is asked for.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Draft, Return, WorksheetB};
use super::{amount, maybe_day, money, terms, yaml};
use crate::case::single::{Form, Refusal};
use crate::case::{FilingStatus, HomeUse, OtherCredit, ReturnForm, Stage, TaxYear};
use crate::credit::line::{CARRIED_OUT, Place};
use crate::credit::{as_filed, credits};
use crate::law::{Credit, YearLaw};
use crate::money::Money;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// Asks for every return that the case needs.
pub(super) fn all(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    let law = i.law;
    let earning = draft.items.iter().filter(|one| {
        let year = law.year(one.year);
        one.credit.is_some_and(|credit| year.is_some_and(|year| year.in_force(credit)))
    });
    let mut years: BTreeSet<TaxYear> = earning.map(|one| one.year).collect();
    // A balance brought in starts the computation; what is older stays for the home's basis and its papers.
    let start = draft.carried_in.as_ref().map(|one| one.year);
    years.retain(|year| start.is_none_or(|start| *year >= start));
    years.extend(start);
    let (Some(first), Some(last)) = (years.first().copied(), years.last().copied()) else {
        return Ok(());
    };
    let known = super::years(law).into_iter().filter(|year| *year >= first);
    for year in known.filter_map(|year| law.year(year)) {
        if !years.contains(&year.year) {
            match left_after(i, draft, year.year.before())? {
                Some(left) if left.is_zero() => continue,
                left if year.year > last && !goes_on(i, draft, left, year.year)? => break,
                _ => {}
            }
        }
        let one = tax_return(i, draft, year)?;
        draft.returns.push(one);
        let because = because(i, draft, year.year)?;
        draft.returns.last_mut().into_iter().for_each(|one| one.because.clone_from(&because));
    }
    Ok(())
}

/// Asks why a filed return differs from what is computed, where it does.
fn because(i: &mut Conversation<'_>, draft: &Draft, year: TaxYear) -> Result<Option<String>, Stop> {
    let said = draft.returns.last().is_some_and(|one| !one.claimed.is_empty());
    let computed = i.computed(&yaml::write(draft, i.today))?;
    let figures = &computed.outcome.figures;
    let differs = credits::shown().any(|shown| as_filed::differs(shown, figures, year));
    if !said || computed.has_errors() || !differs {
        return Ok(None);
    }
    let words = format!("By these figures, the {year} return should show other amounts. Why do they differ?");
    let question = Question::value(format!("returns.{year}.claimed.because"), words, Form::Line);
    i.maybe(question.explain(
        "In words for the explanation of changes on Form 1040-X, such as: the installer's labor was left out. \
         Left out here, the worksheet asks for it.",
    ))
}

/// Computes how much is left after a year; `None` where that cannot be computed yet.
fn left_after(i: &Conversation<'_>, draft: &Draft, year: TaxYear) -> Result<Option<Money>, Stop> {
    let computed = i.computed(&yaml::write(draft, i.today))?;
    if computed.has_errors() {
        return Ok(None);
    }
    // Without a figure nothing is carried: the year has neither property nor balance.
    Ok(Some(computed.outcome.figures.money(&Place::of_return(year, CARRIED_OUT)).unwrap_or(Money::ZERO)))
}

fn goes_on(
    i: &mut Conversation<'_>,
    draft: &Draft,
    left: Option<Money>,
    year: TaxYear,
) -> Result<bool, Stop> {
    let goes_on = |one: &super::draft::Item| {
        let law = i.law.year(one.year);
        one.credit.is_some_and(|credit| law.is_some_and(|law| law.carries_forward(credit)))
    };
    if left.is_none() && !draft.items.iter().any(goes_on) {
        return Ok(false);
    }
    i.heading(format!("The return of {year}"));
    let left = left
        .map_or_else(|| "Credit may be".to_string(), |left| format!("{} of the credit is", left.spoken()));
    let words =
        format!("{left} left after {}. Is the tax of {year} known, or can it be estimated?", year.before());
    let question = Question::yes_no(format!("returns.{year}.known"), words, true);
    let explain = "What is left is used in the next year, as far as its tax allows. Write no if nothing is known of that year yet; \
                   the return can be added to the case later.";
    i.yes_no(question.explain(explain))
}

fn tax_return(i: &mut Conversation<'_>, draft: &Draft, law: &YearLaw) -> Result<Return, Stop> {
    let year = law.year;
    let id = format!("returns.{year}");
    i.heading(format!("The return of {year}"));
    let before = draft.returns.last();
    let stage = stage(i, &id, year)?;
    let form = match before {
        Some(before) => before.form,
        None => form(i, &id, year)?,
    };
    let status = status(i, draft, &id)?;
    let went_out = matches!(stage, Stage::Filed | Stage::Amended);
    let filed = if went_out { filed(i, &id, year)? } else { None };
    let words = format!("Tax before credits: Form 1040 line {}", law.tax_line);
    let explain = format!("{} Law: {}.", terms::TAX, i.law.cite(&law.tax_line_authority.source.join("; ")));
    let tax = money(i, Question::value(format!("{id}.tax"), words, Form::Amount).explain(explain))?;
    let cents = match tax == tax.to_whole_dollars() {
        true => false,
        false => {
            let question =
                Question::yes_no(format!("{id}.cents"), "Does the return keep cents throughout?", true);
            i.yes_no(question.explain("Most returns are in whole dollars; a return may keep cents throughout instead (26 U.S.C. 6102)."))?
        }
    };
    let (credits, worksheet_b) = credits(i, draft, &id, law, tax)?;
    let claimed = if went_out { claimed(i, draft, &id, law)? } else { Vec::new() };
    let main_homes = draft.homes.iter().filter(|one| one.use_ == HomeUse::MainHome).count();
    let separate_main_homes = status == FilingStatus::MarriedFilingJointly && main_homes > 1 && {
        let question =
            Question::yes_no(format!("{id}.separate"), "Did the spouses have a main home each?", false);
        i.yes_no(question.explain(
            "Two people who live apart may each have a main home. One who moved had one after the other.",
        ))?
    };
    Ok(Return {
        year,
        form,
        stage,
        status,
        filed,
        tax,
        credits,
        worksheet_b,
        claimed,
        because: None,
        cents,
        separate_main_homes,
    })
}

fn stage(i: &mut Conversation<'_>, id: &str, year: TaxYear) -> Result<Stage, Stop> {
    let choices = Stage::ALL.iter().map(|one| Choice::new(one.word(), terms::stage(*one))).collect();
    let this_year = TaxYear::of(i.today);
    let likely = match year {
        year if year >= this_year => Stage::Projected,
        year if year.after() == this_year => Stage::Draft,
        _ => Stage::Filed,
    };
    let question = Question::choice(
        format!("{id}.stage"),
        format!("How far is the return of {year}?"),
        choices,
    )
    .or(likely.word())
    .explain(
        "It decides what the worksheet compares and how long the year stays open; it changes no amount.",
    );
    Ok(Stage::from_word(&i.ask(question)?).unwrap_or(likely))
}

fn form(i: &mut Conversation<'_>, id: &str, year: TaxYear) -> Result<ReturnForm, Stop> {
    let forms = ReturnForm::ALL.iter().filter(|one| one.existed_in(year));
    let choices = forms.map(|one| Choice::new(one.word(), one.label())).collect();
    let question = Question::choice(format!("{id}.form"), "Which form?", choices)
        .or(ReturnForm::Form1040.word())
        .explain("Form 1040-SR is for those over 65, Form 1040-NR for nonresidents.");
    Ok(ReturnForm::from_word(&i.ask(question)?).unwrap_or(ReturnForm::Form1040))
}

fn status(i: &mut Conversation<'_>, draft: &Draft, id: &str) -> Result<FilingStatus, Stop> {
    let likely = match (draft.returns.last(), draft.people.len()) {
        (Some(before), _) => before.status,
        (None, 2) => FilingStatus::MarriedFilingJointly,
        _ => FilingStatus::Single,
    };
    let choices = FilingStatus::ALL.iter().map(|one| Choice::new(one.word(), one.label())).collect();
    let question = Question::choice(format!("{id}.status"), "Filing status", choices)
        .or(likely.word())
        .explain("As on the return. Spouses who file separately and share a home are two clients with a case each.");
    Ok(FilingStatus::from_word(&i.ask(question)?).unwrap_or(likely))
}

fn filed(i: &mut Conversation<'_>, id: &str, year: TaxYear) -> Result<Option<Date>, Stop> {
    let today = i.today;
    let question = Question::value(format!("{id}.filed"), "On what day was it filed?", Form::Date)
        .explain("It decides until when the return can be amended. Left out, that cannot be said.")
        .when(move |text| match text.parse::<Date>() {
            Ok(day) if TaxYear::of(day) <= year || day > today => Err(Refusal::new(
                format!("a return for {year} is filed after that year and not after today, {today}"),
                "correct the day",
            )),
            _ => Ok(()),
        });
    maybe_day(i, question)
}

/// Says whether a year has to do with one of the credits.
fn concerns(draft: &Draft, credit: Credit, law: &YearLaw) -> bool {
    let bought = draft.items.iter().filter(|one| one.credit == Some(credit));
    match law.carries_forward(credit) {
        false => bought.into_iter().any(|one| one.year == law.year),
        true => draft.carried_in.is_some() || bought.into_iter().any(|one| one.year <= law.year),
    }
}

/// Asks for the other credits that come before ours in the year.
fn credits(
    i: &mut Conversation<'_>,
    draft: &Draft,
    id: &str,
    law: &YearLaw,
    tax: Money,
) -> Result<(Vec<(OtherCredit, Money)>, WorksheetB), Stop> {
    let before = |credit: Credit| law.before.get(&credit).map_or(&[] as &[_], |one| one.credits.as_slice());
    let ours = Credit::ALL.iter().copied().filter(|credit| concerns(draft, *credit, law));
    let known: BTreeSet<OtherCredit> = ours.flat_map(|credit| before(credit).iter().copied()).collect();
    let mut credits: Vec<(OtherCredit, Money)> = Vec::new();
    let mut worksheet_b = WorksheetB::Unsaid;
    for n in 1.. {
        let mut choices = vec![Choice::new("no", if n == 1 { "no" } else { "no more" })];
        let left = known.iter().filter(|one| credits.iter().all(|(known, _)| known != *one));
        choices.extend(left.map(|one| Choice::new(one.word(), one.label())));
        if choices.len() == 1 {
            break;
        }
        let words = if n == 1 { "Does the return have other credits? Which?" } else { "Another one?" };
        let question = Question::choice(format!("{id}.credits.{n}.which"), words, choices)
            .or("no")
            .decides(format!("{id}.credits.{n}."));
        let explain = "Those listed are used up before ours and leave less tax for them. Enter each as it stands on the return.";
        let Some(credit) = OtherCredit::from_word(&i.ask(question.explain(explain))?) else { break };
        let question =
            Question::value(format!("{id}.credits.{n}.amount"), "Amount on the return", Form::Amount);
        let amount = money(i, question.explain("After its own limit, as it stands on the return."))?;
        credits.push((credit, amount));
        let all: Money = credits.iter().map(|(_, amount)| *amount).sum();
        if all > tax {
            i.note(&format!(
                "The other credits now come to {}, more than the tax of {}. Check both.",
                all.spoken(),
                tax.spoken()
            ));
        }
        if credit == OtherCredit::ChildTax {
            worksheet_b = self::worksheet_b(i, &format!("{id}.credits.{n}"))?;
        }
    }
    Ok((credits, worksheet_b))
}

fn worksheet_b(i: &mut Conversation<'_>, id: &str) -> Result<WorksheetB, Stop> {
    let choices =
        vec![Choice::new("yes", "yes"), Choice::new("no", "no"), Choice::new("unknown", "not at hand")];
    let words = "Was Credit Limit Worksheet B of Schedule 8812 used for it?";
    let used =
        i.ask(Question::choice(format!("{id}.worksheet_b"), words, choices).explain(terms::WORKSHEET_B))?;
    match used.as_str() {
        "no" => Ok(WorksheetB::NotUsed),
        "yes" => {
            let question = Question::value(format!("{id}.line_14"), "Line 14 of Worksheet B", Form::Amount);
            Ok(WorksheetB::Line14(money(i, question.explain(terms::WORKSHEET_B))?))
        }
        _ => Ok(WorksheetB::Unsaid),
    }
}

/// Asks what a filed return shows.
fn claimed(
    i: &mut Conversation<'_>,
    draft: &Draft,
    id: &str,
    law: &YearLaw,
) -> Result<Vec<(&'static str, Money)>, Stop> {
    let mut asked: Vec<(&'static str, String)> = Vec::new();
    for credit in Credit::ALL.iter().filter(|credit| concerns(draft, **credit, law)) {
        let called = crate::wording::capital(credit.called());
        asked.push((credit.word(), format!("{called} ({}) on the filed return", credit.section())));
        if law.carries_forward(*credit) {
            asked.push(("carried_out", format!("{called} carried forward on the filed return")));
        }
    }
    let mut claimed = Vec::new();
    for (key, words) in asked {
        let question =
            Question::value(format!("{id}.claimed.{key}"), words, Form::Amount).explain(terms::CLAIMED);
        if let Some(text) = i.maybe(question)? {
            claimed.push((key, amount(&text)?));
        }
    }
    Ok(claimed)
}
