//! From a scene to pixels: optics, sensor, processing, coding. Bands of rows in parallel; every draw of noise is seeded by
//! its row, so the result does not depend on the number of threads.

use crate::develop::{Developer, LocalTone};
use crate::layout::Xy;
use crate::random::stream;
use crate::scene::{Scene, single};
use crate::shade::Shader;
use crate::spec::Encoding;
use crate::truth::{Quad, Truth};
use crate::view::View;
use rand::Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;

/// Pixels as coded in the file, interleaved RGB, row by row.
#[derive(Clone, Debug, PartialEq)]
pub enum Pixels {
    /// 8 bits.
    U8(Vec<u8>),
    /// 16 bits.
    U16(Vec<u16>),
}

/// A rendered picture with its truth.
#[derive(Clone, Debug, PartialEq)]
pub struct Rendered {
    /// Stored width.
    pub width: u32,
    /// Stored height.
    pub height: u32,
    /// Coded pixels, before any JPEG loss.
    pub pixels: Pixels,
    /// What is true of it.
    pub truth: Truth,
}

/// How thoroughly to render.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Effort {
    /// Colour filter array and demosaicing.
    Full,
    /// Noise on all three channels of each pixel.
    Small,
}

/// Rows of one band.
const BAND: usize = 96;

impl Scene {
    /// The full camera at a stored size, 8 bits a channel.
    #[must_use]
    pub fn render(&self, width: u32, height: u32) -> Rendered {
        let (pixels, view) =
            self.floats(width, height, Effort::Full, |value| quantise(value * 255.0));
        let pixels = pixels
            .into_iter()
            .map(|it| u8::try_from(it).unwrap_or(255))
            .collect();
        self.finish(width, height, Pixels::U8(pixels), &view)
    }

    /// The full camera at a stored size, 16 bits a channel.
    #[must_use]
    pub fn render_16(&self, width: u32, height: u32) -> Rendered {
        let (pixels, view) = self.floats(width, height, Effort::Full, |value| {
            quantise(value * 65535.0)
        });
        self.finish(width, height, Pixels::U16(pixels), &view)
    }

    /// A fast render without colour filter array, for location: `long_side` of the stored picture, 4 : 3.
    #[must_use]
    pub fn render_small(&self, long_side: u32) -> Rendered {
        let [width, height] = self.stored_size(long_side);
        let (pixels, view) = self.floats(width, height, Effort::Small, |value| {
            quantise(value * 255.0)
        });
        let pixels = pixels
            .into_iter()
            .map(|it| u8::try_from(it).unwrap_or(255))
            .collect();
        self.finish(width, height, Pixels::U8(pixels), &view)
    }

    fn finish(&self, width: u32, height: u32, pixels: Pixels, view: &View) -> Rendered {
        let mut truth = self.truth([width, height]);
        let _ = view;
        for patch in &mut truth.patches {
            patch.clipped = match &pixels {
                Pixels::U8(values) => clipped(values, width, height, &patch.quad, 0, 255),
                Pixels::U16(values) => clipped(values, width, height, &patch.quad, 0, 65535),
            };
        }
        Rendered {
            width,
            height,
            pixels,
            truth,
        }
    }

    fn floats(
        &self,
        width: u32,
        height: u32,
        effort: Effort,
        code: impl Fn(f32) -> u16 + Sync,
    ) -> (Vec<u16>, View) {
        let view = self.view([width, height]);
        let shader = Shader::new(self, view.centre());
        let scale = single(f64::from(width.max(height)) / 4032.0);
        let small = effort == Effort::Small;
        let local = LocalTone::new(self, &view, &shader);
        let job = Job {
            scene: self,
            view: &view,
            shader: &shader,
            developer: Developer::new(self, local),
            effort,
            blur: blur_px(self, small, scale),
        };
        let columns = width as usize;
        let mut out = vec![0u16; columns * height as usize * 3];
        out.par_chunks_mut(columns * 3 * BAND)
            .enumerate()
            .for_each(|(band, rows)| {
                let count = rows.len() / (columns * 3);
                job.band(band * BAND, count, columns, rows, &code);
            });
        (out, view)
    }
}

