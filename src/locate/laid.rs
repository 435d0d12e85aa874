//! The ways of laying a layout on a lattice.

use super::evidence::{Believed, Look, edges, outline};
use super::fit::{self, Start};
use super::lattice::{Lattice, plausible};
use super::place::{Placement, look, most, worth};
use super::view::{View, whole};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Grid, Panel, Patch};
use nalgebra::{Matrix3, Vector2};
use std::collections::BTreeMap;

/// What is asked of a way; one that can't reach it is given up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    /// Least log likelihood of all its outlines.
    pub score: f64,
    /// Least sum of beliefs in its patches' outlines.
    pub seen: f64,
}

/// A way of laying a grid on a lattice.
pub(super) struct Arrangement {
    /// The layout's millimetres to the lattice's: a rigid motion.
    moved: PlaneMap,
    /// The layout's millimetres to view pixels.
    pub map: PlaneMap,
    /// Whether the layout would be seen in a mirror.
    pub mirrored: bool,
    /// The lattice's found cells that the grid lies on.
    covered: usize,
}

/// A lattice, with what is believed of its cells.
pub(super) struct Laid {
    lattice: Lattice,
    known: BTreeMap<(i32, i32), Believed>,
}

impl Laid {
    /// One of whose cells nothing was asked yet.
    pub(super) fn new(lattice: Lattice) -> Self {
        Self {
            lattice,
            known: BTreeMap::new(),
        }
    }

    /// The ways of laying a panel on it that reach what is `asked` of them, each with the evidence of its outlines; none where it asks for
    /// nothing. Each that does is `met`, those first that lie on the most cells.
    pub(super) fn ways(
        &mut self,
        view: &View,
        panel: &Panel,
        grid: &Grid,
        asked: &dyn Fn(&PlaneMap) -> Option<Asked>,
        met: &dyn Fn(&Placement),
    ) -> Vec<Placement> {
        let mut all: Vec<_> = arrangements(grid, &panel.outer(), &self.lattice)
            .into_iter()
            .enumerate()
            .collect();
        // Where most was found the best way is likely, and others are soon seen to be worse.
        all.sort_by_key(|it| std::cmp::Reverse(it.1.covered));
        let mut out: Vec<(usize, Placement)> = Vec::new();
        for (index, way) in all {
            let laid = asked(&way.map).and_then(|it| self.gather(view, panel, grid, &way, it));
            if let Some(it) = laid {
                met(&it);
                out.push((index, it));
            }
        }
        out.sort_by_key(|it| it.0);
        out.into_iter().map(|it| it.1).collect()
    }

    /// The evidence of all outlines of an arrangement; none if it can't be what is asked.
    fn gather(
        &mut self,
        view: &View,
        panel: &Panel,
        grid: &Grid,
        arrangement: &Arrangement,
        asked: Asked,
    ) -> Option<Placement> {
        let map = arrangement.map;
        let cell = |patch: &Patch| {
            patch.cell.map(|_| {
                let at = arrangement.moved.map(patch.rect.centre());
                (
                    whole((at.x - grid.patch_mm[0] / 2.0) / grid.pitch_mm[0] + 0.5),
                    whole((at.y - grid.patch_mm[1] / 2.0) / grid.pitch_mm[1] + 0.5),
                )
            })
        };
        let cells: Vec<_> = panel.patches.iter().map(cell).collect();
        let known = |it: &Option<(i32, i32)>| it.and_then(|it| self.known.get(&it).copied());
        let mut believed: Vec<Option<Believed>> = cells.iter().map(known).collect();
        // What it is if all that was not looked at yet is as it should be.
        let (mut score, mut seen) = (0.0, 0.0);
        for (patch, it) in panel.patches.iter().zip(&believed) {
            score += it.map_or(most(patch), |it| worth(patch, it));
            seen += it.map_or(1.0, |it| it.visible) * f64::from(u8::from(!patch.empty));
        }
        // What is hardly seen comes first: it tells soonest that too little is.
        let mut open: Vec<usize> = (0..cells.len())
            .filter(|i| believed[*i].is_none())
            .collect();
        open.sort_by_key(|i| {
            let found = cells[*i].is_some_and(|it| self.lattice.cells.binary_search(&it).is_ok());
            (found, view.holds(map.map(panel.patches[*i].rect.centre())))
        });
        for i in open {
            // Sums of the same numbers in another order differ by rounding.
            if score < asked.score - 1e-6 || seen < asked.seen - 1e-6 {
                return None;
            }
            let patch = &panel.patches[i];
            let it = if let Some(cell) = cells[i] {
                let lattice = &self.lattice.map;
                let rect = Lattice::rect(grid, cell);
                let look = look(lattice, grid, &rect, 2);
                let it = outline(view, lattice, &rect, &look).believed();
                self.known.insert(cell, it);
                it
            } else {
                let look = Look {
                    gap_mm: 0.0,
                    ..look(&map, grid, &patch.rect, 1)
                };
                outline(view, &map, &patch.rect, &look).believed()
            };
            score += worth(patch, it) - most(patch);
            seen += (it.visible - 1.0) * f64::from(u8::from(!patch.empty));
            believed[i] = Some(it);
        }
        let mut out = Placement::none(map, arrangement.mirrored, panel);
        for (patch, it) in panel.patches.iter().zip(believed) {
            out.count(patch, it?);
        }
        (out.score() >= asked.score && seen >= asked.seen - 1e-6).then_some(out)
    }
}

