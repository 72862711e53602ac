//! Who sends the letters: firm files, each read once however many cases share it.

use crate::case::firm::{self, Firm};
use crate::cli::load;
use crate::cli::logo::logo;
use crate::cli::said::Said;
use crate::finding::{Severity, Sources};
use crate::picture::Picture;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// The name of a firm file that is found without being named.
const FIRM_FILE: &str = "firm.yaml";

/// How many folders' firm files are kept; cases come folder by folder.
const KEPT: usize = 16;

/// Who sends the letters, as read.
pub(super) struct Sender {
    pub firm: Firm,
    pub bytes: Vec<u8>,
    pub logo: Option<Picture>,
}

/// A firm file, or that there is none.
pub(super) struct Found {
    /// The texts that findings may point into: the letters' and this file.
    pub sources: Sources,
    /// Who sends the letters; nobody where there is no firm file, or where it has errors.
    pub sender: Option<Sender>,
    /// Where it has errors: its path.
    pub broken: Option<PathBuf>,
    /// What is to be said of it, once.
    pub said: Said,
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
            None => Found { sources: self.texts.clone(), sender: None, broken: None, said: Said::default() },
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
        folders.find_map(|one| Some(one.join(FIRM_FILE)).filter(|path| path.is_file()))
    }
}

fn read(path: &Path, mut sources: Sources) -> Found {
    let mut said = Said::default();
    let mut read = || {
        let bytes = load::read_some(path).map_err(|error| said.tell(&load::unreadable(path, &error))).ok()?;
        let (firm, findings) = firm::read(&path.display().to_string(), &bytes, &mut sources);
        said.complain(&findings, &sources);
        let firm = firm.filter(|_| findings.iter().all(|one| one.severity != Severity::Error))?;
        let logo = logo(&firm, path).map_err(|finding| said.complain(&[*finding], &sources)).ok()?;
        Some(Sender { firm, bytes, logo })
    };
    let sender = read();
    let broken = sender.is_none().then(|| path.to_path_buf());
    Found { sources, sender, broken, said }
}
