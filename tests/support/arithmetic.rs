//! The arithmetic of the official forms, written as on them.
//!
//! Comes in: a text such as `min(18a x 30%, $1,200)`. Goes out: an [`Expression`] over the lines of the same
//! form, and its value. Knows no form: a bare number is a line, dollars bear `$`, a number that is no line
//! has a decimal point, rows are `(i)`, `(ii)`.

use gablework::money::{Money, Rate};
use rust_decimal::Decimal;

/// A computation over lines.
#[derive(Clone, Debug, PartialEq)]
pub enum Expression {
    /// An amount of dollars; `0` stands for none.
    Dollars(Money),
    /// A percentage.
    Share(Rate),
    /// Another line of the same form.
    Line(String),
    /// A row of the line itself, such as `(ii)`.
    Row(String),
    /// The kilowatts of the line itself.
    Kilowatts,
    /// The cost behind the line itself.
    Cost,
    /// A plain number: how many times something counts.
    Number(Decimal),
    /// A sum.
    Plus(Box<Expression>, Box<Expression>),
    /// A difference.
    Minus(Box<Expression>, Box<Expression>),
    /// A product.
    Times(Box<Expression>, Box<Expression>),
    /// The smallest.
    Smallest(Vec<Expression>),
    /// The largest.
    Largest(Vec<Expression>),
}

/// What a computation asks the form for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked<'a> {
    /// A line.
    Line(&'a str),
    /// A row of the line itself.
    Row(&'a str),
    /// The kilowatts of the line itself.
    Kilowatts,
    /// The cost behind the line itself.
    Cost,
}

impl Expression {
    /// Reads a computation; fails with the reason in words.
    pub fn read(text: &str) -> Result<Expression, String> {
        let mut reading = Reading { rest: text };
        let expression = reading.sum()?;
        match reading.peek() {
            "" => Ok(expression),
            rest => Err(format!("`{text}`: `{rest}` was not expected")),
        }
    }

    /// Returns its value, exact; the lines come from `figure`, where a blank line is nothing.
    pub fn value(&self, figure: &dyn Fn(Asked) -> Decimal) -> Decimal {
        let values = |all: &[Expression]| all.iter().map(|one| one.value(figure)).collect::<Vec<_>>();
        match self {
            Expression::Dollars(money) => money.decimal(),
            Expression::Share(rate) => rate.factor(),
            Expression::Line(line) => figure(Asked::Line(line)),
            Expression::Row(row) => figure(Asked::Row(row)),
            Expression::Kilowatts => figure(Asked::Kilowatts),
            Expression::Cost => figure(Asked::Cost),
            Expression::Number(number) => *number,
            Expression::Plus(a, b) => a.value(figure) + b.value(figure),
            Expression::Minus(a, b) => a.value(figure) - b.value(figure),
            Expression::Times(a, b) => a.value(figure) * b.value(figure),
            Expression::Smallest(all) => values(all).into_iter().min().unwrap_or_default(),
            Expression::Largest(all) => values(all).into_iter().max().unwrap_or_default(),
        }
    }

    /// Says whether it is the same on every form filled in: an amount of dollars that is printed there.
    pub fn is_printed(&self) -> bool {
        matches!(self, Expression::Dollars(_))
    }

    /// Returns the lines it is made of.
    pub fn lines(&self) -> Vec<&str> {
        match self {
            Expression::Line(line) => vec![line],
            Expression::Plus(a, b) | Expression::Minus(a, b) | Expression::Times(a, b) => {
                [a.lines(), b.lines()].concat()
            }
            Expression::Smallest(all) | Expression::Largest(all) => {
                all.iter().flat_map(|one| one.lines()).collect()
            }
            _ => Vec::new(),
        }
    }
}

struct Reading<'a> {
    rest: &'a str,
}

impl<'a> Reading<'a> {
    fn peek(&mut self) -> &'a str {
        self.rest = self.rest.trim_start();
        self.rest
    }

    fn takes(&mut self, token: &str) -> bool {
        match self.peek().strip_prefix(token) {
            Some(rest) => {
                self.rest = rest;
                true
            }
            None => false,
        }
    }

    fn expect(&mut self, token: &str) -> Result<(), String> {
        if self.takes(token) { Ok(()) } else { Err(format!("`{token}` is missing before `{}`", self.rest)) }
    }

    fn sum(&mut self) -> Result<Expression, String> {
        let mut left = self.product()?;
        loop {
            if self.takes("+") {
                left = Expression::Plus(Box::new(left), Box::new(self.product()?));
            } else if self.takes("-") {
                left = Expression::Minus(Box::new(left), Box::new(self.product()?));
            } else {
                return Ok(left);
            }
        }
    }

    fn product(&mut self) -> Result<Expression, String> {
        let mut left = self.single()?;
        while self.takes("x ") {
            left = Expression::Times(Box::new(left), Box::new(self.single()?));
        }
        Ok(left)
    }

    fn list(&mut self) -> Result<Vec<Expression>, String> {
        let mut all = vec![self.sum()?];
        while self.takes(",") {
            all.push(self.sum()?);
        }
        self.expect(")")?;
        Ok(all)
    }

    fn single(&mut self) -> Result<Expression, String> {
        if self.takes("min(") {
            return self.list().map(Expression::Smallest);
        }
        if self.takes("max(") {
            return self.list().map(Expression::Largest);
        }
        if self.takes("kW") {
            return Ok(Expression::Kilowatts);
        }
        if self.takes("cost") {
            return Ok(Expression::Cost);
        }
        let row = self.peek().strip_prefix('(').and_then(|rest| rest.split_once(')'));
        if let Some((row, rest)) = row
            && !row.is_empty()
            && row.bytes().all(|b| matches!(b, b'i' | b'v' | b'x'))
        {
            self.rest = rest;
            return Ok(Expression::Row(format!("({row})")));
        }
        if self.takes("(") {
            let inner = self.sum()?;
            self.expect(")")?;
            return Ok(inner);
        }
        // The comma inside `$1,200` separates thousands; the one of a list is followed by a blank.
        let end = self.rest.find([' ', ')', '+']).unwrap_or(self.rest.len());
        let (word, rest) = self.rest.split_at(end);
        let (word, rest) = match word.strip_suffix(',') {
            Some(shorter) => (shorter, &self.rest[shorter.len()..]),
            None => (word, rest),
        };
        self.rest = rest;
        if word == "0" {
            Ok(Expression::Dollars(Money::ZERO))
        } else if word.starts_with('$') {
            Money::read(word).map(Expression::Dollars).map_err(|reason| format!("`{word}`: {reason}"))
        } else if word.ends_with('%') {
            Rate::read(word).map(Expression::Share).map_err(|reason| format!("`{word}`: {reason}"))
        } else if is_line(word) {
            Ok(Expression::Line(word.to_string()))
        } else if let Some(number) = word.contains('.').then(|| word.parse().ok()).flatten() {
            Ok(Expression::Number(number))
        } else {
            Err(format!("`{word}` is neither a line, nor dollars, nor a percentage"))
        }
    }
}

/// Says whether a word names a line: digits, and at most one small letter.
fn is_line(word: &str) -> bool {
    let digits = word.trim_end_matches(|c: char| c.is_ascii_lowercase());
    word.len() - digits.len() <= 1 && !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())
}
