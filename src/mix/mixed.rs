//! Trials of several pigments that were each tried alone: what they add to that.
//!
//! A library ties its pigments together by such trials, and to fit all of them at once would take long. So each pigment is fitted to
//! its own trials first, and mixtures then correct what these leave open, all at once and as straight lines: a trial of a mixture bears on
//! that mixture and those like it, and by what it says of the pigments on every other that has them.
//!
//! Where mixtures are farther off than was said, all mixtures are as much less sure: pigments do in company what their own trials don't show.

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
    /// By how much variances of coats of several pigments are larger than the pigments' own trials have them, by what mixtures are off: ≥ 1.
    pub(super) wider: f64,
    inverse: DMatrix<f64>,
    pull: DVector<f64>,
    /// Covariance of what they are off by the film's law.
    law: DMatrix<f64>,
    /// ΔE00 of each trial from what all others say of it.
    pub(super) left_out: Vec<f64>,
    /// Trials that contradict the others: which of these.
    pub(super) contradicts: Vec<Contradiction>,
}

/// What half of the values of χ² with three degrees of freedom are below.
///
/// # Source
/// Tables of χ², from memory; by Wilson and Hilferty's formula 3 (1 − 2/27)³ = 2.38.
const HALF_BELOW: f64 = 2.366;
/// What is known beforehand of how much wider mixtures are, as if from so many of them. As of a pigment's trials: 12 values. A choice, no source.
const BEFOREHAND: f64 = 4.0;

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
        let factors: Vec<f64> = views.iter().map(|it| it.factor(evidence)).collect();
        let wider = wider(&before, &stated, &by, &factors)?;
        before *= wider;
        law *= wider;
        let mut noise = stated.clone();
        let mut rounds = ROUNDS;
        let (inverse, pull, off) = loop {
            let (inverse, pull) = solved(&before, &noise, &by)?;
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
            wider,
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

    /// By how much variances of a coat of so many pigments are larger: one alone is what its own trials say.
    pub(super) fn wider_of(&self, pigments: usize) -> f64 {
        if pigments > 1 { self.wider } else { 1.0 }
    }

    /// What mixtures say of a coat; how that moves with what was measured is added to `slopes`.
    pub(super) fn told(&self, view: &View, evidence: &Evidence, slopes: &mut [Matrix]) -> Told {
        let mut with = DMatrix::zeros(3 * self.views.len(), 3);
        let mut with_law = DMatrix::zeros(3 * self.views.len(), 3);
        let wider = (self.wider * self.wider_of(view.pigments())).sqrt();
        for (i, it) in self.views.iter().enumerate() {
            let block = it.covariance(view, evidence) * wider;
            with.fixed_rows_mut::<3>(3 * i).copy_from(&block);
            let block = it.by_law(view, evidence) * wider;
            with_law.fixed_rows_mut::<3>(3 * i).copy_from(&block);
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

/// Inverse of the covariance that mixtures have with this noise, and that times what they are off.
fn solved(
    before: &DMatrix<f64>,
    noise: &[Matrix],
    by: &DVector<f64>,
) -> Option<(DMatrix<f64>, DVector<f64>)> {
    let mut whole = before.clone();
    for (i, it) in noise.iter().enumerate() {
        let mut view = whole.fixed_view_mut::<3, 3>(3 * i, 3 * i);
        view += it;
    }
    let inverse = whole.cholesky()?.inverse();
    let pull = &inverse * by;
    Some((inverse, pull))
}

/// By how much the variances before any mixture are to be larger, so that half of the mixtures are as near to what the others say of them as half
/// should be. The median: one that was laid or labelled wrongly is named as such, and widens nothing but itself. Of what pigments' own trials are off,
/// by `factors`, coats are wider anyhow.
///
/// # Source
/// Birge's ratio, which widens by the scatter that is found: R. T. Birge, *Phys. Rev.* 40 (1932) 207–227, from memory; by the median in place of the
/// mean, and drawn towards 1 where mixtures are few: a choice.
fn wider(
    before: &DMatrix<f64>,
    stated: &[Matrix],
    by: &DVector<f64>,
    factors: &[f64],
) -> Option<f64> {
    let n = stated.len() as f64;
    let mut wider = 1.0;
    for _ in 0..ROUNDS {
        let (inverse, pull) = solved(&(before * wider), stated, by)?;
        let mut far: Vec<f64> = (left_out(&inverse, &pull)?.iter().zip(factors))
            .map(|(off, factor)| off.far * wider / factor.max(1.0))
            .collect();
        far.sort_by(f64::total_cmp);
        let last = far.len() - 1;
        let median = f64::midpoint(far[last / 2], far[last - last / 2]);
        let var = std::env::var("MIXVAR").unwrap_or_default();
        let parts: Vec<&str> = var.split(',').collect();
        let bh: f64 = parts.get(1).and_then(|x| x.parse().ok()).unwrap_or(BEFOREHAND);
        let told = if parts.first() == Some(&"mean") { far.iter().map(|x| x.min(60.0)).sum::<f64>() / 3.0 / n } else { median / HALF_BELOW };
        let least = if parts.get(2) == Some(&"free") { 0.0 } else { 1.0 };
        wider = f64::max(least, (bh + n * told) / (bh + n));
        if parts.first() == Some(&"off") { wider = 1.0; }
        if n > 6.5 { eprintln!("DBG n {n} wider {wider:.2} told {told:.2} {:?}", far.iter().map(|x| x.round()).collect::<Vec<_>>()); }
    }
    Some(wider)
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
