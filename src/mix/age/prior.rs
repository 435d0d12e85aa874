//! What changes of absorption are likely before any was measured: shapes over the bands, up to one factor.
//!
//! A choice, no source: loss of a colorant is one factor in all bands, everything else is smooth, as absorption bands of pigments and of
//! yellowed binders are.

use super::super::bands::BANDS;
use nalgebra::DMatrix;

/// Standard deviation of what a pigment's factor (its logarithm) has in common in all bands.
const IN_COMMON: f64 = 1.0;
/// The same of what differs between bands.
const BETWEEN_BANDS: f64 = 0.5;
/// Over so many bands (10 nm each) it stays alike.
const ALIKE: f64 = 8.0;
/// Standard deviation of a ground's change (its log odds) to that of the coating's absorption (its optical length): with these a clear
/// coating on wood of middling reflectance changes as much by the one as by the other.
const GROUND: f64 = 4.0;

/// Of a pigment's log factor.
pub(super) fn pigment() -> DMatrix<f64> {
    smooth(BETWEEN_BANDS) + DMatrix::from_element(BANDS, BANDS, IN_COMMON.powi(2))
}

/// Of the coating's optical length, then of the log odds of so many grounds.
pub(super) fn base(grounds: usize) -> DMatrix<f64> {
    let size = BANDS * (1 + grounds);
    let mut all = DMatrix::zeros(size, size);
    for part in 0..=grounds {
        let sd = if part == 0 { 1.0 } else { GROUND };
        (all.view_mut((part * BANDS, part * BANDS), (BANDS, BANDS))).copy_from(&smooth(sd));
    }
    all
}

/// Matérn's covariance of order 3/2, which has a first derivative.
fn smooth(sd: f64) -> DMatrix<f64> {
    DMatrix::from_fn(BANDS, BANDS, |one, other| {
        let apart = 3.0_f64.sqrt() * one.abs_diff(other) as f64 / ALIKE;
        sd.powi(2) * (1.0 + apart) * (-apart).exp()
    })
}
