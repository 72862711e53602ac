//! Lengths on paper.
//!
//! Comes in: points and inches. Goes out: [`Length`], the only measure the layout knows. It is a whole number
//! of thousandths of a point, so that no sum depends on the order or the machine it is made on. Knows neither
//! fonts nor pages.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A length on paper, made only by naming its unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

impl Length {
    /// No length.
    pub const ZERO: Length = Length(0);

    /// How much more than the room a piece may take and still count as fitting: a fiftieth of a point, far
    /// below what print shows. It covers the rounding of measured words and nothing else.
    const SLACK: Length = Length(20);

    /// Makes a length of whole points, 72 to the inch.
    pub const fn points(points: i64) -> Length {
        Length(points * 1000)
    }

    /// Makes a length of thousandths of a point: 8.5 pt is `millipoints(8500)`.
    pub const fn millipoints(thousandths: i64) -> Length {
        Length(thousandths)
    }

    /// Makes a length of thousandths of an inch, without rounding: 2.63 in is `milli_inches(2630)`.
    pub const fn milli_inches(thousandths: i64) -> Length {
        Length(thousandths * 72)
    }

    /// Returns the length in thousandths of a point.
    pub const fn in_millipoints(self) -> i64 {
        self.0
    }

    /// Says whether a piece of this length goes into so much room. The only comparison layout makes of the
    /// two, so that every part of it gives the same slack.
    pub fn fits(self, room: Length) -> bool {
        self.0 <= room.0 + Length::SLACK.0
    }

    /// Takes a share of the length: `part` of `whole`, rounded down. No length where the whole is nothing.
    pub fn share(self, part: i64, whole: i64) -> Length {
        if whole == 0 {
            return Length::ZERO;
        }
        // A share may be taken by amounts of money in cents, so the product needs more room than a length.
        let share = i128::from(self.0) * i128::from(part) / i128::from(whole);
        Length(i64::try_from(share).unwrap_or(i64::MAX))
    }

    /// Returns the length, or nothing where it lies below nothing.
    pub fn or_nothing(self) -> Length {
        self.max(Length::ZERO)
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        self.0 += other.0;
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Length) {
        self.0 -= other.0;
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, times: i64) -> Length {
        Length(self.0 * times)
    }
}

impl Div<i64> for Length {
    type Output = Length;
    fn div(self, parts: i64) -> Length {
        Length(self.0 / parts)
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

/// Prints points, with as many decimals as are needed: `8.5`.
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, rest) = (self.0.abs() / 1000, self.0.abs() % 1000);
        if rest == 0 {
            return write!(f, "{sign}{whole}");
        }
        let decimals = format!("{rest:03}");
        write!(f, "{sign}{whole}.{}", decimals.trim_end_matches('0'))
    }
}

#[cfg(test)]
mod tests {
    use super::Length;

    #[test]
    fn inches_are_exact() {
        assert_eq!(Length::milli_inches(2630), Length::millipoints(189_360));
        assert_eq!(Length::milli_inches(8500), Length::points(612));
    }

    #[test]
    fn printed_in_points() {
        assert_eq!(Length::millipoints(8500).to_string(), "8.5");
        assert_eq!(Length::millipoints(-1025).to_string(), "-1.025");
        assert_eq!(Length::points(12).to_string(), "12");
    }

    #[test]
    fn slack_is_small_and_in_one_place() {
        assert!(Length::millipoints(10_020).fits(Length::points(10)));
        assert!(!Length::millipoints(10_021).fits(Length::points(10)));
    }
}
