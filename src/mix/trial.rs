//! What was measured, as the model takes it.

use crate::colour::{Lab, Matrix};

/// A pigment and its load.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The pigment's id.
    pub pigment: String,
    /// Grams per 100 g of mixed coating (all parts, before pigment), ≥ 0.
    pub load: f64,
}

/// One measured swatch: what was laid on what, and its colour.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Its number in the library, where it has one.
    pub swatch: Option<i64>,
    /// For people.
    pub name: String,
    /// What tints it; empty for a control.
    pub pigments: Vec<Load>,
    /// What it lies on, by name.
    pub ground: String,
    /// Wet coating, grams per square metre, all coats together, pigment included, > 0.
    pub g_per_m2: f64,
    /// Its colour, CIELAB D50/2°.
    pub lab: Lab,
    /// Covariance of that colour.
    pub covariance: Matrix,
    /// The part of it that other trials are off by, too: of photo, correction, card and camera. Zero where each is off by itself, the whole
    /// covariance where nobody knows.
    pub common: Matrix,
}
