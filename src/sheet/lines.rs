//! Tables of numbered lines: our line, what it is, how it was made, the amount, the official reference.

use super::data::dagger;
use super::layout::{By, Content, Zero};
use super::official::{self, Direction, Entry, OfficialRef};
use super::{Writer, body, column, of_words, references, spanning, without_empty_columns};
use crate::credit::line::{self, Line, Of};
use crate::credit::{Figure, Ruling, Used, Value};
use crate::document::{Align, Block, Role, Row, Table, Width};
use std::collections::BTreeMap;

/// The lines that end a way of figures: their rows are drawn as totals.
const TOTALS: &[Line] = &[
    line::ITEM_QUALIFIED,
    line::IMPROVEMENT_ALLOWED,
    line::CLEAN_ALLOWED,
    line::IMPROVEMENT_TAX_LEFT,
    line::CLEAN_TAX_LEFT,
    line::BASIS_INCREASE,
    line::NET_COST_SO_FAR,
    line::NET_COST_IF_USED,
];

/// Makes the table of some rows of lines; none where there are no rows.
pub(super) fn table(rows: Vec<Row>) -> Option<Block> {
    if rows.is_empty() {
        return None;
    }
    let table = Table {
        summary: "Numbered lines: what each is, how it was made, its amount, and its official line"
            .to_string(),
        columns: vec![
            column("Line", Width::Content, Align::Left),
            column("What it is", Width::Parts(6), Align::Left),
            column("How", Width::Parts(5), Align::Left),
            column("Amount", Width::Content, Align::Decimal),
            column("Official line", Width::Parts(4), Align::Left),
        ],
        rows,
    };
    Some(Block::Table(without_empty_columns(table)))
}

impl Writer<'_> {
    /// Writes the rows of a table line by line.
    pub(super) fn rows_by_line(&self, content: &Content) -> Vec<Row> {
        let lines = match content.by {
            By::Form => self.in_order_of_the_form(&content.lines),
            By::Line | By::Item => content.lines.clone(),
        };
        let figures = lines.into_iter().flat_map(|line| self.on_line(line));
        figures
            .filter(|figure| self.stands(figure, content.zero))
            .flat_map(|figure| self.line_rows(figure, false))
            .collect()
    }

    /// Sorts lines as the year's Form 5695 has them. A line that does not stand there keeps its place before the next
    /// one that does; a line that the form repeats stands where it is named last, because that is where it is used.
    fn in_order_of_the_form(&self, lines: &[Line]) -> Vec<Line> {
        let Some(map) = official::map(self.year) else { return lines.to_vec() };
        let form: Vec<_> = map.lines().filter(|one| one.place.form == "Form 5695").collect();
        // A cost and its maker's code stand on one official line and have one place.
        let on_one_line = form.chunk_by(|a, b| a.place.line == b.place.line).enumerate();
        let places: BTreeMap<u16, usize> =
            on_one_line.flat_map(|(at, entries)| entries.iter().map(move |one| (one.ours, at))).collect();
        let mut ordered: Vec<(usize, Line)> = Vec::new();
        let mut next = usize::MAX;
        for line in lines.iter().rev() {
            next = places.get(&line.0).copied().unwrap_or(next);
            ordered.push((next, *line));
        }
        ordered.reverse();
        ordered.sort_by_key(|(place, _)| *place);
        ordered.into_iter().map(|(_, line)| line).collect()
    }

    /// Writes the rows of a table item by item, each under its name.
    pub(super) fn rows_by_item(&self, content: &Content) -> Vec<Row> {
        let mut rows = Vec::new();
        for item in &self.case.property {
            let key = &item.key.value;
            let about_item = |figure: &&Figure| match &figure.place.of {
                Of::Item(one) | Of::Unit(one, _) => one == key,
                _ => false,
            };
            let of_item: Vec<Row> = content
                .lines
                .iter()
                .flat_map(|line| self.on_line(*line))
                .filter(|figure| about_item(figure) && self.stands(figure, content.zero))
                .flat_map(|figure| self.line_rows(figure, true))
                .collect();
            if !of_item.is_empty() {
                rows.push(spanning(Role::Group, self.item_title(item)));
                rows.extend(of_item);
            }
        }
        rows
    }

    /// Says whether a figure is printed: whatever is not zero, and a zero that something led to.
    pub(super) fn stands(&self, figure: &Figure, zero: Zero) -> bool {
        if figure.place.line == line::UNIT_QUALIFIED && self.single_unit(figure) {
            return false;
        }
        match &figure.value {
            Value::Money(amount) => zero == Zero::Show || !amount.is_zero() || led_to(figure),
            Value::Quantity(quantity) => zero == Zero::Show || !quantity.0.is_zero() || led_to(figure),
            Value::Text(text) => !text.is_empty(),
            Value::Rate(_) | Value::YesNo(_) => true,
        }
    }

    /// Says whether a unit's row repeats its item's, because the item has one unit.
    fn single_unit(&self, figure: &Figure) -> bool {
        match &figure.place.of {
            Of::Unit(key, _) => self.case.item(key).is_none_or(|item| item.units.value <= 1),
            _ => false,
        }
    }

    /// Writes a figure's row, and a remark for each decision in it that a reader must see.
    fn line_rows(&self, figure: &Figure, within_item: bool) -> Vec<Row> {
        let cells = vec![
            line_cell(figure),
            what_cell(figure, within_item),
            super::unmarked(&figure.how),
            amount_cell(figure),
            reference_cell(&references(self.outcome, figure)),
        ];
        let mut row = body(cells);
        if TOTALS.contains(&figure.place.line) {
            row.role = Role::Total;
        }
        let mut rows = vec![row];
        let said = |ruling: &&&Ruling| {
            // That an item qualifies is said by its amount; every other decision needs its reason.
            !(figure.place.line == line::ITEM_QUALIFIED && ruling.counts && ruling.settled)
        };
        for ruling in figure.rulings().iter().filter(said) {
            rows.push(spanning(Role::Remark, reason(ruling)));
        }
        rows
    }
}

