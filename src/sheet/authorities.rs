//! Numbered notes: each document that the sheets rely on has a number, given where it is first named, and stands
//! once, in words, under the authorities.

use super::Writer;
use super::layout::Zero;
use crate::credit::{Figure, Used};
use crate::document::{Align, Block, Row, Table, Width, body, column, plain};
use crate::law::{HowRead, YearLaw};

impl Writer<'_> {
    /// Prints references as note numbers with their passages: ` [2 (d)(1); 5]`; nothing where none can be named.
    /// A reference in words, which names no document of the law's list, follows in parentheses.
    pub(super) fn note<'t>(&'t self, references: impl IntoIterator<Item = &'t String>) -> String {
        let mut numbers: Vec<(usize, Vec<&str>)> = Vec::new();
        let mut in_words: Vec<&str> = Vec::new();
        for one in references.into_iter().flat_map(|reference| reference.split("; ")) {
            let (key, passage) = self.written_out(one).or_else(|| one.split_once(' ')).unwrap_or((one, ""));
            let Some(number) = self.number_of(key) else {
                in_words.push(one);
                continue;
            };
            let at = numbers.iter().position(|(known, _)| *known == number).unwrap_or_else(|| {
                numbers.push((number, Vec::new()));
                numbers.len() - 1
            });
            if !passage.is_empty() && !numbers[at].1.contains(&passage) {
                numbers[at].1.push(passage);
            }
        }
        // A note is one word to the eye: its number does not part from its passage at a line's end.
        let numbered = numbers.into_iter().map(|(number, passages)| match passages.is_empty() {
            true => number.to_string(),
            false => format!("{number}\u{A0}{}", passages.join(",\u{A0}")),
        });
        let numbered: Vec<String> = numbered.collect();
        let mut words = String::new();
        if !numbered.is_empty() {
            words.push_str(&format!(" [{}]", numbered.join("; ")));
        }
        if !in_words.is_empty() {
            words.push_str(&format!(" ({})", in_words.join("; ")));
        }
        words
    }

    /// Returns the key and the passage of a reference that names its document in words, as findings do.
    fn written_out<'t>(&'t self, reference: &'t str) -> Option<(&'t str, &'t str)> {
        let documents = self.year_law?.sources.iter();
        let named = documents.filter_map(|(key, document)| {
            let name = document.split(';').next().unwrap_or(document);
            let rest = reference.strip_prefix(name)?;
            let passage = if rest.is_empty() { rest } else { rest.strip_prefix(", ")? };
            Some((name.len(), (key.as_str(), passage)))
        });
        // One document's name may begin another's.
        named.max_by_key(|(length, _)| *length).map(|(_, found)| found)
    }

    /// Returns the number of a document, a new one where it is named for the first time.
    fn number_of(&self, key: &str) -> Option<usize> {
        self.year_law.filter(|law| law.sources.contains_key(key))?;
        let mut noted = self.noted.borrow_mut();
        let at = noted.iter().position(|known| known == key).unwrap_or_else(|| {
            noted.push(key.to_string());
            noted.len() - 1
        });
        Some(at + 1)
    }

    /// Notes what the values of law in a figure rest on: of its references those to the first document.
    pub(super) fn law_note(&self, figure: &Figure) -> String {
        if !figure.used.iter().any(|used| matches!(used, Used::Law(..))) {
            return String::new();
        }
        let document = |reference: &str| reference.split(' ').next().unwrap_or_default().to_string();
        let first = figure.authority.first().map(|first| document(first));
        self.note(figure.authority.iter().filter(|one| Some(document(one)) == first))
    }

    /// Writes the list of notes, and the documents that figures rest on without a note. To be called when all
    /// other sheets are written.
    pub(super) fn authorities(&self) -> Vec<Block> {
        let Some(year_law) = self.year_law else {
            return Vec::new();
        };
        let noted = self.noted.borrow();
        let rows: Vec<Row> = noted
            .iter()
            .enumerate()
            .map(|(n, key)| {
                body(vec![(n + 1).to_string(), year_law.sources[key].clone(), how_read(year_law, key)])
            })
            .collect();
        let mut blocks = Vec::new();
        if !rows.is_empty() {
            blocks.push(Block::Table(Table {
                summary: "The documents that notes in brackets name by number".to_string(),
                columns: vec![
                    column("Note", Width::Content, Align::Right),
                    column("Document", Width::Parts(1), Align::Left),
                    column("Read", Width::Content, Align::Left),
                ],
                rows,
            }));
        }
        // A figure that is left out of the paper rests on nothing there.
        let printed = self.figures.iter().filter(|figure| self.stands_on_paper(figure, Zero::Hide));
        let mut others: Vec<&str> = Vec::new();
        for one in printed.flat_map(|figure| &figure.authority).flat_map(|reference| reference.split("; ")) {
            let key = one.split(' ').next().unwrap_or_default();
            let Some((key, document)) = year_law.sources.get_key_value(key) else { continue };
            if !noted.contains(key) && !others.contains(&document.as_str()) {
                others.push(document);
            }
        }
        if !others.is_empty() {
            blocks.push(Block::Small(plain(format!(
                "Figures without a note also rest on: {}.",
                others.join("; ")
            ))));
        }
        blocks
    }
}

/// Says how closely a document was read.
fn how_read(law: &YearLaw, key: &str) -> String {
    law.sources_read.get(key).map_or_else(String::new, |read| {
        match read {
            HowRead::Full => "whole",
            HowRead::Excerpt => "in part",
            HowRead::Secondary => "second hand",
            HowRead::Memory => "from memory",
        }
        .to_string()
    })
}
