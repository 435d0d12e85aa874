//! What is true of a scene: colours as laid, and where everything lies in the stored picture.

use crate::colorimetry::Lab;
use crate::layout::{CardKind, Xy};
use crate::spec::{SceneSpec, Trouble};
use serde::{Deserialize, Serialize};

/// Four corners from the thing's own top left, clockwise, stored pixels ((0, 0): outer corner of the first pixel).
pub type Quad = [Xy; 4];

/// Which part of a patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Half {
    /// All of it.
    Whole,
    /// Under the mask.
    Masked,
    /// In the sun.
    Exposed,
}

/// One patch, or one half of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchTruth {
    /// Its id in the panel file.
    pub id: String,
    /// Which part.
    pub half: Half,
    /// CIELAB D50/2° as laid: mean in Lab over the inner 80 % in each direction.
    pub lab: Lab,
    /// What a perfect pipeline would get with this camera, its matrix and the first card's grey alone: right but for the
    /// camera's own metameric error. Equal to `lab` where there is no card with a grey.
    pub camera_lab: Lab,
    /// Its outline in the stored picture.
    pub quad: Quad,
    /// Share of its pixels (inner 80 %) with a channel at an end of the range; 0 until rendered.
    pub clipped: f64,
}

/// One zone of a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZoneTruth {
    /// Position on the card: `A1` …
    pub at: String,
    /// CIELAB D50/2°.
    pub lab: Lab,
    /// Outline in the stored picture.
    pub quad: Quad,
}

/// One card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CardTruth {
    /// Which.
    pub kind: CardKind,
    /// Outer corners.
    pub corners: Quad,
    /// Zones in reading order.
    pub zones: Vec<ZoneTruth>,
}

/// The truth of a scene at a picture size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Stored width and height, pixels.
    pub size: [u32; 2],
    /// Outer corners of the patch grid, from A1's.
    pub grid: Quad,
    /// Corners of the board.
    pub board: Quad,
    /// Patches in panel order, masked before exposed; empty cells are not in it. Where there is no panel or another one, what
    /// it would be.
    pub patches: Vec<PatchTruth>,
    /// Cards in the panel's order; those out of sight are not in it.
    pub cards: Vec<CardTruth>,
    /// What is wrong on purpose.
    pub trouble: Trouble,
    /// All factors.
    pub spec: SceneSpec,
}

impl Truth {
    /// The truth of the picture without its outermost pixels, `margin` on every side.
    pub(crate) fn cropped(&self, margin: u32) -> Self {
        let mut it = self.clone();
        it.size = self.size.map(|side| side.saturating_sub(2 * margin));
        let quads = [&mut it.grid, &mut it.board]
            .into_iter()
            .chain(it.patches.iter_mut().map(|it| &mut it.quad))
            .chain(it.cards.iter_mut().flat_map(|card| {
                let zones = card.zones.iter_mut().map(|it| &mut it.quad);
                zones.chain([&mut card.corners])
            }));
        for coordinate in quads.flatten().flatten() {
            *coordinate -= f64::from(margin);
        }
        it
    }
}
