//! Whole households made from choices: what computing, paper and letters do with anything that a case may say.

use super::case::{told, told_beside, well_told};
use super::chance::Chance;
use super::page::well_placed;
use gablework::assemble::{self, Also, Material, NoPacket, Wanted};
use gablework::case::{TaxYear, firm};
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::{self, Kit};
use jiff::civil::date;
use std::fmt::Write;
use std::sync::OnceLock;

/// The head of a case with one client and one home.
pub const HEAD: &str = "format: 1\nclient: {reference: HH-1, people: [{name: Ana Alder}]}\nhomes:\n  h: {use: main_home, held_as: \
    owner, address: {street: 1 Mill Street, city: Riverton, state: MA, zip: '01040'}}\n";

const KINDS: &[&str] = &[
    "solar_electric",
    "solar_water_heating",
    "small_wind",
    "geothermal_heat_pump",
    "battery_storage",
    "fuel_cell",
    "insulation_or_air_sealing",
    "exterior_door",
    "window_or_skylight",
    "roof",
    "central_air_conditioner",
    "fuel_water_heater",
    "furnace_or_boiler",
    "air_circulating_fan",
    "enabling_property",
    "home_energy_audit",
    "heat_pump",
    "heat_pump_water_heater",
    "biomass_stove_or_boiler",
];
const NATURES: &[&str] = &[
    "equipment",
    "material",
    "onsite_labor",
    "piping_and_wiring",
    "electrical_panel",
    "permit",
    "sales_tax",
    "design_fee",
    "discount",
    "lump_sum",
    "roof_structure",
    "solar_roofing",
    "dealer_fee",
    "warranty",
    "other",
];
const INCENTIVES: &[&str] = &[
    "utility_subsidy",
    "price_rebate",
    "state_tax_credit",
    "state_grant",
    "federal_home_rebate",
    "net_metering",
    "other",
];
const CREDITS: &[&str] = &[
    "foreign_tax",
    "child_and_dependent_care",
    "education",
    "child_tax",
    "mortgage_interest",
    "adoption",
    "partnership_adjustment",
];
const STATUSES: &[&str] = &[
    "single",
    "married_filing_jointly",
    "married_filing_separately",
    "head_of_household",
    "qualifying_surviving_spouse",
];
const USES: &[&str] = &["main_home", "other_residence", "rented_to_others", "vacant"];

fn amount(chance: &mut Chance) -> String {
    match chance.below(6) {
        0 => chance.number().to_string(),
        1 => format!("{}.{:02}", chance.number(), chance.below(100)),
        2 => "0".to_string(),
        3 => "999999999999.99".to_string(),
        4 => format!("{}000", chance.number()),
        _ => format!("0.{:02}", chance.below(100)),
    }
}

fn day(chance: &mut Chance, year: i16) -> String {
    format!("{year}-{:02}-{:02}", 1 + chance.below(12), 1 + chance.below(28))
}

fn item(out: &mut String, chance: &mut Chance, n: usize, first: i16, last: i16) {
    let kind = *chance.one(KINDS);
    let year = first + chance.below((last - first + 1) as usize) as i16;
    let home = if chance.once_in(6) { "g" } else { "h" };
    let part = *chance.one(&["existing_home", "renovation", "new_home"]);
    let acquired = if chance.once_in(12) { "leased" } else { "bought" };
    let condition = if chance.once_in(12) { "used" } else { "new" };
    let _ = write!(
        out,
        "  i{n}:\n    kind: {kind}\n    home: {home}\n    part_of: {part}\n    acquired: {acquired}\n    condition: {condition}\n"
    );
    let when = day(chance, year);
    if kind == "home_energy_audit" {
        let _ = writeln!(
            out,
            "    performed: {when}\n    paid: {when}\n    certified: {{by: a program, number: '12'}}"
        );
    } else if !chance.once_in(12) {
        let _ =
            writeln!(out, "    installed: {when}\n    units: {}\n    maker_code: CD12", 1 + chance.below(9));
    }
    let _ = match kind {
        "solar_water_heating" => {
            writeln!(out, "    solar_share: {}%\n    certified: {{by: a body}}", chance.below(101))
        }
        "battery_storage" => writeln!(out, "    capacity_kwh: {}.{}", chance.below(100), chance.below(10)),
        "fuel_cell" => writeln!(
            out,
            "    capacity_kw: {}.{}\n    efficiency: {}%",
            chance.below(100),
            chance.below(10),
            chance.below(101)
        ),
        "biomass_stove_or_boiler" => writeln!(out, "    efficiency: {}%", chance.below(101)),
        "enabling_property" => writeln!(out, "    amperage: {}\n    enables: [i0]", chance.number()),
        _ => Ok(()),
    };
    if chance.once_in(5) {
        let _ = writeln!(out, "    nonbusiness_use: {}%", chance.below(101));
    }
    if chance.once_in(5) {
        let _ = writeln!(out, "    paid_by_others: {}", amount(chance));
    }
    if chance.once_in(8) {
        let _ = writeln!(
            out,
            "    association: {{name: the association, share: 0.{:04}%}}",
            chance.number() % 10_000
        );
    }
    if chance.once_in(8) {
        let _ =
            writeln!(out, "    financed: {{as: subsidized_energy_financing, amount: {}}}", amount(chance));
    }
    out.push_str("    costs:\n");
    for n in 0..=chance.below(4) {
        let nature = *chance.one(NATURES);
        let _ = write!(out, "      - {{item: cost {n}, as: {nature}, amount: '{}'", amount(chance));
        if nature == "lump_sum" && chance.once_in(2) {
            let _ = write!(out, ", materials: {}%", chance.below(101));
        }
        if chance.once_in(4) {
            let _ = write!(out, ", paid: {}", day(chance, year));
        }
        if chance.once_in(8) {
            let _ = write!(out, ", treat_as: {{counted: '{}'}}, because: as agreed", amount(chance));
        }
        out.push_str("}\n");
    }
    for n in 0..chance.below(3) {
        if n == 0 {
            out.push_str("    incentives:\n");
        }
        let _ = writeln!(
            out,
            "      - {{from: payer {n}, as: {}, amount: '{}'}}",
            chance.one(INCENTIVES),
            amount(chance)
        );
    }
}

