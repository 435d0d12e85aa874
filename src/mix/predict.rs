//! The colour of a coat that was not measured, with what is known and what isn't.

use super::error::{PredictError, by_nearness};
use super::fit::summed;
use super::model::{Coat, Model, Prediction};
use super::reach;
use super::solve::vector;
use super::view::{View, look};
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::Vector3;

impl Model {
    /// The colour of a coat, its uncertainty, and how far it lies from what was measured.
    ///
    /// # Errors
    /// [`PredictError`] for a pigment or a ground that the model hasn't, and for loads and amounts that make no sense.
    pub fn predict(&self, coat: &Coat) -> Result<Prediction, PredictError> {
        let coat = self.sensible(coat)?;
        let (lab, covariance) = self.thought(&coat);
        let lab = Lab::new(lab.x, lab.y, lab.z);
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

    fn thought(&self, coat: &Coat) -> (Vector3<f64>, Matrix) {
        let evidence = &self.evidence;
        let Some(view) = View::of(self, coat) else {
            return (vector(look(self, coat).lab), Matrix::zeros());
        };
        let (mut lab, mut covariance) = (view.lab(), view.covariance(&view, evidence));
        if let Some(it) = evidence
            .mixed
            .as_ref()
            .filter(|_| !coat.pigments.is_empty())
        {
            let (off, told) = it.told(&view, evidence);
            lab += off;
            covariance -= told;
        }
        covariance *= view.factor(evidence);
        (lab, (covariance + covariance.transpose()) / 2.0)
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
