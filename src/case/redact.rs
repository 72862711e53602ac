//! Full taxpayer numbers: finding them in a text and making them unreadable.
//!
//! Comes in: text, comments included. Goes out: the places of numbers, and the text with all but their last
//! four digits replaced by `x`, byte for byte, so that every other place stays where it was. Works before
//! anything else sees the text; therefore no later message, excerpt or packet can show a number.
//!
//! A number is found as people would read it: digits of every script, with whatever takes no room between them.

use crate::characters::{cover, digit, takes_no_room};
use crate::finding::{Finding, Span};
use std::ops::Range;

/// Finds every full taxpayer number.
///
/// A number grouped 3-2-4 counts wherever it stands. Nine digits without groups, or grouped 2-7 as an
/// employer's number is, count only on a line that speaks of a taxpayer number, because receipts, permits and
/// the employer numbers of auditors look the same; nine digits in any groups count right behind such a word.
/// ZIP+4 (5-4) and telephone numbers (3-3-4) never match elsewhere.
pub(crate) fn find(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = 0;
    let mut spoken_of = false;
    for line in text.split_inclusive('\n') {
        let speaks = speaks_of_taxpayer_number(line);
        if line.len() >= 9 && count_digits(line) >= 9 {
            find_in_line(line, start, speaks || spoken_of, &mut found);
        }
        // A key whose value stands on the next line speaks for it.
        spoken_of = match line.trim() {
            "" => spoken_of,
            written => speaks && written.trim_end_matches(['|', '>', '-', '+', ' ']).ends_with(':'),
        };
        start += line.len();
    }
    found
}

fn count_digits(line: &str) -> usize {
    match line.is_ascii() {
        true => line.bytes().filter(u8::is_ascii_digit).count(),
        false => line.chars().filter(|c| digit(*c).is_some()).count(),
    }
}

/// Replaces the digits of each place by `x`, except the last four.
pub(crate) fn apply(text: &str, places: &[Range<usize>]) -> String {
    if places.is_empty() {
        return text.to_string();
    }
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for place in places {
        out.push_str(&text[done..place.start]);
        let number = &text[place.clone()];
        let digits = count_digits(number);
        let mut n = 0;
        for c in number.chars() {
            n += usize::from(digit(c).is_some());
            out.push(if digit(c).is_some() && n + 4 <= digits { cover(c) } else { c });
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

/// The complaint about a number in the name of a file.
pub(super) fn of_file_name(shown: &str) -> Finding {
    Finding::error(CODE, format!("a full taxpayer number stands in the name `{shown}` (not shown)")).help(
        "rename the file; its name goes into the packet, and more people see names than what is in the files",
    )
}

/// One run of digits, with what takes no room between them.
struct Run {
    start: usize,
    end: usize,
    digits: Vec<u8>,
}

fn find_in_line(line: &str, base: usize, about_numbers: bool, found: &mut Vec<Range<usize>>) {
    let runs = digit_runs(line);
    let gaps: Vec<String> = runs.windows(2).map(|two| seen(&line[two[0].end..two[1].start])).collect();
    let length = |n: usize| runs.get(n).map_or(0, |run| run.digits.len());
    let gap = |n: usize| gaps.get(n).map_or("", String::as_str);
    let spoken = about_words(line);
    let mut n = 0;
    while n < runs.len() {
        let word = spoken.partition_point(|end| *end <= runs[n].start).checked_sub(1).map(|at| spoken[at]);
        let named = word.is_some_and(|end| leads_to(&line[end..runs[n].start]));
        // Part of a longer chain of groups, such as an order number, when a group stands close on either side.
        let joined_before = n > 0 && is_joint(gap(n - 1)) && !named;
        let groups = [
            (3, social(&runs, n, gap(n), gap(n + 1), about_numbers)),
            (
                2,
                about_numbers
                    && (length(n), length(n + 1)) == (2, 7)
                    && is_separator(gap(n))
                    && gap(n) != " ",
            ),
            (1, about_numbers && length(n) == 9),
        ];
        let whole =
            groups.iter().find(|(count, fits)| *fits && !joined_before && !is_joint(gap(n + count - 1)));
        let count = whole
            .map(|(count, _)| *count)
            .or_else(|| if named { nine_in_groups(&runs, n, &gap) } else { None });
        match count {
            Some(count) => {
                found.push(base + runs[n].start..base + runs[n + count - 1].end);
                n += count;
            }
            None => n += 1,
        }
    }
}

/// Says whether a number grouped 3-2-4 begins with a run.
fn social(runs: &[Run], n: usize, first: &str, second: &str, about_numbers: bool) -> bool {
    let Some([area, middle, serial]) = runs.get(n..n + 3) else { return false };
    let lengths = [area, middle, serial].map(|run| run.digits.len());
    if lengths != [3, 2, 4] || !is_separator(first) || !is_separator(second) {
        return false;
    }
    let sure = first == second && matches!(first, "-" | "." | " - ");
    // Other ways of grouping are common in other numbers.
    sure || about_numbers
        || ((first == second || !first.contains('.') && !second.contains('.'))
            && plausible(area, middle, serial))
}

/// Returns of how many groups nine digits consist that begin with a run, where they are in groups at all.
fn nine_in_groups<'g>(runs: &[Run], n: usize, gap: &impl Fn(usize) -> &'g str) -> Option<usize> {
    let mut digits = 0;
    for (count, run) in (1..).zip(&runs[n..]) {
        digits += run.digits.len();
        if digits >= 9 {
            return (digits == 9 && !is_joint(gap(n + count - 1))).then_some(count);
        }
        if !is_separator(gap(n + count - 1)) {
            return None;
        }
    }
    None
}

fn digit_runs(line: &str) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    // Where a run ends if nothing but what takes no room has come since.
    let mut open = false;
    for (at, c) in line.char_indices() {
        match digit(c) {
            Some(digit) => match runs.last_mut() {
                Some(run) if open => {
                    run.end = at + c.len_utf8();
                    run.digits.push(digit);
                }
                _ => {
                    runs.push(Run { start: at, end: at + c.len_utf8(), digits: vec![digit] });
                    open = true;
                }
            },
            None => open &= takes_no_room(c),
        }
    }
    runs
}

/// Writes what stands between two groups as it is seen: one sign for all dashes, one for all blanks.
fn seen(gap: &str) -> String {
    let signs = gap.chars().filter(|c| !takes_no_room(*c)).map(|c| match c {
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe58}' | '\u{fe63}' | '\u{ff0d}' => '-',
        '\u{2024}' | '\u{b7}' | '\u{2022}' | '\u{ff0e}' => '.',
        '\u{2215}' | '\u{2044}' | '\u{ff0f}' => '/',
        c if c.is_whitespace() => ' ',
        c => c,
    });
    signs.take(4).collect()
}

