//! What was answered, part by part, and what it comes to.
//!
//! Comes in: a [`Draft`] and its figures. Goes out: short lines, each with the questions it stands for.

use super::draft::{Draft, Item};
use super::terms;
use crate::assemble::Computed;
use crate::credit::line::{CARRIED_OUT, CLEAN_ALLOWED, IMPROVEMENT_ALLOWED, IMPROVEMENT_LOST, Line, Place};
use crate::money::Money;

/// A part that can be changed: the beginning of its questions' names, and its line.
pub(super) struct Part {
    pub questions: String,
    pub line: String,
}

/// Returns every part of a draft.
pub(super) fn parts(draft: &Draft) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut part = |questions: String, line: String| parts.push(Part { questions, line });
    let names: Vec<&str> = draft.people.iter().map(|one| one.name.as_str()).collect();
    part("client.".to_string(), format!("client {}: {}", draft.reference, names.join(" and ")));
    for (n, home) in (1..).zip(&draft.homes) {
        let used = home.use_.label();
        // What is usual was said of the items, home and all.
        let mut questions = format!("homes.{n}.");
        for (at, _) in (1..).zip(&draft.items).filter(|(_, item)| item.home == home.key) {
            questions.push_str(&format!(" property.{at}.ordinary property.{at}.home"));
        }
        part(questions, format!("home: {}; {used}, {}", home.address.line(), home.held_as.label()));
    }
    for (n, item) in (1..).zip(&draft.items) {
        part(format!("property.{n}."), item_line(item));
    }
    let next = draft.items.len() + 1;
    part(format!("property.more.{next}"), "something else that was bought: add it".to_string());
    if draft.items.len() > 1 {
        let shared = draft.shared.len();
        part("shared.".to_string(), format!("amounts for several of these together: {shared}"));
    }
    let carried = draft.carried_in.as_ref().map_or_else(
        || "credit from earlier years: none".to_string(),
        |one| format!("credit from earlier years: {} into {}", one.amount.spoken(), one.year),
    );
    part("carried.".to_string(), carried);
    if !draft.earlier.is_empty() {
        let years: Vec<String> = draft.earlier.iter().map(|one| one.year.to_string()).collect();
        part("earlier.".to_string(), format!("earlier home improvement credits: {}", years.join(", ")));
    }
    for one in &draft.returns {
        let credits: Money = one.credits.iter().map(|(_, amount)| *amount).sum();
        let credits =
            if credits.is_zero() { String::new() } else { format!(", other credits {}", credits.spoken()) };
        let line = format!(
            "return of {}, {}: {}, tax before credits {}{credits}",
            one.year,
            one.stage.label(),
            one.status.label(),
            one.tax.spoken()
        );
        part(format!("returns.{}.", one.year), line);
    }
    let papers = draft.papers.iter().filter(|one| one.on_file).count();
    part("papers.".to_string(), format!("papers: {papers} of {} on file; note others", draft.papers.len()));
    if !draft.settled.is_empty() {
        let answered = draft.settled.len();
        part("answers.".to_string(), format!("answers to a reviewer's questions: {answered}"));
    }
    let reminders = draft.engagement.as_ref().map_or("no", |one| terms::reminder(one.basis));
    part("closing.".to_string(), format!("seasonal letters: {reminders}"));
    parts
}

fn item_line(item: &Item) -> String {
    let from_others: Money = item.incentives.iter().map(|one| one.amount).sum();
    let others =
        if from_others.is_zero() { String::new() } else { format!(", {} from others", from_others.spoken()) };
    format!("{}, {}: {} paid{others}", item.name(), item.year, item.paid().spoken())
}

/// The figures that matter most, with the words before and after each.
const FIGURES: [(Line, &str, &str); 4] = [
    (IMPROVEMENT_ALLOWED, "home improvement credit ", ""),
    (IMPROVEMENT_LOST, "", " more is lost to the tax limit"),
    (CLEAN_ALLOWED, "clean energy credit ", ""),
    (CARRIED_OUT, "carried forward ", ""),
];

/// Says what the case comes to, year by year, or that it cannot be computed yet.
pub(super) fn figures(draft: &Draft, computed: &Computed) -> String {
    let mut out = String::new();
    for one in &draft.returns {
        let amount = |line| computed.outcome.figures.money(&Place::of_return(one.year, line));
        let said: Vec<String> = FIGURES
            .iter()
            .filter_map(|(line, before, after)| {
                let amount = amount(*line).filter(|amount| !amount.is_zero())?;
                Some(format!("{before}{}{after}", amount.spoken()))
            })
            .collect();
        if !said.is_empty() {
            out.push_str(&format!("  {}: {}\n", one.year, said.join(", ")));
        }
    }
    match out.is_empty() {
        true => "As answered, no credit comes of it.".to_string(),
        false => format!("As answered, it comes to:\n{}", out.trim_end()),
    }
}
