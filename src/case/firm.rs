//! The firm file: who sends the letters.
//!
//! Comes in: the text of one `firm.yaml`. Goes out: [`Firm`], every value with its place, and all that is wrong
//! with it. Knows nothing of any client.

use super::kinds::words;
use crate::finding::{Finding, Severity, Sources, Spanned};
use crate::record::rule::Takes;
use crate::record::{Advice, Fields, FileKind, Form, Leaf, Reading, Record, Slot, record, tree};

record! {
    /// Who sends the letters.
    pub struct Firm: FIRM "firm file" {
        /// the firm's name
        name: Spanned<String>, "Alder & Finch Tax Service";
        /// its address
        address: Address, "{street: 12 Main St, city: Springfield, state: OR, zip: 97477}";
        /// its telephone number
        phone: Spanned<String>, "541-555-0142";
        /// its e-mail address
        email: Option<Spanned<String>>, "office@alderfinch.example";
        /// who signs the letters
        signatory: Spanned<String>, "Ruth Finch";
        /// the signatory's title
        title: Option<Spanned<String>>, "Enrolled Agent";
        /// the picture file of its logo, PNG, beside or below this file
        logo: Option<Spanned<String>>, "logo.png";
        /// the head of letters; logo where one is given, else text; preprinted leaves it free
        letterhead: Letterhead => LetterheadOr, "logo";
        /// whether the letter on missing papers also lists what is merely good to have; true where it is not said
        ask_useful_papers: bool = true, "false";
    }
}

record! {
    /// Where a firm is.
    pub struct Address: ADDRESS "address" {
        /// street and number
        street: Spanned<String>, "12 Alder Lane";
        /// apartment
        unit: Option<Spanned<String>>, "Apt 4";
        /// city
        city: Spanned<String>, "Riverton";
        /// state, two letters
        state: Spanned<String>, "MA";
        /// ZIP or ZIP+4
        zip: Spanned<String>, "01040";
    }
}

words! {
    /// How the head of a letter is made.
    Letterhead {
        Text = "text", "the sender in words";
        Logo = "logo", "the logo, and the sender in words beside it";
        Preprinted = "preprinted", "nothing: the paper is printed already";
    }
}

/// How the head of a letter is made: where nothing is said, with the logo if there is one.
struct LetterheadOr;

impl Form for LetterheadOr {
    type Value = Letterhead;
    const TAKES: Takes = <Letterhead as Leaf>::TAKES;
    const REQUIRED: bool = false;

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Letterhead> {
        let said = <Letterhead as Leaf>::read(slot, reading);
        if let Some(Spanned { value: Letterhead::Logo, span }) = said
            && !slot.group.has("logo")
        {
            let help =
                "add `logo: logo.png` with the picture file beside this one, or write `letterhead: text`";
            reading.findings.push(
                Finding::error("missing-key", "the letterhead is to show a logo, and none is given")
                    .at(span)
                    .help(help),
            );
        }
        said.map(|one| one.value).or_else(|| LetterheadOr::absent(slot.group))
    }

    fn absent(group: &Fields<'_>) -> Option<Letterhead> {
        Some(if group.has("logo") { Letterhead::Logo } else { Letterhead::Text })
    }
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
    blocks: &[&FIRM, &ADDRESS],
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
    let group = reading.fields(&root, root.span, &FIRM, "the firm file".to_string());
    let firm = group.and_then(|group| <Firm as Record>::read(&group, &mut reading));
    findings.append(&mut reading.findings);
    let sound = findings.iter().all(|one| one.severity < Severity::Error);
    (firm.filter(|_| sound), findings)
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
