//! What the coating itself absorbs, where controls tell.

use super::bands::Spectrum;
use super::directed;
use super::ground::within;
use super::solve::vector;
use super::trial::Trial;
use std::collections::BTreeMap;

/// Controls on one ground whose amounts differ by less than this factor tell nothing.
const APART: f64 = 1.4;
/// Squared distance of two colours in their standard deviations that chance exceeds in 5 % of cases.
const DIFFERENT: f64 = 7.81;

/// By gram of coating and square metre, from controls of clearly different amounts on one ground whose colours differ beyond their uncertainty;
/// `None` where there are none: what the coating absorbs is then in the ground. Two grounds with one amount don't tell: each is unknown
/// itself. Scattering is taken as nil.
pub(super) fn absorption(trials: &[Trial]) -> Option<Spectrum> {
    let mut by_ground: BTreeMap<&str, Vec<&Trial>> = BTreeMap::new();
    for it in trials.iter().filter(|it| it.pigments.is_empty()) {
        by_ground.entry(&it.ground).or_default().push(it);
    }
    let found: Vec<Spectrum> = by_ground.values().filter_map(|it| of_ground(it)).collect();
    let n = found.len() as f64;
    (n > 0.0).then(|| std::array::from_fn(|band| found.iter().map(|it| it[band]).sum::<f64>() / n))
}

/// From the least and the most of the coating.
fn of_ground(controls: &[&Trial]) -> Option<Spectrum> {
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
    Some(std::array::from_fn(|band| {
        f64::max((thin[band] / thick[band]).ln() / each, 0.0)
    }))
}
