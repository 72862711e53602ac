//! What lies beside a packet and how it is called: the seal slip is checked as the page it is, names against the packet's
//! own, and what is missing is said.

use crate::sealed::{demo, forge, one, verified};
use crate::support::files::copy;
use crate::support::program::{root, run, said, text};
use crate::support::scratch::Scratch;
use gablework::packet::{bag, slip};
use std::fs;
use std::path::PathBuf;

const NAME: &str = "HH-0101-2026";

/// A packet with its slip beside it, to be altered.
fn pair(scratch: &Scratch) -> (PathBuf, PathBuf) {
    let packet = one(scratch, NAME);
    let beside = packet.with_file_name(slip::file_name(NAME));
    fs::copy(demo().join(slip::file_name(NAME)), &beside).expect("copied");
    (packet, beside)
}

#[test]
fn a_slip_is_compared_byte_by_byte_with_the_one_that_is_drawn_again() {
    let scratch = Scratch::new("slip-bytes");
    let (packet, beside) = pair(&scratch);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("the slip beside the packet is its own") && !told.contains("warning:"), "{told}");
    let good = fs::read(&beside).expect("the slip");
    let digest = bag::digest(&packet).expect("a digest");

    // The slip of another packet, in which the mark that nobody sees is replaced.
    let other = fs::read(demo().join(slip::file_name("HH-0102-2026"))).expect("a slip");
    let named = slip::digest_in(&other).expect("a digest");
    let mut disguised = other.clone();
    for at in 0..disguised.len() - 64 {
        if &disguised[at..at + 64] == named.as_bytes() {
            disguised[at..at + 64].copy_from_slice(digest.as_bytes());
        }
    }
    assert_ne!(disguised, other);
    let mut later = good.clone();
    let at = later.len() / 2;
    later[at] ^= 1;
    for (what, bytes, wanted) in [
        ("another packet's", other, "names another digest"),
        ("another packet's in disguise", disguised, "is not the slip that is drawn from this packet"),
        ("the mark alone", format!("sha256:{digest}").into_bytes(), "is not the slip that is drawn"),
        ("one bit", later, "is not the slip that is drawn from this packet"),
        ("a longer one", [&good[..], b"\n"].concat(), "is not the slip that is drawn from this packet"),
        ("nothing", Vec::new(), "is no slip"),
        ("another page", fs::read(packet.join("data/worksheet.pdf")).expect("a page"), "is no slip"),
    ] {
        fs::write(&beside, bytes).expect("written");
        let (code, told) = verified(&packet, &[]);
        assert_eq!(code, Some(3), "{what}: {told}");
        assert!(told.contains("seal      BROKEN") && told.contains(wanted), "{what}: {told}");
    }
    let file = fs::File::create(&beside).expect("made");
    file.set_len(1 << 40).expect("a long file of nothing");
    assert_eq!(verified(&packet, &[]).0, Some(3));
}

/// What another program drew is another page, perhaps. Then only this is asserted: it is a page, and its properties name
/// the digest; and that is said.
#[test]
fn the_slip_of_another_programs_packet_is_for_people_to_compare() {
    let scratch = Scratch::new("slip-other");
    let (packet, beside) = pair(&scratch);
    let version = format!("\"version\": \"{}\"", env!("CARGO_PKG_VERSION"));
    forge(&packet, &[("request.json", &|request| request.replace(&version, "\"version\": \"0.0.9\""))]);
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "the slip is the one of before: {told}");
    let digest = bag::digest(&packet).expect("a digest");
    let page = format!("%PDF-1.7\n% sha256:{digest}\n%%EOF\n");
    fs::write(&beside, &page).expect("written");
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("was drawn by another program; its page was not compared"), "{told}");
    for bad in [format!("sha256:{digest}"), page.replace("%%EOF", ""), page.replacen(&digest[..4], "0000", 1)]
    {
        fs::write(&beside, bad).expect("written");
        assert_eq!(verified(&packet, &[]).0, Some(3));
    }
}

#[test]
fn what_stands_in_the_slips_place_and_is_no_file_is_told() {
    let scratch = Scratch::new("slip-place");
    let (packet, beside) = pair(&scratch);
    fs::remove_file(&beside).expect("removed");
    fs::create_dir(&beside).expect("made");
    let (code, told) = verified(&packet, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("is no plain file"), "{told}");
    fs::remove_dir(&beside).expect("removed");
    #[cfg(unix)]
    {
        let slip = demo().join(slip::file_name(NAME));
        std::os::unix::fs::symlink(slip, &beside).expect("a link");
        let (code, told) = verified(&packet, &[]);
        assert_eq!(code, Some(3), "{told}");
        assert!(told.contains("is no plain file"), "{told}");
    }
}

