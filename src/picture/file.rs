//! Pictures as files: JPEG with an sRGB profile inside.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, ImageError, RgbImage};
use std::io::{self, Write};

/// JPEG quality: fine lettering without rings.
const QUALITY: u8 = 92;

/// Writes an sRGB picture as JPEG.
///
/// # Errors
///
/// If `out` fails, or the picture is larger than a JPEG can be (65,535 pixels a side).
pub fn write_jpeg(picture: &RgbImage, out: &mut dyn Write) -> io::Result<()> {
    let profile = moxcms::ColorProfile::new_srgb()
        .encode()
        .unwrap_or_default();
    let (width, height) = picture.dimensions();
    let mut encoder = JpegEncoder::new_with_quality(out, QUALITY);
    // A picture without a profile would still be read as sRGB.
    if !profile.is_empty() {
        let _taken = encoder.set_icc_profile(profile);
    }
    encoder
        .write_image(picture, width, height, ExtendedColorType::Rgb8)
        .map_err(|error| match error {
            // As it is: what to do about it depends on its kind.
            ImageError::IoError(error) => error,
            other => io::Error::other(other),
        })
}
