//! A workbook of XLSX (ECMA-376, Office Open XML) read as grids, one for each sheet.
//!
//! Comes in: bytes that anybody may have made. Goes out: [`Grid`]s, or why there are none. Numbers are kept as they are
//! written, for a float would change amounts; what a spreadsheet hides is kept as well, so that nothing is read or left
//! out in silence. Nothing outside the file is ever looked at, no formula is computed, and no entity is expanded.

use super::cells::{
    Cell, Grid, GridRow, MAX_BYTES, MAX_CELLS, MAX_COLUMNS, MAX_MERGED, MAX_ROWS, MAX_UNPACKED, NoTable,
    Range, Shown, Value, named,
};
use crate::wording::count;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// How a file begins that was packed.
pub(super) const PACKED: &[u8] = b"PK\x03\x04";

/// Reads every sheet of a workbook that is shown, in order, and the names of those that are hidden.
pub(super) fn read(bytes: &[u8]) -> Result<(Vec<Grid>, Vec<String>), NoTable> {
    let mut file = Package::open(bytes)?;
    let workbook = file.workbook()?;
    let shared = match &workbook.shared {
        Some(path) => shared_strings(&file.part(path)?)?,
        None => Vec::new(),
    };
    let formats = match &workbook.styles {
        Some(path) => formats(&file.part(path)?)?,
        None => Vec::new(),
    };
    let (mut grids, mut hidden) = (Vec::new(), Vec::new());
    for sheet in &workbook.sheets {
        if sheet.hidden {
            hidden.push(sheet.name.clone());
            continue;
        }
        let text = file.part(&sheet.path)?;
        let mut grid = grid(&text, &shared, &formats)?;
        grid.sheet = Some(sheet.name.clone());
        grid.from_1904 = workbook.from_1904;
        grids.push(grid);
    }
    Ok((grids, hidden))
}

/// The packed file, and how many bytes of it may still be unpacked.
struct Package<'b> {
    archive: ZipArchive<Cursor<&'b [u8]>>,
    left: u64,
}

struct Workbook {
    sheets: Vec<Sheet>,
    shared: Option<String>,
    styles: Option<String>,
    from_1904: bool,
}

struct Sheet {
    name: String,
    path: String,
    hidden: bool,
}

const SAVE_ANEW: &str = "open it in the spreadsheet program and save it again as .xlsx, or as CSV UTF-8";

fn broken(what: &str) -> NoTable {
    NoTable::new(format!("the workbook cannot be read: {what}"), SAVE_ANEW)
}

