//! The columns that a table of clients may have, each declared once: its heading, what it takes, what it means, an
//! example, and how else people head it. The reader, the sheet to fill in, the README's table and the messages follow.
//!
//! Nothing comes in. Goes out: [`all`], and the column that a heading means.

use crate::case::{
    Delivery, FilingStatus, HeldAs, HomeUse, Language, OtherCredit, ReminderBasis, ReturnForm,
    RoundingChoice, Stage,
};
use crate::record::near;
use std::collections::HashMap;
use std::sync::OnceLock;

/// What a column says of a client.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the declaration below has the meaning of each")]
pub enum Field {
    Reference,
    Name,
    LastFour,
    Spouse,
    SpouseLastFour,
    Street,
    Unit,
    City,
    State,
    Zip,
    Language,
    Delivery,
    ReminderBasis,
    Consented,
    Until,
    HomeUse,
    HeldAs,
    HomeStreet,
    HomeUnit,
    HomeCity,
    HomeState,
    HomeZip,
    PreparedBy,
    Year,
    Balance,
    ShownOn,
    BelongsTo,
    Form,
    Stage,
    FilingStatus,
    Filed,
    TaxBeforeCredits,
    Credit(OtherCredit),
    WorksheetB,
    ClaimedImprovement,
    ClaimedClean,
    ClaimedCarriedOut,
    ClaimedBecause,
    Rounding,
}

/// What a column takes.
#[derive(Clone, Copy, Debug)]
pub enum Takes {
    /// A client's reference.
    Reference,
    /// The name of a person.
    Name,
    /// Text on one line.
    Line,
    /// The last four digits of a taxpayer number.
    LastFour,
    /// The two letters of a state, or its name.
    State,
    /// A ZIP code.
    Zip,
    /// Dollars.
    Amount,
    /// A day.
    Day,
    /// A tax year.
    Year,
    /// One of a list's words.
    Word(fn() -> Vec<(&'static str, &'static str)>),
}

/// One column.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// What it says.
    pub field: Field,
    /// Its heading, and the name of what it takes in messages.
    pub name: &'static str,
    /// What stands in it.
    pub takes: Takes,
    /// What it means.
    pub meaning: &'static str,
    /// An example.
    pub example: &'static str,
    /// How else people head it.
    pub also: &'static [&'static str],
}

/// Part of a case that a column belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    Client,
    Home,
    Balance,
    Return,
}

impl Field {
    pub(super) fn part(self) -> Part {
        match self {
            f if f < Field::HomeUse => Part::Client,
            Field::PreparedBy => Part::Client,
            f if f < Field::PreparedBy => Part::Home,
            Field::Year | Field::Balance | Field::ShownOn | Field::BelongsTo => Part::Balance,
            _ => Part::Return,
        }
    }

    /// Returns the column of a field.
    pub fn column(self) -> &'static Column {
        let found = all().iter().find(|one| one.field == self);
        // Each field has a column, which a test holds.
        found.unwrap_or(&all()[0])
    }
}

macro_rules! listed {
    ($name:ident) => {
        Takes::Word(|| $name::ALL.iter().map(|one| (one.word(), one.label())).collect())
    };
}

const fn column(
    field: Field,
    name: &'static str,
    takes: Takes,
    meaning: &'static str,
    example: &'static str,
    also: &'static [&'static str],
) -> Column {
    Column { field, name, takes, meaning, example, also }
}

