//! The schemas an editor uses say the same as the reader: what it reads they accept, what it refuses for its form
//! they refuse. An outside validator judges; the YAML is read the way editors read it, numbers as numbers.

use gablework::assemble;
use gablework::case::{self, schema};
use gablework::finding::{Severity, Sources};
use gablework::law::Law;
use gablework::sheet;
use jsonschema::Validator;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::meta::validate(schema).expect("the schema is one of draft 2020-12");
    jsonschema::draft202012::new(schema).expect("the schema can be used")
}

/// Returns what an editor has after reading: years that stand as keys become text.
fn as_an_editor_reads(text: &str) -> Value {
    fn plain(value: serde_yaml::Value) -> Value {
        match value {
            serde_yaml::Value::Mapping(entries) => Value::Object(
                entries
                    .into_iter()
                    .map(|(key, value)| {
                        let key = match key {
                            serde_yaml::Value::String(key) => key,
                            serde_yaml::Value::Number(key) => key.to_string(),
                            other => panic!("no key: {other:?}"),
                        };
                        (key, plain(value))
                    })
                    .collect::<Map<String, Value>>(),
            ),
            serde_yaml::Value::Sequence(all) => Value::Array(all.into_iter().map(plain).collect()),
            other => serde_json::to_value(other).expect("a plain value"),
        }
    }
    plain(serde_yaml::from_str(text).expect("YAML"))
}

