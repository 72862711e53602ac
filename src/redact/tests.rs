//! The grammar of full taxpayer numbers: what is one in every disguise, and what only looks like one, with the reason.

use super::*;

/// An invented number, by its groups.
const GROUPS: [&str; 3] = ["123", "45", "6789"];

/// Digits of a script, from zero on.
fn in_script(text: &str, zero: char) -> String {
    let figure = |c: char| c.to_digit(10).and_then(|n| char::from_u32(u32::from(zero) + n));
    text.chars().map(|c| figure(c).unwrap_or(c)).collect()
}

/// Makes sure that a number is found in a text, that nothing of its first five digits is left, and that no place moves.
#[track_caller]
fn hidden(text: &str) {
    let places = find(text);
    assert!(!places.is_empty(), "not found: {text:?}");
    let after = apply(text, &places);
    assert_eq!(after.len(), text.len(), "{text:?}");
    for (before, after) in text.char_indices().zip(after.char_indices()) {
        assert!(before.0 == after.0, "{text:?}");
    }
    let left: String = after.chars().filter_map(digit).map(|n| char::from(b'0' + n)).collect();
    assert!(!left.contains("12345") && !left.contains("345"), "{text:?}: {after:?}");
    assert!(find(&after).is_empty(), "found again: {after:?}");
}

/// What may stand between groups, anywhere.
const SEPARATORS: &[&str] = &[
    "-",
    "--",
    "---",
    " - ",
    "- ",
    " -",
    "  -  ",
    ".",
    "..",
    "/",
    "//",
    "_",
    "__",
    " ",
    "  ",
    "   ",
    "    ",
    "\t",
    ":",
    "\u{2010}",
    "\u{2011}",
    "\u{2012}",
    "\u{2013}",
    "\u{2014}",
    "\u{2212}",
    "\u{fe63}",
    "\u{ff0d}",
    "~",
    "\u{b7}",
    "\u{2022}",
    "\u{ff0e}",
    "\u{2044}",
    "\u{ff0f}",
    "\\",
    "\u{a0}",
    "\u{2003}",
    "\u{202f}",
    "\u{3000}",
    ",",
    "'",
    "\u{200b}-",
    "-\u{ad}",
    "\u{2060} ",
    "\u{fffd}",
];

#[test]
fn groups_of_three_two_and_four_are_found_with_every_separator() {
    for separator in SEPARATORS {
        hidden(&GROUPS.join(separator));
        hidden(&format!("because: {} as told", GROUPS.join(separator)));
    }
    // One sign before the middle group and another behind it.
    for (first, second) in
        [(".", "-"), ("-", "."), (" ", "-"), ("-", " "), ("/", "-"), ("-", "/"), (" - ", "-"), (") ", "-")]
    {
        hidden(&format!("note: 123{first}45{second}6789"));
    }
    hidden("note: (123) 45-6789");
    hidden("note: (123)-45-6789");
    hidden("note: 123(45)-6789");
}

#[test]
fn digits_of_every_script_are_found() {
    for zero in [
        '\u{ff10}',
        '\u{660}',
        '\u{6f0}',
        '\u{966}',
        '\u{7c0}',
        '\u{1040}',
        '\u{e50}',
        '\u{1d7ce}',
        '\u{1d7d8}',
        '\u{1fbf0}',
        '\u{a620}',
    ] {
        hidden(&in_script("123-45-6789", zero));
        hidden(&format!("ssn {}", in_script("123456789", zero)));
        // Two scripts in one number.
        hidden(&format!("{}-45-6789", in_script("123", zero)));
    }
    hidden("\u{2460}\u{2461}\u{2462}-\u{2463}\u{2464}-\u{2465}\u{2466}\u{2467}\u{2468}");
    hidden("\u{2776}\u{2777}\u{2778}-\u{2779}\u{277a}-\u{277b}\u{277c}\u{277d}\u{277e}");
    hidden("\u{b9}\u{b2}\u{b3}-\u{2074}\u{2075}-\u{2086}\u{2087}\u{2088}\u{2089}");
    // Marks above and below, keycaps, characters of no width.
    hidden("1\u{332}2\u{332}3\u{332}-4\u{332}5\u{332}-6\u{332}7\u{332}8\u{332}9\u{332}");
    hidden("1\u{fe0f}\u{20e3}2\u{fe0f}\u{20e3}3\u{fe0f}\u{20e3}-45-6789");
    hidden("1\u{200b}2\u{200d}3\u{feff}-4\u{2060}5-67\u{ad}89");
    // A character that was lost in the middle of a group.
    hidden("12\u{fffd}3-45-6789");
    hidden("123-4\u{fffd}5-6789");
}

