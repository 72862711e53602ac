//! The only arithmetic in the program: from steps to figures.
//!
//! Comes in: steps in order, the law, and the figures already made. Goes out: figures, each with its value, the
//! expression it came from, and every operand that was used. Knows no rule of tax.

pub mod credits;
pub mod expression;
pub mod line;

pub use expression::{CaseRef, Expr, Ruling, Value};
pub use line::{Line, LineKind, Place, Subject};

use crate::case::TaxYear;
use crate::law::{Credit, Law, LawKey};
use crate::money::{Money, Quantity};
use expression::{Pick, Rounding, law_value};
use rust_decimal::{Decimal, RoundingStrategy};
use std::collections::HashMap;

/// A line that will be made: where it stands, how, and under which rules.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Where it stands.
    pub place: Place,
    /// What the row is called, where the line's own label does not say it.
    pub about: Option<String>,
    /// How it is made.
    pub expr: Expr,
    /// The rules it rests on, as source references.
    pub authority: Vec<String>,
}

/// One operand that a figure used.
#[derive(Clone, Debug, PartialEq)]
pub enum Used {
    /// Another figure.
    Figure(Place, Value),
    /// A value of the law.
    Law(TaxYear, LawKey, Value),
    /// A fact of the case.
    Fact(CaseRef),
}

/// A line that has been made.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Where it stands.
    pub place: Place,
    /// What it is called, years filled in.
    pub label: String,
    /// What the row is about, where the label does not say it.
    pub about: Option<String>,
    /// Its value.
    pub value: Value,
    /// How it was made.
    pub expr: Expr,
    /// The expression in words.
    pub how: String,
    /// Every operand, in the order it was used.
    pub used: Vec<Used>,
    /// The rules it rests on, those of its law values and rulings included.
    pub authority: Vec<String>,
}

impl Figure {
    /// Returns the decisions inside the figure's expression.
    pub fn rulings(&self) -> Vec<&Ruling> {
        self.expr.rulings()
    }
}

/// All figures of a case, in the order they were made.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    list: Vec<Figure>,
    by_place: HashMap<Place, usize>,
}

impl Figures {
    /// Returns the figure at a place.
    pub fn get(&self, place: &Place) -> Option<&Figure> {
        self.by_place.get(place).map(|at| &self.list[*at])
    }

    /// Returns the amount at a place; nothing where no figure stands.
    pub fn money(&self, place: &Place) -> Option<Money> {
        self.get(place)?.value.money()
    }

    /// Returns the figures of a year, in the order of lines and, within a line, of the case.
    pub fn of_year(&self, year: TaxYear) -> Vec<&Figure> {
        let mut found: Vec<&Figure> = self.list.iter().filter(|figure| figure.place.year == year).collect();
        found.sort_by_key(|figure| (figure.place.line.sheet(), figure.place.line));
        found
    }

    /// Returns all figures.
    pub fn all(&self) -> &[Figure] {
        &self.list
    }

    fn add(&mut self, figure: Figure) -> Result<(), Fault> {
        let place = figure.place.clone();
        if self.by_place.insert(place.clone(), self.list.len()).is_some() {
            return Err(Fault { place, missing: "the line is planned twice".to_string() });
        }
        self.list.push(figure);
        Ok(())
    }
}

/// A mistake of the plan, never of the case: the program's own fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// The line that could not be made.
    pub place: Place,
    /// What it lacked.
    pub missing: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {} cannot be made: {}", self.place, self.missing)
    }
}

impl std::error::Error for Fault {}

/// Makes the figures of the steps, in their order.
///
/// Fails when a step asks for a figure or a law value that is not there.
pub fn evaluate(steps: Vec<Step>, law: &Law, figures: &mut Figures) -> Result<(), Fault> {
    for step in steps {
        let mut work =
            Work { law, figures, place: &step.place, used: Vec::new(), authority: step.authority.clone() };
        let value = work.value(&step.expr)?;
        let Work { used, mut authority, .. } = work;
        for ruling in step.expr.rulings() {
            authority.extend(ruling.authority.iter().cloned());
        }
        let mut seen = std::collections::HashSet::new();
        authority.retain(|source| seen.insert(source.clone()));
        let how = step.expr.how(&step.place, law);
        let label = label(&step.place, law);
        figures.add(Figure {
            label,
            about: step.about,
            value,
            how,
            used,
            authority,
            expr: step.expr,
            place: step.place,
        })?;
    }
    Ok(())
}

/// A limit that was smaller than the amount before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bound {
    /// The amount before the limit.
    pub before: Money,
    /// The limit, or this return's share of it.
    pub limit: Money,
    /// The law's whole limit, where `limit` is this return's share of it.
    pub shared: Option<Money>,
}

