//! Layouts without a grid: one region, taken for one patch, predicts where all others are.

use super::lattice::plausible;
use super::place::{Placement, settle, weigh};
use super::region::{Quad, polygon_area};
use super::view::View;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;

/// Ways of laying a layout of free patches on the regions, the best first.
pub(super) fn placements(view: &View, panel: &Panel, quads: &[Quad]) -> Vec<Placement> {
    let rects: Vec<Rect> = panel
        .patches
        .iter()
        .filter(|it| !it.empty)
        .map(|it| it.rect)
        .collect();
    let mut grown: Vec<(usize, PlaneMap)> = Vec::new();
    for quad in quads {
        for seed in 0..rects.len() {
            for turn in 0..4 {
                for mirrored in [false, true] {
                    if let Some(it) = grow(quads, &rects, quad, seed, turn, mirrored) {
                        grown.push(it);
                    }
                }
            }
        }
    }
    grown.sort_by_key(|it| std::cmp::Reverse(it.0));
    let mut out: Vec<Placement> = Vec::new();
    let most = grown.first().map_or(0, |it| it.0);
    let mut maps: Vec<PlaneMap> = Vec::new();
    let corners = panel.extent().corners();
    for (found, map) in grown {
        let twin = maps.iter().any(|it| {
            corners
                .iter()
                .all(|p| (it.map(*p) - map.map(*p)).norm() < 12.0)
        });
        if found * 2 < most || maps.len() >= 16 || twin {
            continue;
        }
        maps.push(map);
        let map = settle(view, panel, &map);
        out.push(weigh(view, panel, &map));
    }
    out
}

/// Grows from one region taken for one patch; none unless two near ones are found as well.
fn grow(
    quads: &[Quad],
    rects: &[Rect],
    quad: &Quad,
    seed: usize,
    turn: usize,
    mirrored: bool,
) -> Option<(usize, PlaneMap)> {
    let corners = [0, 1, 2, 3].map(|i| {
        let i = if mirrored { 3 - i } else { i };
        quad.corners[(i + turn) % 4]
    });
    let rect = &rects[seed];
    let mut map = PlaneMap::fit(&rect.corners(), &corners)?;
    if !plausible(&map, rect.centre()) {
        return None;
    }
    let mut order: Vec<usize> = (0..rects.len()).filter(|it| *it != seed).collect();
    order.sort_by(|a, b| {
        let away = |i: usize| (rects[i].centre() - rect.centre()).norm();
        away(*a).total_cmp(&away(*b))
    });
    let (mut from, mut to) = (rect.corners().to_vec(), corners.to_vec());
    let mut found = 1;
    for (tried, i) in order.iter().enumerate() {
        if tried == 4 && found < 3 {
            return None;
        }
        let Some(seen) = lookup(quads, &map, &rects[*i]) else {
            continue;
        };
        found += 1;
        from.extend(rects[*i].corners());
        to.extend(seen);
        if let Some(better) = PlaneMap::fit(&from, &to) {
            map = better;
        }
    }
    (found >= 3.min(rects.len())).then_some((found, map))
}

/// The region where a rectangle is predicted, its corners in the rectangle's order.
fn lookup(quads: &[Quad], map: &PlaneMap, rect: &Rect) -> Option<[Point; 4]> {
    let corners = map.outline(rect);
    let area = polygon_area(&corners);
    let centre = map.map(rect.centre());
    let near = 0.25 * area.sqrt();
    if !(area.is_finite() && area > 1.0) {
        return None;
    }
    quads
        .iter()
        .filter(|it| (it.centre - centre).norm() < near && (0.68..1.45).contains(&(it.area / area)))
        .min_by(|a, b| {
            let off = |it: &Quad| (it.centre - centre).norm();
            off(a).total_cmp(&off(b))
        })
        .and_then(|it| {
            let mut out = corners;
            for p in &mut out {
                *p = *it.corners.iter().min_by(|a, b| {
                    let off = |q: &Point| (q - *p).norm();
                    off(a).total_cmp(&off(b))
                })?;
            }
            Some(out)
        })
}
