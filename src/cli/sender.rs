//! Who sends the letters of a season: the firm files, found and read before anything is written.

use super::firm::{self, FIRM_FILE};
use super::remind::Remind;
use super::{End, complain};
use crate::finding::Sources;
use crate::register::remind::{Sender, Senders};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Reads the firm file that was named, or every one beside the cases and above them up to the season's folder.
pub(super) fn senders(asked: &Remind, folder: &Path, cases: &[PathBuf]) -> Result<Senders, End> {
    let mut senders = Senders::default();
    if let Some(file) = &asked.firm {
        senders.0.insert(folder.to_path_buf(), read(file)?);
        return Ok(senders);
    }
    let above = |file: &PathBuf| -> Vec<PathBuf> {
        let folders = file.ancestors().skip(1).map(Path::to_path_buf);
        let mut reached = false;
        // Not above the folder that was named: what lies there is another matter.
        folders.take_while(|one| !std::mem::replace(&mut reached, one == folder)).collect()
    };
    let folders: BTreeSet<PathBuf> = cases.iter().flat_map(above).collect();
    let mut worst = End::Done;
    for one in folders {
        let file = one.join(FIRM_FILE);
        // Whatever has the name is meant for it: a link to nothing or a folder is complained about when it is read.
        if file.symlink_metadata().is_err() {
            continue;
        }
        match read(&file) {
            Ok(sender) => drop(senders.0.insert(one, sender)),
            Err(end) => worst = worst.max(end),
        }
    }
    if worst == End::Done { Ok(senders) } else { Err(worst) }
}

fn read(file: &Path) -> Result<Sender, End> {
    let found = firm::read(file, Sources::default());
    complain(&found.findings, &found.sources);
    let end = found.broken.map_or(End::CaseErrors, |(_, end)| end);
    found.sender.ok_or_else(|| {
        tell!("No letters: the firm file {} cannot be used; mend what is marked above.", file.display());
        end
    })
}
