//! Packets that somebody made to stall `verify`, or to pass: changed in one place, and sealed anew so that all lists agree.
//!
//! `GABLEWORK_TRIES=N cargo test hostile` tries N random changes instead of a few dozen.

use crate::sealed::{demo, description, one, verified};
use crate::support::chance::Chance;
use crate::support::effort::spent;
use crate::support::files::paths;
use crate::support::program::{said, text};
use crate::support::scratch::Scratch;
use gablework::packet::{Asked, Packet, bag};
use gablework::verify::{self, Desk, Figures, Pages, Report};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long refusing may take where the program was built for testing, many times slower than one built for use; what
/// stalled took minutes, or for ever.
const PATIENCE: Duration = Duration::from_secs(8);

/// The files of a packet's payload, by their path in it.
type Payload = BTreeMap<String, Vec<u8>>;

fn payload(packet: &Path) -> Payload {
    let read = |name: String| (name.clone(), fs::read(packet.join("data").join(name)).expect("a file"));
    paths(&packet.join("data")).into_iter().map(read).collect()
}

/// Seals a payload anew under a name, and puts it down.
fn sealed(scratch: &Scratch, name: &str, info: &bag::Info, payload: &Payload) -> PathBuf {
    let mut packet = Packet::new(gablework::name::FileName::new(name).expect("a name"));
    for (path, bytes) in payload {
        packet.add(format!("data/{path}"), bytes.clone());
    }
    bag::seal(&mut packet, info, &BTreeMap::new()).expect("sealed");
    let place = scratch.0.join(name);
    let _ = fs::remove_dir_all(&place);
    for (path, bytes) in &packet.files {
        let full = place.join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("made");
        fs::write(full, bytes).expect("written");
    }
    place
}

/// Says whether nothing at all is said against a packet. One that names another program as its maker has less asserted of
/// it, and says so.
fn clean(report: &Report) -> bool {
    report.asked.as_ref().is_some_and(Asked::is_ours)
        && report.is_sealed()
        && report.figures_agree()
        && matches!(report.pages, Pages::Identical { .. })
}

/// Whoever changes a file and writes all lists anew is noticed without any slip, whichever file it is: the program writes
/// everything in a packet again from the case, and the case is what the request names.
#[test]
fn any_file_changed_under_a_whole_seal_is_noticed() {
    let scratch = Scratch::new("hostile-any");
    let tries = std::env::var("GABLEWORK_TRIES").ok().and_then(|tries| tries.parse().ok());
    let (name, desk) = ("HH-0102-2026", Desk::default());
    let good = payload(&demo().join(name));
    let info = description(&demo().join(name));
    assert!(clean(&verify::verify(&sealed(&scratch, name, &info, &good), &desk)), "as it was made");
    let mut thrown = Chance(20_261_130);
    let paths: Vec<&String> = good.keys().collect();
    let mut passed = Vec::new();
    for n in 0..tries.unwrap_or(paths.len() * 2) {
        let path = paths[n % paths.len()];
        let mut bad = good.clone();
        let what = match n / paths.len() % 5 {
            0 => {
                let bytes = bad.get_mut(path).expect("a file");
                let at = thrown.below(bytes.len());
                bytes[at] ^= 1 << thrown.below(8);
                format!("{path}, byte {at}")
            }
            1 => {
                bad.remove(path);
                format!("{path} removed")
            }
            2 => {
                bad.get_mut(path).expect("a file").extend(b"\n");
                format!("{path}, a line more")
            }
            3 => {
                let bytes = bad.get_mut(path).expect("a file");
                bytes.truncate(thrown.below(bytes.len()));
                format!("{path} cut to {}", bytes.len())
            }
            _ => {
                let other = paths[thrown.below(paths.len())];
                bad.insert(path.clone(), good[other].clone());
                if other == path {
                    continue;
                }
                format!("{path} is {other}")
            }
        };
        if clean(&verify::verify(&sealed(&scratch, name, &info, &bad), &desk)) {
            passed.push(what);
        }
    }
    assert!(passed.is_empty(), "these pass:\n{}", passed.join("\n"));
}

