//! Data for other programs, each key declared once.
//!
//! Comes in: a declaration ([`contract!`](crate::contract::contract)) whose lines name a key, its type and, as the doc
//! comment, its meaning. Goes out: the struct, the JSON made of it, and the JSON Schema (draft 2020-12) that describes
//! it. Two writings of one contract drift apart in what no test happens to produce; one cannot. Knows no contract.

use crate::money::Money;
use jiff::civil::Date;
use serde_json::{Map, Value as Json, json};

/// A type that other programs read.
pub trait Contract: Sized {
    /// Describes it; groups with a name join the `$defs` of the whole.
    fn schema(groups: &mut Groups) -> Json;

    /// Makes it.
    fn json(self) -> Json;

    /// Its key may be left out.
    const OPTIONAL: bool = false;

    /// Makes it behind a key of a group.
    fn put(self, key: &str, group: &mut Map<String, Json>) {
        group.insert(key.to_string(), self.json());
    }
}

/// The named groups of a schema, in the order in which they are met.
#[derive(Default)]
pub struct Groups(Vec<(&'static str, Json)>);

impl Groups {
    /// Refers to a group, which is described where it is met first. Its place is taken before, because a group may
    /// lead to itself.
    pub fn refer(&mut self, name: &'static str, described: impl Fn(&mut Groups) -> Json) -> Json {
        if self.0.iter().all(|(known, _)| *known != name) {
            let at = self.0.len();
            self.0.push((name, Json::Null));
            self.0[at].1 = described(self);
        }
        json!({"$ref": format!("#/$defs/{name}")})
    }
}

/// Writes the schema of a whole document.
pub fn whole<T: Contract>(title: &str) -> Json {
    let mut groups = Groups::default();
    let mut schema = json!({"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title});
    merge(&mut schema, T::schema(&mut groups));
    schema["$defs"] = groups.0.into_iter().map(|(name, group)| (name.to_string(), group)).collect();
    schema
}

/// Adds a meaning to a schema, in front of what the schema says of itself.
pub fn described(meaning: &str, mut schema: Json) -> Json {
    if !meaning.is_empty() {
        let own = schema.get("description").and_then(Json::as_str).map(|own| format!(" {own}"));
        schema["description"] = json!(format!("{meaning}{}", own.unwrap_or_default()));
    }
    schema
}

/// Adds the keys of one schema to another.
pub fn merge(schema: &mut Json, more: Json) {
    if let (Json::Object(schema), Json::Object(more)) = (schema, more) {
        schema.extend(more);
    }
}

/// Writes a choice of words.
pub fn words<'w>(words: impl IntoIterator<Item = &'w str>) -> Json {
    json!({"enum": words.into_iter().collect::<Vec<_>>()})
}

/// A key that may be left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Maybe<T>(pub Option<T>);

impl<T: Contract> Contract for Maybe<T> {
    const OPTIONAL: bool = true;
    fn schema(groups: &mut Groups) -> Json {
        T::schema(groups)
    }
    fn json(self) -> Json {
        self.0.map_or(Json::Null, Contract::json)
    }
    fn put(self, key: &str, group: &mut Map<String, Json>) {
        if let Some(value) = self.0 {
            value.put(key, group);
        }
    }
}

impl<T: Contract> Contract for Option<T> {
    fn schema(groups: &mut Groups) -> Json {
        let mut one = T::schema(groups);
        match one.get_mut("type") {
            Some(kind) => *kind = json!([kind.take(), "null"]),
            None => one = json!({"anyOf": [one, {"type": "null"}]}),
        }
        one
    }
    fn json(self) -> Json {
        self.map_or(Json::Null, Contract::json)
    }
}

impl<T: Contract> Contract for Vec<T> {
    fn schema(groups: &mut Groups) -> Json {
        json!({"type": "array", "items": T::schema(groups)})
    }
    fn json(self) -> Json {
        self.into_iter().map(Contract::json).collect()
    }
}

/// Two of a kind, in their order.
impl<T: Contract> Contract for Box<[T; 2]> {
    fn schema(groups: &mut Groups) -> Json {
        json!({"type": "array", "items": T::schema(groups), "minItems": 2, "maxItems": 2})
    }
    fn json(self) -> Json {
        Json::Array((*self).map(Contract::json).into())
    }
}

impl<T: Contract> Contract for Box<T> {
    fn schema(groups: &mut Groups) -> Json {
        T::schema(groups)
    }
    fn json(self) -> Json {
        (*self).json()
    }
}

/// Declares how single values are described and written.
macro_rules! values {
    ($($type:ty: $one:ident => $json:expr, $schema:tt;)+) => {
        $(impl $crate::contract::Contract for $type {
            fn schema(_groups: &mut $crate::contract::Groups) -> serde_json::Value {
                serde_json::json!($schema)
            }
            fn json(self) -> serde_json::Value {
                let $one = self;
                serde_json::Value::from($json)
            }
        })+
    };
}

/// The number of a contract's format.
#[derive(Clone, Debug, PartialEq)]
pub struct FormatOne;

values! {
    FormatOne: _one => 1, {"const": 1};
    bool: one => one, {"type": "boolean"};
    usize: one => one, {"type": "integer", "minimum": 0};
    String: one => one, {"type": "string"};
    &'static str: one => one, {"type": "string"};
    Date: one => one.to_string(), {"type": "string", "format": "date"};
    Money: one => one.plain(), {"type": "string", "pattern": r"^-?[0-9]+\.[0-9]{2}$"};
}

/// A choice that is written as a word.
pub trait Choice {
    /// Returns the word.
    fn word(&self) -> &'static str;
}

/// Declares the words of a choice: of each way it can turn out, the word that says it.
macro_rules! choice {
    ($type:ty { $($which:pat => $word:literal,)+ }) => {
        impl $crate::contract::Choice for $type {
            fn word(&self) -> &'static str {
                match self { $($which => $word,)+ }
            }
        }

        impl $crate::contract::Contract for $type {
            fn schema(_groups: &mut $crate::contract::Groups) -> serde_json::Value {
                $crate::contract::words([$($word),+])
            }
            fn json(self) -> serde_json::Value {
                serde_json::Value::from($crate::contract::Choice::word(&self))
            }
        }
    };
}

/// Declares a group of keys, or a choice of groups that each name themselves by their one key.
///
/// ```text
/// contract! {
///     /// The balance carried into a year.
///     pub struct Carried "balance" of (one: &Balance) {
///         into: TaxYear = one.year;
///         amount: Money = one.amount;
///         /// It comes from a return that is not filed yet.
///         expected: bool = one.expected;
///     }
/// }
/// ```
///
/// A line is a key, its type, and the value it takes from what `of` is given; its doc comment is its meaning in the
/// schema. A key that is no name in Rust is given by `as`. A group with a name is described once, under that name; one
/// without is described where it is used. `besides` adds to its schema what its keys one by one do not say.
macro_rules! contract {
    (
        $(#[doc = $about:literal])*
        $vis:vis struct $group:ident $($name:literal)? of ($($given:ident: $type_given:ty),+) $(besides $besides:ident)? {
            $($(#[doc = $meaning:literal])* $field:ident $(as $key:literal)?: $type:ty = $value:expr;)+
        }
    ) => {
        $(#[doc = $about])*
        #[derive(Clone, Debug, PartialEq)]
        $vis struct $group {
            $($(#[doc = $meaning])* $field: $type,)+
        }

        impl $group {
            $vis fn of($($given: $type_given),+) -> $group {
                $group { $($field: $value,)+ }
            }
        }

        impl $crate::contract::Contract for $group {
            fn schema(groups: &mut $crate::contract::Groups) -> serde_json::Value {
                let describe = |groups: &mut $crate::contract::Groups| {
                    let mut keys = serde_json::Map::new();
                    let mut required: Vec<&str> = Vec::new();
                    $(
                        let key = $crate::contract::contract!(@key $field $($key)?);
                        let meaning = concat!($($meaning),*).trim_ascii();
                        let one = <$type as $crate::contract::Contract>::schema(groups);
                        keys.insert(key.to_string(), $crate::contract::described(meaning, one));
                        if !<$type as $crate::contract::Contract>::OPTIONAL {
                            required.push(key);
                        }
                    )+
                    #[allow(unused_mut)]
                    let mut group = serde_json::json!({
                        "type": "object", "properties": keys, "required": required, "additionalProperties": false,
                    });
                    $($crate::contract::merge(&mut group, $besides());)?
                    $crate::contract::described(concat!($($about),*).trim_ascii(), group)
                };
                $crate::contract::contract!(@group groups, describe $(, $name)?)
            }

            fn json(self) -> serde_json::Value {
                let mut group = serde_json::Map::new();
                $($crate::contract::Contract::put(
                    self.$field,
                    $crate::contract::contract!(@key $field $($key)?),
                    &mut group,
                );)+
                serde_json::Value::Object(group)
            }
        }
    };
    (
        $(#[doc = $about:literal])*
        $vis:vis enum $group:ident $name:literal {
            $($(#[doc = $meaning:literal])* $which:ident $key:literal: $type:ty;)+
        }
    ) => {
        $(#[doc = $about])*
        #[derive(Clone, Debug, PartialEq)]
        $vis enum $group {
            $($(#[doc = $meaning])* $which($type),)+
        }

        impl $crate::contract::Contract for $group {
            fn schema(groups: &mut $crate::contract::Groups) -> serde_json::Value {
                groups.refer($name, |groups| {
                    let ways = [$({
                        let one = <$type as $crate::contract::Contract>::schema(groups);
                        $crate::contract::described(concat!($($meaning),*).trim_ascii(), $crate::contract::only($key, one))
                    },)+];
                    $crate::contract::described(concat!($($about),*).trim_ascii(), serde_json::json!({"title": stringify!($group), "oneOf": ways}))
                })
            }

            fn json(self) -> serde_json::Value {
                let mut group = serde_json::Map::new();
                match self {
                    $($group::$which(one) => $crate::contract::Contract::put(one, $key, &mut group),)+
                }
                serde_json::Value::Object(group)
            }
        }
    };
    (@key $field:ident) => { stringify!($field) };
    (@key $field:ident $key:literal) => { $key };
    (@group $groups:ident, $describe:ident) => { $describe($groups) };
    (@group $groups:ident, $describe:ident, $name:literal) => { $groups.refer($name, $describe) };
}

/// Describes a group of the one key.
pub fn only(key: &str, schema: Json) -> Json {
    json!({"type": "object", "properties": {key: schema}, "required": [key], "additionalProperties": false})
}

pub(crate) use {choice, contract, values};
