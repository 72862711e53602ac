//! The form of a file of law, by its number, and files of the form before it.
//!
//! Comes in: the tree of a file as it was written. Goes out: the same law in today's form, so that everything behind it
//! knows one form only. A packet is sealed with the law it was figured by and is looked at for decades, so a file that
//! was good once stays readable. What is put in says what the program of that time did without being told, and stands
//! where the words stood that it was made from.

use crate::finding::{Finding, Span, Spanned};
use crate::record::shape::{Refused, Written};
use crate::record::tree::{Entry, Node, Value};

/// The form of today.
const TODAY: u32 = 2;

/// The number of the form, of which only today's is read; an earlier one has been brought to it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Format;

impl Written for Format {
    fn of(text: &str) -> Result<Format, Refused> {
        match text.parse::<u32>() {
            Ok(TODAY) => Ok(Format),
            Ok(later) if later > TODAY => Err(Refused::new(
                format!("this law file has format {later}, and this version reads formats 1 to {TODAY}"),
                "use the version of Gablework that the file came with, or a later one",
            )),
            _ => Err(Refused::new(
                format!("`{text}` is not a format of law files"),
                format!("write `format: {TODAY}`"),
            )),
        }
    }
}

/// Brings a file to today's form. Returns what is wrong with its number where it is of a later one: what else looks wrong
/// in such a file is only unknown.
pub(super) fn bring_up(root: &mut Node) -> Option<Finding> {
    let number = root.get("format").map(|one| (one.span, text_of(one).to_string()));
    if let Some((span, written)) = &number
        && written.parse().is_ok_and(|number: u32| number > TODAY)
        && let Err(refused) = Format::of(written)
    {
        return Some(refused.coded(super::load::LAW_FORM).at(*span));
    }
    let Value::Map { entries, .. } = &mut root.value else { return None };
    // The files had no number at first.
    if number.as_ref().is_none_or(|(_, written)| written == "1") {
        let at = Span { end: root.span.start, ..root.span };
        let span = number.map_or(at, |(span, _)| span);
        entries.retain(|one| one.key.value != "format");
        entries.push(entry("format", text(&TODAY.to_string(), span)));
        if entries.iter().any(|one| one.key.value == "in_force") {
            from_the_first(entries);
        }
    }
    None
}

/// How 25C was figured by each method that the first form names: the steps of today, in the order of the forms.
const METHODS: [(&str, &[&str]); 3] = [
    (
        "yearly_limits",
        &[
            "two_main_homes",
            "envelope_questions",
            "insulation",
            "doors",
            "windows",
            "energy_property_questions",
            "energy_property",
            "enabling_property",
            "audits",
            "yearly_limit",
            "heat_pumps",
            "yearly_total",
        ],
    ),
    (
        "fixed_amounts",
        &[
            "questions",
            "earlier_windows",
            "envelope_cost",
            "window_ceiling",
            "envelope_rate",
            "energy_property_amounts",
            "amounts_total",
            "limit_of_all_years",
        ],
    ),
    ("one_rate", &["questions", "envelope_cost", "cost_of_all", "rate_of_all", "limit_of_all_years"]),
];

/// The kinds that a limit of the first form reached. A kind that a year does not have under the credit is passed over by
/// the reader.
const REACHES: [(&str, &[&str]); 10] = [
    ("improvement.cap.heat_pumps", &["heat_pump", "heat_pump_water_heater", "biomass_stove_or_boiler"]),
    ("improvement.cap.insulation", &["insulation_or_air_sealing"]),
    ("improvement.cap.doors", &["exterior_door"]),
    ("improvement.cap.windows", &["window_or_skylight"]),
    (
        "improvement.cap.energy_property",
        &["central_air_conditioner", "fuel_water_heater", "furnace_or_boiler", "enabling_property"],
    ),
    ("improvement.cap.audit", &["home_energy_audit"]),
    ("improvement.cap.window_cost", &["window_or_skylight"]),
    (
        "improvement.cap.building_property",
        &[
            "central_air_conditioner",
            "fuel_water_heater",
            "heat_pump",
            "heat_pump_water_heater",
            "geothermal_heat_pump",
            "biomass_stove_or_boiler",
        ],
    ),
    ("improvement.cap.furnace", &["furnace_or_boiler"]),
    ("improvement.cap.fan", &["air_circulating_fan"]),
];

