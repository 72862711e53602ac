//! The table of a language's words: `letters/LANGUAGE/words.yaml`.
//!
//! Comes in: its text. Goes out: the words by the English ones, or what is wrong with it, each with its place. What
//! the built-in table of the language holds, a firm's own must hold too, so that no English slips into a letter.

use super::front::KitNumber;
use super::speech::Table;
use super::tags::nearest;
use crate::finding::{Finding, SourceId, Sources, Spanned};
use crate::record::rule::Takes;
use crate::record::shape::{Keyed, Shape, Spot, Written, built_in, coded, read_root, records};
use crate::record::tree::{self, Entry, Node};
use crate::record::{FileKind, Reading, in_order};

records! {
    /// The words of a language.
    struct File, "table of words" {
        must kit: Spanned<String>, "1", "the version of the contract that it is written for";
        must words: Words, "{Sincerely,: Atentamente,}", "the English words, each with those of the language";
    }
}

/// English words with those of the language, where these could be read; in the order of the file.
struct Words(Vec<(Spanned<String>, Option<Spanned<String>>)>);

impl Shape for Words {
    const TAKES: Takes = Takes::Map(&Takes::Line);

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<Words> {
        let entries = reading.entries(node, spot.head, &|| spot.path())?;
        let words =
            |one: &Entry, reading: &mut Reading<'_>| Spanned::read(reading, &one.value, &spot.below(one));
        Some(Words(entries.iter().map(|one| (one.key.clone(), words(one, reading))).collect()))
    }
}

/// The code of what is wrong with the form of a table.
const FORM: &str = "words-form";

/// A table of words as a kind of file.
static FILE: FileKind = FileKind::data("a table of words", "the table of words", &[File::BLOCK]);

/// Reads a table that is part of the program.
pub(super) fn read_built_in(name: &str, text: &str) -> Table {
    let (_, file): (_, File) = built_in(name, text, &FILE);
    file.table()
}

impl File {
    fn table(&self) -> Table {
        let pair = |(english, words): &(Spanned<String>, Option<Spanned<String>>)| {
            Some((english.value.clone(), words.as_ref()?.value.clone()))
        };
        self.words.0.iter().filter_map(pair).collect()
    }
}

/// Reads a table that `sources` has. `wanted` are the English words that it must hold.
pub(super) fn read(
    source: SourceId,
    wanted: Option<&Table>,
    sources: &mut Sources,
    findings: &mut Vec<Finding>,
) -> Option<Table> {
    let text = sources.get(source).text.clone();
    let mut told = Vec::new();
    let root = tree::part(source, 0..text.len(), &FILE, sources, &mut told);
    let head = root.as_ref().and_then(|root| root.key_span("words"));
    let file = root.and_then(|root| read_root::<File>(&root, &text, &FILE, &mut told));
    let told = coded(in_order(told, sources, &FILE), FORM, &[]);
    let before = findings.len();
    findings.extend(told);
    let file = file?;
    // The words are looked at all the same, so that one run tells everything.
    findings.extend(KitNumber::of(&file.kit.value).err().map(|refused| refused.at(file.kit.span)));
    let table = file.table();
    let written = &file.words.0;
    for (english, words) in written.iter().filter_map(|(english, words)| Some((english, words.as_ref()?))) {
        if blanks(&english.value) != blanks(&words.value) {
            let message = format!("`{}` and its words have not the same blanks", english.value);
            findings.push(Finding::error("words-blanks", message).at(words.span).help(
                "write each `{}`, `{page}` and `{pages}` as often as the English words do, in the same order",
            ));
        }
    }
    if let Some(wanted) = wanted {
        let stands = |wanted: &&String| written.iter().any(|(english, _)| english.value == **wanted);
        for english in wanted.keys().filter(|english| !stands(english)) {
            let mut missing = Finding::error("words-missing", format!("there are no words for `{english}`"))
                .help("copy the letters out afresh to see the built-in words");
            missing.at = head;
            findings.push(missing);
        }
        let known: Vec<&str> = wanted.keys().map(String::as_str).collect();
        for (english, _) in written.iter().filter(|(english, _)| !wanted.contains_key(&english.value)) {
            let message = format!("no letter asks for words for `{}`", english.value);
            let help = match nearest(&english.value, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "delete it".to_string(),
            };
            findings.push(Finding::error("words-unknown", message).at(english.span).help(help));
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
        read(source, Some(&wanted), &mut sources, &mut findings);
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
            (good.replace("kit: 1", "kit: 2"), "1:6 [template-kit]"),
            (good.replace("el {}", "hoy"), "4:12 [words-blanks]"),
            (good.replace("Sincerely", "Sincerly"), "2:1 [words-missing]"),
            (format!("{good}  Yours,: Suyo,\n"), "5:3 [words-unknown]"),
            (format!("{good}  \"paid {{}}\": otra vez {{}}\n"), "5:3 [words-form]"),
            ("kit: 1\nwords: 3\n".to_string(), "2:8 [words-form]"),
        ] {
            let told = told(&text, &wanted);
            assert!(told.first().is_some_and(|one| one.starts_with(begins)), "{begins}: {told:?}");
        }
    }
}
