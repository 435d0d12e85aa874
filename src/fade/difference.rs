//! What lies between the halves of a patch at one dose, over its photos: mean and covariance.
//!
//! The constants rest on simulated exposure series of the study split: `cargo bench --bench fade -- 12 91000000 study changes` prints how often
//! truths lie within what is stated, by the size of the change.

use super::history::Pair;
use crate::colour::{Lab, Matrix};
use crate::correct::ComponentName;
use crate::record::Reading;
use crate::sample::float;
use nalgebra::Vector3;

/// The exposed half less the masked half.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Difference {
    /// In L*, a*, b*.
    pub(super) lab: Vector3<f64>,
    pub(super) covariance: Matrix,
    /// Mean colours of the halves, masked first.
    pub(super) halves: [Vector3<f64>; 2],
    /// Mean unevenness of the exposed half less that of the masked half, ΔE00.
    pub(super) unevenness: Option<f64>,
    pub(super) photos: usize,
}

/// Share of a photo's doubt about the light on a region that remains between two halves side by side: the light's polynomial is off by nearly
/// the same on both.
const LIGHT_BETWEEN_HALVES: f64 = 0.1;
/// By what factor a half's mean is noisier than its blocks say by themselves: JPEG's coarse chroma, and sharpening, err alike over many blocks.
const NOISE_IS_COARSE: f64 = 2.5;
/// Standard deviations of L*, a*, b* that are never undercut: samples that don't lie on the very same spots, compression.
const LEAST: [f64; 3] = [0.06, 0.17, 0.17];

/// Standard deviation in each coordinate of a difference with a half that is clipped at the bottom: both lose most of the same.
const CLIPPED: f64 = 0.7;

/// None without photos.
pub(super) fn of(pairs: &[Pair<'_>]) -> Option<Difference> {
    if pairs.is_empty() {
        return None;
    }
    let n = float(pairs.len());
    let mut halves = [Vector3::zeros(); 2];
    let mut own = Matrix::zeros();
    let mut unevenness = Some(0.0);
    for pair in pairs {
        for (sum, reading) in halves.iter_mut().zip([pair.masked, pair.exposed]) {
            *sum += colour(reading)? / n;
            own += noise(reading) / (n * n);
        }
        if pair.clipped {
            // The photos of one dose hide the same.
            own += Matrix::from_diagonal_element(CLIPPED * CLIPPED / n);
        }
        let more = |x: f64| Some(pair.exposed.unevenness? - pair.masked.unevenness? + x);
        unevenness = unevenness.and_then(more);
    }
    let lab = halves[1] - halves[0];
    let least = Vector3::from(LEAST);
    let least = Matrix::from_diagonal(&least.component_mul(&least));
    Some(Difference {
        lab,
        covariance: own + least / n,
        halves,
        unevenness: unevenness.map(|it| it / n),
        photos: pairs.len(),
    })
}

/// What a reading has to itself, as far as its other half doesn't share it: noise, and a part of the light. How the coat is uneven is the same at every
/// dose.
fn noise(reading: &Reading) -> Matrix {
    let mut total = Matrix::zeros();
    for it in &reading.components {
        let share = match it.name {
            ComponentName::Noise => NOISE_IS_COARSE,
            ComponentName::Illumination => LIGHT_BETWEEN_HALVES,
            // A broad highlight lies on each half differently.
            ComponentName::Glare => 1.0,
            _ => continue,
        };
        let mut sd = Vector3::from(it.sd_lab) * share;
        total += if it.name == ComponentName::Illumination {
            // More light makes all three grow together, away from black.
            sd.y = sd.y.copysign(reading.a.unwrap_or(1.0));
            sd.z = sd.z.copysign(reading.b.unwrap_or(1.0));
            sd * sd.transpose()
        } else {
            Matrix::from_diagonal(&sd.component_mul(&sd))
        };
    }
    total
}

/// L*, a*, b* as a vector.
pub(super) fn colour(reading: &Reading) -> Option<Vector3<f64>> {
    reading.lab().map(vector)
}

/// L*, a*, b* as a vector.
pub(super) fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}

/// And back.
pub(super) fn lab(it: &Vector3<f64>) -> Lab {
    Lab::new(it.x, it.y, it.z)
}
