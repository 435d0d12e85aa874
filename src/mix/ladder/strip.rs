//! A ladder as a picture: one band that runs from the clear coating to the full load, measured swatches laid into it, a load axis below.

use super::{Hiding, Ladder, Point, Step};
use crate::colour::srgb;
use crate::drawing::{Anchor, Colour, Drawing, Shape, Stroke, Text, Unit, shorten, text_width};
use crate::geometry::Rect;
use crate::mix::answer::Shade;

const WIDTH: f64 = 960.0;
const SIDE: f64 = 40.0;
/// Room above the band: the title, then labels of swatches in rows.
const TITLE: f64 = 58.0;
const ROW: f64 = 17.0;
const BAND: f64 = 120.0;
const SMALL: f64 = 12.0;
const LARGE: f64 = 17.0;
const INK: Colour = Colour::rgb(40, 40, 40);
const FAINT: Colour = Colour::rgb(120, 120, 120);
/// Rows of labels at most; what finds no room has none, the table has all.
const MOST_ROWS: usize = 4;

/// The strip, in CSS pixels.
#[must_use]
pub fn strip(ladder: &Ladder) -> Drawing {
    let labels = labels(ladder);
    let rows = labels.iter().map(|it| it.row + 1).max().unwrap_or(0);
    let top = TITLE + ROW * small(rows) + 8.0;
    let bottom = top + BAND;
    let mut drawing = Drawing::new(WIDTH, bottom + 84.0, Unit::Pixel);
    drawing.title = Some(title(ladder));
    drawing.text(Text::new(
        [SIDE, 30.0],
        LARGE,
        Anchor::Start,
        shorten(&title(ladder), LARGE, WIDTH - 2.0 * SIDE),
        INK,
    ));
    band(ladder, top, &mut drawing);
    hiding(ladder, top, &mut drawing);
    for it in &labels {
        label(it, top, &mut drawing);
    }
    for it in &ladder.measured {
        dot(ladder, it, top + BAND / 2.0, &mut drawing);
    }
    axis(ladder, bottom, &mut drawing);
    drawing
}

fn title(ladder: &Ladder) -> String {
    let amount = if ladder.nominal {
        format!("{} coats", ladder.coats)
    } else {
        format!("{:.0} g/m²", ladder.g_per_m2)
    };
    format!(
        "{} in {} on {}, {amount}",
        ladder.pigment, ladder.coating, ladder.substrate
    )
}

fn x(ladder: &Ladder, load: f64) -> f64 {
    let share = if ladder.full > 0.0 {
        load / ladder.full
    } else {
        0.0
    };
    SIDE + share * (WIDTH - 2.0 * SIDE)
}

fn screen(it: &Shade) -> Colour {
    let [r, g, b] = srgb::to_rgb8(it.lab());
    Colour::rgb(r, g, b)
}

/// Each step's colour half way to its neighbours. A pixel wider than that to the right, so that nothing shines through between them.
fn band(ladder: &Ladder, top: f64, drawing: &mut Drawing) {
    let steps: &[Step] = &ladder.steps;
    for (index, it) in steps.iter().enumerate() {
        let between = |other: Option<&Step>| {
            other.map_or(x(ladder, it.load), |other| {
                f64::midpoint(x(ladder, it.load), x(ladder, other.load))
            })
        };
        let left = between(index.checked_sub(1).and_then(|it| steps.get(it)));
        let right = between(steps.get(index + 1));
        let over = if index + 1 < steps.len() { 1.0 } else { 0.0 };
        let rect = Rect {
            x: left,
            y: top,
            width: right - left + over,
            height: BAND,
        };
        drawing.rectangle(&rect, Some(screen(&it.colour)), None);
    }
}

/// A dot of the measured colour: where it vanishes in the band, both agree.
fn dot(ladder: &Ladder, it: &Point, y: f64, drawing: &mut Drawing) {
    let centre = [x(ladder, it.load), y];
    let rim = if it.colour.l > 50.0 {
        Colour::BLACK
    } else {
        Colour::WHITE
    };
    drawing.shapes.push(Shape::Circle {
        centre,
        radius: 13.0,
        fill: Some(screen(&it.colour)),
        stroke: Some(Stroke::solid(rim.with_alpha(150), 1.2)),
    });
}

