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

use masstone::colour::{Lab, Matrix};
use masstone::mix::search::{Candidate, Found, Order, Recipe, Task};
use masstone::mix::{Coat, Load, Model};
use masstone::plan::Balance;
use tinted::other::G_PER_M2;

/// A kilogram, a balance of 0.01 g, up to three pigments, the nearest first.
fn task<'a>(model: &'a Model, candidates: &'a [Candidate], wanted: Lab) -> Task<'a> {
    Task {
        model,
        aged: None,
        wanted,
        covariance: Matrix::zeros(),
        ground: "larch",
        g_per_m2: G_PER_M2,
        candidates,
        mixtures: &[],
        coating_per_kg: Some(20.0),
        batch_g: 1000.0,
        balance: Balance::new(0.01, None).expect("a balance"),
        most_pigments: 3,
        base: None,
        in_stock: false,
        allow_untested: false,
        allow_beyond: false,
        order: Order::Nearest,
        count: 20,
    }
}

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
