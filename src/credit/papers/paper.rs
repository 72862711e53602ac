//! A paper, and whether it is on file.
//!
//! Comes in: a case and an item. Goes out: the evidence that serves it.

use crate::case::{Case, EvidenceKind, Item, Key, SharedRow, words};
use crate::law::Standing;

/// One paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// What it is, in plain words.
    pub what: String,
    /// It is asked for every item, not for this kind or for something about this item.
    pub common: bool,
    /// It shows what the home cost or what lowered that cost, so it stays with the home: as long as the client owns
    /// it, and until the return of the year of sale is out of time, if that is later than what [`ItemPapers::keep`]
    /// says (Pub. 552 (2008); Pub. 530 (2012)).
    pub with_home: bool,
    /// The evidence that shows it is on file; empty where none does.
    pub on_file: Vec<Key>,
    /// The documents that ask for it.
    pub source: Vec<String>,
    /// What that rests on.
    pub standing: Standing,
    /// Whether a rule asks for it.
    pub need: Need,
}

words! {
    /// Whether a rule asks for a paper of a credit that is claimed.
    Need {
        Required = "required", "the law, the instructions or guidance of the IRS ask for it";
        Useful = "useful", "good to have";
    }
}

/// Returns the evidence on file that answers for a paper of an item.
///
/// Evidence belongs to the items it names, and to those whose costs or incentives point at it. Where it belongs to
/// none, proof of the home and filed returns serve all items; the rest counts only where the case has a single item,
/// because a certificate of one product says nothing of another.
pub(super) fn on_file(case: &Case, item: &Item, fits: impl Fn(EvidenceKind) -> bool) -> Vec<Key> {
    let serves = |key: &Key, kind: EvidenceKind| {
        let holders = holders(case, key);
        if holders.is_empty() {
            matches!(kind, EvidenceKind::ProofOfHome | EvidenceKind::FiledReturn) || case.property.len() == 1
        } else {
            holders.contains(&&item.key.value)
        }
    };
    case.evidence
        .iter()
        .filter(|one| one.on_file.value && fits(one.kind.value) && serves(&one.key.value, one.kind.value))
        .map(|one| one.key.value.clone())
        .collect()
}

/// Returns the items whose costs or incentives point at a paper.
fn holders<'c>(case: &'c Case, key: &Key) -> Vec<&'c Key> {
    let points =
        |evidence: Option<&crate::finding::Spanned<Key>>| evidence.is_some_and(|one| one.value == *key);
    let paper = case.evidence.iter().find(|one| one.key.value == *key);
    let named =
        |item: &Item| paper.is_some_and(|paper| paper.items.iter().any(|one| one.value == item.key.value));
    let mut found = Vec::new();
    for item in &case.property {
        let own = item.costs.iter().any(|cost| points(cost.evidence.as_ref()))
            || item.incentives.iter().any(|one| points(one.evidence.as_ref()));
        let shared = case.shared.iter().any(|shared| {
            let evidence = match &shared.row {
                SharedRow::Cost(cost) => cost.evidence.as_ref(),
                SharedRow::Incentive(incentive) => incentive.evidence.as_ref(),
            };
            points(evidence) && shared.over.iter().any(|(over, _)| over.value == item.key.value)
        });
        if own || shared || named(item) {
            found.push(&item.key.value);
        }
    }
    found
}
