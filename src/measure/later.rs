//! What photos of an exposed board are measured with.

use super::{Aids, Job, Masked};
use crate::record::PhotoRecord;

/// Aids and jobs of photos after dose 0, given the records of all photos of dose 0 that were measured, in any order: what the board's masked
/// halves were then are references now, and what the patches were whose ids are among `indoors`. Each job's settings say so.
///
/// This is the one place where what is known of the board before any exposure reaches later photos. Without such records aids and jobs come back as
/// they are, and later photos are corrected by their cards alone.
#[must_use]
pub fn later(
    aids: Aids,
    mut jobs: Vec<Job>,
    start: &[PhotoRecord],
    indoors: &[String],
) -> (Aids, Vec<Job>) {
    let masked = Masked::of(start, indoors);
    let digest = masked.as_ref().map(|it| it.digest().to_owned());
    // Of a dose that nobody stated the board may be fresh: its masked halves are as they were all the same.
    for job in &mut jobs {
        job.settings.masked.clone_from(&digest);
    }
    (Aids { masked, ..aids }, jobs)
}
