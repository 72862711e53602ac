//! The values behind the names of the contract, for one case and one year.
//!
//! Comes in: a case, the law, the figures, the facts, the firm. Goes out: every name of [`super::words::NAMES`],
//! every fact and every amount, as words ready to print; no number leaves here as a number. Reads figures and
//! computes none.

use super::Request;
use crate::case::{Address, Home, Item, Key, Kind, ReturnForm, TaxYear};
use crate::credit::line::{self, Line, Of, Place};
use crate::credit::papers::{self, Keep};
use crate::credit::{Figure, Value as Worth, qualify};
use crate::law::Credit;
use crate::money::Money;
use crate::sheet::official::{self, LineRead};
use jiff::civil::Date;
use serde_json::{Map, Value, json};

/// Returns the value behind every name.
pub(super) fn values(request: &Request<'_>) -> Map<String, Value> {
    let Request { case, law, year, facts, .. } = *request;
    let year_law = law.year(year);
    let items: Vec<Value> = items_of(request)
        .into_iter()
        .map(|(item, home, day)| item_values(request, item, home, day))
        .collect();
    let some_count = items.iter().any(|item| item["counts"] == Value::Bool(true));
    let chain = chain(request);
    let credit_name =
        |name: fn(&crate::law::YearLaw) -> &String| year_law.map_or("", |law| name(law).as_str());
    let due = case
        .tax_return(year)
        .and_then(|one| one.extended_to.as_ref())
        .map_or_else(|| papers::due_date(case, year), |extended| extended.value);
    let mut all = Map::new();
    let mut put = |name: &str, value: Value| {
        all.insert(name.to_string(), value);
    };
    put("client", client(request));
    put("year", json!(year.to_string()));
    put("next_year", json!(year.after().to_string()));
    put("year_before", json!(year.before().to_string()));
    put(
        "credit",
        json!({"improvement": credit_name(|law| &law.improvement_name), "clean": credit_name(|law| &law.clean_name)}),
    );
    put("official", official_places(year));
    put("some_count", json!(some_count));
    put("items", Value::Array(items));
    put("several_origins", json!(chain.len() > 1));
    put("chain", Value::Array(chain));
    let history = history(request);
    put("several_years", json!(history.len() > 1));
    put("history", Value::Array(history));
    let papers_of_items = papers_of(request);
    let some_on_file =
        papers_of_items.iter().any(|one| one["on_file"].as_array().is_some_and(|list| !list.is_empty()));
    put("some_on_file", json!(some_on_file));
    put("papers", Value::Array(papers_of_items));
    put("common_papers", json!(common_papers(request)));
    put("keep_returns", json!(keep_returns(request)));
    put("due", json!(written(due)));
    put("due_is_past", json!(due < request.dated));
    put("next_due", json!(written(papers::due_date(case, year.after()))));
    put("firm", firm(request));
    put("dated", json!(written(request.dated)));
    put("law_as_of", json!(year_law.map_or_else(String::new, |law| dates_written(&law.edition))));
    for (name, holds) in &facts.yes {
        put(name, json!(holds));
    }
    for (name, amount) in &facts.amounts {
        put(name, json!(amount.spoken()));
    }
    all
}

/// Writes a date out: `November 25, 2026`.
pub(super) fn written(day: Date) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    format!("{} {}, {}", MONTHS[day.month() as usize - 1], day.day(), day.year())
}

/// Writes out every date of a text that stands there as year, month and day in digits.
fn dates_written(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let day =
            rest.get(..10).filter(|day| day.as_bytes()[4] == b'-').and_then(|day| day.parse::<Date>().ok());
        if let Some(day) = day {
            out.push_str(&written(day));
            rest = &rest[10..];
        } else {
            let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            out.push_str(&rest[..end]);
            rest = &rest[end..];
        }
    }
    out + rest
}

