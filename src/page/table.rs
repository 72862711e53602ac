//! Tables into strips: how wide columns are, where figures align, which rows cling to which.
//!
//! Comes in: a table and the width it may take. Goes out: strips for `flow`, a heading to repeat, and the
//! structure of rows and cells. Knows nothing of what the figures mean.

use super::PageFault;
use super::breaks;
use super::flow::{self, Cling, Strip, TableHead};
use super::frame::{Area, ElementId, Ink, Kind, Piece, Text};
use super::look::{LIGHT_RULE, STRONG_RULE};
use super::measure::{self, After, Atom, Line, Style};
use super::paragraph::{Measure, Setter, place_line};
use super::units::Length;
use crate::document::{Align, Column, Role, Row, Run, Table, Width, plain};
use std::borrow::Cow;
use std::ops::Range;
use std::rc::Rc;

/// Rows of more lines than this may go over to the next page by lines; lower ones stay whole wherever a page
/// can hold them.
const WHOLE_LINES: usize = 8;

/// A heading of more lines than this is not drawn again on every page, because it would leave its rows no room.
const REPEATED_LINES: usize = 2 * WHOLE_LINES;

/// A table of so few rows stays on one page where it fits: what it sums up is seen at a glance.
const SHORT_TABLE: usize = 8;

impl Setter {
    /// Sets a table.
    pub fn table(&mut self, table: &Table, at: Measure) {
        let columns = columns_of(table);
        if columns.is_empty() {
            return;
        }
        let element = self.element(Kind::Table(table.summary.clone()), at.parent);
        let start = self.strips.len();
        let inset = if at.in_panel { Length::ZERO } else { self.look.table_inset };
        let cell_style = if at.in_panel { at.body } else { self.look.cell };
        let styles = Styles { cell: cell_style, head: self.look.column_head, remark: self.look.remark };
        let heads = measure_heads(&columns, &styles, &mut self.faults);
        let rows: Vec<MeasuredRow> =
            table.rows.iter().map(|row| measure_row(row, &columns, &styles, &mut self.faults)).collect();
        let grid = Grid::of(&columns, &heads, &rows, at.width - inset * 2, self.look.gutter);
        let frame = TableFrame {
            left: at.left,
            inset,
            width: grid.width + inset * 2,
            element,
            in_panel: at.in_panel,
        };

        let head = self.table_head(&columns, &heads, &grid, &frame);
        // What is drawn again above a row that comes to stand at the head of a page: the heading, and the name
        // of the group the row belongs to.
        let mut again = head.clone();
        for at_row in 0..rows.len() {
            let before = at_row.checked_sub(1).map(|i| rows[i].role);
            let next = rows.get(at_row + 1).map(|row| row.role);
            let is_group = rows[at_row].role == Role::Group;
            let above = if is_group { &head } else { &again };
            let start = self.strips.len();
            self.row(&rows[at_row], &columns, &grid, &frame, (before, next), above.as_ref());
            if is_group && let (Some(head), [only]) = (&head, &self.strips[start..]) {
                again = Some(Rc::new(head.with(only)));
            }
            // Neither the first row nor the last stands alone on a page.
            let leads = at_row == 0 || (at_row == 1 && rows[0].role == Role::Group);
            if (leads && next.is_some() || at_row + 2 == rows.len())
                && let Some(last) = self.strips.last_mut()
            {
                last.cling = last.cling.max(Cling::Firm);
            }
        }
        if !at.in_panel && !rows.is_empty() {
            self.closing_rule(&frame);
        }
        if rows.len() <= SHORT_TABLE {
            self.hold_together(start);
        }
        if let Some(first) = self.strips.get_mut(start) {
            first.before = first.before.max(self.look.gap);
        }
        if let Some(last) = self.strips.get_mut(start..).and_then(<[Strip]>::last_mut) {
            last.after = if at.in_panel { self.look.gap } else { self.look.gap * 2 };
        }
    }

