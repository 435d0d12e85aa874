//! HEIC files: values against another decoder's, what the container says, and files that must be refused.
//!
//! The files and the other decoder's word are written by `tests/oracle/heic_files.py`.

#![expect(
    clippy::print_stdout,
    reason = "measured figures, and why a test was skipped"
)]
#![expect(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "heic/boxes.rs"]
mod boxes;
#[path = "heic/refused.rs"]
mod refused;
#[path = "heic/rounding.rs"]
mod rounding;

mod real;

use masstone::colour::{Lab, difference};
use masstone::correct::Tone;
use masstone::geometry::Point;
use masstone::measure::{self, Job};
use masstone::panel;
use masstone::photo::{EncodingSource, Options, Photo, Pixels};
use masstone::record::{Dose, Reading, Settings};
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photo/heic")
}

fn data(name: &str) -> Vec<u8> {
    std::fs::read(folder().join(name)).unwrap()
}

fn open(path: &Path) -> Photo {
    Photo::open(path, &Options::default()).unwrap_or_else(|it| panic!("{it}"))
}

/// Mean difference from a table, in 8-bit codes, and how many pixels were compared.
fn difference(table: &str, name: &str, photo: &Photo) -> (f64, usize) {
    let table = std::fs::read_to_string(folder().join(table)).unwrap();
    let top = f64::from((1_u32 << photo.bits) - 1);
    let stored = (photo.width, photo.height);
    let differences: Vec<f64> = (table.lines())
        .filter_map(|line| line.strip_prefix(name)?.strip_prefix(','))
        .map(|line| {
            let it: Vec<u16> = line.split(',').map(|it| it.parse().unwrap()).collect();
            let shown = Point::new(f64::from(it[0]) + 0.5, f64::from(it[1]) + 0.5);
            let at = photo.orientation.to_stored(shown, stored);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "middles of pixels inside the photo"
            )]
            let code = photo.code(at.x as usize, at.y as usize);
            let off = code.iter().zip(&it[2..]).map(|(seen, is)| {
                let seen = f64::from(*seen) / f64::from(photo.max_code());
                255.0 * (seen - f64::from(*is) / top).abs()
            });
            off.sum::<f64>() / 3.0
        })
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "a few hundred")]
    let mean = differences.iter().sum::<f64>() / differences.len() as f64;
    (mean, differences.len())
}

/// Each file, the EXIF orientation that its own words amount to, and what its colours are.
const FILES: [(&str, u8, EncodingSource, &str); 7] = {
    use EncodingSource::{Profile, Stated, StatedSrgb};
    [
        ("tiles-turned-icc.heic", 6, Profile, "P3, function type 3"),
        ("mirrored.heic", 7, StatedSrgb, "sRGB"),
        ("exif-turned-only.heic", 1, StatedSrgb, "sRGB"),
        ("ten-bit-icc.heic", 1, Profile, "P3, function type 3"),
        ("p3-box.heic", 1, Stated, "Display P3"),
        ("limited-box.heic", 1, StatedSrgb, "sRGB"),
        ("limited-stream.heic", 1, StatedSrgb, "sRGB"),
    ]
};

/// What is in limited range may be off by half a code: the other
/// decoder spreads it by 256/219 instead of H.273's 255/219.
#[test]
fn values_are_those_of_another_decoder_and_turned_once() {
    for (name, orientation, source, space) in FILES {
        let photo = open(&folder().join(name));
        assert_eq!(photo.orientation.0, orientation, "{name}");
        assert_eq!((photo.width, photo.height), (200, 150), "{name}");
        assert_eq!(photo.encoding.source, source, "{name}");
        assert_eq!(photo.encoding.name, space, "{name}");
        let (mean, pixels) = difference("decoded.csv", name, &photo);
        println!("{name}: mean difference {mean:.3} codes");
        assert!(pixels > 200, "{name}: {pixels}");
        let limit = if name.contains("limited") { 0.8 } else { 0.5 };
        assert!(mean < limit, "{name}: {mean}");
    }
}

