//! Whether a question can matter: whether any answer to it could change what a return shows or what is carried on.
//!
//! Comes in: a case, its law and its figures with the questions that stand open. Goes out: the questions that can
//! matter. The case is computed again as each answer could have it: without the item that is asked about, and with so
//! much more cost of it that no reduction could show. Where neither changes a figure, no answer in between can, because
//! every credit grows with its cost. Since other open questions may take other items away, the same is asked of the
//! case without any item of which something is asked. What stands beside the credit, such as the home's basis, is no
//! reason to ask.

use crate::case::{Case, Condition, Cost, CostNature, Key};
use crate::credit::chain::{Chain, reckon};
use crate::credit::codes::{self, Code};
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits::CREDITS;
use crate::credit::evaluate::line::{self, Place};
use crate::credit::returns::stage;
use crate::finding::{Finding, Severity};
use crate::law::{Counts, Law};
use crate::money::Money;
use std::collections::BTreeMap;

/// The questions whose answers only take cost of an item away, or let more of it count. Others may put an item into
/// another year, make it another kind or change a limit, and are always asked.
const ABOUT_COST: &[Code] = &[
    codes::STANDARD_UNSAID,
    codes::STANDARD_NOT_THE_ONE,
    codes::ROOF_MATERIAL_UNSAID,
    codes::AUDIT_REPORT_UNSEEN,
    codes::AUDITOR_INCOMPLETE,
    codes::SECOND_HOME_USE,
    codes::LOAN_SUBSIDIZED,
    codes::ROOF_WORDS,
    codes::POOL_WORDS,
    codes::POOL_LABOR,
    codes::FINANCING_WORDS,
    codes::SERVICE_WORDS,
    codes::REMOVAL_WORDS,
    codes::LABOR_WORDS,
    codes::ALL_GOODS,
    codes::SPLIT_UNSAID,
    codes::STRUCTURE_WORDS,
    codes::SITE_WORDS,
    codes::OWN_LABOR_WORDS,
    codes::BUSINESS_WORDS,
    codes::USED_WORDS,
    codes::LEASE_WORDS,
];

/// With questions about more items than a household has, all are asked: computing the case again for each item would
/// take work that grows with the square of their number, and a question too many misleads nobody.
const MOST_ITEMS: usize = 24;

/// More than any cost that stands in a case for a home.
const MUCH: i64 = 10_000_000;

/// Leaves of the open questions those whose answer could change a figure on a return or a carryforward.
pub(in crate::credit) fn keep_what_matters(
    case: &Case,
    law: &Law,
    figures: &Figures,
    found: &mut Vec<Finding>,
) {
    if found.iter().any(|one| one.severity == Severity::Error) {
        return;
    }
    let questioned: Vec<Key> = {
        let mut all: Vec<Key> =
            found.iter().filter(|one| one.blocking).flat_map(|one| items(case, one)).collect();
        all.sort();
        all.dedup();
        all
    };
    if questioned.len() > MOST_ITEMS {
        return;
    }
    let now = shown(case, figures);
    // Several questions about the same items have one answer.
    let mut known: BTreeMap<Vec<Key>, bool> = BTreeMap::new();
    found.retain(|one| {
        let about = items(case, one);
        if !ABOUT_COST.iter().any(|code| code.is_of(one)) || about.is_empty() {
            return true;
        }
        *known.entry(about).or_insert_with_key(|about| can_matter(case, law, about, &questioned, &now))
    });
}

/// Says whether more or less cost of some items could change what is shown, with or without the other items of which
/// something is asked.
fn can_matter(case: &Case, law: &Law, about: &[Key], questioned: &[Key], now: &[Money]) -> bool {
    let same_as_now = |other: &Case| computed(other, law).is_some_and(|shown| shown == now);
    if !same_as_now(&without(case, about)) {
        return true;
    }
    let others: Vec<Key> = questioned.iter().filter(|key| !about.contains(key)).cloned().collect();
    let alone = without(case, &others);
    let (Some(more), Some(more_alone)) = (raised(case, law, about), raised(&alone, law, about)) else {
        return true;
    };
    if !same_as_now(&more) {
        return true;
    }
    let Some(shown_alone) = computed(&alone, law) else { return true };
    let same_as_alone = |other: &Case| computed(other, law).is_some_and(|shown| shown == shown_alone);
    !same_as_alone(&without(&alone, about)) || !same_as_alone(&more_alone)
}

/// Returns the items that a question is about.
fn items(case: &Case, finding: &Finding) -> Vec<Key> {
    let paths = finding.about.iter().chain(&finding.or_about);
    let keys: Vec<&str> =
        paths.filter_map(|path| path.strip_prefix("property.")?.split('.').next()).collect();
    let named = |key: &&Key| keys.contains(&key.to_string().as_str());
    case.property.iter().map(|item| &item.key.value).filter(named).cloned().collect()
}

/// Returns the case with items that earn nothing, because they were used before.
fn without(case: &Case, items: &[Key]) -> Case {
    let mut other = case.clone();
    for item in other.property.iter_mut().filter(|item| items.contains(&item.key.value)) {
        item.condition.value = Condition::Used;
    }
    other
}

