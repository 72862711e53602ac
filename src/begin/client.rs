//! Questions about the client: reference, people, where letters go, reminders, who prepared the case.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Address, Draft, Engagement, Person};
use super::terms;
use crate::case::single::{self, Form, Refusal, without_numbers};
use crate::case::{Language, ReminderBasis};

/// Asks for the reference and the people.
pub(super) fn people(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("The client");
    draft.reference = reference(i)?;
    draft.people.extend(person(i, 1, "Client's full name, and the last four digits of the taxpayer number")?);
    draft.people.extend(person(
        i,
        2,
        "Spouse's full name and last four digits, if there is a spouse on the return",
    )?);
    draft.mail_to = mail_to(i)?;
    if draft.mail_to.is_some() {
        let choices = Language::ALL.iter().map(|one| Choice::new(one.word(), one.label())).collect();
        let question = Question::choice("client.language", "Language of the letters", choices)
            .or(Language::En.word())
            .explain("The worksheet stays in English, the language of the forms.");
        draft.language = Language::from_word(&i.ask(question)?);
    }
    Ok(())
}

fn reference(i: &mut Conversation<'_>) -> Result<String, Stop> {
    let taken: Vec<String> = i.taken.to_vec();
    let question = Question::value("client.reference", "Your reference for the client, such as HH-0412", Form::Reference)
        .explain("It names the files of this client: letters, digits and hyphens. The client's name stands in no file name.")
        .when(move |reference| match taken.iter().find(|one| one.eq_ignore_ascii_case(reference)) {
            Some(one) => Err(Refusal::new(format!("another case in this folder has the reference {one}"), "choose another")),
            None => Ok(()),
        });
    i.ask(question)
}

fn person(i: &mut Conversation<'_>, number: usize, words: &str) -> Result<Option<Person>, Stop> {
    let question = Question::value(format!("client.people.{number}"), words, Form::Line)
        .explain(
            "As on the return, such as: Ana Alder 4410. The name stands on the worksheet and in letters; four digits at most \
             ever stand in a case, and none in a letter. They may be left out. A full number is refused.",
        )
        .and_read(|typed| named(typed).map(|person| person.written()));
    let text = match number {
        1 => Some(i.ask(question)?),
        _ => i.maybe(question)?,
    };
    text.map(|text| named(&text).map_err(|_| Stop::Fault("a person was named and is none".to_string())))
        .transpose()
}

/// Reads a name with or without the last four digits of a taxpayer number, or their mask, behind it.
fn named(text: &str) -> Result<Person, Refusal> {
    let numbered = |name: &str| without_numbers(&format!("tin {name}")) != format!("tin {name}");
    if numbered(text) {
        let message = "a full taxpayer number does not belong in a case (it is not kept)";
        return Err(Refusal::new(message, "write the name and the last four digits only"));
    }
    let (name, last) = match text.rsplit_once([' ', ',']) {
        Some((name, last))
            if !last.is_empty()
                && last.bytes().all(|byte| byte.is_ascii_digit() || b"*-".contains(&byte)) =>
        {
            (name.trim_end_matches([' ', ',']), Some(single::read(Form::LastFour, last)?))
        }
        _ => (text, None),
    };
    match name.chars().any(char::is_alphabetic) {
        true => Ok(Person { name: single::read(Form::Line, name)?, tin: last }),
        false => {
            Err(Refusal::new("a name has letters", "write the full name, and behind it the four digits"))
        }
    }
}

impl Person {
    fn written(&self) -> String {
        self.tin.as_ref().map_or_else(|| self.name.clone(), |tin| format!("{} {tin}", self.name))
    }
}

fn mail_to(i: &mut Conversation<'_>) -> Result<Option<Address>, Stop> {
    let words = "Where letters go, on one line, such as 12 Alder Lane, Apt 4, Riverton, MA 01040";
    let question = Question::value("client.mail_to", words, Form::Line)
        .and_read(|typed| address(typed).map(|one| one.line()))
        .explain("Street and number or PO box, apartment or suite, city, state and ZIP, with commas between. Left out, letters show no address.");
    i.maybe(question)?.as_deref().map(known_address).transpose()
}

