//! From the trials of one coating to a model of it.

use super::bands::{BANDS, Spectrum};
use super::coating::{self, Absorption};
use super::common::Common;
use super::error::FitError;
use super::evidence::Evidence;
use super::ground::{self, Wetted};
use super::group::{self, Base, Group};
use super::mixed::Mixed;
use super::model::{Ground, Model, Optics, Pigment};
use super::solve::vector;
use super::trial::{Load, Trial};
use crate::colour::Matrix;
use crate::colour::uncertainty::square_root;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// The model of one coating: its grounds from the controls, its pigments from the trials that have them.
///
/// # Errors
/// [`FitError`] where there are no trials, a ground has no control, or a figure is out of range.
pub fn fit(trials: &[Trial]) -> Result<Model, FitError> {
    if trials.is_empty() {
        return Err(FitError::NoTrials);
    }
    for it in trials {
        check(it)?;
    }
    let trials: Vec<Trial> = trials.iter().map(tidy).collect();
    let Absorption {
        told: absorbs,
        unsure,
    } = coating::absorption(&trials);
    let coating = Optics {
        k: absorbs.unwrap_or([0.0; BANDS]),
        s: [0.0; BANDS],
    };
    let grounds = grounds(&trials, absorbs.as_ref())?;
    let most = most(&trials);
    let base = Base {
        coating: &coating,
        unsure: &unsure,
        grounds: &grounds,
        trials: &trials,
        most: &most,
    };
    let sorted = sort(&trials);
    let mut groups: Vec<Group> = (sorted.groups.into_par_iter())
        .map(|(pigments, which)| Group::fit(&base, pigments, which))
        .collect::<Result<_, _>>()?;
    group::share_scatter(&mut groups);
    let mut pigments: Vec<Pigment> = groups.iter().flat_map(|it| it.found(&trials)).collect();
    pigments.sort_by(|a, b| a.id.cmp(&b.id));
    let mut model = Model {
        coating,
        pigments,
        grounds: (grounds.iter())
            .map(|it| Ground {
                name: it.name.clone(),
                reflectance: it.reflectance,
            })
            .collect(),
        evidence: Evidence {
            unsure,
            common: Common::of(&trials, &grounds, &groups),
            trials,
            grounds,
            groups,
            mixed: None,
            most,
        },
    };
    if !sorted.mixed.is_empty() {
        let names = sorted
            .mixed
            .iter()
            .map(|it| &*model.evidence.trials[*it].name);
        let refused = FitError::NoAnswer {
            what: names.collect::<Vec<_>>().join(", "),
        };
        let mixed = Mixed::of(&model, sorted.mixed).ok_or(refused)?;
        model.evidence.mixed = Some(mixed);
    }
    Ok(model)
}

/// The highest amount of each pigment, grams per square metre.
fn most(trials: &[Trial]) -> BTreeMap<String, f64> {
    let mut out = BTreeMap::new();
    for trial in trials {
        let (_, parts) = amounts(trial.g_per_m2, &trial.pigments);
        for (it, amount) in trial.pigments.iter().zip(parts) {
            let most = out.entry(it.pigment.clone()).or_insert(0.0);
            *most = f64::max(*most, amount);
        }
    }
    out
}

/// No coat is thicker, grams per square metre.
const MOST_LAID: f64 = 1e5;
/// No coating has more pigment, grams per 100 g.
const MOST_LOADED: f64 = 1e4;
/// No colour is further from grey, nor less certain.
const FARTHEST: f64 = 1e3;

fn check(trial: &Trial) -> Result<(), FitError> {
    let bad = |what: &str, value: f64, range: &'static str| {
        Err(FitError::Value {
            trial: trial.name.clone(),
            what: what.to_owned(),
            value,
            range,
        })
    };
    if !(trial.g_per_m2 > 0.0 && trial.g_per_m2 <= MOST_LAID) {
        let range = "it must be above 0 and at most 100000 g/m²";
        return bad("amount", trial.g_per_m2, range);
    }
    for it in &trial.pigments {
        if !(0.0..=MOST_LOADED).contains(&it.load) {
            let what = format!("load of {}", it.pigment);
            return bad(&what, it.load, "it must be 0 or more, and at most 10000");
        }
    }
    let lab = vector(trial.lab);
    for (name, value) in ["L*", "a*", "b*"].iter().zip(lab.iter()) {
        if value.is_nan() || value.abs() > FARTHEST {
            return bad(name, *value, "it must be between -1000 and 1000");
        }
    }
    let variances = trial.covariance.iter().chain(&trial.common);
    match variances
        .copied()
        .find(|it| it.is_nan() || it.abs() > FARTHEST.powi(2))
    {
        Some(it) => bad("covariance", it, "it must be between -1000000 and 1000000"),
        None => Ok(()),
    }
}

