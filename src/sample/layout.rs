//! Where to look: patches, halves, card zones and stretches of substrate as rectangles, kept off every edge.

use super::{Region, RegionKind};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::locate::{Located, LocatedCard};
use crate::panel::{Panel, Side};

/// A rectangle to read, with the map of its plane.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    pub(super) kind: RegionKind,
    /// After the inset, in millimetres of its own plane.
    pub(super) rect: Rect,
    /// From that plane to stored pixels.
    pub(super) map: PlaneMap,
}

/// Share of a patch's shorter side that is left at its edges: hand-laid coats thicken or thin out there.
const PATCH_EDGE: f64 = 0.07;
/// Share of a card zone's shorter side that is left at its edges: printed zones are even up to the edge.
const ZONE_EDGE: f64 = 0.10;
/// Share of a gap's width that is left at either side, for brush marks and for what reflects off the patch's edge.
const GAP_EDGE: f64 = 0.22;
/// Widest stretch of margin that is read, mm: what is nearest to the patches matters most.
const MARGIN_MM: f64 = 25.0;

/// Pixels to keep from an edge: two for the lens and the sharpening, more where the outlines fit loosely.
fn edge_px(located: &Located) -> f64 {
    2.0 + (2.0 * located.quality.outline_rms_px).clamp(0.0, 6.0)
}

/// Millimetres per pixel around a point of a plane.
fn mm_per_px(map: &PlaneMap, at: Point) -> f64 {
    let density = map.jacobian(at).determinant().abs().sqrt();
    if density.is_finite() && density > 0.0 {
        1.0 / density
    } else {
        f64::INFINITY
    }
}

/// Moves every edge inwards by the greater of a share of the shorter side and the pixels to keep, but never by more
/// than leaves a third of the side: a small patch is then read in its very middle.
fn inset(rect: &Rect, share: f64, map: &PlaneMap, located: &Located) -> Rect {
    let shorter = rect.width.min(rect.height);
    let pixels = edge_px(located) * mm_per_px(map, rect.centre());
    rect.inset((share * shorter).max(pixels).min(shorter / 3.0))
}

/// The patches in panel order, two halves where there is a mask, masked before exposed.
pub(super) fn patch_spots(panel: &Panel, located: &Located) -> Vec<Spot> {
    let mut spots = Vec::new();
    for (patch, it) in panel.patches.iter().enumerate().filter(|(_, it)| !it.empty) {
        let mut push = |kind, rect: Rect| {
            spots.push(Spot {
                kind,
                rect: inset(&rect, PATCH_EDGE, &located.panel, located),
                map: located.panel,
            });
        };
        match (it.masked_half(), it.exposed_half()) {
            (Some(masked), Some(exposed)) => {
                push(RegionKind::Masked { patch }, masked);
                push(RegionKind::Exposed { patch }, exposed);
            }
            _ => push(RegionKind::Whole { patch }, it.rect),
        }
    }
    spots
}

/// The zones of every card that was found, in the panel's card order and then the card's patch order.
pub(super) fn card_spots(panel: &Panel, located: &Located) -> Vec<Spot> {
    let mut cards: Vec<&LocatedCard> = located.cards.iter().collect();
    cards.sort_by_key(|it| it.index);
    let mut spots = Vec::new();
    for found in cards {
        let Some(placed) = panel.cards.get(found.index) else {
            continue;
        };
        let zones = placed
            .card
            .patches
            .iter()
            .enumerate()
            .filter(|(_, it)| !it.empty);
        spots.extend(zones.map(|(zone, it)| Spot {
            kind: RegionKind::Card {
                card: found.index,
                zone,
            },
            rect: inset(&it.rect, ZONE_EDGE, &found.map, located),
            map: found.map,
        }));
    }
    spots
}

/// Stretches of substrate: every gap between neighbours once, the board's margins where the board is known, and
/// empty cells.
pub(super) fn substrate_spots(panel: &Panel, located: &Located) -> Vec<Spot> {
    let mut spots = Vec::new();
    for (patch, it) in panel.patches.iter().enumerate() {
        let mut push = |rect: Rect, sheltered: bool| {
            let kind = if sheltered {
                RegionKind::Sheltered { patch }
            } else {
                RegionKind::Substrate { patch }
            };
            if wide_enough(&rect, &located.panel) {
                spots.push(Spot {
                    kind,
                    rect,
                    map: located.panel,
                });
            }
        };
        if it.empty {
            push(inset(&it.rect, GAP_EDGE, &located.panel, located), false);
            continue;
        }
        for side in [Side::Right, Side::Bottom, Side::Left, Side::Top] {
            if let Some(strip) = strip(panel, patch, side) {
                let keep = edge_px(located) * mm_per_px(&located.panel, strip.centre());
                let across = match side {
                    Side::Left | Side::Right => strip.width,
                    Side::Top | Side::Bottom => strip.height,
                };
                for (rect, sheltered) in parts(&strip, side, it.masked) {
                    push(rect.inset((GAP_EDGE * across).max(keep)), sheltered);
                }
            }
        }
    }
    spots
}

