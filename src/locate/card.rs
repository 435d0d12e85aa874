//! Cards, found in the panel's plane by size, place and zones.

use super::evidence::{Look, Outline, outline};
use super::fit;
use super::region::Quad;
use super::scan;
use super::shade;
use super::view::{Light, View, whole};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Place, PlacedCard, Side};
use nalgebra::Matrix3;
use std::collections::BTreeMap;

/// A card's pose on the panel's plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    /// Where the centre of the card's zones lies, panel millimetres.
    pub centre: Point,
    /// Turn of the card against the panel, radians.
    pub angle: f64,
    /// Millimetres of the panel's plane per card millimetre: a card that lies lower looks smaller.
    pub scale: f64,
}

/// A card found in the view.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    /// Its pose.
    pub pose: Pose,
    /// How well it fits altogether; larger is better.
    pub score: f64,
}

/// What came of looking for a card.
#[derive(Clone, Copy, Debug)]
pub(super) enum Search {
    /// It is there.
    Found(Found),
    /// Nothing like it is there.
    Missing,
    /// Two things that could be it lie there.
    Doubtful,
}

impl Pose {
    /// Card millimetres to the panel's.
    fn matrix(&self, card: &Panel) -> Matrix3<f64> {
        let (sin, cos) = self.angle.sin_cos();
        let (sin, cos) = (self.scale * sin, self.scale * cos);
        let turn = Matrix3::new(cos, -sin, 0.0, sin, cos, 0.0, 0.0, 0.0, 1.0);
        Matrix3::new_translation(&self.centre.coords)
            * turn
            * Matrix3::new_translation(&-card.extent().centre().coords)
    }

    /// Card millimetres to pixels.
    pub(super) fn map(&self, card: &Panel, plane: &PlaneMap) -> PlaneMap {
        let homography = plane.homography * self.matrix(card);
        PlaneMap {
            homography: homography / homography[(2, 2)],
            radial: plane.radial,
        }
    }
}

/// Largest angle at which a card laid by hand lies against the panel's edges.
const CROOKED: f64 = 0.27;

/// Looks for a card where the panel file says that it lies, given where the panel lies.
pub(super) fn search(
    view: &View,
    quads: &[Quad],
    panel: &Panel,
    placed: &PlacedCard,
    plane: &PlaneMap,
    noise: f64,
) -> Search {
    let card = &placed.card;
    let judged = |poses: Vec<Pose>| -> Vec<Found> {
        likely(view, card, plane, poses)
            .into_iter()
            .filter_map(|it| judge(view, card, plane, it, noise))
            .collect()
    };
    let mut found = judged(poses(quads, panel, placed, plane));
    if found.is_empty() && card.patches.len() <= 3 {
        found = judged(scanned(view, panel, placed, plane));
    }
    // A pose is told by its centre and turn; of equal ones the best counts.
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let Some(best) = found.first().copied() else {
        return Search::Missing;
    };
    let size = card.outer().width.min(card.outer().height);
    let single = card.patches.len() == 1;
    let rival = found.iter().find(|it| {
        let apart = (it.pose.centre - best.pose.centre).norm() > 0.35 * size;
        let turned = !single && (it.pose.angle - best.pose.angle).cos() < 0.7;
        apart || turned
    });
    match rival {
        Some(it) if it.score > best.score - 1.0 => Search::Doubtful,
        _ => Search::Found(best),
    }
}

/// Fewest known zones whose colours tell poses apart.
const MANY_ZONES: usize = 6;
/// Poses of such a card whose outlines are looked at.
const LIKELY: usize = 6;

/// The poses whose zones' colours rise and fall most as they should; all of them for a card of few zones.
fn likely(view: &View, card: &Panel, plane: &PlaneMap, poses: Vec<Pose>) -> Vec<Pose> {
    if card.patches.iter().filter(|it| it.known.is_some()).count() < MANY_ZONES {
        return poses;
    }
    let mut ranked: Vec<(f64, Pose)> = poses
        .into_iter()
        .filter_map(|it| {
            let (misfit, _) = shade::misfit(view, &it.map(card, plane), card)?;
            Some((misfit, it))
        })
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    ranked.truncate(LIKELY);
    ranked.into_iter().map(|it| it.1).collect()
}