impl<'b> Package<'b> {
    fn open(bytes: &'b [u8]) -> Result<Package<'b>, NoTable> {
        let archive = ZipArchive::new(Cursor::new(bytes)).map_err(|_| broken("it is cut off or damaged"))?;
        let has = |name: &str| archive.index_for_name(name).is_some();
        if has("content.xml") || has("xl/workbook.bin") {
            return Err(NoTable::new("this is a spreadsheet of another format than .xlsx", SAVE_ANEW));
        }
        Ok(Package { archive, left: MAX_UNPACKED })
    }

    /// Unpacks one part, not past what is left.
    fn part(&mut self, path: &str) -> Result<String, NoTable> {
        let file = self.archive.by_name(path).map_err(|_| broken(&format!("it has no part `{path}`")))?;
        let mut text = Vec::new();
        let most = self.left;
        file.take(most + 1).read_to_end(&mut text).map_err(|_| broken("a part of it is damaged"))?;
        if text.len() as u64 > most {
            return Err(NoTable::new(
                format!("unpacked, the workbook has more than {} bytes", count(MAX_UNPACKED)),
                "copy the list alone, without pictures and other sheets, into a new workbook",
            ));
        }
        self.left -= text.len() as u64;
        let text = match text.as_slice() {
            [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
                super::delimited::utf_16(&text).ok_or_else(|| broken("a part of it is no text"))?
            }
            _ => String::from_utf8(text).map_err(|_| broken("a part of it is no text"))?,
        };
        Ok(text)
    }

    fn workbook(&mut self) -> Result<Workbook, NoTable> {
        let main = self.related("_rels/.rels", "")?;
        let path = main.into_values().find(|one| one.kind == "officeDocument").map(|one| one.path);
        let path = path.unwrap_or_else(|| "xl/workbook.xml".to_string());
        let (folder, name) = path.rsplit_once('/').unwrap_or(("", &path));
        let related = self.related(&format!("{folder}/_rels/{name}.rels"), folder)?;
        let of_kind = |kind: &str| related.values().find(|one| one.kind == kind).map(|one| one.path.clone());
        let (shared, styles) = (of_kind("sharedStrings"), of_kind("styles"));
        let text = self.part(&path)?;
        let mut workbook = Workbook { sheets: Vec::new(), shared, styles, from_1904: false };
        elements(&text, |name, one, _| {
            match name {
                "workbookPr" => workbook.from_1904 = truth(attribute(one, "date1904")),
                "sheet" => {
                    let target = attribute(one, "id").and_then(|id| related.get(&id));
                    if let (Some(name), Some(target)) = (attribute(one, "name"), target)
                        && target.kind == "worksheet"
                    {
                        let hidden = attribute(one, "state").is_some_and(|state| state != "visible");
                        workbook.sheets.push(Sheet { name, path: target.path.clone(), hidden });
                    }
                }
                _ => {}
            }
            Ok(())
        })?;
        match workbook.sheets.len() {
            0 => Err(broken("it has no sheet")),
            n if n > 200 => Err(NoTable::new("the workbook has more than 200 sheets", SAVE_ANEW)),
            _ => Ok(workbook),
        }
    }

    /// Reads which parts a part names, by their identifiers. What lies outside of the file is left out.
    fn related(&mut self, path: &str, folder: &str) -> Result<BTreeMap<String, Related>, NoTable> {
        let text = self.part(path)?;
        let mut related = BTreeMap::new();
        elements(&text, |name, one, _| {
            let outside = attribute(one, "TargetMode").is_some_and(|mode| mode == "External");
            if name == "Relationship"
                && !outside
                && let (Some(id), Some(kind), Some(target)) =
                    (attribute(one, "Id"), attribute(one, "Type"), attribute(one, "Target"))
            {
                let kind = kind.rsplit('/').next().unwrap_or_default().to_string();
                let path = match target.strip_prefix('/') {
                    Some(whole) => whole.to_string(),
                    None if folder.is_empty() => target,
                    None => format!("{folder}/{target}"),
                };
                related.insert(id, Related { kind, path });
            }
            Ok(())
        })?;
        Ok(related)
    }
}

struct Related {
    kind: String,
    path: String,
}

/// Walks over the elements of a part: each with its name, its attributes, and whether it has nothing in it.
fn elements(
    text: &str,
    mut each: impl FnMut(&str, &BytesStart<'_>, bool) -> Result<(), NoTable>,
) -> Result<(), NoTable> {
    let mut reader = Reader::from_str(text);
    loop {
        match next(&mut reader)? {
            Event::Start(one) => each(local(&one), &one, false)?,
            Event::Empty(one) => each(local(&one), &one, true)?,
            Event::Eof => return Ok(()),
            _ => {}
        }
    }
}

/// Reads on. A part with a document type is refused, for it could name entities that grow without end.
fn next<'t>(reader: &mut Reader<&'t [u8]>) -> Result<Event<'t>, NoTable> {
    match reader.read_event() {
        Ok(Event::DocType(_)) => {
            Err(broken("a part of it declares a document type, which no spreadsheet does"))
        }
        Ok(event) => Ok(event),
        Err(_) => Err(broken("a part of it is not well formed")),
    }
}

/// The name of an element without its namespace.
fn local<'e>(one: &'e BytesStart<'_>) -> &'e str {
    let name: &'e str = one.name().into_inner();
    name.rsplit(':').next().unwrap_or(name)
}

/// The value of an attribute, by its name without a namespace.
fn attribute(one: &BytesStart<'_>, name: &str) -> Option<String> {
    one.attributes().flatten().find_map(|attribute| {
        let key = attribute.key.into_inner();
        let own = key.rsplit(':').next().unwrap_or(key);
        (own == name).then(|| {
            attribute.normalized_value(XmlVersion::Implicit1_0).ok().map(|value| value.into_owned())
        })?
    })
}

fn truth(value: Option<String>) -> bool {
    value.is_some_and(|value| value == "1" || value == "true")
}

/// Adds what an event says in words.
fn words(event: &Event<'_>, out: &mut String) -> Result<(), NoTable> {
    match event {
        Event::Text(text) => out.push_str(&text.xml10_content()),
        Event::CData(text) => out.push_str(&text.xml10_content()),
        Event::GeneralRef(name) => match name.resolve_char_ref() {
            Ok(Some(c)) => out.push(c),
            Ok(None) => out.push(match &*name.xml10_content() {
                "amp" => '&',
                "lt" => '<',
                "gt" => '>',
                "quot" => '"',
                "apos" => '\'',
                _ => return Err(broken("a part of it names an entity that it does not have")),
            }),
            Err(_) => return Err(broken("a part of it names a character that there is not")),
        },
        _ => {}
    }
    Ok(())
}

