//! What the outlines and tints mean.

use super::Shown;
use super::labels::{self, outline};
use super::tint;
use crate::drawing::{Anchor, Colour, Drawing, Shape, Text, text_width};
use crate::geometry::Point;
use crate::sample::RegionKind;

/// A sample and its meaning.
#[derive(Clone, Copy, Debug)]
struct Entry {
    sample: Sample,
    meaning: &'static str,
}

#[derive(Clone, Copy, Debug)]
enum Sample {
    Outline(RegionKind),
    Tint([u8; 3]),
}

/// The entries of what occurs in one photo, set in lines.
#[derive(Debug)]
pub(super) struct Legend {
    lines: Vec<Vec<Entry>>,
    size: f64,
}

impl Legend {
    /// Of letters of a `size`, in lines as wide as `room`.
    pub(super) fn new(shown: &Shown<'_>, size: f64, room: f64) -> Self {
        let mut lines: Vec<Vec<Entry>> = vec![Vec::new()];
        let mut used = 0.0;
        for entry in entries(shown) {
            let width = width(&entry, size);
            if used > 0.0 && used + width > room {
                lines.push(Vec::new());
                used = 0.0;
            }
            used += width;
            lines.last_mut().expect("there is a first line").push(entry);
        }
        Self { lines, size }
    }

    pub(super) fn lines(&self) -> usize {
        self.lines.len()
    }

    /// Draws the lines, the first one's baseline beginning at `at`.
    pub(super) fn draw(&self, drawing: &mut Drawing, at: [f64; 2], leading: f64, ink: Colour) {
        let mut y = at[1];
        for line in &self.lines {
            let mut x = at[0];
            for entry in line {
                self.sample(drawing, [x, y], entry.sample);
                let words = [x + 2.1 * self.size, y];
                drawing.text(Text::new(
                    words,
                    self.size,
                    Anchor::Start,
                    entry.meaning,
                    ink,
                ));
                x += width(entry, self.size);
            }
            y += leading;
        }
    }

    fn sample(&self, drawing: &mut Drawing, [x, y]: [f64; 2], sample: Sample) {
        let (wide, high) = (1.6 * self.size, 0.8 * self.size);
        let corners = [
            Point::new(x, y - high),
            Point::new(x + wide, y - high),
            Point::new(x + wide, y),
            Point::new(x, y),
        ];
        match sample {
            Sample::Outline(kind) => {
                let (colour, dash) = labels::style(kind);
                outline(drawing, &corners, colour.with_alpha(255), 2.0, dash);
            }
            Sample::Tint([r, g, b]) => drawing.shapes.push(Shape::Polygon {
                points: corners.iter().map(|it| [it.x, it.y]).collect(),
                fill: Some(Colour::rgb(r, g, b)),
                stroke: None,
            }),
        }
    }
}

/// From an entry's start to where the next may start.
fn width(entry: &Entry, size: f64) -> f64 {
    text_width(entry.meaning, size) + 3.7 * size
}

/// One of each that occurs.
fn entries(shown: &Shown<'_>) -> Vec<Entry> {
    let samples = shown.samples;
    let regions = samples
        .patches
        .iter()
        .chain(&samples.cards)
        .chain(&samples.substrate);
    let mut entries: Vec<Entry> = Vec::new();
    for region in regions {
        let meaning = match region.kind {
            RegionKind::Whole { .. } => "sampled patch",
            RegionKind::Masked { .. } => "masked half",
            RegionKind::Exposed { .. } => "exposed half",
            RegionKind::Card { .. } => "card, with a disc of its stated colour",
            RegionKind::Substrate { .. } | RegionKind::Sheltered { .. } => {
                "substrate, for the light"
            }
        };
        if entries.iter().all(|it| it.meaning != meaning) {
            entries.push(Entry {
                sample: Sample::Outline(region.kind),
                meaning,
            });
        }
    }
    let counts = || samples.patches.iter().chain(&samples.cards);
    if counts().any(|it| it.left_out.glare + it.left_out.clipped_high > 0) {
        entries.push(Entry {
            sample: Sample::Tint(tint::HIGH),
            meaning: "left out: highlight or clipped",
        });
    }
    if counts().any(|it| it.left_out.clipped_low > 0) {
        entries.push(Entry {
            sample: Sample::Tint(tint::LOW),
            meaning: "left out: lost in the black",
        });
    }
    entries
}
