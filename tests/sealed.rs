//! Sealed packets: the seal as we and as an outside program see it, what the README in a packet says, corrections.
//!
//! The outside program is `bagit.py` from the Python index (BagIt, RFC 8493). As it is no program of a system's own, it is
//! asked only where `GABLEWORK_CHECKERS` names the folder it lies in, as `.ci/run` does; there it must be.

use crate::support::chance::Chance;
use crate::support::files::{copy, paths};
use crate::support::program::{root, run, said, text};
use crate::support::scratch::Scratch;
use gablework::assemble;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::name::FileName;
use gablework::packet::write::{self, Readers};
use gablework::packet::{Packet, bag, slip};
use gablework::sheet;
use gablework::verify::{self, Desk, Figures};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The packets of all demo households, made once for all tests and only read by them.
pub fn demo() -> &'static Path {
    static DEMO: OnceLock<PathBuf> = OnceLock::new();
    DEMO.get_or_init(|| {
        let shelf = Path::new(env!("CARGO_TARGET_TMPDIR"));
        for entry in fs::read_dir(shelf).into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let old = name
                .strip_prefix("sealed-")
                .is_some_and(|process| !Path::new("/proc").join(process).exists());
            if old {
                let _ = fs::remove_dir_all(entry.path());
            }
        }
        let folder = shelf.join(format!("sealed-{}", std::process::id()));
        let made = run(root(), &["packet", "demo", "--out", text(&folder), "--dated", "2026-11-25"]);
        assert_eq!(made.status.code(), Some(0), "{}", said(&made));
        folder
    })
}

/// The packets of the demo households.
fn packets() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> =
        fs::read_dir(demo()).expect("a folder").map(|entry| entry.expect("an entry").path()).collect();
    found.retain(|path| path.is_dir());
    found.sort();
    assert!(found.len() >= 10, "{} packets", found.len());
    found
}

/// A copy of the packet of a demo household, to be altered.
pub fn one(scratch: &Scratch, name: &str) -> PathBuf {
    let place = scratch.0.join(name);
    copy(&demo().join(name), &place);
    place
}

fn told(folder: &Path) -> Vec<String> {
    bag::check(folder).damage.iter().map(ToString::to_string).collect()
}

/// Says whether the outside program finds a bag valid; none where it is not to be asked.
fn outside(bag: &Path) -> Option<bool> {
    let folder = PathBuf::from(std::env::var_os("GABLEWORK_CHECKERS")?);
    let program = folder.join("bagit.py");
    let asked = Command::new(&program).arg("--validate").arg("--quiet").arg(bag).output();
    let asked = asked.unwrap_or_else(|error| panic!("{} does not run: {error}", program.display()));
    let told = said(&asked);
    match asked.status.code() {
        Some(0) => Some(true),
        Some(1) => Some(false),
        _ => panic!("{told}"),
    }
}

#[test]
fn the_packet_of_every_demo_household_is_a_bag_for_us_and_for_others() {
    for packet in packets() {
        let checked = bag::check(&packet);
        assert!(checked.is_intact(), "{}: {:?}", packet.display(), told(&packet));
        assert!(checked.payload.len() > 15, "{}", packet.display());
        assert_ne!(outside(&packet), Some(false), "{}", packet.display());
    }
}

/// Each file altered in its first, its last and some other byte, cut, emptied, lengthened, renamed and removed; files
/// added: we see all of it. The outside program is asked about a part, because it starts slowly, and about what it
/// can see: not a tag manifest that is gone, nor other blanks or letters of digits in one, nor a file beside `data`.
#[test]
fn whatever_is_done_to_a_packet_we_and_others_see_it() {
    let scratch = Scratch::new("altered");
    let packet = one(&scratch, "HH-0103-2025");
    let mut thrown = Chance(20_261_127);
    let mut tried = 0;
    let mut asked = 0;
    let mut see = |what: String, visible: bool, ask: bool| {
        assert!(!bag::check(&packet).is_intact(), "{what}");
        tried += 1;
        if visible
            && ask
            && outside(&packet).is_some_and(|valid| {
                asked += 1;
                valid
            })
        {
            panic!("the outside program does not see it: {what}");
        }
    };
    for (n, name) in paths(&packet).iter().enumerate() {
        let file = packet.join(name);
        let good = fs::read(&file).expect("a file");
        let of_tags = name.starts_with("tagmanifest-");
        let mut places = vec![0, good.len() / 2, good.len() - 1, thrown.below(good.len())];
        places.dedup();
        for (k, at) in places.into_iter().enumerate() {
            let mut bad = good.clone();
            bad[at] ^= 1 << thrown.below(8);
            fs::write(&file, &bad).expect("written");
            // A digit of a digest in capitals, or another blank, means the same to others.
            let same =
                bad[at].eq_ignore_ascii_case(&good[at]) || bad[at].is_ascii_whitespace() || bad[at] == 11;
            let visible = !of_tags || !(same || good[at].is_ascii_whitespace());
            see(format!("{name}, byte {at}"), visible, k == n % 4);
        }
        for bad in [&good[..good.len() - 1], &[], &[&good[..], b"\n"].concat()] {
            fs::write(&file, bad).expect("written");
            see(
                format!("{name}, {} bytes of {}", bad.len(), good.len()),
                !of_tags,
                bad.is_empty() && n % 3 == 0,
            );
        }
        fs::remove_file(&file).expect("removed");
        see(format!("{name} removed"), !of_tags, n % 3 == 1);
        let aside = packet.join(format!("{name}.old"));
        fs::write(&aside, &good).expect("written");
        see(format!("{name} renamed"), !of_tags, n % 3 == 2);
        fs::rename(&aside, &file).expect("renamed");
    }
    for name in ["data/more.txt", "data/papers/.DS_Store", "note.txt"] {
        let file = packet.join(name);
        fs::create_dir_all(file.parent().expect("a folder")).expect("made");
        fs::write(&file, "").expect("written");
        see(format!("{name} added"), name.starts_with("data/"), true);
        fs::remove_file(&file).expect("removed");
    }
    assert!(tried > 200, "{tried}");
    assert!(std::env::var_os("GABLEWORK_CHECKERS").is_none() || asked > 30, "{asked}");
    let _ = fs::remove_dir(packet.join("data/papers"));
    assert_eq!(told(&packet), Vec::<String>::new());
}