/// Characters that XML cannot hold stand as `_x000D_` (ECMA-376 part 1, 22.9.2.19, from memory).
fn unescaped(text: &str) -> String {
    if !text.contains("_x") {
        return text.to_string();
    }
    let (mut out, mut rest) = (String::new(), text);
    while let Some(at) = rest.find("_x") {
        out.push_str(&rest[..at]);
        let code = rest.get(at + 2..at + 6).filter(|_| rest.as_bytes().get(at + 6) == Some(&b'_'));
        match code.and_then(|code| u32::from_str_radix(code, 16).ok()).and_then(char::from_u32) {
            Some(c) => {
                out.push(c);
                rest = &rest[at + 7..];
            }
            None => {
                out.push_str("_x");
                rest = &rest[at + 2..];
            }
        }
    }
    out + rest
}

/// Reads the texts that cells name by number.
fn shared_strings(text: &str) -> Result<Vec<String>, NoTable> {
    let mut reader = Reader::from_str(text);
    let mut all = Vec::new();
    // Inside of a text, and inside of how it is pronounced, which is no part of it.
    let (mut current, mut inside, mut spoken) = (String::new(), false, false);
    loop {
        let event = next(&mut reader)?;
        match &event {
            Event::Start(one) => match local(one) {
                "si" => current.clear(),
                "t" => inside = true,
                "rPh" => spoken = true,
                _ => {}
            },
            _ if all.len() > MAX_CELLS => return Err(too_many_cells()),
            Event::Empty(one) if local(one) == "si" => all.push(String::new()),
            Event::End(one) => match one.local_name().into_inner() {
                "si" => all.push(unescaped(&current)),
                "t" => inside = false,
                "rPh" => spoken = false,
                _ => {}
            },
            Event::Eof => return Ok(all),
            other if inside && !spoken => words(other, &mut current)?,
            _ => {}
        }
    }
}

/// How numbers are shown, by the number of a cell's style.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Format {
    Plain,
    Day,
    Percent,
    /// Zeros and hyphens; with another for more than five digits, as in the usual format of ZIP codes.
    Digits(String, Option<String>),
}

fn formats(text: &str) -> Result<Vec<Format>, NoTable> {
    let (mut codes, mut styles, mut in_cells) = (BTreeMap::new(), Vec::new(), false);
    let mut reader = Reader::from_str(text);
    loop {
        match next(&mut reader)? {
            Event::Start(one) | Event::Empty(one) => match local(&one) {
                "numFmt" => {
                    if let (Some(id), Some(code)) =
                        (attribute(&one, "numFmtId"), attribute(&one, "formatCode"))
                    {
                        codes.insert(id, code);
                    }
                }
                "cellXfs" => in_cells = true,
                "xf" if in_cells => {
                    let id = attribute(&one, "numFmtId").unwrap_or_default();
                    styles.push(match codes.get(&id) {
                        Some(code) => format(code),
                        None => built_in(id.parse().unwrap_or(0)),
                    });
                }
                _ => {}
            },
            Event::End(one) if one.local_name().into_inner() == "cellXfs" => in_cells = false,
            Event::Eof => return Ok(styles),
            _ => {}
        }
    }
}

/// The formats that have a number of their own (ECMA-376 part 1, 18.8.30, from memory).
fn built_in(id: u32) -> Format {
    match id {
        9 | 10 => Format::Percent,
        14..=22 | 27..=36 | 45..=47 | 50..=58 => Format::Day,
        _ => Format::Plain,
    }
}

/// Reads the code of a format.
fn format(code: &str) -> Format {
    let mut bare = String::new();
    let mut signs = code.chars();
    while let Some(c) = signs.next() {
        match c {
            '"' => drop(signs.by_ref().take_while(|c| *c != '"').count()),
            '\\' | '_' | '*' => match signs.next() {
                Some('-') if c == '\\' => bare.push('-'),
                _ => {}
            },
            // A condition, a color, a language; elapsed time counts as a day.
            '[' => {
                let inside: String = signs.by_ref().take_while(|c| *c != ']').collect();
                if matches!(inside.to_ascii_lowercase().as_str(), "h" | "hh" | "m" | "mm" | "s" | "ss") {
                    return Format::Day;
                }
            }
            c => bare.push(c),
        }
    }
    let mut sections = bare.split(';');
    let first = sections.next().unwrap_or_default().trim();
    let zeros = |text: &str| {
        text.starts_with("00") && text.chars().all(|c| c == '0' || c == '-') && !text.ends_with('-')
    };
    if zeros(first) {
        let longer = sections.next().map(str::trim).filter(|one| zeros(one) && code.starts_with("[<="));
        return Format::Digits(first.to_string(), longer.map(str::to_string));
    }
    let lower = first.to_ascii_lowercase();
    match lower.as_str() {
        "general" | "standard" | "@" => Format::Plain,
        lower if lower.contains('%') => Format::Percent,
        lower if lower.contains(['d', 'm', 'y', 'h', 's']) => Format::Day,
        _ => Format::Plain,
    }
}

