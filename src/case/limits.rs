//! How much one case may hold. Every limit lies far above an honest household and keeps the work on a file within a
//! second and some hundred megabytes; what passes one is refused with its place.

use super::Case;
use crate::finding::{Finding, Span};

/// The largest file read, in bytes. A household's case has a few thousand.
pub const MAX_BYTES: usize = 1_000_000;
/// How deep lists and maps may lie in each other; the format itself needs seven.
pub const MAX_DEPTH: usize = 16;
/// How many keys, values and entries one file may have.
pub const MAX_NODES: usize = 50_000;
/// How many characters one text may have.
pub const MAX_TEXT: usize = 4_000;
/// How many people a case may speak of before it is read no further; a return has two at most.
pub const MAX_PEOPLE: usize = 10;
/// How many homes a case may have.
pub const MAX_HOMES: usize = 200;
/// How many items of property a case may have.
pub const MAX_ITEMS: usize = 500;
/// How many costs, incentives and parts of shared ones a case may have: the rows of its worksheet.
pub const MAX_ROWS: usize = 1_500;
/// How many papers a case may list, and how many answers it may give.
pub const MAX_PAPERS: usize = 2_000;

/// Complains of everything of which a case has more than any household.
pub(super) fn passed(case: &Case) -> Vec<Finding> {
    let shared: usize = case.shared.iter().map(|one| one.over.len()).sum();
    let rows: usize = case.property.iter().map(|item| item.costs.len() + item.incentives.len()).sum();
    let counted = [
        (case.client.people.len(), MAX_PEOPLE, "people", case.client.reference.span),
        (case.homes.len(), MAX_HOMES, "homes", case.homes.last().map_or(case.whole, |one| one.key.span)),
        (case.property.len(), MAX_ITEMS, "items of property", last_item(case)),
        (rows + shared, MAX_ROWS, "costs, incentives and parts of shared ones", last_item(case)),
        (
            case.evidence.len(),
            MAX_PAPERS,
            "papers",
            case.evidence.last().map_or(case.whole, |one| one.key.span),
        ),
        (
            case.answers.len(),
            MAX_PAPERS,
            "answers",
            case.answers.last().map_or(case.whole, |one| one.question.span),
        ),
    ];
    let too_many = counted.into_iter().filter(|(count, most, ..)| count > most);
    let complain = |(count, most, what, at): (usize, usize, &str, Span)| {
        Finding::error(
            "too-many-entries",
            format!("the case has {count} {what}; more than {most} are not computed"),
        )
        .at(at)
        .help("one file holds the case of one household; where it really has so many, add up what is alike")
    };
    too_many.map(complain).collect()
}

fn last_item(case: &Case) -> Span {
    case.property.last().map_or(case.whole, |one| one.key.span)
}
