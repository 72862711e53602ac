//! The law of a year in words and as data, for whoever wants to check it.
//!
//! Comes in: a year's law. Goes out: plain text with every value beside its standing and its sources written out,
//! or JSON with the same. Decides nothing and leaves nothing out; knows no case.

use super::{Amount, Authority, Credit, CreditLaw, Group, Law, LawKey, MethodLaw, Requirement, YearLaw};
use crate::case::{Kind, TaxYear};
use crate::columns::{Columns, Side};
use serde_json::{Map, Value, json};

/// Returns all years side by side: what is in force, and the single values. Neighboring years that are alike in all of
/// it share a column.
pub fn overview(law: &Law) -> String {
    let years: Vec<&YearLaw> = law.all().collect();
    let row = |label: &str, cell: &dyn Fn(&YearLaw) -> String| -> Vec<String> {
        std::iter::once(label.to_string()).chain(years.iter().map(|year| cell(year))).collect()
    };
    let yes = |yes: bool| if yes { "yes" } else { "no" }.to_string();
    let mut rows = vec![
        row("tax year", &|year| year.year.to_string()),
        row("edition of its law", &|year| year.edition.clone()),
    ];
    for credit in Credit::ALL {
        let label = format!("new property earns {}", credit.section());
        rows.push(row(&label, &|year| yes(year.in_force(*credit))));
    }
    rows.extend([row("tax before credits, line of Form 1040", &|year| year.tax_line.clone())]);
    for key in LawKey::ALL {
        let cell = |year: &YearLaw| {
            year.values.get(key).map_or_else(|| "-".to_string(), |value| written(value.amount))
        };
        if years.iter().any(|year| year.values.contains_key(key)) {
            rows.push(row(key.label(), &cell));
        }
    }
    for kind in Kind::ALL {
        let cell = |year: &YearLaw| {
            year.kinds.get(kind).map_or_else(|| "-".to_string(), |kind| kind.credit.section().to_string())
        };
        rows.push(row(kind.label(), &cell));
    }
    columns(&joined(&rows))
}

/// Lets columns that are alike below the first row share one, headed by the first and the last of them.
fn joined(rows: &[Vec<String>]) -> Vec<Vec<String>> {
    let count = rows.first().map_or(0, Vec::len);
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for at in 0..count {
        let alike = |one: usize| rows.iter().skip(1).all(|row| row[one] == row[at]);
        match spans.last_mut() {
            Some((first, last)) if *first > 0 && alike(*first) => *last = at,
            _ => spans.push((at, at)),
        }
    }
    let cell = |(number, row): (usize, &Vec<String>)| {
        let one = |(first, last): &(usize, usize)| match number == 0 && first != last {
            true => format!("{}-{}", row[*first], row[*last].get(2..).unwrap_or(&row[*last])),
            false => row[*first].clone(),
        };
        spans.iter().map(one).collect()
    };
    rows.iter().enumerate().map(cell).collect()
}

