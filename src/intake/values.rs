//! The value of one cell, as a case would have it, with what spreadsheets do to data undone or refused in words.
//!
//! Comes in: a cell, what its column takes, and the state of its address. Goes out: the text that a case holds, and
//! what was understood on the way, or why it cannot be read. A full taxpayer number is refused before anything shows it.

use super::cells::{Cell, Shown, Value, day, tidy};
use super::columns::Takes;
use crate::case::single::{self, Form, Refusal};
use crate::characters::digit;
use crate::money::Money;
use crate::record::day_in_words;
use crate::record::write::Written;
use crate::redact;
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::ops::RangeInclusive;

/// What was not as it should be and could only be meant in one way. Each is said, with the first cell it was in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Understood {
    ZipZero,
    FourDigits,
    MonthFirst,
    CountOfDays,
    LastNameFirst,
    DashIsZero,
    NothingSaid,
    Formula,
}

impl Understood {
    /// Its name in messages.
    pub fn code(self) -> &'static str {
        match self {
            Understood::ZipZero => "zip-zero",
            Understood::FourDigits => "four-digits",
            Understood::MonthFirst => "month-first",
            Understood::CountOfDays => "count-of-days",
            Understood::LastNameFirst => "last-name-first",
            Understood::DashIsZero => "dash-is-zero",
            Understood::NothingSaid => "nothing-said",
            Understood::Formula => "formula-value",
        }
    }

    /// Says what was understood: what stands in the cell, and what it is read as.
    pub fn words(self, written: &str, read: &str) -> String {
        match self {
            Understood::ZipZero => {
                format!("`{written}` is read as the ZIP code {read}, whose leading zero was lost")
            }
            Understood::FourDigits => {
                "zeros at the beginning of the last four digits were lost and are put back".to_string()
            }
            Understood::MonthFirst => format!("`{written}` is read with the month first, as {read}"),
            Understood::CountOfDays => format!("{written} is read as a spreadsheet's count of days, {read}"),
            Understood::LastNameFirst => format!("`{written}` is read with the last name first, as {read}"),
            Understood::DashIsZero => "a dash in a column of dollars is read as zero".to_string(),
            Understood::NothingSaid => format!("`{written}` is read as an empty cell"),
            Understood::Formula => {
                "the value of a formula is taken as the spreadsheet computed it last".to_string()
            }
        }
    }
}

/// What a cell says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Said {
    /// The text as a case holds it; none where the cell says nothing.
    pub text: Option<String>,
    /// What was understood, with what the cell shows.
    pub understood: Vec<(Understood, String)>,
}

/// What the reading of a cell knows besides the cell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Around<'a> {
    /// The state of the same address.
    pub state: Option<&'a str>,
    /// The workbook counts days from the end of 1903.
    pub from_1904: bool,
    /// The column has days that can only be written with the day first.
    pub day_first: bool,
    /// The name of the column, which is that of its list of words.
    pub name: &'static str,
}

/// What people write where they have nothing to say.
const NOTHING: [&str; 14] = [
    "n/a", "#n/a", "none", "-", "--", "\u{2013}", "\u{2014}", "?", "??", "tbd", "tba", "unknown", "null",
    "nil",
];

/// Says whether a full taxpayer number, or what reads like one, is in a text.
pub(super) fn has_number(text: &str) -> bool {
    !redact::find(text).is_empty()
}

/// The refusal of a full taxpayer number, which never shows it.
fn number_here() -> Refusal {
    Refusal::new(
        "a full taxpayer number, or what reads like one, is in this cell (not shown)",
        "keep the last four digits at most, in the list as well",
    )
}

