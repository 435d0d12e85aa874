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

fn unpacked(packed: &[u8]) -> String {
    let mut text = String::new();
    flate2::read::ZlibDecoder::new(packed)
        .read_to_string(&mut text)
        .unwrap();
    text
}

fn packed(text: &str) -> Vec<u8> {
    let mut packed = Vec::new();
    flate2::read::ZlibEncoder::new(text.as_bytes(), flate2::Compression::fast())
        .read_to_end(&mut packed)
        .unwrap();
    packed
}

/// What an earlier program wrote, which had not heard of a key that this one writes as null: nothing of it is damaged, and the same
/// photo, panel and swatch are the same.
#[test]
fn keys_that_came_later_make_no_record_damaged_and_nothing_another_thing() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[Some(0.0), Some(500.0)]);
    let second = all.pop().unwrap();
    library.add(&all).unwrap();
    drop(library);

    let raw = shelf.raw("l.sqlite");
    let column = |sql: &str| -> Vec<u8> { raw.query_row(sql, [], |row| row.get(0)).unwrap() };
    let without = |text: &str, keys: &[&str]| {
        let shorter = keys
            .iter()
            .fold(text.to_owned(), |text, key| text.replacen(key, "", 1));
        assert!(shorter.len() < text.len(), "{text}");
        shorter
    };
    let panel = without(
        &unpacked(&column("SELECT entry FROM panel")),
        &["\"title\":null,", "\"edition\":null,"],
    );
    raw.execute("UPDATE panel SET entry = ?1", [packed(&panel)])
        .unwrap();
    let entry = packed(&without(
        &unpacked(&column("SELECT entry FROM measurement")),
        &["\"corners\":null,"],
    ));
    // The digest is taken over what is stored: when it came, its history, then reading by reading.
    let added: String = raw
        .query_row("SELECT added FROM measurement", [], |row| row.get(0))
        .unwrap();
    let mut hash = Sha256::new();
    hash.update(&added);
    hash.update(&entry);
    let mut statement = raw
        .prepare(
            "SELECT patch, half, u95, detail FROM reading JOIN specimen ON specimen.id = specimen ORDER BY place",
        )
        .unwrap();
    let mut rows = statement.query([]).unwrap();
    while let Some(row) = rows.next().unwrap() {
        let (patch, half): (String, u8) = (row.get(0).unwrap(), row.get(1).unwrap());
        hash.update(patch);
        hash.update([0, half]);
        hash.update(row.get::<_, f64>(2).unwrap().to_le_bytes());
        hash.update(row.get::<_, Vec<u8>>(3).unwrap());
    }
    drop(rows);
    drop(statement);
    raw.execute(
        "UPDATE measurement SET entry = ?1, digest = ?2",
        rusqlite::params![entry, hash.finalize()[..16].to_vec()],
    )
    .unwrap();
    drop(raw);

    let mut library = shelf.open("l.sqlite");
    is_well(&library);
    let report = library.add(&all).unwrap();
    assert_eq!((report.same, report.conflicts.len()), (1, 0), "{report:?}");
    let report = library.add(&[second]).unwrap();
    assert_eq!((report.photos, report.notes.len()), (1, 0), "{report:?}");
    is_well(&library);
    let count = |sql: &str| -> i64 {
        let raw = shelf.raw("l.sqlite");
        raw.query_row(sql, [], |row| row.get(0)).unwrap()
    };
    assert_eq!(count("SELECT count(*) FROM panel"), 1, "the same revision");
    assert_eq!(
        count("SELECT count(*) FROM swatch"),
        i64::try_from(PATCHES).unwrap()
    );
}

/// A record with one thing changed, as a file; what is said of it, and how many readings are left.
fn loaded(shelf: &Shelf, change: &dyn Fn(&mut serde_json::Value)) -> (Vec<String>, usize) {
    let mut out = Vec::new();
    json::write(&Record::new(photos(&[Some(0.0)])), &mut out).unwrap();
    let mut value: serde_json::Value = serde_json::from_slice(&out).unwrap();
    change(&mut value);
    let path = shelf.path("record.json");
    let text = format!("{value:#}");
    std::fs::write(&path, &text).unwrap();
    let loaded = load::load(&path).unwrap();
    let readings = loaded.photos.iter().map(|it| it.readings.len()).sum();
    let told = loaded.bad.iter().map(|it| {
        let mut place = it.place.rsplitn(3, ':').skip(1);
        let line: usize = place.next().unwrap().parse().unwrap();
        assert!(
            place.next().unwrap().ends_with("record.json") && line <= text.lines().count(),
            "{it}"
        );
        it.to_string()
    });
    (told.collect(), readings)
}

