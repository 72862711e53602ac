//! Declaring a record once: its struct, its table of keys and its reader.
//!
//! Comes in: a declaration ([`record!`](crate::record::record)) whose lines each name a key, its type, an example and,
//! as the doc comment, its meaning. Goes out: the struct, its [`Block`], and the reader that follows from the types:
//! a type says as a [`Form`] both what may be written and how it is read. What a type cannot say is a form of its own,
//! in the file of its subject. Knows no record.

use super::fields::{Fields, Reading};
use super::leaf::Key;
use super::node::{Entry, Node, Value};
use super::rule::{Block, Takes};
use crate::finding::{Finding, Span, Spanned};
use crate::money::{Money, Quantity, Rate};
use jiff::civil::Date;
use std::marker::PhantomData;
use std::ops::RangeInclusive;

/// What may be written behind a key, and how it is read.
pub trait Form {
    /// What is read.
    type Value;
    /// What may be written, for tables of keys and schemas.
    const TAKES: Takes;
    /// A group without the key is refused.
    const REQUIRED: bool = true;

    /// Reads what is written; `None` after a finding that says why it cannot be.
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value>;

    /// Returns what is meant where nothing readable is written, if the record can be without.
    fn absent(_group: &Fields<'_>) -> Option<Self::Value> {
        None
    }
}

impl<'t> Fields<'t> {
    /// Reads a value of a form.
    pub fn read<F: Form>(&self, reading: &mut Reading<'t>, key: &'static str) -> Option<F::Value> {
        match self.get(reading, key) {
            Some(node) => F::read(&Slot { node, key, group: self, number: None }, reading),
            None => F::absent(self),
        }
    }
}

/// Where a value is written.
pub struct Slot<'t, 'g> {
    /// What is written.
    pub node: &'t Node,
    /// The key it is written behind.
    pub key: &'static str,
    /// The group of keys it belongs to.
    pub group: &'g Fields<'t>,
    /// Its number in a list, from one.
    pub number: Option<usize>,
}

impl<'t> Slot<'t, '_> {
    /// Returns its path, such as `property.roof-array.costs.2`.
    pub fn path(&self) -> String {
        let path = self.group.path(self.key);
        match self.number {
            Some(number) => format!("{path}.{number}"),
            None => path,
        }
    }

    /// Returns where to point when something is missing in it.
    pub fn head(&self) -> Span {
        match self.number {
            Some(_) => self.node.span,
            None => self.group.key_span(self.key).unwrap_or(self.group.head),
        }
    }

    /// Opens one of its entries as a group of keys.
    pub fn entry(
        &self,
        entry: &'t Entry,
        reading: &mut Reading<'t>,
        block: &'static Block,
    ) -> Option<Fields<'t>> {
        let place = format!("{}.{}", self.path(), entry.key.value);
        let mut group = reading.fields(&entry.value, entry.key.span, block, place)?;
        group.under = Some(&entry.key);
        Some(group)
    }

    /// Opens it as a group of keys.
    pub fn open(&self, reading: &mut Reading<'t>, block: &'static Block) -> Option<Fields<'t>> {
        reading.fields(self.node, self.head(), block, self.path())
    }

    /// Returns its entries as slots, where it is a list.
    pub fn list(&self, reading: &mut Reading<'t>) -> Vec<Slot<'t, '_>> {
        let items = reading.list(self.node, self.key).iter();
        items.enumerate().map(|(n, node)| Slot { node, number: Some(n + 1), ..*self }).collect()
    }

    /// Returns its entries, where it has keys of the writer's own choosing.
    pub fn entries(&self, reading: &mut Reading<'t>) -> impl Iterator<Item = &'t Entry> + use<'t> {
        let entries = reading.entries(self.node, self.head(), &|| self.path()).unwrap_or(&[]);
        entries.iter().filter(|one| !one.key.value.starts_with('?'))
    }
}

