//! Records of data files: their keys, their table and their reader in one declaration.
//!
//! Comes in: a [`Node`] and where it stands. Goes out: a value of a type, or `None` after findings. A type says as
//! [`Shape`] how it is read; one that is written as a single text says as [`Written`] what that text is; [`records!`]
//! declares one with keys. Everything is read before anything is given up, so one run finds every mistake.

use super::fields::{Fields, Reading};
use super::file::FileKind;
use super::followers::in_order;
use super::guess::suggest;
use super::rule::{Block, Takes};
use super::tree::{self, Entry, Node, Value};
use crate::finding::{Finding, Severity, Sources, Span, Spanned};
use crate::money::{Money, Quantity, Rate};
use crate::redact;
use std::collections::BTreeMap;

/// A type that is read from a node.
pub trait Shape: Sized {
    /// What is written.
    const TAKES: Takes;

    /// Reads it.
    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Self>;
}

/// Where a node stands.
#[derive(Clone, Copy)]
pub struct Spot<'s> {
    /// Behind which key, for messages.
    pub key: &'s str,
    /// Where to point when something is missing in it.
    pub head: Span,
    step: Step<'s>,
}

/// The last step of a path. Paths are put together where one is asked for: a file of law has thousands of values, and a
/// message names the path of one or of none.
#[derive(Clone, Copy)]
enum Step<'s> {
    /// A key of the file.
    Outermost,
    /// A key of the group that has this path.
    Of(&'s str),
    /// A key behind another.
    Below(&'s Spot<'s>),
    /// An entry of a list, counted from zero.
    Nth(&'s Spot<'s>, usize),
}

impl Spot<'_> {
    /// Returns where the value of a key below stands.
    pub fn below<'e>(&'e self, entry: &'e Entry) -> Spot<'e> {
        Spot { key: &entry.key.value, step: Step::Below(self), head: entry.key.span }
    }

    /// Returns the path to it, such as `kinds.battery.requires`.
    pub fn path(&self) -> String {
        match self.step {
            Step::Outermost => self.key.to_string(),
            Step::Of(group) => format!("{group}.{}", self.key),
            Step::Below(spot) => format!("{}.{}", spot.path(), self.key),
            Step::Nth(list, n) => format!("{}.{}", list.path(), n + 1),
        }
    }
}

/// A type with keys.
pub trait Keyed: Sized {
    /// Its keys.
    const BLOCK: &'static Block;

    /// Reads every key, and makes the record where nothing was missing.
    fn of(fields: &Fields<'_>, reading: &mut Reading<'_>) -> Option<Self>;
}

/// A type that is written as one text.
pub trait Written: Sized {
    /// What is written.
    const WRITTEN: Takes = Takes::Line;

    /// Reads it, or says what is wrong and what to write instead.
    fn of(text: &str) -> Result<Self, Refused>;
}

/// Why a text is no value of its kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// The code of the finding.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

impl Refused {
    /// Refuses a text.
    pub fn new(message: impl Into<String>, help: impl Into<String>) -> Refused {
        Refused { code: "text-form", message: message.into(), help: help.into() }
    }

    /// Refuses it with a code of its own.
    pub fn coded(self, code: &'static str) -> Refused {
        Refused { code, ..self }
    }

    /// Tells it of a place.
    pub fn at(self, span: Span) -> Finding {
        Finding::error(self.code, self.message).at(span).help(self.help)
    }

    /// Refuses a text that is none of some words.
    pub fn unknown(written: &str, known: &[&str]) -> Refused {
        Refused::new(format!("`{written}` is none of the known words"), suggest(written, known))
    }
}

impl Fields<'_> {
    /// Reads what must stand behind a key; that it is missing is told of the group as a whole.
    pub fn must<T: Shape>(&self, reading: &mut Reading<'_>, key: &'static str) -> Option<T> {
        let node = self.get(reading, key)?;
        T::read(reading, node, &self.spot(key))
    }

    /// Reads what may stand behind a key.
    pub fn may<T: Shape + Default>(&self, reading: &mut Reading<'_>, key: &'static str) -> Option<T> {
        let Some(place) = self.key_span(key) else { return Some(T::default()) };
        match self.get(reading, key) {
            Some(node) => T::read(reading, node, &self.spot(key)),
            None if self.has(key) => None,
            None => {
                reading.findings.push(
                    Finding::error("nothing-here", format!("nothing stands behind `{key}`"))
                        .at(place)
                        .help("write the value, or delete the key"),
                );
                None
            }
        }
    }

    fn spot<'s>(&'s self, key: &'s str) -> Spot<'s> {
        let step = if self.outermost { Step::Outermost } else { Step::Of(&self.place) };
        Spot { key, step, head: self.key_span(key).unwrap_or(self.head) }
    }
}

