//! Next: which few trial patches would most reduce the error of predictions.
//!
//! Takes a model, the loads that were tested to cure, and what predictions are wanted of; gives [`Proposal`]s, the most telling first, each with
//! what is left of the mean U95 once it and all before it are measured. Promises: no load beyond the tested limits, nothing that was
//! measured already; where only the ratio of absorption and scattering is known, a second ground is among what is tried.
//!
//! The mean variance of the predictions, in ΔE00's local metric, is what is reduced; trials are chosen one after the other, each with those
//! before it taken as measured.

mod coats;
pub mod panel;

use super::design::Joint;
use super::model::{Coat, Model};
use super::trial::Trial;
use crate::colour::difference::local_metric;
use crate::colour::{Lab, Matrix, uncertainty};
use coats::{Ranges, candidates, interests};
use std::collections::BTreeMap;

/// A ground under which no swatch lies yet, for trials that are to tell absorption from scattering.
pub const BLACK: &str = "black primer";
/// The same in white.
pub const WHITE: &str = "white primer";

/// What is wanted.
#[derive(Clone, Debug)]
pub struct Wish<'a> {
    /// As far as it is known.
    pub model: &'a Model,
    /// What it was fitted to.
    pub trials: &'a [Trial],
    /// Of each pigment that may be used the highest load, grams per 100 g of mixed coating.
    pub most: BTreeMap<String, f64>,
    /// On which ground predictions are wanted.
    pub ground: String,
    /// How much is laid, grams per square metre.
    pub g_per_m2: f64,
    /// A colour near which predictions are wanted; none: over the whole library.
    pub target: Option<Lab>,
    /// Grounds without a control, with how many swatches can't be used for lack of it.
    pub missing: Vec<(String, usize)>,
    /// How many patches.
    pub count: usize,
}

/// What kind of trial it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The coating without pigment, on a ground that has none.
    Control,
    /// One pigment.
    Alone,
    /// Several.
    Mixture,
    /// One pigment on another ground than the one that is coated.
    OtherGround,
}

/// A trial worth making.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// What to lay.
    pub coat: Coat,
    /// What kind it is.
    pub kind: Kind,
    /// Its colour as far as it is known; none where nothing is.
    pub expected: Option<Lab>,
    /// Mean U95 of the predictions once this and all before it are measured, ΔE00.
    pub mean_u95: f64,
    /// Why, as a full sentence.
    pub why: String,
}

/// What to try next.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// The most telling first.
    pub proposals: Vec<Proposal>,
    /// Mean U95 of the predictions as it is, ΔE00.
    pub mean_u95: f64,
    /// Over how many colours.
    pub colours: usize,
    /// What a reader must know, as full sentences.
    pub notes: Vec<String>,
}

/// Why nothing can be proposed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NextError {
    /// No pigment may be used.
    #[error("no pigment is left to try")]
    NoPigment,
    /// The ground isn't in the model.
    #[error("there is no control on {ground}, so that nothing is known of colours on it")]
    NoGround {
        /// Its name.
        ground: String,
    },
    /// All is measured.
    #[error(
        "every load and mixture within the tested limits that would be tried is measured already"
    )]
    AllMeasured,
}

impl NextError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoPigment => "Measure a patch of a pigment at any load first.",
            Self::NoGround { .. } => {
                "Measure a patch of clear coating on it (control = \"clear\")."
            }
            Self::AllMeasured => {
                "Note with `masstone library note` how patches with higher loads cured: that raises the limits; or paint a second specimen of what is measured."
            }
        }
    }
}

