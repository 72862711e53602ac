//! What the rows about one client make of their case: a new one, or what the one that stands lacks.
//!
//! Comes in: the rows of a client, and the text of the case where there is one. Goes out: the new text of the case, or
//! why there is none. What a case says already is compared and never written over.

use super::columns::{Field, Part};
use super::remark::{Remark, Spot};
use super::rows::{Given, Row};
use super::standing::{Said, said};
use super::values::written;
use crate::assemble::{self, Computed};
use crate::begin;
use crate::case::{CASE, Case, FILE, HomeUse, OtherCredit, TaxYear, covered};
use crate::credit::season::entering;
use crate::finding::{Severity, Sources};
use crate::law::Law;
use crate::money::Money;
use crate::name::Reference;
use crate::record::edit::{self, Change};
use crate::record::write::{Keys, With, Written};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Everything that a table says of one client.
#[derive(Clone, Debug)]
pub struct Client {
    /// The reference, which names the case.
    pub reference: Reference,
    /// The rows, by year.
    pub rows: Vec<Row>,
}

/// What came of the rows about a client.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Came {
    /// A new case, with its text and what is in it in few words.
    New(String, String),
    /// The case gets what it lacked: its new text and what was added, key by key.
    Changed(String, Vec<String>),
    /// The case says all of it already.
    Unchanged,
    /// Nothing is written; the remarks say why.
    Refused,
}

/// A case that stands.
pub struct Standing {
    /// Its path, as it is shown.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Groups rows by client. A reference that is written in two ways, and a year that a client has twice, are refused.
pub fn clients(rows: Vec<Row>, year: Option<TaxYear>, remarks: &mut Vec<Remark>) -> Vec<Client> {
    let mut all: Vec<Client> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for mut row in rows {
        let Some(given) = row.given.get(&Field::Reference).cloned() else { continue };
        let Ok(reference) = Reference::new(&given.text) else { continue };
        let n = *known.entry(reference.to_lowercase()).or_insert_with(|| {
            all.push(Client { reference: reference.clone(), rows: Vec::new() });
            all.len() - 1
        });
        let client = &mut all[n];
        if client.reference != reference {
            let message = format!(
                "the reference {reference} differs from {} in row {} only in its capitals",
                client.reference, client.rows[0].number
            );
            remarks.push(Remark::error("reference-twice", given.at.clone(), message).help(
                "write one client's reference the same way everywhere, and give another client another",
            ));
            row.refused = true;
        }
        if let Some(year) = year
            && !row.given.contains_key(&Field::Year)
        {
            row.given.insert(Field::Year, Given { text: year.to_string(), at: Spot::row(row.number) });
        }
        let same = client.rows.iter().find(|other| other.text(Field::Year) == row.text(Field::Year));
        if let Some(other) = same {
            let of = row.text(Field::Year).map_or_else(String::new, |year| format!(" for {year}"));
            let message = format!("{reference} stands twice{of}, also in row {}", other.number);
            remarks.push(
                Remark::error("reference-twice", given.at.clone(), message)
                    .help("leave one row for a client and year, or give the other client another reference"),
            );
            row.refused = true;
        }
        client.rows.push(row);
    }
    all.iter_mut()
        .for_each(|client| client.rows.sort_by_key(|row| row.text(Field::Year).map(str::to_string)));
    all
}

/// Works out what the rows about a client make of their case.
pub fn take(client: &Client, standing: Option<&Standing>, law: &Law, today: Date) -> (Came, Vec<Remark>) {
    let mut taking = Taking { law, remarks: Vec::new() };
    let came = taking.client(client, standing, today);
    let refused = taking.remarks.iter().any(|one| one.severity == Severity::Error);
    (came.filter(|_| !refused).unwrap_or(Came::Refused), taking.remarks)
}

struct Taking<'l> {
    law: &'l Law,
    remarks: Vec<Remark>,
}

