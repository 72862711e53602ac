//! The first reading: from the bytes of a file to a tree of nodes, each with its place.
//!
//! Comes in: bytes, or a part of a text. Goes out: [`Node`], and a finding for everything that is no plain YAML: bad
//! characters, anchors, aliases, tags, duplicate keys, things nested too deep. Refuses bad form only; what a key means
//! is unknown here. The same text is then read again by a second YAML reader ([`agree`]), because a value on
//! which two readers disagree is a value on which a person and this program may disagree too.

pub use super::node::{Entry, Node, Value};

use super::file::FileKind;
use super::node::place;
use super::syntax::{self, Repair};
use crate::characters::unseen;
use crate::finding::{Finding, SourceId, Sources, Span, Spanned};
use crate::redact;
use crate::wording::count;
use saphyr_parser::{Event, Parser, ScalarStyle, ScanError};
use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use std::borrow::Cow;
use std::collections::HashMap;
use std::fmt;
use std::ops::Range;
use unicode_normalization::UnicodeNormalization;

/// Reads a file into a tree and takes its text into `sources`.
///
/// Taxpayer numbers are made unreadable in the text that `sources` keeps, so that no excerpt can show one.
/// `None` when no tree could be made at all.
pub fn read(
    name: &str,
    bytes: &[u8],
    kind: &'static FileKind,
    sources: &mut Sources,
    findings: &mut Vec<Finding>,
) -> (SourceId, Option<Node>) {
    let (shown, in_file_name) = redact::in_path(name);
    // Folders are the firm's own affair, as long as nothing shows the number; the file's name goes into the packet.
    if in_file_name {
        findings.push(redact::of_file_name(&shown));
    }
    findings.extend(strange_in_file_name(&shown));
    let name = shown.as_str();
    let text = match decode(bytes, kind) {
        Ok(text) => text,
        Err(problem) => {
            let source = sources.add(name, problem.shown);
            let (start, end) = problem.place;
            findings.push(
                Finding::error(problem.code, problem.message)
                    .at(Span { source, start, end })
                    .help(problem.help),
            );
            return (source, None);
        }
    };
    let (source, _) = take_in(name, &text, sources, findings);
    let whole = 0..sources.get(source).text.len();
    let root = part(source, whole, kind, sources, findings);
    (source, root)
}

/// Reads the text of a file that is part of the program: no number of a taxpayer stands in it, and that both readers
/// agree on it is for tests to see.
pub(super) fn built_in(text: &str, kind: &'static FileKind, findings: &mut Vec<Finding>) -> Option<Node> {
    let offsets = Offsets::of(text, 0);
    let mut build = Build { ours: true, ..Build::new(text, &offsets, SourceId(0), kind, &[]) };
    let whole = build.run(text).is_none();
    findings.append(&mut build.findings);
    build.root.filter(|_| whole)
}

/// Reads a part of a text that `sources` has, such as what is between the first two lines `---` of a letter.
///
/// What nobody sees in it has been complained of when the text was taken in ([`take_in`]).
pub fn part(
    source: SourceId,
    range: Range<usize>,
    kind: &'static FileKind,
    sources: &mut Sources,
    findings: &mut Vec<Finding>,
) -> Option<Node> {
    let text = sources.get(source).text[..range.end].to_string();
    let mut base = range.start;
    // What only looks like blanks holds no group together, and all that follows would be complained of.
    let foreign = foreign_blanks(&text, base, source);
    if !foreign.is_empty() {
        findings.extend(foreign);
        return None;
    }
    if base == 0 && text.starts_with('\u{feff}') {
        base = 3;
    }
    let before = findings.len();
    let mut root = first_reading(&text, base, source, kind, findings);
    if let Some(root) = &mut root {
        let mut told = numbers_told(findings);
        told.sort_by_key(|one| one.start);
        hide_under_keys(root, &told, findings);
    }
    sources.make_unreadable(source, numbers_told(&findings[before..]));
    let clean = findings.len() == before;
    match &root {
        Some(root) if clean && strange_characters(&text[base..], source).is_empty() => {
            findings.extend(agree(root, &text[base..], base, source));
        }
        // No document at all: nothing stands where the file's keys should.
        None if clean => {
            let nothing = Value::Text { text: String::new(), plain: true };
            return Some(Node { span: place(source, base, base), value: nothing, broken: false });
        }
        _ => {}
    }
    root
}

