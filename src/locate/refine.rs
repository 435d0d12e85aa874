//! The last step: outlines at full size, a lens term if it helps, and the figures.

use super::beside::{self, Beside};
use super::decide::Decided;
use super::evidence::{Look, Outline, coarseness, outline};
use super::fit::{self, Seen};
use super::pose::{self, Pose};
use super::short;
use super::view::{Full, Light, View};
use super::zones;
use super::{LocateError, Located, LocatedCard, Quality};
use crate::geometry::{PlaneMap, Point};
use crate::panel::Panel;
use nalgebra::Vector2;

/// Refines what was decided on the stored pixels, `factor` to a pixel of the view.
///
/// # Errors
///
/// If too few patches are seen at full size.
pub(super) fn finish<F: Fn(usize, usize) -> [f32; 3]>(
    light: &Full<'_, F>,
    view: &View,
    panel: &Panel,
    mut decided: Decided,
    by_hand: bool,
) -> Result<Located, LocateError> {
    let factor = view.factor as f64;
    let mut beside = beside::of(panel, &decided);
    if let Some(it) = &mut beside {
        level(view, panel, &mut decided, it);
    }
    let start = decided.map.scaled(factor);
    let (far, close) = ((1.6 * factor).max(2.0), factor.max(1.6));
    let patches: Vec<_> = panel.patches.iter().filter(|it| !it.empty).collect();
    let (mut map, mut seen, mut visible) = (start, Vec::new(), 0.0);
    for reach in [far, close] {
        let outlines: Vec<Outline> = patches
            .iter()
            .map(|it| look_at(light, panel, &map, it, reach))
            .collect();
        visible = outlines.iter().map(Outline::visible).sum();
        seen = outlines.into_iter().flat_map(|it| it.seen).collect();
        if visible < AS_PLAIN * decided.seen {
            break;
        }
        let card = beside.map(|it| it.look(light, &map, factor, reach));
        let size = (light.width, light.height);
        if let Some((better, pose)) = beside::improve(panel, &map, &seen, card.as_ref(), Some(size))
            .filter(|it| near(panel, &it.0, &start))
        {
            map = better;
            if let (Some(it), Some(pose)) = (&mut beside, pose) {
                it.pose = pose;
            }
        }
    }
    if visible < AS_PLAIN * decided.seen {
        // Blur, noise and grain hide outlines at full size that stand out where it is shrunk: what is seen there is as good.
        let outlines: Vec<Outline> = (patches.iter())
            .map(|it| look_at(view, panel, &decided.map, it, 1.6))
            .collect();
        map = start;
        visible = outlines.iter().map(Outline::visible).sum();
        seen = (outlines.into_iter().flat_map(|it| it.seen))
            .map(|it| Seen {
                at: it.at * factor,
                ..it
            })
            .collect();
    }
    let (mut cards, mut unseen) = (Vec::new(), None);
    for (index, found) in decided.cards {
        let placed = &panel.cards[index];
        if found.even {
            let map = found.pose.map(&placed.card, &decided.map).scaled(factor);
            match too_small(&placed.card, &map) {
                Some(error) => unseen = Some(error),
                None => cards.push(LocatedCard { index, map }),
            }
            continue;
        }
        let posed = found.own.map_or_else(
            || {
                // Where it was seen, whatever the panel's plane has become.
                let seen = found.pose.map(&placed.card, &decided.map).scaled(factor);
                let pose = pose::posed(&placed.card, &map, &seen).unwrap_or(found.pose);
                posed(light, &placed.card, &map, pose, [2.0 * factor, close])
            },
            |own| {
                own_plane(
                    light,
                    &placed.card,
                    &own.scaled(factor),
                    far,
                    enough(&placed.card),
                )
                .0
            },
        );
        let (mut own, mut seen) = own_plane(light, &placed.card, &posed, far, enough(&placed.card));
        if seen < LEAST_VISIBLE {
            // A card that lies tilted is seen in its own plane only.
            (own, seen) = own_plane(light, &placed.card, &own, close, enough(&placed.card));
        }
        let least = if placed.card.patches.len() > 3 {
            LEAST_VISIBLE
        } else {
            LEAST_OF_FEW
        };
        let zones = placed.card.patches.iter().filter(|it| !it.empty).count();
        if seen < least || ((2..=3).contains(&zones) && seen < IN_FULL) {
            // Few patches say little of the plane beside them: the card is looked for farther off, and believed only in full.
            let (farther, _) = own_plane(light, &placed.card, &posed, 3.0 * far, FEW);
            let (nearer, _) = own_plane(light, &placed.card, &farther, far, FEW);
            let (map, believed) = own_plane(light, &placed.card, &nearer, close, FEW);
            if believed > LEAST_VISIBLE.max(seen) {
                (own, seen) = (map, believed);
            }
        }
        let by_full = ((2..=3).contains(&zones) && seen < IN_FULL)
            .then(|| by_full_zones(light, &placed.card, &posed, [3.0 * far, far, close]))
            .flatten();
        if let Some(map) = by_full {
            let (_, believed) = own_plane(light, &placed.card, &map, close, FEW);
            if believed >= seen {
                (own, seen) = (map, believed);
            } else if !within(SURELY, &placed.card, &map, &own) {
                unseen = Some(LocateError::CardUnseen {
                    card: placed.card.id.clone(),
                    share: 100.0 * seen,
                });
                continue;
            }
        }
        if seen < least {
            // Coarse cloth hides edges at full size that stand out where it is shrunk.
            let glimpsed = found
                .own
                .unwrap_or_else(|| found.pose.map(&placed.card, &decided.map));
            let (map, _) = own_plane(view, &placed.card, &glimpsed, 2.0, enough(&placed.card));
            let (map, believed) = own_plane(view, &placed.card, &map, 1.6, enough(&placed.card));
            if believed >= least {
                (own, seen) = (map.scaled(factor), believed);
            }
        }
        if seen < least {
            unseen = Some(LocateError::CardUnseen {
                card: placed.card.id.clone(),
                share: 100.0 * seen,
            });
            continue;
        }
        if let Some(error) = too_small(&placed.card, &own) {
            unseen = Some(error);
            continue;
        }
        if let [zone] = placed.card.patches.as_slice()
            && short::ends_early(light, &own, &zone.rect)
        {
            unseen = Some(LocateError::CardSmaller {
                card: placed.card.id.clone(),
            });
            continue;
        }
        cards.push(LocatedCard { index, map: own });
    }
    // As everywhere, one card of several is enough.
    if let Some(error) = unseen.filter(|_| cards.is_empty()) {
        return Err(error);
    }
    if seen.len() < 4 {
        return Err(LocateError::LayoutDoesNotFit {
            seen: visible,
            of: patches.len() as f64,
        });
    }
    Ok(Located {
        panel: map,
        cards,
        quality: Quality {
            outline_rms_px: fit::rms(&fit::residuals(&map, &seen)),
            seen: visible / (patches.len().max(1) as f64),
            rival: decided.rival,
        },
        witnesses: decided.witnesses,
        by_hand,
    })
}

