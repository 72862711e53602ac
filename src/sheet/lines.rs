//! Tables of numbered lines: our line, what it is, how it was made, the amount, the official reference.

use super::data::dagger;
use super::layout::{By, Content, Zero};
use super::official::{self, Direction, Entry, OfficialRef};
use super::{Writer, amount, of_words, references, row_of, spanning, without_empty_columns};
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::{Figure, Ruling, Used, Value};
use crate::document::{Align, Block, Role, Row, Table, Width, Words, column, plain};
use crate::wording::capital;
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
            column("What it is", Width::Parts(7), Align::Left),
            column("How", Width::Parts(5), Align::Left),
            column("Amount", Width::Content, Align::Decimal),
            column("Official line", Width::Parts(4), Align::Left),
        ],
        rows,
    };
    Some(Block::Table(without_empty_columns(table)))
}

/// The lines whose zero says something: that a cost does not qualify, that no credit is left to allow, that the
/// tax leaves nothing. Any other zero says only that there is nothing.
pub(super) const TELLING_ZEROS: &[Line] = &[
    line::COST_COUNTED,
    line::INCENTIVE_REDUCES,
    line::ITEM_QUALIFIED,
    line::IMPROVEMENT_LIMIT,
    line::IMPROVEMENT_ALLOWED,
    line::CLEAN_LIMIT,
    line::CLEAN_ALLOWED,
    line::IMPROVEMENT_TAX_LEFT,
    line::CLEAN_TAX_LEFT,
    line::TO_RETURN_IMPROVEMENT,
    line::TO_RETURN_CLEAN,
];

/// The costs beside which a maker's code stands, and the line of the code.
const CODES: &[(Line, Line)] = &[
    (line::DOOR_TOP_COST, line::DOOR_TOP_CODE),
    (line::DOOR_NEXT_COST, line::DOOR_NEXT_CODE),
    (line::WINDOW_TOP_COST, line::WINDOW_TOP_CODE),
    (line::AIR_CONDITIONER_TOP_COST, line::AIR_CONDITIONER_CODE),
    (line::FUEL_WATER_HEATER_TOP_COST, line::FUEL_WATER_HEATER_CODE),
    (line::FURNACE_TOP_COST, line::FURNACE_CODE),
    (line::HEAT_PUMP_TOP_COST, line::HEAT_PUMP_CODE),
    (line::HEAT_PUMP_WATER_HEATER_TOP_COST, line::HEAT_PUMP_WATER_HEATER_CODE),
    (line::BIOMASS_TOP_COST, line::BIOMASS_CODE),
];

/// The lines of the ceiling over the window costs of all years. They say something only where the year has windows.
const WINDOW_CEILING: &[Line] = &[
    line::EARLIER_WINDOW_COST,
    line::EARLIER_WINDOWS_30_PERCENT,
    line::EARLIER_WINDOWS_SCALED,
    line::EARLIER_WINDOW_COSTS,
    line::WINDOW_CEILING,
    line::WINDOW_ROOM,
    line::WINDOW_COUNTED,
];

/// From so many rows of one line on, its name stands once above them.
const ROWS_UNDER_ONE_NAME: usize = 2;

