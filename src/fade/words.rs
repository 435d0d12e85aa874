//! The direction of a change in words: lighter, duller, yellower …
//!
//! Takes a colour and how it changed, with the covariance; gives at most three words, the biggest part first. A word stands only for
//! a part that is itself beyond its uncertainty and makes a tangible share of the change. Choices of this program, with no source:
//! what share that is, and what counts as nearly neutral.

use crate::colour::difference::{local_metric, parts};
use crate::colour::lab::chroma;
use crate::colour::{Lab, Matrix};
use crate::library::distribution::NORMAL_95;
use nalgebra::Vector3;

/// The closed list of directions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// L* up.
    Lighter,
    /// L* down.
    Darker,
    /// Chroma down.
    Duller,
    /// Chroma up.
    MoreVivid,
    /// Towards +a*.
    Redder,
    /// Towards +b*.
    Yellower,
    /// Towards −a*.
    Greener,
    /// Towards −b*.
    Bluer,
}

impl Word {
    /// As written.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Lighter => "lighter",
            Self::Darker => "darker",
            Self::Duller => "duller",
            Self::MoreVivid => "more vivid",
            Self::Redder => "redder",
            Self::Yellower => "yellower",
            Self::Greener => "greener",
            Self::Bluer => "bluer",
        }
    }
}

/// Most words that are said.
const MOST: usize = 3;
/// A part below this share of the whole change, both in ΔE00, is not worth a word: beside a change of 3 it is less than 0.8.
const TANGIBLE: f64 = 0.25;
/// Chroma over L* below which a colour has a tint rather than a hue: for white 13, for a middle grey 7, for a dark brown 4.
const TINT: f64 = 0.14;

/// A part of a change.
struct Part {
    word: Word,
    /// In Lab.
    size: f64,
    /// The direction it is measured in, a unit vector of Lab.
    direction: Vector3<f64>,
}

/// How `start` changed, in words; empty unless the change as a whole is `significant` (see [`super::told`]).
///
/// A change along and across the colour's own hue is said as duller or more vivid, and by the nearest of red, yellow, green and blue
/// that the hue moved to. A nearly neutral colour is neither dull nor vivid: of it the tint's direction is said.
#[must_use]
pub fn words(
    start: Lab,
    change: Vector3<f64>,
    covariance: &Matrix,
    significant: bool,
) -> Vec<Word> {
    if !significant {
        return Vec::new();
    }
    let middle = Lab::new(
        start.l + change.x / 2.0,
        start.a + change.y / 2.0,
        start.b + change.z / 2.0,
    );
    let metric = local_metric(middle);
    let loudness = |it: &Part| {
        let vector = it.direction * it.size;
        vector.dot(&(metric * vector)).max(0.0).sqrt()
    };
    let parts = parts_of(start, change);
    let whole = parts
        .iter()
        .map(|it| loudness(it).powi(2))
        .sum::<f64>()
        .sqrt();
    let mut said: Vec<(f64, Word)> = parts
        .iter()
        .filter(|it| {
            let sd = it
                .direction
                .dot(&(covariance * it.direction))
                .max(0.0)
                .sqrt();
            it.size.abs() > NORMAL_95 * sd && loudness(it) >= TANGIBLE * whole
        })
        .map(|it| (loudness(it), it.word))
        .collect();
    said.sort_by(|one, other| other.0.total_cmp(&one.0).then(one.1.cmp(&other.1)));
    said.truncate(MOST);
    said.into_iter().map(|it| it.1).collect()
}

