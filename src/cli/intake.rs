//! `intake`: a table of clients, from a spreadsheet, taken into the cases of a folder.
//!
//! Which files are read and written, and what is said. What a table says of a client is in [`crate::intake`].

mod sheet;

use super::keep;
use super::progress::{self, Progress};
use super::{End, days, load, our_fault, place, print, usage};
use crate::assemble;
use crate::case::{TaxYear, covered, shown};
use crate::characters::harmless_line;
use crate::finding::{Severity, Sources};
use crate::folder::{self, inside};
use crate::intake::remark::Remark;
use crate::intake::{self, Came, Client, MAX_BYTES, NoTable, Standing, Table};
use crate::law::Law;
use crate::many;
use crate::packet::write::revise::{FORMER, revise};
use crate::wording::{count, counted};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{ErrorKind, Read};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// Take a table of clients, from a spreadsheet, into the cases of a folder.
#[derive(clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Intake {
    /// The table: a workbook (.xlsx) or delimited text (.csv), one row for a client and year
    #[arg(required_unless_present = "sheet")]
    table: Option<PathBuf>,
    /// The folder of the cases; those below it are found at any depth, and new ones are made in it
    #[arg(long, value_name = "FOLDER", required_unless_present = "sheet")]
    into: Option<PathBuf>,
    /// Make the list to fill in instead: what the cases of this folder need for the year of `--for`
    #[arg(long, value_name = "FOLDER", requires_all = ["year", "out"], conflicts_with_all = ["table", "into", "trial", "tab", "hidden", "dated"])]
    sheet: Option<PathBuf>,
    /// The workbook of `--sheet`, which must not exist yet
    #[arg(long, value_name = "FILE", requires = "sheet")]
    out: Option<PathBuf>,
    /// The tax year of rows that do not say theirs, or of the list to fill in
    #[arg(long = "for", value_name = "YEAR", value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// Show what would be written, client by client, and write nothing
    #[arg(long = "try")]
    trial: bool,
    /// The sheet of the workbook, where several read like a list of clients
    #[arg(long, value_name = "NAME", value_parser = usage::words)]
    tab: Option<String>,
    /// Read hidden rows and columns too; without it they are left out and listed
    #[arg(long)]
    hidden: bool,
    /// The day on which new cases are begun; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
    /// How many clients are worked on at once; without it four for each core, because some wait for the disk
    #[arg(long, value_name = "N", value_parser = usage::threads, allow_negative_numbers = true)]
    threads: Option<NonZeroUsize>,
}

const AFTER: &str = "\
A client without a case gets one; a case that is there gets what it lacks, such as the return of
the year. Nothing that a case says is written over: the same value is left alone, and another one
is refused with both. The columns are listed at the end of the README.";

impl Intake {
    pub(super) fn run(self) -> End {
        let end = match (&self.sheet, self.year, &self.out) {
            (Some(folder), Some(year), Some(out)) => self.sheet(folder, TaxYear(year), out),
            _ => self.taken(),
        };
        end.unwrap_or_else(|end| end)
    }

    fn sheet(&self, folder: &Path, year: TaxYear, out: &Path) -> Result<End, End> {
        sheet::write(folder, year, out, self.threads(), progress::stoppable()?)
    }

    fn taken(&self) -> Result<End, End> {
        let (Some(table), Some(into)) = (&self.table, &self.into) else {
            // The reader of the command line asks for both.
            return Err(our_fault(&"a table without a folder"));
        };
        let today = match self.dated {
            Some(day) => days::plausible("--dated", day)?,
            None => days::today(),
        };
        place::fit(into)?;
        let read = self.read(table)?;
        Desk { asked: self, table, into, today }.take(read)
    }

    /// Reads the table, not past its bound.
    fn read(&self, path: &Path) -> Result<Table, End> {
        let mut bytes = Vec::new();
        let read =
            inside::open_file(path).and_then(|file| file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes));
        if let Err(error) = read {
            match error.kind() {
                ErrorKind::NotFound if !path.is_symlink() => {
                    tell!("error: cannot read {}: {error}\nhelp: check the name of the list", shown(path));
                }
                _ => tell!("{}", load::unreadable(path, &error)),
            }
            return Err(End::Files);
        }
        intake::read(&bytes, self.tab.as_deref(), self.hidden).map_err(|NoTable { message, help }| {
            tell!("error: {}: {message}\nhelp: {help}", shown(path));
            End::CaseErrors
        })
    }

    fn threads(&self) -> NonZeroUsize {
        let cores = || std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        self.threads.unwrap_or_else(|| cores().saturating_mul(NonZeroUsize::MIN.saturating_add(3)))
    }
}

/// What the clients of a table share while they are taken in.
struct Desk<'a> {
    asked: &'a Intake,
    table: &'a Path,
    into: &'a Path,
    today: Date,
}

