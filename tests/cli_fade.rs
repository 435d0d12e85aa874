//! `masstone fade` as a user meets it: what it refuses before any work.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

use masstone::fade::shown;
use masstone::library::Library;
use masstone::record::{Half, PhotoRecord, json};
use std::fs;
use workshop::Workshop;

#[test]
fn it_says_what_is_missing() {
    let workshop = Workshop::empty();
    workshop
        .run("fade")
        .exits(2)
        .says(&["there is nothing to assess", "--library FILE"]);
    workshop
        .run("fade --library none.sqlite")
        .exits(1)
        .says(&["there is no library at none.sqlite"]);
    workshop
        .run("fade readings.csv")
        .exits(2)
        .says(&["readings.csv is no record", "a CSV is a view for people"]);
    workshop
        .run("fade a.json --library b.sqlite")
        .exits(2)
        .says(&["cannot be used with"]);
    assert!(workshop.names().is_empty(), "nothing was begun");
}

#[test]
fn places_for_the_output_are_checked_before_any_work() {
    let workshop = Workshop::empty();
    let record = "{\"schema\": 1, \"photos\": [], \"readings\": []}\n";
    fs::write(workshop.path("a.json"), record).unwrap();
    workshop
        .run("fade a.json --out fade.xlsx")
        .exits(2)
        .says(&["--out fade.xlsx: the ending says no known form", ".html"]);
    workshop
        .run("fade a.json --out none/fade.csv")
        .exits(1)
        .says(&["can't write none/fade.csv", "Make the folder first"]);
    workshop
        .run("fade a.json --out a.json")
        .exits(2)
        .says(&["would take the place of a.json, which the report is made from"]);
    workshop
        .run("fade a.json --out b.html --page b.html")
        .exits(2)
        .says(&["--out and --page are one file"]);
    assert_eq!(workshop.read("a.json"), record);
    workshop
        .run("fade a.json --page b.html")
        .exits(1)
        .says(&["there is no photo in these records"]);
    assert_eq!(workshop.names(), ["a.json"]);
}

/// A workshop whose first two photos were measured, with its panel's id.
fn measured() -> (Workshop, String) {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 0 --out fresh.json --library swatches.sqlite")
        .exits(0);
    let id = records(&workshop)[0].photo.panel.id.clone();
    (workshop, id)
}

fn records(workshop: &Workshop) -> Vec<PhotoRecord> {
    json::by_photo(json::read(&workshop.path("fresh.json")).unwrap())
}

#[test]
fn a_panel_that_is_not_there_is_named_with_those_that_are() {
    let (workshop, id) = measured();
    for from in ["fresh.json", "--library swatches.sqlite", ""] {
        workshop
            .run(&format!("fade {from} --panel oak"))
            .exits(2)
            .says(&[
                "--panel oak: there is no photo of it",
                &format!("There are: {id}."),
            ]);
    }
}

#[test]
fn a_photo_measured_before_dose_0_is_judged_by_its_measurement_after() {
    let workshop = Workshop::new();
    workshop
        .run("measure 3.jpg --panel panel.toml --hours 400 --out fresh.json --library swatches.sqlite")
        .exits(0);
    let alone = records(&workshop).remove(0);
    let shot =
        |hours: u32, photo: &str| format!("[[shot]]\nhours = {hours}\nphotos = \"{photo}\"\n");
    let series = format!(
        "panel = \"panel.toml\"\nkind = \"sun\"\n{}{}",
        shot(0, "1.jpg"),
        shot(400, "3.jpg")
    );
    fs::write(workshop.path("series.toml"), series).unwrap();
    workshop
        .run("measure --series series.toml --out fresh.json --library swatches.sqlite")
        .exits(0);
    let mut both = records(&workshop);
    both.sort_by(|a, b| a.photo.hours.partial_cmp(&b.photo.hours).unwrap());
    let [start, carried] = <[PhotoRecord; 2]>::try_from(both).unwrap();
    assert!(alone.photo.settings.masked.is_none() && carried.photo.settings.masked.is_some());
    let library = Library::open(&workshop.path("swatches.sqlite")).unwrap();
    let series = library.series(&start.photo.panel.id).unwrap();
    assert_eq!(series, [start, carried]);
}

#[test]
fn a_library_gives_a_panel_s_photos_whole_and_once_with_their_pictures() {
    let (workshop, id) = measured();
    let library = Library::open(&workshop.path("swatches.sqlite")).unwrap();
    assert_eq!(library.panels_with_halves().unwrap(), [id.as_str()]);
    // Photos come in the order in which they were done.
    let by_path = |mut all: Vec<PhotoRecord>| {
        all.sort_by(|a, b| a.photo.path.cmp(&b.photo.path));
        all
    };
    assert_eq!(
        by_path(library.series(&id).unwrap()),
        by_path(records(&workshop))
    );
    assert!(library.series("oak").unwrap().is_empty());

    // A later exposure, and the first photo once more with another correction: still one record a photo.
    workshop
        .run("measure 3.jpg --panel panel.toml --hours 400 --library swatches.sqlite")
        .exits(0);
    workshop
        .run("measure 1.jpg --panel panel.toml --hours 0 --tone none --library swatches.sqlite")
        .exits(0);
    let series = library.series(&id).unwrap();
    let mut photos: Vec<&str> = series.iter().map(|it| it.photo.sha256.as_str()).collect();
    photos.dedup();
    assert_eq!(photos.len(), 3);
    assert!(series.iter().all(|it| it.readings.len() == 50));

    let kept = library.crops_of(&id).unwrap();
    let crops = shown::crops(&series, |sha256, patch, half| {
        let same = |it: &&masstone::library::series::PatchCrop| {
            it.sha256 == sha256 && it.patch == patch && it.half == half
        };
        kept.iter().find(same).map(|it| it.jpeg.clone())
    });
    // 25 patches, two halves, two doses: a picture and a colour of each, the colour that of the best reading.
    assert_eq!(crops.len(), 100);
    for crop in &crops {
        assert!(
            crop.picture
                .as_ref()
                .is_some_and(|it| it.starts_with(&[0xff, 0xd8, 0xff]))
        );
        assert_eq!(
            (crop.panel.as_str(), crop.dose_kind.as_str()),
            (id.as_str(), "hours")
        );
        let of_it = series
            .iter()
            .filter(|it| it.photo.hours.map(f64::to_bits) == Some(crop.dose.to_bits()))
            .flat_map(|it| &it.readings)
            .filter(|it| it.patch == crop.patch && it.half == crop.half);
        let best = of_it
            .min_by(|a, b| a.u95.unwrap().total_cmp(&b.u95.unwrap()))
            .unwrap();
        assert_eq!(crop.hex, best.hex, "{} {:?}", crop.patch, crop.half);
    }
    let halves = |half: Half| crops.iter().filter(|it| it.half == half).count();
    assert_eq!((halves(Half::Masked), halves(Half::Exposed)), (50, 50));
}
