//! From code values to linear RGB and on to XYZ, and the colour spaces that are stated by name.

use super::curve::{Curve, Parametric};
use super::error::Problem;
use crate::colour::Matrix;
use crate::colour::adaptation::{Cones, matrix as adapt};
use crate::colour::camera::CameraColour;
use crate::colour::white::{self, D50, D65};
use serde::{Deserialize, Serialize};

/// From code values to linear RGB and on to XYZ D50.
#[derive(Clone, Debug)]
pub struct Encoding {
    /// Where the linearisation comes from.
    pub source: EncodingSource,
    /// The profile's description, or what was assumed.
    pub name: String,
    /// Linear value (0–1) of each code value, a table a channel: 256 or 65,536 entries. Of a sensor's values 1 is where its green ends; they
    /// may lie a little below 0 by their noise, and red and blue, balanced for the light, reach beyond 1.
    pub tables: [Vec<f32>; 3],
    /// Linear RGB to XYZ relative to D50 (Y = 1 for RGB = 1, 1, 1). Of a sensor's values by the white that the camera judged by.
    pub to_xyz: Matrix,
    /// What that is by other whites, if the values are a sensor's.
    pub camera: Option<CameraColour>,
}

impl Encoding {
    /// Of a sensor's values: `linear` is the light of each code value, and each channel is balanced by the white that the camera
    /// judged by. None if the camera's matrices make no white of that.
    pub(super) fn of_sensor(linear: &[f32], camera: CameraColour) -> Option<Self> {
        #[expect(clippy::cast_possible_truncation, reason = "a gain of a channel")]
        let gains = camera.as_shot.map(|it| (1.0 / it) as f32);
        Some(Self {
            source: EncodingSource::Sensor,
            name: "sensor values".to_owned(),
            tables: gains.map(|gain| linear.iter().map(|it| gain * it).collect()),
            to_xyz: camera.balanced_to_xyz([1.0; 3])?,
            camera: Some(camera),
        })
    }

    /// Appends the linear light of interleaved code values, which fit the tables.
    pub(super) fn linearise<T: Copy + Into<usize>>(&self, codes: &[T], out: &mut Vec<[f32; 3]>) {
        let [red, green, blue] = &self.tables;
        out.extend(
            codes
                .chunks_exact(3)
                .map(|it| [red[it[0].into()], green[it[1].into()], blue[it[2].into()]]),
        );
    }
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
    /// The file names another colour space without a profile (Adobe RGB by the DCF's option file, PNG `cICP`, HEIF's colour box).
    Stated,
    /// The user says that values are linear.
    Linear,
    /// Values are those of the sensor, in a raw file.
    Sensor,
}

impl EncodingSource {
    /// Whether values have been through no tone curve.
    #[must_use]
    pub fn is_linear(self) -> bool {
        matches!(self, Self::Linear | Self::Sensor)
    }
}

/// A colour space before its curves are worked out for a bit depth.
#[derive(Clone, Debug)]
pub(super) struct Space {
    pub(super) source: EncodingSource,
    pub(super) name: String,
    pub(super) curves: [Curve; 3],
    pub(super) to_xyz: Matrix,
}

impl Space {
    /// sRGB (IEC 61966-2-1).
    pub(super) fn srgb(source: EncodingSource, name: &str) -> Self {
        let curve = Curve::Parametric(Parametric::SRGB);
        Self::named(source, name, curve, SRGB_PRIMARIES)
    }

    /// Adobe RGB (1998), version 2005-05: gamma 563/256.
    pub(super) fn adobe_rgb(source: EncodingSource, name: &str) -> Self {
        let curve = Curve::Gamma(563.0 / 256.0);
        Self::named(
            source,
            name,
            curve,
            [[0.640, 0.330], [0.210, 0.710], [0.150, 0.060]],
        )
    }

    pub(super) fn named(
        source: EncodingSource,
        name: &str,
        curve: Curve,
        primaries: [[f64; 2]; 3],
    ) -> Self {
        Self {
            source,
            name: name.to_owned(),
            curves: [curve.clone(), curve.clone(), curve],
            to_xyz: to_xyz_d50(primaries),
        }
    }

    /// The same primaries with values that are linear already.
    pub(super) fn linear(self) -> Self {
        Self {
            source: EncodingSource::Linear,
            name: format!("linear values, primaries of {}", self.name),
            curves: [Curve::Identity, Curve::Identity, Curve::Identity],
            to_xyz: self.to_xyz,
        }
    }

    /// The tables for code values up to `max_code`.
    ///
    /// # Errors
    ///
    /// If a profile's tone curve makes no sense.
    pub(super) fn encode(self, max_code: u16) -> Result<Encoding, Problem> {
        let [red, green, blue] = &self.curves;
        let first = red.table(max_code)?;
        // The curves are nearly always the same, and 16-bit tables take a while.
        let other = |it: &Curve| {
            if it == red {
                Ok(first.clone())
            } else {
                it.table(max_code)
            }
        };
        let (second, third) = (other(green)?, other(blue)?);
        Ok(Encoding {
            source: self.source,
            name: self.name,
            tables: [first, second, third],
            to_xyz: self.to_xyz,
            camera: None,
        })
    }
}

/// Chromaticities of ITU-R BT.709, which sRGB shares.
pub(super) const SRGB_PRIMARIES: [[f64; 2]; 3] = [[0.640, 0.330], [0.300, 0.600], [0.150, 0.060]];