impl Taking<'_> {
    fn client(&mut self, client: &Client, standing: Option<&Standing>, today: Date) -> Option<Came> {
        // A row that cannot be read is told already; the client's other rows wait with it.
        if client.rows.iter().any(|row| row.refused) {
            return None;
        }
        let sound: Vec<bool> = client.rows.iter().map(|row| self.sound(row)).collect();
        if !sound.into_iter().all(|sound| sound) {
            return None;
        }
        match standing {
            Some(standing) => self.known(client, standing),
            None => self.new_case(client, today),
        }
    }

    /// Says whether a row has what its parts need.
    fn sound(&mut self, row: &Row) -> bool {
        let before = self.remarks.len();
        let has = |field: Field| row.given.contains_key(&field);
        let year = has(Field::Year);
        let of_year = row.given.iter().find(|(field, _)| {
            **field != Field::Year && matches!(field.part(), Part::Balance | Part::Return)
        });
        if let Some((field, given)) = of_year
            && !year
        {
            let message = format!("the row does not say for which tax year its `{}` is", field.column().name);
            self.remarks.push(
                Remark::error("no-year", given.at.clone(), message)
                    .help("add a column `year`, or say `--for YEAR`"),
            );
        }
        let mut together = |first: Field, needed: &[Field]| {
            let missing: Vec<&str> =
                needed.iter().filter(|one| !has(**one)).map(|one| one.column().name).collect();
            if has(first) && !missing.is_empty() {
                let message =
                    format!("`{}` needs `{}` as well", first.column().name, missing.join("` and `"));
                self.remarks.push(
                    Remark::error("column-needed", row.spot(first), message)
                        .help("fill in the cell, or leave both empty"),
                );
            }
        };
        for part in [
            [Field::Street, Field::City, Field::State, Field::Zip],
            [Field::HomeStreet, Field::HomeCity, Field::HomeState, Field::HomeZip],
        ] {
            if let Some(first) = part.iter().find(|one| has(**one)) {
                together(*first, &part);
            }
        }
        together(Field::Unit, &[Field::Street]);
        together(Field::Spouse, &[Field::Name]);
        together(Field::LastFour, &[Field::Name]);
        together(Field::SpouseLastFour, &[Field::Spouse]);
        together(Field::Consented, &[Field::ReminderBasis]);
        together(Field::Until, &[Field::ReminderBasis]);
        together(Field::HomeUse, &[Field::HeldAs]);
        together(Field::HeldAs, &[Field::HomeUse]);
        together(Field::HomeStreet, &[Field::HomeUse]);
        together(Field::HomeUnit, &[Field::HomeStreet]);
        together(Field::ShownOn, &[Field::Balance]);
        together(Field::BelongsTo, &[Field::Balance]);
        together(Field::WorksheetB, &[Field::Credit(OtherCredit::ChildTax)]);
        self.remarks.len() == before
    }

    /// Makes a new case of a client's first row, and adds what the rows of later years say.
    fn new_case(&mut self, client: &Client, today: Date) -> Option<Came> {
        let first = client.rows.first()?;
        if !first.given.contains_key(&Field::Name) {
            let message = format!(
                "there is no case of {} yet, and a new one needs the client's name",
                client.reference
            );
            self.remarks.push(
                Remark::error("column-needed", first.spot(Field::Reference), message)
                    .help("fill in the column `name`, or correct the reference if the client has a case"),
            );
            return None;
        }
        if !self.whole_return(first, true) {
            return None;
        }
        let keys = case(&client.reference, first, today);
        let text = begin::case_text(&keys, &client.reference, today, "gablework intake");
        let computed = self.computed(&client.reference.file(".case.yaml"), text.as_bytes(), first)?;
        let mut now = (text, computed);
        for row in &client.rows[1..] {
            let (text, _) = self.added(row, &now.0, &now.1)?;
            let computed = self.computed(&client.reference.file(".case.yaml"), text.as_bytes(), row)?;
            now = (text, computed);
        }
        Some(Came::New(now.0, in_few_words(client)))
    }

    /// Adds what a case that stands lacks.
    fn known(&mut self, client: &Client, standing: &Standing) -> Option<Came> {
        let first = client.rows.first()?;
        let read = String::from_utf8(standing.bytes.clone()).ok();
        let Some(mut text) = read else {
            let message = format!("the case {} is no text", standing.name);
            self.remarks.push(Remark::error("case-unreadable", first.spot(Field::Reference), message));
            return None;
        };
        let mut computed = self.compute(&standing.name, &standing.bytes);
        if computed.as_ref().is_none_or(|one| one.case.is_none() || one.has_errors()) {
            let message = format!("the case {} has errors, so nothing is added to it", standing.name);
            self.remarks.push(
                Remark::error("case-has-errors", first.spot(Field::Reference), message)
                    .help("`gablework check` shows them; correct them first"),
            );
            return None;
        }
        let mut added = Vec::new();
        for row in &client.rows {
            let (next, more) = self.added(row, &text, computed.as_ref()?)?;
            if more.is_empty() {
                continue;
            }
            computed = Some(self.computed(&standing.name, next.as_bytes(), row)?);
            text = next;
            added.extend(more);
        }
        match added.is_empty() {
            true => Some(Came::Unchanged),
            false => Some(Came::Changed(text, added)),
        }
    }

    fn compute(&self, name: &str, bytes: &[u8]) -> Option<Computed> {
        assemble::compute(name, bytes, self.law, Sources::default()).ok()
    }

    /// Computes what was made of a row, or says of the row what is wrong with it.
    fn computed(&mut self, name: &str, bytes: &[u8], row: &Row) -> Option<Computed> {
        let computed = self.compute(name, bytes)?;
        let errors: Vec<_> =
            computed.outcome.findings.iter().filter(|one| one.severity == Severity::Error).collect();
        for one in &errors {
            let mut remark = Remark::error(one.code, Spot::row(row.number), one.message.clone());
            remark.help.clone_from(&one.help);
            self.remarks.push(remark);
        }
        errors.is_empty().then_some(computed)
    }

    /// Says whether a row has all that a return needs, or nothing of one.
    fn whole_return(&mut self, row: &Row, new: bool) -> bool {
        let Some(given) = row.given.iter().find(|(field, _)| field.part() == Part::Return) else {
            return true;
        };
        let needed = [Field::FilingStatus, Field::TaxBeforeCredits];
        let missing: Vec<&str> =
            needed.iter().filter(|one| !row.given.contains_key(one)).map(|one| one.column().name).collect();
        if new && !missing.is_empty() {
            let year = row.text(Field::Year).unwrap_or_default();
            let message = format!("the return of {year} needs `{}` as well", missing.join("` and `"));
            self.remarks.push(
                Remark::error("column-needed", given.1.at.clone(), message)
                    .help("fill in the cell, or leave the whole return empty until it is known"),
            );
            return false;
        }
        true
    }
}

