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
        ("Wiring from the array to the dwelling’s panel", "1,120.00"),
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

/// The way of an amount through years: used from the left, added at the right.
fn way() -> Chart {
    let part = |series, from, to| Stretch { series, from, to };
    let bar = |name: &str, numbers: [&str; 3], parts: Vec<Stretch>| Bar {
        name: name.to_owned(),
        numbers: numbers.map(str::to_owned).to_vec(),
        parts,
        total: false,
    };
    Chart {
        summary: "2024: earned 3,026, used 1,540, left 1,486. 2025: used 1,110, left 376.".to_owned(),
        head: "Year".to_owned(),
        columns: ["Earned", "Used", "Left"].map(str::to_owned).to_vec(),
        series: vec![
            Series { name: "used".to_owned(), shade: Shade::Dark },
            Series { name: "left".to_owned(), shade: Shade::Light },
            Series { name: "earned".to_owned(), shade: Shade::Edge },
        ],
        bars: vec![
            bar(
                "2024",
                ["3,026", "1,540", "1,486"],
                vec![part(0, 0, 1540), part(1, 1540, 3026), part(2, 0, 3026)],
            ),
            bar("2025", ["", "1,110", "376"], vec![part(0, 1540, 2650), part(1, 2650, 3026)]),
            Bar {
                total: true,
                ..bar("2026", ["", "376", "0"], vec![part(0, 2650, 3026), part(1, 3026, 3026)])
            },
        ],
    }
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
            Block::Chart(way()),
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
    let way = Document { blocks: vec![heading(1, "Years"), Block::Chart(long_way())], ..Document::default() };
    for (name, document) in
        [("worksheet", worksheet()), ("letter", letter(3)), ("long-letter", letter(12)), ("way", way)]
    {
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

#[test]
fn the_same_document_gives_the_same_bytes() {
    let (sheet, first_letter) = (worksheet(), letter(3));
    let first = to_pdf(&laid_out(&sheet), &STAMP);
    // Other documents between, also with other characters, must leave no trace.
    to_pdf(&laid_out(&letter(9)), &STAMP);
    to_pdf(&laid_out(&first_letter), &STAMP);
    assert!(first == to_pdf(&laid_out(&sheet), &STAMP));
    let on_threads: Vec<Vec<u8>> = std::thread::scope(|scope| {
        let threads: Vec<_> =
            (0..3).map(|_| scope.spawn(|| to_pdf(&laid_out(&worksheet()), &STAMP))).collect();
        threads.into_iter().map(|thread| thread.join().expect("a thread that ends")).collect()
    });
    assert!(on_threads.iter().all(|bytes| *bytes == first));
}

#[test]
fn nothing_in_a_file_comes_from_chance_or_a_clock() {
    let bytes = to_pdf(&laid_out(&letter(3)), &STAMP);
    let file = lopdf::Document::load_mem(&bytes).expect("a file that can be read again");
    let id = file.trailer.get(b"ID").and_then(lopdf::Object::as_array).expect("an identifier");
    assert!(id.iter().all(|part| part.as_str().expect("a string") == STAMP.id));
    let info = file
        .get_dictionary(file.trailer.get(b"Info").and_then(lopdf::Object::as_reference).expect("a reference"))
        .expect("properties");
    for key in ["CreationDate", "ModDate"] {
        assert_eq!(
            info.get(key.as_bytes()).and_then(lopdf::Object::as_str).expect("a date"),
            b"D:20260302000000+00'00'"
        );
    }
    for key in ["GTS_PDFXVersion", "Identifier", "Trapped"] {
        assert!(!info.has(key.as_bytes()), "{key}");
    }
}

#[test]
fn another_stamp_gives_another_file() {
    let pages = laid_out(&letter(1));
    let other = Stamp { id: [7; 16], ..STAMP };
    assert!(to_pdf(&pages, &STAMP) != to_pdf(&pages, &other));
}

/// Finds the text pieces of a page that hold some words.
fn texts<'a>(frame: &'a Frame, words: &str) -> Vec<&'a Text> {
    let text = |piece: &'a Piece| match piece {
        Piece::Text(text) => Some(text),
        _ => None,
    };
    frame.pieces.iter().filter_map(text).filter(|text| text.text.contains(words)).collect()
}

