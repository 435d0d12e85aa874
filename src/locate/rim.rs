//! Whether the bare board lies around the outermost patches, as it lies around their neighbours.
//!
//! A layout laid a patch too far has its last patch beyond the board's edge, and the table around it. Within a board the gaps
//! between patches are of one colour but for light; a table is hardly of the same.

use super::shade;
use super::view::{Graded, Light, View, distance};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Patch};

/// Share of the gap between patches at which the board beside a patch is read: margins may be narrower than gaps.
const BESIDE: f64 = 0.35;
/// Readings along a side of a patch, and those that must lie in the photo.
const READINGS: (u8, usize) = (12, 8);
/// Grading by which something is not the board, at least, and in terms of how the board itself varies.
const NOT_BOARD: (f64, f64) = (3.0, 6.0);
/// Log likelihood that so many outward sides of a patch don't show the board, over a layout laid amiss: guesses.
const SIDES: [f64; 5] = [0.0, -2.5, -3.5, -5.0, -5.0];
/// This often something lies on the board's rim, and says nothing.
const COVERED: f64 = 0.0025;
/// The same of a side that light alone could have changed: a highlight, a shadow's edge …
const LIT: f64 = -1.0;
/// … which is there this often.
const SHADED: f64 = 0.1;

/// A log likelihood that is, with some probability, no evidence at all.
pub(super) fn unless(mute: f64, says: f64) -> f64 {
    (mute + (1.0 - mute) * says.exp()).ln()
}

/// The nearest other patch to a cell, of two as near the inner one: around it is what the bare board looks like there.
pub(super) fn nearest<'a>(panel: &'a Panel, cell: &Patch) -> Option<&'a Patch> {
    let middle = panel.extent().centre();
    let away = |it: &Patch| {
        (it.rect.centre() - cell.rect.centre()).norm() + 1e-3 * (it.rect.centre() - middle).norm()
    };
    let others = (panel.patches.iter()).filter(|it| !it.empty && it.id != cell.id);
    others.min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// How a place looks where the bare board should lie.
pub(super) enum Beside {
    Board,
    /// Not like the board, but for light.
    Lit,
    Other,
}

/// Log likelihood that the board lies around the outermost patches; zero of a layout without a grid.
pub(super) fn shows(view: &View, panel: &Panel, map: &PlaneMap) -> f64 {
    let Some(grid) = &panel.grid else {
        return 0.0;
    };
    let gap = [0, 1].map(|k| grid.pitch_mm[k] - grid.patch_mm[k]);
    let extent = panel.extent();
    // Each patch's sides, and whether they are the layout's own.
    let mut sides: Vec<Vec<(bool, Graded, Graded)>> = Vec::new();
    for patch in panel.patches.iter().filter(|it| !it.empty) {
        let around = |it: &Patch| shade::around(view, map, &it.rect, gap);
        let Some(board) = nearest(panel, patch).and_then(around) else {
            continue;
        };
        let seen = beside(&patch.rect, gap, &extent)
            .into_iter()
            .filter_map(|(outward, a, b)| Some((outward, line(view, map, a, b)?, board)));
        sides.push(seen.collect());
    }
    let mut all: Vec<f64> = (sides.iter().flatten())
        .map(|(_, seen, board)| apart_but_for_light(*seen, *board))
        .collect();
    all.sort_by(f64::total_cmp);
    let usual = all.get(all.len() / 2).copied().unwrap_or(0.0);
    let limit = NOT_BOARD.0.max(NOT_BOARD.1 * usual);
    let (mut other, mut lit) = (0.0, 0.0);
    for patch in &sides {
        let mut count = 0;
        for (_, seen, board) in patch.iter().filter(|it| it.0) {
            match what(*seen, *board, limit) {
                Beside::Board => {}
                Beside::Lit => lit += LIT,
                Beside::Other => count += 1,
            }
        }
        other += SIDES[count];
    }
    unless(COVERED, other) + unless(SHADED, lit)
}

