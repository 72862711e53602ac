//! Contradictions between facts of a case that no law is needed to see, and the form of names, numbers and
//! addresses.
//!
//! Comes in: the case as far as it was read. Goes out: findings. Knows the calendar and arithmetic; knows no
//! rate, cap or date of law. What was not read is absent here, and nothing is said about absent things.

use super::*;
use crate::finding::{Finding, Span, Spanned};
use crate::money::Money;
use crate::name::{NoReference, Reference, Unfit, unfit_path};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::collections::{HashMap, HashSet};

/// Finds all contradictions.
pub(super) fn contradictions(case: &Case) -> Vec<Finding> {
    let mut found = Vec::new();
    client(&case.client, &mut found);
    case.homes.iter().for_each(|one| home(one, &mut found));
    case.property.iter().for_each(|one| item(one, case, &mut found));
    case.shared.iter().for_each(|one| shared(one, &mut found));
    case.returns.iter().for_each(|one| tax_return(one, &mut found));
    case.evidence.iter().for_each(|one| evidence(one, &mut found));
    answers(&case.answers, &mut found);
    signatures(case, &mut found);
    found
}

fn client(client: &Client, found: &mut Vec<Finding>) {
    client.people.iter().filter_map(|one| one.tin.as_ref()).for_each(|one| tin(one, found));
    if let Some(mail_to) = &client.mail_to {
        state(&mail_to.state, found);
        zip(&mail_to.zip, found);
    }
    if let Some(Engagement { consented: Some(consented), until: Some(until), .. }) = &client.engagement {
        in_order(("consented", consented), ("until", until), Finding::error, found);
    }
}

/// The code of the complaint about a reference. Nothing is made of a case that has it.
pub(super) const REFERENCE_FORM: &str = "reference-form";

/// Reads a reference, or complains that the text cannot name files.
pub(super) fn reference(written: &Spanned<String>) -> Result<Reference, Box<Finding>> {
    let text = written.value.as_str();
    Reference::new(text).map_err(|why| {
        let (message, help) = match why {
            NoReference::Form => (
                format!(
                    "a reference has only letters, digits and hyphens, at most {}, because it names the client's files",
                    Reference::MOST
                ),
                match better_reference(text) {
                    Some(better) => format!("write it like {better}"),
                    None => "write it like HH-0412".to_string(),
                },
            ),
            NoReference::Device => (
                format!("`{text}` is reserved on some computers and cannot name a folder there"),
                format!("write it like {text}-1"),
            ),
            NoReference::Number => (
                "a reference of nine digits reads like a taxpayer number (not shown), and it names files".to_string(),
                "give the client a reference of your own, like HH-0412".to_string(),
            ),
        };
        Box::new(Finding::error(REFERENCE_FORM, message).at(written.span).help(help))
    })
}

/// Makes a reference out of a text that was meant as one: other signs become hyphens.
fn better_reference(text: &str) -> Option<String> {
    let hyphened: String = text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let parts: Vec<&str> = hyphened.split('-').filter(|part| !part.is_empty()).collect();
    let better = parts.join("-");
    Reference::new(&better).is_ok().then_some(better)
}

/// The code of the complaint about a taxpayer number that is not masked.
pub(super) const TIN_FORM: &str = "tin-form";

/// Complains about a taxpayer number that is not masked.
pub(super) fn tin(tin: &Spanned<String>, found: &mut Vec<Finding>) {
    let shape: String = tin
        .value
        .chars()
        .map(|c| match c {
            'x' | 'X' | '*' => 'm',
            c if c.is_ascii_digit() => 'd',
            c => c,
        })
        .collect();
    if shape == "mmm-mm-dddd" {
        return;
    }
    let digits: Vec<char> = tin.value.chars().filter(char::is_ascii_digit).collect();
    let help = match digits.len() {
        4 => format!("write \"***-**-{}\", in quotes", digits.iter().collect::<String>()),
        _ => "write it like \"***-**-1234\", in quotes, or leave it out".to_string(),
    };
    found.push(
        Finding::error(TIN_FORM, "a taxpayer number is written masked, with its last four digits only")
            .at(tin.span)
            .help(help),
    );
}

