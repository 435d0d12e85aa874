//! What a library's half-masked panels say of ageing.

use super::{Shelf, ShelfError, WHITE};
use crate::fade::{self, Report};
use crate::library::Library;
use crate::mix::age::{AgedModel, age};
use crate::mix::fades::{self, Coats, FadesError, Laid};
use crate::mix::model::{Coat, Model};

/// How the panels of a coating changed, and what lies on them.
#[derive(Clone, Debug)]
pub struct Seasons {
    report: Report,
    coats: Coats,
}

impl Seasons {
    /// Of all half-masked panels that hold swatches of a shelf; none where none was ever exposed.
    ///
    /// # Errors
    ///
    /// If the library can't be read, or its records tell no change.
    pub fn of(library: &Library, shelf: &Shelf) -> Result<Option<Self>, ShelfError> {
        let coats = coats(library, shelf)?;
        let mut records = Vec::new();
        for panel in library.panels_with_halves()? {
            if coats.keys().any(|it| it.0 == panel) {
                records.extend(library.series(&panel)?);
            }
        }
        let is_dosed = |it: &crate::record::PhotoRecord| it.photo.hours.is_some_and(|it| it > 0.0);
        if !records.iter().any(is_dosed) {
            return Ok(None);
        }
        let report = fade::assess(&records, &fade::Options::default())?;
        Ok(Some(Self { report, coats }))
    }

    /// The model after so many hours, and what a reader must know of it, as full sentences.
    ///
    /// # Errors
    ///
    /// If nothing can be said of that many hours.
    pub fn at(&self, model: &Model, hours: f64) -> Result<(AgedModel, Vec<String>), FadesError> {
        let fades = fades::at(&self.report, hours, &self.coats)?;
        let aged = age(model, &fades.changes);
        let mut notes = fades.notes;
        notes.extend(aged.notes().iter().cloned());
        Ok((aged, notes))
    }

    /// The furthest hours that all of its pigments were exposed to: what they can be compared at.
    #[must_use]
    pub fn common_hours(&self) -> Option<f64> {
        fades::common_hours(&self.report, &self.coats)
    }
}

/// What lies on each specimen of the trials, by panel and patch.
fn coats(library: &Library, shelf: &Shelf) -> Result<Coats, ShelfError> {
    let mut coats = Coats::new();
    for trial in &shelf.trials {
        let Some(swatch) = trial.swatch else {
            continue;
        };
        for specimen in library.specimens(swatch)? {
            let coat = Coat {
                pigments: trial.pigments.clone(),
                g_per_m2: specimen.g_per_m2.unwrap_or(trial.g_per_m2),
                ground: trial.ground.clone(),
            };
            let laid = Laid {
                inert: trial.ground == WHITE,
                coat,
            };
            coats.insert((specimen.panel, specimen.patch), laid);
        }
    }
    Ok(coats)
}