/// Writes a case.
pub fn text(chance: &mut Chance) -> String {
    let first = 2006 + chance.below(20) as i16;
    let last = first + chance.below((2026 - first + 1) as usize) as i16;
    let mut out = HEAD.to_string();
    let _ = writeln!(
        out,
        "  g: {{use: {}, held_as: {}, address: {{street: 3 Lake Road, city: Hillside, state: VT, zip: '05401'}}}}",
        chance.one(USES),
        chance.one(&["owner", "renter", "coop_shareholder", "condo_member"])
    );
    if chance.once_in(4) {
        let _ = writeln!(out, "prepared: {{by: J. Birch, on: {}}}", day(chance, last));
    }
    out.push_str("property:\n");
    let items = 1 + chance.below(6);
    for n in 0..items {
        item(&mut out, chance, n, first, last);
    }
    if items > 1 && chance.once_in(3) {
        let share = chance.below(101);
        let _ = writeln!(
            out,
            "shared:\n  - {{item: one invoice, as: equipment, amount: '{}', over: {{i0: {share}%, i1: {}%}}}}",
            amount(chance),
            100 - share
        );
    }
    out.push_str("returns:\n");
    for year in first..=last {
        if year < last && chance.once_in(8) {
            continue;
        }
        let _ = writeln!(
            out,
            "  {year}:\n    filing_status: {}\n    tax_before_credits: '{}'\n    rounding: {}",
            chance.one(STATUSES),
            amount(chance),
            chance.one(&["whole_dollars", "cents"])
        );
        if chance.once_in(3) {
            let stage = *chance.one(&["projected", "draft", "filed", "amended"]);
            let _ = writeln!(out, "    stage: {stage}");
            if matches!(stage, "filed" | "amended") && chance.once_in(2) {
                let _ = writeln!(
                    out,
                    "    claimed: {{improvement: '{}', clean: '{}', carried_out: '{}'}}",
                    amount(chance),
                    amount(chance),
                    amount(chance)
                );
            }
        }
        for (n, credit) in CREDITS.iter().enumerate() {
            if chance.once_in(9) {
                let _ = writeln!(out, "    other_credits: {{{credit}: '{}'}}", amount(chance));
                let _ = n;
                break;
            }
        }
    }
    if chance.once_in(4) {
        let _ = writeln!(out, "carried_in:\n  {first}: {{amount: '{}', shown_on: a form}}", amount(chance));
    }
    if chance.once_in(4) {
        let _ = writeln!(
            out,
            "earlier_credits:\n  {}: {{nonbusiness_energy_credit: '{}', window_cost: '{}'}}",
            2006 + chance.below(17),
            amount(chance),
            amount(chance)
        );
    }
    if chance.once_in(4) {
        let _ = writeln!(
            out,
            "planning: {{2027: {{tax_before_credits: '{}'}}, federal_rate: 22%}}",
            amount(chance)
        );
    }
    out
}

/// A household, from case to packet.
pub fn household(bytes: &[u8]) {
    let mut chance = Chance(bytes);
    let paper = chance.once_in(4);
    let text = text(&mut chance);
    if paper {
        packet(&text, None);
    } else {
        told(text.as_bytes());
    }
}

/// Words of people in every place where people write words, from case to every form of paper.
pub fn names(bytes: &[u8]) {
    on_paper(bytes);
}

