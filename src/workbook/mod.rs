//! The worksheet as a spreadsheet that computes.
//!
//! Comes in: a case, the law, the figures, and the sheets of each year. Goes out: one file with a tab for each sheet and
//! year, on which every computed amount is a formula made from its line's expression; with the facts, the values of
//! law and the decisions they rest on as inputs on tabs of their own. The value that a formula has now is the figure of
//! the engine. Computes nothing.

mod formula;
mod grid;
mod inputs;

pub use formula::line_name;

use crate::case::TaxYear;
use crate::credit::facts::facts;
use crate::credit::line::Place;
use crate::credit::{Expr, Figures, Outcome, Value};
use crate::sheet::{self, Material, Section};
use crate::xlsx::{self, At, Book, Cell, Content, Face, Look, Now, Number, Tab};
use formula::{Formulas, ROWS, now};
use grid::Grid;
use inputs::Inputs;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Writes the worksheet of a year, and of the years before it, as a file for spreadsheet programs that bears a day.
///
/// Fails only where memory does.
pub fn write(material: &Material<'_>, dated: Date) -> Result<Vec<u8>, zip::result::ZipError> {
    xlsx::write(&book(material, dated))
}

/// The name of the cell that counts the inputs that were changed.
const CHANGED: &str = "INPUTS_CHANGED";

/// The longest that the words on changed inputs are.
const STATUS_LENGTH: usize = 120;

/// So many rows stand at the top of every tab: its title, whose it is, and whether an input was changed.
const OWN_ROWS: usize = 3;

/// So many lines at most stay in sight at the top of a tab.
const MOST_FROZEN: u16 = 12;

/// Writes the tabs.
fn book(material: &Material<'_>, dated: Date) -> Book {
    let Material { case, law, outcome, year, stamps, .. } = *material;
    let figures = &outcome.figures;
    let years = years(figures, outcome, year);
    // Where the tab of rows begins is known before any formula is written, because formulas name its cells.
    let first_row =
        inputs::rows(material, &Formulas::of(law, figures, &BTreeSet::new(), 0), 0).rows.len() + 1;
    let mut formulas = Formulas::of(law, figures, &years, first_row);
    let by_name: HashMap<String, &Place> =
        figures.all().iter().map(|figure| (figure.place.to_string(), &figure.place)).collect();

    let mut book = Book {
        title: material.title(),
        subject: material.subject(),
        author: case.prepared_by().to_string(),
        dated,
        ..Book::default()
    };
    let mut homes: BTreeMap<Place, (usize, At)> = BTreeMap::new();
    let mut furniture = None;
    // The year's own sheets come first, then the years before it, the last one first.
    for one in years.iter().rev() {
        let facts = facts(case, law, outcome, *one, stamps.draft, dated);
        let (furnished, sections) = sheet::sections(&Material { year: *one, facts: &facts, ..*material });
        let furnished = furniture.get_or_insert(furnished).clone();
        for (n, section) in sections.iter().enumerate() {
            // Of an earlier year only what is computed stands here; its words are those of its own packet.
            if *one != year && section.lines.is_empty() && !section.lists_notes {
                continue;
            }
            let tab = book.tabs.len();
            let mut grid = Grid::of(&section.blocks);
            top(material, &mut grid, &section.title);
            if *one == year && n == 0 {
                about(material, &mut grid, &furnished.foot.0);
            }
            grid.blocks(&section.blocks, &mut |name, printed, row, column| {
                let place = *by_name.get(name)?;
                let figure = figures.get(place)?;
                let number = number_format(&figure.value);
                let own = place.year == *one && section.lines.contains(&place.line);
                let content = match own && !homes.contains_key(place) {
                    true => {
                        homes.insert(place.clone(), (tab, At { row, column }));
                        match formulas.formula(figure) {
                            Some(formula) => Content::Formula(formula, now(figure)),
                            None => Content::Words(printed.to_string()),
                        }
                    }
                    false => Content::Formula(formulas.name(place)?.to_string(), now(figure)),
                };
                Some(Cell { content, look: Look { number, ..Look::default() } })
            });
            book.tabs.push(tab_of(grid, &tab_title(section, *one), &furnished, &book.tabs));
        }
        if *one == year {
            // The inputs stand before the earlier years; their tabs are filled when all formulas are written.
            let tabs = [inputs::FACTS, inputs::LAW, inputs::DECISIONS];
            book.tabs.extend(tabs.map(|name| Tab { name: name.to_string(), ..Tab::default() }));
        }
    }
    let Some(furniture) = furniture else { return book };
    let made = [inputs::facts, inputs::law, inputs::decisions].map(|make| make(material, &formulas));
    let rows = (!formulas.groups.is_empty()).then(|| inputs::rows(material, &formulas, first_row));
    fill(&mut book, made, rows, &furniture);
    for (place, name) in formulas.names() {
        if let Some(home) = homes.get(place) {
            book.names.insert(name.to_string(), *home);
        }
    }
    book
}