#[test]
fn figures_align_at_the_point() {
    let pages = laid_out(&worksheet());
    let point = |words: &str| {
        let text = texts(&pages.frames[0], words)[0];
        let before = text.text.split(['.', '*', '%']).next().expect("a figure");
        text.x + measure::width_of(text.face, before, text.size)
    };
    let at = point("14,380.00");
    for figure in ["3,275.50", "0.00*", "−500.00", "23,175.50", "100%"] {
        assert!((point(figure) - at).in_millipoints().abs() <= 5, "{figure}");
    }
}

#[test]
fn a_table_head_stands_on_every_page_and_once_in_the_structure() {
    let pages = laid_out(&worksheet());
    // Both tables of the sample run over every page but the last.
    assert!(pages.frames.len() > 2);
    let heads = |frame: &Frame| texts(frame, "Official line").len();
    assert!(
        pages
            .frames
            .iter()
            .filter(|frame| !texts(frame, "Form 5695, ").is_empty())
            .all(|frame| heads(frame) == 1)
    );
    let tagged = pages
        .frames
        .iter()
        .flat_map(|frame| texts(frame, "Official line"))
        .filter(|text| text.element.is_some());
    assert_eq!(tagged.count(), 2);
}

#[test]
fn a_heading_taller_than_a_sheet_goes_over_and_leaves_its_rows_room() {
    let narrow = |lines: usize| {
        let head = vec!["Wordy"; lines].join("\n");
        let columns = vec![
            column(&head, Width::Content, Align::Left),
            column("Amount", Width::Content, Align::Decimal),
        ];
        let rows = (0..90).map(|n| row(Role::Body, &["row", &n.to_string()])).collect();
        let table = Table { summary: String::new(), columns, rows };
        let pages = laid_out(&Document { blocks: vec![Block::Table(table)], ..Document::default() });
        assert_eq!(misplaced(&pages), [""; 0], "{lines} lines");
        let heads = |frame: &Frame| texts(frame, "Wordy").len();
        (pages.frames.iter().map(heads).collect::<Vec<_>>(), pages)
    };
    // A heading of a few lines more than a row that stays whole is still drawn again.
    let (heads, _) = narrow(12);
    assert!(heads.len() > 1 && heads.iter().all(|lines| *lines == heads[0]), "{heads:?}");
    // One that is taller than a page stands once, and rows follow it.
    let (heads, pages) = narrow(90);
    assert!(heads.len() > 2 && heads[1] > 0 && heads.last() == Some(&0), "{heads:?}");
    assert_eq!(heads.iter().sum::<usize>(), 90);
    assert!(pages.frames.iter().all(|frame| frame.pieces.len() > 1));
}

#[test]
fn a_drawing_stands_in_one_piece_and_joins_what_goes_on() {
    let pages = laid_out(&Document { blocks: vec![Block::Chart(way())], ..Document::default() });
    let drawn: Vec<&Area> = pages.frames[0]
        .pieces
        .iter()
        .filter_map(|piece| match piece {
            Piece::Shape(area, _) => Some(area),
            _ => None,
        })
        .collect();
    let bars: Vec<&&Area> =
        drawn.iter().filter(|area| area.ink == Ink::Dark && area.height == Length::points(8)).collect();
    // The parts used follow each other: where one year's ends, the next year's begins. Outlines of light parts
    // are dark too, but thin.
    let used: Vec<&&&Area> = bars.iter().filter(|area| area.width > Length::points(1)).collect();
    assert_eq!(used.len(), 3, "{used:?}");
    for pair in used.windows(2) {
        assert_eq!(pair[0].x + pair[0].width, pair[1].x);
        assert!(pair[0].y < pair[1].y);
    }
    // Widths are in proportion: 1,540 and 1,110 of 3,026, to the thousandth of a point.
    let [first, second, _] = used[..] else { unreachable!("counted above") };
    let (first, second) = (first.width.in_millipoints(), second.width.in_millipoints());
    assert!((first * 1110 - second * 1540).abs() < 1540 * 2, "{first} {second}");
    // A rule leads from the end of each year's used part to the next bar.
    let joints = drawn.iter().filter(|area| area.ink == Ink::Black && area.width == look::LIGHT_RULE);
    assert_eq!(joints.count(), 4);
}

