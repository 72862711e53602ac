use super::super::write::{Readers, put};
use super::*;
use crate::scratch::Scratch;
use proptest::prelude::*;
use std::fs;
use std::path::PathBuf;

fn info() -> Info {
    let long = "Keep at least until 2030-04-15: three years after the 2026 return, the last to use the credit, is due";
    Info(vec![("Bagging-Date", "2026-11-25".to_string()), ("Internal-Sender-Description", long.to_string())])
}

/// Seals some files and puts them in a folder.
fn sealed(out: &Path, files: &[(&str, &[u8])]) -> (PathBuf, String) {
    let mut packet = Packet::new(crate::name::FileName::new("HH-1-2024").expect("a name"));
    for (path, bytes) in files {
        packet.add(path, *bytes);
    }
    let digest = seal(&mut packet, &info(), &BTreeMap::new()).expect("sealed");
    (put(out, &packet, Readers::Owner).expect("written"), digest)
}

fn told(folder: &Path) -> Vec<String> {
    check(folder).damage.iter().map(ToString::to_string).collect()
}

const FILES: [(&str, &[u8]); 4] = [
    ("data/a.txt", b"first"),
    ("data/letters/b c.txt", b"second"),
    ("data/letters/empty.txt", b""),
    ("data/papers/100% of it.txt", b"third"),
];

#[test]
fn a_sealed_packet_is_intact_and_its_digest_is_known_beforehand() {
    let scratch = Scratch::new("intact");
    let (place, digest) = sealed(&scratch.0, &FILES);
    let checked = check(&place);
    assert_eq!(checked.damage, []);
    assert_eq!(checked.digest.as_deref(), Some(digest.as_str()));
    assert_eq!(super::digest(&place).expect("a digest"), digest);
    assert_eq!(checked.payload.len(), 4);
    assert_eq!(checked.bytes(), 16);
    let description = fs::read_to_string(place.join(INFO_FILE)).expect("bag-info.txt");
    assert!(description.ends_with("Payload-Oxum: 16.4\n"), "{description}");
    assert!(description.lines().all(|line| line.chars().count() <= 79), "{description}");
    let manifest = fs::read_to_string(place.join("manifest-sha256.txt")).expect("a manifest");
    assert!(manifest.contains("  data/papers/100%25 of it.txt\n"), "{manifest}");
    // SHA-256 of nothing, as published in FIPS 180-4 examples.
    assert!(manifest.contains(
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855  data/letters/empty.txt\n"
    ));
}

#[test]
fn a_digest_known_already_is_not_worked_out_again() {
    let files: [(&str, &[u8]); 1] = [("data/a.txt", b"first")];
    let known = BTreeMap::from([("data/a.txt".to_string(), "0".repeat(64))]);
    let manifests = manifests(&files, &known, Algorithm::manifest);
    assert_eq!(manifests[0].1, format!("{}  data/a.txt\n", "0".repeat(64)).into_bytes());
}

#[test]
fn the_digest_stands_in_groups() {
    let digest: String = (0..16).map(|n| format!("{n:04x}")).collect();
    let groups = groups(&digest);
    assert_eq!(groups[0], ["0000", "0001", "0002", "0003"]);
    assert_eq!(groups[3], ["000c", "000d", "000e", "000f"]);
    assert_eq!(groups.concat().concat(), digest);
}

