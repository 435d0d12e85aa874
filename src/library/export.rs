//! The whole library as one JSON document, written piece by piece.

use super::colour::Exposure;
use super::document::{
    Copy, Corrected, CropOfSpecimen, Measurement, NoteOfSpecimen, Numbered, SpecimenKey,
};
use super::{Library, LibraryError, notes, pack, recipe, store};
use crate::record::{Program, Record, SchemaNumber};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rusqlite::OptionalExtension as _;
use std::io::{self, Write};

/// The document can't be had.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExportError {
    /// The library can't be read.
    #[error(transparent)]
    Library(#[from] LibraryError),
    /// It can't be written.
    #[error(transparent)]
    Output(#[from] io::Error),
}

impl From<rusqlite::Error> for ExportError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Library(error.into())
    }
}

impl Library {
    /// Writes the whole library, as it is at this moment, as one [`super::document::Document`].
    ///
    /// # Errors
    ///
    /// If the library can't be read, or the document can't be written.
    pub fn export(&self, out: &mut dyn Write) -> Result<(), ExportError> {
        // One state of the file from beginning to end, whoever writes meanwhile.
        let moment = self.moment()?;
        write!(
            out,
            "{{\n\"schema\": {},\n\"program\": ",
            SchemaNumber::NUMBER
        )?;
        serde_json::to_writer(&mut *out, &Program::this()).map_err(io::Error::from)?;
        write!(out, ",\n\"pigments\": ")?;
        list(out, self.pigments()?.into_iter().map(Ok))?;
        write!(out, ",\n\"coatings\": ")?;
        list(out, self.coatings()?.into_iter().map(Ok))?;
        write!(out, ",\n\"swatches\": ")?;
        let ids = self.numbers("SELECT id FROM swatch ORDER BY id")?;
        list(out, ids.into_iter().map(|id| self.numbered(id)))?;
        write!(
            out,
            ",\n\"last_swatch\": {}",
            recipe::last_number(&self.connection)?
        )?;
        write!(out, ",\n\"measurements\": ")?;
        let ids = self.numbers("SELECT id FROM measurement ORDER BY id")?;
        list(out, ids.into_iter().map(|id| self.measurement(id)))?;
        write!(out, ",\n\"copies\": ")?;
        list(out, self.copies()?.into_iter().map(Ok))?;
        write!(out, ",\n\"notes\": ")?;
        let ids = self.numbers("SELECT id FROM note ORDER BY id")?;
        list(out, ids.into_iter().map(|id| self.note_of(id)))?;
        write!(out, ",\n\"crops\": ")?;
        let ids = self.numbers("SELECT rowid FROM crop ORDER BY specimen, half, hours, alone")?;
        list(out, ids.into_iter().map(|id| self.crop_of(id)))?;
        write!(out, ",\n\"history\": ")?;
        let ids = self.numbers("SELECT id FROM history ORDER BY id")?;
        list(out, ids.into_iter().map(|id| self.corrected(id)))?;
        out.write_all(b"\n}\n")?;
        moment.finish()?;
        Ok(())
    }

    fn numbers(&self, sql: &str) -> Result<Vec<i64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let rows = statement.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    fn numbered(&self, id: i64) -> Result<Numbered, LibraryError> {
        let only_patch = self
            .connection
            .prepare_cached("SELECT only_patch FROM swatch WHERE id = ?1")?
            .query_row([id], |row| row.get(0))?;
        let swatch = self.swatch(id)?;
        Ok(Numbered {
            id,
            name: swatch.name,
            recipe: swatch.recipe,
            only_panel: swatch.only_panel,
            only_patch,
        })
    }

    fn measurement(&self, id: i64) -> Result<Measurement, LibraryError> {
        let added = self
            .connection
            .prepare_cached("SELECT added FROM measurement WHERE id = ?1")?
            .query_row([id], |row| row.get(0))?;
        Ok(Measurement {
            added,
            record: Record::new(vec![store::record(&self.connection, id)?]),
        })
    }

