//! The firm file: who sends the letters.
//!
//! Comes in: the text of one `firm.yaml`. Goes out: [`Firm`], every value with its place, and all that is wrong
//! with it. Knows nothing of any client.

use super::kinds::words;
use super::model::Address;
use crate::finding::{At, Finding, Severity, Sources};
use crate::record::rule::{Block, KeyRule, Takes};
use crate::record::{Advice, FileKind, Reading, tree};

/// Who sends the letters.
#[derive(Clone, Debug, PartialEq)]
pub struct Firm {
    /// The firm's name.
    pub name: At<String>,
    /// Its address.
    pub address: Address,
    /// Its telephone number.
    pub phone: At<String>,
    /// Its e-mail address.
    pub email: Option<At<String>>,
    /// Who signs the letters.
    pub signatory: At<String>,
    /// The signatory's title, such as `Enrolled Agent`.
    pub title: Option<At<String>>,
    /// The picture file of its logo, relative to the firm file.
    pub logo: Option<At<String>>,
    /// How the head of its letters is made.
    pub letterhead: Letterhead,
    /// Its letters ask for papers that are merely good to have as well.
    pub ask_useful_papers: bool,
}

words! {
    /// How the head of a letter is made.
    Letterhead {
        Text = "text", "the sender in words";
        Logo = "logo", "the logo, and the sender in words beside it";
        Preprinted = "preprinted", "nothing: the paper is printed already";
    }
}

/// The keys of the firm file.
pub static FIRM: Block = Block {
    name: "firm file",
    besides: None,
    keys: &[
        key("name", true, Takes::Line, "Alder & Finch Tax Service", "the firm's name"),
        key(
            "address",
            true,
            Takes::Block(&super::format::ADDRESS),
            "{street: 12 Main St, city: Springfield, state: OR, zip: 97477}",
            "its address",
        ),
        key("phone", true, Takes::Line, "541-555-0142", "its telephone number"),
        key("email", false, Takes::Line, "office@alderfinch.example", "its e-mail address"),
        key("signatory", true, Takes::Line, "Ruth Finch", "who signs the letters"),
        key("title", false, Takes::Line, "Enrolled Agent", "the signatory's title"),
        key(
            "logo",
            false,
            Takes::Line,
            "logo.png",
            "the picture file of its logo, PNG, beside or below this file",
        ),
        key(
            "letterhead",
            false,
            Takes::Word(|| Letterhead::ALL.iter().map(|one| one.word()).collect()),
            "logo",
            "the head of letters; logo where one is given, else text; preprinted leaves it free",
        ),
        key(
            "ask_useful_papers",
            false,
            Takes::YesNo,
            "false",
            "whether the letter on missing papers also lists what is merely good to have; true where it is not said",
        ),
    ],
};

const fn key(
    key: &'static str,
    required: bool,
    takes: Takes,
    example: &'static str,
    meaning: &'static str,
) -> KeyRule {
    KeyRule { key, required, takes, example, meaning }
}

/// The firm file.
static FILE: FileKind = FileKind {
    a: "a firm file",
    the: "the firm file",
    limits: super::habits::LIMITS,
    advice: Advice {
        usual: "a firm file has a few hundred",
        instead: "name the firm file itself, a text file such as firm.yaml",
        holds: "one file holds one firm",
        second: (
            "a second document begins here; one file holds one firm",
            "keep one of the two, and delete the line `---`",
        ),
        levels: "two",
        long_text: "shorten it; it stands in the head of letters",
        long_line: "shorten it; it stands in the head of letters",
    },
    blocks: &[&FIRM, &super::format::ADDRESS],
    sections: &[],
    asides: &[],
    habits: &super::habits::OfCases,
};

/// Reads a firm file. The firm is `None` where anything in it is wrong, because letters with half a sender mislead.
pub fn read(name: &str, bytes: &[u8], sources: &mut Sources) -> (Option<Firm>, Vec<Finding>) {
    let mut findings = Vec::new();
    let (source, root) = tree::read(name, bytes, &FILE, sources, &mut findings);
    let Some(root) = root else {
        return (None, findings);
    };
    let text = sources.get(source).text.clone();
    let mut reading = Reading::new(&root, &text, &FILE);
    let firm = firm(&mut reading);
    findings.append(&mut reading.findings);
    let sound = findings.iter().all(|one| one.severity < Severity::Error);
    (firm.filter(|_| sound), findings)
}

