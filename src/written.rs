//! Strict reading of the data files that people keep by hand: law, official line maps.
//!
//! Comes in: the text of such a file and the shape it must have. Goes out: typed values, or complaints that
//! begin with file, line and column. Every leaf is read from its text, so an amount never passes through a
//! binary float; a key written twice is refused. Knows nothing of what the values mean.

use crate::money::{Money, Quantity, Rate};
use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, Error, MapAccess, Visitor};
use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

/// How many opening brackets and braces a data file may have. The reader's work grows with the square of how deep they
/// lie in each other, whatever closes them; the files of the program have some hundreds, and none within another twice.
const MOST_BRACKETS: usize = 4_000;
/// How many references to other parts of the file it may have: each repeats what it refers to. Ours have none.
const MOST_REFERENCES: usize = 20;
/// How many bytes a data file may have; the longest of ours has 50,000.
const MOST_BYTES: usize = 1_000_000;

/// Finds the byte from which on a data file is more than is read, and says why. Looks at signs only and takes time by
/// the length of the text alone, so that it can stand before any reading.
pub(crate) fn beyond_reading(text: &str) -> Option<(usize, &'static str)> {
    if text.len() > MOST_BYTES {
        return Some((0, "the file is longer than any of its kind"));
    }
    let (mut brackets, mut references, mut before) = (0, 0, b'\n');
    for (at, byte) in text.bytes().enumerate() {
        match byte {
            b'[' | b'{' => brackets += 1,
            b'*' if before.is_ascii_whitespace() || b"[{,:-?".contains(&before) => {
                let named = text.as_bytes().get(at + 1).is_some_and(|next| !next.is_ascii_whitespace());
                references += usize::from(named);
            }
            _ => {}
        }
        if brackets > MOST_BRACKETS {
            return Some((at, "there are more brackets and braces than in any file of its kind"));
        }
        if references > MOST_REFERENCES {
            return Some((at, "parts of the file are repeated by reference; write them out"));
        }
        before = byte;
    }
    None
}

/// Reads a whole file into a shape, or says where it departs from it.
pub(crate) fn read<T: DeserializeOwned>(name: &str, text: &str) -> Result<T, String> {
    if let Some((at, why)) = beyond_reading(text) {
        let line_start = text[..at].rfind('\n').map_or(0, |n| n + 1);
        let line = 1 + text[..at].bytes().filter(|byte| *byte == b'\n').count();
        return Err(format!("{name}:{line}:{}: {why}", 1 + text[line_start..at].chars().count()));
    }
    serde_yaml::from_str(text).map_err(|error| {
        let message = error.to_string();
        match error.location() {
            Some(place) => {
                let reason = message.rsplit_once(" at line ").map_or(message.as_str(), |(reason, _)| reason);
                format!("{name}:{}:{}: {reason}", place.line(), place.column())
            }
            None => format!("{name}: {message}"),
        }
    })
}

/// Returns the first line, counted from one, where the last of some nested keys stands; the line of the
/// deepest key found where the rest is absent.
pub(crate) fn line_of_key(text: &str, keys: &[&str]) -> usize {
    let mut found = 1;
    let mut lines = text.lines().enumerate();
    for key in keys {
        let here = lines.by_ref().find(|(_, line)| {
            let rest = line.trim_start().trim_start_matches("- ").trim_start_matches('{').strip_prefix(key);
            rest.is_some_and(|rest| rest.starts_with(':'))
        });
        match here {
            Some((number, _)) => found = number + 1,
            None => break,
        }
    }
    found
}

/// Returns the lines, counted from one, that hold a word as a whole word outside comments.
pub(crate) fn lines_with_word(text: &str, word: &str) -> Vec<usize> {
    let holds = |line: &str| {
        let line = line.split(" #").next().unwrap_or("");
        line.split(|c: char| !(c.is_alphanumeric() || c == '_')).any(|part| part == word)
    };
    let numbered = text.lines().enumerate();
    numbered.filter(|(_, line)| holds(line)).map(|(number, _)| number + 1).collect()
}

/// Something that stands in a file as one text.
pub(crate) trait Written: Sized {
    /// Reads it, or says in words why it cannot be.
    fn from_text(text: &str) -> Result<Self, String>;
}

/// A leaf value of a file, read from its text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Text<T>(pub T);

impl<'de, T: Written> serde::Deserialize<'de> for Text<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Text<T>, D::Error> {
        deserializer.deserialize_str(Leaf(PhantomData)).map(Text)
    }
}

struct Leaf<T>(PhantomData<T>);

impl<T: Written> Visitor<'_> for Leaf<T> {
    type Value = T;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("one value written as text")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<T, E> {
        T::from_text(text).map_err(|reason| E::custom(format!("`{text}`: {reason}")))
    }
}

/// A map in which no key stands twice.
#[derive(Clone, Debug)]
pub(crate) struct Unique<K, V>(pub BTreeMap<K, V>);

impl<K, V> Default for Unique<K, V> {
    fn default() -> Unique<K, V> {
        Unique(BTreeMap::new())
    }
}

