//! The chunks of a PNG file (PNG, third edition, W3C): what it claims, what it says of colour, whether its end is there.

use crate::photo::error::Problem;
use std::ops::Range;

/// What the walk over the chunks found.
#[derive(Clone, Debug, Default)]
pub(super) struct Chunks {
    pub(super) width: u32,
    pub(super) height: u32,
    /// 0 grey, 2 RGB, 3 palette, 4 grey and alpha, 6 RGBA.
    pub(super) colour_type: u8,
    pub(super) has_icc: bool,
    pub(super) srgb: bool,
    /// Encoded value = light to the power of this.
    pub(super) gamma: Option<f64>,
    /// White x, y, red x, y, green x, y, blue x, y.
    pub(super) primaries: Option<[f64; 8]>,
    /// Primaries, transfer, matrix, full range.
    pub(super) cicp: Option<[u8; 4]>,
    pub(super) exif: Option<Range<usize>>,
}

const SIGNATURE: usize = 8;

impl Chunks {
    /// Walks over all chunks to the last one.
    ///
    /// # Errors
    ///
    /// If the header or the end is missing, or a chunk runs past the end of the file.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Problem> {
        let mut found = Self::default();
        let mut at = SIGNATURE;
        loop {
            let (name, body) = chunk(bytes, at)?;
            let data = &bytes[body.clone()];
            if (at == SIGNATURE) != (name == b"IHDR") {
                return Err(Problem::Damaged(
                    "its header is not where it should be".to_owned(),
                ));
            }
            match name {
                b"IHDR" => found.header(data)?,
                b"iCCP" => found.has_icc = true,
                b"sRGB" => found.srgb = true,
                b"gAMA" => found.gamma = fixed(data, 0),
                b"cHRM" => found.primaries = chromaticities(data),
                b"cICP" => found.cicp = <[u8; 4]>::try_from(data).ok(),
                b"eXIf" => found.exif = Some(body.clone()),
                b"IEND" => return Ok(found),
                _ => {}
            }
            at = body.end + 4;
        }
    }

    fn header(&mut self, data: &[u8]) -> Result<(), Problem> {
        let (Some(width), Some(height), Some(colour_type)) =
            (be_u32(data, 0), be_u32(data, 4), data.get(9))
        else {
            return Err(Problem::Damaged("its header is too short".to_owned()));
        };
        (self.width, self.height, self.colour_type) = (width, height, *colour_type);
        Ok(())
    }
}

/// The name and the body of the chunk at `at`.
fn chunk(bytes: &[u8], at: usize) -> Result<(&[u8], Range<usize>), Problem> {
    let cut = || Problem::Truncated("the end of the picture is missing".to_owned());
    let length = be_u32(bytes, at).ok_or_else(cut)?;
    let name = bytes.get(at + 4..at + 8).ok_or_else(cut)?;
    let start = at + 8;
    let end = usize::try_from(length)
        .ok()
        .and_then(|it| start.checked_add(it))
        .ok_or_else(cut)?;
    // Four bytes of checksum follow.
    if end.checked_add(4).is_none_or(|it| it > bytes.len()) {
        return Err(cut());
    }
    Ok((name, start..end))
}

fn be_u32(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..at.checked_add(4)?)?;
    Some(u32::from_be_bytes(four.try_into().ok()?))
}

/// A number stored times 100,000.
fn fixed(data: &[u8], index: usize) -> Option<f64> {
    Some(f64::from(be_u32(data, 4 * index)?) / 100_000.0)
}

fn chromaticities(data: &[u8]) -> Option<[f64; 8]> {
    let mut values = [0.0; 8];
    for (index, value) in values.iter_mut().enumerate() {
        *value = fixed(data, index)?;
    }
    Some(values)
}
