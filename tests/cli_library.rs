//! `masstone library` as a user meets it: arguments, files, messages, exit status.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

use masstone::record::json;
use std::fs;
use std::process::Command;
use workshop::{Ran, Workshop};

/// A workshop whose photos were measured into its library.
fn shelved() -> Workshop {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 0 --out fresh.json --library swatches.sqlite")
        .exits(0)
        .says(&["2 photos added (100 readings), 0 there already; library swatches.sqlite"]);
    workshop
}

/// With arguments that hold spaces.
fn run(workshop: &Workshop, arguments: &[&str]) -> Ran {
    Ran::from(
        workshop
            .command("library")
            .args(arguments)
            .output()
            .unwrap(),
    )
}

#[test]
fn measuring_into_the_library_is_adding_the_record() {
    let workshop = shelved();
    workshop
        .run("library add fresh.json")
        .exits(0)
        .says(&["0 photos added (0 readings), 2 there already"]);
    workshop
        .run("library check")
        .exits(0)
        .says(&["2 photos with their readings", "all is well"]);
    // Crops came along, and can be left out.
    let with = workshop.run("library export").exits(0).stdout;
    assert!(!with.contains("\"crops\": []"));
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 0 --library bare.sqlite --no-crops")
        .exits(0);
    let without = workshop
        .run("library export --library bare.sqlite")
        .exits(0)
        .stdout;
    assert!(without.contains("\"crops\": []"));
    // Other hours for the same photo: measured, shown, and not taken.
    workshop
        .run("measure 1.jpg --panel panel.toml --hours 5 --library swatches.sqlite")
        .exits(1)
        .says(&[
            "conflict: 1.jpg",
            "hours: 0 in the library, 5 here",
            "1 in conflict",
        ]);
    let hash = json::read(&workshop.path("fresh.json")).unwrap().photos[0]
        .sha256
        .clone();
    workshop
        .run(&format!("library amend --photo {} --hours 5", &hash[..10]))
        .exits(0)
        .says(&["1 measurement changed"]);
    workshop.run("library check").exits(0);
}

#[test]
fn lists_are_written_for_people_and_for_programs() {
    let workshop = shelved();
    let table = workshop
        .run("library list --sort lightness")
        .exits(0)
        .stdout;
    assert!(table.lines().next().unwrap().contains("L*"));
    let csv = workshop.run("library list --format csv").exits(0).stdout;
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    assert_eq!(
        reader.headers().unwrap().iter().collect::<Vec<_>>(),
        masstone::library::view::HEADER
    );
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 25);
    let listed: serde_json::Value =
        serde_json::from_str(&workshop.run("library list --format json").exits(0).stdout).unwrap();
    for (row, value) in rows.iter().zip(listed.as_array().unwrap()) {
        assert_eq!(row[0], value["swatch"].to_string());
        // Both halves of each patch are fresh.
        assert_eq!((&row[9], &value["half"]), ("whole", &"whole".into()));
        let l: f64 = row[11].parse().unwrap();
        assert!((l - value["L"].as_f64().unwrap()).abs() < 6e-4);
    }
    let near = workshop
        .run("library near 50 10 20 --count 3 --format csv")
        .exits(0)
        .stdout;
    assert_eq!(near.lines().count(), 4);
    assert!(near.lines().next().unwrap().ends_with("delta_e,told_apart"));
    for colour in [
        "#c65d06",
        "lab(50 10 20)",
        "orange",
        "1",
        "50,10,20",
        "50, 10, 20",
        "50 -10 20",
    ] {
        run(&workshop, &["near", colour]).exits(0);
    }
    let apart = run(&workshop, &["near", "50", "-10", "20"]).exits(0).stdout;
    assert_eq!(
        apart,
        run(&workshop, &["near", "50 -10 20"]).exits(0).stdout
    );
    for (colour, says) in [
        ("500 0 0", "L* is 0 (black) to 100 (white)"),
        ("50 300 0", "a surface has 0 to 97"),
        ("lab(500 0 0)", "L* is 0 (black) to 100 (white)"),
    ] {
        run(&workshop, &["near", colour]).exits(2).says(&[says]);
    }
    // A patch of a record is its own swatch, or can't be told from it.
    let patch = json::read(&workshop.path("fresh.json")).unwrap().readings[0]
        .patch
        .clone();
    let own = run(
        &workshop,
        &[
            "near",
            "fresh.json",
            &patch,
            "masked",
            "--count",
            "1",
            "--format",
            "json",
        ],
    )
    .exits(0);
    let own: serde_json::Value = serde_json::from_str(&own.stdout).unwrap();
    assert_eq!(own[0]["told_apart"], false);
    run(&workshop, &["near", "no such colour"])
        .exits(2)
        .says(&["there is no swatch no such colour"]);
    workshop
        .run("library overlaps --within 5 --all --format csv")
        .exits(0);
    workshop.run("library gaps").exits(0);
    let shown = workshop.run("library show 1").exits(0).stdout;
    assert!(shown.contains("swatch 1:") && shown.contains("of this specimen"));
    let shown: serde_json::Value =
        serde_json::from_str(&workshop.run("library show 1 --format json").exits(0).stdout)
            .unwrap();
    assert!(shown["ages"][0]["mean"]["U95"].as_f64().unwrap() > 0.0);
    workshop
        .run("library show 999")
        .exits(2)
        .says(&["there is no swatch 999"]);
}