/// Returns the law of one year as text: values, kinds of property, costs, incentives, rules, documents.
pub fn text(law: &Law, year: &YearLaw) -> String {
    let mut out = format!("The law of tax year {}, edition {}\n", year.year, year.edition);
    let mut page = Page { law, out: &mut out };
    page.heading("In force");
    for (credit, one) in &year.credits {
        page.entry(&format!("{} ({}): {}", one.name, credit.section(), terms(one)), &one.authority);
    }
    let nr =
        year.tax_line_nr.as_ref().map_or_else(String::new, |line| format!(", line {line} of Form 1040-NR"));
    page.entry(
        &format!("tax before credits: line {} of Form 1040{nr}", year.tax_line),
        &year.tax_line_authority,
    );
    if let Some(authority) = &year.both_on_one_line {
        page.entry("both credits go to one line of the return", authority);
    }
    page.heading("Rates and limits");
    for (credit, how) in &year.methods {
        page.entry(&format!("how {} is figured: {}", credit.section(), method(how)), &how.authority);
    }
    for (key, value) in &year.values {
        page.entry(&format!("{}: {}", key.label(), written(value.amount)), &value.authority);
        if !value.reaches.is_empty() {
            let kinds: Vec<&str> = value.reaches.iter().map(|kind| kind.label()).collect();
            page.line(&format!("    for {}", kinds.join("; ")));
        }
    }
    page.heading("Kinds of property");
    for (kind, entry) in &year.kinds {
        let mut words = vec![entry.credit.section().to_string(), entry.class.label().to_string()];
        if entry.group != Group::None {
            words.push(entry.group.label().to_string());
        }
        words.push(entry.home.label().to_string());
        if entry.existing_home_only {
            words.push("only in a home that stood already".to_string());
        }
        if entry.maker_code {
            words.push("the maker's code must stand on the return".to_string());
        }
        if let Some(rows) = year.form_rows.get(kind) {
            words.push(format!("rows of its own on the form: {rows}"));
        }
        page.entry(&format!("{kind}, {}: {}", kind.label(), words.join("; ")), &entry.authority);
        for requirement in &entry.requires {
            page.entry(
                &format!("  needs {}: {}", needs(requirement), requirement.because),
                &requirement.authority,
            );
        }
    }
    page.heading("Costs");
    for ((class, nature), entry) in &year.costs {
        let basis = if entry.adds_to_basis { "adds to the basis" } else { "does not add to the basis" };
        let words =
            format!("{nature}, for {}: {}, {basis}: {}", class.label(), entry.counts.label(), entry.because);
        page.entry(&words, &entry.authority);
    }
    for (credit, (counts, authority)) in &year.subsidized_financing_counts {
        let words = if *counts { "counts" } else { "does not count" };
        page.entry(
            &format!("cost paid from subsidized energy financing, for {}: {words}", credit.section()),
            authority,
        );
    }
    page.heading("Incentives");
    for ((credit, kind), entry) in &year.incentives {
        let words = format!("{kind}, for {}: {}: {}", credit.section(), entry.effect.label(), entry.because);
        page.entry(&words, &entry.authority);
    }
    page.heading("Credits that come before");
    for (credit, entry) in &year.before {
        let words: Vec<&str> = entry.credits.iter().map(|one| one.label()).collect();
        page.entry(&format!("before {}: {}", credit.section(), words.join("; ")), &entry.authority);
        if !entry.lines_of_their_own.is_empty() {
            let words: Vec<&str> = entry.lines_of_their_own.iter().map(|one| one.label()).collect();
            page.line(&format!("    of these with a line of its own on the worksheet: {}", words.join("; ")));
        }
        if let Some(worksheet) = &entry.child_tax_worksheet {
            page.line(&format!("    the child tax credit with {worksheet}, where that worksheet was used"));
        }
    }
    page.heading("Rules");
    for (name, rule) in &year.rules {
        page.entry(&format!("{name}: {}", rule.says), &rule.authority);
    }
    page.heading("Documents");
    for (key, document) in &year.sources {
        let read = year.sources_read.get(key).map_or("", |read| read.label());
        page.line(&format!("{key}: {document}"));
        page.line(&format!("    {read}"));
    }
    out
}

/// A text that grows.
struct Page<'a> {
    law: &'a Law,
    out: &'a mut String,
}

impl Page<'_> {
    fn line(&mut self, words: &str) {
        self.out.push_str(&format!("  {words}\n"));
    }

    fn heading(&mut self, words: &str) {
        self.out.push_str(&format!("\n{words}\n"));
    }

    /// Writes what is so, and below it on what that rests.
    fn entry(&mut self, words: &str, authority: &Authority) {
        self.line(words);
        let settled = if authority.settled { "settled" } else { "not settled" };
        let sources: Vec<String> = authority.source.iter().map(|one| self.law.cite(one)).collect();
        self.line(&format!("    {}, {settled}: {}", authority.standing.label(), sources.join("; ")));
    }
}

