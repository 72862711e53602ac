//! A finding in words: as plain text with an excerpt of the source, and as JSON for `figures`.
//!
//! Comes in: a finding and the texts it points into. Goes out: text without color and without control
//! characters, legible in any terminal, log or mail. It is broken into lines between words where whoever prints knows
//! how many columns there are.

use super::{Finding, LineColumn, Severity, Source, Sources, Span};
use crate::characters::{harmless_line, visible, visible_char};
use crate::contract::{Contract, Maybe, choice, contract, values};
use crate::wrap::{width, wrapped};
use serde_json::Value;

/// How many columns of a source line are shown; a longer one is cut around the place.
const SHOWN: usize = 96;
/// How many columns are kept in front of the place when a line is cut.
const BEFORE: usize = 32;
/// What stands around the part of a source line that is shown: its number, a rule, and the marks where it is cut.
const AROUND: usize = 10;
/// In narrower lines than this nothing could be read.
const FEWEST: usize = 10;

impl Finding {
    /// Writes the finding as plain text:
    ///
    /// ```text
    /// error[date-form] household.case.yaml:23:12
    ///    23 |     installed: 2024-02-30
    ///       |                ^^^^^^^^^^
    ///    there is no day 30 in month 2 of 2024, which has 29 days
    ///    help: write a day that exists, as year-month-day like 2024-05-14
    /// ```
    ///
    /// Related places follow the message, each as `file:line: word`, then the rules that ask for it. A question ends
    /// with the answer that a case can give.
    pub fn render(&self, sources: &Sources) -> String {
        self.render_within(None, sources)
    }

    /// Writes the finding as [`Finding::render`] does, in lines of no more than so many columns, unless a word is longer;
    /// without a number in lines of any length.
    pub fn render_within(&self, columns: Option<usize>, sources: &Sources) -> String {
        self.written(columns, sources, true)
    }

    fn written(&self, columns: Option<usize>, sources: &Sources, with_excerpt: bool) -> String {
        let shown_of_source = columns.map_or(SHOWN, |columns| SHOWN.min(columns.saturating_sub(AROUND)));
        let mut lines = Vec::new();
        let head = format!("{}[{}]", self.severity, self.code);
        match self.at {
            None => lines.push(head),
            Some(span) => {
                let source = sources.get(span.source);
                let at = sources.line_column(span);
                lines.push(format!("{head} {}:{}:{}", harmless_line(&source.name), at.line, at.column));
                // Of a file that is no text, or empty, there is no line to show.
                if with_excerpt && !source.line(at.line).trim().is_empty() {
                    lines.extend(excerpt(source, span, shown_of_source));
                }
            }
        }
        let mut put = |first: &str, rest: usize, words: &str| {
            let indent = " ".repeat(rest);
            let parts = match columns {
                Some(columns) => {
                    let room = |taken: usize| columns.saturating_sub(taken).max(FEWEST);
                    wrapped(words, room(first.len()), room(rest))
                }
                None => vec![words.to_string()],
            };
            let put = |(n, part): (usize, String)| match n {
                0 => format!("{first}{part}"),
                _ => format!("{indent}{part}"),
            };
            lines.extend(parts.into_iter().enumerate().map(put));
        };
        for line in self.message.lines() {
            put("   ", 3, &shown(line));
        }
        for (span, word) in &self.related {
            let name = harmless_line(&sources.get(span.source).name);
            let line = sources.line_column(*span).line;
            // What a related place says has more than one line where an entry is to be written there.
            for (n, part) in shown(word).split('\n').enumerate() {
                match n {
                    0 => put("   ", 5, &format!("{name}:{line}: {part}")),
                    _ => put("", 0, part),
                }
            }
        }
        for authority in &self.authority {
            put("   rule: ", 9, &visible(authority));
        }
        if let Some(help) = &self.help {
            let mut parts = help.lines();
            put("   help: ", 9, &shown(parts.next().unwrap_or("")));
            for line in parts {
                put("         ", 9, &shown(line));
            }
        }
        if let Some(entry) = self.answer_entry() {
            let when = if self.blocking { "before a packet is sealed, or" } else { "or" };
            put("   ", 5, &format!("{when} under `answers`: {}", visible(&entry)));
        }
        lines.join("\n") + "\n"
    }

    /// Writes the finding shortly, for a run that has told one of its code already: its head, and the words for that.
    /// Nothing of a finding that is told in full each time.
    pub fn render_again(&self, columns: Option<usize>, sources: &Sources) -> Option<String> {
        let message = self.again.clone()?;
        let brief = Finding { severity: self.severity, at: self.at, ..Finding::note(self.code, message) };
        Some(brief.written(columns, sources, false))
    }