/// Reads a cell.
pub(super) fn read(cell: &Cell, takes: Takes, around: Around<'_>) -> Result<Said, Refusal> {
    let mut said = Said::default();
    match &cell.value {
        Value::Error(error) => {
            return Err(Refusal::new(
                format!("the cell shows the error {error}"),
                "correct the formula, or write the value",
            ));
        }
        Value::NotComputed => {
            return Err(Refusal::new(
                "the cell has a formula whose value is not in the file",
                "open the list in the spreadsheet program and save it, or write the value",
            ));
        }
        Value::Truth(truth) => {
            let word = if *truth { "TRUE" } else { "FALSE" };
            return Err(Refusal::new(format!("the cell holds {word}"), "write the value itself"));
        }
        Value::Text(_) | Value::Number(..) => {}
    }
    let shown = cell.words().unwrap_or_default();
    if has_number(&shown) {
        return Err(number_here());
    }
    let words = matches!(takes, Takes::Word(_));
    let text = match takes {
        Takes::Word(known) if single::word(around.name, &shown, &known()).is_ok() => None,
        _ if NOTHING.contains(&shown.to_lowercase().as_str()) => Some(shown.as_str()),
        _ => None,
    };
    let dash = |text: &str| matches!(text, "-" | "\u{2013}" | "\u{2014}");
    if let Some(text) = text {
        let zero = matches!(takes, Takes::Amount) && dash(text);
        let how = if zero { Understood::DashIsZero } else { Understood::NothingSaid };
        said.understood.push((how, text.to_string()));
        said.text = zero.then(|| "0".to_string());
        return Ok(said);
    }
    let understood = &mut said.understood;
    if cell.formula {
        understood.push((Understood::Formula, shown.clone()));
    }
    // A day where none is wanted: the spreadsheet has taken something for one.
    if let Value::Number(_, Shown::Day) = cell.value
        && !matches!(takes, Takes::Day)
    {
        return Err(Refusal::new(
            "the spreadsheet has made a date of this cell",
            "set the format of the column to text, and type the value again",
        ));
    }
    if let Value::Number(_, Shown::Percent) = cell.value {
        return Err(Refusal::new("the cell shows a percentage", "write the value itself"));
    }
    let line = |text: &str| -> Result<String, Refusal> {
        if text.contains(['\n', '\r']) {
            return Err(Refusal::new(
                "the cell has several lines",
                "put each part into its own column, such as the apartment into `unit`",
            ));
        }
        single::read(Form::Line, text)
    };
    let read = match takes {
        Takes::Reference => reference(&cell.value, &shown)?,
        Takes::Name => name(&line(&shown)?, understood)?,
        Takes::Line => line(&shown)?,
        Takes::LastFour => last_four(&shown, understood)?,
        Takes::State => single::read(Form::State, &shown)?,
        Takes::Zip => zip(&shown, around.state, understood)?,
        Takes::Amount => amount(&cell.value, &shown, understood)?,
        Takes::Day => read_day(&cell.value, &shown, around, understood)?,
        Takes::Year => year(&shown)?,
        Takes::Word(known) => single::word(around.name, &shown, &known())?.to_string(),
    };
    debug_assert!(!words || !read.is_empty());
    said.text = Some(read).filter(|text| !text.is_empty());
    Ok(said)
}

fn reference(value: &Value, shown: &str) -> Result<String, Refusal> {
    if let Value::Number(number, _) = value
        && !number.is_integer()
    {
        return Err(Refusal::new(
            "the cell holds a number with decimals",
            "set the format of the column to text, and type the reference again",
        ));
    }
    single::read(Form::Reference, shown)
}

/// Endings of a name that stand behind a comma (common practice).
const ENDINGS: [&str; 11] = ["jr", "sr", "ii", "iii", "iv", "v", "esq", "md", "phd", "cpa", "ea"];

/// Reads a name, also with the last name first.
fn name(text: &str, understood: &mut Vec<(Understood, String)>) -> Result<String, Refusal> {
    let two = format!(" {} ", text.to_lowercase());
    if two.contains(" and ") || text.contains(['&', '/', '+', ';']) {
        return Err(Refusal::new(
            format!("`{text}` reads like two people"),
            "write the second person of a joint return in the column `spouse`, each with the full name",
        ));
    }
    let Some((last, first)) = text.split_once(',') else { return Ok(text.to_string()) };
    let plain: String = first.chars().filter(|c| c.is_alphanumeric()).collect::<String>().to_lowercase();
    if ENDINGS.contains(&plain.as_str()) {
        return Ok(text.to_string());
    }
    let (last, first) = (last.trim(), first.trim());
    if last.is_empty() || first.is_empty() || first.contains(',') {
        return Err(Refusal::new(format!("`{text}` has commas"), "write the name as it stands in a letter"));
    }
    let read = format!("{first} {last}");
    understood.push((Understood::LastNameFirst, text.to_string()));
    Ok(read)
}

