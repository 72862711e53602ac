//! What somebody asks about who does not know our line numbers: an official line, an amount, a paper.
//!
//! Comes in: the figures of a case and the words of the question. Goes out: the figures that are meant, or what stands
//! near. Computes nothing.

use super::official::{Entry, OfficialBlock, OfficialLine, OfficialMap, OfficialRef};
use crate::case::{Case, ReturnForm, TaxYear};
use crate::credit::line::{Line, Place, Subject};
use crate::credit::{Figure, Figures, Outcome, Used, Value};
use crate::money::Money;
use crate::record::suggest;
use serde::Serialize;
use std::collections::HashSet;

/// How many lines or forms are named where the one asked for is not there.
const MOST_NAMED: usize = 12;
/// What four digits must be to be a tax year and not the number of a form, such as 1040.
const FORM_YEARS: std::ops::Range<i16> = 1_978..2_200;

/// A line of an official form as somebody names it: `2024 Form 5695 line 16`, `Schedule 3 line 5a`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfficialQuestion {
    /// The tax year, where it is named.
    pub year: Option<TaxYear>,
    /// The words that name the form, in small letters; where no number of a line follows, all words.
    form: Vec<String>,
    /// The line as printed; none where it has words instead of a number.
    line: Option<String>,
}

/// Why an official line leads to no figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoLine {
    /// There is no map of the official lines of the year.
    NoMap,
    /// No form of the year is called so; the forms there are.
    NoForm(Vec<String>),
    /// The form has no such line that a line of ours stands on; the lines it has.
    NoLine(String, Vec<String>),
    /// The line is known, and the case has nothing for it.
    Nothing(String),
}

impl OfficialQuestion {
    /// Reads the name of an official line; none where the words name none.
    pub fn read(text: &str) -> Option<OfficialQuestion> {
        let lower = text.to_lowercase();
        // "... Worksheet - Line 14 line 1": the last word `line` stands before the line itself.
        let (form, line) = match lower.rsplit_once("line ").map(|(form, line)| (form, bare(line))) {
            Some((form, line)) if line.starts_with(|c: char| c.is_ascii_digit()) => (form, Some(line)),
            _ => (lower.as_str(), None),
        };
        let year =
            words(form).iter().find(|word| is_year(word)).and_then(|word| word.parse().ok()).map(TaxYear);
        let words = without_year(form);
        let names_form = words.iter().any(|word| ["form", "schedule", "worksheet"].contains(&word.as_str()));
        (line.is_some() && !words.is_empty() || names_form).then_some(OfficialQuestion {
            year,
            form: words,
            line,
        })
    }

    /// Finds the figures of a year that stand on the line, with where they stand.
    pub fn find<'a>(
        &self,
        year: TaxYear,
        map: Option<&OfficialMap>,
        outcome: &'a Outcome,
    ) -> Result<Vec<(&'a Figure, OfficialRef)>, NoLine> {
        let map = map.ok_or(NoLine::NoMap)?;
        let filed_with = outcome.form(year);
        let used: Vec<&OfficialBlock> =
            map.blocks.iter().filter(|block| block.filed_with.contains(&filed_with)).collect();
        let meant: Vec<&OfficialBlock> =
            used.iter().filter(|block| self.is_of(&block.form)).copied().collect();
        if meant.is_empty() {
            return Err(NoLine::NoForm(once(used.iter().map(|block| block.form.clone()))));
        }
        let lines = || meant.iter().flat_map(|block| &block.lines);
        let mut wanted: Vec<_> = lines().filter(|one| self.is_on(&one.place)).collect();
        // `carryforward` as printed is meant before `carryforward to 2027`.
        let named = |one: &&OfficialLine| without_year(&one.place.to_string()) == self.form;
        if self.line.is_none() && wanted.iter().any(named) {
            wanted.retain(named);
        }
        let Some(first) = wanted.first() else {
            let near = self.near(lines().map(|one| one.place.line.as_str()));
            return Err(NoLine::NoLine(meant[0].form.clone(), near));
        };
        let mut found = Vec::new();
        for one in &wanted {
            let stands = |figure: &&Figure| {
                let of = figure.place.of == one.of()
                    || one.of() == Subject::Return && matches!(figure.place.of, Subject::Home(_));
                figure.place.year == year && figure.place.line == Line(one.ours) && of
            };
            found.extend(
                outcome.figures.all().iter().filter(stands).map(|figure| (figure, one.place.clone())),
            );
        }
        if found.is_empty() { Err(NoLine::Nothing(first.place.to_string())) } else { Ok(found) }
    }

    /// Says whether a form is meant: all words that name one stand in its name in this order; where the line has words
    /// as well, the name stands among them.
    fn is_of(&self, form: &str) -> bool {
        let name = without_year(form);
        match self.line {
            Some(_) => follow(&self.form, &name),
            None => follow(&name, &self.form),
        }
    }

    fn is_on(&self, place: &OfficialRef) -> bool {
        match &self.line {
            Some(line) => bare(&place.line) == *line,
            // Such as `carryforward (line not yet confirmed)`, before the form has been printed.
            None => {
                let named = without_year(&place.to_string());
                let of_form = without_year(&place.form).len();
                self.form.len() > of_form && follow(&self.form, &named)
            }
        }
    }

    /// Returns lines of a form that are near the one asked for: of its number first, then those around.
    fn near<'l>(&self, lines: impl Iterator<Item = &'l str>) -> Vec<String> {
        let number = |line: &str| -> Option<i32> {
            line.chars().take_while(char::is_ascii_digit).collect::<String>().parse().ok()
        };
        let asked = self.line.as_deref().and_then(number).unwrap_or(0);
        let all = once(lines.map(str::to_string));
        let mut near: Vec<(i32, usize)> = all
            .iter()
            .enumerate()
            .map(|(n, line)| (number(line).map_or(i32::MAX, |number| (number - asked).abs()), n))
            .collect();
        near.sort_unstable();
        let mut chosen: Vec<usize> = near.into_iter().map(|(_, n)| n).take(MOST_NAMED).collect();
        chosen.sort_unstable();
        chosen.into_iter().map(|n| all[n].clone()).collect()
    }
}