fn parts_of(start: Lab, change: Vector3<f64>) -> [Part; 3] {
    let sign = |size: f64, up: Word, down: Word| if size > 0.0 { up } else { down };
    let lightness = Part {
        word: sign(change.x, Word::Lighter, Word::Darker),
        size: change.x,
        direction: Vector3::x(),
    };
    if chroma(start) < TINT * start.l {
        return [
            lightness,
            Part {
                word: sign(change.y, Word::Redder, Word::Greener),
                size: change.y,
                direction: Vector3::y(),
            },
            Part {
                word: sign(change.z, Word::Yellower, Word::Bluer),
                size: change.z,
                direction: Vector3::z(),
            },
        ];
    }
    let end = Lab::new(start.l + change.x, start.a + change.y, start.b + change.z);
    let difference = parts(start, end);
    // Along and across the mean of both hues; a colour that lost all its chroma has but its first.
    let unit = |it: Lab| Vector3::new(0.0, it.a, it.b).try_normalize(1e-9);
    let first = unit(start).unwrap_or_else(Vector3::y);
    let along = (first + unit(end).unwrap_or(first))
        .try_normalize(1e-9)
        .unwrap_or(first);
    let across = Vector3::new(0.0, -along.z, along.y);
    [
        lightness,
        Part {
            word: sign(difference.chroma, Word::MoreVivid, Word::Duller),
            size: difference.chroma,
            direction: along,
        },
        Part {
            word: towards(across * difference.hue),
            size: difference.hue,
            direction: across,
        },
    ]
}

/// The nearest of the four directions of a*b*.
fn towards(direction: Vector3<f64>) -> Word {
    let (a, b) = (direction.y, direction.z);
    match (a.abs() > b.abs(), a > 0.0, b > 0.0) {
        (true, true, _) => Word::Redder,
        (true, false, _) => Word::Greener,
        (false, _, true) => Word::Yellower,
        (false, _, false) => Word::Bluer,
    }
}

#[cfg(test)]
mod tests {
    use super::Word::{Bluer, Darker, Duller, Greener, Lighter, MoreVivid, Redder, Yellower};
    use super::*;

    fn said(start: [f64; 3], change: [f64; 3], sd: [f64; 3]) -> Vec<Word> {
        let covariance = Matrix::from_diagonal(&Vector3::from(sd).map(|it| it * it));
        let start = Lab::new(start[0], start[1], start[2]);
        words(start, Vector3::from(change), &covariance, true)
    }

    const FINE: [f64; 3] = [0.2; 3];

    #[test]
    fn what_it_says_of_paints_and_whites() {
        /// What happens, the colour, its change, and what is to be said of it.
        type Case = (&'static str, [f64; 3], [f64; 3], &'static [Word]);
        let table: [Case; 18] = [
            (
                "a red ochre bleaches",
                [40.0, 30.0, 20.0],
                [6.0, -6.0, -4.0],
                &[Lighter, Duller],
            ),
            (
                "a red ochre darkens",
                [40.0, 30.0, 20.0],
                [-4.0, 0.3, 0.2],
                &[Darker],
            ),
            (
                "a red turns to yellow",
                [45.0, 40.0, 15.0],
                [0.0, -2.0, 6.0],
                &[Yellower],
            ),
            (
                "a red turns to blue",
                [45.0, 40.0, 15.0],
                [0.0, 1.0, -6.0],
                &[Bluer],
            ),
            (
                "a yellow turns to red",
                [75.0, 8.0, 60.0],
                [0.0, 6.0, -0.5],
                &[Redder],
            ),
            (
                "a yellow turns to green",
                [75.0, 8.0, 60.0],
                [0.0, -8.0, 0.5],
                &[Greener],
            ),
            (
                "a green loses its yellow",
                [50.0, -30.0, 20.0],
                [0.0, -2.0, -6.0],
                &[Bluer],
            ),
            (
                "a blue turns to green",
                [40.0, 0.0, -35.0],
                [0.0, -7.0, 0.0],
                &[Greener],
            ),
            (
                "a blue fades",
                [40.0, -5.0, -35.0],
                [5.0, 1.0, 8.0],
                &[Lighter, Duller],
            ),
            (
                "an ochre gets more vivid",
                [60.0, 15.0, 40.0],
                [0.0, 2.4, 6.4],
                &[MoreVivid],
            ),
            (
                "all three, the biggest first",
                [50.0, 30.0, 0.0],
                [9.0, -6.0, 5.0],
                &[Lighter, Yellower, Duller],
            ),
            (
                "a white yellows",
                [94.0, -0.5, 2.0],
                [-1.0, -0.3, 6.0],
                &[Yellower],
            ),
            (
                "a white yellows and darkens",
                [94.0, -0.5, 2.0],
                [-4.0, 0.2, 6.0],
                &[Yellower, Darker],
            ),
            (
                "a cream bleaches",
                [85.0, 1.0, 10.0],
                [0.5, 0.0, -5.0],
                &[Bluer],
            ),
            (
                "a grey goes pink",
                [55.0, 0.0, 0.0],
                [0.0, 4.0, 0.2],
                &[Redder],
            ),
            (
                "a grey goes blue and green",
                [55.0, 0.0, 0.0],
                [0.0, -3.0, -4.0],
                &[Greener, Bluer],
            ),
            (
                "a dark brown turns grey",
                [30.0, 8.0, 9.0],
                [0.5, -5.0, -6.0],
                &[Duller],
            ),
            (
                "a blue becomes grey",
                [45.0, -2.0, -20.0],
                [1.0, 2.0, 20.0],
                &[Duller],
            ),
        ];
        for (name, start, change, expected) in table {
            assert_eq!(said(start, change, FINE), expected, "{name}");
        }
    }

