//! Words for what is no YAML, or YAML that no file of ours uses.
//!
//! Comes in: the reader's error and the text. Goes out: a finding that says what to write, and, where the
//! rest of the file can still be read, a mending of one byte that keeps every place where it was.

use super::file::FileKind;
use super::node::place;
use crate::finding::{Finding, SourceId, Span};
use saphyr_parser::ScanError;

/// A mending of the text, so that reading can go on behind an error that has been reported.
pub(super) struct Repair {
    /// The byte to replace.
    pub at: usize,
    /// The one byte to put there.
    pub with: &'static str,
    /// What must not be taken for a value.
    pub broken: Span,
}

/// Explains why reading stopped at byte `at`, and how to go on behind it if that is possible.
pub(super) fn explain(
    error: &ScanError,
    text: &str,
    at: usize,
    source: SourceId,
    kind: &FileKind,
    open_bracket: Option<Span>,
) -> (Finding, Option<Repair>) {
    let info = error.info();
    let line = Line::around(text, at);
    let word = place(source, at, line.word_end(text, at));
    let excerpt = &text[word.start as usize..word.end as usize];
    let first = excerpt.chars().next();

    // The reader stops at the value before the tab, so the next line is looked at as well.
    let next = Line::around(text, (line.end + 1).min(text.len()));
    if let Some(tab) = line
        .tab_in_indent(text)
        .or_else(|| next.tab_in_indent(text).filter(|_| info.contains("tab") || info.contains("indentation")))
    {
        return (tab_finding(place(source, tab, tab + 1)), None);
    }
    if first == Some('*') && (info.contains("unknown anchor") || info.contains("anchor or alias")) {
        return (alias(excerpt, word, kind), Some(mend(word, "x")));
    }
    if first == Some('&') && info.contains("anchor") {
        return (mark("anchor", word, kind), Some(mend(word, "x")));
    }
    if first == Some('!') || info.contains("a tag") || info.contains("handle") {
        let bang = mark_before(text, at + 1, '!').map_or(word, |(start, end)| place(source, start, end));
        return (mark("tag", bang, kind), Some(mend(bang, "x")));
    }
    if let Some(sign @ ('@' | '`' | '%' | '|' | '>' | '}' | ']' | ',' | '-' | '?')) = first
        && (info.contains("expected next token")
            || info.contains("unexpected character")
            || info.contains("block scalar, did not find")
            || info.contains("cannot start with")
            || info.contains("expected node content"))
        && !matches!(sign, '}' | ']' | ',')
    {
        let text_end = match open_bracket {
            Some(_) => text[at..line.end].find([',', '}', ']']).map_or(line.end, |n| at + n),
            None => text[at..line.end].find(" #").map_or(line.end, |n| at + n),
        };
        let word = place(source, at, at + text[at..text_end].trim_end().len());
        let excerpt = text[at..text_end].trim_end();
        return (
            Finding::error(
                "needs-quotes",
                format!("a text that begins with {sign} must stand in quotes, because the sign has a meaning of its own in YAML"),
            )
            .at(word)
            .help(format!("write {}", quoted(excerpt))),
            Some(mend(word, "x")),
        );
    }
    if info.contains("quoted scalar") || info.contains("double-quoted") || info.contains("escape") {
        return quotes(info, text, at, source);
    }
    if info.contains("mapping values are not allowed") || info.contains("illegal placement of ':'") {
        return colon(text, at, source, &line);
    }
    if info.contains("flow mapping")
        || info.contains("flow sequence")
        || info.contains("flow construct")
        || open_bracket.is_some() && info.contains("indentation")
    {
        // Where the file ends with a bracket open, the bracket says more than the end.
        let word = match open_bracket {
            Some(open) if at >= text.trim_end().len() => Span { end: open.start + 1, ..open },
            _ => word,
        };
        let mut finding = brackets_finding(word);
        if let Some(open) = open_bracket
            && open.start != word.start
        {
            finding = finding.with(Span { end: open.start + 1, ..open }, "opened here");
        }
        return (finding, None);
    }
    let behind_tab = text[line.start..at].ends_with('\t');
    if info.contains("tab") || (behind_tab && info.contains("whitespace")) {
        let tab = if behind_tab { place(source, at - 1, at) } else { word };
        return (tab_finding(tab), None);
    }
    if info.contains("recursion") {
        return (
            Finding::error("nested-too-deep", "brackets lie too deep in each other here; reading stops")
                .at(word)
                .help(levels(kind)),
            None,
        );
    }
    if info.contains("directive") || (first == Some('%') && word.start as usize == line.start) {
        return (directive(word, kind), None);
    }
    let indentation = [
        "indentation",
        "simple key",
        "expected key",
        "block collection",
        "expected '-'",
        "block sequence entries",
        "only valid inside a block",
        "expected node content",
        "document start",
        "document end",
        "wrongly indented",
    ];
    if indentation.iter().any(|part| info.contains(part)) {
        if let Some(open) = line.unclosed_above(text) {
            return (brackets_finding(place(source, open, open + 1)), None);
        }
        if let Some(without) = line.above_without_colon(text) {
            return (
                Finding::error(
                    "indentation",
                    "this line has no colon, so it is no key, and what follows belongs to nothing",
                )
                .at(without.content(text, source))
                .help("put a colon and a blank between the key and its value"),
                None,
            );
        }
        if let Some((without, name)) = line.above_without_blank(text) {
            return (
                Finding::error("indentation", format!("a blank is missing behind `{name}:`"))
                    .at(without.content(text, source))
                    .help("a key ends in a colon and a blank; then comes its value"),
                None,
            );
        }
        return (indentation_finding(line.content(text, source)), None);
    }
    (
        Finding::error(
            "not-yaml",
            format!("the text does not fit together as YAML from here on ({info})"),
        )
        .at(word)
        .help("compare this line and the one above with an entry that reads well; text with special signs belongs in quotes"),
        None,
    )
}

