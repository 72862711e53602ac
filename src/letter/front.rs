//! The front matter of a letter: when it applies, its subject, its enclosures.
//!
//! Comes in: the text of one letter. Goes out: [`Front`] and where the body begins, or what is wrong. Knows the
//! names of facts, and no figures.

use super::words::nearest;
use crate::credit::facts::FACT_NAMES;
use crate::finding::{Finding, SourceId, Span};
use crate::written::beyond_reading;
use serde::Deserialize;
use serde::de::{Deserializer, Error as _, SeqAccess, Visitor};
use std::fmt;

/// The version of the contract that letters are written against: names, facts and front matter.
pub const KIT: &str = "1";

/// What stands between the two `---` lines of a letter.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Front {
    /// The version of the contract; always `1`.
    pub kit: Line,
    /// Facts that must all hold.
    #[serde(default)]
    pub when: Lines,
    /// Facts of which none may hold.
    #[serde(default)]
    pub unless: Lines,
    /// The subject line; names are filled in.
    pub subject: Line,
    /// What lies with the letter; names are filled in.
    #[serde(default)]
    pub enclosures: Lines,
}

/// One text, read as written; a number is its digits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line(pub String);

/// One text or a list of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lines(pub Vec<String>);

impl<'de> Deserialize<'de> for Line {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Line, D::Error> {
        deserializer.deserialize_str(Texts).map(|lines| Line(lines.0.concat()))
    }
}

impl<'de> Deserialize<'de> for Lines {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Lines, D::Error> {
        deserializer.deserialize_any(Texts)
    }
}

struct Texts;

