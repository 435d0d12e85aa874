//! A board's patches against its exposures: what is there, and what is missing.

use super::report::{Board, Change, Exposure, Patch};

/// Whether two doses are one: stated numbers that went through a file.
pub(super) fn same_dose(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * (1.0 + one.abs().max(other.abs()))
}

impl Board {
    /// The exposures after dose 0, by dose.
    pub fn exposed(&self) -> impl Iterator<Item = &Exposure> {
        self.exposures
            .iter()
            .filter(|it| !same_dose(it.dose, 0.0) && it.dose > 0.0)
    }

    /// The furthest dose, if it was exposed at all.
    #[must_use]
    pub fn last_dose(&self) -> Option<f64> {
        self.exposed().map(|it| it.dose).reduce(f64::max)
    }
}

impl Patch {
    /// Its change at a dose; none where a half could not be measured.
    #[must_use]
    pub fn at(&self, dose: f64) -> Option<&Change> {
        at(&self.changes, dose)
    }

    /// The name for people; the id where it has none.
    #[must_use]
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.patch)
    }
}

/// The change at a dose.
pub(super) fn at(changes: &[Change], dose: f64) -> Option<&Change> {
    changes.iter().find(|it| same_dose(it.dose, dose))
}