/// The complaint about `*name`.
pub(super) fn alias(excerpt: &str, at: Span, kind: &FileKind) -> Finding {
    let masked = excerpt.starts_with("***");
    let why = match masked {
        true => {
            "without quotes YAML takes a text that begins with `*` for a reference to another place in the file"
                .to_string()
        }
        false => format!(
            "a text that begins with `*` refers to another place in the file, and {} has no such references",
            kind.a
        ),
    };
    Finding::error("alias", why).at(at).help(match masked {
        true => format!("write it in quotes: {}", quoted(excerpt)),
        false => {
            format!("write the value out here, or {} if the text itself begins with `*`", quoted(excerpt))
        }
    })
}

/// The complaint about `&name` (code `anchor`) or `!name` (code `tag`).
pub(super) fn mark(code: &'static str, at: Span, kind: &FileKind) -> Finding {
    let (message, help) = match code {
        "anchor" => (
            format!("`&` in front of a value gives it a name to refer to; {} has no such references", kind.a),
            "delete the `&` and the name, or put the whole text in quotes if it begins with `&`",
        ),
        _ => (
            format!(
                "`!` in front of a value tells a YAML reader its type; in {} every value is read as its key asks",
                kind.a
            ),
            "delete the `!` and what belongs to it, or put the whole text in quotes if it begins with `!`",
        ),
    };
    Finding::error(code, message).at(at).help(help)
}

/// What to do where lists and keys are too deep in each other.
pub(super) fn levels(kind: &FileKind) -> String {
    let (a, levels) = (kind.a, kind.advice.levels);
    format!("no part of {a} needs more than {levels} levels; look for a bracket too many")
}

/// The complaint about a line that begins with `%`.
pub(super) fn directive(at: Span, kind: &FileKind) -> Finding {
    Finding::error(
        "directive",
        format!("a line that begins with `%` gives orders to the YAML reader; {} has none", kind.a),
    )
    .at(at)
    .help("delete this line")
}

/// Finds the word with the given sign that stands before a node, at most a line above it.
pub(super) fn mark_before(text: &str, before: usize, sign: char) -> Option<(usize, usize)> {
    let head = text.get(..before)?;
    let window = head.char_indices().rev().nth(200).map_or(0, |(at, _)| at);
    let start = window + head[window..].rfind(sign)?;
    let end = start
        + text[start..]
            .find(|c: char| c.is_whitespace() || matches!(c, ',' | '}' | ']'))
            .unwrap_or(text.len() - start);
    Some((start, end))
}

/// Puts a text in double quotes.
pub(crate) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

fn mend(word: Span, with: &'static str) -> Repair {
    Repair { at: word.start as usize, with, broken: word }
}

fn tab_finding(at: Span) -> Finding {
    Finding::error("tab", "a tab stands where YAML takes blanks only; how far in it reaches would be a guess")
        .at(at)
        .help("put blanks in its place, two for each level; most editors can do this for the whole file")
}

fn brackets_finding(at: Span) -> Finding {
    Finding::error(
        "brackets-open",
        "the brackets do not close: between entries stands a comma, and every { or [ needs its } or ]",
    )
    .at(at)
    .help("look for a missing comma or bracket before this place, or for text with a comma, colon or bracket that needs quotes")
}

fn indentation_finding(at: Span) -> Finding {
    Finding::error(
        "indentation",
        "this line does not begin where the lines above let it begin, so what it belongs to is unclear",
    )
    .at(at)
    .help("keys of one group begin in the same column, two blanks further in than the key they belong to; each key ends in a colon and a blank")
}