/// Two-letter abbreviations of states and territories, and of military post, for the mail (United States
/// Postal Service, Publication 28, Appendix B; from memory).
const STATES: [&str; 62] = [
    "AL", "AK", "AZ", "AR", "CA", "CO", "CT", "DE", "DC", "FL", "GA", "HI", "ID", "IL", "IN", "IA", "KS",
    "KY", "LA", "ME", "MD", "MA", "MI", "MN", "MS", "MO", "MT", "NE", "NV", "NH", "NJ", "NM", "NY", "NC",
    "ND", "OH", "OK", "OR", "PA", "RI", "SC", "SD", "TN", "TX", "UT", "VT", "VA", "WA", "WV", "WI", "WY",
    "AS", "GU", "MP", "PR", "VI", "FM", "MH", "PW", "AA", "AE", "AP",
];

/// Complains about what is no two letters of a state.
pub(super) fn state(written: &Spanned<String>, found: &mut Vec<Finding>) {
    let state = written.value.as_str();
    if !STATES.contains(&state) {
        let upper = state.to_uppercase();
        let help = match STATES.contains(&upper.as_str()) {
            true => format!("write {upper}"),
            false => match super::states::state_letters(state) {
                Some(letters) => format!("write {letters}"),
                None => "write the two letters that the mail uses, such as MA".to_string(),
            },
        };
        found.push(
            Finding::error(
                "state-form",
                format!("`{state}` is not the two-letter name of a state or territory"),
            )
            .at(written.span)
            .help(help),
        );
    }
}

/// Complains about what is no ZIP code.
pub(super) fn zip(written: &Spanned<String>, found: &mut Vec<Finding>) {
    let zip = written.value.as_str();
    let digits = |text: &str, length| text.len() == length && text.bytes().all(|b| b.is_ascii_digit());
    let fine = match zip.split_once('-') {
        Some((first, second)) => digits(first, 5) && digits(second, 4),
        None => digits(zip, 5),
    };
    if !fine {
        let help = match digits(zip, 4) {
            true => format!("write 0{zip} if its leading zero was lost"),
            false => "write five digits, or five, a hyphen and four, such as 01040 or 01040-1234".to_string(),
        };
        found.push(Finding::error("zip-form", format!("`{zip}` is no ZIP code")).at(written.span).help(help));
    }
}

fn home(home: &Home, found: &mut Vec<Finding>) {
    if home.country.value == "US" {
        home.address.state.iter().for_each(|one| state(one, found));
        home.address.zip.iter().for_each(|one| zip(one, found));
    }
    for pair in home.uses.windows(2) {
        let (earlier, later) = (&pair[0], &pair[1]);
        match (&earlier.from, &later.from) {
            (_, None) => found.push(
                Finding::error(
                    "use-order",
                    format!("this use of {} does not say from when on", home.key.value),
                )
                .at(later.is.span)
                .help("add `from:` with the first day; only the first use may be without"),
            ),
            (Some(first), Some(second)) if second.value <= first.value => found.push(
                Finding::error(
                    "use-order",
                    format!(
                        "this use of {} begins on {}, not after the one above it",
                        home.key.value, second.value
                    ),
                )
                .at(second.span)
                .with(first.span, format!("the one above begins on {}", first.value))
                .help("list the uses with the earliest first, each day once"),
            ),
            _ => {}
        }
    }
}