/// Optics' blur in pixels; a small render shrinks a photo, which sharpens it.
fn blur_px(scene: &Scene, small: bool, scale: f32) -> f32 {
    let full = single(scene.spec.camera.blur_px);
    if small {
        (full * scale).hypot(0.45)
    } else {
        full
    }
}

/// Rounds to a code value.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range of the code"
)]
fn quantise(value: f32) -> u16 {
    value.round().clamp(0.0, 65535.0) as u16
}

struct Job<'a> {
    scene: &'a Scene,
    view: &'a View,
    shader: &'a Shader<'a>,
    developer: Developer,
    effort: Effort,
    blur: f32,
}

/// A band with its margin: `width` × `height` triples whose first is pixel (`x0`, `y0`) of the picture.
struct Tile {
    width: usize,
    height: usize,
    data: Vec<[f32; 3]>,
}

impl Job<'_> {
    fn band(
        &self,
        y0: usize,
        rows: usize,
        columns: usize,
        out: &mut [u16],
        code: &impl Fn(f32) -> u16,
    ) {
        let radius = kernel(self.blur).len() / 2;
        let sharpen = self
            .developer
            .sharpening
            .map_or(0, |(_, radius)| kernel(radius).len() / 2);
        let margin = radius + sharpen + if self.effort == Effort::Full { 2 } else { 0 };
        let mut tile = self.trace(y0, rows, columns, margin);
        blur(&mut tile, &kernel(self.blur));
        match self.effort {
            Effort::Full => self.sensor(&mut tile, y0, margin),
            Effort::Small => self.noise(&mut tile, y0),
        }
        self.developer.develop(
            &mut tile.data,
            tile.width,
            y0,
            margin,
            self.view.stored_size(),
        );
        if let Some((amount, radius)) = self.developer.sharpening {
            sharpened(&mut tile, amount, &kernel(radius));
        }
        for (y, row) in out.chunks_exact_mut(columns * 3).enumerate() {
            let from = &tile.data[(y + margin) * tile.width + margin..][..columns];
            for (pixel, rgb) in row.chunks_exact_mut(3).zip(from) {
                for (value, &channel) in pixel.iter_mut().zip(rgb) {
                    *value = code(channel);
                }
            }
        }
    }

    /// The light on the sensor.
    fn trace(&self, y0: usize, rows: usize, columns: usize, margin: usize) -> Tile {
        let (width, height) = (columns + 2 * margin, rows + 2 * margin);
        let mut data = Vec::with_capacity(width * height);
        let offset = margin_f64(margin);
        let size = self.view.stored_size();
        let corner2 = (size[0] * size[0] + size[1] * size[1]) / 4.0;
        let camera = &self.scene.spec.camera;
        let px = single(self.view.mm_per_px([
            f64::from(self.shader.half_extent()),
            f64::from(self.shader.half_extent()),
        ]));
        for y in 0..height {
            let v = margin_f64(y0 + y) - offset + 0.5;
            for x in 0..width {
                let u = margin_f64(x) - offset + 0.5;
                let r2 = ((u - size[0] / 2.0).powi(2) + (v - size[1] / 2.0).powi(2)) / corner2;
                let fall = single(camera.white_level * (1.0 - camera.vignetting * r2));
                let rgb = self
                    .view
                    .to_mm([u, v])
                    .map_or([0.2; 3], |mm| self.shader.shade(mm.map(single), px));
                data.push(std::array::from_fn(|c| {
                    rgb[c] * fall + self.developer.flare[c]
                }));
            }
        }
        Tile {
            width,
            height,
            data,
        }
    }

    /// Noise on each channel, less than a native pixel's: a small render is the mean of many.
    fn noise(&self, tile: &mut Tile, y0: usize) {
        let gains = self.scene.raw_gains.map(single);
        let camera = &self.scene.spec.camera;
        let (shot, read) = (
            single(camera.shot_noise) * 0.5,
            single(camera.read_noise) * 0.5,
        );
        for (y, row) in tile.data.chunks_exact_mut(tile.width).enumerate() {
            let mut rng = stream(self.scene.spec.shot_seed, (y0 + y) as u64);
            for rgb in row {
                for (value, gain) in rgb.iter_mut().zip(gains) {
                    let raw = *value / gain;
                    let sd = (shot * shot * raw.max(0.0) + read * read).sqrt();
                    *value = (raw + sd * rng.sample::<f32, _>(StandardNormal)) * gain;
                }
            }
        }
    }

    /// A Bayer sensor (red at even rows and columns) and the linear interpolation of Malvar, He and Cutler (2004). The outer
    /// two rows and columns of the tile are spent.
    fn sensor(&self, tile: &mut Tile, y0: usize, margin: usize) {
        let gains = self.scene.raw_gains.map(single);
        let camera = &self.scene.spec.camera;
        let (shot, read) = (single(camera.shot_noise), single(camera.read_noise));
        let width = tile.width;
        // The phase belongs to the picture, not to the tile.
        let (phase_x, phase_y) = (margin % 2, (y0 + margin) % 2);
        let mut mosaic = vec![0f32; tile.data.len()];
        for y in 0..tile.height {
            let mut rng = stream(self.scene.spec.shot_seed, (y0 + y) as u64);
            for x in 0..width {
                let channel = (x + phase_x) % 2 + (y + phase_y) % 2;
                let value = tile.data[y * width + x][channel];
                let raw = value / gains[channel];
                let sd = (shot * shot * raw.max(0.0) + read * read).sqrt();
                mosaic[y * width + x] =
                    ((raw + sd * rng.sample::<f32, _>(StandardNormal)) * gains[channel]).min(1.0);
            }
        }
        for y in 2..tile.height - 2 {
            for x in 2..width - 2 {
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
                tile.data[at] = match ((x + phase_x) % 2, (y + phase_y) % 2) {
                    (0, 0) => [c, green, cross],
                    (1, 1) => [cross, green, c],
                    (1, 0) => [along, c, upright],
                    _ => [upright, c, along],
                };
            }
        }
    }
}

