//! What is wrong, where it stands, and what to do about it.
//!
//! Comes in: texts that any stage may point into ([`Sources`]) and the complaints of every stage.
//! Goes out: [`Finding`] as data and, through [`Finding::render`], as words with an excerpt.
//! Knows nothing of tax, of terminals or of exit codes; those belong to `cli`.

mod render;

pub(crate) use render::{At, Reported};

use crate::characters::{cover, digit};
use serde::Serialize;
use std::fmt;

/// How much a finding weighs. Ordered: the worst is greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing to do.
    Note,
    /// What a careful reviewer would ask; answered under `answers`.
    Question,
    /// The case computes, but something counts as nothing or otherwise than its author may expect.
    Warning,
    /// The case cannot be read or computed, contradicts itself, or asks for what settled law forbids.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Note => "note",
            Severity::Question => "question",
            Severity::Warning => "warning",
            Severity::Error => "error",
        })
    }
}

/// Names one of the texts held by [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(pub u16);

/// A stretch of bytes of one source text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The text it lies in.
    pub source: SourceId,
    /// First byte.
    pub start: u32,
    /// The byte after the last.
    pub end: u32,
}

impl Span {
    /// Returns the stretch from the start of this place to the end of another one.
    pub fn to(self, last: Span) -> Span {
        Span { end: last.end.max(self.end), ..self }
    }
}

/// A value and the place it was read from. Two are equal when the values are equal.
#[derive(Clone, Debug)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub span: Span,
}

impl<T: PartialEq> PartialEq for Spanned<T> {
    fn eq(&self, other: &Spanned<T>) -> bool {
        self.value == other.value
    }
}

impl<T> Spanned<T> {
    /// Joins a value with its place.
    pub fn new(value: T, span: Span) -> Spanned<T> {
        Spanned { value, span }
    }

    /// Makes another value of the same place.
    pub fn map<U>(self, make: impl FnOnce(T) -> U) -> Spanned<U> {
        Spanned { value: make(self.value), span: self.span }
    }
}

impl<T> std::ops::Deref for Spanned<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

/// One complaint, as data.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// Its stable name, such as `unknown-key`.
    pub code: &'static str,
    /// What is wrong, in a sentence without a final full stop.
    pub message: String,
    /// What to write or do instead.
    pub help: Option<String>,
    /// The offending text.
    pub at: Option<Span>,
    /// Other places it conflicts with, each with a word about it.
    pub related: Vec<(Span, String)>,
    /// The rules that ask for it, as source references.
    pub authority: Vec<String>,
    /// Of a word that could not be read: the words it can mean, where they differ in what they do to the figures.
    pub choices: Option<Choices>,
    /// What it is about, as a path in the case such as `property.roof-collector`: what an answer names.
    pub about: Option<String>,
    /// Other paths by which an answer may name what it is about: an item of several that are asked about at once.
    pub or_about: Vec<String>,
    /// Of a question: the facts it was asked for, in few words that change when they change: what an answer is for.
    pub given: Option<String>,
    /// Of a question: its answer could change a figure on a return, so no packet is sealed while it is open.
    pub blocking: bool,
    /// What is said instead of everything else where one of its code was told already in the same run.
    pub again: Option<String>,
    /// The tax year whose figures it is about, where it says nothing of any other.
    pub year: Option<i16>,
}

/// Words of which only whoever prepares the case can say which is meant. What each does to the figures is law, so it
/// is added where the law is known ([`crate::law::effects`]).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choices {
    /// The lists of words that were asked for; a word of another list is written elsewhere in the case.
    pub of: Vec<&'static str>,
    /// The list that a word belongs to, such as `cost` or `kind`, and the word.
    pub words: Vec<(&'static str, &'static str)>,
    /// The kind of the item it is about, where the case says it.
    pub kind: Option<&'static str>,
    /// The year of the item's day, where the case gives one.
    pub year: Option<i16>,
}

impl Finding {
    /// Starts an error.
    pub fn error(code: &'static str, message: impl Into<String>) -> Finding {
        Finding::new(Severity::Error, code, message)
    }