    /// Writes the entry that answers a question, ready for the case's `answers` but for the answer itself.
    pub fn answer_entry(&self) -> Option<String> {
        if self.severity != Severity::Question {
            return None;
        }
        let about = self.about.as_ref().map_or_else(String::new, |about| format!(", about: {about}"));
        let given = self.given.as_ref().map_or_else(String::new, |given| {
            format!(", for: \"{}\"", given.replace('\\', "\\\\").replace('"', "\\\""))
        });
        Some(format!("{{question: {}{about}{given}, answer: .., by: .., on: ..}}", self.code))
    }

    /// Writes the finding as the figures contract has it. Characters that nobody sees are replaced here as well: whoever
    /// reads the data may show it on a terminal.
    pub fn to_json(&self, sources: &Sources) -> Value {
        Reported::of(self, sources).json()
    }
}

contract! {
    /// What is wrong, asked or worth knowing.
    pub struct Reported "finding" of (one: &Finding, sources: &Sources) {
        severity: Severity = one.severity;
        code: Code = Code(one.code);
        message: String = shown(&one.message);
        help: Option<String> = one.help.as_deref().map(shown);
        at: Option<At> = one.at.map(|span| At::start(span, sources));
        /// What it is about, as an answer to a question names it.
        about: Maybe<String> = Maybe(one.about.as_deref().map(visible));
        /// Questions only: no packet is sealed while it is open, for its answer could change a figure.
        blocking: Maybe<bool> = Maybe(of_question(one, one.blocking));
        /// Questions only: the facts it is asked for, as an answer repeats them.
        given as "for": Maybe<Option<String>> =
            Maybe(of_question(one, one.given.as_deref().map(visible)));
    }
}

contract! {
    /// A place in a file, counted from 1.
    pub struct At "at" of (file: &str, place: LineColumn) {
        file: String = visible(file);
        line: Counted = Counted(place.line);
        column: Counted = Counted(place.column);
    }
}

impl At {
    /// Finds where a span starts.
    pub fn start(span: Span, sources: &Sources) -> At {
        At::of(&sources.get(span.source).name, sources.line_column(span))
    }
}

/// The code of a finding.
#[derive(Clone, Debug, PartialEq)]
struct Code(&'static str);

/// The number of a line or a column.
#[derive(Clone, Debug, PartialEq)]
struct Counted(usize);

values! {
    Code: one => one.0, {"type": "string", "pattern": "^[a-z0-9-]+$"};
    Counted: one => one.0, {"type": "integer", "minimum": 1};
}

choice! {
    Severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Question => "question",
        Severity::Note => "note",
    }
}

fn of_question<T>(one: &Finding, said: T) -> Option<T> {
    (one.severity == Severity::Question).then_some(said)
}

/// Shows the line a span begins on, and below it a marker under the part of the span on that line.
fn excerpt(source: &Source, span: Span, most: usize) -> [String; 2] {
    let text = source.text.as_str();
    let number = source.line_column(span.start).line;
    let start = (span.start as usize).min(text.len());
    let (before, behind) = (text.get(..start).unwrap_or(""), text.get(start..).unwrap_or(""));
    let before = &before[before.rfind('\n').map_or(0, |n| n + 1)..];
    let before = before.trim_start_matches('\u{feff}');
    let behind = behind.split('\n').next().unwrap_or("").trim_end_matches('\r');
    let covered = text.get(start..span.end as usize).unwrap_or("").split('\n').next().unwrap_or("");
    let covered = covered.chars().take(behind.chars().count()).count();

    // The line is read outward from the place, so that its length does not matter.
    let fits = |used: &mut usize, room: usize, c: char| {
        *used += width(visible_char(c));
        *used <= room
    };
    let (mut all, total) = (0, most);
    let whole = before.chars().chain(behind.chars()).all(|c| fits(&mut all, total, c));
    let (mut left, mut right) = (0, 0);
    let room_behind: usize = behind.chars().take(most).map(|c| width(visible_char(c))).sum();
    let room_before = if whole { most } else { BEFORE.min(most / 2).max(most.saturating_sub(room_behind)) };
    let mut shown_before: Vec<char> =
        before.chars().rev().take_while(|c| fits(&mut left, room_before, *c)).collect();
    shown_before.reverse();
    let indent: usize = shown_before.iter().map(|c| width(visible_char(*c))).sum();
    let shown_behind: Vec<char> =
        behind.chars().take_while(|c| fits(&mut right, most.saturating_sub(indent), *c)).collect();
    let cut_before = shown_before.len() < before.chars().take(SHOWN * 4).count();
    let cut_behind = shown_behind.len() < behind.chars().take(SHOWN * 4).count();

    let mark = |cut: bool| if cut { "\u{2026}" } else { "" };
    let line: String = shown_before.iter().chain(&shown_behind).map(|c| visible_char(*c)).collect();
    let marked: usize = shown_behind.iter().take(covered).map(|c| width(visible_char(*c))).sum();
    let number = format!("{number:>5}");
    let gap = " ".repeat(number.len());
    let shown = format!("{number} | {}{line}{}", mark(cut_before), mark(cut_behind));
    let indent = indent + usize::from(cut_before);
    [shown.trim_end().to_string(), format!("{gap} | {}{}", " ".repeat(indent), "^".repeat(marked.max(1)))]
}