#[test]
fn facts_that_cannot_be_are_named_and_cost_no_more_than_their_patch() {
    let shelf = Shelf::new();
    let of_patch = |key: &'static str, to: serde_json::Value| {
        move |value: &mut serde_json::Value| {
            value["photos"][0]["panel"]["patches"][1][key] = to.clone();
        }
    };
    let pigment = |name: &str, load: f64| serde_json::json!([{ "pigment": name, "load": load }]);
    let known = |l: f64, u95: f64| serde_json::json!({ "lab": [l, 0.0, 0.0], "uncertainty": u95, "reflectance": null });
    for (key, to, says) in [
        ("coats", (-3.0).into(), "coats of -3"),
        ("coats", 0.0.into(), "coats of 0"),
        ("wet_g_per_m2", (-240.0).into(), "wet_g_per_m2 of -240"),
        ("pigments", pigment("", 3.0), "a pigment without a name"),
        ("pigments", pigment(" \t", 3.0), "a pigment without a name"),
        ("pigments", pigment("PR101", -1.0), "a load of -1 of PR101"),
        (
            "pigments",
            pigment("PR101", 250.0),
            "a load of 250 of PR101",
        ),
        ("name", "  ".into(), "an empty name"),
        ("lot", "".into(), "an empty lot"),
        ("substrate", "".into(), "an empty substrate"),
        ("coating", "".into(), "an empty coating"),
        ("control", "clear".into(), "a control with pigments"),
        ("known", known(500.0, 1.0), "no surface has that colour"),
        ("known", known(50.0, -1.0), "an uncertainty of -1"),
    ] {
        let (told, left) = loaded(&shelf, &of_patch(key, to));
        let [told] = &told[..] else {
            panic!("{key}: {told:?}");
        };
        assert!(
            told.contains("patch P1") && told.contains(says),
            "{key}: {told}"
        );
        assert_eq!(left, 2 * (PATCHES - 1), "{key}: the other patches are good");
    }
    // What is known for sure, or not at all, has no weight in a mean.
    for variance in [0.0, 1e-320, 1e300] {
        let (told, left) = loaded(&shelf, &|value| {
            for key in ["cov_own", "cov_common"] {
                let it = variance;
                value["readings"][0][key] = serde_json::json!([[it, 0, 0], [0, it, 0], [0, 0, it]]);
            }
        });
        assert!(
            told.len() == 1 && told[0].contains("add up to a variance of"),
            "{variance}: {told:?}"
        );
        assert_eq!(left, 2 * PATCHES - 1);
    }
    // What is said of the whole panel takes the photo with it, and is said once.
    for (key, to, says) in [
        ("coats", serde_json::json!(-3.0), "coats of -3"),
        ("substrate", "".into(), "an empty substrate"),
        ("coating", " ".into(), "an empty coating"),
        ("id", "".into(), "its panel has no id"),
    ] {
        let (told, left) = loaded(&shelf, &|value| {
            value["photos"][0]["panel"][key] = to.clone();
        });
        assert!(told.len() == 1 && told[0].contains(says), "{key}: {told:?}");
        assert_eq!(left, 0);
    }
    assert_eq!(loaded(&shelf, &|_| ()), (Vec::new(), 2 * PATCHES));
    // What is left of a record with a bad patch is well in the library, and comes out and back.
    loaded(&shelf, &of_patch("coats", (-3.0).into()));
    let good = load::load(&shelf.path("record.json")).unwrap().photos;
    let mut library = shelf.open("l.sqlite");
    library.add(&good).unwrap();
    is_well(&library);
    let mut other = shelf.open("other.sqlite");
    other.import(&parsed(&library)).unwrap();
    is_well(&other);
}

