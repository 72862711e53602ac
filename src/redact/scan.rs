//! Digits of a text, in groups, with what stands between the groups.
//!
//! Comes in: a text. Goes out: runs of digits and gaps, in one pass; whatever is kept of a gap has a fixed size, so
//! that nothing grows with more than the length of the text. What takes no room, marks above or below a digit
//! included, is as if it were not there.

use crate::characters::{digit, takes_no_room};
use unicode_normalization::char::is_combining_mark;

/// Digits with nothing between them.
pub(super) struct Run {
    pub start: usize,
    pub end: usize,
    /// How many there are.
    pub length: usize,
    /// What they say, of the first nine.
    pub number: u32,
    /// A letter among them that looks like a digit.
    pub guessed: bool,
    /// The line on which they begin, counted from 0.
    pub line: usize,
}

/// What stands between two runs.
#[derive(Clone, Copy, Default)]
pub(super) struct Gap {
    signs: [char; MOST_SIGNS],
    count: usize,
    /// Blanks at its end, as many as stand together.
    blanks: usize,
    /// More stands there than can lie inside a number.
    wide: bool,
    /// It goes over the end of a line.
    pub lines: usize,
    /// Only blanks and signs of comments and lists have come since the end of a line.
    begins: bool,
}

/// The most signs between two groups of a number, dashes and blanks in a row counted as one.
const MOST_SIGNS: usize = 4;
/// The most blanks in a row; more are columns of a table.
const MOST_BLANKS: usize = 4;

impl Gap {
    fn push(&mut self, c: char) {
        if c == '\n' {
            self.lines += 1;
            self.begins = true;
            self.blanks = 0;
            if self.count > 0 && self.signs[self.count - 1] == ' ' {
                self.count -= 1;
            }
            return;
        }
        if c.is_alphanumeric() {
            self.wide = true;
            return;
        }
        let c = seen(c);
        if self.begins && matches!(c, ' ' | '#' | '>' | '|') {
            return;
        }
        self.begins = false;
        self.blanks = if c == ' ' { self.blanks + 1 } else { 0 };
        self.wide |= self.blanks > MOST_BLANKS;
        let again =
            self.count > 0 && self.signs[self.count - 1] == c && matches!(c, ' ' | '-' | '.' | '_' | '/');
        if again {
            return;
        }
        match self.signs.get_mut(self.count) {
            Some(place) => {
                *place = c;
                self.count += 1;
            }
            None => self.wide = true,
        }
    }

    /// The signs as they are seen: one for all dashes, one for all blanks, each row of equal ones as one.
    pub fn signs(&self) -> &[char] {
        &self.signs[..self.count]
    }

    fn has(&self, sign: char) -> bool {
        self.signs().contains(&sign)
    }

    /// Says whether it is one sign and nothing else.
    pub fn is(&self, sign: char) -> bool {
        self.lines == 0 && self.signs() == [sign]
    }

    /// Says whether it may stand between two groups of one number: signs that separate, none that calculate, quote or
    /// belong to amounts, and at most one end of a line.
    pub fn separates(&self) -> bool {
        self.separates_where_spoken_of() && !self.lists() && !self.signs().iter().any(|c| calculates(*c))
    }

    /// Says whether it stands in a list or a table, where signs have blanks beside them.
    pub fn lists(&self) -> bool {
        self.count > 1 && self.signs().iter().any(|c| matches!(c, ',' | ';' | ':' | '|'))
    }

    /// Says the same where the text speaks of a taxpayer number: there nobody calculates.
    pub fn separates_where_spoken_of(&self) -> bool {
        let some = self.count > 0 || self.lines == 1;
        let other = self.signs().iter().any(|c| matches!(c, '$' | '%' | '{' | '}' | '"' | '\u{20ac}'));
        !self.wide && some && self.lines <= 1 && !other
    }

    /// Says whether it is a dash, with blanks beside it or not.
    pub fn is_dash(&self) -> bool {
        self.lines == 0 && !self.wide && self.has('-') && self.signs().iter().all(|c| matches!(c, '-' | ' '))
    }

