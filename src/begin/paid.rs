//! Questions about what was paid for an item, and what others pay toward it.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Cost, Draft, Incentive, Item, Shared};
use super::{maybe_day, money, papers, terms};
use crate::case::single::{self, Form, Refusal};
use crate::case::{CostNature, EvidenceKind, IncentiveKind, Kind};
use crate::law::{Class, Counts, Credit, YearLaw};
use crate::money::{Money, Rate};
use crate::wording::sentence;
use jiff::civil::Date;
use rust_decimal::Decimal;

/// Asks which paper shows what was paid, and for the amounts on it, one after another.
pub(super) fn costs(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    item: &mut Item,
    id: &str,
    law: (&YearLaw, Class),
) -> Result<(), Stop> {
    let likely = match item.kind {
        Kind::HomeEnergyAudit => EvidenceKind::AuditReport,
        _ => EvidenceKind::Invoice,
    };
    // What one contractor did is mostly on one paper; only the report of an audit is a paper of its own.
    let before =
        draft.items.last().and_then(|one| one.costs.last()).filter(|_| likely == EvidenceKind::Invoice);
    let usual = before.map(|one| one.evidence.as_deref().unwrap_or(papers::NONE)).unwrap_or(papers::LIKELY);
    let usual = usual.to_string();
    let words = "Which paper shows what was paid?";
    let mut paper = papers::which(i, draft, (id, words), likely, &usual)?;
    for n in 1.. {
        let id = format!("{id}.costs.{n}");
        let mut nature = nature(i, item, &id, law, n > 1)?;
        if nature.is_none() && n > 1 && i.answered(&format!("{id}.as")) == Some(OTHER_PAPER) {
            paper = papers::which(i, draft, (&id, "Which other paper?"), likely, papers::LIKELY)?;
            nature = self::nature(i, item, &format!("{id}.there"), law, false)?;
        }
        let Some(nature) = nature else { break };
        cost(i, item, &id, nature, law, paper.as_deref())?;
    }
    Ok(())
}

/// The choice for amounts that another paper shows.
const OTHER_PAPER: &str = "+paper";

fn cost(
    i: &mut Conversation<'_>,
    item: &mut Item,
    id: &str,
    nature: CostNature,
    law: (&YearLaw, Class),
    paper: Option<&str>,
) -> Result<(), Stop> {
    let most = (nature == CostNature::Discount).then(|| item.paid());
    let (amount, words) = amount_and_words(i, id, nature, move |amount| match most {
        Some(most) if amount > most => Err(Refusal::new(
            format!("a discount of {} is more than the {} it is taken from", amount.spoken(), most.spoken()),
            "correct the amount, or go back and enter the other amounts first",
        )),
        _ => Ok(()),
    })?;
    let evidence = paper.map(str::to_string);
    let whole = Cost { item: words, nature, amount, materials: None, because: None, evidence };
    match materials(i, id, &whole, law)? {
        None => item.costs.push(whole),
        Some((Goods::Share(share), because)) => {
            item.costs.push(Cost { materials: Some(share), because, ..whole });
        }
        // What is known in dollars is two amounts; as a share it would have to be rounded.
        Some((Goods::Amount(goods), because)) => {
            let called = |what: &str| format!("{} ({what})", whole.item);
            let labor = Cost {
                item: called("labor"),
                nature: CostNature::OnsiteLabor,
                amount: whole.amount - goods,
                ..whole.clone()
            };
            item.costs.push(Cost {
                item: called("materials"),
                nature: CostNature::Material,
                amount: goods,
                because,
                ..whole
            });
            item.costs.extend(Some(labor).filter(|one| !one.amount.is_zero()));
        }
    }
    Ok(())
}

/// Divides what was typed into its first part and the words behind it.
fn parted(typed: &str) -> (&str, &str) {
    let typed = typed.trim();
    let (first, rest) = typed.split_once(char::is_whitespace).unwrap_or((typed, ""));
    (first, rest.trim())
}

/// Puts back what stood behind a part that was refused.
fn with_rest(refusal: Refusal, rest: &str) -> Refusal {
    let instead = refusal.instead.map(|one| format!("{one} {rest}").trim_end().to_string());
    Refusal { instead, ..refusal }
}

