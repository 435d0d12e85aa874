//! A job's plan: one recipe, so many square metres, in batches that are alike.
//!
//! Each coat is put on in as many batches as the pot life asks for, all of the same weights, so that the last square metre has
//! the colour of the first. Where the maker allows it, the whole of one part is tinted beforehand: then pigment is weighed once,
//! and no batch can differ.

use super::cost::Used;
use super::limit::{Limits, Standing};
use super::material::{Coating, Load, Pigment, Recipe, known};
use super::mixing::{Content, coating_in};
use super::session::few;
use super::{Cost, CupLoad, PlanError, Settings, Surface, Total, Weighing, balance, care};
use serde::Serialize;

/// More batches a coat than anyone mixes.
const MOST_BATCHES: usize = 1000;
/// Steps by which coating is added until the loads are within the limits; far more than rounding can ask for.
const MOST_STEPS: usize = 100_000;
/// A batch may be this much larger for the sake of its rounding, as a share …
const MORE_TO_TRY: f64 = 0.02;
/// … in at most so many steps …
const STEPS_TO_TRY: usize = 200;
/// … if that brings the loads nearer by this, relative to them.
const WORTH: f64 = 5e-4;

/// What is asked, and what is known.
#[derive(Clone, Copy, Debug)]
pub struct Order<'a> {
    /// What is to be coated, with what, in how many coats.
    pub surface: &'a Surface,
    /// The coating.
    pub coating: &'a Coating,
    /// What is known of the pigments.
    pub pigments: &'a [Pigment],
    /// What was tested.
    pub limits: &'a Limits,
    /// How the workshop mixes.
    pub settings: &'a Settings,
    /// The currency that prices are in.
    pub currency: Option<&'a str>,
    /// How fast it is put on, m²/h; only asked for where the coating hardens.
    pub pace_m2_per_h: f64,
    /// The most that is mixed at once, g, if the maker or the vessel sets a limit.
    pub largest_batch_g: Option<f64>,
    /// The part (from 0) that is tinted beforehand as a whole; none: pigment is weighed into each batch.
    pub tint_part: Option<usize>,
}

/// What to mix for a job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JobPlan {
    /// [`super::SCHEMA`].
    pub schema: u32,
    /// What is coated.
    pub surface: Surface,
    /// The balance's step, g.
    pub balance_step_g: f64,
    /// Overage as a share.
    pub overage: f64,
    /// How many times the batches of a coat are mixed: once for each coat, or once for all where the coating keeps.
    pub times: u32,
    /// Batches each time.
    pub batches: usize,
    /// What one coat of one batch covers, m².
    pub batch_m2: f64,
    /// The part that is tinted beforehand.
    pub tinted: Option<Tinted>,
    /// What is weighed for each batch, in this order. All batches are alike.
    pub batch: Vec<Weighing>,
    /// Tinted coating of a batch, g.
    pub batch_wet_g: f64,
    /// Its volume without pigment, ml, if densities are known.
    pub batch_ml: Option<f64>,
    /// From mixing to the last stroke of a batch, minutes, if a pace matters.
    pub batch_minutes: Option<f64>,
    /// The pot life, minutes.
    pub pot_life_min: Option<f64>,
    /// The loads as weighed.
    pub loads: Vec<CupLoad>,
    /// How far the parts are off their ratio by rounding, as the largest relative error of a part.
    pub ratio_off: f64,
    /// How the loads as weighed stand to the tested limits.
    pub standing: Standing,
    /// All materials.
    pub totals: Vec<Total>,
    /// What they cost.
    pub cost: Cost,
    /// What the surface takes, overage included, g.
    pub needed_g: f64,
    /// What is mixed beyond that, g.
    pub waste_g: f64,
    /// How pigments are wetted out.
    pub wetting: Vec<String>,
    /// What to know before beginning.
    pub notes: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// A part that is tinted as a whole.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Tinted {
    /// What the batches call it.
    pub name: String,
    /// What is weighed for it: the part, then the pigments.
    pub weigh: Vec<Weighing>,
    /// What stays in its can in the end, g.
    pub left_g: f64,
}

/// Weights of a batch, before names.
struct Batch {
    /// Grams of each part.
    parts: Vec<f64>,
    /// Grams of each of the recipe's pigments.
    pigments: Vec<f64>,
}

