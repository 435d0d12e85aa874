//! What all trials are off by together, and what of that reaches a prediction.
//!
//! The fit weighs trials as if those of a pigment were off alike in part and all others each by itself (`doubt`). What they truly share, of
//! their photo, its correction, card and camera, is one error in all of them and doesn't average out: by how much a prediction moves when
//! all of them move at once is the sum of its slopes by each. Nobody knows which trials share it and which have one of another photo; so it
//! counts as shared by all, and what the fit makes of it stays where that is more.
//!
//! # Source
//! Propagation through slopes with covariances between what goes in: JCGM 102:2011, 6.2, from memory. That the greater of two ways to
//! share counts: a choice, no source.

use super::doubt::SHARED;
use super::ground::Wetted;
use super::group::Group;
use super::trial::Trial;
use crate::colour::Matrix;
use crate::colour::uncertainty::square_root;
use nalgebra::{SymmetricEigen, Vector3};
use std::collections::BTreeMap;

/// dLab of a coat by the Lab of sources; each once or more.
pub(super) type BySource = Vec<(usize, Matrix)>;

/// Everything that was measured, as far as the fit takes its errors for independent: trials, grounds as they are seen, and grounds as the
/// trials of each group were explained by them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Common {
    sources: Vec<Source>,
    trials: usize,
    grounds: usize,
}

#[derive(Clone, Debug, PartialEq)]
struct Source {
    /// By how much it is off together with all others: dLab by the error that all share, of which each part has variance 1.
    together: Matrix,
    /// The same part of its covariance as the fit has it.
    apart: Matrix,
    /// The fit takes those of a number for off alike in part.
    alike: Option<usize>,
}

impl Common {
    /// Of all that a model was fitted to.
    pub(super) fn of(trials: &[Trial], grounds: &[Wetted], groups: &[Group]) -> Self {
        let mut alike: Vec<Option<usize>> = vec![None; trials.len()];
        let mut numbers: BTreeMap<Vec<&str>, usize> = BTreeMap::new();
        for index in groups.iter().flat_map(|it| &it.trials) {
            let loads = trials[*index].pigments.iter();
            let ids = loads.map(|it| &*it.pigment).collect();
            let next = numbers.len();
            alike[*index] = Some(*numbers.entry(ids).or_insert(next));
        }
        let measured = trials.iter().zip(alike).map(|(it, alike)| {
            let together = square_root(&it.common).unwrap_or_else(Matrix::zeros);
            Source {
                together,
                apart: together * together,
                alike,
            }
        });
        // Directly, and once for each group.
        let below = (0..=groups.len()).flat_map(|_| grounds).map(|it| Source {
            together: it.together,
            apart: it.apart,
            alike: None,
        });
        Self {
            sources: measured.chain(below).collect(),
            trials: trials.len(),
            grounds: grounds.len(),
        }
    }

    /// A ground as a coat shows it.
    pub(super) fn seen(&self, ground: usize) -> usize {
        self.trials + ground
    }

    /// A ground as a group's trials were explained by it.
    pub(super) fn below(&self, group: usize, ground: usize) -> usize {
        self.trials + (1 + group) * self.grounds + ground
    }

    /// Slopes of nothing, to which [`add`] adds.
    pub(super) fn none(&self) -> Vec<Matrix> {
        vec![Matrix::zeros(); self.sources.len()]
    }

    /// By how much a coat of these slopes is off together with all trials: dLab by the error that all share.
    fn together(&self, slopes: &[Matrix]) -> Matrix {
        let both = self.sources.iter().zip(slopes);
        both.map(|(source, slope)| slope * source.together).sum()
    }

    /// What a coat of these slopes has beyond the fit's covariance, that being `factor` times as large as the fit has it.
    pub(super) fn beyond(&self, slopes: &[Matrix], factor: f64) -> Matrix {
        let shared = self.together(slopes);
        let mut counted = Matrix::zeros();
        let mut alike: BTreeMap<usize, Matrix> = BTreeMap::new();
        for (source, slope) in self.sources.iter().zip(slopes) {
            let apart = slope * source.apart * slope.transpose();
            match source.alike {
                None => counted += apart,
                Some(number) => {
                    counted += apart * (1.0 - SHARED);
                    *alike.entry(number).or_default() += slope * source.together;
                }
            }
        }
        counted += alike.values().map(|it| it * it.transpose()).sum::<Matrix>() * SHARED;
        positive(&(shared * shared.transpose() - counted * factor))
    }
}

/// Adds what a coat takes of sources, by way of `by`.
pub(super) fn add(slopes: &mut [Matrix], by: &Matrix, more: &BySource) {
    for (source, slope) in more {
        slopes[*source] += by * slope;
    }
}

/// The nearest covariance: without what is negative in any direction. What isn't finite stays as it is: nothing is known then.
pub(super) fn positive(it: &Matrix) -> Matrix {
    if !it.iter().all(|it| it.is_finite()) {
        return *it;
    }
    // Bounded: a number that overflows would never converge.
    let symmetric = it / 2.0 + it.transpose() / 2.0;
    let Some(found) = SymmetricEigen::try_new(symmetric, f64::EPSILON, 1000) else {
        return *it;
    };
    let kept: Vector3<f64> = found.eigenvalues.map(|it| it.max(0.0));
    found.eigenvectors * Matrix::from_diagonal(&kept) * found.eigenvectors.transpose()
}