/// Reads an amount and words behind it, or before it.
fn read_amount_and_words(typed: &str) -> Result<(Money, String), Refusal> {
    let typed = typed.strip_prefix("$ ").unwrap_or(typed);
    let (mut first, mut rest) = parted(typed);
    let has_digit = |text: &str| text.bytes().any(|byte| byte.is_ascii_digit());
    if let Some((words, last)) = typed.rsplit_once(char::is_whitespace).filter(|_| !has_digit(first))
        && has_digit(last)
    {
        (first, rest) = (last, words.trim());
    }
    let amount = single::read(Form::Amount, first).map_err(|refusal| with_rest(refusal, rest))?;
    let words = if rest.is_empty() { String::new() } else { single::read(Form::Line, rest)? };
    let amount =
        Money::read(&amount).map_err(|_| Refusal::new("this is no amount", "write it like 12500"))?;
    Ok((amount, words))
}

/// Asks for an amount, and what the bill calls it; where it says nothing, it is called by its nature.
fn amount_and_words(
    i: &mut Conversation<'_>,
    id: &str,
    nature: CostNature,
    fits: impl Fn(Money) -> Result<(), Refusal> + 'static,
) -> Result<(Money, String), Stop> {
    let words = "Amount, and behind it what the bill calls it, such as 6000 three windows";
    let question = Question::value(format!("{id}.amount"), words, Form::Line)
        .explain(
            "What this client paid, or this joint return. A discount is written without a sign. The words are your own and \
             stand on the worksheet; without them it is called by what it was for.",
        )
        .and_read(move |typed| {
            let (amount, words) = read_amount_and_words(typed)?;
            fits(amount)?;
            Ok(format!("{} {words}", amount.plain()).trim_end().to_string())
        });
    let (amount, words) = read_amount_and_words(&i.ask(question)?)
        .map_err(|_| Stop::Fault("an amount was read and is none".to_string()))?;
    Ok((amount, if words.is_empty() { nature.label().to_string() } else { words }))
}

/// Asks what an amount was for, from what makes sense for the class; what counts stands first. Nothing where there is no
/// further amount on this paper.
fn nature(
    i: &mut Conversation<'_>,
    item: &Item,
    id: &str,
    (year, class): (&YearLaw, Class),
    further: bool,
) -> Result<Option<CostNature>, Stop> {
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
    let mut choices = Vec::new();
    if further {
        choices.push(Choice::new("no", "no"));
        choices.push(Choice::new(OTHER_PAPER, "yes, on another paper"));
    }
    choices.extend(natures.iter().map(|nature| Choice::new(nature.word(), label(nature))));
    let words = match (further, item.costs.len()) {
        (true, _) => "Is there another amount on the bill? What for?",
        (false, 0) => "What did the client pay for? The first amount of the bill",
        (false, _) => "What was it for?",
    };
    let mut explain = terms::natures(&natures, class, year);
    explain.push_str(
        "\nEach line of the bill on its own; also those that do not count, so that the sum agrees with the bill.",
    );
    let question = Question::choice(format!("{id}.as"), words, choices)
        .maybe(further.then(|| "no".to_string()))
        .explain(explain)
        .decides(format!("{}.", id.trim_end_matches(".there")));
    Ok(CostNature::from_word(&i.ask(question)?))
}

/// The part of one price that is goods.
enum Goods {
    Share(String),
    Amount(Money),
}

/// Reads the part of one price that is goods, and how it is known: a percentage, or dollars.
fn read_goods(typed: &str, whole: Money) -> Result<(Goods, Option<String>), Refusal> {
    let typed = typed.strip_prefix("$ ").unwrap_or(typed);
    let (first, rest) = parted(typed);
    let because = match rest {
        "" => None,
        words => Some(single::read(Form::Line, words)?),
    };
    // A bare number up to a hundred is meant as a percentage, unless it is more than likely that it is not.
    let bare = Money::read(first).is_ok_and(|amount| amount.decimal() <= Decimal::ONE_HUNDRED);
    if first.ends_with('%') || bare && !first.starts_with('$') {
        let share = single::read(Form::Percentage, first).map_err(|refusal| with_rest(refusal, rest))?;
        return Ok((Goods::Share(share), because));
    }
    let amount = single::read(Form::Amount, first).map_err(|refusal| with_rest(refusal, rest))?;
    match Money::read(&amount) {
        Ok(goods) if goods <= whole => Ok((Goods::Amount(goods), because)),
        _ => Err(Refusal::new(
            format!("goods for {first} are more than the whole price, {}", whole.spoken()),
            "write the part of the price that is for goods",
        )),
    }
}

