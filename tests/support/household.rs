//! Cases for tests: a few lines that matter, completed to a whole case, read and computed.
//!
//! Comes in: YAML with only the sections a test is about. Goes out: [`Household`], with its figures and all that
//! was found. What a test leaves out is filled plainly: a client without history, one owned main home
//! `alder-lane` in an invented place, new property bought for that home as it stands, and returns with ample tax.

use gablework::case::{self, Case, Kind, OtherCredit, TaxYear};
use gablework::credit::{self, Figure, Outcome, Place};
use gablework::finding::{Finding, Severity, Sources};
use gablework::law::{Credit, Law};
use gablework::money::Money;
use rust_decimal::Decimal;
use serde_yaml::{Mapping, Value};
use std::fmt::Write;

/// A case that was read and computed.
pub struct Household {
    pub sources: Sources,
    pub case: Case,
    pub outcome: Outcome,
    /// What was found on reading and on computing.
    pub findings: Vec<Finding>,
}

/// Completes a case, reads and computes it; returns are added for `years` where the text gives none at all.
///
/// Panics with every finding where the case cannot be read.
pub fn compute(years: &[i16], text: &str) -> Household {
    let written: Value = serde_yaml::from_str(text).expect("the test's own YAML");
    computed(&complete(written, years)).unwrap_or_else(|why| panic!("{why}\n{text}"))
}

/// Reads and computes a whole case. Fails with the findings where it cannot be read or computed.
pub fn computed(text: &str) -> Result<Household, String> {
    let mut sources = Sources::default();
    let (case, mut findings) = case::read("household.case.yaml", text.as_bytes(), &mut sources);
    let Some(case) = case else {
        return Err(format!("the case cannot be read:\n{}", said(&findings)));
    };
    let outcome = credit::compute(&case, Law::built_in()).map_err(|fault| fault.to_string())?;
    findings.extend(outcome.findings.iter().cloned());
    Ok(Household { sources, case, outcome, findings })
}

/// Lists findings for a failure's message.
pub fn said(findings: &[Finding]) -> String {
    let lines = findings.iter().map(|one| format!("  {} {}: {}", one.severity, one.code, one.message));
    lines.collect::<Vec<_>>().join("\n")
}

/// Fills in what a test leaves out, and returns the text of the whole case.
pub fn complete(written: Value, years: &[i16]) -> String {
    let mut case = Mapping::new();
    case.insert("format".into(), 1.into());
    case.insert("client".into(), yaml("{reference: HH-1000, people: [{name: Ana Alder}]}"));
    case.insert("homes".into(), yaml(HOME));
    let returns = years.iter().map(|year| (Value::from(*year), yaml("{tax_before_credits: 100000}")));
    case.insert("returns".into(), Value::Mapping(returns.collect()));
    for (key, value) in into_mapping(written) {
        case.insert(key, value);
    }
    for_each(&mut case, "property", |item| {
        for (key, value) in [
            ("home", "alder-lane"),
            ("part_of", "existing_home"),
            ("acquired", "bought"),
            ("condition", "new"),
        ] {
            item.entry(key.into()).or_insert(value.into());
        }
    });
    for_each(&mut case, "returns", |one| {
        one.entry("filing_status".into()).or_insert("single".into());
    });
    serde_yaml::to_string(&case).expect("a mapping is written as YAML")
}

const HOME: &str = "alder-lane: {use: main_home, held_as: owner, \
    address: {street: 12 Alder Lane, city: Riverton, state: MA, zip: \"01040\"}}";

fn yaml(text: &str) -> Value {
    serde_yaml::from_str(text).expect("the support's own YAML")
}

fn into_mapping(value: Value) -> Mapping {
    match value {
        Value::Mapping(mapping) => mapping,
        Value::Null => Mapping::new(),
        other => panic!("a mapping belongs here: {other:?}"),
    }
}

fn for_each(case: &mut Mapping, section: &str, mut fill: impl FnMut(&mut Mapping)) {
    if let Some(Value::Mapping(entries)) = case.get_mut(section) {
        for (_, entry) in entries.iter_mut() {
            if let Value::Mapping(entry) = entry {
                fill(entry);
            }
        }
    }
}

