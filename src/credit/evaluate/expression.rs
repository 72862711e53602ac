//! A line's expression as data, and the value it comes to.
//!
//! The same expression is evaluated, printed in the "how" column, walked back by `why`, and written to the data
//! file. There is no second description of a number that could drift. Nothing here decides which expression a
//! line has; that is the plan's business.

use super::line::{Line, LineKind, Place, Subject};
use crate::case::TaxYear;
use crate::finding::Span;
use crate::law::{Amount, Law, LawKey};
use crate::money::{Money, Quantity, Rate};
use rust_decimal::Decimal;

/// A value that stands on a line.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Dollars.
    Money(Money),
    /// A share.
    Rate(Decimal),
    /// A measured quantity.
    Quantity(Quantity),
    /// Yes or no.
    YesNo(bool),
    /// Words.
    Text(String),
}

impl Value {
    /// Returns what kind of value it is.
    pub fn kind(&self) -> LineKind {
        match self {
            Value::Money(_) => LineKind::Money,
            Value::Rate(_) => LineKind::Rate,
            Value::Quantity(_) => LineKind::Quantity,
            Value::YesNo(_) => LineKind::YesNo,
            Value::Text(_) => LineKind::Text,
        }
    }

    /// Returns the exact number, where the value is one.
    pub fn number(&self) -> Option<Decimal> {
        match self {
            Value::Money(money) => Some(money.decimal()),
            Value::Rate(rate) => Some(*rate),
            Value::Quantity(quantity) => Some(quantity.0),
            Value::YesNo(_) | Value::Text(_) => None,
        }
    }

    /// Returns the amount, where the value is money.
    pub fn money(&self) -> Option<Money> {
        match self {
            Value::Money(money) => Some(*money),
            _ => None,
        }
    }

    /// Prints the value as the data files hold it: money with two decimals, shares as percentages.
    pub fn plain(&self) -> String {
        match self {
            Value::Money(money) => money.plain(),
            Value::Rate(rate) => percent(*rate),
            Value::Quantity(quantity) => quantity.to_string(),
            Value::YesNo(yes) => if *yes { "yes" } else { "no" }.to_string(),
            Value::Text(text) => text.clone(),
        }
    }

    /// Prints the value as pages show it.
    pub fn shown(&self) -> String {
        match self {
            Value::Money(money) => money.grouped(),
            Value::YesNo(yes) => if *yes { "Yes" } else { "No" }.to_string(),
            other => other.plain(),
        }
    }
}

/// Prints a share: exactly where people could have written it so, with one decimal where a division left a long tail.
fn percent(rate: Decimal) -> String {
    let exact = (rate * Decimal::ONE_HUNDRED).normalize();
    if exact.scale() <= WRITTEN_DECIMALS {
        return format!("{exact}%");
    }
    let tenths = exact.round_dp_with_strategy(1, rust_decimal::RoundingStrategy::MidpointAwayFromZero);
    format!("{}%", tenths.normalize())
}

/// A written percentage has at most this many decimals (see [`Rate::read`]).
const WRITTEN_DECIMALS: u32 = 8;

/// A fact of the case: what was written, where, and under which path.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseRef {
    /// Its path, such as `property.roof-array.costs.2.amount`.
    pub path: String,
    /// What it is, in words, such as the cost's own description.
    pub words: String,
    /// Where it was written.
    pub span: Span,
    /// Its value.
    pub value: Value,
    /// The paper that shows it, by its key.
    pub evidence: Option<String>,
}

/// Roundings, each named after the rule that asks for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// Half up to whole dollars where an amount enters an official line (26 U.S.C. 6102; 26 CFR 301.6102-1).
    EntryInWholeDollars,
    /// Half up to the cent: a product or a share becomes money.
    ProductInCents,
    /// Half up to a tenth of a percent, for shares that only inform.
    ShareInTenthsOfPercent,
}

/// Which rows are taken, ordered by amount; ties stand in case order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pick {
    /// The n-th largest, from one; nothing when there are fewer.
    Nth(u8),
    /// The sum of all after the n-th largest.
    After(u8),
}

/// A decision about an amount: whether it counts, why, and under which authority.
#[derive(Clone, Debug, PartialEq)]
pub struct Ruling {
    /// Whether the amount counts; otherwise it is nothing.
    pub counts: bool,
    /// Why, in plain words.
    pub because: String,
    /// Under which authority.
    pub authority: Vec<String>,
    /// Whether the law is settled here.
    pub settled: bool,
    /// The preparer's own choice, where the law leaves one: where it was written.
    pub chosen: Option<Span>,
}

