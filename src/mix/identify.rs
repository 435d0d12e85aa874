//! What the trials determine of a pigment, and what a guess stands in for.

use super::bands::BANDS;
use super::group::Group;
use super::model::Known;
use super::prior::Over;
use super::sight::Slopes;
use nalgebra::DVector;

/// A level is known when trials leave less than this of the spread that it had before.
const NARROWED: f64 = 0.4;

/// Absorption and scattering each, or their ratio alone. Where trials hide the ground, both levels stay open together; a pigment that
/// hardly scatters has its absorption known, a white its scattering, and either is enough to say how much of it hides. Not where trials tell
/// that from one side only.
pub(super) fn known(group: &Group, slot: usize) -> Known {
    let prior = group.priors[slot];
    if !group.amounts[slot].moves.is_empty() {
        return Known::Ratio;
    }
    let of_k = left(group, slot, &prior.k, |it| &it.k);
    let of_s = left(group, slot, &prior.s, |it| &it.s);
    if f64::min(of_k, of_s) < NARROWED {
        Known::Both
    } else {
        Known::Ratio
    }
}

/// Whether absorption is known by itself: of a white that hides only its scattering is.
pub(super) fn absorption(group: &Group, slot: usize) -> bool {
    let of_k = left(group, slot, &group.priors[slot].k, |it| &it.k);
    of_k < NARROWED && group.amounts[slot].moves.is_empty()
}

/// Share of the level's spread that the trials leave, 0–1.
fn left(
    group: &Group,
    slot: usize,
    prior: &Over,
    of: impl Fn(&super::sight::ByPigment) -> &Slopes,
) -> f64 {
    let before = prior.sum() / (BANDS * BANDS) as f64;
    let mut told = DVector::zeros(3 * group.data.len());
    for (i, datum) in group.data.iter().enumerate() {
        for ((part, _), reach) in datum.parts.iter().zip(&group.solved.reach[i]) {
            if *part == slot {
                let mut view = told.fixed_rows_mut::<3>(3 * i);
                view += of(reach).column_sum() / BANDS as f64;
            }
        }
    }
    let after = before - told.dot(&(&group.solved.inverse * &told));
    (after.max(0.0) / before).sqrt()
}
