//! Full taxpayer numbers: finding them in a text and making them unreadable.
//!
//! Comes in: text, comments included. Goes out: the places of numbers, and the text with all but their last four
//! characters replaced by `x`, byte for byte, so that every other place stays where it was. Works before anything else
//! sees the text; therefore no later message, excerpt or packet can show a number.
//!
//! A number is found as people would read it: digits of every script, with whatever takes no room between them. The
//! README states the rule ("Privacy"); `tests.rs` is its grammar, of disguises and of look-alikes. Every step is one
//! pass over the text, with a look ahead that does not grow with it.

mod scan;
mod words;

#[cfg(test)]
mod tests;

use crate::characters::{cover, digit};
use crate::finding::{Finding, Span};
use crate::name::reads_as_number;
use scan::{Gap, Run};
use std::ops::Range;
use words::{Kind, Word};

/// Finds every full taxpayer number, in the order of places, none inside another.
pub(crate) fn find(text: &str) -> Vec<Range<usize>> {
    // Fewer digits than this are no number in any form.
    if text.bytes().filter(u8::is_ascii_digit).count() < 5 && text.is_ascii() {
        return Vec::new();
    }
    let mut found = match text.contains(LOST) {
        false => find_in(text),
        // Nobody knows whether a lost character was a sign between groups or none at all.
        true => [HYPHEN, JOINER].iter().flat_map(|sign| find_in(&text.replace(LOST, sign))).collect(),
    };
    found.sort_by_key(|place| place.start);
    let mut apart: Vec<Range<usize>> = Vec::with_capacity(found.len());
    for place in found {
        match apart.last_mut() {
            Some(last) if place.start < last.end => last.end = last.end.max(place.end),
            _ => apart.push(place),
        }
    }
    apart
}

/// The mark for a character that was lost, and two signs of as many bytes: one that separates, one that does not.
const LOST: char = '\u{fffd}';
const HYPHEN: &str = "\u{2010}";
const JOINER: &str = "\u{2060}";

fn find_in(text: &str) -> Vec<Range<usize>> {
    let words = words::find(text);
    let lines = Lines::of(text, &words);
    let (runs, gaps) = scan::runs(text, true);
    let mut found = by_groups(text, &words, &lines, &Groups { runs: &runs, gaps: &gaps });
    if runs.iter().any(|run| run.guessed) {
        // A letter that could be a digit may as well be one: both ways of reading count.
        let (runs, gaps) = scan::runs(text, false);
        found.extend(by_groups(text, &words, &lines, &Groups { runs: &runs, gaps: &gaps }));
    }
    found.extend(under_keys(text, &words, &lines));
    found
}

/// Replaces the letters and digits of each place by `x`, except the last four.
pub(crate) fn apply(text: &str, places: &[Range<usize>]) -> String {
    if places.is_empty() {
        return text.to_string();
    }
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for place in places {
        out.push_str(&text[done..place.start]);
        out.push_str(&covered(&text[place.clone()]));
        done = place.end;
    }
    out.push_str(&text[done..]);
    out
}

/// Replaces all letters and digits but the last four.
fn covered(number: &str) -> String {
    let shows = |c: char| c.is_alphanumeric() || digit(c).is_some();
    let mut left = number.chars().filter(|c| shows(*c)).count();
    let hide = |c: char| {
        if !shows(c) {
            return c;
        }
        left -= 1;
        if left >= 4 { cover(c) } else { c }
    };
    number.chars().map(hide).collect()
}

/// Covers what stands under a key for a taxpayer number, whatever its form, where it holds more than four digits.
pub(crate) fn under_key(key: &str, value: &str) -> Option<String> {
    let words = words::find(key);
    let whole = |kind: Kind| words.iter().any(|word| word.kind == kind && is_whole(key, word));
    let number = whole(Kind::Person) || whole(Kind::Taxpayer);
    let hidden = number && digits(value) > 4 || whole(Kind::Reference) && reads_as_number(value);
    hidden.then(|| covered(value))
}

/// Says whether a key is one for a taxpayer number, or that of the reference.
pub(crate) fn is_key(key: &str) -> bool {
    key.len() <= 80 && words::find(key).iter().any(|word| word.kind != Kind::Lead && is_whole(key, word))
}

