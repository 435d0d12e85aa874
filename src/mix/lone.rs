//! A pigment with one trial alone: how much it scatters is anybody's guess, and how much it absorbs follows from that.
//!
//! Three numbers can't tell both. Straight lines about one guess say nothing of the others: where a film hides at that guess they take all mixtures for
//! known, where it doesn't for as open as can be. So the pigment is fitted once for each of several levels of scattering, each as likely as it was thought
//! before the trial and as the trial makes it; what is predicted is the mean of what these predict, and what they differ by is in its uncertainty.
//!
//! # Source
//! Sum over a grid of one unknown, the rest Gaussian about its likeliest (Laplace): common practice, no source.

use super::bands::Spectrum;
use super::hides::{Amount, Move};
use super::model::Optics;
use super::prior::{LEVELS, Prior, at_level, likely_level};
use super::sight::Sight;
use super::solve::{Datum, Setting, Solved, solve};
use nalgebra::DMatrix;

/// A pigment as its only trial leaves it.
pub(super) struct Lone {
    /// Of the level in the middle of what is likely.
    pub(super) prior: &'static Prior,
    pub(super) solved: Solved,
    /// How the pigment is at all levels.
    pub(super) amount: Amount,
}

/// From one trial of one pigment; `doubt` as [`solve`] has it. `None` where that is no covariance.
pub(super) fn fit(
    coating: &Optics,
    grounds: &[Spectrum],
    data: &[Datum],
    doubt: &dyn Fn(&[Sight]) -> DMatrix<f64>,
) -> Option<Lone> {
    let (mut fits, mut likely): (Vec<Solved>, Vec<f64>) = (Vec::new(), Vec::new());
    for level in 0..LEVELS {
        let setting = Setting {
            coating,
            grounds,
            priors: &[at_level(level)],
        };
        // From one level it isn't far to the next.
        let start = fits
            .last()
            .map(|it| vec![it.pigments[0].with(at_level(level))]);
        let it = solve(setting, data, start, doubt)?;
        likely.push(likely_level(level) + evidence(&it)?);
        fits.push(it);
    }
    let most = likely.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = likely.iter().map(|it| (it - most).exp()).collect();
    let whole: f64 = weights.iter().sum();
    let levels = weights.iter().enumerate();
    let mean = levels.map(|(level, it)| level as f64 * it).sum::<f64>() / whole;
    let middle = (0..LEVELS).min_by(|a, b| {
        let far = |it: &usize| (*it as f64 - mean).abs();
        far(a).total_cmp(&far(b))
    })?;
    let center = fits[middle].pigments[0].logs.clone();
    let moves = (fits.iter().zip(&weights))
        .map(|(it, weight)| Move {
            k: it.pigments[0].logs.k - center.k,
            s: it.pigments[0].logs.s - center.s,
            weight: weight / whole,
        })
        .collect();
    Some(Lone {
        prior: at_level(middle),
        solved: fits.swap_remove(middle),
        amount: Amount { mean: 0.0, moves },
    })
}

/// Logarithm of how likely the trial was, but for a constant.
fn evidence(it: &Solved) -> Option<f64> {
    let precision = it.inverse.clone().cholesky()?;
    let off = precision.solve(&it.pull);
    Some(precision.ln_determinant() / 2.0 - off.dot(&it.pull) / 2.0)
}