/// Says what a validator has against a text.
fn complaints(validator: &Validator, text: &str) -> Vec<String> {
    let value = as_an_editor_reads(text);
    validator.iter_errors(&value).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

/// Says whether the reader itself finds fault with a case.
fn refused(text: &str) -> bool {
    let (_, findings) = case::read("a.case.yaml", text.as_bytes(), &mut Sources::default());
    findings.iter().any(|finding| finding.severity == Severity::Error)
}

/// Every case file of a folder.
fn cases(folder: &str) -> Vec<(PathBuf, String)> {
    let entries = std::fs::read_dir(root().join(folder)).expect("a folder");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut found: Vec<(PathBuf, String)> = paths
        .filter(|path| path.to_string_lossy().ends_with(".case.yaml"))
        .map(|path| (path.clone(), std::fs::read_to_string(&path).expect("a case")))
        .collect();
    found.sort();
    assert!(!found.is_empty(), "{folder} has no cases");
    found
}

#[test]
fn an_editor_accepts_every_case_that_the_reader_accepts() {
    let validator = validator(&schema::case());
    for (path, text) in cases("demo").into_iter().chain(cases("tests/cases")) {
        assert_eq!(complaints(&validator, &text), Vec::<String>::new(), "{}", path.display());
    }
}

#[test]
fn an_editor_accepts_the_firm_file_and_marks_a_wrong_one() {
    let validator = validator(&schema::firm());
    let text = std::fs::read_to_string(root().join("demo/firm.yaml")).expect("the firm file");
    assert_eq!(complaints(&validator, &text), Vec::<String>::new());
    assert!(!complaints(&validator, &text.replace("phone:", "phon:")).is_empty());
    assert!(!complaints(&validator, "name: Larch Tax\n").is_empty());
}

/// A whole case in which each test writes one thing otherwise.
const CASE: &str = "\
format: 1
client:
  reference: HH-0001
  people: [{name: Ada Rook}]
  language: en
  mail_to: {names: [Ada Rook], street: 9 Mill Street, unit: 4, city: Harrow Bend, state: OH, zip: 45990}
homes:
  mill-street:
    address: {street: 9 Mill Street, city: Harrow Bend, state: OH, zip: 45990}
    use: main_home
    held_as: owner
property:
  roof-array:
    kind: solar_electric
    home: mill-street
    part_of: existing_home
    acquired: bought
    condition: new
    installed: 2025-07-30
    capacity_kw: 7.6
    nonbusiness_use: 100%
    units: 1
    costs:
      - {item: panels, as: equipment, amount: \"18,000.00\", evidence: invoice-7}
      - {item: monitoring, as: monitoring, amount: 120, treat_as: counted, because: it cannot be had without}
  battery:
    kind: battery_storage
    home: mill-street
    part_of: existing_home
    acquired: bought
    condition: new
    installed: 2025-07-30
    capacity_kwh: 13.5
shared:
  - {item: permit, as: permit, amount: 420, over: {roof-array: 70%, battery: 30%}}
returns:
  2025: {form: 1040, filing_status: single, tax_before_credits: 3200, other_credits: {child_tax: {return_line: 400, worksheet_b: 0}}}
planning: {2026: {tax_before_credits: 1500}, federal_rate: 22%, itemizes: true}
evidence:
  invoice-7: {type: invoice, on_file: true, where: 3}
";

/// What stands in [`CASE`], and what is written in its place; the reader refuses each for its form.
const BROKEN: &[(&str, &str)] = &[
    ("format: 1", "format: 2"),
    ("format: 1\n", ""),
    ("client:", "clients:"),
    ("people: [{name: Ada Rook}]", "people: {name: Ada Rook}"),
    ("{name: Ada Rook}", "{name: }"),
    ("{name: Ada Rook}", "{name: Ada Rook, ssn: none}"),
    ("language: en", "language: tlh"),
    ("street: 9 Mill Street, unit", "unit"),
    ("roof-array:\n", "Roof_Array:\n"),
    ("kind: solar_electric", "kind: solar"),
    ("home: mill-street\n", "home: Mill Street\n"),
    ("use: main_home", "use: [main_home]"),
    ("use: main_home", "use: {is: main_home}"),
    ("installed: 2025-07-30", "installed: 7/30/2025"),
    ("installed: 2025-07-30", "installed: 2025-13-30"),
    ("installed: 2025-07-30", "installed: 0202-07-30"),
    ("capacity_kw: 7.6", "capacity_kw: 7.6 kW"),
    ("capacity_kw: 7.6", "capacity_kw: -7.6"),
    ("nonbusiness_use: 100%", "nonbusiness_use: 1.0"),
    ("nonbusiness_use: 100%", "nonbusiness_use: 101%"),
    ("units: 1", "units: 0"),
    ("units: 1", "units: 1.5"),
    ("as: equipment", "as: equipement"),
    ("\"18,000.00\"", "\"18.000,00\""),
    ("\"18,000.00\"", "\"18,00.00\""),
    ("\"18,000.00\"", "18000.00 USD"),
    ("\"18,000.00\"", "-18000"),
    ("\"18,000.00\"", "[18000]"),
    ("\"18,000.00\"", ""),
    ("amount: \"18,000.00\", ", ""),
    ("treat_as: counted", "treat_as: reduces_cost"),
    ("treat_as: counted", "treat_as: {not_counted: 40}"),
    ("item: permit, ", ""),
    ("item: permit", "item: permit, agreed: 2025-03-01"),
    ("as: permit", "as: utility_subsidy"),
    ("item: permit, as: permit", "from: the utility, as: permit"),
    ("roof-array: 70%", "roof-array: 70 percent"),
    ("form: 1040", "form: 1041"),
    ("  2025: {", "  1999: {"),
    ("filing_status: single, ", ""),
    ("return_line: 400", "line: 400"),
    ("child_tax: {", "child_care: {"),
    ("federal_rate: 22%", "federal_rate: 22"),
    ("itemizes: true", "itemizes: perhaps"),
    ("2026: {tax", "soon: {tax"),
    ("on_file: true, ", ""),
];

#[test]
fn an_editor_marks_what_the_reader_refuses_for_its_form() {
    let validator = validator(&schema::case());
    assert_eq!(complaints(&validator, CASE), Vec::<String>::new());
    assert!(!refused(CASE));
    for (part, instead) in BROKEN {
        assert_eq!(
            CASE.matches(part).count().min(2),
            CASE.matches(part).count().max(1),
            "`{part}` is not there"
        );
        let text = CASE.replacen(part, instead, 1);
        assert!(refused(&text), "the reader takes `{instead}`");
        assert!(!complaints(&validator, &text).is_empty(), "an editor takes `{instead}` for `{part}`");
    }
}

/// Other ways to write the same, all of which the reader takes.
const FINE: &[(&str, &str)] = &[
    ("format: 1", "format: \"1\""),
    ("language: en", "language:"),
    ("\"18,000.00\"", "$18000"),
    ("\"18,000.00\"", "\"$ 18,000.5\""),
    ("zip: 45990}\nhomes", "zip: 01040}\nhomes"),
    ("unit: 4", "unit: true"),
    ("use: main_home", "use: [{is: other_residence}, {from: 2020-01-01, is: main_home}]"),
    ("installed: 2025-07-30", "installed: ~"),
    ("capacity_kw: 7.6", "capacity_kw: \"7.6\""),
    ("nonbusiness_use: 100%", "nonbusiness_use: 80.5 %"),
    ("units: 1", "units: \"1\""),
    ("treat_as: counted", "treat_as: {counted: 60.00}"),
    ("roof-array: 70%, battery: 30%", "roof-array: 300, battery: 120.00"),
    ("item: permit, as: permit", "from: the utility, as: utility_subsidy, received: 2025-08-01"),
    ("form: 1040", "form: 1040-SR"),
    ("child_tax: {return_line: 400, worksheet_b: 0}", "child_tax: 400"),
    ("on_file: true", "on_file: yes"),
    ("planning: {2026: {tax_before_credits: 1500}, federal_rate: 22%, itemizes: true}", "planning:"),
];

#[test]
fn an_editor_accepts_every_way_of_writing_that_the_reader_takes() {
    let validator = validator(&schema::case());
    for (part, instead) in FINE {
        assert!(CASE.contains(part), "`{part}` is not there");
        let text = CASE.replacen(part, instead, 1);
        assert!(!refused(&text), "the reader refuses `{instead}`");
        assert_eq!(complaints(&validator, &text), Vec::<String>::new(), "{instead}");
    }
}

#[test]
fn figures_are_what_their_schema_says() {
    let validator = validator(&sheet::json::schema());
    let law = Law::built_in();
    let mut forms: std::collections::BTreeSet<String> = std::collections::BTreeSet::new();
    for (path, text) in cases("demo").into_iter().chain(cases("tests/cases")) {
        let computed =
            assemble::compute(&path.display().to_string(), text.as_bytes(), law, Sources::default())
                .expect("no fault");
        let case = computed.case.as_ref().expect("a case");
        for year in &computed.outcome.years {
            let figures = sheet::json::figures(case, *year, law, &computed.outcome, &computed.sources);
            let wrong: Vec<String> = validator
                .iter_errors(&figures)
                .take(3)
                .map(|error| format!("{}: {error}", error.instance_path()))
                .collect();
            assert_eq!(wrong, Vec::<String>::new(), "{} {year}", path.display());
            note_forms(&figures["lines"], &mut forms);
        }
    }
    // Expressions that no case makes would be described by guess.
    for form in [
        "fact",
        "law",
        "figure",
        "sum",
        "less",
        "times",
        "smaller",
        "not_below_zero",
        "round",
        "ruled",
        "answer",
    ] {
        assert!(forms.contains(form), "no figure has a `{form}`");
    }
    let mut figures = json!({"format": 1, "case": "HH", "year": 2025, "law": null, "lines": [], "findings": [], "papers": [], "amended_return": null});
    assert!(validator.is_valid(&figures));
    figures["lines"] = json!([{"line": "440", "value": 12}]);
    assert!(!validator.is_valid(&figures));
}

/// Notes the names of all expressions below.
fn note_forms(value: &Value, forms: &mut std::collections::BTreeSet<String>) {
    match value {
        Value::Array(all) => all.iter().for_each(|one| note_forms(one, forms)),
        Value::Object(keys) => {
            for (key, one) in keys {
                forms.insert(key.clone());
                note_forms(one, forms);
            }
        }
        _ => {}
    }
}
