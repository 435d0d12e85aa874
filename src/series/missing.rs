//! Exposures of a series that no photo was measured of.

use super::Series;
use crate::measure::photos::Photos;
use crate::record::{Dose, PhotoEntry};
use std::fmt;

/// An exposure without a measured photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Missing {
    /// Which.
    pub dose: Dose,
    /// Why.
    pub why: Why,
}

/// Why an exposure is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Its photos are still to be taken.
    Planned,
    /// Nothing is where the file says that its photos are.
    NotThere,
    /// So many photos were found, and none was measured.
    Refused(usize),
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ", self.dose)?;
        match self.why {
            Why::Planned => write!(f, "(planned: the file names no photos)"),
            Why::NotThere => write!(f, "(no photo is where the file says)"),
            Why::Refused(1) => write!(f, "(its photo was refused)"),
            Why::Refused(n) => write!(f, "(all of its {n} photos were refused)"),
        }
    }
}

impl Series {
    /// Exposures that none of the measured photos is of, by dose. `found` is of [`Series::photos`].
    #[must_use]
    pub fn missing(&self, found: &[&Photos], measured: &[PhotoEntry]) -> Vec<Missing> {
        let shots = self.shots.iter().zip(found);
        shots
            .filter(|(shot, _)| !measured.iter().any(|it| it.stated_dose() == shot.dose))
            .map(|(shot, found)| Missing {
                dose: shot.dose.clone(),
                why: match (shot.photos.is_empty(), found.paths.len()) {
                    (true, _) => Why::Planned,
                    (false, 0) => Why::NotThere,
                    (false, n) => Why::Refused(n),
                },
            })
            .collect()
    }
}