/// Pixels of the view within which outlines are looked for, pass by pass: of a card in its own plane …
const OWN: [f64; 3] = [12.0, 6.0, 3.0];
/// … of patches in a card's plane …
const LAID: [f64; 3] = [6.0, 3.0, 2.0];
/// … and of both.
const LEVELLED: [f64; 3] = [4.0, 2.0, 1.6];
/// Sum of beliefs in patches that a better plane may cost.
const NO_WORSE: f64 = 0.3;

/// Brings the plane of a panel of one line in the view to where the card beside it has it.
fn level(view: &View, panel: &Panel, decided: &mut Decided, beside: &mut Beside<'_>) {
    let patches: Vec<_> = panel.patches.iter().filter(|it| !it.empty).collect();
    let look = |map: &PlaneMap, reach: f64| -> (Vec<Seen>, f64) {
        let outlines = patches
            .iter()
            .map(|it| look_at(view, panel, map, it, reach));
        let outlines: Vec<Outline> = outlines.collect();
        let visible = outlines.iter().map(Outline::visible).sum();
        (
            outlines.into_iter().flat_map(|it| it.seen).collect(),
            visible,
        )
    };
    let (_, before) = look(&decided.map, LEVELLED[2]);
    let (mut map, mut better) = (decided.map, *beside);
    if better.own.is_none() && better.card.patches.len() > 1 {
        let corners = map.outline(&panel.extent());
        let extent = panel.extent();
        let line = if extent.width > extent.height {
            corners[1] - corners[0]
        } else {
            corners[3] - corners[0]
        };
        let start = better.pose.map(better.card, &map);
        better.own = in_its_own(view, better.card, &start, line.normalize());
    }
    if let Some(own) = better.own {
        for reach in LAID {
            map = beside::laid(panel, &map, &own, &look(&map, reach).0).unwrap_or(map);
        }
        better.pose = pose::posed(better.card, &map, &own).unwrap_or(better.pose);
    }
    for reach in LEVELLED {
        let card = better.look(view, &map, 1.0, reach);
        // A lens is asked for at full size.
        if let Some((moved, Some(pose))) =
            beside::improve(panel, &map, &look(&map, reach).0, Some(&card), None)
        {
            (map, better.pose) = (moved, pose);
        }
    }
    // Patches are where they were decided on, and seen as well as there.
    if look(&map, LEVELLED[2]).1 < before - NO_WORSE || !near(panel, &map, &decided.map) {
        return;
    }
    decided.map = map;
    *beside = better;
    if let Some((_, found)) = decided.cards.iter_mut().find(|it| it.0 == beside.index) {
        found.pose = beside.pose;
    }
}

