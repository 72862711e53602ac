//! Words of the register that table and paper share.
//!
//! Comes in: the register, its rows and its windows. Goes out: short words. Computes nothing.

use super::row::{Account, Balance, SoFar};
use super::rows::{Register, Totals};
use crate::case::TaxYear;
use crate::credit::planning::End;
use crate::credit::unclaimed::{Said, Unclaimed};
use crate::credit::window::Window;
use crate::money::{Money, Printer};
use crate::wording::count;
use jiff::civil::Date;
use std::cmp::Reverse;

/// Prints a balance; one that is expected bears a star.
fn balanced(printer: Printer, balance: &Balance) -> String {
    format!("{}{}", printer.print(balance.amount), if balance.expected { "*" } else { "" })
}

/// The columns of amounts that table and paper have: the years for which there is room, then earned, used, lost.
pub(super) struct Amounts {
    /// The years, in order.
    pub years: Vec<TaxYear>,
    by_year: Vec<Printer>,
    so_far: [Printer; 3],
}

impl Amounts {
    pub fn of(register: &Register, years: Vec<TaxYear>) -> Amounts {
        let accounts = || register.rows.iter().filter_map(|row| row.account());
        let of_year = |year: &TaxYear| {
            Printer::of(accounts().filter_map(|account| account.balance(*year)).map(|one| one.amount))
        };
        let so_far = [0, 1, 2].map(|n| Printer::of(accounts().map(|account| sums(&account.so_far)[n])));
        Amounts { by_year: years.iter().map(of_year).collect(), years, so_far }
    }

    /// Prints the amounts of a row; a year that the case does not reach is empty.
    pub fn row(&self, account: &Account) -> Vec<String> {
        let balance = |(year, printer): (&TaxYear, &Printer)| {
            account.balance(*year).map_or_else(String::new, |one| balanced(*printer, one))
        };
        let years = self.years.iter().zip(&self.by_year).map(balance);
        years.chain(self.so_far(&account.so_far)).collect()
    }

    /// Prints the sums of the columns.
    pub fn totals(&self, totals: &Totals) -> Vec<String> {
        let total = |(year, printer): (&TaxYear, &Printer)| {
            totals.by_year.get(year).map_or_else(String::new, |total| printer.print(total.amount))
        };
        let years = self.years.iter().zip(&self.by_year).map(total);
        years.chain(self.so_far(&totals.so_far)).collect()
    }

    fn so_far(&self, so_far: &SoFar) -> [String; 3] {
        let sums = sums(so_far);
        [0, 1, 2].map(|n| self.so_far[n].print(sums[n]))
    }
}

fn sums(so_far: &SoFar) -> [Money; 3] {
    [so_far.earned(), so_far.used(), so_far.lost_improvement]
}

/// The years of the register, the one the day lies in at the head, then those near it.
pub(super) fn nearest(register: &Register) -> Vec<TaxYear> {
    let this_year = TaxYear::of(register.on);
    let mut years = register.years.clone();
    years.sort_by_key(|year| (year.0.abs_diff(this_year.0), Reverse(year.0)));
    years
}

/// Says what is missing: a count, or a dash where the case lists no papers.
pub(super) fn missing(account: &Account) -> String {
    account.missing.as_ref().map_or_else(|| "-".to_string(), |missing| missing.len().to_string())
}

/// Says how many questions are open, and how many of them hold up a packet.
pub(super) fn questions(questions: usize, blocking: usize) -> String {
    match blocking {
        0 => count(questions),
        blocking => format!("{} ({})", count(questions), count(blocking)),
    }
}

/// Says with which year's return the balance would be used up, on an assumption about tax; nothing where there is none.
pub(super) fn used_up(account: &Account) -> String {
    match account.ahead.map(|ahead| ahead.end) {
        None => String::new(),
        Some(End::UsedUp(year)) => year.to_string(),
        Some(End::Never) => "never".to_string(),
        Some(End::NotWithin) => "later".to_string(),
    }
}

