//! Axes of plots: from values to places, with round numbers beside them.

use crate::drawing::{Anchor, Colour, Stroke, Text};

/// Height of letters, drawing units.
pub(super) const LETTERS: f64 = 10.5;
/// Of what must be seen.
pub(super) const INK: Colour = Colour::BLACK;
/// Of what is beside.
pub(super) const FAINT: Colour = Colour::rgb(90, 90, 90);
/// Of lines across a plot.
pub(super) const GRID: Colour = Colour::rgb(205, 205, 205);
/// Of a model: a blue that stays dark in print and apart from black for every eye (Okabe and Ito's palette).
pub(super) const MODEL: Colour = Colour::rgb(0, 114, 178);

/// Values from `from` to `to` along a line of drawing units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    pub(super) from: f64,
    pub(super) to: f64,
    /// Where `from` and `to` lie.
    pub(super) at: [f64; 2],
}

impl Axis {
    /// Where a value lies; one beyond an end lies at that end.
    pub(super) fn place(&self, value: f64) -> f64 {
        let share = (value - self.from) / (self.to - self.from);
        self.at[0] + share.clamp(0.0, 1.0) * (self.at[1] - self.at[0])
    }

    /// Round values along it, about `count` of them.
    pub(super) fn ticks(&self, count: f64) -> Vec<f64> {
        let step = round_up((self.to - self.from) / count);
        if !(step.is_finite() && step > 0.0) {
            return Vec::new();
        }
        let first = (self.from / step - 1e-9).ceil();
        (0..50)
            .map(|it| (first + f64::from(it)) * step + 0.0)
            .take_while(|it| *it <= self.to + 1e-9 * step)
            .collect()
    }
}

/// The least of 1, 2, 5 times a power of ten that is no smaller.
pub(super) fn round_up(value: f64) -> f64 {
    if !(value.is_finite() && value > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(value.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|it| it * power);
    steps
        .into_iter()
        .find(|it| *it >= value * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// A tick's number, without digits that it doesn't need.
pub(super) fn label(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    text.replacen('-', "−", 1)
}

/// A line of text in a plot.
pub(super) fn text(at: [f64; 2], anchor: Anchor, words: impl Into<String>) -> Text {
    Text::new(at, LETTERS, anchor, words, INK)
}

/// A thin line.
pub(super) fn thin(colour: Colour) -> Stroke {
    Stroke::solid(colour, 0.7)
}

/// A dashed line.
pub(super) fn dashed(colour: Colour, width: f64) -> Stroke {
    Stroke {
        dash: Some([4.0, 3.0]),
        ..Stroke::solid(colour, width)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_within() {
        let axis = |from, to| Axis {
            from,
            to,
            at: [0.0, 100.0],
        };
        assert_eq!(
            axis(0.0, 2250.0).ticks(5.0),
            [0.0, 500.0, 1000.0, 1500.0, 2000.0]
        );
        let labels: Vec<String> = (axis(-1.3, 2.2).ticks(4.0).into_iter().map(label)).collect();
        assert_eq!(labels, ["−1", "0", "1", "2"]);
        assert!(axis(1.0, 1.0).ticks(4.0).len() <= 1);
        assert!(axis(f64::NAN, 1.0).ticks(4.0).is_empty());
        assert!((axis(0.0, 10.0).place(2.5) - 25.0).abs() < 1e-12);
        assert!((axis(0.0, 10.0).place(99.0) - 100.0).abs() < 1e-12);
    }
}
