//! What keeps finished photos: a file of them beside OUT while the batch runs, then OUT itself.

use super::super::failure::Failure;
use super::super::progress::count;
use super::args::{Destination, Format};
use super::print;
use super::proofs::Proofs;
use masstone::measure::Job;
use masstone::measure::output::{self, OutputError};
use masstone::measure::partial::{self, Leftover, Partial};
use masstone::record::{PanelEntry, PhotoRecord, Record};
use std::path::PathBuf;

/// Keeps finished photos, on disk if the readings go to a file.
#[derive(Debug)]
pub(super) struct Keeper {
    file: Option<Kept>,
    notes: Vec<String>,
}

#[derive(Debug)]
struct Kept {
    out: PathBuf,
    partial: Partial,
    leftover: Leftover,
}

impl Keeper {
    /// Checks that the output can be written, before the long work.
    pub(super) fn open(destination: &Destination) -> Result<Self, Failure> {
        let file = match destination {
            Destination::Table | Destination::Stdout(_) => None,
            Destination::File(path, _) => {
                let out = output::check(path)?;
                let (partial, leftover) = Partial::open(&out)?;
                Some(Kept {
                    out,
                    partial,
                    leftover,
                })
            }
        };
        Ok(Self {
            file,
            notes: Vec::new(),
        })
    }

    /// What an earlier run finished, and the jobs that are left.
    pub(super) fn resume(
        &mut self,
        jobs: Vec<Job>,
        panel: &PanelEntry,
        proofs: Option<&Proofs>,
    ) -> Result<(Vec<PhotoRecord>, Vec<Job>), Failure> {
        let Some(kept) = &mut self.file else {
            return Ok((Vec::new(), jobs));
        };
        let Leftover { photos, unreadable } = std::mem::take(&mut kept.leftover);
        let resumed = partial::resume(photos, &jobs, panel);
        if resumed.unused > 0 || !unreadable.is_empty() {
            let used: Vec<PhotoRecord> = resumed.done.iter().map(|(_, it)| it.clone()).collect();
            let aside = kept.partial.set_aside(&used)?;
            self.notes.push(format!(
                "{} in {} of an earlier run, for other photos or measured otherwise (another panel, settings, hours or version); \
                 they are not used, and kept in {}",
                count(resumed.unused + unreadable.len(), "finished photo"),
                kept.partial.path().display(),
                aside.display()
            ));
            self.notes.extend(unreadable);
        }
        let mut left: Vec<Option<Job>> = jobs.into_iter().map(Some).collect();
        let mut done = Vec::new();
        for (index, record) in resumed.done {
            // Without the proof that is asked for now, the photo is not done.
            if proofs.is_none_or(|it| it.has(&record.photo)) {
                left[index] = None;
                done.push(record);
            }
        }
        if !done.is_empty() {
            self.notes.push(format!(
                "going on after an earlier run: {} done already",
                count(done.len(), "photo")
            ));
        }
        Ok((done, left.into_iter().flatten().collect()))
    }

    /// What the user should know of earlier runs.
    pub(super) fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Keeps a finished photo.
    pub(super) fn append(&mut self, photo: &PhotoRecord) -> Result<(), OutputError> {
        self.file
            .as_mut()
            .map_or(Ok(()), |it| it.partial.append(photo))
    }

    /// Adds to a failure where the finished photos are.
    pub(super) fn explain(self, failure: Failure) -> Failure {
        match self.file {
            None => failure,
            Some(kept) => kept.explain(failure),
        }
    }

    /// Writes the readings to where they were asked for; what to add to the closing line.
    pub(super) fn write(
        self,
        record: &Record,
        destination: &Destination,
    ) -> Result<String, Failure> {
        match (self.file, destination) {
            (Some(kept), Destination::File(_, format)) => kept.write(record, *format),
            _ => print(record, destination).map(|()| String::new()),
        }
    }
}

impl Kept {
    fn write(self, record: &Record, format: Format) -> Result<String, Failure> {
        if record.photos.is_empty() {
            self.partial.leave()?;
            return Ok(format!("; {} is not written", self.out.display()));
        }
        match output::replace_and_keep(&self.out, |out| format.write(record, out)) {
            Ok(backup) => {
                let place = format!("; written to {}", self.out.display());
                self.partial.remove()?;
                Ok(backup.map_or(place.clone(), |it| {
                    format!("{place} (what was there is kept as {})", it.display())
                }))
            }
            Err(error) => Err(self.explain(error.into())),
        }
    }

    fn explain(self, failure: Failure) -> Failure {
        let path = self.partial.path().display().to_string();
        match self.partial.leave() {
            Ok(true) => failure.and(&format!(
                "Finished photos are safe in {path}; the same command goes on from there."
            )),
            _ => failure,
        }
    }
}
