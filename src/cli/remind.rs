//! `remind`: a season's letters to every client with credit left.

use super::access::Access;
use super::progress::{self, Progress};
use super::{End, complain, days, kit, load, our_fault, place, print, usage};
use crate::case::{TaxYear, shown};
use crate::finding::Sources;
use crate::folder::senders::Senders;
use crate::law::Law;
use crate::packet::write::{Building, Trouble};
use crate::register::remind::left_out::LeftOut;
use crate::register::remind::lots::Paper;
use crate::register::remind::reminder::{Failed, Failure};
use crate::register::remind::report::{self, Tally};
use crate::register::remind::{self, Event, NotWritten, Season, Wanted, Work};
use crate::wording::count;
use jiff::civil::Date;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

/// Write to every client with credit left.
#[derive(clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Remind {
    /// The folder of the cases; those below it are found at any depth
    folder: PathBuf,
    /// The tax year whose return can use the credit
    #[arg(long = "for", value_name = "YEAR", value_parser = usage::season, allow_negative_numbers = true)]
    year: i16,
    /// The season's folder, which must not stand yet; without it season-YEAR
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace the season's folder where it stands
    #[arg(long)]
    replace: bool,
    /// Put balances, the years they come from and the last return into the lists
    #[arg(long)]
    with_amounts: bool,
    /// Each letter also as a file of its own, named by the client's reference
    #[arg(long)]
    single: bool,
    /// How many letters a lot holds
    #[arg(long, value_name = "N", default_value = "500", value_parser = usage::lot, allow_negative_numbers = true)]
    lot: usize,
    /// The lots are printed on both sides: each letter begins on a sheet of its own
    #[arg(long)]
    both_sides: bool,
    /// The date on the letters; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
    /// The firm's file; without it firm.yaml beside a case, or above it up to FOLDER
    #[arg(long, value_name = "FILE")]
    pub(super) firm: Option<PathBuf>,
    /// The firm's own letters: a folder that `kit` made
    #[arg(long, value_name = "DIR")]
    kit: Option<PathBuf>,
    /// How many cases are worked on at once; without it one for each core
    #[arg(long, value_name = "N", value_parser = usage::threads, allow_negative_numbers = true)]
    threads: Option<NonZeroUsize>,
    #[command(flatten)]
    access: Access,
}

const AFTER: &str = "\
Letters go only to clients for whom the case records a basis to write (`engagement`). The report
in the season's folder accounts for every case. Delete the lots and every copy after mailing.";

impl Remind {
    pub(super) fn run(self) -> End {
        let files = match load::case_files(&self.folder) {
            Ok(files) => files,
            Err(end) => return end,
        };
        let folder = match self.folder.is_dir() {
            true => self.folder.clone(),
            false => self.folder.parent().map_or_else(PathBuf::new, Path::to_path_buf),
        };
        let year = TaxYear(self.year);
        let dated = match self.date(year) {
            Ok(dated) => dated,
            Err(end) => return end,
        };
        let out = self.out.clone().unwrap_or_else(|| PathBuf::from(format!("season-{year}")));
        if let Err(end) = self.may_stand_at(&out) {
            return end;
        }
        let mut texts = Sources::default();
        let kit = match kit::read(self.kit.as_deref(), &mut texts) {
            Ok(kit) => kit,
            Err(end) => return end,
        };
        let senders = Senders::new(self.firm.as_deref(), &[&folder], texts.clone());
        let firms = match sound(&senders, &files) {
            Ok(firms) => firms,
            Err(end) => return end,
        };
        let season = Season {
            year,
            dated,
            law: Law::built_in(),
            kit: &kit.letters,
            texts: &texts,
            senders: &senders,
            single: self.single,
        };
        let wanted = Wanted {
            folder: &folder,
            paper: Paper { lot: self.lot, both_sides: self.both_sides },
            with_amounts: self.with_amounts,
        };
        let (tally, worst) = match self.make(&files, &season, wanted, &out) {
            Ok(made) => made,
            Err(end) => return end,
        };
        print(&summary(&tally, year, &out));
        if firms == 0 && tally.mailed() + tally.portal > 0 {
            print("No firm file was found, so the head of the letters stays free for printed paper.\n");
        }
        if tally.mailed() > 0 {
            print("Delete the lots and every copy after mailing.\n");
        }
        let to_fix = tally.to_fix();
        if to_fix.is_empty() {
            return worst;
        }
        tell!("{}", told_to_fix(&to_fix, &folder, &out));
        worst.max(End::CaseErrors)
    }

    fn make(
        &self,
        files: &[PathBuf],
        season: &Season<'_>,
        wanted: Wanted<'_>,
        out: &Path,
    ) -> Result<(Tally, End), End> {
        let stop = progress::stoppable()?;
        let cores = || std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        let threads = self.threads.unwrap_or_else(cores);
        let work = Work { threads, stop };
        let mut worst = End::Done;

        let mut progress = Progress::start(files.len(), "cases read");
        let looked = remind::look_through(files, season, work, |event| {
            watch(event, &mut progress, &mut worst);
        });
        progress.end();
        let Some(looked) = looked else { return Err(stopped()) };

        let building = Building::start(out, self.access.readers()).map_err(|trouble| refused(&trouble))?;
        let mut progress = Progress::start(looked.candidates.len(), "cases computed");
        let written = remind::write(looked, season, wanted, work, &building, |event| {
            watch(event, &mut progress, &mut worst);
        });
        progress.end();
        let tally = written.map_err(|why| match why {
            NotWritten::Stopped => stopped(),
            NotWritten::Trouble(trouble) => refused(&trouble),
            NotWritten::Fault(faults) => our_fault(&format!("a count sheet cannot be drawn: {faults:?}")),
        })?;
        building.finish(self.replace).map_err(|trouble| refused(&trouble))?;
        Ok((tally, worst))
    }

