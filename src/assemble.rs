//! The main job, told in order: one case in, one packet out.
//!
//! Comes in: the text of a case and what was asked for. Goes out: the packet's files as bytes, and all findings.
//! Reads no file and no clock; `cli` does that and hands the bytes in.

use crate::case::firm::Firm;
use crate::case::{self, Case, Language, TaxYear};
use crate::credit::facts::{Facts, facts};
use crate::credit::{self, Outcome, papers, qualify};
use crate::document::Document;
use crate::finding::{Finding, Severity, Sources, Span};
use crate::law::Law;
use crate::name::FileName;
use crate::packet::{self, Asked, Packet, Replaced, Request, bag, read_me};
use crate::picture::Picture;
use crate::{docx, html, letter, page, sheet, workbook};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::OnceLock;

/// A case that was read and computed, with everything found on the way.
pub struct Computed {
    /// The texts that findings point into.
    pub sources: Sources,
    /// The facts; none when the file could not be read as a case.
    pub case: Option<Case>,
    /// The figures, empty when the case has errors that stand in their way; and all findings, of reading and of computing.
    pub outcome: Outcome,
    /// The years of which the law was asked for while computing.
    pub law_asked: BTreeSet<TaxYear>,
}

impl Computed {
    /// Returns the worst finding's severity.
    pub fn worst(&self) -> Option<Severity> {
        self.outcome.findings.iter().map(|finding| finding.severity).max()
    }

    /// Says whether an error stands.
    pub fn has_errors(&self) -> bool {
        self.worst() == Some(Severity::Error)
    }

    /// Returns the year a packet is for when none is asked: the latest with a return.
    pub fn latest_year(&self) -> Option<TaxYear> {
        let case = self.case.as_ref()?;
        let with_return = case.returns.iter().map(|one| one.year.value).max();
        with_return.or_else(|| self.outcome.years.last().copied())
    }

    /// Returns what was found, as far as it has to do with a year; without a year, all of it.
    pub fn findings_for(&self, year: Option<TaxYear>) -> Vec<Finding> {
        year.map_or_else(|| self.outcome.findings.clone(), |year| self.outcome.findings_for(year))
    }
}

/// A case that was read, before anything is computed.
pub struct Read {
    sources: Sources,
    /// The facts; none when the file could not be read as a case.
    pub case: Option<Case>,
    findings: Vec<Finding>,
}

impl Read {
    /// Says whether an error stands.
    pub fn has_errors(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity == Severity::Error)
    }
}

/// Reads a case. Its text joins the texts that findings may point into already.
pub fn read(name: &str, bytes: &[u8], mut sources: Sources) -> Read {
    let (case, findings) = case::read_for_print(name, bytes, &mut sources, &page::prints);
    Read { sources, case, findings }
}

/// Reads a case and computes it. Its text joins the texts that findings may point into already.
pub fn compute(name: &str, bytes: &[u8], law: &Law, sources: Sources) -> Result<Computed, credit::Fault> {
    reckon(read(name, bytes, sources), law)
}

/// Computes a case that was read.
pub fn reckon(read: Read, law: &Law) -> Result<Computed, credit::Fault> {
    let Read { sources, case, mut findings } = read;
    // Words to choose from are explained by the law as it is; no figure comes of it, so no year is noted for it.
    findings.iter_mut().for_each(|finding| crate::law::effects::explain(finding, law));
    let law = law.watched();
    let mut outcome = match &case {
        Some(case) => credit::compute(case, &law)?,
        None => Outcome::default(),
    };
    // Paper and data show what was found in reading as well.
    findings.append(&mut outcome.findings);
    credit::weight::order(&mut findings, case.as_ref(), &outcome.figures);
    outcome.findings = findings;
    Ok(Computed { sources, case, outcome, law_asked: law.asked() })
}

/// What was asked for.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The tax year.
    pub year: TaxYear,
    /// The date on the papers.
    pub dated: Date,
    /// A draft, with the word on every page.
    pub draft: bool,
    /// The case file's own name, without folders.
    pub case_file: String,
    /// The packet this one replaces and why.
    pub replaces: Option<Replaced>,
    /// The packet's folder name.
    pub name: FileName,
    /// Letters and the worksheet also in these forms.
    pub also: Vec<Also>,
}

