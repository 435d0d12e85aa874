//! How strongly a pigment tints against another: how much of the other makes the same film as light or dark.

use super::{Asked, full_load};
use crate::mix::error::PredictError;
use crate::mix::model::Model;
use crate::mix::shelf::Shelf;
use crate::mix::view::rounded;
use schemars::JsonSchema;
use serde::Serialize;

/// Tinting strength relative to a reference pigment, at equal depth (the notion of ISO 787-24, in this film instead of a white paste).
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Strength {
    /// The reference pigment's id.
    pub reference: String,
    /// The load of the pigment that is compared: half its full one.
    pub load: f64,
    /// The load of the reference that gives the same L*.
    pub reference_load: f64,
    /// The second over the first: above 1, the pigment tints more strongly.
    pub times: f64,
    /// From … to … in 95 % of cases, as far as the predicted L* of both goes.
    pub from: f64,
    /// See `from`.
    pub to: f64,
}

/// Steps in which the reference's ladder is searched for the first load of that depth.
const STEPS: u32 = 200;

/// Or why there is none, as a full sentence.
pub(super) fn strength(
    shelf: &Shelf,
    model: &Model,
    asked: &Asked,
    reference: &str,
) -> Result<Result<Strength, String>, PredictError> {
    let load = full_load(shelf, &asked.pigment) / 2.0;
    let most = full_load(shelf, reference);
    let own = model.predict(&asked.coat(&asked.pigment, load))?;
    let apart = |load: f64| -> Result<f64, PredictError> {
        Ok(model.predict(&asked.coat(reference, load))?.lab.l - own.lab.l)
    };
    let start = apart(0.0)?;
    let mut bounds = None;
    let mut before = 0.0;
    for step in 1..=STEPS {
        let here = most * f64::from(step) / f64::from(STEPS);
        if apart(here)?.signum() != start.signum() {
            bounds = Some((before, here));
            break;
        }
        before = here;
    }
    let Some((mut less, mut more)) = bounds else {
        return Ok(Err(format!(
            "{reference} up to {most} g per 100 g never is as {} as {} at {load}: no tinting strength can be told.",
            if start > 0.0 { "dark" } else { "light" },
            asked.pigment
        )));
    };
    for _ in 0..40 {
        let middle = f64::midpoint(less, more);
        if apart(middle)?.signum() == start.signum() {
            less = middle;
        } else {
            more = middle;
        }
    }
    let other = model.predict(&asked.coat(reference, more))?;
    let step = 1e-3 * most;
    let slope = (apart(more + step)? - apart((more - step).max(0.0))?) / (step + step.min(more));
    let sd = (own.covariance[(0, 0)] + other.covariance[(0, 0)])
        .max(0.0)
        .sqrt();
    let off = 1.96 * sd / slope.abs().max(f64::MIN_POSITIVE);
    Ok(Ok(Strength {
        reference: reference.to_owned(),
        load,
        reference_load: rounded(more),
        times: rounded(more / load),
        from: rounded(((more - off) / load).max(0.0)),
        to: rounded((more + off) / load),
    }))
}
