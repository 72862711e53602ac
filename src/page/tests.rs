//! Whole documents laid out and written: nothing outside the sheet, nothing lost, nothing over anything else,
//! the same bytes each time. The sample documents show every kind of block.

use super::*;
use crate::document::*;
use proptest::prelude::*;

const STAMP: Stamp = Stamp { id: *b"0123456789abcdef", date: jiff::civil::date(2026, 3, 2) };

fn cell(text: &str) -> Words {
    plain(text)
}

fn row(role: Role, cells: &[&str]) -> Row {
    Row { cells: cells.iter().map(|text| cell(text)).collect(), role }
}

fn column(head: &str, width: Width, align: Align) -> Column {
    Column { head: head.to_owned(), width, align }
}

fn heading(level: u8, text: &str) -> Block {
    Block::Heading { level, words: plain(text) }
}

fn paragraph(text: &str) -> Block {
    Block::Paragraph(plain(text))
}

/// The columns of a worksheet: our line, description, how, amount, official reference.
fn line_columns() -> Vec<Column> {
    vec![
        column("Line", Width::Content, Align::Left),
        column("Description", Width::Parts(3), Align::Left),
        column("How", Width::Parts(3), Align::Left),
        column("Amount", Width::Content, Align::Decimal),
        column("Official line", Width::Content, Align::Left),
    ]
}

fn costs() -> Table {
    let mut rows = vec![row(Role::Group, &["Roof array, installed 2024-05-14 at Alder Lane"])];
    for (n, (what, amount)) in [
        ("Photovoltaic modules and racking", "14,380.00"),
        ("Inverter and monitoring gateway needed to operate the array", "3,275.50"),
        ("Wiring from the array to the dwelling's panel", "1,120.00"),
        ("Onsite labor for preparing, assembling and installing", "4,900.00"),
        ("Roof carpentry serving only as a structural support", "0.00*"),
    ]
    .into_iter()
    .enumerate()
    {
        rows.push(row(
            Role::Body,
            &[&format!("{}", 110 + n), what, "invoice inv-118, paid 2024-04-02", amount, ""],
        ));
    }
    rows.push(row(Role::Remark, &[
        "* Roofing that serves a structural function does not count, except solar roofing tiles and shingles (IRC 25D(e)(2)).",
    ]));
    rows.push(row(
        Role::Body,
        &["118", "Less: utility subsidy, award-7", "received 2024-06-20", "−500.00", ""],
    ));
    rows.push(row(
        Role::Total,
        &["119", "Costs that count", "110 + 111 + 112 + 113 − 118", "23,175.50", "Form 5695, 1"],
    ));
    rows.push(row(Role::Group, &["Collectors, installed 2024-09-02"]));
    rows.push(row(Role::Body, &["120", "Collectors and tank", "invoice inv-131", "7,380.00", ""]));
    rows.push(row(Role::Body, &["121", "Share used for the home", "not a swimming pool", "100%", ""]));
    rows.push(row(Role::Total, &["129", "Costs that count", "120 × 121", "7,380.00", "Form 5695, 2"]));
    Table {
        summary: "Costs by item with the official line of each".to_owned(),
        columns: line_columns(),
        rows,
    }
}

fn computation(rows: usize) -> Table {
    let mut list = vec![row(Role::Group, &["Residential clean energy credit (25D)"])];
    for n in 0..rows {
        let line = format!("{}", 400 + n);
        let amount = format!("{},{:03}", 1 + n * 7 % 30, n * 137 % 1000);
        let what = [
            "Qualified solar electric property",
            "Credit before the limit",
            "Smaller of the two lines above, carried to the return",
        ][n % 3];
        let how = ["119, whole dollars", "30% × 400 (IRC 25D(g)(3))", "smaller of 404 and 512"][n % 3];
        let dagger = if n % 5 == 4 { " †" } else { "" };
        list.push(row(Role::Body, &[&line, what, how, &amount, &format!("Form 5695, {}{dagger}", n + 1)]));
    }
    list.push(row(
        Role::Total,
        &["498", "Credit this year", "smaller of 496 and 497", "2,140", "Schedule 3, 5a"],
    ));
    list.push(row(Role::Total, &["499", "Carried to 2025", "496 − 498", "6,999", "Form 5695, 16"]));
    Table { summary: "The credit, line by line".to_owned(), columns: line_columns(), rows: list }
}

