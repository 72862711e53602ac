//! Sheets 100 and 200 by rows: each cost and each incentive, whether it counts, and why.

use super::{Writer, amount, row_of, short_date, spanning};
use crate::case::{Cost, Incentive, Item, Part, Shared, SharedRow};
use crate::credit::Figure;
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::qualify::Timing;
use crate::document::{Align, Block, Role, Row, Table, Width, Words, column, plain};
use crate::finding::Spanned;
use crate::money::Money;

impl Writer<'_> {
    /// Writes the costs of every item of the year, and each item's sums.
    pub(super) fn purchases(&self) -> Vec<Block> {
        let mut rows = Vec::new();
        for item in self.items_of_year() {
            rows.push(spanning(Role::Group, self.item_heading(item)));
            let unqualified = self.not_qualified(item);
            for figure in self.rows_of(item, line::COST_PAID) {
                let Subject::Cost(_, n) = figure.place.of else { continue };
                rows.push(self.cost_row(item, n, figure, unqualified.as_deref()));
            }
            rows.push(self.sum_row(item, "110, 111", "All costs", &[line::ITEM_PAID, line::ITEM_COUNTED]));
            let words = unqualified.map(|why| format!("{} does not qualify: {why}", item.key.value));
            rows.extend(words.map(|words| spanning(Role::Remark, words)));
        }
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(Table {
            summary: "Costs by item: what was paid, what counts, why, and the paper that shows it"
                .to_string(),
            columns: vec![
                column("Row", Width::Content, Align::Left),
                column("Cost", Width::Parts(5), Align::Left),
                column("Paid", Width::Content, Align::Decimal),
                column("Counted", Width::Content, Align::Decimal),
                column("Why", Width::Parts(6), Align::Left),
                column("Paper", Width::Parts(2), Align::Left),
            ],
            rows,
        })]
    }

    /// Writes the incentives of every item of the year that has some.
    pub(super) fn incentives(&self) -> Vec<Block> {
        let mut rows = Vec::new();
        for item in self.items_of_year() {
            let of_item = self.rows_of(item, line::INCENTIVE_AMOUNT);
            if of_item.is_empty() {
                continue;
            }
            rows.push(spanning(Role::Group, self.item_title(item)));
            for figure in &of_item {
                let Subject::Incentive(_, n) = figure.place.of else { continue };
                rows.push(self.incentive_row(item, n, figure));
            }
            let mut total = self.sum_row(item, "210", "All that reduce the cost", &[line::ITEM_REDUCTIONS]);
            // The one sum stands under what reduces, not under the amounts.
            let sum = total.cells.remove(2);
            total.cells.insert(2, plain(""));
            total.cells[3] = sum;
            rows.push(total);
        }
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(Table {
            summary:
                "Incentives by item: the amount, what it takes off the cost, why, and the paper that shows it"
                    .to_string(),
            columns: vec![
                column("Row", Width::Content, Align::Left),
                column("Incentive", Width::Parts(5), Align::Left),
                column("Amount", Width::Content, Align::Decimal),
                column("Reduces by", Width::Content, Align::Decimal),
                column("Why", Width::Parts(6), Align::Left),
                column("Paper", Width::Parts(2), Align::Left),
            ],
            rows,
        })]
    }

    fn cost_row(&self, item: &Item, n: u16, paid: &Figure, unqualified: Option<&str>) -> Row {
        let counted = self.outcome.figures.get(&Place { line: line::COST_COUNTED, ..paid.place.clone() });
        let borne = cost_of(&self.case.shared, item, n);
        let mut words = paid.about.clone().unwrap_or_default();
        let mut paper = String::new();
        if let Some((cost, part)) = borne {
            if let Some(materials) = &cost.materials {
                words.push_str(&format!(", {} materials", materials.value));
            }
            if let Some(day) = &cost.paid {
                words.push_str(&format!(", paid {}", short_date(day.value)));
            }
            words.extend(part.map(|part| shared_words(part, cost.amount.value)));
            if let Some(evidence) = &cost.evidence {
                paper = evidence.value.to_string();
            }
        }
        let because = borne.and_then(|(cost, _)| cost.because.as_ref());
        let mut why = counted.map_or_else(String::new, |figure| self.reasons(figure));
        if unqualified == Some(why.as_str()) {
            // What holds of the whole item is said once, under its sum.
            why = "See below.".to_string();
        }
        let why = with_because(why, because);
        row_of(vec![
            plain(n.to_string()),
            plain(words),
            amount(paid),
            counted.map_or_else(Words::new, amount),
            plain(why),
            plain(paper),
        ])
    }

    fn incentive_row(&self, item: &Item, n: u16, whole: &Figure) -> Row {
        let reduces =
            self.outcome.figures.get(&Place { line: line::INCENTIVE_REDUCES, ..whole.place.clone() });
        let mut words = whole.about.clone().unwrap_or_default();
        let mut paper = String::new();
        let borne = incentive_of(&self.case.shared, item, n);
        if let Some((incentive, part)) = borne {
            if let Some(day) = &incentive.agreed {
                words.push_str(&format!(", agreed {}", short_date(day.value)));
            }
            if let Some(day) = &incentive.received {
                words.push_str(&format!(", received {}", short_date(day.value)));
            }
            words.extend(part.map(|part| shared_words(part, incentive.amount.value)));
            if let Some(evidence) = &incentive.evidence {
                paper = evidence.value.to_string();
            }
        }
        row_of(vec![
            plain(n.to_string()),
            plain(words),
            amount(whole),
            reduces.map_or_else(Words::new, amount),
            plain(with_because(
                reduces.map_or_else(String::new, |figure| self.reasons(figure)),
                borne.and_then(|(incentive, _)| incentive.because.as_ref()),
            )),
            plain(paper),
        ])
    }

    /// Writes a total row of an item: the lines' numbers, a word, one or two sums.
    fn sum_row(&self, item: &Item, numbers: &str, words: &str, lines: &[Line]) -> Row {
        let mut cells = vec![plain(numbers), plain(words)];
        cells.extend(lines.iter().map(|line| self.at(&Place::of_item(self.year, *line, &item.key.value))));
        cells.resize(6, plain(""));
        Row { role: Role::Total, cells }
    }

    /// Says why an item does not qualify; none where it does.
    fn not_qualified(&self, item: &Item) -> Option<String> {
        let place = Place::of_item(self.year, line::ITEM_QUALIFIED, &item.key.value);
        let figure = self.outcome.figures.get(&place)?;
        let ruling = figure.rulings().into_iter().find(|ruling| !ruling.counts)?;
        Some(self.reason(ruling))
    }

    /// Prints the reasons of a figure's decisions.
    fn reasons(&self, figure: &Figure) -> String {
        let words: Vec<String> = figure.rulings().into_iter().map(|ruling| self.reason(ruling)).collect();
        words.join(" ")
    }

    /// Returns the items whose credit falls in this year, in case order.
    pub(super) fn items_of_year(&self) -> Vec<&Item> {
        let items = self.case.property.iter();
        items
            .filter(|item| {
                let place = Place::of_item(self.year, line::ITEM_QUALIFIED, &item.key.value);
                self.outcome.figures.get(&place).is_some()
            })
            .collect()
    }

    fn rows_of(&self, item: &Item, line: Line) -> Vec<&Figure> {
        let of_item = |figure: &&Figure| match &figure.place.of {
            Subject::Cost(key, _) | Subject::Incentive(key, _) => *key == item.key.value,
            _ => false,
        };
        self.on_line(line).into_iter().filter(of_item).collect()
    }

    /// Names an item: its key and what it is.
    pub(super) fn item_title(&self, item: &Item) -> String {
        let units = match item.units.value {
            0 | 1 => String::new(),
            n => format!(", {n} units"),
        };
        format!("{}: {}{units}", item.key.value, item.kind.value.label())
    }

    /// Names an item with its home, the work and the day that decides its year.
    fn item_heading(&self, item: &Item) -> String {
        let mut words = vec![self.item_title(item)];
        let home = self.case.home(&item.home.value);
        words.push(match home {
            Some(home) => format!("at {} ({})", home.address.street.value, home.key.value),
            None => format!("at {}", item.home.value),
        });
        words.push(item.part_of.value.label().to_string());
        if let Some(day) = &item.installed {
            words.push(format!("completed {}", short_date(day.value)));
        }
        if let Some(day) = &item.paid {
            words.push(format!("paid {}", short_date(day.value)));
        }
        if let Some(home) = home
            && let Timing::On(day) = crate::credit::qualify::timing(item, home)
            && item.installed.as_ref().is_some_and(|installed| installed.value != day)
        {
            words.push(format!("counts on {}", short_date(day)));
        }
        words.join(", ")
    }
}

