//! Choices made from bytes, so that a fuzzer that changes bytes changes choices.

/// Bytes still to be used; where they end, every choice is the first.
pub struct Chance<'a>(pub &'a [u8]);

impl<'a> Chance<'a> {
    /// The next byte.
    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    /// Says whether anything is left.
    pub fn any_left(&self) -> bool {
        !self.0.is_empty()
    }

    /// A number below `most`.
    pub fn below(&mut self, most: usize) -> usize {
        usize::from(self.byte()) % most
    }

    /// One of several.
    pub fn one<'t, T>(&mut self, of: &'t [T]) -> &'t T {
        &of[self.below(of.len())]
    }

    /// Yes, once in so many times.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.any_left() && self.below(times) == times - 1
    }

    /// A number of two bytes.
    pub fn number(&mut self) -> u16 {
        u16::from_le_bytes([self.byte(), self.byte()])
    }

    /// Bytes up to the next zero, as text.
    pub fn text(&mut self) -> String {
        let end = self.0.iter().position(|byte| *byte == 0).unwrap_or(self.0.len());
        let (text, rest) = self.0.split_at(end);
        self.0 = rest.get(1..).unwrap_or_default();
        String::from_utf8_lossy(text).into_owned()
    }

    /// Bytes up to the next zero, as a text in double quotes of YAML.
    pub fn quoted(&mut self) -> String {
        let mut out = String::from('"');
        for c in self.text().chars().filter(|c| !matches!(c, '\n' | '\r')) {
            if matches!(c, '"' | '\\') {
                out.push('\\');
            }
            out.push(c);
        }
        out.push('"');
        out
    }
}
