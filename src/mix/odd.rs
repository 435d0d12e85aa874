//! Films that go their own way: by how much, and what is farther off than even such films are.
//!
//! A trial that is off from what the others say of it is wrong, or the film does what the model doesn't know. Films do that smoothly: coats that are alike do it
//! alike. So a trial is wrong only where a smooth error of films as large as [`ODD`] wouldn't explain it; what the others are off by tells how large that
//! error is with their pigment, and predictions near them take it over.

use super::doubt::{ANY, Place, alike};
use super::residual::{Off, left_out};
use super::solve::Solved;
use nalgebra::{DMatrix, DVector, Matrix3};

/// The largest error of films in L*, a* and b* each, one standard deviation. Of measured watercolours and oil paints (`benches/mix/open`) all that was taken
/// for wrong without it were films that go their own way; study shelves have no wrong trials, and loads are a little nearer with any (1.24 and 1.25 ΔE00
/// in place of 1.24 and 1.31, `cargo bench --profile dev --bench mix -- 12 94000000 study`, and 94500000).
const ODD: f64 = 5.0;
/// How many sizes are tried, from [`ANY`] to [`ODD`], by equal ratios.
const SIZES: u32 = 9;

/// Errors of a pigment's films, over its trials.
pub(super) struct Field {
    /// Covariance of what trials are off by, with films' errors of [`ANY`].
    whole: DMatrix<f64>,
    /// What they are off by.
    off: DVector<f64>,
    /// How alike trials are, block by block.
    alike: DMatrix<f64>,
}

impl Field {
    /// Of trials as they were explained; `None` only if their covariance is none.
    pub(super) fn of(
        solved: &Solved,
        places: &[Place],
        most: &dyn Fn(&str) -> f64,
    ) -> Option<Self> {
        let whole = solved.inverse.clone().cholesky()?.inverse();
        let mut alike_by = DMatrix::zeros(whole.nrows(), whole.ncols());
        for (i, one) in places.iter().enumerate() {
            for (j, other) in places.iter().enumerate() {
                let block = Matrix3::identity() * alike(one, other, most);
                (alike_by.fixed_view_mut::<3, 3>(3 * i, 3 * j)).copy_from(&block);
            }
        }
        Some(Self {
            off: &whole * &solved.pull,
            alike: alike_by,
            whole,
        })
    }

    /// With errors of another size.
    fn with(&self, any: f64) -> DMatrix<f64> {
        &self.whole + &self.alike * (any.powi(2) - ANY.powi(2))
    }

    /// What each trial is off from what the others say of it if films err as much as they can.
    pub(super) fn left_out(&self) -> Option<Vec<Off>> {
        let inverse = self.with(ODD).cholesky()?.inverse();
        left_out(&inverse, &(&inverse * &self.off))
    }

    /// The likeliest size of films' errors, between [`ANY`] and [`ODD`].
    ///
    /// # Source
    /// Marginal likelihood of a Gaussian process: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning*, MIT Press 2006, eq. 5.8;
    /// what is thought of a scale beforehand, 1/scale: H. Jeffreys, *Theory of Probability*, Oxford 1961, 3.1, from memory.
    pub(super) fn amplitude(&self) -> Option<f64> {
        let mut best = (f64::NEG_INFINITY, ANY);
        for step in 0..SIZES {
            let any = ANY * (ODD / ANY).powf(f64::from(step) / f64::from(SIZES - 1));
            let whole = self.with(any).cholesky()?;
            let far = self.off.dot(&whole.solve(&self.off));
            let likely = -(far + whole.ln_determinant()) / 2.0 - any.ln();
            if likely > best.0 {
                best = (likely, any);
            }
        }
        Some(best.1)
    }
}
