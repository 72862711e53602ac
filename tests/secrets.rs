//! What stays private: a full taxpayer number is refused wherever it stands and shown nowhere, in whatever form it is
//! written; output is for its owner alone; nothing is left behind, and nothing goes out.

use crate::support::program::{run, said};
use crate::support::scratch::Scratch;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// An invented number, as people write it, each with what a reader would know it by.
const FORMS: &[(&str, &str)] = &[
    ("123-45-6789", "hyphens"),
    ("123 45 6789", "blanks"),
    ("123.45.6789", "points"),
    ("123\u{2011}45\u{2011}6789", "hyphens that do not break"),
    ("123\u{2013}45\u{2013}6789", "dashes"),
    ("123\u{a0}45\u{a0}6789", "blanks that do not break"),
    ("12\u{200b}3-45-67\u{ad}89", "characters of no width inside"),
    ("\u{ff11}\u{ff12}\u{ff13}-\u{ff14}\u{ff15}-\u{ff16}\u{ff17}\u{ff18}\u{ff19}", "wide digits"),
    ("\u{661}\u{662}\u{663}-\u{664}\u{665}-\u{666}\u{667}\u{668}\u{669}", "Arabic digits"),
    ("123.45-6789", "a period and a hyphen"),
    ("123--45--6789", "hyphens twice"),
    ("123   45   6789", "three blanks"),
    ("1-123-45-6789", "a number before it"),
    ("123-45-6789/987-65-4321", "two of them"),
    ("(123) 45-6789", "as a telephone number"),
    ("SS# 1234 56789", "a short word before it"),
    ("S.S.N. 123456789", "letters with periods before it"),
    ("soc. sec. no. 123456789", "words cut short before it"),
    ("Seguro Social 123456-789", "Spanish words before it"),
    ("n\u{fa}mero de seguro social 123456789", "Spanish words with accents before it"),
    ("123-45-678O", "a letter typed for a digit"),
];

/// Says whether a text still tells the number: its first five digits in order, in any script.
fn tells(text: &str) -> bool {
    let zeros = ['0', '\u{ff10}', '\u{660}'].map(u32::from);
    let digits: String = text
        .chars()
        .filter(|c| {
            !matches!(
                c,
                '\u{200b}' | '\u{ad}' | '-' | ' ' | '.' | '\u{a0}' | '\u{2011}' | '\u{2013}' | '\u{fffd}'
            )
        })
        .map(|c| {
            zeros.iter().find_map(|zero| char::from_digit(u32::from(c).wrapping_sub(*zero), 10)).unwrap_or(c)
        })
        .collect();
    digits.contains("12345")
}

fn case(extra: &str) -> String {
    format!(
        "format: 1\nclient:\n  reference: HH-0412\n  people: [{{name: Ana Alder}}]\nhomes:\n  h: {{use: main_home, held_as: owner, address: {{street: \
         1 Mill Street, city: Riverton, state: MA, zip: '01040'}}}}\nproperty:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: \
         existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-05-20\n    costs: [{{item: panels, as: equipment, amount: \
         10000}}]\nreturns:\n  2025: {{filing_status: single, tax_before_credits: 5000}}\n{extra}"
    )
}

const FIRM: &str = "name: Larkspur Tax\naddress: {street: 208 Mill Street, city: Harlow Falls, state: VT, zip: '05099'}\nphone: 802-555-0137\n\
    signatory: Ruth Hensley\n";