/// The columns but for the other credits of a return, which follow [`Field::TaxBeforeCredits`].
#[rustfmt::skip]
const COLUMNS: &[Column] = &[
    column(Field::Reference, "reference", Takes::Reference, "your reference for the client; every row has one", "HH-0412",
        &["ref", "client reference", "client ref", "client id", "client no", "client number", "client code", "file no", "file number", "account", "account no", "account number", "id"]),
    column(Field::Name, "name", Takes::Name, "the client's full name; required for a new client", "Ana Alder",
        &["client", "client name", "full name", "taxpayer", "taxpayer name", "name of client", "primary taxpayer", "name of taxpayer"]),
    column(Field::LastFour, "last_four", Takes::LastFour, "the last four digits of the taxpayer number, never more", "4410",
        &["tin", "ssn", "last 4", "ssn last 4", "last 4 ssn", "last 4 of ssn", "last four of ssn", "ssn last four", "taxpayer number", "tax id", "ssn4"]),
    column(Field::Spouse, "spouse", Takes::Name, "the spouse on a joint return", "Ben Alder",
        &["spouse name", "name of spouse", "spouses name", "joint filer"]),
    column(Field::SpouseLastFour, "spouse_last_four", Takes::LastFour, "the last four digits of the spouse's number", "4411",
        &["spouse tin", "spouse ssn", "spouse last 4", "spouse ssn last 4", "spouse ssn4"]),
    column(Field::Street, "street", Takes::Line, "where letters go: street and number, or PO box", "12 Alder Lane",
        &["address", "address 1", "address line 1", "street address", "mailing address", "mail address", "mailing street"]),
    column(Field::Unit, "unit", Takes::Line, "apartment or suite", "Apt 4",
        &["address 2", "address line 2", "apt", "apartment", "suite", "apt suite", "unit no", "apt no"]),
    column(Field::City, "city", Takes::Line, "city", "Riverton", &["town", "city town", "mailing city"]),
    column(Field::State, "state", Takes::State, "state, two letters", "MA", &["st", "state code", "mailing state"]),
    column(Field::Zip, "zip", Takes::Zip, "ZIP or ZIP+4", "01040", &["zip code", "zip 5", "zip 4", "postal code", "mailing zip"]),
    column(Field::Language, "language", listed!(Language), "language of the letters", "en", &["letter language", "lang"]),
    column(Field::Delivery, "delivery", listed!(Delivery), "how letters reach the client", "mail", &["letters by", "delivery of letters"]),
    column(Field::ReminderBasis, "reminder_basis", listed!(ReminderBasis), "on what basis the firm may write each season", "preparation",
        &["basis", "reminders", "engagement", "basis for reminders"]),
    column(Field::Consented, "consented", Takes::Day, "the day of the written consent", "2026-03-01", &["consent", "consent date", "date of consent", "consent signed"]),
    column(Field::Until, "until", Takes::Day, "the last day of the consent or engagement", "2028-12-31", &["valid until", "consent until", "engagement until"]),
    column(Field::HomeUse, "home_use", listed!(HomeUse), "how the home is used; with `home_held_as` a new case gets a home", "main_home", &["use of home", "home used as"]),
    column(Field::HeldAs, "home_held_as", listed!(HeldAs), "by what right the client holds the home", "owner", &["held as", "owner or renter", "home held"]),
    column(Field::HomeStreet, "home_street", Takes::Line, "where the home is, where letters go elsewhere", "7 Birch Road", &["home address", "property address", "property street"]),
    column(Field::HomeUnit, "home_unit", Takes::Line, "its apartment", "Apt 2", &["home apt", "home apartment", "property unit"]),
    column(Field::HomeCity, "home_city", Takes::Line, "its city", "Old Quay", &["property city"]),
    column(Field::HomeState, "home_state", Takes::State, "its state", "ME", &["property state"]),
    column(Field::HomeZip, "home_zip", Takes::Zip, "its ZIP", "04990", &["home zip code", "property zip"]),
    column(Field::PreparedBy, "prepared_by", Takes::Line, "who prepared the case, where it is new", "J. Birch", &["preparer", "prepared"]),
    column(Field::Year, "year", Takes::Year, "the tax year that the row is about; without it the year of `--for`", "2026", &["tax year", "ty", "return year", "for year"]),
    column(Field::Balance, "balance", Takes::Amount, "the clean energy credit (25D) brought into the year", "1900",
        &["carryforward", "carried in", "carryover", "balance brought in", "credit carried forward", "credit brought in", "credit left", "25d carryforward", "carryforward balance", "clean energy carryforward"]),
    column(Field::ShownOn, "shown_on", Takes::Line, "where the balance is shown, so that anyone can look it up", "2025 Form 5695 line 16",
        &["balance shown on", "where shown", "source of balance", "carryforward source", "shown"]),
    column(Field::BelongsTo, "belongs_to", Takes::Line, "whose the balance is, where it is one person's", "Ana Alder", &["balance belongs to", "balance of"]),
    column(Field::Form, "form", listed!(ReturnForm), "the form of the return; 1040 where it is left out", "1040", &["return form", "form type"]),
    column(Field::Stage, "stage", listed!(Stage), "how far the return has come", "filed", &["return stage", "return status", "stage of return", "status of return"]),
    column(Field::FilingStatus, "filing_status", listed!(FilingStatus), "filing status; required for a return", "married_filing_jointly", &["filing", "fs"]),
    column(Field::Filed, "filed", Takes::Day, "the day the return was filed", "2027-03-30", &["date filed", "filed on", "filing date"]),
    column(Field::TaxBeforeCredits, "tax_before_credits", Takes::Amount, "the tax before credits (Form 1040 line 18); required for a return", "2140",
        &["line 18", "1040 line 18", "form 1040 line 18", "tax line 18", "tax before any credits"]),
    column(Field::WorksheetB, "child_tax_worksheet_b", Takes::Amount, "line 14 of Credit Limit Worksheet B of Schedule 8812, where it was used", "800", &["worksheet b", "worksheet b line 14"]),
    column(Field::ClaimedImprovement, "claimed_improvement", Takes::Amount, "the home improvement credit (25C) on the filed return", "0", &["25c claimed", "claimed 25c"]),
    column(Field::ClaimedClean, "claimed_clean", Takes::Amount, "the clean energy credit (25D) on the filed return", "1540", &["25d claimed", "claimed 25d"]),
    column(Field::ClaimedCarriedOut, "claimed_carried_out", Takes::Amount, "the clean energy credit carried forward on the filed return", "5100", &["carried out", "carried forward to next year", "25d carried out"]),
    column(Field::ClaimedBecause, "claimed_because", Takes::Line, "where the filed return differs from the figures: why", "the installer's labor was left out", &["why different", "because"]),
    column(Field::Rounding, "rounding", listed!(RoundingChoice), "how the amounts of the return are rounded; whole dollars where it is left out", "whole_dollars", &["rounded"]),
];

