//! Expressions as formulas.
//!
//! Comes in: figures with their expressions. Goes out: the same expressions as formulas of a spreadsheet, in which
//! every figure, fact, value of law and decision is a name; and what a formula cannot say by itself, as rows of a
//! tab of their own: rows in the order of their amounts, and sums too long for one formula. Computes nothing.

use crate::case::TaxYear;
use crate::credit::expression::{Pick, Rounding};
use crate::credit::line::{Place, Subject};
use crate::credit::{CaseRef, Expr, Figure, Figures, Ruling, Value, evaluate};
use crate::law::{Law, LawKey};
use crate::xlsx::{self, At, Now};
use rust_decimal::Decimal;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// A sum of more parts than this stands in rows of its own: a formula has an end.
const LONG_SUM: usize = 30;

/// The name of the tab with rows in order and long sums.
pub(super) const ROWS: &str = "Rows in order";

/// What a name of a cell begins with, for what the formulas rest on.
const FACT: &str = "FACT";
const LAW: &str = "LAW";
const COUNTS: &str = "COUNTS";

/// Everything that formulas name.
pub(super) struct Formulas<'a> {
    law: &'a Law,
    figures: &'a Figures,
    taken: HashSet<String>,
    /// The names of lines.
    places: HashMap<Place, String>,
    /// The facts, in the order of their first use.
    pub facts: Vec<(String, &'a CaseRef)>,
    fact_names: HashMap<(String, String), String>,
    /// The values of law.
    pub laws: BTreeMap<(TaxYear, LawKey), (String, Value)>,
    /// The decisions: name, the line they stand on, and what was decided.
    pub decisions: Vec<(String, &'a Figure, &'a Ruling)>,
    decision_names: HashMap<(Place, usize), String>,
    /// The groups of rows on the tab of their own.
    pub groups: Vec<Group<'a>>,
    /// The first row of the next group there.
    next: usize,
}

/// Rows on the tab of their own.
pub(super) struct Group<'a> {
    /// The row of its title, from zero; the head follows, then the rows.
    pub at: usize,
    /// Its title.
    pub title: String,
    /// Its rows.
    pub rows: Vec<GroupRow>,
    key: Key<'a>,
}

/// What a group is: rows ordered by amounts, or the parts of a sum.
#[derive(PartialEq)]
enum Key<'a> {
    Order(&'a [Place], &'a [Place]),
    Sum(Place, usize),
}

/// One row of a group; each formula with its value now.
pub(super) struct GroupRow {
    /// What it is.
    pub what: String,
    /// The amount that orders the rows.
    pub by: Option<(String, Now)>,
    /// Its rank.
    pub rank: Option<(String, Now)>,
    /// The amount.
    pub amount: (String, Now),
    /// The words that belong to it.
    pub words: Option<(String, Now)>,
}

/// The columns of the tab.
pub(super) const BY: usize = 1;
pub(super) const RANK: usize = 2;
pub(super) const AMOUNT: usize = 3;
pub(super) const WORDS: usize = 4;
/// The rows of a group begin so many below its title.
const BELOW_TITLE: usize = 2;