/// The commands that the packet's README gives for checking by hand do what it says.
#[cfg(target_os = "linux")]
#[test]
fn the_seal_can_be_checked_by_hand_as_the_packet_says() {
    let packet = demo().join("HH-0101-2026");
    let readme = fs::read_to_string(packet.join("data/README.txt")).expect("README.txt");
    let commands: Vec<&str> = readme.lines().filter_map(|line| line.strip_prefix("    sha256sum ")).collect();
    assert_eq!(commands.len(), 3, "{readme}");
    for command in &commands {
        let arguments: Vec<&str> = command.split(' ').collect();
        let checked =
            Command::new("sha256sum").args(&arguments).current_dir(&packet).output().expect("sha256sum runs");
        let told = said(&checked);
        assert!(checked.status.success(), "sha256sum {command}: {told}");
        match arguments.as_slice() {
            ["-c", list] => {
                let lines = fs::read_to_string(packet.join(list)).expect("a list").lines().count();
                assert_eq!(told.lines().filter(|line| line.ends_with(": OK")).count(), lines, "{told}");
            }
            _ => assert_eq!(told.split(' ').next(), bag::digest(&packet).ok().as_deref(), "{told}"),
        }
    }
    // Every file and folder it names is there, and every one that is there is named.
    for name in paths(&packet.join("data")) {
        let first = name.split_inclusive('/').next().expect("a part");
        let named = readme.lines().any(|line| line.starts_with(&format!("  {first} ")));
        assert!(named || ["README.txt", "logo.png"].contains(&first), "{first} is not explained");
    }
}

/// Elements of RFC 8493, section 2.2.2, and no name of a person or street.
#[test]
fn the_description_is_of_the_standard_and_names_nobody() {
    const RESERVED: [&str; 14] = [
        "Source-Organization",
        "Organization-Address",
        "Contact-Name",
        "Contact-Phone",
        "Contact-Email",
        "External-Description",
        "Bagging-Date",
        "External-Identifier",
        "Bag-Size",
        "Payload-Oxum",
        "Bag-Group-Identifier",
        "Bag-Count",
        "Internal-Sender-Identifier",
        "Internal-Sender-Description",
    ];
    for packet in packets() {
        let info = fs::read_to_string(packet.join("bag-info.txt")).expect("bag-info.txt");
        let elements = info.lines().filter(|line| !line.starts_with(' '));
        for line in elements {
            let (label, _) = line.split_once(": ").expect("an element");
            assert!(RESERVED.contains(&label), "{line}");
        }
        let name = packet.file_name().expect("a name").to_string_lossy();
        assert!(info.contains(&format!("\nExternal-Identifier: {name}\n")), "{info}");
        assert!(info.contains("\nBagging-Date: 2026-11-25\n"), "{info}");
        assert!(info.contains("\nInternal-Sender-Description: Keep"), "{info}");
        let case = paths(&packet.join("data"))
            .into_iter()
            .find(|name| name.ends_with(".case.yaml"))
            .expect("a case");
        let case = fs::read_to_string(packet.join("data").join(case)).expect("the case");
        for line in case.lines().filter(|line| line.contains("name:") || line.contains("street:")) {
            for value in
                line.split(['{', '}', ',', ':', '[', ']']).map(str::trim).filter(|value| value.len() > 6)
            {
                let own = value.chars().next().is_some_and(char::is_uppercase);
                assert!(!own || !info.contains(value), "{value} in {info}");
            }
        }
    }
}

