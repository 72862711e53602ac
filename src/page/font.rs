//! The typefaces: which glyph draws a character, how wide it is, and the cut of a face that a file embeds.
//!
//! Comes in: the font files under `layouts/fonts`, unmodified. Goes out: [`glyph`] for measuring and [`cut`]
//! for `pdf`. Knows nothing of words, lines or pages.

use allsorts::binary::read::ReadScope;
use allsorts::font_data::{DynamicFontTableProvider, FontData};
use allsorts::layout::{GPOS, LayoutTable, PairPos, PosLookupType, new_layout_cache};
use allsorts::subset::{CmapTarget, SubsetProfile, subset};
use allsorts::tables::cmap::Cmap;
use allsorts::tables::{FontTableProvider, HeadTable, HheaTable, HmtxTable, MaxpTable};
use allsorts::tag;
use printpdf::ParsedFont;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::sync::{Arc, Mutex, OnceLock};

/// One of the faces words are set in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Face {
    /// Upright, of ordinary weight.
    #[default]
    Regular,
    /// Upright and heavy; also stands in for bold italic.
    Bold,
    /// Slanted.
    Italic,
}

impl Face {
    /// Every face.
    pub const ALL: [Face; 3] = [Face::Regular, Face::Bold, Face::Italic];

    /// Chooses the face of a run of words.
    pub fn of(strong: bool, emphasis: bool) -> Face {
        match (strong, emphasis) {
            (true, _) => Face::Bold,
            (false, true) => Face::Italic,
            (false, false) => Face::Regular,
        }
    }

    /// The name the face goes by inside a file.
    pub(super) fn name(self) -> &'static str {
        match self {
            Face::Regular => "SourceSans3-Regular",
            Face::Bold => "SourceSans3-Bold",
            Face::Italic => "SourceSans3-Italic",
        }
    }

    /// The font file, as its makers published it.
    fn file(self) -> &'static [u8] {
        match self {
            Face::Regular => include_bytes!("../../layouts/fonts/SourceSans3-Regular.ttf"),
            Face::Bold => include_bytes!("../../layouts/fonts/SourceSans3-Bold.ttf"),
            Face::Italic => include_bytes!("../../layouts/fonts/SourceSans3-Italic.ttf"),
        }
    }
}

/// How a face draws one character.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Glyph {
    /// Its number in the font file.
    pub id: u16,
    /// How far it moves on, in thousandths of the type size.
    pub advance: u16,
}

/// Finds the glyph of a character; `None` where the face has none.
pub(super) fn glyph(face: Face, character: char) -> Option<Glyph> {
    let table = table(face);
    if let Some(slot) = table.ascii.get(character as usize) {
        return *slot;
    }
    table.others.binary_search_by_key(&character, |entry| entry.0).ok().map(|found| table.others[found].1)
}

/// How much further apart two characters stand than their advances say, in thousandths of the type size; below
/// nothing they stand closer. Figures are never moved, so that columns of them align.
pub(super) fn kern(face: Face, left: char, right: char) -> i64 {
    match (kern_slot(left), kern_slot(right)) {
        (Some(left_slot), Some(right_slot)) if left.is_alphabetic() || right.is_alphabetic() => {
            i64::from(table(face).kerns[left_slot * KERN_SLOTS + right_slot])
        }
        _ => 0,
    }
}

/// Moves smaller than this, in thousandths of the type size, are left out: at 11 pt a tenth of a point. They
/// show nowhere, and would double the pieces of text in a file.
const LEAST_KERN: i16 = 9;

/// How many characters have kerning: letters and the signs that stand beside them.
const KERN_SLOTS: usize = 64;

/// Finds a character's place in the kerning table. No hyphens, dashes and strokes: a line may end behind them.
fn kern_slot(character: char) -> Option<usize> {
    Some(match character {
        'A'..='Z' => character as usize - 'A' as usize,
        'a'..='z' => character as usize - 'a' as usize + 26,
        '.' => 52,
        ',' => 53,
        ';' => 54,
        ':' => 55,
        '’' => 56,
        '“' => 57,
        '”' => 58,
        '(' => 59,
        ')' => 60,
        '\'' => 61,
        '"' => 62,
        '&' => 63,
        _ => return None,
    })
}

/// A face cut down to the characters a document uses, ready to be embedded.
pub(super) struct Cut {
    /// The cut face as the PDF writer wants it, its glyphs renumbered.
    pub font: ParsedFont,
    /// The same font program, deflated.
    pub deflated: Vec<u8>,
}

/// Cuts made so far, by face and the characters beyond the usual ones.
type Cuts = BTreeMap<(Face, Vec<char>), Arc<Cut>>;