fn item(item: &Item, case: &Case, found: &mut Vec<Finding>) {
    let installed = item.installed.as_ref();
    if let (Some(began), Some(installed)) = (&item.construction_began, installed) {
        in_order(("construction_began", began), ("installed", installed), Finding::error, found);
    }
    for (name, day) in [
        ("inspected", &item.inspected),
        ("permission_to_operate", &item.permission_to_operate),
        ("placed_in_service", &item.placed_in_service),
    ] {
        if let (Some(installed), Some(day)) = (installed, day) {
            in_order(("installed", installed), (name, day), Finding::warning, found);
        }
    }
    codes(item, found);
    let mut named: HashMap<&Key, Span> = HashMap::new();
    for enabled in &item.enables {
        if enabled.value == item.key.value {
            found.push(
                Finding::error(
                    "enables-itself",
                    format!("`{enabled}` is named as enabled by itself", enabled = enabled.value),
                )
                .at(enabled.span)
                .help("name the heat pump, water heater or other item that it serves"),
            );
        }
        if let Some(first) = named.insert(&enabled.value, enabled.span) {
            found.push(
                Finding::error("named-twice", format!("`{}` stands in this list twice", enabled.value))
                    .at(enabled.span)
                    .with(first, "the first time")
                    .help("name it once"),
            );
        }
    }
    facts_of_another_kind(item, found);
    for cost in &item.costs {
        self::cost(cost, found);
        paid_and_filed(cost, item, case, found);
    }
    item.incentives.iter().for_each(|one| incentive(one, found));
    let is_shared = case.shared.iter().any(|row| row.over.iter().any(|(key, _)| key.value == item.key.value));
    let of = |discount: bool| -> Money {
        item.costs
            .iter()
            .filter(|one| (one.nature.value == CostNature::Discount) == discount)
            .map(|one| one.amount.value)
            .sum()
    };
    if !is_shared && of(true) > of(false) {
        let last = item.costs.iter().rev().find(|one| one.nature.value == CostNature::Discount);
        let mut finding = Finding::error(
            "discount-above-costs",
            format!(
                "the discounts of {} come to {}, more than the {} they are taken from",
                item.key.value,
                of(true).spoken(),
                of(false).spoken()
            ),
        )
        .help("check the amounts; a discount is written as a positive amount and is taken off");
        if let Some(last) = last {
            finding = finding.at(last.amount.span);
        }
        found.push(finding);
    }
}

fn codes(item: &Item, found: &mut Vec<Finding>) {
    for (name, list, length) in [("maker_code", &item.maker_code, 4), ("pin", &item.pin, 17)] {
        list.iter().for_each(|one| code((name, length), one, found));
        let units = usize::from(item.units.value);
        if list.len() > 1 && list.len() != units {
            found.push(
                Finding::error(
                    "codes-and-units",
                    format!(
                        "`{name}` lists {} codes for {}",
                        list.len(),
                        if units == 1 { "1 unit".to_string() } else { format!("{units} units") }
                    ),
                )
                .at(list[0].span.to(list[list.len() - 1].span))
                .with(item.units.span, "the units")
                .help("give one code for all units, or one for each; units that cost different amounts are entries of their own"),
            );
        }
    }
}

/// Complains about a code that has not as many letters or digits as it must have.
pub(super) fn code((name, length): (&str, usize), code: &Spanned<String>, found: &mut Vec<Finding>) {
    let fine = code.value.len() == length && code.value.bytes().all(|b| b.is_ascii_alphanumeric());
    if fine {
        return;
    }
    let (label, which) = match name {
        "maker_code" => ("maker-code-form", "the code of a maker has 4 letters or digits"),
        _ => ("pin-form", "a product number has 17 letters or digits"),
    };
    found.push(
        Finding::error(label, format!("{which}, and `{}` has {}", code.value, counted(&code.value)))
            .at(code.span)
            .help("copy it from the maker's certificate; the digit 0 and the letter O look alike"),
    );
}

/// Says how many characters a code has, with its signs if it has any.
fn counted(code: &str) -> String {
    let length = code.chars().count();
    let other = code.chars().filter(|c| !c.is_ascii_alphanumeric()).count();
    let whole = if length == 1 { "1 character".to_string() } else { format!("{length} characters") };
    match other {
        0 => whole,
        _ => format!("{whole}, {other} of them neither a letter from A to Z nor a digit"),
    }
}

