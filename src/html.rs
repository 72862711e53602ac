//! A document as a page of HTML: one file for e-mail, with nothing to fetch from elsewhere.
//!
//! Comes in: a [`Document`]. Goes out: the same words in the same order as text with plain styles in their places,
//! because mail programs drop style sheets. Headings, lists and tables are what they say they are, for those who
//! listen. Knows neither tax nor pages.

use crate::document::{Align, Block, Chart, Document, Role, Table, Words};
use crate::picture::Picture;
use crate::xml::escaped;
use std::fmt::Write;

/// Writes a document as HTML.
pub fn write(document: &Document) -> String {
    let mut out = Out(String::new());
    let (title, language) = (escaped(&document.title), escaped(&document.language));
    out.put(format_args!(
        "<!DOCTYPE html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n</head>\n\
         <body style=\"margin:0;background:#ffffff;color:#000000\">\n\
         <main style=\"max-width:40em;margin:0 auto;padding:1.5em;font:16px/1.45 'Source Sans 3',Arial,sans-serif\">\n"
    ));
    if let Some(mark) = &document.furniture.mark {
        out.put(format_args!("<p style=\"text-align:center;font-weight:bold\">{}</p>\n", escaped(mark)));
    }
    out.blocks(&document.blocks);
    out.put(format_args!("</main>\n</body>\n</html>\n"));
    out.0
}

struct Out(String);

const PARAGRAPH: &str = "margin:0 0 0.8em";
const SMALL: &str = "margin:0 0 0.8em;font-size:0.85em";
const CELL: &str = "padding:0.25em 0.7em 0.25em 0;border-bottom:1px solid #999999;vertical-align:top";

impl Out {
    fn put(&mut self, text: std::fmt::Arguments<'_>) {
        self.0.write_fmt(text).expect("writing to memory does not fail");
    }

