//! The law's files are whole, well sourced, and say what the published sources say.

use super::*;

/// Returns the name and the text of a year's own file.
fn file(year: i16) -> (&'static str, &'static str) {
    editions::law()
        .iter()
        .find(|one| one.year == year)
        .map(|one| (one.name, one.text))
        .expect("the year has a file")
}

fn law(year: i16) -> &'static YearLaw {
    Law::built_in().year(TaxYear(year)).expect("the year has a file")
}

fn money(year: i16, key: LawKey) -> Option<Money> {
    match law(year).values.get(&key)?.amount {
        Amount::Money(money) => Some(money),
        _ => None,
    }
}

fn rate(year: i16, key: LawKey) -> Option<String> {
    match law(year).values.get(&key)?.amount {
        Amount::Rate(rate) => Some(rate.to_string()),
        _ => None,
    }
}

/// Kinds of the contract that neither credit has from 2023 on.
const ABSENT_SINCE_2023: [Kind; 2] = [Kind::Roof, Kind::AirCirculatingFan];

#[test]
fn every_file_reads_without_complaint() {
    let files: Vec<(&str, &str)> = editions::law().iter().map(|one| (one.name, one.text)).collect();
    let law = Law::from_files(&files).unwrap_or_else(|told| panic!("{told}"));
    let known: Vec<i16> = law.known().map(|year| year.0).collect();
    assert!(known.len() >= 21, "{known:?}");
    assert_eq!(known, (2006..2006 + known.len() as i16).collect::<Vec<i16>>(), "without a gap");
    for year in law.known() {
        let alone: Vec<(&str, &str)> =
            Law::files(&[year]).into_iter().map(|(_, name, text)| (name, text)).collect();
        let alone = Law::from_files(&alone).expect("with those it names a file is whole");
        assert_eq!(alone.year(year), law.year(year), "{year}");
        assert_eq!(Law::built_in().year(year), law.year(year), "{year}");
    }
    assert_eq!(Law::files(&[TaxYear(2005)]), []);
}

/// A file as packets were sealed with it before the files had a number, `names`, `in_force` and `improvement_method` in
/// place of `credits`, `methods` and `reaches`: it says the same law.
#[test]
fn a_file_of_the_first_format_says_the_same_law() {
    let old = [
        (2006, include_str!("../../../tests/old-law/2006.yaml")),
        (2024, include_str!("../../../tests/old-law/2024.yaml")),
        (2026, include_str!("../../../tests/old-law/2026.yaml")),
    ];
    for number in ["", "format: 1\n"] {
        let numbered = old.map(|(year, text)| {
            assert!(text.contains("\nin_force:\n") && !text.contains("\ncredits:\n"), "{year}");
            (year, text.replace("\nyear: ", &format!("\n{number}year: ")))
        });
        // What they name stands in the files of other years, which may be of any format.
        let files: Vec<(&str, &str)> = (editions::law().iter())
            .map(|one| match numbered.iter().find(|(year, _)| *year == one.year) {
                Some((_, text)) => (one.name, text.as_str()),
                None => (one.name, one.text),
            })
            .collect();
        let read = Law::from_files(&files).unwrap_or_else(|told| panic!("{told}"));
        for year in Law::built_in().known() {
            assert_eq!(read.year(year), Some(law(year.0)), "{year}");
        }
    }
}

/// Of a later format nothing else is told: what looks wrong in it is only unknown.
#[test]
fn a_file_of_a_later_format_is_told_in_words() {
    let told = |number: &str| {
        let later = file(2006).1.replace("\nformat: 2\n", &format!("\nformat: {number}\nwhat_is_new: 1\n"));
        Law::from_files(&[("law/2006.yaml", &later)]).expect_err("a finding").to_string()
    };
    let later = told("3");
    assert!(later.contains("this law file has format 3, and this version reads formats 1 to 2"), "{later}");
    assert!(!later.contains("what_is_new"), "{later}");
    assert!(told("99999999999999999999").contains("is not a format of law files"));
    assert!(told("two").contains("`two` is not a format of law files"));
}

