//! Which recipes can be told apart.
//!
//! Two recipes are held against the same wanted colour: what is unsure of it they share. What is unsure of the predictions is taken as
//! each one's own; it is partly shared, so that more is put together than need be, never less.

use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::Vector3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::f64::consts::TAU;

/// ΔE00 by which no recipe is called nearer than another: no eye and no photo would see it, and pigments are weighed in steps.
pub(super) const NO_NEARER: f64 = 0.05;
/// How sure it must be that one is nearer.
const SURE: f64 = 0.05;
/// Draws: the share of [`SURE`] is known to a sixth of itself.
const DRAWS: usize = 600;

/// ΔE00 to the wanted colour, draw by draw; the draws of the wanted colour are those of every other recipe.
#[derive(Clone, Debug)]
pub(super) struct Distances {
    /// As it is.
    pub(super) off: f64,
    drawn: Vec<f64>,
}

/// A colour with its covariance.
pub(super) type Unsure = (Lab, Matrix);

impl Distances {
    /// `seed`: another one for each recipe.
    pub(super) fn of(recipe: &Unsure, wanted: &Unsure, seed: u64) -> Self {
        let off = delta_e_2000(recipe.0, wanted.0);
        let none = |it: &Unsure| it.1.iter().all(|it| it.abs() < f64::MIN_POSITIVE);
        let roots = [recipe, wanted].map(|it| uncertainty::square_root(&it.1));
        let drawn = match roots {
            _ if none(recipe) && none(wanted) => vec![off; DRAWS],
            [Some(own), Some(shared)] => {
                let mut draws = normals(seed);
                (uncertainty::normals().iter().take(DRAWS))
                    .map(|it| {
                        delta_e_2000(moved(recipe.0, own * draws()), moved(wanted.0, shared * it))
                    })
                    .collect()
            }
            // Nothing is known of it.
            _ => vec![0.0; DRAWS],
        };
        Self { off, drawn }
    }

    /// Whether it can't be told that `other` is nearer than this.
    fn may_be_as_near_as(&self, other: &Self) -> bool {
        let pairs = self.drawn.iter().zip(&other.drawn);
        let as_near = pairs
            .filter(|(own, other)| **own <= *other + NO_NEARER)
            .count();
        as_near as f64 >= SURE * DRAWS as f64
    }
}

/// Places of the recipes by group: those that can't be told from the nearest, then those that can't be told from the nearest of the rest, and so
/// on, until `enough` are in groups. Within a group in the order given.
pub(super) fn groups(recipes: &[Distances], enough: usize) -> Vec<Vec<usize>> {
    let mut rest: Vec<usize> = (0..recipes.len()).collect();
    let mut groups = Vec::new();
    let mut grouped = 0;
    while grouped < enough
        && let Some(head) =
            (rest.iter().copied()).min_by(|a, b| recipes[*a].off.total_cmp(&recipes[*b].off))
    {
        let (group, others): (Vec<usize>, Vec<usize>) = (rest.iter())
            .partition(|it| **it == head || recipes[**it].may_be_as_near_as(&recipes[head]));
        grouped += group.len();
        groups.push(group);
        rest = others;
    }
    groups
}

fn moved(lab: Lab, by: Vector3<f64>) -> Lab {
    Lab::new(lab.l + by.x, lab.a + by.y, lab.b + by.z)
}

/// Normal draws (Box & Muller), as the seed has it.
fn normals(seed: u64) -> impl FnMut() -> Vector3<f64> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    move || {
        let mut uniform = || (f64::from(random.next_u32()) + 0.5) / 2.0_f64.powi(32);
        Vector3::from_fn(|_, _| (-2.0 * uniform().ln()).sqrt() * (TAU * uniform()).cos())
    }
}