/// A strip beside a patch in parts of one age each, and whether the mask shelters it. A mask is laid as a strip over the halves of a row or
/// column, so that what lies between masked halves is under it; which side of its edge the rest is on nobody says, and that is taken
/// for open.
fn parts(strip: &Rect, side: Side, masked: Option<Side>) -> Vec<(Rect, bool)> {
    let along = |it: Side| matches!(it, Side::Left | Side::Right);
    match masked {
        Some(mask) if along(mask) != along(side) => [mask, mask.opposite()]
            .map(|it| (it.half_of(strip), it == mask))
            .into(),
        _ => vec![(*strip, false)],
    }
}

/// At least two pixels each way, else it is all edge.
fn wide_enough(rect: &Rect, map: &PlaneMap) -> bool {
    let least = 2.0 * mm_per_px(map, rect.centre());
    rect.width >= least && rect.height >= least
}

/// The bare strip along one side of a patch, up to the next patch or the board's edge. A gap between two patches
/// belongs to the left or upper one; where neither a patch nor the board bounds it, nothing says that it is substrate.
fn strip(panel: &Panel, patch: usize, side: Side) -> Option<Rect> {
    let own = panel.patches[patch].rect;
    let beyond = panel
        .patches
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != patch)
        .filter_map(|(_, it)| distance(&own, &it.rect, side))
        .min_by(f64::total_cmp);
    let width = match (beyond, side) {
        (Some(gap), Side::Right | Side::Bottom) => gap.min(2.0 * MARGIN_MM),
        (Some(_), Side::Left | Side::Top) => return None,
        (None, _) => {
            let board = panel.board?;
            let margin = match side {
                Side::Right => board.x + board.width - own.x - own.width,
                Side::Left => own.x - board.x,
                Side::Bottom => board.y + board.height - own.y - own.height,
                Side::Top => own.y - board.y,
            };
            margin.min(MARGIN_MM)
        }
    };
    (width > 0.0).then_some(match side {
        Side::Right => Rect {
            x: own.x + own.width,
            width,
            ..own
        },
        Side::Left => Rect {
            x: own.x - width,
            width,
            ..own
        },
        Side::Bottom => Rect {
            y: own.y + own.height,
            height: width,
            ..own
        },
        Side::Top => Rect {
            y: own.y - width,
            height: width,
            ..own
        },
    })
}

/// How far `other` lies beyond `side` of `own`, where the two overlap along that side.
fn distance(own: &Rect, other: &Rect, side: Side) -> Option<f64> {
    let beside = other.y < own.y + own.height && own.y < other.y + other.height;
    let stacked = other.x < own.x + own.width && own.x < other.x + other.width;
    let (overlaps, gap) = match side {
        Side::Right => (beside, other.x - own.x - own.width),
        Side::Left => (beside, own.x - other.x - other.width),
        Side::Bottom => (stacked, other.y - own.y - own.height),
        Side::Top => (stacked, own.y - other.y - other.height),
    };
    // Touching neighbours have a gap of zero up to rounding.
    (overlaps && gap > -1e-6).then_some(gap.max(0.0))
}

/// Millimetres around a card that are taken to be in its shadow.
const CARD_SHADOW_MM: f64 = 5.0;

