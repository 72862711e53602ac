//! Strict reading of JSON that anybody may have written, and its writing for other programs.
//!
//! Comes in: bytes, and how many values there may be. Goes out: the same as data, or why it cannot be used. What two
//! readers could take differently, a key that stands twice, is refused; so is more than there is room for, before the
//! room is taken. What is written is a text in which nothing stands that nobody sees. Knows nothing of what the values
//! mean.

use crate::characters::told_by_number;
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};
use std::borrow::Cow;
use std::cell::Cell;
use std::fmt;

/// Reads a whole text. `most` is how many values it may have, keys counted with their values; deeper than 128 lists and
/// objects inside each other is never read.
///
/// Fails where it is no JSON, or says something twice, or holds more than that.
pub fn read(bytes: &[u8], most: usize) -> Result<Value, Unusable> {
    let left = Cell::new(most);
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = OneValue(&left).deserialize(&mut reader).and_then(|value| reader.end().map(|()| value));
    read.map_err(|error| match error.classify() {
        serde_json::error::Category::Data => {
            let message = error.to_string();
            let reason = message.rsplit_once(" at line ").map_or(message.as_str(), |(reason, _)| reason);
            Unusable::Data { reason: reason.to_string(), line: error.line() }
        }
        _ => Unusable::NoJson,
    })
}

/// Why a text cannot be used, in words that continue "the file".
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// It is no JSON.
    NoJson,
    /// A key stands twice, or there is more than there may be.
    Data {
        /// What is wrong.
        reason: String,
        /// On which line, counted from one.
        line: usize,
    },
}

impl fmt::Display for Unusable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unusable::NoJson => f.write_str("is no JSON"),
            Unusable::Data { reason, line } => write!(f, "cannot be used: {reason}, line {line}"),
        }
    }
}

impl std::error::Error for Unusable {}

/// Writes data with its keys and values one below the other.
pub fn written(value: &Value) -> String {
    escaped(&format!("{value:#}\n")).into_owned()
}

/// Writes a finished text of JSON with every character that nobody sees as `\u` and four digits. Such a character can
/// stand in strings alone, and there the two mean the same.
pub fn escaped(text: &str) -> Cow<'_, str> {
    told_by_number(text, |c, out| {
        for unit in c.encode_utf16(&mut [0; 2]) {
            out.push_str(&format!("\\u{unit:04x}"));
        }
    })
}

/// Returns how many values some data has, counted as [`read`] counts them.
pub fn count(value: &Value) -> usize {
    match value {
        Value::Array(values) => 1 + values.iter().map(count).sum::<usize>(),
        Value::Object(values) => 1 + values.values().map(count).sum::<usize>(),
        _ => 1,
    }
}

/// One value of a text, with how many there may still be.
#[derive(Clone, Copy)]
struct OneValue<'a>(&'a Cell<usize>);

impl<'de> DeserializeSeed<'de> for OneValue<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        match self.0.get().checked_sub(1) {
            Some(left) => self.0.set(left),
            None => return Err(D::Error::custom("it has more values than there is a use for")),
        }
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for OneValue<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Ok(Number::from_f64(value).map_or(Value::Null, Value::Number))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_string()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut values = Vec::new();
        while let Some(value) = list.next_element_seed(self)? {
            values.push(value);
        }
        Ok(Value::Array(values))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut values = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            let value = map.next_value_seed(self)?;
            if values.contains_key(&key) {
                return Err(A::Error::custom(format!("`{}` stands twice", key.escape_debug())));
            }
            values.insert(key, value);
        }
        Ok(Value::Object(values))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_is_what_stands_there() {
        let text = r#"{"a": [1, -2, 3.5, "\u00e9", null, true], "b": {"c": {}}}"#;
        assert_eq!(count(&serde_json::from_str(text).unwrap()), 10);
        assert_eq!(read(text.as_bytes(), 10), Ok(serde_json::from_str(text).unwrap()));
        assert!(read(text.as_bytes(), 9).unwrap_err().to_string().contains("more values"), "one too many");
    }

    #[test]
    fn what_two_readers_could_take_differently_is_refused() {
        let told = read(b"{\"value\": 1,\n\"value\": 2}", 9).unwrap_err();
        assert_eq!(told.to_string(), "cannot be used: `value` stands twice, line 2");
        for bad in ["", "{", "[1] 2", "{\"a\" 1}", "\u{feff}[]"] {
            assert_eq!(read(bad.as_bytes(), 9), Err(Unusable::NoJson), "{bad}");
        }
        // Deeper than any of ours.
        assert!(read("[".repeat(100_000).as_bytes(), 200_000).is_err());
    }
}
