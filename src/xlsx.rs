//! Tabs of cells as a file for spreadsheet programs (Office Open XML, ISO/IEC 29500-1, SpreadsheetML; from memory).
//!
//! Comes in: a [`Book`] whose cells are words, numbers and formulas, and its date. Goes out: the bytes of a file, the
//! same for the same input: nothing in it comes from a clock or from chance. Words are words whatever they begin with,
//! a formula stands beside the value it has now, and there is no macro, no link and nothing hidden in it. Knows
//! neither tax nor what its formulas mean.
//!
//! It is written here and not by a library, because those at hand bring along another way to deflate, which would take
//! the place of ours everywhere else: what PDF files come to would depend on the machine they are made on.

use crate::xml;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use zip::write::SimpleFileOptions;

/// A file for spreadsheet programs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Book {
    /// Title, for the file's properties.
    pub title: String,
    /// What it is about, for its properties.
    pub subject: String,
    /// Who made it, for its properties.
    pub author: String,
    /// The day it bears.
    pub dated: jiff::civil::Date,
    /// Its tabs, in order.
    pub tabs: Vec<Tab>,
    /// Names of cells: the name, the tab by its number from zero, and the cell.
    pub names: BTreeMap<String, (usize, At)>,
}

/// One tab.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tab {
    /// Its name, as [`tab_name`] makes it.
    pub name: String,
    /// How wide its columns are, in characters.
    pub widths: Vec<u16>,
    /// Its rows, in order.
    pub rows: Vec<Row>,
    /// So many rows stay in sight at the top.
    pub frozen: usize,
    /// The row, from zero, that is printed at the head of every page.
    pub repeated: Option<usize>,
    /// The head of each printed page: left, middle, right.
    pub head: [String; 3],
    /// The foot of each printed page: left and right. `&P` and `&N` are the page and the number of pages.
    pub foot: [String; 2],
    /// Whether it is printed across.
    pub landscape: bool,
    /// Whether its head can be used to sort and filter the rows below: the row, from zero.
    pub filter: Option<usize>,
    /// Whether only cells that are open can be typed into. There is no password: it keeps from slips, not from intent.
    pub locked: bool,
    /// What may be typed into each column, below the rows that stay in sight.
    pub limits: Vec<Option<Limit>>,
}

/// What may be typed into a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Limit {
    /// One of some words, at most 255 characters in all.
    Words(Vec<String>),
    /// A number from zero.
    NotBelowZero,
    /// A day of this century.
    Days,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Its cells, from the first column on.
    pub cells: Vec<Cell>,
    /// Whether its first cell spans all columns.
    pub spans: bool,
    /// How high it is, in lines of type; the program's own choice where none is said.
    pub lines: Option<u16>,
}

/// One cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// What is in it.
    pub content: Content,
    /// How it looks.
    pub look: Look,
}

/// What is in a cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Content {
    /// Nothing.
    #[default]
    Blank,
    /// Words; never a formula, whatever they begin with. More than a cell holds are cut, with an ellipsis.
    Words(String),
    /// A number, in decimal digits.
    Number(String),
    /// A day.
    Day(jiff::civil::Date),
    /// A formula, without the sign of equality before it, and its value now.
    Formula(String, Now),
}

/// The value that a formula has now.
#[derive(Clone, Debug, PartialEq)]
pub enum Now {
    /// A number, in decimal digits.
    Number(String),
    /// Words.
    Words(String),
}

/// How a cell looks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Look {
    /// The type.
    pub face: Face,
    /// How its number is shown.
    pub number: Number,
    /// What surrounds it.
    pub frame: Frame,
    /// Where its content stands.
    pub side: Side,
    /// Whether words go on in a second line where the column ends.
    pub wraps: bool,
    /// Whether it can be typed into where the tab is locked.
    pub open: bool,
}

/// The type of a cell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Face {
    /// Ordinary.
    #[default]
    Plain,
    /// Bold.
    Strong,
    /// Italic.
    Slanted,
    /// Small and gray, for notes.
    Small,
    /// Large, for a title.
    Title,
}

/// How a number is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Number {
    /// As it is.
    #[default]
    General,
    /// Dollars and cents, thousands apart.
    Money,
    /// A share in hundredths, with so many decimals, at most eight.
    Percent(u8),
    /// A day.
    Day,
    /// As it was typed: digits are words here.
    Text,
}

