//! Today, and dates that were typed: the one place that compares them. A slip in a year would go on every paper.

use super::End;
use crate::law::Law;
use jiff::ToSpan;
use jiff::civil::Date;

/// A date so many years ahead is refused; one that lies more than a year ahead is warned of.
const YEARS_AHEAD: i16 = 10;

/// Returns today, by the clock and the time zone of the computer.
pub(super) fn today() -> Date {
    jiff::Zoned::now().date()
}

/// Judges the date that an option gives: tells of one that is hardly meant, and refuses one that cannot be.
pub(super) fn plausible(option: &str, day: Date) -> Result<Date, End> {
    match judged(day, today(), first_year()) {
        Ok(None) => {}
        Ok(Some(why)) => tell!("warning: {option} {day} lies {why}\nhelp: correct it if it is a slip"),
        Err(why) => {
            tell!("error: {option} {day} lies {why}\nhelp: correct the date, or the clock of this computer");
            return Err(End::Usage);
        }
    }
    Ok(day)
}

/// Returns the first tax year whose law is known.
fn first_year() -> i16 {
    Law::built_in().known().map(|year| year.0).min().unwrap_or_default()
}

/// Says where a date lies that is not near today: with words for a warning, or as a reason to refuse it.
fn judged(day: Date, today: Date, first: i16) -> Result<Option<String>, String> {
    let clock = format!("{today}, today by this computer's clock");
    if day > today.saturating_add(YEARS_AHEAD.years()) {
        return Err(format!("more than ten years after {clock}"));
    }
    if day.year() < first - 1 {
        return Err(format!("long before {first}, the first tax year with either credit"));
    }
    if day > today.saturating_add(1.year()) {
        return Ok(Some(format!("more than a year after {clock}")));
    }
    if day.year() < first {
        return Ok(Some(format!("before {first}, the first tax year with either credit")));
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn only_days_near_today_pass_in_silence() {
        let judge = |day| judged(day, date(2026, 2, 28), 2006);
        for day in [date(2006, 1, 1), date(2026, 2, 28), date(2027, 2, 28)] {
            assert_eq!(judge(day), Ok(None), "{day}");
        }
        for day in [date(2005, 1, 1), date(2005, 12, 31), date(2027, 3, 1), date(2036, 2, 28)] {
            assert!(judge(day).is_ok_and(|warning| warning.is_some()), "{day}");
        }
        for day in [date(2004, 12, 31), date(1900, 1, 1), date(2036, 2, 29), date(2099, 12, 31)] {
            assert!(judge(day).is_err(), "{day}");
        }
        assert_eq!(first_year(), 2006);
    }
}
