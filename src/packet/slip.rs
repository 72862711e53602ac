//! The seal slip: one page beside a packet, with the digest that stands for the whole of it.
//!
//! Comes in: what was asked for, and the digest. Goes out: the page as a document; and, from the bytes of a finished slip,
//! the digest it names. A slip is for paper: printed, signed, and kept apart from the packet, it is what nobody can
//! rewrite together with the packet.

use super::bag;
use super::{Asked, is_packet_name};
use crate::document::{
    Align, Block, Document, Furniture, Row, Setting, Table, Width, body, column, heading, plain, strong,
};
use crate::wording;

/// The most bytes a slip has; far more than any.
pub const MOST_BYTES: u64 = 2_000_000;
/// What stands before the digest in the properties of the file.
const MARK: &str = "sha256:";

/// Returns the name of a packet's slip.
pub fn file_name(packet: &str) -> String {
    format!("{packet}.seal.pdf")
}

/// Says whether a file in a folder of packets is a slip, and of which packet.
pub fn packet_of(file_name: &str) -> Option<&str> {
    file_name.strip_suffix(".seal.pdf").filter(|name| is_packet_name(name))
}

/// Returns the digest that a finished slip names in its properties.
pub fn digest_in(bytes: &[u8]) -> Option<String> {
    let at = bytes.windows(MARK.len()).position(|part| part == MARK.as_bytes())? + MARK.len();
    let digits = std::str::from_utf8(bytes.get(at..at + 64)?).ok()?;
    digits.bytes().all(|byte| byte.is_ascii_hexdigit()).then(|| digits.to_ascii_lowercase())
}

/// Says whether a file is a page at all: a PDF from its first line to its last (ISO 32000-1, 7.5.2 and 7.5.5).
pub fn is_page(bytes: &[u8]) -> bool {
    bytes.starts_with(b"%PDF-") && bytes.trim_ascii_end().ends_with(b"%%EOF")
}

/// Writes the slip of a packet.
pub fn write(packet: &str, asked: &Asked, digest: &str) -> Document {
    let Asked { reference, year, version, .. } = asked;
    let dated = wording::day(asked.dated);
    let mut blocks = vec![
        heading(1, format!("Seal slip of packet {packet}")),
        Block::Paragraph(plain(
            "The digits below stand for the whole packet. If anything in it is altered, added or taken away, they are other \
             digits. Print this page, sign it, and keep it apart from the packet.",
        )),
        facts(packet, asked, &dated),
        heading(2, "The digest"),
        digits(digest),
        Block::Small(plain(
            "SHA-256 (FIPS 180-4) of the file tagmanifest-sha256.txt of the packet, which is a bag by RFC 8493. Capitals and \
             small letters mean the same.",
        )),
        heading(2, "How to compare"),
        list([
            format!("With the program: gablework verify {packet} prints the digits in the same rows, and checks every file."),
            "Without it, in the folder of the packet: sha256sum tagmanifest-sha256.txt on Linux, shasum -a 256 \
             tagmanifest-sha256.txt on a Mac, Get-FileHash tagmanifest-sha256.txt in the PowerShell of Windows."
                .to_string(),
            "If the digits are these, sha256sum -c tagmanifest-sha256.txt and then sha256sum -c manifest-sha256.txt check the \
             files. README.txt in the packet says more."
                .to_string(),
            "If they are not these, do not rely on the packet: bring it back from a backup, and find out what happened."
                .to_string(),
        ]),
        heading(2, "Signed and kept"),
    ];
    for line in ["Compared and signed by", "Compared again by"] {
        blocks.push(Block::Space(2));
        blocks.push(Block::Paragraph(plain(format!("{line} {}  on {}", "_".repeat(44), "_".repeat(20)))));
    }
    blocks.push(Block::Space(1));
    blocks.push(Block::Small(plain(
        "To sign and to keep the slip apart from the packet is common practice, no rule of law. A seal shows whether files were \
         altered. It does not show who made them, nor that the figures are right. This is not tax or legal advice; the \
         official form and its instructions, and a licensed preparer, decide.",
    )));
    Document {
        title: format!("Seal slip of packet {packet}"),
        language: "en".to_string(),
        subject: format!("Seal of packet {packet}, {MARK}{digest}"),
        author: String::new(),
        setting: Setting::Worksheet,
        furniture: Furniture {
            head: (
                format!("{reference}, tax year {year}"),
                format!("Residential energy credits: seal slip, dated {dated}"),
            ),
            foot: (format!("Gablework {version}"), "Page {page} of {pages}".to_string()),
            mark: None,
        },
        blocks,
    }
}

fn facts(packet: &str, asked: &Asked, dated: &str) -> Block {
    let mut rows = vec![
        body(["Packet", packet]),
        body(["Client reference", &asked.reference]),
        body(["Tax year", &asked.year.to_string()]),
        body(["Dated", dated]),
        body(["Law edition", &asked.law_edition]),
    ];
    if let Some(replaced) = &asked.replaces {
        rows.push(body(["Replaces", &replaced.packet]));
        rows.push(body(["Because", &replaced.because]));
        let groups: Vec<String> = bag::groups(&replaced.digest).iter().map(|row| row.join(" ")).collect();
        rows.push(body(["Digest of that packet", &groups.join("  ")]));
    }
    Block::Table(Table {
        summary: "What the slip belongs to".to_string(),
        columns: vec![
            column("What", Width::Content, Align::Left),
            column("Which", Width::Parts(1), Align::Left),
        ],
        rows,
    })
}

fn digits(digest: &str) -> Block {
    let heads = ["Row", "First four", "Second four", "Third four", "Last four"];
    let columns = heads
        .iter()
        .enumerate()
        .map(|(at, head)| column(*head, if at == 0 { Width::Content } else { Width::Parts(1) }, Align::Left));
    let rows = bag::groups(digest).into_iter().enumerate().map(|(n, groups)| Row {
        cells: std::iter::once(plain((n + 1).to_string())).chain(groups.into_iter().map(strong)).collect(),
        ..Row::default()
    });
    Block::Table(Table {
        summary: "The 64 digits of the digest in four rows of four groups".to_string(),
        columns: columns.collect(),
        rows: rows.collect(),
    })
}

fn list(items: impl IntoIterator<Item = String>) -> Block {
    let items = items.into_iter().map(|words| vec![Block::Paragraph(plain(words))]);
    Block::List { ordered: true, items: items.collect() }
}
