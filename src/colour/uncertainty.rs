//! From a covariance in CIELAB to an interval in ΔE00.

use super::{Lab, Matrix, difference};
use nalgebra::Vector3;
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Draws of the Monte Carlo.
const DRAWS: u32 = 2048;

/// U95: ΔE00(reading, truth) ≤ this in 95 % of cases, where the truth is normal about the reading with this covariance.
///
/// Monte Carlo with the exact ΔE00 on one fixed set of low-discrepancy draws: the same covariance gives the same figure,
/// on any machine up to the last digits. A covariance that is only semi-definite (or slightly indefinite from rounding) is taken as
/// its nearest semi-definite one. `None` if the colour or the covariance isn't finite.
///
/// # Source
/// JCGM 101:2008 and JCGM 102:2011 (propagation of distributions). The draws: Halton's sequence, *Numer. Math.* 2 (1960) 84–90,
/// made normal by Box & Muller, *Ann. Math. Statist.* 29 (1958) 610–611.
#[must_use]
pub fn u95(lab: Lab, covariance: &Matrix) -> Option<f64> {
    let root = square_root(covariance)?;
    if ![lab.l, lab.a, lab.b].iter().all(|it| it.is_finite()) {
        return None;
    }
    let mut differences: Vec<f64> = NORMALS
        .iter()
        .map(|normal| {
            let d = root * normal;
            difference::delta_e_2000(lab, Lab::new(lab.l + d.x, lab.a + d.y, lab.b + d.z))
        })
        .collect();
    Some(quantile_95(&mut differences))
}

/// A matrix `R` with `R Rᵀ` equal to the covariance; `None` if it isn't finite.
#[must_use]
pub fn square_root(covariance: &Matrix) -> Option<Matrix> {
    if !covariance.iter().all(|it| it.is_finite()) {
        return None;
    }
    let symmetric = (covariance + covariance.transpose()) / 2.0;
    let eigen = symmetric.symmetric_eigen();
    let spread = eigen.eigenvalues.map(|it| it.max(0.0).sqrt());
    Some(eigen.eigenvectors * Matrix::from_diagonal(&spread))
}

/// The 95th percentile, between the two nearest values. Sorts only as far as needed.
fn quantile_95(values: &mut [f64]) -> f64 {
    let rank = 0.95 * (values.len() - 1) as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "below the length"
    )]
    let index = rank as usize;
    let (_, low, above) = values.select_nth_unstable_by(index, f64::total_cmp);
    let high = above.iter().copied().fold(f64::INFINITY, f64::min);
    *low + (rank - index as f64) * (high - *low)
}

/// Standard normal vectors from Halton's sequence in four dimensions, the first point (all zero) left out.
static NORMALS: LazyLock<Vec<Vector3<f64>>> = LazyLock::new(|| {
    (1..=DRAWS)
        .map(|index| {
            let [u, v, s, t] = [2, 3, 5, 7].map(|base| radical_inverse(index, base));
            let (first, second) = ((-2.0 * u.ln()).sqrt(), (-2.0 * s.ln()).sqrt());
            Vector3::new(
                first * (TAU * v).cos(),
                first * (TAU * v).sin(),
                second * (TAU * t).cos(),
            )
        })
        .collect()
});

/// The digits of `index` in `base`, mirrored at the point: 0 < it < 1 for `index` ≥ 1.
fn radical_inverse(mut index: u32, base: u32) -> f64 {
    let (mut value, mut weight) = (0.0, 1.0);
    while index > 0 {
        weight /= f64::from(base);
        value += weight * f64::from(index % base);
        index /= base;
    }
    value
}
