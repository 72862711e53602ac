//! A document as a file for word processors (Office Open XML, ISO/IEC 29500-1, WordprocessingML; from memory), for
//! offices that finish letters there.
//!
//! Comes in: a [`Document`] and its date. Goes out: the bytes of a file with the same words in the same order, the
//! same for the same input: nothing in it comes from a clock or from chance. Headings, lists and the heads of tables
//! are what they say they are, the language is set, and a picture has its words. Knows neither tax nor pages.

use crate::document::{Align, Block, Chart, Document, Role, Row, Table, Words};
use crate::picture::Picture;
use crate::xml::escaped;
use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use zip::write::SimpleFileOptions;

/// Writes a document as a file for word processors.
///
/// Fails only where memory does.
pub fn write(document: &Document, dated: jiff::civil::Date) -> Result<Vec<u8>, zip::result::ZipError> {
    let mut body = Body { xml: String::new(), picture: None, numbered: 0 };
    if let Some(mark) = &document.furniture.mark {
        body.paragraph("Mark", &crate::document::strong(mark.clone()));
    }
    body.blocks(&document.blocks);
    let picture = body.picture;
    let numbered = body.numbered;
    let text = format!("{HEAD}<w:document {NAMES}><w:body>{}{SECTION}</w:body></w:document>", body.xml);
    let mut file = zip::ZipWriter::new(Cursor::new(Vec::new()));
    // The day of every part is the first that the format knows, because the writer takes none from a clock.
    // The system a part was "made by" would otherwise be a byte that differs between computers.
    let options = SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .system(zip::System::Unix);
    let mut part = |name: &str, bytes: &[u8]| -> Result<(), zip::result::ZipError> {
        file.start_file(name, options)?;
        file.write_all(bytes)?;
        Ok(())
    };
    part("[Content_Types].xml", content_types().as_bytes())?;
    part("_rels/.rels", relations(&PACKAGE_PARTS).as_bytes())?;
    part("docProps/core.xml", properties(document, dated).as_bytes())?;
    part("word/document.xml", text.as_bytes())?;
    part("word/styles.xml", styles(&document.language).as_bytes())?;
    part("word/numbering.xml", numbering(numbered).as_bytes())?;
    let mut parts = vec![("rId1", "styles", "styles.xml"), ("rId2", "numbering", "numbering.xml")];
    if picture.is_some() {
        parts.push(("rId3", "image", "media/logo.png"));
    }
    part("word/_rels/document.xml.rels", relations(&parts).as_bytes())?;
    if let Some(picture) = picture {
        part("word/media/logo.png", &picture.file)?;
    }
    Ok(file.finish()?.into_inner())
}

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n";
const NAMES: &str = "xmlns:w=\"http://schemas.openxmlformats.org/wordprocessingml/2006/main\" \
    xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\" \
    xmlns:wp=\"http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing\" \
    xmlns:a=\"http://schemas.openxmlformats.org/drawingml/2006/main\" \
    xmlns:pic=\"http://schemas.openxmlformats.org/drawingml/2006/picture\"";
/// US Letter with margins of an inch, in twentieths of a point.
const SECTION: &str = "<w:sectPr><w:pgSz w:w=\"12240\" w:h=\"15840\"/>\
    <w:pgMar w:top=\"1440\" w:right=\"1440\" w:bottom=\"1440\" w:left=\"1440\" w:header=\"720\" w:footer=\"720\" w:gutter=\"0\"/></w:sectPr>";
/// How wide the text is, in twentieths of a point.
const TEXT_WIDTH: usize = 9360;
const PACKAGE_PARTS: [(&str, &str, &str); 2] =
    [("rId1", "officeDocument", "word/document.xml"), ("rId2", "core-properties", "docProps/core.xml")];

fn content_types() -> String {
    let word = "application/vnd.openxmlformats-officedocument.wordprocessingml";
    format!(
        "{HEAD}<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
         <Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
         <Default Extension=\"xml\" ContentType=\"application/xml\"/><Default Extension=\"png\" ContentType=\"image/png\"/>\
         <Override PartName=\"/word/document.xml\" ContentType=\"{word}.document.main+xml\"/>\
         <Override PartName=\"/word/styles.xml\" ContentType=\"{word}.styles+xml\"/>\
         <Override PartName=\"/word/numbering.xml\" ContentType=\"{word}.numbering+xml\"/>\
         <Override PartName=\"/docProps/core.xml\" ContentType=\"application/vnd.openxmlformats-package.core-properties+xml\"/></Types>"
    )
}

