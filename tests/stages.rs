//! Every letter, and what the worksheet says to do next, at every stage that can occur.
//!
//! A small table of households, stages of the return, stages of the return before and after it, and dates makes the
//! cases. The files under `tests/stages` say for each sentence at which stages it may appear. They are written by hand and
//! know nothing of the facts that the letters use, so a sentence that a wrong fact lets through is found here. A
//! sentence that no file lists fails, one at a stage where it may not appear fails, and so does one that never appears.

use gablework::case::{self, Case, Language, TaxYear};
use gablework::credit::facts::facts;
use gablework::credit::line::{self, Line, Place};
use gablework::credit::{self, Outcome};
use gablework::document::{Block, Document, Words};
use gablework::finding::{Severity, Sources};
use gablework::law::Law;
use gablework::letter::{self, Kit, Request};
use gablework::sheet::{self, Stamps};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// How a return stands in the made case, and the word by which the tables call it.
const RETURNS: [(&str, &str); 9] = [
    ("projected", "expected"),
    ("draft", "in_preparation"),
    ("filed as computed", "filed_as_computed"),
    ("filed unsaid", "filed_unsaid"),
    ("filed less", "filed_otherwise"),
    ("filed more", "filed_otherwise"),
    // Filed before a rebate came in: the credit used is right, the balance is not.
    ("filed before the rebate", "filed_otherwise"),
    ("filed less, no day", "filed_otherwise"),
    ("amended", "amended"),
];

/// A household: what is in the case besides the return of the year and its neighbors.
struct Household {
    name: &'static str,
    year: i16,
    people: &'static str,
    /// Who of them has died by every date of the papers, by the word of the tables.
    died: &'static str,
    property: &'static str,
    /// The returns before the year, as they are written, without stage and claims, each with its year.
    before: &'static [(i16, &'static str)],
    /// Those of the year, and of the year after.
    tax: (&'static str, &'static str),
    /// The keys of a return that say whose it is, before the year and in it, and after it.
    status: (&'static str, &'static str),
    /// The case has no return of the year.
    season: bool,
}

/// One person, alone, with nothing that is particular; a household says what it has otherwise.
const ALONE: Household = Household {
    name: "",
    year: 2024,
    people: "{name: Nell Harrow}",
    died: "nobody",
    property: "solar",
    before: &[],
    tax: ("1000", "1000"),
    status: (SINGLE, SINGLE),
    season: false,
};

const SOLAR_2024: &str = "  array:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{item: panels, as: equipment, amount: 10000}]\n";
const ATTIC_2024: &str = "  attic:\n    kind: insulation_or_air_sealing\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-06-10\n    costs: [{item: cellulose, as: material, amount: 3000}]\n";

/// The same with another owner, who paid as much: of the $1,200 limit each has $600.
const SHARED_ATTIC_2024: &str = "  attic:\n    kind: insulation_or_air_sealing\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-06-10\n    paid_by_others: 3000\n    costs: [{item: cellulose, as: material, amount: 3000}]\n";
const LOFT_2024: &str = "  loft:\n    kind: insulation_or_air_sealing\n    home: g\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-09-12\n    costs: [{item: mineral wool, as: material, amount: 5000}]\n";
/// What came for the array after the return of 2024 was due: 2,000 off its cost, 600 off its credit.
const REBATE_2025: &str = "    incentives: [{from: Marlow Light, as: utility_subsidy, amount: 2000, agreed: 2024-07-01, received: 2025-06-15}]\n";

const SINGLE: &str = "filing_status: single";
const JOINT: &str = "filing_status: married_filing_jointly";
const COUPLE: &str = "{name: Nell Harrow}, {name: Otis Harrow}";

