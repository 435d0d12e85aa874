//! One sampled region: what it is, its block means, and what was left out of it.

use crate::geometry::Rect;
use serde::{Deserialize, Serialize};

/// What a region is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegionKind {
    /// A patch without mask, or the whole of it.
    Whole {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// The half under the mask.
    Masked {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// The half without mask.
    Exposed {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// A zone of a card.
    Card {
        /// Index into the panel's cards.
        card: usize,
        /// Index into the card's patches.
        zone: usize,
    },
    /// Substrate near a patch.
    Substrate {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// Substrate beside a masked half, where a strip of mask covers it too: in the sun it keeps another level than the rest.
    Sheltered {
        /// Index into the panel's patches.
        patch: usize,
    },
}

/// One sampled region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Region {
    /// What it is.
    pub kind: RegionKind,
    /// The sampled rectangle, after the inset, in millimetres of its own plane (panel or card).
    pub rect: Rect,
    /// The same in stored pixels: from the region's own top left, clockwise as on the panel.
    pub outline: [[f64; 2]; 4],
    /// Block means.
    pub blocks: Vec<Block>,
    /// Pixels that were averaged.
    pub pixels: usize,
    /// Pixels that were left out.
    pub left_out: LeftOut,
    /// Pixels with a channel at the top of the encoding, left out or not: a surface that is itself at the end of the
    /// range keeps them, since leaving them out would only shift its mean further.
    pub at_top: usize,
    /// Likewise at the bottom.
    pub at_bottom: usize,
}

impl Region {
    /// Share of the looked-at pixels that were left out or at an end of the encoding, by `count`; 0 of nothing.
    #[must_use]
    pub fn share(&self, count: usize) -> f64 {
        let all = self.pixels + self.left_out.total();
        if all == 0 { 0.0 } else { ratio(count, all) }
    }

    /// Indices of the blocks, brought together in squares with sides of so many millimetres from the region's corner: no square is empty.
    #[must_use]
    pub fn squares(&self, side_mm: f64) -> Vec<Vec<usize>> {
        let cell = |axis: usize, from: f64, block: &Block| {
            #[expect(clippy::cast_possible_truncation, reason = "a count of steps")]
            let cell = ((block.mm[axis] - from) / side_mm).floor() as i64;
            cell
        };
        let mut cells: Vec<((i64, i64), usize)> = (self.blocks.iter().enumerate())
            .map(|(i, it)| ((cell(1, self.rect.y, it), cell(0, self.rect.x, it)), i))
            .collect();
        cells.sort_unstable();
        cells
            .chunk_by(|a, b| a.0 == b.0)
            .map(|cell| cell.iter().map(|it| it.1).collect())
            .collect()
    }

    /// Mean linear RGB over the blocks; none without blocks.
    #[must_use]
    pub fn mean_rgb(&self) -> Option<[f64; 3]> {
        let n = self.blocks.len();
        (n > 0).then(|| {
            [0, 1, 2].map(|c| self.blocks.iter().map(|it| it.rgb[c]).sum::<f64>() / float(n))
        })
    }
}

/// Pixels left out of a region, by reason.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    /// A channel at the top of the encoding.
    pub clipped_high: usize,
    /// A channel at the bottom of the encoding.
    pub clipped_low: usize,
    /// Highlights.
    pub glare: usize,
    /// Outside the photo.
    pub outside: usize,
}

impl LeftOut {
    /// All reasons together.
    #[must_use]
    pub fn total(&self) -> usize {
        self.clipped_high + self.clipped_low + self.glare + self.outside
    }
}

/// The mean of about 1 mm × 1 mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block {
    /// Centre in millimetres of the panel's plane, for cards too: one light falls on both.
    pub mm: [f64; 2],
    /// Centre in stored pixels.
    pub px: [f64; 2],
    /// Mean linear RGB, 0–1 of the encoding.
    pub rgb: [f64; 3],
    /// Variance of a pixel within the block, linear, a channel.
    pub variance: [f64; 3],
    /// Pixels in the mean.
    pub n: usize,
}

/// A count as a number.
#[expect(
    clippy::cast_precision_loss,
    reason = "counts of pixels lie far below 2^52"
)]
pub(crate) fn float(count: usize) -> f64 {
    count as f64
}

fn ratio(part: usize, all: usize) -> f64 {
    float(part) / float(all)
}
