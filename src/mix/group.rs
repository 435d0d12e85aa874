//! Pigments that trials tie together, fitted to these trials: most often one pigment.

use super::bands::Spectrum;
use super::coating::Unsure;
use super::doubt::{self, ANY, Place};
use super::error::FitError;
use super::fit::amounts;
use super::ground::Wetted;
use super::hides::{self, Amount};
use super::identify;
use super::lone;
use super::model::{Known, Optics, Pigment};
use super::odd::Field;
use super::prior::{self, Prior};
use super::residual::{Contradiction, left_out, widened};
use super::scatter::{self, Scatter, Told};
use super::sight::{Sight, Slopes};
use super::solve::{self, Datum, Setting, Solved, vector};
use super::trial::Trial;
use super::uneven;
use crate::colour::difference::delta_e_2000;
use crate::colour::uncertainty::square_root;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, Vector3};
use std::collections::BTreeMap;

/// What all groups share.
#[derive(Clone, Copy, Debug)]
pub(super) struct Base<'a> {
    pub(super) coating: &'a Optics,
    pub(super) unsure: &'a Unsure,
    pub(super) grounds: &'a [Wetted],
    pub(super) trials: &'a [Trial],
    pub(super) most: &'a BTreeMap<String, f64>,
}

/// Pigments and their trials, fitted.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// Ids, in the order of the unknowns.
    pub(super) pigments: Vec<String>,
    pub(super) priors: Vec<&'static Prior>,
    /// Which trials, by index.
    pub(super) trials: Vec<usize>,
    pub(super) places: Vec<Place>,
    pub(super) data: Vec<Datum>,
    pub(super) solved: Solved,
    /// How much of each pigment there is to light.
    pub(super) amounts: Vec<Amount>,
    /// What its own trials tell of how far they are off from one another, beyond what was said.
    pub(super) told: Told,
    /// By how much variances are larger than the model has them, by that and by what the other groups' trials tell: 1 where all is as said.
    pub(super) factor: f64,
    /// What films of each of its pigments are off by wherever they are, in L*, a* and b* each.
    pub(super) any: f64,
    /// ΔE00 of each trial from what the others say of it; empty where there are no others.
    pub(super) left_out: Vec<f64>,
    /// Trials that contradict the others: which of its own.
    pub(super) contradicts: Vec<Contradiction>,
}

impl PartialEq for Group {
    fn eq(&self, other: &Self) -> bool {
        // The rest follows from these.
        self.pigments == other.pigments && self.data == other.data
    }
}

/// Variance that is left where a trial says it has none: of 0.01, finer than any instrument.
pub(super) const FINEST: f64 = 1e-4;
/// How often weights are made anew.
pub(super) const ROUNDS: usize = 5;
/// The factor of a mixture that alone tells of its pigments: far from it, straight lines say too little. Fitted to simulated films (their study seeds).
const LONE: f64 = 1.3;

impl Group {
    /// Fits the trials of these indices.
    ///
    /// # Errors
    /// [`FitError::NoAnswer`] where figures are so extreme that nothing can be solved.
    pub(super) fn fit(
        base: &Base<'_>,
        pigments: Vec<String>,
        which: Vec<usize>,
    ) -> Result<Self, FitError> {
        let refused = FitError::NoAnswer {
            what: pigments.join(", "),
        };
        Self::try_fit(base, pigments, which).ok_or(refused)
    }

