//! The format of the case file, format 1, as one table: every block, its keys, what each takes and means.
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
//! Nothing comes in. The reader takes from here which keys there are and which must stand; the schema and
//! the documentation are made from the same rows. Knows words and shapes, no values.

use super::client::{CLIENT, ENGAGEMENT, MAIL_TO, PERSON, SIGNED};
use super::forms::{OF_COST, OF_EITHER, OF_INCENTIVE, OTHER_CREDITS, PARTS, PLANNING_BY_YEAR, shared_rows};
use super::home::{HOME, HOME_ADDRESS, USE};
use super::kinds::*;
use super::meaning::return_years;
use crate::record::rule::{Block, KeyRule, Takes};

macro_rules! words_of {
    ($name:ident) => {
        Takes::Word(|| $name::ALL.iter().map(|one| one.word()).collect())
    };
}

const fn must(key: &'static str, takes: Takes, example: &'static str, meaning: &'static str) -> KeyRule {
    KeyRule::must(key, takes, example, meaning)
}

const fn may(key: &'static str, takes: Takes, example: &'static str, meaning: &'static str) -> KeyRule {
    KeyRule::may(key, takes, example, meaning)
}

use Takes::{
    Amount, Count, Date, FormatNumber, Line, List, OneOrList, Percentage, Quantity, Reference, Text, YesNo,
};

/// The whole file.
pub static CASE: Block = Block {
    name: "case",
    keys: &[
        must("format", FormatNumber, "1", "the format of this file"),
        must(
            "client",
            Takes::Block(&CLIENT),
            "{reference: HH-0412, people: [..]}",
            "who the client is and how to reach them",
        ),
        may(
            "prepared",
            Takes::Block(&SIGNED),
            "{by: J. Alder, on: 2025-03-01}",
            "who prepared the case and when",
        ),
        may("reviewed", Takes::Block(&SIGNED), "{by: M. Birch, on: 2025-03-04}", "who reviewed it and when"),
        may("homes", Takes::Named(&HOME), "alder-lane: {..}", "the homes, each under a key of your own"),
        may(
            "property",
            Takes::Named(&ITEM),
            "roof-array: {..}",
            "the property bought, each item under a key of your own",
        ),
        may(
            "shared",
            List(&Takes::Block(&SHARED)),
            "[{item: permit, ..}]",
            "costs and incentives that lie over several items",
        ),
        may("returns", Takes::ByYear(&RETURN, return_years), "2024: {..}", "the returns, by tax year"),
        may(
            "carried_in",
            Takes::ByYear(&CARRIED_IN, return_years),
            "2024: {amount: 310}",
            "credit carried in from before the first return here, by the year it is brought into",
        ),
        may(
            "earlier_credits",
            Takes::ByYear(&EARLIER, return_years),
            "2010: {nonbusiness_energy_credit: 1500}",
            "credits of earlier years that count against lifetime limits",
        ),
        may(
            "planning",
            Takes::Own(&PLANNING_BY_YEAR),
            "{2026: {tax_before_credits: 1500}}",
            "figures for planning; never part of a return",
        ),
        may(
            "evidence",
            Takes::Named(&EVIDENCE),
            "inv-118: {type: receipt, on_file: true}",
            "the papers, each under a key of your own",
        ),
        may(
            "answers",
            List(&Takes::Block(&ANSWER)),
            "[{question: .., answer: ..}]",
            "answers to questions that `check` asked",
        ),
    ],
    besides: None,
};

/// An address of a firm.
pub static ADDRESS: Block = Block {
    name: "address",
    keys: &[
        must("street", Line, "12 Alder Lane", "street and number"),
        may("unit", Line, "Apt 4", "apartment"),
        must("city", Line, "Riverton", "city"),
        must("state", Line, "MA", "state, two letters"),
        must("zip", Line, "01040", "ZIP or ZIP+4"),
    ],
    besides: None,
};

