//! Reads the law's files.
//!
//! Comes in: the text of one file per tax year. Goes out: the law of the years, or every complaint with file and
//! line. A file may say of a block or an entry that it stands as in another year's file; the law of a year is put
//! together from all of them and is whole. Refused are: an unknown or repeated key, a value without source, a
//! source key that no file at hand lists (or that a file lists and does not use), years that name each other in a
//! ring, and a gap in the law of a credit in force.

use super::block::{AS_IN, Block, EXCEPT, Entry};
use super::*;
use crate::editions::{self, Edition};
use crate::written::{Text, Unique, Written, line_of_key, lines_with_word, read, written_words};
use jiff::civil::Date;
use serde::Deserialize;
use std::collections::BTreeSet;

/// A file that has been read but not yet put together with those it names.
struct Parsed<'a> {
    name: &'a str,
    text: &'a str,
    file: YearFile,
}

/// The files at hand, by year.
type Shelf<'s> = &'s dyn Fn(TaxYear) -> Option<&'s Parsed<'s>>;

/// Returns the law of a year that is built into the program.
pub(super) fn built_in_year(year: TaxYear) -> YearLaw {
    let broken = |complaints: &[String]| -> ! {
        // The files are part of the program and a test reads them, so only a broken build comes here.
        panic!("the built-in law cannot be read:\n{}", complaints.join("\n"))
    };
    let Some(file) = built_in_file(year) else { broken(&[format!("no file for {year}")]) };
    let mut complaints = Vec::new();
    let law = Reading { file, shelf: &built_in_file, complaints: &mut complaints, torn: false }.year();
    if complaints.is_empty() { law } else { broken(&complaints) }
}

