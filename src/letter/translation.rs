//! The table of a language's words: `letters/LANGUAGE/words.yaml`.
//!
//! Comes in: its text. Goes out: the words by the English ones, or what is wrong with it, each with its place. What
//! the built-in table of the language holds, a firm's own must hold too, so that no English slips into a letter.

use super::front::KIT;
use super::speech::Table;
use super::words::nearest;
use crate::finding::{Finding, SourceId, Span};
use crate::written::{Text, Unique, beyond_reading};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    kit: Text<String>,
    words: Unique<String, Text<String>>,
}

/// Reads a table. `wanted` are the English words that it must hold; `None` where it decides so itself.
pub(super) fn read(
    text: &str,
    source: SourceId,
    wanted: Option<&Table>,
    findings: &mut Vec<Finding>,
) -> Option<Table> {
    let place = |start: usize, end: usize| Span { source, start: start as u32, end: end as u32 };
    let line_of = |needle: &str| {
        let at = text.find(needle).unwrap_or(0);
        let start = text[..at].rfind('\n').map_or(0, |n| n + 1);
        let indent = text[start..].len() - text[start..].trim_start().len();
        let end = text[start..].find('\n').map_or(text.len(), |n| start + n);
        place((start + indent).min(end), end)
    };
    if let Some((at, why)) = beyond_reading(text) {
        findings.push(
            Finding::error("words-form", format!("the table of words cannot be read: {why}"))
                .at(place(at, at + text[at..].chars().next().map_or(0, char::len_utf8)))
                .help("below `kit: 1` and `words:` stand the English words, a colon, and the words of the language"),
        );
        return None;
    }
    let file: File = match serde_yaml::from_str(text) {
        Ok(file) => file,
        Err(error) => {
            let message = error.to_string();
            let reason = message.rsplit_once(" at line ").map_or(message.as_str(), |(reason, _)| reason);
            let at = error.location().map_or(0, |place| place.index()).min(text.len());
            let end = text[at..].find('\n').map_or(text.len(), |n| at + n);
            findings.push(
                Finding::error("words-form", format!("the table of words cannot be read: {reason}"))
                    .at(place(at, end))
                    .help("below `kit: 1` and `words:` stand the English words, a colon, and the words of the language; words with a colon need quotes"),
            );
            return None;
        }
    };
    let before = findings.len();
    if file.kit.0 != KIT {
        findings.push(
            Finding::error(
                "template-kit",
                format!("this table is written for kit {}, and this program has kit {KIT}", file.kit.0),
            )
            .at(line_of("kit:"))
            .help("copy the letters out afresh and carry your changes over"),
        );
    }
    let table: Table = file.words.0.into_iter().map(|(english, words)| (english, words.0)).collect();
    for (english, words) in &table {
        if blanks(english) != blanks(words) {
            findings.push(
                Finding::error("words-blanks", format!("`{english}` and its words have not the same blanks"))
                    .at(line_of(english))
                    .help("write each `{}`, `{page}` and `{pages}` as often as the English words do, in the same order"),
            );
        }
    }
    if let Some(wanted) = wanted {
        for english in wanted.keys().filter(|english| !table.contains_key(*english)) {
            findings.push(
                Finding::error("words-missing", format!("there are no words for `{english}`"))
                    .at(line_of("words:"))
                    .help("copy the letters out afresh to see the built-in words"),
            );
        }
        for english in table.keys().filter(|english| !wanted.contains_key(*english)) {
            let near = nearest(english, wanted.keys().map(String::as_str));
            findings.push(
                Finding::error("words-unknown", format!("no letter asks for words for `{english}`"))
                    .at(line_of(english))
                    .help(
                        near.map_or_else(
                            || "delete it".to_string(),
                            |near| format!("did you mean `{near}`?"),
                        ),
                    ),
            );
        }
    }
    (findings.len() == before).then_some(table)
}

/// Returns the blanks of words, in order.
fn blanks(words: &str) -> Vec<&str> {
    let starts = words.match_indices('{').map(|(at, _)| &words[at..]);
    starts.filter_map(|rest| rest.find('}').map(|end| &rest[..=end])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Sources;

    fn told(text: &str, wanted: &[&str]) -> Vec<String> {
        let wanted: Table = wanted.iter().map(|one| (one.to_string(), String::new())).collect();
        let mut sources = Sources::default();
        let source = sources.add("letters/es/words.yaml", text);
        let mut findings = Vec::new();
        read(text, source, Some(&wanted), &mut findings);
        let said = |one: &Finding| {
            let place = sources.line_column(one.at.expect("every finding has a place"));
            format!("{}:{} [{}] {}", place.line, place.column, one.code, one.message)
        };
        findings.iter().map(said).collect()
    }

    #[test]
    fn what_is_wrong_in_a_table_is_told_with_its_place() {
        let good = "kit: 1\nwords:\n  Sincerely,: Atentamente,\n  paid {}: pagado el {}\n";
        let wanted = ["Sincerely,", "paid {}"];
        assert_eq!(told(good, &wanted), Vec::<String>::new());
        for (text, begins) in [
            (good.replace("kit: 1", "kit: 2"), "1:1 [template-kit]"),
            (good.replace("el {}", "hoy"), "4:3 [words-blanks]"),
            (good.replace("Sincerely", "Sincerly"), "2:1 [words-missing]"),
            (format!("{good}  Yours,: Suyo,\n"), "5:3 [words-unknown]"),
            (format!("{good}  \"paid {{}}\": otra vez {{}}\n"), "5:3 [words-form]"),
            ("words: 3\n".to_string(), "1:8 [words-form]"),
        ] {
            let told = told(&text, &wanted);
            assert!(told.first().is_some_and(|one| one.starts_with(begins)), "{begins}: {told:?}");
        }
    }
}