#[test]
fn a_packet_says_nothing_of_the_folders_it_was_made_in() {
    let scratch = Scratch::new("folders");
    let case = scratch.0.join("somewhere").join("solar-water-heater.case.yaml");
    copy(Path::new("demo"), case.parent().expect("a folder"));
    let made =
        run(root(), &["packet", text(&case), "--out", text(&scratch.0.join("out")), "--dated", "2026-11-25"]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let (here, there) = (scratch.0.join("out/HH-0101-2026"), demo().join("HH-0101-2026"));
    assert_eq!(paths(&here), paths(&there));
    for name in paths(&here) {
        assert!(fs::read(here.join(&name)).ok() == fs::read(there.join(&name)).ok(), "{name} differs");
    }
}

#[test]
fn names_that_clash_in_a_packet_are_refused_with_words() {
    let scratch = Scratch::new("clash");
    let good = fs::read_to_string("demo/solar-water-heater.case.yaml").expect("the demo case");
    let case = scratch.0.join("clash.case.yaml");
    fs::create_dir_all(scratch.0.join("papers")).expect("made");
    for name in ["papers/INV-118.txt", "papers/inv-118.txt", "papers/award-7.txt"] {
        fs::write(scratch.0.join(name), name).expect("written");
    }
    let bad = good.replace("file: papers/award-7.txt", "file: papers/INV-118.txt");
    assert_ne!(good, bad);
    fs::write(&case, bad).expect("written");
    let out = scratch.0.join("out");
    let made = run(root(), &["packet", text(&case), "--out", text(&out), "--dated", "2026-11-25"]);
    assert_eq!(made.status.code(), Some(1), "{}", said(&made));
    assert!(said(&made).contains("two files of the packet would have one name"), "{}", said(&made));
    assert!(!out.exists(), "nothing is written");
}

#[test]
fn a_correction_names_what_it_replaces_by_its_digest() {
    let scratch = Scratch::new("correction");
    let out = text(&scratch.0).to_string();
    let case = "demo/solar-water-heater.case.yaml";
    let packet = |more: &[&str]| {
        let mut arguments = vec!["packet", case, "--out", &out, "--dated", "2026-11-25", "--year", "2024"];
        arguments.extend(more);
        run(root(), &arguments)
    };
    let made = packet(&[]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let first = scratch.0.join("HH-0101-2024");
    let digest = bag::digest(&first).expect("a digest");
    let correct = |old: &str| packet(&["--replaces", old, "--because", "the rebate\n of  July"]);
    let made = correct("HH-0101-2024");
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let second = scratch.0.join("HH-0101-2024-r2");
    assert_eq!(told(&second), Vec::<String>::new());
    for name in ["bag-info.txt", "data/README.txt"] {
        let words = fs::read_to_string(second.join(name)).expect("a file");
        let words: String = words.split_whitespace().collect::<Vec<&str>>().join(" ");
        for wanted in ["Replaces HH-0101-2024", &digest, "the rebate of July"] {
            assert!(words.contains(wanted), "{name}: {words}");
        }
    }
    let request = fs::read(second.join("data/request.json")).expect("request.json");
    let request: serde_json::Value = serde_json::from_slice(&request).expect("JSON");
    assert_eq!(request["replaces"]["digest"], digest.as_str());
    // Only the latest can be replaced, only a sealed one, only one of this client and year.
    for (old, code, wanted) in [
        ("HH-0101-2024", 2, "is replaced by `HH-0101-2024-r2` already"),
        ("HH-0101-2023", 2, "there is no packet `HH-0101-2023`"),
        ("../HH-0101-2024", 2, "there is no packet"),
    ] {
        let made = packet(&["--replaces", old, "--because", "another reason"]);
        assert_eq!(made.status.code(), Some(code), "{}", said(&made));
        assert!(said(&made).contains(wanted), "{}", said(&made));
    }
    let made = correct("HH-0101-2024-r2");
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    assert!(scratch.0.join("HH-0101-2024-r3").is_dir());
    fs::write(scratch.0.join("HH-0101-2024-r3/data/letters/more.pdf"), "more").expect("written");
    let made = correct("HH-0101-2024-r3");
    assert_eq!(made.status.code(), Some(3), "{}", said(&made));
    assert!(said(&made).contains("data/letters/more.pdf was added"), "{}", said(&made));
    assert!(!scratch.0.join("HH-0101-2024-r4").exists());
}

// ---- verify ----

/// Runs `verify` without a log.
pub fn verified(packet: &Path, more: &[&str]) -> (Option<i32>, String) {
    let output = run(root(), &[&["verify", text(packet), "--no-log"][..], more].concat());
    (output.status.code(), said(&output))
}

fn json(packet: &Path) -> Value {
    let output = run(root(), &["verify", text(packet), "--no-log", "--as", "json"]);
    let value: Value =
        serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {}", said(&output)));
    value["packets"][0].clone()
}

/// Changes a file of a packet and seals the packet anew, as a forger does who has everything but the slip.
pub fn forge(packet: &Path, changes: &[(&str, &dyn Fn(String) -> String)]) {
    let mut forged =
        Packet::new(FileName::new(packet.file_name().expect("a name").to_string_lossy()).expect("a name"));
    for name in paths(&packet.join("data")) {
        let mut bytes = fs::read(packet.join("data").join(&name)).expect("a file");
        for (_, change) in changes.iter().filter(|(of, _)| *of == name) {
            let before = String::from_utf8(bytes.clone()).expect("text");
            let after = change(before.clone());
            assert_ne!(before, after, "{name} is not changed");
            bytes = after.into_bytes();
        }
        forged.add(format!("data/{name}"), bytes);
    }
    bag::seal(&mut forged, &description(packet), &BTreeMap::new()).expect("sealed");
    fs::remove_dir_all(packet).expect("removed");
    write::put(packet.parent().expect("a folder"), &forged, Readers::Owner).expect("written");
    assert_eq!(told(packet), Vec::<String>::new());
}

/// What a packet says of itself, without its size.
pub fn description(packet: &Path) -> bag::Info {
    const LABELS: [&str; 5] = [
        "External-Description",
        "Bagging-Date",
        "External-Identifier",
        "Internal-Sender-Identifier",
        "Internal-Sender-Description",
    ];
    let text = fs::read_to_string(packet.join("bag-info.txt")).expect("bag-info.txt").replace("\n ", " ");
    let elements = text.lines().filter_map(|line| {
        let (label, value) = line.split_once(": ").expect("an element");
        Some((*LABELS.iter().find(|one| **one == label)?, value.to_string()))
    });
    bag::Info(elements.collect())
}

/// Replaces a fingerprint in `request.json`.
fn request_names(key: &'static str, digest: String) -> impl Fn(String) -> String {
    move |request: String| {
        let mut request: Value = serde_json::from_str(&request).expect("JSON");
        request[key] = Value::String(digest.clone());
        format!("{request:#}")
    }
}

#[test]
fn every_demo_packet_verifies() {
    let (code, told) = verified(demo(), &[]);
    assert_eq!(code, Some(0), "{told}");
    for packet in packets() {
        let name = packet.file_name().expect("a name").to_string_lossy().into_owned();
        let line = told.lines().find(|line| line.starts_with(&name)).expect("a line");
        let words: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(words[1..], ["intact", "agree", "identical"], "{line}");
    }
    assert!(told.contains("10 packets: 10 verified\n"), "{told}");
    let one = packets().remove(0);
    let (code, told) = verified(&one, &[]);
    assert_eq!(code, Some(0), "{told}");
    for groups in bag::groups(&bag::digest(&one).expect("a digest")) {
        assert!(told.contains(&groups.join(" ")), "{told}");
    }
    assert!(told.contains("the slip beside the packet is its own"), "{told}");
    assert!(!demo().join("verified.txt").exists() && !one.join("verified.txt").exists());
    let output = run(root(), &["verify", text(demo()), "--no-log", "--as", "json"]);
    let all: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(all["counts"]["verified"], 10);
    assert!(
        all["packets"].as_array().expect("packets").iter().all(|one| one["today"] == serde_json::json!([]))
    );
}

/// The firm's own letters and layout, other forms of letters, and Spanish: all is drawn again from the packet.
#[test]
fn a_packet_of_the_firms_own_making_verifies() {
    let scratch = Scratch::new("own");
    let kit = scratch.0.join("kit");
    assert!(run(root(), &["kit", text(&kit)]).status.success());
    for (name, from, to) in [
        ("letters/en/results.md", "## What to do", "## Next steps"),
        ("layouts/worksheet.yaml", "Summary for {year}", "In short, {year}"),
    ] {
        let good = fs::read_to_string(kit.join(name)).expect("a file");
        assert!(good.contains(from), "{name}");
        fs::write(kit.join(name), good.replace(from, to)).expect("written");
    }
    let out = scratch.0.join("out");
    for case in ["demo/retired-couple.case.yaml", "demo/year-of-improvements.case.yaml"] {
        let arguments = ["packet", case, "--out", text(&out), "--dated", "2026-11-25", "--kit", text(&kit)];
        let made = run(root(), &[&arguments[..], &["--also", "html,docx,xlsx"]].concat());
        assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    }
    // Somebody opens the folder elsewhere, under another name.
    fs::rename(out.join("HH-0109-2026"), out.join("copy of it")).expect("renamed");
    let (code, told) = verified(&out, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert_eq!(told.matches("identical").count(), 2, "{told}");
    assert!(out.join("copy of it/data/letters/results.docx").exists());
}

#[test]
fn a_broken_seal_is_told_and_ends_with_its_own_code() {
    let scratch = Scratch::new("broken");
    let packet = one(&scratch, "HH-0101-2026");
    let letter = packet.join("data/letters/results.pdf");
    let good = fs::read(&letter).expect("a letter");
    fs::write(&letter, [&good[..], b" "].concat()).expect("written");
    fs::write(packet.join("data/note.txt"), "x").expect("written");
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    for wanted in [
        "seal      BROKEN",
        "figures   agree",
        "data/letters/results.pdf was altered",
        "data/note.txt was added",
        "the seal does not hold",
        "THE PAGES ARE NOT THOSE",
    ] {
        assert!(told.contains(wanted), "{wanted}: {told}");
    }
    // Without the request nothing can be computed again, and that is no pass either.
    fs::remove_file(packet.join("data/request.json")).expect("removed");
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("NOT COMPARED  data/request.json is missing"), "{told}");
    assert!(told.contains("the figures could not be compared with what is sealed"), "{told}");
    assert!(!told.contains("do not follow"), "{told}");
    let (_, told) = verified(packet.parent().expect("the folder of packets"), &[]);
    assert!(told.contains("1 with a broken seal, 1 with figures that could not be compared"), "{told}");
    // A seal taken away altogether does not make it something else.
    for name in ["bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"] {
        fs::remove_file(packet.join(name)).expect("removed");
    }
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("bagit.txt is missing"), "{told}");
}

#[test]
fn a_figure_altered_by_a_forger_is_found() {
    let scratch = Scratch::new("figure");
    let packet = one(&scratch, "HH-0101-2026");
    let figures = fs::read_to_string(packet.join("data/figures.json")).expect("figures.json");
    let table = fs::read_to_string(packet.join("data/figures.csv")).expect("figures.csv");
    let row = table.lines().find(|row| row.starts_with("440,")).expect("line 440");
    let value = row.split(',').nth(4).expect("a value");
    let more = "9,999.00".replace(',', "");
    let at = figures.find("\"line\": \"440\"").expect("line 440");
    let field = format!("\"value\": \"{value}\"");
    let from = at + figures[at..].find(&field).expect("its value");
    let forged = format!("{}\"value\": \"{more}\"{}", &figures[..from], &figures[from + field.len()..]);
    let digest = gablework::packet::fingerprint(forged.as_bytes());
    forge(
        &packet,
        &[
            ("figures.json", &|_| forged.clone()),
            ("figures.csv", &|table| table.replace(row, &row.replacen(value, &more, 1))),
            ("request.json", &request_names("figures_fingerprint", digest.clone())),
        ],
    );
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("seal      intact") && told.contains("figures   DIFFER"), "{told}");
    assert!(told.contains(&format!("sealed {more}, computed again {value}")), "{told}");
    let report = json(&packet);
    assert_eq!(report["figures"]["differences"][0]["place"], "440");
    assert_eq!(report["figures"]["differences"][0]["sealed"], more.as_str());
    // The slip, where it lies beside, knows the packet as it was.
    let kept = demo().join("HH-0101-2026.seal.pdf");
    fs::copy(&kept, scratch.0.join("HH-0101-2026.seal.pdf")).expect("copied");
    let (_, told) = verified(&packet, &[]);
    assert!(
        told.contains("seal      BROKEN") && told.contains("THE SLIP BESIDE THE PACKET NAMES OTHERS"),
        "{told}"
    );
}

