//! One case of a season: its place in the mail, and its letter or why it gets none.
//!
//! Comes in: a case file and what the season is about. Goes out: first where the letter belongs in the mail, then the
//! letter as pages. Reads the file each time, so that nothing of a case is held in between.

use super::Season;
use super::basis;
use super::left_out::{LeftOut, Reason};
use crate::assemble::{self, Computed, Places};
use crate::case::{self, Case, Delivery, Language, TaxYear};
use crate::credit::Outcome;
use crate::credit::facts::facts;
use crate::credit::line::{self, Place};
use crate::credit::season::{Entering, entering};
use crate::credit::stage::stage;
use crate::finding::{Finding, Severity, Sources};
use crate::folder;
use crate::folder::senders::Sender;
use crate::letter::post::Postal;
use crate::letter::{self, REMINDER};
use crate::name::Reference;
use crate::packet::short_fingerprint;
use crate::page::{self, Pages, Stamp};
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// A case whose file can be read, before anything is computed.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Candidate {
    /// How its letter goes out.
    pub route: Route,
    /// The client's reference.
    pub reference: Reference,
    /// The file.
    pub file: PathBuf,
}

/// How a letter goes out, in the order in which letters are made: the mail in the order of ZIP, street and name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Route {
    /// By mail, to this address.
    Mail(Postal),
    /// Through the firm's portal.
    Portal,
    /// By mail, and there is no address.
    Nowhere,
    /// Not at all.
    Not,
}

impl Route {
    fn of(case: &Case) -> Route {
        match (case.client.delivery, &case.client.mail_to) {
            (Delivery::Mail, Some(to)) => Route::Mail(Postal::of(to)),
            (Delivery::Mail, None) => Route::Nowhere,
            (Delivery::Portal, _) => Route::Portal,
            (Delivery::None, _) => Route::Not,
        }
    }
}

/// A letter, ready to be bound.
pub struct Reminder {
    /// The client's reference.
    pub reference: Reference,
    /// How it goes out.
    pub route: Route,
    /// The language it is in.
    pub language: Language,
    /// The balance it tells of.
    pub entering: Entering,
    /// Its pages.
    pub pages: Pages,
    /// The letter as a file of its own, where one is wanted.
    pub single: Option<Vec<u8>>,
    /// Made from what the letter was made from.
    pub id: [u8; 16],
    /// What the office should look at, in sentences.
    pub remarks: Vec<String>,
}

/// What came of a case.
pub enum Made {
    /// A letter.
    Letter(Box<Reminder>),
    /// No letter, and why.
    LeftOut(LeftOut),
    /// Errors.
    Failed(Box<Failed>),
}

/// A case that failed.
pub struct Failed {
    /// Its file.
    pub file: PathBuf,
    /// The client's reference, where the file could be read as a case.
    pub reference: String,
    /// Why.
    pub why: Failure,
}

/// Why a case failed.
#[derive(Debug)]
pub enum Failure {
    /// Findings, some of them errors, and the texts they point into.
    Findings(Vec<Finding>, Sources),
    /// The file cannot be read.
    Unreadable(io::Error),
    /// The file was changed while the season was made.
    Changed,
    /// A mistake of the program.
    Fault(String),
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Findings(findings, sources) => {
                findings.iter().try_for_each(|finding| write!(f, "{}", finding.render(sources)))
            }
            Failure::Unreadable(error) => write!(f, "error: the file cannot be read: {error}"),
            Failure::Changed => {
                write!(f, "error: the file was changed while the season was made; run it again")
            }
            Failure::Fault(what) => write!(f, "fault of the program: {what}"),
        }
    }
}

impl std::error::Error for Failure {}

