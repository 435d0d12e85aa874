//! Where everything lies in the photo: a map from panel millimetres to stored pixels, or a refusal.

use crate::geometry::PlaneMap;
use serde::{Deserialize, Serialize};

/// A panel found in a photo beyond doubt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Located {
    /// Panel millimetres to stored pixels.
    pub panel: PlaneMap,
    /// The cards that were found, in the panel's order.
    pub cards: Vec<LocatedCard>,
    /// How sure.
    pub quality: Quality,
    /// What decided which way is up, in words (never empty).
    pub witnesses: Vec<String>,
    /// Whether the corners came from the user.
    pub by_hand: bool,
}

/// A card found in a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LocatedCard {
    /// Index into the panel's cards.
    pub index: usize,
    /// Card millimetres (from its own A1) to stored pixels.
    pub map: PlaneMap,
}

/// Figures of a location.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quality {
    /// Root mean square distance of found outlines to the layout's, stored pixels.
    pub outline_rms_px: f64,
    /// Share of the patches whose outline was seen, 0–1.
    pub seen: f64,
    /// Score of the best rival way of laying the layout over that of the accepted one, 0–1.
    pub rival: f64,
}