#[test]
fn a_crop_that_is_none_is_not_taken() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let all = photos(&[Some(0.0)]);
    library.add(&all).unwrap();
    library.add_crops(&all[0], &crops_of(&all[0], 120)).unwrap();
    let good = parsed(&library);
    let with = |change: &dyn Fn(&mut masstone::library::document::CropOfSpecimen)| {
        let mut document = good.clone();
        change(&mut document.crops[1]);
        let name = "import.sqlite";
        let _ = std::fs::remove_file(shelf.path(name));
        let mut library = shelf.open(name);
        let done = library.import(&document).map(|_| ());
        let empty = parsed(&library).measurements.is_empty();
        assert_eq!(empty, done.is_err(), "all or nothing");
        done.map_err(|it| it.to_string())
    };
    with(&|_| ()).unwrap();
    let mut grey = Vec::new();
    image::codecs::jpeg::JpegEncoder::new(&mut grey)
        .encode_image(&image::GrayImage::new(20, 20))
        .unwrap();
    let mut png = Vec::new();
    image::RgbImage::new(20, 20)
        .write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png)
        .unwrap();
    let whole = small_jpeg(20, 120);
    let mut long = whole.clone();
    long.resize(17_000, 0);
    // A profile of its own: the chunk of an ICC profile after the picture's beginning.
    let mut profiled = whole[..2].to_vec();
    profiled.extend([0xff, 0xe2, 0, 20]);
    profiled.extend(b"ICC_PROFILE\0\x01\x01abcd");
    profiled.extend(&whole[2..]);
    for (jpeg, says) in [
        (b"\xff\xd8 nothing".to_vec(), "JPEG"),
        (png, "JPEG"),
        (grey, "grey"),
        (small_jpeg(400, 120), "400 x 400"),
        (whole[..whole.len() - 40].to_vec(), "JPEG"),
        (long, "17000 bytes"),
        (profiled, "profile"),
    ] {
        let text = STANDARD.encode(jpeg);
        let told = with(&|crop| crop.jpeg.clone_from(&text)).unwrap_err();
        assert!(
            told.contains(says) && told.contains("crop of panel-0/P0 exposed"),
            "{says}: {told}"
        );
    }
    for told in [
        with(&|it| it.jpeg = "no base64 !".into()),
        with(&|it| it.u95 = -1.0),
        with(&|it| it.hours = Some(-4.0)),
        // A picture of an age at which the photo was not taken.
        with(&|it| it.hours = Some(77.0)),
        with(&|it| it.photo = "0".repeat(64)),
        with(&|it| it.half = Half::Whole),
    ] {
        let told = told.unwrap_err();
        assert!(told.contains("crop of panel-0/P0"), "{told}");
    }
}

#[test]
fn a_corrected_recipe_keeps_its_crops() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[Some(0.0), Some(500.0)]);
    library.add(&all).unwrap();
    for (it, shade) in all.iter().zip([100, 200]) {
        library.add_crops(it, &crops_of(it, shade)).unwrap();
    }
    let before = parsed(&library).crops;
    assert_eq!(before.len(), 2 * 2 * PATCHES);
    for it in &mut all {
        it.photo.panel.patches[1].pigments[0].load += 0.25;
    }
    library.amend(&all, Some("weighed wrongly")).unwrap();
    is_well(&library);
    let after = parsed(&library).crops;
    assert_eq!(after.len(), before.len());
    for old in &before {
        let same = after.iter().find(|it| {
            (&it.specimen.panel, &it.specimen.patch, it.half, &it.photo)
                == (
                    &old.specimen.panel,
                    &old.specimen.patch,
                    old.half,
                    &old.photo,
                )
        });
        assert_eq!(same.unwrap().jpeg, old.jpeg);
    }
    // A crop of a half that the patch doesn't have is none of it.
    let mut whole = all.clone();
    for it in &mut whole {
        it.photo.panel.patches[1].masked = None;
        it.readings
            .retain(|it| it.patch != "P1" || it.half == Half::Exposed);
        let only = it.readings.iter_mut().find(|it| it.patch == "P1");
        only.unwrap().half = Half::Whole;
    }
    library.amend(&whole, None).unwrap();
    is_well(&library);
    assert_eq!(parsed(&library).crops.len(), before.len() - 4);
}