/// Changes that mean something, each to a file that nobody computes from.
#[test]
fn words_that_nobody_computes_from_are_compared_too() {
    let scratch = Scratch::new("hostile-words");
    let (name, desk) = ("HH-0102-2026", Desk::default());
    let good = payload(&demo().join(name));
    let info = description(&demo().join(name));
    let change = |path: &str, from: &str, to: &str| {
        let mut bad = good.clone();
        let before = String::from_utf8(good[path].clone()).expect("text");
        assert!(before.contains(from), "{path}: {from}");
        bad.insert(path.to_string(), before.replacen(from, to, 1).into_bytes());
        bad
    };
    let figures = String::from_utf8(good["figures.json"].clone()).expect("text");
    let compact: serde_json::Value = serde_json::from_str(&figures).expect("JSON");
    for (what, bad, wanted) in [
        ("README", change("README.txt", "Keep", "Throw away"), "data/README.txt"),
        ("a schema", change("schemas/case.schema.json", "format", "formal"), "data/schemas/case.schema.json"),
        (
            "until when it is kept",
            change("request.json", "\"because\": \"", "\"because\": \"not "),
            "data/request.json",
        ),
        ("the law, a blank more", change("law/2025.yaml", "year: 2025", "year:  2025"), "data/law/2025.yaml"),
        (
            "the official lines",
            change("layouts/official/2025.yaml", "line", "lime"),
            "data/layouts/official/2025.yaml",
        ),
        ("a label of the table", change("figures.csv", "credit", "debit"), "figures.csv"),
        (
            "a key twice",
            change("figures.json", "\"format\": 1", "\"format\": 9, \"format\": 1"),
            "`format` stands twice",
        ),
        (
            "written closely",
            [("figures.json".to_string(), compact.to_string().into_bytes())].into_iter().fold(
                good.clone(),
                |mut all, (path, bytes)| {
                    let digest = gablework::packet::fingerprint(&bytes);
                    let request = String::from_utf8(all["request.json"].clone()).expect("text");
                    let mut request: serde_json::Value = serde_json::from_str(&request).expect("JSON");
                    request["figures_fingerprint"] = serde_json::json!(digest);
                    all.insert("request.json".to_string(), format!("{request:#}").into_bytes());
                    all.insert(path, bytes);
                    all
                },
            ),
            "is not written as the program writes it",
        ),
        (
            "a paper more",
            [good.clone(), [("papers/more.pdf".to_string(), b"%PDF".to_vec())].into()]
                .into_iter()
                .flatten()
                .collect(),
            "data/papers/more.pdf",
        ),
    ] {
        let report = verify::verify(&sealed(&scratch, name, &info, &bad), &desk);
        let told = format!("{:?} {:?} {}", report.figures, report.pages, told(&report));
        assert!(!clean(&report) && told.contains(wanted), "{what}: {told}");
    }
    // What the seal says of the packet, apart from its name and size.
    let info = bag::Info(
        info.0.into_iter().map(|(label, value)| (label, value.replace("Keep", "Throw away"))).collect(),
    );
    let report = verify::verify(&sealed(&scratch, name, &info, &good), &desk);
    assert!(
        matches!(&report.pages, Pages::Differ { files } if files == &["bag-info.txt"]),
        "{:?}",
        report.pages
    );
}

