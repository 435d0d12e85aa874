//! Masked halves that moved on their own: heat, a mask that leaked, damage. Each is read by a correction that all others carry, so that it stands out.

use super::difference::{colour, lab};
use super::history::Exposure;
use crate::colour::{Lab, Matrix, difference};
use crate::sample::float;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// How the masked halves of one exposure stand to what they were.
#[derive(Clone, Debug, Default)]
pub(super) struct Moves {
    /// By patch: ΔE00 of the masked half to its colour at dose 0, for those that moved on their own.
    pub(super) own: BTreeMap<String, f64>,
    /// Standard deviation, in each direction of ΔE00's metric, by which a correction that doesn't know a half misses it.
    pub(super) usual: f64,
    /// Whether other masked halves carried the scale at all.
    pub(super) carried: bool,
}

/// Median of the length of a vector with three normal coordinates, over their standard deviation (Maxwell's distribution).
const MEDIAN_LENGTH: f64 = 1.5382;
/// A masked half that stayed is this many standard deviations off in one of 3,000 cases (Maxwell's distribution at 4.3).
const BEYOND: f64 = 4.3;
/// ΔE00 below which nothing is called a move, however quiet the others are: what most observers can see.
const LEAST: f64 = 0.8;
/// Fewest masked halves among which one stands out.
const ENOUGH: usize = 6;

/// `start` is the colour of each masked half at dose 0.
pub(super) fn of(exposure: &Exposure<'_>, start: &BTreeMap<&str, Vector3<f64>>) -> Moves {
    let carried = (exposure.photos.iter()).all(|it| it.photo.settings.masked.is_some());
    if !carried {
        return Moves::default();
    }
    let moves: Vec<(&str, f64)> = start
        .iter()
        .filter_map(|(patch, before)| {
            let pairs = exposure.pairs(patch);
            let mut sum = Vector3::zeros();
            for it in &pairs {
                sum += colour(it.masked)?;
            }
            let now = sum / float(pairs.len().max(1));
            (!pairs.is_empty()).then(|| (*patch, length(before, &(now - before))))
        })
        .collect();
    let mut lengths: Vec<f64> = moves.iter().map(|it| it.1).collect();
    lengths.sort_by(f64::total_cmp);
    let usual = lengths
        .get(lengths.len() / 2)
        .map_or(0.0, |it| it / MEDIAN_LENGTH);
    let limit = (BEYOND * usual).max(LEAST);
    let own = moves
        .iter()
        .filter(|it| it.1 > limit && moves.len() >= ENOUGH);
    Moves {
        own: own.map(|(patch, it)| ((*patch).to_owned(), *it)).collect(),
        usual,
        carried: moves.len() >= ENOUGH,
    }
}

/// Length of a small difference in ΔE00's metric at a colour.
fn length(at: &Vector3<f64>, d: &Vector3<f64>) -> f64 {
    d.dot(&(difference::local_metric(lab(at)) * d))
        .max(0.0)
        .sqrt()
}

impl Moves {
    /// Covariance of a colour that the other halves alone carry from dose 0.
    pub(super) fn covariance(&self, at: Lab) -> Matrix {
        let like = difference::local_metric(at).try_inverse();
        like.unwrap_or_else(Matrix::identity) * self.usual.powi(2)
    }
}
