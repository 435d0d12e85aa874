//! The colour of a coat that was not measured, with what is known and what isn't.

use super::error::{PredictError, by_nearness};
use super::fit::{amounts, summed};
use super::model::{Coat, Model, Prediction, Reach};
use super::prior::Logs;
use super::sight::{self, Sight};
use super::solve::{shared, spread};
use crate::colour::{Matrix, uncertainty};
use nalgebra::DMatrix;

impl Model {
    /// The colour of a coat, its uncertainty, and how far it lies from what was measured.
    ///
    /// # Errors
    /// [`PredictError`] for a pigment or a ground that the model hasn't, and for loads and amounts that make no sense.
    pub fn predict(&self, coat: &Coat) -> Result<Prediction, PredictError> {
        let coat = self.sensible(coat)?;
        let sight = self.sight(&coat);
        let mut covariance = Matrix::identity() * 0.25;
        let (_, amounts) = amounts(coat.g_per_m2, &coat.pigments);
        for group in &self.evidence.groups {
            let slot = |id: &str| group.pigments.iter().position(|it| it == id);
            let (mut parts, mut slopes, mut spreads) = (Vec::new(), Vec::new(), Vec::new());
            for ((load, amount), by) in coat.pigments.iter().zip(&amounts).zip(&sight.pigments) {
                if let Some(slot) = slot(&load.pigment) {
                    parts.push((slot, *amount));
                    spreads.push(spread(by, group.priors[slot]));
                    slopes.push(by.clone());
                }
            }
            if parts.is_empty() {
                continue;
            }
            let n = group.data.len();
            let mut with = DMatrix::zeros(3 * n, 3);
            for (i, datum) in group.data.iter().enumerate() {
                let block = shared(&datum.parts, &group.solved.reach[i], &parts, &slopes);
                with.fixed_rows_mut::<3>(3 * i).copy_from(&block);
            }
            let told = with.transpose() * &group.solved.inverse * &with;
            covariance += shared(&parts, &spreads, &parts, &slopes) - told.fixed_view::<3, 3>(0, 0);
        }
        Ok(Prediction {
            lab: sight.lab,
            covariance,
            u95: uncertainty::u95(sight.lab, &covariance).unwrap_or(f64::INFINITY),
            reach: Reach::Between,
            distance: f64::INFINITY,
            left_out: None,
            notes: Vec::new(),
        })
    }

    fn sight(&self, coat: &Coat) -> Sight {
        let (mixed, amounts) = amounts(coat.g_per_m2, &coat.pigments);
        let logs: Vec<[Logs; 2]> = (coat.pigments.iter())
            .map(|it| {
                let optics = &self.pigment(&it.pigment).expect("checked").optics;
                [&optics.k, &optics.s].map(|it| Logs::from_fn(|band, _| it[band].max(1e-300).ln()))
            })
            .collect();
        let parts = logs.iter().zip(&amounts);
        let parts = parts.map(|([k, s], amount)| (k, s, *amount));
        let ground = self.ground(&coat.ground).expect("checked");
        sight::look(&self.coating, mixed, parts, &ground.reflectance)
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
