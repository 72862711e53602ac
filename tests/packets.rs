//! Packets, made by the program itself: what is in them, that they stand whole or not at all, and that the same
//! inputs give the same bytes.

use crate::support::files::files;
use crate::support::program::{err, root, run, text};
use crate::support::scratch::Scratch;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const CASE: &str = "demo/solar-water-heater.case.yaml";

/// Whoever moved a paper away learns which, whatever stands: a draft, a sealed packet, or nothing.
#[test]
fn a_paper_that_is_gone_is_named_whatever_stands() {
    let desk = Scratch::new("packet-paper-gone");
    crate::support::files::copy(&root().join("demo"), &desk.join("demo"));
    let paper = desk.join("demo/papers/inv-sol.txt");
    let make = |more: &[&str]| {
        let arguments =
            [&["packet", "demo/solar-and-battery.case.yaml", "--dated", "2026-12-01"][..], more].concat();
        run(&desk.0, &arguments)
    };
    assert_eq!(make(&[]).status.code(), Some(0));
    assert_eq!(make(&["--draft"]).status.code(), Some(0));
    let kept = std::fs::read(&paper).expect("a paper");
    std::fs::remove_file(&paper).expect("removed");
    for more in [&[][..], &["--draft"], &["--out", "elsewhere"]] {
        let made = make(more);
        assert_eq!(made.status.code(), Some(1), "{more:?}: {}", err(&made));
        let told = err(&made);
        assert!(told.contains("cannot read the paper `papers/inv-sol.txt`"), "{more:?}: {told}");
        assert!(!told.contains("--replaces"), "{more:?}: {told}");
    }
    std::fs::write(&paper, kept).expect("written");
    assert_eq!(make(&["--draft"]).status.code(), Some(0));
}

/// A question whose answer could change a figure stands in the way of a packet, until it is answered; not of a draft.
#[test]
fn an_open_question_that_could_change_a_figure_stops_a_packet_and_says_how_to_answer() {
    let scratch = Scratch::new("waits");
    let bad = fs::read_to_string("tests/findings/roof-words/roof-words.case.yaml").expect("a case");
    let case = scratch.join("roof.case.yaml");
    fs::write(&case, &bad).expect("written");
    let out = scratch.join("out");
    let make = |more: &[&str]| {
        let mut arguments = vec!["packet", text(&case), "--out", text(&out), "--dated", "2026-11-25"];
        arguments.extend(more);
        run(root(), &arguments)
    };
    let refused = make(&[]);
    let told = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(1), "{told}");
    assert!(!out.exists(), "nothing is written");
    assert!(told.contains("a question is open, and its answer could change a figure"), "{told}");
    assert_eq!(make(&["--draft"]).status.code(), Some(0));
    // The entry as printed, with its dots filled in.
    let entry = told.split("answers:\n").last().expect("an entry");
    let filled = entry
        .replace("answer: ..", "answer: racking only")
        .replace("by: ..", "by: T. Rowan")
        .replace("on: ..", "on: 2026-03-01");
    fs::write(&case, format!("{bad}answers:\n{filled}")).expect("written");
    let made = make(&[]);
    assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
    // The cost it was about has changed since.
    fs::write(&case, format!("{}answers:\n{filled}", bad.replace("9000", "9500"))).expect("written");
    let again = make(&["--replaces", "HH-0412-2024", "--because", "the price was corrected"]);
    let told = String::from_utf8_lossy(&again.stderr).into_owned();
    assert_eq!(again.status.code(), Some(1), "{told}");
    assert!(told.contains("; $9,000\u{201d}, and the case now says"), "{told}");
    // A question about proof alone stops nothing.
    fs::write(
        &case,
        bad.split("evidence:\n")
            .next()
            .unwrap()
            .replace(" and new roof on the south side", "")
            .replace(", evidence: invoice", "")
            .replace("HH-0412", "HH-0413"),
    )
    .expect("written");
    let made = make(&[]);
    let told = String::from_utf8_lossy(&made.stderr).into_owned();
    assert!(told.contains("question[no-papers]"), "{told}");
    assert_eq!(made.status.code(), Some(0), "{told}");
}

