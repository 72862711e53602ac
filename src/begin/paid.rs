//! Questions about what was paid for an item, and what others pay toward it.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Cost, Draft, Incentive, Item};
use super::{maybe_day, money, papers, terms};
use crate::case::single::{Form, Refusal};
use crate::case::{CostNature, EvidenceKind, IncentiveKind, Kind};
use crate::law::{Class, Counts, Credit, YearLaw};
use crate::money::Money;
use crate::wording::sentence;
use jiff::civil::Date;

/// Asks for the costs, one after another.
pub(super) fn costs(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    item: &mut Item,
    id: &str,
    law: (&YearLaw, Class),
) -> Result<(), Stop> {
    for n in 1.. {
        let id = format!("{id}.costs.{n}");
        if n > 1 {
            let more = Question::yes_no(format!("{id}.more"), "Is there another amount on the bill?", false);
            let explain = "Each line of the bill on its own; also those that do not count, so that the sum agrees with the bill.";
            if !i.yes_no(more.explain(explain))? {
                break;
            }
        }
        let cost = cost(i, draft, item, &id, law)?;
        item.costs.push(cost);
    }
    Ok(())
}

fn cost(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    item: &Item,
    id: &str,
    (year, class): (&YearLaw, Class),
) -> Result<Cost, Stop> {
    let nature = nature(i, item, id, (year, class))?;
    let words = Question::value(format!("{id}.item"), "What does the bill call it?", Form::Line)
        .or(nature.label())
        .explain("In a few words of your own. It stands on the worksheet beside the amount.");
    let words = i.ask(words)?;
    let most = (nature == CostNature::Discount).then(|| item.paid());
    let amount = Question::value(format!("{id}.amount"), "Amount", Form::Amount)
        .explain("What this client paid, or this joint return. A discount is written without a sign.")
        .when(move |text| match (most, Money::read(text)) {
            (Some(most), Ok(amount)) if amount > most => Err(Refusal::new(
                format!(
                    "a discount of {} is more than the {} it is taken from",
                    amount.spoken(),
                    most.spoken()
                ),
                "correct the amount, or go back and enter the other amounts first",
            )),
            _ => Ok(()),
        });
    let amount = money(i, amount)?;
    let (materials, because) = materials(i, id, nature, (year, class))?;
    let likely = match item.kind {
        Kind::HomeEnergyAudit => EvidenceKind::AuditReport,
        _ => EvidenceKind::Invoice,
    };
    let before = item.costs.iter().rev().find_map(|one| one.evidence.as_deref());
    let evidence = papers::which(i, draft, id, likely, before)?;
    Ok(Cost { item: words, nature, amount, materials, because, evidence })
}

/// Asks what an amount was for, from what makes sense for the class; what counts stands first.
fn nature(
    i: &mut Conversation<'_>,
    item: &Item,
    id: &str,
    (year, class): (&YearLaw, Class),
) -> Result<CostNature, Stop> {
    let mut natures: Vec<CostNature> = CostNature::ALL
        .iter()
        .copied()
        .filter(|nature| terms::fits(*nature, class, item.kind))
        .filter(|nature| *nature != CostNature::Discount || !item.costs.is_empty())
        .collect();
    let nothing = |nature: &CostNature| {
        let counts = year.costs.get(&(class, *nature)).map(|one| one.counts);
        counts.is_none_or(|counts| counts == Counts::No) && *nature != CostNature::Discount
    };
    // One price for all is what most bills have. A discount, which the first amount cannot be, stands last, so that all
    // others keep their numbers from one amount to the next.
    natures.sort_by_key(|nature| {
        (*nature == CostNature::Discount, nothing(nature), *nature != CostNature::LumpSum)
    });
    let label = |nature: &CostNature| format!("{} ({})", nature.label(), terms::counts(year, class, *nature));
    let choices = natures.iter().map(|nature| Choice::new(nature.word(), label(nature))).collect();
    let words = match item.costs.len() {
        0 => "What did the client pay for? The first amount of the bill",
        _ => "What was it for?",
    };
    let question =
        Question::choice(format!("{id}.as"), words, choices).explain(terms::natures(&natures, class, year));
    let word = i.ask(question)?;
    CostNature::from_word(&word).ok_or_else(|| Stop::Fault(format!("{word} was taken for a cost")))
}