/// Without what is nothing, each pigment once, by id; covariances made such if they were none.
fn tidy(trial: &Trial) -> Trial {
    let sound = |it: &Matrix| {
        let root = square_root(it).unwrap_or_else(Matrix::zeros);
        root * root
    };
    Trial {
        pigments: summed(&trial.pigments),
        covariance: sound(&trial.covariance),
        common: sound(&trial.common),
        ..trial.clone()
    }
}

/// Loads above 0, each pigment once, by id.
pub(super) fn summed(loads: &[Load]) -> Vec<Load> {
    let mut by_id: BTreeMap<&str, f64> = BTreeMap::new();
    for it in loads {
        *by_id.entry(&it.pigment).or_default() += it.load;
    }
    (by_id.into_iter())
        .filter(|it| it.1 > 0.0)
        .map(|(id, load)| Load {
            pigment: id.to_owned(),
            load,
        })
        .collect()
}

fn grounds(trials: &[Trial], coating: Option<&Spectrum>) -> Result<Vec<Wetted>, FitError> {
    let names: BTreeSet<&str> = trials.iter().map(|it| it.ground.as_str()).collect();
    (names.into_iter())
        .map(|name| {
            let controls: Vec<&Trial> = (trials.iter())
                .filter(|it| it.ground == name && it.pigments.is_empty())
                .collect();
            if controls.is_empty() {
                let ground = name.to_owned();
                return Err(FitError::NoControl { ground });
            }
            ground::of_controls(name, &controls, coating)
        })
        .collect()
}

/// Trials sorted by what they are fitted with.
#[derive(Debug)]
struct Sorted {
    /// Pigments that are fitted together, with their trials: one that was tried alone, or those that only mixtures tell of, with their company.
    groups: Vec<(Vec<String>, Vec<usize>)>,
    /// Mixtures of pigments that were each tried alone.
    mixed: Vec<usize>,
}

/// Of tidy trials.
fn sort(trials: &[Trial]) -> Sorted {
    let ids = |it: &Trial| -> BTreeSet<String> {
        it.pigments.iter().map(|it| it.pigment.clone()).collect()
    };
    let single = trials.iter().filter(|it| it.pigments.len() == 1);
    let alone: BTreeSet<String> = single.flat_map(ids).collect();
    let is_mixed = |it: &Trial| it.pigments.len() > 1 && ids(it).is_subset(&alone);
    let mut sets: Vec<BTreeSet<String>> = Vec::new();
    for trial in trials
        .iter()
        .filter(|it| !it.pigments.is_empty() && !is_mixed(it))
    {
        let mut whole = ids(trial);
        sets.retain(|it| {
            let apart = it.is_disjoint(&whole);
            if !apart {
                whole.extend(it.iter().cloned());
            }
            apart
        });
        sets.push(whole);
    }
    sets.sort();
    let which = |keep: &dyn Fn(&Trial) -> bool| -> Vec<usize> {
        let all = trials.iter().enumerate();
        all.filter(|it| keep(it.1)).map(|it| it.0).collect()
    };
    Sorted {
        mixed: which(&is_mixed),
        groups: (sets.into_iter())
            .map(|set| {
                let own = which(&|it| !is_mixed(it) && !ids(it).is_disjoint(&set));
                (set.into_iter().collect(), own)
            })
            .collect(),
    }
}

/// Grams of mixed coating on a square metre, and of each pigment; a load is by 100 g of mixed coating.
pub(super) fn amounts(g_per_m2: f64, loads: &[Load]) -> (f64, Vec<f64>) {
    let total: f64 = loads.iter().map(|it| it.load).sum();
    let mixed = g_per_m2 / (1.0 + total / 100.0);
    let parts = loads.iter().map(|it| mixed * it.load / 100.0).collect();
    (mixed, parts)
}
