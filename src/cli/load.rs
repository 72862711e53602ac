//! Reads case files and computes them for the commands.

use super::{End, our_fault};
use crate::assemble::{self, Computed};
use crate::case::{TaxYear, shown};
use crate::characters::harmless_line;
use crate::finding::Sources;
use crate::folder::{self, cases};
use crate::law::Law;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// A case file, read and computed.
pub(super) struct Loaded {
    /// What came of it.
    pub computed: Computed,
    /// The file as read.
    pub bytes: Vec<u8>,
}

/// Reads and computes a case file; says on the terminal why it could not be read.
pub(super) fn load(path: &Path) -> Result<Loaded, End> {
    let bytes = read(path)?;
    let name = path.display().to_string();
    match assemble::compute(&name, &bytes, Law::built_in(), Sources::default()) {
        Ok(computed) => Ok(Loaded { computed, bytes }),
        Err(fault) => Err(our_fault(&format!("{name}: {fault}"))),
    }
}

/// Says that a case has no figures, and why not where no error was told before.
pub(super) fn no_figures(path: &Path, computed: &Computed) -> End {
    if let Some(finding) = assemble::no_year(computed) {
        super::complain(&[finding], &computed.sources);
    }
    tell!("No figures of {}: fix what is marked above.", shown(path));
    End::CaseErrors
}

/// Returns what is said of a case that has figures, and none for the year asked for.
pub(super) fn no_figures_for(case: &str, year: TaxYear, years: &[TaxYear]) -> String {
    let years: Vec<String> = years.iter().map(ToString::to_string).collect();
    format!(
        "error: {case} has no figures for {year}\nhelp: it has {}; name one of these with --year, or none for the latest",
        years.join(", ")
    )
}

/// Reads a file, or says why not. A file past the limit is read only so far; the reader of cases then refuses it.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, End> {
    folder::read(path).map_err(|error| {
        tell!("{}", unreadable(path, &error));
        End::Files
    })
}

/// Says why a file could not be read, and what to do.
pub(super) fn unreadable(path: &Path, error: &std::io::Error) -> String {
    let help = match error.kind() {
        ErrorKind::NotFound if path.is_symlink() => "\nhelp: the link leads to nothing; name the file itself",
        ErrorKind::NotFound => "\nhelp: check the name; a case file is called NAME.case.yaml",
        ErrorKind::PermissionDenied => "\nhelp: ask whoever owns the file, or copy it to a folder of yours",
        ErrorKind::InvalidInput | ErrorKind::IsADirectory => "\nhelp: name a file",
        _ => "",
    };
    format!("error: cannot read {}: {error}{help}", shown(path))
}

/// Returns the case files a path means: itself, or all `*.case.yaml` below a folder. Sealed packets are not
/// entered, and links to folders are not followed.
pub(super) fn case_files(path: &Path) -> Result<Vec<PathBuf>, End> {
    if !path.is_dir() {
        return Ok(vec![path.to_path_buf()]);
    }
    let found = case_files_below(path)?;
    if found.is_empty() {
        tell!("error: no file named *.case.yaml lies under {}", path.display());
        return Err(End::Files);
    }
    Ok(found)
}

/// Returns the reference of a case, also of one with errors: it is enough to know that its client has a case.
pub(super) fn reference_of(bytes: &[u8]) -> Option<String> {
    let case: serde_yaml::Value = serde_yaml::from_slice(bytes).ok()?;
    match case.get("client")?.get("reference")? {
        serde_yaml::Value::String(text) => Some(text.clone()),
        serde_yaml::Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

/// Returns the case files below a folder, of which there may be none.
pub(super) fn case_files_below(folder: &Path) -> Result<Vec<PathBuf>, End> {
    let found = cases::case_files(folder).map_err(|unreadable| {
        tell!("error: {unreadable}");
        End::Files
    })?;
    for (path, meant) in found.nearly {
        tell!("warning: {} is passed over: it has nearly the name of a case", shown(&path));
        tell!("help: rename it to {} if it is one", harmless_line(&meant));
    }
    Ok(found.cases)
}
