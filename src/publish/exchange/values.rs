//! The numbers of a colour as all files have them, and its words.

use crate::colour::lab;
use crate::publish::{Age, Shows, Swatch, Tone};
use serde::Serialize;

/// What follows from a colour, rounded.
#[derive(Clone, Copy, Debug)]
pub(super) struct Derived {
    /// Chroma, to three decimals.
    pub(super) c: f64,
    /// Hue angle in degrees, to three decimals: from 0 up to but not 360.
    pub(super) h: f64,
    /// XYZ relative to D50, 1 for the perfect diffuser, to six decimals.
    pub(super) xyz: [f64; 3],
    /// U95 of Y, to six decimals.
    pub(super) u95_y: f64,
    /// Standard deviations of L*, a*, b*, to four decimals.
    pub(super) deviations: [f64; 3],
}

impl Derived {
    pub(super) fn of(tone: &Tone) -> Self {
        let xyz = lab::to_xyz(tone.lab);
        let deviation = |of: usize| {
            let variance = tone.covariance[(of, of)];
            rounded(variance.max(0.0).sqrt(), 4)
        };
        Self {
            c: rounded(lab::chroma(tone.lab), 3),
            h: rounded(lab::hue_degrees(tone.lab), 3) % 360.0,
            xyz: [xyz.x, xyz.y, xyz.z].map(|it| rounded(it, 6)),
            u95_y: rounded(tone.luminous().1, 6),
            deviations: [0, 1, 2].map(deviation),
        }
    }
}

/// To so many decimals: the last bits differ between machines. Zero has no sign.
pub(super) fn rounded(it: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (it * scale).round() / scale + 0.0
}

/// With so many decimals; zero has no sign.
pub(super) fn fixed(it: f64, decimals: usize) -> String {
    let text = format!("{it:.decimals$}");
    let zero = text.bytes().all(|it| matches!(it, b'-' | b'0' | b'.'));
    if zero {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// Which of a swatch's ages is its colour as made.
pub(super) fn as_made(it: &Swatch) -> Option<usize> {
    (it.ages.iter()).position(|age| same(age.hours, it.hours) && age.tone == it.tone)
}

fn same(one: Option<f64>, other: Option<f64>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => one.total_cmp(&other).is_eq(),
        (None, None) => true,
        _ => false,
    }
}

/// The ages of a swatch, its colour as made first; each with whether it is that.
pub(super) fn ages(it: &Swatch) -> impl Iterator<Item = (&Age, bool)> {
    let first = as_made(it);
    let others = (it.ages.iter().enumerate()).filter(move |(index, _)| Some(*index) != first);
    let first = first.and_then(|index| it.ages.get(index));
    (first.map(|age| (age, true)).into_iter()).chain(others.map(|(_, age)| (age, false)))
}

/// The same as in a file: `srgb`, `display-p3`, `neither`.
pub(super) fn shows(it: Shows) -> &'static str {
    match it {
        Shows::Srgb => "srgb",
        Shows::DisplayP3 => "display-p3",
        Shows::Neither => "neither",
    }
}

/// How uncertain a colour is, in words. ASCII.
pub(super) fn uncertainty(it: &Tone) -> String {
    match it.u95 {
        Some(u95) => format!("U95 {u95:.1} in CIEDE2000"),
        None => "uncertainty not known".to_owned(),
    }
}

/// JSON, indented, with a line end; a number that is not finite is null.
pub(super) fn json(it: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(it);
    text.expect("keys are strings, and nothing of it fails by itself") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(fixed(-0.0004, 3), "0.000");
        assert_eq!(fixed(-0.0006, 3), "-0.001");
        assert!(rounded(-0.0004, 3).is_sign_positive());
    }
}
