//! Where our lines stand on the official forms of a year.
//!
//! Comes in: one file per tax year under `layouts/official`. Goes out: for each of our lines its official form
//! and line, and the whole in the order of the forms. Every block says how it was known. Knows no figures.

use crate::case::{ReturnForm, TaxYear, words};
use crate::credit::line::{Line, Subject};
use crate::editions;
use crate::finding::{Finding, Sources, Spanned};
use crate::record::FileKind;
use crate::record::shape::{Keyed, built_in, read_whole, records};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

words! {
    /// How an official line was known.
    LineRead {
        Printed = "printed", "read on the form";
        Draft = "draft", "read before the final printing";
        Memory = "memory", "from memory";
    }
}

words! {
    /// What stands on an official line.
    Entry {
        Amount = "amount", "amount";
        YesNo = "yes_no", "yes or no";
        Text = "text", "text";
        Address = "address", "address";
        Box = "box", "check box";
        Code = "code", "maker's code";
        Cost = "cost", "cost behind the amount";
    }
}

words! {
    /// Whether our figure goes to the official line or is taken from it.
    Direction {
        Enter = "enter", "enter here";
        LookUp = "look_up", "taken from here";
    }
}

/// One place on an official form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfficialRef {
    /// The form's name, such as `Form 5695`.
    pub form: String,
    /// The line as printed, such as `6b` or `19d(i)`.
    pub line: String,
    /// How it was known; everything not printed bears a dagger on paper.
    pub read: LineRead,
    /// What stands there.
    pub entry: Entry,
    /// Whether our figure goes there or comes from there.
    pub direction: Direction,
    /// Whether our figure is only one part of what the official line holds.
    pub within: bool,
    /// A word of care for whoever copies the figure.
    pub note: Option<String>,
}

/// One official line with our line for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfficialLine {
    /// Our line.
    pub ours: u16,
    /// The row of our line, counted from one; none for the line itself.
    pub rank: Option<u8>,
    /// The earlier year whose amount our line repeats; none for the line itself.
    pub earlier: Option<TaxYear>,
    /// Its place on the form.
    pub place: OfficialRef,
}

/// A stretch of one official form, known in one way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfficialBlock {
    /// The form's name.
    pub form: String,
    /// What the stretch is about.
    pub part: String,
    /// Whether our figures go there or come from there.
    pub direction: Direction,
    /// The forms of return with which it is used.
    pub filed_with: Vec<ReturnForm>,
    /// How it was known, but for lines that say otherwise.
    pub read: LineRead,
    /// The document it was known from.
    pub source: String,
    /// Its lines in the order of the form.
    pub lines: Vec<OfficialLine>,
}

/// The official places of one tax year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfficialMap {
    /// The year.
    pub year: TaxYear,
    /// The stretches, in the order of the forms.
    pub blocks: Vec<OfficialBlock>,
}

/// Returns the official places of a year, as at hand; none for a year without a file. Each file is
/// read when its year is first asked for.
pub fn map(year: TaxYear) -> Option<&'static OfficialMap> {
    static MAPS: OnceLock<BTreeMap<TaxYear, OnceLock<OfficialMap>>> = OnceLock::new();
    let maps = MAPS.get_or_init(|| {
        editions::official().iter().map(|one| (TaxYear(one.year), OnceLock::new())).collect()
    });
    let (name, text) = file(year)?;
    let read = || {
        let (_, file): (_, MapFile) = built_in(name, text, &FILE);
        // The files are part of the program and a test reads them, so only a broken build comes here.
        file.map().unwrap_or_else(|told| panic!("the built-in map {name} cannot be read: {told:?}"))
    };
    Some(maps.get(&year)?.get_or_init(read))
}

/// Returns the file of a year as at hand: its name, such as `official/2024.yaml`, and its text.
pub fn file(year: TaxYear) -> Option<(&'static str, &'static str)> {
    let one = editions::official().iter().find(|one| one.year == year.0)?;
    Some((one.name, one.text))
}

/// Reads one map, whose text joins `sources`.
///
/// Fails with all that is wrong, each at its place.
pub fn read_map(name: &str, text: &str, sources: &mut Sources) -> Result<OfficialMap, Vec<Finding>> {
    match read_whole::<MapFile>(name, text, &FILE, MAP_FORM, sources) {
        (Some((_, file)), _) => file.map(),
        (None, findings) => Err(findings),
    }
}

/// The code of all that is wrong with a map.
const MAP_FORM: &str = "map-form";

