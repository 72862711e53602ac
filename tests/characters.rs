//! What becomes of characters of every kind in a case: printed as they are, printed in another form of the same, or
//! refused at their place; never dropped. Names stand in the worksheet, in letters, in HTML and in word processor
//! files; what a reader of each gets is asked from outside.

use crate::support::scratch::Scratch;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::Command;

/// What becomes of a name.
enum Becomes {
    /// It is printed, for everyone who reads the file, as this.
    Printed(&'static str),
    /// It is refused; the complaint names this.
    Refused(&'static str),
}
use Becomes::{Printed, Refused};

/// The table: what it is, a name with it, and what becomes of it.
const TABLE: &[(&str, &str, Becomes)] = &[
    ("composed accents", "Zo\u{eb} \u{c5}str\u{f6}m", Printed("Zo\u{eb} \u{c5}str\u{f6}m")),
    ("combining accents", "Zoe\u{308} A\u{30a}stro\u{308}m", Printed("Zo\u{eb} \u{c5}str\u{f6}m")),
    (
        "several accents",
        "Nguy\u{1ec5}n V\u{103}n \u{110}\u{1ee9}c",
        Printed("Nguy\u{1ec5}n V\u{103}n \u{110}\u{1ee9}c"),
    ),
    ("combining accents, several", "Nguye\u{302}\u{303}n Va\u{306}n", Printed("Nguy\u{1ec5}n V\u{103}n")),
    ("letters of Central Europe", "\u{141}ukasz D\u{17a}wig", Printed("\u{141}ukasz D\u{17a}wig")),
    (
        "Greek",
        "\u{395}\u{3bb}\u{3ad}\u{3bd}\u{3b7} Kotsi",
        Printed("\u{395}\u{3bb}\u{3ad}\u{3bd}\u{3b7} Kotsi"),
    ),
    ("Cyrillic", "\u{41e}\u{43b}\u{435}\u{433} Roy", Printed("\u{41e}\u{43b}\u{435}\u{433} Roy")),
    ("an apostrophe", "Mary O'Brien", Printed("Mary O\u{2019}Brien")),
    ("a typeset apostrophe", "Mary O\u{2019}Brien", Printed("Mary O\u{2019}Brien")),
    ("a hyphen", "Anne-Marie Roy", Printed("Anne-Marie Roy")),
    ("a blank that does not break", "Ana\u{a0}Alder", Printed("Ana Alder")),
    ("a wide blank", "Ana\u{3000}Alder", Printed("Ana Alder")),
    (
        "signs of markup",
        "A <b>&amp;</b> *c* _d_ {{e}} #f `g`",
        Printed("A <b>&amp;</b> *c* _d_ {{e}} #f `g`"),
    ),
    ("a formula", "=1+1 Alder", Printed("=1+1 Alder")),
    ("a ligature", "O\u{fb00}ner Alder", Printed("O\u{fb00}ner Alder")),
    ("Hebrew", "\u{5d3}\u{5d5}\u{5d3} Alder", Refused("U+05D3")),
    ("Arabic", "\u{645}\u{646}\u{649} Alder", Refused("U+0645")),
    ("Chinese", "\u{738b}\u{5c0f} Alder", Refused("U+738B")),
    ("Devanagari", "\u{930}\u{93e}\u{92e} Alder", Refused("U+0930")),
    ("a picture", "Ana \u{1f600} Alder", Refused("U+1F600")),
    (
        "a family of pictures, joined",
        "Ana \u{1f468}\u{200d}\u{1f469} Alder",
        Refused("U+200D, a joiner of no width"),
    ),
    ("a colored heart", "Ana \u{2764}\u{fe0f} Alder", Refused("U+FE0F, a selector")),
    ("wide letters", "\u{ff21}na Alder", Refused("U+FF21")),
    ("a mark of direction", "Ana\u{200f} Alder", Refused("U+200F, a mark of the direction")),
    ("an Arabic mark of direction", "Ana\u{61c} Alder", Refused("U+061C, a mark of the direction")),
    ("a turned direction", "Ana \u{202e}redlA", Refused("U+202E, an order to turn the direction")),
    ("an isolated direction", "Ana \u{2067}redlA\u{2069}", Refused("U+2067, an order to turn the direction")),
    ("a space of no width", "An\u{200b}a Alder", Refused("U+200B, a space of no width")),
    ("a soft hyphen", "Ana Al\u{ad}der", Refused("U+00AD, a soft hyphen")),
    ("a joiner of words", "Ana\u{2060}Alder", Refused("U+2060, a word joiner")),
    ("a mark of the byte order", "Ana\u{feff} Alder", Refused("U+FEFF, a mark of the byte order")),
    ("the end of a line", "Ana\u{2028}Alder", Refused("U+2028, the end of a line")),
    ("private use", "Ana \u{e001} Alder", Refused("U+E001, a character for private use")),
    ("no character", "Ana \u{ffff} Alder", Refused("U+FFFF, no character")),
    ("a tag", "Ana\u{e0041} Alder", Refused("U+E0041, a character without a shape")),
    ("a filler", "Ana\u{3164}Alder", Refused("U+3164, a character without a shape")),
    ("an escape", "Ana\u{1b}[31m Alder", Refused("U+001B, a control character")),
    ("a one-byte order", "Ana\u{9b}31m Alder", Refused("U+009B, a control character")),
    ("a lost character", "An\u{fffd} Alder", Refused("U+FFFD, the mark for a character that was lost")),
];

fn case(name: &str) -> String {
    let name = name.replace('\'', "''");
    format!(
        "format: 1\nclient:\n  reference: HH-0412\n  people: [{{name: '{name}'}}]\n  mail_to: {{names: ['{name}'], street: 12 Alder Lane, city: \
         Riverton, state: MA, zip: '01040'}}\nhomes:\n  alder-lane: {{use: main_home, held_as: owner, address: {{street: 12 Alder Lane, city: \
         Riverton, state: MA, zip: '01040'}}}}\nproperty:\n  roof-array:\n    kind: solar_electric\n    home: alder-lane\n    part_of: \
         existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-05-20\n    costs: [{{item: '{name}', as: equipment, amount: \
         10000, evidence: paper}}]\nreturns:\n  2025: {{filing_status: single, tax_before_credits: 5000}}\nevidence:\n  paper: {{type: invoice, \
         on_file: true, where: '{name}'}}\n"
    )
}

/// Reads a PDF as poppler does, with single blanks.
fn read(pdf: &Path) -> String {
    let out = Command::new("pdftotext")
        .arg("-layout")
        .arg(pdf)
        .arg("-")
        .output()
        .expect("pdftotext (poppler-utils) runs");
    assert!(out.status.success());
    single(&String::from_utf8(out.stdout).expect("text"))
}

fn single(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of HTML or of a word processor's file.
fn words(markup: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in markup.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => inside = false,
            c if !inside => out.push(c),
            _ => {}
        }
    }
    let marks = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&amp;", "&")];
    single(&marks.iter().fold(out, |text, (mark, sign)| text.replace(mark, sign)))
}

#[test]
fn every_character_is_printed_or_refused_at_its_place() {
    let scratch = Scratch::new("characters");
    for (n, (what, name, becomes)) in TABLE.iter().enumerate() {
        let file = scratch.join(&format!("{n}.case.yaml"));
        fs::write(&file, case(name)).expect("a case");
        let out = scratch.join(&format!("out-{n}"));
        let run = Command::new(env!("CARGO_BIN_EXE_gablework"))
            .args([
                "packet",
                "--draft",
                "--year",
                "2025",
                "--dated",
                "2026-03-02",
                "--also",
                "html,docx",
                "--out",
            ])
            .args([&out, &file])
            .output()
            .expect("the program runs");
        let told = String::from_utf8(run.stderr).expect("text");
        let printed = String::from_utf8(run.stdout).expect("text");
        for shown in [&told, &printed] {
            assert!(
                !shown.chars().any(|c| c.is_control() && c != '\n'),
                "{what}: the terminal gets {shown:?}"
            );
            let turns = |c: char| matches!(c, '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
            assert!(!shown.contains(turns), "{what}: the terminal is turned");
        }
        match becomes {
            Refused(called) => {
                assert_eq!(run.status.code(), Some(1), "{what}: {told}");
                assert!(!out.exists(), "{what} is refused, and a packet stands");
                assert!(told.contains(called), "{what}: {told}");
                assert!(told.contains(&format!("{n}.case.yaml:4:")), "{what}: no place in {told}");
                assert!(told.contains("help: "), "{what}: {told}");
            }
            Printed(expected) => {
                assert_eq!(run.status.code(), Some(0), "{what}: {told}");
                let data = out.join("HH-0412-2025-draft/data");
                // An apostrophe is set as one on paper; the other forms keep it as typed.
                let typed = single(name);
                let same = |text: &str| text.contains(*expected) || text.contains(&typed);
                for pdf in ["worksheet.pdf", "letters/results.pdf"] {
                    let text = read(&data.join(pdf));
                    assert!(text.contains(expected), "{what}: {pdf} has no {expected:?}:\n{text}");
                }
                let html = words(&fs::read_to_string(data.join("letters/results.html")).expect("a letter"));
                assert!(same(&html), "{what}: HTML has {html}");
                let docx = fs::File::open(data.join("letters/results.docx")).expect("a letter");
                let mut parts = zip::ZipArchive::new(docx).expect("a container");
                let mut document = String::new();
                parts
                    .by_name("word/document.xml")
                    .expect("the words")
                    .read_to_string(&mut document)
                    .expect("text");
                assert!(same(&words(&document)), "{what}: docx has {document}");
                let json = fs::read_to_string(data.join("figures.json")).expect("figures");
                assert!(serde_json::from_str::<serde_json::Value>(&json).is_ok());
            }
        }
    }
}

/// Whatever a folder or a file is called, nothing that nobody sees, or that turns a line, reaches a terminal or another
/// program; and other programs get the name as it is.
#[cfg(unix)]
#[test]
fn no_command_prints_what_nobody_sees() {
    use crate::batches::{Desk, case};
    use crate::support::program::{err, out, program};
    let strange = "s\u{202e}t\u{1b}[2Jr\u{200b}\u{ad}";
    let desk = Desk::new("unseen-words");
    desk.write(&format!("{strange}/a.case.yaml"), &case("HH-1"));
    desk.write(&format!("{strange}/b.case.yaml"), "format: 1\nclient: 7\n");
    fs::create_dir(desk.0.join(format!("{strange}/packets"))).expect("a folder");
    let lines = [
        "packet %/a.case.yaml --dated 2026-11-12 --out %/packets",
        "packet % --dated 2026-11-12 --out %/packets",
        "check %",
        "check % --as json",
        "figures %/a.case.yaml",
        "figures %/a.case.yaml --as json",
        "figures %/b.case.yaml --as json",
        "why %/a.case.yaml 440 --as json",
        "why %/a.case.yaml 440",
        "register % --on 2026-11-12 --packets %/packets",
        "register % --on 2026-11-12 --as json --packets %/packets",
        "register % --on 2026-11-12 --as csv --packets %/packets",
        "remind % --for 2026 --dated 2026-11-12 --out %/season",
        "verify %",
        "verify % --as json",
        "verify %/packets/HH-1-2026",
        "verify %/packets/HH-1-2026 --as json",
        "verify %/none",
        "kit %/kit",
        "check %/none.case.yaml",
        "register %/none",
        "begin --plain %/none",
    ];
    let shown = |c: char| c != '\n' && c != '\r' && c.is_control() || strange.contains(c) && !c.is_ascii();
    let mut json = 0;
    for line in lines.iter().chain(&lines) {
        let words: Vec<String> = line.split(' ').map(|word| word.replace('%', strange)).collect();
        let ended =
            program(&desk.0).args(&words).stdin(std::process::Stdio::null()).output().expect("it runs");
        let both = format!("{}{}", out(&ended), err(&ended));
        assert!(!both.contains(shown), "{line}: {}", both.escape_debug());
        if line.contains("--as json") && !out(&ended).is_empty() {
            let read: serde_json::Value = serde_json::from_slice(&ended.stdout).expect("JSON");
            json += 1;
            if line.starts_with("verify %/packets") {
                let path = read["packets"][0]["path"].as_str().expect("a path");
                assert!(path.contains('\u{202e}'), "{line}: other programs need the name itself: {path}");
            }
        }
    }
    assert!(json >= 10, "{json}");
    // A packet that somebody gave another name.
    let odd = desk.0.join(format!("{strange}/packets/{strange}"));
    fs::rename(desk.0.join(format!("{strange}/packets/HH-1-2026")), &odd).expect("renamed");
    for form in ["text", "json"] {
        for place in ["packets", &format!("packets/{strange}")] {
            let place = format!("{strange}/{place}");
            let ended = program(&desk.0).args(["verify", &place, "--as", form]).output().expect("it runs");
            let both = format!("{}{}", out(&ended), err(&ended));
            assert!(!both.contains(shown), "{form}: {}", both.escape_debug());
        }
    }
    let log = fs::read_to_string(desk.0.join(format!("{strange}/packets/verified.txt"))).expect("a log");
    assert!(!log.contains(shown), "{}", log.escape_debug());
}