#[test]
fn a_date_long_before_the_year_is_a_slip() {
    let out = Scratch::new("dated");
    let early =
        run(root(), &["packet", CASE, "--out", text(&out.0), "--dated", "2016-11-25", "--year", "2024"]);
    assert_eq!(early.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&early.stderr).contains("2016-11-25"));
    assert_eq!(fs::read_dir(&out.0).expect("a folder").count(), 0);
}

#[test]
fn a_packet_holds_worksheet_letters_data_case_law_and_papers() {
    let out = Scratch::new("holds");
    let made =
        run(root(), &["packet", CASE, "--out", text(&out.0), "--dated", "2026-11-25", "--year", "2024"]);
    assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
    let names: Vec<String> = files(&out.join("HH-0101-2024")).into_iter().map(|(name, _)| name).collect();
    for name in [
        "data/README.txt",
        "data/figures.csv",
        "data/figures.json",
        "data/firm.yaml",
        "data/law/2024.yaml",
        "data/letters/carryforward.pdf",
        "data/letters/papers-to-keep.pdf",
        "data/letters/results.pdf",
        "data/request.json",
        "data/solar-water-heater.case.yaml",
        "data/worksheet.pdf",
    ] {
        assert!(names.iter().any(|one| one == name), "{name} is missing from {names:?}");
    }
    let mut beside: Vec<String> = fs::read_dir(&out.0)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    beside.sort();
    assert_eq!(
        beside,
        ["HH-0101-2024", "HH-0101-2024.seal.pdf"],
        "nothing but its slip stands beside the packet"
    );
}

#[test]
fn the_same_inputs_give_the_same_bytes() {
    let (first, second) = (Scratch::new("bytes-1"), Scratch::new("bytes-2"));
    for out in [&first, &second] {
        let made = run(root(), &["packet", "demo", "--out", text(&out.0), "--dated", "2026-11-25"]);
        assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
    }
    let (first, second) = (files(&first.0), files(&second.0));
    assert!(first.len() > 80, "{} files", first.len());
    for (one, other) in first.iter().zip(&second) {
        assert_eq!(one.0, other.0);
        assert!(one.1 == other.1, "{} differs", one.0);
    }
    assert_eq!(first.len(), second.len());
}

#[test]
fn a_packet_is_never_overwritten_and_a_correction_counts_on() {
    let out = Scratch::new("overwrite");
    let packet = |more: &[&str]| {
        let mut arguments =
            vec!["packet", CASE, "--out", text(&out.0), "--dated", "2026-11-25", "--year", "2024"];
        arguments.extend(more);
        run(root(), &arguments)
    };
    assert_eq!(packet(&[]).status.code(), Some(0));
    let before = files(&out.0);
    let again = packet(&["--also", "html"]);
    assert_eq!(again.status.code(), Some(4));
    assert!(String::from_utf8_lossy(&again.stderr).contains("never overwritten"));
    assert_eq!(files(&out.0), before);
    assert_eq!(packet(&["--replaces", "HH-0101-2024", "--because", "a late rebate"]).status.code(), Some(0));
    let request = fs::read_to_string(out.join("HH-0101-2024-r2/data/request.json")).expect("a correction");
    assert!(request.contains("a late rebate"), "{request}");
}

#[test]
fn a_case_with_errors_makes_no_packet_but_a_draft() {
    let out = Scratch::new("errors");
    let case = out.join("bad.case.yaml");
    let good = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(CASE)).expect("the demo case");
    // The return of the middle year is taken away, so a balance passes through a year without one.
    let from = good.find("\n  2025:").expect("a return of 2025");
    let to = good[from + 1..].find("\n  2026:").map(|at| from + 1 + at).expect("a return of 2026");
    fs::write(&case, format!("{}{}", &good[..from], &good[to..])).expect("a bad case");
    let target = out.join("packets");
    let made = run(root(), &["packet", text(&case), "--out", text(&target), "--dated", "2026-11-25"]);
    assert_eq!(made.status.code(), Some(1), "{}", String::from_utf8_lossy(&made.stderr));
    let told = String::from_utf8_lossy(&made.stderr);
    assert!(told.contains("missing-return") && told.contains("2025"), "{told}");
    assert!(!target.exists(), "nothing is written");
}

