//! Answers to the questions that `check` asks.

use super::kinds::Kind;
use crate::finding::{Finding, Span, Spanned};
use crate::record::rule::Takes;
use crate::record::tree::Value;
use crate::record::{Form, Reading, Slot, Text, record, suggest};
use jiff::civil::Date;

record! {
    /// An answer to a question.
    pub struct Answer: ANSWER "answer" {
        given span: Span;
        /// the code of the question
        question: Spanned<String>, "worksheet-b-unsaid";
        /// what it is about: keys joined by points; entries of lists by number from 1
        about: Option<Spanned<String>> => Option<About>, "property.roof-array";
        /// the facts it answers, as `check` prints them with the question; when they change, the question comes back
        given as "for": Option<Spanned<String>>, "child_tax; 4,400";
        /// the answer
        answer: Spanned<String> => Text, "yes";
        /// who answered
        by: Option<Spanned<String>>, "J. Alder";
        /// when
        on: Option<Spanned<Date>>, "2025-03-02";
        /// why
        because: Option<Spanned<String>> => Option<Text>, "the client's letter of March 1";
    }
}

/// A path in the case.
struct About;

impl Form for About {
    type Value = Spanned<String>;
    const TAKES: Takes = Takes::Line;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<String>> {
        let about = reading.line(slot.node, slot.key)?;
        resolve(&about, reading);
        Some(about)
    }
}

/// Follows a path of keys joined by points through the case, entries of lists by number from one.
///
/// The last key may be one that is absent, since questions are often about what is missing.
fn resolve(about: &Spanned<String>, reading: &mut Reading<'_>) {
    let steps: Vec<&str> = about.value.split('.').collect();
    // Not a path in the case: the standard of a kind and year, about which several items are asked at once.
    if let ["standards", rest @ ..] = steps.as_slice() {
        let kind = |word: &str| Kind::ALL.iter().any(|kind| kind.word() == word);
        let year = |text: &str| text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
        if !matches!(rest, [of, word] if year(of) && kind(word)) {
            reading.findings.push(
                Finding::error(
                    "unknown-reference",
                    format!("`{}` names no standard of a kind and year", about.value),
                )
                .at(about.span)
                .help(
                    "write the tax year and the word under `kind:`, such as `standards.2025.exterior_door`",
                ),
            );
        }
        return;
    }
    let mut node = reading.root;
    for (n, step) in steps.iter().enumerate() {
        if node.broken {
            return;
        }
        let names: Vec<String> = match &node.value {
            Value::Map { entries, .. } => entries.iter().map(|one| one.key.value.clone()).collect(),
            Value::List(all) => (1..=all.len()).map(|number| number.to_string()).collect(),
            Value::Text { .. } => Vec::new(),
        };
        let next = match &node.value {
            Value::Map { .. } => node.get(step),
            Value::List(all) => step.parse::<usize>().ok().and_then(|number| all.get(number.checked_sub(1)?)),
            Value::Text { .. } => None,
        };
        match next {
            Some(next) => node = next,
            None => {
                let known = match n {
                    0 => reading.kind.blocks.first().is_some_and(|whole| whole.rule(step).is_some()),
                    1 => false,
                    _ => reading.kind.blocks.iter().any(|block| block.rule(step).is_some()),
                };
                if known && n + 1 == steps.len() {
                    return;
                }
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let shown = match n {
                    0 => "in the case".to_string(),
                    _ => format!("under `{}`", steps[..n].join(".")),
                };
                let help = match names.is_empty() {
                    true => "write a path such as `property.roof-array` or `returns.2024`".to_string(),
                    false => suggest(step, &names),
                };
                reading.findings.push(
                    Finding::error("unknown-reference", format!("there is no `{step}` {shown}"))
                        .at(about.span)
                        .help(help),
                );
                return;
            }
        }
    }
}