/// Puts the inputs on their tabs, names them, and counts what is changed of them.
fn fill(book: &mut Book, inputs: [Inputs; 3], rows: Option<Grid>, furniture: &crate::document::Furniture) {
    let at = |book: &Book, name: &str| book.tabs.iter().position(|tab| tab.name == name);
    let counted: Vec<String> = inputs.iter().filter_map(Inputs::changed).collect();
    let count = if counted.is_empty() { "0".to_string() } else { counted.join("+") };
    for (n, one) in inputs.into_iter().enumerate() {
        let Some(tab) = at(book, one.tab) else { continue };
        let mut grid = one.grid;
        book.names.extend(one.cells.into_iter().map(|(name, at)| (name, (tab, at))));
        if n == 0 {
            grid.blank();
            let row = grid.rows.len();
            let label =
                xlsx::words("Inputs changed, on all tabs", Look { face: Face::Strong, ..Look::default() });
            let content = Content::Formula(count.clone(), Now::Number("0".to_string()));
            let cell = Cell { content, look: Look { face: Face::Strong, ..Look::default() } };
            grid.row(vec![label, cell]);
            book.names.insert(CHANGED.to_string(), (tab, At { row, column: 1 }));
        }
        book.tabs[tab] = tab_of(grid, one.tab, furniture, &[]);
    }
    if let Some(rows) = rows {
        book.tabs.push(tab_of(rows, ROWS, furniture, &[]));
    }
}

/// Returns the years on the tabs: those up to the worksheet's, and any other that one of their lines names.
fn years(figures: &Figures, outcome: &Outcome, year: TaxYear) -> BTreeSet<TaxYear> {
    let mut years: BTreeSet<TaxYear> = outcome.years.iter().copied().filter(|one| *one <= year).collect();
    loop {
        let known = years.len();
        for figure in
            figures.all().iter().filter(|figure| years.contains(&figure.place.year)).collect::<Vec<_>>()
        {
            named(&figure.expr, &mut |place| {
                years.insert(place.year);
            });
        }
        if years.len() == known {
            return years;
        }
    }
}

/// Calls for every place that an expression names.
fn named(expr: &Expr, found: &mut impl FnMut(&Place)) {
    match expr {
        Expr::Figure(place) => found(place),
        Expr::Rows { rows, by, .. } | Expr::WordsOfRow { rows, by, .. } => {
            rows.iter().chain(by).for_each(found)
        }
        other => {
            for inside in other.inside() {
                named(inside, found);
            }
        }
    }
}

/// Names the tab of a sheet: the year, and its title as far as it is short.
fn tab_title(section: &Section, year: TaxYear) -> String {
    let short = section.title.split([':', '(']).next().unwrap_or_default().trim();
    match short.contains(&year.to_string()) {
        true => short.to_string(),
        false => format!("{year} {short}"),
    }
}

fn tab_of(grid: Grid, name: &str, furniture: &crate::document::Furniture, taken: &[Tab]) -> Tab {
    let head = grid.head().filter(|row| grid.lines_to(*row) <= MOST_FROZEN);
    Tab {
        name: xlsx::tab_name(name, taken),
        widths: grid.widths(),
        // Without one head for all tables, the three rows of the tab's own stay in sight, and its title is repeated.
        frozen: head.map_or(OWN_ROWS, |row| row + 1),
        repeated: grid.head().or(Some(0)),
        head: [
            furniture.head.0.clone(),
            furniture.mark.clone().unwrap_or_default(),
            furniture.head.1.clone(),
        ],
        foot: [furniture.foot.0.clone(), furniture.foot.1.replace("{page}", "&P").replace("{pages}", "&N")],
        landscape: true,
        rows: grid.rows,
        filter: None,
        ..Tab::default()
    }
}

/// Returns how a value is shown as a number.
fn number_format(value: &Value) -> Number {
    match value {
        Value::Money(_) => Number::Money,
        Value::Rate(rate) => {
            let percent = (*rate * rust_decimal::Decimal::ONE_HUNDRED).normalize();
            let decimals = percent.scale();
            // A division leaves a long tail.
            Number::Percent(if decimals > 8 { 1 } else { u8::try_from(decimals).unwrap_or(8) })
        }
        Value::Text(_) => Number::Text,
        Value::Quantity(_) | Value::YesNo(_) => Number::General,
    }
}

/// Writes the top of a tab: its title, whose it is, and whether anything was changed on it.
fn top(material: &Material<'_>, grid: &mut Grid, title: &str) {
    grid.say(title, Face::Title);
    let draft = if material.stamps.draft { "DRAFT. " } else { "" };
    let whose = format!("{draft}{}, worksheet for tax year {}", material.whose(), material.year);
    grid.say(&whose, Face::Plain);
    let same = "Figures as computed from the case; no input has been changed.";
    let formula = format!(
        "IF({CHANGED}=0,{},{}&{CHANGED}&{})",
        xlsx::quoted(same),
        xlsx::quoted("TRIAL FIGURES, not those of the case. Inputs changed: "),
        xlsx::quoted(". Words on the tabs still describe the case as it is.")
    );
    let content = Content::Formula(formula, Now::Words(same.to_string()));
    grid.across(Cell { content, look: Look { face: Face::Small, ..Look::default() } }, STATUS_LENGTH);
}

/// Says on the first tab what the file is and how it is read.
fn about(material: &Material<'_>, grid: &mut Grid, fingerprints: &str) {
    if let Some(correction) = material.correction() {
        grid.say(&correction, Face::Strong);
    }
    grid.say(fingerprints, Face::Small);
    let words = format!(
        "This is the worksheet as a spreadsheet: the same lines, and every computed amount is a formula. Each line has a name, such as L440_{}, and so has each input. Cells in a box, on the tabs “{}”, “{}” and “{}”, may be changed to see what would follow; change a copy, because the packet holds this file as it was sealed. Amounts follow a change; words do not. Which rows a year has, and what counts, the program decides from the case: an input that would decide otherwise needs the case changed and the worksheet made again.",
        material.year,
        inputs::FACTS,
        inputs::LAW,
        inputs::DECISIONS
    );
    grid.say(&words, Face::Plain);
}

#[cfg(test)]
mod tests;