const HOUSEHOLDS: [Household; 18] = [
    // 3,000 earned, 1,000 used, 2,000 goes on; 2025 uses 1,000 of it.
    Household { name: "carried", ..ALONE },
    // 2024 as before; 2025 uses 500 of the 2,000 and carries 1,500 on.
    Household { name: "carried in", year: 2025, before: &[(2024, "1000")], tax: ("500", "500"), ..ALONE },
    // 900 of 25C and 100 of 25D used, the rest goes on.
    Household { name: "both", property: "both", tax: ("1000", "900"), ..ALONE },
    // No tax at all: 25C lost, 25D goes on.
    Household { name: "no tax", property: "both", tax: ("0", "900"), ..ALONE },
    // 400 of the 900 used, 500 lost.
    Household { name: "lost", property: "attic", tax: ("400", "900"), ..ALONE },
    // The tax of 2025 takes all that is left.
    Household { name: "used up", year: 2025, before: &[(2024, "1000")], tax: ("9000", "500"), ..ALONE },
    // What is left after 2024, and no return of 2025 yet.
    Household {
        name: "season",
        year: 2025,
        before: &[(2024, "1000")],
        tax: ("0", "0"),
        season: true,
        ..ALONE
    },
    // Nothing to claim: a used array earns nothing.
    Household { name: "nothing", property: "used", tax: ("1000", "900"), ..ALONE },
    // Two owners of one home: 25C of 600, half of the limit; the array has none.
    Household { name: "owners", property: "shared", ..ALONE },
    // A joint return of the year in which one of the two died, and the survivor's own after it.
    Household {
        name: "widowed",
        people: "{name: Nell Harrow}, {name: Otis Harrow, deceased: 2024-11-05}",
        died: "spouse",
        status: (JOINT, SINGLE),
        ..ALONE
    },
    // The death came after the year; the next return is the last joint one.
    Household {
        name: "widowed after the year",
        people: "{name: Nell Harrow}, {name: Otis Harrow, deceased: 2025-02-01}",
        died: "spouse_in_next_year",
        status: (JOINT, JOINT),
        ..ALONE
    },
    // The survivor's return starts from what the joint return left.
    Household {
        name: "widowed before the year",
        year: 2025,
        people: "{name: Nell Harrow}, {name: Otis Harrow, deceased: 2024-11-05}",
        died: "spouse_before",
        before: &[(2024, "1000")],
        tax: ("500", "500"),
        status: (JOINT, SINGLE),
        ..ALONE
    },
    Household {
        name: "widowed, used up",
        year: 2025,
        people: "{name: Nell Harrow}, {name: Otis Harrow, deceased: 2024-11-05}",
        died: "spouse_before",
        before: &[(2024, "1000")],
        tax: ("9000", "500"),
        status: (JOINT, SINGLE),
        ..ALONE
    },
    Household {
        name: "widowed season",
        year: 2025,
        people: "{name: Nell Harrow}, {name: Otis Harrow, deceased: 2024-11-05}",
        died: "spouse_before",
        before: &[(2024, "1000")],
        status: (JOINT, SINGLE),
        season: true,
        ..ALONE
    },
    // The return of the year is the last one.
    Household {
        name: "died",
        people: "{name: Nell Harrow, deceased: 2024-12-05}",
        died: "client",
        property: "both",
        ..ALONE
    },
    // The return of the next year is the last one.
    Household {
        name: "died after the year",
        people: "{name: Nell Harrow, deceased: 2025-02-01}",
        died: "client_in_next_year",
        ..ALONE
    },
    // A couple with a main home each.
    Household {
        name: "two homes",
        people: COUPLE,
        property: "two homes",
        status: ("filing_status: married_filing_jointly, separate_main_homes: true", JOINT),
        ..ALONE
    },
    // 3,000 earned when the return was filed, 2,400 since the rebate came in; 1,000 used, 1,400 goes on.
    Household { name: "late rebate", property: "rebate", ..ALONE },
];