/// Poses that are looked at closely, the best supported first.
const CLOSELY: usize = 40;

/// Poses that regions of a zone's size, or the card's, suggest, those that most regions agree on first.
fn poses(quads: &[Quad], panel: &Panel, placed: &PlacedCard, plane: &PlaneMap) -> Vec<Pose> {
    let card = &placed.card;
    let mut rects: Vec<Rect> = vec![card.outer(), card.extent()];
    rects.extend(card.patches.iter().filter(|it| !it.empty).map(|it| it.rect));
    rects.dedup();
    let middle = card.extent().centre();
    let mut all: Vec<Pose> = Vec::new();
    for quad in quads {
        let Some(corners) = on_plane(quad, plane) else {
            continue;
        };
        let Some((sides, angle, centre)) = rectangle(&corners) else {
            continue;
        };
        for rect in &rects {
            for turn in 0..4 {
                let (w, h) = if turn % 2 == 0 {
                    (sides.0, sides.1)
                } else {
                    (sides.1, sides.0)
                };
                let (across, down) = (w / rect.width, h / rect.height);
                let scale = (across * down).sqrt();
                if !((0.86..1.14).contains(&scale) && (0.88..1.14).contains(&(across / down))) {
                    continue;
                }
                let angle = wrap(angle + f64::from(turn) * std::f64::consts::FRAC_PI_2);
                // A region's own size is rough.
                let scale = scale.clamp(0.95, 1.03);
                let (sin, cos) = angle.sin_cos();
                let off = (middle - rect.centre()) * scale;
                let centre = centre
                    + nalgebra::Vector2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
                let pose = Pose {
                    centre,
                    angle,
                    scale,
                };
                if fits_place(panel, placed, &pose) {
                    all.push(pose);
                }
            }
        }
    }
    let smallest = rects
        .iter()
        .map(|it| it.width.min(it.height))
        .fold(f64::MAX, f64::min);
    // Two or three zones don't outvote what else lies about: there every pose that differs is looked at.
    let share = if card.patches.len() > 3 { 0.25 } else { 0.05 };
    agreed(&all, share * smallest)
}

/// Poses of a card of one to three zones from even places in the plane, square to the panel.
fn scanned(view: &View, panel: &Panel, placed: &PlacedCard, plane: &PlaneMap) -> Vec<Pose> {
    let card = &placed.card;
    let middle = card.extent().centre();
    let extent = panel.extent();
    let outer = card.outer();
    let reach = 1.6 * outer.width.max(outer.height) + 60.0;
    let area = match placed.place {
        Place::AtMm([x, y]) => Rect {
            x: x - 40.0,
            y: y - 40.0,
            width: outer.width.max(outer.height) + 80.0,
            height: outer.width.max(outer.height) + 80.0,
        },
        Place::Anywhere | Place::Beside(_) => extent.inset(-reach),
    };
    let mut out: Vec<Pose> = Vec::new();
    for turn in 0..4 {
        let angle = wrap(f64::from(turn) * std::f64::consts::FRAC_PI_2);
        let (sin, cos) = angle.sin_cos();
        for zone in card
            .patches
            .iter()
            .filter(|it| !it.empty)
            .map(|it| &it.rect)
        {
            let size = if turn % 2 == 0 {
                [zone.width, zone.height]
            } else {
                [zone.height, zone.width]
            };
            let off = middle - zone.centre();
            for place in scan::even_places(view, plane, &area, size) {
                let centre = place
                    + nalgebra::Vector2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
                let pose = Pose {
                    centre,
                    angle,
                    scale: 1.0,
                };
                if fits_place(panel, placed, &pose) {
                    out.push(pose);
                }
            }
        }
        // A single square zone looks the same in every turn.
        if card.patches.len() == 1 {
            break;
        }
    }
    out
}

