//! A recipe, and what is known of it.

use super::allowed::Choice;
use super::combinations::Spot;
use super::task::{Change, Task};
use super::weigh::Rounded;
use crate::colour::difference::local_metric;
use crate::mix::{Load, Prediction, Reach};
use std::fmt;

/// Pigments with loads for a wanted colour.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// Its pigments, by id.
    pub parts: Vec<Part>,
    /// When fresh.
    pub fresh: Prediction,
    /// When aged, where the aged colour is the wanted one.
    pub aged: Option<Prediction>,
    /// ΔE00 to the wanted colour, aged where that is wanted.
    pub delta_e: f64,
    /// Where the true one lies, 95 %: from 0 where it can't be told from the wanted colour.
    pub interval: [f64; 2],
    /// Whether it can't be told from the wanted colour.
    pub reaches: bool,
    /// What it costs.
    pub cost: Cost,
    /// How it stands the light.
    pub fastness: Fastness,
    /// Σ(load ÷ limit) over the pigments that have a tested limit; none if none has.
    pub sum: Option<f64>,
    /// As the balance can weigh it; none where all that it can weigh is beyond what cured, or too little.
    pub rounded: Option<Rounded>,
    /// What must be said of it.
    pub marks: Vec<Mark>,
}

/// A pigment in a recipe.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its id.
    pub pigment: String,
    /// Grams per 100 g of mixed coating.
    pub load: f64,
    /// The highest load that cured, if any was tested.
    pub limit: Option<f64>,
}

/// What a recipe costs. Without the price of anything in it there is none.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// A kilogram of tinted coating.
    pub per_kg: Option<f64>,
    /// The batch, with its pigment.
    pub batch: Option<f64>,
    /// What has no price; `coating` for the coating itself.
    pub without: Vec<String>,
}

/// How a recipe stands the light.
#[derive(Clone, Debug, PartialEq)]
pub struct Fastness {
    /// Of the pigments whose change is known, the one that changes most, with its change.
    pub worst: Option<(String, Change)>,
    /// Mean of the pigments' own ΔE00, each weighted by what its load does to the colour (load times the slope of ΔE00 at this recipe); none
    /// unless all are known. Common practice, no source.
    pub combined: Option<f64>,
    /// ΔE00 between fresh and aged, where the aged model is there.
    pub whole: Option<f64>,
    /// Pigments whose change is not known.
    pub unknown: Vec<String>,
    /// Hours of the changes differ by more than a tenth: they don't compare.
    pub doses_differ: bool,
}

/// What must be said of a recipe.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// Beyond the tested limits, by this sum.
    Beyond(f64),
    /// No load of these is known to cure.
    Untested(Vec<String>),
    /// This very mixture cured, though the limits of its pigments add up to more than 1 or are not known.
    TestedMixture,
    /// The balance's steps are too coarse for the batch.
    TooCoarse,
    /// Its colour is extrapolated, in these ways.
    Extrapolated(Vec<String>),
}

impl fmt::Display for Mark {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Beyond(sum) => write!(to, "beyond what cured: Σ(load ÷ limit) is {sum:.2}"),
            Self::Untested(ids) => write!(to, "no load is known to cure of {}", ids.join(", ")),
            Self::TestedMixture => to.write_str("this very mixture cured"),
            Self::TooCoarse => to.write_str(
                "no whole steps of the balance make it: take a larger batch or a finer balance",
            ),
            Self::Extrapolated(ways) => write!(to, "extrapolated: {}", ways.join("; ")),
        }
    }
}

/// Pigments and loads of a spot.
pub(super) fn parts(spot: &Spot, choice: &Choice<'_>) -> Vec<Part> {
    let loads = spot.loads();
    (spot.pigments().iter().zip(&loads))
        .map(|(place, load)| {
            let it = choice.pigments[*place].candidate;
            Part {
                pigment: it.id.clone(),
                load: *load,
                limit: it.limit,
            }
        })
        .collect()
}

