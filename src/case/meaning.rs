//! The second reading: from the tree of a case file to [`Case`].
//!
//! Comes in: the tree. Goes out: the case as far as it could be made, and every complaint about a key or a
//! value. Knows what each key takes (from [`format`](super::format), which also documents the whole format);
//! contradictions between values that are each fine belong to [`check`](super::check).
//!
//! A part that lacks something it cannot be without is left out; the complaint about it stands, and nothing
//! that refers to it is reported as missing.

use super::format as rules;
use super::kinds::*;
use super::model::*;
use super::spoken;
use crate::finding::{At, Finding, Severity, Span};
use crate::money::Money;
use crate::record::tree::{Node, Value};
use crate::record::{Fields, Named, Reading, suggest};
use std::ops::RangeInclusive;

/// The tax years for which there can be a return: those that the program has the law of, from the first year of the
/// credits on.
pub(super) use crate::editions::years as return_years;
/// The years to plan for.
pub(super) const PLANNED_YEARS: RangeInclusive<i16> = 2006..=2045;

/// What a file means.
pub(super) struct Meant {
    /// The case, as far as it could be made.
    pub case: Case,
    /// Whether every value was read that a computation depends on.
    pub usable: bool,
    /// What was found.
    pub findings: Vec<Finding>,
}

/// Reads the whole case.
pub(super) fn case(root: &Node, text: &str, whole: Span) -> Meant {
    let mut reading = Reading::new(root, text, &super::habits::FILE);
    let mut case = empty(whole);
    if root.is_nothing() {
        reading.findings.push(
            Finding::error(
                "empty-file",
                "the file holds no case; there is nothing in it but blanks and comments",
            )
            .at(Span { end: 0, ..whole })
            .help("make a case with `gablework begin`, which asks for what it needs; a case begins with `format: 1`"),
        );
        return Meant { case, usable: false, findings: reading.findings };
    }
    let head = match &root.value {
        Value::Map { entries, .. } => entries.first().map_or(root.span, |one| one.key.span),
        _ => root.span,
    };
    let Some(top) = reading.fields(root, head, &rules::CASE, "the case".to_string()) else {
        return Meant { case, usable: false, findings: reading.findings };
    };
    format_number(&top, &mut reading);

    // What the figures depend on: any error here makes the case unusable for them.
    case.homes = top.read::<Named<Home>>(&mut reading, "homes").unwrap_or_default();
    case.property = named(&top, &mut reading, "property", item);
    case.shared = top
        .blocks(&mut reading, "shared", &rules::SHARED)
        .into_iter()
        .filter_map(|row| shared(&row, &mut reading))
        .collect();
    case.returns = by_year(&top, &mut reading, "returns", return_years(), tax_return);
    case.carried_in = by_year(&top, &mut reading, "carried_in", return_years(), carried_in);
    case.earlier_credits = by_year(&top, &mut reading, "earlier_credits", return_years(), earlier_credits);
    case.planning = planning(&top, &mut reading);
    let mut usable = !reading.findings.iter().any(|one| one.severity == Severity::Error);

    case.prepared = top.read::<Option<Signed>>(&mut reading, "prepared").flatten();
    case.reviewed = top.read::<Option<Signed>>(&mut reading, "reviewed").flatten();
    case.evidence = named(&top, &mut reading, "evidence", evidence);
    case.answers = top
        .blocks(&mut reading, "answers", &rules::ANSWER)
        .into_iter()
        .filter_map(|row| answer(&row, &mut reading))
        .collect();
    match top.read::<Client>(&mut reading, "client") {
        Some(one) => case.client = one,
        None => usable = false,
    }
    usable &= !reading.useless;
    let mut findings = reading.findings;
    findings.extend(reading.asides);
    Meant { case, usable, findings }
}

/// A case in which nothing stands yet. Its client is replaced or the case is not handed out.
fn empty(whole: Span) -> Case {
    Case {
        whole,
        client: Client::unread(whole),
        prepared: None,
        reviewed: None,
        homes: Vec::new(),
        property: Vec::new(),
        shared: Vec::new(),
        returns: Vec::new(),
        carried_in: Vec::new(),
        earlier_credits: Vec::new(),
        planning: Planning::default(),
        evidence: Vec::new(),
        answers: Vec::new(),
    }
}

