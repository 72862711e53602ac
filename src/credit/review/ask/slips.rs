//! What looks like a slip of the pen in a case that can be computed: a unit mistaken, a row entered twice, something
//! entered as a kind that its own words deny, a balance whose own words say that it is none.
//!
//! Comes in: an item that counts, or the case. Goes out: questions. The measures of what is likely are our own, none
//! is law; so nothing is refused, and the answer is the preparer's.

use super::counting::{Counting, shared_costs};
use super::words::{plain, says};
use crate::case::{CarriedIn, Case, Cost, CostNature, FilingStatus, Item, Kind};
use crate::credit::codes;
use crate::finding::{Finding, Spanned};
use crate::law::{Counts, Law, Rule};
use crate::money::{Money, Quantity, Rate};
use rust_decimal::Decimal;

/// Asks about slips in an item.
pub(super) fn of_item(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let mut found = quantities(one);
    found.extend(whole_price_is_goods(one));
    found.extend(split_unsaid(one));
    found.extend(kind_denied(one, case));
    found
}

/// Asks about slips in the case as a whole.
pub(super) fn of_case(case: &Case, law: &Law, counting: &[Counting<'_>]) -> Vec<Finding> {
    let mut found = entered_twice(counting);
    found.extend(case.carried_in.iter().filter_map(|given| balance_denied(law, given)));
    found.extend(joint_return_of_one(case));
    found
}

/// A quantity that a home hardly has.
struct Unlikely {
    key: &'static str,
    unit: &'static str,
    /// The most that one unit of property in a home is likely to have.
    most: i64,
    /// What is likely meant.
    instead: &'static str,
    value: fn(&Item) -> Option<&Spanned<Quantity>>,
}

const UNLIKELY: [Unlikely; 3] = [
    Unlikely {
        key: "capacity_kw",
        unit: "kilowatts",
        most: 100,
        instead: "one kilowatt is 1,000 watts",
        value: |item| item.capacity_kw.as_ref(),
    },
    Unlikely {
        key: "capacity_kwh",
        unit: "kilowatt-hours",
        most: 200,
        instead: "one kilowatt-hour is 1,000 watt-hours",
        value: |item| item.capacity_kwh.as_ref(),
    },
    Unlikely {
        key: "amperage",
        unit: "amperes",
        most: 1000,
        instead: "give the amperes on the label",
        value: |item| item.amperage.as_ref(),
    },
];

/// Asks about capacities far above what a home has: mostly watts entered for kilowatts.
fn quantities(one: &Counting<'_>) -> Vec<Finding> {
    let item = one.item();
    let units = Decimal::from(item.units.value);
    let unlikely = UNLIKELY.iter().filter_map(|what| {
        let given = (what.value)(item).filter(|given| given.value.0 > Decimal::from(what.most) * units)?;
        let message = format!(
            "does `{}` really have {} {}? That is far more than a home has",
            item.key.value, given.value.0, what.unit
        );
        let asked = codes::QUANTITY_UNLIKELY.finding(message).at(given.span);
        let asked = asked.about(format!("{}.{}", one.path(), what.key)).given([given.value.0.to_string()]);
        Some(asked.help(format!("write it in {}: {}", what.unit, what.instead)))
    });
    unlikely.collect()
}

/// Asks about one price for goods and labor that is said to be all goods.
fn whole_price_is_goods(one: &Counting<'_>) -> Vec<Finding> {
    let split = one.law.costs.get(&(one.kind_law.class, CostNature::LumpSum));
    let Some(split) = split.filter(|law| law.counts == Counts::MaterialsOnly) else {
        return Vec::new();
    };
    let all = |(n, cost): (usize, &Cost)| {
        let share = cost.materials.as_ref().filter(|share| share.value >= Rate::WHOLE)?;
        let message = format!(
            "is there no labor in the {} for `{}`? It is one price for goods and labor, and all of it is said to be goods",
            cost.amount.value.spoken(),
            cost.item.value
        );
        let asked = codes::ALL_GOODS.finding(message).at(share.span);
        let asked = asked.about(format!("{}.costs.{n}", one.path()));
        let asked = asked.given([cost.item.value.clone(), cost.amount.value.spoken()]);
        let help = "write the share of the goods from the installer's split, or `as: material` where only goods were bought";
        Some(asked.help(help).under(split.authority.source.join("; ")))
    };
    (1..).zip(&one.item().costs).filter_map(all).collect()
}

/// Asks where a split of one price comes from, if neither a paper nor a reason stands with it: a share from memory is a
/// guess, and the credit hangs on it.
fn split_unsaid(one: &Counting<'_>) -> Vec<Finding> {
    let split = one.law.costs.get(&(one.kind_law.class, CostNature::LumpSum));
    let Some(split) = split.filter(|law| law.counts == Counts::MaterialsOnly) else {
        return Vec::new();
    };
    let guessed = |(n, cost): (usize, &Cost)| {
        let share = cost.materials.as_ref().filter(|share| share.value < Rate::WHOLE)?;
        if cost.because.is_some() || cost.evidence.is_some() || cost.nature.value != CostNature::LumpSum {
            return None;
        }
        let message = format!(
            "where does the share of {} goods in the {} for `{}` come from? Only the goods count, and no paper or reason stands with it",
            share.value,
            cost.amount.value.spoken(),
            cost.item.value
        );
        let asked = codes::SPLIT_UNSAID.finding(message).at(share.span);
        let asked = asked.about(format!("{}.costs.{n}", one.path()));
        let asked =
            asked.given([cost.item.value.clone(), share.value.to_string(), cost.amount.value.spoken()]);
        let help = "name under `evidence:` the invoice that divides the price, or say under `because:` how the installer did";
        Some(asked.help(help).under(split.authority.source.join("; ")))
    };
    (1..).zip(&one.item().costs).filter_map(guessed).collect()
}

/// Words that deny the kind under which something is entered.
const DENIALS: &[(Kind, &[&str])] = &[
    (
        Kind::CentralAirConditioner,
        &[
            "window unit",
            "window units",
            "room unit",
            "room air conditioner",
            "room air conditioners",
            "portable",
            "evaporative cooler",
            "swamp cooler",
        ],
    ),
    (Kind::ExteriorDoor, &["garage door", "garage doors", "interior door", "interior doors", "pet door"]),
    (
        Kind::WindowOrSkylight,
        &[
            "blinds",
            "curtains",
            "drapes",
            "shutters",
            "window film",
            "tinting",
            "insect screens",
            "replacement glass",
            "glass only",
        ],
    ),
    (
        Kind::InsulationOrAirSealing,
        &["siding", "drywall", "painting", "gutters", "shingles", "new roof", "flooring"],
    ),
    (Kind::FurnaceOrBoiler, &["electric furnace", "electric boiler", "wood furnace", "heat pump"]),
    (Kind::FuelWaterHeater, &["electric water heater", "heat pump", "hybrid water heater"]),
    (Kind::HeatPump, &["pool", "hot tub", "gas furnace", "water heater", "straight cool"]),
    (
        Kind::HeatPumpWaterHeater,
        &["pool", "hot tub", "tankless", "gas water heater", "electric resistance", "solar water heater"],
    ),
    (
        Kind::BiomassStoveOrBoiler,
        &["gas stove", "gas fireplace", "gas insert", "propane stove", "electric fireplace", "kitchen range"],
    ),
    (
        Kind::EnablingProperty,
        &[
            "car charger",
            "ev charger",
            "vehicle charger",
            "generator",
            "transfer switch",
            "solar",
            "battery",
            "hot tub",
        ],
    ),
    (Kind::GeothermalHeatPump, &["air source", "mini split", "ductless"]),
    (Kind::HomeEnergyAudit, &["home inspection", "appraisal", "duct cleaning"]),
    (Kind::FuelCell, &["diesel", "standby generator", "gas generator", "propane generator"]),
];

/// Asks about an item whose own words speak of another thing than its kind, or of an audit inside another item.
fn kind_denied(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let item = one.item();
    let kind = item.kind.value;
    let words = DENIALS.iter().find(|(denied, _)| *denied == kind).map_or(&[][..], |(_, words)| *words);
    let own = (1..).zip(&item.costs).map(|(n, cost)| (format!("{}.costs.{n}", one.path()), cost));
    let shared = shared_costs(case, item).map(|(n, cost)| (format!("shared.{n}"), cost));
    let mut found = Vec::new();
    for (about, cost) in own.chain(shared) {
        let nature = cost.nature.value;
        let law = one.law.costs.get(&(one.kind_law.class, nature));
        if nature == CostNature::Discount || law.is_none_or(|law| law.counts == Counts::No) {
            continue;
        }
        let text = plain(&cost.item.value);
        let given = [cost.item.value.clone(), kind.to_string(), cost.amount.value.spoken()];
        if let Some(word) = words.iter().find(|word| says(&text, word)) {
            let message = format!(
                "`{}` stands under `{}`, and its text says \u{201c}{word}\u{201d}: is the kind ({}) right?",
                cost.item.value,
                item.key.value,
                kind.label()
            );
            let asked = codes::KIND_WORDS.finding(message).at(cost.item.span).about(about);
            let help = "what is of another kind takes an item of its own with its own `kind:`; what neither credit knows is left out";
            found.push(asked.given(given).help(help).under(one.kind_law.authority.source.join("; ")));
            continue;
        }
        let audit = ["energy audit", "energy assessment", "home assessment"];
        if let Some(word) = audit.iter().find(|word| kind != Kind::HomeEnergyAudit && says(&text, word)) {
            let message = format!(
                "`{}` stands under `{}`, and its text says \u{201c}{word}\u{201d}: is an audit of the home in this price?",
                cost.item.value, item.key.value
            );
            let asked = codes::AUDIT_WORDS.finding(message).at(cost.item.span).about(about);
            let help = "an audit is an item of its own, `kind: home_energy_audit`, with a report and a limit of its own; here it does not count";
            found.push(asked.given(given).help(help).under("USC25C_2023 (b)(6); USC25C_2023 (e)"));
        }
    }
    found
}

/// Asks about two rows of a year with the same words and the same amount.
fn entered_twice(counting: &[Counting<'_>]) -> Vec<Finding> {
    let mut seen: Vec<(i16, String, CostNature, Money, &Cost)> = Vec::new();
    let mut found = Vec::new();
    for one in counting {
        for (n, cost) in (1..).zip(&one.item().costs) {
            let row = (one.year().0, plain(&cost.item.value), cost.nature.value, cost.amount.value);
            if cost.amount.value.is_zero() {
                continue;
            }
            let before = seen.iter().find(|(year, text, nature, amount, _)| {
                (*year, text, *nature, *amount) == (row.0, &row.1, row.2, row.3)
            });
            let Some((.., first)) = before else {
                seen.push((row.0, row.1, row.2, row.3, cost));
                continue;
            };
            // Two bills, each with a paper of its own, are two.
            if first.evidence.as_ref().zip(cost.evidence.as_ref()).is_some_and(|(a, b)| a.value != b.value) {
                continue;
            }
            let message = format!(
                "was {} really paid twice for `{}`? The same words and the same amount stand in another row",
                cost.amount.value.spoken(),
                cost.item.value
            );
            let asked = codes::COST_TWICE.finding(message).at(cost.item.span);
            let asked =
                asked.with(first.item.span, "the other row").about(format!("{}.costs.{n}", one.path()));
            let given = [cost.item.value.clone(), cost.amount.value.spoken()];
            let help = "delete one of the two if it is one payment; else tell them apart in their words";
            found.push(asked.given(given).help(help));
        }
    }
    found
}

/// Asks about a balance whose own words say that it is no clean energy credit of the year before.
fn balance_denied(law: &Law, given: &CarriedIn) -> Option<Finding> {
    let shown = given.shown_on.as_ref().filter(|_| !given.amount.value.is_zero())?;
    let text = plain(&shown.value);
    let word = |words: &[&'static str]| words.iter().copied().find(|word| says(&text, word));
    let into = given.year.value;
    let before = into.before();
    let rule = |rule: Rule| law.year(into).map_or_else(String::new, |year| year.cited(rule));
    let improvement = word(&[
        "25c",
        "improvement",
        "nonbusiness",
        "heat pump",
        "windows",
        "insulation",
        "line 30",
        "line 32",
    ]);
    let unfiled = word(&[
        "never claimed",
        "not claimed",
        "never filed",
        "not filed",
        "unclaimed",
        "unfiled",
        "forgot",
        "forgotten",
        "missed",
        "never taken",
        "not taken",
    ]);
    let years: Vec<i16> = text
        .split_whitespace()
        .filter_map(|word| word.parse().ok())
        .filter(|year| (2006..=2099).contains(year))
        .collect();
    let (message, help, authority) = if let Some(word) = improvement {
        (
            format!(
                "the balance carried into {into} is said to be shown on `{}`, with the word \u{201c}{word}\u{201d}: is it clean energy credit? The home improvement credit (25C) is never carried forward",
                shown.value
            ),
            format!(
                "bring in only what Form 5695 of {before} carries forward in its part for the clean energy credit"
            ),
            rule(Rule::ImprovementNoCarryforward),
        )
    } else if let Some(word) = unfiled {
        (
            format!("the balance carried into {into} is said to be shown on `{}`, with the words \u{201c}{word}\u{201d}: was a Form 5695 filed that carries it forward? A credit left out is not moved to a later year", shown.value),
            "enter the property and the return of its own year, so that the chain is figured; an amended return of that year can claim it while the year is open".to_string(),
            rule(Rule::OpenYears),
        )
    } else if !years.is_empty() && !years.contains(&before.0) {
        (
            format!(
                "the balance carried into {into} is said to be shown on `{}`; what does the return for {before} carry forward? Every year between uses credit up",
                shown.value
            ),
            format!(
                "give what Form 5695 of {before} carries forward, or bring the balance into an earlier year and give the returns between"
            ),
            rule(Rule::CarryforwardChain),
        )
    } else {
        return None;
    };
    let asked = codes::BALANCE_WORDS.finding(message).at(shown.span);
    let asked = asked.about(format!("carried_in.{into}"));
    Some(asked.given([given.amount.value.spoken(), shown.value.clone()]).help(help).under(authority))
}

/// Asks who the other person of the latest return is, where that is a joint one. After a divorce or a death one person
/// is right.
fn joint_return_of_one(case: &Case) -> Option<Finding> {
    let [person] = case.client.people.as_slice() else {
        return None;
    };
    let last = case.returns.iter().max_by_key(|one| one.year.value)?;
    if last.filing_status.value != FilingStatus::MarriedFilingJointly {
        return None;
    }
    let year = last.year.value;
    let message = format!(
        "the return for {year} is a joint one, and the case names only {}; who is the spouse?",
        person.name.value
    );
    let asked = codes::SPOUSE_UNNAMED.finding(message).at(last.filing_status.span);
    let asked = asked.about(format!("returns.{year}.filing_status")).given([&person.name.value]);
    Some(asked.help("add the spouse under `client: people:`, or correct the filing status"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_is_written_as_texts_are_compared() {
        for (kind, words) in DENIALS {
            for word in *words {
                assert_eq!(plain(word).trim(), *word, "{kind}");
            }
        }
    }
}
