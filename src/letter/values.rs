//! The values behind the names of the contract, for one case and one year.
//!
//! Comes in: a case, the law, the figures, the facts, the firm, and the language. Goes out: every name of
//! [`super::words::NAMES`], every fact and every amount, as words ready to print; no number leaves here as a number.
//! Reads figures and computes none.

mod filed;
mod items;
mod papers;
mod years;

use super::Request;
use super::speech::Speech;
use crate::case::{Person, TaxYear};
use crate::credit::line::{self, Line, Of};
use crate::credit::papers::Need;
use crate::credit::stage;
use crate::law::Credit;
use crate::sheet::official::{self, Direction, LineRead, OfficialRef};
use crate::wording;
use jiff::civil::Date;
use serde_json::{Map, Value, json};

/// What the values are about, and in which language they are told.
#[derive(Clone, Copy)]
pub(super) struct Telling<'a> {
    pub request: Request<'a>,
    pub speech: Speech<'a>,
}

/// Returns the value behind every name.
pub(super) fn values(request: &Request<'_>, speech: Speech<'_>) -> Map<String, Value> {
    let telling = Telling { request: *request, speech };
    let Request { case, year, facts, .. } = *request;
    let mut all = Map::new();
    let mut put = |name: &str, value: Value| {
        all.insert(name.to_string(), value);
    };
    put("client", telling.client());
    put("year", json!(year.to_string()));
    put("next_year", json!(year.after().to_string()));
    put("year_before", json!(year.before().to_string()));
    put("credit", telling.credit_names(year));
    put("official", telling.official_places());
    let items = telling.items();
    put("some_count", json!(items.iter().any(|item| item["counts"] == Value::Bool(true))));
    put("items", Value::Array(items));
    put("other_years", Value::Array(telling.other_years()));
    put("limits", Value::Array(telling.limits()));
    let chain = telling.chain();
    put("several_origins", json!(chain.len() > 1));
    put("chain", Value::Array(chain));
    let history = telling.history();
    put("several_years", json!(history.len() > 1));
    put("history", Value::Array(history));
    put("entering", telling.entering());
    put("outlook", telling.outlook());
    put("as_filed", Value::Array(telling.as_filed(year)));
    let changed = telling.changed_years();
    put("several_changed_years", json!(changed.len() > 1));
    put("year_is_told", json!(changed.iter().any(|one| one["year"] == json!(year.to_string()))));
    put("changed_years", Value::Array(changed));
    let papers = telling.papers();
    let on_file = |one: &Value| one["on_file"].as_array().is_some_and(|list| !list.is_empty());
    put("some_on_file", json!(papers.iter().any(on_file)));
    put("papers", Value::Array(papers));
    put("common_papers", json!(telling.common_papers()));
    let (missing_items, missing_papers) = telling.missing_papers(Need::Required);
    let wants_useful = request.firm.is_none_or(|firm| firm.ask_useful_papers);
    let useful = if wants_useful { telling.missing_papers(Need::Useful).1 } else { Vec::new() };
    put("useful_papers", Value::Array(useful));
    put("several_missing", json!(missing_items.len() > 1));
    put("missing_items", json!(missing_items));
    put("missing_papers", Value::Array(missing_papers));
    put("keep_returns", json!(telling.keep_returns()));
    put("due", json!(speech.date(stage::due(case, year))));
    put("next_due", json!(speech.date(stage::due(case, year.after()))));
    put("firm", telling.firm());
    put("dated", json!(speech.date(request.dated)));
    put("law_as_of", json!(telling.law_as_of()));
    for (name, holds) in &facts.yes {
        put(name, json!(holds));
    }
    for (name, amount) in &facts.amounts {
        put(name, json!(amount.spoken()));
    }
    all
}

/// Everything that values bring in from lists of their own, which a table of words must hold.
#[cfg(test)]
pub(super) fn phrases() -> Vec<&'static str> {
    items::phrases()
}

/// Says whether a person had died by a day.
pub(super) fn has_died(person: &Person, by: Date) -> bool {
    person.deceased.as_ref().is_some_and(|day| day.value <= by)
}