#[test]
fn a_character_the_type_lacks_is_named_with_its_place() {
    let out = Scratch::new("character");
    let case = out.join("sign.case.yaml");
    let good = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(CASE)).expect("the demo case");
    let good = good.replace(", file: papers/", ", where: binder ");
    let bad = good.replace("collectors and tank", "collectors \u{6F22} and tank");
    let line = bad.lines().position(|line| line.contains('\u{6F22}')).expect("the character") + 1;
    fs::write(&case, bad).expect("a bad case");
    let target = out.join("packets");
    let made = run(
        root(),
        &["packet", text(&case), "--out", text(&target), "--dated", "2026-11-25", "--year", "2024"],
    );
    let told = String::from_utf8_lossy(&made.stderr).into_owned();
    assert_eq!(made.status.code(), Some(1), "{told}");
    assert!(told.contains(&format!("sign.case.yaml:{line}:")), "{told}");
    assert!(told.contains("the typeface of the papers has no \"\u{6F22}\", U+6F22"), "{told}");
    assert!(told.contains("write it with letters"), "{told}");
    assert!(!target.exists(), "nothing is written");
}

#[test]
fn a_draft_may_be_made_again() {
    let out = Scratch::new("draft");
    for _ in 0..2 {
        let made = run(root(), &["packet", CASE, "--out", text(&out.0), "--dated", "2026-11-25", "--draft"]);
        assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
    }
    assert!(out.join("HH-0101-2026-draft/DRAFT.txt").is_file());
    assert_eq!(fs::read_dir(&out.0).expect("a folder").count(), 1);
}

#[test]
fn why_reaches_receipts_and_law_for_every_amount() {
    let data = run(root(), &["figures", CASE, "--year", "2024", "--as", "json"]);
    let data: serde_json::Value = serde_json::from_slice(&data.stdout).expect("JSON");
    let mut asked = 0;
    for line in data["lines"].as_array().expect("lines") {
        if line["line"]
            .as_str()
            .is_some_and(|line| ["411", "440", "441", "540", "709", "812"].contains(&line))
        {
            let place = line["line"].as_str().expect("a line");
            let why = run(root(), &["why", CASE, place, "--year", "2024"]);
            let told = String::from_utf8_lossy(&why.stdout).into_owned();
            assert_eq!(why.status.code(), Some(0), "{told}");
            assert!(told.contains("<- case: collectors and tank (") || place == "540", "{place}: {told}");
            assert!(told.contains("rests on: ") || told.contains("law of 2024"), "{place}: {told}");
            assert!(told.contains("\nSources\n"), "{place}: {told}");
            asked += 1;
        }
    }
    assert_eq!(asked, 6);
}

#[test]
fn a_file_that_is_not_there_and_a_line_that_is_not_there_are_told_kindly() {
    let gone = run(root(), &["check", "demo/gone.case.yaml"]);
    assert_eq!(gone.status.code(), Some(4));
    assert!(String::from_utf8_lossy(&gone.stderr).contains("demo/gone.case.yaml"));
    let line = run(root(), &["why", CASE, "999"]);
    assert_eq!(line.status.code(), Some(2));
    let unplanned = run(root(), &["why", CASE, "2024:101@roof-collector.99"]);
    assert_eq!(unplanned.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unplanned.stderr).contains("101@roof-collector.1"));
}

#[test]
fn pages_read_back_as_they_were_written() {
    let out = Scratch::new("pages");
    let made =
        run(root(), &["packet", CASE, "--out", text(&out.0), "--dated", "2026-11-25", "--year", "2024"]);
    assert_eq!(made.status.code(), Some(0));
    let worksheet = out.join("HH-0101-2024/data/worksheet.pdf");
    let read = Command::new("pdftotext")
        .args(["-layout", text(&worksheet), "-"])
        .output()
        .expect("pdftotext of poppler-utils runs");
    let words = String::from_utf8_lossy(&read.stdout).into_owned();
    for expected in ["10,086.00", "3,026.00", "1,540.00", "1,486.00", "Form 5695, line 15", "Page 1 of"] {
        assert!(words.contains(expected), "{expected} is not on the pages");
    }
}

/// A firm file in a folder of its own, with more keys and a logo of some bytes.
fn firm_folder(name: &str, more: &str, logo: Option<&[u8]>) -> (Scratch, PathBuf) {
    let desk = Scratch::new(name);
    let demo = include_str!("../demo/firm.yaml")
        .lines()
        .filter(|line| !line.starts_with("logo:"))
        .collect::<Vec<_>>()
        .join("\n")
        + "\n";
    let file = desk.join("firm.yaml");
    fs::write(&file, format!("{demo}{more}")).expect("written");
    if let Some(bytes) = logo {
        fs::write(desk.join("mark.png"), bytes).expect("written");
    }
    (desk, file)
}