fn format_number(top: &Fields<'_>, reading: &mut Reading<'_>) {
    if let Some(number) = top.line(reading, "format")
        && number.value != "1"
    {
        reading.findings.push(
            Finding::error(
                "format-number",
                format!("this file says it is written in format {}; known is format 1", number.value),
            )
            .at(number.span)
            .help("write `format: 1`, or read the case with a newer version of the program"),
        );
    }
}

/// Reads the entries of a section whose keys the client chose.
fn named<'t, T>(
    top: &Fields<'t>,
    reading: &mut Reading<'t>,
    section: &str,
    read: fn(At<Key>, &'t Node, &mut Reading<'t>) -> Option<T>,
) -> Vec<T> {
    let Some(node) = top.get(reading, section) else {
        return Vec::new();
    };
    let head = top.key_span(section).unwrap_or(top.head);
    let entries = reading.entries(node, head, section).unwrap_or(&[]);
    entries
        .iter()
        .filter(|entry| !entry.key.value.starts_with('?'))
        .filter_map(|entry| {
            reading.name(&entry.key);
            let key = At::new(Key::new(&entry.key.value), entry.key.span);
            read(key, &entry.value, reading)
        })
        .collect()
}

/// Reads the entries of a section that stand under tax years, in the order of the years.
fn by_year<'t, T>(
    top: &Fields<'t>,
    reading: &mut Reading<'t>,
    section: &str,
    range: RangeInclusive<i16>,
    read: fn(At<TaxYear>, &'t Node, &mut Reading<'t>) -> Option<T>,
) -> Vec<T> {
    let Some(node) = top.get(reading, section) else {
        return Vec::new();
    };
    let head = top.key_span(section).unwrap_or(top.head);
    let entries = reading.entries(node, head, section).unwrap_or(&[]);
    // The keys of one entry where the years should stand: the year was left out, and that is one mistake.
    if let Some(first) =
        entries.first().filter(|one| section == "returns" && rules::RETURN.rule(&one.key.value).is_some())
    {
        let finding =
            Finding::error("tax-year", format!("`{}` stands where the tax year is due", first.key.value));
        let help = "write the year with a colon on a line of its own, such as `2024:`, and the keys below it, further in";
        reading.findings.push(finding.at(first.key.span).help(help));
        return Vec::new();
    }
    let mut found: Vec<(TaxYear, T)> = Vec::new();
    for entry in entries.iter().filter(|one| !one.key.value.starts_with('?')) {
        let year = reading.year(&entry.key, range.clone()).map(|one| one.map(TaxYear));
        // A year that cannot be read still has its entry read, so that all is reported at once.
        let known = year.clone().unwrap_or(At::new(TaxYear(0), entry.key.span));
        if let Some(one) = read(known, &entry.value, reading)
            && let Some(year) = year
        {
            found.push((year.value, one));
        }
    }
    found.sort_by_key(|(year, _)| *year);
    found.into_iter().map(|(_, one)| one).collect()
}

pub(super) fn address<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Address> {
    let street = fields.line(reading, "street");
    let unit = fields.line(reading, "unit");
    let city = fields.line(reading, "city");
    let state = fields.line(reading, "state");
    let zip = fields.line(reading, "zip");
    Some(Address { span: fields.span, street: street?, unit, city: city?, state: state?, zip: zip? })
}