/// Puts them there, and says whether a packet came of it, under a firm's name.
pub fn on_paper(bytes: &[u8]) -> bool {
    let mut chance = Chance(bytes);
    let mut word = || chance.quoted();
    let (name, spouse, street, item, from, place, by) =
        (word(), word(), word(), word(), word(), word(), word());
    // Where the bytes reach so far, also the words of a firm, a reference, and letters in Spanish.
    let (firm, signatory, title, city, reference) = (word(), word(), word(), word(), word());
    let firm = format!(
        "name: {firm}\naddress: {{street: {street}, city: {city}, state: VT, zip: '05099'}}\nphone: 802-555-0137\n\
         signatory: {signatory}\ntitle: {title}\n"
    );
    let reference = if reference == "\"\"" { "HH-1".to_string() } else { reference };
    let language = if chance.any_left() { "es" } else { "en" };
    let case = format!(
        "format: 1\nclient:\n  reference: {reference}\n  language: {language}\n  people: [{{name: {name}}}, {{name: {spouse}}}]\n  mail_to: {{names: [{name}, {spouse}], street: \
         {street}, city: Riverton, state: MA, zip: '01040'}}\nprepared: {{by: {by}, on: 2026-02-01}}\nhomes:\n  h: {{use: main_home, held_as: owner, \
         address: {{street: {street}, city: Riverton, state: MA, zip: '01040'}}}}\nproperty:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: \
         existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-05-01\n    costs: [{{item: {item}, as: equipment, amount: 10000, \
         evidence: p}}]\n    incentives: [{{from: {from}, as: utility_subsidy, amount: 500}}]\nreturns:\n  2025: {{filing_status: \
         married_filing_jointly, tax_before_credits: 1000}}\nevidence:\n  p: {{type: invoice, on_file: false, where: {place}}}\n"
    );
    packet(&case, Some(&firm))
}

/// Makes the draft of a packet where the case can be computed, and checks its names and its pages.
fn packet(text: &str, firm_file: Option<&str>) -> bool {
    static KIT: OnceLock<Kit> = OnceLock::new();
    let kit = KIT.get_or_init(|| Kit::built_in(&mut Sources::default()));
    // Findings about letters point into the letters' own texts.
    let mut sources = Sources::default();
    letter::BUILT_IN.iter().for_each(|(path, text)| _ = sources.add(*path, *text));
    let law = Law::built_in();
    let firm = firm_file.and_then(|written| {
        let mut texts = Sources::default();
        let (firm, findings) = firm::read("firm.yaml", written.as_bytes(), &mut texts);
        well_told(&findings, &texts);
        firm
    });
    let mut made = false;
    let mut computed = told_beside(text.as_bytes(), sources);
    if let Some(case) = &computed.case {
        let reference = &case.client.reference.value;
        let plain = reference.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
        assert!(plain && !reference.is_empty(), "{reference:?} becomes the name of a folder");
    }
    if let Some(year) = computed.latest_year().filter(|year| computed.outcome.years.contains(year)) {
        let wanted = Wanted {
            year,
            dated: date(2026, 11, 12),
            draft: true,
            case_file: "a.case.yaml".to_string(),
            replaces: None,
            name: gablework::name::FileName::new("HH-1-draft").expect("a name"),
            also: vec![Also::Html, Also::Docx, Also::Xlsx],
        };
        let material = Material {
            letters: kit,
            layout: None,
            kit: &[],
            case_bytes: text.as_bytes(),
            firm: firm.as_ref().zip(firm_file.map(str::as_bytes)),
            logo: None,
            papers: &[],
        };
        match assemble::packet(&mut computed, law, &wanted, &material) {
            Ok(assemble::Made { packet, .. }) => {
                assert!(packet.files.iter().any(|(path, _)| path == "data/worksheet.pdf"));
                packet
                    .files
                    .iter()
                    .for_each(|(path, _)| assert!(is_plain(path), "a file is called {path:?}"));
                made = firm.is_some();
            }
            Err(NoPacket::Fault(fault)) => panic!("a fault of the program: {fault}"),
            Err(NoPacket::Findings(findings)) => {
                assert!(!findings.is_empty());
                for finding in findings {
                    let page =
                        ["page-fault", "letter-not-written", "template-markup"].contains(&finding.code);
                    assert!(page, "{}: {}", finding.code, finding.message);
                    assert_eq!(finding.code, "page-fault", "{}", finding.message);
                }
            }
        }
        checked_pages(&computed, law, year);
    }
    made
}

/// Says whether a path stays in its folder, and is one that every file system and every person can read.
fn is_plain(path: &str) -> bool {
    let sign = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    path.split('/').all(|part| !part.is_empty() && !part.starts_with('.') && part.chars().all(sign))
}

/// Lays the worksheet out once more, to look at where everything stands.
fn checked_pages(computed: &assemble::Computed, law: &Law, year: TaxYear) {
    let Some(case) = &computed.case else { return };
    let facts = gablework::credit::facts::facts(case, law, &computed.outcome, year, true, date(2026, 11, 12));
    let document = gablework::sheet::write(&gablework::sheet::Material {
        layout: gablework::sheet::Layout::built_in(),
        case,
        law,
        outcome: &computed.outcome,
        year,
        facts: &facts,
        sources: &computed.sources,
        stamps: &gablework::sheet::Stamps::default(),
    });
    if let Ok(pages) = gablework::page::lay_out(&document) {
        well_placed(&pages);
    }
}
