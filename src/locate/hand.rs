//! Corners of the grid given by hand, and the other turns of them as rivals.

use super::LocateError;
use super::decide::{same_map, small_step};
use super::lattice;
use super::place::{self, Placement};
use super::view::View;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;

/// The corners given by hand, and the other turns of them as rivals.
pub(super) fn ways(
    view: &View,
    panel: &Panel,
    corners: [Point; 4],
    factor: usize,
    size: (usize, usize),
) -> Result<Vec<Placement>, LocateError> {
    let problem = |it: &str| LocateError::Corners {
        problem: it.to_owned(),
    };
    let outside =
        |p: &Point| !(p.x >= 0.0 && p.y >= 0.0 && p.x <= size.0 as f64 && p.y <= size.1 as f64);
    if corners.iter().any(outside) {
        return Err(problem("lie outside the photo"));
    }
    let shrunk = corners.map(|it| it / factor as f64);
    let convex = (0..4).all(|i| {
        let (a, b, c) = (shrunk[i], shrunk[(i + 1) % 4], shrunk[(i + 2) % 4]);
        let (u, v) = (b - a, c - b);
        u.x * v.y - u.y * v.x > 1.0
    });
    if !convex {
        return Err(problem("do not go clockwise around the grid"));
    }
    let frame = frame(panel).corners();
    let Some(start) = PlaneMap::fit(&frame, &shrunk) else {
        return Err(problem("lie on a line"));
    };
    let settled = place::settle(view, panel, &start);
    // What moves the corners far has latched on to something else.
    let tolerance = 6.0 * small_step(panel, &start) / 10.0;
    let map = if same_map(panel, &settled, &start, tolerance) {
        settled
    } else {
        start
    };
    let mut out = vec![place::weigh(view, panel, &map)];
    let there = frame.map(|it| map.map(it));
    for turn in 1..4 {
        let to = [0, 1, 2, 3].map(|i| there[(i + turn) % 4]);
        if let Some(it) = PlaneMap::fit(&frame, &to)
            && lattice::plausible(&it, panel.extent().centre())
        {
            out.push(place::weigh(view, panel, &it));
        }
    }
    Ok(out)
}

/// The rectangle whose corners are given by hand: the grid's, or that of all patches.
pub(super) fn frame(panel: &Panel) -> Rect {
    panel.grid.map_or_else(
        || panel.extent(),
        |grid| {
            let [width, height] = grid.size_mm();
            Rect {
                x: 0.0,
                y: 0.0,
                width,
                height,
            }
        },
    )
}