#[test]
fn a_pair_that_was_renamed_does_not_pass_for_another() {
    let scratch = Scratch::new("slip-renamed");
    let (packet, beside) = pair(&scratch);
    let other = packet.with_file_name("HH-0999-2026");
    fs::rename(&packet, &other).expect("renamed");
    // The folder alone: its slip lies there under its own name.
    let (code, told) = verified(&other, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(
        told.contains("seal: this is packet HH-0101-2026, in a folder that bears the name of another"),
        "{told}"
    );
    let renamed = beside.with_file_name(slip::file_name("HH-0999-2026"));
    fs::rename(&beside, &renamed).expect("renamed");
    let (code, told) = verified(&other, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("HH-0999-2026.seal.pdf is this packet's slip under another name"), "{told}");
    // A copy is called as its owner likes, and its slip is not.
    let copied = packet.with_file_name("a copy");
    fs::rename(&other, &copied).expect("renamed");
    fs::rename(&renamed, copied.with_file_name("a copy.seal.pdf")).expect("renamed");
    let (code, told) = verified(&copied, &[]);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("note: this is packet HH-0101-2026, in a folder of another name"), "{told}");
    fs::rename(copied.with_file_name("a copy.seal.pdf"), &beside).expect("renamed");
    let (code, told) = verified(&copied, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("the slip beside the packet is its own"), "{told}");
}

/// The name in the seal and the request for it were written together.
#[test]
fn a_packet_whose_seal_names_another_is_told() {
    let scratch = Scratch::new("slip-identifier");
    let packet = one(&scratch, NAME);
    for (from, to) in
        [("\"reference\": \"HH-0101\"", "\"reference\": \"HH-0909\""), ("\"year\": 2026", "\"year\": 2025")]
    {
        let packet = one(&scratch, NAME);
        forge(&packet, &[("request.json", &|request| request.replacen(from, to, 1))]);
        let (code, told) = verified(&packet, &[]);
        assert_eq!(code, Some(3), "{told}");
        assert!(told.contains("does not name the packet that was asked for"), "{told}");
    }
    assert!(packet.is_dir());
}

#[test]
fn what_is_missing_is_said() {
    let scratch = Scratch::new("slip-missing");
    let (packet, beside) = pair(&scratch);
    copy(&demo().join("HH-0102-2026"), &scratch.0.join("HH-0102-2026"));
    // A packet without its slip may be a copy, or the slip lies in a drawer; it verifies, and is told.
    let (code, told) = verified(&scratch.0, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("warning: HH-0102-2026: no seal slip lies beside it"), "{told}");
    assert!(!told.contains("warning: HH-0101-2026"), "{told}");
    let (_, told) = verified(&scratch.0.join("HH-0102-2026"), &[]);
    assert!(told.contains("no slip lies beside the packet"), "{told}");
    // A slip without its packet: that packet is gone.
    fs::rename(&packet, scratch.0.join("gone")).expect("renamed");
    assert_eq!(verified(&scratch.0, &[]).0, Some(0), "it lies there under another name");
    fs::remove_dir_all(scratch.0.join("gone")).expect("removed");
    let log = scratch.0.join("log.txt");
    let output = run(root(), &["verify", text(&scratch.0), "--log", text(&log)]);
    let told = said(&output);
    assert_eq!(output.status.code(), Some(3), "{told}");
    assert!(
        told.contains("HH-0101-2026.seal.pdf is not beside it")
            && told.contains("1 missing, of which the slip is here"),
        "{told}"
    );
    let log = fs::read_to_string(log).expect("a log");
    assert!(log.contains("HH-0101-2026  packet missing, its slip is here"), "{log}");
    let output = run(root(), &["verify", text(&scratch.0), "--no-log", "--as", "json"]);
    let data: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(data["counts"]["packets_missing"], 1);
    assert_eq!(data["slips_without_packet"], serde_json::json!([text(&beside)]));
    // Nothing else is there.
    fs::remove_dir_all(scratch.0.join("HH-0102-2026")).expect("removed");
    let output = run(root(), &["verify", text(&scratch.0), "--no-log", "--as", "json"]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    let data: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(data["packets"], serde_json::json!([]));
}

#[cfg(unix)]
#[test]
fn a_packet_that_is_a_link_does_not_verify() {
    use std::os::unix::fs::symlink;
    let scratch = Scratch::new("slip-link");
    let shelf = scratch.0.join("shelf");
    fs::create_dir(&shelf).expect("made");
    for name in [NAME, "another name"] {
        let link = shelf.join(name);
        symlink(demo().join(NAME), &link).expect("a link");
        for named in [text(&link).to_string(), format!("{}/", text(&link)), text(&shelf).to_string()] {
            let (code, told) = verified(named.as_ref(), &[]);
            assert_eq!(code, Some(3), "{named}: {told}");
            assert!(told.contains("is a link, and a packet has none"), "{named}: {told}");
        }
        fs::remove_file(&link).expect("removed");
    }
    // One that leads nowhere, in a packet's place; and the packet that a correction replaces.
    symlink("nowhere", shelf.join(NAME)).expect("a link");
    assert_eq!(verified(&shelf, &[]).0, Some(3));
    fs::remove_file(shelf.join(NAME)).expect("removed");
    // A folder of packets may be reached by a link.
    symlink(demo(), scratch.0.join("all")).expect("a link");
    let (code, told) = verified(&scratch.0.join("all"), &[]);
    assert_eq!(code, Some(0), "{told}");
}