fn item<'t>(key: At<Key>, node: &'t Node, reading: &mut Reading<'t>) -> Option<Item> {
    let fields = reading.fields(node, key.span, &rules::ITEM, format!("property.{}", key.value))?;
    let f = &fields;
    let kind = f.word(reading, "kind", Kind::ALL, Kind::word);
    let home = f.reference(reading, "home", "homes");
    let part_of = f.word(reading, "part_of", PartOf::ALL, PartOf::word);
    let acquired = f.word(reading, "acquired", Acquired::ALL, Acquired::word);
    let condition = f.word(reading, "condition", Condition::ALL, Condition::word);
    let installed = f.date(reading, "installed");
    let inspected = f.date(reading, "inspected");
    let permission_to_operate = f.date(reading, "permission_to_operate");
    let placed_in_service = f.date(reading, "placed_in_service");
    let performed = f.date(reading, "performed");
    let paid = f.date(reading, "paid");
    let construction_began = f.date(reading, "construction_began");
    let certified = f.block(reading, "certified", &rules::CERTIFIED).and_then(|one| {
        let by = one.line(reading, "by");
        let number = one.line(reading, "number");
        Some(Certified { by: by?, number })
    });
    let capacity_kw = f.quantity(reading, "capacity_kw");
    let capacity_kwh = f.quantity(reading, "capacity_kwh");
    let solar_share = f.rate(reading, "solar_share");
    let efficiency = f.rate(reading, "efficiency");
    let amperage = f.quantity(reading, "amperage");
    let fuel = f.line(reading, "fuel");
    let meets = f.line(reading, "meets");
    let auditor = f.block(reading, "auditor", &rules::AUDITOR).and_then(|one| {
        let name = one.line(reading, "name");
        let number = one.line(reading, "number");
        let program = one.line(reading, "program");
        Some(Auditor { name: name?, number, program })
    });
    let units = match f.get(reading, "units") {
        Some(node) => reading.count(node, "units"),
        None => Some(At::new(1, key.span)),
    };
    let maker_code = one_or_list(f, reading, "maker_code");
    let pin = one_or_list(f, reading, "pin");
    let enables = f
        .list(reading, "enables")
        .iter()
        .filter_map(|one| reading.reference(one, "enables", "property"))
        .collect();
    let nonbusiness_use = f.rate(reading, "nonbusiness_use");
    let paid_by_others = f.money(reading, "paid_by_others");
    let association = f.block(reading, "association", &rules::ASSOCIATION).and_then(|one| {
        let name = one.line(reading, "name");
        let share = one.rate(reading, "share");
        Some(Association { name: name?, share: share? })
    });
    let financed = f.block(reading, "financed", &rules::FINANCED).and_then(|one| {
        let how = one.word(reading, "as", FinancedAs::ALL, FinancedAs::word);
        let amount = one.money(reading, "amount");
        Some(Financed { how: how?, amount: amount? })
    });
    let costs =
        f.blocks(reading, "costs", &rules::COST).into_iter().filter_map(|one| cost(&one, reading)).collect();
    let incentives = f
        .blocks(reading, "incentives", &rules::INCENTIVE)
        .into_iter()
        .filter_map(|one| incentive(&one, reading))
        .collect();
    Some(Item {
        key,
        kind: kind?,
        home: home?,
        part_of: part_of?,
        acquired: acquired?,
        condition: condition?,
        installed,
        inspected,
        permission_to_operate,
        placed_in_service,
        performed,
        paid,
        construction_began,
        certified,
        capacity_kw,
        capacity_kwh,
        solar_share,
        efficiency,
        amperage,
        fuel,
        meets,
        auditor,
        units: units?,
        maker_code,
        pin,
        enables,
        nonbusiness_use,
        paid_by_others,
        association,
        financed,
        costs,
        incentives,
    })
}

/// Reads one text, or a list of texts.
fn one_or_list<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>, key: &str) -> Vec<At<String>> {
    match fields.get(reading, key) {
        None => Vec::new(),
        Some(node) => match &node.value {
            // All or none, so that their number is right.
            Value::List(all) => {
                let read: Vec<_> = all.iter().filter_map(|one| reading.line(one, key)).collect();
                if read.len() == all.len() { read } else { Vec::new() }
            }
            _ => reading.line(node, key).into_iter().collect(),
        },
    }
}

fn cost<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Cost> {
    let item = fields.line(reading, "item");
    let nature = fields.word(reading, "as", CostNature::ALL, CostNature::word);
    let amount = fields.money(reading, "amount");
    let materials = fields.rate(reading, "materials");
    let paid = fields.date(reading, "paid");
    let evidence = fields.reference(reading, "evidence", "evidence");
    let treat_as = treatment(fields, reading, &COST_TREATMENTS);
    let because = fields.text(reading, "because");
    Some(Cost {
        span: fields.span,
        item: item?,
        nature: nature?,
        amount: amount?,
        materials,
        paid,
        evidence,
        treat_as,
        because,
    })
}

fn incentive<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Incentive> {
    let from = fields.line(reading, "from");
    let kind = fields.word(reading, "as", IncentiveKind::ALL, IncentiveKind::word);
    let amount = fields.money(reading, "amount");
    let agreed = fields.date(reading, "agreed");
    let received = fields.date(reading, "received");
    let evidence = fields.reference(reading, "evidence", "evidence");
    let treat_as = treatment(fields, reading, &INCENTIVE_TREATMENTS);
    let because = fields.text(reading, "because");
    Some(Incentive {
        span: fields.span,
        from: from?,
        kind: kind?,
        amount: amount?,
        agreed,
        received,
        evidence,
        treat_as,
        because,
    })
}

