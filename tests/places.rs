//! Places that are named for what a command writes: whatever stands there, nothing of the user's is lost, and the message
//! says what to name instead.
#![cfg(unix)]

use crate::batches::{Desk, case};
use crate::support::program::{err, program};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::Command;

/// A desk with a case and its packet, and every kind of place at which nothing can be written.
fn desk(name: &str) -> Desk {
    let desk = Desk::new(name);
    desk.write("a.case.yaml", &case("HH-1"));
    let made = desk.run("packet a.case.yaml --dated 2026-11-12 --out sealed");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    desk.write("mine.txt", "notes of the user's own\n");
    desk.write("full/mine.txt", "more notes\n");
    symlink("nowhere", desk.0.join("link-to-nothing")).expect("a link");
    symlink("full", desk.0.join("link-to-folder")).expect("a link");
    symlink("mine.txt", desk.0.join("link-to-file")).expect("a link");
    assert!(Command::new("mkfifo").arg(desk.0.join("pipe")).status().expect("mkfifo runs").success());
    desk
}

/// Everything on a desk: paths, what each is, and the bytes of files.
fn all(folder: &Path) -> Vec<(String, String, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let about = path.symlink_metadata().expect("it stands");
        let bytes = if about.is_file() { fs::read(&path).expect("a file") } else { Vec::new() };
        found.push((path.display().to_string(), format!("{:?}", about.file_type()), bytes));
        if about.is_dir() {
            found.extend(all(&path));
        }
    }
    found.sort();
    found
}

/// Commands that write, with `%` where the place stands.
const WRITING: &[&str] = &[
    "register . --on 2026-11-12 --as csv --out %",
    "register . --on 2026-11-12 --as pdf --out %",
    "remind . --for 2026 --dated 2026-11-12 --out %",
    "remind . --for 2026 --dated 2026-11-12 --replace --out %",
    "verify sealed --log %",
    "packet a.case.yaml --dated 2026-11-12 --out %",
    "kit %",
    "begin --plain %",
];

/// Whether a place may be used all the same: a folder that stands holds packets, and `begin` asks for a case in it.
fn may(line: &str, place: &str) -> bool {
    let folder = matches!(place, "full" | "link-to-folder" | "." | ".." | "/");
    folder && (line.starts_with("packet") || line.starts_with("begin"))
}

#[test]
fn nothing_is_written_where_something_else_stands() {
    let desk = desk("places-odd");
    let before = all(&desk.0);
    for line in WRITING {
        for place in [
            "link-to-nothing",
            "link-to-file",
            "link-to-folder",
            "pipe",
            "mine.txt",
            "full",
            "a.case.yaml",
            ".",
            "..",
            "/",
            "mine.txt/inside",
            "a.case.yaml/inside.case.yaml",
            "link-to-nothing/inside",
            "pipe/inside",
            "nowhere/..",
            "new\u{202e}",
            "new\u{200b}/inside.case.yaml",
            "new\n",
            "sealed/HH-1-2026/data/new.txt",
        ] {
            if may(line, place) || (!line.starts_with("verify") && place.starts_with("sealed/")) {
                continue;
            }
            let words: Vec<&str> =
                line.split(' ').map(|word| if word == "%" { place } else { word }).collect();
            let ended =
                program(&desk.0).args(&words).stdin(std::process::Stdio::null()).output().expect("it runs");
            let told = err(&ended);
            let code = ended.status.code();
            assert!(matches!(code, Some(2 | 4)), "{line} {place:?}: {code:?} {told}");
            assert!(told.contains("error: ") && told.contains("help: "), "{line} {place:?}: {told}");
            assert!(!told.contains(['\u{202e}', '\u{200b}']), "{line} {place:?}: {told}");
            let after = all(&desk.0);
            let strange: Vec<_> =
                after.iter().filter(|one| !before.contains(one)).map(|one| &one.0).collect();
            assert!(strange.is_empty(), "{line} {place:?} leaves {strange:?}: {told}");
            assert!(after.len() == before.len(), "{line} {place:?} takes something away: {told}");
        }
    }
}

/// What is read from places that are none is told of, and waited for by nobody.
#[test]
fn what_cannot_be_read_is_told_of() {
    let desk = desk("places-read");
    for place in ["link-to-nothing", "pipe", "mine.txt", "nowhere", "mine.txt/inside"] {
        for line in [
            "register . --on 2026-11-12 --packets %",
            "check a.case.yaml --kit %",
            "verify %",
            "packet a.case.yaml --dated 2026-11-12 --kit %",
        ] {
            let ended = desk.run(&line.replace('%', place));
            assert_eq!(ended.status.code(), Some(4), "{line} {place}: {}", err(&ended));
            assert!(err(&ended).contains("error: "), "{line} {place}: {}", err(&ended));
        }
    }
    // A packet whose request is a pipe, or larger than any: nobody waits for it, and the register goes on.
    let request = desk.0.join("sealed/HH-1-2026/data/request.json");
    fs::remove_file(&request).expect("removed");
    assert!(Command::new("mkfifo").arg(&request).status().expect("mkfifo runs").success());
    let ended = desk.run("register . --on 2026-11-12 --packets sealed");
    assert_eq!(ended.status.code(), Some(0), "{}", err(&ended));
    assert!(err(&ended).contains("cannot be read as a packet"), "{}", err(&ended));
    fs::remove_file(&request).expect("removed");
    fs::File::create(&request).expect("a file").set_len(1 << 40).expect("a long file of nothing");
    let ended = desk.run("register . --on 2026-11-12 --packets sealed");
    assert_eq!(ended.status.code(), Some(0), "{}", err(&ended));
    assert!(err(&ended).contains("cannot be read as a packet"), "{}", err(&ended));
}

/// A season that stands as a link is not replaced, for the letters it leads to would stay.
#[test]
fn a_season_behind_a_link_is_not_replaced() {
    let desk = Desk::new("places-season");
    desk.write("a.case.yaml", &case("HH-1"));
    let line = "remind . --for 2026 --dated 2026-11-12 --out";
    assert_eq!(desk.run(&format!("{line} season")).status.code(), Some(0));
    symlink("season", desk.0.join("now")).expect("a link");
    let ended = desk.run(&format!("{line} now --replace"));
    assert_eq!(ended.status.code(), Some(4), "{}", err(&ended));
    assert!(err(&ended).contains("now is a link, and a link is not replaced"), "{}", err(&ended));
    assert!(desk.0.join("now").is_symlink());
    assert_eq!(desk.run(&format!("{line} season --replace")).status.code(), Some(0));
}
