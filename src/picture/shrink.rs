//! The photo, shrunk and turned, in sRGB.

use super::screen;
use super::upright::Upright;
use crate::colour::Matrix;
use crate::photo::Photo;
use image::{Rgb, RgbImage};
use nalgebra::Vector3;

/// Averages the stored pixels under each pixel of the view in linear light, row by row.
pub(super) fn shrink(photo: &Photo, upright: &Upright) -> RgbImage {
    let [columns, rows] = upright.shrunk();
    let [width, height] = upright.size();
    let to_screen = screen::from_xyz() * photo.encoding.to_xyz;
    let across = shares(photo.width, columns);
    let down = shares(photo.height, rows);
    let mut view = RgbImage::new(pixels(width), pixels(height));
    let mut sums = vec![[0.0_f32; 3]; columns];
    let mut line = Vec::with_capacity(photo.width);
    for (row, lines) in down.iter().enumerate() {
        sums.fill([0.0; 3]);
        for (y, weight) in lines {
            photo.linear_row(*y, 0..photo.width, &mut line);
            for (sum, run) in sums.iter_mut().zip(&across) {
                for (x, share) in run {
                    let rgb = line[*x];
                    for k in 0..3 {
                        sum[k] += weight * share * rgb[k];
                    }
                }
            }
        }
        for (column, sum) in sums.iter().enumerate() {
            let [x, y] = upright.pixel(column, row);
            view.put_pixel(pixels(x), pixels(y), on_screen(&to_screen, *sum));
        }
    }
    view
}

fn on_screen(to_screen: &Matrix, rgb: [f32; 3]) -> Rgb<u8> {
    let linear = to_screen * Vector3::from(rgb.map(f64::from));
    Rgb(screen::bytes(linear.into()))
}

/// For each of `to` equal stretches of a line of `from` pixels: which pixels it covers and the share of each in it.
fn shares(from: usize, to: usize) -> Vec<Vec<(usize, f32)>> {
    (0..to)
        .map(|it| {
            // In units of 1/to of a pixel, so that nothing is rounded.
            let (start, end) = (it * from, (it + 1) * from);
            (start / to..end.div_ceil(to))
                .map(|pixel| {
                    let covered = end.min((pixel + 1) * to) - start.max(pixel * to);
                    (pixel, ratio(covered, from))
                })
                .collect()
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "a weight needs no more digits")]
fn ratio(part: usize, all: usize) -> f32 {
    part as f32 / all as f32
}

/// A length within a page.
pub(super) fn pixels(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pixel_counts_once() {
        for (from, to) in [(40, 16), (16, 16), (7, 3), (3, 7), (1, 1000)] {
            let mut seen = vec![0.0; from];
            for run in shares(from, to) {
                let sum: f32 = run.iter().map(|it| it.1).sum();
                assert!((sum - 1.0).abs() < 1e-5);
                for (pixel, share) in run {
                    seen[pixel] += share;
                }
            }
            let even = ratio(to, from);
            assert!(
                seen.iter().all(|it| (it - even).abs() < 1e-4),
                "{from} {to}"
            );
        }
    }
}
