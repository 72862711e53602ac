//! Reading one value: a text, an amount, a date, a word, a name, a year.
//!
//! Comes in: a [`Node`]. Goes out: the value with its place, or `None` after a finding that says what to write.

use super::fields::{MANY, Reading};
use super::file::Wrong;
use super::guess::{guess_amount, read_date, suggest};
use super::node::{Entry, Node, Value};
use super::syntax::quoted;
use crate::finding::{Finding, Span, Spanned};
use crate::money::{Money, Quantity, Rate};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::fmt;
use std::ops::RangeInclusive;
use std::sync::Arc;

/// How many characters a text on one line may have.
pub const MAX_LINE: usize = 200;

/// A name that whoever writes a file chose for an entry: in a case a home, an item of property, a paper.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key(pub Arc<str>);

impl Key {
    /// Makes a key from its text.
    pub fn new(text: &str) -> Key {
        Key(Arc::from(text))
    }

    /// Returns its text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Reading<'_> {
    /// Reads a text on one line.
    pub fn line(&mut self, node: &Node, key: &str) -> Option<Spanned<String>> {
        let text = self.words(node, key)?;
        let length = text.chars().count();
        if text.value.contains('\n') {
            self.findings.push(
                Finding::error(
                    "text-form",
                    format!("`{key}` takes a text on one line, and this one has several"),
                )
                .at(text.span)
                .help("write it on one line"),
            );
            return None;
        }
        if length > MAX_LINE {
            self.findings.push(
                Finding::error(
                    "text-too-long",
                    format!(
                        "`{key}` takes a text on one line of at most {MAX_LINE} characters; this has {length}"
                    ),
                )
                .at(text.span)
                .help(self.kind.advice.long_line),
            );
            return None;
        }
        Some(text)
    }

    /// Reads a text that may have several lines, without the blanks at its ends.
    pub fn words(&mut self, node: &Node, key: &str) -> Option<Spanned<String>> {
        let text = self.scalar(node, key)?;
        if let Value::Text { plain: true, .. } = node.value {
            self.cut_by_comment(node.span);
        }
        Some(text.map(|text| text.to_string()))
    }

