//! Questions about what was bought: day, kind, home, the facts that the law of the year asks for.
//!
//! Which kinds there are in a year, what each must have, and which credit it falls under are law; here stands only how
//! to ask for it.

use super::asking::{Choice, Conversation, Question, Stop};
use super::client::ask_address;
use super::draft::{self, Address, Draft, Home, Item, Settled, Value};
use super::{maybe_day, money, paid, terms};
use crate::case::single::{self, Form, Refusal};
use crate::case::{Acquired, Condition, FinancedAs, HeldAs, HomeUse, Kind, PartOf, TaxYear};
use crate::law::{Amount, Class, Credit, FactName, KindLaw, Law, LawKey, Requirement, Rule, YearLaw};
use crate::money::{Quantity, Rate};
use crate::wording::{capital, sentence};
use jiff::civil::Date;

/// Asks for everything bought, one item after another.
pub(super) fn all(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("What was bought");
    for n in 1.. {
        let words = match n {
            1 => "Was something bought for a home: solar panels, a heat pump, windows and the like?",
            _ => "Was anything else bought?",
        };
        let more = Question::yes_no(format!("property.more.{n}"), words, n == 1)
            .explain("Each kind of thing is entered on its own. Write no if the client only brings credit from earlier years.");
        if !i.yes_no(more)? {
            break;
        }
        one(i, draft, n)?;
    }
    paid::shared(i, draft)?;
    enabled(i, draft)
}

/// What is known of an item while its questions are asked.
struct About<'l> {
    id: String,
    kind: Kind,
    year: &'l YearLaw,
    law: &'l Law,
    kind_law: Option<&'l KindLaw>,
}

impl About<'_> {
    fn id(&self, key: &str) -> String {
        format!("{}.{key}", self.id)
    }

    fn audit(&self) -> bool {
        self.kind == Kind::HomeEnergyAudit
    }
}

fn one(i: &mut Conversation<'_>, draft: &mut Draft, n: usize) -> Result<(), Stop> {
    let law = i.law;
    let id = format!("property.{n}");
    let day = day(i, draft, &id)?;
    let Some(year) = law.year(TaxYear::of(day)) else {
        return Err(Stop::Fault(format!("there is no law of {day}")));
    };
    let kind = kind(i, &id, year)?;
    i.heading(format!("{} of {day}", capital(kind.label())));
    let (home, ordinary) = home_and_ordinary(i, draft, &id, kind)?;
    let asked = !ordinary && kind != Kind::HomeEnergyAudit;
    let part_of = if asked { part_of(i, &id)? } else { PartOf::ExistingHome };
    let first_use = first_use(i, draft, home, part_of, &id)?;
    let decides = first_use.map_or(day, |first_use| first_use.max(day));
    // Bound once more, because a new home counts in the year of its first use.
    let year = law.year(TaxYear::of(decides)).unwrap_or(year);
    let about = About { id, kind, year, law, kind_law: year.kinds.get(&kind) };
    let key = draft::key(kind.word(), "item", draft.items.iter().map(|one| one.key.as_str()));
    let mut item = Item {
        key,
        kind,
        credit: about.kind_law.map(|one| one.credit),
        home: draft.homes[home].key.clone(),
        part_of,
        day,
        year: year.year,
        facts: Vec::new(),
        costs: Vec::new(),
        incentives: Vec::new(),
    };
    came_by(i, &about, asked, &mut item)?;
    days(i, &about, day, &mut item)?;
    asked_by_law(i, &about, day, &mut item)?;
    units_and_codes(i, &about, &mut item)?;
    standard(i, &about, &mut item)?;
    let class = about.kind_law.map_or(Class::Clean, |one| one.class);
    association(i, &about, &draft.homes[home], &mut item)?;
    paid::costs(i, draft, &mut item, &about.id, (year, class))?;
    paid::incentives(i, draft, &mut item, &about.id, (year, class.credit()))?;
    money_matters(i, &about, &draft.homes[home], &mut item)?;
    draft.settled.extend(ordinary_loan(&about, &item));
    i.note(&format!("Noted: {}, {}.", item.name(), item.paid().spoken()));
    draft.items.push(item);
    Ok(())
}

