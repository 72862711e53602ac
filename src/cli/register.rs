//! `register`: balances, papers, questions and years that can still be amended, of every case in a folder.

use super::access::Access;
use super::progress::{self, Progress};
use super::said::Said;
use super::{End, days, load, our_fault, place, streams, usage};
use crate::assemble;
use crate::case::shown;
use crate::finding::{Severity, Sources};
use crate::folder;
use crate::law::Law;
use crate::many;
use crate::packet;
use crate::packet::write::{self, Growing, Readers, Trouble};
use crate::page::{self, PageFault};
use crate::register::desk::Paper;
use crate::register::row::{Found, Row};
use crate::register::rows::{Order, Register};
use crate::register::{data, packets, spreadsheet, table};
use crate::wording::counted;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// Show what every client has left, lacks, and can still claim.
#[derive(clap::Args)]
pub(super) struct RegisterOf {
    /// The folder of case files, or one file
    folder: PathBuf,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "table")]
    form: Form,
    /// The file to write; without it the terminal
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The day it is for, which decides what is still open; without it today
    #[arg(long, value_name = "DATE", value_parser = usage::date)]
    on: Option<Date>,
    /// The folder of packets: the latest of each case, whether the case has changed since, and its seal
    #[arg(long, value_name = "DIR")]
    packets: Option<PathBuf>,
    /// In which order
    #[arg(long, value_enum, default_value = "reference")]
    sort: Sort,
    /// Name the clients; without it references alone
    #[arg(long)]
    with_names: bool,
    #[command(flatten)]
    access: Access,
}

/// In which form a register is written.
#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Form {
    /// A table for reading.
    Table,
    /// JSON for other programs.
    Json,
    /// Comma-separated values for a spreadsheet.
    Csv,
    /// A paper for the desk, with totals and a drawing; needs --out.
    Pdf,
}

/// In which order rows stand.
#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Sort {
    /// By reference
    Reference,
    /// The year that closes first at the head: who is to be called first
    Closing,
    /// The largest balance left at the head
    Balance,
}

/// One case, with what is said of it on the terminal.
struct One {
    row: Row,
    said: Said,
    end: End,
}

impl RegisterOf {
    pub(super) fn run(self) -> End {
        if self.form == Form::Pdf && self.out.is_none() {
            tell!(
                "error: a PDF needs a file to be written to\nhelp: add --out FILE, such as --out register.pdf"
            );
            return End::Usage;
        }
        let files = match load::case_files(&self.folder) {
            Ok(files) => files,
            Err(end) => return end,
        };
        if let Some(Err(end)) = self.out.as_deref().map(place::fit) {
            return end;
        }
        if let Some(out) = self.out.as_ref().filter(|out| out.symlink_metadata().is_ok()) {
            return place::standing(out);
        }
        let on = match self.on.map(|day| days::plausible("--on", day)) {
            Some(Ok(day)) => day,
            Some(Err(end)) => return end,
            None => {
                let today = days::today();
                tell!("On {today}");
                today
            }
        };
        let packets = match self.packets.as_deref().map(packets::below).transpose() {
            Ok(packets) => packets,
            Err(unreadable) => {
                tell!("error: {unreadable}");
                return End::Files;
            }
        };
        let stop = match progress::stoppable() {
            Ok(stop) => stop,
            Err(end) => return end,
        };
        let threads = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        let mut progress = Progress::start(files.len(), "cases");
        let (mut rows, mut worst) = (Vec::with_capacity(files.len()), End::Done);
        let work = |_: usize, file: &PathBuf| self.one(file, on);
        let done = many::in_order(&files, threads, stop, work, |_, one| {
            if !one.said.is_empty() {
                progress.aside(|| one.said.print());
            }
            worst = worst.max(one.end);
            rows.push(one.row);
            progress.step();
        });
        progress.end();
        if done < files.len() {
            tell!("Stopped after {done} of {}; nothing was written.", counted(files.len(), "case", "cases"));
            return End::Interrupted;
        }
        if let Some(packets) = &packets {
            rows.iter_mut().for_each(|row| packets.beside(row));
            for packet in &packets.unreadable {
                tell!("warning: {} cannot be read as a packet", packet.display());
            }
        }
        let order = match self.sort {
            Sort::Reference => Order::Reference,
            Sort::Closing => Order::Closing,
            Sort::Balance => Order::Balance,
        };
        let law = Law::built_in().all().map(|law| law.edition.clone()).max().unwrap_or_default();
        let register = Register::of(rows, on, law, self.with_names, order);
        for (first, reference, others) in register.same_references() {
            tell!(
                "error: {first} has the same client reference {reference} as {}\nhelp: give each client a reference of its own, or take the copy out of the folder",
                others.join(", ")
            );
            worst = worst.max(End::CaseErrors);
        }
        worst.max(self.write(&register, stop))
    }

