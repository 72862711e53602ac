//! A line of text that is being typed, and what each key does to it.
//!
//! Comes in: keys. Goes out: the text, where the cursor is, and whether the line is done. The keys are those that
//! shells and editors of one line have in common. Knows no screen.

use crate::wrap::width;
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// A line and the place in it where the next character goes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Line {
    text: Vec<char>,
    cursor: usize,
    /// What was deleted last to a border of a word or of the line, which Ctrl-Y puts back.
    cut: Vec<char>,
}

/// What a key asks for besides a change of the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// Nothing more.
    Nothing,
    /// The line is done.
    Enter,
    /// One question back.
    Back,
    /// To stop.
    Stop,
}

impl Line {
    /// Begins with a text, and with the cursor behind it.
    pub fn new(text: &str) -> Line {
        let text: Vec<char> = text.chars().collect();
        Line { cursor: text.len(), text, cut: Vec::new() }
    }

    /// Returns the text.
    pub fn text(&self) -> String {
        self.text.iter().collect()
    }

    /// Returns what lies before the cursor.
    pub fn before_cursor(&self) -> String {
        self.text[..self.cursor].iter().collect()
    }

    /// Puts in what was pasted. A line has no line ends; what cannot be seen is left for the reader of the answer to name,
    /// but for the signs that would steer the terminal.
    pub fn paste(&mut self, pasted: &str) {
        let pasted = pasted.trim_matches(['\r', '\n']);
        for c in pasted.chars().map(|c| if matches!(c, '\n' | '\r' | '\t') { ' ' } else { c }) {
            if !c.is_control() {
                self.insert(c);
            }
        }
    }

    /// Takes a key.
    pub fn take(&mut self, key: KeyEvent) -> Asked {
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        let alt = key.modifiers.contains(KeyModifiers::ALT);
        match key.code {
            KeyCode::Enter => return Asked::Enter,
            KeyCode::Esc => return Asked::Back,
            KeyCode::Home => self.cursor = 0,
            KeyCode::End => self.cursor = self.text.len(),
            KeyCode::Left if control || alt => self.cursor = self.word_before(),
            KeyCode::Left => self.cursor = self.before(),
            KeyCode::Right if control || alt => self.cursor = self.word_behind(),
            KeyCode::Right => self.cursor = self.behind(),
            KeyCode::Backspace if control || alt => self.cut(self.word_before(), self.cursor),
            KeyCode::Backspace => self.delete(self.before(), self.cursor),
            KeyCode::Delete if control || alt => self.cut(self.cursor, self.word_behind()),
            KeyCode::Delete => self.delete(self.cursor, self.behind()),
            KeyCode::Char(c) if control && !alt => return self.control(c.to_ascii_lowercase()),
            KeyCode::Char(c) if alt && !control => match c.to_ascii_lowercase() {
                'b' => self.cursor = self.word_before(),
                'f' => self.cursor = self.word_behind(),
                'd' => self.cut(self.cursor, self.word_behind()),
                _ => {}
            },
            // Some keyboards type signs such as @ with Ctrl and Alt together.
            KeyCode::Char(c) => self.insert(c),
            _ => {}
        }
        Asked::Nothing
    }

    fn control(&mut self, c: char) -> Asked {
        match c {
            'a' => self.cursor = 0,
            'b' => self.cursor = self.before(),
            'c' => return Asked::Stop,
            'd' if self.text.is_empty() => return Asked::Stop,
            'd' => self.delete(self.cursor, self.behind()),
            'e' => self.cursor = self.text.len(),
            'f' => self.cursor = self.behind(),
            'h' => self.delete(self.before(), self.cursor),
            'j' | 'm' => return Asked::Enter,
            'k' => self.cut(self.cursor, self.text.len()),
            'u' => self.cut(0, self.cursor),
            'w' => self.cut(self.blank_before(), self.cursor),
            'y' => self.cut.clone().into_iter().for_each(|c| self.insert(c)),
            _ => {}
        }
        Asked::Nothing
    }

    fn insert(&mut self, c: char) {
        self.text.insert(self.cursor, c);
        self.cursor += 1;
    }

    fn delete(&mut self, from: usize, to: usize) {
        self.text.drain(from..to);
        self.cursor = from;
    }

    fn cut(&mut self, from: usize, to: usize) {
        if from < to {
            self.cut = self.text[from..to].to_vec();
            self.delete(from, to);
        }
    }

    /// An accent that is a character of its own goes with the letter before it.
    fn before(&self) -> usize {
        (0..self.cursor).rev().find(|at| stands_alone(self.text[*at])).unwrap_or(0)
    }

    fn behind(&self) -> usize {
        let next = |at: &usize| stands_alone(self.text[*at]);
        (self.cursor + 1..self.text.len()).find(next).unwrap_or(self.text.len())
    }