fn day(i: &mut Conversation<'_>, draft: &Draft, id: &str) -> Result<Date, Stop> {
    let (law, today) = (i.law, i.today);
    let years = super::years(law);
    let words = "On what day was the work complete? (An energy audit: the day it was paid)";
    // What was bought together is often finished together.
    let likely = draft.items.last().map(|one| one.day.to_string());
    let question = Question::value(format!("{id}.day"), words, Form::Date)
        .maybe(likely)
        .explain(terms::DAY)
        .when(move |text| {
            let day: Option<Date> = text.parse().ok();
            let (Some(day), Some(first), Some(last)) = (day, years.first(), years.last()) else {
                return Ok(());
            };
            if day > today {
                let message =
                    format!("{day} lies after today, {today}; only finished work can earn a credit");
                return Err(Refusal::new(
                    message,
                    "correct the day, or begin the case when the work is done",
                ));
            }
            match years.contains(&TaxYear::of(day)) {
                true => Ok(()),
                false => Err(Refusal::new(
                    format!("the program has the law of {first} to {last}, not of {}", day.year()),
                    "correct the day; credit left over from earlier work is asked for later",
                )),
            }
        });
    i.day(question)
}

/// Asks what was bought, from the kinds of the year; where the credits had ended, from those of the last year.
fn kind(i: &mut Conversation<'_>, id: &str, year: &YearLaw) -> Result<Kind, Stop> {
    let law = i.law;
    let ended = !Credit::ALL.iter().any(|credit| year.in_force(*credit));
    if ended {
        i.note(&format!(
            "Work finished in {} earns no credit. {}",
            year.year,
            terms::rule(year, law, Rule::Ends)
        ));
    }
    let mut before =
        super::years(law).into_iter().rev().filter(|one| *one <= year.year).filter_map(|one| law.year(one));
    let earlier = before.find(|one| !one.kinds.is_empty());
    let of = if year.kinds.is_empty() { earlier.unwrap_or(year) } else { year };
    let kinds: Vec<Kind> = Kind::ALL.iter().copied().filter(|kind| of.kinds.contains_key(kind)).collect();
    let choices = kinds.iter().map(|kind| Choice::new(kind.word(), terms::kind_choice(*kind))).collect();
    let words = match ended {
        true => "What was it? It stays in the case, without credit".to_string(),
        false => format!("What was it? These earn a credit in {}", year.year),
    };
    let question = Question::choice(format!("{id}.kind"), words, choices)
        .explain(terms::kinds(&kinds, of))
        .decides(format!("{id}."));
    let word = i.ask(question)?;
    Kind::from_word(&word).ok_or_else(|| Stop::Fault(format!("{word} was taken for a kind")))
}

// ---- The home ----

/// Asks in one question what is so for nearly everything: bought new, for a home already lived in that the client owns
/// and mostly lives in, or for the home of what was bought before. Returns the number of the home, and whether it was so.
fn home_and_ordinary(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    id: &str,
    kind: Kind,
) -> Result<(usize, bool), Stop> {
    let before = draft.items.last().and_then(|one| draft.homes.iter().position(|home| home.key == one.home));
    let address = match (before, &draft.mail_to) {
        (Some(n), _) => draft.homes[n].address.clone(),
        (None, Some(there)) if !there.is_a_box() => there.clone(),
        (None, _) => {
            let words = "Address of the home, on one line, such as 12 Alder Lane, Riverton, MA 01040";
            ask_address(i, "homes.1.address", words, None)?
        }
    };
    let home = match before {
        Some(n) => draft.homes[n].clone(),
        None => home(draft, address.clone(), HomeUse::MainHome, HeldAs::Owner),
    };
    let lived_in = match (home.use_, home.held_as) {
        (HomeUse::MainHome, HeldAs::Owner) => "the client's own main home".to_string(),
        (use_, held_as) => format!("{}, {}", use_.label(), held_as.label()),
    };
    let words = match kind {
        Kind::HomeEnergyAudit => format!("Was it for {}, {lived_in}?", address.line()),
        _ => format!("Was it bought new for {}, {lived_in} and lived in before?", address.line()),
    };
    let question = Question::yes_no(format!("{id}.ordinary"), words, true).explain(terms::ORDINARY);
    if i.yes_no(question)? {
        let n = before.unwrap_or(draft.homes.len());
        if before.is_none() {
            draft.homes.push(home);
        }
        return Ok((n, true));
    }
    Ok((which_home(i, draft, id, &address)?, false))
}

