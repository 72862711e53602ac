//! A picture: rows of colored points, read from a PNG file.
//!
//! Comes in: the bytes of a file. Goes out: [`Picture`], or why it cannot be used. What shows through is put on
//! white, because paper is. Knows nothing of where a picture will stand.

use crate::deflate;
use std::fmt;
use std::sync::Arc;

/// The most points a picture may have on a side: far more than a letterhead prints.
pub const MOST_POINTS: u32 = 3000;
/// The most bytes a picture file may have.
pub const MOST_BYTES: u64 = 2_000_000;

/// A picture.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// Points across.
    pub width: u32,
    /// Points down.
    pub height: u32,
    /// Red, green and blue of each point, row by row from above.
    pub points: Arc<[u8]>,
    /// The points deflated, in the format of zlib (RFC 1950), as files embed them.
    pub deflated: Arc<[u8]>,
    /// The file it was read from, as it was.
    pub file: Arc<[u8]>,
    /// What it shows, for those who cannot see it.
    pub alternative: String,
}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Picture {} x {} ({})", self.width, self.height, self.alternative)
    }
}

/// Why a picture cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// The file is larger than [`MOST_BYTES`].
    TooLarge,
    /// It has more points on a side than [`MOST_POINTS`].
    TooManyPoints(u32, u32),
    /// It is no PNG file, or a damaged one.
    NotPng(String),
}

impl fmt::Display for Unusable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unusable::TooLarge => write!(f, "the file is larger than {} megabytes", MOST_BYTES / 1_000_000),
            Unusable::TooManyPoints(width, height) => {
                write!(
                    f,
                    "the picture is {width} x {height} points, and {MOST_POINTS} on a side are the most"
                )
            }
            Unusable::NotPng(why) => write!(f, "the file cannot be read as a PNG picture: {why}"),
        }
    }
}

impl std::error::Error for Unusable {}

/// Reads a PNG file.
pub fn read(bytes: &[u8], alternative: &str) -> Result<Picture, Unusable> {
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Unusable::TooLarge);
    }
    let wrong = |error: png::DecodingError| Unusable::NotPng(error.to_string());
    let mut decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    let mut reader = decoder.read_info().map_err(wrong)?;
    let (width, height) = (reader.info().width, reader.info().height);
    if width > MOST_POINTS || height > MOST_POINTS {
        return Err(Unusable::TooManyPoints(width, height));
    }
    let size = reader.output_buffer_size().ok_or_else(|| Unusable::NotPng("it is too large".to_string()))?;
    let mut buffer = vec![0; size];
    let frame = reader.next_frame(&mut buffer).map_err(wrong)?;
    buffer.truncate(frame.buffer_size());
    let points = on_white(&buffer, frame.color_type);
    Ok(Picture::new((width, height), points, bytes, alternative))
}

impl Picture {
    /// Makes a picture of points. They are deflated once here, and not again for each letter that bears the picture.
    pub fn new((width, height): (u32, u32), points: Vec<u8>, file: &[u8], alternative: &str) -> Picture {
        Picture {
            width,
            height,
            deflated: deflate::zlib(&points).into(),
            points: points.into(),
            file: file.into(),
            alternative: alternative.to_string(),
        }
    }
}

/// Turns points of whatever kind into red, green and blue on white.
fn on_white(points: &[u8], kind: png::ColorType) -> Vec<u8> {
    // Half up, in whole numbers.
    let mixed = |value: u8, opaque: u8| {
        let (value, opaque) = (u32::from(value), u32::from(opaque));
        ((value * opaque + 255 * (255 - opaque) + 127) / 255) as u8
    };
    let mut out = vec![0; points.len() / kind.samples() * 3];
    let into = out.chunks_exact_mut(3);
    match kind {
        png::ColorType::Grayscale => into.zip(points).for_each(|(into, gray)| into.fill(*gray)),
        png::ColorType::GrayscaleAlpha => {
            let from = points.chunks_exact(2);
            into.zip(from).for_each(|(into, from)| into.fill(mixed(from[0], from[1])));
        }
        png::ColorType::Rgba => {
            for (into, from) in into.zip(points.chunks_exact(4)) {
                for (into, value) in into.iter_mut().zip(&from[..3]) {
                    *into = mixed(*value, from[3]);
                }
            }
        }
        // Palettes have been looked up by the decoder.
        png::ColorType::Rgb | png::ColorType::Indexed => return points.to_vec(),
    }
    out
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// Makes a PNG file of one color.
    pub(crate) fn png(width: u32, height: u32, kind: png::ColorType, point: &[u8]) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, width, height);
        encoder.set_color(kind);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().unwrap();
        writer.write_image_data(&point.repeat((width * height) as usize)).unwrap();
        drop(writer);
        bytes
    }

    #[test]
    fn points_of_every_kind_come_to_stand_on_white() {
        for (kind, point, wanted) in [
            (png::ColorType::Rgb, &[10, 20, 30][..], [10, 20, 30]),
            (png::ColorType::Grayscale, &[77], [77, 77, 77]),
            (png::ColorType::Rgba, &[10, 20, 30, 0], [255, 255, 255]),
            (png::ColorType::Rgba, &[0, 0, 0, 51], [204, 204, 204]),
            (png::ColorType::GrayscaleAlpha, &[0, 255], [0, 0, 0]),
        ] {
            let picture = read(&png(3, 2, kind, point), "a mark").unwrap();
            assert_eq!((picture.width, picture.height, picture.points.len()), (3, 2, 18));
            assert_eq!(picture.points[..3], wanted, "{kind:?}");
        }
    }

    #[test]
    fn what_is_no_usable_picture_is_refused_with_a_reason() {
        assert!(matches!(read(b"GIF89a", ""), Err(Unusable::NotPng(_))));
        let whole = png(4, 4, png::ColorType::Rgb, &[1, 2, 3]);
        assert!(matches!(read(&whole[..whole.len() - 20], ""), Err(Unusable::NotPng(_))));
        assert_eq!(
            read(&png(3001, 1, png::ColorType::Grayscale, &[0]), ""),
            Err(Unusable::TooManyPoints(3001, 1))
        );
        assert_eq!(read(&vec![0; MOST_BYTES as usize + 1], ""), Err(Unusable::TooLarge));
    }
}
