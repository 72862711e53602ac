//! Who sends the letters of a season: the firm files, found and read before anything is written.

use super::logo::logo;
use super::remind::Remind;
use super::{End, complain, load};
use crate::case::firm;
use crate::finding::{Severity, Sources};
use crate::register::remind::{Sender, Senders};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The name of a firm file that is found without being named.
const FIRM_FILE: &str = "firm.yaml";

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
        if !file.is_file() {
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
    let bytes = load::read(file)?;
    let mut sources = Sources::default();
    let (firm, findings) = firm::read(&file.display().to_string(), &bytes, &mut sources);
    complain(&findings, &sources);
    let Some(firm) = firm.filter(|_| findings.iter().all(|one| one.severity != Severity::Error)) else {
        return Err(End::CaseErrors);
    };
    match logo(&firm, file) {
        Ok(logo) => Ok(Sender { firm, bytes, logo }),
        Err(finding) => {
            complain(&[*finding], &sources);
            Err(End::CaseErrors)
        }
    }
}