impl Writer<'_> {
    /// Writes the rows of a table line by line.
    pub(super) fn rows_by_line(&self, content: &Content) -> Vec<Row> {
        let lines = match content.by {
            By::Form => self.in_order_of_the_form(&content.lines),
            By::Line | By::Item => content.lines.clone(),
        };
        let mut rows = Vec::new();
        for line in &lines {
            let figures: Vec<&Figure> = self
                .on_line(*line)
                .into_iter()
                .filter(|figure| self.stands(figure, content.zero) && !self.stands_beside_cost(figure))
                .collect();
            let of_items = figures.iter().all(|figure| matches!(figure.place.of, Subject::Item(_)));
            let under_one_name = of_items && figures.len() >= ROWS_UNDER_ONE_NAME;
            if under_one_name {
                let name = capital(line.label());
                rows.push(spanning(Role::Group, format!("{name}, by item")));
            }
            let what = if under_one_name { What::Item } else { What::Whole };
            rows.extend(figures.into_iter().flat_map(|figure| self.line_rows(figure, what)));
        }
        rows
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

    /// Writes the tables of lines item by item: items whose costs are their qualified cost but for incentives in a
    /// row each, all others step by step under their names.
    pub(super) fn tables_by_item(&self, content: &Content) -> Vec<Block> {
        const PLAIN: [Line; 2] = [line::ITEM_NET, line::ITEM_QUALIFIED];
        let mut short = Vec::new();
        let mut steps = Vec::new();
        for item in &self.case.property {
            let key = &item.key.value;
            let about_item = |figure: &&Figure| match &figure.place.of {
                Subject::Item(one) | Subject::Unit(one, _) => one == key,
                _ => false,
            };
            let figures: Vec<&Figure> = content
                .lines
                .iter()
                .flat_map(|line| self.on_line(*line))
                .filter(|figure| about_item(figure) && self.stands(figure, content.zero))
                .collect();
            let is_plain = !self.every_line
                && figures.iter().all(|figure| {
                    PLAIN.contains(&figure.place.line)
                        && figure.rulings().into_iter().all(|one| !said(figure, one))
                });
            if figures.is_empty() {
                continue;
            }
            if is_plain {
                short.push((item, figures));
            } else {
                steps.push(spanning(Role::Group, self.item_title(item)));
                for (at, figure) in figures.iter().enumerate() {
                    let alike = |one: &Figure| {
                        !self.every_line && is_unit(one) && is_unit(figure) && one.value == figure.value
                    };
                    // Equal units in a row stand in one row.
                    if at > 0 && alike(figures[at - 1]) {
                        continue;
                    }
                    let last = figures[at..].iter().take_while(|one| at > 0 && alike(one)).last();
                    let what = match last.map(|last| (&figure.place.of, &last.place.of)) {
                        Some((Subject::Unit(_, first), Subject::Unit(_, last))) if first < last => {
                            What::Units(*first, *last)
                        }
                        _ => What::WithinItem,
                    };
                    steps.extend(self.line_rows(figure, what));
                }
            }
        }
        let short = self.short_table(&short);
        short.into_iter().chain(table(steps)).collect()
    }

    /// Writes plain items in a row each: counted, taken off, qualified.
    fn short_table(&self, items: &[(&crate::case::Item, Vec<&Figure>)]) -> Option<Block> {
        if items.is_empty() {
            return None;
        }
        let rows = items
            .iter()
            .map(|(item, figures)| {
                let of_item = |line| {
                    let place = Place::of_item(self.year, line, &item.key.value);
                    let figure = self.outcome.figures.get(&place);
                    let some = figure.filter(|figure| figure.value.number().is_some_and(|n| !n.is_zero()));
                    some.map_or_else(Words::new, amount)
                };
                let qualified = figures.last().map_or_else(Words::new, |figure| amount(figure));
                row_of(vec![
                    plain(self.item_title(item)),
                    of_item(line::ITEM_COUNTED),
                    of_item(line::ITEM_REDUCTIONS),
                    qualified,
                ])
            })
            .collect();
        Some(Block::Table(without_empty_columns(Table {
            summary: "Items by row: the cost counted, what incentives take off it, the qualified cost"
                .to_string(),
            columns: vec![
                column("Item", Width::Parts(1), Align::Left),
                column("Counted (111)", Width::Content, Align::Decimal),
                column("Taken off (210)", Width::Content, Align::Decimal),
                column("Qualified (220,\u{A0}230)", Width::Content, Align::Decimal),
            ],
            rows,
        })))
    }

    /// Says whether a figure is a code that its cost's row names.
    fn stands_beside_cost(&self, figure: &Figure) -> bool {
        if self.every_line {
            return false;
        }
        let cost = CODES.iter().find(|(_, code)| *code == figure.place.line).map(|(cost, _)| *cost);
        cost.and_then(|line| self.outcome.figures.get(&Place { line, ..figure.place.clone() }))
            .is_some_and(|cost| self.stands(cost, Zero::Hide))
    }

    /// Returns the maker's code beside a cost.
    fn code_beside(&self, figure: &Figure) -> Option<&Figure> {
        let (_, code) =
            CODES.iter().filter(|_| !self.every_line).find(|(cost, _)| *cost == figure.place.line)?;
        self.outcome.figures.get(&Place { line: *code, ..figure.place.clone() })
    }

    /// Says whether a figure is printed: whatever is not zero, and a zero that something led to and that says
    /// something.
    pub(super) fn stands(&self, figure: &Figure, zero: Zero) -> bool {
        self.every_line || self.stands_on_paper(figure, zero)
    }

    /// Says whether a figure is printed where lines that say nothing are left out.
    pub(super) fn stands_on_paper(&self, figure: &Figure, zero: Zero) -> bool {
        if figure.place.line == line::UNIT_QUALIFIED && self.single_unit(figure) {
            return false;
        }
        if WINDOW_CEILING.contains(&figure.place.line) && self.without_windows() {
            return false;
        }
        let telling = || TELLING_ZEROS.contains(&figure.place.line) && led_to(figure);
        match &figure.value {
            Value::Money(amount) => zero == Zero::Show || !amount.is_zero() || telling(),
            Value::Quantity(quantity) => zero == Zero::Show || !quantity.0.is_zero(),
            Value::Text(text) => !text.is_empty(),
            Value::Rate(_) | Value::YesNo(_) => true,
        }
    }

    fn without_windows(&self) -> bool {
        let cost = self.outcome.figures.money(&Place::of_return(self.year, line::WINDOW_COST));
        cost.is_none_or(|cost| cost.is_zero())
    }

    /// Says whether a unit's row repeats its item's, because the item has one unit.
    fn single_unit(&self, figure: &Figure) -> bool {
        match &figure.place.of {
            Subject::Unit(key, _) => self.case.item(key).is_none_or(|item| item.units.value <= 1),
            _ => false,
        }
    }

    /// Writes a figure's row, and a remark for each decision in it that a reader must see.
    pub(super) fn line_rows(&self, figure: &Figure, what: What) -> Vec<Row> {
        let mut number = line_cell(figure);
        let mut cell = self.what_cell(figure, what);
        if let Some(code) = self.code_beside(figure) {
            // Cost and code stand on one official line: "325, 326 (i)".
            number = format!("{}, {}", figure.place.line, line_cell(code));
            let bare = cell.strip_suffix(": cost").unwrap_or(&cell);
            cell = format!("{bare}, code\u{A0}{}", code.value.shown());
        }
        let cells = vec![
            plain(number),
            plain(cell),
            plain(format!("{}{}", super::unmarked(&figure.how), self.law_note(figure))),
            self.amount_cell(figure),
            plain(reference_cell(&references(self.outcome, figure))),
        ];
        let mut row = row_of(cells);
        if TOTALS.contains(&figure.place.line) {
            row.role = Role::Total;
        }
        let mut rows = vec![row];
        for ruling in figure.rulings().into_iter().filter(|ruling| said(figure, ruling)) {
            rows.push(spanning(Role::Remark, self.reason(ruling)));
        }
        rows
    }

    /// Prints a ruling's reason with a note of its first authority.
    pub(super) fn reason(&self, ruling: &Ruling) -> String {
        let because = capital(&super::unmarked(&ruling.because));
        let open = match (ruling.settled, &ruling.chosen) {
            (false, None) => ", not settled",
            _ => "",
        };
        format!("{because}{open}{}.", self.note(ruling.authority.first()))
    }
}

