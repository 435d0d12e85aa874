//! How good it is, as a table from a fresh run: `cargo bench --bench accuracy -- [PHOTOS] [RENDERS] [LONG_SIDE]`.
//!
//! `PHOTOS` (default 60) simulated photos with the whole camera, `LONG_SIDE` (default 3264, 8 megapixels) pixels long, are written as
//! JPEG files and measured from the file to the record; `RENDERS` (default 2000) small renders are only located. Everything is judged
//! against the simulator's truth, patches by place. Rows that miss what is to be reached say so.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a command that prints its table"
)]

#[path = "../tests/endtoend/mod.rs"]
mod endtoend;
#[path = "../tests/scenes/mod.rs"]
mod scenes;

use endtoend::{Shot, errors, job, judge, mean, measure, repeatability, shoot, without_u95};
use masstone::correct::{self, Tone, correct};
use masstone::locate::{self, locate};
use masstone::measure::{self, Job};
use masstone::photo::{self, Photo};
use masstone::reference::references;
use masstone::sample::sample;
use masstone_simulator::{FileKind, Mixture, Pixels, Rendered, SceneSpec, Split};
use rayon::prelude::*;
use std::fs;
use std::hint::black_box;
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use zune_core::bytestream::ZCursor;
use zune_core::options::DecoderOptions;

/// Seeds of the scenes, apart from those of the tests and of other benches.
const ORDINARY: u64 = 9_000_000;
const SMALL: u64 = 9_100_000;
const FLAWLESS: u64 = 9_200_000;
const AGAIN: u64 = 9_300_000;

/// Shots of one set-up.
const SHOTS: u64 = 20;
/// Photos of a batch.
const BATCH: usize = 20;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u32| numbers.get(i).copied().unwrap_or(default);
    let (photos, renders, long_side) = (number(0, 60), number(1, 2000), number(2, 3264));
    let start = Instant::now();
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut table = Table::default();
    // The costs first: nothing else runs then.
    costs(&mut table, folder);
    let shots = ordinary(&mut table, folder, photos, long_side);
    batch(&mut table, &shots);
    location(&mut table, renders);
    flawless(&mut table, folder, photos.div_ceil(4), long_side);
    again(&mut table, folder, long_side);
    table.print();
    println!(
        "{photos} photos, {renders} small renders; {:.0} s in all",
        start.elapsed().as_secs_f64()
    );
}

/// What was measured against what is to be reached.
#[derive(Default)]
struct Table {
    rows: Vec<(String, String, String, bool)>,
    /// Readings with a colour, and those of them without U95.
    readings: usize,
    without: usize,
}

impl Table {
    fn row(&mut self, what: &str, goal: &str, found: String, reached: bool) {
        println!("  {what}: {found}{}", missed(reached));
        self.rows.push((what.into(), goal.into(), found, reached));
    }

    fn count(&mut self, record: &masstone::record::PhotoRecord) {
        self.readings += record
            .readings
            .iter()
            .filter(|it| it.lab().is_some())
            .count();
        self.without += without_u95(record);
    }

    fn print(&mut self) {
        let (readings, without) = (self.readings, self.without);
        self.row(
            "every reading carries a U95",
            "all",
            format!("{} of {readings} readings", readings - without),
            readings > 0 && without == 0,
        );
        println!("\n| what | to reach | measured |\n|---|---|---|");
        for (what, goal, found, reached) in &self.rows {
            println!("| {what} | {goal} | {found}{} |", missed(*reached));
        }
        let misses = self.rows.iter().filter(|it| !it.3).count();
        println!(
            "\n{misses} of {} rows miss what is to be reached.",
            self.rows.len()
        );
    }
}

fn missed(reached: bool) -> &'static str {
    if reached { "" } else { " **MISSED**" }
}

