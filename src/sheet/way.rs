//! Drawings of figures with the same in words: the carryforward's way through the years, and the way from the
//! price to what the household bears.

use super::{Writer, row_of};
use crate::case::TaxYear;
use crate::credit::line::{self, Line, Place};
use crate::credit::stage::{self, ReturnStage};
use crate::document::{Align, Bar, Block, Chart, Series, Shade, Stretch, Table, Width, column, plain};
use crate::money::{Money, Printer};
use crate::wording::listed;

/// One year of the carryforward.
struct Step {
    year: TaxYear,
    carried_in: Money,
    earned: Money,
    used: Money,
    left: Money,
}

impl Writer<'_> {
    /// Draws the carryforward's way up to this year, and says it in words. Nothing where no credit was carried:
    /// then the drawing would show nothing that the box above it does not say.
    pub(super) fn journey(&self) -> Vec<Block> {
        let steps = self.steps();
        let carried = |step: &&Step| !step.carried_in.is_zero() || !step.left.is_zero();
        if steps.last().filter(carried).is_none() {
            return Vec::new();
        }
        let amounts = steps.iter().flat_map(|step| [step.carried_in, step.earned, step.used, step.left]);
        let printer = Printer::of(amounts);
        let print = |amount| printer.print(amount);
        let number = |amount: Money| if amount.is_zero() { String::new() } else { print(amount) };
        let mut bars = Vec::new();
        // What was used before: each year's bar begins there, so that the parts used follow each other.
        let mut used = 0;
        if let Some(first) = steps.first().filter(|first| !first.carried_in.is_zero()) {
            bars.push(Bar {
                name: format!("to {}", first.year.before()),
                numbers: vec![String::new(), String::new(), print(first.carried_in)],
                parts: vec![Stretch { series: 1, from: 0, to: first.carried_in.in_cents() }],
                total: false,
            });
        }
        for step in &steps {
            let old = used + step.carried_in.in_cents();
            let whole = old + step.earned.in_cents();
            let until = used + step.used.in_cents();
            let mut parts = vec![
                Stretch { series: 0, from: used, to: until },
                Stretch { series: 1, from: until, to: whole },
            ];
            if !step.earned.is_zero() {
                parts.push(Stretch { series: 2, from: old, to: whole });
            }
            bars.push(Bar {
                name: format!("{}{}", step.year, self.estimated(step.year)),
                numbers: vec![number(step.earned), number(step.used), print(step.left)],
                parts,
                total: false,
            });
            used = until;
        }
        if self.every_line {
            return vec![
                Block::Table(self.journey_table(&steps)),
                Block::Paragraph(plain(self.journey_words(&steps))),
            ];
        }
        let series = [("used", Shade::Dark), ("left", Shade::Light), ("earned", Shade::Edge)];
        vec![
            Block::Chart(Chart {
                summary: self.journey_summary(&steps),
                head: "Tax year".to_string(),
                columns: ["Earned", "Used", "Left"].map(String::from).to_vec(),
                series: series.map(|(name, shade)| Series { name: name.to_string(), shade }).to_vec(),
                bars,
            }),
            Block::Paragraph(plain(self.journey_words(&steps))),
        ]
    }

    /// Writes the same as a table, for files in which it is not drawn.
    fn journey_table(&self, steps: &[Step]) -> Table {
        let rows = steps.iter().map(|step| {
            let amounts = self.way_of_year(step.year).map(|place| self.at(&place));
            let name = plain(format!("{}{}", step.year, self.estimated(step.year)));
            row_of(std::iter::once(name).chain(amounts).collect())
        });
        let heads = ["Carried in", "Earned", "Used", "Left"];
        let amounts = heads.map(|head| column(head, Width::Parts(1), Align::Decimal));
        Table {
            summary: self.journey_summary(steps),
            rows: rows.collect(),
            columns: std::iter::once(column("Tax year", Width::Parts(1), Align::Left))
                .chain(amounts)
                .collect(),
        }
    }

    /// Says what the drawing shows, year by year.
    fn journey_summary(&self, steps: &[Step]) -> String {
        let mut sentences = vec![
            "A drawing of the carryforward: for each tax year what was earned, used and left.".to_string(),
        ];
        for step in steps {
            let mut parts = Vec::new();
            if !step.carried_in.is_zero() {
                parts.push(format!("carried in {}", step.carried_in.spoken()));
            }
            if !step.earned.is_zero() {
                parts.push(format!("earned {}", step.earned.spoken()));
            }
            parts.push(format!("used {}", step.used.spoken()));
            parts.push(format!("left {}", step.left.spoken()));
            sentences.push(format!("{}{}: {}.", step.year, self.estimated(step.year), parts.join(", ")));
        }
        sentences.join(" ")
    }

    /// Tells the way in a few sentences.
    fn journey_words(&self, steps: &[Step]) -> String {
        let in_years = |amount: fn(&Step) -> Money| -> Vec<String> {
            let some = steps.iter().filter(|step| !amount(step).is_zero());
            some.map(|step| {
                format!("{} in {}{}", amount(step).spoken(), step.year, self.estimated(step.year))
            })
            .collect()
        };
        let mut words = Vec::new();
        if let Some(first) = steps.first().filter(|first| !first.carried_in.is_zero()) {
            words.push(format!("{} came in from {}.", first.carried_in.spoken(), first.year.before()));
        }
        let (earned, used) = (in_years(|step| step.earned), in_years(|step| step.used));
        if !earned.is_empty() {
            words.push(format!("Earned: {}.", listed(&earned)));
        }
        if !used.is_empty() {
            words.push(format!("Used: {}.", listed(&used)));
        }
        if let Some(last) = steps.last() {
            words.push(match last.left.is_zero() {
                true => "Nothing is left.".to_string(),
                false => format!("{} is left for {}.", last.left.spoken(), last.year.after()),
            });
        }
        words.join(" ")
    }

    /// Returns the years of the chain up to this one.
    fn steps(&self) -> Vec<Step> {
        let money =
            |year, line| self.outcome.figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
        self.chained_years()
            .into_iter()
            .map(|year| Step {
                year,
                carried_in: money(year, line::CARRIED_IN),
                earned: self.earned(year),
                used: money(year, line::CLEAN_ALLOWED),
                left: money(year, line::CARRIED_OUT),
            })
            .collect()
    }

    /// Says beside a year that its return is not one yet.
    fn estimated(&self, year: TaxYear) -> &'static str {
        match stage::stage(self.case, &self.outcome.figures, year) {
            ReturnStage::Expected => " (estimate)",
            _ => "",
        }
    }

    /// Draws the way from the price to what the household bears, and says it in words. Nothing where nothing was
    /// taken off the price.
    pub(super) fn net_way(&self) -> Vec<Block> {
        const TAKEN: [(Line, &str); 4] = [
            (line::PRICE_REDUCTIONS, "Price adjustments and utility subsidies"),
            (line::FEDERAL_USED, "Federal credits used on returns so far"),
            (line::STATE_CREDIT_NET, "State tax credit"),
            (line::TAXABLE_INCENTIVES_NET, "Other incentives"),
        ];
        let money = |line| self.of_return(line).and_then(|figure| figure.value.money());
        let share = |line| self.of_return(line).map_or_else(String::new, |figure| figure.value.shown());
        let (Some(price), Some(so_far)) = (money(line::GROSS_PRICE), money(line::NET_COST_SO_FAR)) else {
            return Vec::new();
        };
        let taken: Vec<(&str, Money)> = TAKEN
            .iter()
            .filter_map(|(line, words)| Some((*words, money(*line)?)))
            .filter(|(_, amount)| !amount.is_zero())
            .collect();
        let waiting = money(line::FEDERAL_LEFT).filter(|amount| !amount.is_zero());
        let if_used = money(line::NET_COST_IF_USED);
        if price.is_zero() || (taken.is_empty() && waiting.is_none()) {
            return Vec::new();
        }
        let amounts = taken.iter().map(|(_, amount)| *amount);
        let printer = Printer::of(amounts.chain([price, so_far]).chain(waiting).chain(if_used));
        let print = |amount| printer.print(amount);
        let less = |amount: Money| format!("\u{2212}{}", print(amount));
        let borne = |name: &str, amount: Money, share: String| Bar {
            name: name.to_string(),
            numbers: vec![print(amount), share],
            parts: vec![Stretch { series: 0, from: 0.min(amount.in_cents()), to: 0.max(amount.in_cents()) }],
            total: true,
        };
        let off = |name: &str, amount: Money, series, from: i64| Bar {
            name: name.to_string(),
            numbers: vec![less(amount), String::new()],
            parts: vec![Stretch { series, from: from - amount.in_cents(), to: from }],
            total: false,
        };
        let mut bars = vec![borne("Price before incentives", price, "100%".to_string())];
        let mut at = price.in_cents();
        for (name, amount) in &taken {
            bars.push(off(name, *amount, 1, at));
            at -= amount.in_cents();
        }
        bars.push(borne(
            "Net cost counting only what has been received",
            so_far,
            share(line::NET_SHARE_SO_FAR),
        ));
        if let (Some(waiting), Some(if_used)) = (waiting, if_used) {
            bars.push(off("Carried forward, not yet received", waiting, 2, so_far.in_cents()));
            let name = "Net cost if the whole carryforward is used in the end";
            bars.push(borne(name, if_used, share(line::NET_SHARE_IF_USED)));
        }
        let mut series = vec![("borne by the household", Shade::Dark), ("taken off", Shade::Light)];
        series.extend(waiting.map(|_| ("not yet received", Shade::Open)));
        let words = self.net_words(price, so_far, waiting.and(if_used));
        if self.every_line {
            // The amounts of the drawing are the lines below it.
            return vec![Block::Paragraph(plain(words))];
        }
        vec![
            Block::Chart(Chart {
                summary: net_summary(&bars),
                head: String::new(),
                columns: ["Dollars", "Share"].map(String::from).to_vec(),
                series: series
                    .into_iter()
                    .map(|(name, shade)| Series { name: name.to_string(), shade })
                    .collect(),
                bars,
            }),
            Block::Paragraph(plain(words)),
        ]
    }

    fn net_words(&self, price: Money, so_far: Money, if_used: Option<Money>) -> String {
        let share = |line| self.of_return(line).map_or_else(String::new, |figure| figure.value.shown());
        let mut words = format!(
            "Of the price of {} the household bears {} ({}) counting only what has been received",
            price.spoken(),
            so_far.spoken(),
            share(line::NET_SHARE_SO_FAR)
        );
        if let Some(if_used) = if_used {
            words.push_str(&format!(
                ", and {} ({}) if the whole carryforward is used in the end",
                if_used.spoken(),
                share(line::NET_SHARE_IF_USED)
            ));
        }
        words.push('.');
        words
    }
}

/// Says what the drawing shows, bar by bar.
fn net_summary(bars: &[Bar]) -> String {
    let mut sentences =
        vec!["A drawing of the way from the price over what is taken off it to the net cost.".to_string()];
    for bar in bars {
        let numbers: Vec<&str> =
            bar.numbers.iter().map(String::as_str).filter(|number| !number.is_empty()).collect();
        sentences.push(format!("{}: {}.", bar.name, numbers.join(", ")));
    }
    sentences.join(" ")
}