/// Reads a whole file, whose text joins `sources`, into the record that it is: with the tree of it, and all that is
/// wrong, under one code ([`coded`]).
pub fn read_whole<T: Keyed>(
    name: &str,
    text: &str,
    kind: &'static FileKind,
    code: &'static str,
    sources: &mut Sources,
) -> (Option<(Node, T)>, Vec<Finding>) {
    read_brought_up(name, text, kind, code, sources, |_| None)
}

/// Reads a whole file likewise, after its tree was brought to the form that is read. Where it cannot be, the finding that
/// says so is the only one.
pub fn read_brought_up<T: Keyed>(
    name: &str,
    text: &str,
    kind: &'static FileKind,
    code: &'static str,
    sources: &mut Sources,
    bring_up: impl FnOnce(&mut Node) -> Option<Finding>,
) -> (Option<(Node, T)>, Vec<Finding>) {
    let mut findings = Vec::new();
    let (source, root) = tree::read(name, text.as_bytes(), kind, sources, &mut findings);
    let Some(mut root) = root else { return (None, coded(findings, code, &[])) };
    if let Some(finding) = bring_up(&mut root) {
        return (None, vec![finding]);
    }
    let read = read_root(&root, &sources.get(source).text.clone(), kind, &mut findings);
    let findings = coded(in_order(findings, sources, kind), code, &[]);
    let sound = findings.iter().all(|one| one.severity < Severity::Error);
    (read.filter(|_| sound).map(|read| (root, read)), findings)
}

/// Reads the record that a tree is.
pub fn read_root<T: Keyed>(
    root: &Node,
    text: &str,
    kind: &'static FileKind,
    findings: &mut Vec<Finding>,
) -> Option<T> {
    let mut reading = Reading::new(root, text, kind);
    let fields = reading.fields(root, root.span, T::BLOCK, kind.the.to_string());
    let read = fields.and_then(|fields| T::of(&fields, &mut reading));
    findings.append(&mut reading.findings);
    read
}

/// Gives what is wrong with a file one code, save what has one of its own: taxpayer numbers, characters that nobody sees,
/// and what is named here. What is only a warning in a case is an error here: a text that a comment
/// cuts short would go to every client.
pub fn coded(mut findings: Vec<Finding>, code: &'static str, own: &[&str]) -> Vec<Finding> {
    let own =
        |one: &Finding| one.code == redact::CODE || one.code == "hidden-character" || own.contains(&one.code);
    for one in findings.iter_mut().filter(|one| !own(one)) {
        one.code = code;
        one.severity = Severity::Error;
    }
    findings
}

/// Reads a file that is part of the program, with its tree. Tests read it as everybody's, so only a broken build comes
/// here with a faulty one.
pub fn built_in<T: Keyed>(name: &str, text: &str, kind: &'static FileKind) -> (Node, T) {
    let mut findings = Vec::new();
    let root = tree::built_in(text, kind, &mut findings);
    let read = root.and_then(|root| read_root(&root, text, kind, &mut findings).map(|read| (root, read)));
    match read {
        Some(read) if findings.is_empty() => read,
        _ => panic!("the built-in file {name} cannot be read: {findings:?}"),
    }
}

impl<T: Written> Shape for T {
    const TAKES: Takes = T::WRITTEN;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<T> {
        let text = reading.words(node, spot.key)?;
        match T::of(&text.value) {
            Ok(value) => Some(value),
            Err(refused) => {
                reading.findings.push(refused.at(text.span));
                None
            }
        }
    }
}

impl<T: Shape> Shape for Spanned<T> {
    const TAKES: Takes = T::TAKES;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Spanned<T>> {
        T::read(reading, node, spot).map(|value| Spanned::new(value, node.span))
    }
}

impl<T: Shape> Shape for Option<T> {
    const TAKES: Takes = T::TAKES;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Option<T>> {
        T::read(reading, node, spot).map(Some)
    }
}

impl<T: Shape> Shape for Vec<T> {
    const TAKES: Takes = Takes::List(&T::TAKES);

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Vec<T>> {
        let items = reading.list(node, spot.key);
        let read = |(n, item): (usize, &Node)| {
            T::read(reading, item, &Spot { key: spot.key, step: Step::Nth(spot, n), head: item.span })
        };
        let values: Vec<Option<T>> = items.iter().enumerate().map(read).collect();
        let whole = matches!(node.value, Value::List(_));
        values.into_iter().collect::<Option<Vec<T>>>().filter(|_| whole)
    }
}

