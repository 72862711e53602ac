//! Verifying a sealed packet: is it as it was sealed, do its figures follow from what is sealed, are its pages those.
//!
//! Comes in: a folder. Goes out: a [`Report`] with three verdicts. The figures are computed again from the sealed case
//! under the sealed law, the pages drawn again with the sealed firm file, logo, letters and layout. Reads only plain
//! files of the packet that the check of the seal has found, and the seal slip beside it; believes none of them; writes
//! nothing and knows no clock.
//!
//! Whoever can rewrite a whole packet, lists included, can make one that agrees with itself. What such a person cannot
//! change is the digest kept elsewhere: on the slip in a drawer, in a register, in a later packet that replaces this one.

mod beside;
mod compare;
mod digits;
mod find;
mod obstacle;
mod opened;

pub use beside::{Chain, Naming, Predecessor, Slip};
pub use compare::Difference;
pub use digits::Digits;
pub use find::{Found, below, is_link_for_packet, is_sealed};
pub use obstacle::{InFile, Obstacle};
pub use opened::{NotMeant, Opened, Sought};

use crate::assemble::{self, Also, Computed, Material, Wanted};
use crate::case::{Case, TaxYear, firm, limits};
use crate::finding::{Finding, Severity, Sources};
use crate::held;
use crate::json;
use crate::law::Law;
use crate::letter;
use crate::name::FileName;
use crate::packet::{self, Asked, bag};
use crate::picture;
use crate::sheet;
use bag::{Checked, Content, Damage};
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

// How much of a packet is read into memory, each file for itself and all of a kind together. What a packet holds beyond
// that (papers, pages) streams by. All of it together stays below the 300 megabytes that README names.

/// The most bytes of a request, of the firm's file, of a letter or a layout.
const MOST_TEXT: u64 = 1_000_000;
/// The most bytes of all law of a packet; that of all years there are has a sixth of it.
const MOST_LAW: u64 = 1_000_000;
/// The most bytes of a firm's own letters and layout.
const MOST_KIT: u64 = 8_000_000;
/// The most bytes of figures beside what the case comes to when it is computed again, and how many times that.
const MORE_FIGURES: (u64, u64) = (1_000_000, 4);
/// How many laws are kept for the packets to come.
const MOST_LAWS: usize = 24;

/// What all packets of one run share.
pub struct Desk {
    letters: letter::Kit,
    /// The texts of the built-in letters, which cases join.
    sources: Sources,
    laws: Mutex<Vec<(String, Arc<Sealed>)>>,
}

/// The law that lies in a packet.
struct Sealed {
    /// The law, or why it cannot be read.
    law: Result<Law, Obstacle>,
    /// The files that are not those of this program, a note about each.
    others: Vec<String>,
}

impl Default for Desk {
    fn default() -> Desk {
        let mut sources = Sources::default();
        Desk { letters: letter::Kit::built_in(&mut sources), sources, laws: Mutex::default() }
    }
}

/// What verifying a packet came to.
#[derive(Debug)]
pub struct Report {
    /// The name of its folder.
    pub name: String,
    /// What was asked for when it was made, where that can be read.
    pub asked: Option<Asked>,
    /// The check of the seal.
    pub seal: Checked,
    /// How its folder is called, and how the packet calls itself.
    pub naming: Naming,
    /// What the seal slip beside it is.
    pub slip: Slip,
    /// The packet it replaces.
    pub replaces: Option<Chain>,
    /// The figures.
    pub figures: Figures,
    /// The pages.
    pub pages: Pages,
    /// Lines to which the law as this program knows it today would give another value: a note, no failure. None where
    /// that was not computed.
    pub today: Option<Vec<Difference>>,
    /// Other things worth knowing.
    pub notes: Vec<String>,
}

impl Report {
    /// Says whether the packet is as it was sealed, and nothing beside it says otherwise.
    pub fn is_sealed(&self) -> bool {
        self.seal.is_intact() && self.naming.is_right() && self.slip.is_right() && self.chain_holds()
    }

