//! The colour of a coat that was not measured, with what is known and what isn't.

use super::common;
use super::error::{PredictError, by_nearness};
use super::fit::summed;
use super::model::{Coat, Model, Prediction};
use super::reach;
use super::solve::vector;
use super::view::{View, look};
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::Vector3;

/// What is thought of a coat.
pub(super) struct Thought {
    /// L*, a*, b*.
    lab: Vector3<f64>,
    /// Covariance of what the trials leave open, as the fit weighs them.
    open: Matrix,
    /// By how much that is larger than the fit has it.
    factor: f64,
    /// How the colour moves with each thing that was measured, as [`Common`](super::common::Common) counts them.
    pub(super) slopes: Vec<Matrix>,
}

impl Model {
    /// The colour of a coat, its uncertainty, and how far it lies from what was measured.
    ///
    /// # Errors
    /// [`PredictError`] for a pigment or a ground that the model hasn't, and for loads and amounts that make no sense.
    pub fn predict(&self, coat: &Coat) -> Result<Prediction, PredictError> {
        let coat = self.sensible(coat)?;
        let thought = self.thought(&coat);
        let lab = Lab::new(thought.lab.x, thought.lab.y, thought.lab.z);
        let covariance =
            thought.open + self.evidence.common.beyond(&thought.slopes, thought.factor);
        Ok(Prediction {
            lab,
            covariance,
            u95: uncertainty::u95(lab, &covariance).unwrap_or(f64::INFINITY),
            reach: reach::of(self, &coat),
            distance: reach::distance(self, &coat),
            left_out: self.left_out(&coat),
            notes: self.notes_on(&coat),
        })
    }

    /// What the colours of coats are off by together with all trials, beyond what these leave open.
    ///
    /// # Errors
    /// As [`predict`](Self::predict).
    pub(super) fn common(&self, coat: &Coat) -> Result<Matrix, PredictError> {
        let thought = self.thought(&self.sensible(coat)?);
        Ok(self.evidence.common.beyond(&thought.slopes, thought.factor))
    }

    /// Of a coat whose pigments, each once, and ground are in the model.
    pub(super) fn thought(&self, coat: &Coat) -> Thought {
        let evidence = &self.evidence;
        let Some(view) = View::of(self, coat) else {
            return Thought {
                lab: vector(look(self, coat).lab),
                open: Matrix::zeros(),
                slopes: evidence.common.none(),
                factor: 1.0,
            };
        };
        let (mut lab, mut open) = (view.lab(), view.covariance(&view, evidence));
        let mut slopes = evidence.common.none();
        common::add(&mut slopes, &Matrix::identity(), &view.by_source);
        if let Some(it) = evidence
            .mixed
            .as_ref()
            .filter(|_| !coat.pigments.is_empty())
        {
            let told = it.told(&view, evidence, &mut slopes);
            lab += told.off;
            open -= told.known;
        }
        let factor = view.factor(evidence);
        Thought {
            lab,
            open: (open + open.transpose()) * (factor / 2.0),
            slopes,
            factor,
        }
    }

    fn sensible(&self, coat: &Coat) -> Result<Coat, PredictError> {
        if !(coat.g_per_m2.is_finite() && coat.g_per_m2 > 0.0) {
            return Err(PredictError::Amount {
                g_per_m2: coat.g_per_m2,
            });
        }
        if self.ground(&coat.ground).is_none() {
            return Err(PredictError::Ground {
                ground: coat.ground.clone(),
                known: by_nearness(&coat.ground, self.grounds.iter().map(|it| &*it.name)),
            });
        }
        for it in &coat.pigments {
            if !(it.load.is_finite() && it.load >= 0.0) {
                return Err(PredictError::Load {
                    pigment: it.pigment.clone(),
                    load: it.load,
                });
            }
            if self.pigment(&it.pigment).is_none() {
                return Err(PredictError::Pigment {
                    pigment: it.pigment.clone(),
                    known: by_nearness(&it.pigment, self.pigments.iter().map(|it| &*it.id)),
                });
            }
        }
        Ok(Coat {
            pigments: summed(&coat.pigments),
            ..coat.clone()
        })
    }
}