/// Photos from the file to the record, by place.
fn ordinary(table: &mut Table, folder: &Path, photos: u32, long_side: u32) -> Vec<Shot> {
    let done: Vec<_> = (0..u64::from(photos))
        .into_par_iter()
        .map(|i| {
            let spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, ORDINARY + i);
            let shot = shoot(&spec, long_side, &folder.join(format!("ordinary-{i}")));
            let result = measure(&shot, Tone::Auto);
            (shot, result)
        })
        .collect();
    let (mut right, mut refused, mut wrong, mut patches) = (0, 0, 0, 0);
    for (i, (shot, result)) in done.iter().enumerate() {
        match result {
            Err(refusal) => {
                refused += 1;
                println!("  ordinary {i} refused: {}", refusal.reason);
            }
            Ok(record) => {
                table.count(record);
                match judge(record, &shot.truth) {
                    Ok(count) => {
                        right += 1;
                        patches += count;
                    }
                    Err(why) => {
                        wrong += 1;
                        println!("  ordinary {i} WRONG: {why}");
                    }
                }
            }
        }
    }
    table.row(
        "ordinary simulated photos: patches found and rightly named, by place",
        "100 %, none wrongly named",
        format!("{right} of {photos} photos ({patches} readings) right, {refused} refused, {wrong} wrong"),
        right == photos && photos >= 60,
    );
    done.into_iter().map(|it| it.0).collect()
}

/// Location alone on small renders.
fn location(table: &mut Table, renders: u32) {
    let outcomes: Vec<scenes::Outcome> = (0..u64::from(renders))
        .into_par_iter()
        .filter_map(|i| {
            let spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, SMALL + i);
            let scene = spec.build();
            let picture = scene.render_small(800);
            let panel = scenes::panel_of(&scene)?;
            let outcome = scenes::judge(
                scenes::locate_linear(
                    &scenes::linear(&picture),
                    picture.truth.spec.tag.unwrap_or(1),
                    &panel,
                ),
                &panel,
                &picture.truth,
            );
            Some(outcome)
        })
        .collect();
    let count =
        |which: fn(&scenes::Outcome) -> bool| outcomes.iter().filter(|it| which(it)).count();
    let wrong = count(|it| matches!(it, scenes::Outcome::Wrong(_)));
    let refused = count(|it| matches!(it, scenes::Outcome::Refused(_)));
    for (i, it) in outcomes.iter().enumerate() {
        if let scenes::Outcome::Wrong(why) = it {
            println!("  render {i} WRONG: {why}");
        }
    }
    table.row(
        "location alone, small renders",
        "0 wrongly named in at least 2,000; refusals counted",
        format!("{wrong} wrong, {refused} refused of {renders}"),
        wrong == 0 && renders >= 2000,
    );
}

/// No flaws: what the program itself adds.
fn flawless(table: &mut Table, folder: &Path, photos: u32, long_side: u32) {
    let done: Vec<_> = (0..u64::from(photos))
        .into_par_iter()
        .map(|i| {
            let spec = SceneSpec::draw(Mixture::Flawless, Split::Test, FLAWLESS + i);
            let shot = shoot(&spec, long_side, &folder.join(format!("flawless-{i}")));
            let result = measure(&shot, Tone::None);
            (shot, result)
        })
        .collect();
    let (mut all, mut refused) = (Vec::new(), 0);
    for (i, (shot, result)) in done.iter().enumerate() {
        match result {
            Ok(record) => {
                table.count(record);
                all.extend(errors(record, &shot.truth));
            }
            Err(refusal) => {
                refused += 1;
                println!("  flawless {i} refused: {}", refusal.reason);
            }
        }
    }
    let part = |f: fn(&(f64, f64)) -> f64| mean(&all.iter().map(f).collect::<Vec<_>>());
    let beyond = part(|it| it.0 - it.1);
    table.row(
        "no flaws, `--tone none`: mean over readings of ΔE00(reading, truth) − ΔE00(what the camera itself would give with its grey, truth)",
        "≤ 0.2",
        format!(
            "{beyond:.3} (to truth {:.3}, the camera's own {:.3}; {} readings of {photos} photos, {refused} refused)",
            part(|it| it.0),
            part(|it| it.1),
            all.len()
        ),
        beyond <= 0.2,
    );
}