    /// Says whether its figures follow from what is sealed.
    pub fn figures_agree(&self) -> bool {
        matches!(self.figures, Figures::Agree { .. })
    }

    /// Returns the verdict on the seal.
    pub fn verdict(&self) -> Verdict {
        if self.is_sealed() {
            return Verdict::Intact;
        }
        let unread = self.seal.damage.iter().all(Damage::is_unreadable);
        let unnamed = [bag::INFO_FILE, assemble::REQUEST].iter().any(|path| self.seal.unread(path).is_some());
        let named = self.naming.is_right() || unnamed && self.naming == Naming::Unnamed;
        let slip = self.slip.is_right() || self.slip == Slip::NotRead;
        if unread && named && slip && self.chain_holds() { Verdict::NotRead } else { Verdict::Broken }
    }

    fn chain_holds(&self) -> bool {
        !matches!(self.replaces, Some(Chain { found: Predecessor::Another, .. }))
    }
}

/// The verdict on the seal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The packet is as it was sealed.
    Intact,
    /// It is not, or nobody can tell which packet it is.
    Broken,
    /// Files of it could not be read, so nothing is known; what could be read is as it was sealed.
    NotRead,
}

/// The verdict on the figures.
#[derive(Debug)]
pub enum Figures {
    /// Computed again from the sealed case and law, they are the same.
    Agree {
        /// How many lines.
        lines: usize,
    },
    /// They are not.
    Differ {
        /// Where, in the order of the lines; no more than people read.
        differences: Vec<Difference>,
        /// How many more there are.
        more: usize,
    },
    /// They could not be computed again.
    NotCompared(Obstacle),
}

/// The verdict on the pages.
#[derive(Debug)]
pub enum Pages {
    /// Drawn again, they are the same to the byte.
    Identical {
        /// How many files.
        files: usize,
    },
    /// The same program draws other pages.
    Differ {
        /// The files.
        files: Vec<String>,
    },
    /// Another program made them and this one draws others, which says nothing; or they could not be drawn.
    NotCompared(Obstacle),
}

/// Checks the seal of the packet in a folder and what lies beside it, and reads what was asked for; its figures and pages
/// are not compared yet.
fn begun(folder: &Path) -> (Report, Result<Asked, Obstacle>) {
    // A stroke behind its name would hide that a folder is a link.
    let folder = &folder.components().collect::<PathBuf>();
    // Whoever stands in the packet calls it `.`; what lies beside it is found by its name.
    let named = folder.canonicalize().ok().filter(|_| folder.file_name().is_none());
    let folder = named.as_deref().unwrap_or(folder);
    let seal = bag::check(folder);
    let asked = text(&seal, assemble::REQUEST, MOST_TEXT)
        .and_then(|text| Asked::read(&text).map_err(Obstacle::Request));
    let naming = Naming::of(folder, &seal, asked.as_ref().ok());
    let report = Report {
        name: beside::name_of(folder),
        slip: beside::slip(folder, &naming, &seal, asked.as_ref().ok()),
        naming,
        asked: None,
        replaces: asked
            .as_ref()
            .ok()
            .and_then(|asked| asked.replaces.as_ref())
            .map(|replaced| Chain::of(folder, replaced)),
        figures: Figures::NotCompared(Obstacle::Figures),
        pages: Pages::NotCompared(Obstacle::Figures),
        today: None,
        notes: Vec::new(),
        seal,
    };
    (report, asked)
}

/// Verifies the packet in a folder.
pub fn verify(folder: &Path, desk: &Desk) -> Report {
    let (mut report, asked) = begun(folder);
    let asked = match asked {
        Ok(asked) => asked,
        Err(why) => {
            report.figures = Figures::NotCompared(why);
            return report;
        }
    };
    // Whatever lies in a packet may have been written by anybody; it must not bring the program down.
    let again = catch_unwind(AssertUnwindSafe(|| Again::compute(&report.seal, &asked, desk)));
    match again {
        Ok(Ok(again)) => {
            (report.figures, report.notes) = again.figures();
            report.today = again.today();
            report.notes.extend(again.law.others.iter().cloned());
            report.notes.extend(again.law_not_sealed());
            let pages = catch_unwind(AssertUnwindSafe(|| again.pages(&report.naming)));
            report.pages = pages.unwrap_or(Pages::NotCompared(Obstacle::OutOfStep));
        }
        Ok(Err(why)) => report.figures = Figures::NotCompared(why),
        Err(_) => report.figures = Figures::NotCompared(Obstacle::OutOfStep),
    }
    report.notes.extend(revised(&report.seal));
    report.asked = Some(asked);
    report
}