/// Warns about facts that only items of another kind have; they are kept and change nothing.
fn facts_of_another_kind(item: &Item, found: &mut Vec<Finding>) {
    let audit: &[Kind] = &[Kind::HomeEnergyAudit];
    let facts: [(&str, Option<Span>, &[Kind]); 8] = [
        ("performed", item.performed.as_ref().map(|one| one.span), audit),
        ("paid", item.paid.as_ref().map(|one| one.span), audit),
        ("auditor", item.auditor.as_ref().map(|one| one.name.span), audit),
        ("enables", item.enables.first().map(|one| one.span), &[Kind::EnablingProperty]),
        ("amperage", item.amperage.as_ref().map(|one| one.span), &[Kind::EnablingProperty]),
        ("capacity_kwh", item.capacity_kwh.as_ref().map(|one| one.span), &[Kind::BatteryStorage]),
        ("solar_share", item.solar_share.as_ref().map(|one| one.span), &[Kind::SolarWaterHeating]),
        ("construction_began", item.construction_began.as_ref().map(|one| one.span), &[Kind::FuelCell]),
    ];
    for (key, span, kinds) in facts {
        let Some(span) = span else { continue };
        if kinds.contains(&item.kind.value) {
            continue;
        }
        let help = match key {
            "paid" => "write the day on each entry of `costs`, where it is read for every kind".to_string(),
            _ => "delete it, or correct `kind`".to_string(),
        };
        found.push(
            Finding::warning(
                "fact-without-effect",
                format!(
                    "`{key}` is read only for `{}`, and this is `{}`; here it changes nothing",
                    kinds[0], item.kind.value
                ),
            )
            .at(span)
            .with(item.kind.span, "the kind")
            .help(help),
        );
    }
}

fn cost(cost: &Cost, found: &mut Vec<Finding>) {
    if let Some(materials) = &cost.materials
        && cost.nature.value != CostNature::LumpSum
    {
        found.push(
            Finding::error(
                "materials-without-lump-sum",
                format!(
                    "`materials` divides one price for goods and labor, and this cost is `{}`",
                    cost.nature.value
                ),
            )
            .at(materials.span)
            .with(cost.nature.span, "the nature of the cost")
            .help("write `as: lump_sum` if it is one price, otherwise leave `materials` out"),
        );
    }
    treatment(cost.treat_as.as_ref(), cost.because.as_ref(), &cost.amount, found);
}

fn incentive(incentive: &Incentive, found: &mut Vec<Finding>) {
    if let (Some(agreed), Some(received)) = (&incentive.agreed, &incentive.received) {
        in_order(("agreed", agreed), ("received", received), Finding::warning, found);
    }
    treatment(incentive.treat_as.as_ref(), incentive.because.as_ref(), &incentive.amount, found);
}

fn treatment(
    treat_as: Option<&Spanned<TreatAs>>,
    because: Option<&Spanned<String>>,
    amount: &Spanned<Money>,
    found: &mut Vec<Finding>,
) {
    let Some(treat_as) = treat_as else { return };
    if because.is_none() {
        found.push(
            Finding::error("because-missing", "`treat_as` chooses a treatment, and the reason is missing")
                .at(treat_as.span)
                .help("add `because:` with the reason; it is printed beside the figure"),
        );
    }
    if let TreatAs::CountedInPart(part) | TreatAs::ReducesInPart(part) = treat_as.value
        && part > amount.value
    {
        let (what, verb) = match treat_as.value {
            TreatAs::ReducesInPart(_) => ("incentive", "to reduce the cost"),
            _ => ("cost", "to count"),
        };
        found.push(
            Finding::error(
                "counted-above-amount",
                format!(
                    "{} is {verb} of {} {what} of {}",
                    part.spoken(),
                    if what == "cost" { "a" } else { "an" },
                    amount.spoken()
                ),
            )
            .at(treat_as.span)
            .with(amount.span, format!("the amount of the {what}"))
            .help("write a part that is not larger than the whole"),
        );
    }
}

