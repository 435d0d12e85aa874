//! The boards as they lie before a camera: where each swatch is on them, and what was never seen.

use super::recipe::Swatch;
use super::{Exposure, Library, LibraryError, store};
use crate::record::{Half, PanelEntry};

/// A board, as its latest panel file describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardEntry {
    /// The panel.
    pub panel: PanelEntry,
    /// Its patches that were measured.
    pub specimens: Vec<OnBoard>,
}

/// A patch that was measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OnBoard {
    /// The patch's id.
    pub patch: String,
    /// The specimen's number.
    pub specimen: i64,
    /// The number of its swatch.
    pub swatch: i64,
}

/// A small picture of a specimen.
#[derive(Clone, Debug, PartialEq)]
pub struct SpecimenCrop {
    /// Which half.
    pub half: Half,
    /// When.
    pub exposure: Exposure,
    /// JPEG, sRGB.
    pub jpeg: Vec<u8>,
}

impl Library {
    /// The boards that were measured, by panel id. Of a patch whose facts were corrected between panel files the latest specimen counts.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn boards(&self) -> Result<Vec<BoardEntry>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id FROM panel AS one
             WHERE EXISTS (SELECT 1 FROM measurement WHERE measurement.panel = one.id)
               AND revision = (SELECT max(revision) FROM panel AS other WHERE other.name = one.name
                               AND EXISTS (SELECT 1 FROM measurement WHERE measurement.panel = other.id))
             ORDER BY name",
        )?;
        let ids = statement
            .query_map([], |row| row.get(0))?
            .collect::<rusqlite::Result<Vec<i64>>>()?;
        let mut boards = Vec::with_capacity(ids.len());
        for id in ids {
            let panel = store::panel_entry(&self.connection, id)?;
            let specimens = self.on_board(&panel.id)?;
            boards.push(BoardEntry { panel, specimens });
        }
        Ok(boards)
    }

    fn on_board(&self, panel: &str) -> Result<Vec<OnBoard>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT patch, id, swatch FROM specimen AS one
             WHERE panel_name = ?1 AND id = (
                 SELECT max(id) FROM specimen AS other WHERE other.panel_name = one.panel_name AND other.patch = one.patch
                 AND EXISTS (SELECT 1 FROM reading WHERE reading.specimen = other.id))
             ORDER BY id",
        )?;
        let rows = statement.query_map([panel], |row| {
            Ok(OnBoard {
                patch: row.get(0)?,
                specimen: row.get(1)?,
                swatch: row.get(2)?,
            })
        })?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// The small pictures of a specimen, by exposure.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn crops_of_specimen(&self, specimen: i64) -> Result<Vec<SpecimenCrop>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT half, hours, alone, jpeg FROM crop WHERE specimen = ?1 ORDER BY hours, alone, half",
        )?;
        let mut rows = statement.query([specimen])?;
        let mut crops = Vec::new();
        while let Some(row) = rows.next()? {
            let half = store::half_of(row.get(0)?)?;
            let (hours, alone): (f64, i64) = (row.get(1)?, row.get(2)?);
            let known = Some(hours).filter(|it| *it >= 0.0);
            crops.push(SpecimenCrop {
                half,
                exposure: Exposure::of(half, known, alone),
                jpeg: row.get(3)?,
            });
        }
        Ok(crops)
    }

    /// The swatches of which no photo could be measured, by number.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn never_measured(&self) -> Result<Vec<Swatch>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT swatch FROM specimen
             WHERE NOT EXISTS (SELECT 1 FROM colour WHERE colour.swatch = specimen.swatch) ORDER BY swatch",
        )?;
        let ids = statement
            .query_map([], |row| row.get(0))?
            .collect::<rusqlite::Result<Vec<i64>>>()?;
        ids.into_iter().map(|it| self.swatch(it)).collect()
    }
}
