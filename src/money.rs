//! Exact amounts, rates and the roundings the law asks for.
//!
//! Comes in: the text of an amount or a percentage. Goes out: [`Money`], [`Rate`] and the only ways to
//! round or print them. Knows nothing of tax; no binary float exists here or anywhere else in the program.

use crate::wording::grouped;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use std::fmt;

/// An exact amount of US dollars. May carry fractions of a cent between two roundings; never a float.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Money(Decimal);

impl Money {
    /// No dollars.
    pub const ZERO: Money = Money(Decimal::ZERO);

    /// Makes whole dollars.
    pub fn dollars(dollars: i64) -> Money {
        Money(Decimal::from(dollars))
    }

    /// Makes an amount from cents.
    pub fn cents(cents: i64) -> Money {
        Money(Decimal::new(cents, 2))
    }

    /// Wraps an exact number of dollars.
    pub fn exact(dollars: Decimal) -> Money {
        Money(dollars)
    }

    /// Returns the exact number of dollars.
    pub fn decimal(self) -> Decimal {
        self.0
    }

    /// Says whether the amount is exactly nothing.
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// Says whether the amount lies below zero.
    pub fn is_negative(self) -> bool {
        self.0 < Decimal::ZERO
    }

    /// Reads an amount as people write it: `12500`, `12,500.00`, `$12,500`.
    ///
    /// Fails with the reason in words, without the text itself: the caller knows where it stands.
    pub fn read(text: &str) -> Result<Money, &'static str> {
        let body = text.strip_prefix('$').map_or(text, |rest| rest.trim_start());
        if body.starts_with('-') || (body.starts_with('(') && body.ends_with(')')) {
            return Err("amounts are never negative here");
        }
        let (whole, cents) = match body.split_once('.') {
            Some((whole, cents)) => (whole, Some(cents)),
            None => (body, None),
        };
        if let Some(cents) = cents
            && (cents.is_empty() || cents.len() > 2 || !cents.bytes().all(|b| b.is_ascii_digit()))
        {
            return Err("write one or two digits of cents after the point");
        }
        let digits = plain_digits(whole)?;
        if digits.len() > 12 {
            return Err("the amount is larger than any this program can be asked about");
        }
        let mut number: Decimal = digits.parse().map_err(|_| "not a plain amount")?;
        if let Some(cents) = cents {
            let units: i64 = cents.parse().map_err(|_| "not a plain amount")?;
            number += Decimal::new(units, cents.len() as u32);
        }
        number.rescale(2);
        Ok(Money(number))
    }

    /// Rounds half up to whole dollars, as the entry of an amount on a return is rounded
    /// (26 U.S.C. 6102(a); 26 CFR 301.6102-1).
    pub fn to_whole_dollars(self) -> Money {
        Money(self.0.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero))
    }

    /// Rounds half up to the cent, where a product or a share has to become money.
    pub fn to_cents(self) -> Money {
        Money(self.0.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero))
    }

    /// Returns whole cents, as the length of a bar; what is smaller than a cent is cut off.
    pub fn in_cents(self) -> i64 {
        // No sum of amounts that can be written has more cents than the number holds.
        (self.0 * Decimal::ONE_HUNDRED).to_i64().unwrap_or(i64::MAX)
    }

    /// Prints two decimals and no sign or separator: `12500.00`. This is the form of the data files.
    pub fn plain(self) -> String {
        let mut cents = self.to_cents().0;
        if cents.is_zero() {
            cents = Decimal::ZERO;
        }
        format!("{cents:.2}")
    }

    /// Prints with thousands separators and two decimals: `12,500.00`. This is the form of the pages. A share with
    /// fractions of a cent has so many more that it shows to which whole dollar it is rounded: `1,315.499`.
    pub fn grouped(self) -> String {
        let plain = match self.to_cents().to_whole_dollars() == self.to_whole_dollars() {
            true => self.plain(),
            false => self.telling(),
        };
        let (sign, digits) = plain.strip_prefix('-').map_or(("", plain.as_str()), |rest| ("\u{2212}", rest));
        let (whole, cents) = digits.split_once('.').unwrap_or((digits, "00"));
        format!("{sign}{}.{cents}", grouped(whole))
    }

    /// Prints the decimals that show to which whole dollar the amount is rounded.
    fn telling(self) -> String {
        let rounded = |digits| self.0.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
        let tells = |number: &Decimal| Money(*number).to_whole_dollars() == self.to_whole_dollars();
        (3..28).map(rounded).find(tells).unwrap_or(self.0).to_string()
    }

    /// Prints for running text: `$12,500` where there are no cents, `$12,500.40` where there are.
    pub fn spoken(self) -> String {
        let grouped = self.grouped();
        let short = grouped.strip_suffix(".00").unwrap_or(&grouped);
        match short.strip_prefix('\u{2212}') {
            Some(rest) => format!("\u{2212}${rest}"),
            None => format!("${short}"),
        }
    }
}