/// Reads a case for its place in the mail.
pub fn first_look(file: &Path, season: &Season<'_>) -> Result<Candidate, Box<Failed>> {
    let failed = |why| Box::new(Failed { file: file.to_path_buf(), reference: String::new(), why });
    let bytes = folder::read(file).map_err(|error| failed(Failure::Unreadable(error)))?;
    let mut sources = Sources::default();
    let name = file.display().to_string();
    match case::read(&name, &bytes, &mut sources) {
        (Some(case), _) => Ok(Candidate {
            route: Route::of(&case),
            reference: case.client.reference.value,
            file: file.to_path_buf(),
        }),
        // Computing adds nothing to a file that is no case; it sorts the findings as `check` shows them.
        (None, _) => match assemble::compute(&name, &bytes, season.law, Sources::default()) {
            Ok(computed) => Err(failed(Failure::Findings(computed.outcome.findings, computed.sources))),
            Err(fault) => Err(failed(Failure::Fault(fault.to_string()))),
        },
    }
}

/// Computes a case and writes its letter.
pub fn write(candidate: &Candidate, same: &[PathBuf], season: &Season<'_>) -> Made {
    let failed = |why| {
        let (file, reference) = (candidate.file.clone(), candidate.reference.to_string());
        Made::Failed(Box::new(Failed { file, reference, why }))
    };
    let bytes = match folder::read(&candidate.file) {
        Ok(bytes) => bytes,
        Err(error) => return failed(Failure::Unreadable(error)),
    };
    let name = candidate.file.display().to_string();
    let computed = match assemble::compute(&name, &bytes, season.law, season.texts.clone()) {
        Ok(computed) => computed,
        Err(fault) => return failed(Failure::Fault(fault.to_string())),
    };
    if computed.has_errors() {
        return failed(Failure::Findings(computed.outcome.findings, computed.sources));
    }
    let Some(case) = &computed.case else { return failed(Failure::Changed) };
    if case.client.reference.value != candidate.reference || Route::of(case) != candidate.route {
        return failed(Failure::Changed);
    }
    let balance = balance(case, &computed.outcome, season.year);
    let reasons = reasons(case, &computed, balance.as_ref().err(), same, season);
    let entering = match (balance, reasons.is_empty()) {
        (Ok(entering), true) => entering,
        _ => {
            let (file, reference) = (candidate.file.clone(), candidate.reference.to_string());
            return Made::LeftOut(LeftOut { file, reference, reasons });
        }
    };
    match letter(case, &computed, candidate, season, &bytes) {
        Ok((pages, language, id, remarks)) => {
            let wanted = season.single || candidate.route == Route::Portal;
            let single = wanted.then(|| page::to_pdf(&pages, &Stamp { id, date: season.dated }));
            Made::Letter(Box::new(Reminder {
                reference: candidate.reference.clone(),
                route: candidate.route.clone(),
                language,
                entering,
                pages,
                single,
                id,
                remarks,
            }))
        }
        Err(findings) => failed(Failure::Findings(findings, computed.sources)),
    }
}

/// Returns the balance that enters the year, or why there is none to write about.
fn balance(case: &Case, outcome: &Outcome, year: TaxYear) -> Result<Entering, Reason> {
    match entering(case, outcome, year) {
        Some(_) if stage(case, &outcome.figures, year).is_filed() => Err(Reason::Filed(year)),
        Some(entering) => Ok(entering),
        None if reaches(case, outcome, year) => Err(Reason::NoCredit),
        None => {
            let last_return = case.returns.iter().map(|one| one.year.value).filter(|one| *one < year).max();
            let last_balance =
                case.carried_in.iter().map(|one| one.year.value).filter(|one| *one < year).max();
            Err(Reason::Unknown { year, last_return, last_balance })
        }
    }
}

/// Says whether the case tells what enters a year: by its return or the one before, by a balance brought in, or
/// because nothing was left on the last return and nothing came after it.
fn reaches(case: &Case, outcome: &Outcome, year: TaxYear) -> bool {
    let told = |one: TaxYear| case.tax_return(one).is_some();
    if told(year) || told(year.before()) || case.carried_in(year).is_some() {
        return true;
    }
    let last = case.returns.iter().map(|one| one.year.value).filter(|one| *one < year).max();
    last.is_some_and(|last| {
        let left = outcome.figures.money(&Place::of_return(last, line::CARRIED_OUT));
        let nothing_later = outcome.years.iter().all(|one| *one <= last || *one > year);
        left.is_none_or(crate::money::Money::is_zero) && nothing_later
    })
}

