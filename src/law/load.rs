//! Reads the law's files.
//!
//! Comes in: the text of one file per tax year. Goes out: the law of the years, or all that is wrong, each at its place.
//! A file may say of a block or an entry that it stands as in another year's file; the law of a year is put together
//! from all of them and is whole. Refused are: an unknown or repeated key, a value without source, a source key that no
//! file at hand lists (or that a file lists and does not use), years that name each other in a ring, and a gap in the
//! law of a credit in force.

use super::block::{AS_IN, Block, EXCEPT, Entry};
use super::format::{self, Format};
use super::*;
use crate::editions::{self, Edition};
use crate::finding::{Finding, Sources, Span};
use crate::record::shape::{Keyed, Refused, Written, built_in, read_brought_up, records};
use crate::record::tree::{Node, Value};
use crate::record::{FileKind, in_order};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// The law of a year as a kind of file.
static FILE: FileKind = FileKind::data("the law of a year", "the law of the year", &[YearFile::BLOCK]);

/// A file that has been read but not yet put together with those it names.
struct Parsed {
    /// All that is written in it, for the place of whatever is wrong.
    tree: Node,
    file: YearFile,
}

/// The files at hand, by year.
type Shelf<'s> = &'s dyn Fn(TaxYear) -> Option<&'s Parsed>;

/// Returns the law of a year that is built into the program.
pub(super) fn built_in_year(year: TaxYear) -> YearLaw {
    // The files are part of the program and a test reads them, so only a broken build comes here.
    let Some(file) = built_in_file(year) else { panic!("there is no built-in law of {year}") };
    let mut findings = Vec::new();
    let law = Reading { file, shelf: &built_in_file, findings: &mut findings, used: Vec::new(), torn: false }
        .year();
    assert!(findings.is_empty(), "the built-in law of {year} cannot be read: {findings:?}");
    law
}

/// Returns a file that is built into the program, read once.
fn built_in_file(year: TaxYear) -> Option<&'static Parsed> {
    static SHELF: OnceLock<BTreeMap<TaxYear, OnceLock<Parsed>>> = OnceLock::new();
    let shelf = SHELF
        .get_or_init(|| editions::law().iter().map(|one| (TaxYear(one.year), OnceLock::new())).collect());
    let Edition { name, text, .. } = editions::law().iter().find(|one| one.year == year.0)?;
    Some(shelf.get(&year)?.get_or_init(|| {
        let (tree, file) = built_in(name, text, &FILE);
        Parsed { tree, file }
    }))
}

/// Says whether a built-in year's own file lists a source. Looks at the text only.
pub(super) fn lists_source(year: TaxYear, key: &str) -> bool {
    let word = !key.is_empty() && key.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_');
    let file = editions::law().iter().find(|one| word && one.year == year.0);
    file.is_some_and(|one| one.text.contains(&format!("\n  {key}:\n")))
}

/// Returns the built-in files that some years rest on.
pub(super) fn files(years: &[TaxYear]) -> Vec<(TaxYear, &'static str, &'static str)> {
    let mut needed = BTreeSet::new();
    let mut open: Vec<TaxYear> = years.to_vec();
    while let Some(year) = open.pop() {
        if let Some(parsed) = built_in_file(year)
            && needed.insert(year)
        {
            open.extend(parsed.file.years());
        }
    }
    let wanted = editions::law().iter().filter(|one| needed.contains(&TaxYear(one.year)));
    wanted.map(|one| (TaxYear(one.year), one.name, one.text)).collect()
}

/// Reads some years' files.
pub(super) fn from_files(files: &[(&str, &str)]) -> Result<Vec<YearLaw>, Unsound> {
    let (mut sources, mut findings) = (Sources::default(), Vec::new());
    let mut shelf: BTreeMap<TaxYear, Parsed> = BTreeMap::new();
    for (name, text) in files {
        let (read, told) =
            read_brought_up::<YearFile>(name, text, &FILE, LAW_FORM, &mut sources, format::bring_up);
        findings.extend(told);
        let Some((tree, file)) = read else { continue };
        let year = file.year;
        if shelf.contains_key(&year) {
            let message = format!("the law of {year} stands in another file too");
            findings.push(Finding::error(LAW_FORM, message).at(place_of(&tree, &["year"])));
            continue;
        }
        shelf.insert(year, Parsed { tree, file });
    }
    let mut years = Vec::new();
    // A file that cannot be read would be reported once more by every file that names it.
    if findings.is_empty() {
        for file in shelf.values() {
            let mut told = Vec::new();
            years.push(
                Reading {
                    file,
                    shelf: &|year| shelf.get(&year),
                    findings: &mut told,
                    used: Vec::new(),
                    torn: false,
                }
                .year(),
            );
            findings.extend(in_order(told, &sources, &FILE));
        }
    }
    for pair in years.windows(2).filter(|pair| pair[0].year.after() == pair[1].year) {
        let goes_on = pair[0].credits.iter().filter(|(_, one)| one.carried_forward).map(|(credit, _)| credit);
        for credit in goes_on.filter(|credit| !pair[1].credits.contains_key(credit)) {
            let from = pair[0].year;
            let message =
                format!("`{credit}` is carried forward from {from}, and `credits` does not name it");
            let tree = &shelf[&pair[1].year].tree;
            findings.push(Finding::error(LAW_FORM, message).at(place_of(tree, &["credits"])));
        }
    }
    if findings.is_empty() { Ok(years) } else { Err(Unsound { findings, sources }) }
}

