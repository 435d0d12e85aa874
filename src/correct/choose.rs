//! Which map the references support: leave-one-out decides.

use super::map::{self, Fitted, Model, RIDGES, Sighting, Terms};
use super::{CorrectError, Scene, parted};

/// The model that leave-one-out favours, with its figures.
pub(super) struct Chosen {
    pub(super) model: Model,
    pub(super) fitted: Fitted,
    pub(super) left_out: Option<f64>,
    pub(super) neutral: Option<f64>,
}

/// Fewest references for a linear map, and for a correction that is carried to other photos.
pub const LEAST_LINEAR: usize = 8;
/// Fewest references for a root-polynomial.
pub(super) const LEAST_ROOT: usize = 15;
/// By what factor a model with more parameters must be better.
const WORTH_IT: f64 = 0.97;
/// Mean leave-one-out ΔE00 beyond which the colours are others than stated. Two measured sensors left 3 to 8 under lamps with the
/// neutrals alone, 1 to 4 with a linear map; other colours than stated leave 15 and more.
pub(super) const SUSPICIOUS: f64 = 9.0;

pub(super) fn choose(scene: &Scene<'_>, sightings: &[Sighting]) -> Result<Chosen, CorrectError> {
    let count = sightings.len();
    let neutral = map::fit(Model::Neutral, &scene.to_xyz, sightings)
        .ok_or(CorrectError::NoBalance { count })?;
    let mut models = Vec::new();
    for (terms, least) in [
        (Terms::Linear, LEAST_LINEAR),
        (Terms::RootPolynomial, LEAST_ROOT),
    ] {
        if count >= least {
            models.extend(RIDGES.iter().rev().map(|ridge| Model::Ridge(terms, *ridge)));
        }
    }
    let all = vec![true; count];
    let plain = neutral.mean(&all);
    let mut best = Chosen {
        model: Model::Neutral,
        fitted: neutral,
        left_out: None,
        neutral: plain,
    };
    if count >= 2 {
        best.left_out = plain;
    }
    let mut fits: Vec<(Model, Fitted)> = Vec::new();
    for model in models {
        fits.extend(map::fit(model, &scene.to_xyz, sightings).map(|it| (model, it)));
    }
    // What every fit rejects is judged for none of them.
    let counted: Vec<bool> = (0..count)
        .map(|i| fits.is_empty() || fits.iter().any(|(_, it)| it.weights[i] > 0.0))
        .collect();
    if !fits.is_empty() {
        best.neutral = best.fitted.mean(&counted);
        best.left_out = best.neutral;
    }
    for (model, fitted) in fits {
        let left_out = fitted.mean(&counted);
        if let (Some(new), Some(old)) = (left_out, best.left_out)
            && new < WORTH_IT * old
        {
            best = Chosen {
                model,
                fitted,
                left_out,
                neutral: best.neutral,
            };
        }
    }
    if let Some(it) = best.left_out {
        parted::check(it, scene, sightings)?;
    }
    match (best.neutral, best.left_out) {
        (Some(neutral), Some(left_out)) if count >= LEAST_LINEAR && left_out > SUSPICIOUS => {
            Err(CorrectError::WrongReferences { left_out, neutral })
        }
        _ => Ok(best),
    }
}
