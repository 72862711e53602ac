//! Reading groups of keys: which keys are there, which are missing, which do not belong.
//!
//! Comes in: a [`Node`] and the [`Block`] that says what may be there. Goes out: [`Fields`], from which single values
//! are read. Every function goes on after an error, so that one run shows all of them; what is already known to be
//! broken is passed over in silence.

use super::file::FileKind;
use super::guess::{did_you_mean, guess_amount, looks_like_amount};
use super::node::{Entry, Node, Value};
use super::rule::{Block, KeyRule, Takes};
use super::syntax::quoted;
use crate::finding::{Finding, Span, Spanned};
use crate::money::Money;
use std::collections::HashSet;

/// Behind so many findings no more proposals are sought.
pub(super) const MANY: usize = 300;

/// What is common to reading all values of one file: the whole tree, its text, and the findings so far.
pub struct Reading<'t> {
    /// The whole tree, for references.
    pub root: &'t Node,
    /// The text of the file.
    pub text: &'t str,
    /// What kind of file it is.
    pub kind: &'static FileKind,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was found about names of sections that no result depends on.
    pub asides: Vec<Finding>,
    /// A value that everything needs could not be read, although the rest was.
    pub useless: bool,
    /// Sections and the names that stand in them.
    pub(super) names: HashSet<(&'static str, &'t str)>,
}

/// A group of keys with the block that says what they are.
pub struct Fields<'t> {
    /// What may stand here.
    block: &'static Block,
    /// Its path, such as `property.roof-array`.
    pub place: String,
    /// Where to point when something is missing.
    pub head: Span,
    /// From the first to the last key.
    pub span: Span,
    /// The name or year it is written under, where it is an entry of a section.
    pub under: Option<&'t Spanned<String>>,
    /// The outermost keys of the file.
    pub(super) outermost: bool,
    entries: &'t [Entry],
    /// Not all of it could be read, and a finding says so already.
    broken: bool,
}

impl<'t> Fields<'t> {
    /// Returns what stands behind a key; reports it if something must stand there and nothing does.
    pub fn get(&self, reading: &mut Reading<'_>, key: &str) -> Option<&'t Node> {
        let entry = self.entries.iter().find(|one| one.key.value == key)?;
        let node = &entry.value;
        if node.is_nothing() {
            if let Some(rule) = self.block.rule(key).filter(|rule| rule.required)
                && !node.broken
            {
                reading.findings.push(
                    Finding::error(
                        "nothing-here",
                        format!("nothing stands behind `{key}`, which {} needs", self.place),
                    )
                    .at(entry.key.span)
                    .help(format!("write it like `{key}: {}` ({})", rule.example, rule.meaning)),
                );
            }
            return None;
        }
        let unread_text = node.broken && matches!(node.value, Value::Text { .. });
        (!unread_text).then_some(node)
    }

    /// Says whether a key stands here at all, readable or not.
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|one| one.key.value == key && !one.value.is_nothing())
    }

    /// Returns the place of a key and what is behind it.
    pub fn entry_span(&self, key: &str) -> Option<Span> {
        let entry = self.entries.iter().find(|one| one.key.value == key)?;
        Some(entry.key.span.to(entry.value.span))
    }

    /// Returns the text behind a key, unread, where it is one.
    pub fn text_of(&self, key: &str) -> Option<&'t str> {
        let node = self.entries.iter().find(|one| one.key.value == key).map(|one| &one.value)?;
        match &node.value {
            Value::Text { text, .. } if !node.broken && !node.is_nothing() => Some(text.trim()),
            _ => None,
        }
    }

    /// Returns the place of a key.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        self.entries.iter().find(|one| one.key.value == key).map(|one| one.key.span)
    }

    /// Says whether a key is there in a way that is a mistake and has its own finding, so that it is not missing too.
    fn meant(&self, key: &str, reading: &Reading<'_>) -> bool {
        self.entries.iter().any(|one| {
            let written = one.key.value.as_str();
            written.split_once(':').is_some_and(|(name, _)| name == key)
                || self.block.rule(written).is_none() && without_colon(written, self.block) == Some(key)
                || self.block.rule(written).is_none() && written.eq_ignore_ascii_case(key)
                || self.block.rule(written).is_none()
                    && reading.kind.habits.stands_for(written, key, self.block)
        })
    }

    /// Reads an amount that is written somewhere in this group.
    pub(super) fn amount(&self, reading: &mut Reading<'_>, node: &Node, key: &str) -> Option<Spanned<Money>> {
        let lowers = reading.kind.habits.lowers(self.entries, self.block);
        reading.money_of(node, key, lowers)
    }

    /// Joins the path of a key below.
    pub fn path(&self, key: &str) -> String {
        match self.outermost {
            true => key.to_string(),
            false => format!("{}.{key}", self.place),
        }
    }
}