/// What may stand between the groups of a number.
fn is_separator(gap: &str) -> bool {
    matches!(gap, "-" | " " | "." | "/" | "_" | " - " | "- " | " -" | "  ")
}

/// What ties a neighboring group of digits to a number, so that both are one longer thing.
fn is_joint(gap: &str) -> bool {
    matches!(gap, "-" | "." | "/" | "_")
}

/// Says whether nothing but the signs of a key and its value stands between a word and a number.
fn leads_to(between: &str) -> bool {
    between.chars().count() <= 12
        && between.chars().all(|c| !c.is_alphanumeric() && !matches!(c, ',' | '}' | ']'))
}

/// Says whether groups 3-2-4 could have been given out at all: no zero group, no 666, and from 900 on only the
/// middle groups of ITIN and ATIN. Blanks between groups are common in other numbers, so they need this too.
fn plausible(area: &Run, middle: &Run, serial: &Run) -> bool {
    let number = |run: &Run| run.digits.iter().fold(0u16, |number, digit| number * 10 + u16::from(*digit));
    let (area, middle, serial) = (number(area), number(middle), number(serial));
    area != 0 && area != 666 && middle != 0 && serial != 0 && (area < 900 || middle >= 50)
        // A year at the end, as in "100 12 2024", is a date or a lot far more often.
        && !(1990..=2039).contains(&serial)
}

/// The words for taxpayer numbers.
const WORDS: [&str; 5] = ["tin", "ssn", "itin", "atin", "ptin"];
/// Phrases for them.
const PHRASES: [&str; 3] = ["social security", "taxpayer n", "taxpayer id"];

/// Says whether a line has a word for taxpayer numbers.
fn speaks_of_taxpayer_number(line: &str) -> bool {
    let any = |c: char| c.is_ascii_alphabetic();
    line.split(|c| !any(c)).any(|word| WORDS.iter().any(|known| word.eq_ignore_ascii_case(known)))
        || (line.len() >= 11 && {
            let lower = line.to_ascii_lowercase();
            PHRASES.iter().any(|phrase| lower.contains(phrase))
        })
}

/// Returns where the words for taxpayer numbers end in a line.
fn about_words(line: &str) -> Vec<usize> {
    let mut ends = Vec::new();
    let mut start = 0;
    for word in line.split_inclusive(|c: char| !c.is_ascii_alphabetic()) {
        let bare = word.trim_end_matches(|c: char| !c.is_ascii_alphabetic());
        if WORDS.iter().any(|known| bare.eq_ignore_ascii_case(known)) {
            ends.push(start + bare.len());
        }
        start += word.len();
    }
    ends
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
            ("note: 123.45.6789", "note: xxx.xx.6789"),
            ("note: 123/45/6789", "note: xxx/xx/6789"),
            ("note: 123 - 45 - 6789", "note: xxx - xx - 6789"),
            ("note: 123 45-6789", "note: xxx xx-6789"),
            ("note: 123-45- 6789", "note: xxx-xx- 6789"),
            ("note: 123\u{2011}45\u{2011}6789", "note: xxx\u{2011}xx\u{2011}6789"),
            ("note: 123\u{a0}45\u{a0}6789", "note: xxx\u{a0}xx\u{a0}6789"),
            ("1\u{200b}23-4\u{ad}5-67\u{2060}89", "x\u{200b}xx-x\u{ad}x-67\u{2060}89"),
            ("123\u{200d}-45-6789", "xxx\u{200d}-xx-6789"),
            ("\u{ff11}\u{ff12}\u{ff13}-45-6789", "\u{ff58}\u{ff58}\u{ff58}-xx-6789"),
            ("\u{661}23-45-6789", "\u{d7}xx-xx-6789"),
            ("\u{1d7cf}23-45-6789", "\u{1d4cd}xx-xx-6789"),
            ("tin: 12345-6789", "tin: xxxxx-6789"),
            ("TIN: 1234 56789", "TIN: xxxx x6789"),
            ("ssn=123456-789", "ssn=xxxxx6-789"),
            ("tin:\n  123456789", "tin:\n  xxxxx6789"),
            ("tin: >-\n\n  123456789", "tin: >-\n\n  xxxxx6789"),
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
            "{tin: \"***-**-4410\", zip: 01040-1234}",
            "invoice 123456789 of May",
            "tin: \"***-**-4410\"\nnumber: 123456789",
            "amounts 123.45 6789",
            "call 413.555.0142 or 413/555-0142",
            "lot 100/12/2024",
            "tin: none\n\nmaker number 123456789",
        ] {
            assert!(find(text).is_empty(), "{text}");
        }
    }
}