/// Makes a reason into a sentence: a capital at its head, dates written out, a stop at its end.
fn sentence(reason: &str) -> String {
    let reason = reason
        .strip_prefix("preparer's judgement: ")
        .map_or_else(|| reason.to_string(), |rest| format!("our judgement: {rest}"));
    let mut text = capital(&dates_written(reason.trim()));
    if !text.is_empty() && !text.ends_with(['.', '!', '?']) {
        text.push('.');
    }
    text
}

/// Puts a capital at the head of words.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

fn client(request: &Request<'_>) -> Value {
    let (living, deceased): (Vec<_>, Vec<_>) =
        request.case.client.people.iter().partition(|one| !has_died(one, request.dated));
    let name = |one: &&crate::case::Person| one.name.value.clone();
    let living: Vec<String> = living.iter().map(name).collect();
    let deceased: Vec<String> = deceased.iter().map(name).collect();
    let salutation = if living.is_empty() {
        format!("To the family of {}", joined(&deceased))
    } else {
        format!("Dear {}", joined(&living))
    };
    json!({
        "names_joined": joined(&living),
        "names": living,
        "deceased": deceased,
        "salutation": salutation,
        "reference": request.case.client.reference.value,
    })
}

/// Says whether a person had died by a day.
pub(super) fn has_died(person: &crate::case::Person, by: Date) -> bool {
    person.deceased.as_ref().is_some_and(|day| day.value <= by)
}

/// Joins words by commas and a last `and`.
pub(super) fn joined(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [one, two] => format!("{one} and {two}"),
        [most @ .., last] => format!("{}, and {last}", most.join(", ")),
    }
}

/// Returns where a line stands on the official form of a year; empty where it stands nowhere, and with a word of
/// care where the line was not read on the printed form.
fn official_place(year: TaxYear, line: Line) -> String {
    // Letters name lines of Form 5695, which are the same on every form of return.
    let places = official::map(year).map(|map| map.references(line.0, &Of::Return, ReturnForm::Form1040));
    let Some(place) = places.and_then(|places| places.into_iter().next()) else {
        return String::new();
    };
    // The year of the form stands in the letter's own words.
    let form = place.form.strip_prefix(&format!("{year} ")).unwrap_or(&place.form);
    let numbered = place.line.starts_with(|c: char| c.is_ascii_digit());
    let mut words =
        if numbered { format!("{form}, line {}", place.line) } else { format!("{form}, {}", place.line) };
    if place.read != LineRead::Printed && !words.contains("not yet confirmed") {
        words.push_str(" (line not yet confirmed)");
    }
    words
}

fn official_places(year: TaxYear) -> Value {
    let next = official_place(year.after(), line::CARRIED_IN);
    let next = if next.is_empty() { "Form 5695 (line not yet confirmed)".to_string() } else { next };
    json!({
        "improvement_allowed": official_place(year, line::IMPROVEMENT_ALLOWED),
        "improvement_before_limit": official_place(year, line::IMPROVEMENT_BEFORE_LIMIT),
        "clean_before_limit": official_place(year, line::CLEAN_BEFORE_LIMIT),
        "clean_allowed": official_place(year, line::CLEAN_ALLOWED),
        "carried_in": official_place(year, line::CARRIED_IN),
        "carried_out": official_place(year, line::CARRIED_OUT),
        "next_carried_in": next,
        "return_improvement": official_place(year, line::TO_RETURN_IMPROVEMENT),
        "return_clean": official_place(year, line::TO_RETURN_CLEAN),
        "tax": official_place(year, line::TAX),
    })
}

/// Returns the items whose credit falls in the year, with their homes and days.
fn items_of<'a>(request: &Request<'a>) -> Vec<(&'a Item, &'a Home, Date)> {
    let case = request.case;
    let of_year = |item: &'a Item| {
        let home = case.home(&item.home.value)?;
        match qualify::timing(item, home) {
            qualify::Timing::On(day) if TaxYear::of(day) == request.year => Some((item, home, day)),
            _ => None,
        }
    };
    case.property.iter().filter_map(of_year).collect()
}

