//! What one more trial would tell: colours of coats as the trials leave them, all together, and what is left of their doubt once one of them is
//! measured.
//!
//! The model's unknowns are Gaussian once its trials are in, and a coat's colour is nearly straight in them; so the doubt that a further trial takes
//! away hangs on what it is laid with and not on what colour it will turn out to have.
//!
//! # Source
//! K. Chaloner, I. Verdinelli, *Statist. Sci.* 10 (1995) 273–304, §2: Bayesian design for what is to be predicted; one trial after the other
//! is common practice.

use super::fit::{amounts, summed};
use super::model::{Coat, Model};
use super::prior::Logs;
use super::sight::{self, ByPigment};
use super::solve::{shared, spread};
use crate::colour::{Lab, Matrix};
use nalgebra::DMatrix;

/// Colours of coats with all their covariances.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Coat by coat.
    pub colours: Vec<Lab>,
    /// Covariance of L*, a*, b* of the first, then of the second …: what the trials leave open of the model.
    pub covariance: DMatrix<f64>,
}

/// What a pigment does to a coat's colour, and the same times its prior.
struct Part {
    slot: usize,
    amount: f64,
    by: ByPigment,
    spread: ByPigment,
}

impl Joint {
    /// Of these coats; none where a pigment or a ground is not in the model.
    #[must_use]
    pub fn of(model: &Model, coats: &[Coat]) -> Option<Self> {
        let size = 3 * coats.len();
        let mut covariance = DMatrix::zeros(size, size);
        let sights: Vec<(Vec<super::trial::Load>, Vec<f64>, sight::Sight)> = (coats.iter())
            .map(|it| seen(model, it))
            .collect::<Option<_>>()?;
        for group in &model.evidence.groups {
            // Of each coat that has pigments of the group.
            let mut there: Vec<(usize, Vec<Part>)> = Vec::new();
            for (index, (loads, amounts, sight)) in sights.iter().enumerate() {
                let mut parts = Vec::new();
                for ((load, amount), by) in loads.iter().zip(amounts).zip(&sight.pigments) {
                    if let Some(slot) = group.pigments.iter().position(|it| *it == load.pigment) {
                        parts.push(Part {
                            slot,
                            amount: *amount,
                            by: by.clone(),
                            spread: spread(by, group.priors[slot]),
                        });
                    }
                }
                if !parts.is_empty() {
                    there.push((index, parts));
                }
            }
            let split = |parts: &[Part]| -> (Vec<(usize, f64)>, Vec<ByPigment>, Vec<ByPigment>) {
                (
                    parts.iter().map(|it| (it.slot, it.amount)).collect(),
                    parts.iter().map(|it| it.by.clone()).collect(),
                    parts.iter().map(|it| it.spread.clone()).collect(),
                )
            };
            let there: Vec<_> = (there.into_iter())
                .map(|(index, parts)| (index, split(&parts)))
                .collect();
            let mut with = DMatrix::zeros(3 * group.data.len(), 3 * there.len());
            for (column, (_, (parts, by, _))) in there.iter().enumerate() {
                for (row, datum) in group.data.iter().enumerate() {
                    let block = shared(&datum.parts, &group.solved.reach[row], parts, by);
                    with.fixed_view_mut::<3, 3>(3 * row, 3 * column)
                        .copy_from(&block);
                }
            }
            let told = with.transpose() * (&group.solved.inverse * &with);
            for (row, (one, (one_parts, _, one_spread))) in there.iter().enumerate() {
                for (column, (other, (other_parts, other_by, _))) in
                    there.iter().enumerate().take(row + 1)
                {
                    let block = shared(one_parts, one_spread, other_parts, other_by)
                        - told.fixed_view::<3, 3>(3 * row, 3 * column);
                    add(&mut covariance, *one, *other, &block);
                }
            }
        }
        Some(Self {
            colours: sights.into_iter().map(|it| it.2.lab).collect(),
            covariance,
        })
    }

    /// The covariance of one of the coats.
    #[must_use]
    pub fn own(&self, coat: usize) -> Matrix {
        self.between(coat, coat)
    }

    /// The covariance between two of the coats.
    #[must_use]
    pub fn between(&self, one: usize, other: usize) -> Matrix {
        (self.covariance.fixed_view::<3, 3>(3 * one, 3 * other)).into_owned()
    }

    /// By how much the covariance of `other` shrinks when `coat` is measured with this noise: what the film itself can't say of it included.
    #[must_use]
    pub fn told(&self, coat: usize, noise: &Matrix, other: usize) -> Matrix {
        let with = self.between(coat, other);
        let spread = self.own(coat) + noise;
        let weight = spread.try_inverse().unwrap_or_else(Matrix::zeros);
        with.transpose() * weight * with
    }

    /// Measures a coat, whatever its colour turns out to be: what is left of all the covariances.
    pub fn measure(&mut self, coat: usize, noise: &Matrix) {
        let spread = self.own(coat) + noise;
        let Some(weight) = spread.try_inverse() else {
            return;
        };
        let with = self.covariance.columns(3 * coat, 3).into_owned();
        self.covariance -= &with * weight * with.transpose();
    }
}

/// Puts a block into both halves of a symmetric matrix.
fn add(covariance: &mut DMatrix<f64>, one: usize, other: usize, block: &Matrix) {
    let mut view = covariance.fixed_view_mut::<3, 3>(3 * one, 3 * other);
    view += block;
    if one != other {
        let mut view = covariance.fixed_view_mut::<3, 3>(3 * other, 3 * one);
        view += block.transpose();
    }
}

/// A coat's loads, their amounts, and how it is seen.
fn seen(model: &Model, coat: &Coat) -> Option<(Vec<super::trial::Load>, Vec<f64>, sight::Sight)> {
    let loads = summed(&coat.pigments);
    let (mixed, amounts) = amounts(coat.g_per_m2, &loads);
    let logs: Vec<[Logs; 2]> = (loads.iter())
        .map(|it| {
            let optics = &model.pigment(&it.pigment)?.optics;
            Some(
                [&optics.k, &optics.s].map(|it| Logs::from_fn(|band, _| it[band].max(1e-300).ln())),
            )
        })
        .collect::<Option<_>>()?;
    let ground = model.ground(&coat.ground)?;
    let parts = (logs.iter().zip(&amounts)).map(|([k, s], amount)| (k, s, *amount));
    let sight = sight::look(&model.coating, mixed, parts, &ground.reflectance);
    Some((loads, amounts, sight))
}
