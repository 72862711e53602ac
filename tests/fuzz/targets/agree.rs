//! Our reading of YAML beside another: what the program takes without a complaint reads the same.
//!
//! The program compares two readers itself, and both go back to one way of reading YAML. The reader here is another,
//! written from the standard (`yaml`). What that refuses and ours takes is passed over, because it knows only a part of
//! YAML; what both take must be the same lists, keys and texts, in quotes or not. No difference is excused.

use super::yaml::{self, Part};
use gablework::case::FILE;
use gablework::finding::Sources;
use gablework::record::tree::{self, Node, Value};

/// A file in which both readers must read the same.
pub fn agree(bytes: &[u8]) {
    both_read(bytes);
}

/// Compares the readings, and says whether both took the text.
pub fn both_read(bytes: &[u8]) -> bool {
    let (mut sources, mut findings) = (Sources::default(), Vec::new());
    let (source, root) = tree::read("a.case.yaml", bytes, &FILE, &mut sources, &mut findings);
    match root.filter(|_| findings.is_empty()) {
        Some(root) => compared(&root, &sources.get(source).text),
        None => false,
    }
}

/// Compares our reading with that of the other, and says whether that took the text.
pub fn compared(root: &Node, text: &str) -> bool {
    let mut ours = Vec::new();
    parts(root, &mut ours);
    let Some(theirs) = yaml::read(text) else { return false };
    let differs = ours.iter().zip(&theirs).position(|(ours, theirs)| ours != theirs);
    let at = differs.unwrap_or(ours.len().min(theirs.len()));
    let near = |parts: &[Part]| format!("{:?}", &parts[at.saturating_sub(2)..parts.len().min(at + 2)]);
    assert!(ours == theirs, "ours {}, the other {}, in\n{text}", near(&ours), near(&theirs));
    true
}

fn parts(node: &Node, out: &mut Vec<Part>) {
    match &node.value {
        Value::Text { text, plain } => out.push(yaml::scalar(text, *plain)),
        Value::List(items) => {
            out.push(Part::List);
            items.iter().for_each(|item| parts(item, out));
            out.push(Part::End);
        }
        Value::Map { entries, .. } => {
            out.push(Part::Map);
            for entry in entries {
                out.push(Part::Text(entry.key.value.clone(), true));
                parts(&entry.value, out);
            }
            out.push(Part::End);
        }
    }
}
