//! What years to come would use of the credit, on paper: an if, told apart from fact by its words, its own sheet, its
//! italic amounts and its empty bars.
//!
//! Comes in: the outlook of the engine, every amount of which is a figure. Goes out: the assumption in a box,
//! a table of lines 651 to 656, a drawing, and what more tax would do. Computes nothing.

use super::Writer;
use crate::case::TaxYear;
use crate::credit::line::{self, Place, Subject};
use crate::credit::planning::{Assumed, End, IfYear, MOST_YEARS, More, Outlook, outlook};
use crate::document::{
    Align, Bar, Block, Chart, Role, Row, Run, Series, Shade, Stretch, Table, Width, Words, column, plain,
    strong,
};
use crate::money::Printer;
use crate::wording::listed;

/// With more years than this, years that are alike share a row.
const ALL_SHOWN: usize = 8;
/// Of years that share a row, so many stand before it.
const SHOWN_FIRST: usize = 3;

impl Writer<'_> {
    /// Writes what the years after the last return would use. Nothing where this is not the year of the last return,
    /// or nothing is left.
    pub(super) fn outlook(&self) -> Vec<Block> {
        let Some(outlook) = outlook(self.case, self.outcome).filter(|one| one.from == self.year) else {
            return Vec::new();
        };
        let mut words = strong("What if, not a figure of any return. ");
        words.extend(plain(assumption(&outlook)));
        let mut blocks =
            vec![Block::Panel(vec![Block::Paragraph(words), Block::Paragraph(plain(ending(&outlook)))])];
        blocks.push(Block::Table(table(&outlook, self.every_line)));
        if !self.every_line {
            blocks.push(Block::Chart(chart(&outlook)));
        }
        for (more, lines) in [
            (outlook.now, (line::MORE_TAX, line::MORE_INCOME)),
            (outlook.next, (line::IF_MORE_TAX, line::IF_MORE_INCOME)),
        ] {
            blocks.extend(more.map(|more| Block::Paragraph(plain(self.more_words(&outlook, more, lines)))));
        }
        blocks
    }

    /// Says how much more tax would use everything in a year, and the income that makes it.
    fn more_words(&self, outlook: &Outlook, more: More, (tax, income): (line::Line, line::Line)) -> String {
        let than = if more.year == outlook.from { "" } else { " than assumed" };
        let mut words = format!(
            "With {} more tax before credits{than} in {}, all of the credit would be used by the {} return (line {tax}).",
            more.tax.spoken(),
            more.year,
            more.year
        );
        if let (Some(amount), Some(rate)) = (more.income, &self.case.planning.federal_rate) {
            words.push_str(&format!(
                " If all of it were taxed at the federal rate of {} that the case gives, {} more income would make that much tax (line {income}).",
                rate.value,
                amount.spoken()
            ));
        }
        words
    }
}

/// Names the assumption.
fn assumption(outlook: &Outlook) -> String {
    let repeated: Vec<&IfYear> =
        outlook.years.iter().filter(|one| matches!(one.assumed, Assumed::LastReturn(_))).collect();
    let mut clauses: Vec<String> = Vec::new();
    if let Some(last) = repeated.last() {
        let all = repeated.len() == outlook.years.len();
        let until = if all { String::new() } else { format!(" through {}", last.year) };
        clauses.push(format!("stays at the {} of {}{until}", last.tax.spoken(), outlook.from));
    }
    // Years for which the same plan stands are one run.
    let mut runs: Vec<(&IfYear, TaxYear)> = Vec::new();
    for one in outlook.years.iter().filter(|one| matches!(one.assumed, Assumed::Planned(_))) {
        match runs.last_mut() {
            Some((first, last)) if first.assumed == one.assumed => *last = one.year,
            _ => runs.push((one, one.year)),
        }
    }
    let end = outlook.years.last().map(|one| one.year);
    let planned: Vec<String> = runs
        .into_iter()
        .map(|(first, last)| {
            let when = match first.year == last {
                true => format!("in {last}"),
                false if Some(last) == end => format!("from {} on", first.year),
                false => format!("from {} through {last}", first.year),
            };
            format!("{} {when}", first.tax.spoken())
        })
        .collect();
    if !planned.is_empty() {
        clauses.push(format!("is {}, as planned in the case", listed(&planned)));
    }
    format!("Assumed: the tax before credits {}; {}.", clauses.join(", and "), other_credits(outlook))
}