/// Whoever gets a document's key must get the same document, whichever year it stands in.
#[test]
fn a_source_is_the_same_document_in_every_year() {
    let mut known: BTreeMap<&str, &str> = BTreeMap::new();
    for year in Law::built_in().all() {
        for (key, document) in &year.sources {
            assert_eq!(known.insert(key, document).unwrap_or(document), document, "{} {key}", year.year);
        }
    }
}

#[test]
fn years_in_force_have_every_value_kind_cost_and_incentive() {
    for year in [2023, 2024, 2025] {
        let law = law(year);
        assert!(law.in_force(Credit::Improvement) && law.in_force(Credit::Clean), "{year}");
        assert!(law.figured_with(MethodStep::YearlyLimit), "{year}");
        for key in LawKey::ALL {
            let how = key.credit().and_then(|credit| law.method(credit));
            let needed = how.is_none_or(|how| key.needed_by(how)) && !key.limits_a_kind();
            assert_eq!(law.values.contains_key(key), needed, "{year} {key}");
        }
        for kind in Kind::ALL {
            assert_eq!(law.kinds.contains_key(kind), !ABSENT_SINCE_2023.contains(kind), "{year} {kind}");
        }
        assert_eq!(law.costs.len(), Class::ALL.len() * CostNature::ALL.len(), "{year}");
        assert_eq!(law.incentives.len(), Credit::ALL.len() * IncentiveKind::ALL.len(), "{year}");
        assert_eq!(law.before.len(), 2, "{year}");
        assert_eq!(law.subsidized_financing_counts.len(), 2, "{year}");
    }
}

#[test]
fn in_2026_nothing_new_counts_and_the_carryforward_has_its_order() {
    let law = law(2026);
    assert!(!law.in_force(Credit::Improvement) && !law.in_force(Credit::Clean));
    assert!(
        law.values.is_empty() && law.kinds.is_empty() && law.costs.is_empty() && law.incentives.is_empty()
    );
    assert_eq!(law.before[&Credit::Clean].credits, self::law(2025).before[&Credit::Clean].credits);
    assert!(!law.before[&Credit::Clean].authority.settled, "no worksheet of 2026 was found");
    assert!(!law.tax_line_authority.settled, "no form of 2026 was found");
}

/// Annual caps: 26 U.S.C. 25C(b) as in force 2023-2025; IRS FS-2025-01, 25C credit amount (no limit of its own
/// for insulation: Form 5695 line 18b). Rates: 26 U.S.C. 25C(a), 25D(g). Fuel cells: 25D(b)(1), (e)(4); Form
/// 5695 line 10. Nonbusiness use: 25D(e)(7).
#[test]
fn rates_and_limits_are_those_published() {
    for year in [2023, 2024, 2025] {
        assert_eq!(rate(year, LawKey::ImprovementRate).as_deref(), Some("30%"));
        assert_eq!(rate(year, LawKey::CleanRate).as_deref(), Some("30%"));
        assert_eq!(rate(year, LawKey::BusinessThreshold).as_deref(), Some("80%"));
        for (key, dollars) in [
            (LawKey::GeneralCap, 1200),
            (LawKey::HeatPumpCap, 2000),
            (LawKey::InsulationCap, 1200),
            (LawKey::DoorCapEach, 250),
            (LawKey::DoorCapAll, 500),
            (LawKey::WindowCap, 600),
            (LawKey::EnergyPropertyCap, 600),
            (LawKey::AuditCap, 150),
            (LawKey::FuelCellCapPerKw, 1000),
            (LawKey::FuelCellJointCostPerHalfKw, 1667),
        ] {
            assert_eq!(money(year, key), Some(Money::dollars(dollars)), "{year} {key}");
        }
    }
}