#[test]
fn a_full_number_is_refused_wherever_it_stands_and_shown_nowhere() {
    let scratch = Scratch::new("secrets");
    fs::write(scratch.join("good.case.yaml"), case("")).expect("a case");
    let done = run(&scratch.0, &["kit", "kit"]);
    assert!(done.status.success(), "{}", said(&done));
    let letter = fs::read_to_string(scratch.join("kit/letters/en/results.md")).expect("a letter");
    let layout = fs::read_to_string(scratch.join("kit/layouts/worksheet.yaml")).expect("a layout");
    for (n, (number, form)) in FORMS.iter().enumerate() {
        let mut wrong = vec![
            ("a comment", case(&format!("# {number}\n"))),
            ("a name", case("").replace("Ana Alder", &format!("Ana {number}"))),
            ("a cost", case("").replace("panels", &format!("'panels {number}'"))),
            ("an unknown key", case(&format!("\"{number}\": x\n"))),
            ("a wrong amount", case("").replace("10000", &format!("'{number}'"))),
            ("a wrong date", case("").replace("2025-05-20", &format!("'{number}'"))),
            (
                "a path",
                case(&format!("evidence: {{p: {{type: invoice, on_file: true, file: '{number}.pdf'}}}}\n")),
            ),
            ("bad YAML", case(&format!("evidence: {{p: {number}\n"))),
        ];
        if number.is_ascii() {
            let escaped: String = number.chars().map(|c| format!("\\x{:02x}", u32::from(c))).collect();
            wrong.push(("escapes", case("").replace("Ana Alder", &format!("\"Ana {escaped}\""))));
        }
        for (where_, text) in wrong {
            let file = format!("bad-{n}.case.yaml");
            fs::write(scratch.join(&file), text).expect("a case");
            for arguments in [
                vec!["check", &file],
                vec!["check", &file, "--as", "json"],
                vec!["figures", &file, "--as", "json"],
                vec!["figures", &file, "--as", "csv"],
                vec!["packet", &file, "--draft", "--dated", "2026-03-02", "--out", "out"],
            ] {
                let done = run(&scratch.0, &arguments);
                assert_eq!(done.status.code(), Some(1), "{form} in {where_}, {arguments:?}: {}", said(&done));
                assert!(!tells(&said(&done)), "{form} in {where_}, {arguments:?}: {}", said(&done));
                assert!(!scratch.join("out").exists(), "{form} in {where_}: a packet stands");
            }
        }
        // The firm's file, its letters and its layout.
        fs::write(scratch.join("firm-bad.yaml"), FIRM.replace("Larkspur Tax", &format!("Larkspur {number}")))
            .expect("a file");
        let bad_letter = letter.replacen("## ", &format!("Call {number}.\n\n## "), 1);
        let bad_layout = format!("{layout}# {number}\n");
        let packet = ["packet", "good.case.yaml", "--draft", "--dated", "2026-03-02", "--out", "out"];
        let with_firm = [&packet[..], &["--firm", "firm-bad.yaml"]].concat();
        let with_kit = [&packet[..], &["--kit", "kit"]].concat();
        let done = run(&scratch.0, &with_firm);
        assert!(
            done.status.code() == Some(1) && !tells(&said(&done)),
            "{form} in the firm's file: {}",
            said(&done)
        );
        for (path, bad, good) in [
            ("kit/letters/en/results.md", &bad_letter, &letter),
            ("kit/layouts/worksheet.yaml", &bad_layout, &layout),
        ] {
            assert_ne!(bad, good);
            fs::write(scratch.join(path), bad).expect("a file of the kit");
            let done = run(&scratch.0, &with_kit);
            assert!(
                done.status.code() == Some(1) && !tells(&said(&done)),
                "{form} in {path}: {}",
                said(&done)
            );
            fs::write(scratch.join(path), good).expect("a file of the kit");
        }
        assert!(!scratch.join("out").exists(), "{form}: a packet stands");
    }
}

