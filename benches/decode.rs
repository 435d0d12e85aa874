//! What opening a photo costs beyond decoding it: `cargo bench --bench decode [-- PHOTO…]`.
//!
//! Without arguments a 12 megapixel JPEG is made (texture and noise, quality 90), and a phone's 12 megapixel HEIC is taken from
//! the real files if they are there; a raw file of as many sensor's pixels, as phones write them, comes from the simulator. For each photo it prints the peak
//! memory of opening it, and the times of several runs on one thread: the bare decoder, the whole of
//! `Photo::open`, the SHA-256 alone, and shrinking to about 1,200 pixels.

#![expect(clippy::print_stdout, reason = "a report for people")]
#![expect(
    clippy::unwrap_used,
    reason = "a bench stops at what it does not expect"
)]

#[path = "../tests/real/mod.rs"]
mod real;

use masstone::photo::{Options, Photo};
use masstone_simulator as sim;
use sha2::{Digest, Sha256};
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;
use zune_core::bytestream::ZCursor;
use zune_core::options::DecoderOptions;

const RUNS: usize = 15;

fn main() {
    // A photo's own work is shared among threads; the decoders alone have one.
    let one = rayon::ThreadPoolBuilder::new().num_threads(1);
    one.build_global().unwrap();
    let folder = tempfile::tempdir().unwrap();
    // `cargo bench` passes `--bench`.
    let mut photos: Vec<PathBuf> = std::env::args_os()
        .skip(1)
        .filter(|it| it != "--bench")
        .map(PathBuf::from)
        .collect();
    if photos.is_empty() {
        let path = folder.path().join("made.jpg");
        make(&path);
        photos.push(path);
        let raw = folder.path().join("made.dng");
        let spec = sim::SceneSpec::draw(sim::Mixture::Ordinary, sim::Split::Study, 1);
        let size = [4032, 3024];
        spec.build().write(&raw, sim::FileKind::Dng, size).unwrap();
        photos.push(raw);
        photos.extend(real::folder("real-formats").map(|it| it.join("heic_iphone11pro_p3.heic")));
    }
    for path in photos {
        report(&path);
    }
}

/// Texture, patches and noise of 4032 × 3024 pixels.
fn make(path: &Path) {
    let mut state = 1_u32;
    let picture = image::RgbImage::from_fn(4032, 3024, |x, y| {
        // A linear congruential generator (Numerical Recipes' constants) is noise enough here.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let grain = (state >> 28) + (x / 7 % 9) + (y / 5 % 7);
        let patch = 40 * (x / 600 % 4) + 15 * (y / 500 % 4);
        image::Rgb([20, 50, 35].map(|it| u8::try_from(it + grain + patch).unwrap_or(255)))
    });
    let file = std::fs::File::create(path).unwrap();
    image::codecs::jpeg::JpegEncoder::new_with_quality(std::io::BufWriter::new(file), 90)
        .encode_image(&picture)
        .unwrap();
}

fn report(path: &Path) {
    let before = peak_mib();
    let photo = Photo::open(path, &Options::default()).unwrap();
    let after = peak_mib();
    let bytes = std::fs::read(path).unwrap();
    println!(
        "{}: {} × {}, {:.1} MB",
        path.display(),
        photo.width,
        photo.height,
        bytes.len() as f64 / 1e6
    );
    println!("  peak memory after opening it once: {after:.0} MiB (before: {before:.0})");
    let is_raw = path.extension().is_some_and(|it| it == "dng");
    // No decoder of raw files but ours is at hand here.
    let bare = (!is_raw).then(|| measure(|| decode_alone(&bytes)));
    let open = measure(|| {
        black_box(Photo::open(path, &Options::default()).unwrap());
    });
    let hash = measure(|| {
        black_box(Sha256::digest(&bytes));
    });
    let factor = photo.width.max(photo.height).div_ceil(1200);
    let shrink = measure(|| {
        black_box(photo.shrink(factor));
    });
    let rows = [
        ("bare decoder", bare),
        ("open", Some(open)),
        ("SHA-256", Some(hash)),
        ("shrink", Some(shrink)),
    ];
    for (what, times) in rows.into_iter().filter_map(|(what, it)| Some((what, it?))) {
        let share = bare.map_or_else(String::new, |bare| {
            format!(", {:.2} × the decoder", times.best / bare.best)
        });
        println!(
            "  {what}: median {:.1} ms, best {:.1} ms{share}",
            times.median, times.best
        );
    }
}

/// JPEG, HEIC, or whatever the picture library knows.
fn decode_alone(bytes: &[u8]) {
    if bytes.starts_with(b"\xff\xd8") {
        let options = DecoderOptions::new_fast()
            .set_strict_mode(true)
            .set_max_width(65_535)
            .set_max_height(65_535);
        let decoded =
            zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(bytes), options).decode();
        black_box(decoded.unwrap());
    } else if bytes.get(4..8) == Some(b"ftyp") {
        black_box(heic_rs::decode(bytes, &heic_rs::DecodeOptions::default()).unwrap());
    } else {
        black_box(image::load_from_memory(bytes).unwrap());
    }
}

/// Milliseconds. On a busy machine the best is the steadier figure.
#[derive(Clone, Copy)]
struct Times {
    median: f64,
    best: f64,
}

fn measure(mut work: impl FnMut()) -> Times {
    let mut times: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    Times {
        median: times[RUNS / 2],
        best: times[0],
    }
}

/// The largest resident memory of this process so far, as Linux tells it; zero elsewhere.
fn peak_mib() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|it| it.strip_prefix("VmHWM:"));
    let kib = line.and_then(|it| it.split_whitespace().next()?.parse::<f64>().ok());
    kib.unwrap_or(0.0) / 1024.0
}
