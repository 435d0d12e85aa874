//! The scale of a board's differences: what all of its photos, each by its own cards, say of the masked halves.
//!
//! Masked halves carry the scale of dose 0 to every later photo, with whatever is off in it: a camera that was too vivid then would make every
//! change too large for good. Each later photo has a word on the same colours, in another light and mostly by another camera; what their mean says of
//! how colours differ among each other is nearer to the truth than any of them.

mod relit;

use super::difference;
use super::history::{Board, Exposure};
use super::moved::Moves;
use crate::colour::Matrix;
use crate::record::{PhotoRecord, ReferenceEntry};
use crate::reference::MASKED_HALF_OF;
use crate::sample::float;
use nalgebra::Vector3;
use relit::Relit;
use std::collections::BTreeMap;

/// From differences on the scale of dose 0 to what all photos agree on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scale {
    /// What all photos agree on that dose 0 was read with wrongly.
    relit: Relit,
    /// Relative error of a difference in the plane of a* and b* that is left, as a standard deviation in its own direction.
    sd: f64,
}

// The relative errors that follow were measured when the scale was a matrix in CIELAB, whose errors were a little larger.

/// Relative error of differences in a* and b* on the scale of one photo that has a grey card alone.
const ONE_CARD: f64 = 0.13;
/// What is left however many photos agree, in the direction of the change in a* and b* and across it: a change is in a part of the spectrum, of which
/// the camera sees another share than eyes do, and other pigments don't tell. This and what follows are root mean squares over changes of more than 4 on
/// 24 boards of the study split (0.19 with [`ONE_CARD`] over seven photos, 0.10, 0.083, 0.042 and 0.073):
/// `cargo bench --bench fade -- 24 72500000 1200 study changes`.
const OF_A_SPECTRUM: f64 = 0.18;
const ACROSS_THE_CHANGE: f64 = 0.1;
/// Share of the variance of a patch's relative errors that all doses have in common: what its pigment hides of a change from a camera it hides from most.
pub(super) const SHARED: f64 = 0.8;
/// Relative error of differences in lightness, which all channels see.
const OF_LIGHTNESS: f64 = 0.08;
/// What a difference in a* and b* makes of lightness, and the other way round.
const INTO_LIGHTNESS: f64 = 0.04;
const OUT_OF_LIGHTNESS: f64 = 0.07;
/// What a difference is never taken to be less or more than, of what it seems.
const SLOPES: (f64, f64) = (0.5, 2.0);
/// Standard deviation of what a word leaves of a single colour, beside its scale, ΔE00. Half and twice as much moved the mean error of the study's
/// changes by 0.4 % at most.
const SINGLE: f64 = 2.5;
/// No colour has a coordinate as large: what has is a mistake of the record.
const MOST: f64 = 300.0;
/// Fewest masked halves that show a scale.
const ENOUGH: usize = 8;

/// How much a photo's word on colours counts, by how many colours its cards state: the error of differences with a chart is about a third of that with
/// a grey card, so that its square is a tenth.
fn say(stated: usize) -> f64 {
    match stated {
        0..3 => 1.0,
        3..8 => 1.5,
        _ => 10.0,
    }
}

impl Scale {
    /// The scale of dose 0 as it is.
    fn of_one(say: f64) -> Self {
        Self {
            relit: Relit::none(),
            sd: OF_A_SPECTRUM.hypot(ONE_CARD / say.sqrt()),
        }
    }

    /// A covariance on this scale, of a colour (L*, a*, b*).
    pub(super) fn carry(&self, colour: &Vector3<f64>, covariance: &Matrix) -> Matrix {
        let slope = self.relit.slope(colour);
        let carried = slope * covariance * slope.transpose();
        // No more, and no less, than a change may be carried.
        let size = carried.trace() / covariance.trace();
        if size.is_finite() && size > 0.0 {
            carried * (size.clamp(SLOPES.0.powi(2), SLOPES.1.powi(2)) / size)
        } else {
            *covariance
        }
    }

    /// A change on this scale, from a colour (L*, a*, b*).
    pub(super) fn of(&self, colour: &Vector3<f64>, change: &Vector3<f64>) -> Vector3<f64> {
        let carried = self.relit.at(&(colour + change)) - self.relit.at(colour);
        let slope = carried.norm() / change.norm();
        if slope.is_finite() && slope > 0.0 {
            carried * (slope.clamp(SLOPES.0, SLOPES.1) / slope)
        } else {
            *change
        }
    }

    /// Covariance of a change on this scale that is left of the scale's own error.
    pub(super) fn left(&self, change: &Vector3<f64>) -> Matrix {
        let (light, hue) = (change.x.abs(), change.y.hypot(change.z));
        let of_light = (OF_LIGHTNESS * light).hypot(INTO_LIGHTNESS * hue).powi(2);
        let out = OUT_OF_LIGHTNESS * light;
        let along = (self.sd * hue).hypot(out).powi(2);
        let across = (ACROSS_THE_CHANGE * hue).hypot(out).powi(2);
        let mut left = Matrix::from_diagonal(&Vector3::new(of_light, across, across));
        if hue > 0.0 {
            let direction = Vector3::new(0.0, change.y, change.z) / hue;
            left += direction * direction.transpose() * (along - across);
        }
        left
    }

    /// Relative standard uncertainty of L*, a*, b* that all changes of a patch share.
    pub(super) fn shared(&self) -> [f64; 3] {
        [OF_LIGHTNESS, self.sd, self.sd].map(|it| it * SHARED.sqrt())
    }
}

