//! How fast the library is: `cargo bench --bench library -- [swatches] [readings a swatch]`.
//!
//! Makes a library of 100,000 swatches with 1,000,000 readings (ten each: two halves in five photos, at five ages) from records drawn by a
//! generator whose template is the measured demo photo. Prints the time of `near`, `list` and adding, the file's size, and how an index
//! (R*Tree over Lab with an exact pass) compares with looking at every colour.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]
#![expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]

#[path = "library/index.rs"]
mod index;
#[path = "../tests/shelf/mod.rs"]
mod shelf;

use masstone::colour::{Lab, Matrix};
use masstone::library::Library;
use masstone::library::find::{Filter, Range, Sort};
use masstone::library::near::Target;
use masstone::measure::{self, Job};
use masstone::record::{Dose, PhotoRecord, Settings};
use shelf::Generator;
use std::path::Path;
use std::time::{Duration, Instant};

/// Patches of a panel: with two halves, 100 readings a photo.
const PATCHES: usize = 50;
/// Ages of the photos of a panel.
const HOURS: [f64; 5] = [0.0, 250.0, 500.0, 1000.0, 1500.0];
/// Photos in one transaction, as `library add` has it.
const TOGETHER: usize = 32;

fn main() {
    let numbers: Vec<usize> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let swatches = numbers.first().copied().unwrap_or(100_000);
    let panels = swatches.div_ceil(PATCHES);
    // Beside the build, not in memory: a file on a disk is what is measured.
    let folder =
        tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder for the library");
    let path = folder.path().join("swatches.sqlite");
    let mut library = Library::open_or_begin(&path).expect("a library");
    let mut generator = Generator::new(template(), 1);

    let start = Instant::now();
    for panel in 0..panels {
        let layout = generator.panel(panel * PATCHES, PATCHES);
        let photos: Vec<PhotoRecord> = HOURS
            .iter()
            .map(|it| generator.photo(&layout, *it))
            .collect();
        library.add(&photos).expect("photos go in");
    }
    println!(
        "made {} swatches with {} readings in {:.0} s",
        panels * PATCHES,
        panels * PATCHES * 2 * HOURS.len(),
        start.elapsed().as_secs_f64()
    );

    let mut layouts = Vec::new();
    for panel in 0..20 {
        layouts.push(generator.panel((panels + panel) * PATCHES, PATCHES));
    }
    let more: Vec<PhotoRecord> = layouts
        .iter()
        .flat_map(|layout| HOURS.map(|hours| (layout, hours)))
        .map(|(layout, hours)| generator.photo(layout, hours))
        .collect();
    let readings: usize = more.iter().map(|it| it.readings.len()).sum();
    let start = Instant::now();
    for part in more.chunks(TOGETHER) {
        library.add(part).expect("photos go in");
    }
    println!(
        "add {readings} readings of {} photos, {TOGETHER} a transaction, synced: {:.2} s (to reach: 2)",
        more.len(),
        start.elapsed().as_secs_f64()
    );
    let start = Instant::now();
    let report = library.add(&more[..TOGETHER]).expect("photos go in");
    println!(
        "the same {} photos again: {:.2} s",
        report.same,
        start.elapsed().as_secs_f64()
    );

    let size = std::fs::metadata(&path).map_or(0, |it| it.len());
    println!("file: {:.0} MB (to reach: 400)", size as f64 / 1e6);
    drop(library);
    let library = Library::open(&path).expect("it opens again");
    near(&library);
    list(&library);
    index::compare(&path);
    if std::env::args().any(|it| it == "check") {
        let start = Instant::now();
        let found = library.check().expect("it can be gone through");
        println!(
            "check: {} faults in {:.0} s",
            found.faults.len(),
            start.elapsed().as_secs_f64()
        );
    }
}

/// The demo photo as it is measured now.
fn template() -> PhotoRecord {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let panel = masstone::panel::read(&samples.join("larch-2026-03.toml")).expect("the demo panel");
    let job = Job {
        path: samples.join("larch-2026-03-0h.jpg"),
        dose: Dose::of_hours(Some(0.0)),
        exposure: None,
        settings: Settings {
            upright: false,
            linear: false,
            tone: masstone::correct::Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
    };
    measure::photo(&job, &panel, false)
        .expect("the demo photo")
        .record
}

/// The slowest and the middle one of some runs.
fn timed<T>(runs: usize, mut work: impl FnMut(usize) -> T) -> (Duration, Duration, T) {
    let mut times = Vec::new();
    let mut last = None;
    for run in 0..runs {
        let start = Instant::now();
        last = Some(work(run));
        times.push(start.elapsed());
    }
    times.sort_unstable();
    (
        times[times.len() / 2],
        times[times.len() - 1],
        last.expect("at least one run"),
    )
}

fn say(what: &str, (middle, slowest): (Duration, Duration), reach: &str) {
    let ms = |it: Duration| 1e3 * it.as_secs_f64();
    println!(
        "{what}: {:.1} ms, slowest {:.1} ms{reach}",
        ms(middle),
        ms(slowest)
    );
}

/// Colours spread over what pigments do.
pub(crate) fn wanted(run: usize) -> Lab {
    let turn = run as f64 * 2.4;
    Lab::new(
        25.0 + (run * 7 % 50) as f64,
        30.0 * turn.cos(),
        30.0 * turn.sin(),
    )
}

fn near(library: &Library) {
    let target = |run| Target::Colour(wanted(run), Matrix::zeros());
    let (middle, slowest, _) = timed(25, |run| {
        library
            .near(&target(run), &Filter::default(), 10)
            .expect("it can be read")
            .len()
    });
    say("near a colour", (middle, slowest), " (to reach: 100)");
    let aged = Filter {
        hours: Some(1500.0),
        ..Filter::default()
    };
    let (middle, slowest, _) = timed(25, |run| {
        library
            .near(&target(run), &aged, 10)
            .expect("it can be read")
            .len()
    });
    say(
        "near a colour, --hours 1500",
        (middle, slowest),
        " (to reach: 100)",
    );
    let (middle, slowest, _) = timed(25, |run| {
        let id = i64::try_from(1 + run * 37).expect("small");
        library
            .near(&Target::Swatch(id), &Filter::default(), 10)
            .expect("it can be read")
            .len()
    });
    say("near a swatch", (middle, slowest), " (to reach: 100)");
}

fn list(library: &Library) {
    let range = |from: f64, to: f64| Range {
        from: Some(from),
        to: Some(to),
    };
    let filters = [
        (
            "one pigment, load 5 to 6",
            Filter {
                pigments: vec!["PR101".into()],
                load: range(5.0, 6.0),
                ..Filter::default()
            },
        ),
        (
            "two pigments",
            Filter {
                pigments: vec!["PY42".into(), "PW6".into()],
                ..Filter::default()
            },
        ),
        (
            "hue, chroma and lightness",
            Filter {
                hue: range(60.0, 70.0),
                chroma: range(30.0, 34.0),
                lightness: range(50.0, 55.0),
                ..Filter::default()
            },
        ),
        (
            "after 1500 hours, substrate, coating, hue",
            Filter {
                hours: Some(1500.0),
                coating: Some("clear exterior coating, two-part".into()),
                substrate: Some("planed larch".into()),
                hue: range(250.0, 260.0),
                ..Filter::default()
            },
        ),
    ];
    for (name, filter) in filters {
        let (middle, slowest, found) = timed(11, |_| {
            library
                .list(&filter, Sort::Hue)
                .expect("it can be read")
                .len()
        });
        say(
            &format!("list, {name} ({found} found)"),
            (middle, slowest),
            " (to reach: 200)",
        );
    }
}