fn item_values(request: &Request<'_>, item: &Item, home: &Home, day: Date) -> Value {
    let Request { law, outcome, year, .. } = *request;
    let at = |line: Line| Place::of_item(year, line, &item.key.value);
    let money = |line: Line| outcome.figures.money(&at(line)).unwrap_or(Money::ZERO).spoken();
    let ruling = outcome
        .figures
        .get(&at(line::ITEM_QUALIFIED))
        .and_then(|figure| figure.rulings().into_iter().next().cloned());
    let counts = ruling.as_ref().is_some_and(|ruling| ruling.counts);
    let year_law = law.year(year);
    let credit = year_law.and_then(|law| law.kinds.get(&item.kind.value)).map(|kind| kind.credit);
    let in_force = year_law.is_some_and(|law| match credit {
        Some(Credit::Improvement) => law.improvement_in_force.0,
        Some(Credit::Clean) => law.clean_in_force.0,
        None => law.improvement_in_force.0 || law.clean_in_force.0,
    });
    let credit_name = match (credit, year_law) {
        (Some(Credit::Improvement), Some(law)) => law.improvement_name.clone(),
        (Some(Credit::Clean), Some(law)) => law.clean_name.clone(),
        _ => String::new(),
    };
    json!({
        "name": item_name(request, item),
        "kind": item.kind.value.label(),
        "home": address_line(&home.address),
        "completed": written(day),
        "timing": timing_words(item, day),
        "paid": money(if item.association.is_some() { line::ITEM_CLIENT_PAID } else { line::ITEM_PAID }),
        "qualified": money(line::ITEM_QUALIFIED),
        "counts": counts,
        "ended": !counts && !in_force,
        "because": ruling.filter(|ruling| !ruling.counts).map_or_else(String::new, |ruling| sentence(&ruling.because)),
        "credit_name": credit_name,
        "improvement": credit == Some(Credit::Improvement),
        "left_out": if counts { left_out(request, &item.key.value) } else { Vec::new() },
        "incentives": incentives(request, &item.key.value),
    })
}

/// Returns the costs of an item that do not count, or count in part: how much of each, and why.
fn left_out(request: &Request<'_>, key: &Key) -> Vec<Value> {
    let figures = &request.outcome.figures;
    let of_item = |figure: &&&Figure| {
        matches!(&figure.place.of, Of::Cost(of, _) if of == key) && figure.place.line == line::COST_COUNTED
    };
    let of_year = figures.of_year(request.year);
    of_year
        .iter()
        .filter(of_item)
        .filter_map(|figure| {
            let paid = figures.money(&Place { line: line::COST_PAID, ..figure.place.clone() })?;
            let difference = paid - figure.value.money()?;
            let ruling = figure.rulings().into_iter().next()?;
            (!difference.is_negative() && !difference.is_zero()).then(|| {
                json!({"what": capital(&row_words(figure).0), "amount": difference.spoken(), "because": sentence(&ruling.because)})
            })
        })
        .collect()
}

fn incentives(request: &Request<'_>, key: &Key) -> Vec<Value> {
    let figures = &request.outcome.figures;
    let of_year = figures.of_year(request.year);
    of_year
        .iter()
        .filter(|figure| {
            matches!(&figure.place.of, Of::Incentive(of, _) if of == key)
                && figure.place.line == line::INCENTIVE_AMOUNT
        })
        .filter_map(|figure| {
            let reduces = figures.get(&Place { line: line::INCENTIVE_REDUCES, ..figure.place.clone() })?;
            let ruling = reduces.rulings().into_iter().next()?;
            let (from, kind) = row_words(figure);
            Some(json!({
                "from": from,
                "kind": kind,
                "amount": figure.value.money()?.spoken(),
                "reduces": ruling.counts,
                "because": sentence(&ruling.because),
            }))
        })
        .collect()
}

