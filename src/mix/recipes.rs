//! Recipes for a wanted colour: what `mix match` answers, from what the library holds to what was found.

use super::age::AgedModel;
use super::answer::{Distance, SCHEMA, Shade, rounded};
use super::model::{Model, Prediction};
use super::search::{
    Candidate, Change, Found, Mark, Order, Recipe, SearchError, Task, Tested, search,
};
use super::shelf::Shelf;
use super::trial::Load;
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix, lab, uncertainty};
use crate::plan::{self, Balance};
use schemars::JsonSchema;
use serde::Serialize;

/// What recipes are wanted for, and what may be taken.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The wanted colour in words.
    pub words: String,
    /// The wanted colour.
    pub lab: Lab,
    /// Its covariance; zero for one that is simply wanted.
    pub covariance: Matrix,
    /// What is coated.
    pub ground: String,
    /// Wet coating, g/m².
    pub g_per_m2: f64,
    /// Coating to be tinted, g.
    pub batch_g: f64,
    /// What pigments are weighed on.
    pub balance: Balance,
    /// Most pigments in a recipe.
    pub most_pigments: usize,
    /// A pigment that every recipe has.
    pub base: Option<String>,
    /// Only what is in stock.
    pub in_stock: bool,
    /// Pigments, too, of which no load is known to cure.
    pub allow_untested: bool,
    /// Loads, too, beyond the tested limits.
    pub allow_beyond: bool,
    /// What comes first of what can't be told apart.
    pub order: Order,
    /// How many to list.
    pub count: usize,
}

/// What is known of ageing. The default is nothing.
#[derive(Debug, Default)]
pub struct Ageing<'a> {
    /// Where the colour is wanted after so many hours: these, and what everything looks like then.
    pub after: Option<(f64, &'a AgedModel)>,
    /// How each pigment changes by itself.
    pub fastness: Vec<(String, Change)>,
}

/// Recipes for a wanted colour.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Recipes {
    /// The form's number.
    pub schema: u32,
    /// The coating's id.
    pub coating: String,
    /// What is coated.
    pub substrate: String,
    /// Wet coating, all coats together, pigment included; where `nominal`, only a unit for coats.
    pub g_per_m2: f64,
    /// The same in coats.
    pub coats: f64,
    /// Nobody weighed or stated what a coat takes.
    pub nominal: bool,
    /// The wanted colour in words.
    pub target: String,
    /// The wanted colour.
    pub wanted: Shade,
    /// Hours of exposure after which it is wanted; null for as made.
    pub hours: Option<f64>,
    /// Coating to be tinted, g.
    pub batch_g: f64,
    /// Recipes that can't be told from the nearest, then those that can't be told from the nearest of the rest, and so on.
    pub groups: Vec<Vec<Row>>,
    /// How many combinations of pigments were looked at.
    pub combinations: usize,
    /// How many of them may come as near as the first group, listed or not.
    pub alike: usize,
    /// What is lacking, where nothing reaches the wanted colour.
    pub shortfall: Option<Lacking>,
    /// What a reader must know, as full sentences.
    pub notes: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// A recipe.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Row {
    /// Its pigments, by id.
    pub pigments: Vec<Part>,
    /// Its colour as made.
    pub made: Shade,
    /// Its colour after the hours asked for; null where the colour as made is the wanted one.
    pub aged: Option<Shade>,
    /// ΔE00 to the wanted colour, at the age that is wanted.
    pub delta_e: f64,
    /// Where the true ΔE00 lies, 95 %: at least.
    pub from: f64,
    /// At most; null where nothing is known.
    pub to: Option<f64>,
    /// Whether it can't be told from the wanted colour.
    pub reaches: bool,
    /// Σ(load ÷ limit) over the pigments with a tested limit.
    pub sum: Option<f64>,
    /// Whether it is beyond the tested limits.
    pub beyond: bool,
    /// What a kilogram of tinted coating costs; null if a price is missing.
    pub cost_per_kg: Option<f64>,
    /// What the batch costs.
    pub cost: Option<f64>,
    /// What has no price.
    pub without_price: Vec<String>,
    /// ΔE00 between made and aged; where that was not asked for, the mean of its pigments' own changes; null if unknown.
    pub change: Option<f64>,
    /// How far from what was measured.
    pub distance: Distance,
    /// Its ΔE00 to the wanted colour as the balance can weigh it; null where it can't.
    pub rounded_delta_e: Option<f64>,
    /// ΔE00 that rounding moves it by; null where the balance can't weigh it.
    pub rounding: Option<f64>,
    /// What must be said of it.
    pub marks: Vec<String>,
}

