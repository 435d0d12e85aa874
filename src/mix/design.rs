//! What one more trial would tell: colours of coats as the trials leave them, all together, and what is left of their doubt once one of them is
//! measured.
//!
//! The model's unknowns are Gaussian once its trials are in, and a coat's colour is nearly straight in them; so the doubt that a further trial takes
//! away hangs on what it is laid with and not on what colour it will turn out to have.
//!
//! # Source
//! K. Chaloner, I. Verdinelli, *Statist. Sci.* 10 (1995) 273–304, §2: Bayesian design for what is to be predicted; one trial after the other
//! is common practice.

use super::doubt::{self, Place};
use super::evidence::Evidence;
use super::fit::{amounts, summed};
use super::ground::{ByLab, Wetted};
use super::group::{self, Group};
use super::mixed;
use super::model::{Coat, Model};
use super::prior::{Logs, Over};
use super::sight::{self, ByPigment, Sight};
use super::solve::{shared, spread};
use super::view;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, Vector3};

/// Colours of coats with all their covariances.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Coat by coat, by the film.
    pub colours: Vec<Lab>,
    /// What each would be off by the hand that lays it, as covariance.
    pub hands: Vec<Matrix>,
    /// Covariance of L*, a*, b* of the first, then of the second …: what the trials leave open, but for what they all are off by together,
    /// which no further trial by the same camera takes away.
    pub covariance: DMatrix<f64>,
    /// What of that is by the film's law.
    law: DMatrix<f64>,
    /// Whether a trial of it tells of the film's law: what pigments that were tried alone make together does.
    tells_law: Vec<bool>,
}

/// A coat with what is known of it.
struct Seen {
    /// With each pigment once.
    coat: Coat,
    place: Place,
    /// Whether its ground is one of the evidence's.
    grounded: bool,
    sight: Sight,
    /// By how much the variances are larger than the model has them.
    factor: f64,
}

/// What of a group a coat has: the pigments' slots with their amounts, slopes, slopes times prior.
struct Share {
    parts: Vec<(usize, f64)>,
    by: Vec<ByPigment>,
    spread: Vec<ByPigment>,
    /// By slot, how far moves take the coat's colour where the pigment's amount is known from one side only.
    moved: Vec<(usize, Vec<Vector3<f64>>)>,
}

impl Joint {
    /// Of these coats; none where a pigment or a ground is not in the model.
    #[must_use]
    pub fn of(model: &Model, coats: &[Coat]) -> Option<Self> {
        let evidence = &model.evidence;
        let most = |id: &str| evidence.most(id);
        let mixed: Vec<(Coat, Matrix)> = (evidence.mixed.iter())
            .flat_map(|it| it.measured(evidence))
            .collect();
        let all: Vec<Seen> = (coats.iter().chain(mixed.iter().map(|it| &it.0)))
            .map(|it| seen(model, it))
            .collect::<Option<_>>()?;
        let mut covariance = DMatrix::zeros(3 * all.len(), 3 * all.len());
        for (row, one) in all.iter().enumerate() {
            for (column, other) in all.iter().enumerate().take(row + 1) {
                let block = before(evidence, one, other, &most);
                add(&mut covariance, row, column, &block);
            }
        }
        // How each changes with the film's law, less what the trials take of that.
        let mut law: Vec<Vector3<f64>> = all.iter().map(|it| it.sight.clear).collect();
        for group in &evidence.groups {
            let there: Vec<(usize, Share)> = (all.iter().enumerate())
                .filter_map(|(index, it)| Some((index, Share::of(model, group, it)?)))
                .collect();
            let mut with = DMatrix::zeros(3 * group.data.len(), 3 * there.len());
            for (column, (index, share)) in there.iter().enumerate() {
                let coat = &all[*index];
                for (row, datum) in group.data.iter().enumerate() {
                    let reach = &group.solved.reach[row];
                    let there = (&group.places[row], &group.solved.sights[row]);
                    let here = (&coat.place, &coat.sight);
                    let block = shared(&datum.parts, reach, &share.parts, &share.by)
                        + doubt::of_model(there, here, &most)
                        + doubt::of_coating(there, here, &evidence.unsure);
                    with.fixed_view_mut::<3, 3>(3 * row, 3 * column)
                        .copy_from(&block);
                }
            }
            let weights = &group.solved.inverse * &with;
            for (column, (index, _)) in there.iter().enumerate() {
                for (row, sight) in group.solved.sights.iter().enumerate() {
                    let weight = weights.fixed_view::<3, 3>(3 * row, 3 * column);
                    law[*index] -= weight.tr_mul(&sight.clear);
                }
            }
            let told = with.tr_mul(&weights);
            for (row, (one, of_one)) in there.iter().enumerate() {
                for (column, (other, of_other)) in there.iter().enumerate().take(row + 1) {
                    let block =
                        shared(&of_one.parts, &of_one.spread, &of_other.parts, &of_other.by)
                            - told.fixed_view::<3, 3>(3 * row, 3 * column)
                            + view::together(&of_one.moved, &of_other.moved);
                    add(&mut covariance, *one, *other, &block);
                }
            }
        }
        let mut by_law = DMatrix::zeros(3 * all.len(), 3 * all.len());
        for (row, one) in all.iter().enumerate() {
            for (column, other) in all.iter().enumerate().take(row + 1) {
                let (here, there) = ((&one.place, &law[row]), (&other.place, &law[column]));
                let block = doubt::of_law(here, there, &most);
                add(&mut by_law, row, column, &block);
            }
        }
        covariance += &by_law;
        if let Some(it) = &evidence.mixed {
            let wider: Vec<f64> = (all.iter())
                .map(|coat| it.widening(coat.place.mixed(&most)))
                .collect();
            for whole in [&mut covariance, &mut by_law] {
                mixed::scale(whole, |coat| wider[coat]);
            }
        }
        let mut joint = Self {
            colours: all.iter().map(|it| it.sight.lab).collect(),
            hands: (all.iter())
                .map(|it| doubt::of_hand(&it.sight.pigments))
                .collect(),
            covariance,
            law: by_law,
            tells_law: (all.iter().map(|it| &it.coat.pigments))
                .map(|it| it.len() > 1 && it.iter().all(|it| evidence.tried_by_itself(&it.pigment)))
                .collect(),
        };
        // Mixtures correct what the pigments' own trials leave: as trials to come would.
        for (index, (_, noise)) in mixed.iter().enumerate() {
            joint.measure(coats.len() + index, noise);
        }
        Some(joint.of_first(coats.len(), &all))
    }