/// What the rows about a new client say, in few words.
fn in_few_words(client: &Client) -> String {
    let mut words = Vec::new();
    for row in &client.rows {
        words.extend(row.text(Field::Name).filter(|_| words.is_empty()).map(str::to_string));
        let year = row.text(Field::Year).unwrap_or_default();
        if let Some(balance) = row.text(Field::Balance).and_then(|text| Money::read(text).ok()) {
            words.push(format!("{} into {year}", balance.spoken()));
        }
        if row.given.keys().any(|field| field.part() == Part::Return) {
            words.push(format!("return of {year}"));
        }
    }
    words.join(", ")
}

/// A value as it is written behind its key.
fn value(field: Field, text: &str) -> Written {
    use super::columns::Takes;
    match field.column().takes {
        Takes::Amount | Takes::Day | Takes::Year | Takes::Word(_) => Written::word(text),
        _ => Written::text(text),
    }
}

/// A row as the keys of a new case.
fn case(reference: &Reference, row: &Row, today: Date) -> Keys {
    let of = |field: Field| row.text(field).map(|text| value(field, text));
    let person = |name: Field, last_four: Field| {
        of(name).map(|name| Written::Keys(Keys::new().with("name", name).with("tin", of(last_four))))
    };
    let people = [person(Field::Name, Field::LastFour), person(Field::Spouse, Field::SpouseLastFour)];
    let names = [of(Field::Name), of(Field::Spouse)];
    let address = |fields: [Field; 5]| {
        let [street, unit, city, state, zip] = fields;
        let keys = Keys::new().with("street", of(street)?).with("unit", of(unit));
        Some(keys.with("city", of(city)).with("state", of(state)).with("zip", of(zip)))
    };
    let mail = address([Field::Street, Field::Unit, Field::City, Field::State, Field::Zip]);
    let mail_to = mail.clone().map(|keys| keys.with("names", Written::list(names.into_iter().flatten())));
    let engagement = of(Field::ReminderBasis).map(|basis| {
        Keys::new()
            .with("reminder_basis", basis)
            .with("consented", of(Field::Consented))
            .with("until", of(Field::Until))
    });
    let client = Keys::new()
        .with("reference", Written::text(reference))
        .with("people", Written::list(people.into_iter().flatten()))
        .with("mail_to", mail_to.map(Written::Keys))
        .with("language", of(Field::Language))
        .with("engagement", engagement.map(Written::Keys))
        .with("delivery", of(Field::Delivery));
    let home_address =
        address([Field::HomeStreet, Field::HomeUnit, Field::HomeCity, Field::HomeState, Field::HomeZip])
            .or(mail);
    let home = of(Field::HomeUse).zip(of(Field::HeldAs)).zip(home_address).map(|((is, held_as), address)| {
        let keys =
            Keys::new().with("address", Written::Keys(address)).with("use", is).with("held_as", held_as);
        let street = row.text(Field::HomeStreet).or(row.text(Field::Street)).unwrap_or_default();
        let main = row.text(Field::HomeUse) == Some(HomeUse::MainHome.word());
        (begin::key_of(street, if main { "main-home" } else { "home" }), Written::Lines(keys))
    });
    let prepared = of(Field::PreparedBy)
        .map(|by| Written::Keys(Keys::new().with("by", by).with("on", Written::day(today))));
    let year = row.text(Field::Year).unwrap_or_default();
    let balance = of(Field::Balance).map(|amount| {
        let keys = Keys::new().with("amount", amount).with("shown_on", of(Field::ShownOn));
        (year, Written::Keys(keys.with("belongs_to", of(Field::BelongsTo))))
    });
    let entry = row
        .given
        .keys()
        .any(|field| field.part() == Part::Return)
        .then(|| (year, Written::Lines(tax_return(row))));
    Keys::new()
        .with("format", Written::word(1))
        .with("client", Written::Lines(client))
        .with("prepared", prepared)
        .with("homes", Written::entries(home.into_iter()))
        .with("returns", Written::entries(entry.into_iter()))
        .with("carried_in", Written::entries(balance.into_iter()))
}

