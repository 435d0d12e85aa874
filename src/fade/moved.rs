//! Masked halves that moved on their own: heat, a mask that leaked, damage. Each is read by a correction that all others carry, so that it stands out.
//!
//! In another light a half of an unusual pigment is read apart from what it was, in one direction here and in another there, and what was off at dose 0
//! stays off for good. Its exposed half beside it is read apart by the same, so that what lies between them knows nothing of that. A masked half that moves as
//! that difference grows has a part in it: the sun's, if its mask leaked, or all of it, if the exposed half stayed and only the masked one changed.

mod leak;
mod miss;

use super::difference::{self, colour, lab};
use super::history::{Board, Exposure, Pair};
use crate::colour::{Lab, Matrix, difference as colour_difference};
use crate::sample::float;
pub(super) use leak::{Undone, Whole};
use miss::{Course, Told};
use nalgebra::Vector3;
use std::collections::{BTreeMap, BTreeSet};

/// How the masked halves of a board stand to what they were.
#[derive(Clone, Debug, Default)]
pub(super) struct Moves {
    /// Patches whose masked half moved.
    pub(super) own: BTreeSet<String>,
    /// Patches whose mask may have leaked, though not beyond chance.
    pub(super) unsure: Vec<String>,
    /// By patch, what of the change lies between its halves, as far as the masked half says anything of it: also where it isn't beyond chance that it moved.
    pub(super) whole: BTreeMap<String, Whole>,
    /// Patches of which both halves seem to have moved together, by more than a leak explains, with how many times what lies between them.
    pub(super) together: Vec<(String, f64)>,
    /// Of the later exposures, in order: whether masked halves carried the scale.
    pub(super) carried: Vec<bool>,
}

/// A masked half's own move.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Move {
    /// Over the difference between the halves, less that at dose 0: positive where the mask leaked, −1 where only the masked half changed.
    share: f64,
    /// Standard uncertainty of it.
    sd: f64,
}

/// Fewest later exposures that tell growth from what is off at each.
const EXPOSURES: usize = 3;
/// Fewest masked halves among which one stands out.
const ENOUGH: usize = 6;
/// Standard uncertainties that a share must differ from none: on 32 boards of the study split (seeds from 94,000,000 and 95,000,000 on, photos of 1600
/// pixels), each with one leaking mask, none of 767 sound halves had more than 4.2, and 15 of the 32 that leaked had more than this (14 as photos are located and corrected since).
const BEYOND: f64 = 4.5;
/// The same where the masked half moved against what has come to lie between the halves, as if it alone had changed: rarer, and what an unusual pigment
/// is read apart by looks like it.
const BEYOND_ALONE: f64 = 6.0;
/// The masked half can't have moved farther than all that lies between the halves: what says so beyond two standard uncertainties is another mistake.
const ALONE: f64 = -1.0;
/// A mask that lets three quarters through is none (common practice, no source): where little has come to lie between the halves, what both are read apart
/// by together looks like more.
const MOST_LEAKED: f64 = 3.0;
/// Probability of a leak that isn't beyond chance from which on it is said in words. The change's uncertainty has it in any case.
const WORTH_SAYING: f64 = 0.1;
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
    let all: Vec<Course<'_>> = (board.panel.patches.iter())
        .filter_map(|patch| {
            let start = difference::of(&board.start()?.pairs(&patch.id))?;
            Some(Course {
                patch: &patch.id,
                start: start.halves[0],
                seen: later.iter().map(|it| seen(it, &patch.id, &start)).collect(),
            })
        })
        .collect();
    let carried: Vec<bool> = (0..later.len())
        .map(|k| all.iter().filter(|it| it.seen[k].is_some()).count() >= ENOUGH)
        .collect();
    let enough = |it: &Course<'_>| it.seen.iter().flatten().count() >= EXPOSURES;
    let courses: Vec<Course<'_>> = all.into_iter().filter(enough).collect();
    let mut moves = Moves {
        carried,
        ..Moves::default()
    };
    if courses.len() < ENOUGH {
        return moves;
    }
    for (course, told) in courses.iter().zip(miss::told(&courses)) {
        let Some(found) = share(&told) else {
            continue;
        };
        let patch = course.patch.to_owned();
        let at = lab(&course.start);
        let sizes = told
            .iter()
            .map(|it| length(at, &(it.between * found.share)));
        let is_seen = sizes.fold(0.0, f64::max) > LEAST;
        if found.is_together() {
            if is_seen {
                moves.together.push((patch, found.share));
            }
            continue;
        }
        let is_own = is_seen && found.is_beyond_chance();
        let whole = if is_own && found.share < 0.0 {
            Whole::alone(&found)
        } else {
            Whole::of(&found)
        };
        moves.whole.insert(patch.clone(), whole);
        if is_own {
            moves.own.insert(patch);
        } else if is_seen && whole.leaked > WORTH_SAYING {
            moves.unsure.push(patch);
        }
    }
    moves
}

