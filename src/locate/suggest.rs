//! Poses of a card that regions and even places suggest.

use super::areas;
use super::pose::{Motion, Pose};
use super::region::Quad;
use super::scan::{self, Spot};
use super::view::{View, whole};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Place, PlacedCard};
use nalgebra::Vector2;
use std::collections::BTreeMap;

/// Poses that are looked at closely, the best supported first.
const CLOSELY: usize = 40;

/// Sizes, over the card's own, at which a region's pose starts at most.
const OF_SIZE: (f64, f64) = (0.95, 1.03);

/// Whether a region's pose starts at the region's own size.
pub(super) fn is_of_size(pose: &Pose) -> bool {
    pose.scale > OF_SIZE.0 && pose.scale < OF_SIZE.1
}

/// Poses that regions of a zone's size, or the card's, suggest, those that most regions agree on first.
pub(super) fn poses(
    quads: &[Quad],
    card: &Panel,
    plane: &PlaneMap,
    fits: &dyn Fn(&Pose) -> bool,
) -> Vec<Pose> {
    let mut rects: Vec<Rect> = vec![card.outer(), card.extent()];
    rects.extend(card.patches.iter().filter(|it| !it.empty).map(|it| it.rect));
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
                let scale = scale.clamp(OF_SIZE.0, OF_SIZE.1);
                let (sin, cos) = angle.sin_cos();
                let off = (middle - rect.centre()) * scale;
                let centre =
                    centre + Vector2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
                let pose = Pose {
                    centre,
                    angle,
                    scale,
                };
                if fits(&pose) {
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

/// By how much a whole side of a part may differ from the card's, as a share of it.
const SIDE_OFF: f64 = 0.07;
/// Cosine of how far from upright the part's sides beside it may be.
const ASKEW: f64 = 0.12;

/// Poses of a card of few zones that the edge of a shadow parts: a part that is a region still has one whole side of its zone, and two
/// that go off at right angles.
pub(super) fn parted(
    quads: &[Quad],
    card: &Panel,
    plane: &PlaneMap,
    fits: &dyn Fn(&Pose) -> bool,
) -> Vec<Pose> {
    let single = card.patches.len() == 1;
    let (outer, middle) = (card.outer(), card.extent().centre());
    let rects: Vec<Rect> = if single {
        vec![outer]
    } else {
        let zones = card.patches.iter().filter(|it| !it.empty);
        zones.map(|it| it.rect).collect()
    };
    // A single zone looks the same from its other end.
    let ends = if single { 1 } else { 2 };
    let shapes: Vec<(Rect, u8)> = (rects.iter())
        .flat_map(|it| (0..2 * ends).map(move |turn| (*it, turn)))
        .collect();
    let mut all: Vec<Pose> = Vec::new();
    for corners in quads.iter().filter_map(|it| on_plane(it, plane)) {
        for i in 0..4 {
            let at = |k: usize| corners[(i + k) % 4];
            let (side, right, left) = (at(1) - at(0), at(2) - at(1), at(3) - at(0));
            let length = side.norm();
            let along = side / length;
            let inward = Vector2::new(-along.y, along.x);
            let upright = |it: Vector2<f64>| {
                it.dot(&along).abs() < ASKEW * it.norm() && it.dot(&inward) > 0.0
            };
            if !(upright(right) && upright(left)) {
                continue;
            }
            for (rect, turn) in &shapes {
                let (width, depth) = if turn % 2 == 0 {
                    (rect.width, rect.height)
                } else {
                    (rect.height, rect.width)
                };
                let beyond = right.norm().max(left.norm()) > (1.0 + SIDE_OFF) * depth;
                if beyond || (length / width - 1.0).abs() > SIDE_OFF {
                    continue;
                }
                let quarters = f64::from(*turn) * std::f64::consts::FRAC_PI_2;
                let angle = wrap(along.y.atan2(along.x) + quarters);
                let (sin, cos) = angle.sin_cos();
                let off = middle - rect.centre();
                let off = Vector2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
                let pose = Pose {
                    centre: at(0) + side / 2.0 + inward * (depth / 2.0) + off,
                    angle,
                    scale: 1.0,
                };
                if fits(&pose) {
                    all.push(pose);
                }
            }
        }
    }
    agreed(&all, 0.05 * outer.width.min(outer.height))
}

/// Pixels of the view within which a region that the frame cuts off reaches it: regions end a pixel before it, and blur takes another. A choice.
const AT_FRAME: f64 = 3.0;

/// Poses of a card of one zone that goes on beyond the frame, each with the region that is seen of it: one whole side, and two that go off from it at
/// right angles and end at the frame. No such sheet is measured, but it may be the card.
pub(super) fn cut_off(
    view: &View,
    quads: &[Quad],
    card: &Panel,
    plane: &PlaneMap,
    fits: &dyn Fn(&Pose) -> bool,
) -> Vec<(Pose, Quad)> {
    let (right, bottom) = (view.width as f64 - AT_FRAME, view.height as f64 - AT_FRAME);
    let reached = |p: &Point| [p.x < AT_FRAME, p.y < AT_FRAME, p.x > right, p.y > bottom];
    let at_edge =
        |it: &Quad| (0..4).any(|edge| it.corners.iter().filter(|p| reached(p)[edge]).count() == 2);
    let outside = |p: &Point| {
        let (width, height) = (view.width as f64, view.height as f64);
        p.x < 0.0 || p.y < 0.0 || p.x > width || p.y > height
    };
    let goes_on = |it: &Pose| {
        let corners = it.map(card, plane).outline(&card.outer());
        corners.iter().any(outside)
    };
    quads
        .iter()
        .filter(|it| at_edge(it))
        .flat_map(|quad| {
            parted(std::slice::from_ref(quad), card, plane, fits)
                .into_iter()
                .map(|pose| (pose, *quad))
        })
        .filter(|it| goes_on(&it.0))
        .collect()
}

/// By how much a place must seem larger or smaller than the card to be looked at in that size, too, as a share.
const OTHER_SIZE: f64 = 0.01;

/// Poses of a card of one to three zones from even places in the plane, or such as differ from what lies around them, square to the panel. Then, of a card
/// of one zone, poses at places that seem larger or smaller than it, in the size that they seem to have: a card that lies lower than the board looks
/// smaller, but another sheet may be so.
pub(super) fn scanned(
    view: &View,
    panel: &Panel,
    placed: &PlacedCard,
    plane: &PlaneMap,
    ways: &[Motion],
    fits: &dyn Fn(&Pose) -> bool,
) -> (Vec<Pose>, Vec<Pose>) {
    let card = &placed.card;
    let single = card.patches.len() == 1;
    let middle = card.extent().centre();
    let areas = areas::of(panel, placed, ways);
    // Whatever lies on the table has a hue of its own: where the card's place isn't stated, that says little.
    let by_hue = !matches!(placed.place, Place::Anywhere);
    // Zones are often of one size, and places depend on nothing else.
    let mut known: Vec<([f64; 2], Vec<Spot>)> = Vec::new();
    let (mut out, mut of_other_size): (Vec<Pose>, Vec<Pose>) = (Vec::new(), Vec::new());
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
            let off = Vector2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
            let at = known
                .iter()
                .position(|it| (0..2).all(|k| (it.0[k] - size[k]).abs() < 1e-9))
                .unwrap_or_else(|| {
                    let places = areas
                        .iter()
                        .flat_map(|it| scan::places(view, plane, it, size, by_hue))
                        .collect();
                    known.push((size, places));
                    known.len() - 1
                });
            let as_large = |spot: &Spot, scale: f64| Pose {
                centre: spot.at + off * scale,
                angle,
                scale,
            };
            out.extend(known[at].1.iter().map(|it| as_large(it, 1.0)).filter(fits));
            // As of a region, its size is rough.
            let seems = |it: &Spot| it.scale.clamp(OF_SIZE.0, OF_SIZE.1);
            if single {
                let poses = known[at].1.iter().map(|it| as_large(it, seems(it)));
                of_other_size.extend(
                    poses
                        .filter(|it| (it.scale - 1.0).abs() > OTHER_SIZE)
                        .filter(fits),
                );
            }
        }
        // A single square zone looks the same in every turn.
        if single {
            break;
        }
    }
    (out, of_other_size)
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
    let near = |u: Vector2<f64>, v: Vector2<f64>| (u - v).norm() < 0.14 * u.norm().max(v.norm());
    let right_angle = a.dot(&b).abs() < 0.14 * a.norm() * b.norm();
    if !(near(a, c) && near(b, d) && right_angle) {
        return None;
    }
    let u = a + c;
    let sum = corners
        .iter()
        .fold(Vector2::zeros(), |all, it| all + it.coords);
    Some(((w, h), u.y.atan2(u.x), Point::from(sum / 4.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Matrix3;

    #[test]
    fn a_sheet_that_the_frame_cuts_off_may_be_the_card_if_its_whole_side_fits() {
        let text = "id = \"sheet\"\nsource = \"a test\"\n[grid]\nrows = 1\ncolumns = 1\npatch_mm = [40, 60]\n\
                    [[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\n";
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sheet.toml");
        std::fs::write(&path, text).unwrap();
        let card = crate::panel::read(&path).unwrap();
        let view = View {
            factor: 1,
            width: 120,
            height: 100,
            pixels: vec![[0.0; 3]; 12_000],
        };
        let plane = PlaneMap::new(Matrix3::identity());
        let found = |left: f64, width: f64, bottom: f64| {
            let (right, top) = (left + width, 75.0);
            let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
            let quad = Quad::new(corners.map(|(x, y)| Point::new(x, y)));
            cut_off(&view, &[quad], &card, &plane, &|_| true)
        };
        // Either of its sides may be the whole one; it lies as deep as the card is.
        let [(pose, _)] = found(20.0, 40.0, 99.0)[..] else {
            panic!("one pose");
        };
        assert!((pose.centre - Point::new(40.0, 105.0)).norm() < 1e-6);
        let [(pose, _)] = found(20.0, 60.0, 99.0)[..] else {
            panic!("one pose");
        };
        assert!((pose.centre - Point::new(50.0, 95.0)).norm() < 1e-6);
        // Another width, or a sheet that ends before the frame.
        assert!(found(20.0, 50.0, 99.0).is_empty());
        assert!(found(20.0, 40.0, 92.0).is_empty());
    }
}