/// What surrounds a cell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Frame {
    /// Nothing.
    #[default]
    None,
    /// A thin rule below.
    Ruled,
    /// Gray behind it, for the head of a table.
    Shaded,
    /// A rule above, for a total.
    Total,
    /// A box, for what a reader may change.
    Box,
}

/// Where a cell's content stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Words at the left, numbers at the right.
    #[default]
    Natural,
    /// At the left.
    Left,
    /// At the right.
    Right,
    /// At the left, a little away from the column before.
    Inset,
}

/// A place in a tab: row and column, from zero.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct At {
    /// The row.
    pub row: usize,
    /// The column.
    pub column: usize,
}

impl At {
    /// Prints the place as formulas name it: `D12`.
    pub fn plain(self) -> String {
        format!("{}{}", letters(self.column), self.row + 1)
    }

    /// Prints the place so that it does not move where the formula is copied: `$D$12`.
    pub fn fixed(self) -> String {
        format!("${}${}", letters(self.column), self.row + 1)
    }
}

/// Returns the letters of a column, counted from zero.
fn letters(column: usize) -> String {
    let last = char::from(b'A' + u8::try_from(column % 26).unwrap_or(0));
    match column / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letters(more - 1)),
    }
}

/// Makes a name that a tab can have, unlike those that others have: at most 31 characters, none of `[]:*?/\`. An
/// apostrophe becomes a curved one, because not every program reads a straight one in a formula.
pub fn tab_name(words: &str, taken: &[Tab]) -> String {
    let allowed = |c: char| match c {
        '\'' => '\u{2019}',
        c if "[]:*?/\\".contains(c) || c.is_control() => ' ',
        c => c,
    };
    let words: String = words.chars().map(allowed).collect();
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    let cut = |most: usize| -> String {
        let cut: String = words.chars().take(most).collect();
        cut.trim().to_string()
    };
    let stands = |name: &String| taken.iter().any(|tab| tab.name.to_lowercase() == name.to_lowercase());
    let numbered = (2..).map(|n| format!("{} {n}", cut(26)).trim().to_string());
    let whole = Some(cut(31)).filter(|name| !name.is_empty());
    whole.into_iter().chain(numbered).find(|name| !stands(name)).unwrap_or_default()
}

/// Prints a cell of a tab as formulas of other tabs name it.
pub fn reference(tab: &str, at: At) -> String {
    format!("{}!{}", quoted_tab(tab), at.fixed())
}

/// Prints a stretch of a column as formulas of other tabs name it.
pub fn stretch(tab: &str, from: At, to: At) -> String {
    format!("{}!{}:{}", quoted_tab(tab), from.fixed(), to.fixed())
}

fn quoted_tab(tab: &str) -> String {
    format!("'{}'", tab.replace('\'', "''"))
}

/// Prints words as a formula holds them.
pub fn quoted(words: &str) -> String {
    format!("\"{}\"", words.replace('"', "\"\""))
}

/// Makes a cell of words.
pub fn words(text: impl Into<String>, look: Look) -> Cell {
    Cell { content: Content::Words(text.into()), look }
}

/// Writes a file for spreadsheet programs.
///
/// Fails only where memory does.
pub fn write(book: &Book) -> Result<Vec<u8>, zip::result::ZipError> {
    let mut looks = Looks::default();
    let sheets: Vec<String> =
        book.tabs.iter().enumerate().map(|(n, tab)| sheet(tab, n == 0, &mut looks)).collect();
    let mut file = zip::ZipWriter::new(Cursor::new(Vec::new()));
    // The day of every part is the first that the format knows, because the writer takes none from a clock.
    // The system a part was "made by" would otherwise be a byte that differs between computers.
    let options = SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .system(zip::System::Unix);
    let mut part = |name: &str, text: &str| -> Result<(), zip::result::ZipError> {
        file.start_file(name, options)?;
        file.write_all(text.as_bytes())?;
        Ok(())
    };
    part("[Content_Types].xml", &content_types(book.tabs.len()))?;
    part(
        "_rels/.rels",
        &relations([("officeDocument", "xl/workbook.xml"), ("core-properties", "docProps/core.xml")]),
    )?;
    part("docProps/core.xml", &properties(book))?;
    part("xl/workbook.xml", &workbook(book))?;
    let targets: Vec<String> = (1..=book.tabs.len()).map(|n| format!("worksheets/sheet{n}.xml")).collect();
    let targets = targets.iter().map(|target| ("worksheet", target.as_str()));
    part("xl/_rels/workbook.xml.rels", &relations(targets.chain([("styles", "styles.xml")])))?;
    part("xl/styles.xml", &looks.write())?;
    for (n, sheet) in sheets.iter().enumerate() {
        part(&format!("xl/worksheets/sheet{}.xml", n + 1), sheet)?;
    }
    Ok(file.finish()?.into_inner())
}

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n";
const NAMES: &str = "xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" \
    xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"";