/// Under `tin`, whatever has more than four digits is covered but for the last four, and nothing is made.
#[test]
fn under_tin_nothing_is_shown_but_the_last_four() {
    let scratch = Scratch::new("secret-tin");
    for tin in [
        "123-45-67890",
        "123-45-678O",
        "(123) 45-6789",
        "'12345'",
        "1234567",
        "[123, 45, 6789]",
        "['123-45', '6789']",
        "{a: 123-45, b: 6789}",
        "123x45x6789",
        "'1 2 3 4 5 6 7 8 9'",
        "\"\\x31\\x32\\x33\\x34\\x35678\"",
        "|\n      123\n      45\n      6789",
        "\n      - 123-45\n      - 6789",
        "12345678\u{666}",
        "123-45-6789: [",
        "{123-45-678O",
        "***-**-4410 123-45",
        "4410 or 4411",
    ] {
        let text = case("").replace(
            "  people: [{name: Ana Alder}]",
            &format!("  people:\n  - name: Ana Alder\n    tin: {tin}"),
        );
        assert!(text.contains("tin:"));
        fs::write(scratch.join("a.case.yaml"), text).expect("a case");
        for arguments in [
            &["check", "a.case.yaml"][..],
            &["check", "a.case.yaml", "--as", "json"],
            &["figures", "a.case.yaml", "--as", "json"],
            &["register", ".", "--with-names", "--as", "json"],
            &["packet", "a.case.yaml", "--draft", "--dated", "2026-03-02", "--out", "out"],
        ] {
            let done = run(&scratch.0, arguments);
            let told = said(&done);
            assert_eq!(done.status.code(), Some(1), "{tin}: {arguments:?}: {told}");
            assert!(
                !tells(&told) && !told.replace("-1234", "").contains("123") && !told.contains("\\x3"),
                "{tin}: {arguments:?}: {told}"
            );
            assert!(!scratch.join("out").exists(), "{tin}: a packet stands");
        }
    }
    for tin in ["'678O'", "xxx-xx-67", "masked"] {
        let text = case("").replace("{name: Ana Alder}", &format!("{{name: Ana Alder, tin: {tin}}}"));
        fs::write(scratch.join("a.case.yaml"), text).expect("a case");
        let done =
            run(&scratch.0, &["packet", "a.case.yaml", "--draft", "--dated", "2026-03-02", "--out", "out"]);
        assert_eq!(done.status.code(), Some(1), "{tin}: {}", said(&done));
        assert!(said(&done).contains("tin-form") && !scratch.join("out").exists(), "{tin}: {}", said(&done));
    }
}

/// A byte that is no text, inside a number, shows neither part of it.
#[test]
fn a_byte_that_is_no_text_does_not_show_a_number() {
    let scratch = Scratch::new("secret-byte");
    for at in 0..=11 {
        for bad in [&[0xff][..], &[0xe2, 0x80], &[0xc3], &[0xff, 0xfe, 0xff]] {
            let mut bytes = case("").into_bytes();
            bytes.extend(b"# his number is ");
            bytes.extend(&b"123-45-6789"[..at]);
            bytes.extend(bad);
            bytes.extend(&b"123-45-6789"[at..]);
            bytes.extend(b"\n");
            fs::write(scratch.join("a.case.yaml"), bytes).expect("a case");
            let done = run(&scratch.0, &["check", "a.case.yaml"]);
            let told = said(&done);
            assert_eq!(done.status.code(), Some(1), "{told}");
            assert!(
                told.contains("not-utf-8") && !tells(&told) && !told.contains("45"),
                "{at} {bad:?}: {told}"
            );
        }
    }
}

#[test]
fn a_full_number_in_a_files_name_is_refused() {
    let scratch = Scratch::new("secret-name");
    fs::write(scratch.join("Alder 123-45-6789.case.yaml"), case("")).expect("a case");
    let done =
        run(&scratch.0, &["packet", "Alder 123-45-6789.case.yaml", "--draft", "--dated", "2026-03-02"]);
    assert_eq!(done.status.code(), Some(1), "{}", said(&done));
    assert!(said(&done).contains("stands in the name `Alder xxx-xx-6789.case.yaml`"), "{}", said(&done));
    assert!(!scratch.join("packets").exists());
}