/// Returns where numbers have been complained about.
fn numbers_told(findings: &[Finding]) -> Vec<Span> {
    findings.iter().filter(|one| one.code == redact::CODE).filter_map(|one| one.at).collect()
}

/// Covers whatever stands under a key for a taxpayer number, in lists and on lines of its own too, and a reference that
/// reads like a number. `told` are the places that have been covered already.
fn hide_under_keys(node: &mut Node, told: &[Span], findings: &mut Vec<Finding>) {
    match &mut node.value {
        Value::Text { .. } => {}
        Value::List(items) => items.iter_mut().for_each(|one| hide_under_keys(one, told, findings)),
        Value::Map { entries, .. } => {
            for Entry { key, value } in entries {
                if !redact::is_key(&key.value) {
                    hide_under_keys(value, told, findings);
                    continue;
                }
                let mut texts = Vec::new();
                texts_below(value, &mut texts);
                let whole = texts.iter().map(|text| text.as_str()).collect::<Vec<_>>().join(" ");
                if let Some(covered) = redact::under_key(&key.value, &whole) {
                    let mut rest = covered.as_str();
                    for text in texts {
                        let (covered, after) = rest.split_at(text.len());
                        *text = covered.to_string();
                        rest = after.strip_prefix(' ').unwrap_or(after);
                    }
                    // Places do not overlap, so only the last one that begins before the end can be in it.
                    let last = told.partition_point(|one| one.start < value.span.end).checked_sub(1);
                    if last.is_none_or(|at| told[at].end <= value.span.start) {
                        findings.push(redact::finding(value.span));
                    }
                }
            }
        }
    }
}

/// Collects the texts of a node, keys included, in file order.
fn texts_below<'n>(node: &'n mut Node, texts: &mut Vec<&'n mut String>) {
    match &mut node.value {
        Value::Text { text, .. } => texts.push(text),
        Value::List(items) => items.iter_mut().for_each(|one| texts_below(one, texts)),
        Value::Map { entries, .. } => {
            for Entry { key, value } in entries {
                texts.push(&mut key.value);
                texts_below(value, texts);
            }
        }
    }
}

/// Takes a text into `sources` with every full taxpayer number made unreadable, and complains of those and of what
/// nobody sees. Returns also whether there was anything of the latter.
pub(crate) fn take_in(
    name: &str,
    text: &str,
    sources: &mut Sources,
    findings: &mut Vec<Finding>,
) -> (SourceId, bool) {
    let numbers = redact::find(text);
    let text = redact::apply(text, &numbers);
    let strange = strange_characters(&text, SourceId(0));
    let had_strange = !strange.is_empty();
    let source = sources.add(name, text);
    findings.extend(numbers.iter().map(|range| redact::finding(place(source, range.start, range.end))));
    findings.extend(strange.into_iter().map(|mut one| {
        one.at.iter_mut().for_each(|at| at.source = source);
        one
    }));
    (source, had_strange)
}

/// Complains of every text that holds a character which cannot be printed, at that character.
pub(crate) fn not_printed(
    root: &Node,
    sources: &Sources,
    prints: &dyn Fn(char) -> bool,
    findings: &mut Vec<Finding>,
) {
    match &root.value {
        // What is written in no script of ours at all is told once a text.
        Value::Text { text, .. } if !text.is_ascii() && !root.broken => {
            let strange =
                |c: &char| !c.is_ascii() && !c.is_whitespace() && unseen(*c).is_none() && !prints(*c);
            let Some(c) = text.nfc().find(strange) else { return };
            let written = sources.excerpt(root.span);
            // Two characters that are set as one stand apart in the file.
            let at = match written.find(c) {
                Some(at) => {
                    let start = root.span.start as usize + at;
                    place(root.span.source, start, start + c.len_utf8())
                }
                None => root.span,
            };
            findings.push(
                Finding::error(
                    "character-not-printed",
                    format!("the typeface of the papers has no \"{c}\", U+{:04X}", u32::from(c)),
                )
                .at(at)
                .help("write it with letters of the Latin, Greek or Cyrillic alphabet; a name as it stands on the return"),
            );
        }
        Value::Text { .. } => {}
        Value::List(items) => items.iter().for_each(|one| not_printed(one, sources, prints, findings)),
        Value::Map { entries, .. } => {
            entries.iter().for_each(|one| not_printed(&one.value, sources, prints, findings))
        }
    }
}

