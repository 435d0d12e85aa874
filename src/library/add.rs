//! Records into the library, photo by photo: whole or not at all.

use super::store::{self, Specimen};
use super::{Library, LibraryError, colour, copies, crops, differ, history};
use crate::record::{PhotoRecord, Reading, json};
use rusqlite::{Connection, OptionalExtension as _, params};
use std::collections::BTreeSet;

/// What became of photos that were added.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// Photos that are new, or were measured in a new way.
    pub photos: usize,
    /// Readings that are new.
    pub readings: usize,
    /// Photos that were there already, in every number.
    pub same: usize,
    /// Photos of which something else is in the library: nothing was changed.
    pub conflicts: Vec<Conflict>,
    /// What a user should know.
    pub notes: Vec<String>,
}

/// A photo that the library has with other hours, panel facts or numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// The photo's path here.
    pub photo: String,
    /// The panel's id.
    pub panel: String,
    /// What differs, in words.
    pub differences: Vec<String>,
}

impl Report {
    /// Puts two reports together.
    pub fn merge(&mut self, other: Self) {
        self.photos += other.photos;
        self.readings += other.readings;
        self.same += other.same;
        self.conflicts.extend(other.conflicts);
        self.notes.extend(other.notes);
    }
}

/// What to do where the library has something else.
#[derive(Clone, Copy, Debug)]
pub(super) enum Otherwise<'a> {
    /// Leave it, and say so.
    Tell,
    /// Put the new in its place; the old goes into the history, with this reason.
    Amend(Option<&'a str>),
}

impl Library {
    /// Adds photos with their readings, all of them in one transaction. The same again changes nothing. Where something else is in the library
    /// under the same key, that photo changes nothing either, and is among the conflicts.
    ///
    /// # Errors
    ///
    /// If the library can't be written: then none of these photos is in it.
    pub fn add(&mut self, photos: &[PhotoRecord]) -> Result<Report, LibraryError> {
        self.put(photos, Otherwise::Tell)
    }

    /// As [`Self::add`], but where something else is in the library under the same key, the new takes its place. The old stays in the history.
    ///
    /// # Errors
    ///
    /// As [`Self::add`].
    pub fn amend(
        &mut self,
        photos: &[PhotoRecord],
        why: Option<&str>,
    ) -> Result<Report, LibraryError> {
        self.put(photos, Otherwise::Amend(why))
    }

    /// Sets the hours of a photo in all of its measurements; how many there were to change. The old ones stay in the history.
    ///
    /// # Errors
    ///
    /// If there is no such photo, or several begin so, or the library can't be written.
    pub fn amend_hours(
        &mut self,
        hash: &str,
        hours: Option<f64>,
        why: Option<&str>,
    ) -> Result<usize, LibraryError> {
        let mut records = Vec::new();
        for id in self.measurements_of(hash)? {
            let mut record = store::record(&self.connection, id)?;
            if record.photo.hours.map(f64::to_bits) != hours.map(f64::to_bits) {
                record.photo.hours = hours;
                for it in &mut record.readings {
                    it.hours = hours;
                }
                records.push(record);
            }
        }
        self.amend(&records, why)?;
        Ok(records.len())
    }

    /// Measurements of the one photo whose SHA-256 begins so.
    fn measurements_of(&self, hash: &str) -> Result<Vec<i64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT measurement.id, photo FROM measurement JOIN photo ON photo.id = photo
             WHERE substr(sha256, 1, length(?1)) = ?1 ORDER BY measurement.id",
        )?;
        let found = statement
            .query_map([hash.to_lowercase()], |row| {
                Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?))
            })?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        let photos: BTreeSet<i64> = found.iter().map(|it| it.1).collect();
        match photos.len() {
            1 if hash.len() >= 8 => Ok(found.into_iter().map(|it| it.0).collect()),
            0 => Err(LibraryError::Unknown(
                format!("no photo's SHA-256 begins with {hash}"),
                "The record names it (sha256); so does `masstone library show`.",
            )),
            _ => Err(LibraryError::Unknown(
                format!("{hash} is too short: several photos may be meant"),
                "Give at least eight digits of the SHA-256.",
            )),
        }
    }

    fn put(
        &mut self,
        photos: &[PhotoRecord],
        otherwise: Otherwise<'_>,
    ) -> Result<Report, LibraryError> {
        self.write(|transaction| {
            let mut report = Report::default();
            let mut touched = BTreeSet::new();
            for record in photos {
                one(
                    transaction,
                    record,
                    otherwise,
                    None,
                    &mut report,
                    &mut touched,
                )?;
            }
            for swatch in touched {
                colour::derive(transaction, swatch)?;
            }
            Ok(report)
        })
    }
}

