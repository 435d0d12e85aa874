//! Trials of several pigments that were each tried alone: what they add to that.
//!
//! A library ties its pigments together by such trials, and to fit all of them at once would take long. So each pigment is fitted to
//! its own trials first, and mixtures then correct what these leave open, all at once and as straight lines: a trial of a mixture bears on
//! that mixture and those like it, and by what it says of the pigments on every other that has them.

use super::evidence::Evidence;
use super::group::{FINEST, ROUNDS};
use super::model::{Coat, Model};
use super::residual::{Contradiction, Off, left_out, widened};
use super::solve::vector;
use super::trial::Trial;
use super::view::View;
use super::{common, doubt, group};
use crate::colour::Matrix;
use crate::colour::difference::delta_e_2000;
use nalgebra::{DMatrix, DVector, Vector3};

/// All mixtures of a model's pigments that were measured.
#[derive(Clone, Debug)]
pub(super) struct Mixed {
    /// Which trials, by index.
    pub(super) trials: Vec<usize>,
    views: Vec<View>,
    /// Covariance of each as the solution takes it: wider where a trial contradicts the others.
    noise: Vec<Matrix>,
    inverse: DMatrix<f64>,
    pull: DVector<f64>,
    /// Covariance of what they are off by the film's law.
    law: DMatrix<f64>,
    /// ΔE00 of each trial from what all others say of it.
    pub(super) left_out: Vec<f64>,
    /// Trials that contradict the others: which of these.
    pub(super) contradicts: Vec<Contradiction>,
}

impl PartialEq for Mixed {
    fn eq(&self, other: &Self) -> bool {
        // The rest follows from these and the groups.
        self.trials == other.trials
    }
}

impl Mixed {
    /// Of the trials of these indices; `None` where their figures are so extreme that nothing can be solved.
    pub(super) fn of(model: &Model, trials: Vec<usize>) -> Option<Self> {
        let evidence = &model.evidence;
        let all: Vec<&Trial> = trials.iter().map(|it| &evidence.trials[*it]).collect();
        let views: Vec<View> = (all.iter())
            .map(|it| View::of(model, &coat(it)))
            .collect::<Option<_>>()?;
        let n = all.len();
        let mut before = DMatrix::zeros(3 * n, 3 * n);
        let mut law = DMatrix::zeros(3 * n, 3 * n);
        let mut by = DVector::zeros(3 * n);
        for i in 0..n {
            let off = vector(all[i].lab) - views[i].lab();
            by.fixed_rows_mut::<3>(3 * i).copy_from(&off);
            for j in 0..=i {
                let block = views[i].covariance(&views[j], evidence);
                before
                    .fixed_view_mut::<3, 3>(3 * i, 3 * j)
                    .copy_from(&block);
                before
                    .fixed_view_mut::<3, 3>(3 * j, 3 * i)
                    .copy_from(&block.transpose());
                let block = views[i].by_law(&views[j], evidence);
                law.fixed_view_mut::<3, 3>(3 * i, 3 * j).copy_from(&block);
                law.fixed_view_mut::<3, 3>(3 * j, 3 * i)
                    .copy_from(&block.transpose());
            }
            let hand = doubt::of_hand(&views[i].sight.pigments);
            let mut view = before.fixed_view_mut::<3, 3>(3 * i, 3 * i);
            view += hand;
        }
        let stated: Vec<Matrix> = (all.iter())
            .map(|it| it.covariance + Matrix::identity() * FINEST)
            .collect();
        let mut noise = stated.clone();
        let mut rounds = ROUNDS;
        let (inverse, pull, off) = loop {
            let mut whole = before.clone();
            for (i, it) in noise.iter().enumerate() {
                let mut view = whole.fixed_view_mut::<3, 3>(3 * i, 3 * i);
                view += it;
            }
            let inverse = whole.cholesky()?.inverse();
            let pull = &inverse * &by;
            let off = left_out(&inverse, &pull)?;
            rounds -= 1;
            let Some(wider) = widened(&stated, &noise, &off).filter(|_| rounds > 0) else {
                break (inverse, pull, off);
            };
            noise = wider;
        };
        let contradicts = (0..n)
            .filter_map(|i| {
                let off = off[i].as_stated(&noise[i], &stated[i])?;
                off.contradiction(i, all[i].lab)
            })
            .collect();
        Some(Self {
            views,
            inverse,
            pull,
            law,
            left_out: (all.iter().zip(&off))
                .map(|(it, off)| away(it, off))
                .collect(),
            contradicts,
            noise,
            trials,
        })
    }

    /// What was laid, and how unsure its colour is.
    pub(super) fn measured(&self, evidence: &Evidence) -> Vec<(Coat, Matrix)> {
        let trials = self.trials.iter().map(|it| coat(&evidence.trials[*it]));
        trials.zip(self.noise.iter().copied()).collect()
    }

    /// What mixtures say of a coat; how that moves with what was measured is added to `slopes`.
    pub(super) fn told(&self, view: &View, evidence: &Evidence, slopes: &mut [Matrix]) -> Told {
        let mut with = DMatrix::zeros(3 * self.views.len(), 3);
        let mut with_law = DMatrix::zeros(3 * self.views.len(), 3);
        for (i, it) in self.views.iter().enumerate() {
            let block = it.covariance(view, evidence);
            with.fixed_rows_mut::<3>(3 * i).copy_from(&block);
            with_law
                .fixed_rows_mut::<3>(3 * i)
                .copy_from(&it.by_law(view, evidence));
        }
        let off = with.tr_mul(&self.pull);
        let weights = &self.inverse * &with;
        for (i, (trial, it)) in self.trials.iter().zip(&self.views).enumerate() {
            let by: Matrix = weights.fixed_view::<3, 3>(3 * i, 0).transpose();
            slopes[*trial] += by;
            common::add(slopes, &-by, &it.by_source);
        }
        let told = with.tr_mul(&weights);
        // By the law both coats are off, and what is taken of one is off by the law, too.
        let crossed = with_law.tr_mul(&weights);
        let law = &crossed + crossed.transpose() - weights.tr_mul(&(&self.law * &weights));
        Told {
            off: Vector3::new(off[0], off[1], off[2]),
            known: told.fixed_view::<3, 3>(0, 0).into_owned(),
            law: law.fixed_view::<3, 3>(0, 0).into_owned(),
        }
    }
}

/// What mixtures say of a coat.
pub(super) struct Told {
    /// What they add to its colour.
    pub(super) off: Vector3<f64>,
    /// What they take from its covariance.
    pub(super) known: Matrix,
    /// What they take of the film's law's part of that.
    pub(super) law: Matrix,
}

/// ΔE00 of a trial from what the others say of it.
fn away(trial: &Trial, off: &Off) -> f64 {
    delta_e_2000(trial.lab, group::colour(vector(trial.lab) - off.by))
}

fn coat(trial: &Trial) -> Coat {
    Coat {
        pigments: trial.pigments.clone(),
        g_per_m2: trial.g_per_m2,
        ground: trial.ground.clone(),
    }
}
