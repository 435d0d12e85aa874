//! Regions indexed on a lattice whose shape the layout gives.
//!
//! One region, taken for a patch, predicts where its neighbours are; neighbours found there sharpen the prediction, and
//! so on. A region may also be one of the two halves of a masked patch, since strong contrast parts them.

use super::region::Quad;
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Grid, Panel, Side};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// A lattice laid over regions; cell (i, j) has its corner at (i, j) pitches, and rows run along i. Which cell is A1 is open.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    /// Lattice millimetres to view pixels, never mirrored.
    pub map: PlaneMap,
    /// Cells that a region was found for, in order.
    pub cells: Vec<(i32, i32)>,
    /// The corners of each cell's region: lattice millimetres, and view pixels.
    pub corners: Vec<[(Point, Point); 4]>,
    /// Root mean square distance of the regions' corners from the lattice's, as a share of a patch's size: a few pixels are as true as
    /// anything by their own measure.
    pub misfit: f64,
}

impl Lattice {
    /// Whether its cells are within as many columns and rows as a grid has.
    pub(super) fn spans_within(&self, grid: &Grid) -> bool {
        let span = |along: &dyn Fn(&(i32, i32)) -> i32| {
            let (low, high) = (self.cells.iter().map(along))
                .fold((i32::MAX, i32::MIN), |(l, h), it| (l.min(it), h.max(it)));
            usize::try_from(high.saturating_sub(low).saturating_add(1)).unwrap_or(0)
        };
        span(&|it| it.0) <= grid.columns && span(&|it| it.1) <= grid.rows
    }

    /// A lattice laid over regions whose corners, cell by cell, are given.
    pub(super) fn new(
        grid: &Grid,
        map: PlaneMap,
        cells: Vec<(i32, i32)>,
        corners: Vec<[(Point, Point); 4]>,
    ) -> Self {
        let at = Self::rect(grid, (0, 0));
        let scale = map.jacobian(at.centre()).determinant().abs().sqrt();
        // Corners are found to a pixel at best.
        let misfit = 1.0_f64.hypot(rms(&map, &corners)) / (scale * at.width.min(at.height));
        Self {
            map,
            cells,
            corners,
            misfit,
        }
    }

    /// The place of a cell in lattice millimetres.
    pub(super) fn rect(grid: &Grid, cell: (i32, i32)) -> Rect {
        Rect {
            x: f64::from(cell.0) * grid.pitch_mm[0],
            y: f64::from(cell.1) * grid.pitch_mm[1],
            width: grid.patch_mm[0],
            height: grid.patch_mm[1],
        }
    }
}

/// Root mean square distance of regions' corners from where a map has them, pixels.
pub(super) fn rms(map: &PlaneMap, corners: &[[(Point, Point); 4]]) -> f64 {
    let squares = corners
        .iter()
        .flatten()
        .map(|(p, q)| (map.map(*p) - q).norm_squared());
    (squares.sum::<f64>() / (4 * corners.len()).max(1) as f64).sqrt()
}

/// Strongest foreshortening that a photo within the promise shows, with room.
const FLATTEST: f64 = 0.58;

/// Whether a map shows millimetres as a camera within reason would: not too flat, not mirrored.
pub(super) fn plausible(map: &PlaneMap, at: Point) -> bool {
    let values = map.jacobian(at).singular_values();
    values[0].is_finite() && values[1] >= FLATTEST * values[0]
}