/// Every file, every byte of the seal, and some bytes of the payload: each changed in several ways.
#[test]
fn no_byte_can_be_altered() {
    let scratch = Scratch::new("bytes");
    let (place, _) = sealed(&scratch.0, &FILES);
    let names: Vec<String> = fs::read_dir(&place)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name != "data")
        .chain(FILES.iter().map(|(path, _)| (*path).to_string()))
        .collect();
    assert_eq!(names.len(), 10);
    let mut tried = 0;
    for name in &names {
        let file = place.join(name);
        let good = fs::read(&file).expect("a file");
        let mut tries: Vec<Vec<u8>> = Vec::new();
        // The tag manifests are the end of the chain, so each byte of them is tried; of other files some will do.
        let step = if name.starts_with("tagmanifest-") { 1 } else { good.len() / 20 + 1 };
        for at in (0..good.len()).step_by(step) {
            // Another bit, another case of letters, another blank, another line end, no text.
            let others = [good[at] ^ 1, good[at] ^ 0x20, b'\t', b'\r', 0xff];
            let mut bad = good.clone();
            bad[at] = others[at % others.len()];
            tries.push(bad);
        }
        tries.push([good.as_slice(), b"\n"].concat());
        tries.push([good.as_slice(), b" "].concat());
        if !good.is_empty() {
            tries.push(good[..good.len() - 1].to_vec());
            tries.push(Vec::new());
            tries.push([b"\xEF\xBB\xBF", good.as_slice()].concat());
        }
        for bad in tries.into_iter().filter(|bad| *bad != good) {
            fs::write(&file, &bad).expect("written");
            assert!(!check(&place).is_intact(), "{name}: {:?}", String::from_utf8_lossy(&bad));
            tried += 1;
        }
        fs::write(&file, &good).expect("written");
        fs::remove_file(&file).expect("removed");
        assert!(!check(&place).is_intact(), "{name} removed");
        fs::write(&file, &good).expect("written");
        let aside = place.join(format!("{name}x"));
        fs::rename(&file, &aside).expect("renamed");
        assert!(!check(&place).is_intact(), "{name} renamed");
        fs::rename(&aside, &file).expect("renamed");
    }
    assert!(tried > 900, "{tried}");
    assert_eq!(told(&place), Vec::<String>::new());
}

#[test]
fn what_was_added_is_told_wherever_it_lies() {
    let scratch = Scratch::new("added");
    let (place, _) = sealed(&scratch.0, &FILES);
    for name in ["data/new.txt", "data/letters/.hidden", "note.txt", "fetch.txt", "DRAFT.txt"] {
        fs::write(place.join(name), "new").expect("written");
        assert_eq!(told(&place), [format!("{name} was added")]);
        fs::remove_file(place.join(name)).expect("removed");
    }
    fs::write(place.join("manifest-md5.txt"), "").expect("written");
    assert_eq!(told(&place), ["manifest-md5.txt was added; a packet has no manifest of that kind"]);
    fs::remove_file(place.join("manifest-md5.txt")).expect("removed");
    fs::create_dir_all(place.join("data/more")).expect("made");
    assert_eq!(told(&place), ["the empty folder data/more was added"]);
    fs::remove_dir(place.join("data/more")).expect("removed");
    fs::create_dir_all(place.join("meta")).expect("made");
    fs::write(place.join("meta/x.txt"), "x").expect("written");
    assert_eq!(told(&place), ["meta/x.txt was added"]);
    fs::remove_dir_all(place.join("meta")).expect("removed");
    fs::write(place.join("~$results.docx"), "owner").expect("written");
    assert!(told(&place)[0].starts_with("~$results.docx was added; a word processor that has a letter open"));
    fs::remove_file(place.join("~$results.docx")).expect("removed");
}

/// Replaces both tag manifests after the lists were changed, as a forger would who forgets the slip.
fn seal_lists_again(place: &Path) {
    let tags: Vec<(String, Vec<u8>)> =
        [INFO_FILE, DECLARATION_FILE, "manifest-sha256.txt", "manifest-sha512.txt"]
            .iter()
            .filter_map(|name| Some(((*name).to_string(), fs::read(place.join(name)).ok()?)))
            .collect();
    let tags: Vec<(&str, &[u8])> =
        tags.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect();
    for (name, bytes) in manifests(&tags, &BTreeMap::new(), Algorithm::tag_manifest) {
        fs::write(place.join(name), bytes).expect("written");
    }
}

