//! References: regions of a photo whose colour is known.

use crate::colour::{Lab, Matrix};
use serde::{Deserialize, Serialize};

/// A region of known colour. A grey card, a zone of a chart and a patch with a stated colour are the same thing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// Where it comes from, for people and the record: `card grey-18 A1`, `patch B3`.
    pub name: String,
    /// Index of its regions in the samples (a patch's two halves count as one reference).
    pub regions: Vec<RegionIndex>,
    /// Its colour.
    pub lab: Lab,
    /// Covariance of that colour in Lab.
    pub covariance: Matrix,
}

/// Which region of the samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegionIndex {
    /// Index into `Samples::patches`.
    Patch(usize),
    /// Index into `Samples::cards`.
    Card(usize),
    /// All of the substrate.
    Substrate,
}