/// Asks for which home it was, and returns its number.
fn which_home(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    id: &str,
    likely: &Address,
) -> Result<usize, Stop> {
    if !draft.homes.is_empty() {
        // By number, because a corrected address changes the key.
        let mut choices: Vec<Choice> =
            (1..).zip(&draft.homes).map(|(n, one)| Choice::new(n.to_string(), one.address.line())).collect();
        choices.push(Choice::new("+new", "another home"));
        let question = Question::choice(format!("{id}.home"), "For which home?", choices)
            .or("1")
            .explain("The home in or at which it was put in.");
        let chosen = i.ask(question)?;
        if let Some(n) = chosen.parse().ok().and_then(|n: usize| n.checked_sub(1)) {
            return Ok(n);
        }
    }
    let home = new_home(i, draft, likely)?;
    draft.homes.push(home);
    Ok(draft.homes.len() - 1)
}

fn home(draft: &Draft, address: Address, use_: HomeUse, held_as: HeldAs) -> Home {
    let key = draft::key(&address.street, "home", draft.homes.iter().map(|one| one.key.as_str()));
    Home { key, address, use_, held_as, original_use: None }
}

fn new_home(i: &mut Conversation<'_>, draft: &Draft, likely: &Address) -> Result<Home, Stop> {
    let id = format!("homes.{}", draft.homes.len() + 1);
    let words = "Address of the home, on one line, such as 12 Alder Lane, Riverton, MA 01040";
    let likely = draft.homes.is_empty().then_some(likely);
    let address = ask_address(i, &format!("{id}.address"), words, likely)?;
    let uses = HomeUse::ALL.iter().map(|one| Choice::new(one.word(), terms::home_use(*one))).collect();
    let words = "How did the client use this home when the work was done?";
    let question = Question::choice(format!("{id}.use"), words, uses).or(HomeUse::MainHome.word());
    let use_ = HomeUse::from_word(&i.ask(question.explain(terms::HOME_USE))?).unwrap_or(HomeUse::MainHome);
    let rights = HeldAs::ALL.iter().map(|one| Choice::new(one.word(), terms::held_as(*one))).collect();
    let question = Question::choice(format!("{id}.held_as"), "At this home the client is", rights)
        .or(HeldAs::Owner.word());
    let held_as = HeldAs::from_word(&i.ask(question.explain(terms::HOME_USE))?).unwrap_or(HeldAs::Owner);
    Ok(home(draft, address, use_, held_as))
}

fn part_of(i: &mut Conversation<'_>, id: &str) -> Result<PartOf, Stop> {
    let choices = PartOf::ALL.iter().map(|one| Choice::new(one.word(), terms::part_of(*one))).collect();
    let question = Question::choice(format!("{id}.part_of"), "The work was part of", choices)
        .or(PartOf::ExistingHome.word())
        .explain(terms::PART_OF);
    Ok(PartOf::from_word(&i.ask(question)?).unwrap_or(PartOf::ExistingHome))
}

/// Asks when the client first used a new or rebuilt home: that day decides the year of what belongs to it.
fn first_use(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    home: usize,
    part_of: PartOf,
    id: &str,
) -> Result<Option<Date>, Stop> {
    if part_of == PartOf::ExistingHome {
        return Ok(None);
    }
    if draft.homes[home].original_use.is_none() {
        let (today, years) = (i.today, super::years(i.law));
        let words = "On what day did the client first use the finished home?";
        let question = Question::value(format!("{id}.first_use"), words, Form::Date)
            .explain("What is put in while a home is built or rebuilt counts in the year of that day (26 U.S.C. 25D(e)(8)(B)).")
            .when(move |text| match text.parse::<Date>() {
                Ok(day) if day > today || !years.contains(&TaxYear::of(day)) => {
                    Err(Refusal::new(format!("{day} is not a day of the years that can be computed"), "correct the day"))
                }
                _ => Ok(()),
            });
        let day = match part_of {
            PartOf::NewHome => Some(i.day(question)?),
            _ => maybe_day(i, question)?,
        };
        draft.homes[home].original_use = day;
    }
    Ok(draft.homes[home].original_use)
}

// ---- The item ----

