//! The official lines of a year as test data, and the check of a household's figures against them.
//!
//! Comes in: `tests/official-lines/YEAR.yaml`, and figures asked for by official place. Goes out: every line
//! that departs from the official computation. The comparison knows nothing of the program's own lines or law; only
//! [`figure_of`] asks a household for a figure by its official place.

use super::arithmetic::{Asked, Expression};
use super::household::Household;
use gablework::case::TaxYear;
use gablework::credit::{Line, Place, line};
use gablework::money::Money;
use gablework::sheet::official::{Entry, OfficialLine as Mapped, map};
use rust_decimal::Decimal;
use serde::Deserialize;

/// The official lines of one year.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfficialYear {
    /// The tax year.
    pub year: i16,
    /// Stretches of forms; one form may have several.
    pub forms: Vec<OfficialForm>,
}

/// A stretch of one form.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfficialForm {
    /// The form's name.
    pub form: String,
    /// The forms of return it is for; empty for all.
    #[serde(default)]
    pub filed_with: Vec<String>,
    /// How it was known: printed, draft or memory.
    pub read: String,
    /// The document.
    pub source: String,
    /// Its lines, in order.
    pub lines: Vec<OfficialLine>,
}

/// One line.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfficialLine {
    /// As printed.
    pub line: String,
    /// What it asks for, in our words.
    pub says: String,
    /// What it means in every year.
    pub concept: String,
    /// What stands on it.
    pub entries: Vec<String>,
    /// How it was known, where otherwise than its form.
    #[serde(default)]
    pub read: Option<String>,
    /// The document, where another than its form's.
    #[serde(default)]
    pub source: Option<String>,
    /// Its rows, where it has some.
    #[serde(default)]
    pub rows: Option<Rows>,
    /// Its computation from lines of the same form.
    #[serde(default)]
    pub computation: Option<String>,
    /// The line it is copied from; of `A or B` the last that is filled in.
    #[serde(default)]
    pub brought_from: Option<String>,
    /// The lines it gathers; of `A or B` the last that is filled in.
    #[serde(default)]
    pub sum_of: Vec<String>,
    /// Why no line of ours stands there.
    #[serde(default)]
    pub not_ours: Option<String>,
}

/// The rows (i), (ii) and so on of a line.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rows {
    /// How many.
    pub count: usize,
    /// What stands on each.
    pub entries: Vec<String>,
}

/// Returns the tax years whose official lines are known: each has a file.
pub fn years() -> Vec<i16> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/official-lines");
    let files = std::fs::read_dir(folder).expect("the folder of official lines");
    let mut years: Vec<i16> = files
        .map(|file| {
            let name = file.expect("a file").file_name().into_string().expect("a plain name");
            let year = name.strip_suffix(".yaml").and_then(|year| year.parse().ok());
            year.unwrap_or_else(|| panic!("{folder}/{name} is no file of a year"))
        })
        .collect();
    years.sort_unstable();
    assert!(years.windows(2).all(|pair| pair[0] + 1 == pair[1]), "a year is missing among {years:?}");
    years
}

/// The names of rows.
pub const ROWS: [&str; 4] = ["(i)", "(ii)", "(iii)", "(iv)"];

/// An official place whose figure is asked for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OfficialPlace {
    /// The tax year; the year before for what is carried in.
    pub year: i16,
    /// The form's name, such as `Form 5695`.
    pub form: String,
    /// The line, such as `6b` or `19d(ii)`; `10 kW` is the capacity written on line 10, as a number of dollars,
    /// `22a cost` the cost behind line 22a.
    pub line: String,
}

impl OfficialPlace {
    /// Names a place.
    pub fn new(year: i16, form: &str, line: &str) -> OfficialPlace {
        OfficialPlace { year, form: form.to_string(), line: line.to_string() }
    }

    /// Reads a place such as `Form 5695 line 32` or `2023 Form 5695 line 16`, the year being given otherwise.
    pub fn read(text: &str, year: i16) -> Result<OfficialPlace, String> {
        let (form, line) = text.rsplit_once(" line ").ok_or_else(|| format!("`{text}` names no line"))?;
        let other = form.split_once(' ').and_then(|(first, rest)| Some((first.parse().ok()?, rest)));
        match other {
            Some((year, form)) => Ok(OfficialPlace::new(year, form, line)),
            None => Ok(OfficialPlace::new(year, form, line)),
        }
    }
}

impl std::fmt::Display for OfficialPlace {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {} line {}", self.year, self.form, self.line)
    }
}

impl OfficialForm {
    /// Says whether the form belongs to a form of return, such as `1040`.
    pub fn is_for(&self, filed_with: &str) -> bool {
        self.filed_with.is_empty() || self.filed_with.iter().any(|one| one == filed_with)
    }
}

