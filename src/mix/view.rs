//! A coat as the trials of its pigments leave it: what is thought of its colour, and what two such thoughts are off by together.

use super::common::BySource;
use super::doubt::{self, Place};
use super::evidence::Evidence;
use super::fit::amounts;
use super::group::{self, Group};
use super::hides::Move;
use super::model::{Coat, Model};
use super::prior::Logs;
use super::sight::{self, ByPigment, Sight};
use super::solve::{shared, spread, vector};
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, Vector3};

/// A coat that was looked at.
#[derive(Clone, Debug)]
pub(super) struct View {
    place: Place,
    pub(super) sight: Sight,
    shares: Vec<Share>,
    /// How it changes with the film's law, less what its pigments' trials take of that.
    pub(super) law: Vector3<f64>,
    /// What its colour takes of what was measured.
    pub(super) by_source: BySource,
}

/// What a coat has to do with a group of pigments.
#[derive(Clone, Debug)]
struct Share {
    group: usize,
    /// Which of the group's pigments, and their amounts.
    parts: Vec<(usize, f64)>,
    by: Vec<ByPigment>,
    /// Slopes times the prior.
    spread: Vec<ByPigment>,
    /// Covariance with each of the group's trials, and that divided by the trials' own.
    with: DMatrix<f64>,
    told: DMatrix<f64>,
    /// What it takes by them of the film's law.
    law: Vector3<f64>,
    /// What trials nearby are off by, and so this coat too.
    off: Vector3<f64>,
    /// Where its pigments' amounts to light are known from one side only: dLab by each move, times the root of its weight.
    moved: Vec<(usize, Vec<Vector3<f64>>)>,
}

impl View {
    /// Of a coat whose pigments, each once, and ground are in the model; `None` for a model of known materials: nothing is off there.
    pub(super) fn of(model: &Model, coat: &Coat) -> Option<Self> {
        let evidence = &model.evidence;
        let mut grounds = evidence.grounds.iter().enumerate();
        let ground = grounds.find(|it| it.1.name == coat.ground)?;
        let sight = look(model, coat);
        let place = Place::of(coat.g_per_m2, &coat.pigments, ground);
        let place = place.erring_by(&|id| evidence.any(id), &|id| evidence.most(id));
        let shares: Vec<Share> = (0..evidence.groups.len())
            .filter_map(|group| Share::of(model, group, coat, &place, &sight))
            .collect();
        let by_source = by_source(evidence, &place, &sight, &shares);
        let taken: Vector3<f64> = shares.iter().map(|it| it.law).sum();
        Some(Self {
            law: sight.clear - taken,
            place,
            sight,
            shares,
            by_source,
        })
    }

    /// How much of a mixture it is, 0–1.
    pub(super) fn company(&self, evidence: &Evidence) -> f64 {
        self.place.mixed(&|id| evidence.most(id))
    }

    /// L*, a*, b* that are thought of it.
    pub(super) fn lab(&self) -> Vector3<f64> {
        vector(self.sight.lab) + self.shares.iter().map(|it| it.off).sum::<Vector3<f64>>()
    }

    /// What two coats are off by together.
    pub(super) fn covariance(&self, other: &Self, evidence: &Evidence) -> Matrix {
        let (here, there) = ((&self.place, &self.sight), (&other.place, &other.sight));
        let mut out = doubt::of_coating(here, there, &evidence.unsure);
        if self.place.ground == other.place.ground {
            let ground = &evidence.grounds[self.place.ground].covariance;
            out += self.sight.ground * **ground * other.sight.ground.transpose();
        }
        out += self.by_law(other, evidence);
        if !self.shares.is_empty() && !other.shares.is_empty() {
            out += doubt::of_model(here, there, &|id| evidence.most(id));
        }
        for one in &self.shares {
            if let Some(two) = other.shares.iter().find(|it| it.group == one.group) {
                let told = one.with.tr_mul(&two.told);
                out += shared(&one.parts, &one.spread, &two.parts, &two.by);
                out -= told.fixed_view::<3, 3>(0, 0);
                out += together(&one.moved, &two.moved);
            }
        }
        out
    }