#[test]
fn what_stands_around_a_number_does_not_hide_it() {
    for text in [
        "1-123-45-6789",
        "2025-123-45-6789",
        "123-45-6789-01",
        "123-45-6789/123-45-6789",
        "123-45-6789/987-65-4321",
        "123 45 6789/987 65 4321",
        "123-45-6789,987-65-4321",
        "x123-45-6789y",
        "<123-45-6789>",
        "\"123-45-6789\"",
        "#123-45-6789",
        "Ana123-45-6789Alder",
        "12/31/2024 123-45-6789",
    ] {
        hidden(text);
    }
}

/// Where a letter could be a digit, both ways of reading count.
#[test]
fn a_letter_that_could_be_a_digit_does_not_hide_the_number_behind_it() {
    for text in ["901o048-02-4042", "o048-02-4042u901o048-02-4042u9", "7l048-02-4042 and 12I048-02-4042"] {
        let after = apply(text, &find(text));
        assert!(!after.contains("048-02"), "{text}: {after}");
    }
}

#[test]
fn a_letter_typed_for_a_digit_does_not_hide_it() {
    for text in [
        "123-45-678O",
        "123-4S-6789 ssn 123-45-678o",
        "l23-45-6789",
        "123-45-67l9",
        "ssn 12345678O",
        "tin: 123-45-678O",
    ] {
        let after = apply(text, &find(text));
        assert!(!find(text).is_empty() && !after.contains("45-678"), "{text}: {after}");
    }
}

/// Words for a number, as people write them.
const WORDS: &[&str] = &[
    "tin",
    "TIN",
    "ssn",
    "SSN",
    "SSN#",
    "SSN:",
    "SSN -",
    "ssn=",
    "SS#",
    "SS #",
    "ss no.",
    "SS number",
    "S.S.N.",
    "S. S. N.",
    "S S N",
    "T.I.N.",
    "I.T.I.N.",
    "A. T. I. N. no.",
    "P.T.I.N.=",
    "soc.\n# sec.",
    "Social\n#  Security number",
    "S.S.#",
    "soc. sec.",
    "Soc Sec",
    "SocSec",
    "soc. sec. no.",
    "Soc. Security #",
    "social security",
    "Social Security Number",
    "social security no.",
    "SOCIAL SECURITY NUMBER IS",
    "social_security_number",
    "social-security-no",
    "Social Sec.",
    "Seguro Social",
    "seguro social no.",
    "n\u{fa}mero de seguro social",
    "N\u{da}MERO DE SEGURO SOCIAL:",
    "Seg. Social",
    "ITIN",
    "itin no",
    "ATIN",
    "taxpayer number",
    "taxpayer no.",
    "taxpayer ID",
    "Taxpayer Identification Number",
    "tax ID",
    "Tax ID number",
    "TaxID",
    "ss\u{200b}n",
    "\u{ff33}\u{ff33}\u{ff2e}",
];

#[test]
fn nine_digits_after_a_word_are_found_in_any_groups() {
    for word in WORDS {
        for number in [
            "123456789",
            "123-45-6789",
            "123 45 6789",
            "12345-6789",
            "1234 56789",
            "123456-789",
            "123-456-789",
            "1 2 3 4 5 6 7 8 9",
            "12.345.67.89",
            "123*45*6789",
            "123+45-6789",
            "123 + 45 + 6789",
            "123-45=6789",
            "123@45&6789",
            "123<45>6789",
        ] {
            hidden(&format!("# {word} {number}"));
            hidden(&format!("name: Ana, {word} {number} as told"));
        }
        hidden(&format!("# {word}\n# 123456789"));
        hidden(&format!("# {word}:\n#   123 456 789"));
        hidden(&format!("# {word} 12345\n# 6789"));
        // A digit too many is still nearly all of a number.
        hidden(&format!("# {word} 123-45-67890"));
    }
    hidden("# her SSN: 123, 45, 6789");
    hidden("tin: 12-3456789");
    hidden("# his number, for the SSN: write 123456789 on the form");
}