    /// Reads and computes one case.
    fn one(&self, path: &Path, on: Date) -> One {
        let (name, file) = (path.display().to_string(), shown(path));
        let mut said = Said::default();
        let failed = |found: Found, said: Said, end: End| {
            let row = Row {
                file: file.clone(),
                reference: None,
                names: Vec::new(),
                fingerprint: String::new(),
                found,
                packets: Vec::new(),
            };
            One { row, said, end }
        };
        let bytes = match folder::read(path) {
            Ok(bytes) => bytes,
            Err(error) => {
                said.tell(&load::unreadable(path, &error));
                return failed(Found::Unreadable(error.to_string()), said, End::Files);
            }
        };
        let law = Law::built_in();
        let computed = match assemble::compute(&name, &bytes, law, Sources::default()) {
            Ok(computed) => computed,
            Err(fault) => {
                let end = said.our_fault(&format!("{file}: {fault}"));
                return failed(Found::Fault(fault.to_string()), said, end);
            }
        };
        for error in computed.outcome.findings.iter().filter(|finding| finding.severity == Severity::Error) {
            said.complain(std::slice::from_ref(error), &computed.sources);
        }
        let end = if computed.has_errors() { End::CaseErrors } else { End::Done };
        let mut row = Row::of(file, packet::fingerprint(&bytes), &computed, law, on);
        if !self.with_names {
            row.names.clear();
        }
        One { row, said, end }
    }

    /// Writes the register where it is wanted.
    fn write(&self, register: &Register, stop: &AtomicBool) -> End {
        let written = |out: &mut dyn Write| match self.form {
            Form::Table => table::write(register, out),
            Form::Json => data::write(register, out),
            Form::Csv => spreadsheet::write(register, out),
            Form::Pdf => Ok(()),
        };
        match &self.out {
            None => {
                let mut out = io::BufWriter::new(io::stdout().lock());
                streams::note(written(&mut out).and_then(|()| out.flush()));
                End::Done
            }
            Some(path) if self.form == Form::Pdf => put_paper(register, path, self.access.readers(), stop),
            Some(path) => match Growing::begin(path, false, self.access.readers()) {
                Ok(growing) => {
                    let mut out = io::BufWriter::with_capacity(1 << 16, Streamed { growing, trouble: None });
                    let all = written(&mut out).and_then(|()| out.flush());
                    let (Streamed { growing, trouble }, _) = out.into_parts();
                    place::put(
                        path,
                        match (trouble, all) {
                            (Some(trouble), _) => Err(trouble),
                            (None, Err(error)) => return our_fault(&error),
                            (None, Ok(())) => growing.finish(),
                        },
                    )
                }
                Err(trouble) => place::put(path, Err(trouble)),
            },
        }
    }
}

/// A file that is written as it goes, for those who write to streams.
struct Streamed {
    growing: Growing<'static>,
    /// Why no more could be written.
    trouble: Option<Trouble>,
}

impl Write for Streamed {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.growing.add(bytes).map_err(|trouble| {
            let error = io::Error::other(trouble.to_string());
            self.trouble = Some(trouble);
            error
        })?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Writes the paper: one file, or volumes whose names count on, `register-1-of-3.pdf`.
fn put_paper(register: &Register, path: &Path, readers: Readers, stop: &AtomicBool) -> End {
    let mut data = Vec::new();
    if let Err(error) = spreadsheet::write(register, &mut data) {
        return our_fault(&error);
    }
    let fingerprint = packet::fingerprint(&data);
    drop(data);
    let mut paper = Paper::of(register, fingerprint.clone());
    let of = paper.volumes();
    let name = |volume: usize| match of {
        1 => path.to_path_buf(),
        _ => {
            let stem = path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
            path.with_file_name(format!("{stem}-{volume}-of-{of}.pdf"))
        }
    };
    if let Some(standing) = (1..=of).map(name).find(|path| path.symlink_metadata().is_ok()) {
        return place::standing(&standing);
    }
    for volume in 1..=of {
        if stop.load(Ordering::Relaxed) {
            tell!("Stopped after {} of {}.", volume - 1, counted(of, "volume", "volumes"));
            return End::Interrupted;
        }
        let pages = loop {
            let document = paper.write(volume);
            let faults = match page::lay_out(&document) {
                Ok(pages) => break pages,
                Err(faults) => faults,
            };
            let missing: BTreeSet<char> = faults.iter().filter_map(missing_character).collect();
            if missing.is_subset(&paper.lacking) {
                for fault in faults {
                    tell!("error: {}: {fault}\nhelp: {}", document.title, fault.help());
                }
                return End::CaseErrors;
            }
            let shown: String = missing.difference(&paper.lacking).flat_map(|c| c.escape_debug()).collect();
            tell!("note: the typeface lacks {shown}; a question mark stands in its place");
            paper.lacking.extend(missing);
        };
        let id = packet::short_fingerprint(format!("{fingerprint} {volume}").as_bytes());
        let bytes = page::to_pdf(&pages, &page::Stamp { id, date: register.on });
        drop(pages);
        let end = place::put(&name(volume), write::put_file(&name(volume), &bytes, false, readers));
        if end != End::Done {
            return end;
        }
    }
    End::Done
}

/// Returns the character that the typeface lacks.
fn missing_character(fault: &PageFault) -> Option<char> {
    match fault {
        PageFault::MissingCharacter { character, .. } => Some(*character),
        _ => None,
    }
}
