//! `masstone measure --series` as a user meets it: files, messages, exit status, what is measured again and what is not.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod workshop;

use masstone::record::{Fact, PhotoEntry, Record, json, schema};
use std::fs;
use workshop::{Ran, Workshop};

/// Three exposures by radiant exposure, the latest first; photo 4 is of dose 0.
const SERIES: &str = r#"
panel = "panel.toml"
kind = "sun"
dose_kind = "kWh/m2 total"
site = "roof of the workshop"

[[shot]]
dose = 200
read = 2026-08-01
photos = ["2.jpg", "3.jp?"]

[[shot]]
dose = 100
hours = 450
photos = "1.jpg"

[[shot]]
dose = 0
photos = "4.jpg"
"#;

fn workshop(series: &str) -> Workshop {
    let workshop = Workshop::new();
    write(&workshop, "series.toml", series);
    workshop
}

fn write(workshop: &Workshop, name: &str, content: impl AsRef<[u8]>) {
    fs::write(workshop.path(name), content).unwrap();
}

/// Photos that this run measured itself, in the order in which they were done.
fn measured(ran: &Ran) -> Vec<&str> {
    let lines = ran.stderr.lines();
    lines
        .filter_map(|it| it.strip_prefix("measured: ")?.split(':').next())
        .collect()
}

fn record(workshop: &Workshop, name: &str) -> Record {
    json::read(&workshop.path(name)).unwrap()
}

fn photo<'a>(record: &'a Record, path: &str) -> &'a PhotoEntry {
    record.photos.iter().find(|it| it.path == path).unwrap()
}

#[test]
fn a_series_is_measured_with_its_doses_and_conditions() {
    let workshop = workshop(SERIES);
    let ran = workshop
        .run("measure --series series.toml --threads 1 --out r.json")
        .exits(0)
        .says(&["3 of 3 exposures measured\n", "4 photos measured"]);
    assert_eq!(measured(&ran), ["4.jpg", "1.jpg", "2.jpg", "3.jpg"]);

    let judge: serde_json::Value = serde_json::from_str(schema::COMMITTED).unwrap();
    let written: serde_json::Value = serde_json::from_str(&workshop.read("r.json")).unwrap();
    jsonschema::validator_for(&judge)
        .unwrap()
        .validate(&written)
        .unwrap();

    let record = record(&workshop, "r.json");
    let doses = ["1.jpg", "2.jpg", "3.jpg", "4.jpg"].map(|it| {
        let photo = photo(&record, it);
        (photo.hours, photo.dose)
    });
    assert_eq!(
        doses,
        [
            (Some(450.0), Some(360.0)),
            (None, Some(720.0)),
            (None, Some(720.0)),
            (Some(0.0), Some(0.0)),
        ]
    );
    let site = Fact {
        name: "site".into(),
        value: "roof of the workshop".into(),
    };
    for photo in &record.photos {
        assert_eq!(photo.dose_kind.as_deref(), Some("MJ/m2 total"));
        let exposure = photo.exposure.as_ref().unwrap();
        assert_eq!(exposure.conditions[0], site);
        let read = exposure.shot.iter().map(|it| it.value.as_str());
        let days: &[&str] = match photo.dose {
            Some(720.0) => &["2026-08-01"],
            _ => &[],
        };
        assert_eq!(read.collect::<Vec<_>>(), days);
    }
    for reading in &record.readings {
        assert_eq!(reading.hours, photo(&record, &reading.photo).hours);
    }
    // As JSON keys, for other programs.
    assert_eq!(written["photos"][0]["dose"], 360.0);
    assert_eq!(written["photos"][0]["exposure"]["kind"], "sun");
}

#[test]
fn a_photo_of_dose_0_reads_as_it_does_alone() {
    let workshop = workshop(SERIES);
    workshop
        .run("measure --series series.toml --out r.json")
        .exits(0);
    workshop
        .run("measure 4.jpg --panel panel.toml --hours 0 --out alone.json")
        .exits(0);
    let (series, alone) = (record(&workshop, "r.json"), record(&workshop, "alone.json"));
    let of_it = series.readings.iter().filter(|it| it.photo == "4.jpg");
    assert!(of_it.eq(&alone.readings));
    assert_eq!(alone.photos[0].exposure, None);
    assert!(!workshop.read("alone.json").contains("\"exposure\""));
}

