//! `packet` over many cases: whatever the number of threads the words and files are the same, one case never holds up
//! another, and a second run makes only what is not there yet.

use crate::support::files::files;
use crate::support::program::{err, out, program};
use crate::support::scratch::{Scratch, names};
use std::fs;
use std::path::Path;
use std::process::Output;

const PLAIN: &str = include_str!("../demo/retired-couple.case.yaml");

/// A folder with cases on it.
pub type Desk = Scratch;

impl Desk {
    /// Puts a case with a reference on the desk.
    pub fn case(&self, name: &str, reference: &str) {
        self.write(name, &case(reference));
    }

    pub fn run(&self, line: &str) -> Output {
        program(&self.0).args(line.split(' ')).output().expect("the program runs")
    }

    /// Every file below a folder of the desk, hidden ones too, by its path there, with its bytes.
    pub fn files(&self, folder: &str) -> Vec<(String, Vec<u8>)> {
        files(&self.join(folder))
    }

    /// The names in a folder of the desk, hidden ones too.
    pub fn names(&self, folder: &str) -> Vec<String> {
        let slip = |name: &String| name.ends_with(".seal.pdf") && !name.starts_with('.');
        let mut names = names(&self.join(folder));
        names.retain(|name| !slip(name));
        names
    }

    /// Takes a packet away, with the seal slip beside it.
    pub fn remove(&self, packet: &str) {
        fs::remove_dir_all(self.0.join(packet)).expect("removed");
        fs::remove_file(self.0.join(format!("{packet}.seal.pdf"))).expect("removed");
    }
}

/// The retired couple under another reference, with its papers kept elsewhere.
pub fn case(reference: &str) -> String {
    let changed = PLAIN.replace("reference: HH-0109", &format!("reference: {reference}"));
    assert!(changed.contains(&format!("reference: {reference}")), "the demo case has another reference");
    changed.replace("file: papers/", "where: binder ")
}

/// The last line that counts, without the time.
fn count(output: &Output) -> String {
    let told = err(output);
    let line = told.lines().find(|line| line.contains(" cases: ")).unwrap_or_else(|| panic!("{told}"));
    line.rsplit_once(';').expect("a time").0.to_string()
}

#[test]
fn words_and_files_are_the_same_whatever_the_number_of_threads() {
    let desk = Desk::new("threads");
    for n in 0..5 {
        desk.case(&format!("cases/{n}.case.yaml"), &format!("HH-{n}"));
    }
    desk.write("cases/2b.case.yaml", "format: 1\nclient: 7\n");
    desk.write("cases/3b.case.yaml", "no case at all");
    desk.write("cases/firm.yaml", include_str!("../demo/firm.yaml").split("logo:").next().expect("a firm"));
    let run = |threads: &str| {
        let made = desk.run(&format!(
            "packet cases --dated 2026-11-12 --out {threads} --threads {threads} --also html,xlsx"
        ));
        assert_eq!(made.status.code(), Some(1), "{}", err(&made));
        let told = err(&made).replace(&format!(" {threads}/"), " OUT/");
        let told: Vec<String> =
            told.lines().filter(|line| !line.contains(" cases: ")).map(String::from).collect();
        assert_eq!(count(&made), "7 cases: 5 made, 2 refused");
        (out(&made).replace(&format!(" {threads}/"), " OUT/"), told, desk.files(threads))
    };
    let first = run("1");
    assert_eq!(first.0.matches("tax year").count(), 5);
    for threads in ["2", "7"] {
        assert!(run(threads) == first, "{threads} threads differ from one");
    }
}

#[test]
fn cases_with_one_reference_are_refused_both_and_hold_up_nobody() {
    let desk = Desk::new("twins");
    desk.case("cases/a.case.yaml", "HH-7");
    desk.case("cases/b.case.yaml", "HH-8");
    desk.case("cases/c/d.case.yaml", "hh-7");
    for threads in 1..4 {
        let made = desk.run(&format!("packet cases --dated 2026-11-12 --out {threads} --threads {threads}"));
        assert_eq!(made.status.code(), Some(1), "{}", err(&made));
        assert_eq!(desk.names(&threads.to_string()), ["HH-8-2026"]);
        let told = err(&made);
        let both = format!(
            "error: cases/a.case.yaml and {} have the same client reference HH-7",
            Path::new("cases/c").join("d.case.yaml").display()
        );
        assert!(told.contains(&both), "{told}");
        assert_eq!(count(&made), "3 cases: 1 made, 2 refused");
    }
}

