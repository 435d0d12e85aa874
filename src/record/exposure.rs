//! How long, or to how much, a board was exposed before a photo, and how.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What a dose counts where it is stated in hours.
pub const HOURS: &str = "hours";

/// How much exposure came before a photo. The default says nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Dose {
    /// Hours of exposure, ≥ 0, if known.
    pub hours: Option<f64>,
    /// Radiant exposure, ≥ 0, where that is what the series counts.
    pub dose: Option<f64>,
    /// Its unit and band; none exactly where `dose` is.
    pub dose_kind: Option<String>,
}

impl Dose {
    /// Hours, or nothing known.
    #[must_use]
    pub fn of_hours(hours: Option<f64>) -> Self {
        Self {
            hours,
            ..Self::default()
        }
    }

    /// What exposures are told apart and sorted by: the radiant exposure where it is stated, else hours; if anything is known.
    #[must_use]
    pub fn amount(&self) -> Option<f64> {
        self.dose.or(self.hours)
    }

    /// What [`Self::amount`] counts: `hours`, or unit and band of the radiant exposure. Amounts of two kinds are never compared.
    #[must_use]
    pub fn kind(&self) -> &str {
        self.dose_kind.as_deref().unwrap_or(HOURS)
    }

    /// Whether it is known that nothing was exposed yet.
    #[must_use]
    pub fn is_start(&self) -> bool {
        self.amount().is_some_and(|it| it <= 0.0)
    }
}

impl fmt::Display for Dose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.amount(), &self.dose_kind) {
            (Some(amount), Some(kind)) => write!(f, "{amount} {kind}"),
            (Some(hours), None) => write!(f, "{hours} h"),
            (None, _) => write!(f, "an unknown dose"),
        }
    }
}

/// How the board of a photo was exposed, as the series file states it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExposureEntry {
    /// What it was exposed to.
    pub kind: ExposureKind,
    /// Site, tilt, glass, lamp with its cycle …: the same for all photos of the series.
    pub conditions: Vec<Fact>,
    /// What is stated of this photo's exposure alone, such as the date.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shot: Vec<Fact>,
    /// Ids of patches that stay indoors and are laid beside the board for its photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub witness: Vec<String>,
}

/// What a board is exposed to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ExposureKind {
    /// The sun, outdoors or behind glass.
    Sun,
    /// The lamp of a cabinet.
    Lamp,
}

/// A stated fact.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// What it is of.
    pub name: String,
    /// What is stated.
    pub value: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_radiant_exposure_goes_before_hours_and_what_is_unknown_is_no_start() {
        let hours = Dose::of_hours(Some(12.0));
        assert_eq!((hours.amount(), hours.kind()), (Some(12.0), "hours"));
        let radiant = Dose {
            dose: Some(0.0),
            dose_kind: Some("MJ/m2 total".into()),
            ..hours.clone()
        };
        assert_eq!(
            (radiant.amount(), radiant.kind()),
            (Some(0.0), "MJ/m2 total")
        );
        assert_eq!(
            [
                &hours,
                &radiant,
                &Dose::default(),
                &Dose::of_hours(Some(0.0))
            ]
            .map(Dose::is_start),
            [false, true, false, true]
        );
    }
}
