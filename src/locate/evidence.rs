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
    /// How far from its predicted place an outline may be, pixels.
    pub reach: f64,
    /// Millimetres of free room around the rectangle.
    pub gap_mm: f64,
    /// Pixels from reading to reading.
    pub step: f64,
    /// Whether sides that differ count as seen where no line stands out, as of a card on a coarse cloth.
    pub sides: bool,
}

/// Pixels from reading to reading that suit a reach: the farther, the coarser.
pub(super) fn coarseness(reach: f64) -> f64 {
    (reach / 4.0).max(1.0)
}

/// Looks for the outline of a rectangle.
pub(super) fn outline(light: &impl Light, map: &PlaneMap, rect: &Rect, look: &Look) -> Outline {
    let mut out = Outline::default();
    let corners = rect.corners();
    let centre = map.map(rect.centre());
    let mut supported = 0.0;
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let middle = a + (b - a) / 2.0;
        for (from, to) in [(a, middle), (middle, b)] {
            match stretch(light, map, from, to, centre, look) {
                Stretch::Outline(seen) => {
                    supported += 1.0;
                    out.seen.push(seen);
                }
                // They say less of where the outline lies.
                Stretch::Sides => supported += SIDES_COUNT,
                Stretch::Nothing => {}
            }
        }
    }
    out.share = supported / 8.0;
    out
}

/// Standard errors by which a slope must stand out.
const SURE: f64 = 3.0;
/// Slope of the faintest outline, grading a pixel.
const FAINTEST: f64 = 0.12;

/// What was seen of one stretch of outline.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stretch {
    /// An outline.
    Outline(Seen),
    /// No line that stands out, but sides that differ.
    Sides,
    /// Nothing stands out where it should be.
    Nothing,
}

/// Standard errors, and grading, by which two sides must differ where no line stands out between them.
const DIFFERENT: (f64, f64) = (4.0, 1.5);

/// How much coarser than the inside something must be to lie outside of it, whatever its mean: a factor and a grading.
pub(super) const COARSER: (f64, f64) = (2.0, 1.0);

/// What a stretch of differing sides counts, of an outline's 1.
const SIDES_COUNT: f64 = 0.8;

/// Looks for one stretch of outline.
pub(super) fn stretch(
    light: &impl Light,
    map: &PlaneMap,
    from: Point,
    to: Point,
    inside: Point,
    look: &Look,
) -> Stretch {
    let (a, b) = (map.map(from), map.map(to));
    let length = (b - a).norm();
    if !(length.is_finite() && length > 2.0 && length < 1e5) {
        return Stretch::Nothing;
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
    let far = (2.5 * look.reach).max(5.0 * look.step);
    let inwards = far.min(0.35 * depth.abs()).max(2.0 * look.step);
    let outwards = if look.gap_mm > 0.0 {
        far.min((0.55 * gap).max(look.step))
    } else {
        inwards
    };
    let Some(profile) = edge::profile(light, a, b, normal, (-inwards, outwards), look.step) else {
        return Stretch::Nothing;
    };
    let peak = profile.steepest_within(look.reach);
    if peak.slope < 2.5 * peak.background + SURE * peak.error + FAINTEST {
        let (contrast, error) = profile.contrast();
        let (inside, outside) = profile.scatter();
        let differ = contrast > DIFFERENT.0 * error + DIFFERENT.1
            || outside > COARSER.0 * inside + COARSER.1;
        return if look.sides && differ {
            Stretch::Sides
        } else {
            Stretch::Nothing
        };
    }
    Stretch::Outline(Seen {
        mm: middle,
        at: map.map(middle) + normal * peak.offset,
        normal,
    })
}