/// Asks for an address on one line.
pub(super) fn ask_address(
    i: &mut Conversation<'_>,
    id: &str,
    words: &str,
    likely: Option<&Address>,
) -> Result<Address, Stop> {
    let question = Question::value(id, words, Form::Line)
        .maybe(likely.map(Address::line))
        .and_read(|typed| address(typed).map(|one| one.line()))
        .explain("Street and number, apartment or suite, city, state and ZIP, with commas between, such as 12 Alder Lane, Riverton, MA 01040.");
    known_address(&i.ask(question)?)
}

fn known_address(text: &str) -> Result<Address, Stop> {
    address(text)
        .map_err(|refusal| Stop::Fault(format!("{text} was taken for an address: {}", refusal.message)))
}

/// Reads an address on one line: street, apartment, city, state and ZIP.
pub(super) fn address(text: &str) -> Result<Address, Refusal> {
    let help =
        "write street, city, state and ZIP with commas between, such as 12 Alder Lane, Riverton, MA 01040";
    let refused = |what: &str| Refusal::new(format!("{what} of this address is missing"), help);
    let mut parts: Vec<&str> = text.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
    let last = parts.pop().ok_or_else(|| refused("the street"))?;
    let (before, zip) = match last.rsplit_once(' ') {
        Some((before, zip)) => (before.trim(), zip),
        None => (parts.pop().unwrap_or_default(), last),
    };
    if !zip.bytes().any(|byte| byte.is_ascii_digit()) {
        return Err(refused("the ZIP"));
    }
    let zip = single::read(Form::Zip, zip)?;
    let read = |state: &str| single::read(Form::State, state);
    let state = match (read(before), before.rsplit_once(' ')) {
        (Ok(state), _) => state,
        (Err(_), Some((city, state))) if read(state).is_ok() => {
            parts.push(city.trim());
            read(state)?
        }
        (Err(refusal), _) => return Err(refusal),
    };
    let city = parts.pop().ok_or_else(|| refused("the city"))?;
    if parts.is_empty() {
        return Err(refused("the street or the city"));
    }
    let street = parts.remove(0);
    let line = |text: &str| single::read(Form::Line, text);
    let unit = (!parts.is_empty()).then(|| parts.join(", "));
    Ok(Address {
        street: line(street)?,
        unit: unit.map(|unit| line(&unit)).transpose()?,
        city: line(city)?,
        state,
        zip,
    })
}

/// Asks whether the firm may write each season, and who prepared the case.
pub(super) fn closing(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("At the end");
    draft.engagement = engagement(i)?;
    let by = Question::value("closing.by", "Prepared by", Form::Line)
        .explain("The name or initials of whoever prepared the case; today's date is put beside it.");
    let today = i.today;
    draft.prepared = i.maybe(by)?.map(|by| (by, today));
    Ok(())
}

fn engagement(i: &mut Conversation<'_>) -> Result<Option<Engagement>, Stop> {
    let mut choices = vec![Choice::new("no", "no, or not settled yet")];
    choices.extend(ReminderBasis::ALL.iter().map(|one| Choice::new(one.word(), terms::reminder(*one))));
    let question =
        Question::choice("closing.reminders", "May the firm write to the client each season?", choices)
            .or("no")
            .explain(terms::REMINDERS);
    let Some(basis) = ReminderBasis::from_word(&i.ask(question)?) else {
        return Ok(None);
    };
    let mut one = Engagement { basis, consented: None, until: None };
    if basis == ReminderBasis::Consent {
        let day = |id: &str, words: &str| {
            Question::value(id, words, Form::Date).explain("As the signed paper says it.")
        };
        one.consented = super::maybe_day(i, day("closing.consented", "Day of the consent"))?;
        let begun = one.consented;
        let until = day("closing.until", "Last day of the consent").when(move |text| {
            match (begun, text.parse().ok()) {
                (Some(begun), Some(until)) if begun > until => Err(Refusal::new(
                    format!("the consent was given on {begun}, after that day"),
                    "correct the day",
                )),
                _ => Ok(()),
            }
        });
        one.until = super::maybe_day(i, until)?;
    }
    Ok(Some(one))
}