fn relations(parts: &[(&str, &str, &str)]) -> String {
    let mut out = format!(
        "{HEAD}<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">"
    );
    for (id, kind, target) in parts {
        let space = match *kind {
            "core-properties" => "http://schemas.openxmlformats.org/package/2006/relationships/metadata",
            _ => "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
        };
        let _ = write!(out, "<Relationship Id=\"{id}\" Type=\"{space}/{kind}\" Target=\"{target}\"/>");
    }
    out + "</Relationships>"
}

fn properties(document: &Document, dated: jiff::civil::Date) -> String {
    let (title, author) = (escaped(&document.title), escaped(&document.author));
    let (subject, language) = (escaped(&document.subject), escaped(&document.language));
    let day = format!("{dated}T00:00:00Z");
    format!(
        "{HEAD}<cp:coreProperties xmlns:cp=\"http://schemas.openxmlformats.org/package/2006/metadata/core-properties\" \
         xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:dcterms=\"http://purl.org/dc/terms/\" \
         xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\"><dc:title>{title}</dc:title><dc:subject>{subject}</dc:subject>\
         <dc:creator>{author}</dc:creator><dc:language>{language}</dc:language>\
         <dcterms:created xsi:type=\"dcterms:W3CDTF\">{day}</dcterms:created>\
         <dcterms:modified xsi:type=\"dcterms:W3CDTF\">{day}</dcterms:modified></cp:coreProperties>"
    )
}

/// The styles, each by the name that word processors know it by, so that an office's own template can dress them.
fn styles(language: &str) -> String {
    let language = if language == "es" { "es-US" } else { "en-US" };
    let mut out = format!(
        "{HEAD}<w:styles {NAMES}><w:docDefaults><w:rPrDefault><w:rPr>\
         <w:rFonts w:ascii=\"Source Sans 3\" w:hAnsi=\"Source Sans 3\" w:cs=\"Source Sans 3\"/><w:sz w:val=\"22\"/>\
         <w:lang w:val=\"{language}\"/></w:rPr></w:rPrDefault><w:pPrDefault><w:pPr>\
         <w:spacing w:after=\"140\" w:line=\"276\" w:lineRule=\"auto\"/></w:pPr></w:pPrDefault></w:docDefaults>\
         <w:style w:type=\"paragraph\" w:default=\"1\" w:styleId=\"Normal\"><w:name w:val=\"Normal\"/></w:style>"
    );
    let mut style = |id: &str, name: &str, paragraph: &str, run: &str| {
        let _ = write!(
            out,
            "<w:style w:type=\"paragraph\" w:styleId=\"{id}\"><w:name w:val=\"{name}\"/><w:basedOn w:val=\"Normal\"/>\
             <w:pPr>{paragraph}</w:pPr><w:rPr>{run}</w:rPr></w:style>"
        );
    };
    for (level, size) in [(1, 28), (2, 24), (3, 22)] {
        style(
            &format!("Heading{level}"),
            &format!("heading {level}"),
            &format!(
                "<w:keepNext/><w:spacing w:before=\"200\" w:after=\"100\"/><w:outlineLvl w:val=\"{}\"/>",
                level - 1
            ),
            &format!("<w:b/><w:sz w:val=\"{size}\"/>"),
        );
    }
    style("Lines", "Letter lines", "<w:spacing w:after=\"240\" w:line=\"240\" w:lineRule=\"auto\"/>", "");
    style("Small", "Small print", "", "<w:sz w:val=\"18\"/>");
    style("Mark", "Mark", "<w:jc w:val=\"center\"/>", "");
    style("Cell", "Table cell", "<w:spacing w:before=\"40\" w:after=\"40\"/>", "");
    out + "</w:styles>"
}

