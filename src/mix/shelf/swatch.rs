//! A swatch as a trial.

use super::ShelfError;
use crate::colour::Matrix;
use crate::library::Library;
use crate::library::find::Listed;
use crate::mix::trial::{Load, Trial};

/// On this ground, grams per square metre.
pub(super) fn trial(
    library: &Library,
    it: &Listed,
    ground: String,
    g_per_m2: f64,
) -> Result<Trial, ShelfError> {
    let recipe = &it.swatch.recipe;
    let loads = recipe.pigments.iter().map(|it| Load {
        pigment: it.pigment.clone(),
        load: it.load,
    });
    Ok(Trial {
        swatch: Some(it.swatch.id),
        name: it.swatch.name.clone().unwrap_or_else(|| recipe.in_short()),
        pigments: loads.collect(),
        ground,
        g_per_m2,
        lab: it.lab,
        covariance: it.covariance,
        common: common(library, it)?,
    })
}

/// What of a swatch's covariance other swatches have, too: of the photo, its correction, card and camera. Which swatches are from the same
/// photos is not asked: those of one set-up share the camera's error all the same.
fn common(library: &Library, it: &Listed) -> Result<Matrix, ShelfError> {
    let colours = library.colours_of(it.swatch.id)?;
    let as_made = colours.iter().find(|of| of.exposure == it.exposure);
    // All of it where the library was written to meanwhile.
    Ok(as_made.map_or(it.covariance, |it| {
        it.mean.parts.common_to_photo + it.mean.parts.between_photos
    }))
}