fn came_by(i: &mut Conversation<'_>, about: &About<'_>, asked: bool, item: &mut Item) -> Result<(), Stop> {
    let (acquired, condition) = match asked {
        false => (Acquired::Bought, Condition::New),
        true => {
            let choices =
                Acquired::ALL.iter().map(|one| Choice::new(one.word(), terms::acquired(*one))).collect();
            let question = Question::choice(about.id("acquired"), "How did the client come by it?", choices)
                .or(Acquired::Bought.word())
                .explain(format!("{} {}", terms::ACQUIRED, terms::rule(about.year, about.law, Rule::Lease)));
            let acquired = Acquired::from_word(&i.ask(question)?).unwrap_or(Acquired::Bought);
            let new = Question::yes_no(about.id("new"), "Was it new?", true).explain(terms::CONDITION);
            (acquired, if i.yes_no(new)? { Condition::New } else { Condition::Used })
        }
    };
    item.facts.push(("acquired", Value::Word(acquired.word().to_string())));
    item.facts.push(("condition", Value::Word(condition.word().to_string())));
    Ok(())
}

/// How many months before the end of a year a later day may fall into the next.
const NEAR_YEAR_END: i8 = 10;

fn days(i: &mut Conversation<'_>, about: &About<'_>, day: Date, item: &mut Item) -> Result<(), Stop> {
    let later = |key: &str, words: &str| {
        let today = i.today;
        Question::value(about.id(key), words, Form::Date).when(move |text| match text.parse::<Date>() {
            Ok(later) if later > today => {
                Err(Refusal::new(format!("{later} lies after today, {today}"), "correct the day"))
            }
            _ => Ok(()),
        })
    };
    if about.audit() {
        item.facts.push(("paid", Value::day(day)));
        let question =
            later("performed", "On what day was the audit done?").explain("As its report shows it.");
        if let Some(done) = maybe_day(i, question)? {
            item.facts.push(("performed", Value::day(done)));
        }
        return Ok(());
    }
    item.facts.push(("installed", Value::day(day)));
    let makes_power =
        matches!(about.kind, Kind::SolarElectric | Kind::SmallWind | Kind::BatteryStorage | Kind::FuelCell);
    if makes_power && day.month() >= NEAR_YEAR_END {
        let words = "On what day did the utility give permission to operate?";
        let because = terms::rule(about.year, about.law, Rule::InstalledOrPlacedInService);
        let question = later("permission_to_operate", words).explain(because).when(move |text| {
            match text.parse::<Date>() {
                Ok(later) if later < day => Err(Refusal::new(
                    format!("{later} lies before the day the work was complete, {day}"),
                    "correct the day",
                )),
                _ => Ok(()),
            }
        });
        if let Some(day) = maybe_day(i, question)? {
            item.facts.push(("permission_to_operate", Value::day(day)));
        }
    }
    Ok(())
}

/// Asks for the facts that the law of the year asks of the kind.
fn asked_by_law(i: &mut Conversation<'_>, about: &About<'_>, day: Date, item: &mut Item) -> Result<(), Stop> {
    let Some(kind_law) = about.kind_law else { return Ok(()) };
    for requirement in &kind_law.requires {
        let explain = terms::fact(requirement.fact, kind_law, about.law);
        match requirement.fact {
            FactName::Certified => certified(i, about, item, explain)?,
            FactName::Auditor => auditor(i, about, item, explain)?,
            // Asked at the end, when everything it could serve is known.
            FactName::Enables => {}
            fact => measured(i, about, item, (fact, requirement), explain)?,
        }
    }
    if about.kind == Kind::FuelCell {
        fuel_cell(i, about, day, item)?;
    }
    Ok(())
}

fn measured(
    i: &mut Conversation<'_>,
    about: &About<'_>,
    item: &mut Item,
    (fact, requirement): (FactName, &Requirement),
    explain: String,
) -> Result<(), Stop> {
    let (words, form) = match fact {
        FactName::CapacityKw => ("Capacity in kilowatts", Form::Quantity),
        FactName::CapacityKwh => ("Capacity in kilowatt-hours", Form::Quantity),
        FactName::Amperage => ("Amperes", Form::Quantity),
        FactName::SolarShare => {
            ("Share of the energy that comes from the sun, such as 60%", Form::Percentage)
        }
        _ => ("Efficiency as the maker states it, such as 78%", Form::Percentage),
    };
    let answer = i.ask(Question::value(about.id(fact.word()), words, form).explain(explain))?;
    if below(&answer, requirement.at_least) {
        i.note(&format!("With {answer} it will earn nothing. {}", sentence(&requirement.because)));
    }
    item.facts.push((fact.word(), Value::Word(answer)));
    Ok(())
}