impl MapFile {
    /// Makes the map, or says which official lines are taken twice.
    fn map(self) -> Result<OfficialMap, Vec<Finding>> {
        let mut findings = Vec::new();
        let mut taken = BTreeSet::new();
        let mut blocks = Vec::new();
        for Spanned { value: block, span } in self.blocks {
            if block.lines.is_empty() {
                findings.push(Finding::error(MAP_FORM, format!("`{}` has no lines", block.form)).at(span));
            }
            let mut lines = Vec::new();
            for Spanned { value: file, span } in &block.lines {
                let line = file.placed(&block);
                let OfficialRef { form, line: number, entry, direction, within, .. } = &line.place;
                if !within && !taken.insert((form.clone(), number.clone(), *entry, *direction)) {
                    let message = format!("{form} line {number} has its {} already", entry.label());
                    findings.push(Finding::error(MAP_FORM, message).at(*span));
                }
                lines.push(line);
            }
            blocks.push(OfficialBlock {
                form: block.form,
                part: block.part,
                direction: block.direction,
                filed_with: block.filed_with.unwrap_or_else(|| ReturnForm::ALL.to_vec()),
                read: block.read,
                source: block.source,
                lines,
            });
        }
        if findings.is_empty() { Ok(OfficialMap { year: self.year, blocks }) } else { Err(findings) }
    }
}

impl OfficialMap {
    /// Returns where one of our lines stands on the papers of a form of return: the line itself, or one of its rows.
    pub fn references(&self, line: u16, of: &Subject, form: ReturnForm) -> Vec<OfficialRef> {
        let blocks = self.blocks.iter().filter(|block| block.filed_with.contains(&form));
        let found = blocks.flat_map(|block| &block.lines).filter(|one| one.ours == line && one.of() == *of);
        found.map(|one| one.place.clone()).collect()
    }

    /// Returns every official line in the order of the forms.
    pub fn lines(&self) -> impl Iterator<Item = &OfficialLine> {
        self.blocks.iter().flat_map(|block| &block.lines)
    }
}

impl OfficialLine {
    /// Returns what our figure for it is about.
    pub fn of(&self) -> Subject {
        match (self.rank, self.earlier) {
            (Some(rank), _) => Subject::Rank(rank),
            (None, Some(year)) => Subject::Origin(year),
            (None, None) => Subject::Return,
        }
    }
}

impl OfficialRef {
    /// Says whether paper marks the reference with a dagger.
    pub fn needs_dagger(&self) -> bool {
        self.read != LineRead::Printed
    }
}

impl std::fmt::Display for OfficialRef {
    /// Prints `Form 5695 line 6b`, and words instead of a number without the word `line`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let numbered = self.line.starts_with(|first: char| first.is_ascii_digit());
        match (numbered, self.within) {
            (true, _) if self.entry == Entry::Cost => write!(f, "{}, cost for line {}", self.form, self.line),
            (true, false) => write!(f, "{} line {}", self.form, self.line),
            (true, true) => write!(f, "{}, within line {}", self.form, self.line),
            (false, _) => write!(f, "{}, {}", self.form, self.line),
        }
    }
}

records! {
    /// The official places of one tax year, as their file says them.
    struct MapFile, "map of official lines" {
        must year: TaxYear, "2024", "the tax year";
        must blocks: Vec<Spanned<BlockFile>>, "[..]", "the stretches, in the order of the forms";
    }

    /// A stretch of one official form.
    struct BlockFile, "stretch of a form" {
        must form: String, "Form 5695", "the form's name";
        must part: String, "Part I", "what the stretch is about";
        must direction: Direction, "enter", "whether our figures go there or come from there";
        may filed_with: Option<Vec<ReturnForm>>, "[1040, 1040-SR]", "the forms of return with which it is used; all where it is not said";
        must read: LineRead, "printed", "how it was known";
        must source: String, "F5695_2024", "the document it was known from";
        must lines: Vec<Spanned<LineFile>>, "[..]", "its lines, in the order of the form";
    }

    /// One official line.
    struct LineFile, "official line" {
        must line: String, "6b", "the line as printed";
        must ours: Line, "411", "our line for it";
        may rank: Option<u8>, "1", "the row of our line, counted from one";
        may earlier: Option<TaxYear>, "2009", "the earlier year whose amount our line repeats";
        must entry: Entry, "amount", "what stands there";
        may read: Option<LineRead>, "draft", "how it was known, where it was known otherwise than the stretch";
        may within: bool, "yes", "whether our figure is only one part of what the official line holds";
        may note: Option<String>, "Only where Part I was filled in.", "a word of care for whoever copies the figure";
    }
}

/// A map of official lines as a kind of file.
static FILE: FileKind = FileKind::data(
    "a map of official lines",
    "the map of official lines",
    &[MapFile::BLOCK, BlockFile::BLOCK, LineFile::BLOCK],
);

