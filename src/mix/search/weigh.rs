//! A recipe in grams that the balance can show.

use super::Task;
use super::combinations::Spot;
use super::forbidden::Forbidden;
use super::layer::Layer;
use crate::colour::Lab;
use crate::colour::difference::delta_e_2000;
use crate::mix::bands::BANDS;
use nalgebra::Vector3;

/// A recipe in whole steps of the balance.
#[derive(Clone, Debug, PartialEq)]
pub struct Rounded {
    /// Grams of each pigment for the batch, in the order of the recipe.
    pub grams: Vec<f64>,
    /// The loads that they make, grams per 100 g of mixed coating.
    pub loads: Vec<f64>,
    /// Its colour: aged where that is wanted.
    pub lab: Lab,
    /// ΔE00 to the wanted colour.
    pub delta_e: f64,
    /// ΔE00 to the recipe that is not rounded.
    pub moved: f64,
}

/// Steps to either side of the nearest that are tried: what one pigment is off, another can make good.
const STEPS: [f64; 3] = [0.0, -1.0, 1.0];

/// The nearest to the wanted colour of all ways to round that stay where loads may lie; of those equally near the first, the nearest in grams. `None`
/// where there is none: a tested mixture of which the balance's steps are too coarse a part.
pub(super) fn rounded(
    spot: &Spot,
    task: &Task<'_>,
    forbidden: &Forbidden,
    layer: &Layer<BANDS>,
) -> Option<Rounded> {
    let exact = spot.loads() * (task.batch_g / 100.0);
    let count = spot.count;
    let mut best: Option<(f64, Vector3<f64>, Lab)> = None;
    for pattern in 0..STEPS.len().pow(u32::try_from(count).unwrap_or(0)) {
        let mut rest = pattern;
        let mut grams = Vector3::zeros();
        for it in 0..count {
            let step = STEPS[rest % STEPS.len()] * task.balance.step_g();
            rest /= STEPS.len();
            grams[it] = task.balance.nearest(exact[it] + step);
        }
        let loads = grams * (100.0 / task.batch_g);
        let fits = (0..count).all(|it| grams[it] >= task.balance.least_g() - 1e-9)
            && spot.allows(&loads)
            && !forbidden.has(spot.pigments(), &loads);
        if !fits {
            continue;
        }
        let lab = spot.shifted(layer.seen(spot.pigments(), &loads).lab);
        let off = delta_e_2000(lab, task.wanted);
        if best.is_none_or(|it| off < it.0) {
            best = Some((off, grams, lab));
        }
    }
    let (delta_e, grams, lab) = best?;
    Some(Rounded {
        grams: grams.iter().take(count).copied().collect(),
        loads: grams
            .iter()
            .take(count)
            .map(|it| it * 100.0 / task.batch_g)
            .collect(),
        lab,
        delta_e,
        moved: delta_e_2000(lab, spot.shifted(spot.best.seen.lab)),
    })
}
