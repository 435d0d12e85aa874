//! Photo files that must open: vectors of other libraries, and real files of phones, cameras and test suites.

#![expect(
    clippy::print_stdout,
    reason = "measured figures, and why a test was skipped"
)]
#![expect(clippy::unwrap_used, reason = "helpers of tests")]

mod real;

use masstone::geometry::Point;
use masstone::photo::{EncodingSource, Options, Photo, Pixels, Problem};
use std::path::{Path, PathBuf};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/photo")
        .join(name)
}

fn open(path: &Path) -> Photo {
    Photo::open(path, &Options::default()).unwrap_or_else(|it| panic!("{it}"))
}

/// Rows of a table below its `#` lines and its header: the file's name and the numbers.
fn rows(table: &str) -> Vec<(&str, Vec<f64>)> {
    table
        .lines()
        .filter(|it| !it.starts_with('#'))
        .skip(1)
        .map(|line| {
            let (name, numbers) = line.split_once(',').unwrap();
            (
                name,
                numbers.split(',').map(|it| it.parse().unwrap()).collect(),
            )
        })
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "whole numbers from a table"
)]
fn index(number: f64) -> usize {
    number as usize
}

/// `decoded.csv` is the word of libjpeg-turbo, libtiff and Pillow (`make_vectors.py`).
#[test]
fn pixels_are_those_of_other_decoders() {
    let table = std::fs::read_to_string(data("decoded.csv")).unwrap();
    let rows = rows(&table);
    let mut names: Vec<&str> = rows.iter().map(|it| it.0).collect();
    names.dedup();
    assert_eq!(names.len(), 10, "{names:?}");
    for name in names {
        let photo = open(&data(name));
        let pixels: Vec<_> = rows.iter().filter(|it| it.0 == name).collect();
        assert_eq!(pixels.len(), photo.width * photo.height, "{name}");
        // JPEG decoders may round differently; how chroma is interpolated is left open to them.
        let subsampled = name.contains("422") || name.contains("420");
        let (limit, mean_limit) = match name {
            _ if subsampled => (4.0, 0.6),
            _ if name.contains("jpg") => (2.0, 0.5),
            _ => (0.0, 0.0),
        };
        let differences: Vec<f64> = pixels
            .iter()
            .flat_map(|(_, it)| {
                let code = photo.code(index(it[0]), index(it[1]));
                (0..3)
                    .map(|channel| (f64::from(code[channel]) - it[2 + channel]).abs())
                    .collect::<Vec<_>>()
            })
            .collect();
        let largest = differences.iter().copied().fold(0.0, f64::max);
        #[expect(clippy::cast_precision_loss, reason = "a few thousand")]
        let mean = differences.iter().sum::<f64>() / differences.len() as f64;
        println!("{name}: largest difference {largest}, mean {mean:.3}");
        assert!(
            largest <= limit && mean <= mean_limit,
            "{name}: largest {largest}, mean {mean}"
        );
    }
}

/// `profiles.csv` is the word of Little CMS (`make_vectors.py`).
#[test]
fn profiles_give_the_xyz_of_another_library() {
    let table = std::fs::read_to_string(data("profiles.csv")).unwrap();
    let rows = rows(&table);
    assert_eq!(rows.len(), 11 * (12 + 8));
    // Profiles store the D50 of ICC.1, s15Fixed16; the program's is (0.96422, 1, 0.82521).
    let from_ours = nalgebra::Vector3::new(0.964_202_9 / 0.964_22, 1.0, 0.824_905_4 / 0.825_21);
    let mut largest = [0.0_f64; 2];
    for (name, it) in &rows {
        let photo = open(&data(name));
        assert_eq!(photo.encoding.source, EncodingSource::Profile);
        let (x, y) = (index(it[0]), index(it[1]));
        assert_eq!(
            photo.code(x, y).map(usize::from),
            [index(it[2]), index(it[3]), index(it[4])],
            "{name}"
        );
        let linear = nalgebra::Vector3::from(photo.linear(x, y).map(f64::from));
        let xyz = (photo.encoding.to_xyz * linear).component_mul(&from_ours);
        let difference = (xyz - nalgebra::Vector3::new(it[5], it[6], it[7]))
            .abs()
            .max();
        // Little CMS rounds sampled curves to 16 bits; functions it evaluates in full.
        let sampled = name.contains("table") || name.contains("mixed");
        let limit = if sampled { 1.0 / 65_535.0 } else { 5e-7 };
        largest[usize::from(sampled)] = largest[usize::from(sampled)].max(difference);
        assert!(
            difference < limit,
            "{name} at {x}, {y}: {xyz} is {difference} off {:?}",
            &it[5..]
        );
    }
    println!(
        "largest difference of X, Y, Z: functions {:.1e}, samples {:.1e}",
        largest[0], largest[1]
    );
}

