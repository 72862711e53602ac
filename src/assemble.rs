//! The main job, told in order: a case is read and computed.
//!
//! Comes in: the text of a case. Goes out: facts, figures and all findings. Reads no file and no clock; `cli`
//! does that and hands the bytes in.

use crate::case::{self, Case, TaxYear};
use crate::credit::{self, Outcome};
use crate::finding::{Finding, Severity, Sources};
use crate::law::Law;

/// A case that was read and computed, with everything found on the way.
pub struct Computed {
    /// The texts that findings point into.
    pub sources: Sources,
    /// The facts; none when the file could not be read as a case.
    pub case: Option<Case>,
    /// The figures; empty when the case has errors that stand in their way.
    pub outcome: Outcome,
    /// All findings: of reading, and of computing.
    pub findings: Vec<Finding>,
}

impl Computed {
    /// Returns the worst finding's severity.
    pub fn worst(&self) -> Option<Severity> {
        self.findings.iter().map(|finding| finding.severity).max()
    }

    /// Says whether an error stands.
    pub fn has_errors(&self) -> bool {
        self.worst() == Some(Severity::Error)
    }

    /// Returns the year a packet is for when none is asked: the latest with a return.
    pub fn latest_year(&self) -> Option<TaxYear> {
        let case = self.case.as_ref()?;
        let with_return = case.returns.iter().map(|one| one.year.value).max();
        with_return.or_else(|| self.outcome.years.last().copied())
    }
}

/// Reads a case and computes it.
pub fn compute(name: &str, bytes: &[u8], law: &Law) -> Result<Computed, credit::Fault> {
    let mut sources = Sources::default();
    let (case, mut findings) = case::read(name, bytes, &mut sources);
    let outcome = match &case {
        Some(case) => credit::compute(case, law)?,
        None => Outcome::default(),
    };
    findings.extend(outcome.findings.iter().cloned());
    findings.sort_by_key(|finding| (finding.at.map(|span| (span.source, span.start)), finding.code));
    Ok(Computed { sources, case, outcome, findings })
}