/// Says whether anything but zeros and law values went into a figure.
fn led_to(figure: &Figure) -> bool {
    figure.used.iter().any(|used| match used {
        Used::Figure(_, value) => value.number().is_none_or(|number| !number.is_zero()),
        Used::Fact(_) => true,
        Used::Law(..) => false,
    })
}

/// Prints a ruling's reason with its first authority.
pub(super) fn reason(ruling: &Ruling) -> String {
    let because = super::layout::capital(&super::unmarked(&ruling.because));
    let open = match (ruling.settled, &ruling.chosen) {
        (false, None) => ", not settled",
        _ => "",
    };
    match ruling.authority.first() {
        Some(authority) => format!("{because}{open} [{authority}]."),
        None => format!("{because}{open}."),
    }
}

pub(super) fn line_cell(figure: &Figure) -> String {
    match &figure.place.of {
        Of::Rank(_) => format!("{} {}", figure.place.line, figure.place.of),
        _ => figure.place.line.to_string(),
    }
}

fn what_cell(figure: &Figure, within_item: bool) -> String {
    let mut label = super::layout::capital(&figure.label);
    if let Value::Text(text) = &figure.value {
        label = format!("{label}: {text}");
    }
    match (&figure.place.of, within_item) {
        (Of::Return, _) | (Of::Rank(_), _) | (Of::Item(_), true) => label,
        (Of::Unit(_, n), true) => format!("{label} (unit {n})"),
        (of, _) => format!("{label}: {}", figure.about.clone().unwrap_or_else(|| of_words(of))),
    }
}

/// Prints a figure's value for the amount column; words stand beside the label instead, where they can wrap.
fn amount_cell(figure: &Figure) -> String {
    match &figure.value {
        Value::Text(_) => String::new(),
        other => other.shown(),
    }
}

/// Prints official references as a narrow column can hold them, each that was not read in print with a dagger.
fn reference_cell(references: &[OfficialRef]) -> String {
    let words: Vec<String> = references
        .iter()
        .map(|one| {
            let from = match one.direction {
                Direction::LookUp => "from ",
                Direction::Enter => "",
            };
            let within = match (one.entry, one.within) {
                (Entry::Cost, _) => "cost for ",
                (_, true) => "within ",
                (_, false) => "",
            };
            let numbered = one.line.starts_with(|first: char| first.is_ascii_digit());
            let line = if numbered { format!("line {}", one.line) } else { one.line.clone() };
            format!("{from}{}, {within}{line}{}", short_form(&one.form), dagger(one))
        })
        .collect();
    words.join("; ")
}

/// Shortens the long name of a limit worksheet to the line it belongs to; the guide has it in full.
fn short_form(form: &str) -> String {
    match form.split_once(" Worksheet - Line ") {
        Some((_, line)) => format!("Line {line} worksheet"),
        None => form.to_string(),
    }
}
