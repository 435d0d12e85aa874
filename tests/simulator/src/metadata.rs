//! EXIF metadata as a phone writes them.

use crate::spec::{ExifSpec, Space};
use exif::experimental::Writer;
use exif::{Context, Field, In, Rational, Tag, Value};
use std::io::Cursor;

/// What is said, in EXIF's own types; of the colour space nothing where there is none.
pub(crate) fn fields(
    spec: &ExifSpec,
    space: Option<Space>,
    orientation: Option<u8>,
) -> Vec<(Tag, Value)> {
    let text = |words: &str| Value::Ascii(vec![words.as_bytes().to_vec()]);
    let short = |value: u16| Value::Short(vec![value]);
    let ratio = |num: u32, denom: u32| Value::Rational(vec![Rational { num, denom }]);
    let mut values = vec![
        (Tag::Make, text(&spec.make)),
        (Tag::Model, text(&spec.model)),
        (Tag::DateTime, text(&spec.taken)),
        (Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        (Tag::DateTimeOriginal, text(&spec.taken)),
        (Tag::OffsetTimeOriginal, text(&spec.offset)),
        (Tag::ExposureTime, ratio(1, spec.exposure_per_s)),
        (Tag::FNumber, ratio(18, 10)),
        (Tag::PhotographicSensitivity, short(spec.iso)),
        (Tag::Flash, short(if spec.flash { 0x19 } else { 0x10 })),
        (Tag::WhiteBalance, short(0)),
        (Tag::FocalLengthIn35mmFilm, short(26)),
    ];
    if let Some(space) = space {
        let code = if space == Space::Srgb { 1 } else { 0xffff };
        values.push((Tag::ColorSpace, short(code)));
    }
    if let Some(orientation) = orientation {
        values.push((Tag::Orientation, short(u16::from(orientation))));
    }
    if let Some(zoom) = spec.zoom {
        values.push((Tag::DigitalZoomRatio, ratio(hundredths(zoom), 100)));
    }
    values
}

/// The EXIF block (a TIFF structure, without the JPEG marker's `Exif` prefix).
///
/// # Errors
///
/// If a value cannot be written, such as a text that is too long.
pub fn exif_block(
    spec: &ExifSpec,
    space: Space,
    orientation: Option<u8>,
) -> Result<Vec<u8>, exif::Error> {
    let fields: Vec<Field> = fields(spec, Some(space), orientation)
        .into_iter()
        .map(|(tag, value)| Field {
            tag,
            ifd_num: In::PRIMARY,
            value,
        })
        .collect();
    let mut writer = Writer::new();
    for field in &fields {
        debug_assert!(matches!(field.tag.context(), Context::Tiff | Context::Exif));
        writer.push_field(field);
    }
    let mut out = Cursor::new(Vec::new());
    writer.write(&mut out, false)?;
    Ok(out.into_inner())
}

/// A ratio in hundredths, for a rational.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to what a zoom can be"
)]
fn hundredths(value: f64) -> u32 {
    (value.clamp(0.0, 1000.0) * 100.0).round() as u32
}