/// The same panel again and again in one set-up.
fn again(table: &mut Table, folder: &Path, long_side: u32) {
    let panel = SceneSpec::draw(Mixture::Ordinary, Split::Test, AGAIN);
    let done: Vec<_> = (0..SHOTS)
        .into_par_iter()
        .map(|i| {
            let shot = shoot(
                &panel.reshoot(i),
                long_side,
                &folder.join(format!("again-{i}")),
            );
            let result = measure(&shot, Tone::Auto);
            (shot, result)
        })
        .collect();
    let records: Vec<_> = done
        .iter()
        .filter_map(|it| it.1.as_ref().ok().cloned())
        .collect();
    for it in &records {
        table.count(it);
    }
    let found = repeatability(&records, &done[0].0.truth);
    table.row(
        "the same panel shot 20 times in one set-up: mean ΔE00 from the mean",
        "≤ 0.25",
        format!("{found:.3} over {} of {SHOTS} shots", records.len()),
        found <= 0.25 && records.len() as u64 == SHOTS,
    );
}

/// A batch on one and on two threads, in turn.
fn batch(table: &mut Table, shots: &[Shot]) {
    let shots = &shots[..BATCH.min(shots.len())];
    let jobs: Vec<Job> = shots.iter().map(|it| job(&it.path, Tone::Auto)).collect();
    let run = |threads: usize| {
        let start = Instant::now();
        let done: Result<(), anyhow::Error> = measure::batch::run(
            &jobs,
            NonZeroUsize::new(threads).unwrap(),
            |job| {
                let shot = shots.iter().find(|it| it.path == job.path).unwrap();
                // A refusal takes its time too.
                Ok(black_box(measure::photo(job, &shot.panel, false).is_ok()))
            },
            |_, _| Ok(()),
        );
        done.unwrap();
        start.elapsed().as_secs_f64()
    };
    let (mut one, mut two) = (Vec::new(), Vec::new());
    for _ in 0..3 {
        one.push(run(1));
        two.push(run(2));
    }
    let (one, two) = (median(&mut one), median(&mut two));
    table.row(
        "2 threads over 1, batch of 20",
        "≥ 1.8",
        format!("{:.2} ({one:.2} s, {two:.2} s)", one / two),
        one / two >= 1.8 && jobs.len() == BATCH,
    );
}

/// Time and memory of one 12 megapixel photo, and memory of four times as many.
fn costs(table: &mut Table, folder: &Path) {
    let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, ORDINARY);
    spec.camera.progressive = false;
    let shot = shoot(&spec, 4032, &folder.join("costs"));
    time(table, &shot);
    let scene = spec.build();
    let mut rendered = {
        let [width, height] = scene.stored_size(4032);
        scene.render(width, height)
    };
    memory(table, &shot.path, "12 megapixel baseline JPEG", 160.0);
    double(&mut rendered);
    for (progressive, kind) in [(false, "baseline"), (true, "progressive")] {
        rendered.truth.spec.camera.progressive = progressive;
        let path = folder.join("costs").join(format!("48-{kind}.jpg"));
        fs::write(&path, rendered.encode(FileKind::Jpeg).unwrap()).unwrap();
        memory(table, &path, &format!("48 megapixel {kind} JPEG"), 450.0);
    }
}

/// Each pixel becomes two by two.
fn double(picture: &mut Rendered) {
    let Pixels::U8(codes) = &picture.pixels else {
        return;
    };
    let row = usize::try_from(picture.width).unwrap() * 3;
    let mut twice = Vec::with_capacity(codes.len() * 4);
    for line in codes.chunks_exact(row) {
        let wide: Vec<u8> = line
            .chunks_exact(3)
            .flat_map(|it| [it[0], it[1], it[2], it[0], it[1], it[2]])
            .collect();
        twice.extend_from_slice(&wide);
        twice.extend_from_slice(&wide);
    }
    picture.pixels = Pixels::U8(twice);
    picture.width *= 2;
    picture.height *= 2;
}

