//! Whether a balance that the case brings in can be clean energy credit, and whether it starts the chain.
//!
//! Comes in: the balance, and the figures of all years before it. Goes out: whether the chain starts at it, and what is
//! to be said of it. Only 25D credit is ever carried forward (26 U.S.C. 25D(c)); 25C credit that the tax cannot take is
//! lost. So a balance needs credit that can have lived up to its year, and nothing here may suggest otherwise.

use crate::case::{CarriedIn, Case, RoundingChoice, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::finding::Finding;
use crate::law::{Law, Rule};
use crate::money::Money;

/// What becomes of a balance.
pub(in crate::credit) struct Checked {
    /// The chain starts at it, instead of at what the case itself yields.
    pub starts_chain: bool,
    /// What is to be said of it.
    pub found: Vec<Finding>,
}

/// A balance, with what is known of the credit before its year.
struct Balance<'a> {
    given: &'a CarriedIn,
    year: TaxYear,
    /// What the year before carries out, by the case itself; none where the case does not have that year.
    computed: Option<Money>,
    /// All 25D credit that was earned on property of the case or brought in from a form, in the years before.
    ever: Money,
    /// The 25C credit lost in each earlier year.
    lost: Vec<(TaxYear, Money)>,
}

/// What a balance is beside the figures of the years before. Of the 25C credit that was lost the year and the amount.
enum Verdict {
    /// What the case yields by itself.
    AsComputed,
    /// Credit of 25C that was lost, which is refused.
    Lost(TaxYear, Money),
    /// More than there ever was, which is refused.
    NeverExisted,
    /// Another amount without a reason, which is refused.
    Differs,
    /// Another amount, taken for the reason that the case gives.
    Instead(Option<(TaxYear, Money)>),
    /// Taken, because the case does not have the year before.
    Alone(Option<(TaxYear, Money)>),
}

impl Verdict {
    fn is_refused(&self) -> bool {
        matches!(self, Verdict::Lost(..) | Verdict::NeverExisted | Verdict::Differs)
    }
}

/// Compares a balance with what the case yields, and with what can have been carried at all.
pub(in crate::credit) fn check(case: &Case, law: &Law, figures: &Figures, given: &CarriedIn) -> Checked {
    let balance = Balance::of(case, figures, given);
    let verdict = balance.verdict(case);
    let computed = balance.computed.unwrap_or(Money::ZERO);
    let starts_chain = !verdict.is_refused() && !matches!(verdict, Verdict::AsComputed);
    let found = match verdict {
        Verdict::AsComputed => Vec::new(),
        Verdict::Lost(of, lost) => vec![balance.is_lost_credit(law, of, lost, computed)],
        Verdict::NeverExisted => vec![balance.never_existed(law, computed)],
        Verdict::Differs => vec![balance.differs(computed)],
        Verdict::Instead(lost) => {
            let asked = lost.map(|(of, lost)| balance.ask_about_lost(law, of, lost, computed));
            std::iter::once(balance.instead(computed)).chain(asked).collect()
        }
        Verdict::Alone(Some((of, lost))) => vec![balance.ask_about_lost(law, of, lost, Money::ZERO)],
        Verdict::Alone(None) => balance.unshown(law).into_iter().collect(),
    };
    Checked { starts_chain, found }
}

/// Says whether a balance that the case gives was refused, so that no figure may start from it. The years before it
/// decide, so its own year needs no return.
pub fn is_refused(case: &Case, figures: &Figures, given: &CarriedIn) -> bool {
    Balance::of(case, figures, given).verdict(case).is_refused()
}

/// Returns the credit that property of the case earned before a year, and what was brought in from a form.
fn ever(case: &Case, figures: &Figures, year: TaxYear) -> Money {
    let earned = figures.all().iter().filter(|figure| {
        figure.place.year < year
            && figure.place.of == Subject::Return
            && line::CLEAN_EARNED.contains(&figure.place.line)
    });
    let earned = earned.filter_map(|figure| figure.value.money());
    let shown = |one: &&CarriedIn| one.year.value < year && one.shown_on.is_some();
    let brought = case.carried_in.iter().filter(shown).map(|one| one.amount.value);
    earned.chain(brought).sum()
}

/// Returns the 25C credit lost in years before a year.
fn lost(figures: &Figures, year: TaxYear) -> Vec<(TaxYear, Money)> {
    let of_line = |line: Line| figures.all().iter().filter(move |figure| figure.place.line == line);
    of_line(line::IMPROVEMENT_LOST)
        .filter(|figure| figure.place.year < year)
        .filter_map(|figure| Some((figure.place.year, figure.value.money()?)))
        .filter(|(_, lost)| !lost.is_zero())
        .collect()
}