    fn word_before(&self) -> usize {
        self.start_before(|c| c.is_alphanumeric())
    }

    fn blank_before(&self) -> usize {
        self.start_before(|c| !c.is_whitespace())
    }

    /// Returns where the word before the cursor begins, of characters that belong to words.
    fn start_before(&self, belongs: impl Fn(char) -> bool) -> usize {
        let mut at = self.cursor;
        while at > 0 && !belongs(self.text[at - 1]) {
            at -= 1;
        }
        while at > 0 && belongs(self.text[at - 1]) {
            at -= 1;
        }
        at
    }

    fn word_behind(&self) -> usize {
        let mut at = self.cursor;
        while at < self.text.len() && !self.text[at].is_alphanumeric() {
            at += 1;
        }
        while at < self.text.len() && self.text[at].is_alphanumeric() {
            at += 1;
        }
        at
    }
}

fn stands_alone(c: char) -> bool {
    width(c) > 0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Types a text in which `^x` is Ctrl-X, and returns the line with the cursor as `|`.
    fn typed(begun: &str, keys: &str) -> String {
        let mut line = Line::new(begun);
        let mut keys = keys.chars();
        while let Some(c) = keys.next() {
            let (c, modifiers) = match c {
                '^' => (keys.next().expect("a letter behind the sign"), KeyModifiers::CONTROL),
                c => (c, KeyModifiers::NONE),
            };
            assert_eq!(line.take(KeyEvent::new(KeyCode::Char(c), modifiers)), Asked::Nothing);
        }
        let behind: String = line.text[line.cursor..].iter().collect();
        format!("{}|{behind}", line.before_cursor())
    }

    #[test]
    fn keys_do_what_they_do_in_other_lines() {
        for (begun, keys, stands) in [
            ("", "abc", "abc|"),
            ("12 Alder Lane", "^u", "|"),
            ("12 Alder Lane", "^b^b^b^b^u", "|Lane"),
            ("12 Alder Lane", "^w", "12 Alder |"),
            ("12 Alder Lane", "^w^wElm Street", "12 Elm Street|"),
            ("12 Alder Lane", "^a^k5", "5|"),
            ("12 Alder Lane", "^a^d^d^d", "|Alder Lane"),
            ("12 Alder Lane", "^a^f^fx^e^hn", "12x Alder Lann|"),
            ("12 Alder Lane", "^u7 ^y", "7 12 Alder Lane|"),
            ("12 Alder Lane", "^l^t^z", "12 Alder Lane|"),
            ("", "^u^w^k^h^y", "|"),
        ] {
            assert_eq!(typed(begun, keys), stands, "{begun} {keys}");
        }
    }

    #[test]
    fn an_accent_goes_with_its_letter() {
        assert_eq!(typed("Zoe\u{308}", "^h"), "Zo|");
        assert_eq!(typed("Zoe\u{308}", "^b^b"), "Z|oe\u{308}");
    }

    #[test]
    fn some_keys_end_the_line() {
        let mut line = Line::new("x");
        let control = |c| KeyEvent::new(KeyCode::Char(c), KeyModifiers::CONTROL);
        let key = |code| KeyEvent::new(code, KeyModifiers::NONE);
        assert_eq!(line.take(key(KeyCode::Enter)), Asked::Enter);
        assert_eq!(line.take(key(KeyCode::Esc)), Asked::Back);
        assert_eq!(line.take(control('c')), Asked::Stop);
        assert_eq!(line.text(), "x");
        line.take(control('u'));
        assert_eq!(line.take(control('d')), Asked::Stop);
    }

    #[test]
    fn words_are_left_over_by_their_borders() {
        let mut line = Line::new("12 Alder-Lane");
        let with = |code, modifiers| KeyEvent::new(code, modifiers);
        line.take(with(KeyCode::Left, KeyModifiers::CONTROL));
        assert_eq!(line.before_cursor(), "12 Alder-");
        line.take(with(KeyCode::Backspace, KeyModifiers::ALT));
        assert_eq!(line.text(), "12 Lane");
        line.take(with(KeyCode::Char('f'), KeyModifiers::ALT));
        assert_eq!(line.before_cursor(), "12 Lane");
        line.take(with(KeyCode::Home, KeyModifiers::NONE));
        line.take(with(KeyCode::Delete, KeyModifiers::CONTROL));
        assert_eq!(line.text(), " Lane");
    }

    #[test]
    fn what_is_pasted_is_one_line() {
        let mut line = Line::new("a");
        line.paste("b\tc\r\nd\u{1b}[2Je\n");
        assert_eq!(line.text(), "ab c  d[2Je");
    }
}