/// A form in which letters, or the worksheet, are made besides PDF.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Also {
    /// One file of HTML, for e-mail.
    Html,
    /// A file for word processors.
    Docx,
    /// The worksheet as a spreadsheet that computes.
    Xlsx,
}

impl Also {
    /// All forms.
    pub const ALL: [Also; 3] = [Also::Html, Also::Docx, Also::Xlsx];

    /// Returns the form's word, which is also the ending of its files.
    pub fn word(self) -> &'static str {
        match self {
            Also::Html => "html",
            Also::Docx => "docx",
            Also::Xlsx => "xlsx",
        }
    }
}

/// What the packet is made from besides the case.
pub struct Material<'a> {
    /// The letters' texts.
    pub letters: &'a letter::Kit,
    /// The firm's own layout of the worksheet; none for the built-in one.
    pub layout: Option<&'a sheet::Layout>,
    /// The files of the firm's own kit, by their path there.
    pub kit: &'a [(String, Vec<u8>)],
    /// The case as read.
    pub case_bytes: &'a [u8],
    /// The firm, and its file as read.
    pub firm: Option<(&'a Firm, &'a [u8])>,
    /// The firm's logo.
    pub logo: Option<&'a Picture>,
    /// Evidence files: their path in the case, and their bytes.
    pub papers: &'a [(String, Vec<u8>)],
}

/// Why no packet came of a case.
#[derive(Clone, Debug, PartialEq)]
pub enum NoPacket {
    /// The program's own mistake.
    Fault(String),
    /// Letters or pages could not be made; the findings say why.
    Findings(Vec<Finding>),
}

impl fmt::Display for NoPacket {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoPacket::Fault(what) => f.write_str(what),
            NoPacket::Findings(findings) => {
                let first = findings.iter().find(|one| one.severity == Severity::Error);
                f.write_str(first.map_or("the pages cannot be drawn", |one| &one.message))
            }
        }
    }
}

impl std::error::Error for NoPacket {}

/// A packet, the facts of its year, and what writing it has found besides.
#[derive(Debug)]
pub struct Made {
    /// The packet.
    pub packet: Packet,
    /// The facts.
    pub facts: Facts,
    /// What was found in writing letters and pages.
    pub findings: Vec<Finding>,
}

/// Makes the packet of a computed case, sealed unless it is a draft.
pub fn packet(
    computed: &mut Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
) -> Result<Made, NoPacket> {
    let Some(case) = &computed.case else {
        return Err(NoPacket::Findings(computed.outcome.findings.clone()));
    };
    // The packet names the case file without the folders it lay in: they are nobody's business, and another desk's
    // packet must not differ by them.
    let written = case.client.reference.span.source;
    let shown = computed.sources.rename(written, &wanted.case_file);
    let made = make(computed, law, wanted, material);
    computed.sources.rename(written, &shown);
    made
}

fn make(
    computed: &mut Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
) -> Result<Made, NoPacket> {
    let given = given(material);
    let marks = given.iter().map(|(path, bytes)| (path.clone(), packet::fingerprint(bytes))).collect();
    let written = write(computed, law, wanted, material, marks)?;
    let mut packet = Packet::new(wanted.name.clone());
    packet.files = written.files;
    packet.add(case_path(wanted), material.case_bytes);
    for (path, bytes) in given {
        packet.add(path, bytes);
    }
    let request = &written.request;
    if wanted.draft {
        packet.add(
            packet::write::DRAFT_MARK,
            "A draft. It may be replaced by another draft of the same name.\n",
        );
        packet.files.sort();
    } else {
        let sealed = bag::seal(&mut packet, &request.info(&wanted.name), &known(request));
        let digest = sealed.map_err(|why| {
            let case = computed.case.as_ref();
            NoPacket::Findings(case.map(|case| unnameable(&why, case, material)).into_iter().collect())
        })?;
        let asked =
            Asked::read(&request.to_json().to_string()).map_err(|why| NoPacket::Fault(why.to_string()))?;
        packet.slip = Some(slip(&wanted.name, &asked, &digest)?);
    }
    Ok(Made { packet, facts: written.facts, findings: written.findings })
}

/// What the program writes of a packet, apart from the seal.
pub(crate) struct Written {
    /// The files, by their path in the packet: everything but the case and what was given besides it.
    pub files: Vec<(String, Vec<u8>)>,
    /// What was asked for.
    pub request: Request,
    findings: Vec<Finding>,
    facts: Facts,
}

