//! The weights of a batch: pigment in each, or in the whole of one part beforehand.

use super::{Order, Tinted};
use crate::plan::cost::Used;
use crate::plan::limit::Limits;
use crate::plan::material::{Coating, Load, Recipe};
use crate::plan::mixing::{Content, coating_in};
use crate::plan::session::few;
use crate::plan::{CupLoad, PlanError, Settings, Weighing, balance, weigh};

/// Steps by which coating is added until the loads are within the limits; far more than rounding can ask for.
const MOST_STEPS: usize = 100_000;
/// A batch may be this much larger for the sake of its rounding, as a share …
const MORE_TO_TRY: f64 = 0.02;
/// … in at most so many steps …
const STEPS_TO_TRY: usize = 200;
/// … if that brings the loads nearer by this, relative to them.
const WORTH: f64 = 5e-4;

/// Weights of a batch, before names.
pub(super) struct Batch {
    /// Grams of each part.
    pub(super) parts: Vec<f64>,
    /// Grams of each of the recipe's pigments.
    pub(super) pigments: Vec<f64>,
}

impl Batch {
    pub(super) fn content(&self, recipe: &Recipe) -> Content {
        let mut content = Content {
            coating_g: self.parts.iter().sum(),
            ..Content::default()
        };
        for (load, grams) in recipe.loads.iter().zip(&self.pigments) {
            content.add_pigment(&load.pigment, *grams);
        }
        content
    }

    pub(super) fn ratio_off(&self, coating: &Coating) -> f64 {
        let whole: f64 = self.parts.iter().sum();
        let off = coating.parts.iter().zip(&self.parts);
        off.map(|(part, grams)| (grams / whole / part.share - 1.0).abs())
            .fold(0.0, f64::max)
    }
}

/// A batch, what was tinted for it beforehand, and what all batches use.
type Made = (Batch, Option<Tinted>, Used);

/// The fewest batches, from `least` on, that are no larger than the largest that is mixed at once, once they are rounded to what the balance
/// can weigh.
pub(super) fn largest_kept(
    order: &Order<'_>,
    least: usize,
    make: impl Fn(usize) -> Result<Made, PlanError>,
) -> Result<(usize, Made), PlanError> {
    // Rounding makes a batch larger by a few hundredths; what a quarter more batches don't mend is too little for the balance.
    for batches in least..=least + least / 4 + 1 {
        let made = make(batches)?;
        if fits(order, &made.0) {
            return Ok((batches, made));
        }
    }
    let recipe = &order.surface.recipe;
    let batch_g = coating_in(
        order.largest_batch_g.unwrap_or(f64::INFINITY),
        recipe.total_load(),
    );
    let (what, share) = smallest(recipe, order.coating);
    Err(PlanError::TooLittle {
        what,
        grams: batch_g * share,
        least_g: order.settings.balance.least_g(),
        batch_g,
    })
}

/// Whether a batch is no larger than the largest that is mixed at once.
fn fits(order: &Order<'_>, batch: &Batch) -> bool {
    let wet_g: f64 = batch.parts.iter().chain(&batch.pigments).sum();
    order.largest_batch_g.is_none_or(|it| wet_g <= it + 1e-6)
}

/// The pigment or part of which a batch holds least, and its grams per gram of coating.
fn smallest(recipe: &Recipe, coating: &Coating) -> (String, f64) {
    let pigments = recipe
        .loads
        .iter()
        .map(|it| (it.pigment.to_string(), it.load / 100.0));
    let parts = coating.parts.iter().map(|it| (it.name.clone(), it.share));
    let smallest = pigments.chain(parts).min_by(|a, b| a.1.total_cmp(&b.1));
    smallest.unwrap_or_else(|| (coating.name.clone(), 1.0))
}

/// Pigment into each batch. One batch may be made larger than needed so that its pigment can be weighed; of several, none,
/// since it would not be used up in time.
pub(super) fn plain(order: &Order<'_>, each: f64, batches: usize) -> Result<Made, PlanError> {
    let Order {
        surface,
        coating,
        settings,
        limits,
        ..
    } = *order;
    let recipe = &surface.recipe;
    let least = settings.balance.least_g();
    let balance = &settings.balance;
    let (what, share) = smallest(recipe, coating);
    if batches > 1 && each * share < least - 1e-9 {
        return Err(PlanError::TooLittle {
            what,
            grams: each * share,
            least_g: least,
            batch_g: each,
        });
    }
    let target = each.max(least / share);
    let batch = best_rounded(order, target).unwrap_or_else(|| {
        let pigments: Vec<f64> = recipe
            .loads
            .iter()
            .map(|it| balance.nearest(target * it.load / 100.0).max(least))
            .collect();
        within(limits, recipe, balance.step_g(), |extra| Batch {
            parts: parts_of(coating, target + extra, settings),
            pigments: pigments.clone(),
        })
    });
    let all = f64::from(times(order)) * few(batches);
    let used = used(order, &batch, all);
    Ok((batch, None, used))
}