/// The two kinds of lists, and a numbered list anew for each that the document has.
fn numbering(numbered: usize) -> String {
    let level = |kind: &str, mark: &str| {
        format!(
            "<w:lvl w:ilvl=\"0\"><w:start w:val=\"1\"/><w:numFmt w:val=\"{kind}\"/><w:lvlText w:val=\"{mark}\"/>\
             <w:lvlJc w:val=\"left\"/><w:pPr><w:ind w:left=\"360\" w:hanging=\"360\"/></w:pPr></w:lvl>"
        )
    };
    let mut out = format!("{HEAD}<w:numbering {NAMES}>");
    for id in 0..=numbered {
        let level = if id == 0 { level("bullet", "\u{2022}") } else { level("decimal", "%1.") };
        let _ = write!(out, "<w:abstractNum w:abstractNumId=\"{id}\">{level}</w:abstractNum>");
    }
    for id in 0..=numbered {
        let _ = write!(out, "<w:num w:numId=\"{}\"><w:abstractNumId w:val=\"{id}\"/></w:num>", id + 1);
    }
    out + "</w:numbering>"
}

/// The text of the file in the making.
struct Body<'d> {
    xml: String,
    picture: Option<&'d Picture>,
    numbered: usize,
}

impl<'d> Body<'d> {
    fn put(&mut self, text: std::fmt::Arguments<'_>) {
        self.xml.write_fmt(text).expect("writing to memory does not fail");
    }

    fn blocks(&mut self, blocks: &'d [Block]) {
        for block in blocks {
            self.block(block);
        }
    }