/// Returns the official lines of a year.
pub fn official_year(year: i16) -> OfficialYear {
    let path = format!("{}/tests/official-lines/{year}.yaml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let read: OfficialYear = serde_yaml::from_str(&text).unwrap_or_else(|error| panic!("{path}: {error}"));
    assert_eq!(read.year, year, "{path} is of another year");
    read
}

/// Returns what a household has on an official place, by the official line maps; none where the line is blank, or does
/// not exist on the form of that year's return.
///
/// The lines of returns before the first year of the case are what the case says of them: earlier credits, and a
/// balance brought in.
pub fn figure_of(household: &Household, place: &OfficialPlace) -> Option<Money> {
    let year = TaxYear(place.year);
    let (line, entry) = match place.line.split_once(' ') {
        Some((line, "kW")) => (line, Entry::Text),
        Some((line, "cost")) => (line, Entry::Cost),
        _ => (place.line.as_str(), Entry::Amount),
    };
    let form = household.outcome.form(year);
    let blocks = map(year)?.blocks.iter().filter(|block| block.filed_with.contains(&form));
    let stands =
        |one: &&Mapped| one.place.form == place.form && one.place.line == line && one.place.entry == entry;
    let ours: Vec<&Mapped> = blocks.flat_map(|block| &block.lines).filter(stands).collect();
    let figure = |one: &&Mapped| {
        let figures = &household.outcome.figures;
        if !household.outcome.years.contains(&year) {
            return said_of(household, year, one.ours);
        }
        let place = Place { year, line: Line(one.ours), of: one.of() };
        figures.get(&place)?.value.number().map(Money::exact)
    };
    // The parts of a line are added where none of our lines is the whole of it.
    match ours.iter().find(|one| !one.place.within || entry == Entry::Text) {
        Some(whole) => figure(whole),
        None => ours.iter().filter(|one| !BOTH.contains(&one.ours)).filter_map(figure).reduce(|a, b| a + b),
    }
}

/// The sum of both credits on the return, which stands beside its two parts.
const BOTH: [u16; 1] = [904];

/// Returns what a case says of a return before its first year, on one of our lines.
fn said_of(household: &Household, year: TaxYear, ours: u16) -> Option<Money> {
    let case = &household.case;
    let earlier = case.earlier_credits.iter().find(|one| one.year.value == year);
    match Line(ours) {
        line::IMPROVEMENT_ALLOWED => earlier?.nonbusiness_energy_credit.as_ref().map(|amount| amount.value),
        line::WINDOW_COST | line::WINDOW_COUNTED => earlier?.window_cost.as_ref().map(|amount| amount.value),
        line::CARRIED_OUT => case.carried_in(year.after()).map(|given| given.amount.value.to_whole_dollars()),
        _ => None,
    }
}

/// Compares every line that the papers of a form of return compute, copy or gather with that computation over the other
/// lines.
///
/// `figure` gives what stands on an official place, in whole dollars; a blank line is nothing. Returns how many
/// lines with an amount were compared, or every departure. Lines of joint occupants depart from the form's own
/// arithmetic by law (26 U.S.C. 25D(e)(4)), so such a household is not for this check; nor is one that keeps cents.
pub fn check_official(
    year: i16,
    filed_with: &str,
    figure: impl Fn(&OfficialPlace) -> Option<Money>,
) -> Result<usize, Vec<String>> {
    let mut compared = 0;
    let mut departures = Vec::new();
    for form in official_year(year).forms.iter().filter(|form| form.is_for(filed_with)) {
        for line in &form.lines {
            let place = OfficialPlace::new(year, &form.form, &line.line);
            let Some((expected, how)) = line.expected(&place, &figure) else {
                continue;
            };
            match figure(&place) {
                Some(found) => {
                    compared += 1;
                    if found != expected {
                        departures.push(format!("{place}: {found}, but {how} gives {expected}"));
                    }
                }
                // A limit that is printed on the form stands there whether or not the form asks for it.
                None if expected.is_zero() || line.is_printed() => {}
                None => departures.push(format!("{place}: blank, but {how} gives {expected}")),
            }
        }
    }
    if departures.is_empty() { Ok(compared) } else { Err(departures) }
}

impl OfficialLine {
    /// Says whether its amount is printed on the form.
    fn is_printed(&self) -> bool {
        let read = self.computation.as_ref().and_then(|text| Expression::read(text).ok());
        read.is_some_and(|expression| expression.is_printed())
    }

    /// Returns what the other lines make of this one, in whole dollars, and how; none for a line that starts a sum.
    fn expected(
        &self,
        place: &OfficialPlace,
        figure: &dyn Fn(&OfficialPlace) -> Option<Money>,
    ) -> Option<(Money, String)> {
        let at = |text: &str| {
            let one = |text| OfficialPlace::read(text, place.year).unwrap_or_else(|told| panic!("{told}"));
            text.rsplit(" or ").find_map(|text| figure(&one(text))).unwrap_or_default()
        };
        if let Some(computation) = &self.computation {
            let expression = Expression::read(computation).unwrap_or_else(|told| panic!("{place}: {told}"));
            let value = expression.value(&|asked| {
                let line = match asked {
                    Asked::Line(line) => line.to_string(),
                    Asked::Row(row) => format!("{}{row}", place.line),
                    Asked::Kilowatts => format!("{} kW", place.line),
                    Asked::Cost => format!("{} cost", place.line),
                };
                let found = figure(&OfficialPlace { line, ..place.clone() });
                found.map_or(Decimal::ZERO, Money::decimal)
            });
            Some((Money::exact(value).to_whole_dollars(), computation.clone()))
        } else if let Some(from) = &self.brought_from {
            Some((at(from), from.clone()))
        } else if !self.sum_of.is_empty() {
            Some((self.sum_of.iter().map(|text| at(text)).sum(), self.sum_of.join(" + ")))
        } else {
            None
        }
    }
}
