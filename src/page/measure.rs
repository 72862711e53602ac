//! Words into atoms: pieces that no line end may split, each measured.
//!
//! Comes in: words with styles, and the type they are set in. Goes out: [`Atom`]s and, for a row of them, a
//! [`Line`] of text. Complains about characters the type lacks. Knows nothing of measures or pages.

use super::PageFault;
use super::font::{self, Face};
use super::units::Length;
use crate::document::Run;
use unicode_normalization::{UnicodeNormalization, is_nfc};

/// How words are set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Style {
    /// Type size.
    pub size: Length,
    /// From one baseline to the next.
    pub leading: Length,
    /// Everything bold, as in headings.
    pub strong: bool,
}

impl Style {
    /// The same type, bold.
    pub fn bold(self) -> Style {
        Style { strong: true, ..self }
    }

    /// From the top of a line to its baseline: ascenders (0.75 em) and descenders (0.21 em) of the face are
    /// centered in the leading.
    pub fn baseline(self) -> Length {
        self.leading / 2 + self.size * 27 / 100
    }
}

/// Text in one face.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub face: Face,
    pub text: String,
    pub width: Length,
}

/// A piece of text that stays in one piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Atom {
    pub spans: Vec<Span>,
    pub width: Length,
    pub after: After,
}

/// What follows an atom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum After {
    /// A space, which vanishes at a line's end.
    Space(Face, Length),
    /// Nothing, but a line may end here: after a hyphen, a dash, a stroke.
    Joint,
    /// A line must end here.
    LineEnd,
}

impl After {
    /// The width it takes inside a line.
    pub fn width(self) -> Length {
        match self {
            After::Space(_, width) => width,
            After::Joint | After::LineEnd => Length::ZERO,
        }
    }
}

/// A line of text, ready to be placed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Line {
    pub spans: Vec<Span>,
    pub width: Length,
    /// The line ended between words, not within one: whoever reads on must read a space.
    pub ends_word: bool,
}

impl Line {
    /// Joins atoms to a line. The space after the last of them is dropped.
    pub fn of(atoms: &[Atom]) -> Line {
        let ends_word = atoms.last().is_some_and(|last| last.after != After::Joint);
        let mut line = Line { ends_word, ..Line::default() };
        for (at, atom) in atoms.iter().enumerate() {
            for span in &atom.spans {
                line.push(span.face, &span.text, span.width);
            }
            if at + 1 < atoms.len()
                && let After::Space(face, width) = atom.after
            {
                line.push(face, " ", width);
            }
        }
        line
    }

    fn push(&mut self, face: Face, text: &str, width: Length) {
        self.width += width;
        match self.spans.last_mut() {
            Some(last) if last.face == face => {
                last.text.push_str(text);
                last.width += width;
            }
            _ => self.spans.push(Span { face, text: text.to_owned(), width }),
        }
    }
}

/// Cuts words into atoms. Characters the type lacks are left out and complained about.
pub(super) fn atoms(words: &[Run], style: Style, faults: &mut Vec<PageFault>) -> Vec<Atom> {
    let characters = characters(words, style, faults);
    let mut atoms = Vec::new();
    let mut open: Vec<(char, Face)> = Vec::new();
    for (at, &(character, face)) in characters.iter().enumerate() {
        let after = match character {
            '\n' => Some(After::LineEnd),
            ' ' => Some(After::Space(face, width_of(face, " ", style.size))),
            '\u{200B}' => Some(After::Joint),
            _ => None,
        };
        match after {
            Some(after) => {
                // A second space in a row, or one at the head of a line, draws nothing.
                let starts_line = atoms.last().is_none_or(|last: &Atom| last.after == After::LineEnd);
                if !open.is_empty() || (after == After::LineEnd && starts_line) {
                    atoms.push(atom(&open, style, after));
                    open.clear();
                } else if after == After::LineEnd
                    && let Some(last) = atoms.last_mut()
                {
                    last.after = After::LineEnd;
                }
            }
            None => {
                open.push((character, face));
                let before = at.checked_sub(1).map(|i| characters[i].0);
                let next = characters.get(at + 1).map(|c| c.0);
                if is_joint(before, character, next) {
                    atoms.push(atom(&open, style, After::Joint));
                    open.clear();
                }
            }
        }
    }
    if !open.is_empty() {
        atoms.push(atom(&open, style, After::LineEnd));
    } else if let Some(last) = atoms.last_mut() {
        last.after = After::LineEnd;
    }
    atoms
}