#[test]
fn order_in_the_file_threads_and_the_current_folder_change_nothing() {
    let workshop = workshop(SERIES);
    let shots: Vec<&str> = SERIES.split("[[shot]]").collect();
    let turned = format!(
        "{}[[shot]]{}[[shot]]{}[[shot]]{}",
        shots[0], shots[3], shots[1], shots[2]
    );
    write(&workshop, "turned.toml", turned);
    workshop
        .run("measure --series series.toml --threads 1 --out a.json")
        .exits(0);
    workshop
        .run("measure --series turned.toml --threads 3 --out b.json")
        .exits(0);
    assert!(workshop.read("a.json") == workshop.read("b.json"));

    // Paths are relative to the series file.
    fs::create_dir(workshop.path("office")).unwrap();
    let mut elsewhere = workshop.command("measure --series ../series.toml --out c.json");
    let ran = elsewhere
        .current_dir(workshop.path("office"))
        .output()
        .unwrap();
    Ran::from(ran).exits(0);
    let far = record(&workshop, "office/c.json");
    let near = record(&workshop, "a.json");
    assert_eq!(photo(&far, "../4.jpg").sha256, photo(&near, "4.jpg").sha256);
    assert_eq!(far.readings[0].l, near.readings[0].l);
}

#[test]
fn a_stopped_run_goes_on_in_both_batches() {
    let workshop = workshop(SERIES);
    workshop
        .run("measure --series series.toml --out whole.jsonl")
        .exits(0);
    let lines = workshop.read("whole.jsonl");
    let of = |name: &str| {
        let line = lines.lines().find(|it| {
            let record: Record = serde_json::from_str(it).unwrap();
            record.photos[0].path == name
        });
        format!("{}\n", line.unwrap())
    };
    // One of each batch was done.
    write(
        &workshop,
        "r.jsonl.partial.jsonl",
        of("4.jpg") + &of("2.jpg"),
    );
    let ran = workshop
        .run("measure --series series.toml --threads 1 --out r.jsonl")
        .exits(0)
        .says(&["going on after an earlier run: 1 photo done already"]);
    assert_eq!(measured(&ran), ["1.jpg", "3.jpg"]);
    assert!(workshop.read("r.jsonl") == lines, "the same bytes");
    assert!(!workshop.names().iter().any(|it| it.contains("partial")));

    // The same photo at another dose is another measurement; other words on the site are not.
    write(
        &workshop,
        "r.jsonl.partial.jsonl",
        of("4.jpg") + &of("1.jpg"),
    );
    let other = SERIES
        .replace("dose = 100", "dose = 110")
        .replace("roof of", "meadow behind");
    write(&workshop, "series.toml", other);
    let ran = workshop
        .run("measure --series series.toml --threads 1 --out r.jsonl")
        .exits(0)
        .says(&["1 finished photo in r.jsonl.partial.jsonl of an earlier run"]);
    assert_eq!(measured(&ran), ["1.jpg", "2.jpg", "3.jpg"]);
    let after = record(&workshop, "r.jsonl");
    assert_eq!(photo(&after, "1.jpg").dose, Some(396.0));
    let site = &photo(&after, "4.jpg").exposure.as_ref().unwrap().conditions[0];
    assert_eq!(site.value, "meadow behind the workshop");
    let aside = workshop.read("r.jsonl.partial-1.jsonl");
    assert!(aside.contains(of("1.jpg").trim_end()), "it is kept aside");
}

