//! The sensor: noise, colour filters, demosaicing; and the blur of lens and sharpening.

use crate::random::stream;
use crate::scene::Scene;
use crate::surface::single;
use rand::Rng;
use rand_distr::StandardNormal;

/// A band with its margin: `width` × `height` triples of balanced RGB.
pub(crate) struct Tile {
    pub width: usize,
    pub height: usize,
    pub data: Vec<[f32; 3]>,
}

/// Noise and gains.
pub(crate) struct Sensor {
    /// From raw to balanced.
    gains: [f32; 3],
    shot: f32,
    read: f32,
    seed: u64,
}

impl Sensor {
    /// Of a scene's camera; a small picture is the mean of many pixels, so it has less noise.
    pub(crate) fn new(scene: &Scene, small: bool) -> Self {
        let camera = &scene.spec.camera;
        let part = if small { 0.5 } else { 1.0 };
        Self {
            gains: scene.raw_gains.map(single),
            shot: part * single(camera.shot_noise),
            read: part * single(camera.read_noise),
            seed: scene.spec.shot_seed,
        }
    }

    /// A value of balanced RGB with its noise.
    #[inline]
    fn noisy(&self, value: f32, channel: usize, normal: f32) -> f32 {
        let raw = value / self.gains[channel];
        let sd = (self.shot * self.shot * raw.max(0.0) + self.read * self.read).sqrt();
        value + sd * normal * self.gains[channel]
    }

    /// Noise on all three channels of every pixel.
    pub(crate) fn noise(&self, tile: &mut Tile, y0: usize) {
        for (y, row) in tile.data.chunks_exact_mut(tile.width).enumerate() {
            let mut rng = stream(self.seed, (y0 + y) as u64);
            for rgb in row {
                for (channel, value) in rgb.iter_mut().enumerate() {
                    *value = self.noisy(*value, channel, rng.sample::<f32, _>(StandardNormal));
                }
            }
        }
    }

    /// The value behind each pixel's own filter of a Bayer sensor, with noise, of balanced RGB; saturation cuts it at
    /// `ceiling`. `phase` says how far right of and below a red filter the tile's first pixel is.
    pub(crate) fn filtered(
        &self,
        tile: &Tile,
        y0: usize,
        phase: [usize; 2],
        ceiling: [f32; 3],
    ) -> Vec<f32> {
        let mut mosaic = vec![0f32; tile.data.len()];
        for (y, row) in mosaic.chunks_exact_mut(tile.width).enumerate() {
            let mut rng = stream(self.seed, (y0 + y) as u64);
            for (x, out) in row.iter_mut().enumerate() {
                let channel = channel([x, y], phase);
                let value = tile.data[y * tile.width + x][channel];
                *out = self
                    .noisy(value, channel, rng.sample::<f32, _>(StandardNormal))
                    .min(ceiling[channel]);
            }
        }
        mosaic
    }
}

/// Where developing cuts balanced RGB: white must not turn coloured.
pub(crate) const JPEG_CEILING: [f32; 3] = [1.0; 3];

/// The channel (0 red, 1 green, 2 blue) of a filter in an array whose first pixel lies `phase` after a red one.
#[inline]
pub(crate) fn channel([x, y]: [usize; 2], phase: [usize; 2]) -> usize {
    (x + phase[0]) % 2 + (y + phase[1]) % 2
}

/// Rows and columns at a tile's edges that [`demosaic`] leaves as they were.
pub(crate) const DEMOSAICING_SPENDS: usize = 2;

