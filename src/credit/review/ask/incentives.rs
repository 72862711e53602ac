//! What a careful reviewer would ask about incentives: what each is by its character, and what shows it.
//!
//! Comes in: an item that counts, with its own and the shared incentives. Goes out: questions. What an incentive does
//! to the cost is decided elsewhere.

use super::counting::Counting;
use super::words::{plain, says};
use crate::case::{Case, Incentive, IncentiveKind, SharedRow, TaxYear};
use crate::credit::codes;
use crate::finding::Finding;
use crate::law::{Effect, Rule};
use crate::money::Money;
use jiff::ToSpan;
use jiff::civil::Date;
use rust_decimal::Decimal;

/// Asks about every incentive of an item.
pub(super) fn ask(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let item = one.item();
    let own = (1..)
        .zip(&item.incentives)
        .map(|(n, incentive)| (format!("{}.incentives.{n}", one.path()), incentive));
    let shared = (1..).zip(&case.shared).filter_map(|(n, shared)| match &shared.row {
        SharedRow::Incentive(incentive) if shared.over.iter().any(|(key, _)| key.value == item.key.value) => {
            Some((format!("shared.{n}"), incentive))
        }
        _ => None,
    });
    own.chain(shared).flat_map(|(about, incentive)| about_one(one, case, &about, incentive)).collect()
}

fn about_one(one: &Counting<'_>, case: &Case, about: &str, incentive: &Incentive) -> Vec<Finding> {
    let mut found: Vec<Finding> = misnamed(one, case, incentive)
        .or_else(|| character(one, case, incentive))
        .or_else(|| later_year(one, incentive))
        .map(|asked| asked.about(about))
        .into_iter()
        .collect();
    if incentive.evidence.is_none() && !case.evidence.is_empty() {
        let question = codes::INCENTIVE_WITHOUT_PAPER.finding(format!(
            "which paper shows what the {} from {} was paid for, by whom and when?",
            incentive.amount.value.spoken(),
            incentive.from.value
        ));
        let help = "list the award letter or notice under `evidence:` and name it here, `evidence: award-1`";
        let given = [incentive.from.value.clone(), incentive.amount.value.spoken()];
        let asked = question.at(incentive.from.span).about(about).given(given).help(help);
        found.push(asked.under(one.cites(&["INFO_108135_10".to_string(), "FAQ25C_GENERAL Q4".to_string()])));
    }
    found
}

/// Asks about an incentive whose payer speaks of another character than its kind. A treatment that was chosen does not
/// answer it: of what a utility or a federal rebate does to the cost, nothing is left to choose.
fn misnamed(one: &Counting<'_>, case: &Case, incentive: &Incentive) -> Option<Finding> {
    use IncentiveKind as Is;
    let from = &incentive.from.value;
    let amount = incentive.amount.value.spoken();
    let kind = incentive.kind.value;
    let payer = plain(from);
    let named = |words: &[&str]| words.iter().any(|word| says(&payer, word));
    let judged = incentive.treat_as.is_some();
    let chosen =
        matches!(kind, Is::StateGrant | Is::LocalGrant | Is::StateTaxCredit) || kind == Is::Other && judged;
    let (meant, asked) = if kind != Is::FederalHomeRebate && named(&FEDERAL) {
        let message = format!(
            "is the {amount} from {from} a federal home energy rebate, which a State may pay out? It is entered as `{kind}`; such a rebate lowers the price"
        );
        (
            Is::FederalHomeRebate,
            codes::FEDERAL_REBATE_WORDS
                .finding(message)
                .help("write `as: federal_home_rebate` if the award letter says so"),
        )
    } else if chosen && named(&UTILITY) && !named(&GOVERNMENT) {
        let message = format!(
            "does {from} sell electricity or gas? It is entered as `{kind}`; what a public utility pays toward saving energy comes off the cost, whatever it is called"
        );
        (
            Is::UtilitySubsidy,
            codes::GRANT_PAYER.finding(message).help("write `as: utility_subsidy` if it does"),
        )
    } else if kind == Is::NetMetering
        && let Some(when) = looks_up_front(one, case, incentive)
    {
        let message = match when {
            When::ByThen => format!(
                "was the {amount} from {from}, paid or promised by the time of installation, for power sent back? Nothing had been sent back yet"
            ),
            When::SoonAfter(received) => format!(
                "was the {amount} from {from}, received in one payment on {received}, for power sent back since the installation on {}? That much so soon looks like a payment toward the purchase, which comes off the cost",
                one.day
            ),
        };
        (
            Is::UtilitySubsidy,
            codes::METERING_PAID_AT_ONCE.finding(message).help(
                match when {
                    When::ByThen => "write `as: utility_subsidy` if it was toward the purchase; else give the day in `received:`",
                    When::SoonAfter(_) => "write `as: utility_subsidy` if it was toward the purchase; else answer with what the payer's statement says",
                },
            ),
        )
    } else if kind == Is::StateTaxCredit && !judged && (named(&REBATE) || paid_at_once(one, incentive)) {
        let message = format!(
            "is the {amount} from {from} a credit that the client claims on the State income tax return? It is entered as `{kind}`, which leaves the cost alone; a rebate, a grant or a credit assigned to the installer against the price comes off it"
        );
        (
            Is::StateTaxCredit,
            codes::STATE_CREDIT_WORDS.finding(message).help(
                "write `as: state_grant` for a payment of the State, `as: price_rebate` if the seller took it off the price; if it is claimed on the State return, say so in the answer",
            ),
        )
    } else {
        return None;
    };
    let law = one.law.incentives.get(&(one.kind_law.credit, meant))?;
    let given = [from.clone(), kind.to_string(), amount];
    Some(asked.at(incentive.kind.span).given(given).under(one.cites(&law.authority.source)))
}

