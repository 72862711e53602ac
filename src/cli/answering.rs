//! What a question about figures is put to: a case file, or a sealed packet, which answers with its own case and law.

use super::load::{self, Loaded};
use super::{End, usage};
use crate::assemble::Computed;
use crate::case::{TaxYear, covered, shown};
use crate::law::Law;
use crate::packet::{bag, write};
use crate::sheet::official::{self, OfficialMap};
use crate::verify::{self, Desk, Figures, NotMeant, Opened, Sought, Verdict};
use std::borrow::Cow;
use std::path::{Path, PathBuf};

/// How many clients and years are named where several packets fit.
const MOST_NAMED: usize = 12;

/// Where the figures are.
#[derive(clap::Args)]
pub(super) struct Source {
    /// The case file, the folder of a sealed packet, or a folder of packets
    case: PathBuf,
    /// Of a folder of packets, the client's
    #[arg(long, value_name = "REFERENCE")]
    client: Option<String>,
    /// Of a folder of packets, the one whose slip shows these digits, the first row at least
    #[arg(long, value_name = "DIGITS", value_parser = usage::digits)]
    digest: Option<String>,
}

/// A case computed for questions, from its file or from a packet.
pub(super) enum Answering {
    /// From its file, by the built-in law.
    Case(Box<Loaded>),
    /// From a packet, by the law sealed in it.
    Packet(Box<Opened>),
}

impl Source {
    /// Returns the case file or the folder, as it was named.
    pub(super) fn path(&self) -> &Path {
        &self.case
    }

    /// Reads and computes it; says on the terminal why that cannot be done. `year` picks the packet among a client's.
    pub(super) fn open(&self, year: Option<TaxYear>) -> Result<Answering, End> {
        if let Some(packet) = self.packet(year)? {
            return opened(&packet);
        }
        if self.client.is_some() || self.digest.is_some() {
            tell!("error: --client and --digest pick a packet, and {} is a case file", shown(&self.case));
            tell!("help: name the folder with the packets, or leave them out");
            return Err(End::Usage);
        }
        Ok(Answering::Case(Box::new(load::load(&self.case)?)))
    }

    /// Finds the packet that is meant; none where a case file is.
    fn packet(&self, year: Option<TaxYear>) -> Result<Option<PathBuf>, End> {
        let path = &self.case;
        if !path.is_dir() {
            let real = path.canonicalize().ok();
            let around =
                real.as_deref().and_then(|real| real.ancestors().skip(1).find(|one| verify::is_sealed(one)));
            if around.is_some() {
                tell!("note: {} lies in a sealed packet, so the packet is asked", shown(path));
            }
            return Ok(around.map(Path::to_path_buf));
        }
        let below = verify::below(path).map_err(|(folder, error)| {
            tell!("error: cannot read the folder {}: {error}", shown(&folder));
            End::Files
        })?;
        if path.join(write::DRAFT_MARK).exists() {
            tell!(
                "error: {} is a draft, and a draft is not sealed\nhelp: ask the case file itself",
                shown(path)
            );
            return Err(End::Usage);
        }
        if below.packets.is_empty() {
            tell!(
                "error: no sealed packet lies in {}\nhelp: name a case file, or the folder of a packet",
                shown(path)
            );
            return Err(End::Files);
        }
        if below.packets == [path.clone()] {
            return Ok(Some(path.clone()));
        }
        let mut sought = Sought { reference: self.client.clone(), year, digits: self.digest.clone() };
        let mut among = sought.among(&below.packets);
        if among == Err(NotMeant::None) && year.is_some() {
            // The packet of a later year holds the years before it.
            sought.year = None;
            among = sought.among(&below.packets);
        }
        match among {
            Ok(packet) => Ok(Some(packet)),
            Err(NotMeant::None) => {
                tell!("error: none of the packets in {} is meant", shown(path));
                tell!(
                    "help: `gablework register FOLDER --packets {}` lists them by client and year",
                    shown(path)
                );
                Err(End::Usage)
            }
            Err(NotMeant::Several(clients)) => {
                let more = clients.len().saturating_sub(MOST_NAMED);
                let named =
                    clients.iter().take(MOST_NAMED).map(|one| covered(one)).collect::<Vec<_>>().join(", ");
                let more = if more > 0 { format!(" and {more} more") } else { String::new() };
                tell!("error: {} holds packets of several clients: {named}{more}", shown(path));
                tell!("help: name one with --client, or the digits of its slip with --digest");
                Err(End::Usage)
            }
        }
    }
}