    /// Sets the heading, and keeps a copy to repeat. None where no column has one.
    fn table_head(
        &mut self,
        columns: &[Column],
        heads: &[MeasuredCell],
        grid: &Grid,
        frame: &TableFrame,
    ) -> Option<Rc<TableHead>> {
        if columns.iter().all(|column| column.head.trim().is_empty()) {
            return None;
        }
        let style = self.look.column_head;
        let pad = self.look.row_pad;
        let lines: Vec<Vec<Line>> = heads
            .iter()
            .zip(&grid.columns)
            .map(|(head, slot)| lines_of(head, slot.width - slot.hang, style))
            .collect();
        let most = lines.iter().map(Vec::len).max().unwrap_or(0);
        let row = self.element(Kind::Row, frame.element);
        let cells: Vec<ElementId> = columns.iter().map(|_| self.element(Kind::ColumnHead, row)).collect();
        let chunks = chunks(most);
        let last = chunks.len() - 1;
        let mut again = TableHead::default();
        for (at, range) in chunks.into_iter().enumerate() {
            let above = if at == 0 { pad } else { Length::ZERO };
            let text = style.leading * range.len() as i64;
            let mut pieces = Vec::new();
            for (((column, slot), lines), cell) in columns.iter().zip(&grid.columns).zip(&lines).zip(&cells) {
                // Headings of unequal height stand on the same last line.
                let lower = most - lines.len();
                let left = frame.left + frame.inset + slot.left;
                for n in range.clone().filter(|n| *n >= lower) {
                    let line = lines[n - lower].clone();
                    let x = match column.align {
                        Align::Left => left,
                        Align::Right | Align::Decimal => left + slot.width - slot.hang - line.width,
                    };
                    let y = above + style.leading * (n - range.start) as i64 + style.baseline();
                    place_line(&mut pieces, line, x, y, style, Some(*cell));
                }
            }
            let mut strip = Strip { height: above + text, cling: Cling::Row, ..Strip::default() };
            if at == last {
                let mut rule = frame.rule(STRONG_RULE, Ink::Black);
                rule.y = above + text + pad;
                pieces.push(Piece::Area(rule));
                strip.height = above + text + pad + STRONG_RULE;
                strip.cling = Cling::Firm;
            }
            let drawn_again = pieces.iter().cloned().map(of_no_element);
            again.pieces.extend(drawn_again.map(|piece| flow::moved_down(piece, again.height)));
            again.height += strip.height;
            self.push(Strip { pieces, ..strip });
        }
        let repeated = if most <= REPEATED_LINES { again } else { TableHead::default() };
        Some(Rc::new(repeated))
    }

    /// Sets one row.
    fn row(
        &mut self,
        row: &MeasuredRow,
        columns: &[Column],
        grid: &Grid,
        frame: &TableFrame,
        (before, next): (Option<Role>, Option<Role>),
        head: Option<&Rc<TableHead>>,
    ) {
        let style = row.style;
        let row_element = self.element(Kind::Row, frame.element);
        let spans_row = row.cells.len() == 1 && columns.len() > 1;
        let mut cells: Vec<(ElementId, Vec<(Length, Line)>)> = Vec::new();
        if spans_row {
            let span = u16::try_from(columns.len()).unwrap_or(u16::MAX);
            let kind = if row.role == Role::Group { Kind::RowHead(span) } else { Kind::Cell(span) };
            // A remark belongs under the words of its row, not under its number.
            let indent = if row.role == Role::Remark { grid.remark_indent() } else { Length::ZERO };
            let left = frame.left + frame.inset + indent;
            let lines = lines_of(&row.cells[0], grid.width - indent, style);
            cells.push((
                self.element(kind, row_element),
                lines.into_iter().map(|line| (left, line)).collect(),
            ));
        } else {
            for (at, ((cell, column), slot)) in row.cells.iter().zip(columns).zip(&grid.columns).enumerate() {
                // Where no column has a heading, the first cell heads its row.
                let heads_row = row.role == Role::Group || (at == 0 && head.is_none());
                let kind = if heads_row { Kind::RowHead(1) } else { Kind::Cell(1) };
                let left = frame.left + frame.inset + slot.left;
                let placed = place_cell(cell, column.align, slot, style)
                    .into_iter()
                    .map(|(x, line)| (left + x, line))
                    .collect();
                cells.push((self.element(kind, row_element), placed));
            }
        }
        let count = cells.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0).max(1);
        let (top, bottom) = self.pads(row.role, before, next, frame);
        let cling = match (row.role, next) {
            (Role::Group, Some(_)) | (_, Some(Role::Remark | Role::Total)) => Cling::Firm,
            _ => Cling::Free,
        };
        let space =
            if row.role == Role::Group && before.is_some() { self.look.row_pad * 2 } else { Length::ZERO };