/// A payment after the return was filed is possible, where a contractor was paid later, and is more often a
/// wrong year. It is an error where the case was also prepared before that day, for then it cannot be known.
fn paid_and_filed(cost: &Cost, item: &Item, case: &Case, found: &mut Vec<Finding>) {
    let (Some(paid), Some(installed)) = (&cost.paid, &item.installed) else {
        return;
    };
    let year = TaxYear::of(installed.value);
    let Some(filed) = case.tax_return(year).and_then(|one| one.filed.as_ref()) else {
        return;
    };
    if paid.value <= filed.value {
        return;
    }
    let make = match signed_on(case) {
        Some(known) if paid.value > known.value => Finding::error,
        _ => Finding::warning,
    };
    found.push(
        make(
            "cost-paid-after-return",
            format!("the payment date lies after the return for {year} was filed ({})", filed.value),
        )
        .at(paid.span)
        .with(filed.span, format!("filed {}", filed.value))
        .with(installed.span, format!("installed {}: this is what decides the year", installed.value))
        .help("correct the date, or leave `paid` out if it is not known"),
    );
}

fn shared(row: &Shared, found: &mut Vec<Finding>) {
    let (amount, what) = match &row.row {
        SharedRow::Cost(one) => {
            cost(one, found);
            (&one.amount, &one.item.value)
        }
        SharedRow::Incentive(one) => {
            incentive(one, found);
            (&one.amount, &one.from.value)
        }
    };
    let Some((_, first)) = row.over.first() else {
        found.push(
            Finding::error("shared-parts", format!("`{what}` is shared over no item"))
                .at(row.span)
                .help("name the items and their parts, like `over: {roof-array: 70%, battery: 30%}`"),
        );
        return;
    };
    let mut shares = Decimal::ZERO;
    let mut amounts = Money::ZERO;
    let (mut with_share, mut with_amount) = (false, false);
    for (_, part) in &row.over {
        match part.value {
            Part::Share(rate) => {
                shares += rate.factor();
                with_share = true;
            }
            Part::Amount(part) => {
                amounts = amounts + part;
                with_amount = true;
            }
        }
    }
    let span = first.span.to(row.over[row.over.len() - 1].1.span);
    if with_share && with_amount {
        found.push(
            Finding::error(
                "shared-parts",
                "some parts are percentages and some are amounts, so their sum is unclear",
            )
            .at(span)
            .help("write all parts as percentages, or all as amounts"),
        );
    } else if with_share && shares != Decimal::ONE {
        found.push(
            Finding::error(
                "shared-parts",
                format!("the parts add up to {}%, not to 100%", (shares * Decimal::ONE_HUNDRED).normalize()),
            )
            .at(span)
            .help("correct the percentages; where they cannot be even, such as thirds, write amounts"),
        );
    } else if with_amount && amounts != amount.value {
        found.push(
            Finding::error(
                "shared-parts",
                format!("the parts add up to {}, and the whole is {}", amounts.spoken(), amount.spoken()),
            )
            .at(span)
            .with(amount.span, "the whole")
            .help("correct the parts or the whole"),
        );
    }
}

impl ReturnForm {
    /// Says whether a year had the form: Form 1040-SR came with tax year 2019 (IRS, Form 1040-SR (2019)).
    pub fn existed_in(self, year: TaxYear) -> bool {
        self != ReturnForm::Form1040Sr || year >= TaxYear(2019)
    }
}

