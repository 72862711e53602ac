//! What a file says, apart from how it is written: to compare a changed text with what was meant.

use super::super::tree::{Node, Value};
use super::super::write::{self, Written};
use super::{NO_ENTRY, NO_KEYS, NO_LIST, Table, What};

/// What is said at one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Content {
    Nothing,
    Text(String),
    List(Vec<Content>),
    Map(Vec<(String, Content)>),
}

impl Content {
    pub fn of(node: &Node) -> Content {
        match &node.value {
            _ if node.is_nothing() => Content::Nothing,
            Value::Text { text, .. } => Content::Text(text.clone()),
            Value::List(all) => Content::List(all.iter().map(Content::of).collect()),
            Value::Map { entries, .. } => Content::Map(
                entries.iter().map(|one| (one.key.value.clone(), Content::of(&one.value))).collect(),
            ),
        }
    }

    /// What a value says once it is written.
    fn written(value: &Written) -> Content {
        let keys = |keys: &write::Keys| {
            Content::Map(keys.iter().map(|(key, one)| (key.to_string(), Content::written(one))).collect())
        };
        match value {
            Written::Word(text) | Written::Text(text) => Content::Text(text.clone()),
            Written::List(all) => Content::List(all.iter().map(Content::written).collect()),
            Written::Keys(all) | Written::Lines(all) => keys(all),
            Written::Entries(all) => {
                Content::Map(all.iter().map(|(name, one)| (name.clone(), Content::written(one))).collect())
            }
        }
    }
}

/// Makes a change in what is said.
pub(super) fn apply(root: &mut Content, table: Table, path: &str, what: &What) -> Result<(), &'static str> {
    let (mut content, mut table) = (root, table);
    for step in path.split('.') {
        if *content == Content::Nothing {
            *content = Content::Map(Vec::new());
        }
        let below = table.below(step);
        content = match content {
            Content::Map(entries) => {
                let at = entries.iter().position(|(key, _)| key == step).unwrap_or_else(|| {
                    let at = table.position(entries.iter().map(|(key, _)| key.as_str()), step);
                    entries.insert(at, (step.to_string(), Content::Nothing));
                    at
                });
                &mut entries[at].1
            }
            Content::List(all) => {
                let number = step.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
                number.and_then(|n| all.get_mut(n)).ok_or(NO_ENTRY)?
            }
            _ => return Err(NO_KEYS),
        };
        table = below;
    }
    match (what, content) {
        (What::Set(value), content) => *content = Content::written(value),
        (What::Add(one), Content::List(all)) => all.push(Content::written(one)),
        (What::Add(one), content @ Content::Nothing) => {
            *content = Content::List(vec![Content::written(one)]);
        }
        (What::Add(_), _) => return Err(NO_LIST),
    }
    Ok(())
}