/// A value on its own, with the place it was read from.
pub trait Leaf: Sized {
    /// What may be written.
    const TAKES: Takes;
    /// Reads it.
    fn read(slot: &Slot<'_, '_>, reading: &mut Reading<'_>) -> Option<Spanned<Self>>;
}

macro_rules! leaves {
    ($($type:ty: $takes:ident, $read:ident;)+) => {
        $(impl Leaf for $type {
            const TAKES: Takes = Takes::$takes;
            fn read(slot: &Slot<'_, '_>, reading: &mut Reading<'_>) -> Option<Spanned<$type>> {
                reading.$read(slot.node, slot.key)
            }
        })+
    };
}

leaves! {
    String: Line, line;
    Rate: Percentage, rate;
    Quantity: Quantity, quantity;
    u16: Count, count;
    Date: Date, date;
    bool: YesNo, yes_no;
}

impl Leaf for Money {
    const TAKES: Takes = Takes::Amount;
    fn read(slot: &Slot<'_, '_>, reading: &mut Reading<'_>) -> Option<Spanned<Money>> {
        slot.group.amount(reading, slot.node, slot.key)
    }
}

impl<T: Leaf> Form for Spanned<T> {
    type Value = Spanned<T>;
    const TAKES: Takes = T::TAKES;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<T>> {
        T::read(slot, reading)
    }
}

impl Form for bool {
    type Value = bool;
    const TAKES: Takes = Takes::YesNo;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<bool> {
        reading.yes_no(slot.node, slot.key).map(|one| one.value)
    }
}

/// A text that may have several lines.
pub struct Text;

impl Form for Text {
    type Value = Spanned<String>;
    const TAKES: Takes = Takes::Text;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<String>> {
        reading.words(slot.node, slot.key)
    }
}

/// A key that may be left out.
impl<F: Form> Form for Option<F> {
    type Value = Option<F::Value>;
    const TAKES: Takes = F::TAKES;
    const REQUIRED: bool = false;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value> {
        Some(F::read(slot, reading))
    }
    fn absent(_group: &Fields<'_>) -> Option<Self::Value> {
        Some(None)
    }
}

/// A list that may be left out; what cannot be read in it is left out after its finding.
impl<F: Form> Form for Vec<F> {
    type Value = Vec<F::Value>;
    const TAKES: Takes = Takes::List(&F::TAKES);
    const REQUIRED: bool = false;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value> {
        Some(slot.list(reading).iter().filter_map(|one| F::read(one, reading)).collect())
    }
    fn absent(_group: &Fields<'_>) -> Option<Self::Value> {
        Some(Vec::new())
    }
}

/// A key that must not be left out, of a form that otherwise may.
pub struct Must<F>(PhantomData<F>);

impl<F: Form> Form for Must<F> {
    type Value = F::Value;
    const TAKES: Takes = F::TAKES;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value> {
        F::read(slot, reading)
    }
    fn absent(group: &Fields<'_>) -> Option<Self::Value> {
        F::absent(group)
    }
}

/// One value or a list of such values; all of them or none, so that their number is right.
pub struct OneOrList<F>(PhantomData<F>);

impl<F: Form> Form for OneOrList<F> {
    type Value = Vec<F::Value>;
    const TAKES: Takes = Takes::OneOrList(&F::TAKES);
    const REQUIRED: bool = false;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value> {
        let Value::List(all) = &slot.node.value else {
            return Some(F::read(slot, reading).into_iter().collect());
        };
        let read: Vec<_> = slot.list(reading).iter().filter_map(|one| F::read(one, reading)).collect();
        Some(if read.len() == all.len() { read } else { Vec::new() })
    }
    fn absent(_group: &Fields<'_>) -> Option<Self::Value> {
        Some(Vec::new())
    }
}

/// Something that is declared as a group of keys.
pub trait Record: Sized {
    /// Its keys.
    const BLOCK: &'static Block;
    /// Reads it from its keys; `None` where one that it cannot be without could not be read.
    fn read<'t>(group: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Self>;
}

/// A record whose entries are referred to by name.
pub trait Section {
    /// The section of the file in which they are.
    const NAME: &'static str;
}

/// The name of an entry of another section.
pub struct NameIn<S>(PhantomData<S>);

impl<S: Section> Form for NameIn<S> {
    type Value = Spanned<Key>;
    const TAKES: Takes = Takes::Reference(S::NAME);
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<Key>> {
        reading.reference(slot.node, slot.key, S::NAME)
    }
}

/// What a record has from where it is written and not from a key: its place, its name, its year.
pub trait Given {
    /// Takes it from the group of keys.
    fn given(group: &Fields<'_>) -> Self;
}

impl Given for Span {
    fn given(group: &Fields<'_>) -> Span {
        group.span
    }
}

impl Given for Spanned<Key> {
    fn given(group: &Fields<'_>) -> Spanned<Key> {
        Spanned::new(Key::new(group.under.map_or("", |under| &under.value)), group.head)
    }
}

/// Entries under names of the writer's own choosing, in the order of the file.
pub struct Named<R>(PhantomData<R>);

/// Entries under years, in the order of the years.
pub struct ByYear<R, Y>(PhantomData<(R, Y)>);

/// The years that entries may be under.
pub trait Years {
    /// Returns the first and the last of them.
    fn years() -> RangeInclusive<i16>;
}

impl<R: Record> Form for Named<R> {
    type Value = Vec<R>;
    const TAKES: Takes = Takes::Named(R::BLOCK);
    const REQUIRED: bool = false;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Vec<R>> {
        let mut found = Vec::new();
        for entry in slot.entries(reading) {
            reading.name(&entry.key);
            found.extend(slot.entry(entry, reading, R::BLOCK).and_then(|one| R::read(&one, reading)));
        }
        Some(found)
    }
    fn absent(_group: &Fields<'_>) -> Option<Vec<R>> {
        Some(Vec::new())
    }
}

impl<R: Record, Y: Years> Form for ByYear<R, Y> {
    type Value = Vec<R>;
    const TAKES: Takes = Takes::ByYear(R::BLOCK, Y::years);
    const REQUIRED: bool = false;
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Vec<R>> {
        let mut found: Vec<(i16, R)> = Vec::new();
        for (n, entry) in slot.entries(reading).enumerate() {
            // The keys of one entry where the years should be: the year was left out, and that is one mistake.
            if n == 0 && R::BLOCK.rule(&entry.key.value).is_some() {
                let message = format!("`{}` stands where the tax year is due", entry.key.value);
                let help = "write the year with a colon on a line of its own, such as `2024:`, and the keys below it, further in";
                reading.findings.push(Finding::error("tax-year", message).at(entry.key.span).help(help));
                break;
            }
            let year = reading.year(&entry.key, Y::years());
            // A year that cannot be read still has its entry read, so that all is reported at once.
            let one = slot.entry(entry, reading, R::BLOCK).and_then(|one| R::read(&one, reading));
            found.extend(year.map(|year| year.value).zip(one));
        }
        found.sort_by_key(|(year, _)| *year);
        Some(found.into_iter().map(|(_, one)| one).collect())
    }
    fn absent(_group: &Fields<'_>) -> Option<Vec<R>> {
        Some(Vec::new())
    }
}

/// Puts what is meant where nothing is written in the place of a value.
pub trait Unsaid<T> {
    /// Makes the value; `head` is where the group of keys begins.
    fn unsaid(value: T, head: Span) -> Self;
}

impl<T> Unsaid<T> for T {
    fn unsaid(value: T, _head: Span) -> T {
        value
    }
}

impl<T> Unsaid<T> for Spanned<T> {
    fn unsaid(value: T, head: Span) -> Spanned<T> {
        Spanned::new(value, head)
    }
}

/// Declares a record: the struct, its table of keys and its reader, all from the same lines.
///
/// ```text
/// record! {
///     /// One cost.
///     pub struct Cost: COST "cost" {
///         given span: Span;
///         /// what it was for, by nature
///         nature as "as": Spanned<CostNature>, "equipment";
///         /// why
///         because: Option<Spanned<String>> => Option<Text>, "split by the installer's letter";
///     }
/// }
/// ```
///
/// A line is a key, its type, an example; its doc comment is its meaning in every table. A key is written as its field
/// is called, unless `as` gives it. The type is its own form, unless one follows `=>`. `= VALUE` says what is meant
/// where nothing is written. `given` takes what the place gives and no key.
macro_rules! record {
    (
        $(#[$about:meta])*
        pub struct $record:ident: $block:ident $name:literal $(besides $besides:ident)? {
            $(given $given:ident: $given_type:ty;)*
            $($(#[doc = $meaning:literal])+ $field:ident $(as $key:literal)?: $type:ty $(=> $form:ty)? $(= $unsaid:expr)?, $example:literal;)+
        }
    ) => {
        $(#[$about])*
        #[derive(Clone, Debug, PartialEq)]
        pub struct $record {
            $(#[doc = concat!("The `", stringify!($given), "` of the entry.")] pub $given: $given_type,)*
            $($(#[doc = $meaning])+ pub $field: $type,)+
        }

        #[doc = concat!("The keys of [`", stringify!($record), "`].")]
        pub static $block: $crate::record::rule::Block = $crate::record::rule::Block {
            name: $name,
            keys: &[$($crate::record::rule::KeyRule {
                key: $crate::record::record!(@key $field $($key)?),
                required: $crate::record::record!(@required ($type $(=> $form)?) $($unsaid)?),
                takes: <$crate::record::record!(@form $type $(=> $form)?) as $crate::record::Form>::TAKES,
                example: $example,
                meaning: concat!($($meaning),+).trim_ascii(),
            },)+],
            besides: $crate::record::record!(@besides $($besides)?),
        };

        impl $crate::record::Record for $record {
            const BLOCK: &'static $crate::record::rule::Block = &$block;

            fn read<'t>(
                group: &$crate::record::Fields<'t>,
                reading: &mut $crate::record::Reading<'t>,
            ) -> Option<$record> {
                // All is read before anything is given up, so that every mistake is found.
                $(let $field = group.read::<$crate::record::record!(@form $type $(=> $form)?)>(
                    reading,
                    $crate::record::record!(@key $field $($key)?),
                );)+
                Some($record {
                    $($given: $crate::record::Given::given(group),)*
                    $($field: $crate::record::record!(@value group, $field $(, $unsaid)?),)+
                })
            }
        }

        impl $crate::record::Form for $record {
            type Value = $record;
            const TAKES: $crate::record::rule::Takes = $crate::record::rule::Takes::Block(&$block);
            fn read<'t>(
                slot: &$crate::record::Slot<'t, '_>,
                reading: &mut $crate::record::Reading<'t>,
            ) -> Option<$record> {
                let group = slot.open(reading, &$block)?;
                <$record as $crate::record::Record>::read(&group, reading)
            }
        }
    };
    (@key $field:ident) => { stringify!($field) };
    (@key $field:ident $key:literal) => { $key };
    (@form $type:ty => $form:ty) => { $form };
    (@form $type:ty) => { $type };
    (@required ($($form:tt)+) $unsaid:expr) => { false };
    (@required ($($form:tt)+)) => { <$crate::record::record!(@form $($form)+) as $crate::record::Form>::REQUIRED };
    (@value $group:ident, $field:ident) => { $field? };
    (@value $group:ident, $field:ident, $unsaid:expr) => {
        $field.unwrap_or_else(|| $crate::record::Unsaid::unsaid($unsaid, $group.head))
    };
    (@besides) => { None };
    (@besides $besides:ident) => { Some($besides) };
}

pub(crate) use record;
