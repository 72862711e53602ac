//! Lots for the printer: letters bound into one file, with a count sheet in front.
//!
//! Comes in: letters, one after the other, in the order of the mail. Goes out: a file whenever a lot is full, and what
//! it holds. No name and no reference stands on a count sheet or in the name of a file.

use super::Season;
use super::reminder::{Reminder, Route};
use crate::case::Language;
use crate::document::{self, Align, Block, Document, Row, Setting, Table, Width, plain, strong};
use crate::letter::post::Postal;
use crate::packet::short_fingerprint;
use crate::page::{Frame, PageFault, Pages, Stamp, lay_out, to_pdf};
use crate::wording::counted;
use std::collections::BTreeMap;

/// How letters become lots.
#[derive(Clone, Copy, Debug)]
pub struct Paper {
    /// How many letters a lot holds.
    pub lot: usize,
    /// Paper is printed on both sides: each letter begins on a sheet of its own.
    pub both_sides: bool,
}

/// Gathers letters until a lot is full.
pub struct Gathering<'a> {
    season: &'a Season<'a>,
    paper: Paper,
    /// How many figures the number of a lot has, so that files sort.
    figures: usize,
    number: usize,
    letters: Vec<Letter>,
}

/// What a lot keeps of a letter.
struct Letter {
    pages: Pages,
    id: [u8; 16],
    language: Language,
    zip: String,
}

/// A lot, finished.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lot {
    /// Its number, from 1.
    pub number: usize,
    /// The name of its file.
    pub file: String,
    /// How many letters.
    pub letters: usize,
    /// How many pages are printed for them.
    pub pages: usize,
    /// How many sheets of paper they take.
    pub sheets: usize,
    /// The ZIP of the first letter.
    pub first_zip: String,
    /// The ZIP of the last letter.
    pub last_zip: String,
    /// How many letters are in each language.
    pub languages: BTreeMap<&'static str, usize>,
    /// How many letters have so many pages.
    pub lengths: BTreeMap<usize, usize>,
}

/// A lot and its file.
pub type Bound = (Lot, Vec<u8>);

impl<'a> Gathering<'a> {
    /// Starts with the first lot. `most` letters may come, which decides how many figures the lots' numbers have.
    pub fn new(season: &'a Season<'a>, paper: Paper, most: usize) -> Gathering<'a> {
        let figures = most.div_ceil(paper.lot.max(1)).to_string().len().max(2);
        Gathering { season, paper, figures, number: 1, letters: Vec::new() }
    }

    /// Returns lot and position of the letter that comes next, each from 1.
    pub fn next(&self) -> (usize, usize) {
        (self.number, self.letters.len() + 1)
    }

    /// Takes a letter, and binds the lot when it is full.
    pub fn add(&mut self, reminder: Reminder) -> Result<Option<Bound>, Vec<PageFault>> {
        let Reminder { route, pages, id, language, .. } = reminder;
        let zip = if let Route::Mail(Postal { zip5, .. }) = route { zip5 } else { String::new() };
        self.letters.push(Letter { pages, id, language, zip });
        if self.letters.len() < self.paper.lot.max(1) { Ok(None) } else { self.bind() }
    }

    /// Binds what is left, if anything.
    pub fn bind(&mut self) -> Result<Option<Bound>, Vec<PageFault>> {
        if self.letters.is_empty() {
            return Ok(None);
        }
        let letters = std::mem::take(&mut self.letters);
        let lot = self.describe(&letters);
        self.number += 1;
        let mut ids = format!("{} {} {}", lot.file, self.season.dated, self.paper.both_sides).into_bytes();
        letters.iter().for_each(|letter| ids.extend(letter.id));
        let stamp = Stamp { id: short_fingerprint(&ids), date: self.season.dated };
        let mut parts = vec![lay_out(&count_sheet(&lot, self.season, self.paper))?];
        parts.extend(letters.into_iter().map(|letter| letter.pages));
        for part in &mut parts {
            // Among hundreds of letters headings lead nowhere.
            part.bookmarks.clear();
            if self.paper.both_sides && part.frames.len() % 2 == 1 {
                let Some(Frame { width, height, .. }) = part.frames.first() else { continue };
                part.frames.push(Frame { width: *width, height: *height, pieces: Vec::new() });
            }
        }
        let title = format!("Reminders for {}, lot {}", self.season.year, lot.number);
        let mut pages = Pages::bind(parts, &title);
        pages.cover = true;
        Ok(Some((lot, to_pdf(&pages, &stamp))))
    }

    fn describe(&self, letters: &[Letter]) -> Lot {
        let count = letters.iter().map(|letter| letter.pages.frames.len());
        let sheets = |pages: usize| if self.paper.both_sides { pages.div_ceil(2) } else { pages };
        let mut languages = BTreeMap::new();
        let mut lengths = BTreeMap::new();
        for letter in letters {
            *languages.entry(letter.language.label()).or_insert(0) += 1;
            *lengths.entry(letter.pages.frames.len()).or_insert(0) += 1;
        }
        let zip = |letter: Option<&Letter>| letter.map_or_else(String::new, |letter| letter.zip.clone());
        Lot {
            number: self.number,
            file: format!(
                "season-{}-lot-{:0figures$}.pdf",
                self.season.year,
                self.number,
                figures = self.figures
            ),
            letters: letters.len(),
            pages: count.clone().sum(),
            sheets: count.map(sheets).sum(),
            first_zip: zip(letters.first()),
            last_zip: zip(letters.last()),
            languages,
            lengths,
        }
    }
}

