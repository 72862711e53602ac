//! Same inputs, same bytes: whoever makes a packet, where, when, in which language and beside what else.
//!
//! A packet is made from the case, the files beside it and the command line's words, so nothing of the machine may show
//! in it. Each test changes one thing about the machine and compares every byte, the seal included.

use crate::support::files::{copy, files};
use crate::support::program::{program, root};
use crate::support::scratch::Scratch;
use gablework::assemble::{self, Also, Material, Wanted};
use gablework::case::TaxYear;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter;
use gablework::packet::Packet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};

/// The demo case with most beside it: a firm with a logo, papers, a carryforward, letters.
const NAME: &str = "solar-water-heater.case.yaml";
/// What belongs to it, within the folder of the demo cases.
const BESIDE: &[&str] = &["firm.yaml", "logo.png", "papers"];

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo")
}

/// Puts the case and what belongs to it into a folder.
fn put(folder: &Path) {
    fs::create_dir_all(folder).expect("a folder");
    for name in BESIDE.iter().chain([&NAME]) {
        copy(&demo().join(name), &folder.join(name));
    }
}

/// Runs the program for a case or a folder of cases; what is made lies in `out`.
fn made(mut command: Command, case: &Path, out: &Path) -> Vec<(String, Vec<u8>)> {
    command.args(["packet", "--year", "2024", "--dated", "2026-11-25", "--also", "html,docx,xlsx", "--out"]);
    let output = command.arg(out).arg(case).output().expect("the program runs");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    // Where the program was started, the way to the folder may be relative to it.
    let out = command.get_current_dir().map_or_else(|| out.to_path_buf(), |at| at.join(out));
    files(&out)
}

/// The packet as it is made plainly, from the demo folder.
fn plain(scratch: &Scratch) -> Vec<(String, Vec<u8>)> {
    let files = made(program(root()), &demo().join(NAME), &scratch.join("plain"));
    for part in [
        "bagit.txt",
        "data/worksheet.pdf",
        "data/letters/results.docx",
        "data/worksheet.xlsx",
        "data/papers/inv-118.txt",
        "data/logo.png",
    ] {
        assert!(files.iter().any(|(name, _)| name.ends_with(part)), "{part} is not in the packet");
    }
    files
}

fn same(what: &str, one: &[(String, Vec<u8>)], other: &[(String, Vec<u8>)]) {
    let names = |files: &[(String, Vec<u8>)]| files.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
    assert_eq!(names(one), names(other), "{what}");
    for ((name, one), (_, other)) in one.iter().zip(other) {
        assert!(one == other, "{what}: {name} differs");
    }
}

#[test]
fn wherever_it_stands_and_however_it_is_named() {
    let scratch = Scratch::new("where");
    let plain = plain(&scratch);
    let home = scratch.join("a folder, élan & more");
    put(&home);
    same("another folder", &plain, &made(program(root()), &home.join(NAME), &scratch.join("1")));
    let from = |folder: &Path| {
        let mut command = program(root());
        command.current_dir(folder);
        command
    };
    same("from beside the case", &plain, &made(from(&home), Path::new(NAME), Path::new("../2")));
    same(
        "by a way down",
        &plain,
        &made(from(&home.join("papers")), &Path::new("..").join(NAME), &scratch.join("3")),
    );
    same(
        "with a dot",
        &plain,
        &made(from(&home), &Path::new("./papers/..").join(NAME), &scratch.join("deep/4")),
    );
    same("from the root", &plain, &made(from(Path::new("/")), &home.join(NAME), &scratch.join("5")));
    let mut command = from(&scratch.0);
    command.arg("packet").arg("--firm").arg(home.join("firm.yaml"));
    command.args(["--year", "2024", "--dated", "2026-11-25", "--also", "xlsx,docx,html", "--out", "6"]);
    assert!(command.arg(home.join(NAME)).status().expect("the program runs").success());
    same("with the firm named, and the forms in another order", &plain, &files(&scratch.join("6")));
}