/// The same stream as `p3-box.heic`, which says that it is in full range; this one says nothing.
#[test]
fn what_nobody_says_is_full_range_and_assumed() {
    let [silent, said] = ["silent.heic", "p3-box.heic"].map(|it| open(&folder().join(it)));
    for y in (0..150).step_by(7) {
        for x in (0..200).step_by(7) {
            assert_eq!(silent.code(x, y), said.code(x, y), "{x}, {y}");
        }
    }
    assert_eq!(silent.encoding.source, EncodingSource::AssumedSrgb);
}

#[test]
fn ten_bits_are_kept() {
    let photo = open(&folder().join("ten-bit-icc.heic"));
    assert_eq!(photo.bits, 10);
    let Pixels::U16(codes) = &photo.pixels else {
        panic!("stored in 8 bits");
    };
    let mut of_eight: Vec<u16> = codes.iter().map(|it| it / 257).collect();
    let mut all = codes.clone();
    for it in [&mut of_eight, &mut all] {
        it.sort_unstable();
        it.dedup();
    }
    assert!(all.len() > 3 * of_eight.len(), "{} codes", all.len());
}

#[test]
fn tags_are_read() {
    let photo = open(&folder().join("tiles-turned-icc.heic"));
    assert_eq!(photo.metadata.camera.as_deref(), Some("Larch Workshop 1"));
    assert_eq!(photo.metadata.further_pictures, 0);
    assert!(!photo.metadata.gain_map);
}

#[test]
fn of_several_pictures_the_main_one_is_read() {
    let photo = open(&folder().join("several.heic"));
    let (mean, pixels) = difference("decoded.csv", "several.heic", &photo);
    assert!(mean < 0.5 && pixels > 200, "{mean}");
    // Two more pictures; the thumbnail is not one.
    assert_eq!(photo.metadata.further_pictures, 2);
}

/// The demo board from its JPEG and from a HEIC of it: turned by the container, smaller and compressed harder.
#[test]
fn a_board_has_the_same_colours_as_from_its_jpeg() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let panel = panel::read(&samples.join("larch-2026-03.toml")).unwrap();
    let [jpeg, heic] = [
        samples.join("larch-2026-03-0h.jpg"),
        folder().join("larch-board.heic"),
    ]
    .map(|path| {
        let job = Job {
            path,
            dose: Dose::default(),
            exposure: None,
            settings: Settings {
                upright: false,
                linear: false,
                tone: Tone::Auto,
                corners: None,
                correction: None,
                force_correction: false,
                blank: None,
                masked: None,
            },
        };
        measure::photo(&job, &panel, false).unwrap().record
    });
    assert_eq!(heic.readings.len(), 48);
    let mut differences = Vec::new();
    for (one, two) in jpeg.readings.iter().zip(&heic.readings) {
        assert_eq!((&one.patch, one.half), (&two.patch, two.half));
        let lab = |it: &Reading| Lab::new(it.l.unwrap(), it.a.unwrap(), it.b.unwrap());
        let off = difference::delta_e_2000(lab(one), lab(two));
        assert!(off < one.u95.unwrap(), "{}: {off}", one.patch);
        differences.push(off);
    }
    let mean = differences.iter().sum::<f64>() / 48.0;
    let largest = differences.iter().copied().fold(0.0, f64::max);
    println!("HEIC to JPEG: mean ΔE00 {mean:.3}, largest {largest:.3}");
    // Far below U95, most of which both have in common. Nothing but the compression differs.
    assert!(mean < 0.25 && largest < 0.6, "{mean}, {largest}");
}

/// Phone files agree with the other decoder; how chroma is interpolated differs at sharp edges.
#[test]
fn phone_files_have_the_values_of_another_decoder() {
    let Some(real) = real::folder("real-formats") else {
        return;
    };
    for (name, space) in [
        (
            "heic_galaxy_s24fe_p3.heic",
            "DCI-P3 D65 Gamut with sRGB Transfer",
        ),
        ("heic_iphone11pro_p3.heic", "Display P3"),
    ] {
        let photo = open(&real.join(name));
        let (mean, pixels) = difference("phones.csv", name, &photo);
        println!("{name}: mean difference {mean:.3} codes");
        assert!(mean < 1.0 && pixels > 400, "{name}: {mean} of {pixels}");
        assert_eq!(photo.encoding.name, space);
        assert!(photo.metadata.camera.is_some() && photo.metadata.exposure_s.is_some());
    }
}
