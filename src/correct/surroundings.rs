//! Local tone mapping: what a camera does to light place by place, by how light the surroundings are.
//!
//! Phones lift what lies in a dark part of the picture and hold back what lies in a pale part. No one curve undoes that. But one
//! surface is one material: where the light that the substrate shows from place to place, or any surface across itself, goes with how light
//! its surroundings are, the camera made the difference. The fit of the light finds how strongly, beside the light itself (`light/solve`);
//! here is what the surroundings are, and what is left open. What is there beyond doubt is taken out with the light; the rest widens what is
//! stated.

use super::allowance::{LOCAL_TONE_LEFT, USUAL_LOCAL_TONE};
use crate::sample::{Block, Overview, Samples, float};
use serde::{Deserialize, Serialize};

/// What the photo shows of local tone mapping.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LocalTone {
    /// Log light that a surface loses with each unit of log light of its surroundings, as the photo alone shows it: positive where the
    /// camera lifts what is dark.
    pub strength: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Log light between the palest and the darkest surroundings of what showed it.
    pub range: f64,
}

/// By how many standard deviations a strength must differ from none to be called seen. Of the study's photos (`cargo bench --bench
/// allowances -- 100 800 local`) 3 in 100 come so far without local tone mapping; with a strength of 0.05, 0.085, 0.12 and 0.2, 36, 59, 67 and
/// 81 do.
const SEEN: f64 = 2.5;

impl LocalTone {
    /// Whether it is there beyond doubt.
    #[must_use]
    pub fn is_seen(&self) -> bool {
        self.strength > SEEN * self.sd
    }

    /// Share of light by which substrate among dark surfaces is lighter than among pale ones, and its standard deviation.
    #[must_use]
    pub fn lift(&self) -> [f64; 2] {
        [self.strength, self.sd].map(|it| it * self.range)
    }

    /// Root mean square of the strength that is left: of what is seen, which is taken out, its doubt; else of what may be there, what is usual
    /// taken into account.
    fn left(seen: Option<&Self>) -> f64 {
        let Some(it) = seen else {
            return USUAL_LOCAL_TONE;
        };
        if it.is_seen() {
            return it.sd.hypot(FORM_UNKNOWN * it.strength);
        }
        let usual = USUAL_LOCAL_TONE * USUAL_LOCAL_TONE;
        let variance = it.sd * it.sd;
        let share = usual / (usual + variance);
        (share * it.strength).hypot((share * variance).sqrt())
    }
}

/// Share of a strength that is taken out which may be wrong somewhere: how far a camera looks around and what it takes for light is not known.
/// In the study (`cargo bench --bench allowances -- 100 800 local`) a fifth to a half of what local tone mapping moves was left.
const FORM_UNKNOWN: f64 = 0.35;

/// How far surroundings reach, as a share of the picture's diagonal: a patch or two. Common practice, no source.
const REACH: f64 = 0.07;
/// How many reaches around a place are looked at.
const FAR: f64 = 2.5;

/// How light the surroundings are, all over the photo.
#[derive(Clone, Debug)]
pub(super) struct Surroundings {
    /// Side of a cell, stored pixels.
    side: f64,
    size: [usize; 2],
    /// Log light, row by row.
    logs: Vec<f64>,
}

/// What local tone mapping leaves open in a photo.
pub(super) struct Locally<'a> {
    surroundings: Option<&'a Surroundings>,
    /// Log light around the references.
    references: f64,
    left: f64,
}

impl<'a> Locally<'a> {
    /// In a file that no camera has rendered.
    pub(super) fn none() -> Self {
        Self {
            surroundings: None,
            references: 0.0,
            left: 0.0,
        }
    }

    /// `references` are those that readings are relative to, with their weights.
    pub(super) fn of<'b>(
        surroundings: &'a Surroundings,
        seen: Option<&LocalTone>,
        references: impl Iterator<Item = (&'b [Block], f64)>,
    ) -> Self {
        let (mut sum, mut all) = (0.0, 0.0);
        for (blocks, weight) in references {
            sum += weight * surroundings.over(blocks);
            all += weight;
        }
        Self {
            surroundings: Some(surroundings),
            references: sum / all.max(1e-12),
            left: LocalTone::left(seen),
        }
    }

    /// Standard deviation of log light that it leaves on a region, and the part of it that depends on the surroundings.
    pub(super) fn doubt(&self, blocks: &[Block]) -> [f64; 2] {
        let Some(surroundings) = self.surroundings else {
            return [0.0; 2];
        };
        let apart = self.left * (surroundings.over(blocks) - self.references);
        [apart.hypot(LOCAL_TONE_LEFT), apart.abs()]
    }
}

