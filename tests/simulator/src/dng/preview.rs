//! The small picture that a file begins with.

use super::directory::count;
use crate::colorimetry::{adapt, d50_white};
use crate::develop::{ICC_D50, encode};
use crate::raw::SensorImage;
use crate::spec::Space;
use nalgebra::{Matrix3, Vector3};

/// A preview: sRGB of 8 bits, interleaved.
pub(super) struct Preview {
    pub width: u32,
    pub height: u32,
    pub bytes: Vec<u8>,
}

/// Long side, pixels, about.
const LONG_SIDE: u32 = 128;

/// Of the whole picture. `matrix` goes from balanced RGB to XYZ under D50.
pub(super) fn preview(image: &SensorImage, matrix: &Matrix3<f64>) -> Preview {
    let (full, rows) = (image.width as usize, image.height as usize);
    // Even, so that every block has all filters.
    let block = 2 * image.width.max(image.height).div_ceil(2 * LONG_SIDE) as usize;
    let (width, height) = ((full / block).max(1), (rows / block).max(1));
    let to_srgb = Space::Srgb
        .to_xyz_d50()
        .try_inverse()
        .expect("a colour space has an inverse")
        * adapt(&d50_white(), &Vector3::from(ICC_D50))
        * matrix;
    let neutral = image.as_shot_neutral();
    let mut bytes = Vec::with_capacity(width * height * 3);
    for top in (0..height).map(|it| it * block) {
        for left in (0..width).map(|it| it * block) {
            let (mut sum, mut number) = ([0.0; 3], [0.0; 3]);
            for y in top..(top + block).min(rows) {
                for x in left..(left + block).min(full) {
                    let channel = image.cfa.channel(x, y);
                    sum[channel] += f64::from(image.values[y * full + x]);
                    number[channel] += 1.0;
                }
            }
            let balanced = Vector3::from_fn(|c, _| (sum[c] / number[c] / neutral[c]).min(1.0));
            let rgb = to_srgb * balanced;
            bytes.extend(rgb.iter().map(|it| byte(encode(it.clamp(0.0, 1.0)))));
        }
    }
    Preview {
        width: count(width),
        height: count(height),
        bytes,
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "0 to 255"
)]
fn byte(encoded: f64) -> u8 {
    (encoded * 255.0).round() as u8
}
