//! Flat regions with closed outlines, each as a quadrilateral.
//!
//! Pixels with little gradient form connected regions; the higher the gradient that counts as little, the weaker the
//! outlines that are crossed. Several levels are tried, since a pale tint is closed only at a low one and wood grain
//! breaks up a region at any but a high one.

use super::edge;
use super::view::{View, whole};
use crate::geometry::Point;
use nalgebra::Vector2;

/// A region that looks like a quadrilateral.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quad {
    /// Corners in view pixels, clockwise as seen.
    pub corners: [Point; 4],
    /// Mean of the corners.
    pub centre: Point,
    /// Area in square pixels.
    pub area: f64,
}

impl Quad {
    /// From four corners, clockwise as seen.
    pub(super) fn new(corners: [Point; 4]) -> Self {
        let sum = corners
            .iter()
            .fold(Vector2::zeros(), |all, it| all + it.coords);
        Self {
            corners,
            centre: Point::from(sum / 4.0),
            area: polygon_area(&corners),
        }
    }
}

/// From level to level.
const LEVEL_STEP: f64 = 2.0;

/// Finds the quadrilaterals of a view.
pub(super) fn find(view: &View) -> Vec<Quad> {
    let slope = gradient(view);
    let (mut quads, mut known): (Vec<Quad>, Vec<Quad>) = (Vec::new(), Vec::new());
    // Levels from just above the noise of the quietest places, which a coarse cloth all around mustn't drown, to hard outlines.
    let mut level = (1.6 * f64::from(quantile(&slope, 0.08))).max(0.35);
    let hardest = 1.6 * f64::from(quantile(&slope, 0.4)).max(0.22) * LEVEL_STEP.powi(5);
    while level < 1.01 * hardest {
        #[expect(clippy::cast_possible_truncation, reason = "a threshold")]
        let threshold = (level * level) as f32;
        for quad in regions(view, &slope, threshold) {
            // Most regions come again at the next level, a little larger.
            if !known.iter().any(|it| twins(it, &quad, 0.05)) {
                let snapped = snap(view, &quad);
                if !quads.iter().any(|it| twins(it, &snapped, 0.06)) {
                    quads.push(snapped);
                }
                known.push(quad);
            }
        }
        level *= LEVEL_STEP;
    }
    quads
}

/// Finds the quadrilaterals of a view whose outlines noise or the threads of a cloth break up at its own fineness: those of the view at half its size, in
/// pixels of the view.
pub(super) fn coarse(view: &View) -> Vec<Quad> {
    let at_half = find(&view.halved());
    let whole = |it: Quad| Quad::new(it.corners.map(|p| Point::from(2.0 * p.coords)));
    at_half.into_iter().map(whole).collect()
}

/// Whether the corners of two quadrilaterals are nearer than a share of their size, or than a pixel.
fn twins(a: &Quad, b: &Quad, share: f64) -> bool {
    let near = (share * b.area.sqrt()).max(1.0);
    (a.centre - b.centre).norm() < near
        && a.corners
            .iter()
            .all(|p| b.corners.iter().any(|q| (p - q).norm() < near))
}

/// Squared gradient over all channels, per pixel, from Sobel differences.
///
/// Rows are worked through as plain numbers, three a pixel, which lets the compiler take many at once.
fn gradient(view: &View) -> Vec<f32> {
    let (w, h) = (view.width, view.height);
    let mut out = vec![f32::MAX; w * h];
    if w < 3 || h < 3 {
        return out;
    }
    let n = 3 * w;
    let (mut smooth, mut steep, mut squares) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    for y in 1..h - 1 {
        let row = |y: usize| view.pixels[y * w..(y + 1) * w].as_flattened();
        let (above, here, below) = (row(y - 1), row(y), row(y + 1));
        for ((to, a), (b, c)) in smooth.iter_mut().zip(above).zip(here.iter().zip(below)) {
            *to = a + 2.0 * b + c;
        }
        for ((to, a), c) in steep.iter_mut().zip(above).zip(below) {
            *to = c - a;
        }
        let across = smooth[6..].iter().zip(&smooth);
        let down = steep[6..].iter().zip(&steep[3..]).zip(&steep);
        for ((to, (r, l)), ((c, b), a)) in squares[3..].iter_mut().zip(across).zip(down) {
            let (gx, gy): (f32, f32) = (r - l, a + 2.0 * b + c);
            *to = gx * gx + gy * gy;
        }
        let pixels = squares[3..n - 3].as_chunks::<3>().0;
        for (to, it) in out[y * w + 1..(y + 1) * w - 1].iter_mut().zip(pixels) {
            *to = it.iter().sum::<f32>() / 64.0;
        }
    }
    out
}