pub(super) const COST_TREATMENTS: [(&str, TreatAs); 2] =
    [("counted", TreatAs::Counted), ("not_counted", TreatAs::NotCounted)];
pub(super) const INCENTIVE_TREATMENTS: [(&str, TreatAs); 2] =
    [("reduces_cost", TreatAs::ReducesCost), ("does_not_reduce", TreatAs::DoesNotReduce)];

/// Reads a treatment: a word, or a part, of a cost `{counted: 3200.00}`, of an incentive `{reduces: 1600.00}`.
fn treatment<'t>(
    fields: &Fields<'t>,
    reading: &mut Reading<'t>,
    words: &[(&'static str, TreatAs)],
) -> Option<At<TreatAs>> {
    let node = fields.get(reading, "treat_as")?;
    let of_cost = words[0].1 == TreatAs::Counted;
    if let Value::Map { entries, .. } = &node.value {
        let (word, part): (&str, fn(Money) -> TreatAs) = match of_cost {
            true => ("counted", TreatAs::CountedInPart),
            false => ("reduces", TreatAs::ReducesInPart),
        };
        if entries.len() == 1 && entries[0].key.value == word {
            let amount = reading.money(&entries[0].value, word)?;
            return Some(At::new(part(amount.value), node.span));
        }
        let help = match of_cost {
            true => "write `counted`, `not_counted` or `{counted: 3200.00}`",
            false => "write `reduces_cost`, `does_not_reduce` or `{reduces: 1600.00}`",
        };
        reading
            .wrong_shape(
                node.span,
                format!("these keys are no treatment of {}", if of_cost { "a cost" } else { "an incentive" }),
            )
            .help(help);
        return None;
    }
    let text = reading.line(node, "treat_as")?;
    if let Some((_, found)) = words.iter().find(|(word, _)| *word == text.value) {
        return Some(At::new(*found, text.span));
    }
    let known: Vec<&'static str> = words.iter().map(|(word, _)| *word).collect();
    let other = COST_TREATMENTS.iter().chain(&INCENTIVE_TREATMENTS).any(|(word, _)| *word == text.value);
    let message = match (other, of_cost) {
        (true, true) => format!("`{}` is a treatment of an incentive, and this is a cost", text.value),
        (true, false) => format!("`{}` is a treatment of a cost, and this is an incentive", text.value),
        (false, _) => format!("`{}` is not a valid value for `treat_as`", text.value),
    };
    let finding = Finding::error("unknown-word", message).at(text.span);
    let mut finding = reading.helped(finding, "treat_as", &text.value, &known);
    let part = if of_cost { "{counted: 3200.00}" } else { "{reduces: 1600.00}" };
    finding.help = finding.help.map(|help| format!("{help}; a part is written {part}"));
    reading.findings.push(finding);
    None
}

/// Reads a shared row: an incentive where `from` stands, otherwise a cost.
fn shared<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Shared> {
    let is_incentive = fields.has("from");
    let misplaced: &[&str] = match is_incentive {
        true => &["item", "materials", "paid"],
        false => &["agreed", "received"],
    };
    for key in misplaced {
        if fields.has(key)
            && let Some(span) = fields.key_span(key)
        {
            let (what, why) = match is_incentive {
                true => ("an incentive", "because `from` stands here"),
                false => ("a cost", "because `from` does not stand here"),
            };
            reading.findings.push(
                Finding::error(
                    "unknown-key",
                    format!("`{key}` is not a key of {what}, which {} is {why}", fields.place),
                )
                .at(span)
                .help("delete it, or make two entries, one for the cost and one for the incentive"),
            );
        }
    }
    if !is_incentive && !fields.has("item") {
        reading.findings.push(
            Finding::error("missing-key", format!("`item` or `from` is missing in {}", fields.place))
                .at(fields.head)
                .help("add `item: permit` for a cost, or `from: ..` with the payer's name for an incentive"),
        );
    }
    let row = match is_incentive {
        true => incentive(fields, reading).map(SharedRow::Incentive),
        false => cost(fields, reading).map(SharedRow::Cost),
    };
    let over = fields.get(reading, "over").map(|node| {
        let head = fields.key_span("over").unwrap_or(fields.head);
        let entries = reading.entries(node, head, &fields.path("over")).unwrap_or(&[]);
        let parts: Vec<_> = entries
            .iter()
            .filter_map(|entry| {
                let key = Node {
                    span: entry.key.span,
                    value: Value::Text { text: entry.key.value.clone(), plain: false },
                    broken: entry.key.value.starts_with('?'),
                };
                let key = reading.reference(&key, "over", "property");
                let part = part(&entry.value, reading);
                Some((key?, part?))
            })
            .collect();
        // With a part that could not be read, the sum would be wrong as well.
        (parts.len() == entries.len() && !node.broken).then_some(parts)
    });
    Some(Shared { span: fields.span, row: row?, over: over?? })
}

/// Reads a percentage where the sign stands, otherwise an amount.
fn part(node: &Node, reading: &mut Reading<'_>) -> Option<At<Part>> {
    let percentage = matches!(&node.value, Value::Text { text, .. } if text.trim_end().ends_with('%'));
    match percentage {
        true => reading.rate(node, "over").map(|one| one.map(Part::Share)),
        false => reading.money(node, "over").map(|one| one.map(Part::Amount)),
    }
}

fn tax_return<'t>(year: At<TaxYear>, node: &'t Node, reading: &mut Reading<'t>) -> Option<TaxReturn> {
    let fields =
        reading.fields(node, year.span, &rules::RETURN, format!("returns.{}", year_text(reading, &year)))?;
    let f = &fields;
    let form = f.word(reading, "form", ReturnForm::ALL, ReturnForm::word);
    let stage = f.word(reading, "stage", Stage::ALL, Stage::word);
    let filing_status = f.word(reading, "filing_status", FilingStatus::ALL, FilingStatus::word);
    let filed = f.date(reading, "filed");
    let due = f.date(reading, "due");
    let extended_to = f.date(reading, "extended_to");
    let tax_paid = f
        .blocks(reading, "tax_paid", &rules::TAX_PAID)
        .into_iter()
        .filter_map(|one| {
            let on = one.date(reading, "on");
            let amount = one.money(reading, "amount");
            Some(TaxPaid { on: on?, amount: amount? })
        })
        .collect();
    let tax_before_credits = f.money(reading, "tax_before_credits");
    let other_credits = other_credits(f, reading);
    let claimed = f.block(reading, "claimed", &rules::CLAIMED).map(|one| Claimed {
        span: one.span,
        improvement: one.money(reading, "improvement"),
        clean: one.money(reading, "clean"),
        carried_out: one.money(reading, "carried_out"),
        because: one.text(reading, "because"),
    });
    let rounding = f.word(reading, "rounding", RoundingChoice::ALL, RoundingChoice::word);
    let separate_main_homes = f.yes_no(reading, "separate_main_homes");
    // A day of filing, or what was claimed, says by itself that the return went out.
    let unsaid_stage = if filed.is_some() || claimed.is_some() { Stage::Filed } else { Stage::Draft };
    Some(TaxReturn {
        span: fields.span,
        form: form.unwrap_or(At::new(ReturnForm::Form1040, year.span)),
        stage: stage.unwrap_or(At::new(unsaid_stage, year.span)),
        year,
        filing_status: filing_status?,
        filed,
        due,
        extended_to,
        tax_paid,
        tax_before_credits: tax_before_credits?,
        other_credits,
        claimed,
        rounding: rounding.map_or(RoundingChoice::WholeDollars, |one| one.value),
        separate_main_homes,
    })
}