#[test]
fn anything_else_altered_in_the_figures_is_found() {
    let scratch = Scratch::new("else");
    let name = "HH-0104-2025";
    for (file, change, wanted) in [
        ("figures.csv", ("money", "yes_no"), None),
        ("figures.json", ("\"counts\": true", "\"counts\": false"), Some("the value is right, and `")),
        (
            "figures.json",
            ("\"findings\": [", "\"findings\": [{}, "),
            Some("`findings` is not what the program writes"),
        ),
        (
            "figures.json",
            ("\"year\": 2025,\n", "\"year\": 2024,\n"),
            Some("says `year` is 2024, and it is 2025"),
        ),
        ("figures.json", ("{", "["), Some("is no JSON")),
        ("law/2025.yaml", ("year: 2025", "year: 2x25"), Some("the sealed law cannot be read")),
    ] {
        let packet = one(&scratch, name);
        let text = fs::read_to_string(packet.join("data").join(file))
            .expect("a file")
            .replacen(change.0, change.1, 1);
        let digest = gablework::packet::fingerprint(text.as_bytes());
        let mut changes: Vec<(&str, &dyn Fn(String) -> String)> = Vec::new();
        let whole = |_: String| text.clone();
        changes.push((file, &whole));
        let names = request_names("figures_fingerprint", digest);
        if file == "figures.json" {
            changes.push(("request.json", &names));
        }
        forge(&packet, &changes);
        let (code, told) = verified(&packet, &[]);
        if let Some(wanted) = wanted {
            assert_eq!(code, Some(3), "{file}: {told}");
            assert!(told.contains(wanted), "{wanted}: {told}");
        }
        fs::remove_dir_all(&packet).expect("removed");
    }
    // A value in the table alone.
    let packet = one(&scratch, name);
    let table = fs::read_to_string(packet.join("data/figures.csv")).expect("figures.csv");
    let row = table.lines().find(|row| row.starts_with("440,")).expect("line 440").to_string();
    let value = row.split(',').nth(4).expect("a value").to_string();
    forge(&packet, &[("figures.csv", &|table| table.replace(&row, &row.replacen(&value, "1.00", 1)))]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains(&format!("figures.csv, line 440 says 1.00, and figures.json {value}")), "{told}");
}

