//! What a mixture will look like, and what a reader must know of that: what `mix predict` answers.

use super::answer::{Distance, PigmentLoad, SCHEMA, Shade, rounded};
use super::error::PredictError;
use super::model::{Coat, Model, Prediction};
use super::shelf::Shelf;
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, lab};
use crate::plan::{self, Standing};
use schemars::JsonSchema;
use serde::Serialize;

/// What a mixture looks like.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Forecast {
    /// The form's number.
    pub schema: u32,
    /// The coating's id.
    pub coating: String,
    /// What is coated.
    pub substrate: String,
    /// Wet coating, all coats together, pigment included; where `nominal`, only a unit for coats.
    pub g_per_m2: f64,
    /// The same in coats.
    pub coats: f64,
    /// Nobody weighed or stated what a coat takes.
    pub nominal: bool,
    /// The mixture.
    pub loads: Vec<PigmentLoad>,
    /// Its colour as made.
    pub made: Shade,
    /// Luminous reflectance of that, 0–1.
    #[serde(rename = "Y")]
    pub y: f64,
    /// Its colour after exposure, if that was asked for and can be had.
    pub aged: Option<Aged>,
    /// How far from what was measured.
    pub distance: Distance,
    /// Mean ΔE00 of the swatches of these pigments, each predicted from the others; null where none can be left out.
    pub left_out: Option<f64>,
    /// How it stands to the tested limits.
    pub standing: Standing,
    /// What a reader must know, as full sentences.
    pub notes: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// A colour after exposure.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Aged {
    /// Hours of exposure.
    pub hours: f64,
    /// The colour then.
    pub colour: Shade,
    /// ΔE00 from the colour as made.
    pub delta_e: f64,
    /// What a reader must know of the ageing, as full sentences.
    pub notes: Vec<String>,
}

impl Aged {
    /// A prediction from a model that was aged.
    #[must_use]
    pub fn of(hours: f64, made: Lab, aged: &Prediction, notes: Vec<String>) -> Self {
        Self {
            hours,
            colour: Shade::of(aged.lab, Some(aged.u95)),
            delta_e: rounded(delta_e_2000(made, aged.lab)),
            notes,
        }
    }
}

/// Predicts a coat. `notes` are put before the prediction's own.
///
/// # Errors
///
/// If the model lacks a pigment or the ground, or a number makes no sense.
pub fn forecast(
    shelf: &Shelf,
    model: &Model,
    coat: &Coat,
    notes: Vec<String>,
) -> Result<Forecast, PredictError> {
    let predicted = model.predict(coat)?;
    let y = lab::luminance(predicted.lab.l);
    let mut notes = notes;
    notes.extend(shelf.notes.iter().cloned());
    notes.extend(predicted.notes.iter().cloned());
    let mut cautions: Vec<String> = plan::heat(y).into_iter().collect();
    cautions.extend(shelf.cautions(&coat.pigments, false));
    Ok(Forecast {
        schema: SCHEMA,
        coating: shelf.coating.clone(),
        substrate: coat.ground.clone(),
        g_per_m2: rounded(coat.g_per_m2),
        coats: rounded(coat.g_per_m2 / shelf.per_coat.g_per_m2),
        nominal: shelf.per_coat.is_nominal(),
        loads: coat.pigments.iter().map(Into::into).collect(),
        made: Shade::of(predicted.lab, Some(predicted.u95)),
        y: rounded(y),
        aged: None,
        distance: Distance::of(&predicted.reach, predicted.distance),
        left_out: predicted.left_out.map(rounded),
        standing: shelf.standing(&coat.pigments),
        notes,
        cautions,
    })
}