/// What a row says of a return, as its keys.
fn tax_return(row: &Row) -> Keys {
    let of = |field: Field| row.text(field).map(|text| value(field, text));
    let mut credits = Vec::new();
    for credit in OtherCredit::ALL {
        let Some(amount) = of(Field::Credit(*credit)) else { continue };
        credits.push((
            *credit,
            match of(Field::WorksheetB).filter(|_| *credit == OtherCredit::ChildTax) {
                Some(line_14) => {
                    Written::Keys(Keys::new().with("return_line", amount).with("worksheet_b", line_14))
                }
                None => amount,
            },
        ));
    }
    let claimed = Keys::new()
        .with("improvement", of(Field::ClaimedImprovement))
        .with("clean", of(Field::ClaimedClean))
        .with("carried_out", of(Field::ClaimedCarriedOut))
        .with("because", of(Field::ClaimedBecause));
    Keys::new()
        .with("form", of(Field::Form))
        .with("stage", of(Field::Stage))
        .with("filing_status", of(Field::FilingStatus))
        .with("filed", of(Field::Filed))
        .with("tax_before_credits", of(Field::TaxBeforeCredits))
        .with("other_credits", Written::entries(credits.into_iter()))
        .with("claimed", (!claimed.is_empty()).then_some(Written::Keys(claimed)))
        .with("rounding", of(Field::Rounding))
}

