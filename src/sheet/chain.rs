//! The carryforward on paper by the year each part was earned in; what was filed.

use super::{Writer, body, column};
use crate::case::TaxYear;
use crate::credit::line::{self, Line, Of, Place};
use crate::document::{Align, Block, Role, Row, Table, Width};

impl Writer<'_> {
    /// Writes the chain of all years up to this one: one row per year and origin, and the year's total.
    pub(super) fn chain(&self) -> Vec<Block> {
        const ORIGIN_LINES: [Line; 5] = [
            line::ORIGIN_IN,
            line::ORIGIN_EARNED,
            line::ORIGIN_AVAILABLE,
            line::ORIGIN_USED,
            line::ORIGIN_LEFT,
        ];
        let mut rows = Vec::new();
        for year in self.chained_years() {
            let origins = self.origins(year);
            for origin in &origins {
                let amount = |line| {
                    let place = Place { year, line, of: Of::Origin(*origin) };
                    self.outcome.figures.get(&place).map_or_else(String::new, |figure| figure.value.shown())
                };
                let mut cells = vec![year.to_string(), origin.to_string()];
                cells.extend(ORIGIN_LINES.map(amount));
                rows.push(body(cells));
            }
            if origins.len() > 1 {
                let amount = |line| {
                    let figure = self.outcome.figures.get(&Place::of_return(year, line));
                    figure.map_or_else(String::new, |figure| figure.value.shown())
                };
                let mut cells = vec![year.to_string(), "all".to_string(), String::new(), String::new()];
                cells.extend([line::CHAIN_AVAILABLE, line::CHAIN_USED, line::CHAIN_LEFT].map(amount));
                rows.push(Row { role: Role::Total, ..body(cells) });
            }
        }
        if rows.is_empty() {
            return Vec::new();
        }
        let mut columns = vec![
            column("Tax year", Width::Content, Align::Left),
            column("Earned in", Width::Content, Align::Left),
        ];
        let heads = ["601 Carried in", "602 Earned", "603 Available", "604 Used", "605 Left"];
        columns.extend(heads.map(|head| column(head, Width::Parts(2), Align::Decimal)));
        vec![
            Block::Table(Table {
                summary: "The carryforward by tax year and by the year in which each part was earned"
                    .to_string(),
                columns,
                rows,
            }),
            Block::Small(crate::document::plain(
                "The rows for all origin years are lines 610 (available), 611 (used) and 612 (left).",
            )),
        ]
    }

    /// Writes what was computed beside what was filed.
    pub(super) fn as_filed(&self) -> Vec<Block> {
        const ROWS: [(&str, Line, Line, Line); 3] = [
            (
                "Home improvement credit",
                line::TO_RETURN_IMPROVEMENT,
                line::FILED_IMPROVEMENT,
                line::CHANGE_IMPROVEMENT,
            ),
            ("Clean energy credit", line::TO_RETURN_CLEAN, line::FILED_CLEAN, line::CHANGE_CLEAN),
            ("Credit carried forward", line::TO_NEXT_YEAR, line::FILED_CARRIED_OUT, line::CHANGE_CARRIED_OUT),
        ];
        let rows: Vec<Row> = ROWS
            .iter()
            .filter_map(|(words, computed, filed, change)| {
                let (computed_figure, filed_figure) = (self.of_return(*computed)?, self.of_return(*filed)?);
                let change_figure = self.of_return(*change)?;
                Some(body(vec![
                    format!("{computed}, {filed}, {change}"),
                    (*words).to_string(),
                    computed_figure.value.shown(),
                    filed_figure.value.shown(),
                    change_figure.value.shown(),
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
        let of_year = self.outcome.figures.all().iter().map(|figure| &figure.place);
        of_year
            .filter(|place| place.year == year && place.line == line::ORIGIN_AVAILABLE)
            .filter_map(|place| match place.of {
                Of::Origin(origin) => Some(origin),
                _ => None,
            })
            .collect()
    }
}
