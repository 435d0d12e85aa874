//! A rectangle cut into blocks: how many, which pixel belongs to which, and the mean of each.

use super::{Block, float};
use crate::geometry::{PlaneMap, Point};
use crate::sample::layout::Spot;
use nalgebra::Matrix3;

/// How finely a region is read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget {
    /// Most blocks in a region.
    blocks: usize,
}

impl Budget {
    /// `total` blocks shared among `regions`, each within `least..=most`.
    pub(super) fn shared(total: usize, regions: usize, least: usize, most: usize) -> Self {
        Self {
            blocks: (total / regions.max(1)).clamp(least, most),
        }
    }
}

/// Smallest edge of a block, mm.
const BLOCK_MM: f64 = 1.0;
/// Fewest pixels that a block should have for its noise to matter little.
const BLOCK_PIXELS: f64 = 16.0;
/// Pixels of a block that are about enough: with more, only every second, third … row and column is read.
const ENOUGH_PIXELS: f64 = 64.0;

/// A rectangle cut into blocks, and the way from pixels to them.
pub(super) struct Grid {
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// Stored pixels to (column, row) of the block, homogeneous.
    pub(super) to_block: Matrix3<f64>,
    pub(super) outline: [Point; 4],
    /// Every so many rows and columns are read.
    pub(super) stride: usize,
    /// Area in pixels.
    pub(super) area: f64,
}

/// The blocks of a rectangle; none where it covers hardly a pixel or lies at the horizon.
pub(super) fn grid(spot: &Spot, budget: Budget) -> Option<Grid> {
    let rect = &spot.rect;
    let outline = spot.map.outline(rect);
    let area = polygon_area(&outline);
    let sane = outline.iter().all(|p| p.x.abs() < 1e6 && p.y.abs() < 1e6);
    if !(sane && area >= 4.0 && rect.width > 0.0 && rect.height > 0.0) {
        return None;
    }
    let density = area / (rect.width * rect.height);
    let mut edge = BLOCK_MM.max((BLOCK_PIXELS / density).sqrt());
    let cut = |edge: f64| {
        (
            whole(rect.width / edge).max(1),
            whole(rect.height / edge).max(1),
        )
    };
    while cut(edge).0 * cut(edge).1 > budget.blocks {
        edge *= 1.05;
    }
    let (columns, rows) = cut(edge);
    let stride = whole((area / float(columns * rows) / ENOUGH_PIXELS).sqrt()).max(1);
    // The lens bends straight lines by far less than a block over one region: nine points make a local homography.
    let mut pixels = Vec::with_capacity(9);
    let mut places = Vec::with_capacity(9);
    for (i, j) in (0..9_u8).map(|k| (f64::from(k % 3) / 2.0, f64::from(k / 3) / 2.0)) {
        places.push(Point::new(i * float(columns), j * float(rows)));
        pixels.push(spot.map.map(Point::new(
            rect.x + i * rect.width,
            rect.y + j * rect.height,
        )));
    }
    let to_block = PlaneMap::fit(&pixels, &places)?.homography;
    Some(Grid {
        columns,
        rows,
        to_block,
        outline,
        stride,
        area,
    })
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is meant"
)]
pub(super) fn whole(x: f64) -> usize {
    x.round().max(0.0) as usize
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is meant"
)]
pub(super) fn whole_down(x: f64) -> usize {
    x.floor().max(0.0) as usize
}

fn polygon_area(corners: &[Point; 4]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    let twice: f64 = corners
        .iter()
        .zip(next)
        .map(|(p, q)| p.x * q.y - q.x * p.y)
        .sum();
    twice.abs() / 2.0
}

/// Running sums of a block.
#[derive(Clone, Copy, Default)]
pub(super) struct Sum {
    /// Pixels that were added.
    pub(super) n: usize,
    /// Highlights that were not.
    pub(super) glare: usize,
    sum: [f64; 3],
    squares: [f64; 3],
}

impl Sum {
    pub(super) fn add(&mut self, rgb: [f32; 3]) {
        self.n += 1;
        for (c, value) in rgb.into_iter().enumerate() {
            let value = f64::from(value);
            self.sum[c] += value;
            self.squares[c] += value * value;
        }
    }

    pub(super) fn block(&self, mm: [f64; 2], px: [f64; 2]) -> Block {
        let n = float(self.n);
        let rgb = self.sum.map(|it| it / n);
        let variance = [0, 1, 2].map(|c| {
            let spread = (self.squares[c] - n * rgb[c] * rgb[c]) / (n - 1.0).max(1.0);
            spread.max(0.0)
        });
        Block {
            mm,
            px,
            rgb,
            variance,
            n: self.n,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::sample::RegionKind;

    #[test]
    fn large_blocks_are_read_in_steps_that_leave_enough_pixels() {
        let spot = Spot {
            kind: RegionKind::Whole { patch: 0 },
            rect: Rect {
                x: 0.0,
                y: 0.0,
                width: 40.0,
                height: 20.0,
            },
            map: PlaneMap::new(Matrix3::new(8.0, 0.0, 9.0, 0.0, 8.0, 7.0, 0.0, 0.0, 1.0)),
        };
        let fine = grid(&spot, Budget::shared(1000, 1, 1, 1000)).unwrap();
        assert_eq!((fine.columns, fine.rows, fine.stride), (40, 20, 1));
        // 1600 pixels a block: every fifth row and column leaves 64.
        let coarse = grid(&spot, Budget::shared(32, 1, 1, 32)).unwrap();
        assert_eq!((coarse.columns, coarse.rows, coarse.stride), (8, 4, 5));
        let corner = coarse.to_block * nalgebra::Vector3::new(9.0 + 320.0, 7.0, 1.0);
        assert!((corner / corner.z - nalgebra::Vector3::new(8.0, 0.0, 1.0)).norm() < 1e-9);
    }
}