/// One of `property`.
pub static ITEM: Block = Block {
    name: "item",
    keys: &[
        must("kind", words_of!(Kind), "solar_electric", "what it is"),
        must("home", Reference("homes"), "alder-lane", "the home it serves"),
        must(
            "part_of",
            words_of!(PartOf),
            "existing_home",
            "existing home, renovation, or building of a new home",
        ),
        must("acquired", words_of!(Acquired), "bought", "how the client came by it"),
        must("condition", words_of!(Condition), "new", "new or used"),
        may(
            "installed",
            Date,
            "2024-05-14",
            "the day the original installation was complete; absent while it is not",
        ),
        may("inspected", Date, "2024-05-20", "the day of the final inspection"),
        may("permission_to_operate", Date, "2024-06-02", "the day the utility gave leave to switch on"),
        may("placed_in_service", Date, "2024-06-03", "the day it was ready and available for its use"),
        may("performed", Date, "2024-02-01", "home energy audit: the day it was done"),
        may("paid", Date, "2024-02-10", "home energy audit: the day it was paid"),
        may("construction_began", Date, "2021-09-01", "fuel cell: the day construction began"),
        may(
            "certified",
            Takes::Block(&CERTIFIED),
            "{by: .., number: ..}",
            "by whom the product is certified",
        ),
        may("capacity_kw", Quantity, "7.6", "capacity in kilowatts"),
        may("capacity_kwh", Quantity, "13.5", "battery: capacity in kilowatt-hours"),
        may(
            "solar_share",
            Percentage,
            "60%",
            "solar water heating: share of the energy that comes from the sun",
        ),
        may("efficiency", Percentage, "75%", "thermal or electrical efficiency, by kind"),
        may("amperage", Quantity, "200", "enabling property: amperes"),
        may("fuel", Line, "natural gas", "fuel, in words"),
        may("meets", Line, "CEE highest tier 2025", "the efficiency standard it meets, in words"),
        may(
            "auditor",
            Takes::Block(&AUDITOR),
            "{name: .., number: .., program: ..}",
            "home energy audit: who made it",
        ),
        may("units", Count, "2", "number of equal units; 1 when not said; amounts are the total of all"),
        may(
            "maker_code",
            OneOrList(&Line),
            "AB12",
            "the maker's code of four characters, one for all units or a list of one for each",
        ),
        may(
            "pin",
            OneOrList(&Line),
            "AB12345678901234X",
            "the product number of 17 characters, one for all units or a list of one for each",
        ),
        may(
            "enables",
            List(&Reference("property")),
            "[heat-pump]",
            "enabling property: the items it enables",
        ),
        may("nonbusiness_use", Percentage, "100%", "share of use that is not business use"),
        may(
            "paid_by_others",
            Amount,
            "8000.00",
            "what joint occupants and co-owners of the home outside this return paid for the same item; neighbors who share an item each claim their own payment and are left out",
        ),
        may(
            "association",
            Takes::Block(&ASSOCIATION),
            "{name: .., share: 1.25%}",
            "the association or cooperative whose costs these are, and the client's share",
        ),
        may("financed", Takes::Block(&FINANCED), "{as: loan, amount: 12000}", "how it was financed"),
        may(
            "costs",
            List(&Takes::Block(&COST)),
            "[{item: .., as: equipment, amount: 7380.00}]",
            "what was paid for",
        ),
        may(
            "incentives",
            List(&Takes::Block(&INCENTIVE)),
            "[{from: .., as: utility_subsidy, amount: 500}]",
            "what others pay toward it",
        ),
    ],
    besides: None,
};

/// `certified`.
pub static CERTIFIED: Block = Block {
    name: "certified",
    keys: &[
        must("by", Line, "a certification body", "by whom"),
        may("number", Line, "2024-1187", "number of the certificate"),
    ],
    besides: None,
};

/// `auditor`.
pub static AUDITOR: Block = Block {
    name: "auditor",
    keys: &[
        must("name", Line, "R. Cedar", "name of the auditor"),
        may("number", Line, "12-3456789", "employer identification number, as the report shows it"),
        may("program", Line, "a qualified certification program", "the program that certified the auditor"),
    ],
    besides: None,
};

/// `association`.
pub static ASSOCIATION: Block = Block {
    name: "association",
    keys: &[
        must("name", Line, "Alder Lane Condominium", "its name"),
        must("share", Percentage, "1.25%", "the client's share; the costs are then the association's"),
    ],
    besides: None,
};

/// `financed`.
pub static FINANCED: Block = Block {
    name: "financed",
    keys: &[
        must("as", words_of!(FinancedAs), "loan", "what kind of financing"),
        must("amount", Amount, "12000", "how much"),
    ],
    besides: None,
};

