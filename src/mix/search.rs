//! Search: from a wanted colour to recipes of one, two or three pigments.
//!
//! Takes a [`Task`] (a model, the pigments that may be taken with what is known of each, a wanted colour); gives [`Found`]: recipes in groups of
//! those that can't be told apart, with colour, cost, fastness and grams, and what is lacking where nothing reaches the wanted colour. Promises:
//! Σ(load ÷ limit) ≤ 1 unless that very mixture cured or leave was given; no recipe has what is known not to cure; every load can be weighed; the
//! same task gives the same recipes on any number of threads.
//!
//! 1. `allowed`: which pigments may be taken, and how much of each.
//! 2. `combinations`: each combination to its nearest colour, in few bands, then in all (`layer`, `descend`, `quadratic`, `forbidden`).
//! 3. `choose`: those that may be listed, by the order asked for; `settle`: each by what is predicted of it beyond the film's colour.
//! 4. `recipe`, `weigh`: what is known of each, and its grams. `group`: which can be told apart. `short`: what is lacking.

mod allowed;
mod choose;
mod combinations;
mod descend;
mod error;
mod forbidden;
mod group;
mod layer;
mod quadratic;
mod recipe;
mod settle;
mod short;
mod task;
mod tested;
mod weigh;

pub use error::{Removed, SearchError};
pub use recipe::{Cost, Fastness, Mark, Part, Recipe};
pub use short::{Bound, Shortfall};
pub use task::{Candidate, Change, MOST_PIGMENTS, Order, Task, Tested};
pub use weigh::Rounded;

use super::{Coat, Prediction};
use crate::colour::difference::delta_e_2000;
use crate::fade::told::told;
use allowed::Choice;
use choose::Listed;
use combinations::{Searched, Spot};
use forbidden::Forbidden;
use group::{Distances, NO_NEARER};
use layer::Layer;
use nalgebra::Vector3;
use rayon::prelude::*;

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Recipes that can't be told from the nearest, then those that can't be told from the nearest of the rest, and so on; each group in the
    /// order that was asked for. All together at most as many as asked for.
    pub groups: Vec<Vec<Recipe>>,
    /// How many combinations of pigments were looked at.
    pub combinations: usize,
    /// How many of them may come as near as the first group, by the film's colour and the uncertainty of the nearest, listed or not.
    pub alike: usize,
    /// Pigments that could not be taken: why, and how many.
    pub removed: Vec<(Removed, usize)>,
    /// What is lacking, where the nearest recipe can be told from the wanted colour.
    pub shortfall: Option<Shortfall>,
}

/// Searches recipes for a wanted colour.
///
/// # Errors
///
/// [`SearchError`] for numbers that can't be, a colour that no surface has, a ground or a base pigment that is not there, and where no pigment
/// may be taken or weighed.
pub fn search(task: &Task<'_>) -> Result<Found, SearchError> {
    task.check()?;
    let choice = Choice::of(task)?;
    let forbidden = Forbidden::of(&choice, task.mixtures);
    let places: Vec<usize> = choice.pigments.iter().map(|it| it.place).collect();
    let (seen_as, ground, seen_places, fresh) = match (task.aged, choice.aged_ground) {
        (Some(aged), Some(ground)) => {
            let film = aged.model();
            let fresh = Layer::new(task.model, &places, choice.ground, task.g_per_m2);
            let aged_places = choice.pigments.iter().map(|it| it.aged_place).collect();
            (film, ground, aged_places, Some(fresh))
        }
        _ => (task.model, choice.ground, places, None),
    };
    let coarse = Layer::new(seen_as, &seen_places, ground, task.g_per_m2);
    let fine = Layer::new(seen_as, &seen_places, ground, task.g_per_m2);
    let searched = Searched {
        choice: &choice,
        forbidden: &forbidden,
        coarse: &coarse,
        fine: &fine,
        wanted: task.wanted,
        most_pigments: task.most_pigments,
    };
    let screened = searched.screened(&searched.tested(task));
    let combinations = screened.len();
    let nearest = searched
        .nearest(&screened)
        .ok_or_else(|| SearchError::NoneLeft(choice.removed.clone()))?;
    let reach = reach(task, &choice, &nearest)?;
    let spots = searched.within(screened, &nearest, reach);
    let within = nearest.best.off + reach;
    let list = choose::list(spots, task, &choice, &searched, fresh.as_ref(), within)?;
    let known: Vec<(Prediction, Option<Prediction>)> = (list.listed.par_iter().zip(&list.seen))
        .map(|(it, seen)| predictions(task, &choice, &it.spot, seen))
        .collect::<Result<_, _>>()?;
    let distances: Vec<Distances> = (known.par_iter().enumerate())
        .map(|(seed, (fresh, aged))| {
            let it = aged.as_ref().unwrap_or(fresh);
            Distances::of(
                &(it.lab, it.covariance),
                &(task.wanted, task.covariance),
                seed as u64,
            )
        })
        .collect();
    let mut left = task.count;
    let mut groups = Vec::new();
    for mut group in group::groups(&distances, task.count) {
        group.sort_by(|a, b| list.listed[*a].key.cmp(&list.listed[*b].key));
        group.truncate(left);
        left -= group.len();
        groups.push(group);
    }
    groups.retain(|it| !it.is_empty());
    let groups: Vec<Vec<Recipe>> = (groups.par_iter())
        .map(|group| {
            (group.par_iter())
                .map(|it| {
                    told_of(
                        task,
                        &choice,
                        &forbidden,
                        &searched,
                        &list.listed[*it],
                        &known[*it],
                    )
                })
                .collect()
        })
        .collect();
    let listed = list.listed.iter().zip(&known);
    let first = listed.min_by(|a, b| a.0.spot.best.off.total_cmp(&b.0.spot.best.off));
    let shortfall = first.and_then(|(first, seen)| {
        let (reaches, _) = against_wanted(
            task,
            seen.1.as_ref().unwrap_or(&seen.0),
            first.spot.best.off,
        );
        (!reaches).then(|| short::shortfall(&first.spot, task.wanted, &choice))
    });
    Ok(Found {
        groups,
        combinations,
        alike: list.alike,
        removed: choice.removed.clone(),
        shortfall,
    })
}