/// Makes numbers in the path of a file unreadable, and says whether the file's own name has one. The name of a file of
/// nine digits reads like one as well.
pub(crate) fn in_path(path: &str) -> (String, bool) {
    let mut numbers = find(path);
    let name = path.rfind(['/', '\\']).map_or(0, |at| at + 1);
    let mut has_one = numbers.iter().any(|number| number.end > name);
    if !has_one && reads_as_number(&path[name..]) {
        numbers.push(name..path.len());
        has_one = true;
    }
    (apply(path, &numbers), has_one)
}

/// Says whether a word is all that a key says.
fn is_whole(key: &str, word: &Word) -> bool {
    let rest = |text: &str| !text.contains(|c: char| c.is_alphanumeric());
    rest(&key[..word.start]) && rest(&key[word.end..])
}

fn digits(text: &str) -> usize {
    text.chars().filter(|c| digit(*c).is_some()).count()
}

/// The code of the complaint about a number. Nothing is made of a case that has it.
pub(crate) const CODE: &str = "taxpayer-number";

/// The complaint about a number.
pub(crate) fn finding(span: Span) -> Finding {
    Finding::error(
        CODE,
        "a full taxpayer number, or what reads like one, is here (not shown); a case holds the last four digits at most, also in comments",
    )
    .at(span)
    .help("write it as \"***-**-1234\", in quotes, with its own last four digits; write any other number, such as an invoice's, so that it does not read like one")
}

/// The complaint about a number in the name of a file.
pub(crate) fn of_file_name(shown: &str) -> Finding {
    Finding::error(CODE, format!("a full taxpayer number stands in the name `{shown}` (not shown)")).help(
        "rename the file; its name goes into the packet, and more people see names than what is in the files",
    )
}

/// What is known of each line of a text.
struct Lines {
    /// Where each begins.
    starts: Vec<usize>,
    /// Whether it speaks of a number of a person, or of one that may be a business's.
    about: Vec<Option<Kind>>,
    /// Where its comment begins.
    comments: Vec<Option<usize>>,
}

impl Lines {
    fn of(text: &str, words: &[Word]) -> Lines {
        let mut lines = Lines { starts: Vec::new(), about: Vec::new(), comments: Vec::new() };
        let mut words = words.iter().peekable();
        let mut start = 0;
        // What a line whose key has its value on the next line says of that one.
        let mut carried = None;
        for line in text.split_inclusive('\n') {
            let end = start + line.len();
            let mut about = None;
            while let Some(word) = words.next_if(|word| word.end <= end) {
                about = match (about, word.kind) {
                    (_, Kind::Person) => Some(Kind::Person),
                    (None, Kind::Taxpayer) => Some(Kind::Taxpayer),
                    (about, _) => about,
                };
            }
            lines.starts.push(start);
            lines.about.push(about.or(carried));
            let mut before = ' ';
            let comment = line.char_indices().find(|(_, c)| {
                let begins = *c == '#' && before.is_whitespace();
                before = *c;
                begins
            });
            lines.comments.push(comment.map(|(at, _)| start + at));
            carried = match line.trim() {
                "" => carried,
                written => {
                    about.filter(|_| written.trim_end_matches(['|', '>', '-', '+', ' ']).ends_with(':'))
                }
            };
            start = end;
        }
        lines
    }

    fn end(&self, line: usize, text: &str) -> usize {
        self.starts.get(line + 1).map_or(text.len(), |next| next - 1)
    }
}

/// Finds numbers by how their digits are grouped, and by the words before them.
fn by_groups(text: &str, words: &[Word], lines: &Lines, groups: &Groups<'_>) -> Vec<Range<usize>> {
    let runs = groups.runs;
    let mut found = Vec::new();
    let mut n = 0;
    while n < runs.len() {
        let run = &runs[n];
        let about = lines.about.get(run.line).copied().flatten();
        let word = words.partition_point(|word| word.end <= run.start).checked_sub(1).map(|at| &words[at]);
        let named = word
            .filter(|word| word.kind != Kind::Reference && leads_to(&text[word.end..run.start]))
            .map(|word| word.kind);
        let count = groups.social(n, about == Some(Kind::Person));
        let count = count.or_else(|| groups.nine(n, about));
        let count = count.or_else(|| groups.in_any_groups(n, named?));
        match count {
            Some(count) => {
                found.push(run.start..runs[n + count - 1].end);
                n += count;
            }
            None => n += 1,
        }
    }
    found
}