fn opened(packet: &Path) -> Result<Answering, End> {
    let opened = Opened::of(packet, &Desk::default()).map_err(|why| {
        tell!("error: {} cannot be asked: {why}", shown(packet));
        tell!("help: `gablework verify {}` says what of it holds", shown(packet));
        End::Unsealed
    })?;
    Ok(Answering::Packet(Box::new(opened)))
}

impl Answering {
    /// Returns the case as computed.
    pub(super) fn computed(&self) -> &Computed {
        match self {
            Answering::Case(loaded) => &loaded.computed,
            Answering::Packet(packet) => &packet.computed,
        }
    }

    /// Returns the case as it is written.
    pub(super) fn case_bytes(&self) -> &[u8] {
        match self {
            Answering::Case(loaded) => &loaded.bytes,
            Answering::Packet(packet) => &packet.case_bytes,
        }
    }

    fn packet(&self) -> Option<&Opened> {
        match self {
            Answering::Case(_) => None,
            Answering::Packet(packet) => Some(packet),
        }
    }

    /// Returns the law by which it was computed.
    pub(super) fn law(&self) -> &Law {
        self.packet().map_or(Law::built_in(), Opened::law)
    }

    /// Returns the year that is meant where none is named.
    pub(super) fn year(&self) -> Option<TaxYear> {
        match self {
            Answering::Case(loaded) => loaded.computed.latest_year(),
            Answering::Packet(packet) => Some(packet.asked.year),
        }
    }

    /// Returns the official lines of a year.
    pub(super) fn map(&self, year: TaxYear) -> Option<Cow<'_, OfficialMap>> {
        match self {
            Answering::Case(_) => official::map(year).map(Cow::Borrowed),
            Answering::Packet(packet) => packet.map(year).map(Cow::Owned),
        }
    }

    /// Says which packet answers, in a line before the answer; none for a case file.
    pub(super) fn heading(&self) -> Option<String> {
        let packet = self.packet()?;
        let digits = packet.report.seal.digest.as_deref().map(|digest| bag::groups(digest)[0].join(" "));
        Some(format!(
            "packet {}, dated {}, computed by the law sealed in it (edition {}); slip {} ..\n",
            packet.name(),
            packet.asked.dated,
            covered(&packet.asked.law_edition),
            digits.unwrap_or_default()
        ))
    }

    /// Complains where the packet cannot be relied on, and says how the command then ends.
    pub(super) fn judged(&self) -> End {
        let Some(packet) = self.packet() else { return End::Done };
        let name = packet.name();
        let mut end = End::Done;
        match packet.report.verdict() {
            Verdict::Intact => {}
            Verdict::Broken => {
                tell!(
                    "error: {name}: the seal does not hold; what is shown comes from files that were changed"
                );
                tell!("help: `gablework verify` says in what; do not rely on the answer before you know why");
                end = End::Unsealed;
            }
            Verdict::NotRead => {
                tell!(
                    "error: {name}: files of the packet could not be read, so nothing is known of its seal"
                );
                end = End::Files;
            }
        }
        if !matches!(packet.report.figures, Figures::Agree { .. }) {
            tell!(
                "error: {name}: the sealed figures are not those that are computed here from the sealed case"
            );
            tell!("help: `gablework verify` shows where they differ");
            end = end.max(End::Unsealed);
        }
        end
    }
}