    fn try_fit(base: &Base<'_>, pigments: Vec<String>, which: Vec<usize>) -> Option<Self> {
        let trials: Vec<&Trial> = which.iter().map(|index| &base.trials[*index]).collect();
        let mut data: Vec<Datum> = trials
            .iter()
            .map(|it| datum(it, &pigments, base.grounds))
            .collect();
        let most = |id: &str| base.most.get(id).copied().unwrap_or(0.0);
        // As predictions have it: what is predicted of a measured mixture is that mixture.
        let erring = |place: Place, any: f64| place.erring_by(&|_| any, &most);
        let mut places: Vec<Place> = (trials.iter().zip(&data))
            .map(|(it, datum)| {
                let ground = (datum.ground, &base.grounds[datum.ground]);
                erring(Place::of(it.g_per_m2, &it.pigments, ground), ANY)
            })
            .collect();
        let below: Vec<Spectrum> = base.grounds.iter().map(|it| it.reflectance).collect();
        let single: Vec<bool> = pigments.iter().map(|id| alone(id, &trials)).collect();
        let is_lone = single[..] == [true];
        if is_lone {
            as_one_coat(&mut data);
        }
        let mut priors: Vec<&Prior> = (single.iter())
            .map(|it| if *it { prior::flat() } else { prior::usual() })
            .collect();
        let stated: Vec<Matrix> = data.iter().map(|it| it.noise).collect();
        let mut rounds = ROUNDS;
        let mut start = None;
        let mut as_stated = None;
        let mut levels = None;
        let (mut solved, before) = loop {
            let doubt = |sights: &[Sight]| doubts(base, &data, &places, sights);
            let solved = if is_lone {
                let found = lone::fit(base.coating, &below, &data, &doubt)?;
                priors = vec![found.prior];
                levels = Some(found.amount);
                found.solved
            } else {
                solve::solve(setting(base, &below, &priors), &data, start, &doubt)?
            };
            let off = left_out(&solved.inverse, &solved.pull)?;
            // One coat goes no way of its own.
            let odd = if data.len() > 1 && !is_lone {
                Field::of(&solved, &places, &most)?.left_out()?
            } else {
                off.clone()
            };
            as_stated.get_or_insert_with(|| off.clone());
            rounds -= 1;
            let now: Vec<Matrix> = data.iter().map(|it| it.noise).collect();
            // One alone is off from what is usual, and contradicts nobody.
            let wider = widened(&stated, &now, &odd).filter(|_| rounds > 0 && data.len() > 1);
            let Some(wider) = wider else {
                break (solved, off);
            };
            for (datum, noise) in data.iter_mut().zip(wider) {
                datum.noise = noise;
            }
            start = Some(solved.pigments);
        };
        // What trials that aren't wrong are off by beyond chance, films of these pigments are.
        let mut off = before.clone();
        let any = match data.len() {
            1 => ANY,
            _ if is_lone => ANY,
            _ => Field::of(&solved, &places, &most)?.amplitude()?,
        };
        if any > ANY {
            places = places.into_iter().map(|it| erring(it, any)).collect();
            let doubt = |sights: &[Sight]| doubts(base, &data, &places, sights);
            let start = Some(solved.pigments);
            solved = solve::solve(setting(base, &below, &priors), &data, start, &doubt)?;
            off = left_out(&solved.inverse, &solved.pull)?;
        }
        // One coat says nothing of how uneven spectra are.
        if data.len() > 1 && !single.contains(&true) {
            priors = vec![prior::uneven(uneven::told(&solved, &data)?); pigments.len()];
            let doubt = |sights: &[Sight]| doubts(base, &data, &places, sights);
            let start = solved.pigments.iter().map(|it| it.with(priors[0]));
            let start = Some(start.collect());
            solved = solve::solve(setting(base, &below, &priors), &data, start, &doubt)?;
            off = left_out(&solved.inverse, &solved.pull)?;
        }
        let amounts: Vec<Amount> = if let Some(levels) = levels {
            vec![levels]
        } else {
            let setting = setting(base, &below, &priors);
            let weight = doubts(base, &data, &places, &solved.sights)
                .cholesky()?
                .inverse();
            (0..pigments.len())
                .map(|slot| hides::amount(setting, &data, &solved.pigments, slot, &weight))
                .collect()
        };
        for ((guess, amount), prior) in solved.pigments.iter_mut().zip(&amounts).zip(&priors) {
            guess.shift(prior, amount.mean, amount.mean);
        }
        let scatter = Scatter {
            far: off.iter().map(|it| it.far).sum(),
            values: 3.0 * off.len() as f64,
        };
        let told = match data.len() {
            1 if is_lone => Told::Nothing { usual: 1.0 },
            1 => Told::Nothing { usual: LONE },
            _ if is_lone => Told::OneCoat(scatter),
            _ => Told::Coats(scatter),
        };
        // By what was stated of each trial, not by what it was widened to; of two each is held against the other as that was stated.
        let contradicts = (0..data.len())
            .filter(|i| data.len() > 1 && data[*i].noise != stated[*i])
            .filter_map(|i| {
                let off = match &as_stated {
                    Some(first) if data.len() == 2 => first[i],
                    _ => before[i].as_stated(&data[i].noise, &stated[i])?,
                };
                off.contradiction(i, trials[i].lab)
            })
            .collect();
        let left_out = match data.len() {
            1 => Vec::new(),
            _ => (data.iter().zip(&off))
                .map(|(datum, off)| delta_e_2000(colour(datum.lab), colour(datum.lab - off.by)))
                .collect(),
        };
        Some(Self {
            pigments,
            priors,
            trials: which,
            places,
            data,
            solved,
            amounts,
            told,
            factor: told.alone(),
            any,
            left_out,
            contradicts,
        })
    }

    /// Its pigments as the model has them.
    pub(super) fn found(&self, trials: &[Trial]) -> Vec<Pigment> {
        let own: Vec<&Trial> = self.trials.iter().map(|it| &trials[*it]).collect();
        (self.pigments.iter().zip(&self.solved.pigments).enumerate())
            .map(|(slot, (id, guess))| Pigment {
                id: id.clone(),
                optics: Optics {
                    k: std::array::from_fn(|band| guess.logs.k[band].exp()),
                    s: std::array::from_fn(|band| guess.logs.s[band].exp()),
                },
                known: if alone(id, &own) {
                    Known::Single
                } else {
                    identify::known(self, slot)
                },
                loads: loads(id, trials),
            })
            .collect()
    }
}

/// Gives each group's factor what the others' trials tell of it.
pub(super) fn share_scatter(groups: &mut [Group]) {
    let all: Vec<Told> = groups.iter().map(|it| it.told).collect();
    for (group, factor) in groups.iter_mut().zip(scatter::factors(&all)) {
        group.factor = factor;
    }
}

