//! The log of `verify`: lines are added whole or not at all, and only to a log.

use crate::batches::{Desk, case};
use crate::support::program::err;
use std::fs;

const OLD: &str = "2025-01-02T03:04:05Z  HH-1-2026  seal intact, figures agree, pages identical  sha256:00  gablework 0.1.0\n";

fn desk(name: &str) -> Desk {
    let desk = Desk::new(name);
    desk.write("a.case.yaml", &case("HH-1"));
    let made = desk.run("packet a.case.yaml --dated 2026-11-12 --out sealed");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    desk
}

fn log(desk: &Desk) -> String {
    fs::read_to_string(desk.0.join("sealed/verified.txt")).expect("a log")
}

#[test]
fn lines_that_stand_stay_and_new_ones_come_behind_them() {
    let desk = desk("logs-added");
    // The last line of a log that an older version was cut off in has no end.
    desk.write("sealed/verified.txt", &format!("{OLD}{}", OLD.trim_end()));
    for n in 1..=2 {
        assert_eq!(desk.run("verify sealed").status.code(), Some(0));
        let lines = log(&desk);
        assert!(lines.starts_with(&OLD.repeat(2)) && lines.ends_with('\n'), "{lines}");
        assert_eq!(lines.lines().count(), 2 + n, "{lines}");
    }
    assert_eq!(desk.names("sealed"), ["HH-1-2026", "verified.txt"]);
}

/// A limit on the size of files stands for a full disk.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_the_log_as_it_was() {
    let desk = desk("logs-full");
    for old in [OLD.repeat(5), String::new()] {
        let limit = if old.is_empty() { 0 } else { 1 };
        let place = desk.0.join("sealed/verified.txt");
        match old.is_empty() {
            true => fs::remove_file(&place).expect("removed"),
            false => desk.write("sealed/verified.txt", &old),
        }
        let script = format!("ulimit -f {limit}; exec \"$0\" verify sealed");
        let mut shell = std::process::Command::new("sh");
        shell.current_dir(&desk.0).args(["-c", &script, env!("CARGO_BIN_EXE_gablework")]);
        let ended = shell.output().expect("a shell");
        assert_eq!(ended.status.code(), Some(4), "{}", err(&ended));
        assert!(err(&ended).contains("these verdicts are not in the log"), "{}", err(&ended));
        assert_eq!(fs::read_to_string(&place).unwrap_or_default(), old);
        assert_eq!(place.exists(), !old.is_empty());
        let hidden: Vec<String> =
            desk.names("sealed").into_iter().filter(|name| name.starts_with('.')).collect();
        assert!(hidden.is_empty(), "{hidden:?}");
    }
}

/// What is no log of verdicts is somebody's file.
#[test]
fn a_file_that_is_no_log_is_left_alone() {
    let desk = desk("logs-mine");
    let text = fs::read_to_string(desk.0.join("a.case.yaml")).expect("a case");
    let told = desk.run("verify sealed --log a.case.yaml");
    assert_eq!(told.status.code(), Some(4), "{}", err(&told));
    assert!(err(&told).contains("holds something else than verdicts"), "{}", err(&told));
    assert_eq!(fs::read_to_string(desk.0.join("a.case.yaml")).expect("a case"), text);
    // Where nobody named it, the check goes on without.
    desk.write("sealed/verified.txt", "my own list\n");
    let told = desk.run("verify sealed");
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    assert!(err(&told).contains("note: no log is kept"), "{}", err(&told));
    assert_eq!(log(&desk), "my own list\n");
}