/// Of batches that are a little larger than asked for, in steps of their smallest part, the one whose loads suffer least from
/// rounding; none if all would exceed the tested limits or the largest batch.
fn best_rounded(order: &Order<'_>, grams: f64) -> Option<Batch> {
    let Order {
        surface,
        coating,
        settings,
        limits,
        ..
    } = *order;
    let (recipe, balance) = (&surface.recipe, &settings.balance);
    let smallest = coating.parts.iter().map(|it| it.share).fold(1.0, f64::min);
    let mut best: Option<(f64, Batch)> = None;
    let mut more = 0.0;
    for _ in 0..STEPS_TO_TRY {
        let parts = parts_of(coating, grams + more, settings);
        let coating_g: f64 = parts.iter().sum();
        let pigments = recipe
            .loads
            .iter()
            .map(|it| balance.nearest(coating_g * it.load / 100.0));
        let batch = Batch {
            parts,
            pigments: pigments.map(|it| it.max(balance.least_g())).collect(),
        };
        let content = batch.content(recipe);
        let off = recipe
            .loads
            .iter()
            .map(|it| (content.load(&it.pigment) / it.load - 1.0).abs());
        let off = off.fold(0.0, f64::max);
        let enough = coating_g >= grams - 1e-9
            && fits(order, &batch)
            && limits.allow(recipe, &weighed(recipe, &content));
        if enough && best.as_ref().is_none_or(|it| off < it.0 - WORTH) {
            best = Some((off, batch));
        }
        more += balance.step_g() / smallest;
        if more > MORE_TO_TRY * grams {
            break;
        }
    }
    best.map(|it| it.1)
}

/// How many times a coat's batches are mixed.
pub(super) fn times(order: &Order<'_>) -> u32 {
    let keeps = !order.coating.is_mixed() && order.coating.pot_life_min.is_none();
    if keeps { 1 } else { order.surface.coats }
}

/// The whole of a part tinted beforehand, for all batches of all coats.
pub(super) fn tinted(
    order: &Order<'_>,
    at: usize,
    each: f64,
    batches: usize,
) -> Result<Made, PlanError> {
    let Order {
        surface,
        coating,
        settings,
        limits,
        ..
    } = *order;
    let recipe = &surface.recipe;
    let balance = &settings.balance;
    let least = balance.least_g();
    let all = f64::from(times(order)) * few(batches);
    let part = coating.parts.get(at).ok_or_else(|| PlanError::Number {
        what: "the part that is tinted".to_owned(),
        value: few(at + 1),
        must: format!(
            "one of the {} parts of {}",
            coating.parts.len(),
            coating.name
        ),
    })?;
    let others = coating
        .parts
        .iter()
        .enumerate()
        .filter(|it| it.0 != at)
        .map(|it| it.1);
    for it in others {
        if each * it.share < least - 1e-9 && batches > 1 {
            return Err(PlanError::TooLittle {
                what: it.name.clone(),
                grams: each * it.share,
                least_g: least,
                batch_g: each,
            });
        }
    }
    // From one batch's part with its pigment to all of them, with what stays on the walls of the can.
    let smallest_part = coating.parts.iter().map(|it| it.share).fold(1.0, f64::min);
    let each = each.max(least / smallest_part);
    let from_can = balance.up(each * (part.share + recipe.total_load() / 100.0));
    let can = from_can * all + settings.cling_g;
    let of_part = can / (1.0 + recipe.total_load() / 100.0 / part.share);
    let least_load = recipe
        .loads
        .iter()
        .map(|it| it.load / 100.0 / part.share)
        .fold(f64::INFINITY, f64::min);
    let of_part = balance.up((of_part * least_load).max(least)) / least_load;
    let pigments: Vec<f64> = recipe
        .loads
        .iter()
        .map(|it| balance.nearest(of_part * it.load / 100.0 / part.share))
        .collect();
    let whole_pigment: f64 = pigments.iter().sum();
    let mut can_part = 0.0;
    let batch = within(limits, recipe, balance.step_g(), |extra| {
        can_part = balance.up(of_part + extra * all);
        // What a batch takes from the can is part and pigment as they are in the can.
        let taken = from_can / (can_part + whole_pigment);
        let mine = can_part * taken;
        let parts = coating.parts.iter().enumerate().map(|(index, it)| {
            if index == at {
                mine
            } else {
                balance.nearest(mine / part.share * it.share)
            }
        });
        Batch {
            parts: parts.collect(),
            pigments: pigments.iter().map(|it| it * taken).collect(),
        }
    });
    let mut used = used(order, &batch, all);
    let name = format!("tinted {}", part.name);
    used.parts.insert((coating.name.clone(), at), can_part);
    for (load, grams) in recipe.loads.iter().zip(&pigments) {
        used.pigments.insert(load.pigment.clone(), *grams);
    }
    let mut weigh = vec![Weighing {
        what: part.name.clone(),
        grams: can_part,
    }];
    weigh.extend(pigments_of(recipe, &pigments));
    let left_g = balance::tidy(can_part + whole_pigment - from_can * all);
    Ok((
        batch,
        Some(Tinted {
            name,
            weigh,
            left_g,
        }),
        used,
    ))
}

