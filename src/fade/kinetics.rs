//! Kinetics: the course of a change over the dose.
//!
//! Takes double differences at several doses with their covariances; gives the models that could have made them, their average, and the
//! dose at which ΔE00 reaches a threshold, with an interval that may be open above. Nothing is said beyond 1.5 times the
//! furthest dose.

mod data;
mod dose;
mod draw;
mod fit;
mod ray;
mod shape;
mod weight;

use crate::colour::{Lab, Matrix};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

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
    /// In order of dose, if possible.
    pub points: Vec<Point>,
    /// Covariance that all points share: that of the difference at dose 0.
    pub shared: Matrix,
    /// Relative standard uncertainty of the scale of L*, a*, b*, which all points share: it widens intervals and takes no part in the fits.
    pub scale: [f64; 3],
    /// The same of all three alike: what comes through a mask that leaks is missing of the whole change.
    pub leak: f64,
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
    /// Akaike's criterion, corrected for few points, from `chi_square` (over the scatter beyond noise, see [`course`]).
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

/// Nothing is said beyond this many times the furthest dose.
const REACH: f64 = 1.5;

/// From so many exposures after zero on, models are averaged by weight; with fewer the interval is the range over them.
const ENOUGH: usize = 6;

/// The course of a change over the dose; `None` with fewer than two exposures after dose 0, which give a difference and no curve.
///
/// **Models.** The change is D(H) = v g(H), with one shape g for L*, a* and b*: none (D = 0), linear (g = H), first order to a plateau
/// (g = 1 − exp(−kH)) and power (g = Hᵇ). χ² is taken with the whole covariance of all points, `shared` between every two of them,
/// since all subtract the same difference at dose 0. Given the shape, v follows by generalised least squares; the shape by a
/// search within what the doses can show: 0.1 ≤ kH ≤ 5 at the furthest and at the first dose, 0.1 ≤ b ≤ 5. A parameter that ends at
/// a bound, or that χ² does not hold on both sides (a rise of 3.84), has no standard uncertainty, nor have those that hang on it.
///
/// **Weights.** `AICc` = χ² + 2K + 2K(K + 1)∕(n − K − 1). n counts the numbers measured, three a point; dose 0 is not counted, since every
/// model is zero there. K counts v and the shape: 0, 3, 4, 4; no variance is estimated, so none is counted. The last term was derived
/// for a variance estimated from the residuals (Hurvich & Tsai, *Biometrika* 76 (1989) 297–307); with known ones it leans towards fewer
/// parameters. Using it here, and counting three numbers a point, is common practice, no source. Weights are Akaike's.
///
/// **Scatter.** If even the best model has a χ² that noise makes in less than 5 % of cases, all covariances are multiplied by its χ² over its
/// degrees of freedom, in `AICc` (Burnham & Anderson, *Model Selection and Multimodel Inference*, 2nd ed. 2002, §2.5) and in all
/// intervals; [`Model::chi_square`] stays as it was. Then no model is to be trusted between the exposures: all intervals also take
/// in what the points alone allow if the change only grows (its U95 at each; nothing bounds it above beyond the last). `limit_reason` says so.
///
/// **Intervals** are of draws: shapes by their likelihood on a grid, changes given the shape, models by weight. With fewer than six
/// exposures they are the range over the intervals of all models that aren't ruled out; a model is ruled out if its χ² exceeds the
/// least one by more than noise does in 1 % of cases (χ² with as many degrees of freedom as it has fewer parameters, at least one).
/// Noise makes any change look larger; the draws are weighted against that. The estimate is of the averaged change vector, not a mean
/// of ΔE00s. What lies beyond 1.5 times the furthest dose is not told: an interval that reaches there is open, and its lower end is at most that.
///
/// **Bad input.** Points may come in any order. Those whose dose isn't above zero, or that hold what isn't finite (or beyond
/// 10⁴ in Lab) are left out; equal doses count as one exposure. Variances below that of rounding to three decimals are raised to it, negative
/// ones too. A start or a shared covariance that isn't finite gives `None`.
#[must_use]
pub fn course(points: &Points) -> Option<Course> {
    let data = data::Data::new(points)?;
    let all = [
        ModelName::None,
        ModelName::Linear,
        ModelName::Plateau,
        ModelName::Power,
    ];
    let fits: Option<Vec<_>> = all.iter().map(|it| fit::fit(*it, &data)).collect();
    let (models, excess) = weight::weigh(fits?, data.count());
    let drawn: Vec<dose::Drawn<'_>> = models
        .iter()
        .map(|it| match it.fit.model {
            ModelName::None => (it, Vec::new()),
            _ => (it, draw::draws(&it.fit, &data, excess)),
        })
        .collect();
    // No draws stand for no change; a model that could not be drawn from must not be taken for that.
    let undrawn = |it: &dose::Drawn<'_>| it.1.is_empty() && it.0.fit.model != ModelName::None;
    if drawn.iter().any(undrawn) {
        return None;
    }
    let misfit = excess > 1.0;
    let alone = if misfit {
        dose::alone(&data)
    } else {
        Vec::new()
    };
    let said = dose::Said {
        models: &models,
        drawn: &drawn,
        range: data.exposures < ENOUGH,
        misfit,
        data: &data,
        alone: &alone,
    };
    let course = Course {
        thresholds: THRESHOLDS.iter().map(|it| said.threshold(*it)).collect(),
        curve: said.curve(),
        range_over_models: said.range,
        limit_dose: REACH * data.last,
        limit_reason: limit_reason(data.last, excess),
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
    };
    course.is_finite().then_some(course)
}

impl Course {
    /// Whether all of it can be written down.
    fn is_finite(&self) -> bool {
        let models = self
            .models
            .iter()
            .all(|it| it.weight.is_finite() && it.parameters.iter().all(|it| it.value.is_finite()));
        let curve = |it: &CurvePoint| {
            (it.change.iter()).all(|it| it.is_finite())
                && [it.de_00, it.low, it.high].iter().all(|it| it.is_finite())
        };
        models && self.curve.iter().all(curve)
    }
}

fn limit_reason(last: f64, excess: f64) -> String {
    let mut reason = format!(
        "Nothing is said beyond a dose of {}, {} times the furthest exposure ({}): courses that fit alike up to the furthest exposure part beyond it.",
        rounded(last * REACH),
        REACH,
        rounded(last),
    );
    if excess > 1.0 {
        let _ = write!(
            reason,
            " The points follow none of the models within their uncertainty: all of it is taken as {:.1} times as large, and intervals reach to what the exposures alone allow.",
            excess.sqrt()
        );
    }
    reason
}

/// Six digits, without those that only come of doubling.
fn rounded(it: f64) -> f64 {
    format!("{it:.5e}").parse().unwrap_or(it)
}
