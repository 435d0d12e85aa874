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
use super::residual::{CONTRADICTION, Contradiction, Off, left_out, widened};
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
    /// By how much variances of mixtures are larger than the pigments' own trials have them, by what mixtures are off: ≥ 1.
    wider: f64,
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
/// What is known beforehand of how far mixtures are off, as if from so many of them that are as far off as was said: one that alone is measured doesn't
/// decide. A choice; with 4 watercolours were a little less often inside, with 1 a little more (`benches/mix/open`).
const BEFOREHAND: usize = 2;

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
        }
        let stated: Vec<Matrix> = (all.iter())
            .map(|it| it.covariance + Matrix::identity() * FINEST)
            .collect();
        let said = Said {
            factors: views.iter().map(|it| it.factor(evidence)).collect(),
            company: (views.iter()).map(|it| it.company(evidence)).collect(),
            hands: (views.iter())
                .map(|it| doubt::of_hand(&it.sight.pigments))
                .collect(),
            stated,
            before,
        };
        // What one that is wrong draws others off by is no part of it: so first by the median, and by the mean once that one is weighed down.
        let first = said.scatter(&said.stated, 1.0, &by, middle)?;
        let (noise, _) = said.weighed(first, &by)?;
        let wider = said.scatter(&noise, first, &by, mean)?;
        let (noise, solution) = said.weighed(wider, &by)?;
        let Solution { inverse, pull, off } = solution;
        scale(&mut law, |i| said.widening(i, wider));
        let stated = said.stated;
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

    /// By how much variances of a coat are larger that is so much of a mixture, 0–1: of one pigment alone its own trials say all.
    pub(super) fn widening(&self, company: f64) -> f64 {
        widening(company, self.wider)
    }

    /// What mixtures say of a coat; how that moves with what was measured is added to `slopes`.
    pub(super) fn told(&self, view: &View, evidence: &Evidence, slopes: &mut [Matrix]) -> Told {
        let mut with = DMatrix::zeros(3 * self.views.len(), 3);
        let mut with_law = DMatrix::zeros(3 * self.views.len(), 3);
        let here = self.widening(view.company(evidence));
        for (i, it) in self.views.iter().enumerate() {
            let wider = (here * self.widening(it.company(evidence))).sqrt();
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

/// What was said of mixtures before any was measured, and how they were measured.
#[derive(Debug)]
struct Said {
    before: DMatrix<f64>,
    /// What each is off by the hand that laid it.
    hands: Vec<Matrix>,
    stated: Vec<Matrix>,
    /// By how much each is wider by what its pigments' own trials are off.
    factors: Vec<f64>,
    /// How much of a mixture each is, 0–1.
    company: Vec<f64>,
}

/// Mixtures with what the others say of each.
#[derive(Debug)]
struct Solution {
    inverse: DMatrix<f64>,
    pull: DVector<f64>,
    off: Vec<Off>,
}

impl Said {
    /// By how much variances of this one are larger where those of mixtures are so much larger.
    fn widening(&self, which: usize, wider: f64) -> f64 {
        widening(self.company[which], wider)
    }

    fn solved(&self, wider: f64, noise: &[Matrix], by: &DVector<f64>) -> Option<Solution> {
        let mut whole = self.before.clone();
        scale(&mut whole, |i| self.widening(i, wider));
        for (i, (noise, hand)) in noise.iter().zip(&self.hands).enumerate() {
            let mut view = whole.fixed_view_mut::<3, 3>(3 * i, 3 * i);
            view += noise + hand;
        }
        let inverse = whole.cholesky()?.inverse();
        let pull = &inverse * by;
        let off = left_out(&inverse, &pull)?;
        Some(Solution { inverse, pull, off })
    }

    /// Trials that contradict the others weighed down: their covariances then, and what comes of it.
    fn weighed(&self, wider: f64, by: &DVector<f64>) -> Option<(Vec<Matrix>, Solution)> {
        let mut noise = self.stated.clone();
        let mut rounds = ROUNDS;
        loop {
            let solution = self.solved(wider, &noise, by)?;
            rounds -= 1;
            let down = widened(&self.stated, &noise, &solution.off).filter(|_| rounds > 0);
            let Some(down) = down else {
                return Some((noise, solution));
            };
            noise = down;
        }
    }

    /// By how much variances before any mixture are to be larger, by how far mixtures then are off what the others say of them; from a first
    /// guess. By what pigments' own trials are off, coats are wider anyhow. Never narrower: few agree by chance.
    ///
    /// # Source
    /// Birge's ratio, which widens by the scatter that is found: R. T. Birge, *Phys. Rev.* 40 (1932) 207–227, from memory.
    fn scatter(
        &self,
        noise: &[Matrix],
        first: f64,
        by: &DVector<f64>,
        told: fn(Vec<f64>) -> f64,
    ) -> Option<f64> {
        let mut wider = first;
        for _ in 0..ROUNDS {
            let off = self.solved(wider, noise, by)?.off;
            let far: Vec<f64> = (0..off.len())
                .map(|i| {
                    let off = off[i].as_stated(&noise[i], &self.stated[i])?;
                    Some(off.far * self.widening(i, wider) / self.factors[i].max(1.0))
                })
                .collect::<Option<_>>()?;
            wider = told(far).max(1.0);
        }
        Some(wider)
    }
}

/// How many times as large as they should be squared distances are, by their median.
fn middle(mut far: Vec<f64>) -> f64 {
    far.extend([HALF_BELOW; BEFOREHAND]);
    far.sort_by(f64::total_cmp);
    let last = far.len() - 1;
    f64::midpoint(far[last / 2], far[last - last / 2]) / HALF_BELOW
}

/// The same by their mean, in which none counts for more than one that contradicts the others about, by the median.
///
/// # Source
/// Bounded influence, as in P. J. Huber, E. M. Ronchetti, *Robust Statistics*, Wiley 2009, chapter 5; this bound is a choice.
fn mean(far: Vec<f64>) -> f64 {
    let beforehand = BEFOREHAND as f64;
    let n = beforehand + far.len() as f64;
    let most = CONTRADICTION * middle(far.clone()).max(1.0);
    let sum: f64 = far.into_iter().map(|it| it.min(most)).sum();
    (beforehand + sum / 3.0) / n
}

fn widening(company: f64, wider: f64) -> f64 {
    1.0 + company * (wider - 1.0)
}

/// Covariances of coats whose variances are so many times as large.
pub(super) fn scale(covariance: &mut DMatrix<f64>, by: impl Fn(usize) -> f64) {
    for row in 0..covariance.nrows() {
        for column in 0..covariance.ncols() {
            covariance[(row, column)] *= (by(row / 3) * by(column / 3)).sqrt();
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

#[cfg(test)]
mod tests {
    use super::super::fit;
    use super::super::made::{self, materials, shelf, trial_of};
    use super::*;

    const LOADS: [[f64; 2]; 8] = [
        [1.0, 1.0],
        [4.0, 1.0],
        [1.0, 4.0],
        [4.0, 4.0],
        [0.5, 8.0],
        [8.0, 0.5],
        [2.0, 8.0],
        [8.0, 2.0],
    ];

    fn of(red: f64, blue: f64) -> Coat {
        made::coat(&[("red", red), ("blue", blue)])
    }

    /// A shelf with mixtures, each of them off by so much in L*, a* and b*.
    fn with_mixtures(off: impl Fn(usize) -> f64) -> Model {
        let truth = materials();
        let mut trials = shelf(&truth, &[0.5, 1.0, 2.0, 4.0, 8.0]);
        for (i, [red, blue]) in LOADS.into_iter().enumerate() {
            let mut trial = trial_of(&truth, &of(red, blue));
            let by = off(i);
            for it in [&mut trial.lab.l, &mut trial.lab.a, &mut trial.lab.b] {
                *it += by;
            }
            trials.push(trial);
        }
        fit(&trials).expect("sound trials")
    }

    fn mixed(model: &Model) -> &Mixed {
        model.evidence.mixed.as_ref().expect("eight mixtures")
    }

    fn u95(model: &Model, asked: &Coat) -> f64 {
        model.predict(asked).expect("all of it was tried").u95
    }

    /// Up and down, so that no common error explains them.
    #[test]
    fn where_mixtures_are_far_off_others_are_as_much_less_sure() {
        let sound = with_mixtures(|_| 0.0);
        let (is, one) = (mixed(&sound).wider, 1.0);
        assert!((is - one).abs() < 1e-12, "{is}");
        let far = with_mixtures(|i| [8.0, -8.0][i % 2]);
        let wider = mixed(&far).wider;
        assert!(wider > 2.0, "{wider}");
        let asked = of(3.0, 0.4);
        let [before, after] = [&sound, &far].map(|it| u95(it, &asked));
        assert!(after > 1.2 * before, "{after} {before}");
        let said = |model: &Model, asked: &Coat| {
            let notes = model.predict(asked).expect("all of it was tried").notes;
            (notes.iter()).any(|it| it.contains("intervals of mixtures are up to"))
        };
        assert!(said(&far, &asked) && !said(&sound, &asked));
        assert!(!said(&far, &made::coat(&[("red", 3.0)])));
    }

    #[test]
    fn one_that_is_wrong_is_named_and_widens_little() {
        let wrong = with_mixtures(|i| if i == 3 { 25.0 } else { 0.0 });
        let found = mixed(&wrong);
        assert!(found.wider < 1.5, "{}", found.wider);
        let named: Vec<usize> = found.contradicts.iter().map(|it| it.which).collect();
        assert_eq!(named, [3]);
    }

    /// Next to nothing of a second pigment makes no step.
    #[test]
    fn a_trace_is_no_mixture() {
        let far = with_mixtures(|i| [8.0, -8.0][i % 2]);
        let [alone, trace, more] = [0.0, 0.002, 2.0].map(|blue| u95(&far, &of(3.0, blue)));
        assert!((trace / alone - 1.0).abs() < 0.02, "{trace} {alone}");
        assert!(more > 1.2 * alone, "{more} {alone}");
    }

    /// Of the median one that is far off is no part, of the mean a bounded one.
    #[test]
    fn how_far_off_they_are_is_by_their_middle_and_their_mean() {
        let far = |last: f64| vec![2.366, 0.0, 2.366, 9.0, last];
        assert!((middle(far(1e6)) - 1.0).abs() < 1e-12);
        let should = |last: f64| (2.0 + (2.366 + 2.366 + 9.0 + last) / 3.0) / 7.0;
        assert!((mean(far(1e6)) - should(16.27)).abs() < 1e-9);
        assert!((mean(far(12.0)) - should(12.0)).abs() < 1e-9);
        // One alone doesn't decide, three do.
        assert!((mean(vec![1e6]) - (2.0 + 16.27 / 3.0) / 3.0).abs() < 1e-9);
        assert!(middle(vec![1e6; 3]) > 1e5 && mean(vec![1e6; 3]) > 1e5);
    }
}
