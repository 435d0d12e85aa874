//! `masstone library show`, `note`, and what is written for spreadsheets, as a user meets them.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod shelved;
#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

use masstone::record::json;
use shelved::{run, shelved};
use std::fs;
use workshop::{Ran, Workshop};

/// The cells of a CSV on standard output, each row by the names of its columns.
fn cells(ran: &Ran) -> Vec<std::collections::BTreeMap<String, String>> {
    csv::Reader::from_reader(ran.stdout.as_bytes())
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

#[test]
fn csv_says_which_half_in_the_words_of_records() {
    let workshop = shelved();
    workshop
        .run("measure 3.jpg --panel panel.toml --hours 900 --library swatches.sqlite")
        .exits(0);
    let aged = cells(
        &workshop
            .run("library list --hours 900 --format csv")
            .exits(0),
    );
    assert_eq!(aged.len(), 25);
    assert!(aged.iter().all(|it| it["half"] == "exposed"));
    let shown = cells(&workshop.run("library show 1 --format csv").exits(0));
    let halves: Vec<(&str, &str, &str)> = (shown.iter())
        .map(|it| {
            (
                it["half"].as_str(),
                it["hours"].as_str(),
                it["patch"].as_str(),
            )
        })
        .collect();
    let patch = json::read(&workshop.path("fresh.json")).unwrap().readings[0]
        .patch
        .clone();
    let patch = patch.as_str();
    // The mean, then its one specimen.
    assert_eq!(
        halves,
        [
            ("whole", "0", ""),
            ("whole", "0", patch),
            ("exposed", "900", ""),
            ("exposed", "900", patch),
            ("masked", "900", ""),
            ("masked", "900", patch),
        ]
    );
    let value: serde_json::Value =
        serde_json::from_str(&workshop.run("library show 1 --format json").exits(0).stdout)
            .unwrap();
    let l: f64 = shown[2]["L"].parse().unwrap();
    assert!((l - value["ages"][1]["mean"]["L"].as_f64().unwrap()).abs() < 6e-4);
    assert_eq!(value["ages"][2]["half"], "masked");
}

#[test]
fn where_nobody_stated_hours_no_age_is_found_and_that_is_said() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg --panel panel.toml --library swatches.sqlite")
        .exits(0);
    workshop
        .run("library list --hours 500")
        .exits(0)
        .says(&["no colour was measured after 500 h or within a tenth of it, and none after hours that anybody stated"]);
}

#[test]
fn materials_as_csv_are_no_formulas() {
    let workshop = Workshop::empty();
    let write = |arguments: &[&str]| run(&workshop, arguments).exits(0);
    write(&[
        "pigments",
        "PR101",
        "--maker-name",
        "=1+1",
        "--price",
        "28.5",
        "--hazard",
        "@dust",
    ]);
    write(&["pigments", "PR101", "--lot=-7", "--stock", "gone"]);
    write(&[
        "coatings",
        "+clear",
        "--parts",
        "@a=100,b=50",
        "--coat",
        "90",
    ]);
    let pigments = cells(&write(&["pigments", "--format", "csv"]));
    assert_eq!(pigments.len(), 2);
    assert_eq!(
        (
            pigments[0]["maker_name"].as_str(),
            pigments[0]["price_per_kg"].as_str()
        ),
        ("'=1+1", "28.5")
    );
    assert_eq!(pigments[0]["hazard"], "'@dust");
    let lot = &pigments[1];
    assert_eq!(
        (
            lot["pigment"].as_str(),
            lot["lot"].as_str(),
            lot["stock"].as_str()
        ),
        ("PR101", "'-7", "gone")
    );
    let coatings = cells(&write(&["coatings", "--format", "csv"]));
    let coating = &coatings[0];
    assert_eq!(
        (coating["coating"].as_str(), coating["by_mass"].as_str()),
        ("'+clear", "100 : 50")
    );
}

