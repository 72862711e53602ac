//! A home: where it is, how it is used, by what right the client holds it.

use super::kinds::{HeldAs, HomeUse};
use crate::finding::{Finding, Span, Spanned};
use crate::record::rule::{Own, Takes};
use crate::record::schema::words_of;
use crate::record::tree::Value;
use crate::record::{Form, Key, Leaf, Reading, Record, Slot, record};
use jiff::civil::Date;
use serde_json::json;

record! {
    /// One home.
    pub struct Home: HOME "home" {
        given key: Spanned<Key>;
        /// where it stands
        address: HomeAddress => AddressInCountry, "{street: 12 Alder Lane, city: Riverton, state: MA, zip: 01040}";
        /// country; US when not said
        country: Spanned<String> = "US".to_string(), "US";
        /// how it is used: one word, or a list of {from, is}, earliest first
        uses as "use": Vec<UseFrom> => Uses, "main_home";
        /// by what right the client holds it
        held_as: Spanned<HeldAs>, "owner";
        /// first use of a new or rebuilt home by the client
        original_use: Option<Spanned<Date>>, "2024-06-01";
    }
}

record! {
    /// Where a home is. An address outside the United States may have neither state nor ZIP.
    pub struct HomeAddress: HOME_ADDRESS "home_address" {
        given span: Span;
        /// street and number
        street: Spanned<String>, "12 Alder Lane";
        /// apartment
        unit: Option<Spanned<String>>, "Apt 4";
        /// city
        city: Spanned<String>, "Riverton";
        /// state, two letters; required in the United States
        state: Option<Spanned<String>>, "MA";
        /// ZIP or ZIP+4; required in the United States
        zip: Option<Spanned<String>>, "01040";
    }
}

record! {
    /// A use of a home and the day it began.
    pub struct UseFrom: USE "use" {
        /// first day; may be absent in the first entry
        from: Option<Spanned<Date>>, "2019-06-01";
        /// the use
        is: Spanned<HomeUse>, "main_home";
    }
}

/// An address that needs state and ZIP unless the home is in another country, which has none of ours.
struct AddressInCountry;

impl Form for AddressInCountry {
    type Value = HomeAddress;
    const TAKES: Takes = HomeAddress::TAKES;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<HomeAddress> {
        let group = slot.open(reading, &HOME_ADDRESS)?;
        let abroad = slot.group.text_of("country").is_some_and(|country| country != "US");
        if !abroad {
            reading.require(&group, &["state", "zip"]);
        }
        let address = <HomeAddress as Record>::read(&group, reading)?;
        (abroad || address.state.is_some() && address.zip.is_some()).then_some(address)
    }
}

/// One word, or a list of words with the day each use began.
struct Uses;

static USES: Own = Own {
    in_words: || "`main_home`, `other_residence`, `rented_to_others`, `vacant`, or a list".to_string(),
    words: || HomeUse::ALL.iter().map(|one| one.word()).collect(),
    blocks: &[&USE],
    schema: |groups| {
        let list = json!({"type": "array", "minItems": 1, "items": groups.refer(&USE)});
        json!({"anyOf": [words_of(&(USES.words)()), list]})
    },
};

impl Form for Uses {
    type Value = Vec<UseFrom>;
    const TAKES: Takes = Takes::Own(&USES);

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Vec<UseFrom>> {
        if let Value::Text { .. } = slot.node.value {
            let word = <HomeUse as Leaf>::read(slot, reading);
            return Some(word.map(|is| UseFrom { from: None, is }).into_iter().collect());
        }
        if matches!(&slot.node.value, Value::List(all) if all.is_empty()) {
            reading.findings.push(
                Finding::error("nothing-here", format!("the list of uses of {} is empty", slot.group.place))
                    .at(slot.node.span)
                    .help("write one word, like `use: main_home`, or the uses with their first days"),
            );
        }
        let mut uses = Vec::new();
        for one in slot.list(reading) {
            let Some(group) = one.open(reading, &USE) else { continue };
            let read = <UseFrom as Record>::read(&group, reading);
            // A first day that could not be read must not look like one that is missing.
            uses.extend(read.filter(|one| one.from.is_some() || !group.has("from")));
        }
        Some(uses)
    }
}

impl Home {
    /// Returns the use of the home on a day, as far as the case says.
    pub fn use_on(&self, day: Date) -> Option<HomeUse> {
        self.uses
            .iter()
            .rfind(|one| one.from.as_ref().is_none_or(|from| from.value <= day))
            .map(|one| one.is.value)
    }
}

impl HomeAddress {
    /// Writes the address in one line, as the worksheet shows it.
    pub fn one_line(&self) -> String {
        one_line(&self.street, self.unit.as_ref(), &self.city, self.state.as_ref(), self.zip.as_ref())
    }
}

/// Writes an address in one line, as the worksheet shows it.
pub(super) fn one_line(
    street: &Spanned<String>,
    unit: Option<&Spanned<String>>,
    city: &Spanned<String>,
    state: Option<&Spanned<String>>,
    zip: Option<&Spanned<String>>,
) -> String {
    let mut line = street.value.clone();
    unit.into_iter().for_each(|unit| line = format!("{line} {}", unit.value));
    line = format!("{line}, {}", city.value);
    let region: Vec<&str> = [state, zip].into_iter().flatten().map(|one| one.value.as_str()).collect();
    match region.is_empty() {
        true => line,
        false => format!("{line}, {}", region.join(" ")),
    }
}
