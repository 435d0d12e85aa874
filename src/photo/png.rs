//! PNG: the chunks say size, kind and colour space; the pixels come from `image`, which checks every checksum.

mod chunks;

use self::chunks::Chunks;
use super::encoding::SRGB_PRIMARIES;
use super::error::{MAX_PIXELS, Problem};
use super::opaque::drop_alpha;
use super::{Decoded, Pixels, Statement};
use image::codecs::png::PngDecoder;
use image::{DynamicImage, ImageDecoder, ImageError};
use std::io::Cursor;

/// Decodes a PNG; the bytes are used up.
///
/// # Errors
///
/// If it is cut short, damaged, too large, grey, or has transparent pixels.
pub(super) fn decode(bytes: Vec<u8>) -> Result<Decoded, Problem> {
    let chunks = Chunks::read(&bytes)?;
    let (width, height) = (u64::from(chunks.width), u64::from(chunks.height));
    if width * height > MAX_PIXELS {
        return Err(Problem::TooLarge { width, height });
    }
    if matches!(chunks.colour_type, 0 | 4) {
        return Err(Problem::Grey);
    }
    let mut limits = image::Limits::no_limits();
    // Pixels of 16-bit RGBA, and the decoder's own buffers.
    limits.max_alloc = Some(8 * width * height + (64 << 20));
    let mut decoder =
        PngDecoder::with_limits(Cursor::new(bytes.as_slice()), limits).map_err(|it| damage(&it))?;
    let icc = decoder.icc_profile().map_err(|it| damage(&it))?;
    let statement = statement(&chunks, icc.is_some())?;
    let exif = chunks
        .exif
        .clone()
        .and_then(|it| bytes.get(it))
        .map(<[u8]>::to_vec);
    let (width, height) = (to_usize(chunks.width), to_usize(chunks.height));
    let pixels = pixels(decoder, width)?;
    Ok(Decoded {
        width,
        height,
        bits: pixels.bits(),
        pixels,
        icc: icc.filter(|_| matches!(statement, Statement::None)),
        exif,
        statement,
        orientation: None,
        gain_map: false,
        others: 0,
        remarks: Vec::new(),
        sensor: None,
    })
}

fn to_usize(it: u32) -> usize {
    usize::try_from(it).expect("32 bits fit the address space")
}

/// What the file says of its colours, in the order of precedence of PNG (third edition), 4.3.
fn statement(chunks: &Chunks, icc_was_read: bool) -> Result<Statement, Problem> {
    if let Some(points) = chunks.cicp {
        // Code points of ITU-T H.273: primaries, transfer, matrix, full range.
        return match points {
            [primaries, transfer, 0, 1] => Ok(Statement::CodePoints {
                primaries: primaries.into(),
                transfer: transfer.into(),
            }),
            [_, _, matrix, range] => Err(Problem::ColourStatement(format!(
                "code points {matrix} (matrix) and {range} (range) for a picture of red, green and blue"
            ))),
        };
    }
    if chunks.has_icc {
        if icc_was_read {
            return Ok(Statement::None);
        }
        return Err(Problem::BrokenProfile(
            "its chunk can't be unpacked".to_owned(),
        ));
    }
    if chunks.srgb {
        return Ok(Statement::Srgb);
    }
    if let Some(primaries) = chunks.primaries {
        let srgb: Vec<f64> = SRGB_PRIMARIES.as_flattened().to_vec();
        if srgb
            .iter()
            .zip(&primaries[2..])
            .any(|(a, b)| (a - b).abs() > 0.002)
        {
            return Err(Problem::ColourStatement(
                "primaries other than sRGB's, without a profile".to_owned(),
            ));
        }
    }
    match chunks.gamma {
        // 1/2.2, which programs write beside sRGB values.
        Some(gamma) if (gamma - 0.454_55).abs() > 0.001 => Ok(Statement::Gamma),
        _ => Ok(Statement::None),
    }
}

fn pixels(decoder: PngDecoder<Cursor<&[u8]>>, width: usize) -> Result<Pixels, Problem> {
    match DynamicImage::from_decoder(decoder).map_err(|it| damage(&it))? {
        DynamicImage::ImageRgb8(it) => Ok(Pixels::U8(it.into_raw())),
        DynamicImage::ImageRgb16(it) => Ok(Pixels::U16(it.into_raw())),
        DynamicImage::ImageRgba8(it) => Ok(Pixels::U8(drop_alpha(it.into_raw(), width)?)),
        DynamicImage::ImageRgba16(it) => Ok(Pixels::U16(drop_alpha(it.into_raw(), width)?)),
        other => Err(Problem::Variant {
            what: format!("a PNG of kind {:?}", other.color()),
        }),
    }
}

fn damage(error: &ImageError) -> Problem {
    match error {
        ImageError::Limits(_) => {
            Problem::Damaged("it asks for more memory than its size needs".to_owned())
        }
        ImageError::IoError(it) if it.kind() == std::io::ErrorKind::UnexpectedEof => {
            Problem::Truncated("its data end before the picture does".to_owned())
        }
        other => Problem::Damaged(other.to_string()),
    }
}