/// One of `costs`.
pub static COST: Block = Block {
    name: "cost",
    keys: &[
        must("item", Line, "collectors and tank", "what it was for, in words"),
        must("as", words_of!(CostNature), "equipment", "what it was for, by nature"),
        must("amount", Amount, "7380.00", "the amount; a discount is written as a positive amount too"),
        may(
            "materials",
            Percentage,
            "60%",
            "the part of one price that is materials; with `as: lump_sum` only",
        ),
        may("paid", Date, "2024-04-02", "the day it was paid"),
        may("evidence", Reference("evidence"), "inv-118", "the paper that shows it"),
        may(
            "treat_as",
            Takes::Own(&OF_COST),
            "{counted: 3200.00}",
            "a treatment chosen where the law leaves it open",
        ),
        may("because", Text, "split by the installer's letter", "why"),
    ],
    besides: None,
};

/// One of `incentives`.
pub static INCENTIVE: Block = Block {
    name: "incentive",
    keys: &[
        must("from", Line, "Riverton Light Department", "who pays it"),
        must("as", words_of!(IncentiveKind), "utility_subsidy", "what it is by character"),
        must("amount", Amount, "500.00", "the amount"),
        may("agreed", Date, "2024-03-01", "the day it was agreed"),
        may("received", Date, "2024-07-01", "the day it was received"),
        may("evidence", Reference("evidence"), "award-7", "the paper that shows it"),
        may(
            "treat_as",
            Takes::Own(&OF_INCENTIVE),
            "reduces_cost",
            "a treatment chosen where the law leaves it open",
        ),
        may("because", Text, "the award letter says so", "why"),
    ],
    besides: None,
};

/// One of `shared`: a cost, or, with `from`, an incentive.
pub static SHARED: Block = Block {
    name: "shared",
    keys: &[
        may("item", Line, "permit", "of a cost: what it was for, in words"),
        may("from", Line, "Riverton Light Department", "of an incentive: who pays it"),
        must(
            "as",
            Takes::Word(shared_words),
            "permit",
            "a cost nature, or, where `from` stands, an incentive kind",
        ),
        must("amount", Amount, "420", "the whole amount"),
        must(
            "over",
            Takes::Own(&PARTS),
            "{roof-array: 70%, battery: 30%}",
            "the items and the part of each, as percentages or as amounts; the parts add up to the whole",
        ),
        may("materials", Percentage, "60%", "of a cost `as: lump_sum`: the part that is materials"),
        may("paid", Date, "2024-04-02", "of a cost: the day it was paid"),
        may("agreed", Date, "2024-03-01", "of an incentive: the day it was agreed"),
        may("received", Date, "2024-07-01", "of an incentive: the day it was received"),
        may("evidence", Reference("evidence"), "inv-118", "the paper that shows it"),
        may("treat_as", Takes::Own(&OF_EITHER), "counted", "a treatment chosen where the law leaves it open"),
        may("because", Text, "divided by capacity", "why"),
    ],
    besides: Some(shared_rows),
};

fn shared_words() -> Vec<&'static str> {
    let mut all: Vec<&str> = CostNature::ALL.iter().map(|one| one.word()).collect();
    for kind in IncentiveKind::ALL {
        if !all.contains(&kind.word()) {
            all.push(kind.word());
        }
    }
    all
}

/// One of `returns`.
pub static RETURN: Block = Block {
    name: "return",
    keys: &[
        may("form", words_of!(ReturnForm), "1040", "the form; 1040 when not said"),
        may(
            "stage",
            words_of!(Stage),
            "filed",
            "how far it has come; when not said, filed if `filed` or `claimed` is given, else draft",
        ),
        must("filing_status", words_of!(FilingStatus), "married_filing_jointly", "filing status"),
        may("filed", Date, "2025-03-30", "the day it was filed"),
        may("due", Date, "2025-04-15", "its due date, where it is not the ordinary one"),
        may("extended_to", Date, "2025-10-15", "its extended due date"),
        may(
            "tax_paid",
            List(&Takes::Block(&TAX_PAID)),
            "[{on: 2025-04-15, amount: 900}]",
            "when tax was paid",
        ),
        must(
            "tax_before_credits",
            Amount,
            "2140",
            "the tax before credits; for 2020 to 2025 line 18 of Form 1040",
        ),
        may(
            "other_credits",
            Takes::Own(&OTHER_CREDITS),
            "{child_and_dependent_care: 600}",
            "the other credits of the year",
        ),
        may(
            "claimed",
            Takes::Block(&CLAIMED),
            "{improvement: 0, clean: 1540, carried_out: 5100}",
            "what the filed return shows; never read by the computation",
        ),
        may(
            "rounding",
            words_of!(RoundingChoice),
            "whole_dollars",
            "how its amounts are rounded; whole_dollars when not said",
        ),
        may("separate_main_homes", YesNo, "false", "a married couple with two main homes"),
    ],
    besides: None,
};

