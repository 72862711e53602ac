//! Words put together for people, in American English: a capital, a full stop, a list, a count, a day.
//!
//! Comes in: words, counts, days. Goes out: the same as people write them. Letters have a language of their own
//! (`letter::speech`); amounts of money print themselves.

use jiff::civil::Date;

/// Begins with a capital.
pub(crate) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Begins with a capital and ends with a full stop, unless another mark ends it; nothing stays nothing.
pub(crate) fn sentence(words: &str) -> String {
    let mut sentence = capital(words);
    if !sentence.is_empty() && !sentence.ends_with(['.', '!', '?']) {
        sentence.push('.');
    }
    sentence
}

/// Joins words as a list: `a`, `a and b`, `a, b and c`.
pub(crate) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// Joins words of which one is wanted: `a`, `a or b`, `a, b or c`.
pub(crate) fn either(words: &[String]) -> String {
    match words {
        [rest @ .., last] if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => words.concat(),
    }
}

/// Puts a comma between groups of three digits.
pub(crate) fn grouped(digits: &str) -> String {
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (n, digit) in digits.chars().enumerate() {
        if n > 0 && (digits.len() - n).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Writes a whole number: `12,500`.
pub(crate) fn count(n: impl ToString) -> String {
    grouped(&n.to_string())
}

/// Counts things: `1 case`, `2,000 cases`.
pub(crate) fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(n), if n == 1 { one } else { many })
}

/// Writes a day out: `November 25, 2026`.
pub(crate) fn day(day: Date) -> String {
    day.strftime("%B %-d, %Y").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_put_together_as_people_write_them() {
        assert_eq!(["", "a pump", "\u{e9}t\u{e9}"].map(capital), ["", "A pump", "\u{c9}t\u{e9}"]);
        assert_eq!(["", "labor counts", "why?", "so."].map(sentence), ["", "Labor counts.", "Why?", "So."]);
        let list = |words: &[&str]| listed(&words.iter().map(ToString::to_string).collect::<Vec<_>>());
        assert_eq!([list(&[]), list(&["a"]), list(&["a", "b"])], ["", "a", "a and b"]);
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
        assert_eq!([0, 999, 1_000, 1_234_567].map(count), ["0", "999", "1,000", "1,234,567"]);
        assert_eq!(counted(1, "case", "cases"), "1 case");
        assert_eq!(counted(2_000, "case", "cases"), "2,000 cases");
        assert_eq!(day(jiff::civil::date(2026, 3, 5)), "March 5, 2026");
    }
}
