//! The papers that prove what the case says.

use super::kinds::EvidenceKind;
use super::sections::Property;
use super::spoken::{self, Meant};
use crate::finding::{Finding, Spanned};
use crate::record::rule::Takes;
use crate::record::{Form, Key, Leaf, NameIn, Reading, Slot, record, suggest};

record! {
    /// One paper.
    pub struct Evidence: EVIDENCE "evidence" {
        given key: Spanned<Key>;
        /// what kind of paper it is
        kind as "type": Spanned<EvidenceKind> => PaperKind, "receipt";
        /// whether the firm has it
        on_file: Spanned<bool>, "true";
        /// where the firm keeps it
        kept_at as "where": Option<Spanned<String>>, "binder 3";
        /// the file, beside or below the case
        file: Option<Spanned<String>>, "papers/inv-118.pdf";
        /// the items it belongs to, where no cost or incentive names it
        items: Vec<Spanned<Key>> => Vec<NameIn<Property>>, "[heat-pump]";
    }
}

/// What kind of paper it is. A word of the office's own is no reason to refuse the case: no figure depends on it, only
/// the list of what is missing.
struct PaperKind;

impl Form for PaperKind {
    type Value = Spanned<EvidenceKind>;
    const TAKES: Takes = <EvidenceKind as Leaf>::TAKES;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<EvidenceKind>> {
        let Spanned { value: written, span } = reading.line(slot.node, slot.key)?;
        if let Some(kind) = EvidenceKind::from_word(&written) {
            return Some(Spanned::new(kind, span));
        }
        let known: Vec<&'static str> = EvidenceKind::ALL.iter().map(|one| one.word()).collect();
        let help = match spoken::meant(slot.key, &written, &known) {
            Some(Meant::Word(word)) => format!("did you mean `{word}`"),
            _ => suggest(&written, &known).trim_end_matches('?').to_string(),
        };
        let message =
            format!("`{written}` is none of the kinds of paper that are matched with what should be kept");
        let finding = Finding::warning("unknown-paper", message).at(span);
        reading.findings.push(finding.help(format!("{help}; until then it counts as `other`")));
        Some(Spanned::new(EvidenceKind::Other, span))
    }
}
