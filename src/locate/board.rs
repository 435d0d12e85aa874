//! The plane of a board that holds few patches, from the board's own edges.
//!
//! One patch, or a few in a row, say little of how the plane slants beside them. Where the panel file states the board, its edges are
//! many times as long as a patch, and say it better. So it is with more patches of which few show, as dark paint on dark wood.

use super::decide::FAINTLY;
use super::evidence::{Look, Stretch, edges, stretch};
use super::fit::{self, Seen, Start};
use super::lattice::plausible;
use super::place::{self, Placement};
use super::region::Quad;
use super::view::View;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;

/// Most patches that say less of the plane than their board.
const FEW: usize = 4;
/// How far an edge may lie from where few patches have it, as a share of a patch, pass by pass.
const REACHES: [f64; 3] = [0.25, 0.2, 0.08];
/// Stretches that each side is looked at in: short ones, since a map that is off is off by little only near the patches.
const STRETCHES: i32 = 8;
/// How far a patch may be moved, as a share of its size: what moves it more has taken something else for the board's edge.
const MOVED: f64 = 0.2;

/// View pixels of the shorter side of a patch below which edges are found wherever they are looked for: a choice, made while looking at
/// one simulated photo.
const SMALLEST: f64 = 16.0;
/// The same of more patches, which hardly all lie on edges by chance: little more than the smallest regions.
const SMALLEST_OF_MANY: f64 = 8.0;

/// Share of the patches that must be seen on a region for it to be the board, unless several are.
const SEEN: f64 = 0.5;
/// Sum of beliefs from which several are.
const SEVERAL: f64 = 1.5;

/// Whether a panel's plane is to be looked for in its board's edges.
pub(super) fn tells(panel: &Panel) -> bool {
    panel.board.is_some() && panel.patches.iter().filter(|it| !it.empty).count() <= FEW
}

/// Millimetres within which margins are alike: boards are sawn, and their margins measured, to a few. A choice.
const ALIKE: f64 = 3.0;

/// Whether a stated board's margins around the patches are alike on all sides, so that it looks the same turned.
pub(super) fn is_alike_round(panel: &Panel) -> bool {
    panel.board.is_some_and(|board| {
        let margins = [0, 1, 2, 3].map(|side| margin(panel, &board, side));
        let alike = |it: &f64| (it - margins[0]).abs() < ALIKE;
        margins.iter().all(alike)
    })
}

/// Ways that have the board where a region is.
pub(super) fn ways(view: &View, panel: &Panel, quads: &[Quad]) -> Vec<Placement> {
    let Some(board) = panel.board else {
        return Vec::new();
    };
    let corners = board.corners();
    let mut out = Vec::new();
    for quad in quads {
        for turn in 0..4 {
            for mirrored in [false, true] {
                let to = [0, 1, 2, 3]
                    .map(|i| quad.corners[(if mirrored { 3 - i } else { i } + turn) % 4]);
                out.extend(
                    PlaneMap::fit(&corners, &to)
                        .filter(|it| plausible(it, board.centre()) && shows(panel, it))
                        .map(|it| place::weigh(view, panel, &it))
                        .filter(is_seen),
                );
            }
        }
    }
    out
}

/// Whether enough patches are seen for a region to be the board: most, or fewer if several lie right to it and to each other.
fn is_seen(way: &Placement) -> bool {
    way.share() > SEEN || way.share() > FAINTLY && way.seen > SEVERAL
}

/// Whether patches are large enough in the view for their outlines to say anything.
fn shows(panel: &Panel, map: &PlaneMap) -> bool {
    let least = if tells(panel) {
        SMALLEST
    } else {
        SMALLEST_OF_MANY
    };
    scale(panel, map) * smallest(panel) > least
}

/// View pixels a millimetre in the middle of the panel.
fn scale(panel: &Panel, map: &PlaneMap) -> f64 {
    let middle = panel.extent().centre();
    map.jacobian(middle).determinant().abs().sqrt()
}

/// A way moved onto the board's edges; the way itself where they say nothing.
pub(super) fn settle(view: &View, panel: &Panel, way: &Placement) -> Placement {
    let Some(board) = &panel.board else {
        return way.clone();
    };
    let mut map = way.map;
    for reach in REACHES {
        let seen = seen(view, panel, board, &map, reach);
        match fit::homography((&map, Start::Near), board.corners(), &seen) {
            Some(it) if plausible(&it, panel.extent().centre()) => map = it,
            _ => return way.clone(),
        }
    }
    let settled = Placement {
        mirrored: way.mirrored,
        ..place::weigh(view, panel, &map)
    };
    if stays(panel, &way.map, &map) && settled.patches > way.patches - 1.0 {
        settled
    } else {
        way.clone()
    }
}

