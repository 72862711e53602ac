//! The limit by tax, once the figures stand: more credit than the tax, and a worksheet amount above the return's.

use crate::case::{OtherCredit, RoundingChoice, TaxReturn};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits::{self, CREDITS};
use crate::credit::evaluate::line::{self, Place};
use crate::credit::plan::limit::child_tax_worksheet;
use crate::finding::Finding;
use crate::law::{Rule, YearLaw};
use crate::money::Money;

/// Asks about what only the figures show: more credit than the tax, and a worksheet amount above the return's.
pub(super) fn review(tax_return: &TaxReturn, law: &YearLaw, made: &Figures) -> Vec<Finding> {
    worksheet_above_return(tax_return, law, made)
        .into_iter()
        .chain(credits_pass_tax(tax_return, law, made))
        .collect()
}

/// Asks where these credits and the others, each as it stands on the return, come to more than the tax.
///
/// Every other credit has a limit by tax of its own, which either comes before these credits or subtracts them; so all
/// of them together fit into the tax (26 U.S.C. 26(a)). Where they do not, one of the amounts is not the return's.
fn credits_pass_tax(tax_return: &TaxReturn, law: &YearLaw, made: &Figures) -> Option<Finding> {
    let year = law.year;
    let of_return = |line| made.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
    let tax = of_return(line::TAX);
    let computed = CREDITS.each_ref().map(|of| (law.called(of.credit), of_return(of.allowed)));
    if computed.iter().all(|(_, amount)| amount.is_zero()) {
        return None;
    }
    let entries = tax_return.other_credits.iter().filter(|entry| !entry.amount.value.is_zero());
    let others: Vec<(&str, Money)> =
        entries.map(|entry| (entry.credit.value.label(), entry.amount.value)).collect();
    let first = tax_return.other_credits.first()?;
    let all: Money = others.iter().chain(&computed).map(|(_, amount)| *amount).sum();
    // Amounts in cents are rounded where they enter the worksheet, one by one or together.
    let rounding = match tax_return.rounding {
        RoundingChoice::WholeDollars => Money::dollars(others.len() as i64),
        RoundingChoice::Cents => Money::ZERO,
    };
    if all <= tax + rounding {
        return None;
    }
    let parts = others.iter().chain(&computed).filter(|(_, amount)| !amount.is_zero());
    let parts: Vec<String> = parts.map(|(what, amount)| format!("{what} {}", amount.spoken())).collect();
    let last = tax_return.other_credits.last().unwrap_or(first);
    let child = tax_return.other_credits.iter().find(|entry| entry.worksheet_b.is_some());
    let help = match child {
        Some(child) => {
            let without = all - child.amount.value;
            let room = if without < tax { tax - without } else { Money::ZERO };
            format!(
                "the child credit is figured after the {} and limited by what that leaves of the tax: beside these figures at most {} of it can stand on the return. Compare `worksheet_b` with line 14 of that worksheet, and enter as `return_line` what the return shows with this year's credits in it",
                child_tax_worksheet(law).map_or("", |(credit, _)| law.called(credit)),
                room.spoken()
            )
        }
        None => "enter each credit as it stands on the return once this year's credits are in it; what comes after these credits is limited by what they leave of the tax".to_string(),
    };
    Some(
        codes::CREDITS_PASS_TAX.finding(
            format!(
                "which amount of {year} is not as on the return? The credits come to {} ({}), and the tax they are taken from is {}",
                all.spoken(),
                parts.join(" + "),
                tax.spoken()
            ),
        )
        .at(first.credit.span.to(last.amount.span))
        .with(tax_return.tax_before_credits.span, "the tax before credits")
        .about(format!("returns.{year}.other_credits"))
        .given([parts.join(" + "), tax.spoken()])
        .help(help)
        .under(law.cited(Rule::Nonrefundable)),
    )
}

/// Asks where the worksheet's amount for the child credit is above the one on the return.
///
/// The worksheet's amount is the credit less the part that would be refunded. The return's amount is smaller only where
/// the tax cannot take even that, and then nothing is left for the clean energy credit.
fn worksheet_above_return(tax_return: &TaxReturn, law: &YearLaw, made: &Figures) -> Option<Finding> {
    let year = law.year;
    let entry = tax_return.other_credits.iter().find(|entry| entry.credit.value == OtherCredit::ChildTax)?;
    let worksheet = entry.worksheet_b.as_ref().filter(|amount| amount.value > entry.amount.value)?;
    let of_return = |line| made.money(&Place::of_return(year, line));
    let (credit, name) = child_tax_worksheet(law)?;
    let of = credits::of(credit);
    let (before, left) = (of_return(of.before_limit)?, of_return(of.tax_left)?);
    let (tax, allowed) = (of_return(line::TAX)?, of_return(of.come_before)?);
    // With the return's amount in place of the worksheet's nothing would be left either.
    let with_return = allowed - worksheet.value.to_whole_dollars() + entry.amount.value.to_whole_dollars();
    if before.is_zero() || (left.is_zero() && with_return >= tax) {
        return None;
    }
    Some(
        codes::WORKSHEET_B_ABOVE_RETURN.finding(
            format!(
                "is one of these from another line? The child tax credit on the return for {year} is {}, and {name} is given as {}: {} more than the return shows, with tax of {} left for the {}",
                entry.amount.value.spoken(),
                worksheet.value.spoken(),
                (worksheet.value - entry.amount.value).spoken(),
                left.spoken(),
                law.called(credit)
            ),
        )
        .at(worksheet.span)
        .with(entry.amount.span, "the amount on the return")
        .about(format!("returns.{year}.other_credits.child_tax"))
        .given(["child_tax".to_string(), entry.amount.value.spoken(), worksheet.value.spoken()])
        .help("line 14 is the child credit less the part that is refunded, so while tax is left it is never above the credit on the return; correct the amount that is wrong")
        .under(law.cited(Rule::Order)),
    )
}
