//! All tests that use the program from outside, as one binary, so that they are built once.

/// Questions about what counts, and the answers that quiet them.
mod asking;
/// `packet` over a folder: in order, each case for itself, and only what is not there yet.
mod batches;
/// `begin`, by conversation.
mod begin;
/// What holds for every case that `begin` makes.
mod begun;
/// Long chains of years.
mod chains;
/// What becomes of characters of every kind.
mod characters;
/// The demo households come to what their comments say.
mod demo;
/// README, the contributor's guide and `.ci/run` say what is so.
mod docs;
/// Chains of the home improvement credit from 2006 on: what holds for every household.
mod earlier_years;
/// How commands end: nothing cut off in silence, and no failure without a reason.
mod ends;
/// The engine, rule by rule.
mod engine;
/// Households from 2006 to 2026 against the official form of every year.
mod every_form;
/// Every row of the README's table of exit codes, run.
mod exit_codes;
/// Every finding has a bad case and words for people.
mod findings;
/// What the fuzzer tries, in a few seconds.
mod fuzzed;
/// The cases made for timing.
mod generated;
/// Good but unusual cases raise no false alarm.
mod good;
/// Packets that somebody made to stall `verify`, or to pass.
mod hostile;
/// `intake`: a table of clients, from a spreadsheet, taken into cases.
mod intake;
/// Killed, stopped, out of room: nothing half-written, and a second run completes.
mod interrupted;
/// A module uses only those above it in the code map.
mod layers;
/// Other people's code: licenses, sources, and the bill of materials.
mod licenses;
/// The log of `verify`.
mod logs;
/// Names of files and folders: nothing leads out.
mod names;
/// A law that is not there yet, given as data.
mod next_law;
/// Published worked examples, one file each.
mod official;
/// Every amount line of the official forms is met, and its arithmetic holds.
mod official_lines;
/// Packets stand whole or not at all, and the same inputs give the same bytes.
mod packets;
/// Other people's programs judge the finished files.
mod paper;
/// Places that are named for what a command writes.
mod places;
/// What holds for every household.
mod properties;
/// Reading case files, good and bad.
mod reading;
/// The figures of packets, computed again by another program from nothing but `figures.json`.
mod recomputed;
/// The register of many cases, worked by hand.
mod registers;
/// A season's reminders: letters, lots, lists, and who was left out.
mod reminders;
/// The same inputs make the same bytes, whoever makes a packet, where and when.
mod same_bytes;
/// The schemas say the same as the reader.
mod schema;
/// Questions on a terminal: keys, lists, and what stays on the screen.
mod screen;
/// Sealed packets, and whether anybody altered them.
mod sealed;
/// Whatever can be sealed verifies: every case of the tree, every year, and made-up households.
mod sealing;
/// What stays private.
mod secrets;
/// Cases larger than any household's.
mod sizes;
/// The slip and the names beside a packet.
mod slips;
mod sought;
/// The worksheet as a spreadsheet, computed by other people's programs.
mod spreadsheets;
/// Every letter at every stage of a return.
mod stages;
/// What several of them share.
mod support;
/// What if: assumptions about years to come.
mod supposing;
/// What a terminal shows: as wide as it is, and nothing twice.
mod terminal;
/// The trade's mistakes and the law's open points, and what answers each.
mod trade;
/// The home improvement credit of 2006 to 2022, worked by hand.
mod until_2022;
/// What is typed wrongly is told of in words for people.
mod usage;
