//! Writing a file by its tables of keys: the keys in their order, quotes wherever a reader could doubt, and in the first
//! entry of each section the meaning of every key as a comment.
//!
//! Comes in: a [`Block`] and what its keys are to have. Goes out: text that the reader of the same table reads. Knows no
//! kind of file.

use super::rule::{Block, Takes};
use crate::money::Money;
use jiff::civil::Date;
use std::fmt::{Display, Write};

/// What is to be written behind a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Written {
    /// A word, number, date or percentage.
    Word(String),
    /// A text of a person's own.
    Text(String),
    /// Several values: on one line, or, where they have keys, each on a line of its own.
    List(Vec<Written>),
    /// Keys with values, in braces.
    Keys(Keys),
    /// Keys with values, each on a line of its own.
    Lines(Keys),
    /// Entries under names or years.
    Entries(Vec<(String, Written)>),
}

/// Keys with what is to be written behind them, in any order.
pub type Keys = Vec<(&'static str, Written)>;

/// Adds keys one after another.
pub trait With {
    /// Adds a key, or none where there is nothing to write.
    fn with(self, key: &'static str, value: impl Into<Option<Written>>) -> Self;
}

impl With for Keys {
    fn with(mut self, key: &'static str, value: impl Into<Option<Written>>) -> Keys {
        self.extend(value.into().map(|value| (key, value)));
        self
    }
}

impl Written {
    /// A word, number, date or percentage.
    pub fn word(word: impl Display) -> Written {
        Written::Word(word.to_string())
    }

    /// A text of a person's own.
    pub fn text(text: &str) -> Written {
        Written::Text(text.to_string())
    }

    /// An amount without signs that a list could take for something else, and without cents where there are none.
    pub fn amount(amount: Money) -> Written {
        let text = amount.plain();
        Written::word(text.strip_suffix(".00").unwrap_or(&text))
    }

    /// A day.
    pub fn day(day: Date) -> Written {
        Written::word(day)
    }

    /// Entries under names or years; nothing where there are none.
    pub fn entries<N: Display>(all: impl Iterator<Item = (N, Written)>) -> Option<Written> {
        let all: Vec<_> = all.map(|(name, one)| (name.to_string(), one)).collect();
        (!all.is_empty()).then_some(Written::Entries(all))
    }

    /// A list; nothing where it is empty.
    pub fn list(all: impl Iterator<Item = Written>) -> Option<Written> {
        let all: Vec<_> = all.collect();
        (!all.is_empty()).then_some(Written::List(all))
    }
}

/// Returns keys in the order of their table; what no table has, in the order it came.
pub(super) fn in_order<'k>(keys: &'k Keys, block: Option<&Block>) -> Vec<(&'static str, &'k Written)> {
    let place = |key: &str| block.and_then(|block| block.keys.iter().position(|rule| rule.key == key));
    let mut all: Vec<_> = keys.iter().map(|(key, value)| (*key, value)).collect();
    all.sort_by_key(|(key, _)| place(key).unwrap_or(usize::MAX));
    all
}

/// Writes a file by the table of its outermost keys: each section after an empty line.
pub fn file(block: &'static Block, keys: &Keys, out: &mut String) {
    for (n, (key, value)) in in_order(keys, Some(block)).into_iter().enumerate() {
        if n > 0 {
            out.push('\n');
        }
        let below = below(block, key);
        behind(&format!("{key}:"), value, below, true, "", "", out);
    }
}

/// Writes keys, each on a line of its own.
pub fn lines(block: &'static Block, keys: &Keys, comments: bool, indent: &str, out: &mut String) {
    for (key, value) in in_order(keys, Some(block)) {
        let meaning = block.rule(key).filter(|_| comments).map_or("", |rule| rule.meaning);
        behind(&format!("{indent}{key}:"), value, below(block, key), comments, meaning, indent, out);
    }
}

/// Writes what is behind a key.
fn behind(
    head: &str,
    value: &Written,
    below: Option<&'static Block>,
    comments: bool,
    meaning: &str,
    indent: &str,
    out: &mut String,
) {
    match value {
        Written::List(all) if all.iter().any(|one| matches!(one, Written::Keys(_))) => {
            let _ = writeln!(out, "{head}");
            for one in all {
                let _ = writeln!(out, "{indent}  - {}", on_one_line(one, below));
            }
        }
        Written::Lines(keys) => {
            let _ = writeln!(out, "{head}");
            match below {
                Some(block) => lines(block, keys, comments, &format!("{indent}  "), out),
                None => keys.iter().for_each(|(key, value)| {
                    let _ = writeln!(out, "{indent}  {key}: {}", on_one_line(value, None));
                }),
            }
        }
        Written::Entries(entries) => {
            let _ = writeln!(out, "{head}");
            for (n, (name, value)) in entries.iter().enumerate() {
                if n > 0 && matches!(value, Written::Lines(_)) {
                    out.push('\n');
                }
                behind(&format!("{indent}  {name}:"), value, below, n == 0, "", &format!("{indent}  "), out);
            }
        }
        value => commented(&format!("{head} {}", on_one_line(value, below)), meaning, out),
    }
}

/// Returns the table of what is behind a key.
fn below(block: &'static Block, key: &str) -> Option<&'static Block> {
    let mut takes = &block.rule(key)?.takes;
    loop {
        match takes {
            Takes::List(one) | Takes::OneOrList(one) => takes = one,
            Takes::Block(block) | Takes::Named(block) | Takes::ByYear(block, _) => return Some(block),
            _ => return None,
        }
    }
}

/// Writes a line with a comment behind it, where both fit.
fn commented(line: &str, comment: &str, out: &mut String) {
    let width = line.chars().count().max(36);
    if comment.is_empty() || width + 4 + comment.chars().count() > 118 {
        let _ = writeln!(out, "{line}");
    } else {
        let _ = writeln!(out, "{line:<width$}  # {comment}");
    }
}

/// Writes a value on one line.
pub(super) fn on_one_line(one: &Written, block: Option<&'static Block>) -> String {
    match one {
        Written::Word(word) => word.clone(),
        Written::Text(words) => text(words),
        Written::List(all) => {
            format!("[{}]", all.iter().map(|one| on_one_line(one, block)).collect::<Vec<_>>().join(", "))
        }
        Written::Keys(keys) | Written::Lines(keys) => {
            let pair = |(key, value): (&'static str, &Written)| {
                let below = block.and_then(|block| below(block, key));
                format!("{key}: {}", on_one_line(value, below))
            };
            format!("{{{}}}", in_order(keys, block).into_iter().map(pair).collect::<Vec<_>>().join(", "))
        }
        Written::Entries(entries) => {
            let pair = |(name, value): &(String, Written)| format!("{name}: {}", on_one_line(value, block));
            format!("{{{}}}", entries.iter().map(pair).collect::<Vec<_>>().join(", "))
        }
    }
}

/// Writes a text, in quotes unless it is plain beyond doubt for every reader of YAML.
fn text(words: &str) -> String {
    let plain = words.starts_with(|c: char| c.is_alphanumeric())
        && words.chars().any(char::is_alphabetic)
        && words
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, ' ' | '.' | '-' | '/' | '(' | ')' | '\'' | '+'))
        && !words.ends_with(' ')
        && !numeric(words)
        && !RESERVED.contains(&words.to_lowercase().as_str());
    if plain {
        words.to_string()
    } else {
        format!("\"{}\"", words.replace('\\', "\\\\").replace('"', "\\\""))
    }
}

