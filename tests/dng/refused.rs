//! Raw files that must be refused with the reason, or read with a remark.

use super::made::{self, Made, Value, even};
use masstone::photo::Problem;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

fn sound() -> Made {
    even(8, 8, [1000, 2000, 2000, 700])
}

#[track_caller]
fn refused(made: &Made, words: &str) {
    let why = made.refusal();
    assert!(why.contains(words), "“{why}” lacks “{words}”");
    let hint = made.open().unwrap_err();
    assert!(hint.hint().ends_with('.'), "{}", hint.hint());
}

#[test]
fn packings_that_are_not_read_are_named() {
    let packed = |method| sound().with(made::COMPRESSION, Value::Shorts(vec![method]));
    refused(&packed(34_892), "lossy JPEG (34892)");
    refused(&packed(52_546), "JPEG XL (52546)");
    refused(&packed(5), "method 5");
    let differences = packed(8).with(made::PREDICTOR, Value::Shorts(vec![34_894]));
    refused(&differences, "predictor 34894");
}

#[test]
fn values_that_are_no_sensors_are_refused() {
    refused(&sound().with(made::BITS, Value::Shorts(vec![8])), "8 bits");
    refused(
        &sound().with(made::SAMPLE_FORMAT, Value::Shorts(vec![3])),
        "not whole numbers",
    );
    refused(
        &sound().with(made::PHOTOMETRIC, Value::Shorts(vec![2])),
        "only pictures made of them",
    );
    refused(
        &sound().with(254, Value::Longs(vec![1])),
        "only pictures made of them",
    );
    refused(
        &sound().with(made::SAMPLES, Value::Shorts(vec![4])),
        "4 values a pixel",
    );
}

#[test]
fn without_a_white_level_the_reader_is_told() {
    let photo = sound().without(made::WHITE).open().unwrap();
    let remarks = photo.metadata.remarks.join("\n");
    assert!(remarks.contains("where its sensor ends"), "{remarks}");
    // Then it is the largest value that the bits can hold.
    let green = f64::from(photo.linear(1, 1)[1]);
    assert!(
        (green - (2000.0 - 256.0) / (65_535.0 - 256.0)).abs() < 1e-4,
        "{green}"
    );
    assert!(sound().open().unwrap().metadata.remarks.is_empty());
}

#[test]
fn levels_that_contradict_each_other_are_refused() {
    refused(
        &sound().with(made::BLACK, Value::Shorts(vec![4000])),
        "black is not below white",
    );
    refused(
        &sound().with(made::BLACK, Value::Shorts(vec![1, 2, 3])),
        "3 levels where it repeats in 1",
    );
    refused(
        &sound().with(made::BLACK_REPEAT, Value::Shorts(vec![0, 2])),
        "how black repeats",
    );
}

#[test]
fn areas_outside_of_the_picture_are_refused() {
    let active = |it: [u32; 4]| sound().with(made::ACTIVE, Value::Longs(it.to_vec()));
    refused(&active([0, 0, 9, 8]), "outside");
    refused(&active([4, 4, 4, 8]), "outside");
    let crop = sound().with(made::CROP_SIZE, Value::Longs(vec![9, 8]));
    refused(&crop, "outside");
    let nothing = sound().with(made::CROP_SIZE, Value::Longs(vec![1, 1]));
    refused(&nothing, "outside");
}

#[test]
fn colours_that_are_not_known_are_refused() {
    refused(&sound().without(made::MATRIX), "no matrix");
    let flat = Value::Fractions(vec![1.0; 9]);
    refused(&sound().with(made::MATRIX, flat), "can't be inverted");
    let four = Value::Fractions(vec![1.0; 12]);
    refused(&sound().with(made::MATRIX, four), "12 numbers");
    refused(
        &sound().with(made::NEUTRAL, Value::Fractions(vec![1.0, 0.0, 1.0])),
        "three gains",
    );
    let cyan = Value::Bytes(vec![0, 1, 3, 2]);
    refused(
        &sound().with(made::CFA_PATTERN, cyan),
        "not red, green and blue",
    );
    refused(&sound().without(made::CFA_PATTERN), "pattern");
}