impl Moves {
    /// What is told of a patch's masked half is not to be relied on, or that of none.
    pub(super) fn forget(&mut self) {
        self.own.clear();
        self.unsure.clear();
        self.whole.clear();
        self.together.clear();
    }

    /// What of a patch's change lies between its halves.
    pub(super) fn whole(&self, patch: &str) -> Whole {
        self.whole.get(patch).copied().unwrap_or(Whole::SOUND)
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
    let as_read = |it: &Pair<'_>| Some(colour(it.masked)? - it.taken);
    let masked: Option<Vec<_>> = pairs.iter().map(as_read).collect();
    let masked = masked?.iter().sum::<Vector3<f64>>() / float(pairs.len());
    Some(Seen {
        between: now.lab - start.lab,
        masked: masked - start.halves[0],
    })
}

/// Squared standard deviations of three coordinates at which an exposure loses half of its say: a highlight on the half, a shadow's edge. Cauchy's weight
/// (P. W. Holland, R. E. Welsch, *Commun. Stat.* A6 (1977) 813–827); clean exposures lose a little, too, so that shares are a little less sure.
const FOREIGN: f64 = 9.0;
/// Rounds of reweighting.
const ROUNDS: usize = 30;

/// Share of a share that must be left without any one exposure: less, and it hangs on that one.
const HANGS: f64 = 0.5;

/// The masked half's part in what lies between the halves. Where it hangs on one exposure, in which a shadow or a highlight may lie on both halves, it is as
/// unsure as that one moves it. Of 24 boards of the study split with a leaking mask (seeds from 94,000,000 on) no leak that is found hangs on one: four fifths of its share and more are left.
fn share(told: &[Told]) -> Option<Move> {
    let found = fitted(told)?;
    let without = (0..told.len()).map(|k| {
        let mut rest = told.to_vec();
        rest.remove(k);
        // Where nothing lies between the halves without one, all of it hangs on that one.
        fitted(&rest).map_or(0.0, |it| it.share)
    });
    let hangs = without.filter(|it| it / found.share < HANGS);
    let moved = hangs.map(|it| (it - found.share).abs()).fold(0.0, f64::max);
    Some(Move {
        sd: found.sd.hypot(moved),
        ..found
    })
}

/// The same by robust least squares; as unsure as its own scatter has it, where that is more than usual.
fn fitted(told: &[Told]) -> Option<Move> {
    let mut says = vec![1.0; told.len()];
    let mut found = None;
    for _ in 0..ROUNDS {
        let weights: Vec<Vector3<f64>> = (told.iter().zip(&says))
            .map(|(it, says)| it.weight * *says)
            .collect();
        let between = about_the_mean(told.iter().map(|it| it.between), &weights);
        let masked = about_the_mean(told.iter().map(|it| it.masked), &weights);
        let product = |a: &Vector3<f64>, b: &Vector3<f64>, weight: &Vector3<f64>| {
            a.component_mul(b).dot(weight)
        };
        let sum = |a: &[Vector3<f64>], b: &[Vector3<f64>]| -> f64 {
            let all = a.iter().zip(b).zip(&weights);
            all.map(|((a, b), weight)| product(a, b, weight)).sum()
        };
        let spread = sum(&between, &between);
        if spread <= 0.0 || !spread.is_finite() {
            return None;
        }
        let share = sum(&between, &masked) / spread;
        let left: Vec<Vector3<f64>> = (masked.iter().zip(&between))
            .map(|(masked, between)| masked - between * share)
            .collect();
        let freedom = (3.0 * (says.iter().sum::<f64>() - 1.0) - 1.0).max(1.0);
        found = Some(Move {
            share,
            sd: ((sum(&left, &left) / freedom).max(1.0) / spread).sqrt(),
        });
        for ((says, left), it) in says.iter_mut().zip(&left).zip(told) {
            *says = 1.0 / (1.0 + product(left, left, &it.weight) / FOREIGN);
        }
    }
    found
}

/// Values less their weighted mean: what is off at every dose says nothing.
fn about_the_mean(
    values: impl Iterator<Item = Vector3<f64>>,
    weights: &[Vector3<f64>],
) -> Vec<Vector3<f64>> {
    let values: Vec<Vector3<f64>> = values.collect();
    let sum = values.iter().zip(weights);
    let sum: Vector3<f64> = sum.map(|(it, weight)| it.component_mul(weight)).sum();
    let mean = sum.component_div(&weights.iter().sum());
    values.iter().map(|it| it - mean).collect()
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
            self.share > BEYOND * self.sd && self.share <= MOST_LEAKED
        } else {
            self.share < -BEYOND_ALONE * self.sd && self.share > ALONE - 2.0 * self.sd
        }
    }

    /// Whether it is beyond chance, but more than a mask that is one lets through.
    fn is_together(&self) -> bool {
        self.share > BEYOND * self.sd && self.share > MOST_LEAKED
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

    /// As unsure as `sd` in each coordinate.
    fn told(seen: &[Seen], sd: f64) -> Vec<Told> {
        let one = |it: &Seen| Told {
            between: it.between,
            masked: it.masked,
            weight: Vector3::repeat(sd.powi(-2)),
        };
        seen.iter().map(one).collect()
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
        let change = Vector3::new(-10.0, 2.5, 7.5);
        let found = share(&told(&course(change, 0.4), 0.5)).unwrap();
        assert!(found.is_beyond_chance(), "{found:?}");
        assert!((found.share - 0.4 / 0.6).abs() < 3.0 * found.sd);
        let back = Whole::of(&found).undo(&(change * 0.6), &Matrix::zeros());
        assert!(
            (back.lab - change).norm() < 0.15 * change.norm(),
            "{back:?}"
        );
        assert!(back.leak.trace() > 0.0);
    }

    #[test]
    fn a_half_that_only_is_read_apart_has_no_share() {
        let sound = course(Vector3::new(-8.0, 2.0, 6.0), 0.0);
        let found = share(&told(&sound, 0.5)).unwrap();
        assert!(!found.is_beyond_chance(), "{found:?}");
        assert!(share(&told(&course(Vector3::zeros(), 0.0), 0.5)).is_none());
    }

    #[test]
    fn a_half_cannot_have_moved_farther_than_all_that_lies_between() {
        let of = |share: f64, sd: f64| Move { share, sd }.is_beyond_chance();
        assert!(of(0.3, 0.05) && of(-1.05, 0.05));
        // Too unsure, and more so against the difference than with it.
        assert!(!of(0.2, 0.05) && !of(-1.26, 0.26) && of(1.26, 0.26));
        assert!(!of(-3.0, 0.2) && !of(-1.7, 0.25));
        // Nor can a mask let nearly all through.
        assert!(of(2.5, 0.3) && !of(4.4, 0.6));
        let together = |share: f64, sd: f64| Move { share, sd }.is_together();
        assert!(together(4.4, 0.6) && !together(4.4, 1.2) && !together(2.5, 0.3));
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
        let found = share(&told(&seen, 0.5)).unwrap();
        assert!(found.is_beyond_chance(), "{found:?}");
        let undone = Whole::alone(&found).undo(&seen[5].between, &Matrix::zeros());
        assert!(undone.lab.norm() < 1.5, "{undone:?}");
    }

    #[test]
    fn one_exposure_that_was_read_badly_hides_no_leak() {
        let change = Vector3::new(-14.0, 3.0, 9.0);
        let mut seen = course(change, 0.4);
        seen[2].masked += Vector3::new(9.0, -5.0, 12.0);
        let found = share(&told(&seen, 0.5)).unwrap();
        assert!(found.is_beyond_chance(), "{found:?}");
        assert!(
            (found.share - 0.4 / 0.6).abs() < 3.0 * found.sd,
            "{found:?}"
        );
    }

    #[test]
    fn a_share_that_hangs_on_one_exposure_is_none() {
        // Of a simulated board of which no mask leaks: a shadow's edge in the last photo moves what lies between the halves, and the masked half.
        let seen = [
            ([-0.16, -0.46, 5.49], [0.29, 1.15, 0.85], [0.24, 0.68, 0.46]),
            (
                [0.24, -0.24, 5.68],
                [-0.18, 0.12, -0.60],
                [0.26, 0.73, 0.73],
            ),
            ([0.39, -1.33, 9.19], [0.12, 0.16, -0.26], [0.33, 0.84, 0.50]),
            (
                [0.14, -1.43, 10.15],
                [0.03, 0.11, -1.36],
                [0.36, 0.65, 0.71],
            ),
            (
                [-0.08, -0.57, 9.74],
                [0.16, 0.31, -0.83],
                [0.21, 0.52, 0.64],
            ),
            ([0.46, 1.00, 0.00], [0.39, 1.55, -6.24], [0.23, 0.83, 0.58]),
        ];
        let told = seen.map(|(between, masked, sd)| Told {
            between: Vector3::from(between),
            masked: Vector3::from(masked),
            weight: Vector3::from(sd).map(|sd: f64| sd.powi(-2)),
        });
        let by_all = fitted(&told).unwrap();
        assert!(by_all.is_beyond_chance(), "{by_all:?}");
        let found = share(&told).unwrap();
        assert!(!found.is_beyond_chance(), "{found:?}");
        assert!(Whole::of(&found).leaked < 0.1, "{found:?}");
    }

    #[test]
    fn what_like_colours_are_missed_by_hides_no_leak_and_is_none() {
        // Two clusters of colours; each is missed by its own amount at each exposure, much more than its halves differ.
        let missed = |cluster: usize, k: usize| apart(3 * k + 5 * cluster) * 4.0;
        let patches: Vec<String> = (0..12).map(|i| format!("P{i}")).collect();
        let courses: Vec<Course<'_>> = (patches.iter().enumerate())
            .map(|(i, patch)| {
                let cluster = i % 2;
                let leak = if i == 4 { 0.4 } else { 0.0 };
                let seen = course(Vector3::new(-3.0, 1.0, 2.0), leak).into_iter();
                let seen = seen.enumerate().map(|(k, it)| {
                    let own = it.masked - apart(k + 1) + apart(7 * i + 11 * k) * 0.4;
                    Some(Seen {
                        masked: own + missed(cluster, k),
                        ..it
                    })
                });
                Course {
                    patch,
                    start: Vector3::new(30.0 + 40.0 * float(cluster), float(i), 0.0),
                    seen: seen.collect(),
                }
            })
            .collect();
        let beyond: Vec<usize> = (miss::told(&courses).iter().enumerate())
            .filter(|it| share(it.1).unwrap().is_beyond_chance())
            .map(|it| it.0)
            .collect();
        assert_eq!(beyond, [4]);
        // Read as it is, each half may have moved by what its cluster is missed by.
        let as_it_is: Vec<Seen> = courses[4].seen.iter().flatten().copied().collect();
        let found = share(&told(&as_it_is, 2.8)).unwrap();
        assert!(!found.is_beyond_chance(), "{found:?}");
    }
}
