//! Until when a filed return can be amended for a refund.
//!
//! Comes in: a case. Goes out: for a year, the days on which the time for a claim ends. Knows no figure and no day of
//! today: whoever asks compares with a day of their own.
//!
//! The rules, and where we take the earlier of two days because a day too late costs the client the refund:
//!
//! - A claim is made within three years of filing or two years of payment, whichever ends later (26 U.S.C. 6511(a)).
//! - A return filed early counts as filed on the last day for filing, extensions aside (26 U.S.C. 6513(a)). That day
//!   is April 15 even where a weekend let people file later; then the earlier day is ours to count from (Rev. Rul.
//!   81-269, from memory). A day that a notice set, or the case gives as `due`, is taken as it stands.
//! - A last day on a Saturday, Sunday or holiday of the District of Columbia moves to the next business day
//!   (26 U.S.C. 7503).
//! - A refund reaches tax paid in the three years before the claim and the extension of time for filing, or in two
//!   years where only payment keeps the time open (26 U.S.C. 6511(b)(2)). Tax withheld counts as paid on the due date
//!   (26 U.S.C. 6513(b)), so a return filed late without extension loses it before the time for the claim ends.

use crate::case::{Case, TaxReturn, TaxYear};
use crate::credit::papers;
use jiff::ToSpan;
use jiff::civil::{Date, Weekday, date};

/// Until when a filed return can be amended for a credit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// The last day for the claim.
    pub closes: Date,
    /// What that day is counted from.
    pub from: From,
    /// The last day on which a claim reaches tax that was withheld or otherwise paid by the due date; never after
    /// `closes`. Earlier where the return was filed late or only a payment keeps the time open.
    pub reaches_withholding: Date,
}

/// What the end of the time for a claim is counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// Three years from the day the return was filed.
    Filed(Date),
    /// Three years from the day on which an early return counts as filed.
    Due(Date),
    /// Three years from the due date, because the case does not say when the return was filed; it may end later.
    DueAsFar(Date),
    /// Two years from the last payment of tax.
    Paid(Date),
}

/// Returns until when the return of a year can be amended for a refund.
///
/// Where the case gives no day of filing, the earliest day on which the time can end.
pub fn window(case: &Case, year: TaxYear) -> Window {
    let tax_return = case.tax_return(year);
    let due = last_day_for_filing(case, year);
    let (filed, from) = match tax_return.and_then(|one| one.filed.as_ref()).map(|filed| filed.value) {
        Some(filed) if filed > due => (filed, From::Filed(filed)),
        Some(_) => (due, From::Due(due)),
        None => (due, From::DueAsFar(due)),
    };
    let by_filing = business_day(years_after(filed, 3));
    let last_paid = tax_return.and_then(last_payment);
    let by_payment = last_paid.map(|paid| (business_day(years_after(paid, 2)), From::Paid(paid)));
    let (closes, from) = match by_payment {
        Some((day, from)) if day > by_filing => (day, from),
        _ => (by_filing, from),
    };
    let extended = tax_return.and_then(|one| one.extended_to.as_ref()).map_or(due, |day| day.value.max(due));
    Window { closes, from, reaches_withholding: business_day(years_after(extended, 3)).min(by_filing) }
}

/// Returns the last payment of a return's tax.
fn last_payment(tax_return: &TaxReturn) -> Option<Date> {
    tax_return.tax_paid.iter().map(|paid| paid.on.value).max()
}

/// Returns the last day for filing a year's return, from which early returns count: what the case or a notice says,
/// else April 15 even where a weekend moved the due date on.
fn last_day_for_filing(case: &Case, year: TaxYear) -> Date {
    let due = papers::due_date(case, year);
    let statutory = date(year.0 + 1, 4, 15);
    if due == business_day(statutory) { statutory } else { due }
}

/// Returns the day itself, or the next that is no Saturday, Sunday or holiday of the District of Columbia
/// (26 U.S.C. 7503).
pub fn business_day(day: Date) -> Date {
    let mut day = day;
    while matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday) || is_holiday(day) {
        day = day.tomorrow().unwrap_or(day);
    }
    day
}

