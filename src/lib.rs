//! Gablework assembles, from one YAML case per household, the packet for the two federal residential energy
//! credits: a filled worksheet, the client's letters, and the archive folder.
//!
//! The data goes one way: case -> law -> credit -> sheet and letter -> document -> page -> packet.

#![forbid(unsafe_code)]
// A plain print ends the program where it fails; `cli::streams` is the one place that prints.
#![cfg_attr(not(test), deny(clippy::print_stdout, clippy::print_stderr))]

pub mod assemble;
pub mod begin;
pub mod case;
mod characters;
pub mod cli;
mod columns;
mod contract;
pub mod credit;
mod csv;
mod deflate;
pub mod document;
pub mod docx;
pub mod editions;
pub mod finding;
pub mod folder;
mod held;
pub mod html;
pub mod intake;
mod json;
pub mod law;
pub mod letter;
pub mod many;
pub mod money;
pub mod name;
pub mod packet;
pub mod page;
pub mod picture;
pub mod record;
mod redact;
pub mod register;
#[cfg(test)]
#[path = "../tests/support/scratch.rs"]
mod scratch;
pub mod sheet;
mod shelf;
mod suppose;
pub mod verify;
mod wording;
pub mod workbook;
mod wrap;
pub mod xlsx;
mod xml;
