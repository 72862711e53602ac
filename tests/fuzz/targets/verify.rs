//! Packets that somebody changed and sealed anew: whatever stands in one, `verify` answers.

use super::bag::Folder;
use super::case::told;
use gablework::assemble::{self, Material, Wanted};
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::Kit;
use gablework::packet::Packet;
use gablework::packet::bag::{self, Info};
use gablework::verify::{self, Desk};
use jiff::civil::date;
use std::collections::BTreeMap;
use std::fs;
use std::sync::OnceLock;

const CASE: &[u8] = include_bytes!("../../cases/worksheet-2026.case.yaml");

/// The files of a packet, without its seal.
fn files() -> &'static Vec<(String, Vec<u8>)> {
    static FILES: OnceLock<Vec<(String, Vec<u8>)>> = OnceLock::new();
    FILES.get_or_init(|| {
        let mut computed = told(CASE);
        let year = computed.latest_year().expect("a year");
        let wanted = Wanted {
            year,
            dated: date(2026, 11, 12),
            draft: false,
            case_file: "a.case.yaml".to_string(),
            replaces: None,
            name: gablework::name::FileName::new("HH-1-2026").expect("a name"),
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
        let (packet, _) = made.unwrap_or_else(|_| panic!("no packet"));
        packet.files.into_iter().filter(|(path, _)| path.starts_with("data/")).collect()
    })
}

/// The first byte says which file is changed, the rest what stands in it then.
pub fn verify(bytes: &[u8]) {
    let Some((which, changed)) = bytes.split_first() else { return };
    static DESK: OnceLock<Desk> = OnceLock::new();
    let mut texts: Vec<&String> = files().iter().map(|(path, _)| path).collect();
    texts.retain(|path| path.ends_with(".json") || path.ends_with(".yaml"));
    let at = texts[usize::from(*which) % texts.len()];
    let mut packet = Packet::new(gablework::name::FileName::new("HH-1-2026").expect("a name"));
    for (path, bytes) in files() {
        packet.add(path, if path == at { changed.to_vec() } else { bytes.clone() });
    }
    bag::seal(&mut packet, &Info::default(), &BTreeMap::new()).expect("a seal");
    let folder = Folder::new();
    for (path, bytes) in &packet.files {
        let full = folder.0.join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("a folder");
        fs::write(full, bytes).expect("a file");
    }
    let report = verify::verify(&folder.0, DESK.get_or_init(Desk::default));
    assert!(report.seal.is_intact(), "{:?}", report.seal.damage);
    let same = files().iter().any(|(path, bytes)| path == at && bytes == changed);
    assert!(!same || report.figures_agree(), "nothing was changed: {:?}", report.figures);
}
