//! The colour tags: what a maker finds when it measures a camera under two lights (DNG 1.4, chapter 6, "Mapping Camera Color
//! Space to CIE XYZ Space").

use crate::camera::{WEAKNESS, balanced_weights, fit_matrix};
use crate::colorimetry::{adapt, d50_white, xyz_under};
use crate::develop::ICC_D50;
use crate::random::{normal, stream};
use crate::raw::SensorImage;
use crate::spectrum::{Spectrum, illuminant};
use nalgebra::{Matrix3, Vector3};

use super::{DngSpec, Illuminants};

/// Gains before conversion to numbers that the reference camera doesn't have.
const ANALOG_BALANCE: [f64; 3] = [1.25, 1.0, 0.8];

/// The reference camera's filters leak otherwise into each other than this one's: its values from this one's.
const LEAK: [[f64; 3]; 3] = [[0.97, 0.03, 0.0], [0.012, 1.01, 0.02], [0.0, 0.025, 1.02]];

/// What was found under one light.
pub(super) struct Calibration {
    /// EXIF's number of the light.
    pub light: u16,
    /// XYZ to reference camera.
    pub colour: Matrix3<f64>,
    /// Balanced reference camera to XYZ under D50.
    pub forward: Matrix3<f64>,
    /// Reference camera to this one, before its analogue gains.
    pub unit: Matrix3<f64>,
}

/// What was found of a camera.
pub(super) struct Colour {
    pub calibrations: Vec<Calibration>,
    pub analog_balance: [f64; 3],
}

impl Colour {
    pub(super) fn of(image: &SensorImage, spec: &DngSpec) -> Self {
        let analog_balance = if spec.calibration {
            ANALOG_BALANCE
        } else {
            [1.0; 3]
        };
        let scale = |from: [Spectrum; 3]| -> [Spectrum; 3] {
            std::array::from_fn(|c| from[c].map(|it| it / (WEAKNESS[c] * analog_balance[c])))
        };
        let own = image.truth.spec.camera.id.sensitivities();
        let sibling = spec.unit.map_or(own, |seed| sibling(&own, seed));
        let (own, sibling) = (scale(own), scale(sibling));
        let lights: &[(&str, u16)] = match spec.illuminants {
            Illuminants::AThenD65 => &[("A", 17), ("D65", 21)],
            Illuminants::D65ThenA => &[("D65", 21), ("A", 17)],
            Illuminants::D65 => &[("D65", 21)],
        };
        let calibrations = lights
            .iter()
            .map(|(name, number)| {
                let light = illuminant(name).expect("in the table");
                calibration(&own, &sibling, &light, *number, spec.calibration)
            })
            .collect();
        Self {
            calibrations,
            analog_balance,
        }
    }

    /// What was found under D65, which is always among the lights.
    pub(super) fn in_daylight(&self) -> &Calibration {
        let mut found = self.calibrations.iter();
        found.find(|it| it.light == 21).expect("D65")
    }
}

/// Another unit of the same make: filters a little elsewhere and a little weaker or stronger.
fn sibling(own: &[Spectrum; 3], seed: u64) -> [Spectrum; 3] {
    let mut rng = stream(seed, 0x51_b1_17);
    own.each_ref().map(|it| {
        let shift = normal(&mut rng, 1.5);
        let strength = 1.0 + normal(&mut rng, 0.02);
        Spectrum::from_nm(|nm| strength * it.at(nm - shift))
    })
}

fn calibration(
    own: &[Spectrum; 3],
    sibling: &[Spectrum; 3],
    light: &Spectrum,
    number: u16,
    calibrated: bool,
) -> Calibration {
    let answer = |to: &[Spectrum; 3]| Vector3::from(to.each_ref().map(|it| it.dot(light)));
    let (reference, unit) = if calibrated {
        let leak = Matrix3::from_fn(|r, c| LEAK[r][c]);
        let reference = LEAK.map(|row| {
            let mut sum = Spectrum::flat(0.0);
            for (share, part) in row.iter().zip(sibling) {
                sum = sum.zip(part, |a, b| a + share * b);
            }
            sum
        });
        // A factory sees one white in one light: it knows channel by channel how the units differ.
        let gains = answer(own).component_div(&answer(sibling));
        let unleak = leak.try_inverse().expect("leaks are small");
        (reference, Matrix3::from_diagonal(&gains) * unleak)
    } else {
        (*sibling, Matrix3::identity())
    };
    let fit = fit_matrix(&balanced_weights(&reference, light));
    let white = answer(&reference);
    let to_light = adapt(&d50_white(), &xyz_under(&Spectrum::flat(1.0), light));
    let balance = Matrix3::from_diagonal(&white.map(|it| 1.0 / it));
    let colour = (to_light * fit * balance)
        .try_inverse()
        .expect("three filters span the colours");
    // By the scale of a matrix nothing changes; makers let D50's largest value be 1 (common practice, no source).
    let largest = (colour * Vector3::from(ICC_D50)).max();
    Calibration {
        light: number,
        colour: colour / largest,
        forward: adapt(&d50_white(), &Vector3::from(ICC_D50)) * fit,
        unit,
    }
}

/// A matrix's values as tags have them, row by row.
pub(super) fn by_rows(matrix: &Matrix3<f64>) -> Vec<f64> {
    matrix.transpose().iter().copied().collect()
}