/// Splits what a cost or incentive row is about into its own words and the label of its nature.
fn row_words(figure: &Figure) -> (String, String) {
    let about = figure.about.as_deref().unwrap_or("");
    match about.rsplit_once(" (") {
        Some((words, label)) => (words.to_string(), label.trim_end_matches(')').to_string()),
        None => (about.to_string(), String::new()),
    }
}

/// Names an item in plain words, with the words of its key where another item of the case would be named alike.
fn item_name(request: &Request<'_>, item: &Item) -> String {
    let name = plain_words(item.kind.value, item.units.value);
    let alike = request.case.property.iter().filter(|other| other.kind.value == item.kind.value).count();
    if alike > 1 {
        return format!("{} ({})", capital(name), item.key.value.as_str().replace(['-', '_'], " "));
    }
    capital(name)
}

/// Names a kind of property as its owner would.
fn plain_words(kind: Kind, units: u16) -> &'static str {
    let several = units > 1;
    match kind {
        Kind::SolarElectric => "solar electric system",
        Kind::SolarWaterHeating => "solar water heating system",
        Kind::SmallWind => "small wind turbine",
        Kind::GeothermalHeatPump => "geothermal heat pump",
        Kind::BatteryStorage => "battery storage",
        Kind::FuelCell => "fuel cell",
        Kind::InsulationOrAirSealing => "insulation or air sealing",
        Kind::ExteriorDoor if several => "outside doors",
        Kind::ExteriorDoor => "outside door",
        Kind::WindowOrSkylight if several => "windows or skylights",
        Kind::WindowOrSkylight => "window or skylight",
        Kind::Roof => "roof",
        Kind::CentralAirConditioner => "central air conditioner",
        Kind::FuelWaterHeater => "gas, propane or oil water heater",
        Kind::FurnaceOrBoiler => "furnace or hot water boiler",
        Kind::AirCirculatingFan => "air circulating fan",
        Kind::EnablingProperty => "electrical panel or circuit",
        Kind::HomeEnergyAudit => "home energy audit",
        Kind::HeatPump if several => "heat pumps",
        Kind::HeatPump => "heat pump",
        Kind::HeatPumpWaterHeater => "heat pump water heater",
        Kind::BiomassStoveOrBoiler => "biomass stove or boiler",
    }
}

/// Says what happened to an item on the day that decides its year.
fn timing_words(item: &Item, day: Date) -> String {
    let day_words = written(day);
    match (&item.installed, item.kind.value) {
        (_, Kind::HomeEnergyAudit) => format!("paid {day_words}"),
        (Some(installed), _) if installed.value == day => format!("finished {day_words}"),
        _ => format!("in use from {day_words}"),
    }
}

fn address_line(address: &Address) -> String {
    let mut parts = vec![address.street.value.clone()];
    parts.extend(address.unit.as_ref().map(|unit| unit.value.clone()));
    parts.push(address.city.value.clone());
    parts.push(format!("{} {}", address.state.value, address.zip.value));
    parts.join(", ")
}

/// Returns the chain of the year: a row per origin year, oldest first.
fn chain(request: &Request<'_>) -> Vec<Value> {
    let Request { outcome, year, .. } = *request;
    let figures = &outcome.figures;
    let at = |year: TaxYear, line: Line, origin: TaxYear| {
        figures.money(&Place { year, line, of: Of::Origin(origin) })
    };
    let of_year = figures.of_year(year);
    let origins = of_year.iter().filter_map(|figure| match figure.place.of {
        Of::Origin(origin) if figure.place.line == line::ORIGIN_AVAILABLE => Some(origin),
        _ => None,
    });
    origins
        .map(|origin| {
            let earned = at(origin, line::ORIGIN_EARNED, origin);
            let first = outcome.years.iter().find_map(|year| at(*year, line::ORIGIN_AVAILABLE, origin));
            let used_so_far: Money = outcome
                .years
                .iter()
                .filter(|one| **one <= year)
                .filter_map(|one| at(*one, line::ORIGIN_USED, origin))
                .sum();
            let here = |line: Line| at(year, line, origin).unwrap_or(Money::ZERO).spoken();
            json!({
                "origin": origin.to_string(),
                "brought_in": earned.is_none(),
                "earned": earned.or(first).unwrap_or(Money::ZERO).spoken(),
                "available": here(line::ORIGIN_AVAILABLE),
                "used": here(line::ORIGIN_USED),
                "used_so_far": used_so_far.spoken(),
                "left": here(line::ORIGIN_LEFT),
            })
        })
        .collect()
}

