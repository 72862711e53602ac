//! The case file as a kind of file: its name in sentences, its limits, its sections, and the mistakes that people make in
//! it.
//!
//! Nothing comes in. Goes out: [`FILE`], which the reader of files takes. Knows words and shapes, no law.

use super::format::BLOCKS;
use super::kinds::{Kind, OtherCredit};
use super::limits::{MAX_BYTES, MAX_DEPTH, MAX_NODES, MAX_TEXT};
use super::spoken::{self, Meant};
use crate::finding::{Choices, Finding, Span};
use crate::record::rule::Block;
use crate::record::tree::{Entry, Node, Value};
use crate::record::{Advice, FileKind, Habits, Limits, Wrong, bare, suggest};
use jiff::civil::Date;

/// The case file.
pub static FILE: FileKind = FileKind {
    a: "a case",
    the: "the case",
    limits: LIMITS,
    advice: Advice {
        usual: "a case of one household has a few thousand",
        instead: "name the case itself, a text file that ends in .case.yaml",
        holds: "one file holds the case of one household",
        second: (
            "a second document begins here; one file holds one case",
            "put the second case into a file of its own, or delete the line `---`",
        ),
        levels: "seven",
        long_text: "keep the long text in a file of its own and name that file under `evidence`",
        long_line: "shorten it; the longer explanation can stand under `because` or in a paper under `evidence`",
    },
    blocks: BLOCKS,
    sections: &["homes", "property", "evidence"],
    asides: &["evidence"],
    habits: &OfCases,
};

/// The limits of a case, and of the firm file, which has less.
pub(super) const LIMITS: Limits =
    Limits { bytes: MAX_BYTES, depth: MAX_DEPTH, nodes: MAX_NODES, text: MAX_TEXT };

/// Keys of a return that speak of a refund or of payments instead of the tax.
const REFUND: [&str; 6] =
    ["refund", "expected_refund", "withholding", "tax_withheld", "balance_due", "estimated_payments"];

/// Keys of a return that speak of another line of tax.
const OTHER_TAX: [&str; 5] = ["tax", "total_tax", "tax_liability", "income_tax", "tax_due"];

/// Mistakes that people make in cases, and in the address of a firm.
pub(super) struct OfCases;

impl Habits for OfCases {
    fn instead(&self, of: Wrong<'_>, finding: Finding) -> Finding {
        let Wrong { root, key, written, known } = of;
        let of = spoken::list_of(key, known);
        match spoken::meant(of, written, known) {
            Some(Meant::Word(word)) => finding.help(format!("did you mean `{word}`?")),
            Some(Meant::Among(words)) => {
                let (help, at) = (spoken::among(of, written, &words), finding.at);
                let of = words.iter().map(|(list, _)| *list).filter(|list| *list == of).take(1).collect();
                finding.help(help).choices(self.choices(root, at, of, words))
            }
            None => finding.help(suggest(written, known)),
        }
    }

    fn deciding(&self, key: &str, known: &[&'static str]) -> Option<&'static str> {
        spoken::deciding(key, known)
    }

    /// The kind of the item and the year of its day, so that what each word does to its figures can be said.
    fn choices(
        &self,
        root: &Node,
        at: Option<Span>,
        of: Vec<&'static str>,
        words: Vec<(&'static str, &'static str)>,
    ) -> Choices {
        let property = match root.get("property").map(|one| &one.value) {
            Some(Value::Map { entries, .. }) => entries.as_slice(),
            _ => &[],
        };
        let holds = |one: &&Entry| {
            at.is_some_and(|at| one.key.span.start <= at.start && at.end <= one.value.span.end)
        };
        let item = property.iter().find(holds).map(|one| &one.value);
        let text = |key: &str| match item?.get(key).map(|one| &one.value) {
            Some(Value::Text { text, .. }) => Some(text.trim()),
            _ => None,
        };
        let kind = text("kind").and_then(Kind::from_word);
        let day = match kind {
            Some(Kind::HomeEnergyAudit) => text("paid"),
            _ => text("installed"),
        };
        let day = day.and_then(|day| day.parse::<Date>().ok()).map(Date::year);
        let returns = match root.get("returns").map(|one| &one.value) {
            Some(Value::Map { entries, .. }) => entries.as_slice(),
            _ => &[],
        };
        let of_return = || returns.iter().find(holds).and_then(|one| one.key.value.parse().ok());
        Choices { of, words, kind: kind.map(Kind::word), year: day.or_else(of_return) }
    }

    fn keys_meant(&self, block: &'static Block, written: &str, known: &[&'static str]) -> Vec<&'static str> {
        spoken::key_meant(block.name, written, known)
    }

