//! Masked halves that moved on their own: heat, a mask that leaked, damage. Each is read by a correction that all others carry, so that it stands out.
//!
//! In another light a half of an unusual pigment is read apart from what it was, in one direction here and in another there, and what was off at dose 0
//! stays off for good. Its exposed half beside it is read apart by the same, so that what lies between them knows nothing of that. A masked half that moves as
//! that difference grows has a part in it: the sun's, if its mask leaked, or all of it, if the exposed half stayed and only the masked one changed.

use super::difference::{self, colour, lab};
use super::history::{Board, Exposure};
use crate::colour::{Lab, Matrix, difference as colour_difference};
use crate::sample::float;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// How the masked halves of a board stand to what they were.
#[derive(Clone, Debug, Default)]
pub(super) struct Moves {
    /// By patch, those that moved.
    pub(super) own: BTreeMap<String, Move>,
    /// Of the later exposures, in order: whether masked halves carried the scale.
    pub(super) carried: Vec<bool>,
}

/// A masked half's own move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Move {
    /// Over the difference between the halves, less that at dose 0: positive where the mask leaked, −1 where only the masked half changed.
    pub(super) share: f64,
    /// Standard uncertainty of it.
    pub(super) sd: f64,
}

/// Fewest later exposures that tell growth from what is off at each.
const EXPOSURES: usize = 3;
/// Fewest masked halves among which one stands out.
const ENOUGH: usize = 6;
/// Standard uncertainties that a share must differ from none: common practice for a search among many, with long tails.
const BEYOND: f64 = 4.5;
/// The same where the masked half moved against what has come to lie between the halves, as if it alone had changed: rarer, and what an unusual pigment
/// is read apart by looks like it (on 24 study boards of 27 patches one without a fault had −4.8).
const BEYOND_ALONE: f64 = 6.0;
/// The masked half can't have moved farther than all that lies between the halves: what says so beyond doubt is another mistake.
const ALONE: f64 = -1.0;
/// ΔE00 below which nothing is called a move, however sure: what most observers can see.
const LEAST: f64 = 0.8;

/// What is seen of a patch at one exposure, both against dose 0.
#[derive(Clone, Copy, Debug)]
struct Seen {
    /// What lies between the halves.
    between: Vector3<f64>,
    /// The masked half, by a correction that doesn't know it.
    masked: Vector3<f64>,
}

pub(super) fn of(board: &Board<'_>) -> Moves {
    let later: Vec<&Exposure<'_>> = board.later().collect();
    let courses: BTreeMap<&str, (Lab, Vec<Option<Seen>>)> = (board.panel.patches.iter())
        .filter_map(|patch| {
            let start = difference::of(&board.start()?.pairs(&patch.id))?;
            let seen = later.iter().map(|it| seen(it, &patch.id, &start)).collect();
            Some((patch.id.as_str(), (lab(&start.halves[0]), seen)))
        })
        .collect();
    let carried: Vec<bool> = (0..later.len())
        .map(|k| courses.values().filter(|it| it.1[k].is_some()).count() >= ENOUGH)
        .collect();
    let centred: Vec<(&str, Lab, Vec<Seen>)> = courses
        .into_iter()
        .filter_map(|(patch, (start, seen))| {
            let seen: Vec<Seen> = seen.into_iter().flatten().collect();
            (seen.len() >= EXPOSURES).then_some((patch, start, seen))
        })
        .collect();
    if centred.len() < ENOUGH {
        return Moves {
            own: BTreeMap::new(),
            carried,
        };
    }
    let usual = usual(&centred);
    let own = centred.iter().filter_map(|(patch, start, seen)| {
        let found = share(seen, &usual)?;
        let last = seen.iter().map(|it| it.between * found.share);
        let size = last.map(|it| length(*start, &it)).fold(0.0, f64::max);
        let told = found.is_beyond_chance() && size > LEAST;
        told.then(|| ((*patch).to_owned(), found))
    });
    Moves {
        own: own.collect(),
        carried,
    }
}

/// None where the masked halves don't carry the scale, or both halves can't be read beyond doubt.
fn seen(exposure: &Exposure<'_>, patch: &str, start: &difference::Difference) -> Option<Seen> {
    if exposure
        .photos
        .iter()
        .any(|it| it.photo.settings.masked.is_none())
    {
        return None;
    }
    let pairs = exposure.pairs(patch);
    let now = difference::of(&pairs)?;
    let masked: Option<Vec<_>> = pairs.iter().map(|it| colour(it.masked)).collect();
    let masked = masked?.iter().sum::<Vector3<f64>>() / float(pairs.len());
    Some(Seen {
        between: now.lab - start.lab,
        masked: masked - start.halves[0],
    })
}

/// A course about its own mean: what is off at every dose says nothing.
fn about_the_mean(seen: &[Seen]) -> Vec<Seen> {
    let n = float(seen.len());
    let between = seen.iter().map(|it| it.between).sum::<Vector3<f64>>() / n;
    let masked = seen.iter().map(|it| it.masked).sum::<Vector3<f64>>() / n;
    seen.iter()
        .map(|it| Seen {
            between: it.between - between,
            masked: it.masked - masked,
        })
        .collect()
}

