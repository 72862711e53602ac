//! The tabs on which everything stands that the formulas rest on: the facts of the case with their papers, the values
//! of law with their sources, the decisions with their authorities, and rows in order.
//!
//! Comes in: what the formulas name. Goes out: tabs. What a reader may change stands in a box, beside it what it is in
//! the case or the law, so that a change is counted.

use super::formula::{AMOUNT, BY, Formulas, ROWS, digits};
use super::grid::Grid;
use super::top;
use crate::case::Case;
use crate::credit::{CaseRef, Value};
use crate::sheet::Material;
use crate::wording::capital;
use crate::xlsx::{self, At, Cell, Content, Face, Frame, Look, Now, Number, Side, words};

/// The names of the tabs with inputs.
pub(super) const FACTS: &str = "Facts of the case, as inputs";
pub(super) const LAW: &str = "Law, as inputs";
pub(super) const DECISIONS: &str = "Decisions";

/// A tab of inputs: its rows, and its cells that may be changed.
pub(super) struct Inputs {
    pub tab: &'static str,
    pub grid: Grid,
    /// The name of each cell that may be changed, and where it stands.
    pub cells: Vec<(String, At)>,
    /// The column in which the cells stand, and the one beside it with what they are.
    pub columns: (usize, usize),
    /// The first and the last row with an input.
    pub rows: Option<(usize, usize)>,
}

impl Inputs {
    /// Returns the formula that counts what was changed.
    pub fn changed(&self) -> Option<String> {
        let (first, last) = self.rows?;
        let column = |column| {
            let (from, to) = (At { row: first, column }, At { row: last, column });
            xlsx::stretch(self.tab, from, to)
        };
        Some(format!("SUMPRODUCT(--({}<>{}))", column(self.columns.0), column(self.columns.1)))
    }
}

/// Makes the tab of facts.
pub(super) fn facts(material: &Material<'_>, formulas: &Formulas<'_>) -> Inputs {
    let mut grid = Grid::with(vec![30, 18, 18, 32, 10, 42]);
    top(material, &mut grid, "Facts of the case, as inputs");
    grid.say(
        "What the case says and the formulas use, each with the paper that shows it. Change an amount in a box to see what would follow. Whether a cost or an item counts is not decided here: see the tab “Decisions”.",
        Face::Plain,
    );
    let heads = ["What it is", "Amount", "As in the case", "Paper", "In the case file", "Key in the case"];
    head(&mut grid, &heads, &[1, 2]);
    let mut cells = Vec::new();
    for (name, fact) in &formulas.facts {
        cells.push((name.clone(), At { row: grid.rows.len(), column: 1 }));
        let place = material.sources.line_column(fact.span);
        grid.row(vec![
            words(capital(&fact.words), TEXT),
            input(&fact.value),
            given(&fact.value),
            words(paper(material.case, fact), INSET),
            words(format!("line {}", place.line), INSET),
            words(fact.path.as_str(), INSET),
        ]);
    }
    inputs(FACTS, grid, cells, (1, 2))
}

/// Makes the tab of law.
pub(super) fn law(material: &Material<'_>, formulas: &Formulas<'_>) -> Inputs {
    let mut grid = Grid::with(vec![9, 40, 14, 14, 50, 22]);
    top(material, &mut grid, "Law, as inputs");
    grid.say(
        "The rates and limits that the formulas use, each with its source. They are the law as known on the edition date; changing one here shows what another law would do.",
        Face::Plain,
    );
    let heads = ["Tax year", "What it is", "Value", "As in the law", "Source", "How firm it is"];
    head(&mut grid, &heads, &[2, 3]);
    let mut cells = Vec::new();
    for ((year, key), (name, value)) in &formulas.laws {
        cells.push((name.clone(), At { row: grid.rows.len(), column: 2 }));
        let year_law = material.law.year(*year);
        let entry = year_law.and_then(|law| law.values.get(key));
        let sources = entry.map_or_else(String::new, |entry| {
            let cited = entry.authority.source.iter().map(|one| material.law.cite(one));
            cited.collect::<Vec<_>>().join("; ")
        });
        let firm = entry.map_or_else(String::new, |entry| {
            let settled = if entry.authority.settled { "settled" } else { "not settled" };
            format!("{}, {settled}", entry.authority.standing.label())
        });
        grid.row(vec![
            words(year.to_string(), TEXT),
            words(capital(key.label()), INSET),
            input(value),
            given(value),
            words(sources, INSET),
            words(firm, INSET),
        ]);
    }
    inputs(LAW, grid, cells, (2, 3))
}

