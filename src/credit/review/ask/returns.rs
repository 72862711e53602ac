//! What a careful reviewer would ask about returns: claims that differ, lives that change while credit is left.
//!
//! Comes in: the returns and the figures of all years. Goes out: questions. Reads what was filed only to ask about it.

use crate::case::{Case, FilingStatus, ReturnForm, TaxReturn, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Place};
use crate::credit::returns::window;
use crate::credit::returns::{amend, as_filed, stage};
use crate::finding::{Finding, Spanned};
use crate::law::{Law, Rule};
use crate::money::Money;

/// Asks about every return, and about people.
pub(super) fn ask(case: &Case, law: &Law, figures: &Figures) -> Vec<Finding> {
    let mut found = Vec::new();
    for one in &case.returns {
        found.extend(claims(case, law, figures, one));
        found.extend(improvement_lost(law, figures, one));
        found.extend(joint_return_ended(case, law, figures, one));
        found.extend(dual_status(one));
        found.extend(goes_on(law, figures, one));
        found.extend(form_of_another_time(one));
    }
    found.extend(deaths(case, law, figures));
    found
}

fn rule(law: &Law, year: TaxYear, rule: Rule) -> String {
    law.year(year).map_or_else(String::new, |law| law.cited(rule))
}

/// Says what part of the home improvement credit the tax of a return still to be filed cannot take: it is lost, and the
/// trade likes to carry it on.
fn improvement_lost(law: &Law, figures: &Figures, one: &TaxReturn) -> Option<Finding> {
    let year = one.year.value;
    if stage::is_filed(one) {
        return None;
    }
    let computed = |line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
    let lost = Some(computed(line::IMPROVEMENT_LOST)).filter(|lost| !lost.is_zero())?;
    let message = format!(
        "{} of the {} of home improvement credit (25C) of {year} is lost: the tax left for it is {}, and 25C is never carried forward",
        lost.spoken(),
        computed(line::IMPROVEMENT_BEFORE_LIMIT).spoken(),
        computed(line::IMPROVEMENT_ALLOWED).spoken()
    );
    let note = codes::IMPROVEMENT_LOST.finding(message).at(one.tax_before_credits.span);
    let help = "nothing is to be done if the tax and the other credits are right; only the clean energy credit (25D) is carried forward";
    let note = note.about(format!("returns.{year}")).help(help);
    let authority = rule(law, year, Rule::ImprovementNoCarryforward);
    Some(if authority.is_empty() { note } else { note.under(authority) })
}

/// Answers the belief that a carryforward ends with the last year of the credit, where a filed return follows it: in the
/// first year after 2016 and the first after 2025. The worksheet says the same in those years in any case.
fn goes_on(law: &Law, figures: &Figures, one: &TaxReturn) -> Option<Finding> {
    let year = one.year.value;
    let rule = law.year(year)?.rules.get(&Rule::CarryforwardBelief)?;
    let computed = |line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
    let carried_in = computed(line::CARRIED_IN);
    let claimed = one.claimed.as_ref()?;
    let less = |filed: Option<&Spanned<Money>>, line| {
        let (filed, computed) = (filed.map_or(Money::ZERO, |filed| filed.value), computed(line));
        filed < computed && as_filed::differ(filed, computed)
    };
    let left_out = less(claimed.clean.as_ref(), line::CLEAN_ALLOWED)
        || less(claimed.carried_out.as_ref(), line::CARRIED_OUT);
    (!carried_in.is_zero() && left_out).then(|| {
        codes::CARRYFORWARD_GOES_ON
            .finding(format!(
                "{} is carried into {year} and stays usable: {}",
                carried_in.spoken(),
                rule.says
            ))
            .at(claimed.span)
            .help("compare the filed return with lines 430 to 441")
            .under(rule.authority.source.join("; "))
    })
}