/// Standard deviations of L*, a*, b* by which a correction that doesn't know a half misses it from exposure to exposure, as most halves have them.
fn usual(courses: &[(&str, Lab, Vec<Seen>)]) -> Vector3<f64> {
    Vector3::from_fn(|k, _| {
        let mut sizes: Vec<f64> = Vec::new();
        for (_, _, seen) in courses {
            let n = float(seen.len());
            let wider = (n / (n - 1.0)).sqrt();
            sizes.extend(
                about_the_mean(seen)
                    .iter()
                    .map(|it| it.masked[k].abs() * wider),
            );
        }
        sizes.sort_by(f64::total_cmp);
        // The median of a normal variable's size is 0.6745 of its standard deviation.
        (sizes.get(sizes.len() / 2).map_or(0.0, |it| it / 0.6745)).max(0.05)
    })
}

/// The masked half's part in what lies between the halves, by least squares; as unsure as its own scatter has it, where that is more than usual.
fn share(seen: &[Seen], usual: &Vector3<f64>) -> Option<Move> {
    let seen = about_the_mean(seen);
    let weight = usual.map(|it| it.powi(-2));
    let product = |a: &Vector3<f64>, b: &Vector3<f64>| a.component_mul(b).dot(&weight);
    let spread: f64 = seen
        .iter()
        .map(|it| product(&it.between, &it.between))
        .sum();
    let pull: f64 = seen.iter().map(|it| product(&it.between, &it.masked)).sum();
    if spread <= 0.0 || !spread.is_finite() {
        return None;
    }
    let share = pull / spread;
    let left: f64 = (seen.iter())
        .map(|it| it.masked - it.between * share)
        .map(|it| product(&it, &it))
        .sum();
    let freedom = 3.0 * (float(seen.len()) - 1.0) - 1.0;
    Some(Move {
        share,
        sd: ((left / freedom).max(1.0) / spread).sqrt(),
    })
}

/// Length of a small difference in ΔE00's metric at a colour.
fn length(at: Lab, d: &Vector3<f64>) -> f64 {
    let metric: Matrix = colour_difference::local_metric(at);
    d.dot(&(metric * d)).max(0.0).sqrt()
}

impl Move {
    /// Whether the share is there, and can be.
    fn is_beyond_chance(&self) -> bool {
        if self.share > 0.0 {
            self.share > BEYOND * self.sd
        } else {
            self.share < -BEYOND_ALONE * self.sd && self.share > ALONE - BEYOND * self.sd
        }
    }

    /// The exposed half's change from what lies between the halves, with its covariance.
    pub(super) fn undo(
        &self,
        between: &Vector3<f64>,
        covariance: &Matrix,
    ) -> (Vector3<f64>, Matrix) {
        let whole = 1.0 + self.share;
        let of_share = between * between.transpose() * self.sd.powi(2);
        (between * whole, covariance * whole.powi(2) + of_share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A half that is read apart by chance, by about one in each coordinate.
    fn apart(k: usize) -> Vector3<f64> {
        let x = float(k);
        Vector3::new((x * 2.1).sin(), (x * 3.7).cos(), (x * 1.3).sin()) * 0.7
    }

    fn course(change: Vector3<f64>, leak: f64) -> Vec<Seen> {
        (1..7)
            .map(|k| {
                let grown = change * (float(k) / 6.0);
                Seen {
                    between: grown * (1.0 - leak),
                    masked: grown * leak + apart(k) + Vector3::new(2.0, -1.0, 0.5),
                }
            })
            .collect()
    }

    #[test]
    fn a_leak_is_a_share_of_what_lies_between_and_is_undone() {
        let change = Vector3::new(-8.0, 2.0, 6.0);
        let usual = Vector3::new(0.5, 0.5, 0.5);
        let found = share(&course(change, 0.4), &usual).unwrap();
        assert!(found.is_beyond_chance(), "{found:?}");
        assert!((found.share - 0.4 / 0.6).abs() < 3.0 * found.sd);
        let (back, covariance) = found.undo(&(change * 0.6), &Matrix::zeros());
        assert!((back - change).norm() < 0.15 * change.norm(), "{back}");
        assert!(covariance.trace() > 0.0);
    }

    #[test]
    fn a_half_that_only_is_read_apart_has_no_share() {
        let usual = Vector3::new(0.5, 0.5, 0.5);
        let found = share(&course(Vector3::new(-8.0, 2.0, 6.0), 0.0), &usual).unwrap();
        assert!(!found.is_beyond_chance(), "{found:?}");
        assert!(share(&course(Vector3::zeros(), 0.0), &usual).is_none());
    }

    #[test]
    fn a_half_cannot_have_moved_farther_than_all_that_lies_between() {
        let of = |share: f64, sd: f64| Move { share, sd }.is_beyond_chance();
        assert!(of(0.3, 0.05) && of(-1.05, 0.05));
        // Too unsure, and more so against the difference than with it.
        assert!(!of(0.2, 0.05) && !of(-1.26, 0.26) && of(1.26, 0.26));
        assert!(!of(-3.0, 0.2));
    }

    #[test]
    fn a_masked_half_that_changed_alone_leaves_no_change() {
        // Nothing happened to the exposed half: all that lies between is the masked half's, backwards.
        let seen: Vec<Seen> = (1..7)
            .map(|k| {
                let moved = Vector3::new(3.0, 0.0, 6.0) * float(k);
                Seen {
                    between: -moved,
                    masked: moved + apart(k),
                }
            })
            .collect();
        let found = share(&seen, &Vector3::new(0.5, 0.5, 0.5)).unwrap();
        assert!(found.is_beyond_chance(), "{found:?}");
        let (change, _) = found.undo(&seen[5].between, &Matrix::zeros());
        assert!(change.norm() < 1.5, "{change}");
    }
}