/// Files made to be slow to read, each in a packet whose lists all agree.
#[test]
fn what_would_take_long_to_read_is_refused() {
    let scratch = Scratch::new("hostile-slow");
    let name = "HH-0102-2026";
    let good = payload(&demo().join(name));
    let info = description(&demo().join(name));
    let many = |part: &str, times: usize| part.repeat(times).into_bytes();
    let letter = |front: &str, body: String| {
        format!("---\nkit: 1\nsubject: Your credits\n{front}---\n{body}\n").into_bytes()
    };
    let front =
        |part: &str, times: usize| letter(&format!("enclosures: {}\n", part.repeat(times)), String::new());
    let body = |part: &str, times: usize| letter("", part.repeat(times));
    let bomb = format!(
        "a: &a [{}]\nb: &b [{}]\nc: [{}]\n",
        "x, ".repeat(300),
        "*a, ".repeat(300),
        "*b, ".repeat(300)
    );
    let lines = |one: &str, times: usize| format!("{{\"lines\": [{}0]}}", one.repeat(times)).into_bytes();
    let results = "kit/letters/en/results.md";
    for (what, path, bytes) in [
        ("brackets in the law", "law/2025.yaml", many("[", 60_000)),
        ("brackets that quotes close", "law/2025.yaml", many("[ \"]\", ", 60_000)),
        ("braces in the law", "law/2025.yaml", many("{", 60_000)),
        ("lists in lists in the law", "law/2025.yaml", many("- ", 100_000)),
        ("keys of keys in the law", "law/2025.yaml", many("? ", 100_000)),
        ("a law that repeats itself", "law/2025.yaml", bomb.clone().into_bytes()),
        ("a long law", "law/2025.yaml", many("# nothing\n", 2_000_000)),
        ("brackets in the layout", "layouts/worksheet.yaml", many("[", 60_000)),
        ("a layout that repeats itself", "layouts/worksheet.yaml", bomb.into_bytes()),
        ("brackets in the firm's layout", "kit/layouts/worksheet.yaml", many("[", 60_000)),
        ("brackets in a letter's front", results, front("[", 100_000)),
        ("lists in lists in a letter's front", results, front("- ", 100_000)),
        ("conditions in conditions", results, body("{{#if draft}}", 30_000)),
        (
            "conditions in conditions, closed",
            results,
            letter("", "{{#if draft}}".repeat(25_000) + &"{{/if}}".repeat(25_000)),
        ),
        (
            "conditions that hold in conditions, closed",
            results,
            letter("", "{{#unless draft}}".repeat(20_000) + &"{{/unless}}".repeat(20_000)),
        ),
        (
            "calls in calls, closed",
            results,
            letter("", format!("{{{{year {}{}}}}}", "(year ".repeat(50_000), ")".repeat(50_000))),
        ),
        ("words in words", results, body("{{(", 100_000)),
        ("brackets in a name", results, letter("", format!("{{{{{} }}}}", "(".repeat(100_000)))),
        ("quotations in quotations", results, body("> ", 200_000)),
        ("lists in lists in a letter", results, body("- ", 200_000)),
        ("links in links", results, body("[", 200_000)),
        ("stars", results, body("**a ", 100_000)),
        ("underlines", results, body("*a_ ", 100_000)),
        ("backticks", results, (1..900).map(|n| "`".repeat(n) + " ").collect::<String>().into_bytes()),
        ("tables", results, body("|", 300_000)),
        ("references", results, body("[a]: <", 100_000)),
        ("tags", results, body("<a ", 200_000)),
        ("a table of words", "kit/letters/es/words.yaml", many("[", 60_000)),
        ("brackets in the firm's file", "firm.yaml", many("[", 400_000)),
        ("brackets in the case", "solar-and-battery.case.yaml", many("[", 400_000)),
        ("a long case", "solar-and-battery.case.yaml", many("# a\n", 10_000_000)),
        ("figures of nothing", "figures.json", lines("0,", 24_000_000)),
        ("figures of empty lines", "figures.json", lines("{},", 16_000_000)),
        ("figures of one line", "figures.json", lines("{\"line\": \"1\"},", 60_000)),
        ("figures in figures", "figures.json", many("[", 10_000_000)),
        ("a table of commas", "figures.csv", many(",", 40_000_000)),
        ("a table of lines", "figures.csv", many("\n", 40_000_000)),
        ("a table of quotes", "figures.csv", many("\"", 3_000_000)),
        (
            "forms without end",
            "request.json",
            String::from_utf8(good["request.json"].clone())
                .expect("text")
                .replace("\"also\": []", &format!("\"also\": [{}\"docx\"]", "\"docx\",".repeat(15_000)))
                .into_bytes(),
        ),
        ("a request in a request", "request.json", many("[", 900_000)),
    ] {
        let mut bad = good.clone();
        let before = bad.insert(path.to_string(), bytes);
        assert_ne!(before.as_ref(), bad.get(path), "{what}");
        let place = sealed(&scratch, name, &info, &bad);
        // A desk of its own, which has no law from before.
        let (desk, seal) = (Desk::default(), bag::check(&place));
        let (report, long) = spent(|| verify::verify(&place, &desk));
        let (_, hashing) = spent(|| bag::check(&place));
        assert!(seal.is_intact(), "{what}: {:?}", seal.damage);
        assert!(!clean(&report), "{what}");
        assert!(long < hashing + PATIENCE, "{what}: {long:?}, of which the seal {hashing:?}");
        eprintln!("{what}: {long:?}, of which the seal {hashing:?}: {:?}", told(&report));
    }
}

fn told(report: &Report) -> String {
    let figures = match &report.figures {
        Figures::Differ { differences, .. } => {
            differences.first().map_or_else(String::new, |one| format!("{} {}", one.place, one.label))
        }
        Figures::NotCompared(why) => why.to_string(),
        Figures::Agree { .. } => "agree".to_string(),
    };
    format!("{figures}; {:?}", report.pages).chars().take(300).collect()
}