/// Asks what an incentive is by its character, where its kind or its payer leaves that open.
fn character(one: &Counting<'_>, case: &Case, incentive: &Incentive) -> Option<Finding> {
    let from = &incentive.from.value;
    let payer = plain(from);
    let law = one.law.incentives.get(&(one.kind_law.credit, incentive.kind.value))?;
    let authority = one.cites(&law.authority.source);
    if incentive.treat_as.is_some() {
        return None;
    }
    let public = PUBLIC.iter().any(|word| says(&payer, word));
    let utility = UTILITY.iter().any(|word| says(&payer, word));
    let asked = match incentive.kind.value {
        IncentiveKind::Other => codes::INCENTIVE_UNCLEAR.finding(
            format!("what is the {} from {from} by its character? Until that is said it comes off the cost", incentive.amount.value.spoken()),
        )
        .at(incentive.kind.span)
        .help("write the kind that fits, such as `utility_subsidy`, `price_rebate` or `state_grant`, or `treat_as:` with `because:`"),
        IncentiveKind::StateGrant | IncentiveKind::LocalGrant => codes::GRANT_PRICE_OR_INCOME.finding(
            format!(
                "is the {} from {from} a reduction of the price or income of the client? It is taken off the cost, the cautious reading",
                incentive.amount.value.spoken()
            ),
        )
        .at(incentive.kind.span)
        .help("look for a Form 1099 or the award letter; where it was income write `treat_as: does_not_reduce` with `because:`"),
        IncentiveKind::PriceRebate if public || utility => codes::REBATE_PAYER.finding(
            format!("is {from} on the seller's side? A rebate from the maker, dealer or installer lowers the price; what a utility or a public body pays has a character of its own"),
        )
        .at(incentive.kind.span)
        .help("write `utility_subsidy`, `state_grant`, `local_grant` or `federal_home_rebate` if one of these fits"),
        IncentiveKind::UtilitySubsidy if public && !utility => codes::SUBSIDY_PAYER.finding(
            format!("does {from} sell electricity or gas? Only then is what it pays a public utility's subsidy"),
        )
        .at(incentive.kind.span)
        .help("write `state_grant`, `local_grant` or `federal_home_rebate` if one of these fits"),
        IncentiveKind::EnergyCertificate => codes::CERTIFICATES_PAID_AT_ONCE.finding(
            match looks_up_front(one, case, incentive)? {
                When::ByThen => format!("was the {} from {from}, paid by the time of installation, for certificates still to come or toward the purchase?", incentive.amount.value.spoken()),
                When::SoonAfter(received) => format!(
                    "was the {} from {from}, received in one payment on {received}, for certificates earned since the installation on {}, for certificates still to come, or toward the purchase?",
                    incentive.amount.value.spoken(),
                    one.day
                ),
            },
        )
        .at(incentive.kind.span)
        .help("ask whether the payer reported it as income; rulings of 2010 and 2013 differ. Write `utility_subsidy` if it was toward the purchase"),
        _ => return None,
    };
    let authority = match incentive.kind.value {
        IncentiveKind::EnergyCertificate => one.rule(Rule::IncentivesUpfrontCertificates),
        _ => authority,
    };
    let given = [from.clone(), incentive.kind.value.to_string(), incentive.amount.value.spoken()];
    Some(asked.given(given).under(authority))
}