/// Splits atoms that are wider than the measure, character by character, so that nothing runs out of its
/// column.
pub(super) fn split_long(atoms: Vec<Atom>, measure: Length, size: Length) -> Vec<Atom> {
    if atoms.iter().all(|atom| atom.width.fits(measure)) {
        return atoms;
    }
    let mut split = Vec::with_capacity(atoms.len() + 4);
    for whole in atoms {
        if whole.width.fits(measure) {
            split.push(whole);
            continue;
        }
        let mut part = Line::default();
        for span in &whole.spans {
            for character in span.text.chars() {
                let text = character.encode_utf8(&mut [0; 4]).to_owned();
                let width = width_of(span.face, &text, size);
                if !part.spans.is_empty() && !(part.width + width).fits(measure) {
                    split.push(Atom { width: part.width, spans: part.spans, after: After::Joint });
                    part = Line::default();
                }
                part.push(span.face, &text, width);
            }
        }
        split.push(Atom { width: part.width, spans: part.spans, after: whole.after });
    }
    split
}

/// Measures text in one face. Characters without a glyph count as nothing; [`atoms`] has complained of them.
pub(super) fn width_of(face: Face, text: &str, size: Length) -> Length {
    let mut advance = 0;
    let mut before = None;
    for character in text.chars() {
        advance += font::glyph(face, character).map_or(0, |glyph| i64::from(glyph.advance));
        advance += before.map_or(0, |before| font::kern(face, before, character));
        before = Some(character);
    }
    size.share(advance, 1000)
}

/// Lists the characters to draw with their faces, in composed form, spaces of every kind made plain.
fn characters(words: &[Run], style: Style, faults: &mut Vec<PageFault>) -> Vec<(char, Face)> {
    let mut list: Vec<(char, Face)> = Vec::new();
    for run in words {
        let face = Face::of(run.strong || style.strong, run.emphasis);
        let mut take = |character: char| match character {
            // Marks that only steer line ends: ours come from the words themselves.
            '\u{AD}' | '\u{2060}' | '\u{FEFF}' | '\r' => {}
            '\n' | ' ' | '\u{200B}' | '\u{A0}' => list.push((character, face)),
            '\u{202F}' | '\u{2007}' => list.push(('\u{A0}', face)),
            c if c.is_whitespace() => list.push((' ', face)),
            // An apostrophe as typed; behind a letter nothing else can be meant.
            '\'' if list.last().is_some_and(|(before, _)| before.is_alphabetic()) => list.push(('’', face)),
            c if !c.is_control() && font::glyph(face, c).is_some_and(|glyph| glyph.id != 0) => {
                list.push((c, face));
            }
            c => {
                let fault = PageFault::MissingCharacter { character: c, around: around(words, c) };
                if !faults.contains(&fault) {
                    faults.push(fault);
                }
            }
        };
        if is_nfc(&run.text) {
            run.text.chars().for_each(&mut take);
        } else {
            run.text.nfc().for_each(&mut take);
        }
    }
    list
}

/// Says whether a line may end after a character although no space follows.
fn is_joint(before: Option<char>, character: char, next: Option<char>) -> bool {
    let (Some(before), Some(next)) = (before, next) else {
        return false;
    };
    match character {
        // Not after the hyphen of a number or a date: they are read as one.
        '-' | '\u{2010}' | '–' | '/' => before.is_alphanumeric() && next.is_alphabetic(),
        '—' => !next.is_whitespace() && !before.is_whitespace(),
        _ => false,
    }
}

/// Makes an atom of characters. A space that must not break is drawn as a plain one.
fn atom(characters: &[(char, Face)], style: Style, after: After) -> Atom {
    let mut spans: Vec<Span> = Vec::with_capacity(1);
    for &(character, face) in characters {
        let character = if character == '\u{A0}' { ' ' } else { character };
        match spans.last_mut() {
            Some(last) if last.face == face => last.text.push(character),
            _ => spans.push(Span { face, text: character.to_string(), width: Length::ZERO }),
        }
    }
    for span in &mut spans {
        span.width = width_of(span.face, &span.text, style.size);
    }
    Atom { width: spans.iter().map(|span| span.width).sum(), spans, after }
}

