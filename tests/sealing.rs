//! Whatever can be sealed verifies: every case of the tree, every year of it, and made-up households.
//!
//! Packets are made and verified within one process and without syncing; that the program does the same from outside is
//! shown in `sealed`.

use crate::generated::households::household;
use crate::support::household::complete;
use crate::support::scratch::Scratch;
use gablework::assemble::{self, Material, Wanted};
use gablework::case::TaxYear;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::Kit;
use gablework::packet::Packet;
use gablework::verify::{self, Desk, Pages, Slip};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A case to be sealed: what a failure calls it, and its text.
struct Given {
    name: String,
    text: Vec<u8>,
}

/// Every case file below a folder.
fn below(folder: &Path, found: &mut Vec<Given>) {
    let mut entries: Vec<PathBuf> =
        fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            below(&path, found);
        } else if path.to_string_lossy().ends_with(".case.yaml") {
            found.push(Given { name: path.display().to_string(), text: fs::read(&path).expect("a case") });
        }
    }
}

/// The published examples, completed to whole cases.
fn examples(found: &mut Vec<Given>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/official");
    for entry in fs::read_dir(folder).expect("the examples") {
        let path = entry.expect("an entry").path();
        let text = fs::read_to_string(&path).expect("an example");
        let example: serde_yaml::Value = serde_yaml::from_str(&text).expect("an example is YAML");
        let years: Vec<i16> = example["lines"]
            .as_mapping()
            .expect("lines by year")
            .keys()
            .filter_map(|year| i16::try_from(year.as_i64()?).ok())
            .collect();
        let text = complete(example["case"].clone(), &years).into_bytes();
        found.push(Given { name: path.display().to_string(), text });
    }
}

/// Seals a year of a case and verifies the packet; says what is wrong with it.
fn verified(made: (&mut assemble::Computed, &[u8], TaxYear), kit: &Kit, desk: &Desk, place: &Path) -> String {
    let (computed, case_bytes, year) = made;
    let reference = computed.case.as_ref().expect("a case").client.reference.value.clone();
    let wanted = Wanted {
        year,
        dated: jiff::civil::date(2026, 11, 25),
        draft: false,
        case_file: "sealed.case.yaml".to_string(),
        replaces: None,
        name: gablework::name::FileName::new(format!("{reference}-{year}")).expect("a name"),
        also: Vec::new(),
    };
    let material =
        Material { letters: kit, layout: None, kit: &[], case_bytes, firm: None, logo: None, papers: &[] };
    let packet = match assemble::packet(computed, Law::built_in(), &wanted, &material) {
        Ok(made) => made.packet,
        Err(assemble::NoPacket::Findings(_)) => return String::new(),
        Err(assemble::NoPacket::Fault(why)) => return why,
    };
    let folder = place.join(&packet.name);
    lay_down(&packet, place);
    let report = verify::verify(&folder, desk);
    fs::remove_dir_all(&folder).expect("removed");
    let right = report.is_sealed()
        && report.slip == Slip::Agrees
        && report.figures_agree()
        && matches!(report.pages, Pages::Identical { .. })
        && report.notes.is_empty();
    if right { "verified".to_string() } else { format!("{report:?}") }
}

/// Writes a packet and its slip, as they come.
fn lay_down(packet: &Packet, place: &Path) {
    for (path, bytes) in &packet.files {
        let full = place.join(&packet.name).join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("made");
        fs::write(full, bytes).expect("written");
    }
    let (name, bytes) = packet.slip.as_ref().expect("a slip");
    fs::write(place.join(name), bytes).expect("written");
}

/// Seals and verifies every year of some cases, on all cores. Returns how many packets there were of each case.
fn all(name: &str, given: &[Given]) -> BTreeMap<String, usize> {
    let scratch = Scratch::new(name);
    let mut sources = Sources::default();
    let kit = Kit::built_in(&mut sources);
    let desk = Desk::default();
    let next = AtomicUsize::new(0);
    let (counts, wrong) = (Mutex::new(BTreeMap::new()), Mutex::new(Vec::new()));
    let work = |worker: usize| {
        let place = scratch.join(&worker.to_string());
        fs::create_dir_all(&place).expect("made");
        while let Some(one) = given.get(next.fetch_add(1, Ordering::Relaxed)) {
            let computed = assemble::compute("sealed.case.yaml", &one.text, Law::built_in(), sources.clone());
            let mut computed = computed.expect("no fault of the program");
            if computed.has_errors() || computed.case.is_none() {
                continue;
            }
            for year in computed.outcome.years.clone() {
                let told = verified((&mut computed, &one.text, year), &kit, &desk, &place);
                match told.as_str() {
                    "" => {}
                    "verified" => *counts.lock().unwrap().entry(one.name.clone()).or_default() += 1,
                    _ => wrong.lock().unwrap().push(format!("{}, {year}: {told}", one.name)),
                }
            }
        }
    };
    let workers = std::thread::available_parallelism().map_or(2, usize::from);
    std::thread::scope(|scope| {
        for worker in 0..workers {
            let work = &work;
            scope.spawn(move || work(worker));
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(
        wrong.is_empty(),
        "{} packets do not verify\n{}",
        wrong.len(),
        wrong[..wrong.len().min(4)].join("\n")
    );
    counts.into_inner().unwrap()
}

#[test]
fn every_year_of_every_case_of_the_tree_verifies_once_it_is_sealed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut given = Vec::new();
    below(&root.join("demo"), &mut given);
    below(&root.join("tests"), &mut given);
    examples(&mut given);
    let counts = all("sealing-tree", &given);
    let packets: usize = counts.values().sum();
    assert!(counts.len() > 300 && packets > 390, "{packets} packets of {} cases", counts.len());
    // Limits that look back to years of which the case has nothing but what was taken then.
    for code in ["lifetime-limit-over", "earlier-credit-of-no-year"] {
        let case = format!("tests/findings/{code}/{code}.case.yaml");
        assert!(counts.keys().any(|name| name.ends_with(&case)), "{code} is not sealed");
    }
}

#[test]
fn every_year_of_made_up_households_verifies_once_it_is_sealed() {
    let made =
        (0..40).map(|n| Given { name: format!("household {n}"), text: household(11, n * 241).into_bytes() });
    // An earlier credit of each year there is, and of some there is not.
    let looking_back = (2004_u16..=2024).map(|year| {
        let text = household(12, 500 + u32::from(year));
        let entry =
            format!("earlier_credits:\n  {year}: {{nonbusiness_energy_credit: 40, window_cost: 100}}\n");
        let text = match text.contains("\nearlier_credits:") {
            true => text,
            false => format!("{text}{entry}"),
        };
        Given { name: format!("household that looks back to {year}"), text: text.into_bytes() }
    });
    let counts = all("sealing-made", &made.chain(looking_back).collect::<Vec<Given>>());
    assert!(counts.len() > 50, "{} cases", counts.len());
}