fn property(name: &str) -> String {
    match name {
        "solar" => SOLAR_2024.to_string(),
        "attic" => ATTIC_2024.to_string(),
        "shared" => format!("{SOLAR_2024}{SHARED_ATTIC_2024}"),
        "two homes" => format!("{SOLAR_2024}{ATTIC_2024}{LOFT_2024}"),
        "rebate" => format!("{SOLAR_2024}{REBATE_2025}"),
        "used" => SOLAR_2024.replace("condition: new", "condition: used"),
        _ => format!("{SOLAR_2024}{ATTIC_2024}"),
    }
}

/// The dates of the papers, by years after the tax year: before and after the due date of its return, after that of the
/// next, and after the time for a claim.
const DATES: [(i16, &str); 6] =
    [(1, "02-10"), (1, "03-20"), (1, "07-01"), (2, "03-20"), (2, "07-01"), (4, "06-01")];

/// A made case, the dates of its papers, and where its returns are on each.
struct Made {
    text: String,
    year: i16,
    name: String,
    on: Vec<(jiff::civil::Date, At)>,
}

/// Where the returns of a case are on a date: the word of each thing that sentences depend on.
type At = BTreeMap<&'static str, &'static str>;

/// Writes the keys of a return at a stage; `shown` are the three amounts computed for it.
fn keys(how: &str, year: i16, shown: [String; 3]) -> String {
    let [improvement, clean, carried_out] = &shown;
    let claims = |by: i64| {
        let more = |amount: &str| amount.parse::<i64>().unwrap() + by;
        format!(
            "claimed: {{improvement: {}, clean: {}, carried_out: {}}}",
            more(improvement),
            more(clean),
            more(carried_out)
        )
    };
    let filed = format!("filed: {}-03-01", year + 1);
    let none = "claimed: {improvement: 0, clean: 0, carried_out: 0}";
    match how {
        "projected" | "draft" => format!("stage: {how}"),
        "filed as computed" => format!("{filed}, {}", claims(0)),
        "filed unsaid" => filed,
        "filed less" => format!("{filed}, {none}"),
        "filed before the rebate" => {
            format!("{filed}, claimed: {{improvement: {improvement}, clean: {clean}, carried_out: {}}}", {
                carried_out.parse::<i64>().unwrap() + 600
            })
        }
        "filed less, no day" => format!("stage: filed, {none}"),
        "filed more" => format!("{filed}, {}", claims(150)),
        "amended" => format!("stage: amended, {filed}, {none}"),
        _ => unreachable!("{how}"),
    }
}

fn read(text: &str) -> (Case, Outcome, Sources) {
    let mut sources = Sources::default();
    let (case, findings) = case::read("stage.case.yaml", text.as_bytes(), &mut sources);
    let said: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
    let case = case.unwrap_or_else(|| panic!("{text}\n{}", said.join("\n")));
    let outcome = credit::compute(&case, Law::built_in()).expect("the figures are made");
    let wrong: Vec<_> = outcome.findings.iter().filter(|one| one.severity == Severity::Error).collect();
    assert!(wrong.is_empty(), "{text}\n{wrong:?}");
    (case, outcome, sources)
}

fn text(household: &Household, language: &str, returns: &[(i16, String, &str)]) -> String {
    let returns = returns.iter().map(|(year, keys, tax)| {
        let status = if *year > household.year { household.status.1 } else { household.status.0 };
        let status =
            if *year == household.year && household.died == "spouse_before" { SINGLE } else { status };
        format!("  {year}: {{{status}, tax_before_credits: {tax}, {keys}}}\n")
    });
    let returns: String = returns.collect();
    let second = match household.property {
        "two homes" => {
            "  g:\n    address: {street: 9 Quay Street, city: Marlow, state: OR, zip: 97099}\n    use: main_home\n    held_as: owner\n"
        }
        _ => "",
    };
    format!(
        "format: 1\nclient:\n  language: {language}\n  reference: HH-0150\n  people: [{}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 4 Elm Row, city: Marlow, state: OR, zip: 97099}}\n    use: main_home\n    held_as: owner\n{second}property:\n{}evidence:\n  bill: {{type: invoice, on_file: true}}\nreturns:\n{returns}",
        household.people,
        property(household.property)
    )
}

