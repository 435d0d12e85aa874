//! Time and memory of the whole way.

use super::Table;
use super::endtoend::{Shot, job, shoot};
use masstone::correct::{self, Tone, correct};
use masstone::locate::{self, locate};
use masstone::measure::{self, Aids, Job, Pictures};
use masstone::photo::{self, Photo};
use masstone::reference::references;
use masstone::sample::sample;
use masstone_simulator::{FileKind, Mixture, Pixels, Rendered, SceneSpec, Split};
use std::fs;
use std::hint::black_box;
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use zune_core::bytestream::ZCursor;
use zune_core::options::DecoderOptions;

/// Photos of a batch.
pub(crate) const BATCH: usize = 20;

/// A batch on one and on two threads, in turn.
pub(crate) fn batch(table: &mut Table, shots: &[Shot]) {
    let shots = &shots[..BATCH.min(shots.len())];
    let jobs: Vec<Job> = shots.iter().map(|it| job(&it.path, Tone::Auto)).collect();
    let run = |threads: usize| {
        let start = Instant::now();
        let aids = Aids::default();
        let done: Result<(), anyhow::Error> = measure::batch::run(
            &jobs,
            NonZeroUsize::new(threads).unwrap(),
            |job| {
                let shot = shots.iter().find(|it| it.path == job.path).unwrap();
                // A refusal takes its time too.
                let measured = measure::photo_with(job, &shot.panel, &aids, Pictures::default());
                Ok(black_box(measured.is_ok()))
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
    table.row_of(
        "2 threads over 1, batch of 20",
        "≥ 1.8",
        format!("{:.2} ({one:.2} s, {two:.2} s)", one / two),
        one / two >= 1.8,
        jobs.len() == BATCH,
    );
}

/// Time and memory of one 12 megapixel photo, and memory of four times as many.
pub(crate) fn costs(table: &mut Table, folder: &Path, seed: u64) {
    let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, seed);
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
