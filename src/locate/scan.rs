//! Places where something even of a card's size may lie, whatever its outline looks like from afar.
//!
//! Regions miss a card on a mottled cloth of nearly its own lightness. With the panel's plane known, the plane is read on a
//! coarse raster and searched for windows of a zone's size that are evener than all around them, and, since a plain table is as even, for
//! those that are of another hue than what lies beside them, along and across: light that falls off over a table makes no hue.

use super::evidence::COARSER;
use super::view::{Graded, Light, View, distance, whole};
use crate::geometry::{PlaneMap, Point, Rect};
use nalgebra::Vector2;

/// Readings along a zone's shorter side.
const FINENESS: f64 = 12.0;
/// Readings along the longer side of an area, at most.
const MOST_READINGS: f64 = 400.0;
/// Share of a zone that the window covers: a card laid crookedly still holds it.
const WINDOW: f64 = 0.82;
/// Places that are returned.
const MOST: usize = 14;

/// Where a zone may lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    /// Its middle, panel millimetres.
    pub at: Point,
    /// How large it seems over the zone's own size: what lies lower than the board looks smaller.
    pub scale: f64,
}

/// The windows inside `area` in which a zone of `size` millimetres is most likely to lie; with `by_hue`, those that differ in hue from what lies
/// beside them, too.
pub(super) fn places(
    view: &View,
    plane: &PlaneMap,
    area: &Rect,
    size: [f64; 2],
    by_hue: bool,
) -> Vec<Spot> {
    let step = (size[0].min(size[1]) / FINENESS).max(area.width.max(area.height) / MOST_READINGS);
    let (columns, rows) = (count(area.width / step), count(area.height / step));
    let window = [0, 1].map(|k| count(WINDOW * size[k] / step).max(2));
    if columns <= window[0] || rows <= window[1] {
        return Vec::new();
    }
    let sums = sums(view, plane, area, step, columns, rows);
    let corners = (0..rows - window[1]).flat_map(|j| (0..columns - window[0]).map(move |i| [i, j]));
    let centre = |[i, j]: [usize; 2]| {
        Point::new(
            area.x + step * (float(i) + float(window[0]) / 2.0),
            area.y + step * (float(j) + float(window[1]) / 2.0),
        )
    };
    let rated = |rate: &dyn Fn([usize; 2]) -> Option<f64>| {
        let mut all: Vec<(f64, Point)> = corners
            .clone()
            .filter_map(|it| Some((rate(it)?, centre(it))))
            .collect();
        // The sort is stable: of equal ones the first in the raster comes first.
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all.into_iter().map(|it| it.1)
    };
    let even = rated(&|it| Some(sums.window(it, window)?.spread));
    let mut out = even_places(view, plane, size, even);
    if !by_hue {
        return out;
    }
    let beside = [0, 1].map(|k| count(((1.0 - WINDOW) / 2.0 + CLEAR) * size[k] / step));
    let deep = [0, 1].map(|k| count(DEEP * size[k] / step).max(1));
    let other = rated(&|it| {
        let rating = sums.other_hue(it, window, beside, deep)?;
        Some(-rating)
    });
    let shorter = size[0].min(size[1]);
    let mut found: Vec<Point> = Vec::new();
    for it in other {
        if is_apart(found.iter(), it, APART * shorter) {
            found.push(it);
        }
        if found.len() == MOST_OTHER {
            break;
        }
    }
    out.extend(found.into_iter().map(|at| Spot { at, scale: 1.0 }));
    out
}

/// How far beside a zone the strips begin that show what it lies on, and how deep they are, as shares of its size.
const CLEAR: f64 = 0.08;
const DEEP: f64 = 0.25;
/// By how much a window's hue must differ from what lies beside it, in spreads within it and half a grading more.
const OTHER: f64 = 1.0;
/// Spread of hue, over that within the window, beyond which what lies beside it is of several things.
const SEVERAL: f64 = 1.5;
/// Cosine of how far apart the differences along and across may be.
const ALIKE: f64 = 0.7;
/// Such places that are returned, and how far apart they are at least, as a share of the zone's shorter side.
const MOST_OTHER: usize = 8;
const APART: f64 = 0.4;