/// Returns the case with much more cost of items; none where no cost of the kind counts in full.
fn raised(case: &Case, law: &Law, items: &[Key]) -> Option<Case> {
    let mut other = case.clone();
    for item in other.property.iter_mut().filter(|item| items.contains(&item.key.value)) {
        let home = case.home(&item.home.value)?;
        let year_law = law.year(crate::credit::plan::qualify::timing(item, home).year()?)?;
        let class = year_law.kinds.get(&item.kind.value)?.class;
        let counts = |nature: &CostNature| {
            let law = year_law.costs.get(&(class, *nature));
            law.is_some_and(|law| law.counts == Counts::Yes)
        };
        let nature =
            [CostNature::Equipment, CostNature::Material, CostNature::LumpSum].into_iter().find(counts)?;
        let like = |span| Cost {
            span,
            item: crate::finding::Spanned::new("more".to_string(), span),
            nature: crate::finding::Spanned::new(nature, span),
            amount: crate::finding::Spanned::new(Money::dollars(MUCH), span),
            materials: None,
            paid: None,
            evidence: None,
            treat_as: None,
            because: None,
        };
        item.costs.push(like(item.key.span));
        item.nonbusiness_use = None;
    }
    Some(other)
}

fn computed(case: &Case, law: &Law) -> Option<Vec<Money>> {
    let chain: Chain<'_> = reckon(case, law).ok()?;
    Some(shown(case, &chain.figures))
}

/// Returns what the returns show and carry on. Of a return that is not filed the tax may still change, so that what the
/// credits come to before the tax limit counts as well.
fn shown(case: &Case, figures: &Figures) -> Vec<Money> {
    let mut all = Vec::new();
    let years = figures.all().iter().map(|figure| figure.place.year);
    let years: std::collections::BTreeSet<_> = years.collect();
    let span = years.first().zip(years.last());
    for year in span.into_iter().flat_map(|(first, last)| first.0..=last.0).map(crate::case::TaxYear) {
        let at = |line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
        all.extend(CREDITS.iter().map(|of| at(of.allowed)));
        all.extend(CREDITS.iter().filter_map(|of| of.carried).map(|carried| at(carried.on)));
        if !case.tax_return(year).is_some_and(stage::is_filed) {
            all.extend(CREDITS.iter().map(|of| at(of.before_limit)));
            all.extend(line::CLEAN_EARNED.iter().map(|line| at(*line)));
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use crate::credit::sample::household;

    fn asked(rest: &str) -> Vec<&'static str> {
        household(rest).1.findings.iter().map(|one| one.code).collect()
    }

    const DOOR: &str = "property:\n  door:\n    kind: exterior_door\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2016-08-01\n    costs: [{item: door, as: equipment, amount: 900}]\n";

    #[test]
    fn a_standard_is_not_asked_where_the_limit_is_used_up() {
        let filed = "returns:\n  2016: {stage: filed, filing_status: single, tax_before_credits: 4000, claimed: {improvement: 0}}\n";
        let earlier = |amount: i32| {
            format!("{DOOR}{filed}earlier_credits:\n  2011: {{nonbusiness_energy_credit: {amount}}}\n")
        };
        assert!(!asked(&earlier(850)).contains(&"standard-unsaid"));
        assert!(asked(&earlier(850)).contains(&"lifetime-limit-cuts"));
        assert!(asked(&earlier(450)).contains(&"standard-unsaid"));
        assert!(asked(&earlier(450)).contains(&"lifetime-limit-cuts"));
        assert!(!asked(&earlier(100)).contains(&"lifetime-limit-cuts"));
    }

    #[test]
    fn a_year_without_tax_is_settled_only_when_it_is_filed() {
        let of = |stage: &str| {
            let tax = "filing_status: single, tax_before_credits: 0, claimed: {improvement: 0}";
            let claimed = if stage == "filed" {
                tax.to_string()
            } else {
                tax.replace(", claimed: {improvement: 0}", "")
            };
            format!("{}returns:\n  2023: {{stage: {stage}, {claimed}}}\n", DOOR.replace("2016-08", "2023-08"))
        };
        assert!(!asked(&of("filed")).contains(&"standard-unsaid"));
        assert!(asked(&of("draft")).contains(&"standard-unsaid"));
    }

    /// Any one of three could be missing without a change, but not all of them.
    #[test]
    fn items_that_could_fall_together_are_all_asked_about() {
        let window = |key: &str| {
            format!(
                "  {key}:\n    kind: window_or_skylight\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{{item: windows of {key}, as: equipment, amount: 4000}}, {{item: installed {key}, as: equipment, amount: 3000}}]\n"
            )
        };
        let case = format!(
            "property:\n{}{}returns:\n  2023: {{filing_status: single, tax_before_credits: 9000}}\n",
            window("east"),
            window("west")
        );
        let labor = asked(&case).iter().filter(|code| **code == "labor-words").count();
        assert_eq!(labor, 2);
    }
}
