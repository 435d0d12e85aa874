//! `masstone measure`: photos in, readings out.

mod aids;
mod args;
pub(super) mod corners;
mod jobs;
mod keeper;
mod proofs;
mod shelf;

pub(super) use aids::open_blank;
pub(super) use args::{Args, ToneArg, hours};
pub(super) use corners::SUFFIX as CORNERS_SUFFIX;

use super::failure::{Exit, Failure, chain, say};
use super::progress::{Progress, assumed_tone, count};
use super::{photos, stdout, table};
use args::{Destination, Plan};
use jobs::Jobs;
use keeper::Keeper;
use masstone::flag::Flag;
use masstone::measure::output::OutputError;
use masstone::measure::{self, Aids, Job, Measured, Pictures, Refusal, batch};
use masstone::panel::{self, Panel};
use masstone::record::{PanelEntry, Record};
use proofs::Proofs;
use shelf::Shelf;

/// Runs the command: a checked plan, then the panel, the photos, the places for the output, and only then the work.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let mut plan = Plan::new(args)?;
    // The message of a panel holds its hints, each beside its place.
    let panel = panel::read(&plan.panel).map_err(|it| Failure::usage(it, ""))?;
    let aids = aids::open(&mut plan)?;
    let jobs = Jobs::new(photos::expand(&plan.photos), &plan)?;
    let proofs = plan.proof.as_deref().map(Proofs::open).transpose()?;
    let keeper = Keeper::open(&plan.destination)?;
    let shelf = plan.library.as_deref().map(Shelf::open).transpose()?;
    work(&plan, &panel, &aids, jobs, proofs.as_ref(), keeper, shelf)
}

/// Measures what an earlier run did not, keeps each photo as it is done, and writes them all.
fn work(
    plan: &Plan,
    panel: &Panel,
    aids: &Aids,
    jobs: Jobs,
    proofs: Option<&Proofs>,
    mut keeper: Keeper,
    mut shelf: Option<Shelf>,
) -> Result<Exit, Failure> {
    let (mut done, todo) = keeper.resume(jobs.jobs, &PanelEntry::from(panel), proofs)?;
    let progress = Progress::new(todo.len() + jobs.refused.len());
    for note in jobs.notes.iter().chain(keeper.notes()) {
        progress.note(note);
    }
    let (mut refused, mut troubles) = (0, 0);
    for refusal in &jobs.refused {
        refused += 1;
        progress.refused(refusal);
    }
    if let Some(shelf) = &mut shelf {
        // What an earlier run finished may have missed the library: the same again changes nothing.
        for record in &done {
            shelf.add(record, &[])?;
        }
    }
    let pictures = Pictures {
        proof: proofs.is_some(),
        crops: plan.crops,
    };
    let batch = batch::run(
        &todo,
        plan.threads,
        |job| one(job, panel, aids, pictures, proofs),
        |_, result| {
            match result {
                Ok((Measured { record, crops, .. }, proof)) => {
                    keeper.append(&record)?;
                    progress.measured(&record);
                    if let Some(shelf) = &mut shelf {
                        shelf.add(&record, &crops)?;
                    }
                    if let Err(error) = proof {
                        troubles += 1;
                        progress.trouble(&chain(&error), "The photo's readings are kept. Run the command again to write its proof.");
                    }
                    done.push(record);
                }
                Err(refusal) => {
                    refused += 1;
                    progress.refused(&refusal);
                }
            }
            Ok::<_, Failure>(())
        },
    );
    progress.finish();
    if let Err(failure) = batch {
        return Err(keeper.explain(failure));
    }
    let record = Record::new(done);
    let place = keeper.write(&record, &plan.destination)?;
    if let Some(note) = assumed_tone(&record.photos) {
        say(&note);
    }
    say(&summary(&record, refused, &place));
    let shelved = shelf.map_or(Exit::Done, |it| it.tell());
    Ok(if refused + troubles == 0 && shelved == Exit::Done {
        Exit::Done
    } else {
        Exit::Short
    })
}

/// Measures one photo and writes its proof while the pixels are there.
fn one(
    job: &Job,
    panel: &Panel,
    aids: &Aids,
    pictures: Pictures,
    proofs: Option<&Proofs>,
) -> Result<(Measured, Result<(), OutputError>), Refusal> {
    let mut measured = measure::photo_with(job, panel, aids, pictures)?;
    let proof = match (proofs, measured.proof.take()) {
        (Some(proofs), Some(picture)) => proofs.write(&measured.record.photo, &picture),
        _ => Ok(()),
    };
    Ok((measured, proof))
}

/// The closing line.
fn summary(record: &Record, refused: usize, place: &str) -> String {
    let flagged = record
        .readings
        .iter()
        .filter(|it| !it.flags.is_empty())
        .count();
    let unmeasurable = record
        .readings
        .iter()
        .filter(|it| it.has(Flag::Unmeasurable))
        .count();
    format!(
        "{} measured ({}), {refused} refused, {} flagged, {unmeasurable} unmeasurable{place}",
        count(record.photos.len(), "photo"),
        count(record.readings.len(), "reading"),
        count(flagged, "reading"),
    )
}

/// Writes the readings to where they were asked for, other than a file.
fn print(record: &Record, destination: &Destination) -> Result<(), Failure> {
    match destination {
        Destination::Table => {
            stdout::write(|out| table::write(record, table::Terminal::of_stdout(), out))
        }
        Destination::Stdout(format) | Destination::File(_, format) => {
            stdout::write(|out| format.write(record, out))
        }
    }
}