/// A small count as a number.
fn margin_f64(count: usize) -> f64 {
    crate::spectrum::as_f64(count)
}

/// A Gaussian's weights, of odd count, sum 1; just 1 where it is too narrow to matter.
fn kernel(sigma: f32) -> Vec<f32> {
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
fn blur(tile: &mut Tile, weights: &[f32]) {
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
fn sharpened(tile: &mut Tile, amount: f32, weights: &[f32]) {
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

/// Share of the pixels in the inner 80 % of a quadrilateral with a channel at an end of the range.
fn clipped<T: Copy + PartialEq + From<u8>>(
    values: &[T],
    width: u32,
    height: u32,
    quad: &Quad,
    low: u8,
    high: impl TryInto<u16>,
) -> f64
where
    T: Into<u32>,
{
    let high: u32 = high.try_into().map_or(255, u32::from);
    let (mut hit, mut all) = (0u32, 0u32);
    let steps = 60;
    for i in 0..steps * steps {
        let inner = |k: u32| 0.1 + 0.8 * (f64::from(k) + 0.5) / f64::from(steps);
        let (u, v) = (inner(i % steps), inner(i / steps));
        let join = |k: usize| {
            (quad[0][k] * (1.0 - u) + quad[1][k] * u) * (1.0 - v)
                + (quad[3][k] * (1.0 - u) + quad[2][k] * u) * v
        };
        let place: Xy = [join(0), join(1)];
        if let Some(index) = pixel_index(place, width, height) {
            all += 1;
            let at_end = values[index * 3..][..3]
                .iter()
                .any(|&it| it.into() == u32::from(low) || it.into() == high);
            hit += u32::from(at_end);
        }
    }
    if all == 0 {
        0.0
    } else {
        f64::from(hit) / f64::from(all)
    }
}

/// Index of the pixel at a place, if it is in the picture.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to lie in the picture"
)]
fn pixel_index([x, y]: Xy, width: u32, height: u32) -> Option<usize> {
    let within = x >= 0.0 && y >= 0.0 && x < f64::from(width) && y < f64::from(height);
    within.then(|| y as usize * width as usize + x as usize)
}

/// Whether the file holds linear values.
pub(crate) fn is_linear(scene: &Scene) -> bool {
    scene.spec.camera.encoding == Encoding::Linear
}
