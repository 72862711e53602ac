//! What the case says beyond amounts: client, homes, returns, property, papers.
//!
//! Every key of the case file that no other sheet shows stands here, so that nothing the case says is lost.

use super::{Writer, short_date};
use crate::case::{Evidence, Home, Item, Key, Signed, TaxReturn};
use crate::credit::brought_in;
use crate::document::{Align, Block, Row, Table, Width, body, column};
use crate::finding::Spanned;
use crate::wording::capital;
use jiff::civil::Date;

/// One fact for the tables: what it is, and what the case gives.
type Fact = (String, String);

impl Writer<'_> {
    /// Writes the facts about client, homes, returns and balances.
    pub(super) fn household(&self) -> Vec<Block> {
        let mut rows = Vec::new();
        group(&mut rows, "Client", self.client());
        for home in &self.case.homes {
            group(&mut rows, &format!("Home {}", home.key.value), home_facts(home));
        }
        for one in self.case.returns.iter().filter(|one| one.year.value <= self.year) {
            let full = one.year.value == self.year;
            group(&mut rows, &format!("Return for {}", one.year.value), return_facts(one, full));
        }
        group(&mut rows, "Balances and planning", self.balances());
        facts_table("Facts about client, homes and returns", rows)
    }

    /// Writes the facts about each item of the year, and names the items of other years, which stand on the
    /// worksheets of those years.
    pub(super) fn property(&self) -> Vec<Block> {
        let mut rows = Vec::new();
        let of_year: Vec<&Key> = self.items_of_year().iter().map(|item| &item.key.value).collect();
        for item in &self.case.property {
            if of_year.contains(&&item.key.value) {
                group(&mut rows, &self.item_title(item), item_facts(item));
            }
        }
        let others: Vec<Fact> = self
            .case
            .property
            .iter()
            .filter(|item| !of_year.contains(&&item.key.value))
            .map(|item| {
                let day = item.installed.as_ref().or(item.paid.as_ref());
                let when = day.map_or_else(
                    || "not complete yet".to_string(),
                    |day| format!("completed {}", short_date(day.value)),
                );
                let words = format!("{}, {when}", item.kind.value.label());
                (item.key.value.to_string(), words)
            })
            .collect();
        group(&mut rows, "Property of other years", others);
        facts_table("Facts about property", rows)
    }

    /// Writes the papers that the case lists, and what each shows.
    pub(super) fn papers(&self) -> Vec<Block> {
        let rows: Vec<Row> = self
            .case
            .evidence
            .iter()
            .map(|paper| {
                let at = paper.kept_at.iter().map(|at| at.value.clone());
                let file = paper.file.iter().map(|file| file.value.clone());
                let kept: Vec<String> = at.chain(file).collect();
                body(vec![
                    paper.key.value.to_string(),
                    paper.kind.value.label().to_string(),
                    self.shown_by(paper).join("; "),
                    if paper.on_file.value { "on file" } else { "missing" }.to_string(),
                    kept.join("; "),
                ])
            })
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(super::without_empty_columns(Table {
            summary: "Papers: what each is, what it shows, whether it is on file, and where".to_string(),
            columns: vec![
                column("Paper", Width::Content, Align::Left),
                column("Kind", Width::Parts(3), Align::Left),
                column("Shows", Width::Parts(4), Align::Left),
                column("On file", Width::Content, Align::Left),
                column("Kept", Width::Parts(4), Align::Left),
            ],
            rows,
        }))]
    }

    /// Returns the rows that name a paper, such as `roof-array.2`.
    fn shown_by(&self, paper: &Evidence) -> Vec<String> {
        let key = &paper.key.value;
        let names = |evidence: &Option<Spanned<Key>>| evidence.as_ref().is_some_and(|one| one.value == *key);
        let mut shown = Vec::new();
        for item in &self.case.property {
            let (costs, incentives) = ((1..).zip(&item.costs), (1..).zip(&item.incentives));
            let costs = costs.filter(|(_, cost)| names(&cost.evidence));
            shown.extend(costs.map(|(n, _)| format!("{}.{n}", item.key.value)));
            let incentives = incentives.filter(|(_, incentive)| names(&incentive.evidence));
            shown.extend(incentives.map(|(n, _)| format!("{}.incentive.{n}", item.key.value)));
        }
        for shared in &self.case.shared {
            let (words, evidence) = match &shared.row {
                crate::case::SharedRow::Cost(cost) => (&cost.item, &cost.evidence),
                crate::case::SharedRow::Incentive(incentive) => (&incentive.from, &incentive.evidence),
            };
            if names(evidence) {
                shown.push(format!("shared: {}", words.value));
            }
        }
        shown
    }

    fn client(&self) -> Vec<Fact> {
        let client = &self.case.client;
        let mut facts = vec![fact("Reference", &client.reference.value)];
        for person in &client.people {
            let mut words = person.name.value.clone();
            if let Some(tin) = &person.tin {
                words.push_str(&format!(", {}", tin.value));
            }
            if let Some(day) = &person.deceased {
                words.push_str(&format!(", died {}", short_date(day.value)));
            }
            facts.push(fact("Person", &words));
        }
        if let Some(mail_to) = &client.mail_to {
            let mut words: Vec<&str> = mail_to.names.iter().map(|name| name.value.as_str()).collect();
            let address = mail_to.one_line();
            words.push(&address);
            facts.push(fact("Mail to", &words.join(", ")));
        }
        facts.push(fact(
            "Letters",
            &format!("{}, delivery: {}", client.language.label(), client.delivery.label()),
        ));
        if let Some(engagement) = &client.engagement {
            let mut words = engagement.reminder_basis.value.label().to_string();
            if let Some(day) = &engagement.consented {
                words.push_str(&format!(", consent of {}", short_date(day.value)));
            }
            if let Some(day) = &engagement.until {
                words.push_str(&format!(", until {}", short_date(day.value)));
            }
            facts.push(fact("Basis for reminders", &words));
        }
        facts.extend(signed("Prepared", &self.case.prepared));
        facts.extend(signed("Reviewed", &self.case.reviewed));
        facts
    }

    fn balances(&self) -> Vec<Fact> {
        let mut facts = Vec::new();
        for one in self.case.carried_in.iter().filter(|one| one.year.value <= self.year) {
            let mut words = one.amount.value.spoken();
            let more = [
                ("shown on", &one.shown_on),
                ("belongs to", &one.belongs_to),
                ("taken instead of the computed amount:", &one.instead_of_computed),
            ];
            for (what, text) in more {
                if let Some(text) = text {
                    words.push_str(&format!(", {what} {}", text.value));
                }
            }
            if brought_in::is_refused(self.case, &self.outcome.figures, one) {
                words.push_str("; not used: the figures take what the case itself yields");
            }
            facts.push((format!("Carried into {}", one.year.value), words));
        }
        for one in &self.case.earlier_credits {
            let credit = one
                .nonbusiness_energy_credit
                .iter()
                .map(|amount| format!("credit {}", amount.value.spoken()));
            let windows =
                one.window_cost.iter().map(|amount| format!("window cost {}", amount.value.spoken()));
            let words: Vec<String> = credit.chain(windows).collect();
            facts.push((
                format!("Nonbusiness energy property credit of {}", one.year.value),
                words.join(", "),
            ));
        }
        let planning = &self.case.planning;
        for one in &planning.years {
            let year = one.year.value;
            facts.push((
                format!("Planning: tax before credits in {year}"),
                one.tax_before_credits.value.spoken(),
            ));
            if let Some(credits) = &one.credits_before {
                facts.push((
                    format!("Planning: credits that come before the clean energy credit in {year}"),
                    credits.value.spoken(),
                ));
            }
        }
        if let Some(rate) = &planning.federal_rate {
            facts.push(fact("Planning: federal marginal rate", &rate.value.to_string()));
        }
        if let Some(itemizes) = &planning.itemizes {
            facts.push(fact("Planning: itemizes deductions", yes_no(itemizes.value)));
        }
        facts
    }
}

