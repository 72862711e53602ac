//! Findings in color on a terminal, plain everywhere else.
//!
//! Comes in: a finding as plain text, and whether to paint. Goes out: the same text, in which the severity, the
//! marker under the place and the word `help` are set off. The text alone says everything; color only leads
//! the eye, so nothing is lost in a log, a mail or for someone who does not see it.

use super::size;
use crate::finding::{Finding, Severity, Sources};
use std::collections::BTreeSet;
use std::io::IsTerminal;
use std::sync::{Mutex, PoisonError};

const BOLD: &str = "\u{1b}[1m";
const END: &str = "\u{1b}[0m";

/// Renders a finding for standard output.
pub(super) fn for_output(finding: &Finding, sources: &Sources) -> Rendered {
    Rendered::new(finding, sources, wanted(std::io::stdout().is_terminal(), variable), size::of_output())
}

/// Renders a finding for standard error.
pub(super) fn for_errors(finding: &Finding, sources: &Sources) -> Rendered {
    Rendered::new(finding, sources, wanted(std::io::stderr().is_terminal(), variable), size::of_errors())
}

/// A finding in words, which are fewer where one of its code was told before in the same run.
#[derive(Clone, Debug)]
pub(super) struct Rendered {
    code: &'static str,
    whole: String,
    again: Option<String>,
}

impl Rendered {
    fn new(finding: &Finding, sources: &Sources, painted: bool, columns: Option<usize>) -> Rendered {
        let paint = |plain: String| if painted { paint(&plain, finding) } else { plain };
        Rendered {
            code: finding.code,
            whole: paint(finding.render_within(columns, sources)),
            again: finding.render_again(columns, sources).map(paint),
        }
    }

    /// Returns the words, to be printed now: what is told in full is told shortly the next time.
    pub fn to_print(&self) -> &str {
        static TOLD: Mutex<BTreeSet<&str>> = Mutex::new(BTreeSet::new());
        match &self.again {
            Some(again) if !TOLD.lock().unwrap_or_else(PoisonError::into_inner).insert(self.code) => again,
            _ => &self.whole,
        }
    }
}

/// Says whether to paint: a terminal that can, for someone who has not said otherwise. An empty `NO_COLOR` says
/// nothing (no-color.org). A Windows console is painted only where it says that it understands color.
fn wanted(terminal: bool, variable: impl Fn(&str) -> Option<String>) -> bool {
    let refused = variable("NO_COLOR").is_some_and(|value| !value.is_empty());
    let able = match variable("TERM") {
        Some(kind) => kind != "dumb",
        None => !cfg!(windows) || variable("WT_SESSION").is_some(),
    };
    terminal && able && !refused
}

fn variable(name: &str) -> Option<String> {
    std::env::var_os(name).map(|value| value.to_string_lossy().into_owned())
}

/// Paints the parts that every rendered finding has: the severity with its code at the head, the marker on the
/// third line, and `help:`.
fn paint(plain: &str, finding: &Finding) -> String {
    let color = match finding.severity {
        Severity::Error => "\u{1b}[1;31m",
        Severity::Warning => "\u{1b}[1;33m",
        Severity::Question => "\u{1b}[1;36m",
        Severity::Note => "\u{1b}[1;34m",
    };
    let head = format!("{}[{}]", finding.severity, finding.code);
    let mut out = String::new();
    for (n, line) in plain.split_inclusive('\n').enumerate() {
        let (text, end) = line.strip_suffix('\n').map_or((line, ""), |text| (text, "\n"));
        match text.strip_prefix(&head) {
            Some(rest) if n == 0 => out.push_str(&format!("{color}{head}{END}{rest}")),
            _ => match marker(text).filter(|_| n == 2) {
                Some(at) => out.push_str(&format!("{}{color}{}{END}", &text[..at], &text[at..])),
                None => match text.strip_prefix("   help:") {
                    Some(rest) => out.push_str(&format!("   {BOLD}help:{END}{rest}")),
                    None => out.push_str(text),
                },
            },
        }
        out.push_str(end);
    }
    out
}

/// Finds where the marker begins on a line that holds nothing else.
fn marker(line: &str) -> Option<usize> {
    let at = line.find('^')?;
    (line[..at].trim() == "|" && line[at..].bytes().all(|byte| byte == b'^')).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Span;

    fn example() -> (Finding, Sources) {
        let mut sources = Sources::default();
        let source = sources.add("a.case.yaml", "amount: 12^^\n");
        let finding = Finding::warning("amount-form", "`12^^` is not a plain amount")
            .at(Span { source, start: 8, end: 12 })
            .help("write it like 12500");
        (finding, sources)
    }

    #[test]
    fn paint_adds_color_and_changes_no_word() {
        let (finding, sources) = example();
        let rendered = |painted| Rendered::new(&finding, &sources, painted, None).whole;
        let painted = rendered(true);
        assert_eq!(
            painted,
            "\u{1b}[1;33mwarning[amount-form]\u{1b}[0m a.case.yaml:1:9\n    1 | amount: 12^^\n      |         \u{1b}[1;33m^^^^\u{1b}[0m\n   `12^^` is not a plain amount\n   \u{1b}[1mhelp:\u{1b}[0m write it like 12500\n"
        );
        let mut bare = painted;
        for code in ["\u{1b}[1;33m", BOLD, END] {
            bare = bare.replace(code, "");
        }
        assert_eq!(bare, finding.render(&sources));
        assert_eq!(rendered(false), bare);
    }

    #[test]
    fn what_can_be_said_shortly_is_said_in_full_once() {
        let mut sources = Sources::default();
        let source = sources.add("a.case.yaml", "amount: 12\n");
        let at = Span { source, start: 8, end: 10 };
        let finding =
            Finding::note("example-again", "a long story").at(at).help("read it").again("as before");
        let rendered = Rendered::new(&finding, &sources, false, None);
        assert_eq!(rendered.to_print(), finding.render(&sources));
        for _ in 0..2 {
            assert_eq!(rendered.to_print(), "note[example-again] a.case.yaml:1:9\n   as before\n");
        }
        // Others are told in full each time.
        let (finding, sources) = example();
        let rendered = Rendered::new(&finding, &sources, false, None);
        assert_eq!(
            [rendered.to_print(), rendered.to_print()],
            [finding.render(&sources), finding.render(&sources)]
        );
    }

    #[test]
    fn only_a_terminal_is_painted_and_only_where_nobody_minds() {
        let with = |terminal, set: &[(&str, &str)]| {
            wanted(terminal, |name| set.iter().find(|one| one.0 == name).map(|one| one.1.to_string()))
        };
        assert!(with(true, &[("TERM", "xterm")]));
        assert!(with(true, &[("TERM", "xterm"), ("NO_COLOR", "")]));
        assert!(!with(true, &[("TERM", "xterm"), ("NO_COLOR", "1")]));
        assert!(!with(true, &[("TERM", "dumb")]));
        assert!(!with(false, &[("TERM", "xterm")]));
    }
}
