//! The packet of one case: from its file to the folder, and every way in which none comes of it.

use super::{OUT, Packet};
use crate::assemble::{self, Also, Computed, Made, Material, NoPacket, Wanted};
use crate::case::NOTHING_IS_MADE;
use crate::case::{Case, TaxYear, shown};
use crate::cli::said::Said;
use crate::cli::{End, kit, load};
use crate::credit::facts::Facts;
use crate::finding::Finding;
use crate::folder;
use crate::folder::papers::{self, Papers};
use crate::folder::senders::{Found, Senders};
use crate::folder::twins::Twins;
use crate::law::{Credit, Law};
use crate::packet::Replaced;
use crate::packet::write::{self, Trouble};
use crate::shelf::{Again, Change, Correction, NoCorrection, Shelf, Standing, Wish};
use jiff::civil::Date;
use std::io::ErrorKind;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// What all cases of one run share; read once.
pub(super) struct Desk<'a> {
    pub asked: &'a Packet,
    pub dated: Date,
    pub kit: kit::Used,
    pub senders: Senders,
    /// For each case, whether it is the first that uses its firm file.
    pub first_there: Vec<bool>,
    /// Cases that have one client reference.
    pub twins: Twins,
    /// The folder of packets.
    pub shelf: Shelf,
    /// The forms of letters besides PDF.
    pub also: Vec<Also>,
    /// Whether there are several cases.
    pub many: bool,
}

/// What came of a case.
pub(super) enum Came {
    Made,
    UpToDate,
    LeftOut,
    Refused,
    Failed,
}

/// A case whose turn is over.
pub(super) struct Done {
    pub came: Came,
    pub end: End,
    pub said: Said,
    /// Its letters have no sender.
    pub without_firm: bool,
    /// What stopped it would stop every other.
    pub hopeless: bool,
}

/// Why there is no packet: how the case ended.
struct No(Came, End);

/// A case whose packet is wanted: its file, its facts, and what is given besides.
#[derive(Clone, Copy)]
struct Given<'a> {
    path: &'a Path,
    /// Its place among the cases of the run.
    n: usize,
    case: &'a Case,
    year: TaxYear,
    bytes: &'a [u8],
    found: &'a Found,
    /// Its papers, or what is wrong with them.
    papers: &'a Result<Papers, Vec<Finding>>,
}

