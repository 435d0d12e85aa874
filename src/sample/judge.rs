//! Which pixels of a region stand for its surface: clipped ones and highlights don't.

use super::float;

/// One looked-at pixel.
#[derive(Clone, Copy)]
pub(super) struct Seen {
    /// Stored column and row. No wider than need be: a photo has millions of these, and they pass through the cache twice.
    pub(super) at: [u32; 2],
    /// Which block it belongs to.
    pub(super) block: u32,
    /// Linear.
    pub(super) rgb: [f32; 3],
    /// Whether a channel is at the top of the encoding.
    pub(super) top: bool,
    /// Whether a channel is at the bottom.
    pub(super) bottom: bool,
}

/// What happens to a pixel.
pub(super) enum Fate {
    Kept,
    ClippedHigh,
    ClippedLow,
    Glare,
}

/// What is usual in a region, and so what is not.
pub(super) struct Verdict {
    /// The surface itself is at the top of the encoding.
    body_at_top: bool,
    /// The surface itself is at the bottom.
    body_at_bottom: bool,
    /// Luminance above which a pixel may be a highlight.
    bright: f32,
    /// Saturation below which it is one.
    pale: f32,
    /// One over the balance of channels of the light.
    balance: [f32; 3],
}

/// A share of end-of-range pixels beyond which the surface itself lies there.
const BODY_AT_END: f64 = 0.25;
/// Robust standard deviations above the median from which a pixel may be a highlight. Published practice is
/// median + 3 MAD (about 2 σ); that cuts 2 % off the top of plain noise and shifts the mean, which 3.5 σ doesn't.
const BRIGHT_SIGMAS: f64 = 3.5;
/// The same for a surface near neutral, where paleness tells nothing.
const BRIGHT_SIGMAS_NEUTRAL: f64 = 5.0;
/// Saturation (1 − least channel / greatest) under which a surface counts as near neutral.
const NEUTRAL_SATURATION: f32 = 0.08;

impl Verdict {
    /// From all looked-at pixels of a region; `light` is the balance of channels of the light (green = 1).
    pub(super) fn of(seen: &[Seen], light: [f64; 3]) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a ratio of channels")]
        let balance = light.map(|it| (1.0 / it) as f32);
        // In one go: they come from far away.
        let counts = seen.iter().fold([0, 0], |[top, bottom], it| {
            [top + usize::from(it.top), bottom + usize::from(it.bottom)]
        });
        let [body_at_top, body_at_bottom] =
            counts.map(|it| float(it) / float(seen.len().max(1)) > BODY_AT_END);
        // Two thousand pixels pin a median down far enough.
        let step = seen.len() / 2000 + 1;
        let some = || {
            seen.iter()
                .step_by(step)
                .filter(|it| !it.top || body_at_top)
        };
        let mut light: Vec<f32> = some().map(|it| luminance(it.rgb, balance)).collect();
        let mut saturations: Vec<f32> = some().map(|it| saturation(it.rgb, balance)).collect();
        let middle = median(&mut light);
        let usual_saturation = median(&mut saturations);
        let mut deviations: Vec<f32> = light.iter().map(|it| (it - middle).abs()).collect();
        let sigma = 1.4826 * f64::from(median(&mut deviations));
        let near_neutral = usual_saturation < NEUTRAL_SATURATION;
        let sigmas = if near_neutral {
            BRIGHT_SIGMAS_NEUTRAL
        } else {
            BRIGHT_SIGMAS
        };
        // A surface without any spread (a rendered or quantised one) has no highlights within two per cent.
        let above = (sigmas * sigma).max(0.02 * f64::from(middle));
        #[expect(clippy::cast_possible_truncation, reason = "a luminance")]
        let bright = (f64::from(middle) + above) as f32;
        Self {
            body_at_top,
            body_at_bottom,
            bright,
            pale: if near_neutral {
                f32::INFINITY
            } else {
                usual_saturation
            },
            balance,
        }
    }

    /// What becomes of a pixel of that region.
    pub(super) fn on(&self, pixel: &Seen) -> Fate {
        if pixel.top && !self.body_at_top {
            return Fate::ClippedHigh;
        }
        if pixel.bottom && !self.body_at_bottom {
            return Fate::ClippedLow;
        }
        let highlight = luminance(pixel.rgb, self.balance) > self.bright
            && saturation(pixel.rgb, self.balance) < self.pale;
        if highlight && !self.body_at_top {
            Fate::Glare
        } else {
            Fate::Kept
        }
    }
}

fn luminance(rgb: [f32; 3], balance: [f32; 3]) -> f32 {
    rgb[0] * balance[0] + rgb[1] * balance[1] + rgb[2] * balance[2]
}

fn saturation(rgb: [f32; 3], balance: [f32; 3]) -> f32 {
    let [r, g, b] = [
        rgb[0] * balance[0],
        rgb[1] * balance[1],
        rgb[2] * balance[2],
    ];
    let greatest = r.max(g).max(b);
    if greatest > 0.0 {
        1.0 - r.min(g).min(b) / greatest
    } else {
        0.0
    }
}

/// The upper median; 0 of nothing. Reorders its input.
fn median(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}
