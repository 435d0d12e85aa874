//! A sheet told by its evenness where a coarse cloth of about its own colour hides its edges.
//!
//! Mottle is lighter than the sheet here and darker there: along an edge the colours' mean may be the sheet's own, and scatter so much
//! that no line stands out. How far they are from the sheet's colour rises at every edge, whichever way they differ, and always outwards.

use super::edge;
use super::fit::{self, Seen};
use super::pose::Pose;
use super::shade;
use super::view::{Graded, Light, View, distance};
use super::zones;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;
use nalgebra::{Matrix3, RowVector3, Vector2, Vector3};

/// Distance of a picture's colours from a sheet's, which light that falls off over it changes evenly from end to end.
struct Apart<'a> {
    view: &'a View,
    /// Its colour is the first of these, at their place, and the others by each pixel to the right and down.
    middle: Point,
    colour: [Graded; 3],
}

impl<'a> Apart<'a> {
    /// From readings all over a sheet; none if it isn't all in view. With it goes the readings' median distance from the sheet's colour.
    fn from(view: &'a View, map: &PlaneMap, rect: &Rect) -> Option<(Self, f64)> {
        let places: Vec<Point> = shade::places(rect).map(|it| map.map(it)).collect();
        let n = places.len() as f64;
        let middle = places
            .iter()
            .fold(Vector2::zeros(), |sum, it| sum + it.coords)
            / n;
        let seen: Vec<Graded> = places
            .iter()
            .map(|it| view.at(*it))
            .collect::<Option<_>>()?;
        let mut normal = Matrix3::zeros();
        let mut right = Matrix3::zeros();
        for (place, colour) in places.iter().zip(&seen) {
            let off = place.coords - middle;
            let row = Vector3::new(1.0, off.x, off.y);
            normal += row * row.transpose();
            right += row * RowVector3::from_fn(|_, k| f64::from(colour[k]));
        }
        let fit = normal.cholesky()?.solve(&right);
        #[expect(clippy::cast_possible_truncation, reason = "colours")]
        let colour = [0, 1, 2].map(|i| [0, 1, 2].map(|k| fit[(i, k)] as f32));
        let sheet = Self {
            view,
            middle: Point::from(middle),
            colour,
        };
        let far: Vec<f64> = places
            .iter()
            .zip(&seen)
            .map(|(place, it)| distance(*it, sheet.colour_at(*place)))
            .collect();
        Some((sheet, fit::median(&far)))
    }

    #[expect(clippy::cast_possible_truncation, reason = "colours")]
    fn colour_at(&self, p: Point) -> Graded {
        let (right, down) = ((p.x - self.middle.x) as f32, (p.y - self.middle.y) as f32);
        let [here, by_right, by_down] = self.colour;
        [0, 1, 2].map(|k| here[k] + right * by_right[k] + down * by_down[k])
    }
}

impl Light for Apart<'_> {
    fn at(&self, p: Point) -> Option<Graded> {
        #[expect(clippy::cast_possible_truncation, reason = "a colour")]
        let far = distance(self.view.at(p)?, self.colour_at(p)) as f32;
        Some([far, 0.0, 0.0])
    }
}

/// Median distance from its colour beyond which a sheet is not even.
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
    let (light, spread) = Apart::from(view, map, rect)?;
    if spread > UNEVEN {
        return None;
    }
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

    /// An even sheet of 60 pixels from (50, 50) on, if there is one, on a mottle of its own mean; light falls off to the right by so much a pixel.
    fn cloth(sheet: bool, falls: f32) -> View {
        let pixels = (0_u8..160).flat_map(|y| (0_u8..160).map(move |x| (x, y)));
        let colour = |(x, y): (u8, u8)| {
            let within = |at: u8| (50..110).contains(&at);
            let (u, v) = (f32::from(x), f32::from(y));
            let mottle = 7.0 * (1.1 * u + 0.5 * v).sin() * (0.4 * u - 1.3 * v).sin();
            let even = sheet && within(x) && within(y);
            let light = 50.0 - falls * (u - 80.0);
            [if even { light } else { light + mottle }, 0.0, 0.0]
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
        let seen = ends(&cloth(true, 0.0), &map, &rect, 4.0).unwrap();
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
        let none = ends(&cloth(false, 0.0), &map, &rect, 4.0);
        assert!(none.is_none_or(|it| it.len() < PROMISING));
        // Where the light falls off, a sheet's ends are farther from its middle's colour than mottle is.
        let seen = ends(&cloth(true, 0.3), &map, &rect, 4.0).unwrap();
        assert!(seen.len() >= RISES, "{}", seen.len());
        let none = ends(&cloth(false, 0.3), &map, &rect, 4.0);
        assert!(none.is_none_or(|it| it.len() < PROMISING));
    }
}
