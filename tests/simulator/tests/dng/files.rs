//! The file as a whole: directories, metadata, preview, crop, what can't be written.

use crate::tags::{File, inner, numbers};
use masstone_simulator::{Cfa, DngSpec, FileKind, Mixture, RawCoding, SceneSpec, Split};
use std::io::Cursor;
use tiff::decoder::ifd::Value;
use tiff::decoder::{Decoder, DecodingResult};

fn spec() -> SceneSpec {
    let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 6);
    (spec.stored_as, spec.tag) = (6, Some(6));
    spec.exif.zoom = Some(2.5);
    spec
}

/// A phone's file says what the JPEG's metadata say, and what the values are.
#[test]
fn metadata_are_there() {
    let scene = spec().build();
    for big_endian in [false, true] {
        let options = DngSpec {
            big_endian,
            masked: [2, 4, 6, 8],
            baseline_exposure: Some(-0.5),
            ..DngSpec::phone()
        };
        let image = scene.render_sensor(400, 300, Cfa::Rggb);
        let file = File::open(image.encode(&options).unwrap());
        let exif = &scene.spec.exif;
        for (value, text) in [
            (&file.first[&271], &exif.make),
            (&file.first[&272], &exif.model),
            (&file.first[&50708], &exif.model),
            (&file.exif[&36867], &exif.taken),
            (&file.exif[&36881], &exif.offset),
        ] {
            assert_eq!(*value, Value::Ascii(text.clone()));
        }
        for (value, expected) in [
            (&file.first[&274], vec![6.0]),
            (&file.first[&50706], vec![1.0, 4.0, 0.0, 0.0]),
            (&file.first[&50730], vec![-0.5]),
            (&file.first[&50778], vec![17.0]),
            (&file.first[&50779], vec![21.0]),
            (
                &file.exif[&33434],
                vec![1.0 / f64::from(exif.exposure_per_s)],
            ),
            (&file.exif[&34855], vec![f64::from(exif.iso)]),
            (&file.exif[&41988], vec![2.5]),
            (&file.raw[&254], vec![0.0]),
            (&file.raw[&256], vec![412.0]),
            (&file.raw[&257], vec![308.0]),
            (&file.raw[&259], vec![7.0]),
            (&file.raw[&262], vec![32803.0]),
            (&file.raw[&50719], vec![4.0, 4.0]),
            (&file.raw[&50720], vec![392.0, 292.0]),
            (&file.raw[&50829], vec![2.0, 4.0, 302.0, 404.0]),
        ] {
            let own = numbers(value);
            assert_eq!(own.len(), expected.len());
            for (own, expected) in own.iter().zip(&expected) {
                assert!((own - expected).abs() < 1e-9, "{own} for {expected}");
            }
        }
    }
}

/// The first directory is a small picture that any TIFF reader opens, in which the card is grey.
#[test]
fn the_preview_is_a_small_picture() {
    let mut spec = (0..)
        .map(|seed| SceneSpec::draw(Mixture::Flawless, Split::Test, seed))
        .find(|it| it.layout.cards[0].kind == masstone_simulator::CardKind::Grey18)
        .unwrap();
    spec.second = None;
    let scene = spec.build();
    let [width, height] = scene.stored_size(1200);
    let image = scene.render_sensor(width, height, Cfa::Grbg);
    let bytes = image.encode(&DngSpec::phone()).unwrap();
    let mut decoder = Decoder::new(Cursor::new(bytes)).unwrap();
    let (small, _) = decoder.dimensions().unwrap();
    let DecodingResult::U8(pixels) = decoder.read_image().unwrap() else {
        panic!("8 bits");
    };
    let scale = f64::from(small) / f64::from(width);
    let quad = image.truth.cards[0].zones[0]
        .quad
        .map(|it| it.map(|it| it * scale));
    let seen = inner(&quad);
    assert!(seen.len() > 20);
    let mean = [0, 1, 2].map(|c| {
        let sum: f64 = seen
            .iter()
            .map(|[x, y]| f64::from(pixels[(y * small as usize + x) * 3 + c]))
            .sum();
        sum / seen.len() as f64
    });
    assert!(mean[1] > 60.0 && mean[1] < 180.0, "{mean:?}");
    assert!(
        (mean[0] - mean[1]).abs() < 3.0 && (mean[2] - mean[1]).abs() < 3.0,
        "{mean:?}"
    );
}

/// A written file's truth is of the cropped picture.
#[test]
fn truth_is_of_the_cropped_picture() {
    let scene = spec().build();
    let folder = std::env::temp_dir().join(format!("masstone-dng-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("photo.dng");
    let written = scene.write(&path, FileKind::Dng, [400, 300]).unwrap();
    let file = File::open(std::fs::read(&path).unwrap());
    std::fs::remove_dir_all(&folder).unwrap();
    assert_eq!(written.kind, FileKind::Dng);
    let size = written.truth.size.map(f64::from);
    assert_eq!(numbers(&file.raw[&50720]), size);
    let origin = numbers(&file.raw[&50719]);
    let whole = scene.truth([400, 300]);
    let moved = |own: [f64; 2], from: [f64; 2]| {
        (0..2).all(|k| (from[k] - own[k] - origin[k]).abs() < 1e-9 && origin[k] > 0.0)
    };
    assert!(moved(written.truth.grid[2], whole.grid[2]));
    assert!(moved(
        written.truth.patches[3].quad[1],
        whole.patches[3].quad[1]
    ));
    let zone = |truth: &masstone_simulator::Truth| truth.cards[0].zones[0].quad[0];
    assert!(moved(zone(&written.truth), zone(&whole)));
}

/// The same bytes on one thread and on three.
#[test]
fn threads_do_not_matter() {
    let scene = spec().build();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(|| {
            let image = scene.render_sensor(400, 300, Cfa::Rggb);
            image.encode(&DngSpec::phone()).unwrap()
        })
    };
    assert!(on(1) == on(3));
}

/// What can't be written is said, and so is that developed pixels are no sensor's.
#[test]
fn what_cannot_be_written_is_said() {
    let scene = spec().build();
    let image = scene.render_sensor(64, 48, Cfa::Rggb);
    let phone = DngSpec::phone();
    let lossless = |predictor, tile| DngSpec {
        coding: RawCoding::Lossless { predictor, tile },
        ..phone.clone()
    };
    for (options, words) in [
        (
            DngSpec {
                bits: 17,
                ..phone.clone()
            },
            "17 bits",
        ),
        (lossless(8, 64), "predictor 8"),
        (lossless(1, 40), "40 pixels"),
        (
            DngSpec {
                crop: 24,
                ..phone.clone()
            },
            "24 cut off",
        ),
    ] {
        let error = image.encode(&options).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    }
    let developed = scene.render_small(64).encode(FileKind::Dng);
    assert!(developed.unwrap_err().to_string().contains("render_sensor"));
}