fn content_types(tabs: usize) -> String {
    let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml";
    let mut out = format!(
        "{HEAD}<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
         <Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
         <Default Extension=\"xml\" ContentType=\"application/xml\"/>\
         <Override PartName=\"/xl/workbook.xml\" ContentType=\"{kind}.sheet.main+xml\"/>\
         <Override PartName=\"/xl/styles.xml\" ContentType=\"{kind}.styles+xml\"/>\
         <Override PartName=\"/docProps/core.xml\" ContentType=\"application/vnd.openxmlformats-package.core-properties+xml\"/>"
    );
    for n in 1..=tabs {
        let _ = write!(
            out,
            "<Override PartName=\"/xl/worksheets/sheet{n}.xml\" ContentType=\"{kind}.worksheet+xml\"/>"
        );
    }
    out + "</Types>"
}

fn relations<'a>(parts: impl IntoIterator<Item = (&'a str, &'a str)>) -> String {
    let mut out = format!(
        "{HEAD}<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">"
    );
    for (n, (kind, target)) in parts.into_iter().enumerate() {
        let space = match kind {
            "core-properties" => "http://schemas.openxmlformats.org/package/2006/relationships/metadata",
            _ => "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
        };
        let _ =
            write!(out, "<Relationship Id=\"rId{}\" Type=\"{space}/{kind}\" Target=\"{target}\"/>", n + 1);
    }
    out + "</Relationships>"
}

fn properties(book: &Book) -> String {
    let [title, author, subject] = [&book.title, &book.author, &book.subject].map(|text| escaped(text));
    let day = format!("{}T00:00:00Z", book.dated);
    format!(
        "{HEAD}<cp:coreProperties xmlns:cp=\"http://schemas.openxmlformats.org/package/2006/metadata/core-properties\" \
         xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:dcterms=\"http://purl.org/dc/terms/\" \
         xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\"><dc:title>{title}</dc:title><dc:subject>{subject}</dc:subject>\
         <dc:creator>{author}</dc:creator><dc:language>en-US</dc:language>\
         <dcterms:created xsi:type=\"dcterms:W3CDTF\">{day}</dcterms:created>\
         <dcterms:modified xsi:type=\"dcterms:W3CDTF\">{day}</dcterms:modified></cp:coreProperties>"
    )
}

fn workbook(book: &Book) -> String {
    let mut out = format!("{HEAD}<workbook {NAMES}><bookViews><workbookView/></bookViews><sheets>");
    for (n, tab) in book.tabs.iter().enumerate() {
        let n = n + 1;
        let _ = write!(out, "<sheet name=\"{}\" sheetId=\"{n}\" r:id=\"rId{n}\"/>", escaped(&tab.name));
    }
    out.push_str("</sheets>");
    // Names stand in the order of the alphabet, and those that the format knows come first with their underscore.
    let mut names: Vec<String> = Vec::new();
    for (n, tab) in book.tabs.iter().enumerate() {
        let name = quoted_tab(&tab.name);
        if let (Some(row), Some(last)) = (tab.filter, tab.widths.len().checked_sub(1)) {
            let ends = (At { row, column: 0 }, At { row: tab.rows.len().max(row + 1) - 1, column: last });
            names.push(format!(
                "<definedName name=\"_xlnm._FilterDatabase\" localSheetId=\"{n}\" hidden=\"1\">{}</definedName>",
                escaped(&format!("{name}!{}:{}", ends.0.fixed(), ends.1.fixed()))
            ));
        }
        if let Some(row) = tab.repeated {
            let row = row + 1;
            names.push(format!(
                "<definedName name=\"_xlnm.Print_Titles\" localSheetId=\"{n}\">{}</definedName>",
                escaped(&format!("{name}!${row}:${row}"))
            ));
        }
    }
    for (name, (tab, at)) in &book.names {
        let Some(tab) = book.tabs.get(*tab) else { continue };
        names.push(format!(
            "<definedName name=\"{}\">{}</definedName>",
            escaped(name),
            escaped(&reference(&tab.name, *at))
        ));
    }
    if !names.is_empty() {
        let _ = write!(out, "<definedNames>{}</definedNames>", names.concat());
    }
    // A program that computes does so when the file is opened, so that nobody has to believe the values in it.
    out + "<calcPr calcId=\"191029\" fullCalcOnLoad=\"1\"/></workbook>"
}

