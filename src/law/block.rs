//! What a block of one year's law says by itself, and what it says by naming another year.
//!
//! A block is a map such as `costs:`. Beside its own entries it may say `as_in: 2023`: all entries of that year's
//! block stand here too, save those under `except: [..]` and those written here. With `inferred: yes` they stand here
//! because nothing speaks against it, not because a text of this year was read: what rests on a text there rests on
//! inference here. A single entry may be written `{as_in: 2023}` likewise. Knows nothing of what the entries mean.

use crate::case::TaxYear;
use crate::finding::Finding;
use crate::record::Reading;
use crate::record::rule::Takes;
use crate::record::shape::{Shape, Spot, Written};
use crate::record::tree::{Node, Value};
use std::collections::BTreeMap;

/// The key that names another year.
pub(super) const AS_IN: &str = "as_in";
/// The key that names what is not taken over from that year.
pub(super) const EXCEPT: &str = "except";
/// The key that says that what is taken over is only inferred to hold in this year.
const INFERRED: &str = "inferred";

/// One block as written.
#[derive(Debug)]
pub(super) struct Block<K, V> {
    /// The year whose entries stand here too.
    pub as_in: Option<TaxYear>,
    /// Those that do not.
    pub except: Vec<K>,
    /// Whether they are only inferred to hold in this year.
    pub inferred: Option<bool>,
    /// The block's own entries.
    pub own: BTreeMap<K, Entry<V>>,
}

/// One entry as written.
#[derive(Debug)]
pub(super) enum Entry<V> {
    /// It stands here.
    Own(V),
    /// It stands in another year's file under the same key.
    AsIn(TaxYear),
}

impl<K, V> Default for Block<K, V> {
    fn default() -> Block<K, V> {
        Block { as_in: None, except: Vec::new(), inferred: None, own: BTreeMap::new() }
    }
}

impl<K: Ord, V> Block<K, V> {
    /// Returns the entries that stand here themselves.
    pub fn written(&self) -> impl Iterator<Item = (&K, &V)> {
        self.own.iter().filter_map(|(key, entry)| match entry {
            Entry::Own(value) => Some((key, value)),
            Entry::AsIn(_) => None,
        })
    }

    /// Returns every year that the block names.
    pub fn years(&self) -> impl Iterator<Item = TaxYear> {
        let entries = self.own.values().filter_map(|entry| match entry {
            Entry::AsIn(year) => Some(*year),
            Entry::Own(_) => None,
        });
        self.as_in.into_iter().chain(entries)
    }
}

impl<K: Written + Ord, V: Shape> Shape for Block<K, V> {
    const TAKES: Takes = Takes::Map(&V::TAKES);

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Block<K, V>> {
        let mut block = Block::default();
        let mut whole = true;
        let entries = reading.entries(node, spot.head, &|| spot.path())?;
        for entry in entries {
            let spot = &spot.below(entry);
            let value = &entry.value;
            let read = match spot.key {
                AS_IN => TaxYear::read(reading, value, spot).map(|year| block.as_in = Some(year)),
                EXCEPT => Vec::read(reading, value, spot).map(|keys| block.except = keys),
                INFERRED => bool::read(reading, value, spot).map(|said| block.inferred = Some(said)),
                _ => match (reading.map_key(&entry.key), Entry::read(reading, value, spot)) {
                    (Some(key), Some(value)) => {
                        block.own.insert(key, value);
                        Some(())
                    }
                    _ => None,
                },
            };
            whole &= read.is_some();
        }
        let alone = |key: &str| matches!(key, EXCEPT | INFERRED);
        if node.get(AS_IN).is_none()
            && let Some(entry) = entries.iter().find(|one| alone(&one.key.value))
        {
            reading.findings.push(
                Finding::error("text-form", "`except` and `inferred` say nothing without `as_in`")
                    .at(entry.key.span)
                    .help("name the year that the block takes over, as in `as_in: 2023`, or delete the key"),
            );
            whole = false;
        }
        whole.then_some(block)
    }
}

impl<V: Shape> Shape for Entry<V> {
    const TAKES: Takes = V::TAKES;

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Entry<V>> {
        let entries = match &node.value {
            Value::Map { entries, .. } => entries.as_slice(),
            _ => &[],
        };
        let Some(year) = entries.iter().find(|one| one.key.value == AS_IN) else {
            return V::read(reading, node, spot).map(Entry::Own);
        };
        if let Some(beside) = entries.iter().find(|one| one.key.value != AS_IN) {
            let message = format!("`{}` cannot stand beside `as_in`", beside.key.value);
            reading.findings.push(
                Finding::error("text-form", message)
                    .at(beside.key.span)
                    .help("an entry is taken over whole or written out whole"),
            );
            return None;
        }
        TaxYear::read(reading, &year.value, &spot.below(year)).map(Entry::AsIn)
    }
}
