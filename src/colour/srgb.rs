//! What a screen can show: CIELAB to sRGB and Display P3, with gamut mapping, and back.
//!
//! Linear values may lie outside 0–1 (a colour outside the gamut); whether they do is judged in linear light, before
//! any encoding.

mod gamut;

pub use gamut::{Mapped, map_to_gamut};

use super::adaptation::{Cones, matrix as adapt};
use super::{Lab, Matrix, Xyz, lab, white};
use nalgebra::Vector3;
use std::sync::LazyLock;

/// An RGB space of screens. Both have the D65 white and the transfer curve of sRGB.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RgbSpace {
    /// sRGB, IEC 61966-2-1.
    Srgb,
    /// Display P3.
    DisplayP3,
}

impl RgbSpace {
    /// Linear RGB to XYZ relative to D65, exact from the primaries.
    ///
    /// # Source
    /// The rational numbers are those of the sample code of CSS Color Module Level 4.
    #[must_use]
    pub fn to_xyz_d65(self) -> Matrix {
        match self {
            Self::Srgb => Matrix::new(
                506_752.0 / 1_228_815.0,
                87_881.0 / 245_763.0,
                12_673.0 / 70_218.0, //
                87_098.0 / 409_605.0,
                175_762.0 / 245_763.0,
                12_673.0 / 175_545.0, //
                7_918.0 / 409_605.0,
                87_881.0 / 737_289.0,
                1_001_167.0 / 1_053_270.0,
            ),
            Self::DisplayP3 => Matrix::new(
                608_311.0 / 1_250_200.0,
                189_793.0 / 714_400.0,
                198_249.0 / 1_000_160.0, //
                35_783.0 / 156_275.0,
                247_089.0 / 357_200.0,
                198_249.0 / 2_500_400.0, //
                0.0,
                32_229.0 / 714_400.0,
                5_220_557.0 / 5_000_800.0,
            ),
        }
    }

    /// Linear RGB to XYZ relative to [`white::D50`], adapted by Bradford. RGB (1, 1, 1) is the white itself.
    #[must_use]
    pub fn to_xyz_d50(self) -> &'static Matrix {
        static SRGB: LazyLock<Matrix> = LazyLock::new(|| to_d50() * RgbSpace::Srgb.to_xyz_d65());
        static P3: LazyLock<Matrix> = LazyLock::new(|| to_d50() * RgbSpace::DisplayP3.to_xyz_d65());
        match self {
            Self::Srgb => &SRGB,
            Self::DisplayP3 => &P3,
        }
    }

    /// The inverse of [`Self::to_xyz_d50`].
    fn from_xyz_d50(self) -> &'static Matrix {
        static SRGB: LazyLock<Matrix> = LazyLock::new(|| inverse(RgbSpace::Srgb));
        static P3: LazyLock<Matrix> = LazyLock::new(|| inverse(RgbSpace::DisplayP3));
        match self {
            Self::Srgb => &SRGB,
            Self::DisplayP3 => &P3,
        }
    }

    /// Linear RGB of a colour; outside 0–1 where the space can't show it.
    #[must_use]
    pub fn linear(self, lab: Lab) -> [f64; 3] {
        let Xyz { x, y, z, .. } = lab::to_xyz(lab);
        (self.from_xyz_d50() * Vector3::new(x, y, z)).into()
    }

    /// The colour of linear RGB: the inverse of [`Self::linear`].
    #[must_use]
    pub fn lab(self, linear: [f64; 3]) -> Lab {
        let xyz = self.to_xyz_d50() * Vector3::from(linear);
        lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z))
    }
}

fn to_d50() -> Matrix {
    adapt(Cones::Bradford, white::D65, white::D50).expect("both are whites")
}

fn inverse(space: RgbSpace) -> Matrix {
    space
        .to_xyz_d50()
        .try_inverse()
        .expect("the primaries are independent")
}

/// Whether linear RGB lies within 0–1, up to rounding (10⁻⁶: less than 1/300 of an 8-bit code, even at black).
#[must_use]
pub fn is_in_gamut(linear: [f64; 3]) -> bool {
    linear.iter().all(|it| (-1e-6..=1.0 + 1e-6).contains(it))
}

/// Linear light to the encoded value, both 1 at white; mirrored for negative values.
///
/// # Source
/// IEC 61966-2-1:1999; the mirror as in CSS Color Module Level 4.
#[must_use]
pub fn encode(linear: f64) -> f64 {
    let it = linear.abs();
    let encoded = if it > 0.003_130_8 {
        1.055 * it.powf(1.0 / 2.4) - 0.055
    } else {
        12.92 * it
    };
    encoded.copysign(linear)
}

/// The inverse of [`encode`].
#[must_use]
pub fn decode(encoded: f64) -> f64 {
    let it = encoded.abs();
    let linear = if it > 0.040_45 {
        ((it + 0.055) / 1.055).powf(2.4)
    } else {
        it / 12.92
    };
    linear.copysign(encoded)
}

/// The sRGB colour nearest in kind, 8 bits a channel: mapped into the gamut where need be.
#[must_use]
pub fn to_rgb8(lab: Lab) -> [u8; 3] {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped; NaN becomes 0"
    )]
    map_to_gamut(RgbSpace::Srgb, lab)
        .linear
        .map(|it| (255.0 * encode(it)).round().clamp(0.0, 255.0) as u8)
}

/// The same as `#rrggbb`, lower case.
#[must_use]
pub fn to_hex(lab: Lab) -> String {
    let [r, g, b] = to_rgb8(lab);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The colour of 8-bit sRGB.
#[must_use]
pub fn from_rgb8(rgb: [u8; 3]) -> Lab {
    RgbSpace::Srgb.lab(rgb.map(|it| decode(f64::from(it) / 255.0)))
}