        let chunks = chunks(count);
        let last_chunk = chunks.len() - 1;
        for (at, range) in chunks.into_iter().enumerate() {
            let (from, to) = (range.start, range.end);
            let above = if at == 0 { top } else { Length::ZERO };
            let below = if at == last_chunk { bottom } else { Length::ZERO };
            let height = above + style.leading * (to - from) as i64 + below;
            let mut pieces = Vec::new();
            if row.role == Role::Group && !frame.in_panel {
                pieces.push(Piece::Area(Area { height, ..frame.rule(height, Ink::Band) }));
            }
            if at == 0
                && let Some(rule) = rule_above(row.role, before, frame)
            {
                pieces.push(Piece::Area(rule));
            }
            for (element, lines) in &cells {
                for (n, (x, line)) in lines.iter().enumerate().take(to).skip(from) {
                    let y = above + style.leading * (n - from) as i64 + style.baseline();
                    place_line(&mut pieces, line.clone(), *x, y, style, Some(*element));
                }
            }
            self.push(Strip {
                height,
                pieces,
                before: if at == 0 { space } else { Length::ZERO },
                cling: if at == last_chunk { cling } else { Cling::Row },
                head: head.cloned(),
                ..Strip::default()
            });
        }
    }

    /// The space above and below the words of a row. A remark stands close under its row.
    fn pads(
        &self,
        role: Role,
        before: Option<Role>,
        next: Option<Role>,
        frame: &TableFrame,
    ) -> (Length, Length) {
        let pad = if frame.in_panel { self.look.row_pad / 2 } else { self.look.row_pad };
        let above = if role == Role::Remark && before.is_some() { pad / 3 } else { pad };
        let below = if next == Some(Role::Remark) { Length::ZERO } else { pad };
        (above, below)
    }

    fn closing_rule(&mut self, frame: &TableFrame) {
        if let Some(last) = self.strips.last_mut() {
            last.cling = Cling::Row;
        }
        let rule = frame.rule(LIGHT_RULE, Ink::Black);
        self.push(Strip { height: LIGHT_RULE, pieces: vec![Piece::Area(rule)], ..Strip::default() });
    }
}

/// Parts the lines of a row: where there are many, a page may end between any two of them.
fn chunks(lines: usize) -> Vec<Range<usize>> {
    let each = if lines <= WHOLE_LINES { lines.max(1) } else { 1 };
    (0..lines.max(1)).step_by(each).map(|at| at..(at + each).min(lines)).collect()
}

impl TableHead {
    /// The heading with a group's name under it.
    fn with(&self, group: &Strip) -> TableHead {
        let below = group.pieces.iter().cloned().map(of_no_element);
        let below = below.map(|piece| flow::moved_down(piece, self.height));
        TableHead {
            height: self.height + group.height,
            pieces: self.pieces.iter().cloned().chain(below).collect(),
        }
    }
}

/// The structure names what is drawn again only once, where it stands first.
fn of_no_element(piece: Piece) -> Piece {
    match piece {
        Piece::Text(text) => Piece::Text(Text { element: None, ..text }),
        other => other,
    }
}

/// The rule above a row: black over a total, light between rows, none next to a heading or over a remark.
fn rule_above(role: Role, before: Option<Role>, frame: &TableFrame) -> Option<Area> {
    match (role, before) {
        (Role::Total, Some(Role::Total)) if !frame.in_panel => Some(frame.rule(LIGHT_RULE, Ink::Rule)),
        (Role::Total, Some(_)) => Some(frame.rule(LIGHT_RULE, Ink::Black)),
        (Role::Body, Some(Role::Body | Role::Remark | Role::Total)) if !frame.in_panel => {
            Some(frame.rule(LIGHT_RULE, Ink::Rule))
        }
        _ => None,
    }
}

/// The outer edges of a table.
struct TableFrame {
    left: Length,
    inset: Length,
    width: Length,
    element: ElementId,
    in_panel: bool,
}

impl TableFrame {
    /// A rule over the table's whole width, at the top of a strip.
    fn rule(&self, height: Length, ink: Ink) -> Area {
        Area { x: self.left, y: Length::ZERO, width: self.width, height, ink }
    }
}

struct Styles {
    cell: Style,
    head: Style,
    remark: Style,
}

/// A row, measured.
struct MeasuredRow {
    role: Role,
    style: Style,
    cells: Vec<MeasuredCell>,
}

/// A cell, measured.
struct MeasuredCell {
    atoms: Vec<Atom>,
    /// How wide it is on one line.
    natural: Length,
    /// Its widest piece that does not break.
    widest: Length,
    /// For figures in a column of figures: how they stand about the decimal point.
    figure: Option<Figure>,
}