    #[test]
    fn nothing_is_said_unless_significant() {
        let change = Vector3::new(6.0, -6.0, -4.0);
        let start = Lab::new(40.0, 30.0, 20.0);
        assert!(words(start, change, &Matrix::identity(), false).is_empty());
    }

    #[test]
    fn a_part_within_its_own_uncertainty_is_not_said() {
        let (start, change) = ([40.0, 30.0, 20.0], [6.0, -6.0, -4.0]);
        assert_eq!(said(start, change, [4.0, 0.2, 0.2]), [Duller]);
        assert_eq!(said(start, change, [0.2, 5.0, 5.0]), [Lighter]);
        // At 1.96 standard deviations it begins.
        assert_eq!(said(start, [1.9, 0.0, 0.0], [1.0; 3]), []);
        assert_eq!(said(start, [2.0, 0.0, 0.0], [1.0; 3]), [Lighter]);
        // Along the hue the noise of a* and b* together counts: here they cancel.
        let along = Vector3::new(0.0, 3.0, 2.0).normalize();
        let across = Vector3::new(0.0, -along.z, along.y);
        let covariance = Matrix::identity() * 0.01 + across * across.transpose() * 25.0;
        let duller = words(Lab::new(40.0, 30.0, 20.0), along * -4.0, &covariance, true);
        assert_eq!(duller, [Duller]);
    }

    #[test]
    fn a_part_that_is_no_tangible_share_is_not_said() {
        // One unit of lightness, far beyond its uncertainty.
        assert_eq!(said([50.0, 30.0, 0.0], [1.0, -20.0, 0.0], FINE), [Duller]);
        assert_eq!(said([50.0, 30.0, 0.0], [1.0, -0.4, 0.0], FINE), [Lighter]);
    }

    #[test]
    fn every_word_is_distinct_and_odd_input_says_something_or_nothing() {
        let all = [
            Lighter, Darker, Duller, MoreVivid, Redder, Yellower, Greener, Bluer,
        ];
        let mut names = all.map(Word::name);
        names.sort_unstable();
        assert!(names.windows(2).all(|it| it[0] != it[1]));
        for change in [[0.0; 3], [f64::NAN; 3], [1e9, -1e9, 1e9]] {
            for start in [[0.0; 3], [50.0, 30.0, 0.0], [100.0, 0.0, 0.0]] {
                assert!(said(start, change, FINE).len() <= 3);
            }
        }
        assert!(said([50.0, 0.0, 0.0], [0.0; 3], [0.0; 3]).is_empty());
        assert!(said([50.0, 0.0, 0.0], [f64::NAN; 3], FINE).is_empty());
    }
}