fn tax_return(one: &TaxReturn, found: &mut Vec<Finding>) {
    let year = one.year.value;
    let not_filed = matches!(one.stage.value, Stage::Projected | Stage::Draft);
    let shown = [
        ("filed", one.filed.as_ref().map(|filed| filed.span)),
        ("claimed", one.claimed.as_ref().map(|claimed| claimed.span)),
    ];
    for (key, span) in shown {
        if let Some(span) = span
            && not_filed
        {
            found.push(
                Finding::error(
                    "stage-and-filed",
                    format!(
                        "`{key}` belongs to a return that was filed, and the one for {year} is `{}`",
                        one.stage.value
                    ),
                )
                .at(span)
                .with(one.stage.span, stage_word(one))
                .help(format!("write `stage: filed` or `stage: amended`, or leave `{key}` out")),
            );
        }
    }
    for (key, day) in [("filed", &one.filed), ("due", &one.due), ("extended_to", &one.extended_to)] {
        if let Some(day) = day
            && TaxYear::of(day.value) <= year
        {
            found.push(
                Finding::error(
                    "return-date-too-early",
                    format!("`{key}` lies on {}, before the year {year} was over", day.value),
                )
                .at(day.span)
                .with(one.year.span, "the tax year")
                .help(format!(
                    "a return for {year} is filed in {} or later; correct the date or the year",
                    year.after()
                )),
            );
        }
    }
    if let (Some(due), Some(extended)) = (&one.due, &one.extended_to) {
        in_order(("due", due), ("extended_to", extended), Finding::error, found);
    }
    if let Some(separate) = &one.separate_main_homes
        && separate.value
        && matches!(
            one.filing_status.value,
            FilingStatus::Single | FilingStatus::HeadOfHousehold | FilingStatus::QualifyingSurvivingSpouse
        )
    {
        found.push(
            Finding::error(
                "separate-main-homes",
                format!(
                    "`separate_main_homes` speaks of a married couple, and the filing status is `{}`",
                    one.filing_status.value
                ),
            )
            .at(separate.span)
            .with(one.filing_status.span, "the filing status")
            .help("correct one of the two"),
        );
    }
    let credits: Money = one.other_credits.iter().map(|credit| credit.amount.value).sum();
    if credits > one.tax_before_credits.value
        && let (Some(first), Some(last)) = (one.other_credits.first(), one.other_credits.last())
    {
        found.push(
            Finding::warning(
                "credits-above-tax",
                format!(
                    "the other credits of {year} come to {}, more than the tax of {} they are taken from",
                    credits.spoken(),
                    one.tax_before_credits.spoken()
                ),
            )
            .at(first.credit.span.to(last.amount.span))
            .with(one.tax_before_credits.span, "the tax before credits")
            .help("enter each credit as it stands on the return, after its own limit; check the tax as well"),
        );
    }
}

fn stage_word(one: &TaxReturn) -> &'static str {
    match one.stage.span == one.year.span {
        true => "no stage is given, which means draft",
        false => "the stage",
    }
}

fn evidence(paper: &Evidence, found: &mut Vec<Finding>) {
    let Some(file) = &paper.file else { return };
    let path = file.value.as_str();
    let outside = path.starts_with(['/', '~'])
        || path.contains(['\\', ':'])
        || path.split('/').any(|part| matches!(part, "" | "." | ".."));
    if !outside && let Some(why) = unfit_path(path).filter(|why| !matches!(why, Unfit::Empty)) {
        found.push(
            Finding::error("file-path", format!("a paper of this name cannot be put into a packet: {why}"))
                .at(file.span)
                .help("rename the paper's file, and write its new name here"),
        );
    }
    if outside {
        found.push(
            Finding::error(
                "file-path",
                "a paper's file lies beside the case or in a folder below it, and its path says so",
            )
            .at(file.span)
            .help("write it like papers/inv-118.pdf, with / between folder and file and no .. in it"),
        );
    }
}