/// By how much variances of a coat are larger than the model has them, by its pigments' groups: their mean.
pub(super) fn factor<'a>(groups: impl Iterator<Item = &'a Group>) -> f64 {
    let all: Vec<f64> = groups.map(|it| it.factor).collect();
    match all.len() {
        0 => 1.0,
        n => all.iter().sum::<f64>() / n as f64,
    }
}

/// The loads of a pigment, ascending.
fn loads(id: &str, trials: &[Trial]) -> Vec<f64> {
    let mut out: Vec<f64> = (trials.iter())
        .flat_map(|it| &it.pigments)
        .filter(|it| it.pigment == id)
        .map(|it| it.load)
        .collect();
    out.sort_by(f64::total_cmp);
    out.dedup();
    out
}

/// Amounts that differ by less than this share are one. A choice, no source: somewhat less than two standard deviations of what two coats differ by that
/// hands laid alike (√2 times `doubt::HAND`). With half as much, two loads 7 % apart took up to two fifths of U95.
const SAME: f64 = 0.1;

/// One load in one amount on one ground, tried once or more: three numbers can't tell absorption from scattering.
fn alone(id: &str, trials: &[&Trial]) -> bool {
    let mut with = trials.iter().filter_map(|it| {
        let load = it.pigments.iter().find(|it| it.pigment == id)?.load;
        Some((load, it.g_per_m2, it.ground.as_str()))
    });
    let Some(first) = with.next() else {
        return false;
    };
    let (mut loads, mut amounts) = ([first.0; 2], [first.1; 2]);
    let widen = |range: &mut [f64; 2], it: f64| *range = [range[0].min(it), range[1].max(it)];
    for (load, amount, ground) in with {
        if ground != first.2 {
            return false;
        }
        widen(&mut loads, load);
        widen(&mut amounts, amount);
    }
    [loads, amounts]
        .iter()
        .all(|[low, high]| *high <= low * (1.0 + SAME))
}

fn setting<'a>(base: &Base<'a>, grounds: &'a [Spectrum], priors: &'a [&'a Prior]) -> Setting<'a> {
    Setting {
        coating: base.coating,
        grounds,
        priors,
    }
}

/// Trials of one pigment in about one amount, all in their mean: by differences that a hand may err by nothing is told.
fn as_one_coat(data: &mut [Datum]) {
    let n = data.len() as f64;
    let amount = data.iter().map(|it| it.parts[0].1).sum::<f64>() / n;
    let mixed = data.iter().map(|it| it.mixed).sum::<f64>() / n;
    for it in data {
        it.parts[0].1 = amount;
        it.mixed = mixed;
    }
}

fn datum(trial: &Trial, pigments: &[String], grounds: &[Wetted]) -> Datum {
    let (mixed, parts) = amounts(trial.g_per_m2, &trial.pigments);
    let slot = |id: &str| pigments.iter().position(|it| it == id);
    let ground = grounds.iter().position(|it| it.name == trial.ground);
    Datum {
        parts: (trial.pigments.iter().zip(parts))
            .map(|(it, amount)| (slot(&it.pigment).expect("tied"), amount))
            .collect(),
        mixed,
        ground: ground.expect("every ground has a control"),
        lab: vector(trial.lab),
        noise: trial.covariance + Matrix::identity() * FINEST,
        root: square_root(&trial.covariance).unwrap_or_else(Matrix::zeros),
    }
}

pub(super) fn colour(lab: Vector3<f64>) -> Lab {
    Lab::new(lab.x, lab.y, lab.z)
}

/// Covariance of what all trials are off by.
fn doubts(base: &Base<'_>, data: &[Datum], places: &[Place], sights: &[Sight]) -> DMatrix<f64> {
    let n = data.len();
    let most = |id: &str| base.most.get(id).copied().unwrap_or(0.0);
    let mut out = DMatrix::zeros(3 * n, 3 * n);
    let below: Vec<Slopes> = (data.iter().zip(sights))
        .map(|(it, sight)| sight.ground * *base.grounds[it.ground].covariance)
        .collect();
    for i in 0..n {
        for j in 0..=i {
            let mut block =
                doubt::of_model((&places[i], &sights[i]), (&places[j], &sights[j]), &most);
            if data[i].ground == data[j].ground {
                block += below[i] * sights[j].ground.transpose();
            }
            block += doubt::of_coating(
                (&places[i], &sights[i]),
                (&places[j], &sights[j]),
                base.unsure,
            );
            if i == j {
                block += data[i].noise + doubt::of_hand(&sights[i].pigments);
            } else if places[i].same_pigments(&places[j]) {
                block += doubt::of_photo(&data[i].root, &data[j].root);
            }
            out.fixed_view_mut::<3, 3>(3 * i, 3 * j).copy_from(&block);
            out.fixed_view_mut::<3, 3>(3 * j, 3 * i)
                .copy_from(&block.transpose());
        }
    }
    out
}
