//! `masstone calibrate`, and `masstone measure` with `--correction` and `--blank`, as a user meets them.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[path = "carried/pair.rs"]
mod pair;
mod workshop;

use masstone::record::{Record, saved, schema};
use masstone_simulator as sim;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use workshop::{Ran, Workshop};

/// A chart and a grey card by one camera in one light, and a sheet in the place of the second board; corners beside each.
fn workshop() -> Workshop {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let (mut chart, mut grey) = pair::pair(sim::Split::Test, 9_130_000);
        // Plain light: what is tested here is how files and options go together.
        for spec in [&mut chart, &mut grey] {
            spec.clutter.clear();
            spec.highlights.clear();
            spec.shadows.clear();
            spec.stored_as = 1;
            spec.tag = Some(1);
            spec.exif.model = "Workshop Phone 1".into();
        }
        let mut sheet = grey.clone();
        sheet.layout.recipes.fill(None);
        sheet.layout.off.clear();
        sheet.substrate = sim::Substrate::GreyBoard;
        sheet.grain = 0.0;
        sheet.exposure = 0.0;
        sheet.trouble = sim::Trouble::NoCard;
        for (name, spec, size) in [
            ("chart", &chart, 1000),
            ("grey", &grey, 1000),
            ("sheet", &sheet, 1000),
            ("small", &sheet, 500),
        ] {
            let scene = spec.build();
            let photo = folder.path().join(format!("{name}.jpg"));
            let picture = scene
                .write(&photo, sim::FileKind::Jpeg, scene.stored_size(size))
                .unwrap();
            let corners = format!("corners = {:?}\n", picture.truth.grid);
            fs::write(
                folder.path().join(format!("{name}.jpg.corners.toml")),
                corners,
            )
            .unwrap();
        }
        let mut other = grey.clone();
        other.exif.model = "Other Phone 2".into();
        let scene = other.build();
        let size = scene.stored_size(1000);
        scene
            .write(&folder.path().join("other.jpg"), sim::FileKind::Jpeg, size)
            .unwrap();
        fs::copy(
            folder.path().join("grey.jpg.corners.toml"),
            folder.path().join("other.jpg.corners.toml"),
        )
        .unwrap();
        for (name, spec) in [("chart", &chart), ("grey", &grey)] {
            let panel = folder.path().join(name);
            fs::create_dir(&panel).unwrap();
            spec.build().write_panel(&panel).unwrap();
        }
        folder
    });
    let workshop = Workshop::empty();
    copy(folder.path(), &workshop.path("."));
    workshop
}