#[test]
fn what_the_library_has_is_not_measured_again() {
    let workshop = workshop(&SERIES.replace("[\"2.jpg\", \"3.jp?\"]", "\"2.jpg\""));
    let run = "measure --series series.toml --threads 1 --library swatches.sqlite";
    workshop
        .run(&format!("{run} --out first.json"))
        .exits(0)
        .says(&["3 photos added"]);
    let ran = workshop
        .run(&format!("{run} --out again.json"))
        .exits(0)
        .says(&[
            "in the library already: 1 photo not measured again",
            "in the library already: 2 photos not measured again",
            "0 photos added (0 readings), 3 there already",
        ]);
    assert_eq!(measured(&ran), [""; 0]);
    assert!(workshop.read("first.json") == workshop.read("again.json"));

    // One photo more: only it is measured.
    write(&workshop, "series.toml", SERIES);
    let ran = workshop
        .run(run)
        .exits(0)
        .says(&["1 photo added", "3 there already"]);
    assert_eq!(measured(&ran), ["3.jpg"]);

    // Without the small pictures that are wanted now, a photo is not done.
    let bare = "measure --series series.toml --threads 1 --library bare.sqlite";
    let ran = workshop.run(&format!("{bare} --no-crops")).exits(0);
    assert_eq!(measured(&ran).len(), 4);
    assert_eq!(
        measured(&workshop.run(&format!("{bare} --no-crops"))),
        [""; 0]
    );
    let ran = workshop.run(bare).exits(0).says(&["4 there already"]);
    assert_eq!(measured(&ran).len(), 4);
    assert_eq!(measured(&workshop.run(bare)), [""; 0]);

    // Measured in another way, or at another dose, it is another measurement.
    let ran = workshop.run(&format!("{run} --tone none")).exits(0);
    assert_eq!(measured(&ran).len(), 4);
    write(
        &workshop,
        "series.toml",
        SERIES.replace("dose = 100", "dose = 110"),
    );
    let ran = workshop.run(run).exits(1).says(&[
        "conflict: 1.jpg",
        "dose: 360 (MJ/m2 total) in the library, 396 (MJ/m2 total) here",
    ]);
    assert_eq!(measured(&ran), ["1.jpg"]);
    workshop
        .run("library check --library swatches.sqlite")
        .exits(0);
}

#[test]
fn the_library_keeps_how_a_board_was_exposed() {
    let series = "panel = \"panel.toml\"\nkind = \"sun\"\nsite = \"roof\"\n[[shot]]\nhours = 0\nphotos = \"4.jpg\"\n";
    let workshop = workshop(series);
    // First measured without a series: nobody said how it was exposed.
    workshop
        .run("measure 4.jpg --panel panel.toml --hours 0 --library swatches.sqlite")
        .exits(0);
    let run = "measure --series series.toml --library swatches.sqlite --out r.json";
    let ran = workshop.run(run).exits(0).says(&[
        "in the library already: 1 photo not measured again",
        "4.jpg: how its board was exposed was not in the library, and is now",
    ]);
    assert_eq!(measured(&ran), [""; 0]);
    let export = || {
        let ran = workshop
            .run("library export --library swatches.sqlite")
            .exits(0);
        let all: serde_json::Value = serde_json::from_str(&ran.stdout).unwrap();
        all["measurements"][0]["record"].clone()
    };
    let written: serde_json::Value = serde_json::from_str(&workshop.read("r.json")).unwrap();
    assert_eq!(export(), written, "as the record has it");
    assert_eq!(
        written["photos"][0]["exposure"]["conditions"][0]["value"],
        "roof"
    );

    // Other words on it are a conflict, and change nothing until they are amended.
    write(
        &workshop,
        "series.toml",
        series.replace("roof", "meadow") + "notes = \"dry\"\n",
    );
    workshop.run(run).exits(1).says(&[
        "conflict: 4.jpg",
        "exposure, site: roof in the library, meadow here",
        "exposure, notes: none in the library, dry here",
    ]);
    assert_eq!(export(), written);
    workshop
        .run("library amend r.json --library swatches.sqlite")
        .exits(0);
    let written: serde_json::Value = serde_json::from_str(&workshop.read("r.json")).unwrap();
    assert_eq!(written["photos"][0]["exposure"]["shot"][0]["value"], "dry");
    assert_eq!(export(), written);
    // Without a series nothing is said of it, which contradicts nothing.
    workshop
        .run("measure 4.jpg --panel panel.toml --hours 0 --library swatches.sqlite")
        .exits(0)
        .says(&["1 there already"]);
    assert_eq!(export(), written);
    workshop
        .run("library check --library swatches.sqlite")
        .exits(0);
}