/// Writes a tab.
fn sheet(tab: &Tab, first: bool, looks: &mut Looks) -> String {
    let columns = tab.widths.len().max(1);
    let mut out = format!(
        "{HEAD}<worksheet {NAMES}><sheetPr><pageSetUpPr fitToPage=\"1\"/></sheetPr><sheetViews>\
         <sheetView showGridLines=\"0\"{} workbookViewId=\"0\">",
        if first { " tabSelected=\"1\"" } else { "" }
    );
    if tab.frozen > 0 {
        let cell = At { row: tab.frozen, column: 0 }.plain();
        let _ = write!(
            out,
            "<pane ySplit=\"{}\" topLeftCell=\"{cell}\" activePane=\"bottomLeft\" state=\"frozen\"/>\
             <selection pane=\"bottomLeft\" activeCell=\"{cell}\" sqref=\"{cell}\"/>",
            tab.frozen
        );
    }
    let _ = write!(out, "</sheetView></sheetViews><sheetFormatPr defaultRowHeight=\"{LINE}\"/><cols>");
    for (n, width) in tab.widths.iter().enumerate() {
        let n = n + 1;
        let _ = write!(out, "<col min=\"{n}\" max=\"{n}\" width=\"{width}.7109375\" customWidth=\"1\"/>");
    }
    if tab.widths.is_empty() {
        out.push_str("<col min=\"1\" max=\"1\" width=\"9.7109375\" customWidth=\"1\"/>");
    }
    out.push_str("</cols><sheetData>");
    let mut merged = Vec::new();
    for (n, row) in tab.rows.iter().enumerate() {
        let _ = write!(out, "<row r=\"{}\"", n + 1);
        if let Some(lines) = row.lines {
            // A row whose one cell spans others is fitted by no program; any other row is, once it is edited.
            let own = if row.spans { " customHeight=\"1\"" } else { "" };
            let _ = write!(out, " ht=\"{}\"{own}", lines * LINE);
        }
        out.push('>');
        for (column, one) in row.cells.iter().enumerate() {
            cell(&mut out, At { row: n, column }, one, looks);
        }
        if let (true, Some(first)) = (row.spans && columns > 1, row.cells.first()) {
            // All cells of the span look like its first, or its rules would end there.
            let rest = Cell { content: Content::Blank, look: first.look };
            for column in row.cells.len()..columns {
                cell(&mut out, At { row: n, column }, &rest, looks);
            }
            let ends = (At { row: n, column: 0 }, At { row: n, column: columns - 1 });
            merged.push(format!("<mergeCell ref=\"{}:{}\"/>", ends.0.plain(), ends.1.plain()));
        }
        out.push_str("</row>");
    }
    out.push_str("</sheetData>");
    if tab.locked {
        out.push_str(
            "<sheetProtection sheet=\"1\" formatColumns=\"0\" formatRows=\"0\" sort=\"0\" autoFilter=\"0\"/>",
        );
    }
    if let Some(row) = tab.filter {
        let ends = (At { row, column: 0 }, At { row: tab.rows.len().max(row + 1) - 1, column: columns - 1 });
        let _ = write!(out, "<autoFilter ref=\"{}:{}\"/>", ends.0.plain(), ends.1.plain());
    }
    if !merged.is_empty() {
        let _ = write!(out, "<mergeCells count=\"{}\">{}</mergeCells>", merged.len(), merged.concat());
    }
    out.push_str(&limits(tab));
    // US Letter is paper 1. As wide as one page, as long as it needs.
    let across = if tab.landscape { "landscape" } else { "portrait" };
    let [left, middle, right] = tab.head.each_ref().map(|words| in_head(words));
    let [foot, page] = tab.foot.each_ref().map(|words| in_foot(words));
    let _ = write!(
        out,
        "<pageMargins left=\"0.6\" right=\"0.6\" top=\"0.8\" bottom=\"0.8\" header=\"0.4\" footer=\"0.4\"/>\
         <pageSetup paperSize=\"1\" orientation=\"{across}\" fitToWidth=\"1\" fitToHeight=\"0\"/>\
         <headerFooter><oddHeader>{}</oddHeader><oddFooter>{}</oddFooter></headerFooter></worksheet>",
        escaped(&format!("&L{left}&C{middle}&R{right}")),
        escaped(&format!("&L{foot}&R{page}"))
    );
    out
}

