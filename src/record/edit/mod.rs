//! Changing a file that people write, in its place: what is not changed stays byte for byte.
//!
//! Comes in: the text of a file, the table of its outermost keys, and a list of [`Change`]s, each a path with what is to
//! be written there. Goes out: the new text, or why it is [`Refused`]. Comments, order, blank lines, how far in each line
//! begins, ends of lines and the way lists and maps are written stay as the file has them. The new text is read again,
//! and unless it says exactly what the old one said with the change, there is none. Knows no kind of file, no disk.
//!
//! ```text
//! edit(bytes, &FILE, &CASE, &[
//!     Change::set("returns.2026.stage", Written::word("filed")),
//!     Change::set("returns.2026.claimed", Written::Keys(..)),
//!     Change::add("answers", Written::Keys(..)),
//! ])
//! ```
//!
//! A path is written as in the answers of a case: keys joined by points, entries of lists by number from 1. Keys on the
//! way that are not there yet are made. A new key comes behind those that the table has before it.

mod content;
mod difference;
mod lines;
mod places;

pub use difference::{Difference, Line, difference};

use super::file::FileKind;
use super::rule::{Block, Takes};
use super::tree::{self, Entry, Node, Value};
use super::write::{self, Written};
use crate::finding::{Finding, Sources};
use content::Content;
use lines::Style;
use places::Text;
use std::fmt;

/// One change of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Keys joined by points, entries of lists by number from 1.
    pub path: String,
    /// What is to be written there.
    pub what: What,
}

/// What a change does at its path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Writes a value behind a key, in place of the one that is there or with the key itself. A list or keys with
    /// values are replaced only where they are written in brackets and hold no comment.
    Set(Written),
    /// Adds an entry to a list, which is made where there is none.
    Add(Written),
}

impl What {
    fn in_order(&self, table: Table) -> What {
        match self {
            What::Set(value) => What::Set(table.ordered(value)),
            What::Add(one) => What::Add(table.entry().ordered(one)),
        }
    }
}

impl Change {
    /// Writes a value behind a key.
    pub fn set(path: impl Into<String>, value: Written) -> Change {
        Change { path: path.into(), what: What::Set(value) }
    }

    /// Adds an entry to a list.
    pub fn add(path: impl Into<String>, value: Written) -> Change {
        Change { path: path.into(), what: What::Add(value) }
    }
}

/// Why a file is not changed. Nothing was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// The file cannot be read without doubt; where, and why.
    Unreadable {
        /// The line, from 1.
        line: usize,
        /// What is wrong there.
        message: String,
    },
    /// What stands at the path is not what the change expects there.
    Unfit {
        /// The path.
        path: String,
        /// What is in the way.
        why: &'static str,
    },
    /// The new text would not say what the old one said with the change.
    Differs {
        /// The path of the change.
        path: String,
    },
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Unreadable { line, message } => write!(f, "line {line}: {message}"),
            Refused::Unfit { path, why } => write!(f, "`{path}` cannot be changed in place: {why}"),
            Refused::Differs { path } => write!(
                f,
                "`{path}` cannot be changed in place: the changed file would not read as meant, so it is left as it is"
            ),
        }
    }
}

impl std::error::Error for Refused {}

/// Makes the changes, one after the other; all of them or none.
///
/// `block` is the table of the file's outermost keys. A file that cannot be read as plain YAML is refused, and so is
/// a change with which it could not be, such as a full taxpayer number.
pub fn edit(
    bytes: &[u8],
    kind: &'static FileKind,
    block: &'static Block,
    changes: &[Change],
) -> Result<String, Refused> {
    let (mut text, mut root) = read(bytes, kind)?;
    for change in changes {
        let refused = || Refused::Differs { path: change.path.clone() };
        let unfit = |why| Refused::Unfit { path: change.path.clone(), why };
        let table = Table::Keys(block);
        let what = change.what.in_order(change.path.split('.').fold(table, Table::below));
        let mut expected = Content::of(&root);
        content::apply(&mut expected, table, &change.path, &what).map_err(unfit)?;
        let new = changed(&text, &root, table, &change.path, &what).map_err(unfit)?;
        // What was typed may be what no file may hold; it is not shown.
        let (read_text, read_root) = read(new.as_bytes(), kind).map_err(|_| refused())?;
        if Content::of(&read_root) != expected || read_text != new {
            return Err(refused());
        }
        (text, root) = (new, read_root);
    }
    Ok(text)
}

/// Reads a file in which nothing is in doubt.
fn read(bytes: &[u8], kind: &'static FileKind) -> Result<(String, Node), Refused> {
    let (mut sources, mut findings) = (Sources::default(), Vec::new());
    let (source, root) = tree::read("", bytes, kind, &mut sources, &mut findings);
    let unreadable = |finding: Option<&Finding>| Refused::Unreadable {
        line: finding.and_then(|one| one.at).map_or(1, |at| sources.line_column(at).line),
        message: finding.map_or_else(|| format!("{} holds nothing", kind.the), |one| one.message.clone()),
    };
    match root {
        Some(root) if findings.is_empty() => Ok((sources.get(source).text.clone(), root)),
        _ => Err(unreadable(findings.first())),
    }
}

