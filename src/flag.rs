//! The closed list of flags that a reading can carry.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// With these a reading says nothing sure of a masked half.
pub(crate) const UNSURE: [Flag; 5] = [
    Flag::Unmeasurable,
    Flag::ClippedHigh,
    Flag::ClippedLow,
    Flag::Glare,
    Flag::ShadowEdge,
];

/// Something a reader of a reading must know. Written in kebab case in CSV and JSON.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// No colour could be had; the colour cells are empty.
    Unmeasurable,
    /// The patch's colour is known; the value is its leave-one-out prediction. Of a masked half in a series, it is put right by what that leaves, as far as the half fits in with others.
    Reference,
    /// A channel is at the top of the encoding in much of the patch.
    ClippedHigh,
    /// A channel is at the bottom of the encoding in much of the patch.
    ClippedLow,
    /// Highlights cover so much of the patch that they could not be left out safely.
    Glare,
    /// The coat is visibly uneven.
    Uneven,
    /// Fewer pixels than a trustworthy mean wants.
    FewPixels,
    /// The light could not be evened out well where this patch lies.
    UnevenLight,
    /// The edge of a shadow crosses the patch, or lies between it and the references.
    ShadowEdge,
    /// The camera made like surfaces unlike, by how light their surroundings are (local tone mapping), and those of the patch are not those of
    /// the references.
    LocalTone,
    /// The photo names no colour space; sRGB was assumed.
    AssumedSrgb,
    /// The colour lies outside what the photo's encoding can hold.
    OutsideEncoding,
    /// Camera noise dominates the patch.
    Noisy,
    /// A saved correction was used although its camera or light is another: the user insisted.
    ForcedCorrection,
}
