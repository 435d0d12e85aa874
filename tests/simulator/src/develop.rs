//! What the camera makes of balanced RGB: colour matrix, local tone mapping, saturation, tone curve, coding.

use crate::colorimetry::{adapt, d50_white};
use crate::render::is_linear;
use crate::scene::Scene;
use crate::sensor::kernel;
use crate::shade::Shader;
use crate::spec::{Space, ToneCurve};
use crate::surface::single;
use crate::view::View;
use nalgebra::{Matrix3, Vector3};

/// Width and height of the preview from which stray light and local brightness are taken.
const PREVIEW: usize = 48;

/// D50 of the ICC profile connection space.
pub(crate) const ICC_D50: [f64; 3] = [0.9642, 1.0, 0.8249];

impl Space {
    /// Chromaticities of red, green and blue.
    pub(crate) fn primaries(self) -> [[f64; 2]; 3] {
        match self {
            Self::Srgb => [[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]],
            Self::DisplayP3 => [[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]],
        }
    }

    /// Linear RGB to XYZ, adapted (Bradford) from the space's D65 to the profile connection space.
    ///
    /// # Panics
    ///
    /// Never: the primaries of both spaces span the plane.
    #[must_use]
    pub fn to_xyz_d50(self) -> Matrix3<f64> {
        let column = |[x, y]: [f64; 2]| Vector3::new(x / y, 1.0, (1.0 - x - y) / y);
        let white = column([0.3127, 0.3290]);
        let columns = Matrix3::from_columns(&self.primaries().map(column));
        let scale = columns.try_inverse().expect("primaries span the space") * white;
        adapt(&white, &Vector3::from(ICC_D50)) * columns * Matrix3::from_diagonal(&scale)
    }
}

/// The transfer function of sRGB and Display P3 (IEC 61966-2-1), linear to encoded, 0–1.
#[must_use]
pub fn encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

/// Its inverse.
#[must_use]
pub fn decode(encoded: f64) -> f64 {
    if encoded <= 0.040_45 {
        encoded / 12.92
    } else {
        ((encoded + 0.055) / 1.055).powf(2.4)
    }
}

impl ToneCurve {
    /// Linear 0–1 to encoded 0–1, monotone.
    #[must_use]
    pub fn apply(&self, linear: f64) -> f64 {
        let x = linear.clamp(0.0, 1.0);
        match *self {
            Self::None => encode(x),
            Self::Logistic {
                steepness,
                middle,
                exponent,
            } => {
                let s = |v: f64| 1.0 / (1.0 + (-steepness * (v - middle)).exp());
                let v = encode(x).powf(exponent);
                (s(v) - s(0.0)) / (s(1.0) - s(0.0))
            }
            Self::Filmic { strength, white } => {
                // Toe and shoulder, mixed with a straight line.
                let film = |x: f64| (x * (2.51 * x + 0.03)) / (x * (2.43 * x + 0.59) + 0.14);
                let scaled = |x: f64| film(x * white) / film(white);
                encode(x * (1.0 - strength) + scaled(x) * strength)
            }
            Self::Cubic { amount } => {
                let v = encode(x);
                v * (1.0 - amount) + amount * v * v * (3.0 - 2.0 * v)
            }
        }
    }
}

/// Stray light and local brightness, from a coarse preview.
pub(crate) struct LocalTone {
    mean: [f32; 3],
    log_gain: Vec<f32>,
}

impl LocalTone {
    pub(crate) fn new(scene: &Scene, view: &View, shader: &Shader<'_>) -> Self {
        let [w, h] = view.stored_size();
        let camera = &scene.spec.camera;
        let at = |i: usize, size: f64| {
            (crate::spectrum::as_f64(i) + 0.5) / crate::spectrum::as_f64(PREVIEW) * size
        };
        let level = single(camera.white_level);
        let seen: Vec<[f32; 3]> = (0..PREVIEW * PREVIEW)
            .map(|i| {
                let place = view.to_mm([at(i % PREVIEW, w), at(i / PREVIEW, h)]);
                place.map_or([0.2 * level; 3], |mm| {
                    shader.shade(mm.map(single), 10.0).map(|it| it * level)
                })
            })
            .collect();
        let count = single(crate::spectrum::as_f64(seen.len()));
        let mean =
            std::array::from_fn(|c| seen.iter().map(|it| it[c].min(1.0)).sum::<f32>() / count);
        let logs: Vec<f32> = seen.iter().map(|it| it[1].clamp(0.005, 1.0).ln()).collect();
        Self {
            mean,
            log_gain: local_gain(&logs, single(camera.local_tone)),
        }
    }
}

impl LocalTone {
    /// Stray light to add to balanced RGB.
    pub(crate) fn flare(&self, scene: &Scene) -> [f32; 3] {
        self.mean.map(|it| it * single(scene.spec.camera.flare))
    }
}

