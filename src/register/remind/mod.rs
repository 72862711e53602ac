//! A season's reminders: who brings clean energy credit into a year, the letters to them, and who was left out.
//!
//! Comes in: case files, and what the season is about. Goes out: files in a folder that is put in its place when it is
//! whole. Knows no clock and prints nothing.
//!
//! The way: every case is read once for its place in the mail, and nothing but that place is kept
//! ([`look_through`]); then each is read again in the order of the mail, computed and written (`reminder`), unless
//! something stands in the way (`basis`, `left_out`). Letters gather in lots for the printer (`lots`) and are forgotten when a
//! lot is bound, so memory does not grow with the number of cases. A list goes with them (`mailing`), and a report
//! accounts for every case (`report`).

pub mod basis;
pub mod left_out;
pub mod lots;
pub mod mailing;
pub mod reminder;
pub mod report;

use self::left_out::{LeftOut, Reason};
use self::lots::{Bound, Gathering, Paper};
use self::reminder::{Candidate, Failed, Made, Reminder, Route};
use self::report::Tally;

use crate::case::TaxYear;
use crate::case::shown;
use crate::finding::Sources;
use crate::folder::senders::Senders;
use crate::law::Law;
use crate::letter::Kit;
use crate::many::in_order;
use crate::packet::write::{Building, Rows, Trouble};
use crate::page::PageFault;
use jiff::civil::Date;
use std::collections::HashMap;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// What all letters of a season share.
pub struct Season<'a> {
    /// The tax year whose return can use the credit.
    pub year: TaxYear,
    /// The date of the letters.
    pub dated: Date,
    /// The law.
    pub law: &'a Law,
    /// The letters' texts.
    pub kit: &'a Kit,
    /// The same as texts that findings point into.
    pub texts: &'a Sources,
    /// Who sends them.
    pub senders: &'a Senders,
    /// Each letter is also a file of its own.
    pub single: bool,
}

/// How the season is written.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The folder of the cases.
    pub folder: &'a Path,
    /// Lots and paper.
    pub paper: Paper,
    /// Balances and the years they come from stand in the lists.
    pub with_amounts: bool,
}

/// How the work is done.
#[derive(Clone, Copy)]
pub struct Work<'a> {
    /// How many threads.
    pub threads: NonZeroUsize,
    /// Set when the user wants to stop.
    pub stop: &'a AtomicBool,
}

/// What happens, told while it happens.
pub enum Event<'a> {
    /// One more case is done.
    Step,
    /// A case failed.
    Failed(&'a Failed),
}

/// The cases of a season, in the order in which letters are made.
#[derive(Default)]
pub struct Looked {
    /// Those whose file is a case.
    pub candidates: Vec<Candidate>,
    /// How many files failed.
    failed: Vec<(LeftOut, String)>,
}

/// Why a season was not written.
pub enum NotWritten {
    /// The user wanted to stop.
    Stopped,
    /// The file system refused.
    Trouble(Trouble),
    /// A count sheet cannot be drawn: a mistake of the program.
    Fault(Vec<PageFault>),
}

impl From<Trouble> for NotWritten {
    fn from(trouble: Trouble) -> NotWritten {
        NotWritten::Trouble(trouble)
    }
}