/// The law as sealed decides. Altered alone, the sealed figures no longer follow from it. Where figures and pages follow
/// from it, today's law giving others is a note.
#[test]
fn the_sealed_law_decides_and_todays_law_is_a_note() {
    let scratch = Scratch::new("law");
    let packet = one(&scratch, "HH-0110-2025");
    let files = paths(&packet.join("data/law"));
    let mut texts: Vec<(String, String)> = files
        .iter()
        .map(|name| {
            (format!("law/{name}"), fs::read_to_string(packet.join("data/law").join(name)).expect("law"))
        })
        .collect();
    let (place, changed) = texts
        .iter()
        .rev()
        .find_map(|(name, text)| {
            let at = text.find("clean.rate:")?;
            let rate = at + text[at..].find("30%")?;
            Some((name.clone(), format!("{}26%{}", &text[..rate], &text[rate + 3..])))
        })
        .expect("the rate of the credit");
    let inside = place.clone();
    forge(&packet, &[(&inside, &|_| changed.clone())]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("seal      intact") && told.contains("figures   DIFFER"), "{told}");

    // Now figures that follow from that law, as if it had been the law of the day.
    texts.iter_mut().filter(|(name, _)| *name == place).for_each(|(_, text)| text.clone_from(&changed));
    let named: Vec<(&str, &str)> = texts.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let law = Law::from_files(&named).expect("law");
    let case = fs::read(packet.join("data/condominium.case.yaml")).expect("the case");
    let computed =
        assemble::compute("condominium.case.yaml", &case, &law, Sources::default()).expect("no fault");
    let year = gablework::case::TaxYear(2025);
    let data = sheet::json::figures(
        computed.case.as_ref().expect("a case"),
        year,
        &law,
        &computed.outcome,
        &computed.sources,
    );
    let data = format!("{data:#}");
    let digest = gablework::packet::fingerprint(data.as_bytes());
    forge(
        &packet,
        &[
            ("figures.json", &|_| data.clone()),
            ("figures.csv", &|_| sheet::data::figures_csv(year, &computed.outcome)),
            ("request.json", &request_names("figures_fingerprint", digest.clone())),
        ],
    );
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("figures   agree") && told.contains("pages     DIFFER"), "{told}");
    assert!(told.contains("note: the law as this program knows it today gives"), "{told}");
    assert!(told.contains("note: line 411"), "{told}");
    assert!(told.contains("is not the one this program has, although both are of edition"), "{told}");
    assert!(told.contains("warning: HH-0110-2025: THE PAGES ARE NOT THOSE"), "{told}");
    assert!(!json(&packet)["today"].as_array().expect("a list").is_empty());
}