impl<'de, K: Written + Ord, V: serde::Deserialize<'de>> serde::Deserialize<'de> for Unique<K, V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Unique<K, V>, D::Error> {
        struct Entries<K, V>(PhantomData<(K, V)>);
        impl<'de, K: Written + Ord, V: serde::Deserialize<'de>> Visitor<'de> for Entries<K, V> {
            type Value = Unique<K, V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Unique<K, V>, A::Error> {
                let mut entries = BTreeMap::new();
                while let Some(key) = map.next_key_seed(NewKey(&entries))? {
                    let value = map.next_value()?;
                    entries.insert(key, value);
                }
                Ok(Unique(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

/// Reads a key while it can still see the keys before it, so that the complaint about a second one carries
/// that key's own line and not the map's.
struct NewKey<'a, K, V>(&'a BTreeMap<K, V>);

impl<'de, K: Written + Ord, V> DeserializeSeed<'de> for NewKey<'_, K, V> {
    type Value = K;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<K, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl<K: Written + Ord, V> Visitor<'_> for NewKey<'_, K, V> {
    type Value = K;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }
    fn visit_str<E: Error>(self, text: &str) -> Result<K, E> {
        let key = K::from_text(text).map_err(|reason| E::custom(format!("`{text}`: {reason}")))?;
        if self.0.contains_key(&key) {
            return Err(E::custom(format!("`{text}` stands twice")));
        }
        Ok(key)
    }
}

impl Written for String {
    fn from_text(text: &str) -> Result<String, String> {
        match text.trim() {
            "" | "~" | "null" => Err("a text is missing".to_string()),
            _ => Ok(text.trim().to_string()),
        }
    }
}

impl Written for bool {
    fn from_text(text: &str) -> Result<bool, String> {
        match text {
            "yes" => Ok(true),
            "no" => Ok(false),
            _ => Err("write yes or no".to_string()),
        }
    }
}

impl Written for u16 {
    fn from_text(text: &str) -> Result<u16, String> {
        let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        let number = if plain { text.parse().ok() } else { None };
        number.ok_or_else(|| "a whole number is expected".to_string())
    }
}

impl Written for u8 {
    fn from_text(text: &str) -> Result<u8, String> {
        let number = u16::from_text(text)?;
        number.try_into().map_err(|_| "the number is too large".to_string())
    }
}

impl Written for Money {
    fn from_text(text: &str) -> Result<Money, String> {
        Money::read(text).map_err(str::to_string)
    }
}

impl Written for Rate {
    fn from_text(text: &str) -> Result<Rate, String> {
        Rate::read(text).map_err(str::to_string)
    }
}

impl Written for Quantity {
    fn from_text(text: &str) -> Result<Quantity, String> {
        Quantity::read(text).map_err(str::to_string)
    }
}

/// Lets enums declared as words stand in the data files.
macro_rules! written_words {
    ($($name:ty),+ $(,)?) => {
        $(impl crate::written::Written for $name {
            fn from_text(text: &str) -> Result<Self, String> {
                <$name>::from_word(text).ok_or_else(|| {
                    let words: Vec<&str> = <$name>::ALL.iter().map(|one| one.word()).collect();
                    format!("not one of the known words: {}", words.join(", "))
                })
            }
        })+
    };
}

pub(crate) use written_words;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_key_is_refused_at_its_own_line() {
        let told =
            read::<Unique<String, Text<Money>>>("limits.yaml", "doors: $500\nwindows: $600\ndoors: $250\n");
        assert_eq!(told.unwrap_err(), "limits.yaml:3:1: `doors` stands twice");
    }

    #[test]
    fn amounts_come_from_their_text() {
        let read = |text| read::<Unique<String, Text<Money>>>("limits.yaml", text);
        assert_eq!(read("doors: $1,200\n").unwrap().0["doors"].0, Money::dollars(1200));
        assert!(
            read("doors: 5e2\n")
                .unwrap_err()
                .starts_with("limits.yaml:1:8: doors: `5e2`: not a plain amount")
        );
        assert!(read("doors: 0x1F4\n").unwrap_err().contains("not a plain amount"));
    }

    /// Brackets that nothing closes, closed ones within quotes, lists within lists without any bracket, and parts that
    /// repeat each other: each is refused, or read, before anybody looks at a clock.
    #[test]
    fn what_would_take_long_is_refused_before_it_is_read() {
        let told = |text: &str| read::<Unique<String, Text<String>>>("law.yaml", text).unwrap_err();
        let deep = told(&format!("a: {}", "[".repeat(60_000)));
        assert_eq!(deep, "law.yaml:1:4004: there are more brackets and braces than in any file of its kind");
        assert!(told(&format!("a: {}", "[ \"]\", ".repeat(60_000))).contains("more brackets"));
        assert!(told(&"- ".repeat(100_000)).starts_with("law.yaml:"));
        assert!(told(&"? ".repeat(100_000)).starts_with("law.yaml:"));
        let bomb = format!("a: &a [x, x]\nb: [{}]\n", "*a, ".repeat(50));
        assert!(told(&bomb).contains("by reference"), "{}", told(&bomb));
        assert!(told(&"a: x\n".repeat(250_000)).contains("longer than any"));
        // A star that stands for itself is none.
        assert!(
            read::<Unique<String, Text<String>>>("law.yaml", &format!("a: x{}", " * 3".repeat(40))).is_ok()
        );
    }

    #[test]
    fn keys_and_words_are_found_by_line() {
        let text = "costs:\n  permit:\n    - for: x\n  labor:\n    - for: y # permit\n";
        assert_eq!(line_of_key(text, &["costs", "labor"]), 4);
        assert_eq!(line_of_key(text, &["costs", "absent"]), 1);
        assert_eq!(lines_with_word(text, "permit"), [2]);
    }
}
