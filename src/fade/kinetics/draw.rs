//! What else the points could be from: draws of a model's shape and change.

use super::REACH;
use super::data::Data;
use super::fit::{self, Fit};
use super::ray::Ray;
use super::shape::Shape;
use crate::colour::{difference, uncertainty};
use nalgebra::{Matrix3, Vector3, Vector4};
use std::f64::consts::TAU;
use std::sync::LazyLock;

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
    /// ΔE00 along it, as far as anything is told.
    pub(super) ray: Ray,
    /// How much it counts; all draws of a model sum to 1.
    pub(super) weight: f64,
}

/// Draws from a fit. `excess`: what all covariances are multiplied by.
pub(super) fn draws(fit: &Fit, data: &Data, excess: f64) -> Vec<Draw> {
    let nodes = nodes(fit, data, excess);
    let all: f64 = nodes.iter().map(|it| it.likelihood).sum();
    let mut upto = Vec::new();
    for it in &nodes {
        upto.push(upto.last().unwrap_or(&0.0) + it.likelihood / all);
    }
    let mut draws: Vec<Draw> = (uncertainty::normals().iter().zip(SCALES.iter()))
        .zip(1..)
        .filter_map(|((normal, scale), index)| {
            // The next coordinate of the same sequence. Multiples of the golden section instead put ends of intervals off by up to
            // 0.14 standard deviations, however many the draws.
            let share = uncertainty::radical_inverse(index, 11);
            let node = nodes.get(
                upto.partition_point(|it| *it < share)
                    .min(nodes.len().saturating_sub(1)),
            )?;
            let change = on_some_scale(&(node.change + node.root * normal), data, scale);
            Some(Draw {
                shape: node.shape,
                change,
                ray: Ray::of(data.start, &change, node.shape.at(REACH)),
                weight: 1.0,
            })
        })
        .collect();
    against_outward_bias(&mut draws, fit, data, excess);
    draws
}

/// A change as it is if the scale is off by as much as a draw says, and as much came through the mask. Both are drawn in logarithms: no error of them turns
/// a change round.
fn on_some_scale(change: &Vector3<f64>, data: &Data, normal: &Vector4<f64>) -> Vector3<f64> {
    if data.scale.amax() <= 0.0 && data.leak <= 0.0 {
        return *change;
    }
    let of_scale = data.scale.component_mul(&normal.xyz());
    change.component_mul(&of_scale.map(|it| (it + data.leak * normal.w).exp()))
}

/// Draws of the scale and of the leak, in further coordinates of the sequence of [`uncertainty::normals`], one for each.
static SCALES: LazyLock<Vec<Vector4<f64>>> = LazyLock::new(|| {
    let draws = uncertainty::normals().iter().zip(1..);
    draws
        .map(|(_, index)| {
            let uniform = |base: u32| uncertainty::radical_inverse(index, base);
            let radius = |base: u32| (-2.0 * uniform(base).ln()).sqrt();
            let (one, angle) = (radius(13), TAU * uniform(17));
            let (other, second) = (radius(19), TAU * uniform(23));
            Vector4::new(
                one * angle.cos(),
                one * angle.sin(),
                other * second.cos(),
                other * second.sin(),
            )
        })
        .collect()
});

/// A shape on the grid of likelihood.
struct Node {
    shape: Shape,
    likelihood: f64,
    /// Best change given the shape, and the root of its covariance.
    change: Vector3<f64>,
    root: Matrix3<f64>,
}

/// The grid of likelihood, laid where the likelihood is; one node for a model without a shape's parameter.
fn nodes(fit: &Fit, data: &Data, excess: f64) -> Vec<Node> {
    let node = |shape: Shape| {
        let g = shape.all(&data.doses);
        let (change, covariance) = data.solve(&g)?;
        let worse = (data.chi_square(&g, &change) - fit.chi_square) / (2.0 * excess);
        let covariance = covariance * excess;
        Some(Node {
            shape,
            // Of the shape alone: what is likely over all changes.
            likelihood: (-worse).exp() * covariance.determinant().max(0.0).sqrt(),
            change,
            root: uncertainty::square_root(&covariance)?,
        })
    };
    let Some((log, range)) = fit.log.zip(Shape::range(fit.model, data.doses[0])) else {
        return node(fit.shape).into_iter().collect();
    };
    let (from, to) = near(fit, log, range, data, excess);
    let mut nodes: Vec<Node> = (0..=STEPS)
        .filter_map(|step| {
            node(Shape::new(
                fit.model,
                from + (to - from) * step as f64 / STEPS as f64,
            ))
        })
        .collect();
    if !nodes.iter().any(|it| it.likelihood > 0.0) {
        nodes = node(fit.shape).into_iter().collect();
    }
    nodes
}

/// The part of a range of shapes where the likelihood is.
fn near(fit: &Fit, log: f64, range: (f64, f64), data: &Data, excess: f64) -> (f64, f64) {
    let (mut from, mut to) = range;
    for _ in 0..CLOSER {
        let step = (to - from) / STEPS as f64;
        let inside: Vec<f64> = fit::profile(fit.model, (from, to), STEPS, data)
            .iter()
            .filter(|it| (it.chi_square - fit.chi_square) / excess < FAR)
            .map(|it| it.log)
            .collect();
        let closer = (
            inside.first().copied().unwrap_or(log).min(log) - step,
            inside.last().copied().unwrap_or(log).max(log) + step,
        );
        let closer = (closer.0.max(from), closer.1.min(to));
        let enough = closer.1 - closer.0 > 0.7 * (to - from);
        (from, to) = closer;
        if enough {
            break;
        }
    }
    (from, to)
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
    let along =
        towards.dot(&(covariance * towards)) * excess / long(&change).max(f64::MIN_POSITIVE);
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
