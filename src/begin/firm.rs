//! Questions about the firm: who sends the letters.
//!
//! Comes in: who answers. Goes out: the text of a firm file, which the reader of firm files takes.

use super::asking::{Conversation, Question, Stop};
use super::{client, yaml};
use crate::case::firm;
use crate::case::single::Form;
use crate::finding::{Severity, Sources};

/// Offers to make a firm file, and asks what it needs. Nothing where nobody wants one.
pub fn ask(i: &mut Conversation<'_>) -> Result<Option<String>, Stop> {
    loop {
        i.again();
        match story(i) {
            Err(Stop::Back) => i.back(),
            other => return other,
        }
    }
}

fn story(i: &mut Conversation<'_>) -> Result<Option<String>, Stop> {
    let make = Question::yes_no("firm.make", "Make a firm file now?", false).explain(
        "Letters take their sender from the file firm.yaml beside the cases. It is made once; e-mail, title, logo and \
         letterhead can be added to it later.",
    );
    if !i.yes_no(make)? {
        return Ok(None);
    }
    let line = |key: &str, words: &str| Question::value(format!("firm.{key}"), words, Form::Line);
    let name = i.ask(line("name", "The firm's name").explain("As it heads the letters."))?;
    let words = "Its address, on one line, such as 12 Main Street, Springfield, OR 97477";
    let address = client::ask_address(i, "firm.address", words, None)?;
    let phone =
        i.ask(line("phone", "Its telephone number").explain("As letters give it, such as 541-555-0142."))?;
    let signatory =
        i.ask(line("signatory", "Who signs the letters").explain("The name under each letter."))?;
    let title = i.maybe(line("title", "Title of the signatory").explain("Such as Enrolled Agent."))?;
    let text = yaml::firm(&name, &address, &phone, &signatory, title.as_deref());
    let (read, findings) = firm::read("firm.yaml", text.as_bytes(), &mut Sources::default());
    match findings.into_iter().find(|one| one.severity == Severity::Error) {
        None if read.is_some() => Ok(Some(text)),
        error => Err(Stop::Fault(format!("the firm file cannot be read again: {error:?}"))),
    }
}