/// A client whose case is a link to a drive that is gone, or no file at all, must not be missing without a word.
#[cfg(unix)]
#[test]
fn what_bears_the_name_of_a_case_and_is_no_file_fails_and_holds_up_nobody() {
    use std::os::unix::fs::symlink;
    let desk = Desk::new("no-file");
    desk.case("cases/a.case.yaml", "HH-1");
    desk.case("elsewhere/b.yaml", "HH-2");
    symlink("../elsewhere/b.yaml", desk.0.join("cases/b.case.yaml")).expect("a link");
    symlink("../gone/c.yaml", desk.0.join("cases/c.case.yaml")).expect("a link");
    symlink("/dev/zero", desk.0.join("cases/d.case.yaml")).expect("a link");
    symlink("../elsewhere", desk.0.join("cases/e.case.yaml")).expect("a link");
    symlink("someone@somewhere.1", desk.0.join("cases/.#a.case.yaml")).expect("a mark of an editor");
    symlink(".", desk.0.join("cases/round")).expect("a link");
    let made = desk.run("packet cases --dated 2026-11-12");
    assert_eq!(made.status.code(), Some(4), "{}", err(&made));
    assert_eq!(count(&made), "5 cases: 2 made, 3 failed");
    assert_eq!(desk.names("packets"), ["HH-1-2026", "HH-2-2026"]);
    for command in
        ["check cases", "register cases --on 2026-11-12", "remind cases --for 2027 --dated 2027-01-05"]
    {
        let said = desk.run(command);
        assert_eq!(said.status.code(), Some(4), "{command}: {}", err(&said));
        for name in ["c.case.yaml", "d.case.yaml", "e.case.yaml"] {
            assert!(err(&said).contains(name), "{command}: {}", err(&said));
        }
        assert!(!err(&said).contains(".#a"), "{command}: {}", err(&said));
    }
}

#[test]
fn cases_without_figures_for_the_year_are_left_out_unless_that_is_all_of_them() {
    let desk = Desk::new("year");
    desk.write("cases/old.case.yaml", include_str!("../demo/amend-2023.case.yaml"));
    desk.case("cases/new.case.yaml", "HH-1");
    let made = desk.run("packet cases --dated 2026-11-12 --year 2026");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    assert_eq!(count(&made), "2 cases: 1 made, 1 left out");
    let old = Path::new("cases").join("old.case.yaml");
    let told = format!("Left out: {} has no figures for 2026, only for 2023.", old.display());
    assert!(err(&made).contains(&told), "{}", err(&made));
    let none = desk.run("packet cases --dated 2026-11-12 --year 2010");
    assert_eq!(none.status.code(), Some(2), "{}", err(&none));
    assert!(err(&none).contains("no case has figures for 2010"), "{}", err(&none));
    let one = desk.run("packet cases/old.case.yaml --dated 2026-11-12 --year 2026");
    assert_eq!(one.status.code(), Some(2), "{}", err(&one));
    assert_eq!(desk.names("packets"), ["HH-1-2026"]);
}

#[test]
fn a_second_run_makes_only_what_is_not_there_yet() {
    let desk = Desk::new("resume");
    for n in 1..4 {
        desk.case(&format!("cases/{n}.case.yaml"), &format!("HH-{n}"));
    }
    assert_eq!(desk.run("packet cases --dated 2026-11-12").status.code(), Some(0));
    let before = desk.files("packets");
    desk.remove("packets/HH-2-2026");
    // Of another day, and so today's: what stands is up to date nevertheless.
    let again = desk.run("packet cases");
    assert_eq!(again.status.code(), Some(0), "{}", err(&again));
    assert_eq!(count(&again), "3 cases: 1 made, 2 already up to date");
    assert_eq!(out(&again).matches("tax year").count(), 1, "only what was made is told");
    desk.remove("packets/HH-2-2026");
    let again = desk.run("packet cases --dated 2026-11-12 --threads 2");
    assert_eq!(count(&again), "3 cases: 1 made, 2 already up to date");
    assert!(desk.files("packets") == before, "the same bytes");
    // A slip may be all that is left of a packet; it is not written over.
    fs::remove_dir_all(desk.0.join("packets/HH-2-2026")).expect("removed");
    let other = desk.run("packet cases --dated 2026-11-11");
    assert_eq!(other.status.code(), Some(4));
    assert!(err(&other).contains("HH-2-2026.seal.pdf is the seal slip of another packet"), "{}", err(&other));
    assert_eq!(desk.run("packet cases --dated 2026-11-12").status.code(), Some(0));
    assert!(desk.files("packets") == before, "the same bytes");
    let one = desk.run("packet cases/1.case.yaml");
    assert_eq!(one.status.code(), Some(0));
    assert!(out(&one).contains("is up to date; nothing was made"), "{}", out(&one));
    let other_day = desk.run("packet cases --dated 2026-11-13");
    assert_eq!(other_day.status.code(), Some(4), "{}", err(&other_day));
    assert!(
        err(&other_day).contains("it is dated 2026-11-12, and --dated says 2026-11-13"),
        "{}",
        err(&other_day)
    );
    assert!(desk.files("packets") == before, "nothing was touched");
}

