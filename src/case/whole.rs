//! The whole case: its sections, and whether what could be read of it is enough for figures.

use super::answer::Answer;
use super::client::{Client, Signed};
use super::evidence::Evidence;
use super::home::Home;
use super::item::Item;
use super::planning::Planning;
use super::returns::{CarriedIn, EarlierCredits, TaxReturn};
use super::shared::Shared;
use super::year::{ReturnYears, TaxYear};
use crate::finding::{Finding, Severity, Span};
use crate::record::rule::Takes;
use crate::record::tree::{Node, Value};
use crate::record::{ByYear, Fields, Form, Key, Named, Reading, Record, Slot, record};

record! {
    /// The whole case.
    pub struct Case: CASE "case" {
        given whole: Span;
        /// the format of this file
        format: Format, "1";
        /// who the client is and how to reach them
        client: Client => AnyClient, "{reference: HH-0412, people: [..]}";
        /// who prepared the case and when
        prepared: Option<Signed>, "{by: J. Alder, on: 2025-03-01}";
        /// who reviewed it and when
        reviewed: Option<Signed>, "{by: M. Birch, on: 2025-03-04}";
        /// the homes, each under a key of your own
        homes: Vec<Home> => Named<Home>, "alder-lane: {..}";
        /// the property bought, each item under a key of your own
        property: Vec<Item> => Named<Item>, "roof-array: {..}";
        /// costs and incentives that lie over several items
        shared: Vec<Shared>, "[{item: permit, ..}]";
        /// the returns, by tax year
        returns: Vec<TaxReturn> => ByYear<TaxReturn, ReturnYears>, "2024: {..}";
        /// credit carried in from before the first return here, by the year it is brought into
        carried_in: Vec<CarriedIn> => ByYear<CarriedIn, ReturnYears>, "2024: {amount: 310}";
        /// credits of earlier years that count against lifetime limits
        earlier_credits: Vec<EarlierCredits> => ByYear<EarlierCredits, ReturnYears>, "2010: {nonbusiness_energy_credit: 1500}";
        /// figures for planning; never part of a return
        planning: Planning, "{2026: {tax_before_credits: 1500}}";
        /// the papers, each under a key of your own
        evidence: Vec<Evidence> => Named<Evidence>, "inv-118: {type: receipt, on_file: true}";
        /// answers to questions that `check` asked
        answers: Vec<Answer>, "[{question: .., answer: ..}]";
    }
}

/// Sections on which no figure depends.
const WITHOUT_FIGURES: [&str; 5] = ["client", "prepared", "reviewed", "evidence", "answers"];

/// Reads the whole case from its tree, as far as it can be read. The second value says whether all of it was that a
/// computation depends on.
pub(super) fn read<'t>(root: &'t Node, whole: Span, reading: &mut Reading<'t>) -> (Option<Case>, bool) {
    if root.is_nothing() {
        reading.findings.push(
            Finding::error(
                "empty-file",
                "the file holds no case; there is nothing in it but blanks and comments",
            )
            .at(Span { end: 0, ..whole })
            .help("make a case with `gablework begin`, which asks for what it needs; a case begins with `format: 1`"),
        );
        return (None, false);
    }
    let head = match &root.value {
        Value::Map { entries, .. } => entries.first().map_or(root.span, |one| one.key.span),
        _ => root.span,
    };
    let Some(top) = reading.fields(root, head, &CASE, "the case".to_string()) else { return (None, false) };
    let about_sections = reading.findings.len();
    let case = <Case as Record>::read(&top, reading).map(|case| Case { whole, ..case });
    let harmless = |at: Span| {
        let sections = WITHOUT_FIGURES.iter().filter_map(|key| top.entry_span(key));
        sections.into_iter().any(|section| section.start <= at.start && at.end <= section.end)
    };
    let usable = reading.findings.iter().enumerate().all(|(n, one)| {
        one.severity < Severity::Error || n >= about_sections && one.at.is_some_and(harmless)
    });
    (case, usable && top.has("client") && !reading.useless)
}

/// The number of the format, of which there is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Format;

impl Form for Format {
    type Value = Format;
    const TAKES: Takes = Takes::FormatNumber;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Format> {
        if let Some(number) = reading.line(slot.node, slot.key)
            && number.value != "1"
        {
            let message =
                format!("this file says it is written in format {}; known is format 1", number.value);
            let help = "write `format: 1`, or read the case with a newer version of the program";
            reading.findings.push(Finding::error("format-number", message).at(number.span).help(help));
        }
        Some(Format)
    }

    fn absent(_case: &Fields<'_>) -> Option<Format> {
        Some(Format)
    }
}

/// The client, or one that stands for none, so that the rest of the case is looked through all the same.
struct AnyClient;

impl Form for AnyClient {
    type Value = Client;
    const TAKES: Takes = Client::TAKES;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Client> {
        let client = <Client as Form>::read(slot, reading);
        reading.useless |= client.is_none();
        client.or_else(|| AnyClient::absent(slot.group))
    }

    fn absent(case: &Fields<'_>) -> Option<Client> {
        Some(Client::unread(case.span))
    }
}

impl Case {
    /// Finds a home by its key.
    pub fn home(&self, key: &Key) -> Option<&Home> {
        self.homes.iter().find(|home| home.key.value == *key)
    }

    /// Finds an item by its key.
    pub fn item(&self, key: &Key) -> Option<&Item> {
        self.property.iter().find(|item| item.key.value == *key)
    }

    /// Finds the return of a year.
    pub fn tax_return(&self, year: TaxYear) -> Option<&TaxReturn> {
        self.returns.iter().find(|one| one.year.value == year)
    }

    /// Returns who prepared the case's papers; nothing where it does not say.
    pub fn prepared_by(&self) -> &str {
        let by = self.prepared.as_ref().and_then(|one| one.by.as_ref());
        by.map_or("", |by| by.value.as_str())
    }

    /// Finds the balance brought into a year.
    pub fn carried_in(&self, year: TaxYear) -> Option<&CarriedIn> {
        self.carried_in.iter().find(|one| one.year.value == year)
    }
}