impl<'t> Reading<'t> {
    /// Begins with the whole tree and its text.
    pub fn new(root: &'t Node, text: &'t str, kind: &'static FileKind) -> Reading<'t> {
        let mut names = HashSet::new();
        for section in kind.sections.iter().copied() {
            if let Some(Node { value: Value::Map { entries, .. }, .. }) = root.get(section) {
                names.extend(entries.iter().map(|one| (section, one.key.value.as_str())));
            }
        }
        Reading { root, text, kind, findings: Vec::new(), asides: Vec::new(), useless: false, names }
    }
}

impl Reading<'_> {
    /// Opens a group of keys; reports every key the block does not have.
    pub fn fields<'n>(
        &mut self,
        node: &'n Node,
        head: Span,
        block: &'static Block,
        place: String,
    ) -> Option<Fields<'n>> {
        let entries = self.entries(node, head, &|| place.clone())?;
        let Value::Map { braces, .. } = node.value else {
            return None;
        };
        if let Some(finding) = self.kind.habits.misplaced(entries, block) {
            self.findings.push(finding.at(entries.first().map_or(node.span, |one| one.key.span)));
            return None;
        }
        for (n, entry) in entries.iter().enumerate() {
            if block.rule(&entry.key.value).is_none() && !entry.key.value.starts_with('?') {
                let before = n.checked_sub(1).map(|n| &entries[n]);
                self.unknown_key(entry, before, braces, block, &place);
            }
        }
        let fields = Fields {
            block,
            place,
            head: match head == node.span && !braces {
                true => entries.first().map_or(head, |one| one.key.span),
                false => head,
            },
            span: node.span,
            under: None,
            outermost: std::ptr::eq(node, self.root),
            entries,
            broken: node.broken,
        };
        if !node.broken {
            self.missing(&fields);
        }
        Some(fields)
    }

    /// Opens a group of keys whose names are the client's own; reports what is none.
    pub fn entries<'n>(
        &mut self,
        node: &'n Node,
        head: Span,
        place: &dyn Fn() -> String,
    ) -> Option<&'n [Entry]> {
        match &node.value {
            Value::Map { entries, .. } => Some(entries),
            _ if node.broken => None,
            _ if node.is_nothing() => {
                self.findings.push(
                    Finding::error("nothing-here", format!("nothing stands under {}", place()))
                        .at(head)
                        .help("write its keys below it, further in, or delete it"),
                );
                None
            }
            _ => {
                let place = place();
                let name = place.rsplit('.').next().unwrap_or(&place);
                let rule = self.kind.blocks.iter().find_map(|block| block.rule(name));
                let example = rule.map(|rule| rule.example);
                let listed = matches!(node.value, Value::List(_));
                let help = match (rule.map(|rule| &rule.takes), example) {
                    (Some(Takes::ByYear(..)), _) if listed => {
                        "leave the hyphen out and begin each entry with its year, such as `2024:`".to_string()
                    }
                    (Some(Takes::Named(_)), Some(example)) if listed => {
                        let key = example.split_once(':').map_or("key", |(key, _)| key);
                        format!(
                            "leave the hyphen out and begin each entry with a key of its own, such as `{key}:`"
                        )
                    }
                    (_, Some(example)) if example.starts_with('{') && !listed && !example.contains("..") => {
                        format!("write it like `{name}: {example}`")
                    }
                    _ => "write each key on a line of its own, further in, with a colon and a value"
                        .to_string(),
                };
                self.wrong_shape(
                    node.span,
                    format!("{place} consists of keys with values, and {}", node.stands()),
                )
                .help(help);
                None
            }
        }
    }

    /// Returns the entries of a list.
    pub fn list<'n>(&mut self, node: &'n Node, key: &str) -> &'n [Node] {
        match &node.value {
            Value::List(items) => items,
            _ if node.broken => &[],
            _ => {
                let hyphen = match &node.value {
                    Value::Map { entries, .. } => entries.iter().find(|one| one.key.value.starts_with('-')),
                    _ => None,
                };
                match hyphen {
                    Some(entry) => self
                        .wrong_shape(
                            entry.key.span,
                            "a blank is missing after the hyphen that begins an entry of a list".to_string(),
                        )
                        .help("write `- ` and then the entry"),
                    None => self
                        .wrong_shape(node.span, format!("`{key}` takes a list, and {}", node.stands()))
                        .help("begin each entry with `- `, or put the entries in [ ]"),
                }
                &[]
            }
        }
    }

    /// Reports that something of another shape stands here, and lets the caller add help.
    pub fn wrong_shape(&mut self, at: Span, message: String) -> Helping<'_> {
        self.findings.push(Finding::error("wrong-shape", message).at(at));
        Helping(self.findings.last_mut())
    }

    /// Reports every key that is always required in a group and is not there, in one finding.
    fn missing(&mut self, fields: &Fields<'_>) {
        self.absent(fields, |rule| rule.required);
    }

    /// Reports in one finding which of some keys, required because of what else the case says, are not there.
    pub fn require(&mut self, fields: &Fields<'_>, keys: &[&str]) {
        if fields.broken {
            return;
        }
        self.absent(fields, |rule| keys.contains(&rule.key));
    }

    fn absent(&mut self, fields: &Fields<'_>, required: impl Fn(&KeyRule) -> bool) {
        let absent: Vec<&KeyRule> = fields
            .block
            .keys
            .iter()
            .filter(|rule| {
                required(rule) && fields.key_span(rule.key).is_none() && !fields.meant(rule.key, self)
            })
            .collect();
        let names: Vec<String> = absent.iter().map(|rule| format!("`{}`", rule.key)).collect();
        let message = match names.as_slice() {
            [] => return,
            [one] => format!("{one} is missing in {}", fields.place),
            [all @ .., last] => format!("{} and {last} are missing in {}", all.join(", "), fields.place),
        };
        // An example of a word that decides something would be taken over; all words are shown instead.
        let mut words: Vec<(&'static str, &'static str)> = Vec::new();
        let mut lines = Vec::new();
        for rule in &absent {
            let known = rule.takes.words();
            match self.kind.habits.deciding(rule.key, &known) {
                Some(list) => {
                    words.extend(known.into_iter().map(|word| (list, word)));
                    lines.push(format!("{}: ..   # {}", rule.key, rule.meaning));
                }
                None => lines.push(format!("{}: {}   # {}", rule.key, rule.example, rule.meaning)),
            }
        }
        let finding = Finding::error("missing-key", message)
            .at(fields.head)
            .help(format!("add, for example:\n{}", lines.join("\n")));
        let finding = match words.is_empty() {
            true => finding,
            false => {
                let of = words.iter().map(|(list, _)| *list).collect();
                let choices = self.kind.habits.choices(self.root, Some(fields.head), of, words);
                finding.choices(choices)
            }
        };
        self.findings.push(finding);
    }

    fn unknown_key(
        &mut self,
        entry: &Entry,
        before: Option<&Entry>,
        braces: bool,
        block: &'static Block,
        place: &str,
    ) {
        let key = entry.key.value.as_str();
        // Inside braces a comma ends a value; what follows it then looks like a key with nothing behind it.
        if braces
            && entry.value.is_nothing()
            && entry.value.span.start == entry.value.span.end
            && let Some(before) = before
            && let Value::Text { text, plain: true } = &before.value.value
            && without_colon(key, block).is_none()
        {
            let whole = Span { end: entry.key.span.end, ..before.value.span };
            let written = self.text.get(whole.start as usize..whole.end as usize).unwrap_or(text);
            self.findings.push(
                Finding::error(
                    "comma-in-braces",
                    "inside braces a comma ends a value, so this one is cut in two",
                )
                .at(whole)
                .help(match guess_amount(written) {
                    Some(guess) => format!("write {} if that is the amount meant", quoted(&guess)),
                    None if looks_like_amount(written) && Money::read(written).is_err() => {
                        "check the amount, and write it without the comma, like 12500.00".to_string()
                    }
                    None => format!("put the whole in quotes: {}", quoted(written)),
                }),
            );
            return;
        }
        if let Some(name) = without_colon(key, block).filter(|_| entry.value.is_nothing()) {
            let rest = key.strip_prefix(name).unwrap_or_default().trim();
            self.findings.push(
                Finding::error("unknown-key", format!("a colon is missing behind `{name}`"))
                    .at(entry.key.span)
                    .help(format!("write `{name}: {rest}`")),
            );
            return;
        }
        if let Some((name, _)) = key.split_once(':').filter(|(name, _)| block.rule(name).is_some()) {
            self.findings.push(
                Finding::error("unknown-key", format!("a blank is missing behind `{name}:`"))
                    .at(entry.key.span)
                    .help(format!("write `{name}: ` and then the value")),
            );
            return;
        }
        if let Some(finding) = self.kind.habits.unknown_key(key, block) {
            self.findings.push(finding.at(entry.key.span));
            return;
        }
        let known: Vec<&str> = block.keys.iter().map(|rule| rule.key).collect();
        let elsewhere: Vec<&str> =
            self.kind.blocks.iter().filter(|one| one.rule(key).is_some()).map(|one| one.name).collect();
        let near = match self.findings.len() > MANY {
            true => Vec::new(),
            false => self.kind.habits.keys_meant(block, key, &known),
        };
        let help = match did_you_mean(&near) {
            Some(asked) => asked,
            // So many strangers are another kind of file; proposals would only take time.
            None if self.findings.len() > MANY => format!("this is no key of {}", self.kind.a),
            None if !elsewhere.is_empty() && elsewhere.len() <= 4 => {
                format!("`{key}` belongs to: {}; here may stand: {}", elsewhere.join(", "), known.join(", "))
            }
            None => format!("here may stand: {}", known.join(", ")),
        };
        self.findings.push(
            Finding::error("unknown-key", format!("`{key}` is not a key of {place}"))
                .at(entry.key.span)
                .help(help),
        );
    }
}

/// Finds the key at the head of a text that lacks only its colon, as in `as equipment`.
fn without_colon(written: &str, block: &'static Block) -> Option<&'static str> {
    let (name, _) = written.split_once(' ')?;
    block.keys.iter().map(|rule| rule.key).find(|key| *key == name)
}

/// The finding just reported, to add help to.
pub struct Helping<'f>(Option<&'f mut Finding>);

impl Helping<'_> {
    /// Adds what to write instead.
    pub fn help(self, help: impl Into<String>) {
        if let Some(finding) = self.0 {
            finding.help = Some(help.into());
        }
    }
}
