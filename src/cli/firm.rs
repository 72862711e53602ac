//! Who sends the letters: firm files, each read once however many cases share it.

use super::logo::logo;
use super::{End, load};
use crate::case::firm;
use crate::finding::{Finding, Severity, Sources, Span};
use crate::register::remind::Sender;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// The name of a firm file that is found without being named.
pub(super) const FIRM_FILE: &str = "firm.yaml";

/// How many folders' firm files are kept; cases come folder by folder.
const KEPT: usize = 16;

/// A firm file, or that there is none.
pub(super) struct Found {
    /// The texts that findings may point into: the letters' and this file.
    pub sources: Sources,
    /// Who sends the letters; nobody where there is no firm file, or where it has errors.
    pub sender: Option<Sender>,
    /// What is wrong with it.
    pub findings: Vec<Finding>,
    /// Where it cannot be used: its path, and how a command that needs it ends.
    pub broken: Option<(PathBuf, End)>,
}

/// Finds and keeps firm files.
pub(super) struct Senders {
    named: Option<Arc<Found>>,
    /// The folders that were named; above them nothing is looked for.
    tops: Vec<PathBuf>,
    texts: Sources,
    recent: Mutex<VecDeque<(PathBuf, Arc<Found>)>>,
}

impl Senders {
    /// Takes the firm file that was named; without one, each case's own is looked for beside it and above it up to
    /// the folder that was named.
    pub fn new(named: Option<&Path>, tops: &[&Path], texts: Sources) -> Senders {
        let named = named.map(|path| Arc::new(read(path, texts.clone())));
        let tops = tops.iter().map(|top| top.to_path_buf()).collect();
        Senders { named, tops, texts, recent: Mutex::default() }
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
        let folder = self.folder_of(case);
        let mut recent = self.recent.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, found)) = recent.iter().find(|(one, _)| *one == folder) {
            return found.clone();
        }
        let found = Arc::new(match self.file_for(&folder) {
            Some(path) => read(&path, self.texts.clone()),
            None => Found { sources: self.texts.clone(), sender: None, findings: Vec::new(), broken: None },
        });
        if recent.len() == KEPT {
            recent.pop_front();
        }
        recent.push_back((folder, found.clone()));
        found
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
pub(super) fn read(path: &Path, mut sources: Sources) -> Found {
    let name = path.display().to_string();
    let (sender, findings, end) = match load::read_some(path) {
        Ok(bytes) => {
            let (sender, findings) = sender(path, bytes, &mut sources);
            let end = if sender.is_some() { End::Done } else { End::CaseErrors };
            (sender, findings, end)
        }
        Err(error) => {
            // A text without a line, so that the finding has a place all the same.
            let source = sources.add(name, "");
            let finding = Finding::error("firm-unreadable", format!("cannot read the firm file: {error}"))
                .at(Span { source, start: 0, end: 0 })
                .help("put the file there, or take away what has its name; --firm names another");
            (None, vec![finding], End::Files)
        }
    };
    let broken = (end != End::Done).then(|| (path.to_path_buf(), end));
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