/// The trials that tell most.
///
/// # Errors
/// If there is nothing to try: see [`NextError`].
pub fn next(wish: &Wish<'_>) -> Result<Next, NextError> {
    if wish.model.ground(&wish.ground).is_none() {
        return Err(NextError::NoGround {
            ground: wish.ground.clone(),
        });
    }
    let model = coats::with_primers(wish.model);
    let ranges = Ranges::of(wish);
    if ranges.all.is_empty() {
        return Err(NextError::NoPigment);
    }
    let wanted = interests(wish, &ranges);
    let tried = candidates(wish, &ranges);
    let mut next = Next {
        proposals: coats::controls(wish),
        mean_u95: 0.0,
        colours: wanted.len(),
        notes: coats::notes(wish, &ranges),
    };
    if tried.is_empty() && next.proposals.is_empty() {
        return Err(NextError::AllMeasured);
    }
    let all: Vec<Coat> = (wanted.iter().chain(tried.iter().map(|it| &it.coat)))
        .cloned()
        .collect();
    // All of them are made of the model's own pigments and grounds.
    let joint = Joint::of(&model, &all).ok_or(NextError::NoPigment)?;
    let mut state = State::of(wish, joint, &wanted);
    next.mean_u95 = state.mean_u95();
    for it in &mut next.proposals {
        it.mean_u95 = next.mean_u95;
    }
    let mut left: Vec<usize> = (0..tried.len()).collect();
    let mut controlled: Vec<&str> = Vec::new();
    while next.proposals.len() < wish.count && !left.is_empty() {
        let room = wish.count - next.proposals.len();
        let price = |it: usize| {
            let ground = tried[it].coat.ground.as_str();
            let known = wish.model.ground(ground).is_some() || controlled.contains(&ground);
            if known { 1_u8 } else { 2 }
        };
        let worth = |it: &usize| state.gain(*it) / f64::from(price(*it));
        let affordable = left
            .iter()
            .copied()
            .filter(|it| usize::from(price(*it)) <= room);
        // The first of equals, whatever rounding says of them elsewhere.
        let best = affordable.reduce(|best, it| if worth(&it) > worth(&best) { it } else { best });
        let Some(best) = best else {
            break;
        };
        let new_ground = price(best) == 2;
        state.measure(best);
        let after = state.mean_u95();
        let chosen = &tried[best];
        if new_ground {
            controlled.push(&chosen.coat.ground);
            next.proposals.push(coats::control_of(&chosen.coat, after));
        }
        next.proposals.push(Proposal {
            coat: chosen.coat.clone(),
            kind: chosen.kind,
            expected: wish.model.colour(&chosen.coat),
            mean_u95: after,
            why: chosen.why.clone(),
        });
        left.retain(|it| *it != best);
    }
    next.proposals.truncate(wish.count);
    Ok(next)
}

/// What is known while trials are chosen.
struct State {
    joint: Joint,
    /// ΔE00's metric at each wanted colour.
    wanted: Vec<Matrix>,
    /// What each is off by together with all trials, and further ones.
    common: Vec<Matrix>,
    /// Of a measured colour.
    noise: Matrix,
}

impl State {
    fn of(wish: &Wish<'_>, joint: Joint, wanted: &[Coat]) -> Self {
        let count = wish.trials.len().max(1) as f64;
        let colours = joint.colours.iter().take(wanted.len());
        Self {
            common: (wanted.iter())
                .map(|it| wish.model.common(it).unwrap_or_else(|_| Matrix::zeros()))
                .collect(),
            wanted: colours.map(|it| local_metric(*it)).collect(),
            noise: wish.trials.iter().map(|it| it.covariance).sum::<Matrix>() / count,
            joint,
        }
    }

    /// By how much the sum of the wanted variances shrinks when a candidate is measured.
    fn gain(&self, candidate: usize) -> f64 {
        let index = self.wanted.len() + candidate;
        let told = self.wanted.iter().enumerate().map(|(other, metric)| {
            let told = self.joint.told(index, &self.noise, other);
            metric.component_mul(&told).sum()
        });
        told.sum()
    }

    fn measure(&mut self, candidate: usize) {
        let index = self.wanted.len() + candidate;
        self.joint.measure(index, &self.noise);
    }

    fn mean_u95(&self) -> f64 {
        let all = (0..self.wanted.len()).map(|index| {
            let lab = self.joint.colours[index];
            let covariance = self.joint.own(index) + self.common[index];
            uncertainty::u95(lab, &covariance).unwrap_or(f64::INFINITY)
        });
        all.sum::<f64>() / self.wanted.len().max(1) as f64
    }
}