/// Form 1040-SR came with tax year 2019 (Bipartisan Budget Act of 2018, section 41106, from memory; the e-file forms of
/// 2019 are the first that name it).
fn form_of_another_time(one: &TaxReturn) -> Option<Finding> {
    let year = one.year.value;
    let early = one.form.value == ReturnForm::Form1040Sr && year.0 < 2019;
    early.then(|| {
        codes::FORM_NOT_IN_YEAR.finding(
            format!("there was no Form 1040-SR for {year}; it came with tax year 2019"),
        )
        .at(one.form.span)
        .help("write `form: 1040`; Form 5695 went with Form 1040 or 1040-NR, never with Form 1040A or 1040EZ")
        .under("Form 1040-SR (2019), the first one")
    })
}

/// Compares what a filed return shows with what is computed, and says until when an amended return can change it.
fn claims(case: &Case, law: &Law, figures: &Figures, one: &TaxReturn) -> Vec<Finding> {
    if !stage::stands_as_filed(one) {
        return Vec::new();
    }
    let year = one.year.value;
    let computed = |line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
    let claimed = one.claimed.as_ref();
    let rows: [(&str, Money, Option<&Spanned<Money>>); 3] = [
        (
            "home improvement credit",
            computed(line::IMPROVEMENT_ALLOWED),
            claimed.and_then(|one| one.improvement.as_ref()),
        ),
        ("clean energy credit", computed(line::CLEAN_ALLOWED), claimed.and_then(|one| one.clean.as_ref())),
        (
            "credit carried forward",
            computed(line::CARRIED_OUT),
            claimed.and_then(|one| one.carried_out.as_ref()),
        ),
    ];
    let span = claimed.map_or(one.stage.span, |one| one.span);
    let about = |end: &str| format!("returns.{year}{end}");
    let until = until(case, one);
    let list = |wanted: &dyn Fn(Money, Option<Money>) -> bool| {
        let parts =
            rows.iter().filter(|(_, computed, claimed)| wanted(*computed, claimed.map(|one| one.value)));
        let words = parts.map(|(what, computed, claimed)| match claimed {
            Some(claimed) => {
                format!("{what}: {} filed, {} computed", claimed.value.spoken(), computed.spoken())
            }
            None => format!("{what}: {} computed", computed.spoken()),
        });
        words.collect::<Vec<_>>().join("; ")
    };
    let differ = |computed, claimed: Money| as_filed::differ(claimed, computed);
    let mut found = Vec::new();
    let unsaid = list(&|computed, claimed| claimed.is_none() && !computed.is_zero());
    if !unsaid.is_empty() {
        let question = codes::CLAIMED_UNSAID.finding(
            format!(
                "what does the filed return for {year} show of this ({unsaid})? A credit left out is not moved to a later year. {until}"
            ),
        );
        let help = "add `claimed: {improvement: .., clean: .., carried_out: ..}` from the filed Form 5695, 0 where nothing stands";
        let authority = rule(law, year, Rule::OpenYears);
        found.push(question.at(span).about(about(".claimed")).given([unsaid]).help(help).under(authority));
    }
    let together = together(case, figures, one);
    let less = list(&|computed, claimed| {
        claimed.is_some_and(|claimed| claimed < computed && differ(computed, claimed))
    });
    if !less.is_empty() {
        let told = together.as_deref().unwrap_or(&until);
        let message = format!("the filed return for {year} shows less than is computed ({less})");
        let prepare = "prepare Form 1040-X with its Part II, that year's Form 5695 and a completed Form 1040 with the changes";
        // Where only the carryforward changes there is no refund, and no last day.
        let refund = amend::correction(case, figures, year).is_none_or(|one| !one.less_tax.is_zero());
        let (message, help) = match over(case, one) {
            Some(true) if refund => (
                format!("{message}; what is to be done, now that no refund can be claimed for it? {told}"),
                "set the case against the filed form; no refund can be claimed for the year any more, so tell the client, and correct what is carried into years that are still open".to_string(),
            ),
            None if refund => (
                format!("{message}; is it to be amended? {told}"),
                format!("set the case against the filed form; if the computation holds and the time for a claim is not over, {prepare}"),
            ),
            _ => (
                format!("{message}; is it to be amended? {told}"),
                format!("set the case against the filed form; if the computation holds, {prepare}"),
            ),
        };
        let question = codes::CLAIMED_TOO_LITTLE.finding(message);
        let help = format!("{help}. The credit cannot be claimed in another year instead");
        let authority = rule(law, year, Rule::OpenYears);
        found.push(question.at(span).about(about(".claimed")).given([less]).help(help).under(authority));
    }
    let more = list(&|computed, claimed| {
        claimed.is_some_and(|claimed| claimed > computed && differ(computed, claimed))
    });
    if !more.is_empty() {
        let question = codes::CLAIMED_TOO_MUCH.finding(
            format!(
                "the filed return for {year} shows more than is computed ({more}); does the client know, and what follows if it stands? {}",
                together.as_deref().unwrap_or_default()
            )
            .trim_end(),
        );
        let help = "set the case against the filed form; if the computation holds, tell the client of the error and of Form 1040-X, which goes with that year's Form 5695 and a completed Form 1040 with the changes";
        found.push(
            question
                .at(span)
                .about(about(".claimed"))
                .given([more])
                .help(help)
                .under("31 CFR 10.21 (from memory)"),
        );
    }
    let rounded = list(&|computed, claimed| {
        claimed.is_some_and(|claimed| claimed != computed && !differ(computed, claimed))
    });
    if !rounded.is_empty() {
        let note = codes::CLAIMED_BUT_FOR_ROUNDING.finding(format!(
            "the filed return for {year} and these figures differ by rounding only ({rounded})"
        ));
        let help = "nothing is to be done: a difference of no more than a dollar is not told to the client and is no reason \
                    to amend, by a rule of ours";
        found.push(note.at(span).help(help).under(rule(law, year, Rule::Rounding)));
    }
    found
}