    /// What of that is by the film's law.
    pub(super) fn by_law(&self, other: &Self, evidence: &Evidence) -> Matrix {
        let (here, there) = ((&self.place, &self.law), (&other.place, &other.law));
        doubt::of_law(here, there, &|id| evidence.most(id))
    }

    /// By how much variances are larger than the model has them, by its groups.
    pub(super) fn factor(&self, evidence: &Evidence) -> f64 {
        group::factor(self.shares.iter().map(|it| &evidence.groups[it.group]))
    }
}

impl Share {
    /// `None` where the coat has no pigment of the group.
    fn of(model: &Model, index: usize, coat: &Coat, place: &Place, sight: &Sight) -> Option<Self> {
        let evidence = &model.evidence;
        let group = &evidence.groups[index];
        let (mut parts, mut by, mut spreads) = (Vec::new(), Vec::new(), Vec::new());
        for ((id, amount), slopes) in place.amounts.iter().zip(&sight.pigments) {
            if let Some(slot) = group.pigments.iter().position(|it| it == id) {
                parts.push((slot, *amount));
                spreads.push(spread(slopes, group.priors[slot]));
                by.push(slopes.clone());
            }
        }
        if parts.is_empty() {
            return None;
        }
        let solved = &group.solved;
        let n = group.data.len();
        let most = |id: &str| evidence.most(id);
        let (mut with, mut beyond) = (DMatrix::zeros(3 * n, 3), DMatrix::zeros(3 * n, 3));
        for (i, datum) in group.data.iter().enumerate() {
            let (here, there) = ((place, sight), (&group.places[i], &solved.sights[i]));
            let block = doubt::of_model(there, here, &most)
                + doubt::of_coating(there, here, &evidence.unsure);
            beyond.fixed_rows_mut::<3>(3 * i).copy_from(&block);
            let block = block + shared(&datum.parts, &solved.reach[i], &parts, &by);
            with.fixed_rows_mut::<3>(3 * i).copy_from(&block);
        }
        let off = beyond.tr_mul(&solved.pull);
        let mut off = Vector3::new(off[0], off[1], off[2]);
        let mut moved = Vec::new();
        for (slot, _) in &parts {
            if let Some((mean, moves)) = moves(model, coat, group, *slot, sight.lab) {
                off += mean;
                moved.push((*slot, moves));
            }
        }
        let told = &solved.inverse * &with;
        let mut law = Vector3::zeros();
        for (i, sight) in solved.sights.iter().enumerate() {
            law += told.fixed_view::<3, 3>(3 * i, 0).tr_mul(&sight.clear);
        }
        Some(Self {
            group: index,
            told,
            law,
            off,
            moved,
            parts,
            by,
            spread: spreads,
            with,
        })
    }
}

/// By slot, how far a coat's colour lies from its average by each move.
pub(super) type Moved = [(usize, Vec<Vector3<f64>>)];

/// What two coats are off by together where their pigments' amounts to light are known from one side only.
pub(super) fn together(one: &Moved, other: &Moved) -> Matrix {
    let mut out = Matrix::zeros();
    for (slot, moves) in one {
        if let Some((_, others)) = other.iter().find(|it| it.0 == *slot) {
            let both = moves.iter().zip(others);
            out += both.map(|(a, b)| a * b.transpose()).sum::<Matrix>();
        }
    }
    out
}

/// What a coat is off by, on average, where a pigment's amount to light is known from one side only, and how far it lies from that average by each
/// move, times the root of its weight; `lab` is its colour without. None where the amount is known from both sides. What trials nearby are off is no
/// part of it: that is alike by all moves, since all of them that carry weight explain these trials equally well.
pub(super) fn moves(
    model: &Model,
    coat: &Coat,
    group: &Group,
    slot: usize,
    lab: Lab,
) -> Option<(Vector3<f64>, Vec<Vector3<f64>>)> {
    let (amount, id) = (&group.amounts[slot], &group.pigments[slot]);
    if amount.moves.is_empty() {
        return None;
    }
    let there: Vec<(Vector3<f64>, f64)> = (amount.moves.iter())
        .map(|it| {
            (
                vector(look_moved(model, coat, Some((id, it))).lab),
                it.weight,
            )
        })
        .collect();
    let whole: f64 = there.iter().map(|it| it.1).sum();
    let mean = there.iter().map(|it| it.0 * it.1).sum::<Vector3<f64>>() / whole;
    let from_mean = there.iter().map(|it| (it.0 - mean) * it.1.sqrt());
    Some((mean - vector(lab), from_mean.collect()))
}