/// The poses that most others agree with within `near` millimetres, one of each agreement.
///
/// A chart's regions can each be any of its zones, in four turns: only the right pose is suggested by many of them.
fn agreed(all: &[Pose], near: f64) -> Vec<Pose> {
    let cell = |it: &Pose| {
        let quarter = (it.angle / std::f64::consts::FRAC_PI_2).round();
        (
            whole(it.centre.x / near),
            whole(it.centre.y / near),
            whole(quarter + 0.5).rem_euclid(4),
        )
    };
    let mut bins: BTreeMap<(i32, i32, i32), Vec<usize>> = BTreeMap::new();
    for (i, it) in all.iter().enumerate() {
        bins.entry(cell(it)).or_default().push(i);
    }
    let mut ranked: Vec<(usize, usize)> = bins
        .iter()
        .filter_map(|((x, y, turn), members)| {
            let votes = (-1..=1)
                .flat_map(|dx| (-1..=1).map(move |dy| (x + dx, y + dy, *turn)))
                .filter_map(|it| bins.get(&it))
                .map(Vec::len)
                .sum();
            members.first().map(|first| (votes, *first))
        })
        .collect();
    ranked.sort_by_key(|it| (std::cmp::Reverse(it.0), it.1));
    let mut out: Vec<Pose> = Vec::new();
    for (_, i) in ranked {
        let pose = all[i];
        let twin = out.iter().any(|it| {
            (it.centre - pose.centre).norm() < near && (it.angle - pose.angle).cos() > 0.99
        });
        if !twin {
            out.push(pose);
        }
        if out.len() == CLOSELY {
            break;
        }
    }
    out
}

/// An angle brought between −π and π.
fn wrap(angle: f64) -> f64 {
    angle.sin().atan2(angle.cos())
}

/// A region's corners in panel millimetres.
fn on_plane(quad: &Quad, plane: &PlaneMap) -> Option<[Point; 4]> {
    let mut out = quad.corners;
    for it in &mut out {
        *it = plane.unmap(*it)?;
    }
    Some(out)
}

/// Sides (along the turned x axis, along y), angle (within ±45°) and centre of corners that are nearly a rectangle.
fn rectangle(corners: &[Point; 4]) -> Option<((f64, f64), f64, Point)> {
    let along = |i: usize| corners[(i + 1) % 4] - corners[i];
    // The side that points most to the right is the top.
    let top = (0..4).max_by(|a, b| {
        let slant = |i: usize| along(i).x / along(i).norm();
        slant(*a).total_cmp(&slant(*b))
    })?;
    let (a, b) = (along(top), along((top + 1) % 4));
    let (c, d) = (-along((top + 2) % 4), -along((top + 3) % 4));
    let (w, h) = ((a.norm() + c.norm()) / 2.0, (b.norm() + d.norm()) / 2.0);
    let near = |u: nalgebra::Vector2<f64>, v: nalgebra::Vector2<f64>| {
        (u - v).norm() < 0.14 * u.norm().max(v.norm())
    };
    let right_angle = a.dot(&b).abs() < 0.14 * a.norm() * b.norm();
    if !(near(a, c) && near(b, d) && right_angle) {
        return None;
    }
    let u = a + c;
    let sum = corners
        .iter()
        .fold(nalgebra::Vector2::zeros(), |all, it| all + it.coords);
    Some(((w, h), u.y.atan2(u.x), Point::from(sum / 4.0)))
}

/// Whether a pose is where the panel file has the card.
fn fits_place(panel: &Panel, placed: &PlacedCard, pose: &Pose) -> bool {
    let extent = panel.extent();
    let crooked = {
        let quarter = std::f64::consts::FRAC_PI_2;
        let rest = pose.angle / quarter - (pose.angle / quarter).round();
        rest.abs() * quarter
    };
    let outer = placed.card.outer();
    let half = outer.width.min(outer.height) / 2.0;
    if extent.inset(-0.8 * half).contains(&pose.centre) {
        return false;
    }
    let (x, y) = (pose.centre.x, pose.centre.y);
    let (right, bottom) = (extent.x + extent.width, extent.y + extent.height);
    let beside = x >= extent.x - half && x <= right + half;
    let level = y >= extent.y - half && y <= bottom + half;
    match placed.place {
        Place::Anywhere => true,
        Place::Beside(_) if crooked > CROOKED => false,
        Place::Beside(Side::Left) => level && x < extent.x,
        Place::Beside(Side::Right) => level && x > right,
        Place::Beside(Side::Top) => beside && y < extent.y,
        Place::Beside(Side::Bottom) => beside && y > bottom,
        Place::AtMm([left, top]) => {
            // The outer edge may lie either way.
            let slack = 30.0_f64.max(0.5 * half);
            [(outer.width, outer.height), (outer.height, outer.width)]
                .iter()
                .any(|(w, h)| {
                    (pose.centre - Point::new(left + w / 2.0, top + h / 2.0)).norm() < slack
                })
        }
    }
}