#[test]
fn show_tells_the_photos_and_what_was_otherwise_before() {
    let workshop = shelved();
    let photos = json::read(&workshop.path("fresh.json")).unwrap().photos;
    let (sha256, panel) = (photos[0].sha256.as_str(), photos[0].panel.id.as_str());
    let patch = photos[0].panel.patches[0].id.as_str();
    let fresh = workshop.run("library show 1").exits(0).stdout;
    for photo in &photos {
        assert!(
            fresh.contains(&photo.path) && fresh.contains(&photo.sha256[..8]),
            "{fresh}"
        );
    }
    assert!(!fresh.contains("history"));
    run(
        &workshop,
        &[
            "amend",
            "--photo",
            &sha256[..8],
            "--hours",
            "5",
            "--why",
            "wrong folder",
        ],
    )
    .exits(0);
    let note = ["note", panel, patch, "soft", "--date", "2026-03-04"];
    run(&workshop, &note).exits(0);
    run(
        &workshop,
        &[&note[..], &["--withdraw", "--why", "another patch"]].concat(),
    )
    .exits(0)
    .says(&["withdrawn: "]);
    let shown = workshop.run("library show 1").exits(0).stdout;
    let (_, history) = shown.split_once("history\n").unwrap();
    for says in [
        &format!("photo {} (wrong folder)", photos[0].path),
        "  hours: 0 → 5\n",
        &format!("note {panel}/{patch} (another patch)"),
        ": soft, 2026-03-04 → withdrawn\n",
    ] {
        assert!(history.contains(says), "{says}: {history}");
    }
    // Another swatch has its photos' past, and no part of this one's.
    let other = workshop.run("library show 2").exits(0).stdout;
    assert!(other.contains("hours: 0 → 5") && !other.contains("withdrawn"));
    let value: serde_json::Value =
        serde_json::from_str(&workshop.run("library show 1 --format json").exits(0).stdout)
            .unwrap();
    let photo = value["photos"].as_array().unwrap().iter();
    let photo = photo.clone().find(|it| it["sha256"] == sha256).unwrap();
    assert_eq!(
        (&photo["hours"], &photo["readings"][0]["patch"]),
        (&5.0.into(), &patch.into())
    );
    assert_eq!(value["history"][0]["why"], "wrong folder");
    assert_eq!(value["history"][0]["before"]["photos"][0]["hours"], 0.0);
    assert_eq!(value["history"][1]["before"]["note"]["word"], "soft");
    workshop.run("library check").exits(0);
}

#[test]
fn what_was_noted_wrongly_is_withdrawn_and_what_never_was_photographed_is_noted() {
    let workshop = Workshop::empty();
    let panel = |load: &str| {
        let text = format!(
            "id = \"scraped\"\ncoating = \"clear\"\n[grid]\nrows = 1\ncolumns = 1\npatch_mm = [60, 60]\n\
             [[card]]\ncard = \"grey-18\"\n[[patch]]\nat = \"A1\"\n\
             pigments = [{{ pigment = \"PR101\", load = {load} }}]\n"
        );
        fs::write(workshop.path("panel.toml"), text).unwrap();
    };
    panel("20.0");
    let foamed = ["note", "panel.toml", "A1", "foamed", "--date", "2026-03-04"];
    run(&workshop, &foamed).exits(0).says(&[
        "noted: scraped/A1 foamed",
        "PR101 in clear: did not from 20",
    ]);
    workshop
        .run("library check")
        .exits(0)
        .says(&["all is well"]);
    workshop
        .run("library show scraped/A1")
        .exits(0)
        .stdout
        .contains("It has no colour")
        .then_some(())
        .expect("it says so");
    // At less it cured; the other specimen keeps its own.
    panel("12.0");
    run(
        &workshop,
        &["note", "panel.toml", "A1", "cured", "--date", "2026-03-05"],
    )
    .exits(0)
    .says(&["cured up to 12 g per 100 g, did not from 20"]);
    // The failure was another pigment's: nothing rests on it any more, and it is in the history.
    let back = run(
        &workshop,
        &[
            "note",
            "scraped",
            "A1",
            "foamed",
            "--date",
            "2026-03-04",
            "--withdraw",
        ],
    )
    .exits(0)
    .says(&["withdrawn: scraped/A1 foamed", "cured up to 12"]);
    assert!(!back.stderr.contains("did not"), "{back:?}");
    run(
        &workshop,
        &[
            "note",
            "scraped",
            "A1",
            "foamed",
            "--date",
            "2026-03-04",
            "--withdraw",
        ],
    )
    .exits(2)
    .says(&["there is no note foamed of scraped/A1, 2026-03-04"]);
    let document = workshop.run("library export").exits(0).stdout;
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    assert_eq!(document["notes"].as_array().unwrap().len(), 1);
    assert_eq!(document["history"][0]["before"]["note"]["word"], "foamed");
    for (patch, says) in [("B9", "has no patch B9"), ("A1", "is to come: today is ")] {
        run(
            &workshop,
            &["note", "panel.toml", patch, "cured", "--date", "2999-01-01"],
        )
        .exits(2);
        let date = if patch == "A1" {
            "2999-01-01"
        } else {
            "2026-03-05"
        };
        run(
            &workshop,
            &["note", "panel.toml", patch, "cured", "--date", date],
        )
        .exits(2)
        .says(&[says]);
    }
}