/// The sealed case, computed again.
struct Again<'a> {
    seal: &'a Checked,
    asked: &'a Asked,
    desk: &'a Desk,
    law: Arc<Sealed>,
    case_bytes: Vec<u8>,
    computed: Computed,
    /// The figures as computed again, as the packet would hold them.
    data: Vec<u8>,
}

impl<'a> Again<'a> {
    fn compute(seal: &'a Checked, asked: &'a Asked, desk: &'a Desk) -> Result<Again<'a>, Obstacle> {
        let law = law(seal, desk)?;
        let known = law.law.as_ref().map_err(Clone::clone)?;
        let case_bytes = bytes(seal, &case_path(asked), limits::MAX_BYTES as u64)?;
        let computed = assemble::compute(&asked.case_file, &case_bytes, known, desk.sources.clone())
            .map_err(Obstacle::Computing)?;
        let Some(case) = &computed.case else {
            let first = computed.outcome.findings.iter().find(|one| one.severity == Severity::Error);
            return Err(Obstacle::Case(first.map(|one| one.message.clone())));
        };
        let data = assemble::figures(case, known, &computed.outcome, asked.year, &computed.sources)
            .map_err(Obstacle::NoPacket)?;
        Ok(Again { seal, asked, desk, law, case_bytes, computed, data })
    }

    fn law(&self) -> &Law {
        match &self.law.law {
            Ok(law) => law,
            // Computing has come this far only with it.
            Err(_) => Law::built_in(),
        }
    }

    /// Says of which years the law was asked for and does not lie in the packet, although this program has it.
    fn law_not_sealed(&self) -> Option<String> {
        let known = |law: &Law| law.known().collect::<Vec<TaxYear>>();
        let (sealed, built_in) = (known(self.law()), known(Law::built_in()));
        let asked = self.computed.law_asked.iter();
        let lacking = asked.filter(|year| built_in.contains(year) && !sealed.contains(year));
        let lacking: Vec<String> = lacking.map(ToString::to_string).collect();
        (!lacking.is_empty()).then(|| {
            format!(
                "the law of {} is asked for by this version and does not lie in the packet",
                lacking.join(", ")
            )
        })
    }

    /// Compares the sealed figures with those computed again, and with the table and the request beside them.
    fn figures(&self) -> (Figures, Vec<String>) {
        let mut notes = Vec::new();
        let computed: Value = serde_json::from_slice(&self.data).unwrap_or_default();
        let most = MORE_FIGURES.0 + MORE_FIGURES.1 * self.data.len() as u64;
        let as_written = |path: &str, written: &[u8]| {
            let sealed = self.seal.payload.get(path);
            sealed.is_some_and(|content| content.sha256 == packet::fingerprint(written))
        };
        let same = as_written(assemble::FIGURES, &self.data);
        let sealed = match same {
            true => computed.clone(),
            false => {
                let values = 10_000 + MORE_FIGURES.1 as usize * json::count(&computed);
                let read = bytes(self.seal, assemble::FIGURES, most).and_then(|bytes| {
                    json::read(&bytes, values).map_err(|why| InFile::Json(why).of(assemble::FIGURES))
                });
                match read {
                    Ok(sealed) => sealed,
                    Err(why) => return (Figures::NotCompared(why), notes),
                }
            }
        };
        let ours = self.asked.is_ours();
        let mut found = compare::Comparison::default();
        compare::figures(&sealed, &computed, ours, &mut found);
        if ours && !same && found.differences.is_empty() {
            found.words(assemble::FIGURES, "says the same, and is not written as the program writes it");
        }
        let table = sheet::data::figures_csv(self.asked.year, &self.computed.outcome);
        if !(same && as_written(assemble::FIGURES_TABLE, table.as_bytes())) {
            match text(self.seal, assemble::FIGURES_TABLE, most) {
                Ok(rows) => {
                    compare::table(&rows, &sealed, &mut found);
                    if ours && same && found.differences.is_empty() {
                        let what = "has the same values, and is not what the program writes";
                        found.words(assemble::FIGURES_TABLE, what);
                    }
                }
                Err(Obstacle::File(path, why)) => found.words(&path, &why.to_string()),
                Err(why) => found.words(assemble::FIGURES_TABLE, &why.to_string()),
            }
        }
        for (what, path, said) in [
            ("case", case_path(self.asked), &self.asked.case_fingerprint),
            ("figures", assemble::FIGURES.to_string(), &self.asked.figures_fingerprint),
        ] {
            if self.seal.payload.get(&path).is_some_and(|content| content.sha256 != *said) {
                found.words("request.json", &format!("names another {what} than lies in the packet"));
            }
        }
        notes.append(&mut found.notes);
        let lines = computed["lines"].as_array().map_or(0, Vec::len);
        match found.differences.is_empty() {
            true => (Figures::Agree { lines }, notes),
            false => (Figures::Differ { differences: found.differences, more: found.more }, notes),
        }
    }

    /// Returns the lines to which the law of this program gives another value than the sealed law.
    fn today(&self) -> Option<Vec<Difference>> {
        if self.law.others.is_empty() {
            return Some(Vec::new());
        }
        let law = Law::built_in();
        let sources = self.desk.sources.clone();
        let today = assemble::compute(&self.asked.case_file, &self.case_bytes, law, sources).ok()?;
        let case = today.case.as_ref()?;
        let data = sheet::json::figures(case, self.asked.year, law, &today.outcome, &today.sources);
        let sealed: Value = serde_json::from_slice(&self.data).ok()?;
        Some(compare::values(&sealed, &data))
    }

    /// Draws the pages again and compares them with the sealed ones; where this same program made the packet, also
    /// everything else that it wrote.
    fn pages(&self, naming: &Naming) -> Pages {
        let name = naming.own().unwrap_or_default();
        let written = match self.write(name) {
            Ok(written) => written,
            Err(why) if self.asked.is_ours() => {
                return Pages::Differ { files: vec![format!("none could be drawn again: {why}")] };
            }
            Err(why) => {
                let by = self.asked.made_by();
                return Pages::NotCompared(Obstacle::MadeElsewhere { by, why: Box::new(why) });
            }
        };
        if let Some((path, why)) = self.seal.damage.iter().find_map(Damage::unread) {
            return Pages::NotCompared(InFile::Unreadable(why.to_string()).of(path));
        }
        let is_page = |path: &str| {
            [assemble::WORKSHEET, assemble::LIVE_WORKSHEET].contains(&path)
                || path.starts_with(assemble::LETTERS)
        };
        let ours = self.asked.is_ours();
        let compared = |path: &str| ours || is_page(path);
        let mut wanted: BTreeMap<&str, String> = BTreeMap::new();
        for (path, bytes) in written.files.iter().filter(|(path, _)| compared(path)) {
            wanted.insert(path, packet::fingerprint(bytes));
        }
        let pages = wanted.keys().filter(|path| is_page(path)).count();
        let mut differ = Vec::new();
        for (path, fingerprint) in &wanted {
            if self.seal.payload.get(*path).is_none_or(|content| content.sha256 != *fingerprint) {
                differ.push((*path).to_string());
            }
        }
        let case = case_path(self.asked);
        let given = |path: &str| path == case || written.request.given.contains_key(path);
        let more =
            self.seal.payload.keys().filter(|path| compared(path) && !wanted.contains_key(path.as_str()));
        differ.extend(more.filter(|path| !given(path)).cloned());
        let described = || {
            let files = self.seal.payload.len();
            written.request.info(name).describe(self.seal.bytes(), files)
        };
        if ours && self.seal.info.as_ref() != Some(&described()) {
            differ.push(bag::INFO_FILE.to_string());
        }
        match (differ.is_empty(), ours) {
            (true, _) => Pages::Identical { files: pages },
            (false, true) => Pages::Differ { files: differ },
            (false, false) => Pages::NotCompared(Obstacle::DrawnElsewhere {
                by: self.asked.made_by(),
                alike: pages.saturating_sub(differ.len()),
                of: pages,
            }),
        }
    }

    /// Writes the packet again from what lies in it.
    fn write(&self, name: &str) -> Result<assemble::Written, Obstacle> {
        let mut sources = self.desk.sources.clone();
        let own = self.own_kit(&mut sources)?;
        let firm_bytes = match self.seal.payload.contains_key(assemble::FIRM) {
            true => Some(bytes(self.seal, assemble::FIRM, MOST_TEXT)?),
            false => None,
        };
        let firm = match &firm_bytes {
            Some(bytes) => {
                let (firm, _) = firm::read("firm.yaml", bytes, &mut sources);
                Some(firm.ok_or(Obstacle::Firm)?)
            }
            None => None,
        };
        let logo_path =
            firm.as_ref().and_then(|firm| firm.logo.as_ref()).map(|named| assemble::logo_path(&named.value));
        let logo_path = logo_path.map(|path| bag::composed(&path));
        let logo = match firm.as_ref().zip(logo_path.as_ref()) {
            Some((firm, path)) => {
                let file = bytes(self.seal, path, picture::MOST_BYTES)?;
                let read = picture::read(&file, &firm.name.value);
                Some(read.map_err(Obstacle::Logo)?)
            }
            None => None,
        };
        let layout = match own.as_ref().and_then(|own| own.layout.as_ref()) {
            Some(_) => None,
            None => self.layout()?,
        };
        let material = Material {
            letters: own.as_ref().map_or(&self.desk.letters, |own| &own.letters),
            layout: own.as_ref().and_then(|own| own.layout.as_ref()).or(layout.as_ref()),
            kit: &[],
            case_bytes: &self.case_bytes,
            firm: firm.as_ref().zip(firm_bytes.as_deref()),
            logo: logo.as_ref(),
            papers: &[],
        };
        let wanted = Wanted {
            year: self.asked.year,
            dated: self.asked.dated,
            draft: false,
            case_file: self.asked.case_file.clone(),
            replaces: self.asked.replaces.clone(),
            name: FileName::new(name).map_err(|why| Obstacle::Name(name.to_string(), why))?,
            also: self.asked.also.iter().filter_map(|word| form(word)).collect(),
        };
        let papers = self.computed.case.iter().flat_map(papers);
        let given = papers.chain(logo_path).chain([assemble::FIRM.to_string()]);
        let kit = self.seal.payload.keys().filter(|path| path.starts_with(assemble::KIT)).cloned();
        let given = given.chain(kit).filter_map(|path| {
            let content = self.seal.payload.get(&path)?;
            Some((path, content.sha256.clone()))
        });
        let written = assemble::write(&self.computed, self.law(), &wanted, &material, given.collect());
        written.map_err(Obstacle::NoPacket)
    }

    /// Reads the firm's own letters and layout, where the packet has them.
    fn own_kit(&self, sources: &mut Sources) -> Result<Option<assemble::OwnKit>, Obstacle> {
        let mut files = Vec::new();
        room(self.seal, assemble::KIT, MOST_KIT)?;
        for path in self.seal.payload.keys().filter(|path| path.starts_with(assemble::KIT)) {
            let inside = path[assemble::KIT.len()..].to_string();
            files.push((inside, text(self.seal, path, MOST_TEXT)?));
        }
        if files.is_empty() {
            return Ok(None);
        }
        let rank = |path: &str| letter::BUILT_IN.iter().position(|(known, _)| *known == path);
        // In the order in which the program reads a kit.
        files.sort_by_key(|(path, _)| (rank(path).unwrap_or(usize::MAX), path.clone()));
        let own = assemble::own_kit(&files, str::to_string, sources);
        match own.findings.iter().find(|one| one.severity == Severity::Error) {
            Some(error) => Err(Obstacle::Kit(error.message.clone())),
            None => Ok(Some(own)),
        }
    }

    /// Reads the sealed layout of the worksheet, where it is not the built-in one.
    fn layout(&self) -> Result<Option<sheet::Layout>, Obstacle> {
        let path = format!("data/{}", sheet::LAYOUT.0);
        let Ok(sealed) = text(self.seal, &path, MOST_TEXT) else { return Ok(None) };
        if sealed == sheet::LAYOUT.1 {
            return Ok(None);
        }
        let mut sources = Sources::default();
        let (read, told) = sheet::Layout::read(&path, &sealed, &mut sources);
        read.map(Some).ok_or_else(|| Obstacle::Layout(first(&told, &sources)))
    }
}

/// Returns the law that lies in a packet; packets of one season share theirs.
fn law(seal: &Checked, desk: &Desk) -> Result<Arc<Sealed>, Obstacle> {
    let files: Vec<(&String, &Content)> =
        seal.payload.iter().filter(|(path, _)| path.starts_with(assemble::LAW)).collect();
    if files.is_empty() {
        return Err(Obstacle::NoLaw);
    }
    let key: String = files.iter().map(|(path, content)| format!("{path} {}\n", content.sha256)).collect();
    let held = || desk.laws.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, law)) = held().iter().find(|(known, _)| *known == key) {
        return Ok(Arc::clone(law));
    }
    room(seal, assemble::LAW, MOST_LAW)?;
    let mut texts = Vec::new();
    for (path, _) in files {
        texts.push((path.strip_prefix("data/").unwrap_or(path), text(seal, path, MOST_LAW)?));
    }
    let others = texts.iter().filter_map(|(name, text)| another(name, text)).collect();
    let named: Vec<(&str, &str)> = texts.iter().map(|(name, text)| (*name, text.as_str())).collect();
    let law = Law::from_files(&named).map_err(|why| Obstacle::Law(first(&why.findings, &why.sources)));
    let sealed = Arc::new(Sealed { law, others });
    let mut laws = held();
    if laws.len() >= MOST_LAWS {
        laws.remove(0);
    }
    laws.push((key, Arc::clone(&sealed)));
    Ok(sealed)
}

