//! How well predicted outlines are borne out by the picture.

use super::edge;
use super::fit::Seen;
use super::view::Light;
use crate::geometry::{PlaneMap, Point, Rect};
use nalgebra::Vector2;

/// What was seen of one rectangle.
#[derive(Clone, Debug, Default)]
pub(super) struct Outline {
    /// Share of the half sides that were seen, 0–1.
    pub share: f64,
    /// The half sides that were seen.
    pub seen: Vec<Seen>,
}

impl Outline {
    /// Belief that the rectangle is there, 0–1: five of eight half sides are even odds.
    pub(super) fn visible(&self) -> f64 {
        ((self.share - 0.45) / 0.35).clamp(0.0, 1.0)
    }
}

/// How to look for outlines.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    /// Standard deviation of a pixel's grading.
    pub noise: f64,
    /// How far from its predicted place an outline may be, pixels.
    pub reach: f64,
    /// Millimetres of free room around the rectangle.
    pub gap_mm: f64,
    /// Pixels from reading to reading.
    pub step: f64,
}

/// Looks for the outline of a rectangle.
pub(super) fn outline(light: &impl Light, map: &PlaneMap, rect: &Rect, look: &Look) -> Outline {
    let mut out = Outline::default();
    let corners = rect.corners();
    let centre = map.map(rect.centre());
    let mut supported = 0_u32;
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let middle = a + (b - a) / 2.0;
        for (from, to) in [(a, middle), (middle, b)] {
            if let Some(seen) = half_side(light, map, from, to, centre, look) {
                supported += 1;
                out.seen.push(seen);
            }
        }
    }
    out.share = f64::from(supported) / 8.0;
    out
}

/// Looks for one stretch of outline; none if nothing stands out where it should be.
pub(super) fn half_side(
    light: &impl Light,
    map: &PlaneMap,
    from: Point,
    to: Point,
    inside: Point,
    look: &Look,
) -> Option<Seen> {
    let (a, b) = (map.map(from), map.map(to));
    let length = (b - a).norm();
    if !(length.is_finite() && length > 2.0 && length < 1e5) {
        return None;
    }
    let along = (b - a) / length;
    let mut normal = Vector2::new(along.y, -along.x);
    let depth = (a + (b - a) / 2.0 - inside).dot(&normal);
    if depth < 0.0 {
        normal = -normal;
    }
    // Inwards no farther than a third of the way to the middle, outwards not past the neighbour's outline.
    let middle = from + (to - from) / 2.0;
    let scale = map.jacobian(middle).determinant().abs().sqrt();
    let gap = look.gap_mm * scale;
    let far = (3.0 * look.reach).max(5.0 * look.step);
    let inwards = far.min(0.35 * depth.abs()).max(2.0 * look.step);
    let outwards = if look.gap_mm > 0.0 {
        far.min((0.55 * gap).max(look.step))
    } else {
        inwards
    };
    let profile = edge::profile(light, a, b, normal, (-inwards, outwards), look.step)?;
    let peak = profile.steepest_within(look.reach);
    let floor = (0.8 * look.noise / look.step.sqrt()).max(0.12);
    if peak.slope < 2.5 * peak.background + floor {
        return None;
    }
    Some(Seen {
        mm: middle,
        at: map.map(middle) + normal * peak.offset,
        normal,
    })
}