/// Why bytes are no text.
struct NotText {
    code: &'static str,
    message: String,
    help: String,
    shown: String,
    place: (u32, u32),
}

/// Turns bytes into text, or says which byte is none.
fn decode(bytes: &[u8], kind: &FileKind) -> Result<String, NotText> {
    if bytes.len() > kind.limits.bytes {
        return Err(NotText {
            code: "file-too-large",
            message: format!(
                "the file has {} bytes; {}, and more than {} are not read",
                count(bytes.len()),
                kind.advice.usual,
                count(kind.limits.bytes)
            ),
            help: format!("check that this is {} and not, for example, a scanned paper", kind.the),
            shown: String::new(),
            place: (0, 0),
        });
    }
    let unreadable = |message: String, help: &str| NotText {
        code: "not-text",
        message,
        help: help.to_string(),
        shown: String::new(),
        place: (0, 0),
    };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(unreadable(
            format!("the file is written in UTF-16, and {} is read as UTF-8", kind.a),
            "open it in the editor and save it again with the encoding UTF-8",
        ));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        let line = 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
        return Err(unreadable(
            format!("line {line} holds a zero byte (byte {} of the file): this is no text file", at + 1),
            kind.advice.instead,
        ));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_string()),
        Err(error) => {
            let at = error.valid_up_to();
            let line = 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
            let rest = bytes[at..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |n| at + n);
            // The shown text keeps byte positions up to the bad byte and stands in for the rest of its line.
            // A number may go on behind it, so numbers are looked for in both parts as one.
            let shown = String::from_utf8_lossy(&bytes[..rest]).into_owned();
            let shown = redact::apply(&shown, &redact::find(&shown));
            Err(NotText {
                code: "not-utf-8",
                message: format!(
                    "line {line} holds a byte that is not UTF-8 text: {:#04x}, byte {} of the file",
                    bytes[at],
                    at + 1
                ),
                help: "save the file with the encoding UTF-8; accented letters in another encoding are the usual reason".to_string(),
                shown,
                place: (at as u32, at as u32 + 3),
            })
        }
    }
}

/// Finds characters that no person sees and that readers treat differently.
fn strange_characters(text: &str, source: SourceId) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let line_end = c == '\r' && chars.peek().is_some_and(|(_, next)| *next == '\n');
        if line_end || (at == 0 && c == '\u{feff}') {
            continue;
        }
        let Some(called) = unseen(c) else { continue };
        if found.len() == 20 {
            break;
        }
        found.push(
            Finding::error(
                "hidden-character",
                format!("here stands a character that cannot be seen, U+{:04X}, {called}", c as u32),
            )
            .at(place(source, at, at + c.len_utf8()))
            .help("delete it, or type this line again; such characters come along when text is copied"),
        );
    }
    found
}

/// Finds a character in the name of a file that no person sees. The name goes into the packet, and stands in lists.
fn strange_in_file_name(path: &str) -> Option<Finding> {
    let name = path.rsplit(['/', '\\']).next().unwrap_or(path);
    let called = |c: char| unseen(c).or_else(|| c.is_control().then_some("a control character"));
    let (c, called) = name.chars().find_map(|c| Some((c, called(c)?)))?;
    let message = format!(
        "the name of the file, `{name}`, holds a character that cannot be seen, U+{:04X}, {called}",
        u32::from(c)
    );
    Some(Finding::error("hidden-character", message).help("rename the file; type its name by hand"))
}