fn quotes(info: &str, text: &str, at: usize, source: SourceId) -> (Finding, Option<Repair>) {
    let line = Line::around(text, at);
    let rest = place(source, at, line.end.max(at));
    if info.contains("escape") || info.contains("hexadecimal") {
        return (
            Finding::error(
                "escape",
                "inside double quotes a backslash begins an escape such as \\n, and this is none",
            )
            .at(place(source, at, line.word_end(text, at)))
            .help("put the text in single quotes, where a backslash is only a backslash, or write it twice: \\\\"),
            None,
        );
    }
    if info.contains("trailing content") {
        return (
            Finding::error("quotes", "the text in quotes ends before this place, and the line goes on")
                .at(rest)
                .help("put the whole text in one pair of quotes; a single quote inside single quotes is written twice: 'O''Brien'"),
            None,
        );
    }
    (
        Finding::error("quotes", "the text in quotes that begins here does not end")
            .at(rest)
            .help("close it with the same kind of quote; a single quote inside single quotes is written twice: 'O''Brien'"),
        None,
    )
}

/// A colon where none may stand: in the middle of a text, or on a line that is further in than it may be.
fn colon(text: &str, at: usize, source: SourceId, line: &Line) -> (Finding, Option<Repair>) {
    let before = &text[line.start..at.min(line.end)];
    let value_start = before.find(": ").map(|n| {
        let after = &before[n + 2..];
        line.start + n + 2 + (after.len() - after.trim_start().len())
    });
    match value_start {
        Some(start) if start <= at => {
            let value = place(source, start, text[..line.end].trim_end().len().max(start));
            let excerpt = &text[value.start as usize..value.end as usize];
            // A key with its own value behind another key is no text that lacks quotes.
            if excerpt.contains(": {") || excerpt.contains(": [") {
                let finding =
                    Finding::error("indentation", "a key stands here behind another key, on the same line");
                let finding = finding.at(value);
                let help =
                    "put it on a line of its own, two blanks further in than the line it stands on now";
                return (finding.help(help), Some(Repair { at, with: ";", broken: value }));
            }
            (
                Finding::error("needs-quotes", "a text with a colon and a blank in it must stand in quotes")
                    .at(value)
                    .help(format!("write {}", quoted(excerpt))),
                Some(Repair { at, with: ";", broken: value }),
            )
        }
        _ => match line.unclosed_above(text) {
            Some(open) => (brackets_finding(place(source, open, open + 1)), None),
            None => (indentation_finding(line.content(text, source)), None),
        },
    }
}

/// The line around a byte.
struct Line {
    start: usize,
    end: usize,
}

impl Line {
    fn around(text: &str, at: usize) -> Line {
        let start = text[..at].rfind('\n').map_or(0, |n| n + 1);
        let end = text[at..].find('\n').map_or(text.len(), |n| at + n);
        Line { start, end }
    }

    fn content(&self, text: &str, source: SourceId) -> Span {
        let line = &text[self.start..self.end];
        let from = self.start + (line.len() - line.trim_start().len());
        place(source, from, (self.start + line.trim_end().len()).max(from))
    }

    fn word_end(&self, text: &str, at: usize) -> usize {
        let end = text[at..self.end.max(at)]
            .find(|c: char| c.is_whitespace() || matches!(c, ',' | '}' | ']'))
            .map_or(self.end, |n| at + n);
        match text[at..].chars().next() {
            Some(c) if end == at && c != '\n' => at + c.len_utf8(),
            _ => end.max(at),
        }
    }

    /// Finds a bracket on one of the two lines above that no bracket of its line closes. The reader runs ahead and often
    /// stops only where the next key begins.
    fn unclosed_above(&self, text: &str) -> Option<usize> {
        let mut end = self.start;
        for _ in 0..2 {
            let above = Line::around(text, end.checked_sub(1)?);
            let mut open = Vec::new();
            for (n, c) in text[above.start..above.end].char_indices() {
                match c {
                    '{' | '[' => open.push(above.start + n),
                    '}' | ']' => drop(open.pop()),
                    '#' | '"' | '\'' => return None,
                    _ => {}
                }
            }
            if let Some(at) = open.first() {
                return Some(*at);
            }
            end = above.start;
        }
        None
    }

    /// Returns the line above this one if it is a key that lacks its colon: words as keys have them, and no sign.
    fn above_without_colon(&self, text: &str) -> Option<Line> {
        let above = Line::around(text, self.start.checked_sub(1)?);
        let words = text[above.start..above.end].trim();
        let key = words.split_whitespace().next()?;
        let like_a_key = key.len() > 1 && key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        (like_a_key && !words.contains([':', '#', '"', '{', '['])).then_some(above)
    }

    /// Returns the line above this one, and its key, if no blank stands between the colon and the value.
    fn above_without_blank<'t>(&self, text: &'t str) -> Option<(Line, &'t str)> {
        let above = Line::around(text, self.start.checked_sub(1)?);
        let (key, value) = text[above.start..above.end].trim().split_once(':')?;
        let like_a_key = key.len() > 1 && key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        let joined = value.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '{' | '[' | '"'));
        (like_a_key && joined).then_some((above, key))
    }

    /// Finds a tab among the blanks the line begins with.
    fn tab_in_indent(&self, text: &str) -> Option<usize> {
        let line = &text[self.start..self.end];
        let indent = &line[..line.len() - line.trim_start().len()];
        (indent.len() < line.len()).then(|| indent.find('\t')).flatten().map(|n| self.start + n)
    }
}
