//! Packets that somebody changed and sealed anew: whatever stands in one, `verify` answers, and takes none for what it
//! was.

use super::bag::{Folder, lay_down};
use super::case::told;
use gablework::assemble::{self, Material, Wanted};
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::Kit;
use gablework::name::FileName;
use gablework::packet::Packet;
use gablework::packet::bag::{self, Info};
use gablework::verify::{self, Desk, Pages, Slip};
use jiff::civil::date;
use std::collections::BTreeMap;
use std::sync::OnceLock;

const CASE: &[u8] = include_bytes!("../../cases/worksheet-2026.case.yaml");

/// A sealed packet with its slip.
fn made() -> &'static Packet {
    static MADE: OnceLock<Packet> = OnceLock::new();
    MADE.get_or_init(|| {
        let mut computed = told(CASE);
        let year = computed.latest_year().expect("a year");
        let wanted = Wanted {
            year,
            dated: date(2026, 11, 12),
            draft: false,
            case_file: "a.case.yaml".to_string(),
            replaces: None,
            name: FileName::new(format!("HH-0808-{year}")).expect("a name"),
            also: Vec::new(),
        };
        let kit = Kit::built_in(&mut Sources::default());
        let material = Material {
            letters: &kit,
            layout: None,
            kit: &[],
            case_bytes: CASE,
            firm: None,
            logo: None,
            papers: &[],
        };
        let made = assemble::packet(&mut computed, Law::built_in(), &wanted, &material);
        made.unwrap_or_else(|_| panic!("no packet")).packet
    })
}

/// What the packet says of itself, which a changed one may keep.
fn described() -> Info {
    const LABELS: [&str; 5] = [
        "External-Description",
        "Bagging-Date",
        "External-Identifier",
        "Internal-Sender-Identifier",
        "Internal-Sender-Description",
    ];
    let info = made().files.iter().find(|(path, _)| path == bag::INFO_FILE).expect("a description");
    let text = String::from_utf8(info.1.clone()).expect("text");
    let mut elements: Vec<(&'static str, String)> = Vec::new();
    for line in text.lines() {
        if let Some(more) = line.strip_prefix("  ") {
            let (_, value) = elements.last_mut().expect("an element goes on");
            value.push(' ');
            value.push_str(more);
            continue;
        }
        match LABELS.iter().find_map(|label| Some((*label, line.strip_prefix(label)?.strip_prefix(": ")?))) {
            Some((label, value)) => elements.push((label, value.to_string())),
            None => assert!(line.starts_with("Payload-Oxum"), "{line} is no element that this target knows"),
        }
    }
    Info(elements)
}

/// The first byte says which file of the payload is changed, the rest what stands in it then; past the last file, one
/// is added. The packet is sealed anew, and keeps its name and the slip of what it was.
pub fn verify(bytes: &[u8]) {
    let Some((which, changed)) = bytes.split_first() else { return };
    static DESK: OnceLock<Desk> = OnceLock::new();
    let desk = DESK.get_or_init(Desk::default);
    let payload = || made().files.iter().filter(|(path, _)| path.starts_with("data/"));
    // What people read first, then all the rest.
    let text = |path: &str| path.ends_with(".json") || path.ends_with(".yaml");
    let mut paths: Vec<&str> = payload().map(|(path, _)| path.as_str()).collect();
    paths.sort_by_key(|path| !text(path));
    let at = paths.get(usize::from(*which) % (paths.len() + 1)).copied().unwrap_or("data/added.yaml");
    let mut packet = Packet::new(made().name.clone());
    for (path, bytes) in payload().filter(|(path, _)| path != at) {
        packet.add(path, bytes.clone());
    }
    packet.add(at, changed.to_vec());
    packet.files.sort();
    bag::seal(&mut packet, &described(), &BTreeMap::new()).expect("a seal");
    packet.slip = made().slip.clone();
    let folder = Folder::new();
    let root = lay_down(&packet, &folder);
    let report = verify::verify(&root, desk);
    assert!(report.seal.is_intact(), "{:?}", report.seal.damage);
    let same = payload().any(|(path, bytes)| path == at && bytes == changed);
    if same {
        assert!(report.figures_agree(), "nothing was changed: {:?}", report.figures);
    } else {
        let passes = report.is_sealed() && report.slip == Slip::Agrees;
        assert!(!passes, "{at} was changed, and the slip of what it was agrees");
        let identical = matches!(report.pages, Pages::Identical { .. }) && report.figures_agree();
        let told = !report.notes.is_empty() || at == "data/request.json";
        assert!(!identical || told, "{at} was changed, and is what the program writes");
    }
}
