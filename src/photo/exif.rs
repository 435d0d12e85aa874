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
        further_pictures: 0,
        sensor: None,
        remarks: Vec::new(),
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

/// `CompositeImage` and `SceneCaptureType` after CIPA DC-008; it knows only 0 and 1 of `CustomRendered`, the other values
/// are what phones write (common practice, no standard).
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

#[cfg(test)]
mod tests {
    use super::*;
    use exif::experimental::Writer;
    use exif::{Field, Rational};

    fn ascii(words: &str) -> Value {
        Value::Ascii(vec![words.as_bytes().to_vec()])
    }

    fn block(entries: &[(Tag, Value)]) -> Vec<u8> {
        let fields: Vec<Field> = entries
            .iter()
            .map(|(tag, value)| Field {
                tag: *tag,
                ifd_num: In::PRIMARY,
                value: value.clone(),
            })
            .collect();
        let mut writer = Writer::new();
        for field in &fields {
            writer.push_field(field);
        }
        let mut bytes = std::io::Cursor::new(Vec::new());
        writer.write(&mut bytes, true).unwrap();
        bytes.into_inner()
    }

    #[test]
    fn colour_spaces_are_told_apart() {
        let space = |code| (Tag::ColorSpace, Value::Short(vec![code]));
        let index = |words| (Tag::InteroperabilityIndex, ascii(words));
        let cases = [
            (vec![space(1), index("R98")], Named::Srgb),
            (vec![space(0xffff), index("R03")], Named::AdobeRgb),
            (vec![space(0xffff)], Named::Uncalibrated),
            (vec![index("R03")], Named::Nothing),
        ];
        for (entries, named) in cases {
            assert_eq!(read(Some(block(&entries))).named, named, "{entries:?}");
        }
        assert_eq!(read(None).named, Named::Nothing);
    }

    #[test]
    fn tags_of_trust_are_read_in_words() {
        let shot = read(Some(block(&[
            (Tag::Make, ascii("Maker")),
            (Tag::Model, ascii("Maker One\n")),
            (Tag::Orientation, Value::Short(vec![9])),
            (Tag::CompositeImage, Value::Short(vec![3])),
            (Tag::SceneCaptureType, Value::Short(vec![3])),
            (Tag::CustomRendered, Value::Short(vec![0])),
            (Tag::Flash, Value::Short(vec![0x19])),
            (
                Tag::DigitalZoomRatio,
                Value::Rational(vec![Rational { num: 3, denom: 2 }]),
            ),
            (
                Tag::ExposureTime,
                Value::Rational(vec![Rational { num: 1, denom: 0 }]),
            ),
            (Tag::DateTimeOriginal, ascii("0000:00:00 00:00:00")),
            (Tag::DateTime, ascii("2026:05:01 12:00:00")),
            (Tag::OffsetTime, ascii("+02:00")),
        ])));
        assert_eq!(shot.orientation, Orientation(1));
        let it = shot.metadata;
        assert_eq!(it.camera.as_deref(), Some("Maker One"));
        assert_eq!(
            it.processing,
            ["put together from several frames", "night mode"]
        );
        assert_eq!(
            (it.flash_fired, it.digital_zoom, it.exposure_s),
            (Some(true), Some(1.5), None)
        );
        assert_eq!(it.taken.as_deref(), Some("2026:05:01 12:00:00 +02:00"));
    }

    #[test]
    fn places_are_not_kept() {
        let degrees = vec![
            Rational {
                num: 48_137,
                denom: 1000
            };
            3
        ];
        let shot = read(Some(block(&[
            (Tag::GPSLatitude, Value::Rational(degrees)),
            (Tag::GPSLatitudeRef, ascii("N")),
            (Tag::Software, ascii("1.0")),
        ])));
        let kept = serde_json::to_string(&shot.metadata).unwrap();
        assert!(kept.contains("1.0") && !kept.contains("48"), "{kept}");
    }
}
