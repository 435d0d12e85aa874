//! Mapping a colour into the gamut of a screen.

use super::{RgbSpace, is_in_gamut};
use crate::colour::Lab;
use nalgebra::Vector3;
use palette::convert::FromColorUnclamped;
use palette::{LinSrgb, Oklab, Oklch};

/// The distance in Oklab that passes for no difference.
const JUST_NOTICEABLE: f64 = 0.02;
/// Where the search for the chroma ends.
const CHROMA_STEP: f64 = 1e-4;

/// A colour that a screen can show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mapped {
    /// Linear RGB, each 0–1.
    pub linear: [f64; 3],
    /// Whether the colour itself can be shown; else this is a stand-in for it.
    pub exact: bool,
}

/// Maps a colour into the gamut: less chroma at the same Oklab lightness and hue, until what is left can be clipped
/// unnoticed.
///
/// # Source
/// CSS Color Module Level 4, "CSS gamut mapping to an RGB destination" (binary search in Oklch with local clipping).
#[must_use]
pub fn map_to_gamut(space: RgbSpace, lab: Lab) -> Mapped {
    let linear = space.linear(lab);
    if is_in_gamut(linear) {
        return Mapped {
            linear: clip(linear),
            exact: true,
        };
    }
    Mapped {
        linear: reduce_chroma(space, linear),
        exact: false,
    }
}

fn reduce_chroma(space: RgbSpace, linear: [f64; 3]) -> [f64; 3] {
    let origin = Oklch::from_color_unclamped(to_oklab(space, linear));
    if origin.l >= 1.0 {
        return [1.0; 3];
    }
    if origin.l <= 0.0 {
        return [0.0; 3];
    }
    let with_chroma = |chroma: f64| {
        let candidate = Oklab::from_color_unclamped(Oklch { chroma, ..origin });
        (candidate, from_oklab(space, candidate))
    };
    let noticeable = |(candidate, linear): (Oklab<f64>, [f64; 3])| {
        let shown = to_oklab(space, clip(linear));
        (shown.l - candidate.l)
            .hypot(shown.a - candidate.a)
            .hypot(shown.b - candidate.b)
    };
    if noticeable(with_chroma(origin.chroma)) < JUST_NOTICEABLE {
        return clip(linear);
    }
    let (mut low, mut high) = (0.0, origin.chroma);
    let mut low_is_inside = true;
    while high - low > CHROMA_STEP {
        let chroma = (low + high) / 2.0;
        let candidate = with_chroma(chroma);
        if low_is_inside && is_in_gamut(candidate.1) {
            low = chroma;
            continue;
        }
        let distance = noticeable(candidate);
        if distance >= JUST_NOTICEABLE {
            high = chroma;
        } else if JUST_NOTICEABLE - distance < CHROMA_STEP {
            return clip(candidate.1);
        } else {
            low_is_inside = false;
            low = chroma;
        }
    }
    clip(with_chroma(low).1)
}

fn clip(linear: [f64; 3]) -> [f64; 3] {
    linear.map(|it| it.clamp(0.0, 1.0))
}

fn to_oklab(space: RgbSpace, linear: [f64; 3]) -> Oklab<f64> {
    let [r, g, b] = between(space, RgbSpace::Srgb, linear);
    Oklab::from_color_unclamped(LinSrgb::new(r, g, b))
}

fn from_oklab(space: RgbSpace, oklab: Oklab<f64>) -> [f64; 3] {
    let srgb = LinSrgb::from_color_unclamped(oklab);
    between(RgbSpace::Srgb, space, [srgb.red, srgb.green, srgb.blue])
}

/// Linear RGB of one space in another.
fn between(from: RgbSpace, to: RgbSpace, linear: [f64; 3]) -> [f64; 3] {
    if from == to {
        return linear;
    }
    (to.from_xyz_d50() * from.to_xyz_d50() * Vector3::from(linear)).into()
}