/// Writes what may be typed into the columns of a tab.
fn limits(tab: &Tab) -> String {
    let mut out = String::new();
    let (first, last) = (tab.frozen, tab.rows.len().max(tab.frozen + 1) - 1);
    let limits = tab.limits.iter().enumerate();
    let limits: Vec<(usize, &Limit)> = limits.filter_map(|(n, one)| Some((n, one.as_ref()?))).collect();
    if limits.is_empty() {
        return out;
    }
    let _ = write!(out, "<dataValidations count=\"{}\">", limits.len());
    for (column, limit) in limits {
        let (from, to) = (At { row: first, column }.plain(), At { row: last, column }.plain());
        let (kind, formula, wanted) = match limit {
            Limit::Words(words) => {
                ("type=\"list\"", quoted(&words.join(",")), format!("one of: {}", words.join(", ")))
            }
            Limit::NotBelowZero => (
                "type=\"decimal\" operator=\"greaterThanOrEqual\"",
                "0".to_string(),
                "an amount of zero or more".to_string(),
            ),
            Limit::Days => {
                let first = serial(jiff::civil::date(2000, 1, 1)).to_string();
                (
                    "type=\"date\" operator=\"greaterThanOrEqual\"",
                    first,
                    "a date, such as 2027-03-30".to_string(),
                )
            }
        };
        // The words of a refusal have room for 255 characters.
        let wanted: String = wanted.chars().take(240).collect();
        let _ = write!(
            out,
            "<dataValidation {kind} allowBlank=\"1\" showErrorMessage=\"1\" errorTitle=\"Not accepted\" error=\"Enter {}\" \
             sqref=\"{from}:{to}\"><formula1>{}</formula1></dataValidation>",
            escaped(&wanted),
            escaped(&formula)
        );
    }
    out + "</dataValidations>"
}

/// The height of a line of type, in points.
const LINE: u16 = 14;

/// Prints words in a head or foot: the sign that begins a command there is doubled. A digit at the beginning would be
/// taken for a size of type, so a blank keeps it from the command before.
fn in_head(words: &str) -> String {
    let digit = words.starts_with(|c: char| c.is_ascii_digit());
    format!("{}{}", if digit { " " } else { "" }, words.replace('&', "&&"))
}

/// Prints words at a foot, in which page and number of pages are written as commands.
fn in_foot(words: &str) -> String {
    in_head(words).replace("&&P", "&P").replace("&&N", "&N")
}

