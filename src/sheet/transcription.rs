//! The guide to the official forms: official line, what it is, the entry, in the order of the form.

use super::data::dagger;
use super::layout::Zero;
use super::lines::line_cell;
use super::official::{self, Direction, Entry, OfficialLine};
use super::{Writer, row_of, spanning};
use crate::case::RoundingChoice;
use crate::credit::line::{Line, Place, Subject};
use crate::credit::{Figure, Value};
use crate::document::{Align, Block, Role, Row, Table, Width, Words, body, column, plain, valued};
use crate::wording;
use crate::wording::capital;

/// What one official line takes: an amount, words, or both where a maker's code stands beside its cost.
struct Guided {
    official: String,
    what: String,
    amount: Words,
    words: String,
    ours: String,
}

impl Writer<'_> {
    /// Writes the guide: the head of the form, then each official line that holds something. A part of a form
    /// that belongs to a credit of which there is nothing is skipped, and the guide says so.
    pub(super) fn transcription(&self) -> Vec<Block> {
        let Some(map) = official::map(self.year) else {
            return Vec::new();
        };
        let mut rows: Vec<Row> = Vec::new();
        let mut form = String::new();
        let mut guided: Vec<Guided> = Vec::new();
        let filed_with = self.outcome.form(self.year);
        let used = map.blocks.iter().filter(|block| block.filed_with.contains(&filed_with));
        let entered = used.filter(|block| block.direction == Direction::Enter);
        // What is filed comes first; the limit worksheets stay with the preparer's papers.
        let (kept, filed): (Vec<_>, Vec<_>) = entered.partition(|block| block.form.contains("Worksheet"));
        let mut skipped: Vec<&str> = Vec::new();
        for block in filed.into_iter().chain(kept) {
            let listed = || block.lines.iter().filter(|line| line.place.entry != Entry::Cost);
            let wanted = || listed().filter(|line| self.is_wanted(line));
            // The tax before credits alone is no reason to fill in a worksheet.
            if wanted().all(|line| line.ours == crate::credit::line::TAX.0) {
                if block.form.contains("Form 5695") && !skipped.contains(&block.part.as_str()) {
                    skipped.push(&block.part);
                }
                continue;
            }
            for line in wanted() {
                for figure in self.figures_of(line) {
                    if block.form != form {
                        rows.extend(guided.drain(..).map(guided_row));
                        if !form.is_empty() {
                            rows.extend(skip(&mut skipped));
                        }
                        form.clone_from(&block.form);
                        rows.push(spanning(Role::Group, self.form_title(&form)));
                        if form.contains("Form 5695") {
                            rows.extend(self.head_of_form());
                            rows.extend(skip(&mut skipped));
                        }
                    }
                    self.guide(&mut guided, line, figure);
                }
            }
        }
        rows.extend(guided.drain(..).map(guided_row));
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(Table {
            summary:
                "Entries in the order of the official form: line, what it is, amount or answer, our line"
                    .to_string(),
            columns: vec![
                column("Official\u{A0}line", Width::Content, Align::Left),
                column("What it is", Width::Parts(7), Align::Left),
                column("Amount", Width::Content, Align::Decimal),
                column("Answer, box or words", Width::Parts(6), Align::Left),
                column("Our\u{A0}line", Width::Content, Align::Left),
            ],
            rows,
        })]
    }

    /// Says whether an official line belongs to a credit of which there is something.
    fn is_wanted(&self, line: &OfficialLine) -> bool {
        let holds = |fact| self.facts.holds(fact).unwrap_or(false);
        match line.ours {
            301..400 | 511..521 | 901 => holds("has_improvement"),
            400..500 | 521..600 | 902 => holds("has_clean"),
            _ => holds("has_improvement") || holds("has_clean"),
        }
    }

    /// Returns the figures that belong on an official line, where it holds anything: one, or before it one for each
    /// home where part of the form is filled in for each.
    fn figures_of(&self, line: &OfficialLine) -> Vec<&Figure> {
        let ours = Line(line.ours);
        let mut found: Vec<&Figure> = match line.of() {
            Subject::Return => self.on_line(ours),
            _ => Vec::new(),
        };
        found.retain(|figure| matches!(figure.place.of, Subject::Home(_)));
        found.extend(self.outcome.figures.get(&Place { year: self.year, line: ours, of: line.of() }));
        found.retain(|figure| self.stands_on_paper(figure, Zero::Hide));
        found
    }

    /// Adds an official line's entry; a code and a cost of the same line stand in one row.
    fn guide(&self, guided: &mut Vec<Guided>, line: &OfficialLine, figure: &Figure) {
        let official = format!("{}{}", line.place.line, dagger(&line.place));
        let (amount, words) = self.entry(line, figure);
        if let Some(last) = guided.last_mut()
            && last.official == official
            && (last.amount.is_empty() || amount.is_empty())
            && (last.words.is_empty() || words.is_empty())
        {
            if !amount.is_empty() {
                last.amount = amount;
                last.what = what(figure);
            }
            if !words.is_empty() {
                last.words = words;
            }
            last.ours = format!("{}, {}", last.ours, line_cell(figure));
            return;
        }
        guided.push(Guided { official, what: what(figure), amount, words, ours: line_cell(figure) });
    }

    /// Prints an entry: its amount, or its words, with the map's word of care.
    fn entry(&self, line: &OfficialLine, figure: &Figure) -> (Words, String) {
        let (amount, mut words) = match &figure.value {
            Value::Money(amount) => {
                let whole = self
                    .case
                    .tax_return(self.year)
                    .is_some_and(|one| one.rounding == RoundingChoice::WholeDollars);
                let grouped = amount.grouped();
                // A return in whole dollars shows no cents; a figure that has some is shown as it is.
                let short = grouped.strip_suffix(".00").filter(|_| whole);
                (valued(short.unwrap_or(&grouped), figure.place.to_string()), String::new())
            }
            Value::YesNo(true) if line.place.entry == Entry::Box => {
                (Words::new(), "check the box".to_string())
            }
            Value::YesNo(false) if line.place.entry == Entry::Box => {
                (Words::new(), "leave the box blank".to_string())
            }
            Value::Quantity(quantity) => (Words::new(), quantity.to_string()),
            other => (Words::new(), other.shown()),
        };
        if line.place.within && line.place.entry == Entry::Amount {
            words = "part of this line".to_string();
        }
        if let Some(note) = &line.place.note {
            words = match (words.is_empty(), &figure.value) {
                (true, _) => note.clone(),
                (false, Value::Quantity(_)) => format!("{words} {note}"),
                (false, _) => format!("{words}; {note}"),
            };
        }
        (amount, words)
    }

    /// Writes what stands at the head of the form: the names and the number as the return shows them.
    fn head_of_form(&self) -> Vec<Row> {
        let client = &self.case.client;
        let row = |what: &str, words: String| {
            body(vec!["head".to_string(), what.to_string(), String::new(), words, String::new()])
        };
        let mut rows = vec![row("Names as shown on the return", client.names().join(" and "))];
        if let Some(tin) = client.people.first().and_then(|person| person.tin.as_ref()) {
            let words = format!("{}, in full on the return", tin.value);
            rows.push(row("Taxpayer number as shown on the return", words));
        }
        rows
    }

    fn form_title(&self, form: &str) -> String {
        let year = self.year.to_string();
        if form.contains(&year) {
            form.to_string()
        } else if form.contains("Worksheet") {
            format!("{form} ({year} instructions; kept, not filed)")
        } else {
            format!("{form} ({year})")
        }
    }
}

/// Says what an entry is, and on which of two forms it stands.
fn what(figure: &Figure) -> String {
    let label = capital(&figure.label);
    match &figure.place.of {
        Subject::Origin(year) => format!("{label}: {year}"),
        Subject::Home(home) => format!("{label} (form for {home})"),
        _ => label,
    }
}

/// Says which parts of a form are left out.
fn skip(parts: &mut Vec<&str>) -> Option<Row> {
    if parts.is_empty() {
        return None;
    }
    let words: Vec<String> = parts.drain(..).map(str::to_string).collect();
    Some(spanning(Role::Remark, format!("Nothing to enter in {}: leave it blank.", wording::listed(&words))))
}

fn guided_row(one: Guided) -> Row {
    row_of(vec![plain(one.official), plain(one.what), one.amount, plain(one.words), plain(one.ours)])
}
