//! How much of a pigment there is to light, where its trials tell that only from one side.
//!
//! A film that hides says how its pigment's absorption and scattering compare, and of both together only that they are at least so much:
//! above that any amount looks the same. Straight lines about the likeliest pigment take that edge for a measured value, since the likeliest
//! one lies on it; all that mixtures with other pigments then go by is too little, and too sure. So both are moved together through all that
//! the prior allows, and what the trials and the prior leave of it is kept as it is.
//!
//! # Source
//! Quadrature over one direction of the posterior: common practice, no source.

use super::prior::Logs;
use super::solve::{Datum, Guess, Setting, cost, look};
use nalgebra::DMatrix;

/// Absorption and scattering together, as far as trials and prior leave them open beyond what straight lines say.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Amount {
    /// What both are to be moved by from the likeliest, in logarithms: the mean.
    pub(super) mean: f64,
    /// Moves from there with their weights, of which the sum is the share of the spread that straight lines don't have; empty where
    /// these say it well.
    pub(super) moves: Vec<Move>,
}

/// A pigment that differs from another.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Move {
    /// In ln k, band by band.
    pub(super) k: Logs,
    /// In ln s.
    pub(super) s: Logs,
    pub(super) weight: f64,
}

/// Farthest moves, and how far they are apart, in logarithms: three standard deviations of what is thought of scattering beforehand, and more.
const FARTHEST: i32 = 60;
const STEP: f64 = 0.1;
/// What straight lines say less well than this is moved: so much of the variance they haven't. Of the constants that were tried on study seeds
/// (0.2, 0.5; `cargo bench --profile dev --bench mix -- 6 94000002 study`) the one with the smaller errors. On 24 others (94500000) two and three pigments come to
/// 2.48 and 3.37 ΔE00 by it, without any move to 2.56 and 3.49, and to 2.52 and 3.44 if straight lines are granted what the film's slopes alone say in place of the
/// true bend.
const CROOKED: f64 = 0.5;
/// A spread of less, in logarithms, is not one-sided: all of it is within what trials are off by. Tried as above: 0, 0.4.
const OPEN: f64 = 0.4;
/// By so many moves the spread is kept.
const KEPT: usize = 5;

/// Of one of the pigments, the others staying; `weight` is the inverse of what trials are off by.
pub(super) fn amount(
    setting: Setting<'_>,
    data: &[Datum],
    at: &[Guess],
    slot: usize,
    weight: &DMatrix<f64>,
) -> Amount {
    // One trial alone says nothing of an edge: what it leaves open is the prior's.
    if data.len() < 2 {
        return Amount::default();
    }
    let mut there = at.to_vec();
    of_costs(|by| {
        there[slot].clone_from(&at[slot]);
        there[slot].shift(setting.priors[slot], by, by);
        cost(data, &there, &look(setting, data, &there), weight) / 2.0
    })
}

/// Of negative logarithms of what is likely, by what both are moved.
fn of_costs(mut cost: impl FnMut(f64) -> f64) -> Amount {
    let costs: Vec<(f64, f64)> = (-FARTHEST..=FARTHEST)
        .map(|step| STEP * f64::from(step))
        .map(|by| (by, cost(by)))
        .collect();
    let least = costs.iter().map(|it| it.1).fold(f64::INFINITY, f64::min);
    let mut likely: Vec<(f64, f64)> = (costs.iter())
        .map(|(by, cost)| (*by, (least - cost).exp()))
        .collect();
    let whole: f64 = likely.iter().map(|it| it.1).sum();
    for it in &mut likely {
        it.1 /= whole;
    }
    let mean: f64 = likely.iter().map(|(by, share)| by * share).sum();
    let squares = (likely.iter()).map(|(by, share)| (by - mean).powi(2) * share);
    let variance: f64 = squares.sum();
    let bend = (cost(STEP) + cost(-STEP) - 2.0 * cost(0.0)) / STEP.powi(2);
    let straight = if bend > 0.0 { 1.0 / bend } else { 0.0 };
    let rest = 1.0 - straight / variance;
    let crooked = rest.is_finite() && rest >= CROOKED && variance >= OPEN.powi(2);
    if !crooked {
        return Amount::default();
    }
    Amount {
        mean,
        moves: parts(&likely, mean, rest),
    }
}

/// Equal parts of what is likely, each by its mean; weights add up to `rest`.
fn parts(likely: &[(f64, f64)], mean: f64, rest: f64) -> Vec<Move> {
    let mut out = [(0.0, 0.0); KEPT];
    let mut before = 0.0;
    for (by, share) in likely {
        let middle = before + share / 2.0;
        let part = (1..KEPT).take_while(|it| middle >= *it as f64 / KEPT as f64);
        let part = &mut out[part.count()];
        part.0 += share * (by - mean);
        part.1 += share;
        before += share;
    }
    (out.iter().filter(|it| it.1 > 0.0))
        .map(|(sum, share)| Move {
            k: Logs::repeat(sum / share),
            s: Logs::repeat(sum / share),
            weight: share * rest,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a bell, from 0 up: mean √(2/π) and variance 1 − 2/π of its own.
    #[test]
    fn an_edge_is_half_of_what_was_thought() {
        const SD: f64 = 1.7;
        let edge =
            |by: f64| (by / SD).powi(2) / 2.0 + if by < 0.0 { (by / 0.05).powi(2) } else { 0.0 };
        let it = of_costs(edge);
        let mean = SD * (2.0 / std::f64::consts::PI).sqrt();
        assert!((it.mean / mean - 1.0).abs() < 0.1, "{} {mean}", it.mean);
        assert_eq!(it.moves.len(), KEPT);
        let share: f64 = it.moves.iter().map(|it| it.weight).sum();
        let about: f64 = it.moves.iter().map(|it| it.k[0] * it.weight).sum();
        assert!((0.5..1.0).contains(&share) && about.abs() < 1e-9);
        let spread = it.moves.iter().map(|it| it.s[0].powi(2) * it.weight);
        let spread = (spread.sum::<f64>() / share).sqrt();
        let sd = SD * (1.0 - 2.0 / std::f64::consts::PI).sqrt();
        assert!((0.85..1.05).contains(&(spread / sd)), "{spread} {sd}");
    }

    #[test]
    fn what_is_straight_is_left_as_it_is() {
        for sd in [0.1, 0.7, 1.5] {
            assert_eq!(of_costs(|by| (by / sd).powi(2) / 2.0), Amount::default());
        }
        assert_eq!(of_costs(|_| f64::NAN), Amount::default());
    }
}