/// Writes everything in a packet that is not given; `given` are the fingerprints of what is, by path in the packet.
pub(crate) fn write(
    computed: &Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
    given: BTreeMap<String, String>,
) -> Result<Written, NoPacket> {
    let Some(case) = &computed.case else {
        return Err(NoPacket::Findings(computed.outcome.findings.clone()));
    };
    let outcome = &computed.outcome;
    // What figures and pages ask of the law is noted, so that the packet holds it.
    let law = &law.watched();
    let data = figures(case, law, outcome, wanted.year, &computed.sources)?;
    let stamps = stamps(law, outcome, wanted, material, &data);
    let pages = pages(computed, law, wanted, material, &stamps)?;
    let keep = papers::keep_all(case, law, outcome, wanted.year);
    let law_files = law_files(case, &(&computed.law_asked | &law.asked()));
    let editions = law_files.iter().filter_map(|(year, _)| law.year(*year));
    let editions = editions.map(|law| (law.year.0, law.edition.clone())).collect();
    let request = request(case, wanted, stamps, given, editions, &keep);

    // A packet without its seal and what is given.
    let mut packet = Packet::new(wanted.name.clone());
    packet.files.extend(pages.files);
    packet.add(FIGURES_TABLE, sheet::data::figures_csv(wanted.year, outcome));
    packet.add(FIGURES, data);
    for (path, text) in layouts(case, law, material.layout.is_some()) {
        packet.add(path, text);
    }
    for (path, text) in schemas() {
        packet.add(path, text.as_str());
    }
    for (year, text) in law_files {
        packet.add(format!("{LAW}{year}.yaml"), text);
    }
    let stored = serde_json::to_vec_pretty(&request.to_json());
    packet.add(REQUEST, stored.map_err(|error| NoPacket::Fault(error.to_string()))?);
    let own = case_path(wanted);
    let mut paths: Vec<&str> = packet.files.iter().map(|(path, _)| path.as_str()).collect();
    paths.extend(request.given.keys().map(String::as_str).chain([own.as_str()]));
    let read_me = read_me::write(&wanted.name, &request, &paths);
    packet.add(READ_ME, read_me);
    Ok(Written { files: packet.files, request, findings: pages.findings, facts: pages.facts })
}

/// Returns where the case lies in a packet.
fn case_path(wanted: &Wanted) -> String {
    bag::composed(&format!("data/{}", wanted.case_file))
}

/// Complains about a case that has no figures of any year and no error that says why: it has no return, and no property
/// of a known year.
pub fn no_year(computed: &Computed) -> Option<Finding> {
    let case =
        computed.case.as_ref().filter(|_| computed.outcome.years.is_empty() && !computed.has_errors())?;
    let brought_in = case.carried_in.first().map(|one| one.amount.span);
    let untimed = case.property.first().map(|item| item.key.span);
    let message =
        "there is nothing to compute: the case has no return, and no property whose tax year is known";
    let finding = Finding::error("nothing-to-compute", message)
        .at(brought_in.or(untimed).unwrap_or(case.client.reference.span));
    Some(finding.help(
        "add the client's return, such as `returns: {2025: {stage: draft, filing_status: single, tax_before_credits: \
         3200}}`",
    ))
}

/// Says that a case waits for the return of the year into which it brings credit. It is what a client comes with in
/// January: there is nothing to compute yet, and nothing wrong.
fn return_awaited(case: &Case) -> Option<Finding> {
    let brought_in = case.carried_in.iter().max_by_key(|one| one.year.value)?;
    let year = brought_in.year.value;
    let message = format!(
        "the return of {year} is not in the case yet, so nothing is computed and no packet is made; {} carried into {year} is on file",
        brought_in.amount.value.spoken()
    );
    let help = format!(
        "add the return when it is known, such as `returns: {{{year}: {{stage: draft, filing_status: single, tax_before_credits: 3200}}}}`; `gablework remind` writes to the client without it"
    );
    Some(Finding::note("return-awaited", message).at(brought_in.amount.span).help(help))
}

