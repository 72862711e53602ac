//! Reads the law's files.
//!
//! Comes in: the text of one file per tax year. Goes out: [`Law`], or every complaint with file and line.
//! A file is whole by itself. Refused are: an unknown or repeated key, a value without source, a source key
//! that `sources` does not list (or lists and nothing uses), and a gap in the law of a credit in force.

use super::*;
use crate::written::{Text, Unique, Written, line_of_key, lines_with_word, read, written_words};
use serde::Deserialize;
use std::sync::OnceLock;

/// The files built into the program: name and text.
pub(super) const FILES: &[(&str, &str)] = &[
    ("law/2023.yaml", include_str!("years/2023.yaml")),
    ("law/2024.yaml", include_str!("years/2024.yaml")),
    ("law/2025.yaml", include_str!("years/2025.yaml")),
    ("law/2026.yaml", include_str!("years/2026.yaml")),
];

/// Returns the law built into the program, read once.
pub(super) fn built_in() -> &'static Law {
    static LAW: OnceLock<Law> = OnceLock::new();
    LAW.get_or_init(|| {
        from_files(FILES).unwrap_or_else(|complaints| {
            // The files are part of the program and a test reads them, so only a broken build comes here.
            panic!("the built-in law cannot be read:\n{}", complaints.join("\n"))
        })
    })
}

/// Reads some years' files.
pub(super) fn from_files(files: &[(&str, &str)]) -> Result<Law, Vec<String>> {
    let mut law = Law::default();
    let mut complaints = Vec::new();
    for (name, text) in files {
        match read::<YearFile>(name, text) {
            Err(complaint) => complaints.push(complaint),
            Ok(file) => {
                let mut reading = Reading { name, text, complaints: &mut complaints };
                let year = reading.year(file);
                if law.years.contains_key(&year.year) {
                    reading
                        .complain(&["year"], format!("the law of {} stands in another file too", year.year));
                }
                law.years.insert(year.year, year);
            }
        }
    }
    if complaints.is_empty() { Ok(law) } else { Err(complaints) }
}