fn below(answer: &str, at_least: Option<Amount>) -> bool {
    match at_least {
        Some(Amount::Quantity(least)) => Quantity::read(answer).is_ok_and(|have| have.0 < least.0),
        Some(Amount::Rate(least)) => Rate::read(answer).is_ok_and(|have| have.factor() < least.factor()),
        _ => false,
    }
}

fn certified(
    i: &mut Conversation<'_>,
    about: &About<'_>,
    item: &mut Item,
    explain: String,
) -> Result<(), Stop> {
    let by = Question::value(about.id("certified.by"), "Who certified it?", Form::Line)
        .explain(format!("{explain} Left out, it counts as not certified and earns nothing."));
    let Some(by) = i.maybe(by)? else { return Ok(()) };
    let number = Question::value(about.id("certified.number"), "Number of the certificate", Form::Line)
        .explain("As the certificate shows it.");
    let mut keys = vec![("by", Value::Text(by))];
    keys.extend(i.maybe(number)?.map(|number| ("number", Value::Text(number))));
    item.facts.push(("certified", Value::Keys(keys)));
    Ok(())
}

fn auditor(
    i: &mut Conversation<'_>,
    about: &About<'_>,
    item: &mut Item,
    explain: String,
) -> Result<(), Stop> {
    let ask = |key: &str, words: &str| {
        Question::value(about.id(&format!("auditor.{key}")), words, Form::Line).explain(explain.clone())
    };
    let mut keys = vec![("name", Value::Text(i.ask(ask("name", "Name of the auditor"))?))];
    let number = i.maybe(ask("number", "The auditor's employer identification number, as in the report"))?;
    keys.extend(number.map(|number| ("number", Value::Text(number))));
    let program = i.maybe(ask("program", "The program that certified the auditor, as in the report"))?;
    keys.extend(program.map(|program| ("program", Value::Text(program))));
    item.facts.push(("auditor", Value::Keys(keys)));
    Ok(())
}

/// A fuel cell has a least efficiency of its own, and a day on which its construction began.
fn fuel_cell(i: &mut Conversation<'_>, about: &About<'_>, day: Date, item: &mut Item) -> Result<(), Stop> {
    let known = |item: &Item, key: &str| item.facts.iter().any(|(one, _)| *one == key);
    if about.year.values.contains_key(&LawKey::FuelCellEfficiencyAbove) && !known(item, "efficiency") {
        let question =
            Question::value(about.id("efficiency"), "Electrical efficiency, such as 45%", Form::Percentage)
                .explain(LawKey::FuelCellEfficiencyAbove.label());
        item.facts.push(("efficiency", Value::Word(i.ask(question)?)));
    }
    if about.year.rules.contains_key(&Rule::FuelCellConstructionBegun) {
        let because = terms::rule(about.year, about.law, Rule::FuelCellConstructionBegun);
        let question = Question::value(
            about.id("construction_began"),
            "On what day did its construction begin?",
            Form::Date,
        );
        let question = question.explain(because).when(move |text| match text.parse::<Date>() {
            Ok(began) if began > day => Err(Refusal::new(
                format!("{day} lies after the year in which it was complete"),
                "correct the day",
            )),
            _ => Ok(()),
        });
        if let Some(day) = maybe_day(i, question)? {
            item.facts.push(("construction_began", Value::day(day)));
        }
    }
    Ok(())
}

fn units_and_codes(i: &mut Conversation<'_>, about: &About<'_>, item: &mut Item) -> Result<(), Stop> {
    let mut units = 1;
    if about.year.form_rows.contains_key(&about.kind) {
        let question =
            Question::value(about.id("units"), "How many, all at the same price?", Form::Count).or("1");
        units = i.ask(question.explain(terms::UNITS))?.parse().unwrap_or(1);
        if units > 1 {
            item.facts.push(("units", Value::Word(units.to_string())));
        }
    }
    if about.kind_law.is_some_and(|one| one.maker_code) {
        let words = match units {
            1 => "The maker's code, four characters".to_string(),
            _ => format!("The maker's code, four characters: one for all {units}, or one for each"),
        };
        let because = terms::rule(about.year, about.law, Rule::MakerCode);
        let question = Question::value(about.id("codes"), words, Form::Line)
            .explain(format!("{because} {}", terms::MAKER_CODE))
            .and_read(move |typed| codes(typed, units));
        if let Some(codes) = i.maybe(question)? {
            let key = if codes.split(' ').all(|code| code.len() > 8) { "pin" } else { "maker_code" };
            let mut all: Vec<Value> = codes.split(' ').map(|code| Value::Text(code.to_string())).collect();
            let one = if all.len() == 1 { all.remove(0) } else { Value::List(all) };
            item.facts.push((key, one));
        }
    }
    Ok(())
}