/// Asks for the part of one price that is materials, where only that part counts.
fn materials(
    i: &mut Conversation<'_>,
    id: &str,
    cost: &Cost,
    (year, class): (&YearLaw, Class),
) -> Result<Option<(Goods, Option<String>)>, Stop> {
    let law = year.costs.get(&(class, cost.nature)).filter(|law| law.counts == Counts::MaterialsOnly);
    let Some(law) = law.filter(|_| cost.nature == CostNature::LumpSum) else {
        return Ok(None);
    };
    let words = "How much of this price is for the goods alone, and how is it known? Such as 65% installer's letter, or $3,900";
    let explain = format!(
        "{} Ask the installer for the split if the bill does not show it. Left out, nothing of this price counts, and the \
         question stays open in the case.",
        sentence(&law.because)
    );
    let whole = cost.amount;
    let question = Question::value(format!("{id}.materials"), words, Form::Line)
        .and_read(move |typed| {
            let (goods, because) = read_goods(typed, whole)?;
            let goods = match goods {
                Goods::Share(share) => share,
                Goods::Amount(amount) => format!("${}", amount.plain()),
            };
            Ok(because.map_or_else(|| goods.clone(), |because| format!("{goods} {because}")))
        })
        .explain(explain);
    let goods = i.maybe(question)?.map(|text| read_goods(&text, whole)).transpose();
    goods.map_err(|refusal| Stop::Fault(refusal.message))
}

/// Asks for amounts that were paid for several items together, and divides each.
pub(super) fn shared(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    if draft.items.len() < 2 {
        return Ok(());
    }
    i.heading("For several of these together");
    let classes = draft.items.iter().filter_map(|one| {
        let class = i.law.year(one.year)?.kinds.get(&one.kind)?.class;
        Some((class, one.kind))
    });
    let classes: Vec<(Class, Kind)> = classes.collect();
    let natures: Vec<CostNature> = CostNature::ALL
        .iter()
        .copied()
        .filter(|nature| *nature != CostNature::Discount)
        .filter(|nature| classes.iter().any(|(class, kind)| terms::fits(*nature, *class, *kind)))
        .collect();
    for n in 1.. {
        let id = format!("shared.{n}");
        let mut choices = vec![Choice::new("no", "no")];
        choices.extend(natures.iter().map(|nature| Choice::new(nature.word(), nature.label())));
        let words = match n {
            1 => "Is there an amount for several of these together, not entered yet? What for?",
            _ => "Another one?",
        };
        let question =
            Question::choice(format!("{id}.as"), words, choices).or("no").decides(format!("{id}."));
        let explain =
            "Such as one permit for panels and battery. It is divided, and each item bears its part.";
        let Some(nature) = CostNature::from_word(&i.ask(question.explain(explain))?) else { break };
        let (amount, words) = amount_and_words(i, &id, nature, |amount| match amount.is_zero() {
            true => Err(Refusal::new("nothing can be divided here", "write the whole amount")),
            false => Ok(()),
        })?;
        let over = parts(i, draft, &id, amount)?;
        let before = draft.items.iter().rev().find_map(|one| one.costs.last());
        let usual =
            before.map(|one| one.evidence.as_deref().unwrap_or(papers::NONE)).unwrap_or(papers::LIKELY);
        let usual = usual.to_string();
        let evidence =
            papers::which(i, draft, (&id, "Which paper shows it?"), EvidenceKind::Invoice, &usual)?;
        let cost = Cost { item: words, nature, amount, materials: None, because: None, evidence };
        draft.shared.push(Shared { cost, over });
    }
    Ok(())
}

