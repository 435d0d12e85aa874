//! The row on time: whole series over decoding their photos alone.

use super::board::{panel_of, write};
use super::run;
use super::table::Table;
use masstone::measure::{Aids, Job, Refusal, batch};
use masstone::panel::Panel;
use masstone::record::PhotoRecord;
use masstone_simulator::{Fault, Series, Split};
use std::hint::black_box;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::time::Instant;
use zune_core::bytestream::ZCursor;
use zune_core::options::DecoderOptions;

/// Exposures, hour 0 among them, and photos of each.
const EXPOSURES: usize = 6;
const PHOTOS: u64 = 4;
const LONG_SIDE: u32 = 4032;
const THREADS: usize = 2;
/// Times that each is done, in turn: the median of three differed by up to a fifth from run to run of the same program.
const ROUNDS: usize = 7;

/// What one series took, seconds.
struct Took {
    /// From its files to the report, and decoding them alone.
    all: f64,
    alone: f64,
    /// Photos that were measured, and how many there are.
    measured: usize,
    of: usize,
}

/// Measures a series of 12 megapixel photos of each board from the files to the report, and decodes the same files, in turn.
///
/// The row is all boards' time over all their decoding; what each takes is printed, since it depends on what is on the board and around it.
pub(crate) fn row(table: &mut Table, folder: &Path, split: Split, first: u64, boards: u64) {
    let what =
        "6 exposures × 4 photos of 12 megapixels, 2 threads: files to report ÷ decoding alone";
    let mut took: Vec<Took> = Vec::new();
    for seed in first..first + boards {
        // One board's photos at a time: each series is some hundred megabytes.
        let folder = folder.join(seed.to_string());
        let Some(it) = of_board(&folder, split, seed) else {
            println!("   {seed}: the panel contradicts itself");
            continue;
        };
        let (all, alone) = (it.all, it.alone);
        println!("   {seed}: {:.2} ({all:.2} s, {alone:.2} s)", all / alone);
        std::fs::remove_dir_all(&folder).expect("the bench's own folder");
        took.push(it);
    }
    let sum = |part: fn(&Took) -> f64| took.iter().map(part).sum::<f64>();
    let ratio = sum(|it| it.all) / sum(|it| it.alone);
    let dearest = (took.iter().map(|it| it.all / it.alone)).fold(0.0, f64::max);
    let (measured, of) = (took.iter()).fold((0, 0), |(n, m), it| (n + it.measured, m + it.of));
    table.row(
        what,
        "≤ 2.5",
        format!(
            "{ratio:.2} over {} boards, {dearest:.2} on the dearest; {measured} of {of} measured",
            took.len()
        ),
        ratio <= 2.5 && measured == of && of > 0,
    );
}

/// The medians of one board's times; none if its panel file contradicts itself.
fn of_board(folder: &Path, split: Split, seed: u64) -> Option<Took> {
    let mut series = Series::draw(split, seed, Fault::None, EXPOSURES - 1, PHOTOS);
    series.photos.fill(PHOTOS);
    let panel = panel_of(&series, folder)?;
    let mut jobs: Vec<Vec<(PathBuf, f64)>> = Vec::new();
    for (exposure, dose) in series.doses.iter().enumerate() {
        let shots = series.shots(exposure);
        let written = shots.into_iter().enumerate().map(|(i, mut spec)| {
            spec.camera.progressive = false;
            let path = folder.join(format!("{exposure}-{i}.jpg"));
            write(&spec, LONG_SIDE, &path);
            (path, *dose)
        });
        jobs.push(written.collect());
    }
    let files: Vec<Vec<u8>> = jobs
        .iter()
        .flatten()
        .map(|it| std::fs::read(&it.0).expect("the bench's own file"))
        .collect();
    let (mut alone, mut all) = (Vec::new(), Vec::new());
    let mut measured = 0;
    for _ in 0..ROUNDS {
        let start = Instant::now();
        decode(&files);
        alone.push(start.elapsed().as_secs_f64());
        let start = Instant::now();
        measured = whole(&jobs, &panel);
        all.push(start.elapsed().as_secs_f64());
    }
    let median = |mut it: Vec<f64>| {
        it.sort_by(f64::total_cmp);
        it[it.len() / 2]
    };
    Some(Took {
        all: median(all),
        alone: median(alone),
        measured,
        of: files.len(),
    })
}

/// Hour 0, then all later photos with its masked halves, then the report; gives how many were measured.
fn whole(jobs: &[Vec<(PathBuf, f64)>], panel: &Panel) -> usize {
    let (start, later) = jobs.split_at(1);
    let mut aids = Aids::default();
    let mut records = measured(&start.concat(), panel, &aids);
    aids.masked = run::masked_of(&records);
    records.extend(measured(&later.concat(), panel, &aids));
    black_box(run::assess(&records).is_ok());
    records.len()
}

fn measured(jobs: &[(PathBuf, f64)], panel: &Panel, aids: &Aids) -> Vec<PhotoRecord> {
    let mut records = Vec::new();
    in_parallel(
        jobs.iter().map(|it| it.0.clone()),
        |index| run::measure(&jobs[index].0, jobs[index].1, panel, aids),
        |it| records.extend(it),
    );
    records
}

/// As the program sets its decoder.
fn decode(files: &[Vec<u8>]) {
    in_parallel(
        (0..files.len()).map(|it| PathBuf::from(it.to_string())),
        |index| {
            let options = DecoderOptions::new_fast()
                .set_strict_mode(true)
                .set_max_width(65_535)
                .set_max_height(65_535);
            let mut decoder =
                zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(&files[index]), options);
            Ok(black_box(
                decoder.decode().map_err(|it| it.to_string())?.len(),
            ))
        },
        |it| assert!(it.is_ok(), "the bench's own file: {it:?}"),
    );
}

/// Hands the files to threads as the program does.
fn in_parallel<T: Send>(
    paths: impl Iterator<Item = PathBuf>,
    work: impl Fn(usize) -> Result<T, String> + Sync,
    mut each: impl FnMut(Result<T, String>),
) {
    let jobs: Vec<Job> = paths
        .map(|it| super::endtoend::job(&it, masstone::correct::Tone::Auto))
        .collect();
    let done: Result<(), anyhow::Error> = batch::run(
        &jobs,
        NonZeroUsize::new(THREADS).expect("two"),
        |job| {
            let index = jobs.iter().position(|it| it.path == job.path);
            work(index.expect("one of the jobs")).map_err(|reason| Refusal {
                path: job.path.clone(),
                reason,
                hint: String::new(),
            })
        },
        |_, it| {
            each(it.map_err(|it| it.reason));
            Ok(())
        },
    );
    done.expect("threads can be had");
}