/// 26 U.S.C. 25D(d) (homes; fuel cell main home only; 3 kWh; half a kilowatt through 48(c)(1); half from the sun),
/// 25C(c)(1)(A), (d)(1)(A), (e) (homes), (d)(2)(D) (200 amperes); IRS FS-2025-01 on product numbers: from 2025,
/// not for insulation, air sealing and audits; Notice 2023-59: certified auditors from 2024.
#[test]
fn kinds_are_as_published() {
    use {Class::*, Kind::*};
    let least = |year, kind, fact| {
        let kind: &KindLaw = &law(year).kinds[&kind];
        kind.requires.iter().find(|one| one.fact == fact).map(|one| one.at_least)
    };
    let number = |text: &str| Some(Some(Amount::Quantity(Quantity::read(text).unwrap())));
    let percent = |text: &str| Some(Some(Amount::Rate(Rate::read(text).unwrap())));
    for year in [2023, 2024, 2025] {
        for (kind, one) in &law(year).kinds {
            let (class, home) = match kind {
                FuelCell => (Clean, HomeRule::MainHome),
                SolarElectric | SolarWaterHeating | SmallWind | GeothermalHeatPump | BatteryStorage => {
                    (Clean, HomeRule::AnyResidence)
                }
                InsulationOrAirSealing | ExteriorDoor | WindowOrSkylight => {
                    (Envelope, HomeRule::OwnedMainHome)
                }
                HomeEnergyAudit => (Audit, HomeRule::MainHome),
                Kind::EnablingProperty => (Enabling, HomeRule::AnyResidence),
                _ => (EnergyProperty, HomeRule::AnyResidence),
            };
            assert_eq!((one.class, one.home), (class, home), "{year} {kind}");
            assert_eq!(one.existing_home_only, class != Clean, "{year} {kind}");
            let group = match kind {
                HeatPump | HeatPumpWaterHeater | BiomassStoveOrBoiler => Group::HeatPumps,
                _ if class == Clean => Group::None,
                _ => Group::General,
            };
            assert_eq!(one.group, group, "{year} {kind}");
            let without_code = class == Clean || matches!(kind, InsulationOrAirSealing | HomeEnergyAudit);
            assert_eq!(one.maker_code, year == 2025 && !without_code, "{year} {kind}");
        }
        assert_eq!(least(year, BatteryStorage, FactName::CapacityKwh), number("3"));
        assert_eq!(least(year, FuelCell, FactName::CapacityKw), number("0.5"));
        assert_eq!(least(year, Kind::EnablingProperty, FactName::Amperage), number("200"));
        assert_eq!(least(year, Kind::EnablingProperty, FactName::Enables), Some(None));
        assert_eq!(least(year, SolarWaterHeating, FactName::SolarShare), percent("50%"));
        assert_eq!(least(year, SolarWaterHeating, FactName::Certified), Some(None));
        assert_eq!(least(year, BiomassStoveOrBoiler, FactName::Efficiency), percent("75%"));
        assert_eq!(least(year, HomeEnergyAudit, FactName::Auditor).is_some(), year >= 2024);
        assert_eq!(law(year).kinds[&GeothermalHeatPump].requires, []);
    }
}