/// Says which credits are assumed to come first.
fn other_credits(outlook: &Outlook) -> String {
    let first = outlook.years[0].credits_before;
    let same = outlook.years.iter().all(|one| one.credits_before == first);
    match (same, first.is_zero()) {
        (true, true) => "no other credit comes first".to_string(),
        (true, false) => format!("other credits that come first take {} each year", first.spoken()),
        (false, _) => "other credits that come first take what line 652 says".to_string(),
    }
}

/// Says how it ends, on the assumption.
fn ending(outlook: &Outlook) -> String {
    let balance = outlook.balance.spoken();
    match outlook.end {
        End::UsedUp(year) => format!("Then the last of the {balance} would be used on the {year} return."),
        End::Never => format!(
            "Then no tax would be left for the credit: {} would go on from year to year, and never be used.",
            outlook.left().spoken()
        ),
        End::NotWithin => format!(
            "Then {} of the {balance} would still be left after {MOST_YEARS} years.",
            outlook.left().spoken()
        ),
    }
}

/// Returns the years to show, and behind which of them the years between are told in a remark.
fn shown(outlook: &Outlook) -> (Vec<&IfYear>, Option<(TaxYear, TaxYear)>) {
    let years = &outlook.years;
    let alike = |one: &IfYear| {
        let first = &years[SHOWN_FIRST - 1];
        (one.tax, one.credits_before, one.used) == (first.tax, first.credits_before, first.used)
    };
    let whole = || years.iter().collect();
    if years.len() <= ALL_SHOWN {
        return (whole(), None);
    }
    let between = &years[SHOWN_FIRST..years.len() - 1];
    match between.iter().all(alike) {
        true => {
            let ends = years[..SHOWN_FIRST].iter().chain(years.last());
            (ends.collect(), Some((between[0].year, between[between.len() - 1].year)))
        }
        false => (whole(), None),
    }
}

fn table(outlook: &Outlook, every_line: bool) -> Table {
    let (years, between) = match every_line {
        true => (outlook.years.iter().collect(), None),
        false => shown(outlook),
    };
    let mut rows = Vec::new();
    for one in years {
        if let Some((first, last)) = between.filter(|(_, last)| last.after() == one.year) {
            rows.push(Row {
                cells: vec![plain(format!("{first} to {last}: the same each year"))],
                role: Role::Remark,
            });
        }
        let amounts = [
            (line::IF_TAX, one.tax),
            (line::IF_CREDITS_BEFORE, one.credits_before),
            (line::IF_TAX_LEFT, one.tax_left),
            (line::IF_CARRIED_IN, one.carried_in),
            (line::IF_USED, one.used),
            (line::IF_LEFT, one.left),
        ];
        let amounts = amounts.map(|(line, amount)| {
            let place = Place { year: outlook.from, line, of: Subject::If(one.year) };
            slanted(amount.grouped(), Some(place))
        });
        rows.push(Row {
            cells: std::iter::once(slanted(format!("if {}", one.year), None)).chain(amounts).collect(),
            role: Role::Body,
        });
    }
    let heads = ["651 Tax", "652 Other credits", "653 Tax left", "654 Carried in", "655 Used", "656 Left"];
    let mut columns = vec![column("What if", Width::Parts(2), Align::Left)];
    columns.extend(heads.map(|head| column(head, Width::Parts(2), Align::Decimal)));
    Table {
        summary: format!(
            "What the years after {} would use of the credit, on the assumption named",
            outlook.from
        ),
        columns,
        rows,
    }
}