fn answers(answers: &[Answer], found: &mut Vec<Finding>) {
    let mut seen: HashMap<(&str, &str), Span> = HashMap::new();
    for answer in answers {
        // The dots of an entry that was copied from a question and not filled in.
        if answer.answer.value.chars().all(|c| matches!(c, '.' | ' ' | '\u{2026}')) {
            found.push(
                Finding::error("nothing-here", "this entry was copied and its answer not filled in")
                    .at(answer.answer.span)
                    .help("write the answer in place of the dots, or delete the entry"),
            );
        }
        let about = answer.about.as_ref().map_or("", |about| about.value.as_str());
        match seen.get(&(answer.question.value.as_str(), about)) {
            Some(first) => found.push(
                Finding::error(
                    "answered-twice",
                    format!("the question `{}` is answered twice", answer.question.value),
                )
                .at(answer.question.span)
                .with(*first, "the first answer")
                .help("keep the answer that holds"),
            ),
            None => {
                seen.insert((&answer.question.value, about), answer.question.span);
            }
        }
    }
}

/// Returns the last day on which someone signed for the case, if any is given.
fn signed_on(case: &Case) -> Option<&Spanned<Date>> {
    let prepared = case.prepared.as_ref().and_then(|one| one.on.as_ref());
    let reviewed = case.reviewed.as_ref().and_then(|one| one.on.as_ref());
    prepared.into_iter().chain(reviewed).max_by_key(|one| one.value)
}

/// Compares what has happened with the day someone signed for it.
fn signatures(case: &Case, found: &mut Vec<Finding>) {
    let day = |one: &Option<Signed>| one.as_ref().and_then(|one| one.on.clone());
    if let (Some(prepared), Some(reviewed)) = (day(&case.prepared), day(&case.reviewed)) {
        in_order(("prepared", &prepared), ("reviewed", &reviewed), Finding::error, found);
    }
    let Some(signed) = signed_on(case) else { return };
    let mut happened: Vec<(&str, &Spanned<Date>)> = Vec::new();
    for item in &case.property {
        let days = [
            ("installed", &item.installed),
            ("inspected", &item.inspected),
            ("permission_to_operate", &item.permission_to_operate),
            ("placed_in_service", &item.placed_in_service),
            ("performed", &item.performed),
            ("paid", &item.paid),
        ];
        happened.extend(days.iter().filter_map(|(key, day)| day.as_ref().map(|day| (*key, day))));
        happened.extend(item.costs.iter().filter_map(|one| one.paid.as_ref().map(|day| ("paid", day))));
        happened.extend(item.incentives.iter().flat_map(incentive_days));
    }
    for row in &case.shared {
        match &row.row {
            SharedRow::Cost(one) => happened.extend(one.paid.as_ref().map(|day| ("paid", day))),
            SharedRow::Incentive(one) => happened.extend(incentive_days(one)),
        }
    }
    happened.extend(case.returns.iter().filter_map(|one| one.filed.as_ref().map(|day| ("filed", day))));
    let said: HashSet<Span> = found.iter().filter_map(|one| one.at).collect();
    for (key, day) in happened {
        let said_already = said.contains(&day.span);
        if day.value <= signed.value || said_already {
            continue;
        }
        found.push(
            Finding::warning(
                "date-after-signature",
                format!("`{key}` lies on {}, after the day the case was last signed for ({})", day.value, signed.value),
            )
            .at(day.span)
            .with(signed.span, "the last signature")
            .help("correct the year if it is a slip; if the case was added to later, bring `prepared` up to date"),
        );
    }
}

fn incentive_days(one: &Incentive) -> impl Iterator<Item = (&'static str, &Spanned<Date>)> {
    let days = [("agreed", &one.agreed), ("received", &one.received)];
    days.into_iter().filter_map(|(key, day)| day.as_ref().map(|day| (key, day)))
}

/// Reports two days of which the second lies before the first.
fn in_order(
    first: (&str, &Spanned<Date>),
    second: (&str, &Spanned<Date>),
    make: fn(&'static str, String) -> Finding,
    found: &mut Vec<Finding>,
) {
    if second.1.value >= first.1.value {
        return;
    }
    found.push(
        make(
            "date-order",
            format!("`{}` ({}) lies before `{}` ({})", second.0, second.1.value, first.0, first.1.value),
        )
        .at(second.1.span)
        .with(first.1.span, format!("`{}`", first.0))
        .help("correct one of the two days"),
    );
}
