//! What people mean when they write something else: the nearest known word, an amount or a day in a usual form that is
//! refused.
//!
//! Comes in: what was written. Goes out: what is meant, for a proposal. Decides nothing about a value;
//! a list of clients takes a day with the name of its month, which can only be meant in one way.

use crate::money::Money;
use jiff::civil::Date;
use rust_decimal::Decimal;

/// Finds the words of which a text is a misspelling: a letter or two, never a whole part of the word, so that
/// `carried_in` is none of `carried_out`. What differs in case, hyphens and blanks only is the word itself.
pub(crate) fn near<'k>(written: &str, known: &[&'k str]) -> Vec<&'k str> {
    if written.len() > 60 || known.len() > 500 {
        return Vec::new();
    }
    let plain = bare(written);
    if let Some(same) = known.iter().find(|word| bare(word) == plain) {
        return vec![same];
    }
    let parts = |text: &str| -> Vec<String> {
        let lower = text.to_ascii_lowercase();
        let parts = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
        parts.map(str::to_string).collect()
    };
    let allowed = |one: &str, other: &str| (one.len().min(other.len()) / 4).min(2);
    let distance = |one: &str, other: &str| strsim::damerau_levenshtein(one, other);
    let written = parts(written);
    let is_near = |word: &&&'k str| {
        let of_word = parts(word);
        if written.len() == of_word.len() {
            let pairs = || written.iter().zip(&of_word);
            return pairs().all(|(one, other)| distance(one, other) <= allowed(one, other))
                && pairs().map(|(one, other)| distance(one, other)).sum::<usize>() <= 2;
        }
        let word = bare(word);
        distance(&plain, &word) <= allowed(&plain, &word)
    };
    known.iter().filter(is_near).copied().collect()
}

/// Leaves out what people vary: case, hyphens, underscores, blanks.
pub(crate) fn bare(text: &str) -> String {
    text.to_ascii_lowercase().replace(['-', ' ', '_'], "")
}

/// Proposes the word that is meant, or shows all where they are few.
pub(crate) fn suggest(written: &str, known: &[&str]) -> String {
    let listed = || match known.len() <= 24 {
        true => format!("write one of: {}", known.join(", ")),
        false => {
            format!("write one of the {} that stand there, such as: {}", known.len(), known[..12].join(", "))
        }
    };
    did_you_mean(&near(written, known)).unwrap_or_else(listed)
}

/// Asks whether one of a few words was meant; several are named together, because the program picks none.
pub(super) fn did_you_mean(near: &[&str]) -> Option<String> {
    (!near.is_empty() && near.len() <= 3).then(|| format!("did you mean `{}`?", near.join("` or `")))
}

/// Guesses the amount behind a usual way of writing that is refused, where only one can be meant.
pub(super) fn guess_amount(text: &str) -> Option<String> {
    let unsigned = text
        .trim_start_matches("USD")
        .trim_end_matches("USD")
        .trim()
        .trim_start_matches(['-', '(', '+', '\u{2212}'])
        .trim_end_matches(')');
    if unsigned != text && Money::read(unsigned).is_ok() {
        return Some(unsigned.to_string());
    }
    // With a power of ten, as spreadsheets write large numbers.
    if text.len() <= 20
        && text.contains(['e', 'E'])
        && let Ok(number) = Decimal::from_scientific(text)
    {
        let whole = number.normalize().to_string();
        return Money::read(&whole).is_ok().then_some(whole);
    }
    let without = text.replace(['_', ' ', '\''], "");
    if without != text && Money::read(&without).is_ok() {
        return Some(without);
    }
    // Points for thousands and a comma for cents, as in 12.500,00.
    if let Some((whole, cents)) = text.split_once(',')
        && whole.contains('.')
        && cents.len() == 2
    {
        let swapped = format!("{}.{cents}", whole.replace('.', ","));
        return Money::read(&swapped).is_ok().then_some(swapped);
    }
    None
}

/// Says whether a text consists of what amounts are written with.
pub(super) fn looks_like_amount(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_digit() || matches!(c, ',' | '.' | '$' | ' '))
}

/// Reads `2024-05-14`, or says what is wrong and what to write.
pub(super) fn read_date(text: &str) -> Result<Date, (String, String)> {
    let numbers = |separator: char| -> Option<[i16; 3]> {
        let parts: Vec<i16> = text
            .split(separator)
            .map(|part| part.parse().ok().filter(|_| part.bytes().all(|b| b.is_ascii_digit())))
            .collect::<Option<_>>()?;
        parts.try_into().ok()
    };
    let strict = text.len() == 10 && text.as_bytes()[4] == b'-' && text.as_bytes()[7] == b'-';
    let (year, month, day) = match (numbers('-'), numbers('/')) {
        (Some([year, month, day]), _) => (year, month, day),
        // Month first, as dates are written in the United States.
        (_, Some([month, day, year])) if year >= 1000 => (year, month, day),
        (_, Some([year, month, day])) if year >= 1000 => (year, month, day),
        (_, Some([month @ 1..=12, day, year @ 0..=99])) if text.len() - text.rfind('/').unwrap_or(0) == 3 => {
            (2000 + year, month, day)
        }
        _ => {
            return Err((
                format!("`{text}` is no date as they are written here"),
                match day_in_words(text).or_else(|| day_within(text)) {
                    Some(day) => format!("write `{day}` if that is the day meant"),
                    None => "write year, month and day in digits, like 2024-05-14".to_string(),
                },
            ));
        }
    };
    let date = match (i8::try_from(month), i8::try_from(day)) {
        (Ok(month), Ok(day)) => Date::new(year, month, day).ok(),
        _ => None,
    };
    let Some(date) = date else {
        let days = (1..=12)
            .contains(&month)
            .then(|| Date::new(year, month as i8, 1).ok())
            .flatten()
            .map(|first| first.days_in_month());
        let reason = match days {
            Some(days) => format!("there is no day {day} in month {month} of {year}, which has {days} days"),
            None => format!("`{text}` is no date: there is no month {month}"),
        };
        return Err((reason, "write a day that exists, as year-month-day like 2024-05-14".to_string()));
    };
    if !(1900..=2099).contains(&year) {
        return Err((
            format!("the year {year} cannot be meant"),
            "write the year in four digits, from 1900 to 2099".to_string(),
        ));
    }
    match strict {
        true => Ok(date),
        false => Err((
            format!("`{text}` is no date as they are written here"),
            format!("write `{date}` if that is the day meant"),
        )),
    }
}