/// Returns every reason against a letter, the gravest first.
fn reasons(
    case: &Case,
    computed: &Computed,
    none: Option<&Reason>,
    same: &[PathBuf],
    season: &Season<'_>,
) -> Vec<Reason> {
    let mut reasons = Vec::new();
    if !same.is_empty() {
        reasons.push(Reason::SameReference(same.to_vec()));
    }
    if let Some(none @ (Reason::NoCredit | Reason::Filed(_))) = none {
        // Whatever else is so, there is nothing to write about.
        reasons.push(none.clone());
        return reasons;
    }
    let open =
        computed.outcome.findings.iter().filter(|finding| finding.blocking).map(|finding| finding.code);
    let open: Vec<&str> = open.collect();
    if !open.is_empty() {
        reasons.push(Reason::Questions(open));
    }
    let before = season.year.before();
    let change = computed.outcome.figures.money(&Place::of_return(before, line::CHANGE_CARRIED_OUT));
    // Where the preparer has said which balance stands, and why, it is settled.
    let settled = case.carried_in(season.year).is_some_and(|one| one.instead_of_computed.is_some());
    if !settled && change.is_some_and(|change| !change.is_zero()) {
        reasons.push(Reason::Differs(before));
    }
    reasons.extend(none.cloned());
    let died = |person: &case::Person| person.deceased.as_ref().is_some_and(|day| day.value <= season.dated);
    if case.client.people.iter().any(died) {
        reasons.push(Reason::Deceased);
    }
    reasons.extend(basis::missing(case.client.engagement.as_ref(), season.dated).map(Reason::NoBasis));
    match Route::of(case) {
        Route::Nowhere => reasons.push(Reason::NoAddress),
        Route::Not => reasons.push(Reason::NotWanted),
        Route::Mail(_) | Route::Portal => {}
    }
    reasons
}

/// What a letter comes to: pages, language, identifier, remarks.
type Written = (Pages, Language, [u8; 16], Vec<String>);

/// Writes the letter, or says why it cannot be.
fn letter(
    case: &Case,
    computed: &Computed,
    candidate: &Candidate,
    season: &Season<'_>,
    bytes: &[u8],
) -> Result<Written, Vec<Finding>> {
    let Season { year, law, dated, .. } = *season;
    let outcome = &computed.outcome;
    let facts = facts(case, law, outcome, year, false, dated);
    let found = season.senders.of(&candidate.file);
    let sender = found.sender.as_ref();
    let about = letter::Request {
        case,
        law,
        outcome,
        year,
        facts: &facts,
        firm: sender.map(|sender| &sender.firm),
        logo: sender.and_then(|sender| sender.logo.as_ref()),
        dated,
        replaces: None,
    };
    let (document, mut findings) = letter::write_one(&about, season.kit, REMINDER);
    let Some(document) = document else { return Err(findings) };
    findings
        .retain(|finding| candidate.route != Route::Portal || !finding.code.starts_with("letter-address"));
    let pages = assemble::lay_out(&document, Places { sources: &computed.sources, case, firm: None })?;
    let remarks = findings
        .iter()
        .filter(|finding| finding.severity == Severity::Warning)
        .map(|finding| finding.message.clone())
        .collect();
    let language = Language::from_word(&document.language).unwrap_or(Language::En);
    Ok((pages, language, identifier(bytes, season, sender), remarks))
}

/// Makes the identifier of a letter's file from what it was made from.
fn identifier(bytes: &[u8], season: &Season<'_>, sender: Option<&Sender>) -> [u8; 16] {
    let mut all = format!("reminder {} {} ", season.year, season.dated).into_bytes();
    all.extend(sender.map_or(&[][..], |sender| &sender.bytes));
    all.extend(bytes);
    short_fingerprint(&all)
}