/// Beside a number of coats, the weight is the specimen's, and no part of what the swatch is.
#[test]
fn a_corrected_weight_reaches_its_specimen() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[Some(0.0), Some(500.0)]);
    all.iter_mut()
        .for_each(|it| it.photo.panel.patches[1].wet_g_per_m2 = Some(240.0));
    library.add(&all).unwrap();
    let weight = |library: &Library| {
        let swatch = library.find_swatch("panel-0/P1").unwrap();
        library.specimens(swatch.id).unwrap()[0].g_per_m2
    };
    assert_eq!(weight(&library), Some(240.0));
    all.iter_mut()
        .for_each(|it| it.photo.panel.patches[1].wet_g_per_m2 = Some(255.0));
    library.amend(&all, None).unwrap();
    assert_eq!(weight(&library), Some(255.0));
    is_well(&library);
    let mut other = shelf.open("other.sqlite");
    other.import(&parsed(&library)).unwrap();
    assert_eq!(weight(&other), Some(255.0));
}

/// Who noted a patch before it was weighed or photographed loses no weight, nor does who weighed it later than that.
#[test]
fn a_weight_that_is_stated_later_reaches_its_specimen() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[Some(0.0), Some(500.0)]);
    let panel = all[0].photo.panel.clone();
    let note = Note {
        panel: panel.id.clone(),
        patch: "P1".into(),
        word: "cured".into(),
        date: "2026-03-04".into(),
        ..Note::default()
    };
    let noted = library.note_on(&panel, &note).unwrap();
    let weight = |library: &Library| {
        let swatch = library.find_swatch("panel-0/P1").unwrap();
        let specimens = library.specimens(swatch.id).unwrap();
        assert_eq!(specimens.len(), 1);
        specimens[0].g_per_m2
    };
    assert_eq!(weight(&library), None);
    all[0].photo.panel.patches[1].wet_g_per_m2 = Some(240.0);
    // Another weight later on does not change what was measured.
    all[1].photo.panel.patches[1].wet_g_per_m2 = Some(300.0);
    library.add(&all).unwrap();
    assert_eq!(library.find_swatch("panel-0/P1").unwrap().id, noted);
    assert_eq!(weight(&library), Some(240.0));
    is_well(&library);

    let mut late = shelf.open("late.sqlite");
    all[0].photo.panel.patches[1].wet_g_per_m2 = None;
    late.add(&all[..1]).unwrap();
    assert_eq!(weight(&late), None);
    late.add(&all[1..]).unwrap();
    assert_eq!(weight(&late), Some(300.0));
    // Something else is corrected: the weight stays.
    all[0].photo.panel.patches[0].lot = Some("0400".into());
    late.amend(&all[..1], None).unwrap();
    assert_eq!(weight(&late), Some(300.0));
    is_well(&late);
    let mut other = shelf.open("other.sqlite");
    other.import(&parsed(&late)).unwrap();
    assert_eq!(weight(&other), Some(300.0));
}

/// Photos of unknown hours are each by itself, and so is which half they show.
#[test]
fn the_half_of_a_photo_of_unknown_hours_is_its_own() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[None, None]);
    // Before the mask was there.
    for patch in &mut all[0].photo.panel.patches {
        patch.masked = None;
    }
    all[0].readings.retain(|it| it.half == Half::Exposed);
    for it in &mut all[0].readings {
        it.half = Half::Whole;
    }
    library.add(&all).unwrap();
    let ages = library.show(1).unwrap().ages;
    let halves: Vec<_> = ages
        .iter()
        .map(|it| (it.half, it.photo.clone().unwrap()))
        .collect();
    let [first, second] = [&all[0], &all[1]].map(|it| it.photo.path.clone());
    assert_eq!(
        halves,
        [
            (Half::Whole, first.clone()),
            (Half::Exposed, second.clone()),
            (Half::Masked, second)
        ]
    );
    let mut csv = Vec::new();
    masstone::library::view::shown_csv(&library.show(1).unwrap(), &mut csv).unwrap();
    let csv = String::from_utf8(csv).unwrap();
    assert!(
        csv.lines()
            .nth(1)
            .unwrap()
            .contains(&format!(",whole,,{first},")),
        "{csv}"
    );
}

