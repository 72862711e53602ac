//! What became of every case of a season, counted, and what was left out and why.
//!
//! Comes in: what the run has noted. Goes out: a report to read, the same as rows, and the count for the terminal.
//! Files and references stand in it, no name of a client's and no amount.

use super::Season;
use super::left_out::{LeftOut, Reason};
use super::lots::Lot;
use crate::case::shown;
use crate::csv;
use crate::wording::counted;
use std::fmt::Write;
use std::path::Path;

/// What a season came to.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// How many case files there are.
    pub cases: usize,
    /// The lots.
    pub lots: Vec<Lot>,
    /// How many letters go through the portal.
    pub portal: usize,
    /// The cases without a letter, those that failed among them.
    pub left_out: Vec<LeftOut>,
    /// Letters that were written, and that the office should look at: reference and what to look at.
    pub remarks: Vec<(String, String)>,
    /// Some letter has no sender, because there is no firm file.
    pub without_sender: bool,
}

impl Tally {
    /// How many letters are to be mailed.
    pub fn mailed(&self) -> usize {
        self.lots.iter().map(|lot| lot.letters).sum()
    }

    /// Returns the cases without a letter by their gravest reason: its word, what it counts, the cases.
    pub fn by_reason(&self) -> Vec<(&'static str, &'static str, Vec<&LeftOut>)> {
        let of = |rank: usize| -> Vec<&LeftOut> {
            self.left_out.iter().filter(|one| one.reasons.first().map(Reason::rank) == Some(rank)).collect()
        };
        let words = Reason::WORDS.iter().enumerate();
        words
            .map(|(rank, (word, label))| (*word, *label, of(rank)))
            .filter(|(_, _, cases)| !cases.is_empty())
            .collect()
    }

    /// Returns the cases that have errors, wait for an answer or share their reference, so that somebody must act.
    pub fn to_fix(&self) -> Vec<&LeftOut> {
        let fix = |reason: &Reason| {
            matches!(reason, Reason::Failed | Reason::SameReference(_) | Reason::Questions(_))
        };
        self.left_out.iter().filter(|one| one.reasons.iter().any(fix)).collect()
    }

    /// Writes the count, line by line, for the terminal and the head of the report.
    pub fn counts(&self) -> String {
        let mut out = String::new();
        let mut line = |label: &str, n: usize| {
            let _ = writeln!(out, "  {label:<54} {n:>6}");
        };
        line("cases", self.cases);
        line("letters to mail", self.mailed());
        line("letters for the portal", self.portal);
        line("without a letter", self.left_out.len());
        for (_, label, cases) in self.by_reason() {
            line(&format!("  {label}"), cases.len());
        }
        out
    }
}

/// Names a case without a letter: its reference where it has one, and its file below the folder of the cases.
pub fn named(one: &LeftOut, folder: &Path) -> String {
    let reference = if one.reference.is_empty() { "" } else { &format!("{}, ", one.reference) };
    format!("{reference}{}", below(&one.file, folder))
}

/// Shows a file as it lies below the folder of the cases.
fn below(file: &Path, folder: &Path) -> String {
    shown(file.strip_prefix(folder).unwrap_or(file)).replace('\\', "/")
}

/// Writes the cases without a letter as rows.
pub fn left_out_csv(tally: &Tally, folder: &Path) -> String {
    let mut out = csv::row(["file", "client_ref", "reason", "explanation"]);
    for (word, _, cases) in tally.by_reason() {
        for one in cases {
            out.push_str(&csv::row([&below(&one.file, folder), &one.reference, word, &told(one, folder)]));
        }
    }
    out
}

/// Says every reason of a case.
pub fn told(one: &LeftOut, folder: &Path) -> String {
    let told = |reason: &Reason| match reason {
        Reason::SameReference(others) => {
            let below = |other: &std::path::PathBuf| below(other, folder).into();
            Reason::SameReference(others.iter().map(below).collect()).to_string()
        }
        reason => reason.to_string(),
    };
    one.reasons.iter().map(told).collect::<Vec<_>>().join("; ")
}

/// Writes the report.
pub fn report(tally: &Tally, season: &Season<'_>, folder: &Path) -> String {
    let mut out = format!(
        "Reminders of credit carried into tax year {}\nLetters dated {}\n\n{}",
        season.year,
        season.dated,
        tally.counts()
    );
    if !tally.lots.is_empty() {
        out.push_str("\nLots, in the order of ZIP\n");
    }
    for lot in &tally.lots {
        let _ = writeln!(
            out,
            "  {}  {}, {}, ZIP {} to {}",
            lot.file,
            counted(lot.letters, "letter", "letters"),
            counted(lot.pages, "page", "pages"),
            lot.first_zip,
            lot.last_zip
        );
    }
    if !tally.remarks.is_empty() {
        out.push_str("\nWritten, and worth a look\n");
    }
    for (reference, remark) in &tally.remarks {
        let _ = writeln!(out, "  {reference}: {remark}");
    }
    for (_, label, cases) in tally.by_reason() {
        let _ = writeln!(out, "\nWithout a letter: {label}");
        for one in cases {
            let _ = writeln!(out, "  {}", named(one, folder));
            let told = told(one, folder);
            if told != label {
                let _ = writeln!(out, "      {told}");
            }
        }
    }
    out.push_str(
        "\nDelete the lots and every copy after mailing. They hold what clients told the firm for their returns.\n",
    );
    out
}
