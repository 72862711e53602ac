use super::*;
use crate::scratch::{Scratch, names};

fn packet(text: &str, draft: bool) -> Packet {
    let mut packet = Packet::new(crate::name::FileName::new("HH-1-2024").expect("a name"));
    packet.add("data/a.txt", text);
    packet.add("data/law/2024.yaml", "law");
    if draft {
        packet.add(DRAFT_MARK, "draft");
    }
    packet
}

#[test]
fn what_stands_is_never_overwritten() {
    let scratch = Scratch::new("stands");
    let out = scratch.join("out");
    let put = |packet: &Packet| put(&out, packet, Readers::Owner);
    put(&packet("first", false)).unwrap();
    assert!(matches!(put(&packet("second", false)), Err(Trouble::Stands(_))));
    assert!(matches!(put(&packet("second", true)), Err(Trouble::Stands(_))));
    assert_eq!(fs::read_to_string(out.join("HH-1-2024/data/a.txt")).unwrap(), "first");
    assert_eq!(names(&out), ["HH-1-2024"]);
}

#[test]
fn a_file_stands_whole_and_is_replaced_only_when_told() {
    let scratch = Scratch::new("file");
    let out = scratch.join("out");
    let put = |text: &str, replace| put_file(&out.join("list.csv"), text.as_bytes(), replace, Readers::Owner);
    put("first", false).unwrap();
    assert!(matches!(put("second", false), Err(Trouble::Stands(_))));
    assert_eq!(fs::read_to_string(out.join("list.csv")).unwrap(), "first");
    put("second", true).unwrap();
    assert_eq!(fs::read_to_string(out.join("list.csv")).unwrap(), "second");
    assert_eq!(names(&out), ["list.csv"]);
}

#[test]
fn a_growing_file_shows_only_when_it_is_whole() {
    let scratch = Scratch::new("growing");
    let out = scratch.join("out");
    let place = out.join("rows.csv");
    let mut growing = Growing::begin(&place, false, Readers::Owner).unwrap();
    growing.add(b"one\n").unwrap();
    assert!(!place.exists());
    drop(growing);
    assert!(names(&out).is_empty(), "what was given up is gone");
    let mut growing = Growing::begin(&place, false, Readers::Owner).unwrap();
    growing.add(b"one\n").unwrap();
    growing.add(b"two\n").unwrap();
    growing.finish().unwrap();
    assert_eq!(fs::read_to_string(&place).unwrap(), "one\ntwo\n");
    assert_eq!(names(&out), ["rows.csv"]);
}

#[test]
fn a_draft_takes_the_place_of_a_draft_and_leaves_nothing_beside() {
    let scratch = Scratch::new("draft");
    let out = scratch.join("out");
    put(&out, &packet("first", true), Readers::Owner).unwrap();
    put(&out, &packet("second", true), Readers::Owner).unwrap();
    assert_eq!(fs::read_to_string(out.join("HH-1-2024/data/a.txt")).unwrap(), "second");
    assert_eq!(names(&out), ["HH-1-2024"]);
}

#[cfg(unix)]
#[test]
fn nobody_but_those_named_may_read_and_a_shared_folder_hands_its_group_down() {
    use std::os::unix::fs::PermissionsExt;
    let scratch = Scratch::new("readers");
    let out = scratch.join("out");
    let mode = |path: &str| fs::metadata(out.join(path)).unwrap().permissions().mode() & 0o7777;
    for (readers, folder, file) in [(Readers::Owner, 0o700, 0o600), (Readers::Group, 0o750, 0o640)] {
        put(&out, &packet("text", false), readers).unwrap();
        put_file(&out.join("list.csv"), b"rows", false, readers).unwrap();
        assert_eq!(mode(""), folder);
        assert_eq!(mode("HH-1-2024"), folder);
        assert_eq!(mode("HH-1-2024/data/law"), folder);
        assert_eq!(mode("HH-1-2024/data/a.txt"), file);
        assert_eq!(mode("list.csv"), file);
        fs::remove_dir_all(&out).unwrap();
    }
    fs::create_dir_all(&out).unwrap();
    fs::set_permissions(&out, fs::Permissions::from_mode(0o2770)).unwrap();
    put(&out, &packet("text", false), Readers::Group).unwrap();
    assert_eq!(mode("HH-1-2024/data"), 0o2750, "new folders keep the mark that hands the group down");
}

/// Whatever a path was made of, nothing is written outside the packet, nor what another system could not hold.
#[test]
fn no_path_leads_out_of_a_packet() {
    let scratch = Scratch::new("paths");
    let out = scratch.join("out");
    for path in
        ["../b.txt", "data/../../b.txt", "/tmp/b.txt", "data//b.txt", "data/nul.txt", "data/a?b", "data/b. "]
    {
        for draft in [true, false] {
            let mut packet = packet("first", draft);
            packet.add(path, "b");
            assert!(matches!(put(&out, &packet, Readers::Owner), Err(Trouble::Name { .. })), "{path}");
        }
        let building = Building::start(&out.join("season"), Readers::Owner).unwrap();
        assert!(matches!(building.add(path, b"b"), Err(Trouble::Name { .. })), "{path}");
        drop(building);
        assert_eq!(names(&out), [""; 0], "{path}");
    }
}
