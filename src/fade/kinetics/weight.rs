//! How much each model counts, and which are ruled out.

use super::ModelName;
use super::fit::Fit;
use crate::library::distribution::chi_square_beyond;

/// Below this chance of so large a χ² under the best model, the points scatter more than their covariances say, or follow none of
/// the models: all covariances are then scaled up.
const TOO_FAR: f64 = 0.05;
/// A model is ruled out if noise makes it fit so much worse than the best one less often than this.
const RULED_OUT: f64 = 0.01;

/// A fitted model with its say.
#[derive(Clone, Debug)]
pub(super) struct Weighted {
    /// The fit.
    pub(super) fit: Fit,
    /// Akaike's criterion, corrected.
    pub(super) aicc: f64,
    /// Share, 0–1.
    pub(super) weight: f64,
    /// Whether the points contradict it.
    pub(super) ruled_out: bool,
}

/// Weighs models by `count` numbers measured; gives them, the likeliest first, and what all covariances are to be multiplied by.
pub(super) fn weigh(fits: Vec<Fit>, count: usize) -> (Vec<Weighted>, f64) {
    let excess = excess(&fits, count);
    let least = fits
        .iter()
        .min_by(|one, other| one.chi_square.total_cmp(&other.chi_square))
        .map_or((0.0, 0), |it| (it.chi_square, it.count()));
    let mut models: Vec<Weighted> = fits
        .into_iter()
        .map(|fit| {
            let worse = (fit.chi_square - least.0) / excess;
            let fewer = least.1.saturating_sub(fit.count()).max(1);
            Weighted {
                aicc: fit.chi_square / excess + penalty(count, fit.count()),
                weight: 0.0,
                ruled_out: chi_square_beyond(worse, fewer) < RULED_OUT,
                fit,
            }
        })
        .collect();
    let best = models
        .iter()
        .map(|it| it.aicc)
        .fold(f64::INFINITY, f64::min);
    for it in &mut models {
        it.weight = ((best - it.aicc) / 2.0).exp();
    }
    let sum: f64 = models.iter().map(|it| it.weight).sum();
    for it in &mut models {
        it.weight /= sum;
    }
    models.sort_by(|one, other| other.weight.total_cmp(&one.weight));
    (models, excess)
}

/// 2K + 2K(K + 1)∕(n − K − 1).
fn penalty(n: usize, k: usize) -> f64 {
    let (n, k) = (n as f64, k as f64);
    2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)
}

/// χ² over its degrees of freedom in the model that fits best, where that is more than noise makes it; else 1.
fn excess(fits: &[Fit], count: usize) -> f64 {
    let chance = |it: &Fit| chi_square_beyond(it.chi_square, count - it.count());
    let best = (fits.iter().filter(|it| it.model != ModelName::None))
        .max_by(|one, other| chance(one).total_cmp(&chance(other)));
    match best {
        Some(it) if chance(it) < TOO_FAR => it.chi_square / (count - it.count()) as f64,
        _ => 1.0,
    }
}
