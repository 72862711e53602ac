//! What the program seals, it verifies: whole households, made into packets, verified, and then changed.

use super::bag::{Folder, lay_down};
use super::case::told_beside;
use super::chance::Chance;
use super::household;
use gablework::assemble::{self, Material, NoPacket, Wanted};
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::Kit;
use gablework::name::FileName;
use gablework::packet::{Packet, bag};
use gablework::verify::{self, Desk, Pages, Slip};
use jiff::civil::date;
use std::fs;
use std::sync::OnceLock;

/// A household: the first bytes say what is changed in its packet afterwards, the rest what it is.
pub fn sealed(bytes: &[u8]) {
    verified(bytes);
}

/// Does so, and says whether there was anything to seal.
pub fn verified(bytes: &[u8]) -> bool {
    let mut chance = Chance(bytes);
    let (file, place, turned, year) = (chance.number(), chance.number(), chance.byte(), chance.byte());
    let text = household::text(&mut chance);
    let Some(packet) = packet(&text, year) else { return false };
    static DESK: OnceLock<Desk> = OnceLock::new();
    let desk = DESK.get_or_init(Desk::default);
    let folder = Folder::new();
    let root = lay_down(&packet, &folder);
    let report = verify::verify(&root, desk);
    let right = report.is_sealed()
        && report.slip == Slip::Agrees
        && report.figures_agree()
        && matches!(report.pages, Pages::Identical { .. })
        && report.notes.is_empty();
    assert!(right, "{report:?}\n{text}");

    // One byte changed, in any file or in the slip.
    let (slip, slip_bytes) = packet.slip.as_ref().expect("a sealed packet has a slip");
    let at = usize::from(file) % (packet.files.len() + 1);
    let (path, before) = match packet.files.get(at) {
        Some((path, bytes)) => (root.join(path), bytes),
        None => (root.with_file_name(slip.as_str()), slip_bytes),
    };
    if before.is_empty() {
        return true;
    }
    let mut after = before.clone();
    // Two bytes reach every place of a short file and are spread over a long one.
    let byte = usize::from(place) * after.len().div_ceil(1 << 16) % after.len();
    after[byte] ^= if turned == 0 { 1 } else { turned };
    fs::write(&path, &after).expect("a file");
    let noticed = match packet.files.get(at) {
        Some(_) => !bag::check(&root).is_intact(),
        None => !verify::verify(&root, desk).slip.is_right(),
    };
    assert!(noticed, "byte {byte} of {} was changed, and nobody notices", path.display());
    true
}

/// Seals a year of a household, where that can be done.
fn packet(text: &str, year: u8) -> Option<Packet> {
    static KIT: OnceLock<(Kit, Sources)> = OnceLock::new();
    let (kit, texts) = KIT.get_or_init(|| {
        let mut sources = Sources::default();
        (Kit::built_in(&mut sources), sources)
    });
    let mut computed = told_beside(text.as_bytes(), texts.clone());
    if computed.has_errors() {
        return None;
    }
    let reference = computed.case.as_ref()?.client.reference.value.to_string();
    let years = &computed.outcome.years;
    let year = *years.get(usize::from(year) % years.len().max(1))?;
    let wanted = Wanted {
        year,
        dated: date(2026, 11, 12),
        draft: false,
        case_file: "a.case.yaml".to_string(),
        replaces: None,
        name: FileName::new(format!("{reference}-{year}")).expect("a name"),
        also: Vec::new(),
    };
    let material = Material {
        letters: kit,
        layout: None,
        kit: &[],
        case_bytes: text.as_bytes(),
        firm: None,
        logo: None,
        papers: &[],
    };
    match assemble::packet(&mut computed, Law::built_in(), &wanted, &material) {
        Ok(made) => Some(made.packet),
        Err(NoPacket::Fault(fault)) => panic!("a fault of the program: {fault}"),
        Err(NoPacket::Findings(_)) => None,
    }
}