// The shape of a file. Leaves are read from their text; `source`, `standing` and `settled` stand with every value.

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct YearFile {
    year: Text<TaxYear>,
    edition: Text<Day>,
    names: NamesFile,
    in_force: Unique<Credit, InForceFile>,
    #[serde(default)]
    improvement_method: Option<MethodFile>,
    tax_line: TaxLineFile,
    #[serde(default)]
    form_rows: Option<FormRowsFile>,
    #[serde(default)]
    values: Unique<LawKey, ValueFile>,
    #[serde(default)]
    kinds: Unique<Kind, KindFile>,
    #[serde(default)]
    costs: Unique<CostNature, Vec<CostFile>>,
    #[serde(default)]
    incentives: Unique<IncentiveKind, Vec<IncentiveFile>>,
    #[serde(default)]
    subsidized_financing_counts: Unique<Credit, CountsFile>,
    before: Unique<Credit, BeforeFile>,
    rules: Unique<String, RuleFile>,
    sources: Unique<String, SourceFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NamesFile {
    improvement: Text<String>,
    clean: Text<String>,
}

/// Declares the shape of entries that carry their authority.
macro_rules! with_authority {
    ($($name:ident { $($(#[$meta:meta])* $field:ident: $type:ty),* $(,)? })+) => {
        $(#[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct $name {
            $($(#[$meta])* $field: $type,)*
            source: Vec<Text<String>>,
            standing: Text<Standing>,
            settled: Text<bool>,
        }
        impl $name {
            fn authority(&self) -> Authority {
                Authority {
                    source: self.source.iter().map(|one| one.0.clone()).collect(),
                    standing: self.standing.0,
                    settled: self.settled.0,
                }
            }
        })+
    };
}

with_authority! {
    InForceFile { new_property: Text<bool> }
    MethodFile {
        method: Text<Method>,
        #[serde(default)]
        earlier_credits: Vec<Text<TaxYear>>,
        #[serde(default)]
        earlier_windows: Vec<Text<TaxYear>>,
    }
    TaxLineFile { line: Text<String> }
    FormRowsFile { rows: Unique<Kind, Text<u8>> }
    ValueFile { amount: Text<Amount> }
    KindFile {
        credit: Text<Credit>,
        class: Text<Class>,
        group: Text<Group>,
        home: Text<HomeRule>,
        existing_home_only: Text<bool>,
        maker_code: Text<bool>,
        #[serde(default)]
        requires: Unique<FactName, RequirementFile>,
    }
    RequirementFile {
        #[serde(default)]
        at_least: Option<Text<Amount>>,
        because: Text<String>,
    }
    CostFile {
        r#for: Vec<Text<Class>>,
        counts: Text<Counts>,
        adds_to_basis: Text<bool>,
        because: Text<String>,
    }
    IncentiveFile {
        r#for: Vec<Text<Credit>>,
        effect: Text<Effect>,
        because: Text<String>,
    }
    CountsFile { counts: Text<bool> }
    BeforeFile { credits: Vec<Text<OtherCredit>> }
    RuleFile { says: Text<String> }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SourceFile {
    document: Text<String>,
    read: Text<HowRead>,
}

written_words!(
    Standing,
    Credit,
    Class,
    Group,
    HomeRule,
    Method,
    Effect,
    Counts,
    FactName,
    LawKey,
    HowRead,
    Kind,
    CostNature,
    IncentiveKind,
    OtherCredit,
);

impl Written for TaxYear {
    fn from_text(text: &str) -> Result<TaxYear, String> {
        let year: i16 = text.parse().map_err(|_| "a tax year is expected, such as 2024")?;
        if text.len() == 4 { Ok(TaxYear(year)) } else { Err("a tax year has four digits".to_string()) }
    }
}

impl Written for Amount {
    fn from_text(text: &str) -> Result<Amount, String> {
        if text.starts_with('$') {
            Money::from_text(text).map(Amount::Money)
        } else if text.ends_with('%') {
            Rate::from_text(text).map(Amount::Rate)
        } else {
            Quantity::from_text(text).map(Amount::Quantity)
        }
    }
}

/// A day as written, checked to be one.
struct Day(String);

impl Written for Day {
    fn from_text(text: &str) -> Result<Day, String> {
        match text.parse::<jiff::civil::Date>() {
            Ok(day) if day.to_string() == text => Ok(Day(text.to_string())),
            _ => Err("a day is written like 2026-11-25".to_string()),
        }
    }
}

/// One file while its meaning is worked out.
struct Reading<'a> {
    name: &'a str,
    text: &'a str,
    complaints: &'a mut Vec<String>,
}

impl Reading<'_> {
    fn year(&mut self, file: YearFile) -> YearLaw {
        self.check_sources(&file);
        let in_force = |credit: Credit| {
            let entry = file.in_force.0.get(&credit);
            entry.map(|entry| (entry.new_property.0, entry.authority()))
        };
        let absent = || (false, Authority { source: vec![], standing: Standing::Memory, settled: false });
        for credit in Credit::ALL.iter().filter(|credit| !file.in_force.0.contains_key(credit)) {
            self.complain(&["in_force"], format!("`in_force` does not say whether `{credit}` is in force"));
        }
        let law = YearLaw {
            year: file.year.0,
            edition: file.edition.0.0.clone(),
            improvement_name: file.names.improvement.0.clone(),
            clean_name: file.names.clean.0.clone(),
            improvement_in_force: in_force(Credit::Improvement).unwrap_or_else(absent),
            clean_in_force: in_force(Credit::Clean).unwrap_or_else(absent),
            improvement_method: file.improvement_method.as_ref().map(MethodFile::law),
            values: file.values.0.iter().map(|(key, one)| (*key, one.law())).collect(),
            kinds: file.kinds.0.iter().map(|(kind, one)| (*kind, self.kind(*kind, one))).collect(),
            costs: self.costs(&file),
            incentives: self.incentives(&file),
            subsidized_financing_counts: {
                let entries = file.subsidized_financing_counts.0.iter();
                entries.map(|(credit, one)| (*credit, (one.counts.0, one.authority()))).collect()
            },
            before: file.before.0.iter().map(|(credit, one)| (*credit, one.law())).collect(),
            form_rows: file
                .form_rows
                .iter()
                .flat_map(|one| &one.rows.0)
                .map(|(kind, n)| (*kind, n.0))
                .collect(),
            tax_line: file.tax_line.line.0.clone(),
            tax_line_authority: file.tax_line.authority(),
            rules: file.rules.0.iter().map(|(name, one)| (name.clone(), self.rule(name, one))).collect(),
            sources: file.sources.0.iter().map(|(key, one)| (key.clone(), one.document.0.clone())).collect(),
            sources_read: file.sources.0.iter().map(|(key, one)| (key.clone(), one.read.0)).collect(),
        };
        self.check_whole(&law);
        law
    }

    fn complain(&mut self, keys: &[&str], what: String) {
        let line = line_of_key(self.text, keys);
        self.complaints.push(format!("{}:{line}: {what}", self.name));
    }

    fn kind(&mut self, kind: Kind, file: &KindFile) -> KindLaw {
        let mut requires = Vec::new();
        for (fact, one) in &file.requires.0 {
            let at_least = one.at_least.as_ref().map(|least| least.0);
            if !fact.fits(at_least) {
                self.complain(
                    &["kinds", kind.word(), "requires", fact.word()],
                    format!("`at_least` of `{fact}` is not the kind of number that fits it"),
                );
            }
            self.check_clause(&["kinds", kind.word(), "requires", fact.word()], &one.because.0);
            requires.push(Requirement {
                fact: *fact,
                at_least,
                because: one.because.0.clone(),
                authority: one.authority(),
            });
        }
        KindLaw {
            credit: file.credit.0,
            class: file.class.0,
            group: file.group.0,
            home: file.home.0,
            existing_home_only: file.existing_home_only.0,
            maker_code: file.maker_code.0,
            requires,
            authority: file.authority(),
        }
    }

    fn costs(&mut self, file: &YearFile) -> BTreeMap<(Class, CostNature), CostLaw> {
        let mut costs = BTreeMap::new();
        for (nature, entries) in &file.costs.0 {
            for one in entries {
                self.check_clause(&["costs", nature.word()], &one.because.0);
                let law = CostLaw {
                    counts: one.counts.0,
                    adds_to_basis: one.adds_to_basis.0,
                    because: one.because.0.clone(),
                    authority: one.authority(),
                };
                for class in &one.r#for {
                    if costs.insert((class.0, *nature), law.clone()).is_some() {
                        self.complain(
                            &["costs", nature.word()],
                            format!("`{}` stands twice for `{nature}`", class.0),
                        );
                    }
                }
            }
        }
        costs
    }

    fn incentives(&mut self, file: &YearFile) -> BTreeMap<(Credit, IncentiveKind), IncentiveLaw> {
        let mut incentives = BTreeMap::new();
        for (kind, entries) in &file.incentives.0 {
            for one in entries {
                self.check_clause(&["incentives", kind.word()], &one.because.0);
                let law = IncentiveLaw {
                    effect: one.effect.0,
                    because: one.because.0.clone(),
                    authority: one.authority(),
                };
                for credit in &one.r#for {
                    if incentives.insert((credit.0, *kind), law.clone()).is_some() {
                        let what = format!("`{}` stands twice for `{kind}`", credit.0);
                        self.complain(&["incentives", kind.word()], what);
                    }
                }
            }
        }
        incentives
    }

    fn rule(&mut self, name: &str, file: &RuleFile) -> RuleLaw {
        self.check_clause(&["rules", name], &file.says.0);
        RuleLaw { says: file.says.0.clone(), authority: file.authority() }
    }

    /// A clause stands inside sentences of the worksheet, so it brings no full stop of its own.
    fn check_clause(&mut self, keys: &[&str], clause: &str) {
        if clause.ends_with('.') {
            self.complain(keys, format!("the clause `{clause}` ends in a full stop; leave it out"));
        }
    }

    /// Every reference names a listed document, and every listed document is used.
    fn check_sources(&mut self, file: &YearFile) {
        let mut used = Vec::new();
        for (place, authority) in authorities(file) {
            let keys: Vec<&str> = place.iter().map(String::as_str).collect();
            if authority.source.is_empty() {
                self.complain(&keys, format!("`{}` names no source", place.join(" ")));
            }
            for reference in &authority.source {
                used.push(super::source_key(reference).to_string());
            }
        }
        used.sort();
        used.dedup();
        for key in used.iter().filter(|key| !file.sources.0.contains_key(*key)) {
            let lines = lines_with_word(self.text, key);
            let lines: Vec<String> = lines.iter().map(usize::to_string).collect();
            let first = lines.first().map_or("1", String::as_str);
            let also = if lines.len() > 1 {
                format!(" (also in line {})", lines[1..].join(", "))
            } else {
                String::new()
            };
            self.complaints.push(format!(
                "{}:{first}: the source `{key}` is not listed under `sources`{also}",
                self.name
            ));
        }
        for key in file.sources.0.keys().filter(|key| !used.contains(key)) {
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
        self.check_method(law);
        let needed = |key: &LawKey| law.improvement_method.as_ref().is_none_or(|how| key.needed_by(how));
        for credit in Credit::ALL.iter().copied().filter(|credit| law.in_force(*credit)) {
            let keys = LawKey::ALL.iter().filter(|key| key.credit().is_none_or(|of| of == credit));
            for key in keys.filter(|key| needed(key)) {
                if !law.values.contains_key(key) {
                    self.complain(&["values"], format!("`{credit}` is in force, but `{key}` is missing"));
                }
            }
            for class in Class::ALL.iter().filter(|class| class.credit() == credit) {
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
        for (kind, one) in &law.kinds {
            if one.class.credit() != one.credit || !law.in_force(one.credit) {
                let what = format!("`{kind}` has a class of another credit, or its credit is not in force");
                self.complain(&["kinds", kind.word()], what);
            }
        }
    }
}

impl Reading<'_> {
    /// A 25C credit in force says how it is figured, and looks back only to earlier years.
    fn check_method(&mut self, law: &YearLaw) {
        let Some(how) = &law.improvement_method else {
            if law.in_force(Credit::Improvement) {
                let what =
                    "`improvement` is in force, but `improvement_method` does not say how it is figured";
                self.complain(&["in_force", "improvement"], what.to_string());
            }
            return;
        };
        let looks_back = how.earlier_credits.iter().chain(&how.earlier_windows);
        for year in looks_back.filter(|year| **year >= law.year) {
            self.complain(&["improvement_method"], format!("{year} is no earlier year than {}", law.year));
        }
    }
}

impl MethodFile {
    fn law(&self) -> ImprovementMethod {
        ImprovementMethod {
            method: self.method.0,
            earlier_credits: self.earlier_credits.iter().map(|year| year.0).collect(),
            earlier_windows: self.earlier_windows.iter().map(|year| year.0).collect(),
            authority: self.authority(),
        }
    }
}

impl ValueFile {
    fn law(&self) -> LawValue {
        LawValue { amount: self.amount.0, authority: self.authority() }
    }
}

impl BeforeFile {
    fn law(&self) -> EarlierInOrder {
        EarlierInOrder {
            credits: self.credits.iter().map(|one| one.0).collect(),
            authority: self.authority(),
        }
    }
}

/// Lists every authority of a file with the keys that lead to it.
fn authorities(file: &YearFile) -> Vec<(Vec<String>, Authority)> {
    let mut all = vec![(vec!["tax_line".to_string()], file.tax_line.authority())];
    let mut add = |keys: &[&str], authority: Authority| {
        all.push((keys.iter().map(|key| key.to_string()).collect(), authority));
    };
    if let Some(rows) = &file.form_rows {
        add(&["form_rows"], rows.authority());
    }
    if let Some(method) = &file.improvement_method {
        add(&["improvement_method"], method.authority());
    }
    for (credit, one) in &file.in_force.0 {
        add(&["in_force", credit.word()], one.authority());
    }
    for (key, one) in &file.values.0 {
        add(&["values", key.word()], one.authority());
    }
    for (kind, one) in &file.kinds.0 {
        add(&["kinds", kind.word()], one.authority());
        for (fact, requirement) in &one.requires.0 {
            add(&["kinds", kind.word(), "requires", fact.word()], requirement.authority());
        }
    }
    for (nature, entries) in &file.costs.0 {
        entries.iter().for_each(|one| add(&["costs", nature.word()], one.authority()));
    }
    for (kind, entries) in &file.incentives.0 {
        entries.iter().for_each(|one| add(&["incentives", kind.word()], one.authority()));
    }
    for (credit, one) in &file.subsidized_financing_counts.0 {
        add(&["subsidized_financing_counts", credit.word()], one.authority());
    }
    for (credit, one) in &file.before.0 {
        add(&["before", credit.word()], one.authority());
    }
    for (name, one) in &file.rules.0 {
        add(&["rules", name], one.authority());
    }
    all
}

#[cfg(test)]
mod tests;
