//! Finished files, judged by programs that know nothing of ours: are they sound, do they read aloud in order, would
//! an archive take them, can they be read without seeing.
//!
//! The programs are poppler's (`pdffonts`, `pdftotext`, `pdfinfo`), `qpdf`, and the Preflight of Apache PDFBox, run by
//! `tests/paper/Archive.java`; README.md says how to install them. A test whose program is missing fails. The two
//! checkers of ISO 14289-1 come from the Python index, so they are asked only where `GABLEWORK_CHECKERS` names their
//! folder, as `.ci/run` does.

use crate::support::program::said;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// The packets of all demo households and of one with letters and signs beyond ASCII, and a season's letters bound for
/// the printer, made once for all tests, in a folder that a later run clears.
struct Papers {
    folder: PathBuf,
    /// Every PDF file in them.
    files: Vec<PathBuf>,
}

fn papers() -> &'static Papers {
    static PAPERS: OnceLock<Papers> = OnceLock::new();
    PAPERS.get_or_init(|| {
        let shelf = Path::new(env!("CARGO_TARGET_TMPDIR"));
        clear(shelf);
        let folder = shelf.join(format!("paper-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a scratch folder");
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let demo = root.join("demo/solar-water-heater.case.yaml");
        let demo = fs::read_to_string(demo).expect("the demo case");
        let accents = demo
            .replace("HH-0101", "HH-0999")
            .replace(", file: papers/", ", where: binder ")
            .replace("name: Odell Tarrant", "name: Zoë Ibáñez-Øster")
            .replace("collectors and tank", "collectors and tank under § 4½ – “as is”");
        assert_ne!(demo, accents);
        let special = folder.join("accents.case.yaml");
        fs::write(&special, accents).expect("a scratch case");
        for case in [Path::new("demo"), special.as_path()] {
            let made = Command::new(env!("CARGO_BIN_EXE_gablework"))
                .current_dir(root)
                .args([Path::new("packet"), case, Path::new("--out"), folder.as_path()])
                .args(["--dated", "2026-11-25"])
                .output()
                .expect("the program runs");
            assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
        }
        // A season's lot, with letters in both languages and blank backs.
        let season = Command::new(env!("CARGO_BIN_EXE_gablework"))
            .current_dir(root)
            .args([
                "remind",
                "tests/season",
                "--for",
                "2026",
                "--dated",
                "2027-01-05",
                "--both-sides",
                "--out",
            ])
            .arg(folder.join("season"))
            .output()
            .expect("the program runs");
        assert_eq!(season.status.code(), Some(1), "{}", String::from_utf8_lossy(&season.stderr));
        assert!(folder.join("season/season-2026-lot-01.pdf").is_file());
        let mut files = Vec::new();
        let mut folders = vec![folder.clone()];
        while let Some(one) = folders.pop() {
            for entry in fs::read_dir(&one).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    folders.push(path);
                } else if path.extension().is_some_and(|end| end == "pdf") {
                    files.push(path);
                }
            }
        }
        files.sort();
        // Evidence given by the household is not ours to judge.
        files.retain(|file| !file.components().any(|part| part.as_os_str() == "papers"));
        assert!(files.len() > 20, "{} files", files.len());
        Papers { folder, files }
    })
}

