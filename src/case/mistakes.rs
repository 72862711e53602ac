//! What people write when they mean something else: days written out, states by name, amounts below zero; and the
//! complaints that only follow from another one.
//!
//! Comes in: what was written, or all complaints. Goes out: what is meant, or the complaints worth reading. Decides
//! nothing about a value; a guess is only ever proposed.

use crate::finding::{Finding, Severity, Sources, Span};
use jiff::civil::Date;

/// Reads a day written with the name of its month: `July 30, 2025`, `30 July 2025`, `Jul 30 2025`.
pub(super) fn day_in_words(text: &str) -> Option<Date> {
    const MONTHS: [&str; 12] =
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let parts: Vec<String> = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_ascii_lowercase)
        .collect();
    let [first, second, year] = parts.as_slice() else { return None };
    let month = |word: &String| {
        let short = word.get(..3)?;
        let named = word.chars().all(|c| c.is_ascii_alphabetic());
        MONTHS.iter().position(|one| *one == short).filter(|_| named).map(|n| n as i8 + 1)
    };
    let day = |word: &String| word.trim_end_matches(['s', 't', 'n', 'd', 'r', 'h']).parse::<i8>().ok();
    let (month, day) = match (month(first), month(second)) {
        (Some(found), None) => (found, day(second)?),
        (None, Some(found)) => (found, day(first)?),
        _ => return None,
    };
    Date::new(year.parse().ok().filter(|year| *year >= 1900)?, month, day).ok()
}

/// Finds the one day that stands in a text with something more: a remark, an hour, or dashes of another length.
pub(super) fn day_within(text: &str) -> Option<Date> {
    let plain =
        text.trim().replace(['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '.', '/'], "-");
    let (head, rest) = plain.split_at_checked(10)?;
    let more_digits = |c: char| c.is_ascii_digit() || c == '-';
    let day = head.parse::<Date>().ok().filter(|day| (1900..=2099).contains(&day.year()))?;
    (!rest.starts_with(more_digits) && !rest.contains('-')).then_some(day)
}

/// Finds the two letters of a state written by its name.
pub(super) fn state_letters(written: &str) -> Option<&'static str> {
    let plain = written.trim().to_ascii_lowercase();
    STATE_NAMES.iter().find(|(_, name)| *name == plain).map(|(letters, _)| *letters)
}

/// States and territories by name, as the mail abbreviates them (USPS Publication 28, appendix B).
const STATE_NAMES: &[(&str, &str)] = &[
    ("AL", "alabama"),
    ("AK", "alaska"),
    ("AZ", "arizona"),
    ("AR", "arkansas"),
    ("CA", "california"),
    ("CO", "colorado"),
    ("CT", "connecticut"),
    ("DE", "delaware"),
    ("DC", "district of columbia"),
    ("FL", "florida"),
    ("GA", "georgia"),
    ("GU", "guam"),
    ("HI", "hawaii"),
    ("ID", "idaho"),
    ("IL", "illinois"),
    ("IN", "indiana"),
    ("IA", "iowa"),
    ("KS", "kansas"),
    ("KY", "kentucky"),
    ("LA", "louisiana"),
    ("ME", "maine"),
    ("MD", "maryland"),
    ("MA", "massachusetts"),
    ("MI", "michigan"),
    ("MN", "minnesota"),
    ("MS", "mississippi"),
    ("MO", "missouri"),
    ("MT", "montana"),
    ("NE", "nebraska"),
    ("NV", "nevada"),
    ("NH", "new hampshire"),
    ("NJ", "new jersey"),
    ("NM", "new mexico"),
    ("NY", "new york"),
    ("NC", "north carolina"),
    ("ND", "north dakota"),
    ("OH", "ohio"),
    ("OK", "oklahoma"),
    ("OR", "oregon"),
    ("PA", "pennsylvania"),
    ("PR", "puerto rico"),
    ("RI", "rhode island"),
    ("SC", "south carolina"),
    ("SD", "south dakota"),
    ("TN", "tennessee"),
    ("TX", "texas"),
    ("UT", "utah"),
    ("VT", "vermont"),
    ("VA", "virginia"),
    ("WA", "washington"),
    ("WV", "west virginia"),
    ("WI", "wisconsin"),
    ("WY", "wyoming"),
];

/// What to write instead of an amount below zero, where the number alone would be wrong.
pub(super) fn below_zero(key: &str) -> Option<&'static str> {
    match key {
        "amount" => Some(
            "what the seller took off is a separate cost, `as: discount`, with a positive amount; what others paid goes under `incentives`",
        ),
        "tax_before_credits" => Some(
            "give the tax before credits (for 2020 to 2025 line 18 of Form 1040), `0` if there was none; a refund is not a tax",
        ),
        _ => None,
    }
}