const LOGO: &[u8] = include_bytes!("../demo/logo.png");

#[test]
fn a_logo_is_drawn_and_kept_with_the_packet() {
    let (desk, firm) = firm_folder("logo", "logo: mark.png\n", Some(LOGO));
    let out = desk.join("out");
    let made =
        run(root(), &["packet", CASE, "--out", text(&out), "--dated", "2026-11-12", "--firm", text(&firm)]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let files = files(&out);
    let kept = files.iter().find(|(name, _)| name.ends_with("data/mark.png")).expect("the logo is kept");
    assert_eq!(kept.1, LOGO);
    let (_, letter) = files.iter().find(|(name, _)| name.ends_with("letters/results.pdf")).expect("a letter");
    assert!(letter.windows(14).any(|part| part == b"/Subtype/Image"), "the logo stands in the letter");
}

#[test]
fn a_logo_that_cannot_be_used_is_told_with_its_place() {
    for (name, more, logo, wanted) in [
        ("logo-gone", "logo: other.png\n", None, "error[logo-unreadable]"),
        ("logo-out", "logo: ../mark.png\n", None, "error[logo-outside]"),
        ("logo-kind", "logo: mark.png\n", Some(&b"GIF89a"[..]), "error[logo-unusable]"),
        ("logo-none", "letterhead: logo\n", None, "error[missing-key]"),
    ] {
        let (desk, firm) = firm_folder(name, more, logo);
        let out = desk.join("out");
        let made = run(
            root(),
            &["packet", CASE, "--out", text(&out), "--dated", "2026-11-12", "--firm", text(&firm)],
        );
        let told = String::from_utf8_lossy(&made.stderr).into_owned();
        assert_eq!(made.status.code(), Some(1), "{told}");
        assert!(told.contains(wanted) && told.contains("firm.yaml:14:"), "{told}");
        assert!(!out.exists(), "nothing is written");
    }
}

#[cfg(unix)]
#[test]
fn a_logo_is_not_followed_out_of_its_folder() {
    let (desk, firm) = firm_folder("logo-link", "logo: mark.png\n", None);
    let elsewhere = Scratch::new("logo-elsewhere");
    fs::write(elsewhere.join("real.png"), LOGO).expect("written");
    std::os::unix::fs::symlink(elsewhere.join("real.png"), desk.join("mark.png")).expect("a link");
    let out = desk.join("out");
    let made =
        run(root(), &["packet", CASE, "--out", text(&out), "--dated", "2026-11-12", "--firm", text(&firm)]);
    assert!(String::from_utf8_lossy(&made.stderr).contains("error[logo-outside]"));
}

/// Copies the kit out into a folder of its own.
fn kit(name: &str) -> (Scratch, PathBuf) {
    let desk = Scratch::new(name);
    let folder = desk.join("kit");
    let made = run(root(), &["kit", text(&folder)]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    (desk, folder)
}

/// Changes words in a file of a kit.
fn edit(kit: &Path, file: &str, from: &str, to: &str) {
    let path = kit.join(file);
    let before = fs::read_to_string(&path).expect("a file of the kit");
    assert!(before.contains(from), "{file} has no `{from}`");
    fs::write(path, before.replacen(from, to, 1)).expect("written");
}

#[test]
fn a_kit_as_it_is_makes_the_same_pages_and_never_overwrites() {
    let (desk, folder) = kit("kit-same");
    let (plain, own) = (desk.join("plain"), desk.join("own"));
    for (out, more) in [(&plain, &[][..]), (&own, &["--kit", text(&folder)][..])] {
        let arguments = [&["packet", CASE, "--out", text(out), "--dated", "2026-11-12"][..], more].concat();
        let made = run(root(), &arguments);
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    }
    let (plain, own) = (files(&plain), files(&own));
    let pages = |files: &[(String, Vec<u8>)]| -> Vec<(String, Vec<u8>)> {
        files.iter().filter(|(name, _)| name.ends_with(".pdf") && name.contains("/data/")).cloned().collect()
    };
    assert!(pages(&plain).len() > 2);
    assert!(pages(&plain) == pages(&own), "the built-in texts make the same pages from a folder");
    let kept: Vec<&String> =
        own.iter().map(|(name, _)| name).filter(|name| name.contains("data/kit/")).collect();
    assert!(kept.iter().any(|name| name.ends_with("data/kit/letters/en/results.md")), "{kept:?}");
    assert!(kept.iter().any(|name| name.ends_with("data/kit/layouts/worksheet.yaml")), "{kept:?}");
}

/// Whoever edits a kit reads all mistakes at once, each where it stands: what looks alike on the line above is not taken
/// for it.
#[test]
fn every_mistake_in_a_kit_is_told_in_one_run_where_it_stands() {
    const LOOK_ALIKE: &str = "      - rule: basis\n      - rule: basi\n";
    let (_desk, folder) = kit("kit-mistakes");
    let layout = fs::read_to_string(folder.join("layouts/worksheet.yaml")).expect("a layout");
    // On line 251 a rule is misspelled, below one that begins like it.
    let before =
        layout.lines().position(|line| line.contains("rule: improvement.no_carryforward")).expect("a rule");
    let comments = "      # ours\n".repeat(248 - before);
    let moved: String = layout
        .split_inclusive('\n')
        .enumerate()
        .flat_map(|(n, line)| {
            [line, if n == before { &comments } else { "" }, if n == before { LOOK_ALIKE } else { "" }]
        })
        .collect();
    assert_eq!(moved.lines().nth(250).map(str::trim), Some("- rule: basi"));
    fs::write(folder.join("layouts/worksheet.yaml"), moved).expect("written");
    let mistakes = [
        ("layouts/worksheet.yaml", "rule: basi\n", "rule: basi\n", "basi", "did you mean `basis`?"),
        ("layouts/worksheet.yaml", "lines: [501]", "lines: [599]", "599", "there is no line 599"),
        ("layouts/worksheet.yaml", "zero: show", "zero: shown", "shown", "did you mean `show`?"),
        ("letters/en/results.md", "kit: 1", "kit: 2", "2", "this program has kit 1"),
        (
            "letters/en/results.md",
            "when: has_return",
            "when: has_retrun",
            "has_retrun",
            "did you mean `has_return`?",
        ),
        ("letters/en/results.md", "unless: amends", "unless: []", "[]", "delete the key"),
        ("letters/es/words.yaml", "kit: 1", "kit: 2", "2", "this program has kit 1"),
        (
            "letters/es/words.yaml",
            "\"A la familia de {}\"",
            "\"A la familia\"",
            "\"A la familia\"",
            "have not the same blanks",
        ),
        (
            "letters/es/words.yaml",
            "\"DRAFT\": \"BORRADOR\"",
            "\"DRAFT\": [BORRADOR]",
            "[BORRADOR]",
            "takes one value",
        ),
    ];
    for (file, from, to, ..) in mistakes {
        edit(&folder, file, from, to);
    }
    let done = run(root(), &["check", CASE, "--kit", text(&folder)]);
    let told = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(1), "{told}");
    for (file, _, to, wrong, words) in mistakes {
        let path = folder.join(file);
        let have = fs::read_to_string(&path).expect("a file of the kit");
        let at = have.find(to).expect("the mistake") + to.find(wrong).expect("the wrong part");
        let line = have[..at].matches('\n').count() + 1;
        let column = have[..at].rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        let head = format!("{}:{line}:{column}\n", path.display());
        let one = told.split("\n\n").find(|one| one.contains(&head));
        assert!(one.is_some_and(|one| one.contains(words)), "{head} {words}\n{told}");
    }
    assert_eq!(told.matches("error[").count(), mistakes.len(), "{told}");
}

#[test]
fn a_kit_is_whole_or_not_there_and_made_again_it_overwrites_nothing() {
    let (desk, folder) = kit("kit-again");
    let out = |done: &Output| String::from_utf8_lossy(&done.stdout).into_owned();
    let before = files(&folder);
    let again = run(root(), &["kit", text(&folder)]);
    assert_eq!(again.status.code(), Some(0), "{}", String::from_utf8_lossy(&again.stderr));
    assert!(out(&again).contains(&format!("{} files as built in", before.len())), "{}", out(&again));
    edit(&folder, "letters/en/results.md", "## What to do", "## Next steps with our office");
    fs::remove_file(folder.join("letters/es/open-window.md")).expect("removed");
    let edited = files(&folder);
    let again = run(root(), &["kit", text(&folder)]);
    assert!(out(&again).contains("1 yours, and left as they are: letters/en/results.md"), "{}", out(&again));
    assert!(out(&again).contains("1 not there; `--missing` adds them: letters/es/open-window.md"));
    assert!(files(&folder) == edited, "nothing is written unasked");
    let added = run(root(), &["kit", text(&folder), "--missing"]);
    assert!(out(&added).contains("1 added: letters/es/open-window.md"), "{}", out(&added));
    assert_eq!(files(&folder).len(), before.len());
    edit(&folder, "letters/en/results.md", "## Next steps with our office", "## What to do");
    assert!(files(&folder) == before, "the person's own words stayed, the rest is as built in");
    // What is no kit, and what cannot be one.
    fs::create_dir(desk.join("other")).expect("a folder");
    fs::write(desk.join("other/notes.txt"), "notes").expect("written");
    fs::create_dir(desk.join("empty")).expect("a folder");
    let refused = run(root(), &["kit", text(&desk.join("other"))]);
    assert_eq!(refused.status.code(), Some(4));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("holds other files and no kit"));
    let file = run(root(), &["kit", text(&desk.join("other/notes.txt"))]);
    assert_eq!(file.status.code(), Some(4));
    assert!(String::from_utf8_lossy(&file.stderr).contains("help: name a folder"));
    assert_eq!(run(root(), &["kit", text(&desk.join("empty"))]).status.code(), Some(0));
    assert!(files(&desk.join("empty")) == before);
}