/// Returns the three amounts that are computed for a return, as whole dollars.
fn shown(household: &Household, year: i16) -> [String; 3] {
    let mut returns: Vec<(i16, String, &str)> =
        household.before.iter().map(|(year, tax)| (*year, "stage: draft".to_string(), *tax)).collect();
    if !household.season {
        returns.push((household.year, "stage: draft".to_string(), household.tax.0));
        returns.push((household.year + 1, "stage: draft".to_string(), household.tax.1));
    }
    let (_, outcome, _) = read(&text(household, "en", &returns));
    let at = |line: Line| {
        let amount = outcome.figures.money(&Place::of_return(TaxYear(year), line));
        amount.map_or_else(|| "0".to_string(), |amount| amount.spoken().replace(['$', ','], ""))
    };
    [at(line::IMPROVEMENT_ALLOWED), at(line::CLEAN_ALLOWED), at(line::CARRIED_OUT)]
}

/// Makes every case that can occur.
fn made(language: &str) -> Vec<Made> {
    let mut all = Vec::new();
    // Of the returns before and after, one way of filing otherwise is enough.
    let neighbor =
        |how: &str| how != "filed more" && how != "filed before the rebate" && !how.ends_with("no day");
    for household in &HOUSEHOLDS {
        let year = household.year;
        let amounts = |year| shown(household, year);
        let (own, next_own) = (amounts(year), amounts(year + 1));
        let before_own = household.before.last().map(|(year, _)| (*year, amounts(*year)));
        let befores: Vec<Option<(&str, &str)>> = match household.before {
            [] => vec![None],
            _ => RETURNS.iter().filter(|(how, _)| neighbor(how)).map(|one| Some(*one)).collect(),
        };
        let stages: Vec<(&str, &str)> = match household.season {
            true => vec![("", "not_in_case")],
            false => {
                let rebate = |how: &str| how != "filed before the rebate" || household.property == "rebate";
                RETURNS.into_iter().filter(|(how, _)| rebate(how)).collect()
            }
        };
        let nexts = [("", "not_in_case")].into_iter().chain(RETURNS).filter(|(how, _)| neighbor(how));
        let nexts: Vec<(&str, &str)> = nexts.collect();
        for (before, stage, next) in befores.iter().flat_map(|before| {
            stages.iter().flat_map(|stage| nexts.iter().map(|next| (*before, *stage, *next)))
        }) {
            let filed = |word: &str| word.starts_with("filed") || word == "amended";
            let possible = (!filed(next.1) || filed(stage.1))
                && before.is_none_or(|before| filed(before.1) || !filed(stage.1))
                && (next.1 == "not_in_case" || !household.season && household.died != "client")
                && (household.before.is_empty()
                    || next.1 == "not_in_case"
                    || before.is_some_and(|one| one.1 == "filed_as_computed"));
            if !possible {
                continue;
            }
            let day = |text: String| text.parse::<jiff::civil::Date>().unwrap();
            let filed_on = |year: i16| day(format!("{}-03-01", year + 1));
            let due = |year: i16| day(format!("{}-04-15", year + 1));
            // A return that shows nothing of which anything is computed says all there is.
            let nothing = |own: &[String; 3]| own.iter().all(|amount| amount == "0");
            let said = |how: (&str, &'static str), own: &[String; 3]| match how.1 {
                "filed_unsaid" if nothing(own) => "filed_as_computed",
                "filed_otherwise" if how.0 != "filed more" && nothing(own) => "filed_as_computed",
                word => word,
            };
            let mut on = Vec::new();
            for (years, at) in DATES {
                let dated = day(format!("{}-{at}", year + years));
                // Before the rebate has come in the case does not know of it.
                let early = (household.property == "rebate" && dated < day("2025-06-15".to_string()))
                    || (filed(stage.1) && dated < filed_on(year))
                    || (filed(next.1) && dated < filed_on(year + 1))
                    || before.is_some_and(|before| before.1 == "expected" && dated >= filed_on(year));
                if early {
                    continue;
                }
                let past = |year: i16| if due(year) < dated { "past" } else { "ahead" };
                let window = match (filed(stage.1), dated.year() < year + 4) {
                    (false, _) => "not_filed",
                    (true, true) => "open",
                    (true, false) if stage.0.ends_with("no day") => "unknown",
                    (true, false) => "closed",
                };
                // What a filed return leaves out can be claimed for it, and for those before and after.
                let left_out = |how: &str, own: &[String; 3]| how.starts_with("filed less") && !nothing(own);
                let claim = (left_out(stage.0, &own) && window == "open")
                    || (left_out(next.0, &next_own) && dated.year() < year + 5)
                    || (before.is_some_and(|one| left_out(one.0, &before_own.as_ref().unwrap().1))
                        && dated.year() < year + 3);
                let at = At::from([
                    ("return", said(stage, &own)),
                    (
                        "before",
                        before.map_or("not_in_case", |one| said(one, &before_own.as_ref().unwrap().1)),
                    ),
                    ("next", said(next, &next_own)),
                    ("due", past(year)),
                    ("next_due", past(year + 1)),
                    ("window", window),
                    ("claim", if claim { "open" } else { "none" }),
                    ("died", household.died),
                ]);
                on.push((dated, at));
            }
            let mut returns: Vec<(i16, String, &str)> = Vec::new();
            if let (Some((how, _)), Some((year, own))) = (before, &before_own) {
                returns.push((*year, keys(how, *year, own.clone()), household.before[0].1));
            }
            if !household.season {
                returns.push((year, keys(stage.0, year, own.clone()), household.tax.0));
            }
            if next.1 != "not_in_case" {
                returns.push((year + 1, keys(next.0, year + 1, next_own.clone()), household.tax.1));
            }
            let before = before.map_or("none", |one| one.0);
            let name = format!("{}: return {}, before {before}, next {}", household.name, stage.0, next.0);
            all.push(Made { text: text(household, language, &returns), year, name, on });
        }
    }
    all
}