impl Taking<'_> {
    /// Compares a row with a case, and adds to the text what the case lacks. Returns the new text, and what was added.
    fn added(&mut self, row: &Row, text: &str, computed: &Computed) -> Option<(String, Vec<String>)> {
        let case = computed.case.as_ref()?;
        let year = row.text(Field::Year).and_then(|text| text.parse().ok()).map(TaxYear);
        let before = self.remarks.len();
        let mut lacking = Vec::new();
        for (field, given) in &row.given {
            match (field, said(case, year, *field)) {
                // A case keeps who prepared it first, and its reference is what it was found by.
                (Field::Reference | Field::Year | Field::PreparedBy, _) => {}
                (_, Some(said)) => self.compare(*field, given, &said, computed),
                (Field::Balance, None) => self.balance(given, case, year, computed, &mut lacking),
                (_, None) => lacking.push(*field),
            }
        }
        if self.remarks.len() > before {
            return None;
        }
        self.write(row, text, case, year, &lacking)
    }

    /// The same value is left alone; another one is refused.
    fn compare(&mut self, field: Field, given: &Given, said: &Said, computed: &Computed) {
        if same(&given.text, &said.text) {
            return;
        }
        let place = said.span.map_or_else(String::new, |span| {
            let at = computed.sources.line_column(span);
            format!(", {}:{}", computed.sources.get(span.source).name, at.line)
        });
        let message = format!(
            "`{}` is {} here and {} in the case{place}",
            field.column().name,
            shown(field, &given.text),
            shown(field, &said.text)
        );
        self.remarks.push(
            Remark::error("other-value", given.at.clone(), message)
                .help("correct the list, or change the case with `gablework update` or in an editor; nothing that a case says is written over"),
        );
    }

    /// A balance is compared with what the case comes to; where it comes to nothing yet, it is brought in.
    fn balance(
        &mut self,
        given: &Given,
        case: &Case,
        year: Option<TaxYear>,
        computed: &Computed,
        lacking: &mut Vec<Field>,
    ) {
        let Some(year) = year else { return };
        let figured = entering(case, &computed.outcome, year).map(|one| one.amount);
        let reached =
            case.returns.iter().any(|one| one.year.value == year || one.year.value == year.before());
        match figured {
            None if !reached && case.carried_in.is_empty() && case.property.is_empty() => {
                lacking.push(Field::Balance)
            }
            None if !reached => {
                let message = format!(
                    "the case stops before {year}, so it is not known what is carried into that year"
                );
                self.remarks.push(
                    Remark::error("other-value", given.at.clone(), message)
                        .help("add the rows of the years between, or leave the balance out"),
                );
            }
            figured => {
                let figured = figured.unwrap_or(Money::ZERO);
                let text = written(figured);
                if !same(&text, &given.text) {
                    let message = format!(
                        "`balance` is {} here, and the case comes to {} carried into {year}",
                        shown(Field::Balance, &given.text),
                        figured.spoken()
                    );
                    self.remarks.push(Remark::error("other-value", given.at.clone(), message).help(
                        "`gablework why` shows how the case comes to it; correct the list or the case",
                    ));
                }
            }
        }
    }
}

/// A value as people read it.
fn shown(field: Field, text: &str) -> String {
    use super::columns::Takes;
    match (field.column().takes, Money::read(text)) {
        (Takes::Amount, Ok(amount)) => amount.spoken(),
        _ => format!("`{}`", covered(text)),
    }
}

/// Says whether two texts say the same: capitals and blanks make no difference.
fn same(one: &str, other: &str) -> bool {
    let plain = |text: &str| {
        let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
        words.join(" ")
    };
    plain(one) == plain(other)
}

/// One thing that a case lacks: where, and what is to be written there.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Addition {
    path: Vec<String>,
    value: Written,
}

fn addition<const N: usize>(path: [&str; N], value: Written) -> Addition {
    Addition { path: path.map(str::to_string).to_vec(), value }
}

