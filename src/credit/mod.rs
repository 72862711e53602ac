//! From facts and law to numbered lines.
//!
//! Comes in: a case and the law. Goes out: the figures of every year that can be computed, chained, and all that
//! was found on the way. A line is an expression and expressions are data: the plan writes them, `evaluate`
//! is the only arithmetic, and everything later reads them.
//!
//! The rooms, each of which uses only those before it: `codes` (what can be found), `evaluate` (lines, expressions,
//! arithmetic), `plan` (which lines a year has), `outcome` (what all of it comes to), `papers` (what proves an item, and
//! for how long), `returns` (where each return stands, and what that makes of the figures), `chain` (year by year),
//! `explain` (figures for people) and `review` (what is asked and told once the figures stand).

mod chain;
pub mod codes;
pub mod evaluate;
mod explain;
mod outcome;
pub mod papers;
mod plan;
mod returns;
mod review;

pub use evaluate::{CaseRef, Expr, Line, LineKind, Place, Ruling, Subject, Value};
pub use evaluate::{Fault, Figure, Figures, Step, Used};
pub use evaluate::{credits, expression, line};
pub use explain::{facts, why};
pub use outcome::Outcome;
pub use plan::{brought_in, qualify};
pub use returns::{amend, as_filed, planning, season, stage, unclaimed, window};
pub use review::{other_years, weight};

use crate::case::Case;
use crate::law::Law;

/// Computes every year of a case that has a return or property, chained from year to year, and reviews what came of it.
///
/// Fails only through a mistake of the program: a plan that asks for what is not there.
pub fn compute(case: &Case, law: &Law) -> Result<Outcome, Fault> {
    let mut chain = chain::reckon(case, law)?;
    chain.years_to_come()?;
    Ok(review::review(case, law, chain))
}

/// A small household for the tests of this module.
#[cfg(test)]
pub(crate) mod sample {
    use super::{Outcome, compute};
    use crate::case::Case;
    use crate::law::Law;

    /// Reads and computes a case of one person with one home, `h`; `rest` is what follows `homes`.
    pub(crate) fn household(rest: &str) -> (Case, Outcome) {
        let text = format!(
            "format: 1\nclient:\n  reference: HH-1\n  people: [{{name: A Person}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 1 A St, city: X, state: VT, zip: 05099}}\n    use: main_home\n    held_as: owner\n{rest}"
        );
        let mut sources = crate::finding::Sources::default();
        let (case, findings) = crate::case::read("x.case.yaml", text.as_bytes(), &mut sources);
        let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
        let case = case.unwrap_or_else(|| panic!("{}", told.join("\n")));
        let outcome = compute(&case, Law::built_in()).unwrap();
        (case, outcome)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::{Path, PathBuf};

    /// The rooms in their order, as this file's border names them.
    const ROOMS: [&str; 9] =
        ["codes", "evaluate", "plan", "outcome", "papers", "returns", "chain", "explain", "review"];

    fn files(of: &Path, found: &mut Vec<PathBuf>) {
        match fs::read_dir(of) {
            Ok(entries) => entries.for_each(|entry| files(&entry.expect("an entry").path(), found)),
            Err(_) => found.push(of.to_path_buf()),
        }
    }

    /// A reader follows a case through the rooms without turning back.
    #[test]
    fn a_room_uses_only_those_before_it() {
        let credit = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/credit");
        for (at, room) in ROOMS.iter().enumerate() {
            let mut own = Vec::new();
            for place in [credit.join(room), credit.join(format!("{room}.rs"))] {
                if place.exists() {
                    files(&place, &mut own);
                }
            }
            assert!(!own.is_empty(), "{room} has no file");
            for file in own {
                let text = fs::read_to_string(&file).expect("a source file");
                let code = text.split("#[cfg(test)]").next().unwrap_or_default();
                let used = code.split("crate::credit::").skip(1);
                let used = used
                    .map(|rest| rest.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap_or(""));
                // The room in which it is defined is named, not the short name that others may use.
                let allowed = |name: &str| ROOMS[..=at].contains(&name) || name.is_empty();
                let wrong: Vec<&str> = used.filter(|name| !allowed(name)).collect();
                assert!(wrong.is_empty(), "{} uses {wrong:?}", file.display());
            }
        }
    }
}