/// Reads codes with blanks or commas between them: one for all units, or one for each, all of the same sort.
fn codes(typed: &str, units: usize) -> Result<String, Refusal> {
    let parts = typed.split([' ', ',', ';']).filter(|part| !part.is_empty());
    let all: Vec<String> = parts.map(|part| single::read(Form::MakerCode, part)).collect::<Result<_, _>>()?;
    let short = all.iter().filter(|code| code.len() == 4).count();
    if short != 0 && short != all.len() {
        return Err(Refusal::new(
            "some are codes and some are product numbers",
            "write all codes, or all product numbers",
        ));
    }
    match all.len() {
        1 => Ok(all.join(" ")),
        n if n == units => Ok(all.join(" ")),
        n => Err(Refusal::new(
            format!("there are {n} codes for {units}"),
            "write one code for all, or one for each; what differs otherwise is entered on its own",
        )),
    }
}

/// Asks for the standard it meets, where the law has one that no other fact shows.
fn standard(i: &mut Conversation<'_>, about: &About<'_>, item: &mut Item) -> Result<(), Stop> {
    let class = about.kind_law.map(|one| one.class);
    let asks = matches!(class, Some(Class::Envelope | Class::EnergyProperty))
        || about.kind == Kind::GeothermalHeatPump;
    if asks {
        let words = "Which efficiency standard does the maker's statement name?";
        let wanted = about.year.standard(about.kind).map(|rule| {
            format!(
                "For {} in {} the law asks this: {} ({}). ",
                about.kind.label(),
                about.year.year,
                rule.says,
                about.law.cite(&rule.authority.source.join("; "))
            )
        });
        let explained = format!("{}{}", wanted.unwrap_or_default(), terms::MEETS);
        let question = Question::value(about.id("meets"), words, Form::Line).explain(explained);
        item.facts.extend(i.maybe(question)?.map(|meets| ("meets", Value::Text(meets))));
    }
    Ok(())
}

fn association(
    i: &mut Conversation<'_>,
    about: &About<'_>,
    home: &Home,
    item: &mut Item,
) -> Result<(), Stop> {
    if !matches!(home.held_as, HeldAs::CoopShareholder | HeldAs::CondoMember) {
        return Ok(());
    }
    let question =
        Question::yes_no(about.id("association"), "Did the association or cooperative buy it?", false);
    if !i.yes_no(question.explain(terms::ASSOCIATION))? {
        return Ok(());
    }
    let name =
        Question::value(about.id("association.name"), "Its name", Form::Line).explain(terms::ASSOCIATION);
    let name = i.ask(name)?;
    let share = Question::value(
        about.id("association.share"),
        "The client's share of its cost, such as 1.25%",
        Form::Percentage,
    );
    let share = i.ask(share.explain("As the association's statement shows it."))?;
    item.facts
        .push(("association", Value::Keys(vec![("name", Value::Text(name)), ("share", Value::Word(share))])));
    i.note("The amounts that follow are the association's, whole.");
    Ok(())
}

