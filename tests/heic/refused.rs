//! Files that must be refused, and what else a container may say.

use super::boxes::{File, with_coded_size};
use super::data;
use masstone::photo::{Options, Photo, PhotoError, Problem};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::path::Path;

fn take(bytes: Vec<u8>) -> Result<Photo, PhotoError> {
    Photo::from_bytes(Path::new("board.heic"), bytes, &Options::default())
}

fn error(bytes: Vec<u8>) -> PhotoError {
    match take(bytes) {
        Ok(it) => panic!("taken: {} × {} pixels", it.width, it.height),
        Err(it) => it,
    }
}

fn refused(file: File, words: &[&str]) -> PhotoError {
    let it = error(file.written());
    for word in words {
        assert!(it.to_string().contains(word), "{it} lacks {word}");
    }
    assert!(it.hint().ends_with('.'), "{}", it.hint());
    it
}

fn file(name: &str) -> File {
    File::of(data(name))
}

const PLAIN: &str = "exif-turned-only.heic";
const TILES: &str = "tiles-turned-icc.heic";

#[test]
fn a_list_that_is_written_anew_changes_nothing() {
    for name in [PLAIN, TILES, "several.heic"] {
        let (one, two) = (
            take(data(name)).unwrap(),
            take(file(name).written()).unwrap(),
        );
        assert_eq!(one.row(9).codes(), two.row(9).codes());
        assert_eq!(one.metadata, two.metadata);
    }
}

trait Codes {
    fn codes(&self) -> Vec<u8>;
}

impl Codes for masstone::photo::Row<'_> {
    fn codes(&self) -> Vec<u8> {
        match self {
            Self::U8(codes) => codes.to_vec(),
            Self::U16(_) => panic!("a file of 8 bits"),
        }
    }
}

#[test]
fn other_codecs_are_named() {
    for (name, word) in [
        (b"av01", "AV1 (AVIF)"),
        (b"jpeg", "JPEG"),
        (b"vvc1", "H.266"),
        (b"abcd", "“abcd”"),
    ] {
        let it = refused(file(PLAIN).replace(b"iinf", b"hvc1", name), &[word]);
        assert!(matches!(it.problem, Problem::Variant { .. }), "{it}");
    }
    let it = error(data("four-two-two.heic"));
    assert!(it.to_string().contains("4:2:2"), "{it}");
}

#[test]
fn what_is_encrypted_or_transparent_or_needs_more_is_refused() {
    // An item's number, then that of its protection.
    let id = file(PLAIN).primary().to_be_bytes();
    let entry = |protection| [&[2, 0, 0, 0], &id[..], &[0, protection], b"hvc1"].concat();
    refused(
        file(PLAIN).replace(b"iinf", &entry(0), &entry(1)),
        &["encrypted"],
    );
    let id = file(PLAIN).primary();
    refused(file(PLAIN).property(id, b"abcd", b"", true), &["“abcd”"]);
    assert!(take(file(PLAIN).property(id, b"abcd", b"", false).written()).is_ok());
    let alpha = b"\0\0\0\0urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0";
    refused(auxiliary(alpha), &["alpha"]);
}

/// The thumbnail made into something else.
fn auxiliary(what_for: &[u8]) -> File {
    let mut file = file("several.heic");
    let at = (file.list(b"iref").windows(4))
        .position(|it| it == b"thmb")
        .unwrap();
    let from = file.list(b"iref")[at + 4..at + 6].try_into().unwrap();
    file.replace(b"iref", b"thmb", b"auxl").property(
        u16::from_be_bytes(from),
        b"auxC",
        what_for,
        true,
    )
}

#[test]
fn gain_maps_are_left_aside_and_noted() {
    let of_a_phone = b"\0\0\0\0urn:com:apple:photo:2020:aux:hdrgainmap\0";
    let photo = take(auxiliary(of_a_phone).written()).unwrap();
    assert!(photo.metadata.gain_map);
    let depth = b"\0\0\0\0urn:mpeg:mpegB:cicp:systems:auxiliary:depth\0";
    let photo = take(auxiliary(depth).written()).unwrap();
    assert!(!photo.metadata.gain_map);
    assert_eq!(photo.metadata.further_pictures, 2);
}

/// A cut of 120 × 90 whose middle is 10 right of and 5 above the picture's: its first pixel is at (50, 25).
#[test]
fn a_cut_is_made_before_the_turn_or_refused() {
    let numbers: [i32; 8] = [120, 1, 90, 1, 10, 1, -5, 1];
    let cut = numbers.map(i32::to_be_bytes).concat();
    let id = file(PLAIN).primary();
    let photo = take(file(PLAIN).property(id, b"clap", &cut, true).written()).unwrap();
    let whole = take(data(PLAIN)).unwrap();
    assert_eq!((photo.width, photo.height), (120, 90));
    for (x, y) in [(0, 0), (119, 0), (60, 45), (0, 89), (119, 89)] {
        assert_eq!(photo.code(x, y), whole.code(x + 50, y + 25), "{x}, {y}");
    }
    let id = file("mirrored.heic").primary();
    refused(
        file("mirrored.heic").property(id, b"clap", &cut, true),
        &["cut after it was turned"],
    );
}