/// A packet that was sealed with law of the format before numbers is compared like any other; one with law of a format
/// to come is not, and says why.
#[test]
fn a_packet_with_law_of_another_format_is_told_rightly() {
    let scratch = Scratch::new("old-law");
    let packet = one(&scratch, "HH-0101-2026");
    let old = |year: &str| {
        let path = root().join("tests/old-law").join(format!("{year}.yaml"));
        let text = fs::read_to_string(path).expect("a file of law");
        move |_: String| text.clone()
    };
    forge(&packet, &[("law/2024.yaml", &old("2024")), ("law/2026.yaml", &old("2026"))]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("figures   agree"), "{told}");

    forge(&packet, &[("law/2026.yaml", &|law| law.replacen("\nyear: ", "\nformat: 3\nyear: ", 1))]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("figures   NOT COMPARED"), "{told}");
    assert!(told.contains("this law file has format 3, and this version reads formats 1 to 2"), "{told}");
}

/// A packet of another version: values count, not how they are written; pages are not held against it.
#[test]
fn a_packet_of_another_version_is_compared_by_its_values() {
    let scratch = Scratch::new("version");
    let packet = one(&scratch, "HH-0101-2026");
    let figures = fs::read_to_string(packet.join("data/figures.json")).expect("figures.json");
    let mut older: Value = serde_json::from_str(&figures).expect("JSON");
    // It wrote fewer keys, another expression, one line less, and later ones may write keys unknown here.
    let lines = older["lines"].as_array_mut().expect("lines");
    lines.retain(|line| line["line"] != "709");
    lines[0]["how"] = Value::String("in other words".to_string());
    lines[0]["expr"] = serde_json::json!({"sum": []});
    lines[1].as_object_mut().expect("a line").remove("rulings");
    lines[2]["new_key"] = Value::Bool(true);
    older["findings"] = serde_json::json!([]);
    let older = format!("{older:#}");
    let digest = gablework::packet::fingerprint(older.as_bytes());
    let table = |table: String| {
        table
            .lines()
            .filter(|row| !row.starts_with("709,"))
            .map(|row| format!("{row}\r\n"))
            .collect::<String>()
    };
    // Of another day, so that its pages are others too.
    let version = |request: String| {
        let version = format!("\"version\": \"{}\"", env!("CARGO_PKG_VERSION"));
        request
            .replace(&version, "\"version\": \"0.0.9\"")
            .replace("2026-11-25\",\n  \"draft", "2026-11-24\",\n  \"draft")
    };
    forge(
        &packet,
        &[
            ("figures.json", &|_| older.clone()),
            ("figures.csv", &table),
            ("request.json", &version),
            ("request.json", &request_names("figures_fingerprint", digest.clone())),
        ],
    );
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("figures   agree"), "{told}");
    assert!(told.contains("not compared  made by gablework 0.0.9; this is another program"), "{told}");
    assert!(told.contains("note: this version has lines that the packet does not have: 709"), "{told}");
    assert!(told.contains("note: 1 line comes about in another way"), "{told}");
    // A format of the future is not guessed at.
    forge(&packet, &[("request.json", &|request| request.replacen("\"format\": 1", "\"format\": 2", 1))]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("has format 2, which this version of the program does not know"), "{told}");
}