/// The code of all that is wrong with a file of law.
pub(super) const LAW_FORM: &str = "law-form";

/// Returns the place of the last of some nested keys; of the deepest that is there where the rest is absent.
fn place_of(tree: &Node, keys: &[&str]) -> Span {
    let (mut node, mut place) = (tree, Span { end: tree.span.start, ..tree.span });
    for key in keys {
        let Value::Map { entries, .. } = &node.value else { break };
        let Some(entry) = entries.iter().find(|one| one.key.value == *key) else { break };
        (node, place) = (&entry.value, entry.key.span);
    }
    place
}

records! {
    /// The law of a year, as its file says it.
    struct YearFile, "law of a year" {
        // Reading it is the check of it.
        #[expect(dead_code)]
        must format: Format, "2", "the form of the file";
        must year: TaxYear, "2024", "the tax year";
        must edition: Day, "2026-11-25", "the day its content was last settled";
        must credits: Block<Credit, CreditFile>, "{..}", "the credits: their names, whether new property earns them, from when and until when";
        may methods: Block<Credit, MethodFile>, "{..}", "how each credit in force is figured";
        must tax_line: TaxLineFile, "{line: 18, ..}", "the line of the return that holds tax before credits";
        may both_on_one_line: Option<OneLineFile>, "{..}", "where it stands that both credits go to one line";
        may form_rows: Option<FormRowsFile>, "{..}", "how many rows of their own the form has for items of a kind";
        may values: Block<LawKey, ValueFile>, "{..}", "rates and limits";
        may kinds: Block<Kind, KindFile>, "{..}", "kinds of property";
        may costs: Block<CostNature, Vec<CostFile>>, "{..}", "which costs count, for which class of property";
        may incentives: Block<IncentiveKind, Vec<IncentiveFile>>, "{..}", "what incentives do to the cost";
        may subsidized_financing_counts: Block<Credit, CountsFile>, "{..}", "whether cost paid from subsidized energy financing counts";
        must before: Block<Credit, BeforeFile>, "{..}", "which credits come before";
        must rules: Block<Rule, RuleFile>, "{..}", "further rules, in words";
        must sources: Block<String, SourceFile>, "{..}", "the documents that it rests on";
    }

    /// A document.
    struct SourceFile, "document" {
        must document: String, "26 U.S.C. 25D", "what it is";
        must read: HowRead, "full", "how closely it was read";
    }
}

/// An entry that rests on documents, with the parts of it that rest on others.
trait Rests {
    /// Tells on what it rests, part by part, with the keys that lead to each.
    fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority));

    /// Returns the other years that it names.
    fn other_years(&self) -> Vec<TaxYear> {
        Vec::new()
    }
}

/// Declares entries that rest on documents; `parts` names a map of such entries within one.
macro_rules! with_authority {
    ($(
        $(#[$meta:meta])*
        struct $name:ident, $called:literal $(, parts $parts:ident)? { $($keys:tt)* }
    )+) => {
        records! {
            $(
                $(#[$meta])*
                struct $name, $called {
                    $($keys)*
                    must source: Vec<String>, "[USC25D_2023 (a)]", "the documents that it rests on, by their keys under `sources`";
                    must standing: Standing, "statute", "what kind of text that is";
                    must settled: bool, "yes", "whether nobody disputes it";
                }
            )+
        }
        $(
            impl $name {
                fn authority(&self) -> Authority {
                    Authority { source: self.source.clone(), standing: self.standing, settled: self.settled }
                }
            }

            impl Rests for $name {
                fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority)) {
                    tell(keys, self.authority());
                    $(
                        keys.push(stringify!($parts).to_string());
                        self.$parts.each(keys, tell);
                        keys.pop();
                    )?
                }
            }
        )+
    };
}

impl<T: Rests> Rests for Vec<T> {
    fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority)) {
        self.iter().for_each(|one| one.each(keys, tell));
    }
}