impl<'a> Balance<'a> {
    fn of(case: &Case, figures: &Figures, given: &'a CarriedIn) -> Self {
        let year = given.year.value;
        let computed = figures.money(&Place::of_return(year.before(), line::CARRIED_OUT));
        Balance { given, year, computed, ever: ever(case, figures, year), lost: lost(figures, year) }
    }

    fn verdict(&self, case: &Case) -> Verdict {
        let amount = self.given.amount.value;
        let Some(computed) = self.computed else {
            let lost = self.lost_credit(Money::ZERO);
            return match lost {
                Some((of, lost)) if self.ever.is_zero() && self.given.shown_on.is_none() => {
                    Verdict::Lost(of, lost)
                }
                lost => Verdict::Alone(lost),
            };
        };
        let in_cents = case.tax_return(self.year).is_some_and(|one| one.rounding == RoundingChoice::Cents);
        let entered = if in_cents { computed } else { computed.to_whole_dollars() };
        if [computed, entered].contains(&amount) {
            return Verdict::AsComputed;
        }
        let above = amount > computed;
        let lost = self.lost_credit(computed).filter(|_| above);
        let instead = self.given.instead_of_computed.is_some();
        match lost {
            Some((of, lost)) if computed.is_zero() || !instead => Verdict::Lost(of, lost),
            _ if above && (computed.is_zero() || amount > self.ever) => Verdict::NeverExisted,
            _ if !instead => Verdict::Differs,
            lost => Verdict::Instead(lost),
        }
    }

    fn instead(&self, computed: Money) -> Finding {
        codes::CARRIED_IN_INSTEAD
            .finding(format!(
                "{} is carried into {} as the case asks; the case itself yields {}",
                self.given.amount.value.spoken(),
                self.year,
                computed.spoken()
            ))
            .at(self.given.amount.span)
            .help("nothing is to be done; the reason given is printed on the worksheet")
    }

    /// Finds the 25C credit lost in an earlier year to which the balance comes, alone or on top of what is carried.
    fn lost_credit(&self, computed: Money) -> Option<(TaxYear, Money)> {
        let amount = self.given.amount.value;
        let is = |lost: Money| [lost, lost.to_whole_dollars()].iter().any(|lost| amount == computed + *lost);
        self.lost.iter().rev().find(|(_, lost)| is(*lost) || amount == *lost).copied()
    }

    fn is_lost_credit(&self, law: &Law, of: TaxYear, lost: Money, computed: Money) -> Finding {
        let message = match computed.is_zero() {
            true => format!(
                "{} is exactly the 25C credit that was lost in {of}, and 25C is never carried forward: nothing is carried into {}",
                lost.spoken(),
                self.year
            ),
            false => format!(
                "{} is the {} of 25D credit that the case carries into {} and the {} of 25C credit that was lost in {of}; 25C is never carried forward, and the figures here leave it out",
                self.given.amount.value.spoken(),
                computed.spoken(),
                self.year,
                lost.spoken()
            ),
        };
        let help = match computed.is_zero() {
            true => "take this entry out; credit of 25C that the tax of its year could not take is lost"
                .to_string(),
            false => format!("write {}, or take this entry out", computed.spoken()),
        };
        codes::CARRIED_IN_LOST
            .finding(message)
            .at(self.given.amount.span)
            .help(help)
            .under(self.rule(law, Rule::ImprovementNoCarryforward))
    }

    fn ask_about_lost(&self, law: &Law, of: TaxYear, lost: Money, computed: Money) -> Finding {
        let over = match computed.is_zero() {
            true => String::new(),
            false => format!(" above the {} that the case itself yields", computed.spoken()),
        };
        codes::CARRIED_IN_LIKE_LOST.finding(
            format!(
                "is the balance of {} carried into {}{over} really clean energy credit? {} is exactly the 25C credit that was lost in {of}, and 25C is never carried forward",
                self.given.amount.value.spoken(),
                self.year,
                lost.spoken()
            ),
        )
        .at(self.given.amount.span)
        .about(format!("carried_in.{}", self.year))
        .given([self.given.amount.value.spoken(), of.to_string(), lost.spoken()])
        .help(format!(
            "look it up on Form 5695 of {}, in the part for the clean energy credit; if it is not there, take this entry out",
            self.year.before()
        ))
        .under(self.rule(law, Rule::ImprovementNoCarryforward))
    }