/// Returns a file that is built into the program, read once.
fn built_in_file(year: TaxYear) -> Option<&'static Parsed<'static>> {
    static SHELF: OnceLock<BTreeMap<TaxYear, OnceLock<Parsed<'static>>>> = OnceLock::new();
    let shelf = SHELF
        .get_or_init(|| editions::law().iter().map(|one| (TaxYear(one.year), OnceLock::new())).collect());
    let Edition { name, text, .. } = editions::law().iter().find(|one| one.year == year.0)?;
    Some(shelf.get(&year)?.get_or_init(|| match read::<YearFile>(name, text) {
        Ok(file) => Parsed { name, text, file },
        Err(complaint) => panic!("the built-in law cannot be read:\n{complaint}"),
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
pub(super) fn from_files(files: &[(&str, &str)]) -> Result<Vec<YearLaw>, Vec<String>> {
    let mut complaints = Vec::new();
    let mut parsed: BTreeMap<TaxYear, Parsed<'_>> = BTreeMap::new();
    for (name, text) in files {
        match read::<YearFile>(name, text) {
            Err(complaint) => complaints.push(complaint),
            Ok(file) => {
                let year = file.year.0;
                if parsed.insert(year, Parsed { name, text, file }).is_some() {
                    let line = line_of_key(text, &["year"]);
                    complaints.push(format!("{name}:{line}: the law of {year} stands in another file too"));
                }
            }
        }
    }
    let mut years = Vec::new();
    // A file that cannot be read would be reported once more by every file that names it.
    if complaints.is_empty() {
        let shelf = |year: TaxYear| parsed.get(&year);
        for file in parsed.values() {
            years.push(Reading { file, shelf: &shelf, complaints: &mut complaints, torn: false }.year());
        }
    }
    for pair in years.windows(2).filter(|pair| pair[0].year.after() == pair[1].year) {
        let goes_on = pair[0].credits.iter().filter(|(_, one)| one.carried_forward).map(|(credit, _)| credit);
        for credit in goes_on.filter(|credit| !pair[1].credits.contains_key(credit)) {
            let file = &parsed[&pair[1].year];
            let line = line_of_key(file.text, &["credits"]);
            let from = pair[0].year;
            complaints.push(format!(
                "{}:{line}: `{credit}` is carried forward from {from}, and `credits` does not name it",
                file.name
            ));
        }
    }
    let mut seen = BTreeSet::new();
    complaints.retain(|one| seen.insert(one.clone()));
    if complaints.is_empty() { Ok(years) } else { Err(complaints) }
}

// The shape of a file. Leaves are read from their text; `source`, `standing` and `settled` stand with every value.

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct YearFile {
    year: Text<TaxYear>,
    edition: Text<Day>,
    credits: Block<Credit, CreditFile>,
    #[serde(default)]
    methods: Block<Credit, MethodFile>,
    tax_line: TaxLineFile,
    #[serde(default)]
    both_on_one_line: Option<OneLineFile>,
    #[serde(default)]
    form_rows: Option<FormRowsFile>,
    #[serde(default)]
    values: Block<LawKey, ValueFile>,
    #[serde(default)]
    kinds: Block<Kind, KindFile>,
    #[serde(default)]
    costs: Block<CostNature, Vec<CostFile>>,
    #[serde(default)]
    incentives: Block<IncentiveKind, Vec<IncentiveFile>>,
    #[serde(default)]
    subsidized_financing_counts: Block<Credit, CountsFile>,
    before: Block<Credit, BeforeFile>,
    rules: Block<Rule, RuleFile>,
    sources: Block<String, SourceFile>,
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
    CreditFile {
        name: Text<String>,
        new_property: Text<bool>,
        #[serde(default)]
        from: Option<Text<Day>>,
        #[serde(default)]
        through: Option<Text<Day>>,
        carried_forward: Text<bool>,
    }
    MethodFile {
        steps: Vec<Text<MethodStep>>,
        #[serde(default)]
        earlier_credits: Vec<Text<TaxYear>>,
        #[serde(default)]
        earlier_windows: Vec<Text<TaxYear>>,
    }
    TaxLineFile {
        line: Text<String>,
        #[serde(default)]
        line_nr: Option<Text<String>>,
    }
    OneLineFile {}
    FormRowsFile { rows: Unique<Kind, Text<u8>> }
    ValueFile {
        amount: Text<Amount>,
        #[serde(default)]
        reaches: Vec<Text<Kind>>,
    }
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
    BeforeFile {
        credits: Vec<Text<OtherCredit>>,
        #[serde(default)]
        lines_of_their_own: Vec<Text<OtherCredit>>,
        #[serde(default)]
        child_tax_worksheet: Option<Text<String>>,
    }
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
    MethodStep,
    Effect,
    Counts,
    FactName,
    LawKey,
    Rule,
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
struct Day(Date);

impl Written for Day {
    fn from_text(text: &str) -> Result<Day, String> {
        match text.parse::<Date>() {
            Ok(day) if day.to_string() == text => Ok(Day(day)),
            _ => Err("a day is written like 2026-11-25".to_string()),
        }
    }
}

/// A value where it is written: in the year's own file, or in one that it names.
struct Layer<'s, V> {
    value: &'s V,
    file: &'s Parsed<'s>,
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
    file: &'s Parsed<'s>,
    shelf: Shelf<'s>,
    complaints: &'c mut Vec<String>,
    /// Something named in another file could not be found.
    torn: bool,
}

impl<'s> Reading<'s, '_> {
    /// Puts the law of the file's year together.
    fn year(mut self) -> YearLaw {
        let parsed = self.file;
        let file = &parsed.file;
        self.check_own();
        let mut used: Vec<(&'s Parsed<'s>, Authority)> = vec![(parsed, file.tax_line.authority())];
        used.extend(file.form_rows.iter().map(|one| (parsed, one.authority())));
        used.extend(file.both_on_one_line.iter().map(|one| (parsed, one.authority())));

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
        let classes: BTreeSet<Class> = kinds.values().map(|one| one.value.class.0).collect();
        let in_force = |one: &Layer<'_, CreditFile>| one.value.new_property.0;
        let credits: BTreeSet<Credit> =
            credits_of.iter().filter(|(_, one)| in_force(one)).map(|(credit, _)| *credit).collect();
        let mut all_costs = BTreeMap::new();
        for (nature, layers) in &costs {
            for (one, layer) in
                layers.iter().flat_map(|layer| layer.value.iter().map(move |one| (one, layer)))
            {
                for class in one.r#for.iter().map(|class| class.0).filter(|class| classes.contains(class)) {
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
                for credit in one.r#for.iter().map(|credit| credit.0).filter(|one| credits.contains(one)) {
                    let mut law = one.law();
                    law.authority = layer.authority(law.authority);
                    all_incentives.insert((credit, *kind), (law, layer.file));
                }
            }
        }

        used.extend(credits_of.values().map(|one| (one.file, one.value.authority())));
        used.extend(methods.values().map(|one| (one.file, one.value.authority())));
        used.extend(values.values().map(|one| (one.file, one.value.authority())));
        for one in kinds.values() {
            used.push((one.file, one.value.authority()));
            used.extend(one.value.requires.0.values().map(|need| (one.file, need.authority())));
        }
        used.extend(all_costs.values().map(|(law, file)| (*file, law.authority.clone())));
        used.extend(all_incentives.values().map(|(law, file)| (*file, law.authority.clone())));
        used.extend(financing.values().map(|one| (one.file, one.value.authority())));
        used.extend(before.values().map(|one| (one.file, one.value.authority())));
        used.extend(rules.values().map(|one| (one.file, one.value.authority())));
        let (sources, sources_read) = self.sources(&used);

        let law = YearLaw {
            year: file.year.0,
            edition: file.edition.0.0.to_string(),
            credits: credits_of.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            methods: methods.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            both_on_one_line: file.both_on_one_line.as_ref().map(OneLineFile::authority),
            values: values
                .iter()
                .map(|(key, one)| {
                    let authority = one.authority(one.value.authority());
                    let here = |kind: &Text<Kind>| {
                        let of = kinds.get(&kind.0).map(|law| law.value.credit.0);
                        (of.is_some() && of == key.credit()).then_some(kind.0)
                    };
                    // What another year's limit reaches and this year does not have is nothing here.
                    let reaches = one.value.reaches.iter().filter_map(here).collect();
                    (*key, LawValue { amount: one.value.amount.0, reaches, authority })
                })
                .collect(),
            kinds: kinds.iter().map(|(kind, one)| (*kind, one.value.law(one))).collect(),
            costs: all_costs.into_iter().map(|(key, (law, _))| (key, law)).collect(),
            incentives: all_incentives.into_iter().map(|(key, (law, _))| (key, law)).collect(),
            subsidized_financing_counts: financing
                .iter()
                .filter(|(credit, _)| credits.contains(credit))
                .map(|(credit, one)| (*credit, (one.value.counts.0, one.authority(one.value.authority()))))
                .collect(),
            before: before.iter().map(|(credit, one)| (*credit, one.value.law(one))).collect(),
            form_rows: file
                .form_rows
                .iter()
                .flat_map(|one| &one.rows.0)
                .map(|(kind, n)| (*kind, n.0))
                .collect(),
            tax_line: file.tax_line.line.0.clone(),
            tax_line_nr: file.tax_line.line_nr.as_ref().map(|line| line.0.clone()),
            tax_line_authority: file.tax_line.authority(),
            rules: rules
                .iter()
                .map(|(name, one)| {
                    let authority = one.authority(one.value.authority());
                    (*name, RuleLaw { says: one.value.says.0.clone(), authority })
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

    fn complain_of(&mut self, file: &Parsed<'_>, keys: &[&str], what: String) {
        let line = line_of_key(file.text, keys);
        self.complaints.push(format!("{}:{line}: {what}", file.name));
    }

    /// Returns a block's entries, each where it is written.
    fn block<K: Ord + Clone + std::fmt::Display + 's, V>(
        &mut self,
        name: &str,
        of: fn(&YearFile) -> &Block<K, V>,
    ) -> BTreeMap<K, Layer<'s, V>> {
        let layers = self.layers(self.file, name, of, &mut Vec::new());
        layers.into_iter().filter_map(|(key, layers)| Some((key, *layers.last()?))).collect()
    }

    /// Returns what a file and those it names say of a block's entries, the word that holds last. `trail` are the
    /// years gone through on the way.
    fn layers<K: Ord + Clone + std::fmt::Display + 's, V>(
        &mut self,
        file: &'s Parsed<'s>,
        name: &str,
        of: fn(&YearFile) -> &Block<K, V>,
        trail: &mut Vec<TaxYear>,
    ) -> BTreeMap<K, Vec<Layer<'s, V>>> {
        let block = of(&file.file);
        trail.push(file.file.year.0);
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
        file: &'s Parsed<'s>,
        place: &[&str],
        year: TaxYear,
        trail: &[TaxYear],
    ) -> Option<&'s Parsed<'s>> {
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
        used: &[(&'s Parsed<'s>, Authority)],
    ) -> (BTreeMap<String, String>, BTreeMap<String, HowRead>) {
        let mut listed: BTreeMap<TaxYear, BTreeMap<String, Vec<Layer<'s, SourceFile>>>> = BTreeMap::new();
        let (mut documents, mut how_read) = (BTreeMap::new(), BTreeMap::new());
        for (file, authority) in used {
            let list = listed
                .entry(file.file.year.0)
                .or_insert_with(|| self.layers(file, "sources", |file| &file.sources, &mut Vec::new()));
            for reference in &authority.source {
                let key = super::source_key(reference);
                // A key that no list has is reported where the file is checked by itself.
                let Some(one) = list.get(key).and_then(|layers| layers.last()) else { continue };
                let document = &one.value.document.0;
                let before = documents.insert(key.to_string(), document.clone());
                how_read.insert(key.to_string(), one.value.read.0);
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
            for (fact, need) in &one.requires.0 {
                let place = ["kinds", kind.word(), "requires", fact.word()];
                if !fact.fits(need.at_least.as_ref().map(|least| least.0)) {
                    let what = format!("`at_least` of `{fact}` is not the kind of number that fits it");
                    self.complain(&place, what);
                }
                self.check_clause(&place, &need.because.0);
            }
        }
        for (nature, entries) in file.costs.written() {
            let mut seen = BTreeSet::new();
            for one in entries {
                self.check_clause(&["costs", nature.word()], &one.because.0);
                for class in one.r#for.iter().filter(|class| !seen.insert(class.0)) {
                    let what = format!("`{}` stands twice for `{nature}`", class.0);
                    self.complain(&["costs", nature.word()], what);
                }
            }
        }
        for (kind, entries) in file.incentives.written() {
            let mut seen = BTreeSet::new();
            for one in entries {
                self.check_clause(&["incentives", kind.word()], &one.because.0);
                for credit in one.r#for.iter().filter(|credit| !seen.insert(credit.0)) {
                    let what = format!("`{}` stands twice for `{kind}`", credit.0);
                    self.complain(&["incentives", kind.word()], what);
                }
            }
        }
        for (name, one) in file.rules.written() {
            self.check_clause(&["rules", name.word()], &one.says.0);
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
        for (place, authority) in authorities(&self.file.file) {
            let keys: Vec<&str> = place.iter().map(String::as_str).collect();
            if authority.source.is_empty() {
                self.complain(&keys, format!("`{}` names no source", place.join(" ")));
            }
            used.extend(authority.source.iter().map(|one| super::source_key(one).to_string()));
        }
        let listed = self.layers(self.file, "sources", |file| &file.sources, &mut Vec::new());
        for key in used.iter().filter(|key| !listed.contains_key(*key)) {
            let lines = lines_with_word(self.file.text, key);
            let lines: Vec<String> = lines.iter().map(usize::to_string).collect();
            let first = lines.first().map_or("1", String::as_str);
            let also = if lines.len() > 1 {
                format!(" (also in line {})", lines[1..].join(", "))
            } else {
                String::new()
            };
            self.complaints.push(format!(
                "{}:{first}: the source `{key}` is not listed under `sources`{also}",
                self.file.name
            ));
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
        let mut years: Vec<TaxYear> = self.credits.years().collect();
        years.extend(self.methods.years());
        years.extend(self.values.years());
        years.extend(self.kinds.years());
        years.extend(self.costs.years());
        years.extend(self.incentives.years());
        years.extend(self.subsidized_financing_counts.years());
        years.extend(self.before.years());
        years.extend(self.rules.years());
        years.extend(self.sources.years());
        years
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
            name: self.name.0.clone(),
            new_property: self.new_property.0,
            from: self.from.as_ref().map(|day| day.0.0),
            through: self.through.as_ref().map(|day| day.0.0),
            carried_forward: self.carried_forward.0,
            authority: layer.authority(self.authority()),
        }
    }
}

impl MethodFile {
    fn law(&self, layer: &Layer<'_, MethodFile>) -> MethodLaw {
        MethodLaw {
            steps: self.steps.iter().map(|step| step.0).collect(),
            earlier_credits: self.earlier_credits.iter().map(|year| year.0).collect(),
            earlier_windows: self.earlier_windows.iter().map(|year| year.0).collect(),
            authority: layer.authority(self.authority()),
        }
    }
}

impl KindFile {
    fn law(&self, layer: &Layer<'_, KindFile>) -> KindLaw {
        let requires = self.requires.0.iter().map(|(fact, one)| Requirement {
            fact: *fact,
            at_least: one.at_least.as_ref().map(|least| least.0),
            because: one.because.0.clone(),
            authority: layer.authority(one.authority()),
        });
        KindLaw {
            credit: self.credit.0,
            class: self.class.0,
            group: self.group.0,
            home: self.home.0,
            existing_home_only: self.existing_home_only.0,
            maker_code: self.maker_code.0,
            requires: requires.collect(),
            authority: layer.authority(self.authority()),
        }
    }
}

impl CostFile {
    fn law(&self) -> CostLaw {
        CostLaw {
            counts: self.counts.0,
            adds_to_basis: self.adds_to_basis.0,
            because: self.because.0.clone(),
            authority: self.authority(),
        }
    }
}

impl IncentiveFile {
    fn law(&self) -> IncentiveLaw {
        IncentiveLaw { effect: self.effect.0, because: self.because.0.clone(), authority: self.authority() }
    }
}

impl BeforeFile {
    fn law(&self, layer: &Layer<'_, BeforeFile>) -> EarlierInOrder {
        EarlierInOrder {
            credits: self.credits.iter().map(|one| one.0).collect(),
            lines_of_their_own: self.lines_of_their_own.iter().map(|one| one.0).collect(),
            child_tax_worksheet: self.child_tax_worksheet.as_ref().map(|one| one.0.clone()),
            authority: layer.authority(self.authority()),
        }
    }
}

/// Lists every authority that a file itself gives, with the keys that lead to it.
fn authorities(file: &YearFile) -> Vec<(Vec<String>, Authority)> {
    let mut all = vec![(vec!["tax_line".to_string()], file.tax_line.authority())];
    let mut add = |keys: &[&str], authority: Authority| {
        all.push((keys.iter().map(|key| key.to_string()).collect(), authority));
    };
    if let Some(rows) = &file.form_rows {
        add(&["form_rows"], rows.authority());
    }
    if let Some(one) = &file.both_on_one_line {
        add(&["both_on_one_line"], one.authority());
    }
    for (credit, one) in file.credits.written() {
        add(&["credits", credit.word()], one.authority());
    }
    for (credit, one) in file.methods.written() {
        add(&["methods", credit.word()], one.authority());
    }
    for (key, one) in file.values.written() {
        add(&["values", key.word()], one.authority());
    }
    for (kind, one) in file.kinds.written() {
        add(&["kinds", kind.word()], one.authority());
        for (fact, requirement) in &one.requires.0 {
            add(&["kinds", kind.word(), "requires", fact.word()], requirement.authority());
        }
    }
    for (nature, entries) in file.costs.written() {
        entries.iter().for_each(|one| add(&["costs", nature.word()], one.authority()));
    }
    for (kind, entries) in file.incentives.written() {
        entries.iter().for_each(|one| add(&["incentives", kind.word()], one.authority()));
    }
    for (credit, one) in file.subsidized_financing_counts.written() {
        add(&["subsidized_financing_counts", credit.word()], one.authority());
    }
    for (credit, one) in file.before.written() {
        add(&["before", credit.word()], one.authority());
    }
    for (name, one) in file.rules.written() {
        add(&["rules", name.word()], one.authority());
    }
    all
}

#[cfg(test)]
mod tests;