#[test]
fn whoever_makes_it_in_whatever_language_and_time_zone() {
    let scratch = Scratch::new("who");
    let plain = plain(&scratch);
    let elsewhere = scratch.join("tmp");
    fs::create_dir_all(&elsewhere).expect("a folder");
    let elsewhere = elsewhere.to_str().expect("plain text");
    let variants: [&[(&str, &str)]; 7] = [
        &[("LC_ALL", "C"), ("LANG", "C"), ("TZ", "UTC")],
        &[("LC_ALL", "de_DE.UTF-8"), ("LANG", "de_DE.UTF-8"), ("LC_NUMERIC", "de_DE.UTF-8")],
        &[("LC_ALL", "tr_TR.UTF-8"), ("LANGUAGE", "tr"), ("TZ", "Pacific/Kiritimati")],
        &[("LANG", "es_US.UTF-8"), ("LC_TIME", "ar_SA"), ("TZ", "America/Adak")],
        &[
            ("USER", "somebody"),
            ("LOGNAME", "somebody"),
            ("USERNAME", "somebody"),
            ("HOME", elsewhere),
            ("HOSTNAME", "elsewhere"),
        ],
        &[
            ("TMPDIR", elsewhere),
            ("TERM", "dumb"),
            ("COLUMNS", "40"),
            ("NO_COLOR", "1"),
            ("RUST_BACKTRACE", "1"),
        ],
        &[
            ("SOURCE_DATE_EPOCH", "0"),
            ("RAYON_NUM_THREADS", "1"),
            ("SEED", "7"),
            ("GABLEWORK_ACCEPT", "1"),
            ("CI", "true"),
        ],
    ];
    for (n, variant) in variants.iter().enumerate() {
        let mut command = program(root());
        command.envs(variant.iter().copied());
        same(
            &format!("{variant:?}"),
            &plain,
            &made(command, &demo().join(NAME), &scratch.join(&n.to_string())),
        );
    }
    let mut command = program(root());
    command.env_clear();
    same("with an empty environment", &plain, &made(command, &demo().join(NAME), &scratch.join("none")));
}

#[test]
fn whenever_the_files_were_changed_and_in_whatever_order_they_lie() {
    let scratch = Scratch::new("when");
    let plain = plain(&scratch);
    let home = scratch.join("aged");
    put(&home);
    for (age, path) in [NAME, "firm.yaml", "logo.png", "papers/inv-118.txt"].iter().enumerate() {
        let day = Duration::from_secs(86_400 * 400 * age as u64);
        let file = fs::File::options().append(true).open(home.join(path)).expect("a file");
        file.set_modified(SystemTime::UNIX_EPOCH + day).expect("a time of change");
    }
    same("changed long ago", &plain, &made(program(root()), &home.join(NAME), &scratch.join("1")));
    // The same papers, put there in the opposite order, among others that the case does not name.
    let home = scratch.join("turned");
    fs::create_dir_all(home.join("papers")).expect("a folder");
    let mut papers: Vec<PathBuf> = fs::read_dir(demo().join("papers"))
        .expect("papers")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    papers.sort();
    for paper in papers.iter().rev() {
        fs::write(home.join("papers/zz-notes.txt"), "not named in the case").expect("written");
        copy(paper, &home.join("papers").join(paper.file_name().expect("a name")));
    }
    for name in ["logo.png", "firm.yaml", NAME] {
        copy(&demo().join(name), &home.join(name));
    }
    same("put there in another order", &plain, &made(program(root()), &home.join(NAME), &scratch.join("2")));
}

