//! The list of a season's letters, in the form of postal addresses.
//!
//! Comes in: letters with their place in the lots. Goes out: rows of comma-separated values. Without amounts a row
//! holds what printing and posting need, and nothing that a return says: whoever is handed the list sees no more than
//! the envelopes show (26 CFR 301.7216-2(n) allows a list of names and addresses only). Balance, the years it comes
//! from and the last return are added where the firm asks for them.

use super::Season;
use super::reminder::Reminder;
use crate::credit::season::{Entering, Origin};
use crate::csv;
use crate::letter::post::Postal;

/// The columns of the list.
const COLUMNS: [&str; 15] = [
    "lot",
    "position",
    "pages",
    "client_ref",
    "language",
    "name_line_1",
    "name_line_2",
    "street_line",
    "city",
    "state",
    "zip5",
    "zip4",
    "last_line",
    "letter_kind",
    "letter_date",
];

/// The columns that hold what returns say.
const OF_RETURNS: [&str; 4] = ["balance", "balance_is", "origin_years", "last_return"];

/// Returns the heading.
pub fn heading(with_amounts: bool) -> String {
    let of_returns = OF_RETURNS.into_iter().filter(|_| with_amounts);
    csv::row(COLUMNS.into_iter().chain(of_returns))
}

/// Returns the row of a letter at a place: lot and position, each from 1.
pub fn row(
    (lot, position): (usize, usize),
    reminder: &Reminder,
    postal: &Postal,
    season: &Season<'_>,
    with_amounts: bool,
) -> String {
    let Postal { zip5, zip4, street, names, city, state } = postal;
    let name = |at: usize| names.get(at).cloned().unwrap_or_default();
    let mut cells = vec![
        lot.to_string(),
        position.to_string(),
        reminder.pages.frames.len().to_string(),
        reminder.reference.to_string(),
        reminder.language.word().to_string(),
        name(0),
        // A third name stands on a line of its own in the window, and on one with the second here.
        names.get(1..).unwrap_or(&[]).join(" AND "),
        street.clone(),
        city.clone(),
        state.clone(),
        zip5.clone(),
        zip4.clone(),
        // A spreadsheet that makes a number of the ZIP leaves this one whole.
        postal.last_line(),
        crate::letter::REMINDER.to_string(),
        season.dated.to_string(),
    ];
    if with_amounts {
        cells.extend(of_returns(&reminder.entering));
    }
    csv::row(cells)
}

fn of_returns(entering: &Entering) -> [String; 4] {
    let origin = |one: &Origin| match one.brought_in {
        true => format!("{} or before", one.year),
        false => one.year.to_string(),
    };
    let origins: Vec<String> = entering.origins.iter().map(origin).collect();
    let standing = if entering.expected { "expected" } else { "known" };
    [
        entering.amount.plain(),
        standing.to_string(),
        origins.join(" and "),
        entering.last_return.map_or_else(String::new, |year| year.to_string()),
    ]
}

/// The columns of the list of letters for the portal.
const OF_PORTAL: [&str; 5] = ["client_ref", "file", "pages", "language", "letter_date"];

/// Returns the heading of the list of letters for the portal.
pub fn portal_heading(with_amounts: bool) -> String {
    let of_returns = OF_RETURNS.into_iter().filter(|_| with_amounts);
    csv::row(OF_PORTAL.into_iter().chain(of_returns))
}

/// Returns the row of a letter for the portal, which lies in a file.
pub fn portal_row(file: &str, reminder: &Reminder, season: &Season<'_>, with_amounts: bool) -> String {
    let mut cells = vec![
        reminder.reference.to_string(),
        file.to_string(),
        reminder.pages.frames.len().to_string(),
        reminder.language.word().to_string(),
        season.dated.to_string(),
    ];
    if with_amounts {
        cells.extend(of_returns(&reminder.entering));
    }
    csv::row(cells)
}