/// The same for the model.
pub(super) fn loads(parts: &[Part]) -> Vec<Load> {
    (parts.iter())
        .map(|it| Load {
            pigment: it.pigment.clone(),
            load: it.load,
        })
        .collect()
}

/// Σ(load ÷ limit) over those with a limit.
pub(super) fn sum(parts: &[Part]) -> Option<f64> {
    let shares = parts.iter().filter_map(|it| Some(it.load / it.limit?));
    shares.fold(None, |sum, it| Some(sum.unwrap_or(0.0) + it))
}

/// What a recipe costs.
pub(super) fn cost(spot: &Spot, task: &Task<'_>, choice: &Choice<'_>) -> Cost {
    let mut without = Vec::new();
    let mut price = |what: &str, grams: f64, per_kg: Option<f64>| match per_kg {
        Some(it) => grams / 1000.0 * it,
        None => {
            without.push(what.to_owned());
            0.0
        }
    };
    let (mut of_batch, mut grams) = (0.0, task.batch_g);
    of_batch += price("coating", task.batch_g, task.coating_per_kg);
    for (place, load) in spot.pigments().iter().zip(&spot.loads()) {
        let it = choice.pigments[*place].candidate;
        let of_it = load / 100.0 * task.batch_g;
        of_batch += price(&it.id, of_it, it.per_kg);
        grams += of_it;
    }
    let known = without.is_empty().then_some(of_batch);
    Cost {
        per_kg: known.map(|it| it / grams * 1000.0),
        batch: known,
        without,
    }
}

/// How a recipe stands the light; `whole` is how it changes as the models have it.
pub(super) fn fastness(spot: &Spot, choice: &Choice<'_>, whole: Option<f64>) -> Fastness {
    let metric = local_metric(spot.best.seen.lab);
    let loads = spot.loads();
    let mut worst: Option<(String, Change)> = None;
    let (mut weighted, mut weights) = (0.0, 0.0);
    let mut unknown = Vec::new();
    let mut hours: Vec<f64> = Vec::new();
    for (it, place) in spot.pigments().iter().enumerate() {
        let candidate = choice.pigments[*place].candidate;
        let Some(change) = candidate.fastness else {
            unknown.push(candidate.id.clone());
            continue;
        };
        hours.push(change.hours);
        let slope = spot.best.seen.slopes.column(it);
        let weight = loads[it] * slope.dot(&(metric * slope)).max(0.0).sqrt();
        weights += weight;
        weighted += weight * change.delta_e;
        if (worst.as_ref()).is_none_or(|it| change.delta_e > it.1.delta_e) {
            worst = Some((candidate.id.clone(), change));
        }
    }
    let longest = hours.iter().copied().fold(0.0, f64::max);
    Fastness {
        worst,
        combined: (unknown.is_empty() && weights > 0.0).then(|| weighted / weights),
        whole,
        unknown,
        doses_differ: hours.iter().any(|it| *it < 0.9 * longest),
    }
}

/// What must be said of a recipe.
pub(super) fn marks(spot: &Spot, parts: &[Part], seen: &[&Prediction]) -> Vec<Mark> {
    let mut marks = Vec::new();
    let sum = sum(parts);
    if spot.tested {
        marks.push(Mark::TestedMixture);
    } else {
        if let Some(beyond) = sum.filter(|it| *it > 1.0 + 1e-9) {
            marks.push(Mark::Beyond(beyond));
        }
        let untested = parts.iter().filter(|it| it.limit.is_none());
        let untested: Vec<String> = untested.map(|it| it.pigment.clone()).collect();
        if !untested.is_empty() {
            marks.push(Mark::Untested(untested));
        }
    }
    let mut ways: Vec<String> = Vec::new();
    for it in seen {
        if let Reach::Beyond(beyond) = &it.reach {
            ways.extend(
                beyond
                    .iter()
                    .filter(|it| !ways.contains(it))
                    .cloned()
                    .collect::<Vec<_>>(),
            );
        }
    }
    if !ways.is_empty() {
        marks.push(Mark::Extrapolated(ways));
    }
    marks
}