    fn blocks(&mut self, blocks: &[Block]) {
        for block in blocks {
            self.block(block);
        }
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading { level, words } => {
                let level = (*level).clamp(1, 3);
                let size = ["1.35em", "1.1em", "1em"][usize::from(level) - 1];
                let words = words_of(words);
                self.put(format_args!(
                    "<h{level} style=\"margin:1.1em 0 0.4em;font-size:{size};line-height:1.25\">{words}</h{level}>\n"
                ));
            }
            Block::Paragraph(words) => {
                self.put(format_args!("<p style=\"{PARAGRAPH}\">{}</p>\n", words_of(words)))
            }
            Block::Small(words) => self.put(format_args!("<p style=\"{SMALL}\">{}</p>\n", words_of(words))),
            Block::List { ordered, items } => {
                let tag = if *ordered { "ol" } else { "ul" };
                self.put(format_args!("<{tag} style=\"margin:0 0 0.8em;padding-left:1.4em\">\n"));
                for item in items {
                    self.item(item);
                }
                self.put(format_args!("</{tag}>\n"));
            }
            Block::Table(table) => self.table(table),
            Block::Chart(chart) => self.chart(chart),
            Block::Panel(blocks) => {
                self.put(format_args!(
                    "<section style=\"border:1px solid #999999;padding:0.8em;margin:0 0 1em\">\n"
                ));
                self.blocks(blocks);
                self.put(format_args!("</section>\n"));
            }
            Block::Logo(picture) => self.logo(picture),
            Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
                // A letter on printed paper keeps its head free; here nothing is printed yet.
                let lines: Vec<String> =
                    lines.iter().filter(|line| !line.is_empty()).map(|one| escaped(one)).collect();
                if !lines.is_empty() {
                    self.put(format_args!("<p style=\"margin:0 0 1.2em\">{}</p>\n", lines.join("<br>\n")));
                }
            }
            Block::Together(blocks) => self.blocks(blocks),
            Block::Space(_) | Block::PageBreak => {}
        }
    }

    /// A list's item of one paragraph stands without the paragraph's space.
    fn item(&mut self, item: &[Block]) {
        match item {
            [Block::Paragraph(words)] => {
                self.put(format_args!("<li style=\"margin:0 0 0.3em\">{}</li>\n", words_of(words)))
            }
            blocks => {
                self.put(format_args!("<li style=\"margin:0 0 0.3em\">\n"));
                self.blocks(blocks);
                self.put(format_args!("</li>\n"));
            }
        }
    }

    fn table(&mut self, table: &Table) {
        let summary = escaped(&table.summary);
        self.put(format_args!(
            "<table aria-label=\"{summary}\" style=\"border-collapse:collapse;width:100%;margin:0 0 1em\">\n<thead>\n<tr>"
        ));
        let align = |at: usize| match table.columns.get(at).map(|column| column.align) {
            Some(Align::Right | Align::Decimal) => "right",
            _ => "left",
        };
        for (at, column) in table.columns.iter().enumerate() {
            let (head, align) = (escaped(&column.head), align(at));
            self.put(format_args!("<th scope=\"col\" style=\"{CELL};text-align:{align}\">{head}</th>"));
        }
        self.put(format_args!("</tr>\n</thead>\n<tbody>\n"));
        for row in &table.rows {
            self.put(format_args!("<tr>"));
            let span = table.columns.len().max(1);
            let bold = if matches!(row.role, Role::Group | Role::Total) { ";font-weight:bold" } else { "" };
            match row.cells.as_slice() {
                [only] if span > 1 => {
                    let words = words_of(only);
                    self.put(format_args!("<td colspan=\"{span}\" style=\"{CELL}{bold}\">{words}</td>"));
                }
                cells => {
                    for (at, cell) in cells.iter().enumerate() {
                        let (words, align) = (words_of(cell), align(at));
                        let (tag, scope) = if at == 0 { ("th", " scope=\"row\"") } else { ("td", "") };
                        let weight = if at == 0 && bold.is_empty() { ";font-weight:normal" } else { bold };
                        self.put(format_args!(
                            "<{tag}{scope} style=\"{CELL};text-align:{align}{weight}\">{words}</{tag}>"
                        ));
                    }
                }
            }
            self.put(format_args!("</tr>\n"));
        }
        self.put(format_args!("</tbody>\n</table>\n"));
    }

    /// A drawing is told in words and numbers.
    fn chart(&mut self, chart: &Chart) {
        self.put(format_args!("<p style=\"{PARAGRAPH}\">{}</p>\n", escaped(&chart.summary)));
        self.put(format_args!("<ul style=\"margin:0 0 0.8em;padding-left:1.4em\">\n"));
        for bar in &chart.bars {
            let (name, numbers) = (escaped(&bar.name), escaped(&bar.numbers.join(", ")));
            self.put(format_args!("<li>{name}: {numbers}</li>\n"));
        }
        self.put(format_args!("</ul>\n"));
    }

    /// The picture stands in the page itself, so that nothing is fetched.
    fn logo(&mut self, picture: &Picture) {
        let (data, alternative) = (base64(&picture.file), escaped(&picture.alternative));
        self.put(format_args!(
            "<p style=\"margin:0 0 0.8em\"><img alt=\"{alternative}\" src=\"data:image/png;base64,{data}\" style=\"max-height:77px;max-width:253px\"></p>\n"
        ));
    }
}

fn words_of(words: &Words) -> String {
    let mut out = String::new();
    for run in words {
        let text = escaped(&run.text).replace('\n', "<br>\n");
        match (run.strong, run.emphasis) {
            (true, true) => out.push_str(&format!("<strong><em>{text}</em></strong>")),
            (true, false) => out.push_str(&format!("<strong>{text}</strong>")),
            (false, true) => out.push_str(&format!("<em>{text}</em>")),
            (false, false) => out.push_str(&text),
        }
    }
    out
}

