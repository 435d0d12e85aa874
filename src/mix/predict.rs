//! The colour of a coat that was not measured, with what is known and what isn't.

use super::doubt::{self, Place};
use super::error::{PredictError, by_nearness};
use super::fit::{amounts, summed};
use super::model::{Coat, Model, Prediction};
use super::prior::Logs;
use super::reach;
use super::sight::{self, Sight};
use super::solve::{shared, spread};
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::{DMatrix, Vector3};

impl Model {
    /// The colour of a coat, its uncertainty, and how far it lies from what was measured.
    ///
    /// # Errors
    /// [`PredictError`] for a pigment or a ground that the model hasn't, and for loads and amounts that make no sense.
    pub fn predict(&self, coat: &Coat) -> Result<Prediction, PredictError> {
        let coat = self.sensible(coat)?;
        let sight = self.sight(&coat);
        let (off, covariance) = self.told(&coat, &sight);
        let lab = Lab::new(
            sight.lab.l + off.x,
            sight.lab.a + off.y,
            sight.lab.b + off.z,
        );
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

    /// What trials nearby say of the coat beyond the film, and how sure they leave one.
    fn told(&self, coat: &Coat, sight: &Sight) -> (Vector3<f64>, Matrix) {
        let evidence = &self.evidence;
        let ground = evidence
            .grounds
            .iter()
            .position(|it| it.name == coat.ground);
        let Some(ground) = ground else {
            // A model of known materials.
            return (Vector3::zeros(), Matrix::zeros());
        };
        let below = &evidence.grounds[ground].covariance;
        let place = Place::of(
            coat.g_per_m2,
            &coat.pigments,
            (ground, &evidence.grounds[ground]),
        );
        let most = |id: &str| evidence.most(id);
        let here = (&place, sight);
        let mut covariance = doubt::of_ground(sight, below, sight) + doubt::of_coating(here, here);
        if !coat.pigments.is_empty() {
            covariance += doubt::of_model(here, here, &most);
        }
        let mut off = Vector3::zeros();
        let mut factors = Vec::new();
        for group in &evidence.groups {
            let (mut parts, mut slopes, mut spreads) = (Vec::new(), Vec::new(), Vec::new());
            for ((id, amount), by) in place.amounts.iter().zip(&sight.pigments) {
                if let Some(slot) = group.pigments.iter().position(|it| it == id) {
                    parts.push((slot, *amount));
                    spreads.push(spread(by, group.priors[slot]));
                    slopes.push(by.clone());
                }
            }
            if parts.is_empty() {
                continue;
            }
            let solved = &group.solved;
            let n = group.data.len();
            let (mut by_pigments, mut beyond) =
                (DMatrix::zeros(3 * n, 3), DMatrix::zeros(3 * n, 3));
            for (i, datum) in group.data.iter().enumerate() {
                let there = (&group.places[i], &solved.sights[i]);
                let block = shared(&datum.parts, &solved.reach[i], &parts, &slopes);
                by_pigments.fixed_rows_mut::<3>(3 * i).copy_from(&block);
                let block = doubt::of_model(there, here, &most) + doubt::of_coating(there, here);
                beyond.fixed_rows_mut::<3>(3 * i).copy_from(&block);
            }
            off += beyond.tr_mul(&solved.pull).fixed_rows::<3>(0);
            let with = by_pigments + beyond;
            let told = with.tr_mul(&(&solved.inverse * &with));
            covariance += shared(&parts, &spreads, &parts, &slopes) - told.fixed_view::<3, 3>(0, 0);
            factors.push(group.factor);
        }
        let factor = factors.iter().sum::<f64>() / factors.len().max(1) as f64;
        if factor > 0.0 {
            covariance *= factor;
        }
        (off, (covariance + covariance.transpose()) / 2.0)
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
