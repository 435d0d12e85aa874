//! `masstone fade` as a user meets it: what it refuses before any work.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

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

#[test]
fn a_panel_that_is_not_there_is_named_with_those_that_are() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 0 --out fresh.json --library swatches.sqlite")
        .exits(0);
    let id = masstone::record::json::read(&workshop.path("fresh.json"))
        .unwrap()
        .photos[0]
        .panel
        .id
        .clone();
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
