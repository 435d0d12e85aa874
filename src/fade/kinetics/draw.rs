//! What else the points could be from: draws of a model's shape and change.

use super::data::Data;
use super::fit::{self, Fit, Profile};
use super::shape::Shape;
use crate::colour::{difference, uncertainty};
use nalgebra::{Matrix3, Vector3};

/// Steps of the grid of likelihood, laid where the likelihood is.
const STEPS: usize = 60;
/// The grid is laid where χ² is less than this above its least: what is beyond has 10⁻⁴ of the likelihood.
const FAR: f64 = 18.0;
/// Times that the grid is laid closer.
const CLOSER: usize = 3;

/// A course that the points could be from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Draw {
    /// Its shape.
    pub(super) shape: Shape,
    /// Change at the furthest dose.
    pub(super) change: Vector3<f64>,
    /// How much it counts; all draws of a model sum to 1.
    pub(super) weight: f64,
}

/// Draws from a fit. `excess`: what all covariances are multiplied by.
pub(super) fn draws(fit: &Fit, data: &Data, excess: f64) -> Vec<Draw> {
    let grid = grid(fit, data, excess);
    let normals = uncertainty::normals();
    let mut draws: Vec<Draw> = normals
        .iter()
        .enumerate()
        .filter_map(|(index, normal)| {
            let shape = grid.as_ref().map_or(fit.shape, |grid| {
                Shape::new(fit.model, pick(grid, evenly(index)))
            });
            let (change, covariance) = data.solve(&shape.all(&data.doses))?;
            let root = uncertainty::square_root(&(covariance * excess))?;
            Some(Draw { shape, change: change + root * normal, weight: 1.0 })
        })
        .collect();
    against_outward_bias(&mut draws, fit, data, excess);
    draws
}

/// Numbers that fill 0–1 evenly, in an order unlike that of the normal vectors: multiples of the golden section.
fn evenly(index: usize) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    ((index as f64 + 0.5) * GOLDEN).fract()
}

/// Shapes and the likelihood up to each, from 0 to 1.
type Grid = Vec<(f64, f64)>;

fn grid(fit: &Fit, data: &Data, excess: f64) -> Option<Grid> {
    let bounds = Shape::range(fit.model, data.doses[0])?;
    let mut range = bounds;
    let mut profile = Vec::new();
    for _ in 0..=CLOSER {
        profile = fit::profile(fit.model, range, STEPS, data);
        let near: Vec<f64> = profile
            .iter()
            .filter(|it| (it.chi_square - fit.chi_square) / excess < FAR)
            .map(|it| it.log)
            .collect();
        let step = (range.1 - range.0) / STEPS as f64;
        let (from, to) = (
            near.first().copied().or(fit.log)? - step,
            near.last().copied().or(fit.log)? + step,
        );
        let closer = (from.max(range.0), to.min(range.1));
        if closer.1 - closer.0 > 0.7 * (range.1 - range.0) {
            break;
        }
        range = closer;
    }
    let likelihood = |it: &Profile| {
        ((fit.chi_square - it.chi_square) / (2.0 * excess)).exp() * it.room.max(0.0).sqrt()
    };
    let mut sum = 0.0;
    let mut grid = vec![(profile.first()?.log, 0.0)];
    for pair in profile.windows(2) {
        sum += (likelihood(&pair[0]) + likelihood(&pair[1])) / 2.0;
        grid.push((pair[1].log, sum));
    }
    if !(sum > 0.0 && sum.is_finite()) {
        return None;
    }
    for it in &mut grid {
        it.1 /= sum;
    }
    Some(grid)
}

/// The shape below which lies this share of the likelihood.
fn pick(grid: &Grid, share: f64) -> f64 {
    let above = grid.partition_point(|it| it.1 < share).clamp(1, grid.len() - 1);
    let ((from, low), (to, high)) = (grid[above - 1], grid[above]);
    if high > low {
        from + (to - from) * ((share - low) / (high - low)).clamp(0.0, 1.0)
    } else {
        to
    }
}

/// Noise lengthens a change, and draws about what was measured lengthen it once more. Weights that fall with the length undo both, to
/// first order: the prior that makes intervals of a length hold it as often as they say is flat in the length, not in the vector.
///
/// With variance λ along the change and t across it, in the metric of ΔE00, both together lengthen ψ by t ∕ ψ; a weight ψ⁻ᵃ
/// shortens it by a λ ∕ ψ. So a = t ∕ λ, which is 2 where noise is alike in all directions.
///
/// # Source
/// C. Stein, *Ann. Math. Statist.* 30 (1959) 877–880 (the length of a normal mean); R. Tibshirani, *Biometrika* 76 (1989) 604–608
/// (priors for which intervals hold). The exponent for unlike directions is our own first order.
fn against_outward_bias(draws: &mut [Draw], fit: &Fit, data: &Data, excess: f64) {
    let metric = difference::local_metric(data.start);
    let Some((change, covariance)) = data.solve(&fit.shape.all(&data.doses)) else {
        return;
    };
    let noise: Matrix3<f64> = covariance * excess * metric;
    let long = |it: &Vector3<f64>| it.dot(&(metric * it)).max(0.0);
    let towards = metric * change;
    let along = towards.dot(&(covariance * towards)) * excess / long(&change).max(f64::MIN_POSITIVE);
    let exponent = ((noise.trace() - along) / along).clamp(0.0, MOST_EXPONENT);
    // Near no change at all the weight has no limit; a tenth of the noise is as good as none.
    let least = noise.trace() * 0.01;
    for it in draws.iter_mut() {
        it.weight = (long(&it.change).max(least) / noise.trace()).powf(-exponent / 2.0);
    }
    let sum: f64 = draws.iter().map(|it| it.weight).sum();
    for it in draws.iter_mut() {
        it.weight /= sum;
    }
}

/// A change whose direction is known badly and length well says little of its length: no larger exponent than this.
const MOST_EXPONENT: f64 = 4.0;