#[test]
fn a_packet_that_is_not_up_to_date_says_why_and_how_to_correct_it() {
    let desk = Desk::new("changed");
    desk.case("cases/1.case.yaml", "HH-1");
    desk.case("cases/2.case.yaml", "HH-2");
    assert_eq!(desk.run("packet cases --dated 2026-11-12").status.code(), Some(0));
    let before = desk.files("packets");
    desk.write("cases/1.case.yaml", &format!("{}# looked over\n", case("HH-1")));
    desk.write("cases/firm.yaml", include_str!("../demo/firm.yaml").split("logo:").next().expect("a firm"));
    let again = desk.run("packet cases --dated 2026-11-12");
    assert_eq!(again.status.code(), Some(4), "{}", err(&again));
    assert_eq!(count(&again), "2 cases: 2 refused");
    let told = err(&again);
    assert!(told.contains("is not up to date: the case was changed; the firm file is new"), "{told}");
    assert!(desk.files("packets") == before, "nothing was touched");
    // The command it gives, with the reason filled in.
    let command =
        told.lines().find_map(|line| line.split_once("a correction with gablework ")).expect("a command");
    let command = command.1.split(", or name").next().expect("a command").replace("\"WHY\"", "looked-over");
    let corrected = desk.run(&format!("{command} --dated 2026-11-20"));
    assert_eq!(corrected.status.code(), Some(0), "{}", err(&corrected));
    assert_eq!(desk.names("packets"), ["HH-1-2026", "HH-1-2026-r2", "HH-2-2026"]);
    // The correction is what is compared from now on; made twice it is not.
    let again = desk.run(&command);
    assert_eq!(again.status.code(), Some(0), "{}", err(&again));
    assert!(out(&again).contains("HH-1-2026-r2 stands and is up to date"), "{}", out(&again));
    let again = desk.run("packet cases/1.case.yaml --firm cases/firm.yaml");
    assert!(out(&again).contains("HH-1-2026-r2 stands and is up to date"), "{}{}", out(&again), err(&again));
    let both = desk.run("packet cases --replaces HH-1-2026 --because two");
    assert_eq!(both.status.code(), Some(2));
}

#[test]
fn drafts_are_made_anew_when_something_changed_or_when_asked() {
    let desk = Desk::new("drafts");
    desk.case("cases/1.case.yaml", "HH-1");
    desk.case("cases/2.case.yaml", "HH-2");
    let draft = |more: &str| {
        let made = desk.run(&format!("packet cases --draft{more}"));
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        count(&made)
    };
    assert_eq!(draft(""), "2 cases: 2 made");
    assert_eq!(draft(""), "2 cases: 2 already up to date");
    assert_eq!(draft(" --again"), "2 cases: 2 made");
    desk.write("cases/1.case.yaml", &format!("{}# looked over\n", case("HH-1")));
    assert_eq!(draft(""), "2 cases: 1 made, 1 already up to date");
    assert_eq!(desk.names("packets"), ["HH-1-2026-draft", "HH-2-2026-draft"]);
    assert_eq!(desk.run("packet cases --again").status.code(), Some(2), "what is sealed is never made again");
}

#[test]
fn references_that_differ_only_in_capitals_are_refused_across_runs_too() {
    let desk = Desk::new("capitals");
    desk.case("one/1.case.yaml", "HH-X");
    desk.case("two/1.case.yaml", "hh-x");
    assert_eq!(desk.run("packet one --dated 2026-11-12").status.code(), Some(0));
    let second = desk.run("packet two --dated 2026-11-12");
    assert_eq!(second.status.code(), Some(1), "{}", err(&second));
    assert!(err(&second).contains("differs from it only in capitals"), "{}", err(&second));
    assert_eq!(desk.names("packets"), ["HH-X-2026"]);
}