impl Desk<'_> {
    /// Takes every client of the table in.
    fn take(&self, mut table: Table) -> Result<End, End> {
        let name = match &table.sheet {
            Some(sheet) => format!("{}, sheet {}", shown(self.table), covered(&harmless_line(sheet))),
            None => shown(self.table),
        };
        let rows = table.rows.len();
        let clients = intake::clients(
            std::mem::take(&mut table.rows),
            self.asked.year.map(TaxYear),
            &mut table.remarks,
        );
        let unnamed = rows - clients.iter().map(|client| client.rows.len()).sum::<usize>();
        say(&table.remarks, &name);
        if clients.is_empty() {
            tell!("Nothing was written: correct what is marked above first.");
            return Err(End::CaseErrors);
        }
        let stop = progress::stoppable()?;
        let standing = Cases::of(self.into, self.asked.threads(), stop)?;
        if !self.asked.trial {
            for folder in standing.folders(self.into) {
                keep::tidy(&folder);
                keep::tidy(&folder.join(FORMER));
            }
        }
        let mut tally = Tally { rows, unnamed, ..Tally::default() };
        let mut progress = Progress::start(clients.len(), "clients");
        let work = |_: usize, client: &Client| self.one(client, &standing);
        let done = many::in_order(&clients, self.asked.threads(), stop, work, |n, done: Done| {
            progress.aside(|| tally.count(&clients[n], &done, &name, self.asked.trial));
            progress.step();
        });
        progress.end();
        print(&tally.words(clients.len(), &name, self.asked.trial));
        if done < clients.len() || stop.load(Ordering::Relaxed) {
            tell!("Stopped. What was written is whole; the same command goes on.");
            return Ok(End::Interrupted.max(tally.end));
        }
        Ok(self.close(&tally, &standing))
    }

    /// Says how it ended, and what comes next.
    fn close(&self, tally: &Tally, standing: &Cases) -> End {
        for path in &standing.unreadable {
            tell!(
                "warning: whose case {} is cannot be read, so a client may get a second one\nhelp: `gablework check` shows why",
                shown(path)
            );
        }
        let refused = tally.refused + tally.unnamed;
        if refused > 0 {
            let were = if refused == 1 { "was" } else { "were" };
            tell!(
                "error: {} {were} refused; what is marked above says why. Correct the list and run the same command: it leaves alone what is done",
                counted(refused, "client", "clients")
            );
        } else if tally.new + tally.changed > 0 && !self.asked.trial {
            tell!("Next:\n  gablework check {}", shown(self.into));
        }
        match refused {
            0 => tally.end,
            _ => tally.end.max(End::CaseErrors),
        }
    }

    /// Takes one client in.
    fn one(&self, client: &Client, standing: &Cases) -> Done {
        let failed = |words: String| Done { came: Came::Refused, remarks: Vec::new(), failed: Some(words) };
        let (path, case) = match standing.of_reference(&client.reference) {
            Ok(None) => (self.into.join(client.reference.file(".case.yaml")), None),
            Ok(Some(path)) => match folder::read(path) {
                Ok(bytes) => (path.to_path_buf(), Some(Standing { name: shown(path), bytes })),
                Err(error) => return failed(load::unreadable(path, &error)),
            },
            Err(words) => return failed(words),
        };
        let (came, remarks) = intake::take(client, case.as_ref(), Law::built_in(), self.today);
        if self.asked.trial {
            return Done { came, remarks, failed: None };
        }
        let written = match (&came, &case) {
            (Came::New(text, _), _) => keep::write_new(&path, text.as_bytes()),
            (Came::Changed(text, _), Some(case)) => {
                revise(&path, &case.bytes, text.as_bytes(), self.today).map(drop)
            }
            _ => Ok(()),
        };
        match written {
            Ok(()) => Done { came, remarks, failed: None },
            Err(trouble) => failed(format!("error: {trouble}\nhelp: {}", trouble.help())),
        }
    }
}

/// The cases that stand, by reference.
#[derive(Default)]
struct Cases {
    by_reference: BTreeMap<String, Vec<(String, PathBuf)>>,
    /// Files of which nobody can tell whose they are.
    unreadable: Vec<PathBuf>,
}