impl<K: Written + Ord, V: Shape> Shape for BTreeMap<K, V> {
    const TAKES: Takes = Takes::Map(&V::TAKES);

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<BTreeMap<K, V>> {
        let mut map = BTreeMap::new();
        let mut whole = true;
        for entry in reading.entries(node, spot.head, &|| spot.path())? {
            match (reading.map_key(&entry.key), V::read(reading, &entry.value, &spot.below(entry))) {
                (Some(key), Some(value)) => {
                    map.insert(key, value);
                }
                _ => whole = false,
            }
        }
        whole.then_some(map)
    }
}

impl Reading<'_> {
    /// Reads a key of a map, which is a text of its kind.
    pub fn map_key<K: Written>(&mut self, written: &Spanned<String>) -> Option<K> {
        match K::of(&written.value) {
            Ok(key) => Some(key),
            // A key that is no text has been complained of, and stands under a mark.
            Err(_) if written.value.starts_with('?') => None,
            Err(refused) => {
                self.findings.push(refused.at(written.span));
                None
            }
        }
    }
}

macro_rules! numbers {
    ($($type:ty = $takes:ident, $read:ident;)+) => {
        $(impl Shape for $type {
            const TAKES: Takes = Takes::$takes;

            fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<$type> {
                reading.$read(node, spot.key).map(|one| one.value)
            }
        })+
    };
}

numbers! {
    Money = Amount, money;
    Rate = Percentage, rate;
    Quantity = Quantity, quantity;
    u16 = Count, count;
}

impl Written for String {
    fn of(text: &str) -> Result<String, Refused> {
        Ok(text.to_string())
    }
}

/// A small number, such as that of a row.
impl Shape for u8 {
    const TAKES: Takes = Takes::Count;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<u8> {
        let number = reading.count(node, spot.key)?;
        let small = u8::try_from(number.value).ok();
        if small.is_none() {
            let message = format!("`{}` takes no number above 255", spot.key);
            reading
                .findings
                .push(Finding::error("count-form", message).at(number.span).help("write a smaller one"));
        }
        small
    }
}

/// Data files say `yes` and `no`, which people read as what they are.
impl Written for bool {
    const WRITTEN: Takes = Takes::YesNo;

    fn of(text: &str) -> Result<bool, Refused> {
        match text {
            "yes" => Ok(true),
            "no" => Ok(false),
            _ => Err(Refused::new(format!("`{text}` is neither yes nor no"), "write yes or no")),
        }
    }
}

/// Declares records of data files, as [`record!`](super::record) does those of a household: each key once, with what it takes, an example and its meaning. `must` stands before a key without
/// which the record is refused, `may` before one that has a default; a key that is no name in Rust follows its field's.
macro_rules! records {
    ($(
        $(#[$meta:meta])*
        $vis:vis struct $name:ident, $called:literal {
            $(
                $(#[$of:meta])*
                $how:ident $field:ident $($key:literal)?: $type:ty, $example:literal, $meaning:literal;
            )*
        }
    )+) => {
        $(
            $(#[$meta])*
            $vis struct $name {
                $($(#[$of])* pub $field: $type,)*
            }

            impl $crate::record::shape::Keyed for $name {
                const BLOCK: &'static $crate::record::rule::Block = &$crate::record::rule::Block {
                    name: $called,
                    keys: &[$(
                        $crate::record::rule::KeyRule::$how(
                            $crate::record::shape::key!($field $($key)?),
                            <$type as $crate::record::shape::Shape>::TAKES,
                            $example,
                            $meaning,
                        ),
                    )*],
                    besides: None,
                };

                fn of(
                    fields: &$crate::record::Fields<'_>,
                    reading: &mut $crate::record::Reading<'_>,
                ) -> Option<$name> {
                    $(let $field = fields.$how(reading, $crate::record::shape::key!($field $($key)?));)*
                    Some($name { $($field: $field?,)* })
                }
            }

            impl $crate::record::shape::Shape for $name {
                const TAKES: $crate::record::rule::Takes =
                    $crate::record::rule::Takes::Block(<$name as $crate::record::shape::Keyed>::BLOCK);

                fn read(
                    reading: &mut $crate::record::Reading<'_>,
                    node: &$crate::record::tree::Node,
                    spot: &$crate::record::shape::Spot<'_>,
                ) -> Option<$name> {
                    let block = <$name as $crate::record::shape::Keyed>::BLOCK;
                    let fields = reading.fields(node, spot.head, block, spot.path())?;
                    <$name as $crate::record::shape::Keyed>::of(&fields, reading)
                }
            }
        )+
    };
}

/// The text of a key: its own, or the name of its field.
macro_rules! key {
    ($field:ident) => {
        stringify!($field)
    };
    ($field:ident $key:literal) => {
        $key
    };
}

pub(crate) use {key, records};
