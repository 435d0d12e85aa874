//! Everything about one swatch: its colours with the parts of their uncertainty, specimens, readings that disagree, lots, notes, limits,
//! photos, and what was otherwise before.

use super::colour::{self, Counted};
use super::limits::{self, TestedLimit, Verdict};
use super::lots::{self, LotComparison};
use super::notes::Note;
use super::past::Past;
use super::photos::{Paths, Source};
use super::recipe::Swatch;
use super::statistics::Estimate;
use super::store;
use super::{Exposure, Library, LibraryError};
use crate::record::Half;
use rusqlite::params;

/// A swatch with all that is known of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// The swatch.
    pub swatch: Swatch,
    /// Its colours, by exposure: not masked first, by hours.
    pub ages: Vec<Age>,
    /// Its specimens.
    pub specimens: Vec<Specimen>,
    /// Lots of its pigment held against each other.
    pub lots: Vec<LotComparison>,
    /// What was noted of its specimens.
    pub notes: Vec<Note>,
    /// The tested limits of its pigments in its coating.
    pub limits: Vec<TestedLimit>,
    /// What they say of it.
    pub verdict: Verdict,
    /// Σ(load ÷ limit), where every pigment has one.
    pub sum: Option<f64>,
    /// The photos that it is in, in the order in which they came.
    pub photos: Vec<Source>,
    /// What was amended, superseded or withdrawn, by date.
    pub history: Vec<Past>,
}

/// One coated patch.
#[derive(Clone, Debug, PartialEq)]
pub struct Specimen {
    /// Its number in this library.
    pub id: i64,
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// The pigment's lot, if stated.
    pub lot: Option<String>,
    /// Wet coating put on, grams per square metre, all coats together, pigment included, if weighed.
    pub g_per_m2: Option<f64>,
}

/// A swatch at an exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Age {
    /// When.
    pub exposure: Exposure,
    /// Which part of the patches it is of; `whole`, too, for both halves while both are fresh.
    pub half: Half,
    /// Where nobody knows the hours, the path of the photo as it was when it was measured: each photo is by itself then.
    pub photo: Option<String>,
    /// The colour and the parts of its uncertainty.
    pub mean: Estimate,
    /// Each specimen by itself: its number and its colour.
    pub specimens: Vec<(i64, Estimate)>,
    /// Readings that disagree with the others of their specimen.
    pub disagreeing: Vec<Disagreeing>,
}

/// A reading that disagrees.
#[derive(Clone, Debug, PartialEq)]
pub struct Disagreeing {
    /// The photo's path as it was when it was measured.
    pub photo: String,
    /// SHA-256 of the photo.
    pub sha256: String,
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// Which half.
    pub half: Half,
    /// ΔE00 to the specimen's mean.
    pub delta_e: f64,
}

impl Library {
    /// Everything about a swatch.
    ///
    /// # Errors
    ///
    /// If there is no such swatch, or the library can't be read.
    pub fn show(&self, id: i64) -> Result<Shown, LibraryError> {
        let swatch = self.swatch(id)?;
        let limits = match &swatch.recipe.coating {
            Some(coating) => self.limits(coating)?,
            None => Vec::new(),
        };
        let of_it = |it: &TestedLimit| {
            swatch
                .recipe
                .pigments
                .iter()
                .any(|other| other.pigment == it.pigment)
        };
        let specimens = self.specimens(id)?;
        let patches: Vec<(String, String)> = specimens
            .iter()
            .map(|it| (it.panel.clone(), it.patch.clone()))
            .collect();
        let photos = self.sources(id, &mut Paths::default())?;
        Ok(Shown {
            ages: self.colours_of(id)?,
            specimens,
            history: self.past(&photos, &patches)?,
            photos,
            lots: lots::compare(self, &swatch)?,
            notes: self.notes(id)?,
            verdict: self.judge(&swatch.recipe)?,
            sum: limits::sum(&swatch.recipe.pigments, &limits).ok(),
            limits: limits.iter().filter(|it| of_it(it)).cloned().collect(),
            swatch,
        })
    }

    /// The colours of a swatch, by exposure: not masked first, by hours. Empty without any reading.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn colours_of(&self, id: i64) -> Result<Vec<Age>, LibraryError> {
        let groups = colour::by_exposure(colour::counted(&self.connection, id)?);
        let ages = groups
            .iter()
            .filter_map(|(exposure, counted)| self.age(id, *exposure, counted).transpose());
        ages.collect()
    }

    /// The specimens of a swatch.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn specimens(&self, swatch: i64) -> Result<Vec<Specimen>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, panel_name, patch, lot, g_per_m2 FROM specimen WHERE swatch = ?1 ORDER BY id",
        )?;
        let rows = statement.query_map([swatch], |row| {
            let lot: String = row.get(3)?;
            Ok(Specimen {
                id: row.get(0)?,
                panel: row.get(1)?,
                patch: row.get(2)?,
                lot: Some(lot).filter(|it| !it.is_empty()),
                g_per_m2: row.get(4)?,
            })
        })?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    fn age(
        &self,
        swatch: i64,
        exposure: Exposure,
        counted: &[Counted],
    ) -> Result<Option<Age>, LibraryError> {
        let Some(mean) = colour::mean(counted) else {
            return Ok(None);
        };
        let mut ids: Vec<i64> = counted.iter().map(|it| it.point.specimen).collect();
        ids.sort_unstable();
        ids.dedup();
        let specimens: Vec<(i64, Estimate)> = ids
            .into_iter()
            .filter_map(|id| {
                let of_it: Vec<Counted> = counted
                    .iter()
                    .filter(|it| it.point.specimen == id)
                    .cloned()
                    .collect();
                Some((id, colour::mean(&of_it)?))
            })
            .collect();
        let disagreeing = mean
            .disagreeing
            .iter()
            .map(|it| self.disagreeing(&counted[*it], &specimens))
            .collect::<Result<_, _>>()?;
        let of = counted.first().filter(|_| exposure.photo.is_some());
        let photo = of
            .map(|it| store::record(&self.connection, it.measurement))
            .transpose()?
            .map(|it| it.photo.path);
        Ok(Some(Age {
            exposure,
            half: self.half(swatch, exposure)?,
            photo,
            mean,
            specimens,
            disagreeing,
        }))
    }

    fn disagreeing(
        &self,
        it: &Counted,
        specimens: &[(i64, Estimate)],
    ) -> Result<Disagreeing, LibraryError> {
        let record = store::record(&self.connection, it.measurement)?;
        let (panel, patch) = self.connection.query_row(
            "SELECT panel_name, patch FROM specimen WHERE id = ?1",
            params![it.point.specimen],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        let lab = crate::colour::Lab::new(it.point.lab.x, it.point.lab.y, it.point.lab.z);
        let mean = specimens.iter().find(|other| other.0 == it.point.specimen);
        Ok(Disagreeing {
            photo: record.photo.path,
            sha256: record.photo.sha256,
            panel,
            patch,
            half: store::half_of(it.half)?,
            delta_e: mean.map_or(0.0, |other| {
                crate::colour::difference::delta_e_2000(lab, other.1.lab)
            }),
        })
    }
}
