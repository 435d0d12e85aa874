//! Seeded draws, and smooth noise over the plane.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A stream of draws for one purpose: scenes that differ in one factor keep all others.
pub(crate) fn stream(seed: u64, purpose: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(purpose);
    rng
}

/// Uniform in a range.
pub(crate) fn between(rng: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

/// Log-uniform in a range.
pub(crate) fn log_between(rng: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    between(rng, low.ln(), high.ln()).exp()
}

/// Normal with a standard deviation.
pub(crate) fn normal(rng: &mut ChaCha8Rng, sd: f64) -> f64 {
    rng.sample::<f64, _>(StandardNormal) * sd
}

/// True in this share of cases.
pub(crate) fn chance(rng: &mut ChaCha8Rng, share: f64) -> bool {
    rng.random::<f64>() < share
}

/// One of several.
pub(crate) fn pick<T: Copy>(rng: &mut ChaCha8Rng, from: &[T]) -> T {
    from[rng.random_range(0..from.len())]
}

/// An index, drawn by weight.
pub(crate) fn weighted(rng: &mut ChaCha8Rng, weights: &[f64]) -> usize {
    let mut left = rng.random::<f64>() * weights.iter().sum::<f64>();
    for (i, weight) in weights.iter().enumerate() {
        left -= weight;
        if left < 0.0 {
            return i;
        }
    }
    weights.len() - 1
}

/// A number in −1…1 for a lattice point.
#[inline]
#[expect(
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    reason = "a hash wants the bits, not the value"
)]
fn lattice(x: i32, y: i32, seed: u32) -> f32 {
    let mut h = (x as u32).wrapping_mul(0x9E37_79B1) ^ (y as u32).wrapping_mul(0x85EB_CA77) ^ seed;
    h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
    h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
    h ^= h >> 15;
    (h as i32) as f32 * (1.0 / 2_147_483_648.0)
}

/// Whole part towards −∞: `f32::floor` is a library call on plain x86-64.
#[inline]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "scenes span thousands of lattice cells, not billions"
)]
fn floor(x: f32) -> i32 {
    let whole = x as i32;
    whole - i32::from(whole as f32 > x)
}

/// Smooth noise of unit lattice pitch, mean 0, standard deviation about 0.37, range −1…1.
#[inline]
#[expect(
    clippy::cast_precision_loss,
    reason = "the same few thousand lattice cells"
)]
pub(crate) fn smooth_noise(x: f32, y: f32, seed: u32) -> f32 {
    let (i, j) = (floor(x), floor(y));
    let fade = |t: f32| t * t * (3.0 - 2.0 * t);
    let (u, v) = (fade(x - i as f32), fade(y - j as f32));
    let (a, b) = (lattice(i, j, seed), lattice(i + 1, j, seed));
    let (c, d) = (lattice(i, j + 1, seed), lattice(i + 1, j + 1, seed));
    let (top, low) = (a + (b - a) * u, c + (d - c) * u);
    top + (low - top) * v
}