    /// Returns the date of the letters, and says which it is where it is today's. One from long before the year can
    /// only be a slip.
    fn date(&self, year: TaxYear) -> Result<Date, End> {
        let dated = match self.dated {
            Some(day) => days::plausible("--dated", day)?,
            None => {
                let today = days::today();
                print(&format!("Dated {today}\n"));
                today
            }
        };
        if dated.year() < year.0 - 1 {
            tell!(
                "error: the date on the letters, {dated}, lies long before the tax year {year}\nhelp: correct --dated or --for"
            );
            return Err(End::Usage);
        }
        Ok(dated)
    }

    /// Refuses, before the long work, a place where something stands that may not be replaced.
    fn may_stand_at(&self, out: &Path) -> Result<(), End> {
        place::fit(out)?;
        // What it leads to would stay, with its letters.
        if self.replace && out.is_symlink() {
            tell!(
                "error: {} is a link, and a link is not replaced\nhelp: name the folder that it leads to",
                out.display()
            );
            return Err(End::Files);
        }
        if out.symlink_metadata().is_err() {
            return Ok(());
        }
        if !self.replace {
            tell!(
                "error: {} stands already\nhelp: look whether its letters were mailed; then write it anew with --replace, or name another folder with --out",
                out.display()
            );
            return Err(End::Files);
        }
        let entries = std::fs::read_dir(out).map_err(|error| {
            let help = "name a folder of letters, or another place with --out";
            tell!("error: {} cannot be replaced: {error}\nhelp: {help}", out.display());
            End::Files
        })?;
        let names = entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
        let strange: Vec<String> = names.filter(|name| !remind::is_of_a_season(name)).collect();
        match strange.first() {
            None => Ok(()),
            Some(name) => {
                tell!(
                    "error: {} holds `{name}`, which no season has, so it is not replaced\nhelp: move it elsewhere, or name another folder with --out",
                    out.display()
                );
                Err(End::Files)
            }
        }
    }
}

/// Reads the firm files before anything is written, and says which cannot be used; or returns how many there are.
fn sound(senders: &Senders, files: &[PathBuf]) -> Result<usize, End> {
    let all = senders.all(files);
    let mut worst = End::Done;
    for found in &all {
        complain(&found.findings, &found.sources);
        if let Some(broken) = &found.broken {
            tell!(
                "No letters: the firm file {} cannot be used; fix what is marked above.",
                broken.file.display()
            );
            worst = worst.max(End::of_firm(broken));
        }
    }
    if worst == End::Done { Ok(all.len()) } else { Err(worst) }
}

/// Moves the bar on, and shows the findings of a case that failed.
fn watch(event: Event<'_>, progress: &mut Progress, worst: &mut End) {
    let failed = match event {
        Event::Step => return progress.step(),
        Event::Failed(failed) => failed,
    };
    progress.aside(|| tell(failed));
    *worst = (*worst).max(match failed.why {
        Failure::Findings(..) | Failure::Changed => End::CaseErrors,
        Failure::Unreadable(_) => End::Files,
        Failure::Fault(_) => End::OurFault,
    });
}

fn tell(failed: &Failed) {
    match &failed.why {
        Failure::Findings(findings, sources) => {
            complain(findings, sources);
            tell!("No letter for {}: fix what is marked above.", shown(&failed.file));
        }
        Failure::Fault(what) => drop(our_fault(&format!("{}: {what}", shown(&failed.file)))),
        why => tell_in_line!("{}: {why}", shown(&failed.file)),
    }
}

fn stopped() -> End {
    tell!("Stopped. Nothing was written; the next run begins anew.");
    End::Interrupted
}

fn refused(trouble: &Trouble) -> End {
    tell!("error: {trouble}\nhelp: {}", trouble.help());
    End::Files
}

/// How many cases without a letter are named on the terminal; the report names all of them.
const NAMED: usize = 20;

/// Says which clients get no letter before somebody has acted, and why.
fn told_to_fix(cases: &[&LeftOut], folder: &Path, out: &Path) -> String {
    let mut text = match cases.len() {
        1 => "error: 1 client gets no letter before the case is fixed:".to_string(),
        n => format!("error: {} clients get no letter before their cases are fixed:", count(n)),
    };
    for one in cases.iter().take(NAMED) {
        text.push_str(&format!("\n  {}: {}", report::named(one, folder), report::told(one, folder)));
    }
    if cases.len() > NAMED {
        text.push_str(&format!("\n  and {} more", count(cases.len() - NAMED)));
    }
    text + &format!(
        "\nhelp: fix these and run the command again with --replace; {} lists every case without a letter",
        out.join("report.txt").display()
    )
}

/// What the terminal says of a finished season.
fn summary(tally: &Tally, year: TaxYear, out: &Path) -> String {
    let mut text = format!("Credit carried into tax year {year}\n{}", tally.counts());
    let mut file =
        |name: &str, what: &str| text.push_str(&format!("  {:<54} {what}\n", out.join(name).display()));
    for lot in &tally.lots {
        let (first, last) = (&lot.first_zip, &lot.last_zip);
        file(&lot.file, &format!("ZIP {first} to {last}"));
    }
    if tally.mailed() > 0 {
        file("mailing-list.csv", "whom the lots go to");
    }
    if tally.portal > 0 {
        file("portal", "letters for the portal");
    }
    file("report.txt", "every case without a letter, and why");
    text
}