/// Writes the case of a household that fills every official line of a year that can be filled: property of every kind
/// of the year, every other credit of the year's order, earlier credits and window costs, a balance brought in, and a
/// tax that leaves some of the clean energy credit over. Amounts stay below the limits, so that no line is zero.
pub fn with_everything(year: i16, form: &str) -> String {
    let law = Law::built_in().year(TaxYear(year)).unwrap_or_else(|| panic!("no law of {year}"));
    let mut case = format!(
        "format: 1\nclient: {{reference: HH-{year}, people: [{{name: Ana Alder}}]}}\nhomes:\n  {HOME}\nproperty:\n"
    );
    for kind in law.kinds.keys() {
        let (units, cost) = below_the_limits(*kind);
        case += &bought(&kind.word().replace('_', "-"), *kind, year, units, &cost.to_string());
    }
    let _ = writeln!(
        case,
        "returns:\n  {year}:\n    form: {form}\n    filing_status: single\n    tax_before_credits: 4100\n    other_credits:"
    );
    let order = law.before.get(&Credit::Clean).map(|order| order.credits.as_slice()).unwrap_or_default();
    for (credit, amount) in order.iter().zip(31..) {
        // A nonresident's return has no line for the first two, and that of 2006 none for the third.
        let absent = match credit {
            OtherCredit::Education | OtherCredit::ElderlyOrDisabled => year < 2020,
            OtherCredit::DcFirstHome => year == 2006,
            _ => false,
        };
        let _ = match (credit, form) {
            (_, "1040-NR") if absent => Ok(()),
            (OtherCredit::ChildTax, _) => {
                writeln!(case, "      child_tax: {{return_line: 500, worksheet_b: {amount}}}")
            }
            _ => writeln!(case, "      {credit}: {amount}"),
        };
    }
    if year > 2006 {
        let before = year - 1;
        let _ = writeln!(case, "carried_in: {{{year}: {{amount: 310, shown_on: {before} Form 5695}}}}");
    }
    if let Some(method) = law.looking_back() {
        let _ = writeln!(case, "earlier_credits:");
        for (earlier, n) in method.earlier_credits.iter().zip(1..) {
            let _ =
                writeln!(case, "  {earlier}: {{nonbusiness_energy_credit: {n}, window_cost: {}}}", 10 + n);
        }
    }
    case
}

/// Writes an item of property for the main home `alder-lane`, with the facts that its kind needs.
pub fn bought(name: &str, kind: Kind, year: i16, units: u16, amount: &str) -> String {
    let day = match kind {
        Kind::HomeEnergyAudit => format!("performed: {year}-05-20\n    paid: {year}-05-21"),
        _ => format!("installed: {year}-05-20\n    units: {units}"),
    };
    let facts = match kind {
        Kind::SolarWaterHeating => "\n    solar_share: 60%\n    certified: {by: a body}",
        Kind::SmallWind => "\n    capacity_kw: 3",
        Kind::BatteryStorage => "\n    capacity_kwh: 13.5",
        Kind::FuelCell => "\n    capacity_kw: 5\n    efficiency: 40%",
        Kind::BiomassStoveOrBoiler => "\n    efficiency: 80%\n    maker_code: B1C0",
        Kind::EnablingProperty => "\n    amperage: 200\n    enables: [heat-pump]\n    maker_code: E1C0",
        Kind::HomeEnergyAudit => {
            "\n    certified: {by: a program}\n    auditor: {name: Ash Auditor, number: 12-34}"
        }
        Kind::SolarElectric
        | Kind::GeothermalHeatPump
        | Kind::InsulationOrAirSealing
        | Kind::Roof
        | Kind::AirCirculatingFan => "",
        _ => "\n    maker_code: X1C0",
    };
    format!(
        "  {name}:\n    kind: {kind}\n    home: alder-lane\n    part_of: existing_home\n    acquired: bought\n    \
         condition: new\n    {day}{facts}\n    costs: [{{item: {name}, as: equipment, amount: {amount}}}]\n"
    )
}