#[test]
fn a_list_that_leads_out_of_the_packet_is_told_and_not_followed() {
    let scratch = Scratch::new("out");
    let (place, _) = sealed(&scratch.0, &FILES);
    fs::write(scratch.0.join("secret.txt"), "secret").expect("written");
    let manifest = place.join("manifest-sha256.txt");
    let good = fs::read_to_string(&manifest).expect("a manifest");
    let digest = hex(&Sha256::digest("secret"));
    for (path, wanted) in [
        ("data/../../secret.txt", "names a path that leads out of the packet; it was not followed"),
        ("/etc/passwd", "names a path that leads out of the packet; it was not followed"),
        ("~/secret.txt", "names a path that leads out of the packet; it was not followed"),
        ("C:/secret.txt", "names a path that leads out of the packet; it was not followed"),
        ("data\\..\\..\\secret.txt", "names a path that no packet has"),
        ("data//secret.txt", "names a path that no packet has"),
        ("data/./secret.txt", "names a path that no packet has"),
        ("secret.txt", "names a file that does not belong there"),
        ("data/100%.txt", "has a percent sign that stands for nothing"),
        ("data/100%41.txt", "has a percent sign that stands for nothing"),
    ] {
        fs::write(&manifest, format!("{good}{digest}  {path}\n")).expect("written");
        seal_lists_again(&place);
        assert_eq!(told(&place), [format!("line 5 of manifest-sha256.txt {wanted}")], "{path}");
    }
    for (line, wanted) in [
        (format!("{digest}  data/a.txt"), "is out of order"),
        (format!("{digest}\n"), "is not a digest and a path"),
        (format!("{}  data/z.txt\n", &digest[1..]), "is not a digest and a path"),
        ("\n".to_string(), "is not a digest and a path"),
    ] {
        fs::write(&manifest, format!("{good}{line}")).expect("written");
        seal_lists_again(&place);
        assert!(told(&place).iter().any(|one| one.ends_with(wanted)), "{line:?}: {:?}", told(&place));
    }
    let first = good.lines().next().expect("a line");
    fs::write(&manifest, format!("{first}\n{good}")).expect("written");
    seal_lists_again(&place);
    assert_eq!(told(&place), ["line 2 of manifest-sha256.txt names a file a second time"]);
    // One list without a file of the other.
    fs::write(&manifest, good.replace(&format!("{first}\n"), "")).expect("written");
    seal_lists_again(&place);
    assert_eq!(told(&place), ["data/a.txt is not listed in manifest-sha256.txt"]);
    // A list with a million lines, and one with a line without end.
    fs::write(&manifest, format!("{good}{}", format!("{digest}  data/zz.txt\n").repeat(40_000)))
        .expect("written");
    let checked = check(&place);
    assert!(checked.damage.len() <= 200 && checked.more > 30_000, "{}", checked.more);
    fs::write(&manifest, format!("{good}{}", "a".repeat(100_000))).expect("written");
    assert!(told(&place).iter().any(|one| one.ends_with("is longer than any path")));
}

#[cfg(unix)]
#[test]
fn links_and_special_files_are_told_and_never_opened() {
    let scratch = Scratch::new("links");
    let (place, _) = sealed(&scratch.0, &FILES);
    let elsewhere = scratch.0.join("elsewhere.txt");
    fs::write(&elsewhere, "first").expect("written");
    // The same bytes as the file it stands for: only the link gives it away.
    fs::remove_file(place.join("data/a.txt")).expect("removed");
    std::os::unix::fs::symlink(&elsewhere, place.join("data/a.txt")).expect("a link");
    assert_eq!(
        told(&place),
        ["data/a.txt is missing", "data/a.txt is a link, and a packet has none; it was not followed"]
    );
    fs::remove_file(place.join("data/a.txt")).expect("removed");
    fs::write(place.join("data/a.txt"), "first").expect("written");
    std::os::unix::fs::symlink("..", place.join("data/round")).expect("a link");
    assert_eq!(told(&place), ["data/round is a link, and a packet has none; it was not followed"]);
    fs::remove_file(place.join("data/round")).expect("removed");
    let pipe =
        std::process::Command::new("mkfifo").arg(place.join("data/pipe")).status().expect("mkfifo runs");
    assert!(pipe.success());
    assert_eq!(told(&place), ["data/pipe is neither a file nor a folder; it was not opened"]);
}

#[test]
fn a_deep_tree_and_a_folder_without_anything_are_told() {
    let scratch = Scratch::new("deep");
    let (place, _) = sealed(&scratch.0, &FILES);
    fs::create_dir_all(place.join("data").join("d/".repeat(120))).expect("made");
    assert_eq!(told(&place), ["there is more in the folder than in any packet; the rest was not looked at"]);
    let empty = scratch.0.join("empty");
    fs::create_dir_all(&empty).expect("made");
    assert_eq!(told(&empty).len(), 6, "{:?}", told(&empty));
    assert!(check(&scratch.0.join("nowhere")).damage.iter().any(Damage::is_unreadable));
}