fn last_four(shown: &str, understood: &mut Vec<(Understood, String)>) -> Result<String, Refusal> {
    if shown.chars().filter(|c| digit(*c).is_some()).count() > 4 {
        return Err(number_here());
    }
    let bare = !shown.is_empty() && shown.bytes().all(|byte| byte.is_ascii_digit());
    if bare && shown.len() < 4 {
        understood.push((Understood::FourDigits, String::new()));
        return single::read(Form::LastFour, &format!("{shown:0>4}"));
    }
    let digits: String = shown.chars().filter(char::is_ascii_digit).collect();
    let masked = shown.chars().all(|c| c.is_ascii_digit() || matches!(c, 'x' | 'X' | '*' | '-' | ' '));
    match masked && digits.len() == 4 && shown.ends_with(&digits) {
        true => single::read(Form::LastFour, &digits),
        false => single::read(Form::LastFour, shown),
    }
}

/// States and territories whose ZIP codes begin with a zero: those with one, and those with two (United States Postal
/// Service, Publication 65; from memory). Holtsville, NY, has 00501 and 00544.
const ONE_ZERO: [&str; 9] = ["CT", "MA", "ME", "NH", "NJ", "RI", "VT", "AE", "NY"];
const TWO_ZEROS: [&str; 3] = ["PR", "VI", "NY"];

fn zip(
    shown: &str,
    state: Option<&str>,
    understood: &mut Vec<(Understood, String)>,
) -> Result<String, Refusal> {
    let digits = shown.bytes().filter(u8::is_ascii_digit).count();
    if digits > 5 && !shown.contains('-') {
        return Err(Refusal::new(
            "there are more than five digits and no hyphen (not shown)",
            "write five digits, or five, a hyphen and four, such as 01040-1234",
        ));
    }
    let (first, rest) = shown.split_once('-').map_or((shown, None), |(first, rest)| (first, Some(rest)));
    let plain = first.bytes().all(|byte| byte.is_ascii_digit());
    let fits = |states: &[&str]| state.is_some_and(|state| states.contains(&state));
    // New York has both: 06390 on Fishers Island, and 00501.
    let zeros = match first.len() {
        4 if plain && fits(&ONE_ZERO) && (state != Some("NY") || first == "6390") => 1,
        3 if plain && fits(&TWO_ZEROS) && (state != Some("NY") || matches!(first, "501" | "544")) => 2,
        3 | 4 if plain && state.is_some() => {
            return Err(Refusal::new(
                format!(
                    "`{shown}` has {} digits, and no ZIP code of {} begins so",
                    first.len(),
                    state.unwrap_or("")
                ),
                "write all five digits, and look whether the state is right",
            ));
        }
        _ => 0,
    };
    let whole = format!("{:0>width$}", first, width = first.len() + zeros);
    let read = rest.map_or(whole.clone(), |rest| format!("{whole}-{rest}"));
    let read = single::read(Form::Zip, &read)?;
    if zeros > 0 {
        understood.push((Understood::ZipZero, shown.to_string()));
    }
    Ok(read)
}

fn amount(value: &Value, shown: &str, understood: &mut Vec<(Understood, String)>) -> Result<String, Refusal> {
    let negative = || {
        Refusal::new(
            format!("`{shown}` is below zero, and amounts are never negative here"),
            "write the amount without sign and parentheses, if it is right otherwise",
        )
    };
    let money = match value {
        Value::Number(number, _) => {
            if number.is_sign_negative() && !number.is_zero() {
                return Err(negative());
            }
            if number.normalize().scale() > 2 {
                return Err(Refusal::new(
                    format!("`{shown}` has fractions of a cent"),
                    "round it in the list, and copy the paper where one shows the amount",
                ));
            }
            if *number >= Decimal::from(1_000_000_000_000_i64) {
                return Err(Refusal::new("the amount is larger than any return has", "correct it"));
            }
            Money::exact(*number)
        }
        _ => {
            let signs: String = shown.chars().filter(|c| !matches!(c, '$' | ' ')).collect();
            if matches!(signs.as_str(), "-" | "\u{2013}" | "\u{2014}") {
                understood.push((Understood::DashIsZero, shown.to_string()));
                return Ok("0".to_string());
            }
            let below = signs.starts_with(['(', '-', '\u{2212}']) || signs.ends_with('-');
            let digits = signs.trim_matches(['(', ')', '-', '\u{2212}']);
            if below && Money::read(digits).is_ok() {
                return Err(negative());
            }
            let text = shown.strip_prefix('$').map_or(shown, str::trim_start);
            let read = single::read(Form::Amount, text)?;
            Money::read(&read).map_err(|why| Refusal::new(why, "write it like 12500.00"))?
        }
    };
    Ok(written(money))
}