/// Linear RGB to XYZ D50 of a space given by chromaticities with a D65 white, adapted by the Bradford transform.
///
/// # Source
///
/// Primaries to matrix: SMPTE RP 177. Bradford: ICC.1:2022, annex E.
fn to_xyz_d50(primaries: [[f64; 2]; 3]) -> Matrix {
    let columns = primaries.map(|[x, y]| nalgebra::Vector3::from(white::from_xy(x, y)));
    let unscaled = Matrix::from_columns(&columns);
    let scale = unscaled
        .try_inverse()
        .expect("the primaries above are not on a line")
        * nalgebra::Vector3::from(D65);
    let adapted = adapt(Cones::Bradford, D65, D50).expect("both are whites");
    adapted * unscaled * Matrix::from_diagonal(&scale)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Lab, Xyz};
    use palette::FromColor;

    fn lab(space: Space, rgb: [f64; 3]) -> [f64; 3] {
        let linear = nalgebra::Vector3::from_fn(|i, _| space.curves[i].at(rgb[i]));
        let xyz = space.to_xyz * linear;
        let lab = Lab::from_color(Xyz::new(xyz.x, xyz.y, xyz.z));
        [lab.l, lab.a, lab.b]
    }

    fn near(found: [f64; 3], known: [f64; 3]) {
        // The references use D50 as (0.96430, 1, 0.82510), this program (0.96422, 1, 0.82521).
        let tolerance = 0.02;
        assert!(
            found
                .iter()
                .zip(known)
                .all(|(a, b)| (a - b).abs() < tolerance),
            "{found:?} is not {known:?}"
        );
    }

    /// Adobe RGB (1998), version 2005-05, section 4.3.4.2: an exponent of 2.19921875. The primaries' Y are those of its section
    /// 4.3.5.3 (0.29734, 0.62736, 0.07529).
    #[test]
    fn adobe_rgb_is_as_its_specification_says() {
        let space = Space::adobe_rgb(EncodingSource::Profile, "Adobe RGB");
        let half = space.curves[1].at(128.0 / 255.0);
        assert!((half - (128.0_f64 / 255.0).powf(2.199_218_75)).abs() < 1e-12);
        let space = space.encode(255).unwrap();
        assert!((f64::from(space.tables[2][128]) - 0.219_638).abs() < 1e-6);
        // Y hardly moves between the whites: Bradford from D65 to D50 changes these by less than 0.02.
        let y = space.to_xyz.row(1);
        for (seen, is) in y.iter().zip([0.297_34, 0.627_36, 0.075_29]) {
            assert!((seen - is).abs() < 0.02, "{y}");
        }
    }

    /// CIELAB (D50, Bradford) with the exact matrices of CSS Color 4, computed with colour-science 0.4.7.
    #[test]
    fn srgb_colours_have_their_published_lab() {
        let srgb = || Space::srgb(EncodingSource::AssumedSrgb, "sRGB");
        let hex = |r: u8, g: u8, b: u8| [r, g, b].map(|it| f64::from(it) / 255.0);
        near(lab(srgb(), hex(255, 0, 0)), [54.2905, 80.8049, 69.8910]);
        near(lab(srgb(), hex(0, 255, 0)), [87.8185, -79.2711, 80.9946]);
        near(lab(srgb(), hex(0, 0, 255)), [29.5683, 68.2874, -112.0297]);
        near(
            lab(srgb(), hex(0x73, 0x52, 0x44)),
            [38.2232, 12.7670, 13.9707],
        );
        near(
            lab(srgb(), hex(0xC6, 0x5D, 0x06)),
            [52.3117, 40.0310, 60.1009],
        );
        near(lab(srgb(), hex(0x80, 0x80, 0x80)), [53.5850, 0.0, 0.0]);
    }

    /// CIELAB (D50, Bradford) of Display P3 colours, computed with colour-science 0.4.7.
    #[test]
    fn display_p3_colours_have_their_published_lab() {
        let p3 = || Space::of_code_points(12, 13).unwrap();
        near(lab(p3(), [1.0, 0.0, 0.0]), [56.2078, 94.4644, 98.8921]);
        near(lab(p3(), [0.5, 0.3, 0.2]), [38.6432, 25.2740, 28.8463]);
    }

    /// The matrix to XYZ relative to D65 as colour-science 0.4.7 prints it (five digits).
    #[test]
    fn adobe_rgb_has_its_published_matrix() {
        let adapted = Space::adobe_rgb(EncodingSource::Stated, "Adobe RGB").to_xyz;
        let found = adapt(Cones::Bradford, D50, D65).unwrap() * adapted;
        #[rustfmt::skip]
        let printed = Matrix::new(
            0.57667, 0.18556, 0.18823,
            0.29734, 0.62736, 0.07529,
            0.02703, 0.07069, 0.99134,
        );
        assert!((found - printed).abs().max() < 6e-6, "{found}");
    }

    #[test]
    fn white_is_the_white_of_the_program() {
        for space in [
            Space::srgb(EncodingSource::AssumedSrgb, ""),
            Space::of_code_points(12, 13).unwrap(),
            Space::adobe_rgb(EncodingSource::Stated, ""),
        ] {
            let white = space.to_xyz * nalgebra::Vector3::from_element(1.0);
            assert!(
                (white - nalgebra::Vector3::from(D50)).norm() < 1e-12,
                "{white}"
            );
        }
    }
}