/// Runs of digits and the gaps between them.
struct Groups<'r> {
    runs: &'r [Run],
    gaps: &'r [Gap],
}

impl Groups<'_> {
    /// The gap after a run.
    fn gap(&self, n: usize) -> Option<&Gap> {
        self.gaps.get(n)
    }

    /// Says whether a group of digits is tied to those around it by a sign without blanks.
    fn is_joined(&self, n: usize, count: usize) -> bool {
        let joins = |gap: Option<&Gap>| gap.is_some_and(Gap::joins);
        joins(n.checked_sub(1).and_then(|before| self.gap(before))) || joins(self.gap(n + count - 1))
    }

    /// Says whether a number grouped 3-2-4 begins with a run.
    ///
    /// With the same dash or period twice it is one whatever stands around it and whatever it says. With other signs,
    /// which are common in other numbers, it has to be one that could have been given out, alone, or near a word.
    fn social(&self, n: usize, spoken_of: bool) -> Option<usize> {
        let [area, middle, serial] = self.runs.get(n..n + 3)? else { return None };
        if [area.length, middle.length, serial.length] != [3, 2, 4] {
            return None;
        }
        let (first, second) = (self.gap(n)?, self.gap(n + 1)?);
        let separates = |gap: &Gap| gap.separates() || (spoken_of && gap.separates_where_spoken_of());
        if !separates(first) || !separates(second) {
            return None;
        }
        let dashes = first.is_dash() && second.is_dash();
        if dashes || (first.is('.') && second.is('.')) {
            return Some(3);
        }
        // A letter in place of a digit is believed only beside dashes.
        let guessed = area.guessed || middle.guessed || serial.guessed;
        if guessed || self.is_joined(n, 3) {
            return None;
        }
        if spoken_of {
            return Some(3);
        }
        // "amounts 123.45 6789", "(250) 10 1200" beside a sum, items of a list.
        let period =
            |one: &Gap, other: &Gap| one.holds('.') && !(one.same(other) || one.is('.') && other.is('-'));
        let loose = period(first, second) && !(first.is('-') && second.is('.'))
            || period(second, first) && !(first.is('.') && second.is('-'));
        let opens = |gap: &Gap| gap.holds('(') || gap.holds('[');
        let bracket = (opens(first) || opens(second)) && !first.holds('-') && !second.holds('-');
        let item = |gap: &Gap| gap.lines > 0 && gap.signs() == ['-', ' '];
        if loose || bracket || (item(first) && item(second)) || self.is_column(n) {
            return None;
        }
        could_be_given_out(area, middle, serial).then_some(3)
    }

    /// Says whether three groups on a line each are part of a longer column of numbers.
    fn is_column(&self, n: usize) -> bool {
        let line_end = |at: Option<usize>| at.and_then(|at| self.gap(at)).is_some_and(Gap::is_line_end);
        let three = line_end(Some(n)) && line_end(Some(n + 1));
        three && (line_end(n.checked_sub(1)) || line_end(Some(n + 2)))
    }

    /// Says whether nine digits without groups, or grouped as an employer's number, begin with a run on a line that
    /// speaks of a taxpayer number.
    fn nine(&self, n: usize, about: Option<Kind>) -> Option<usize> {
        let run = &self.runs[n];
        let about = about.filter(|_| !run.guessed)?;
        if run.length == 9 && !self.is_joined(n, 1) {
            return Some(1);
        }
        let next = self.runs.get(n + 1)?;
        let employer = about == Kind::Person
            && (run.length, next.length) == (2, 7)
            && self.gap(n).is_some_and(|gap| gap.separates() && !gap.is(' '))
            && !self.is_joined(n, 2);
        employer.then_some(2)
    }

    /// Says of how many groups nine digits consist that begin with a run right behind a word, or up to three more than
    /// nine, as where a digit was typed twice.
    fn in_any_groups(&self, n: usize, named: Kind) -> Option<usize> {
        let length = |n: usize| self.runs.get(n).map_or(0, |run| run.length);
        // A business writes its number so, and it is no secret.
        if named == Kind::Taxpayer && (length(n), length(n + 1)) == (2, 7) {
            return None;
        }
        let mut digits = 0;
        let mut best = None;
        for (count, run) in (1..).zip(&self.runs[n..]) {
            digits += run.length;
            let gap = self.gap(n + count - 1);
            let ends = !gap.is_some_and(Gap::joins);
            if digits > 12 {
                return best;
            }
            if digits == 9 && ends {
                return Some(count);
            }
            if digits >= 9 && ends {
                best = best.or(Some(count));
            }
            if !gap
                .is_some_and(|gap| gap.separates_where_spoken_of() && !gap.lists() && !gap.is_loose_period())
            {
                return best;
            }
        }
        best
    }
}