#[test]
fn linear_values_are_taken_as_they_are_and_the_primaries_still_count() {
    let linear = Options { linear: true };
    let photo = Photo::open(&data("icc-p3-para3-8.png"), &linear).unwrap();
    assert_eq!(photo.encoding.source, EncodingSource::Linear);
    for (code, value) in (0_u16..=255).zip(&photo.encoding.tables[1]) {
        assert!((f32::from(code) / 255.0 - value).abs() < 1e-7);
    }
    let encoded = open(&data("icc-p3-para3-8.png"));
    assert!(
        (photo.encoding.to_xyz - encoded.encoding.to_xyz)
            .abs()
            .max()
            < 1e-15
    );
    assert!(
        photo.encoding.name.contains("P3"),
        "{}",
        photo.encoding.name
    );
}

#[test]
fn shrinking_averages_light_and_not_codes() {
    let photo = open(&data("baseline-444.jpg"));
    assert_eq!((photo.width, photo.height), (26, 18));
    for factor in [1, 3, 4, 5, 26, 40] {
        let small = photo.shrink(factor);
        assert_eq!(small.pixels.len(), small.width * small.height);
        assert_eq!(small.width, 26_usize.div_ceil(small.factor));
        assert_eq!(small.height, 18_usize.div_ceil(small.factor));
        for y in 0..small.height {
            for x in 0..small.width {
                // The plain way, in f64.
                let columns = x * small.factor..26.min((x + 1) * small.factor);
                let rows = y * small.factor..18.min((y + 1) * small.factor);
                let box_of = rows.flat_map(|y| columns.clone().map(move |x| (x, y)));
                let all: Vec<_> = box_of.map(|(x, y)| photo.linear(x, y)).collect();
                for channel in 0..3 {
                    #[expect(clippy::cast_precision_loss, reason = "a few hundred")]
                    let mean =
                        all.iter().map(|it| f64::from(it[channel])).sum::<f64>() / all.len() as f64;
                    let found = f64::from(small.pixels[y * small.width + x][channel]);
                    assert!(
                        (found - mean).abs() < 1e-6,
                        "{factor}: {found} is not {mean}"
                    );
                }
            }
        }
    }
}

#[test]
fn rows_and_pixels_agree() {
    for name in ["baseline-420.jpg", "icc-mixed-16.png"] {
        let photo = open(&data(name));
        let mut row = Vec::new();
        for y in 0..photo.height {
            photo.linear_row(y, 1..photo.width, &mut row);
            let pixels: Vec<_> = (1..photo.width).map(|x| photo.linear(x, y)).collect();
            assert_eq!(row, pixels);
        }
    }
}

/// As `sha256sum` of GNU coreutils 9.1 prints it.
#[test]
fn the_hash_is_that_of_the_file() {
    let known = "2861e77528b588bca8781f7e3c84a45e4434760bca482d44303992ca6adfa15c";
    assert_eq!(open(&data("eight-pixels.jpg")).sha256, known);
}

#[test]
fn tiny_photos_open() {
    let one = open(&data("one-pixel.jpg"));
    assert_eq!(
        (one.width, one.height, one.shrink(7).pixels.len()),
        (1, 1, 1)
    );
    assert_eq!(open(&data("eight-pixels.jpg")).shrink(4).pixels.len(), 4);
}

/// What another imaging library makes of each real file is in the folder's `truth.json`.
#[test]
fn real_files_open_or_are_refused_as_their_notes_say() {
    let Some(folder) = real::folder("real-formats") else {
        return;
    };
    let truth: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(folder.join("truth.json")).unwrap()).unwrap();
    let files = truth["files"].as_object().unwrap();
    assert!(files.len() > 50);
    for (name, about) in files {
        let result = Photo::open(&folder.join(name), &Options::default());
        let other = &about["pillow"];
        let transparent = ["png_16bit_small.png", "tiff_16bit_RGBa.tiff"].contains(&name.as_str());
        match (about["kind"].as_str().unwrap(), result) {
            (_, Err(it)) if other["decodes"] != true && about["kind"] != "lab" => {
                assert!(
                    it.to_string().contains(name.as_str()) && it.hint().ends_with('.'),
                    "{it}"
                );
            }
            ("cmyk", result) => assert!(
                matches!(result.unwrap_err().problem, Problem::Inks),
                "{name}"
            ),
            ("lab", result) => assert!(
                matches!(result.unwrap_err().problem, Problem::LabPicture),
                "{name}"
            ),
            (_, result) if transparent => {
                assert!(
                    matches!(result.unwrap_err().problem, Problem::Transparent { .. }),
                    "{name}"
                );
            }
            (_, result) if other["mode"] == "L" => {
                assert!(
                    matches!(result.unwrap_err().problem, Problem::Grey),
                    "{name}"
                );
            }
            (kind, result) => {
                assert_eq!(other["decodes"], true, "{name} should not open");
                let photo = result.unwrap_or_else(|it| panic!("{it}"));
                assert_eq!(
                    serde_json::json!([photo.width, photo.height]),
                    other["size"],
                    "{name}"
                );
                let orientation = other["exif_orientation"]
                    .as_u64()
                    .filter(|it| (1..=8).contains(it));
                assert_eq!(
                    u64::from(photo.orientation.0),
                    orientation.unwrap_or(1),
                    "{name}"
                );
                match other["icc"].as_str() {
                    Some(profile) => assert_eq!(photo.encoding.name, profile, "{name}"),
                    None => assert_ne!(photo.encoding.source, EncodingSource::Profile, "{name}"),
                }
                assert_eq!(photo.metadata.gain_map, kind.contains("gainmap"), "{name}");
                let sixteen = kind == "16-bit";
                assert_eq!(matches!(photo.pixels, Pixels::U16(_)), sixteen, "{name}");
            }
        }
    }
}