/// Whether a place is farther than that from all others.
fn is_apart<'a>(mut others: impl Iterator<Item = &'a Point>, place: Point, by: f64) -> bool {
    others.all(|it| (it - place).norm() > by)
}

/// The middles of the sheets that the evenest windows lie on.
fn even_places(
    view: &View,
    plane: &PlaneMap,
    size: [f64; 2],
    evenest: impl Iterator<Item = Point>,
) -> Vec<Spot> {
    let (mut out, mut tried): (Vec<Spot>, Vec<Point>) = (Vec::new(), Vec::new());
    let shorter = size[0].min(size[1]);
    for centre in evenest {
        if is_apart(tried.iter(), centre, 0.3 * shorter) {
            tried.push(centre);
            // From several places of one sheet, its middle is found several times.
            let sheet = centred(view, plane, centre, size);
            let middles = out.iter().map(|it| &it.at);
            out.extend(sheet.filter(|it| is_apart(middles, it.at, SAME * shorter)));
        }
        if tried.len() == 4 * MOST || out.len() == MOST {
            break;
        }
    }
    out
}

/// Distance within which two middles are one sheet's, as a share of the zone's shorter side.
const SAME: f64 = 0.02;

/// Grading by which a card's edge differs from what lies a tenth of the card within, at least.
const DIFFERENT: f64 = 2.5;
/// Stripes that are looked at from its middle outwards, over all of its size, and how many back the one lies that another is compared with: light
/// that falls off over the card makes more of a difference from edge to edge.
const STRIPES: usize = 50;
const NEAR: usize = 5;

/// The middle between the edges of an even place, and how far they lie apart; none if it isn't about as wide and as high as the zone.
fn centred(view: &View, plane: &PlaneMap, place: Point, size: [f64; 2]) -> Option<Spot> {
    let (middle, even) = stripe(view, plane, place, Vector2::zeros(), size)?;
    let limit = COARSER.0 * even + COARSER.1;
    let (mut out, mut area) = (place, 1.0);
    for axis in 0..2 {
        let mut edges = [0.0; 2];
        for (edge, sign) in edges.iter_mut().zip([-1.0, 1.0]) {
            let mut direction = Vector2::zeros();
            direction[axis] = sign;
            let step = size[axis] / STRIPES as f64;
            let mut seen: Vec<Graded> = Vec::with_capacity(STRIPES);
            let outside = (0..STRIPES).map(|k| step * k as f64).find(|far| {
                let Some((colour, scatter)) = stripe(view, plane, place, direction * *far, size)
                else {
                    return true;
                };
                let before = seen.len().checked_sub(NEAR).map_or(middle, |it| seen[it]);
                seen.push(colour);
                distance(colour, before) > DIFFERENT || scatter > limit
            })?;
            *edge = sign * outside;
        }
        let width = edges[1] - edges[0];
        if !(0.85..1.15).contains(&(width / size[axis])) {
            return None;
        }
        out[axis] += (edges[0] + edges[1]) / 2.0;
        area *= width / size[axis];
    }
    Some(Spot {
        at: out,
        scale: f64::sqrt(area),
    })
}

/// Readings along a stripe.
const ALONG: u8 = 15;

/// Mean colour of a stripe through `place + shift`, across the shift and half the zone long, and the scatter along it.
fn stripe(
    view: &View,
    plane: &PlaneMap,
    place: Point,
    shift: Vector2<f64>,
    size: [f64; 2],
) -> Option<(Graded, f64)> {
    let across = if shift.x.abs() > shift.y.abs() {
        Vector2::new(0.0, size[1])
    } else {
        Vector2::new(size[0], 0.0)
    };
    let (mut sum, mut squares) = ([0.0_f32; 3], 0.0_f32);
    for k in 0..ALONG {
        let t = (f64::from(k) + 0.5) / f64::from(ALONG) - 0.5;
        let colour = view.at(plane.map(place + shift + across * (0.5 * t)))?;
        for (s, c) in sum.iter_mut().zip(colour) {
            *s += c;
            squares += c * c;
        }
    }
    let n = f32::from(ALONG);
    let mean = sum.map(|it| it / n);
    let scatter = squares / n - mean.iter().map(|it| it * it).sum::<f32>();
    Some((mean, f64::from(scatter.max(0.0)).sqrt()))
}

