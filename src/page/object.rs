//! Objects of a PDF file, as those who write parts of one make them.

use lopdf::{Dictionary, Object};

/// A text string as the format wants it: plain where it is ASCII, else UTF-16 with a byte order mark.
pub(super) fn text_string(text: &str) -> Object {
    if text.is_ascii() {
        return Object::string_literal(text);
    }
    let mut bytes = vec![0xFE, 0xFF];
    bytes.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
    Object::String(bytes, lopdf::StringFormat::Hexadecimal)
}

/// Makes a dictionary.
pub(super) fn dictionary<const N: usize>(entries: [(&str, Object); N]) -> Dictionary {
    Dictionary::from_iter(entries)
}

/// Makes a name.
pub(super) fn name(name: &str) -> Object {
    Object::Name(name.as_bytes().to_vec())
}

/// Makes a stream of what is deflated already.
pub(super) fn deflated_stream(dictionary: Dictionary, deflated: Vec<u8>) -> lopdf::Stream {
    let mut stream = lopdf::Stream::new(dictionary, deflated);
    stream.dict.set("Filter", "FlateDecode");
    stream
}