/// 26 U.S.C. 25D(e)(1), (e)(3); 25C(c), (d)(1), (d)(2)(D); IRS FS-2025-01 and FS-2024-15 on labor; FS-2025-01, 25D
/// amount, question 2 on roofs; Notice 2013-70 on sales tax.
#[test]
fn costs_count_as_published() {
    use {Class::*, CostNature::*, Counts::*};
    for year in [2023, 2024, 2025] {
        let counts = |class, nature| law(year).costs[&(class, nature)].counts;
        for (nature, expected) in [
            //                      clean  envelope       energy property, enabling, audit
            (Equipment, [Yes, Yes, Yes, Yes, Yes]),
            (Material, [Yes, Yes, Yes, Yes, Yes]),
            (OnsiteLabor, [Yes, No, Yes, Yes, Yes]),
            (PipingAndWiring, [Yes, No, Yes, Yes, No]),
            (ElectricalPanel, [No, No, No, Yes, No]),
            (Permit, [Yes, No, Yes, Yes, No]),
            (SalesTax, [Yes, Yes, Yes, Yes, Yes]),
            (DesignFee, [Yes, No, Yes, Yes, No]),
            (Discount, [Yes, Yes, Yes, Yes, Yes]),
            (LumpSum, [Yes, MaterialsOnly, Yes, Yes, Yes]),
            (RoofStructure, [No, No, No, No, No]),
            (RoofCovering, [No, No, No, No, No]),
            (SolarRoofing, [Yes, No, No, No, No]),
            (BuildingReinforcement, [No, No, No, No, No]),
            (RemovalOrDisposal, [No, No, No, No, No]),
            (Monitoring, [No, No, No, No, No]),
            (PoolOrHotTub, [No, No, No, No, No]),
            (DealerFee, [No, No, No, No, No]),
            (Financing, [No, No, No, No, No]),
            (Warranty, [No, No, No, No, No]),
            (CostNature::Other, [No, No, No, No, No]),
        ] {
            let found = [Clean, Envelope, EnergyProperty, Enabling, Audit].map(|class| counts(class, nature));
            assert_eq!(found, expected, "{year} {nature}");
        }
        for ((class, nature), one) in &law(year).costs {
            // What is not settled takes the cautious reading, save three of low risk which the files explain.
            let low_risk = matches!(nature, Permit | DesignFee | PipingAndWiring);
            assert!(one.authority.settled || one.counts == No || low_risk, "{year} {class} {nature}");
            // What counts for a credit other than an audit's is part of what the home cost.
            assert!(one.counts == No || one.adds_to_basis == (*class != Audit), "{year} {class} {nature}");
        }
    }
}

/// 26 U.S.C. 136; IRS letters CONEX-108135-10 and CONEX-104677-11; Announcement 2024-19. Open points: cautious, but
/// State tax credits by the common reading. 25C(f)(3) and CONEX-152472-09 on subsidized financing.
#[test]
fn incentives_work_as_published() {
    use {Effect::*, IncentiveKind::*};
    for year in [2023, 2024, 2025] {
        for credit in Credit::ALL {
            for (kind, effect, settled) in [
                (UtilitySubsidy, ReducesCost, true),
                (PriceRebate, ReducesCost, true),
                (FederalHomeRebate, ReducesCost, true),
                (NetMetering, LeavesCost, true),
                (EnergyCertificate, LeavesCost, true),
                (StateTaxCredit, LeavesCost, false),
                (StateGrant, ReducesCost, false),
                (LocalGrant, ReducesCost, false),
                (IncentiveKind::Other, ReducesCost, false),
            ] {
                let one = &law(year).incentives[&(*credit, kind)];
                assert_eq!((one.effect, one.authority.settled), (effect, settled), "{year} {credit} {kind}");
            }
        }
        assert!(!law(year).subsidized_financing_counts[&Credit::Improvement].0);
        assert!(law(year).subsidized_financing_counts[&Credit::Clean].0);
    }
}

/// 26 U.S.C. 25D(c), 23(c), 25(e)(1)(C); the limit worksheets of 2013 in the same order; Schedule 8812 (2022):
/// 25C is subtracted before the child tax credit.
#[test]
fn credits_stand_in_their_order() {
    for year in [2023, 2024, 2025] {
        let improvement = &law(year).before[&Credit::Improvement].credits;
        let clean = &law(year).before[&Credit::Clean].credits;
        assert_eq!(improvement.len(), 6);
        assert_eq!(&clean[..6], &improvement[..]);
        let place = |credit| clean.iter().position(|one| *one == credit);
        assert!(!improvement.contains(&OtherCredit::ChildTax));
        assert!(place(OtherCredit::ChildTax) < place(OtherCredit::MortgageInterest));
        assert!(place(OtherCredit::MortgageInterest) < place(OtherCredit::Adoption));
        assert!(place(OtherCredit::Adoption) < place(OtherCredit::DcFirstHome));
        assert_eq!(law(year).tax_line, "18");
    }
}

