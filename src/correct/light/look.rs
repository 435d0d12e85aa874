//! What one region shows of the light: its level, and how it slopes.

use super::LightField;
use crate::correct::surroundings::Surroundings;
use crate::correct::tone::{ToneCurve, Value};
use crate::sample::{Block, Region, float};
use nalgebra::{Matrix2, Vector2};

/// What surface a region is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::correct) enum Surface {
    /// The substrate: one material everywhere, so that its levels can be compared.
    Substrate,
    /// Substrate under the mask's strip: one material of its own once the rest has aged.
    Sheltered,
    /// A zone of a card.
    Card,
    /// A patch or half.
    Patch,
}

/// A region's look at the light, before any tone curve is undone.
#[derive(Clone, Copy, Debug)]
pub(in crate::correct) struct Look {
    pub(super) surface: Surface,
    /// Centre, panel millimetres.
    pub(super) mm: [f64; 2],
    /// Centre, stored pixels.
    pub(super) px: [f64; 2],
    /// Mean linear value of the file, a channel.
    pub(super) rgb: [Value; 3],
    pub(super) slope: Option<Slope>,
    /// How light its surroundings are, log, and how that changes a millimetre.
    pub(super) around: (f64, Vector2<f64>),
}

/// How the log of the linear values changes over a region.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slope {
    /// A millimetre, a channel.
    log: [Vector2<f64>; 3],
    /// Covariance, if the region's parts err independently.
    covariance: Matrix2<f64>,
}

/// A look under a tone curve: values of log light.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// A channel.
    pub(super) level: [f64; 3],
    /// Its change by the file's log values, of the luminance.
    pub(super) stretch: f64,
    /// A millimetre, a channel, with their covariance.
    pub(super) slope: Option<([Vector2<f64>; 3], Matrix2<f64>)>,
}

/// Blocks with a channel below this say little of the light.
const LEAST_LIGHT: f64 = 0.004;
/// Fewest parts whose means show a slope and how sure it is.
const LEAST_PARTS: usize = 8;
/// Standard deviation of log light of a part's mean that is never undercut: quantisation, compression.
const LEAST_SD: f64 = 0.002;

/// Green carries most of the luminance and the least noise.
pub(super) const LUMINANCE: [f64; 3] = [0.25, 0.65, 0.1];

pub(in crate::correct) fn luminance(log: [f64; 3]) -> f64 {
    log.iter()
        .zip(LUMINANCE)
        .map(|(it, share)| it * share)
        .sum()
}

impl Surface {
    /// Whether it is bare board, whatever sun it had.
    pub(in crate::correct) fn is_substrate(self) -> bool {
        matches!(self, Self::Substrate | Self::Sheltered)
    }
}

impl Look {
    /// None where nothing is light enough.
    pub(in crate::correct) fn of(
        surface: Surface,
        region: &Region,
        surroundings: Option<&Surroundings>,
    ) -> Option<Self> {
        let bright = |it: &&Block| it.rgb.iter().all(|v| *v > LEAST_LIGHT);
        let blocks: Vec<&Block> = region.blocks.iter().filter(bright).collect();
        if blocks.is_empty() {
            return None;
        }
        let mean = |value: &dyn Fn(&Block) -> f64| {
            blocks.iter().map(|it| value(it)).sum::<f64>() / float(blocks.len())
        };
        let mm = [0, 1].map(|i| mean(&|it| it.mm[i]));
        let around = surroundings.map_or_else(Default::default, |it| around(it, &blocks, mm));
        Some(Self {
            surface,
            mm,
            around,
            px: [0, 1].map(|i| mean(&|it| it.px[i])),
            rgb: [0, 1, 2].map(|c| Value::of(mean(&|it| it.rgb[c]))),
            slope: Slope::of(&parts(&blocks), mm),
        })
    }

    pub(in crate::correct) fn surface(&self) -> Surface {
        self.surface
    }

    /// Centre, panel millimetres.
    pub(in crate::correct) fn mm(&self) -> [f64; 2] {
        self.mm
    }

    /// Log light beyond what a field says, up to the surface's own level.
    pub(in crate::correct) fn beyond(&self, tone: &ToneCurve, light: &LightField) -> f64 {
        let expected = light.at(self.mm).map(f64::ln);
        luminance(self.seen(tone).level) - luminance(expected)
    }

    pub(super) fn seen(&self, tone: &ToneCurve) -> Seen {
        let undone = self.rgb.each_ref().map(|it| tone.undo_value(it));
        // d log light by d log value.
        let steeper = [0, 1, 2].map(|c| undone[c].1 * self.rgb[c].linear() / undone[c].0.max(1e-6));
        Seen {
            level: undone.map(|it| it.0.max(1e-6).ln()),
            stretch: luminance(steeper).max(1e-3),
            slope: self.slope.map(|it| {
                let log = [0, 1, 2].map(|c| it.log[c] * steeper[c]);
                (log, it.covariance * luminance(steeper).powi(2))
            }),
        }
    }
}