impl<'a> Formulas<'a> {
    /// Names every line of some years, and everything that these rest on. `first_row` is the first free row of the
    /// tab for rows in order.
    pub fn of(
        law: &'a Law,
        figures: &'a Figures,
        years: &BTreeSet<TaxYear>,
        first_row: usize,
    ) -> Formulas<'a> {
        let mut all = Formulas {
            law,
            figures,
            taken: HashSet::new(),
            places: HashMap::new(),
            facts: Vec::new(),
            fact_names: HashMap::new(),
            laws: BTreeMap::new(),
            decisions: Vec::new(),
            decision_names: HashMap::new(),
            groups: Vec::new(),
            next: first_row,
        };
        let of_years = || figures.all().iter().filter(|figure| years.contains(&figure.place.year));
        for figure in of_years() {
            let name = all.free(line_name(&figure.place));
            all.places.insert(figure.place.clone(), name);
        }
        for figure in of_years() {
            all.note(figure, &figure.expr, &mut 0);
        }
        all
    }

    /// Returns the name of a line's cell.
    pub fn name(&self, place: &Place) -> Option<&str> {
        self.places.get(place).map(String::as_str)
    }

    /// Returns the places with their names.
    pub fn names(&self) -> impl Iterator<Item = (&Place, &str)> {
        self.places.iter().map(|(place, name)| (place, name.as_str()))
    }

    /// Returns a name like the one wanted that nothing has yet. Spreadsheets do not tell capitals apart.
    fn free(&mut self, wanted: String) -> String {
        let numbered = (2..).map(|n| format!("{wanted}__{n}"));
        let mut candidates = std::iter::once(wanted.clone()).chain(numbered);
        candidates.find(|name| self.taken.insert(name.to_lowercase())).unwrap_or(wanted)
    }

    /// Names what an expression rests on.
    fn note(&mut self, figure: &'a Figure, expr: &'a Expr, rulings: &mut usize) {
        match expr {
            Expr::Fact(fact) => self.note_fact(fact),
            Expr::WordsOfRow { words, .. } => words.iter().for_each(|fact| self.note_fact(fact)),
            Expr::Law(year, key) if !self.laws.contains_key(&(*year, *key)) => {
                if let Some(value) = evaluate::expression::law_value(self.law, *year, *key) {
                    let name = self.free(format!("{LAW}_{year}_{}", plain(key.word())));
                    self.laws.insert((*year, *key), (name, value));
                }
            }
            Expr::Ruled(ruling, _) => {
                *rulings += 1;
                let line = line_name(&figure.place);
                let wanted = match *rulings {
                    1 => format!("{COUNTS}_{line}"),
                    n => format!("{COUNTS}_{line}_{n}"),
                };
                let name = self.free(wanted);
                self.decision_names.insert((figure.place.clone(), *rulings), name.clone());
                self.decisions.push((name, figure, ruling));
            }
            _ => {}
        }
        for inside in expr.inside() {
            self.note(figure, inside, rulings);
        }
    }

    fn note_fact(&mut self, fact: &'a CaseRef) {
        let key = fact_key(fact);
        if !self.fact_names.contains_key(&key) {
            let name = self.free(format!("{FACT}_{}", plain(&fact.path)));
            self.fact_names.insert(key, name.clone());
            self.facts.push((name, fact));
        }
    }

    /// Returns a figure's formula; none where its value was read from facts and is no matter of arithmetic.
    pub fn formula(&mut self, figure: &'a Figure) -> Option<String> {
        if matches!(figure.expr, Expr::Answer { .. }) {
            return None;
        }
        let mut at = Spot { figure, rulings: 0, sums: 0 };
        Some(self.expr(&figure.expr, &mut at, false))
    }

    /// `nested`: whether an enclosing operation needs this one set apart.
    fn expr(&mut self, expr: &'a Expr, at: &mut Spot<'a>, nested: bool) -> String {
        match expr {
            Expr::Fact(fact) => self.fact(fact),
            Expr::Law(year, key) => {
                self.laws.get(&(*year, *key)).map_or_else(missing, |(name, _)| name.clone())
            }
            Expr::Number(number, _) => number.to_string(),
            Expr::Figure(place) => self.name(place).map_or_else(missing, str::to_string),
            Expr::Rows { rows, by, pick } => match self.order(rows, by, at, None) {
                Some((first, last)) => {
                    let column =
                        |column| xlsx::stretch(ROWS, At { row: first, column }, At { row: last, column });
                    let wanted = match pick {
                        Pick::Nth(n) => n.to_string(),
                        Pick::After(n) => xlsx::quoted(&format!(">{n}")),
                    };
                    format!("SUMIF({},{wanted},{})", column(RANK), column(AMOUNT))
                }
                None => "0".to_string(),
            },
            Expr::WordsOfRow { rows, by, words, nth } => match self.order(rows, by, at, Some(words)) {
                // Not every program looks up a row among one.
                Some((first, last)) if first == last => {
                    format!("\"{CODE}\"&{}", xlsx::reference(ROWS, At { row: first, column: WORDS }))
                }
                Some((first, last)) => {
                    let column =
                        |column| xlsx::stretch(ROWS, At { row: first, column }, At { row: last, column });
                    // The word before the code keeps a code of digits a word.
                    format!("\"{CODE}\"&INDEX({},MATCH({nth},{},0))", column(WORDS), column(RANK))
                }
                None => xlsx::quoted(CODE),
            },
            Expr::Sum(parts) => match parts.as_slice() {
                [] => "0".to_string(),
                [one] => self.expr(one, at, nested),
                parts if parts.len() > LONG_SUM => self.long_sum(parts, at),
                parts => {
                    let parts: Vec<String> = parts.iter().map(|part| self.expr(part, at, false)).collect();
                    format!("SUM({})", parts.join(","))
                }
            },
            Expr::Less(a, b) => {
                let difference = format!("{}-{}", self.expr(a, at, false), self.expr(b, at, true));
                if nested { format!("({difference})") } else { difference }
            }
            Expr::Times(a, b) => format!("{}*{}", self.expr(a, at, true), self.expr(b, at, true)),
            Expr::Share { whole, part, of } => {
                let (whole, part) = (self.expr(whole, at, true), self.expr(part, at, true));
                let of = self.expr(of, at, true);
                format!("IF({of}=0,0,{whole}*{part}/{of})")
            }
            Expr::Smaller(parts) => {
                let parts: Vec<String> = parts.iter().map(|part| self.expr(part, at, false)).collect();
                format!("MIN({})", parts.join(","))
            }
            Expr::NotBelowZero(inner) => format!("MAX(0,{})", self.expr(inner, at, false)),
            Expr::Passing { amount, limit, above, otherwise } => {
                let passes = format!("{}-{}", self.expr(amount, at, true), self.expr(limit, at, true));
                let (above, otherwise) = (self.expr(above, at, false), self.expr(otherwise, at, false));
                // What a spreadsheet takes away from its like can leave a trace far behind the point.
                format!("IF(ROUND({passes},8)>0,{above},{otherwise})")
            }
            Expr::Round(rounding, inner) => {
                let places: u32 = match rounding {
                    Rounding::EntryInWholeDollars => 0,
                    Rounding::ProductInCents => 2,
                    Rounding::ShareInTenthsOfPercent => 3,
                };
                let formula = self.expr(inner, at, false);
                match exact_in_binary(inner) {
                    true => format!("ROUND({formula},{places})"),
                    false => format!("ROUND(ROUND({formula},{}),{places})", trusted(at.figure, places)),
                }
            }
            Expr::Ruled(_, inner) => {
                at.rulings += 1;
                let key = (at.figure.place.clone(), at.rulings);
                let counts = self.decision_names.get(&key).cloned().unwrap_or_else(missing);
                format!("IF({counts}=\"yes\",{},0)", self.expr(inner, at, false))
            }
            // Only at the top of a figure of words.
            Expr::Answer { value, .. } => xlsx::quoted(&value.plain()),
        }
    }

    fn fact(&self, fact: &CaseRef) -> String {
        self.fact_names.get(&fact_key(fact)).cloned().unwrap_or_else(missing)
    }

    /// Sets rows in order on their tab, once for all lines that pick from the same, and returns the first and the
    /// last of them.
    fn order(
        &mut self,
        rows: &'a [Place],
        by: &'a [Place],
        at: &Spot<'a>,
        words: Option<&'a [CaseRef]>,
    ) -> Option<(usize, usize)> {
        if rows.is_empty() {
            return None;
        }
        let known = self.groups.iter().position(|group| group.key == Key::Order(rows, by));
        let group = known.unwrap_or_else(|| {
            let first = self.next + BELOW_TITLE;
            let column = |column, row| At { row, column }.fixed();
            let last = first + rows.len() - 1;
            let ranks = evaluate::ranks(rows, by, self.figures).unwrap_or_default();
            let measured = if by.is_empty() { rows } else { by };
            let made = rows.iter().zip(measured).zip(ranks).enumerate().map(|(n, ((row, measure), rank))| {
                let (own, all) =
                    (column(BY, first + n), format!("{}:{}", column(BY, first), column(BY, last)));
                let mut formula = format!("1+SUMPRODUCT(--({all}>{own}))");
                if n > 0 {
                    let before = format!("{}:{}", column(BY, first), column(BY, first + n - 1));
                    formula.push_str(&format!("+SUMPRODUCT(--({before}={own}))"));
                }
                let name = |place| self.name(place).map_or_else(missing, str::to_string);
                GroupRow {
                    what: row.to_string(),
                    by: Some((format!("ROUND({},8)", name(measure)), self.now(measure))),
                    rank: Some((formula, Now::Number(rank.to_string()))),
                    amount: (name(row), self.now(row)),
                    words: None,
                }
            });
            let made: Vec<GroupRow> = made.collect();
            let title = format!("Rows from which line {} takes", at.figure.place);
            self.next = last + 2;
            self.groups.push(Group { at: first - BELOW_TITLE, title, rows: made, key: Key::Order(rows, by) });
            self.groups.len() - 1
        });
        for (n, fact) in words.unwrap_or_default().iter().enumerate() {
            let name = self.fact(fact);
            if let Some(row) = self.groups[group].rows.get_mut(n) {
                row.words = Some((format!("T({name})"), Now::Words(fact.value.plain())));
            }
        }
        let first = self.groups[group].at + BELOW_TITLE;
        Some((first, first + rows.len() - 1))
    }

    /// Sets the parts of a sum below each other on the tab of rows.
    fn long_sum(&mut self, parts: &'a [Expr], at: &mut Spot<'a>) -> String {
        at.sums += 1;
        let key = Key::Sum(at.figure.place.clone(), at.sums);
        // Parts may themselves be long sums, whose rows come first.
        let rows: Vec<GroupRow> = parts
            .iter()
            .map(|part| {
                let formula = self.expr(part, at, false);
                let what = match part.bare() {
                    Expr::Figure(place) => place.to_string(),
                    Expr::Fact(fact) => fact.words.clone(),
                    _ => String::new(),
                };
                let amount = evaluate::amount(part, &at.figure.place, self.law, self.figures);
                let now = Now::Number(digits(amount.unwrap_or_default().decimal()));
                GroupRow { what, by: None, rank: None, amount: (formula, now), words: None }
            })
            .collect();
        let title = format!("Parts of the sum on line {}", at.figure.place);
        let first = self.next + BELOW_TITLE;
        let last = first + rows.len() - 1;
        self.groups.push(Group { at: self.next, title, rows, key });
        self.next = last + 2;
        let ends = [first, last].map(|row| At { row, column: AMOUNT });
        format!("SUM({})", xlsx::stretch(ROWS, ends[0], ends[1]))
    }

    /// Returns the value that a line's cell has now.
    fn now(&self, place: &Place) -> Now {
        self.figures.get(place).map_or(Now::Number("0".to_string()), now)
    }
}

