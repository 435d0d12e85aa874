//! Small pictures of specimens: for each half and exposure the one from the photo that measures it best.

use super::digest::{self, Digest};
use super::recipe::Recipe;
use super::{Exposure, Library, LibraryError, store};
use crate::picture::{self, Crop};
use crate::record::csv::word;
use crate::record::{Half, PhotoRecord};
use rusqlite::{Connection, OptionalExtension as _, params};

impl Library {
    /// Keeps crops of a photo that is in the library. Where there is one of the same half at the same exposure already, the one whose
    /// reading has the smaller U95 stays; what could not be measured, or is otherwise in the library, leaves none. How many were kept.
    ///
    /// # Errors
    ///
    /// If the photo isn't there, a crop is none, or the library can't be written.
    pub fn add_crops(
        &mut self,
        record: &PhotoRecord,
        crops: &[Crop],
    ) -> Result<usize, LibraryError> {
        for it in crops {
            let name = format!("the crop of {}/{}", record.photo.panel.id, it.patch);
            picture::check_crop(&it.jpeg).map_err(|reason| LibraryError::damaged(name, reason))?;
        }
        self.write(|transaction| {
            let photo = store::photo_id(transaction, &record.photo.sha256)?.ok_or_else(|| {
                LibraryError::Unknown(
                    format!("the photo {} is not in the library", record.photo.path),
                    "Add its record first.",
                )
            })?;
            let mut kept = 0;
            for crop in crops {
                let same =
                    |it: &&crate::record::Reading| it.patch == crop.patch && it.half == crop.half;
                let Some(u95) = record.readings.iter().find(same).and_then(|it| it.u95) else {
                    continue;
                };
                let Some(specimen) = of_reading(transaction, record, photo, crop)? else {
                    continue;
                };
                kept += usize::from(keep(
                    transaction,
                    specimen,
                    crop.half,
                    record.photo.hours,
                    photo,
                    u95,
                    &crop.jpeg,
                )?);
            }
            Ok(kept)
        })
    }

    /// Whether there are crops of what a photo shows, from it or from one that measures it better; or nothing to have crops of. They come
    /// in one go, so where one is none is missing.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn has_crops(&self, record: &PhotoRecord) -> Result<bool, LibraryError> {
        if record.readings.iter().all(|it| it.u95.is_none()) {
            return Ok(true);
        }
        let it = &record.photo;
        let Some(photo) = store::photo_id(&self.connection, &it.sha256)? else {
            return Ok(false);
        };
        // Halves are told apart by the crop's own key; how old the halves are does not depend on which it is.
        let (hours, alone) = age(&self.connection, Half::Whole, it.hours, photo)?;
        Ok(self
            .connection
            .prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM crop
                 JOIN reading ON reading.specimen = crop.specimen AND reading.half = crop.half
                 JOIN measurement ON measurement.id = reading.measurement
                 WHERE measurement.photo = ?1 AND panel_name = ?2 AND crop.hours = ?3 AND crop.alone = ?4)",
            )?
            .query_row(params![photo, it.panel.id, hours, alone], |row| row.get(0))?)
    }

    /// The crop of a specimen's half at an exposure: JPEG, sRGB.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn crop(
        &self,
        specimen: i64,
        half: Half,
        exposure: Exposure,
    ) -> Result<Option<Vec<u8>>, LibraryError> {
        let (hours, alone) = exposure.age();
        Ok(self
            .connection
            .prepare_cached(
                "SELECT jpeg FROM crop WHERE specimen = ?1 AND half = ?2 AND hours = ?3 AND alone = ?4",
            )?
            .query_row(
                params![specimen, store::half_number(half), hours, alone],
                |row| row.get(0),
            )
            .optional()?)
    }
}

/// Keeps a crop unless a better one is there.
pub(super) fn keep(
    connection: &Connection,
    specimen: i64,
    half: Half,
    hours: Option<f64>,
    photo: i64,
    u95: f64,
    jpeg: &[u8],
) -> Result<bool, LibraryError> {
    let (hours, alone) = age(connection, half, hours, photo)?;
    let digest = stored(&store::sha256(connection, photo)?, half, u95, jpeg);
    let changed = connection
        .prepare_cached(
            "INSERT INTO crop (specimen, half, hours, alone, photo, u95, jpeg, digest) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
             ON CONFLICT (specimen, half, hours, alone)
             DO UPDATE SET photo = excluded.photo, u95 = excluded.u95, jpeg = excluded.jpeg, digest = excluded.digest
             WHERE excluded.u95 < crop.u95",
        )?
        .execute(params![
            specimen,
            store::half_number(half),
            hours,
            alone,
            photo,
            u95,
            jpeg,
            digest,
        ])?;
    Ok(changed > 0)
}

/// Of what is stored of a crop that stays the same wherever its reading goes.
fn stored(photo: &str, half: Half, u95: f64, jpeg: &[u8]) -> Digest {
    let half = store::half_number(half).to_le_bytes();
    digest::of_bytes(&[photo.as_bytes(), &half, &u95.to_le_bytes(), jpeg])
}