fn home_facts(home: &Home) -> Vec<Fact> {
    let mut facts = vec![fact("Address", &format!("{}, {}", home.address.one_line(), home.country.value))];
    let uses: Vec<String> = home
        .uses
        .iter()
        .map(|one| match &one.from {
            Some(from) => format!("{} from {}", one.is.value.label(), short_date(from.value)),
            None => one.is.value.label().to_string(),
        })
        .collect();
    facts.push(fact("Use", &uses.join(", ")));
    facts.push(fact("Held as", home.held_as.value.label()));
    day(&mut facts, "First use of the finished home", &home.original_use);
    facts
}

/// Returns the facts of a return; of an earlier year's only what its own worksheet does not need to repeat.
fn return_facts(one: &TaxReturn, full: bool) -> Vec<Fact> {
    let mut facts = vec![
        fact(
            "Return",
            &format!(
                "{}, {}, {}",
                one.form.value.label(),
                one.filing_status.value.label(),
                one.stage.value.label()
            ),
        ),
        fact("Tax before credits", &one.tax_before_credits.value.spoken()),
    ];
    day(&mut facts, "Filed", &one.filed);
    if !full {
        return facts;
    }
    day(&mut facts, "Due", &one.due);
    day(&mut facts, "Extended to", &one.extended_to);
    for paid in &one.tax_paid {
        facts.push(fact(
            "Tax paid",
            &format!("{} on {}", paid.amount.value.spoken(), short_date(paid.on.value)),
        ));
    }
    for entry in &one.other_credits {
        let mut words = entry.amount.value.spoken();
        if let Some(limit) = &entry.worksheet_b {
            words.push_str(&format!(
                " on the return, {} on line 14 of Credit Limit Worksheet B",
                limit.value.spoken()
            ));
        }
        facts.push((capital(entry.credit.value.label()), words));
    }
    facts.push(fact("Rounding", one.rounding.label()));
    if let Some(separate) = &one.separate_main_homes {
        facts.push(fact("Spouses with separate main homes", yes_no(separate.value)));
    }
    facts
}

