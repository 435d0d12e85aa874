//! A card in a plane of its own, which may be tilted against the panel's.

use super::evidence::Outline;
use super::fit::{self, Seen};
use super::short;
use super::view::Light;
use super::zones;
use crate::geometry::PlaneMap;
use crate::panel::Panel;

/// Mean belief in the zones of a card of many below which it does not lie where it was found: charts that lie right show 0.96
/// and more, one that was misplaced 0.64.
pub(super) const LEAST_VISIBLE: f64 = 0.8;
/// The same of a card of few zones, whose edges may be soft.
pub(super) const LEAST_OF_FEW: f64 = 0.5;
/// Mean belief from which two or three zones lie right beyond doubt: less may be outlines that are seen a little off.
pub(super) const IN_FULL: f64 = 0.95;

/// Fewest half sides that pin a card's own plane down, of a card of many zones …
const ENOUGH: usize = 32;
/// … and as a share of all of fewer zones' …
const MOST_OF_FEW: f64 = 0.75;
/// … and where the panel's plane has proved wrong. A single zone's own plane is never fitted: it has eight, one for each unknown.
pub(super) const FEW: usize = 14;

/// Fewest half sides that pin a card's own plane down.
pub(super) fn enough(card: &Panel) -> usize {
    let all = 8 * card.patches.iter().filter(|it| !it.empty).count();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a part of a small count"
    )]
    let most = (MOST_OF_FEW * all as f64).ceil() as usize;
    most.clamp(FEW, ENOUGH)
}

/// Share of its smallest zone by which two readings of where a card lies may differ: the inside of a zone that is as far off is read all
/// the same.
pub(super) const SURELY: f64 = 0.15;

/// Whether a map has each corner of a layout less than two fifths of its smallest patch from where another has it.
pub(super) fn near(layout: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    within(0.4, layout, map, other)
}

/// Whether a map has each corner of a layout less than a share of its smallest patch from where another has it.
pub(super) fn within(share: f64, layout: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    let far = share * smallest_side(layout, other);
    let corners = layout.extent().corners();
    let mut off = corners.iter().map(|p| (map.map(*p) - other.map(*p)).norm());
    off.all(|it| it < far)
}

/// The shorter side of a layout's smallest patch or zone, pixels of a map.
pub(super) fn smallest_side(layout: &Panel, map: &PlaneMap) -> f64 {
    let middle = layout.extent().centre();
    let smallest = layout
        .patches
        .iter()
        .map(|it| it.rect.width.min(it.rect.height))
        .fold(f64::MAX, f64::min);
    map.jacobian(middle).determinant().abs().sqrt() * smallest
}

/// The map of a card in its own plane, since it may lie tilted against the panel's, and the mean belief in its zones' outlines.
///
/// Where too little is seen to tell, the map is the one that was `posed` in the panel's plane.
pub(super) fn own_plane(
    light: &impl Light,
    card: &Panel,
    posed: &PlaneMap,
    reach: f64,
    enough: usize,
) -> (PlaneMap, f64) {
    let (own, belief) = in_own_plane(light, card, posed, reach, enough);
    (own.unwrap_or(*posed), belief)
}

/// The same; no map where too little is seen.
pub(super) fn in_own_plane(
    light: &impl Light,
    card: &Panel,
    posed: &PlaneMap,
    reach: f64,
    enough: usize,
) -> (Option<PlaneMap>, f64) {
    let outlines: Vec<Outline> = card
        .patches
        .iter()
        .filter(|it| !it.empty)
        .map(|it| zones::look_at(light, card, posed, &it.rect, reach))
        .collect();
    let belief = outlines.iter().map(Outline::visible).sum::<f64>() / outlines.len().max(1) as f64;
    let seen: Vec<Seen> = outlines.into_iter().flat_map(|it| it.seen).collect();
    let frame = card.extent().corners();
    let own = (seen.len() >= enough)
        .then(|| fit::homography(posed, frame, &seen))
        .flatten();
    // A plane that differs much from the panel's is a misfit, not a card that lies askew.
    (own.filter(|it| near(card, it, posed)), belief)
}

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

/// A card's own plane by those of its zones that are believed in full, with ever smaller reaches; none where they are too few.
///
/// Outlines of a zone that is hardly seen may be another thing's, as the edge of a board or of a shadow, and bend all of the card.
pub(super) fn by_full_zones(
    light: &impl Light,
    card: &Panel,
    start: &PlaneMap,
    reaches: [f64; 3],
) -> Option<PlaneMap> {
    let closer = |map: &PlaneMap, reach: f64| {
        let zones = card.patches.iter().filter(|it| !it.empty);
        let seen: Vec<Seen> = zones
            .map(|it| zones::look_at(light, card, map, &it.rect, reach))
            .filter(|it| it.visible() >= IN_FULL)
            .flat_map(|it| it.seen)
            .collect();
        (seen.len() >= FEW)
            .then(|| fit::homography(map, card.extent().corners(), &seen))
            .flatten()
            .filter(|it| near(card, it, map))
    };
    let mut out = None;
    for reach in reaches {
        out = closer(&out.unwrap_or(*start), reach).or(out);
    }
    out
}
