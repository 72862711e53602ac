//! A sealed packet opened for questions: its case computed again under its own law, and its own official lines.

use super::{Again, Desk, MOST_TEXT, Naming, Obstacle, Report, read, text};
use crate::assemble::{self, Computed};
use crate::case::TaxYear;
use crate::finding::Sources;
use crate::law::Law;
use crate::packet::{Asked, bag};
use crate::sheet::official::{OfficialMap, read_map};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The most bytes of one map of official lines.
const MOST_MAP: u64 = 1_000_000;

/// A packet that can be asked.
pub struct Opened {
    /// What the seal, the name, the figures and what lies beside came to; its pages are not drawn again.
    pub report: Report,
    /// What was asked for when the packet was made.
    pub asked: Asked,
    /// The sealed case, computed under the sealed law.
    pub computed: Computed,
    /// The sealed case, as it is written.
    pub case_bytes: Vec<u8>,
    law: Arc<super::Sealed>,
}

impl Opened {
    /// Opens the packet in a folder. A broken seal is in the report, and hinders no answer.
    ///
    /// Fails where its case cannot be computed from what lies in it.
    pub fn of(folder: &Path, desk: &Desk) -> Result<Opened, Obstacle> {
        let (mut report, asked) = super::begun(folder);
        let asked = asked?;
        let again = Again::compute(&report.seal, &asked, desk)?;
        let (figures, notes) = again.figures();
        let Again { law, computed, case_bytes, .. } = again;
        (report.figures, report.notes) = (figures, notes);
        Ok(Opened { report, asked, computed, case_bytes, law })
    }

    /// Returns the sealed law.
    pub fn law(&self) -> &Law {
        // Computing has come this far only with it.
        self.law.law.as_ref().unwrap_or(Law::built_in())
    }

    /// Returns the sealed map of the official lines of a year; none where the packet has none.
    pub fn map(&self, year: TaxYear) -> Option<OfficialMap> {
        let path = format!("data/layouts/official/{year}.yaml");
        let sealed = text(&self.report.seal, &path, MOST_MAP).ok()?;
        read_map(&path, &sealed, &mut Sources::default()).ok()
    }

    /// Returns what the packet calls itself.
    pub fn name(&self) -> &str {
        match &self.report.naming {
            Naming::Own(own) | Naming::Copy(own) | Naming::Another(own) => own,
            Naming::Unnamed => &self.report.name,
        }
    }
}

/// What a packet of an archive is looked for by.
#[derive(Clone, Debug, Default)]
pub struct Sought {
    /// The client's reference, without regard to case.
    pub reference: Option<String>,
    /// The tax year.
    pub year: Option<TaxYear>,
    /// The digits of its slip, the first sixteen at least, without blanks and in small letters.
    pub digits: Option<String>,
}

/// Why no packet is meant.
#[derive(Debug, PartialEq, Eq)]
pub enum NotMeant {
    /// None fits.
    None,
    /// Packets of several clients fit; their references.
    Several(Vec<String>),
}

impl Sought {
    /// Picks the packet that is meant: of a client's packets that of the latest year, of a packet and its corrections the
    /// last.
    pub fn among(&self, packets: &[PathBuf]) -> Result<PathBuf, NotMeant> {
        let mut fitting: Vec<Fitting<'_>> = packets.iter().filter_map(|packet| self.fits(packet)).collect();
        // A correction, `HH-1-2025-r2`, comes after what it replaces, and `-r10` after `-r9`.
        fitting.sort_by_key(|one| (one.client.to_lowercase(), one.year, one.name.len(), one.name.clone()));
        let last = fitting.last().ok_or(NotMeant::None)?;
        if fitting.iter().all(|one| one.client.eq_ignore_ascii_case(&last.client)) {
            return Ok(last.packet.to_path_buf());
        }
        let mut clients: Vec<String> = fitting.into_iter().map(|one| one.client).collect();
        clients.dedup_by(|one, other| one.eq_ignore_ascii_case(other));
        Err(NotMeant::Several(clients))
    }

    fn fits<'p>(&self, packet: &'p Path) -> Option<Fitting<'p>> {
        let place = packet.join(assemble::REQUEST);
        // A pipe would be waited for.
        let plain = place.symlink_metadata().is_ok_and(|about| about.is_file());
        let request = if plain { read(&place, MOST_TEXT).ok()? } else { return None };
        let asked = Asked::read(&String::from_utf8(request).ok()?).ok()?;
        let fits = self.reference.as_ref().is_none_or(|one| one.eq_ignore_ascii_case(&asked.reference))
            && self.year.is_none_or(|year| year == asked.year);
        let digits = || match &self.digits {
            Some(digits) => bag::digest(packet).is_ok_and(|digest| digest.starts_with(digits)),
            None => true,
        };
        let name = super::beside::name_of(packet);
        let client = asked.reference;
        (fits && digits()).then_some(Fitting { client, year: asked.year, name, packet })
    }
}

/// A packet that fits.
struct Fitting<'p> {
    client: String,
    year: TaxYear,
    name: String,
    packet: &'p Path,
}