/// Finds blanks of another kind at the beginning of lines, as web pages and letters have them.
fn foreign_blanks(text: &str, base: usize, source: SourceId) -> Vec<Finding> {
    let foreign =
        |c: char| matches!(c, '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}');
    let mut start = base;
    let mut found = Vec::new();
    for line in text[base..].split_inclusive('\n') {
        let indent = line.len() - line.trim_start().len();
        let at = line[..indent].find(foreign).filter(|_| !line.trim().is_empty());
        if let Some((at, c)) = at.and_then(|at| Some((at, line[at..].chars().next()?))) {
            found.push(
                Finding::error(
                    "hidden-character",
                    format!("this line does not begin with plain blanks: here stands one of another kind, U+{:04X}", c as u32),
                )
                .at(place(source, start + at, start + indent))
                .help("delete what stands before the first word and type blanks with the space bar; such blanks come along when text is copied from a page"),
            );
        }
        start += line.len();
        if found.len() == 20 {
            break;
        }
    }
    found
}

/// Reads with the first reader, mending what can be mended so that the rest of the file is seen too.
fn first_reading(
    text: &str,
    base: usize,
    source: SourceId,
    kind: &'static FileKind,
    findings: &mut Vec<Finding>,
) -> Option<Node> {
    let mut patched: Cow<str> = Cow::Borrowed(&text[base..]);
    let mut mended: Vec<Span> = Vec::new();
    let mut complaints: Vec<Finding> = Vec::new();
    let mut budget = 4 * kind.limits.bytes;
    loop {
        let offsets = Offsets::of(&patched, base);
        let mut build = Build::new(text, &offsets, source, kind, &mended);
        let stopped = build.run(&patched);
        let Some(stop) = stopped else {
            findings.extend(complaints);
            findings.append(&mut build.findings);
            return build.root;
        };
        let (finding, repair) = match stop {
            Stop::Limit(finding) => (*finding, None),
            Stop::Scan(error) => {
                let at = offsets.byte(error.marker().index());
                syntax::explain(&error, text, at, source, kind, build.innermost_brackets())
            }
        };
        complaints.push(finding);
        if let Some(Repair { at, with, broken }) = repair
            && mended.len() < 32
            && budget > patched.len()
            && at >= base
        {
            budget -= patched.len();
            let mut next = patched.into_owned();
            next.replace_range(at - base..at - base + 1, with);
            patched = Cow::Owned(next);
            mended.push(broken);
            continue;
        }
        let root = build.close_all();
        findings.extend(complaints);
        findings.append(&mut build.findings);
        return root;
    }
}

/// Where the characters of a text are in bytes. The parser counts characters; a file of plain ASCII, as law and maps
/// are, needs no table for that.
struct Offsets {
    base: usize,
    end: usize,
    /// The position of every character, where some are longer than a byte.
    table: Option<Vec<u32>>,
}

impl Offsets {
    fn of(text: &str, base: usize) -> Offsets {
        let positions = || text.char_indices().map(|(at, _)| (at + base) as u32).collect();
        Offsets { base, end: base + text.len(), table: (!text.is_ascii()).then(positions) }
    }

    /// Returns the byte position of a character, the end for all beyond.
    fn byte(&self, index: usize) -> usize {
        match &self.table {
            Some(table) => table.get(index).map_or(self.end, |at| *at as usize),
            None => (self.base + index).min(self.end),
        }
    }
}

/// Why building stopped before the end of the file.
enum Stop {
    /// The reader could not go on.
    Scan(ScanError),
    /// A limit was reached.
    Limit(Box<Finding>),
}

impl Stop {
    fn limit(finding: Finding) -> Stop {
        Stop::Limit(Box::new(finding))
    }
}

/// A list or map that is not closed yet.
struct Open {
    span: Span,
    braces: bool,
    map: bool,
    items: Vec<Node>,
    entries: Vec<Entry>,
    key: Option<Spanned<String>>,
    /// The first of the entries by key, as far as they have been looked up.
    seen: HashMap<String, Span>,
    broken: bool,
}