/// Writes bytes as RFC 4648 says, section 4 (from memory).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let all = three.iter().fold(0u32, |all, byte| all << 8 | u32::from(*byte)) << (8 * (3 - three.len()));
        for at in 0..4 {
            let sign = SIGNS[(all >> (18 - 6 * at) & 63) as usize];
            out.push(if at <= three.len() { char::from(sign) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::document::{Column, Row, Width, plain, strong};
    use crate::xml::unescaped;

    /// The words of a document in reading order, blanks made even: what every writer of it must hold.
    pub(crate) fn words(document: &Document) -> String {
        let mut out = document.furniture.mark.clone().unwrap_or_default();
        document.blocks.iter().for_each(|block| gather(block, &mut out));
        even(&out)
    }

    pub(crate) fn even(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn gather(block: &Block, out: &mut String) {
        let mut put = |text: &str| {
            out.push(' ');
            out.push_str(text);
        };
        let of = |words: &Words| words.iter().map(|run| run.text.as_str()).collect::<String>();
        match block {
            Block::Heading { words, .. } | Block::Paragraph(words) | Block::Small(words) => put(&of(words)),
            Block::List { items, .. } => items.iter().flatten().for_each(|one| gather(one, out)),
            Block::Table(table) => {
                table.columns.iter().for_each(|column| put(&column.head));
                table.rows.iter().flat_map(|row| &row.cells).for_each(|cell| put(&of(cell)));
            }
            Block::Panel(blocks) | Block::Together(blocks) => blocks.iter().for_each(|one| gather(one, out)),
            Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
                lines.iter().for_each(|line| put(line));
            }
            Block::Chart(_) => panic!("letters have no drawing"),
            Block::Logo(_) | Block::Space(_) | Block::PageBreak => {}
        }
    }

    /// The words of a page of HTML, as a reader of it takes them.
    fn read(html: &str) -> String {
        let body = html.split_once("<main").map_or("", |(_, body)| body);
        let body = body.split_once('>').map_or("", |(_, body)| body);
        let (mut out, mut inside) = (String::new(), false);
        for (at, c) in body.char_indices() {
            match c {
                '<' => {
                    inside = true;
                    // Words of one paragraph run on through bold and italic; other tags end a word.
                    let runs_on = ["strong", "/strong", "em>", "/em"];
                    if !runs_on.iter().any(|tag| body[at + 1..].starts_with(tag)) {
                        out.push(' ');
                    }
                }
                '>' => inside = false,
                c if !inside => out.push(c),
                _ => {}
            }
        }
        even(&unescaped(&out))
    }

    #[test]
    fn every_letter_says_the_same_as_html() {
        let mut seen = 0;
        crate::letter::tests::for_every_letter(|name, document| {
            let html = write(document);
            assert_eq!(read(&html), words(document), "{name}");
            for never in ["http:", "https:", "<script", "<link", "url(", "<style"] {
                assert!(!html.contains(never), "{name} holds {never}");
            }
            assert!(html.contains(&format!("<html lang=\"{}\">", document.language)), "{name}");
            seen += 1;
        });
        assert!(seen > 40, "{seen} letters");
    }

    #[test]
    fn nothing_in_words_is_taken_for_markup() {
        let words = "a <b> & \"c\" 'd'";
        let row = |a: &str, b: &str| Row { cells: vec![plain(a), strong(b)], ..Row::default() };
        let column = |head: &str, align| Column { head: head.to_string(), width: Width::Content, align };
        let table = Table {
            summary: words.to_string(),
            columns: vec![column("One", Align::Left), column("Two", Align::Right)],
            rows: vec![row(words, "$5"), Row { cells: vec![plain("whole")], role: Role::Total }],
        };
        let document = Document {
            title: words.to_string(),
            language: "en".to_string(),
            blocks: vec![Block::Paragraph(plain(words)), Block::Table(table)],
            ..Document::default()
        };
        let html = write(&document);
        assert_eq!(read(&html), self::words(&document));
        assert!(html.contains("<title>a &lt;b&gt; &amp; &quot;c&quot; 'd'</title>"), "{html}");
        assert!(html.contains("<th scope=\"row\"") && html.contains("colspan=\"2\""), "{html}");
    }

    #[test]
    fn bytes_are_written_as_the_standard_says() {
        for (bytes, written) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), written);
        }
    }
}