#[test]
fn a_number_split_over_lines_is_found() {
    for text in [
        "# 123-45-\n# 6789",
        "# 123-\n# 45-6789",
        "# 123\n# 45-6789",
        "# 123-45\n#6789",
        "because: |\n  123-45-\n  6789\n",
        "because: |\n  123\n  45\n  6789\n",
        "because: >-\n  123 45\n  6789\n",
        "# 123\n# 45\n# 6789",
        "# 123-45-\r\n# 6789\r\n",
        "tin:\n  123456789",
        "tin: >-\n\n  123456789",
    ] {
        hidden(text);
    }
}

#[test]
fn under_a_key_everything_is_covered_but_the_last_four() {
    for (text, after) in [
        ("tin: 123-45-67890", "tin: xxx-xx-x7890"),
        ("tin: 123-45-678O", "tin: xxx-xx-678O"),
        ("tin: (123) 45-6789", "tin: (xxx) xx-6789"),
        ("tin: [123, 45, 6789]", "tin: [xxx, xx, 6789]"),
        (
            "- {name: Ana, tin: 123-45-67, zip: 01040}",
            "- {name: Ana, tin: xxx-4x-67, zip: 01040}".replace("-4x-", "-45-").as_str(),
        ),
        ("{name: Ana, tin: 12345}", "{name: Ana, tin: x2345}"),
        ("  tin: '12 34 56 78 9'   # of 2024", "  tin: 'xx xx x6 78 9'   # of 2024"),
        ("tin: 1,2,3,4,5,6,7,8,9", "tin: x,x,x,x,x,6,7,8,9"),
        ("\"SSN\": \"123x45x6789\"", "\"SSN\": \"xxxxxxx6789\""),
        ("ssn: one 2 three 4 5 6 7", "ssn: xxx x xxxxx 4 5 6 7"),
        ("taxpayer_id: 12345678", "taxpayer_id: xxxx5678"),
        ("reference: 123456789", "reference: xxxxx6789"),
        ("client: {reference: HH-123456789}", "client: {reference: xx-xxxxx6789}"),
    ] {
        let found = apply(text, &find(text));
        if text.contains("67, zip") {
            assert_eq!(found, "- {name: Ana, tin: xxx-45-67, zip: 01040}");
            continue;
        }
        assert_eq!(found, after);
    }
    for (key, value, after) in [
        ("tin", "123 45 6789", Some("xxx xx 6789")),
        ("SSN", "123-45", Some("x23-45")),
        ("tin", "***-**-4410", None),
        ("tin", "4410", None),
        ("tin-roof", "123456789", None),
        ("number", "123456789", None),
        ("reference", "123456789", Some("xxxxx6789")),
        ("reference", "HH-2025-0412", None),
    ] {
        assert_eq!(under_key(key, value).as_deref(), after, "{key}: {value}");
    }
}

#[test]
fn all_but_the_last_four_are_covered_byte_for_byte() {
    for (text, after) in [
        ("# his SSN123-45-6789, see above", "# his SSNxxx-xx-6789, see above"),
        ("tin: 12-3456789", "tin: xx-xxx6789"),
        ("a: 123-45-6789, b: 987-65-4321", "a: xxx-xx-6789, b: xxx-xx-4321"),
        ("1\u{200b}23-4\u{ad}5-67\u{2060}89", "x\u{200b}xx-x\u{ad}x-67\u{2060}89"),
        ("\u{ff11}\u{ff12}\u{ff13}-45-6789", "\u{ff58}\u{ff58}\u{ff58}-xx-6789"),
        ("\u{661}23-45-6789", "\u{d7}xx-xx-6789"),
        ("\u{1d7cf}23-45-6789", "\u{1d4cd}xx-xx-6789"),
    ] {
        assert_eq!(apply(text, &find(text)), after);
    }
}