/// Makes the tab of decisions.
pub(super) fn decisions(material: &Material<'_>, formulas: &Formulas<'_>) -> Inputs {
    let mut grid = Grid::with(vec![24, 29, 9, 10, 42, 35]);
    top(material, &mut grid, "Decisions");
    grid.say(
        "Whether an amount counts is decided from facts that are no amounts, such as a date, the kind of property, a standard or a preparer's choice, so it is not a formula. Each decision is a cell with its reason; a formula takes the amount where the cell says yes, and 0 where it says no. Changing one here changes that amount alone: in the case, the same fact can decide other lines as well.",
        Face::Plain,
    );
    let heads = ["Line", "What it is about", "Counts", "As decided", "Why", "Authority"];
    head(&mut grid, &heads, &[2, 3]);
    let mut cells = Vec::new();
    for (name, figure, ruling) in &formulas.decisions {
        cells.push((name.clone(), At { row: grid.rows.len(), column: 2 }));
        let cited = ruling.authority.iter().map(|one| material.law.cite(one));
        let cited = cited.collect::<Vec<_>>().join("; ");
        let open = match (ruling.settled, &ruling.chosen) {
            (_, Some(_)) => " The preparer chose it.",
            (false, None) => " Not settled.",
            (true, None) => "",
        };
        let why = capital(&ruling.because.replace(":`", "`").replace('`', ""));
        let yes = Value::YesNo(ruling.counts);
        grid.row(vec![
            words(figure.place.to_string(), TEXT),
            words(figure.about.clone().unwrap_or_else(|| capital(&figure.label)), INSET),
            input(&yes),
            given(&yes),
            words(format!("{}.{open}", why.trim_end_matches('.')), INSET),
            words(cited, INSET),
        ]);
    }
    inputs(DECISIONS, grid, cells, (2, 3))
}

/// Makes the tab of rows in order and of long sums. `first_row` is where its groups begin.
pub(super) fn rows(material: &Material<'_>, formulas: &Formulas<'_>, first_row: usize) -> Grid {
    let mut grid = Grid::with(vec![44, 18, 10, 18, 40]);
    top(material, &mut grid, ROWS);
    grid.say(
        "Which row is the costliest, and the sums of many rows. The amount that orders the rows gives each its rank; of equal amounts the first in the case comes first. Lines take the row of a rank from here, with its code.",
        Face::Plain,
    );
    let heads = ["Row", "Orders by", "Rank", "Amount", "Words of the row"];
    for group in &formulas.groups {
        let at = group.at.max(first_row);
        while grid.rows.len() < at {
            grid.blank();
        }
        grid.say(&group.title, Face::Strong);
        head(&mut grid, &heads, &[BY, 2, AMOUNT]);
        for row in &group.rows {
            let cell = |one: &Option<(String, Now)>, number| {
                let look = Look { number, ..TEXT };
                one.clone().map_or(Cell { content: Content::Blank, look }, |(formula, now)| Cell {
                    content: Content::Formula(formula, now),
                    look: Look { side: Side::Natural, ..look },
                })
            };
            grid.row(vec![
                words(row.what.as_str(), TEXT),
                cell(&row.by, Number::Money),
                cell(&row.rank, Number::General),
                cell(&Some(row.amount.clone()), Number::Money),
                cell(&row.words, Number::Text),
            ]);
        }
    }
    grid
}

/// How ordinary cells of these tabs look.
const TEXT: Look = Look {
    face: Face::Plain,
    number: Number::General,
    frame: Frame::Ruled,
    side: Side::Left,
    wraps: true,
    open: false,
};
/// How cells of words look behind another column.
const INSET: Look = Look { side: Side::Inset, ..TEXT };

fn head(grid: &mut Grid, heads: &[&str], numbers: &[usize]) {
    let side = |n: usize| match n {
        0 => Side::Left,
        n if numbers.contains(&n) => Side::Right,
        _ => Side::Inset,
    };
    grid.table_head(heads.iter().enumerate().map(|(n, head)| (head.to_string(), side(n))));
}

fn inputs(tab: &'static str, grid: Grid, cells: Vec<(String, At)>, columns: (usize, usize)) -> Inputs {
    let rows = cells.first().zip(cells.last()).map(|(first, last)| (first.1.row, last.1.row));
    Inputs { tab, grid, cells, columns, rows }
}

/// Makes the cell that a reader may change.
fn input(value: &Value) -> Cell {
    let cell = given(value);
    Cell { look: Look { frame: Frame::Box, ..cell.look }, ..cell }
}

/// Makes the cell of a value as it is in the case or in the law.
fn given(value: &Value) -> Cell {
    let (content, number) = match value {
        Value::YesNo(yes) => (Content::Words(if *yes { "yes" } else { "no" }.to_string()), Number::General),
        Value::Text(text) => (Content::Words(text.clone()), Number::Text),
        other => (Content::Number(digits(other.number().unwrap_or_default())), super::number_format(other)),
    };
    Cell { content, look: Look { number, side: Side::Right, ..TEXT } }
}

/// Names the paper that shows a fact: its key, what it is, and where it is.
fn paper(case: &Case, fact: &CaseRef) -> String {
    let Some(key) = &fact.evidence else { return String::new() };
    let Some(paper) = case.evidence.iter().find(|paper| paper.key.value.as_str() == key) else {
        return key.clone();
    };
    let mut words = vec![format!("{key}: {}", paper.kind.value.label())];
    if !paper.on_file.value {
        words.push("not on file yet".to_string());
    }
    words.extend(paper.kept_at.as_ref().map(|at| at.value.clone()));
    words.extend(paper.file.as_ref().map(|file| file.value.clone()));
    words.join(", ")
}
