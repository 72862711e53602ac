//! The law of each tax year, as data.
//!
//! Comes in: one file per tax year under `src/law/years`. Goes out: [`Law`], asked by year and by name.
//! Every value stands beside its source and its standing. A year's file may name another year's for what it has in
//! common with it; a year's law is whole all the same. Knows nothing of any client's case.

mod block;
mod credits;
pub mod effects;
mod format;
mod load;
mod rules;
pub mod show;

pub use credits::{Credit, CreditLaw, MethodLaw, MethodStep, sources_for};
pub use rules::Rule;

use crate::case::{CostNature, IncentiveKind, Kind, OtherCredit, TaxYear, words};
use crate::editions;
use crate::finding::{Finding, Sources};
use crate::money::{Money, Quantity, Rate};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

words! {
    /// What a value of the law rests on.
    Standing {
        Statute = "statute", "statute";
        Form = "form", "official form or its instructions";
        IrsGuidance = "irs_guidance", "IRS guidance";
        CommonPractice = "common_practice", "common practice";
        Inference = "inference", "inference from texts read";
        Memory = "memory", "from memory";
    }
}

words! {
    /// A class of property whose costs the law treats alike.
    Class {
        Clean = "clean", "25D property";
        Envelope = "envelope", "building envelope component";
        EnergyProperty = "energy_property", "residential energy property";
        Enabling = "enabling", "enabling property";
        Audit = "audit", "home energy audit";
    }
}

words! {
    /// Which yearly limit of 25C an item falls under.
    Group {
        General = "general", "items under the general yearly limit";
        HeatPumps = "heat_pumps", "heat pumps, heat pump water heaters, biomass stoves and boilers";
        None = "none", "no group";
    }
}

words! {
    /// What kind of home the law asks for.
    HomeRule {
        AnyResidence = "any_residence", "any home in the United States used as a residence by the taxpayer";
        MainHome = "main_home", "main home";
        OwnedMainHome = "owned_main_home", "main home owned and used by the taxpayer";
    }
}

words! {
    /// What an incentive does to the cost.
    Effect {
        ReducesCost = "reduces_cost", "reduces the cost";
        LeavesCost = "leaves_cost", "leaves the cost alone";
    }
}

words! {
    /// Whether a cost counts.
    Counts {
        Yes = "yes", "counts";
        No = "no", "does not count";
        MaterialsOnly = "materials_only", "only the materials count";
    }
}

words! {
    /// A fact about property that the law asks for.
    FactName {
        CapacityKw = "capacity_kw", "capacity in kilowatts";
        CapacityKwh = "capacity_kwh", "capacity in kilowatt-hours";
        SolarShare = "solar_share", "share of the energy that comes from the sun";
        Efficiency = "efficiency", "efficiency";
        Amperage = "amperage", "amperes";
        Certified = "certified", "certification";
        Auditor = "auditor", "certified auditor's particulars";
        Enables = "enables", "the property it enables";
    }
}

words! {
    /// How closely a document was read.
    HowRead {
        Full = "full", "the provision itself was read word for word";
        Excerpt = "excerpt", "only a part was seen, and the fact stands in it";
        Secondary = "secondary", "read in a summary of the document";
        Memory = "memory", "not confirmed in the document";
    }
}

