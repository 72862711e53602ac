//! The worksheet as a document: which lines stand where, their official references, papers, notes.
//!
//! Comes in: a case, the law, the figures, one tax year, and the layout. Goes out: a [`Document`] for `page`, and
//! the same figures as data ([`data`]). Computes nothing: every amount printed here is a figure of the engine.

mod amended;
mod authorities;
mod chain;
pub mod data;
pub mod json;
mod layout;
mod lines;
mod notes;
pub mod official;
mod outlook;
mod particulars;
mod proof;
mod purchases;
pub mod sought;
pub mod terminal;
mod transcription;
mod way;

pub use layout::{BUILT_IN as LAYOUT, Layout};

use crate::case::{Case, TaxYear};
use crate::credit::facts::Facts;
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::{Figure, Outcome, Used};
use crate::document::{
    Block, Document, Furniture, Role, Row, Setting, Table, Words, heading, plain, strong, valued,
};
use crate::finding::Sources;
use crate::law::{Credit, Law, YearLaw};
use crate::wording::{self, capital};
use jiff::civil::Date;
use layout::{By, Content, Note, Part, Says, appears};
use official::{Direction, OfficialRef};
use std::cell::RefCell;
use std::collections::HashSet;

/// What is stamped on every page and belongs to no figure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stamps {
    /// Digest of the case as read, in hexadecimal.
    pub case_fingerprint: String,
    /// Digest of the year's figures, in hexadecimal.
    pub figures_fingerprint: String,
    /// The edition of the year's law.
    pub law_edition: String,
    /// Whether the pages are a draft.
    pub draft: bool,
    /// The day the packet bears.
    pub dated: Option<Date>,
    /// The packet that this one replaces, and why.
    pub replaces: Option<(String, String)>,
}

/// What a worksheet is made from.
#[derive(Clone, Copy)]
pub struct Material<'a> {
    /// The layout: the one built into the program, or a firm's own.
    pub layout: &'a Layout,
    /// The household's facts.
    pub case: &'a Case,
    /// The law.
    pub law: &'a Law,
    /// The figures.
    pub outcome: &'a Outcome,
    /// The tax year.
    pub year: TaxYear,
    /// What is so in that year.
    pub facts: &'a Facts,
    /// The texts that facts point into.
    pub sources: &'a Sources,
    /// What is stamped on every page.
    pub stamps: &'a Stamps,
}

impl Material<'_> {
    /// Titles the worksheet, for a file's properties.
    pub fn title(&self) -> String {
        format!("Worksheet {}, tax year {}", self.case.client.reference.value, self.year)
    }

    /// Says what the worksheet is about.
    pub fn subject(&self) -> String {
        format!("Residential energy credits, tax year {}", self.year)
    }

    /// Says whose worksheet it is.
    pub fn whose(&self) -> String {
        let client = &self.case.client;
        format!("{}, reference {}", client.names().join(" and "), client.reference.value)
    }

    /// Says which packet a correction replaces, and why.
    pub fn correction(&self) -> Option<String> {
        let (packet, because) = self.stamps.replaces.as_ref()?;
        let because = because.trim_end_matches('.');
        Some(format!("A correction. It replaces packet {packet}: {because}."))
    }
}

/// Writes the worksheet of one year.
pub fn write(material: &Material<'_>) -> Document {
    let writer = Writer::of(material, false);
    Document {
        title: material.title(),
        language: "en".to_string(),
        subject: material.subject(),
        author: material.case.prepared_by().to_string(),
        setting: Setting::Worksheet,
        furniture: writer.furniture(),
        blocks: writer.blocks(material),
    }
}

/// One sheet of the worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its title.
    pub title: String,
    /// Its content, without the title.
    pub blocks: Vec<Block>,
    /// The numbered lines that have their place on it.
    pub lines: Vec<Line>,
    /// Whether it lists the documents that the lines name by number.
    pub lists_notes: bool,
}

/// Writes the sheets of one year for a file that computes: the same as [`write`], with every line of the year and
/// without drawings. Lines that paper leaves out stand where they belong; those of sheets that do not appear stand
/// on one of their own, at the end.
pub fn sections(material: &Material<'_>) -> (Furniture, Vec<Section>) {
    let writer = Writer::of(material, true);
    (writer.furniture(), writer.sections())
}

/// What the parts of a worksheet are written from.
struct Writer<'a> {
    layout: &'a Layout,
    case: &'a Case,
    law: &'a Law,
    year_law: Option<&'a YearLaw>,
    outcome: &'a Outcome,
    year: TaxYear,
    facts: &'a Facts,
    sources: &'a Sources,
    about: &'a Stamps,
    /// The figures of the year, in the order of lines.
    figures: Vec<&'a Figure>,
    /// The documents named so far, in the order of their numbers.
    noted: RefCell<Vec<String>>,
    /// Whether every line stands, also one that says nothing on paper, and no drawing.
    every_line: bool,
}