/// Says of a sealed file of law that this program has another one for that year; none where it has the same.
fn another(name: &str, text: &str) -> Option<String> {
    let year = name.strip_prefix("law/").and_then(|name| name.strip_suffix(".yaml"));
    let year = year.and_then(|year| year.parse().ok()).map(TaxYear);
    let known = year.and_then(|year| Law::files(&[year]).into_iter().find(|file| file.0 == year));
    let Some((_, _, known)) = known else {
        return Some(format!("{name} is of a year that this program does not have"));
    };
    let edition =
        |text: &str| text.lines().find_map(|line| line.strip_prefix("edition: ").map(str::to_string));
    let (sealed, today) = (edition(text).unwrap_or_default(), edition(known).unwrap_or_default());
    match (known == text, sealed == today) {
        (true, _) => None,
        (false, true) => Some(format!(
            "{name} is not the one this program has, although both are of edition {}",
            today.escape_debug()
        )),
        (false, false) => {
            Some(format!("{name} is of edition {}, and this program has {today}", sealed.escape_debug()))
        }
    }
}

/// Says which official line maps have been revised since the packet was made.
fn revised(seal: &Checked) -> Option<String> {
    let inside = "data/layouts/official/";
    let changed = seal.payload.iter().filter_map(|(path, content)| {
        let year = path.strip_prefix(inside)?.strip_suffix(".yaml")?;
        let (_, known) = sheet::official::file(TaxYear(year.parse().ok()?))?;
        let same =
            content.length == known.len() as u64 && content.sha256 == packet::fingerprint(known.as_bytes());
        (!same).then_some(year)
    });
    let years: Vec<&str> = changed.collect();
    (!years.is_empty())
        .then(|| format!("the map of official lines has been revised since for {}", years.join(", ")))
}

