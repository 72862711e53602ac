//! Groups of keys as tables: what each key takes and means.
//!
//! Nothing comes in. The reader takes from here which keys there are and which are required; schema, reference and
//! whatever writes such files are made from the same rows. Knows shapes, no values.

use serde_json::Value as Json;
use std::fmt;
use std::ops::RangeInclusive;

/// A group of keys that belong together.
#[derive(Debug)]
pub struct Block {
    /// Its name in documentation.
    pub name: &'static str,
    /// Its keys, in the order people should write them.
    pub keys: &'static [KeyRule],
    /// What its schema says beyond the keys one by one, where they depend on each other.
    pub besides: Option<fn() -> Json>,
}

/// One key of a block.
#[derive(Debug)]
pub struct KeyRule {
    /// The key.
    pub key: &'static str,
    /// A file without it is refused.
    pub required: bool,
    /// What is written behind it.
    pub takes: Takes,
    /// An example of that.
    pub example: &'static str,
    /// What it means.
    pub meaning: &'static str,
}

/// What may be written behind a key.
#[derive(Clone, Debug)]
pub enum Takes {
    /// The number 1.
    FormatNumber,
    /// Text on one line.
    Line,
    /// Text, several lines allowed.
    Text,
    /// An amount of dollars.
    Amount,
    /// A percentage with its sign.
    Percentage,
    /// A plain number.
    Quantity,
    /// A whole number from one.
    Count,
    /// A date.
    Date,
    /// `true` or `false`; `yes` and `no` are understood.
    YesNo,
    /// One of the words.
    Word(fn() -> Vec<&'static str>),
    /// The key of an entry in the named section.
    Reference(&'static str),
    /// One of what is named, or a list of it.
    OneOrList(&'static Takes),
    /// A list.
    List(&'static Takes),
    /// Keys of the block.
    Block(&'static Block),
    /// Entries under keys of the writer's own choosing.
    Named(&'static Block),
    /// Entries under keys of one kind.
    Map(&'static Takes),
    /// Entries under years of the range.
    ByYear(&'static Block, fn() -> RangeInclusive<i16>),
    /// A form of its own.
    Own(&'static Own),
}

/// A form that none of the others has, for what may be written in several ways.
pub struct Own {
    /// What may be written, in few words for a table.
    pub in_words: fn() -> String,
    /// The words to choose from, where it may be one.
    pub words: fn() -> Vec<&'static str>,
    /// The groups of keys that it leads to.
    pub blocks: &'static [&'static Block],
    /// Its schema.
    pub schema: fn(&mut Groups) -> Json,
}

/// The groups of keys that a schema leads to, in the order in which they are met.
#[derive(Default)]
pub struct Groups {
    pub(super) met: Vec<&'static Block>,
}

impl fmt::Debug for Own {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&(self.in_words)())
    }
}

impl Block {
    /// Finds the rule of a key.
    pub fn rule(&self, key: &str) -> Option<&'static KeyRule> {
        self.keys.iter().find(|one| one.key == key)
    }
}

impl KeyRule {
    /// A key without which a file is refused.
    pub const fn must(
        key: &'static str,
        takes: Takes,
        example: &'static str,
        meaning: &'static str,
    ) -> KeyRule {
        KeyRule { key, required: true, takes, example, meaning }
    }

    /// A key that may be left out.
    pub const fn may(
        key: &'static str,
        takes: Takes,
        example: &'static str,
        meaning: &'static str,
    ) -> KeyRule {
        KeyRule { key, required: false, takes, example, meaning }
    }
}

impl Takes {
    /// Returns the words to choose from, where one of some words may be written.
    pub fn words(&self) -> Vec<&'static str> {
        match self {
            Takes::Word(words) => words(),
            Takes::Own(own) => (own.words)(),
            _ => Vec::new(),
        }
    }
}
