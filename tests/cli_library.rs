//! `masstone library` as a user meets it: arguments, files, messages, exit status.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod shelved;
#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

use masstone::record::json;
use shelved::{run, shelved};
use std::fs;
use std::process::Command;
use workshop::Ran;

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
    let table = run(&workshop, &["near", "50 10 20"]).exits(0).stdout;
    let asked = table.lines().nth(1).unwrap();
    assert!(
        asked.contains("(asked for)") && asked.contains("50.00  10.00  20.00"),
        "{table}"
    );
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
