//! By what a correction that doesn't know a masked half misses it, exposure by exposure.
//!
//! Halves of like colours are missed alike: what the others show of it is taken off, and what remains counts by how far most halves are missed at that
//! exposure. Simple kriging, with a covariance that falls with the distance of the colours.
//!
//! # Source
//! C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning* (MIT Press 2006), eqs. 5.10–5.12 (prediction of a point left out).

use super::{Seen, about_the_mean};
use crate::sample::float;
use nalgebra::{DMatrix, Vector3};

/// What is seen of a patch at each later exposure, if it is.
#[derive(Clone, Debug)]
pub(super) struct Course<'a> {
    pub(super) patch: &'a str,
    /// Its masked half at dose 0, L*, a*, b*.
    pub(super) start: Vector3<f64>,
    pub(super) seen: Vec<Option<Seen>>,
}

/// An exposure of a patch without what is missed of like colours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    /// What lies between the halves, against dose 0.
    pub(super) between: Vector3<f64>,
    /// The masked half, against dose 0.
    pub(super) masked: Vector3<f64>,
    /// Inverse variances of its L*, a*, b*.
    pub(super) weight: Vector3<f64>,
}

/// Distance in CIELAB over which colours are missed alike, and the share of the variance that is. This and what follows were set on 28 boards of the study
/// split with a leaking mask each, where halves within 5 of each other have four fifths of it in common, 10 to 15 apart a third.
const ALIKE: f64 = 12.0;
const IN_COMMON: f64 = 0.7;
/// Standard deviations at which a half's miss is cut off before others are told by it: it may be a leak of its own.
const MOST: f64 = 3.0;
/// How many halves' worth the board's mean scale holds that of one exposure.
const HELD: f64 = 8.0;
/// Standard deviation that is never undercut.
const LEAST: f64 = 0.05;

/// All courses so told, in order.
pub(super) fn told(courses: &[Course<'_>]) -> Vec<Vec<Told>> {
    let exposures = courses.iter().map(|it| it.seen.len()).max().unwrap_or(0);
    let even = vec![Vector3::repeat(1.0); exposures];
    let scales = scales(&widened(centred(courses, &even)), exposures);
    let weights: Vec<Vector3<f64>> = scales.iter().map(|it| it.map(|it| it.powi(-2))).collect();
    let apart = centred(courses, &weights);
    let mut told: Vec<Vec<Told>> = vec![Vec::new(); courses.len()];
    for (k, scale) in scales.iter().enumerate() {
        let there: Vec<usize> = (0..courses.len())
            .filter(|i| seen_at(&courses[*i], k).is_some())
            .collect();
        let common = common(courses, &there, &apart, k, scale);
        for (i, (of_others, variance)) in there.iter().zip(common) {
            let Some(seen) = seen_at(&courses[*i], k) else {
                continue;
            };
            told[*i].push(Told {
                between: seen.between,
                masked: seen.masked - of_others,
                weight: weights[k] / variance,
            });
        }
    }
    told
}

fn seen_at<'a>(course: &'a Course<'_>, exposure: usize) -> Option<&'a Seen> {
    course.seen.get(exposure)?.as_ref()
}

/// Each masked half at each exposure less its own weighted mean: what is off at every dose says nothing.
fn centred(courses: &[Course<'_>], weights: &[Vector3<f64>]) -> Vec<Vec<Option<Vector3<f64>>>> {
    let one = |course: &Course<'_>| {
        let there = course.seen.iter().zip(weights);
        let there = there.filter_map(|(seen, weight)| Some((seen.as_ref()?.masked, *weight)));
        let (masked, weights): (Vec<_>, Vec<_>) = there.unzip();
        let mut apart = about_the_mean(masked.into_iter(), &weights).into_iter();
        let seen = course.seen.iter();
        seen.map(|it| it.as_ref().and_then(|_| apart.next()))
            .collect()
    };
    courses.iter().map(one).collect()
}

/// What lies about a mean of n values is smaller than what is missed by √((n − 1) ∕ n).
fn widened(apart: Vec<Vec<Option<Vector3<f64>>>>) -> Vec<Vec<Option<Vector3<f64>>>> {
    let one = |course: Vec<Option<Vector3<f64>>>| {
        let n = float(course.iter().flatten().count());
        let wider = (n / (n - 1.0).max(1.0)).sqrt();
        course
            .into_iter()
            .map(|it| it.map(|it| it * wider))
            .collect()
    };
    apart.into_iter().map(one).collect()
}

/// Standard deviations of L*, a*, b* by which halves are missed at each exposure, as most have them.
fn scales(apart: &[Vec<Option<Vector3<f64>>>], exposures: usize) -> Vec<Vector3<f64>> {
    // The median of a normal variable's size is 0.6745 of its standard deviation.
    let of = |all: &mut Vec<f64>| {
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).map_or(0.0, |it| it / 0.6745)
    };
    let sizes = |k: usize, axis: usize| -> Vec<f64> {
        let there = apart.iter().filter_map(|it| it.get(k).copied().flatten());
        there.map(|it| it[axis].abs()).collect()
    };
    let mean =
        Vector3::from_fn(|axis, _| of(&mut (0..exposures).flat_map(|k| sizes(k, axis)).collect()));
    let at = |k: usize| {
        Vector3::from_fn(|axis, _| {
            let mut sizes = sizes(k, axis);
            let n = float(sizes.len());
            let square = (n * of(&mut sizes).powi(2) + HELD * mean[axis].powi(2)) / (n + HELD);
            square.sqrt().max(LEAST)
        })
    };
    (0..exposures).map(at).collect()
}

/// What the others show of each half's miss at an exposure, and the share of its variance that they leave.
fn common(
    courses: &[Course<'_>],
    there: &[usize],
    apart: &[Vec<Option<Vector3<f64>>>],
    exposure: usize,
    scale: &Vector3<f64>,
) -> Vec<(Vector3<f64>, f64)> {
    let n = there.len();
    let covariance = DMatrix::from_fn(n, n, |i, j| {
        let distance = (courses[there[i]].start - courses[there[j]].start).norm();
        let own = if i == j { 1.0 - IN_COMMON } else { 0.0 };
        own + IN_COMMON * (-0.5 * (distance / ALIKE).powi(2)).exp()
    });
    // Its diagonal keeps it from being singular.
    let Some(inverse) = covariance.cholesky().map(|it| it.inverse()) else {
        return vec![(Vector3::zeros(), 1.0); n];
    };
    let misses: Vec<Vector3<f64>> = (there.iter())
        .map(|i| apart[*i][exposure].unwrap_or_default())
        .map(|it| it.component_div(scale).map(|it| it.clamp(-MOST, MOST)))
        .collect();
    (0..n)
        .map(|i| {
            let pulled: Vector3<f64> = (0..n).map(|j| misses[j] * inverse[(i, j)]).sum();
            let variance = 1.0 / inverse[(i, i)];
            // A miss less what remains when it is left out.
            let of_others = misses[i] - pulled * variance;
            (of_others.component_mul(scale), variance)
        })
        .collect()
}