/// A pigment in a recipe.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Part {
    /// Its id.
    pub pigment: String,
    /// Grams per 100 g of mixed coating, as found.
    pub load: f64,
    /// Grams for the batch, in whole steps of the balance; null where none make the recipe.
    pub grams: Option<f64>,
    /// The load that these make.
    pub rounded_load: Option<f64>,
}

/// What is lacking where nothing reaches the wanted colour.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Lacking {
    /// ΔE00 of the nearest.
    pub delta_e: f64,
    /// In which directions: `not dark enough`.
    pub directions: Vec<String>,
    /// What stands in the way.
    pub bounds: Vec<String>,
}

/// Finds recipes. `notes` are put before what the search has to say.
///
/// # Errors
///
/// As [`search`].
pub fn recipes(
    shelf: &Shelf,
    model: &Model,
    ageing: &Ageing<'_>,
    asked: &Asked,
    notes: Vec<String>,
) -> Result<Recipes, SearchError> {
    let candidates = candidates(shelf, ageing);
    let mixtures = mixtures(shelf);
    let found = search(&Task {
        model,
        aged: ageing.after.map(|it| it.1),
        wanted: asked.lab,
        covariance: asked.covariance,
        ground: &asked.ground,
        g_per_m2: asked.g_per_m2,
        candidates: &candidates,
        mixtures: &mixtures,
        coating_per_kg: shelf.coating_per_kg,
        batch_g: asked.batch_g,
        balance: asked.balance,
        most_pigments: asked.most_pigments,
        base: asked.base.as_deref(),
        in_stock: asked.in_stock,
        allow_untested: asked.allow_untested,
        allow_beyond: asked.allow_beyond,
        order: asked.order,
        count: asked.count,
    })?;
    Ok(answer(
        shelf,
        asked,
        ageing.after.map(|it| it.0),
        &found,
        notes,
    ))
}

/// The pigments of the trials, with what is known of each.
fn candidates(shelf: &Shelf, ageing: &Ageing<'_>) -> Vec<Candidate> {
    let of = |id: String| {
        let limits = shelf.limits.single.iter();
        let limit = limits
            .clone()
            .find(|it| it.pigment == id && it.lot.is_none());
        let known = shelf.pigments.iter().find(|it| it.name.pigment == id);
        Candidate {
            limit: limit.and_then(|it| it.cured),
            lowest_failed: limit.and_then(|it| it.failed),
            per_kg: known.and_then(|it| it.price_per_kg),
            in_stock: known.is_none_or(|it| it.stock.as_deref() != Some(plan::GONE)),
            fastness: (ageing.fastness.iter())
                .find(|it| it.0 == id)
                .map(|it| it.1),
            id,
        }
    };
    shelf.pigment_names().into_iter().map(of).collect()
}

fn mixtures(shelf: &Shelf) -> Vec<Tested> {
    let of = |all: &[plan::Recipe], cured: bool| -> Vec<Tested> {
        let loads = |it: &plan::Recipe| {
            let loads = it.loads.iter().map(|it| Load {
                pigment: it.pigment.pigment.clone(),
                load: it.load,
            });
            loads.collect()
        };
        (all.iter())
            .map(|it| Tested {
                pigments: loads(it),
                cured,
            })
            .collect()
    };
    let mut all = of(&shelf.limits.cured, true);
    all.extend(of(&shelf.limits.failed, false));
    all
}