/// The lines beside a patch's four sides, each with whether it is the layout's own rim.
fn beside(rect: &Rect, gap: [f64; 2], extent: &Rect) -> [(bool, Point, Point); 4] {
    let [dx, dy] = gap.map(|it| BESIDE * it);
    let (left, right) = (rect.x, rect.x + rect.width);
    let (top, bottom) = (rect.y, rect.y + rect.height);
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let upright = |x: f64| (Point::new(x, top), Point::new(x, bottom));
    let level = |y: f64| (Point::new(left, y), Point::new(right, y));
    let with = |outward: bool, (a, b): (Point, Point)| (outward, a, b);
    [
        with(near(left, extent.x), upright(left - dx)),
        with(near(right, extent.x + extent.width), upright(right + dx)),
        with(near(top, extent.y), level(top - dy)),
        with(near(bottom, extent.y + extent.height), level(bottom + dy)),
    ]
}

/// The median colour along a line; none where too much of it is out of view.
fn line(view: &View, map: &PlaneMap, a: Point, b: Point) -> Option<Graded> {
    along(view, map, a, b).map(|all| shade::median(&all))
}

/// The readings along a line; none where too much of it is out of view.
pub(super) fn along(view: &View, map: &PlaneMap, a: Point, b: Point) -> Option<Vec<Graded>> {
    let all: Vec<Graded> = (0..READINGS.0)
        .map(|k| (f64::from(k) + 0.5) / f64::from(READINGS.0))
        .filter_map(|t| view.at(map.map(a + (b - a) * t)))
        .collect();
    (all.len() >= READINGS.1).then_some(all)
}

/// Pitches beyond the outermost patches at which a table is looked at that patches without a board would lie on.
pub(super) const BEYOND: f64 = 1.2;
/// Grading within which two such places are of one colour: boards and tables vary.
const ALIKE_AT_LARGE: f64 = 8.0;

/// Whether what fits a layout lies on the table itself: around it is what is beyond it, too, and not the board of another place.
pub(super) fn on_the_table(view: &View, panel: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    let (Some(here), Some(there)) = (board(view, panel, map), board(view, panel, other)) else {
        return false;
    };
    // Other clutter may lie on one side.
    apart_but_for_light(here, there) >= ALIKE_AT_LARGE
        && ends(view, panel, map, here, ALIKE_AT_LARGE) < 2
}

/// Whether what fits a layout lies on a board like that of another place: around it is the same, and it ends, too.
pub(super) fn on_a_board_alike(
    view: &View,
    panel: &Panel,
    map: &PlaneMap,
    other: &PlaneMap,
) -> bool {
    let (Some(here), Some(there)) = (board(view, panel, map), board(view, panel, other)) else {
        return false;
    };
    apart_but_for_light(here, there) < NOT_BOARD.0 && ends(view, panel, map, here, NOT_BOARD.0) >= 2
}

/// The median colour around the patches of a layout with a grid.
fn board(view: &View, panel: &Panel, map: &PlaneMap) -> Option<Graded> {
    let grid = panel.grid.as_ref()?;
    let gap = [0, 1].map(|k| grid.pitch_mm[k] - grid.patch_mm[k]);
    let patches = panel.patches.iter().filter(|it| !it.empty);
    let seen: Vec<Graded> = patches
        .filter_map(|it| shade::around(view, map, &it.rect, gap))
        .collect();
    (!seen.is_empty()).then(|| shade::median(&seen))
}

/// On how many sides of a layout what lies beyond it is farther than a grading from what lies around its patches.
fn ends(view: &View, panel: &Panel, map: &PlaneMap, around: Graded, grading: f64) -> usize {
    let Some(grid) = &panel.grid else {
        return 0;
    };
    let far = BEYOND * grid.pitch_mm[0].min(grid.pitch_mm[1]);
    let corners = panel.extent().inset(-far).corners();
    let beyond = (0..4).filter_map(|i| line(view, map, corners[i], corners[(i + 1) % 4]));
    let unlike = beyond.filter(|it| apart_but_for_light(*it, around) > grading);
    unlike.count()
}

/// By what factor the light's fall-off may scale it.
const FALL_OFF: f64 = 0.8;

/// Distance of a colour from the nearest that light a little stronger or weaker makes of another.
pub(super) fn apart_but_for_light(a: Graded, b: Graded) -> f64 {
    apart_within(a, b, FALL_OFF)
}

