//! Which combinations may be listed.
//!
//! Thousands of triples may make one colour. Those that may belong to the first group are put in the order asked for, and the first of them
//! kept, beside the nearest of all.

use super::SearchError;
use super::allowed::Choice;
use super::combinations::{Searched, Spot};
use super::layer::Layer;
use super::recipe::{self, Cost, Fastness};
use super::settle::settled;
use super::task::{Order, Task};
use crate::colour::difference::delta_e_2000;
use crate::mix::Prediction;
use crate::mix::bands::BANDS;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// A combination that may be listed.
#[derive(Clone, Debug)]
pub(super) struct Listed {
    pub(super) spot: Spot,
    pub(super) cost: Cost,
    pub(super) fastness: Fastness,
    /// What it is sorted by within its group.
    pub(super) key: Key,
}

/// The order asked for, then nearness in steps, pigments, cost, and the ids, which no two share.
pub(super) type Key = (u64, u64, usize, u64, bool, Vec<usize>);

/// What may be listed.
#[derive(Debug)]
pub(super) struct List {
    /// At their best in all bands.
    pub(super) listed: Vec<Listed>,
    /// What is predicted of each, aged where that is wanted.
    pub(super) seen: Vec<Prediction>,
    /// How many combinations came within reach.
    pub(super) alike: usize,
}

/// Steps of ΔE00 and of change below which neither decides on an order.
const STEP: f64 = 0.01;
/// So many times what is listed is looked at closely, and some more: what can't be told apart is known only then.
const TIMES: usize = 2;
const MORE: usize = 20;

/// The first by the order asked for of those with ΔE00 at most `within`, and the nearest.
pub(super) fn list(
    spots: Vec<Spot>,
    task: &Task<'_>,
    choice: &Choice<'_>,
    searched: &Searched<'_>,
    fresh: Option<&Layer<BANDS>>,
    within: f64,
) -> Result<List, SearchError> {
    let idle = are_idle(&spots, choice);
    let all: Vec<Listed> = (spots.into_par_iter().zip(idle))
        .filter(|it| !it.1)
        .map(|it| it.0)
        .map(|spot| listed(spot, task, choice, fresh))
        .collect();
    let mut near: Vec<usize> = (0..all.len())
        .filter(|it| all[*it].spot.best.off <= within)
        .collect();
    let alike = near.len();
    near.sort_by(|a, b| all[*a].key.cmp(&all[*b].key));
    near.truncate(TIMES * task.count + MORE);
    let mut nearest: Vec<usize> = (0..all.len()).collect();
    let distance = |it: &usize| {
        (
            steps(all[*it].spot.best.off),
            all[*it].spot.count,
            &all[*it].key.5,
        )
    };
    nearest.sort_by(|a, b| distance(a).cmp(&distance(b)));
    nearest.truncate(task.count + MORE);
    let kept: BTreeSet<usize> = near.into_iter().chain(nearest).collect();
    let kept: Vec<Spot> = kept.into_iter().map(|it| all[it].spot).collect();
    let (close, seen): (Vec<Spot>, Vec<Prediction>) = (kept.into_par_iter())
        .map(|it| settled(it, task, searched))
        .collect::<Result<Vec<_>, _>>()?
        .into_iter()
        .unzip();
    let idle = are_idle(&close, choice);
    let kept = (close.into_iter().zip(seen).zip(idle)).filter(|it| !it.1);
    let (listed, seen) = kept
        .map(|((spot, seen), _)| (listed(spot, task, choice, fresh), seen))
        .unzip();
    Ok(List {
        listed,
        seen,
        alike,
    })
}

fn listed(
    spot: Spot,
    task: &Task<'_>,
    choice: &Choice<'_>,
    fresh: Option<&Layer<BANDS>>,
) -> Listed {
    let whole = fresh.map(|it| {
        delta_e_2000(
            it.seen(spot.pigments(), &spot.loads()).lab,
            spot.best.seen.lab,
        )
    });
    let cost = recipe::cost(&spot, task, choice);
    let fastness = recipe::fastness(&spot, choice, whole);
    let known = |it: Option<f64>| it.map_or(u64::MAX, steps);
    let first = match task.order {
        Order::Nearest => 0,
        Order::FewestPigments => spot.count as u64,
        Order::Cheapest => known(cost.per_kg),
        Order::MostLightfast => {
            let worst = fastness.worst.as_ref().map(|it| it.1.delta_e);
            known(
                fastness
                    .whole
                    .or(worst.filter(|_| fastness.unknown.is_empty())),
            )
        }
    };
    let key = (
        first,
        steps(spot.best.off),
        spot.count,
        known(cost.per_kg),
        spot.tested,
        spot.pigments().to_vec(),
    );
    Listed {
        spot,
        cost,
        fastness,
        key,
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "saturates, and is never negative"
)]
fn steps(it: f64) -> u64 {
    (it / STEP).round() as u64
}

/// Which have an idle pigment: at the least that can be weighed, and no nearer than without it.
fn are_idle(spots: &[Spot], choice: &Choice<'_>) -> Vec<bool> {
    /// A load this near to the least, as a share of its limit, is at it.
    const AT: f64 = 1e-4;
    let mut by_pigments: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
    for it in spots.iter().filter(|it| !it.tested) {
        by_pigments.insert(it.pigments().to_vec(), it.best.off);
    }
    let is_idle = |spot: &Spot| {
        let at_least = |it: usize| spot.best.shares[it] <= spot.room.least[it] + AT;
        (0..spot.count).any(|it| {
            let mut without = spot.pigments().to_vec();
            let pigment = without.remove(it);
            at_least(it)
                && choice.base != Some(pigment)
                && (by_pigments.get(&without)).is_some_and(|less| *less <= spot.best.off + STEP)
        })
    };
    (spots.iter()).map(|it| !it.tested && is_idle(it)).collect()
}