fn answer(
    shelf: &Shelf,
    asked: &Asked,
    hours: Option<f64>,
    found: &Found,
    mut notes: Vec<String>,
) -> Recipes {
    notes.extend(shelf.notes.iter().cloned());
    for (why, count) in &found.removed {
        let pigments = if *count == 1 { "pigment" } else { "pigments" };
        notes.push(format!("{count} {pigments} not considered: {why}."));
    }
    let all = || found.groups.iter().flatten();
    for recipe in all() {
        let seen = recipe.aged.as_ref().unwrap_or(&recipe.fresh);
        for it in &seen.notes {
            if !notes.contains(it) {
                notes.push(it.clone());
            }
        }
    }
    let loads: Vec<Load> = all()
        .flat_map(|it| &it.parts)
        .map(|it| Load {
            pigment: it.pigment.clone(),
            load: it.load,
        })
        .collect();
    let dark = all().find_map(|it| plan::heat(lab::luminance(it.fresh.lab.l)));
    let mut cautions: Vec<String> = dark.into_iter().collect();
    cautions.extend(shelf.cautions(&loads, false));
    let is_measured = asked.covariance != Matrix::zeros();
    Recipes {
        schema: SCHEMA,
        coating: shelf.coating.clone(),
        substrate: asked.ground.clone(),
        g_per_m2: rounded(asked.g_per_m2),
        coats: rounded(asked.g_per_m2 / shelf.per_coat.g_per_m2),
        nominal: shelf.per_coat.is_nominal(),
        target: asked.words.clone(),
        wanted: Shade::of(
            asked.lab,
            uncertainty::u95(asked.lab, &asked.covariance).filter(|_| is_measured),
        ),
        hours,
        batch_g: asked.batch_g,
        groups: (found.groups.iter())
            .map(|group| group.iter().map(row).collect())
            .collect(),
        combinations: found.combinations,
        alike: found.alike,
        shortfall: found.shortfall.as_ref().map(|it| Lacking {
            delta_e: rounded(it.delta_e),
            directions: it.words.iter().map(|it| (*it).to_owned()).collect(),
            bounds: it.bounds.iter().map(ToString::to_string).collect(),
        }),
        notes,
        cautions,
    }
}

fn row(it: &Recipe) -> Row {
    let shade = |it: &Prediction| Shade::of(it.lab, Some(it.u95));
    let weighed = it.rounded.as_ref();
    let pigments = it.parts.iter().enumerate();
    Row {
        pigments: pigments
            .map(|(index, part)| Part {
                pigment: part.pigment.clone(),
                load: rounded(part.load),
                grams: weighed.map(|it| it.grams[index]),
                rounded_load: weighed.map(|it| rounded(it.loads[index])),
            })
            .collect(),
        made: shade(&it.fresh),
        aged: it.aged.as_ref().map(shade),
        delta_e: rounded(it.delta_e),
        from: rounded(it.interval[0]),
        to: Some(it.interval[1])
            .filter(|it| it.is_finite())
            .map(rounded),
        reaches: it.reaches,
        sum: it.sum.map(rounded),
        beyond: it.marks.iter().any(|it| matches!(it, Mark::Beyond(_))),
        cost_per_kg: it.cost.per_kg.map(rounded),
        cost: it.cost.batch.map(rounded),
        without_price: it.cost.without.clone(),
        change: (it.aged.as_ref())
            .map(|aged| delta_e_2000(it.fresh.lab, aged.lab))
            .or(it.fastness.combined)
            .map(rounded),
        distance: Distance::of(&it.fresh.reach, it.fresh.distance),
        rounded_delta_e: weighed.map(|it| rounded(it.delta_e)),
        rounding: weighed.map(|it| rounded(it.moved)),
        marks: it.marks.iter().map(ToString::to_string).collect(),
    }
}
