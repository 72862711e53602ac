//! How a file is laid out, and new lines in the same way.

use super::super::tree::{Node, Value};
use super::super::write::{self, Written};
use super::places::{Text, dash};

/// How far in the lines of a file begin.
pub(super) struct Style {
    /// Keys below the key they belong to.
    keys: usize,
    /// The dash of a list below its key.
    dashes: usize,
}

impl Style {
    /// Sees how a file does it; where it does not, as `begin` does.
    pub fn of(text: &Text<'_>, root: &Node) -> Style {
        let keys = keys_further_in(text, root).unwrap_or(2);
        Style { keys, dashes: dashes_further_in(text, root).unwrap_or(keys) }
    }
}

fn keys_further_in(text: &Text<'_>, node: &Node) -> Option<usize> {
    let Value::Map { entries, braces: false } = &node.value else { return None };
    let further = entries.iter().find_map(|one| match &one.value.value {
        Value::Map { entries: below, braces: false } => {
            let below = text.column(below.first()?.key.span.start as usize);
            below.checked_sub(text.column(one.key.span.start as usize)).filter(|by| *by > 0)
        }
        _ => None,
    });
    further.or_else(|| entries.iter().find_map(|one| keys_further_in(text, &one.value)))
}

fn dashes_further_in(text: &Text<'_>, node: &Node) -> Option<usize> {
    match &node.value {
        Value::Map { entries, braces: false } => entries.iter().find_map(|one| match &one.value.value {
            Value::List(all) => {
                let dash = text.column(dash(text, &one.value, all.first()?)?);
                dash.checked_sub(text.column(one.key.span.start as usize))
            }
            _ => dashes_further_in(text, &one.value),
        }),
        _ => None,
    }
}

/// Writes a key with its value, on one line or several, each beginning `column` blanks further in.
pub(super) fn of_key(key: &str, value: &Written, column: usize, style: &Style) -> Vec<String> {
    let head = format!("{}{key}:", " ".repeat(column));
    match behind(value, column, style) {
        Behind::Line(line) => vec![format!("{head} {line}")],
        Behind::Lines(lines) => std::iter::once(head).chain(lines).collect(),
    }
}

/// What is written behind a key.
pub(super) enum Behind {
    /// On the line of the key.
    Line(String),
    /// On lines below it.
    Lines(Vec<String>),
}

/// Writes what is behind a key that begins in a column.
pub(super) fn behind(value: &Written, column: usize, style: &Style) -> Behind {
    let further = column + style.keys;
    let grouped = |one: &Written| matches!(one, Written::Keys(_) | Written::Lines(_) | Written::Entries(_));
    match value {
        Written::Lines(keys) if !keys.is_empty() => {
            Behind::Lines(keys.iter().flat_map(|(key, one)| of_key(key, one, further, style)).collect())
        }
        Written::Entries(all) if !all.is_empty() => {
            Behind::Lines(all.iter().flat_map(|(name, one)| of_key(name, one, further, style)).collect())
        }
        Written::List(all) if all.iter().any(grouped) => {
            let column = column + style.dashes;
            Behind::Lines(all.iter().flat_map(|one| of_entry(one, column, 2, style)).collect())
        }
        value => Behind::Line(write::on_one_line(value, None)),
    }
}

/// Writes an entry of a list: `column` is that of its dash, and its keys begin `inner` further in.
pub(super) fn of_entry(one: &Written, column: usize, inner: usize, style: &Style) -> Vec<String> {
    let mut lines = match one {
        Written::Lines(keys) if !keys.is_empty() => {
            keys.iter().flat_map(|(key, one)| of_key(key, one, column + inner, style)).collect()
        }
        one => vec![format!("{}{}", " ".repeat(column + inner), write::on_one_line(one, None))],
    };
    lines[0].replace_range(column..column + 1, "-");
    lines
}