/// Brings a file of the first form to the second: `names` and `in_force` become `credits`, `improvement_method` becomes
/// `methods`, and limits say whom they reach.
fn from_the_first(entries: &mut Vec<Entry>) {
    let mut take = |key: &str| {
        let at = entries.iter().position(|one| one.key.value == key)?;
        Some(entries.remove(at))
    };
    let (names, in_force, method) = (take("names"), take("in_force"), take("improvement_method"));
    let Some(in_force) = in_force else { return };
    let year = entries.iter().find(|one| one.key.value == "year");
    let year: i16 = year.and_then(|one| text_of(&one.value).parse().ok()).unwrap_or_default();
    let name_of = |credit: &str| names.as_ref().and_then(|names| names.value.get(credit)).cloned();

    let mut methods = Vec::new();
    if let Some(mut method) = method {
        let span = method.value.span;
        if let Value::Map { entries: keys, .. } = &mut method.value.value
            && let Some(one) = keys.iter_mut().find(|one| one.key.value == "method")
            && let Some((_, steps)) = METHODS.iter().find(|(name, _)| *name == text_of(&one.value))
        {
            *one = entry("steps", list(steps, one.value.span));
        }
        methods.push(entry("improvement", Node { span, ..method.value }));
    }
    let mut credits = in_force.value;
    let span = credits.span;
    // A block that names another year for everything does so for how 25D is figured too.
    let all_as_in = credits.get("as_in").cloned();
    if let Some(other) = &all_as_in {
        methods.push(entry("clean", map(vec![entry("as_in", other.clone())], other.span)));
    }
    if let Value::Map { entries: own, .. } = &mut credits.value {
        for credit in own.iter_mut() {
            let (key, at) = (credit.key.value.clone(), credit.value.span);
            let Value::Map { entries: keys, .. } = &mut credit.value.value else { continue };
            let as_in = keys.iter().any(|one| one.key.value == "as_in");
            let earned =
                keys.iter().any(|one| one.key.value == "new_property" && text_of(&one.value) == "yes");
            if key == "clean" && all_as_in.is_none() && (as_in || earned) {
                methods.push(entry("clean", figured(keys, year, at)));
            }
            if as_in || !["improvement", "clean"].contains(&key.as_str()) {
                continue;
            }
            keys.extend(name_of(&key).map(|name| entry("name", name)));
            keys.push(entry("carried_forward", text(if key == "clean" { "yes" } else { "no" }, at)));
            // Public Law 119-21, sections 70505 and 70506; the program knew it without the file.
            if year >= 2025 {
                keys.push(entry("through", text("2025-12-31", at)));
            }
        }
    }
    entries.push(entry("credits", credits));
    entries.push(entry("methods", map(methods, span)));

    let values = entries.iter_mut().find(|one| one.key.value == "values");
    let Some(Value::Map { entries: values, .. }) = values.map(|one| &mut one.value.value) else { return };
    for value in values {
        let at = value.value.span;
        let own = value.key.value.strip_prefix("clean.");
        let own = own.and_then(|rest| {
            rest.strip_suffix(".cap").or((rest == "fuel_cell.cap_per_kw").then_some("fuel_cell"))
        });
        let reaches = match own {
            Some(kind) => list(&[kind], at),
            None => match REACHES.iter().find(|(key, _)| *key == value.key.value) {
                Some((_, kinds)) => list(kinds, at),
                None => continue,
            },
        };
        if let Value::Map { entries: keys, .. } = &mut value.value.value
            && keys.iter().all(|one| one.key.value != "as_in")
        {
            keys.push(entry("reaches", reaches));
        }
    }
}

/// How 25D was figured, on what grants it. Every kind but fuel cells lost its limit with 2009, and one rate applies to
/// all others together since (Public Law 111-5, section 1122).
fn figured(grant: &[Entry], year: i16, at: Span) -> Node {
    let steps: &[&str] = match year < 2009 {
        true => &["address", "costs", "fuel_cells"],
        false => &["address", "costs", "rate", "fuel_cells"],
    };
    let keys = ["as_in", "source", "standing", "settled"];
    let mut own: Vec<Entry> =
        grant.iter().filter(|one| keys.contains(&one.key.value.as_str())).cloned().collect();
    if own.iter().all(|one| one.key.value != "as_in") {
        own.push(entry("steps", list(steps, at)));
    }
    map(own, at)
}

fn text_of(node: &Node) -> &str {
    match &node.value {
        Value::Text { text, .. } => text,
        _ => "",
    }
}

fn entry(key: &str, value: Node) -> Entry {
    Entry { key: Spanned::new(key.to_string(), value.span), value }
}

fn text(text: &str, span: Span) -> Node {
    Node { span, value: Value::Text { text: text.to_string(), plain: true }, broken: false }
}

fn list(items: &[&str], span: Span) -> Node {
    Node { span, value: Value::List(items.iter().map(|one| text(one, span)).collect()), broken: false }
}

fn map(entries: Vec<Entry>, span: Span) -> Node {
    Node { span, value: Value::Map { entries, braces: false }, broken: false }
}
