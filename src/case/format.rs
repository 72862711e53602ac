//! The format of the case file, format 1: how a case is written, and every block of its keys. What each key takes and
//! means is declared where its record is: `client`, `home`, `item`, `cost`, `shared`, `returns`, `planning`, `evidence`,
//! `answer`, `whole`.
//!
//! # How a case is written
//!
//! - The file is UTF-8 text named `NAME.case.yaml`, at most 1 MB, one household to a file. Line ends of any
//!   system and a byte order mark are accepted; tabs in front of or between keys and values are not.
//! - It is YAML without references (`&`, `*`, `<<`), types (`!`), orders (`%`) and second documents.
//! - A text may stand with or without quotes and means the same; ZIP 01040 keeps its zero. Quotes are needed
//!   where a text begins with a sign such as `*`, `@`, `#`, `[`, `{`, `>`, `|`, `%` or a quote, or has `: ` or
//!   ` #` in it; inside braces also where it has a comma, so `{amount: "7,380.00"}` or `{amount: 7380.00}`.
//! - Amounts: `12500`, `12500.00`, `12,500.00`, with or without `$`. Never negative.
//! - Percentages: with their sign, `30%` or `1.25%`, from 0% to 100%.
//! - Dates: `2024-05-14`. Years that stand as keys: four digits.
//! - Yes and no: `true` and `false`; `yes` and `no` are understood.
//! - An empty place, `~` and `null` mean that nothing stands there.
//! - Names of homes, items and papers: lower-case letters, digits and hyphens, chosen by the client's preparer.
//! - Taxpayer numbers stand masked, with their last four digits; a full one anywhere in the file is refused.
//!
//! The README writes all keys out as tables.
//!
//! # Border
//!
//! Nothing comes in. Goes out: the list of the blocks, for documentation, schemas and proposals.

use super::*;
use crate::record::rule::Block;

/// Every block, for documentation and tests.
pub static BLOCKS: &[&Block] = &[
    &CASE,
    &CLIENT,
    &PERSON,
    &MAIL_TO,
    &ENGAGEMENT,
    &SIGNED,
    &HOME,
    &HOME_ADDRESS,
    &USE,
    &ITEM,
    &CERTIFIED,
    &AUDITOR,
    &ASSOCIATION,
    &FINANCED,
    &COST,
    &INCENTIVE,
    &SHARED,
    &RETURN,
    &TAX_PAID,
    &CHILD_TAX,
    &CLAIMED,
    &CARRIED_IN,
    &EARLIER,
    &PLANNING,
    &PLANNED_YEAR,
    &EVIDENCE,
    &ANSWER,
];

#[cfg(test)]
mod tests {
    use super::BLOCKS;
    use crate::record::rule::{Block, Takes};

    /// Every group of keys that a rule leads to must be in the list, or its keys would be undocumented.
    #[test]
    fn every_block_is_listed() {
        fn listed(block: &Block) {
            assert!(BLOCKS.iter().any(|one| std::ptr::eq(*one, block)), "{}", block.name);
        }
        fn visit(takes: &Takes) {
            match takes {
                Takes::Block(block) | Takes::Named(block) | Takes::ByYear(block, _) => listed(block),
                Takes::Own(own) => own.blocks.iter().for_each(|block| listed(block)),
                Takes::List(one) | Takes::OneOrList(one) => visit(one),
                _ => {}
            }
        }
        for block in BLOCKS {
            block.keys.iter().for_each(|rule| visit(&rule.takes));
            for (n, rule) in block.keys.iter().enumerate() {
                assert!(block.keys[..n].iter().all(|one| one.key != rule.key), "{}", rule.key);
                assert!(!rule.meaning.ends_with('.'), "{}", rule.key);
            }
        }
    }
}