/// Reads every case for its place in the mail. `None` after a stop.
pub fn look_through(
    files: &[PathBuf],
    season: &Season<'_>,
    work: Work<'_>,
    mut told: impl FnMut(Event<'_>),
) -> Option<Looked> {
    let mut looked = Looked::default();
    let look = |_: usize, file: &PathBuf| reminder::first_look(file, season);
    let done = |_: usize, seen: Result<Candidate, Box<Failed>>| {
        match seen {
            Ok(candidate) => looked.candidates.push(candidate),
            Err(failed) => {
                told(Event::Failed(&failed));
                looked.failed.push(note(&failed));
            }
        }
        told(Event::Step);
    };
    if in_order(files, work.threads, work.stop, look, done) < files.len() {
        return None;
    }
    looked.candidates.sort();
    Some(looked)
}

/// What the report keeps of a failed case: its row, and its findings in words.
fn note(failed: &Failed) -> (LeftOut, String) {
    let Failed { file, reference, why } = failed;
    let row = LeftOut { file: file.clone(), reference: reference.clone(), reasons: vec![Reason::Failed] };
    (row, format!("{}\n{why}\n", shown(file)))
}

/// Computes the cases in the order of the mail and writes letters, lists and report into a folder.
pub fn write(
    looked: Looked,
    season: &Season<'_>,
    wanted: Wanted<'_>,
    work: Work<'_>,
    building: &Building<'_>,
    mut told: impl FnMut(Event<'_>),
) -> Result<Tally, NotWritten> {
    let Looked { candidates, failed } = looked;
    let mut desk = Desk::new(season, wanted, building, &candidates)?;
    desk.tally.cases = candidates.len() + failed.len();
    for (row, words) in failed {
        desk.failed(row, &words)?;
    }
    let same = same_references(&candidates);
    let make = |_: usize, candidate: &Candidate| {
        let same = same.get(&candidate.reference.to_lowercase());
        let others = same.into_iter().flatten().filter(|file| **file != candidate.file).cloned();
        reminder::write(candidate, &others.collect::<Vec<_>>(), season)
    };
    // Also set when the file system refuses, so that no further case is begun.
    let halt = AtomicBool::new(false);
    let mut trouble = None;
    let done = |_: usize, made: Made| {
        if work.stop.load(Ordering::Relaxed) {
            halt.store(true, Ordering::Relaxed);
        }
        if trouble.is_some() || halt.load(Ordering::Relaxed) {
            return;
        }
        if let Made::Failed(failed) = &made {
            told(Event::Failed(failed));
        }
        if let Err(refused) = desk.take(made) {
            trouble = Some(refused);
            halt.store(true, Ordering::Relaxed);
        }
        told(Event::Step);
    };
    in_order(&candidates, work.threads, &halt, make, done);
    if let Some(trouble) = trouble {
        return Err(trouble);
    }
    if halt.load(Ordering::Relaxed) {
        return Err(NotWritten::Stopped);
    }
    desk.close()
}

/// Returns the files of each reference that more than one case has, without regard to case.
fn same_references(candidates: &[Candidate]) -> HashMap<String, Vec<PathBuf>> {
    let mut files: HashMap<String, Vec<PathBuf>> = HashMap::new();
    for candidate in candidates {
        files.entry(candidate.reference.to_lowercase()).or_default().push(candidate.file.clone());
    }
    files.retain(|_, files| files.len() > 1);
    files.values_mut().for_each(|files| files.sort());
    files
}

/// What is open while a season is written.
struct Desk<'a> {
    season: &'a Season<'a>,
    wanted: Wanted<'a>,
    building: &'a Building<'a>,
    gathering: Gathering<'a>,
    list: Option<Rows<'a>>,
    portal: Option<Rows<'a>>,
    failures: Option<Rows<'a>>,
    tally: Tally,
}

/// The list of letters in the lots.
const LIST: &str = "mailing-list.csv";
/// The list of letters for the portal.
const PORTAL_LIST: &str = "portal-list.csv";
/// The findings of cases that failed.
const FAILED: &str = "failed.txt";
/// The report to read.
const REPORT: &str = "report.txt";
/// The cases without a letter, as rows.
const LEFT_OUT: &str = "left-out.csv";
/// The folder of letters for the portal.
const PORTAL: &str = "portal";
/// The folder of letters as files of their own.
const SINGLE: &str = "single";

/// Says whether a name in a season's folder is one that a season has.
pub fn is_of_a_season(name: &str) -> bool {
    let lot = name.starts_with("season-") && name.contains("-lot-") && name.ends_with(".pdf");
    lot || [LIST, PORTAL_LIST, FAILED, REPORT, LEFT_OUT, PORTAL, SINGLE].contains(&name)
}

impl<'a> Desk<'a> {
    fn new(
        season: &'a Season<'a>,
        wanted: Wanted<'a>,
        building: &'a Building<'a>,
        candidates: &[Candidate],
    ) -> Result<Desk<'a>, Trouble> {
        let mailed = candidates.iter().filter(|one| matches!(one.route, Route::Mail(_))).count();
        Ok(Desk {
            season,
            wanted,
            building,
            gathering: Gathering::new(season, wanted.paper, mailed),
            list: None,
            portal: None,
            failures: None,
            tally: Tally::default(),
        })
    }

    fn take(&mut self, made: Made) -> Result<(), NotWritten> {
        match made {
            Made::Letter(reminder) => self.letter(*reminder),
            Made::LeftOut(one) => {
                self.tally.left_out.push(one);
                Ok(())
            }
            Made::Failed(failed) => {
                let (row, words) = note(&failed);
                Ok(self.failed(row, &words)?)
            }
        }
    }

    fn failed(&mut self, row: LeftOut, words: &str) -> Result<(), Trouble> {
        growing(&mut self.failures, self.building, FAILED, String::new)?.add(words)?;
        self.tally.left_out.push(row);
        Ok(())
    }

    fn letter(&mut self, mut reminder: Reminder) -> Result<(), NotWritten> {
        let Desk { season, wanted, building, .. } = *self;
        let reference = reminder.reference.clone();
        let remarks = std::mem::take(&mut reminder.remarks);
        self.tally.remarks.extend(remarks.into_iter().map(|remark| (reference.to_string(), remark)));
        let with_amounts = wanted.with_amounts;
        let folder = if reminder.route == Route::Portal { PORTAL } else { SINGLE };
        let file = format!("{folder}/{}", reference.file(".pdf"));
        if let Some(single) = reminder.single.take() {
            building.add(&file, &single)?;
        }
        let Route::Mail(postal) = &reminder.route else {
            let heading = || mailing::portal_heading(with_amounts);
            let row = mailing::portal_row(&file, &reminder, season, with_amounts);
            growing(&mut self.portal, building, PORTAL_LIST, heading)?.add(&row)?;
            self.tally.portal += 1;
            return Ok(());
        };
        let row = mailing::row(self.gathering.next(), &reminder, postal, season, with_amounts);
        growing(&mut self.list, building, LIST, || mailing::heading(with_amounts))?.add(&row)?;
        let bound = self.gathering.add(reminder).map_err(NotWritten::Fault)?;
        self.bound(bound)
    }

    fn bound(&mut self, bound: Option<Bound>) -> Result<(), NotWritten> {
        if let Some((lot, bytes)) = bound {
            self.building.add(&lot.file, &bytes)?;
            self.tally.lots.push(lot);
        }
        Ok(())
    }

    /// Binds the last lot, ends the lists and writes the report.
    fn close(mut self) -> Result<Tally, NotWritten> {
        let rest = self.gathering.bind().map_err(NotWritten::Fault)?;
        self.bound(rest)?;
        for list in [self.list.take(), self.portal.take(), self.failures.take()].into_iter().flatten() {
            list.end()?;
        }
        let Desk { season, wanted, building, mut tally, .. } = self;
        tally.left_out.sort_by(|a, b| a.file.cmp(&b.file));
        if !tally.left_out.is_empty() {
            building.add(LEFT_OUT, report::left_out_csv(&tally, wanted.folder).as_bytes())?;
        }
        building.add(REPORT, report::report(&tally, season, wanted.folder).as_bytes())?;
        Ok(tally)
    }
}

/// Returns a file that grows, opened with its heading when it is first needed.
fn growing<'f, 'a>(
    file: &'f mut Option<Rows<'a>>,
    building: &'a Building<'a>,
    name: &str,
    heading: impl FnOnce() -> String,
) -> Result<&'f mut Rows<'a>, Trouble> {
    if file.is_none() {
        let mut new = building.grow(name)?;
        new.add(&heading())?;
        *file = Some(new);
    }
    match file {
        Some(file) => Ok(file),
        None => unreachable!("opened above"),
    }
}