impl<T: Rests> Rests for Option<T> {
    fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority)) {
        self.iter().for_each(|one| one.each(keys, tell));
    }
}

impl<K: std::fmt::Display, T: Rests> Rests for BTreeMap<K, T> {
    fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority)) {
        for (key, one) in self {
            keys.push(key.to_string());
            one.each(keys, tell);
            keys.pop();
        }
    }
}

impl<K: std::fmt::Display + Ord, T: Rests> Rests for Block<K, T> {
    fn each(&self, keys: &mut Vec<String>, tell: &mut dyn FnMut(&[String], Authority)) {
        for (key, one) in self.written() {
            keys.push(key.to_string());
            one.each(keys, tell);
            keys.pop();
        }
    }

    fn other_years(&self) -> Vec<TaxYear> {
        self.years().collect()
    }
}

with_authority! {
    /// A credit.
    struct CreditFile, "credit" {
        must name: String, "residential clean energy credit", "what it is called";
        must new_property: bool, "yes", "whether new property earns it";
        may from: Option<Day>, "2023-01-01", "the first day on which property earns it";
        may through: Option<Day>, "2025-12-31", "the last one";
        must carried_forward: bool, "yes", "whether what the tax leaves over is carried forward";
    }

    /// How a credit is figured.
    struct MethodFile, "method" {
        must steps: Vec<MethodStep>, "[costs, rate]", "its steps, in order";
        may earlier_credits: Vec<TaxYear>, "[2009, 2010]", "the years whose credits count toward the limit";
        may earlier_windows: Vec<TaxYear>, "[2009, 2010]", "the years whose windows count toward the limit of windows";
    }

    /// The line of the tax.
    struct TaxLineFile, "line of the tax" {
        must line: String, "18", "the line of Form 1040";
        may line_nr: Option<String>, "16", "the line of Form 1040-NR, where it has another number";
    }

    /// Where it stands that both credits go to one line.
    struct OneLineFile, "line of both credits" {}

    /// Rows of the form.
    struct FormRowsFile, "rows of the form" {
        must rows: BTreeMap<Kind, u8>, "{exterior_door: 2}", "how many rows of their own items of a kind have";
    }

    /// A rate or limit.
    struct ValueFile, "rate or limit" {
        must amount: Amount, "$1,200", "how much";
        may reaches: Vec<Kind>, "[window_or_skylight]", "the kinds that it limits";
    }

    /// A kind of property.
    struct KindFile, "kind of property", parts requires {
        must credit: Credit, "clean", "the credit that it earns";
        must class: Class, "clean", "the class whose costs the law treats alike";
        must group: Group, "none", "the yearly limit that it falls under";
        must home: HomeRule, "any_residence", "what kind of home the law asks for";
        must existing_home_only: bool, "no", "whether it earns nothing in a new home";
        must maker_code: bool, "no", "whether the maker's code must stand on the return";
        may requires: BTreeMap<FactName, RequirementFile>, "{..}", "the facts that the law asks for";
    }

    /// A fact that the law asks for.
    struct RequirementFile, "requirement" {
        may at_least: Option<Amount>, "3", "how much it must be";
        must because: String, "the law asks for it", "why, as a clause without a full stop";
    }

    /// What the law says of a cost.
    struct CostFile, "cost" {
        must classes "for": Vec<Class>, "[clean]", "the classes of property";
        must counts: Counts, "yes", "whether it counts";
        must adds_to_basis: bool, "yes", "whether it adds to the basis of the home";
        must because: String, "it is part of the installation", "why, as a clause without a full stop";
    }

    /// What the law says of an incentive.
    struct IncentiveFile, "incentive" {
        must credits "for": Vec<Credit>, "[clean]", "the credits";
        must effect: Effect, "reduces_cost", "what it does to the cost";
        must because: String, "it is a price adjustment", "why, as a clause without a full stop";
    }

    /// Whether something counts.
    struct CountsFile, "rule of counting" {
        must counts: bool, "no", "whether it counts";
    }

    /// What comes before a credit.
    struct BeforeFile, "order of credits" {
        must credits: Vec<OtherCredit>, "[foreign_tax]", "the credits that come before";
        may lines_of_their_own: Vec<OtherCredit>, "[electric_vehicle]", "those with a line of their own on the worksheet";
        may child_tax_worksheet: Option<String>, "..", "the worksheet that the child tax credit is taken from";
    }

    /// A rule in words.
    struct RuleFile, "rule" {
        must says: String, "both credits are nonrefundable", "the rule, as a clause without a full stop";
    }
}