/// Cuts a face down to some characters. Cut and deflated once per process for each set of characters: the
/// same characters always give the same bytes, whatever was cut before.
pub(super) fn cut(face: Face, characters: &BTreeSet<char>) -> Arc<Cut> {
    static CUTS: OnceLock<Mutex<Cuts>> = OnceLock::new();
    /// Season letters have few sets of characters beyond the usual; a longer list is dropped and begun anew.
    const KEPT: usize = 64;

    let unusual: Vec<char> = characters.iter().copied().filter(|c| !is_usual(*c)).collect();
    let key = (face, unusual);
    let cuts = CUTS.get_or_init(Mutex::default);
    if let Some(found) = cuts.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).get(&key) {
        return Arc::clone(found);
    }
    let made = Arc::new(make_cut(face, &key.1));
    let mut cuts = cuts.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    if cuts.len() >= KEPT {
        cuts.clear();
    }
    cuts.insert(key, Arc::clone(&made));
    made
}

/// Characters that every cut holds, so that most documents share one: printable ASCII and the signs of the
/// trade.
fn is_usual(character: char) -> bool {
    matches!(
        character,
        ' '..='~'
            | '§'
            | '½'
            | '×'
            | '–'
            | '—'
            | '‘'
            | '’'
            | '“'
            | '”'
            | '•'
            | '†'
            | '−'
            | '≤'
            | '≥'
            | '☐'
    )
}

fn make_cut(face: Face, unusual: &[char]) -> Cut {
    let usual = (' '..='☑').filter(|c| is_usual(*c));
    let characters: BTreeSet<char> = usual.chain(unusual.iter().copied()).collect();
    let mut ids: BTreeSet<u16> = characters.iter().filter_map(|c| glyph(face, *c)).map(|g| g.id).collect();
    ids.remove(&0);
    let ids: Vec<u16> = std::iter::once(0).chain(ids).collect();
    let small = with_provider(face, |provider| {
        subset(provider, &ids, &SubsetProfile::Pdf, CmapTarget::Unicode)
            .expect("the built-in face can be cut")
    });
    let mut font =
        ParsedFont::from_bytes(&small, 0, &mut Vec::new()).expect("a face cut by us can be read again");
    font.font_name = Some(format!("{}+{}", tag_of(&ids), face.name()));

    let mut zlib = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
    zlib.write_all(&small).expect("writing to memory does not fail");
    let deflated = zlib.finish().expect("writing to memory does not fail");
    Cut { font, deflated }
}

/// Makes the six capital letters that mark a cut face, from the set of its glyphs (ISO 32000-1, 9.6.4; read
/// from memory).
fn tag_of(ids: &[u16]) -> String {
    let bytes: Vec<u8> = ids.iter().flat_map(|id| id.to_be_bytes()).collect();
    Sha256::digest(&bytes).iter().take(6).map(|byte| char::from(b'A' + byte % 26)).collect()
}

/// The characters of one face.
struct Table {
    ascii: [Option<Glyph>; 128],
    others: Vec<(char, Glyph)>,
    /// Kerning by the slots of the left and the right character.
    kerns: Vec<i16>,
}

fn table(face: Face) -> &'static Table {
    static TABLES: [OnceLock<Table>; 3] = [OnceLock::new(), OnceLock::new(), OnceLock::new()];
    TABLES[face as usize].get_or_init(|| with_provider(face, read_table))
}

/// Reads which glyph draws which character, and the advances, from a font file.
fn read_table(provider: &DynamicFontTableProvider<'_>) -> Table {
    const WHOLE: &str = "the built-in face is whole";
    let data = |tag| provider.read_table_data(tag).expect(WHOLE);
    let (head, maxp, hhea) = (data(tag::HEAD), data(tag::MAXP), data(tag::HHEA));
    let (hmtx, cmap) = (data(tag::HMTX), data(tag::CMAP));
    let units = ReadScope::new(&head).read::<HeadTable>().expect(WHOLE).units_per_em;
    let glyphs = ReadScope::new(&maxp).read::<MaxpTable>().expect(WHOLE).num_glyphs;
    let metrics = ReadScope::new(&hhea).read::<HheaTable>().expect(WHOLE).num_h_metrics;
    let hmtx = ReadScope::new(&hmtx)
        .read_dep::<HmtxTable<'_>>((usize::from(glyphs), usize::from(metrics)))
        .expect(WHOLE);
    let cmap = ReadScope::new(&cmap).read::<Cmap<'_>>().expect(WHOLE);
    let (_, characters) = allsorts::font::read_cmap_subtable(&cmap).expect(WHOLE).expect(WHOLE);

    let mut all = BTreeMap::new();
    let mut note = |code: u32, id: u16| {
        if let (Some(character), Ok(advance)) = (char::from_u32(code), hmtx.horizontal_advance(id)) {
            let advance = u16::try_from(u32::from(advance) * 1000 / u32::from(units)).unwrap_or(u16::MAX);
            all.insert(character, Glyph { id, advance });
        }
    };
    characters.mappings_fn(&mut note).expect(WHOLE);

    let kerns = read_kerns(provider, &all).unwrap_or_else(|| vec![0; KERN_SLOTS * KERN_SLOTS]);
    let mut ascii = [None; 128];
    let mut others = Vec::new();
    for (character, glyph) in all {
        match ascii.get_mut(character as usize) {
            Some(slot) => *slot = Some(glyph),
            None => others.push((character, glyph)),
        }
    }
    Table { ascii, others, kerns }
}

