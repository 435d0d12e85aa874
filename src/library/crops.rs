//! Small pictures of specimens: for each half and exposure the one from the photo that measures it best.

use super::{Exposure, Library, LibraryError, store};
use crate::picture::Crop;
use crate::record::{Half, PhotoRecord};
use rusqlite::{Connection, OptionalExtension as _, params};

impl Library {
    /// Keeps crops of a photo that is in the library. Where there is one of the same half at the same exposure already, the one whose
    /// reading has the smaller U95 stays; what could not be measured leaves none. How many were kept.
    ///
    /// # Errors
    ///
    /// If the photo isn't there, or the library can't be written.
    pub fn add_crops(
        &mut self,
        record: &PhotoRecord,
        crops: &[Crop],
    ) -> Result<usize, LibraryError> {
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
                let specimen = store::specimen(transaction, &record.photo.panel, &crop.patch)?;
                kept += usize::from(keep(
                    transaction,
                    specimen.id,
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
    let changed = connection
        .prepare_cached(
            "INSERT INTO crop (specimen, half, hours, alone, photo, u95, jpeg) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
             ON CONFLICT (specimen, half, hours, alone)
             DO UPDATE SET photo = excluded.photo, u95 = excluded.u95, jpeg = excluded.jpeg
             WHERE excluded.u95 < crop.u95",
        )?
        .execute(params![
            specimen,
            store::half_number(half),
            hours,
            alone,
            photo,
            u95,
            jpeg
        ])?;
    Ok(changed > 0)
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

/// Follows a photo whose hours were corrected.
pub(super) fn amend_hours(
    connection: &Connection,
    photo: i64,
    hours: Option<f64>,
) -> Result<(), LibraryError> {
    // Which half it is of makes no difference to the hours.
    let (hours, alone) = age(connection, Half::Whole, hours, photo)?;
    // Where a better one of another photo is there already, this one has no place any more; else the other has none.
    connection.execute(
        "DELETE FROM crop WHERE photo = ?1 AND EXISTS (
             SELECT 1 FROM crop AS other
             WHERE other.specimen = crop.specimen AND other.half = crop.half AND other.hours = ?2 AND other.alone = ?3
               AND other.photo <> ?1 AND other.u95 <= crop.u95)",
        params![photo, hours, alone],
    )?;
    connection.execute(
        "UPDATE OR REPLACE crop SET hours = ?2, alone = ?3 WHERE photo = ?1",
        params![photo, hours, alone],
    )?;
    Ok(())
}
