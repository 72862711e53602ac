//! Bytes deflated, in the format of zlib (RFC 1950), as PDF files hold their streams.
//!
//! Comes in: bytes. Goes out: fewer bytes, the same for the same on every machine. Knows nothing of what they mean.

use flate2::{Compress, Compression, FlushCompress, Status};

/// How hard to look for repetitions, from 1 to 9.
const LEVEL: u32 = 5;

/// Deflates some bytes.
pub fn zlib(bytes: &[u8]) -> Vec<u8> {
    Deflater::default().zlib(bytes)
}

/// Deflates one thing after the other. Its memory is large and costs time to make, so it serves many.
pub struct Deflater(Compress);

impl Default for Deflater {
    fn default() -> Deflater {
        Deflater(Compress::new(Compression::new(LEVEL), true))
    }
}

impl Deflater {
    /// Deflates some bytes; what came before leaves no trace.
    pub fn zlib(&mut self, bytes: &[u8]) -> Vec<u8> {
        self.0.reset();
        // Deflated bytes are rarely more, and then by a few in a thousand.
        let mut out = Vec::with_capacity(bytes.len() / 4 + 64);
        loop {
            let read = usize::try_from(self.0.total_in()).unwrap_or(bytes.len());
            let status = self.0.compress_vec(&bytes[read..], &mut out, FlushCompress::Finish);
            match status.expect("deflating does not fail") {
                Status::StreamEnd => return out,
                Status::Ok | Status::BufError => out.reserve(out.capacity().max(1024)),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;

    #[test]
    fn comes_out_as_it_went_in_whatever_came_before() {
        let mut deflater = Deflater::default();
        let noise: Vec<u8> = (0..90_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
        for bytes in [&b""[..], b"a", &[7; 100_000], &noise, b"the end"] {
            let small = deflater.zlib(bytes);
            assert_eq!(small, zlib(bytes));
            let mut back = Vec::new();
            flate2::read::ZlibDecoder::new(&small[..]).read_to_end(&mut back).expect("it inflates");
            assert_eq!(back, bytes);
        }
    }
}