/// Removes what earlier runs left, but nothing of a run that goes on.
fn clear(shelf: &Path) {
    for entry in fs::read_dir(shelf).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let Some(process) = name.strip_prefix("paper-") else { continue };
        if !Path::new("/proc").join(process).exists() {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

impl Papers {
    fn worksheet(&self, packet: &str) -> PathBuf {
        self.folder.join(packet).join("data/worksheet.pdf")
    }
}

/// Runs a program; without it the test fails and says what to install.
fn ask(program: &str, package: &str, arguments: &[&Path]) -> Output {
    Command::new(program).args(arguments).output().unwrap_or_else(|error| {
        panic!("`{program}` does not run ({error}); install `{package}`, see README.md")
    })
}

#[test]
fn qpdf_finds_every_file_sound() {
    for file in &papers().files {
        let checked = ask("qpdf", "qpdf", &[Path::new("--check"), file]);
        let told = said(&checked);
        assert!(checked.status.success() && !told.contains("WARNING"), "{}: {told}", file.display());
    }
}

#[test]
fn every_typeface_is_embedded_cut_and_mapped_to_characters() {
    for file in &papers().files {
        let fonts = said(&ask("pdffonts", "poppler-utils", &[file]));
        let faces: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(!faces.is_empty(), "{}: {fonts}", file.display());
        for face in faces {
            let words: Vec<&str> = face.split_whitespace().collect();
            // The last five words are: embedded, subset, mapped to Unicode, and the object's two numbers.
            let answers = &words[words.len() - 5..words.len() - 2];
            assert_eq!(answers, ["yes", "yes", "yes"], "{}: {face}", file.display());
            assert!(face.contains("SourceSans3"), "{}: {face}", file.display());
        }
    }
}

#[test]
fn letters_beyond_ascii_come_back_whole() {
    let packet = papers().folder.join("HH-0999-2026");
    let worksheet =
        said(&ask("pdftotext", "poppler-utils", &[&packet.join("data/worksheet.pdf"), Path::new("-")]));
    for words in ["Zoë Ibáñez-Øster", "\u{2212}"] {
        assert!(worksheet.contains(words), "{words} in {worksheet}");
    }
    let letters = fs::read_dir(packet.join("data/letters")).expect("letters");
    let mut named = 0;
    for letter in letters {
        let words =
            said(&ask("pdftotext", "poppler-utils", &[&letter.expect("a letter").path(), Path::new("-")]));
        named += usize::from(words.contains("Zoë Ibáñez-Øster"));
    }
    assert!(named > 0, "no letter names the client");
    // The year of the purchase shows the cost itself.
    let out = papers().folder.join("of-2024");
    let case = papers().folder.join("accents.case.yaml");
    let made = Command::new(env!("CARGO_BIN_EXE_gablework"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args([Path::new("packet"), &case, Path::new("--out"), &out, Path::new("--year"), Path::new("2024")])
        .args(["--dated", "2026-11-25"])
        .output()
        .expect("the program runs");
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let file = out.join("HH-0999-2024/data/worksheet.pdf");
    let words = said(&ask("pdftotext", "poppler-utils", &[&file, Path::new("-")]));
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("§ 4½ – “as is”"), "{words}");
}

#[test]
fn a_worksheet_reads_aloud_in_the_order_of_its_sheets() {
    let file = papers().worksheet("HH-0102-2026");
    let tree = said(&ask("pdfinfo", "poppler-utils", &[Path::new("-struct-text"), &file]));
    let mut from = 0;
    for words in [
        "Residential energy credits, tax year 2026",
        "Summary for 2026",
        "Residential clean energy credit carried in from 2025",
        "6,160",
        "The way of the residential clean energy credit through the years",
        "Why these amounts",
        "400 Section 25D",
        "500 Limit by tax",
        "600 Carryforward",
        "700 Effect on the home’s basis",
        "800 Net cost to the household",
        "Of the price of $45,830",
        "Price before incentives",
        "900 To the return",
        "Entries by official line",
        "What if: the years after",
        "Authorities cited",
        "Cautions",
        "This worksheet is a computation aid.",
    ] {
        let at = tree[from..].find(words);
        from += at.unwrap_or_else(|| panic!("`{words}` does not follow where it should:\n{}", &tree[from..]));
    }
    // Drawings are figures, headings go down one level at a time, what stands on every page is not read aloud.
    assert_eq!(tree.lines().filter(|line| line.trim_start().starts_with("Figure")).count(), 3);
    for furniture in ["Page 1 of", "Law edition"] {
        assert!(!tree.contains(furniture), "{furniture} is read aloud");
    }
}

#[test]
fn a_table_over_several_pages_is_one_table_with_one_heading() {
    let file = papers().worksheet("HH-0103-2025");
    let tree = said(&ask("pdfinfo", "poppler-utils", &[Path::new("-struct-text"), &file]));
    let sheet = tree.split("300 Section 25C").nth(1).expect("sheet 300");
    let sheet = sheet.split("500 Limit by tax").next().expect("sheet 500 after it");
    let count = |tag: &str| sheet.lines().filter(|line| line.trim_start().starts_with(tag)).count();
    assert_eq!(count("Table"), 1);
    assert_eq!(sheet.matches("\"Official line ").count(), 1, "{sheet}");
    assert!(count("TR") > 40, "{sheet}");
    // On paper the heading stands on each of its pages.
    let paper = said(&ask("pdftotext", "poppler-utils", &[Path::new("-layout"), &file, Path::new("-")]));
    assert!(paper.matches("What it is").count() > 3, "{paper}");
}

#[test]
fn files_say_their_title_language_and_standards() {
    for file in &papers().files {
        let about = said(&ask("pdfinfo", "poppler-utils", &[file]));
        for words in ["Tagged:          yes", "Creator:         Gablework", "PDF version:     1.7"] {
            assert!(about.contains(words), "{}: {words}\n{about}", file.display());
        }
        assert!(!about.contains("Title:           \n"), "{about}");
        let meta = said(&ask("pdfinfo", "poppler-utils", &[Path::new("-meta"), file]));
        for claim in ["<pdfaid:part>2<", "<pdfaid:conformance>A<", "<pdfuaid:part>1<", "<dc:language>"] {
            assert!(meta.contains(claim), "{}: {claim}\n{meta}", file.display());
        }
    }
}

/// ISO 19005-2 has no free validator in Debian; part 1 has. It asks for more in all but two things: the mark in the
/// metadata, and a list of the glyphs beside each cut typeface, which it wants wherever the name says that it is cut.
/// So each file is judged with that mark and with the plain names of its typefaces, all else as it is.
#[test]
fn an_archive_would_take_every_file() {
    const JARS: [&str; 8] = [
        "preflight.jar",
        "xmpbox.jar",
        "pdfbox2.jar",
        "fontbox2.jar",
        "commons-logging.jar",
        "jaxb-api.jar",
        "bcprov.jar",
        "bcmail.jar",
    ];
    let jars = Path::new("/usr/share/java");
    for jar in JARS {
        assert!(
            jars.join(jar).exists(),
            "{jar} is missing; install `libpdfbox2-java` and the others README.md names"
        );
    }
    let class_path = JARS.map(|jar| jars.join(jar).to_string_lossy().into_owned()).join(":");
    let folder = papers().folder.join("part-1");
    fs::create_dir_all(&folder).expect("a scratch folder");
    let variants: Vec<PathBuf> = papers()
        .files
        .iter()
        .map(|file| {
            let name = file.strip_prefix(&papers().folder).expect("a file of the packets").to_string_lossy();
            let variant = folder.join(name.replace('/', "-"));
            fs::write(&variant, as_part_1(&fs::read(file).expect("a file"))).expect("a scratch file");
            variant
        })
        .collect();
    let driver = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/paper/Archive.java");
    // A short run: the virtual machine need not make itself fast.
    let short = ["-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC", "-cp", &class_path].map(Path::new);
    let mut arguments: Vec<&Path> = short.to_vec();
    arguments.push(&driver);
    arguments.extend(variants.iter().map(PathBuf::as_path));
    let judged = ask("java", "default-jdk-headless", &arguments);
    let told = said(&judged);
    assert!(judged.status.success(), "{told}");
    assert_eq!(told.matches(": valid").count(), variants.len(), "{told}");
    // The judge tells a file that is not what it claims: the same worksheet without the mark.
    let mut arguments: Vec<&Path> = short.to_vec();
    arguments.extend([driver.as_path(), &papers().files[0]]);
    let unmarked = ask("java", "default-jdk-headless", &arguments);
    assert_eq!(unmarked.status.code(), Some(1), "{}", said(&unmarked));
}

/// Marks a file as part 1 and names its typefaces plainly.
fn as_part_1(bytes: &[u8]) -> Vec<u8> {
    let mut file = lopdf::Document::load_mem(bytes).expect("a file that can be read");
    for object in file.objects.values_mut() {
        match object {
            lopdf::Object::Dictionary(entry) => {
                for key in [b"BaseFont".as_slice(), b"FontName"] {
                    let Ok(name) = entry.get(key).and_then(lopdf::Object::as_name) else { continue };
                    if let Some(plus) = name.iter().position(|byte| *byte == b'+') {
                        let plain = name[plus + 1..].to_vec();
                        entry.set(key, lopdf::Object::Name(plain));
                    }
                }
            }
            lopdf::Object::Stream(stream) if stream.dict.has_type(b"Metadata") => {
                let words = String::from_utf8(stream.content.clone()).expect("metadata in UTF-8");
                let marked = words.replace("<pdfaid:part>2<", "<pdfaid:part>1<");
                assert_ne!(words, marked);
                stream.set_content(marked.into_bytes());
            }
            _ => {}
        }
    }
    let mut written = Vec::new();
    file.save_to(&mut written).expect("writing to memory does not fail");
    written
}

#[test]
fn the_checkers_of_accessibility_find_nothing() {
    let Ok(folder) = std::env::var("GABLEWORK_CHECKERS") else {
        eprintln!("GABLEWORK_CHECKERS names no folder: the checkers of ISO 14289-1 are not asked");
        return;
    };
    let folder = Path::new(&folder);
    let files = || papers().files.iter().map(PathBuf::as_path);
    let outloud = folder.join("outloud");
    let (lots, others): (Vec<&Path>, Vec<&Path>) =
        files().partition(|file| file.to_string_lossy().contains("-lot-"));
    assert!(!lots.is_empty() && !others.is_empty());
    // A lot binds many letters, each with the firm's own head as words to be read. A rule about lines that come
    // again on three pages takes these for a running head, which they are not; of single papers it is asked.
    for (files, skipped) in [(others, None), (lots, Some("PAG-001"))] {
        let mut arguments: Vec<&Path> =
            ["--layer", "conformance", "--fail-on", "warning"].map(Path::new).to_vec();
        arguments.extend(skipped.into_iter().flat_map(|rule| ["--skip", rule]).map(Path::new));
        arguments.extend(files);
        let judged = ask(&outloud.to_string_lossy(), "outloud", &arguments);
        assert!(judged.status.success(), "{}", said(&judged));
    }
    let pdfua = folder.join("pdfua");
    let arguments: Vec<&Path> = std::iter::once(Path::new("check")).chain(files()).collect();
    let judged = ask(&pdfua.to_string_lossy(), "pdfua", &arguments);
    assert!(judged.status.success(), "{}", said(&judged));
}