#[cfg(test)]
mod tests {
    use super::super::made::{coat, materials, trial_of};
    use super::super::model::Coat;
    use super::super::{Prediction, fit};
    use super::*;
    use crate::colour::difference::delta_e_2000;
    use crate::colour::{Lab, uncertainty};

    /// Two controls, loads of both, two mixtures; all colours moved by `off`.
    fn trials(off: Vector3<f64>, covariance: Matrix, common: Matrix) -> Vec<Trial> {
        let mut coats = vec![coat(&[]), coat(&[])];
        for load in [0.5, 1.0, 2.0, 4.0, 8.0] {
            coats.extend([coat(&[("red", load)]), coat(&[("blue", load)])]);
        }
        coats.push(coat(&[("red", 1.0), ("blue", 3.0)]));
        coats.push(coat(&[("red", 3.0), ("blue", 1.0)]));
        let truth = materials();
        (coats.iter())
            .map(|coat| {
                let right = trial_of(&truth, coat);
                let lab = right.lab;
                Trial {
                    lab: Lab::new(lab.l + off.x, lab.a + off.y, lab.b + off.z),
                    covariance,
                    common,
                    ..right
                }
            })
            .collect()
    }

    fn asked() -> Vec<Coat> {
        vec![
            coat(&[]),
            coat(&[("red", 0.25)]),
            coat(&[("blue", 1.4)]),
            coat(&[("red", 6.0)]),
            coat(&[("red", 1.5), ("blue", 1.5)]),
            coat(&[("red", 0.3), ("blue", 2.0)]),
        ]
    }

    fn predicted(trials: &[Trial]) -> Vec<Prediction> {
        let model = fit(trials).expect("sound trials");
        let all = asked();
        let all = all.iter().map(|it| model.predict(it).expect("all known"));
        all.collect()
    }

    const OWN: f64 = 0.09;

    #[test]
    fn slopes_by_all_that_was_measured_are_those_of_small_steps() {
        const STEP: f64 = 0.02;
        // Own errors so small that no trial is doubted on the way, and shared ones so small that colours stay where they are.
        let at = |off: Vector3<f64>| {
            let common = Matrix::identity();
            predicted(&trials(off, Matrix::identity() * OWN + common, common))
        };
        let model = fit(&trials(
            Vector3::zeros(),
            Matrix::identity() * (OWN + 1.0),
            Matrix::identity(),
        ))
        .unwrap();
        for (index, coat) in asked().iter().enumerate() {
            let slopes = model.thought(coat).slopes;
            let whole = model.evidence.common.together(&slopes);
            for axis in 0..3 {
                let mut off = Vector3::zeros();
                off[axis] = STEP;
                let [up, down] =
                    [off, -off].map(|it| super::super::solve::vector(at(it)[index].lab));
                let stepped = (up - down) / (2.0 * STEP);
                let away = (stepped - whole.column(axis)).amax();
                assert!(
                    away < 0.1,
                    "{coat:?}, {axis}: {stepped} {}",
                    whole.column(axis)
                );
            }
        }
    }

    #[test]
    fn an_error_that_all_share_reaches_a_prediction_whole() {
        // A card that is off: 4 in L*, a* and b* each, one standard deviation, and little beside.
        const SIZE: f64 = 4.0;
        let common = Matrix::identity() * SIZE.powi(2);
        let covariance = Matrix::identity() * OWN + common;
        let right = predicted(&trials(Vector3::zeros(), covariance, common));
        let truth = materials();
        for axis in 0..3 {
            for sd in [-1.9, 1.9] {
                let mut off = Vector3::zeros();
                off[axis] = sd * SIZE;
                let moved = predicted(&trials(off, covariance, common));
                for (coat, it) in asked().iter().zip(moved) {
                    let away = delta_e_2000(it.lab, truth.colour(coat).expect("known"));
                    assert!(away <= it.u95, "{coat:?}: {away} {}", it.u95);
                }
            }
        }
        // The fit doesn't know of it: colours are the same.
        let apart = predicted(&trials(Vector3::zeros(), covariance, Matrix::zeros()));
        for (one, other) in right.iter().zip(&apart) {
            assert!(delta_e_2000(one.lab, other.lab) < 1e-9);
        }
        for (coat, it) in asked().iter().zip(&right) {
            let whole = uncertainty::u95(it.lab, &common).expect("a covariance");
            assert!(it.u95 >= 0.95 * whole, "{coat:?}: {} of {whole}", it.u95);
        }
    }

    #[test]
    fn errors_of_each_trial_by_itself_average() {
        let own = Matrix::identity() * 4.0;
        let found = predicted(&trials(Vector3::zeros(), own, Matrix::zeros()));
        for (coat, it) in asked().iter().zip(&found) {
            let of_one = uncertainty::u95(it.lab, &own).expect("a covariance");
            assert!(it.u95 < 0.8 * of_one, "{coat:?}: {} of {of_one}", it.u95);
        }
        // What they share comes on top of what averages, and a little of it changes little.
        let little = predicted(&trials(Vector3::zeros(), own, own * 1e-6));
        for (one, other) in found.iter().zip(&little) {
            assert!((one.u95 - other.u95).abs() < 0.01 * one.u95);
        }
    }
}