/// Grows lattices from every region, the fullest first, and of those as full the truest.
pub(super) fn grow_all(panel: &Panel, grid: &Grid, quads: &[Quad]) -> Vec<Lattice> {
    let mut sorted: Vec<Quad> = quads.to_vec();
    sorted.sort_by(|a, b| {
        a.centre
            .x
            .total_cmp(&b.centre.x)
            .then(a.centre.y.total_cmp(&b.centre.y))
    });
    let variants = variants(panel, grid);
    let patches = panel.patches.iter().filter(|it| !it.empty).count();
    let mut out: Vec<Lattice> = Vec::new();
    // (region, variant, axis) that a lattice has already used.
    let mut used = vec![false; sorted.len() * variants.len() * 2];
    for seed in 0..sorted.len() {
        for variant in 0..variants.len() {
            for axis in 0..2 {
                let slot = |q: usize| (q * variants.len() + variant) * 2 + axis;
                if used[slot(seed)] {
                    continue;
                }
                let Some((lattice, members)) = grow(grid, &sorted, &variants, seed, variant, axis)
                else {
                    continue;
                };
                if lattice.cells.len() >= 4 {
                    // Half the patches hardly lie on a lattice by chance: it is right about what each of its regions is, too.
                    let full = 2 * lattice.cells.len() > patches;
                    for (region, kind) in members {
                        if kind == variant || full {
                            let axis = axis_in(&lattice, &sorted[region]);
                            used[(region * variants.len() + variant) * 2 + axis] = true;
                        }
                    }
                }
                out.push(lattice);
            }
        }
    }
    // Of lattices of the same cells the truest comes first: one region taken for what it isn't bends all of a row.
    out.sort_by(|a, b| {
        let more = b.cells.len().cmp(&a.cells.len());
        more.then(a.misfit.total_cmp(&b.misfit))
    });
    out
}

/// By how many corners a region's own order lags behind the lattice's x axis, 0 or 1: which corner comes first depends on how
/// the region lies in the picture.
fn axis_in(lattice: &Lattice, quad: &Quad) -> usize {
    let Some(at) = lattice.map.unmap(quad.centre) else {
        return 0;
    };
    let across = lattice.map.jacobian(at).column(0).normalize();
    let along = |i: usize| (quad.corners[(i + 1) % 4] - quad.corners[i]).normalize();
    usize::from(along(1).dot(&across).abs() > along(0).dot(&across).abs())
}

/// The first `most` lattices, those of mostly the same cells as one before them left out.
pub(super) fn distinct(grid: &Grid, lattices: Vec<Lattice>, most: usize) -> Vec<Lattice> {
    let mut out: Vec<Lattice> = Vec::new();
    for it in lattices {
        if out.len() == most {
            break;
        }
        if !out.iter().any(|other| same_cells(grid, other, &it)) {
            out.push(it);
        }
    }
    out
}

/// Whether most cells of `b` are cells of `a` as well, lying the same way.
fn same_cells(grid: &Grid, a: &Lattice, b: &Lattice) -> bool {
    let centres = |it: &Lattice| -> Vec<Point> {
        it.cells
            .iter()
            .map(|cell| it.map.map(Lattice::rect(grid, *cell).centre()))
            .collect()
    };
    let (there, here) = (centres(a), centres(b));
    let Some(cell) = b.cells.get(b.cells.len() / 2) else {
        return true;
    };
    let at = Lattice::rect(grid, *cell).centre();
    let near = 0.12
        * b.map.jacobian(at).determinant().abs().sqrt()
        * grid.patch_mm[0].min(grid.patch_mm[1]);
    let shared = here
        .iter()
        .filter(|p| there.iter().any(|q| (*p - q).norm() < near))
        .count();
    // Half a turn is left open; a quarter makes another lattice.
    let across = |it: &Lattice| {
        let p = it.map.unmap(b.map.map(at)).unwrap_or(at);
        it.map.jacobian(p).column(0).normalize()
    };
    let along = across(a).dot(&across(b)).abs();
    5 * shared >= 3 * here.len() && along > 0.9
}

/// The rectangles of a cell that may show as a region of their own: the patch, and halves where there are masks.
fn variants(panel: &Panel, grid: &Grid) -> Vec<Rect> {
    let [w, h] = grid.patch_mm;
    let mut out = vec![Rect {
        x: 0.0,
        y: 0.0,
        width: w,
        height: h,
    }];
    let masks: Vec<Side> = panel.patches.iter().filter_map(|it| it.masked).collect();
    if masks
        .iter()
        .any(|it| matches!(it, Side::Left | Side::Right))
    {
        for x in [0.0, w / 2.0] {
            out.push(Rect {
                x,
                y: 0.0,
                width: w / 2.0,
                height: h,
            });
        }
    }
    if masks
        .iter()
        .any(|it| matches!(it, Side::Top | Side::Bottom))
    {
        for y in [0.0, h / 2.0] {
            out.push(Rect {
                x: 0.0,
                y,
                width: w,
                height: h / 2.0,
            });
        }
    }
    out
}

