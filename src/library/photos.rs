//! Where a swatch's colours come from: its photos as they were measured, with all of their readings, whether they count or not.

use super::{Library, LibraryError, detail, pack, store};
use crate::colour::Lab;
use crate::record::{Half, PhotoRecord};
use std::collections::BTreeMap;

/// A photo measured on a panel with a correction, as far as one swatch is in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// The photo's path as it was when it was measured.
    pub path: String,
    /// SHA-256 of the photo.
    pub sha256: String,
    /// When it was taken, as the photo says.
    pub taken: Option<String>,
    /// The camera, as the photo says.
    pub camera: Option<String>,
    /// SHA-256 of the photo that shows the same shot, if it is a copy.
    pub copy_of: Option<String>,
    /// The panel's id.
    pub panel: String,
    /// Hours of exposure, if known.
    pub hours: Option<f64>,
    /// The correction: its kind, and what else it rests on.
    pub correction: String,
    /// When it came into the library, UTC.
    pub added: String,
    /// The readings of this swatch, in the record's order.
    pub readings: Vec<SourceReading>,
}

/// One half of one patch in it.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceReading {
    /// The patch's id.
    pub patch: String,
    /// Which half.
    pub half: Half,
    /// The colour, if there is one.
    pub lab: Option<Lab>,
    /// U95 of it.
    pub u95: Option<f64>,
    /// Whether it counts: it has a colour, and no better reading of the same shot is there.
    pub counts: bool,
}

/// Paths of photos as they were when they were measured, by measurement: they lie packed with the rest of the photo's history.
#[derive(Debug, Default)]
pub struct Paths(BTreeMap<i64, String>);

impl Source {
    /// The photo of which this one is, or is a copy of.
    #[must_use]
    pub fn shot(&self) -> &str {
        self.copy_of.as_deref().unwrap_or(&self.sha256)
    }

    /// The file's name without its folders.
    #[must_use]
    pub fn file_name(&self) -> &str {
        let name = self.path.rsplit(['/', '\\']).next();
        name.unwrap_or(&self.path)
    }
}

impl Library {
    /// The records of the photo of this SHA-256, one for each way in which it was measured, as they were added.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn records_of(&self, sha256: &str) -> Result<Vec<PhotoRecord>, LibraryError> {
        let ids = self
            .connection
            .prepare_cached(
                "SELECT measurement.id FROM measurement JOIN photo ON photo.id = photo
                 WHERE sha256 = ?1 ORDER BY measurement.id",
            )?
            .query_map([sha256], |row| row.get(0))?
            .collect::<rusqlite::Result<Vec<i64>>>()?;
        ids.into_iter()
            .map(|it| store::record(&self.connection, it))
            .collect()
    }

    /// The photos of a swatch, in the order in which they came. `paths` keeps what was unpacked, for the next swatch in the same photos.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn sources(&self, swatch: i64, paths: &mut Paths) -> Result<Vec<Source>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT measurement.id, photo.sha256, photo.taken, photo.camera, original.sha256, measurement.panel_name,
                    measurement.hours, measurement.correction, measurement.added, measurement.entry,
                    specimen.patch, reading.half, reading.u95, reading.current, reading.detail
             FROM specimen
             CROSS JOIN reading ON reading.specimen = specimen.id
             CROSS JOIN measurement ON measurement.id = reading.measurement
             CROSS JOIN photo ON photo.id = measurement.photo
             LEFT JOIN photo AS original ON original.id = photo.copy_of
             WHERE specimen.swatch = ?1 ORDER BY measurement.added, measurement.id, reading.place",
        )?;
        let mut rows = statement.query([swatch])?;
        let mut all: Vec<(i64, Source)> = Vec::new();
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            if all.last().is_none_or(|it| it.0 != id) {
                let path = match paths.0.get(&id) {
                    Some(known) => known.clone(),
                    None => {
                        let entry = row.get_ref(9)?.as_blob().unwrap_or_default();
                        let path = path(id, entry)?;
                        paths.0.insert(id, path.clone());
                        path
                    }
                };
                let source = Source {
                    path,
                    sha256: row.get(1)?,
                    taken: row.get(2)?,
                    camera: row.get(3)?,
                    copy_of: row.get(4)?,
                    panel: row.get(5)?,
                    hours: row.get(6)?,
                    correction: row.get(7)?,
                    added: row.get(8)?,
                    readings: Vec::new(),
                };
                all.push((id, source));
            }
            let packed = row.get_ref(14)?.as_blob().unwrap_or_default();
            let lab = detail::colour(packed)?.map(|it| Lab::new(it.lab[0], it.lab[1], it.lab[2]));
            let reading = SourceReading {
                patch: row.get(10)?,
                half: store::half_of(row.get(11)?)?,
                lab,
                u95: row.get(12)?,
                counts: lab.is_some() && row.get::<_, bool>(13)?,
            };
            if let Some((_, source)) = all.last_mut() {
                source.readings.push(reading);
            }
        }
        Ok(all.into_iter().map(|it| it.1).collect())
    }
}

fn path(measurement: i64, packed: &[u8]) -> Result<String, LibraryError> {
    let what = format!("measurement {measurement}");
    let entry: serde_json::Value = serde_json::from_str(&pack::unpacked(packed, &what)?)
        .map_err(|it| LibraryError::damaged(what, it))?;
    Ok(entry["path"].as_str().unwrap_or_default().to_owned())
}
