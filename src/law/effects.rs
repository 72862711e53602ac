//! What the words of a case do to the figures, for someone who has to choose one.
//!
//! Comes in: words with the list they belong to, and the law of the year. Goes out: for each word what it does. What
//! counts, which limits there are and which home is asked for comes from the law's data; only what a filing status, a
//! stage or a day does is in words here, because it is no value of a year. Picks nothing.

use super::{
    Amount, Class, Counts, Credit, Effect, Group, HomeRule, KindLaw, Law, LawKey, MethodStep, YearLaw,
};
use crate::case::{
    Acquired, Condition, CostNature, FilingStatus, FinancedAs, HeldAs, HomeUse, IncentiveKind, Kind,
    OtherCredit, PartOf, Stage, TaxYear,
};
use crate::finding::{Choices, Finding};

/// From how many words of a list on they are put together by what they do.
const LONG: usize = 7;

/// Adds to the help of a finding what each of its choices does to the figures.
pub fn explain(finding: &mut Finding, law: &Law) {
    let Some(choices) = &finding.choices else { return };
    let kind = choices.kind.and_then(Kind::from_word);
    let Some(year) = year(choices, kind, law) else { return };
    let mut lines = vec![format!("What each does to the figures, by the law of {}:", year.year)];
    let mut lists: Vec<&str> = Vec::new();
    for (list, _) in &choices.words {
        if !lists.contains(list) {
            lists.push(list);
        }
    }
    for list in lists {
        let words = choices.words.iter().filter(|(of, _)| *of == list).map(|(_, word)| *word);
        lines.extend(of_list(list, &words.collect::<Vec<_>>(), kind, year, choices));
    }
    let help = finding.help.take().unwrap_or_default();
    finding.help = Some(format!("{help}\n{}", lines.join("\n")));
}

/// Returns the law to speak of: that of the item's day where the kind is known to it, else the last with every credit.
fn year<'l>(choices: &Choices, kind: Option<Kind>, law: &'l Law) -> Option<&'l YearLaw> {
    let of_day = choices.year.and_then(|year| law.year(TaxYear(year)));
    let fits =
        |one: &&YearLaw| !one.kinds.is_empty() && kind.is_none_or(|kind| one.kinds.contains_key(&kind));
    let all = |one: &&YearLaw| Credit::ALL.iter().all(|credit| one.in_force(*credit));
    of_day.filter(fits).or_else(|| law.all().rev().find(all))
}

/// Returns the lines for the words of one list.
fn of_list(
    list: &str,
    words: &[&'static str],
    kind: Option<Kind>,
    year: &YearLaw,
    choices: &Choices,
) -> Vec<String> {
    let key = match list {
        "cost" | "incentive" | "financed" => "as",
        list => list,
    };
    let place = match (list, choices.of.contains(&list)) {
        (_, true) => "",
        ("cost", false) => " under the item's `costs`",
        ("incentive", false) => " under the item's `incentives`",
        ("kind", false) => " as an item of its own",
        _ => "",
    };
    let does: Vec<(&str, String)> =
        words.iter().map(|word| (*word, effect(list, word, kind, year))).collect();
    if words.len() < LONG {
        let line = |(word, effect): &(&str, String)| {
            if list == "other_credits" {
                return format!("`{word}` ({}): {effect}", label(list, word).unwrap_or_default());
            }
            let label = label(list, word).filter(|label| *label != word.replace('_', " "));
            let called = label.map_or_else(String::new, |label| format!(" ({label})"));
            format!("`{key}: {word}`{place}{called}: {effect}")
        };
        return does.iter().map(line).collect();
    }
    let mut effects: Vec<&str> = Vec::new();
    for (_, effect) in &does {
        if !effects.contains(&effect.as_str()) {
            effects.push(effect);
        }
    }
    let line = |effect: &&str| {
        let words = does.iter().filter(|(_, of)| of == effect).map(|(word, _)| format!("`{word}`"));
        format!("`{key}`{place}, {effect}: {}", words.collect::<Vec<_>>().join(", "))
    };
    effects.iter().map(line).collect()
}

/// Returns what paper calls a word.
fn label(list: &str, word: &str) -> Option<&'static str> {
    Some(match list {
        "kind" => Kind::from_word(word)?.label(),
        "cost" => CostNature::from_word(word)?.label(),
        "incentive" => IncentiveKind::from_word(word)?.label(),
        "use" => HomeUse::from_word(word)?.label(),
        "acquired" => Acquired::from_word(word)?.label(),
        "part_of" => PartOf::from_word(word)?.label(),
        "other_credits" => OtherCredit::from_word(word)?.label(),
        _ => return None,
    })
}

