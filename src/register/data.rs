//! The register as JSON, row by row, and the schema of it.
//!
//! Comes in: a [`Register`]. Goes out: a contract for other programs, format 1. Every group of keys is closed, so a
//! test that validates real registers sees any key added here and not described in the schema.

use super::row::{Account, Balance, Found, Missing, Row, SoFar};
use super::rows::{Register, Totals, YearTotal};
use super::words;
use crate::credit::window::{From, Said, Unclaimed};
use crate::money::Money;
use jiff::civil::Date;
use serde_json::{Value as Json, json};
use std::io::{self, Write};

/// Writes the register: one line for each row, so that it can be written and compared as it goes.
pub fn write(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{{\"format\": 1, \"on\": \"{}\", \"law\": {},", register.on, json!(register.law))?;
    writeln!(out, "\"years\": {},", json!(register.years))?;
    write!(out, "\"totals\": {},\n\"rows\": [", totals(&register.totals))?;
    for (n, one) in register.rows.iter().enumerate() {
        let divider = if n == 0 { "\n" } else { ",\n" };
        write!(out, "{divider}{}", row(one, register.on))?;
    }
    writeln!(out, "\n]}}")
}

fn row(row: &Row, on: Date) -> Json {
    let (errors, others, why) = match &row.found {
        Found::Errors(errors) => (json!(errors), json!([]), Json::Null),
        Found::SameReference(others) => (json!([]), json!(others), Json::Null),
        Found::Unreadable(why) | Found::Fault(why) => (json!([]), json!([]), json!(why)),
        Found::Account(_) => (json!([]), json!([]), Json::Null),
    };
    json!({
        "reference": row.reference,
        "names": row.names,
        "file": row.file,
        "state": row.found.word(),
        "errors": errors,
        "same_reference_as": others,
        "why": why,
        "account": row.account().map(|account| of_account(account, on)),
    })
}

fn of_account(account: &Account, on: Date) -> Json {
    json!({
        "balances": account.balances.iter().map(balance).collect::<Vec<_>>(),
        "left": account.left.as_ref().map(balance),
        "so_far": so_far(&account.so_far),
        "papers_missing": account.missing.as_ref().map(|all| all.iter().map(missing).collect::<Vec<_>>()),
        "questions": account.questions,
        "questions_blocking": account.blocking,
        "unclaimed": account.windows.iter().map(|one| window(one, on)).collect::<Vec<_>>(),
    })
}

fn balance(one: &Balance) -> Json {
    json!({"into": one.year, "amount": one.amount.plain(), "expected": one.expected})
}

fn so_far(one: &SoFar) -> Json {
    json!({
        "brought_in": one.brought_in.plain(),
        "earned_25d": one.earned_clean.plain(),
        "used_25d": one.used_clean.plain(),
        "earned_25c": one.earned_improvement.plain(),
        "used_25c": one.used_improvement.plain(),
        "lost_25c": one.lost_improvement.plain(),
    })
}

fn missing(one: &Missing) -> Json {
    json!({"paper": one.what, "items": one.items.iter().map(|key| key.as_str()).collect::<Vec<_>>()})
}

fn window(one: &Unclaimed, on: Date) -> Json {
    // Only a comparison with what was filed says how much is left out.
    let known = |amount: Money| (one.said == Said::Less).then(|| amount.plain());
    let (from, day) = match one.window.from {
        From::Filed(day) => ("filed", day),
        From::Due(day) => ("due", day),
        From::DueAsFar(day) => ("due_as_filing_unsaid", day),
        From::Paid(day) => ("paid", day),
    };
    json!({
        "year": one.year,
        "said": said(one.said),
        "left_out_25c": known(one.improvement),
        "left_out_25d": known(one.clean),
        "left_out_carried_forward": known(one.carried_out),
        "items": one.items.iter().map(|key| key.as_str()).collect::<Vec<_>>(),
        "open": one.is_open(on),
        "closes": one.window.closes.to_string(),
        "days_left": one.is_open(on).then(|| words::days_left(on, one.window.closes)),
        "reaches_withheld_tax_until": one.window.reaches_withholding.to_string(),
        "counted_from": {"what": from, "day": day.to_string()},
    })
}

fn said(said: Said) -> &'static str {
    match said {
        Said::Less => "less",
        Said::NotSaid => "not_said",
        Said::NoReturn => "no_return",
    }
}

fn totals(totals: &Totals) -> Json {
    let of_year = |(year, total): (&crate::case::TaxYear, &YearTotal)| {
        let mut entry = year_total(total);
        entry["into"] = json!(year);
        entry
    };
    json!({
        "cases": totals.cases,
        "not_counted": totals.failed,
        "balances": totals.by_year.iter().map(of_year).collect::<Vec<_>>(),
        "left": year_total(&totals.left),
        "so_far": so_far(&totals.so_far),
        "papers_missing": {"clients": totals.missing.0, "papers": totals.missing.1, "clients_unsaid": totals.papers_unsaid},
        "questions": {"clients": totals.questions.0, "questions": totals.questions.1, "blocking": totals.blocking},
        "unclaimed": {"open": totals.open, "open_but_unsaid": totals.perhaps_open, "closed": totals.closed},
    })
}

fn year_total(total: &YearTotal) -> Json {
    json!({
        "clients": total.clients,
        "amount": total.amount.plain(),
        "expected": total.expected.plain(),
    })
}
