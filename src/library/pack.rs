//! Long texts take less room in the file: compressed (zlib, RFC 1950), which also finds flipped bits.

use super::LibraryError;
use flate2::Compression;
use flate2::read::{ZlibDecoder, ZlibEncoder};
use std::io::Read as _;

/// Longest text that is unpacked, bytes: a photo's record takes a few hundred kilobytes.
const LONGEST: u64 = 256 << 20;

/// Compresses a text.
pub(super) fn text(text: &str) -> Vec<u8> {
    let mut packed = Vec::new();
    ZlibEncoder::new(text.as_bytes(), Compression::fast())
        .read_to_end(&mut packed)
        .expect("memory can be read and written");
    packed
}

/// The text again; `what` it is, for the message.
pub(super) fn unpacked(packed: &[u8], what: &str) -> Result<String, LibraryError> {
    let mut text = String::new();
    ZlibDecoder::new(packed)
        .take(LONGEST)
        .read_to_string(&mut text)
        .map_err(|it| LibraryError::damaged(what, it))?;
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_and_flipped_bits_are_found() {
        let long = "gelb, größer, 黄土色 ".repeat(50);
        let packed = text(&long);
        assert!(packed.len() < long.len() / 4);
        assert_eq!(unpacked(&packed, "it").unwrap(), long);
        for byte in 0..packed.len() {
            let mut flipped = packed.clone();
            flipped[byte] ^= 4;
            let back = unpacked(&flipped, "it");
            assert!(
                back.is_err() || back.is_ok_and(|it| it == long),
                "byte {byte}"
            );
        }
    }
}
