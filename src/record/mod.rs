//! Reading the YAML that people write: with the place of every value, and all mistakes in one run.
//!
//! Comes in: the text of a file, or of a part of one, and its [`FileKind`]. Goes out: first the [tree](tree) of what
//! is written, which refuses all that two readers of YAML could read differently, then, through [`Reading`], values
//! of the shapes that a [table of keys](rule) describes. Knows no kind of file.

pub mod declare;
pub mod edit;
pub mod fields;
pub mod file;
mod followers;
mod guess;
mod leaf;
mod node;
pub mod rule;
pub mod schema;
pub mod shape;
mod syntax;
pub mod tree;
pub mod write;

pub(crate) use declare::record;
pub use declare::{
    ByYear, Form, Given, Leaf, Must, NameIn, Named, OneOrList, Record, Section, Slot, Text, Unsaid, Years,
};
pub use fields::{Fields, Reading};
pub use file::{Advice, FileKind, Habits, Limits, Misspelled, NoHabits, Wrong};
pub(crate) use followers::in_order;
pub(crate) use guess::{bare, day_in_words, near, suggest};
pub use leaf::{Key, MAX_LINE};

#[cfg(test)]
mod tests {
    use super::rule::{Block, KeyRule, Takes};
    use super::tree::Value;
    use super::{Advice, FileKind, Limits, NoHabits, Reading, in_order, tree};
    use crate::finding::Spanned;
    use crate::finding::{Finding, Sources};
    use crate::money::Money;
    use jiff::civil::Date;

    static STEP: Block = Block {
        name: "step",
        keys: &[
            KeyRule::must("rule", Takes::Line, "basis", "which rule"),
            KeyRule::may("limit", Takes::Amount, "500", "how much"),
            KeyRule::may("by", Takes::Date, "2024-05-14", "until when"),
        ],
        besides: None,
    };

    static STEPS: FileKind = FileKind {
        a: "a list of steps",
        the: "the list of steps",
        limits: Limits { bytes: 10_000, depth: 4, nodes: 100, text: 200 },
        advice: Advice {
            usual: "a list of steps has a few hundred",
            instead: "name the list of steps",
            holds: "one file holds one list",
            second: ("a second document begins here", "delete the line `---`"),
            levels: "three",
            long_text: "shorten it",
            long_line: "shorten it",
        },
        blocks: &[&STEP],
        sections: &[],
        asides: &[],
        habits: &NoHabits,
    };

    fn told(findings: Vec<Finding>, sources: &Sources) -> Vec<String> {
        let findings = in_order(findings, sources, &STEPS);
        let told = findings.iter().map(|one| {
            let at = one.at.expect("a place");
            let (place, text) = (sources.line_column(at), sources.excerpt(at));
            format!("{}:{} {} `{text}`", place.line, place.column, one.code)
        });
        told.collect()
    }

    /// A file may begin with a list, and three mistakes in it are three findings, each at its place.
    #[test]
    fn every_mistake_of_a_list_is_found_in_one_run() {
        let text = "- rule: basis\n  limit: 1e3\n- rul: limit\n- {rule: x, by: 2024-02-30, more: 1}\n";
        let (mut sources, mut findings) = (Sources::default(), Vec::new());
        let (source, root) = tree::read("steps.yaml", text.as_bytes(), &STEPS, &mut sources, &mut findings);
        let (root, text) = (root.expect("a tree"), sources.get(source).text.clone());
        let mut reading = Reading::new(&root, &text, &STEPS);
        let read: Vec<_> = (reading.list(&root, "steps").iter().enumerate())
            .filter_map(|(n, one)| reading.fields(one, one.span, &STEP, format!("step {}", n + 1)))
            .collect();
        let rules: Vec<_> =
            read.iter().filter_map(|one| one.read::<Spanned<String>>(&mut reading, "rule")).collect();
        assert_eq!(rules.iter().map(|one| one.value.as_str()).collect::<Vec<_>>(), ["basis", "x"]);
        read.iter().for_each(|one| {
            one.read::<Option<Spanned<Money>>>(&mut reading, "limit");
            one.read::<Option<Spanned<Date>>>(&mut reading, "by");
        });
        assert_eq!(
            told(reading.findings, &sources),
            [
                "2:10 amount-form `1e3`",
                "3:3 unknown-key `rul`",
                "3:3 missing-key `rul`",
                "4:17 date-form `2024-02-30`",
                "4:29 unknown-key `more`"
            ]
        );
    }

    /// What is between the first two lines `---` of a letter is read where it stands, and nothing behind it.
    #[test]
    fn a_part_of_a_text_is_read_at_its_place() {
        let letter = "---\nrule: basis\nlimit: 12 dollars\n---\n\n%b: {not yaml\n";
        let mut sources = Sources::default();
        let source = sources.add("letter.md", letter);
        let part = |range, sources: &mut Sources| {
            let mut findings = Vec::new();
            let root = tree::part(source, range, &STEPS, sources, &mut findings);
            (root, findings)
        };
        let (root, findings) = part(4..34, &mut sources);
        assert_eq!(findings, []);
        let root = root.expect("a tree");
        let mut reading = Reading::new(&root, letter, &STEPS);
        let fields = reading.fields(&root, root.span, &STEP, "the front matter".to_string()).expect("keys");
        assert_eq!(fields.path("limit"), "limit");
        fields.read::<Option<Spanned<Money>>>(&mut reading, "limit");
        assert_eq!(told(reading.findings, &sources), ["3:8 amount-form `12 dollars`"]);

        let (_, findings) = part(39..letter.len(), &mut sources);
        assert_eq!(told(findings, &sources), ["6:2 directive `b:`"]);
        let (root, findings) = part(4..4, &mut sources);
        assert!(matches!(root.map(|one| one.value), Some(Value::Text { .. })));
        assert_eq!(findings, []);
    }
}