fn count(value: f64) -> usize {
    usize::try_from(whole(value)).unwrap_or(0)
}

fn float(value: usize) -> f64 {
    value as f64
}

/// Number of readings, sums of each channel, of the squares of all, and of those of the two channels of hue.
const SUMS: usize = 6;

/// Running sums of a raster.
struct Sums {
    width: usize,
    cells: Vec<[f64; SUMS]>,
}

fn sums(
    view: &View,
    plane: &PlaneMap,
    area: &Rect,
    step: f64,
    columns: usize,
    rows: usize,
) -> Sums {
    let width = columns + 1;
    let mut cells = vec![[0.0; SUMS]; width * (rows + 1)];
    for j in 0..rows {
        let mut row = [0.0; SUMS];
        for i in 0..columns {
            let mm = Point::new(
                area.x + step * (float(i) + 0.5),
                area.y + step * (float(j) + 0.5),
            );
            if let Some(colour) = view.at(plane.map(mm)) {
                let colour = colour.map(f64::from);
                row[0] += 1.0;
                for k in 0..3 {
                    row[1 + k] += colour[k];
                }
                let [light, opponent, blue] = colour.map(|it| it * it);
                row[4] += light + opponent + blue;
                row[5] += opponent + blue;
            }
            for (k, it) in row.iter().enumerate() {
                cells[(j + 1) * width + i + 1][k] = cells[j * width + i + 1][k] + it;
            }
        }
    }
    Sums { width, cells }
}

/// What a window of the raster shows.
struct Window {
    /// Mean of the two channels of hue.
    hue: Vector2<f64>,
    /// Standard deviation of the hue, both channels together.
    hue_spread: f64,
    /// Standard deviation of the colour, all channels together.
    spread: f64,
}

impl Sums {
    /// A window from its first cell on; none where it leaves the picture or the raster.
    fn window(&self, [i, j]: [usize; 2], [width, height]: [usize; 2]) -> Option<Window> {
        let at = |i: usize, j: usize| {
            let inside = i < self.width;
            self.cells.get(j * self.width + i).filter(|_| inside)
        };
        let (a, b) = (at(i, j)?, at(i + width, j)?);
        let (c, d) = (at(i, j + height)?, at(i + width, j + height)?);
        let total: [f64; SUMS] = std::array::from_fn(|k| d[k] - b[k] - c[k] + a[k]);
        let [n, light, opponent, blue, squares, hue_squares] = total;
        if n < float(width * height) - 0.5 {
            return None;
        }
        let hue = Vector2::new(opponent, blue) / n;
        let hue_variance = hue_squares / n - hue.norm_squared();
        let variance = squares / n - hue.norm_squared() - (light / n).powi(2);
        Some(Window {
            hue,
            hue_spread: hue_variance.max(0.0).sqrt(),
            spread: variance.max(0.0).sqrt(),
        })
    }