/// Words that one reader of YAML or another takes for something else than a text.
pub(crate) const RESERVED: [&str; 9] = ["true", "false", "yes", "no", "on", "off", "null", "y", "n"];

/// Says whether a text could be taken for a number, such as `1e3` or `0x10`.
fn numeric(words: &str) -> bool {
    let head = words.starts_with(|c: char| c.is_ascii_digit());
    head && !words.contains(' ') || matches!(words.to_lowercase().as_str(), "nan" | "inf" | "infinity")
}

#[cfg(test)]
mod tests {
    use super::text;

    #[test]
    fn quotes_stand_where_a_reader_could_doubt() {
        for plain in [
            "12 Alder Lane",
            "Ana Alder",
            "O'Hara-Lind",
            "2025 Form 5695 line 16",
            "Zo\u{eb} Rook",
            "HH-0412",
        ] {
            assert_eq!(text(plain), plain);
        }
        for doubtful in [
            "01040",
            "1e3",
            "yes",
            "No",
            "null",
            "a: b",
            "a #b",
            "***-**-1234",
            "Apt 4, rear",
            "45990-0103",
            "{x}",
        ] {
            assert_eq!(text(doubtful), format!("\"{doubtful}\""));
        }
        assert_eq!(text("the \"old\" house"), "\"the \\\"old\\\" house\"");
    }
}
