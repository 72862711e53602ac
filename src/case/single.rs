//! One value on its own, read as the case file reads it.
//!
//! Comes in: a text that someone typed, and what is wanted of it. Goes out: the text as it would stand in a case, or
//! why it cannot and what to write instead, in the words that a case file would get. Knows nothing of questions.

use super::{FILE, check, spoken, states};
use crate::characters::{digit, unseen};
use crate::finding::{Finding, SourceId, Span, Spanned};
use crate::record::tree::{Node, Value};
use crate::record::{Reading, bare, suggest};
use crate::redact;

/// What is wanted of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Text on one line.
    Line,
    /// An amount of dollars.
    Amount,
    /// A percentage with its sign.
    Percentage,
    /// A plain number.
    Quantity,
    /// A whole number from one.
    Count,
    /// A date.
    Date,
    /// A client's reference.
    Reference,
    /// The last four digits of a taxpayer number, with or without the mask before them.
    LastFour,
    /// The two letters of a state.
    State,
    /// A ZIP code.
    Zip,
    /// A maker's code of four or a product number of seventeen characters.
    MakerCode,
}

/// Why a text cannot stand in a case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// What is wrong, in a sentence without a final full stop.
    pub message: String,
    /// What to write instead.
    pub help: String,
    /// The text to write, where only one can be meant.
    pub instead: Option<String>,
    /// What was typed is not to be shown again.
    pub forgotten: bool,
}

impl Refusal {
    /// Refuses a text.
    pub fn new(message: impl Into<String>, help: impl Into<String>) -> Refusal {
        Refusal { message: message.into(), help: help.into(), instead: None, forgotten: false }
    }
}

/// Reads a text as a case file would, and returns it as it stands there.
pub fn read(form: Form, text: &str) -> Result<String, Refusal> {
    let text = text.trim();
    safe(form, text)?;
    let text = match form {
        Form::LastFour => masked(text),
        Form::State => states::state_letters(text).map_or_else(|| text.to_uppercase(), str::to_string),
        Form::MakerCode => text.to_uppercase(),
        _ => text.to_string(),
    };
    let found = complaints(form, &text);
    let Some(first) = found.into_iter().next() else { return Ok(text) };
    let help = match form {
        Form::LastFour => "write the last four digits only".to_string(),
        _ => first.help.unwrap_or_default(),
    };
    let instead = help.split('`').nth(1).filter(|_| help.starts_with("write `")).map(str::to_string);
    let instead = instead.filter(|one| complaints(form, one).is_empty());
    Err(Refusal { instead, ..Refusal::new(first.message, help) })
}

/// Reads one of a list's words, each given with its label: the word or the label in any case, with blanks or hyphens
/// between its parts, or a word of everyday speech that can mean only one. What is misspelled is refused.
pub fn word(of: &str, text: &str, known: &[(&'static str, &'static str)]) -> Result<&'static str, Refusal> {
    let text = text.trim();
    safe(Form::Line, text)?;
    let plain = bare(text);
    let same = known.iter().find(|(word, label)| bare(word) == plain || bare(label) == plain);
    let words: Vec<&'static str> = known.iter().map(|(word, _)| *word).collect();
    let spoken = || spoken::unmistakable(of, text).filter(|word| words.contains(word));
    same.map(|(word, _)| *word).or_else(spoken).ok_or_else(|| {
        let help = match spoken::meant(of, text, &words) {
            Some(spoken::Meant::Word(word)) => format!("did you mean `{word}`?"),
            Some(spoken::Meant::Among(some)) => {
                let of_list = some.iter().filter(|(_, word)| words.contains(word)).map(|(_, word)| *word);
                format!("write one of: {}", of_list.collect::<Vec<_>>().join(", "))
            }
            None => suggest(text, &words),
        };
        Refusal::new(format!("`{text}` is not one of the words for `{of}`"), help)
    })
}

/// Makes every full taxpayer number of a text unreadable.
pub fn without_numbers(text: &str) -> String {
    let numbers = redact::find(text);
    redact::apply(text, &numbers)
}

/// Refuses what no case may hold, before anything shows the text again.
fn safe(form: Form, text: &str) -> Result<(), Refusal> {
    let digits = text.chars().filter(|c| digit(*c).is_some()).count();
    if !redact::find(text).is_empty() || (form == Form::LastFour && digits > 4) {
        let message = "a full taxpayer number does not belong in a case (it is not kept)";
        let refusal = Refusal::new(message, "write its last four digits only");
        return Err(Refusal { forgotten: true, ..refusal });
    }
    if let Some((c, called)) = text.chars().find_map(|c| Some((c, hidden(c)?))) {
        let message = match c.is_control() {
            true => {
                "there is a character in it that cannot be seen, such as that of an arrow key".to_string()
            }
            false => {
                format!("there is a character in it that cannot be seen, U+{:04X}, {called}", u32::from(c))
            }
        };
        return Err(Refusal::new(message, "type it again"));
    }
    Ok(())
}