/// Says what a word does to the figures of a year.
fn effect(list: &str, word: &str, kind: Option<Kind>, year: &YearLaw) -> String {
    let kind_law = kind.and_then(|kind| year.kinds.get(&kind));
    let said = match list {
        "kind" => Kind::from_word(word).map(|one| of_kind(one, year)),
        "cost" => CostNature::from_word(word).map(|one| match kind_law {
            Some(kind_law) => of_cost(year, kind_law.class, one).to_string(),
            None => by_class(year, one),
        }),
        "incentive" => IncentiveKind::from_word(word).map(|one| match kind_law {
            Some(kind_law) => of_incentive(year, kind_law.credit, one).to_string(),
            None => by_credit(|credit| of_incentive(year, credit, one)),
        }),
        "financed" => FinancedAs::from_word(word).map(|one| match one {
            FinancedAs::Loan => "borrowed money counts as paid".to_string(),
            FinancedAs::SubsidizedEnergyFinancing => {
                by_credit(|credit| match year.subsidized_financing_counts.get(&credit) {
                    Some((true, _)) => "cost paid from it counts",
                    _ => "cost paid from it does not count",
                })
            }
        }),
        "use" => HomeUse::from_word(word).map(|one| of_use(one, year)),
        "held_as" => HeldAs::from_word(word).map(|one| of_right(one, year)),
        "acquired" => Acquired::from_word(word).map(|one| match one {
            Acquired::Bought => "the client owns it, so its cost counts".to_string(),
            Acquired::Leased | Acquired::PowerContract => {
                "someone else owns it, so it does not count".to_string()
            }
        }),
        "part_of" => PartOf::from_word(word).map(|one| of_part(one, kind_law)),
        "condition" => Condition::from_word(word).map(|one| match one {
            Condition::New => "counts".to_string(),
            Condition::Used => "does not count".to_string(),
        }),
        "filing_status" => FilingStatus::from_word(word).map(|one| of_status(one).to_string()),
        "stage" => Stage::from_word(word).map(|one| of_stage(one).to_string()),
        "treat_as" => Some(of_treatment(word).to_string()),
        "other_credits" => OtherCredit::from_word(word).map(|one| of_other_credit(one, year)),
        _ => None,
    };
    said.unwrap_or_default()
}

/// Says in a few words what becomes of a cost.
pub fn of_cost(year: &YearLaw, class: Class, nature: CostNature) -> &'static str {
    if nature == CostNature::Discount {
        return "reduces the cost";
    }
    match year.costs.get(&(class, nature)).map(|one| (one.counts, one.authority.settled)) {
        Some((Counts::Yes, true)) => "counts",
        Some((Counts::Yes, false)) => "counts, but disputed",
        Some((Counts::MaterialsOnly, _)) => "only the materials count",
        Some((Counts::No, true)) => "does not count",
        Some((Counts::No, false)) => "does not count, but disputed",
        None => "is kept and does not count",
    }
}

/// Says in a few words what an incentive does to the cost.
pub fn of_incentive(year: &YearLaw, credit: Credit, kind: IncentiveKind) -> &'static str {
    match year.incentives.get(&(credit, kind)).map(|one| (one.effect, one.authority.settled)) {
        Some((Effect::ReducesCost, true)) => "reduces the cost",
        Some((Effect::ReducesCost, false)) => "reduces the cost, but disputed",
        Some((Effect::LeavesCost, true)) => "does not reduce the cost",
        Some((Effect::LeavesCost, false)) => "does not reduce the cost, but disputed",
        None => "is not known to the law of the year",
    }
}

/// Says what becomes of a cost in each class of property, or once where it is the same in all.
fn by_class(year: &YearLaw, nature: CostNature) -> String {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for class in Class::ALL.iter().filter(|class| year.in_force(class.credit())) {
        let does = of_cost(year, *class, nature);
        match said.iter_mut().find(|(of, _)| *of == does) {
            Some((_, classes)) => classes.push(class.label()),
            None => said.push((does, vec![class.label()])),
        }
    }
    match said.as_slice() {
        [(does, _)] => (*does).to_string(),
        several => {
            let part = |(does, classes): &(&str, Vec<&str>)| format!("{does} ({})", classes.join(", "));
            several.iter().map(part).collect::<Vec<_>>().join("; ")
        }
    }
}

/// Says what holds for each credit, or once where it is the same for all.
fn by_credit(says: impl Fn(Credit) -> &'static str) -> String {
    let first = Credit::ALL.first().map_or("", |credit| says(*credit));
    match Credit::ALL.iter().all(|credit| says(*credit) == first) {
        true => first.to_string(),
        false => {
            let part = |credit: &Credit| format!("{}: {}", credit.section(), says(*credit));
            Credit::ALL.iter().map(part).collect::<Vec<_>>().join("; ")
        }
    }
}