/// Takes out the blocks of a stretch of substrate that a card lies on.
pub(super) fn drop_under_cards(region: &mut Region, panel: &Panel, located: &Located) {
    for found in &located.cards {
        let Some(placed) = panel.cards.get(found.index) else {
            continue;
        };
        let outer = placed.card.outer().inset(-CARD_SHADOW_MM);
        region.blocks.retain(|it| {
            let on_card = found.map.unmap(Point::from(it.px));
            !on_card.is_some_and(|p| outer.contains(&p))
        });
    }
    region.pixels = region.blocks.iter().map(|it| it.n).sum();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::locate::Quality;
    use crate::sample::tests_support::panel_2x2;
    use nalgebra::Matrix3;

    fn located(px_per_mm: f64) -> Located {
        Located {
            panel: PlaneMap::new(Matrix3::new(
                px_per_mm, 0., 50., 0., px_per_mm, 60., 0., 0., 1.,
            )),
            cards: vec![],
            quality: Quality {
                outline_rms_px: 0.5,
                seen: 1.0,
                rival: 0.0,
            },
            witnesses: vec!["test".into()],
            by_hand: false,
        }
    }

    #[test]
    fn halves_stay_off_the_mask_line_and_all_edges() {
        let mut panel = panel_2x2();
        for patch in &mut panel.patches {
            patch.masked = Some(Side::Left);
        }
        let spots = patch_spots(&panel, &located(8.0));
        assert_eq!(spots.len(), 8);
        assert_eq!(spots[0].kind, RegionKind::Masked { patch: 0 });
        assert_eq!(spots[1].kind, RegionKind::Exposed { patch: 0 });
        let middle = panel.patches[0].rect.centre().x;
        let masked = spots[0].rect;
        assert!(masked.x + masked.width <= middle - 3.0 / 8.0, "3 px kept");
        assert!(spots[1].rect.x >= middle + 3.0 / 8.0);
        assert!(masked.x >= panel.patches[0].rect.x + 3.0 / 8.0);
    }

    #[test]
    fn substrate_is_read_in_gaps_and_known_margins_only() {
        let mut panel = panel_2x2();
        let inside = substrate_spots(&panel, &located(8.0));
        assert_eq!(inside.len(), 4, "two gaps across, two down: {inside:#?}");
        for spot in &inside {
            for patch in &panel.patches {
                let r = patch.rect;
                let apart = spot.rect.x >= r.x + r.width
                    || r.x >= spot.rect.x + spot.rect.width
                    || spot.rect.y >= r.y + r.height
                    || r.y >= spot.rect.y + spot.rect.height;
                assert!(apart, "{:?} overlaps {r:?}", spot.rect);
            }
        }
        panel.board = Some(panel.extent().inset(-30.0));
        assert_eq!(substrate_spots(&panel, &located(8.0)).len(), 12);
    }

    #[test]
    fn a_strip_across_the_masks_edge_has_two_ages() {
        let strip = Rect {
            x: 10.0,
            y: 50.0,
            width: 40.0,
            height: 20.0,
        };
        let part = |x: f64, width: f64, sheltered| (Rect { x, width, ..strip }, sheltered);
        let (left, right) = (Some(Side::Left), Some(Side::Right));
        for side in [Side::Top, Side::Bottom] {
            let found = parts(&strip, side, left);
            assert_eq!(found, [part(10.0, 20.0, true), part(30.0, 20.0, false)]);
            let found = parts(&strip, side, right);
            assert_eq!(found, [part(30.0, 20.0, true), part(10.0, 20.0, false)]);
        }
        let found = parts(&strip, Side::Right, Some(Side::Top));
        assert!(
            found[0].1 && found[0].0.y < found[1].0.y && !found[1].1,
            "{found:?}"
        );
        // Beside the mask nobody says where it ends.
        for (side, masked) in [(Side::Left, left), (Side::Right, left), (Side::Top, None)] {
            assert_eq!(parts(&strip, side, masked), [(strip, false)]);
        }
    }

    #[test]
    fn sheltered_substrate_is_read_below_masked_halves_only() {
        let mut panel = panel_2x2();
        for patch in &mut panel.patches {
            patch.masked = Some(Side::Left);
        }
        panel.board = Some(panel.extent().inset(-30.0));
        let spots = substrate_spots(&panel, &located(8.0));
        let sheltered = |it: &&Spot| matches!(it.kind, RegionKind::Sheltered { .. });
        // A gap and two margins for each of two columns.
        assert_eq!(spots.iter().filter(sheltered).count(), 6);
        for spot in spots.iter().filter(sheltered) {
            let (x, end) = (spot.rect.x, spot.rect.x + spot.rect.width);
            let over = |it: &Rect| it.x < x && end < it.x + it.width;
            let halves = panel
                .patches
                .iter()
                .filter_map(crate::panel::Patch::masked_half);
            assert!(halves.into_iter().any(|it| over(&it)), "{:?}", spot.rect);
        }
    }

    #[test]
    fn touching_patches_leave_no_substrate() {
        let mut panel = panel_2x2();
        for patch in &mut panel.patches {
            let (row, column) = patch.cell.unwrap();
            patch.rect.x = crate::sample::float(column) * patch.rect.width;
            patch.rect.y = crate::sample::float(row) * patch.rect.height;
        }
        assert!(substrate_spots(&panel, &located(8.0)).is_empty());
    }

    #[test]
    fn substrate_under_a_card_and_in_its_shadow_is_left_out() {
        use crate::panel::{Place, PlacedCard};
        use crate::sample::{Block, LeftOut};
        let mut panel = panel_2x2();
        let mut card = panel_2x2();
        card.patches.truncate(1);
        panel.cards = vec![PlacedCard {
            card,
            place: Place::Anywhere,
            turned: None,
        }];
        // The card's 40 mm begin at pixel (50, 60), 10 pixels a millimetre.
        let mut located = located(10.0);
        located.cards = vec![LocatedCard {
            index: 0,
            map: located.panel,
        }];
        let block = |x: f64| Block {
            mm: [0.0; 2],
            px: [x, 200.0],
            rgb: [0.5; 3],
            variance: [0.0; 3],
            n: 7,
        };
        let mut region = Region {
            kind: RegionKind::Substrate { patch: 0 },
            rect: panel.extent(),
            outline: [[0.0; 2]; 4],
            // In its middle, 3 mm beside it, 8 mm beside it.
            blocks: vec![block(250.0), block(480.0), block(530.0)],
            pixels: 21,
            left_out: LeftOut::default(),
            at_top: 0,
            at_bottom: 0,
        };
        drop_under_cards(&mut region, &panel, &located);
        assert_eq!((region.blocks, region.pixels), (vec![block(530.0)], 7));
    }
}