impl Open {
    /// Returns the place of a key that was there before. Nearly every group is short and looked through; a long one is
    /// looked up, because a file of one hundred thousand keys would be looked through for minutes.
    fn first(&mut self, key: &str) -> Option<Span> {
        const SHORT: usize = 24;
        if self.entries.len() <= SHORT {
            return self.entries.iter().find(|one| one.key.value == key).map(|one| one.key.span);
        }
        let further = self.entries[self.seen.len()..].iter();
        self.seen.extend(further.map(|one| (one.key.value.clone(), one.key.span)));
        self.seen.get(key).copied()
    }
}

/// Makes the tree out of the reader's events.
struct Build<'t> {
    text: &'t str,
    offsets: &'t Offsets,
    source: SourceId,
    kind: &'static FileKind,
    mended: &'t [Span],
    /// The file is part of the program.
    ours: bool,
    stack: Vec<Open>,
    root: Option<Node>,
    findings: Vec<Finding>,
    nodes: usize,
    documents: usize,
}

impl<'t> Build<'t> {
    fn new(
        text: &'t str,
        offsets: &'t Offsets,
        source: SourceId,
        kind: &'static FileKind,
        mended: &'t [Span],
    ) -> Build<'t> {
        Build {
            text,
            offsets,
            source,
            kind,
            mended,
            ours: false,
            stack: Vec::new(),
            root: None,
            findings: Vec::new(),
            nodes: 0,
            documents: 0,
        }
    }

    /// Takes all events; returns why it stopped early, if it did.
    fn run(&mut self, patched: &str) -> Option<Stop> {
        let mut parser = Parser::new_from_str(patched);
        while let Some(next) = parser.next_event() {
            let (event, span) = match next {
                Ok(pair) => pair,
                Err(error) => return Some(Stop::Scan(error)),
            };
            let span = self.span(span);
            if let Err(stop) = self.take(event, span) {
                return Some(stop);
            }
        }
        None
    }

    fn take(&mut self, event: Event<'_>, span: Span) -> Result<(), Stop> {
        match event {
            Event::DocumentStart(_) => {
                self.documents += 1;
                self.refuse_directives(span);
                if self.documents > 1 {
                    let (message, help) = self.kind.advice.second;
                    return Err(Stop::limit(
                        Finding::error("several-documents", message).at(span).help(help),
                    ));
                }
            }
            Event::Scalar(text, style, anchor, tag) => {
                self.refuse_marks(anchor > 0, tag.is_some(), span);
                self.count(span)?;
                let span = self.without_comment(style, span);
                let node = self.scalar(&text, style, span);
                self.put(node);
            }
            Event::Alias(_) => {
                self.count(span)?;
                self.findings.push(syntax::alias(self.excerpt(span), span, self.kind));
                self.put(Node {
                    span,
                    value: Value::Text { text: String::new(), plain: true },
                    broken: true,
                });
            }
            Event::SequenceStart(anchor, tag) => {
                self.refuse_marks(anchor > 0, tag.is_some(), span);
                self.open(span, false)?;
            }
            Event::MappingStart(anchor, tag) => {
                self.refuse_marks(anchor > 0, tag.is_some(), span);
                self.open(span, true)?;
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(Some(span)),
            Event::DocumentEnd | Event::StreamStart | Event::StreamEnd | Event::Nothing => {}
        }
        Ok(())
    }

    /// Refuses lines that begin with `%` in front of the first document; the reader obeys them in silence.
    fn refuse_directives(&mut self, document: Span) {
        let mut start = self.offsets.base;
        for line in self.text[start..document.start as usize].split_inclusive('\n') {
            if line.trim_start_matches('\u{feff}').starts_with('%') {
                let end = start + line.trim_end().len();
                self.findings.push(syntax::directive(place(self.source, start, end), self.kind));
            }
            start += line.len();
        }
    }

    fn excerpt(&self, span: Span) -> &'t str {
        self.text.get(span.start as usize..span.end as usize).unwrap_or("")
    }

    /// Turns the reader's place, counted in characters, into ours, counted in bytes, without blanks at its end.
    fn span(&self, span: saphyr_parser::Span) -> Span {
        let start = self.offsets.byte(span.start.index());
        let end = self.offsets.byte(span.end.index()).max(start);
        let covered = self.text.get(start..end).unwrap_or("").trim_end().len();
        place(self.source, start, start + covered)
    }

    /// Ends the place of a quoted text at its closing quote; the reader lets it run to the end of the line.
    fn without_comment(&self, style: ScalarStyle, span: Span) -> Span {
        let quote = match style {
            ScalarStyle::SingleQuoted => b'\'',
            ScalarStyle::DoubleQuoted => b'"',
            _ => return span,
        };
        let bytes = self.excerpt(span).as_bytes();
        let mut at = 1;
        while at < bytes.len() {
            match bytes[at] {
                b'\\' if quote == b'"' => at += 2,
                byte if byte == quote && quote == b'\'' && bytes.get(at + 1) == Some(&quote) => at += 2,
                byte if byte == quote => {
                    return Span { end: span.start + at as u32 + 1, ..span };
                }
                _ => at += 1,
            }
        }
        span
    }

    fn count(&mut self, span: Span) -> Result<(), Stop> {
        self.nodes += 1;
        let most = self.kind.limits.nodes;
        if self.nodes > most {
            return Err(Stop::limit(
                Finding::error(
                    "too-many-entries",
                    format!("the file has more than {} keys and values; reading stops here", count(most)),
                )
                .at(span)
                .help(self.kind.advice.holds),
            ));
        }
        Ok(())
    }

    fn scalar(&mut self, text: &str, style: ScalarStyle, span: Span) -> Node {
        let plain = style == ScalarStyle::Plain;
        let mut broken = self.is_mended(span);
        // The reader shows an absent value as `~` at the place of whatever comes next.
        let absent = plain && (span.start == span.end || text == "~" && self.excerpt(span) != "~");
        let (mut text, span) = match absent {
            true => (String::new(), self.after_last_key(span)),
            false => (text.to_string(), span),
        };
        if self.ours {
            return Node { span, value: Value::Text { text, plain }, broken };
        }
        let (length, most) = (text.chars().count(), self.kind.limits.text);
        if length > most {
            self.findings.push(
                Finding::error(
                    "text-too-long",
                    format!("this text has {} characters; at most {} are read", count(length), count(most)),
                )
                .at(span)
                .help(self.kind.advice.long_text),
            );
            text = String::new();
            broken = true;
        }
        // A number hidden behind escapes is seen only now.
        let numbers = redact::find(&text);
        if !numbers.is_empty() && !broken {
            text = redact::apply(&text, &numbers);
            self.findings.push(redact::finding(span));
        }
        if let Some((hidden, called)) = text.chars().find_map(|c| Some((c, unseen(c)?)))
            && !broken
            && !self.excerpt(span).contains(hidden)
        {
            self.findings.push(
                Finding::error(
                    "hidden-character",
                    format!(
                        "this text contains a character that cannot be seen, U+{:04X}, {called}",
                        hidden as u32
                    ),
                )
                .at(span)
                .help("leave the escape for that character out"),
            );
            broken = true;
        }
        Node { span, value: Value::Text { text, plain }, broken }
    }

    /// Returns the empty place behind the key that waits for its value.
    fn after_last_key(&self, otherwise: Span) -> Span {
        let key = self.stack.last().and_then(|open| open.key.as_ref());
        let at = key.map_or(otherwise.start, |key| key.span.end);
        Span { start: at, end: at, ..otherwise }
    }

    fn is_mended(&self, span: Span) -> bool {
        self.mended.iter().any(|one| one.start < span.end && span.start < one.end)
    }

    /// Refuses anchors and tags, which stand before the node they belong to.
    fn refuse_marks(&mut self, anchor: bool, tag: bool, span: Span) {
        for (present, sign, code) in [(anchor, '&', "anchor"), (tag, '!', "tag")] {
            if !present {
                continue;
            }
            let at = syntax::mark_before(self.text, span.start as usize, sign)
                .map_or(span, |(start, end)| place(self.source, start, end));
            self.findings.push(syntax::mark(code, at, self.kind));
        }
    }

    fn open(&mut self, span: Span, map: bool) -> Result<(), Stop> {
        self.count(span)?;
        let most = self.kind.limits.depth;
        if self.stack.len() == most {
            return Err(Stop::limit(
                Finding::error(
                    "nested-too-deep",
                    format!("lists and keys lie more than {most} deep in each other here; reading stops"),
                )
                .at(span)
                .help(syntax::levels(self.kind)),
            ));
        }
        let braces = matches!(self.excerpt(span).chars().next(), Some('{' | '[')) && span.end > span.start;
        self.stack.push(Open {
            span,
            braces,
            map,
            items: Vec::new(),
            entries: Vec::new(),
            key: None,
            seen: HashMap::new(),
            broken: false,
        });
        Ok(())
    }

    fn close(&mut self, end: Option<Span>) {
        let Some(mut open) = self.stack.pop() else { return };
        if let Some(key) = open.key.take() {
            // Cut off between a key and its value.
            let at = Span { start: key.span.end, ..key.span };
            let value =
                Node { span: at, value: Value::Text { text: String::new(), plain: true }, broken: true };
            open.entries.push(Entry { key, value });
        }
        let last = match open.map {
            true => open.entries.last().map(|one| one.value.span.end.max(one.key.span.end)),
            false => open.items.last().map(|one| one.span.end),
        };
        let mut finish = last.unwrap_or(open.span.end).max(open.span.end);
        if open.braces
            && let Some(end) = end
        {
            finish = finish.max(end.end);
        }
        let value = match open.map {
            true => Value::Map { entries: open.entries, braces: open.braces },
            false => Value::List(open.items),
        };
        self.put(Node {
            span: Span { end: finish, ..open.span },
            value,
            broken: open.broken || end.is_none(),
        });
    }

    /// Closes what is open where reading stopped, each part marked as broken.
    fn close_all(&mut self) -> Option<Node> {
        while !self.stack.is_empty() {
            self.close(None);
        }
        self.root.take()
    }

    /// Returns the place of the innermost bracket still open.
    fn innermost_brackets(&self) -> Option<Span> {
        self.stack.iter().rev().find(|one| one.braces).map(|one| one.span)
    }

    /// Puts a finished node where it belongs.
    fn put(&mut self, node: Node) {
        let Some(open) = self.stack.last_mut() else {
            self.root.get_or_insert(node);
            return;
        };
        if !open.map {
            open.items.push(node);
            return;
        }
        if let Some(key) = open.key.take() {
            match open.first(&key.value) {
                Some(first) => {
                    self.findings.push(
                        Finding::error("duplicate-key", format!("`{}` stands here a second time", key.value))
                            .at(key.span)
                            .with(first, "the first time")
                            .help("keep one of the two; which one counts would be a guess"),
                    );
                    open.broken = true;
                }
                None => open.entries.push(Entry { key, value: node }),
            }
            return;
        }
        let key = match node.value {
            Value::Text { ref text, plain } if !node.broken => {
                let merge = plain && text == "<<";
                if merge {
                    self.findings.push(
                        Finding::error(
                            "merge-key",
                            format!(
                                "`<<` takes over the keys of another place, and {} has no such references",
                                self.kind.a
                            ),
                        )
                        .at(node.span)
                        .help("write the keys out here"),
                    );
                    open.broken = true;
                }
                if merge { format!("?{}", node.span.start) } else { text.clone() }
            }
            _ if node.broken => {
                open.broken = true;
                format!("?{}", node.span.start)
            }
            _ => {
                self.findings.push(
                    Finding::error(
                        "key-not-text",
                        "a list or a group of keys stands here where a key belongs",
                    )
                    .at(node.span)
                    .help("a key is a word followed by a colon; text that begins with [ or { needs quotes"),
                );
                open.broken = true;
                format!("?{}", node.span.start)
            }
        };
        open.key = Some(Spanned::new(key, node.span));
    }
}