impl<'a> Writer<'a> {
    fn of(material: &Material<'a>, every_line: bool) -> Writer<'a> {
        let Material { layout, case, law, outcome, year, facts, sources, stamps } = *material;
        Writer {
            layout,
            case,
            law,
            year_law: law.year(year),
            outcome,
            year,
            facts,
            sources,
            about: stamps,
            figures: outcome.figures.of_year(year),
            noted: RefCell::default(),
            every_line,
        }
    }

    fn furniture(&self) -> Furniture {
        let short = |digest: &str| digest.chars().take(12).collect::<String>();
        let dated = self.about.dated.map_or_else(String::new, |day| format!(", dated {}", wording::day(day)));
        Furniture {
            head: (
                format!("{}, tax year {}", self.case.client.reference.value, self.year),
                format!("Residential energy credits: worksheet{dated}"),
            ),
            foot: (
                format!(
                    "Case {} \u{B7} Figures {} \u{B7} Law edition {}",
                    short(&self.about.case_fingerprint),
                    short(&self.about.figures_fingerprint),
                    self.about.law_edition
                ),
                "Page {page} of {pages}".to_string(),
            ),
            mark: self.about.draft.then(|| "DRAFT".to_string()),
        }
    }

    /// Writes every sheet that has content, in the layout's order. The sheet that lists the notes is written last,
    /// wherever it stands.
    fn blocks(&self, material: &Material<'_>) -> Vec<Block> {
        let sheets: Vec<&layout::Sheet> =
            self.layout.sheets.iter().filter(|sheet| appears(sheet.show, sheet.unless, self.facts)).collect();
        let lists_notes =
            |sheet: &layout::Sheet| sheet.content.iter().any(|one| one.part == Part::Authorities);
        let mut explained = false;
        let mut written: Vec<Vec<Block>> = vec![Vec::new(); sheets.len()];
        for lists in [false, true] {
            for (at, sheet) in sheets.iter().enumerate().filter(|(_, sheet)| lists_notes(sheet) == lists) {
                written[at] = self.sheet(sheet, &mut explained);
            }
        }
        let title = heading(1, material.subject());
        let whose = Block::Paragraph(plain(material.whose()));
        let replaces = material.correction().map(|words| Block::Paragraph(strong(words)));
        let head = [title, whose].into_iter().chain(replaces);
        head.chain(written.into_iter().flatten()).collect()
    }

    /// Writes every sheet that has content, and behind them the lines that stand on none.
    fn sections(&self) -> Vec<Section> {
        let sheets: Vec<&layout::Sheet> =
            self.layout.sheets.iter().filter(|sheet| appears(sheet.show, sheet.unless, self.facts)).collect();
        let lists_notes =
            |sheet: &layout::Sheet| sheet.content.iter().any(|one| one.part == Part::Authorities);
        let mut shown: HashSet<String> = HashSet::new();
        let mut written: Vec<Option<Section>> = vec![None; sheets.len()];
        for lists in [false, true] {
            for (at, sheet) in sheets.iter().enumerate().filter(|(_, sheet)| lists_notes(sheet) == lists) {
                // Each tab is read by itself, so each explains its dagger.
                let mut blocks = self.sheet(sheet, &mut false);
                let own: Vec<Line> = sheet.content.iter().flat_map(layout::Content::own_lines).collect();
                let mut here = HashSet::new();
                values(&blocks, &mut here);
                // What another sheet repeats, such as the summary, has its place elsewhere all the same.
                let placed = self.figures.iter().filter(|figure| own.contains(&figure.place.line));
                shown
                    .extend(placed.map(|figure| figure.place.to_string()).filter(|name| here.contains(name)));
                if blocks.is_empty() {
                    continue;
                }
                let rest = self.lines_left(&mut shown, |line| own.contains(&line));
                if !rest.is_empty() {
                    blocks.push(heading(3, "Lines of this sheet that the printed worksheet leaves out"));
                    blocks.extend(lines::table(rest));
                }
                blocks.remove(0);
                let title = self.fill(&sheet.title);
                written[at] = Some(Section { title, blocks, lines: own, lists_notes: lists });
            }
        }
        let mut sections: Vec<Section> = written.into_iter().flatten().collect();
        let left: Vec<Line> = self.figures.iter().map(|figure| figure.place.line).collect();
        let rest = self.lines_left(&mut shown, |_| true);
        if !rest.is_empty() {
            let words = format!(
                "Lines of {} on sheets that the printed worksheet leaves out, because nothing is on them. Other lines use them.",
                self.year
            );
            let blocks = std::iter::once(Block::Paragraph(plain(words))).chain(lines::table(rest));
            let title = format!("Other lines of {}", self.year);
            sections.push(Section { title, blocks: blocks.collect(), lines: left, lists_notes: false });
        }
        sections
    }

    /// Writes rows of the lines that were not shown yet, and takes them for shown.
    fn lines_left(&self, shown: &mut HashSet<String>, on: impl Fn(Line) -> bool) -> Vec<Row> {
        let left = self.figures.iter().filter(|figure| on(figure.place.line));
        let left = left.filter(|figure| shown.insert(figure.place.to_string()));
        left.flat_map(|figure| self.line_rows(figure, lines::What::Whole)).collect()
    }

    /// Writes a sheet; nothing where it has no content.
    fn sheet(&self, sheet: &layout::Sheet, explained: &mut bool) -> Vec<Block> {
        let content = self.contents(&sheet.content);
        if content.is_empty() {
            return Vec::new();
        }
        let mut blocks = vec![heading(2, self.fill(&sheet.title))];
        blocks.extend(sheet.intro.iter().map(|intro| Block::Paragraph(plain(self.fill(intro)))));
        let marked = content.iter().any(has_dagger);
        let guide = sheet.content.iter().any(|one| one.part == Part::Transcription);
        blocks.extend(content);
        if marked && (!*explained || guide) {
            // The first sheet with a dagger explains it, and so does the guide, which is read by itself.
            blocks.push(Block::Small(plain(self.fill(&self.layout.dagger))));
            *explained = true;
        }
        blocks.extend(self.notes(&sheet.notes).into_iter().map(Block::Small));
        blocks
    }

    /// Writes the pieces of a sheet. Tables of lines that follow each other become one table, each part under its
    /// title, so that their columns stand under each other.
    fn contents(&self, contents: &[Content]) -> Vec<Block> {
        let mut blocks = Vec::new();
        let mut rows: Vec<Row> = Vec::new();
        for one in contents {
            if one.part != Part::Lines || one.by == By::Item {
                blocks.extend(lines::table(std::mem::take(&mut rows)));
                blocks.extend(self.content(one));
                continue;
            }
            if !appears(one.show, one.unless, self.facts) {
                continue;
            }
            let part = self.rows_by_line(one);
            if let (Some(title), false) = (&one.title, part.is_empty()) {
                rows.push(spanning(Role::Group, self.fill(title)));
            }
            rows.extend(part);
        }
        blocks.extend(lines::table(rows));
        blocks
    }

    /// Writes one piece of a sheet; nothing where it has nothing to show.
    fn content(&self, content: &Content) -> Vec<Block> {
        if !appears(content.show, content.unless, self.facts) {
            return Vec::new();
        }
        let mut blocks = match content.part {
            Part::Lines => self.tables_by_item(content),
            Part::Panel => self.panel(content),
            Part::Sentences => self.sentences(content),
            Part::Journey => self.journey(),
            Part::NetWay => self.net_way(),
            Part::Purchases => self.purchases(),
            Part::Incentives => self.incentives(),
            Part::Chain => self.chain(),
            Part::Outlook => self.outlook(),
            Part::AsFiled => self.as_filed(),
            Part::Amended => self.amended(),
            Part::Explanation => self.explanation(),
            Part::FiledYears => self.filed_years(),
            Part::Transcription => self.transcription(),
            Part::Judgments => self.judgments(),
            Part::Unsettled => self.unsettled(),
            Part::Findings => self.findings(),
            Part::Answers => self.answers(),
            Part::Papers => self.papers(),
            Part::Proof => self.proof(),
            Part::Property => self.property(),
            Part::Household => self.household(),
            Part::Authorities => self.authorities(),
        };
        if let (Some(title), false) = (&content.title, blocks.is_empty()) {
            blocks.insert(0, heading(3, self.fill(title)));
        }
        blocks
    }

    /// Writes the notes whose facts hold.
    fn notes(&self, notes: &[Note]) -> Vec<Words> {
        let appearing = notes.iter().filter(|note| appears(note.show, note.unless, self.facts));
        appearing
            .filter_map(|note| match &note.says {
                Says::Words(words) => Some(plain(self.fill(words))),
                Says::Rule(rule) => {
                    let rule = self.year_law?.rules.get(rule)?;
                    let open = if rule.authority.settled { "" } else { " Not settled." };
                    let note = self.note(&rule.authority.source);
                    Some(plain(format!("{}.{open}{note}", capital(&rule.says))))
                }
            })
            .collect()
    }

    fn fill(&self, words: &layout::Template) -> String {
        words.fill(self.facts, |blank| match blank {
            "year" => self.year.to_string(),
            "before" => self.year.before().to_string(),
            "after" => self.year.after().to_string(),
            other => match Credit::from_word(other) {
                Some(credit) => self.year_law.map_or(credit.called(), |law| law.name(credit)).to_string(),
                None => format!("{{{other}}}"),
            },
        })
    }

    /// Prints the value of the figure at a place, where there is one.
    fn at(&self, place: &Place) -> Words {
        self.outcome.figures.get(place).map_or_else(Words::new, amount)
    }

    /// Returns the figure about the return as a whole on a line of this year.
    fn of_return(&self, line: Line) -> Option<&'a Figure> {
        self.outcome.figures.get(&Place::of_return(self.year, line))
    }