fn firm(reading: &mut Reading<'_>) -> Option<Firm> {
    let fields = reading.fields(reading.root, reading.root.span, &FIRM, "the firm file".to_string())?;
    let name = fields.line(reading, "name");
    let address = fields
        .block(reading, "address", &super::format::ADDRESS)
        .and_then(|fields| super::meaning::address(&fields, reading));
    let phone = fields.line(reading, "phone");
    let email = fields.line(reading, "email");
    let signatory = fields.line(reading, "signatory");
    let title = fields.line(reading, "title");
    let logo = fields.line(reading, "logo");
    let letterhead = fields.word(reading, "letterhead", Letterhead::ALL, Letterhead::word);
    if let (Some(Letterhead::Logo), None) = (letterhead.as_ref().map(|one| one.value), &logo) {
        let span = letterhead.as_ref().map_or(reading.root.span, |one| one.span);
        reading.findings.push(
            Finding::error("missing-key", "the letterhead is to show a logo, and none is given")
                .at(span)
                .help(
                    "add `logo: logo.png` with the picture file beside this one, or write `letterhead: text`",
                ),
        );
    }
    let ask_useful_papers = fields.yes_no(reading, "ask_useful_papers").is_none_or(|one| one.value);
    let unsaid = if logo.is_some() { Letterhead::Logo } else { Letterhead::Text };
    let letterhead = letterhead.map_or(unsaid, |one| one.value);
    Some(Firm {
        name: name?,
        address: address?,
        phone: phone?,
        email,
        signatory: signatory?,
        title,
        logo,
        letterhead,
        ask_useful_papers,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> (Option<Firm>, Vec<String>) {
        let mut sources = Sources::default();
        let (firm, findings) = read("firm.yaml", text.as_bytes(), &mut sources);
        let told = findings
            .iter()
            .map(|one| {
                let at = one.at.map_or("?".to_string(), |at| sources.line_column(at).line.to_string());
                format!("{at} {} {}", one.code, one.message)
            })
            .collect();
        (firm, told)
    }

    #[test]
    fn the_demo_firm_is_read_whole() {
        let (firm, told) = told(include_str!("../../demo/firm.yaml"));
        assert!(told.is_empty(), "{told:?}");
        let firm = firm.unwrap();
        assert!(firm.phone.value.contains("555-01"), "invented numbers lie between 555-0100 and 555-0199");
        assert!(firm.title.is_some() && firm.address.unit.is_some());
    }

    #[test]
    fn the_letterhead_follows_from_the_logo_unless_it_is_said() {
        let lines = include_str!("../../demo/firm.yaml").lines().filter(|line| !line.starts_with("logo:"));
        let demo: String = lines.flat_map(|line| [line, "\n"]).collect();
        let of = |more: &str| {
            let (firm, told) = told(&format!("{demo}{more}"));
            firm.map(|firm| firm.letterhead).ok_or(told)
        };
        assert_eq!(of(""), Ok(Letterhead::Text));
        assert_eq!(of("logo: mark.png\n"), Ok(Letterhead::Logo));
        assert_eq!(of("logo: mark.png\nletterhead: text\n"), Ok(Letterhead::Text));
        assert_eq!(of("letterhead: preprinted\n"), Ok(Letterhead::Preprinted));
        let told = of("letterhead: logo\n").unwrap_err();
        assert!(told[0].contains("missing-key"), "{told:?}");
        assert!(of("letterhead: fancy\n").unwrap_err()[0].contains("fancy"));
    }

    #[test]
    fn unknown_keys_and_missing_ones_are_told_together() {
        let (firm, told) =
            told("name: Larch Tax\nphon: 541-555-0100\naddress: {street: 1 A St, city: X, state: OR}\n");
        assert!(firm.is_none());
        for part in ["2 unknown-key", "phone", "signatory", "zip"] {
            assert!(told.iter().any(|one| one.contains(part)), "{part}: {told:?}");
        }
    }
}
