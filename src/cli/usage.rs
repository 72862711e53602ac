//! The command line in words: how options are read, and what is said where one cannot be.
//!
//! Comes in: what was typed. Goes out: its value, or what is wrong and what to write instead. The library that reads the
//! command line knows which option is meant; its own words are for programmers, and none of them reach a terminal here.

use super::suppose::OfYear;
use crate::case::single::{self, Form};
use crate::money::Money;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use jiff::civil::Date;
use std::error::Error;
use std::fmt;
use std::num::NonZeroUsize;
use std::ops::RangeInclusive;

/// What is wrong with what was typed, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    what: String,
    help: String,
}

impl Wrong {
    fn new(what: impl Into<String>, help: impl Into<String>) -> Wrong {
        Wrong { what: what.into(), help: help.into() }
    }
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}\nhelp: {}", self.what, self.help)
    }
}

impl Error for Wrong {}

/// Reads a tax year.
pub(super) fn year(text: &str) -> Result<i16, Wrong> {
    let digits = text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
    let year = text.parse().ok().filter(|_| digits);
    year.ok_or_else(|| Wrong::new(format!("`{text}` is no tax year"), "write four digits, such as 2025"))
}

/// Reads an amount of tax for a year: `2026=5000`.
pub(super) fn of_year(text: &str) -> Result<OfYear, Wrong> {
    const HELP: &str = "write a year and dollars, such as 2026=5000";
    let Some((written, amount)) = text.split_once('=') else {
        return Err(Wrong::new(format!("`{text}` is not a year with an amount"), HELP));
    };
    let year = year(written)?;
    let amount = amount.trim();
    if amount.starts_with(['-', '\u{2212}']) {
        return Err(Wrong::new("a tax is not negative", "write 0 where there is none"));
    }
    Ok(OfYear::new(year, self::amount(amount)?))
}

/// Reads the tax year of a season, into which credit can be carried.
pub(super) fn season(text: &str) -> Result<i16, Wrong> {
    const YEARS: RangeInclusive<i16> = 2007..=2199;
    let year = year(text)?;
    match YEARS.contains(&year) {
        true => Ok(year),
        false => Err(Wrong::new(
            format!("no credit can be carried into {year}"),
            "write a tax year from 2007, the first after the credit began",
        )),
    }
}

/// Reads a date as a case has it.
pub(super) fn date(text: &str) -> Result<Date, Wrong> {
    let refused = |refusal: single::Refusal| Wrong::new(refusal.message, refusal.help);
    let help = "write year, month and day in digits, like 2026-03-12";
    if text.trim().is_empty() {
        return Err(Wrong::new("it is empty", help));
    }
    let day = single::read(Form::Date, text).map_err(refused)?;
    day.parse().map_err(|_| Wrong::new(format!("`{text}` is no date"), help))
}

/// Reads how many cases are worked on at once.
pub(super) fn threads(text: &str) -> Result<NonZeroUsize, Wrong> {
    let n = whole(text, 1..=256, "cannot be how many cases are worked on at once")?;
    NonZeroUsize::new(n).ok_or_else(|| Wrong::new("`0` cases are none", "write 1 or more"))
}

/// Reads how many letters a lot holds.
pub(super) fn lot(text: &str) -> Result<usize, Wrong> {
    whole(text, 1..=2000, "cannot be how many letters a lot holds")
}

/// Reads how many steps back a derivation goes.
pub(super) fn depth(text: &str) -> Result<u16, Wrong> {
    let n = whole(text, 0..=1000, "cannot be how many steps back to go")?;
    u16::try_from(n).map_err(|_| Wrong::new(format!("`{text}` steps are too many"), "write a smaller number"))
}

/// Reads an amount as it stands on a paper.
pub(super) fn amount(text: &str) -> Result<Money, Wrong> {
    Money::read(text.trim()).map_err(|why| Wrong::new(format!("`{text}` is no amount"), why))
}

/// Reads the digits of a seal slip: without blanks and in small letters.
pub(super) fn digits(text: &str) -> Result<String, Wrong> {
    let digits: String =
        text.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_lowercase()).collect();
    match (16..=64).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        true => Ok(digits),
        false => Err(Wrong::new(
            format!("`{text}` is no digest"),
            "give the rows of the seal slip, in their order: digits and letters from a to f, 64 of them or at least \
             the first 16",
        )),
    }
}

/// Reads words of which there must be some.
pub(super) fn words(text: &str) -> Result<String, Wrong> {
    match text.trim().is_empty() {
        true => {
            Err(Wrong::new("it is empty", "write it in quotes behind the option, or leave the option out"))
        }
        false => Ok(text.to_string()),
    }
}

fn whole(text: &str, range: RangeInclusive<usize>, not: &str) -> Result<usize, Wrong> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let n = text.parse().ok().filter(|n| digits && range.contains(n));
    n.ok_or_else(|| {
        let help = format!("write a whole number from {} to {}", range.start(), range.end());
        Wrong::new(format!("`{text}` {not}"), help)
    })
}

/// Says why a command line cannot be understood, and what to write instead.
pub(super) fn told(error: &clap::Error) -> String {
    let Wrong { what, help } = wrong(error);
    format!("error: {what}\nhelp: {help}")
}