/// A quantile of gradients whose squares are given, from a sample.
fn quantile(squares: &[f32], share: f64) -> f32 {
    let mut sample: Vec<f32> = squares
        .iter()
        .step_by(17)
        .copied()
        .filter(|it| it.is_finite() && *it < f32::MAX)
        .collect();
    if sample.is_empty() {
        return 1.0;
    }
    let at = usize::try_from(whole(share * sample.len() as f64))
        .unwrap_or(0)
        .min(sample.len() - 1);
    sample.select_nth_unstable_by(at, f32::total_cmp);
    sample[at].sqrt()
}

/// A stretch of one row inside a region.
struct Run {
    row: usize,
    first: usize,
    end: usize,
}

/// Connected regions below the threshold that are quadrilaterals.
fn regions(view: &View, slope: &[f32], threshold: f32) -> Vec<Quad> {
    let (w, h) = (view.width, view.height);
    let mut runs: Vec<Run> = Vec::new();
    let mut parent: Vec<usize> = Vec::new();
    let mut before = 0..0;
    let mut low = Low::default();
    for row in 0..h {
        let start = runs.len();
        low.read(&slope[row * w..(row + 1) * w], threshold);
        let mut above = before.start;
        let mut x = 0;
        while let Some((first, end)) = low.stretch(x) {
            let index = runs.len();
            runs.push(Run { row, first, end });
            parent.push(index);
            while above < before.end && runs[above].end <= first {
                above += 1;
            }
            let mut other = above;
            while other < before.end && runs[other].first < end {
                join(&mut parent, index, other);
                other += 1;
            }
            x = end;
        }
        before = start..runs.len();
    }
    let smallest = 40.0_f64;
    let largest = 0.3 * (w * h) as f64;
    let (order, starts) = by_root(&mut parent);
    starts
        .windows(2)
        .filter_map(|it| {
            let members = || order[it[0]..it[1]].iter().map(|i| &runs[*i]);
            let area: usize = members().map(|it| it.end - it.first).sum();
            if (area as f64) < smallest || area as f64 > largest {
                return None;
            }
            quad_of(members(), area as f64)
        })
        .collect()
}

/// Which pixels of a row lie below a threshold, a bit each: grain makes stretches of a few pixels, which are found by counting zeros.
#[derive(Default)]
struct Low {
    words: Vec<u64>,
}

/// Bits of a word.
const WORD: usize = 64;

impl Low {
    fn read(&mut self, line: &[f32], threshold: f32) {
        self.words.clear();
        self.words.extend(line.chunks(WORD).map(|pixels| {
            let mut flags = [0; WORD];
            for (flag, it) in flags.iter_mut().zip(pixels) {
                *flag = u8::from(*it < threshold);
            }
            let bytes = flags.as_chunks::<8>().0.iter().enumerate();
            bytes.fold(0, |bits, (k, flags)| {
                // Puts the lowest bits of eight bytes side by side into the highest byte.
                let byte = u64::from_le_bytes(*flags).wrapping_mul(0x0102_0408_1020_4080) >> 56;
                bits | byte << (8 * k)
            })
        }));
    }

    /// The first stretch of low pixels that begins at a place or later: its first, and the one after its last.
    fn stretch(&self, from: usize) -> Option<(usize, usize)> {
        let first = self.next(from, 0)?;
        let end = self.next(first, u64::MAX);
        Some((first, end.unwrap_or(WORD * self.words.len())))
    }

    /// The first place from one on whose bit differs from those of `but`.
    fn next(&self, from: usize, but: u64) -> Option<usize> {
        let (mut index, bit) = (from / WORD, from % WORD);
        let mut word = (self.words.get(index)? ^ but) & (u64::MAX << bit);
        while word == 0 {
            index += 1;
            word = self.words.get(index)? ^ but;
        }
        let zeros = word.trailing_zeros();
        Some(WORD * index + usize::try_from(zeros).unwrap_or(0))
    }
}

/// Runs grouped by root, and where in that order each root's begin, and end: a run that is no root has none. Counted and laid out,
/// which grain with its many runs makes worth while.
fn by_root(parent: &mut [usize]) -> (Vec<usize>, Vec<usize>) {
    let n = parent.len();
    let roots: Vec<usize> = (0..n).map(|i| root(parent, i)).collect();
    let mut starts = vec![0; n + 1];
    for it in &roots {
        starts[it + 1] += 1;
    }
    for i in 0..n {
        starts[i + 1] += starts[i];
    }
    let (mut order, mut next) = (vec![0; n], starts.clone());
    for (i, it) in roots.iter().enumerate() {
        order[next[*it]] = i;
        next[*it] += 1;
    }
    (order, starts)
}

/// Root of a run, with path halving.
fn root(parent: &mut [usize], mut i: usize) -> usize {
    while parent[i] != i {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    i
}

/// Joins two runs' regions; the earlier run becomes the root.
fn join(parent: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(parent, a), root(parent, b));
    let (low, high) = (a.min(b), a.max(b));
    parent[high] = low;
}