fn cell(out: &mut String, at: At, cell: &Cell, looks: &mut Looks) {
    let opened = |out: &mut String, look: usize, kind: &str| {
        let _ = write!(out, "<c r=\"{}\" s=\"{look}\"{kind}>", at.plain());
    };
    match &cell.content {
        Content::Blank => {
            if cell.look != Look::default() {
                let _ = write!(out, "<c r=\"{}\" s=\"{}\"/>", at.plain(), looks.of(cell.look, false));
            }
        }
        Content::Words(text) => {
            let look = looks.of(cell.look, crate::csv::starts_a_formula(text));
            opened(out, look, " t=\"inlineStr\"");
            let _ = write!(out, "<is><t xml:space=\"preserve\">{}</t></is></c>", escaped(&held(text)));
        }
        Content::Number(digits) => {
            opened(out, looks.of(cell.look, false), "");
            let _ = write!(out, "<v>{}</v></c>", escaped(digits));
        }
        Content::Day(day) => {
            opened(out, looks.of(cell.look, false), "");
            let _ = write!(out, "<v>{}</v></c>", serial(*day));
        }
        Content::Formula(formula, now) => {
            let (kind, value) = match now {
                Now::Number(digits) => ("", digits),
                Now::Words(words) => (" t=\"str\"", words),
            };
            opened(out, looks.of(cell.look, false), kind);
            let _ = write!(out, "<f>{}</f><v>{}</v></c>", escaped(formula), escaped(&held(value)));
        }
    }
}

/// The most UTF-16 units that a cell holds.
const MOST: usize = 32_767;

/// Cuts words to what a cell holds; an ellipsis says that more was there.
fn held(text: &str) -> Cow<'_, str> {
    // Bytes first: nearly every text is far shorter, and needs no counting.
    if text.len() <= MOST || text.encode_utf16().count() <= MOST {
        return Cow::Borrowed(text);
    }
    let mut units = 0;
    let fits = |c: &char| {
        units += c.len_utf16();
        units < MOST
    };
    Cow::Owned(text.chars().take_while(fits).chain(['\u{2026}']).collect())
}

/// Returns the number that a spreadsheet has for a day: days since the thirtieth of December 1899.
fn serial(day: jiff::civil::Date) -> i32 {
    let first = jiff::civil::date(1899, 12, 30);
    day.since(first).map_or(0, |span| span.get_days())
}

/// Writes words for XML: what it does not know is left out, and what the format would read as the number of a
/// character is told apart from it (ISO/IEC 29500-1, section 22.9.2.19).
fn escaped(text: &str) -> String {
    let known = |c: &char| !c.is_control() || matches!(c, '\n' | '\t');
    let known = |c: &char| known(c) && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let text: String = text.chars().filter(known).collect();
    let mut out = String::with_capacity(text.len());
    for (n, c) in text.char_indices() {
        let number = |rest: &str| {
            let bytes = rest.as_bytes();
            bytes.len() >= 7
                && bytes[1] == b'x'
                && bytes[2..6].iter().all(u8::is_ascii_hexdigit)
                && bytes[6] == b'_'
        };
        match c == '_' && number(&text[n..]) {
            true => out.push_str("_x005F_"),
            false => out.push(c),
        }
    }
    xml::escaped(&out)
}

/// The looks in use, each with its number.
#[derive(Default)]
struct Looks {
    numbers: BTreeMap<(Look, bool), usize>,
    list: Vec<(Look, bool)>,
}

impl Looks {
    /// Returns the number of a look; `kept`: what is typed stays words, also when the cell is edited. The first is the
    /// look of cells that have none.
    fn of(&mut self, look: Look, kept: bool) -> usize {
        if self.list.is_empty() {
            self.list.push((Look::default(), false));
            self.numbers.insert((Look::default(), false), 0);
        }
        let next = self.list.len();
        let number = *self.numbers.entry((look, kept)).or_insert(next);
        if number == next {
            self.list.push((look, kept));
        }
        number
    }