/// Asks for the part of one price that is materials, where only that part counts.
fn materials(
    i: &mut Conversation<'_>,
    id: &str,
    nature: CostNature,
    (year, class): (&YearLaw, Class),
) -> Result<(Option<String>, Option<String>), Stop> {
    let law = year.costs.get(&(class, nature)).filter(|law| law.counts == Counts::MaterialsOnly);
    let Some(law) = law.filter(|_| nature == CostNature::LumpSum) else {
        return Ok((None, None));
    };
    let words = "How much of this price is for the goods alone, without labor, such as 65%?";
    let explain =
        format!("{} Ask the installer for the split if the bill does not show it.", sentence(&law.because));
    let share =
        i.ask(Question::value(format!("{id}.materials"), words, Form::Percentage).explain(explain.clone()))?;
    let words = "How is that share known?";
    let because = Question::value(format!("{id}.because"), words, Form::Line).explain(explain);
    Ok((Some(share), i.maybe(because)?))
}

/// Asks what others pay toward it.
pub(super) fn incentives(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    item: &mut Item,
    id: &str,
    law: (&YearLaw, Credit),
) -> Result<(), Stop> {
    for n in 1.. {
        let id = format!("{id}.incentives.{n}");
        let words = match n {
            1 => "Did anyone pay something toward it: utility, maker, State, city?",
            _ => "Was there another payment toward it?",
        };
        let explain = "Rebates, subsidies, grants and credits, also those that went to the installer or are still to come.";
        let more = Question::yes_no(format!("{id}.more"), words, false).explain(explain);
        if !i.yes_no(more)? {
            break;
        }
        let one = incentive(i, draft, &id, law)?;
        item.incentives.push(one);
    }
    Ok(())
}

fn incentive(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    id: &str,
    (year, credit): (&YearLaw, Credit),
) -> Result<Incentive, Stop> {
    let sense = |kind: &IncentiveKind| {
        credit == Credit::Clean
            || !matches!(kind, IncentiveKind::NetMetering | IncentiveKind::EnergyCertificate)
    };
    let kinds: Vec<IncentiveKind> = IncentiveKind::ALL.iter().copied().filter(sense).collect();
    let label = |kind: &IncentiveKind| format!("{} ({})", kind.label(), terms::effect(year, credit, *kind));
    let choices = kinds.iter().map(|kind| Choice::new(kind.word(), label(kind))).collect();
    let question = Question::choice(format!("{id}.as"), "What was it?", choices)
        .explain(terms::incentives(&kinds, credit, year, i.law));
    let word = i.ask(question)?;
    let kind = IncentiveKind::from_word(&word).unwrap_or(IncentiveKind::Other);
    let from = Question::value(format!("{id}.from"), "Who pays it?", Form::Line)
        .explain("The name on the award letter.");
    let from = i.ask(from)?;
    let amount = Question::value(format!("{id}.amount"), "Amount", Form::Amount)
        .explain("The whole amount, also if it is paid in parts or later.");
    let amount = money(i, amount)?;
    let today = i.today;
    let received = Question::value(format!("{id}.received"), "On what day was it received?", Form::Date)
        .explain("Left out, it counts as still to come; the credit is the same.")
        .when(move |text| match text.parse::<Date>() {
            Ok(day) if day > today => Err(Refusal::new(
                format!("{day} lies after today, {today}"),
                "leave it out if it is still to come",
            )),
            _ => Ok(()),
        });
    let received = maybe_day(i, received)?;
    let evidence = papers::which(i, draft, id, EvidenceKind::AwardLetter, None)?;
    Ok(Incentive { from, kind, amount, received, evidence })
}
