//! Questions about the client: reference, people, where letters go, reminders, who prepared the case.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Address, Draft, Engagement, Person};
use super::terms;
use crate::case::single::{Form, Refusal, without_numbers};
use crate::case::{Language, ReminderBasis};

/// Asks for the reference and the people.
pub(super) fn people(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("The client");
    draft.reference = reference(i)?;
    draft.people.push(person(i, 1, "Client's full name")?);
    let second = "client.people.2";
    let joint = Question::yes_no(format!("{second}.joint"), "Is there a spouse on the return?", false);
    let joint = joint.explain("Both spouses stand on a joint return. For any other return write no.");
    if i.yes_no(joint)? {
        draft.people.push(person(i, 2, "Spouse's full name")?);
    }
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

fn person(i: &mut Conversation<'_>, number: usize, words: &str) -> Result<Person, Stop> {
    let id = format!("client.people.{number}");
    let name = Question::value(format!("{id}.name"), words, Form::Line)
        .explain("As on the return. It stands on the worksheet and in letters.")
        .when(|name| match without_numbers(&format!("tin {name}")) == format!("tin {name}") {
            true => Ok(()),
            false => Err(Refusal::new("a name holds no taxpayer number", "write the name alone")),
        });
    let name = i.ask(name)?;
    let words = "Last four digits of the taxpayer number";
    let tin = Question::value(format!("{id}.tin"), words, Form::LastFour)
        .explain("Four digits at most ever stand in a case, and none in a letter. A full number is refused.");
    Ok(Person { name, tin: i.maybe(tin)? })
}

fn mail_to(i: &mut Conversation<'_>) -> Result<Option<Address>, Stop> {
    let street = Question::value(
        "client.mail_to.street",
        "Where letters go: street and number, or PO box",
        Form::Line,
    )
    .explain("Left out, letters show no address.");
    match i.maybe(street)? {
        None => Ok(None),
        Some(street) => rest_of_address(i, "client.mail_to", street).map(Some),
    }
}

/// Asks for an address behind its street.
pub(super) fn rest_of_address(i: &mut Conversation<'_>, id: &str, street: String) -> Result<Address, Stop> {
    let ask = |key: &str, words: &str, form| Question::value(format!("{id}.{key}"), words, form);
    Ok(Address {
        street,
        unit: i.maybe(ask("unit", "Apartment or suite", Form::Line))?,
        city: i.ask(ask("city", "City", Form::Line))?,
        state: i.ask(ask("state", "State, two letters", Form::State))?,
        zip: i.ask(ask("zip", "ZIP", Form::Zip))?,
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