impl Telling<'_> {
    /// Makes a reason into a sentence: a capital at its head, dates written out, a stop at its end.
    fn sentence(&self, reason: &str) -> String {
        let reason = reason.trim();
        let words = match reason.strip_prefix("preparer's judgment: ") {
            // The preparer's own words stay in the preparer's language.
            Some(own) => self.speech.say("our judgment: {}", &[&self.speech.dates_written(own)]),
            None => self.speech.tell(reason),
        };
        wording::sentence(&words)
    }

    fn client(&self) -> Value {
        let client = &self.request.case.client;
        let (living, deceased): (Vec<_>, Vec<_>) =
            client.people.iter().partition(|one| !has_died(one, self.request.dated));
        let name = |one: &&Person| one.name.value.clone();
        let living: Vec<String> = living.iter().map(name).collect();
        let deceased: Vec<String> = deceased.iter().map(name).collect();
        let salutation = match living.as_slice() {
            [] => self.speech.say("To the family of {}", &[&self.speech.joined(&deceased)]),
            living => self.speech.dear(living),
        };
        json!({
            "names_joined": self.speech.joined(&living),
            "names": living,
            "deceased": deceased,
            "salutation": salutation,
            "reference": client.reference.value,
        })
    }

    /// Names each credit as the year's law names it; a year without law of its own, as the latest before it.
    fn credit_names(&self, year: TaxYear) -> Value {
        let law = self.request.law;
        let named = law.as_of(year);
        let of_credit = |credit: &Credit| {
            let name = named.map_or_else(String::new, |law| self.speech.tell(law.name(*credit)));
            let called = self.speech.tell(named.map_or(credit.called(), |law| law.called(*credit)));
            [(credit.word().to_string(), json!(name)), (format!("{credit}_called"), json!(called))]
        };
        Value::Object(Credit::ALL.iter().flat_map(of_credit).collect())
    }

    fn law_as_of(&self) -> String {
        let Request { law, year, .. } = self.request;
        let named = law.as_of(year);
        named.map_or_else(String::new, |law| self.speech.dates_written(&law.edition))
    }

    /// Returns where a line stands on the official form of a year; empty where it stands nowhere. Where the line was not
    /// read on the printed form, only the form is named: a client cannot weigh a number that is not confirmed, and the
    /// worksheet has it with its mark.
    fn official_place(&self, year: TaxYear, line: Line) -> String {
        let form = self.request.outcome.form(year);
        let places =
            official::map(year).map(|map| map.references(line.0, &Of::Return, form)).unwrap_or_default();
        // The tax is the return's own figure, wherever the year's Form 5695 repeats it.
        let of_return = |place: &&OfficialRef| line != line::TAX || place.direction == Direction::LookUp;
        let Some(place) = places.iter().find(of_return) else {
            return String::new();
        };
        // The year of the form stands in the letter's own words.
        let form = self.speech.form(place.form.strip_prefix(&format!("{year} ")).unwrap_or(&place.form));
        let numbered = place.line.starts_with(|c: char| c.is_ascii_digit());
        match numbered {
            _ if place.read != LineRead::Printed => form,
            true => self.speech.say("{}, line {}", &[&form, &place.line]),
            false => self.speech.say("{}, {}", &[&form, &self.speech.tell(&place.line)]),
        }
    }

    /// Returns where the credit that enters a year stands on that year's form.
    fn place_of_carried_in(&self, year: TaxYear) -> String {
        let place = self.official_place(year, line::CARRIED_IN);
        if place.is_empty() { self.speech.form("Form 5695") } else { place }
    }

    fn official_places(&self) -> Value {
        let year = self.request.year;
        let place = |line: Line| self.official_place(year, line);
        json!({
            "improvement_allowed": place(line::IMPROVEMENT_ALLOWED),
            "improvement_before_limit": place(line::IMPROVEMENT_BEFORE_LIMIT),
            "clean_before_limit": place(line::CLEAN_BEFORE_LIMIT),
            "clean_allowed": place(line::CLEAN_ALLOWED),
            "carried_in": self.place_of_carried_in(year),
            "carried_out": place(line::CARRIED_OUT),
            "next_carried_in": self.place_of_carried_in(year.after()),
            "return_improvement": place(line::TO_RETURN_IMPROVEMENT),
            "return_clean": place(line::TO_RETURN_CLEAN),
            "tax": place(line::TAX),
        })
    }

    fn firm(&self) -> Value {
        let prepared = self.request.case.prepared.as_ref().and_then(|one| one.by.as_ref());
        let Some(firm) = self.request.firm else {
            let signatory = prepared.map_or("", |by| &by.value);
            let none: [&str; 0] = [];
            return json!({"name": "", "address": none, "phone": "", "email": "", "signatory": signatory, "title": ""});
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::Language;

    /// Tells something in English about a household of whatever kind.
    fn with_telling<T>(told: impl Fn(Telling<'_>) -> T) -> T {
        super::super::tests::with_request("used-up", 2025, |request| {
            told(Telling { request, speech: Speech { language: Language::En, table: None } })
        })
    }

    #[test]
    fn reasons_become_sentences() {
        with_telling(|telling| {
            assert_eq!(telling.sentence("labor never counts"), "Labor never counts.");
            assert_eq!(
                telling.sentence("preparer's judgment: split by area"),
                "Our judgment: split by area."
            );
            assert_eq!(telling.sentence(""), "");
        });
    }

    #[test]
    fn of_lines_not_read_in_print_only_the_form_is_named() {
        with_telling(|telling| {
            let place = |year, line| telling.official_place(TaxYear(year), line);
            assert_eq!(place(2024, line::CLEAN_ALLOWED), "Form 5695, line 15");
            assert_eq!(place(2026, line::CARRIED_IN), "Form 5695");
            assert_eq!(place(2026, line::IMPROVEMENT_ALLOWED), "");
            assert_eq!(telling.place_of_carried_in(TaxYear(2031)), "Form 5695");
        });
    }
}