/// An expression.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A fact of the case.
    Fact(CaseRef),
    /// A value of a year's law.
    Law(TaxYear, LawKey),
    /// A number that belongs to a unit of measure, such as the two halves of a kilowatt.
    Number(u32, &'static str),
    /// Another figure; its absence is a fault, never a silent zero.
    Figure(Place),
    /// Rows picked by their amount, or by the amount on another line of the same row.
    Rows {
        /// The rows.
        rows: Vec<Place>,
        /// The places whose amounts give the order, one per row; empty where the rows order themselves.
        by: Vec<Place>,
        /// Which of them.
        pick: Pick,
    },
    /// The words that belong to the n-th largest row, such as its maker's code.
    WordsOfRow {
        /// The rows.
        rows: Vec<Place>,
        /// The places whose amounts give the order, one per row; empty where the rows order themselves.
        by: Vec<Place>,
        /// The words of each row.
        words: Vec<CaseRef>,
        /// Which row, from one.
        nth: u8,
    },
    /// A sum; of nothing it is zero.
    Sum(Vec<Expr>),
    /// A difference.
    Less(Box<Expr>, Box<Expr>),
    /// A product.
    Times(Box<Expr>, Box<Expr>),
    /// Whole times part divided by of: one exact step. Nothing when there is nothing to divide by.
    Share {
        /// The whole.
        whole: Box<Expr>,
        /// The part.
        part: Box<Expr>,
        /// What the part is a part of.
        of: Box<Expr>,
    },
    /// The smallest.
    Smaller(Vec<Expr>),
    /// Not below zero.
    NotBelowZero(Box<Expr>),
    /// One expression where an amount passes a limit, another where it does not.
    Passing {
        /// The amount.
        amount: Box<Expr>,
        /// The limit.
        limit: Box<Expr>,
        /// What stands when the amount is above the limit.
        above: Box<Expr>,
        /// What stands otherwise.
        otherwise: Box<Expr>,
    },
    /// A rounding.
    Round(Rounding, Box<Expr>),
    /// A decision about an amount.
    Ruled(Ruling, Box<Expr>),
    /// An answer the plan has read from facts: yes, no, or words; with the reason and the facts.
    Answer {
        /// The answer.
        value: Value,
        /// Why.
        because: String,
        /// The facts.
        from: Vec<CaseRef>,
    },
}

impl Expr {
    /// Returns what stands inside roundings and decisions.
    pub fn bare(&self) -> &Expr {
        match self {
            Expr::Round(_, inner) | Expr::Ruled(_, inner) => inner.bare(),
            other => other,
        }
    }

    /// A figure about the return as a whole.
    pub fn at(year: TaxYear, line: super::line::Line) -> Expr {
        Expr::Figure(Place::of_return(year, line))
    }

    /// Nothing: an empty sum.
    pub fn nothing() -> Expr {
        Expr::Sum(Vec::new())
    }

    /// A difference.
    pub fn less(self, other: Expr) -> Expr {
        Expr::Less(Box::new(self), Box::new(other))
    }

    /// A product.
    pub fn times(self, other: Expr) -> Expr {
        Expr::Times(Box::new(self), Box::new(other))
    }

    /// Not below zero.
    pub fn not_below_zero(self) -> Expr {
        Expr::NotBelowZero(Box::new(self))
    }

    /// The smaller of the two.
    pub fn or_smaller(self, other: Expr) -> Expr {
        Expr::Smaller(vec![self, other])
    }

    /// Rounded.
    pub fn rounded(self, rounding: Rounding) -> Expr {
        Expr::Round(rounding, Box::new(self))
    }

    /// This times part divided by of.
    pub fn share(self, part: Expr, of: Expr) -> Expr {
        Expr::Share { whole: Box::new(self), part: Box::new(part), of: Box::new(of) }
    }

    /// Subject to a ruling.
    pub fn ruled(self, ruling: Ruling) -> Expr {
        Expr::Ruled(ruling, Box::new(self))
    }

    /// Returns the expressions directly inside, in the order they are read.
    pub fn inside(&self) -> Vec<&Expr> {
        match self {
            Expr::Sum(parts) | Expr::Smaller(parts) => parts.iter().collect(),
            Expr::Less(a, b) | Expr::Times(a, b) => vec![a, b],
            Expr::Share { whole, part, of } => vec![whole, part, of],
            Expr::Passing { amount, limit, above, otherwise } => vec![amount, limit, above, otherwise],
            Expr::NotBelowZero(inner) | Expr::Round(_, inner) | Expr::Ruled(_, inner) => vec![inner],
            _ => Vec::new(),
        }
    }

    /// Returns the rulings anywhere inside.
    pub fn rulings(&self) -> Vec<&Ruling> {
        let mut found: Vec<&Ruling> = self.inside().into_iter().flat_map(Expr::rulings).collect();
        if let Expr::Ruled(ruling, _) = self {
            found.insert(0, ruling);
        }
        found
    }