/// Sizes stand before bytes: what no list names is never read, and what is larger than a packet neither.
#[cfg(target_os = "linux")]
#[test]
fn what_is_larger_than_any_packet_is_not_read() {
    const LONG: u64 = 1 << 41;
    let scratch = Scratch::new("hostile-large");
    let packet = one(&scratch, "HH-0102-2026");
    let grown = |path: &str, length: u64| {
        let file = fs::OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(packet.join(path))
            .expect("a file");
        file.set_len(length).expect("a long file of nothing");
    };
    for (path, wanted) in [
        ("data/more.bin", "data/more.bin was added"),
        ("more.bin", "more.bin was added"),
        ("fetch.txt", "fetch.txt was added"),
        ("data/worksheet.pdf", "data is larger than in any packet; it was not read"),
        ("data/request.json", "data is larger than in any packet"),
        ("bag-info.txt", "bag-info.txt is larger than in any packet"),
        ("bagit.txt", "bagit.txt is larger than in any packet"),
        ("manifest-sha512.txt", "manifest-sha512.txt is larger than in any packet"),
        ("tagmanifest-sha256.txt", "tagmanifest-sha256.txt is larger than in any packet"),
        ("tagmanifest-sha512.txt", "tagmanifest-sha512.txt is larger than in any packet"),
    ] {
        let before = fs::read(packet.join(path)).ok();
        grown(path, LONG);
        let (report, long) = spent(|| verify::verify(&packet, &Desk::default()));
        let told: Vec<String> = report.seal.damage.iter().map(ToString::to_string).collect();
        assert!(told.iter().any(|one| one.contains(wanted)), "{path}: {told:?}");
        assert!(!report.is_sealed() && long < PATIENCE, "{path}: {long:?}");
        match before {
            Some(bytes) => fs::write(packet.join(path), bytes).expect("written"),
            None => fs::remove_file(packet.join(path)).expect("removed"),
        }
    }
    assert!(verify::verify(&packet, &Desk::default()).is_sealed());
    // The packet that a correction replaces, and what waits for ever.
    let request = fs::read_to_string(packet.join("data/request.json")).expect("request.json");
    let replaces = "\"replaces\": {\"packet\": \"HH-0102-2025\", \"digest\": \"x\", \"because\": \"y\"}";
    fs::write(packet.join("data/request.json"), request.replace("\"replaces\": null", replaces))
        .expect("written");
    let other = packet.with_file_name("HH-0102-2025");
    fs::create_dir(&other).expect("made");
    let list = other.join("tagmanifest-sha256.txt");
    fs::File::create(&list).expect("made").set_len(LONG).expect("a long file of nothing");
    let (code, told) = verified(&packet, &[]);
    assert!(code == Some(3) && told.contains("HH-0102-2025 beside it is not the packet"), "{told}");
    fs::remove_file(&list).expect("removed");
    for waiting in [&list, &packet.join("data/waits"), &packet.with_file_name("HH-0102-2026.seal.pdf")] {
        let made = std::process::Command::new("mkfifo").arg(waiting).status().expect("mkfifo runs");
        assert!(made.success());
        assert_eq!(verified(&packet, &[]).0, Some(3));
    }
}

/// Many files, and names as long as they go.
#[test]
fn more_files_than_any_packet_has_are_not_looked_through() {
    let scratch = Scratch::new("hostile-many");
    let packet = one(&scratch, "HH-0101-2026");
    let deep = packet.join("data").join("a/".repeat(60));
    fs::create_dir_all(&deep).expect("made");
    let report = verify::verify(&packet, &Desk::default());
    assert!(report.seal.damage.contains(&bag::Damage::TooMuch), "{:?}", report.seal.damage);
    for n in 0..25_000 {
        fs::create_dir_all(packet.join(format!("data/many/{}", n / 5_000))).expect("made");
        fs::write(packet.join(format!("data/many/{}/{n}", n / 5_000)), "").expect("written");
    }
    let (report, long) = spent(|| verify::verify(&packet, &Desk::default()));
    assert!(
        report.seal.damage.contains(&bag::Damage::TooMuch) && !report.is_sealed(),
        "{:?}",
        report.seal.damage
    );
    assert!(long < PATIENCE, "{long:?}");
    // What cannot be verified is not sealed either.
    let refused = |fill: &dyn Fn(&mut Packet)| {
        let mut packet = Packet::new(gablework::name::FileName::new("HH-1-2025").expect("a name"));
        fill(&mut packet);
        bag::seal(&mut packet, &bag::Info::default(), &BTreeMap::new()).expect_err("refused").reason
    };
    let told = refused(&|packet| (0..5_000).for_each(|n| packet.add(format!("data/{n}"), "")));
    assert!(told.contains("5,006 files of 0 bytes; 5,000 of 200,000,000"), "{told}");
    let told = refused(&|packet| packet.add(format!("data/{}", "a/".repeat(50) + "b"), ""));
    assert!(told.contains("longer than any path"), "{told}");
    let told = refused(&|packet| packet.add("data/large", vec![0; 200_000_001]));
    assert!(told.contains("7 files of 200,000,001 bytes"), "{told}");
}

