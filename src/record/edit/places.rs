//! Where in a text a change goes.

use super::super::tree::{Entry, Node, Value};
use super::super::write::{self, Written};
use super::Table;
use super::lines::{self, Behind, Style};

/// A text by its lines.
pub(super) struct Text<'t> {
    text: &'t str,
}

const BYTE_ORDER_MARK: &str = "\u{feff}";
const LIST_FORM: &str = "the list is not written with a dash before each entry";
const COMMENT_INSIDE: &str = "a comment stands in it; change it by hand";
const SEVERAL_LINES: &str = "it has lines of its own; change them one by one";
const NO_COLON: &str = "no colon is behind the key";

impl<'t> Text<'t> {
    pub fn new(text: &'t str) -> Text<'t> {
        Text { text }
    }

    /// Returns where the line around a byte begins.
    fn line_start(&self, at: usize) -> usize {
        match self.text[..at].rfind('\n') {
            Some(end) => end + 1,
            None if self.text.starts_with(BYTE_ORDER_MARK) => BYTE_ORDER_MARK.len().min(at),
            None => 0,
        }
    }

    /// Returns where the line behind the one around a byte begins, or the end of the text.
    fn next_line(&self, at: usize) -> usize {
        self.text[at..].find('\n').map_or(self.text.len(), |end| at + end + 1)
    }

    /// The line that begins at a byte, without its end.
    fn line(&self, start: usize) -> &'t str {
        self.text[start..self.next_line(start)].trim_end_matches(['\n', '\r'])
    }

    /// Returns how far in a byte is on its line.
    pub fn column(&self, at: usize) -> usize {
        self.text[self.line_start(at)..at].chars().count()
    }

    /// Says whether nothing but blanks stands before a byte on its line.
    fn begins_line(&self, at: usize) -> bool {
        self.text[self.line_start(at)..at].bytes().all(|byte| byte == b' ')
    }

    /// The end of lines at a place: that of the line before it, or of the text's first line.
    fn line_end(&self, at: usize) -> &'static str {
        let before = self.text[..at].rfind('\n').or_else(|| self.text.find('\n'));
        match before {
            Some(end) if self.text[..end].ends_with('\r') => "\r\n",
            _ => "\n",
        }
    }

    /// Returns the text with something else in place of a part of it.
    fn with(&self, from: usize, to: usize, new: &str) -> String {
        format!("{}{new}{}", &self.text[..from], &self.text[to..])
    }

    /// Returns the text with lines put before the one that begins at `at`.
    fn with_lines(&self, at: usize, lines: &[String]) -> String {
        let end = self.line_end(at);
        let lines = lines.join(end);
        // A text whose last line has no end goes on having none.
        match at == self.text.len() && !self.text.ends_with('\n') {
            true => self.with(at, at, &format!("{end}{lines}")),
            false => self.with(at, at, &format!("{lines}{end}")),
        }
    }

    /// Returns the line behind the one that ends a part at byte `end`, past the comments that belong to it: those further
    /// in than `column`, and, where nothing of its group follows, those that begin there.
    fn behind(&self, end: usize, column: usize, last: bool) -> usize {
        let mut at = self.next_line(end);
        while at < self.text.len() {
            let line = self.line(at);
            let inside = line.len() - line.trim_start_matches(' ').len();
            if !line.trim_start().starts_with('#') || inside < column + usize::from(!last) {
                break;
            }
            at = self.next_line(at);
        }
        at
    }

    /// Goes past the empty lines at a place, where they belong to a text that keeps them.
    fn past_kept_lines(&self, mut at: usize, kept: bool) -> usize {
        if kept {
            while at < self.text.len() && self.line(at).trim().is_empty() {
                at = self.next_line(at);
            }
        }
        at
    }

    /// Returns where the colon behind a key is.
    fn colon(&self, entry: &Entry) -> Result<usize, &'static str> {
        let end = entry.key.span.end as usize;
        let blanks = self.text[end..].len() - self.text[end..].trim_start().len();
        self.text[end + blanks..].starts_with(':').then_some(end + blanks).ok_or(NO_COLON)
    }
}

