//! Series: which photos show a board after how much exposure, and how it was exposed.
//!
//! Takes a strict TOML file ([`read`]); gives a [`Series`]: the panel, what it was exposed to, and its shots in the order of their
//! dose. Promises: a file has one kind of dose, and no two shots have the same; a photo is of one shot only.

mod conditions;
mod date;
mod dose;
mod file;
mod missing;
mod photos;
mod shots;
mod slips;

pub use date::Date;
pub use missing::{Missing, Why};

use crate::panel::error::list;
use crate::panel::{Panel, Problem, Spot};
use crate::record::{Dose, ExposureEntry, ExposureKind, Fact};
use std::path::{Path, PathBuf};

/// Reads a series file, and the panel file that it names.
///
/// Photos are not looked for: [`Series::photos`] does that.
///
/// # Errors
/// Everything that is wrong with the files, each with its place and what would be right.
pub fn read(path: &Path) -> Result<Series, SeriesError> {
    file::read(path)
}

/// Why a series can't be used: everything that is wrong with its files, in the order of reading.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", list(problems))]
pub struct SeriesError {
    problems: Vec<Problem>,
}

impl SeriesError {
    /// Everything that is wrong; never empty.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl From<Problem> for SeriesError {
    fn from(problem: Problem) -> Self {
        Self {
            problems: vec![problem],
        }
    }
}

/// A board and its exposures.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// The file it was read from.
    pub path: PathBuf,
    /// The board.
    pub panel: Panel,
    /// What it is exposed to.
    pub kind: ExposureKind,
    /// What doses count: `hours`, or unit and band of the radiant exposure such as `MJ/m2 UV 295-385 nm`. Other units of the same
    /// band are converted.
    pub dose_kind: String,
    /// How it is exposed, by name: site, tilt, glass, lamp, cycle, washing and so on, as far as stated.
    pub conditions: Vec<Fact>,
    /// Ids of patches that stay indoors and are laid beside the board for its photos.
    pub witness: Vec<String>,
    /// By dose; no two have the same.
    pub shots: Vec<Shot>,
    /// What a user should know of the file, as full sentences.
    pub warnings: Vec<String>,
}

/// The photos of one dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// Where the file states it.
    pub spot: Spot,
    /// How much exposure came before it; its [`Dose::kind`] is that of the series.
    pub dose: Dose,
    /// The day of the photos, if stated.
    pub read: Option<Date>,
    /// What else is stated of it.
    pub notes: Option<String>,
    /// Files, folders and patterns of its photos; none while it is planned.
    pub photos: Vec<PathBuf>,
}

impl Series {
    /// How the board was exposed, for the records of a shot's photos.
    #[must_use]
    pub fn exposure(&self, shot: &Shot) -> ExposureEntry {
        let fact = |name: &str, value: String| Fact {
            name: name.to_owned(),
            value,
        };
        let read = shot.read.map(|it| fact("read", it.to_string()));
        let notes = shot.notes.clone().map(|it| fact("notes", it));
        ExposureEntry {
            kind: self.kind,
            conditions: self.conditions.clone(),
            shot: read.into_iter().chain(notes).collect(),
            witness: self.witness.clone(),
        }
    }
}