#[test]
fn a_drawing_is_a_figure_with_words_and_a_place() {
    let pages = laid_out(&Document { blocks: vec![Block::Chart(way())], ..Document::default() });
    let file = lopdf::Document::load_mem(&to_pdf(&pages, &STAMP)).expect("a file that can be read again");
    let figures: Vec<&lopdf::Dictionary> = file
        .objects
        .values()
        .filter_map(|object| object.as_dict().ok())
        .filter(|entry| entry.get(b"S").and_then(lopdf::Object::as_name).is_ok_and(|name| name == b"Figure"))
        .collect();
    let [figure] = figures[..] else { panic!("one figure, not {}", figures.len()) };
    let words = figure.get(b"Alt").and_then(lopdf::Object::as_str).expect("words");
    assert_eq!(words, way().summary.as_bytes());
    let place = figure.get(b"A").and_then(lopdf::Object::as_dict).expect("attributes");
    let corners = place.get(b"BBox").and_then(lopdf::Object::as_array).expect("a box");
    let corners: Vec<f32> = corners.iter().map(|corner| corner.as_float().expect("a number")).collect();
    assert!(corners[0] < corners[2] && corners[1] < corners[3], "{corners:?}");
    assert!(corners.iter().all(|corner| (0.0..792.0).contains(corner)), "{corners:?}");
}

/// A way of 21 years: earned in three of them, used a little each year.
fn long_way() -> Chart {
    let mut chart = way();
    chart.bars.clear();
    let (mut used, mut earned) = (0, 0);
    for year in 2006..=2026_i64 {
        let new = if year % 8 == 6 { 6000 } else { 0 };
        let old = earned;
        earned += new;
        let until = (used + 500 + year * 37 % 500).min(earned);
        let mut parts = vec![
            Stretch { series: 0, from: used, to: until },
            Stretch { series: 1, from: until, to: earned },
        ];
        if new > 0 {
            parts.push(Stretch { series: 2, from: old, to: earned });
        }
        let numbers = vec![new.to_string(), (until - used).to_string(), (earned - until).to_string()];
        chart.bars.push(Bar { name: year.to_string(), numbers, parts, total: false });
        used = until;
    }
    chart
}

/// Long names of a key once ran over the headings of the numbers beside it.
#[test]
fn a_long_key_stays_over_the_bars() {
    let mut chart = way();
    chart.series[0].name = "a name of a series that is much longer than the place above the bars".repeat(3);
    let items = vec![vec![Block::Chart(chart)]];
    let blocks = vec![Block::List { ordered: false, items }];
    let pages = laid_out(&Document { blocks, setting: Setting::Letter, ..Document::default() });
    assert_eq!(misplaced(&pages), Vec::<String>::new());
}

#[test]
fn a_chart_of_many_bars_still_stands_on_one_page() {
    let blocks = vec![heading(1, "Twenty-one years"), Block::Chart(long_way())];
    let pages = laid_out(&Document { blocks, ..Document::default() });
    assert_eq!(pages.frames.len(), 1);
    assert_eq!(misplaced(&pages), Vec::<String>::new());
    // It takes less than half a page, at the size of all other figures.
    let Some(Piece::Text(last)) =
        pages.frames[0].pieces.iter().rfind(|piece| matches!(piece, Piece::Text(_)))
    else {
        panic!("the last bar has its numbers")
    };
    assert!(last.y < Length::points(400), "{}", last.y);
    assert!(last.size >= Length::millipoints(8500));
}