/// Returns the law of one year as data, format 1. Numbers are strings as the case file writes them, so that no
/// reader takes them through binary fractions.
pub fn json(year: &YearLaw) -> Value {
    let credits: Map<String, Value> = year
        .credits
        .iter()
        .map(|(credit, one)| {
            let entry = json!({
                "name": one.name, "new_property": one.new_property, "from": one.from.map(|day| day.to_string()),
                "through": one.through.map(|day| day.to_string()), "carried_forward": one.carried_forward,
            });
            (credit.word().to_string(), with(&one.authority, entry))
        })
        .collect();
    let methods: Map<String, Value> = year
        .methods
        .iter()
        .map(|(credit, how)| {
            let entry = json!({
                "steps": how.steps, "earlier_credits": how.earlier_credits, "earlier_windows": how.earlier_windows,
            });
            (credit.word().to_string(), with(&how.authority, entry))
        })
        .collect();
    let values: Map<String, Value> = year
        .values
        .iter()
        .map(|(key, value)| {
            let entry =
                json!({"amount": plain(value.amount), "means": key.label(), "reaches": value.reaches});
            (key.word().to_string(), with(&value.authority, entry))
        })
        .collect();
    let kinds: Map<String, Value> = year
        .kinds
        .iter()
        .map(|(kind, entry)| {
            let requires: Vec<Value> = entry
                .requires
                .iter()
                .map(|one| {
                    with(
                        &one.authority,
                        json!({
                            "fact": one.fact, "at_least": one.at_least.map(plain), "because": one.because,
                        }),
                    )
                })
                .collect();
            let all = json!({
                "credit": entry.credit,
                "class": entry.class,
                "group": entry.group,
                "home": entry.home,
                "existing_home_only": entry.existing_home_only,
                "maker_code": entry.maker_code,
                "form_rows": year.form_rows.get(kind),
                "requires": requires,
            });
            (kind.word().to_string(), with(&entry.authority, all))
        })
        .collect();
    let costs: Vec<Value> = year.costs.iter().map(|((class, nature), entry)| with(&entry.authority, json!({
        "nature": nature, "class": class, "counts": entry.counts, "adds_to_basis": entry.adds_to_basis, "because": entry.because,
    }))).collect();
    let incentives: Vec<Value> = year
        .incentives
        .iter()
        .map(|((credit, kind), entry)| {
            with(
                &entry.authority,
                json!({
                    "kind": kind, "credit": credit, "effect": entry.effect, "because": entry.because,
                }),
            )
        })
        .collect();
    let financing: Vec<Value> = year
        .subsidized_financing_counts
        .iter()
        .map(|(credit, (counts, authority))| with(authority, json!({"credit": credit, "counts": counts})))
        .collect();
    let before: Vec<Value> = year
        .before
        .iter()
        .map(|(credit, entry)| with(&entry.authority, json!({
            "credit": credit, "credits": entry.credits, "lines_of_their_own": entry.lines_of_their_own,
            "child_tax_worksheet": entry.child_tax_worksheet,
        })))
        .collect();
    let rules: Map<String, Value> = year
        .rules
        .iter()
        .map(|(name, rule)| (name.word().to_string(), with(&rule.authority, json!({"says": rule.says}))))
        .collect();
    let sources: Map<String, Value> = year
        .sources
        .iter()
        .map(|(key, document)| {
            (key.clone(), json!({"document": document, "read": year.sources_read.get(key)}))
        })
        .collect();
    json!({
        "format": 1,
        "year": year.year,
        "edition": year.edition,
        "credits": credits,
        "methods": methods,
        "tax_line": with(
            &year.tax_line_authority,
            json!({"line": year.tax_line, "line_nr": year.tax_line_nr}),
        ),
        "both_on_one_line": year.both_on_one_line.as_ref().map(|authority| with(authority, json!({}))),
        "values": values,
        "kinds": kinds,
        "costs": costs,
        "subsidized_financing": financing,
        "incentives": incentives,
        "before": before,
        "rules": rules,
        "sources": sources,
    })
}

/// Says in words whether new property earns a credit, on which days, and what becomes of what the tax cannot take.
fn terms(one: &CreditLaw) -> String {
    let earns = if one.new_property { "new property earns it" } else { "new property does not earn it" };
    let from = one.from.map(|day| format!("; for work completed from {day} on"));
    let through = one.through.map(|day| format!("; for work completed through {day}"));
    let goes_on = if one.carried_forward { "is carried forward" } else { "is lost" };
    let days = [from, through].into_iter().flatten().collect::<String>();
    format!("{earns}{days}; what the tax cannot take {goes_on}")
}

/// Says in words how a credit is figured, and which earlier years count.
fn method(how: &MethodLaw) -> String {
    let years = |years: &[TaxYear]| years.iter().map(TaxYear::to_string).collect::<Vec<_>>().join(", ");
    let mut words: Vec<String> = how.steps.iter().map(|step| step.label().to_string()).collect();
    if !how.earlier_credits.is_empty() {
        words.push(format!("credits of earlier years that count: {}", years(&how.earlier_credits)));
    }
    if !how.earlier_windows.is_empty() {
        words.push(format!("window costs of earlier years that count: {}", years(&how.earlier_windows)));
    }
    words.join("; ")
}

/// Adds to an entry on what it rests.
fn with(authority: &Authority, mut entry: Value) -> Value {
    entry["source"] = json!(authority.source);
    entry["standing"] = json!(authority.standing);
    entry["settled"] = json!(authority.settled);
    entry
}

/// Writes a number for people.
fn written(amount: Amount) -> String {
    match amount {
        Amount::Money(money) => money.spoken(),
        Amount::Rate(rate) => rate.to_string(),
        Amount::Quantity(quantity) => quantity.to_string(),
    }
}

/// Writes a number for programs.
fn plain(amount: Amount) -> String {
    match amount {
        Amount::Money(money) => money.plain(),
        other => written(other),
    }
}

fn needs(requirement: &Requirement) -> String {
    match requirement.at_least {
        Some(least) => format!("{} from {}", requirement.fact.label(), written(least)),
        None => requirement.fact.label().to_string(),
    }
}