/// Where a standard is asked for, it is named: no question may send people to look for a standard that it keeps back.
#[test]
fn every_standard_that_is_asked_for_is_named() {
    for year in (2006..=2025).map(TaxYear) {
        let Some(law) = Law::built_in().year(year) else { continue };
        for (kind, entry) in &law.kinds {
            let measured = entry.requires.iter().any(|one| one.fact == FactName::Efficiency);
            let asked = matches!(entry.class, Class::Envelope | Class::EnergyProperty) && !measured
                || *kind == Kind::GeothermalHeatPump;
            assert!(!asked || law.standard(*kind).is_some(), "{year} {kind}");
        }
    }
}

#[test]
fn rules_in_words_are_there() {
    let always = [
        "ends",
        "nonrefundable",
        "order",
        "carryforward",
        "carryforward.after_end",
        "improvement.no_carryforward",
        "basis",
        "rounding",
        "carryforward.chain",
        "open_years",
        "carryforward.life_events",
    ];
    let in_force = [
        "timing.installed",
        "timing.improvement",
        "timing.financed",
        "original_use",
        "installed_or_placed_in_service",
        "audit.year_paid",
        "audit.report",
        "new_only",
        "owner_only",
        "lease",
        "tenants",
        "new_home.improvement",
        "battery.new_home",
        "enabling",
        "nonbusiness",
        "association",
        "joint.improvement",
        "joint.fuel_cell",
        "joint.clean_others",
        "joint.married",
        "separate_main_homes",
        "form_or_statute.two_items",
        "fuel_cell.half_kilowatt",
        "own_labor",
    ];
    for year in [2023, 2024, 2025, 2026] {
        let has = |name: &str| law(year).rules.contains_key(&Rule::from_word(name).expect(name));
        for name in always {
            assert!(has(name), "{year} {name}");
        }
        for name in in_force {
            assert_eq!(has(name), year < 2026, "{year} {name}");
        }
        assert_eq!(has("maker_code"), year == 2025);
    }
}

#[test]
fn what_rests_on_memory_says_so() {
    for Edition { year, name, text } in editions::law().iter().copied() {
        let (_, file): (_, YearFile) = built_in(name, text, &FILE);
        for (place, authority) in authorities(&file) {
            let from_memory = |reference: &String| {
                law(year).sources_read.get(crate::law::source_key(reference)) == Some(&HowRead::Memory)
            };
            if authority.source.iter().all(from_memory) {
                assert_eq!(authority.standing, Standing::Memory, "{year} {}", place.join(" "));
            }
        }
    }
}

/// Breaks the file of 2023 in one place and returns the complaints.
fn complaints(from: &str, to: &str) -> String {
    let (name, text) = file(2023);
    assert!(text.contains(from), "{from}");
    let broken = text.replacen(from, to, 1);
    told(Law::from_files(&[(name, &broken)]))
}

/// Returns what is wrong with files, a line each: file, line, column, the offending text, the words.
fn told(law: Result<Law, Unsound>) -> String {
    let Unsound { findings, sources } = law.map(|_| ()).expect_err("it must be refused");
    let told = findings.iter().map(|one| {
        let at = one.at.expect("a place");
        let (name, place) = (&sources.get(at.source).name, sources.line_column(at));
        let help = one.help.as_deref().unwrap_or_default();
        format!("{name}:{}:{} [{}] {}; {help}", place.line, place.column, sources.excerpt(at), one.message)
    });
    told.collect::<Vec<String>>().join("\n")
}