/// All ways of laying a grid on a lattice so that `outer` lies before the horizon.
pub(super) fn arrangements(grid: &Grid, outer: &Rect, lattice: &Lattice) -> Vec<Arrangement> {
    let mut out = Vec::new();
    let (rows, columns) = (whole(grid.rows as f64), whole(grid.columns as f64));
    for (i, j) in windows(lattice, columns, rows) {
        let on =
            |it: &&(i32, i32)| (i..i + columns).contains(&it.0) && (j..j + rows).contains(&it.1);
        let covered = lattice.cells.iter().filter(on).count();
        for turn in 0..4 {
            let laid = lay(grid, outer, lattice, (i, j), motion(turn));
            out.extend(laid.map(|it| Arrangement { covered, ..it }));
        }
    }
    out
}

/// Places of a window of cells that hold all found cells, or lie within them if they are more; one more all round.
fn windows(lattice: &Lattice, wide: i32, high: i32) -> Vec<(i32, i32)> {
    let span = |values: &mut dyn Iterator<Item = i32>| {
        values.fold((i32::MAX, i32::MIN), |(l, h), it| (l.min(it), h.max(it)))
    };
    let (left, right) = span(&mut lattice.cells.iter().map(|it| it.0));
    let (top, bottom) = span(&mut lattice.cells.iter().map(|it| it.1));
    let range = |low: i32, high: i32, size: i32| {
        let (a, b) = (low, high + 1 - size);
        a.min(b) - 1..=a.max(b) + 1
    };
    let mut out = Vec::new();
    for j in range(top, bottom, high) {
        for i in range(left, right, wide) {
            out.push((i, j));
        }
    }
    out
}

/// The four motions (two turns, two mirrored) that keep the axes.
fn motion(turn: i32) -> Matrix3<f64> {
    let (a, b) = match turn {
        0 => (1.0, 1.0),
        1 => (-1.0, -1.0),
        2 => (-1.0, 1.0),
        _ => (1.0, -1.0),
    };
    Matrix3::new(a, 0.0, 0.0, 0.0, b, 0.0, 0.0, 0.0, 1.0)
}

/// Lays the layout on a window of the lattice's cells; none if it would lie beyond the horizon.
fn lay(
    grid: &Grid,
    outer: &Rect,
    lattice: &Lattice,
    first: (i32, i32),
    motion: Matrix3<f64>,
) -> Option<Arrangement> {
    let middle =
        |count: usize, k: usize| ((count as f64 - 1.0) * grid.pitch_mm[k] + grid.patch_mm[k]) / 2.0;
    let centre = Point::new(middle(grid.columns, 0), middle(grid.rows, 1));
    let to = centre.coords
        + Vector2::new(
            f64::from(first.0) * grid.pitch_mm[0],
            f64::from(first.1) * grid.pitch_mm[1],
        );
    let moved = Matrix3::new_translation(&to) * motion * Matrix3::new_translation(&-centre.coords);
    let homography = lattice.map.homography * moved;
    let pivot = homography[(2, 2)];
    if pivot.abs() < 1e-12 || !in_front(&homography, outer) {
        return None;
    }
    Some(Arrangement {
        moved: PlaneMap::new(moved),
        map: PlaneMap::new(homography / pivot),
        mirrored: motion.determinant() < 0.0,
        covered: 0,
    })
}

/// Whether all of a rectangle lies on the near side of the horizon.
fn in_front(homography: &Matrix3<f64>, rect: &Rect) -> bool {
    let depth = rect
        .corners()
        .map(|p| (homography * nalgebra::Vector3::new(p.x, p.y, 1.0)).z);
    depth.iter().all(|it| it * depth[0] > 0.0)
}

/// Refines a lattice on its cells' outlines in the view.
pub(super) fn refine(view: &View, grid: &Grid, lattice: &mut Lattice) {
    for round in 0..2 {
        let seen: Vec<_> = lattice
            .cells
            .iter()
            .flat_map(|cell| {
                let rect = Lattice::rect(grid, *cell);
                let look = look(&lattice.map, grid, &rect, round);
                edges(view, &lattice.map, &rect, &look)
            })
            .collect();
        let Some(frame) = frame(grid, &lattice.cells) else {
            return;
        };
        if let Some(better) = fit::homography((&lattice.map, Start::Rough), frame.corners(), &seen)
            && plausible(&better, frame.centre())
        {
            lattice.map = better;
        }
    }
}

/// The rectangle around cells.
fn frame(grid: &Grid, cells: &[(i32, i32)]) -> Option<Rect> {
    cells
        .iter()
        .map(|it| Lattice::rect(grid, *it))
        .reduce(|a, b| a.union(&b))
}

#[cfg(test)]
mod tests;