    /// Without the mixtures that were measured already, and as much wider as the trials are off; of the film's law these say nothing.
    fn of_first(mut self, count: usize, all: &[Seen]) -> Self {
        self.colours.truncate(count);
        self.hands.truncate(count);
        self.tells_law.truncate(count);
        let factors: Vec<f64> = all.iter().take(count).map(|it| it.factor).collect();
        for (hand, factor) in self.hands.iter_mut().zip(&factors) {
            *hand *= *factor;
        }
        let mut covariance = DMatrix::zeros(3 * count, 3 * count);
        for row in 0..count {
            for column in 0..count {
                let factor = (factors[row] * factors[column]).sqrt();
                let block = self.within_law(row, column) * factor + self.of_law(row, column);
                covariance
                    .fixed_view_mut::<3, 3>(3 * row, 3 * column)
                    .copy_from(&block);
            }
        }
        let law = (self.law.view((0, 0), (3 * count, 3 * count))).into_owned();
        Self {
            covariance,
            law,
            ..self
        }
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

    /// The film's law's part of it.
    fn of_law(&self, one: usize, other: usize) -> Matrix {
        (self.law.fixed_view::<3, 3>(3 * one, 3 * other)).into_owned()
    }

    /// The rest of it.
    fn within_law(&self, one: usize, other: usize) -> Matrix {
        self.between(one, other) - self.of_law(one, other)
    }

    /// What `other` takes of a colour of `coat` that is measured with this noise beside that of the hand. As the fit does: a pigment's own trials
    /// are weighed as if the film's law were known.
    fn weight(&self, coat: usize, noise: &Matrix, other: usize) -> Option<Matrix> {
        let of = |one: usize, other: usize| {
            if self.tells_law[coat] {
                self.between(one, other)
            } else {
                self.within_law(one, other)
            }
        };
        let spread = of(coat, coat) + self.hands[coat] + noise;
        Some(of(other, coat) * spread.try_inverse()?)
    }

    /// By how much the covariance of `other` shrinks when `coat` is measured with this noise beside that of the hand.
    #[must_use]
    pub fn told(&self, coat: usize, noise: &Matrix, other: usize) -> Matrix {
        let Some(weight) = self.weight(coat, noise, other) else {
            return Matrix::zeros();
        };
        let spread = self.own(coat) + self.hands[coat] + noise;
        taken(
            &self.covariance,
            coat,
            &spread,
            (other, &weight),
            (other, &weight),
        )
    }

    /// Measures a coat, whatever its colour turns out to be: what is left of all the covariances.
    pub fn measure(&mut self, coat: usize, noise: &Matrix) {
        let count = self.colours.len();
        let weights: Option<Vec<Matrix>> = (0..count)
            .map(|other| self.weight(coat, noise, other))
            .collect();
        let Some(weights) = weights else {
            return;
        };
        let of_hand = self.hands[coat] + noise;
        for (covariance, more) in [
            (&mut self.covariance, of_hand),
            (&mut self.law, Matrix::zeros()),
        ] {
            let spread = covariance.fixed_view::<3, 3>(3 * coat, 3 * coat) + more;
            let mut left = covariance.clone();
            for (row, by_row) in weights.iter().enumerate() {
                for (column, by_column) in weights.iter().enumerate().take(row + 1) {
                    let taken = taken(
                        covariance,
                        coat,
                        &spread,
                        (row, by_row),
                        (column, by_column),
                    );
                    add(&mut left, row, column, &-taken);
                }
            }
            *covariance = left;
        }
    }
}

/// What a coat of this spread, measured, takes of the covariance between two, each of which it moves by a weight of its own.
fn taken(
    covariance: &DMatrix<f64>,
    coat: usize,
    spread: &Matrix,
    (one, by_one): (usize, &Matrix),
    (other, by_other): (usize, &Matrix),
) -> Matrix {
    let back = by_other.transpose();
    let between = |one: usize, other: usize| covariance.fixed_view::<3, 3>(3 * one, 3 * other);
    by_one * between(coat, other) + between(one, coat) * back - by_one * spread * back
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

/// What the coating, the ground, and the model's own limits make two coats be off by together.
fn before(evidence: &Evidence, one: &Seen, other: &Seen, most: &dyn Fn(&str) -> f64) -> Matrix {
    let (here, there) = ((&one.place, &one.sight), (&other.place, &other.sight));
    let mut block = doubt::of_coating(here, there, &evidence.unsure);
    if one.grounded && one.place.ground == other.place.ground {
        let ground = &evidence.grounds[one.place.ground].covariance;
        block += one.sight.ground * **ground * other.sight.ground.transpose();
    }
    if !one.coat.pigments.is_empty() && !other.coat.pigments.is_empty() {
        block += doubt::of_model(here, there, most);
    }
    block
}

impl Share {
    /// None where the coat has no pigment of the group.
    fn of(model: &Model, group: &Group, coat: &Seen) -> Option<Self> {
        let mut share = Self {
            parts: Vec::new(),
            by: Vec::new(),
            spread: Vec::new(),
            moved: Vec::new(),
        };
        for ((id, amount), by) in coat.place.amounts.iter().zip(&coat.sight.pigments) {
            if let Some(slot) = group.pigments.iter().position(|it| it == id) {
                share.parts.push((slot, *amount));
                share.by.push(by.clone());
                share.spread.push(spread(by, group.priors[slot]));
                let moves = view::moves(model, &coat.coat, group, slot, coat.sight.lab);
                share.moved.extend(moves.map(|it| (slot, it.1)));
            }
        }
        (!share.parts.is_empty()).then_some(share)
    }
}

/// A coat as the model has it; none where a pigment or the ground is not in it.
fn seen(model: &Model, coat: &Coat) -> Option<Seen> {
    let evidence = &model.evidence;
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
    let position = model.grounds.iter().position(|it| it.name == coat.ground)?;
    let known = (evidence.grounds.get(position)).filter(|it| it.name == coat.ground);
    // A ground without a control gets one as thick as the coat.
    let to_come = Wetted {
        name: coat.ground.clone(),
        reflectance: model.grounds[position].reflectance,
        covariance: Box::new(Over::zeros()),
        by_lab: Box::new(ByLab::zeros()),
        together: Matrix::zeros(),
        apart: Matrix::zeros(),
        g_per_m2: mixed,
        coating_known: false,
        controls: 0,
        contradicts: Vec::new(),
    };
    let wetted = known.unwrap_or(&to_come);
    let parts = (logs.iter().zip(&amounts)).map(|([k, s], amount)| (k, s, *amount));
    let sight = sight::look(
        &model.coating,
        mixed,
        parts,
        &model.grounds[position].reflectance,
    );
    let of_it = |group: &&Group| loads.iter().any(|it| group.pigments.contains(&it.pigment));
    let factor = group::factor(evidence.groups.iter().filter(of_it));
    Some(Seen {
        place: Place::of(coat.g_per_m2, &loads, (position, wetted))
            .erring_by(&|id| evidence.any(id), &|id| evidence.most(id)),
        coat: Coat {
            pigments: loads,
            ..coat.clone()
        },
        grounded: known.is_some(),
        sight,
        factor,
    })
}

#[cfg(test)]
mod tests {
    use super::super::fit;
    use super::super::made::{coat, materials, shelf, trial_of};
    use super::super::trial::Trial;
    use super::super::view::View;
    use super::*;

    #[test]
    fn what_coats_on_two_grounds_are_off_by_together_is_what_views_have() {
        let truth = materials();
        let on_card = |loads: &[(&str, f64)]| Coat {
            ground: "white card".to_owned(),
            ..coat(loads)
        };
        let mut trials = shelf(&truth, &[1.0, 4.0]);
        trials.extend([on_card(&[]), on_card(&[("red", 2.0)])].map(|it| trial_of(&truth, &it)));
        let model = fit(&trials).expect("sound trials");
        let red = [("red", 3.0)];
        let coats = [coat(&red), on_card(&red)];
        let joint = Joint::of(&model, &coats).expect("all of it is known");
        let [here, there] = coats
            .each_ref()
            .map(|it| View::of(&model, it).expect("fitted"));
        let law = here.by_law(&there, &model.evidence);
        let whole = here.covariance(&there, &model.evidence);
        let should = (whole - law) * here.factor(&model.evidence) + law;
        let off = (joint.between(0, 1) - should).amax();
        assert!(off < 1e-9 * should.amax(), "{off} of {should}");
    }

    /// What mixtures leave of the film's law is worked out at once there and trial by trial here; one that is like what is asked, and one that isn't.
    /// Where they are as they should be, and where they are so far off that all mixtures are less sure.
    #[test]
    fn what_mixtures_leave_is_what_predictions_have() {
        let truth = materials();
        for (off, widened) in [(0.0, false), (12.0, true)] {
            let mut trials = shelf(&truth, &[1.0, 4.0]);
            let measured = [(1.0, 4.0, off), (4.0, 0.5, -off)].map(|(red, blue, off)| {
                let laid = coat(&[("red", red), ("blue", blue)]);
                let mut trial = trial_of(&truth, &laid);
                trial.lab.l += off;
                trial
            });
            trials.extend(measured);
            let model = fit(&trials).expect("sound trials");
            let mixed = model.evidence.mixed.as_ref().expect("two mixtures");
            assert_eq!(mixed.widening(1.0) > 1.1, widened);
            for asked in [[1.1, 3.8], [0.2, 6.0], [3.0, 3.0]] {
                let asked = coat(&[("red", asked[0]), ("blue", asked[1])]);
                let joint = Joint::of(&model, std::slice::from_ref(&asked));
                let here = joint.expect("all of it is known").own(0);
                let there = model.thought(&asked).open;
                let off = (here - there).amax();
                assert!(off < 1e-6 * there.amax(), "{off} of {there}");
            }
        }
    }

    /// Trials of single pigments say nothing of what the film's law does to mixtures: neither to a fit nor here.
    #[test]
    fn single_pigments_to_come_tell_as_much_as_those_that_came() {
        let truth = materials();
        let trials = shelf(&truth, &[1.0, 4.0]);
        let model = fit(&trials).expect("sound trials");
        let asked = coat(&[("red", 1.0), ("blue", 4.0)]);
        let more: Vec<Coat> = [0.5, 2.0, 8.0]
            .iter()
            .flat_map(|load| [coat(&[("red", *load)]), coat(&[("blue", *load)])])
            .collect();
        let all: Vec<Coat> = std::iter::once(asked).chain(more.iter().cloned()).collect();
        let mut joint = Joint::of(&model, &all).expect("all of it is known");
        let before = joint.own(0).trace();
        for index in 1..all.len() {
            joint.measure(index, &(Matrix::identity() * 0.09));
        }
        let with: Vec<Trial> = (trials.iter().cloned())
            .chain(more.iter().map(|it| trial_of(&truth, it)))
            .collect();
        let fitted = Joint::of(&fit(&with).expect("sound trials"), &all[..1]);
        let fitted = fitted.expect("all of it is known");
        let [here, there] = [&joint, &fitted].map(|it| it.of_law(0, 0).trace());
        // It moves with the slopes, which the fit draws anew; to learn it would take nearly all of it.
        assert!((0.5..2.0).contains(&(here / there)), "{here} {there}");
        let left = joint.own(0).trace();
        assert!(here < left && left < before, "{here} {left} {before}");
    }
}