#[test]
fn missing_exposures_are_named_and_the_rest_is_measured() {
    let start = "panel = \"panel.toml\"\nkind = \"sun\"\n[[shot]]\nhours = 0\nphotos = \"1.jpg\"\n";
    let planned = "[[shot]]\nhours = 3000\n";
    let workshop = workshop(&format!(
        "{start}[[shot]]\nhours = 500\nphotos = [\"cut.jpg\", \"bad.jpg\"]\n\
         [[shot]]\nhours = 1000\nphotos = \"1000h/*.jpg\"\n{planned}"
    ));
    write(
        &workshop,
        "cut.jpg",
        &fs::read(workshop.path("2.jpg")).unwrap()[..999],
    );
    write(&workshop, "bad.jpg", "text");
    workshop
        .run("measure --series series.toml --out r.json")
        .exits(1)
        .says(&[
            "1000h/*.jpg: nothing matches this pattern",
            "refused: cut.jpg",
            "note: 1 of 4 exposures measured; missing: 500 h (all of its 2 photos were refused), \
             1000 h (no photo is where the file says), 3000 h (planned: the file names no photos)",
            "No change can be told before there are two.",
            "1 photo measured",
            "3 refused",
        ]);
    assert_eq!(record(&workshop, "r.json").photos.len(), 1);

    // What is only planned is no failure.
    write(&workshop, "series.toml", format!("{start}{planned}"));
    workshop
        .run("measure --series series.toml --out r.json")
        .exits(0)
        .says(&["1 of 2 exposures measured; missing: 3000 h (planned: the file names no photos)"]);
}

#[test]
fn what_makes_no_sense_is_refused_before_anything_is_measured() {
    let workshop = workshop(SERIES);
    workshop.copy("1.jpg", "twin.jpg");
    let before = workshop.names();
    for (arguments, words) in [
        ("1.jpg --series series.toml", "cannot be used with"),
        (
            "--series series.toml --panel panel.toml",
            "cannot be used with",
        ),
        ("--series series.toml --hours 5", "cannot be used with"),
        ("1.jpg", "--panel"),
        ("--panel panel.toml", "<PHOTO>"),
        ("--series none.toml", "none.toml: can't read it"),
        (
            "--series series.toml --corners 1,1,9,1,9,9,1,9",
            "--corners is for one photo",
        ),
    ] {
        workshop
            .run(&format!("measure {arguments} --out r.json"))
            .exits(2)
            .says(&[words]);
    }
    assert_eq!(workshop.names(), before);
    for (from, to, words) in [
        (
            "dose = 200",
            "doze = 200",
            "series.toml, line 8, column 1: unknown key `doze` in [[shot]]; did you mean `dose`?",
        ),
        ("dose = 200", "dose = 100", "360 MJ/m2 total is there twice"),
        (
            "\"4.jpg\"",
            "[\"4.jpg\", \"1.jpg\"]",
            "the photo 1.jpg is in two shots, of 0 MJ/m2 total and of 360 MJ/m2 total",
        ),
        (
            "\"4.jpg\"",
            "[\"4.jpg\", \"twin.jpg\"]",
            "the photo 1.jpg (the same bytes as twin.jpg) is in two shots, of 0 MJ/m2 total and of 360 MJ/m2 total",
        ),
        (
            "\"panel.toml\"",
            "\"pannel.toml\"",
            "there is no file pannel.toml",
        ),
    ] {
        let bad = SERIES.replace(from, to);
        assert_ne!(bad, SERIES);
        write(&workshop, "series.toml", bad);
        workshop
            .run("measure --series series.toml --out r.json")
            .exits(2)
            .says(&[words]);
    }
    write(
        &workshop,
        "series.toml",
        "panel = \"panel.toml\"\nkind = \"sun\"\n[[shot]]\nhours = 0\n",
    );
    workshop
        .run("measure --series series.toml --out r.json")
        .exits(2)
        .says(&["no shot has photos yet", "hint: Add `photos`"]);
    assert_eq!(workshop.names(), before);
}

#[test]
fn what_a_series_lacks_is_said() {
    let workshop = workshop(
        "panel = \"panel.toml\"\nkind = \"sun\"\n[[shot]]\nhours = 500\nphotos = \"1.jpg\"\n",
    );
    workshop
        .run("measure --series series.toml --out -")
        .exits(0)
        .says(&[
            "note: series.toml: No shot has dose 0; the least is 500 h.",
            "note: series.toml: The series has one shot",
            "1 of 1 exposures measured",
        ]);
}

/// The demo board, as the README has it.
#[test]
fn the_demo_series_is_measured() {
    let workshop = Workshop::empty();
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/samples");
    let mut command = workshop.command("measure --out r.json --series");
    command.arg(format!("{samples}/larch-2026-03-series.toml"));
    Ran::from(command.output().unwrap())
        .exits(0)
        .says(&["2 of 3 exposures measured; missing: 3000 h (planned"]);
    let record = record(&workshop, "r.json");
    let hours: Vec<Option<f64>> = record.photos.iter().map(|it| it.hours).collect();
    assert_eq!(hours, [Some(0.0), Some(1500.0)]);
}