/// Returns where the sign of a text on lines of its own (`|` or `>`) is, and the rest of its line, where the value is such
/// a text. `entry` is the key it is behind; in a list it is behind a dash.
fn block_head<'t>(text: &Text<'t>, entry: Option<&Entry>, node: &Node) -> Option<(usize, &'t str)> {
    let Value::Text { plain: false, .. } = node.value else { return None };
    let start = match entry {
        Some(entry) => {
            let behind = text.colon(entry).ok()? + 1;
            behind + text.text[behind..].len() - text.text[behind..].trim_start_matches(' ').len()
        }
        None => {
            let before = text.text[..node.span.start as usize].trim_end();
            let line = &before[text.line_start(before.len())..];
            let behind = line.trim_start_matches(' ').strip_prefix('-')?;
            before.len() - behind.trim_start_matches(' ').len()
        }
    };
    let head = text.text[start..].lines().next()?;
    head.starts_with(['|', '>']).then_some((start, head))
}

/// Says whether the value behind a key ends in a text that keeps the empty lines behind it (`|+`).
fn keeps_lines(text: &Text<'_>, entry: &Entry) -> bool {
    match &entry.value.value {
        Value::Text { .. } => {
            block_head(text, Some(entry), &entry.value).is_some_and(|(_, head)| keeps(head))
        }
        _ => ends_keeping_lines(text, &entry.value),
    }
}

fn keeps(head: &str) -> bool {
    head.split('#').next().is_some_and(|head| head.contains('+'))
}

/// The same of what is in a list or map.
fn ends_keeping_lines(text: &Text<'_>, node: &Node) -> bool {
    match &node.value {
        Value::Text { .. } => block_head(text, None, node).is_some_and(|(_, head)| keeps(head)),
        Value::List(all) => all.last().is_some_and(|one| ends_keeping_lines(text, one)),
        Value::Map { entries, .. } => entries.last().is_some_and(|one| keeps_lines(text, one)),
    }
}

/// Says whether a list is written in brackets. One that is written with dashes begins with a dash or its first entry.
fn bracketed(text: &Text<'_>, list: &Node, all: &[Node]) -> bool {
    let start = list.span.start;
    text.text[start as usize..].starts_with('[') && all.first().is_none_or(|first| first.span.start > start)
}

/// Returns where the dash before an entry of a list is, if the list is written with dashes.
pub(super) fn dash(text: &Text<'_>, list: &Node, one: &Node) -> Option<usize> {
    if matches!(&list.value, Value::List(all) if bracketed(text, list, all)) {
        return None;
    }
    let start = match block_head(text, None, one) {
        Some((start, _)) => start,
        None => one.span.start as usize,
    };
    let before = text.text[..start].trim_end();
    before.ends_with('-').then(|| before.len() - 1)
}

fn end_of(entry: &Entry) -> usize {
    entry.value.span.end.max(entry.key.span.end) as usize
}

/// Says whether empty lines stand between the parts of a group that begin at these bytes.
fn spaced(text: &Text<'_>, starts: &[usize], ends: &[usize]) -> bool {
    let gaps = ends.iter().zip(starts.iter().skip(1));
    gaps.into_iter().any(|(end, start)| {
        let from = text.next_line(*end).min(*start);
        text.text[from..*start].lines().any(|line| line.trim().is_empty() && !line.contains(' '))
    })
}