/// The frame of a small drawing as text: whoever changes how drawings look reads the difference here.
#[test]
fn a_drawing_as_text_is_as_recorded() {
    let pages = laid_out(&Document { blocks: vec![Block::Chart(way())], ..Document::default() });
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/pages/drawing.txt");
    if std::env::var_os("GABLEWORK_ACCEPT").is_some() {
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(&path, pages.to_text()).expect("a place for the record");
    }
    let recorded = std::fs::read_to_string(&path).expect("tests/golden/pages/drawing.txt");
    assert_eq!(pages.to_text(), recorded.replace("\r\n", "\n"));
}

#[test]
fn head_foot_and_mark_stand_on_every_page() {
    let pages = laid_out(&worksheet());
    let count = pages.frames.len();
    for (at, frame) in pages.frames.iter().enumerate() {
        assert_eq!(texts(frame, &format!("{} of {count}", at + 1)).len(), 1);
        assert_eq!(texts(frame, "DRAFT").len(), 1);
        assert_eq!(texts(frame, "Law edition 2026-11-01").len(), 1);
    }
}

#[test]
fn a_letter_keeps_the_window_clear() {
    let pages = laid_out(&letter(12));
    let address = texts(&pages.frames[0], "MILLBROOK OH 44017-2210")[0].element;
    let (top, bottom, right) =
        (Length::milli_inches(2200), Length::milli_inches(3650), Length::milli_inches(5500));
    for piece in &pages.frames[0].pieces {
        let Piece::Text(text) = piece else { continue };
        let within = text.y > top && text.y - text.size < bottom && text.x < right;
        assert_eq!(within, text.element == address, "{}", text.text);
    }
    let lines: Vec<&Text> = pages.frames[0]
        .pieces
        .iter()
        .filter_map(|piece| match piece {
            Piece::Text(text) if text.element == address => Some(text),
            _ => None,
        })
        .collect();
    assert!(lines.iter().all(|line| line.x == Length::milli_inches(1000)));
    assert!(lines[0].y - lines[0].size >= Length::milli_inches(2625) - Length::points(2));
    assert!(texts(&pages.frames[0], "Dear")[0].y > Length::milli_inches(3750));
    // The head names reader, date and page from the second page on.
    assert_eq!(texts(&pages.frames[0], "Page 1").len(), 0);
    assert_eq!(texts(&pages.frames[1], "Page 2 of 2").len(), 1);
}

#[test]
fn a_logo_fits_its_place_and_is_a_figure_with_words() {
    use crate::picture;
    for (across, down) in [(600, 200), (100, 400), (2000, 40)] {
        let file = picture::tests::png(across, down, png::ColorType::Rgb, &[40, 80, 90]);
        let mut document = letter(1);
        document.blocks.insert(0, Block::Logo(picture::read(&file, "Logo of Larkspur").unwrap()));
        let pages = laid_out(&document);
        let drawn = pages.frames[0].pieces.iter().find_map(|piece| match piece {
            Piece::Picture(area, _, element) => Some((area.clone(), *element)),
            _ => None,
        });
        let (area, element) = drawn.expect("the logo is drawn");
        assert!(area.height.fits(Length::points(58)) && area.width.fits(Length::points(190)), "{area:?}");
        // The shape is kept, to a thousandth of a point in each direction.
        let crooked =
            area.width.in_millipoints() * i64::from(down) - area.height.in_millipoints() * i64::from(across);
        assert!(crooked.abs() <= i64::from(across.max(down)), "{area:?}");
        assert_eq!(pages.elements[element.0 as usize].kind, Kind::Figure("Logo of Larkspur".to_owned()));
        let sender = texts(&pages.frames[0], "Larkspur Tax")[0];
        assert!((area.x + area.width).fits(sender.x), "the sender stands beside it");
        assert!(misplaced(&pages).is_empty(), "{:?}", misplaced(&pages));
        let bytes = to_pdf(&pages, &Stamp { id: [7; 16], date: jiff::civil::date(2026, 3, 2) });
        let file = lopdf::Document::load_mem(&bytes).unwrap();
        let images = file.objects.values().filter(|object| {
            object.as_stream().is_ok_and(|stream| {
                stream.dict.get(b"Subtype").is_ok_and(|kind| kind.as_name().ok() == Some(b"Image".as_slice()))
            })
        });
        assert_eq!(images.count(), 1);
    }
}