/// Asks for the part of each item; the last one bears the rest.
fn parts(
    i: &mut Conversation<'_>,
    draft: &Draft,
    id: &str,
    whole: Money,
) -> Result<Vec<(String, String)>, Stop> {
    let mut over: Vec<(String, String)> = Vec::new();
    let mut percent = None;
    let mut left = Decimal::ZERO;
    let last = draft.items.len() - 1;
    for (n, item) in draft.items.iter().enumerate().take(last) {
        let words = format!("How much of it is for the {}? A percentage, or dollars", item.name());
        let (open, so_far) = (percent.is_none(), (percent, left));
        let question = Question::value(format!("{id}.over.{n}"), words, Form::Line)
            .and_read(move |typed| {
                let (of_percent, part) = read_part(typed)?;
                let (percent, left) = so_far;
                if percent.is_some_and(|percent| percent != of_percent) {
                    let help = "write all parts in percent, or all in dollars";
                    return Err(Refusal::new("the part before was written in the other way", help));
                }
                let left = match open {
                    true if of_percent => Decimal::ONE_HUNDRED,
                    true => whole.decimal(),
                    false => left,
                };
                if part.is_zero() || part >= left {
                    let help = "write less than all of it; what belongs to one item alone is entered with that item";
                    return Err(Refusal::new("each item bears a part, and the last one the rest", help));
                }
                Ok(if of_percent { format!("{}%", part.normalize()) } else { part.normalize().to_string() })
            })
            .explain("What is left falls to the last item. Divide by what the bill shows, such as capacity or hours.");
        let text = match (n, draft.items.len()) {
            // With more than two, an item may have no part in it.
            (_, 2) => Some(i.ask(question)?),
            _ => i.maybe(question)?,
        };
        let Some(text) = text else { continue };
        let (of_percent, part) = read_part(&text).map_err(|refusal| Stop::Fault(refusal.message))?;
        let before = if percent.is_some() {
            left
        } else if of_percent {
            Decimal::ONE_HUNDRED
        } else {
            whole.decimal()
        };
        percent = Some(of_percent);
        left = before - part;
        over.push((item.key.clone(), text));
    }
    let rest = match percent {
        None => "100%".to_string(),
        Some(true) => format!("{}%", left.normalize()),
        Some(false) => left.normalize().to_string(),
    };
    over.push((draft.items[last].key.clone(), rest));
    Ok(over)
}

/// Reads a percentage or an amount, and says which it is.
fn read_part(typed: &str) -> Result<(bool, Decimal), Refusal> {
    let fault = |_| Refusal::new("this is no part", "write it like 60%, or like 1200");
    if typed.ends_with('%') {
        let share = single::read(Form::Percentage, typed)?;
        return Ok((true, Rate::read(&share).map_err(|_| fault(()))?.factor() * Decimal::ONE_HUNDRED));
    }
    let amount = single::read(Form::Amount, typed)?;
    Ok((false, Money::read(&amount).map_err(|_| fault(()))?.decimal()))
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
        let Some(one) = incentive(i, draft, item, &id, law, n)? else { break };
        item.incentives.push(one);
    }
    Ok(())
}

fn incentive(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    item: &Item,
    id: &str,
    (year, credit): (&YearLaw, Credit),
    n: usize,
) -> Result<Option<Incentive>, Stop> {
    let sense = |kind: &IncentiveKind| {
        credit == Credit::Clean
            || !matches!(kind, IncentiveKind::NetMetering | IncentiveKind::EnergyCertificate)
    };
    let kinds: Vec<IncentiveKind> = IncentiveKind::ALL.iter().copied().filter(sense).collect();
    let label = |kind: &IncentiveKind| format!("{} ({})", kind.label(), terms::effect(year, credit, *kind));
    let mut choices = vec![Choice::new("no", if n == 1 { "no" } else { "no more" })];
    choices.extend(kinds.iter().map(|kind| Choice::new(kind.word(), label(kind))));
    let words = match n {
        1 => "Did anyone pay something toward it: utility, maker, State, city? What was it?",
        _ => "Was there another payment toward it?",
    };
    let explain = format!(
        "Rebates, subsidies, grants and credits, also those that went to the installer or are still to come. {}",
        terms::incentives(&kinds, credit, year, i.law)
    );
    let question = Question::choice(format!("{id}.as"), words, choices)
        .or("no")
        .explain(explain)
        .decides(format!("{id}."));
    let Some(kind) = IncentiveKind::from_word(&i.ask(question)?) else { return Ok(None) };
    let known = draft.items.iter().chain([item]).flat_map(|one| &one.incentives);
    let same = { known }.rfind(|one| one.kind == kind).map(|one| one.from.clone());
    let from = Question::value(format!("{id}.from"), "Who pays it?", Form::Line)
        .maybe(same)
        .explain("The name on the award letter.");
    let from = i.ask(from)?;
    let today = i.today;
    let amount = Question::value(format!("{id}.amount"), "Amount", Form::Amount)
        .explain("The whole amount, also if it is paid in parts or later.");
    let amount = money(i, amount)?;
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
    let words = "Which paper shows it?";
    let evidence = papers::which(i, draft, (id, words), EvidenceKind::AwardLetter, papers::LIKELY)?;
    Ok(Some(Incentive { from, kind, amount, received, evidence }))
}