/// Names that would be formulas, break lines or end strings; each comes back as itself, and no cell is a formula.
#[test]
fn a_name_can_be_anything() {
    let workshop = shelved();
    let names = [
        "=1+1",
        "+49",
        "-x",
        "@sum",
        "quote \" and ' ; DROP TABLE swatch",
        "two\nlines",
        "🎨 黄土",
        "\u{1b}[31mred",
    ];
    let mut value: serde_json::Value = serde_json::from_str(&workshop.read("fresh.json")).unwrap();
    for photo in value["photos"].as_array_mut().unwrap() {
        photo["panel"]["id"] = "=evil".into();
        for (patch, name) in photo["panel"]["patches"]
            .as_array_mut()
            .unwrap()
            .iter_mut()
            .zip(names)
        {
            patch["name"] = (*name).into();
        }
    }
    for reading in value["readings"].as_array_mut().unwrap() {
        reading["panel"] = "=evil".into();
    }
    fs::write(workshop.path("evil.json"), value.to_string()).unwrap();
    workshop
        .run("library add evil.json --library evil.sqlite")
        .exits(0);
    let csv = workshop
        .run("library list --library evil.sqlite --format csv")
        .exits(0)
        .stdout;
    let rows: Vec<csv::StringRecord> = csv::Reader::from_reader(csv.as_bytes())
        .records()
        .map(Result::unwrap)
        .collect();
    for (row, name) in rows.iter().zip(names) {
        assert_eq!(row[1].trim_start_matches('\''), name);
        for (column, cell) in row.iter().enumerate() {
            // Numbers may be negative.
            let number = cell.parse::<f64>().is_ok();
            assert!(
                number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                "column {column}: {cell}"
            );
        }
    }
    let table = workshop
        .run("library list --library evil.sqlite")
        .exits(0)
        .stdout;
    assert_eq!(table.lines().count(), 26, "a line a swatch");
    assert!(!table.contains("\u{1b}[31m"));
    run(
        &workshop,
        &[
            "show",
            "quote \" and ' ; DROP TABLE swatch",
            "--library",
            "evil.sqlite",
        ],
    )
    .exits(0);
    let note = [
        "note",
        "=evil",
        "A1",
        "cured",
        "--date",
        "2026-03-01",
        "--text",
        "=2+2 \"x\"",
        "--library",
        "evil.sqlite",
    ];
    run(&workshop, &note).exits(0);
    workshop.run("library check --library evil.sqlite").exits(0);
}