/// How a coat's colour moves with what was measured: with its ground as it is seen, with the trials, and with the grounds by which these were
/// explained: what those are off by, the pigments mend in part.
fn by_source(evidence: &Evidence, place: &Place, sight: &Sight, shares: &[Share]) -> BySource {
    let common = &evidence.common;
    let seen = sight.ground * *evidence.grounds[place.ground].by_lab;
    let mut out = vec![(common.seen(place.ground), seen)];
    for share in shares {
        let group = &evidence.groups[share.group];
        let mut below = vec![Matrix::zeros(); evidence.grounds.len()];
        for (i, datum) in group.data.iter().enumerate() {
            let by_trial: Matrix = share.told.fixed_view::<3, 3>(3 * i, 0).transpose();
            let by_lab = &evidence.grounds[datum.ground].by_lab;
            below[datum.ground] -= by_trial * (group.solved.sights[i].ground * **by_lab);
            out.push((group.trials[i], by_trial));
        }
        for (ground, by) in below.into_iter().enumerate() {
            out.push((common.below(share.group, ground), by));
        }
    }
    out
}

/// Below this k and s have no logarithm that is of use.
const NOTHING: f64 = 1e-300;

/// A coat's colour by the film, whose pigments and ground are in the model.
pub(super) fn look(model: &Model, coat: &Coat) -> Sight {
    look_moved(model, coat, None)
}

/// The same, as if a pigment absorbed and scattered otherwise, in logarithms.
fn look_moved(model: &Model, coat: &Coat, moved: Option<(&str, &Move)>) -> Sight {
    let (mixed, amounts) = amounts(coat.g_per_m2, &coat.pigments);
    let logs: Vec<[Logs; 2]> = (coat.pigments.iter())
        .map(|it| {
            let optics = &model.pigment(&it.pigment).expect("checked").optics;
            let mut logs = [&optics.k, &optics.s]
                .map(|it| Logs::from_fn(|band, _| it[band].max(NOTHING).ln()));
            if let Some((_, by)) = moved.filter(|moved| moved.0 == it.pigment) {
                logs[0] += by.k;
                logs[1] += by.s;
            }
            logs
        })
        .collect();
    let parts = logs.iter().zip(&amounts);
    let parts = parts.map(|([k, s], amount)| (k, s, *amount));
    let ground = model.ground(&coat.ground).expect("checked");
    sight::look(&model.coating, mixed, parts, &ground.reflectance)
}

#[cfg(test)]
mod tests {
    use super::super::doubt::ANY;
    use super::super::fit;
    use super::super::made::{coat, materials, trial_of};
    use super::*;

    #[test]
    fn a_mixture_that_was_measured_errs_as_it_is_predicted() {
        let truth = materials();
        // Nobody tried red alone.
        let coats = [
            coat(&[]),
            coat(&[("blue", 2.0)]),
            coat(&[("blue", 6.0)]),
            coat(&[("red", 2.0), ("blue", 1.0)]),
            coat(&[("red", 5.0), ("blue", 3.0)]),
        ];
        for lighter in [0.0, 12.0] {
            let mut trials: Vec<_> = coats.iter().map(|it| trial_of(&truth, it)).collect();
            // Far its own way.
            trials[4].lab.l += lighter;
            let model = fit(&trials).unwrap();
            let groups = &model.evidence.groups;
            let group = groups.iter().find(|it| it.pigments.len() == 2).unwrap();
            for (which, place) in group.trials.iter().zip(&group.places) {
                let it = &model.evidence.trials[*which];
                let there = coat(
                    &(it.pigments.iter())
                        .map(|it| (it.pigment.as_str(), it.load))
                        .collect::<Vec<_>>(),
                );
                let predicted = View::of(&model, &there).unwrap();
                assert!((predicted.place.any - place.any).abs() < 1e-12);
                assert_eq!(place.any > group.any * 1.2, it.pigments.len() == 2);
            }
            assert!(group.any >= ANY);
        }
    }
}