    /// Starts a warning.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Finding {
        Finding::new(Severity::Warning, code, message)
    }

    /// Starts a question.
    pub fn question(code: &'static str, message: impl Into<String>) -> Finding {
        Finding::new(Severity::Question, code, message)
    }

    /// Starts a note.
    pub fn note(code: &'static str, message: impl Into<String>) -> Finding {
        Finding::new(Severity::Note, code, message)
    }

    fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Finding {
        Finding {
            severity,
            code,
            message: message.into(),
            help: None,
            at: None,
            related: Vec::new(),
            authority: Vec::new(),
            choices: None,
            about: None,
            or_about: Vec::new(),
            given: None,
            blocking: false,
            again: None,
            year: None,
        }
    }

    /// Adds where it stands.
    pub fn at(mut self, span: Span) -> Finding {
        self.at = Some(span);
        self
    }

    /// Adds what to write or do instead.
    pub fn help(mut self, help: impl Into<String>) -> Finding {
        self.help = Some(help.into());
        self
    }

    /// Adds another place it conflicts with.
    pub fn with(mut self, span: Span, word: impl Into<String>) -> Finding {
        self.related.push((span, word.into()));
        self
    }

    /// Adds the words it can mean.
    pub fn choices(mut self, choices: Choices) -> Finding {
        self.choices = Some(choices);
        self
    }

    /// Adds what it is about, as a path in the case.
    pub fn about(mut self, path: impl Into<String>) -> Finding {
        self.about = Some(path.into());
        self
    }

    /// Adds other paths by which an answer may name what it is about.
    pub fn or_about(mut self, paths: impl IntoIterator<Item = String>) -> Finding {
        self.or_about.extend(paths);
        self
    }

    /// Adds the facts that a question is asked for, each in few words.
    pub fn given<T: fmt::Display>(mut self, facts: impl IntoIterator<Item = T>) -> Finding {
        let facts: Vec<String> = facts.into_iter().map(|fact| fact.to_string()).collect();
        self.given = Some(facts.join("; "));
        self
    }

    /// Adds what is said instead where one of its code was told already in the same run.
    pub fn again(mut self, words: impl Into<String>) -> Finding {
        self.again = Some(words.into());
        self
    }

    /// Adds the only tax year it says something of.
    pub fn of_year(mut self, year: i16) -> Finding {
        self.year = Some(year);
        self
    }

    /// Adds a rule that asks for it.
    pub fn under(mut self, authority: impl Into<String>) -> Finding {
        self.authority.push(authority.into());
        self
    }
}

/// One text that findings can point into.
#[derive(Clone, Debug)]
pub struct Source {
    /// The name a person knows it by: its path as given.
    pub name: String,
    /// The whole text.
    pub text: String,
    line_starts: Vec<u32>,
}

/// All texts read in one run.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    texts: Vec<Source>,
}

/// Line and column of a place, both counted from one; the column counts characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LineColumn {
    /// Line, from one.
    pub line: usize,
    /// Column in characters, from one.
    pub column: usize,
}

impl Sources {
    /// Takes a text in and names it.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> SourceId {
        let text = text.into();
        let mut line_starts = vec![0];
        line_starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(n, _)| n as u32 + 1));
        self.texts.push(Source { name: name.into(), text, line_starts });
        SourceId(self.texts.len() as u16 - 1)
    }

    /// Replaces every digit of some places of a text by `x`, so that no excerpt can show a number that stood there.
    pub(crate) fn make_unreadable(&mut self, id: SourceId, mut places: Vec<Span>) {
        let source = &mut self.texts[id.0 as usize];
        places.sort_by_key(|place| place.start);
        let mut covered = String::with_capacity(source.text.len());
        let mut done = 0;
        for place in places {
            let (start, end) = (done.max(place.start as usize), place.end as usize);
            if let (Some(before), Some(place)) = (source.text.get(done..start), source.text.get(start..end)) {
                covered.push_str(before);
                covered.extend(place.chars().map(|c| if digit(c).is_some() { cover(c) } else { c }));
                done = end;
            }
        }
        covered.push_str(&source.text[done..]);
        source.text = covered;
    }

    /// Gives a text another name, and returns the one it had.
    pub fn rename(&mut self, id: SourceId, name: &str) -> String {
        std::mem::replace(&mut self.texts[id.0 as usize].name, name.to_string())
    }

    /// Returns a text by its name.
    pub fn get(&self, id: SourceId) -> &Source {
        &self.texts[id.0 as usize]
    }

    /// Returns where a character stands first: in one text, else in any other.
    pub fn find(&self, first: SourceId, character: char) -> Option<Span> {
        let others = (0..self.texts.len()).filter_map(|n| u16::try_from(n).ok()).map(SourceId);
        std::iter::once(first).chain(others).find_map(|source| {
            let start = self.get(source).text.find(character)?;
            let end = start + character.len_utf8();
            Some(Span { source, start: u32::try_from(start).ok()?, end: u32::try_from(end).ok()? })
        })
    }

    /// Returns line and column of the first byte of a span.
    pub fn line_column(&self, span: Span) -> LineColumn {
        self.get(span.source).line_column(span.start)
    }

    /// Returns the text a span covers.
    pub fn excerpt(&self, span: Span) -> &str {
        let text = &self.get(span.source).text;
        text.get(span.start as usize..span.end as usize).unwrap_or("")
    }
}

impl Source {
    /// Returns line and column of a byte.
    pub fn line_column(&self, byte: u32) -> LineColumn {
        let line = self.line_starts.partition_point(|start| *start <= byte).max(1) - 1;
        let start = self.line_starts[line] as usize;
        let before = self.text.get(start..byte as usize).unwrap_or("");
        LineColumn { line: line + 1, column: before.trim_start_matches('\u{feff}').chars().count() + 1 }
    }

    /// Returns the text of a line, counted from one, without its end.
    pub fn line(&self, line: usize) -> &str {
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0) as usize;
        let end = self.line_starts.get(line).map_or(self.text.len(), |next| *next as usize);
        self.text[start..end].trim_end_matches(['\n', '\r']).trim_start_matches('\u{feff}')
    }
}
