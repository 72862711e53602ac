//! The digits of a seal slip as somebody typed them, beside the digest of the packet that was found.
//!
//! Whoever exchanges a packet cannot come near its digest: each of the 64 digits is then another one in fifteen cases of
//! sixteen. So digits that differ in one group only were mistyped, and say nothing against the seal.

use crate::packet::bag;

/// How many slips of one digit (one wrong, left out, doubled, or exchanged with the next) are still slips.
const MOST_SLIPS: usize = 2;

/// What came of comparing typed digits with a digest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Digits {
    /// None were typed.
    NotGiven,
    /// They are those of the packet.
    Agree,
    /// They are those of the packet but for a slip.
    Mistyped {
        /// The row of the slip in which they first differ, from one.
        row: usize,
        /// The group in that row, from one.
        group: usize,
        /// The digits of that group as typed.
        given: String,
        /// The digits of that group as the packet has them.
        sealed: String,
    },
    /// They are those of another packet.
    Another,
}

impl Digits {
    /// Compares typed digits, without blanks and in small letters, with a packet's digest.
    pub fn compare(given: Option<&str>, digest: Option<&str>) -> Digits {
        let Some(given) = given else { return Digits::NotGiven };
        let Some(digest) = digest else { return Digits::Another };
        if digest.starts_with(given) {
            return Digits::Agree;
        }
        let (typed, sealed) = (fours(given), fours(digest));
        let differ: Vec<usize> = (0..typed.len())
            .filter(|at| sealed.get(*at).is_none_or(|sealed| !sealed.starts_with(typed[*at])))
            .collect();
        let exchanged =
            matches!(differ[..], [one, other] if typed[one] == sealed[other] && typed[other] == sealed[one]);
        let slips = (given.len().saturating_sub(1)..=given.len() + 1)
            .filter_map(|length| digest.get(..length.min(digest.len())))
            .map(|part| strsim::osa_distance(given, part))
            .min();
        let near = differ.len() == 1 || exchanged || slips.is_some_and(|slips| slips <= MOST_SLIPS);
        match differ.first().filter(|_| near) {
            Some(at) => Digits::Mistyped {
                row: at / 4 + 1,
                group: at % 4 + 1,
                given: typed[*at].to_string(),
                sealed: sealed.get(*at).copied().unwrap_or_default().to_string(),
            },
            None => Digits::Another,
        }
    }
}

/// The groups in which a slip shows digits, one after the other; none that is empty.
fn fours(digits: &str) -> Vec<&str> {
    bag::groups(digits).into_iter().flatten().filter(|four| !four.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const DIGEST: &str = "9f3c02ab11d4e58a7702bc6619f0a3de48c1d95b3e7af208c65d0917be42a3f1";

    fn compared(given: &str) -> Digits {
        Digits::compare(Some(given), Some(DIGEST))
    }

    #[test]
    fn digits_agree_from_the_first_row_on() {
        assert_eq!(compared(DIGEST), Digits::Agree);
        assert_eq!(compared(&DIGEST[..16]), Digits::Agree);
        assert_eq!(Digits::compare(None, Some(DIGEST)), Digits::NotGiven);
        assert_eq!(Digits::compare(Some(DIGEST), None), Digits::Another);
    }

    #[test]
    fn a_slip_of_typing_is_told_with_its_place() {
        let slip = |given: &str| match compared(given) {
            Digits::Mistyped { row, group, given, sealed } => (row, group, given, sealed),
            other => panic!("{given}: {other:?}"),
        };
        let group = |given: &str, sealed: &str| (2, 1, given.to_string(), sealed.to_string());
        // A whole group read wrongly, two digits exchanged, one left out, one doubled.
        assert_eq!(slip(&DIGEST.replace("7702", "1234")), group("1234", "7702"));
        assert_eq!(slip(&DIGEST.replace("7702", "7720")), group("7720", "7702"));
        assert_eq!(slip(&DIGEST.replace("7702", "702")), group("702b", "7702"));
        assert_eq!(slip(&DIGEST[..32].replace("7702", "77702")), group("7770", "7702"));
        // Two groups exchanged.
        assert_eq!(slip(&DIGEST.replace("7702bc66", "bc667702")), group("bc66", "7702"));
    }

    #[test]
    fn the_digits_of_another_packet_are_no_slip() {
        let other: String = DIGEST.chars().rev().collect();
        assert_eq!(compared(&other), Digits::Another);
        assert_eq!(compared(&DIGEST[16..]), Digits::Another);
        assert_eq!(compared(&DIGEST.replace("7702", "1234").replace("19f0", "4321")), Digits::Another);
    }
}