/// Sets rows in columns, the first to the left, the others to the right.
fn columns(rows: &[Vec<String>]) -> String {
    let count = rows.first().map_or(0, Vec::len);
    let side = |at: usize| if at == 0 { Side::Left } else { Side::Right };
    let mut columns = Columns::new((0..count).map(|at| (side(at), 0)));
    rows.iter().for_each(|row| columns.widen(row));
    rows.iter().map(|row| columns.line(row) + "\n").collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::IncentiveKind;
    use crate::law::source_key;
    use std::collections::BTreeSet;

    /// A reviewer reads this instead of the files, so nothing of them may be missing.
    #[test]
    fn nothing_of_a_years_law_is_left_out() {
        let law = Law::built_in();
        for year in law.all() {
            let text = text(law, year);
            let json = json(year);
            for (key, value) in &year.values {
                let line = format!("  {}: {}\n", key.label(), written(value.amount));
                assert!(text.contains(&line), "{} {line}", year.year);
                assert_eq!(json["values"][key.word()]["amount"], plain(value.amount));
            }
            for (credit, how) in &year.methods {
                let line = format!("  how {} is figured: {}\n", credit.section(), method(how));
                assert!(text.contains(&line), "{} {line}", year.year);
                let json = &json["methods"][credit.word()];
                let counted = |key: &str| json[key].as_array().map(Vec::len);
                assert_eq!(counted("steps"), Some(how.steps.len()), "{}", year.year);
                assert_eq!(counted("earlier_credits"), Some(how.earlier_credits.len()), "{}", year.year);
            }
            for kind in year.kinds.keys() {
                assert!(text.contains(&format!("  {kind}, {}: ", kind.label())), "{} {kind}", year.year);
                assert!(json["kinds"][kind.word()]["standing"].is_string());
            }
            for (name, rule) in &year.rules {
                assert!(text.contains(&format!("  {name}: {}\n", rule.says)), "{} {name}", year.year);
            }
            assert_eq!(json["costs"].as_array().map(Vec::len), Some(year.costs.len()));
            assert_eq!(json["incentives"].as_array().map(Vec::len), Some(year.incentives.len()));
            // Each document once, and each cited one by its name instead of its key.
            let named: BTreeSet<&str> = year.sources.keys().map(String::as_str).collect();
            for authority in year.values.values().map(|value| &value.authority) {
                for reference in &authority.source {
                    assert!(named.contains(source_key(reference)), "{reference}");
                    assert!(text.contains(&law.cite(reference)), "{reference}");
                }
            }
            let (_, incentives) = text.split_once("\nIncentives\n").expect("a chapter");
            let (incentives, _) = incentives.split_once("\n\n").expect("a chapter after it");
            let incentives = format!("\n{incentives}");
            for kind in IncentiveKind::ALL {
                let all = year.incentives.keys().filter(|key| key.1 == *kind).count();
                assert_eq!(incentives.matches(&format!("\n  {kind}, for 25")).count(), all, "{kind}");
            }
        }
    }

    #[test]
    fn the_overview_sets_the_years_side_by_side() {
        let law = Law::built_in();
        let overview = overview(law);
        let row = |label: &str| -> Vec<String> {
            let line = overview.lines().find(|line| line.starts_with(label)).expect("a row");
            line[label.len()..].split_whitespace().map(ToString::to_string).collect()
        };
        // Years that are alike share a column, and every year has one.
        let heads = row("tax year");
        let span = |head: &String| -> Vec<i16> {
            let (first, last) = head.split_once('-').map_or((head.as_str(), &head[2..]), |both| both);
            let first: i16 = first.parse().expect("a year");
            (first..=first / 100 * 100 + last.parse::<i16>().expect("a year")).collect()
        };
        let years: Vec<i16> = heads.iter().flat_map(span).collect();
        assert_eq!(years, law.known().map(|year| year.0).collect::<Vec<i16>>());
        assert!(heads.len() < years.len(), "{heads:?}");
        // Both credits ended for work completed after 2025 (Public Law 119-21, sections 70505 and 70506).
        let at = |year: i16| heads.iter().position(|head| span(head).contains(&year)).expect("a year");
        assert_eq!(row("new property earns 25D")[at(2025)], "yes");
        assert_eq!(row("new property earns 25D")[at(2026)], "no");
        assert_eq!(row("rate of the 25C credit")[at(2023)], "30%");
        // Section 25C did not apply to 2008 (Public Law 110-343, division B, section 302); 25D(g) on 2020 to 2022.
        assert_eq!(row("new property earns 25C")[at(2008)], "no");
        let rates = row("rate of the 25D credit");
        assert_eq!(
            [2019, 2020, 2021, 2022].map(|year| rates[at(year)].as_str()),
            ["30%", "26%", "26%", "30%"]
        );
    }
}
