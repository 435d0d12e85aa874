//! What made files hold, by the arithmetic of the DNG specification (levels, areas, opcodes; from memory), done here by hand.

use super::made::{self, Made, Value, even, filtered};
use masstone::photo::{EncodingSource, Photo};

const SPAN: f64 = 4000.0 - 256.0;
/// What white is by [`made::NEUTRAL`].
const NEUTRAL: [f64; 3] = [0.9642, 1.0, 0.8252];

#[track_caller]
fn holds(photo: &Photo, at: [usize; 2], values: [f64; 3]) {
    let found = photo.linear(at[0], at[1]).map(f64::from);
    for (c, value) in values.iter().enumerate() {
        let expected = value / NEUTRAL[c];
        // A code is 1/63,486 of the range, or of what gains make of it.
        assert!(
            (found[c] - expected).abs() < 2e-4,
            "at {at:?}: {found:?}, not {values:?} balanced"
        );
    }
}

fn part(value: f64) -> f64 {
    (value - 256.0) / SPAN
}

#[test]
fn a_cell_becomes_a_pixel_with_black_taken_off() {
    let photo = even(8, 6, [1000, 2000, 2200, 700]).open().unwrap();
    assert_eq!((photo.width, photo.height, photo.bits), (4, 3, 12));
    assert_eq!(photo.encoding.source, EncodingSource::Sensor);
    for at in [[0, 0], [3, 2]] {
        holds(&photo, at, [part(1000.0), part(2100.0), part(700.0)]);
    }
}

#[test]
fn what_is_darker_than_dark_by_noise_stays_so() {
    let photo = even(4, 4, [200, 256, 256, 300]).open().unwrap();
    holds(&photo, [1, 1], [part(200.0), 0.0, part(300.0)]);
}

#[test]
fn the_sensors_end_is_told_from_the_highest_value() {
    let photo = even(4, 4, [3990, 3000, 3990, 3000]).open().unwrap();
    let code = photo.code(0, 0);
    assert_eq!(
        (code[0], code[1]),
        (u16::MAX, u16::MAX),
        "one of two greens is enough"
    );
    assert!(code[2] < u16::MAX);
}

#[test]
fn the_pattern_begins_at_the_active_area() {
    // One column and one row of masked pixels: what is red in the file's corner is nothing.
    let mut values = vec![0_u16; 7 * 5];
    for y in 1..5 {
        for x in 1..7 {
            values[y * 7 + x] = match ((x - 1) % 2, (y - 1) % 2) {
                (0, 0) => 1000,
                (1, 1) => 700,
                _ => 2000,
            };
        }
    }
    let photo = filtered(7, &values)
        .with(made::ACTIVE, Value::Longs(vec![1, 1, 5, 7]))
        .open()
        .unwrap();
    assert_eq!((photo.width, photo.height), (3, 2));
    holds(&photo, [0, 0], [part(1000.0), part(2000.0), part(700.0)]);
    holds(&photo, [2, 1], [part(1000.0), part(2000.0), part(700.0)]);
}

#[test]
fn a_crop_is_taken_from_whole_cells() {
    let values: Vec<u16> = (0..10_u16 * 10)
        .map(|i| 300 + 10 * (i % 10 / 2) + 100 * (i / 20))
        .collect();
    let photo = filtered(10, &values)
        .with(made::CROP_ORIGIN, Value::Longs(vec![3, 2]))
        .with(made::CROP_SIZE, Value::Longs(vec![5, 6]))
        .open()
        .unwrap();
    // Columns 4 to 7 and rows 2 to 7.
    assert_eq!((photo.width, photo.height), (2, 3));
    holds(&photo, [0, 0], [part(420.0); 3]);
    holds(&photo, [1, 2], [part(630.0); 3]);
}

#[test]
fn black_may_differ_from_place_to_place() {
    let photo = even(4, 4, [1000, 2000, 2200, 700])
        .with(made::BLACK_REPEAT, Value::Shorts(vec![2, 2]))
        .with(made::BLACK, Value::Shorts(vec![200, 256, 236, 250]))
        .open()
        .unwrap();
    let values = [800.0, (1744.0 + 1964.0) / 2.0, 450.0];
    // The span is that to the highest black level.
    holds(&photo, [1, 0], values.map(|it| it / SPAN));
}

