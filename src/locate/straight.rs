//! A lattice without lines of regions that bend it.

use super::lattice::{Lattice, plausible, rms};
use crate::geometry::{PlaneMap, Point};

/// Root mean square distance of regions' corners from a lattice's from which it may be bent, pixels: corners are found to one.
const BENT: f64 = 1.5;
/// What is left of that without a line that bends it.
const STRAIGHT: f64 = 0.6;
/// Fewest cells that tell a lattice without a line.
const LEFT: usize = 6;

/// What is left of a lattice without a line.
struct Rest {
    map: PlaneMap,
    cells: Vec<(i32, i32)>,
    corners: Vec<[(Point, Point); 4]>,
    /// How far its corners lie off, pixels.
    off: f64,
}

impl Lattice {
    /// Leaves out outermost rows and columns of cells that bend the rest.
    ///
    /// A homography can take in a line of regions that are no patches, as the staves between a board's rim and its patches: all of them
    /// then lie a little off, and without that line the rest lies true.
    pub(super) fn straighten(&mut self) {
        loop {
            let now = rms(&self.map, &self.corners);
            if now < BENT {
                return;
            }
            let Some(rest) = self.without_a_line().filter(|it| it.off <= STRAIGHT * now) else {
                return;
            };
            (self.map, self.cells, self.corners) = (rest.map, rest.cells, rest.corners);
        }
    }

    /// The lattice without the outermost row or column that bends it most; none where it has fewer than three, or a few cells would be left.
    fn without_a_line(&self) -> Option<Rest> {
        let ends = |at: &dyn Fn(&(i32, i32)) -> i32| {
            let (low, high) = (
                self.cells.iter().map(at).min()?,
                self.cells.iter().map(at).max()?,
            );
            (high - low >= 2).then_some([low, high])
        };
        let without = |end: i32, at: &dyn Fn(&(i32, i32)) -> i32| {
            let all = self.cells.iter().zip(&self.corners);
            let (cells, corners) = all
                .filter(|it| at(it.0) != end)
                .map(|it| (*it.0, *it.1))
                .unzip();
            Self::rest(cells, corners)
        };
        let (across, down) = (|it: &(i32, i32)| it.0, |it: &(i32, i32)| it.1);
        let columns = ends(&across).into_iter().flatten();
        let rows = ends(&down).into_iter().flatten();
        columns
            .filter_map(|end| without(end, &across))
            .chain(rows.filter_map(|end| without(end, &down)))
            .min_by(|a, b| a.off.total_cmp(&b.off))
    }

    /// The lattice of some of its cells; none where they are too few, or can't be what a camera shows.
    fn rest(cells: Vec<(i32, i32)>, corners: Vec<[(Point, Point); 4]>) -> Option<Rest> {
        if cells.len() < LEFT {
            return None;
        }
        let (mm, px): (Vec<Point>, Vec<Point>) = corners.iter().flatten().copied().unzip();
        let map = PlaneMap::fit(&mm, &px).filter(|it| plausible(it, mm[mm.len() / 2]))?;
        Some(Rest {
            off: rms(&map, &corners),
            map,
            cells,
            corners,
        })
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

    /// Regions that are found roughly, all over, are bent by no line.
    #[test]
    fn rows_that_lie_true_stay() {
        let (mut rough, _) = lattice(3, false);
        for (i, (_, at)) in rough.corners.iter_mut().flatten().enumerate() {
            let step = |by: usize| 0.5 * ((i * by % 13) as f64 - 6.0);
            at.x += step(5);
            at.y += step(7);
        }
        let now = rms(&rough.map, &rough.corners);
        assert!(now > BENT, "{now}");
        rough.straighten();
        assert_eq!(rough.cells.len(), 24);
    }
}
