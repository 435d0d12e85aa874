//! A photo file as pixels, a linearisation and metadata. Knows nothing of panels.
//!
//! Takes a path; gives a [`Photo`] whose pixels stay encoded as stored, with tables that linearise them. Honours the
//! embedded ICC profile, the orientation tag (as a map of coordinates; no pixel moves) and the bit depth. Strict: a
//! truncated or corrupt file is an error, and a header's claims are checked before memory is taken.

use crate::colour::Matrix;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// A decoded photo, pixels as stored.
#[derive(Clone, Debug)]
pub struct Photo {
    /// As given.
    pub path: PathBuf,
    /// Of the file's bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Stored width in pixels, ≥ 1.
    pub width: usize,
    /// Stored height in pixels, ≥ 1.
    pub height: usize,
    /// RGB interleaved, row by row, encoded.
    pub pixels: Pixels,
    /// From code values to linear light and XYZ.
    pub encoding: Encoding,
    /// How the stored picture is to be turned for display.
    pub orientation: Orientation,
    /// What the camera says.
    pub metadata: Metadata,
}

/// Code values.
#[derive(Clone, Debug)]
pub enum Pixels {
    /// 8 bits a channel.
    U8(Vec<u8>),
    /// 16 bits a channel.
    U16(Vec<u16>),
}

/// From code values to linear RGB and on to XYZ D50.
#[derive(Clone, Debug)]
pub struct Encoding {
    /// Where the linearisation comes from.
    pub source: EncodingSource,
    /// The profile's description, or what was assumed.
    pub name: String,
    /// Linear value (0–1) of each code value, a table a channel: 256 or 65,536 entries.
    pub tables: [Vec<f32>; 3],
    /// Linear RGB to XYZ relative to D50 (Y = 1 for RGB = 1, 1, 1).
    pub to_xyz: Matrix,
}

/// Where a linearisation comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EncodingSource {
    /// The embedded ICC profile.
    Profile,
    /// Nothing is stated: sRGB (IEC 61966-2-1) is assumed.
    AssumedSrgb,
    /// The file says sRGB without a profile (EXIF colour space, PNG chunk).
    StatedSrgb,
    /// The user says that values are linear.
    Linear,
}

/// The eight EXIF orientations, by tag value 1–8.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Orientation(
    /// 1–8; 1 is as stored.
    pub u8,
);

/// What the camera says of the shot. Anything may be missing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(default)]
pub struct Metadata {
    /// Maker and model.
    pub camera: Option<String>,
    /// Lens model.
    pub lens: Option<String>,
    /// Exposure time, s.
    pub exposure_s: Option<f64>,
    /// F-number.
    pub f_number: Option<f64>,
    /// ISO sensitivity.
    pub iso: Option<f64>,
    /// Exposure bias, EV.
    pub exposure_bias_ev: Option<f64>,
    /// Focal length, mm, 35 mm equivalent.
    pub focal_35mm: Option<f64>,
    /// Whether the flash fired.
    pub flash_fired: Option<bool>,
    /// White balance set by hand.
    pub manual_white_balance: Option<bool>,
    /// Digital zoom ratio; 1 is none.
    pub digital_zoom: Option<f64>,
    /// Tags of heavy processing (HDR, composite, night, portrait …), in words.
    pub processing: Vec<String>,
    /// When it was taken, as the camera wrote it, with its offset if given.
    pub taken: Option<String>,
    /// Software that wrote the file.
    pub software: Option<String>,
    /// A gain map for HDR display is present (ignored).
    pub gain_map: bool,
}

/// A shrunk photo in linear light, stored orientation.
#[derive(Clone, Debug)]
pub struct LinearImage {
    /// Width in its own pixels.
    pub width: usize,
    /// Height in its own pixels.
    pub height: usize,
    /// Stored pixels per pixel of this image (a whole number, at least 1).
    pub factor: usize,
    /// Linear RGB, row by row.
    pub pixels: Vec<[f32; 3]>,
}