/// Two cases of one reference, in a folder that bears a number and a file that does: every command names their paths.
#[test]
fn a_full_number_in_a_path_is_shown_nowhere() {
    let scratch = Scratch::new("secret-path");
    fs::create_dir_all(scratch.join("all/Alder 123-45-6789")).expect("a folder");
    for name in ["all/Alder 123-45-6789/a.case.yaml", "all/b 123-45-6789.case.yaml", "all/c.case.yaml"] {
        fs::write(scratch.join(name), case("")).expect("a case");
    }
    for line in [
        "check all",
        "check all --as json",
        "packet all --dated 2026-03-02",
        "register all --on 2026-03-02",
        "register all --on 2026-03-02 --as csv",
        "register all --on 2026-03-02 --as json",
        "remind all --for 2026 --dated 2026-03-02 --out season",
        "figures 123-45-6789",
        "verify 123-45-6789",
    ] {
        let done = run(&scratch.0, &line.split(' ').collect::<Vec<_>>());
        assert_ne!(done.status.code(), Some(0), "{line}: {}", said(&done));
        assert!(!tells(&said(&done)), "{line}: {}", said(&done));
    }
    let alone = run(&scratch.0, &["check", "all/Alder 123-45-6789"]);
    assert!(said(&alone).contains("Alder xxx-xx-6789"), "{}", said(&alone));
    assert!(!tells(&said(&alone)), "{}", said(&alone));
    for written in below(&scratch.join("season")) {
        let text = fs::read(&written).map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
        assert!(text.is_ok_and(|text| !tells(&text)), "{}", written.display());
    }
}

#[test]
fn begin_keeps_no_full_number() {
    let scratch = Scratch::new("secret-begin");
    let typed = "HH-7\nAna 123-45-6789\nAna Alder 123456789\nAna Alder 4410\n";
    let mut child = Command::new(env!("CARGO_BIN_EXE_gablework"))
        .args(["begin", "--plain", "--dated", "2026-11-12"])
        .current_dir(&scratch.0)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    std::io::Write::write_all(&mut child.stdin.take().expect("input"), typed.as_bytes()).expect("typing");
    let done = child.wait_with_output().expect("an end");
    assert_eq!(done.status.code(), Some(130), "{}", said(&done));
    let kept = fs::read_to_string(scratch.join("HH-7.case.begun")).expect("kept answers");
    assert!(kept.contains("Ana Alder") && kept.contains("4410"), "{kept}");
    assert!(!tells(&kept) && !tells(&said(&done)), "{kept}\n{}", said(&done));
}

/// Every file and folder below one.
fn below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() && !path.is_symlink() {
                open.push(path.clone());
            }
            found.push(path);
        }
    }
    found
}

#[cfg(unix)]
#[test]
fn output_is_for_its_owner_alone_and_nothing_is_left_behind() {
    use std::os::unix::fs::PermissionsExt;
    let scratch = Scratch::new("private");
    let (home, temporary) = (scratch.join("home"), scratch.join("temporary"));
    fs::create_dir_all(&home).and_then(|()| fs::create_dir_all(&temporary)).expect("folders");
    fs::write(scratch.join("good.case.yaml"), case("")).expect("a case");
    let before = below(&scratch.0).len();
    for arguments in [
        &[
            "packet",
            "good.case.yaml",
            "--draft",
            "--dated",
            "2026-03-02",
            "--also",
            "html,docx,xlsx",
            "--out",
            "made/packets",
        ][..],
        &["check", "good.case.yaml"],
        &["kit", "made/kit"],
    ] {
        let done = Command::new(env!("CARGO_BIN_EXE_gablework"))
            .current_dir(&scratch.0)
            .env("TMPDIR", &temporary)
            .env("HOME", &home)
            .args(arguments)
            .output()
            .expect("the program runs");
        assert_eq!(done.status.code(), Some(0), "{}", said(&done));
    }
    let made = below(&scratch.join("made"));
    assert!(made.len() > 20);
    assert_eq!(below(&scratch.0).len(), before + made.len() + 1, "something is left beside what was made");
    for path in made.iter().filter(|path| path.starts_with(scratch.join("made/packets"))) {
        let mode = fs::metadata(path).expect("a file").permissions().mode() & 0o777;
        assert_eq!(mode & 0o077, 0, "{} is open to others: {mode:o}", path.display());
        if path.extension().is_some_and(|ending| ending == "pdf") {
            // Properties are shown by file lists and search engines; the client stands on the paper alone.
            let properties = Command::new("pdfinfo").args(["-meta".as_ref(), path.as_os_str()]).output();
            let short = Command::new("pdfinfo").arg(path).output().expect("pdfinfo (poppler-utils) runs");
            let told = said(&properties.expect("pdfinfo (poppler-utils) runs")) + &said(&short);
            assert!(told.contains("HH-0412") && !told.contains("Ana") && !told.contains("Alder"), "{told}");
        }
    }
}

