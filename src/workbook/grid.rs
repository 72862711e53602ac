//! Blocks of the worksheet as rows of a tab: tables column by column, words across all of them.
//!
//! Comes in: blocks, and what a printed value's cell holds. Goes out: rows with their cells, how wide the columns
//! are, and where the first table's head stands. Knows no figure: what is in the cell of a value it is told.

use crate::document::{Align, Block, Column, Role, Run, Table, Words};
use crate::xlsx::{Cell, Content, Face, Frame, Look, Row, Side, words};

/// How wide all columns of a tab that take part in what is left are together, in characters.
const SHARED: u32 = 104;
/// How wide a tab may be before its columns are held to what is in them: a page that is wider is printed smaller.
const WIDEST_TAB: u16 = 140;
/// The narrowest and the widest column of its own content.
const NARROWEST: u16 = 8;
const WIDEST: u16 = 26;
/// The width of a column of amounts.
const AMOUNTS: u16 = 15;

/// Rows of a tab while they are being made.
pub(super) struct Grid {
    /// The rows so far.
    pub rows: Vec<Row>,
    /// The row of the first table's head.
    head: Option<usize>,
    /// Whether a later table has another head.
    heads_differ: bool,
    widths: Vec<u16>,
}

impl Grid {
    /// Begins a tab on which these blocks will stand.
    pub fn of(blocks: &[Block]) -> Grid {
        let mut wide = Vec::new();
        widen(blocks, &mut wide);
        match wide.is_empty() {
            true => Grid::with(vec![u16::try_from(SHARED).unwrap_or(100)]),
            false => Grid::with(fitted(&wide)),
        }
    }

    /// Begins a tab with columns of these widths.
    pub fn with(widths: Vec<u16>) -> Grid {
        Grid { rows: Vec::new(), head: None, heads_differ: false, widths }
    }

    /// Returns the row of the head that all tables of the tab have; none where they have several.
    pub fn head(&self) -> Option<usize> {
        self.head.filter(|_| !self.heads_differ)
    }

    /// Returns how wide the columns are.
    pub fn widths(&self) -> Vec<u16> {
        self.widths.clone()
    }

    /// Returns how many lines the rows down to one take.
    pub fn lines_to(&self, row: usize) -> u16 {
        self.rows[..=row.min(self.rows.len() - 1)].iter().map(|one| one.lines.unwrap_or(1)).sum()
    }

    /// Adds a blank row.
    pub fn blank(&mut self) {
        self.rows.push(Row::default());
    }

    /// Adds a row of which one cell spans all columns; `length`: how many characters it may come to have.
    pub fn across(&mut self, cell: Cell, length: usize) {
        let wide = usize::from(self.widths.iter().sum::<u16>()).max(20);
        let lines = lines(length, wide);
        let lines = if cell.look.face == Face::Title { lines + 1 } else { lines };
        let cell = Cell { look: Look { wraps: true, side: Side::Left, ..cell.look }, ..cell };
        self.rows.push(Row { cells: vec![cell], spans: true, lines: Some(lines) });
    }

    /// Adds words that span all columns.
    pub fn say(&mut self, text: &str, face: Face) {
        for line in text.lines() {
            let look = Look { face, ..Look::default() };
            self.across(words(line, look), line.chars().count());
        }
    }

    /// Adds a row of cells, high enough for the longest of them.
    pub fn row(&mut self, cells: Vec<Cell>) {
        let lines = cells.iter().zip(&self.widths).map(|(cell, width)| match &cell.content {
            Content::Words(text) => lines(text.chars().count(), usize::from(*width)),
            _ => 1,
        });
        let lines = lines.max();
        self.rows.push(Row { cells, lines, spans: false });
    }

