//! Whether a standard that a case names is the one the law asks for.
//!
//! Comes in: an item that counts and the words of its `meets`. Goes out: a question. Judges no product: it only sees
//! that the words name another standard, or none.

use super::Counting;
use super::words::{plain, says};
use crate::case::Kind;
use crate::finding::{At, Finding};
use crate::law::Method;

/// A standard of 2023 to 2025, as a preparer may name it.
struct Standard {
    /// The kinds it is for.
    kinds: &'static [Kind],
    /// Words that name it.
    words: &'static [&'static str],
    /// The standard, in a sentence.
    wanted: &'static str,
}

const STANDARDS: [Standard; 4] = [
    Standard {
        kinds: &[Kind::WindowOrSkylight],
        words: &["most efficient"],
        wanted: "Energy Star Most Efficient",
    },
    Standard {
        kinds: &[Kind::ExteriorDoor, Kind::GeothermalHeatPump],
        words: &["energy star"],
        wanted: "Energy Star",
    },
    Standard {
        kinds: &[Kind::InsulationOrAirSealing],
        words: &["iecc", "code", "energy conservation"],
        wanted: "the energy code that counts for its year (IECC)",
    },
    Standard {
        kinds: &[
            Kind::CentralAirConditioner,
            Kind::HeatPump,
            Kind::HeatPumpWaterHeater,
            Kind::FuelWaterHeater,
            Kind::FurnaceOrBoiler,
        ],
        words: &["tier", "cee", "consortium"],
        wanted: "the highest efficiency tier, not the advanced one, of the Consortium for Energy Efficiency",
    },
];

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

/// Asks about an item said to meet a standard that is not the one the law asks for, or only a rating.
pub(super) fn other(one: &Counting<'_>, meets: &At<String>) -> Option<Finding> {
    let item = one.item();
    let kind = item.kind.value;
    // Earlier years had other standards for 25C, some of them ratings.
    let yearly = one.law.improvement_method.as_ref().is_some_and(|how| how.method == Method::YearlyLimits);
    let words = plain(&meets.value);
    let named = |list: &[&str]| list.iter().any(|word| says(&words, word));
    let standard = STANDARDS.iter().find(|standard| standard.kinds.contains(&kind))?;
    // What burns oil has a standard of its own, and only the maker can say that it is met.
    let oil = item.fuel.as_ref().is_some_and(|fuel| says(&plain(&fuel.value), "oil"));
    if !yearly || oil || named(standard.words) || named(&VOUCHED) {
        return None;
    }
    let authority = one.kind_law.authority.source.join("; ");
    let (key, label) = (&item.key.value, kind.label());
    let message = match named(&["energy star"]) {
        true => format!(
            "does `{key}` also meet {}? Energy Star alone is not what the law asks of {label}",
            standard.wanted
        ),
        false => format!(
            "does `{key}` meet {}? That is what the law asks of {label}, and `{}` does not name it",
            standard.wanted, meets.value
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
    let asked = Finding::question("standard-not-the-one", message).at(meets.span);
    let asked = asked.about(format!("{}.meets", one.path())).given([&meets.value]).help(help);
    Some(asked.under(format!("{authority}; IRS Fact Sheet FS-2025-01, energy efficiency requirements Q1")))
}
