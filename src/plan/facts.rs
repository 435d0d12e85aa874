//! What is known of materials: what a user says goes before what the library holds.
//!
//! Takes a library's catalog (if there is one) and what was said besides; gives the plain types that plans are made from. The
//! only file of planning that knows the library.

use super::board;
use super::{Coating, Limit, Limits, Load, Pigment, PigmentName, PlanError, Recipe};
use crate::library::catalog::{self, Stock};
use crate::library::recipe::Ingredient;
use crate::library::{Library, LibraryError};
use crate::panel::Panel;

/// A value for one thing, or for all that it can be said of.
#[derive(Clone, Debug, PartialEq)]
pub struct Said<T> {
    /// Of what; none: of all.
    pub of: Option<String>,
    /// The value.
    pub value: T,
}

/// What a user says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given {
    /// Mixing ratios of coatings: parts by mass, or by volume where [`Self::densities_of_parts`] are said.
    pub ratios: Vec<Said<Vec<f64>>>,
    /// The ratios are by volume.
    pub by_volume: bool,
    /// Densities of a coating's parts, g/ml.
    pub densities_of_parts: Vec<Said<Vec<f64>>>,
    /// Pot lives of coatings, minutes.
    pub pot_lives: Vec<Said<f64>>,
    /// Wet coating of one coat, g/m².
    pub per_coat: Vec<Said<f64>>,
    /// Prices per kilogram of pigments, coatings, and parts.
    pub prices: Vec<(String, f64)>,
    /// Densities of pigments and coatings, g/ml.
    pub densities: Vec<(String, f64)>,
    /// Tested limits of pigments.
    pub limits: Vec<(String, f64)>,
}

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
    for recipe in recipes {
        if !coatings.iter().any(|it| it.name == recipe.coating) {
            let held = library
                .map(|it| it.coating(&recipe.coating))
                .transpose()?
                .flatten();
            coatings.push(coating(&recipe.coating, held.as_ref(), given)?);
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
        pigments.push(pigment(name, held.as_ref(), given));
    }
    let limits = limits(&coatings, library, given)?;
    Ok(Facts {
        coatings,
        pigments,
        limits,
    })
}

/// What is said of a thing by its name, else of all.
fn said<'a, T>(all: &'a [Said<T>], name: &str) -> Option<&'a T> {
    let its = all.iter().rev().find(|it| it.of.as_deref() == Some(name));
    its.or_else(|| all.iter().rev().find(|it| it.of.is_none()))
        .map(|it| &it.value)
}

fn named(all: &[(String, f64)], name: &str) -> Option<f64> {
    all.iter().rev().find(|it| it.0 == name).map(|it| it.1)
}

fn coating(
    name: &str,
    held: Option<&catalog::Coating>,
    given: &Given,
) -> Result<Coating, PlanError> {
    let densities = said(&given.densities_of_parts, name);
    let ratio = said(&given.ratios, name);
    let mut coating = match (ratio, densities, held) {
        (Some(ratio), densities, _) if given.by_volume => {
            Coating::by_volume(name, ratio, densities.map_or(&[], Vec::as_slice))?
        }
        (Some(ratio), _, _) => Coating::by_mass(name, ratio)?,
        // What comes in one tin has no parts there.
        (None, _, Some(held)) if held.parts.is_empty() => Coating::by_mass(name, &[1.0])?,
        (None, _, Some(held)) => {
            let ratio: Vec<f64> = held.parts.iter().map(|it| it.by_mass).collect();
            let mut coating = Coating::by_mass(name, &ratio)?;
            for (part, held) in coating.parts.iter_mut().zip(&held.parts) {
                part.name.clone_from(&held.name);
                part.price_per_kg = held.price_per_kg;
            }
            coating
        }
        (None, _, None) => {
            return Err(PlanError::NoRatio {
                coating: name.to_owned(),
            });
        }
    };
    if let (Some(densities), false) = (densities, given.by_volume) {
        if densities.len() != coating.parts.len() {
            return Err(PlanError::Densities {
                coating: name.to_owned(),
                parts: coating.parts.len(),
                densities: densities.len(),
            });
        }
        for (part, density) in coating.parts.iter_mut().zip(densities) {
            part.g_per_ml = Some(*density);
        }
    }
    for part in &mut coating.parts {
        part.price_per_kg = named(&given.prices, &part.name).or(part.price_per_kg);
    }
    coating.pot_life_min = said(&given.pot_lives, name)
        .copied()
        .or(held.and_then(|it| it.pot_life_min));
    coating.coat_g_per_m2 = said(&given.per_coat, name)
        .copied()
        .or(held.and_then(|it| it.coat_g_per_m2));
    coating.price_per_kg = named(&given.prices, name).or(held.and_then(|it| it.price_per_kg));
    coating.g_per_ml = named(&given.densities, name).or(held.and_then(|it| it.density_g_per_cm3));
    coating.hazard = held.and_then(|it| it.hazard.clone());
    coating.stock = held.and_then(|it| stock(it.stock));
    Ok(coating)
}