#[test]
fn the_digits_of_the_slip_can_be_given() {
    let packet = demo().join("HH-0101-2026");
    let digest = bag::digest(&packet).expect("a digest");
    let rows: Vec<String> = bag::groups(&digest).iter().map(|row| row.join(" ")).collect();
    let all = rows.join("  ").to_uppercase();
    assert_eq!(verified(&packet, &["--digest", &all]).0, Some(0));
    let (code, told) = verified(&packet, &["--digest", &rows[0]]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("the digits given are these"), "{told}");
    // Two digits exchanged in the second group: a slip of typing, and no word of a broken seal.
    let wrong = format!("{}{}", &digest[..4], digest[4..8].chars().rev().collect::<String>());
    let (code, told) = verified(&packet, &["--digest", &format!("{wrong}{}", &digest[8..])]);
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("the digits given differ in row 1, group 2"), "{told}");
    assert!(!told.contains("BROKEN") && !told.contains("does not hold"), "{told}");
    let (code, told) = verified(&packet, &["--digest", &rows[1]]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("THE DIGITS GIVEN ARE NOT THESE"), "{told}");
    assert_eq!(verified(&packet, &["--digest", "12ab"]).0, Some(2));
    assert_eq!(verified(demo(), &["--digest", &all]).0, Some(2));
    // The slip on paper names the same digits, in the same rows.
    let slip = packet.with_file_name(slip::file_name("HH-0101-2026"));
    let read = Command::new("pdftotext")
        .args(["-layout", text(&slip), "-"])
        .output()
        .expect("pdftotext of poppler-utils runs");
    let words: String = said(&read).split_whitespace().collect::<Vec<&str>>().join(" ");
    for (n, row) in rows.iter().enumerate() {
        assert!(words.contains(&format!("{} {row}", n + 1)), "{words}");
    }
    assert!(words.contains("Page 1 of 1"), "{words}");
    assert_eq!(slip::digest_in(&fs::read(&slip).expect("the slip")), Some(digest));
}

#[test]
fn a_log_is_kept_outside_of_every_packet() {
    let scratch = Scratch::new("log");
    let packet = one(&scratch, "HH-0101-2026");
    assert_eq!(run(root(), &["verify", text(&packet)]).status.code(), Some(0));
    assert_eq!(run(root(), &["verify", text(&scratch.0)]).status.code(), Some(0));
    let log = fs::read_to_string(scratch.0.join("verified.txt")).expect("a log");
    assert_eq!(log.lines().count(), 2, "{log}");
    let digest = bag::digest(&packet).expect("a digest");
    for line in log.lines() {
        let wanted = format!(
            "  HH-0101-2026  seal intact, no slip beside, figures agree, pages identical  sha256:{digest}  gablework 0.1.0"
        );
        assert!(line.ends_with(&wanted) && line.starts_with("20"), "{line}");
    }
    let inside = run(root(), &["verify", text(&packet), "--log", text(&packet.join("data/letters/log.txt"))]);
    assert_eq!(inside.status.code(), Some(2), "{}", said(&inside));
    assert_eq!(told(&packet), Vec::<String>::new());
    let other = scratch.0.join("other.txt");
    assert_eq!(run(root(), &["verify", text(&packet), "--log", text(&other)]).status.code(), Some(0));
    assert_eq!(fs::read_to_string(&other).expect("a log").lines().count(), 1);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&other).expect("a log").permissions().mode() & 0o777, 0o600);
    }
}

#[test]
fn what_is_no_packet_is_told_kindly() {
    let scratch = Scratch::new("none");
    let (code, said) = verified(&scratch.0, &[]);
    assert_eq!(code, Some(4), "{said}");
    assert!(said.contains("no sealed packet lies in"), "{said}");
    let (code, said) = verified(&scratch.0.join("gone"), &[]);
    assert_eq!(code, Some(4), "{said}");
    let out = text(&scratch.0).to_string();
    let made = run(
        root(),
        &["packet", "demo/solar-water-heater.case.yaml", "--out", &out, "--dated", "2026-11-25", "--draft"],
    );
    assert!(made.status.success());
    let (code, said) = verified(&scratch.0.join("HH-0101-2026-draft"), &[]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("is a draft, and a draft is not sealed"), "{said}");
    // Beside packets, drafts are passed over and counted; packets are found at any depth, and not entered.
    copy(&demo().join("HH-0101-2026"), &scratch.0.join("a/b/c/HH-0101-2026"));
    copy(&demo().join("HH-0102-2026"), &scratch.0.join("a/HH-0102-2026"));
    copy(&demo().join("HH-0103-2025"), &scratch.0.join("a/HH-0102-2026/data/HH-0103-2025"));
    let (code, said) = verified(&scratch.0, &[]);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("2 packets: 1 verified, 1 with a broken seal"), "{said}");
    assert!(said.contains("1 draft passed over"), "{said}");
    let places: Vec<usize> =
        ["a/HH-0102-2026  ", "a/b/c/HH-0101-2026  "].map(|name| said.find(name).expect("a line")).to_vec();
    assert!(places.is_sorted(), "{said}");
}

