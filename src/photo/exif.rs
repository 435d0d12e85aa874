//! What the camera wrote about the shot. Broken or missing metadata is not an error; places (GPS) are never read.

use super::Metadata;
use super::orientation::Orientation;
use exif::{Exif, In, Reader, Tag, Value};

/// The colour space that EXIF names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Named {
    Nothing,
    Srgb,
    /// "Uncalibrated" with the interoperability index R03, which the DCF gives to Adobe RGB (1998).
    AdobeRgb,
    /// "Uncalibrated", and nothing else.
    Uncalibrated,
}

/// What is used of an EXIF block.
#[derive(Clone, Debug)]
pub(super) struct Shot {
    pub(super) metadata: Metadata,
    pub(super) orientation: Orientation,
    pub(super) named: Named,
}

/// Reads a TIFF structure, the content of an EXIF block or a whole TIFF file. `None` counts as an empty one.
pub(super) fn read(block: Option<Vec<u8>>) -> Shot {
    let mut shot = Shot {
        metadata: Metadata::default(),
        orientation: Orientation(1),
        named: Named::Nothing,
    };
    let read = block.map(|it| {
        Reader::new()
            .continue_on_error(true)
            .read_raw(it)
            .or_else(|error| error.distill_partial_result(|_| {}))
    });
    let Some(Ok(exif)) = read else { return shot };
    let number = |tag| number(&exif, tag);
    let code = |tag| integer(&exif, tag);
    shot.orientation = Orientation::from_tag(code(Tag::Orientation).unwrap_or(1));
    shot.named = named(&exif);
    shot.metadata = Metadata {
        camera: camera(&exif),
        lens: text(&exif, Tag::LensModel),
        exposure_s: number(Tag::ExposureTime).filter(|it| *it > 0.0),
        f_number: number(Tag::FNumber).filter(|it| *it > 0.0),
        iso: number(Tag::PhotographicSensitivity).filter(|it| *it > 0.0),
        exposure_bias_ev: number(Tag::ExposureBiasValue),
        focal_35mm: number(Tag::FocalLengthIn35mmFilm).filter(|it| *it > 0.0),
        // Bit 0 of the tag; the others say how.
        flash_fired: code(Tag::Flash).map(|it| it & 1 == 1),
        manual_white_balance: code(Tag::WhiteBalance).and_then(|it| match it {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }),
        // 0 stands for "not used".
        digital_zoom: number(Tag::DigitalZoomRatio).map(|it| if it > 0.0 { it } else { 1.0 }),
        processing: processing(&exif),
        taken: taken(&exif),
        software: text(&exif, Tag::Software),
        gain_map: false,
    };
    shot
}

fn field(exif: &Exif, tag: Tag) -> Option<&Value> {
    exif.get_field(tag, In::PRIMARY).map(|it| &it.value)
}

fn integer(exif: &Exif, tag: Tag) -> Option<u32> {
    field(exif, tag)?.get_uint(0)
}

fn number(exif: &Exif, tag: Tag) -> Option<f64> {
    let value = match field(exif, tag)? {
        Value::Rational(it) => it.first()?.to_f64(),
        Value::SRational(it) => it.first()?.to_f64(),
        other => f64::from(other.get_uint(0)?),
    };
    value.is_finite().then_some(value)
}

/// A line of text without padding and control characters.
fn text(exif: &Exif, tag: Tag) -> Option<String> {
    let Value::Ascii(parts) = field(exif, tag)? else {
        return None;
    };
    let line: String = String::from_utf8_lossy(parts.first()?)
        .chars()
        .filter(|it| !it.is_control())
        .take(100)
        .collect();
    let line = line.trim();
    (!line.is_empty()).then(|| line.to_owned())
}

/// Maker and model, the maker once.
fn camera(exif: &Exif) -> Option<String> {
    match (text(exif, Tag::Make), text(exif, Tag::Model)) {
        (Some(make), Some(model)) if model.to_lowercase().starts_with(&make.to_lowercase()) => {
            Some(model)
        }
        (Some(make), Some(model)) => Some(format!("{make} {model}")),
        (make, model) => model.or(make),
    }
}

fn taken(exif: &Exif) -> Option<String> {
    let tags = [
        (Tag::DateTimeOriginal, Tag::OffsetTimeOriginal),
        (Tag::DateTimeDigitized, Tag::OffsetTimeDigitized),
        (Tag::DateTime, Tag::OffsetTime),
    ];
    tags.into_iter().find_map(|(time, offset)| {
        // A camera whose clock was never set writes blanks or zeros.
        let time =
            text(exif, time).filter(|it| it.bytes().any(|digit| matches!(digit, b'1'..=b'9')))?;
        Some(match text(exif, offset) {
            Some(offset) => format!("{time} {offset}"),
            None => time,
        })
    })
}

/// CIPA DC-008 (Exif 3.0), 4.6.6; the values 2–9 of `CustomRendered` are not in the standard but phones write them.
fn processing(exif: &Exif) -> Vec<String> {
    let words = |tag, table: &[(u32, &str)]| {
        let code = integer(exif, tag)?;
        table
            .iter()
            .find(|it| it.0 == code)
            .map(|it| it.1.to_owned())
    };
    [
        words(
            Tag::CompositeImage,
            &[
                (2, "put together from several frames"),
                (3, "put together from several frames"),
            ],
        ),
        words(
            Tag::SceneCaptureType,
            &[
                (1, "landscape mode"),
                (2, "portrait mode"),
                (3, "night mode"),
            ],
        ),
        words(
            Tag::CustomRendered,
            &[
                (1, "custom rendering"),
                (2, "HDR"),
                (3, "HDR"),
                (4, "HDR"),
                (6, "panorama"),
                (7, "portrait with HDR"),
                (8, "portrait"),
            ],
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn named(exif: &Exif) -> Named {
    const UNCALIBRATED: u32 = 0xffff;
    let index = field(exif, Tag::InteroperabilityIndex).and_then(|it| match it {
        Value::Ascii(parts) => parts.first().map(Vec::as_slice),
        _ => None,
    });
    match (integer(exif, Tag::ColorSpace), index) {
        (Some(1), _) => Named::Srgb,
        (Some(UNCALIBRATED), Some(b"R03")) => Named::AdobeRgb,
        (Some(UNCALIBRATED), _) => Named::Uncalibrated,
        _ => Named::Nothing,
    }
}