/// Reads a day written with the name of its month, or its first letters, three at least: `July 30, 2025`, `30 July 2025`,
/// `30-Jul-25`. A year of two digits is one of this century: the credits began in 2006.
pub(crate) fn day_in_words(text: &str) -> Option<Date> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let parts: Vec<String> = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_ascii_lowercase)
        .collect();
    let [first, second, year] = parts.as_slice() else { return None };
    let month = |word: &String| {
        let named = MONTHS.iter().position(|name| word.len() >= 3 && name.starts_with(word.as_str()));
        named.map(|n| n as i8 + 1)
    };
    let day = |word: &String| word.trim_end_matches(['s', 't', 'n', 'd', 'r', 'h']).parse::<i8>().ok();
    let (month, day) = match (month(first), month(second)) {
        (Some(found), None) => (found, day(second)?),
        (None, Some(found)) => (found, day(first)?),
        _ => return None,
    };
    let year = match (year.len(), year.parse::<i16>().ok()?) {
        (2, short) => 2000 + short,
        (_, year) => Some(year).filter(|year| (1900..=2099).contains(year))?,
    };
    Date::new(year, month, day).ok()
}

/// Finds the one day that stands in a text with something more: a remark, an hour, or dashes of another length.
fn day_within(text: &str) -> Option<Date> {
    let plain =
        text.trim().replace(['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '.', '/'], "-");
    let (head, rest) = plain.split_at_checked(10)?;
    let more_digits = |c: char| c.is_ascii_digit() || c == '-';
    let day = head.parse::<Date>().ok().filter(|day| (1900..=2099).contains(&day.year()))?;
    (!rest.starts_with(more_digits) && !rest.contains('-')).then_some(day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn dates_are_real_and_written_one_way() {
        assert_eq!(read_date("2024-02-29"), Ok(Date::constant(2024, 2, 29)));
        for (text, help) in [
            ("5/14/2024", "write `2024-05-14` if that is the day meant"),
            ("5/30/24", "write `2024-05-30` if that is the day meant"),
            ("5/3/4", "write year, month and day in digits, like 2024-05-14"),
            ("2024-5-14", "write `2024-05-14` if that is the day meant"),
            ("2023-02-29", "write a day that exists, as year-month-day like 2024-05-14"),
            ("2024-13-01", "write a day that exists, as year-month-day like 2024-05-14"),
            ("May 14", "write year, month and day in digits, like 2024-05-14"),
            ("0202-01-01", "write the year in four digits, from 1900 to 2099"),
            ("+024-01-01", "write year, month and day in digits, like 2024-05-14"),
        ] {
            assert_eq!(read_date(text).unwrap_err().1, help, "{text}");
        }
        assert_eq!(
            read_date("2023-02-29").unwrap_err().0,
            "there is no day 29 in month 2 of 2023, which has 28 days"
        );
    }

    #[test]
    fn a_word_is_proposed_only_when_it_is_near() {
        let known = ["filing_status", "filed", "form", "stage"];
        assert_eq!(suggest("fieled", &known), "did you mean `filed`?");
        assert_eq!(suggest("status", &known), "write one of: filing_status, filed, form, stage");
        let keys = ["heat-pump-water-heater", "roof-array", "roof-arrays"];
        assert_eq!(suggest("heat-pump", &keys), format!("write one of: {}", keys.join(", ")));
        assert_eq!(suggest("roof-arra", &keys), "did you mean `roof-array`?");
        assert_eq!(suggest("roof-arrayz", &keys), "did you mean `roof-array` or `roof-arrays`?");
    }

    #[test]
    fn usual_ways_to_write_amounts_are_guessed() {
        assert_eq!(guess_amount("12.500,00").as_deref(), Some("12,500.00"));
        assert_eq!(guess_amount("-500").as_deref(), Some("500"));
        assert_eq!(guess_amount("(500.00)").as_deref(), Some("500.00"));
        assert_eq!(guess_amount("1_000").as_deref(), Some("1000"));
        for (written, guess) in [
            ("1.62e3", Some("1620")),
            ("1e3", Some("1000")),
            ("1.2345E4", Some("12345")),
            ("16205e-1", Some("1620.5")),
            ("1.62345e2", None),
            ("1e-9", None),
            ("9e28", None),
            ("e3", None),
        ] {
            assert_eq!(guess_amount(written).as_deref(), guess, "{written}");
        }
    }

    #[test]
    fn days_written_out_are_understood() {
        let day = Some(date(2025, 7, 30));
        for text in
            ["July 30, 2025", "30 July 2025", "Jul 30 2025", "jul. 30th, 2025", "30-Jul-2025", "30-Jul-25"]
        {
            assert_eq!(day_in_words(text), day, "{text}");
        }
        for text in
            ["summer 2025", "July 2025", "Julius 30 2025", "July 41, 2025", "July 30, 225", "2025-07-30"]
        {
            assert_eq!(day_in_words(text), None, "{text}");
        }
    }
}
