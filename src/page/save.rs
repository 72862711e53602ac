//! The objects of a file as bytes (ISO 32000-1, 7.3 and 7.5.4; read from memory).
//!
//! Comes in: a file's objects, and those that were written ahead. Goes out: bytes, the same that the library writes. A lot of
//! letters has tens of thousands of small objects, and held as objects they take some twenty times the room of their
//! bytes; so the structure of a file is written ahead, element by element.

use lopdf::{Dictionary, Document, Object, ObjectId, StringFormat};
use std::collections::BTreeMap;
use std::io::Write;
use std::ops::Range;

/// Objects written ahead.
#[derive(Default)]
pub(super) struct Ahead {
    bytes: Vec<u8>,
    places: BTreeMap<ObjectId, Range<usize>>,
}

impl Ahead {
    /// Writes an object under its number.
    pub fn write(&mut self, id: ObjectId, object: &Object) {
        let start = self.bytes.len();
        self::object(&mut self.bytes, object);
        self.places.insert(id, start..self.bytes.len());
    }
}

/// Writes a file: its own objects and those written ahead, in the order of their numbers.
pub(super) fn save(mut file: Document, ahead: &Ahead) -> Vec<u8> {
    let mut out = Vec::new();
    put(&mut out, format_args!("%PDF-{}\n%", file.version));
    out.extend(&file.binary_mark);
    out.push(b'\n');

    let mut offsets: BTreeMap<u32, (usize, u16)> = BTreeMap::new();
    let mut own = std::mem::take(&mut file.objects).into_iter().peekable();
    let mut others = ahead.places.iter().peekable();
    loop {
        let own_is_next = match (own.peek(), others.peek()) {
            (Some((own, _)), Some((other, _))) => own < *other,
            (Some(_), None) => true,
            (None, Some(_)) => false,
            (None, None) => break,
        };
        let start = out.len();
        if own_is_next && let Some((id, object)) = own.next() {
            offsets.insert(id.0, (start, id.1));
            put(&mut out, format_args!("{} {} obj\n", id.0, id.1));
            if stands_apart(&object) {
                out.push(b' ');
            }
            self::object(&mut out, &object);
            if stands_apart(&object) || matches!(object, Object::Name(_) | Object::Stream(_)) {
                out.push(b' ');
            }
        } else if let Some((id, range)) = others.next() {
            offsets.insert(id.0, (start, id.1));
            put(&mut out, format_args!("{} {} obj\n", id.0, id.1));
            out.extend(&ahead.bytes[range.clone()]);
        }
        out.extend(b"\nendobj\n");
    }
    let table = out.len();
    cross_references(&mut out, &offsets);
    file.trailer.set("Size", i64::from(file.max_id + 1));
    out.extend(b"trailer\n");
    dictionary(&mut out, &file.trailer);
    put(&mut out, format_args!("\nstartxref\n{table}\n%%EOF"));
    out
}

/// Writes the table that says where each object begins: a part for each run of numbers, the first with nought.
fn cross_references(out: &mut Vec<u8>, offsets: &BTreeMap<u32, (usize, u16)>) {
    out.extend(b"xref\n");
    let mut runs: Vec<(u32, Vec<String>)> = vec![(0, vec!["0000000000 65535 f \n".to_owned()])];
    for (number, (offset, generation)) in offsets {
        let entry = format!("{offset:010} {generation:05} n \n");
        match runs.last_mut() {
            Some((start, run)) if *start as usize + run.len() == *number as usize => run.push(entry),
            _ => runs.push((*number, vec![entry])),
        }
    }
    for (start, run) in runs {
        put(out, format_args!("{start} {}\n", run.len()));
        run.iter().for_each(|entry| out.extend(entry.as_bytes()));
    }
}

/// Says whether a blank must keep an object apart from what stands before it.
fn stands_apart(object: &Object) -> bool {
    matches!(
        object,
        Object::Null | Object::Boolean(_) | Object::Integer(_) | Object::Real(_) | Object::Reference(_)
    )
}

fn object(out: &mut Vec<u8>, object: &Object) {
    match object {
        Object::Null => out.extend(b"null"),
        Object::Boolean(value) => put(out, format_args!("{value}")),
        Object::Integer(value) => put(out, format_args!("{value}")),
        Object::Real(value) => put(out, format_args!("{value}")),
        Object::Name(text) => name(out, text),
        Object::String(text, StringFormat::Literal) => literal(out, text),
        Object::String(text, StringFormat::Hexadecimal) => {
            out.push(b'<');
            text.iter().for_each(|byte| put(out, format_args!("{byte:02X}")));
            out.push(b'>');
        }
        Object::Array(entries) => {
            out.push(b'[');
            for (n, entry) in entries.iter().enumerate() {
                if n > 0 && stands_apart(entry) {
                    out.push(b' ');
                }
                self::object(out, entry);
            }
            out.push(b']');
        }
        Object::Dictionary(entries) => dictionary(out, entries),
        Object::Stream(stream) => {
            dictionary(out, &stream.dict);
            out.extend(b"stream\n");
            out.extend(&stream.content);
            out.extend(b"\nendstream");
        }
        Object::Reference((number, generation)) => put(out, format_args!("{number} {generation} R")),
    }
}