/// Says what the changes of a filed return come to together, where that is known: only the net of a year comes back or is
/// owed, and a change of the carryforward alone is neither.
fn together(case: &Case, figures: &Figures, one: &TaxReturn) -> Option<String> {
    let year = one.year.value;
    let correction = amend::correction(case, figures, year)?;
    Some(if !correction.less_tax.is_zero() {
        format!(
            "Together the changes of {year} come to {} less tax. {}",
            correction.less_tax.spoken(),
            until(case, one)
        )
    } else if !correction.more_tax.is_zero() {
        format!(
            "Together the changes of {year} come to {} more tax, with interest and perhaps a penalty",
            correction.more_tax.spoken()
        )
    } else if correction.moves_carryforward() {
        format!(
            "The tax of {year} stays as filed, so there is no refund and no last day for one; the corrected Form 5695 shows what is carried forward, and the returns of later years start from it"
        )
    } else {
        format!("Together the changes leave the tax of {year} as filed")
    })
}

/// Says until when a refund for a filed return can be claimed, by the rules that letters go by too.
fn until(case: &Case, one: &TaxReturn) -> String {
    let day = window::window(case, one.year.value).closes;
    if one.filed.is_none() {
        return "An amended return can claim it for three years after filing, or two after payment"
            .to_string();
    }
    match over(case, one) {
        Some(true) => format!(
            "The time for an amended return ended on {day}, and only what is carried into open years can still change"
        ),
        Some(false) => format!("An amended return can claim it until {day}"),
        // Without a day on which the case was prepared nothing says whether that day is still to come.
        None => format!(
            "The last day for a refund claim is {day}; after it, only what is carried into open years can still change"
        ),
    }
}

/// Says whether the time for a refund claim was over when the case was last signed; unknown without the day of filing or
/// a signature.
fn over(case: &Case, one: &TaxReturn) -> Option<bool> {
    one.filed.as_ref()?;
    let signed =
        [&case.prepared, &case.reviewed].into_iter().flatten().filter_map(|signed| signed.on.as_ref());
    let signed = signed.map(|on| on.value).max()?;
    Some(signed > window::window(case, one.year.value).closes)
}

