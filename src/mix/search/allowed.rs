//! Which pigments may be taken, and how much of each.

use super::error::{Removed, SearchError};
use super::{Candidate, Task};
use crate::mix::{Ground, Pigment};
use std::collections::BTreeMap;

/// With leave to go beyond the tested limits: so many times what cured.
pub(super) const BEYOND: f64 = 1.5;
/// What did not cure is never proposed, nor what a balance would make into it.
const BELOW_FAILURE: f64 = 0.98;
/// Names that a message lists.
const NAMES: usize = 5;

/// A pigment that may be taken.
#[derive(Clone, Copy, Debug)]
pub(super) struct Allowed<'a> {
    /// What is known of it.
    pub(super) candidate: &'a Candidate,
    /// Its place in the model.
    pub(super) place: usize,
    /// Its place in the aged model.
    pub(super) aged_place: usize,
    /// Most of it alone, grams to 100 g. None where only a tested mixture may have it.
    pub(super) most: Option<f64>,
}

/// All that may be taken, by id, and what else the search needs of the task.
#[derive(Debug)]
pub(super) struct Choice<'a> {
    /// By id.
    pub(super) pigments: Vec<Allowed<'a>>,
    /// The place among them of the one that every recipe has.
    pub(super) base: Option<usize>,
    /// What it is laid on.
    pub(super) ground: &'a Ground,
    /// The same when aged.
    pub(super) aged_ground: Option<&'a Ground>,
    /// Least load that the balance can weigh, grams to 100 g.
    pub(super) least: f64,
    /// Of those that may not be taken: why, and how many.
    pub(super) removed: Vec<(Removed, usize)>,
}

impl<'a> Choice<'a> {
    /// What the constraints leave.
    ///
    /// # Errors
    ///
    /// If that is nothing, or the ground or the base pigment is not there.
    pub(super) fn of(task: &Task<'a>) -> Result<Self, SearchError> {
        if task.model.pigments.is_empty() {
            return Err(SearchError::NoModel);
        }
        let ground = ground(task.model, task.ground)?;
        let aged_ground = task
            .aged
            .map(|it| self::ground(it.model(), task.ground))
            .transpose()?;
        let least = 100.0 * task.balance.least_g() / task.batch_g;
        let mut sorted: Vec<&Candidate> = task.candidates.iter().collect();
        sorted.sort_by(|a, b| a.id.cmp(&b.id));
        let mut pigments = Vec::new();
        let mut removed: BTreeMap<Removed, usize> = BTreeMap::new();
        let mut of_base = None;
        for it in &sorted {
            match allowed(it, task, least) {
                Ok(it) => pigments.push(it),
                Err(why) => {
                    *removed.entry(why).or_default() += 1;
                    if task.base == Some(it.id.as_str()) {
                        of_base = Some(why);
                    }
                }
            }
        }
        let removed: Vec<(Removed, usize)> = removed.into_iter().collect();
        if let (Some(id), Some(why)) = (task.base, of_base) {
            let id = id.to_owned();
            return Err(SearchError::BaseRemoved { id, why });
        }
        let base = match task.base {
            None => None,
            Some(id) => match pigments
                .iter()
                .position(|it: &Allowed<'_>| it.candidate.id == id)
            {
                Some(it) => Some(it),
                None => return Err(no_base(id, &sorted)),
            },
        };
        let choice = Self {
            pigments,
            base,
            ground,
            aged_ground,
            least,
            removed,
        };
        if choice.pigments.is_empty() {
            return Err(choice.none_left(task));
        }
        Ok(choice)
    }

    /// Where a pigment is among those that may be taken.
    pub(super) fn place(&self, id: &str) -> Option<usize> {
        self.pigments.iter().position(|it| it.candidate.id == id)
    }

    fn none_left(&self, task: &Task<'_>) -> SearchError {
        let too_strong = self.removed.iter().any(|it| it.0 == Removed::TooStrong);
        let most = (task.candidates.iter())
            .filter_map(|it| {
                most(
                    it,
                    task,
                    &task.model.pigments[place(&task.model.pigments, &it.id)?],
                )
            })
            .max_by(f64::total_cmp);
        match most {
            Some(most) if too_strong => SearchError::BatchTooSmall {
                batch_g: task.batch_g,
                least_g: task.balance.least_g(),
                enough_g: (100.0 * task.balance.least_g() / most).ceil(),
            },
            _ => SearchError::NoneLeft(self.removed.clone()),
        }
    }
}

fn ground<'a>(model: &'a crate::mix::Model, name: &str) -> Result<&'a Ground, SearchError> {
    model.ground(name).ok_or_else(|| SearchError::Ground {
        name: name.to_owned(),
        there: model.grounds.iter().map(|it| it.name.clone()).collect(),
    })
}

fn no_base(id: &str, sorted: &[&Candidate]) -> SearchError {
    let off = |it: &str| strsim::osa_distance(&it.to_lowercase(), &id.to_lowercase());
    let mut near: Vec<String> = sorted.iter().map(|it| it.id.clone()).collect();
    near.sort_by_cached_key(|it| off(it));
    near.truncate(NAMES);
    let id = id.to_owned();
    SearchError::Base { id, near }
}

fn place(pigments: &[Pigment], id: &str) -> Option<usize> {
    pigments.iter().position(|it| it.id == id)
}

fn allowed<'a>(it: &'a Candidate, task: &Task<'a>, least: f64) -> Result<Allowed<'a>, Removed> {
    let place = place(&task.model.pigments, &it.id).ok_or(Removed::NotMeasured)?;
    let aged_place = match task.aged {
        Some(aged) => self::place(&aged.model().pigments, &it.id)
            .filter(|_| aged.knows(&it.id))
            .ok_or(Removed::NotAged)?,
        None => place,
    };
    if task.in_stock && !it.in_stock {
        return Err(Removed::OutOfStock);
    }
    let most = most(it, task, &task.model.pigments[place]);
    let in_mixture = || {
        (task.mixtures.iter())
            .filter(|tested| tested.cured)
            .any(|tested| {
                tested
                    .pigments
                    .iter()
                    .any(|load| load.pigment == it.id && load.load >= least)
            })
    };
    match most {
        Some(most) if most >= least => {}
        _ if in_mixture() => {}
        Some(_) => return Err(Removed::TooStrong),
        None => return Err(Removed::Untested),
    }
    Ok(Allowed {
        candidate: it,
        place,
        aged_place,
        most: most.filter(|it| *it >= least),
    })
}

/// Most of a pigment alone: what cured, with leave 1.5 times that, or what was measured of one that is untested; below what did not cure.
fn most(it: &Candidate, task: &Task<'_>, pigment: &Pigment) -> Option<f64> {
    let below_failure = |load: f64| it.lowest_failed.is_none_or(|failed| load < failed);
    match it.limit {
        Some(limit) if task.allow_beyond => {
            let most = it
                .lowest_failed
                .map_or(f64::INFINITY, |failed| BELOW_FAILURE * failed);
            Some((BEYOND * limit).min(most).max(limit))
        }
        Some(limit) => Some(limit),
        None if task.allow_untested => (pigment.loads.iter().copied())
            .filter(|it| below_failure(*it))
            .max_by(f64::total_cmp),
        None => None,
    }
}
