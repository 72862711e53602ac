//! Words inside XML and HTML. Comes in: text. Goes out: the same text with nothing in it that is taken for markup.

/// Writes text so that nothing in it is taken for markup, in an attribute either (XML 1.0, section 2.4).
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

/// Reads such text back.
#[cfg(test)]
pub(crate) fn unescaped(text: &str) -> String {
    let marks = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&amp;", "&")];
    marks.iter().fold(text.to_string(), |out, (mark, sign)| out.replace(mark, sign))
}