/// Every column, in the order of the blank sheet.
pub fn all() -> &'static [Column] {
    static ALL: OnceLock<Vec<Column>> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut all = Vec::new();
        for one in COLUMNS {
            all.push(*one);
            if one.field == Field::TaxBeforeCredits {
                all.extend(OtherCredit::ALL.iter().map(|credit| Column {
                    field: Field::Credit(*credit),
                    name: credit.word(),
                    takes: Takes::Amount,
                    meaning: credit.label(),
                    example: "600",
                    also: &[],
                }));
            }
        }
        all
    })
}

/// What a heading means.
#[derive(Clone, Debug)]
pub(super) enum Meant {
    Column(&'static Column),
    /// None, and these are so near that one of them may be meant.
    Near(Vec<&'static str>),
    Unknown,
}

/// Finds the column that has a heading: by its name or another that people use, in any case and with any signs; what
/// stands in parentheses explains and is not read.
pub(super) fn named(heading: &str) -> Option<&'static Column> {
    static NAMES: OnceLock<HashMap<String, &'static Column>> = OnceLock::new();
    let names = NAMES.get_or_init(|| {
        let mut names = HashMap::new();
        for one in all() {
            if let Field::Credit(credit) = one.field {
                names.insert(bare(credit.label()), one);
            }
            names.insert(bare(one.name), one);
            names.extend(one.also.iter().map(|also| (bare(also), one)));
        }
        names
    });
    if heading.len() > 200 {
        return None;
    }
    let without = heading.split('(').next().unwrap_or_default();
    names.get(&bare(heading)).or_else(|| names.get(&bare(without))).copied()
}

/// Reads a heading.
pub(super) fn meant(heading: &str) -> Meant {
    if let Some(column) = named(heading) {
        return Meant::Column(column);
    }
    let names: Vec<&'static str> = all().iter().map(|one| one.name).collect();
    let mut close = near(&heading.to_lowercase(), &names);
    for one in all() {
        if !one.also.is_empty()
            && !close.contains(&one.name)
            && one.also.iter().any(|also| is_near(heading, also))
        {
            close.push(one.name);
        }
    }
    if close.is_empty() { Meant::Unknown } else { Meant::Near(close) }
}

/// Says whether a heading is a misspelling of a longer one; of short ones, such as `st`, everything is near.
fn is_near(heading: &str, also: &'static str) -> bool {
    also.len() >= 6 && !near(&heading.to_lowercase(), &[also]).is_empty()
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_heading_means_one_column() {
        let mut seen: Vec<(String, &str)> = Vec::new();
        for one in all() {
            assert_eq!(one.field.column().name, one.name);
            for text in std::iter::once(one.name).chain(one.also.iter().copied()) {
                let plain = bare(text);
                let other = seen.iter().find(|(known, _)| *known == plain);
                assert!(
                    other.is_none(),
                    "`{text}` is both {} and {}",
                    one.name,
                    other.map_or("", |(_, of)| of)
                );
                seen.push((plain, one.name));
            }
            assert!(!one.meaning.ends_with('.'), "{}", one.name);
        }
    }

    #[test]
    fn a_heading_is_read_as_people_write_it() {
        for (heading, name) in [
            ("Reference", "reference"),
            ("CLIENT ID", "reference"),
            ("Zip Code", "zip"),
            ("ZIP\nCode", "zip"),
            ("Tax before credits (line 18)", "tax_before_credits"),
            ("Child and dependent care credit", "child_and_dependent_care"),
            ("Filing-Status", "filing_status"),
        ] {
            match meant(heading) {
                Meant::Column(column) => assert_eq!(column.name, name, "{heading}"),
                other => panic!("{heading}: {other:?}"),
            }
        }
        for (heading, name) in [
            ("Referense", "reference"),
            ("Balanse", "balance"),
            ("Carryfoward", "balance"),
            ("filling status", "filing_status"),
        ] {
            match meant(heading) {
                Meant::Near(names) => assert!(names.contains(&name), "{heading}: {names:?}"),
                other => panic!("{heading}: {other:?}"),
            }
        }
        for heading in ["Phone", "Notes", "Partner in charge", "Date of birth", "E-mail", "Fee", "Status"] {
            assert!(matches!(meant(heading), Meant::Unknown), "{heading}: {:?}", meant(heading));
        }
    }
}
