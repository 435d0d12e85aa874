//! The whole library as one JSON document: its form, which `schema.json` beside this file states.

use super::catalog::{Coating, Pigment};
use super::notes::Note;
use super::recipe::Recipe;
use crate::record::{Half, Program, Record, SchemaNumber};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Everything that is in a library and does not follow from the rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// The number of this form.
    pub schema: SchemaNumber,
    /// What wrote it.
    pub program: Program,
    /// Pigments that something was said of, by id.
    pub pigments: Vec<Pigment>,
    /// Coatings that something was said of, by id.
    pub coatings: Vec<Coating>,
    /// Swatches with the numbers that people know them by, by number.
    pub swatches: Vec<Numbered>,
    /// The last number that was given to a swatch: none below it, or it, is ever given to another.
    #[schemars(range(min = 0))]
    pub last_swatch: i64,
    /// Photos and how they were measured, in the order in which they came.
    pub measurements: Vec<Measurement>,
    /// Photos that show the shot of another, in other bytes.
    pub copies: Vec<Copy>,
    /// What was noted.
    pub notes: Vec<NoteOfSpecimen>,
    /// Small pictures.
    pub crops: Vec<CropOfSpecimen>,
    /// What was corrected.
    pub history: Vec<Corrected>,
}

/// A swatch and its number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Numbered {
    /// Its number, > 0.
    #[schemars(range(min = 1))]
    pub id: i64,
    /// The name that its first patch has.
    pub name: Option<String>,
    /// What is meant.
    pub recipe: Recipe,
    /// Where the recipe is incomplete: the panel beyond which nobody can say what is the same.
    pub only_panel: Option<String>,
    /// Where it says nothing: the patch.
    pub only_patch: Option<String>,
}

/// One photo measured on one panel with one correction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// When it came into the library: UTC, year-month-dayThour:minute:secondZ.
    pub added: String,
    /// The record, of this one photo.
    pub record: Record,
}

/// A photo that shows the same shot as another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Copy {
    /// SHA-256 of the photo.
    pub sha256: String,
    /// SHA-256 of the one that it is a copy of.
    pub of: String,
}

/// Which specimen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecimenKey {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// The pigment's lot; empty if not stated.
    pub lot: String,
    /// What it is of: a panel file that was changed makes another specimen.
    pub recipe: Recipe,
}

/// A note and its specimen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteOfSpecimen {
    /// Of which specimen.
    pub specimen: SpecimenKey,
    /// What was noted.
    pub note: Note,
    /// Wet coating put on it, grams per square metre, all coats together, pigment included, > 0, if weighed; only of a specimen that no photo
    /// is of, whose panel would say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_g_per_m2: Option<f64>,
}

/// A small picture of a specimen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CropOfSpecimen {
    /// Of which specimen.
    pub specimen: SpecimenKey,
    /// Which part of it.
    pub half: Half,
    /// Hours of exposure; null when unknown.
    pub hours: Option<f64>,
    /// SHA-256 of the photo that it is from.
    pub photo: String,
    /// U95 of the reading.
    #[serde(rename = "U95")]
    pub u95: f64,
    /// JPEG, sRGB, in base64 (RFC 4648, section 4).
    pub jpeg: String,
}

/// What was there before a correction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Corrected {
    /// When: UTC.
    pub date: String,
    /// What was corrected.
    pub what: String,
    /// Why, if it was said.
    pub why: Option<String>,
    /// How it was.
    pub before: serde_json::Value,
}

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn schema() -> String {
    crate::schema::of::<Document>()
}