/// Returns the line, counted from one, on which some words first stand in the file of 2023.
fn line(words: &str) -> usize {
    let text = file(2023).1;
    text[..text.find(words).unwrap()].matches('\n').count() + 1
}

#[test]
fn broken_files_are_refused_with_every_mistake_at_its_place() {
    let place = |line: usize, column: usize, text: &str| format!("law/2023.yaml:{line}:{column} [{text}] ");
    let told = complaints("edition: 2026-11-30", "edition: 30.11.2026");
    assert_eq!(
        told,
        place(line("edition:"), 10, "30.11.2026")
            + "`30.11.2026` is no day; a day is written like 2026-11-25"
    );

    let at = line("    amount: 30%\n");
    let told = complaints("    amount: 30%\n", "    amount: 30%\n    amont: 30%\n");
    assert!(told.starts_with(&(place(at + 1, 5, "amont") + "`amont` is not a key of values.")), "{told}");
    assert!(told.ends_with("did you mean `amount`?"), "{told}");

    let told = complaints("  improvement.cap.windows:\n", "  improvement.cap.doors:\n");
    let at = line("  improvement.cap.windows:");
    assert!(told.starts_with(&place(at, 3, "improvement.cap.doors")), "{told}");
    assert!(told.contains("`improvement.cap.doors` stands here a second time"), "{told}");

    let told = complaints(
        "    amount: $1,200\n    source: [USC25C_2023 (b), FAQ25C_AMOUNT]\n",
        "    amount: $1,200\n",
    );
    assert!(told.contains("`source` is missing in values."), "{told}");

    // Three mistakes are three complaints.
    let told = complaints(
        "    amount: $1,200\n    source: [USC25C_2023 (b), FAQ25C_AMOUNT]\n",
        "    amount: six hundred\n    source: USC25C_2023 (b)\n    setled: yes\n",
    );
    let at = line("    amount: $1,200\n    source: [USC25C_2023 (b), FAQ25C_AMOUNT]\n");
    let told: Vec<&str> = told.lines().collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[0].starts_with(&(place(at, 13, "six hundred") + "`six hundred`: ")), "{told:?}");
    assert!(
        told[1].starts_with(&(place(at + 1, 13, "USC25C_2023 (b)") + "`source` takes a list")),
        "{told:?}"
    );
    assert!(told[2].starts_with(&place(at + 2, 5, "setled")), "{told:?}");

    let told = complaints("    source: [USC25C_2023 (a)]\n", "    source: []\n");
    assert!(told.contains("[improvement] `credits improvement` names no source"), "{told}");

    let told = complaints("F5695_2023 line 18b", "F5695_2042 line 18b");
    let at = line("F5695_2023 line 18b");
    assert!(told.starts_with(&format!("law/2023.yaml:{at}:")), "{told}");
    assert!(
        told.contains("[F5695_2042 line 18b] the source `F5695_2042` is not listed under `sources`"),
        "{told}"
    );

    let told = complaints(
        "    child_tax_worksheet: ",
        "    lines_of_their_own: [electric_vehicle]\n    child_tax_worksheet: ",
    );
    assert!(told.contains("`electric_vehicle` has a line of its own and does not stand among"), "{told}");
    let told = complaints("\nsources:\n", "\nsources:\n  USC1:\n    document: 1 U.S.C.\n    read: full\n");
    assert!(told.contains("[USC1] nothing refers to the source `USC1`"), "{told}");

    let told =
        complaints("    - for: [clean]\n      counts: yes\n", "    - for: [envelope]\n      counts: yes\n");
    assert!(told.contains("`envelope` stands twice for `equipment`"), "{told}");
    assert!(told.contains("`costs` does not say whether `equipment` counts for `clean`"), "{told}");
    assert!(told.contains(&place(line("  equipment:"), 3, "equipment")), "{told}");

    let told = complaints("    amount: $1,200\n", "    amount: 1200.50\n");
    assert!(told.contains("`improvement.cap.general` is not the kind of number that fits it"), "{told}");

    let told = complaints("    amount: $1,200\n", "    amount: $1.2e3\n");
    assert!(told.contains("[$1.2e3] `$1.2e3`: ") && told.starts_with("law/2023.yaml:"), "{told}");

    let told = complaints("\n  lease:\n", "\n  leases:\n");
    assert!(told.contains("[leases] `leases` is none of the known words; did you mean `lease`?"), "{told}");

    let told = complaints("    settled: yes\n", "    settled: true\n");
    assert!(told.contains("[true] `true` is neither yes nor no; write yes or no"), "{told}");

    let source = "    source: [USC25C_2023 (a), USC25C_2023 (b)]\n";
    let told = complaints(source, &format!("    earlier_credits: [2030]\n{source}"));
    assert!(told.contains("2030 is no earlier year than 2023"), "{told}");

    let told = complaints("heat_pumps, yearly_total]", "heat_pumps, limit_of_all_years]");
    assert!(told.contains("`improvement` is in force, but `improvement.cap.all_years` is missing"), "{told}");
    let told = complaints("heat_pumps, yearly_total]", "heat_pumps, heat_pumps, rate]");
    assert!(told.contains("the step `heat_pumps` stands twice"), "{told}");
    assert!(told.contains("`rate` is no step of `improvement`"), "{told}");
    let told = complaints("[address, costs, rate, fuel_cells]", "[address, costs, rates]");
    assert!(told.contains("[rates] `rates` is none of the known words; did you mean `rate`?"), "{told}");
    // Without a rate for what no limit reaches, every kind needs a limit.
    let told = complaints("[address, costs, rate, fuel_cells]", "[address, costs, fuel_cells]");
    assert!(told.contains("`solar_electric` is reached by 0 limits; one is expected"), "{told}");
    let told = complaints("reaches: [window_or_skylight]", "reaches: [window_or_skylight, exterior_door]");
    assert!(told.contains("`exterior_door` is reached by 2 limits; one is expected"), "{told}");

    let file = file(2023);
    let at = line("year: 2023");
    assert_eq!(
        self::told(Law::from_files(&[file, ("second.yaml", file.1)])),
        format!("second.yaml:{at}:1 [year] the law of 2023 stands in another file too; ")
    );
}