/// The linear interpolation of Malvar, He and Cutler (2004); see [`Sensor::filtered`] for `phase`.
pub(crate) fn demosaic(tile: &mut Tile, mosaic: &[f32], phase: [usize; 2]) {
    let width = tile.width;
    for y in DEMOSAICING_SPENDS..tile.height - DEMOSAICING_SPENDS {
        for x in DEMOSAICING_SPENDS..width - DEMOSAICING_SPENDS {
            let at = y * width + x;
            let m = |dx: isize, dy: isize| {
                mosaic[at.wrapping_add_signed(dy * width.cast_signed() + dx)]
            };
            let c = m(0, 0);
            let sides = m(-1, 0) + m(1, 0);
            let ends = m(0, -1) + m(0, 1);
            let (far_x, far_y) = (m(-2, 0) + m(2, 0), m(0, -2) + m(0, 2));
            let diagonal = m(-1, -1) + m(1, -1) + m(-1, 1) + m(1, 1);
            let cross = (6.0 * c + 2.0 * diagonal - 1.5 * (far_x + far_y)) / 8.0;
            let green = (4.0 * c + 2.0 * (sides + ends) - far_x - far_y) / 8.0;
            let along = (5.0 * c + 4.0 * sides - diagonal - far_x + 0.5 * far_y) / 8.0;
            let upright = (5.0 * c + 4.0 * ends - diagonal - far_y + 0.5 * far_x) / 8.0;
            tile.data[at] = match ((x + phase[0]) % 2, (y + phase[1]) % 2) {
                (0, 0) => [c, green, cross],
                (1, 1) => [cross, green, c],
                (1, 0) => [along, c, upright],
                _ => [upright, c, along],
            };
        }
    }
}

/// A Gaussian's weights, of odd count, sum 1; just 1 where it is too narrow to matter.
pub(crate) fn kernel(sigma: f32) -> Vec<f32> {
    if sigma < 0.2 {
        return vec![1.0];
    }
    let mut half = vec![1.0f32];
    let mut x = 1.0f32;
    while x < 3.0 * sigma {
        half.push((-0.5 * (x / sigma).powi(2)).exp());
        x += 1.0;
    }
    let mut weights: Vec<f32> = half.iter().skip(1).rev().copied().collect();
    weights.extend(&half);
    let sum: f32 = weights.iter().sum();
    weights.iter().map(|it| it / sum).collect()
}

/// Separable blur; the margin as wide as the kernel's radius is left as it was.
pub(crate) fn blur(tile: &mut Tile, weights: &[f32]) {
    let radius = weights.len() / 2;
    if radius == 0 {
        return;
    }
    let (width, height) = (tile.width, tile.height);
    let mut across = tile.data.clone();
    for y in 0..height {
        let row = &tile.data[y * width..][..width];
        for x in radius..width - radius {
            let mut sum = [0f32; 3];
            for (weight, rgb) in weights.iter().zip(&row[x - radius..]) {
                for c in 0..3 {
                    sum[c] += weight * rgb[c];
                }
            }
            across[y * width + x] = sum;
        }
    }
    for y in radius..height - radius {
        let target = &mut tile.data[y * width..][..width];
        target.fill([0.0; 3]);
        for (k, weight) in weights.iter().enumerate() {
            let row = &across[(y + k - radius) * width..][..width];
            for (sum, rgb) in target.iter_mut().zip(row) {
                for c in 0..3 {
                    sum[c] += weight * rgb[c];
                }
            }
        }
    }
}