#[test]
fn sizes_that_are_claimed_are_checked_before_memory_is_taken() {
    let size = |width: u32, height: u32| [0_u32, width, height].map(u32::to_be_bytes).concat();
    let id = file(PLAIN).primary();
    let it = refused(
        file(PLAIN).property(id, b"ispe", &size(100_000, 100_000), false),
        &["100000 × 100000", "250"],
    );
    assert!(matches!(it.problem, Problem::TooLarge { .. }), "{it}");
    // Only the container claims it.
    refused(
        file(PLAIN).property(id, b"ispe", &size(16_000, 12_000), false),
        &["200 × 150", "16000 × 12000"],
    );
    // Only the bit stream does, of the picture or of a tile.
    for name in [PLAIN, TILES] {
        let mut file = file(name);
        let settings = with_coded_size(&file.stored(b"hvcC"), 65_528, 65_528);
        let id = if name == PLAIN {
            id
        } else {
            first_tile(&mut file)
        };
        refused(
            file.property(id, b"hvcC", &settings, true),
            &["65528 × 65528"],
        );
    }
    // A second description, under the name of another kind of settings.
    let mut hidden = file(PLAIN);
    let settings = hidden.stored(b"hvcC");
    let larger = with_coded_size(&settings, 65_528, 65_528);
    let at = larger
        .windows(3)
        .position(|it| it == b"\x42\x01\x01")
        .unwrap();
    let length = usize::from(u16::from_be_bytes(larger[at - 2..at].try_into().unwrap()));
    let mut both = settings;
    both[22] += 1;
    both.extend([&[34, 0, 1], &larger[at - 2..at + length]].concat());
    refused(
        hidden.property(id, b"hvcC", &both, true),
        &["not one description"],
    );
    // Both do, far beyond what the data can hold.
    let mut file = file(PLAIN);
    let settings = with_coded_size(&file.stored(b"hvcC"), 16_000, 15_600);
    let file = file.property(id, b"hvcC", &settings, true).property(
        id,
        b"ispe",
        &size(16_000, 15_600),
        false,
    );
    let it = refused(file, &["bytes can't hold 16000 × 15600"]);
    assert!(matches!(it.problem, Problem::Truncated(_)), "{it}");
}

#[test]
fn tiles_that_are_cut_missing_or_doubled_are_refused() {
    let mut bytes = data(TILES);
    // The first tile's first unit says that it is longer than the tile.
    let at = bytes.windows(4).position(|it| it == b"mdat").unwrap() + 4;
    bytes[at + 1] = 1;
    let it = error(bytes);
    assert!(matches!(it.problem, Problem::Truncated(_)), "{it}");
    let first = first_tile(&mut file(TILES));
    let pair = |second: u16| [first.to_be_bytes(), second.to_be_bytes()].concat();
    for (second, word) in [(first, "a tile twice"), (99, "99")] {
        let file = file(TILES).replace(b"iref", &pair(first + 1), &pair(second));
        refused(file, &[word]);
    }
}

/// After its box's name: the grid's number, how many tiles there are, and their numbers.
fn first_tile(file: &mut File) -> u16 {
    let list = file.list(b"iref");
    let at = list.windows(4).position(|it| it == b"dimg").unwrap();
    u16::from_be_bytes(list[at + 8..at + 10].try_into().unwrap())
}

#[test]
fn endless_lists_are_refused() {
    let mut empty = file(PLAIN);
    empty.list(b"iloc")[4] = 0;
    refused(empty, &["no places"]);
    let mut many = file(PLAIN);
    let entries = [0_u8, 1, 0].repeat(20_000);
    let list = [&[0, 0, 0, 0], &20_000_u32.to_be_bytes()[..], &entries].concat();
    let length = u32::try_from(list.len() + 8).unwrap().to_be_bytes();
    (many.list(b"iprp")).extend([&length, &b"ipma"[..], &list].concat());
    refused(many, &["2000", "parts"]);
    let mut many = file(PLAIN);
    let id = many.primary();
    for _ in 0..70 {
        many = many.property(id, b"pasp", &[0, 0, 0, 1, 0, 0, 0, 1], false);
    }
    refused(many, &["more properties"]);
}

/// Every cut, and thousands of changed bytes: most are refused, some make another valid picture, nothing panics or asks for
/// memory.
#[test]
fn damaged_files_never_panic() {
    let sound = |result: Result<Photo, PhotoError>, what: &str| match result {
        Ok(_) => true,
        Err(it) => {
            assert!(!it.to_string().contains("unexpectedly"), "{what}: {it}");
            false
        }
    };
    let mut draws = ChaCha8Rng::seed_from_u64(8);
    let mut number = |below: usize| usize::try_from(draws.next_u32()).unwrap() % below;
    for name in [PLAIN, TILES, "several.heic", "ten-bit-icc.heic"] {
        let bytes = data(name);
        for length in (0..bytes.len()).step_by(3) {
            let whole = sound(take(bytes[..length].to_vec()), name);
            assert!(!whole, "{name} cut at {length} was taken");
        }
        let lists = bytes.windows(4).position(|it| it == b"mdat").unwrap();
        let mut taken = [0, 0];
        for round in 0..2000 {
            let mut damaged = bytes.clone();
            // The lists are where the traps are.
            let in_data = round % 4 == 0;
            for _ in 0..=round % 3 {
                let at = if in_data {
                    lists + number(bytes.len() - lists)
                } else {
                    number(lists)
                };
                damaged[at] = u8::try_from(number(256)).unwrap();
            }
            let passed = sound(take(damaged), &format!("{name}, round {round}"));
            taken[usize::from(in_data)] += usize::from(passed);
        }
        println!(
            "{name}: of 1500 damaged lists {} passed, of 500 damaged data {}",
            taken[0], taken[1]
        );
    }
    if let Some(peak) = peak_mib() {
        println!("peak memory {peak} MiB");
        assert!(peak < 1500, "{peak} MiB");
    }
}

/// The largest resident memory of this process so far, where the system tells it.
fn peak_mib() -> Option<usize> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|it| it.strip_prefix("VmHWM:"))?;
    let kib: usize = line.split_whitespace().next()?.parse().ok()?;
    Some(kib / 1024)
}