/// Returns the limit that made a figure smaller than it would have been, where one did: the figure is the smaller of
/// an amount and limits, or another amount where one passes a limit.
pub fn bound(figure: &Figure, law: &Law, figures: &Figures) -> Option<Bound> {
    let mut work = Work { law, figures, place: &figure.place, used: Vec::new(), authority: Vec::new() };
    let mut money = |expr: &Expr| work.number(expr).ok().map(Money::exact);
    let (before, limit, from) = match figure.expr.bare() {
        Expr::Smaller(parts) => {
            let (first, limits) = parts.split_first()?;
            let known = limits.iter().filter_map(|limit| Some((money(limit)?, limit)));
            let (amount, limit) = known.min_by_key(|(amount, _)| *amount)?;
            (money(first)?, amount, limit)
        }
        Expr::Passing { amount, above, .. } => (money(amount)?, figure.value.money()?, above.as_ref()),
        _ => return None,
    };
    let shared = whole(from, figures).and_then(&mut money);
    (limit < before).then_some(Bound { before, limit, shared })
}

/// Returns the limit of which an expression takes a share; none where it takes a limit whole.
fn whole<'e>(limit: &'e Expr, figures: &'e Figures) -> Option<&'e Expr> {
    match limit.bare() {
        Expr::Share { whole, .. } => Some(whole),
        Expr::Figure(place) => whole(&figures.get(place)?.expr, figures),
        Expr::Smaller(parts) => parts.iter().find_map(|part| whole(part, figures)),
        _ => None,
    }
}

/// Works out an amount that stands on no line, such as one that a finding offers.
pub fn amount(expr: &Expr, at: &Place, law: &Law, figures: &Figures) -> Option<Money> {
    let mut work = Work { law, figures, place: at, used: Vec::new(), authority: Vec::new() };
    work.number(expr).ok().map(Money::exact)
}

/// Returns the rank of each row by its amount, the largest first, from one; equal amounts stand in case order. None where
/// a figure is not there.
pub fn ranks(rows: &[Place], by: &[Place], figures: &Figures) -> Option<Vec<usize>> {
    let at = by.first().or(rows.first())?;
    let order = order(rows, by, figures, at).ok()?;
    let mut ranks = vec![0; rows.len()];
    for (rank, row) in order.into_iter().enumerate() {
        ranks[row] = rank + 1;
    }
    Some(ranks)
}

/// Returns the rows' indices, largest amount first; equal amounts stay in case order. `at` is the line that asks.
fn order(rows: &[Place], by: &[Place], figures: &Figures, at: &Place) -> Result<Vec<usize>, Fault> {
    let fault = |missing: String| Fault { place: at.clone(), missing };
    let measured = if by.is_empty() { rows } else { by };
    let amounts: Vec<Decimal> = measured
        .iter()
        .map(|place| {
            let figure = figures.get(place).ok_or_else(|| fault(format!("there is no line {place}")))?;
            figure.value.number().ok_or_else(|| fault(format!("line {place} is no number")))
        })
        .collect::<Result<_, _>>()?;
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by(|a, b| amounts[*b].cmp(&amounts[*a]));
    Ok(order)
}

/// Fills the years and the year's names of the credits into a line's label.
fn label(place: &Place, law: &Law) -> String {
    let template = place.line.label();
    if !template.contains('{') {
        return template.to_string();
    }
    let year = law.year(place.year);
    let mut label = template.to_string();
    for credit in Credit::ALL {
        let blank = format!("{{{credit}}}");
        if label.contains(&blank) {
            label = label.replace(&blank, year.map_or(credit.called(), |year| year.called(*credit)));
        }
    }
    label
        .replace("{year}", &place.year.to_string())
        .replace("{before}", &place.year.before().to_string())
        .replace("{after}", &place.year.after().to_string())
}

/// So many digits behind the point are the same whatever order amounts were divided and added in.
const TRUSTED_DIGITS: u32 = 15;

/// The making of one figure; notes every operand.
struct Work<'a> {
    law: &'a Law,
    figures: &'a Figures,
    place: &'a Place,
    used: Vec<Used>,
    authority: Vec<String>,
}