#[test]
fn a_folder_that_is_no_kit_is_an_error_and_what_a_kit_leaves_out_is_told() {
    let (desk, folder) = kit("kit-wrong");
    let err = |done: &Output| String::from_utf8_lossy(&done.stderr).into_owned();
    fs::create_dir(desk.join("wrong")).expect("a folder");
    let made = |kit: &Path| {
        let place = desk.join("out");
        let arguments = ["packet", CASE, "--out", text(&place), "--dated", "2026-11-12", "--draft", "--kit"];
        run(root(), &[&arguments[..], &[text(kit)]].concat())
    };
    let letters = folder.join("letters");
    for wrong in [desk.join("wrong"), letters, desk.0.clone(), desk.join("nowhere")] {
        for done in [made(&wrong), run(root(), &["check", CASE, "--kit", text(&wrong)])] {
            assert_eq!(done.status.code(), Some(4), "{}: {}", wrong.display(), err(&done));
            assert!(err(&done).contains("gablework kit"), "{}: {}", wrong.display(), err(&done));
        }
    }
    assert!(!desk.join("out").exists());
    let whole = made(&folder);
    assert_eq!(whole.status.code(), Some(0), "{}", err(&whole));
    assert!(!err(&whole).contains("note: the kit"), "{}", err(&whole));
    fs::remove_file(folder.join("letters/en/open-window.md")).expect("removed");
    fs::remove_dir_all(folder.join("letters/es")).expect("removed");
    fs::write(folder.join("letters/en/ours.md.txt"), "no letter").expect("written");
    let told = made(&folder);
    assert_eq!(told.status.code(), Some(0), "{}", err(&told));
    for words in [
        "leaves out, so that they are not made or used: letters/en/open-window.md",
        "does not hold, so that they are taken as built in: letters/es",
        "also holds what is not read: letters/en/ours.md.txt",
    ] {
        assert!(err(&told).contains(words), "{words}: {}", err(&told));
    }
}