/// The sheet in front of a lot: what to count, what to compare, what to do at the end.
pub fn count_sheet(lot: &Lot, season: &Season<'_>, paper: Paper) -> Document {
    let row = |label: &str, value: String| Row { cells: vec![plain(label), strong(value)], ..Row::default() };
    let list = |items: &[String]| Block::List {
        ordered: false,
        items: items.iter().map(|item| vec![Block::Paragraph(plain(item))]).collect(),
    };
    let languages: Vec<String> = lot.languages.iter().map(|(name, n)| format!("{n} {name}")).collect();
    let mut rows = vec![
        row("Letters in this lot", counted(lot.letters, "letter", "letters")),
        row("Sheets of paper for them", counted(lot.sheets, "sheet", "sheets")),
        row("Printed pages, without this sheet", counted(lot.pages, "page", "pages")),
    ];
    for (pages, letters) in &lot.lengths {
        rows.push(row(
            &format!("Letters of {}", counted(*pages, "page", "pages")),
            counted(*letters, "letter", "letters"),
        ));
    }
    rows.extend([
        row("Languages", languages.join(", ")),
        row("First ZIP", lot.first_zip.clone()),
        row("Last ZIP", lot.last_zip.clone()),
        row("Date of the letters", season.dated.to_string()),
        row("File", lot.file.clone()),
    ]);
    let printing = match paper.both_sides {
        true => {
            "Print on both sides, turned on the long edge. Each letter begins on a sheet of its own; the back of its last sheet may be blank."
        }
        false => "Print on one side only. Printed on both sides, two clients' letters would share a sheet.",
    };
    let column = |head: &str, width| document::column(head, width, Align::Left);
    let blocks = vec![
        Block::Heading { level: 1, words: plain(format!("Count sheet: lot {}", lot.number)) },
        Block::Paragraph(plain(format!(
            "Reminders of credit carried into tax year {}. This sheet is for the printer and the office: it goes into no envelope.",
            season.year
        ))),
        Block::Table(Table {
            summary: "What the lot holds".to_string(),
            columns: vec![column("What", Width::Parts(2)), column("In this lot", Width::Parts(3))],
            rows,
        }),
        Block::Heading { level: 2, words: plain("Before printing") },
        list(&[
            printing.to_string(),
            "Print at actual size on US Letter. Anything that fits or scales the page moves the address out of the window.".to_string(),
        ]),
        Block::Heading { level: 2, words: plain("Check") },
        list(&[
            "Count the sheets against the number above, and the envelopes against the number of letters.".to_string(),
            "Letters lie in the order of ZIP, street and name. Compare the first, the last and two in between with the rows of this lot in mailing-list.csv: position 1 there is the letter behind this sheet.".to_string(),
            "Fold at the marks in the left margin, the address outward, for #10 window envelopes. Tap each edge of a filled envelope: the whole address must stay in the window.".to_string(),
            "Replace a spoiled letter by printing its pages again: a reader of PDF files shows position and page as 17-2.".to_string(),
        ]),
        Block::Heading { level: 2, words: plain("After mailing") },
        list(&[
            "Shred spoiled letters.".to_string(),
            "Delete this file and every copy, also at the printer's: it holds what many clients told the firm for their returns.".to_string(),
        ]),
        Block::Space(1),
        Block::Table(Table {
            summary: "To be filled in by hand".to_string(),
            columns: vec![
                column("Printed on", Width::Parts(1)),
                column("Letters counted", Width::Parts(1)),
                column("Mailed on", Width::Parts(1)),
                column("File deleted on", Width::Parts(1)),
                column("By", Width::Parts(1)),
            ],
            rows: vec![Row { cells: vec![plain("\n\n"), plain(""), plain(""), plain(""), plain("")], ..Row::default() }],
        }),
    ];
    Document {
        title: format!("Count sheet: lot {}", lot.number),
        language: "en".to_string(),
        subject: format!("Reminders, tax year {}", season.year),
        setting: Setting::Worksheet,
        blocks,
        ..Document::default()
    }
}