impl Cases {
    /// Reads the references of the cases below a folder; there may be no folder yet.
    fn of(folder: &Path, threads: NonZeroUsize, stop: &AtomicBool) -> Result<Cases, End> {
        let mut cases = Cases::default();
        if folder.symlink_metadata().is_err() {
            return Ok(cases);
        }
        if !folder.is_dir() {
            tell!("error: {} is not a folder\nhelp: name the folder of the cases", shown(folder));
            return Err(End::Files);
        }
        let files = load::case_files_below(folder)?;
        let reference = |_: usize, path: &PathBuf| {
            let bytes = folder::read(path).ok()?;
            let read = assemble::read(&path.display().to_string(), &bytes, Sources::default());
            match read.case {
                Some(case) => Some(case.client.reference.value.to_string()),
                // Of a case with errors the reference is enough to know that its client has one.
                None => load::reference_of(&bytes),
            }
        };
        many::in_order(&files, threads, stop, reference, |n, found| match found {
            Some(reference) => {
                let entry = cases.by_reference.entry(plain(&reference)).or_default();
                entry.push((reference, files[n].clone()));
            }
            None => cases.unreadable.push(files[n].clone()),
        });
        Ok(cases)
    }

    /// The folders in which a case may be written: that of new ones, and those of the cases that stand.
    fn folders(&self, into: &Path) -> BTreeSet<PathBuf> {
        let standing = self.by_reference.values().flatten().filter_map(|(_, path)| path.parent());
        standing.chain([into]).map(Path::to_path_buf).collect()
    }

    /// Finds the case of a client, or says why it cannot be told which it is.
    fn of_reference(&self, reference: &str) -> Result<Option<&Path>, String> {
        let Some(found) = self.by_reference.get(&plain(reference)) else { return Ok(None) };
        match found.as_slice() {
            [(known, path)] if known == reference => Ok(Some(path)),
            [(known, path)] => Err(format!(
                "error: {reference} has no case, and {known} has one, {}\nhelp: spreadsheets drop zeros and change capitals; write the reference as it is in the case, or give another client one that is not so near",
                shown(path)
            )),
            several => {
                let same: Vec<&PathBuf> =
                    several.iter().filter(|(known, _)| known == reference).map(|(_, path)| path).collect();
                match same.as_slice() {
                    [one] => Ok(Some(one)),
                    _ => {
                        let names: Vec<String> = several.iter().map(|(_, path)| shown(path)).collect();
                        Err(format!(
                            "error: {reference} is the reference of several cases: {}\nhelp: give each client a reference of its own, or take away the file that is not meant",
                            names.join(", ")
                        ))
                    }
                }
            }
        }
    }
}

/// A reference without what spreadsheets change: capitals, and zeros before a number.
fn plain(reference: &str) -> String {
    let lower = reference.to_lowercase();
    let parts = lower.split('-').map(|part| {
        let bare = part.trim_start_matches('0');
        if bare.is_empty() && !part.is_empty() { "0" } else { bare }
    });
    parts.collect::<Vec<_>>().join("-")
}

/// What came of one client.
struct Done {
    came: Came,
    remarks: Vec<Remark>,
    /// Why a file could not be read or written.
    failed: Option<String>,
}

/// What came of all of them.
#[derive(Default)]
struct Tally {
    rows: usize,
    /// Rows whose reference could not be read.
    unnamed: usize,
    new: usize,
    changed: usize,
    unchanged: usize,
    refused: usize,
    end: End,
}

impl Tally {
    fn count(&mut self, client: &Client, done: &Done, table: &str, trial: bool) {
        say(&done.remarks, table);
        if let Some(words) = &done.failed {
            tell!("{words}");
            self.end = self.end.max(End::Files);
        }
        let line = match &done.came {
            Came::New(_, words) => {
                self.new += 1;
                format!("new        {words}")
            }
            Came::Changed(_, added) => {
                self.changed += 1;
                format!("changed    {}", added.join("\n                      "))
            }
            Came::Unchanged => {
                self.unchanged += 1;
                "unchanged".to_string()
            }
            Came::Refused => {
                self.refused += 1;
                "refused".to_string()
            }
        };
        if trial {
            print(&format!("{:<10} {line}\n", client.reference.as_str()));
        }
    }

    /// Counts in words.
    fn words(&self, clients: usize, table: &str, trial: bool) -> String {
        let mut text = match trial {
            true => format!("Tried, and nothing written: {table}\n"),
            false => format!("Taken in: {table}\n"),
        };
        let mut line = |words: &str, n: usize| {
            if n > 0 {
                text.push_str(&format!("  {words:<30} {:>7}\n", count(n)));
            }
        };
        line("rows", self.rows);
        line("clients", clients);
        line("  new cases", self.new);
        line("  cases changed", self.changed);
        line("  unchanged", self.unchanged);
        line("  refused", self.refused);
        line("rows without a reference", self.unnamed);
        text
    }
}

/// Says what is wrong with a table or was understood.
fn say(remarks: &[Remark], table: &str) {
    let mut remarks: Vec<&Remark> = remarks.iter().collect();
    remarks.sort_by_key(|one| (std::cmp::Reverse(one.severity == Severity::Error), one.at.clone()));
    for one in remarks {
        tell!("{}", one.render(table));
    }
}
