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
    pub(super) open: Matrix,
    /// By how much that is larger than the fit has it, but for what the film's law is off by.
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
        let mut law = view.by_law(&view, evidence);
        let mut slopes = evidence.common.none();
        common::add(&mut slopes, &Matrix::identity(), &view.by_source);
        if let Some(it) = evidence
            .mixed
            .as_ref()
            .filter(|_| !coat.pigments.is_empty())
        {
            let told = it.told(&view, evidence, &mut slopes);
            let wider = it.widening(view.company(evidence));
            lab += told.off;
            open = open * wider - told.known;
            law = law * wider - told.law;
        }
        let factor = view.factor(evidence);
        // What pigments' trials are off from one another says nothing of the film's law. Mixtures may tell of one more than of both together, and a great
        // factor would make much of that.
        let rest = common::positive(&(open - law));
        Thought {
            lab,
            open: rest * factor + common::positive(&law),
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

#[cfg(test)]
mod tests {
    use super::super::fit;
    use super::super::made::{self, coat, materials, shelf};
    use super::super::prior::LEVELS;
    use super::super::view;
    use super::*;

    /// Trials without any error: less than was said.
    #[test]
    fn what_the_films_law_is_off_by_stays_where_noise_was_overstated() {
        let model = fit(&shelf(&materials(), &[0.5, 1.0, 2.0, 4.0, 8.0])).expect("sound trials");
        let asked = coat(&[("red", 2.0), ("blue", 4.0)]);
        let view = View::of(&model, &asked).expect("fitted to trials");
        let thought = model.thought(&asked);
        assert!(thought.factor < 0.7, "{}", thought.factor);
        let law = view.by_law(&view, &model.evidence);
        let along = view.law.normalize();
        let of = |it: &Matrix| along.dot(&(it * along));
        let rest = view.covariance(&view, &model.evidence) - law;
        let should = of(&law) + thought.factor * of(&rest);
        let (is, scaled) = (of(&thought.open), thought.factor * (of(&law) + of(&rest)));
        assert!((is / should - 1.0).abs() < 1e-9, "{is} {should}");
        // It does matter here.
        assert!(is > 1.1 * scaled, "{is} {scaled}");
    }

    /// What the film's law is off by in one coat, it is off by in others in part: all of it where they are alike.
    #[test]
    fn what_the_films_law_is_off_by_is_in_part_each_coats_own() {
        let model = fit(&shelf(&materials(), &[0.5, 1.0, 2.0, 4.0, 8.0])).expect("sound trials");
        let view = |red: f64, blue: f64| {
            let asked = coat(&[("red", red), ("blue", blue)]);
            View::of(&model, &asked).expect("fitted to trials")
        };
        let correlation = |one: &View, other: &View| {
            let of = |a: &View, b: &View| a.by_law(b, &model.evidence).norm();
            of(one, other) / (of(one, one) * of(other, other)).sqrt()
        };
        let asked = view(2.0, 4.0);
        let near = correlation(&asked, &view(2.05, 3.9));
        let far = correlation(&asked, &view(0.5, 8.0));
        assert!(near > 0.99, "{near}");
        assert!((0.5..0.95).contains(&far), "{far}");
    }

    /// At the very coat of a pigment's only trial all levels of its scattering agree: what it is off from one of them counts once, and what they differ by
    /// elsewhere does not count here.
    #[test]
    fn a_pigments_only_trial_is_met() {
        let truth = materials();
        for load in [0.3, 1.0, 4.0, 12.0] {
            for id in ["red", "blue"] {
                let asked = coat(&[(id, load)]);
                let trials = [&coat(&[]), &asked].map(|it| made::trial_of(&truth, it));
                let model = fit(&trials).expect("sound trials");
                let group = &model.evidence.groups[0];
                assert_eq!(group.amounts[0].moves.len(), LEVELS);
                let seen = look(&model, &asked).lab;
                let (mean, moves) = view::moves(&model, &asked, group, 0, seen).expect("levels");
                let apart = moves.iter().map(|it| it.norm()).fold(mean.norm(), f64::max);
                let thought = model.thought(&asked);
                let off = (thought.lab - vector(trials[1].lab)).norm();
                assert!(off < 0.2 && apart < 0.2, "{id} {load}: {off} {apart}");
                // Half of it, of which nothing was seen, where that isn't simply half as far from the ground.
                if load < 4.0 {
                    continue;
                }
                let half = coat(&[(id, load / 2.0)]);
                let seen = look(&model, &half).lab;
                let (_, moves) = view::moves(&model, &half, group, 0, seen).expect("levels");
                let farther = moves.iter().map(|it| it.norm()).fold(0.0, f64::max);
                assert!(farther > 2.0 * apart, "{id} {load}: {farther} {apart}");
            }
        }
    }
}