/// All of `measure` over its decoder alone, in turn, on one thread.
fn time(table: &mut Table, shot: &Shot) {
    let bytes = fs::read(&shot.path).unwrap();
    let decode = || {
        // As the program sets it.
        let options = DecoderOptions::new_fast()
            .set_strict_mode(true)
            .set_max_width(65_535)
            .set_max_height(65_535);
        let decoded =
            zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(&bytes), options).decode();
        black_box(decoded.unwrap());
    };
    let job = job(&shot.path, Tone::Auto);
    let whole = || black_box(measure::photo(&job, &shot.panel, false).is_ok());
    let one = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let (mut alone, mut all) = (Vec::new(), Vec::new());
    let measured = one.install(|| {
        let mut measured = true;
        for _ in 0..15 {
            alone.push(seconds(decode));
            all.push(seconds(|| measured &= whole()));
        }
        measured
    });
    let (alone, all) = (median(&mut alone), median(&mut all));
    table.row(
        "12 megapixel baseline JPEG, one thread, no proof: whole `measure` ÷ decoding alone",
        "≤ 2.5, aim at 1.5",
        format!(
            "{:.2} ({:.0} ms, {:.0} ms)",
            all / alone,
            all * 1e3,
            alone * 1e3
        ),
        measured && all / alone <= 2.5,
    );
    if measured {
        one.install(|| stages(shot));
    }
}

/// Where the time goes, stage by stage: medians of five runs.
fn stages(shot: &Shot) {
    let times: Vec<[f64; 4]> = (0..5)
        .map(|_| {
            let mut times = [0.0; 4];
            let mut timed =
                |stage: usize, since: Instant| times[stage] = since.elapsed().as_secs_f64();
            let start = Instant::now();
            let photo = Photo::open(&shot.path, &photo::Options::default()).unwrap();
            timed(0, start);
            let start = Instant::now();
            let located = locate(&photo, &shot.panel, &locate::Options::default()).unwrap();
            timed(1, start);
            let start = Instant::now();
            let samples = sample(&photo, &shot.panel, &located);
            timed(2, start);
            let start = Instant::now();
            let known = references(&shot.panel, &samples);
            black_box(correct(&samples, &known, &correct::Options { tone: Tone::Auto }).is_ok());
            timed(3, start);
            times
        })
        .collect();
    for (stage, name) in ["open", "locate", "sample", "correct"].iter().enumerate() {
        let mut values: Vec<f64> = times.iter().map(|it| it[stage]).collect();
        println!("    {name}: {:.0} ms", median(&mut values) * 1e3);
    }
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Peak resident memory of the program on one photo, as Linux tells it while it runs: of the program's own memory map, whatever this
/// process holds.
fn memory(table: &mut Table, photo: &Path, what: &str, most_mib: f64) {
    let panel = photo.parent().unwrap().join("panel.toml");
    let mut child = Command::new(env!("CARGO_BIN_EXE_masstone"))
        .arg("measure")
        .args(["--threads", "1", "--panel"])
        .arg(panel)
        .arg("--out")
        .arg("-")
        .arg(photo)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0.0_f64;
    let exit = loop {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|it| it.strip_prefix("VmHWM:"));
        let kib = line.and_then(|it| it.split_whitespace().next()?.parse::<f64>().ok());
        // The peak only grows; before the program has replaced this process's image, the figure is this process's.
        if text.starts_with("Name:\tmasstone") {
            peak = peak.max(kib.unwrap_or(0.0) / 1024.0);
        }
        if let Some(exit) = child.try_wait().unwrap() {
            break exit;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    table.row(
        &format!("peak memory, {what}"),
        &format!("≤ {most_mib:.0} MiB"),
        format!(
            "{peak:.0} MiB{}",
            if exit.success() { "" } else { " (refused)" }
        ),
        exit.success() && peak > 0.0 && peak <= most_mib,
    );
}