impl Taking<'_> {
    /// Writes what a case lacks into its text.
    fn write(
        &mut self,
        row: &Row,
        text: &str,
        case: &Case,
        year: Option<TaxYear>,
        lacking: &[Field],
    ) -> Option<(String, Vec<String>)> {
        let additions = self.additions(row, case, year, lacking)?;
        if additions.is_empty() {
            return Some((text.to_string(), Vec::new()));
        }
        let changes: Vec<Change> =
            additions.into_iter().map(|one| Change::set(one.path.join("."), one.value)).collect();
        match edit::edit(text.as_bytes(), &FILE, &CASE, &changes) {
            Ok(new) => {
                let added = edit::difference(text, &new, 0).to_string();
                Some((new, added.lines().map(str::to_string).collect()))
            }
            Err(refused) => {
                let message = format!("what the case lacks cannot be added in its place: {refused}");
                self.remarks.push(
                    Remark::error("not-added", Spot::row(row.number), message)
                        .help("add it to the case in an editor"),
                );
                None
            }
        }
    }

    fn additions(
        &mut self,
        row: &Row,
        case: &Case,
        year: Option<TaxYear>,
        lacking: &[Field],
    ) -> Option<Vec<Addition>> {
        let of = |field: Field| row.text(field).map(|text| value(field, text));
        let lacks = |field: Field| lacking.contains(&field);
        let year = year.map(|year| year.to_string()).unwrap_or_default();
        let mut additions = Vec::new();
        let mut refused = Vec::new();
        for (n, field) in [(1, Field::LastFour), (2, Field::SpouseLastFour)] {
            if let Some(tin) = of(field).filter(|_| lacks(field) && case.client.people.len() >= n) {
                additions.push(addition(["client", "people", &n.to_string(), "tin"], tin));
            }
        }
        if lacks(Field::Spouse) {
            refused.push(Field::Spouse);
        }
        let keys = case_of(row);
        let part =
            |keys: &Keys, key: &str| keys.iter().find(|(one, _)| *one == key).map(|(_, value)| value.clone());
        let client = match part(&keys, "client") {
            Some(Written::Lines(client)) => client,
            _ => Keys::new(),
        };
        if lacks(Field::Street) {
            let names = case.client.people.iter().map(|one| Written::text(&one.name.value));
            if let Some(Written::Keys(mut to)) = part(&client, "mail_to") {
                to.retain(|(key, _)| *key != "names");
                let to = to.with("names", Written::list(names));
                additions.push(addition(["client", "mail_to"], Written::Keys(to)));
            }
        } else if let Some(unit) = of(Field::Unit).filter(|_| lacks(Field::Unit)) {
            additions.push(addition(["client", "mail_to", "unit"], unit));
        }
        if lacks(Field::ReminderBasis) {
            additions
                .extend(part(&client, "engagement").map(|basis| addition(["client", "engagement"], basis)));
        } else {
            for (field, key) in [(Field::Consented, "consented"), (Field::Until, "until")] {
                let day = of(field).filter(|_| lacks(field));
                additions.extend(day.map(|day| addition(["client", "engagement", key], day)));
            }
        }
        match (case.homes.is_empty(), part(&keys, "homes")) {
            (true, Some(Written::Entries(homes))) => {
                additions.extend(homes.into_iter().map(|(key, home)| addition(["homes", &key], home)));
            }
            _ => refused.extend(lacking.iter().copied().filter(|field| field.part() == Part::Home)),
        }
        if lacks(Field::Balance) {
            if let Some(Written::Entries(balances)) = part(&keys, "carried_in") {
                additions.extend(balances.into_iter().map(|(_, one)| addition(["carried_in", &year], one)));
            }
        } else if case.carried_in(TaxYear(year.parse().unwrap_or(0))).is_some() {
            for (field, key) in [(Field::ShownOn, "shown_on"), (Field::BelongsTo, "belongs_to")] {
                let words = of(field).filter(|_| lacks(field));
                additions.extend(words.map(|words| addition(["carried_in", &year, key], words)));
            }
        }
        let of_return: Vec<Field> =
            lacking.iter().copied().filter(|field| field.part() == Part::Return).collect();
        match case.tax_return(TaxYear(year.parse().unwrap_or(0))) {
            _ if of_return.is_empty() => {}
            None if !self.whole_return(row, true) => return None,
            None => additions.push(addition(["returns", &year], Written::Lines(tax_return(row)))),
            Some(_) => {
                for field in of_return {
                    let Some(value) = of(field) else { continue };
                    match key_of_return(field) {
                        Some(keys) => {
                            let path =
                                ["returns", &year].into_iter().chain(keys).map(str::to_string).collect();
                            additions.push(Addition { path, value });
                        }
                        None => refused.push(field),
                    }
                }
            }
        }
        for field in &refused {
            let message = format!(
                "the case says nothing of `{}`, and it cannot be added from a list",
                field.column().name
            );
            self.remarks.push(
                Remark::error("not-added", row.spot(*field), message)
                    .help("add it with `gablework update` or in an editor, or leave the cell empty"),
            );
        }
        refused.is_empty().then_some(additions)
    }
}

/// The keys of a row's case, for their parts.
fn case_of(row: &Row) -> Keys {
    case(&Reference::unread(), row, Date::constant(2000, 1, 1))
}

/// Where in a return a field stands; none where it is part of another value.
fn key_of_return(field: Field) -> Option<Vec<&'static str>> {
    Some(match field {
        Field::Form => vec!["form"],
        Field::Stage => vec!["stage"],
        Field::FilingStatus => vec!["filing_status"],
        Field::Filed => vec!["filed"],
        Field::TaxBeforeCredits => vec!["tax_before_credits"],
        Field::Credit(credit) => vec!["other_credits", credit.word()],
        Field::ClaimedImprovement => vec!["claimed", "improvement"],
        Field::ClaimedClean => vec!["claimed", "clean"],
        Field::ClaimedCarriedOut => vec!["claimed", "carried_out"],
        Field::ClaimedBecause => vec!["claimed", "because"],
        Field::Rounding => vec!["rounding"],
        _ => return None,
    })
}
