//! Whether the stated board's edges are where a way has them.

use super::board::margin;
use super::candidate::BOARD_LIKE;
use super::evidence::{Look, Stretch, stretch};
use super::rim::{apart_but_for_light, unless};
use super::shade;
use super::view::{Graded, Light, View};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Patch};
use nalgebra::Vector2;

/// Stretches that each side of the board is looked at in.
const STRETCHES: i32 = 4;

/// Log likelihood of a side of the board being where a way has it, over its being elsewhere, by the number of its stretches
/// that were seen: as if one side in ten were hidden, and one place in thirty held another edge by chance, which is a guess; of
/// sides in view simulated boards show nearly all stretches.
const SIDE: [f64; 5] = [-2.2, -1.0, 0.0, 2.0, 3.4];

/// This often a board melts into the table all round, or is covered, and its edge says nothing.
const MELTS: f64 = 0.1;

/// Log likelihood that the board's edges are where a way has them.
pub(super) fn says(view: &View, panel: &Panel, map: &PlaneMap) -> f64 {
    panel.board.map_or(0.0, |rect| {
        let sum = sides(view, panel, &rect, map)
            .iter()
            .map(|it| SIDE[*it])
            .sum();
        unless(MELTS, sum)
    })
}

/// How many stretches of each side of the board's edge were seen, with the board's own colour inside.
fn sides(view: &View, panel: &Panel, rect: &Rect, map: &PlaneMap) -> [usize; 4] {
    let corners = rect.corners();
    let scale = map.jacobian(rect.centre()).determinant().abs().sqrt();
    let look = Look {
        // Boards are sawn, and their margins measured, to a few millimetres.
        reach: (3.0 * scale).clamp(2.0, 8.0),
        gap_mm: 0.0,
        clear_mm: f64::INFINITY,
        step: 1.0,
        sides: true,
        inner: false,
    };
    let centre = map.map(rect.centre());
    [0, 1, 2, 3].map(|i| {
        let look = Look {
            clear_mm: margin(panel, rect, i),
            ..look
        };
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let at = |t: i32| a + (b - a) * f64::from(t) / f64::from(STRETCHES);
        (0..STRETCHES)
            .filter(|k| {
                !matches!(
                    stretch(view, map, at(*k), at(k + 1), centre, &look),
                    Stretch::Nothing
                ) && own_inside(view, panel, rect, map, at(*k), at(k + 1)) != Some(false)
            })
            .count()
    })
}

/// Whether the colour inside of a stretch of the board's edge is that around the nearest patch; none where either is out of view.
fn own_inside(
    view: &View,
    panel: &Panel,
    board: &Rect,
    map: &PlaneMap,
    from: Point,
    to: Point,
) -> Option<bool> {
    let gap = panel
        .grid
        .map(|it| [0, 1].map(|k| it.pitch_mm[k] - it.patch_mm[k]))?;
    let middle = from + (to - from) / 2.0;
    let nearest = panel.patches.iter().filter(|it| !it.empty).min_by(|a, b| {
        let away = |it: &Patch| (it.rect.centre() - middle).norm();
        away(a).total_cmp(&away(b))
    })?;
    let along = (to - from).normalize();
    let inward = Vector2::new(-along.y, along.x);
    let inward = inward * inward.dot(&(board.centre() - middle)).signum();
    // Margins are no narrower than gaps.
    let margin = gap[0].min(gap[1]) / 2.0;
    let seen: Vec<Graded> = (0..8)
        .filter_map(|k| {
            let along = from + (to - from) * (f64::from(k) + 0.5) / 8.0;
            view.at(map.map(along + inward * margin))
        })
        .collect();
    if seen.is_empty() {
        return None;
    }
    let around = shade::around(view, map, &nearest.rect, gap)?;
    Some(apart_but_for_light(shade::median(&seen), around) < 1.5 * BOARD_LIKE)
}