impl Batch {
    fn content(&self, recipe: &Recipe) -> Content {
        let mut content = Content {
            coating_g: self.parts.iter().sum(),
            ..Content::default()
        };
        for (load, grams) in recipe.loads.iter().zip(&self.pigments) {
            content.add_pigment(&load.pigment, *grams);
        }
        content
    }

    fn ratio_off(&self, coating: &Coating) -> f64 {
        let whole: f64 = self.parts.iter().sum();
        let off = coating.parts.iter().zip(&self.parts);
        off.map(|(part, grams)| (grams / whole / part.share - 1.0).abs())
            .fold(0.0, f64::max)
    }
}

/// Plans a job.
///
/// # Errors
/// If something is not known that has to be, a number can't be what it stands for, or a batch that is used up within the pot
/// life holds less of something than the balance can weigh.
pub fn plan(order: &Order<'_>) -> Result<JobPlan, PlanError> {
    let Order {
        surface,
        coating,
        settings,
        ..
    } = *order;
    settings.check()?;
    super::session::check(surface)?;
    let recipe = &surface.recipe;
    let times = times(order);
    let needed_g = surface.wet_g() * (1.0 + settings.overage);
    let coating_g = coating_in(needed_g, recipe.total_load()) / f64::from(times);
    let batches = batches(order, needed_g / f64::from(times))?;
    let each = coating_g / few(batches);
    let all = f64::from(times) * few(batches);
    let (batch, tinted, used) = match order.tint_part.filter(|_| !recipe.loads.is_empty()) {
        Some(part) => tinted(order, part, each, all)?,
        None => plain(order, each, batches)?,
    };
    let content = batch.content(recipe);
    let mut weigh: Vec<Weighing> = Vec::new();
    let step = settings.balance.step_g();
    match &tinted {
        Some(it) => {
            let at = order.tint_part.unwrap_or(0);
            let grams = batch.parts[at] + batch.pigments.iter().sum::<f64>();
            weigh.push(Weighing {
                what: it.name.clone(),
                grams: balance::tidy(grams),
            });
            weigh.extend(
                names(coating, &batch.parts)
                    .enumerate()
                    .filter(|it| it.0 != at)
                    .map(|it| it.1),
            );
        }
        None => {
            weigh.extend(pigments(recipe, &batch.pigments));
            weigh.extend(names(coating, &batch.parts));
        }
    }
    let (totals, cost) = used.priced(
        std::slice::from_ref(coating),
        order.pigments,
        order.currency,
    );
    let mixed: f64 = totals.iter().map(|it| it.grams).sum();
    let known: Vec<Pigment> = recipe
        .loads
        .iter()
        .filter_map(|it| known(order.pigments, &it.pigment))
        .cloned()
        .collect();
    let batch_m2 = surface.area_m2 / few(batches);
    Ok(JobPlan {
        schema: super::SCHEMA,
        balance_step_g: step,
        overage: settings.overage,
        times,
        batches,
        batch_m2,
        batch_wet_g: content.wet_g(),
        batch_ml: coating.volume_ml(content.coating_g),
        batch_minutes: coating
            .pot_life_min
            .map(|_| 60.0 * batch_m2 / order.pace_m2_per_h),
        pot_life_min: coating.pot_life_min,
        loads: loads(order, &batch, &content, tinted.as_ref()),
        ratio_off: batch.ratio_off(coating),
        standing: order.limits.standing(&weighed(recipe, &content)),
        batch: weigh,
        tinted,
        needed_g,
        waste_g: mixed - needed_g,
        wetting: if recipe.loads.is_empty() {
            Vec::new()
        } else {
            care::wetting(&known)
        },
        notes: notes(order, &totals),
        cautions: care::cautions(std::slice::from_ref(coating), &known, false),
        totals,
        cost,
        surface: surface.clone(),
    })
}

/// How many batches `wet_g` grams of one coat take.
fn batches(order: &Order<'_>, wet_g: f64) -> Result<usize, PlanError> {
    let coating = order.coating;
    let positive = |what: &str, value: f64| {
        if value.is_finite() && value > 0.0 {
            return Ok(value);
        }
        Err(PlanError::Number {
            what: what.to_owned(),
            value,
            must: "above 0".to_owned(),
        })
    };
    let mut wanted: f64 = 1.0;
    if let Some(pot_life) = coating.pot_life_min {
        let pace = positive("the pace in m²/h", order.pace_m2_per_h)?;
        let minutes = positive("the pot life in minutes", pot_life)? * order.settings.worked_share;
        wanted = wanted.max((order.surface.area_m2 / (pace * minutes / 60.0) - 1e-9).ceil());
    } else if coating.is_mixed() {
        return Err(PlanError::NoPotLife {
            coating: coating.name.clone(),
        });
    }
    if let Some(largest) = order.largest_batch_g {
        wanted = wanted.max((wet_g / positive("the largest batch in g", largest)? - 1e-9).ceil());
    }
    (1..=MOST_BATCHES)
        .find(|it| few(*it) >= wanted)
        .ok_or(PlanError::TooMany {
            batches: wanted,
            most: MOST_BATCHES,
        })
}

