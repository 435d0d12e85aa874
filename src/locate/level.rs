//! The plane of a panel of one line brought, in the view, to where the card beside it has it.

use super::beside::{self, Beside};
use super::chart::Chart;
use super::evidence::Outline;
use super::fit::Seen;
use super::improve::{improve, look_at};
use super::own::{FEW, LEAST_VISIBLE, NEAR, in_own_plane, within};
use super::pose::posed;
use super::short;
use super::view::View;
use crate::geometry::{PlaneMap, Point};
use crate::panel::Panel;
use nalgebra::Vector2;

/// Pixels of the view within which outlines are looked for, pass by pass: of a card in its own plane …
const OWN: [f64; 3] = [12.0, 6.0, 3.0];
/// … of patches in a card's plane …
const LAID: [f64; 3] = [6.0, 3.0, 2.0];
/// … and of both.
const LEVELLED: [f64; 3] = [4.0, 2.0, 1.6];
/// Sum of beliefs in patches that a better plane may cost.
const NO_WORSE: f64 = 0.3;
/// How far, in place of [`NEAR`], corners may be moved where more is seen of the patches, by such a sum of beliefs: a line of a few small regions points past
/// its far end. Less than a patch, so that none takes its neighbour's place. Set while looking at one simulated photo at several sizes.
const FARTHER: f64 = 0.8;
const BETTER: f64 = 0.5;

/// The panel's map to pixels of the view, and the card in its plane; none if patches aren't seen there as well as where they were decided on.
pub(super) fn level<'a>(
    view: &View,
    panel: &Panel,
    decided: &PlaneMap,
    beside: &Beside<'a>,
) -> Option<(PlaneMap, Beside<'a>)> {
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
    let (_, before) = look(decided, LEVELLED[2]);
    let (mut map, mut better) = (*decided, *beside);
    let zones = better.card.patches.iter().filter(|it| !it.empty).count();
    if better.own.is_none() && (2..=3).contains(&zones) {
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
        better.pose = posed(better.card, &map, &own).unwrap_or(better.pose);
    }
    for reach in LEVELLED {
        let card = better.look(view, &map, 1.0, reach);
        // A lens is asked for at full size.
        if let Some((moved, Some(pose))) =
            improve(panel, &map, &look(&map, reach).0, Some(&card), None)
        {
            (map, better.pose) = (moved, pose);
        }
    }
    let after = look(&map, LEVELLED[2]).1;
    let far = if after >= before + BETTER {
        FARTHER
    } else {
        NEAR
    };
    (after >= before - NO_WORSE && within(far, panel, &map, decided)).then_some((map, better))
}

/// A way's map in the plane of a chart that was found for what it is; none of a panel of several lines, which shows its own plane.
pub(super) fn by_chart(
    view: &View,
    panel: &Panel,
    charts: &[Option<Chart>],
    map: &PlaneMap,
) -> Option<PlaneMap> {
    if !beside::in_one_line(panel) {
        return None;
    }
    let mut cards = panel.cards.iter().zip(charts).enumerate();
    let (index, pose, own) = cards.find_map(|(index, (placed, chart))| {
        let own = chart.as_ref()?.map;
        Some((index, posed(&placed.card, map, &own)?, own))
    })?;
    let beside = Beside {
        index,
        card: &panel.cards[index].card,
        pose,
        own: Some(own),
    };
    Some(level(view, panel, map, &beside)?.0)
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
    let closer = |map: PlaneMap, reach: &f64| in_own_plane(view, card, &map, *reach, FEW).0;
    let ways = SLANTS.iter().filter_map(|it| {
        let map = OWN.iter().try_fold(slanted(*it)?, closer)?;
        Some((in_own_plane(view, card, &map, LEVELLED[2], FEW).1, map))
    });
    // A board's edge beside the card may pass for the card's own.
    let ways = ways.filter(|it| short::zones_end_before(view, &it.1, card).is_none());
    let best = ways.reduce(|best, it| if it.0 > best.0 { it } else { best })?;
    (best.0 >= LEAST_VISIBLE).then_some(best.1)
}
