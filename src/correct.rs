//! From samples and references to calibrated colour with covariance.
//!
//! Works backwards through the camera: tone curve, then light, then colour; never more parameters than the references
//! support (leave-one-out decides).

use crate::colour::{Lab, Matrix};
use crate::flag::Flag;
use crate::reference::Reference;
use crate::sample::RegionKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Whether a tone curve beyond the file's encoding is sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tone {
    /// Fit or assume one, as the references allow.
    Auto,
    /// The file's encoding is taken at its word.
    None,
}

/// The closed list of corrections.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum CorrectionKind {
    /// One neutral: scale and chromatic adaptation.
    Neutral,
    /// Several neutrals: also a tone curve.
    NeutralTone,
    /// A linear 3×3 on eight or more colours.
    Linear,
    /// A root-polynomial on about fifteen or more colours.
    RootPolynomial,
}

/// One half of one patch, corrected.
#[derive(Clone, Debug, PartialEq)]
pub struct Corrected {
    /// Which patch and half.
    pub kind: RegionKind,
    /// Region index in `Samples::patches`.
    pub region: usize,
    /// The colour; none if it can't be measured. Mean in Lab over blocks.
    pub lab: Option<Lab>,
    /// Spatial spread over blocks, of L*, a*, b*.
    pub sd: [f64; 3],
    /// Mean ΔE00 of 3 mm blocks to their mean, camera noise taken off.
    pub unevenness: f64,
    /// The reading's own covariance in Lab.
    pub cov_own: Matrix,
    /// Covariance shared by all readings of the photo and correction.
    pub cov_common: Matrix,
    /// Components of the uncertainty.
    pub components: Vec<Component>,
    /// ΔE00(reading, truth) ≤ this in 95 % of cases.
    pub u95: f64,
    /// What a reader must know.
    pub flags: Vec<Flag>,
}

/// One named part of the uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Component {
    /// What it is.
    pub name: ComponentName,
    /// Whether it is common to all readings of the photo.
    pub common: bool,
    /// Standard uncertainties of L*, a*, b*.
    pub sd_lab: [f64; 3],
}

/// The closed list of components.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum ComponentName {
    /// Sensor noise and quantisation left after averaging.
    Noise,
    /// Unevenness of the coat over the sampled area.
    Unevenness,
    /// What is left of uneven light.
    Illumination,
    /// Residual of the fit to the references.
    Correction,
    /// The references' own uncertainty.
    Reference,
    /// What the references can't see of the tone curve.
    Tone,
    /// What the references can't see of the camera's colour.
    Camera,
    /// Local tone mapping.
    LocalTone,
}

/// What was fitted to one photo: everything needed to correct any linear RGB of it, and its figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// Which kind.
    pub kind: CorrectionKind,
    /// The references that were used.
    pub references: Vec<Reference>,
    /// Mean leave-one-out ΔE00, where there are enough references.
    pub leave_one_out: Option<f64>,
}