/// Asks whose credit is carried on after a joint return is followed by another kind.
fn joint_return_ended(case: &Case, law: &Law, figures: &Figures, one: &TaxReturn) -> Option<Finding> {
    let year = one.year.value;
    let joint = |one: &TaxReturn| one.filing_status.value == FilingStatus::MarriedFilingJointly;
    let before = case.tax_return(year.before())?;
    let balance = figures.money(&Place::of_return(year, line::CARRIED_IN))?;
    let said = case
        .carried_in(year)
        .is_some_and(|given| given.belongs_to.is_some() || given.instead_of_computed.is_some());
    let died = case
        .client
        .people
        .iter()
        .any(|person| person.deceased.as_ref().is_some_and(|day| TaxYear::of(day.value) < year));
    if balance.is_zero() || said || died || !joint(before) || joint(one) {
        return None;
    }
    let question = codes::CARRYFORWARD_AFTER_JOINT_RETURN.finding(format!(
        "{} is carried from the joint return for {} into one filed as {}; which part is this client's?",
        balance.spoken(),
        before.year.value,
        one.filing_status.value.label()
    ));
    let help = format!(
        "trace it to who paid; give this client's part as `carried_in: {year}:` with `belongs_to:` and `instead_of_computed:`. No rule says how it is split"
    );
    let asked = question.at(one.filing_status.span).about(format!("returns.{year}.filing_status"));
    let asked = asked.given([balance.spoken(), one.filing_status.value.to_string()]);
    Some(asked.help(help).under(rule(law, year, Rule::CarryforwardLifeEvents)))
}

/// Asks about returns of and after a year of death.
fn deaths(case: &Case, law: &Law, figures: &Figures) -> Vec<Finding> {
    let mut found = Vec::new();
    for (n, person) in (1..).zip(&case.client.people) {
        let Some(died) = &person.deceased else { continue };
        let year = TaxYear::of(died.value);
        let about = format!("client.people.{n}.deceased");
        if let Some(last) =
            case.tax_return(year).filter(|one| one.filing_status.value != FilingStatus::MarriedFilingJointly)
        {
            let question = codes::FINAL_RETURN.finding(format!(
                "{} died on {}; is the return for {year} the final one of this person, and who signs it?",
                person.name.value, died.value
            ));
            let help =
                "credit that this return cannot use is lost with it; say here who answers for the estate";
            let asked =
                question.at(last.filing_status.span).about(about.clone()).with(died.span, "the day of death");
            let asked = asked.given([died.value]);
            found.push(asked.help(help).under(rule(law, year, Rule::CarryforwardLifeEvents)));
        }
        let later = case.returns.iter().filter(|one| one.year.value > year).min_by_key(|one| one.year.value);
        let Some(later) = later else { continue };
        let into = later.year.value;
        let balance = figures.money(&Place::of_return(into, line::CARRIED_IN)).unwrap_or(Money::ZERO);
        let given = case.carried_in(into);
        let others = given
            .and_then(|given| given.belongs_to.as_ref())
            .is_some_and(|whose| whose.value != person.name.value);
        let said = others || given.is_some_and(|given| given.instead_of_computed.is_some());
        if balance.is_zero() || said {
            continue;
        }
        let question = codes::CARRYFORWARD_AFTER_DEATH.finding(
            format!(
                "{} is carried into {into}, after {} died on {}; which part comes from what the survivor paid? The rest ended with the return for {year}",
                balance.spoken(),
                person.name.value,
                died.value
            ),
        );
        let help = format!(
            "give the survivor's part as `carried_in: {into}:` with `belongs_to:` and `instead_of_computed:`. No rule of 25D decides it; courts split other carryovers so"
        );
        let given = [died.value.to_string(), balance.spoken()];
        let asked = question.at(died.span).about(about).given(given).help(help);
        let authority = rule(law, into, Rule::CarryforwardLifeEvents);
        found.push(asked.under(authority));
    }
    found
}

/// Asks whether a nonresident's return covers a year with two statuses, which this program does not compute.
fn dual_status(one: &TaxReturn) -> Option<Finding> {
    if one.form.value != ReturnForm::Form1040Nr {
        return None;
    }
    let year = one.year.value;
    let question = codes::DUAL_STATUS.finding(
        format!(
            "was the client a nonresident for all of {year}? A year with two statuses is figured otherwise than here"
        ),
    );
    let asked = question.at(one.form.span).about(format!("returns.{year}.form"));
    let asked = asked.given([one.form.value.to_string(), year.to_string()]);
    Some(
        asked
            .help("leave this year to hand work if the status changed in it")
            .under("26 CFR 1.871-13 (from memory)"),
    )
}