/// Returns the year as written, also where it could not be read.
fn year_text(reading: &Reading<'_>, year: &At<TaxYear>) -> String {
    reading.text.get(year.span.start as usize..year.span.end as usize).unwrap_or("").to_string()
}

fn other_credits<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Vec<OtherCreditEntry> {
    let Some(node) = fields.get(reading, "other_credits") else {
        return Vec::new();
    };
    let head = fields.key_span("other_credits").unwrap_or(fields.head);
    let path = fields.path("other_credits");
    let entries = reading.entries(node, head, &path).unwrap_or(&[]);
    let mut found = Vec::new();
    for entry in entries.iter().filter(|one| !one.key.value.starts_with('?')) {
        let Some(credit) = OtherCredit::from_word(&entry.key.value) else {
            let known: Vec<&'static str> = OtherCredit::ALL.iter().map(|one| one.word()).collect();
            let message = format!("`{}` is not a credit that {path} knows", entry.key.value);
            let finding = Finding::error("unknown-key", message).at(entry.key.span);
            let finding = reading.helped(finding, "other_credits", &entry.key.value, &known);
            reading.findings.push(finding);
            continue;
        };
        let credit = At::new(credit, entry.key.span);
        let has_lines =
            matches!(entry.value.value, Value::Map { .. }) && credit.value == OtherCredit::ChildTax;
        let one = match has_lines {
            false => reading.money(&entry.value, &entry.key.value).map(|amount| OtherCreditEntry {
                worksheet_b_unsaid: credit.value == OtherCredit::ChildTax,
                credit,
                amount,
                worksheet_b: None,
            }),
            true => reading
                .fields(&entry.value, entry.key.span, &rules::CHILD_TAX, format!("{path}.child_tax"))
                .and_then(|lines| {
                    let amount = lines.money(reading, "return_line");
                    let worksheet_b = lines.money(reading, "worksheet_b");
                    Some(OtherCreditEntry { credit, amount: amount?, worksheet_b, worksheet_b_unsaid: false })
                }),
        };
        found.extend(one);
    }
    found
}

