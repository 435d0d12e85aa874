//! A document back into a library: all of it, or nothing.

use super::add::{Otherwise, Report, one};
use super::document::{CropOfSpecimen, Document, Measurement, NoteOfSpecimen, SpecimenKey};
use super::notes::Note;
use super::recipe::Recipe;
use super::{
    Library, LibraryError, catalog, colour, crops, digest, history, notes, numbers, sound, store,
};
use crate::record::{PhotoEntry, json};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rusqlite::{Connection, OptionalExtension as _, params};
use std::collections::{BTreeSet, HashMap};

impl Library {
    /// Puts a document into the library, in one transaction. What is there already in the same form changes nothing; where something else is
    /// there, that is left as it is and named among the conflicts or notes.
    ///
    /// # Errors
    ///
    /// If something in the document makes no sense, or the library can't be written: then nothing is changed.
    pub fn import(&mut self, document: &Document) -> Result<Report, LibraryError> {
        check(document)?;
        self.write(|transaction| {
            let mut report = Report::default();
            let mut touched = BTreeSet::new();
            let given = numbers::give(transaction, document)?;
            report.notes.extend(given.note.clone());
            for it in &document.measurements {
                for photo in json::by_photo(it.record.clone()) {
                    let tell = Otherwise::Tell;
                    one(
                        transaction,
                        &photo,
                        tell,
                        Some(&it.added),
                        &mut report,
                        &mut touched,
                    )?;
                }
            }
            for it in &document.copies {
                copy(transaction, &it.sha256, &it.of, &mut touched)?;
            }
            for swatch in touched {
                colour::derive(transaction, swatch)?;
            }
            let withdrawn = notes::withdrawn(transaction)?;
            for it in &document.notes {
                let specimen = specimen(transaction, it)?;
                let same = |other: &NoteOfSpecimen| {
                    (&other.specimen, &other.note) == (&it.specimen, &it.note)
                };
                if withdrawn.iter().any(same) && !notes::is_there(transaction, specimen, &it.note)? {
                    let Note { panel, patch, word, date, .. } = &it.note;
                    report.notes.push(format!("{panel}/{patch} {word}, {date}: this note was withdrawn here, and is left out"));
                    continue;
                }
                notes::insert(transaction, specimen, &it.note)?;
            }
            let mut left_out = 0;
            for it in &document.crops {
                left_out += usize::from(!crop(transaction, it)?);
            }
            if left_out > 0 {
                report.notes.push(format!(
                    "{left_out} crops are left out: the library has something else of their photos"
                ));
            }
            for it in &document.history {
                history::bring(transaction, it)?;
            }
            for it in &document.pigments {
                material(transaction, "pigment", &it.id, it, &mut report)?;
            }
            for it in &document.coatings {
                material(transaction, "coating", &it.id, it, &mut report)?;
            }
            given.tidy(transaction)?;
            Ok(report)
        })
    }
}

/// Whether everything in the document can be.
fn check(document: &Document) -> Result<(), LibraryError> {
    for it in &document.pigments {
        it.check()?;
    }
    for it in &document.coatings {
        it.check()?;
    }
    numbers::check(document)?;
    for it in &document.notes {
        it.note.check()?;
        sound::facts::of_weight(it.wet_g_per_m2).map_err(|reason| {
            let SpecimenKey { panel, patch, .. } = &it.specimen;
            LibraryError::damaged(format!("the specimen {panel}/{patch}"), reason)
        })?;
    }
    document.history.iter().try_for_each(history::check)?;
    let noted = document.notes.iter().map(|it| &it.specimen);
    for it in noted.chain(document.crops.iter().map(|it| &it.specimen)) {
        sound::facts::of_recipe(&it.recipe).map_err(|reason| {
            LibraryError::damaged(format!("the specimen {}/{}", it.panel, it.patch), reason)
        })?;
    }
    let mut by_photo: HashMap<&str, Vec<&Measurement>> = HashMap::new();
    for it in &document.measurements {
        for photo in &it.record.photos {
            by_photo.entry(&photo.sha256).or_default().push(it);
        }
    }
    for it in &document.crops {
        let of_photo = by_photo.get(it.photo.as_str());
        check_crop(of_photo.map_or(&[], Vec::as_slice), it).map_err(|reason| {
            let SpecimenKey { panel, patch, .. } = &it.specimen;
            let half = crate::record::csv::word(&it.half);
            LibraryError::damaged(format!("the crop of {panel}/{patch} {half}"), reason)
        })?;
    }
    for it in &document.measurements {
        let mut photos = json::by_photo(it.record.clone());
        let Some(photo) = photos.pop().filter(|_| photos.is_empty()) else {
            return Err(LibraryError::damaged(
                "the document",
                "a measurement is not of one photo",
            ));
        };
        if photo.readings.len() != it.record.readings.len() {
            return Err(LibraryError::damaged(
                "the document",
                "a reading has no photo",
            ));
        }
        sound::photo(&photo.photo).map_err(|reason| {
            LibraryError::damaged(format!("photo {}", photo.photo.path), reason)
        })?;
        for reading in &photo.readings {
            sound::reading(reading, &photo.photo).map_err(|reason| {
                let what = format!("photo {}, patch {}", photo.photo.path, reading.patch);
                LibraryError::damaged(what, reason)
            })?;
        }
    }
    Ok(())
}

