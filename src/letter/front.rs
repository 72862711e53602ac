//! The front matter of a letter: when it applies, its subject, its enclosures.
//!
//! Comes in: the text of one letter. Goes out: [`Front`] and where the body begins, or what is wrong. Knows the
//! names of facts, and no figures.

use super::tags::nearest;
use crate::credit::facts::FACT_NAMES;
use crate::finding::{Finding, SourceId, Sources, Span, Spanned};
use crate::record::rule::Takes;
use crate::record::shape::{Keyed, Refused, Shape, Spot, Written, coded, read_root, records};
use crate::record::tree::{self, Node, Value};
use crate::record::{FileKind, Reading, in_order};

/// The version of the contract that letters are written against: names, facts and front matter.
pub const KIT: &str = "1";

records! {
    /// What stands between the two `---` lines of a letter.
    #[derive(Clone, Debug, PartialEq)]
    pub struct Front, "front matter" {
        /// The version of the contract; always `1`.
        must kit: KitNumber, "1", "the version of the contract that it is written for";
        /// Facts that must all hold.
        may when: OneOrMore<FactName>, "carries_out", "facts that must all hold";
        /// Facts of which none may hold.
        may unless: OneOrMore<FactName>, "draft", "facts of which none may hold";
        /// The subject line; names are filled in.
        must subject: Spanned<String>, "Your credits for {{year}}", "the subject line";
        /// What lies with the letter; names are filled in.
        may enclosures: OneOrMore<String>, "Worksheet", "what lies with the letter";
    }
}

/// The version of the contract; always [`KIT`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KitNumber;

impl Written for KitNumber {
    const WRITTEN: Takes = Takes::FormatNumber;

    fn of(text: &str) -> Result<KitNumber, Refused> {
        let message = format!("this is written for kit {text}, and this program has kit {KIT}");
        let refused = Refused::new(message, "copy the letters out afresh and carry your changes over");
        (text == KIT).then_some(KitNumber).ok_or_else(|| refused.coded(OTHER_KIT))
    }
}

/// The name of a fact that there is.
#[derive(Clone, Debug, PartialEq)]
pub struct FactName(pub String);

impl Written for FactName {
    fn of(text: &str) -> Result<FactName, Refused> {
        let known: Vec<&str> = FACT_NAMES.iter().map(|(name, _)| *name).collect();
        match known.contains(&text) {
            true => Ok(FactName(text.to_string())),
            false => {
                let help = match nearest(text, known.into_iter()) {
                    Some(name) => format!("did you mean `{name}`?"),
                    None => {
                        "`when` and `unless` take names of facts; `gablework schema` lists them".to_string()
                    }
                };
                Err(Refused::new(format!("there is no fact named `{text}`"), help).coded(UNKNOWN_FACT))
            }
        }
    }
}

/// One text or a list of them.
#[derive(Clone, Debug, PartialEq)]
pub struct OneOrMore<T>(pub Vec<Spanned<T>>);

impl<T> Default for OneOrMore<T> {
    fn default() -> OneOrMore<T> {
        OneOrMore(Vec::new())
    }
}

impl<T: Written> Shape for OneOrMore<T> {
    const TAKES: Takes = Takes::OneOrList(&T::WRITTEN);

    fn read(reading: &mut Reading<'_>, node: &Node, spot: &Spot<'_>) -> Option<OneOrMore<T>> {
        match &node.value {
            Value::List(items) if items.is_empty() && !node.broken => {
                let empty = Finding::error(FRONT, "the list is empty").at(node.span);
                reading.findings.push(empty.help("write an entry, or delete the key"));
                None
            }
            Value::List(_) => Vec::read(reading, node, spot).map(OneOrMore),
            _ => Spanned::read(reading, node, spot).map(|one| OneOrMore(vec![one])),
        }
    }
}

/// The code of what is written for another kit.
const OTHER_KIT: &str = "template-kit";
/// The code of a fact that there is not.
const UNKNOWN_FACT: &str = "template-unknown-fact";
/// The code of what is wrong with the form of a front matter.
const FRONT: &str = "template-front";

/// The front matter of a letter as a kind of file.
static FILE: FileKind = FileKind::data("a letter's front matter", "the front matter", &[Front::BLOCK]);

/// Reads the front matter of a letter that `sources` has. Returns it with the byte at which the body begins.
pub fn read(source: SourceId, sources: &mut Sources, findings: &mut Vec<Finding>) -> Option<(Front, usize)> {
    let text = sources.get(source).text.clone();
    let Some((start, end, body)) = bounds(&text) else {
        let first = text.lines().next().map_or(0, str::len);
        findings.push(
            Finding::error(FRONT, "a letter begins with `---`, its front matter, and `---` again")
                .at(Span { source, start: 0, end: first as u32 })
                .help("begin like this: `---`, `kit: 1`, `subject: Your credits for {{year}}`, `---`, each on a line of its own"),
        );
        return None;
    };
    let mut told = Vec::new();
    let root = tree::part(source, start..end, &FILE, sources, &mut told);
    let front = root.and_then(|root| read_root::<Front>(&root, &text, &FILE, &mut told));
    let told = coded(in_order(told, sources, &FILE), FRONT, &[OTHER_KIT, UNKNOWN_FACT]);
    let sound = told.is_empty();
    findings.extend(told);
    front.filter(|_| sound).map(|front| (front, body))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Sources;

    fn told(text: &str) -> (Option<(Front, usize)>, Vec<String>) {
        let mut sources = Sources::default();
        let source = sources.add("letters/en/x.md", text);
        let mut findings = Vec::new();
        let front = read(source, &mut sources, &mut findings);
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
        let names = |facts: &OneOrMore<FactName>| -> Vec<String> {
            facts.0.iter().map(|one| one.value.0.clone()).collect()
        };
        assert_eq!(names(&front.when), ["carries_out"]);
        assert_eq!(names(&front.unless), ["used_up", "draft"]);
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
            ("---\nkit: 2\nsubject: x\n---\n", "2:6 [template-kit] 2 | this is written for kit 2"),
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
