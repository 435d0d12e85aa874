//! `masstone measure`: photos in, readings out.

mod aids;
mod args;
pub(super) mod corners;
mod finished;
mod jobs;
mod keeper;
mod proofs;
mod shelf;
mod subject;

pub(super) use aids::open_blank;
pub(super) use args::{Args, ToneArg, hours};

use super::failure::{Exit, Failure, say};
use super::progress::{assumed_tone, count};
use super::{stdout, table};
use args::{Destination, Plan};
use finished::Finished;
use jobs::Jobs;
use keeper::Keeper;
use masstone::flag::Flag;
use masstone::measure::{self, Aids, Job, Pictures, batch};
use masstone::panel::Panel;
use masstone::record::{PanelEntry, Record};
use proofs::Proofs;
use shelf::Shelf;
use subject::Subject;

/// Runs the command: a checked plan, then the panel, the photos, the places for the output, and only then the work.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let mut plan = Plan::new(args)?;
    let subject = Subject::open(&plan.what)?;
    let aids = aids::open(&mut plan)?;
    let jobs = Jobs::new(&subject.shots, &plan)?;
    let proofs = plan.proof.as_deref().map(Proofs::open).transpose()?;
    let keeper = Keeper::open(&plan.destination)?;
    let shelf = (plan.library.as_deref())
        .map(|it| Shelf::open(it, plan.crops))
        .transpose()?;
    work(&plan, &subject, aids, jobs, proofs.as_ref(), keeper, shelf)
}

/// Measures what an earlier run did not, keeps each photo as it is done, and writes them all.
fn work(
    plan: &Plan,
    subject: &Subject,
    aids: Aids,
    jobs: Jobs,
    proofs: Option<&Proofs>,
    keeper: Keeper,
    shelf: Option<Shelf>,
) -> Result<Exit, Failure> {
    let bench = Bench {
        plan,
        panel: &subject.panel,
        is_series: subject.is_series(),
        indoors: subject.indoors(),
        proofs,
    };
    let mut finished = Finished::new(&jobs, keeper, shelf);
    if let Err(failure) = batches(bench, aids, jobs.jobs, &mut finished) {
        return Err(finished.explain(failure));
    }
    let Finished {
        keeper,
        shelf,
        progress,
        done,
        refused,
        troubles,
    } = finished;
    progress.finish();
    let record = Record::new(done);
    let place = keeper.write(&record, &plan.destination)?;
    if let Some(note) = assumed_tone(&record.photos) {
        say(&note);
    }
    subject.tell_missing(&record.photos);
    say(&summary(&record, refused, &place));
    let shelved = shelf.map_or(Exit::Done, Shelf::tell);
    Ok(if refused + troubles == 0 && shelved == Exit::Done {
        Exit::Done
    } else {
        Exit::Short
    })
}

/// Measures the photos of dose 0, and then all others with what those tell of the board.
fn batches(
    bench: Bench<'_>,
    aids: Aids,
    jobs: Vec<Job>,
    finished: &mut Finished,
) -> Result<(), Failure> {
    let (start, rest): (Vec<Job>, Vec<Job>) = jobs.into_iter().partition(|it| it.dose.is_start());
    let panel = PanelEntry::from(bench.panel);
    let todo = finished.resume(start, &panel, bench.proofs)?;
    bench.measure(&todo, &aids, finished)?;
    let (aids, rest) = measure::later(
        aids,
        rest,
        &finished.start(&panel, bench.is_series)?,
        bench.indoors,
    );
    let todo = finished.resume(rest, &panel, bench.proofs)?;
    finished.tidy()?;
    bench.measure(&todo, &aids, finished)
}

/// What photos are measured with.
#[derive(Clone, Copy)]
struct Bench<'a> {
    plan: &'a Plan,
    panel: &'a Panel,
    is_series: bool,
    /// Patches that never go outdoors.
    indoors: &'a [String],
    proofs: Option<&'a Proofs>,
}

impl Bench<'_> {
    /// Measures these photos, as many at once as there are threads.
    fn measure(self, jobs: &[Job], aids: &Aids, finished: &mut Finished) -> Result<(), Failure> {
        let pictures = Pictures {
            proof: self.proofs.is_some(),
            crops: self.plan.crops,
        };
        batch::run(
            jobs,
            self.plan.threads,
            |job| one(job, self.panel, aids, pictures, self.proofs),
            |_, result| finished.take(result),
        )
    }
}

/// Measures one photo and writes its proof while the pixels are there.
fn one(
    job: &Job,
    panel: &Panel,
    aids: &Aids,
    pictures: Pictures,
    proofs: Option<&Proofs>,
) -> finished::Outcome {
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