#[test]
fn a_date_that_would_show_in_the_window_stands_right_of_it() {
    let mut document = letter(1);
    for block in &mut document.blocks {
        if let Block::DateLines(lines) = block {
            lines.push("Please answer by April 1, 2026".to_owned());
            lines.push("By portal and by mail".to_owned());
        }
    }
    let pages = laid_out(&document);
    assert!(texts(&pages.frames[0], "Our reference")[0].x >= Length::milli_inches(5500));
}

#[test]
fn addresses_that_would_not_show_are_told() {
    let with = |lines: &[&str]| {
        let mut document = letter(1);
        for block in &mut document.blocks {
            if let Block::Address(old) = block {
                *old = lines.iter().map(|line| (*line).to_owned()).collect();
            }
        }
        lay_out(&document)
    };
    let five = with(&["A", "B", "C", "D", "E"]).expect("five lines may show");
    assert_eq!(five.remarks, [PageFault::AddressTooLong { lines: 5, first: "A".to_owned() }]);
    assert_eq!(with(&["A", "B", "C", "D"]).expect("four lines show").remarks, []);
    let six = with(&["A", "B", "C", "D", "E", "F"]).expect_err("six lines never show");
    assert_eq!(six, [PageFault::AddressTooLong { lines: 6, first: "A".to_owned() }]);
    let wide = "A VERY LONG NAME OF A STREET THAT NO WINDOW SHOWS WHOLE".to_owned();
    assert_eq!(with(&["A", &wide]).expect_err("too wide"), [PageFault::AddressTooWide { line: wide }]);
}

#[test]
fn every_missing_character_is_told_at_once() {
    let mut document = worksheet();
    document.blocks.push(paragraph("paid to 漢字 Roofing"));
    document.furniture.foot.0 = "sent by \u{1F600}".to_owned();
    document
        .blocks
        .push(Block::Table(Table { rows: vec![row(Role::Body, &["a\u{7}b", "c"])], ..Table::default() }));
    let told: Vec<String> =
        lay_out(&document).expect_err("characters are missing").iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "the typeface has no \"\u{1F600}\" (U+1F600), in \"sent by \u{1F600}\"",
            "the typeface has no \"漢\" (U+6F22), in \"paid to 漢字 Roofing\"",
            "the typeface has no \"字\" (U+5B57), in \"paid to 漢字 Roofing\"",
            "a control character (U+0007) cannot be printed, near \"a b\"",
        ]
    );
}

#[test]
fn bound_letters_keep_their_numbers_and_structure() {
    let one = laid_out(&letter(12));
    let bound = Pages::bind(vec![one.clone(), laid_out(&letter(1)), one.clone()], "Letters, lot 1");
    assert_eq!(bound.frames.len(), 5);
    assert_eq!(texts(&bound.frames[4], "Page 2 of 2").len(), 1);
    let parts = bound.elements.iter().filter(|element| element.kind == Kind::Part(None)).count();
    assert_eq!(parts, 3);
    assert_eq!(bound.words()[3..], one.words());
    let file = lopdf::Document::load_mem(&to_pdf(&bound, &STAMP)).expect("a file that can be read again");
    assert_eq!(file.get_pages().len(), 5);
    // Readers show each sheet with its letter's number and its own: 1-1, 1-2, 2-1, 3-1, 3-2.
    let labels = file.catalog().and_then(|catalog| catalog.get(b"PageLabels")).expect("labels");
    let numbers = labels.as_dict().and_then(|labels| labels.get(b"Nums")).expect("numbers");
    let numbers = numbers.as_array().expect("a list");
    let starts: Vec<i64> = numbers.iter().filter_map(|entry| entry.as_i64().ok()).collect();
    assert_eq!(starts, [0, 2, 3]);
    let letters: Vec<&[u8]> = numbers
        .iter()
        .filter_map(|entry| entry.as_dict().ok())
        .map(|label| label.get(b"P").and_then(lopdf::Object::as_str).expect("a prefix"))
        .collect();
    assert_eq!(letters, [b"1-", b"2-", b"3-"]);
}