    fn write(&mut self) -> String {
        self.of(Look::default(), false);
        let font = |size: &str, rest: &str| {
            format!("<font>{rest}<sz val=\"{size}\"/>{{}}<name val=\"Calibri\"/><family val=\"2\"/></font>")
        };
        let ink = |font: String, color: &str| font.replace("{}", &format!("<color rgb=\"FF{color}\"/>"));
        let fonts = [
            ink(font("10", ""), "000000"),
            ink(font("10", "<b/>"), "000000"),
            ink(font("10", "<i/>"), "000000"),
            ink(font("9", ""), "404040"),
            ink(font("15", "<b/>"), "000000"),
        ];
        let side = |name: &str, style: &str| match style {
            "" => format!("<{name}/>"),
            style => format!("<{name} style=\"{style}\"><color rgb=\"FF808080\"/></{name}>"),
        };
        let border = |around: &str, top: &str, bottom: &str| {
            format!(
                "<border>{}{}{}{}<diagonal/></border>",
                side("left", around),
                side("right", around),
                side("top", top),
                side("bottom", bottom)
            )
        };
        let borders = [
            border("", "", ""),
            border("", "", "hair"),
            border("", "", "thin"),
            border("", "thin", ""),
            border("thin", "thin", "thin"),
        ];
        let mut formats: Vec<String> =
            vec!["#,##0.00;\"\u{2212}\"#,##0.00".to_string(), "yyyy\\-mm\\-dd".to_string()];
        formats.extend((0..=8).map(|n| match n {
            0 => "0%".to_string(),
            n => format!("0.{}%", "0".repeat(n)),
        }));
        let mut out = format!("{HEAD}<styleSheet {NAMES}><numFmts count=\"{}\">", formats.len());
        for (n, format) in formats.iter().enumerate() {
            let _ =
                write!(out, "<numFmt numFmtId=\"{}\" formatCode=\"{}\"/>", OWN_FORMATS + n, escaped(format));
        }
        let _ = write!(
            out,
            "</numFmts><fonts count=\"{}\">{}</fonts><fills count=\"3\"><fill><patternFill patternType=\"none\"/></fill>\
             <fill><patternFill patternType=\"gray125\"/></fill><fill><patternFill patternType=\"solid\">\
             <fgColor rgb=\"FFECECEC\"/></patternFill></fill></fills><borders count=\"{}\">{}</borders>\
             <cellStyleXfs count=\"1\"><xf/></cellStyleXfs><cellXfs count=\"{}\">",
            fonts.len(),
            fonts.concat(),
            borders.len(),
            borders.concat(),
            self.list.len()
        );
        for (look, kept) in &self.list {
            let format = match look.number {
                Number::General => 0,
                Number::Text => 49,
                Number::Money => OWN_FORMATS,
                Number::Day => OWN_FORMATS + 1,
                Number::Percent(decimals) => OWN_FORMATS + 2 + usize::from(decimals.min(8)),
            };
            let font = look.face as usize;
            let fill = if look.frame == Frame::Shaded { 2 } else { 0 };
            let border = look.frame as usize;
            let side = match look.side {
                Side::Natural => "",
                Side::Left => " horizontal=\"left\"",
                Side::Right => " horizontal=\"right\"",
                Side::Inset => " horizontal=\"left\" indent=\"1\"",
            };
            let wrap = if look.wraps { " wrapText=\"1\"" } else { "" };
            let kept = if *kept { " quotePrefix=\"1\"" } else { "" };
            let (may, open) = match look.open {
                true => (" applyProtection=\"1\"", "<protection locked=\"0\"/>"),
                false => ("", ""),
            };
            let _ = write!(
                out,
                "<xf numFmtId=\"{format}\" fontId=\"{font}\" fillId=\"{fill}\" borderId=\"{border}\" xfId=\"0\"{kept} \
                 applyNumberFormat=\"1\" applyFont=\"1\" applyFill=\"1\" applyBorder=\"1\" applyAlignment=\"1\"{may}>\
                 <alignment vertical=\"top\"{side}{wrap}/>{open}</xf>"
            );
        }
        out + "</cellXfs><cellStyles count=\"1\"><cellStyle name=\"Normal\" xfId=\"0\" builtinId=\"0\"/></cellStyles></styleSheet>"
    }
}