words! {
    /// The name of a single value of the law. A year in force that lacks one fails a test.
    LawKey {
        ImprovementRate = "improvement.rate", "rate of the 25C credit";
        GeneralCap = "improvement.cap.general", "yearly limit of the general items";
        HeatPumpCap = "improvement.cap.heat_pumps", "yearly limit of the heat pump group";
        InsulationCap = "improvement.cap.insulation", "limit for insulation and air sealing on the form";
        DoorCapEach = "improvement.cap.door_each", "limit for one exterior door";
        DoorCapAll = "improvement.cap.doors", "limit for all exterior doors";
        WindowCap = "improvement.cap.windows", "limit for windows and skylights";
        EnergyPropertyCap = "improvement.cap.energy_property", "limit for one item of energy property";
        AuditCap = "improvement.cap.audit", "limit for home energy audits";
        AllYearsCap = "improvement.cap.all_years", "limit for the 25C credits of all years counted together";
        WindowCostCap = "improvement.cap.window_cost", "most window cost that may ever count";
        BuildingPropertyCap = "improvement.cap.building_property", "limit for energy-efficient building property";
        FurnaceCap = "improvement.cap.furnace", "limit for furnaces and hot water boilers";
        FanCap = "improvement.cap.fan", "limit for advanced main air circulating fans";
        EarlierWindowsTimes = "improvement.earlier_windows_times", "how many times the window costs of 2009 and 2010 count against the ceiling";
        CleanRate = "clean.rate", "rate of the 25D credit";
        FuelCellCapPerKw = "clean.fuel_cell.cap_per_kw", "fuel cell limit for one kilowatt";
        FuelCellJointCostPerHalfKw = "clean.fuel_cell.joint_cost_per_half_kw", "joint occupants' fuel cell cost ceiling for one half kilowatt";
        FuelCellEfficiencyAbove = "clean.fuel_cell.efficiency_above", "electricity-only efficiency that a fuel cell must exceed";
        SolarElectricCap = "clean.solar_electric.cap", "25D limit for solar electric property";
        SolarElectricJointCost = "clean.solar_electric.joint_cost", "joint occupants' cost ceiling for solar electric property";
        SolarWaterHeatingCap = "clean.solar_water_heating.cap", "25D limit for solar water heating property";
        SolarWaterHeatingJointCost = "clean.solar_water_heating.joint_cost", "joint occupants' cost ceiling for solar water heating property";
        SmallWindCapPerKw = "clean.small_wind.cap_per_kw", "25D limit for one kilowatt of small wind energy property";
        SmallWindCap = "clean.small_wind.cap", "25D limit for small wind energy property";
        SmallWindJointCostPerHalfKw = "clean.small_wind.joint_cost_per_half_kw", "joint occupants' cost ceiling for one half kilowatt of small wind energy property";
        SmallWindJointCost = "clean.small_wind.joint_cost", "joint occupants' cost ceiling for small wind energy property";
        GeothermalCap = "clean.geothermal_heat_pump.cap", "25D limit for geothermal heat pump property";
        GeothermalJointCost = "clean.geothermal_heat_pump.joint_cost", "joint occupants' cost ceiling for geothermal heat pump property";
        BatteryCap = "clean.battery_storage.cap", "25D limit for battery storage";
        BatteryJointCost = "clean.battery_storage.joint_cost", "joint occupants' cost ceiling for battery storage";
        CleanBiomassCap = "clean.biomass_stove_or_boiler.cap", "25D limit for biomass fuel property";
        CleanBiomassJointCost = "clean.biomass_stove_or_boiler.joint_cost", "joint occupants' cost ceiling for biomass fuel property";
        BusinessThreshold = "nonbusiness_threshold", "share of nonbusiness use from which the whole cost counts";
    }
}

/// A number of the law.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// Dollars.
    Money(Money),
    /// A percentage.
    Rate(Rate),
    /// A measured quantity.
    Quantity(Quantity),
}

/// Where something stands and how firmly.
#[derive(Clone, Debug, PartialEq)]
pub struct Authority {
    /// Source references, such as `USC25C_2023 (b)(1)`; the part before the blank is a key of [`YearLaw::sources`].
    pub source: Vec<String>,
    /// What it rests on.
    pub standing: Standing,
    /// Whether nobody disputes it.
    pub settled: bool,
}

impl Authority {
    /// Returns what stands where nothing is said.
    fn none() -> Authority {
        Authority { source: Vec::new(), standing: Standing::Memory, settled: false }
    }
}

/// One value of the law.
#[derive(Clone, Debug, PartialEq)]
pub struct LawValue {
    /// The number.
    pub amount: Amount,
    /// The kinds of property that it limits, where it is a limit that a kind has to itself or with others.
    pub reaches: Vec<Kind>,
    /// Where it stands.
    pub authority: Authority,
}

/// What the law of a year says of one kind of property.
#[derive(Clone, Debug, PartialEq)]
pub struct KindLaw {
    /// The credit it falls under.
    pub credit: Credit,
    /// Its class.
    pub class: Class,
    /// Its yearly limit.
    pub group: Group,
    /// The home it must serve.
    pub home: HomeRule,
    /// Whether it counts only in a home that stood already.
    pub existing_home_only: bool,
    /// Whether the maker's code must stand on the return.
    pub maker_code: bool,
    /// The facts the law asks for and their least values.
    pub requires: Vec<Requirement>,
    /// Where it stands.
    pub authority: Authority,
}

/// A fact the law asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// Which.
    pub fact: FactName,
    /// At least how much; none where it has to be given only.
    pub at_least: Option<Amount>,
    /// Why, in plain words for a warning.
    pub because: String,
    /// Where it stands.
    pub authority: Authority,
}