    /// Adds the head of a table.
    pub fn table_head(&mut self, heads: impl IntoIterator<Item = (String, Side)>) {
        let look = Look { face: Face::Strong, frame: Frame::Shaded, wraps: true, ..Look::default() };
        let cells = heads.into_iter().map(|(head, side)| words(head, Look { side, ..look }));
        let cells = cells.collect();
        self.row(cells);
        let here = self.rows.len() - 1;
        let first = *self.head.get_or_insert(here);
        self.heads_differ |= self.rows[first].cells != self.rows[here].cells;
    }

    /// Adds blocks; `value` makes the cell of a printed value by its name, its words and the place it is to have.
    pub fn blocks(
        &mut self,
        blocks: &[Block],
        value: &mut impl FnMut(&str, &str, usize, usize) -> Option<Cell>,
    ) {
        for block in blocks {
            match block {
                Block::Heading { words, .. } => {
                    self.blank();
                    self.say(&text(words), Face::Strong);
                }
                Block::Paragraph(words) => self.say(&text(words), face(words)),
                Block::Small(words) => self.say(&text(words), Face::Small),
                Block::List { ordered, items } => {
                    for (n, item) in items.iter().enumerate() {
                        let mark = if *ordered { format!("{}. ", n + 1) } else { "\u{2022} ".to_string() };
                        for (n, block) in item.iter().enumerate() {
                            match block {
                                Block::Paragraph(words) if n == 0 => {
                                    self.say(&format!("{mark}{}", text(words)), Face::Plain);
                                }
                                other => self.blocks(std::slice::from_ref(other), value),
                            }
                        }
                    }
                }
                Block::Table(table) => self.table(table, value),
                Block::Panel(inside) | Block::Together(inside) => self.blocks(inside, value),
                // A drawing says in words what it shows.
                Block::Chart(chart) => self.say(&chart.summary, Face::Plain),
                // These stand in letters only.
                Block::Logo(_)
                | Block::Sender(_)
                | Block::Address(_)
                | Block::DateLines(_)
                | Block::Space(_)
                | Block::PageBreak => {}
            }
        }
    }

    fn table(&mut self, table: &Table, value: &mut impl FnMut(&str, &str, usize, usize) -> Option<Cell>) {
        self.blank();
        self.table_head(
            table.columns.iter().enumerate().map(|(n, column)| (column.head.clone(), side(n, column))),
        );
        for row in &table.rows {
            let (face, frame) = match row.role {
                Role::Body => (Face::Plain, Frame::Ruled),
                Role::Group => (Face::Strong, Frame::Ruled),
                Role::Total => (Face::Strong, Frame::Total),
                Role::Remark => (Face::Small, Frame::None),
            };
            let look = Look { face, frame, wraps: true, ..Look::default() };
            if row.cells.len() == 1 && table.columns.len() > 1 {
                let text = text(&row.cells[0]);
                self.across(words(text.as_str(), look), text.chars().count());
                continue;
            }
            let at = self.rows.len();
            let cells = row.cells.iter().zip(&table.columns).enumerate().map(|(n, (cell, column))| {
                let look = Look { side: side(n, column), ..look };
                let face = |run: &Run| if run.emphasis { Face::Slanted } else { look.face };
                let printed = cell.iter().find_map(|run| Some((run, run.value.as_deref()?)));
                let made = printed.and_then(|(run, name)| {
                    let made = value(name, &run.text, at, n)?;
                    let look = Look { number: made.look.number, face: face(run), ..look };
                    Some(Cell { look, ..made })
                });
                let text = text(cell);
                made.unwrap_or_else(|| match (text.is_empty(), cell.first()) {
                    (false, Some(first)) => words(text, Look { face: face(first), ..look }),
                    _ => Cell { content: Content::Blank, look },
                })
            });
            let cells = cells.collect();
            self.row(cells);
        }
    }
}

/// Returns in how many lines so many characters stand in a width. A line breaks between words, so it is not filled; and
/// no program takes a row of more than 409 points.
fn lines(length: usize, width: usize) -> u16 {
    let filled = width.saturating_sub(1 + width / 20).max(4);
    u16::try_from(length.div_ceil(filled).clamp(1, 29)).unwrap_or(29)
}