#[test]
fn a_chain_of_corrections_can_be_checked() {
    let scratch = Scratch::new("chain");
    let out = text(&scratch.0).to_string();
    let packet = |more: &[&str]| {
        let arguments =
            ["packet", "demo/solar-water-heater.case.yaml", "--out", &out, "--dated", "2026-11-25"];
        let made = run(root(), &[&arguments[..], more].concat());
        assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    };
    packet(&["--year", "2024"]);
    packet(&["--year", "2024", "--replaces", "HH-0101-2024", "--because", "the price was corrected."]);
    let (first, second) = (scratch.0.join("HH-0101-2024"), scratch.0.join("HH-0101-2024-r2"));
    let (code, said_now) = verified(&second, &[]);
    assert_eq!(code, Some(0), "{said_now}");
    assert!(said_now.contains("HH-0101-2024  lies beside it, and is the one named"), "{said_now}");
    assert_eq!(verified(&scratch.0, &[]).0, Some(0));
    // The worksheet and the slip say what it replaces, and why.
    for file in [second.join("data/worksheet.pdf"), scratch.0.join("HH-0101-2024-r2.seal.pdf")] {
        let read = Command::new("pdftotext")
            .args([text(&file), "-"])
            .output()
            .expect("pdftotext of poppler-utils runs");
        let words: String = said(&read).split_whitespace().collect::<Vec<&str>>().join(" ");
        assert!(words.contains("HH-0101-2024") && words.contains("the price was corrected."), "{words}");
    }
    // So do the letters, with the date of those they replace.
    let letters: Vec<_> = fs::read_dir(second.join("data/letters")).expect("letters").flatten().collect();
    assert!(letters.len() >= 2);
    for letter in letters {
        let read =
            Command::new("pdftotext").args([text(&letter.path()), "-"]).output().expect("pdftotext runs");
        let words: String = said(&read).split_whitespace().collect::<Vec<&str>>().join(" ");
        let wanted = "It replaces what we wrote to you on November 25, 2026 about tax year 2024 (our packet HH-0101-2024).";
        assert!(words.contains(wanted), "{words}");
    }
    // The first is exchanged for another, properly sealed.
    forge(&first, &[("solar-water-heater.case.yaml", &|case| format!("{case}\n# another\n"))]);
    let (code, said_now) = verified(&second, &[]);
    assert_eq!(code, Some(3), "{said_now}");
    assert!(
        said_now.contains("HH-0101-2024 beside it is not the packet that this one replaces"),
        "{said_now}"
    );
    fs::remove_dir_all(&first).expect("removed");
    let (code, said_now) = verified(&second, &[]);
    assert_eq!(code, Some(0), "{said_now}");
    assert!(said_now.contains("does not lie beside it"), "{said_now}");
}

#[test]
fn a_slip_that_was_lost_is_made_again_to_the_byte_and_never_overwrites() {
    let scratch = Scratch::new("slip");
    let out = text(&scratch.0).to_string();
    let packet = || {
        run(root(), &["packet", "demo/solar-water-heater.case.yaml", "--out", &out, "--dated", "2026-11-25"])
    };
    assert_eq!(packet().status.code(), Some(0));
    let slip = scratch.0.join("HH-0101-2026.seal.pdf");
    let good = fs::read(&slip).expect("a slip");
    fs::remove_file(&slip).expect("removed");
    let again = packet();
    assert!(said(&again).contains("was missing and is made again"), "{}", said(&again));
    assert!(fs::read(&slip).expect("a slip") == good);
    // A slip whose packet is gone may be all that is left of it.
    fs::remove_dir_all(scratch.0.join("HH-0101-2026")).expect("removed");
    fs::write(&slip, "the slip of another packet").expect("written");
    let refused = packet();
    assert_eq!(refused.status.code(), Some(4), "{}", said(&refused));
    assert!(!scratch.0.join("HH-0101-2026").exists());
    assert_eq!(fs::read(&slip).expect("a slip"), b"the slip of another packet");
}

/// Whatever stands in a request, it is read or refused with words.
#[test]
fn a_request_written_by_anybody_is_no_danger() {
    let scratch = Scratch::new("request");
    let packet = one(&scratch, "HH-0101-2026");
    let desk = Desk::default();
    let good = fs::read_to_string(packet.join("data/request.json")).expect("request.json");
    for (from, to) in [
        ("\"case_file\": \"solar-water-heater.case.yaml\"", "\"case_file\": \"../../../etc/passwd\""),
        ("\"case_file\": \"solar-water-heater.case.yaml\"", "\"case_file\": \"worksheet.pdf\""),
        ("\"case_file\": \"solar-water-heater.case.yaml\"", "\"case_file\": \"figures.json\""),
        ("\"year\": 2026", "\"year\": 99999999999"),
        ("\"year\": 2026", "\"year\": -3"),
        ("\"dated\": \"2026-11-25\"", "\"dated\": \"tomorrow\""),
        ("\"dated\": \"2026-11-25\"", "\"dated\": \"-9999-01-01\""),
        (
            "\"replaces\": null",
            "\"replaces\": {\"packet\": \"../..\", \"digest\": \"x\", \"because\": \"y\"}",
        ),
        ("\"also\": []", "\"also\": [\"docx\", 3, null]"),
        ("{", "[[[[[[[["),
    ] {
        assert!(good.contains(from), "{from}");
        fs::write(packet.join("data/request.json"), good.replacen(from, to, 1)).expect("written");
        let report = verify::verify(&packet, &desk);
        assert!(!report.is_sealed(), "{to}");
        let quiet = to.contains("replaces") || to.contains("also") || to.contains("-9999");
        assert!(
            quiet || matches!(report.figures, Figures::NotCompared(_) | Figures::Differ { .. }),
            "{to}: {report:?}"
        );
    }
}