/// The parts of a figure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Figure {
    /// Up to the decimal point.
    left: Length,
    /// The decimals, or a sign such as `%` in their place.
    right: Length,
    /// Marks hanging behind: `*`, `†`.
    hang: Length,
}

fn measure_heads(columns: &[Column], styles: &Styles, faults: &mut Vec<PageFault>) -> Vec<MeasuredCell> {
    columns
        .iter()
        .map(|column| measure_cell(&plain(&*column.head), Align::Left, styles.head, faults))
        .collect()
}

fn measure_row(row: &Row, columns: &[Column], styles: &Styles, faults: &mut Vec<PageFault>) -> MeasuredRow {
    let style = match row.role {
        Role::Body => styles.cell,
        Role::Group | Role::Total => styles.cell.bold(),
        Role::Remark => styles.remark,
    };
    let mut cells: Vec<MeasuredCell> = row
        .cells
        .iter()
        .enumerate()
        .map(|(at, words)| {
            let align = columns.get(at).map_or(Align::Left, |column| column.align);
            measure_cell(words, align, style, faults)
        })
        .collect();
    // A single cell spans the row. Otherwise every column has a cell, if an empty one.
    if cells.len() > 1 {
        while cells.len() < columns.len() {
            cells.push(measure_cell(&[], Align::Left, style, faults));
        }
    }
    MeasuredRow { role: row.role, style, cells }
}

fn measure_cell(words: &[Run], align: Align, style: Style, faults: &mut Vec<PageFault>) -> MeasuredCell {
    let atoms = measure::atoms(words, style, faults);
    let widest = atoms.iter().map(|atom| atom.width).max().unwrap_or_default();
    let mut natural = Length::ZERO;
    let mut line = Length::ZERO;
    for atom in &atoms {
        line += atom.width;
        natural = natural.max(line);
        line = if atom.after == After::LineEnd { Length::ZERO } else { line + atom.after.width() };
    }
    let figure = if align == Align::Decimal { figure_of(&atoms, style) } else { None };
    // Column widths must not break figures, so a figure counts as one piece.
    let widest = if figure.is_some() { natural } else { widest };
    MeasuredCell { atoms, natural, widest, figure }
}

/// Measures a figure about its decimal point; `None` for cells that hold words.
fn figure_of(atoms: &[Atom], style: Style) -> Option<Figure> {
    let line = Line::of(atoms);
    let text: String = line.spans.iter().map(|span| span.text.as_str()).collect();
    let (point, hang) = split_figure(&text)?;
    let mut figure = Figure::default();
    let mut start = 0;
    for span in &line.spans {
        let end = start + span.text.len();
        // The part of the span between two places of the whole text.
        let between = |from: usize, to: usize| {
            let (from, to) = (from.clamp(start, end) - start, to.clamp(start, end) - start);
            measure::width_of(span.face, &span.text[from..to], style.size)
        };
        figure.left += between(0, point);
        figure.right += between(point, hang);
        figure.hang += between(hang, text.len());
        start = end;
    }
    Some(figure)
}

/// Finds where in a text the decimals of a figure begin and where marks hang behind it; `None` where the text
/// is no figure: `12,500.00`, `−310`, `$1,540*`, `30%`, `(500)`, `7.2 kW`.
fn split_figure(text: &str) -> Option<(usize, usize)> {
    const MARKS: [char; 6] = ['*', '†', '‡', '§', '¶', '#'];
    let figure = text.trim_end_matches(|c| MARKS.contains(&c) || c == ' ');
    let hang = figure.len();
    let signs = figure.len() - figure.trim_start_matches(['−', '-', '+', '(', '$', ' ']).len();
    let digits = &figure[signs..];
    let whole = digits.len() - digits.trim_start_matches(|c: char| c.is_ascii_digit() || c == ',').len();
    let point = signs + whole;
    let rest = &figure[point..];
    if whole == 0 && !rest.starts_with('.') {
        return None;
    }
    let rest = rest.strip_prefix('.').unwrap_or(rest).trim_start_matches(|c: char| c.is_ascii_digit());
    let unit = rest
        .strip_prefix(' ')
        .is_some_and(|unit| (1..=4).contains(&unit.chars().count()) && unit.chars().all(char::is_alphabetic));
    let is_figure = matches!(rest, "" | "%" | ")" | "%)" | " %") || unit;
    is_figure.then_some((point, hang))
}

