//! One reading: one half of one patch in one photo.

use crate::colour::Lab;
use crate::correct::{Component, CorrectionKind};
use crate::flag::Flag;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Which part of a patch was read.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Half {
    /// All of a patch without a mask.
    Whole,
    /// The half under the mask.
    Masked,
    /// The half without the mask.
    Exposed,
}

/// One half of one patch in one photo. What is not known, or can't be measured, is null.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// The photo's path: one of `photos`.
    pub photo: String,
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// Which part of the patch.
    pub half: Half,
    /// Hours of exposure before the photo, ≥ 0; null when unknown.
    #[schemars(range(min = 0.0))]
    pub hours: Option<f64>,
    /// CIELAB L*, D50, 2° observer: the mean in Lab over blocks of the patch.
    #[serde(rename = "L")]
    pub l: Option<f64>,
    /// CIELAB a*.
    pub a: Option<f64>,
    /// CIELAB b*.
    pub b: Option<f64>,
    /// CIELAB chroma C*ab.
    #[serde(rename = "C")]
    #[schemars(range(min = 0.0))]
    pub c: Option<f64>,
    /// CIELAB hue angle, degrees from 0 up to but not 360.
    #[schemars(range(min = 0.0, max = 360.0))]
    pub h: Option<f64>,
    /// The colour for a screen: sRGB, mapped into its gamut.
    #[schemars(regex(pattern = "^#[0-9a-f]{6}$"))]
    pub hex: Option<String>,
    /// Spatial spread of L* over blocks, as a standard deviation.
    #[serde(rename = "sd_L")]
    #[schemars(range(min = 0.0))]
    pub sd_l: Option<f64>,
    /// Spatial spread of a* over blocks.
    #[schemars(range(min = 0.0))]
    pub sd_a: Option<f64>,
    /// Spatial spread of b* over blocks.
    #[schemars(range(min = 0.0))]
    pub sd_b: Option<f64>,
    /// Mean ΔE00 of 3 mm blocks to their mean, camera noise taken off.
    #[schemars(range(min = 0.0))]
    pub unevenness: Option<f64>,
    /// Pixels that were averaged.
    pub pixels: usize,
    /// Share of the pixels that were left out (clipped, glare, outside the photo), 0–1.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub left_out: f64,
    /// ΔE00(reading, truth) is at most this in 95 % of cases.
    #[serde(rename = "U95")]
    #[schemars(range(min = 0.0))]
    pub u95: Option<f64>,
    /// How the photo's colours were corrected.
    pub correction: CorrectionKind,
    /// What a reader of the value must know.
    #[schemars(extend("uniqueItems" = true))]
    pub flags: Vec<Flag>,
    /// The patch's four corners (the half's, where it has halves): from its own top left, clockwise as on the panel, in
    /// pixels of the stored picture, x right, y down, (0, 0) the outer corner of the first pixel.
    pub outline: [[f64; 2]; 4],
    /// Covariance of L*, a*, b* that this reading has to itself.
    pub cov_own: Option<[[f64; 3]; 3]>,
    /// Covariance of L*, a*, b* common to all readings of the photo and correction.
    pub cov_common: Option<[[f64; 3]; 3]>,
    /// What the covariances are made of.
    pub components: Vec<Component>,
}

impl Reading {
    /// The colour, if it could be measured.
    #[must_use]
    pub fn lab(&self) -> Option<Lab> {
        Some(Lab::new(self.l?, self.a?, self.b?))
    }

    /// Whether it carries the flag.
    #[must_use]
    pub fn has(&self, flag: Flag) -> bool {
        self.flags.contains(&flag)
    }
}
