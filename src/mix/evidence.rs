//! The trials that a model was fitted to, and how sure they leave one of it.

use super::ground::Wetted;
use super::prior::Prior;
use super::solve::{Datum, Solved};
use super::trial::Trial;

/// All of it; empty for a model of materials that are known.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Evidence {
    pub(super) trials: Vec<Trial>,
    pub(super) grounds: Vec<Wetted>,
    pub(super) groups: Vec<Group>,
    pub(super) notes: Vec<String>,
}

/// Pigments that trials tie together, or one alone.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// Ids, in the order of the unknowns.
    pub(super) pigments: Vec<String>,
    pub(super) priors: Vec<&'static Prior>,
    /// Which trials, by index.
    pub(super) trials: Vec<usize>,
    pub(super) data: Vec<Datum>,
    pub(super) solved: Solved,
}

impl PartialEq for Group {
    fn eq(&self, other: &Self) -> bool {
        // The rest follows from these.
        self.pigments == other.pigments && self.data == other.data
    }
}
