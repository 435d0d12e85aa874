//! What the library keeps apart, whole and for good: photos of unknown hours, bytes as they were written, facts that can be, crops, numbers.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[path = "made/mod.rs"]
mod made;
mod shelf;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use masstone::library::document::Document;
use masstone::library::find::{Filter, Sort};
use masstone::library::notes::Note;
use masstone::library::{Library, load};
use masstone::picture::Crop;
use masstone::record::{Half, PhotoRecord, Record, json};
use sha2::{Digest as _, Sha256};
use shelf::{Generator, set_colour, set_uncertainty};
use std::io::Read as _;
use std::path::PathBuf;

const PATCHES: usize = 3;

/// A record made by hand, whose first reading has a colour.
fn mould() -> PhotoRecord {
    let mut it = made::measured("a.jpg");
    let mut good = it
        .readings
        .iter()
        .find(|it| it.l.is_some())
        .unwrap()
        .clone();
    set_colour(&mut good, [50.0, 10.0, 10.0]);
    set_uncertainty(&mut good, 0.04, 1.0);
    it.readings = vec![good];
    it.photo.panel.substrate = Some("planed larch".into());
    it.photo.panel.coating = Some("clear exterior coating, two-part".into());
    it.photo.panel.coats = Some(3.0);
    it
}

/// Photos of one panel at these hours.
fn photos(hours: &[Option<f64>]) -> Vec<PhotoRecord> {
    let mut generator = Generator::new(mould(), 1);
    let panel = generator.panel(0, PATCHES);
    let photo = |it: &Option<f64>| {
        let mut photo = generator.photo(&panel, it.unwrap_or(0.0));
        photo.photo.hours = *it;
        photo
            .readings
            .iter_mut()
            .for_each(|reading| reading.hours = *it);
        photo
    };
    hours.iter().map(photo).collect()
}

/// The whole of a photo in one colour.
fn all_of(photo: &mut PhotoRecord, lab: [f64; 3]) {
    for it in &mut photo.readings {
        set_colour(it, lab);
        set_uncertainty(it, 0.04, 1.0);
    }
}

fn small_jpeg(side: u32, shade: u8) -> Vec<u8> {
    let mut jpeg = Vec::new();
    let picture = image::RgbImage::from_pixel(side, side, image::Rgb([shade, 90, 60]));
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 80)
        .encode_image(&picture)
        .unwrap();
    jpeg
}

/// A crop of every half of every patch.
fn crops_of(photo: &PhotoRecord, shade: u8) -> Vec<Crop> {
    let crop = |it: &masstone::record::Reading| Crop {
        patch: it.patch.clone(),
        half: it.half,
        jpeg: small_jpeg(20, shade),
    };
    photo.readings.iter().map(crop).collect()
}

struct Shelf {
    folder: tempfile::TempDir,
}

impl Shelf {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn open(&self, name: &str) -> Library {
        Library::open_or_begin(&self.path(name)).unwrap()
    }

    fn raw(&self, name: &str) -> rusqlite::Connection {
        rusqlite::Connection::open(self.path(name)).unwrap()
    }
}

fn document(library: &Library) -> String {
    let mut out = Vec::new();
    library.export(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}

fn parsed(library: &Library) -> Document {
    serde_json::from_str(&document(library)).unwrap()
}

fn faults(library: &Library) -> Vec<String> {
    let faults = library.check().unwrap().faults;
    faults.into_iter().map(|it| it.what).collect()
}

#[track_caller]
fn is_well(library: &Library) {
    assert_eq!(faults(library), [""; 0]);
}

#[test]
fn photos_of_unknown_hours_are_not_averaged() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[None, None]);
    all_of(&mut all[0], [40.0, 10.0, 10.0]);
    all_of(&mut all[1], [60.0, 10.0, 10.0]);
    library.add(&all).unwrap();
    for it in &all {
        library.add_crops(it, &crops_of(it, 120)).unwrap();
    }
    is_well(&library);
    let ages = |library: &Library| -> Vec<(bool, Option<f64>, i64, usize)> {
        let ages = library.show(1).unwrap().ages;
        let age = |it: &masstone::library::show::Age| {
            #[expect(clippy::cast_possible_truncation, reason = "whole numbers")]
            let l = it.mean.lab.l.round() as i64;
            (it.exposure.masked, it.exposure.hours, l, it.mean.photos)
        };
        ages.iter().map(age).collect()
    };
    // Nobody knows that the two are of one age: each is what it is.
    let apart = [
        (false, None, 40, 1),
        (false, None, 60, 1),
        (true, None, 40, 1),
        (true, None, 60, 1),
    ];
    assert_eq!(ages(&library), apart);
    let listed = library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(listed.len(), PATCHES);
    assert_eq!(
        (listed[0].exposure.hours, listed[0].readings),
        (None, 1),
        "{listed:?}"
    );
    assert!((listed[0].lab.l - 40.0).abs() < 1e-9, "the first photo's");
    // Nor is one's picture in the place of the other's.
    let written = parsed(&library);
    assert_eq!(written.crops.len(), 2 * 2 * PATCHES);
    library.derive_anew().unwrap();
    is_well(&library);

    let mut other = shelf.open("other.sqlite");
    other.import(&written).unwrap();
    is_well(&other);
    assert_eq!(document(&other), document(&library));
    assert_eq!(
        other.list(&Filter::default(), Sort::Number).unwrap(),
        listed
    );

    // Once somebody knows, they are of one age.
    for it in &all {
        let hash = &it.photo.sha256;
        assert_eq!(library.amend_hours(hash, Some(500.0), None).unwrap(), 1);
    }
    is_well(&library);
    assert_eq!(
        ages(&library),
        [(false, Some(500.0), 50, 2), (true, Some(500.0), 50, 2)]
    );
    // Of each half the better picture is left.
    assert_eq!(parsed(&library).crops.len(), 2 * PATCHES);
}