/// Cells, each with the region found for it and the variant that it was taken for.
type Found = BTreeMap<(i32, i32), (usize, usize)>;

/// A lattice and the regions in it, each with the variant that it was taken for.
type Grown = (Lattice, Vec<(usize, usize)>);

/// Grows a lattice from one region.
fn grow(
    grid: &Grid,
    quads: &[Quad],
    variants: &[Rect],
    seed: usize,
    variant: usize,
    axis: usize,
) -> Option<Grown> {
    let quad = &quads[seed];
    let corners = [0, 1, 2, 3].map(|i| quad.corners[(i + axis) % 4]);
    let mut map = PlaneMap::fit(&variants[variant].corners(), &corners)?;
    if !plausible(&map, variants[variant].centre()) {
        return None;
    }
    // A single region tells little of perspective: the parallelogram nearest to it predicts better.
    let half = [
        ((corners[1] - corners[0]) + (corners[2] - corners[3])) / 4.0,
        ((corners[3] - corners[0]) + (corners[2] - corners[1])) / 4.0,
    ];
    let parallelogram = [
        quad.centre - half[0] - half[1],
        quad.centre + half[0] - half[1],
        quad.centre + half[0] + half[1],
        quad.centre - half[0] + half[1],
    ];
    map = PlaneMap::fit(&variants[variant].corners(), &parallelogram).unwrap_or(map);
    let mut found = Found::new();
    found.insert((0, 0), (seed, variant));
    // What lies farther from a patch than the panel has cells is no part of it.
    let reach = [grid.columns, grid.rows].map(|it| i32::try_from(it).unwrap_or(i32::MAX));
    loop {
        let beside = frontier(&found, reach, 1..=NEAR);
        let hits = |cells: Vec<(i32, i32)>| -> Vec<_> {
            let regions = |cell| Some((cell, lookup(grid, quads, variants, &map, cell)?));
            cells.into_iter().filter_map(regions).collect()
        };
        let mut news = hits(beside);
        if news.is_empty() {
            news = hits(frontier(&found, reach, FAR..=FAR));
        }
        if news.is_empty() {
            break;
        }
        found.extend(news);
        if let Some(better) = refit(grid, quads, variants, &found, &map) {
            map = better;
        }
    }
    let corners = pairs(grid, quads, variants, &found, &map);
    let members = found.values().copied().collect();
    let cells = found.into_keys().collect();
    Some((Lattice::new(grid, map, cells, corners), members))
}

/// How far along an axis the next region is looked for …
const NEAR: i32 = 2;
/// … and, where none is found, where: after two patches that hardly show.
const FAR: i32 = 3;

/// Cells that lie so far from a found one along an axis and within reach of the first, in order.
fn frontier(found: &Found, reach: [i32; 2], away: RangeInclusive<i32>) -> Vec<(i32, i32)> {
    // A mark for each cell within reach, in that order: sooner done than sorting what several found ones have beside them.
    let high = 2 * reach[1] - 1;
    let place = |(i, j): (i32, i32)| usize::try_from((i + reach[0] - 1) * high + j + reach[1] - 1);
    let mut beside = vec![false; usize::try_from((2 * reach[0] - 1) * high).unwrap_or(0)];
    for (i, j) in found.keys() {
        for far in away.clone() {
            for cell in [(i + far, *j), (i - far, *j), (*i, j + far), (*i, j - far)] {
                if cell.0.abs() < reach[0]
                    && cell.1.abs() < reach[1]
                    && let Some(it) = place(cell).ok().and_then(|it| beside.get_mut(it))
                {
                    *it = true;
                }
            }
        }
    }
    for it in found.keys() {
        if let Some(it) = place(*it).ok().and_then(|it| beside.get_mut(it)) {
            *it = false;
        }
    }
    let cells = (1 - reach[0]..reach[0])
        .flat_map(|i| (1 - reach[1]..reach[1]).map(move |j| (i, j)))
        .zip(beside);
    cells.filter(|it| it.1).map(|it| it.0).collect()
}