#[test]
fn claims_are_checked_before_memory_is_taken() {
    let huge = |side: u32| {
        let side = Value::Longs(vec![side]);
        sound()
            .with(made::WIDTH, side.clone())
            .with(made::LENGTH, side)
    };
    let error = huge(100_000).open().unwrap_err();
    assert!(matches!(error.problem, Problem::TooLarge { .. }), "{error}");
    assert!(matches!(
        huge(u32::MAX).open().unwrap_err().problem,
        Problem::TooLarge { .. }
    ));
    refused(&huge(15_000), "end before the picture does");
    let packed = |method| huge(15_000).with(made::COMPRESSION, Value::Shorts(vec![method]));
    refused(&packed(7), "end before the picture does");
    refused(&packed(8), "end before the picture does");
    refused(
        &sound().with(made::WIDTH, Value::Shorts(vec![0])),
        "no pixels",
    );
    let beyond = sound().with(made::STRIP_OFFSETS, Value::Longs(vec![u32::MAX]));
    refused(&beyond, "beyond the end");
    let more = sound().with(made::STRIP_OFFSETS, Value::Longs(vec![8, 8]));
    refused(&more, "is not stated");
}

/// Tiles that claim far more than the picture, all of them the same few bytes.
#[test]
fn tiles_that_hold_more_than_the_picture_are_refused() {
    let tiles = |width: u32, length: u32, count: usize| {
        let mut made = sound().without(made::STRIP_OFFSETS);
        made.entries.insert(322, Value::Longs(vec![width]));
        made.entries.insert(323, Value::Longs(vec![length]));
        made.entries.insert(324, Value::Longs(vec![8; count]));
        made.entries.insert(325, Value::Longs(vec![100; count]));
        made.with(made::COMPRESSION, Value::Shorts(vec![8]))
    };
    refused(&tiles(16, 200_000_000, 1), "size of its tiles");
    refused(&tiles(4, 3_000_000, 2), "size of its tiles");
    let wide = tiles(16, 200_000, 6250)
        .with(made::WIDTH, Value::Longs(vec![100_000]))
        .with(made::LENGTH, Value::Longs(vec![100]));
    refused(&wide, "size of its tiles");
}

#[test]
fn gain_maps_that_no_lens_needs_are_refused_at_once() {
    let map = |pitch: u32, points: u32, values: usize| {
        let mut content = Vec::new();
        for it in [0, 0, 8, 8, 0, 1, 1, pitch, points, 1] {
            content.extend(u32::to_be_bytes(it));
        }
        for it in [1.0_f64, 1.0, 0.0, 0.0] {
            content.extend(it.to_be_bytes());
        }
        content.extend(1_u32.to_be_bytes());
        content.extend(1.0_f32.to_be_bytes().repeat(values));
        content
    };
    let asking = |list| sound().with(made::OPCODES_2, list);
    refused(&asking(wish(9, 0, &map(1, 2000, 2000))), "contradict");
    // A pitch beyond the picture is one column, found without counting to it.
    assert!(asking(wish(9, 0, &map(u32::MAX, 1, 1))).open().is_ok());
    let Value::Bytes(one) = wish(9, 0, &map(1, 1, 1)) else {
        unreachable!()
    };
    let mut many = 2000_u32.to_be_bytes().to_vec();
    many.extend(one[4..].repeat(2000));
    refused(&asking(Value::Bytes(many)), "opcode 9");
    // What is asked of stored values, black and all, is another thing.
    let early = sound().with(made::OPCODES_1, wish(9, 0, &map(1, 1, 1)));
    refused(&early, "opcode 9");
}

