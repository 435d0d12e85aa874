//! Writing on pictures: colours, sizes that fit, and text that is read on any ground.

use crate::colour::Lab;
use crate::drawing::{Anchor, CAP_HEIGHT, Colour, Drawing, Halo, Shape, Stroke, Text, text_width};
use crate::flag::Flag;
use crate::geometry::Point;
use crate::sample::RegionKind;

/// Ids and outlines of whole patches.
pub(super) const WHOLE: Colour = Colour::WHITE;
/// The half under the mask.
pub(super) const MASKED: Colour = Colour::rgb(110, 190, 255);
/// The half in the sun.
pub(super) const EXPOSED: Colour = Colour::rgb(255, 200, 40);
/// Cards.
pub(super) const CARD: Colour = Colour::rgb(120, 235, 130);
/// Substrate that tells of the light.
pub(super) const SUBSTRATE: Colour = Colour::rgb(235, 235, 235).with_alpha(150);
/// Flags.
pub(super) const FLAG: Colour = Colour::rgb(255, 150, 90);
/// Smallest text that is read, px.
pub(super) const SMALLEST: f64 = 10.0;
/// Line to line, in sizes of the text.
pub(super) const LEADING: f64 = 1.12;

/// Lines of text with their colours, set around a centre as large as a box allows, up to `largest`.
pub(super) struct Lines<'a> {
    pub(super) lines: &'a [(String, Colour)],
    pub(super) centre: Point,
    pub(super) room: [f64; 2],
    pub(super) largest: f64,
}

impl Lines<'_> {
    /// The size at which all lines fit; may be smaller than anyone can read.
    pub(super) fn size(&self) -> f64 {
        let texts = self.lines.iter().map(|it| it.0.as_str());
        size_of(texts, self.room, self.largest)
    }

    /// Whether the lines can be read where they fit.
    pub(super) fn fit(&self) -> bool {
        self.size() >= SMALLEST
    }

    /// Draws the lines, at the smallest legible size where they don't fit; with a halo in the opposite tone, if any.
    pub(super) fn draw(&self, drawing: &mut Drawing, halo: Option<Colour>) {
        let size = self.size().max(SMALLEST);
        let count = f64::from(u32::try_from(self.lines.len()).unwrap_or(u32::MAX));
        // The first baseline: the block of lines is centred by its capitals.
        let mut y = self.centre.y - (count - 1.0) * LEADING * size / 2.0 + CAP_HEIGHT * size / 2.0;
        for (text, colour) in self.lines {
            let mut line = Text::new(
                [self.centre.x, y],
                size,
                Anchor::Middle,
                text.clone(),
                *colour,
            );
            line.halo = halo.map(|it| Halo {
                colour: it,
                width: (0.13 * size).max(1.8),
            });
            drawing.text(line);
            y += LEADING * size;
        }
    }
}

/// The size, up to `largest`, at which all lines fit into a room.
pub(super) fn size(lines: &[String], room: [f64; 2], largest: f64) -> f64 {
    size_of(lines.iter().map(String::as_str), room, largest)
}

fn size_of<'a>(lines: impl ExactSizeIterator<Item = &'a str>, room: [f64; 2], largest: f64) -> f64 {
    let high = LEADING * super::float(lines.len());
    let widest = lines.map(|it| text_width(it, 1.0)).fold(0.0, f64::max);
    largest
        .min(room[0] / widest.max(1e-9))
        .min(room[1] / high.max(1e-9))
}

/// Colour and dash of an outline: halves differ in both, for those who see few colours.
pub(super) fn style(kind: RegionKind) -> (Colour, Option<[f64; 2]>) {
    match kind {
        RegionKind::Whole { .. } => (WHOLE, None),
        RegionKind::Masked { .. } => (MASKED, Some([7.0, 4.0])),
        RegionKind::Exposed { .. } => (EXPOSED, None),
        RegionKind::Card { .. } => (CARD, None),
        RegionKind::Substrate { .. } | RegionKind::Sheltered { .. } => {
            (SUBSTRATE, Some([2.0, 3.0]))
        }
    }
}

/// L*, a*, b* with one decimal.
pub(super) fn figures(lab: Lab, between: &str) -> String {
    // Adding 0 makes a rounded negative zero positive.
    let tenth = |it: f64| format!("{:.1}", (10.0 * it).round() / 10.0 + 0.0).replace('-', "−");
    let [l, a, b] = [lab.l, lab.a, lab.b].map(tenth);
    format!("L* {l}{between}a* {a}{between}b* {b}")
}

/// A closed outline that shows on any ground: a dark line under a light one.
pub(super) fn outline(
    drawing: &mut Drawing,
    corners: &[Point],
    colour: Colour,
    width: f64,
    dash: Option<[f64; 2]>,
) {
    let points: Vec<[f64; 2]> = corners.iter().map(|it| [it.x, it.y]).collect();
    let dark = Colour::BLACK.with_alpha(colour.alpha / 3 * 2);
    for (colour, width, dash) in [(dark, 2.2 * width, None), (colour, width, dash)] {
        drawing.shapes.push(Shape::Polygon {
            points: points.clone(),
            fill: None,
            stroke: Some(Stroke {
                colour,
                width,
                dash,
            }),
        });
    }
}

/// A flag as the readings write it.
pub(super) fn flag_name(flag: Flag) -> String {
    // Flags are written by serde everywhere: one list of names.
    match serde_json::to_value(flag) {
        Ok(serde_json::Value::String(name)) => name,
        _ => format!("{flag:?}"),
    }
}

/// Black on pale, white on dark.
pub(super) fn ink_on(lightness: f64) -> Colour {
    if lightness > 55.0 {
        Colour::BLACK
    } else {
        Colour::WHITE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_one_decimal_and_zero_has_no_sign() {
        let lab = Lab::new(18.64, -0.04, -12.35);
        assert_eq!(figures(lab, " "), "L* 18.6 a* 0.0 b* −12.4");
    }
}