/// A column's place.
#[derive(Clone, Copy, Debug)]
struct Slot {
    /// From the left edge of the first column.
    left: Length,
    width: Length,
    /// The widest decimals in it.
    right: Length,
    /// The widest hanging marks in it.
    hang: Length,
}

/// The columns' places.
struct Grid {
    columns: Vec<Slot>,
    width: Length,
}

impl Grid {
    /// Shares the width out: columns sized by content first, bounded; what is left goes to the others by parts.
    fn of(
        columns: &[Column],
        heads: &[MeasuredCell],
        rows: &[MeasuredRow],
        room: Length,
        gutter: Length,
    ) -> Grid {
        let count = columns.len();
        let room = (room - gutter * (count as i64 - 1)).or_nothing();
        let mut wants: Vec<Want> = Vec::with_capacity(count);
        for (at, column) in columns.iter().enumerate() {
            let cells = || {
                rows.iter()
                    .filter(|row| row.cells.len() > 1 || count == 1)
                    .filter_map(|row| row.cells.get(at))
            };
            let figures = || cells().filter_map(|cell| cell.figure);
            let figure = Figure {
                left: figures().map(|figure| figure.left).max().unwrap_or_default(),
                right: figures().map(|figure| figure.right).max().unwrap_or_default(),
                hang: figures().map(|figure| figure.hang).max().unwrap_or_default(),
            };
            let words = || cells().filter(|cell| cell.figure.is_none());
            let figures_width = figure.left + figure.right + figure.hang;
            let words_width = words().map(|cell| cell.natural).max().unwrap_or_default() + figure.hang;
            let least = words().map(|cell| cell.widest).max().unwrap_or_default() + figure.hang;
            let least = least.max(heads[at].widest + figure.hang).max(figures_width);
            wants.push(Want { natural: words_width.max(least), least, figure, width: column.width });
        }
        share_out(&mut wants, room, count);
        let mut left = Length::ZERO;
        let mut slots = Vec::with_capacity(count);
        for want in &wants {
            slots.push(Slot { left, width: want.natural, right: want.figure.right, hang: want.figure.hang });
            left += want.natural + gutter;
        }
        Grid { columns: slots, width: left - gutter }
    }

    /// How far remarks are indented: to the second column where the first is a narrow one.
    fn remark_indent(&self) -> Length {
        match self.columns.as_slice() {
            [first, second, ..] if first.width < self.width / 6 => second.left,
            _ => Length::ZERO,
        }
    }
}

/// What a column wants; `natural` becomes its width.
struct Want {
    natural: Length,
    least: Length,
    figure: Figure,
    width: Width,
}

fn share_out(wants: &mut [Want], room: Length, count: usize) {
    // A single column may not take nearly everything, nor may unbreakable pieces push others off the sheet.
    let most = if count == 1 { room } else { room * 45 / 100 };
    for want in wants.iter_mut() {
        want.least = want.least.min(if count == 1 { room } else { room * 2 / (count as i64 + 1) });
        want.natural = want.natural.min(most).max(want.least);
    }
    let by_parts = |want: &Want| matches!(want.width, Width::Parts(parts) if parts > 0);
    let least_of_parts: Length = wants.iter().filter(|w| by_parts(w)).map(|w| w.least).sum();
    let of_content: Length = wants.iter().filter(|w| !by_parts(w)).map(|w| w.natural).sum();
    let mut excess = of_content + least_of_parts - room;
    // Too wide: the widest columns give way first, each down to its widest piece.
    while excess > Length::ZERO {
        let widest =
            wants.iter_mut().filter(|w| !by_parts(w) && w.natural > w.least).max_by_key(|w| w.natural);
        let Some(widest) = widest else { break };
        let given = excess.min(widest.natural - widest.least);
        widest.natural -= given;
        excess -= given;
    }
    let of_content: Length = wants.iter().filter(|w| !by_parts(w)).map(|w| w.natural).sum();
    let rest = (room - of_content).or_nothing();
    share_parts(wants, rest);
    // Even the widest pieces do not fit beside each other: all columns shrink alike, and pieces are broken.
    let total: Length = wants.iter().map(|w| w.natural).sum();
    if total > room {
        for want in wants.iter_mut() {
            want.natural = want.natural.share(room.in_millipoints(), total.in_millipoints());
        }
    }
}