/// A name is shown before anything is read, so it may not give orders to the terminal.
#[cfg(unix)]
#[test]
fn a_files_name_gives_no_orders() {
    let scratch = Scratch::new("orders");
    for name in ["a\u{1b}[31m.case.yaml", "a\u{202e}b.case.yaml", "a\nb.case.yaml"] {
        fs::write(scratch.join(name), case("")).expect("a case");
    }
    for command in [&["check", "."][..], &["packet", ".", "--draft", "--dated", "2026-03-02"]] {
        let done = run(&scratch.0, command);
        assert_eq!(done.status.code(), Some(1), "{}", said(&done));
        assert!(!said(&done).contains(['\u{1b}', '\u{202e}']), "{:?}", said(&done));
        assert_eq!(
            said(&done).matches("holds a character that cannot be seen").count(),
            3,
            "{}",
            said(&done)
        );
    }
}

/// What a case names is read only where it may lie; a pipe is not waited for.
#[cfg(unix)]
#[test]
fn papers_and_logos_are_plain_files_inside() {
    use std::os::unix::fs::symlink;
    let scratch = Scratch::new("papers");
    fs::create_dir_all(scratch.join("case/papers")).expect("folders");
    fs::write(scratch.join("secret.pdf"), "secret").expect("a file");
    symlink(scratch.join("secret.pdf"), scratch.join("case/papers/link.pdf")).expect("a link");
    symlink("/dev/zero", scratch.join("case/papers/zero.pdf")).expect("a link");
    let pipe = Command::new("mkfifo").arg(scratch.join("case/papers/pipe.pdf")).status();
    assert!(pipe.expect("mkfifo runs").success());
    let large = fs::File::create(scratch.join("case/papers/large.pdf")).expect("a file");
    large.set_len(60_000_000).expect("a size");
    for (file, code) in [
        ("papers/link.pdf", "paper-outside"),
        ("papers/zero.pdf", "paper-outside"),
        ("papers/pipe.pdf", "paper-unreadable"),
        ("papers", "paper-unreadable"),
        ("papers/none.pdf", "paper-unreadable"),
        ("papers/large.pdf", "paper-too-large"),
        ("../secret.pdf", "file-path"),
    ] {
        let evidence =
            format!("evidence: {{p: {{type: invoice, on_file: true, items: [a], file: {file}}}}}\n");
        fs::write(scratch.join("case/a.case.yaml"), case(&evidence)).expect("a case");
        let arguments = ["packet", "case/a.case.yaml", "--draft", "--dated", "2026-03-02", "--out", "out"];
        let done = run(&scratch.0, &arguments);
        assert!(said(&done).contains(&format!("error[{code}] case/a.case.yaml:")), "{file}: {}", said(&done));
        assert!(
            !said(&done).contains("secret\n") && !scratch.join("out").exists(),
            "{file}: {}",
            said(&done)
        );
    }
}

/// The program opens no connection: nothing in it names what could.
#[test]
fn nothing_goes_out() {
    let sources = below(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    let shipped = |path: &&PathBuf| {
        path.extension().is_some_and(|ending| ending == "rs") && !path.ends_with("tests.rs")
    };
    for path in sources.iter().filter(shipped) {
        let text = fs::read_to_string(path).expect("a source");
        for name in ["std::net", "TcpStream", "UdpSocket", "UnixStream", "process::Command"] {
            assert!(!text.contains(name), "{} names {name}", path.display());
        }
    }
}