impl Desk<'_> {
    /// Makes the packet of a case. A fault of the program in one case does not end the others.
    pub fn work(&self, files: &[PathBuf], n: usize) -> Done {
        let mut done = Done {
            came: Came::Failed,
            end: End::OurFault,
            said: Said::default(),
            without_firm: false,
            hopeless: false,
        };
        let path = &files[n];
        let worked = catch_unwind(AssertUnwindSafe(|| self.case(files, n, &mut done)));
        match worked {
            Ok(Ok((came, end)) | Err(No(came, end))) => (done.came, done.end) = (came, end),
            Err(_) => drop(done.said.our_fault(&format!("{}: the program stumbled", shown(path)))),
        }
        done
    }

    fn case(&self, files: &[PathBuf], n: usize, done: &mut Done) -> Result<(Came, End), No> {
        let path = &files[n];
        let found = self.senders.of(path);
        if self.first_there[n] {
            done.said.complain(&found.findings, &found.sources);
        }
        let bytes = folder::read(path).map_err(|error| {
            done.said.tell(&load::unreadable(path, &error));
            No(Came::Failed, End::Files)
        })?;
        let read = assemble::read(&path.display().to_string(), &bytes, found.sources.clone());
        if let Some(told) = self.twins.told(files, n) {
            done.said.tell(&told);
            return Err(No(Came::Refused, End::CaseErrors));
        }
        let mut read_papers = None;
        if let Some(case) = read.case.as_ref().filter(|_| !read.has_errors())
            && let Some(year) = self.asked.year.map(TaxYear).or_else(|| latest_return(case))
        {
            let papers = &*read_papers.insert(papers::read(path, case));
            let given = Given { path, n, case, year, bytes: &bytes, found: &found, papers };
            // Of a firm file that cannot be read nobody knows whether it was changed, and strictness asks for the
            // findings, which only computing tells.
            if !self.asked.strict
                && found.broken.is_none()
                && let Ok(papers) = papers
                && let Standing::UpToDate(name) = self.standing(given, papers)
            {
                return Ok((self.up_to_date(&name, &mut done.said), End::Done));
            }
        }
        let law = Law::built_in();
        let mut computed = assemble::reckon(read, law)
            .map_err(|fault| No(Came::Failed, done.said.our_fault(&format!("{}: {fault}", shown(path)))))?;
        if self.is_left_out(path, &computed, &mut done.said) {
            return Ok((Came::LeftOut, End::Done));
        }
        let year = self.asked.year.map(TaxYear).or_else(|| computed.latest_year());
        let findings = computed.findings_for(year);
        done.said.complain(&findings, &computed.sources);
        let end = End::of(&computed.outcome.findings, self.asked.strict);
        let Some(case) = computed.case.clone() else {
            done.said.tell(&format!(
                "No packet for {}: it cannot be read as a case; fix what is marked above.",
                shown(path)
            ));
            return Err(No(Came::Refused, end.max(End::CaseErrors)));
        };
        self.in_order(path, &computed, end, &mut done.said)?;
        let year = self.year(path, &computed, &mut done.said)?;
        if let Some(broken) = &found.broken {
            done.said.tell(&format!(
                "No packet for {}: the firm file {} cannot be used; fix what is marked above.",
                shown(path),
                broken.file.display()
            ));
            return Err(No(Came::Refused, End::of_firm(broken)));
        }
        let papers = read_papers.unwrap_or_else(|| papers::read(path, &case));
        let given = Given { path, n, case: &case, year, bytes: &bytes, found: &found, papers: &papers };
        let made = self.make(given, &mut computed, done)?;
        Ok((made, end.max(End::of(&computed.outcome.findings, self.asked.strict))))
    }

    /// Says whether a case of a folder is left out because it has nothing to do with the year, and says so.
    fn is_left_out(&self, path: &Path, computed: &Computed, said: &mut Said) -> bool {
        let years = &computed.outcome.years;
        let Some(year) = self.asked.year.map(TaxYear).filter(|year| !years.contains(year)) else {
            return false;
        };
        if !self.many || computed.has_errors() || years.is_empty() {
            return false;
        }
        said.tell(&format!(
            "Left out: {} has no figures for {year}, only for {}.",
            shown(path),
            told_years(years)
        ));
        true
    }

    /// Refuses a case with errors or open questions, as far as they stand in the way.
    fn in_order(&self, path: &Path, computed: &Computed, end: End, said: &mut Said) -> Result<(), No> {
        // Not even a draft may carry a full taxpayer number further, or what could be one.
        let secret = computed.outcome.findings.iter().any(|finding| NOTHING_IS_MADE.contains(&finding.code));
        if end == End::CaseErrors && (secret || !self.asked.draft) {
            let or_draft = if secret { "" } else { ", or make a --draft" };
            said.tell(&format!("No packet for {}: fix what is marked above{or_draft}.", shown(path)));
            return Err(No(Came::Refused, end));
        }
        let open: Vec<&Finding> =
            computed.outcome.findings.iter().filter(|finding| finding.blocking).collect();
        if !self.asked.draft && !open.is_empty() {
            said.tell(unanswered(path, &open).trim_end());
            return Err(No(Came::Refused, End::CaseErrors));
        }
        Ok(())
    }

    /// Returns the year of the packet.
    fn year(&self, path: &Path, computed: &Computed, said: &mut Said) -> Result<TaxYear, No> {
        let Some(year) = self.asked.year.map(TaxYear).or_else(|| computed.latest_year()) else {
            said.complain(assemble::no_year(computed).as_slice(), &computed.sources);
            said.tell(&format!("No packet for {}: it speaks of no tax year.", shown(path)));
            return Err(No(Came::Refused, End::CaseErrors));
        };
        let years = &computed.outcome.years;
        if let Some(finding) = assemble::no_year(computed) {
            said.complain(&[finding], &computed.sources);
            return Err(No(Came::Refused, End::CaseErrors));
        }
        if !years.contains(&year) {
            said.tell(&load::no_figures_for(&shown(path), year, years));
            return Err(No(Came::Refused, End::Usage));
        }
        Ok(year)
    }

    /// Says what the packet of a case is wanted for.
    fn wish<'w>(&'w self, given: Given<'w>) -> Wish<'w> {
        let correction = self.asked.replaces.as_deref().zip(self.asked.because.as_deref());
        Wish {
            reference: &given.case.client.reference.value,
            year: given.year,
            draft: self.asked.draft,
            again: self.asked.again,
            dated: self.asked.dated,
            also: &self.also,
            correction: correction.map(|(of, because)| Correction { of, because }),
        }
    }

    fn standing(&self, given: Given<'_>, papers: &Papers) -> Standing {
        self.shelf.standing(self.wish(given), &self.material(given, papers))
    }

    fn material<'m>(&'m self, given: Given<'m>, papers: &'m Papers) -> Material<'m> {
        let sender = given.found.sender.as_ref();
        Material {
            letters: &self.kit.letters,
            layout: self.kit.layout.as_ref(),
            kit: &self.kit.files,
            case_bytes: given.bytes,
            firm: sender.map(|one| (&one.firm, one.bytes.as_slice())),
            logo: sender.and_then(|one| one.logo.as_ref()),
            papers,
        }
    }

    /// Makes the seal slip of a packet that stands without one, and says so.
    fn slip_again(&self, name: &str, said: &mut Said) {
        if self.asked.draft {
            return;
        }
        match self.shelf.slip_again(name, self.asked.access.readers()) {
            None => {}
            Some(Again::Made(slip)) => said.data(&format!(
                "The seal slip of {name} was missing and is made again: {}\n",
                slip.display()
            )),
            Some(Again::Failed(trouble)) => {
                said.tell(&format!("warning: the seal slip of {name} is missing: {trouble}"))
            }
        }
    }

    fn up_to_date(&self, name: &str, said: &mut Said) -> Came {
        self.slip_again(name, said);
        if !self.many {
            said.data(&format!(
                "{} stands and is up to date; nothing was made.\n",
                self.shelf.place(name).display()
            ));
        }
        Came::UpToDate
    }

    fn make(&self, given: Given<'_>, computed: &mut Computed, done: &mut Done) -> Result<Came, No> {
        let Given { path, case, year, found, .. } = given;
        let said = &mut done.said;
        dated_well(case, year, self.dated, said)?;
        let wish = self.wish(given);
        let name = self.shelf.next_name(wish);
        if let Some(other) = self.shelf.differs_in_capitals(&name) {
            said.tell(&format!(
                "error: {} stands already, and {name} differs from it only in capitals; many computers and shared \
                 drives would take the two for one\nhelp: give the clients references that differ in more",
                self.shelf.place(other).display()
            ));
            return Err(No(Came::Refused, End::CaseErrors));
        }
        // Where a paper is gone, nobody knows whether what stands is still what would be made.
        let papers = given.papers.as_ref().map_err(|complaints| {
            said.complain(complaints, &computed.sources);
            No(Came::Refused, End::CaseErrors)
        })?;
        match self.standing(given, papers) {
            Standing::Free => {}
            Standing::UpToDate(name) => return Ok(self.up_to_date(&name, said)),
            Standing::Changed(name, changes) => {
                self.slip_again(&name, said);
                said.tell(&self.out_of_date(path, year, &name, &changes));
                return Err(No(Came::Refused, End::Files));
            }
        }
        let replaces = match wish.correction {
            Some(correction) => Some(self.replaced(wish, correction, said)?),
            None => None,
        };
        let wanted = Wanted {
            year,
            dated: self.dated,
            draft: self.asked.draft,
            case_file: path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            replaces,
            name,
            also: self.also.clone(),
        };
        let material = self.material(given, papers);
        let Made { packet, facts, findings } =
            match assemble::packet(computed, Law::built_in(), &wanted, &material) {
                Ok(made) => made,
                Err(NoPacket::Fault(what)) => return Err(No(Came::Failed, said.our_fault(&what))),
                Err(NoPacket::Findings(findings)) => {
                    said.complain(&findings, &computed.sources);
                    return Err(No(Came::Refused, End::CaseErrors));
                }
            };
        // What only writing the papers shows, such as a date before what they tell.
        said.complain(&findings, &computed.sources);
        computed.outcome.findings.extend(findings);
        if !self.asked.draft && found.sender.is_none() && self.first_there[given.n] {
            said.tell(
                "warning: there is no firm file, so the letters lack the firm's name, address, telephone number and \
                 signatory, and their top is left blank for printed paper\n\
                 help: make a firm.yaml beside the case (the README lists its keys, and `gablework begin` offers to \
                 make one) or name one with --firm; what is sealed keeps its letters as they are",
            );
        }
        match write::put(&self.asked.out, &packet, self.asked.access.readers()) {
            Ok(place) => said.data(&summary(case, year, &facts, &place, &packet)),
            Err(Trouble::Stands(slip)) if slip != self.asked.out.join(&wanted.name) => {
                said.tell(&format!(
                    "error: {} is the seal slip of another packet of this name, which is not here any more; the slip may be all that is left of it\nhelp: bring that packet back, or move its slip away, and run again",
                    slip.display()
                ));
                return Err(No(Came::Refused, End::Files));
            }
            // Another run was faster, perhaps with the same.
            Err(Trouble::Stands(_)) => {
                return match self.standing(given, papers) {
                    Standing::UpToDate(name) => Ok(self.up_to_date(&name, said)),
                    _ => {
                        said.tell(&self.out_of_date(path, year, &wanted.name, &[]));
                        Err(No(Came::Refused, End::Files))
                    }
                };
            }
            Err(trouble) => {
                said.tell(&format!("error: {trouble}\nhelp: {}", trouble.help()));
                done.hopeless = self.is_hopeless(&trouble);
                return Err(No(Came::Failed, End::Files));
            }
        }
        done.without_firm = found.sender.is_none();
        Ok(Came::Made)
    }

    /// Says whether every other case would meet the same trouble.
    fn is_hopeless(&self, trouble: &Trouble) -> bool {
        let Trouble::File { path, error, .. } = trouble else { return false };
        let full = [ErrorKind::StorageFull, ErrorKind::QuotaExceeded, ErrorKind::ReadOnlyFilesystem];
        full.contains(&error.kind()) || *path == self.asked.out
    }

    /// Says that a sealed packet stands in the way, why it is not the one that would be made, and how to correct it.
    fn out_of_date(&self, path: &Path, year: TaxYear, name: &str, changes: &[Change]) -> String {
        let why = if changes.is_empty() { String::new() } else { format!(": {}", told(changes, "; ")) };
        let mut command = format!("gablework packet {} --year {year}", quoted(&path.display().to_string()));
        if self.asked.out != Path::new(OUT) {
            command += &format!(" --out {}", quoted(&self.asked.out.display().to_string()));
        }
        format!(
            "error: {} stands already, is never overwritten, and is not up to date{why}\n\
             help: make a correction with {command} --replaces {name} --because \"WHY\", or name another folder with \
             --out",
            self.shelf.place(name).display()
        )
    }

    /// Returns what a correction says of the packet it replaces, or says why there can be none.
    fn replaced(&self, wish: Wish<'_>, correction: Correction<'_>, said: &mut Said) -> Result<Replaced, No> {
        self.shelf.replaced(wish, correction).map_err(|why| {
            let mut end = End::Usage;
            if let NoCorrection::Damaged { old, damage, .. } = &why {
                end = End::Unsealed;
                for one in damage.iter().take(5) {
                    said.tell(&format!("error: {old}: {one}"));
                }
            }
            said.tell(&format!("error: {why}\nhelp: {}", why.help()));
            No(Came::Refused, end)
        })
    }
}