/// Reads the text again with serde_yaml and reports the first place where it reads something else.
fn agree(root: &Node, text: &str, base: usize, source: SourceId) -> Option<Finding> {
    let error = Same { node: root }.deserialize(serde_yaml::Deserializer::from_str(text)).err()?;
    let at = error.location().map(|place| (place.index() + base).min(base + text.len()));
    let start = at.unwrap_or(base);
    let mut end = start;
    while end < base + text.len() && !text.is_char_boundary(end + 1 - base) {
        end += 1;
    }
    Some(
        Finding::error(
            "two-readings",
            format!(
                "two YAML readers understand the text here differently ({})",
                difference(&error.to_string())
            ),
        )
        .at(place(source, start, (end + 1).min(base + text.len())))
        .help("put the value in quotes, and each key on a line of its own"),
    )
}

/// Shortens the second reader's error to what it found, without the path and place it adds.
fn difference(error: &str) -> &str {
    let known = DIFFERENCES.iter().find(|one| error.contains(**one));
    known.copied().unwrap_or_else(|| error.split(" at line").next().unwrap_or(error))
}

const TEXT_DIFFERS: &str = "the text is not the same";
const NOTHING: &str = "one of them finds nothing";
const NO_LIST: &str = "one of them finds a list";
const LIST_ENDS: &str = "the list ends earlier for one of them";
const NO_KEYS: &str = "one of them finds keys with values";
const KEYS_END: &str = "the keys end earlier for one of them";
const DIFFERENCES: [&str; 6] = [TEXT_DIFFERS, NOTHING, NO_LIST, LIST_ENDS, NO_KEYS, KEYS_END];

