//! Why there is nothing to search.

use crate::colour::spectrum::NoSurface;
use std::fmt;

/// Why there is nothing to search.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SearchError {
    /// A number that can't be what it stands for.
    #[error("{what} is {value}; it must be {must}")]
    Number {
        /// What it stands for.
        what: String,
        /// The number.
        value: f64,
        /// What would be right.
        must: String,
    },
    /// No surface has the wanted colour.
    #[error("the wanted colour can't be: {0}")]
    Wanted(NoSurface),
    /// The model has no pigment.
    #[error("nothing is known of any pigment in this coating")]
    NoModel,
    /// A ground that the model doesn't know.
    #[error("nothing was measured on {name:?}")]
    Ground {
        /// As given.
        name: String,
        /// Those that it knows.
        there: Vec<String>,
    },
    /// A pigment that every recipe shall have, and that is not there.
    #[error("there is no pigment {id:?}")]
    Base {
        /// As given.
        id: String,
        /// The nearest names.
        near: Vec<String>,
    },
    /// A pigment that every recipe shall have, and that may not be taken.
    #[error("{id} was to be in every recipe, and can't be taken: {why}")]
    BaseRemoved {
        /// Its id.
        id: String,
        /// Why not.
        why: Removed,
    },
    /// A pigment is there twice.
    #[error("{0} is among the pigments twice")]
    Twice(String),
    /// The constraints leave no pigment.
    #[error("no pigment is left to choose from: {}", counted(.0))]
    NoneLeft(Vec<(Removed, usize)>),
    /// The batch is so small that no pigment can be weighed out within its limit.
    #[error(
        "{batch_g} g of coating take no pigment that this balance can weigh: it is trusted from {least_g} g on, and a load within the tested limits is less"
    )]
    BatchTooSmall {
        /// The batch, g.
        batch_g: f64,
        /// The least amount that the balance is trusted with, g.
        least_g: f64,
        /// The smallest batch that would do, g.
        enough_g: f64,
    },
    /// A colour that can't be worked out.
    #[error("{recipe}: its colour can't be worked out: {why}")]
    Colour {
        /// Of which recipe.
        recipe: String,
        /// Why not.
        why: String,
    },
}

/// Why a pigment may not be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Removed {
    /// No swatch of it was measured in this coating.
    NotMeasured,
    /// How it ages is not known, and the aged colour is the wanted one.
    NotAged,
    /// It is not in stock.
    OutOfStock,
    /// No load of it is known to cure.
    Untested,
    /// The least that the balance can weigh into the batch is beyond its limit.
    TooStrong,
}

impl fmt::Display for Removed {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str(match self {
            Self::NotMeasured => "not measured in this coating",
            Self::NotAged => "how it ages is not known",
            Self::OutOfStock => "not in stock",
            Self::Untested => "no load of it is known to cure",
            Self::TooStrong => "the least that the balance can weigh is beyond its limit",
        })
    }
}

impl Removed {
    fn remedy(self) -> &'static str {
        match self {
            Self::NotMeasured => "Measure a swatch of it in this coating.",
            Self::NotAged => "Expose and measure a swatch of it, or ask for the colour when fresh.",
            Self::OutOfStock => "Allow pigments that are not in stock.",
            Self::Untested => {
                "Note how its swatches cured, or allow untested pigments; what comes out is marked."
            }
            Self::TooStrong => "Mix a larger batch, or weigh on a finer balance.",
        }
    }
}

fn counted(removed: &[(Removed, usize)]) -> String {
    if removed.is_empty() {
        return "none was given".to_owned();
    }
    let parts: Vec<String> = (removed.iter())
        .map(|(why, count)| format!("{count} × {why}"))
        .collect();
    parts.join(", ")
}

impl SearchError {
    /// What to do about it, as full sentences.
    #[must_use]
    pub fn hint(&self) -> String {
        let list = |names: &[String]| names.join("; ");
        match self {
            Self::Number { .. } => "Correct the number.".to_owned(),
            Self::Wanted(_) => "Give L* a* b* in this order (D50), or a CSS colour.".to_owned(),
            Self::NoModel => {
                "Measure swatches of this coating at two loads or more, and a control.".to_owned()
            }
            Self::Ground { there, .. } if there.is_empty() => {
                "Measure a control: the coating without pigment on what it is laid on.".to_owned()
            }
            Self::Ground { there, .. } => format!("There are: {}.", list(there)),
            Self::Base { near, .. } if near.is_empty() => "There is no pigment at all.".to_owned(),
            Self::Base { near, .. } => format!("The nearest are: {}.", list(near)),
            Self::BaseRemoved { why, .. } => why.remedy().to_owned(),
            Self::Twice(_) => "Give every pigment once.".to_owned(),
            Self::NoneLeft(removed) => match removed.iter().max_by_key(|it| it.1) {
                Some((why, _)) => why.remedy().to_owned(),
                None => "Give pigments to choose from.".to_owned(),
            },
            Self::BatchTooSmall { enough_g, .. } => {
                format!("Mix {enough_g:.0} g or more, or weigh on a finer balance.")
            }
            Self::Colour { .. } => "Look at what was measured of these pigments.".to_owned(),
        }
    }
}
