//! The whole photo at a glance: how light each part of it is. What a camera does to tone by the surroundings, it does by these.

use super::float;
use super::gather::{Code, Raster};
use nalgebra::RowVector3;
use serde::{Deserialize, Serialize};

/// A coarse picture of the whole photo, also of what lies around the board.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Overview {
    /// Cells across and down; they are squares but for the last row and column.
    pub size: [usize; 2],
    /// Side of a cell, stored pixels.
    pub side: f64,
    /// Log of the mean linear luminance of each cell, row by row.
    pub logs: Vec<f64>,
}

/// Cells along the longer side.
const CELLS: f64 = 40.0;
/// Pixels that are read a cell, each way.
const LOOKS: usize = 5;
/// Luminance below which a photo shows nothing.
const DARKEST: f64 = 0.003;

impl Overview {
    pub(super) fn of<T: Code>(
        raster: &Raster<'_, T>,
        [width, height]: [usize; 2],
        luminance: RowVector3<f64>,
    ) -> Self {
        let side = float(width.max(height)) / CELLS;
        if side < 1.0 {
            return Self::default();
        }
        let cells = |length: usize| {
            // At least the first cell has its middle in the picture.
            (0..usize::MAX)
                .take_while(|it| (float(*it) + 0.5) * side < float(length))
                .count()
        };
        let size = [cells(width), cells(height)];
        let logs = (0..size[0] * size[1])
            .map(|i| {
                let from = [i % size[0], i / size[0]].map(|it| float(it) * side);
                let (mut sum, mut n) = (0.0, 0_usize);
                for look in 0..LOOKS * LOOKS {
                    let [x, y] = [(0, look % LOOKS), (1, look / LOOKS)]
                        .map(|(axis, step)| from[axis] + (float(step) + 0.5) / float(LOOKS) * side);
                    if let Some(rgb) = raster.at(x, y) {
                        sum += (luminance * nalgebra::Vector3::from(rgb)).x;
                        n += 1;
                    }
                }
                (sum / float(n.max(1))).max(DARKEST).ln()
            })
            .collect();
        Self { size, side, logs }
    }
}