/// Returns units and a cost of a kind that leave every limit of every year unreached, units enough for the rows of
/// the form.
fn below_the_limits(kind: Kind) -> (u16, u16) {
    match kind {
        Kind::SolarElectric => (1, 5000),
        Kind::SolarWaterHeating => (1, 3000),
        Kind::SmallWind => (1, 4000),
        Kind::GeothermalHeatPump => (1, 4500),
        Kind::BatteryStorage => (1, 2500),
        Kind::FuelCell => (1, 6000),
        Kind::BiomassStoveOrBoiler => (2, 200),
        Kind::EnablingProperty => (2, 300),
        Kind::HomeEnergyAudit => (1, 250),
        Kind::ExteriorDoor => (6, 420),
        Kind::WindowOrSkylight => (6, 360),
        Kind::InsulationOrAirSealing | Kind::Roof => (1, 240),
        Kind::FurnaceOrBoiler => (2, 90),
        Kind::AirCirculatingFan => (1, 30),
        _ => (4, 60),
    }
}

impl Household {
    /// Returns the figure at a place such as `2024:440` or `2024:230@windows`.
    pub fn figure(&self, place: &str) -> Option<&Figure> {
        let place = Place::read(place, TaxYear(0)).unwrap_or_else(|| panic!("`{place}` is no place"));
        self.outcome.figures.get(&place)
    }

    /// Returns the amount at a place; panics where there is none.
    pub fn money(&self, place: &str) -> Money {
        let figure = self.figure(place).unwrap_or_else(|| panic!("there is no line {place}"));
        figure.value.money().unwrap_or_else(|| panic!("line {place} is no amount"))
    }

    /// Asserts several lines of a year at once, and names all that differ.
    pub fn expect(&self, year: i16, lines: &[(&str, &str)]) {
        let mut wrong = Vec::new();
        for (line, value) in lines {
            let place = format!("{year}:{line}");
            if let Some(found) = self.differs(&place, value) {
                wrong.push(format!("  {place}: expected {value}, found {found}"));
            }
        }
        assert!(wrong.is_empty(), "\n{}\nfindings:\n{}", wrong.join("\n"), said(&self.findings));
    }

    /// Compares a figure with what is expected, numbers as exact decimals; returns what stands there instead.
    pub fn differs(&self, place: &str, expected: &str) -> Option<String> {
        let Some(figure) = self.figure(place) else {
            return (expected != "absent").then(|| "absent".to_string());
        };
        let same = match figure.value.number() {
            Some(number) => exact(expected).is_some_and(|expected| expected == number),
            None => figure.value.plain() == expected,
        };
        let number = || figure.value.number().map(|number| number.to_string());
        (!same).then(|| number().unwrap_or_else(|| figure.value.plain()))
    }

    /// Returns the codes of the findings of a severity.
    pub fn codes(&self, severity: Severity) -> Vec<&'static str> {
        self.findings.iter().filter(|one| one.severity == severity).map(|one| one.code).collect()
    }

    /// Says whether a finding was made.
    pub fn found(&self, code: &str) -> bool {
        self.findings.iter().any(|one| one.code == code)
    }

    /// Returns the findings with a code.
    pub fn with_code(&self, code: &str) -> Vec<&Finding> {
        self.findings.iter().filter(|one| one.code == code).collect()
    }

    /// Asserts that there is no error, and returns the household.
    pub fn without_errors(self) -> Household {
        let errors = self.codes(Severity::Error);
        assert!(errors.is_empty(), "unexpected errors:\n{}", said(&self.findings));
        self
    }
}

/// Reads an expected number: plain, or a percentage.
fn exact(text: &str) -> Option<Decimal> {
    match text.strip_suffix('%') {
        Some(percent) => Some(percent.parse::<Decimal>().ok()? / Decimal::ONE_HUNDRED),
        None => text.parse().ok(),
    }
}
