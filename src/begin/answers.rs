//! The answers given so far, and the form in which they are kept until the case is written.
//!
//! Comes in: answers, or the bytes of an earlier run. Goes out: the same as bytes. They are kept as they would be
//! typed, so a later version of the program reads them again with care and asks anew what no longer fits.

use crate::case::single::without_numbers;
use serde::{Deserialize, Serialize};

/// Answers by the names of their questions, in the order in which they were first given.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers(Vec<(String, String)>);

/// What is kept.
#[derive(Serialize, Deserialize)]
struct Kept {
    about: String,
    format: u8,
    answers: Vec<(String, String)>,
}

const ABOUT: &str = "an unfinished case; `gablework begin` in this folder goes on with it";

impl Answers {
    /// Returns an answer.
    pub fn get(&self, id: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == id).map(|(_, answer)| answer.as_str())
    }

    /// Takes an answer, in place of an earlier one.
    pub fn put(&mut self, id: &str, answer: &str) {
        match self.0.iter_mut().find(|(known, _)| known == id) {
            Some((_, old)) => *old = answer.to_string(),
            None => self.0.push((id.to_string(), answer.to_string())),
        }
    }

    /// Forgets the answers with some names.
    pub fn forget(&mut self, named: impl Fn(&str) -> bool) {
        self.0.retain(|(id, _)| !named(id));
    }

    /// Returns how many there are.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// Returns the bytes to keep.
    pub fn to_bytes(&self) -> Vec<u8> {
        let kept = Kept { about: ABOUT.to_string(), format: 1, answers: self.0.clone() };
        let mut text = serde_json::to_string_pretty(&kept).unwrap_or_default();
        text.push('\n');
        text.into_bytes()
    }

    /// Reads kept bytes; `None` where they are none. An answer that holds a full taxpayer number was not given here; it
    /// is forgotten and asked for again.
    pub fn from_bytes(bytes: &[u8]) -> Option<Answers> {
        let mut kept: Kept = serde_json::from_slice(bytes).ok()?;
        kept.answers.retain(|(_, answer)| without_numbers(answer) == *answer);
        (kept.format == 1).then_some(Answers(kept.answers))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_survive_being_kept() {
        let mut answers = Answers::default();
        answers.put("reference", "HH-1");
        answers.put("people.1.name", "Zo\u{eb} \"Zed\" Rook");
        answers.put("reference", "HH-2");
        assert_eq!(answers.get("reference"), Some("HH-2"));
        assert_eq!(answers.count(), 2);
        assert_eq!(Answers::from_bytes(&answers.to_bytes()), Some(answers));
        let secret = br#"{"about":"","format":1,"answers":[["a","1"],["b","123-45-6789"]]}"#;
        assert_eq!(Answers::from_bytes(secret), Some(Answers(vec![("a".to_string(), "1".to_string())])));
        assert_eq!(Answers::from_bytes(b"format: 1"), None);
        assert_eq!(Answers::from_bytes(b"{\"about\":\"\",\"format\":2,\"answers\":[]}"), None);
    }
}
