//! Measured photos straight into the library.

use super::super::failure::{Exit, Failure};
use super::super::library::{begin, failure, tell};
use masstone::library::{Library, Report};
use masstone::measure::{Job, files};
use masstone::picture::Crop;
use masstone::record::PhotoRecord;
use std::path::Path;

/// The library that measured photos go to, and what became of them.
#[derive(Debug)]
pub(super) struct Shelf {
    library: Library,
    report: Report,
    /// Whether it is to have small pictures, too.
    crops: bool,
}

impl Shelf {
    /// Opens the library before the long work, and begins one if there is none.
    pub(super) fn open(place: &Path, crops: bool) -> Result<Self, Failure> {
        Ok(Self {
            library: begin(place)?,
            report: Report::default(),
            crops,
        })
    }

    /// What the library has of the photos of these jobs, however it was measured.
    pub(super) fn finished(&self, jobs: &[Job]) -> Result<Vec<PhotoRecord>, Failure> {
        let mut records = Vec::new();
        // What can't be read has no hash: measuring it will say why.
        for hash in jobs.iter().filter_map(|it| files::sha256(&it.path).ok()) {
            let found = self.library.records_of(&hash);
            records.extend(found.map_err(failure(self.library.path()))?);
        }
        Ok(records)
    }

    /// What the library has of a panel's photos.
    pub(super) fn photos_of(&self, panel: &str) -> Result<Vec<PhotoRecord>, Failure> {
        let found = self.library.series(panel);
        found.map_err(failure(self.library.path()))
    }

    /// Whether it has the small pictures of a measured photo, as far as they are wanted.
    pub(super) fn has_crops(&self, record: &PhotoRecord) -> Result<bool, Failure> {
        if !self.crops {
            return Ok(true);
        }
        let found = self.library.has_crops(record);
        found.map_err(failure(self.library.path()))
    }

    /// Adds a photo, whole; then its crops, unless the library has something else of it.
    pub(super) fn add(&mut self, record: &PhotoRecord, crops: &[Crop]) -> Result<(), Failure> {
        let place = self.library.path().to_owned();
        let wrong = failure(&place);
        let report = self
            .library
            .add(std::slice::from_ref(record))
            .map_err(&wrong)?;
        if report.conflicts.is_empty() && !crops.is_empty() {
            self.library.add_crops(record, crops).map_err(&wrong)?;
        }
        self.report.merge(report);
        Ok(())
    }

    /// Says what became of it all.
    pub(super) fn tell(self) -> Exit {
        tell(&self.report, 0, &self.library, "added")
    }
}
