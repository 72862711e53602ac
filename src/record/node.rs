//! What is written, as a tree: texts, lists and keys, each with its place.
//!
//! Comes in: nothing. Goes out: the types that the parser fills and every reader takes. Knows no parser and no key.

use crate::finding::{SourceId, Span, Spanned};

/// One value of the file as written: text, list or map, with its place.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where it stands; for a list or map from its first to its last part.
    pub span: Span,
    /// What it is.
    pub value: Value,
    /// It was not read to its end or not read rightly, and a finding says so already.
    pub broken: bool,
}

/// What a node is.
#[derive(Clone, Debug)]
pub enum Value {
    /// A text, before anything is made of it.
    Text {
        /// The text, escapes and folding resolved.
        text: String,
        /// Written without quotes, on its own line or lines.
        plain: bool,
    },
    /// A list.
    List(Vec<Node>),
    /// Keys with values.
    Map {
        /// The entries, in file order, no key twice.
        entries: Vec<Entry>,
        /// Written in braces.
        braces: bool,
    },
}

/// One key and its value.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The key.
    pub key: Spanned<String>,
    /// The value.
    pub value: Node,
}

impl Node {
    /// Says whether nothing stands here: an empty place, `~` or `null` without quotes.
    pub fn is_nothing(&self) -> bool {
        matches!(&self.value, Value::Text { text, plain: true } if matches!(text.as_str(), "" | "~" | "null" | "Null" | "NULL"))
    }

    /// Finds the value of a key.
    pub fn get(&self, key: &str) -> Option<&Node> {
        match &self.value {
            Value::Map { entries, .. } => {
                entries.iter().find(|one| one.key.value == key).map(|one| &one.value)
            }
            _ => None,
        }
    }

    /// Returns the place of a key.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        match &self.value {
            Value::Map { entries, .. } => {
                entries.iter().find(|one| one.key.value == key).map(|one| one.key.span)
            }
            _ => None,
        }
    }

    /// Says in words what stands here, for messages: `here stands a list`.
    pub fn stands(&self) -> &'static str {
        match &self.value {
            _ if self.is_nothing() => "here stands nothing",
            Value::Text { .. } => "here stands a text",
            Value::List(_) => "here stands a list",
            Value::Map { .. } => "here stand keys with values",
        }
    }
}

/// Makes a span from byte positions.
pub(super) fn place(source: SourceId, start: usize, end: usize) -> Span {
    Span { source, start: start as u32, end: end as u32 }
}
