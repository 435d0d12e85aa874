//! TIFF: the directory says size, kind and profile; chunky and planar, strips and tiles, 8 and 16 bits.

mod planes;

use super::error::{MAX_PIXELS, Problem};
use super::opaque::{Sample, drop_alpha};
use super::{Decoded, Pixels, Statement};
use std::io::Cursor;
use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;
use tiff::{TiffError, TiffFormatError};

/// Decodes the first picture of a TIFF; the bytes live on as its metadata.
///
/// # Errors
///
/// If it is cut short, damaged, too large, grey, transparent, or of a kind that is not read, raw files among them.
pub(super) fn decode(bytes: Vec<u8>) -> Result<Decoded, Problem> {
    let mut decoder = Decoder::new(Cursor::new(bytes.as_slice())).map_err(|it| damage(&it))?;
    refuse_raw(&mut decoder)?;
    let (width, height) = decoder.dimensions().map_err(|it| damage(&it))?;
    let pixels = u64::from(width) * u64::from(height);
    if pixels > MAX_PIXELS {
        return Err(Problem::TooLarge {
            width: width.into(),
            height: height.into(),
        });
    }
    if pixels == 0 {
        return Err(Problem::Damaged("it has no pixels".to_owned()));
    }
    let channels = channels(&mut decoder)?;
    check_parts(&mut decoder, bytes.len())?;
    let icc = match decoder
        .find_tag(Tag::IccProfile)
        .map_err(|it| damage(&it))?
    {
        Some(value) => Some(
            value
                .into_u8_vec()
                .map_err(|_| Problem::BrokenProfile("its tag does not hold bytes".to_owned()))?,
        ),
        None => None,
    };
    let to_usize =
        |it| usize::try_from(it).map_err(|_| Problem::Damaged("its size overflows".to_owned()));
    let (width, height) = (to_usize(width)?, to_usize(height)?);
    let mut limits = Limits::default();
    // The pixels, or a tile that sticks out over the edges of a small picture.
    limits.decoding_buffer_size = 2 * channels * width * height + (16 << 20);
    limits.intermediate_buffer_size = limits.decoding_buffer_size;
    let pixels = read_pixels(decoder.with_limits(limits), (width, height), channels)?;
    Ok(Decoded {
        width,
        height,
        bits: pixels.bits(),
        pixels,
        icc,
        exif: Some(bytes),
        statement: Statement::None,
        orientation: None,
        gain_map: false,
        others: 0,
        remarks: Vec::new(),
        sensor: None,
    })
}

type Source<'a> = Decoder<Cursor<&'a [u8]>>;

const PLANAR: u32 = 2;
const COMPRESSION_JPEG: [u32; 2] = [6, 7];

fn refuse_raw(decoder: &mut Source<'_>) -> Result<(), Problem> {
    let further = decoder.find_tag(Tag::SubIfd).is_ok_and(|it| it.is_some());
    // Raw files show a small picture first and keep the sensor's values in a further one.
    let reduced = number(decoder, Tag::NewSubfileType).is_some_and(|it| it & 1 == 1);
    if further && reduced {
        return Err(Problem::OtherFormat {
            format: "a camera's raw file",
            hint: super::kind::RAW,
        });
    }
    if number(decoder, Tag::Compression).is_some_and(|it| COMPRESSION_JPEG.contains(&it)) {
        // The decoder inside is lenient: what is missing would become grey.
        return Err(Problem::Variant {
            what: "a TIFF with JPEG compression".to_owned(),
        });
    }
    Ok(())
}

fn number(decoder: &mut Source<'_>, tag: Tag) -> Option<u32> {
    decoder.find_tag(tag).ok().flatten()?.into_u32().ok()
}