/// Adds one photo; `added` is when it came, now if not given.
pub(super) fn one(
    connection: &Connection,
    record: &PhotoRecord,
    otherwise: Otherwise<'_>,
    added: Option<&str>,
    report: &mut Report,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let it = &record.photo;
    let known = store::photo_id(connection, &it.sha256)?;
    let photo = store::photo(connection, it)?;
    let key = store::correction_key(it);
    if let Some(measurement) = store::measurement_id(connection, photo, &it.panel.id, &key)? {
        return again(connection, measurement, record, otherwise, report, touched);
    }
    if known.is_none()
        && let Some((root, path)) = copies::original(connection, photo, record)?
    {
        connection.execute(
            "UPDATE photo SET copy_of = ?1 WHERE id = ?2",
            params![root, photo],
        )?;
        report.notes.push(format!(
            "{} shows the same shot as {path}, in other bytes: the two count once",
            it.path
        ));
    }
    let measurement = store::measurement(connection, photo, record, added, None)?;
    insert(
        connection,
        photo,
        measurement,
        record,
        &record.readings,
        0,
        touched,
    )?;
    relabelled(connection, measurement, record, report)?;
    report.photos += 1;
    report.readings += record.readings.len();
    Ok(())
}

/// Writes readings, and decides which of their photo's count.
pub(super) fn insert(
    connection: &Connection,
    photo: i64,
    measurement: i64,
    record: &PhotoRecord,
    readings: &[Reading],
    place: usize,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let panel = &record.photo.panel;
    let specimens: Vec<Specimen> =
        store::readings(connection, measurement, panel, readings, place)?;
    touched.extend(specimens.iter().map(|it| it.swatch));
    colour::count_best(connection, photo, &panel.id, touched)
}

/// The library has a measurement of this key.
fn again(
    connection: &Connection,
    measurement: i64,
    record: &PhotoRecord,
    otherwise: Otherwise<'_>,
    report: &mut Report,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let mut old = store::record(connection, measurement)?;
    let differences = differ::differences(&old, record)?;
    let photo: i64 = connection.query_row(
        "SELECT photo FROM measurement WHERE id = ?1",
        [measurement],
        |row| row.get(0),
    )?;
    if differences.is_empty() {
        let missing: Vec<Reading> = record
            .readings
            .iter()
            .filter(|it| {
                !old.readings
                    .iter()
                    .any(|old| old.patch == it.patch && old.half == it.half)
            })
            .cloned()
            .collect();
        if old.photo.exposure.is_none() && record.photo.exposure.is_some() {
            // Nobody said before how the board was exposed.
            old.photo.exposure.clone_from(&record.photo.exposure);
            store::renew_entry(connection, measurement, &old.photo)?;
            report.notes.push(format!(
                "{}: how its board was exposed was not in the library, and is now",
                record.photo.path
            ));
        }
        if missing.is_empty() {
            report.same += 1;
            return Ok(());
        }
        let place = old.readings.len();
        insert(
            connection,
            photo,
            measurement,
            &old,
            &missing,
            place,
            touched,
        )?;
        store::renew_digest(connection, measurement)?;
        report.readings += missing.len();
        report.notes.push(format!(
            "{}: {} of its readings were missing in the library",
            record.photo.path,
            missing.len()
        ));
        return Ok(());
    }
    match otherwise {
        Otherwise::Tell => report.conflicts.push(Conflict {
            photo: record.photo.path.clone(),
            panel: record.photo.panel.id.clone(),
            differences: differ::in_words(&differences),
        }),
        Otherwise::Amend(why) => {
            replace(connection, photo, measurement, &old, record, why, touched)?;
            report.photos += 1;
            report.readings += record.readings.len();
        }
    }
    Ok(())
}

