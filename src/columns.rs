//! Plain text set in columns, for terminals.
//!
//! Comes in: cells, and at which side of their column they stand. Goes out: lines. Knows nothing of what stands in them.

use crate::wrap::columns;

/// Between two columns.
pub(crate) const GAP: usize = 2;

/// Where the words of a column stand.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Side {
    Left,
    Right,
    /// At the right, with room for a star behind the amounts.
    Starred,
}

impl Side {
    /// How much stays free behind a cell.
    fn kept_free(self, cell: &str) -> usize {
        usize::from(self == Side::Starred && !cell.ends_with('*'))
    }
}

/// Columns, each as wide as its widest cell so far.
pub(crate) struct Columns(Vec<(Side, usize)>);

impl Columns {
    /// Takes the side of each column, and how wide it is at least.
    pub fn new(columns: impl IntoIterator<Item = (Side, usize)>) -> Columns {
        Columns(columns.into_iter().collect())
    }

    /// Makes the columns wide enough for the cells of a line.
    pub fn widen(&mut self, cells: &[String]) {
        for ((side, width), cell) in self.0.iter_mut().zip(cells) {
            *width = (*width).max(columns(cell) + side.kept_free(cell));
        }
    }

    /// Makes a column no wider than this; a longer cell pushes its line aside.
    pub fn at_most(&mut self, column: usize, width: usize) {
        self.0[column].1 = self.0[column].1.min(width);
    }

    /// How wide a column is.
    pub fn width_of(&self, column: usize) -> usize {
        self.0[column].1
    }

    /// How wide a line is.
    pub fn width(&self) -> usize {
        self.0.iter().map(|(_, width)| width + GAP).sum::<usize>().saturating_sub(GAP)
    }

    /// Sets cells into their columns, without blanks at the end of the line.
    pub fn line(&self, cells: &[String]) -> String {
        let mut line = String::new();
        for ((side, width), cell) in self.0.iter().zip(cells) {
            let free = side.kept_free(cell);
            let pad = width.saturating_sub(columns(cell) + free);
            let (before, behind) = match side {
                Side::Left => (0, pad),
                Side::Right | Side::Starred => (pad, free),
            };
            line.push_str(&" ".repeat(before));
            line.push_str(cell);
            line.push_str(&" ".repeat(behind + GAP));
        }
        line.truncate(line.trim_end().len());
        line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_stand_at_their_side_and_a_star_hangs_out() {
        let mut columns = Columns::new([(Side::Left, 3), (Side::Starred, 0), (Side::Right, 4)]);
        let lines = [["a", "1.00", "x"], ["long", "20.00*", ""]].map(|cells| cells.map(String::from));
        lines.iter().for_each(|cells| columns.widen(cells));
        assert_eq!(columns.width(), 4 + GAP + 6 + GAP + 4);
        assert_eq!(columns.line(&lines[0]), "a      1.00      x");
        assert_eq!(columns.line(&lines[1]), "long  20.00*");
        columns.at_most(0, 2);
        assert_eq!((columns.width_of(0), columns.line(&lines[1]).as_str()), (2, "long  20.00*"));
    }

    #[test]
    fn a_wide_character_takes_two_columns() {
        let mut columns = Columns::new([(Side::Left, 0), (Side::Right, 0)]);
        let lines = [["\u{6771}\u{4eac}", "1"], ["e\u{301}", "20"]].map(|cells| cells.map(String::from));
        lines.iter().for_each(|cells| columns.widen(cells));
        assert_eq!(columns.line(&lines[0]), "\u{6771}\u{4eac}   1");
        assert_eq!(columns.line(&lines[1]), "e\u{301}     20");
    }
}
