//! Postal addresses: the lines that show through the window, and the sender's.
//!
//! Comes in: an address of the case. Goes out: lines in the form the mail asks for. Uppercase, no punctuation but
//! the hyphen, the unit at the end of the street line (Pub. 28 sections 211 to 213); name, street, city line (DMM
//! 602.1.3). Knows nothing of pages.

use crate::case::MailTo;
use crate::case::firm::Address;
use crate::finding::Span;

/// The most lines that stay visible in a standard window however the sheet shifts: 45 points of height, 11 a line.
pub const MAX_LINES: usize = 4;
/// The most characters that fit the window's safe width of 234 points in capitals of 10 points, with some to spare.
pub const MAX_CHARACTERS: usize = 34;

/// An address in the form the mail asks for, part by part.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Postal {
    /// The ZIP, five digits.
    pub zip5: String,
    /// The four digits of ZIP+4; empty where they are not known.
    pub zip4: String,
    /// Street and number with the unit, or PO box.
    pub street: String,
    /// The names: one line where they fit, otherwise a line each.
    pub names: Vec<String>,
    /// The city.
    pub city: String,
    /// The two letters of the state.
    pub state: String,
}

impl Postal {
    /// Writes an address as the mail prefers it. Both names of a joint return stand on one line where they fit.
    pub fn of(to: &MailTo) -> Postal {
        let names: Vec<String> = to.names.iter().map(|name| postal(&name.value)).collect();
        let together = names.join(" AND ");
        let mut names = if together.chars().count() <= MAX_CHARACTERS { vec![together] } else { names };
        names.retain(|line| !line.is_empty());
        let mut street = postal(&to.street.value);
        if let Some(unit) = &to.unit {
            street = format!("{street} {}", postal(&unit.value));
        }
        let zip = postal(&to.zip.value);
        let (zip5, zip4) = zip.split_once('-').unwrap_or((&zip, ""));
        Postal {
            zip5: zip5.to_string(),
            zip4: zip4.to_string(),
            street,
            names,
            city: postal(&to.city.value),
            state: postal(&to.state.value),
        }
    }

    /// Returns the ZIP with its four further digits, where they are known.
    pub fn zip(&self) -> String {
        if self.zip4.is_empty() { self.zip5.clone() } else { format!("{}-{}", self.zip5, self.zip4) }
    }

    /// Returns the line with city, state and ZIP: two blanks before the ZIP, as the mail prefers.
    pub fn last_line(&self) -> String {
        format!("{} {}  {}", self.city, self.state, self.zip())
    }

    /// Returns the lines as they show through the window.
    fn lines(self) -> Vec<String> {
        let last = self.last_line();
        let mut lines = self.names;
        lines.extend([self.street, last]);
        lines
    }
}

/// Returns the lines of the address that letters go to.
pub fn address(to: &MailTo) -> Vec<String> {
    Postal::of(to).lines()
}

/// Returns where in the case a line of the address was written.
pub fn written(to: &MailTo, line: &str) -> Span {
    if let Some(name) = to.names.iter().find(|name| postal(&name.value) == line) {
        return name.span;
    }
    match Postal::of(to).last_line() == line {
        true => to.city.span,
        false => to.street.span,
    }
}

/// Returns the sender's address as people write it.
pub(super) fn sender_address(address: &Address) -> Vec<String> {
    let street = match &address.unit {
        Some(unit) => format!("{}, {}", address.street.value, unit.value),
        None => address.street.value.clone(),
    };
    vec![street, format!("{}, {} {}", address.city.value, address.state.value, address.zip.value)]
}

/// Writes words as the mail prefers them. A hyphen stays between letters or digits, because it belongs to some
/// house numbers and names; `#`, `/` and `&` carry meaning and stay.
fn postal(words: &str) -> String {
    let letters: Vec<char> = words.chars().collect();
    let mut out = String::new();
    for (n, c) in letters.iter().enumerate() {
        let beside =
            |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(|c| c.is_alphanumeric());
        match c {
            '-' if beside(n.checked_sub(1)) && beside(Some(n + 1)) => out.push('-'),
            '#' | '/' | '&' => out.push(*c),
            c if c.is_alphanumeric() => out.extend(c.to_uppercase()),
            '\'' | '\u{2019}' | '.' => {}
            _ => out.push(' '),
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_take_the_form_the_mail_asks_for() {
        for (written, wanted) in [
            ("Maria O'Brien-Muñoz, Jr.", "MARIA OBRIEN-MUÑOZ JR"),
            ("P.O. Box 12", "PO BOX 12"),
            ("39-11 10th St.", "39-11 10TH ST"),
            ("Apt. #4 - rear", "APT #4 REAR"),
            ("01040-1234", "01040-1234"),
        ] {
            assert_eq!(postal(written), wanted);
        }
    }
}
