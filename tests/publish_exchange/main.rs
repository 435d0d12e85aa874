//! A published range for other programs: each format read back by a parser that isn't ours, every number of every swatch compared.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod by_hand;
mod cgats;
mod css;
mod csv;
mod json;
mod shelves;
mod tokens;

use masstone::publish::Range;
use masstone::publish::exchange::{Format, files};
use std::collections::BTreeSet;

/// Both ranges: made by hand, and out of a library.
fn ranges() -> [&'static Range; 2] {
    [by_hand::range(), shelves::range()]
}

/// A file of a range, as text.
fn text(range: &Range, name: &str) -> String {
    let all = Format::ALL.into_iter().flat_map(|it| files(range, it));
    let (_, bytes) = all.into_iter().find(|it| it.0 == name).unwrap();
    String::from_utf8(bytes).unwrap()
}

/// Whether two numbers are the same to half of the last of so many decimals.
#[track_caller]
fn same(read: f64, meant: f64, decimals: i32, what: &str) {
    let half = 0.500_001 * 10_f64.powi(-decimals);
    assert!((read - meant).abs() <= half, "{what}: {read}, not {meant}");
}

/// XYZ, 1 for white, by the formulas of CIE 15 written out here; relative to D50 of ISO 13655 as `palette` has it.
fn xyz(lab: [f64; 3]) -> [f64; 3] {
    let middle = (lab[0] + 16.0) / 116.0;
    let ratio = |f: f64| {
        if f > 6.0 / 29.0 {
            f.powi(3)
        } else {
            3.0 * (6.0_f64 / 29.0).powi(2) * (f - 4.0 / 29.0)
        }
    };
    [
        0.96422 * ratio(middle + lab[1] / 500.0),
        ratio(middle),
        0.82521 * ratio(middle - lab[2] / 200.0),
    ]
}

#[test]
fn both_ranges_hold_what_matters() {
    use masstone::publish::Shows::{DisplayP3, Neither, Srgb};
    let shows: Vec<_> = (by_hand::range().swatches.iter())
        .map(|it| it.tone.shows())
        .collect();
    for it in [Srgb, DisplayP3, Neither] {
        assert!(shows.contains(&it), "{it:?} in {shows:?}");
    }
    let shelves = shelves::range();
    assert!(shelves.swatches.len() > 20);
    assert!(shelves.swatches.iter().any(|it| it.ages.len() > 2));
    assert!(shelves.swatches.iter().any(|it| !it.exposed.is_empty()));
    assert!(shelves.swatches.iter().all(|it| !it.readings.is_empty()));
    for name in by_hand::NAMES {
        assert!(
            shelves.swatches.iter().any(|it| it.name == name),
            "{name:?}"
        );
    }
}

#[test]
fn words_and_files_are_each_another() {
    let mut names = BTreeSet::new();
    for format in Format::ALL {
        assert_eq!(Format::from_word(format.word()), Some(format));
        let written = files(by_hand::range(), format);
        assert_eq!(written.len(), format.files().len());
        for (file, (name, bytes)) in format.files().iter().zip(written) {
            assert_eq!(file.name, name);
            assert!(names.insert(name), "{}", file.name);
            assert!(file.says.ends_with('.') && !bytes.is_empty());
            assert!(
                (file.name.bytes()).all(|it| it.is_ascii_lowercase() || it == b'.'),
                "{}",
                file.name
            );
        }
    }
    assert_eq!(Format::from_word("CSV"), None);
}

#[test]
fn the_same_range_gives_the_same_bytes() {
    for range in ranges() {
        for format in Format::ALL {
            assert_eq!(files(range, format), files(&range.clone(), format));
        }
    }
    // Gathered once more out of the same library.
    let again = shelves::gather();
    assert_eq!(&again, shelves::range());
    for format in Format::ALL {
        assert_eq!(files(&again, format), files(shelves::range(), format));
    }
}

/// Renaming changes no place that a link or a program could hold on to.
#[test]
fn ids_outlive_names() {
    let mut renamed = shelves::range().clone();
    for it in &mut renamed.swatches {
        it.name = "all alike".to_owned();
    }
    let ids = |range: &Range| -> Vec<String> {
        let value: serde_json::Value =
            serde_json::from_str(&text(range, "swatches.tokens.json")).unwrap();
        let tokens = value.as_object().unwrap().keys();
        tokens.cloned().collect()
    };
    assert_eq!(ids(&renamed), ids(shelves::range()));
    assert_eq!(ids(&renamed).len(), renamed.swatches.len() + 1);
    assert_eq!(
        css::properties(&text(&renamed, "swatches.css")),
        css::properties(&text(shelves::range(), "swatches.css"))
    );
}

#[test]
fn a_page_says_which_colours_under_the_mask_rest_on_dose_0() {
    let page = |correction: &str| {
        let mut range = by_hand::range().clone();
        range.swatches.truncate(1);
        // The reading that counts is of a masked half after half an hour.
        range.swatches[0].readings[0].correction = correction.to_owned();
        let files = masstone::publish::site::files(&range);
        String::from_utf8(files["swatches/17.html"].clone()).unwrap()
    };
    let says = |page: &str| page.contains("no fresh measurement");
    assert!(says(&page("linear masked:0a1b")));
    assert!(!says(&page("linear")));
    assert!(!says(&page("linear correction:0a1b")));
}