/// Finds what would keep the packet of any year of a computed case from being made: what cannot be written, laid out
/// or named, and what is more than a packet may hold. Draws nothing; the bytes of papers do not matter, only how many
/// they are, `papers`.
pub fn refusals(
    computed: &Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
    papers: u64,
) -> Vec<Finding> {
    let Some(case) = &computed.case else { return Vec::new() };
    // There are no figures of one year to take a fingerprint of, and nothing here shows it.
    let stamps = stamps(law, &computed.outcome, wanted, material, &[]);
    let mut found: Vec<Finding> =
        no_year(computed).map(|one| return_awaited(case).unwrap_or(one)).into_iter().collect();
    for year in &computed.outcome.years {
        let wanted = Wanted { year: *year, ..wanted.clone() };
        let documents = match documents(computed, law, &wanted, material, &stamps) {
            Ok(documents) => documents,
            Err(NoPacket::Findings(findings)) => {
                found.extend(findings);
                continue;
            }
            Err(NoPacket::Fault(_)) => continue,
        };
        let places = Places { sources: &computed.sources, case, firm: material.firm.map(|(firm, _)| firm) };
        let all = std::iter::once(&documents.worksheet).chain(documents.letters.iter().map(|(_, one)| one));
        found.extend(all.filter_map(|one| lay_out(one, places).err()).flatten());
        let letters = documents.letters.iter().map(|(name, _)| format!("{LETTERS}{name}.pdf"));
        let made = [WORKSHEET, LIVE_WORKSHEET, FIGURES, FIGURES_TABLE, REQUEST, READ_ME].map(str::to_string);
        let given = given(material);
        let layouts = layouts(case, law, material.layout.is_some());
        let law_files = law_files(case, &BTreeSet::new());
        // What is drawn comes to it, and is small beside what a firm may add.
        let bytes = given.iter().map(|(_, bytes)| bytes.len()).sum::<usize>()
            + layouts.iter().map(|(_, text)| text.len()).sum::<usize>()
            + law_files.iter().map(|(_, text)| text.len()).sum::<usize>()
            + schemas().iter().map(|(_, text)| text.len()).sum::<usize>()
            + material.case_bytes.len();
        let taken = given.into_iter().map(|(path, _)| path).chain([case_path(&wanted)]);
        let law_files = law_files.into_iter().map(|(year, _)| format!("{LAW}{year}.yaml"));
        let layouts = layouts.into_iter().map(|(path, _)| path).chain(law_files);
        let schemas = schemas().iter().map(|(path, _)| path.to_string());
        // The firm's files come last, because they are the ones that can be renamed.
        let paths: Vec<String> =
            made.into_iter().chain(letters).chain(layouts).chain(schemas).chain(taken).collect();
        let paths = || paths.iter().map(String::as_str);
        if let Err(why) = bag::nameable(paths()).and_then(|()| bag::fits(paths(), bytes as u64 + papers)) {
            found.push(unnameable(&why, case, material));
        }
    }
    let mut told = Vec::new();
    found.retain(|one| {
        let new = !told.contains(one);
        if new {
            told.push(one.clone());
        }
        new
    });
    found
}

/// Draws the seal slip of a packet: its name, and its bytes. A slip that was lost is drawn again from the packet.
pub fn slip(name: &str, asked: &Asked, digest: &str) -> Result<(String, Vec<u8>), NoPacket> {
    let document = packet::slip::write(name, asked, digest);
    let pages = page::lay_out(&document).map_err(|faults| {
        let first = faults.first().map_or_else(String::new, ToString::to_string);
        NoPacket::Fault(format!("the seal slip cannot be drawn: {first}"))
    })?;
    let stamp = page::Stamp { id: packet::short_fingerprint(digest.as_bytes()), date: asked.dated };
    Ok((packet::slip::file_name(name), page::to_pdf(&pages, &stamp)))
}

/// The pages of a packet.
struct Drawn {
    /// The files, by their path in the packet.
    files: Vec<(String, Vec<u8>)>,
    /// What was found on the way.
    findings: Vec<Finding>,
    /// The facts of the year.
    facts: Facts,
}

/// Writes the figures of a year as a packet holds them.
pub(crate) fn figures(
    case: &Case,
    law: &Law,
    outcome: &Outcome,
    year: TaxYear,
    sources: &Sources,
) -> Result<Vec<u8>, NoPacket> {
    let data = sheet::json::figures(case, year, law, outcome, sources);
    serde_json::to_vec_pretty(&data).map_err(|error| NoPacket::Fault(error.to_string()))
}