/// Pixels by which a card's far and near ends are moved apart along the line of patches: what slants between is seen by no straight line.
const SLANTS: [f64; 7] = [0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0];

/// The map of a card of two or three zones in its own plane, if it is seen in full there: of several slants the one that shows most.
fn in_its_own(view: &View, card: &Panel, start: &PlaneMap, line: Vector2<f64>) -> Option<PlaneMap> {
    let frame = card.extent().corners();
    let corners = frame.map(|it| start.map(it));
    let middle = start.map(card.extent().centre());
    let across = |p: &Point| line.perp(&(p - middle));
    let farthest = corners.iter().map(|p| across(p).abs()).fold(1.0, f64::max);
    let slanted = |by: f64| {
        let to = corners.map(|p| p + line * (by * across(&p) / farthest));
        PlaneMap::fit(&frame, &to)
    };
    let closer = |map: PlaneMap, reach: &f64| own_plane(view, card, &map, *reach, FEW).0;
    let ways = SLANTS.iter().filter_map(|it| slanted(*it)).map(|it| {
        let map = OWN.iter().fold(it, closer);
        (own_plane(view, card, &map, LEVELLED[2], FEW).1, map)
    });
    let best = ways.reduce(|best, it| if it.0 > best.0 { it } else { best })?;
    (best.0 >= LEAST_VISIBLE).then_some(best.1)
}

/// The map of a card whose pose in the panel's plane is refined with ever smaller reaches.
fn posed<F: Fn(usize, usize) -> [f32; 3]>(
    light: &Full<'_, F>,
    card: &Panel,
    plane: &PlaneMap,
    found: Pose,
    reaches: [f64; 2],
) -> PlaneMap {
    let mut pose = found;
    for reach in reaches {
        pose = zones::refine(light, card, plane, pose, reach)
            .filter(|it| (it.centre - found.centre).norm() < 8.0)
            .unwrap_or(pose);
    }
    pose.map(card, plane)
}

/// Mean belief in the zones of a card of many below which it does not lie where it was found: charts that lie right show 0.96
/// and more, one that was misplaced 0.64.
const LEAST_VISIBLE: f64 = 0.8;
/// The same of a card of few zones, whose edges may be soft.
const LEAST_OF_FEW: f64 = 0.5;
/// Mean belief from which two or three zones lie right beyond doubt: less may be outlines that are seen a little off.
const IN_FULL: f64 = 0.95;