    /// Returns the text of a value, or reports that there is none.
    fn scalar<'n>(&mut self, node: &'n Node, key: &str) -> Option<Spanned<&'n str>> {
        match &node.value {
            _ if node.broken => None,
            Value::Text { text, .. } if !node.is_nothing() && !text.trim().is_empty() => {
                Some(Spanned::new(text.trim(), node.span))
            }
            Value::Text { .. } => {
                self.findings.push(
                    Finding::error("nothing-here", format!("nothing stands where `{key}` needs a value"))
                        .at(node.span)
                        .help("write the value, or delete the key"),
                );
                None
            }
            _ => {
                let finding =
                    self.wrong_shape(node.span, format!("`{key}` takes one value, and {}", node.stands()));
                match &node.value {
                    Value::List(_) => finding.help("write the value without `- ` and without [ ]"),
                    _ => {
                        finding.help("write the value behind the colon; text with a colon in it needs quotes")
                    }
                };
                None
            }
        }
    }

    /// Warns where a number sign has cut a text short: `12 Alder Lane #4` ends before the sign.
    fn cut_by_comment(&mut self, span: Span) {
        let rest = &self.text[(span.end as usize).min(self.text.len())..];
        let line = rest.lines().next().unwrap_or("");
        let comment = line.trim_start();
        let mut signs = comment.chars();
        let number = signs.next() == Some('#') && signs.next().is_some_and(|c| c.is_ascii_digit());
        if !number || comment.len() == line.len() {
            return;
        }
        let start = span.end + (line.len() - comment.len()) as u32;
        // Inside braces the comment also takes what would close them, and the text would end at a comma.
        let before = self.text[..span.start as usize].rsplit('\n').next().unwrap_or("");
        let braces = before.matches(['{', '[']).count() > before.matches(['}', ']']).count();
        let line = match braces {
            true => line.split([',', '}', ']']).next().unwrap_or(line),
            false => line,
        };
        let end = span.end + line.trim_end().len() as u32;
        let whole = &self.text[span.start as usize..end as usize];
        let make = if braces { Finding::error } else { Finding::warning };
        self.findings.push(
            make(
                "comment-cuts-text",
                "the text ends before the number sign; all behind it is a comment".to_string(),
            )
            .at(Span { start, end, ..span })
            .help(format!("if it belongs to the text, write {}", quoted(whole.trim()))),
        );
    }

    /// Reads an amount from the text as written.
    pub fn money(&mut self, node: &Node, key: &str) -> Option<Spanned<Money>> {
        self.money_of(node, key, None)
    }

    /// Reads an amount of something that is entered as a positive amount although it lowers the cost.
    pub(super) fn money_of(
        &mut self,
        node: &Node,
        key: &str,
        lowers: Option<&str>,
    ) -> Option<Spanned<Money>> {
        let text = self.scalar(node, key)?;
        match Money::read(text.value) {
            Ok(amount) => Some(Spanned::new(amount, text.span)),
            Err(reason) => {
                let reason = reason.split(';').next().unwrap_or(reason);
                let below_zero = text.value.starts_with(['-', '(', '\u{2212}']);
                let instead = below_zero.then(|| self.kind.habits.below_zero(key)).flatten();
                let help = match guess_amount(text.value) {
                    Some(guess) if below_zero && let Some(row) = lowers => {
                        format!("write `{guess}`, without the minus; {row} is entered as a positive amount")
                    }
                    _ if instead.is_some() => instead.unwrap_or_default().to_string(),
                    _ if text.value.ends_with('%') => {
                        format!(
                            "`{key}` takes dollars, not a share; work the amount out and write it like 12500.00"
                        )
                    }
                    Some(guess) => format!("write `{guess}` if that is the amount"),
                    None => "write it like 12500, 12500.00 or 12,500.00".to_string(),
                };
                let message = match reason {
                    _ if Decimal::from_scientific(text.value).is_ok() && text.value.contains(['e', 'E']) => {
                        format!("`{}` is not a plain amount", text.value)
                    }
                    "not a plain amount" => format!("`{}` is not a plain amount", text.value),
                    _ => format!("`{}` cannot be read as an amount: {reason}", text.value),
                };
                self.findings.push(Finding::error("amount-form", message).at(text.span).help(help));
                None
            }
        }
    }

    /// Reads a percentage from the text as written.
    pub fn rate(&mut self, node: &Node, key: &str) -> Option<Spanned<Rate>> {
        let text = self.scalar(node, key)?;
        match Rate::read(text.value) {
            Ok(rate) => Some(Spanned::new(rate, text.span)),
            Err(reason) => {
                let with_sign = format!("{}%", text.value);
                let help = match Rate::read(&with_sign) {
                    // A bare 1 may be all of it or a hundredth of it.
                    Ok(_) if !text.value.starts_with("0.") && text.value != "1" => {
                        format!("write `{with_sign}`")
                    }
                    _ => "write it like 30% or 1.25%; thirty of a hundred is 30%, not 0.30".to_string(),
                };
                self.findings.push(
                    Finding::error("percentage-form", format!("`{}` is no percentage: {reason}", text.value))
                        .at(text.span)
                        .help(help),
                );
                None
            }
        }
    }

    /// Reads a plain number.
    pub fn quantity(&mut self, node: &Node, key: &str) -> Option<Spanned<Quantity>> {
        let text = self.scalar(node, key)?;
        match Quantity::read(text.value) {
            Ok(quantity) => Some(Spanned::new(quantity, text.span)),
            Err(reason) => {
                self.findings.push(
                    Finding::error("quantity-form", format!("`{}` is no plain number: {reason}", text.value))
                        .at(text.span)
                        .help("write the number alone, without its unit, like 13.5"),
                );
                None
            }
        }
    }

    /// Reads a whole number from one to a thousand.
    pub fn count(&mut self, node: &Node, key: &str) -> Option<Spanned<u16>> {
        let text = self.scalar(node, key)?;
        let digits = text.value.len() <= 4 && text.value.bytes().all(|b| b.is_ascii_digit());
        match text.value.parse::<u16>() {
            Ok(number) if digits && (1..=1000).contains(&number) => Some(Spanned::new(number, text.span)),
            _ => {
                self.findings.push(
                    Finding::error(
                        "count-form",
                        format!("`{}` is no whole number from 1 to 1000", text.value),
                    )
                    .at(text.span)
                    .help("write it in digits, like 2"),
                );
                None
            }
        }
    }

    /// Reads a date that exists.
    pub fn date(&mut self, node: &Node, key: &str) -> Option<Spanned<Date>> {
        let text = self.scalar(node, key)?;
        match read_date(text.value) {
            Ok(date) => Some(Spanned::new(date, text.span)),
            Err((message, help)) => {
                self.findings.push(Finding::error("date-form", message).at(text.span).help(help));
                None
            }
        }
    }

    /// Reads yes or no.
    pub fn yes_no(&mut self, node: &Node, key: &str) -> Option<Spanned<bool>> {
        let text = self.scalar(node, key)?;
        match text.value {
            "true" | "True" | "TRUE" | "yes" | "Yes" | "YES" => Some(Spanned::new(true, text.span)),
            "false" | "False" | "FALSE" | "no" | "No" | "NO" => Some(Spanned::new(false, text.span)),
            other => {
                self.findings.push(
                    Finding::error("yes-no-form", format!("`{other}` is neither true nor false"))
                        .at(text.span)
                        .help(format!("write `{key}: true` or `{key}: false`")),
                );
                None
            }
        }
    }

    /// Reads one of a set of words.
    pub fn word<T: Copy>(
        &mut self,
        node: &Node,
        key: &str,
        all: &[T],
        word: fn(T) -> &'static str,
    ) -> Option<Spanned<T>> {
        let text = self.scalar(node, key)?;
        if let Some(found) = all.iter().find(|one| word(**one) == text.value) {
            return Some(Spanned::new(*found, text.span));
        }
        let known: Vec<&'static str> = all.iter().map(|one| word(*one)).collect();
        let finding =
            Finding::error("unknown-word", format!("`{}` is not a valid value for `{key}`", text.value))
                .at(text.span);
        let finding = self.helped(finding, key, text.value, &known);
        self.findings.push(finding);
        None
    }

    /// Says what to write instead of a text that is no word of its list.
    pub fn helped(&self, finding: Finding, key: &str, written: &str, known: &[&'static str]) -> Finding {
        self.kind.habits.instead(Wrong { root: self.root, key, written, known }, finding)
    }

    /// Checks a name that whoever writes the file chose, where it is defined.
    pub fn name(&mut self, written: &Spanned<String>) {
        if !is_key(&written.value) {
            let better = better_key(&written.value);
            let help = match better {
                Some(better) => format!("write `{better}`, here and wherever it is named"),
                None => "write a short name such as `roof-array`".to_string(),
            };
            self.findings.push(
                Finding::error(
                    "key-form",
                    format!("`{}` is no name as they are written here: lower-case letters, digits and hyphens, at most 40", written.value),
                )
                .at(written.span)
                .help(help),
            );
        }
    }

    /// Reads the key of an entry of another section and makes sure that it is there.
    pub fn reference(&mut self, node: &Node, key: &str, section: &'static str) -> Option<Spanned<Key>> {
        let text = self.scalar(node, key)?;
        let found = Spanned::new(Key::new(text.value), text.span);
        let target = self.root.get(section);
        if target.is_some_and(|one| one.broken) || (target.is_none() && self.root.broken) {
            return Some(found);
        }
        // A name that is reported where it is defined, with this better one, is not reported again here.
        let mended = || {
            let Some(Value::Map { entries, .. }) = target.map(|one| &one.value) else { return false };
            let better = |one: &Entry| better_key(&one.key.value).as_deref() == Some(text.value);
            self.findings.len() <= MANY && entries.iter().any(|one| !is_key(&one.key.value) && better(one))
        };
        if !self.names.contains(&(section, text.value)) && !mended() {
            let help = match target.map(|one| &one.value) {
                _ if self.findings.len() > MANY => format!("write a name that stands under `{section}`"),
                Some(Value::Map { entries, .. }) => {
                    let names: Vec<&str> = entries.iter().map(|one| one.key.value.as_str()).collect();
                    suggest(text.value, &names)
                }
                _ => format!("add a section `{section}` with an entry `{}`", text.value),
            };
            let finding = Finding::error(
                "unknown-reference",
                format!("there is no `{}` under `{section}`", text.value),
            );
            let list = match self.kind.asides.contains(&section) {
                true => &mut self.asides,
                false => &mut self.findings,
            };
            list.push(finding.at(text.span).help(help));
        }
        Some(found)
    }

    /// Reads a tax year that stands as a key.
    pub fn year(&mut self, written: &Spanned<String>, range: RangeInclusive<i16>) -> Option<Spanned<i16>> {
        let digits = written.value.len() == 4 && written.value.bytes().all(|b| b.is_ascii_digit());
        let year = written.value.parse::<i16>().ok().filter(|year| digits && range.contains(year));
        if year.is_none() {
            self.findings.push(
                Finding::error(
                    "tax-year",
                    format!(
                        "`{}` is no tax year from {} to {}, which is what stands here",
                        written.value,
                        range.start(),
                        range.end()
                    ),
                )
                .at(written.span)
                .help("write a calendar year in four digits, such as 2024"),
            );
        }
        year.map(|year| Spanned::new(year, written.span))
    }
}

/// Says whether a text is a key as people choose them here.
fn is_key(text: &str) -> bool {
    !text.is_empty()
        && text.len() <= 40
        && !text.starts_with('-')
        && !text.ends_with('-')
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// Makes a key out of a text that was meant as one.
fn better_key(text: &str) -> Option<String> {
    let mapped: String = text
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_lowercase() || c.is_ascii_digit() { c } else { '-' })
        .collect();
    let parts: Vec<&str> = mapped.split('-').filter(|part| !part.is_empty()).collect();
    let better = parts.join("-");
    is_key(&better).then_some(better)
}
