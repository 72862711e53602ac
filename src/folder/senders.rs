//! Who sends the letters: firm files, each read once however many cases share it.

use super::logo::logo;
use crate::case::firm::{self, Firm};
use crate::finding::{Finding, Severity, Sources, Span};
use crate::picture::Picture;
use std::collections::{BTreeSet, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// The name of a firm file that is found without being named.
pub const FIRM_FILE: &str = "firm.yaml";

/// How many firm files are kept. Most firms have one, and letters in the order of the mail go back and forth between
/// several.
const KEPT: usize = 16;

/// Who sends letters.
pub struct Sender {
    /// The firm.
    pub firm: Firm,
    /// Its file, as read.
    pub bytes: Vec<u8>,
    /// Its logo.
    pub logo: Option<Picture>,
}

/// A firm file, or that there is none.
#[derive(Default)]
pub struct Found {
    /// The texts that findings may point into: the letters' and this file.
    pub sources: Sources,
    /// Who sends the letters; nobody where there is no firm file, or where it has errors.
    pub sender: Option<Sender>,
    /// What is wrong with it.
    pub findings: Vec<Finding>,
    /// Why it cannot be used, where that is so.
    pub broken: Option<Broken>,
}

/// A firm file that cannot be used.
#[derive(Clone, Debug)]
pub struct Broken {
    /// Where it lies.
    pub file: PathBuf,
    /// The file system gives none of it; else what it says is wrong.
    pub unreadable: bool,
}

/// Finds and keeps firm files.
#[derive(Default)]
pub struct Senders {
    named: Option<Arc<Found>>,
    /// What a case without a firm file has.
    nobody: Arc<Found>,
    /// The folders that were named; above them nothing is looked for.
    tops: Vec<PathBuf>,
    recent: Mutex<VecDeque<(PathBuf, Arc<Found>)>>,
}

impl Senders {
    /// Takes the firm file that was named; without one, each case's own is looked for beside it and above it up to
    /// the folder that was named.
    pub fn new(named: Option<&Path>, tops: &[&Path], texts: Sources) -> Senders {
        let named = named.map(|path| Arc::new(read(path, texts.clone())));
        let nobody = Arc::new(Found { sources: texts, ..Found::default() });
        let tops = tops.iter().map(|top| top.to_path_buf()).collect();
        Senders { named, nobody, tops, recent: Mutex::default() }
    }

    /// Returns the folder whose firm file a case uses; the same for all where one was named.
    pub fn folder_of(&self, case: &Path) -> PathBuf {
        match (&self.named, case.parent()) {
            (None, Some(folder)) => folder.to_path_buf(),
            _ => PathBuf::new(),
        }
    }

    /// Returns the firm of a case.
    pub fn of(&self, case: &Path) -> Arc<Found> {
        if let Some(named) = &self.named {
            return named.clone();
        }
        let Some(file) = self.file_for(&self.folder_of(case)) else { return self.nobody.clone() };
        let mut recent = self.recent.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, found)) = recent.iter().find(|(one, _)| *one == file) {
            return found.clone();
        }
        let found = Arc::new(read(&file, self.nobody.sources.clone()));
        if recent.len() == KEPT {
            recent.pop_front();
        }
        recent.push_back((file, found.clone()));
        found
    }

    /// Reads every firm file that some case uses, each once, in the order of their paths; so what is wrong with one can
    /// be told before any letter is written.
    pub fn all(&self, cases: &[PathBuf]) -> Vec<Arc<Found>> {
        if let Some(named) = &self.named {
            return vec![named.clone()];
        }
        let folders: BTreeSet<PathBuf> = cases.iter().map(|case| self.folder_of(case)).collect();
        let files: BTreeSet<PathBuf> = folders.iter().filter_map(|folder| self.file_for(folder)).collect();
        files.iter().map(|file| Arc::new(read(file, self.nobody.sources.clone()))).collect()
    }

    /// Finds the firm file of a folder: there, or in the nearest folder above up to the one that was named. What lies
    /// above that is another matter.
    fn file_for(&self, folder: &Path) -> Option<PathBuf> {
        let mut reached = false;
        let top =
            self.tops.iter().map(PathBuf::as_path).find(|top| folder.starts_with(top)).unwrap_or(folder);
        let mut folders = folder.ancestors().take_while(|one| !std::mem::replace(&mut reached, *one == top));
        // Whatever has the name is meant for it: a link to nothing or a folder is complained about when it is read.
        folders.find_map(|one| Some(one.join(FIRM_FILE)).filter(|path| path.symlink_metadata().is_ok()))
    }
}

/// Reads a firm file, with its logo.
fn read(path: &Path, mut sources: Sources) -> Found {
    let name = path.display().to_string();
    let file = path.to_path_buf();
    let (sender, findings, unreadable) = match super::read(path) {
        Ok(bytes) => {
            let (sender, findings) = sender(path, bytes, &mut sources);
            (sender, findings, false)
        }
        Err(error) => {
            // A text without a line, so that the finding has a place all the same.
            let source = sources.add(name, "");
            let finding = Finding::error("firm-unreadable", format!("cannot read the firm file: {error}"))
                .at(Span { source, start: 0, end: 0 })
                .help("put the file there, or take away what has its name; --firm names another");
            (None, vec![finding], true)
        }
    };
    let broken = sender.is_none().then_some(Broken { file, unreadable });
    Found { sources, sender, findings, broken }
}

fn sender(path: &Path, bytes: Vec<u8>, sources: &mut Sources) -> (Option<Sender>, Vec<Finding>) {
    let (firm, mut findings) = firm::read(&path.display().to_string(), &bytes, sources);
    let sound = findings.iter().all(|one| one.severity != Severity::Error);
    let Some(firm) = firm.filter(|_| sound) else { return (None, findings) };
    match logo(&firm, path) {
        Ok(logo) => (Some(Sender { firm, bytes, logo }), findings),
        Err(finding) => {
            findings.push(*finding);
            (None, findings)
        }
    }
}
