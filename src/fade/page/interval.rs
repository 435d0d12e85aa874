//! Values with their intervals, one below the other.

use super::axis::{Axis, FAINT, GRID, INK, LETTERS, label, text, thin};
use crate::drawing::{Anchor, Drawing, Shape, Stroke, Unit, shorten};

const WIDTH: f64 = 340.0;
const ROW: f64 = 17.0;
const NAMES: f64 = 92.0;

/// One value.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Line {
    pub(super) name: String,
    pub(super) value: f64,
    pub(super) low: f64,
    /// None: open above.
    pub(super) high: Option<f64>,
    /// Filled, else hollow.
    pub(super) filled: bool,
}

/// Draws them along an axis from 0 to `end`.
pub(super) fn plot(lines: &[Line], end: f64, axis_name: &str, title: String) -> Drawing {
    #[expect(clippy::cast_precision_loss, reason = "patches of a board")]
    let bottom = 6.0 + ROW * lines.len() as f64;
    let mut drawing = Drawing::new(WIDTH, bottom + 34.0, Unit::Pixel);
    drawing.title = Some(title);
    let x = Axis {
        from: 0.0,
        to: end,
        at: [NAMES, WIDTH - 12.0],
    };
    for it in x.ticks(4.0) {
        drawing.line([x.place(it), 2.0], [x.place(it), bottom], thin(GRID));
        drawing.text(text(
            [x.place(it), bottom + 13.0],
            Anchor::Middle,
            label(it),
        ));
    }
    drawing.line([NAMES, bottom], [WIDTH - 12.0, bottom], thin(INK));
    let name = shorten(axis_name, LETTERS, WIDTH - 24.0);
    drawing.text(text([WIDTH - 12.0, bottom + 28.0], Anchor::End, name));
    let mut y = 6.0 + ROW / 2.0;
    for it in lines {
        let name = shorten(&it.name, LETTERS, NAMES - 6.0);
        drawing.text(text([NAMES - 6.0, y + 3.7], Anchor::End, name));
        line(&mut drawing, &x, y, it);
        y += ROW;
    }
    drawing
}

fn line(drawing: &mut Drawing, x: &Axis, y: f64, it: &Line) {
    let low = x.place(it.low);
    let high = x.place(it.high.unwrap_or(x.to));
    drawing.line([low, y], [high, y], Stroke::solid(INK, 1.2));
    drawing.line([low, y - 4.0], [low, y + 4.0], Stroke::solid(INK, 1.2));
    match it.high {
        Some(_) => drawing.line([high, y - 4.0], [high, y + 4.0], Stroke::solid(INK, 1.2)),
        // An arrow: nobody knows where it ends.
        None => drawing.shapes.push(Shape::Polygon {
            points: vec![
                [high - 2.0, y - 4.0],
                [high + 7.0, y],
                [high - 2.0, y + 4.0],
            ],
            fill: Some(INK),
            stroke: None,
        }),
    }
    drawing.shapes.push(Shape::Circle {
        centre: [x.place(it.value), y],
        radius: 3.6,
        fill: Some(if it.filled {
            INK
        } else {
            crate::drawing::Colour::WHITE
        }),
        stroke: Some(Stroke::solid(if it.filled { INK } else { FAINT }, 1.3)),
    });
}
