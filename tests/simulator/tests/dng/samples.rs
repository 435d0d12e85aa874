//! The committed files.

use crate::tags::{File, numbers};
use std::path::Path;

#[path = "../../src/bin/dng-samples/samples.rs"]
mod written;

fn committed(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/photo/dng");
    std::fs::read(folder.join(format!("{name}.dng"))).expect("a committed file")
}

/// All seven predictors at their ends: the files that two other libraries have read are what is written now. (Those of scenes are
/// not compared: their noise may round otherwise on another machine.)
#[test]
fn lossless_files_are_those_that_other_libraries_read() {
    for predictor in 1..=7 {
        let name = format!("extremes-{predictor}");
        let file = written::extremes(predictor).unwrap();
        assert!(
            file == committed(&name),
            "{name}.dng has changed: write the samples again and run the oracle"
        );
    }
}

/// The other committed files have the sizes, codings and filters that are written now.
#[test]
fn committed_files_are_of_this_writer() {
    for sample in written::samples() {
        let [now, then] = [sample.file().unwrap(), committed(sample.name)].map(File::open);
        assert_eq!(now.first.len(), then.first.len(), "{}", sample.name);
        assert_eq!(now.exif, then.exif, "{}", sample.name);
        for (tag, value) in &now.raw {
            // Where chunks are, how long they are, and what is below.
            if [273, 279, 324, 325, 330, 34665].contains(tag) {
                continue;
            }
            let other = &then.raw[tag];
            if numbers_of(value) != numbers_of(other) {
                panic!("{}: tag {tag} is {value:?}, was {other:?}", sample.name);
            }
        }
    }
}

/// Numbers to four decimals; text has none.
fn numbers_of(value: &tiff::decoder::ifd::Value) -> Vec<String> {
    match value {
        tiff::decoder::ifd::Value::Ascii(text) => vec![text.clone()],
        other => numbers(other).iter().map(|it| format!("{it:.4}")).collect(),
    }
}