impl<'de> Visitor<'de> for Texts {
    type Value = Lines;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("words, or a list of them")
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Lines, E> {
        if text.trim().is_empty() {
            return Err(E::custom("nothing stands here; write the words or delete the key"));
        }
        Ok(Lines(vec![text.to_string()]))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Lines, A::Error> {
        let mut lines = Vec::new();
        while let Some(Line(line)) = list.next_element()? {
            lines.push(line);
        }
        if lines.is_empty() {
            return Err(A::Error::custom("the list is empty; delete the key"));
        }
        Ok(Lines(lines))
    }
}

/// Reads the front matter of a letter. Returns it with the byte at which the body begins.
pub fn read(text: &str, source: SourceId, findings: &mut Vec<Finding>) -> Option<(Front, usize)> {
    let place = |start: usize, end: usize| Span { source, start: start as u32, end: end as u32 };
    let Some((start, end, body)) = bounds(text) else {
        findings.push(
            Finding::error("template-front", "a letter begins with `---`, its front matter, and `---` again")
                .at(place(0, text.lines().next().map_or(0, str::len)))
                .help("begin like this: `---`, `kit: 1`, `subject: Your credits for {{year}}`, `---`, each on a line of its own"),
        );
        return None;
    };
    if let Some((at, why)) = beyond_reading(&text[start..end]) {
        let sign = text[start + at..].chars().next().map_or(0, char::len_utf8);
        findings.push(
            Finding::error("template-front", format!("the front matter cannot be read: {why}"))
                .at(place(start + at, start + at + sign))
                .help("the keys are `kit`, `when`, `unless`, `subject` and `enclosures`"),
        );
        return None;
    }
    let front: Front = match serde_yaml::from_str(&text[start..end]) {
        Ok(front) => front,
        Err(error) => {
            let message = error.to_string();
            let reason = message.rsplit_once(" at line ").map_or(message.as_str(), |(reason, _)| reason);
            let at = start + error.location().map_or(0, |place| place.index()).min(end - start);
            let line_end = text[at..].find('\n').map_or(text.len(), |n| at + n);
            findings.push(
                Finding::error("template-front", format!("the front matter cannot be read: {reason}"))
                    .at(place(at, line_end.max(at)))
                    .help("the keys are `kit`, `when`, `unless`, `subject` and `enclosures`; words with a colon need quotes"),
            );
            return None;
        }
    };
    let mut sound = true;
    if front.kit.0 != KIT {
        let (from, to) = word_after(text, start..end, "kit", &front.kit.0);
        findings.push(
            Finding::error(
                "template-kit",
                format!("this letter is written for kit {}, and this program has kit {KIT}", front.kit.0),
            )
            .at(place(from, to))
            .help("copy the letters out afresh and carry your changes over"),
        );
        sound = false;
    }
    for (key, facts) in [("when", &front.when), ("unless", &front.unless)] {
        for fact in &facts.0 {
            if FACT_NAMES.iter().any(|(name, _)| name == fact) {
                continue;
            }
            let (from, to) = word_after(text, start..end, key, fact);
            let known = FACT_NAMES.iter().map(|(name, _)| *name);
            findings.push(
                Finding::error("template-unknown-fact", format!("there is no fact named `{fact}`"))
                    .at(place(from, to))
                    .help(nearest(fact, known).map_or_else(
                        || {
                            "`when` and `unless` take names of facts; `gablework schema` lists them"
                                .to_string()
                        },
                        |name| format!("did you mean `{name}`?"),
                    )),
            );
            sound = false;
        }
    }
    sound.then_some((front, body))
}

/// Returns the bytes of the front matter and the first byte of the body.
fn bounds(text: &str) -> Option<(usize, usize, usize)> {
    let mut at = 0;
    let mut start = None;
    for line in text.split_inclusive('\n') {
        let next = at + line.len();
        let fence = line.trim_end() == "---";
        match start {
            None if fence => start = Some(next),
            None => return None,
            Some(start) if fence => return Some((start, at, next)),
            Some(_) => {}
        }
        at = next;
    }
    None
}

/// Finds a word behind a key of the front matter; the key itself where the word is written otherwise.
pub(super) fn word_after(text: &str, front: std::ops::Range<usize>, key: &str, word: &str) -> (usize, usize) {
    let inside = &text[front.clone()];
    let key_at = inside
        .match_indices(key)
        .find(|(at, _)| {
            (*at == 0 || inside.as_bytes()[at - 1] == b'\n')
                && inside[at + key.len()..].trim_start().starts_with(':')
        })
        .map_or(0, |(at, _)| at);
    let behind = key_at + key.len();
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let found = inside.get(behind..).unwrap_or("").match_indices(word).find(|(at, _)| {
        let before = inside[..behind + at].chars().next_back();
        let after = inside[behind + at + word.len()..].chars().next();
        !before.is_some_and(is_word) && !after.is_some_and(is_word)
    });
    match found {
        Some((at, _)) => (front.start + behind + at, front.start + behind + at + word.len()),
        None => (front.start + key_at, front.start + behind),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Sources;

    fn told(text: &str) -> (Option<(Front, usize)>, Vec<String>) {
        let mut sources = Sources::default();
        let source = sources.add("letters/en/x.md", text);
        let mut findings = Vec::new();
        let front = read(text, source, &mut findings);
        let told = findings
            .iter()
            .map(|one| {
                let at = one.at.expect("every finding has a place");
                let place = sources.line_column(at);
                format!(
                    "{}:{} [{}] {} | {} | {}",
                    place.line,
                    place.column,
                    one.code,
                    sources.excerpt(at),
                    one.message,
                    one.help.as_deref().unwrap_or("")
                )
            })
            .collect();
        (front, told)
    }

    #[test]
    fn one_fact_or_a_list() {
        let (front, told) =
            told("---\nkit: 1\nwhen: carries_out\nunless: [used_up, draft]\nsubject: Hello\n---\nBody");
        assert!(told.is_empty(), "{told:?}");
        let (front, body) = front.unwrap();
        assert_eq!(front.when.0, ["carries_out"]);
        assert_eq!(front.unless.0, ["used_up", "draft"]);
        assert_eq!(
            body,
            "---\nkit: 1\nwhen: carries_out\nunless: [used_up, draft]\nsubject: Hello\n---\n".len()
        );
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        for (text, wanted) in [
            ("no front", "1:1 [template-front] no front | a letter begins with `---`"),
            (
                "---\nkit: 1\nwhen: carries_ot\nsubject: x\n---\n",
                "3:7 [template-unknown-fact] carries_ot | there is no fact named `carries_ot` | did you mean `carries_out`?",
            ),
            (
                "---\nkit: 1\nwhen:\n  - draft\n  - used_upp\nsubject: x\n---\n",
                "5:5 [template-unknown-fact] used_upp | there is no fact named `used_upp` | did you mean `used_up`?",
            ),
            ("---\nkit: 2\nsubject: x\n---\n", "2:6 [template-kit] 2 | this letter is written for kit 2"),
        ] {
            let (front, told) = told(text);
            assert!(front.is_none() && told.len() == 1, "{text}: {told:?}");
            assert!(told[0].starts_with(wanted), "{} for {wanted}", told[0]);
        }
    }

    #[test]
    fn unknown_and_missing_keys_are_refused() {
        for text in [
            "---\nkit: 1\nsubjekt: x\n---\n",
            "---\nkit: 1\n---\n",
            "---\nsubject: x\n---\n",
            "---\nkit: 1\nsubject: x\nsubject: y\n---\n",
            "---\nkit: 1\nsubject: x\nwhen: []\n---\n",
            "---\nkit: 1\nsubject: x\nwhen: {a: b}\n---\n",
        ] {
            let (front, told) = told(text);
            assert!(front.is_none() && told.len() == 1, "{text}: {told:?}");
        }
    }
}