/// Sentences of a file that share the stages at which they may appear.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Group {
    /// For each of `return`, `before`, `next`, `due`, `next_due`, `window`, `claim` and `died` the words it may have; all, where
    /// it is not given.
    #[serde(default)]
    at: BTreeMap<String, Vec<String>>,
    /// Why, where it is not plain.
    #[serde(default)]
    #[serde(rename = "because")]
    _because: String,
    #[serde(default)]
    en: Vec<String>,
    #[serde(default)]
    es: Vec<String>,
}

/// What may be said: the group of every sentence, by letter and sentence.
type Allowed = BTreeMap<(String, String), BTreeMap<String, Vec<String>>>;

fn allowed(language: &str) -> Allowed {
    let mut all = Allowed::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/stages");
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let letter = path.file_stem().unwrap().to_str().unwrap().to_string();
        let groups: Vec<Group> = serde_yaml::from_str(&std::fs::read_to_string(&path).unwrap())
            .unwrap_or_else(|told| panic!("{}: {told}", path.display()));
        for group in groups {
            for sentence in if language == "en" { group.en } else { group.es } {
                let known = all.insert((letter.clone(), sentence.clone()), group.at.clone());
                assert!(known.is_none(), "{letter} lists twice: {sentence}");
            }
        }
    }
    all
}

/// Takes a document apart into sentences, with what differs from case to case put as a word in braces.
fn sentences(document: &Document) -> Vec<String> {
    let mut texts = vec![document.title.clone()];
    document.blocks.iter().for_each(|block| words(block, &mut texts));
    texts.iter().flat_map(|text| split(&normal(text))).collect()
}