impl LineFile {
    fn placed(&self, block: &BlockFile) -> OfficialLine {
        OfficialLine {
            ours: self.ours.0,
            rank: self.rank,
            earlier: self.earlier,
            place: OfficialRef {
                form: block.form.clone(),
                line: self.line.clone(),
                read: self.read.unwrap_or(block.read),
                entry: self.entry,
                direction: block.direction,
                within: self.within,
                note: self.note.clone(),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(year: i16, line: u16, rank: Option<u8>) -> Vec<String> {
        let of = rank.map_or(Subject::Return, Subject::Rank);
        let map = map(TaxYear(year)).unwrap();
        map.references(line, &of, ReturnForm::Form1040).iter().map(OfficialRef::to_string).collect()
    }

    #[test]
    fn the_same_line_of_ours_follows_the_form_of_its_year() {
        assert_eq!(shown(2023, 411, None), ["Form 5695 line 6b"]);
        assert_eq!(shown(2024, 317, None), ["Form 5695 line 19b"]);
        assert_eq!(shown(2025, 317, None), ["Form 5695 line 19c"]);
        assert_eq!(shown(2025, 318, Some(1)), ["Form 5695 line 19d(i)"]);
        assert_eq!(shown(2025, 318, None), ["Form 5695 line 19d"]);
        assert_eq!(shown(2025, 326, Some(4)), ["Form 5695 line 20a(iv)"]);
        assert_eq!(shown(2024, 318, None), Vec::<String>::new());
        assert_eq!(shown(2025, 365, None), Vec::<String>::new());
        assert_eq!(shown(2026, 430, None), ["2026 Form 5695, carryforward (line not yet confirmed)"]);
        assert!(map(TaxYear(2005)).is_none());
    }

    #[test]
    fn the_tax_stands_on_both_worksheets_and_comes_from_the_return() {
        assert_eq!(
            shown(2024, 501, None),
            [
                "Residential Clean Energy Credit Limit Worksheet - Line 14 line 1",
                "Energy Efficient Home Improvement Credit Limit Worksheet - Line 31 line 1",
                "Form 1040 line 18",
            ]
        );
        let places = map(TaxYear(2024)).unwrap().references(501, &Subject::Return, ReturnForm::Form1040);
        assert_eq!(places[2].direction, Direction::LookUp);
        assert_eq!(
            shown(2025, 521, None),
            ["Residential Clean Energy Credit Limit Worksheet - Line 14, within line 2"]
        );
    }

    /// Form 5695 of 2018 to 2025 was read in the e-file display of its filing season, as were Schedule 3 and Form 1040;
    /// the limit worksheets of these years were not seen, and no form of 2026 was.
    #[test]
    fn what_was_not_read_in_print_bears_a_dagger() {
        let dagger = |year: i16, line| {
            map(TaxYear(year)).unwrap().references(line, &Subject::Return, ReturnForm::Form1040)[0]
                .needs_dagger()
        };
        for (year, line, expected) in [
            (2023, 390, false),
            (2024, 441, false),
            (2025, 401, false),
            (2025, 416, false),
            (2025, 400, false),
            (2025, 417, false),
            (2025, 310, false),
            (2024, 520, true),
            (2024, 901, false),
            (2025, 902, false),
            (2025, 520, true),
            (2026, 440, true),
        ] {
            assert_eq!(dagger(year, line), expected, "{year} line {line}");
        }
    }

    /// What is read when the program starts is read by one reader; here both read it.
    #[test]
    fn every_map_reads_without_complaint() {
        for one in editions::official() {
            let read = read_map(one.name, one.text, &mut Sources::default());
            assert_eq!(read.expect(one.name).year.0, one.year);
        }
    }

    #[test]
    fn broken_maps_are_refused_with_file_and_line() {
        let (name, text) = file(TaxYear(2024)).unwrap();
        let told = |from: &str, to: &str| {
            assert!(text.contains(from), "{from}");
            let mut sources = Sources::default();
            let told = read_map(name, &text.replacen(from, to, 1), &mut sources).unwrap_err();
            let place = |one: &Finding| sources.line_column(one.at.expect("a place")).line;
            told.iter()
                .map(|one| format!("{}: {}", place(one), one.message))
                .collect::<Vec<String>>()
                .join("\n")
        };
        let line = |words: &str| text[..text.find(words).expect(words)].matches('\n').count() + 1;
        let at = line("entry: amount");
        assert_eq!(told("entry: amount", "entry: sum"), format!("{at}: `sum` is none of the known words"));
        let at = line("{line: 6b, ours: 411");
        let twice = told("{line: 6b, ours: 411", "{line: 6a, ours: 411");
        assert_eq!(twice, format!("{at}: Form 5695 line 6a has its amount already"));
        assert!(told("    read: printed\n", "").contains("`read` is missing in blocks.1"));
        let second = told("year: 2024", "year: 2024\nyears: 2024");
        assert!(second.contains("`years` is not a key of the map of official lines"), "{second}");
    }
}
