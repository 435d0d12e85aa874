//! Whether the layout fits in a second place that is a panel, too.

use super::candidate::{self, Candidate};
use super::card::{SIZES, Search};
use super::decide::VOUCHED;
use super::evidence::outline;
use super::place::{self, Placement};
use super::region::polygon_area;
use super::rim;
use super::view::View;
use crate::geometry::PlaneMap;
use crate::panel::{Panel, Place};

/// Sum of beliefs in patches that one or two regions don't reach.
const MORE_THAN_TWO: f64 = 2.5;

/// Share of the patches that must be seen for a second panel, by their number: one or two regions are no panel, and of few some
/// may be clutter.
fn enough(seen: f64) -> f64 {
    match seen {
        it if it < MORE_THAN_TWO => f64::INFINITY,
        it if it < 6.0 => 0.75,
        it if it < 10.0 => 0.68,
        _ => 0.5,
    }
}

/// Distance to a second place that the layout fits nearly as well, if there is one that no card and nothing of the first explains.
pub(super) fn panel(
    view: &View,
    panel: &Panel,
    ways: &[Placement],
    best: &Candidate,
    hear: &dyn Fn(Vec<Placement>) -> Vec<Candidate>,
) -> Option<f64> {
    let map = &best.placement.map;
    let centre = map.map(panel.extent().centre());
    ways.iter()
        // Only what is plainly seen makes a second panel: clutter on a mottled table goes on faintly.
        .filter(|it| {
            let share = it.plain / it.of.max(1.0);
            share > enough(it.plain) && share > 0.65 * best.placement.share()
        })
        .filter_map(|it| {
            let other = it.map.map(panel.extent().centre());
            let inside = map.unmap(other).is_some_and(|p| {
                panel
                    .extent()
                    .inset(-0.1 * panel.extent().width)
                    .contains(&p)
            });
            let card = panel.cards.iter().zip(&best.cards).any(|(placed, search)| {
                let Search::Found(found) = search else {
                    return false;
                };
                let card_map = found.pose.map(&placed.card, map);
                card_map
                    .unmap(other)
                    .is_some_and(|p| placed.card.outer().contains(&p))
            });
            let in_view = other.x > 0.0
                && other.y > 0.0
                && other.x < view.width as f64
                && other.y < view.height as f64;
            let apart = in_view
                && !inside
                && !card
                && as_large(panel, &it.map, map)
                && has_its_own(view, panel, &it.map, map)
                && !clutter(view, panel, it, best, hear);
            apart.then(|| (other - centre).norm())
        })
        .next()
}

/// Whether two ways have the layout about as large in one plane: panels of one layout that lie on one table are.
fn as_large(panel: &Panel, way: &PlaneMap, plane: &PlaneMap) -> bool {
    let extent = panel.extent();
    let mut corners = way.outline(&extent);
    for it in &mut corners {
        // Beyond the horizon nothing says how large it is.
        let Some(p) = plane.unmap(*it) else {
            return true;
        };
        *it = p;
    }
    SIZES.contains(&(polygon_area(&corners) / (extent.width * extent.height)).sqrt())
}

/// Whether a way has patches that are seen where another has none: a row turned about its end is no second one.
fn has_its_own(view: &View, panel: &Panel, way: &PlaneMap, other: &PlaneMap) -> bool {
    let patches = || panel.patches.iter().filter(|it| !it.empty);
    let shared = |p| {
        other
            .unmap(p)
            .is_some_and(|p| patches().any(|it| it.rect.contains(&p)))
    };
    let own = patches().filter(|it| !shared(way.map(it.rect.centre())));
    let seen: f64 = own
        .map(|it| {
            let look = place::free_look(panel, way, &it.rect, 2);
            outline(view, way, &it.rect, &look).believed().plain
        })
        .sum();
    seen > MORE_THAN_TWO
}

/// Whether what fits the layout is a row of clutter: it lies on the table itself, and lacks what the first place has, a card where the
/// panel file says or a board's edges. Where cards may lie anywhere, they say nothing of which place is the panel: then the first must
/// lie on a board.
fn clutter(
    view: &View,
    panel: &Panel,
    way: &Placement,
    best: &Candidate,
    hear: &dyn Fn(Vec<Placement>) -> Vec<Candidate>,
) -> bool {
    let map = &best.placement.map;
    if !rim::on_the_table(view, panel, &way.map, map) {
        return false;
    }
    let found = |it: &Search| matches!(it, Search::Found(_));
    let lacks = |it: &Candidate| {
        let mut pairs = best.cards.iter().zip(&it.cards);
        let card = pairs.any(|(first, second)| found(first) && matches!(second, Search::Missing));
        let board = best.says[candidate::BOARD] > VOUCHED && it.says[candidate::BOARD] < 0.0;
        card || board
    };
    let anywhere = panel.cards.iter().all(|it| it.place == Place::Anywhere);
    (anywhere && !rim::on_the_table(view, panel, map, &way.map))
        || hear(vec![way.clone()]).iter().any(lacks)
}