/// Returns the clean energy credit year by year, up to the year of the letter.
fn history(request: &Request<'_>) -> Vec<Value> {
    let Request { outcome, year, .. } = *request;
    let row = |one: &TaxYear| {
        let money =
            |line: Line| match outcome.figures.get(&Place::of_return(*one, line)).map(|figure| &figure.value)
            {
                Some(Worth::Money(amount)) => *amount,
                _ => Money::ZERO,
            };
        let words = |amount: Money| if amount.is_zero() { String::new() } else { amount.spoken() };
        let earned = money(line::CLEAN_RATE_TIMES_COST) + money(line::FUEL_CELL_CREDIT);
        let (carried_in, used, left) =
            (money(line::CARRIED_IN), money(line::CLEAN_ALLOWED), money(line::CARRIED_OUT));
        let any = [earned, carried_in, used, left].iter().any(|amount| !amount.is_zero());
        any.then(|| {
            json!({"year": one.to_string(), "earned": words(earned), "carried_in": words(carried_in), "used": words(used), "left": words(left)})
        })
    };
    outcome.years.iter().filter(|one| **one <= year).filter_map(row).collect()
}

fn papers_of(request: &Request<'_>) -> Vec<Value> {
    let Request { case, law, outcome, year, .. } = *request;
    papers::papers(case, law, outcome, year)
        .into_iter()
        .filter_map(|one| {
            let item = case.item(&one.item)?;
            let (keep_until, reason) = keep_words(one.keep);
            let names = |on_file: bool| -> Vec<String> {
                one.papers
                    .iter()
                    .filter(|paper| paper.on_file.is_empty() != on_file && (on_file || !paper.common))
                    .map(|paper| paper.what.clone())
                    .collect()
            };
            let list: Vec<Value> = one
                .papers
                .iter()
                .map(|paper| {
                    json!({"what": paper.what, "on_file": !paper.on_file.is_empty(), "with_home": paper.with_home})
                })
                .collect();
            Some(json!({
                "item": item_name(request, item),
                "year": one.year.to_string(),
                "on_file": names(true),
                "to_keep": names(false),
                "missing": one.missing().map(|paper| &paper.what).collect::<Vec<_>>(),
                "list": list,
                "keep_until": keep_until,
                "reason": reason,
            }))
        })
        .collect()
}

/// Returns the papers that are asked for every item, each once.
fn common_papers(request: &Request<'_>) -> Vec<String> {
    let mut common: Vec<String> = Vec::new();
    for one in papers::papers(request.case, request.law, request.outcome, request.year) {
        for paper in one.papers.into_iter().filter(|paper| paper.common) {
            if !common.contains(&paper.what) {
                common.push(paper.what);
            }
        }
    }
    common
}