/// Channels a pixel: 3, or 4 with alpha.
fn channels(decoder: &mut Source<'_>) -> Result<usize, Problem> {
    match number(decoder, Tag::PhotometricInterpretation) {
        Some(0 | 1) => return Err(Problem::Grey),
        Some(5) => return Err(Problem::Inks),
        Some(8..=10) => return Err(Problem::LabPicture),
        _ => {}
    }
    let kind = decoder.colortype().map_err(|it| damage(&it))?;
    let formats = decoder
        .find_tag_unsigned_vec::<u16>(Tag::SampleFormat)
        .map_err(|it| damage(&it))?;
    if formats.is_some_and(|it| it.iter().any(|format| *format != 1)) {
        return Err(Problem::Variant {
            what: "a TIFF of signed or floating-point values".to_owned(),
        });
    }
    match kind {
        ColorType::RGB(8 | 16) => Ok(3),
        ColorType::RGBA(8 | 16) => Ok(4),
        ColorType::RGB(bits) | ColorType::RGBA(bits) => Err(Problem::Variant {
            what: format!("a TIFF with {bits} bits a channel"),
        }),
        ColorType::Palette(_) => Err(Problem::Variant {
            what: "a TIFF with a palette".to_owned(),
        }),
        ColorType::YCbCr(_) => Err(Problem::Variant {
            what: "a TIFF of luma and chroma".to_owned(),
        }),
        other => Err(Problem::Variant {
            what: format!("a TIFF of kind {other:?}"),
        }),
    }
}

/// Every strip or tile must lie inside the file: some decompressors make do with less than they were promised.
fn check_parts(decoder: &mut Source<'_>, length: usize) -> Result<(), Problem> {
    let mut numbers = |tag| {
        decoder
            .find_tag_unsigned_vec::<u64>(tag)
            .map(Option::unwrap_or_default)
            .map_err(|it| damage(&it))
    };
    for (offsets, counts) in [
        (Tag::StripOffsets, Tag::StripByteCounts),
        (Tag::TileOffsets, Tag::TileByteCounts),
    ] {
        let length = u64::try_from(length).unwrap_or(u64::MAX);
        let (offsets, counts) = (numbers(offsets)?, numbers(counts)?);
        let inside = |(offset, count): (&u64, &u64)| {
            offset.checked_add(*count).is_some_and(|it| it <= length)
        };
        if !offsets.iter().zip(&counts).all(inside) {
            return Err(Problem::Truncated(
                "parts of its data lie beyond the end of the file".to_owned(),
            ));
        }
    }
    Ok(())
}

fn read_pixels(
    mut decoder: Source<'_>,
    (width, height): (usize, usize),
    channels: usize,
) -> Result<Pixels, Problem> {
    if number(&mut decoder, Tag::PlanarConfiguration) == Some(PLANAR) {
        return planes::read(&mut decoder, (width, height), channels);
    }
    let mut samples = DecodingResult::U8(Vec::new());
    decoder
        .read_image_to_buffer(&mut samples)
        .map_err(|it| damage(&it))?;
    match samples {
        DecodingResult::U8(it) => Ok(Pixels::U8(in_rgb(it, (width, height), channels)?)),
        DecodingResult::U16(it) => Ok(Pixels::U16(in_rgb(it, (width, height), channels)?)),
        _ => Err(unusual()),
    }
}

fn unusual() -> Problem {
    Problem::Variant {
        what: "a TIFF of unusual values".to_owned(),
    }
}

fn in_rgb<T: Sample>(
    samples: Vec<T>,
    (width, height): (usize, usize),
    channels: usize,
) -> Result<Vec<T>, Problem> {
    if samples.len() != width * height * channels {
        return Err(Problem::Truncated(
            "it holds fewer values than its size needs".to_owned(),
        ));
    }
    if channels == 4 {
        drop_alpha(samples, width)
    } else {
        Ok(samples)
    }
}

fn damage(error: &TiffError) -> Problem {
    match error {
        TiffError::IoError(it) if it.kind() == std::io::ErrorKind::UnexpectedEof => {
            Problem::Truncated("its data end before the picture does".to_owned())
        }
        TiffError::UnsupportedError(it) => Problem::Variant {
            what: format!("a TIFF of a rare kind ({it})"),
        },
        TiffError::LimitsExceeded => {
            Problem::Damaged("it asks for more memory than its size needs".to_owned())
        }
        TiffError::FormatError(TiffFormatError::InvalidDimensions(width, height)) => {
            Problem::Damaged(format!("it claims {width} × {height} pixels"))
        }
        other => Problem::Damaged(other.to_string()),
    }
}