/// Where a formula is being written.
struct Spot<'a> {
    figure: &'a Figure,
    /// So many decisions were met.
    rulings: usize,
    /// So many long sums.
    sums: usize,
}

/// The word before a maker's code.
const CODE: &str = "code ";

/// Returns the value that a figure's cell has now.
pub(super) fn now(figure: &Figure) -> Now {
    match (&figure.value, &figure.expr) {
        (Value::Text(text), Expr::WordsOfRow { .. }) => Now::Words(format!("{CODE}{text}")),
        (value, _) => {
            value.number().map_or_else(|| Now::Words(value.shown()), |number| Now::Number(digits(number)))
        }
    }
}

/// Prints a number as spreadsheets hold it.
pub(super) fn digits(number: Decimal) -> String {
    number.normalize().to_string()
}

/// Stands where a name is missing, which is a mistake of this module: the cell shows it.
fn missing() -> String {
    "NA()".to_string()
}

/// Says whether a spreadsheet holds an expression as exactly as it can: as one number, and not as what was computed.
fn exact_in_binary(expr: &Expr) -> bool {
    match expr {
        Expr::Fact(_) | Expr::Law(..) | Expr::Number(..) | Expr::Figure(_) => true,
        Expr::Sum(parts) => parts.len() < 2 && parts.iter().all(exact_in_binary),
        _ => false,
    }
}

