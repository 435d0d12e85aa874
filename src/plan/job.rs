//! A job's plan: one recipe, so many square metres, in batches that are alike.
//!
//! Each coat is put on in as many batches as the pot life asks for, all of the same weights, so that the last square metre has
//! the colour of the first. Where the maker allows it, the whole of one part is tinted beforehand: then pigment is weighed once,
//! and no batch can differ.

mod batch;

use super::like::Like;
use super::limit::{Limits, Standing};
use super::material::{Coating, Pigment, known};
use super::mixing::coating_in;
use super::session::few;
use super::taken::Taken;
use super::{Cost, CupLoad, PlanError, Settings, Surface, Total, Weighing, balance, care};
use batch::{loads, names, pigments_of, plain, times, tinted, weighed};
use schemars::JsonSchema;
use serde::Serialize;

/// More batches a coat than anyone mixes.
const MOST_BATCHES: usize = 1000;

/// So many times what is needed is more than should go without a word (common practice, no source).
const MUCH: f64 = 1.25;

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
    /// What it is to look like.
    pub like: Option<&'a Like>,
    /// Where the facts were taken from.
    pub taken: &'a [Taken],
    /// What may make its colour another than that.
    pub notes: &'a [String],
}

/// What to mix for a job.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct JobPlan {
    /// [`super::SCHEMA`].
    pub schema: u32,
    /// What is coated.
    pub surface: Surface,
    /// What it is to look like.
    pub like: Option<Like>,
    /// Where facts were taken from.
    pub taken: Vec<Taken>,
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

impl JobPlan {
    /// Whether its coating is mixed from parts: what is weighed besides pigments is more than one thing.
    #[must_use]
    pub fn has_parts(&self) -> bool {
        self.totals.len() > self.surface.recipe.loads.len() + 1
    }
}

/// A part that is tinted as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Tinted {
    /// What the batches call it.
    pub name: String,
    /// What is weighed for it: the part, then the pigments.
    pub weigh: Vec<Weighing>,
    /// What stays in its can in the end, g.
    pub left_g: f64,
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
    let least_batches = batches(order, needed_g / f64::from(times))?;
    let (batches, (batch, tinted, used)) = batch::largest_kept(order, least_batches, |batches| {
        let each = coating_g / few(batches);
        match order.tint_part.filter(|_| !recipe.loads.is_empty()) {
            Some(part) => tinted(order, part, each, batches),
            None => plain(order, each, batches),
        }
    })?;
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
            weigh.extend(pigments_of(recipe, &batch.pigments));
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
        like: order.like.cloned(),
        taken: order.taken.to_vec(),
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
        notes: notes(order, &totals, needed_g, mixed),
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

fn notes(order: &Order<'_>, totals: &[Total], needed_g: f64, mixed_g: f64) -> Vec<String> {
    let mut notes = order.notes.to_vec();
    if mixed_g > MUCH * needed_g {
        notes.push(format!(
            "{mixed_g:.0} g are mixed and {needed_g:.0} g are needed: the balance can't weigh less pigment. A finer one wastes less, and so does tinting the whole of one part beforehand (--tint-part), if its maker allows that."
        ));
    }
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