/// Returns where the papers of a case lie in its packet.
fn papers(case: &Case) -> impl Iterator<Item = String> {
    let named = case.evidence.iter().filter_map(|paper| paper.file.as_ref());
    named.map(|file| bag::composed(&assemble::paper_path(&file.value.replace('\\', "/"))))
}

/// Tells the first of what is wrong with a text, with its place.
fn first(findings: &[Finding], sources: &Sources) -> String {
    let Some(first) = findings.first() else { return String::new() };
    let place = first.at.map_or_else(String::new, |at| {
        let (name, place) = (&sources.get(at.source).name, sources.line_column(at));
        format!("{name}:{}:{}: ", place.line, place.column)
    });
    format!("{place}{}", first.message)
}

/// Says whether all files of a folder of the payload together are not larger than they may be.
fn room(seal: &Checked, inside: &str, most: u64) -> Result<(), Obstacle> {
    let files = seal.payload.iter().filter(|(path, _)| path.starts_with(inside));
    let bytes: u64 = files.map(|(_, content)| content.length).sum();
    if bytes > most { Err(InFile::TooLarge.of(inside)) } else { Ok(()) }
}

/// Reads a file of the payload, if it is not larger than it may be.
fn bytes(seal: &Checked, path: &str, most: u64) -> Result<Vec<u8>, Obstacle> {
    let why = || seal.unread(path).map_or(InFile::Missing, |why| InFile::Unreadable(why.to_string()));
    let content = seal.payload.get(path).ok_or_else(|| why().of(path))?;
    read(&content.place, most).map_err(|why| why.of(path))
}

