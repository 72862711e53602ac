//! `packet`: the main job, for one case or for a whole folder.

mod one;

use super::access::Access;
use super::progress::{self, Progress};
use super::said::Said;
use super::{End, days, kit, load, place, print, usage};
use crate::assemble::Also;
use crate::finding::Sources;
use crate::folder::senders::Senders;
use crate::folder::twins::Twins;
use crate::many;
use crate::packet::write;
use crate::shelf::Shelf;
use crate::wording::{count, counted};
use jiff::civil::Date;
use one::{Came, Desk, Done};
use std::collections::HashSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// Make the packet of a case, or of every case in a folder. What stands and is up to date is left alone, so the same
/// command goes on where an interrupted run stopped.
#[derive(clap::Args)]
pub(super) struct Packet {
    /// The case file, or a folder of them; several may be named
    #[arg(required = true, value_name = "CASE")]
    cases: Vec<PathBuf>,
    /// The tax year; without it the latest with a return
    #[arg(long, value_parser = usage::year, allow_negative_numbers = true)]
    year: Option<i16>,
    /// The folder the packet is put into
    #[arg(long, default_value = OUT)]
    out: PathBuf,
    /// Make a draft: replaceable, with the word on every page; also while errors or questions stand open
    #[arg(long)]
    draft: bool,
    /// Make drafts anew even where they are up to date; what is sealed is never made again
    #[arg(long, requires = "draft")]
    again: bool,
    /// The packet this one replaces
    #[arg(long, value_name = "OLD", requires = "because", value_parser = usage::words)]
    replaces: Option<String>,
    /// Why it is replaced
    #[arg(long, value_name = "TEXT", requires = "replaces", value_parser = usage::words)]
    because: Option<String>,
    /// The date on the papers; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    dated: Option<Date>,
    /// The firm's file; without it firm.yaml beside the case, or above it up to the folder that was named
    #[arg(long, value_name = "FILE")]
    firm: Option<PathBuf>,
    /// Letters also as HTML for e-mail or for word processors; the worksheet also as a spreadsheet
    #[arg(long, value_name = "FORM", value_enum, value_delimiter = ',')]
    also: Vec<Form>,
    /// The firm's own letters and layout: a folder that `kit` made
    #[arg(long, value_name = "DIR")]
    kit: Option<PathBuf>,
    /// Warnings and questions count as errors
    #[arg(long)]
    strict: bool,
    /// How many cases are worked on at once; without it four for each core, because some wait for the disk
    #[arg(long, value_name = "N", value_parser = usage::threads, allow_negative_numbers = true)]
    threads: Option<NonZeroUsize>,
    #[command(flatten)]
    access: Access,
}

/// The folder packets are put into when none is named.
const OUT: &str = "packets";

/// A form of letters, or of the worksheet, besides PDF.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, clap::ValueEnum)]
enum Form {
    /// One file of HTML
    Html,
    /// A file for word processors
    Docx,
    /// The worksheet as a spreadsheet
    Xlsx,
}

impl Packet {
    pub(super) fn run(self) -> End {
        let begun = Instant::now();
        if let Err(end) = place::fit(&self.out) {
            return end;
        }
        let files = match self.files() {
            Ok(files) => files,
            Err(end) => return end,
        };
        if self.replaces.is_some() && files.len() > 1 {
            tell!(
                "error: --replaces names one packet, and {} cases are meant\nhelp: name the one case whose packet is to be corrected",
                count(files.len())
            );
            return End::Usage;
        }
        let dated = match self.dated.map(|day| days::plausible("--dated", day)) {
            Some(Ok(day)) => day,
            Some(Err(end)) => return end,
            None => {
                let today = days::today();
                print(&format!("Dated {today}\n"));
                today
            }
        };
        let mut texts = Sources::default();
        let kit = match kit::read(self.kit.as_deref(), &mut texts) {
            Ok(kit) => kit,
            Err(end) => return end,
        };
        let stop = match progress::stoppable() {
            Ok(stop) => stop,
            Err(end) => return end,
        };
        if let Err(trouble) = write::tidy(&self.out) {
            tell!("warning: {trouble}");
        }
        let tops: Vec<&Path> = self.cases.iter().map(PathBuf::as_path).filter(|path| path.is_dir()).collect();
        let senders = Senders::new(self.firm.as_deref(), &tops, texts);
        let twins = Twins::among(&files, self.threads(), stop);
        let desk = Desk {
            asked: &self,
            dated,
            kit,
            first_there: first_there(&files, &senders),
            senders,
            twins,
            shelf: Shelf::at(&self.out),
            also: self.also(),
            many: files.len() > 1,
        };
        let mut tally = Tally::default();
        let mut progress = Progress::start(files.len(), "cases");
        let work = |n: usize, _: &PathBuf| desk.work(&files, n);
        many::in_order(&files, self.threads(), stop, work, |_, done: Done| {
            if !done.said.is_empty() {
                progress.aside(|| done.said.print());
            }
            tally.count(&done);
            if done.hopeless {
                stop.store(true, Ordering::Relaxed);
            }
            progress.step();
        });
        progress.end();
        self.close(&files, &tally, begun.elapsed())
    }