/// A figure that was asked about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FoundLine {
    /// Where it stands.
    pub place: String,
    /// What it is called.
    pub label: String,
    /// Its value.
    pub value: String,
    /// Where it stands on the official forms of its year.
    pub official: Vec<String>,
}

impl FoundLine {
    /// Says where a figure stands.
    pub fn of(figure: &Figure, outcome: &Outcome, map: Option<&OfficialMap>) -> FoundLine {
        let form: ReturnForm = outcome.form(figure.place.year);
        let about = figure.about.as_ref().map(|about| format!(": {about}")).unwrap_or_default();
        let references = map.map(|map| map.references(figure.place.line.0, &figure.place.of, form));
        let official = references.unwrap_or_default().into_iter().filter(|one| one.entry != Entry::Cost);
        FoundLine {
            place: figure.place.to_string(),
            label: format!("{}{about}", figure.label),
            value: figure.value.shown(),
            official: once(official.map(|one| one.to_string())),
        }
    }
}

/// Returns the figures that show an amount.
pub fn of_amount(figures: &Figures, amount: Money) -> Vec<&Figure> {
    figures.all().iter().filter(|figure| figure.value == Value::Money(amount)).collect()
}

/// The figures that rest on a paper.
#[derive(Debug, Default)]
pub struct OnPaper<'a> {
    /// Those that take a fact from it.
    pub directly: Vec<&'a Figure>,
    /// Those made of them, in the order of the figures.
    pub after: Vec<&'a Figure>,
}

/// Returns all that rests on a paper of a case; an error with the papers of nearly that key where it lists none.
pub fn of_paper<'a>(case: &Case, figures: &'a Figures, key: &str) -> Result<OnPaper<'a>, String> {
    let keys: Vec<&str> = case.evidence.iter().map(|paper| paper.key.value.as_str()).collect();
    if !keys.contains(&key) {
        return Err(match keys.is_empty() {
            true => "the case lists no papers under `evidence`".to_string(),
            false => suggest(key, &keys),
        });
    }
    let shows = |used: &Used| match used {
        Used::Fact(fact) => fact.evidence.as_ref().is_some_and(|one| one.as_str() == key),
        _ => false,
    };
    let mut found = OnPaper::default();
    // Figures stand in the order in which they were made, so what one uses has been seen.
    let mut resting: HashSet<&Place> = HashSet::new();
    for figure in figures.all() {
        let directly = figure.used.iter().any(shows);
        let after =
            figure.used.iter().any(|used| matches!(used, Used::Figure(place, _) if resting.contains(place)));
        if directly || after {
            resting.insert(&figure.place);
            if directly { found.directly.push(figure) } else { found.after.push(figure) }
        }
    }
    Ok(found)
}

/// Says whether words stand in others in their order.
fn follow(words: &[String], others: &[String]) -> bool {
    let mut rest = others.iter();
    words.iter().all(|word| rest.any(|one| one == word))
}

fn without_year(text: &str) -> Vec<String> {
    words(text).into_iter().filter(|word| !is_year(word)).collect()
}

fn is_year(word: &str) -> bool {
    word.parse().is_ok_and(|year: i16| FORM_YEARS.contains(&year))
}

fn words(text: &str) -> Vec<String> {
    let parts = text.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty());
    parts.map(str::to_lowercase).filter(|part| part != "the" && part != "of").collect()
}

fn bare(line: &str) -> String {
    line.to_lowercase().chars().filter(|c| !c.is_whitespace()).collect()
}

/// Leaves out what stands there already.
fn once(all: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen = HashSet::new();
    all.filter(|one| seen.insert(one.clone())).collect()
}
