//! The values behind the names of the contract, for one case and one year.
//!
//! Comes in: a case, the law, the figures, the facts, the firm, and the language. Goes out: every name of
//! [`names::Contract`], every fact and every amount, as words ready to print; no number leaves here as a number.
//! Reads figures and computes none.

mod filed;
mod items;
mod papers;
mod years;

use super::speech::Speech;
use super::{Request, names};
use crate::case::{Person, TaxYear};
use crate::credit::line::{self, Line, Subject};
use crate::credit::papers::Need;
use crate::credit::stage;
use crate::law::Credit;
use crate::sheet::official::{self, Direction, LineRead, OfficialRef};
use crate::wording;
use jiff::civil::Date;
use serde_json::{Map, Value};

/// What the values are about, and in which language they are told.
#[derive(Clone, Copy)]
pub(super) struct Telling<'a> {
    pub request: Request<'a>,
    pub speech: Speech<'a>,
}

/// Returns the value behind every name.
pub(super) fn values(request: &Request<'_>, speech: Speech<'_>) -> Map<String, Value> {
    let telling = Telling { request: *request, speech };
    let Request { facts, .. } = *request;
    let mut all = match serde_json::to_value(telling.contract()) {
        Ok(Value::Object(all)) => all,
        // Words, yes and no, and lists of them always become an object.
        _ => Map::new(),
    };
    let mut put = |name: &str, value: Value| {
        all.insert(name.to_string(), value);
    };
    for (name, holds) in &facts.yes {
        put(name, Value::from(*holds));
    }
    for (name, amount) in &facts.amounts {
        put(name, Value::from(amount.spoken()));
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
    fn contract(&self) -> names::Contract {
        let Request { case, year, firm, .. } = self.request;
        let speech = self.speech;
        let (items, chain, history) = (self.items(), self.chain(), self.history());
        let (changed_years, papers) = (self.changed_years(), self.papers());
        let (missing_items, missing_papers) = self.missing_papers(Need::Required);
        let wants_useful = firm.is_none_or(|firm| firm.ask_useful_papers);
        let useful_papers = if wants_useful { self.missing_papers(Need::Useful).1 } else { Vec::new() };
        names::Contract {
            client: self.client(),
            year: year.to_string(),
            next_year: year.after().to_string(),
            year_before: year.before().to_string(),
            credit: self.credit_names(year),
            official: self.official_places(),
            some_count: items.iter().any(|item| item.counts),
            items,
            other_years: self.other_years(),
            limits: self.limits(),
            several_origins: chain.len() > 1,
            chain,
            several_years: history.len() > 1,
            history,
            entering: self.entering(),
            outlook: self.outlook(),
            as_filed: self.as_filed(year),
            several_changed_years: changed_years.len() > 1,
            year_is_told: changed_years.iter().any(|one| one.year == year.to_string()),
            changed_years,
            some_on_file: papers.iter().any(|one| !one.on_file.is_empty()),
            papers,
            common_papers: self.common_papers(),
            several_missing: missing_items.len() > 1,
            missing_items,
            missing_papers,
            useful_papers,
            keep_returns: self.keep_returns(),
            due: speech.date(stage::due(case, year)),
            next_due: speech.date(stage::due(case, year.after())),
            firm: self.firm(),
            dated: speech.date(self.request.dated),
            law_as_of: self.law_as_of(),
        }
    }

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

    fn client(&self) -> names::Client {
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
        names::Client {
            names_joined: self.speech.joined(&living),
            names: living,
            deceased,
            salutation,
            reference: client.reference.value.to_string(),
        }
    }

    /// Names each credit as the year's law names it; a year without law of its own, as the latest before it.
    fn credit_names(&self, year: TaxYear) -> names::CreditNames {
        let named = self.request.law.as_of(year);
        let name = |credit: Credit| named.map_or_else(String::new, |law| self.speech.tell(law.name(credit)));
        names::CreditNames {
            improvement: name(Credit::Improvement),
            clean: name(Credit::Clean),
            improvement_called: self.called(year, Credit::Improvement),
            clean_called: self.called(year, Credit::Clean),
        }
    }

    /// Names a credit as papers of a year call it for short.
    fn called(&self, year: TaxYear, credit: Credit) -> String {
        let named = self.request.law.as_of(year);
        self.speech.tell(named.map_or(credit.called(), |law| law.called(credit)))
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
            official::map(year).map(|map| map.references(line.0, &Subject::Return, form)).unwrap_or_default();
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

    fn official_places(&self) -> names::Official {
        let year = self.request.year;
        let place = |line: Line| self.official_place(year, line);
        names::Official {
            improvement_allowed: place(line::IMPROVEMENT_ALLOWED),
            improvement_before_limit: place(line::IMPROVEMENT_BEFORE_LIMIT),
            clean_before_limit: place(line::CLEAN_BEFORE_LIMIT),
            clean_allowed: place(line::CLEAN_ALLOWED),
            carried_in: self.place_of_carried_in(year),
            carried_out: place(line::CARRIED_OUT),
            next_carried_in: self.place_of_carried_in(year.after()),
            return_improvement: place(line::TO_RETURN_IMPROVEMENT),
            return_clean: place(line::TO_RETURN_CLEAN),
            tax: place(line::TAX),
        }
    }

    fn firm(&self) -> names::Firm {
        let Some(firm) = self.request.firm else {
            let signatory = self.request.case.prepared_by().to_string();
            return names::Firm { signatory, ..names::Firm::default() };
        };
        let words = |text: &Option<crate::finding::Spanned<String>>| {
            text.as_ref().map_or_else(String::new, |text| text.value.clone())
        };
        names::Firm {
            name: firm.name.value.clone(),
            address: super::post::sender_address(&firm.address),
            phone: firm.phone.value.clone(),
            email: words(&firm.email),
            signatory: firm.signatory.value.clone(),
            title: words(&firm.title),
        }
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
