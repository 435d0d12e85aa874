//! Whether a film hides what lies below, in words that a reader can use.

use super::Asked;
use crate::mix::answer::rounded;
use crate::mix::error::PredictError;
use crate::mix::model::{Known, Model};
use schemars::JsonSchema;
use serde::Serialize;

/// Whether a film hides what lies below.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Hiding {
    /// From this load on it hides wholly.
    From {
        /// Grams per 100 g of mixed coating, by the model.
        load: f64,
    },
    /// Not up to the full load.
    Not {
        /// The contrast ratio at the full load, 0–1.
        contrast: f64,
    },
    /// The swatches don't tell.
    NotIdentified {
        /// Why, as a full sentence.
        why: String,
    },
}

/// Only up to the full load: what lies beyond, nobody tested.
pub(super) fn hiding(model: &Model, asked: &Asked, full: f64) -> Result<Hiding, PredictError> {
    use crate::mix::hiding::Hiding as Found;
    Ok(match model.hiding(&asked.pigment, asked.g_per_m2)? {
        Found::At { load, .. } if load <= full => Hiding::From {
            load: rounded(load),
        },
        Found::At { .. } | Found::Never => Hiding::Not {
            contrast: rounded(model.contrast(&asked.pigment, full, asked.g_per_m2)?),
        },
        Found::Unknown => Hiding::NotIdentified {
            why: why(model, &asked.pigment).to_owned(),
        },
    })
}

fn why(model: &Model, pigment: &str) -> &'static str {
    match model.pigment(pigment).map(|it| it.known) {
        Some(Known::Ratio) => {
            "All swatches of it hide the substrate, so that only the ratio of its absorption to its scattering is known: measure a load that doesn't hide, or another substrate."
        }
        Some(Known::Single) => {
            "One load of it alone was measured, so that its scattering is a guess: measure a second load."
        }
        _ => "Its swatches don't tell: measure more loads of it, or another substrate.",
    }
}