/// Gain (log) from smoothed log brightness: dark regions are lifted, bright ones held back.
fn local_gain(logs: &[f32], strength: f32) -> Vec<f32> {
    if strength <= 0.0 {
        return Vec::new();
    }
    let sigma = 0.09 * single(crate::spectrum::as_f64(PREVIEW));
    let weights: Vec<f32> = (0..PREVIEW)
        .map(|d| (-0.5 * (single(crate::spectrum::as_f64(d)) / sigma).powi(2)).exp())
        .collect();
    let smooth = |from: &[f32], stride: usize, other: usize| -> Vec<f32> {
        (0..PREVIEW * PREVIEW)
            .map(|i| {
                let (along, across) = (i / stride % PREVIEW, i / other % PREVIEW);
                let (mut sum, mut all) = (0.0, 0.0);
                for k in 0..PREVIEW {
                    let weight = weights[k.abs_diff(along)];
                    sum += weight * from[k * stride + across * other];
                    all += weight;
                }
                sum / all
            })
            .collect()
    };
    let soft = smooth(&smooth(logs, 1, PREVIEW), PREVIEW, 1);
    let mean = soft.iter().sum::<f32>() / single(crate::spectrum::as_f64(soft.len()));
    soft.iter().map(|it| -strength * (it - mean)).collect()
}

/// Everything between sensor and coding.
pub(crate) struct Developer {
    matrix: [[f32; 3]; 3],
    saturation: f32,
    curve: Option<Vec<f32>>,
    local: LocalTone,
    /// Amount and radius.
    pub sharpening: Option<(f32, f32)>,
}

/// Amount and radius of the sharpening, if any.
fn sharpening(scene: &Scene) -> Option<(f32, f32)> {
    scene
        .spec
        .camera
        .sharpening
        .filter(|_| !is_linear(scene))
        .map(|(amount, radius)| (single(amount), single(radius)))
}

/// Pixels at a band's edges that sharpening leaves as they were.
pub(crate) fn sharpening_spends(scene: &Scene) -> usize {
    sharpening(scene).map_or(0, |(_, radius)| kernel(radius).len() / 2)
}

/// Steps of the tone curve's table, over the square root of linear light.
const STEPS: usize = 4096;

impl Developer {
    pub(crate) fn new(scene: &Scene, local: LocalTone) -> Self {
        let camera = &scene.spec.camera;
        let to_file = camera
            .space
            .to_xyz_d50()
            .try_inverse()
            .expect("a colour space has an inverse")
            * adapt(&d50_white(), &Vector3::from(ICC_D50));
        let matrix =
            to_file * scene.matrix * Matrix3::from_diagonal(&Vector3::from(camera.balance_error));
        let curve = (!is_linear(scene)).then(|| {
            (0..=STEPS + 1)
                .map(|i| {
                    let root = crate::spectrum::as_f64(i) / crate::spectrum::as_f64(STEPS);
                    single(camera.tone.apply((root * root).min(1.0)))
                })
                .collect()
        });
        Self {
            matrix: std::array::from_fn(|r| std::array::from_fn(|c| single(matrix[(r, c)]))),
            saturation: single(camera.saturation),
            curve,
            local,
            sharpening: sharpening(scene),
        }
    }

    /// Develops triples in place; the first is pixel (−margin, y0 − margin) of a picture of `size`.
    pub(crate) fn develop(
        &self,
        data: &mut [[f32; 3]],
        width: usize,
        y0: usize,
        margin: usize,
        size: [f64; 2],
    ) {
        let number = |it: usize| single(crate::spectrum::as_f64(it));
        let to_preview = size.map(|it| number(PREVIEW) / single(it));
        for (i, rgb) in data.iter_mut().enumerate() {
            let gain = if self.local.log_gain.is_empty() {
                1.0
            } else {
                let x = (number(i % width) - number(margin) + 0.5) * to_preview[0] - 0.5;
                let y = (number(y0 + i / width) - number(margin) + 0.5) * to_preview[1] - 0.5;
                self.gain(x, y)
            };
            let [r, g, b] = [
                rgb[0].min(1.0) * gain,
                rgb[1].min(1.0) * gain,
                rgb[2].min(1.0) * gain,
            ];
            let m = &self.matrix;
            for (value, row) in rgb.iter_mut().zip(m) {
                *value = row[0] * r + row[1] * g + row[2] * b;
            }
            let grey = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
            for value in rgb {
                *value = self.code((grey + (*value - grey) * self.saturation).clamp(0.0, 1.0));
            }
        }
    }

    /// Local gain at a place of the preview, between its cells.
    fn gain(&self, x: f32, y: f32) -> f32 {
        let last = single(crate::spectrum::as_f64(PREVIEW - 1));
        let (x, y) = (x.clamp(0.0, last - 0.001), y.clamp(0.0, last - 0.001));
        let (u, v) = (x.fract(), y.fract());
        let at = index(y) * PREVIEW + index(x);
        let g = &self.local.log_gain;
        let log = (g[at] * (1.0 - u) + g[at + 1] * u) * (1.0 - v)
            + (g[at + PREVIEW] * (1.0 - u) + g[at + PREVIEW + 1] * u) * v;
        log.exp()
    }

    /// Tone curve and transfer function.
    #[inline]
    #[expect(
        clippy::cast_precision_loss,
        reason = "a table of a few thousand steps"
    )]
    fn code(&self, linear: f32) -> f32 {
        let Some(curve) = &self.curve else {
            return linear;
        };
        let place = linear.sqrt() * single(crate::spectrum::as_f64(STEPS));
        let i = index(place);
        let share = place - i as f32;
        curve[i] + (curve[i + 1] - curve[i]) * share
    }
}

/// A small non-negative number's whole part.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers clamp to the table"
)]
fn index(place: f32) -> usize {
    place as usize
}