/// What is no full number, with the reason. A refusal here would have the preparer change what a paper says.
#[test]
fn what_only_looks_like_a_number_raises_no_alarm() {
    for (text, why) in [
        ("zip: 01040-1234", "ZIP+4 is grouped 5-4"),
        ("{tin: \"***-**-4410\", zip: 01040-1234}", "ZIP+4 beside a masked number"),
        ("01040-1234\n01040-1235\n01040-1236", "rows of ZIP+4"),
        ("phone: 413-555-0142", "telephone numbers are grouped 3-3-4"),
        ("phone: (413) 555-0142 and 555-01-42", "telephone numbers"),
        ("call 413.555.0142 or 413/555-0142", "telephone numbers"),
        ("phone: +1 413 555 0142", "telephone numbers"),
        ("number: 12-3456789", "an employer's number, which the audit's line of the form asks for"),
        ("employer tax ID 12-3456789", "an employer's number"),
        ("EIN 12-3456789", "an employer's number"),
        ("maker number 123456789", "a maker's code of nine digits"),
        ("invoice 123456789 of May", "an invoice"),
        ("permit 2024-00123-45", "a permit, not grouped 3-2-4"),
        ("permit B24-123456", "a permit"),
        ("serial 0123-45-67890", "a serial number, not grouped 3-2-4"),
        ("serial no. 123456789012", "a serial number of twelve digits"),
        ("model 90-123-4567", "a model"),
        ("QMID X1Y2, PIN 12345678901234567", "codes of qualified manufacturers"),
        ("lot 100 12 2024", "a year stands at its end"),
        ("lot 100/12/2024", "a year stands at its end"),
        ("part 000 12 3456", "no number begins with three zeros"),
        ("part 666 12 3456", "no number begins so"),
        ("part 950 12 3456", "no ITIN has such a middle group"),
        ("amount: 123,456,789.00", "an amount"),
        ("amounts 123.45 6789", "an amount, and another number"),
        ("amounts 123, 45, 6789", "a list of amounts"),
        ("250 + 75 + 1200", "a sum"),
        ("250*30=7500", "a product"),
        ("$250 $75 $1200", "amounts"),
        ("| 250 | 75 | 1200 |", "cells of a table"),
        ("250      75      1200", "columns of a table"),
        ("# 250\n# 75\n# 1200\n# 1525", "a column of a sum"),
        ("# - 250\n# - 75\n# - 1200", "items of a list"),
        ("250 (75) 1200", "a negative amount in a row of amounts"),
        ("paid: 2024-04-02, amount: 123.45", "a date and an amount"),
        ("2024-04-02 2024-05-03 2024-06-04", "dates"),
        ("on 5/20/2024 and 12/31/2024", "dates"),
        ("tin: \"***-**-4410\"", "masked"),
        ("tin: \"***-**-4410\"   # since 2024-05-20", "a date in a comment behind a masked number"),
        ("SSN ***-**-4410, ZIP 01040-1234", "masked"),
        ("SSN ending in 4410", "the last four"),
        ("SSN 4410, 01040", "the last four, and a ZIP"),
        ("tin: \"***-**-4410\"\nnumber: 123456789", "another key on another line"),
        ("tin: none\n\nmaker number 123456789", "another line"),
        ("PTIN P01234567", "a preparer's number begins with P and is no taxpayer's"),
        ("tin roof, 12 squares at 410", "a metal"),
        ("SS 304 pipe, 2205 fittings", "stainless steel"),
        ("Social Security Administration letter of 2024-05-20", "a date"),
        ("reference: HH-0412", "a reference"),
        ("reference: 2025-00123", "a year, and a number counted in it"),
        ("case 2026-1234", "a case"),
        ("15 Mill Street 101, 01040", "an address"),
        ("24.8 kWh, 9.6 kW, 30% of 17,000.00", "quantities"),
    ] {
        assert!(find(text).is_empty(), "{why}: {text} -> {}", apply(text, &find(text)));
    }
}

/// What the README says is not found, so that the limits it states are true.
#[test]
fn the_limits_are_as_stated() {
    for text in [
        "invoice 123456789",
        "12-3456789",
        "one two three, four five, six seven eight nine",
        "1 2 3 - 4 5 - 6 7 8 9",
        "first 123, then 45, then 6789",
        "\u{4e00}\u{4e8c}\u{4e09}-\u{56db}\u{4e94}-\u{516d}\u{4e03}\u{516b}\u{4e5d}",
    ] {
        assert!(find(text).is_empty(), "{text}");
    }
}

/// Whatever a file repeats, looking through it stays one pass: with work that grows with the square, each of these would
/// take minutes.
#[test]
fn large_texts_are_searched_in_one_pass() {
    let begun = std::time::Instant::now();
    for part in [
        "1 ",
        "tin ",
        "tin 1 ",
        "tin:",
        "{tin: ",
        "123-45-",
        "1-",
        "\u{200b}1",
        "S.",
        "reference: 1,",
        "\"tin\": [",
        "1\n",
        "# ",
        " #",
        "tin\n",
        ",tin:1",
        "1\u{fffd}",
        "social ",
        "O",
        "( ",
    ] {
        let mut text = String::from("# tin ");
        while text.len() < 1_000_000 {
            text.push_str(part);
        }
        let places = find(&text);
        assert_eq!(apply(&text, &places).len(), text.len());
    }
    assert!(begun.elapsed().as_secs() < 120, "{:?}", begun.elapsed());
}