fn told<T: ToString>(all: &[T], between: &str) -> String {
    all.iter().map(ToString::to_string).collect::<Vec<_>>().join(between)
}

fn told_years(years: &[TaxYear]) -> String {
    told(years, ", ")
}

fn latest_return(case: &Case) -> Option<TaxYear> {
    case.returns.iter().map(|one| one.year.value).max()
}

/// Returns a word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./:\\".contains(c);
    if word.chars().all(plain) { word.to_string() } else { format!("\"{word}\"") }
}

/// Refuses a date from before the year, which can only be a slip, and says where the case was signed for later. A
/// projection may be made in the year before.
fn dated_well(case: &Case, year: TaxYear, dated: Date, said: &mut Said) -> Result<(), No> {
    if dated.year() < year.0 - 1 {
        said.tell(&format!(
            "error: the date on the papers, {dated}, lies long before the tax year {year}\nhelp: correct --dated, or leave it out for today's date"
        ));
        return Err(No(Came::Refused, End::Usage));
    }
    let signed =
        [&case.prepared, &case.reviewed].into_iter().flatten().filter_map(|signed| signed.on.as_ref());
    if let Some(signed) = signed.map(|on| on.value).max().filter(|signed| *signed > dated) {
        said.tell(&format!(
            "warning: the papers are dated {dated}, and the case was last signed for on {signed}"
        ));
    }
    Ok(())
}