fn carried_in<'t>(year: At<TaxYear>, node: &'t Node, reading: &mut Reading<'t>) -> Option<CarriedIn> {
    let place = format!("carried_in.{}", year_text(reading, &year));
    let fields = reading.fields(node, year.span, &rules::CARRIED_IN, place)?;
    let amount = fields.money(reading, "amount");
    let shown_on = fields.line(reading, "shown_on");
    let belongs_to = fields.line(reading, "belongs_to");
    let instead_of_computed = fields.text(reading, "instead_of_computed");
    Some(CarriedIn { span: fields.span, year, amount: amount?, shown_on, belongs_to, instead_of_computed })
}

fn earlier_credits<'t>(
    year: At<TaxYear>,
    node: &'t Node,
    reading: &mut Reading<'t>,
) -> Option<EarlierCredits> {
    let place = format!("earlier_credits.{}", year_text(reading, &year));
    let fields = reading.fields(node, year.span, &rules::EARLIER, place)?;
    Some(EarlierCredits {
        nonbusiness_energy_credit: fields.money(reading, "nonbusiness_energy_credit"),
        window_cost: fields.money(reading, "window_cost"),
        year,
    })
}

/// Reads planning, where years stand beside two other keys.
fn planning<'t>(top: &Fields<'t>, reading: &mut Reading<'t>) -> Planning {
    let mut planning = Planning::default();
    let Some(node) = top.get(reading, "planning") else {
        return planning;
    };
    let head = top.key_span("planning").unwrap_or(top.head);
    let entries = reading.entries(node, head, "planning").unwrap_or(&[]);
    for entry in entries.iter().filter(|one| !one.key.value.starts_with('?')) {
        match entry.key.value.as_str() {
            "federal_rate" => planning.federal_rate = reading.rate(&entry.value, "federal_rate"),
            "itemizes" => planning.itemizes = reading.yes_no(&entry.value, "itemizes"),
            key if key.starts_with(|c: char| c.is_ascii_digit()) => {
                let year = reading.year(&entry.key, PLANNED_YEARS).map(|one| one.map(TaxYear));
                let fields = reading.fields(
                    &entry.value,
                    entry.key.span,
                    &rules::PLANNED_YEAR,
                    format!("planning.{key}"),
                );
                planning.years.extend(fields.zip(year).and_then(|(one, year)| {
                    Some(PlannedYear {
                        year,
                        tax_before_credits: one.money(reading, "tax_before_credits")?,
                        credits_before: one.money(reading, "credits_before"),
                    })
                }));
            }
            key => reading.findings.push(
                Finding::error("unknown-key", format!("`{key}` is not a key of planning"))
                    .at(entry.key.span)
                    .help(suggest(key, &["federal_rate", "itemizes", "2026"])),
            ),
        }
    }
    planning.years.sort_by_key(|one| one.year.value);
    planning
}

