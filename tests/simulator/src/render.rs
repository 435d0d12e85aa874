//! From a scene to developed pixels: exposure, sensor, processing, coding, in bands of rows in parallel.

use crate::develop::{Developer, LocalTone};
use crate::exposure::{BAND, Exposure};
use crate::layout::Xy;
use crate::scene::Scene;
use crate::sensor::{JPEG_CEILING, Sensor, demosaic, kernel, sharpened};
use crate::shade::Shader;
use crate::spec::Encoding;
use crate::truth::{Quad, Truth};
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

impl Scene {
    /// The full camera at a stored size, 8 bits a channel.
    #[must_use]
    pub fn render(&self, width: u32, height: u32) -> Rendered {
        let pixels = self.floats(width, height, Effort::Full, |value| quantise(value * 255.0));
        let pixels = pixels
            .into_iter()
            .map(|it| u8::try_from(it).unwrap_or(255))
            .collect();
        self.finish(width, height, Pixels::U8(pixels))
    }

    /// The full camera at a stored size, 16 bits a channel.
    #[must_use]
    pub fn render_16(&self, width: u32, height: u32) -> Rendered {
        let pixels = self.floats(width, height, Effort::Full, |value| {
            quantise(value * 65535.0)
        });
        self.finish(width, height, Pixels::U16(pixels))
    }

    /// A fast render without colour filter array, for location: `long_side` of the stored picture, 4 : 3.
    #[must_use]
    pub fn render_small(&self, long_side: u32) -> Rendered {
        let [width, height] = self.stored_size(long_side);
        let pixels = self.floats(width, height, Effort::Small, |value| {
            quantise(value * 255.0)
        });
        let pixels = pixels
            .into_iter()
            .map(|it| u8::try_from(it).unwrap_or(255))
            .collect();
        self.finish(width, height, Pixels::U8(pixels))
    }

    fn finish(&self, width: u32, height: u32, pixels: Pixels) -> Rendered {
        let mut truth = self.truth([width, height]);
        for patch in &mut truth.patches {
            patch.clipped = clipped(width, height, &patch.quad, |index| match &pixels {
                Pixels::U8(values) => at_end(values, index, 255),
                Pixels::U16(values) => at_end(values, index, 65535),
            });
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
    ) -> Vec<u16> {
        let view = self.view([width, height]);
        let shader = Shader::new(self, view.centre());
        let small = effort == Effort::Small;
        let local = LocalTone::new(self, &view, &shader);
        let job = Job {
            exposure: Exposure::new(self, &view, &shader, local.flare(self), small),
            developer: Developer::new(self, local),
            sensor: Sensor::new(self, small),
            effort,
        };
        let columns = width as usize;
        let mut out = vec![0u16; columns * height as usize * 3];
        out.par_chunks_mut(columns * 3 * BAND)
            .enumerate()
            .for_each(|(band, rows)| {
                let count = rows.len() / (columns * 3);
                job.band(band * BAND, count, columns, rows, &code);
            });
        out
    }
}

/// Rounds to a code value.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, values are 0 or more"
)]
fn quantise(value: f32) -> u16 {
    (value + 0.5) as u16
}

struct Job<'a> {
    exposure: Exposure<'a>,
    developer: Developer,
    sensor: Sensor,
    effort: Effort,
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
        let margin = self.exposure.margin(self.effort == Effort::Full);
        let mut tile = self.exposure.band(y0, rows, columns, margin);
        match self.effort {
            Effort::Full => {
                // The phase belongs to the picture, not to the tile.
                let phase = [margin, y0 + margin];
                let mosaic = self.sensor.filtered(&tile, y0, phase, JPEG_CEILING);
                demosaic(&mut tile, &mosaic, phase);
            }
            Effort::Small => self.sensor.noise(&mut tile, y0),
        }
        self.developer.develop(
            &mut tile.data,
            tile.width,
            y0,
            margin,
            self.exposure.view.stored_size(),
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
}

/// Share of the pixels in the inner 80 % of a quadrilateral that are at an end of the range, which the function says of a
/// pixel's index.
pub(crate) fn clipped(width: u32, height: u32, quad: &Quad, at_end: impl Fn(usize) -> bool) -> f64 {
    let (mut hit, mut all) = (0u32, 0u32);
    let steps = 40;
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
            hit += u32::from(at_end(index));
        }
    }
    if all == 0 {
        0.0
    } else {
        f64::from(hit) / f64::from(all)
    }
}

/// Whether a channel of an interleaved pixel is at 0 or at `high`.
fn at_end<T: Copy + Into<u32>>(values: &[T], index: usize, high: u32) -> bool {
    values[index * 3..][..3]
        .iter()
        .any(|&it| it.into() == 0 || it.into() == high)
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
