//! Where the law is open: which reading was taken, and what a preparer should know of it.
//!
//! Comes in: the items that count, and the figures with the decisions inside them. Goes out: notes, and questions where
//! another reading could change a figure. Takes no reading itself.

use super::counting::Counting;
use crate::case::{Case, FilingStatus, IncentiveKind, Kind, SharedRow, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::line;
use crate::credit::evaluate::{Figure, Figures, Used};
use crate::finding::Finding;
use crate::law::{Credit, Law, Rule, YearLaw};
use crate::money::Money;
use crate::wording::listed;
use rust_decimal::Decimal;

/// Notes every open point that the case touches.
pub(super) fn notes(case: &Case, law: &Law, counting: &[Counting<'_>], figures: &Figures) -> Vec<Finding> {
    let mut found = unsettled(case, law, counting, figures);
    for one in counting {
        found.extend(measure(one));
        found.extend(fraction(one));
    }
    found.extend(occupants(counting));
    found.extend(home_rebate_split(case, counting));
    found.extend(lifetime_limit_over(case, law, counting));
    found
}

/// Notes the readings that were taken by default, once for a year, with every row they touch.
fn unsettled(case: &Case, law: &Law, counting: &[Counting<'_>], figures: &Figures) -> Vec<Finding> {
    let mut years: Vec<TaxYear> = counting.iter().map(Counting::year).collect();
    years.sort_unstable();
    years.dedup();
    years.into_iter().filter_map(|year| unsettled_in(year, case, law, figures)).collect()
}

fn unsettled_in(year: TaxYear, case: &Case, law: &Law, figures: &Figures) -> Option<Finding> {
    let rows = figures.all().iter().filter(|figure| {
        figure.place.year == year && matches!(figure.place.line, line::COST_COUNTED | line::INCENTIVE_REDUCES)
    });
    let mut found: Option<Finding> = None;
    for figure in rows {
        let open = figure.rulings().into_iter().find(|ruling| !ruling.settled && ruling.chosen.is_none());
        let (Some(ruling), Some(fact)) = (open, fact_of(figure, figures)) else { continue };
        // These are asked about one by one.
        if asked_elsewhere(case, figure) {
            continue;
        }
        let note = found.take().unwrap_or_else(|| {
            let message = format!("where the law is not settled, these readings were taken for {year}");
            let help =
                "nothing is to be done if they are right here; otherwise write `treat_as:` with `because:`";
            codes::LAW_NOT_SETTLED.finding(message).at(fact.span).help(help).of_year(year.0)
        });
        // A row shared over several items stands in the case once.
        let said = note.related.iter().any(|(span, _)| *span == fact.span);
        let note = match said {
            true => note,
            false => note.with(fact.span, format!("{}: {}", fact.words, ruling.because)),
        };
        let cited = law.cite(&ruling.authority.join("; "));
        found = Some(match cited.is_empty() || note.authority.contains(&cited) {
            true => note,
            false => note.under(cited),
        });
    }
    found.map(|note| {
        let rows: Vec<String> = note
            .related
            .iter()
            .map(|(_, said)| said.split(": ").next().unwrap_or(said).to_string())
            .collect();
        let words = format!(
            "readings taken for {year} where the law is not settled: {}; the worksheet gives the reasons",
            listed(&rows)
        );
        note.again(words)
    })
}

/// Returns the amount of the case that a row is about.
fn fact_of<'f>(figure: &'f Figure, figures: &'f Figures) -> Option<&'f crate::credit::evaluate::CaseRef> {
    figure.used.iter().find_map(|used| match used {
        Used::Fact(fact) if fact.value.money().is_some_and(|amount| amount > Money::ZERO) => Some(fact),
        Used::Figure(place, _) => figures.get(place)?.used.iter().find_map(|used| match used {
            Used::Fact(fact) if fact.value.money().is_some_and(|amount| amount > Money::ZERO) => Some(fact),
            _ => None,
        }),
        _ => None,
    })
}

/// Says whether a question asks about this incentive's character already.
fn asked_elsewhere(case: &Case, figure: &Figure) -> bool {
    use crate::credit::evaluate::line::Subject;
    let Subject::Incentive(key, n) = &figure.place.of else { return false };
    let Some(item) = case.item(key) else { return false };
    let own = item.incentives.get(usize::from(*n) - 1).map(|one| one.kind.value);
    let shared = || {
        let of_item =
            case.shared.iter().filter(|shared| shared.over.iter().any(|(over, _)| over.value == *key));
        let kinds = of_item.filter_map(|shared| match &shared.row {
            SharedRow::Incentive(one) => Some(one.kind.value),
            SharedRow::Cost(_) => None,
        });
        let mut kinds = kinds;
        kinds.nth(usize::from(*n).checked_sub(1 + item.incentives.len())?)
    };
    matches!(
        own.or_else(shared),
        Some(IncentiveKind::Other | IncentiveKind::StateGrant | IncentiveKind::LocalGrant)
    )
}

/// Notes that no rule says how the share of nonbusiness use is measured.
fn measure(one: &Counting<'_>) -> Option<Finding> {
    let share = one.item().nonbusiness_use.as_ref()?;
    if share.value.factor() == Decimal::ONE {
        return None;
    }
    let message =
        format!("how the share of {} was measured is for the file; the law prescribes no way", share.value);
    let note = codes::NONBUSINESS_MEASURE.finding(message).at(share.span);
    Some(
        note.help("keep a note of it, such as rooms, area or hours")
            .under(one.rule(Rule::NonbusinessMeasure)),
    )
}

/// Notes a capacity that is no whole number of half kilowatts: form and statute treat the rest in two ways.
fn fraction(one: &Counting<'_>) -> Option<Finding> {
    let capacity = one.item().capacity_kw.as_ref().filter(|_| one.item().kind.value == Kind::FuelCell)?;
    if (capacity.value.0 * Decimal::TWO).fract().is_zero() {
        return None;
    }
    let message = format!(
        "{} kilowatts are no whole number of half kilowatts; the form's figure stands, and what the law gives for the rest is not settled",
        capacity.value
    );
    let note = codes::FUEL_CELL_FRACTION.finding(message).at(capacity.span);
    Some(
        note.help("compare the figure with the data sheet; else nothing is to be done")
            .under(one.rule(Rule::FuelCellHalfKilowatt)),
    )
}

/// Notes, once for a year, that others paid toward property whose limits the occupants share.
fn occupants(counting: &[Counting<'_>]) -> Vec<Finding> {
    let mut found: Vec<(TaxYear, Finding)> = Vec::new();
    for one in counting.iter().filter(|one| one.kind_law.credit == Credit::Improvement) {
        let Some(paid) = one.item().paid_by_others.as_ref().filter(|paid| !paid.value.is_zero()) else {
            continue;
        };
        let joint =
            one.tax_return.is_some_and(|one| one.filing_status.value == FilingStatus::MarriedFilingJointly);
        let settled = one.law.rules.get(&Rule::JointImprovement).is_none_or(|rule| rule.authority.settled);
        if joint || settled || found.iter().any(|(year, _)| *year == one.year()) {
            continue;
        }
        let message = format!(
            "others paid toward `{}`, so limits of {} are shared by payments: those of items where all credits together would pass them, the yearly one of $1,200 where this return's own items pass it; for this year that rests on the rule for 2023",
            one.item().key.value,
            one.year()
        );
        let note = codes::JOINT_OCCUPANTS.finding(message).at(paid.span);
        let help =
            "mark the return as the form asks, attach the statement, and see that the others' returns agree";
        found.push((one.year(), note.help(help).under(one.rule(Rule::JointImprovement))));
    }
    found.into_iter().map(|(_, note)| note).collect()
}

/// Asks how a federal home energy rebate was split over items, for the announcement's rule on that was not read in full.
fn home_rebate_split(case: &Case, counting: &[Counting<'_>]) -> Vec<Finding> {
    let shared = (1..).zip(&case.shared).filter(|(_, shared)| shared.over.len() > 1);
    shared
        .filter_map(|(n, shared)| {
            let SharedRow::Incentive(rebate) = &shared.row else { return None };
            let counts = counting.iter().any(|one| shared.over.iter().any(|(key, _)| key.value == one.item().key.value));
            if rebate.kind.value != IncentiveKind::FederalHomeRebate || rebate.treat_as.is_some() || !counts {
                return None;
            }
            let message = format!(
                "how was the federal home energy rebate of {} split over its items? The limits make the parts matter",
                rebate.amount.value.spoken()
            );
            let question = codes::HOME_REBATE_SPLIT.finding(message).at(rebate.kind.span);
            let given = [rebate.from.value.clone(), rebate.amount.value.spoken(), format!("{} items", shared.over.len())];
            let help = "take the parts from the rebate's own notice, and answer where they come from";
            Some(question.about(format!("shared.{n}")).given(given).help(help).under("ANN_2024_19"))
        })
        .collect()
}

/// Notes credits of earlier years that limit nothing: no property of a year with a lifetime limit counts.
fn lifetime_limit_over(case: &Case, law: &Law, counting: &[Counting<'_>]) -> Option<Finding> {
    let first = case.earlier_credits.first()?;
    let limits = |year: TaxYear| law.year(year).and_then(YearLaw::looking_back).is_some();
    let any = counting.iter().any(|one| one.kind_law.credit == Credit::Improvement && limits(one.year()));
    if any {
        return None;
    }
    let note = codes::LIFETIME_LIMIT_OVER.finding(
        "credits of earlier years change nothing here: the lifetime limit held through 2022, and no 25C property of such a year counts",
    );
    let note = note
        .at(first.year.span)
        .help("nothing is to be done; the limits of 2023 to 2025 are for each year alone");
    Some(note.under("26 U.S.C. 25C(b), as in force from 2023"))
}