impl Surroundings {
    /// None where the photo is too small to tell.
    pub(super) fn of(samples: &Samples) -> Option<Self> {
        let Overview { size, side, logs } = &samples.overview;
        let [width, height] = *size;
        if logs.is_empty() || logs.len() != width * height {
            return None;
        }
        let diagonal = float(samples.size[0]).hypot(float(samples.size[1]));
        let reach = REACH * diagonal / side;
        let rows = blurred(logs, reach, [width, height], [1, width]);
        let logs = blurred(&rows, reach, [height, width], [width, 1]);
        Some(Self {
            side: *side,
            size: *size,
            logs,
        })
    }

    /// Log light around a place in stored pixels, between the cells' middles.
    pub(super) fn at(&self, px: [f64; 2]) -> f64 {
        let [width, height] = self.size;
        let place = px.map(|it| (it / self.side - 0.5).max(0.0));
        let low = [
            steps(place[0]).min(width - 1),
            steps(place[1]).min(height - 1),
        ];
        let high = [(low[0] + 1).min(width - 1), (low[1] + 1).min(height - 1)];
        let share = [0, 1].map(|axis| (place[axis] - float(low[axis])).clamp(0.0, 1.0));
        let along = |y: usize| {
            let (left, right) = (
                self.logs[y * width + low[0]],
                self.logs[y * width + high[0]],
            );
            left + (right - left) * share[0]
        };
        let (above, below) = (along(low[1]), along(high[1]));
        above + (below - above) * share[1]
    }

    /// The mean over a region's blocks.
    fn over(&self, blocks: &[Block]) -> f64 {
        blocks.iter().map(|it| self.at(it.px)).sum::<f64>() / float(blocks.len().max(1))
    }
}

/// A small number of cells; 0 for what is none.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rounded down on purpose; a picture has a few dozen cells, and the cast saturates"
)]
fn steps(cells: f64) -> usize {
    cells.max(0.0) as usize
}

/// Blurs along one axis of a map by a normal curve: `count` are the cells along it and the lines across, `stride` their distances. What
/// lies beyond the edge doesn't count.
fn blurred(from: &[f64], reach: f64, count: [usize; 2], stride: [usize; 2]) -> Vec<f64> {
    let far = steps(FAR * reach);
    let weights: Vec<f64> = (0..=far)
        .map(|it| (-0.5 * (float(it) / reach).powi(2)).exp())
        .collect();
    let mut out = vec![0.0; from.len()];
    for line in 0..count[1] {
        for i in 0..count[0] {
            let (mut sum, mut all) = (0.0, 0.0);
            for k in i.saturating_sub(far)..count[0].min(i + far + 1) {
                let weight = weights[k.abs_diff(i)];
                sum += weight * from[k * stride[0] + line * stride[1]];
                all += weight;
            }
            out[i * stride[0] + line * stride[1]] = sum / all;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_photo_shows_and_what_is_usual_are_weighed() {
        let seen = |strength, sd| LocalTone {
            strength,
            sd,
            range: 1.0,
        };
        assert!((LocalTone::left(None) - USUAL_LOCAL_TONE).abs() < 1e-12);
        // What is seen is taken out and leaves its doubt, what is hardly seen may be as usual.
        let left = LocalTone::left(Some(&seen(0.2, 0.01)));
        assert!((left - 0.01_f64.hypot(0.2 * FORM_UNKNOWN)).abs() < 1e-12);
        let hardly = LocalTone::left(Some(&seen(0.2, 1.0)));
        assert!((hardly - USUAL_LOCAL_TONE).abs() < 1e-3, "{hardly}");
        assert!(seen(0.1, 0.02).is_seen() && !seen(0.05, 0.02).is_seen());
        assert!(!seen(-0.1, 0.02).is_seen(), "no camera does that");
    }

    #[test]
    fn surroundings_of_an_edge_lie_between_and_of_one_tone_are_that_tone() {
        let map = |value: fn(usize) -> f64| {
            let logs: Vec<f64> = (0..40 * 30).map(|i| value(i % 40)).collect();
            let rows = blurred(&logs, 3.0, [40, 30], [1, 40]);
            Surroundings {
                side: 10.0,
                size: [40, 30],
                logs: blurred(&rows, 3.0, [30, 40], [40, 1]),
            }
        };
        let even = map(|_| -1.5);
        assert!((even.at([3.0, 299.0]) + 1.5).abs() < 1e-12);
        let edge = map(|x| if x < 20 { -2.0 } else { -1.0 });
        assert!((edge.at([200.0, 150.0]) + 1.5).abs() < 1e-9);
        assert!(edge.at([20.0, 150.0]) < -1.99 && edge.at([380.0, 150.0]) > -1.01);
        // One reach from the edge, 84 % of a normal curve's area lies on this side.
        let near = edge.at([230.0, 150.0]);
        assert!((near + 1.0 + 0.16).abs() < 0.01, "{near}");
    }
}
