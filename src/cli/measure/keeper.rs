//! What keeps finished photos: a file of them beside OUT while the batch runs, then OUT itself.

use super::super::failure::Failure;
use super::super::progress::count;
use super::args::{Destination, Format};
use super::finished::take_done;
use super::print;
use masstone::measure::Job;
use masstone::measure::output::{self, OutputError};
use masstone::measure::partial::{self, Leftover, Partial};
use masstone::record::{PanelEntry, PhotoRecord, Record};
use std::path::PathBuf;

/// Keeps finished photos, on disk if the readings go to a file.
#[derive(Debug)]
pub(super) struct Keeper {
    file: Option<Kept>,
}

#[derive(Debug)]
struct Kept {
    out: PathBuf,
    partial: Partial,
    /// Of an earlier run, as far as no job has taken it yet.
    leftover: Leftover,
    /// Of an earlier run, without pictures that are wanted now.
    bare: Vec<PhotoRecord>,
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
                    bare: Vec::new(),
                })
            }
        };
        Ok(Self { file })
    }

    /// What an earlier run finished of these jobs, which are taken out of them.
    pub(super) fn resume(
        &mut self,
        jobs: &mut Vec<Job>,
        panel: &PanelEntry,
        is_whole: impl Fn(&PhotoRecord) -> Result<bool, Failure>,
    ) -> Result<Vec<PhotoRecord>, Failure> {
        let Some(kept) = &mut self.file else {
            return Ok(Vec::new());
        };
        let finished = std::mem::take(&mut kept.leftover.photos);
        let taken = take_done(partial::resume(finished, jobs, panel), jobs, is_whole)?;
        kept.leftover.photos = taken.unused;
        kept.bare.extend(taken.bare);
        Ok(taken.done)
    }

    /// Sets aside what an earlier run left and no job wanted; `done` are all photos that are done. What the user should know of it.
    pub(super) fn tidy(&mut self, done: &[PhotoRecord]) -> Result<Vec<String>, OutputError> {
        let Some(kept) = &mut self.file else {
            return Ok(Vec::new());
        };
        let Leftover { photos, unreadable } = std::mem::take(&mut kept.leftover);
        if photos.is_empty() && unreadable.is_empty() {
            return Ok(Vec::new());
        }
        let aside = kept.partial.set_aside(&[done, &kept.bare].concat())?;
        let mut notes = vec![format!(
            "{} in {} of an earlier run, for other photos or measured otherwise (another panel, settings, dose or version); \
             they are not used, and kept in {}",
            count(photos.len() + unreadable.len(), "finished photo"),
            kept.partial.path().display(),
            aside.display()
        )];
        notes.extend(unreadable);
        Ok(notes)
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