#[test]
fn an_edited_kit_is_used_and_kept() {
    let (desk, folder) = kit("kit-edited");
    edit(&folder, "letters/en/results.md", "## What to do", "## Next steps with our office");
    edit(&folder, "layouts/worksheet.yaml", "sheets:", "# ours\nsheets:");
    let note =
        "---\nkit: 1\nwhen: carries_out\nsubject: A note of our own\n---\nHello, {{client.names_joined}}.\n";
    fs::write(folder.join("letters/en/zz-note.md"), note).expect("written");
    let out = desk.join("out");
    let made = run(
        root(),
        &[
            "packet",
            CASE,
            "--year",
            "2024",
            "--out",
            text(&out),
            "--dated",
            "2026-11-12",
            "--kit",
            text(&folder),
            "--also",
            "html,docx,xlsx",
        ],
    );
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let files = files(&out);
    let named = |end: &str| files.iter().find(|(name, _)| name.ends_with(end)).map(|(_, bytes)| bytes);
    let html = String::from_utf8(named("letters/results.html").expect("html").clone()).unwrap();
    assert!(html.contains("Next steps with our office"));
    assert!(named("letters/zz-note.pdf").is_some(), "a letter of the firm's own");
    assert!(named("letters/results.docx").expect("docx").starts_with(b"PK"));
    assert!(named("data/worksheet.xlsx").expect("xlsx").starts_with(b"PK"));
    let kept = named("data/kit/layouts/worksheet.yaml").expect("the layout is kept");
    assert!(String::from_utf8_lossy(kept).contains("# ours"));
    let request = String::from_utf8(named("data/request.json").unwrap().clone()).unwrap();
    assert!(request.contains("\"kit\": true") && request.contains("\"docx\""), "{request}");
}

