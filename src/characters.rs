//! Characters that are not what they seem. Comes in: a character. Goes out: what it is called, where no reader could
//! see that it stands there or it changes how others are read; and the figure it shows, in whatever script.
//!
//! The classes are those of the Unicode Character Database (from memory: `Default_Ignorable_Code_Point`,
//! `Bidi_Control`, `Noncharacter_Code_Point`, general categories Cc, Zl, Zp and Co).

use std::borrow::Cow;
use unicode_normalization::UnicodeNormalization;

/// Returns what a character is called that nobody sees, or that turns the text around it; none for all others.
///
/// Line feeds, tabs and blanks of every width are seen, as the room they make.
pub(crate) fn unseen(c: char) -> Option<&'static str> {
    Some(match c {
        '\n' | '\t' => return None,
        '\u{ad}' => "a soft hyphen",
        '\u{61c}' | '\u{200e}' | '\u{200f}' => "a mark of the direction of writing",
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            "an order to turn the direction of writing, so that people would read something else than stands here"
        }
        '\u{200b}' => "a space of no width",
        '\u{200c}' | '\u{200d}' => "a joiner of no width",
        '\u{2028}' | '\u{2029}' => "the end of a line or paragraph, as word processors write it",
        '\u{2060}' => "a word joiner of no width",
        '\u{feff}' => "a mark of the byte order, inside the text",
        '\u{fe00}'..='\u{fe0f}' | '\u{180b}'..='\u{180d}' | '\u{180f}' | '\u{e0100}'..='\u{e01ef}' => {
            "a selector of how the character before it looks"
        }
        '\u{fffd}' => "the mark for a character that was lost when the text was converted",
        '\u{34f}'
        | '\u{115f}'..='\u{1160}'
        | '\u{17b4}'..='\u{17b5}'
        | '\u{180e}'
        | '\u{2061}'..='\u{2065}'
        | '\u{206a}'..='\u{206f}'
        | '\u{2800}'
        | '\u{3164}'
        | '\u{ffa0}'
        | '\u{fff0}'..='\u{fffc}'
        | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e00ff}'
        | '\u{e01f0}'..='\u{e0fff}' => "a character without a shape",
        '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{ffffd}' | '\u{100000}'..='\u{10fffd}' => {
            "a character for private use, which shows something else on every machine"
        }
        '\u{fdd0}'..='\u{fdef}' => "no character",
        c if u32::from(c) & 0xfffe == 0xfffe => "no character",
        c if c.is_control() => "a control character",
        _ => return None,
    })
}

/// Shows text on a terminal: what cannot be seen there, or would steer it, shows as a mark.
pub(crate) fn visible(text: &str) -> String {
    // Nearly every text, and every fact of the figures' data has one.
    if text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) {
        return text.to_string();
    }
    text.chars().map(visible_char).collect()
}

/// Shows a character on one line of a terminal.
pub(crate) fn visible_char(c: char) -> char {
    match c {
        '\t' => ' ',
        c if unseen(c).is_some() => '\u{fffd}',
        c => c,
    }
}

/// Shows what nobody sees by its number, such as `\u{202e}`, so that a text can stand on a terminal. Line ends, tabs and
/// all that is seen stay.
pub(crate) fn harmless(text: &str) -> Cow<'_, str> {
    told_by_number(text, |c, out| out.extend(c.escape_unicode()))
}

/// The same for what stands on one line, such as the name of a file: ends of lines and tabs are told as well.
pub(crate) fn harmless_line(text: &str) -> String {
    harmless(text).replace('\n', "\\u{a}").replace('\t', "\\u{9}").replace('\r', "\\u{d}")
}