/// One of `tax_paid`.
pub static TAX_PAID: Block = Block {
    name: "tax_paid",
    besides: None,
    keys: &[must("on", Date, "2025-04-15", "the day"), must("amount", Amount, "900", "the amount")],
};

/// `claimed`.
pub static CLAIMED: Block = Block {
    name: "claimed",
    keys: &[
        may("improvement", Amount, "0", "the energy efficient home improvement credit on the return"),
        may("clean", Amount, "1540", "the residential clean energy credit on the return"),
        may("carried_out", Amount, "5100", "the residential clean energy credit carried forward from it"),
        may(
            "because",
            Text,
            "the installer's labor was left out",
            "where the figures differ from it: why, in words for the explanation of changes on Form 1040-X",
        ),
    ],
    besides: None,
};

/// `child_tax` with its two lines.
pub static CHILD_TAX: Block = Block {
    name: "child_tax",
    keys: &[
        must("return_line", Amount, "2000", "the amount on the return"),
        may(
            "worksheet_b",
            Amount,
            "800",
            "line 14 of Credit Limit Worksheet B of Schedule 8812, where that was used",
        ),
    ],
    besides: None,
};

/// One of `carried_in`.
pub static CARRIED_IN: Block = Block {
    name: "carried_in",
    keys: &[
        must("amount", Amount, "310", "the credit brought into the year"),
        may("shown_on", Line, "2023 Form 5695 line 16", "where it is shown"),
        may("belongs_to", Line, "Ana Alder", "whose it is, where it is one person's"),
        may(
            "instead_of_computed",
            Text,
            "the filed return is final",
            "why it is taken instead of what this case itself yields",
        ),
    ],
    besides: None,
};

/// One of `earlier_credits`.
pub static EARLIER: Block = Block {
    name: "earlier_credits",
    keys: &[
        may(
            "nonbusiness_energy_credit",
            Amount,
            "1500",
            "the credit taken that year (Form 5695: 2006 line 12, 2007 line 15, 2009 and 2010 line 11, 2011 line 14, 2012 line 32, from 2013 on line 30)",
        ),
        may(
            "window_cost",
            Amount,
            "0",
            "what that year's windows and skylights cost (Form 5695: 2006, 2009 and 2010 line 2b, 2007 line 2d, 2011 line 3d, 2012 line 21d, from 2013 on line 19d)",
        ),
    ],
    besides: None,
};

/// `planning`, beside the years.
pub static PLANNING: Block = Block {
    name: "planning",
    keys: &[
        may("federal_rate", Percentage, "22%", "the client's federal marginal rate"),
        may("itemizes", YesNo, "true", "whether the client itemizes deductions"),
    ],
    besides: None,
};

/// One planned year.
pub static PLANNED_YEAR: Block = Block {
    name: "planned year",
    keys: &[
        must(
            "tax_before_credits",
            Amount,
            "1500",
            "the tax expected before credits; read for years after the last return",
        ),
        may(
            "credits_before",
            Amount,
            "200",
            "the credits expected to come before the clean energy credit, in one amount; without it, those of the last return",
        ),
    ],
    besides: None,
};

/// One of `evidence`.
pub static EVIDENCE: Block = Block {
    name: "evidence",
    keys: &[
        must("type", words_of!(EvidenceKind), "receipt", "what kind of paper it is"),
        must("on_file", YesNo, "true", "whether the firm has it"),
        may("where", Line, "binder 3", "where the firm keeps it"),
        may("file", Line, "papers/inv-118.pdf", "the file, beside or below the case"),
        may(
            "items",
            List(&Reference("property")),
            "[heat-pump]",
            "the items it belongs to, where no cost or incentive names it",
        ),
    ],
    besides: None,
};

/// One of `answers`.
pub static ANSWER: Block = Block {
    name: "answer",
    keys: &[
        must("question", Line, "worksheet-b-unsaid", "the code of the question"),
        may(
            "about",
            Line,
            "property.roof-array",
            "what it is about: keys joined by points; entries of lists by number from 1",
        ),
        may(
            "for",
            Line,
            "child_tax; 4,400",
            "the facts it answers, as `check` prints them with the question; when they change, the question comes back",
        ),
        must("answer", Text, "yes", "the answer"),
        may("by", Line, "J. Alder", "who answered"),
        may("on", Date, "2025-03-02", "when"),
        may("because", Text, "the client's letter of March 1", "why"),
    ],
    besides: None,
};

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
    use super::*;

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
                List(one) | OneOrList(one) => visit(one),
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
