//! The stages of one packet, each by itself, for timing.
//!
//! Comes in: the bytes of a case. Goes out: [`Prepared`], on which every stage can be run as often as one likes. What a
//! process loads once, law, layout, letters and type, is loaded before, as in a run over many cases.

use gablework::assemble::{self, Computed, Material, Wanted};
use gablework::case::firm::Firm;
use gablework::case::{Case, TaxYear};
use gablework::credit;
use gablework::credit::facts::{Facts, facts};
use gablework::document::Document;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::name::FileName;
use gablework::packet::{Packet, bag};
use gablework::page::{self, Pages};
use gablework::{letter, sheet};
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::hint::black_box;

/// What all cases share.
pub struct Desk {
    law: &'static Law,
    letters: letter::Kit,
    sources: Sources,
    firm: Firm,
    firm_file: &'static str,
}

/// A case with everything that its stages begin from.
pub struct Prepared<'d> {
    desk: &'d Desk,
    bytes: Vec<u8>,
    case: Case,
    computed: Computed,
    facts: Facts,
    documents: Vec<Document>,
    pages: Vec<Pages>,
    packet: Packet,
    year: TaxYear,
}

/// A stage: what it is called, and how it is run.
pub type Stage = (&'static str, fn(&Prepared<'_>));

/// The stages in their order. The last is all of them together, as the program does it, from the text of a case to the
/// bytes of a sealed folder.
pub const STAGES: [Stage; 9] = [
    ("reading the case", |at| drop(black_box(at.read()))),
    ("computing all years", |at| drop(black_box(at.compute()))),
    ("writing the worksheet", |at| drop(black_box(at.worksheet()))),
    ("writing the letters", |at| drop(black_box(at.letters()))),
    ("laying out", |at| drop(black_box(at.lay_out()))),
    ("pages to PDF", |at| drop(black_box(at.to_pdf()))),
    ("figures to JSON", |at| drop(black_box(at.figures()))),
    ("sealing", |at| drop(black_box(at.seal()))),
    (WHOLE, |at| drop(black_box(at.whole()))),
];

/// The name of the last stage.
pub const WHOLE: &str = "the whole packet";

const NAME: &str = "household.case.yaml";
const DATED: Date = jiff::civil::date(2026, 11, 30);

/// The year of the latest return.
fn latest(computed: &Computed) -> TaxYear {
    computed.latest_year().expect("the case has a return")
}

impl Desk {
    /// Loads what all cases share; the letters come from the firm whose file is given.
    pub fn new(firm_file: &'static str) -> Desk {
        let mut sources = Sources::default();
        let letters = letter::Kit::built_in(&mut sources);
        let (firm, findings) = gablework::case::firm::read("firm.yaml", firm_file.as_bytes(), &mut sources);
        let firm = firm.unwrap_or_else(|| panic!("the firm's file reads: {findings:?}"));
        Desk { law: Law::built_in(), letters, sources, firm, firm_file }
    }

    /// Makes a packet as the program does, from the text of a case to the bytes of a sealed folder.
    pub fn packet(&self, bytes: &[u8]) -> Packet {
        let mut computed = self.computed(bytes);
        let year = latest(&computed);
        let wanted = Wanted {
            year,
            dated: DATED,
            draft: false,
            case_file: NAME.to_string(),
            replaces: None,
            name: FileName::new(format!("bench-{year}")).expect("a name"),
            also: Vec::new(),
        };
        let material = Material {
            letters: &self.letters,
            layout: None,
            kit: &[],
            case_bytes: bytes,
            firm: Some((&self.firm, self.firm_file.as_bytes())),
            logo: None,
            papers: &[],
        };
        let made = assemble::packet(&mut computed, self.law, &wanted, &material);
        made.unwrap_or_else(|why| panic!("no packet: {why:?}")).packet
    }

    fn computed(&self, bytes: &[u8]) -> Computed {
        assemble::compute(NAME, bytes, self.law, self.sources.clone()).expect("the plan holds")
    }

    /// Runs a case through once, so that every stage has what it begins from.
    pub fn prepare(&self, bytes: &[u8]) -> Prepared<'_> {
        let computed = self.computed(bytes);
        let case = computed.case.clone().expect("the case reads");
        let year = latest(&computed);
        let facts = facts(&case, self.law, &computed.outcome, year, false, DATED);
        let mut prepared = Prepared {
            desk: self,
            bytes: bytes.to_vec(),
            case,
            computed,
            facts,
            documents: Vec::new(),
            pages: Vec::new(),
            packet: self.packet(bytes),
            year,
        };
        prepared.documents.push(prepared.worksheet());
        prepared.documents.extend(prepared.letters());
        prepared.pages = prepared.lay_out();
        // What the seal itself added goes, so that it can be put on again.
        prepared.packet.files.retain(|(path, _)| path.starts_with("data/"));
        prepared
    }
}

impl Prepared<'_> {
    fn read(&self) -> Option<Case> {
        gablework::case::read(NAME, &self.bytes, &mut Sources::default()).0
    }

    fn compute(&self) -> credit::Outcome {
        credit::compute(&self.case, self.desk.law).expect("the plan holds")
    }

    fn worksheet(&self) -> Document {
        let stamps = sheet::Stamps {
            case_fingerprint: "c".repeat(64),
            figures_fingerprint: "f".repeat(64),
            law_edition: "bench".to_string(),
            draft: false,
            dated: Some(DATED),
            replaces: None,
        };
        sheet::write(&sheet::Material {
            layout: sheet::Layout::built_in(),
            case: &self.case,
            law: self.desk.law,
            outcome: &self.computed.outcome,
            year: self.year,
            facts: &self.facts,
            sources: &self.computed.sources,
            stamps: &stamps,
        })
    }

    fn letters(&self) -> Vec<Document> {
        let about = letter::Request {
            case: &self.case,
            law: self.desk.law,
            outcome: &self.computed.outcome,
            year: self.year,
            facts: &self.facts,
            firm: Some(&self.desk.firm),
            logo: None,
            dated: DATED,
            replaces: None,
        };
        letter::write(&about, &self.desk.letters).0.into_iter().map(|(_, letter)| letter).collect()
    }

    fn lay_out(&self) -> Vec<Pages> {
        self.documents.iter().map(|document| page::lay_out(document).expect("it fits its pages")).collect()
    }

    fn to_pdf(&self) -> Vec<Vec<u8>> {
        let stamp = page::Stamp { id: [7; 16], date: DATED };
        self.pages.iter().map(|pages| page::to_pdf(pages, &stamp)).collect()
    }

    fn figures(&self) -> Vec<u8> {
        let (outcome, sources) = (&self.computed.outcome, &self.computed.sources);
        let data = sheet::json::figures(&self.case, self.year, self.desk.law, outcome, sources);
        serde_json::to_vec_pretty(&data).expect("data is written")
    }

    fn seal(&self) -> Packet {
        let mut packet = self.packet.clone();
        bag::seal(&mut packet, &bag::Info(Vec::new()), &BTreeMap::new()).expect("the names are fine");
        packet
    }

    fn whole(&self) -> Packet {
        self.desk.packet(black_box(&self.bytes))
    }

    /// Returns how many pages the packet's papers have together.
    pub fn sheets(&self) -> usize {
        self.pages.iter().map(|pages| pages.frames.len()).sum()
    }

    /// Returns how many papers the packet holds.
    pub fn papers(&self) -> usize {
        self.documents.len()
    }
}