/// Puts a new key into a map.
pub(super) fn insert(
    text: &Text<'_>,
    map: &Node,
    key: &str,
    value: &Written,
    table: Table,
    style: &Style,
) -> Result<String, &'static str> {
    let Value::Map { entries, braces } = &map.value else { return Err(super::NO_KEYS) };
    let at = table.position(entries.iter().map(|one| one.key.value.as_str()), key);
    if *braces || entries.is_empty() {
        let new = format!("{key}: {}", write::on_one_line(value, None));
        return Ok(match (at.checked_sub(1).map(|before| &entries[before]), entries.first()) {
            (Some(before), _) => {
                // A key without a value may have its colon behind it, and a blank behind that.
                let colon =
                    text.colon(before).ok().filter(|_| before.value.span.start == before.value.span.end);
                let (end, blank) = match colon {
                    Some(colon) if text.text[colon + 1..].starts_with(' ') => (colon + 2, ""),
                    Some(colon) => (colon + 1, " "),
                    None => (end_of(before), ""),
                };
                text.with(end, end, &format!("{blank}, {new}"))
            }
            (None, Some(first)) => {
                let start = first.key.span.start as usize;
                text.with(start, start, &format!("{new}, "))
            }
            (None, None) => {
                let start = map.span.start as usize + 1;
                text.with(start, start, &new)
            }
        });
    }
    let first = &entries[0];
    let column = text.column(first.key.span.start as usize);
    let mut lines = lines::of_key(key, value, column, style);
    let Some(before) = at.checked_sub(1).map(|before| &entries[before]) else {
        let start = first.key.span.start as usize;
        let head = text.line_start(start);
        // Above the comments of the first key; where the group begins on the line of a dash, behind the dash.
        return Ok(match text.begins_line(start) {
            true => text.with_lines(above_comments(text, head, column), &lines),
            false => {
                let end = text.line_end(start);
                let new = lines.join(end);
                text.with(start, start, &format!("{}{end}{}", &new[column..], " ".repeat(column)))
            }
        });
    };
    let starts: Vec<usize> = entries.iter().map(|one| one.key.span.start as usize).collect();
    let ends: Vec<usize> = entries.iter().map(end_of).collect();
    let kept = keeps_lines(text, before);
    if spaced(text, &starts, &ends) && (lines.len() > 1 || column == 0) && !kept {
        lines.insert(0, String::new());
    }
    let line = text.behind(end_of(before), column, at == entries.len());
    Ok(text.with_lines(text.past_kept_lines(line, kept), &lines))
}

/// Goes up over the comments that stand directly above a line, and begin in the same column. At the head of a file they
/// speak of the whole file.
fn above_comments(text: &Text<'_>, line: usize, column: usize) -> usize {
    let mut at = line;
    while column > 0 && at > 0 {
        let above = text.line_start(at - 1);
        let words = text.line(above);
        let inside = words.len() - words.trim_start_matches(' ').len();
        if !words.trim_start().starts_with('#') || inside != column {
            break;
        }
        at = above;
    }
    at
}

/// Writes a value behind a key that has none.
pub(super) fn fill(
    text: &Text<'_>,
    map: &Node,
    key: &str,
    value: &Written,
    style: &Style,
) -> Result<String, &'static str> {
    let Value::Map { entries, braces } = &map.value else { return Err(super::NO_KEYS) };
    let entry = entries.iter().find(|one| one.key.value == key).ok_or(super::NO_KEYS)?;
    let (start, end) = (entry.value.span.start as usize, entry.value.span.end as usize);
    let one_line = |value: &Written| write::on_one_line(value, None);
    let written = match braces {
        true => Behind::Line(one_line(value)),
        false => lines::behind(value, text.column(entry.key.span.start as usize), style),
    };
    let empty = start == end;
    Ok(match written {
        Behind::Line(line) if empty => match text.colon(entry) {
            Ok(colon) => text.with(colon + 1, colon + 1, &format!(" {line}")),
            // In braces a key may stand without its colon.
            Err(_) => text.with(start, start, &format!(": {line}")),
        },
        Behind::Line(line) => text.with(start, end, &line),
        Behind::Lines(lines) => {
            // The sign for nothing goes, and the blank before it; a comment on the line stays.
            let from = if empty { start } else { text.text[..start].trim_end_matches(' ').len() };
            let shorter = text.with(from, end, "");
            let shorter = Text::new(&shorter);
            shorter.with_lines(shorter.next_line(from), &lines)
        }
    })
}