    fn block(&mut self, block: &'d Block) {
        match block {
            Block::Heading { level, words } => {
                self.paragraph(&format!("Heading{}", (*level).clamp(1, 3)), words)
            }
            Block::Paragraph(words) => self.paragraph("Normal", words),
            Block::Small(words) => self.paragraph("Small", words),
            Block::List { ordered, items } => {
                if *ordered {
                    self.numbered += 1;
                }
                let list = if *ordered { self.numbered + 1 } else { 1 };
                for item in items {
                    self.item(item, list);
                }
            }
            Block::Table(table) => self.table(table),
            Block::Chart(chart) => self.chart(chart),
            Block::Panel(blocks) | Block::Together(blocks) => self.blocks(blocks),
            Block::Logo(picture) => self.logo(picture),
            Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
                let lines: Vec<&str> =
                    lines.iter().map(String::as_str).filter(|line| !line.is_empty()).collect();
                if !lines.is_empty() {
                    self.paragraph("Lines", &crate::document::plain(lines.join("\n")));
                }
            }
            Block::Space(lines) => {
                for _ in 0..*lines {
                    self.put(format_args!("<w:p/>"));
                }
            }
            Block::PageBreak => self.put(format_args!("<w:p><w:r><w:br w:type=\"page\"/></w:r></w:p>")),
        }
    }

    fn paragraph(&mut self, style: &str, words: &Words) {
        let runs = runs(words);
        self.put(format_args!("<w:p><w:pPr><w:pStyle w:val=\"{style}\"/></w:pPr>{runs}</w:p>"));
    }

    /// The first paragraph of an item bears its mark.
    fn item(&mut self, item: &'d [Block], list: usize) {
        let mut marked = false;
        for block in item {
            match block {
                Block::Paragraph(words) if !marked => {
                    let runs = runs(words);
                    self.put(format_args!(
                        "<w:p><w:pPr><w:numPr><w:ilvl w:val=\"0\"/><w:numId w:val=\"{list}\"/></w:numPr>\
                         <w:spacing w:after=\"60\"/></w:pPr>{runs}</w:p>"
                    ));
                    marked = true;
                }
                other => self.block(other),
            }
        }
    }

    fn table(&mut self, table: &Table) {
        let columns = table.columns.len().max(1);
        let summary = escaped(&table.summary);
        self.put(format_args!(
            "<w:tbl><w:tblPr><w:tblW w:w=\"{TEXT_WIDTH}\" w:type=\"dxa\"/><w:tblBorders>\
             <w:bottom w:val=\"single\" w:sz=\"4\" w:color=\"999999\"/><w:insideH w:val=\"single\" w:sz=\"4\" w:color=\"999999\"/>\
             </w:tblBorders><w:tblLook w:firstRow=\"1\" w:firstColumn=\"1\"/><w:tblDescription w:val=\"{summary}\"/></w:tblPr><w:tblGrid>"
        ));
        // The first column takes the words, the others amounts.
        let other = if columns > 1 { TEXT_WIDTH / (columns + 1) } else { TEXT_WIDTH };
        for at in 0..columns {
            let width = if at == 0 { TEXT_WIDTH - other * (columns - 1) } else { other };
            self.put(format_args!("<w:gridCol w:w=\"{width}\"/>"));
        }
        self.put(format_args!("</w:tblGrid><w:tr><w:trPr><w:cantSplit/><w:tblHeader/></w:trPr>"));
        for column in &table.columns {
            self.cell(&crate::document::strong(column.head.clone()), column.align, 1, false);
        }
        self.put(format_args!("</w:tr>"));
        for row in &table.rows {
            self.row(table, row, columns);
        }
        self.put(format_args!("</w:tbl><w:p/>"));
    }

    fn row(&mut self, table: &Table, row: &Row, columns: usize) {
        let strong = matches!(row.role, Role::Group | Role::Total);
        self.put(format_args!("<w:tr><w:trPr><w:cantSplit/></w:trPr>"));
        match row.cells.as_slice() {
            [only] => self.cell(only, Align::Left, columns, strong),
            cells => {
                for (at, cell) in cells.iter().enumerate() {
                    let align = table.columns.get(at).map_or(Align::Left, |column| column.align);
                    self.cell(cell, align, 1, strong);
                }
            }
        }
        self.put(format_args!("</w:tr>"));
    }

    fn cell(&mut self, words: &Words, align: Align, span: usize, strong: bool) {
        let mut words = words.clone();
        words.iter_mut().for_each(|run| run.strong |= strong);
        let runs = runs(&words);
        let span = if span > 1 { format!("<w:gridSpan w:val=\"{span}\"/>") } else { String::new() };
        let side = if align == Align::Left { "left" } else { "right" };
        self.put(format_args!(
            "<w:tc><w:tcPr>{span}</w:tcPr><w:p><w:pPr><w:pStyle w:val=\"Cell\"/><w:jc w:val=\"{side}\"/></w:pPr>{runs}</w:p></w:tc>"
        ));
    }

    /// A drawing is told in words and numbers.
    fn chart(&mut self, chart: &Chart) {
        self.paragraph("Normal", &crate::document::plain(chart.summary.clone()));
        for bar in &chart.bars {
            self.paragraph(
                "Normal",
                &crate::document::plain(format!("{}: {}", bar.name, bar.numbers.join(", "))),
            );
        }
    }

    /// The logo, as large as on the printed letter: in thousandths of a point, of which 12.7 units of the format make
    /// one.
    fn logo(&mut self, picture: &'d Picture) {
        let (across, down) = (u64::from(picture.width.max(1)), u64::from(picture.height.max(1)));
        let (mut width, mut height) = (58 * 12_700 * across / down, 58 * 12_700);
        if width > 190 * 12_700 {
            (width, height) = (190 * 12_700, 190 * 12_700 * down / across);
        }
        let words = escaped(&picture.alternative);
        self.put(format_args!(
            "<w:p><w:r><w:drawing><wp:inline distT=\"0\" distB=\"0\" distL=\"0\" distR=\"0\"><wp:extent cx=\"{width}\" cy=\"{height}\"/>\
             <wp:docPr id=\"1\" name=\"Logo\" descr=\"{words}\"/><a:graphic><a:graphicData uri=\"http://schemas.openxmlformats.org/drawingml/2006/picture\">\
             <pic:pic><pic:nvPicPr><pic:cNvPr id=\"1\" name=\"logo.png\" descr=\"{words}\"/><pic:cNvPicPr/></pic:nvPicPr>\
             <pic:blipFill><a:blip r:embed=\"rId3\"/><a:stretch><a:fillRect/></a:stretch></pic:blipFill>\
             <pic:spPr><a:xfrm><a:off x=\"0\" y=\"0\"/><a:ext cx=\"{width}\" cy=\"{height}\"/></a:xfrm>\
             <a:prstGeom prst=\"rect\"><a:avLst/></a:prstGeom></pic:spPr></pic:pic></a:graphicData></a:graphic></wp:inline></w:drawing></w:r></w:p>"
        ));
        self.picture = Some(picture);
    }
}