/// What the reading of a cell knows.
#[derive(Default)]
struct Open {
    column: usize,
    kind: String,
    style: usize,
    formula: bool,
    value: String,
    inline: String,
}

/// Reads one sheet.
fn grid(text: &str, shared: &[String], formats: &[Format]) -> Result<Grid, NoTable> {
    let mut grid = Grid::default();
    let mut reader = Reader::from_str(text);
    let mut row = GridRow::default();
    let mut cell = Open::default();
    let (mut in_value, mut in_inline, mut spoken) = (false, false, false);
    let mut cells = 0;
    loop {
        let event = next(&mut reader)?;
        let empty = matches!(event, Event::Empty(_));
        match &event {
            Event::Start(one) | Event::Empty(one) => match local(one) {
                "col" if truth(attribute(one, "hidden")) => {
                    let number = |name: &str| attribute(one, name)?.parse::<usize>().ok();
                    let (first, last) = (number("min").unwrap_or(1), number("max").unwrap_or(1));
                    grid.hidden_columns.extend(first.max(1) - 1..last.min(MAX_COLUMNS));
                }
                "row" => {
                    let number = attribute(one, "r").and_then(|number| number.parse().ok());
                    let hidden = truth(attribute(one, "hidden"));
                    row = GridRow { number: number.unwrap_or(row.number + 1), hidden, cells: Vec::new() };
                    cell.column = 0;
                }
                "c" => {
                    let place = attribute(one, "r").and_then(|name| named(&name));
                    let after = row.cells.last().map_or(cell.column, |(column, _)| column + 1);
                    cell = Open {
                        column: place.map_or(after, |(column, _)| column),
                        kind: attribute(one, "t").unwrap_or_default(),
                        style: attribute(one, "s").and_then(|style| style.parse().ok()).unwrap_or(0),
                        ..Open::default()
                    };
                    if empty {
                        cell.column += 1;
                    }
                }
                "f" => cell.formula = true,
                "v" => in_value = !empty,
                "t" => in_inline = !empty,
                "rPh" => spoken = !empty,
                "mergeCell" if grid.merged.len() >= MAX_MERGED => return Err(too_many_cells()),
                "mergeCell" => grid.merged.extend(attribute(one, "ref").and_then(|name| range(&name))),
                _ => {}
            },
            Event::End(one) => match one.local_name().into_inner() {
                "v" => in_value = false,
                "t" => in_inline = false,
                "rPh" => spoken = false,
                "c" => {
                    if let Some(read) = read_cell(&cell, shared, formats)? {
                        if cell.column >= MAX_COLUMNS {
                            return Err(NoTable::new(
                                format!("a row has more than {MAX_COLUMNS} columns"),
                                "copy the columns that are wanted into a new workbook",
                            ));
                        }
                        if row.cells.last().is_some_and(|(column, _)| *column >= cell.column) {
                            return Err(broken("its cells are not in order"));
                        }
                        cells += 1;
                        if cells > MAX_CELLS {
                            return Err(too_many_cells());
                        }
                        row.cells.push((cell.column, read));
                    } else {
                        cell.column += 1;
                    }
                }
                "row" if !row.cells.is_empty() => {
                    let number = row.number;
                    if grid.rows.last().is_some_and(|last| last.number >= number) {
                        return Err(broken("its rows are not in order"));
                    }
                    if grid.rows.len() == MAX_ROWS {
                        return Err(too_many_rows());
                    }
                    let next = GridRow { number, ..GridRow::default() };
                    grid.rows.push(std::mem::replace(&mut row, next));
                }
                _ => {}
            },
            Event::Eof => return Ok(grid),
            other if in_value => words(other, &mut cell.value)?,
            other if in_inline && !spoken => words(other, &mut cell.inline)?,
            _ => {}
        }
    }
}

pub(super) fn too_many_rows() -> NoTable {
    NoTable::new(
        format!("the table has more than {} rows", count(MAX_ROWS)),
        "divide the list into several files",
    )
}