/// Says until when papers are kept, and why.
fn keep_words(keep: Keep) -> (String, String) {
    match keep {
        Keep::CreditLeft(year) => (
            "no end date yet".to_string(),
            format!(
                "After the {year} return, part of the credit is still unused. The IRS can look at the work again while a return that uses the credit is open."
            ),
        ),
        Keep::NotFiled { last_used, not_before } => (
            format!("at least until {}", written(not_before)),
            format!(
                "That is three years after the {last_used} return is due. If you file it later, count three years from that day."
            ),
        ),
        Keep::Until { day, last_used, after_payment: false } => (
            format!("at least until {}", written(day)),
            format!(
                "That is three years after the {last_used} return, the last one to use this credit, was filed or due."
            ),
        ),
        Keep::Until { day, last_used, after_payment: true } => (
            format!("at least until {}", written(day)),
            format!(
                "That is two years after the last payment for {last_used}, the last year to use this credit."
            ),
        ),
        Keep::BasisOnly => (
            "as long as you own the home".to_string(),
            "No credit came of this work, but its papers show what the home cost you.".to_string(),
        ),
    }
}

/// Says until when the returns with Form 5695 are kept: as long as the longest of their papers.
fn keep_returns(request: &Request<'_>) -> String {
    let Request { case, law, outcome, year, facts, .. } = *request;
    if facts.holds("carries_out") == Some(true) {
        return "as long as any of the credit is left, and for three years after the return that uses the last of it".to_string();
    }
    let day = papers::papers(case, law, outcome, year)
        .into_iter()
        .filter_map(|one| match one.keep {
            Keep::Until { day, .. } => Some(day),
            Keep::NotFiled { not_before, .. } => Some(not_before),
            Keep::CreditLeft(_) | Keep::BasisOnly => None,
        })
        .max();
    match day {
        Some(day) => format!("at least until {}", written(day)),
        None => "at least three years after you filed them".to_string(),
    }
}

fn firm(request: &Request<'_>) -> Value {
    let prepared = request.case.prepared.as_ref().and_then(|one| one.by.as_ref()).map(|by| by.value.clone());
    let Some(firm) = request.firm else {
        let none: [&str; 0] = [];
        return json!({"name": "", "address": none, "phone": "", "email": "", "signatory": prepared.unwrap_or_default(), "title": ""});
    };
    let words = |text: &Option<crate::finding::At<String>>| {
        text.as_ref().map_or_else(String::new, |text| text.value.clone())
    };
    json!({
        "name": firm.name.value,
        "address": super::post::sender_address(&firm.address),
        "phone": firm.phone.value,
        "email": words(&firm.email),
        "signatory": firm.signatory.value,
        "title": words(&firm.title),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn dates_are_written_out() {
        assert_eq!(written(date(2026, 11, 25)), "November 25, 2026");
        assert_eq!(
            dates_written("complete on 2026-02-03; after 2025-12-31, 25D, 5695"),
            "complete on February 3, 2026; after December 31, 2025, 25D, 5695"
        );
        assert_eq!(dates_written("Muñoz 12é2026-01-0"), "Muñoz 12é2026-01-0");
    }

    #[test]
    fn reasons_become_sentences() {
        assert_eq!(sentence("labor never counts"), "Labor never counts.");
        assert_eq!(sentence("preparer's judgement: split by area"), "Our judgement: split by area.");
        assert_eq!(sentence(""), "");
    }

    #[test]
    fn names_are_joined_as_people_say_them() {
        let words = |list: &[&str]| joined(&list.iter().map(|one| one.to_string()).collect::<Vec<_>>());
        assert_eq!(words(&[]), "");
        assert_eq!(words(&["A"]), "A");
        assert_eq!(words(&["A", "B"]), "A and B");
        assert_eq!(words(&["A", "B", "C"]), "A, B, and C");
    }

    #[test]
    fn lines_not_read_in_print_bear_a_word_of_care() {
        assert_eq!(official_place(TaxYear(2024), line::CLEAN_ALLOWED), "Form 5695, line 15");
        let next = official_place(TaxYear(2026), line::CARRIED_IN);
        assert_eq!(next, "Form 5695, carryforward (line not yet confirmed)");
        assert_eq!(official_place(TaxYear(2026), line::IMPROVEMENT_ALLOWED), "");
    }
}