/// Deserializes exactly what a node of the first reading says, and fails at the first difference.
///
/// Every scalar is asked for as a string, which serde_yaml answers with the text as written, so no number
/// is ever made on the way.
struct Same<'n> {
    node: &'n Node,
}

impl<'de> DeserializeSeed<'de> for Same<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        match &self.node.value {
            Value::Text { .. } => deserializer.deserialize_str(self),
            Value::List(_) => deserializer.deserialize_seq(self),
            Value::Map { .. } => deserializer.deserialize_map(self),
        }
    }
}

impl<'de> Visitor<'de> for Same<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("what the first reading found: ")?;
        f.write_str(self.node.stands())
    }

    fn visit_str<E: serde::de::Error>(self, read: &str) -> Result<(), E> {
        match &self.node.value {
            Value::Text { text, .. } if text == read => Ok(()),
            _ => Err(E::custom(TEXT_DIFFERS)),
        }
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<(), E> {
        match self.node.is_nothing() {
            true => Ok(()),
            false => Err(E::custom(NOTHING)),
        }
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        let Value::List(items) = &self.node.value else {
            return Err(A::Error::custom(NO_LIST));
        };
        for item in items {
            if list.next_element_seed(Same { node: item })?.is_none() {
                return Err(A::Error::custom(LIST_ENDS));
            }
        }
        match list.next_element::<serde::de::IgnoredAny>()? {
            None => Ok(()),
            Some(_) => Err(A::Error::custom(LIST_ENDS)),
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let Value::Map { entries, .. } = &self.node.value else {
            return Err(A::Error::custom(NO_KEYS));
        };
        for entry in entries {
            let key = Node {
                span: entry.key.span,
                value: Value::Text { text: entry.key.value.clone(), plain: false },
                broken: false,
            };
            if map.next_key_seed(Same { node: &key })?.is_none() {
                return Err(A::Error::custom(KEYS_END));
            }
            map.next_value_seed(Same { node: &entry.value })?;
        }
        match map.next_key::<serde::de::IgnoredAny>()? {
            None => Ok(()),
            Some(_) => Err(A::Error::custom(KEYS_END)),
        }
    }
}