#[test]
fn names_that_no_folder_can_hold_are_refused_when_sealing() {
    for (names, wanted) in [
        (&["data/../x"][..], "leads out of the packet"),
        (&["/x"], "leads out of the packet"),
        (&["data/a\\b"], "means something else on other systems"),
        (&["data//b"], "a part of it is empty"),
        (&["data/a.txt", "data/A.txt"], "two files of the packet would have one name"),
        (&["data/a.txt", "data/a.txt"], "two files of the packet would have one name"),
        (&["data/e\u{301}.txt", "data/\u{e9}.txt"], "two files of the packet would have one name"),
    ] {
        let mut packet = Packet::new(crate::name::FileName::new("HH-1-2024").expect("a name"));
        names.iter().for_each(|name| packet.add(name, "x"));
        let refused = seal(&mut packet, &info(), &BTreeMap::new()).expect_err("refused");
        assert!(refused.reason.contains(wanted), "{refused:?}");
    }
}

fn awkward() -> impl Strategy<Value = String> {
    let part = prop::collection::vec(
        prop::sample::select(
            "abcXYZ019 -_.,;'\"!#$&()[]{}+=@^`~|*?<>:%\r\n\te\u{301}\u{e9}\u{fb01}\u{5d0}\u{200f}\u{1f3e0}\u{6f22}"
                .chars()
                .collect::<Vec<char>>(),
        ),
        1..12,
    )
    .prop_map(|chars| chars.into_iter().collect::<String>())
    .prop_filter("no part of a path", |part| part != "." && part != "..");
    prop::collection::vec(part, 1..4).prop_map(|parts| parts.join("/"))
}

/// Lays a bag down as somebody else's program would, whose names need not be ours.
fn laid_down(out: &Path, packet: &Packet) -> std::path::PathBuf {
    let place = out.join(&packet.name);
    for (path, bytes) in &packet.files {
        let file = place.join(path);
        fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        fs::write(file, bytes).expect("written");
    }
    place
}

proptest! {
    // Most of these names are refused when sealing, since one sign that some system refuses is enough.
    #![proptest_config(ProptestConfig { cases: 40, max_global_rejects: 50_000, ..ProptestConfig::default() })]

    /// Whatever a file is called, it is sealed, found intact, and found altered.
    #[test]
    fn awkward_names_go_there_and_back(
        files in prop::collection::btree_map(awkward(), prop::collection::vec(any::<u8>(), 0..40), 1..6),
    ) {
        let scratch = Scratch::new("names");
        let mut packet = Packet::new(crate::name::FileName::new("HH-1-2024").expect("a name"));
        for (path, bytes) in &files {
            packet.add(format!("data/{path}"), bytes.clone());
        }
        // A name that is a folder's as well, or another's in other letters, cannot stand.
        let names: Vec<String> = packet.files.iter().map(|(path, _)| path.to_lowercase()).collect();
        let clash = |one: &String| names.iter().any(|other| other.starts_with(&format!("{one}/")));
        prop_assume!(!names.iter().any(clash));
        prop_assume!(seal(&mut packet, &info(), &BTreeMap::new()).is_ok());
        let place = laid_down(&scratch.0, &packet);
        prop_assert_eq!(told(&place), Vec::<String>::new());
        let checked = check(&place);
        for (path, bytes) in &files {
            let content = &checked.payload[&composed(&format!("data/{path}"))];
            prop_assert_eq!(&fs::read(&content.place).expect("a file"), bytes);
        }
        let (first, content) = checked.payload.iter().next().expect("a file");
        fs::write(&content.place, "altered by somebody, and longer than any of them").expect("written");
        prop_assert_eq!(told(&place), vec![Damage::Altered(first.clone()).to_string()]);
    }

    /// A manifest of any bytes is no reason to fall over.
    #[test]
    fn any_bytes_may_stand_in_a_list(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let scratch = Scratch::new("garbage");
        let (place, _) = sealed(&scratch.0, &FILES);
        fs::write(place.join("manifest-sha512.txt"), &bytes).expect("written");
        prop_assert!(!check(&place).is_intact());
        fs::write(place.join("tagmanifest-sha256.txt"), &bytes).expect("written");
        prop_assert!(!check(&place).is_intact());
    }

    #[test]
    fn encoding_goes_there_and_back(path in "(?s).{0,40}") {
        let encoded = encode(&path);
        prop_assert!(!encoded.contains(['\r', '\n']));
        prop_assert_eq!(decode(&encoded), Some(path));
    }
}