fn wrong(error: &clap::Error) -> Wrong {
    let of = |kind| context(error, kind);
    let option = of(ContextKind::InvalidArg).map(|name| called(&name)).unwrap_or_default();
    let value = of(ContextKind::InvalidValue).unwrap_or_default();
    let help = format!("`{} --help` shows what it takes", command(error));
    match error.kind() {
        ErrorKind::ValueValidation => {
            match error.source().and_then(|source| source.downcast_ref::<Wrong>()) {
                Some(Wrong { what, help }) => Wrong::new(format!("{option}: {what}"), help.as_str()),
                None => Wrong::new(format!("{option} cannot be `{value}`"), help),
            }
        }
        ErrorKind::InvalidValue => {
            let what = match value.is_empty() {
                true => format!("nothing stands behind {option}"),
                false => format!("{option} cannot be `{value}`"),
            };
            match of(ContextKind::ValidValue) {
                Some(words) => Wrong::new(what, format!("write one of: {words}")),
                None => Wrong::new(what, help),
            }
        }
        ErrorKind::UnknownArgument => {
            let near = of(ContextKind::SuggestedArg)
                .map_or_else(String::new, |near| format!("did you mean {}? ", called(&near)));
            match option.starts_with('-') {
                true => Wrong::new(format!("there is no option `{option}` here"), format!("{near}{help}")),
                false => Wrong::new(
                    format!("`{option}` is one word too many"),
                    format!("put a name with blanks in quotes; {help}"),
                ),
            }
        }
        ErrorKind::InvalidSubcommand => {
            let name = of(ContextKind::InvalidSubcommand).unwrap_or_default();
            let near = of(ContextKind::SuggestedSubcommand)
                .map_or_else(String::new, |near| format!("did you mean `{near}`? "));
            let help = format!("{near}`{} --help` lists the commands", command(error));
            Wrong::new(format!("there is no command `{name}`"), help)
        }
        // Of several, each with its own name, one must be there.
        ErrorKind::MissingRequiredArgument if option.contains('|') => {
            let one: Vec<String> = option.trim_matches(['<', '>']).split('|').map(called).collect();
            Wrong::new(format!("{} is missing", crate::wording::either(&one)), help)
        }
        ErrorKind::MissingRequiredArgument => Wrong::new(format!("{option} is missing"), help),
        ErrorKind::ArgumentConflict => {
            let other = of(ContextKind::PriorArg).map(|name| called(&name)).unwrap_or_default();
            match other == option || other.is_empty() {
                true => Wrong::new(format!("{option} stands there twice"), "write it once"),
                false => {
                    Wrong::new(format!("{option} and {other} exclude each other"), "leave one of them out")
                }
            }
        }
        ErrorKind::TooManyValues => {
            Wrong::new(format!("{option} takes nothing more, and `{value}` stands behind it"), help)
        }
        ErrorKind::InvalidUtf8 => Wrong::new("a word of the command is no readable text (UTF-8)", help),
        _ => Wrong::new("the command line is not understood", help),
    }
}

/// Returns what an error says of something; several words with commas between them.
fn context(error: &clap::Error, kind: ContextKind) -> Option<String> {
    match error.get(kind)? {
        ContextValue::String(text) => Some(text.clone()),
        ContextValue::Strings(texts) if texts.is_empty() => None,
        ContextValue::Strings(texts) => Some(texts.join(", ")),
        other => Some(other.to_string()),
    }
}

/// Returns what an option or argument is called, without the signs around it: `--year` for `--year <YEAR>`, `CASE` for
/// `<CASE>...`.
fn called(described: &str) -> String {
    let one = |one: &str| match one.starts_with('-') {
        true => one.split([' ', '=']).next().unwrap_or(one).to_string(),
        false => one.trim_end_matches("...").trim_matches(['<', '>', '[', ']']).to_string(),
    };
    described.split(", ").map(one).collect::<Vec<_>>().join(", ")
}

/// Returns the command that was meant, as it is typed.
fn command(error: &clap::Error) -> String {
    let usage = context(error, ContextKind::Usage).unwrap_or_default();
    let words = usage.split_whitespace().skip_while(|word| *word != "gablework");
    let names: Vec<&str> = words.take_while(|word| !word.starts_with(['[', '<', '-'])).collect();
    if names.is_empty() { "gablework".to_string() } else { names.join(" ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_years_are_read_one_way() {
        assert_eq!(year("2025"), Ok(2025));
        for bad in
            ["", "25", "02025", "+202", "-202", "abcd", "20 5", "99999", "\u{662}\u{660}\u{662}\u{665}"]
        {
            assert_eq!(year(bad).unwrap_err().help, "write four digits, such as 2025", "{bad}");
        }
        assert_eq!(threads("1").map(NonZeroUsize::get), Ok(1));
        for bad in ["0", "257", "-1", "+1", "1.5", "four", "", "99999999999999999999999"] {
            assert_eq!(threads(bad).unwrap_err().help, "write a whole number from 1 to 256", "{bad}");
        }
        assert_eq!((lot("2000"), depth("0")), (Ok(2000), Ok(0)));
        assert!(season("2006").is_err() && season("2007").is_ok());
    }

    #[test]
    fn options_are_called_as_they_are_typed() {
        assert_eq!(called("--year <YEAR>"), "--year");
        assert_eq!(called("<CASE>..."), "CASE");
        assert_eq!(called("[OF]"), "OF");
        assert_eq!(called("<FOLDER>, --for <YEAR>"), "FOLDER, --for");
    }
}
