//! Where our lines stand on the official forms of a year.
//!
//! Comes in: one file per tax year under `layouts/official`. Goes out: for each of our lines its official form
//! and line, and the whole in the order of the forms. Every block says how it was known. Knows no figures.

use crate::case::{ReturnForm, TaxYear, words};
use crate::credit::line::Of;
use crate::editions;
use crate::written::{Text, line_of_key, read, written_words};
use serde::Deserialize;
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
        // The files are part of the program and a test reads them, so only a broken build comes here.
        let map = read_map(name, text);
        map.unwrap_or_else(|told| panic!("a built-in map cannot be read:\n{}", told.join("\n")))
    };
    Some(maps.get(&year)?.get_or_init(read))
}

/// Returns the file of a year as at hand: its name, such as `official/2024.yaml`, and its text.
pub fn file(year: TaxYear) -> Option<(&'static str, &'static str)> {
    let one = editions::official().iter().find(|one| one.year == year.0)?;
    Some((one.name, one.text))
}

/// Reads one map.
///
/// Fails with every complaint, each beginning with file and line.
pub fn read_map(name: &str, text: &str) -> Result<OfficialMap, Vec<String>> {
    let file: MapFile = read(name, text).map_err(|told| vec![told])?;
    let mut complaints = Vec::new();
    let mut taken = BTreeSet::new();
    let mut blocks = Vec::new();
    for block in file.blocks {
        let lines: Vec<OfficialLine> = block.lines.iter().map(|line| line.placed(&block)).collect();
        if lines.is_empty() {
            complaints.push(format!(
                "{name}:{}: `{}` has no lines",
                line_of_key(text, &["blocks"]),
                block.form.0
            ));
        }
        for line in &lines {
            let place =
                (line.place.form.clone(), line.place.line.clone(), line.place.entry, line.place.direction);
            if !line.place.within && !taken.insert(place) {
                let at = line_holding(text, &format!("ours: {},", line.ours));
                complaints.push(format!(
                    "{name}:{at}: {} line {} has its {} already",
                    line.place.form,
                    line.place.line,
                    line.place.entry.label()
                ));
            }
        }
        blocks.push(OfficialBlock {
            form: block.form.0,
            part: block.part.0,
            direction: block.direction.0,
            filed_with: block.filed_with.map_or_else(
                || ReturnForm::ALL.to_vec(),
                |forms| forms.into_iter().map(|form| form.0).collect(),
            ),
            read: block.read.0,
            source: block.source.0,
            lines,
        });
    }
    if complaints.is_empty() { Ok(OfficialMap { year: file.year.0, blocks }) } else { Err(complaints) }
}

impl OfficialMap {
    /// Returns where one of our lines stands on the papers of a form of return: the line itself, or one of its rows.
    pub fn references(&self, line: u16, of: &Of, form: ReturnForm) -> Vec<OfficialRef> {
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
    pub fn of(&self) -> Of {
        match (self.rank, self.earlier) {
            (Some(rank), _) => Of::Rank(rank),
            (None, Some(year)) => Of::Origin(year),
            (None, None) => Of::Return,
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

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MapFile {
    year: Text<TaxYear>,
    blocks: Vec<BlockFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BlockFile {
    form: Text<String>,
    part: Text<String>,
    direction: Text<Direction>,
    #[serde(default)]
    filed_with: Option<Vec<Text<ReturnForm>>>,
    read: Text<LineRead>,
    source: Text<String>,
    lines: Vec<LineFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LineFile {
    line: Text<String>,
    ours: Text<u16>,
    #[serde(default)]
    rank: Option<Text<u8>>,
    #[serde(default)]
    earlier: Option<Text<TaxYear>>,
    entry: Text<Entry>,
    #[serde(default)]
    read: Option<Text<LineRead>>,
    #[serde(default)]
    within: Option<Text<bool>>,
    #[serde(default)]
    note: Option<Text<String>>,
}

written_words!(LineRead, Entry, Direction, ReturnForm);

impl LineFile {
    fn placed(&self, block: &BlockFile) -> OfficialLine {
        OfficialLine {
            ours: self.ours.0,
            rank: self.rank.as_ref().map(|rank| rank.0),
            earlier: self.earlier.as_ref().map(|year| year.0),
            place: OfficialRef {
                form: block.form.0.clone(),
                line: self.line.0.clone(),
                read: self.read.as_ref().map_or(block.read.0, |read| read.0),
                entry: self.entry.0,
                direction: block.direction.0,
                within: self.within.as_ref().is_some_and(|within| within.0),
                note: self.note.as_ref().map(|note| note.0.clone()),
            },
        }
    }
}

/// Returns the last line, counted from one, that holds some words: a repetition stands after what it repeats.
fn line_holding(text: &str, words: &str) -> usize {
    let lines: Vec<&str> = text.lines().collect();
    lines.iter().rposition(|line| line.contains(words)).map_or(1, |number| number + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(year: i16, line: u16, rank: Option<u8>) -> Vec<String> {
        let of = rank.map_or(Of::Return, Of::Rank);
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
        let places = map(TaxYear(2024)).unwrap().references(501, &Of::Return, ReturnForm::Form1040);
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
            map(TaxYear(year)).unwrap().references(line, &Of::Return, ReturnForm::Form1040)[0].needs_dagger()
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

    #[test]
    fn broken_maps_are_refused_with_file_and_line() {
        let (name, text) = file(TaxYear(2024)).unwrap();
        let told = |from: &str, to: &str| {
            assert!(text.contains(from), "{from}");
            read_map(name, &text.replacen(from, to, 1)).unwrap_err().join("\n")
        };
        assert!(told("entry: amount", "entry: sum").contains("not one of the known words: amount, yes_no"));
        assert!(
            told("{line: 6b, ours: 411", "{line: 6a, ours: 411").contains("line 6a has its amount already")
        );
        assert!(told("    read: printed\n", "").contains("missing field `read`"));
        assert!(told("year: 2024", "year: 2024\nyears: 2024").starts_with("official/2024.yaml:"));
    }
}