/// Those who listen hear each letter in its own language.
#[test]
fn a_bound_letter_of_another_language_says_so() {
    let spanish = laid_out(&Document { language: "es".to_owned(), ..letter(1) });
    let mut bound = Pages::bind(vec![laid_out(&letter(1)), spanish], "Letters");
    let parts = |bound: &Pages| -> Vec<Kind> {
        let part = |kind: &Kind| matches!(kind, Kind::Part(_));
        bound.elements.iter().map(|element| element.kind.clone()).filter(part).collect()
    };
    assert_eq!(parts(&bound), [Kind::Part(None), Kind::Part(Some("es".to_owned()))]);
    bound.cover = true;
    let file = lopdf::Document::load_mem(&to_pdf(&bound, &STAMP)).expect("a file that can be read again");
    let of_parts =
        file.objects.values().filter_map(|object| object.as_dict().ok()).filter(|entry| {
            entry.get(b"S").and_then(lopdf::Object::as_name).is_ok_and(|name| name == b"Part")
        });
    let languages: Vec<Option<&[u8]>> = of_parts
        .map(|entry| entry.get(b"Lang").ok().map(|language| language.as_str().expect("a text")))
        .collect();
    assert_eq!(languages, [None, Some(&b"es"[..])]);
    let labels = file.catalog().and_then(|catalog| catalog.get(b"PageLabels")).expect("labels");
    assert!(format!("{labels:?}").contains("(0-)"), "{labels:?}");
}

/// A mark on every letter of a lot would make the file hundreds of times larger.
#[test]
fn a_picture_on_many_sheets_is_embedded_once() {
    let mut with_logo = letter(1);
    let points: Vec<u8> = (0..40 * 30 * 3).map(|n| (n % 251) as u8).collect();
    with_logo.blocks.insert(0, Block::Logo(crate::picture::Picture::new((40, 30), points, &[], "A mark")));
    let one = laid_out(&with_logo);
    let bound = Pages::bind(vec![one.clone(), one.clone(), one], "Letters");
    let file = lopdf::Document::load_mem(&to_pdf(&bound, &STAMP)).expect("a file that can be read again");
    let pictures = file.objects.values().filter_map(|object| object.as_stream().ok()).filter(|stream| {
        stream.dict.get(b"Subtype").and_then(lopdf::Object::as_name).is_ok_and(|name| name == b"Image")
    });
    assert_eq!(pictures.count(), 1);
}

#[test]
fn an_empty_document_is_one_page() {
    for setting in [Setting::Worksheet, Setting::Letter] {
        let pages = laid_out(&Document { setting, ..Document::default() });
        assert_eq!(pages.frames.len(), 1);
        lopdf::Document::load_mem(&to_pdf(&pages, &STAMP)).expect("a file that can be read again");
    }
}

/// The words of a block, in reading order.
fn words_of(block: &Block, out: &mut Vec<String>) {
    let text = |words: &Words| words.iter().map(|run| run.text.as_str()).collect::<String>();
    match block {
        Block::Heading { words, .. } | Block::Paragraph(words) | Block::Small(words) => out.push(text(words)),
        Block::List { ordered, items } => {
            for (number, item) in items.iter().enumerate() {
                out.push(if *ordered { format!("{}.", number + 1) } else { "•".to_owned() });
                item.iter().for_each(|block| words_of(block, out));
            }
        }
        Block::Table(table) => {
            out.extend(table.columns.iter().map(|column| column.head.clone()));
            out.extend(table.rows.iter().flat_map(|row| row.cells.iter().map(text)));
        }
        Block::Chart(chart) if chart.bars.is_empty() => {}
        Block::Chart(chart) => {
            out.push(chart.head.clone());
            out.extend(chart.series.iter().map(|series| series.name.clone()));
            out.extend(chart.columns.iter().cloned());
            out.extend(
                chart.bars.iter().flat_map(|bar| std::iter::once(&bar.name).chain(&bar.numbers)).cloned(),
            );
        }
        Block::Panel(blocks) | Block::Together(blocks) => {
            blocks.iter().for_each(|block| words_of(block, out))
        }
        Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
            out.extend(lines.iter().cloned())
        }
        Block::Logo(picture) => out.push(picture.alternative.clone()),
        Block::Space(_) | Block::PageBreak => {}
    }
}

