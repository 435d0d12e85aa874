//! The last step: outlines at full size, a lens term if it helps, and the figures.

use super::beside;
use super::decide::Decided;
use super::drawn::drawn_in;
use super::evidence::Outline;
use super::fit::{self, Seen};
use super::improve::{Looked, improve, look_at};
use super::level::level;
use super::own::{
    FEW, IN_FULL, LEAST_OF_FEW, LEAST_VISIBLE, SURELY, by_full_zones, enough, near, own_plane,
    smallest_side, within,
};
use super::pose::{self, Pose};
use super::short;
use super::view::{Full, View};
use super::zones;
use super::{LocateError, Located, LocatedCard, Quality};
use crate::geometry::PlaneMap;
use crate::panel::Panel;

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
    // Where cards were seen, whatever the panel's plane becomes.
    let mut places: Vec<PlaneMap> = (decided.cards.iter())
        .map(|(index, it)| it.pose.map(&panel.cards[*index].card, &decided.map))
        .collect();
    let first = decided.map.scaled(factor);
    // Corners that are given by hand stay where they are.
    let levelled = beside::of(panel, &decided)
        .filter(|_| !by_hand)
        .and_then(|it| level(view, panel, &decided.map, &it));
    let mut beside = None;
    if let Some((map, card)) = levelled {
        decided.map = map;
        let there = decided.cards.iter().position(|it| it.0 == card.index);
        if let Some(place) = there.and_then(|it| places.get_mut(it)) {
            *place = card.own.unwrap_or_else(|| card.pose.map(card.card, &map));
        }
        beside = Some(card);
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
        let size = Some((light.width, light.height));
        let better = |card: Option<&Looked<'_>>| {
            improve(panel, &map, &seen, card, size)
                .filter(|it| near(panel, &it.0, &start) && near(panel, &it.0, &first))
        };
        if let Some((better, pose)) = better(card.as_ref()).or_else(|| better(None)) {
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
    for ((index, found), place) in decided.cards.into_iter().zip(places) {
        let placed = &panel.cards[index];
        if found.even {
            let map = place.scaled(factor);
            match too_small(&placed.card, &map) {
                Some(error) => unseen = Some(error),
                None => cards.push(LocatedCard { index, map }),
            }
            continue;
        }
        let posed = found.own.map_or_else(
            || {
                let seen = place.scaled(factor);
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
            let glimpsed = found.own.unwrap_or(place);
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
        if (2..=3).contains(&zones) {
            // The edge of a board beside the card may have passed for the card's own.
            match drawn_in(light, &placed.card, &own, close) {
                Some(map) => own = map,
                None => {
                    unseen = Some(LocateError::CardSmaller {
                        card: placed.card.id.clone(),
                    });
                    continue;
                }
            }
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
        pose = zones::refine(light, card, plane, pose, reach, &|_| true)
            .filter(|it| (it.centre - found.centre).norm() < 8.0)
            .unwrap_or(pose);
    }
    pose.map(card, plane)
}

/// Share of the patches seen in the view that must be seen at full size, too, for outlines there to be better.
const AS_PLAIN: f64 = 0.7;

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