fn item_facts(item: &Item) -> Vec<Fact> {
    let mut facts = vec![
        fact("Home", item.home.value.as_str()),
        fact(
            "Work",
            &format!(
                "{}, {}, {}",
                item.part_of.value.label(),
                item.acquired.value.label(),
                item.condition.value.label()
            ),
        ),
    ];
    for (what, date) in [
        ("Construction began", &item.construction_began),
        ("Installation complete", &item.installed),
        ("Inspected", &item.inspected),
        ("Permission to operate", &item.permission_to_operate),
        ("Placed in service", &item.placed_in_service),
        ("Audit performed", &item.performed),
        ("Audit paid", &item.paid),
    ] {
        day(&mut facts, what, date);
    }
    let mut given =
        |what: &str, words: Option<String>| facts.extend(words.map(|words| (what.to_string(), words)));
    let quantity = |fact: &Option<Spanned<crate::money::Quantity>>, unit: &str| {
        fact.as_ref().map(|one| format!("{} {unit}", one.value))
    };
    let rate = |fact: &Option<Spanned<crate::money::Rate>>| fact.as_ref().map(|one| one.value.to_string());
    let text = |fact: &Option<Spanned<String>>| fact.as_ref().map(|one| one.value.clone());
    given("Capacity", quantity(&item.capacity_kw, "kilowatts"));
    given("Capacity", quantity(&item.capacity_kwh, "kilowatt-hours"));
    given("Share of energy from the sun", rate(&item.solar_share));
    given("Efficiency", rate(&item.efficiency));
    given("Amperage", quantity(&item.amperage, "amperes"));
    given("Fuel", text(&item.fuel));
    given("Meets", text(&item.meets));
    given("Certified", item.certified.as_ref().map(|one| with_number(&one.by, &one.number, "number")));
    given(
        "Auditor",
        item.auditor.as_ref().map(|one| {
            let mut words = with_number(&one.name, &one.number, "number");
            if let Some(program) = &one.program {
                words.push_str(&format!(", program {}", program.value));
            }
            words
        }),
    );
    let units = item.units.value;
    given("Units", (units > 1).then(|| units.to_string()));
    given("Maker's code", joined(item.maker_code.iter().map(|one| one.value.as_str())));
    given("Product number", joined(item.pin.iter().map(|one| one.value.as_str())));
    given("Enables", joined(item.enables.iter().map(|one| one.value.as_str())));
    given("Nonbusiness use", rate(&item.nonbusiness_use));
    given("Paid by others", item.paid_by_others.as_ref().map(|one| one.value.spoken()));
    given(
        "Association",
        item.association
            .as_ref()
            .map(|one| format!("{}, client's share {}", one.name.value, one.share.value)),
    );
    given(
        "Financed",
        item.financed.as_ref().map(|one| format!("{}, {}", one.how.value.label(), one.amount.value.spoken())),
    );
    facts
}

fn fact(what: &str, words: &str) -> Fact {
    (what.to_string(), words.to_string())
}

fn day(facts: &mut Vec<Fact>, what: &str, date: &Option<Spanned<Date>>) {
    facts.extend(date.as_ref().map(|date| (what.to_string(), short_date(date.value))));
}

fn yes_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

fn joined<'a>(texts: impl Iterator<Item = &'a str>) -> Option<String> {
    let texts: Vec<&str> = texts.collect();
    (!texts.is_empty()).then(|| texts.join(", "))
}

fn with_number(name: &Spanned<String>, number: &Option<Spanned<String>>, word: &str) -> String {
    match number {
        Some(number) => format!("{}, {word} {}", name.value, number.value),
        None => name.value.clone(),
    }
}

fn signed(what: &str, one: &Option<Signed>) -> Option<Fact> {
    let one = one.as_ref()?;
    let by = one.by.iter().map(|by| by.value.clone());
    let on = one.on.iter().map(|on| short_date(on.value));
    let words: Vec<String> = by.chain(on).collect();
    Some((what.to_string(), words.join(", ")))
}

/// Adds a row that gives the facts about one thing, where there are some.
fn group(rows: &mut Vec<Row>, title: &str, facts: Vec<Fact>) {
    if facts.is_empty() {
        return;
    }
    let words: Vec<String> = facts.into_iter().map(|(what, words)| format!("{what}: {words}")).collect();
    rows.push(body(vec![title.to_string(), words.join("; ")]));
}

fn facts_table(summary: &str, rows: Vec<Row>) -> Vec<Block> {
    if rows.is_empty() {
        return Vec::new();
    }
    vec![Block::Table(Table {
        summary: summary.to_string(),
        columns: vec![
            column("About", Width::Parts(2), Align::Left),
            column("As the case gives it", Width::Parts(7), Align::Left),
        ],
        rows,
    })]
}
