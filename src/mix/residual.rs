//! Trials against what the others say of them.

use crate::colour::Matrix;
use nalgebra::{DMatrix, DVector, Vector3};

/// What each trial is off from what the others say of it, and that squared in its own standard deviations: about the fit as straight lines.
///
/// # Source
/// Leave-one-out residuals of Gaussian processes: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning*, MIT Press
/// 2006, eq. 5.12, block by block.
pub(super) fn left_out(inverse: &DMatrix<f64>, pull: &DVector<f64>) -> Option<Vec<Off>> {
    (0..pull.len() / 3)
        .map(|i| {
            let precision = inverse.fixed_view::<3, 3>(3 * i, 3 * i).into_owned();
            let pull = pull.fixed_rows::<3>(3 * i).into_owned();
            let spread = precision.try_inverse()?;
            let by = spread * pull;
            Some(Off {
                far: by.dot(&pull),
                by,
                spread,
            })
        })
        .collect()
}

/// What a trial is off from what the others say of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Off {
    pub(super) by: Vector3<f64>,
    /// Covariance that it was thought to have.
    pub(super) spread: Matrix,
    /// Squared, in standard deviations.
    pub(super) far: f64,
}

/// Squared, in standard deviations.
pub(super) fn far(by: &Vector3<f64>, spread: &Matrix) -> Option<f64> {
    Some(by.dot(&(spread.try_inverse()? * by)))
}