/// What the law says of a nature of cost, for one class of property.
#[derive(Clone, Debug, PartialEq)]
pub struct CostLaw {
    /// Whether it counts.
    pub counts: Counts,
    /// Whether it adds to the home's basis.
    pub adds_to_basis: bool,
    /// Why, in plain words for the worksheet.
    pub because: String,
    /// Where it stands.
    pub authority: Authority,
}

/// What the law says of an incentive, for one credit.
#[derive(Clone, Debug, PartialEq)]
pub struct IncentiveLaw {
    /// What it does to the cost.
    pub effect: Effect,
    /// Why, in plain words for the worksheet.
    pub because: String,
    /// Where it stands.
    pub authority: Authority,
}

/// The credits of a return that come before one of ours, in the order of the worksheet.
#[derive(Clone, Debug, PartialEq)]
pub struct EarlierInOrder {
    /// The credits.
    pub credits: Vec<OtherCredit>,
    /// Those of them that have a line of their own on the worksheet, so that each is rounded where it is entered; the
    /// others share one line, and their cents are added first.
    pub lines_of_their_own: Vec<OtherCredit>,
    /// The worksheet line that holds the child tax credit where that worksheet was used, in words; none where the
    /// credit on the return counts.
    pub child_tax_worksheet: Option<String>,
    /// Where it stands.
    pub authority: Authority,
}

/// The law of one tax year.
#[derive(Clone, Debug, PartialEq)]
pub struct YearLaw {
    /// The year.
    pub year: TaxYear,
    /// The edition of the file: the day its content was last settled.
    pub edition: String,
    /// The credits that the year's law speaks of.
    pub credits: BTreeMap<Credit, CreditLaw>,
    /// How each credit is figured that new property earns.
    pub methods: BTreeMap<Credit, MethodLaw>,
    /// Where it stands that both credits went to one line of the return; none where each has its own.
    pub both_on_one_line: Option<Authority>,
    /// Single values.
    pub values: BTreeMap<LawKey, LawValue>,
    /// Kinds of property.
    pub kinds: BTreeMap<Kind, KindLaw>,
    /// Natures of cost, by class.
    pub costs: BTreeMap<(Class, CostNature), CostLaw>,
    /// Incentives, by credit.
    pub incentives: BTreeMap<(Credit, IncentiveKind), IncentiveLaw>,
    /// Whether cost paid from subsidized energy financing counts, by credit.
    pub subsidized_financing_counts: BTreeMap<Credit, (bool, Authority)>,
    /// What comes before 25C, and what before 25D besides 25C itself. A credit not in force may lack its entry.
    pub before: BTreeMap<Credit, EarlierInOrder>,
    /// How many rows of their own the year's form has for the costliest items of a kind; the rest stand together.
    pub form_rows: BTreeMap<Kind, u8>,
    /// The line of Form 1040 that holds tax before credits, such as `18`.
    pub tax_line: String,
    /// That line on Form 1040-NR, where it had another number.
    pub tax_line_nr: Option<String>,
    /// Where that line number stands.
    pub tax_line_authority: Authority,
    /// Further rules, by name. A test holds which ones every year has.
    pub rules: BTreeMap<Rule, RuleLaw>,
    /// The documents that the year's law refers to, by key: what the document is.
    pub sources: BTreeMap<String, String>,
    /// How closely each document was read, by the same keys.
    pub sources_read: BTreeMap<String, HowRead>,
}

impl YearLaw {
    /// Returns the efficiency standard that the law asks of a kind, as a rule in words: `standard.exterior_door`. None where
    /// it asks for none, or for one that is a fact of the item.
    pub fn standard(&self, kind: Kind) -> Option<&RuleLaw> {
        self.rules.get(&Rule::standard(kind)?)
    }

    /// Returns the limit that reaches a kind of property.
    pub fn limit_of(&self, kind: Kind) -> Option<LawKey> {
        self.values.iter().find(|(_, value)| value.reaches.contains(&kind)).map(|(key, _)| *key)
    }

    /// Returns the sources of a rule of the year in one line; nothing where the year does not have it.
    pub fn cited(&self, rule: Rule) -> String {
        self.rules.get(&rule).map_or_else(String::new, |rule| rule.authority.source.join("; "))
    }

    /// Returns where a rule stands for one of the credits. A rule for both lists the sources of both; a point about one
    /// of them cites its own, or where none is left, the provision that grants the credit.
    pub fn rule_for(&self, rule: Rule, credit: Credit) -> Option<Authority> {
        let mut authority = self.rules.get(&rule)?.authority.clone();
        authority.source = sources_for(&authority.source, credit);
        if authority.source.is_empty() {
            authority.source.extend(self.grant(credit).source.first().cloned());
        }
        Some(authority)
    }

