//! JPEG: the structure is judged here, the pixels come from a strict decoder.
//!
//! Usual decoders fill what is missing with grey. Four things together keep that out: the walk over the markers
//! (is the end there, has every scan of a progressive picture come?), the decoder's strict mode, a sentinel in
//! place of the end marker, which turns a picture that stops early into an error, and a look at whether all data were
//! used. Damage that leaves the number of blocks as it is passes, and so does most damage within one restart interval: the
//! format has no checksums.

mod markers;
mod watched;

use self::markers::{Coding, Markers};
use self::watched::Watched;
use super::error::{MAX_PIXELS, Problem};
use super::{Decoded, Pixels, Spare, Statement};
use std::cell::Cell;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;

/// Decodes a JPEG into spare room; the bytes are used up.
///
/// # Errors
///
/// If it is cut short, damaged, too large, or of a kind that is not read.
pub(super) fn decode(mut bytes: Vec<u8>, spare: &Spare) -> Result<Decoded, Problem> {
    let markers = Markers::read(&bytes)?;
    check_kind(&markers)?;
    check_completeness(&markers)?;
    let icc = markers.icc(&bytes)?;
    let exif = markers
        .exif
        .clone()
        .and_then(|it| bytes.get(it))
        .map(<[u8]>::to_vec);
    let (width, height) = (usize::from(markers.width), usize::from(markers.height));
    // What follows the picture (gain maps, previews) is not needed.
    bytes.truncate(markers.end);
    bytes.extend_from_slice(if markers.ends_at_restart {
        END
    } else {
        SENTINEL
    });
    let options = DecoderOptions::new_fast()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX));
    let mut pixels = spare.zeros(width * height * 3);
    let data_read_to = Cell::new(0);
    JpegDecoder::new_with_options(Watched::new(&bytes, &data_read_to), options)
        .decode_into(&mut pixels)
        .map_err(|error| damage(&error))?;
    check_rest(&bytes, data_read_to.get(), markers.end)?;
    Ok(Decoded {
        width,
        height,
        pixels: Pixels::U8(pixels),
        bits: 8,
        icc,
        exif,
        statement: Statement::None,
        orientation: None,
        gain_map: markers.gain_map,
        others: 0,
        remarks: Vec::new(),
        sensor: None,
    })
}

/// Whether a JPEG is whole, has at most `longest` pixels a side, and is sRGB as it stands, without a profile.
///
/// # Errors
///
/// If not: what it is instead, as the end of a sentence with "it".
pub(super) fn check_small(bytes: &[u8], longest: usize) -> Result<(), String> {
    let markers = Markers::read(bytes).map_err(|it| it.to_string())?;
    let (width, height) = (usize::from(markers.width), usize::from(markers.height));
    if width > longest || height > longest {
        return Err(format!(
            "is {width} x {height} pixels (limit {longest} x {longest})"
        ));
    }
    let profile = markers.icc(bytes).map_err(|it| it.to_string())?;
    if profile.is_some() {
        return Err("has a colour profile, and sRGB needs none".to_owned());
    }
    decode(bytes.to_vec(), &Spare::default()).map_err(|it| it.to_string())?;
    Ok(())
}

/// Takes the place of the end marker, at which the decoder would fill what is missing without a word.
///
/// The decoder reads at most 8 bytes ahead of what it needs. So after a whole picture it skips the zeros and an unknown,
/// empty segment and comes to the end; a picture that stops early runs through the zeros into the unknown marker in
/// the middle of its data, which is an error.
///
/// A picture whose last restart interval is whole is searched for a marker at once, and an unknown one is an error
/// there; for those the number of restart markers tells, to within the last interval (usually one row of blocks).
const SENTINEL: &[u8] =
    b"\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\xff\xf1\0\x02\xff\xd9";
const END: &[u8] = b"\xff\xd9";

/// Damage inside the data mostly shifts the blocks after it: then the picture is full before the data are used up.
///
/// Zeros and fill bytes before the end marker are padding of some encoders.
fn check_rest(bytes: &[u8], read_to: u64, end: usize) -> Result<(), Problem> {
    let read_to = usize::try_from(read_to).unwrap_or(usize::MAX).min(end);
    let rest = bytes[read_to..end]
        .iter()
        .filter(|it| !matches!(it, 0x00 | 0xff))
        .count();
    if rest > 2 {
        return Err(Problem::Damaged(format!(
            "{rest} bytes of its data are left when the picture is full"
        )));
    }
    Ok(())
}

fn damage(error: &DecodeErrors) -> Problem {
    let cut = || Problem::Truncated("its data end before the picture does".to_owned());
    match error {
        DecodeErrors::ExhaustedData | DecodeErrors::IoErrors(_) => cut(),
        DecodeErrors::Format(it) if it == "Unknown marker in bit stream" => cut(),
        other => Problem::Damaged(format!("{other:?}")),
    }
}

fn check_kind(markers: &Markers) -> Result<(), Problem> {
    let variant = |what: &str| {
        Err(Problem::Variant {
            what: what.to_owned(),
        })
    };
    match markers.coding {
        Coding::Sequential | Coding::Progressive => {}
        Coding::Arithmetic => return variant("a JPEG with arithmetic coding"),
        Coding::Lossless => return variant("a lossless or hierarchical JPEG"),
    }
    if markers.precision != 8 {
        return variant(&format!("a JPEG with {} bits a channel", markers.precision));
    }
    match markers.components.len() {
        1 => return Err(Problem::Grey),
        3 => {}
        4 => return Err(Problem::Inks),
        n => return variant(&format!("a JPEG with {n} channels")),
    }
    let named_rgb = markers.components.iter().map(|it| it.id).eq(*b"RGB");
    if markers.adobe_transform == Some(0) && !named_rgb {
        return variant("a JPEG stored as RGB without colour transform");
    }
    let (width, height) = (u64::from(markers.width), u64::from(markers.height));
    if width == 0 || height == 0 {
        return variant("a JPEG that leaves its size open");
    }
    if width * height > MAX_PIXELS {
        return Err(Problem::TooLarge { width, height });
    }
    Ok(())
}

fn check_completeness(markers: &Markers) -> Result<(), Problem> {
    if !markers.ended {
        return Err(Problem::Truncated(
            "the end of the picture is missing".to_owned(),
        ));
    }
    if markers.restarts_missing {
        return Err(Problem::Truncated("restart markers are missing".to_owned()));
    }
    if !markers.all_scans_came() {
        return Err(Problem::Truncated(
            "not all of its progressive scans are there".to_owned(),
        ));
    }
    // A block of 8 × 8 takes a bit at the very least. This keeps a small file from claiming a lot of memory.
    let blocks = u64::from(markers.width).div_ceil(8) * u64::from(markers.height).div_ceil(8);
    if 8 * markers.scan_bytes < blocks {
        return Err(Problem::Truncated(format!(
            "{} bytes can't hold {} × {} pixels",
            markers.scan_bytes, markers.width, markers.height
        )));
    }
    Ok(())
}
