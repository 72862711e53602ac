//! Cases that share a client reference. Nobody could say which of them a packet of that name is for.

use crate::assemble;
use crate::case::shown;
use crate::finding::Sources;
use crate::many;
use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

/// Cases that have one client reference, without regard to case, because a file system may take them for one.
#[derive(Default)]
pub struct Twins {
    /// For each such case, its reference and all that have it.
    of: BTreeMap<usize, (String, Vec<usize>)>,
}

impl Twins {
    /// Reads the references of cases and finds those that several have; so which of them is refused never depends on
    /// which is read first.
    pub fn among(files: &[PathBuf], threads: NonZeroUsize, stop: &AtomicBool) -> Twins {
        if files.len() < 2 {
            return Twins::default();
        }
        let mut by_reference: BTreeMap<String, Vec<(usize, String)>> = BTreeMap::new();
        let reference = |_: usize, path: &PathBuf| {
            // What cannot be read is complained about when its turn comes.
            let bytes = super::read(path).ok()?;
            let read = assemble::read(&path.display().to_string(), &bytes, Sources::default());
            Some(read.case?.client.reference.value.to_string())
        };
        many::in_order(files, threads, stop, reference, |n, found| {
            if let Some(reference) = found {
                by_reference.entry(reference.to_lowercase()).or_default().push((n, reference));
            }
        });
        let mut of = BTreeMap::new();
        for group in by_reference.into_values().filter(|group| group.len() > 1) {
            let all: Vec<usize> = group.iter().map(|(n, _)| *n).collect();
            of.extend(group.into_iter().map(|(n, reference)| (n, (reference, all.clone()))));
        }
        Twins { of }
    }

    /// Says that a case shares its reference: at the first of those that do in full.
    pub fn told(&self, files: &[PathBuf], n: usize) -> Option<String> {
        let (reference, group) = self.of.get(&n)?;
        if n != group[0] {
            return Some(format!(
                "No packet for {}: its client reference {reference} is also that of {}.",
                shown(&files[n]),
                shown(&files[group[0]])
            ));
        }
        let names: Vec<String> = group.iter().map(|n| shown(&files[*n])).collect();
        Some(format!(
            "error: {} have the same client reference {reference}, so no packet is made of any of them\n\
             help: give each client a reference of its own, or take the file away that is not meant",
            names.join(" and ")
        ))
    }

    /// Returns the other cases that have the reference of one.
    pub fn others(&self, n: usize) -> Vec<usize> {
        let group = self.of.get(&n).map(|(_, group)| group.as_slice()).unwrap_or_default();
        group.iter().copied().filter(|other| *other != n).collect()
    }
}