    /// Returns what a source reference such as `USC25C_2023 (b)(1)` refers to: the document.
    pub fn document(&self, reference: &str) -> Option<&str> {
        self.sources.get(source_key(reference)).map(String::as_str)
    }
}

/// Returns the key of a source reference: the part before the first blank.
pub fn source_key(reference: &str) -> &str {
    reference.split(' ').next().unwrap_or(reference)
}

impl Class {
    /// Returns the credit a class belongs to.
    pub fn credit(self) -> Credit {
        match self {
            Class::Clean => Credit::Clean,
            Class::Envelope | Class::EnergyProperty | Class::Enabling | Class::Audit => Credit::Improvement,
        }
    }
}

impl LawKey {
    /// Returns the credit a value belongs to, by the first part of its word; none where it serves several.
    pub fn credit(self) -> Option<Credit> {
        self.word().split('.').next().and_then(Credit::from_word)
    }

    /// Returns the kind of property that alone needs the value, by the second part of its word.
    pub fn kind(self) -> Option<Kind> {
        self.word().split('.').nth(1).and_then(Kind::from_word)
    }

    /// Says whether the value is one of those that limit a kind by itself. They come together: a year that has one of a
    /// kind has all of it.
    pub fn limits_a_kind(self) -> bool {
        self.kind().is_some() && !MethodStep::FuelCells.takes().contains(&self)
    }

    /// Says whether a value is needed by one of some steps. What no step takes by itself, such as a rate, is always.
    pub fn needed_by(self, how: &MethodLaw) -> bool {
        // Only window costs of years that paid another rate are scaled.
        if self == LawKey::EarlierWindowsTimes
            && !how.earlier_windows.iter().any(|year| [2009, 2010].contains(&year.0))
        {
            return false;
        }
        let taken = |steps: &[MethodStep]| steps.iter().any(|step| step.takes().contains(&self));
        !taken(MethodStep::ALL) || taken(&how.steps)
    }

    /// Says whether a number is of the sort this value needs: a rate, a plain number, or dollars.
    pub fn fits(self, amount: Amount) -> bool {
        let rate = matches!(
            self,
            LawKey::ImprovementRate
                | LawKey::CleanRate
                | LawKey::BusinessThreshold
                | LawKey::FuelCellEfficiencyAbove
        );
        let number = self == LawKey::EarlierWindowsTimes;
        match amount {
            Amount::Rate(_) => rate,
            Amount::Money(_) => !rate && !number,
            Amount::Quantity(_) => number,
        }
    }
}

impl FactName {
    /// Says whether a least value is of the sort this fact has; some facts have none.
    pub fn fits(self, at_least: Option<Amount>) -> bool {
        match self {
            // A capacity may be asked for only because a limit goes by it.
            FactName::CapacityKw => matches!(at_least, None | Some(Amount::Quantity(_))),
            FactName::CapacityKwh | FactName::Amperage => matches!(at_least, Some(Amount::Quantity(_))),
            FactName::SolarShare | FactName::Efficiency => matches!(at_least, Some(Amount::Rate(_))),
            FactName::Certified | FactName::Auditor | FactName::Enables => at_least.is_none(),
        }
    }
}

/// A rule in words.
#[derive(Clone, Debug, PartialEq)]
pub struct RuleLaw {
    /// The rule in one plain sentence, without a final full stop.
    pub says: String,
    /// Where it stands.
    pub authority: Authority,
}

/// The law of all years. What is built into the program is read year by year, when a year is first asked for.
///
/// Law is reached by year alone, and a [`watched`](Law::watched) one notes every year that is asked for. So it is known
/// afterwards on which years a computation rests, also those of which it only learned that they say nothing.
#[derive(Debug)]
pub struct Law {
    years: Arc<BTreeMap<TaxYear, OnceLock<YearLaw>>>,
    built_in: bool,
    /// The years asked for, where that is noted.
    asked: Option<Mutex<BTreeSet<TaxYear>>>,
}

/// Why files are no law: all that is wrong with them, and their texts.
#[derive(Debug)]
pub struct Unsound {
    /// What is wrong.
    pub findings: Vec<Finding>,
    /// The texts that they point into.
    pub sources: Sources,
}

impl std::fmt::Display for Unsound {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.findings.iter().try_for_each(|one| f.write_str(&one.render(&self.sources)))
    }
}

impl std::error::Error for Unsound {}