    /// Returns the case files that were named, each once, in the order of their paths.
    fn files(&self) -> Result<Vec<PathBuf>, End> {
        let mut files = Vec::new();
        for path in &self.cases {
            files.extend(load::case_files(path)?);
        }
        files.sort();
        files.dedup();
        Ok(files)
    }

    fn threads(&self) -> NonZeroUsize {
        let cores = || std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        self.threads
            .unwrap_or_else(|| cores().saturating_mul(NonZeroUsize::new(4).unwrap_or(NonZeroUsize::MIN)))
    }

    /// Says how a run over many cases ended, and returns how it did.
    fn close(&self, files: &[PathBuf], tally: &Tally, took: Duration) -> End {
        let mut said = Said::default();
        let end = self.ended(files, tally, took, &mut said);
        said.print();
        end
    }

    fn ended(&self, files: &[PathBuf], tally: &Tally, took: Duration, said: &mut Said) -> End {
        let done = tally.all();
        if files.len() > 1 {
            said.tell(&tally.told(files.len(), took));
            if tally.without_firm > 0 {
                said.tell(
                    "Where no firm file was found, the head of the letters stays free for printed paper; --firm names one.",
                );
            }
        }
        if done < files.len() {
            said.tell(&format!(
                "Stopped before {}. Nothing stands half-written; the same command goes on from here.",
                counted(files.len() - done, "other", "others")
            ));
            // A stop that nobody wished for has its own reason.
            return if tally.hopeless { tally.worst } else { End::Interrupted };
        }
        if let (Some(year), true) = (self.year, tally.left_out == files.len()) {
            said.tell(&format!("error: no case has figures for {year}\nhelp: correct --year, or leave it out for the latest year with a return"));
            return End::Usage;
        }
        tally.worst
    }

    /// Returns the forms besides PDF, each once.
    fn also(&self) -> Vec<Also> {
        let mut forms = self.also.clone();
        forms.sort();
        forms.dedup();
        let of = |form| match form {
            Form::Html => Also::Html,
            Form::Docx => Also::Docx,
            Form::Xlsx => Also::Xlsx,
        };
        forms.into_iter().map(of).collect()
    }
}

/// What came of the cases of a run.
#[derive(Default)]
struct Tally {
    made: usize,
    up_to_date: usize,
    left_out: usize,
    refused: usize,
    failed: usize,
    without_firm: usize,
    hopeless: bool,
    worst: End,
}

impl Tally {
    fn count(&mut self, done: &Done) {
        let of = match done.came {
            Came::Made => &mut self.made,
            Came::UpToDate => &mut self.up_to_date,
            Came::LeftOut => &mut self.left_out,
            Came::Refused => &mut self.refused,
            Came::Failed => &mut self.failed,
        };
        *of += 1;
        self.without_firm += usize::from(done.without_firm);
        self.hopeless |= done.hopeless;
        self.worst = self.worst.max(done.end);
    }

    fn all(&self) -> usize {
        self.made + self.up_to_date + self.left_out + self.refused + self.failed
    }

    fn told(&self, of: usize, took: Duration) -> String {
        let counts = [
            (self.made, "made"),
            (self.up_to_date, "already up to date"),
            (self.left_out, "left out"),
            (self.refused, "refused"),
            (self.failed, "failed"),
        ];
        let parts: Vec<String> =
            counts.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{} {what}", count(*n))).collect();
        let parts = if parts.is_empty() { "none begun".to_string() } else { parts.join(", ") };
        let seconds = took.as_secs();
        let took = match seconds {
            0..=59 => format!("{}.{} s", seconds, took.subsec_millis() / 100),
            _ => format!("{} min {} s", seconds / 60, seconds % 60),
        };
        format!("{}: {parts}; {took}", counted(of, "case", "cases"))
    }
}

/// Says of each case whether it is the first that uses its firm file: that one tells what is wrong with the file.
fn first_there(files: &[PathBuf], senders: &Senders) -> Vec<bool> {
    let mut seen = HashSet::new();
    files.iter().map(|path| seen.insert(senders.folder_of(path))).collect()
}
