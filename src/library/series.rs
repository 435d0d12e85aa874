//! The photos of a panel through its exposures, whole, and their small pictures.

use super::{Library, LibraryError, store};
use crate::record::{Half, PhotoRecord};
use rusqlite::Connection;
use std::collections::BTreeMap;

/// A small picture of one half of a patch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PatchCrop {
    /// The patch's id.
    pub patch: String,
    /// Which half.
    pub half: Half,
    /// SHA-256 of the photo that it is from.
    pub sha256: String,
    /// JPEG, sRGB.
    pub jpeg: Vec<u8>,
}

impl Library {
    /// The ids of the panels that have exposed halves, in order.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn panels_with_halves(&self) -> Result<Vec<String>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT panel_name FROM specimen
             WHERE EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id AND reading.half = ?1)
             ORDER BY panel_name",
        )?;
        let exposed = store::half_number(Half::Exposed);
        let rows = statement.query_map([exposed], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// The photos of a panel with all of their readings, as they are now, in the order in which they came.
    ///
    /// Halves are compared within a photo, so a photo comes once and whole: of several measurements of it (other corrections, copies of its
    /// file) the latest with masked halves as references, since those carry one scale through a series; else the one of which most readings count,
    /// of equals the first.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn series(&self, panel: &str) -> Result<Vec<PhotoRecord>, LibraryError> {
        let moment = self.moment()?;
        let mut statement = moment.prepare_cached(
            "SELECT measurement.id, coalesce(photo.copy_of, photo.id),
                    (SELECT count(*) FROM reading WHERE reading.measurement = measurement.id AND current = 1)
             FROM measurement JOIN photo ON photo.id = measurement.photo
             WHERE measurement.panel IN (SELECT id FROM panel WHERE name = ?1) ORDER BY measurement.id",
        )?;
        let mut rows = statement.query([panel])?;
        // By shot: its measurements, each with how many of its readings count.
        let mut shots: BTreeMap<i64, Vec<(i64, i64)>> = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let (id, shot, counts) = (row.get(0)?, row.get(1)?, row.get(2)?);
            shots.entry(shot).or_default().push((counts, id));
        }
        let mut records = Vec::new();
        for measurements in shots.into_values() {
            records.push(best(&moment, &measurements)?);
        }
        records.sort_unstable_by_key(|it| it.0);
        Ok(records.into_iter().map(|it| it.1).collect())
    }

    /// The small pictures of a panel's patches: for each half and exposure the one that was kept.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn crops_of(&self, panel: &str) -> Result<Vec<PatchCrop>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT specimen.patch, crop.half, photo.sha256, crop.jpeg
             FROM specimen JOIN crop ON crop.specimen = specimen.id JOIN photo ON photo.id = crop.photo
             WHERE specimen.panel_name = ?1 ORDER BY specimen.id, crop.half, crop.hours, crop.alone",
        )?;
        let mut rows = statement.query([panel])?;
        let mut crops = Vec::new();
        while let Some(row) = rows.next()? {
            crops.push(PatchCrop {
                patch: row.get(0)?,
                half: store::half_of(row.get(1)?)?,
                sha256: row.get(2)?,
                jpeg: row.get(3)?,
            });
        }
        Ok(crops)
    }
}

/// The measurement of a shot that a series is judged by, with its id; of at least one, each with how many of its readings count, in the order in
/// which they came.
fn best(
    moment: &Connection,
    measurements: &[(i64, i64)],
) -> Result<(i64, PhotoRecord), LibraryError> {
    let mut best: Option<(i64, i64, PhotoRecord)> = None;
    for &(counts, id) in measurements {
        let record = store::record(moment, id)?;
        let carried = record.photo.settings.masked.is_some();
        let is_better = best.as_ref().is_none_or(|(most, _, known)| {
            carried || (known.photo.settings.masked.is_none() && counts > *most)
        });
        if is_better {
            best = Some((counts, id, record));
        }
    }
    let (_, id, record) = best.expect("a shot has a measurement");
    Ok((id, record))
}