/// Warns of papers whose date is before the law that they follow: nobody could have written them on that day.
fn before_the_law(law: &Law, outcome: &Outcome, dated: Date) -> Option<Finding> {
    let edition = edition(law, outcome);
    let known: Date = edition.parse().ok()?;
    (dated < known).then(|| {
        let message =
            format!("the papers are dated {dated}, before the law they follow, as known on {edition}");
        Finding::warning("dated-before-law", message).help(format!("date them {edition} or later"))
    })
}

/// Returns the latest edition of the law of some figures' years.
fn edition(law: &Law, outcome: &Outcome) -> String {
    let editions = outcome.years.iter().filter_map(|year| law.year(*year)).map(|law| law.edition.clone());
    editions.max().unwrap_or_default()
}

/// Worksheet and letters, written and not laid out.
struct Documents {
    worksheet: Document,
    /// The letters, by name.
    letters: Vec<(String, Document)>,
    /// What was found on the way.
    findings: Vec<Finding>,
    /// The facts of the year.
    facts: Facts,
}

/// Writes worksheet and letters.
fn documents(
    computed: &Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
    stamps: &sheet::Stamps,
) -> Result<Documents, NoPacket> {
    let Some(case) = &computed.case else {
        return Err(NoPacket::Findings(computed.outcome.findings.clone()));
    };
    let outcome = &computed.outcome;
    let facts = facts(case, law, outcome, wanted.year, wanted.draft, wanted.dated);
    let layout = material.layout.unwrap_or_else(|| sheet::Layout::built_in());
    let (year, sources) = (wanted.year, &computed.sources);
    let worksheet =
        sheet::write(&sheet::Material { layout, case, law, outcome, year, facts: &facts, sources, stamps });
    let firm = material.firm.map(|(firm, _)| firm);
    let about = letter::Request {
        case,
        law,
        outcome,
        year: wanted.year,
        facts: &facts,
        firm,
        logo: material.logo,
        dated: wanted.dated,
        replaces: wanted
            .replaces
            .as_ref()
            .map(|one| letter::Earlier { packet: &one.packet, dated: one.dated }),
    };
    let (letters, mut findings) = letter::write(&about, material.letters);
    findings.extend(before_the_law(law, outcome, wanted.dated));
    if findings.iter().any(|finding| finding.severity == Severity::Error) {
        return Err(NoPacket::Findings(findings));
    }
    Ok(Documents { worksheet, letters, findings, facts })
}

/// Draws worksheet and letters.
fn pages(
    computed: &Computed,
    law: &Law,
    wanted: &Wanted,
    material: &Material<'_>,
    stamps: &sheet::Stamps,
) -> Result<Drawn, NoPacket> {
    let Documents { worksheet, letters, findings, facts } =
        documents(computed, law, wanted, material, stamps)?;
    let Some(case) = &computed.case else {
        return Err(NoPacket::Findings(computed.outcome.findings.clone()));
    };
    let places = Places { sources: &computed.sources, case, firm: material.firm.map(|(firm, _)| firm) };
    let id = packet::short_fingerprint(
        format!("{}{}", stamps.case_fingerprint, stamps.figures_fingerprint).as_bytes(),
    );
    let stamp = page::Stamp { id, date: wanted.dated };
    let draw = |document: &Document| {
        let pages = lay_out(document, places).map_err(NoPacket::Findings)?;
        Ok(page::to_pdf(&pages, &stamp))
    };
    let mut files = vec![(WORKSHEET.to_string(), draw(&worksheet)?)];
    for (name, letter) in &letters {
        files.push((format!("{LETTERS}{name}.pdf"), draw(letter)?));
        for form in &wanted.also {
            let bytes = match form {
                Also::Html => html::write(letter).into_bytes(),
                Also::Docx => {
                    docx::write(letter, wanted.dated).map_err(|error| NoPacket::Fault(error.to_string()))?
                }
                Also::Xlsx => continue,
            };
            files.push((format!("{LETTERS}{name}.{}", form.word()), bytes));
        }
    }
    if wanted.also.contains(&Also::Xlsx) {
        let layout = material.layout.unwrap_or_else(|| sheet::Layout::built_in());
        let (outcome, year, sources) = (&computed.outcome, wanted.year, &computed.sources);
        let sheets = sheet::Material { layout, case, law, outcome, year, facts: &facts, sources, stamps };
        files.push((LIVE_WORKSHEET.to_string(), spreadsheet(&sheets, wanted.dated)?));
    }
    Ok(Drawn { files, findings, facts })
}

