//! `kit`: the firm's own letters and layout. Copies the built-in ones out for editing, and reads edited ones.

use super::{End, complain, print};
use crate::assemble::{self, OwnKit};
use crate::finding::{Severity, Sources};
use crate::letter;
use crate::sheet::{self, Layout};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Copy letters and layout out, for a firm to edit.
#[derive(clap::Args)]
pub(super) struct Kit {
    /// The folder for them; made where it does not exist
    folder: PathBuf,
}

/// The most a file of a kit may hold; far above any letter.
const MOST_BYTES: u64 = 1_000_000;

/// Letters and layout, as built in or as the firm has them.
pub(super) struct Used {
    /// The letters.
    pub letters: letter::Kit,
    /// The worksheet's layout, where the firm has its own.
    pub layout: Option<Layout>,
    /// The firm's files, by their path in the kit; empty for what is built in.
    pub files: Vec<(String, Vec<u8>)>,
}

/// Every file of a kit: its path there, and its text.
fn built_in() -> impl Iterator<Item = (&'static str, &'static str)> {
    std::iter::once(sheet::LAYOUT).chain(letter::BUILT_IN.iter().copied())
}

impl Kit {
    pub(super) fn run(self) -> End {
        let standing: Vec<PathBuf> = built_in()
            .map(|(path, _)| self.folder.join(path))
            .filter(|path| path.symlink_metadata().is_ok())
            .collect();
        if let Some(first) = standing.first() {
            tell!(
                "error: {} stands already, and nothing is overwritten\nhelp: name a new folder, and carry your changes over",
                first.display()
            );
            return End::Files;
        }
        for (path, text) in built_in() {
            if let Err(error) = copy(&self.folder.join(path), text) {
                tell!("error: cannot write {}: {error}", self.folder.join(path).display());
                return End::Files;
            }
        }
        print(&format!(
            "{} files copied to {}\nEdit what you like, delete nothing that a letter uses, then: gablework packet CASE --kit {}\n",
            built_in().count(),
            self.folder.display(),
            self.folder.display()
        ));
        End::Done
    }
}

/// Writes a file that does not stand yet.
fn copy(path: &Path, text: &str) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut file = fs::OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// Reads a kit: the firm's folder, or what is built in. Findings about the firm's files point into them; what is
/// absent there is taken as built in, the letters of a language all together or not at all.
pub(super) fn read(folder: Option<&Path>, sources: &mut Sources) -> Result<Used, End> {
    let Some(folder) = folder else {
        return Ok(Used { letters: letter::Kit::built_in(sources), layout: None, files: Vec::new() });
    };
    if !folder.is_dir() {
        tell!(
            "error: {} is no folder\nhelp: `gablework kit {}` makes one",
            folder.display(),
            folder.display()
        );
        return Err(End::Files);
    }
    let mut files = Vec::new();
    let (layout_path, _) = sheet::LAYOUT;
    if let Some(text) = text_of(folder, layout_path)? {
        files.push((layout_path.to_string(), text));
    }
    for language in languages(folder) {
        files.extend(letters_of(folder, &language)?);
    }
    let shown = |path: &str| folder.join(path).display().to_string();
    let OwnKit { letters, layout, findings: found } = assemble::own_kit(&files, shown, sources);
    complain(&found, sources);
    if found.iter().any(|finding| finding.severity == Severity::Error) {
        tell!("The kit {} cannot be used: mend what is marked above.", folder.display());
        return Err(End::CaseErrors);
    }
    let files = files.into_iter().map(|(path, text)| (path, text.into_bytes())).collect();
    Ok(Used { letters, layout, files })
}

/// Returns the folders of letters in a kit; one that is no language is complained about when its letters are read.
fn languages(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder.join("letters")).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Returns the letters, parts and words of a language in a kit, in the order of the built-in ones, others after them.
fn letters_of(folder: &Path, language: &str) -> Result<Vec<(String, String)>, End> {
    let mut paths = Vec::new();
    for inside in [format!("letters/{language}"), format!("letters/{language}/parts")] {
        let Ok(entries) = fs::read_dir(folder.join(&inside)) else { continue };
        for entry in entries.flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let ours = name.ends_with(".md") || name == "words.yaml";
            // Backups that editors leave begin with a point or end in a mark of their own.
            if ours && !name.starts_with('.') {
                paths.push(format!("{inside}/{name}"));
            }
        }
    }
    let rank = |path: &String| letter::BUILT_IN.iter().position(|(known, _)| known == path);
    paths.sort_by_key(|path| (rank(path).unwrap_or(usize::MAX), path.clone()));
    let mut found = Vec::new();
    for path in paths {
        if let Some(text) = text_of(folder, &path)? {
            found.push((path, text));
        }
    }
    Ok(found)
}

/// Reads a file of a kit; none where it does not stand. A link is not followed.
fn text_of(folder: &Path, path: &str) -> Result<Option<String>, End> {
    let full = folder.join(path);
    let complain = |why: String| {
        tell!("error: cannot read {}: {why}", full.display());
        End::Files
    };
    let Ok(about) = full.symlink_metadata() else { return Ok(None) };
    if !about.is_file() {
        return Err(complain("it is no file; links are not followed".to_string()));
    }
    if about.len() > MOST_BYTES {
        return Err(complain("it is larger than any letter or layout".to_string()));
    }
    let bytes = fs::read(&full).map_err(|error| complain(error.to_string()))?;
    let text = String::from_utf8(bytes).map_err(|_| complain("it is no UTF-8 text".to_string()))?;
    Ok(Some(text.strip_prefix('\u{feff}').unwrap_or(&text).replace("\r\n", "\n")))
}