/// Adds the case's own reason, where a judgment does not quote it already.
fn with_because(why: String, because: Option<&Spanned<String>>) -> String {
    match because {
        Some(because) if !why.contains(because.value.trim()) => {
            format!("{why} Case: {}", because.value.trim())
        }
        _ => why,
    }
}

/// Says which part of something shared an item bears.
fn shared_words(part: Part, whole: Money) -> String {
    match part {
        Part::Share(share) => format!(", {share} of {} shared", whole.spoken()),
        Part::Amount(amount) => format!(", {} of {} shared", amount.spoken(), whole.spoken()),
    }
}

/// Returns the n-th cost an item bears, its own before shared ones, and its part of a shared one.
fn cost_of<'a>(shared: &'a [Shared], item: &'a Item, n: u16) -> Option<(&'a Cost, Option<Part>)> {
    let at = usize::from(n).checked_sub(1)?;
    if let Some(own) = item.costs.get(at) {
        return Some((own, None));
    }
    borne(shared, item)
        .filter_map(|(one, part)| match &one.row {
            SharedRow::Cost(cost) => Some((cost, Some(part))),
            SharedRow::Incentive(_) => None,
        })
        .nth(at - item.costs.len())
}

/// Returns the n-th incentive an item bears, its own before shared ones, and its part of a shared one.
fn incentive_of<'a>(shared: &'a [Shared], item: &'a Item, n: u16) -> Option<(&'a Incentive, Option<Part>)> {
    let at = usize::from(n).checked_sub(1)?;
    if let Some(own) = item.incentives.get(at) {
        return Some((own, None));
    }
    borne(shared, item)
        .filter_map(|(one, part)| match &one.row {
            SharedRow::Incentive(incentive) => Some((incentive, Some(part))),
            SharedRow::Cost(_) => None,
        })
        .nth(at - item.incentives.len())
}

/// Returns what an item bears of everything shared, in case order.
fn borne<'a>(shared: &'a [Shared], item: &Item) -> impl Iterator<Item = (&'a Shared, Part)> {
    shared.iter().filter_map(|one| {
        let (_, part) = one.over.iter().find(|(key, _)| key.value == item.key.value)?;
        Some((one, part.value))
    })
}