/// ΔE00 by which a recipe may be farther than the nearest, as computed, and still not be told from it: generous, since each is tested later.
fn reach(task: &Task<'_>, choice: &Choice<'_>, nearest: &Spot) -> Result<f64, SearchError> {
    let own = seen(task, &recipe::parts(nearest, choice))?;
    let wanted =
        crate::colour::uncertainty::u95(task.wanted, &task.covariance).unwrap_or(f64::INFINITY);
    let beyond_film = delta_e_2000(own.lab, nearest.best.seen.lab);
    Ok(NO_NEARER + beyond_film + 1.5 * own.u95.hypot(wanted))
}

/// What is predicted of a recipe where the wanted colour is: aged, with all that ageing leaves unsure, if that is wanted.
fn seen(task: &Task<'_>, parts: &[Part]) -> Result<Prediction, SearchError> {
    match task.aged {
        Some(aged) => (aged.predict(&coat(task, parts))).map_err(|it| no_colour(parts, &it)),
        None => as_made(task, parts),
    }
}

/// What is predicted of a recipe as made.
fn as_made(task: &Task<'_>, parts: &[Part]) -> Result<Prediction, SearchError> {
    (task.model.predict(&coat(task, parts))).map_err(|it| no_colour(parts, &it))
}

fn coat(task: &Task<'_>, parts: &[Part]) -> Coat {
    Coat {
        pigments: recipe::loads(parts),
        g_per_m2: task.g_per_m2,
        ground: task.ground.to_owned(),
    }
}

fn no_colour(parts: &[Part], why: &dyn std::error::Error) -> SearchError {
    let loads = parts.iter();
    SearchError::Colour {
        recipe: (loads.map(|it| format!("{} {:.3}", it.pigment, it.load)))
            .collect::<Vec<_>>()
            .join(" + "),
        why: why.to_string(),
    }
}

/// Fresh, and aged where that is what is `seen`.
fn predictions(
    task: &Task<'_>,
    choice: &Choice<'_>,
    spot: &Spot,
    seen: &Prediction,
) -> Result<(Prediction, Option<Prediction>), SearchError> {
    if task.aged.is_none() {
        return Ok((seen.clone(), None));
    }
    let fresh = as_made(task, &recipe::parts(spot, choice))?;
    Ok((fresh, Some(seen.clone())))
}

/// Whether a colour can't be told from the wanted one, and the interval of its ΔE00.
fn against_wanted(task: &Task<'_>, seen: &Prediction, off: f64) -> (bool, [f64; 2]) {
    let (at, wanted) = (seen.lab, task.wanted);
    let by = Vector3::new(at.l - wanted.l, at.a - wanted.a, at.b - wanted.b);
    match told(wanted, by, &(seen.covariance + task.covariance), None) {
        Some(told) => (!told.significant || off <= NO_NEARER, told.interval),
        // So unsure that nothing is known.
        None => (true, [0.0, f64::INFINITY]),
    }
}

fn told_of(
    task: &Task<'_>,
    choice: &Choice<'_>,
    forbidden: &Forbidden,
    searched: &Searched<'_>,
    listed: &Listed,
    (fresh, aged): &(Prediction, Option<Prediction>),
) -> Recipe {
    let spot = &listed.spot;
    let parts = recipe::parts(spot, choice);
    let seen: Vec<&Prediction> = std::iter::once(fresh).chain(aged.as_ref()).collect();
    let (reaches, interval) = against_wanted(task, aged.as_ref().unwrap_or(fresh), spot.best.off);
    let rounded = weigh::rounded(spot, task, forbidden, searched.fine);
    let mut marks = recipe::marks(spot, &parts, &seen);
    if rounded.is_none() {
        marks.push(Mark::TooCoarse);
    }
    Recipe {
        sum: recipe::sum(&parts),
        marks,
        parts,
        fresh: fresh.clone(),
        aged: aged.clone(),
        delta_e: spot.best.off,
        interval,
        reaches,
        cost: listed.cost.clone(),
        fastness: Fastness {
            whole: (aged.as_ref()).map(|it| delta_e_2000(fresh.lab, it.lab)),
            ..listed.fastness.clone()
        },
        rounded,
    }
}