/// Returns to how many decimals an amount that a spreadsheet has computed is rounded before it is rounded to what the
/// form asks for. A spreadsheet computes with fifteen or sixteen digits in binary, so half a cent can come out a little
/// less; rounded to fewer digits than are right, it is half a cent again. With nine decimals nothing else becomes
/// one, and larger amounts have fewer that are right.
fn trusted(figure: &Figure, places: u32) -> u32 {
    let whole = figure.value.number().unwrap_or_default().abs().trunc();
    let digits = u32::try_from(whole.to_string().len()).unwrap_or(28);
    14_u32.saturating_sub(digits).clamp(places + 1, 9)
}

/// Returns what tells a fact from others: one path can give a share and an amount.
fn fact_key(fact: &CaseRef) -> (String, String) {
    (fact.path.clone(), format!("{:?}", fact.value))
}

/// Returns the name of a line's cell: `L440_2025`, `L101_2025_roof_array_2`, `L604_2026_from_2024`.
pub fn line_name(place: &Place) -> String {
    let name = format!("L{}_{}", place.line, place.year);
    match &place.of {
        Subject::Return => name,
        Subject::Origin(year) => format!("{name}_from_{year}"),
        Subject::If(year) => format!("{name}_if_{year}"),
        Subject::Rank(n) => format!("{name}_row_{n}"),
        of => format!("{name}_{}", plain(&of.to_string())),
    }
}

/// Makes a part of a name: letters, digits and underscores.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).take(180).collect()
}
