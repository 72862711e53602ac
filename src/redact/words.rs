//! Words for taxpayer numbers, as offices write them in English and Spanish.
//!
//! Comes in: a text. Goes out: where such words stand, in one pass over the text. Letters count without accents and
//! in whatever width; signs between letters, as in `S.S.N.`, do not.

use crate::characters::{digit, takes_no_room};
use unicode_normalization::UnicodeNormalization;

/// What a word says about the digits near it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A person's number: every way to write nine digits on its line counts.
    Person,
    /// A number that may also be a business's, as `tax ID`: nine digits without groups count on its line.
    Taxpayer,
    /// Something that may mean else, as `SS`: only nine digits right behind it count.
    Lead,
    /// The key of the client's reference.
    Reference,
}

/// A word, or several that mean one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Word {
    pub start: usize,
    pub end: usize,
    pub kind: Kind,
}

/// The most letters of a word that is compared; longer ones are none of ours.
const LONGEST: usize = 24;
/// The most signs between two words that belong together.
const APART: usize = 3;

/// One run of letters.
#[derive(Clone, Default)]
struct Letters {
    text: String,
    start: usize,
    end: usize,
}

/// Finds all words for taxpayer numbers, in the order of their ends.
pub(super) fn find(text: &str) -> Vec<Word> {
    let mut seeker = Seeker::default();
    for (at, c) in text.char_indices() {
        if c.is_alphabetic() && digit(c).is_none() {
            seeker.letter(at, c);
        } else if !takes_no_room(c) && !unicode_normalization::char::is_combining_mark(c) {
            seeker.other(c);
        }
    }
    seeker.word_ends();
    seeker.found
}

/// The words before the place where the text is read.
#[derive(Default)]
struct Seeker {
    /// The last two words, the later one last, as far as they stand close together.
    before: [Letters; 2],
    now: Letters,
    /// Signs since the last word.
    signs: usize,
    /// The last one found, while words such as `number` may still go on with it.
    open: Option<Word>,
    found: Vec<Word>,
}

impl Seeker {
    fn letter(&mut self, at: usize, c: char) {
        if self.now.text.is_empty() {
            self.now.start = at;
        }
        self.now.end = at + c.len_utf8();
        if self.now.text.len() <= LONGEST {
            let plain = match c.is_ascii() {
                true => c,
                false => std::iter::once(c).nfkd().find(|c| c.is_ascii_alphabetic()).unwrap_or('?'),
            };
            self.now.text.push(plain.to_ascii_lowercase());
        }
    }

    fn other(&mut self, c: char) {
        self.word_ends();
        // The next line of a comment goes on with what the one before says.
        self.signs += usize::from(!matches!(c, '\r' | '\n' | '#'));
        if self.signs > APART || digit(c).is_some() || matches!(c, ',' | ';' | '{' | '}') {
            self.before = Default::default();
            self.open = None;
        }
    }

    fn word_ends(&mut self) {
        if self.now.text.is_empty() {
            return;
        }
        self.signs = 0;
        let now = std::mem::take(&mut self.now);
        let [first, second] = &self.before;
        let word = match meaning([&first.text, &second.text, &now.text]) {
            Some((words, kind)) => {
                let start = [now.start, second.start, first.start][words - 1];
                Some(Word { start, end: now.end, kind })
            }
            // "SSN is 12..", "Social Security number 12..".
            None if FILLERS.contains(&now.text.as_str()) => {
                self.open.map(|open| Word { end: now.end, ..open })
            }
            None => None,
        };
        self.found.extend(word);
        self.open = word;
        self.before = [std::mem::take(&mut self.before[1]), now];
    }
}

/// Words between the word for a number and the number.
const FILLERS: [&str; 11] =
    ["is", "no", "nr", "num", "number", "numbers", "numero", "id", "es", "identification", "was"];

/// Returns what the last of three words means, alone or with those before it, and how many words that are.
fn meaning([first, second, last]: [&str; 3]) -> Option<(usize, Kind)> {
    let short = |word: &str| matches!(word, "n" | "no" | "nr" | "num" | "number" | "id" | "identification");
    match (first, second, last) {
        (_, _, "tin" | "ssn" | "ssns" | "itin" | "atin" | "ptin" | "ssno" | "ssnum" | "ssnumber") => {
            Some((1, Kind::Person))
        }
        (_, _, "socsec" | "socialsecurity" | "socialsecuritynumber" | "taxpayernumber" | "taxpayerid") => {
            Some((1, Kind::Person))
        }
        // "T.I.N.", and with one letter more "I.T.I.N." and its like.
        ("s", "s", "n") | ("t", "i", "n") => Some((3, Kind::Person)),
        (_, "ss", last) if short(last) && last != "id" => Some((2, Kind::Person)),
        (_, "social" | "soc", "security" | "sec" | "secur") => Some((2, Kind::Person)),
        (_, "seguro" | "seg", "social" | "soc") => Some((2, Kind::Person)),
        (_, "taxpayer" | "taxpayers", last) if short(last) => Some((2, Kind::Person)),
        (_, "tax" | "taxpayer", "id" | "ident") => Some((2, Kind::Taxpayer)),
        (_, _, "taxid") => Some((1, Kind::Taxpayer)),
        (_, "s", "s") => Some((2, Kind::Lead)),
        (_, _, "ss") => Some((1, Kind::Lead)),
        (_, _, "reference") => Some((1, Kind::Reference)),
        _ => None,
    }
}