/// Writes words as runs; a line break stays one.
fn runs(words: &Words) -> String {
    let mut out = String::new();
    for run in words {
        let strong = if run.strong { "<w:b/>" } else { "" };
        let emphasis = if run.emphasis { "<w:i/>" } else { "" };
        let _ = write!(out, "<w:r><w:rPr>{strong}{emphasis}</w:rPr>");
        for (at, line) in run.text.split('\n').enumerate() {
            if at > 0 {
                out.push_str("<w:br/>");
            }
            let _ = write!(out, "<w:t xml:space=\"preserve\">{}</w:t>", escaped(line));
        }
        out.push_str("</w:r>");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::html::tests::{even, words};
    use crate::xml::unescaped;
    use jiff::civil::date;
    use std::io::Read;

    fn parts(bytes: &[u8]) -> Vec<(String, String)> {
        let mut file = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        (0..file.len())
            .filter_map(|at| {
                let mut part = file.by_index(at).unwrap();
                let mut text = String::new();
                part.read_to_string(&mut text).ok()?;
                Some((part.name().to_string(), text))
            })
            .collect()
    }

    /// The upper byte of "version made by" (APPNOTE.TXT 6.3, section 4.4.2) names the system: 3 is UNIX.
    fn made_by(bytes: &[u8]) -> Vec<u8> {
        bytes.windows(6).filter(|head| head.starts_with(b"PK\x01\x02")).map(|head| head[5]).collect()
    }

    /// The words of a file, as a word processor shows them.
    fn read(bytes: &[u8]) -> String {
        let parts = parts(bytes);
        let (_, xml) = parts.iter().find(|(name, _)| name == "word/document.xml").expect("a text");
        let spaced = xml.replace("</w:p>", " ").replace("<w:br/>", " ");
        let (mut out, mut inside) = (String::new(), false);
        for c in spaced.chars() {
            match c {
                '<' => inside = true,
                '>' => inside = false,
                c if !inside => out.push(c),
                _ => {}
            }
        }
        even(&unescaped(&out))
    }

    #[test]
    fn every_letter_says_the_same_in_a_word_processor() {
        let mut seen = 0;
        crate::letter::tests::for_every_letter(|name, document| {
            let bytes = write(document, date(2026, 11, 25)).unwrap();
            assert_eq!(read(&bytes), words(document), "{name}");
            assert_eq!(bytes, write(document, date(2026, 11, 25)).unwrap(), "{name}: the same bytes");
            assert!(
                made_by(&bytes).len() == parts(&bytes).len() && made_by(&bytes).iter().all(|by| *by == 3),
                "{name}"
            );
            for (part, xml) in parts(&bytes) {
                assert!(balanced(&xml), "{name}: {part} is no sound XML");
            }
            seen += 1;
        });
        assert!(seen > 40, "{seen} letters");
    }

    /// Says whether every element of a part is closed where it belongs.
    fn balanced(xml: &str) -> bool {
        let mut open: Vec<&str> = Vec::new();
        for tag in xml.split('<').skip(1) {
            let Some((tag, _)) = tag.split_once('>') else { return false };
            let name = tag.trim_start_matches('/').split([' ', '/']).next().unwrap_or("");
            match tag {
                _ if tag.starts_with('?') || tag.ends_with('/') => {}
                _ if tag.starts_with('/') => {
                    if open.pop() != Some(name) {
                        return false;
                    }
                }
                _ => open.push(name),
            }
        }
        open.is_empty()
    }

    #[test]
    fn language_head_rows_and_the_logo_have_their_marks() {
        let file = crate::picture::tests::png(60, 20, png::ColorType::Rgb, &[1, 2, 3]);
        let logo = crate::picture::read(&file, "Logo of A & B").unwrap();
        let head = crate::document::Column {
            head: "Crédito".to_string(),
            width: crate::document::Width::Content,
            align: Align::Left,
        };
        let table = Table { summary: "s".to_string(), columns: vec![head], rows: Vec::new() };
        let document = Document {
            language: "es".to_string(),
            blocks: vec![Block::Logo(logo), Block::Table(table)],
            ..Document::default()
        };
        let bytes = write(&document, date(2026, 11, 25)).unwrap();
        let parts = parts(&bytes);
        let part = |name: &str| &parts.iter().find(|(one, _)| one == name).unwrap().1;
        assert!(part("word/styles.xml").contains("<w:lang w:val=\"es-US\"/>"));
        assert!(part("word/document.xml").contains("<w:tblHeader/>"));
        assert!(part("word/document.xml").contains("descr=\"Logo of A &amp; B\""));
        assert!(part("word/_rels/document.xml.rels").contains("media/logo.png"));
        assert!(part("docProps/core.xml").contains("2026-11-25T00:00:00Z"));
        assert!(zip::ZipArchive::new(Cursor::new(&bytes)).unwrap().by_name("word/media/logo.png").is_ok());
    }
}