/// How many colours a photo's references state.
fn stated(record: &PhotoRecord) -> usize {
    let references = record.photo.correction.references.iter();
    let known = |it: &&ReferenceEntry| it.alone.is_none() && !it.name.starts_with(MASKED_HALF_OF);
    references.filter(known).count()
}

/// An exposure's own word on masked halves, with how much it counts. A photo in which a half glares, or can't be read, has none on it.
fn word<'a>(exposure: &Exposure<'a>) -> (f64, BTreeMap<&'a str, Vector3<f64>>) {
    let mut sums: BTreeMap<&str, (Vector3<f64>, usize)> = BTreeMap::new();
    let mut count = f64::INFINITY;
    for record in &exposure.photos {
        count = count.min(say(stated(record)));
        for it in &record.photo.correction.references {
            if let (Some(patch), Some(alone)) = (it.name.strip_prefix(MASKED_HALF_OF), it.alone)
                && exposure.pair(record, patch).is_some()
            {
                let sum = sums.entry(patch).or_insert((Vector3::zeros(), 0));
                sum.0 += Vector3::from(alone);
                sum.1 += 1;
            }
        }
    }
    let means = sums
        .into_iter()
        .map(|(patch, (sum, n))| (patch, sum / float(n)));
    (count, means.collect())
}

/// The scale of a board.
pub(super) fn of(board: &Board<'_>, moves: &Moves) -> Scale {
    let Some(start) = board.start() else {
        return Scale::of_one(1.0);
    };
    let own = (start.photos.iter())
        .map(|it| say(stated(it)))
        .fold(f64::INFINITY, f64::min);
    let mut total = own;
    let fresh = board.panel.patches.iter().filter_map(|it| {
        let there = difference::of(&start.pairs(&it.id))?;
        Some((it.id.as_str(), there.halves[0]))
    });
    let fresh: BTreeMap<&str, Vector3<f64>> = fresh.collect();
    let mut sums: BTreeMap<&str, (Vector3<f64>, f64)> = BTreeMap::new();
    for exposure in board.later() {
        let (count, mut word) = word(exposure);
        word.retain(|patch, colour| {
            let is_colour = colour.iter().all(|it| it.abs() < MOST);
            is_colour && !moves.own.contains(*patch) && fresh.contains_key(patch)
        });
        // So few are all balance: they would say that nothing is off, as loudly as others that show it.
        if word.len() < ENOUGH {
            continue;
        }
        total += count;
        // A photo's balance is no scale, and would be one for the halves that another photo has no word on.
        let off = word.iter().map(|(patch, it)| it - fresh[patch]);
        let balance = off.sum::<Vector3<f64>>() / float(word.len());
        for (patch, colour) in word {
            let sum = sums.entry(patch).or_insert((Vector3::zeros(), 0.0));
            sum.0 += (colour - balance) * count;
            sum.1 += count;
        }
    }
    let pairs: Vec<(Vector3<f64>, Vector3<f64>)> = sums
        .into_iter()
        .map(|(patch, (sum, count))| {
            let at_start = fresh[patch];
            (at_start, (sum + at_start * own) / (count + own))
        })
        .collect();
    // No photo has a word.
    if pairs.is_empty() {
        return Scale::of_one(own);
    }
    Scale {
        relit: Relit::fit(&pairs, SINGLE / total.sqrt()),
        sd: OF_A_SPECTRUM.hypot(ONE_CARD / total.sqrt()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_change_is_carried_beyond_what_a_scale_can_be() {
        let paint = |i: u8| Vector3::new(25.0 + 4.0 * f64::from(i), f64::from(i * 7 % 16), 8.0);
        let pressed = |it: Vector3<f64>| (it, Vector3::new(40.0 + 0.2 * (it.x - 40.0), it.y, it.z));
        let pairs: Vec<_> = (0..16).map(|i| pressed(paint(i))).collect();
        let scale = Scale {
            relit: Relit::fit(&pairs, 0.3),
            sd: 0.1,
        };
        for (colour, change) in [
            (Vector3::new(50.0, 5.0, 5.0), Vector3::new(4.0, 1.0, 0.0)),
            (Vector3::new(500.0, 0.0, 0.0), Vector3::new(1.0, 0.0, 0.0)),
            (
                Vector3::new(5.0, 80.0, -120.0),
                Vector3::new(0.0, 0.0, 60.0),
            ),
            (Vector3::new(50.0, 5.0, 5.0), Vector3::zeros()),
        ] {
            let share = scale.of(&colour, &change).norm() / change.norm().max(1e-12);
            let rounding = 1e-12;
            assert!(
                share <= SLOPES.1 + rounding
                    && (share >= SLOPES.0 - rounding || change.norm() < 1e-9),
                "{share}"
            );
            let carried = scale.carry(&colour, &Matrix::identity());
            let (least, most) = (SLOPES.0.powi(2), SLOPES.1.powi(2));
            let range = 3.0 * least - 1e-9..=3.0 * most + 1e-9;
            assert!(range.contains(&carried.trace()), "{carried}");
            // Of lightness alone, which these photos press together.
            let light = Matrix::from_diagonal(&Vector3::new(1.0, 0.0, 0.0));
            let pressed = scale.carry(&colour, &light).trace();
            assert!((least - 1e-9..=most + 1e-9).contains(&pressed), "{pressed}");
            assert!(carried.iter().all(|it| it.is_finite()), "{carried}");
        }
    }
}
