//! Turning the stored picture so that the panel stands upright.

use super::float;
use crate::geometry::Point;
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::Photo;
use nalgebra::{Matrix2, Vector2};

/// A smaller photo is shown larger, so that ids can be read: its longest side then has this many pixels.
const SMALLEST_LONG_SIDE: usize = 1000;

/// From stored pixels to the pixels of the view: one of the eight turns and mirrorings, and a scale.
#[derive(Clone, Copy, Debug)]
pub(super) struct Upright {
    /// Stored size, px.
    stored: [usize; 2],
    /// Size of the view before it is turned: of the stored picture, shrunk.
    shrunk: [usize; 2],
    /// Signed permutation: stored directions to view directions.
    turn: Matrix2<f64>,
}

impl Upright {
    /// Chooses the turn under which the panel's rightwards and downwards are most nearly the view's.
    pub(super) fn new(photo: &Photo, panel: &Panel, located: &Located) -> Self {
        let at = located.panel.jacobian(panel.extent().centre());
        let mirrored = at.determinant() < 0.0;
        let turn = turns()
            .into_iter()
            .filter(|it| (it.determinant() < 0.0) == mirrored)
            .max_by(|a, b| (a * at).trace().total_cmp(&(b * at).trace()))
            .unwrap_or_else(Matrix2::identity);
        let longest = photo.width.max(photo.height).max(1);
        let side = longest.clamp(SMALLEST_LONG_SIDE, super::LONGEST_SIDE);
        let scaled = |it: usize| (it * side).div_ceil(longest).max(1);
        Self {
            stored: [photo.width, photo.height],
            shrunk: [scaled(photo.width), scaled(photo.height)],
            turn,
        }
    }

    /// Size of the shrunk picture in stored orientation.
    pub(super) fn shrunk(&self) -> [usize; 2] {
        self.shrunk
    }

    /// Size of the view.
    pub(super) fn size(&self) -> [usize; 2] {
        let [width, height] = self.shrunk;
        if self.swaps_axes() {
            [height, width]
        } else {
            [width, height]
        }
    }

    fn swaps_axes(&self) -> bool {
        self.turn[(0, 0)].abs() < 0.5
    }

    /// Where a pixel of the shrunk picture goes in the view.
    pub(super) fn pixel(&self, column: usize, row: usize) -> [usize; 2] {
        let [width, height] = self.shrunk;
        let along = |axis: usize| {
            // The view's axis runs along one stored axis, forwards or backwards.
            let (place, last, sign) = if self.turn[(axis, 0)].abs() > 0.5 {
                (column, width - 1, self.turn[(axis, 0)])
            } else {
                (row, height - 1, self.turn[(axis, 1)])
            };
            if sign > 0.0 { place } else { last - place }
        };
        [along(0), along(1)]
    }

    /// Where a point of the stored picture lies in the view.
    pub(super) fn point(&self, p: Point) -> Point {
        let size = |k: usize| float(self.shrunk[k]) / float(self.stored[k]);
        let shrunk = Vector2::new(p.x * size(0), p.y * size(1));
        let middle = Vector2::new(float(self.shrunk[0]), float(self.shrunk[1])) / 2.0;
        let [width, height] = self.size();
        let view = self.turn * (shrunk - middle) + Vector2::new(float(width), float(height)) / 2.0;
        Point::from(view)
    }

    /// Pixels of the view per stored pixel.
    pub(super) fn scale(&self) -> f64 {
        float(self.shrunk[0].max(self.shrunk[1])) / float(self.stored[0].max(self.stored[1]))
    }
}

/// The eight ways to lay a picture on itself or its upright rectangle.
fn turns() -> [Matrix2<f64>; 8] {
    let quarter = Matrix2::new(0.0, -1.0, 1.0, 0.0);
    let mirror = Matrix2::new(-1.0, 0.0, 0.0, 1.0);
    let mut turns = [Matrix2::identity(); 8];
    for k in 1..4 {
        turns[k] = quarter * turns[k - 1];
    }
    for k in 0..4 {
        turns[k + 4] = mirror * turns[k];
    }
    turns
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_and_points_agree_in_all_eight_turns() {
        for turn in turns() {
            let upright = Upright {
                stored: [40, 30],
                shrunk: [20, 15],
                turn,
            };
            for (column, row) in [(0, 0), (19, 0), (7, 11), (19, 14)] {
                let [x, y] = upright.pixel(column, row);
                let stored = Point::new(2.0 * float(column) + 1.0, 2.0 * float(row) + 1.0);
                let point = upright.point(stored);
                let centre = Point::new(float(x) + 0.5, float(y) + 0.5);
                assert!((point - centre).norm() < 1e-9, "{turn} {column} {row}");
            }
        }
    }
}
