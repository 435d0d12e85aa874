//! How strongly a pigment tints against another: how much of the other makes the same film as light or dark.

use super::{Asked, full_load};
use crate::mix::answer::rounded;
use crate::mix::error::PredictError;
use crate::mix::model::Model;
use crate::mix::shelf::Shelf;
use schemars::JsonSchema;
use serde::Serialize;

/// Tinting strength relative to a reference pigment.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Strength {
    /// The reference pigment's id.
    pub reference: String,
    /// Absorption of a gram by that of a gram of the reference, summed as the eye weighs it: above 1, the pigment tints more strongly.
    pub over_all: f64,
    /// The same where the reference absorbs most.
    pub at_maximum: f64,
    /// Where that is, nm.
    pub nm: f64,
    /// Both pigments' absorption is known; otherwise a guess is in it.
    pub known: bool,
    /// What is as light or dark in this film; null where one makes it lighter and the other darker.
    pub as_deep: Option<AsDeep>,
}

/// Loads of two pigments that make the film as light or dark.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AsDeep {
    /// L* at which both are compared: half as far from the clear coating as both can go.
    #[serde(rename = "L")]
    pub l: f64,
    /// The load of the pigment that gives it.
    pub load: f64,
    /// The load of the reference that does.
    pub reference_load: f64,
    /// The second over the first.
    pub times: f64,
    /// From … to … in 95 % of cases, as far as the predicted L* of both goes.
    pub from: f64,
    /// See `from`.
    pub to: f64,
}

/// Steps in which a ladder is searched for the first load of a depth.
const STEPS: u32 = 200;
/// Depth below which there is nothing to compare, L*.
const LEAST: f64 = 1.0;

pub(super) fn strength(
    shelf: &Shelf,
    model: &Model,
    asked: &Asked,
    reference: &str,
) -> Result<Strength, PredictError> {
    let it = model.tinting_strength(&asked.pigment, reference)?;
    Ok(Strength {
        reference: reference.to_owned(),
        over_all: rounded(it.over_all),
        at_maximum: rounded(it.at_maximum),
        nm: it.nm,
        known: it.known,
        as_deep: as_deep(shelf, model, asked, reference)?,
    })
}

fn as_deep(
    shelf: &Shelf,
    model: &Model,
    asked: &Asked,
    reference: &str,
) -> Result<Option<AsDeep>, PredictError> {
    let own = Depth::of(shelf, model, asked, &asked.pigment);
    let other = Depth::of(shelf, model, asked, reference);
    let clear = own.at(0.0)?.0;
    let [one, two] = [own.at(own.full)?.0 - clear, other.at(other.full)?.0 - clear];
    if one * two <= 0.0 || one.abs().min(two.abs()) < LEAST {
        return Ok(None);
    }
    let l = clear + 0.5 * one.signum() * one.abs().min(two.abs());
    let ([load, off], [reference_load, other_off]) = (own.reaching(l)?, other.reaching(l)?);
    let times = reference_load / load;
    let off = times * (off / load).hypot(other_off / reference_load);
    Ok(Some(AsDeep {
        l: rounded(l),
        load: rounded(load),
        reference_load: rounded(reference_load),
        times: rounded(times),
        from: rounded((times - off).max(0.0)),
        to: rounded(times + off),
    }))
}

/// How light a pigment alone makes the film, by its load.
struct Depth<'a> {
    model: &'a Model,
    asked: &'a Asked,
    pigment: &'a str,
    full: f64,
}

impl<'a> Depth<'a> {
    fn of(shelf: &Shelf, model: &'a Model, asked: &'a Asked, pigment: &'a str) -> Self {
        Self {
            model,
            asked,
            pigment,
            full: full_load(shelf, pigment),
        }
    }

    /// L* and its standard deviation.
    fn at(&self, load: f64) -> Result<(f64, f64), PredictError> {
        let it = self.model.predict(&self.asked.coat(self.pigment, load))?;
        Ok((it.lab.l, it.covariance[(0, 0)].max(0.0).sqrt()))
    }

    /// The first load that is as light or dark as `l`, which its full load is beyond; and how far it may be off in 95 % of cases.
    fn reaching(&self, l: f64) -> Result<[f64; 2], PredictError> {
        let beyond = |load: f64| -> Result<bool, PredictError> {
            Ok((self.at(load)?.0 - l).signum() != (self.at(0.0)?.0 - l).signum())
        };
        let (mut less, mut more) = (0.0, self.full);
        for step in 1..=STEPS {
            let here = self.full * f64::from(step) / f64::from(STEPS);
            if beyond(here)? {
                more = here;
                break;
            }
            less = here;
        }
        for _ in 0..30 {
            let middle = f64::midpoint(less, more);
            if beyond(middle)? {
                more = middle;
            } else {
                less = middle;
            }
        }
        let step = 0.01 * more;
        let slope = (self.at(more + step)?.0 - self.at(more - step)?.0) / (2.0 * step);
        let off = 1.96 * self.at(more)?.1 / slope.abs().max(f64::MIN_POSITIVE);
        Ok([more, off])
    }
}
