//! A sheet told by its evenness where a coarse cloth of about its own colour hides its edges.
//!
//! Mottle is lighter than the sheet here and darker there: along an edge the colours' mean may be the sheet's own, and scatter so much
//! that no line stands out. How far they are from the sheet's colour rises at every edge, whichever way they differ, and always outwards.

use super::edge;
use super::fit::Seen;
use super::pose::Pose;
use super::shade;
use super::view::{Graded, Light, View, distance};
use super::zones;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;
use nalgebra::Vector2;

/// Distance of a picture's colours from one.
struct Apart<'a> {
    view: &'a View,
    colour: Graded,
}

impl Light for Apart<'_> {
    fn at(&self, p: Point) -> Option<Graded> {
        #[expect(clippy::cast_possible_truncation, reason = "a colour")]
        let far = distance(self.view.at(p)?, self.colour) as f32;
        Some([far, 0.0, 0.0])
    }
}

/// Median distance from its median colour beyond which a sheet is not even.
const UNEVEN: f64 = 4.0;
/// Half sides of eight at which the distance must rise: a board or a shadow may lie on one.
const RISES: usize = 7;
/// Fewest that make it worth looking closer.
const PROMISING: usize = 5;
/// By how much it must rise: standard errors, and over the distance inside a share and a grading.
const RISE: (f64, f64, f64) = (2.0, 0.6, 0.4);
/// Pixels within which the edges are looked for, pass by pass; and at first a share of the sheet, whose size is known roughly: what lies lower than the board
/// looks smaller.
const REACHES: [f64; 3] = [4.0, 3.0, 2.0];
const ROUGHLY: f64 = 0.04;
/// Pixels beside an edge that are read, on either side, at least, and beyond the reach.
const DEEP: f64 = 6.0;
const BEYOND: f64 = 2.0;

/// A pose of a card of one zone moved to where its evenness ends; none if it doesn't end all round. Ends that don't count as its own, as a board's edge beside
/// it, are ends, but don't move it.
pub(super) fn settle(
    view: &View,
    card: &Panel,
    plane: &PlaneMap,
    start: Pose,
    counts: &dyn Fn(&Seen) -> bool,
) -> Option<Pose> {
    let rect = &card.patches.first()?.rect;
    let mut pose = start;
    let pixels = start.map(card, plane).jacobian(rect.centre()).determinant();
    let size = pixels.abs().sqrt() * rect.width.min(rect.height);
    for reach in [REACHES[0].max(ROUGHLY * size), REACHES[1], REACHES[2]] {
        let mut seen = ends(view, &pose.map(card, plane), rect, reach)?;
        if seen.len() < PROMISING {
            return None;
        }
        seen.retain(counts);
        pose = zones::moved(card, plane, pose, &seen)?;
    }
    let seen = ends(view, &pose.map(card, plane), rect, REACHES[2])?;
    (seen.len() >= RISES).then_some(pose)
}

/// The half sides of a rectangle at which its evenness ends; none if it is not even.
fn ends(view: &View, map: &PlaneMap, rect: &Rect, reach: f64) -> Option<Vec<Seen>> {
    let (colour, spread) = shade::inside(view, map, rect)?;
    if spread > UNEVEN {
        return None;
    }
    let light = Apart { view, colour };
    let (corners, centre) = (rect.corners(), map.map(rect.centre()));
    let halves = (0..4).flat_map(|i| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let middle = a + (b - a) / 2.0;
        [(a, middle), (middle, b)]
    });
    Some(
        halves
            .filter_map(|(from, to)| end(&light, map, from, to, centre, reach))
            .collect(),
    )
}

/// Where along the normal of a half side the evenness ends.
fn end(
    light: &Apart<'_>,
    map: &PlaneMap,
    from: Point,
    to: Point,
    centre: Point,
    reach: f64,
) -> Option<Seen> {
    let (a, b) = (map.map(from), map.map(to));
    let along = (b - a).normalize();
    let mut normal = Vector2::new(along.y, -along.x);
    if (a + (b - a) / 2.0 - centre).dot(&normal) < 0.0 {
        normal = -normal;
    }
    let deep = DEEP.max(reach + BEYOND);
    let profile = edge::profile(light, a, b, normal, (-deep, deep), 1.0)?;
    let offset = profile.parting(reach);
    let (inside, outside, error) = profile.lightness_beside(offset);
    let rise = outside - inside;
    let middle = from + (to - from) / 2.0;
    (rise > RISE.0 * error && rise > RISE.1 * inside + RISE.2).then(|| Seen {
        mm: middle,
        at: map.map(middle) + normal * offset,
        normal,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Matrix3;

    /// An even sheet of 60 pixels from (50, 50) on, if there is one, on a mottle of its own mean.
    fn cloth(sheet: bool) -> View {
        let pixels = (0_u8..160).flat_map(|y| (0_u8..160).map(move |x| (x, y)));
        let colour = |(x, y): (u8, u8)| {
            let within = |at: u8| (50..110).contains(&at);
            let (u, v) = (f32::from(x), f32::from(y));
            let mottle = 7.0 * (1.1 * u + 0.5 * v).sin() * (0.4 * u - 1.3 * v).sin();
            let even = sheet && within(x) && within(y);
            [if even { 50.0 } else { 50.0 + mottle }, 0.0, 0.0]
        };
        View {
            factor: 1,
            width: 160,
            height: 160,
            pixels: pixels.map(colour).collect(),
        }
    }

    #[test]
    fn a_sheet_of_the_cloths_own_colour_ends_all_round() {
        let map = PlaneMap::new(Matrix3::identity());
        // Laid two pixels off.
        let rect = Rect {
            x: 52.0,
            y: 49.0,
            width: 60.0,
            height: 60.0,
        };
        let seen = ends(&cloth(true), &map, &rect, 4.0).unwrap();
        assert!(seen.len() >= RISES, "{}", seen.len());
        for it in &seen {
            let edges = if it.normal.x.abs() > 0.5 {
                it.at.x
            } else {
                it.at.y
            };
            let off = (edges - 50.0).abs().min((edges - 110.0).abs());
            assert!(off < 1.0, "{edges}");
        }
        let none = ends(&cloth(false), &map, &rect, 4.0);
        assert!(none.is_none_or(|it| it.len() < PROMISING));
    }
}
