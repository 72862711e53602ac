//! The properties of a file: title, language, dates, identifier, the standards it follows, what gray means.
//!
//! Comes in: the properties of [`Pages`] and the [`Stamp`]. Goes out: objects of the file. Whatever the drawing
//! library wrote of these is replaced whole: it takes identifiers from a counter and leaves traces of another
//! standard. Knows nothing of what stands on the pages.

use super::frame::Pages;
use super::object::{deflated_stream, dictionary, name, text_string};
use crate::deflate;
use crate::xml::escaped;
use lopdf::{Document, Object, Stream, StringFormat};
use std::sync::LazyLock;

/// What identifies a file and dates it: both come from the caller, never from chance or a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Identifier, from a hash of what the file says.
    pub id: [u8; 16],
    /// The day it bears.
    pub date: jiff::civil::Date,
}

/// The program, as the file names it.
const CREATOR: &str = "Gablework";

/// Writes the properties, and the claim to a part of ISO 19005.
pub(super) fn write(file: &mut Document, pages: &Pages, stamp: &Stamp, part: u8) {
    let metadata = Stream::new(
        dictionary([("Type", name("Metadata")), ("Subtype", name("XML"))]),
        xmp(pages, stamp, part).into_bytes(),
    )
    // Archives read this stream without inflating it.
    .with_compression(false);
    let metadata = file.add_object(metadata);
    let shape = dictionary([("N", Object::Integer(3))]);
    let colors = file.add_object(deflated_stream(shape, SRGB_DEFLATED.clone()));
    let intent = dictionary([
        ("Type", name("OutputIntent")),
        ("S", name("GTS_PDFA1")),
        ("OutputConditionIdentifier", Object::string_literal("sRGB")),
        ("Info", Object::string_literal("sRGB")),
        ("DestOutputProfile", Object::Reference(colors)),
    ]);
    let catalog = file.catalog_mut().expect("a file has a catalog");
    catalog.set("Metadata", Object::Reference(metadata));
    catalog.set("OutputIntents", vec![Object::Dictionary(intent)]);
    catalog.set("Lang", text_string(language(pages)));
    catalog.set("ViewerPreferences", dictionary([("DisplayDocTitle", Object::Boolean(true))]));
    catalog.remove(b"PageLayout");

    let mut info = dictionary([
        ("Title", text_string(&pages.title)),
        ("Creator", text_string(CREATOR)),
        ("Producer", text_string(CREATOR)),
        ("CreationDate", Object::string_literal(pdf_date(stamp))),
        ("ModDate", Object::string_literal(pdf_date(stamp))),
    ]);
    for (key, value) in [("Author", &pages.author), ("Subject", &pages.subject)] {
        if !value.is_empty() {
            info.set(key, text_string(value));
        }
    }
    // The library's own dictionary is replaced in its place, so that no object is left over.
    match file.trailer.get(b"Info").and_then(Object::as_reference) {
        Ok(id) => {
            file.objects.insert(id, Object::Dictionary(info));
        }
        Err(_) => {
            let id = file.add_object(info);
            file.trailer.set("Info", id);
        }
    }
    let id = Object::String(stamp.id.to_vec(), StringFormat::Hexadecimal);
    file.trailer.set("ID", vec![id.clone(), id]);
}

fn language(pages: &Pages) -> &str {
    if pages.language.is_empty() { "en" } else { &pages.language }
}

/// The day at midnight UTC, as the format writes it.
fn pdf_date(stamp: &Stamp) -> String {
    let date = stamp.date;
    format!("D:{:04}{:02}{:02}000000+00'00'", date.year(), date.month(), date.day())
}

/// The metadata packet (ISO 16684-1), with the claims to PDF/A and PDF/UA. The description of the second's
/// namespace must come before its use.
fn xmp(pages: &Pages, stamp: &Stamp, part: u8) -> String {
    let date = format!("{}T00:00:00+00:00", stamp.date);
    let title = escaped(&pages.title);
    let language = escaped(language(pages));
    let mut dublin_core = format!(
        "<dc:format>application/pdf</dc:format>\n\
         <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{title}</rdf:li></rdf:Alt></dc:title>\n\
         <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>\n"
    );
    if !pages.author.is_empty() {
        let author = escaped(&pages.author);
        dublin_core += &format!("<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>\n");
    }
    if !pages.subject.is_empty() {
        let subject = escaped(&pages.subject);
        dublin_core += &format!(
            "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">{subject}</rdf:li></rdf:Alt></dc:description>\n"
        );
    }
    format!(
        r#"<?xpacket begin="{bom}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">
{dublin_core}</rdf:Description>
<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
<xmp:CreatorTool>{CREATOR}</xmp:CreatorTool>
<xmp:CreateDate>{date}</xmp:CreateDate>
<xmp:ModifyDate>{date}</xmp:ModifyDate>
<xmp:MetadataDate>{date}</xmp:MetadataDate>
<pdf:Producer>{CREATOR}</pdf:Producer>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
<pdfaid:part>{part}</pdfaid:part>
<pdfaid:conformance>A</pdfaid:conformance>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<pdfuaid:part>1</pdfuaid:part>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"#,
        bom = '\u{FEFF}',
    )
}