fn evidence<'t>(key: At<Key>, node: &'t Node, reading: &mut Reading<'t>) -> Option<Evidence> {
    let fields = reading.fields(node, key.span, &rules::EVIDENCE, format!("evidence.{}", key.value))?;
    let kind = paper_kind(&fields, reading);
    let on_file = fields.yes_no(reading, "on_file");
    let kept_at = fields.line(reading, "where");
    let file = fields.line(reading, "file");
    let items = fields
        .list(reading, "items")
        .iter()
        .filter_map(|one| reading.reference(one, "items", "property"))
        .collect();
    Some(Evidence { key, kind: kind?, on_file: on_file?, kept_at, file, items })
}

/// Reads what kind of paper it is. A word of the office's own is no reason to refuse the case: no figure depends
/// on it, only the list of what is missing.
fn paper_kind(fields: &Fields<'_>, reading: &mut Reading<'_>) -> Option<At<EvidenceKind>> {
    let written = fields.line(reading, "type")?;
    if let Some(kind) = EvidenceKind::from_word(&written.value) {
        return Some(At::new(kind, written.span));
    }
    let known: Vec<&'static str> = EvidenceKind::ALL.iter().map(|one| one.word()).collect();
    let help = match spoken::meant("type", &written.value, &known) {
        Some(spoken::Meant::Word(word)) => format!("did you mean `{word}`"),
        _ => suggest(&written.value, &known).trim_end_matches('?').to_string(),
    };
    reading.findings.push(
        Finding::warning(
            "unknown-paper",
            format!(
                "`{}` is none of the kinds of paper that are matched with what should be kept",
                written.value
            ),
        )
        .at(written.span)
        .help(format!("{help}; until then it counts as `other`")),
    );
    Some(At::new(EvidenceKind::Other, written.span))
}

fn answer<'t>(fields: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Answer> {
    let question = fields.line(reading, "question");
    let about = fields.line(reading, "about");
    if let Some(about) = &about {
        resolve(about, reading);
    }
    let given = fields.line(reading, "for");
    let answer = fields.text(reading, "answer");
    let by = fields.line(reading, "by");
    let on = fields.date(reading, "on");
    let because = fields.text(reading, "because");
    Some(Answer { span: fields.span, question: question?, about, given, answer: answer?, by, on, because })
}

/// Follows a path of keys joined by points through the case, entries of lists by number from one.
///
/// The last key may be one that is absent, since questions are often about what is missing.
fn resolve(about: &At<String>, reading: &mut Reading<'_>) {
    let steps: Vec<&str> = about.value.split('.').collect();
    // Not a path in the case: the standard of a kind and year, about which several items are asked at once.
    if let ["standards", rest @ ..] = steps.as_slice() {
        let kind = |word: &str| crate::case::Kind::ALL.iter().any(|kind| kind.word() == word);
        let year = |text: &str| text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
        if !matches!(rest, [of, word] if year(of) && kind(word)) {
            reading.findings.push(
                Finding::error(
                    "unknown-reference",
                    format!("`{}` names no standard of a kind and year", about.value),
                )
                .at(about.span)
                .help(
                    "write the tax year and the word under `kind:`, such as `standards.2025.exterior_door`",
                ),
            );
        }
        return;
    }
    let mut node = reading.root;
    for (n, step) in steps.iter().enumerate() {
        if node.broken {
            return;
        }
        let names: Vec<String> = match &node.value {
            Value::Map { entries, .. } => entries.iter().map(|one| one.key.value.clone()).collect(),
            Value::List(all) => (1..=all.len()).map(|number| number.to_string()).collect(),
            Value::Text { .. } => Vec::new(),
        };
        let next = match &node.value {
            Value::Map { .. } => node.get(step),
            Value::List(all) => step.parse::<usize>().ok().and_then(|number| all.get(number.checked_sub(1)?)),
            Value::Text { .. } => None,
        };
        match next {
            Some(next) => node = next,
            None => {
                let known = match n {
                    0 => rules::CASE.rule(step).is_some(),
                    1 => false,
                    _ => rules::BLOCKS.iter().any(|block| block.rule(step).is_some()),
                };
                if known && n + 1 == steps.len() {
                    return;
                }
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let shown = match n {
                    0 => "in the case".to_string(),
                    _ => format!("under `{}`", steps[..n].join(".")),
                };
                let help = match names.is_empty() {
                    true => "write a path such as `property.roof-array` or `returns.2024`".to_string(),
                    false => suggest(step, &names),
                };
                reading.findings.push(
                    Finding::error("unknown-reference", format!("there is no `{step}` {shown}"))
                        .at(about.span)
                        .help(help),
                );
                return;
            }
        }
    }
}
