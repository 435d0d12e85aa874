//! From a scene to pixels: optics, sensor, processing, coding. Bands of rows in parallel; every draw of noise is seeded by
//! its row, so the result does not depend on the number of threads.

use crate::develop::{Developer, LocalTone};
use crate::layout::Xy;
use crate::scene::Scene;
use crate::sensor::{Sensor, Tile, blur, kernel, sharpened};
use crate::shade::Shader;
use crate::spec::Encoding;
use crate::spectrum::as_f64;
use crate::surface::single;
use crate::truth::{Quad, Truth};
use crate::view::View;
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
            patch.clipped = match &pixels {
                Pixels::U8(values) => clipped(values, width, height, &patch.quad, 255),
                Pixels::U16(values) => clipped(values, width, height, &patch.quad, 65535),
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
    ) -> Vec<u16> {
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
            sensor: Sensor::new(self, small),
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
        out
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
    reason = "the cast saturates, values are 0 or more"
)]
fn quantise(value: f32) -> u16 {
    (value + 0.5) as u16
}

struct Job<'a> {
    scene: &'a Scene,
    view: &'a View,
    shader: &'a Shader<'a>,
    developer: Developer,
    sensor: Sensor,
    effort: Effort,
    blur: f32,
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
            Effort::Full => self.sensor.mosaic(&mut tile, y0, margin),
            Effort::Small => self.sensor.noise(&mut tile, y0),
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
        let offset = as_f64(margin);
        let size = self.view.stored_size();
        let corner2 = (size[0] * size[0] + size[1] * size[1]) / 4.0;
        let camera = &self.scene.spec.camera;
        let px = single(self.view.mm_per_px([
            f64::from(self.shader.half_extent()),
            f64::from(self.shader.half_extent()),
        ]));
        for y in 0..height {
            let v = as_f64(y0 + y) - offset + 0.5;
            for x in 0..width {
                let u = as_f64(x) - offset + 0.5;
                let r2 = ((u - size[0] / 2.0).powi(2) + (v - size[1] / 2.0).powi(2)) / corner2;
                let fall = single(camera.white_level * (1.0 - camera.vignetting * r2));
                let rgb = self.view.to_mm([u, v]).map_or([0.2; 3], |mm| {
                    self.shader.shade([single(mm[0]), single(mm[1])], px)
                });
                let flare = self.developer.flare;
                data.push([
                    rgb[0] * fall + flare[0],
                    rgb[1] * fall + flare[1],
                    rgb[2] * fall + flare[2],
                ]);
            }
        }
        Tile {
            width,
            height,
            data,
        }
    }
}

/// Share of the pixels in the inner 80 % of a quadrilateral with a channel at 0 or at `high`.
fn clipped<T: Copy + Into<u32>>(
    values: &[T],
    width: u32,
    height: u32,
    quad: &Quad,
    high: u32,
) -> f64 {
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
            let at_end = values[index * 3..][..3]
                .iter()
                .any(|&it| it.into() == 0 || it.into() == high);
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