/// An amount as a case has it.
pub(super) fn written(amount: Money) -> String {
    match Written::amount(amount) {
        Written::Word(word) => word,
        _ => amount.plain(),
    }
}

fn year(shown: &str) -> Result<String, Refusal> {
    let years = crate::editions::years();
    let read = shown.parse::<i16>().ok().filter(|year| years.contains(year) && shown.len() == 4);
    read.map(|year| year.to_string()).ok_or_else(|| {
        Refusal::new(
            format!("`{shown}` is not a tax year that can be computed"),
            format!("write four digits, {} to {}", years.start(), years.end()),
        )
    })
}

/// The years in which a day of a list can be.
const YEARS: RangeInclusive<i16> = 1990..=2099;

fn read_day(
    value: &Value,
    shown: &str,
    around: Around<'_>,
    understood: &mut Vec<(Understood, String)>,
) -> Result<String, Refusal> {
    let days =
        |number: Decimal, from_1904: bool| day(number, from_1904).filter(|day| YEARS.contains(&day.year()));
    match value {
        Value::Number(number, Shown::Day) => {
            return day(*number, around.from_1904).map(|day| day.to_string()).ok_or_else(|| {
                Refusal::new("the date is one that cannot be meant", "write the day like 2027-03-30")
            });
        }
        Value::Number(number, _) => {
            return match days(*number, around.from_1904) {
                Some(day) => {
                    understood.push((Understood::CountOfDays, shown.to_string()));
                    Ok(day.to_string())
                }
                None => {
                    Err(Refusal::new(format!("`{shown}` is not a date"), "write the day like 2027-03-30"))
                }
            };
        }
        _ => {}
    }
    // What follows a day in a text is the hour of day that programs add.
    let text = shown.split_once(' ').filter(|(_, rest)| rest.contains(':')).map_or(shown, |(day, _)| day);
    if let Ok(day) = single::read(Form::Date, text) {
        return Ok(day);
    }
    if let Some(number) = text.parse::<Decimal>().ok().and_then(|number| days(number, false)) {
        return Err(Refusal::new(
            format!("`{shown}` may be a spreadsheet's count of days, which would be {number}"),
            "write the day like 2027-03-30, or save the list as .xlsx",
        ));
    }
    match slashed(text) {
        Some(Slashed { month_first: Some(day), .. }) if !around.day_first => {
            understood.push((Understood::MonthFirst, shown.to_string()));
            Ok(day.to_string())
        }
        Some(_) => Err(Refusal::new(
            match around.day_first {
                true => format!(
                    "`{shown}` is in a column where other dates have the day first, so it is not clear which day is meant"
                ),
                false => format!("`{shown}` has no such month; it reads as if the day came first"),
            },
            "write the day like 2027-03-30",
        )),
        // With the name of its month, as spreadsheets show it: `30-Mar-27`.
        None => match day_in_words(text).filter(|day| YEARS.contains(&day.year())) {
            Some(day) => Ok(day.to_string()),
            None => single::read(Form::Date, text),
        },
    }
}

/// A day in numbers with strokes, as far as it is one.
struct Slashed {
    month_first: Option<Date>,
    day_first: Option<Date>,
}