/// Says which credit a kind earns, with its rate and limits, and for which home.
pub fn of_kind(kind: Kind, year: &YearLaw) -> String {
    let Some(kind_law) = year.kinds.get(&kind) else {
        return format!("earns neither credit in {}", year.year);
    };
    let home = match kind_law.home {
        HomeRule::AnyResidence => "for a home the client lives in",
        HomeRule::MainHome => "for the main home",
        HomeRule::OwnedMainHome => "for the main home, if the client owns it",
    };
    let credit = kind_law.credit;
    let rate = shown(year, credit.rate()).map_or_else(String::new, |rate| format!(" of {rate}"));
    let limits = limits(kind, kind_law, year);
    let rest = match year.carries_forward(credit) {
        true => "what the tax cannot take is carried forward",
        false => "not carried forward",
    };
    format!("{}{rate}{limits}; {rest}; {home}", credit.section())
}

/// Says which limits hold for a kind: its own, one for the year, one for several years together.
fn limits(kind: Kind, kind_law: &KindLaw, year: &YearLaw) -> String {
    use LawKey::*;
    let reaching = year.limit_of(kind).and_then(|key| Some((key, shown(year, key)?)));
    let own = match &reaching {
        Some((WindowCostCap, cost)) => format!(", up to cost {cost}"),
        Some((FuelCellCapPerKw, cap)) => format!(", up to {cap} a kilowatt"),
        Some((_, cap)) => format!(", up to {cap}"),
        None => String::new(),
    };
    let of_year = match (kind_law.group, shown(year, GeneralCap)) {
        (Group::None, _) | (_, None) => "",
        (Group::General, Some(general)) if reaching.as_ref().is_none_or(|(_, own)| *own != general) => {
            return format!("{own}, within {general} a year");
        }
        _ => " a year",
    };
    let of_all = shown(year, AllYearsCap).filter(|_| {
        kind_law.credit == MethodStep::LimitOfAllYears.credit()
            && year.figured_with(MethodStep::LimitOfAllYears)
    });
    match of_all {
        Some(all) => format!("{own}, within {all} for all years together"),
        None if own.is_empty() => ", without a dollar limit".to_string(),
        None => format!("{own}{of_year}"),
    }
}

/// Writes a value of the law.
fn shown(year: &YearLaw, key: LawKey) -> Option<String> {
    Some(match year.values.get(&key)?.amount {
        Amount::Money(amount) => amount.spoken(),
        Amount::Rate(rate) => rate.to_string(),
        Amount::Quantity(quantity) => quantity.to_string(),
    })
}

/// Names the kinds of a year whose home must be of some sort.
fn kinds(year: &YearLaw, of: impl Fn(HomeRule) -> bool) -> String {
    let found = Kind::ALL.iter().filter(|kind| year.kinds.get(kind).is_some_and(|law| of(law.home)));
    found.map(|kind| kind.label()).collect::<Vec<_>>().join(", ")
}

fn of_use(home_use: HomeUse, year: &YearLaw) -> String {
    match home_use {
        HomeUse::MainHome => "every kind can count".to_string(),
        HomeUse::OtherResidence => {
            format!("does not count: {}", kinds(year, |home| home != HomeRule::AnyResidence))
        }
        HomeUse::RentedToOthers => "the client rents it out; nothing counts".to_string(),
        HomeUse::Vacant => "nobody lives there; nothing counts".to_string(),
    }
}

fn of_right(right: HeldAs, year: &YearLaw) -> String {
    match right {
        HeldAs::Owner => "the client owns it; every kind can count".to_string(),
        HeldAs::Renter => format!(
            "the client is the tenant; does not count: {}",
            kinds(year, |home| home == HomeRule::OwnedMainHome)
        ),
        HeldAs::CoopShareholder | HeldAs::CondoMember => {
            "counts as an owner; of what the association or corporation paid, the client's share counts"
                .to_string()
        }
    }
}

fn of_part(part: PartOf, kind_law: Option<&KindLaw>) -> String {
    match part {
        PartOf::ExistingHome => "counts in the year it was installed".to_string(),
        PartOf::Renovation => {
            "counts in the year it was installed, or in that of the home's `original_use` where that is later"
                .to_string()
        }
        PartOf::NewHome => {
            let clean = "25D counts in the year the client first used the home";
            match kind_law.map(|law| law.existing_home_only) {
                Some(true) => "earns no 25C".to_string(),
                Some(false) => clean.to_string(),
                None => format!("{clean}; 25C never counts"),
            }
        }
    }
}