#[test]
fn wrong_usage_is_told_from_work_that_failed() {
    let workshop = shelved();
    workshop
        .run("library add readings.csv")
        .exits(2)
        .says(&["is no record", "a CSV is a view"]);
    workshop
        .run("library add no-such.json")
        .exits(1)
        .says(&["can't read no-such.json"]);
    workshop
        .run("library list --library none.sqlite")
        .exits(1)
        .says(&["there is no library at none.sqlite"]);
    workshop.run("library list --load many").exits(2);
    for filter in ["load", "lightness", "chroma"] {
        workshop
            .run(&format!("library list --{filter} 12..5"))
            .exits(2)
            .says(&["from 12 to 5 there is nothing: say 5..12"]);
    }
    workshop.run("library list --hue 350..20").exits(0);
    // A name that no swatch has finds nothing, and that is said.
    for (filter, says) in [
        ("--pigment no-such", "no swatch with the pigment no-such"),
        ("--coating none", "no swatch with the coating none"),
        ("--substrate none", "no swatch with the substrate none"),
    ] {
        for command in ["list", "gaps", "overlaps", "near 50 0 0"] {
            workshop
                .run(&format!("library {command} {filter}"))
                .exits(2)
                .says(&[says, "hint: "]);
        }
    }
    workshop.run("library list --hours 300").exits(0).says(&[
        "no swatch is like that: no colour was measured after 300 h",
        "but after 0 h",
    ]);
    for command in ["pigments", "coatings"] {
        workshop
            .run(&format!("library {command} no-such"))
            .exits(2)
            .says(&["nothing was written down yet of the "]);
        workshop.run(&format!("library {command}")).exits(0);
    }
    workshop
        .run("library note no-panel A1 cured --date 2026-03-01")
        .exits(2)
        .says(&["there is no patch A1"]);
    workshop
        .run("library list --library fresh.json")
        .exits(1)
        .says(&["is not a library"]);
    // One bad reading: the others are taken, unless --strict.
    let broken = workshop
        .read("fresh.json")
        .replacen("\"pixels\": ", "\"pixels\": -", 1);
    fs::write(workshop.path("broken.json"), broken).unwrap();
    workshop
        .run("library add broken.json --strict --library new.sqlite")
        .exits(1)
        .says(&["bad: broken.json:", "nothing is added"]);
    assert!(!workshop.path("new.sqlite").exists());
    workshop
        .run("library add broken.json --library new.sqlite")
        .exits(1)
        .says(&["2 photos added (99 readings)", "1 bad"]);
    // The environment names the library, the argument outweighs it.
    let listed = |arguments: &str| -> Ran {
        let mut command: Command = workshop.command(arguments);
        command.env("MASSTONE_LIBRARY", "new.sqlite");
        Ran::from(command.output().unwrap())
    };
    listed("library check").exits(0).says(&["2 photos"]);
    listed("library list --library none.sqlite").exits(1);
}

#[test]
fn materials_documents_and_backups() {
    let workshop = shelved();
    run(
        &workshop,
        &[
            "pigments",
            "PR101",
            "--maker-name",
            "red 130",
            "--price",
            "28.5",
            "--density",
            "5.1",
            "--hazard",
            "dust",
        ],
    )
    .exits(0);
    run(
        &workshop,
        &[
            "pigments",
            "PR101",
            "--lot",
            "0312",
            "--stock",
            "running-out",
        ],
    )
    .exits(0);
    let table = workshop.run("library pigments").exits(0).stdout;
    assert!(
        table.contains("red 130") && table.contains("0312") && table.contains("running-out"),
        "{table}"
    );
    run(
        &workshop,
        &[
            "coatings",
            "clear coating",
            "--parts",
            "base=100@20,hardener=50@35",
            "--coat",
            "90",
            "--pot-life",
            "45",
        ],
    )
    .exits(0);
    let coatings: serde_json::Value = serde_json::from_str(
        &workshop
            .run("library coatings --format json")
            .exits(0)
            .stdout,
    )
    .unwrap();
    assert_eq!(coatings[0]["parts"][1]["by_mass"], 50.0);
    assert!(
        workshop
            .run("library coatings")
            .exits(0)
            .stdout
            .contains("25.00")
    );
    run(&workshop, &["coatings", "x", "--parts", "base=-1"]).exits(2);
    run(&workshop, &["pigments", "x", "--price", "nan"]).exits(2);

    workshop.run("library export --out all.json").exits(0);
    workshop
        .run("library import all.json --library other.sqlite")
        .exits(0);
    workshop
        .run("library export --library other.sqlite --out again.json")
        .exits(0);
    assert_eq!(workshop.read("all.json"), workshop.read("again.json"));
    workshop
        .run("library import fresh.json --library other.sqlite")
        .exits(1)
        .says(&["fresh.json: "]);
    workshop.run("library backup copy.sqlite").exits(0);
    workshop
        .run("library check --library copy.sqlite")
        .exits(0)
        .says(&["all is well"]);
    workshop
        .run("library backup swatches.sqlite")
        .exits(2)
        .says(&["is the library itself"]);
    let first = fs::read(workshop.path("copy.sqlite")).unwrap();
    workshop
        .run("library backup copy.sqlite")
        .exits(0)
        .says(&["the one that was there is now copy.sqlite.bak"]);
    assert_eq!(fs::read(workshop.path("copy.sqlite.bak")).unwrap(), first);
    let photo = fs::read(workshop.path("1.jpg")).unwrap();
    fs::write(workshop.path("empty"), "").unwrap();
    for victim in ["1.jpg", "empty"] {
        workshop
            .run(&format!("library backup {victim}"))
            .exits(2)
            .says(&["is there already, and is no library"]);
    }
    assert_eq!(fs::read(workshop.path("1.jpg")).unwrap(), photo);
}

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