#[test]
fn the_firm_file_is_the_nearest_up_to_the_folder_that_was_named() {
    let desk = Desk::new("firm");
    let firm = |name: &str| {
        let demo = include_str!("../demo/firm.yaml").split("logo:").next().expect("a firm");
        let at = demo.find("\nname: ").expect("a name") + 1;
        let end = at + demo[at..].find('\n').expect("an end");
        format!("{}name: {name}{}", &demo[..at], &demo[end..])
    };
    desk.case("all/north/1.case.yaml", "HH-1");
    desk.case("all/south/2.case.yaml", "HH-2");
    desk.write("firm.yaml", &firm("Nowhere Tax"));
    desk.write("all/firm.yaml", &firm("Whole Tax"));
    desk.write("all/south/firm.yaml", &firm("South Tax"));
    let of = |line: &str, packet: &str| {
        let made = desk.run(line);
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        fs::read_to_string(desk.0.join(packet).join("data/firm.yaml")).ok()
    };
    assert!(of("packet all --out a", "a/HH-1-2026").expect("a firm").contains("Whole Tax"));
    assert!(of("packet all --out a", "a/HH-2-2026").expect("a firm").contains("South Tax"));
    assert_eq!(of("packet all/north --out b", "b/HH-1-2026"), None);
    assert_eq!(of("packet all/north/1.case.yaml --out c", "c/HH-1-2026"), None);
    let several = of("packet all/north all/south/2.case.yaml --out d", "d/HH-2-2026");
    assert!(several.expect("a firm").contains("South Tax"));
    // What is wrong with the file is told once, and every case that needs it is refused.
    desk.write("all/firm.yaml", "name: Broken Tax\n");
    let broken = desk.run("packet all --out e");
    assert_eq!(broken.status.code(), Some(1));
    assert_eq!(err(&broken).matches("error[").count(), 1, "{}", err(&broken));
    assert_eq!(desk.names("e"), ["HH-2-2026"]);
}

#[cfg(unix)]
#[test]
fn a_group_may_read_when_told_and_nobody_else() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::new("readers");
    desk.case("1.case.yaml", "HH-1");
    let mode = |path: &str| fs::metadata(desk.0.join(path)).expect("it stands").permissions().mode() & 0o777;
    for (more, out, folder, file) in
        [("", "own", 0o700, 0o600), (" --group-readable", "shared", 0o750, 0o640)]
    {
        assert!(desk.run(&format!("packet 1.case.yaml --out {out}{more}")).status.success());
        for path in ["", "/HH-1-2026", "/HH-1-2026/data/letters"] {
            assert_eq!(mode(&format!("{out}{path}")), folder, "{out}{path}");
        }
        for (path, _) in desk.files(out) {
            assert_eq!(mode(&format!("{out}/{path}")), file, "{out}/{path}");
        }
    }
}

/// A file whose name nobody can read is one finding; it holds nobody up.
#[cfg(unix)]
#[test]
fn a_case_file_with_an_unseen_character_in_its_name_holds_nobody_up() {
    for bad in ["b\u{202e}.case.yaml", "b\u{200b}.case.yaml", "b\n.case.yaml", "b\u{7f}.case.yaml"] {
        let desk = Desk::new("unseen");
        desk.case("cases/a.case.yaml", "HH-1");
        desk.case(&format!("cases/{bad}"), "HH-2");
        desk.case("cases/c.case.yaml", "HH-3");
        for (line, words) in [
            ("check cases", "1 of 3 cases has errors"),
            ("check cases --as json", "1 of 3 cases has errors"),
            ("packet cases --dated 2026-11-12", "3 cases: 2 made, 1 refused"),
            ("packet cases --dated 2026-11-12 --draft", "3 cases: 2 made, 1 refused"),
            ("register cases --on 2026-11-12", "hidden-character"),
            ("register cases --on 2026-11-12 --as json", "hidden-character"),
            ("remind cases --for 2026 --dated 2026-11-12 --out season", "hidden-character"),
            ("figures cases/a.case.yaml", ""),
        ] {
            let ended = desk.run(line);
            let code = if line.starts_with("figures") { 0 } else { 1 };
            assert_eq!(ended.status.code(), Some(code), "{line}: {}", err(&ended));
            let both = format!("{}{}", out(&ended), err(&ended));
            assert!(both.contains(words), "{line}: {both}");
            assert!(!both.contains(['\u{202e}', '\u{200b}', '\u{7f}']), "{line}: {both}");
            assert!(
                both.lines().all(|one| !one.starts_with(".case.yaml")),
                "{line}: a line is forged: {both}"
            );
            let findings = usize::from(!line.starts_with("figures"));
            let told = both.matches("holds a character that cannot be seen, U+").count();
            assert!(told >= findings, "{line}: {both}");
        }
        assert_eq!(
            desk.names("packets"),
            ["HH-1-2026", "HH-1-2026-draft", "HH-3-2026", "HH-3-2026-draft"],
            "{bad:?}"
        );
        assert!(desk.files("packets").iter().all(|(path, _)| !path.contains("HH-2")));
    }
}
