//! The carryforward on paper by the year each part was earned in; what was filed.

use super::{Writer, row_of, without_empty_columns};
use crate::case::TaxYear;
use crate::credit::credits::{CREDITS, Shown};
use crate::credit::line::{self, Line, Place, Subject};
use crate::document::{Align, Block, Role, Row, Run, Table, Width, Words, column, plain};
use crate::law::Credit;
use crate::money::Money;
use crate::wording::capital;
use std::collections::BTreeSet;

impl Writer<'_> {
    /// Writes the carryforward by the year in which each part was earned: the year of the worksheet line by line,
    /// then, where the chain is longer, what became of each year's credit, and the years with their official lines.
    pub(super) fn chain(&self) -> Vec<Block> {
        let years = self.chained_years();
        let mut blocks = self.chain_of_year();
        if years.len() > 1 {
            let origins = self.chain_by_origin(&years);
            blocks.push(super::heading(3, "What became of the credit of each year"));
            blocks.push(Block::Table(origins));
            blocks.push(super::heading(3, "Year by year, with the lines of Form 5695"));
            blocks.push(Block::Table(self.chain_by_year(&years)));
        }
        blocks
    }

    /// Writes the lines of the worksheet's own year: a row for each year in which credit was earned, and their total.
    fn chain_of_year(&self) -> Vec<Block> {
        const ORIGIN_LINES: [Line; 5] = [
            line::ORIGIN_IN,
            line::ORIGIN_EARNED,
            line::ORIGIN_AVAILABLE,
            line::ORIGIN_USED,
            line::ORIGIN_LEFT,
        ];
        // A credit that was used up before keeps its row below, where its whole way stands.
        let alive = |origin: &TaxYear| {
            self.origin(self.year, line::ORIGIN_AVAILABLE, *origin).is_some_and(|amount| !amount.is_zero())
        };
        let mut origins = self.origins(self.year);
        if !self.every_line && origins.iter().any(alive) {
            origins.retain(alive);
        }
        let mut rows: Vec<Row> = origins
            .iter()
            .map(|origin| {
                let amount = |line| self.at(&Place { year: self.year, line, of: Subject::Origin(*origin) });
                let name = std::iter::once(plain(self.origin_name(*origin)));
                row_of(name.chain(ORIGIN_LINES.map(amount)).collect())
            })
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        if origins.len() > 1 {
            let amount = |line| self.at(&Place::of_return(self.year, line));
            let mut cells = vec![plain("All"), Words::new(), Words::new()];
            cells.extend([line::CHAIN_AVAILABLE, line::CHAIN_USED, line::CHAIN_LEFT].map(amount));
            rows.push(Row { role: Role::Total, cells });
        }
        let mut columns = vec![column("Earned in", Width::Parts(2), Align::Left)];
        let heads = ["601 Carried in", "602 Earned", "603 Available", "604 Used", "605 Left"];
        columns.extend(heads.map(|head| column(head, Width::Parts(2), Align::Decimal)));
        let summary = format!("The carryforward of {} by the year in which each part was earned", self.year);
        let mut blocks = vec![Block::Table(without_empty_columns(Table { summary, columns, rows }))];
        if origins.len() > 1 {
            blocks.push(Block::Small(crate::document::plain(
                "The row for all years is lines 610 (available), 611 (used) and 612 (left).",
            )));
        }
        blocks
    }

    /// Writes a row for each year in which credit was earned, with the returns that used it.
    fn chain_by_origin(&self, years: &[TaxYear]) -> Table {
        let all: BTreeSet<TaxYear> = years.iter().flat_map(|year| self.origins(*year)).collect();
        let rows = all.into_iter().map(|origin| {
            let alive = || years.iter().copied().filter(|year| self.origins(*year).contains(&origin));
            let begun = alive().next().and_then(|year| self.origin(year, line::ORIGIN_AVAILABLE, origin));
            let used: Vec<String> = alive()
                .filter_map(|year| {
                    let used = self.origin(year, line::ORIGIN_USED, origin)?;
                    (!used.is_zero()).then(|| format!("{year}: {}", used.grouped()))
                })
                .collect();
            // A credit that is used up stands in no later year.
            let left = self.origin(self.year, line::ORIGIN_LEFT, origin);
            // Which year's available credit is the first stands in no figure by itself.
            let from = alive().next().map(|year| Place {
                year,
                line: line::ORIGIN_AVAILABLE,
                of: Subject::Origin(origin),
            });
            let rest = Place { year: self.year, line: line::ORIGIN_LEFT, of: Subject::Origin(origin) };
            let printed = |amount: Option<Money>, at: Option<Place>| {
                let name = at.filter(|_| amount.is_some()).map(|place| place.to_string());
                vec![Run { text: amount.unwrap_or(Money::ZERO).grouped(), value: name, ..Run::default() }]
            };
            row_of(vec![
                plain(self.origin_name(origin)),
                printed(begun, from),
                plain(used.join("; ")),
                printed(left, Some(rest)),
            ])
        });
        Table {
            summary:
                "For each year in which credit was earned: how much, the returns that used it, what is left"
                    .to_string(),
            rows: rows.collect(),
            columns: vec![
                column("Earned in", Width::Parts(2), Align::Left),
                column("Credit", Width::Parts(2), Align::Decimal),
                column("Used on the return of", Width::Parts(7), Align::Left),
                column(format!("Left for {}", self.year.after()), Width::Parts(2), Align::Decimal),
            ],
        }
    }

    /// Writes a row for each year with its totals and the official lines on which the balance came and went.
    fn chain_by_year(&self, years: &[TaxYear]) -> Table {
        let official = |year, line: Line| {
            let map = super::official::map(year)?;
            let place =
                map.references(line.0, &Subject::Return, self.outcome.form(year)).into_iter().next()?;
            let numbered = place.line.starts_with(|first: char| first.is_ascii_digit());
            numbered.then(|| format!("{}{}", place.line, super::data::dagger(&place)))
        };
        let rows = years.iter().map(|year| {
            let mut cells = vec![plain(year.to_string())];
            cells.extend(self.way_of_year(*year).map(|place| match self.outcome.figures.get(&place) {
                Some(figure) => super::amount(figure),
                None => plain(Money::ZERO.grouped()),
            }));
            let lines =
                [line::CARRIED_IN, line::CARRIED_OUT].map(|line| official(*year, line).unwrap_or_default());
            cells.push(plain(match lines {
                [came, went] if came.is_empty() && went.is_empty() => String::new(),
                [came, went] if came.is_empty() => format!("none, {went}"),
                [came, went] => format!("{came}, {went}"),
            }));
            row_of(cells)
        });
        Table {
            summary:
                "The carryforward by tax year: carried in, earned, used, left, and the lines of Form 5695"
                    .to_string(),
            rows: rows.collect(),
            columns: vec![
                column("Tax year", Width::Parts(2), Align::Left),
                column("Carried in", Width::Parts(2), Align::Decimal),
                column("Earned", Width::Parts(2), Align::Decimal),
                column("Used", Width::Parts(2), Align::Decimal),
                column("Left", Width::Parts(2), Align::Decimal),
                column("Lines: in, out", Width::Parts(2), Align::Left),
            ],
        }
    }

    /// Returns where the carryforward of a year stands: carried in, earned, used, left.
    pub(super) fn way_of_year(&self, year: TaxYear) -> [Place; 4] {
        let earned = Place { year, line: line::ORIGIN_EARNED, of: Subject::Origin(year) };
        let of = |line| Place::of_return(year, line);
        [of(line::CARRIED_IN), earned, of(line::CLEAN_ALLOWED), of(line::CARRIED_OUT)]
    }

    /// Returns what a year earned of its own.
    pub(super) fn earned(&self, year: TaxYear) -> Money {
        self.origin(year, line::ORIGIN_EARNED, year).unwrap_or(Money::ZERO)
    }

    /// Returns the amount of a year on a line, about the credit earned in another.
    fn origin(&self, year: TaxYear, line: Line, origin: TaxYear) -> Option<Money> {
        self.outcome.figures.money(&Place { year, line, of: Subject::Origin(origin) })
    }

    /// Names a year in which credit was earned; a balance brought in may come from years before it too.
    fn origin_name(&self, origin: TaxYear) -> String {
        match self.origin(origin, line::ORIGIN_EARNED, origin) {
            Some(_) => origin.to_string(),
            None => format!("{origin} or before"),
        }
    }

    /// Writes what was computed beside what was filed.
    pub(super) fn as_filed(&self) -> Vec<Block> {
        let called =
            |credit: Credit| capital(self.year_law.map_or(credit.called(), |law| law.called(credit)));
        let credits = CREDITS.iter().map(|of| (called(of.credit), of.shown));
        let carried = CREDITS.iter().filter_map(|of| of.carried);
        let carried = carried.map(|carried| ("Credit carried forward".to_string(), carried.shown));
        let rows: Vec<Row> = credits
            .chain(carried)
            .filter_map(|(words, Shown { computed, filed, change, .. })| {
                let (computed_figure, filed_figure) = (self.of_return(computed)?, self.of_return(filed)?);
                let change_figure = self.of_return(change)?;
                Some(row_of(vec![
                    plain(format!("{computed}, {filed}, {change}")),
                    plain(words),
                    super::amount(computed_figure),
                    super::amount(filed_figure),
                    super::amount(change_figure),
                ]))
            })
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(Table {
            summary: "Amounts as computed, as filed, and the difference".to_string(),
            columns: vec![
                column("Lines", Width::Content, Align::Left),
                column("What it is", Width::Parts(4), Align::Left),
                column("As computed", Width::Parts(2), Align::Decimal),
                column("As filed", Width::Parts(2), Align::Decimal),
                column("Difference", Width::Parts(2), Align::Decimal),
            ],
            rows,
        })]
    }

    /// Returns the years up to this one in which the chain has rows.
    pub(super) fn chained_years(&self) -> Vec<TaxYear> {
        let years = self.outcome.years.iter().copied();
        years.filter(|year| *year <= self.year && !self.origins(*year).is_empty()).collect()
    }

    fn origins(&self, year: TaxYear) -> Vec<TaxYear> {
        let of_year = self.outcome.figures.of_year(year);
        of_year
            .into_iter()
            .map(|figure| &figure.place)
            .filter(|place| place.line == line::ORIGIN_AVAILABLE)
            .filter_map(|place| match place.of {
                Subject::Origin(origin) => Some(origin),
                _ => None,
            })
            .collect()
    }
}