/// The specimen that was noted, a new one if there is none.
fn specimen(connection: &Connection, noted: &NoteOfSpecimen) -> Result<i64, LibraryError> {
    let key = &noted.specimen;
    if let Some(id) = find_specimen(connection, key)? {
        return Ok(id);
    }
    let swatch = store::swatch(connection, &key.recipe, &key.panel, &key.patch, None)?;
    connection.execute(
        "INSERT INTO specimen (panel_name, patch, swatch, lot, g_per_m2) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![key.panel, key.patch, swatch, key.lot, noted.wet_g_per_m2],
    )?;
    Ok(connection.last_insert_rowid())
}

fn find_specimen(connection: &Connection, key: &SpecimenKey) -> Result<Option<i64>, LibraryError> {
    store::find_specimen(connection, &key.recipe, &key.panel, &key.patch, &key.lot)
}

/// Whether the crop has its place: its reading is in the library.
fn crop(connection: &Connection, it: &CropOfSpecimen) -> Result<bool, LibraryError> {
    let found = (
        find_specimen(connection, &it.specimen)?,
        store::photo_id(connection, &it.photo)?,
    );
    let (Some(specimen), Some(photo)) = found else {
        return Ok(false);
    };
    if !crops::has_reading(connection, specimen, it.half, it.hours, photo)? {
        return Ok(false);
    }
    let jpeg = STANDARD
        .decode(&it.jpeg)
        .map_err(|error| LibraryError::damaged("a crop", error))?;
    crops::keep(
        connection, specimen, it.half, it.hours, photo, it.u95, &jpeg,
    )?;
    Ok(true)
}

/// What is wrong with a crop of the document, in words.
fn check_crop(of_photo: &[&Measurement], it: &CropOfSpecimen) -> Result<(), String> {
    let jpeg = STANDARD
        .decode(&it.jpeg)
        .map_err(|error| format!("it is not in base64: {error}"))?;
    crate::picture::check_crop(&jpeg)?;
    if !(it.u95.is_finite() && it.u95 >= 0.0) {
        return Err("its U95 is not a number of 0 or more".to_owned());
    }
    let key = &it.specimen;
    let shown = of_photo.iter().any(|measurement| {
        let of_it = |photo: &PhotoEntry| {
            let panel = &photo.panel;
            panel.id == key.panel
                && photo.hours.map(f64::to_bits) == it.hours.map(f64::to_bits)
                && panel.patches.iter().any(|patch| {
                    patch.id == key.patch
                        && patch.lot.as_deref().unwrap_or_default() == key.lot
                        && Recipe::of(panel, patch) == key.recipe
                })
        };
        let mut readings = measurement.record.readings.iter();
        measurement.record.photos.iter().any(of_it)
            && readings.any(|reading| reading.patch == key.patch && reading.half == it.half)
    });
    if shown {
        Ok(())
    } else {
        Err("no reading of that specimen, half, photo and hours is in the document".to_owned())
    }
}

/// Two photos of one shot, where both are there, can be of one, and nothing was known of it.
fn copy(
    connection: &Connection,
    sha256: &str,
    of: &str,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let both = (
        store::photo_id(connection, sha256)?,
        store::photo_id(connection, of)?,
    );
    let (Some(photo), Some(original)) = both else {
        return Ok(());
    };
    connection.execute(
        "UPDATE photo SET copy_of = ?2 WHERE id = ?1 AND copy_of IS NULL AND EXISTS (
             SELECT 1 FROM photo AS original WHERE original.id = ?2 AND original.id <> ?1 AND original.copy_of IS NULL
               AND original.taken = photo.taken AND original.camera IS photo.camera)",
        params![photo, original],
    )?;
    let mut statement = connection
        .prepare_cached("SELECT DISTINCT panel_name FROM measurement WHERE photo = ?1")?;
    let panels = statement
        .query_map([photo], |row| row.get::<_, String>(0))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    for panel in panels {
        colour::count_best(connection, photo, &panel, touched)?;
    }
    Ok(())
}

/// Whether two texts say the same, in whatever order, and whatever keys one of them has that say nothing.
fn same_said(one: &str, other: &str) -> bool {
    let said = |text: &str| {
        let value: serde_json::Value = serde_json::from_str(text).ok()?;
        digest::of_said(&value).ok()
    };
    said(one).is_some_and(|it| Some(it) == said(other))
}

fn material(
    connection: &Connection,
    table: &str,
    id: &str,
    facts: &impl serde::Serialize,
    report: &mut Report,
) -> Result<(), LibraryError> {
    let facts = serde_json::to_string(facts).map_err(|it| LibraryError::damaged(id, it))?;
    let before: Option<String> = connection
        .query_row(
            &format!("SELECT facts FROM {table} WHERE id = ?1"),
            [id],
            |row| row.get(0),
        )
        .optional()?;
    match before {
        None => catalog::put(connection, table, id, &facts)?,
        Some(before) if same_said(&before, &facts) => {}
        Some(_) => report.notes.push(format!(
            "the library says other things of the {table} {id}; they are left as they are"
        )),
    }
    Ok(())
}
