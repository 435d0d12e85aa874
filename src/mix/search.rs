//! Search: from a wanted colour to recipes of one, two or three pigments.

mod allowed;
mod combinations;
mod descend;
mod error;
mod forbidden;
mod layer;
mod quadratic;
mod task;

pub use error::{Removed, SearchError};
pub use task::{Candidate, Change, MOST_PIGMENTS, Order, Task, Tested};

use crate::mix::Model;
use allowed::Choice;
use combinations::Searched;
use forbidden::Forbidden;
use layer::Layer;

#[doc(hidden)]
pub fn try_it(task: &Task<'_>) -> Result<(usize, Vec<(Vec<String>, Vec<f64>, f64)>), SearchError> {
    task.check()?;
    let choice = Choice::of(task)?;
    let forbidden = Forbidden::of(&choice, task.mixtures);
    let (model, ground): (&Model, _) = match (task.aged, choice.aged_ground) {
        (Some(m), Some(g)) => (m, g),
        _ => (task.model, choice.ground),
    };
    let places: Vec<usize> = choice.pigments.iter().map(|it| if task.aged.is_some() {it.aged_place} else {it.place}).collect();
    let s = Searched {
        choice: &choice,
        forbidden: &forbidden,
        coarse: Layer::new(model, &places, ground, task.g_per_m2),
        fine: Layer::new(model, &places, ground, task.g_per_m2),
        wanted: task.wanted,
        most_pigments: task.most_pigments,
    };
    let t = std::time::Instant::now();
    let (n, spots) = s.spots();
    if n > 100 { println!("{n} {} in {:?}", spots.len(), t.elapsed()); }
    Ok((n, spots.iter().map(|it| (it.pigments().iter().map(|i| choice.pigments[*i].candidate.id.clone()).collect(), it.loads().iter().take(it.count).copied().collect(), it.best.off)).collect()))
}
