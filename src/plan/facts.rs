//! What is known of materials: what a user says goes before what the library holds.
//!
//! Takes a library's catalog (if there is one) and what was said besides; gives the plain types that plans are made from, and
//! where each fact was taken from. This and its parts are all of planning that knows the library.

mod given;
mod materials;
mod swatch;

pub use given::{Given, Said};
pub use swatch::{of_patch, of_swatch};

use super::board;
use super::{Coating, Limit, Limits, Load, Pigment, PigmentName, PlanError, Recipe, Taken};
use crate::library::recipe::Ingredient;
use crate::library::{Library, LibraryError};
use crate::panel::Panel;

/// Why the facts can't be had.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FactsError {
    /// Of the library.
    #[error(transparent)]
    Library(#[from] LibraryError),
    /// A fact that makes no sense, or is missing.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// Something was said of a thing that the plan hasn't got.
    #[error("{what} is stated for {name:?}, which is not in this plan; there is {there}")]
    NotThere {
        /// What was said.
        what: &'static str,
        /// Of what.
        name: String,
        /// What there is.
        there: String,
    },
}

impl FactsError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Library(it) => it.hint(),
            Self::Plan(it) => it.hint(),
            Self::NotThere { .. } => "Write the name as it is there.",
        }
    }
}

/// Everything that a plan for these recipes needs to know.
#[derive(Clone, Debug, PartialEq)]
pub struct Facts {
    /// The coatings.
    pub coatings: Vec<Coating>,
    /// The pigments of which something is known.
    pub pigments: Vec<Pigment>,
    /// What was tested.
    pub limits: Limits,
    /// Where facts were taken from.
    pub taken: Vec<Taken>,
}

/// The recipes of a panel's patches.
#[must_use]
pub fn recipes_of(panel: &Panel) -> Vec<Recipe> {
    board::coated(panel)
        .map(|it| board::recipe_of(panel, it))
        .collect()
}

/// Brings together what is known for these recipes.
///
/// # Errors
/// If the library can't be read, a coating's mixing ratio is neither said nor held, a number makes no sense, or something was
/// said of a thing that no recipe has.
pub fn facts(
    recipes: &[Recipe],
    library: Option<&Library>,
    given: &Given,
) -> Result<Facts, FactsError> {
    let mut coatings: Vec<Coating> = Vec::new();
    let mut names: Vec<PigmentName> = Vec::new();
    let mut taken = Vec::new();
    for recipe in recipes {
        if !coatings.iter().any(|it| it.name == recipe.coating) {
            let held = library
                .map(|it| it.coating(&recipe.coating))
                .transpose()?
                .flatten();
            coatings.push(materials::coating(
                &recipe.coating,
                held.as_ref(),
                given,
                &mut taken,
            )?);
        }
        names.extend(recipe.loads.iter().map(|it| it.pigment.clone()));
    }
    names.sort();
    names.dedup();
    given.check(&coatings, &names)?;
    let mut pigments = Vec::new();
    for name in &names {
        let held = library
            .map(|it| it.pigment(&name.pigment))
            .transpose()?
            .flatten();
        pigments.push(materials::pigment(name, held.as_ref(), given, &mut taken));
    }
    let limits = limits(&coatings, library, given)?;
    Ok(Facts {
        coatings,
        pigments,
        limits,
        taken,
    })
}

fn limits(
    coatings: &[Coating],
    library: Option<&Library>,
    given: &Given,
) -> Result<Limits, LibraryError> {
    let mut limits = Limits::default();
    if let Some(library) = library {
        for coating in coatings {
            for it in library.limits(&coating.name)? {
                limits.single.push(Limit {
                    pigment: it.pigment,
                    lot: it.lot,
                    coating: Some(it.coating),
                    cured: it.highest_cured,
                    failed: it.lowest_failed,
                });
            }
            for it in library.mixtures(&coating.name)? {
                let tested = if it.cured {
                    &mut limits.cured
                } else {
                    &mut limits.failed
                };
                tested.push(recipe(&coating.name, it.pigments));
            }
        }
    }
    for (pigment, load) in &given.limits {
        // What did not cure stays known, whatever a user says that cured.
        for it in &mut limits.single {
            if it.pigment == *pigment {
                it.cured = Some(*load);
            }
        }
        limits.single.push(Limit {
            pigment: pigment.clone(),
            lot: None,
            coating: None,
            cured: Some(*load),
            failed: None,
        });
    }
    Ok(limits)
}

fn recipe(coating: &str, pigments: Vec<Ingredient>) -> Recipe {
    let loads = pigments.into_iter().map(|it| Load {
        pigment: PigmentName {
            pigment: it.pigment,
            lot: None,
        },
        load: it.load,
    });
    Recipe {
        coating: coating.to_owned(),
        loads: loads.collect(),
    }
}