    fn unknown_key(&self, key: &str, block: &'static Block) -> Option<Finding> {
        let plain = key.to_ascii_lowercase().replace(['-', ' '], "_");
        match (block.name, plain.as_str()) {
            (
                "return" | "case" | "client",
                "fiscal_year" | "fiscal_year_end" | "year_end" | "tax_year_end" | "year_begins" | "year_ends" | "period" | "fiscal",
            ) => Some(
                Finding::error("fiscal-year", "a return for a fiscal year cannot be computed here; every return is for a calendar year")
                    .help("delete this key if the year is the calendar year; otherwise the case lies outside this program"),
            ),
            ("item", "capacity" | "size" | "kwh" | "kw") => Some(
                Finding::error("unknown-key", format!("`{key}` does not say what is measured"))
                    .help("write `capacity_kwh` for a battery in kilowatt-hours, `capacity_kw` for what makes power in kilowatts"),
            ),
            ("return", word) if OtherCredit::from_word(word.trim_end_matches("_credit")).is_some() => Some(
                Finding::error("unknown-key", format!("`{key}` stands under `other_credits`"))
                    .help(format!("write `other_credits: {{{}: ..}}`", word.trim_end_matches("_credit"))),
            ),
            ("return", word) if OTHER_TAX.contains(&word) => Some(
                Finding::error("unknown-key", format!("`{key}` does not say which line of the return is meant"))
                    .help("write `tax_before_credits` with the tax before any credit (for 2020 to 2025 line 18 of Form 1040), not the total tax"),
            ),
            ("return", word) if REFUND.contains(&word) => Some(
                Finding::error(
                    "unknown-key",
                    format!("`{key}` has no effect on these credits: they are limited by the tax itself, not by refund or withholding"),
                )
                .help("give the tax before credits as `tax_before_credits` and leave this out"),
            ),
            ("item", "business_use" | "business_share" | "business" | "office_use") => Some(
                Finding::error("unknown-key", format!("`{key}` is not a key of an item; the case gives the other share"))
                    .help("write `nonbusiness_use` with the share that is not business use: 70% where business use is 30%"),
            ),
            ("item" | "cost", "installer" | "contractor" | "vendor" | "dealer" | "seller" | "company" | "inspector") => Some(
                Finding::error("unknown-key", format!("`{key}`: who did the work or sold it is not entered in the case"))
                    .help("delete it; the paper that shows it goes under `evidence`"),
            ),
            ("person", "ssn" | "itin" | "taxpayer_number" | "taxpayer_id" | "social_security_number") => Some(
                Finding::error("unknown-key", format!("`{key}` is not a key of a person"))
                    .help("write `tin: \"***-**-1234\"`, masked, with the last four digits only"),
            ),
            _ => None,
        }
    }

    /// An incentive among the costs, or a cost among the incentives.
    fn misplaced(&self, entries: &[Entry], block: &'static Block) -> Option<Finding> {
        let has = |key: &str| entries.iter().any(|one| one.key.value == key);
        let (wrong, message, help) = match block.name {
            "cost" => (
                has("from") && !has("item"),
                "this row names who paid (`from`), so it is an incentive and no cost",
                "move it to the item's `incentives`",
            ),
            "incentive" => (
                has("item") && !has("from"),
                "this row names what was bought (`item`), so it is a cost and no incentive",
                "move it to the item's `costs`",
            ),
            _ => return None,
        };
        wrong.then(|| Finding::error("unknown-key", message).help(help))
    }

    fn stands_for(&self, written: &str, key: &str, block: &'static Block) -> bool {
        let shortened =
            || written.len() >= 4 && key.len() > written.len() && bare(key).contains(&bare(written));
        let other_line = || REFUND.contains(&written) || OTHER_TAX.contains(&written);
        block.name == "return" && (shortened() || key == "tax_before_credits" && other_line())
    }

    fn below_zero(&self, key: &str) -> Option<&'static str> {
        match key {
            "amount" => Some(
                "what the seller took off is a separate cost, `as: discount`, with a positive amount; what others paid goes under `incentives`",
            ),
            "tax_before_credits" => Some(
                "give the tax before credits (for 2020 to 2025 line 18 of Form 1040), `0` if there was none; a refund is not a tax",
            ),
            _ => None,
        }
    }

    fn lowers(&self, entries: &[Entry], block: &'static Block) -> Option<&'static str> {
        let discount = |one: &Entry| {
            one.key.value == "as"
                && matches!(&one.value.value, Value::Text { text, .. } if text == "discount")
        };
        let from = |one: &Entry| one.key.value == "from" && !one.value.is_nothing();
        match block.name {
            "incentive" => Some("an incentive"),
            "shared" if entries.iter().any(from) => Some("an incentive"),
            "cost" | "shared" if entries.iter().any(discount) => Some("a discount"),
            _ => None,
        }
    }
}