/// Writes the worksheet of a year as a spreadsheet that computes, apart from any packet.
pub fn live_worksheet(
    computed: &Computed,
    law: &Law,
    case_bytes: &[u8],
    year: TaxYear,
    dated: Date,
) -> Result<Vec<u8>, NoPacket> {
    let Some(case) = &computed.case else {
        return Err(NoPacket::Findings(computed.outcome.findings.clone()));
    };
    let data = figures(case, law, &computed.outcome, year, &computed.sources)?;
    let stamps = sheet::Stamps {
        case_fingerprint: packet::fingerprint(case_bytes),
        figures_fingerprint: packet::fingerprint(&data),
        law_edition: edition(law, &computed.outcome),
        dated: Some(dated),
        ..sheet::Stamps::default()
    };
    let (outcome, sources, stamps) = (&computed.outcome, &computed.sources, &stamps);
    let layout = sheet::Layout::built_in();
    let facts = &facts(case, law, outcome, year, stamps.draft, dated);
    spreadsheet(&sheet::Material { layout, case, law, outcome, year, facts, sources, stamps }, dated)
}

/// Writes the worksheet as a spreadsheet.
fn spreadsheet(material: &sheet::Material<'_>, dated: Date) -> Result<Vec<u8>, NoPacket> {
    workbook::write(material, dated).map_err(|error| NoPacket::Fault(error.to_string()))
}

/// A firm's own letters and layout, read.
pub struct OwnKit {
    /// The letters.
    pub letters: letter::Kit,
    /// The worksheet's layout, where the firm has its own.
    pub layout: Option<sheet::Layout>,
    /// What is wrong with them.
    pub findings: Vec<Finding>,
}

/// Reads a firm's own letters and layout from the texts of its files, each with its path in the kit; `shown` gives the
/// name by which findings call a file. Of letters, what a language lacks as a whole is taken as built in.
pub fn own_kit(files: &[(String, String)], shown: impl Fn(&str) -> String, sources: &mut Sources) -> OwnKit {
    let (layout_path, _) = sheet::LAYOUT;
    let mut findings = Vec::new();
    let mut layout = None;
    if let Some((path, text)) = files.iter().find(|(path, _)| path == layout_path) {
        let (read, told) = sheet::Layout::read(&shown(path), text, sources);
        layout = read;
        findings.extend(told);
    }
    let own: Vec<(String, &str)> = files
        .iter()
        .filter(|(path, _)| path != layout_path)
        .map(|(path, text)| (shown(path), text.as_str()))
        .collect();
    let mut letters: Vec<(&str, &str)> = own.iter().map(|(path, text)| (path.as_str(), *text)).collect();
    for language in Language::ALL {
        let inside = format!("letters/{language}/");
        if !files.iter().any(|(path, _)| path.starts_with(&inside)) {
            letters.extend(letter::BUILT_IN.iter().filter(|(path, _)| path.starts_with(&inside)));
        }
    }
    let (letters, told) = letter::Kit::read(&letters, sources);
    findings.extend(told);
    OwnKit { letters, layout, findings }
}

/// Where the parts of a packet lie that are found again by name.
pub(crate) const WORKSHEET: &str = "data/worksheet.pdf";
pub(crate) const LIVE_WORKSHEET: &str = "data/worksheet.xlsx";
pub(crate) const LETTERS: &str = "data/letters/";
pub(crate) const FIGURES: &str = "data/figures.json";
pub(crate) const FIGURES_TABLE: &str = "data/figures.csv";
pub(crate) const REQUEST: &str = "data/request.json";
pub(crate) const FIRM: &str = "data/firm.yaml";
pub(crate) const KIT: &str = "data/kit/";
pub(crate) const LAW: &str = "data/law/";
const READ_ME: &str = "data/README.txt";