impl YearFile {
    /// Returns what rests on documents, part by part, by its keys: a block's own entries and what stands alone.
    fn rests(&self) -> Vec<(&'static str, &dyn Rests)> {
        vec![
            ("tax_line", &self.tax_line),
            ("form_rows", &self.form_rows),
            ("both_on_one_line", &self.both_on_one_line),
            ("credits", &self.credits),
            ("methods", &self.methods),
            ("values", &self.values),
            ("kinds", &self.kinds),
            ("costs", &self.costs),
            ("incentives", &self.incentives),
            ("subsidized_financing_counts", &self.subsidized_financing_counts),
            ("before", &self.before),
            ("rules", &self.rules),
        ]
    }
}

impl Written for TaxYear {
    fn of(text: &str) -> Result<TaxYear, Refused> {
        let refused = || Refused::new(format!("`{text}` is no tax year"), "write four digits, such as 2024");
        let digits = text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
        text.parse().ok().filter(|_| digits).map(TaxYear).ok_or_else(refused)
    }
}

impl Written for Amount {
    fn of(text: &str) -> Result<Amount, Refused> {
        let read = if text.starts_with('$') {
            Money::read(text).map(Amount::Money)
        } else if text.ends_with('%') {
            Rate::read(text).map(Amount::Rate)
        } else {
            Quantity::read(text).map(Amount::Quantity)
        };
        let help = "write dollars like $1,200, a share like 30%, and anything else as a plain number";
        read.map_err(|why| Refused::new(format!("`{text}`: {why}"), help))
    }
}

/// A day as written, checked to be one.
#[derive(Clone, Copy, Debug)]
struct Day(Date);

impl Written for Day {
    fn of(text: &str) -> Result<Day, Refused> {
        match text.parse::<Date>() {
            Ok(day) if day.to_string() == text => Ok(Day(day)),
            _ => Err(Refused::new(format!("`{text}` is no day"), "a day is written like 2026-11-25")),
        }
    }
}

/// A value where it is written: in the year's own file, or in one that it names.
struct Layer<'s, V> {
    value: &'s V,
    file: &'s Parsed,
    /// Whether it is only inferred to hold in the year.
    inferred: bool,
}

impl<V> Layer<'_, V> {
    /// Returns on what an entry rests in the year: what rests on a text of another year rests on inference here.
    fn authority(&self, written: Authority) -> Authority {
        let read = matches!(written.standing, Standing::Statute | Standing::Form | Standing::IrsGuidance);
        let standing = if self.inferred && read { Standing::Inference } else { written.standing };
        Authority { standing, ..written }
    }
}

impl<V> Clone for Layer<'_, V> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<V> Copy for Layer<'_, V> {}

