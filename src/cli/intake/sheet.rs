//! `intake --sheet`: the list that a firm fills in for a season.

use super::super::{End, load, our_fault, place, print, progress::Progress};
use crate::assemble;
use crate::case::{TaxYear, shown};
use crate::finding::Sources;
use crate::folder;
use crate::intake::season::{self, LeftOut, Line};
use crate::intake::workbook;
use crate::law::Law;
use crate::many;
use crate::packet::write::{self, Readers};
use crate::wording::count;
use crate::xlsx;
use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// Writes the list of a year for the cases of a folder.
pub(super) fn write(
    folder: &Path,
    year: TaxYear,
    out: &Path,
    threads: NonZeroUsize,
    stop: &AtomicBool,
) -> Result<End, End> {
    let law = Law::built_in();
    if law.year(year).is_none() {
        let last = law.known().next_back().unwrap_or(year);
        tell!(
            "error: this version knows no return of {year}\nhelp: name a year up to {last}, or use a newer version"
        );
        return Err(End::Usage);
    }
    if out.extension().is_none_or(|ending| !ending.eq_ignore_ascii_case("xlsx")) {
        tell!(
            "error: {} is a workbook and its name ends in .xlsx\nhelp: name it like season-{year}.xlsx",
            shown(out)
        );
        return Err(End::Usage);
    }
    place::fit(out)?;
    if out.symlink_metadata().is_ok() {
        tell!(
            "error: {} stands already, and nothing is overwritten\nhelp: name another file with --out, or move that one away",
            shown(out)
        );
        return Err(End::Files);
    }
    let files = load::case_files(folder)?;
    let mut lines = Vec::new();
    let mut left_out: BTreeMap<LeftOut, usize> = BTreeMap::new();
    let mut failed: Vec<String> = Vec::new();
    let mut clients = 0;
    let mut progress = Progress::start(files.len(), "cases");
    let work = |_: usize, path: &PathBuf| one(path, year, law);
    let done = many::in_order(&files, threads, stop, work, |n, made| {
        match made {
            Ok(Ok(made)) => {
                clients += 1;
                lines.extend(made);
            }
            Ok(Err(why)) => {
                *left_out.entry(why).or_default() += 1;
                if why == LeftOut::Errors {
                    failed.push(format!(
                        "error: {} has errors, so it is not in the list\nhelp: `gablework check` shows them",
                        shown(&files[n])
                    ));
                }
            }
            Err(words) => failed.push(words),
        }
        progress.step();
    });
    progress.end();
    for words in &failed {
        tell!("{words}");
    }
    if done < files.len() || stop.load(Ordering::Relaxed) {
        tell!("Stopped. Nothing was written.");
        return Err(End::Interrupted);
    }
    print(&words(&lines, clients, &left_out, year));
    if lines.is_empty() {
        tell!("Nothing was written: no case needs anything of {year}.");
        return Ok(if failed.is_empty() { End::Done } else { End::CaseErrors });
    }
    let (columns, lines) = season::in_use(&season::columns(year, law), lines);
    let book = workbook::book(year, &columns, &lines);
    let bytes = xlsx::write(&book).map_err(|error| our_fault(&error))?;
    write::put_file(out, &bytes, false, Readers::Owner).map_err(|trouble| {
        tell!("error: {trouble}\nhelp: {}", trouble.help());
        End::Files
    })?;
    print(&format!("Written: {}\nIt holds what clients told the firm: keep it in the office.\n", shown(out)));
    Ok(if failed.is_empty() { End::Done } else { End::CaseErrors })
}

/// Reads a case and makes its lines; or says why it cannot be read.
fn one(path: &Path, year: TaxYear, law: &Law) -> Result<Result<Vec<Line>, LeftOut>, String> {
    let bytes = folder::read(path).map_err(|error| load::unreadable(path, &error))?;
    match assemble::compute(&path.display().to_string(), &bytes, law, Sources::default()) {
        Ok(computed) => Ok(season::lines(&computed, year, law)),
        Err(fault) => Err(format!("fault: {}: {fault}", shown(path))),
    }
}

/// Counts in words.
fn words(lines: &[Line], clients: usize, left_out: &BTreeMap<LeftOut, usize>, year: TaxYear) -> String {
    let mut text = format!("What the cases need for {year}\n");
    let mut line = |words: &str, n: usize| {
        if n > 0 {
            text.push_str(&format!("  {words:<44} {:>7}\n", count(n)));
        }
    };
    line("clients in the list", clients);
    line("rows", lines.len());
    for (why, n) in left_out {
        line(
            match why {
                LeftOut::NoCredit => "without credit to carry, left out",
                LeftOut::Complete => "with all that is asked, left out",
                LeftOut::Errors => "with errors, left out",
            },
            *n,
        );
    }
    text
}
