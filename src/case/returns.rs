//! A year's return, what a filed one shows, and what is carried in from before the case begins.

use super::kinds::{FilingStatus, OtherCredit, ReturnForm, RoundingChoice, Stage};
use super::year::TaxYear;
use crate::finding::{Finding, Span, Spanned};
use crate::money::Money;
use crate::record::rule::{Own, Takes};
use crate::record::schema::{amount, merge};
use crate::record::tree::Value;
use crate::record::{Fields, Form, Leaf, Reading, Record, Slot, Text, record};
use crate::wording::sentence;
use jiff::civil::Date;
use serde_json::{Map, json};

record! {
    /// One year's return.
    pub struct TaxReturn: RETURN "return" {
        given span: Span;
        given year: Spanned<TaxYear>;
        /// the form; 1040 when not said
        form: Spanned<ReturnForm> = ReturnForm::Form1040, "1040";
        /// how far it has come; when not said, filed if `filed` or `claimed` is given, else draft
        stage: Spanned<Stage> => StageOr, "filed";
        /// filing status
        filing_status: Spanned<FilingStatus>, "married_filing_jointly";
        /// the day it was filed
        filed: Option<Spanned<Date>>, "2025-03-30";
        /// its due date, where it is not the ordinary one
        due: Option<Spanned<Date>>, "2025-04-15";
        /// its extended due date
        extended_to: Option<Spanned<Date>>, "2025-10-15";
        /// when tax was paid
        tax_paid: Vec<TaxPaid>, "[{on: 2025-04-15, amount: 900}]";
        /// the tax before credits; for 2020 to 2025 line 18 of Form 1040
        tax_before_credits: Spanned<Money>, "2140";
        /// the other credits of the year
        other_credits: Vec<OtherCreditEntry> => OtherCredits, "{child_and_dependent_care: 600}";
        /// what the filed return shows; never read by the computation
        claimed: Option<Claimed>, "{improvement: 0, clean: 1540, carried_out: 5100}";
        /// how its amounts are rounded; whole_dollars when not said
        rounding: RoundingChoice = RoundingChoice::WholeDollars, "whole_dollars";
        /// a married couple with two main homes
        separate_main_homes: Option<Spanned<bool>>, "false";
    }
}

record! {
    /// A payment of tax.
    pub struct TaxPaid: TAX_PAID "tax_paid" {
        /// the day
        on: Spanned<Date>, "2025-04-15";
        /// the amount
        amount: Spanned<Money>, "900";
    }
}

record! {
    /// What a filed return shows.
    pub struct Claimed: CLAIMED "claimed" {
        given span: Span;
        /// the energy efficient home improvement credit on the return
        improvement: Option<Spanned<Money>>, "0";
        /// the residential clean energy credit on the return
        clean: Option<Spanned<Money>>, "1540";
        /// the residential clean energy credit carried forward from it
        carried_out: Option<Spanned<Money>>, "5100";
        /// where the figures differ from it: why, in words for the explanation of changes on Form 1040-X
        because: Option<Spanned<String>> => Option<Text>, "the installer's labor was left out";
    }
}

record! {
    /// A balance brought in, at which the chain starts.
    pub struct CarriedIn: CARRIED_IN "carried_in" {
        given span: Span;
        given year: Spanned<TaxYear>;
        /// the credit brought into the year
        amount: Spanned<Money>, "310";
        /// where it is shown
        shown_on: Option<Spanned<String>>, "2023 Form 5695 line 16";
        /// whose it is, where it is one person's
        belongs_to: Option<Spanned<String>>, "Ana Alder";
        /// why it is taken instead of what this case itself yields
        instead_of_computed: Option<Spanned<String>> => Option<Text>, "the filed return is final";
    }
}

record! {
    /// Credits of an earlier year that count against lifetime limits.
    pub struct EarlierCredits: EARLIER "earlier_credits" {
        given year: Spanned<TaxYear>;
        /// the credit taken that year (Form 5695: 2006 line 12, 2007 line 15, 2009 and 2010 line 11, 2011 line 14, 2012
        /// line 32, from 2013 on line 30)
        nonbusiness_energy_credit: Option<Spanned<Money>>, "1500";
        /// what that year's windows and skylights cost (Form 5695: 2006, 2009 and 2010 line 2b, 2007 line 2d, 2011 line
        /// 3d, 2012 line 21d, from 2013 on line 19d)
        window_cost: Option<Spanned<Money>>, "0";
    }
}

