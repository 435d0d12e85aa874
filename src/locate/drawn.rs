//! A card's side that lies on another thing's edge, drawn in onto its own.

use super::fit::Seen;
use super::own::{FEW, LEAST_OF_FEW, in_own_plane, own_plane};
use super::short;
use super::view::Light;
use super::zones;
use crate::geometry::PlaneMap;
use crate::panel::Panel;

/// Share of a card by which a side is drawn in at most: a board's edge farther from the card is no edge that was within reach. And reaches, over the
/// closest, within which its edge is then looked for.
const DRAWN_IN: f64 = 0.16;
const AGAIN: [f64; 2] = [2.0, 1.0];
/// Share of the zones' half sides along a side that must be seen for it to lie on an edge: a white zone on a white table shows none.
const ON_EDGE: f64 = 0.5;

/// A card's map with none of its sides on another thing's edge: where its zones show one colour along a side, that side is drawn in until it
/// lies on an edge on which they don't. None if there is no such edge.
pub(super) fn drawn_in(
    light: &impl Light,
    card: &Panel,
    own: &PlaneMap,
    close: f64,
) -> Option<PlaneMap> {
    let Some(side) = short::zones_end_before(light, own, card) else {
        return Some(*own);
    };
    let frame = card.extent().corners();
    let plain = PlaneMap {
        radial: None,
        ..*own
    };
    let corners = frame.map(|it| plain.map(it));
    let (first, second) = (side, (side + 1) % 4);
    // From step to step no farther than is looked.
    let deep = (corners[(side + 3) % 4] - corners[first]).norm();
    let steps = (DRAWN_IN * deep / (AGAIN[0] * close)).ceil().max(1.0);
    let ways = (1..=MOST_STEPS).map_while(|k| {
        let by = f64::from(k) / steps;
        (by <= 1.0).then_some(DRAWN_IN * by)
    });
    let ways = ways.filter_map(|by| {
        let mut to = corners;
        to[first] += (corners[(side + 3) % 4] - corners[first]) * by;
        to[second] += (corners[(side + 2) % 4] - corners[second]) * by;
        let drawn = PlaneMap {
            radial: own.radial,
            ..PlaneMap::fit(&frame, &to)?
        };
        let closer =
            |map: PlaneMap, reach: &f64| in_own_plane(light, card, &map, reach * close, FEW).0;
        let map = AGAIN.iter().try_fold(drawn, closer)?;
        let (_, believed) = own_plane(light, card, &map, close, FEW);
        let lies = on_edge(light, card, &map, side, close) >= ON_EDGE;
        (lies && short::zones_end_before(light, &map, card).is_none()).then_some((believed, map))
    });
    let best = ways.reduce(|best, it| if it.0 > best.0 { it } else { best })?;
    (best.0 >= LEAST_OF_FEW).then_some(best.1)
}

/// Steps by which a side is drawn in at most.
const MOST_STEPS: u8 = 60;

/// Share of the half sides of its zones along one of a card's sides that are seen where a map has them.
fn on_edge(light: &impl Light, card: &Panel, map: &PlaneMap, side: usize, reach: f64) -> f64 {
    let corner = card.extent().corners()[side];
    let axis = (side + 1) % 2;
    let zones = card.patches.iter().filter(|it| !it.empty);
    let along = zones.filter(|it| (it.rect.corners()[side] - corner)[axis].abs() < 1e-6);
    let (mut seen, mut all) = (0, 0);
    for zone in along {
        all += 2;
        let outline = zones::look_at(light, card, map, &zone.rect, reach);
        let here = |it: &&Seen| (it.mm - corner)[axis].abs() < 1e-6;
        seen += outline.seen.iter().filter(here).count();
    }
    seen as f64 / f64::max(f64::from(all), 1.0)
}