/// Puts a measurement in the place of another; the old one goes into the history.
fn replace(
    connection: &Connection,
    photo: i64,
    measurement: i64,
    old: &PhotoRecord,
    new: &PhotoRecord,
    why: Option<&str>,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let before = json::line(old.clone()).map_err(|it| LibraryError::damaged("a record", it))?;
    history::keep(
        connection,
        &format!("photo {}", old.photo.sha256),
        why,
        before.trim_end(),
    )?;
    let mut swatches = connection.prepare_cached(
        "SELECT DISTINCT swatch FROM reading JOIN specimen ON specimen.id = reading.specimen WHERE measurement = ?1",
    )?;
    let before = swatches.query_map([measurement], |row| row.get::<_, i64>(0))?;
    let mut mine = before.collect::<rusqlite::Result<BTreeSet<_>>>()?;
    let specimens = connection
        .prepare_cached("SELECT DISTINCT specimen FROM reading WHERE measurement = ?1")?
        .query_map([measurement], |row| row.get::<_, i64>(0))?
        .collect::<rusqlite::Result<BTreeSet<_>>>()?;
    let added: String = connection.query_row(
        "SELECT added FROM measurement WHERE id = ?1",
        [measurement],
        |row| row.get(0),
    )?;
    connection.execute("DELETE FROM reading WHERE measurement = ?1", [measurement])?;
    connection.execute("DELETE FROM measurement WHERE id = ?1", [measurement])?;
    // Its number stays, and with it its place among the others.
    store::measurement(connection, photo, new, Some(&added), Some(measurement))?;
    insert(
        connection,
        photo,
        measurement,
        new,
        &new.readings,
        0,
        &mut mine,
    )?;
    touched.extend(&mine);
    crops::follow(connection, photo, new)?;
    store::weigh_anew(connection, &new.photo.panel.id)?;
    forget_unused(connection, &specimens, touched)?;
    for it in mine {
        store::name_anew(connection, it)?;
    }
    Ok(())
}

/// Of these specimens, those that no reading is left of, where a panel's facts were corrected, and their swatches. What was noted of the
/// patch goes to what it is now. Patches that were noted without ever being photographed are not among them.
fn forget_unused(
    connection: &Connection,
    specimens: &BTreeSet<i64>,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let mut statement = connection.prepare_cached(
        "SELECT panel_name, patch, swatch FROM specimen WHERE id = ?1
         AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id)",
    )?;
    for &specimen in specimens {
        let unused = statement
            .query_row([specimen], |row| {
                Ok((
                    row.get::<_, String>(0)?,
                    row.get::<_, String>(1)?,
                    row.get::<_, i64>(2)?,
                ))
            })
            .optional()?;
        let Some((panel, patch, swatch)) = unused else {
            continue;
        };
        let now: Option<i64> = connection.query_row(
            "SELECT max(id) FROM specimen WHERE panel_name = ?1 AND patch = ?2
             AND EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id)",
            [&panel, &patch],
            |row| row.get(0),
        )?;
        if let Some(now) = now {
            connection.execute(
                "UPDATE note SET specimen = ?2 WHERE specimen = ?1",
                [specimen, now],
            )?;
        }
        // Its notes hold a specimen whose place nothing has taken.
        let noted: bool = connection.query_row(
            "SELECT EXISTS (SELECT 1 FROM note WHERE specimen = ?1)",
            [specimen],
            |row| row.get(0),
        )?;
        if noted {
            continue;
        }
        // Its crops went with their readings; one that is left shows what nobody has a reading of.
        connection.execute("DELETE FROM crop WHERE specimen = ?1", [specimen])?;
        connection.execute("DELETE FROM specimen WHERE id = ?1", [specimen])?;
        let left: bool = connection.query_row(
            "SELECT EXISTS (SELECT 1 FROM specimen WHERE swatch = ?1)",
            [swatch],
            |row| row.get(0),
        )?;
        if !left {
            for table in ["colour", "ingredient"] {
                connection.execute(&format!("DELETE FROM {table} WHERE swatch = ?1"), [swatch])?;
            }
            connection.execute("DELETE FROM swatch WHERE id = ?1", [swatch])?;
            touched.remove(&swatch);
        }
    }
    Ok(())
}

/// Says where the panel file gives a patch another recipe than it had when earlier photos were measured.
fn relabelled(
    connection: &Connection,
    measurement: i64,
    record: &PhotoRecord,
    report: &mut Report,
) -> Result<(), LibraryError> {
    let mut statement = connection.prepare_cached(
        "SELECT DISTINCT specimen.patch FROM reading
         JOIN specimen ON specimen.id = reading.specimen
         JOIN specimen AS other ON other.panel_name = specimen.panel_name AND other.patch = specimen.patch
              AND other.id <> specimen.id
         JOIN reading AS used ON used.specimen = other.id
         WHERE reading.measurement = ?1 ORDER BY 1",
    )?;
    let patches = statement
        .query_map([measurement], |row| row.get::<_, String>(0))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    if !patches.is_empty() {
        report.notes.push(format!(
            "{}: the panel {} says other things of {} than when earlier photos were measured; they are kept apart. \
             If the earlier panel file was wrong, measure those photos again and use `masstone library amend`",
            record.photo.path,
            record.photo.panel.id,
            patches.join(", ")
        ));
    }
    Ok(())
}