/// A broken entry that nobody asks for does not hide what the file is.
#[test]
fn entries_that_are_not_needed_may_be_broken() {
    let mut bytes = sound().with(700, Value::Longs(vec![0; 4])).bytes();
    let entry = bytes
        .windows(4)
        .position(|it| it == [0xbc, 2, 4, 0])
        .unwrap();
    bytes[entry + 8..entry + 12].fill(0xf0);
    let options = masstone::photo::Options::default();
    masstone::photo::Photo::from_bytes("made.dng".as_ref(), bytes, &options).unwrap();
}

/// A list with one wish.
fn wish(kind: u32, flags: u32, content: &[u8]) -> Value {
    let mut list = Vec::new();
    for it in [
        1,
        kind,
        0x0103_0000,
        flags,
        u32::try_from(content.len()).unwrap(),
    ] {
        list.extend(u32::to_be_bytes(it));
    }
    list.extend(content);
    Value::Bytes(list)
}

#[test]
fn corrections_that_are_not_read_are_refused_or_told() {
    let asking = |list| sound().with(made::OPCODES_2, list);
    refused(&asking(wish(8, 0, &[0; 8])), "opcode 8");
    let photo = asking(wish(8, 1, &[0; 8])).open().unwrap();
    assert!(
        photo.metadata.remarks[0].contains("opcode 8"),
        "{:?}",
        photo.metadata.remarks
    );
    // Straightening is left to location.
    assert!(
        asking(wish(1, 0, &[0; 8]))
            .open()
            .unwrap()
            .metadata
            .remarks
            .is_empty()
    );
    refused(&asking(wish(9, 0, &[0; 20])), "contradict");
    refused(&asking(Value::Bytes(vec![0, 0, 0, 9, 0])), "contradict");
}

#[test]
fn damaged_files_are_refused_without_a_panic() {
    // Every byte of the directory and its values in turn, and every length.
    let whole = sound().bytes();
    let strip = 8 + 2 * 64;
    for at in (0..8).chain(strip..whole.len()) {
        for value in [0, 0xff, whole[at] ^ 1] {
            let mut bytes = whole.clone();
            bytes[at] = value;
            let options = masstone::photo::Options::default();
            if let Err(error) =
                masstone::photo::Photo::from_bytes("made.dng".as_ref(), bytes, &options)
            {
                let why = error.to_string();
                assert!(!why.contains("unexpectedly"), "byte {at} to {value}: {why}");
            }
        }
    }
    for length in 0..whole.len() {
        let bytes = whole[..length].to_vec();
        let options = masstone::photo::Options::default();
        let error = masstone::photo::Photo::from_bytes("made.dng".as_ref(), bytes, &options);
        assert!(
            !error.unwrap_err().to_string().contains("unexpectedly"),
            "{length} bytes"
        );
    }
}

/// Damage in the middle of files as cameras write them: bytes, runs of them and ends, drawn from a fixed seed.
#[test]
fn damaged_tiles_are_refused_or_read_without_a_panic() {
    let mut draws = ChaCha8Rng::seed_from_u64(41);
    let names = [
        "phone.dng",
        "lossless-7-companded.dng",
        "linear-lossless.dng",
        "masked-odd.dng",
        "packed-10-bggr.dng",
    ];
    let mut refused = 0;
    for name in names {
        let whole = std::fs::read(super::oracle::folder().join(name)).unwrap();
        for _ in 0..120 {
            let mut bytes = whole.clone();
            let mut at = || usize::try_from(draws.next_u64() % whole.len() as u64).unwrap();
            let (from, kind) = (at(), at() % 3);
            match kind {
                0 => bytes[from] = u8::try_from(at() % 256).unwrap(),
                1 => {
                    let until = (from + 40).min(whole.len());
                    bytes[from..until].fill(0xff);
                }
                _ => bytes.truncate(from),
            }
            let options = masstone::photo::Options::default();
            let taken = masstone::photo::Photo::from_bytes(name.as_ref(), bytes, &options);
            if let Err(error) = taken {
                let why = error.to_string();
                assert!(!why.contains("unexpectedly"), "{name}: {why}");
                refused += 1;
            }
        }
    }
    assert!(refused > 200, "{refused}");
}
