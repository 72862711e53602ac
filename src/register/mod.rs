//! Many cases at once: which files are cases, working through them in parallel, and what they come to together.
//!
//! Comes in: a folder, and the cases below it. Goes out: the result of each case, in the order of the file names; of
//! all cases together the register as table, data and paper. Knows no clock and no terminal.

pub mod data;
pub mod desk;
pub mod packets;
pub mod remind;
pub mod row;
pub mod rows;
pub mod spreadsheet;
pub mod table;
mod words;
