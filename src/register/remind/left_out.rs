//! Why a client gets no letter this season, in words for the office.
//!
//! Comes in: what was found about a case. Goes out: a word for lists, a label for the count, and a sentence that
//! says what to do. No amount and no name stands in any of them.

use super::basis::NoBasis;
use crate::case::TaxYear;
use std::fmt;
use std::path::PathBuf;

/// A case that gets no letter.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Its file, as found.
    pub file: PathBuf,
    /// The client's reference; empty where the file could not be read as a case.
    pub reference: String,
    /// Every reason that holds, the gravest first; never empty.
    pub reasons: Vec<Reason>,
}

/// Why a case gets no letter. Ordered: a season's report lists them in this order.
#[derive(Clone, Debug, PartialEq)]
pub enum Reason {
    /// It cannot be read or computed, or its letter cannot be written.
    Failed,
    /// Other files have the same client reference.
    SameReference(Vec<PathBuf>),
    /// Questions are open whose answers could change the balance: their codes.
    Questions(Vec<&'static str>),
    /// The last return, as filed, shows another balance than is computed.
    Differs(TaxYear),
    /// The case stops before the year.
    Unknown {
        /// The year.
        year: TaxYear,
        /// The last year before it of which the case has a return.
        last_return: Option<TaxYear>,
        /// The last year before it into which the case brings a balance.
        last_balance: Option<TaxYear>,
    },
    /// Someone of the return has died.
    Deceased,
    /// The firm may not write.
    NoBasis(NoBasis),
    /// The letter is to be mailed, and there is no address.
    NoAddress,
    /// The client wants no letters.
    NotWanted,
    /// The return of the year is filed already.
    Filed(TaxYear),
    /// Nothing is left.
    NoCredit,
}

impl Reason {
    /// Every word, in the order in which a report lists them, with what it counts.
    pub const WORDS: [(&'static str, &'static str); 11] = [
        ("failed", "failed: errors in the case"),
        ("same-reference", "two files with one client reference"),
        ("open-question", "a question is open that could change the balance"),
        ("differs-from-filed", "the filed return shows another balance"),
        ("balance-not-known", "the case stops before the year"),
        ("deceased", "someone of the return has died"),
        ("no-basis", "no basis to write, or it has ended"),
        ("no-address", "no mailing address"),
        ("no-delivery", "the case says: no letters"),
        ("return-filed", "the year's return is filed already"),
        ("no-credit-left", "no credit is left"),
    ];

    /// Returns the reason's place among the words.
    pub fn rank(&self) -> usize {
        match self {
            Reason::Failed => 0,
            Reason::SameReference(_) => 1,
            Reason::Questions(_) => 2,
            Reason::Differs(_) => 3,
            Reason::Unknown { .. } => 4,
            Reason::Deceased => 5,
            Reason::NoBasis(_) => 6,
            Reason::NoAddress => 7,
            Reason::NotWanted => 8,
            Reason::Filed(_) => 9,
            Reason::NoCredit => 10,
        }
    }

    /// Returns the reason's word.
    pub fn word(&self) -> &'static str {
        Reason::WORDS[self.rank()].0
    }
}

/// Says what is so and what to do about it.
impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::Failed => write!(f, "the case has errors; fix what stands in failed.txt"),
            Reason::SameReference(others) => {
                let others: Vec<String> = others.iter().map(|other| other.display().to_string()).collect();
                write!(f, "{} has the same reference; keep one file for a client", others.join(" and "))
            }
            Reason::Questions(codes) => {
                write!(
                    f,
                    "open and could change the balance: {}; `check` shows how to answer",
                    codes.join(", ")
                )
            }
            Reason::Differs(year) => write!(
                f,
                "the return for {year} as filed carries another balance forward than is computed; settle which is right"
            ),
            Reason::Unknown { year, last_return, last_balance } => {
                match (last_return, last_balance) {
                    (_, Some(balance)) if last_return.is_none_or(|last| last < *balance) => {
                        write!(f, "the last balance on file entered {balance}")?;
                    }
                    (Some(last), _) => write!(f, "last return on file {last}")?,
                    (None, _) => write!(f, "no return before {year} is on file")?,
                }
                write!(f, "; the balance entering {year} is not known; add the returns in between")
            }
            Reason::Deceased => write!(
                f,
                "someone of the return has died; what is left may have been one person's, so a person must write"
            ),
            Reason::NoBasis(NoBasis::Unsaid) => {
                write!(f, "the case names no basis to write; settle it, then add `engagement:`")
            }
            Reason::NoBasis(NoBasis::ConsentUndated) => {
                write!(f, "the consent has no date; add `consented:` from the signed paper")
            }
            Reason::NoBasis(NoBasis::ConsentLater(day)) => {
                write!(f, "the client consented on {day}, after the date of the letters")
            }
            Reason::NoBasis(NoBasis::ConsentLapsed(day)) => {
                write!(f, "the consent names no last day, so it ended after one year, on {day}; ask anew")
            }
            Reason::NoBasis(NoBasis::Ended(day)) => {
                write!(f, "the basis to write ended on {day}; renew it, then correct `until:`")
            }
            Reason::NoAddress => write!(f, "the case has no address for letters; add `mail_to:`"),
            Reason::NotWanted => write!(f, "the case says `delivery: none`"),
            Reason::Filed(year) => write!(f, "the return for {year} is filed already"),
            Reason::NoCredit => write!(f, "no credit is left"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn every_reason_has_its_own_word_and_says_something() {
        let day = date(2026, 12, 31);
        let (year, before) = (TaxYear(2027), TaxYear(2025));
        let all = [
            Reason::Failed,
            Reason::SameReference(vec![PathBuf::from("b.case.yaml")]),
            Reason::Questions(vec!["worksheet-b-unsaid"]),
            Reason::Differs(before),
            Reason::Unknown { year, last_return: Some(before), last_balance: None },
            Reason::Deceased,
            Reason::NoBasis(NoBasis::Ended(day)),
            Reason::NoAddress,
            Reason::NotWanted,
            Reason::Filed(year),
            Reason::NoCredit,
        ];
        let words: Vec<&str> = all.iter().map(Reason::word).collect();
        assert_eq!(words, Reason::WORDS.map(|(word, _)| word));
        for reason in &all {
            let told = reason.to_string();
            assert!(told.len() > 10 && !told.ends_with('.') && !told.contains('$'), "{told}");
        }
        assert_eq!(
            Reason::Unknown { year, last_return: Some(before), last_balance: Some(before) }.to_string(),
            "last return on file 2025; the balance entering 2027 is not known; add the returns in between"
        );
        assert_eq!(
            Reason::Unknown { year, last_return: None, last_balance: Some(TaxYear(2026)) }.to_string(),
            "the last balance on file entered 2026; the balance entering 2027 is not known; add the returns in between"
        );
    }
}
