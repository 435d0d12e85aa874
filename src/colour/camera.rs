//! A sensor's red, green and blue to XYZ, by the matrices that its maker states for one or two lights.
//!
//! The mathematics is that of the DNG specification, its chapter on mapping camera colour to XYZ, from memory; `tests/dng` holds it against
//! colour-hdri, which follows the specification, too.
//! Matrices for two lights are mixed by the reciprocal of the correlated colour temperature of the light that the photo was taken
//! in; that light is known by what the sensor makes of something white.

use super::Matrix;
use super::adaptation::{Cones, matrix as adapt};
use super::temperature;
use super::white::{self, D50};
use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// What a maker states for one light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StatedLight {
    /// Correlated colour temperature of the light, K.
    pub temperature: f64,
    /// XYZ under that light to the values of a camera of this model (`ColorMatrix`).
    pub xyz_to_camera: Matrix,
    /// From the values of the model to those of this very camera (`CameraCalibration`).
    pub calibration: Matrix,
    /// Balanced values to XYZ relative to D50 (`ForwardMatrix`), if stated.
    pub balanced_to_xyz: Option<Matrix>,
}

/// How the values of one photo become colours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraColour {
    /// What is stated for a first light …
    pub light: StatedLight,
    /// … and for a second one, if it is.
    pub other: Option<StatedLight>,
    /// Gains of red, green and blue before the values were written (`AnalogBalance`).
    pub analog_balance: [f64; 3],
    /// What the sensor made of white by the camera's own judgement, green = 1 (`AsShotNeutral`).
    pub as_shot: [f64; 3],
}

/// How often the light is looked for in turns. Common practice, no source.
const TURNS: usize = 30;
/// Chromaticity below which a turn moved nothing.
const SETTLED: f64 = 1e-7;

impl CameraColour {
    /// Matrix from values that were balanced by the as-shot white, and then by `seen`, to XYZ relative to D50: it takes (1, 1, 1) to
    /// the white of the program.
    ///
    /// `seen` is what white is in as-shot balanced values: (1, 1, 1) if the camera's judgement was right. None if there is no white
    /// whose values these could be.
    #[must_use]
    pub fn balanced_to_xyz(&self, seen: [f64; 3]) -> Option<Matrix> {
        let neutral = [0, 1, 2].map(|c| self.as_shot[c] * seen[c]);
        Some(self.to_xyz_d50(neutral)? * Matrix::from_diagonal(&Vector3::from(neutral)))
    }

    /// Matrix from a camera's values to XYZ relative to D50, scaled so that `neutral` has Y = 1.
    #[must_use]
    pub fn to_xyz_d50(&self, neutral: [f64; 3]) -> Option<Matrix> {
        let seen = Vector3::from(neutral);
        let light = self.at(temperature::correlated(self.white(neutral)?));
        let unit = self.unit(&light);
        let model = unit.try_inverse()? * seen;
        if !model.iter().all(|it| it.is_finite() && *it > 0.0) {
            return None;
        }
        let to_xyz = match light.balanced_to_xyz {
            Some(forward) => {
                let balance = Matrix::from_diagonal(&model.map(f64::recip));
                let white = forward * Vector3::from_element(1.0);
                let to_white = Vector3::from(D50).component_div(&white);
                Matrix::from_diagonal(&to_white) * forward * balance * unit.try_inverse()?
            }
            None => {
                let to_xyz = (unit * light.xyz_to_camera).try_inverse()?;
                let white = to_xyz * seen;
                let adapted = adapt(Cones::Bradford, (white / white.y).into(), D50)?;
                adapted * to_xyz / white.y
            }
        };
        to_xyz.iter().all(|it| it.is_finite()).then_some(to_xyz)
    }

    /// Chromaticity of the light whose white has these values. None if there is none.
    #[must_use]
    pub fn white(&self, neutral: [f64; 3]) -> Option<[f64; 2]> {
        let seen = Vector3::from(neutral);
        let mut xy = chromaticity(Vector3::from(D50))?;
        let mut before = xy;
        for _ in 0..TURNS {
            let light = self.at(temperature::correlated(xy));
            let next = (self.unit(&light) * light.xyz_to_camera).try_inverse()? * seen;
            before = xy;
            xy = chromaticity(next)?;
            if (xy[0] - before[0]).hypot(xy[1] - before[1]) < SETTLED {
                return Some(xy);
            }
        }
        // What goes to and fro lies between.
        Some([0, 1].map(|i| (xy[i] + before[i]) / 2.0))
    }

    /// What the sensor makes of the white of a light, green = 1. None if it makes nothing of it.
    #[must_use]
    pub fn neutral_of(&self, [x, y]: [f64; 2]) -> Option<[f64; 3]> {
        let light = self.at(temperature::correlated([x, y]));
        let seen = self.unit(&light) * light.xyz_to_camera * Vector3::from(white::from_xy(x, y));
        let seen: [f64; 3] = (seen / seen.y).into();
        seen.iter()
            .all(|it| it.is_finite() && *it > 0.0)
            .then_some(seen)
    }

    /// From the values of the model to those that were written.
    fn unit(&self, light: &StatedLight) -> Matrix {
        Matrix::from_diagonal(&Vector3::from(self.analog_balance)) * light.calibration
    }

    /// What is stated for a light, mixed from those around it.
    fn at(&self, temperature: f64) -> StatedLight {
        let (one, Some(other)) = (&self.light, &self.other) else {
            return self.light.clone();
        };
        let warm = |it: f64| 1.0 / it;
        let apart = warm(one.temperature) - warm(other.temperature);
        let share = if apart.abs() < 1e-12 {
            1.0
        } else {
            ((warm(temperature) - warm(other.temperature)) / apart).clamp(0.0, 1.0)
        };
        let mix = |a: &Matrix, b: &Matrix| a * share + b * (1.0 - share);
        StatedLight {
            temperature,
            xyz_to_camera: mix(&one.xyz_to_camera, &other.xyz_to_camera),
            calibration: mix(&one.calibration, &other.calibration),
            balanced_to_xyz: match (&one.balanced_to_xyz, &other.balanced_to_xyz) {
                (Some(one), Some(other)) => Some(mix(one, other)),
                (one, other) => one.or(*other),
            },
        }
    }
}

fn chromaticity(xyz: Vector3<f64>) -> Option<[f64; 2]> {
    let sum = xyz.sum();
    let xy = [xyz.x / sum, xyz.y / sum];
    (sum > 0.0 && xyz.y > 0.0 && xy.iter().all(|it| it.is_finite())).then_some(xy)
}