#[test]
fn a_kit_may_leave_out_a_language_but_not_invent_one() {
    let (desk, folder) = kit("kit-language");
    fs::remove_dir_all(folder.join("letters/es")).expect("removed");
    let out = desk.join("out");
    let make = || {
        run(root(), &["packet", CASE, "--out", text(&out), "--dated", "2026-11-12", "--kit", text(&folder)])
    };
    assert!(make().status.success());
    fs::create_dir_all(folder.join("letters/xx")).expect("made");
    fs::copy(folder.join("letters/en/used-up.md"), folder.join("letters/xx/used-up.md")).expect("copied");
    let told = String::from_utf8_lossy(&make().stderr).into_owned();
    assert!(told.contains("error[template-language]") && told.contains("letters/xx/used-up.md"), "{told}");
}

#[test]
fn what_is_wrong_in_a_kit_is_told_with_file_line_and_column() {
    for (name, file, from, to, wanted) in [
        (
            "kit-name",
            "letters/en/results.md",
            "{{#if uses_any}}",
            "{{#if uses_some}}",
            "letters/en/results.md:11:7",
        ),
        (
            "kit-link",
            "letters/en/used-up.md",
            "## What to do",
            "[x](http://example.org)",
            "error[template-markup]",
        ),
        ("kit-number", "letters/es/used-up.md", "kit: 1", "kit: 2", "letters/es/used-up.md:2:6"),
        ("kit-words", "letters/es/words.yaml", "Atentamente,", "{}", "error[words-blanks]"),
        ("kit-fact", "layouts/worksheet.yaml", "show: ", "show: no_", "layouts/worksheet.yaml:"),
        ("kit-layout", "layouts/worksheet.yaml", "kit: 1", "kit: 9", "layouts/worksheet.yaml:"),
    ] {
        let (desk, folder) = kit(name);
        edit(&folder, file, from, to);
        let out = desk.join("out");
        let made = run(
            root(),
            &["packet", CASE, "--out", text(&out), "--dated", "2026-11-12", "--kit", text(&folder)],
        );
        let told = String::from_utf8_lossy(&made.stderr).into_owned();
        assert_eq!(made.status.code(), Some(1), "{name}: {told}");
        assert!(told.contains(wanted) && told.contains(text(&folder)), "{name}: {told}");
        assert!(!out.exists(), "{name}: nothing is written");
        let checked = run(root(), &["check", CASE, "--kit", text(&folder)]);
        assert_eq!(checked.status.code(), Some(1), "{name}");
    }
}

#[test]
fn what_only_writing_the_papers_shows_is_told_and_counts_for_strictness() {
    let out = Scratch::new("before-the-law");
    let asked = ["packet", CASE, "--out", text(&out.0), "--dated", "2026-01-05", "--year", "2024"];
    let made = run(root(), &[&asked[..], &["--strict"]].concat());
    let told = String::from_utf8_lossy(&made.stderr);
    assert_eq!(told.matches("warning[dated-before-law]").count(), 1, "{told}");
    assert!(told.contains("the papers are dated 2026-01-05, before the law they follow"), "{told}");
    assert_eq!(made.status.code(), Some(1), "{told}");
}