    fn copies(&self) -> Result<Vec<Copy>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT photo.sha256, other.sha256 FROM photo JOIN photo AS other ON other.id = photo.copy_of ORDER BY photo.id",
        )?;
        let rows = statement.query_map([], |row| {
            Ok(Copy {
                sha256: row.get(0)?,
                of: row.get(1)?,
            })
        })?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    pub(super) fn key_of(&self, specimen: i64) -> Result<SpecimenKey, LibraryError> {
        let (panel, patch, lot, swatch) = self
            .connection
            .prepare_cached("SELECT panel_name, patch, lot, swatch FROM specimen WHERE id = ?1")?
            .query_row([specimen], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get::<_, i64>(3)?))
            })?;
        let swatch = recipe::swatch(&self.connection, swatch)?
            .ok_or_else(|| LibraryError::damaged("a specimen", "its swatch is not there"))?;
        Ok(SpecimenKey {
            panel,
            patch,
            lot,
            recipe: swatch.recipe,
        })
    }

    pub(super) fn note_of(&self, id: i64) -> Result<NoteOfSpecimen, LibraryError> {
        let (note, specimen) = self
            .connection
            .prepare_cached(
                "SELECT panel_name, patch, word, date, text, temperature_c, humidity_percent, hours, grade, specimen
                 FROM note JOIN specimen ON specimen.id = note.specimen WHERE note.id = ?1",
            )?
            .query_row([id], |row| Ok((notes::from_row(row)?, row.get(9)?)))?;
        let wet_g_per_m2 = self
            .connection
            .prepare_cached(
                "SELECT g_per_m2 FROM specimen
                 WHERE id = ?1 AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id)",
            )?
            .query_row([specimen], |row| row.get(0))
            .optional()?
            .flatten();
        Ok(NoteOfSpecimen {
            specimen: self.key_of(specimen)?,
            note,
            wet_g_per_m2,
        })
    }

    fn crop_of(&self, rowid: i64) -> Result<CropOfSpecimen, LibraryError> {
        let (specimen, half, hours, photo, u95, jpeg) = self
            .connection
            .prepare_cached(
                "SELECT specimen, half, hours, sha256, u95, jpeg FROM crop JOIN photo ON photo.id = crop.photo
                 WHERE crop.rowid = ?1",
            )?
            .query_row([rowid], |row| {
                Ok((
                    row.get::<_, i64>(0)?,
                    row.get::<_, i64>(1)?,
                    row.get::<_, f64>(2)?,
                    row.get(3)?,
                    row.get(4)?,
                    row.get::<_, Vec<u8>>(5)?,
                ))
            })?;
        Ok(CropOfSpecimen {
            specimen: self.key_of(specimen)?,
            half: store::half_of(half)?,
            hours: Exposure::of_row(false, hours, 0).hours,
            photo,
            u95,
            jpeg: STANDARD.encode(jpeg),
        })
    }

    pub(super) fn corrected(&self, id: i64) -> Result<Corrected, LibraryError> {
        let (date, what, why, packed): (_, String, _, Vec<u8>) = self
            .connection
            .prepare_cached("SELECT date, what, why, before FROM history WHERE id = ?1")?
            .query_row([id], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })?;
        let text = pack::unpacked(&packed, &what)?;
        Ok(Corrected {
            date,
            before: serde_json::from_str(&text).map_err(|it| LibraryError::damaged(&what, it))?,
            what,
            why,
        })
    }
}

/// A list, one entry a line.
fn list<T: serde::Serialize>(
    out: &mut dyn Write,
    entries: impl Iterator<Item = Result<T, LibraryError>>,
) -> Result<(), ExportError> {
    out.write_all(b"[")?;
    for (index, entry) in entries.enumerate() {
        out.write_all(if index == 0 { b"\n" } else { b",\n" })?;
        serde_json::to_writer(&mut *out, &entry?).map_err(io::Error::from)?;
    }
    out.write_all(b"]")?;
    Ok(())
}