fn worksheet() -> Document {
    let key_facts = Table {
        summary: "Key facts".to_owned(),
        columns: vec![
            column("", Width::Parts(3), Align::Left),
            column("", Width::Content, Align::Decimal),
            column("", Width::Parts(3), Align::Left),
        ],
        rows: vec![
            row(Role::Body, &["Home improvement credit, tax year 2024", "600", "Schedule 3, line 5b"]),
            row(Role::Body, &["Clean energy credit, tax year 2024", "1,540", "Schedule 3, line 5a"]),
            row(Role::Total, &["Credits this year", "2,140", "reduce the tax to nothing"]),
            row(Role::Body, &["Carried forward to 2025", "6,999", "Form 5695, line 16"]),
        ],
    };
    Document {
        title: "Energy credits worksheet, HH-0412, tax year 2024".to_owned(),
        language: "en".to_owned(),
        subject: "Residential energy credits".to_owned(),
        author: "Larkspur Tax & Books".to_owned(),
        setting: Setting::Worksheet,
        furniture: Furniture {
            head: ("HH-0412   Tax year 2024".to_owned(), "Energy credits worksheet   {page} of {pages}".to_owned()),
            foot: (
                "Case 3f2a 91c0 77de   Figures 8b10 44e2 90af   Law edition 2026-11-01".to_owned(),
                "Prepared 2026-03-02".to_owned(),
            ),
            mark: Some("DRAFT".to_owned()),
        },
        blocks: vec![
            heading(1, "Residential energy credits, tax year 2024"),
            paragraph(
                "Client reference HH-0412. Two credits were computed for work completed in 2024: the home improvement credit (IRC 25C) and the clean energy credit (IRC 25D). Both together cannot be more than the tax.",
            ),
            Block::Panel(vec![heading(3, "In short"), Block::Table(key_facts), Block::Small(plain("Keep the receipts until the last carried amount is used up and the time to examine that return has passed."))]),
            heading(2, "What to do next"),
            Block::List {
                ordered: true,
                items: vec![
                    vec![paragraph("Carry 6,999 dollars to line 12 of Form 5695 for tax year 2025; this worksheet and the receipts belong to that return’s papers too.")],
                    vec![Block::Paragraph([plain("Ask the utility for the "), strong("award letter"), plain(" of the subsidy: it is not on file.")].concat())],
                    vec![paragraph("Nothing else."), Block::List { ordered: false, items: vec![vec![paragraph("☐ reviewed by a second person")], vec![paragraph("☐ filed")]] }],
                ],
            },
            heading(2, "100  What was bought"),
            Block::Table(costs()),
            Block::Small(plain("Amounts keep cents here and are rounded, half up, where they enter an official line.")),
            heading(2, "400  Clean energy credit"),
            paragraph("The credit is the percentage of the year, times the costs that count. What the tax of the year cannot absorb is carried to the next year, line 499."),
            Block::Table(computation(64)),
            Block::Small(plain("† Line number not yet confirmed from a printed form.")),
            heading(2, "Authorities"),
            Block::List {
                ordered: false,
                items: (0..6)
                    .map(|n| vec![paragraph(&format!("IRC 25D({}): the text of the provision as it stood for the year, with the place where it was read and the day it was read, so that a reviewer can find it again.", char::from(b'a' + n)))])
                    .collect(),
            },
        ],
    }
}