    /// By how much a window's hue differs from what lies on its left and right, and above and below, whichever is less, over the spread
    /// within it. None where it differs in unlike ways, or nothing of one kind lies beside it within the picture, or where it is no more than [`OTHER`].
    fn other_hue(
        &self,
        [i, j]: [usize; 2],
        window: [usize; 2],
        beside: [usize; 2],
        deep: [usize; 2],
    ) -> Option<f64> {
        let own = self.window([i, j], window)?;
        // The board, or another sheet, may lie on one side of it.
        let off = |sides: [Option<Window>; 2]| {
            let plain = (sides.iter().flatten())
                .filter(|it| it.hue_spread < own.hue_spread + SEVERAL)
                .map(|it| own.hue - it.hue);
            plain.min_by(|a, b| a.norm().total_cmp(&b.norm()))
        };
        let (upright, level) = ([deep[0], window[1]], [window[0], deep[1]]);
        let before = |at: usize, k: usize| at.checked_sub(beside[k] + deep[k]);
        let across = off([
            before(i, 0).and_then(|it| self.window([it, j], upright)),
            self.window([i + window[0] + beside[0], j], upright),
        ])?;
        // The lesser of two counts, and most places have none to speak of along one axis already.
        if across.norm() <= OTHER * (own.hue_spread + 0.5) {
            return None;
        }
        let down = off([
            before(j, 1).and_then(|it| self.window([i, it], level)),
            self.window([i, j + window[1] + beside[1]], level),
        ])?;
        let least = across.norm().min(down.norm());
        let alike = across.dot(&down) > ALIKE * across.norm() * down.norm();
        let rating = least / (own.hue_spread + 0.5);
        (alike && rating > OTHER).then_some(rating)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Matrix3;

    /// All of the pictures below, a millimetre a pixel.
    const ALL: Rect = Rect {
        x: 0.0,
        y: 0.0,
        width: 240.0,
        height: 200.0,
    };

    /// A plain table whose light falls off to the right, with a sheet of its lightness, but another hue, from (90, 60) to (150, 120).
    fn table(sheet: bool) -> View {
        let pixels = (0_u8..200).flat_map(|y| (0_u8..240).map(move |x| (x, y)));
        let colour = |(x, y): (u8, u8)| {
            let within = (90..150).contains(&x) && (60..120).contains(&y);
            let hue = if sheet && within { 2.0 } else { 0.0 };
            // Noise of a phone's dim picture, in a fixed pattern.
            let noise = f32::from((x.wrapping_mul(31) ^ y.wrapping_mul(17)) % 8) / 4.0 - 0.9;
            [60.0 - 0.1 * f32::from(x) + noise, 0.0, hue + noise]
        };
        View {
            factor: 1,
            width: 240,
            height: 200,
            pixels: pixels.map(colour).collect(),
        }
    }

    #[test]
    fn a_sheet_that_looks_smaller_than_the_zone_is_found_as_large_as_it_seems() {
        // A coarse cloth, and an even sheet of its colour from (90, 60) to (147, 117).
        let pixels = (0_u8..200).flat_map(|y| (0_u8..240).map(move |x| (x, y)));
        let colour = |(x, y): (u8, u8)| {
            let within = (90..147).contains(&x) && (60..117).contains(&y);
            let (u, v) = (f32::from(x), f32::from(y));
            let mottle = 14.0 * (1.1 * u + 0.5 * v).sin() * (0.4 * u - 1.3 * v).sin();
            [if within { 50.0 } else { 50.0 + mottle }, 0.0, 0.0]
        };
        let view = View {
            factor: 1,
            width: 240,
            height: 200,
            pixels: pixels.map(colour).collect(),
        };
        let plane = PlaneMap::new(Matrix3::identity());
        let spots = places(&view, &plane, &ALL, [60.0, 60.0], false);
        let near = |it: &&Spot| (it.at - Point::new(118.5, 88.5)).norm() < 3.0;
        let spot = spots.iter().find(near).unwrap();
        assert!((spot.scale - 0.95).abs() < 0.03, "{}", spot.scale);
    }

    #[test]
    fn a_sheet_of_the_tables_lightness_is_found_by_its_hue() {
        let plane = PlaneMap::new(Matrix3::identity());
        let near = |it: &Spot| (it.at - Point::new(120.0, 90.0)).norm() < 6.0;
        let found = |sheet, by_hue| {
            let all = places(&table(sheet), &plane, &ALL, [60.0, 60.0], by_hue);
            all.iter().any(near)
        };
        assert!(found(true, true));
        // Its evenness tells nothing there, and the table alone has no hue.
        assert!(!found(true, false));
        assert!(!found(false, true));
    }
}
