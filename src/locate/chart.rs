//! Charts, found by themselves before the panel is looked for.
//!
//! A card of many known zones on a grid is told by its colours in whatever plane it lies. Its zones look like patches:
//! found first, they can't be mistaken for the panel's, and the panel's not for the chart's.

use super::card;
use super::laid::arrangements;
use super::lattice;
use super::place;
use super::region::Quad;
use super::shade;
use super::view::View;
use crate::geometry::{PlaneMap, Point};
use crate::panel::Panel;

/// A chart in the view.
#[derive(Clone, Debug)]
pub(super) struct Chart {
    /// Card millimetres to view pixels.
    pub map: PlaneMap,
    /// Its outer edge in view pixels.
    outline: [Point; 4],
}

impl Chart {
    fn new(card: &Panel, map: PlaneMap) -> Self {
        Self {
            map,
            outline: map.outline(&card.outer()),
        }
    }

    /// Whether a place in the view lies on the chart.
    pub(super) fn covers(&self, p: Point) -> bool {
        let side = |i: usize| {
            let (a, b) = (self.outline[i], self.outline[(i + 1) % 4]);
            let (u, v) = (b - a, p - a);
            u.x * v.y - u.y * v.x > 0.0
        };
        let first = side(0);
        (1..4).all(|i| side(i) == first)
    }
}

/// Root mean square difference of logarithms, seen against known, up to which a chart's colours are its own: whatever the
/// light and the camera, those of charts rightly laid stay below, those of other lattices and other turns above.
const LIKE: f64 = 1.2;
/// How much worse every other way of laying the chart must be.
const CLEARLY: f64 = 1.6;
/// Lattices that are looked at, at most: those of patches of a like size may come before the chart's.
const LATTICES: usize = 12;
/// Colours so like that no more are looked at.
const SURELY: f64 = 0.6;
/// Share of the zones whose outlines must be seen.
const SEEN: f64 = 0.6;

/// Finds a chart; none if the card is not one, or is not seen beyond doubt.
///
/// `mirrored` says that the stored picture shows everything in a mirror.
pub(super) fn find(view: &View, quads: &[Quad], card: &Panel, mirrored: bool) -> Option<Chart> {
    let grid = card.grid.as_ref()?;
    if !card::told_by_colours(card) {
        return None;
    }
    let mut lattices = lattice::grow_all(card, grid, quads);
    let enough = (card.patches.len() / 3).max(4);
    lattices.retain(|it| it.cells.len() >= enough);
    // One that goes on over a board of like pitch is fuller, and lies true on neither.
    lattices.sort_by_key(|it| !it.spans_within(grid));
    let mut laid: Vec<(f64, PlaneMap)> = Vec::new();
    for lattice in lattice::distinct(grid, lattices, LATTICES) {
        laid.extend(
            arrangements(grid, &card.outer(), &lattice)
                .into_iter()
                .filter(|it| it.mirrored == mirrored)
                .filter_map(|it| Some((shade::misfit(view, &it.map, card)?.0, it.map))),
        );
        if laid.iter().any(|it| it.0 < SURELY) {
            break;
        }
    }
    laid.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (misfit, best) = *laid.first()?;
    let zone = card.extent().width / grid.columns as f64;
    let apart = |it: &PlaneMap| {
        card.extent().corners().iter().any(|p| {
            let scale = best.jacobian(*p).determinant().abs().sqrt();
            (it.map(*p) - best.map(*p)).norm() > 0.3 * scale * zone
        })
    };
    let rival = laid.iter().find(|it| apart(&it.1)).map(|it| it.0);
    let clear = rival.is_none_or(|it| it > CLEARLY * misfit);
    let like = misfit < LIKE && clear;
    let best = if like {
        place::settle(view, card, &best)
    } else {
        return None;
    };
    (place::weigh(view, card, &best).share() > SEEN).then(|| Chart::new(card, best))
}