#[test]
fn a_table_of_the_file_makes_values_linear() {
    // Square roots of light, as some cameras store them.
    let table: Vec<u16> = (0..64_u16).map(|it| it * it).collect();
    let photo = even(4, 4, [30, 40, 50, 20])
        .with(made::LINEARISATION, Value::Shorts(table))
        .with(made::BLACK, Value::Shorts(vec![0]))
        .with(made::WHITE, Value::Shorts(vec![3969]))
        .open()
        .unwrap();
    let values = [900.0, (1600.0 + 2500.0) / 2.0, 400.0];
    holds(&photo, [0, 1], values.map(|it| it / 3969.0));
}

#[test]
fn packed_and_deflated_values_are_the_same() {
    let values: Vec<u16> = (0..12_u16 * 4).map(|i| 300 + 73 * i).collect();
    let plain = filtered(12, &values);
    let expected = plain.open().unwrap();
    // Twelve bits, most significant first.
    let mut packed = Vec::new();
    for pair in values.chunks_exact(2) {
        let both = u32::from(pair[0]) << 12 | u32::from(pair[1]);
        packed.extend(&both.to_be_bytes()[1..]);
    }
    let packed = Made {
        strip: packed,
        ..plain.clone().with(made::BITS, Value::Shorts(vec![12]))
    };
    let mut differences = values.clone();
    for row in differences.chunks_exact_mut(12) {
        for x in (1..12).rev() {
            row[x] = row[x].wrapping_sub(row[x - 1]);
        }
    }
    let deflated = |values: &[u16]| {
        let mut coder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
        std::io::Write::write_all(&mut coder, &made::words(values)).unwrap();
        coder.finish().unwrap()
    };
    let method = |made: Made| made.with(made::COMPRESSION, Value::Shorts(vec![8]));
    let one = method(Made {
        strip: deflated(&values),
        ..plain.clone()
    });
    let two = method(Made {
        strip: deflated(&differences),
        ..plain.clone()
    })
    .with(made::PREDICTOR, Value::Shorts(vec![2]));
    for (name, other) in [("packed", packed), ("deflated", one), ("differences", two)] {
        let photo = other.open().unwrap();
        for (x, y) in (0..6).flat_map(|x| (0..2).map(move |y| (x, y))) {
            assert_eq!(photo.code(x, y), expected.code(x, y), "{name} at {x}, {y}");
        }
    }
}

#[test]
fn three_values_a_pixel_stay_pixels() {
    let values: Vec<u16> = (0..12)
        .flat_map(|i| [1000 + 10 * i, 2000, 700 + i])
        .collect();
    let photo = filtered(36, &values)
        .with(made::WIDTH, Value::Shorts(vec![4]))
        .with(made::LENGTH, Value::Shorts(vec![3]))
        .with(made::BITS, Value::Shorts(vec![16; 3]))
        .with(made::SAMPLES, Value::Shorts(vec![3]))
        .with(made::PHOTOMETRIC, Value::Shorts(vec![34_892]))
        .with(made::BLACK, Value::Shorts(vec![256; 3]))
        .with(made::WHITE, Value::Shorts(vec![4000; 3]))
        .open()
        .unwrap();
    assert_eq!((photo.width, photo.height), (4, 3));
    holds(&photo, [3, 2], [part(1110.0), part(2000.0), part(711.0)]);
}

/// A list with gain maps, each for one place of the cells: 2 × 2 points, at the middles of the outer pixels' edges.
fn gain_maps(maps: &[([u32; 2], [f32; 4])]) -> Vec<u8> {
    let mut list = u32::try_from(maps.len()).unwrap().to_be_bytes().to_vec();
    for ([top, left], values) in maps {
        let mut content = Vec::new();
        for it in [*top, *left, 8, 8, 0, 1, 2, 2, 2, 2] {
            content.extend(u32::to_be_bytes(it));
        }
        for it in [1.0_f64, 1.0, 0.0, 0.0] {
            content.extend(it.to_be_bytes());
        }
        content.extend(1_u32.to_be_bytes());
        for it in values {
            content.extend(it.to_be_bytes());
        }
        let length = u32::try_from(content.len()).unwrap();
        for it in [9, 0x0103_0000, 0, length] {
            list.extend(u32::to_be_bytes(it));
        }
        list.extend(content);
    }
    list
}

/// From 1 at the left edge to 3 at the right one.
const RISING: [f32; 4] = [1.0, 3.0, 1.0, 3.0];