/// What is seen of patches and of the board's edges.
fn seen(view: &View, panel: &Panel, board: &Rect, map: &PlaneMap, reach: f64) -> Vec<Seen> {
    let patches = panel.patches.iter().filter(|it| !it.empty);
    let mut out: Vec<Seen> = patches
        .flat_map(|it| {
            let look = place::free_look(panel, map, &it.rect, 1);
            edges(view, map, &it.rect, &look)
        })
        .collect();
    let size = scale(panel, map) * smallest(panel);
    let look = Look {
        reach: (reach * size).clamp(2.0, 16.0),
        gap_mm: 0.0,
        clear_mm: f64::INFINITY,
        step: 1.0,
        sides: false,
        inner: false,
    };
    let (corners, centre) = (board.corners(), board.centre());
    for i in 0..4 {
        // A margin of few pixels: farther in lie the patches' own outlines.
        let look = Look {
            clear_mm: margin(panel, board, i),
            ..look
        };
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let at = |k: i32| a + (b - a) * f64::from(k) / f64::from(STRETCHES);
        for k in 0..STRETCHES {
            if let Stretch::Outline(it) = stretch(view, map, at(k), at(k + 1), centre, &look) {
                out.push(it);
            }
        }
    }
    out
}

/// How near to a board's edge an outline is seen on it: millimetres that boards are sawn to, and pixels that the view shows an edge to, at least. And sine of
/// how far it may be turned against it.
const ON_EDGE: (f64, f64) = (2.0, 1.5);
const TURNED: f64 = 0.3;

/// Whether an outline was seen where a map has the board's edge: that is no edge of what lies beside the board.
pub(super) fn on_edge(map: &PlaneMap, board: &Rect, seen: &Seen) -> bool {
    let corners = board.corners();
    let at = |i: usize| map.map(corners[i % 4]);
    let scale = map.jacobian(board.centre()).determinant().abs().sqrt();
    let near = (ON_EDGE.0 * scale).max(ON_EDGE.1);
    (0..4).any(|i| {
        let (a, b) = (at(i), at(i + 1));
        let length = (b - a).norm().max(1e-9);
        let along = (b - a) / length;
        let off = seen.at - a;
        off.perp(&along).abs() < near
            && (-near..length + near).contains(&off.dot(&along))
            && seen.normal.dot(&along).abs() < TURNED
    })
}

/// Millimetres of bare board along one of its sides, from its top clockwise.
pub(super) fn margin(panel: &Panel, board: &Rect, side: usize) -> f64 {
    let edge = |it: &Rect| it.corners()[side][(side + 1) % 2];
    let patches = panel.patches.iter().filter(|it| !it.empty);
    let wide = patches.map(|it| (edge(&it.rect) - edge(board)).abs());
    wide.fold(f64::INFINITY, f64::min)
}

/// The shorter side of the smallest patch, millimetres.
fn smallest(panel: &Panel) -> f64 {
    let sides = panel
        .patches
        .iter()
        .map(|it| it.rect.width.min(it.rect.height));
    sides.fold(f64::MAX, f64::min)
}

/// Whether the patches stay where they were seen.
fn stays(panel: &Panel, before: &PlaneMap, after: &PlaneMap) -> bool {
    let far = MOVED * smallest(panel) * scale(panel, before);
    let near = |p: &Point| (before.map(*p) - after.map(*p)).norm() < far;
    let mut seen = panel.patches.iter().filter(|it| !it.empty);
    seen.all(|it| near(&it.rect.centre()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Matrix3, Vector2};

    #[test]
    fn an_outline_lies_on_the_boards_edge_only_along_it() {
        let board = Rect {
            x: -10.0,
            y: -10.0,
            width: 100.0,
            height: 60.0,
        };
        // Two pixels a millimetre: within four.
        let map = PlaneMap::new(Matrix3::new(2.0, 0.0, 50.0, 0.0, 2.0, 50.0, 0.0, 0.0, 1.0));
        let lies = |x: f64, y: f64, normal: Vector2<f64>| {
            let seen = Seen {
                mm: Point::new(0.0, 0.0),
                at: Point::new(x, y),
                normal,
            };
            on_edge(&map, &board, &seen)
        };
        // Its right edge is at 230.
        assert!(lies(231.0, 80.0, Vector2::x()) && lies(228.0, 80.0, -Vector2::x()));
        // A card's side beside it, one across it, and one beyond its end.
        assert!(!lies(236.0, 80.0, Vector2::x()));
        assert!(!lies(231.0, 80.0, Vector2::y()));
        assert!(!lies(231.0, 170.0, Vector2::x()));
    }
}
