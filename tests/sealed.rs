//! Sealed packets: the seal as we and as an outside program see it, what the README in a packet says, corrections.
//!
//! The outside program is `bagit.py` from the Python index (BagIt, RFC 8493). As it is no program of a system's own, it is
//! asked only where `GABLEWORK_CHECKERS` names the folder it lies in, as `.ci/run` does; there it must be.

use gablework::packet::bag;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// A folder of its own for a test, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Scratch {
        let path = std::env::temp_dir().join(format!("gablework-sealed-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).expect("a scratch folder");
        Scratch(path)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gablework"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a scratch path is plain text")
}

fn said(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// The packets of all demo households, made once for all tests and only read by them.
fn demo() -> &'static Path {
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
        let made = run(&["packet", "demo", "--out", text(&folder), "--dated", "2026-11-25"]);
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

/// Every file below a folder, by its path there.
fn files(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(one) = folders.pop() {
        for entry in fs::read_dir(&one).expect("a folder") {
            let path = entry.expect("an entry").path();
            match path.is_dir() {
                true => folders.push(path),
                false => found.push(path.strip_prefix(folder).expect("below").to_string_lossy().into_owned()),
            }
        }
    }
    found.sort();
    found
}

fn copy(from: &Path, to: &Path) {
    for name in files(from) {
        let place = to.join(&name);
        fs::create_dir_all(place.parent().expect("a folder")).expect("made");
        fs::copy(from.join(&name), place).expect("copied");
    }
}

/// A copy of the packet of a demo household, to be altered.
fn one(scratch: &Scratch, name: &str) -> PathBuf {
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

/// A generator of numbers that look thrown (xorshift), the same in every run.
struct Thrown(u64);

impl Thrown {
    fn below(&mut self, most: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % most as u64) as usize
    }
}

/// Each file altered in its first, its last and some other byte, cut, emptied, lengthened, renamed and removed; files
/// added: we see all of it. The outside program is asked about a part, because it starts slowly, and about what it
/// can see: not a tag manifest that is gone, nor other blanks or letters of digits in one, nor a file beside `data`.
#[test]
fn whatever_is_done_to_a_packet_we_and_others_see_it() {
    let scratch = Scratch::new("altered");
    let packet = one(&scratch, "HH-0103-2025");
    let mut thrown = Thrown(20_261_127);
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
    for (n, name) in files(&packet).iter().enumerate() {
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
    for name in files(&packet.join("data")) {
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
        let case = files(&packet.join("data"))
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
    let made = run(&["packet", text(&case), "--out", text(&scratch.0.join("out")), "--dated", "2026-11-25"]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let (here, there) = (scratch.0.join("out/HH-0101-2026"), demo().join("HH-0101-2026"));
    assert_eq!(files(&here), files(&there));
    for name in files(&here) {
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
    let made = run(&["packet", text(&case), "--out", text(&out), "--dated", "2026-11-25"]);
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
        run(&arguments)
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