/// Refines a pose in the view and weighs it; none if it does not look like the card.
fn judge(view: &View, card: &Panel, plane: &PlaneMap, pose: Pose, noise: f64) -> Option<Found> {
    let mut pose = pose;
    let pixels = plane.jacobian(pose.centre).determinant().abs().sqrt();
    // A twelfth of the card at first, then ever closer.
    let far = pixels * card.outer().width.min(card.outer().height) / 12.0;
    for reach in [far.clamp(4.0, 14.0), 4.0, 2.0] {
        pose = refine(view, card, plane, pose, noise, reach).unwrap_or(pose);
    }
    if !(0.9..1.1).contains(&pose.scale) {
        return None;
    }
    let map = pose.map(card, plane);
    let zones: Vec<&Rect> = card
        .patches
        .iter()
        .filter(|it| !it.empty)
        .map(|it| &it.rect)
        .collect();
    let seen = zones
        .iter()
        .map(|it| look_at(view, card, &map, it, noise, 1.8).visible())
        .sum::<f64>()
        / zones.len().max(1) as f64;
    // One zone must show nearly all round; of many some may be as dark as the card's frame.
    let enough = if zones.len() == 1 { 0.8 } else { 0.55 };
    if seen < enough {
        return None;
    }
    let mut score = 6.0 * seen;
    for patch in card.patches.iter().filter(|it| !it.empty) {
        let (colour, spread) = shade::inside(view, &map, &patch.rect)?;
        if zones.len() <= 4 && spread > 3.0 + 3.0 * noise {
            return None;
        }
        let neutral = patch
            .known
            .as_ref()
            .is_some_and(|it| it.lab.a.hypot(it.lab.b) < 8.0);
        if neutral {
            let tint = shade::tint(colour);
            // A camera's white balance errs, but grey never looks like paint.
            if tint > 0.8 {
                return None;
            }
            score -= 4.0 * tint / zones.len() as f64;
        }
    }
    score += shade::favour(view, &map, card);
    score -= (pose.scale - 1.0).abs() * 20.0;
    Some(Found { pose, score })
}

/// Looks at one zone's outline.
pub(super) fn look_at(
    light: &impl Light,
    card: &Panel,
    map: &PlaneMap,
    rect: &Rect,
    noise: f64,
    reach: f64,
) -> Outline {
    let gap_mm = card.grid.map_or(0.0, |it| {
        (it.pitch_mm[0] - it.patch_mm[0]).min(it.pitch_mm[1] - it.patch_mm[1])
    });
    let gap_mm = if card.patches.len() == 1 { 0.0 } else { gap_mm };
    let look = Look {
        noise,
        reach,
        gap_mm,
        step: 1.0,
    };
    outline(light, map, rect, &look)
}

/// Moves a pose onto the outlines seen within `reach` pixels.
pub(super) fn refine(
    light: &impl Light,
    card: &Panel,
    plane: &PlaneMap,
    pose: Pose,
    noise: f64,
    reach: f64,
) -> Option<Pose> {
    let map = pose.map(card, plane);
    let seen: Vec<_> = card
        .patches
        .iter()
        .filter(|it| !it.empty)
        .flat_map(|it| look_at(light, card, &map, &it.rect, noise, reach).seen)
        .collect();
    let of = |it: &[f64]| Pose {
        centre: Point::new(it[0], it[1]),
        angle: it[2],
        scale: it[3],
    };
    let start = [pose.centre.x, pose.centre.y, pose.angle, pose.scale];
    let better = fit::solve(
        &|it| Some(of(it).map(card, plane)),
        &start,
        &[0.01, 0.01, 1e-4, 1e-4],
        &seen,
    )?;
    let better = of(&better);
    // Too little was seen to pin the pose down if it runs away.
    let size = card.outer().width.min(card.outer().height);
    let stays = (better.centre - pose.centre).norm() < 0.25 * size
        && (better.scale - pose.scale).abs() < 0.12
        && (better.angle - pose.angle).abs() < 0.15;
    stays.then_some(better)
}