/// The first batch, with more and more coating, whose loads are no worse than the tested limits allow.
fn within(
    limits: &Limits,
    recipe: &Recipe,
    step: f64,
    mut make: impl FnMut(f64) -> Batch,
) -> Batch {
    let mut batch = make(0.0);
    let mut extra = 0.0;
    for _ in 0..MOST_STEPS {
        let content = batch.content(recipe);
        if limits.allow(recipe, &weighed(recipe, &content)) {
            break;
        }
        extra += step.max(content.coating_g / 10_000.0);
        batch = make(extra);
    }
    batch
}

/// The parts of at least so much coating, g.
fn parts_of(coating: &Coating, grams: f64, settings: &Settings) -> Vec<f64> {
    let parts = weigh::parts(coating, grams, &settings.balance);
    parts.into_iter().map(|it| it.grams).collect()
}

fn used(order: &Order<'_>, batch: &Batch, all: f64) -> Used {
    let mut used = Used::default();
    for (index, grams) in batch.parts.iter().enumerate() {
        used.parts
            .insert((order.coating.name.clone(), index), grams * all);
    }
    for (load, grams) in order.surface.recipe.loads.iter().zip(&batch.pigments) {
        used.pigments.insert(load.pigment.clone(), grams * all);
    }
    used
}

pub(super) fn weighed(recipe: &Recipe, content: &Content) -> Recipe {
    let loads = recipe.loads.iter().map(|it| Load {
        pigment: it.pigment.clone(),
        load: content.load(&it.pigment),
    });
    Recipe {
        coating: recipe.coating.clone(),
        loads: loads.collect(),
    }
}

pub(super) fn names<'a>(
    coating: &'a Coating,
    grams: &'a [f64],
) -> impl Iterator<Item = Weighing> + 'a {
    coating.parts.iter().zip(grams).map(|(it, grams)| Weighing {
        what: it.name.clone(),
        grams: balance::tidy(*grams),
    })
}

pub(super) fn pigments_of(recipe: &Recipe, grams: &[f64]) -> Vec<Weighing> {
    let all = recipe.loads.iter().zip(grams);
    all.map(|(it, grams)| Weighing {
        what: it.pigment.to_string(),
        grams: *grams,
    })
    .collect()
}

/// The loads with how far they can be off when every weighing is off by half a step.
pub(super) fn loads(
    order: &Order<'_>,
    batch: &Batch,
    content: &Content,
    can: Option<&Tinted>,
) -> Vec<CupLoad> {
    let half = order.settings.balance.step_g() / 2.0;
    let weighings = batch.parts.iter().map(|_| half).sum::<f64>();
    let loads = order.surface.recipe.loads.iter().zip(&batch.pigments);
    loads
        .map(|(it, grams)| {
            // From a can, pigment is off by its one weighing for all batches, spread over them, and by the batch's share.
            let off = match can {
                None => half / grams,
                Some(can) => {
                    let whole = can
                        .weigh
                        .iter()
                        .find(|there| there.what == it.pigment.to_string());
                    let part = can.weigh.first().map_or(f64::INFINITY, |it| it.grams);
                    whole.map_or(0.0, |it| half / it.grams) + half / part
                }
            };
            let weighed = content.load(&it.pigment);
            let coating = weighings / content.coating_g;
            CupLoad {
                pigment: it.pigment.clone(),
                wanted: it.load,
                weighed,
                low: weighed * (1.0 - off) / (1.0 + coating),
                high: weighed * (1.0 + off) / (1.0 - coating),
            }
        })
        .collect()
}