/// Says which year of a case closes first and when, and how many more there are.
pub(super) fn soonest(account: &Account, on: Date) -> String {
    let told = |mut windows: Vec<&Unclaimed>, mark: &str| {
        windows.sort_by_key(|one| (one.window.closes, one.year));
        let first = windows.first()?;
        let more = match windows.len() {
            1 => String::new(),
            n => format!(" +{}", n - 1),
        };
        Some(format!("{}{mark} {}{more}", first.year, first.window.closes))
    };
    told(account.open(on).collect(), "")
        .or_else(|| told(account.perhaps_open(on).collect(), "?"))
        .or_else(|| account.closed(on).next().map(|one| format!("{} closed", one.year)))
        .unwrap_or_default()
}

/// Says what a return leaves out.
pub(super) fn left_out(one: &Unclaimed) -> String {
    match one.said {
        Said::NotSaid => "the case does not say what the return claims".to_string(),
        Said::NoReturn => "no return in the case".to_string(),
        Said::Less => {
            let parts = [("25C", one.improvement), ("25D", one.clean), ("carried forward", one.carried_out)];
            let some = parts.into_iter().filter(|(_, amount)| !amount.is_zero());
            let told = some.map(|(name, amount)| format!("{name} {}", amount.spoken())).collect::<Vec<_>>();
            let told = told.join(", ");
            // Where a credit was claimed too high, or the tax takes less, the parts do not add up to what comes back.
            match one.improvement + one.clean == one.less_tax
                && !one.improvement.is_negative()
                && !one.clean.is_negative()
            {
                true => told,
                false => format!("{} less tax: {told}", one.less_tax.spoken()),
            }
        }
    }
}

/// Returns the day up to which a claim reaches withheld tax, where it is earlier than the last day.
pub(super) fn earlier_for_withholding(window: &Window) -> Option<Date> {
    (window.reaches_withholding < window.closes).then_some(window.reaches_withholding)
}

/// Returns how many days are left from a day to another, both included in none: 0 on the last day.
pub(super) fn days_left(on: Date, closes: Date) -> i32 {
    on.until(closes).map_or(0, |span| span.get_days())
}

/// The windows of a register, each with its row's name.
pub(super) struct Windows<'r> {
    /// Open for a credit known to be left out, the first to close at the head.
    pub open: Vec<(&'r str, &'r Unclaimed)>,
    /// Open where the case does not say what the return claims, likewise.
    pub perhaps: Vec<(&'r str, &'r Unclaimed)>,
    /// Too late, the last to close at the head.
    pub closed: Vec<(&'r str, &'r Unclaimed)>,
}

impl<'r> Windows<'r> {
    pub fn of(register: &'r Register) -> Windows<'r> {
        let on = register.on;
        let (mut open, mut perhaps, mut closed) = (Vec::new(), Vec::new(), Vec::new());
        for row in &register.rows {
            let Some(account) = row.account() else { continue };
            open.extend(account.open(on).map(|one| (row.name(), one)));
            perhaps.extend(account.perhaps_open(on).map(|one| (row.name(), one)));
            closed.extend(account.closed(on).map(|one| (row.name(), one)));
        }
        let key = |one: &(&'r str, &'r Unclaimed)| (one.1.window.closes, one.0, one.1.year);
        open.sort_by_key(key);
        perhaps.sort_by_key(key);
        closed.sort_by_key(|one| (Reverse(one.1.window.closes), one.0, one.1.year));
        Windows { open, perhaps, closed }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::window::From;
    use crate::money::Money;
    use jiff::civil::date;

    /// As in `demo/amend-2023.case.yaml`: 1,020 left out and 230 claimed too much are 790 less tax.
    #[test]
    fn what_a_return_leaves_out_is_told_net() {
        let year = |less_tax, improvement, clean, carried_out| Unclaimed {
            year: crate::case::TaxYear(2023),
            said: Said::Less,
            less_tax: Money::dollars(less_tax),
            improvement: Money::dollars(improvement),
            clean: Money::dollars(clean),
            carried_out: Money::dollars(carried_out),
            items: Vec::new(),
            window: Window {
                closes: date(2027, 4, 15),
                from: From::Due(date(2024, 4, 15)),
                reaches_withholding: date(2027, 4, 15),
            },
        };
        assert_eq!(left_out(&year(790, -230, 1020, 0)), "$790 less tax: 25C \u{2212}$230, 25D $1,020");
        assert_eq!(left_out(&year(2000, 0, 2000, 400)), "25D $2,000, carried forward $400");
        // The return claimed more credit than its tax took.
        assert_eq!(left_out(&year(300, 0, 500, 0)), "$300 less tax: 25D $500");
    }
}