fn letter(paragraphs: usize) -> Document {
    let mut blocks = vec![
        Block::Sender(
            [
                "Larkspur Tax & Books",
                "48 Quarry Street, Suite 3",
                "Millbrook OH 44017",
                "(555) 555-0142   office@larkspur.example",
            ]
            .map(str::to_owned)
            .to_vec(),
        ),
        Block::DateLines(vec!["March 2, 2026".to_owned(), "Our reference: HH-0412".to_owned()]),
        Block::Address(
            ["JOSÉ MUÑOZ & ZOË ØSTERGÅRD", "1180 ALDER LN APT 4", "MILLBROOK OH 44017-2210"]
                .map(str::to_owned)
                .to_vec(),
        ),
        paragraph("Dear José Muñoz and Zoë Østergård,"),
        Block::Paragraph(strong("Your energy credits for tax year 2024")),
    ];
    let texts = [
        "The work on your home in 2024 earned two federal energy credits. Together they lower your 2024 tax by $2,140, which is all the tax there was. The rest, $6,999, is not lost: it carries forward to your 2025 return, and on from there until it is used up.",
        "Please keep every receipt, the maker’s certification and this letter. They are needed for as long as any part of the credit is still carried forward, and then for three more years. If you move, take them with you; if you sell the home, the buyer does not need them.",
        "The credit also lowers the basis of your home. That matters only if you sell at a gain; we keep the figure with your papers and will bring it up when the time comes.",
    ];
    for n in 0..paragraphs {
        blocks.push(paragraph(texts[n % texts.len()]));
        if n == 0 {
            blocks.push(Block::Table(Table {
                summary: "The credits".to_owned(),
                columns: vec![
                    column("", Width::Parts(1), Align::Left),
                    column("Amount", Width::Content, Align::Decimal),
                ],
                rows: vec![
                    row(Role::Body, &["Home improvement credit", "$600"]),
                    row(Role::Body, &["Clean energy credit", "$1,540"]),
                    row(Role::Total, &["Credits in 2024", "$2,140"]),
                ],
            }));
        }
    }
    blocks.push(Block::List {
        ordered: false,
        items: vec![
            vec![paragraph("The worksheet, four pages")],
            vec![paragraph("A list of the papers to keep")],
        ],
    });
    blocks.push(Block::Together(vec![
        paragraph("Yours sincerely,"),
        Block::Space(2),
        paragraph("Ada Quillfeather"),
        Block::Small(plain("Enclosures: worksheet (4 pages)")),
    ]));
    Document {
        title: "Your energy credits for tax year 2024".to_owned(),
        language: "en".to_owned(),
        subject: "Results".to_owned(),
        author: "Larkspur Tax & Books".to_owned(),
        setting: Setting::Letter,
        furniture: Furniture {
            head: (
                "José Muñoz and Zoë Østergård, March 2, 2026".to_owned(),
                "Page {page} of {pages}".to_owned(),
            ),
            foot: (String::new(), String::new()),
            mark: None,
        },
        blocks,
    }
}

fn laid_out(document: &Document) -> Pages {
    lay_out(document)
        .unwrap_or_else(|faults| panic!("{}", faults.iter().map(|f| format!("{f}\n")).collect::<String>()))
}

/// Writes the samples where GABLEWORK_SAMPLES says, to be looked at.
#[test]
fn samples_become_sound_files() {
    for (name, document) in [("worksheet", worksheet()), ("letter", letter(3)), ("long-letter", letter(12))] {
        let pages = laid_out(&document);
        let bytes = to_pdf(&pages, &STAMP);
        let file = lopdf::Document::load_mem(&bytes).expect("a file that can be read again");
        assert_eq!(file.get_pages().len(), pages.frames.len(), "{name}");
        assert_eq!(file.version, "1.7");
        if let Ok(folder) = std::env::var("GABLEWORK_SAMPLES") {
            let path = std::path::Path::new(&folder);
            std::fs::write(path.join(format!("{name}.pdf")), &bytes).expect("a place for samples");
            std::fs::write(path.join(format!("{name}-part1.pdf")), pdf::write_for_checking(&pages, &STAMP))
                .expect("a place for samples");
            std::fs::write(path.join(format!("{name}.txt")), pages.to_text()).expect("a place for samples");
        }
    }
}