/// The level and the slope of the surroundings over a region.
fn around(surroundings: &Surroundings, blocks: &[&Block], centre: [f64; 2]) -> (f64, Vector2<f64>) {
    let n = float(blocks.len());
    let seen: Vec<(Vector2<f64>, f64)> = blocks
        .iter()
        .map(|it| {
            let place = Vector2::new(it.mm[0] - centre[0], it.mm[1] - centre[1]);
            (place, surroundings.at(it.px))
        })
        .collect();
    let level = seen.iter().map(|it| it.1).sum::<f64>() / n;
    let spread: Matrix2<f64> = seen.iter().map(|it| it.0 * it.0.transpose()).sum();
    let pull: Vector2<f64> = seen.iter().map(|it| it.0 * (it.1 - level)).sum();
    let slope = spread
        .try_inverse()
        .map_or_else(Vector2::zeros, |it| it * pull);
    (level, slope)
}

/// A region as at most 5 × 5 means: place and log of the linear values.
fn parts(blocks: &[&Block]) -> Vec<([f64; 2], [f64; 3])> {
    let bounds = [0, 1].map(|axis| {
        let values = blocks.iter().map(|it| it.mm[axis]);
        (
            values.clone().fold(f64::INFINITY, f64::min),
            values.fold(f64::NEG_INFINITY, f64::max),
        )
    });
    let rim = pitch(bounds.map(|(low, high)| high - low), float(blocks.len())) / 2.0;
    let fifth = |mm: [f64; 2], axis: usize| {
        let (low, high) = bounds[axis];
        // From rim to rim, a block's middle is at an odd share of twice their number, never at a fifth: between outer middles, those of 6,
        // 11 or 16 blocks in a row are, and the last digit of a map decided which part they are of.
        let share = (mm[axis] - low + rim) / (high - low + 2.0 * rim).max(1e-9);
        let steps = [0.2, 0.4, 0.6, 0.8].iter();
        steps.filter(|it| share > **it).count()
    };
    let mut sums = [(0_usize, [0.0; 5]); 25];
    for it in blocks {
        let (n, sum) = &mut sums[5 * fifth(it.mm, 1) + fifth(it.mm, 0)];
        *n += 1;
        let values = [it.mm[0], it.mm[1], it.rgb[0], it.rgb[1], it.rgb[2]];
        for (to, value) in sum.iter_mut().zip(values) {
            *to += value;
        }
    }
    let filled = sums.iter().filter(|it| it.0 > 0);
    filled
        .map(|(n, sum)| {
            let [x, y, r, g, b] = sum.map(|it| it / float(*n));
            ([x, y], [r.ln(), g.ln(), b.ln()])
        })
        .collect()
}

/// Distance from block to block where `n` of them in a grid have their outer middles so far apart: (w + p) (h + p) = n p².
fn pitch([w, h]: [f64; 2], n: f64) -> f64 {
    let more = (n - 1.0).max(1.0);
    (w + h + ((w + h).powi(2) + 4.0 * more * w * h).sqrt()) / (2.0 * more)
}

impl Slope {
    /// Least squares over the parts of a region.
    fn of(parts: &[([f64; 2], [f64; 3])], centre: [f64; 2]) -> Option<Self> {
        if parts.len() < LEAST_PARTS {
            return None;
        }
        let n = float(parts.len());
        let place = |mm: [f64; 2]| Vector2::new(mm[0] - centre[0], mm[1] - centre[1]);
        let middle = parts.iter().map(|it| place(it.0)).sum::<Vector2<f64>>() / n;
        let level = [0, 1, 2].map(|c| parts.iter().map(|it| it.1[c]).sum::<f64>() / n);
        let mut spread = Matrix2::zeros();
        let mut pull = [Vector2::zeros(); 3];
        for (mm, log) in parts {
            let d = place(*mm) - middle;
            spread += d * d.transpose();
            for c in 0..3 {
                pull[c] += d * (log[c] - level[c]);
            }
        }
        let inverse = spread.try_inverse()?;
        let log = pull.map(|it| inverse * it);
        let left: f64 = parts
            .iter()
            .map(|(mm, seen)| {
                let d = place(*mm) - middle;
                luminance([0, 1, 2].map(|c| seen[c] - level[c] - d.dot(&log[c]))).powi(2)
            })
            .sum();
        let variance = (left / (n - 3.0)).max(LEAST_SD * LEAST_SD);
        Some(Self {
            log,
            covariance: inverse * variance,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_digit_of_a_place_moves_no_block_to_another_part() {
        for (columns, rows) in [(16_u32, 16_u32), (6, 6), (11, 4), (3, 16), (1, 21)] {
            let grid = |jitter: f64| -> Vec<usize> {
                let blocks: Vec<Block> = (0..columns * rows)
                    .map(|i| {
                        // Some a little to the one side, some to the other.
                        let off = jitter * f64::from(i * 7919 % 13).sin();
                        let mm = [f64::from(i % columns) + off, f64::from(i / columns) - off];
                        Block {
                            mm,
                            px: mm,
                            rgb: [0.5; 3],
                            variance: [0.0; 3],
                            n: 16,
                        }
                    })
                    .collect();
                let all: Vec<&Block> = blocks.iter().collect();
                let rounded = |it: f64| whole(it * 1e3);
                parts(&all)
                    .iter()
                    .flat_map(|it| [rounded(it.0[0]), rounded(it.0[1])])
                    .collect()
            };
            assert_eq!(grid(0.0), grid(1e-7), "{columns} × {rows}");
        }
    }

    fn whole(it: f64) -> usize {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "small and positive"
        )]
        let out = (it + 0.5) as usize;
        out
    }
}
