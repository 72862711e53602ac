//! The evidence files that a case names, read where they lie beside it or below.

use super::inside::{self, Refused};
use crate::case::Case;
use crate::finding::Finding;
use std::cell::Cell;
use std::path::{Path, PathBuf};

/// Evidence files: their path in the case, and their bytes.
pub type Papers = Vec<(String, Vec<u8>)>;

/// The most bytes of one evidence file: a long contract, scanned in color.
const MOST_PAPER: u64 = 50_000_000;
/// The most bytes of all evidence files of a case.
const MOST_PAPERS: u64 = 100_000_000;

/// Reads the evidence files of a case. A path may not leave the case's folder, nor follow a link out of it.
pub fn read(case_file: &Path, case: &Case) -> Result<Papers, Vec<Finding>> {
    each(case_file, case, |folder, named, most| {
        let bytes = inside::read(folder, named, most)?;
        let length = bytes.len() as u64;
        Ok((bytes, length))
    })
}

/// Looks whether the evidence files of a case can be read, and does not read them: they are empty here. Returns also how
/// many bytes they have.
pub fn look(case_file: &Path, case: &Case) -> Result<(Papers, u64), Vec<Finding>> {
    let bytes = Cell::new(0);
    let papers = each(case_file, case, |folder, named, most| {
        let (_, length) = inside::open_inside(folder, named, most)?;
        bytes.set(bytes.get() + length);
        Ok((Vec::new(), length))
    })?;
    Ok((papers, bytes.get()))
}

/// Takes each evidence file of a case, which gives its bytes and how many there are.
fn each(
    case_file: &Path,
    case: &Case,
    take: impl Fn(&Path, &str, u64) -> Result<(Vec<u8>, u64), Refused>,
) -> Result<Papers, Vec<Finding>> {
    let folder = case_file.parent().map_or_else(|| PathBuf::from("."), Path::to_path_buf);
    let mut found = Vec::new();
    let mut complaints = Vec::new();
    let mut room = MOST_PAPERS;
    for paper in &case.evidence {
        let Some(file) = &paper.file else { continue };
        let complaint = |code, message: String, help: &str| {
            Finding::error(code, message).at(file.span).help(help.to_string())
        };
        let correct = "correct the path, or leave `file:` out if the paper is kept elsewhere";
        let unreadable = |why: String| {
            complaint("paper-unreadable", format!("cannot read the paper `{}`: {why}", file.value), correct)
        };
        match take(&folder, &file.value, MOST_PAPER.min(room)) {
            Ok((bytes, length)) => {
                room -= length;
                found.push((file.value.replace('\\', "/"), bytes));
            }
            Err(Refused::Outside) => complaints.push(complaint(
                "paper-outside",
                format!("`{}` leads out of the case's folder", file.value),
                "keep evidence files in the case's folder or below it, and name them from there",
            )),
            Err(Refused::NoFile) => complaints.push(unreadable("it is no file".to_string())),
            Err(Refused::TooLarge) => complaints.push(complaint(
                "paper-too-large",
                format!(
                    "with the paper `{}` a packet would grow too large: a paper may have {} megabytes, and all papers of a case together {}",
                    file.value,
                    MOST_PAPER / 1_000_000,
                    MOST_PAPERS / 1_000_000
                ),
                "scan it with fewer points, or leave `file:` out and say under `where:` where it is kept",
            )),
            Err(Refused::Unreadable(error)) => complaints.push(unreadable(error.to_string())),
        }
    }
    if complaints.is_empty() { Ok(found) } else { Err(complaints) }
}
