//! A card in a plane of its own, which may be tilted against the panel's.

use super::evidence::Outline;
use super::fit::{self, Seen, Start};
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

/// Share of its smallest patch by which what is seen of a layout may move it: farther off lies what is something else's.
pub(super) const NEAR: f64 = 0.4;

/// Whether a map has each corner of a layout so near to where another has it.
pub(super) fn near(layout: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    within(NEAR, layout, map, other)
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
        .then(|| fit::homography((posed, Start::Near), frame, &seen))
        .flatten();
    // A plane that differs much from the panel's is a misfit, not a card that lies askew.
    (own.filter(|it| near(card, it, posed)), belief)
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
            .then(|| fit::homography((map, Start::Near), card.extent().corners(), &seen))
            .flatten()
            .filter(|it| near(card, it, map))
    };
    let mut out = None;
    for reach in reaches {
        out = closer(&out.unwrap_or(*start), reach).or(out);
    }
    out
}