/// How many references a file may have before they are one complaint: nobody reads one for each.
const MANY_REFERENCES: usize = 3;

/// Puts the complaints about YAML's references together where a file is full of them, with those about the keys that
/// are there only to be referred to.
fn one_for_all_references(findings: Vec<Finding>, sources: &Sources) -> Vec<Finding> {
    let masked = |one: &Finding| one.help.as_ref().is_some_and(|help| help.starts_with("write it in quotes"));
    let refers = |one: &Finding| matches!(one.code, "alias" | "anchor") && !masked(one);
    let count = findings.iter().filter(|one| refers(one)).count();
    if count <= MANY_REFERENCES {
        return findings;
    }
    let line = |one: &Finding| one.at.map(|at| sources.line_column(at).line);
    let anchored: Vec<Option<usize>> = findings.iter().filter(|one| one.code == "anchor").map(line).collect();
    let of = |code: &str| findings.iter().find(|one| refers(one) && one.code == code);
    let said = of("alias").or(of("anchor")).cloned().map(|mut one| {
        one.message =
            format!("this file refers from one place to another with `&` and `*`, {count} times; a case has no such references");
        one.help = Some(
            "write each value where it is needed; a text that itself begins with `&` or `*` needs quotes".to_string(),
        );
        one
    });
    let follows = |one: &Finding| one.code == "unknown-key" && anchored.contains(&line(one));
    findings.into_iter().filter(|one| !refers(one) && !follows(one)).chain(said).collect()
}

/// Leaves out complaints that only follow from another one at the same place, so that each mistake is read once.
pub(super) fn without_followers(findings: Vec<Finding>, sources: &Sources) -> Vec<Finding> {
    let findings = one_for_all_references(findings, sources);
    // A file with that many complaints is not a case, and nobody reads them one by one.
    if findings.len() > 1000 {
        return findings;
    }
    let spans = |codes: &[&str]| -> Vec<Span> {
        findings.iter().filter(|one| codes.contains(&one.code)).filter_map(|one| one.at).collect()
    };
    // A value cut in two by a comma is no value yet, whatever its first part looks like.
    let cut = spans(&["comma-in-braces"]);
    // A line that begins in the wrong column joins the value of the line above it.
    let misplaced = spans(&["indentation", "tab", "not-yaml"]);
    let line = |span: Span| sources.line_column(span).line;
    // A comment that began inside braces has swallowed what would close them.
    let swallowed: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "comment-cuts-text" && one.severity == Severity::Error)
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    let opened = |one: &Finding| one.related.iter().any(|(span, _)| swallowed.contains(&line(*span)));
    let hyphens: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "wrong-shape" && one.message.contains("after the hyphen"))
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    // Where reading stopped in the midst of a group, the rest of its keys is not missing.
    let cut_short = misplaced.iter().filter_map(|stop| {
        let before = findings.iter().filter_map(|one| {
            let at = one.at.filter(|at| one.code == "missing-key" && at.start < stop.start)?;
            (line(*stop) - line(at) <= 12).then_some(at)
        });
        before.max_by_key(|at| at.start)
    });
    let cut_short: Vec<Span> = cut_short.collect();
    let follows = |one: &Finding| {
        let Some(at) = one.at else { return false };
        let value = one.code.ends_with("-form") || one.code == "unknown-word";
        value && cut.iter().any(|cut| cut.start <= at.start && at.end <= cut.end)
            || value && sources.excerpt(at).contains('\n') && !misplaced.is_empty()
            || one.code == "missing-key" && cut_short.contains(&at)
            || one.code == "needs-quotes" && hyphens.contains(&line(at))
            || one.code == "brackets-open" && (swallowed.contains(&line(at)) || opened(one))
    };
    let keep: Vec<bool> = findings.iter().map(|one| !follows(one)).collect();
    findings.into_iter().zip(keep).filter_map(|(one, keep)| keep.then_some(one)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_written_out_are_understood() {
        let day = Some(date(2025, 7, 30));
        for text in ["July 30, 2025", "30 July 2025", "Jul 30 2025", "jul. 30th, 2025", "30-Jul-2025"] {
            assert_eq!(day_in_words(text), day, "{text}");
        }
        for text in ["summer 2025", "July 2025", "Julius 30 2025 x", "July 41, 2025", "2025-07-30"] {
            assert_eq!(day_in_words(text), None, "{text}");
        }
    }
}