fn too_many_cells() -> NoTable {
    NoTable::new(
        format!("the workbook has more than {} cells", count(MAX_CELLS)),
        "copy the list alone, without other sheets, into a new workbook",
    )
}

pub(super) fn too_large() -> NoTable {
    NoTable::new(
        format!("the file has more than {} bytes", count(MAX_BYTES)),
        "copy the list alone, without pictures and other sheets, into a new file",
    )
}

fn range(name: &str) -> Option<Range> {
    let (first, last) = name.split_once(':')?;
    let ((left, top), (right, bottom)) = (named(first)?, named(last)?);
    Some(Range { rows: (top, bottom), columns: (left, right) })
}

/// Makes of a cell what it holds; nothing where it is empty.
fn read_cell(cell: &Open, shared: &[String], formats: &[Format]) -> Result<Option<Cell>, NoTable> {
    let written = cell.value.trim();
    let value = match cell.kind.as_str() {
        "inlineStr" => Value::Text(unescaped(&cell.inline)),
        "str" => Value::Text(unescaped(&cell.value)),
        "e" => Value::Error(written.to_string()),
        _ if written.is_empty() && cell.formula => Value::NotComputed,
        _ if written.is_empty() => return Ok(None),
        "s" => {
            let text = written.parse::<usize>().ok().and_then(|n| shared.get(n));
            Value::Text(text.ok_or_else(|| broken("a cell names a text that it does not have"))?.clone())
        }
        "b" => Value::Truth(written == "1" || written == "true"),
        // A day in words, as ISO 8601 has it; its hour says nothing here.
        "d" => Value::Text(written.split('T').next().unwrap_or(written).to_string()),
        _ => number(written, formats.get(cell.style).unwrap_or(&Format::Plain)),
    };
    // What a formula leaves empty is empty.
    let blank = matches!(&value, Value::Text(text) if text.trim().is_empty());
    Ok((!blank).then_some(Cell { value, formula: cell.formula }))
}

/// Reads a number. Spreadsheets compute in binary and write seventeen digits, of which fifteen are meant.
fn number(written: &str, format: &Format) -> Value {
    let read = written.parse::<Decimal>().or_else(|_| Decimal::from_scientific(written)).ok();
    let Some(number) = read.and_then(|number| number.round_sf(15)) else {
        return Value::Text(written.to_string());
    };
    let number = number.normalize();
    let shown = match format {
        Format::Plain => Shown::Plain,
        Format::Day => Shown::Day,
        Format::Percent => Shown::Percent,
        Format::Digits(short, longer) => {
            let code = longer.as_ref().filter(|_| number > Decimal::from(99_999)).unwrap_or(short);
            Shown::Digits(code.clone())
        }
    };
    Value::Number(number, shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_say_what_a_number_is() {
        for (code, expected) in [
            ("General", Format::Plain),
            ("#,##0.00", Format::Plain),
            ("\"$\"#,##0_);(\"$\"#,##0)", Format::Plain),
            ("_($* #,##0.00_);_($* (#,##0.00);_($* \"-\"??_);_(@_)", Format::Plain),
            ("[Red]#,##0", Format::Plain),
            ("0.0%", Format::Percent),
            ("m/d/yyyy", Format::Day),
            ("[$-409]d-mmm-yy;@", Format::Day),
            ("[h]:mm", Format::Day),
            ("\"days\" 0", Format::Plain),
            ("00000", Format::Digits("00000".into(), None)),
            ("00000\\-0000", Format::Digits("00000-0000".into(), None)),
            ("[<=99999]00000;00000\\-0000", Format::Digits("00000".into(), Some("00000-0000".into()))),
        ] {
            assert_eq!(format(code), expected, "{code}");
        }
    }

    #[test]
    fn a_number_is_read_to_the_digits_that_are_meant() {
        for (written, plain) in [
            ("1900", "1900"),
            ("1234.5600000000001", "1234.56"),
            ("1.15E3", "1150"),
            ("-12", "-12"),
            ("0.30000000000000004", "0.3"),
        ] {
            let expected = Value::Number(plain.parse().unwrap(), Shown::Plain);
            assert_eq!(number(written, &Format::Plain), expected);
        }
        assert_eq!(number("1E300", &Format::Plain), Value::Text("1E300".into()));
    }

    #[test]
    fn signs_that_xml_cannot_hold_are_read() {
        assert_eq!(unescaped("a_x000D_b_x_c_x12"), "a\rb_x_c_x12");
    }
}