/// How the keys at a place are ordered, and what is behind them.
#[derive(Clone, Copy, Debug)]
enum Table {
    /// As a table has them.
    Keys(&'static Block),
    /// Under names of the writer's own choosing, each with such keys.
    Named(&'static Block),
    /// Under years, each with such keys.
    ByYear(&'static Block),
    /// In the order they come; behind some of them may be such keys.
    Free(Option<&'static Block>),
}

impl Table {
    fn of(takes: &'static Takes) -> Table {
        match takes {
            Takes::Block(block) => Table::Keys(block),
            Takes::Named(block) => Table::Named(block),
            Takes::ByYear(block, _) => Table::ByYear(block),
            Takes::List(one) | Takes::OneOrList(one) => Table::of(one),
            Takes::Own(own) => Table::Free(own.blocks.first().copied()),
            _ => Table::Free(None),
        }
    }

    /// What is behind a key, or in an entry of a list.
    fn below(self, step: &str) -> Table {
        match self {
            Table::Keys(_) if step.parse::<usize>().is_ok() => self,
            Table::Keys(block) => block.rule(step).map_or(Table::Free(None), |rule| Table::of(&rule.takes)),
            Table::Named(block) | Table::ByYear(block) | Table::Free(Some(block)) => Table::Keys(block),
            Table::Free(None) => self,
        }
    }

    /// Returns a value with its keys in the order of their tables.
    fn ordered(self, value: &Written) -> Written {
        let keys = |keys: &write::Keys| {
            let block = match self {
                Table::Keys(block) => Some(block),
                _ => None,
            };
            let keys = write::in_order(keys, block).into_iter();
            keys.map(|(key, one)| (key, self.below(key).ordered(one))).collect()
        };
        match value {
            Written::Word(_) | Written::Text(_) => value.clone(),
            Written::List(all) => Written::List(all.iter().map(|one| self.entry().ordered(one)).collect()),
            Written::Keys(all) => Written::Keys(keys(all)),
            Written::Lines(all) => Written::Lines(keys(all)),
            Written::Entries(all) => Written::Entries(
                all.iter().map(|(name, one)| (name.clone(), self.below(name).ordered(one))).collect(),
            ),
        }
    }

    /// What is in an entry of a list.
    fn entry(self) -> Table {
        self.below("1")
    }

    /// Returns where a new key belongs among those that are there.
    fn position<'k>(self, keys: impl Iterator<Item = &'k str>, new: &str) -> usize {
        let rank = |key: &str| match self {
            Table::Keys(block) => block.keys.iter().position(|rule| rule.key == key),
            Table::ByYear(_) => key.parse().ok(),
            Table::Named(_) | Table::Free(_) => None,
        };
        let keys: Vec<&str> = keys.collect();
        match rank(new) {
            // Behind the last one that comes before it, whatever order the others are in.
            Some(new) => {
                let before = keys.iter().rposition(|key| rank(key).is_some_and(|rank| rank < new));
                before.map_or(0, |at| at + 1)
            }
            None => keys.len(),
        }
    }

    /// Puts a value under keys that are not there yet.
    fn wrapped(self, missing: &[&str], value: &Written) -> Result<Written, &'static str> {
        let Some((first, rest)) = missing.split_first() else { return Ok(value.clone()) };
        let value = self.below(first).wrapped(rest, value)?;
        match self {
            Table::Keys(block) => {
                let rule = block.rule(first).ok_or("there is no such key")?;
                Ok(Written::Keys(vec![(rule.key, value)]))
            }
            _ => Ok(Written::Entries(vec![(first.to_string(), value)])),
        }
    }
}

const NO_KEYS: &str = "no keys with values are there";
const NO_LIST: &str = "no list is there";
const NO_ENTRY: &str = "the list has no such entry";

/// Where a path leads.
struct Found<'n, 'p> {
    node: &'n Node,
    /// The key it is behind, if it is not in a list.
    entry: Option<&'n Entry>,
    table: Table,
    /// The steps that lead on to nothing.
    missing: Vec<&'p str>,
}

/// Follows a path as far as it leads.
fn follow<'n, 'p>(root: &'n Node, table: Table, path: &'p str) -> Result<Found<'n, 'p>, &'static str> {
    let mut steps = path.split('.');
    let mut found = Found { node: root, entry: None, table, missing: Vec::new() };
    while let Some(step) = steps.next() {
        let (node, entry) = match &found.node.value {
            Value::Map { entries, .. } => match entries.iter().find(|one| one.key.value == step) {
                Some(entry) if !entry.value.is_nothing() => (&entry.value, Some(entry)),
                _ => {
                    found.missing = std::iter::once(step).chain(steps).collect();
                    return Ok(found);
                }
            },
            Value::List(all) => {
                let number = step.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
                (number.and_then(|n| all.get(n)).ok_or(NO_ENTRY)?, None)
            }
            Value::Text { .. } => return Err(NO_KEYS),
        };
        found = Found { node, entry, table: found.table.below(step), ..found };
    }
    Ok(found)
}

/// Makes one change in a text.
fn changed(text: &str, root: &Node, table: Table, path: &str, what: &What) -> Result<String, &'static str> {
    let Found { node, entry, table, missing } = follow(root, table, path)?;
    let text = Text::new(text);
    let style = Style::of(&text, root);
    let Some((key, rest)) = missing.split_first() else {
        return match what {
            What::Set(value) => places::replace(&text, entry, node, &write::on_one_line(value, None)),
            What::Add(one) => places::append(&text, node, one, &style),
        };
    };
    let value = match what {
        What::Set(value) => value.clone(),
        What::Add(one) => Written::List(vec![one.clone()]),
    };
    let value = table.below(key).wrapped(rest, &value)?;
    match node.get(key) {
        Some(_) => places::fill(&text, node, key, &value, &style),
        None => places::insert(&text, node, key, &value, table, &style),
    }
}

#[cfg(test)]
mod tests;
