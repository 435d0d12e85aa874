//! Whether a film hides what lies below: the contrast that is left between a black and a white ground.

use super::Asked;
use crate::colour::lab;
use crate::mix::bands::BANDS;
use crate::mix::model::{Coat, Ground, Known, Model};
use crate::mix::surface::COATING;
use crate::mix::view::rounded;
use schemars::JsonSchema;
use serde::Serialize;

/// Contrast ratio from which a film counts as hiding wholly.
///
/// # Source
/// ASTM D2805 and ISO 6504-3, **from memory**: luminous reflectance over black by that over white.
pub const WHOLLY: f64 = 0.98;

/// Luminous reflectances of the grounds, 0–1: those of the test charts that both standards describe, from memory.
const BLACK: f64 = 0.01;
/// See [`BLACK`].
const WHITE: f64 = 0.8;

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

pub(super) fn hiding(model: &Model, asked: &Asked, full: f64, known: Known) -> Hiding {
    let why = match known {
        Known::Both => None,
        Known::Ratio => Some(
            "All swatches of it hide the substrate, so that only the ratio of its absorption to its scattering is known: measure a load that doesn't hide, or another substrate.",
        ),
        Known::Single => Some(
            "One load of it alone was measured, so that its scattering is a guess: measure a second load.",
        ),
    };
    if let Some(why) = why {
        return Hiding::NotIdentified {
            why: why.to_owned(),
        };
    }
    let charts = with_charts(model);
    let contrast = |load: f64| contrast(&charts, asked, load).unwrap_or(0.0);
    let at_full = contrast(full);
    if at_full < WHOLLY {
        return Hiding::Not {
            contrast: rounded(at_full),
        };
    }
    let (mut not, mut hides) = (0.0, full);
    for _ in 0..40 {
        let middle = f64::midpoint(not, hides);
        if contrast(middle) < WHOLLY {
            not = middle;
        } else {
            hides = middle;
        }
    }
    Hiding::From {
        load: rounded(hides),
    }
}

/// The same model with the grounds of a chart.
fn with_charts(model: &Model) -> Model {
    let mut model = model.clone();
    for (name, seen) in charts() {
        model.grounds.push(Ground {
            name,
            reflectance: [COATING.within(seen); BANDS],
        });
    }
    model
}

/// Names that no panel file has, and reflectances as seen.
fn charts() -> [(String, f64); 2] {
    [
        ("\u{0}black".to_owned(), BLACK),
        ("\u{0}white".to_owned(), WHITE),
    ]
}

fn contrast(charts: &Model, asked: &Asked, load: f64) -> Option<f64> {
    let luminance = |ground: &str| {
        let coat = Coat {
            ground: ground.to_owned(),
            ..asked.coat(&asked.pigment, load)
        };
        Some(lab::luminance(charts.colour(&coat)?.l))
    };
    let [black, white] = self::charts();
    Some(luminance(&black.0)? / luminance(&white.0)?)
}
