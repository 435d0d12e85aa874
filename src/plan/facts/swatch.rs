//! What a job is to look like, from the library or from a panel file.

use super::FactsError;
use crate::library::lots::LotComparison;
use crate::library::{Library, LibraryError, catalog};
use crate::panel::{Control, Panel};
use crate::plan::like::{Compared, Like, LotLeft, Weighed};
use crate::plan::material::{Load, PigmentName, Recipe};
use crate::plan::{PlanError, board};
use crate::record::ControlEntry;

/// What an inert white control is on.
const WHITE: &str = "an inert white";

/// A patch of a panel.
///
/// # Errors
/// If the panel has no such patch, the file doesn't say what it is coated with, or the library (if there is one) can't be read.
pub fn of_patch(panel: &Panel, id: &str, library: Option<&Library>) -> Result<Like, FactsError> {
    let patch = panel.patch(id).filter(|it| !it.empty);
    let patch = patch.ok_or_else(|| PlanError::NoPatch {
        panel: panel.id.clone(),
        id: id.to_owned(),
    })?;
    if patch.pigments.is_empty() && patch.control.is_none() {
        return Err(PlanError::NotSaid {
            of: format!("patch {id}"),
            what: "what is in it",
        }
        .into());
    }
    let recipe = without_lots(board::recipe_of(panel, patch));
    let of = format!("{}/{}", panel.id, patch.id);
    let compared = library.map(|it| compared_as(it, &of)).transpose()?;
    let substrate = match patch.control {
        Some(Control::ClearOnWhite) => Some(WHITE),
        _ => panel.substrate_of(patch),
    };
    Ok(Like {
        called: id.to_owned(),
        name: patch.name.clone(),
        source: format!("patch {id} of the panel file"),
        substrate: substrate.map(str::to_owned),
        coats: panel.coats_of(patch),
        weighed: patch
            .wet_g_per_m2
            .map(|g_per_m2| Weighed { of, g_per_m2 })
            .into_iter()
            .collect(),
        lots: patch.lot.clone().into_iter().collect(),
        stock: stock(&recipe, library)?,
        compared: compared.unwrap_or_default(),
        recipe,
    })
}

/// A swatch of the library: by its number, its name, or as the specimen `PANEL/PATCH`.
///
/// # Errors
/// If there is none of the kind, nobody said what it is coated with, or the library can't be read.
pub fn of_swatch(library: &Library, word: &str) -> Result<Like, FactsError> {
    let shown = library.show(library.find_swatch(word)?.id)?;
    let swatch = shown.swatch;
    let not_said = |what: &'static str| PlanError::NotSaid {
        of: format!("the swatch {word}"),
        what,
    };
    if swatch.recipe.pigments.is_empty() && swatch.recipe.control.is_none() {
        return Err(not_said("what is in it").into());
    }
    let coating = swatch.recipe.coating;
    let recipe = Recipe {
        coating: coating.ok_or_else(|| not_said("in which coating it is"))?,
        loads: swatch
            .recipe
            .pigments
            .into_iter()
            .map(|it| Load {
                pigment: PigmentName {
                    pigment: it.pigment,
                    lot: None,
                },
                load: it.load,
            })
            .collect(),
    };
    let called = |it: &crate::library::show::Specimen| format!("{}/{}", it.panel, it.patch);
    // Who names a specimen means that one; what nobody noted of it is taken from its fellows.
    let this: Vec<_> = shown
        .specimens
        .iter()
        .filter(|it| called(it) == word)
        .collect();
    // The colour is that of those that were measured: what foamed and was scraped off has no part in it.
    let measured = |it: &crate::library::show::Specimen| {
        let mut specimens = shown.ages.iter().flat_map(|it| &it.specimens);
        specimens.any(|(id, _)| *id == it.id)
    };
    let mut all: Vec<_> = shown.specimens.iter().filter(|it| measured(it)).collect();
    if all.is_empty() {
        all.extend(&shown.specimens);
    }
    let weighed = |of: &[&crate::library::show::Specimen]| -> Vec<Weighed> {
        of.iter()
            .filter_map(|it| {
                Some(Weighed {
                    of: called(it),
                    g_per_m2: it.g_per_m2.or(swatch.recipe.g_per_m2)?,
                })
            })
            .collect()
    };
    let lots = |of: &[&crate::library::show::Specimen]| -> Vec<String> {
        let mut lots: Vec<String> = Vec::new();
        for it in of.iter().filter_map(|it| it.lot.as_ref()) {
            if !lots.contains(it) {
                lots.push(it.clone());
            }
        }
        lots
    };
    let [weighed_here, weighed_all] = [&this, &all].map(|it| weighed(it));
    let [lots_here, lots_all] = [&this, &all].map(|it| lots(it));
    let source = match &swatch.name {
        Some(name) => format!("swatch {} of the library, {name}", swatch.id),
        None => format!("swatch {} of the library", swatch.id),
    };
    let substrate = match swatch.recipe.control {
        Some(ControlEntry::ClearOnWhite) => Some(WHITE.to_owned()),
        _ => swatch.recipe.substrate,
    };
    Ok(Like {
        called: word.to_owned(),
        name: swatch.name,
        source,
        substrate,
        coats: swatch.recipe.coats,
        weighed: if weighed_here.is_empty() {
            weighed_all
        } else {
            weighed_here
        },
        lots: if lots_here.is_empty() {
            lots_all
        } else {
            lots_here
        },
        stock: stock(&recipe, Some(library))?,
        compared: shown.lots.into_iter().map(compared).collect(),
        recipe,
    })
}

/// What the library says of the lots of this specimen's swatch, if it is there.
fn compared_as(library: &Library, specimen: &str) -> Result<Vec<Compared>, LibraryError> {
    match library.find_swatch(specimen) {
        Ok(swatch) => Ok(library
            .show(swatch.id)?
            .lots
            .into_iter()
            .map(compared)
            .collect()),
        Err(LibraryError::Unknown(..)) => Ok(Vec::new()),
        Err(other) => Err(other),
    }
}

fn without_lots(mut recipe: Recipe) -> Recipe {
    for it in &mut recipe.loads {
        it.pigment.lot = None;
    }
    recipe
}

/// The lots of a recipe's only pigment.
fn stock(recipe: &Recipe, library: Option<&Library>) -> Result<Vec<LotLeft>, LibraryError> {
    let (Some(library), [only]) = (library, &recipe.loads[..]) else {
        return Ok(Vec::new());
    };
    let Some(held) = library.pigment(&only.pigment.pigment)? else {
        return Ok(Vec::new());
    };
    let left = held.lots.into_iter().map(|it| LotLeft {
        lot: it.lot,
        is_there: it.stock != catalog::Stock::Gone,
    });
    Ok(left.collect())
}

fn compared(it: LotComparison) -> Compared {
    Compared {
        old: it.old,
        new: it.new,
        delta_e: it.delta_e,
        told_apart: it.told_apart,
        factor: it.advice.map(|it| it.factor),
        left: it.advice.map(|it| it.left),
    }
}