/// How far a return has come: where nothing is said, a day of filing or what was claimed says that it went out.
struct StageOr;

impl Form for StageOr {
    type Value = Spanned<Stage>;
    const TAKES: Takes = <Stage as Leaf>::TAKES;
    const REQUIRED: bool = false;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<Stage>> {
        <Stage as Leaf>::read(slot, reading).or_else(|| StageOr::absent(slot.group))
    }

    fn absent(group: &Fields<'_>) -> Option<Spanned<Stage>> {
        let went_out = group.has("filed") || group.has("claimed");
        Some(Spanned::new(if went_out { Stage::Filed } else { Stage::Draft }, group.head))
    }
}

/// Another credit of the year.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherCreditEntry {
    /// Which.
    pub credit: Spanned<OtherCredit>,
    /// The amount on the return.
    pub amount: Spanned<Money>,
    /// Child tax credit only: line 14 of Credit Limit Worksheet B of Schedule 8812, where it was used.
    pub worksheet_b: Option<Spanned<Money>>,
    /// Child tax credit only: the case gave a bare amount, so whether Worksheet B was used is not said.
    pub worksheet_b_unsaid: bool,
}

record! {
    /// `child_tax` with its two lines.
    pub struct ChildTax: CHILD_TAX "child_tax" {
        /// the amount on the return
        return_line: Spanned<Money>, "2000";
        /// line 14 of Credit Limit Worksheet B of Schedule 8812, where that was used
        worksheet_b: Option<Spanned<Money>>, "800";
    }
}

/// Amounts under words of [`OtherCredit`]; the child tax credit may have two.
struct OtherCredits;

static OTHER_CREDITS: Own = Own {
    in_words: || "dollars by credit, see below".to_string(),
    words: Vec::new,
    blocks: &[&CHILD_TAX],
    schema: |groups| {
        let mut keys = Map::new();
        for credit in OtherCredit::ALL {
            let mut one = match credit {
                OtherCredit::ChildTax => json!({"anyOf": [amount(), groups.refer(&CHILD_TAX)]}),
                _ => amount(),
            };
            merge(&mut one, json!({"description": sentence(credit.label())}));
            keys.insert(credit.word().to_string(), one);
        }
        json!({"type": "object", "properties": keys, "additionalProperties": false})
    },
};

impl Form for OtherCredits {
    type Value = Vec<OtherCreditEntry>;
    const TAKES: Takes = Takes::Own(&OTHER_CREDITS);
    const REQUIRED: bool = false;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Vec<OtherCreditEntry>> {
        let path = slot.path();
        let mut found = Vec::new();
        for entry in slot.entries(reading) {
            let Some(credit) = OtherCredit::from_word(&entry.key.value) else {
                let known: Vec<&'static str> = OtherCredit::ALL.iter().map(|one| one.word()).collect();
                let message = format!("`{}` is not a credit that {path} knows", entry.key.value);
                let finding = Finding::error("unknown-key", message).at(entry.key.span);
                let finding = reading.helped(finding, slot.key, &entry.key.value, &known);
                reading.findings.push(finding);
                continue;
            };
            let is_child_tax = credit == OtherCredit::ChildTax;
            let credit = Spanned::new(credit, entry.key.span);
            if is_child_tax && matches!(entry.value.value, Value::Map { .. }) {
                let lines = slot.entry(entry, reading, &CHILD_TAX);
                let lines = lines.and_then(|lines| <ChildTax as Record>::read(&lines, reading));
                found.extend(lines.map(|ChildTax { return_line: amount, worksheet_b }| OtherCreditEntry {
                    credit,
                    amount,
                    worksheet_b,
                    worksheet_b_unsaid: false,
                }));
            } else {
                let amount = reading.money(&entry.value, credit.value.word());
                found.extend(amount.map(|amount| OtherCreditEntry {
                    credit,
                    amount,
                    worksheet_b: None,
                    worksheet_b_unsaid: is_child_tax,
                }));
            }
        }
        Some(found)
    }

    fn absent(_group: &Fields<'_>) -> Option<Vec<OtherCreditEntry>> {
        Some(Vec::new())
    }
}