fn words(block: &Block, out: &mut Vec<String>) {
    let plain = |words: &Words| words.iter().map(|run| run.text.as_str()).collect::<String>();
    match block {
        Block::Heading { words, .. } | Block::Paragraph(words) | Block::Small(words) => {
            out.push(plain(words))
        }
        Block::List { items, .. } => items.iter().flatten().for_each(|block| words(block, out)),
        Block::Together(blocks) | Block::Panel(blocks) => blocks.iter().for_each(|block| words(block, out)),
        Block::Table(table) => {
            let rows =
                table.rows.iter().map(|row| row.cells.iter().map(plain).collect::<Vec<_>>().join(" | "));
            out.extend(rows);
        }
        _ => {}
    }
}

/// Puts amounts, years, dates and places of official forms as `{m}`, `{y}`, `{d}` and `{f}`.
fn normal(text: &str) -> String {
    const MONTHS: [&str; 24] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ];
    let mut out = String::new();
    for word in text.split(' ') {
        let start = word.find(|c: char| c.is_alphanumeric() || c == '$').unwrap_or(word.len());
        let end = word
            .rfind(|c: char| c.is_alphanumeric())
            .map_or(word.len(), |at| at + word[at..].chars().next().unwrap().len_utf8());
        let (head, core, tail) =
            if start < end { (&word[..start], &word[start..end], &word[end..]) } else { ("", word, "") };
        let digits = !core.is_empty() && core.chars().all(|c| c.is_ascii_digit());
        let core = match core {
            _ if core.starts_with('$') => "{m}",
            _ if digits && core.len() == 4 && core != "5695" && core != "1040" => "{y}",
            _ if digits && core.len() <= 2 => "{n}",
            _ if MONTHS.contains(&core) => "{month}",
            other => other,
        };
        if !out.is_empty() {
            out.push(' ');
        }
        out.extend([head, core, tail]);
    }
    for (from, to) in [
        ("{month} {n}, {y}", "{d}"),
        ("{n} de {month} de {y}", "{d}"),
        ("Form 5695, line {n}", "{f}"),
        ("Formulario 5695, línea {n}", "{f}"),
        // Of a line that was not read in print only the form is named.
        ("Form 5695", "{f}"),
        ("Formulario 5695", "{f}"),
    ] {
        out = out.replace(from, to);
    }
    out
}

/// Splits a text behind each stop that ends a sentence.
fn split(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.match_indices(['.', '?']).map(|(at, _)| at + 1).find(|at| {
        let after = rest[*at..].trim_start_matches(')');
        after.starts_with(' ') && !after[1..].starts_with(char::is_lowercase)
    }) {
        found.push(rest[..at].trim().to_string());
        rest = rest[at..].trim_start();
    }
    found.extend((!rest.trim().is_empty()).then(|| rest.trim().to_string()));
    found
}

/// Writes the letters of a case, by name, and the worksheet's summary in English.
fn papers(
    (case, outcome, sources): &(Case, Outcome, Sources),
    year: i16,
    dated: jiff::civil::Date,
    kit: &Kit,
) -> Vec<(String, Document)> {
    let (law, year) = (Law::built_in(), TaxYear(year));
    let facts = facts(case, law, outcome, year, false, dated);
    let request =
        Request { case, law, outcome, year, facts: &facts, firm: None, logo: None, dated, replaces: None };
    let (mut papers, findings) = letter::write(&request, kit);
    assert!(findings.is_empty(), "{findings:?}");
    if case.client.language != Language::En {
        return papers;
    }
    let stamps = Stamps { dated: Some(dated), ..Stamps::default() };
    let layout = sheet::Layout::built_in();
    let (facts, stamps) = (&facts, &stamps);
    let material = sheet::Material { layout, case, law, outcome, year, facts, sources, stamps };
    let mut worksheet = sheet::write(&material);
    // Of the worksheet the box of the summary; what else it says depends on no stage.
    worksheet.blocks =
        worksheet.blocks.into_iter().filter(|block| matches!(block, Block::Panel(_))).take(1).collect();
    for block in &mut worksheet.blocks {
        if let Block::Panel(blocks) = block {
            blocks.retain(|block| matches!(block, Block::Paragraph(_)));
        }
    }
    worksheet.title = String::new();
    papers.push(("worksheet".to_string(), worksheet));
    papers
}

