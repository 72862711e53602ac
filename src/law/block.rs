//! What a block of one year's law says by itself, and what it says by naming another year.
//!
//! A block is a map such as `costs:`. Beside its own entries it may say `as_in: 2023`: all entries of that year's
//! block stand here too, save those under `except: [..]` and those written here. With `inferred: yes` they stand here
//! because nothing speaks against it, not because a text of this year was read: what rests on a text there rests on
//! inference here. A single entry may be written `{as_in: 2023}` likewise. Knows nothing of what the entries mean.

use crate::case::TaxYear;
use crate::written::{Text, Written};
use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer, StringDeserializer};
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, de};
use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

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

impl<'de, K: Written + Ord, V: Deserialize<'de>> Deserialize<'de> for Block<K, V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Block<K, V>, D::Error> {
        struct Entries<K, V>(PhantomData<(K, V)>);
        impl<'de, K: Written + Ord, V: Deserialize<'de>> Visitor<'de> for Entries<K, V> {
            type Value = Block<K, V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Block<K, V>, A::Error> {
                let mut block = Block::default();
                while let Some(key) = map.next_key_seed(NewKey(&block))? {
                    match key {
                        BlockKey::AsIn => block.as_in = Some(map.next_value::<Text<TaxYear>>()?.0),
                        BlockKey::Except => {
                            block.except =
                                map.next_value::<Vec<Text<K>>>()?.into_iter().map(|one| one.0).collect();
                        }
                        BlockKey::Inferred => block.inferred = Some(map.next_value::<Text<bool>>()?.0),
                        BlockKey::Own(key) => {
                            block.own.insert(key, map.next_value()?);
                        }
                    }
                }
                if block.as_in.is_none() && (!block.except.is_empty() || block.inferred.is_some()) {
                    return Err(A::Error::custom("`except` and `inferred` say nothing without `as_in`"));
                }
                Ok(block)
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

/// A key of a block.
enum BlockKey<K> {
    AsIn,
    Except,
    Inferred,
    Own(K),
}

/// Reads a key while it can still see the keys before it, so that the complaint about a second one carries its line.
struct NewKey<'a, K, V>(&'a Block<K, V>);

impl<'de, K: Written + Ord, V> DeserializeSeed<'de> for NewKey<'_, K, V> {
    type Value = BlockKey<K>;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<BlockKey<K>, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl<K: Written + Ord, V> Visitor<'_> for NewKey<'_, K, V> {
    type Value = BlockKey<K>;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }
    fn visit_str<E: Error>(self, text: &str) -> Result<BlockKey<K>, E> {
        let twice = || Err(E::custom(format!("`{text}` stands twice")));
        match text {
            AS_IN if self.0.as_in.is_some() => twice(),
            AS_IN => Ok(BlockKey::AsIn),
            EXCEPT if !self.0.except.is_empty() => twice(),
            EXCEPT => Ok(BlockKey::Except),
            INFERRED if self.0.inferred.is_some() => twice(),
            INFERRED => Ok(BlockKey::Inferred),
            _ => {
                let key = K::from_text(text).map_err(|reason| E::custom(format!("`{text}`: {reason}")))?;
                if self.0.own.contains_key(&key) { twice() } else { Ok(BlockKey::Own(key)) }
            }
        }
    }
}

impl<'de, V: Deserialize<'de>> Deserialize<'de> for Entry<V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Entry<V>, D::Error> {
        struct OneEntry<V>(PhantomData<V>);
        impl<'de, V: Deserialize<'de>> Visitor<'de> for OneEntry<V> {
            type Value = Entry<V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an entry, or the year in whose file it stands: `{as_in: 2023}`")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Entry<V>, A::Error> {
                let first: Option<String> = map.next_key()?;
                if first.as_deref() != Some(AS_IN) {
                    let again = Again { first, map };
                    return V::deserialize(MapAccessDeserializer::new(again)).map(Entry::Own);
                }
                let year = map.next_value::<Text<TaxYear>>()?.0;
                match map.next_key::<String>()? {
                    Some(key) => Err(A::Error::custom(format!(
                        "`{key}` cannot stand beside `as_in`: an entry is taken over whole or written out whole"
                    ))),
                    None => Ok(Entry::AsIn(year)),
                }
            }
            fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<Entry<V>, A::Error> {
                V::deserialize(SeqAccessDeserializer::new(list)).map(Entry::Own)
            }
        }
        deserializer.deserialize_any(OneEntry(PhantomData))
    }
}

/// A map whose first key has been looked at and is given again.
struct Again<A> {
    first: Option<String>,
    map: A,
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for Again<A> {
    type Error = A::Error;
    fn next_key_seed<S: de::DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, A::Error> {
        match self.first.take() {
            Some(key) => seed.deserialize(StringDeserializer::new(key)).map(Some),
            None => self.map.next_key_seed(seed),
        }
    }
    fn next_value_seed<S: de::DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, A::Error> {
        self.map.next_value_seed(seed)
    }
}