/// Returns what an unseen character is called; a typed line holds no tab and no line end either.
fn hidden(c: char) -> Option<&'static str> {
    unseen(c).or_else(|| c.is_control().then_some("a control character"))
}

/// Puts the mask before four bare digits.
fn masked(text: &str) -> String {
    let bare = text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
    if bare { format!("***-**-{text}") } else { text.to_string() }
}

/// What a case file would say of a text.
fn complaints(form: Form, text: &str) -> Vec<Finding> {
    let span = Span { source: SourceId(0), start: 0, end: text.len() as u32 };
    let node = Node { span, value: Value::Text { text: text.to_string(), plain: false }, broken: false };
    let mut reading = Reading::new(&node, text, &FILE);
    let at = Spanned::new(text.to_string(), span);
    let mut found = Vec::new();
    match form {
        Form::Line => drop(reading.line(&node, "it")),
        Form::Amount => drop(reading.money(&node, "amount")),
        Form::Percentage => drop(reading.rate(&node, "share")),
        Form::Quantity => drop(reading.quantity(&node, "number")),
        Form::Count => drop(reading.count(&node, "units")),
        Form::Date => drop(reading.date(&node, "day")),
        Form::Reference => {
            reading.line(&node, "reference");
            found.extend(check::reference(&at).err().map(|one| *one));
        }
        Form::LastFour => check::tin(&at, &mut found),
        Form::State => check::state(&at, &mut found),
        Form::Zip => check::zip(&at, &mut found),
        Form::MakerCode if text.len() > 8 => check::code(("pin", 17), &at, &mut found),
        Form::MakerCode => check::code(("maker_code", 4), &at, &mut found),
    }
    let mut all = reading.findings;
    all.extend(found);
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::FilingStatus;

    #[test]
    fn a_text_is_read_as_in_a_case() {
        for (form, text, stands) in [
            (Form::Amount, " 12,500.00 ", "12,500.00"),
            (Form::Date, "2024-05-14", "2024-05-14"),
            (Form::LastFour, "4410", "***-**-4410"),
            (Form::State, "ma", "MA"),
            (Form::State, "New Hampshire", "NH"),
            (Form::Zip, "01040", "01040"),
            (Form::MakerCode, "ab12", "AB12"),
            (Form::Line, "12 Alder Lane #4", "12 Alder Lane #4"),
        ] {
            assert_eq!(read(form, text).as_deref(), Ok(stands));
        }
    }

    #[test]
    fn a_word_is_read_by_its_label_and_as_people_abbreviate_it() {
        let known: Vec<_> = FilingStatus::ALL.iter().map(|one| (one.word(), one.label())).collect();
        let read = |text| word("filing_status", text, &known);
        for text in ["married_filing_jointly", "Married Filing Jointly", "MFJ", "mfj "] {
            assert_eq!(read(text), Ok("married_filing_jointly"), "{text}");
        }
        assert_eq!(read("singel").unwrap_err().help, "did you mean `single`?");
        assert!(read("married").unwrap_err().help.contains("married_filing_separately"));
    }

    #[test]
    fn a_refusal_says_what_to_write() {
        let refused = |form, text| read(form, text).expect_err("refused");
        let date = refused(Form::Date, "5/14/2024");
        assert_eq!(date.instead.as_deref(), Some("2024-05-14"));
        assert_eq!(refused(Form::Percentage, "60").instead.as_deref(), Some("60%"));
        assert_eq!(refused(Form::Amount, "1.62e3").instead.as_deref(), Some("1620"));
        assert!(refused(Form::Amount, "twelve").help.contains("12500"));
        assert_eq!(refused(Form::Amount, "twelve").instead, None);
        assert!(refused(Form::Zip, "1040").help.contains("01040"));
        assert!(refused(Form::MakerCode, "AB1").message.contains("4 letters or digits"));
        assert!(refused(Form::Reference, "a/b").message.contains("letters, digits and hyphens"));
    }

    #[test]
    fn a_full_taxpayer_number_is_refused_and_never_shown() {
        for (form, text) in [(Form::LastFour, "123456789"), (Form::Line, "Ana 123-45-6789")] {
            let refusal = read(form, text).expect_err("refused");
            assert!(!format!("{refusal:?}").contains("123"));
        }
        assert_eq!(without_numbers("Ana 123-45-6789"), "Ana xxx-xx-6789");
    }
}