/// What an earlier year carries forward must not be lost because a later year's file forgets to speak of it.
#[test]
fn a_credit_that_is_carried_forward_is_named_in_the_year_after() {
    let text = file(2026).1;
    let (start, end) =
        (text.find("  clean:\n    name:").unwrap(), text.find("# Tax before credits").unwrap());
    let without = format!("{}\n{}", &text[..start], &text[end..]);
    let files: Vec<(&str, &str)> =
        editions::law().iter().map(|one| (one.name, one.text)).filter(|one| one.1 != text).collect();
    let mut files = files;
    files.push(("law/2026.yaml", &without));
    let told = told(Law::from_files(&files));
    assert!(told.contains("`clean` is carried forward from 2025, and `credits` does not name it"), "{told}");
}

/// Reads the file of 2023 with one of another year, written here, that takes most of it over.
fn beside_2023(edit: impl Fn(&str) -> String) -> Result<Law, Unsound> {
    let text = edit(file(2024).1);
    Law::from_files(&[file(2023), ("law/2024.yaml", &text)])
}

#[test]
fn a_block_takes_over_what_it_does_not_say_itself() {
    let law = beside_2023(str::to_string).unwrap();
    let (old, new) = (law.year(TaxYear(2023)).unwrap(), law.year(TaxYear(2024)).unwrap());
    assert_eq!(new.costs, old.costs, "taken over whole");
    assert_eq!(new.kinds[&Kind::SmallWind], old.kinds[&Kind::SmallWind]);
    assert_ne!(new.kinds[&Kind::HomeEnergyAudit], old.kinds[&Kind::HomeEnergyAudit], "written anew");
    // Every document that an entry refers to is there, those of entries taken over included, and no other.
    assert!(new.sources.contains_key("F5695_2024") && !new.sources.contains_key("F5695_2023"));
    assert!(new.sources.contains_key("MAINES"), "cited by an incentive taken over");

    // One nature of cost written for one class leaves what is said of the other classes.
    let one = "costs:\n  as_in: 2023\n  permit:\n    - for: [clean]\n      counts: no\n      adds_to_basis: no\n      \
               because: a test\n      source: [DOE_GUIDE]\n      standing: inference\n      settled: no\n";
    let law = beside_2023(|text| text.replace("costs:\n  as_in: 2023\n", one)).unwrap();
    let new = law.year(TaxYear(2024)).unwrap();
    assert_eq!(new.costs[&(Class::Clean, CostNature::Permit)].counts, Counts::No);
    let class = (Class::EnergyProperty, CostNature::Permit);
    assert_eq!(new.costs[&class], law.year(TaxYear(2023)).unwrap().costs[&class]);

    // What is only inferred to hold does not rest on a text; what rests on less stays as it is.
    let law =
        beside_2023(|text| text.replace("costs:\n  as_in: 2023", "costs:\n  as_in: 2023\n  inferred: yes"));
    let costs = &law.unwrap().year(TaxYear(2024)).unwrap().costs.clone();
    assert_eq!(costs[&(Class::Clean, CostNature::OnsiteLabor)].authority.standing, Standing::Inference);
    assert_eq!(costs[&(Class::Clean, CostNature::Permit)].authority.standing, Standing::CommonPractice);
}