/// The memory that README names is enough for the worst there is. What is limited here are addresses, of which each
/// thread takes more than it uses.
#[cfg(target_os = "linux")]
#[test]
fn memory_stays_within_its_bound() {
    let scratch = Scratch::new("hostile-memory");
    let name = "HH-0102-2026";
    let good = payload(&demo().join(name));
    let info = description(&demo().join(name));
    let lines = |one: &str, times: usize| format!("{{\"lines\": [{}0]}}", one.repeat(times)).into_bytes();
    let size = good["figures.json"].len() * 4 + 900_000;
    for (path, bytes) in [
        ("figures.json", lines("{},", 16_000_000)),
        ("figures.json", lines("{},", size / 3)),
        ("figures.json", lines("{\"line\": \"1\", \"of\": \"2\"},", size / 27)),
        ("figures.csv", b",".repeat(size)),
        ("law/2025.yaml", b"- ".repeat(450_000)),
        ("request.json", lines("{},", 300_000)),
    ] {
        let mut bad = good.clone();
        bad.insert(path.to_string(), bytes);
        let place = sealed(&scratch, name, &info, &bad);
        let command = format!(
            "ulimit -v 600000; exec {} verify {} --no-log",
            env!("CARGO_BIN_EXE_gablework"),
            text(&place)
        );
        let output = std::process::Command::new("sh").args(["-c", &command]).output().expect("sh runs");
        assert_eq!(output.status.code(), Some(3), "{path}: {}", said(&output));
    }
}

/// Nothing that a packet holds turns a line of the terminal, hides, or fills it.
#[test]
fn what_a_packet_says_of_itself_reaches_the_terminal_harmless() {
    let scratch = Scratch::new("hostile-words-shown");
    let bad = "\u{1b}[2J\u{202e}\u{9b}31m";
    let escaped = bad.replace('\u{1b}', "\\u001b");
    for (path, from, to) in [
        ("request.json", "\"version\": \"0.1.0\"".to_string(), format!("\"version\": \"{escaped}\"")),
        (
            "request.json",
            "\"replaces\": null".to_string(),
            format!(
                "\"replaces\": {{\"packet\": \"{escaped}\", \"digest\": \"{escaped}\", \"because\": \"{escaped}\"}}"
            ),
        ),
        ("request.json", "\"year\": 2026".to_string(), format!("\"year\": \"{escaped}\"")),
        ("figures.json", "\"label\": \"".to_string(), format!("\"label\": \"{escaped}")),
        ("figures.json", "\"format\"".to_string(), format!("\"{escaped}\": 1, \"{escaped}\"")),
        ("figures.csv", "line".to_string(), bad.to_string()),
        ("law/2025.yaml", "edition:".to_string(), format!("{bad}x{}: x\nedition:", "y".repeat(900_000))),
        ("law/2025.yaml", "edition: ".to_string(), "edition: \u{202e}".to_string()),
        ("layouts/worksheet.yaml", "kit:".to_string(), format!("\"{escaped}\": 1\nkit:")),
        ("solar-and-battery.case.yaml", "format: 1".to_string(), format!("format: 1\n{bad}: 2")),
    ] {
        let name = "HH-0102-2026";
        let mut all = payload(&demo().join(name));
        let before = String::from_utf8(all[path].clone()).expect("text");
        assert!(before.contains(&from), "{path}: {from}");
        all.insert(path.to_string(), before.replacen(&from, &to, 1).into_bytes());
        let info = description(&demo().join(name));
        let place = sealed(&scratch, name, &info, &all);
        let (_, told) = verified(&place, &[]);
        let shown = |c: char| c != '\n' && c.is_control() || c == '\u{202e}';
        assert!(
            !told.contains(shown) && told.lines().all(|line| line.len() < 2_000),
            "{path}, {to:.60}: {told:.3000}"
        );
    }
    let odd = scratch.0.join("a\u{1b}[2J\u{202e}");
    fs::rename(scratch.0.join("HH-0102-2026"), &odd).expect("renamed");
    let (_, told) = verified(&odd, &[]);
    assert!(!told.contains(['\u{1b}', '\u{202e}']), "{told}");
}