/// What is not as it was written, or shows nothing that is there, in words.
pub(super) fn faults(connection: &Connection) -> Result<Vec<String>, LibraryError> {
    let mut statement = connection.prepare_cached(
        "SELECT panel_name, patch, half, hours, alone, photo, specimen, u95, digest, jpeg
         FROM crop JOIN specimen ON specimen.id = crop.specimen ORDER BY crop.rowid",
    )?;
    let mut rows = statement.query([])?;
    let mut faults = Vec::new();
    while let Some(row) = rows.next()? {
        let (panel, patch): (String, String) = (row.get(0)?, row.get(1)?);
        let half = store::half_of(row.get(2)?)?;
        let name = format!("the crop of {panel}/{patch} {}", word(&half));
        let (hours, alone): (f64, i64) = (row.get(3)?, row.get(4)?);
        let (photo, specimen): (i64, i64) = (row.get(5)?, row.get(6)?);
        let (u95, digest): (f64, Vec<u8>) = (row.get(7)?, row.get(8)?);
        let jpeg = row.get_ref(9)?.as_blob().unwrap_or_default();
        let stated = Exposure::of_row(false, hours, alone).hours;
        if digest != stored(&store::sha256(connection, photo)?, half, u95, jpeg) {
            faults.push(format!("{name}: it is not what was written"));
        } else if let Err(reason) = picture::check_crop(jpeg) {
            faults.push(format!("{name}: {reason}"));
        }
        if !has_reading(connection, specimen, half, stated, photo)?
            || (hours, alone) != age(connection, half, stated, photo)?
        {
            faults.push(format!("{name}: there is no reading that it shows"));
        }
    }
    Ok(faults)
}

/// How the table has the age of a half in a photo: hours, and the photo where they are unknown.
fn age(
    connection: &Connection,
    half: Half,
    hours: Option<f64>,
    photo: i64,
) -> Result<(f64, i64), LibraryError> {
    let root = connection
        .prepare_cached("SELECT coalesce(copy_of, id) FROM photo WHERE id = ?1")?
        .query_row([photo], |row| row.get(0))?;
    Ok(Exposure::of(half, hours, root).age())
}

/// The specimen of which the library has the reading that a crop shows.
fn of_reading(
    connection: &Connection,
    record: &PhotoRecord,
    photo: i64,
    crop: &Crop,
) -> Result<Option<i64>, LibraryError> {
    let panel = &record.photo.panel;
    let Some(patch) = panel.patches.iter().find(|it| it.id == crop.patch) else {
        return Ok(None);
    };
    let lot = patch.lot.as_deref().unwrap_or_default();
    let recipe = Recipe::of(panel, patch);
    let specimen = store::find_specimen(connection, &recipe, &panel.id, &patch.id, lot)?;
    let Some(specimen) = specimen else {
        return Ok(None);
    };
    let there = has_reading(connection, specimen, crop.half, record.photo.hours, photo)?;
    Ok(Some(specimen).filter(|_| there))
}

/// Whether there is a reading of the half in the photo, at these hours, that a crop shows.
pub(super) fn has_reading(
    connection: &Connection,
    specimen: i64,
    half: Half,
    hours: Option<f64>,
    photo: i64,
) -> Result<bool, LibraryError> {
    Ok(connection
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM reading JOIN measurement ON measurement.id = reading.measurement
             WHERE specimen = ?1 AND half = ?2 AND hours IS ?3 AND photo = ?4)",
        )?
        .query_row(
            params![specimen, store::half_number(half), hours, photo],
            |row| row.get(0),
        )?)
}

/// Lets the crops of a photo go where its amended readings went: to other hours, to another specimen where the panel's facts were corrected.
/// The picture shows the patch, whatever was said of it. Where there is one of a better reading, that one stays.
pub(super) fn follow(
    connection: &Connection,
    photo: i64,
    new: &PhotoRecord,
) -> Result<(), LibraryError> {
    let panel = &new.photo.panel;
    let crops = connection
        .prepare_cached(
            "SELECT crop.rowid, specimen.id, patch, half, u95 FROM crop JOIN specimen ON specimen.id = crop.specimen
             WHERE photo = ?1 AND panel_name = ?2 ORDER BY crop.rowid",
        )?
        .query_map(params![photo, panel.id], |row| {
            Ok((
                row.get::<_, i64>(0)?,
                row.get::<_, i64>(1)?,
                row.get::<_, String>(2)?,
                row.get::<_, i64>(3)?,
                row.get::<_, f64>(4)?,
            ))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    for (crop, specimen, patch, half_number, u95) in crops {
        let half = store::half_of(half_number)?;
        let shown = new
            .readings
            .iter()
            .any(|it| it.patch == patch && it.half == half);
        if !shown {
            // Another measurement of the photo may still have it.
            connection.execute(
                "DELETE FROM crop WHERE rowid = ?1 AND NOT EXISTS (
                     SELECT 1 FROM reading JOIN measurement ON measurement.id = reading.measurement
                     WHERE specimen = ?2 AND half = ?3 AND measurement.photo = ?4)",
                params![crop, specimen, half_number, photo],
            )?;
            continue;
        }
        let specimen = store::specimen(connection, panel, &patch)?.id;
        let (hours, alone) = age(connection, half, new.photo.hours, photo)?;
        let better: bool = connection
            .prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM crop WHERE specimen = ?2 AND half = ?3 AND hours = ?4 AND alone = ?5
                 AND rowid <> ?1 AND u95 <= ?6)",
            )?
            .query_row(
                params![crop, specimen, half_number, hours, alone, u95],
                |row| row.get(0),
            )?;
        if better {
            connection.execute("DELETE FROM crop WHERE rowid = ?1", [crop])?;
        } else {
            connection.execute(
                "UPDATE OR REPLACE crop SET specimen = ?2, hours = ?3, alone = ?4 WHERE rowid = ?1",
                params![crop, specimen, hours, alone],
            )?;
        }
    }
    Ok(())
}
