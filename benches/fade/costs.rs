//! The row on time: a whole series over decoding its photos alone.

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

/// Measures a series of 12 megapixel photos from the files to the report, and decodes the same files, in turn.
pub(crate) fn row(table: &mut Table, folder: &Path, split: Split, seed: u64) {
    let what =
        "6 exposures × 4 photos of 12 megapixels, 2 threads: files to report ÷ decoding alone";
    let mut series = Series::draw(split, seed, Fault::None, EXPOSURES - 1, PHOTOS);
    series.photos.fill(PHOTOS);
    let Some(panel) = panel_of(&series, folder) else {
        return table.row(what, "≤ 2.5", "the panel contradicts itself".into(), false);
    };
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
    let median = |it: &mut Vec<f64>| {
        it.sort_by(f64::total_cmp);
        it[it.len() / 2]
    };
    let (alone, all) = (median(&mut alone), median(&mut all));
    table.row(
        what,
        "≤ 2.5",
        format!(
            "{:.2} ({all:.1} s, {alone:.1} s; {measured} of {} measured)",
            all / alone,
            files.len()
        ),
        all / alone <= 2.5 && measured == files.len(),
    );
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
