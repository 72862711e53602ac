//! The register as JSON, row by row, and the schema of it.
//!
//! Comes in: a [`Register`]. Goes out: a contract for other programs, format 1. Every group of keys is closed, so a
//! test that validates real registers sees any key added here and not described in the schema.

use super::row::{Account, Ahead, Balance, Found, Lying, Missing, Row, SoFar};
use super::rows::{Register, Totals, YearTotal};
use super::words;
use crate::credit::planning::End;
use crate::credit::unclaimed::{Said, Unclaimed};
use crate::credit::window::From;
use crate::json::escaped;
use crate::money::Money;
use crate::sheet::schema::{closed, described, finding};
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
        write!(out, "{divider}{}", escaped(&row(one, register.on).to_string()))?;
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
        "packets": row.packets.iter().map(packet).collect::<Vec<_>>(),
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
        "if": account.ahead.as_ref().map(ahead),
    })
}

fn packet(one: &Lying) -> Json {
    json!({
        "packet": one.name,
        "year": one.year,
        "draft": one.draft,
        "current": one.current,
        "digest": one.digest,
    })
}

fn ahead(one: &Ahead) -> Json {
    let (end, used_up_in) = match one.end {
        End::UsedUp(year) => ("used_up", Some(year)),
        End::Never => ("never", None),
        End::NotWithin => ("not_within", None),
    };
    json!({
        "last_return": one.from,
        "end": end,
        "used_up_in": used_up_in,
        "more_tax": one.more.map(|(year, tax)| json!({"in": year, "amount": tax.plain()})),
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
        "less_tax": known(one.less_tax),
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

/// Returns the schema of a register.
pub fn schema() -> Json {
    let year = json!({"type": "integer"});
    let money = json!({"type": "string", "pattern": r"^-?[0-9]+\.[0-9]{2}$"});
    let count = json!({"type": "integer", "minimum": 0});
    let day = json!({"type": "string", "format": "date"});
    let or_null = |schema: Json| json!({"anyOf": [schema, {"type": "null"}]});
    let list = |of: Json| json!({"type": "array", "items": of});
    let text = json!({"type": "string"});
    let totals = described(
        "Sums over the cases that could be computed.",
        closed(json!({
            "cases": count,
            "not_counted": described("Cases that could not be computed, in no sum.", count.clone()),
            "balances": list(closed(json!({"clients": count, "amount": money, "expected": money, "into": year}))),
            "left": {"$ref": "#/$defs/clients"},
            "so_far": {"$ref": "#/$defs/so_far"},
            "papers_missing": closed(json!({"clients": count, "papers": count, "clients_unsaid": count})),
            "questions": closed(json!({"clients": count, "questions": count, "blocking": count})),
            "unclaimed": closed(json!({"open": count, "open_but_unsaid": count, "closed": count})),
        })),
    );
    let row = closed(json!({
        "reference": described("Null where the file cannot be read as a case.", or_null(text.clone())),
        "names": described("Empty unless asked for.", list(text.clone())),
        "file": text,
        "state": {"enum": ["computed", "errors", "same_reference", "unreadable", "fault"]},
        "errors": list(json!({"$ref": "#/$defs/finding"})),
        "same_reference_as": described("The other files with this reference.", list(text.clone())),
        "why": described("Why the file could not be read, or the mistake of the program.", or_null(text.clone())),
        "packets": described("The packets of the case in the folder named for them, the latest last.", list(json!({"$ref": "#/$defs/packet"}))),
        "account": described("What the case comes to; null unless it was computed.", or_null(json!({"$ref": "#/$defs/account"}))),
    }));
    let account = closed(json!({
        "balances": described("The 25D credit carried into each year that the case reaches.", list(json!({"$ref": "#/$defs/balance"}))),
        "left": described("Carried into the year of the day, or into the last year before it that the case reaches.", or_null(json!({"$ref": "#/$defs/balance"}))),
        "so_far": {"$ref": "#/$defs/so_far"},
        "papers_missing": described(
            "Each paper that should be on file and is not, with the items it proves; null where the case lists no papers.",
            or_null(list(closed(json!({"paper": text, "items": list(text.clone())})))),
        ),
        "questions": described("How many questions are open.", count.clone()),
        "questions_blocking": described("How many of them hold up a packet.", count.clone()),
        "unclaimed": described("Years whose return leaves out a credit or may do so, open or not.", list(json!({"$ref": "#/$defs/unclaimed"}))),
        "if": described("What years to come would use of the balance; null where nothing is carried out of the last return.", or_null(json!({"$ref": "#/$defs/if"}))),
    }));
    let unclaimed = closed(json!({
        "year": year,
        "said": described(
            "less: the changes of the filed return come to less tax together; not_said: the case does not say what it shows; no_return: the case has no return for the year.",
            json!({"enum": ["less", "not_said", "no_return"]}),
        ),
        "less_tax": described("So much less tax than the return shows, all changes of the year together.", or_null(money.clone())),
        "left_out_25c": described("Below zero where the return claims too much.", or_null(money.clone())),
        "left_out_25d": described("Likewise.", or_null(money.clone())),
        "left_out_carried_forward": described("Likewise.", or_null(money.clone())),
        "items": described("The property that qualifies in the year.", list(text.clone())),
        "open": {"type": "boolean"},
        "closes": described("The last day for a claim.", day.clone()),
        "days_left": described("From the day of the register to that day; null when it has passed.", or_null(count.clone())),
        "reaches_withheld_tax_until": described("The last day on which a claim reaches tax that was withheld.", day.clone()),
        "counted_from": closed(json!({"what": {"enum": ["filed", "due", "due_as_filing_unsaid", "paid"]}, "day": day})),
    }));
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Register of cases, format 1",
        "description": "What every client has left, lacks and can still claim on a day. Amounts are strings with two decimals.",
        "type": "object",
        "properties": {
            "format": {"const": 1},
            "on": described("The day it is for.", day.clone()),
            "law": described("The edition of the law.", text.clone()),
            "years": described("The years into which somebody carries a balance.", list(year.clone())),
            "totals": totals,
            "rows": list(json!({"$ref": "#/$defs/row"})),
        },
        "required": ["format", "on", "law", "years", "totals", "rows"],
        "additionalProperties": false,
        "$defs": {
            "row": row,
            "account": account,
            "unclaimed": unclaimed,
            "balance": closed(json!({
                "into": year,
                "amount": money,
                "expected": described("It comes from a return that is not filed yet.", json!({"type": "boolean"})),
            })),
            "so_far": described(
                "Sums over the tax years before the one of the day, as computed: lines 602, 440, 380, 390 and 395.",
                closed(json!({
                    "brought_in": money, "earned_25d": money, "used_25d": money,
                    "earned_25c": money, "used_25c": money, "lost_25c": money,
                })),
            ),
            "packet": closed(json!({
                "packet": described("The name of its folder.", text.clone()),
                "year": year,
                "draft": {"type": "boolean"},
                "current": described("It was made from the case file as it is now.", json!({"type": "boolean"})),
                "digest": described("The digest on its seal slip; null for a draft.", or_null(json!({"type": "string", "pattern": "^[0-9a-f]{64}$"}))),
            })),
            "if": described(
                "Arithmetic on the case's planned tax or on that of its last return, as if it stayed the same; no forecast.",
                closed(json!({
                    "last_return": year,
                    "end": described("not_within: something would be left after 20 years.", json!({"enum": ["used_up", "never", "not_within"]})),
                    "used_up_in": or_null(year.clone()),
                    "more_tax": described(
                        "So much more tax in that year would use everything in it; null where the assumption uses everything, or the year is over.",
                        or_null(closed(json!({"in": year, "amount": money}))),
                    ),
                })),
            ),
            "clients": closed(json!({"clients": count, "amount": money, "expected": money})),
            "finding": finding(),
            "at": described("A place in a file, counted from 1.", closed(json!({
                "file": {"type": "string"},
                "line": {"type": "integer", "minimum": 1},
                "column": {"type": "integer", "minimum": 1},
            }))),
        },
    })
}
