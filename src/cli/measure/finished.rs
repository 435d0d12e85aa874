//! What became of the photos so far: kept as each is done, those of earlier runs among them.

use super::super::failure::{Failure, chain};
use super::super::progress::{Progress, count};
use super::jobs::Jobs;
use super::keeper::Keeper;
use super::proofs::Proofs;
use super::shelf::Shelf;
use masstone::measure::output::OutputError;
use masstone::measure::partial::{self, Resumed};
use masstone::measure::{Job, Measured, Refusal};
use masstone::record::{PanelEntry, PhotoRecord};

/// A photo measured, and whether its proof was written; or why it was not measured.
pub(super) type Outcome = Result<(Measured, Result<(), OutputError>), Refusal>;

/// Photos that are done, and what keeps them.
pub(super) struct Finished {
    pub(super) keeper: Keeper,
    pub(super) shelf: Option<Shelf>,
    pub(super) progress: Progress,
    /// Their records, in any order.
    pub(super) done: Vec<PhotoRecord>,
    /// How many were refused.
    pub(super) refused: usize,
    /// How often a proof could not be written.
    pub(super) troubles: usize,
}

impl Finished {
    /// None yet; says what was found amiss before.
    pub(super) fn new(jobs: &Jobs, keeper: Keeper, shelf: Option<Shelf>) -> Self {
        let progress = Progress::new(jobs.jobs.len() + jobs.refused.len());
        for note in &jobs.notes {
            progress.note(note);
        }
        for refusal in &jobs.refused {
            progress.refused(refusal);
        }
        Self {
            keeper,
            shelf,
            progress,
            done: Vec::new(),
            refused: jobs.refused.len(),
            troubles: 0,
        }
    }

    /// Takes what earlier runs finished, from beside OUT or from the library; the jobs that are left.
    pub(super) fn resume(
        &mut self,
        mut jobs: Vec<Job>,
        panel: &PanelEntry,
        proofs: Option<&Proofs>,
    ) -> Result<Vec<Job>, Failure> {
        let shelf = self.shelf.as_ref();
        // Without the pictures that are wanted now, a photo is not done.
        let is_whole = |it: &PhotoRecord| -> Result<bool, Failure> {
            Ok(proofs.is_none_or(|proofs| proofs.has(&it.photo))
                && shelf.map_or(Ok(true), |shelf| shelf.has_crops(it))?)
        };
        let kept = self.keeper.resume(&mut jobs, panel, is_whole)?;
        let there = match shelf {
            Some(shelf) => {
                let resumed = partial::resume(shelf.finished(&jobs)?, &jobs, panel);
                take_done(resumed, &mut jobs, is_whole)?.done
            }
            None => Vec::new(),
        };
        self.say_resumed(kept.len(), "going on after an earlier run", "done already");
        self.say_resumed(there.len(), "in the library already", "not measured again");
        self.shelve(kept)?;
        self.shelve(there)?;
        Ok(jobs)
    }

    /// The photos of the board before any sun: of this run, and for a series those that the library has, too.
    pub(super) fn start(
        &self,
        panel: &PanelEntry,
        is_series: bool,
    ) -> Result<Vec<PhotoRecord>, Failure> {
        let here = self
            .done
            .iter()
            .filter(|it| it.photo.stated_dose().is_start());
        let mut start: Vec<PhotoRecord> = here.cloned().collect();
        if let Some(shelf) = self.shelf.as_ref().filter(|_| is_series) {
            let there = shelf.photos_of(&panel.id)?.into_iter();
            start.extend(there.filter(|it| it.photo.panel.same_board(panel)));
        }
        Ok(start)
    }

    fn say_resumed(&self, n: usize, where_from: &str, what: &str) {
        if n > 0 {
            self.progress
                .note(&format!("{where_from}: {} {what}", count(n, "photo")));
            self.progress.skip(n);
        }
    }

    /// What an earlier run finished may have missed the library: the same again changes nothing there.
    fn shelve(&mut self, records: Vec<PhotoRecord>) -> Result<(), Failure> {
        if let Some(shelf) = &mut self.shelf {
            for record in &records {
                shelf.add(record, &[])?;
            }
        }
        self.done.extend(records);
        Ok(())
    }

    /// Keeps a photo, or says why there is none.
    pub(super) fn take(&mut self, outcome: Outcome) -> Result<(), Failure> {
        match outcome {
            Ok((Measured { record, crops, .. }, proof)) => {
                self.keeper.append(&record)?;
                self.progress.measured(&record);
                if let Some(shelf) = &mut self.shelf {
                    shelf.add(&record, &crops)?;
                }
                if let Err(error) = proof {
                    self.troubles += 1;
                    self.progress.trouble(
                        &chain(&error),
                        "The photo's readings are kept. Run the command again to write its proof.",
                    );
                }
                self.done.push(record);
            }
            Err(refusal) => {
                self.refused += 1;
                self.progress.refused(&refusal);
            }
        }
        Ok(())
    }

    /// Sets aside what an earlier run left beside OUT and nothing here wants.
    pub(super) fn tidy(&mut self) -> Result<(), Failure> {
        for note in self.keeper.tidy(&self.done)? {
            self.progress.note(&note);
        }
        Ok(())
    }

    /// Adds to a failure where the finished photos are.
    pub(super) fn explain(self, failure: Failure) -> Failure {
        self.progress.finish();
        self.keeper.explain(failure)
    }
}

/// What of an earlier run's photos serves, and what does not.
pub(super) struct Taken {
    /// Done, as far as this run wants.
    pub(super) done: Vec<PhotoRecord>,
    /// Done but for pictures that are wanted now: to be measured again.
    pub(super) bare: Vec<PhotoRecord>,
    /// For other photos, or measured otherwise.
    pub(super) unused: Vec<PhotoRecord>,
}

/// Takes the jobs that are done out of those that are to be done.
pub(super) fn take_done(
    resumed: Resumed,
    jobs: &mut Vec<Job>,
    is_whole: impl Fn(&PhotoRecord) -> Result<bool, Failure>,
) -> Result<Taken, Failure> {
    let mut taken = Taken {
        done: Vec::new(),
        bare: Vec::new(),
        unused: resumed.unused,
    };
    let mut left: Vec<Option<Job>> = std::mem::take(jobs).into_iter().map(Some).collect();
    for (index, record) in resumed.done {
        if is_whole(&record)? {
            left[index] = None;
            taken.done.push(record);
        } else {
            taken.bare.push(record);
        }
    }
    jobs.extend(left.into_iter().flatten());
    Ok(taken)
}
