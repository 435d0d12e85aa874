//! From shares of full scale to the numbers that a sensor sends: levels, masked pixels around the picture, companding.

use super::directory::count;
use super::{Black, DngSpec, RawLayout};
use crate::random::stream;
use crate::raw::SensorImage;
use crate::surface::single;
use rand::Rng;
use rand_distr::StandardNormal;

/// Numbers of the whole sensor, as stored.
pub(super) struct Codes {
    /// Pixels a row, masked ones too.
    pub width: usize,
    /// Samples a pixel.
    pub samples: usize,
    /// Row by row.
    pub values: Vec<u16>,
}

/// How numbers and light go together.
pub(super) struct Levels {
    /// What darkness gives in each cell of 2 × 2 pixels row by row, or in each sample of a pixel.
    pub black: Vec<f64>,
    /// What saturation gives.
    pub white: u16,
    /// What each stored code stands for, if not for itself.
    pub table: Option<Vec<u16>>,
}

/// How the blacks of filters differ, in codes.
const UNEVEN: [f64; 4] = [0.0, 1.5, 2.25, -0.75];

/// Bits that companding saves.
const SAVED_BITS: u8 = 4;

impl Levels {
    pub(super) fn of(spec: &DngSpec) -> Self {
        // Companded codes stand for finer ones, of 16 bits at most.
        let bits = if spec.linearization {
            (spec.bits + SAVED_BITS).min(16)
        } else {
            spec.bits
        };
        let white = u16::MAX >> (16 - bits);
        // A sixteenth of the range, as sensors have it (common practice, no source): the dark noise fits below it.
        let base = f64::from(1u32 << (bits - 4));
        let parts = match spec.layout {
            RawLayout::Cfa => 4,
            RawLayout::Linear => 3,
        };
        let black = (0..parts)
            .map(|i| match spec.black {
                Black::Same => base,
                Black::Uneven => base + UNEVEN[i],
            })
            .collect();
        let last = f64::from(u16::MAX >> (16 - spec.bits));
        let table = spec.linearization.then(|| {
            (0..=u16::MAX >> (16 - spec.bits))
                .map(|code| {
                    let share = f64::from(code) / last;
                    // Steps as fine as noise: small in the dark, wide in the light.
                    rounded(single(f64::from(white) * share * (0.25 + 0.75 * share)))
                })
                .collect()
        });
        Self {
            black,
            white,
            table,
        }
    }

    /// The code of a share of full scale. Saturated pixels are at white, whatever their black.
    fn code(&self, share: f32, part: usize) -> u16 {
        let largest = self.black.iter().copied().fold(0.0, f64::max);
        // DNG 1.4, chapter 5, "Rescaling": the range is that above the largest black.
        let linear = if share >= 1.0 {
            self.white
        } else {
            let range = single(f64::from(self.white) - largest);
            rounded(single(self.black[part]) + share * range).min(self.white)
        };
        self.table
            .as_ref()
            .map_or(linear, |table| nearest(table, linear))
    }
}

/// The index of a rising table's entry that is nearest to a value.
fn nearest(table: &[u16], value: u16) -> u16 {
    let above = table.partition_point(|it| *it < value).min(table.len() - 1);
    let below = above.saturating_sub(1);
    let index = if table[above].abs_diff(value) < value.abs_diff(table[below]) {
        above
    } else {
        below
    };
    count(index)
}

/// A code as converters give it: nothing below 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates"
)]
fn rounded(value: f32) -> u16 {
    value.round() as u16
}

impl Codes {
    pub(super) fn of(image: &SensorImage, spec: &DngSpec, levels: &Levels) -> Self {
        let [top, left, bottom, right] = spec.masked.map(|it| it as usize);
        let (width, height) = (image.width as usize, image.height as usize);
        let samples = spec.samples();
        let linear = (spec.layout == RawLayout::Linear).then(|| image.demosaiced());
        let dark = single(image.read_noise);
        let all = left + width + right;
        let mut values = Vec::with_capacity(all * (top + height + bottom) * samples);
        for y in 0..top + height + bottom {
            // Rows of the picture have other streams of the same seed.
            let mut rng = stream(image.truth.spec.shot_seed, (1 << 32) + y as u64);
            for x in 0..all {
                let lit = (left..left + width).contains(&x) && (top..top + height).contains(&y);
                let at = lit.then(|| (y - top) * width + (x - left));
                for sample in 0..samples {
                    let share = match (at, &linear) {
                        (Some(at), None) => image.values[at],
                        (Some(at), Some(linear)) => linear[at][sample],
                        (None, _) => dark * rng.sample::<f32, _>(StandardNormal),
                    };
                    let part = if linear.is_some() {
                        sample
                    } else {
                        // Patterns begin where the lit pixels do.
                        2 * ((y + top) % 2) + (x + left) % 2
                    };
                    values.push(levels.code(share, part));
                }
            }
        }
        Self {
            width: all,
            samples,
            values,
        }
    }
}
