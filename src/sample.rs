//! A photo reduced to what can ever be asked of it: block means in linear light.
//!
//! Takes a photo and a location; gives [`Samples`]: for every patch, half, card zone and stretch of substrate, means over
//! blocks of about 1 mm with counts, and what was left out and why. Clipping and glare are judged here, on encoded values. A few
//! hundred kilobytes, serialisable; no stage after this one needs pixels.

use crate::colour::Matrix;
use crate::geometry::Rect;
use crate::photo::EncodingSource;
use serde::{Deserialize, Serialize};

/// Everything sampled from one photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// Linear RGB to XYZ D50, from the photo's encoding.
    pub to_xyz: Matrix,
    /// Where the linearisation came from.
    pub encoding: EncodingSource,
    /// Stored width and height in pixels.
    pub size: [usize; 2],
    /// One step of the encoding near the bottom, linear: what quantisation can hide.
    pub code_step: f64,
    /// Patches in panel order (empty cells left out), one region a half.
    pub patches: Vec<Region>,
    /// Card zones, in the panel's card order and then the card's patch order.
    pub cards: Vec<Region>,
    /// Substrate around and between the patches.
    pub substrate: Vec<Region>,
}

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

/// The mean of about 1 mm × 1 mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block {
    /// Centre in millimetres of the region's plane.
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