fn each_sentence_is_at_its_stage(language: &str) {
    let kit = Kit::built_in(&mut Sources::default());
    let allowed = allowed(language);
    let mut met: BTreeSet<(String, String)> = BTreeSet::new();
    let mut seen: BTreeSet<(String, &str)> = BTreeSet::new();
    let mut unknown: BTreeMap<(String, String), BTreeMap<&str, BTreeSet<&str>>> = BTreeMap::new();
    let mut wrong: BTreeMap<(String, String, &str, &str), String> = BTreeMap::new();
    for made in made(language) {
        let computed = read(&made.text);
        for (dated, at) in &made.on {
            for (letter, document) in papers(&computed, made.year, *dated, &kit) {
                seen.insert((letter.clone(), at["return"]));
                for sentence in sentences(&document) {
                    let mut keys =
                        [&letter, "every-letter"].map(|letter| (letter.to_string(), sentence.clone()));
                    keys.sort_by_key(|key| !allowed.contains_key(key));
                    let [key, _] = keys;
                    let Some(group) = allowed.get(&key) else {
                        let known = unknown.entry((letter.clone(), sentence)).or_default();
                        at.iter().for_each(|(facet, word)| {
                            known.entry(facet).or_default().insert(word);
                        });
                        continue;
                    };
                    for (facet, word) in at {
                        if group.get(*facet).is_some_and(|words| !words.iter().any(|one| one == word)) {
                            let place = (letter.clone(), sentence.clone(), *facet, *word);
                            wrong.entry(place).or_insert_with(|| format!("{}, dated {dated}", made.name));
                        }
                    }
                    met.insert(key);
                }
            }
        }
    }
    let mut told = String::new();
    for ((letter, sentence), at) in &unknown {
        told.push_str(&format!("{letter} says what no table lists: {sentence}\n    at {at:?}\n"));
    }
    for ((letter, sentence, facet, word), name) in &wrong {
        told.push_str(&format!("{letter} says, where `{facet}` is {word}: {sentence}\n    {name}\n"));
    }
    for (letter, sentence) in allowed.keys().filter(|key| !met.contains(*key)) {
        told.push_str(&format!("{letter} never says: {sentence}\n"));
    }
    assert!(told.is_empty(), "{told}");
    // Every letter was written at every stage at which it can be.
    let filed = ["filed_as_computed", "filed_unsaid", "amended"];
    let any =
        ["expected", "in_preparation", "filed_as_computed", "filed_unsaid", "filed_otherwise", "amended"];
    let of = |letter: &'static str, stages: &[&'static str]| -> Vec<(&str, &str)> {
        stages.iter().map(|stage| (letter, *stage)).collect()
    };
    let wanted = [
        of("results", &["expected", "in_preparation"]),
        of("results", &filed[..2]),
        of("amended-results", &["filed_otherwise", "amended"]),
        of("open-window", &["in_preparation", "filed_as_computed"]),
        of("carryforward", &any),
        of("used-up", &any),
        of("yearly-reminder", &["not_in_case"]),
        of("papers-missing", &any),
        of("papers-to-keep", &any),
    ];
    for (letter, stage) in wanted.concat() {
        assert!(seen.contains(&(letter.to_string(), stage)), "{letter} was never written at {stage}");
    }
}

#[test]
fn each_english_sentence_is_at_its_stage() {
    each_sentence_is_at_its_stage("en");
}

#[test]
fn each_spanish_sentence_is_at_its_stage() {
    each_sentence_is_at_its_stage("es");
}