/// Returns the words without their styles.
fn text(words: &Words) -> String {
    words.iter().map(|run| run.text.as_str()).collect()
}

/// Returns the type of words that are all of one style.
fn face(words: &Words) -> Face {
    match words {
        words if words.is_empty() => Face::Plain,
        words if words.iter().all(|run| run.strong) => Face::Strong,
        words if words.iter().all(|run| run.emphasis) => Face::Slanted,
        _ => Face::Plain,
    }
}

/// Returns where the cells of a column stand, counted from zero.
fn side(n: usize, column: &Column) -> Side {
    match column.align {
        Align::Left if n > 0 => Side::Inset,
        Align::Left => Side::Left,
        Align::Right | Align::Decimal => Side::Right,
    }
}

/// How wide a column is to be, over all tables of a tab.
#[derive(Clone, Copy, Default)]
struct Wide {
    /// As wide as a table would have it by itself.
    wished: u16,
    /// So wide that its longest cell stands on one line.
    filled: u16,
}

/// Returns how wide the columns of a tab become. Tables that wish for unlike columns would together be wider than a
/// page can show; then a column has no more than what is in it, and the widest ones less.
fn fitted(columns: &[Wide]) -> Vec<u16> {
    let wished: Vec<u16> = columns.iter().map(|one| one.wished).collect();
    if wished.iter().sum::<u16>() <= WIDEST_TAB {
        return wished;
    }
    let filled = columns.iter().map(|one| one.wished.min(one.filled));
    let (least, more): (Vec<u16>, Vec<u16>) =
        filled.map(|width| (width.min(WIDEST), width.saturating_sub(WIDEST))).unzip();
    let room = WIDEST_TAB.saturating_sub(least.iter().sum());
    let asked = more.iter().sum::<u16>().max(1);
    let part = |more: u16| u32::from(more) * u32::from(room.min(asked)) / u32::from(asked);
    least.iter().zip(more).map(|(least, more)| least + u16::try_from(part(more)).unwrap_or(0)).collect()
}

/// Makes columns wide enough for the tables of some blocks: those of amounts as wide as amounts are, others as the
/// document shares out the width.
fn widen(blocks: &[Block], columns: &mut Vec<Wide>) {
    for block in blocks {
        match block {
            Block::Table(table) => {
                let parts: u32 = table
                    .columns
                    .iter()
                    .filter(|column| column.align == Align::Left)
                    .map(|column| match column.width {
                        crate::document::Width::Parts(n) => u32::from(n),
                        crate::document::Width::Content => 0,
                    })
                    .sum();
                columns.resize(columns.len().max(table.columns.len()), Wide::default());
                for (n, (column, wide)) in table.columns.iter().zip(columns.iter_mut()).enumerate() {
                    let cells = table.rows.iter().filter(|row| row.cells.len() == table.columns.len());
                    let lengths = cells.map(|row| text(&row.cells[n]).chars().count());
                    let longest = lengths.max().unwrap_or(0).max(column.head.chars().count().min(12));
                    let filled = u16::try_from(longest + 2).unwrap_or(WIDEST_TAB).min(WIDEST_TAB);
                    let filled = filled.max(NARROWEST);
                    let amounts = AMOUNTS.max(filled.min(20));
                    let (wished, filled) = match (column.align, column.width) {
                        (Align::Decimal | Align::Right, _) => (amounts, amounts),
                        (Align::Left, crate::document::Width::Content) => (filled.min(WIDEST), filled),
                        (Align::Left, crate::document::Width::Parts(part)) => {
                            let part = SHARED * u32::from(part) / parts.max(1);
                            (u16::try_from(part).unwrap_or(WIDEST), filled)
                        }
                    };
                    wide.wished = wide.wished.max(wished);
                    wide.filled = wide.filled.max(filled);
                }
            }
            Block::Panel(inside) | Block::Together(inside) => widen(inside, columns),
            Block::List { items, .. } => items.iter().for_each(|item| widen(item, columns)),
            _ => {}
        }
    }
}
