//! Materials and tested limits, as planning knows them.

use super::{Shelf, ShelfError};
use crate::library::Library;
use crate::mix::trial::{Load, Trial};
use crate::plan::facts::{self, Given, Said};
use crate::plan::{self, Coating, PigmentName, Recipe};

/// What is known beside the trials.
pub(super) struct Materials {
    pub(super) limits: plan::Limits,
    pub(super) coating: Option<Coating>,
    pub(super) coating_per_kg: Option<f64>,
    pub(super) pigments: Vec<plan::Pigment>,
}

/// Everything that planning knows of the coating and the trials' pigments.
pub(super) fn of(
    library: &Library,
    coating: &str,
    trials: &[Trial],
) -> Result<Materials, ShelfError> {
    let recipes: Vec<Recipe> = trials
        .iter()
        .map(|it| recipe(coating, &it.pigments))
        .collect();
    let held = library.coating(coating)?;
    let is_known = held.is_some();
    let given = Given {
        // Planning wants a mixing ratio; of what nobody described it is not used.
        ratios: if is_known {
            Vec::new()
        } else {
            vec![Said {
                of: None,
                value: vec![1.0],
            }]
        },
        ..Given::default()
    };
    let facts = facts::facts(&recipes, Some(library), &given)?;
    Ok(Materials {
        limits: facts.limits,
        coating_per_kg: held.and_then(|it| it.price()),
        coating: facts.coatings.into_iter().next().filter(|_| is_known),
        pigments: facts.pigments,
    })
}

/// Loads as planning has them.
pub(super) fn recipe(coating: &str, loads: &[Load]) -> Recipe {
    let loads = loads.iter().filter(|it| it.load > 0.0);
    Recipe {
        coating: coating.to_owned(),
        loads: loads
            .map(|it| plan::Load {
                pigment: PigmentName {
                    pigment: it.pigment.clone(),
                    lot: None,
                },
                load: it.load,
            })
            .collect(),
    }
}

/// The cautions of plans. Where nobody described the coating, it may be one of two parts.
pub(super) fn cautions(shelf: &Shelf, loads: &[Load], outdoors: bool) -> Vec<String> {
    let in_it = |it: &&plan::Pigment| {
        let name = &it.name.pigment;
        loads.iter().any(|load| load.pigment == *name)
    };
    let pigments: Vec<plan::Pigment> = shelf.pigments.iter().filter(in_it).cloned().collect();
    let coating = shelf
        .mixed
        .clone()
        .or_else(|| Coating::by_mass(&shelf.coating, &[1.0, 1.0]).ok());
    plan::cautions(coating.as_slice(), &pigments, outdoors)
}