/// Says whether a day is a legal holiday in the District of Columbia, on the day it is observed (D.C. Code 28-2701,
/// from memory). Inauguration Day, January 20 every fourth year, is among them.
fn is_holiday(day: Date) -> bool {
    let year = day.year();
    let fixed = |month, on: i8, since: i16| {
        // Holidays on a Saturday are observed the Friday before, those on a Sunday the Monday after.
        let holiday = date(year, month, on);
        let observed = match holiday.weekday() {
            Weekday::Saturday => holiday.yesterday(),
            Weekday::Sunday => holiday.tomorrow(),
            _ => Ok(holiday),
        };
        year >= since && observed.is_ok_and(|observed| observed == day)
    };
    let nth = |month, nth, weekday| {
        date(year, month, 1).nth_weekday_of_month(nth, weekday).is_ok_and(|holiday| holiday == day)
    };
    // New Year's Day on a Saturday is observed on the last day of the year before.
    let new_year =
        (day.month() == 12 && day.day() == 31 && day.weekday() == Weekday::Friday) || fixed(1, 1, 0);
    new_year
        || nth(1, 3, Weekday::Monday)
        || (year.rem_euclid(4) == 1 && fixed(1, 20, 0))
        || nth(2, 3, Weekday::Monday)
        || fixed(4, 16, 2007)
        || nth(5, -1, Weekday::Monday)
        || fixed(6, 19, 2021)
        || fixed(7, 4, 0)
        || nth(9, 1, Weekday::Monday)
        || nth(10, 2, Weekday::Monday)
        || fixed(11, 11, 0)
        || nth(11, 4, Weekday::Thursday)
        || fixed(12, 25, 0)
}