/// Reads the kerning of pairs from a font file; `None` where it has none in a form we know.
fn read_kerns(provider: &DynamicFontTableProvider<'_>, glyphs: &BTreeMap<char, Glyph>) -> Option<Vec<i16>> {
    let data = provider.read_table_data(tag::GPOS).ok()?;
    let table = ReadScope::new(&data).read::<LayoutTable<GPOS>>().ok()?;
    let cache = new_layout_cache(table);
    let lookups = cache.layout_table.opt_lookup_list.as_ref()?;
    let mut pairs: Vec<PairPos> = Vec::new();
    // In our faces every lookup of pairs serves kerning.
    for lookup in (0..).map_while(|at| lookups.lookup(at).ok()) {
        if matches!(lookup.get_lookup_type(), Ok(PosLookupType::PairPos)) {
            pairs.extend(lookup.read_subtables::<PairPos>(&cache).ok()?);
        }
    }
    let slots: Vec<(usize, u16)> =
        glyphs.iter().filter_map(|(character, glyph)| Some((kern_slot(*character)?, glyph.id))).collect();
    let mut kerns = vec![0; KERN_SLOTS * KERN_SLOTS];
    for (left_slot, left) in &slots {
        for (right_slot, right) in &slots {
            // The first subtable that knows the pair decides.
            let found = pairs.iter().find_map(|pair| pair.apply(*left, *right).ok().flatten());
            if let Some((Some(adjust), _)) = found
                && adjust.x_advance.abs() >= LEAST_KERN
            {
                kerns[left_slot * KERN_SLOTS + right_slot] = adjust.x_advance;
            }
        }
    }
    Some(kerns)
}

/// Opens the font file of a face.
fn with_provider<T>(face: Face, work: impl FnOnce(&DynamicFontTableProvider<'_>) -> T) -> T {
    let file = ReadScope::new(face.file()).read::<FontData<'_>>().expect("the built-in face is a font file");
    let provider = file.table_provider(0).expect("the built-in face is a font file");
    work(&provider)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn has_the_signs_our_pages_use() {
        for face in Face::ALL {
            for sign in "≤≥−×§½†‡–—’“”•☐☑…éñÉüŁşØßÆ¢£€°".chars()
            {
                assert!(glyph(face, sign).is_some(), "{} lacks {sign}", face.name());
            }
        }
    }

    #[test]
    fn figures_are_equally_wide() {
        for face in [Face::Regular, Face::Bold] {
            let widths: BTreeSet<u16> =
                ('0'..='9').map(|d| glyph(face, d).expect("a figure").advance).collect();
            assert_eq!(widths.len(), 1, "{}", face.name());
        }
    }

    #[test]
    fn letters_kern_and_figures_do_not() {
        assert!(kern(Face::Regular, 'T', 'o') < -20);
        assert!(kern(Face::Bold, 'T', 'o') < kern(Face::Bold, 'A', 'V'));
        assert_eq!(kern(Face::Regular, '1', '1'), 0);
        assert_eq!(kern(Face::Regular, '7', '.'), 0);
        assert_eq!(kern(Face::Regular, 'n', 'n'), 0);
    }

    #[test]
    fn lacks_what_no_text_face_has() {
        assert_eq!(glyph(Face::Regular, '漢'), None);
        assert_eq!(glyph(Face::Regular, '\u{1F600}'), None);
    }

    #[test]
    fn a_cut_depends_on_its_characters_alone() {
        let set: BTreeSet<char> = "Zoë".chars().collect();
        let first = cut(Face::Italic, &set);
        cut(Face::Italic, &"Łukasz".chars().collect());
        let again = make_cut(Face::Italic, &['ë']);
        assert_eq!(first.deflated, again.deflated);
        assert_eq!(first.font.font_name, again.font.font_name);
        assert!(first.font.lookup_glyph_index('ë' as u32).is_some());
        assert!(first.font.lookup_glyph_index('Ł' as u32).is_none());
    }
}
