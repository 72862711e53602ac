//! A new case, asked for one question at a time.
//!
//! Comes in: the law, today, who answers ([`Desk`]), and answers of an earlier run. Goes out: the text of a case file
//! that `check` takes, as people write it. What is asked follows from the law of the years in question; a value is read
//! by the readers of the case file, so what is refused here is what would be refused there. Reads and writes no file.
//!
//! The story is told from its beginning after every step back or change; see [`asking`].

pub mod answers;
pub mod asking;
mod carried;
mod client;
mod draft;
pub mod firm;
mod paid;
mod papers;
mod property;
mod returns;
mod reviewed;
mod summary;
mod terms;
mod yaml;

pub use answers::Answers;
pub use asking::{Choice, Conversation, Desk, Question, Reply, Stop};

use crate::case::TaxYear;
use crate::finding::Severity;
use crate::law::Law;
use crate::money::Money;
use crate::name::Reference;
use crate::record::write::Keys;
use draft::Draft;
use jiff::civil::Date;

/// A case that was asked for.
pub struct Begun {
    /// The client's reference.
    pub reference: Reference,
    /// The text of the case file.
    pub text: String,
}

/// Writes the file of a case, with comments, as `begin` does: the case's keys, whose it is, and which command begins it.
pub(crate) fn case_text(keys: &Keys, reference: &str, today: Date, command: &str) -> String {
    yaml::file(keys, reference, today, command)
}

/// Makes a key of an address's street, for a case that has no other home.
pub(crate) fn key_of(street: &str, otherwise: &str) -> String {
    draft::key(street, otherwise, std::iter::empty())
}

/// Asks until the case is whole and may be written, or until whoever answers stops.
pub fn ask(i: &mut Conversation<'_>) -> Result<Begun, Stop> {
    loop {
        i.again();
        match story(i) {
            Err(Stop::Back) => i.back(),
            Ok(Some(begun)) => return Ok(begun),
            Ok(None) => {}
            Err(stop) => return Err(stop),
        }
    }
}

/// The whole story; nothing where a part is to be changed first.
fn story(i: &mut Conversation<'_>) -> Result<Option<Begun>, Stop> {
    let mut draft = Draft::default();
    client::people(i, &mut draft)?;
    property::all(i, &mut draft)?;
    carried::carried_in(i, &mut draft)?;
    if draft.items.is_empty() && draft.carried_in.is_none() {
        i.say("There is nothing to compute: nothing was bought, and no credit is left from earlier years.");
        i.reopen("property.more.1");
        return Ok(None);
    }
    carried::earlier(i, &mut draft)?;
    returns::all(i, &mut draft)?;
    papers::others(i, &mut draft)?;
    reviewed::ask(i, &mut draft)?;
    client::closing(i, &mut draft)?;
    confirmed(i, &draft)
}

/// Shows what was answered and what it comes to, and asks whether to write it.
fn confirmed(i: &mut Conversation<'_>, draft: &Draft) -> Result<Option<Begun>, Stop> {
    let text = yaml::write(draft, i.today);
    let computed = i.computed(&text)?;
    let parts = summary::parts(draft);
    i.say(&format!("\n{}", summary::figures(draft, &computed)));
    for finding in computed.outcome.findings.iter().filter(|one| one.severity == Severity::Error) {
        i.say(&format!("Something does not fit yet: {}.", finding.message));
    }
    let mut choices = vec![Choice::new("+write", "it is right: write the case")];
    choices.extend(parts.iter().map(|part| Choice::new(&part.questions, &part.line)));
    let question = Question::choice("confirm", "Is everything right? A number goes to that part", choices)
        .or("+write")
        .explain("Nothing is written before you say so. Where you go to a part, Enter keeps each answer.");
    match i.afresh(question)?.as_str() {
        "+write" => {
            let reference = Reference::new(&draft.reference);
            let fault = |_| Stop::Fault("a reference was asked for and is none".to_string());
            Ok(Some(Begun { reference: reference.map_err(fault)?, text }))
        }
        part => {
            i.reopen(part);
            Ok(None)
        }
    }
}

// ---- Values that several questions read ----

/// Returns the years whose law is known, earliest first.
fn years(law: &Law) -> Vec<TaxYear> {
    law.known().collect()
}

/// Asks for an amount.
fn money(i: &mut Conversation<'_>, question: Question) -> Result<Money, Stop> {
    amount(&i.ask(question)?)
}

/// Returns an amount that was read before.
fn amount(text: &str) -> Result<Money, Stop> {
    Money::read(text).map_err(|_| Stop::Fault(format!("{text} was taken for an amount")))
}

/// Asks for a day that may be left out.
fn maybe_day(i: &mut Conversation<'_>, question: Question) -> Result<Option<Date>, Stop> {
    let day = |text: String| text.parse().map_err(|_| Stop::Fault(format!("{text} was taken for a day")));
    i.maybe(question)?.map(day).transpose()
}