/// One file while its meaning is worked out.
struct Reading<'s, 'c> {
    file: &'s Parsed,
    shelf: Shelf<'s>,
    findings: &'c mut Vec<Finding>,
    /// On what the law of the year rests, each with the file that says so.
    used: Vec<(&'s Parsed, Authority)>,
    /// Something named in another file could not be found.
    torn: bool,
}

impl<'s> Reading<'s, '_> {
    /// Puts the law of the file's year together.
    fn year(mut self) -> YearLaw {
        let parsed = self.file;
        let file = &parsed.file;
        self.check_own();
        for one in [&file.tax_line as &dyn Rests, &file.form_rows, &file.both_on_one_line] {
            one.each(&mut Vec::new(), &mut |_, authority| self.used.push((parsed, authority)));
        }
        let credits_of = self.block("credits", |file| &file.credits);
        let methods = self.block("methods", |file| &file.methods);
        let kinds = self.block("kinds", |file| &file.kinds);
        let values = self.block("values", |file| &file.values);
        let costs = self.layers(parsed, "costs", |file| &file.costs, &mut Vec::new());
        let incentives = self.layers(parsed, "incentives", |file| &file.incentives, &mut Vec::new());
        let financing = self.block("subsidized_financing_counts", |file| &file.subsidized_financing_counts);
        let before = self.block("before", |file| &file.before);
        let rules = self.block("rules", |file| &file.rules);

        // What another year says of a class or a credit that this year does not have says nothing here.
        let classes: BTreeSet<Class> = kinds.values().map(|one| one.value.class).collect();
        let in_force = |one: &Layer<'_, CreditFile>| one.value.new_property;
        let credits: BTreeSet<Credit> =
            credits_of.iter().filter(|(_, one)| in_force(one)).map(|(credit, _)| *credit).collect();
        let mut all_costs = BTreeMap::new();
        for (nature, layers) in &costs {
            for (one, layer) in
                layers.iter().flat_map(|layer| layer.value.iter().map(move |one| (one, layer)))
            {
                for class in one.classes.iter().copied().filter(|class| classes.contains(class)) {
                    let mut law = one.law();
                    law.authority = layer.authority(law.authority);
                    all_costs.insert((class, *nature), (law, layer.file));
                }
            }
        }
        let mut all_incentives = BTreeMap::new();
        for (kind, layers) in &incentives {
            for (one, layer) in
                layers.iter().flat_map(|layer| layer.value.iter().map(move |one| (one, layer)))
            {
                for credit in one.credits.iter().copied().filter(|one| credits.contains(one)) {
                    let mut law = one.law();
                    law.authority = layer.authority(law.authority);
                    all_incentives.insert((credit, *kind), (law, layer.file));
                }
            }
        }

        self.used.extend(all_costs.values().map(|(law, file)| (*file, law.authority.clone())));
        self.used.extend(all_incentives.values().map(|(law, file)| (*file, law.authority.clone())));
        let used = std::mem::take(&mut self.used);
        let (sources, sources_read) = self.sources(&used);

        let law = YearLaw {
            year: file.year,
            edition: file.edition.0.to_string(),
            credits: credits_of.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            methods: methods.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            both_on_one_line: file.both_on_one_line.as_ref().map(OneLineFile::authority),
            values: values
                .iter()
                .map(|(key, one)| {
                    let authority = one.authority(one.value.authority());
                    let here = |kind: &Kind| {
                        let of = kinds.get(kind).map(|law| law.value.credit);
                        (of.is_some() && of == key.credit()).then_some(*kind)
                    };
                    // What another year's limit reaches and this year does not have is nothing here.
                    let reaches = one.value.reaches.iter().filter_map(here).collect();
                    (*key, LawValue { amount: one.value.amount, reaches, authority })
                })
                .collect(),
            kinds: kinds.iter().map(|(kind, one)| (*kind, one.value.law(one))).collect(),
            costs: all_costs.into_iter().map(|(key, (law, _))| (key, law)).collect(),
            incentives: all_incentives.into_iter().map(|(key, (law, _))| (key, law)).collect(),
            subsidized_financing_counts: financing
                .iter()
                .filter(|(credit, _)| credits.contains(credit))
                .map(|(credit, one)| (*credit, (one.value.counts, one.authority(one.value.authority()))))
                .collect(),
            before: before.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            form_rows: file.form_rows.iter().flat_map(|one| &one.rows).map(|(kind, n)| (*kind, *n)).collect(),
            tax_line: file.tax_line.line.clone(),
            tax_line_nr: file.tax_line.line_nr.clone(),
            tax_line_authority: file.tax_line.authority(),
            rules: rules
                .iter()
                .map(|(name, one)| {
                    let authority = one.authority(one.value.authority());
                    (*name, RuleLaw { says: one.value.says.clone(), authority })
                })
                .collect(),
            sources,
            sources_read,
        };
        // What could not be taken over would be reported again, value by value, as missing.
        if !self.torn {
            self.check_whole(&law);
        }
        law
    }

    fn complain(&mut self, keys: &[&str], what: String) {
        self.complain_of(self.file, keys, what);
    }

    fn complain_of(&mut self, file: &Parsed, keys: &[&str], what: String) {
        self.findings.push(Finding::error(LAW_FORM, what).at(place_of(&file.tree, keys)));
    }