/// Shares what is left among the columns sized by parts, none below its widest piece.
fn share_parts(wants: &mut [Want], rest: Length) {
    let parts_of = |want: &Want| match want.width {
        Width::Parts(parts) => i64::from(parts),
        Width::Content => 0,
    };
    let mut open: Vec<usize> = (0..wants.len()).filter(|at| parts_of(&wants[*at]) > 0).collect();
    let mut rest = rest;
    loop {
        let parts: i64 = open.iter().map(|at| parts_of(&wants[*at])).sum();
        let tight = open.iter().position(|at| rest.share(parts_of(&wants[*at]), parts) < wants[*at].least);
        match tight {
            Some(found) => {
                let at = open.remove(found);
                wants[at].natural = wants[at].least;
                rest = (rest - wants[at].least).or_nothing();
            }
            None => {
                for at in open {
                    wants[at].natural = rest.share(parts_of(&wants[at]), parts);
                }
                return;
            }
        }
    }
}

/// Sets a cell's words into lines.
fn lines_of(cell: &MeasuredCell, width: Length, style: Style) -> Vec<Line> {
    let atoms = measure::split_long(cell.atoms.clone(), width, style.size);
    breaks::total_fit(&atoms, width).into_iter().map(|range| Line::of(&atoms[range])).collect()
}

/// Places a cell's lines in its column; the places count from the column's left edge.
fn place_cell(cell: &MeasuredCell, align: Align, slot: &Slot, style: Style) -> Vec<(Length, Line)> {
    if let Some(figure) = cell.figure {
        let point = slot.width - slot.hang - slot.right;
        if figure.left <= point {
            return vec![(point - figure.left, Line::of(&cell.atoms))];
        }
    }
    let hang = if align == Align::Decimal { slot.hang } else { Length::ZERO };
    let width = slot.width - hang;
    lines_of(cell, width, style)
        .into_iter()
        .map(|line| match align {
            Align::Left => (Length::ZERO, line),
            Align::Right | Align::Decimal => ((width - line.width).or_nothing(), line),
        })
        .collect()
}

/// Returns the table's columns, as many as its widest row has cells.
fn columns_of(table: &Table) -> Cow<'_, [Column]> {
    let cells = table.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
    if cells <= table.columns.len() {
        return Cow::Borrowed(&table.columns);
    }
    let mut columns = table.columns.clone();
    columns.resize(cells, Column { head: String::new(), width: Width::Content, align: Align::Left });
    Cow::Owned(columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_told_from_words() {
        for (text, point, hang) in [
            ("12,500.00", 6, 9),
            ("−310", 6, 6),
            ("$1,540*", 6, 6),
            ("30%", 2, 3),
            ("(500.25)", 4, 8),
            ("7.2 kW", 1, 6),
            (".50", 0, 3),
            ("600 †", 3, 3),
        ] {
            assert_eq!(split_figure(text), Some((point, hang)), "{text}");
        }
        for text in ["none", "2024-05-14", "12 of 14", "", "—", "6b", "$", "see line 12"] {
            assert_eq!(split_figure(text), None, "{text}");
        }
    }

    fn want(natural: i64, least: i64, width: Width) -> Want {
        let (natural, least) = (Length::points(natural), Length::points(least));
        Want { natural, least, figure: Figure::default(), width }
    }

    fn widths(wants: &[Want]) -> Vec<i64> {
        wants.iter().map(|want| want.natural.in_millipoints() / 1000).collect()
    }

    #[test]
    fn parts_share_what_content_leaves() {
        let mut wants =
            [want(40, 20, Width::Content), want(0, 20, Width::Parts(2)), want(0, 20, Width::Parts(1))];
        share_out(&mut wants, Length::points(340), 3);
        assert_eq!(widths(&wants), [40, 200, 100]);
    }

    #[test]
    fn wide_content_gives_way_to_others() {
        let mut wants =
            [want(400, 30, Width::Content), want(0, 60, Width::Parts(1)), want(100, 90, Width::Content)];
        share_out(&mut wants, Length::points(300), 3);
        assert_eq!(widths(&wants).iter().sum::<i64>(), 300);
        assert!(widths(&wants)[1] >= 60);
    }

    #[test]
    fn columns_that_cannot_fit_shrink_alike() {
        let mut wants =
            [want(500, 500, Width::Content), want(500, 500, Width::Content), want(1, 500, Width::Parts(1))];
        share_out(&mut wants, Length::points(300), 3);
        assert!(wants.iter().map(|want| want.natural).sum::<Length>().fits(Length::points(300)));
    }
}