/// Two panels in one photo: what was amended of one is no past of the other's swatches.
#[test]
fn the_past_of_a_swatch_is_that_of_its_own_panel() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut generator = Generator::new(mould(), 1);
    let panels = [generator.panel(0, PATCHES), generator.panel(10, PATCHES)];
    let mut both = panels.map(|it| generator.photo(&it, 0.0));
    both[1].photo.sha256 = both[0].photo.sha256.clone();
    library.add(&both).unwrap();
    let past = |library: &Library, patch: &str| -> Vec<Vec<String>> {
        let swatch = library.find_swatch(patch).unwrap().id;
        let past = library.show(swatch).unwrap().history;
        let told =
            |it: masstone::library::past::Past| it.changes.into_iter().map(|it| it.what).collect();
        past.into_iter().map(told).collect()
    };
    both[1].photo.panel.substrate = Some("oak".into());
    library.amend(&both[1..], None).unwrap();
    assert_eq!(past(&library, "panel-0/P0"), [[""; 0]; 0]);
    assert_eq!(past(&library, "panel-10/P10"), [["panel, substrate"]]);
    // What was so before cannot be read: then it is not taken, and nothing else of the document.
    let written = document(&library);
    let mut broken: serde_json::Value = serde_json::from_str(&written).unwrap();
    for before in [serde_json::json!("x"), serde_json::json!({ "photos": [] })] {
        broken["history"][0]["before"] = before;
        let broken: Document = serde_json::from_value(broken.clone()).unwrap();
        let mut other = shelf.open("other.sqlite");
        let error = other.import(&broken).unwrap_err().to_string();
        assert!(error.contains("the history, photo "), "{error}");
        assert_eq!(parsed(&other).measurements, []);
    }
}

#[test]
fn numbers_that_people_know_are_the_same_after_import() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let mut all = photos(&[Some(0.0)]);
    library.add(&all).unwrap();
    // The first swatch is another one now, with a new number; and the last number given has no swatch any more.
    for step in [0, 0, 2] {
        all[0].photo.panel.patches[step].pigments[0].load += 0.25;
        library.amend(&all, None).unwrap();
    }
    all[0].photo.panel.patches[2].pigments[0].load -= 0.25;
    library.amend(&all, None).unwrap();
    is_well(&library);
    let numbers = |library: &Library| -> Vec<(i64, Option<String>)> {
        let all = library.list(&Filter::default(), Sort::Number).unwrap();
        all.into_iter()
            .map(|it| (it.swatch.id, it.swatch.name))
            .collect()
    };
    let before = numbers(&library);
    let known: Vec<i64> = before.iter().map(|it| it.0).collect();
    assert_eq!(known, [2, 5, 7]);
    let mut written = parsed(&library);
    let mut other = shelf.open("other.sqlite");
    let report = other.import(&written).unwrap();
    assert_eq!(report.notes, [""; 0]);
    assert_eq!(numbers(&other), before);
    assert_eq!(document(&other), document(&library));
    is_well(&other);
    // A number that was given to one is never given to another, there neither.
    let mut generator = Generator::new(mould(), 2);
    let panel = generator.panel(500, 1);
    let more = [generator.photo(&panel, 0.0)];
    library.add(&more).unwrap();
    other.add(&more).unwrap();
    assert_eq!(numbers(&other), numbers(&library));
    assert_eq!(document(&other).replace('\n', ""), {
        // When they came may differ by a second.
        let (here, there) = (parsed(&library), parsed(&other));
        let when = |it: &Document| it.measurements.last().unwrap().added.clone();
        document(&library)
            .replace('\n', "")
            .replace(&when(&here), &when(&there))
    });

    // Where the numbers are taken by others, new ones are given, and that is said. 7 is free.
    let mut taken = shelf.open("taken.sqlite");
    let panel = generator.panel(900, 6);
    taken.add(&[generator.photo(&panel, 0.0)]).unwrap();
    let report = taken.import(&written).unwrap();
    assert!(
        report
            .notes
            .iter()
            .any(|it| it.contains("2 is 8 here, 5 is 9 here")),
        "{report:?}"
    );
    is_well(&taken);
    // Once more: nothing to do.
    let report = taken.import(&written).unwrap();
    assert_eq!((report.photos, report.same), (0, 1));
    // A swatch that makes no sense.
    let text = serde_json::to_string(&written).unwrap();
    let mut value: serde_json::Value = serde_json::from_str(&text).unwrap();
    value["swatches"][0]["recipe"]["coats"] = (-3.0).into();
    written = serde_json::from_value(value).unwrap();
    let told = shelf.open("bad.sqlite").import(&written).unwrap_err();
    assert!(told.to_string().contains("coats of -3"), "{told}");
}