/// Fewest half sides that pin a card's own plane down, of a card of many zones …
const ENOUGH: usize = 32;
/// … and as a share of all of fewer zones' …
const MOST_OF_FEW: f64 = 0.75;
/// … and where the panel's plane has proved wrong. A single zone's own plane is never fitted: it has eight, one for each unknown.
const FEW: usize = 14;

/// Fewest half sides that pin a card's own plane down.
fn enough(card: &Panel) -> usize {
    let all = 8 * card.patches.iter().filter(|it| !it.empty).count();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a part of a small count"
    )]
    let most = (MOST_OF_FEW * all as f64).ceil() as usize;
    most.clamp(FEW, ENOUGH)
}

/// Share of the patches seen in the view that must be seen at full size, too, for outlines there to be better.
const AS_PLAIN: f64 = 0.7;

/// Share of its smallest zone by which two readings of where a card lies may differ: the inside of a zone that is as far off is read all
/// the same.
const SURELY: f64 = 0.15;

/// Whether a map has each corner of a layout less than two fifths of its smallest patch from where another has it.
fn near(layout: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    within(0.4, layout, map, other)
}

/// Whether a map has each corner of a layout less than a share of its smallest patch from where another has it.
fn within(share: f64, layout: &Panel, map: &PlaneMap, other: &PlaneMap) -> bool {
    let far = share * smallest_side(layout, other);
    let corners = layout.extent().corners();
    let mut off = corners.iter().map(|p| (map.map(*p) - other.map(*p)).norm());
    off.all(|it| it < far)
}

/// The shorter side of a layout's smallest patch or zone, pixels of a map.
fn smallest_side(layout: &Panel, map: &PlaneMap) -> f64 {
    let middle = layout.extent().centre();
    let smallest = layout
        .patches
        .iter()
        .map(|it| it.rect.width.min(it.rect.height))
        .fold(f64::MAX, f64::min);
    map.jacobian(middle).determinant().abs().sqrt() * smallest
}

/// Zones of fewer pixels across can't be read: lens, sharpening and JPEG's halved colour mix a rim of two or three with their neighbours.
/// From memory.
const LEAST_PIXELS: f64 = 12.0;

/// Why a card's zones can't be read, if they are too small.
fn too_small(card: &Panel, map: &PlaneMap) -> Option<LocateError> {
    let pixels = smallest_side(card, map);
    (pixels < LEAST_PIXELS).then(|| LocateError::CardTooSmall {
        card: card.id.clone(),
        pixels,
    })
}

/// The map of a card in its own plane, since it may lie tilted against the panel's, and the mean belief in its zones' outlines.
///
/// Where too little is seen to tell, the map is the one that was `posed` in the panel's plane.
fn own_plane(
    light: &impl Light,
    card: &Panel,
    posed: &PlaneMap,
    reach: f64,
    enough: usize,
) -> (PlaneMap, f64) {
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
    let own = own.filter(|it| near(card, it, posed));
    (own.unwrap_or(*posed), belief)
}

/// A card's own plane by those of its zones that are believed in full, with ever smaller reaches; none where they are too few.
///
/// Outlines of a zone that is hardly seen may be another thing's, as the edge of a board or of a shadow, and bend all of the card.
fn by_full_zones(
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

/// Looks at one patch at full size.
fn look_at(
    light: &impl Light,
    panel: &Panel,
    map: &PlaneMap,
    patch: &crate::panel::Patch,
    reach: f64,
) -> Outline {
    let gap_mm = panel.grid.map_or(0.0, |it| {
        (it.pitch_mm[0] - it.patch_mm[0]).min(it.pitch_mm[1] - it.patch_mm[1])
    });
    let look = Look {
        reach,
        gap_mm,
        step: coarseness(reach),
        sides: false,
        inner: false,
    };
    outline(light, map, &patch.rect, &look)
}