/// How a row names what it is about.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// The line, and what its row is about.
    Whole,
    /// The line, under the item's name.
    WithinItem,
    /// The line, under the item's name, for equal units from one to another.
    Units(u16, u16),
    /// The item, under the line's name.
    Item,
}

/// Says whether a decision must be read beside its figure: that an item qualifies is said by its amount.
fn said(figure: &Figure, ruling: &Ruling) -> bool {
    !(figure.place.line == line::ITEM_QUALIFIED && ruling.counts && ruling.settled)
}

fn is_unit(figure: &Figure) -> bool {
    matches!(figure.place.of, Subject::Unit(..))
}

/// Says whether anything but zeros and law values went into a figure.
pub(super) fn led_to(figure: &Figure) -> bool {
    figure.used.iter().any(|used| match used {
        Used::Figure(_, value) => value.number().is_none_or(|number| !number.is_zero()),
        Used::Fact(_) => true,
        Used::Law(..) => false,
    })
}

pub(super) fn line_cell(figure: &Figure) -> String {
    match &figure.place.of {
        Subject::Rank(_) => format!("{} {}", figure.place.line, figure.place.of),
        _ => figure.place.line.to_string(),
    }
}

impl Writer<'_> {
    fn what_cell(&self, figure: &Figure, what: What) -> String {
        let mut label = capital(&figure.label);
        if let (Value::Text(text), false) = (&figure.value, self.every_line) {
            label = format!("{label}: {text}");
        }
        let about = || figure.about.clone().unwrap_or_else(|| of_words(&figure.place.of));
        match (&figure.place.of, what) {
            (_, What::Item) => about(),
            (_, What::Units(first, last)) => format!("{label} (units {first} to {last}, each)"),
            (Subject::Return, _) | (Subject::Rank(_), _) | (Subject::Item(_), What::WithinItem) => label,
            (Subject::Unit(_, n), What::WithinItem) => format!("{label} (unit {n})"),
            _ => format!("{label}: {}", about()),
        }
    }

    /// Prints a figure's value for the amount column; on paper words stand beside the label instead, where they can
    /// wrap.
    fn amount_cell(&self, figure: &Figure) -> Words {
        match &figure.value {
            Value::Text(_) if !self.every_line => Words::new(),
            _ => amount(figure),
        }
    }
}

/// Prints official references as a narrow column can hold them, each that was not read in print with a dagger.
pub(super) fn reference_cell(references: &[OfficialRef]) -> String {
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
            // That a line is not confirmed is said by the dagger here, and in words by the guide.
            let name = one.line.strip_suffix(" (line not yet confirmed)").unwrap_or(&one.line);
            let line = if numbered { format!("line {name}") } else { name.to_string() };
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