struct Label {
    x: f64,
    /// From the band upwards.
    row: usize,
    text: String,
    /// Its left end.
    from: f64,
    to: f64,
}

/// Each label to the right of its line, above those that it would cover: so no line crosses a text.
fn labels(ladder: &Ladder) -> Vec<Label> {
    let mut all: Vec<Label> = Vec::new();
    for it in ladder.measured.iter().rev() {
        let u95 = (it.colour.u95).map_or_else(|| "–".to_owned(), |it| format!("{it:.1}"));
        let text = format!("{}: U95 {u95}, off {:.1}", it.load, it.delta_e);
        let width = text_width(&text, SMALL);
        let at = x(ladder, it.load);
        let from = (at - 3.0).min(WIDTH - SIDE - width);
        let to = from + width;
        let covered = all
            .iter()
            .filter(|it| it.from < to + APART && from < it.to + APART);
        let row = covered.map(|it| it.row + 1).max().unwrap_or(0);
        if row < MOST_ROWS {
            all.push(Label {
                x: at,
                row,
                text,
                from,
                to,
            });
        }
    }
    all
}

/// Least gap between two labels.
const APART: f64 = 8.0;

fn label(it: &Label, top: f64, drawing: &mut Drawing) {
    let y = top - 10.0 - ROW * small(it.row);
    drawing.line(
        [it.x, y + 3.0],
        [it.x, top],
        Stroke::solid(FAINT.with_alpha(140), 0.8),
    );
    let at = [it.from, y];
    drawing.text(Text::new(at, SMALL, Anchor::Start, it.text.clone(), INK));
}

fn hiding(ladder: &Ladder, top: f64, drawing: &mut Drawing) {
    let Hiding::From { load } = ladder.hiding else {
        return;
    };
    let at = x(ladder, load);
    let stroke = Stroke {
        dash: Some([5.0, 4.0]),
        ..Stroke::solid(INK, 1.4)
    };
    drawing.line([at, top + BAND], [at, top + BAND + 40.0], stroke);
    let near_end = at > WIDTH - 260.0;
    drawing.text(Text::new(
        [at + if near_end { -6.0 } else { 6.0 }, top + BAND + 40.0],
        SMALL,
        if near_end { Anchor::End } else { Anchor::Start },
        format!("hides what lies below from {load:.1} on"),
        INK,
    ));
}

fn axis(ladder: &Ladder, y: f64, drawing: &mut Drawing) {
    drawing.line(
        [SIDE, y + 6.0],
        [WIDTH - SIDE, y + 6.0],
        Stroke::solid(INK, 1.0),
    );
    for load in ticks(ladder.full) {
        let at = x(ladder, load);
        drawing.line([at, y + 6.0], [at, y + 11.0], Stroke::solid(INK, 1.0));
        let text = Text::new([at, y + 24.0], SMALL, Anchor::Middle, load.to_string(), INK);
        drawing.text(text);
    }
    drawing.text(Text::new(
        [SIDE, y + 62.0],
        SMALL,
        Anchor::Start,
        "load, g of pigment per 100 g of mixed coating",
        INK,
    ));
    drawing.text(Text::new(
        [WIDTH - SIDE, y + 62.0],
        SMALL,
        Anchor::End,
        "dots: swatches as measured; off: ΔE00 to the band",
        FAINT,
    ));
}

/// Round loads, five to ten of them.
fn ticks(full: f64) -> Vec<f64> {
    if full <= 0.0 {
        return vec![0.0];
    }
    let magnitude = 10.0_f64.powf(full.log10().floor());
    let step = [0.1, 0.2, 0.5, 1.0]
        .map(|it| it * magnitude)
        .into_iter()
        .find(|it| full / it <= 10.0)
        .unwrap_or(magnitude);
    (0..=10_u32)
        .map(|it| (f64::from(it) * step * 1e6).round() / 1e6)
        .filter(|it| *it <= full * (1.0 + 1e-9))
        .collect()
}

fn small(count: usize) -> f64 {
    crate::sample::float(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(ticks(12.0), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0]);
        assert_eq!(
            ticks(0.5),
            [0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5]
        );
        assert_eq!(ticks(3.0), [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]);
        assert_eq!(ticks(0.0), [0.0]);
    }
}
