//! Four-cornered places on the sheet, and what fits into them.

use crate::geometry::Point;

/// From a place's own top left, clockwise.
pub(super) type Quad = [Point; 4];

/// Centre of a quadrilateral, and the width and height of what fits inside.
pub(super) fn inside(quad: &Quad) -> (Point, [f64; 2]) {
    let middle = |i: usize, j: usize| nalgebra::center(&quad[i], &quad[j]);
    let width = (middle(1, 2) - middle(0, 3)).norm();
    let height = (middle(2, 3) - middle(0, 1)).norm();
    (
        nalgebra::center(&middle(0, 2), &middle(1, 3)),
        [width, height],
    )
}

/// The upright box around quadrilaterals, as one.
pub(super) fn hull(quads: &[Quad]) -> Quad {
    let all = || quads.iter().flatten();
    let low = |axis: usize| all().map(|it| it[axis]).fold(f64::INFINITY, f64::min);
    let high = |axis: usize| all().map(|it| it[axis]).fold(f64::NEG_INFINITY, f64::max);
    [
        Point::new(low(0), low(1)),
        Point::new(high(0), low(1)),
        Point::new(high(0), high(1)),
        Point::new(low(0), high(1)),
    ]
}

/// Part of a quadrilateral between two shares of its height.
pub(super) fn stretch(quad: &Quad, from: f64, to: f64) -> Quad {
    let along =
        |top: usize, bottom: usize, share: f64| quad[top] + (quad[bottom] - quad[top]) * share;
    [
        along(0, 3, from),
        along(1, 2, from),
        along(1, 2, to),
        along(0, 3, to),
    ]
}
