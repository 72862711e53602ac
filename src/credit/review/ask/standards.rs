//! Whether a standard that a case names is the one the law asks for.
//!
//! Comes in: an item that counts and the words of its `meets`. Goes out: a question, which one answer may serve for all
//! items of a kind and year. Judges no product: it only sees that the words name another standard, or none. What
//! the law asks for is a rule of the year's law, `standard.KIND`.

use super::counting::Counting;
use super::words::{plain, says};
use crate::case::Kind;
use crate::credit::codes;
use crate::finding::{Finding, Spanned};
use crate::law::MethodStep;

/// Words that name the standard of a kind from 2023 on; what the standard is, the law of the year says.
const NAMED: [(&[Kind], &[&str]); 4] = [
    (&[Kind::WindowOrSkylight], &["most efficient"]),
    (&[Kind::ExteriorDoor, Kind::GeothermalHeatPump], &["energy star"]),
    (&[Kind::InsulationOrAirSealing], &["iecc", "code", "energy conservation"]),
    (
        &[
            Kind::CentralAirConditioner,
            Kind::HeatPump,
            Kind::HeatPumpWaterHeater,
            Kind::FuelWaterHeater,
            Kind::FurnaceOrBoiler,
        ],
        &["tier", "cee", "consortium"],
    ),
];

/// Says in a clause what the law asks of an item's kind in its year.
pub(super) fn asked_for(one: &Counting<'_>) -> String {
    let (label, year) = (one.item().kind.value.label(), one.year());
    match one.law.standard(one.item().kind.value) {
        Some(rule) => format!("the law has this one for the kind ({label}) and year ({year}): {}", rule.says),
        None => format!("the law has one for the kind ({label}) and year ({year})"),
    }
}

/// Returns where it stands what the law asks of an item's kind.
pub(super) fn sources(one: &Counting<'_>) -> String {
    let rule = one.law.standard(one.item().kind.value);
    let mut all = one.kind_law.authority.source.clone();
    all.extend(
        rule.iter()
            .flat_map(|rule| &rule.authority.source)
            .filter(|one| !all.contains(one))
            .cloned()
            .collect::<Vec<_>>(),
    );
    all.join("; ")
}

/// Names all items of a kind and year, as what an answer is about: `standards.2025.exterior_door`.
pub(super) fn of_kind(one: &Counting<'_>) -> String {
    format!("standards.{}.{}", one.year(), one.item().kind.value)
}

/// Says, where several items of one kind and year are said to meet the same, how one answer serves all of them.
pub(super) fn told(asked: Vec<(String, Finding)>) -> Vec<Finding> {
    let same: Vec<String> = asked.iter().map(|(same, _)| same.clone()).collect();
    let tell = |(same_as, mut finding): (String, Finding)| {
        if same.iter().filter(|one| **one == same_as).count() > 1
            && let (Some(help), Some(all)) = (&mut finding.help, finding.or_about.first())
        {
            help.push_str(&format!(
                "; an answer with `about: {all}` is for all that are said to meet the same"
            ));
        }
        finding
    };
    asked.into_iter().map(tell).collect()
}

/// Words by which the maker or the preparer says that the law's own standard is met.
const VOUCHED: [&str; 11] = [
    "25c",
    "25d",
    "certified",
    "certification",
    "certificate",
    "statement",
    "qualifies",
    "qualified",
    "qualifying",
    "eligible",
    "tax credit",
];

/// Asks about an item said to meet a standard that is not the one the law asks for, or only a rating; the question comes
/// with a text that is the same for items that are asked about alike.
pub(super) fn other(one: &Counting<'_>, meets: &Spanned<String>) -> Option<(String, Finding)> {
    let item = one.item();
    let kind = item.kind.value;
    // Earlier years had other standards for 25C, some of them ratings.
    let yearly = one.law.figured_with(MethodStep::YearlyLimit);
    let words = plain(&meets.value);
    let named = |list: &[&str]| list.iter().any(|word| says(&words, word));
    let (_, naming) = NAMED.iter().find(|(kinds, _)| kinds.contains(&kind))?;
    let wanted = &one.law.standard(kind)?.says;
    // What burns oil has a standard of its own, and only the maker can say that it is met.
    let oil = item.fuel.as_ref().is_some_and(|fuel| says(&plain(&fuel.value), "oil"));
    if !yearly || oil || named(naming) || named(&VOUCHED) {
        return None;
    }
    let (key, label, year) = (&item.key.value, kind.label(), one.year());
    let message = match named(&["energy star"]) {
        true => format!(
            "does `{key}` also meet the standard of the law for the kind ({label}) and year ({year}): {wanted}? Energy Star alone is not it"
        ),
        false => format!(
            "does `{key}` meet the standard of the law for the kind ({label}) and year ({year}): {wanted}? `{}` does not name it",
            meets.value
        ),
    };
    let help = match named(&["energy star"]) {
        true => {
            "write the standard that the maker's statement for this model names; what meets Energy Star only does not count"
        }
        false => {
            "write the standard that the maker's statement for this model names; a rating may stand behind it"
        }
    };
    let asked = codes::STANDARD_NOT_THE_ONE.finding(message).at(meets.span);
    let asked = asked.about(format!("{}.meets", one.path())).or_about([of_kind(one)]);
    let asked = asked.given([&meets.value]).help(help);
    let same = format!("{kind} {year} {words}");
    Some((
        same,
        asked
            .under(format!("{}; IRS Fact Sheet FS-2025-01, energy efficiency requirements Q1", sources(one))),
    ))
}