fn of_status(status: FilingStatus) -> &'static str {
    match status {
        FilingStatus::MarriedFilingJointly => "one return of both: its tax, and what either of them paid",
        FilingStatus::MarriedFilingSeparately => {
            "this client's own return: its tax, and only what this client paid"
        }
        FilingStatus::QualifyingSurvivingSpouse => {
            "the survivor's own return, for two years after the year of death and with a dependent child"
        }
        FilingStatus::HeadOfHousehold => "the client's own return, with a qualifying person in the home",
        FilingStatus::Single => "the client's own return",
    }
}

fn of_stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Projected => "not begun; figures are expected ones",
        Stage::Draft => "in preparation; figures can still go on it",
        Stage::Filed => "already filed; figures are compared with `claimed`, and a claim window is counted",
        Stage::Amended => "filed and amended since; `claimed` is what it shows now",
    }
}

/// Says whose tax limits another credit lowers.
fn of_other_credit(credit: OtherCredit, year: &YearLaw) -> String {
    let lowers = |of: &&Credit| year.before.get(of).is_some_and(|order| order.credits.contains(&credit));
    let lowered: Vec<&Credit> = Credit::ALL.iter().filter(lowers).collect();
    match (lowered.as_slice(), Credit::ALL.len()) {
        ([], _) => "lowers neither tax limit".to_string(),
        (all, count) if all.len() == count => "lowers the tax limit of both credits".to_string(),
        // What comes before a credit comes before those after it as well.
        ([last], _) if Some(*last) == Credit::ALL.last() => {
            format!("lowers the tax limit of {} only", last.section())
        }
        (some, _) => {
            let sections: Vec<&str> = some.iter().map(|credit| credit.section()).collect();
            format!("lowers the tax limit of {}", sections.join(" and "))
        }
    }
}

fn of_treatment(word: &str) -> &'static str {
    match word {
        "counted" => "the cost counts",
        "not_counted" => "the cost does not count",
        "reduces_cost" => "the incentive reduces the cost",
        "does_not_reduce" => "the incentive does not reduce the cost",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn explained(choices: Choices) -> String {
        let mut finding = Finding::error("unknown-word", "x").help("choose").choices(choices);
        explain(&mut finding, Law::built_in());
        finding.help.unwrap_or_default()
    }

    /// Rates and limits of 2025: 26 U.S.C. 25C(b), 25D(g) (as in `src/law/years/2025.yaml`).
    #[test]
    fn each_choice_is_told_with_what_it_does() {
        let words = vec![
            ("kind", "fuel_water_heater"),
            ("kind", "heat_pump_water_heater"),
            ("kind", "solar_water_heating"),
        ];
        let told = explained(Choices { of: vec!["kind"], words, kind: None, year: Some(2025) });
        for line in [
            "oil water heater): 25C of 30%, up to $600, within $1,200 a year; not carried forward",
            "heat pump water heater): 25C of 30%, up to $2,000 a year; not carried forward",
            "solar water heating property): 25D of 30%, without a dollar limit; what the tax cannot take is carried forward",
        ] {
            assert!(told.contains(line), "{told}");
        }
    }

    /// Labor counts for energy property (26 U.S.C. 25C(d)(1)), not for windows (25C(c)(1)); so the item decides.
    #[test]
    fn the_kind_of_the_item_decides_what_a_cost_does() {
        let of = |kind| {
            let words = vec![("cost", "onsite_labor")];
            explained(Choices { of: vec!["cost"], words, kind: Some(kind), year: Some(2024) })
        };
        assert!(of("heat_pump").ends_with("(labor on site): counts"), "{}", of("heat_pump"));
        assert!(of("window_or_skylight").ends_with("(labor on site): does not count"));
    }

    /// Every word of every list says what it does, under the law of every year with a credit.
    #[test]
    fn no_word_is_left_unexplained() {
        macro_rules! words {
            ($($list:literal: $name:ident),+) => {
                [$(($list, $name::ALL.iter().map(|one| one.word()).collect::<Vec<_>>())),+]
            };
        }
        let lists = words![
            "kind": Kind, "cost": CostNature, "incentive": IncentiveKind, "financed": FinancedAs, "use": HomeUse,
            "held_as": HeldAs, "acquired": Acquired, "part_of": PartOf, "condition": Condition,
            "filing_status": FilingStatus, "stage": Stage, "other_credits": OtherCredit
        ];
        for year in Law::built_in().all().filter(|year| !year.kinds.is_empty()) {
            for (list, words) in &lists {
                for word in words {
                    let said = effect(list, word, None, year);
                    assert!(
                        !said.is_empty() && !said.contains("of ,"),
                        "{}: {list}: {word}: {said}",
                        year.year
                    );
                }
            }
        }
    }
}