/// The profile as files embed it, made once.
static SRGB_DEFLATED: LazyLock<Vec<u8>> = LazyLock::new(|| deflate::zlib(&srgb_profile()));

/// Builds a color profile for sRGB (IEC 61966-2-1) in the form of ICC.1:2001-04, version 2: three primaries
/// adapted to the D50 white point and one transfer curve for all three. Figures from memory, compared with the
/// values commonly published.
fn srgb_profile() -> Vec<u8> {
    const CURVE_POINTS: u32 = 1024;
    let mut curve = b"curv\0\0\0\0".to_vec();
    curve.extend(CURVE_POINTS.to_be_bytes());
    for point in 0..CURVE_POINTS {
        let encoded = f64::from(point) / f64::from(CURVE_POINTS - 1);
        let linear =
            if encoded <= 0.040_45 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) };
        curve.extend(((linear * 65_535.0).round() as u16).to_be_bytes());
    }
    // Fixed-point numbers of 16 binary places.
    let color = |x: u32, y: u32, z: u32| {
        let mut tag = b"XYZ \0\0\0\0".to_vec();
        [x, y, z].iter().for_each(|value| tag.extend(value.to_be_bytes()));
        tag
    };
    let mut description = b"desc\0\0\0\0\0\0\0\x05sRGB\0".to_vec();
    description.resize(description.len() + 4 + 4 + 2 + 1 + 67, 0);
    let tags: [(&[u8; 4], Vec<u8>); 7] = [
        (b"desc", description),
        (b"cprt", b"text\0\0\0\0No copyright, use freely\0".to_vec()),
        (b"wtpt", color(0xF6D6, 0x1_0000, 0xD32D)),
        (b"rXYZ", color(0x6FA2, 0x38F5, 0x0390)),
        (b"gXYZ", color(0x6299, 0xB785, 0x18DA)),
        (b"bXYZ", color(0x24A0, 0x0F84, 0xB6CF)),
        (b"rTRC", curve),
    ];

    let mut table = Vec::new();
    let mut data: Vec<u8> = Vec::new();
    let count = tags.len() as u32 + 2;
    let data_start = 128 + 4 + count * 12;
    for (signature, tag) in &tags {
        let place = data_start + data.len() as u32;
        // One curve serves red, green and blue.
        let shared: &[&[u8; 4]] =
            if *signature == b"rTRC" { &[b"rTRC", b"gTRC", b"bTRC"] } else { &[signature] };
        for signature in shared {
            table.extend(*signature);
            table.extend(place.to_be_bytes());
            table.extend((tag.len() as u32).to_be_bytes());
        }
        data.extend(tag);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    let mut profile = vec![0; 128];
    profile[0..4].copy_from_slice(&(data_start + data.len() as u32).to_be_bytes());
    profile[8..12].copy_from_slice(&0x0210_0000_u32.to_be_bytes());
    profile[12..24].copy_from_slice(b"mntrRGB XYZ ");
    // The day the profile's form was settled here; it must bear one.
    profile[24..36].copy_from_slice(&[0x07, 0xEA, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0]);
    profile[36..40].copy_from_slice(b"acsp");
    profile[68..80].copy_from_slice(&[0, 0, 0xF6, 0xD6, 0, 1, 0, 0, 0, 0, 0xD3, 0x2D]);
    profile.extend(count.to_be_bytes());
    profile.extend(table);
    profile.extend(data);
    profile
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_profile_is_as_long_as_it_says() {
        let profile = srgb_profile();
        assert_eq!(profile.len() as u32, u32::from_be_bytes(profile[0..4].try_into().expect("four bytes")));
        assert_eq!(&profile[36..40], b"acsp");
        let count = u32::from_be_bytes(profile[128..132].try_into().expect("four bytes"));
        for tag in profile[132..].chunks(12).take(count as usize) {
            let number =
                |at: usize| u32::from_be_bytes(tag[at..at + 4].try_into().expect("four bytes")) as usize;
            assert!(number(4) + number(8) <= profile.len());
            assert_eq!(number(4) % 4, 0);
        }
    }

    #[test]
    fn markup_is_escaped() {
        let pages = Pages { title: "Smith & <Co>".to_owned(), ..Pages::default() };
        let stamp = Stamp { id: [0; 16], date: jiff::civil::date(2026, 3, 1) };
        let packet = xmp(&pages, &stamp, 2);
        assert!(packet.contains("Smith &amp; &lt;Co&gt;"));
        assert!(packet.contains("2026-03-01T00:00:00+00:00"));
    }
}