/// Writes a text with every character that nobody sees told by its number. A carriage return before a line feed is the
/// end of a line and stays.
pub(crate) fn told_by_number(text: &str, tell: impl Fn(char, &mut String)) -> Cow<'_, str> {
    if text.chars().all(|c| unseen(c).is_none()) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let line_end = c == '\r' && chars.peek() == Some(&'\n');
        match unseen(c).is_some() && !line_end {
            true => tell(c, &mut out),
            false => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// Says whether a character joins or separates nothing that a reader could see: what stands on either side of it
/// looks like neighbors.
pub(crate) fn takes_no_room(c: char) -> bool {
    unseen(c).is_some() && !matches!(c, '\r' | '\u{2028}' | '\u{2029}' | '\u{fffd}' | '\u{2800}')
}

/// Returns the digit that a character shows, in any script that has digits, wide, raised or styled.
pub(crate) fn digit(c: char) -> Option<u8> {
    if c.is_ascii_digit() {
        return Some(c as u8 - b'0');
    }
    if c.is_ascii() {
        return None;
    }
    // Where each script's zero stands (Unicode Character Database 14.0, general category Nd; those that come apart into
    // plain digits are read below).
    const ZEROS: [char; 58] = [
        '\u{660}',
        '\u{6f0}',
        '\u{7c0}',
        '\u{966}',
        '\u{9e6}',
        '\u{a66}',
        '\u{ae6}',
        '\u{b66}',
        '\u{be6}',
        '\u{c66}',
        '\u{ce6}',
        '\u{d66}',
        '\u{de6}',
        '\u{e50}',
        '\u{ed0}',
        '\u{f20}',
        '\u{1040}',
        '\u{1090}',
        '\u{17e0}',
        '\u{1810}',
        '\u{1946}',
        '\u{19d0}',
        '\u{1a80}',
        '\u{1a90}',
        '\u{1b50}',
        '\u{1bb0}',
        '\u{1c40}',
        '\u{1c50}',
        '\u{a620}',
        '\u{a8d0}',
        '\u{a900}',
        '\u{a9d0}',
        '\u{a9f0}',
        '\u{aa50}',
        '\u{abf0}',
        '\u{104a0}',
        '\u{10d30}',
        '\u{11066}',
        '\u{110f0}',
        '\u{11136}',
        '\u{111d0}',
        '\u{112f0}',
        '\u{11450}',
        '\u{114d0}',
        '\u{11650}',
        '\u{116c0}',
        '\u{11730}',
        '\u{118e0}',
        '\u{11950}',
        '\u{11c50}',
        '\u{11d50}',
        '\u{11da0}',
        '\u{16a60}',
        '\u{16ac0}',
        '\u{16b50}',
        '\u{1e140}',
        '\u{1e2f0}',
        '\u{1e950}',
    ];
    // From 1 to 9 or 10, in circles (Unicode block Dingbats, from memory); they come apart into nothing.
    const CIRCLED_ONES: [char; 4] = ['\u{2776}', '\u{2780}', '\u{278a}', '\u{24f5}'];
    let from = |first: char| u32::from(c).checked_sub(u32::from(first)).and_then(|n| u8::try_from(n).ok());
    // The zeros are in order, so only the last one before the character can be its own.
    let before = ZEROS.partition_point(|zero| *zero <= c).checked_sub(1);
    if let Some(figure) = before.and_then(|at| from(ZEROS[at])).filter(|figure| *figure < 10) {
        return Some(figure);
    }
    if c == '\u{24ff}' {
        return Some(0);
    }
    if let Some(n) = CIRCLED_ONES.iter().find_map(|one| from(*one).filter(|n| *n < 9)) {
        return Some(n + 1);
    }
    // Wide, raised, circled and mathematical digits come apart into a plain one, some with signs around it.
    let mut shown = std::iter::once(c).nfkc().filter(|c| c.is_alphanumeric());
    match (shown.next(), shown.next()) {
        (Some(one), None) if one.is_ascii_digit() => Some(one as u8 - b'0'),
        _ => None,
    }
}

/// Returns what makes a digit unreadable: an x of as many bytes, so that every other place of a text stays where it was.
pub(crate) fn cover(digit: char) -> char {
    match digit.len_utf8() {
        1 => 'x',
        2 => '\u{d7}',
        3 => '\u{ff58}',
        _ => '\u{1d4cd}',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_nobody_sees_has_a_name() {
        for c in [
            '\0',
            '\u{1b}',
            '\r',
            '\u{7f}',
            '\u{9b}',
            '\u{ad}',
            '\u{34f}',
            '\u{61c}',
            '\u{115f}',
            '\u{180e}',
            '\u{200b}',
            '\u{200d}',
            '\u{200f}',
            '\u{2028}',
            '\u{202e}',
            '\u{2060}',
            '\u{2066}',
            '\u{2800}',
            '\u{3164}',
            '\u{e000}',
            '\u{fdd0}',
            '\u{fe0f}',
            '\u{feff}',
            '\u{fffd}',
            '\u{ffff}',
            '\u{e0041}',
            '\u{1fffe}',
            '\u{10fffd}',
        ] {
            assert!(unseen(c).is_some(), "U+{:04X}", u32::from(c));
        }
        for c in [
            'a',
            ' ',
            '\n',
            '\t',
            '\u{a0}',
            '\u{2003}',
            '\u{301}',
            '\u{e9}',
            '\u{5d0}',
            '\u{627}',
            '\u{4e2d}',
            '\u{1f600}',
        ] {
            assert_eq!(unseen(c), None, "U+{:04X}", u32::from(c));
        }
    }

    #[test]
    fn what_nobody_sees_is_shown_by_its_number() {
        assert_eq!(harmless("a\u{202e}b\u{1b}[2J\r\n\tc\rd"), "a\\u{202e}b\\u{1b}[2J\r\n\tc\\u{d}d");
        assert_eq!(harmless_line("a\nb\tc\r\n\u{202e}"), "a\\u{a}b\\u{9}c\\u{d}\\u{a}\\u{202e}");
        assert_eq!(harmless("caf\u{e9} \u{4e2d}\n"), "caf\u{e9} \u{4e2d}\n");
    }

    #[test]
    fn digits_of_every_script_are_digits() {
        for (c, shows) in [
            ('7', 7),
            ('\u{667}', 7),
            ('\u{6f0}', 0),
            ('\u{ff19}', 9),
            ('\u{b2}', 2),
            ('\u{2084}', 4),
            ('\u{2463}', 4),
            ('\u{1d7db}', 3),
            ('\u{7c5}', 5),
            ('\u{1049}', 9),
            ('\u{a628}', 8),
            ('\u{1e951}', 1),
            ('\u{1fbf6}', 6),
            ('\u{277a}', 5),
            ('\u{248c}', 5),
            ('\u{2478}', 5),
            ('\u{24ff}', 0),
        ] {
            assert_eq!(digit(c), Some(shows), "U+{:04X}", u32::from(c));
        }
        for c in ['a', ' ', '\u{5d0}', '\u{4e00}', '\u{bd}', '\u{2469}', '\u{fb01}'] {
            assert_eq!(digit(c), None, "U+{:04X}", u32::from(c));
        }
    }
}