/// The quadrilateral around a region, if it fills one.
fn quad_of<'a>(runs: impl Iterator<Item = &'a Run>, area: f64) -> Option<Quad> {
    // Outer ends of each row, runs being in row order.
    let mut rows: Vec<(usize, usize, usize)> = Vec::new();
    for run in runs {
        match rows.last_mut() {
            Some(last) if last.0 == run.row => {
                last.1 = last.1.min(run.first);
                last.2 = last.2.max(run.end);
            }
            _ => rows.push((run.row, run.first, run.end)),
        }
    }
    if rows.len() < 5 {
        return None;
    }
    let filled: usize = rows.iter().map(|it| it.2 - it.1).sum();
    // A frame around something, or a region riddled with grain.
    if area < 0.6 * filled as f64 {
        return None;
    }
    let mut points: Vec<Point> = Vec::with_capacity(4 * rows.len());
    for (y, first, end) in &rows {
        for x in [*first as f64, *end as f64] {
            points.push(Point::new(x, *y as f64));
            points.push(Point::new(x, *y as f64 + 1.0));
        }
    }
    let hull = hull(points);
    let hull_area = polygon_area(&hull);
    if (filled as f64) < 0.86 * hull_area {
        return None;
    }
    let corners = four_sided(hull)?;
    let quad = Quad::new(corners);
    if hull_area < 0.84 * quad.area || hull_area > 1.01 * quad.area {
        return None;
    }
    let sides: Vec<f64> = (0..4)
        .map(|i| (corners[(i + 1) % 4] - corners[i]).norm())
        .collect();
    let (short, long) = sides
        .iter()
        .fold((f64::MAX, 0.0_f64), |(s, l), it| (s.min(*it), l.max(*it)));
    if short < 5.0 || short < 0.12 * long {
        return None;
    }
    Some(quad)
}

/// Convex hull, clockwise as seen with y down (Andrew's monotone chain).
fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    let half = |order: &mut dyn Iterator<Item = &Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for p in order {
            while chain.len() >= 2
                && cross(
                    chain[chain.len() - 1] - chain[chain.len() - 2],
                    p - chain[chain.len() - 1],
                ) <= 0.0
            {
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut out = half(&mut points.iter());
    out.extend(half(&mut points.iter().rev()));
    out
}

/// z of the cross product; positive is a clockwise turn as seen with y down.
fn cross(a: Vector2<f64>, b: Vector2<f64>) -> f64 {
    a.x * b.y - a.y * b.x
}

/// Area of a polygon.
pub(super) fn polygon_area(points: &[Point]) -> f64 {
    let n = points.len();
    (0..n)
        .map(|i| cross(points[i].coords, points[(i + 1) % n].coords))
        .sum::<f64>()
        .abs()
        / 2.0
}

/// Drops the hull's sides, each time the one whose neighbours' meeting adds least area, until four are left.
fn four_sided(mut hull: Vec<Point>) -> Option<[Point; 4]> {
    while hull.len() > 4 {
        let n = hull.len();
        let mut best: Option<(f64, usize, Point)> = None;
        for i in 0..n {
            let (a, b) = (hull[(i + n - 1) % n], hull[i]);
            let (c, d) = (hull[(i + 1) % n], hull[(i + 2) % n]);
            let Some(meet) = meeting(a, b, d, c) else {
                continue;
            };
            // The meeting must lie beyond the side.
            if (meet - b).dot(&(b - a)) < 0.0 || (meet - c).dot(&(c - d)) < 0.0 {
                continue;
            }
            let added = polygon_area(&[b, meet, c]);
            if best.is_none_or(|it| added < it.0) {
                best = Some((added, i, meet));
            }
        }
        let (_, i, meet) = best?;
        hull[i] = meet;
        hull.remove((i + 1) % n);
    }
    hull.try_into().ok()
}

/// Where the line a–b meets the line c–d.
pub(super) fn meeting(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let (u, v) = (b - a, d - c);
    let turn = cross(u, v);
    if turn.abs() < 1e-9 * u.norm() * v.norm() {
        return None;
    }
    Some(a + u * (cross(c - a, v) / turn))
}

/// Moves each side out to the steepest place nearby: the region stops where the slope begins.
fn snap(view: &View, quad: &Quad) -> Quad {
    let size = quad.area.sqrt();
    let reach = (0.15 * size).clamp(1.5, 5.0);
    let mut lines = [(Point::origin(), Point::origin()); 4];
    for (i, line) in lines.iter_mut().enumerate() {
        let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
        let outward = Vector2::new((b - a).y, -(b - a).x).normalize();
        let profile = edge::profile(view, a, b, outward, (-1.0, reach), 0.5);
        let offset = profile.map_or(0.5, |it| it.steepest().offset);
        *line = (a + outward * offset, b + outward * offset);
    }
    let corners = [0, 1, 2, 3].map(|i| {
        let (before, this) = (lines[(i + 3) % 4], lines[i]);
        meeting(before.0, before.1, this.0, this.1).unwrap_or(quad.corners[i])
    });
    Quad::new(corners)
}

#[cfg(test)]
mod tests;
