//! A pigment of which one coat alone was tried, once or more: how much it scatters is anybody's guess, and how much it absorbs follows from that.
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
use crate::colour::Matrix;
use nalgebra::{DMatrix, Vector3};

/// A pigment as its only trial leaves it.
pub(super) struct Lone {
    /// Of the level in the middle of what is likely.
    pub(super) prior: &'static Prior,
    pub(super) solved: Solved,
    /// How the pigment is at all levels.
    pub(super) amount: Amount,
}

/// A level, and the pigment that it makes of the trial.
struct Level {
    number: usize,
    solved: Solved,
    /// Logarithm of how likely it is, but for a constant.
    likely: f64,
}

/// Levels that can't be solved may have had so much of the weight before the trial: left out, more would make the rest look sure.
const UNSOLVED: f64 = 0.1;

/// From one coat of one pigment, laid once or more; `doubt` as [`solve`] has it. A level that can't be solved is left out; `None` where those had more
/// than [`UNSOLVED`] of the weight.
pub(super) fn fit(
    coating: &Optics,
    grounds: &[Spectrum],
    data: &[Datum],
    doubt: &dyn Fn(&[Sight]) -> DMatrix<f64>,
) -> Option<Lone> {
    let mut levels: Vec<Level> = Vec::new();
    for number in 0..LEVELS {
        let setting = Setting {
            coating,
            grounds,
            priors: &[at_level(number)],
        };
        // From one level it isn't far to the next.
        let start = levels
            .last()
            .map(|it| vec![it.solved.pigments[0].with(at_level(number))]);
        let found = solve(setting, data, start, doubt)
            .and_then(|solved| Some((likely_level(number) + evidence(&solved)?, solved)))
            .filter(|(likely, _)| likely.is_finite());
        levels.extend(found.map(|(likely, solved)| Level {
            number,
            solved,
            likely,
        }));
    }
    let before = |number: usize| likely_level(number).exp();
    let kept: f64 = levels.iter().map(|it| before(it.number)).sum();
    if kept < (1.0 - UNSOLVED) * (0..LEVELS).map(before).sum::<f64>() {
        return None;
    }
    let most = levels.iter().map(|it| it.likely).reduce(f64::max)?;
    let weights: Vec<f64> = levels.iter().map(|it| (it.likely - most).exp()).collect();
    let whole: f64 = weights.iter().sum();
    let numbers = levels.iter().zip(&weights);
    let mean = numbers.map(|(it, by)| it.number as f64 * by).sum::<f64>() / whole;
    let far = |it: &Level| (it.number as f64 - mean).abs();
    let middle = (0..levels.len()).min_by(|a, b| far(&levels[*a]).total_cmp(&far(&levels[*b])))?;
    let center = levels[middle].solved.pigments[0].logs.clone();
    let moves = (levels.iter().zip(&weights))
        .map(|(it, weight)| Move {
            k: it.solved.pigments[0].logs.k - center.k,
            s: it.solved.pigments[0].logs.s - center.s,
            weight: weight / whole,
        })
        .collect();
    let middle = levels.swap_remove(middle);
    Some(Lone {
        prior: at_level(middle.number),
        solved: middle.solved,
        amount: Amount { mean: 0.0, moves },
    })
}

/// Logarithm of how likely the trial was, but for a constant: of several their mean. By what these differ they say how hands and photos err; to take it for
/// a word on the level, agreement by chance would be enough to make one sure.
fn evidence(it: &Solved) -> Option<f64> {
    let n = it.pull.len() / 3;
    let (mut precision, mut pull) = (Matrix::zeros(), Vector3::zeros());
    for i in 0..n {
        pull += it.pull.fixed_rows::<3>(3 * i);
        for j in 0..n {
            precision += it.inverse.fixed_view::<3, 3>(3 * i, 3 * j);
        }
    }
    let precision = precision.cholesky()?;
    let off = precision.solve(&pull);
    Some(precision.ln_determinant() / 2.0 - off.dot(&pull) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::super::bands::BANDS;
    use super::super::solve::vector;
    use super::*;
    use crate::colour::Lab;
    use std::cell::Cell;

    /// Fitted where so many of the first times that covariances are asked for there are none.
    fn failing(times: usize) -> Option<Lone> {
        let coating = Optics {
            k: [0.0; BANDS],
            s: [0.0; BANDS],
        };
        let datum = Datum {
            parts: vec![(0, 6.0)],
            mixed: 200.0,
            ground: 0,
            lab: vector(Lab::new(45.0, 30.0, 20.0)),
            noise: Matrix::identity() * 0.09,
            root: Matrix::identity() * 0.3,
        };
        let asked = Cell::new(0);
        fit(&coating, &[[0.6; BANDS]], &[datum], &|_| {
            asked.set(asked.get() + 1);
            let sign = if asked.get() <= times { -1.0 } else { 1.0 };
            DMatrix::identity(3, 3) * sign
        })
    }

    #[test]
    fn a_level_that_cant_be_solved_is_left_out_where_it_had_little_weight() {
        for (times, left) in [(0, LEVELS), (1, LEVELS - 1)] {
            let found = failing(times).expect("most of the weight is left");
            assert_eq!(found.amount.moves.len(), left);
            let weights: f64 = found.amount.moves.iter().map(|it| it.weight).sum();
            assert!((weights - 1.0).abs() < 1e-12, "{weights}");
            assert!(
                found.solved.pigments[0]
                    .logs
                    .k
                    .iter()
                    .all(|it| it.is_finite())
            );
        }
        // One of seven would pass for known exactly.
        for times in [LEVELS - 1, usize::MAX] {
            assert!(failing(times).is_none(), "{times}");
        }
    }
}