/// Writes a value in place of another one; `entry` is the key it is behind, if it is behind one.
pub(super) fn replace(
    text: &Text<'_>,
    entry: Option<&Entry>,
    node: &Node,
    new: &str,
) -> Result<String, &'static str> {
    let (start, end) = (node.span.start as usize, node.span.end as usize);
    // The comment at the head of a text on lines of its own stays.
    if let Some((start, head)) = block_head(text, entry, node) {
        let comment = head.find('#').map_or("", |at| &head[head[..at].trim_end().len()..]);
        return Ok(text.with(start, end, &format!("{new}{comment}")));
    }
    match &node.value {
        Value::Text { .. } => Ok(text.with(start, end, new)),
        Value::Map { braces: false, .. } => Err(SEVERAL_LINES),
        Value::List(all) if !bracketed(text, node, all) => Err(SEVERAL_LINES),
        _ if has_comment(text, node) => Err(COMMENT_INSIDE),
        _ => Ok(text.with(start, end, new)),
    }
}

/// Says whether a comment stands inside a list or map: a `#` in none of its keys and values.
fn has_comment(text: &Text<'_>, node: &Node) -> bool {
    fn texts(node: &Node, spans: &mut Vec<(usize, usize)>) {
        match &node.value {
            Value::Text { .. } => spans.push((node.span.start as usize, node.span.end as usize)),
            Value::List(all) => all.iter().for_each(|one| texts(one, spans)),
            Value::Map { entries, .. } => entries.iter().for_each(|one| {
                spans.push((one.key.span.start as usize, one.key.span.end as usize));
                texts(&one.value, spans);
            }),
        }
    }
    let mut spans = Vec::new();
    texts(node, &mut spans);
    let mut at = node.span.start as usize;
    for (start, end) in spans {
        if text.text[at..start.max(at)].contains('#') {
            return true;
        }
        at = end.max(at);
    }
    text.text[at..(node.span.end as usize).max(at)].contains('#')
}

/// Adds an entry to a list.
pub(super) fn append(
    text: &Text<'_>,
    list: &Node,
    one: &Written,
    style: &Style,
) -> Result<String, &'static str> {
    let Value::List(all) = &list.value else { return Err(super::NO_LIST) };
    let start = list.span.start as usize;
    if bracketed(text, list, all) {
        let line = write::on_one_line(one, None);
        return Ok(match all.last() {
            Some(last) => text.with(last.span.end as usize, last.span.end as usize, &format!(", {line}")),
            None => text.with(start + 1, start + 1, &line),
        });
    }
    let (first, last) = (all.first().ok_or(LIST_FORM)?, all.last().ok_or(LIST_FORM)?);
    let column = text.column(dash(text, list, first).ok_or(LIST_FORM)?);
    // As the last entry is written: its keys in braces, or each on a line of its own.
    let (inner, one) = match &last.value {
        Value::Map { entries, braces: false } => {
            let inner = entries.first().map_or(2, |one| text.column(one.key.span.start as usize) - column);
            let lines = match one {
                Written::Keys(keys) => Written::Lines(keys.clone()),
                one => one.clone(),
            };
            (inner, lines)
        }
        _ => {
            let from = dash(text, list, last).ok_or(LIST_FORM)?;
            let same_line = text.line_start(from) == text.line_start(last.span.start as usize);
            let inner = if same_line { last.span.start as usize - from } else { 2 };
            let keys = match one {
                Written::Lines(keys) => Written::Keys(keys.clone()),
                one => one.clone(),
            };
            (inner, keys)
        }
    };
    let mut lines = lines::of_entry(&one, column, inner.max(2), style);
    let starts: Vec<usize> = all.iter().map(|one| one.span.start as usize).collect();
    let ends: Vec<usize> = all.iter().map(|one| one.span.end as usize).collect();
    let kept = ends_keeping_lines(text, last);
    if spaced(text, &starts, &ends) && lines.len() > 1 && !kept {
        lines.insert(0, String::new());
    }
    let line = text.behind(last.span.end as usize, column, true);
    Ok(text.with_lines(text.past_kept_lines(line, kept), &lines))
}
