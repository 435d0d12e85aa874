//! A document back into a library: all of it, or nothing.

use super::add::{Otherwise, Report, one};
use super::document::{Document, SpecimenKey};
use super::notes::Note;
use super::{Library, LibraryError, colour, crops, notes, pack, sound, store};
use crate::record::json;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rusqlite::{Connection, OptionalExtension as _, params};
use std::collections::BTreeSet;

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
            for it in &document.measurements {
                for photo in json::by_photo(it.record.clone()) {
                    let tell = Otherwise::Tell;
                    one(transaction, &photo, tell, Some(&it.added), &mut report, &mut touched)?;
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
                let specimen = specimen(transaction, &it.specimen)?;
                if withdrawn.contains(it) && !notes::is_there(transaction, specimen, &it.note)? {
                    let Note { panel, patch, word, date, .. } = &it.note;
                    report.notes.push(format!("{panel}/{patch} {word}, {date}: this note was withdrawn here, and is left out"));
                    continue;
                }
                notes::insert(transaction, specimen, &it.note)?;
            }
            for it in &document.crops {
                let specimen = specimen(transaction, &it.specimen)?;
                let jpeg = STANDARD
                    .decode(&it.jpeg)
                    .map_err(|error| LibraryError::damaged("a crop", error))?;
                let Some(photo) = store::photo_id(transaction, &it.photo)? else {
                    return Err(LibraryError::damaged("a crop", "its photo is not there"));
                };
                crops::keep(transaction, specimen, it.half, it.hours, photo, it.u95, &jpeg)?;
            }
            for it in &document.history {
                transaction.execute(
                    "INSERT INTO history (date, what, why, before) SELECT ?1, ?2, ?3, ?4
                     WHERE NOT EXISTS (SELECT 1 FROM history WHERE date = ?1 AND what = ?2 AND why IS ?3 AND before = ?4)",
                    params![it.date, it.what, it.why, pack::text(&it.before.to_string())],
                )?;
            }
            for it in &document.pigments {
                material(transaction, "pigment", &it.id, it, &mut report)?;
            }
            for it in &document.coatings {
                material(transaction, "coating", &it.id, it, &mut report)?;
            }
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
    for it in &document.notes {
        it.note.check()?;
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

/// The specimen of a key, a new one if there is none.
fn specimen(connection: &Connection, key: &SpecimenKey) -> Result<i64, LibraryError> {
    let swatch = store::swatch(connection, &key.recipe, &key.panel, &key.patch, None)?;
    let values = params![key.panel, key.patch, swatch, key.lot];
    let found: Option<i64> = connection
        .prepare_cached(
            "SELECT id FROM specimen WHERE panel_name = ?1 AND patch = ?2 AND swatch = ?3 AND lot = ?4",
        )?
        .query_row(values, |row| row.get(0))
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    connection.execute(
        "INSERT INTO specimen (panel_name, patch, swatch, lot) VALUES (?1, ?2, ?3, ?4)",
        values,
    )?;
    Ok(connection.last_insert_rowid())
}

/// Two photos of one shot, where both are there and nothing was known of it.
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
        "UPDATE photo SET copy_of = ?2 WHERE id = ?1 AND copy_of IS NULL AND id <> ?2",
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
        None => {
            connection.execute(
                &format!("INSERT INTO {table} (id, facts) VALUES (?1, ?2)"),
                [id, &facts],
            )?;
        }
        Some(before) if before == facts => {}
        Some(_) => report.notes.push(format!(
            "the library says other things of the {table} {id}; they are left as they are"
        )),
    }
    Ok(())
}