/// Asks who else paid, how it was financed, and what part is private: of everything that seldom is so, in one list.
fn money_matters(
    i: &mut Conversation<'_>,
    about: &About<'_>,
    home: &Home,
    item: &mut Item,
) -> Result<(), Stop> {
    let second = home.use_ == HomeUse::OtherResidence;
    if second {
        private(i, about, home, item)?;
    }
    let all = [
        ("business", "more than a fifth of the home's use is business", "nonbusiness_use"),
        ("others", "someone who is not on this return paid a part as well", "paid_by_others"),
        (FinancedAs::Loan.word(), "it was paid with an ordinary loan", "financed"),
        (
            FinancedAs::SubsidizedEnergyFinancing.word(),
            "it was paid with money of a government program for saving energy",
            "financed",
        ),
    ];
    for n in 1.. {
        let known = |key: &str| item.facts.iter().any(|(one, _)| *one == key);
        let mut choices = vec![Choice::new("no", if n == 1 { "none of this" } else { "nothing more" })];
        let left = all.iter().filter(|(_, _, key)| !known(key));
        choices.extend(left.map(|(word, label, _)| Choice::new(*word, *label)));
        if choices.len() == 1 {
            break;
        }
        let words = if n == 1 { "Is any of this so?" } else { "Is anything more of this so?" };
        let explain = format!("{}\n{}\n{}", terms::PRIVATE, terms::OTHERS_PAID, terms::FINANCED);
        let question = Question::choice(about.id(&format!("special.{n}")), words, choices).or("no");
        match i.ask(question.explain(explain))?.as_str() {
            "business" => private(i, about, home, item)?,
            "others" => {
                let question =
                    Question::value(about.id("paid_by_others"), "How much did they pay?", Form::Amount);
                let explain = "Besides what the client paid; the costs above are the client's own part.";
                let amount = money(i, question.explain(explain))?;
                item.facts.push(("paid_by_others", Value::amount(amount)));
            }
            word => match FinancedAs::from_word(word) {
                None => break,
                Some(how) => {
                    let question =
                        Question::value(about.id("financed.amount"), "How much was borrowed?", Form::Amount);
                    let amount = money(i, question.explain("The amount of the loan, without interest."))?;
                    item.facts.push(("financed", draft::financed(how, amount)));
                }
            },
        }
    }
    Ok(())
}

/// Asks for the share of use that is not business.
fn private(i: &mut Conversation<'_>, about: &About<'_>, home: &Home, item: &mut Item) -> Result<(), Stop> {
    let words = match home.use_ {
        HomeUse::OtherResidence => {
            "Share of the client's own use of this home in the year, such as 60% if it was also let"
        }
        _ => "Share of the home that is private, not business",
    };
    let question = Question::value(about.id("nonbusiness_use"), words, Form::Percentage).or("100%");
    let rule = terms::rule(about.year, about.law, Rule::Nonbusiness);
    let share = i.ask(question.explain(format!("{} {rule}", terms::PRIVATE)))?;
    item.facts.push(("nonbusiness_use", Value::Word(share)));
    Ok(())
}

/// Where subsidized financing does not count, whether a loan is such has been asked here in so many words.
fn ordinary_loan(about: &About<'_>, item: &Item) -> Option<Settled> {
    let counts = about.year.subsidized_financing_counts.get(&item.credit?);
    let loan = draft::word(item, "financed", "as") == Some(FinancedAs::Loan.word());
    (loan && counts.is_some_and(|(counts, _)| !counts)).then(|| Settled {
        question: "loan-subsidized",
        about: format!("property.{}.financed", item.key),
        given: None,
        answer: "No, an ordinary loan".to_string(),
    })
}

/// Asks what enabling property serves; that is known only when everything has been entered.
fn enabled(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    let class = |one: &Item| Some(i.law.year(one.year)?.kinds.get(&one.kind)?.class);
    let served: Vec<(String, String)> = draft
        .items
        .iter()
        .filter(|one| class(one) == Some(Class::EnergyProperty))
        .map(|one| (one.key.clone(), one.name()))
        .collect();
    for n in 0..draft.items.len() {
        let (year, kind) = (draft.items[n].year, draft.items[n].kind);
        let asks =
            i.law.year(year).and_then(|law| law.kinds.get(&kind)).is_some_and(|one| {
                one.requires.iter().any(|requirement| requirement.fact == FactName::Enables)
            });
        if !asks {
            continue;
        }
        let mut keys = Vec::new();
        for (key, name) in &served {
            let words = format!("Was the {} needed for the {name}?", draft.items[n].name());
            let question = Question::yes_no(format!("property.{}.enables.{key}", n + 1), words, true);
            let explain = "A panelboard, circuit or feeder counts only with the improvement that it makes possible, put in together with it.";
            if i.yes_no(question.explain(explain))? {
                keys.push(Value::Word(key.clone()));
            }
        }
        if !keys.is_empty() {
            draft.items[n].facts.push(("enables", Value::List(keys)));
        }
    }
    Ok(())
}
