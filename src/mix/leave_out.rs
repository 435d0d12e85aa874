//! Each trial predicted from the others: what predictions are worth, by what was measured.

use super::error::FitError;
use super::fit::fit;
use super::model::{Coat, Prediction};
use super::trial::Trial;
use crate::colour::difference::delta_e_2000;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// A trial, and what the others say of it.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Which of the trials, by index.
    pub trial: usize,
    /// What the others say.
    pub prediction: Prediction,
    /// ΔE00 between it and what was measured.
    pub delta_e_2000: f64,
}

/// Every trial with pigments, each predicted by a model that was fitted without it. Those whose pigment no other trial has are left aside.
///
/// # Errors
/// As [`fit`].
pub fn leave_one_out(trials: &[Trial]) -> Result<Vec<LeftOut>, FitError> {
    let mut out: Vec<LeftOut> = (0..trials.len())
        .into_par_iter()
        .filter(|it| !pigments(&trials[*it]).is_empty())
        .map(|it| without(trials, it))
        .filter_map(Result::transpose)
        .collect::<Result<_, _>>()?;
    out.sort_by_key(|it| it.trial);
    Ok(out)
}

/// Fits what bears on a trial: controls, what has one of its pigments, and of their company what they were tried with.
fn without(trials: &[Trial], out: usize) -> Result<Option<LeftOut>, FitError> {
    let own = pigments(&trials[out]);
    let company: BTreeSet<&str> = (trials.iter().map(pigments))
        .filter(|it| !it.is_disjoint(&own))
        .flatten()
        .collect();
    let others: Vec<Trial> = (trials.iter().enumerate())
        .filter(|(index, it)| *index != out && pigments(it).is_subset(&company))
        .map(|it| it.1.clone())
        .collect();
    let left = &trials[out];
    let model = fit(&others)?;
    let coat = Coat {
        pigments: left.pigments.clone(),
        g_per_m2: left.g_per_m2,
        ground: left.ground.clone(),
    };
    // None where the trial was the only one of its pigment.
    Ok(model.predict(&coat).ok().map(|prediction| LeftOut {
        trial: out,
        delta_e_2000: delta_e_2000(prediction.lab, left.lab),
        prediction,
    }))
}

fn pigments(trial: &Trial) -> BTreeSet<&str> {
    let used = trial.pigments.iter().filter(|it| it.load > 0.0);
    used.map(|it| &*it.pigment).collect()
}
