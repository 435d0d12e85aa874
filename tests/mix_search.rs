//! Recipes for a wanted colour: found again, held against a grid and another minimiser, within limits, the same on any number of threads.

#[path = "mix_search/facts.rs"]
mod facts;
#[path = "mix_search/limits.rs"]
mod limits;
#[path = "mix_search/nearest.rs"]
mod nearest;
#[path = "mix_search/refused.rs"]
mod refused;
#[path = "tinted/mod.rs"]
mod tinted;

use masstone::colour::Lab;
use masstone::mix::search::{Found, Recipe};
use masstone::mix::{Coat, Load, Model};
use tinted::other::G_PER_M2;
use tinted::task;

/// Pigments and loads.
fn loads(parts: &[(&str, f64)]) -> Vec<Load> {
    (parts.iter())
        .map(|(pigment, load)| Load {
            pigment: (*pigment).to_owned(),
            load: *load,
        })
        .collect()
}

fn coat(parts: &[(&str, f64)]) -> Coat {
    Coat {
        pigments: loads(parts),
        g_per_m2: G_PER_M2,
        ground: "larch".to_owned(),
    }
}

fn colour(model: &Model, parts: &[(&str, f64)]) -> Lab {
    model.colour(&coat(parts)).expect("the model has them")
}

fn all(found: &Found) -> impl Iterator<Item = &Recipe> {
    found.groups.iter().flatten()
}

fn nearest(found: &Found) -> &Recipe {
    all(found)
        .min_by(|a, b| a.delta_e.total_cmp(&b.delta_e))
        .expect("a recipe")
}

fn ids(recipe: &Recipe) -> Vec<&str> {
    recipe.parts.iter().map(|it| it.pigment.as_str()).collect()
}