/// The number of the first number format that the file brings along; those below are known to every program.
const OWN_FORMATS: usize = 164;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_named_as_spreadsheets_name_them() {
        for (column, name) in [(0, "A1"), (25, "Z1"), (26, "AA1"), (51, "AZ1"), (52, "BA1"), (702, "AAA1")] {
            assert_eq!(At { row: 0, column }.plain(), name);
        }
        assert_eq!(At { row: 11, column: 3 }.fixed(), "$D$12");
        assert_eq!(stretch("It's", At { row: 0, column: 1 }, At { row: 2, column: 1 }), "'It''s'!$B$1:$B$3");
    }

    #[test]
    fn tabs_have_names_of_their_own_that_every_program_takes() {
        let mut tabs: Vec<Tab> = Vec::new();
        let mut name = |words: &str| {
            let name = tab_name(words, &tabs);
            tabs.push(Tab { name: name.clone(), ..Tab::default() });
            name
        };
        assert_eq!(name("2025 Changing the return: [1040/X]"), "2025 Changing the return 1040 X");
        assert_eq!(name("2025 changing the return: 1040 x"), "2025 changing the return 1 2");
        assert_eq!(name("the home's basis"), "the home\u{2019}s basis");
        assert_eq!(name(""), "2");
        assert_eq!(name(&"é".repeat(40)).chars().count(), 31);
    }

    #[test]
    fn words_hold_nothing_that_the_format_reads_otherwise() {
        assert_eq!(escaped("a\u{1}b\u{0}c & <d>\n"), "abc &amp; &lt;d&gt;\n");
        assert_eq!(escaped("_x000D_ and _x00_"), "_x005F_x000D_ and _x00_");
        assert_eq!(escaped("_é_x0041_"), "_é_x005F_x0041_");
        assert_eq!(in_foot("Page &P of &N"), "Page &P of &N");
        assert_eq!(in_head("12 & more"), " 12 && more");
    }

    /// The most that a cell can hold is 32,767 characters (Microsoft, "Excel specifications and limits"; counted in UTF-16,
    /// from memory). A file with more in one is taken for damaged.
    #[test]
    fn no_cell_holds_more_than_a_cell_can() {
        let length = |text: &str| text.encode_utf16().count();
        let most = "a".repeat(32_767);
        assert_eq!(held(&most), most);
        let cut = held(&format!("{most}b")).into_owned();
        assert!(length(&cut) == 32_767 && cut.ends_with("a\u{2026}"), "{}", length(&cut));
        let pairs = held(&"\u{1f3e0}".repeat(20_000)).into_owned();
        assert!(length(&pairs) == 32_767 && pairs.ends_with("\u{1f3e0}\u{2026}"), "{}", length(&pairs));
        let tab = Tab {
            name: "One".to_string(),
            rows: vec![Row { cells: vec![words("a".repeat(40_000), Look::default())], ..Row::default() }],
            ..Tab::default()
        };
        let written = sheet(&tab, true, &mut Looks::default());
        assert!(
            !written.contains(&most) && written.contains(&most[1..]),
            "the cell is written as it is held"
        );
    }

    /// Characters that a format of numbers shows without quotes (ISO/IEC 29500-1, section 18.8.31, from memory), and its
    /// own signs; a minus of typesetters is neither.
    #[test]
    fn formats_of_numbers_quote_what_is_not_theirs() {
        let styles = Looks::default().write();
        let codes: Vec<&str> =
            styles.split("formatCode=\"").skip(1).filter_map(|one| one.split('"').next()).collect();
        assert!(codes.len() > 10, "{codes:?}");
        for code in codes {
            let code = code.replace("&quot;", "\"");
            let bare: String = code.split('"').step_by(2).collect();
            let known = |c: char| "0#,.;%\\-ymd".contains(c);
            assert!(bare.chars().all(known), "{code}");
        }
    }

    #[test]
    fn days_are_counted_as_spreadsheets_do() {
        assert_eq!(serial(jiff::civil::date(1900, 3, 1)), 61);
        assert_eq!(serial(jiff::civil::date(2026, 11, 30)), 46356);
    }

    #[test]
    fn the_same_book_makes_the_same_bytes() {
        let look = Look { face: Face::Strong, number: Number::Percent(2), ..Look::default() };
        let cells = vec![
            words("=1+1", Look::default()),
            Cell { content: Content::Formula("1+1".to_string(), Now::Number("2".to_string())), look },
        ];
        let tab = Tab {
            name: "One".to_string(),
            widths: vec![10, 10],
            rows: vec![Row { cells, ..Row::default() }],
            ..Tab::default()
        };
        let names = BTreeMap::from([("L1".to_string(), (0, At { row: 0, column: 1 }))]);
        let book = Book { title: "T".to_string(), tabs: vec![tab], names, ..Book::default() };
        let bytes = write(&book).expect("written");
        assert_eq!(bytes, write(&book).expect("written"));
        assert!(bytes.starts_with(b"PK"));
    }
}
