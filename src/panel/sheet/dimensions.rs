//! Dimensions: rulers along the top and the left, and the overall size along the bottom and the right.

use super::{Anchor, CAP_HEIGHT, Canvas, MEASURE, Rect, Shape, Stroke, Text, number, text_width};
use crate::drawing::{Colour, Halo};

/// Edges closer than this are one.
const SAME_MM: f64 = 0.01;

impl Canvas<'_> {
    /// Where every patch starts and ends, from the board's left and top edge.
    pub(super) fn rulers(&mut self) {
        let above = self.ruler(0);
        let left = self.ruler(1);
        let gap = 0.5 * self.letter;
        self.row_and_column_names(above + gap, left + gap);
    }

    /// The ruler along an axis (0 across, 1 down); how far it reaches from the core.
    fn ruler(&mut self, axis: usize) -> f64 {
        let datum = self.datum();
        let span = |rect: &Rect| match axis {
            0 => [rect.x, rect.x + rect.width],
            _ => [rect.y, rect.y + rect.height],
        };
        let [zero, end] = span(&datum);
        let patches = self.panel.patches.iter().filter(|it| !it.empty);
        let edges: Vec<[f64; 2]> = patches.map(|it| span(&it.rect)).collect();
        let starts = edges.iter().map(|it| it[0]);
        let ends = edges.iter().map(|it| it[1]);
        // The board's edges are written first, then where patches start; where they end, as there is room.
        let wanted = [zero, end]
            .into_iter()
            .chain(sorted(starts))
            .chain(sorted(ends));
        let size = 0.8 * self.letter;
        let (mut ticks, mut written): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        for at in wanted {
            let clear_of = |all: &[f64], by: f64| all.iter().all(|it| (it - at).abs() > by);
            if clear_of(&ticks, SAME_MM) {
                if clear_of(&written, 1.15 * size) {
                    written.push(at);
                }
                ticks.push(at);
            }
        }
        let texts: Vec<String> = written.iter().map(|it| number(it - zero)).collect();
        let widest = texts
            .iter()
            .map(|it| text_width(it, size))
            .fold(0.0, f64::max);
        let (short, long) = (0.6 * self.letter, 0.9 * self.letter);
        let pen = Stroke::solid(MEASURE, 0.06 * self.letter);
        for at in &ticks {
            let reach = if written.contains(at) { long } else { short };
            self.line(
                self.off_core(axis, *at, 0.25 * self.letter),
                self.off_core(axis, *at, reach),
                pen,
            );
        }
        let start = long + 0.3 * size;
        for (at, text) in written.iter().zip(&texts) {
            let middle = at + CAP_HEIGHT * size / 2.0;
            // Across the board the numbers stand upright on the ruler; down its side they lie level.
            let (point, anchor, turned) = match axis {
                0 => (self.off_core(axis, middle, start), Anchor::Start, -90.0),
                _ => (self.off_core(axis, middle, start), Anchor::End, 0.0),
            };
            self.shapes.push(Shape::Text(Text {
                turned,
                ..Text::new(point, size, anchor, text.as_str(), MEASURE)
            }));
        }
        let reach = start + widest;
        let [x, y] = self.off_core(axis, zero, reach);
        self.cover(&Rect {
            x,
            y,
            width: size,
            height: size,
        });
        reach
    }

    /// The point at `along` on an axis, `away` outside of the core's top or left edge.
    fn off_core(&self, axis: usize, along: f64, away: f64) -> [f64; 2] {
        match axis {
            0 => [along, self.core.y - away],
            _ => [self.core.x - away, along],
        }
    }

    /// Width and height over all.
    pub(super) fn overall(&mut self) {
        let datum = self.datum();
        let away = 1.8 * self.letter;
        let (right, bottom) = (
            self.core.x + self.core.width + away,
            self.core.y + self.core.height + away,
        );
        self.dimension(
            [datum.x, bottom],
            [datum.x + datum.width, bottom],
            datum.width,
            0.0,
        );
        self.dimension(
            [right, datum.y + datum.height],
            [right, datum.y],
            datum.height,
            -90.0,
        );
    }

    /// A line between two points with arrows at its ends and its length upon it.
    fn dimension(&mut self, from: [f64; 2], to: [f64; 2], length: f64, turned: f64) {
        let letter = self.letter;
        let pen = Stroke::solid(MEASURE, 0.08 * letter);
        self.line(from, to, pen);
        let along = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
        for (tip, sign) in [(from, 1.0), (to, -1.0)] {
            let (back, side) = (sign * 0.9 * letter, 0.25 * letter);
            let base = [tip[0] + back * along[0], tip[1] + back * along[1]];
            let points = vec![
                tip,
                [base[0] - side * along[1], base[1] + side * along[0]],
                [base[0] + side * along[1], base[1] - side * along[0]],
            ];
            self.shapes.push(Shape::Polygon {
                points,
                fill: Some(MEASURE),
                stroke: None,
            });
            // The witness line from the edge that is meant.
            let cross = [1.3 * letter * along[1].abs(), 1.3 * letter * along[0].abs()];
            self.line([tip[0] - cross[0], tip[1] - cross[1]], tip, pen);
        }
        let size = 0.9 * letter;
        let drop = CAP_HEIGHT * size / 2.0;
        let middle = [
            (from[0] + to[0]) / 2.0 + drop * along[1].abs(),
            (from[1] + to[1]) / 2.0 + drop * along[0].abs(),
        ];
        self.shapes.push(Shape::Text(Text {
            turned,
            halo: Some(Halo {
                colour: Colour::WHITE,
                width: 0.5 * size,
            }),
            ..Text::new(
                middle,
                size,
                Anchor::Middle,
                format!("{} mm", number(length)),
                MEASURE,
            )
        }));
        self.cover(&Rect {
            x: from[0].min(to[0]) - 0.6 * size,
            y: from[1].min(to[1]) - 0.6 * size,
            width: (to[0] - from[0]).abs() + 1.2 * size,
            height: (to[1] - from[1]).abs() + 1.2 * size,
        });
    }
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.dedup_by(|one, other| (*one - *other).abs() <= SAME_MM);
    values
}