    /// Returns the figures of this year on a line, in case order.
    fn on_line(&self, line: Line) -> Vec<&'a Figure> {
        let on = |figure: &&&Figure| figure.place.line == line;
        self.figures.iter().filter(on).copied().collect()
    }
}

/// Returns the official references of a figure on the papers of the year's form of return: of the line as a whole, or
/// of one of its rows. The child tax credit stands on the return's own line, or on the worksheet that the case takes
/// it from.
fn references(outcome: &Outcome, figure: &Figure) -> Vec<OfficialRef> {
    let place = &figure.place;
    let of = match &place.of {
        // Each of two main homes has a form of its own, with the same lines.
        Subject::Home(_) => &Subject::Return,
        of @ (Subject::Return | Subject::Rank(_) | Subject::Origin(_)) => of,
        _ => return Vec::new(),
    };
    let form = outcome.form(place.year);
    let mut found =
        official::map(place.year).map_or_else(Vec::new, |map| map.references(place.line.0, of, form));
    if place.line == line::BEFORE_CHILD_TAX {
        let from_worksheet = figure
            .used
            .iter()
            .any(|used| matches!(used, Used::Fact(fact) if fact.path.ends_with(".worksheet_b")));
        let looked_up = |one: &OfficialRef| one.direction == Direction::LookUp;
        found.retain(|one| !looked_up(one) || one.form.contains("Worksheet") == from_worksheet);
    }
    found
}

