//! What is expected of years to come; never part of a return.

use super::year::{PLANNED_YEARS, TaxYear};
use crate::finding::{Finding, Spanned};
use crate::money::{Money, Rate};
use crate::record::rule::{Block, KeyRule, Own, Takes};
use crate::record::schema::{described, years};
use crate::record::{Fields, Form, Reading, Record, Slot, record, suggest};
use serde_json::{Map, json};

/// Figures for planning; never part of a return's computation.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Planning {
    /// The years planned, in order.
    pub years: Vec<PlannedYear>,
    /// The client's federal marginal rate.
    pub federal_rate: Option<Spanned<Rate>>,
    /// Whether the client itemizes deductions.
    pub itemizes: Option<Spanned<bool>>,
}

/// The keys of planning beside the years.
pub static PLANNING: Block = Block {
    name: "planning",
    keys: &[
        KeyRule::may("federal_rate", Takes::Percentage, "22%", "the client's federal marginal rate"),
        KeyRule::may("itemizes", Takes::YesNo, "true", "whether the client itemizes deductions"),
    ],
    besides: None,
};

record! {
    /// What is expected of a year to come.
    pub struct PlannedYear: PLANNED_YEAR "planned year" {
        given year: Spanned<TaxYear>;
        /// the tax expected before credits; read for years after the last return
        tax_before_credits: Spanned<Money>, "1500";
        /// the credits expected to come before the clean energy credit, in one amount; without it, those of the last
        /// return
        credits_before: Option<Spanned<Money>>, "200";
    }
}

/// Planned years with their figures, beside the other keys of planning.
static BY_YEAR: Own = Own {
    in_words: || "by tax year: planned year; and keys of: planning".to_string(),
    words: Vec::new,
    blocks: &[&PLANNING, &PLANNED_YEAR],
    schema: |groups| {
        let mut keys = Map::new();
        for rule in PLANNING.keys {
            keys.insert(rule.key.to_string(), described(rule, groups.takes(&rule.takes)));
        }
        json!({
            "type": "object",
            "properties": keys,
            "patternProperties": {years(&PLANNED_YEARS): groups.refer(&PLANNED_YEAR)},
            "additionalProperties": false,
        })
    },
};

impl Form for Planning {
    type Value = Planning;
    const TAKES: Takes = Takes::Own(&BY_YEAR);
    const REQUIRED: bool = false;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Planning> {
        let mut planning = Planning::default();
        for entry in slot.entries(reading) {
            match entry.key.value.as_str() {
                "federal_rate" => planning.federal_rate = reading.rate(&entry.value, "federal_rate"),
                "itemizes" => planning.itemizes = reading.yes_no(&entry.value, "itemizes"),
                key if key.starts_with(|c: char| c.is_ascii_digit()) => {
                    let year = reading.year(&entry.key, PLANNED_YEARS);
                    let group = slot.entry(entry, reading, &PLANNED_YEAR);
                    let read = group.and_then(|group| <PlannedYear as Record>::read(&group, reading));
                    planning.years.extend(read.filter(|_| year.is_some()));
                }
                key => reading.findings.push(
                    Finding::error("unknown-key", format!("`{key}` is not a key of planning"))
                        .at(entry.key.span)
                        .help(suggest(key, &["federal_rate", "itemizes", "2026"])),
                ),
            }
        }
        planning.years.sort_by_key(|one| one.year.value);
        Some(planning)
    }

    fn absent(_case: &Fields<'_>) -> Option<Planning> {
        Some(Planning::default())
    }
}
