//! Kinetics: the course of a change over the dose.
//!
//! Takes double differences at several doses with their covariances; gives the models that could have made them, their average, and the
//! dose at which ΔE00 reaches a threshold, with an interval that may be open above. Nothing is said beyond 1.5 times the
//! furthest dose.

mod data;
mod dose;
mod draw;
mod fit;
mod shape;
mod weight;

use crate::colour::{Lab, Matrix};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A change at a dose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Dose, > 0.
    pub dose: f64,
    /// Change of L*, a*, b*.
    pub change: [f64; 3],
    /// Its covariance, without what all points share.
    pub covariance: Matrix,
}

/// What a course is fitted to.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// The colour that changes.
    pub start: Lab,
    /// In order of dose.
    pub points: Vec<Point>,
    /// Covariance that all points share: that of the difference at dose 0.
    pub shared: Matrix,
}

/// The course of a patch's change.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Course {
    /// Every model that was fitted, the likeliest first.
    pub models: Vec<Model>,
    /// Fewer than six exposures after zero: intervals are the range over all models.
    pub range_over_models: bool,
    /// Dose at which ΔE00 reaches 1, 2 and 5.
    pub thresholds: Vec<Threshold>,
    /// Nothing is said beyond this dose: 1.5 times the furthest exposure.
    pub limit_dose: f64,
    /// Why nothing is said beyond it, as a sentence.
    pub limit_reason: String,
    /// The average with its interval at some doses from 0 to `limit_dose`, for plots.
    pub curve: Vec<CurvePoint>,
}

/// A fitted model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Model {
    /// Which.
    pub name: ModelName,
    /// Its parameters.
    pub parameters: Vec<Parameter>,
    /// Squared distance of the points from it, in their own covariance.
    pub chi_square: f64,
    /// Akaike's criterion, corrected for few points.
    pub aicc: f64,
    /// Share in the average, 0–1.
    pub weight: f64,
}

/// A parameter of a model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Parameter {
    /// `dL`, `da`, `db` (change a unit of dose, or at the plateau), `rate`, `exponent`.
    pub name: String,
    /// Value, in Lab units and the unit of the dose.
    pub value: f64,
    /// Standard uncertainty; none where the points don't hold it.
    pub sd: Option<f64>,
}

/// The closed list of models.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum ModelName {
    /// Nothing changes.
    None,
    /// In proportion to the dose.
    Linear,
    /// First order to a plateau.
    Plateau,
    /// A power of the dose.
    Power,
}

/// The dose at which a change reaches a threshold.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// ΔE00.
    pub de_00: f64,
    /// Dose; none where it is not reached by `limit_dose`.
    pub dose: Option<f64>,
    /// 95 % interval: not before this.
    pub low: Option<f64>,
    /// Not after this; none: open above.
    pub high: Option<f64>,
}

/// The averaged course at a dose.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CurvePoint {
    /// Dose.
    pub dose: f64,
    /// Change of L*, a*, b*.
    pub change: [f64; 3],
    /// ΔE00 of it, and its 95 % interval.
    pub de_00: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// ΔE00 whose doses are given.
pub const THRESHOLDS: [f64; 3] = [1.0, 2.0, 5.0];

/// From so many exposures after zero on, models are averaged by weight; with fewer the interval is the range over them.
const ENOUGH: usize = 6;

/// The course of a change.
#[must_use]
pub fn course(points: &Points) -> Option<Course> {
    let data = data::Data::new(points)?;
    let all = [
        ModelName::None,
        ModelName::Linear,
        ModelName::Plateau,
        ModelName::Power,
    ];
    let fits: Vec<_> = all.iter().filter_map(|it| fit::fit(*it, &data)).collect();
    if fits.len() < all.len() {
        return None;
    }
    let (models, excess) = weight::weigh(fits, data.count());
    let drawn: Vec<dose::Drawn<'_>> = models
        .iter()
        .map(|it| match it.fit.model {
            ModelName::None => (it, Vec::new()),
            _ => (it, draw::draws(&it.fit, &data, excess)),
        })
        .collect();
    let range = data.exposures < ENOUGH;
    Some(Course {
        thresholds: THRESHOLDS
            .iter()
            .map(|it| dose::threshold(*it, &models, &drawn, range, &data))
            .collect(),
        curve: dose::curve(&models, &drawn, range, &data),
        range_over_models: range,
        limit_dose: dose::REACH * data.last,
        limit_reason: limit_reason(data.last),
        models: models
            .iter()
            .map(|it| Model {
                name: it.fit.model,
                parameters: it.fit.parameters(data.last),
                chi_square: it.fit.chi_square,
                aicc: it.aicc,
                weight: it.weight,
            })
            .collect(),
    })
}

fn limit_reason(last: f64) -> String {
    format!("{last}")
}