/// The words of pages by element: what a reader of the structure reads. All space is left out, because long
/// words may be broken.
fn read_aloud(pages: &Pages) -> String {
    let mut by_element = vec![String::new(); pages.elements.len()];
    for piece in pages.frames.iter().flat_map(|frame| &frame.pieces) {
        if let Piece::Text(Text { element: Some(element), text, .. }) = piece {
            by_element[element.0 as usize].push_str(text);
        }
    }
    by_element.concat().replace(' ', "")
}

/// What is wrong with where pieces stand.
fn misplaced(pages: &Pages) -> Vec<String> {
    let mut wrong = Vec::new();
    for (page, frame) in pages.frames.iter().enumerate() {
        // A text reaches from its ascenders to its descenders.
        let boxes: Vec<(Length, Length, Length, Length, &Text)> = frame
            .pieces
            .iter()
            .filter_map(|piece| match piece {
                Piece::Text(text) => {
                    let (above, below) = (text.size * 72 / 100, text.size * 20 / 100);
                    Some((text.x, text.y - above, text.x + text.width, text.y + below, text))
                }
                _ => None,
            })
            .collect();
        let edge = Length::points(36);
        for (left, top, right, bottom, text) in &boxes {
            let inside = *left >= edge
                && *right <= frame.width - edge
                && *top >= Length::points(18)
                && *bottom <= frame.height - Length::points(30);
            if !inside {
                wrong.push(format!("page {page}: {:?} outside", text.text));
            }
        }
        let slack = Length::millipoints(30);
        for (at, a) in boxes.iter().enumerate() {
            for b in &boxes[at + 1..] {
                let apart =
                    a.2 <= b.0 + slack || b.2 <= a.0 + slack || a.3 <= b.1 + slack || b.3 <= a.1 + slack;
                if !apart {
                    wrong.push(format!("page {page}: {:?} over {:?}", a.4.text, b.4.text));
                }
            }
        }
        for piece in &frame.pieces {
            if let Piece::Area(area) | Piece::Outline(area) | Piece::Shape(area, _) = piece {
                let inside = area.x >= Length::points(10)
                    && area.x + area.width <= frame.width - Length::points(10)
                    && area.y >= Length::points(10)
                    && area.y + area.height <= frame.height - Length::points(10);
                if !inside {
                    wrong.push(format!("page {page}: {area:?} outside"));
                }
            }
        }
    }
    wrong
}

#[test]
fn samples_are_well_placed_and_whole() {
    for document in [worksheet(), letter(3), letter(12)] {
        let pages = laid_out(&document);
        assert_eq!(misplaced(&pages), Vec::<String>::new());
        let mut words = Vec::new();
        document.blocks.iter().for_each(|block| words_of(block, &mut words));
        assert_eq!(read_aloud(&pages), words.concat().replace(' ', ""));
    }
}

fn any_words() -> impl Strategy<Value = Words> {
    let run = ("[a-zA-Zé]{1,12}( [a-z0-9,.§-]{1,14}){0,30}", any::<bool>(), any::<bool>());
    prop::collection::vec(run, 1..4).prop_map(|runs| {
        runs.into_iter().map(|(text, strong, emphasis)| Run { text, strong, emphasis, value: None }).collect()
    })
}

fn any_cell() -> impl Strategy<Value = Words> {
    prop_oneof![
        "[0-9]{1,3}(,[0-9]{3}){0,2}(\\.[0-9]{2})?[*†]?".prop_map(plain),
        "[a-z]{1,10}( [a-z]{1,10}){0,12}".prop_map(plain),
        "[A-Z]{20,90}".prop_map(plain),
        Just(Words::new()),
    ]
}