/// Says whether nothing but the signs of a key and its value stands between a word and a number. A mask is no such
/// sign: what follows it is four digits.
fn leads_to(between: &str) -> bool {
    let mut signs = 0;
    for (n, c) in between.chars().enumerate() {
        signs += usize::from(!c.is_whitespace());
        if n > 80 || signs > 12 || c.is_alphanumeric() || matches!(c, ',' | ';' | '}' | ']' | '*') {
            return false;
        }
    }
    true
}

/// Says whether groups 3-2-4 could have been given out at all: no zero group, no 666, and from 900 on only the
/// middle groups of ITIN and ATIN (Social Security Administration and IRS, from memory).
fn could_be_given_out(area: &Run, middle: &Run, serial: &Run) -> bool {
    let (area, middle, serial) = (area.number, middle.number, serial.number);
    area != 0 && area != 666 && middle != 0 && serial != 0 && (area < 900 || middle >= 50)
        // A year at the end, as in "100 12 2024", is a date or a lot far more often.
        && !(1990..=2039).contains(&serial)
}

/// Finds what stands behind the keys `tin`, `ssn` and the like on their line, whatever its form, and a reference that
/// reads like a number. A value on lines of its own is looked at when the file is read as YAML ([`under_key`]).
fn under_keys(text: &str, words: &[Word], lines: &Lines) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    // Nothing is looked at twice, however many keys a line has.
    let mut done = 0;
    for word in words {
        if word.start < done || word.kind == Kind::Lead {
            continue;
        }
        let line = lines.starts.partition_point(|start| *start <= word.start).saturating_sub(1);
        if lines.comments.get(line).copied().flatten().is_some_and(|comment| comment < word.start) {
            continue;
        }
        let quotes = ['"', '\''];
        let before =
            text[lines.starts[line]..word.start].trim_end_matches(quotes).trim_end_matches([' ', '\t']);
        let flow = before.ends_with(['{', ',', '[']);
        if !(flow || before.is_empty() || before.ends_with(['-', '?'])) {
            continue;
        }
        let end = lines.end(line, text).max(word.end);
        let rest = text[word.end..end].trim_start_matches(quotes).trim_start_matches([' ', '\t', ')']);
        let Some(value) = rest.strip_prefix(':') else { continue };
        let value = value.trim_start();
        let start = end - value.len();
        let value = &value[..value_end(value, flow)].trim_end();
        done = start + value.len();
        let number = match word.kind {
            Kind::Reference => reads_as_number(value),
            _ => digits(value) > 4,
        };
        if number {
            let bare = value.trim_start_matches(quotes);
            let start = done - bare.len();
            found.push(start..start + bare.trim_end_matches(quotes).len());
        }
    }
    found
}

/// Returns where a value on one line ends.
fn value_end(value: &str, flow: bool) -> usize {
    if let Some(quote @ ('"' | '\'')) = value.chars().next() {
        return value[1..].find(quote).map_or(value.len(), |at| at + 2);
    }
    if !flow {
        return value.find(" #").unwrap_or(value.len());
    }
    let whole = &value[..value.find('}').unwrap_or(value.len())];
    // A comma ends it only where something other than digits follows.
    let mut end = 0;
    for (n, part) in whole.split(',').enumerate() {
        if n > 0 && part.contains(|c: char| c.is_alphabetic()) {
            break;
        }
        end += part.len() + usize::from(n > 0);
    }
    end
}
