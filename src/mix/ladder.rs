//! A pigment from nothing to its full load: colours, the swatches measured on the way, the load that hides, and how strongly it tints.

mod hiding;
mod strength;
mod strip;

pub use hiding::Hiding;
pub use strength::{AsDeep, Strength};
pub use strip::strip;

use super::answer::{Distance, ReachWord, SCHEMA, Shade, rounded};
use super::error::PredictError;
use super::model::{Coat, Model};
use super::shelf::Shelf;
use super::trial::{Load, Trial};
use crate::colour::difference::delta_e_2000;
use crate::colour::uncertainty;
use schemars::JsonSchema;
use serde::Serialize;

/// A pigment's colours by its load.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Ladder {
    /// The form's number.
    pub schema: u32,
    /// The pigment's id.
    pub pigment: String,
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
    /// Full load, grams per 100 g of mixed coating: the highest that cured or, where that is more or none was tested, that was measured.
    pub full: f64,
    /// Colours from 0 to the full load, closer where there is little, since that is where colours change.
    pub steps: Vec<Step>,
    /// Swatches of this pigment alone, on this substrate and as thick, by load.
    pub measured: Vec<Point>,
    /// Whether it hides what lies below.
    pub hiding: Hiding,
    /// How strongly it tints against the reference, if one was named.
    pub strength: Option<Strength>,
    /// What a reader must know, as full sentences.
    pub notes: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// One colour of a ladder.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Step {
    /// Grams per 100 g of mixed coating.
    pub load: f64,
    /// The colour.
    pub colour: Shade,
    /// Whether it was measured, or lies between measured loads, or beyond them.
    pub reach: ReachWord,
}

/// A swatch that was measured.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Point {
    /// Its number in the library.
    pub swatch: Option<i64>,
    /// Its name.
    pub name: String,
    /// Its load; 0 for a control.
    pub load: f64,
    /// Its colour as measured.
    pub colour: Shade,
    /// ΔE00 to the ladder at this load.
    pub delta_e: f64,
}

/// Steps of a ladder: enough for a strip that looks even.
const STEPS: u32 = 120;
/// Amounts that differ by less than this share count as equally thick: hand-laid coats differ by as much (common practice, no source).
const AS_THICK: f64 = 0.1;

/// What a ladder is of.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The pigment.
    pub pigment: String,
    /// What is coated.
    pub ground: String,
    /// Wet coating, g/m².
    pub g_per_m2: f64,
    /// The pigment to compare with.
    pub reference: Option<String>,
}

impl Asked {
    pub(super) fn coat(&self, pigment: &str, load: f64) -> Coat {
        let pigments = if load > 0.0 {
            vec![Load {
                pigment: pigment.to_owned(),
                load,
            }]
        } else {
            Vec::new()
        };
        Coat {
            pigments,
            g_per_m2: self.g_per_m2,
            ground: self.ground.clone(),
        }
    }
}

/// Makes a ladder. `notes` are put before its own.
///
/// # Errors
///
/// If the model lacks a pigment or the ground, or a number makes no sense.
pub fn ladder(
    shelf: &Shelf,
    model: &Model,
    asked: &Asked,
    notes: Vec<String>,
) -> Result<Ladder, PredictError> {
    let full = full_load(shelf, &asked.pigment);
    let mut steps = Vec::new();
    for step in 0..=STEPS {
        let load = full * (f64::from(step) / f64::from(STEPS)).powi(2);
        let predicted = model.predict(&asked.coat(&asked.pigment, load))?;
        steps.push(Step {
            load: rounded(load),
            colour: Shade::of(predicted.lab, Some(predicted.u95)),
            reach: Distance::of(&predicted.reach, predicted.distance).reach,
        });
    }
    let last = model.predict(&asked.coat(&asked.pigment, full))?;
    let mut notes = notes;
    notes.extend(shelf.notes.iter().cloned());
    notes.extend(last.notes.iter().cloned());
    let strength = (asked.reference.as_ref())
        .map(|it| strength::strength(shelf, model, asked, it))
        .transpose()?;
    let of_it = [Load {
        pigment: asked.pigment.clone(),
        load: full,
    }];
    Ok(Ladder {
        schema: SCHEMA,
        pigment: asked.pigment.clone(),
        coating: shelf.coating.clone(),
        substrate: asked.ground.clone(),
        g_per_m2: rounded(asked.g_per_m2),
        coats: rounded(asked.g_per_m2 / shelf.per_coat.g_per_m2),
        nominal: shelf.per_coat.is_nominal(),
        full,
        measured: measured(shelf, model, asked)?,
        hiding: hiding::hiding(model, asked, full)?,
        steps,
        strength,
        notes,
        cautions: shelf.cautions(&of_it, false),
    })
}

/// The highest load that cured, or that was measured.
pub(super) fn full_load(shelf: &Shelf, pigment: &str) -> f64 {
    let cured = (shelf.limits.single.iter()).filter(|it| it.pigment == pigment);
    let cured = cured.filter_map(|it| it.cured);
    let loads = shelf.trials.iter().flat_map(|it| &it.pigments);
    let measured = loads.filter(|it| it.pigment == pigment).map(|it| it.load);
    cured.chain(measured).max_by(f64::total_cmp).unwrap_or(0.0)
}

fn measured(shelf: &Shelf, model: &Model, asked: &Asked) -> Result<Vec<Point>, PredictError> {
    let is_step = |it: &&Trial| {
        let alone = match &it.pigments[..] {
            [] => true,
            [only] => only.pigment == asked.pigment,
            _ => false,
        };
        alone && it.ground == asked.ground && (it.g_per_m2 / asked.g_per_m2 - 1.0).abs() <= AS_THICK
    };
    let mut points = Vec::new();
    for it in shelf.trials.iter().filter(is_step) {
        let load = it.pigments.first().map_or(0.0, |it| it.load);
        let predicted = model.predict(&asked.coat(&asked.pigment, load))?;
        points.push(Point {
            swatch: it.swatch,
            name: it.name.clone(),
            load,
            colour: Shade::of(it.lab, uncertainty::u95(it.lab, &it.covariance)),
            delta_e: rounded(delta_e_2000(it.lab, predicted.lab)),
        });
    }
    points.sort_by(|a, b| a.load.total_cmp(&b.load).then(a.swatch.cmp(&b.swatch)));
    Ok(points)
}