fn pigment(name: &PigmentName, held: Option<&catalog::Pigment>, given: &Given) -> Pigment {
    let lot = held.and_then(|it| it.lots.iter().find(|it| Some(&it.lot) == name.lot.as_ref()));
    let price = held.and_then(|it| it.price(name.lot.as_deref()));
    Pigment {
        name: name.clone(),
        maker_name: held.and_then(|it| it.maker_name.clone()),
        price_per_kg: named(&given.prices, &name.pigment).or(price),
        g_per_ml: named(&given.densities, &name.pigment)
            .or(held.and_then(|it| it.density_g_per_cm3)),
        hazard: held.and_then(|it| it.hazard.clone()),
        wetting: held.and_then(|it| it.wetting.clone()),
        stock: lot
            .map(|it| it.stock)
            .or(held.map(|it| it.stock))
            .and_then(stock),
    }
}

/// How much there is, where that is a reason to look.
fn stock(stock: Stock) -> Option<String> {
    match stock {
        Stock::Here => None,
        Stock::RunningOut => Some("running out".to_owned()),
        Stock::Gone => Some("gone".to_owned()),
    }
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

impl Given {
    /// # Errors
    /// If a number makes no sense, or something was said of a thing that is not there.
    fn check(&self, coatings: &[Coating], pigments: &[PigmentName]) -> Result<(), FactsError> {
        let coating_names: Vec<&str> = coatings.iter().map(|it| it.name.as_str()).collect();
        let mut pigment_names: Vec<&str> = pigments.iter().map(|it| it.pigment.as_str()).collect();
        pigment_names.dedup();
        let parts = coatings
            .iter()
            .flat_map(|it| &it.parts)
            .map(|it| it.name.as_str());
        let both: Vec<&str> = coating_names
            .iter()
            .chain(&pigment_names)
            .copied()
            .collect();
        let all: Vec<&str> = both.iter().copied().chain(parts).collect();
        let of = |all: &[Said<f64>]| -> Vec<(String, f64)> {
            all.iter()
                .map(|it| (it.of.clone().unwrap_or_default(), it.value))
                .collect()
        };
        let pot_lives = of(&self.pot_lives);
        let per_coat = of(&self.per_coat);
        check_values("a price", &self.prices, &all)?;
        check_values("a density", &self.densities, &both)?;
        check_values("a tested limit", &self.limits, &pigment_names)?;
        check_values("a pot life", &pot_lives, &coating_names)?;
        check_values("wet coating of a coat", &per_coat, &coating_names)?;
        for (what, values) in [
            ("a mixing ratio", &self.ratios),
            ("densities of parts", &self.densities_of_parts),
        ] {
            for it in values.iter().filter_map(|it| it.of.as_deref()) {
                known_name(what, it, &coating_names)?;
            }
        }
        Ok(())
    }
}

fn check_values(
    what: &'static str,
    values: &[(String, f64)],
    there: &[&str],
) -> Result<(), FactsError> {
    for (name, value) in values {
        if !(value.is_finite() && *value > 0.0) {
            let of = if name.is_empty() { "all" } else { name };
            return Err(PlanError::Number {
                what: format!("{what} of {of}"),
                value: *value,
                must: "above 0".to_owned(),
            }
            .into());
        }
        known_name(what, name, there)?;
    }
    Ok(())
}

fn known_name(what: &'static str, name: &str, there: &[&str]) -> Result<(), FactsError> {
    if name.is_empty() || there.contains(&name) {
        return Ok(());
    }
    let there = if there.is_empty() {
        "nothing of the kind".to_owned()
    } else {
        there.join(", ")
    };
    Err(FactsError::NotThere {
        what,
        name: name.to_owned(),
        there,
    })
}