    /// Of a balance above all that could be carried.
    fn never_existed(&self, law: &Law, computed: Money) -> Finding {
        let (year, before) = (self.year, self.year.before());
        let amount = self.given.amount.value.spoken();
        let message = if self.ever.is_zero() && computed.is_zero() {
            format!(
                "{amount} cannot be carried into {year}: the case has the return for {before}, and no 25D credit that was earned or brought in before"
            )
        } else if computed.is_zero() {
            format!(
                "{amount} cannot be carried into {year}: all 25D credit up to {before}, {} in all, is used up by then",
                self.ever.spoken()
            )
        } else {
            format!(
                "{amount} cannot be carried into {year}: all 25D credit that was earned or brought in from a form before comes to {}, and {} of it is left, which the figures here use",
                self.ever.spoken(),
                computed.spoken()
            )
        };
        let help = match computed.is_zero() {
            true => format!(
                "take this entry out; if there was credit from other property, bring it into the first year that can use it, with `shown_on:` and the form's line, so that the returns up to {before} use it first"
            ),
            false => format!(
                "write {}, or add the property or the balance (with `shown_on:`) that it comes from",
                computed.spoken()
            ),
        };
        codes::CARRIED_IN_WITHOUT_CREDIT
            .finding(message)
            .at(self.given.amount.span)
            .help(help)
            .under(self.rule(law, Rule::Carryforward))
    }

    fn differs(&self, computed: Money) -> Finding {
        codes::CARRIED_IN_DIFFERS.finding(
            format!(
                "the case gives {} carried into {}, and its own figures for {} yield {}, which the figures here use",
                self.given.amount.value.spoken(),
                self.year,
                self.year.before(),
                computed.spoken()
            ),
        )
        .at(self.given.amount.span)
        .help(
            "correct the amount; where a filed form or a notice shows another balance of the same 25D credit, add `instead_of_computed:` with that reason",
        )
    }

    /// Asks which form shows a balance that nothing of the case can have led to.
    fn unshown(&self, law: &Law) -> Option<Finding> {
        let given = self.given;
        if given.shown_on.is_some() || !self.ever.is_zero() || given.amount.value.is_zero() {
            return None;
        }
        let asked = codes::BALANCE_UNSHOWN.finding(
            format!(
                "which form shows the {} carried into {}? The case has no clean energy property or earlier balance that it could come from, and only 25D credit is carried forward",
                self.given.amount.value.spoken(),
                self.year
            ),
        )
        .at(self.given.amount.span)
        .about(format!("carried_in.{}", self.year))
        .given([self.given.amount.value.spoken()])
        .help(format!("add `shown_on:` with the form and line, such as `{} Form 5695 line 16`", self.year.before()))
        .under(self.rule(law, Rule::Carryforward));
        Some(asked)
    }

    fn rule(&self, law: &Law, name: Rule) -> String {
        let rule = |year| law.year(year).and_then(|law| law.rules.get(&name));
        let rule = rule(self.year).or_else(|| rule(self.year.before()));
        rule.map_or_else(String::new, |rule| rule.authority.source.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;

    /// 10,000 at 30% is 3,000; the tax of 2024 takes 1,000 and leaves 2,000. Worked by hand.
    #[test]
    fn a_balance_that_is_refused_is_in_no_figure() {
        let item = "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\n";
        let returns = "returns:\n  2024: {filing_status: single, tax_before_credits: 1000}\n  2025: {filing_status: single, tax_before_credits: 9000}\n";
        for (entry, code, taken) in [
            ("{amount: 2000}", "", 2000),
            ("{amount: 2600, shown_on: 2024 Form 5695 line 16}", "carried-in-differs", 2000),
            ("{amount: 1400}", "carried-in-differs", 2000),
            ("{amount: 3100, instead_of_computed: as filed}", "carried-in-without-credit", 2000),
            ("{amount: 2600, instead_of_computed: as filed}", "carried-in-instead", 2600),
            ("{amount: 1400, instead_of_computed: as filed}", "carried-in-instead", 1400),
        ] {
            let (case, outcome) = household(&format!("{item}{returns}carried_in:\n  2025: {entry}\n"));
            let at = |line| outcome.figures.money(&Place::of_return(TaxYear(2025), line));
            assert_eq!(at(line::CARRIED_IN), Some(Money::dollars(taken)), "{entry}");
            assert_eq!(at(line::CLEAN_ALLOWED), Some(Money::dollars(taken)), "{entry}");
            let refused = code == "carried-in-differs" || code == "carried-in-without-credit";
            assert_eq!(is_refused(&case, &outcome.figures, &case.carried_in[0]), refused, "{entry}");
            let told = outcome.findings.iter().filter(|one| one.code.starts_with("carried-in"));
            assert_eq!(told.map(|one| one.code).collect::<String>(), code, "{entry}");
        }
    }
}