    /// Prints the expression in words, as the "how" column shows it. Figures are named by their line; figures of
    /// the same year and row are named by the number alone.
    pub fn how(&self, here: &Place, law: &Law) -> String {
        Words { here, law, values: None }.expr(self, false)
    }

    /// Prints the expression with the amounts of its figures and facts in place of their names, each name behind its
    /// amount.
    pub fn worked(&self, here: &Place, law: &Law, values: Values<'_>) -> String {
        Words { here, law, values: Some(values) }.expr(self, false)
    }
}

/// Returns the value of a law key in a year.
pub fn law_value(law: &Law, year: TaxYear, key: LawKey) -> Option<Value> {
    let value = law.year(year)?.values.get(&key)?;
    Some(match value.amount {
        Amount::Money(money) => Value::Money(money),
        Amount::Rate(rate) => Value::Rate(rate.factor()),
        Amount::Quantity(quantity) => Value::Quantity(quantity),
    })
}

/// So many rows are written out with their amounts.
const FEW: usize = 8;

/// Looks up the value of a figure.
type Values<'a> = &'a dyn Fn(&Place) -> Option<Value>;

/// Prints expressions in words.
struct Words<'a> {
    here: &'a Place,
    law: &'a Law,
    /// The figures' values, where amounts are wanted.
    values: Option<Values<'a>>,
}

impl Words<'_> {
    /// `nested`: whether an enclosing operation needs this one set apart.
    fn expr(&self, expr: &Expr, nested: bool) -> String {
        match expr {
            Expr::Fact(fact) if self.values.is_some() => format!("{} ({})", fact.value.shown(), fact.words),
            Expr::Fact(_) => "from the case".to_string(),
            Expr::Law(year, key) => match law_value(self.law, *year, *key) {
                Some(Value::Money(money)) => money.spoken(),
                Some(other) => other.plain(),
                None => format!("{} of {year}", key.label()),
            },
            Expr::Number(number, "units" | "unit" | "whole") => number.to_string(),
            Expr::Number(number, "dollars") => format!("${number}"),
            Expr::Number(number, unit) => format!("{number} {unit}"),
            Expr::Figure(place) => self.place(place),
            Expr::Rows { rows, pick, .. } => {
                if self.values.is_some() && (1..=FEW).contains(&rows.len()) {
                    let all: Vec<String> = rows.iter().map(|place| self.place(place)).collect();
                    let all = all.join(", ");
                    return match pick {
                        Pick::Nth(1) => format!("largest of {all}"),
                        Pick::Nth(n) => format!("{} largest of {all}", ordinal(*n)),
                        Pick::After(n) => format!("all after the {} largest of {all}", count(*n)),
                    };
                }
                let line = rows.first().map_or_else(|| "no rows".to_string(), |place| place.line.to_string());
                match pick {
                    Pick::Nth(1) => format!("largest {line}"),
                    Pick::Nth(n) => format!("{} largest {line}", ordinal(*n)),
                    Pick::After(n) => format!("{line} after the {} largest", count(*n)),
                }
            }
            Expr::WordsOfRow { nth: 1, .. } => "of the costliest".to_string(),
            Expr::WordsOfRow { nth, .. } => format!("of the {} costliest", ordinal(*nth)),
            Expr::Sum(parts) => self.sum(parts, nested),
            Expr::Less(a, b) if self.values.is_some() && **a == Expr::nothing() => {
                format!("\u{2212}{}", self.expr(b, true))
            }
            Expr::Less(a, b) => {
                set_apart(nested, format!("{} \u{2212} {}", self.expr(a, false), self.expr(b, true)))
            }
            Expr::Times(a, b) => format!("{} \u{d7} {}", self.expr(a, true), self.expr(b, true)),
            Expr::Share { whole, part, of } => {
                let part = format!("{} / {}", self.expr(part, true), self.expr(of, true));
                match whole.as_ref() {
                    Expr::Number(1, "whole") => part,
                    whole => format!("{} \u{d7} {part}", self.expr(whole, true)),
                }
            }
            Expr::Smaller(parts) => {
                let words: Vec<String> = parts.iter().map(|part| self.expr(part, false)).collect();
                set_apart(nested, format!("smaller of {}", words.join(" and ")))
            }
            Expr::NotBelowZero(inner) => {
                set_apart(nested, format!("{}, not below 0", self.expr(inner, false)))
            }
            Expr::Passing { amount, limit, above, otherwise } => set_apart(
                nested,
                format!(
                    "{} if {} is above {}, else {}",
                    match above.as_ref() {
                        Expr::Fact(_) => self.part(above),
                        other => self.expr(other, false),
                    },
                    self.expr(amount, true),
                    self.expr(limit, true),
                    self.expr(otherwise, false)
                ),
            ),
            Expr::Round(_, inner) => {
                let inside = self.expr(inner, false);
                match inner.as_ref() {
                    Expr::Fact(_) | Expr::Figure(_) | Expr::Rows { .. } => inside,
                    Expr::Sum(parts) if parts.is_empty() => inside,
                    _ => set_apart(nested, format!("{inside}, rounded")),
                }
            }
            Expr::Ruled(ruling, inner) => match ruling.counts {
                true => self.expr(inner, nested),
                false => "does not count".to_string(),
            },
            Expr::Answer { because, .. } => because.clone(),
        }
    }

    fn sum(&self, parts: &[Expr], nested: bool) -> String {
        let rows: Option<Vec<&Place>> = parts
            .iter()
            .map(|part| match part {
                Expr::Figure(place) => Some(place),
                _ => None,
            })
            .collect();
        match (parts.len(), rows) {
            (0, _) => "none".to_string(),
            (1, _) => self.expr(&parts[0], nested),
            (n, Some(places)) if self.values.is_some() && n <= FEW => {
                let words: Vec<String> = places.iter().map(|place| self.place(place)).collect();
                set_apart(nested, words.join(" + "))
            }
            (_, Some(places)) if rows_or_years(&places, self.here.year) => self.rows(&places),
            _ => {
                let words: Vec<String> = parts.iter().map(|part| self.part(part)).collect();
                set_apart(nested, words.join(" + "))
            }
        }
    }

    /// A part of a sum: a fact is named by what it is.
    fn part(&self, part: &Expr) -> String {
        match part {
            Expr::Fact(fact) if self.values.is_none() => fact.words.clone(),
            other => self.expr(other, true),
        }
    }

    /// A sum over rows, or over years: each line is named once, with the years.
    fn rows(&self, places: &[&Place]) -> String {
        let mut lines: Vec<Line> = places.iter().map(|place| place.line).collect();
        lines.sort();
        lines.dedup();
        let lines: Vec<String> = lines.iter().map(Line::to_string).collect();
        let lines = lines.join(", ");
        if let Some(numbers) = numbered(places) {
            return format!("sum of the {lines} rows {numbers}");
        }
        let years = || places.iter().map(|place| place.year);
        match (years().min(), years().max()) {
            (Some(first), Some(last)) if first != last => {
                format!("sum of the {lines} rows, {first} to {last}")
            }
            (Some(first), _) if first != self.here.year => format!("sum of the {lines} rows of {first}"),
            _ => format!("sum of the {lines} rows"),
        }
    }

    fn place(&self, place: &Place) -> String {
        let mut words = place.line.to_string();
        if place.of != self.here.of && place.of != Subject::Return {
            words = format!("{words}@{}", place.of);
        }
        if place.year != self.here.year {
            words = format!("{}:{words}", place.year);
        }
        match self.values.and_then(|value| value(place)) {
            Some(value) => format!("{} ({words})", value.shown()),
            None => words,
        }
    }
}