/// The most characters of a line of a message; what quotes a longer text is cut in its middle.
const LONGEST: usize = 1_200;
/// How many characters stay at the end of a line that is cut; a sentence goes on there behind what it quotes.
const TAIL: usize = 300;

/// Makes a line of a message fit to be shown.
fn shown(text: &str) -> String {
    let line = |line: &str| {
        // Bytes first: most lines are far shorter, and need no counting.
        if line.len() <= LONGEST || line.chars().nth(LONGEST).is_none() {
            return visible(line);
        }
        let head = line.chars().take(LONGEST - TAIL - 1).map(visible_char);
        let tail = line.char_indices().rev().nth(TAIL - 1).map_or("", |(at, _)| &line[at..]);
        head.chain(['\u{2026}']).chain(tail.chars().map(visible_char)).collect()
    };
    text.split('\n').map(line).collect::<Vec<String>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn rendered(text: &str, part: &str) -> String {
        let mut sources = Sources::default();
        let source = sources.add("a.case.yaml", text);
        let start = text.find(part).unwrap() as u32;
        let span = Span { source, start, end: start + part.len() as u32 };
        Finding::error("example", "something is wrong").at(span).render(&sources)
    }

    #[test]
    fn the_marker_stands_under_the_place() {
        assert_eq!(
            rendered("a: 1\nbc: two words # why\n", "two words"),
            "error[example] a.case.yaml:2:5\n    2 | bc: two words # why\n      |     ^^^^^^^^^\n   something is wrong\n"
        );
    }

    #[test]
    fn wide_and_combining_characters_keep_the_marker_in_place() {
        let wide = rendered("name: \u{6771}\u{4eac} x\n", "x");
        assert!(wide.contains("\n      |            ^\n"), "{wide}");
        let combining = rendered("name: e\u{301} x\n", "x");
        assert!(combining.contains("\n      |         ^\n"), "{combining}");
        // What nobody sees is shown as a mark, which takes a column.
        for unseen in ["\u{fe0f}", "\u{200b}", "\u{202e}"] {
            let marked = rendered(&format!("name: e{unseen} x\n"), "x");
            assert!(marked.contains("\n      |          ^\n"), "{marked}");
        }
    }

    #[test]
    fn long_lines_are_cut_around_the_place() {
        let text = format!("{} HERE {}", "a".repeat(500), "b".repeat(500));
        let shown = rendered(&text, "HERE");
        let lines: Vec<&str> = shown.lines().collect();
        assert!(lines[1].chars().count() <= SHOWN + 10, "{shown}");
        let place = lines[1].chars().position(|c| c == 'H').unwrap();
        assert_eq!(lines[2].chars().position(|c| c == '^'), Some(place));
        assert_eq!(lines[0], "error[example] a.case.yaml:1:502");
    }

    #[test]
    fn nothing_reaches_the_terminal_that_it_would_act_on() {
        let shown = rendered("a: \u{1b}[31mred\u{202e}\n", "red");
        assert!(!shown.contains('\u{1b}') && !shown.contains('\u{202e}'), "{shown}");
    }

    #[test]
    fn a_message_that_quotes_a_long_text_is_cut_in_its_middle() {
        let sources = Sources::default();
        let long = format!("`{}`", "\u{e9}".repeat(1_000_000));
        let finding =
            Finding::error("example", format!("{long} is wrong")).help(format!("write {long} instead"));
        let rendered = finding.render(&sources);
        assert!(rendered.chars().count() < 3_000, "{}", rendered.len());
        assert!(
            rendered.contains("` is wrong") && rendered.contains("write `") && rendered.contains("` instead")
        );
        assert!(finding.to_json(&sources).to_string().chars().count() < 3_000);
        let short = "x".repeat(1_200);
        assert!(Finding::error("example", &short).render(&sources).contains(&short));
    }

    #[test]
    fn data_holds_no_characters_that_turn_the_text() {
        let mut sources = Sources::default();
        let source = sources.add("a\u{202e}.case.yaml", "a: 1\n");
        let finding =
            Finding::error("example", "red\u{202e}\u{1b}[31m").help("a\u{202e}b").about("a\u{202e}");
        let data = finding.at(Span { source, start: 3, end: 4 }).to_json(&sources).to_string();
        assert!(!data.contains(['\u{202e}', '\u{1b}']) && !data.contains("202e"), "{data}");
    }

    #[test]
    fn json_has_the_keys_of_the_contract() {
        let mut sources = Sources::default();
        let source = sources.add("a.case.yaml", "a: 1\n");
        let finding = Finding::warning("example", "m").at(Span { source, start: 3, end: 4 });
        assert_eq!(
            finding.to_json(&sources),
            json!({"severity": "warning", "code": "example", "message": "m", "help": null,
                   "at": {"file": "a.case.yaml", "line": 1, "column": 4}})
        );
    }
}
