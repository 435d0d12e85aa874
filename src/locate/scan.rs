//! Places where something even of a card's size may lie, whatever its outline looks like from afar.
//!
//! Regions miss a card on a mottled cloth of nearly its own lightness. With the panel's plane known, the plane is read on a
//! coarse raster and searched for windows of a zone's size that are evener than all around them.

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

/// Centres, in panel millimetres, of the evenest windows inside `area` for a zone of `size` millimetres.
pub(super) fn even_places(
    view: &View,
    plane: &PlaneMap,
    area: &Rect,
    size: [f64; 2],
) -> Vec<Point> {
    let step = (size[0].min(size[1]) / FINENESS).max(area.width.max(area.height) / MOST_READINGS);
    let (columns, rows) = (count(area.width / step), count(area.height / step));
    let window = [0, 1].map(|k| count(WINDOW * size[k] / step).max(2));
    if columns <= window[0] || rows <= window[1] {
        return Vec::new();
    }
    let sums = sums(view, plane, area, step, columns, rows);
    let mut all: Vec<(f64, usize, usize)> = Vec::new();
    for j in 0..rows - window[1] {
        for i in 0..columns - window[0] {
            if let Some(spread) = sums.spread(i, j, window) {
                all.push((spread, i, j));
            }
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let (mut out, mut tried): (Vec<Point>, Vec<Point>) = (Vec::new(), Vec::new());
    for (_, i, j) in all {
        let centre = Point::new(
            area.x + step * (float(i) + float(window[0]) / 2.0),
            area.y + step * (float(j) + float(window[1]) / 2.0),
        );
        if tried
            .iter()
            .all(|it: &Point| (it - centre).norm() > 0.3 * size[0].min(size[1]))
        {
            tried.push(centre);
            // From several places of one sheet, its middle is found several times.
            out.extend(centred(view, plane, centre, size).filter(|it| {
                out.iter()
                    .all(|other| (other - it).norm() > SAME * size[0].min(size[1]))
            }));
        }
        if tried.len() == 4 * MOST {
            break;
        }
        if out.len() == MOST {
            break;
        }
    }
    out
}

/// Distance within which two middles are one sheet's, as a share of the zone's shorter side.
const SAME: f64 = 0.02;

/// Grading by which a card differs from what it lies on, at least.
const DIFFERENT: f64 = 2.5;

/// The middle between the edges of an even place; none if it isn't about as wide and as high as the zone.
fn centred(view: &View, plane: &PlaneMap, place: Point, size: [f64; 2]) -> Option<Point> {
    let (middle, even) = stripe(view, plane, place, Vector2::zeros(), size)?;
    let limit = COARSER.0 * even + COARSER.1;
    let mut out = place;
    for axis in 0..2 {
        let mut edges = [0.0; 2];
        for (edge, sign) in edges.iter_mut().zip([-1.0, 1.0]) {
            let mut direction = Vector2::zeros();
            direction[axis] = sign;
            let step = size[axis] / 50.0;
            let outside = (0..50).map(|k| step * f64::from(k)).find(|far| {
                stripe(view, plane, place, direction * *far, size)
                    .is_none_or(|it| distance(it.0, middle) > DIFFERENT || it.1 > limit)
            })?;
            *edge = sign * outside;
        }
        let width = edges[1] - edges[0];
        if !(0.85..1.15).contains(&(width / size[axis])) {
            return None;
        }
        out[axis] += (edges[0] + edges[1]) / 2.0;
    }
    Some(out)
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

/// Running sums of a raster: number of readings, of each channel, and of their squares.
struct Sums {
    width: usize,
    cells: Vec<[f64; 5]>,
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
    let mut cells = vec![[0.0; 5]; width * (rows + 1)];
    for j in 0..rows {
        let mut row = [0.0; 5];
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
                row[4] += colour.iter().map(|it| it * it).sum::<f64>();
            }
            for (k, it) in row.iter().enumerate() {
                cells[(j + 1) * width + i + 1][k] = cells[j * width + i + 1][k] + it;
            }
        }
    }
    Sums { width, cells }
}

impl Sums {
    /// Standard deviation of the colour in a window, all channels together; none where it leaves the picture.
    fn spread(&self, i: usize, j: usize, window: [usize; 2]) -> Option<f64> {
        let at = |i: usize, j: usize| self.cells[j * self.width + i];
        let (a, b) = (at(i, j), at(i + window[0], j));
        let (c, d) = (at(i, j + window[1]), at(i + window[0], j + window[1]));
        let total = [0, 1, 2, 3, 4].map(|k| d[k] - b[k] - c[k] + a[k]);
        if total[0] < float(window[0] * window[1]) - 0.5 {
            return None;
        }
        let squares: f64 = (1..4).map(|k| (total[k] / total[0]).powi(2)).sum();
        Some((total[4] / total[0] - squares).max(0.0).sqrt())
    }
}
