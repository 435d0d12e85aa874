//! A card's zones, looked at, and its pose moved onto what is seen of them.

use super::evidence::{Look, Outline, coarseness, outline};
use super::fit::{self, Seen, Start};
use super::pose::Pose;
use super::view::Light;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;

/// Looks at one zone's outline.
pub(super) fn look_at(
    light: &impl Light,
    card: &Panel,
    map: &PlaneMap,
    rect: &Rect,
    reach: f64,
) -> Outline {
    let gap_mm = card.grid.map_or(0.0, |it| {
        (it.pitch_mm[0] - it.patch_mm[0]).min(it.pitch_mm[1] - it.patch_mm[1])
    });
    let gap_mm = if card.patches.len() == 1 { 0.0 } else { gap_mm };
    let look = Look {
        reach,
        gap_mm,
        clear_mm: f64::INFINITY,
        step: coarseness(reach),
        sides: true,
        // Other zones hold a card where an inner line is not its edge; nothing holds a single one.
        inner: card.patches.len() > 1,
    };
    outline(light, map, rect, &look)
}

/// Moves a pose onto the outlines seen within `reach` pixels, those that count.
pub(super) fn refine(
    light: &impl Light,
    card: &Panel,
    plane: &PlaneMap,
    pose: Pose,
    reach: f64,
    counts: &dyn Fn(&Seen) -> bool,
) -> Option<Pose> {
    let map = pose.map(card, plane);
    let seen: Vec<_> = card
        .patches
        .iter()
        .filter(|it| !it.empty)
        .flat_map(|it| look_at(light, card, &map, &it.rect, reach).seen)
        .filter(counts)
        .collect();
    moved(card, plane, pose, &seen)
}

/// A pose moved onto outlines that were seen; none if they don't pin it down.
pub(super) fn moved(card: &Panel, plane: &PlaneMap, pose: Pose, seen: &[Seen]) -> Option<Pose> {
    let of = |it: &[f64]| Pose {
        centre: Point::new(it[0], it[1]),
        angle: it[2],
        scale: it[3],
    };
    let start = [pose.centre.x, pose.centre.y, pose.angle, pose.scale];
    let better = fit::solve(
        &|it| Some(fit::residuals(&of(it).map(card, plane), seen)),
        (&start, Start::Near),
        &[0.01, 0.01, 1e-4, 1e-4],
    )?;
    let better = of(&better);
    // Too little was seen to pin the pose down if it runs away.
    better.stays(&pose, card).then_some(better)
}