/// Pigment into each batch. One batch may be made larger than needed so that its pigment can be weighed; of several, none,
/// since it would not be used up in time.
fn plain(
    order: &Order<'_>,
    each: f64,
    batches: usize,
) -> Result<(Batch, Option<Tinted>, Used), PlanError> {
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
    let shares = || {
        let pigments = recipe
            .loads
            .iter()
            .map(|it| (it.pigment.to_string(), it.load / 100.0));
        let parts = coating.parts.iter().map(|it| (it.name.clone(), it.share));
        pigments.chain(parts)
    };
    let smallest = shares().min_by(|a, b| a.1.total_cmp(&b.1));
    let (what, share) = smallest.unwrap_or_else(|| (coating.name.clone(), 1.0));
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
            parts: weigh(coating, target + extra, settings),
            pigments: pigments.clone(),
        })
    });
    let all = f64::from(times(order)) * few(batches);
    let used = used(order, &batch, all);
    Ok((batch, None, used))
}

/// Of batches that are a little larger than asked for, in steps of their smallest part, the one whose loads suffer least from
/// rounding; none if all would exceed the tested limits.
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
        let parts = weigh(coating, grams + more, settings);
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
        let enough = coating_g >= grams - 1e-9 && limits.allow(recipe, &weighed(recipe, &content));
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
fn times(order: &Order<'_>) -> u32 {
    let keeps = !order.coating.is_mixed() && order.coating.pot_life_min.is_none();
    if keeps { 1 } else { order.surface.coats }
}

/// The whole of a part tinted beforehand, for `all` batches.
fn tinted(
    order: &Order<'_>,
    at: usize,
    each: f64,
    all: f64,
) -> Result<(Batch, Option<Tinted>, Used), PlanError> {
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
        if each * it.share < least - 1e-9 && all > 1.0 {
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
    weigh.extend(self::pigments(recipe, &pigments));
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
fn weigh(coating: &Coating, grams: f64, settings: &Settings) -> Vec<f64> {
    let parts = super::weigh::parts(coating, grams, &settings.balance);
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

fn weighed(recipe: &Recipe, content: &Content) -> Recipe {
    let loads = recipe.loads.iter().map(|it| Load {
        pigment: it.pigment.clone(),
        load: content.load(&it.pigment),
    });
    Recipe {
        coating: recipe.coating.clone(),
        loads: loads.collect(),
    }
}

fn names<'a>(coating: &'a Coating, grams: &'a [f64]) -> impl Iterator<Item = Weighing> + 'a {
    coating.parts.iter().zip(grams).map(|(it, grams)| Weighing {
        what: it.name.clone(),
        grams: balance::tidy(*grams),
    })
}

fn pigments(recipe: &Recipe, grams: &[f64]) -> Vec<Weighing> {
    let all = recipe.loads.iter().zip(grams);
    all.map(|(it, grams)| Weighing {
        what: it.pigment.to_string(),
        grams: *grams,
    })
    .collect()
}

/// The loads with how far they can be off when every weighing is off by half a step.
fn loads(
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

fn notes(order: &Order<'_>, totals: &[Total]) -> Vec<String> {
    let mut notes = Vec::new();
    for it in totals {
        if let Some(stock) = &it.stock {
            notes.push(format!(
                "{} is noted as {stock}: {:.2} g are needed.",
                it.what, it.grams
            ));
        }
    }
    let unlotted = order
        .surface
        .recipe
        .loads
        .iter()
        .filter(|it| it.pigment.lot.is_none());
    let unlotted: Vec<String> = unlotted.map(|it| it.pigment.to_string()).collect();
    if !unlotted.is_empty() {
        notes.push(format!(
            "Take all of each pigment from one lot, the lot of the swatch if it is still there: {}.",
            unlotted.join(", ")
        ));
    }
    notes
}