impl Law {
    /// Returns the law built into the program.
    pub fn built_in() -> &'static Law {
        static LAW: OnceLock<Law> = OnceLock::new();
        LAW.get_or_init(|| {
            let years = editions::law().iter().map(|one| (TaxYear(one.year), OnceLock::new())).collect();
            Law { years: Arc::new(years), built_in: true, asked: None }
        })
    }

    /// Returns the same law, which from now on notes the years asked for.
    pub fn watched(&self) -> Law {
        Law { years: Arc::clone(&self.years), built_in: self.built_in, asked: Some(Mutex::default()) }
    }

    /// Returns the years that were asked for since it is [`watched`](Law::watched), whether or not it has them.
    ///
    /// Whoever asks the law of these years alone the same questions, in the same order, gets the same answers.
    pub fn asked(&self) -> BTreeSet<TaxYear> {
        self.asked
            .as_ref()
            .map_or_else(BTreeSet::new, |asked| asked.lock().unwrap_or_else(PoisonError::into_inner).clone())
    }

    fn note(&self, year: TaxYear) {
        if let Some(asked) = &self.asked {
            asked.lock().unwrap_or_else(PoisonError::into_inner).insert(year);
        }
    }

    /// Reads the law from files of its years: each a name for complaints, and the text. The files that they rest on
    /// must be among them.
    ///
    /// Fails with all that is wrong, each at its place.
    pub fn from_files(files: &[(&str, &str)]) -> Result<Law, Unsound> {
        let years = load::from_files(files)?;
        let years = years.into_iter().map(|year| (year.year, OnceLock::from(year))).collect();
        Ok(Law { years: Arc::new(years), built_in: false, asked: None })
    }

    /// Returns the files that the law of some years rests on, as built into the program, in the order of their years:
    /// the year, the file's name, such as `law/2024.yaml`, and its text.
    pub fn files(years: &[TaxYear]) -> Vec<(TaxYear, &'static str, &'static str)> {
        load::files(years)
    }

    /// Returns the years, in order. Reads nothing; a year that is looked at counts as asked for.
    pub fn known(&self) -> impl DoubleEndedIterator<Item = TaxYear> {
        self.years.keys().copied().inspect(|year| self.note(*year))
    }

    /// Returns the law of every year, in order. Reads them all; where one will do, ask for that one.
    pub fn all(&self) -> impl DoubleEndedIterator<Item = &YearLaw> {
        self.known().filter_map(|year| self.year(year))
    }

    /// Returns the law of a year.
    pub fn year(&self, year: TaxYear) -> Option<&YearLaw> {
        self.note(year);
        self.held(year)
    }

    /// Returns the law of a year, or of the latest year before it.
    pub fn as_of(&self, year: TaxYear) -> Option<&YearLaw> {
        let latest = self.years.range(..=year).next_back().map(|(year, _)| *year)?;
        self.year(latest)
    }

    /// Writes source references out for people: `USC25D_2023 (e)(8)` becomes the document's name and the part.
    ///
    /// Several stand apart by semicolons; what is no key of a source stays as it is.
    pub fn cite(&self, references: &str) -> String {
        let one = |reference: &str| {
            let Some(document) = self.document(reference) else { return reference.to_string() };
            let name = document.split(';').next().unwrap_or(document);
            match reference.split_once(' ') {
                Some((_, part)) => format!("{name}, {part}"),
                None => name.to_string(),
            }
        };
        references.split("; ").map(one).collect::<Vec<_>>().join("; ")
    }

    /// Finds the document of a reference. A key means the same document in every year, so the years that were asked for
    /// already come first, the latest before the others; of what is built in, another year is read only if its own file
    /// lists the key.
    fn document(&self, reference: &str) -> Option<&str> {
        let asked = self.asked();
        let known = asked.iter().rev().filter_map(|year| self.years.get(year)?.get());
        if let Some(document) = known.into_iter().find_map(|year| year.document(reference)) {
            return Some(document);
        }
        let lists = |year: &TaxYear| !self.built_in || load::lists_source(*year, source_key(reference));
        let others = self.years.keys().rev().copied().filter(lists);
        let (year, document) =
            others.filter_map(|year| Some((year, self.held(year)?.document(reference)?))).next()?;
        self.note(year);
        Some(document)
    }

    /// Returns the law of a year without noting that it was asked for.
    fn held(&self, year: TaxYear) -> Option<&YearLaw> {
        self.years.get(&year).map(|law| law.get_or_init(|| load::built_in_year(year)))
    }
}
