//! Unevenness over the plane: the mottle of coats and the grain of wood.

use crate::random::smooth_noise;
use crate::spec::SceneSpec;
use crate::surface::single;

/// A seed in half the bits.
pub(crate) fn fold(seed: u64) -> u32 {
    let [a, b, c, d, e, f, g, h] = seed.to_le_bytes();
    u32::from_le_bytes([a ^ e, b ^ f, c ^ g, d ^ h])
}

/// Noise of the coats at a place: mean 0, standard deviation about 1.
#[inline]
pub(crate) fn mottle_at(x: f32, y: f32, seed: u32) -> f32 {
    2.2 * smooth_noise(x / 14.0, y / 14.0, seed)
        + 1.6 * smooth_noise(x / 4.5, y / 4.5, seed ^ 0x51ed)
}

/// The grain at a place along and across it: −1 early, 1 late wood; fibres fade where a pixel covers many.
#[inline]
pub(crate) fn grain_at(along: f32, across: f32, seed: u32, px: f32) -> f32 {
    let bend = 6.0 * smooth_noise(along / 260.0, across / 40.0, seed ^ 0x9e1);
    let mut grain = 1.7 * smooth_noise(along / 170.0, (across + bend) / 5.5, seed);
    let fine = 1.0 - px / 1.2;
    if fine > 0.0 {
        grain += 0.6 * fine * smooth_noise(along / 30.0, across / 0.9, seed ^ 0x77);
    }
    grain.clamp(-1.0, 1.0)
}

/// Mottle and grain of the board.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Texture {
    seed: u32,
    sin: f32,
    cos: f32,
}

impl Texture {
    pub(crate) fn new(spec: &SceneSpec) -> Self {
        let (sin, cos) = single(spec.grain_angle.to_radians()).sin_cos();
        Self {
            seed: fold(spec.panel_seed),
            sin,
            cos,
        }
    }

    /// Both at a place, seen by a pixel of so many mm.
    #[inline]
    pub(crate) fn at(&self, x: f32, y: f32, px: f32) -> (f32, f32) {
        let (s, c) = (self.sin, self.cos);
        (
            mottle_at(x, y, self.seed),
            grain_at(c * x + s * y, c * y - s * x, self.seed ^ 0x6a41, px),
        )
    }
}
