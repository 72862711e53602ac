//! Reading one value: a text, an amount, a date, a word, a reference, a group of keys.
//!
//! Comes in: a [`Node`]. Goes out: the value with its place, or `None` after a finding that says what to
//! write. Every function goes on after an error, so that one run shows all of them; what is already known to
//! be broken is passed over in silence.

use super::format::{BLOCKS, Block, KeyRule, Takes};
use super::kinds::{HomeUse, Kind, OtherCredit};
use super::mistakes;
use super::model::{Key, TaxYear};
use super::read::{Entry, Node, Value};
use super::spoken::{self, Meant};
use super::syntax::quoted;
use crate::finding::{At, Choices, Finding, Span};
use crate::money::{Money, Quantity, Rate};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::collections::HashSet;
use std::ops::RangeInclusive;

/// Behind so many findings no more proposals are sought.
const MANY: usize = 300;
/// How many characters a text on one line may have.
pub(super) const MAX_LINE: usize = 200;

/// What is common to reading all values of one case: the whole tree, its text, and the findings so far.
pub(super) struct Reading<'t> {
    /// The whole tree, for references.
    pub root: &'t Node,
    /// The text of the file.
    pub text: &'t str,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was found about papers; no figure depends on it.
    pub about_papers: Vec<Finding>,
    /// Sections and the names that stand in them.
    names: HashSet<(&'static str, &'t str)>,
}