/// Complains about files that cannot stand in one folder under their names, at the paper or the logo that is to blame.
fn unnameable(why: &bag::Unnameable, case: &Case, material: &Material<'_>) -> Finding {
    let papers = case.evidence.iter().filter_map(|paper| paper.file.as_ref());
    let mut papers = papers.map(|file| (paper_path(&file.value.replace('\\', "/")), file.span));
    let logo = material.firm.and_then(|(firm, _)| firm.logo.as_ref());
    let logo = logo.map(|logo| (logo_path(&logo.value), logo.span));
    // The last one: where two have one name, the first may keep it.
    let blamed = papers.rfind(|(path, _)| bag::composed(path) == why.path);
    let blamed = blamed.or_else(|| logo.filter(|(path, _)| bag::composed(path) == why.path));
    let help = match why.path.is_empty() {
        true => {
            "take out of the kit what is no letter in use, and leave `file:` out of papers that are kept elsewhere"
        }
        false => {
            "give the paper, the logo or the case file another name, of letters, digits, hyphens and points, and name \
             each paper once"
        }
    };
    let finding = Finding::error("packet-names", why.reason.clone()).help(help);
    match blamed {
        Some((_, span)) => finding.at(span),
        None => finding.at(case.client.reference.span),
    }
}

/// Returns what goes into the packet as it was given besides the case: path in the packet, and bytes.
pub(crate) fn given<'a>(material: &Material<'a>) -> Vec<(String, &'a [u8])> {
    let mut given: Vec<(String, &[u8])> = Vec::new();
    if let Some((firm, bytes)) = material.firm {
        given.push((FIRM.to_string(), bytes));
        if let (Some(named), Some(logo)) = (&firm.logo, material.logo) {
            given.push((logo_path(&named.value), &logo.file));
        }
    }
    given.extend(material.kit.iter().map(|(path, bytes)| (format!("{KIT}{path}"), bytes.as_slice())));
    given.extend(material.papers.iter().map(|(path, bytes)| (paper_path(path), bytes.as_slice())));
    given.into_iter().map(|(path, bytes)| (bag::composed(&path), bytes)).collect()
}

/// Returns the fingerprints that are worked out already, by the path of their files in the packet.
fn known(request: &Request) -> BTreeMap<String, String> {
    let mut known = request.given.clone();
    known.insert(bag::composed(&format!("data/{}", request.case_file)), request.case_fingerprint.clone());
    known.insert(FIGURES.to_string(), request.figures_fingerprint.clone());
    known
}

/// Returns where the firm's logo lies in a packet: beside the firm's file, as it was, so that the letters can be made
/// again from the packet.
pub(crate) fn logo_path(named: &str) -> String {
    format!("data/{}", named.replace('\\', "/"))
}

/// Returns where a paper lies in a packet. A case that keeps its papers in `papers` finds them there again when it is
/// read from the packet.
pub(crate) fn paper_path(named: &str) -> String {
    format!("data/papers/{}", named.strip_prefix("papers/").unwrap_or(named))
}

/// Returns the files of law that a packet rests on: year and text. These are the years of the case, the years that were
/// asked for while it was computed and drawn, such as one of an earlier credit, and the years whose law these take over.
fn law_files(case: &Case, asked: &BTreeSet<TaxYear>) -> Vec<(TaxYear, &'static str)> {
    let years: Vec<TaxYear> = case_years(case).union(asked).copied().collect();
    Law::files(&years).into_iter().map(|(year, _, text)| (year, text)).collect()
}

/// Returns the years that a case speaks of: of its returns and property, and the one after them, into which credit goes
/// on.
fn case_years(case: &Case) -> BTreeSet<TaxYear> {
    let mut years: BTreeSet<TaxYear> = case.returns.iter().map(|one| one.year.value).collect();
    years.extend(case.carried_in.iter().map(|one| one.year.value));
    for item in &case.property {
        years.extend(case.home(&item.home.value).and_then(|home| qualify::timing(item, home).year()));
        years.extend(item.placed_in_service.iter().map(|day| TaxYear::of(day.value)));
    }
    match (years.first(), years.last()) {
        (Some(first), Some(last)) => (first.0..=last.0.saturating_add(1)).map(TaxYear).collect(),
        _ => years,
    }
}