    /// Says whether two gaps look the same.
    pub fn same(&self, other: &Gap) -> bool {
        self.signs() == other.signs() && self.lines == other.lines
    }

    /// Says whether it ties what stands on both sides into one longer thing, such as an order number.
    pub fn joins(&self) -> bool {
        !self.wide && self.lines == 0 && matches!(self.signs(), ['-' | '.' | '_'])
    }

    /// Says whether a period stands beside something else, as after an amount or a sentence.
    pub fn is_loose_period(&self) -> bool {
        self.has('.') && self.count > 1
    }

    /// Says whether it holds a sign.
    pub fn holds(&self, sign: char) -> bool {
        self.has(sign)
    }

    /// Says whether it is the end of a line and nothing else.
    pub fn is_line_end(&self) -> bool {
        !self.wide && self.lines == 1 && self.count == 0
    }
}

/// Finds runs of digits and the gaps between them: the gap after the first run comes first. With `guessing`, a letter
/// that is typed for a digit is one.
pub(super) fn runs(text: &str, guessing: bool) -> (Vec<Run>, Vec<Gap>) {
    let mut runs: Vec<Run> = Vec::new();
    let mut gaps: Vec<Gap> = Vec::new();
    let mut gap = Gap::default();
    // Whether the last run ends here.
    let mut open = false;
    let mut before = ' ';
    let mut line = 0;
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        if c != '\n' && (takes_no_room(c) || is_combining_mark(c)) {
            continue;
        }
        let next = chars.peek().map_or(' ', |(_, next)| *next);
        let (figure, guessed) = match digit(c) {
            Some(figure) => (Some(figure), false),
            None => (looks_like(c).filter(|_| guessing && stands_for_digit(before, next, open)), true),
        };
        match figure {
            Some(figure) => {
                let end = at + c.len_utf8();
                match runs.last_mut() {
                    Some(run) if open => {
                        run.end = end;
                        run.length += 1;
                        run.guessed |= guessed;
                        if run.length <= 9 {
                            run.number = run.number * 10 + u32::from(figure);
                        }
                    }
                    _ => {
                        if !runs.is_empty() {
                            gaps.push(gap);
                        }
                        gap = Gap::default();
                        runs.push(Run { start: at, end, length: 1, number: figure.into(), guessed, line });
                        open = true;
                    }
                }
            }
            None => {
                gap.push(c);
                open = false;
            }
        }
        line += usize::from(c == '\n');
        before = c;
    }
    (runs, gaps)
}

/// Returns the digit that a letter is often typed for.
fn looks_like(c: char) -> Option<u8> {
    match c {
        'O' | 'o' => Some(0),
        'l' | 'I' => Some(1),
        _ => None,
    }
}

/// Says whether a letter stands where a digit would: beside one, and beside no other letter.
fn stands_for_digit(before: char, next: char, open: bool) -> bool {
    match open {
        true => !next.is_alphabetic() || looks_like(next).is_some(),
        false => !before.is_alphanumeric() && digit(next).is_some(),
    }
}

/// Says whether a sign stands between amounts far more often than inside a number.
fn calculates(c: char) -> bool {
    matches!(c, '&' | '@' | '+' | '*' | '=' | '<' | '>' | '\u{d7}' | '\u{f7}')
}

/// Writes a sign as it is seen: one for all dashes, one for all blanks.
fn seen(c: char) -> char {
    match c {
        '\u{2010}'..='\u{2015}'
        | '\u{2212}'
        | '\u{fe58}'
        | '\u{fe63}'
        | '\u{ff0d}'
        | '~'
        | '\u{2043}'
        | '\u{301c}' => '-',
        '\u{2024}' | '\u{b7}' | '\u{2022}' | '\u{ff0e}' | '\u{2219}' | '\u{22c5}' | '\u{3002}' => '.',
        '\u{2215}' | '\u{2044}' | '\u{ff0f}' | '\\' => '/',
        '\u{ff3f}' => '_',
        c if c.is_whitespace() => ' ',
        c => c,
    }
}