#[test]
fn what_names_another_year_wrongly_is_refused_with_file_and_line() {
    let told = |from: &str, to: &str| {
        assert!(file(2024).1.contains(from), "{from}");
        told(beside_2023(|text| text.replacen(from, to, 1)))
    };
    let line = |words: &str| {
        let text = file(2024).1;
        text[..text.find(words).unwrap()].matches('\n').count() + 2
    };
    assert_eq!(
        told("costs:\n  as_in: 2023", "costs:\n  as_in: 2022"),
        format!(
            "law/2024.yaml:{}:3 [as_in] `costs` is as in 2022, and the file of that year is not at hand; ",
            line("costs:\n")
        )
    );
    let ring = told("costs:\n  as_in: 2023", "costs:\n  as_in: 2024");
    assert!(ring.starts_with(&format!("law/2024.yaml:{}:3 ", line("costs:\n"))), "{ring}");
    assert!(ring.contains("`costs` is as in itself: 2024, as in 2024"), "{ring}");
    let absent = told("rules:\n  as_in: 2023", "rules:\n  as_in: 2023\n  maker_code: {as_in: 2023}");
    assert!(absent.contains("`rules` of 2023 does not have `maker_code`"), "{absent}");
    let except = told("rules:\n  as_in: 2023", "rules:\n  as_in: 2023\n  except: [maker_code]");
    assert!(
        except.contains("`except` names `maker_code`, which the year it is taken from does not have"),
        "{except}"
    );
    let beside = told("rules:\n  as_in: 2023", "rules:\n  ends: {as_in: 2023, says: no}");
    assert!(beside.contains("`says` cannot stand beside `as_in`"), "{beside}");
    let twice = told("rules:\n  as_in: 2023", "rules:\n  as_in: 2023\n  as_in: 2023");
    assert!(twice.contains("`as_in` stands here a second time"), "{twice}");
    let alone = told("costs:\n  as_in: 2023", "costs:\n  inferred: yes");
    assert!(alone.contains("`except` and `inferred` say nothing without `as_in`"), "{alone}");
}