/// Returns the layouts of a packet: the official line map of each of the case's years, and the worksheet's layout
/// unless it lies in the firm's own kit.
fn layouts(case: &Case, law: &Law, own: bool) -> Vec<(String, &'static str)> {
    let years = case_years(case).into_iter().filter(|year| law.year(*year).is_some());
    let mut files: Vec<(String, &'static str)> = years
        .filter_map(sheet::official::file)
        .map(|(name, text)| (format!("data/layouts/{name}"), text))
        .collect();
    if !own {
        files.push((format!("data/{}", sheet::LAYOUT.0), sheet::LAYOUT.1));
    }
    files
}

/// Returns the schemas of a packet's data: path in the packet, and text. They are the same for every packet.
fn schemas() -> &'static [(&'static str, String)] {
    static SCHEMAS: OnceLock<[(&str, String); 3]> = OnceLock::new();
    SCHEMAS.get_or_init(|| {
        [
            ("data/schemas/case.schema.json", format!("{:#}\n", case::schema::case())),
            ("data/schemas/figures.schema.json", format!("{:#}\n", sheet::json::schema())),
            ("data/schemas/firm.schema.json", format!("{:#}\n", case::schema::firm())),
        ]
    })
}

/// The texts in which the words of a document were written.
#[derive(Clone, Copy)]
pub struct Places<'a> {
    /// All texts.
    pub sources: &'a Sources,
    /// The case.
    pub case: &'a Case,
    /// The firm, where its file is among the texts.
    pub firm: Option<&'a Firm>,
}

/// Lays a document out. What keeps a page from being drawn is pointed at where it was written.
pub fn lay_out(document: &Document, places: Places<'_>) -> Result<page::Pages, Vec<Finding>> {
    page::lay_out(document).map_err(|faults| {
        let complain = |fault: &page::PageFault| match places.of(fault) {
            Some(span) => Finding::error("page-fault", fault.to_string()).at(span).help(fault.help()),
            None => Finding::error("page-fault", format!("{}: {fault}", document.title)).help(fault.help()),
        };
        faults.iter().map(complain).collect()
    })
}

impl Places<'_> {
    /// Finds where the words were written that keep a page from being drawn.
    fn of(&self, fault: &page::PageFault) -> Option<Span> {
        use page::PageFault;
        let case = self.case.client.reference.span.source;
        let mail_to = self.case.client.mail_to.as_ref();
        match fault {
            PageFault::MissingCharacter { character, .. } => self.sources.find(case, *character),
            PageFault::AddressTooLong { .. } => {
                let to = mail_to?;
                Some(to.names.first().map_or(to.span, |name| name.span))
            }
            PageFault::AddressTooWide { line } => mail_to.map(|to| letter::post::written(to, line)),
            PageFault::SenderTooTall { .. } => self.firm.map(|firm| firm.name.span),
            // The letter is at fault, and says so by its title.
            PageFault::SecondAddress { .. } | PageFault::HeadTooTall => None,
        }
    }
}

fn request(
    case: &Case,
    wanted: &Wanted,
    stamps: sheet::Stamps,
    given: BTreeMap<String, String>,
    law_editions: BTreeMap<i16, String>,
    keep: &papers::Keep,
) -> Request {
    Request {
        reference: case.client.reference.value.to_string(),
        year: wanted.year.0,
        dated: wanted.dated.to_string(),
        draft: wanted.draft,
        case_file: wanted.case_file.clone(),
        case_fingerprint: stamps.case_fingerprint,
        figures_fingerprint: stamps.figures_fingerprint,
        law_edition: stamps.law_edition,
        law_editions,
        kit: given.keys().any(|path| path.starts_with(KIT)),
        given,
        keep: packet::Keep { until: keep.day().map(|day| day.to_string()), because: keep.because() },
        replaces: wanted.replaces.clone(),
        also: wanted.also.iter().map(|form| form.word()).collect(),
    }
}

fn stamps(
    law: &Law,
    outcome: &Outcome,
    wanted: &Wanted,
    material: &Material<'_>,
    data: &[u8],
) -> sheet::Stamps {
    sheet::Stamps {
        case_fingerprint: packet::fingerprint(material.case_bytes),
        figures_fingerprint: packet::fingerprint(data),
        law_edition: edition(law, outcome),
        draft: wanted.draft,
        dated: Some(wanted.dated),
        replaces: wanted.replaces.as_ref().map(|one| (one.packet.clone(), one.because.clone())),
    }
}