/// Who may read the files is another matter than what is in them.
#[cfg(unix)]
#[test]
fn whatever_rights_new_files_have() {
    let scratch = Scratch::new("rights");
    let plain = plain(&scratch);
    for mask in ["000", "022", "077"] {
        let mut command = Command::new("sh");
        command.args(["-c", &format!("umask {mask}; exec \"$0\" \"$@\""), env!("CARGO_BIN_EXE_gablework")]);
        same(&format!("umask {mask}"), &plain, &made(command, &demo().join(NAME), &scratch.join(mask)));
    }
    use std::os::unix::fs::PermissionsExt;
    let home = scratch.join("readable");
    put(&home);
    for (name, mode) in [(NAME, 0o444), ("firm.yaml", 0o600), ("papers/inv-118.txt", 0o755)] {
        fs::set_permissions(home.join(name), fs::Permissions::from_mode(mode)).expect("rights");
    }
    same(
        "other rights of the inputs",
        &plain,
        &made(program(root()), &home.join(NAME), &scratch.join("modes")),
    );
}

/// A case has the same packet alone and among others, whatever the names of the others' files.
#[test]
fn alone_or_among_others() {
    let scratch = Scratch::new("others");
    let make = |case: &Path, out: &Path| {
        let mut command = program(root());
        // Each for its latest year, which is not the same for all.
        command.args(["packet", "--dated", "2026-11-25", "--also", "html,docx,xlsx", "--out"]);
        let output = command.arg(out).arg(case).output().expect("the program runs");
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        files(out)
    };
    let plain = make(&demo().join(NAME), &scratch.join("plain"));
    for before in ["aa", "zz"] {
        let home = scratch.join(&format!("{before}-folder"));
        put(&home);
        let beside = home.join(before);
        fs::create_dir_all(&beside).expect("a folder");
        for other in ["two-owners-first", "amend-2023"] {
            copy(
                &demo().join(format!("{other}.case.yaml")),
                &beside.join(format!("{before}-{other}.case.yaml")),
            );
        }
        copy(&demo().join("papers"), &beside.join("papers"));
        let all = make(&home, &scratch.join(&format!("{before}-out")));
        let made_beside = all.iter().any(|(name, _)| !name.starts_with("HH-0101-"));
        assert!(made_beside, "nothing was made beside it");
        let own: Vec<_> = all.into_iter().filter(|(name, _)| name.starts_with("HH-0101-")).collect();
        same(&format!("beside {before}"), &plain, &own);
    }
}

/// The packet in memory, whatever was made before it in the same process, on however many threads.
#[test]
fn on_however_many_threads_and_after_whatever_else() {
    let law = Law::built_in();
    let mut sources = Sources::default();
    let letters = letter::Kit::built_in(&mut sources);
    let packet = |name: &str, year: i16| -> Packet {
        let file = format!("{name}.case.yaml");
        let bytes = fs::read(demo().join(&file)).expect("a demo case");
        let wanted = Wanted {
            year: TaxYear(year),
            dated: jiff::civil::date(2026, 11, 25),
            draft: false,
            case_file: file.clone(),
            replaces: None,
            name: gablework::name::FileName::new(format!("{name}-{year}")).expect("a name"),
            also: vec![Also::Html, Also::Docx],
        };
        let material = Material {
            letters: &letters,
            layout: None,
            kit: &[],
            case_bytes: &bytes,
            firm: None,
            logo: None,
            papers: &[],
        };
        let mut computed = assemble::compute(&file, &bytes, law, sources.clone()).expect("the plan holds");
        let made = assemble::packet(&mut computed, law, &wanted, &material);
        made.unwrap_or_else(|_| panic!("a packet of {file}")).packet
    };
    let wanted = [
        ("solar-water-heater", 2024),
        ("retired-couple", 2026),
        ("condominium", 2023),
        ("solar-and-battery", 2025),
    ];
    let first: Vec<Packet> = wanted.iter().map(|(name, year)| packet(name, *year)).collect();
    std::thread::scope(|scope| {
        for turn in 0..4 {
            let (packet, first) = (&packet, &first);
            scope.spawn(move || {
                for step in 0..wanted.len() {
                    // Each thread begins with another, so that each is made after and beside every other.
                    let at = (turn + step) % wanted.len();
                    let (name, year) = wanted[at];
                    same(name, &first[at].files, &packet(name, year).files);
                }
            });
        }
    });
}