fn dictionary(out: &mut Vec<u8>, entries: &Dictionary) {
    out.extend(b"<<");
    for (key, value) in entries {
        name(out, key);
        if stands_apart(value) {
            out.push(b' ');
        }
        object(out, value);
    }
    out.extend(b">>");
}

/// Writes a name; whatever is not a plain sign goes by its number.
fn name(out: &mut Vec<u8>, text: &[u8]) {
    out.push(b'/');
    for byte in text {
        if b"()<>[]{}/%#".contains(byte) || !(33..=126).contains(byte) {
            put(out, format_args!("#{byte:02X}"));
        } else {
            out.push(*byte);
        }
    }
}

/// Writes a text between parentheses; those without a partner, and signs that mean something else there, stand
/// behind a backslash.
fn literal(out: &mut Vec<u8>, text: &[u8]) {
    let mut escaped = vec![false; text.len()];
    let mut open = Vec::new();
    for (at, byte) in text.iter().enumerate() {
        match byte {
            b'(' => open.push(at),
            b')' => escaped[at] = open.pop().is_none(),
            b'\\' | b'\r' => escaped[at] = true,
            _ => {}
        }
    }
    open.into_iter().for_each(|at| escaped[at] = true);
    out.push(b'(');
    for (byte, escaped) in text.iter().zip(escaped) {
        match (escaped, byte) {
            (true, b'\r') => out.extend(b"\\r"),
            (true, byte) => out.extend([b'\\', *byte]),
            (false, byte) => out.push(*byte),
        }
    }
    out.push(b')');
}

fn put(out: &mut Vec<u8>, text: std::fmt::Arguments<'_>) {
    out.write_fmt(text).expect("writing to memory does not fail");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One of each kind of object, and texts that need care.
    fn sample() -> Document {
        let mut file = Document::with_version("1.7");
        file.reference_table.cross_reference_type = lopdf::xref::XrefType::CrossReferenceTable;
        let objects = [
            Object::Null,
            Object::Boolean(true),
            Object::Integer(-3),
            Object::Real(0.5),
            Object::Name(b"A b#(c)\x80".to_vec()),
            Object::string_literal("a (b) c) \\ (\r"),
            Object::String(vec![0, 255, 16], StringFormat::Hexadecimal),
            Object::Array(vec![
                Object::Integer(1),
                Object::Name(b"N".to_vec()),
                Object::Integer(2),
                Object::Null,
            ]),
            Object::Dictionary(Dictionary::from_iter([
                ("K", Object::Integer(1)),
                ("N", Object::Name(b"X".to_vec())),
                ("R", Object::Reference((4, 0))),
            ])),
            Object::Stream(lopdf::Stream::new(Dictionary::new(), b"0 g".to_vec())),
            Object::Reference((2, 0)),
        ];
        for object in objects {
            let id = file.add_object(object);
            // Numbers with gaps, as where an object was taken out.
            if id.0.is_multiple_of(4) {
                file.max_id += 2;
            }
        }
        file.trailer.set("Root", Object::Reference((9, 0)));
        file
    }

    #[test]
    fn a_file_is_what_the_library_writes() {
        let mut expected = Vec::new();
        sample().save_to(&mut expected).expect("writing to memory does not fail");
        assert_eq!(
            String::from_utf8_lossy(&save(sample(), &Ahead::default())),
            String::from_utf8_lossy(&expected)
        );
        assert_eq!(save(sample(), &Ahead::default()), expected);
    }

    #[test]
    fn objects_written_ahead_stand_where_they_belong() {
        let mut file = sample();
        let mut ahead = Ahead::default();
        let dictionaries: Vec<ObjectId> =
            file.objects.iter().filter(|(_, object)| object.as_dict().is_ok()).map(|(id, _)| *id).collect();
        for id in dictionaries {
            let object = file.objects.remove(&id).expect("it stands");
            ahead.write(id, &object);
        }
        assert!(!ahead.places.is_empty());
        assert_eq!(save(file, &ahead), save(sample(), &Ahead::default()));
    }
}