/// How the amounts of one column or drawing are printed: without cents where none of them has any.
#[derive(Clone, Copy, Debug)]
pub struct Printer {
    whole: bool,
}

impl Printer {
    /// Looks at the amounts that will stand beside each other.
    pub fn of(amounts: impl IntoIterator<Item = Money>) -> Printer {
        Printer { whole: amounts.into_iter().all(|amount| amount.grouped().ends_with(".00")) }
    }

    /// Prints one of them: `12,500`, or `12,500.00` where another has cents.
    pub fn print(self, amount: Money) -> String {
        let grouped = amount.grouped();
        match grouped.strip_suffix(".00") {
            Some(short) if self.whole => short.to_string(),
            _ => grouped,
        }
    }
}

impl std::ops::Add for Money {
    type Output = Money;
    fn add(self, other: Money) -> Money {
        Money(self.0 + other.0)
    }
}

impl std::ops::Sub for Money {
    type Output = Money;
    fn sub(self, other: Money) -> Money {
        Money(self.0 - other.0)
    }
}

impl std::iter::Sum for Money {
    fn sum<I: Iterator<Item = Money>>(amounts: I) -> Money {
        amounts.fold(Money::ZERO, |total, amount| total + amount)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.plain())
    }
}

/// A part of a whole, from nothing to all of it; `30%` is 0.30. Made only from a written percentage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rate(Decimal);

impl Rate {
    /// The whole: 100%.
    pub const WHOLE: Rate = Rate(Decimal::ONE);
    /// Nothing: 0%.
    pub const NOTHING: Rate = Rate(Decimal::ZERO);

    /// Reads a percentage between 0% and 100%; the sign is required, so that 0.3 and 30 cannot be confused.
    ///
    /// Fails with the reason in words.
    pub fn read(text: &str) -> Result<Rate, &'static str> {
        let Some(number) = text.strip_suffix('%') else {
            return Err("a percentage ends in %, such as 30%");
        };
        let number = number.trim_end();
        let (whole, part) = number.split_once('.').unwrap_or((number, ""));
        let dotted = number.contains('.');
        if whole.is_empty() || whole.len() > 3 || !whole.bytes().all(|b| b.is_ascii_digit()) {
            return Err("a percentage is a plain number and %, such as 30% or 1.25%");
        }
        if dotted && (part.is_empty() || part.len() > 8 || !part.bytes().all(|b| b.is_ascii_digit())) {
            return Err("a percentage is a plain number and %, such as 30% or 1.25%");
        }
        let percent: Decimal = number.parse().map_err(|_| "not a percentage")?;
        if percent > Decimal::ONE_HUNDRED {
            return Err("a share lies between 0% and 100%");
        }
        Ok(Rate((percent / Decimal::ONE_HUNDRED).normalize()))
    }

    /// Returns the exact factor: 0.30 for 30%.
    pub fn factor(self) -> Decimal {
        self.0
    }

    /// Returns the exact product with an amount; rounding is the caller's next, named step.
    pub fn of(self, amount: Money) -> Money {
        Money(amount.0 * self.0)
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}%", (self.0 * Decimal::ONE_HUNDRED).normalize())
    }
}