/// Prints a figure's value, with its name.
fn amount(figure: &Figure) -> Words {
    valued(figure.value.shown(), figure.place.to_string())
}

/// Makes an ordinary row of cells.
fn row_of(cells: Vec<Words>) -> Row {
    Row { cells, role: Role::Body }
}

/// Notes the names of the values that blocks print.
fn values(blocks: &[Block], found: &mut HashSet<String>) {
    for block in blocks {
        match block {
            Block::Table(table) => {
                let runs = table.rows.iter().flat_map(|row| &row.cells).flatten();
                found.extend(runs.filter_map(|run| run.value.clone()));
            }
            Block::Panel(inside) | Block::Together(inside) => values(inside, found),
            Block::List { items, .. } => items.iter().for_each(|item| values(item, found)),
            _ => {}
        }
    }
}

/// Makes a row that spans the table.
fn spanning(role: Role, words: impl Into<String>) -> Row {
    let words = words.into();
    Row {
        cells: vec![match role {
            Role::Group => strong(words),
            _ => plain(words),
        }],
        role,
    }
}

/// Leaves out every column after the first in which no ordinary row has anything.
fn without_empty_columns(mut table: Table) -> Table {
    let width = table.columns.len();
    let empty = |at: usize| {
        let filled =
            |row: &Row| row.cells.len() == width && row.cells[at].iter().any(|run| !run.text.is_empty());
        at > 0 && !table.rows.iter().any(filled)
    };
    let gone: Vec<usize> = (0..width).filter(|at| empty(*at)).collect();
    for at in gone.into_iter().rev() {
        table.columns.remove(at);
        for row in table.rows.iter_mut().filter(|row| row.cells.len() > 1) {
            row.cells.remove(at);
        }
    }
    table
}

/// Says whether a reference in a block bears a dagger.
fn has_dagger(block: &Block) -> bool {
    let Block::Table(table) = block else { return false };
    let mut runs = table.rows.iter().flat_map(|row| &row.cells).flatten();
    runs.any(|run| run.text.contains('\u{2020}'))
}

/// Prints a short day, for table cells.
fn short_date(day: Date) -> String {
    day.to_string()
}

/// Prints words written for a terminal without their code marks, and a key without its colon.
fn unmarked(text: &str) -> String {
    text.replace(":`", "`").replace('`', "")
}

/// Prints what a place is about, without year and line.
fn of_words(of: &Subject) -> String {
    match of {
        Subject::Unit(key, n) => format!("{key}, unit {n}"),
        Subject::Origin(year) => format!("earned in {year}"),
        Subject::If(year) => format!("what if, {year}"),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests;
