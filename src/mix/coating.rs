//! What the coating itself absorbs, where controls tell.

use super::bands::{BANDS, Spectrum};
use super::directed;
use super::ground::{ByLab, by_lab, within};
use super::prior::nm;
use super::solve::vector;
use super::trial::Trial;
use crate::colour::Matrix;
use crate::colour::uncertainty::square_root;
use nalgebra::DMatrix;
use std::collections::BTreeMap;

/// Controls on one ground whose amounts differ by less than this factor tell nothing.
const APART: f64 = 1.4;
/// Squared distance of two colours in their standard deviations that chance exceeds in 5 % of cases.
const DIFFERENT: f64 = 7.81;

/// What the coating itself absorbs at 400 nm, one standard deviation, where no controls of different amounts tell: square metres per
/// gram. Resins yellow towards the violet; from memory.
const YELLOW: f64 = 0.001;
/// How fast that falls, nm.
const FALL_NM: f64 = 50.0;
/// Less than this is no reflectance by which to divide.
const BLACK: f64 = 1e-6;

/// What the coating absorbs, by gram and square metre.
#[derive(Clone, Debug)]
pub(super) struct Absorption {
    /// From controls of clearly different amounts on one ground whose colours differ beyond their uncertainty; `None` where there are none: what
    /// the coating absorbs is then in the ground. Two grounds with one amount don't tell: each is unknown itself. Scattering is taken as nil.
    pub(super) told: Option<Spectrum>,
    /// What it is off by.
    pub(super) unsure: Unsure,
}

/// What the coating's absorption is off by, band by band: a column for each error, of variance 1 and independent of the others.
pub(super) type Unsure = DMatrix<f64>;

/// As the controls tell.
pub(super) fn absorption(trials: &[Trial]) -> Absorption {
    let mut by_ground: BTreeMap<&str, Vec<&Trial>> = BTreeMap::new();
    for it in trials.iter().filter(|it| it.pigments.is_empty()) {
        by_ground.entry(&it.ground).or_default().push(it);
    }
    let found: Vec<Found> = by_ground.values().filter_map(|it| of_ground(it)).collect();
    if found.is_empty() {
        let yellow = |band: usize| YELLOW * ((400.0 - nm(band)) / FALL_NM).exp();
        return Absorption {
            told: None,
            unsure: DMatrix::from_fn(BANDS, 1, |band, _| yellow(band)),
        };
    }
    let n = found.len() as f64;
    let mut unsure = DMatrix::zeros(BANDS, 6 * found.len());
    for (index, it) in found.iter().enumerate() {
        for (side, by) in it.off.iter().enumerate() {
            unsure
                .fixed_columns_mut::<3>(6 * index + 3 * side)
                .copy_from(&(by / n));
        }
    }
    Absorption {
        told: Some(std::array::from_fn(|band| {
            found.iter().map(|it| it.k[band]).sum::<f64>() / n
        })),
        unsure,
    }
}

/// What one ground's controls tell.
struct Found {
    k: Spectrum,
    /// By what the thin and the thick one are off by.
    off: [ByLab; 2],
}

/// From the least and the most of the coating.
fn of_ground(controls: &[&Trial]) -> Option<Found> {
    let least = controls
        .iter()
        .min_by(|a, b| a.g_per_m2.total_cmp(&b.g_per_m2))?;
    let most = controls
        .iter()
        .max_by(|a, b| a.g_per_m2.total_cmp(&b.g_per_m2))?;
    if most.g_per_m2 < APART * least.g_per_m2 {
        return None;
    }
    let off = vector(most.lab) - vector(least.lab);
    let covariance = most.covariance + least.covariance;
    let far = off.dot(&(covariance.try_inverse()? * off));
    if far < DIFFERENT {
        return None;
    }
    let (thin, thick) = (within(vector(least.lab))?, within(vector(most.lab))?);
    // What one unit of absorption times amount takes away, as a logarithm.
    let each = -directed::clear(1.0).ln() * (most.g_per_m2 - least.g_per_m2);
    let off = [(least, &thin), (most, &thick)].map(|(control, seen)| {
        let by_lab = by_lab(vector(control.lab), seen);
        let mut off = by_lab * square_root(&control.covariance).unwrap_or_else(Matrix::zeros);
        for (mut row, seen) in off.row_iter_mut().zip(seen) {
            row /= each * seen.max(BLACK);
        }
        off
    });
    Some(Found {
        k: std::array::from_fn(|band| f64::max((thin[band] / thick[band]).ln() / each, 0.0)),
        off,
    })
}