#[test]
fn gain_maps_undo_the_lens_shading_of_their_own_pixels() {
    let made = even(8, 8, [1000, 2000, 2000, 700]);
    // The middle of column x lies at (x + ½)/8.
    let photo = made
        .with(
            made::OPCODES_2,
            Value::Bytes(gain_maps(&[([0, 0], RISING)])),
        )
        .open()
        .unwrap();
    for x in 0..4_u8 {
        let gain = 1.0 + 2.0 * (2.0 * f64::from(x) + 0.5) / 8.0;
        let values = [gain * part(1000.0), part(2000.0), part(700.0)];
        holds(&photo, [usize::from(x), 2], values);
    }
}

#[test]
fn what_ended_on_the_sensor_stays_ended_whatever_the_gain() {
    let made = even(8, 8, [3995, 2000, 2000, 700]);
    let list = gain_maps(&[([0, 0], RISING)]);
    let photo = made
        .with(made::OPCODES_2, Value::Bytes(list))
        .open()
        .unwrap();
    assert_eq!(photo.code(0, 0)[0], u16::MAX);
    assert_eq!(photo.code(3, 3)[0], u16::MAX);
}

#[test]
fn the_matrix_takes_the_as_shot_white_to_white() {
    let photo = even(4, 4, [1000, 2000, 2200, 700]).open().unwrap();
    let white = photo.encoding.to_xyz * nalgebra::Vector3::from_element(1.0);
    for (found, known) in white.iter().zip(masstone::colour::white::D50) {
        assert!((found - known).abs() < 1e-9, "{white}");
    }
}

/// Maps for other places of the cell do not multiply: dark values keep their steps.
#[test]
fn four_maps_are_as_fine_as_one() {
    let places = [[0, 0], [0, 1], [1, 0], [1, 1]];
    let list = gain_maps(&places.map(|it| (it, [3.0; 4])));
    let made = even(8, 8, [300, 310, 310, 290]);
    let photo = made
        .with(made::OPCODES_2, Value::Bytes(list))
        .open()
        .unwrap();
    let values = [300.0, 310.0, 290.0].map(|it| 3.0 * part(it));
    let found = photo.linear(2, 2).map(f64::from);
    for c in 0..3 {
        let off = found[c] / (values[c] / NEUTRAL[c]) - 1.0;
        // Half a code of 3/63,486 of the range, of a thirtieth of it.
        assert!(off.abs() < 1e-3, "{found:?}, not {values:?}");
    }
}

/// Behind a filter array a map of the list for finished colours has a plane for each.
#[test]
fn gains_of_finished_colours_go_by_colour() {
    let mut content = Vec::new();
    for it in [0_u32, 0, 8, 8, 0, 3, 1, 1, 1, 1] {
        content.extend(it.to_be_bytes());
    }
    for it in [1.0_f64, 1.0, 0.0, 0.0] {
        content.extend(it.to_be_bytes());
    }
    content.extend(3_u32.to_be_bytes());
    for it in [1.0_f32, 2.0, 3.0] {
        content.extend(it.to_be_bytes());
    }
    let mut list = Vec::new();
    for it in [1, 9, 0x0103_0000, 0, u32::try_from(content.len()).unwrap()] {
        list.extend(u32::to_be_bytes(it));
    }
    list.extend(content);
    let made = even(8, 8, [1000, 700, 700, 500]);
    let photo = made
        .with(made::OPCODES_3, Value::Bytes(list))
        .open()
        .unwrap();
    holds(
        &photo,
        [1, 2],
        [part(1000.0), 2.0 * part(700.0), 3.0 * part(500.0)],
    );
}

/// A calibration of the very camera counts if it was made for the matrices that are stated.
#[test]
fn a_calibration_for_other_matrices_is_left_aside() {
    let swapped = Value::Fractions(vec![1.2, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.7]);
    let white = |made: Made| {
        let camera = made.open().unwrap().encoding.camera.unwrap();
        camera.white(NEUTRAL).unwrap()
    };
    let plain = white(even(4, 4, [1000; 4]));
    let made = even(4, 4, [1000; 4]).with(made::CALIBRATION, swapped);
    let own = white(made.clone());
    assert!((own[0] - plain[0]).abs() > 0.01, "{own:?}");
    let other = made.with(made::CALIBRATED_BY, Value::Bytes(b"larch\0".to_vec()));
    let other = white(other);
    assert!((other[0] - plain[0]).abs() < 1e-12, "{other:?}");
}