fn slashed(text: &str) -> Option<Slashed> {
    let sign = ['/', '.', '-'].into_iter().find(|sign| text.contains(*sign))?;
    let parts: Vec<&str> = text.split(sign).collect();
    let [first, second, year] = parts.as_slice() else { return None };
    let number = |part: &str| part.parse::<i8>().ok().filter(|n| *n > 0 && part.len() <= 2);
    let (first, second) = (number(first)?, number(second)?);
    let of = |month, day| Date::new(in_this_century(year)?, month, day).ok();
    Some(Slashed { month_first: of(first, second), day_first: of(second, first) })
}

/// A year of four digits, or of two, which is one of this century: the credits began in 2006.
fn in_this_century(text: &str) -> Option<i16> {
    let year: i16 = text.parse().ok().filter(|_| text.bytes().all(|byte| byte.is_ascii_digit()))?;
    match text.len() {
        2 => Some(2000 + year),
        4 => Some(year).filter(|year| YEARS.contains(year)),
        _ => None,
    }
}

/// Says whether a text can only be a day with the day of the month first.
pub(super) fn is_day_first(text: &str) -> bool {
    slashed(&tidy(text)).is_some_and(|one| one.month_first.is_none() && one.day_first.is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::columns::Field;

    fn of(field: Field, cell: &Cell, state: Option<&str>) -> Result<Said, Refusal> {
        let column = field.column();
        read(cell, column.takes, Around { state, name: column.name, ..Around::default() })
    }

    fn text_of(field: Field, text: &str, state: Option<&str>) -> Result<Said, Refusal> {
        of(field, &Cell::text(text), state)
    }

    fn number(text: &str, shown: Shown) -> Cell {
        Cell { value: Value::Number(text.parse().unwrap(), shown), formula: false }
    }

    #[test]
    fn what_spreadsheets_do_is_undone() {
        use Understood::*;
        for (field, written, state, read, understood) in [
            (Field::Zip, "2134", Some("MA"), "02134", Some(ZipZero)),
            (Field::Zip, "2134-1234", Some("MA"), "02134-1234", Some(ZipZero)),
            (Field::Zip, "601", Some("PR"), "00601", Some(ZipZero)),
            (Field::Zip, "6390", Some("NY"), "06390", Some(ZipZero)),
            (Field::Zip, "45990", Some("OH"), "45990", None),
            (Field::Balance, "$1,900.00", None, "1900", None),
            (Field::Balance, " $ 1,900.50 ", None, "1900.50", None),
            (Field::Balance, "\u{a0}1900\u{a0}", None, "1900", None),
            (Field::Balance, "$ -", None, "0", Some(DashIsZero)),
            (Field::Balance, "-", None, "0", Some(DashIsZero)),
            (Field::Filed, "2027-03-30", None, "2027-03-30", None),
            (Field::Filed, "3/30/2027", None, "2027-03-30", Some(MonthFirst)),
            (Field::Filed, "3/30/27", None, "2027-03-30", Some(MonthFirst)),
            (Field::Filed, "2027-03-30 00:00:00", None, "2027-03-30", None),
            (Field::Filed, "30-Mar-27", None, "2027-03-30", None),
            (Field::Filed, "March 30, 2027", None, "2027-03-30", None),
            (Field::Filed, "Mar 30th 2027", None, "2027-03-30", None),
            (Field::LastFour, "120", None, "***-**-0120", Some(FourDigits)),
            (Field::LastFour, "xxx-xx-0120", None, "***-**-0120", None),
            (Field::Name, "Birch, Wanda", None, "Wanda Birch", Some(LastNameFirst)),
            (Field::Name, "Wanda\u{a0}Birch, Jr.", None, "Wanda Birch, Jr.", None),
            (Field::State, "Massachusetts", None, "MA", None),
            (Field::FilingStatus, "MFJ", None, "married_filing_jointly", None),
            (Field::Delivery, "None", None, "none", None),
        ] {
            let said =
                text_of(field, written, state).unwrap_or_else(|refused| panic!("{written}: {refused:?}"));
            assert_eq!(said.text.as_deref(), Some(read), "{written}");
            assert_eq!(
                said.understood.iter().map(|(how, _)| *how).collect::<Vec<_>>(),
                understood.into_iter().collect::<Vec<_>>(),
                "{written}"
            );
        }
        let nothing = text_of(Field::Unit, "N/A", None).unwrap();
        assert_eq!((nothing.text, nothing.understood[0].0), (None, NothingSaid));
    }

    #[test]
    fn numbers_are_read_as_they_are_meant() {
        let days = |from_1904| Around { from_1904, ..Around::default() };
        let cell = number("46476", Shown::Day);
        assert_eq!(read(&cell, Takes::Day, days(false)).unwrap().text.as_deref(), Some("2027-03-30"));
        let cell = number("45014", Shown::Day);
        assert_eq!(read(&cell, Takes::Day, days(true)).unwrap().text.as_deref(), Some("2027-03-30"));
        let bare = read(&number("46476", Shown::Plain), Takes::Day, days(false)).unwrap();
        assert_eq!(bare.understood[0].0, Understood::CountOfDays);
        for (field, cell, read) in [
            (Field::Zip, number("2134", Shown::Digits("00000".into())), "02134"),
            (Field::Zip, number("2134", Shown::Plain), "02134"),
            (Field::Reference, number("412", Shown::Plain), "412"),
            (Field::Balance, number("1900", Shown::Plain), "1900"),
            (Field::LastFour, number("120", Shown::Plain), "***-**-0120"),
            (Field::Year, number("2026", Shown::Plain), "2026"),
            (Field::Form, number("1040", Shown::Plain), "1040"),
        ] {
            assert_eq!(of(field, &cell, Some("MA")).unwrap().text.as_deref(), Some(read));
        }
    }

    #[test]
    fn what_is_not_clear_is_refused_in_words() {
        let cell = |value| Cell { value, formula: true };
        for (field, cell, state, words) in [
            (Field::Zip, Cell::text("2134"), Some("OH"), "no ZIP code of OH"),
            (Field::Zip, Cell::text("213"), Some("MA"), "no ZIP code of MA"),
            (Field::Balance, Cell::text("(1,900)"), None, "below zero"),
            (Field::Balance, Cell::text("-1900"), None, "below zero"),
            (Field::Balance, number("-5", Shown::Plain), None, "below zero"),
            (Field::Balance, number("1900.333", Shown::Plain), None, "fractions of a cent"),
            (Field::Balance, number("0.19", Shown::Percent), None, "percentage"),
            (Field::Balance, number("46476", Shown::Day), None, "made a date"),
            (Field::Reference, number("46476", Shown::Day), None, "made a date"),
            (Field::Balance, cell(Value::Error("#REF!".into())), None, "#REF!"),
            (Field::Balance, cell(Value::NotComputed), None, "not in the file"),
            (Field::Balance, cell(Value::Truth(true)), None, "TRUE"),
            (Field::Filed, Cell::text("30/3/2027"), None, "day came first"),
            (Field::Filed, Cell::text("46476"), None, "would be 2027-03-30"),
            (Field::Filed, Cell::text("Marble 30 2027"), None, "no date"),
            (Field::Filed, Cell::text("March 30, 1927"), None, "no date"),
            (Field::Name, Cell::text("Wanda & Tom Birch"), None, "two people"),
            (Field::Street, Cell::text("12 Alder Lane\nApt 4"), None, "several lines"),
            (Field::FilingStatus, Cell::text("married"), None, "not one of the words"),
            (Field::Year, Cell::text("26"), None, "not a tax year"),
        ] {
            let refused = of(field, &cell, state).expect_err(words);
            assert!(refused.message.contains(words), "{words}: {}", refused.message);
        }
    }

    #[test]
    fn a_full_number_is_refused_unseen() {
        for (field, text) in [
            (Field::LastFour, "876-54-3219"),
            (Field::LastFour, "876543219"),
            (Field::LastFour, "87654321"),
            (Field::Name, "Ana 876-54-3219"),
            (Field::Reference, "876543219"),
            (Field::Zip, "876543219"),
        ] {
            let refused = format!("{:?}", text_of(field, text, Some("MA")).expect_err("refused"));
            assert!(!refused.contains("876") && !refused.contains("543"), "{refused}");
        }
        let refused = of(Field::LastFour, &number("87654321", Shown::Plain), None).expect_err("refused");
        assert!(!format!("{refused:?}").contains("543"));
    }
}