/// By what factor a shadow on it, or on what it is compared with, may scale it.
const SHADOW: f64 = 0.3;

/// Distance of a colour from the nearest that a shadow or its absence makes of another.
pub(super) fn apart_but_for_shadow(a: Graded, b: Graded) -> f64 {
    apart_within(a, b, SHADOW)
}

/// Distance of a colour from the nearest that another becomes if scaled by a factor or up to its inverse.
fn apart_within(a: Graded, b: Graded, factor: f64) -> f64 {
    let dot = |p: Graded, q: Graded| f64::from(p[0] * q[0] + p[1] * q[1] + p[2] * q[2]);
    let scale = (dot(a, b) / dot(b, b).max(1e-9)).clamp(factor, 1.0 / factor);
    #[expect(clippy::cast_possible_truncation, reason = "a colour")]
    let scaled = b.map(|it| it * scale as f32);
    distance(a, scaled)
}

/// How alike channels of added or of scaled light must be, smallest over largest.
const ALIKE: f64 = 0.5;

/// Whether a colour is another but for a shadow on it.
pub(super) fn lit_alike(dark: Graded, lit: Graded) -> bool {
    let (dark, lit) = (shade::linear(dark), shade::linear(lit));
    alike([0, 1, 2].map(|k| (dark[k] + DIM) / (lit[k] + DIM)))
}

/// Whether channels of added or of scaled light are as alike as light makes them.
fn alike(it: [f64; 3]) -> bool {
    let (low, high) = it
        .iter()
        .fold((f64::MAX, 0.0_f64), |(l, h), x| (l.min(*x), h.max(*x)));
    low > ALIKE * high
}

/// What lies where the board should, which varies up to a `limit`.
pub(super) fn what(seen: Graded, board: Graded, limit: f64) -> Beside {
    if apart_but_for_light(seen, board) <= limit {
        return Beside::Board;
    }
    let (seen, board) = (shade::linear(seen), shade::linear(board));
    // A highlight adds the light's own colour; a shadow, or light that falls past one, scales all channels.
    let added = [0, 1, 2].map(|k| seen[k] - board[k]);
    let scaled = [0, 1, 2].map(|k| (seen[k] + DIM) / (board[k] + DIM));
    if alike(added) || alike(scaled) {
        Beside::Lit
    } else {
        Beside::Other
    }
}

/// What keeps the ratio of blacks finite, about the flare of a phone's lens.
const DIM: f64 = 0.005;

#[cfg(test)]
mod tests {
    use super::super::view::grade;
    use super::*;

    #[test]
    fn light_is_told_from_another_surface() {
        let seen = |linear: [f32; 3]| what(grade(linear), grade([0.20, 0.12, 0.06]), 3.0);
        assert!(matches!(seen([0.20, 0.12, 0.06]), Beside::Board));
        // The same wood a little lighter.
        assert!(matches!(seen([0.22, 0.13, 0.066]), Beside::Board));
        // A highlight adds white, a deep shadow takes off three quarters.
        assert!(matches!(seen([0.50, 0.42, 0.36]), Beside::Lit));
        assert!(matches!(seen([0.05, 0.03, 0.016]), Beside::Lit));
        // Grass, and a blue cloth.
        assert!(matches!(seen([0.06, 0.15, 0.03]), Beside::Other));
        assert!(matches!(seen([0.08, 0.10, 0.25]), Beside::Other));
    }

    #[test]
    fn a_side_is_the_layouts_own_rim_only_at_its_edge() {
        let extent = Rect {
            x: 0.0,
            y: 0.0,
            width: 90.0,
            height: 30.0,
        };
        let middle = Rect {
            x: 40.0,
            width: 10.0,
            ..extent
        };
        let outward = beside(&middle, [10.0, 10.0], &extent).map(|it| it.0);
        assert_eq!(outward, [false, false, true, true]);
        let (_, from, to) = beside(&middle, [10.0, 10.0], &extent)[3];
        assert!((from - Point::new(40.0, 33.5)).norm() < 1e-9);
        assert!((to - Point::new(50.0, 33.5)).norm() < 1e-9);
    }
}