#[test]
fn flipped_bits_in_what_people_wrote_and_in_crops_are_found() {
    let shelf = Shelf::new();
    let mut library = shelf.open("l.sqlite");
    let all = photos(&[Some(0.0)]);
    library.add(&all).unwrap();
    library.add_crops(&all[0], &crops_of(&all[0], 120)).unwrap();
    library
        .note(&Note {
            panel: "panel-0".into(),
            patch: "P1".into(),
            word: "slow".into(),
            date: "2026-03-02".into(),
            text: Some("tacky for two days".into()),
            temperature_c: Some(9.5),
            ..Note::default()
        })
        .unwrap();
    let mut pigment = masstone::library::catalog::Pigment::named("PR101");
    for price in [28.5, 29.5] {
        pigment.price_per_kg = Some(price);
        library.set_pigment(&pigment).unwrap();
    }
    is_well(&library);
    // Its own document changes nothing, nor doubles what was corrected.
    let written = parsed(&library);
    library.import(&written).unwrap();
    assert_eq!(parsed(&library), written);
    is_well(&library);
    drop(library);
    let well = std::fs::read(shelf.path("l.sqlite")).unwrap();
    for (sql, says) in [
        ("UPDATE note SET text = 'tacky for twO days'", "note"),
        ("UPDATE note SET date = '2026-03-03'", "note"),
        ("UPDATE note SET word = 'soft'", "note"),
        ("UPDATE note SET temperature_c = 9.75", "note"),
        ("UPDATE note SET specimen = 1", "note"),
        (
            "UPDATE pigment SET facts = replace(facts, '29.5', '28.5')",
            "PR101",
        ),
        (
            "UPDATE history SET date = '2020-01-01T00:00:00Z'",
            "history",
        ),
        ("UPDATE history SET what = 'pigment PR102'", "history"),
        (
            "UPDATE crop SET u95 = u95 + 0.125 WHERE specimen = 2",
            "crop",
        ),
        ("UPDATE crop SET hours = 1 WHERE specimen = 2", "crop"),
    ] {
        std::fs::write(shelf.path("l.sqlite"), &well).unwrap();
        assert!(shelf.raw("l.sqlite").execute(sql, []).unwrap() > 0, "{sql}");
        let told = faults(&shelf.open("l.sqlite"));
        assert!(told.iter().any(|it| it.contains(says)), "{sql}: {told:?}");
    }
    // Bytes of a note's text and of crops, in the file itself, one bit each. Room that nothing is in any more may hold old bytes, too: there
    // nothing changes.
    let places = |what: &[u8]| -> Vec<usize> {
        let windows = well.windows(what.len()).enumerate();
        let same = windows.filter(|it| it.1 == what);
        same.map(|it| it.0).collect()
    };
    let jpeg = small_jpeg(20, 120);
    let mut bytes: Vec<usize> = Vec::new();
    for at in places(b"tacky for two days") {
        bytes.extend(at..at + 18);
    }
    for at in places(&jpeg) {
        bytes.extend((at..at + jpeg.len()).step_by(23));
    }
    let kept = || -> Vec<Vec<u8>> {
        let raw = shelf.raw("l.sqlite");
        let mut statement = raw
            .prepare("SELECT CAST(text AS BLOB) FROM note UNION ALL SELECT jpeg FROM crop")
            .unwrap();
        let rows = statement.query_map([], |row| row.get(0)).unwrap();
        rows.map(Result::unwrap).collect()
    };
    std::fs::write(shelf.path("l.sqlite"), &well).unwrap();
    let before = kept();
    let mut found = 0;
    for at in bytes {
        let mut flipped = well.clone();
        flipped[at] ^= 1 << (at % 8);
        std::fs::write(shelf.path("l.sqlite"), &flipped).unwrap();
        if kept() != before {
            let told = faults(&shelf.open("l.sqlite"));
            assert!(!told.is_empty(), "byte {at}");
            found += 1;
        }
    }
    // The note, and each of the crops.
    assert!(
        found >= 18 + crops_of(&all[0], 120).len() * (jpeg.len() / 23),
        "{found}"
    );
}