fn any_table() -> impl Strategy<Value = Block> {
    let width = prop_oneof![Just(Width::Content), (1_u8..4).prop_map(Width::Parts)];
    let align = prop_oneof![Just(Align::Left), Just(Align::Right), Just(Align::Decimal)];
    let column = ("[A-Z][a-z]{0,8}( [a-z]{1,8})?", width, align).prop_map(|(head, width, align)| Column {
        head,
        width,
        align,
    });
    let role = prop_oneof![4 => Just(Role::Body), 1 => Just(Role::Group), 1 => Just(Role::Total), 1 => Just(Role::Remark)];
    (2_usize..7).prop_flat_map(move |count| {
        let cells = prop_oneof![5 => prop::collection::vec(any_cell(), count), 1 => prop::collection::vec(any_cell(), 1)];
        let row = (cells, role.clone()).prop_map(|(cells, role)| Row { cells, role });
        (prop::collection::vec(column.clone(), count), prop::collection::vec(row, 0..40))
    }).prop_map(|(columns, rows)| Block::Table(Table { summary: String::new(), columns, rows }))
}

fn any_chart() -> impl Strategy<Value = Block> {
    (1_usize..4).prop_flat_map(|columns| {
        let shade = prop_oneof![Just(Shade::Dark), Just(Shade::Light), Just(Shade::Open), Just(Shade::Edge)];
        let series = ("[a-z]{1,9}( [a-z]{1,9}){0,4}", shade).prop_map(|(name, shade)| Series { name, shade });
        let part = (0_usize..4, any::<i32>(), any::<i32>()).prop_map(|(series, from, to)| Stretch {
            series,
            from: i64::from(from),
            to: i64::from(to),
        });
        let bar = (
            "[A-Z][a-z]{1,12}( [a-z]{1,12}){0,9}",
            prop::collection::vec("([0-9]{1,3},[0-9]{3})?", columns),
            prop::collection::vec(part, 0..4),
            any::<bool>(),
        )
            .prop_map(|(name, numbers, parts, total)| Bar { name, numbers, parts, total });
        (
            "[A-Z][a-z]{0,12}",
            prop::collection::vec("[A-Z][a-z]{0,7}( [a-z]{1,7})?", columns),
            prop::collection::vec(series, 0..5),
            prop::collection::vec(bar, 0..60),
        )
            .prop_map(|(head, columns, series, bars)| {
                Block::Chart(Chart { summary: "a drawing".to_owned(), head, columns, series, bars })
            })
    })
}

fn any_block() -> impl Strategy<Value = Block> {
    let leaf = prop_oneof![
        4 => any_words().prop_map(Block::Paragraph),
        2 => any_words().prop_map(Block::Small),
        2 => (1_u8..4, any_words()).prop_map(|(level, words)| Block::Heading { level, words }),
        2 => any_table(),
        1 => any_chart(),
        1 => (0_u8..5).prop_map(Block::Space),
        1 => Just(Block::PageBreak),
    ];
    leaf.prop_recursive(3, 24, 6, |inner| {
        let blocks = prop::collection::vec(inner, 1..5);
        prop_oneof![
            (any::<bool>(), prop::collection::vec(blocks.clone(), 1..5))
                .prop_map(|(ordered, items)| Block::List { ordered, items }),
            blocks.clone().prop_map(Block::Panel),
            blocks.prop_map(Block::Together),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn whatever_the_blocks_nothing_is_lost_or_covered(
        blocks in prop::collection::vec(any_block(), 1..12),
        is_letter in any::<bool>(),
    ) {
        let setting = if is_letter { Setting::Letter } else { Setting::Worksheet };
        let document = Document { setting, blocks, furniture: worksheet().furniture, ..Document::default() };
        let pages = laid_out(&document);
        prop_assert_eq!(misplaced(&pages), Vec::<String>::new());
        let mut words = Vec::new();
        document.blocks.iter().for_each(|block| words_of(block, &mut words));
        prop_assert_eq!(read_aloud(&pages), words.concat().replace(' ', ""));
        prop_assert!(pages == laid_out(&document));
    }
}