/// Photographs of cards and panels; the masks beside them are grey-scale pictures.
#[test]
fn real_photographs_open() {
    let Some(folder) = real::folder("real-photos") else {
        return;
    };
    let mut opened = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let picture = path
            .extension()
            .is_some_and(|it| ["jpg", "png", "tif"].iter().any(|known| it == *known));
        if picture && !path.to_string_lossy().contains("-mask.") {
            open(&path);
            opened += 1;
        }
    }
    assert!(opened >= 10, "only {opened} photographs are there");
}

#[test]
fn a_picture_of_planes_strips_and_tiles_is_one_picture() {
    let Some(folder) = real::folder("real-formats") else {
        return;
    };
    let [chunky, strips, tiles] = [
        "tiff_16bit_RGB.tiff",
        "tiff_strip_planar_16bit_RGB.tiff",
        "tiff_tiled_planar_16bit_RGB.tiff",
    ]
    .map(|it| open(&folder.join(it)));
    for y in 0..chunky.height {
        for x in 0..chunky.width {
            assert_eq!(chunky.code(x, y), strips.code(x, y), "strips at {x}, {y}");
            assert_eq!(chunky.code(x, y), tiles.code(x, y), "tiles at {x}, {y}");
        }
    }
}

/// Eight photos of one scene, each stored turned as its tag says, so that all look alike when displayed.
#[test]
fn the_eight_orientations_show_one_scene() {
    let Some(folder) = real::folder("real-formats") else {
        return;
    };
    let shown = |tag: u8| {
        let photo = open(&folder.join(format!("orient_landscape_{tag}.jpg")));
        assert_eq!(photo.display_size(), (1800, 1200));
        let small = photo.shrink(60);
        let stored = (small.width, small.height);
        let mut pixels = Vec::new();
        for y in 0..20_u32 {
            for x in 0..30_u32 {
                let centre = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
                let at = photo.orientation.to_stored(centre, stored);
                pixels.push(small.pixels[index(at.y) * small.width + index(at.x)]);
            }
        }
        pixels
    };
    let upright = shown(1);
    for tag in 2..=8 {
        let difference: f32 = shown(tag)
            .iter()
            .zip(&upright)
            .flat_map(|(a, b)| (0..3).map(|c| (a[c] - b[c]).abs()))
            .sum::<f32>()
            / 1800.0;
        println!("orientation {tag}: mean difference {difference:.4}");
        assert!(
            difference < 0.01,
            "orientation {tag} differs by {difference}"
        );
    }
}

#[test]
fn metadata_of_a_phone_is_read_and_its_place_is_not_kept() {
    let Some(folder) = real::folder("real-formats") else {
        return;
    };
    let photo = open(&folder.join("p3_gainmap_pixel6pro_01.jpg"));
    let it = &photo.metadata;
    assert_eq!(it.camera.as_deref(), Some("Google Pixel 6 Pro"));
    assert_eq!(it.f_number, Some(1.85));
    assert_eq!(it.iso, Some(41.0));
    assert_eq!(it.focal_35mm, Some(24.0));
    assert_eq!(it.flash_fired, Some(false));
    assert_eq!(it.manual_white_balance, Some(false));
    assert_eq!(it.taken.as_deref(), Some("2023:10:06 19:25:15 +02:00"));
    assert!(
        it.processing.iter().any(|it| it.contains("several frames")),
        "{:?}",
        it.processing
    );
    let record = serde_json::to_string(it).unwrap().to_lowercase();
    assert!(
        !record.contains("gps") && !record.contains("latitude"),
        "{record}"
    );
}
