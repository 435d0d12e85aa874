//! The simulator's files against the word of other libraries, which `tests/oracle/dng_files.py` wrote down: `LibRaw` and tifffile for levels and
//! values, colour-hdri for matrices.

use masstone::photo::{Options, Photo};
use masstone_simulator::{ciede2000, lab};
use nalgebra::{Matrix3, Vector3};
use serde_json::Value;
use std::path::{Path, PathBuf};

pub(crate) fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photo/dng")
}

pub(crate) fn open(name: &str) -> Photo {
    Photo::open(&folder().join(name), &Options::default()).unwrap_or_else(|it| panic!("{it}"))
}

fn truth() -> Value {
    let text = std::fs::read_to_string(folder().join("truth.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|it| it.as_f64().unwrap()).collect()
}

fn wholes(value: &Value) -> Vec<usize> {
    let list = value.as_array().unwrap();
    let whole = |it: &Value| usize::try_from(it.as_u64().unwrap()).unwrap();
    list.iter().map(whole).collect()
}

fn three(value: &Value) -> [f64; 3] {
    numbers(value)[..3].try_into().unwrap()
}

fn matrix(value: &Value) -> Matrix3<f64> {
    let rows = value.as_array().unwrap();
    Matrix3::from_row_iterator(rows.iter().flat_map(numbers))
}

/// Mean linear light over cell `i` of 4 × 3, and the share of its pixels in each channel that reached the sensor's end.
fn mean(photo: &Photo, i: usize) -> ([f64; 3], [f64; 3]) {
    let (x, y) = (i % 4, i / 4);
    let ends = |size: usize, i: usize, n: usize| size * i / n..size * (i + 1) / n;
    let (mut sum, mut ended, mut count) = ([0.0; 3], [0.0; 3], 0.0);
    for y in ends(photo.height, y, 3) {
        for x in ends(photo.width, x, 4) {
            let linear = photo.linear(x, y);
            for c in 0..3 {
                sum[c] += f64::from(linear[c]);
                ended[c] += f64::from(u8::from(photo.code(x, y)[c] == u16::MAX));
            }
            count += 1.0;
        }
    }
    (sum.map(|it| it / count), ended.map(|it| it / count))
}

/// Files whose pixels are not those of the whole active area, have gains, or end on the sensor (a test of the values by digest has these, too).
const OTHERS: [&str; 5] = ["phone", "linear", "masked-gbrg", "saturated", "extremes"];

#[test]
fn values_and_levels_are_those_of_other_libraries() {
    let truth = truth();
    let files = truth["files"].as_object().unwrap();
    let mut compared = 0;
    for (name, of_file) in files {
        if OTHERS.iter().any(|it| name.starts_with(it)) {
            continue;
        }
        let photo = open(name);
        // Their cells of 4 × 3 must be made of whole cells of the filter array.
        if !photo.width.is_multiple_of(4) || !photo.height.is_multiple_of(3) {
            continue;
        }
        compared += 1;
        let libraw = &of_file["libraw"];
        let gains = three(&libraw["as_shot_gains"]);
        let white = libraw["white"].as_f64().unwrap();
        let black = numbers(&libraw["black"]);
        // Where each of the means' places lies among LibRaw's channels: red, green, blue, and the other green.
        let places: Vec<usize> = match libraw["pattern"].as_array() {
            Some(rows) => {
                // LibRaw's pattern begins where its picture does, which may be within the active area.
                let area = wholes(&of_file["active_area"]);
                let from = ["top", "left"].map(|it| libraw["visible"][it].as_u64().unwrap());
                let odd = [0, 1].map(|i| (usize::try_from(from[i]).unwrap() - area[i]) % 2);
                let rows: Vec<Vec<usize>> = rows.iter().map(wholes).collect();
                let at = |i: usize| rows[(i / 2 + odd[0]) % 2][(i % 2 + odd[1]) % 2];
                (0..4).map(at).collect()
            }
            None => vec![0, 1, 2],
        };
        let darkest = places.iter().map(|it| black[*it]).fold(0.0, f64::max);
        for (i, of_cell) in of_file["means"].as_array().unwrap().iter().enumerate() {
            let (mut sum, mut count) = ([0.0; 3], [0.0; 3]);
            for (place, mean) in places.iter().zip(numbers(of_cell)) {
                let colour = if *place == 3 { 1 } else { *place };
                sum[colour] += (mean - black[*place]) / (white - darkest);
                count[colour] += 1.0;
            }
            let (found, ended) = mean(&photo, i);
            for c in 0..3 {
                // Balanced by the white that the camera judged by, green untouched.
                let expected = sum[c] / count[c] * gains[c] / gains[1];
                // What reached the end is taken as there, of which it may lack 2 %.
                let slack = 1e-4 + 0.02 * ended[c] * gains[c] / gains[1];
                assert!(
                    (found[c] - expected).abs() < slack,
                    "{name}, cell {i}: {found:?}, channel {c} is {expected}"
                );
            }
        }
    }
    assert!(compared >= 8, "{compared}");
}

#[test]
fn pictures_are_turned_as_other_libraries_turn_them() {
    let truth = truth();
    for (name, of_file) in truth["files"].as_object().unwrap() {
        // LibRaw's own numbers: 0 not, 3 half a turn, 5 a quarter to the left, 6 to the right.
        let tag = match of_file["libraw"]["flip"].as_u64().unwrap() {
            0 => 1,
            3 => 3,
            5 => 8,
            6 => 6,
            other => panic!("{name}: {other}"),
        };
        assert_eq!(open(name).orientation.0, tag, "{name}");
    }
}

#[test]
fn lights_and_matrices_are_those_of_another_library() {
    let truth = truth();
    let mut seen = 0;
    for (name, of_file) in truth["colours"].as_object().unwrap() {
        let camera = open(name).encoding.camera.unwrap();
        let mut without = camera.clone();
        without.light.balanced_to_xyz = None;
        if let Some(other) = &mut without.other {
            other.balanced_to_xyz = None;
        }
        let others = of_file["others"].as_array().unwrap();
        for it in others.iter().chain([&of_file["as_shot"]]) {
            let neutral = three(&it["neutral"]);
            let white = camera.white(neutral).unwrap();
            let known = numbers(&it["xy"]);
            let off = (white[0] - known[0]).hypot(white[1] - known[1]);
            // The other library's temperature is interpolated between 31 lines (Robertson 1968), ours is the definition's.
            assert!(off < 2e-4, "{name}, {neutral:?}: {white:?}, not {known:?}");
            for (camera, key) in [
                (&without, "to_d50_by_colour_matrix"),
                (&camera, "to_d50_by_forward_matrix"),
            ] {
                let Some(known) = it.get(key) else { continue };
                let found = camera.to_xyz_d50(neutral).unwrap();
                let known = matrix(known);
                let known = known / (known * Vector3::from(neutral)).y;
                // A brown, a leaf's green and a sky's blue, as balanced values.
                for balanced in [[0.15, 0.1, 0.06], [0.1, 0.14, 0.06], [0.12, 0.2, 0.35]] {
                    let seen = Vector3::from([0, 1, 2].map(|c| balanced[c] * neutral[c]));
                    let colours = [found, known].map(|it| lab(&(it * seen)));
                    let off = ciede2000(colours[0], colours[1]);
                    assert!(off < 0.1, "{name}, {key}, {neutral:?}: {off}");
                }
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "{seen}");
}