fn copy(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            fs::create_dir(&target).unwrap();
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

const CALIBRATE: &str = "calibrate chart.jpg --panel chart/panel.toml --out phone.toml";
const MEASURE: &str = "measure grey.jpg --panel grey/panel.toml";

fn calibrated() -> Workshop {
    let workshop = workshop();
    workshop.run(CALIBRATE).exits(0);
    workshop
}

fn record(workshop: &Workshop, name: &str) -> Record {
    let judge: serde_json::Value = serde_json::from_str(schema::COMMITTED).unwrap();
    let judge = jsonschema::validator_for(&judge).unwrap();
    let value: serde_json::Value = serde_json::from_str(&workshop.read(name)).unwrap();
    judge.validate(&value).unwrap();
    serde_json::from_value(value).unwrap()
}

#[test]
fn a_correction_is_fitted_kept_and_used() {
    let workshop = workshop();
    workshop.run(CALIBRATE).exits(0).says(&[
        "fitted for Workshop Phone 1",
        "ΔE00 on average",
        "written to phone.toml",
        "note: ",
    ]);
    let kept = saved::read(&workshop.path("phone.toml")).unwrap();
    assert_eq!(kept.origin.photo, "chart.jpg");
    assert!(kept.origin.taken.is_some());
    assert!(kept.fit.leave_one_out < kept.fit.neutral_alone.unwrap());

    workshop
        .run(&format!("{MEASURE} --correction phone.toml --out r.json"))
        .exits(0);
    workshop
        .run(&format!("{MEASURE} --out alone.json"))
        .exits(0);
    let (with, alone) = (record(&workshop, "r.json"), record(&workshop, "alone.json"));
    let used = with.photos[0].correction.saved.as_ref().unwrap();
    assert_eq!(used.photo_sha256, kept.origin.sha256);
    assert_eq!(used.camera.as_deref(), Some("Workshop Phone 1"));
    assert!(used.overruled.is_empty());
    assert!(with.photos[0].settings.correction.is_some());
    assert!(alone.photos[0].correction.saved.is_none());
    let u95 = |record: &Record| {
        let all: Vec<f64> = record.readings.iter().filter_map(|it| it.u95).collect();
        all.iter().sum::<f64>() / all.len() as f64
    };
    assert!(
        u95(&with) < 0.8 * u95(&alone),
        "{} {}",
        u95(&with),
        u95(&alone)
    );
    let csv = workshop
        .run(&format!("{MEASURE} --correction phone.toml --out -"))
        .exits(0)
        .stdout;
    assert!(
        csv.lines().skip(1).all(|it| it.contains(",saved,")),
        "{csv}"
    );
}

#[test]
fn the_file_is_the_same_each_time_and_an_old_one_is_kept() {
    let workshop = calibrated();
    let first = workshop.read("phone.toml");
    workshop
        .run(CALIBRATE)
        .exits(0)
        .says(&["kept as phone.toml.bak"]);
    assert_eq!(workshop.read("phone.toml"), first);
    assert_eq!(workshop.read("phone.toml.bak"), first);
    let printed = workshop
        .run("calibrate chart.jpg --panel chart/panel.toml --out -")
        .exits(0)
        .stdout;
    assert_eq!(printed, first);
}

#[test]
fn too_few_colours_give_no_correction() {
    let grey_card = Workshop::new();
    let before = grey_card.names();
    grey_card
        .run("calibrate 1.jpg --panel panel.toml --out phone.toml")
        .exits(1)
        .says(&[
            "1.jpg: ",
            "at least 8 known colours, and 1 can be used",
            "hint: ",
        ]);
    assert_eq!(grey_card.names(), before);
}

#[test]
fn a_place_that_makes_no_sense_is_told_before_the_work() {
    let workshop = workshop();
    let before = workshop.names();
    workshop
        .run("calibrate chart.jpg --panel chart/panel.toml --out phone.jpg")
        .exits(2)
        .says(&[".toml"]);
    workshop
        .run("calibrate none.jpg --panel chart/panel.toml --out phone.toml")
        .exits(1);
    workshop
        .run("calibrate chart.jpg --panel none.toml --out phone.toml")
        .exits(2);
    workshop
        .run("calibrate chart.jpg --panel chart/panel.toml --out none/phone.toml")
        .exits(1)
        .says(&["Make the folder first"]);
    assert_eq!(workshop.names(), before);
}

/// A photo that must not be measured.
#[track_caller]
fn refused(workshop: &Workshop, arguments: &str) -> Ran {
    workshop
        .run(&format!(
            "measure {arguments} --panel grey/panel.toml --out r.csv"
        ))
        .exits(1)
        .says(&["refused: ", "hint: ", "0 photos measured"])
}

#[test]
fn another_camera_is_refused_unless_forced() {
    let workshop = calibrated();
    refused(&workshop, "other.jpg --correction phone.toml").says(&[
        "Workshop Phone 1",
        "Other Phone 2",
        "--force-correction",
    ]);
    workshop
        .run("measure other.jpg --panel grey/panel.toml --correction phone.toml --force-correction --out r.json")
        .exits(0);
    let record = record(&workshop, "r.json");
    assert!(record.photos[0].settings.force_correction);
    assert!(
        record.photos[0]
            .doubts
            .iter()
            .any(|it| it.starts_with("overruled: ") && it.contains("Other Phone 2"))
    );
    let csv = workshop
        .run("measure other.jpg --panel grey/panel.toml --correction phone.toml --force-correction --out -")
        .exits(0)
        .stdout;
    assert!(
        csv.lines()
            .skip(1)
            .all(|it| it.contains("forced-correction")),
        "{csv}"
    );
}

#[test]
fn a_file_that_is_no_correction_is_wrong_usage() {
    let workshop = calibrated();
    let text = workshop.read("phone.toml");
    for (name, content, words) in [
        (
            "new.toml",
            text.replacen("schema = 1", "schema = 2", 1),
            "line 3: its schema is 2",
        ),
        (
            "torn.toml",
            text[..text.len() / 2].to_owned(),
            "torn.toml, line ",
        ),
        (
            "panel.toml",
            workshop.read("grey/panel.toml"),
            "panel.toml, line 1: missing field `schema`",
        ),
    ] {
        fs::write(workshop.path(name), content).unwrap();
        workshop
            .run(&format!("{MEASURE} --correction {name} --out r.csv"))
            .exits(2)
            .says(&[words, "hint: "]);
    }
    workshop
        .run(&format!("{MEASURE} --correction none.toml"))
        .exits(2)
        .says(&["none.toml"]);
    workshop
        .run(&format!("{MEASURE} --correction phone.toml --tone none"))
        .exits(2);
    workshop
        .run(&format!("{MEASURE} --force-correction"))
        .exits(2);
    assert!(!workshop.path("r.csv").exists());
}

#[test]
fn a_blank_lends_its_light() {
    let workshop = workshop();
    workshop
        .run(&format!("{MEASURE} --blank sheet.jpg --out r.json"))
        .exits(0);
    let record = record(&workshop, "r.json");
    assert_eq!(record.photos.len(), 1);
    assert!(record.photos[0].settings.blank.is_some());
    assert!(record.photos[0].correction.light.stretches > 10);
    // The folder of a session holds both.
    fs::create_dir(workshop.path("session")).unwrap();
    for name in ["grey.jpg", "sheet.jpg"] {
        workshop.copy(name, &format!("session/{name}"));
    }
    workshop
        .run("measure session --panel grey/panel.toml --blank session/sheet.jpg --out s.json")
        .exits(0)
        .says(&[
            "session/sheet.jpg is the blank: it is not measured",
            "1 photo measured",
        ]);
}

#[test]
fn a_blank_that_does_not_fit_is_refused() {
    let workshop = workshop();
    refused(&workshop, "grey.jpg --blank small.jpg").says(&["another size", "500 ×"]);
    refused(&workshop, "grey.jpg --blank chart.jpg");
    refused(&workshop, "other.jpg --blank sheet.jpg").says(&["another camera", "Other Phone 2"]);
    refused(&workshop, "grey.jpg --blank other.jpg");
    workshop
        .run(&format!("{MEASURE} --blank none.jpg --out r.csv"))
        .exits(1)
        .says(&["none.jpg"]);
    workshop
        .run(&format!("{MEASURE} --blank grey/panel.toml --out r.csv"))
        .exits(1)
        .says(&["panel.toml"]);
}
