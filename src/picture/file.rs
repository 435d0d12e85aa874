//! Pictures as files: PNG or JPEG, with an sRGB profile inside.

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder, ImageError, RgbImage};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// JPEG quality: fine lettering without rings.
const QUALITY: u8 = 92;

/// Why a picture could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The name says neither PNG nor JPEG.
    #[error("{}: a picture's name must end in .png, .jpg or .jpeg", path.display())]
    Kind {
        /// As given.
        path: PathBuf,
    },
    /// The file system refused.
    #[error("can't write the picture {}", path.display())]
    Write {
        /// As given.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The encoder refused.
    #[error("can't encode the picture {}", path.display())]
    Encode {
        /// As given.
        path: PathBuf,
        /// Why.
        #[source]
        source: ImageError,
    },
}

/// Writes an sRGB picture as PNG or JPEG by the name's ending, beside it first and then renamed: never half a file.
///
/// # Errors
///
/// If the ending is another one, or the file can't be written.
pub fn write(picture: &RgbImage, path: &Path) -> Result<(), PictureError> {
    let ending = path
        .extension()
        .map(|it| it.to_string_lossy().to_ascii_lowercase());
    let png = match ending.as_deref() {
        Some("png") => true,
        Some("jpg" | "jpeg") => false,
        _ => return Err(PictureError::Kind { path: path.into() }),
    };
    let on_disk = |source| PictureError::Write {
        path: path.into(),
        source,
    };
    let folder = match path.parent() {
        Some(it) if !it.as_os_str().is_empty() => it,
        _ => Path::new("."),
    };
    let mut beside = tempfile::Builder::new()
        .prefix(".proof-")
        .tempfile_in(folder)
        .map_err(on_disk)?;
    let mut out = BufWriter::new(beside.as_file_mut());
    encode(picture, png, &mut out).map_err(|source| PictureError::Encode {
        path: path.into(),
        source,
    })?;
    out.flush().map_err(on_disk)?;
    drop(out);
    readable(beside.path()).map_err(on_disk)?;
    beside.persist(path).map_err(|it| on_disk(it.error))?;
    Ok(())
}

/// A temporary file is its owner's alone; a picture is for all who may read the folder's other files.
#[cfg(unix)]
fn readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_: &Path) -> io::Result<()> {
    Ok(())
}

fn encode(picture: &RgbImage, png: bool, out: &mut dyn Write) -> Result<(), ImageError> {
    let profile = moxcms::ColorProfile::new_srgb()
        .encode()
        .unwrap_or_default();
    let (width, height) = picture.dimensions();
    let rgb = ExtendedColorType::Rgb8;
    if png {
        let mut encoder =
            PngEncoder::new_with_quality(out, CompressionType::Fast, FilterType::Adaptive);
        state_srgb(&mut encoder, profile);
        encoder.write_image(picture, width, height, rgb)
    } else {
        let mut encoder = JpegEncoder::new_with_quality(out, QUALITY);
        state_srgb(&mut encoder, profile);
        encoder.write_image(picture, width, height, rgb)
    }
}

/// Both encoders take a profile; a picture without one would still be read as sRGB.
fn state_srgb(encoder: &mut impl ImageEncoder, profile: Vec<u8>) {
    if !profile.is_empty() {
        let _taken = encoder.set_icc_profile(profile);
    }
}