    /// Returns a block's entries, each where it is written.
    fn block<K: Ord + Clone + std::fmt::Display + 's, V: Rests>(
        &mut self,
        name: &str,
        of: fn(&YearFile) -> &Block<K, V>,
    ) -> BTreeMap<K, Layer<'s, V>> {
        let layers = self.layers(self.file, name, of, &mut Vec::new());
        let block: BTreeMap<K, Layer<'s, V>> =
            layers.into_iter().filter_map(|(key, layers)| Some((key, *layers.last()?))).collect();
        for one in block.values() {
            one.value.each(&mut Vec::new(), &mut |_, authority| self.used.push((one.file, authority)));
        }
        block
    }

    /// Returns what a file and those it names say of a block's entries, the word that holds last. `trail` are the
    /// years gone through on the way.
    fn layers<K: Ord + Clone + std::fmt::Display + 's, V>(
        &mut self,
        file: &'s Parsed,
        name: &str,
        of: fn(&YearFile) -> &Block<K, V>,
        trail: &mut Vec<TaxYear>,
    ) -> BTreeMap<K, Vec<Layer<'s, V>>> {
        let block = of(&file.file);
        trail.push(file.file.year);
        let mut all = match block.as_in {
            Some(year) => self
                .named(file, &[name, AS_IN], year, trail)
                .map(|other| self.layers(other, name, of, trail))
                .unwrap_or_default(),
            None => BTreeMap::new(),
        };
        if block.inferred == Some(true) {
            all.values_mut().flatten().for_each(|layer| layer.inferred = true);
        }
        for key in &block.except {
            if all.remove(key).is_none() {
                let what = format!("`except` names `{key}`, which the year it is taken from does not have");
                self.complain_of(file, &[name, EXCEPT], what);
            }
        }
        for (key, entry) in &block.own {
            let place = [name, &key.to_string(), AS_IN];
            match entry {
                Entry::Own(value) => {
                    all.entry(key.clone()).or_default().push(Layer { value, file, inferred: false })
                }
                Entry::AsIn(year) => {
                    let Some(other) = self.named(file, &place, *year, trail) else { continue };
                    match self.layers(other, name, of, trail).remove(key) {
                        Some(layers) => {
                            all.insert(key.clone(), layers);
                        }
                        None => {
                            self.complain_of(
                                file,
                                &place,
                                format!("`{name}` of {year} does not have `{key}`"),
                            );
                        }
                    }
                }
            }
        }
        trail.pop();
        all
    }

    /// Finds a file that another one names.
    fn named(
        &mut self,
        file: &'s Parsed,
        place: &[&str],
        year: TaxYear,
        trail: &[TaxYear],
    ) -> Option<&'s Parsed> {
        if trail.contains(&year) {
            let ring: Vec<String> = trail.iter().chain([&year]).map(ToString::to_string).collect();
            let what = format!("`{}` is as in itself: {}", place[0], ring.join(", as in "));
            self.complain_of(file, place, what);
            self.torn = true;
            return None;
        }
        let found = (self.shelf)(year);
        if found.is_none() {
            self.torn = true;
            let what = format!("`{}` is as in {year}, and the file of that year is not at hand", place[0]);
            self.complain_of(file, place, what);
        }
        found
    }

    /// Returns the documents behind some references, each looked up in the file that refers to it.
    fn sources(
        &mut self,
        used: &[(&'s Parsed, Authority)],
    ) -> (BTreeMap<String, String>, BTreeMap<String, HowRead>) {
        let mut listed: BTreeMap<TaxYear, BTreeMap<String, Vec<Layer<'s, SourceFile>>>> = BTreeMap::new();
        let (mut documents, mut how_read) = (BTreeMap::new(), BTreeMap::new());
        for (file, authority) in used {
            let list = listed
                .entry(file.file.year)
                .or_insert_with(|| self.layers(file, "sources", |file| &file.sources, &mut Vec::new()));
            for reference in &authority.source {
                let key = super::source_key(reference);
                // A key that no list has is reported where the file is checked by itself.
                let Some(one) = list.get(key).and_then(|layers| layers.last()) else { continue };
                let document = &one.value.document;
                let before = documents.insert(key.to_string(), document.clone());
                how_read.insert(key.to_string(), one.value.read);
                if before.is_some_and(|before| before != *document) {
                    let what = format!("the source `{key}` is another document in another year's file");
                    self.complain_of(one.file, &["sources", key], what);
                }
            }
        }
        (documents, how_read)
    }

    /// Checks what a file says itself, whatever it takes from others.
    fn check_own(&mut self) {
        let file = &self.file.file;
        self.check_sources();
        for (kind, one) in file.kinds.written() {
            for (fact, need) in &one.requires {
                let place = ["kinds", kind.word(), "requires", fact.word()];
                if !fact.fits(need.at_least) {
                    let what = format!("`at_least` of `{fact}` is not the kind of number that fits it");
                    self.complain(&place, what);
                }
                self.check_clause(&place, &need.because);
            }
        }
        for (nature, entries) in file.costs.written() {
            let mut seen = BTreeSet::new();
            for one in entries {
                self.check_clause(&["costs", nature.word()], &one.because);
                for class in one.classes.iter().filter(|class| !seen.insert(**class)) {
                    let what = format!("`{class}` stands twice for `{nature}`");
                    self.complain(&["costs", nature.word()], what);
                }
            }
        }
        for (kind, entries) in file.incentives.written() {
            let mut seen = BTreeSet::new();
            for one in entries {
                self.check_clause(&["incentives", kind.word()], &one.because);
                for credit in one.credits.iter().filter(|credit| !seen.insert(**credit)) {
                    let what = format!("`{credit}` stands twice for `{kind}`");
                    self.complain(&["incentives", kind.word()], what);
                }
            }
        }
        for (name, one) in file.rules.written() {
            self.check_clause(&["rules", name.word()], &one.says);
        }
    }

    /// A clause stands inside sentences of the worksheet, so it brings no full stop of its own.
    fn check_clause(&mut self, keys: &[&str], clause: &str) {
        if clause.ends_with('.') {
            self.complain(keys, format!("the clause `{clause}` ends in a full stop; leave it out"));
        }
    }

    /// Every reference names a listed document, and every document that the file itself lists is used in it.
    fn check_sources(&mut self) {
        let mut used = BTreeSet::new();
        for (keys, authority) in authorities(&self.file.file) {
            if authority.source.is_empty() {
                let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
                self.complain(&keys, format!("`{}` names no source", keys.join(" ")));
            }
            used.extend(authority.source.iter().map(|one| super::source_key(one).to_string()));
        }
        let listed = self.layers(self.file, "sources", |file| &file.sources, &mut Vec::new());
        for key in used.iter().filter(|key| !listed.contains_key(*key)) {
            let mut places = Vec::new();
            references(&self.file.tree, key, false, &mut places);
            let mut places = places.into_iter();
            let finding =
                Finding::error(LAW_FORM, format!("the source `{key}` is not listed under `sources`"))
                    .at(places.next().unwrap_or(self.file.tree.span))
                    .help("list the document there, with how closely it was read");
            self.findings.push(places.fold(finding, |finding, place| finding.with(place, "here too")));
        }
        for key in self.file.file.sources.own.keys().filter(|key| !used.contains(*key)) {
            self.complain(&["sources", key], format!("nothing refers to the source `{key}`"));
        }
    }

    /// A credit in force has all it is computed from.
    fn check_whole(&mut self, law: &YearLaw) {
        for (key, value) in &law.values {
            if !key.fits(value.amount) {
                self.complain(
                    &["values", key.word()],
                    format!("`{key}` is not the kind of number that fits it"),
                );
            }
        }
        self.check_methods(law);
        let needed = |key: &LawKey, credit: Credit| {
            let limited =
                |kind: Kind| law.values.keys().any(|one| one.limits_a_kind() && one.kind() == Some(kind));
            law.method(credit).is_none_or(|how| key.needed_by(how))
                && key.kind().is_none_or(|kind| {
                    law.kinds.get(&kind).is_some_and(|one| Some(one.credit) == key.credit())
                        && (!key.limits_a_kind() || limited(kind))
                })
        };
        let used: BTreeSet<Class> = law.kinds.values().map(|one| one.class).collect();
        for credit in Credit::ALL.iter().copied().filter(|credit| law.in_force(*credit)) {
            let keys = LawKey::ALL.iter().filter(|key| key.credit().is_none_or(|of| of == credit));
            for key in keys.filter(|key| needed(key, credit)) {
                if !law.values.contains_key(key) {
                    self.complain(&["values"], format!("`{credit}` is in force, but `{key}` is missing"));
                }
            }
            for class in Class::ALL.iter().filter(|class| class.credit() == credit && used.contains(class)) {
                for nature in CostNature::ALL {
                    if !law.costs.contains_key(&(*class, *nature)) {
                        let what = format!("`costs` does not say whether `{nature}` counts for `{class}`");
                        self.complain(&["costs", nature.word()], what);
                    }
                }
            }
            for kind in IncentiveKind::ALL {
                if !law.incentives.contains_key(&(credit, *kind)) {
                    let what = format!("`incentives` does not say what `{kind}` does for `{credit}`");
                    self.complain(&["incentives", kind.word()], what);
                }
            }
            if !law.subsidized_financing_counts.contains_key(&credit) {
                let what = format!("`subsidized_financing_counts` says nothing of `{credit}`");
                self.complain(&["subsidized_financing_counts"], what);
            }
            if !law.before.contains_key(&credit) {
                self.complain(&["before"], format!("`before` says nothing of `{credit}`"));
            }
        }
        for (credit, one) in &law.before {
            for alone in one.lines_of_their_own.iter().filter(|alone| !one.credits.contains(alone)) {
                let what = format!("`{alone}` has a line of its own and does not stand among the credits");
                self.complain(&["before", credit.word()], what);
            }
        }
        for (kind, one) in &law.kinds {
            if one.class.credit() != one.credit || !law.in_force(one.credit) {
                let what = format!("`{kind}` has a class of another credit, or its credit is not in force");
                self.complain(&["kinds", kind.word()], what);
            }
        }
    }
}

impl YearFile {
    /// Returns every other year that the file names.
    fn years(&self) -> Vec<TaxYear> {
        let blocks = self.rests().into_iter().flat_map(|(_, one)| one.other_years());
        blocks.chain(self.sources.years()).collect()
    }
}

impl Reading<'_, '_> {
    /// A credit in force says how it is figured, by steps of its own, each once, and looks back only to earlier years.
    fn check_methods(&mut self, law: &YearLaw) {
        if law.credits.is_empty() {
            self.complain(&["credits"], "`credits` names no credit".to_string());
        }
        for credit in
            law.credits.keys().filter(|credit| law.in_force(**credit) && law.method(**credit).is_none())
        {
            let what = format!("`{credit}` is in force, but `methods` does not say how it is figured");
            self.complain(&["credits", credit.word()], what);
        }
        for (credit, how) in &law.methods {
            let place = ["methods", credit.word()];
            let looks_back = how.earlier_credits.iter().chain(&how.earlier_windows);
            for year in looks_back.filter(|year| **year >= law.year) {
                self.complain(&place, format!("{year} is no earlier year than {}", law.year));
            }
            for (at, step) in how.steps.iter().enumerate() {
                if step.credit() != *credit {
                    self.complain(&place, format!("`{step}` is no step of `{credit}`"));
                }
                if how.steps[..at].contains(step) {
                    self.complain(&place, format!("the step `{step}` stands twice"));
                }
            }
        }
        self.check_reach(law);
    }

    /// One limit reaches a kind, not two; and one reaches each where energy property counts up to fixed amounts, or where
    /// no rate is said for what has no limit.
    fn check_reach(&mut self, law: &YearLaw) {
        let limits = |kind: &Kind| law.values.values().filter(|value| value.reaches.contains(kind)).count();
        let amounts = law.figured_with(MethodStep::EnergyPropertyAmounts);
        let all_limited = law.figured_with(MethodStep::Costs) && !law.figured_with(MethodStep::Rate);
        for (kind, one) in &law.kinds {
            let asked =
                amounts && one.class == Class::EnergyProperty || all_limited && one.class == Class::Clean;
            let unlimited = asked && limits(kind) == 0;
            if limits(kind) > 1 || unlimited {
                let what = format!("`{kind}` is reached by {} limits; one is expected", limits(kind));
                self.complain(&["values"], what);
            }
        }
    }
}

impl CreditFile {
    fn law(&self, layer: &Layer<'_, CreditFile>) -> CreditLaw {
        CreditLaw {
            name: self.name.clone(),
            new_property: self.new_property,
            from: self.from.map(|day| day.0),
            through: self.through.map(|day| day.0),
            carried_forward: self.carried_forward,
            authority: layer.authority(self.authority()),
        }
    }
}

impl MethodFile {
    fn law(&self, layer: &Layer<'_, MethodFile>) -> MethodLaw {
        MethodLaw {
            steps: self.steps.clone(),
            earlier_credits: self.earlier_credits.clone(),
            earlier_windows: self.earlier_windows.clone(),
            authority: layer.authority(self.authority()),
        }
    }
}

impl KindFile {
    fn law(&self, layer: &Layer<'_, KindFile>) -> KindLaw {
        let requires = self.requires.iter().map(|(fact, one)| Requirement {
            fact: *fact,
            at_least: one.at_least,
            because: one.because.clone(),
            authority: layer.authority(one.authority()),
        });
        KindLaw {
            credit: self.credit,
            class: self.class,
            group: self.group,
            home: self.home,
            existing_home_only: self.existing_home_only,
            maker_code: self.maker_code,
            requires: requires.collect(),
            authority: layer.authority(self.authority()),
        }
    }
}

impl CostFile {
    fn law(&self) -> CostLaw {
        CostLaw {
            counts: self.counts,
            adds_to_basis: self.adds_to_basis,
            because: self.because.clone(),
            authority: self.authority(),
        }
    }
}

impl IncentiveFile {
    fn law(&self) -> IncentiveLaw {
        IncentiveLaw { effect: self.effect, because: self.because.clone(), authority: self.authority() }
    }
}

impl BeforeFile {
    fn law(&self, layer: &Layer<'_, BeforeFile>) -> EarlierInOrder {
        EarlierInOrder {
            credits: self.credits.clone(),
            lines_of_their_own: self.lines_of_their_own.clone(),
            child_tax_worksheet: self.child_tax_worksheet.clone(),
            authority: layer.authority(self.authority()),
        }
    }
}

/// Lists every authority that a file itself gives, with the keys that lead to it.
fn authorities(file: &YearFile) -> Vec<(Vec<String>, Authority)> {
    let mut all = Vec::new();
    for (key, one) in file.rests() {
        one.each(&mut vec![key.to_string()], &mut |keys, authority| all.push((keys.to_vec(), authority)));
    }
    all
}

/// Collects the places where entries name a document.
fn references(node: &Node, key: &str, below_source: bool, places: &mut Vec<Span>) {
    match &node.value {
        Value::Text { text, .. } if below_source && super::source_key(text) == key => places.push(node.span),
        Value::Text { .. } => {}
        Value::List(items) => items.iter().for_each(|one| references(one, key, below_source, places)),
        Value::Map { entries, .. } => {
            entries.iter().for_each(|one| references(&one.value, key, one.key.value == "source", places))
        }
    }
}

#[cfg(test)]
mod tests;
