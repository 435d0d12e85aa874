//! Points made ready: those that can be used, in order, with the inverse of their covariance.

use super::Points;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, DVector, Matrix3, SymmetricEigen, Vector3};
use std::cmp::Ordering;

/// No coordinate is known better than this, in Lab: records are rounded to three decimals.
const LEAST_SD: f64 = 3e-4;

/// Nothing in Lab is larger than this, be it a colour, a change, or a variance: a hundred times what can be.
const MOST: f64 = 1e4;
/// Doses are less than this, and more than one over it.
const MOST_DOSE: f64 = 1e30;
/// Doses nearer than this, as a fraction of the furthest, are one exposure.
const ALIKE: f64 = 1e-6;

/// What all models are fitted to.
#[derive(Clone, Debug)]
pub(super) struct Data {
    /// The colour that changes.
    pub(super) start: Lab,
    /// Furthest dose.
    pub(super) last: f64,
    /// Doses over the furthest, in order: 0 < it ≤ 1.
    pub(super) doses: Vec<f64>,
    /// Each point's change and its covariance, what all share included.
    pub(super) alone: Vec<(Vector3<f64>, Matrix)>,
    /// Exposures: doses that differ.
    pub(super) exposures: usize,
    /// Relative standard uncertainty of the scale of all changes.
    pub(super) scale: Vector3<f64>,
    /// The same of all coordinates alike.
    pub(super) leak: f64,
    /// Changes of L*, a*, b*, point by point.
    changes: DVector<f64>,
    /// Inverse of the covariance of `changes`.
    precision: DMatrix<f64>,
    /// `precision` block by block, row by row of points.
    blocks: Vec<Matrix3<f64>>,
    /// `precision` times `changes`.
    weighted: Vec<Vector3<f64>>,
}

impl Data {
    /// Leaves out points that can't be used; `None` if fewer than two exposures are left, or the covariance can't be inverted.
    pub(super) fn new(points: &Points) -> Option<Self> {
        let start = points.start;
        let mut used: Vec<_> = points
            .points
            .iter()
            .filter(|it| {
                let numbers = it.change.iter().chain(it.covariance.iter());
                it.dose > 1.0 / MOST_DOSE && it.dose < MOST_DOSE && numbers.into_iter().all(usable)
            })
            .collect();
        let known = [start.l, start.a, start.b];
        if !known
            .iter()
            .chain(points.shared.iter())
            .chain(&points.scale)
            .chain(std::iter::once(&points.leak))
            .all(usable)
        {
            return None;
        }
        used.sort_by(|one, other| {
            let change = || one.change.partial_cmp(&other.change);
            (one.dose.total_cmp(&other.dose)).then_with(|| change().unwrap_or(Ordering::Equal))
        });
        let last = used.last()?.dose;
        let doses: Vec<f64> = used.iter().map(|it| it.dose / last).collect();
        let apart = doses.windows(2).filter(|it| it[1] - it[0] > ALIKE).count();
        if apart == 0 {
            return None;
        }
        let shared = floored(&points.shared, 0.0)?;
        let n = 3 * used.len();
        let mut alone = Vec::new();
        let mut covariance = DMatrix::zeros(n, n);
        for (i, one) in used.iter().enumerate() {
            let own = floored(&one.covariance, LEAST_SD.powi(2))?;
            alone.push((one.change.into(), shared + own));
            for j in 0..used.len() {
                let block = if i == j { shared + own } else { shared };
                covariance
                    .fixed_view_mut::<3, 3>(3 * i, 3 * j)
                    .copy_from(&block);
            }
        }
        let precision = covariance.cholesky()?.inverse();
        let precision = (&precision + precision.transpose()) / 2.0;
        let changes = DVector::from_iterator(n, used.iter().flat_map(|it| it.change));
        let pairs = (0..used.len()).flat_map(|i| (0..used.len()).map(move |j| (3 * i, 3 * j)));
        let blocks = pairs
            .map(|(i, j)| precision.fixed_view::<3, 3>(i, j).into_owned())
            .collect();
        let weighted = &precision * &changes;
        let weighted = (0..used.len())
            .map(|i| weighted.fixed_rows::<3>(3 * i).into_owned())
            .collect();
        Some(Self {
            start,
            last,
            doses,
            alone,
            exposures: apart + 1,
            scale: points.scale.into(),
            leak: points.leak,
            changes,
            precision,
            blocks,
            weighted,
        })
    }

    /// Numbers measured: three a point.
    pub(super) fn count(&self) -> usize {
        self.changes.len()
    }

    /// Σ `f_i` `P_ij` `g_j`: what courses `f` and `g` of a change have in common.
    pub(super) fn between(&self, f: &[f64], g: &[f64]) -> Matrix3<f64> {
        let mut sum = Matrix3::zeros();
        for (f, row) in f.iter().zip(self.blocks.chunks(g.len())) {
            for (g, block) in g.iter().zip(row) {
                sum += block * (f * g);
            }
        }
        sum
    }

    /// Generalised least squares: the change that, times the course `g`, fits the points best, and its covariance.
    ///
    /// # Source
    /// A. C. Aitken, *Proc. R. Soc. Edinb.* 55 (1936) 42–48.
    pub(super) fn solve(&self, g: &[f64]) -> Option<(Vector3<f64>, Matrix3<f64>)> {
        let right: Vector3<f64> = g.iter().zip(&self.weighted).map(|(g, q)| q * *g).sum();
        let covariance = self.between(g, g).cholesky()?.inverse();
        let change = covariance * right;
        (change
            .iter()
            .chain(covariance.iter())
            .all(|it| it.is_finite()))
        .then_some((change, covariance))
    }

    /// What the points differ by from `change` times the course `g`.
    fn residual(&self, g: &[f64], change: &Vector3<f64>) -> DVector<f64> {
        let mut residual = self.changes.clone();
        for (i, g) in g.iter().enumerate() {
            let mut row = residual.fixed_rows_mut::<3>(3 * i);
            row -= change * *g;
        }
        residual
    }

    /// χ² of the points about `change` times the course `g`.
    pub(super) fn chi_square(&self, g: &[f64], change: &Vector3<f64>) -> f64 {
        let residual = self.residual(g, change);
        residual.dot(&(&self.precision * &residual)).max(0.0)
    }

    /// How χ² falls where the course moves by `slope`: −½ dχ².
    pub(super) fn fall(&self, g: &[f64], slope: &[f64], change: &Vector3<f64>) -> f64 {
        let weighted = &self.precision * self.residual(g, change);
        (slope.iter().enumerate())
            .map(|(i, slope)| slope * change.dot(&weighted.fixed_rows::<3>(3 * i)))
            .sum()
    }
}

fn usable(it: &f64) -> bool {
    it.abs() < MOST
}

/// The nearest covariance whose variances are at least `least`, in every direction.
fn floored(covariance: &Matrix, least: f64) -> Option<Matrix> {
    let symmetric = (covariance + covariance.transpose()) / 2.0;
    let eigen = SymmetricEigen::try_new(symmetric, f64::EPSILON, 1000)?;
    // A floor of the largest, too: what lies below it is rounding.
    let largest = eigen.eigenvalues.amax();
    let values = eigen
        .eigenvalues
        .map(|it| it.max(least).max(largest * 1e-12));
    let axes = eigen.eigenvectors;
    Some(axes * Matrix::from_diagonal(&values) * axes.transpose())
}