impl Work<'_> {
    fn value(&mut self, expr: &Expr) -> Result<Value, Fault> {
        match (self.place.line.kind(), expr) {
            (_, Expr::Answer { value, from, .. }) => {
                self.used.extend(from.iter().cloned().map(Used::Fact));
                Ok(value.clone())
            }
            (LineKind::Text, Expr::WordsOfRow { rows, by, words, nth }) => {
                self.words_of_row(rows, by, words, *nth)
            }
            (LineKind::Money, _) => Ok(Value::Money(Money::exact(self.number(expr)?))),
            (LineKind::Rate, _) => Ok(Value::Rate(self.number(expr)?)),
            (LineKind::Quantity, _) => Ok(Value::Quantity(Quantity(self.number(expr)?))),
            (LineKind::YesNo | LineKind::Text, _) => {
                Err(self.fault("its kind and its expression do not fit"))
            }
        }
    }

    fn number(&mut self, expr: &Expr) -> Result<Decimal, Fault> {
        match expr {
            Expr::Fact(fact) => {
                self.used.push(Used::Fact(fact.clone()));
                fact.value.number().ok_or_else(|| self.fault(format!("{} is no number", fact.path)))
            }
            Expr::Law(year, key) => {
                let value = law_value(self.law, *year, *key)
                    .ok_or_else(|| self.fault(format!("the law of {year} has no {}", key.word())))?;
                let entry = self.law.year(*year).and_then(|law| law.values.get(key));
                self.authority.extend(entry.iter().flat_map(|entry| entry.authority.source.iter().cloned()));
                self.used.push(Used::Law(*year, *key, value.clone()));
                value.number().ok_or_else(|| self.fault(format!("{} is no number", key.word())))
            }
            Expr::Number(number, _) => Ok(Decimal::from(*number)),
            Expr::Figure(place) => self.at(place),
            Expr::Rows { rows, by, pick } => {
                let order = order(rows, by, self.figures, self.place)?;
                let picked: Vec<usize> = match pick {
                    Pick::Nth(n) => order.into_iter().skip(*n as usize - 1).take(1).collect(),
                    Pick::After(n) => order.into_iter().skip(*n as usize).collect(),
                };
                picked.into_iter().map(|row| self.at(&rows[row])).sum()
            }
            Expr::Sum(parts) => parts.iter().map(|part| self.number(part)).sum(),
            Expr::Less(a, b) => Ok(self.number(a)? - self.number(b)?),
            Expr::Times(a, b) => Ok(self.number(a)? * self.number(b)?),
            Expr::Share { whole, part, of } => {
                let (whole, part, of) = (self.number(whole)?, self.number(part)?, self.number(of)?);
                Ok(if of.is_zero() { Decimal::ZERO } else { whole * part / of })
            }
            Expr::Smaller(parts) => {
                let values: Vec<Decimal> =
                    parts.iter().map(|part| self.number(part)).collect::<Result<_, _>>()?;
                values.into_iter().min().ok_or_else(|| self.fault("the smaller of nothing"))
            }
            Expr::NotBelowZero(inner) => Ok(self.number(inner)?.max(Decimal::ZERO)),
            Expr::Passing { amount, limit, above, otherwise } => {
                let passes = self.number(amount)? > self.number(limit)?;
                self.number(if passes { above } else { otherwise })
            }
            Expr::Round(rounding, inner) => {
                let places = match rounding {
                    Rounding::EntryInWholeDollars => 0,
                    Rounding::ProductInCents => 2,
                    Rounding::ShareInTenthsOfPercent => 3,
                };
                // Parts that a division has left with a long tail, such as thirds, come to half a dollar together only
                // but for the last of their digits.
                let number = self
                    .number(inner)?
                    .round_dp_with_strategy(TRUSTED_DIGITS, RoundingStrategy::MidpointAwayFromZero);
                Ok(number.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero))
            }
            Expr::Ruled(ruling, inner) => {
                let amount = self.number(inner)?;
                Ok(if ruling.counts { amount } else { Decimal::ZERO })
            }
            Expr::Answer { .. } | Expr::WordsOfRow { .. } => {
                Err(self.fault("words stand where a number belongs"))
            }
        }
    }

    fn at(&mut self, place: &Place) -> Result<Decimal, Fault> {
        let figure =
            self.figures.get(place).ok_or_else(|| self.fault(format!("there is no line {place}")))?;
        self.used.push(Used::Figure(place.clone(), figure.value.clone()));
        figure.value.number().ok_or_else(|| self.fault(format!("line {place} is no number")))
    }

    fn words_of_row(
        &mut self,
        rows: &[Place],
        by: &[Place],
        words: &[CaseRef],
        nth: u8,
    ) -> Result<Value, Fault> {
        let order = order(rows, by, self.figures, self.place)?;
        let row = order.get(nth as usize - 1).ok_or_else(|| self.fault("there are fewer rows"))?;
        let fact = words.get(*row).ok_or_else(|| self.fault("a row has no words"))?;
        self.used.push(Used::Fact(fact.clone()));
        Ok(fact.value.clone())
    }

    fn fault(&self, missing: impl Into<String>) -> Fault {
        Fault { place: self.place.clone(), missing: missing.into() }
    }
}
