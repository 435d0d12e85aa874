//! A lattice without lines of regions that bend it.

use super::lattice::{Lattice, plausible, rms};
use crate::geometry::{PlaneMap, Point};

/// Root mean square distance of regions' corners from a lattice's from which it may be bent, pixels: corners are found to one.
const BENT: f64 = 1.5;
/// What is left of that without a line that bends it.
const STRAIGHT: f64 = 0.6;
/// Fewest cells that tell a lattice without a line.
const LEFT: usize = 6;

impl Lattice {
    /// Leaves out outermost rows and columns of cells that bend the rest.
    ///
    /// A homography can take in a line of regions that are no patches, as the staves between a board's rim and its patches: all of them
    /// then lie a little off, and without that line the rest lies true.
    pub(super) fn straighten(&mut self) {
        while let Some((map, kept, off)) = self.without_a_line() {
            let now = rms(&self.map, &self.corners);
            if now < BENT || off > STRAIGHT * now {
                return;
            }
            let keep = |it: &(i32, i32)| kept.contains(it);
            let mut at = self.cells.iter();
            self.corners.retain(|_| at.next().is_some_and(keep));
            self.cells.retain(keep);
            self.map = map;
        }
    }

    /// The lattice without the outermost row or column that bends it most: the map and the cells that are left, and how far their corners
    /// lie off, pixels. None where fewer than two lines or a few cells would be left.
    fn without_a_line(&self) -> Option<(PlaneMap, Vec<(i32, i32)>, f64)> {
        let along: [fn(&(i32, i32)) -> i32; 2] = [|it| it.0, |it| it.1];
        let mut best: Option<(PlaneMap, Vec<(i32, i32)>, f64)> = None;
        for of in along {
            let (low, high) = (
                self.cells.iter().map(of).min()?,
                self.cells.iter().map(of).max()?,
            );
            if high - low < 2 {
                continue;
            }
            for end in [low, high] {
                let left = || {
                    self.cells
                        .iter()
                        .zip(&self.corners)
                        .filter(|it| of(it.0) != end)
                };
                let cells: Vec<(i32, i32)> = left().map(|it| *it.0).collect();
                let corners: Vec<_> = left().map(|it| *it.1).collect();
                if cells.len() < LEFT {
                    continue;
                }
                let (mm, px): (Vec<Point>, Vec<Point>) = corners.iter().flatten().copied().unzip();
                let Some(map) = PlaneMap::fit(&mm, &px) else {
                    continue;
                };
                let off = rms(&map, &corners);
                if best.as_ref().is_none_or(|it| off < it.2) && plausible(&map, mm[0]) {
                    best = Some((map, cells, off));
                }
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::Grid;
    use nalgebra::Matrix3;

    const GRID: Grid = Grid {
        rows: 3,
        columns: 8,
        patch_mm: [40.0, 40.0],
        pitch_mm: [50.0, 50.0],
    };

    /// A lattice over rows of eight cells as a camera shows them, the row before the first being of staves that end nearer and are shorter.
    fn lattice(rows: i32, staves: bool) -> (Lattice, PlaneMap) {
        let seen = PlaneMap::new(Matrix3::new(
            1.0, 0.03, 60.0, -0.02, 0.95, 80.0, 1e-5, 2e-4, 1.0,
        ));
        let mut cells = Vec::new();
        let mut corners = Vec::new();
        for i in 0..8 {
            for j in i32::from(!staves)..=rows {
                let rect = Lattice::rect(&GRID, (i, j));
                cells.push((i, j));
                corners.push(rect.corners().map(|p| {
                    let at = if j == 0 { 8.0 + 0.8 * p.y } else { p.y };
                    (p, seen.map(Point::new(p.x, at)))
                }));
            }
        }
        let (mm, px): (Vec<Point>, Vec<Point>) = corners.iter().flatten().copied().unzip();
        let map = PlaneMap::fit(&mm, &px).unwrap();
        (Lattice::new(&GRID, map, cells, corners), seen)
    }

    #[test]
    fn a_row_of_staves_beside_the_patches_is_left_out() {
        let (mut bent, seen) = lattice(2, true);
        let middle = Point::new(195.0, 70.0);
        let off = |it: &Lattice| (it.map.map(middle) - seen.map(middle)).norm();
        assert!(off(&bent) > 0.5, "{}", off(&bent));
        bent.straighten();
        assert!(bent.cells.iter().all(|it| it.1 > 0), "{:?}", bent.cells);
        assert_eq!(bent.cells.len(), 16);
        assert_eq!(bent.corners.len(), 16);
        assert!(off(&bent) < 1e-6, "{}", off(&bent));
    }

    #[test]
    fn rows_that_lie_true_stay() {
        let (mut true_, _) = lattice(3, false);
        true_.straighten();
        assert_eq!(true_.cells.len(), 24);
    }
}
