//! The editions at hand: one file of law and one official line map for each tax year.
//!
//! Comes in: what the folders held when the program was built, and editions that are set beside it before anything is
//! read, such as a law that is not yet enacted. Goes out: the files by year, and the years they span. Reads none.

use std::ops::RangeInclusive;
use std::sync::OnceLock;

/// One file.
#[derive(Clone, Copy, Debug)]
pub struct Edition {
    /// The tax year.
    pub year: i16,
    /// Its name for complaints and in packets, such as `law/2024.yaml`.
    pub name: &'static str,
    /// What it says.
    pub text: &'static str,
}

/// A file that is set beside those built in: its tax year and what it says.
pub type Further<'a> = (i16, &'a str);

/// Every edition of both sorts, in the order of the years.
struct Editions {
    law: Vec<Edition>,
    official: Vec<Edition>,
}

/// What is built into the program: year, name, text.
type Files = &'static [(i16, &'static str, &'static str)];
const LAW: Files = include!(concat!(env!("OUT_DIR"), "/law_files.rs"));
const OFFICIAL: Files = include!(concat!(env!("OUT_DIR"), "/official_files.rs"));

static EDITIONS: OnceLock<Editions> = OnceLock::new();

fn at_hand() -> &'static Editions {
    EDITIONS.get_or_init(|| Editions { law: built_in(LAW), official: built_in(OFFICIAL) })
}

fn built_in(files: Files) -> Vec<Edition> {
    files.iter().map(|&(year, name, text)| Edition { year, name, text }).collect()
}

/// Returns the files of law.
pub fn law() -> &'static [Edition] {
    &at_hand().law
}

/// Returns the official line maps.
pub fn official() -> &'static [Edition] {
    &at_hand().official
}

/// Returns the tax years of which there is law, from the first to the last.
pub fn years() -> RangeInclusive<i16> {
    let law = law();
    law.first().map_or(0, |one| one.year)..=law.last().map_or(0, |one| one.year)
}

/// Sets editions beside those built in; one of a year that is built in takes its place. They hold for the whole program
/// from then on, because law that changed while it was read would be no law.
///
/// Fails where an edition was asked for already.
pub fn set_beside(law: &[Further<'_>], official: &[Further<'_>]) -> Result<(), &'static str> {
    let with = |files: Files, folder: &str, further: &[Further<'_>]| {
        let mut all = built_in(files);
        for (year, text) in further {
            all.retain(|one| one.year != *year);
            let name = Box::leak(format!("{folder}/{year}.yaml").into_boxed_str());
            all.push(Edition { year: *year, name, text: Box::leak(text.to_string().into_boxed_str()) });
        }
        all.sort_by_key(|one| one.year);
        all
    };
    let editions = Editions { law: with(LAW, "law", law), official: with(OFFICIAL, "official", official) };
    EDITIONS.set(editions).map_err(|_| "an edition was asked for already")
}