/// Draws what each year would use, one behind the other: empty bars, beside the full one that is fact.
fn chart(outlook: &Outlook) -> Chart {
    let (years, _) = shown(outlook);
    let amounts = outlook.years.iter().flat_map(|one| [one.used, one.left]);
    let printer = Printer::of(amounts.chain([outlook.balance]));
    let whole = outlook.balance.in_cents();
    let mut bars = vec![Bar {
        name: format!("left after {}", outlook.from),
        numbers: vec![String::new(), printer.print(outlook.balance)],
        parts: vec![Stretch { series: 0, from: 0, to: whole }],
        total: false,
    }];
    bars.extend(years.iter().map(|one| Bar {
        name: format!("if {}", one.year),
        numbers: vec![printer.print(one.used), printer.print(one.left)],
        parts: vec![Stretch {
            series: 1,
            from: whole - one.carried_in.in_cents(),
            to: whole - one.left.in_cents(),
        }],
        total: false,
    }));
    let told: Vec<String> = outlook
        .years
        .iter()
        .map(|one| format!("{}: used {}, left {}.", one.year, one.used.spoken(), one.left.spoken()))
        .collect();
    let series = [("left, a figure of the return", Shade::Light), ("would be used", Shade::Open)];
    Chart {
        summary: format!(
            "A drawing of what later years would use of the {} left after {}, on the assumption named. {}",
            outlook.balance.spoken(),
            outlook.from,
            told.join(" ")
        ),
        head: "Tax year".to_string(),
        columns: ["Used", "Left"].map(String::from).to_vec(),
        series: series.map(|(name, shade)| Series { name: name.to_string(), shade }).to_vec(),
        bars,
    }
}

/// Sets words in italics: the mark of an if.
fn slanted(text: String, at: Option<Place>) -> Words {
    vec![Run { text, strong: false, emphasis: true, value: at.map(|place| place.to_string()) }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Money;

    fn year(year: i16, assumed: Assumed, tax: i64, credits: i64) -> IfYear {
        let zero = Money::ZERO;
        IfYear {
            year: TaxYear(year),
            assumed,
            tax: Money::dollars(tax),
            credits_before: Money::dollars(credits),
            tax_left: zero,
            carried_in: zero,
            used: zero,
            left: zero,
        }
    }

    fn words(years: Vec<IfYear>) -> String {
        let balance = Money::dollars(9000);
        assumption(&Outlook {
            from: TaxYear(2026),
            balance,
            years,
            end: End::NotWithin,
            now: None,
            next: None,
        })
    }

    #[test]
    fn the_assumption_is_named_with_its_years() {
        let (again, planned) = (Assumed::LastReturn(TaxYear(2026)), |year| Assumed::Planned(TaxYear(year)));
        assert_eq!(
            words(vec![year(2027, again, 1150, 0), year(2028, again, 1150, 0)]),
            "Assumed: the tax before credits stays at the $1,150 of 2026; no other credit comes first."
        );
        assert_eq!(
            words(vec![
                year(2027, again, 1150, 400),
                year(2028, planned(2028), 900, 400),
                year(2029, planned(2029), 800, 400),
                year(2030, planned(2029), 800, 400),
            ]),
            "Assumed: the tax before credits stays at the $1,150 of 2026 through 2027, and is $900 in 2028 and $800 from 2029 on, as planned in the case; other credits that come first take $400 each year."
        );
        assert_eq!(
            words(vec![
                year(2027, planned(2027), 1800, 400),
                year(2028, planned(2027), 1800, 400),
                year(2029, planned(2029), 2100, 100),
            ]),
            "Assumed: the tax before credits is $1,800 from 2027 through 2028 and $2,100 in 2029, as planned in the case; other credits that come first take what line 652 says."
        );
    }
}