/// A measured quantity of a product, such as kilowatts or kilowatt-hours. The unit stands with the fact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quantity(pub Decimal);

impl Quantity {
    /// Reads a plain decimal number, with at most six digits before and four after the point.
    pub fn read(text: &str) -> Result<Quantity, &'static str> {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let fine = !whole.is_empty()
            && whole.len() <= 6
            && part.len() <= 4
            && whole.bytes().chain(part.bytes()).all(|b| b.is_ascii_digit())
            && (!text.contains('.') || !part.is_empty());
        if !fine {
            return Err("a quantity is a plain number, such as 13.5");
        }
        text.parse().map(Quantity).map_err(|_| "a quantity is a plain number, such as 13.5")
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.normalize())
    }
}

/// Removes thousands separators where they stand rightly, and refuses everything else that is no digit.
fn plain_digits(whole: &str) -> Result<String, &'static str> {
    let groups: Vec<&str> = whole.split(',').collect();
    if groups.iter().any(|g| g.is_empty() || !g.bytes().all(|b| b.is_ascii_digit())) {
        return Err("not a plain amount; write it like 12500, 12500.00 or 12,500.00");
    }
    if groups.len() > 1 && (groups[0].len() > 3 || groups[1..].iter().any(|g| g.len() != 3)) {
        return Err("the comma separates thousands, in groups of three digits");
    }
    Ok(groups.concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_as_people_write_them() {
        for (text, plain) in [
            ("12500", "12500.00"),
            ("12,500.5", "12500.50"),
            ("$ 1,234.56", "1234.56"),
            ("$5", "5.00"),
            ("017", "17.00"),
        ] {
            assert_eq!(Money::read(text).map(Money::plain), Ok(plain.to_string()), "{text}");
        }
        for text in [
            "", "1e3", "0x10", "1_000", "1.234,56", "12,34", "1234,567", ".5", "5.", "-3", "(500)", "+5",
            "1.234", "~", "12 500",
        ] {
            assert!(Money::read(text).is_err(), "{text} must be refused");
        }
    }

    #[test]
    fn halves_round_up() {
        assert_eq!(Money::cents(250).to_whole_dollars(), Money::dollars(3));
        assert_eq!(Money::cents(249).to_whole_dollars(), Money::dollars(2));
        assert_eq!(Money::cents(150).to_whole_dollars(), Money::dollars(2));
    }

    #[test]
    fn percentages_need_their_sign_and_stay_exact() {
        assert_eq!(
            Rate::read("30%").unwrap().of(Money::cents(10001)),
            Money::exact("30.003".parse().unwrap())
        );
        assert_eq!(Rate::read("1.25%").unwrap().to_string(), "1.25%");
        for text in ["30", "0.3", "101%", "-1%", "%", "1.%", "3 0%", "1e1%"] {
            assert!(Rate::read(text).is_err(), "{text} must be refused");
        }
    }

    #[test]
    fn pages_show_separators() {
        assert_eq!(Money::cents(123456789).grouped(), "1,234,567.89");
        // A share whose cents would be rounded up to another dollar than the share itself.
        assert_eq!(Money::exact("1315.4993".parse().unwrap()).grouped(), "1,315.499");
        assert_eq!(Money::exact("1315.49996".parse().unwrap()).grouped(), "1,315.49996");
        assert_eq!(Money::exact("1315.4943".parse().unwrap()).grouped(), "1,315.49");
        assert_eq!(Money::dollars(6880).spoken(), "$6,880");
        assert_eq!((Money::ZERO - Money::dollars(40)).spoken(), "\u{2212}$40");
    }
}