/// How far from where it is predicted a region's centre may lie, by the shortest of its sides, pixels.
fn reach(short: f64) -> f64 {
    (0.2 * short).max(2.0)
}

/// The region that lies where a cell, or a half of it, is predicted.
fn lookup(
    grid: &Grid,
    quads: &[Quad],
    variants: &[Rect],
    map: &PlaneMap,
    cell: (i32, i32),
) -> Option<(usize, usize)> {
    let at = Lattice::rect(grid, cell);
    let mut best: Option<(f64, usize, usize)> = None;
    for (kind, rect) in variants.iter().enumerate() {
        let placed = Rect {
            x: at.x + rect.x,
            y: at.y + rect.y,
            ..*rect
        };
        let centre = map.map(placed.centre());
        // Most cells have no region near by, which one side tells: none is shorter than the shortest.
        let [from, to, ..] = placed.corners();
        let widest = reach((map.map(to) - map.map(from)).norm());
        let first = quads.partition_point(|it| it.centre.x < centre.x - widest);
        let beside = || {
            let there = quads.iter().enumerate().skip(first);
            there.take_while(|it| it.1.centre.x <= centre.x + widest)
        };
        if !beside().any(|it| (it.1.centre.y - centre.y).abs() <= widest) {
            continue;
        }
        let corners = map.outline(&placed);
        let area = super::region::polygon_area(&corners);
        if !(area.is_finite() && area > 1.0) {
            continue;
        }
        let short = (0..4)
            .map(|i| (corners[(i + 1) % 4] - corners[i]).norm())
            .fold(f64::MAX, f64::min);
        let near = reach(short);
        for (k, quad) in beside() {
            let off = (quad.centre - centre).norm() / near;
            let ratio = quad.area / area;
            if off > 1.0 || !(0.68..1.45).contains(&ratio) {
                continue;
            }
            let shape = corners
                .iter()
                .map(|p| {
                    quad.corners
                        .iter()
                        .map(|q| (p - q).norm())
                        .fold(f64::MAX, f64::min)
                })
                .fold(0.0, f64::max)
                / short;
            if shape > 0.28 {
                continue;
            }
            let cost = off + ratio.ln().abs() + 2.0 * shape;
            if best.is_none_or(|it| cost < it.0) {
                best = Some((cost, k, kind));
            }
        }
    }
    best.map(|(_, k, kind)| (k, kind))
}

/// Fits the map to the corners of the regions found so far.
fn refit(
    grid: &Grid,
    quads: &[Quad],
    variants: &[Rect],
    found: &Found,
    now: &PlaneMap,
) -> Option<PlaneMap> {
    let corners = pairs(grid, quads, variants, found, now);
    let (mm, px): (Vec<Point>, Vec<Point>) = corners.into_iter().flatten().unzip();
    let map = PlaneMap::fit(&mm, &px)?;
    let middle = Lattice::rect(grid, *found.keys().nth(found.len() / 2)?).centre();
    plausible(&map, middle).then_some(map)
}

/// The corners of the regions found so far, by cell: lattice millimetres, and view pixels.
fn pairs(
    grid: &Grid,
    quads: &[Quad],
    variants: &[Rect],
    found: &Found,
    now: &PlaneMap,
) -> Vec<[(Point, Point); 4]> {
    let corners = found.iter().map(|(cell, (region, kind))| {
        let at = Lattice::rect(grid, *cell);
        let rect = Rect {
            x: at.x + variants[*kind].x,
            y: at.y + variants[*kind].y,
            ..variants[*kind]
        };
        rect.corners().map(|corner| {
            let guess = now.map(corner);
            let away = |it: &Point| (it - guess).norm();
            let nearest = quads[*region]
                .corners
                .into_iter()
                .min_by(|a, b| away(a).total_cmp(&away(b)));
            (corner, nearest.unwrap_or(guess))
        })
    });
    corners.collect()
}

#[cfg(test)]
mod tests;