fn text(seal: &Checked, path: &str, most: u64) -> Result<String, Obstacle> {
    String::from_utf8(bytes(seal, path, most)?).map_err(|_| InFile::NotText.of(path))
}

fn read(place: &Path, most: u64) -> Result<Vec<u8>, InFile> {
    let refused = |error: std::io::Error| InFile::Unreadable(held::words(&error));
    let file = std::fs::File::open(place).map_err(refused)?;
    let mut bytes = Vec::new();
    file.take(most + 1).read_to_end(&mut bytes).map_err(refused)?;
    if bytes.len() as u64 > most { Err(InFile::TooLarge) } else { Ok(bytes) }
}

/// Returns where the sealed case lies.
fn case_path(asked: &Asked) -> String {
    bag::composed(&format!("data/{}", asked.case_file))
}

/// Returns the form of letters or of the worksheet that a word means.
fn form(word: &str) -> Option<Also> {
    Also::ALL.into_iter().find(|form| form.word() == word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_packet_that_cannot_be_read_is_not_called_broken() {
        let unread = |path: &str| Damage::Unreadable { path: path.to_string(), error: "held".to_string() };
        let report = |damage: Vec<Damage>, naming: Naming, slip: Slip| {
            let mut report = verify(Path::new("no such packet"), &Desk::default());
            (report.seal.damage, report.naming, report.slip) = (damage, naming, slip);
            report.verdict()
        };
        let own = || Naming::Own("HH-1-2025".to_string());
        assert_eq!(report(Vec::new(), own(), Slip::Agrees), Verdict::Intact);
        assert_eq!(report(vec![unread("data/worksheet.pdf")], own(), Slip::Missing), Verdict::NotRead);
        assert_eq!(report(vec![unread(bag::INFO_FILE)], Naming::Unnamed, Slip::NotRead), Verdict::NotRead);
        assert_eq!(report(Vec::new(), own(), Slip::NotRead), Verdict::NotRead);
        // What is known to be wrong stays wrong beside what is not known.
        let both = vec![unread("data/worksheet.pdf"), Damage::Altered("data/figures.json".to_string())];
        assert_eq!(report(both, own(), Slip::Agrees), Verdict::Broken);
        assert_eq!(report(vec![unread("data/worksheet.pdf")], own(), Slip::Altered), Verdict::Broken);
        assert_eq!(
            report(vec![unread("data/worksheet.pdf")], Naming::Unnamed, Slip::Agrees),
            Verdict::Broken
        );
    }
}
