//! Why a library can't serve for mixing.

use super::words::list;
use crate::fade::FadeError;
use crate::library::LibraryError;
use crate::plan::facts::FactsError;

/// A library that can't serve, or a name that it hasn't got.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ShelfError {
    /// Of the library.
    #[error(transparent)]
    Library(#[from] LibraryError),
    /// A fact of a material that makes no sense.
    #[error(transparent)]
    Facts(#[from] FactsError),
    /// Its series of photos tell no change.
    #[error(transparent)]
    Fade(#[from] FadeError),
    /// No swatch states a coating.
    #[error("no swatch of the library states a coating")]
    NoCoating,
    /// Several coatings, and none is named.
    #[error("the library has swatches in several coatings: {}", list(there))]
    WhichCoating {
        /// Those that there are.
        there: Vec<String>,
    },
    /// No swatch has this coating.
    #[error("the library has no swatch with the coating {named}")]
    Coating {
        /// What was named.
        named: String,
        /// The nearest names that there are.
        there: Vec<String>,
    },
    /// The coating has no swatch with a colour.
    #[error("no swatch in {coating} has a colour")]
    NoSwatch {
        /// The coating.
        coating: String,
    },
    /// All of its swatches were left out.
    #[error("no swatch in {coating} can be built on: {}", reasons.join("; "))]
    NoTrial {
        /// The coating.
        coating: String,
        /// Why, each reason with its swatches.
        reasons: Vec<String>,
    },
    /// Several substrates, and none is named; or none at all.
    #[error("{}", which_substrate(coating, there))]
    WhichSubstrate {
        /// The coating.
        coating: String,
        /// Those that have a control.
        there: Vec<String>,
    },
    /// The substrate has no control in this coating.
    #[error("there is no control of {coating} on {named}")]
    Substrate {
        /// What was named.
        named: String,
        /// The coating.
        coating: String,
        /// The nearest names that there are.
        there: Vec<String>,
    },
    /// No trial has this pigment.
    #[error("no swatch in {coating} has the pigment {named}")]
    Pigment {
        /// What was named.
        named: String,
        /// The coating.
        coating: String,
        /// The nearest names that there are.
        there: Vec<String>,
    },
    /// Swatches have this pigment, but none can be built on.
    #[error("no swatch of {named} in {coating} can be built on: {}", reasons.join("; "))]
    PigmentLeftOut {
        /// What was named.
        named: String,
        /// The coating.
        coating: String,
        /// Why, each reason with its swatches.
        reasons: Vec<String>,
    },
}

fn which_substrate(coating: &str, there: &[String]) -> String {
    match there {
        [] => format!("no substrate has a control of {coating}"),
        _ => format!(
            "there are controls of {coating} on several substrates: {}",
            list(there)
        ),
    }
}

/// How a control is made and stated.
const MAKE_A_CONTROL: &str = "Coat a patch of that substrate without pigment, say `control = \"clear\"` of it in the panel file, and add its photo: what lies below is \
     seen through the coating, never bare.";

impl ShelfError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Library(it) => it.hint().to_owned(),
            Self::Facts(it) => it.hint().to_owned(),
            Self::Fade(it) => it.hint().to_owned(),
            Self::NoCoating => "State `coating` in the panel files of what you measure.".to_owned(),
            Self::WhichCoating { .. } => "Name one with --coating.".to_owned(),
            Self::WhichSubstrate { there, .. } if !there.is_empty() => {
                "Name one with --substrate.".to_owned()
            }
            Self::WhichSubstrate { .. } => MAKE_A_CONTROL.to_owned(),
            Self::Substrate { there, .. } if there.is_empty() => MAKE_A_CONTROL.to_owned(),
            Self::Substrate { there, .. } => {
                format!(
                    "There are controls on: {}. {MAKE_A_CONTROL}",
                    there.join("; ")
                )
            }
            Self::Coating { there, .. } | Self::Pigment { there, .. } => {
                format!("There are: {}.", there.join("; "))
            }
            Self::NoSwatch { .. } => {
                "Add records of panels in it: `masstone library add`.".to_owned()
            }
            Self::NoTrial { reasons, .. } | Self::PigmentLeftOut { reasons, .. } => {
                if reasons.iter().any(|it| it.contains("no control")) {
                    MAKE_A_CONTROL.to_owned()
                } else {
                    "Coat these anew, or mend what is said of them, and add their photos."
                        .to_owned()
                }
            }
        }
    }
}