/// Returns the same day some years later, or the day itself at the end of time.
fn years_after(day: Date, years: i64) -> Date {
    day.checked_add(years.years()).unwrap_or(day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;

    /// One return of a year with some keys.
    fn of(year: i16, keys: &str) -> Window {
        let text = format!("  {year}: {{filing_status: single, tax_before_credits: 0, {keys}}}\n");
        window(&household(&format!("property: {{}}\nreturns:\n{text}")).0, TaxYear(year))
    }

    /// The rule of 26 U.S.C. 6511(a) and 6513(a), and the day after weekends and holidays of 7503. Calendar days and
    /// holidays are from memory.
    #[test]
    fn the_time_ends_three_years_after_filing_or_two_after_payment() {
        for (year, keys, closes) in [
            // Filed early: counts as filed on April 15, 2024; a Thursday ends it.
            (2023, "filed: 2024-03-12", date(2027, 4, 15)),
            // Filed on an extension: from the day of filing; October 9, 2027 is a Saturday, the 11th Columbus Day.
            (2023, "filed: 2024-10-09, extended_to: 2024-10-15", date(2027, 10, 12)),
            // April 15, 2028 is a Saturday, Monday the 17th is Emancipation Day.
            (2024, "filed: 2025-02-20", date(2028, 4, 18)),
            // April 15, 2029 is a Sunday, Monday the 16th Emancipation Day.
            (2025, "filed: 2026-04-15", date(2029, 4, 17)),
            // A later payment keeps it open two years from that day.
            (2023, "filed: 2024-03-12, tax_paid: [{on: 2026-01-08, amount: 5}]", date(2028, 1, 10)),
            // An earlier payment changes nothing.
            (2023, "filed: 2024-03-12, tax_paid: [{on: 2024-04-15, amount: 5}]", date(2027, 4, 15)),
            // The weekend that let people file until April 18, 2022 and 2023 does not move the day we count from.
            (2021, "filed: 2022-03-01", date(2025, 4, 15)),
            (2022, "filed: 2023-03-01", date(2026, 4, 15)),
            // Filed on that later day, it counts from there.
            (2022, "filed: 2023-04-18", date(2026, 4, 20)),
            // The days that notices set for 2019 and 2020 returns; July 15, 2023 is a Saturday.
            (2019, "filed: 2020-02-10", date(2023, 7, 17)),
            (2020, "filed: 2021-02-10", date(2024, 5, 17)),
            // A day of the case's own.
            (2023, "filed: 2024-03-12, due: 2024-06-17", date(2027, 6, 17)),
            // Not said when filed: as early as it can be.
            (2023, "stage: filed", date(2027, 4, 15)),
        ] {
            assert_eq!(of(year, keys).closes, closes, "{year} {keys}");
        }
        assert_eq!(of(2023, "filed: 2024-03-12").from, From::Due(date(2024, 4, 15)));
        assert_eq!(of(2023, "stage: filed").from, From::DueAsFar(date(2024, 4, 15)));
        assert_eq!(of(2023, "filed: 2024-05-02").from, From::Filed(date(2024, 5, 2)));
    }

    /// 26 U.S.C. 6511(b)(2) and 6513(b).
    #[test]
    fn a_late_return_loses_withheld_tax_before_its_time_ends() {
        let late = of(2023, "filed: 2024-09-03");
        assert_eq!((late.closes, late.reaches_withholding), (date(2027, 9, 3), date(2027, 4, 15)));
        let extended = of(2023, "filed: 2024-09-03, extended_to: 2024-10-15");
        assert_eq!((extended.closes, extended.reaches_withholding), (date(2027, 9, 3), date(2027, 9, 3)));
        let paid = of(2023, "filed: 2024-03-12, tax_paid: [{on: 2026-01-08, amount: 5}]");
        assert_eq!((paid.closes, paid.reaches_withholding), (date(2028, 1, 10), date(2027, 4, 15)));
    }

    /// The three examples of the look-back period in Publication 17 (2025), chapter 1: $500 withheld or paid as estimated
    /// tax, and $200 paid later.
    #[test]
    fn publication_17_examples_of_the_look_back() {
        // Extended to October 15, 2022 and filed that day; a claim of October 15, 2025 reaches all $700.
        let extended = of(2021, "filed: 2022-10-15, due: 2022-04-15, extended_to: 2022-10-15");
        assert!(extended.closes >= date(2025, 10, 15) && extended.reaches_withholding >= date(2025, 10, 15));
        // Filed on October 30, 2022; a claim of October 30, 2025 is in time, and reaches the $200 only.
        let late = of(
            2021,
            "filed: 2022-10-30, due: 2022-04-15, extended_to: 2022-10-15, tax_paid: [{on: 2022-10-30, amount: 200}]",
        );
        assert!(late.closes >= date(2025, 10, 30) && late.reaches_withholding < date(2025, 10, 30));
        // Filed on April 15, 2022, $200 paid on November 5, 2023; a claim of May 12, 2025 reaches the $200 only.
        let paid = of(2021, "filed: 2022-04-15, due: 2022-04-15, tax_paid: [{on: 2023-11-05, amount: 200}]");
        assert!(paid.closes >= date(2025, 5, 12) && paid.reaches_withholding < date(2025, 5, 12));
        assert_eq!(paid.from, From::Paid(date(2023, 11, 5)));
    }

    #[test]
    fn holidays_are_observed_on_working_days() {
        for (day, next) in [
            (date(2027, 12, 31), date(2028, 1, 3)), // New Year's Day 2028 is a Saturday
            (date(2026, 7, 3), date(2026, 7, 6)),   // July 4, 2026 is a Saturday
            (date(2027, 7, 5), date(2027, 7, 6)),   // July 4, 2027 is a Sunday
            (date(2028, 1, 17), date(2028, 1, 18)), // Martin Luther King's birthday
            (date(2029, 1, 20), date(2029, 1, 22)), // a Saturday; an inauguration on it is not moved
            (date(2027, 5, 31), date(2027, 6, 1)),
            (date(2027, 6, 18), date(2027, 6, 21)), // June 19, 2027 is a Saturday
            (date(2026, 11, 26), date(2026, 11, 27)),
            (date(2027, 4, 15), date(2027, 4, 15)),
        ] {
            assert_eq!(business_day(day), next, "{day}");
        }
    }
}