/// Says which answers a packet waits for, as entries to be filled in.
fn unanswered(path: &Path, open: &[&Finding]) -> String {
    let (asked, they) = match open.len() {
        1 => ("a question is".to_string(), "its answer"),
        n => (format!("{n} questions are"), "their answers"),
    };
    let mut out = format!(
        "No packet for {}: {asked} open, and {they} could change a figure. Mend the case where each points, or answer \
         under `answers:` (fill in the dots; `because:` may follow), or make a --draft:\n\nanswers:\n",
        shown(path)
    );
    for entry in open.iter().filter_map(|question| question.answer_entry()) {
        out.push_str(&format!("  - {entry}\n"));
    }
    out
}

/// What the terminal says of a finished packet.
fn summary(
    case: &Case,
    year: TaxYear,
    facts: &Facts,
    place: &Path,
    packet: &crate::packet::Packet,
) -> String {
    let called =
        |credit: Credit| Law::built_in().year(year).map_or(credit.called(), |law| law.called(credit));
    let mut out = format!("{}, tax year {year}\n", case.client.reference.value);
    let mut row = |label: &str, name: &str| {
        out.push_str(&format!("  {label:<42} {:>14}\n", facts.amount(name).spoken()))
    };
    if facts.yes["improvement_in_force"] {
        row(&format!("{} allowed", called(Credit::Improvement)), "improvement_allowed");
        if facts.yes["loses_improvement"] {
            row("  lost to the tax limit", "improvement_lost");
        }
    }
    row(&format!("{} allowed", called(Credit::Clean)), "clean_allowed");
    row(&format!("  carried forward to {}", year.after()), "carried_out");
    out.push_str(&format!("  worksheet  {}\n", place.join("data/worksheet.pdf").display()));
    for (path, _) in &packet.files {
        if path.starts_with("data/letters/") {
            out.push_str(&format!("  letter     {}\n", place.join(path).display()));
        }
    }
    if let Some((slip, _)) = &packet.slip {
        out.push_str(&format!("  seal slip  {}\n", place.with_file_name(slip).display()));
    }
    out
}
