//! Who the client is and how to reach them; who prepared the case.

use super::check::REFERENCE_FORM;
use super::kinds::{Delivery, Language, ReminderBasis};
use crate::finding::{Finding, Span, Spanned};
use crate::name::Reference;
use crate::record::rule::Takes;
use crate::record::tree::Value;
use crate::record::{Fields, Form, Leaf, Must, Reading, Slot, record};
use jiff::civil::Date;

record! {
    /// Who the client is and how to reach them.
    pub struct Client: CLIENT "client" {
        /// letters, digits and hyphens; the only name of the client in file names
        reference: Spanned<Reference>, "HH-0412";
        /// the one or two people of the return
        people: Vec<Person> => People, "[{name: Ana Alder}]";
        /// where letters go
        mail_to: Option<MailTo>, "{names: [Ana Alder], street: .., city: .., state: .., zip: ..}";
        /// language of letters; en when not said
        language: Language = Language::En, "en";
        /// on what basis the firm may send reminders
        engagement: Option<Engagement>, "{reminder_basis: preparation}";
        /// how letters are delivered; mail when not said
        delivery: Delivery = Delivery::Mail, "mail";
    }
}

record! {
    /// One person of the return.
    pub struct Person: PERSON "person" {
        /// full name
        name: Spanned<String>, "Ana Alder";
        /// taxpayer number, masked, last four digits only, in quotes
        tin: Option<Spanned<String>>, "\"***-**-4410\"";
        /// date of death
        deceased: Option<Spanned<Date>>, "2025-01-20";
    }
}

record! {
    /// Where letters go.
    pub struct MailTo: MAIL_TO "mail_to" {
        given span: Span;
        /// names on the envelope
        names: Vec<Spanned<String>> => Must<Vec<Spanned<String>>>, "[Ana Alder, Ben Alder]";
        /// street and number, or PO box
        street: Spanned<String>, "12 Alder Lane";
        /// apartment or suite
        unit: Option<Spanned<String>>, "Apt 4";
        /// city
        city: Spanned<String>, "Riverton";
        /// state, two letters
        state: Spanned<String>, "MA";
        /// ZIP or ZIP+4
        zip: Spanned<String>, "01040";
    }
}

record! {
    /// Basis for reminders.
    pub struct Engagement: ENGAGEMENT "engagement" {
        /// why the firm may send yearly reminders
        reminder_basis: Spanned<ReminderBasis>, "preparation";
        /// day of the written consent
        consented: Option<Spanned<Date>>, "2025-03-01";
        /// last day of the consent or engagement
        until: Option<Spanned<Date>>, "2028-12-31";
    }
}

record! {
    /// Who did something and when: `prepared` and `reviewed`.
    pub struct Signed: SIGNED "signed" {
        /// who
        by: Option<Spanned<String>>, "J. Alder";
        /// when
        on: Option<Spanned<Date>>, "2025-03-01";
    }
}

impl Leaf for Reference {
    const TAKES: Takes = Takes::Line;

    /// Reads a reference. Everything made of a case is named by it, so without one the case is of no use; the rest is
    /// read all the same, so that every mistake is reported at once.
    fn read(slot: &Slot<'_, '_>, reading: &mut Reading<'_>) -> Option<Spanned<Reference>> {
        let text = reading.line(slot.node, slot.key)?;
        let read = super::check::reference(&text).unwrap_or_else(|finding| {
            debug_assert_eq!(finding.code, REFERENCE_FORM);
            reading.findings.push(*finding);
            reading.useless = true;
            Reference::unread()
        });
        Some(Spanned::new(read, text.span))
    }
}

/// One person or two.
struct People;

impl Form for People {
    type Value = Vec<Person>;
    const TAKES: Takes = Takes::List(&Takes::Block(&PERSON));

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Vec<Person>> {
        if let Value::List(written) = &slot.node.value
            && !slot.node.broken
            && !(1..=2).contains(&written.len())
        {
            let message = format!("a return has one person or two, and here stand {}", written.len());
            reading.findings.push(Finding::error("people-count", message).at(slot.head()).help(
                match written.len() {
                    0 => "write at least the name, like `- name: Ana Alder`",
                    _ => "a second household on the same property has a case of its own, with what it paid",
                },
            ));
        }
        Vec::<Person>::read(slot, reading)
    }

    fn absent(_client: &Fields<'_>) -> Option<Vec<Person>> {
        Some(Vec::new())
    }
}

impl Client {
    /// Returns the names of the people, in their order.
    pub fn names(&self) -> Vec<&str> {
        self.people.iter().map(|person| person.name.value.as_str()).collect()
    }

    /// The client of a case that names none, in whose place the rest of the case is looked through.
    pub(super) fn unread(place: Span) -> Client {
        Client {
            reference: Spanned::new(Reference::unread(), place),
            people: Vec::new(),
            mail_to: None,
            language: Language::En,
            engagement: None,
            delivery: Delivery::Mail,
        }
    }
}

impl MailTo {
    /// Writes the address in one line, as the worksheet shows it.
    pub fn one_line(&self) -> String {
        super::home::one_line(
            &self.street,
            self.unit.as_ref(),
            &self.city,
            Some(&self.state),
            Some(&self.zip),
        )
    }
}