/// Asks about an incentive that lowers the cost and was received in a later year, if the case does not say that it was
/// agreed when the property was bought.
fn later_year(one: &Counting<'_>, incentive: &Incentive) -> Option<Finding> {
    let received = incentive.received.as_ref()?;
    let agreed = incentive.agreed.as_ref().is_some_and(|agreed| agreed.value <= one.day);
    let effect = one.law.incentives.get(&(one.kind_law.credit, incentive.kind.value))?.effect;
    let reduces = effect == Effect::ReducesCost;
    if agreed || !reduces || incentive.treat_as.is_some() || TaxYear::of(received.value) <= one.year() {
        return None;
    }
    let federal = match incentive.kind.value {
        IncentiveKind::FederalHomeRebate => {
            "; a federal home energy rebate given at the sale lowers the price, one given later lowers what the home cost"
        }
        _ => "",
    };
    let question = codes::INCENTIVE_LATER_YEAR.finding(
        format!(
            "was the {} from {}, received on {}, agreed when the property was bought? Then it lowers the cost of {}, as figured here; one that turned up afterwards is not settled{federal}",
            incentive.amount.value.spoken(),
            incentive.from.value,
            received.value,
            one.year()
        ),
    );
    let given = [incentive.from.value.clone(), incentive.amount.value.spoken(), received.value.to_string()];
    let mut authority = one.rule(Rule::IncentivesLaterYear);
    if incentive.kind.value == IncentiveKind::FederalHomeRebate {
        authority.push_str("; ANN_2024_19");
    }
    Some(
        question
            .at(received.span)
            .given(given)
            .help("add `agreed:` with the day it was promised; if the return was filed without it, an amended return may be due")
            .under(authority),
    )
}

/// Federal home energy rebates, by words in the payer's name: the two programs and their usual short names.
const FEDERAL: [&str; 12] = [
    "federal rebate",
    "hear",
    "heehr",
    "heehra",
    "homes rebate",
    "homes program",
    "home energy rebate",
    "home energy rebates",
    "home efficiency rebate",
    "home efficiency rebates",
    "electrification rebate",
    "inflation reduction act",
];

/// Payers that are public bodies, by words in their names.
const PUBLIC: [&str; 9] = [
    "state",
    "county",
    "city",
    "town",
    "department",
    "commonwealth",
    "treasury",
    "energy office",
    "commission",
];

/// Payers that are a government, whatever else their names say.
const GOVERNMENT: [&str; 6] = ["state", "county", "commonwealth", "treasury", "energy office", "commission"];

/// Payers that sell power or gas, by words in their names.
const UTILITY: [&str; 10] = [
    "electric",
    "power",
    "light",
    "gas",
    "utility",
    "utilities",
    "electric cooperative",
    "energy company",
    "pud",
    "light department",
];

/// Payments that are no credit on a return, by words in the payer's name.
const REBATE: [&str; 8] =
    ["rebate", "rebates", "rebate check", "grant", "voucher", "cash back", "installer", "dealer"];

fn paid_at_once(one: &Counting<'_>, incentive: &Incentive) -> bool {
    let latest = incentive.received.as_ref().or(incentive.agreed.as_ref());
    latest.is_some_and(|day| day.value <= one.day)
}

/// When a payment came that looks like one toward the purchase.
enum When {
    /// By the day of installation.
    ByThen,
    /// Some months later, on this day.
    SoonAfter(Date),
}

/// Says whether a payment for power or certificates looks like one toward the purchase: by the day of installation, or
/// as the only one of its kind from its payer within half a year after it, of a tenth of the cost and a thousand
/// dollars or more, which a home's power of half a year hardly comes to. These bounds are a rule of ours; what the
/// payment is, its papers say.
fn looks_up_front(one: &Counting<'_>, case: &Case, incentive: &Incentive) -> Option<When> {
    if paid_at_once(one, incentive) {
        return Some(When::ByThen);
    }
    let received = incentive.received.as_ref()?.value;
    let soon = one.day.checked_add(6.months()).is_ok_and(|end| received <= end);
    let shared = case.shared.iter().filter_map(|shared| match &shared.row {
        SharedRow::Incentive(other) => Some(other),
        SharedRow::Cost(_) => None,
    });
    let like = |other: &&Incentive| {
        other.kind.value == incentive.kind.value && plain(&other.from.value) == plain(&incentive.from.value)
    };
    let alone = one.item().incentives.iter().chain(shared).filter(like).count() == 1;
    let paid: Money = one.item().costs.iter().map(|cost| cost.amount.value).sum();
    let tenth = paid.decimal() / Decimal::from(10);
    let large = !paid.is_zero() && incentive.amount.value.decimal() >= tenth.max(Decimal::ONE_THOUSAND);
    (soon && alone && large).then_some(When::SoonAfter(received))
}
