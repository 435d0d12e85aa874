//! What publishing costs: `cargo bench --bench publish -- [swatches]`.
//!
//! Makes a library of 500 patches (a control on each board of 50) with halves, photographed at three ages, with a crop of every half at every age, from records drawn by a
//! generator whose template is the measured demo photo. Prints what building the site and building it again takes, in seconds and as multiples of
//! copying the finished site's files in the same run, the size of the first page, and where the time of a build goes.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "../tests/shelf/mod.rs"]
mod shelf;

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _, RgbImage};
use masstone::library::Library;
use masstone::measure::{self, Job};
use masstone::picture::Crop;
use masstone::publish::{self, Outcome, Range, Settings, folder::Folder, site};
use masstone::record::{ControlEntry, Dose, PhotoRecord, Settings as Measured};
use shelf::Generator;
use std::fs;
use std::path::Path;
use std::time::Instant;

const PATCHES: usize = 50;
const HOURS: [f64; 3] = [0.0, 500.0, 1000.0];
/// Runs of what is short; the median counts.
const RUNS: usize = 5;

fn main() {
    let swatches = std::env::args()
        .find_map(|it| it.parse().ok())
        .unwrap_or(500);
    let panels = usize::div_ceil(swatches, PATCHES);
    let home = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder");
    let path = home.path().join("swatches.sqlite");
    let mut library = Library::open_or_begin(&path).expect("a library");
    let mut generator = Generator::new(template(), 1);
    for panel in 0..panels {
        let mut layout = generator.panel(panel * PATCHES, PATCHES);
        // With a control there is a mixing model, and lighter loads are expected by it.
        layout.patches[0].pigments.clear();
        layout.patches[0].control = Some(ControlEntry::Clear);
        let photos: Vec<PhotoRecord> = (HOURS.iter())
            .map(|it| generator.photo(&layout, *it))
            .collect();
        library.add(&photos).expect("photos go in");
        for it in &photos {
            library.add_crops(it, &crops(it)).expect("crops go in");
        }
    }
    drop(library);
    let library_mb = bytes(&path) / 1e6;

    let out = home.path().join("site");
    let (built, outcome) = timed(|| publish::build(&path, None, &out).expect("a site"));
    let Outcome::Built(report, range) = outcome else {
        panic!("there was no site");
    };
    let unchanged = median(|| {
        let outcome = publish::build(&path, None, &out).expect("a site");
        assert!(matches!(outcome, Outcome::Unchanged(_)));
    });
    let copied = median(|| {
        let to = tempfile::tempdir_in(home.path()).expect("a folder");
        copy(&out, to.path());
    });
    println!(
        "{} swatches, {} files, library {library_mb:.1} MB",
        range.swatches.len(),
        report.files
    );
    println!("| what | s | ÷ copying the files |");
    println!("|---|---|---|");
    println!("| copying the files | {copied:.3} | 1 |");
    println!("| the first build | {built:.3} | {:.1} |", built / copied);
    println!(
        "| nothing changed | {unchanged:.3} | {:.2} |",
        unchanged / copied
    );
    println!(
        "| first page, without crops | {:.0} KB | |",
        bytes(&out.join("index.html")) / 1e3
    );
    println!(
        "| styles | {:.0} KB | |",
        bytes(&out.join("site.css")) / 1e3
    );

    let library = Library::open(&path).expect("it is there");
    let (gathered, range) =
        timed(|| Range::gather(&library, &Settings::default()).expect("a range"));
    let (written, files) = timed(|| site::files(&range));
    let second = home.path().join("second");
    let (put, _) = timed(|| {
        Folder::look(&second)
            .expect("no folder")
            .put(&files, "x")
            .expect("a site")
    });
    println!("\ngathering {gathered:.3} s, pages {written:.3} s, putting them in place {put:.3} s");
}

fn timed<T>(run: impl FnOnce() -> T) -> (f64, T) {
    let start = Instant::now();
    let it = run();
    (start.elapsed().as_secs_f64(), it)
}

fn median(mut run: impl FnMut()) -> f64 {
    let mut all: Vec<f64> = (0..RUNS).map(|_| timed(&mut run).0).collect();
    all.sort_by(f64::total_cmp);
    all[RUNS / 2]
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a file's length is far below 2^52"
)]
fn bytes(path: &Path) -> f64 {
    fs::metadata(path).expect("it is there").len() as f64
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for it in fs::read_dir(from).expect("a folder") {
        let it = it.expect("an entry");
        let to = to.join(it.file_name());
        if it.path().is_dir() {
            copy(&it.path(), &to);
        } else {
            fs::copy(it.path(), to).expect("a file");
        }
    }
}

/// A crop of each half as large as real ones: its colour with a grain.
fn crops(record: &PhotoRecord) -> Vec<Crop> {
    (record.readings.iter().enumerate())
        .map(|(number, it)| {
            let grain = |x: u32, y: u32| u8::try_from((x * 7 + y * 13 + x * y) % 17).unwrap_or(0);
            let shade = u8::try_from(number % 200).unwrap_or(0);
            let picture = RgbImage::from_fn(160, 107, |x, y| {
                image::Rgb([shade + grain(x, y), 90 + grain(y, x), 60 + grain(x + 3, y)])
            });
            let mut jpeg = Vec::new();
            JpegEncoder::new_with_quality(&mut jpeg, 88)
                .write_image(&picture, 160, 107, ExtendedColorType::Rgb8)
                .expect("a picture");
            Crop {
                patch: it.patch.clone(),
                half: it.half,
                jpeg,
            }
        })
        .collect()
}

/// A real photo of the demo board, measured.
fn template() -> PhotoRecord {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let panel = masstone::panel::read(&samples.join("larch-2026-03.toml")).expect("the demo panel");
    let job = Job {
        path: samples.join("larch-2026-03-0h.jpg"),
        dose: Dose::of_hours(Some(0.0)),
        exposure: None,
        settings: Measured {
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