/// A group of keys with the block that says what they are.
pub(super) struct Fields<'t> {
    /// What may stand here.
    block: &'static Block,
    /// Its path, such as `property.roof-array`.
    pub place: String,
    /// Where to point when something is missing.
    pub head: Span,
    /// From the first to the last key.
    pub span: Span,
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

    /// Returns the place of a key.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        self.entries.iter().find(|one| one.key.value == key).map(|one| one.key.span)
    }

    /// Says whether a key is there in a way that is a mistake and has its own finding, so that it is not missing too.
    fn meant(&self, key: &str) -> bool {
        self.entries.iter().any(|one| {
            let written = one.key.value.as_str();
            written.split_once(':').is_some_and(|(name, _)| name == key)
                || self.block.rule(written).is_none() && without_colon(written, self.block) == Some(key)
                || self.block.rule(written).is_none() && written.eq_ignore_ascii_case(key)
                || self.block.name == "return"
                    && self.block.rule(written).is_none()
                    && written.len() >= 4
                    && key.len() > written.len()
                    && bare(key).contains(&bare(written))
                || key == "tax_before_credits"
                    && self.block.name == "return"
                    && (REFUND.contains(&written) || OTHER_TAX.contains(&written))
        })
    }

    /// Reads a text on one line.
    pub fn line(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<String>> {
        let node = self.get(reading, key)?;
        reading.line(node, key)
    }

    /// Reads a text that may have several lines.
    pub fn text(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<String>> {
        let node = self.get(reading, key)?;
        reading.words(node, key)
    }

    /// Reads an amount.
    pub fn money(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<Money>> {
        let node = self.get(reading, key)?;
        reading.money_of(node, key, self.entered_positive())
    }

    /// Names what this row is where its amount lowers the cost, and people put a minus before it.
    fn entered_positive(&self) -> Option<&'static str> {
        let discount = |one: &Entry| {
            one.key.value == "as"
                && matches!(&one.value.value, Value::Text { text, .. } if text == "discount")
        };
        match self.block.name {
            "incentive" => Some("an incentive"),
            "shared" if self.has("from") => Some("an incentive"),
            "cost" | "shared" if self.entries.iter().any(discount) => Some("a discount"),
            _ => None,
        }
    }

    /// Reads a percentage.
    pub fn rate(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<Rate>> {
        let node = self.get(reading, key)?;
        reading.rate(node, key)
    }

    /// Reads a plain number.
    pub fn quantity(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<Quantity>> {
        let node = self.get(reading, key)?;
        reading.quantity(node, key)
    }

    /// Reads a date.
    pub fn date(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<Date>> {
        let node = self.get(reading, key)?;
        reading.date(node, key)
    }

    /// Reads yes or no.
    pub fn yes_no(&self, reading: &mut Reading<'_>, key: &str) -> Option<At<bool>> {
        let node = self.get(reading, key)?;
        reading.yes_no(node, key)
    }

    /// Reads one of a set of words.
    pub fn word<T: Copy>(
        &self,
        reading: &mut Reading<'_>,
        key: &str,
        all: &[T],
        word: fn(T) -> &'static str,
    ) -> Option<At<T>> {
        let node = self.get(reading, key)?;
        reading.word(node, key, all, word)
    }

    /// Reads the key of an entry of another section.
    pub fn reference(&self, reading: &mut Reading<'_>, key: &str, section: &'static str) -> Option<At<Key>> {
        let node = self.get(reading, key)?;
        reading.reference(node, key, section)
    }

    /// Opens a group of keys.
    pub fn block(&self, reading: &mut Reading<'_>, key: &str, block: &'static Block) -> Option<Fields<'t>> {
        let node = self.get(reading, key)?;
        let head = self.key_span(key).unwrap_or(self.head);
        reading.fields(node, head, block, self.path(key))
    }

    /// Returns the entries of a list; one entry without a list is refused with the way to write it.
    pub fn list(&self, reading: &mut Reading<'_>, key: &str) -> &'t [Node] {
        match self.get(reading, key) {
            Some(node) => reading.list(node, key),
            None => &[],
        }
    }

    /// Opens each entry of a list of groups of keys.
    pub fn blocks(&self, reading: &mut Reading<'_>, key: &str, block: &'static Block) -> Vec<Fields<'t>> {
        let path = self.path(key);
        self.list(reading, key)
            .iter()
            .enumerate()
            .filter_map(|(n, node)| reading.fields(node, node.span, block, format!("{path}.{}", n + 1)))
            .collect()
    }

    /// Joins the path of a key below.
    pub fn path(&self, key: &str) -> String {
        match self.place.as_str() {
            "" | "the case" | "the firm file" => key.to_string(),
            place => format!("{place}.{key}"),
        }
    }
}

impl<'t> Reading<'t> {
    /// Begins with the whole tree and its text.
    pub fn new(root: &'t Node, text: &'t str) -> Reading<'t> {
        let mut names = HashSet::new();
        for section in ["homes", "property", "evidence"] {
            if let Some(Node { value: Value::Map { entries, .. }, .. }) = root.get(section) {
                names.extend(entries.iter().map(|one| (section, one.key.value.as_str())));
            }
        }
        Reading { root, text, findings: Vec::new(), about_papers: Vec::new(), names }
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
        let entries = self.entries(node, head, &place)?;
        let Value::Map { braces, .. } = node.value else {
            return None;
        };
        if let Some(finding) = row_of_another_list(entries, block) {
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
            entries,
            broken: node.broken,
        };
        if !node.broken {
            self.missing(&fields);
        }
        Some(fields)
    }

    /// Opens a group of keys whose names are the client's own; reports what is none.
    pub fn entries<'n>(&mut self, node: &'n Node, head: Span, place: &str) -> Option<&'n [Entry]> {
        match &node.value {
            Value::Map { entries, .. } => Some(entries),
            _ if node.broken => None,
            _ if node.is_nothing() => {
                self.findings.push(
                    Finding::error("nothing-here", format!("nothing stands under {place}"))
                        .at(head)
                        .help("write its keys below it, further in, or delete it"),
                );
                None
            }
            _ => {
                let name = place.rsplit('.').next().unwrap_or(place);
                let example = BLOCKS.iter().find_map(|block| block.rule(name)).map(|rule| rule.example);
                let listed = matches!(node.value, Value::List(_));
                let help = match (name, example) {
                    ("returns" | "carried_in" | "earlier_credits", _) if listed => {
                        "leave the hyphen out and begin each entry with its year, such as `2024:`".to_string()
                    }
                    ("homes" | "property" | "evidence", example) if listed => {
                        let key =
                            example.and_then(|example| example.split_once(':')).map_or("key", |(key, _)| key);
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

    /// Reads a text on one line.
    pub fn line(&mut self, node: &Node, key: &str) -> Option<At<String>> {
        let text = self.words(node, key)?;
        let length = text.chars().count();
        if text.value.contains('\n') {
            self.findings.push(
                Finding::error(
                    "text-form",
                    format!("`{key}` takes a text on one line, and this one has several"),
                )
                .at(text.span)
                .help("write it on one line"),
            );
            return None;
        }
        if length > MAX_LINE {
            self.findings.push(
                Finding::error(
                    "text-too-long",
                    format!("`{key}` takes a text on one line of at most {MAX_LINE} characters; this has {length}"),
                )
                .at(text.span)
                .help("shorten it; the longer explanation can stand under `because` or in a paper under `evidence`"),
            );
            return None;
        }
        Some(text)
    }

    /// Reads a text that may have several lines, without the blanks at its ends.
    pub fn words(&mut self, node: &Node, key: &str) -> Option<At<String>> {
        let text = self.scalar(node, key)?;
        if let Value::Text { plain: true, .. } = node.value {
            self.cut_by_comment(node.span);
        }
        Some(text.map(|text| text.to_string()))
    }

    /// Returns the text of a value, or reports that there is none.
    fn scalar<'n>(&mut self, node: &'n Node, key: &str) -> Option<At<&'n str>> {
        match &node.value {
            _ if node.broken => None,
            Value::Text { text, .. } if !node.is_nothing() && !text.trim().is_empty() => {
                Some(At::new(text.trim(), node.span))
            }
            Value::Text { .. } => {
                self.findings.push(
                    Finding::error("nothing-here", format!("nothing stands where `{key}` needs a value"))
                        .at(node.span)
                        .help("write the value, or delete the key"),
                );
                None
            }
            _ => {
                let finding =
                    self.wrong_shape(node.span, format!("`{key}` takes one value, and {}", node.stands()));
                match &node.value {
                    Value::List(_) => finding.help("write the value without `- ` and without [ ]"),
                    _ => {
                        finding.help("write the value behind the colon; text with a colon in it needs quotes")
                    }
                };
                None
            }
        }
    }

    /// Warns where a number sign has cut a text short: `12 Alder Lane #4` ends before the sign.
    fn cut_by_comment(&mut self, span: Span) {
        let rest = &self.text[(span.end as usize).min(self.text.len())..];
        let line = rest.lines().next().unwrap_or("");
        let comment = line.trim_start();
        let mut signs = comment.chars();
        let number = signs.next() == Some('#') && signs.next().is_some_and(|c| c.is_ascii_digit());
        if !number || comment.len() == line.len() {
            return;
        }
        let start = span.end + (line.len() - comment.len()) as u32;
        // Inside braces the comment also takes what would close them, and the text would end at a comma.
        let before = self.text[..span.start as usize].rsplit('\n').next().unwrap_or("");
        let braces = before.matches(['{', '[']).count() > before.matches(['}', ']']).count();
        let line = match braces {
            true => line.split([',', '}', ']']).next().unwrap_or(line),
            false => line,
        };
        let end = span.end + line.trim_end().len() as u32;
        let whole = &self.text[span.start as usize..end as usize];
        let make = if braces { Finding::error } else { Finding::warning };
        self.findings.push(
            make(
                "comment-cuts-text",
                "the text ends before the number sign; all behind it is a comment".to_string(),
            )
            .at(Span { start, end, ..span })
            .help(format!("if it belongs to the text, write {}", quoted(whole.trim()))),
        );
    }

    /// Reads an amount from the text as written.
    pub fn money(&mut self, node: &Node, key: &str) -> Option<At<Money>> {
        self.money_of(node, key, None)
    }

    /// Reads an amount of something that is entered as a positive amount although it lowers the cost.
    fn money_of(&mut self, node: &Node, key: &str, lowers: Option<&str>) -> Option<At<Money>> {
        let text = self.scalar(node, key)?;
        match Money::read(text.value) {
            Ok(amount) => Some(At::new(amount, text.span)),
            Err(reason) => {
                let reason = reason.split(';').next().unwrap_or(reason);
                let below_zero = text.value.starts_with(['-', '(', '\u{2212}']);
                let instead = below_zero.then(|| mistakes::below_zero(key)).flatten();
                let help = match guess_amount(text.value) {
                    Some(guess) if below_zero && let Some(row) = lowers => {
                        format!("write `{guess}`, without the minus; {row} is entered as a positive amount")
                    }
                    _ if instead.is_some() => instead.unwrap_or_default().to_string(),
                    _ if text.value.ends_with('%') => {
                        format!(
                            "`{key}` takes dollars, not a share; work the amount out and write it like 12500.00"
                        )
                    }
                    Some(guess) => format!("write `{guess}` if that is the amount"),
                    None => "write it like 12500, 12500.00 or 12,500.00".to_string(),
                };
                let message = match reason {
                    _ if Decimal::from_scientific(text.value).is_ok() && text.value.contains(['e', 'E']) => {
                        format!("`{}` is not a plain amount", text.value)
                    }
                    "not a plain amount" => format!("`{}` is not a plain amount", text.value),
                    _ => format!("`{}` cannot be read as an amount: {reason}", text.value),
                };
                self.findings.push(Finding::error("amount-form", message).at(text.span).help(help));
                None
            }
        }
    }

    /// Reads a percentage from the text as written.
    pub fn rate(&mut self, node: &Node, key: &str) -> Option<At<Rate>> {
        let text = self.scalar(node, key)?;
        match Rate::read(text.value) {
            Ok(rate) => Some(At::new(rate, text.span)),
            Err(reason) => {
                let with_sign = format!("{}%", text.value);
                let help = match Rate::read(&with_sign) {
                    // A bare 1 may be all of it or a hundredth of it.
                    Ok(_) if !text.value.starts_with("0.") && text.value != "1" => {
                        format!("write `{with_sign}`")
                    }
                    _ => "write it like 30% or 1.25%; thirty of a hundred is 30%, not 0.30".to_string(),
                };
                self.findings.push(
                    Finding::error("percentage-form", format!("`{}` is no percentage: {reason}", text.value))
                        .at(text.span)
                        .help(help),
                );
                None
            }
        }
    }

    /// Reads a plain number.
    pub fn quantity(&mut self, node: &Node, key: &str) -> Option<At<Quantity>> {
        let text = self.scalar(node, key)?;
        match Quantity::read(text.value) {
            Ok(quantity) => Some(At::new(quantity, text.span)),
            Err(reason) => {
                self.findings.push(
                    Finding::error("quantity-form", format!("`{}` is no plain number: {reason}", text.value))
                        .at(text.span)
                        .help("write the number alone, without its unit, like 13.5"),
                );
                None
            }
        }
    }

    /// Reads a whole number from one to a thousand.
    pub fn count(&mut self, node: &Node, key: &str) -> Option<At<u16>> {
        let text = self.scalar(node, key)?;
        let digits = text.value.len() <= 4 && text.value.bytes().all(|b| b.is_ascii_digit());
        match text.value.parse::<u16>() {
            Ok(number) if digits && (1..=1000).contains(&number) => Some(At::new(number, text.span)),
            _ => {
                self.findings.push(
                    Finding::error(
                        "count-form",
                        format!("`{}` is no whole number from 1 to 1000", text.value),
                    )
                    .at(text.span)
                    .help("write it in digits, like 2"),
                );
                None
            }
        }
    }

    /// Reads a date that exists.
    pub fn date(&mut self, node: &Node, key: &str) -> Option<At<Date>> {
        let text = self.scalar(node, key)?;
        match read_date(text.value) {
            Ok(date) => Some(At::new(date, text.span)),
            Err((message, help)) => {
                self.findings.push(Finding::error("date-form", message).at(text.span).help(help));
                None
            }
        }
    }

    /// Reads yes or no.
    pub fn yes_no(&mut self, node: &Node, key: &str) -> Option<At<bool>> {
        let text = self.scalar(node, key)?;
        match text.value {
            "true" | "True" | "TRUE" | "yes" | "Yes" | "YES" => Some(At::new(true, text.span)),
            "false" | "False" | "FALSE" | "no" | "No" | "NO" => Some(At::new(false, text.span)),
            other => {
                self.findings.push(
                    Finding::error("yes-no-form", format!("`{other}` is neither true nor false"))
                        .at(text.span)
                        .help(format!("write `{key}: true` or `{key}: false`")),
                );
                None
            }
        }
    }

    /// Reads one of a set of words.
    pub fn word<T: Copy>(
        &mut self,
        node: &Node,
        key: &str,
        all: &[T],
        word: fn(T) -> &'static str,
    ) -> Option<At<T>> {
        let text = self.scalar(node, key)?;
        if let Some(found) = all.iter().find(|one| word(**one) == text.value) {
            return Some(At::new(*found, text.span));
        }
        let known: Vec<&'static str> = all.iter().map(|one| word(*one)).collect();
        let finding =
            Finding::error("unknown-word", format!("`{}` is not a valid value for `{key}`", text.value))
                .at(text.span);
        let finding = self.helped(finding, spoken::list_of(key, &known), text.value, &known);
        self.findings.push(finding);
        None
    }

    /// Says what to write instead of a text that is no word of its list.
    pub fn helped(&self, finding: Finding, of: &str, written: &str, known: &[&'static str]) -> Finding {
        match spoken::meant(of, written, known) {
            Some(Meant::Word(word)) => finding.help(format!("did you mean `{word}`?")),
            Some(Meant::Among(words)) => {
                let (help, at) = (spoken::among(of, written, &words), finding.at);
                let of = words.iter().map(|(list, _)| *list).filter(|list| *list == of).take(1).collect();
                finding.help(help).choices(self.choices(at, of, words))
            }
            None => finding.help(suggest(written, known)),
        }
    }

    /// Collects words to choose from, with what is known of the item they are for.
    fn choices(
        &self,
        at: Option<Span>,
        of: Vec<&'static str>,
        words: Vec<(&'static str, &'static str)>,
    ) -> Choices {
        let property = match self.root.get("property").map(|one| &one.value) {
            Some(Value::Map { entries, .. }) => entries.as_slice(),
            _ => &[],
        };
        let holds = |one: &&Entry| {
            at.is_some_and(|at| one.key.span.start <= at.start && at.end <= one.value.span.end)
        };
        let item = property.iter().find(holds).map(|one| &one.value);
        let text = |key: &str| match item?.get(key).map(|one| &one.value) {
            Some(Value::Text { text, .. }) => Some(text.trim()),
            _ => None,
        };
        let kind = text("kind").and_then(Kind::from_word);
        let day = match kind {
            Some(Kind::HomeEnergyAudit) => text("paid"),
            _ => text("installed"),
        };
        let day = day.and_then(|day| day.parse::<Date>().ok()).map(Date::year);
        let returns = match self.root.get("returns").map(|one| &one.value) {
            Some(Value::Map { entries, .. }) => entries.as_slice(),
            _ => &[],
        };
        let of_return = || returns.iter().find(holds).and_then(|one| one.key.value.parse().ok());
        Choices { of, words, kind: kind.map(Kind::word), year: day.or_else(of_return) }
    }

    /// Reads a key the client chose, as it stands where it is defined.
    pub fn key(&mut self, written: &At<String>) -> At<Key> {
        if !is_key(&written.value) {
            let better = better_key(&written.value);
            let help = match better {
                Some(better) => format!("write `{better}`, here and wherever it is named"),
                None => "write a short name such as `roof-array`".to_string(),
            };
            self.findings.push(
                Finding::error(
                    "key-form",
                    format!("`{}` is no name as they are written here: lower-case letters, digits and hyphens, at most 40", written.value),
                )
                .at(written.span)
                .help(help),
            );
        }
        At::new(Key::new(&written.value), written.span)
    }

    /// Reads the key of an entry of another section and makes sure that it is there.
    pub fn reference(&mut self, node: &Node, key: &str, section: &'static str) -> Option<At<Key>> {
        let text = self.scalar(node, key)?;
        let found = At::new(Key::new(text.value), text.span);
        let target = self.root.get(section);
        if target.is_some_and(|one| one.broken) || (target.is_none() && self.root.broken) {
            return Some(found);
        }
        // A name that is reported where it is defined, with this better one, is not reported again here.
        let mended = || {
            let Some(Value::Map { entries, .. }) = target.map(|one| &one.value) else { return false };
            let better = |one: &Entry| better_key(&one.key.value).as_deref() == Some(text.value);
            self.findings.len() <= MANY && entries.iter().any(|one| !is_key(&one.key.value) && better(one))
        };
        if !self.names.contains(&(section, text.value)) && !mended() {
            let help = match target.map(|one| &one.value) {
                _ if self.findings.len() > MANY => format!("write a name that stands under `{section}`"),
                Some(Value::Map { entries, .. }) => {
                    let names: Vec<&str> = entries.iter().map(|one| one.key.value.as_str()).collect();
                    suggest(text.value, &names)
                }
                _ => format!("add a section `{section}` with an entry `{}`", text.value),
            };
            let finding = Finding::error(
                "unknown-reference",
                format!("there is no `{}` under `{section}`", text.value),
            );
            let list = match section {
                "evidence" => &mut self.about_papers,
                _ => &mut self.findings,
            };
            list.push(finding.at(text.span).help(help));
        }
        Some(found)
    }

    /// Reads a tax year that stands as a key.
    pub fn year(&mut self, written: &At<String>, range: RangeInclusive<i16>) -> Option<At<TaxYear>> {
        let digits = written.value.len() == 4 && written.value.bytes().all(|b| b.is_ascii_digit());
        let year = written.value.parse::<i16>().ok().filter(|year| digits && range.contains(year));
        if year.is_none() {
            self.findings.push(
                Finding::error(
                    "tax-year",
                    format!(
                        "`{}` is no tax year from {} to {}, which is what stands here",
                        written.value,
                        range.start(),
                        range.end()
                    ),
                )
                .at(written.span)
                .help("write a calendar year in four digits, such as 2024"),
            );
        }
        year.map(|year| At::new(TaxYear(year), written.span))
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
            .filter(|rule| required(rule) && fields.key_span(rule.key).is_none() && !fields.meant(rule.key))
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
            let known = match rule.takes {
                Takes::Word(known) => known(),
                Takes::Uses => HomeUse::ALL.iter().map(|one| one.word()).collect(),
                _ => Vec::new(),
            };
            match spoken::deciding(rule.key, &known) {
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
                let choices = self.choices(Some(fields.head), of, words);
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
        if let Some(finding) = known_mistake(key, block) {
            self.findings.push(finding.at(entry.key.span));
            return;
        }
        let known: Vec<&str> = block.keys.iter().map(|rule| rule.key).collect();
        let elsewhere: Vec<&str> =
            BLOCKS.iter().filter(|one| one.rule(key).is_some()).map(|one| one.name).collect();
        let near = match self.findings.len() > MANY {
            true => Vec::new(),
            false => spoken::key_meant(block.name, key, &known),
        };
        let help = match did_you_mean(&near) {
            Some(asked) => asked,
            // So many strangers are another kind of file; proposals would only take time.
            None if self.findings.len() > MANY => "this is no key of a case".to_string(),
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
pub(super) struct Helping<'f>(Option<&'f mut Finding>);

impl Helping<'_> {
    /// Adds what to write instead.
    pub fn help(self, help: impl Into<String>) {
        if let Some(finding) = self.0 {
            finding.help = Some(help.into());
        }
    }
}

/// Complains about an incentive among the costs, or a cost among the incentives, once for the whole row.
fn row_of_another_list(entries: &[Entry], block: &'static Block) -> Option<Finding> {
    let has = |key: &str| entries.iter().any(|one| one.key.value == key);
    let (wrong, message, help) = match block.name {
        "cost" => (
            has("from") && !has("item"),
            "this row names who paid (`from`), so it is an incentive and no cost",
            "move it to the item's `incentives`",
        ),
        "incentive" => (
            has("item") && !has("from"),
            "this row names what was bought (`item`), so it is a cost and no incentive",
            "move it to the item's `costs`",
        ),
        _ => return None,
    };
    wrong.then(|| Finding::error("unknown-key", message).help(help))
}

/// Keys of a return that speak of a refund or of payments instead of the tax.
const REFUND: [&str; 6] =
    ["refund", "expected_refund", "withholding", "tax_withheld", "balance_due", "estimated_payments"];

/// Keys of a return that speak of another line of tax.
const OTHER_TAX: [&str; 5] = ["tax", "total_tax", "tax_liability", "income_tax", "tax_due"];

/// Knows keys that people reach for and that mean something else here.
fn known_mistake(key: &str, block: &'static Block) -> Option<Finding> {
    let plain = key.to_ascii_lowercase().replace(['-', ' '], "_");
    match (block.name, plain.as_str()) {
        (
            "return" | "case" | "client",
            "fiscal_year" | "fiscal_year_end" | "year_end" | "tax_year_end" | "year_begins" | "year_ends" | "period" | "fiscal",
        ) => Some(
            Finding::error("fiscal-year", "a return for a fiscal year cannot be computed here; every return is for a calendar year")
                .help("delete this key if the year is the calendar year; otherwise the case lies outside this program"),
        ),
        ("item", "capacity" | "size" | "kwh" | "kw") => Some(
            Finding::error("unknown-key", format!("`{key}` does not say what is measured"))
                .help("write `capacity_kwh` for a battery in kilowatt-hours, `capacity_kw` for what makes power in kilowatts"),
        ),
        ("return", word) if OtherCredit::from_word(word.trim_end_matches("_credit")).is_some() => Some(
            Finding::error("unknown-key", format!("`{key}` stands under `other_credits`"))
                .help(format!("write `other_credits: {{{}: ..}}`", word.trim_end_matches("_credit"))),
        ),
        ("return", word) if OTHER_TAX.contains(&word) => Some(
            Finding::error("unknown-key", format!("`{key}` does not say which line of the return is meant"))
                .help("write `tax_before_credits` with the tax before any credit (for 2020 to 2025 line 18 of Form 1040), not the total tax"),
        ),
        ("return", word) if REFUND.contains(&word) => Some(
            Finding::error(
                "unknown-key",
                format!("`{key}` has no effect on these credits: they are limited by the tax itself, not by refund or withholding"),
            )
            .help("give the tax before credits as `tax_before_credits` and leave this out"),
        ),
        ("item", "business_use" | "business_share" | "business" | "office_use") => Some(
            Finding::error("unknown-key", format!("`{key}` is not a key of an item; the case gives the other share"))
                .help("write `nonbusiness_use` with the share that is not business use: 70% where business use is 30%"),
        ),
        ("item" | "cost", "installer" | "contractor" | "vendor" | "dealer" | "seller" | "company" | "inspector") => Some(
            Finding::error("unknown-key", format!("`{key}`: who did the work or sold it is not entered in the case"))
                .help("delete it; the paper that shows it goes under `evidence`"),
        ),
        ("person", "ssn" | "itin" | "taxpayer_number" | "taxpayer_id" | "social_security_number") => Some(
            Finding::error("unknown-key", format!("`{key}` is not a key of a person"))
                .help("write `tin: \"***-**-1234\"`, masked, with the last four digits only"),
        ),
        _ => None,
    }
}

/// Leaves out what people vary: case, hyphens, underscores, blanks.
pub(super) fn bare(text: &str) -> String {
    text.to_ascii_lowercase().replace(['-', ' ', '_'], "")
}

/// Proposes the word that is meant, or shows all where they are few.
pub(super) fn suggest(written: &str, known: &[&str]) -> String {
    let listed = || match known.len() <= 24 {
        true => format!("write one of: {}", known.join(", ")),
        false => {
            format!("write one of the {} that stand there, such as: {}", known.len(), known[..12].join(", "))
        }
    };
    did_you_mean(&spoken::near(written, known)).unwrap_or_else(listed)
}

/// Asks whether one of a few words was meant; several are named together, because the program picks none.
fn did_you_mean(near: &[&str]) -> Option<String> {
    (!near.is_empty() && near.len() <= 3).then(|| format!("did you mean `{}`?", near.join("` or `")))
}

/// Says whether a text is a key as people choose them here.
fn is_key(text: &str) -> bool {
    !text.is_empty()
        && text.len() <= 40
        && !text.starts_with('-')
        && !text.ends_with('-')
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// Makes a key out of a text that was meant as one.
fn better_key(text: &str) -> Option<String> {
    let mapped: String = text
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_lowercase() || c.is_ascii_digit() { c } else { '-' })
        .collect();
    let parts: Vec<&str> = mapped.split('-').filter(|part| !part.is_empty()).collect();
    let better = parts.join("-");
    is_key(&better).then_some(better)
}

/// Guesses the amount behind a usual way of writing that is refused, where only one can be meant.
fn guess_amount(text: &str) -> Option<String> {
    let unsigned = text
        .trim_start_matches("USD")
        .trim_end_matches("USD")
        .trim()
        .trim_start_matches(['-', '(', '+', '\u{2212}'])
        .trim_end_matches(')');
    if unsigned != text && Money::read(unsigned).is_ok() {
        return Some(unsigned.to_string());
    }
    // With a power of ten, as spreadsheets write large numbers.
    if text.len() <= 20
        && text.contains(['e', 'E'])
        && let Ok(number) = Decimal::from_scientific(text)
    {
        let whole = number.normalize().to_string();
        return Money::read(&whole).is_ok().then_some(whole);
    }
    let without = text.replace(['_', ' ', '\''], "");
    if without != text && Money::read(&without).is_ok() {
        return Some(without);
    }
    // Points for thousands and a comma for cents, as in 12.500,00.
    if let Some((whole, cents)) = text.split_once(',')
        && whole.contains('.')
        && cents.len() == 2
    {
        let swapped = format!("{}.{cents}", whole.replace('.', ","));
        return Money::read(&swapped).is_ok().then_some(swapped);
    }
    None
}

/// Says whether a text consists of what amounts are written with.
fn looks_like_amount(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_digit() || matches!(c, ',' | '.' | '$' | ' '))
}

/// Reads `2024-05-14`, or says what is wrong and what to write.
fn read_date(text: &str) -> Result<Date, (String, String)> {
    let numbers = |separator: char| -> Option<[i16; 3]> {
        let parts: Vec<i16> = text
            .split(separator)
            .map(|part| part.parse().ok().filter(|_| part.bytes().all(|b| b.is_ascii_digit())))
            .collect::<Option<_>>()?;
        parts.try_into().ok()
    };
    let strict = text.len() == 10 && text.as_bytes()[4] == b'-' && text.as_bytes()[7] == b'-';
    let (year, month, day) = match (numbers('-'), numbers('/')) {
        (Some([year, month, day]), _) => (year, month, day),
        // Month first, as dates are written in the United States.
        (_, Some([month, day, year])) if year >= 1000 => (year, month, day),
        (_, Some([year, month, day])) if year >= 1000 => (year, month, day),
        _ => {
            return Err((
                format!("`{text}` is no date as they are written here"),
                match mistakes::day_in_words(text).or_else(|| mistakes::day_within(text)) {
                    Some(day) => format!("write `{day}` if that is the day meant"),
                    None => "write year, month and day in digits, like 2024-05-14".to_string(),
                },
            ));
        }
    };
    let date = match (i8::try_from(month), i8::try_from(day)) {
        (Ok(month), Ok(day)) => Date::new(year, month, day).ok(),
        _ => None,
    };
    let Some(date) = date else {
        let days = (1..=12)
            .contains(&month)
            .then(|| Date::new(year, month as i8, 1).ok())
            .flatten()
            .map(|first| first.days_in_month());
        let reason = match days {
            Some(days) => format!("there is no day {day} in month {month} of {year}, which has {days} days"),
            None => format!("`{text}` is no date: there is no month {month}"),
        };
        return Err((reason, "write a day that exists, as year-month-day like 2024-05-14".to_string()));
    };
    if !(1900..=2099).contains(&year) {
        return Err((
            format!("the year {year} cannot be meant"),
            "write the year in four digits, from 1900 to 2099".to_string(),
        ));
    }
    match strict {
        true => Ok(date),
        false => Err((
            format!("`{text}` is no date as they are written here"),
            format!("write `{date}` if that is the day meant"),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_real_and_written_one_way() {
        assert_eq!(read_date("2024-02-29"), Ok(Date::constant(2024, 2, 29)));
        for (text, help) in [
            ("5/14/2024", "write `2024-05-14` if that is the day meant"),
            ("2024-5-14", "write `2024-05-14` if that is the day meant"),
            ("2023-02-29", "write a day that exists, as year-month-day like 2024-05-14"),
            ("2024-13-01", "write a day that exists, as year-month-day like 2024-05-14"),
            ("May 14", "write year, month and day in digits, like 2024-05-14"),
            ("0202-01-01", "write the year in four digits, from 1900 to 2099"),
            ("+024-01-01", "write year, month and day in digits, like 2024-05-14"),
        ] {
            assert_eq!(read_date(text).unwrap_err().1, help, "{text}");
        }
        assert_eq!(
            read_date("2023-02-29").unwrap_err().0,
            "there is no day 29 in month 2 of 2023, which has 28 days"
        );
    }

    #[test]
    fn a_word_is_proposed_only_when_it_is_near() {
        let known = ["filing_status", "filed", "form", "stage"];
        assert_eq!(suggest("fieled", &known), "did you mean `filed`?");
        assert_eq!(suggest("status", &known), "write one of: filing_status, filed, form, stage");
        let keys = ["heat-pump-water-heater", "roof-array", "roof-arrays"];
        assert_eq!(suggest("heat-pump", &keys), format!("write one of: {}", keys.join(", ")));
        assert_eq!(suggest("roof-arra", &keys), "did you mean `roof-array`?");
        assert_eq!(suggest("roof-arrayz", &keys), "did you mean `roof-array` or `roof-arrays`?");
    }

    #[test]
    fn usual_ways_to_write_amounts_are_guessed() {
        assert_eq!(guess_amount("12.500,00").as_deref(), Some("12,500.00"));
        assert_eq!(guess_amount("-500").as_deref(), Some("500"));
        assert_eq!(guess_amount("(500.00)").as_deref(), Some("500.00"));
        assert_eq!(guess_amount("1_000").as_deref(), Some("1000"));
        for (written, guess) in [
            ("1.62e3", Some("1620")),
            ("1e3", Some("1000")),
            ("1.2345E4", Some("12345")),
            ("16205e-1", Some("1620.5")),
            ("1.62345e2", None),
            ("1e-9", None),
            ("9e28", None),
            ("e3", None),
        ] {
            assert_eq!(guess_amount(written).as_deref(), guess, "{written}");
        }
    }
}
