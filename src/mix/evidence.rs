//! The trials that a model was fitted to, and how sure they leave one of it.

use super::bands::BANDS;
use super::coating::Unsure;
use super::common::Common;
use super::doubt::ANY;
use super::ground::Wetted;
use super::group::Group;
use super::mixed::Mixed;
use super::trial::Trial;
use std::collections::BTreeMap;

/// All of it; empty for a model of materials that are known.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Evidence {
    pub(super) trials: Vec<Trial>,
    /// In the order of the model's grounds.
    pub(super) grounds: Vec<Wetted>,
    pub(super) groups: Vec<Group>,
    /// Trials of several pigments that are in no group.
    pub(super) mixed: Option<Mixed>,
    /// What the coating's absorption is off by.
    pub(super) unsure: Unsure,
    /// What all of them are off by together.
    pub(super) common: Common,
    /// The highest amount of each pigment that was tried, grams per square metre.
    pub(super) most: BTreeMap<String, f64>,
}

impl Default for Evidence {
    fn default() -> Self {
        Self {
            trials: Vec::new(),
            grounds: Vec::new(),
            groups: Vec::new(),
            mixed: None,
            unsure: Unsure::zeros(BANDS, 0),
            common: Common::default(),
            most: BTreeMap::new(),
        }
    }
}

impl Evidence {
    /// The highest amount of a pigment that was tried; 0 where it never was.
    pub(super) fn most(&self, id: &str) -> f64 {
        self.most.get(id).copied().unwrap_or(0.0)
    }

    /// What films of a pigment are off by wherever they are, in L*, a* and b* each.
    pub(super) fn any(&self, id: &str) -> f64 {
        let mut groups = self.groups.iter();
        let own = groups.find(|group| group.pigments.iter().any(|it| it == id));
        own.map_or(ANY, |it| it.any)
    }

    /// Whether a pigment was tried by itself.
    pub(super) fn tried_by_itself(&self, id: &str) -> bool {
        let mut loads = self.trials.iter().map(|it| &it.pigments);
        loads.any(|it| matches!(&it[..], [only] if only.pigment == id))
    }
}
