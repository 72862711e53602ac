//! Full taxpayer numbers: finding them in a text and making them unreadable.
//!
//! Comes in: text, comments included. Goes out: the places of numbers, and the text with all but their last
//! four digits replaced by `x`, byte for byte, so that every other place stays where it was. Works before
//! anything else sees the text; therefore no later message, excerpt or packet can show a number.

use crate::finding::{Finding, Span};
use std::ops::Range;

/// Finds every full taxpayer number.
///
/// A number grouped 3-2-4 counts wherever it stands. Nine digits without groups, or grouped 2-7 as an
/// employer's number is, count only on a line that speaks of a taxpayer number, because receipts, permits and
/// the employer numbers of auditors look the same. ZIP+4 (5-4) and telephone numbers (3-3-4) never match.
pub(super) fn find(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        if line.bytes().filter(u8::is_ascii_digit).count() >= 9 {
            find_in_line(line, start, &mut found);
        }
        start += line.len();
    }
    found
}

/// Replaces the digits of each place by `x`, except the last four.
pub(super) fn apply(text: &str, places: &[Range<usize>]) -> String {
    if places.is_empty() {
        return text.to_string();
    }
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for place in places {
        out.push_str(&text[done..place.start]);
        let number = &text[place.clone()];
        let digits = number.bytes().filter(u8::is_ascii_digit).count();
        let mut n = 0;
        for c in number.chars() {
            if c.is_ascii_digit() {
                n += 1;
                out.push(if n + 4 <= digits { 'x' } else { c });
            } else {
                out.push(c);
            }
        }
        done = place.end;
    }
    out.push_str(&text[done..]);
    out
}

/// The code of the complaint about a number.
pub(super) const CODE: &str = "taxpayer-number";

/// The complaint about a number.
pub(super) fn finding(span: Span) -> Finding {
    Finding::error(
        CODE,
        "a full taxpayer number stands here (not shown); a case holds the last four digits at most, also in comments",
    )
    .at(span)
    .help("write it as \"***-**-1234\", in quotes, with its own last four digits")
}

/// One run of digits.
struct Run {
    start: usize,
    end: usize,
}

fn find_in_line(line: &str, base: usize, found: &mut Vec<Range<usize>>) {
    let runs = digit_runs(line);
    let about_numbers = speaks_of_taxpayer_number(line);
    let length = |n: usize| runs.get(n).map_or(0, |run: &Run| run.end - run.start);
    let gap = |n: usize| match (runs.get(n), runs.get(n + 1)) {
        (Some(one), Some(next)) => &line[one.end..next.start],
        _ => "",
    };
    let mut n = 0;
    while n < runs.len() {
        // Part of a longer chain of groups, such as an order number, when a group stands close on either side.
        let joined_before = n > 0 && is_joint(gap(n - 1));
        let social = length(n) == 3
            && length(n + 1) == 2
            && length(n + 2) == 4
            && is_separator(gap(n))
            && gap(n) == gap(n + 1)
            && (gap(n) != " " || about_numbers || plausible(line, &runs[n..n + 3]));
        if social && !joined_before && !is_joint(gap(n + 2)) {
            found.push(base + runs[n].start..base + runs[n + 2].end);
            n += 3;
            continue;
        }
        let employer = length(n) == 2 && length(n + 1) == 7 && is_separator(gap(n)) && gap(n) != " ";
        if about_numbers && employer && !joined_before && !is_joint(gap(n + 1)) {
            found.push(base + runs[n].start..base + runs[n + 1].end);
            n += 2;
            continue;
        }
        if about_numbers && length(n) == 9 && !joined_before && !is_joint(gap(n)) {
            found.push(base + runs[n].start..base + runs[n].end);
        }
        n += 1;
    }
}

fn digit_runs(line: &str) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (at, byte) in line.bytes().enumerate() {
        if !byte.is_ascii_digit() {
            continue;
        }
        match runs.last_mut() {
            Some(run) if run.end == at => run.end = at + 1,
            _ => runs.push(Run { start: at, end: at + 1 }),
        }
    }
    runs
}

/// What may stand between the groups of a number: a hyphen or dash, a point, a blank.
fn is_separator(gap: &str) -> bool {
    matches!(
        gap,
        "-" | " " | "." | "\u{2010}" | "\u{2011}" | "\u{2012}" | "\u{2013}" | "\u{2014}" | "\u{2212}" | " - "
    )
}

/// What ties a neighbouring group of digits to a number, so that both are one longer thing.
fn is_joint(gap: &str) -> bool {
    matches!(gap, "-" | "." | "/" | "_")
}

/// Says whether groups 3-2-4 could have been given out at all: no zero group, no 666, and from 900 on only the
/// middle groups of ITIN and ATIN. Blanks between groups are common in other numbers, so they need this too.
fn plausible(line: &str, runs: &[Run]) -> bool {
    let group = |n: usize| line[runs[n].start..runs[n].end].parse::<u16>().unwrap_or(0);
    let (area, middle, serial) = (group(0), group(1), group(2));
    area != 0 && area != 666 && middle != 0 && serial != 0 && (area < 900 || middle >= 50)
        // A year at the end, as in "100 12 2024", is a date or a lot far more often.
        && !(1990..=2039).contains(&serial)
}

/// Says whether a line has a word for taxpayer numbers.
fn speaks_of_taxpayer_number(line: &str) -> bool {
    let lower = line.to_ascii_lowercase();
    let words = ["tin", "ssn", "itin", "atin", "ptin"];
    lower.contains("social security")
        || lower.contains("taxpayer n")
        || lower.contains("taxpayer id")
        || lower.split(|c: char| !c.is_ascii_alphabetic()).any(|word| words.contains(&word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_numbers_are_found_and_made_unreadable() {
        for (text, after) in [
            ("tin: 123-45-6789", "tin: xxx-xx-6789"),
            ("# his SSN123-45-6789, see above", "# his SSNxxx-xx-6789, see above"),
            ("ssn 123456789", "ssn xxxxx6789"),
            ("because: 123 45 6789", "because: xxx xx 6789"),
            ("tin: 12-3456789", "tin: xx-xxx6789"),
            ("note: 123\u{2013}45\u{2013}6789", "note: xxx\u{2013}xx\u{2013}6789"),
            ("a: 123-45-6789, b: 987-65-4321", "a: xxx-xx-6789, b: xxx-xx-4321"),
        ] {
            assert_eq!(apply(text, &find(text)), after);
            assert_eq!(apply(text, &find(text)).len(), text.len());
        }
    }

    #[test]
    fn ordinary_numbers_raise_no_alarm() {
        for text in [
            "zip: 01040-1234",
            "phone: 413-555-0142",
            "phone: (413) 555-0142 and 555-01-42",
            "number: 12-3456789",
            "maker number 123456789",
            "tin: \"***-**-4410\"",
            "number: 2024-123-45-6789",
            "lot 100 12 2024",
            "amount: 123,456,789.00",
            "paid: 2024-04-02, amount: 123.45",
            "serial 0123-45-67890",
        ] {
            assert!(find(text).is_empty(), "{text}");
        }
    }
}