/// Unsharp masking of encoded lightness.
pub(crate) fn sharpened(tile: &mut Tile, amount: f32, weights: &[f32]) {
    let luma: Vec<[f32; 3]> = tile
        .data
        .iter()
        .map(|[r, g, b]| [0.3 * r + 0.59 * g + 0.11 * b; 3])
        .collect();
    let mut soft = Tile {
        width: tile.width,
        height: tile.height,
        data: luma.clone(),
    };
    blur(&mut soft, weights);
    for ((rgb, own), soft) in tile.data.iter_mut().zip(&luma).zip(&soft.data) {
        let more = amount * (own[0] - soft[0]);
        for value in rgb {
            *value = (*value + more).clamp(0.0, 1.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even(value: [f32; 3]) -> Tile {
        Tile {
            width: 404,
            height: 404,
            data: vec![value; 404 * 404],
        }
    }

    /// Standard deviation of one channel at the pixels of one colour filter.
    fn spread(tile: &Tile, channel: usize, x0: usize, y0: usize) -> f64 {
        let values: Vec<f64> = (2..402)
            .flat_map(|y| (2..402).map(move |x| (x, y)))
            .filter(|(x, y)| x % 2 == x0 && y % 2 == y0)
            .map(|(x, y)| f64::from(tile.data[y * 404 + x][channel]))
            .collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (values.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt()
    }

    /// At native pixels the noise is the asked one: √(shot²·raw + read²), times the channel's gain.
    #[test]
    fn noise_is_as_asked() {
        let sensor = Sensor {
            gains: [2.0, 1.0, 1.5],
            shot: 0.02,
            read: 0.004,
            seed: 7,
        };
        let mut tile = even([0.4, 0.36, 0.3]);
        let mosaic = sensor.filtered(&tile, 0, [0, 0], JPEG_CEILING);
        demosaic(&mut tile, &mosaic, [0, 0]);
        let asked = |raw: f64, gain: f64| gain * (0.02f64.powi(2) * raw + 0.004f64.powi(2)).sqrt();
        for (channel, x, y, raw, gain) in [
            (0, 0, 0, 0.2, 2.0),
            (1, 1, 0, 0.36, 1.0),
            (1, 0, 1, 0.36, 1.0),
            (2, 1, 1, 0.2, 1.5),
        ] {
            let own = spread(&tile, channel, x, y);
            // 40,000 pixels: a standard deviation is known to 0.35 % (one sigma).
            assert!(
                (own / asked(raw, gain) - 1.0).abs() < 0.015,
                "channel {channel}: {own} for {}",
                asked(raw, gain)
            );
        }
    }

    /// Interpolation keeps an even surface even, and a slope a slope (Malvar, He and Cutler's filters have unit sum).
    #[test]
    fn demosaicing_keeps_what_is_linear() {
        let sensor = Sensor {
            gains: [2.0, 1.0, 1.5],
            shot: 0.0,
            read: 0.0,
            seed: 7,
        };
        let mut tile = even([0.0; 3]);
        for (i, rgb) in tile.data.iter_mut().enumerate() {
            let (x, y) = (single((i % 404) as f64), single((i / 404) as f64));
            *rgb = [0.1 + 0.001 * x, 0.2 + 0.001 * y, 0.1 + 0.0005 * (x + y)];
        }
        let before = tile.data.clone();
        let mosaic = sensor.filtered(&tile, 0, [0, 0], JPEG_CEILING);
        demosaic(&mut tile, &mosaic, [0, 0]);
        // The filters add the curvature of the other channels, which a slope has none of.
        for at in (2..402).flat_map(|y| (2..402).map(move |x| y * 404 + x)) {
            for (own, was) in tile.data[at].iter().zip(before[at]) {
                assert!((own - was).abs() < 1e-5, "pixel {at}: {own} was {was}");
            }
        }
    }

    /// The weights of a blur sum to 1 and have the asked standard deviation.
    #[test]
    fn blur_is_as_wide_as_asked() {
        for sigma in [0.6f32, 1.5, 3.0] {
            let weights = kernel(sigma);
            let middle = (weights.len() / 2) as f64;
            let sum: f64 = weights.iter().map(|it| f64::from(*it)).sum();
            let variance: f64 = weights
                .iter()
                .enumerate()
                .map(|(i, it)| (i as f64 - middle).powi(2) * f64::from(*it))
                .sum();
            assert!((sum - 1.0).abs() < 1e-6);
            // Cut at three standard deviations.
            assert!(
                (variance.sqrt() / f64::from(sigma) - 1.0).abs() < 0.05,
                "{sigma}: {}",
                variance.sqrt()
            );
        }
    }
}