/// Names the rows of one item by their numbers, runs of them shortly: `1-4, 7`. None for other rows.
fn numbered(places: &[&Place]) -> Option<String> {
    let number = |place: &&Place| match place.of {
        Subject::Cost(_, n) | Subject::Incentive(_, n) => Some(n),
        _ => None,
    };
    let numbers: Vec<u16> = places.iter().map(number).collect::<Option<_>>()?;
    let mut runs: Vec<(u16, u16)> = Vec::new();
    for n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let words = runs.iter().map(|(first, last)| match first == last {
        true => first.to_string(),
        false => format!("{first}-{last}"),
    });
    Some(words.collect::<Vec<_>>().join(", "))
}

/// Says whether figures are better named as rows of a line than one by one: several on one line, or other years'.
fn rows_or_years(places: &[&Place], here: TaxYear) -> bool {
    let one_line = places.iter().all(|one| one.line == places[0].line);
    one_line || (places.len() > 3 && places.iter().any(|one| one.year != here))
}

/// Puts brackets round words that stand inside another operation.
fn set_apart(nested: bool, words: String) -> String {
    if nested { format!("({words})") } else { words }
}

/// Prints a small ordinal.
fn ordinal(n: u8) -> &'static str {
    ["first", "second", "third", "fourth"].get(n as usize - 1).copied().unwrap_or("next")
}

/// Prints a small number.
fn count(n: u8) -> &'static str {
    ["one", "two", "three", "four"].get(n as usize - 1).copied().unwrap_or("some")
}

/// Makes a share for a fact.
pub fn share_value(rate: Rate) -> Value {
    Value::Rate(rate.factor())
}