/// Quotes the words around a character, at most some forty characters of them.
fn around(words: &[Run], character: char) -> String {
    let text: Vec<char> = words.iter().flat_map(|run| run.text.nfc()).collect();
    let at = text.iter().position(|c| *c == character).unwrap_or(0);
    let word_start = |from: usize| (0..from).rev().find(|i| text[*i].is_whitespace()).map_or(0, |i| i + 1);
    let start = word_start(at.saturating_sub(18)).max(at.saturating_sub(36));
    let end = (at + 18..text.len()).find(|i| text[*i].is_whitespace()).unwrap_or(text.len()).min(at + 36);
    text[start..end.max(at + 1).min(text.len())]
        .iter()
        .map(|c| if c.is_control() { ' ' } else { *c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{plain, strong};

    const STYLE: Style = Style { size: Length::points(10), leading: Length::points(12), strong: false };

    fn pieces(text: &str) -> Vec<String> {
        let mut faults = Vec::new();
        let atoms = atoms(&plain(text), STYLE, &mut faults);
        assert_eq!(faults, []);
        atoms.iter().map(|atom| atom.spans.iter().map(|span| span.text.as_str()).collect()).collect()
    }

    #[test]
    fn lines_may_end_at_spaces_and_existing_hyphens() {
        assert_eq!(pieces("energy-efficient  home"), ["energy-", "efficient", "home"]);
        assert_eq!(pieces("and/or one—two"), ["and/", "or", "one—", "two"]);
    }

    #[test]
    fn numbers_dates_and_masks_stay_whole() {
        assert_eq!(
            pieces("2024-05-14 HH-0412 ***-**-4410 2018–2025 -5"),
            ["2024-05-14", "HH-0412", "***-**-4410", "2018–2025", "-5"]
        );
    }

    #[test]
    fn a_space_that_must_not_break_holds() {
        assert_eq!(pieces("line\u{A0}16 of\u{202F}it"), ["line 16", "of it"]);
    }

    #[test]
    fn a_line_feed_ends_the_line() {
        let atoms = atoms(&plain("one\n\ntwo "), STYLE, &mut Vec::new());
        let ends: Vec<bool> = atoms.iter().map(|atom| atom.after == After::LineEnd).collect();
        assert_eq!(ends, [true, true, true]);
    }

    #[test]
    fn an_apostrophe_behind_a_letter_is_a_proper_one() {
        assert_eq!(
            pieces("the owners' home's 6' by 'as is'"),
            ["the", "owners’", "home’s", "6'", "by", "'as", "is’"]
        );
    }

    #[test]
    fn decomposed_letters_are_composed() {
        assert_eq!(pieces("Zoe\u{308}"), ["Zoë"]);
    }

    #[test]
    fn a_missing_character_is_named_with_its_words() {
        let mut faults = Vec::new();
        atoms(&plain("paid to 漢 Roofing in May"), STYLE, &mut faults);
        assert_eq!(
            faults,
            [PageFault::MissingCharacter {
                character: '漢', around: "paid to 漢 Roofing in May".to_owned()
            }]
        );
    }

    #[test]
    fn words_of_two_faces_may_form_one_atom() {
        let words = [strong("25C"), plain(", then")].concat();
        let atoms = atoms(&words, STYLE, &mut Vec::new());
        assert_eq!(atoms[0].spans.len(), 2);
        assert_eq!(atoms.len(), 2);
    }

    #[test]
    fn long_atoms_are_split_to_the_measure() {
        let long = atoms(&plain("x".repeat(200)), STYLE, &mut Vec::new());
        let split = split_long(long, Length::points(50), STYLE.size);
        assert!(split.iter().all(|atom| atom.width.fits(Length::points(50))));
        let text: usize = split.iter().flat_map(|atom| &atom.spans).map(|span| span.text.len()).sum();
        assert_eq!(text, 200);
    }
}
