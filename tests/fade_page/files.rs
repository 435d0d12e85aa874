//! The report as CSV and JSON, read back with readers that are not ours.

use crate::example;
use masstone::fade::report::Report;
use masstone::fade::{csv, json, schema};
use serde_json::Value;
use std::collections::HashMap;

/// Where the committed schema lies.
const SCHEMA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/fade/schema.json");

type Row = HashMap<String, String>;

fn rows(report: &Report) -> Vec<Row> {
    let mut bytes = Vec::new();
    csv::write(report, &mut bytes).unwrap();
    ::csv::Reader::from_reader(&bytes[..])
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

#[test]
fn the_header_is_as_promised() {
    let mut bytes = Vec::new();
    csv::write(&example::report(), &mut bytes).unwrap();
    let text = String::from_utf8(bytes).unwrap();
    assert_eq!(
        text.lines().next(),
        Some(
            "panel,patch,hours,dose,dose_kind,dL,da,db,dC,dH,dEab,dE00,U95_dE00,grade,band,significant,flags"
        )
    );
}

#[test]
fn each_patch_has_a_row_for_each_exposure_and_the_numbers_are_the_report_s() {
    let report = example::report();
    let rows = rows(&report);
    let board = &report.boards[0];
    assert_eq!(rows.len(), 18 * 6);
    let mut measured = 0;
    for patch in &board.patches {
        for exposure in &board.exposures[1..] {
            let mut of_it = rows.iter().filter(|it| {
                it["patch"] == patch.patch
                    && it["dose"].parse::<f64>().unwrap().to_bits() == exposure.dose.to_bits()
            });
            let row = of_it.next().unwrap();
            assert!(of_it.next().is_none());
            assert_eq!(row["panel"], "larch-2026-03");
            assert_eq!(row["dose_kind"], "hours");
            let change = patch
                .changes
                .iter()
                .find(|it| it.dose.to_bits() == exposure.dose.to_bits());
            let Some(change) = change else {
                for column in [
                    "dL",
                    "da",
                    "db",
                    "dC",
                    "dH",
                    "dEab",
                    "dE00",
                    "U95_dE00",
                    "grade",
                    "band",
                    "significant",
                ] {
                    assert_eq!(row[column], "", "{column}");
                }
                assert_eq!(row["flags"], "unmeasurable");
                continue;
            };
            measured += 1;
            for (column, value) in [
                ("hours", change.hours.unwrap()),
                ("dL", change.dl),
                ("da", change.da),
                ("db", change.db),
                ("dC", change.dc),
                ("dH", change.dh),
                ("dEab", change.de_ab),
                ("dE00", change.de_00),
                ("U95_dE00", change.u95_de_00),
            ] {
                let (_, decimals) = row[column].split_once('.').unwrap();
                assert!(decimals.len() >= 3, "{column} {}", row[column]);
                let read: f64 = row[column].parse().unwrap();
                assert!((read - value).abs() <= 0.0005, "{column} {read} {value}");
            }
            assert_eq!(row["significant"], change.significant.to_string());
            assert_eq!((&row["grade"], &row["band"]), (&change.grade, &change.band));
            let flags: Vec<&str> = change.flags.iter().map(|it| it.name()).collect();
            assert_eq!(row["flags"].split_whitespace().collect::<Vec<_>>(), flags);
        }
    }
    // All but the spoilt patch, the one that was read once, and one exposure of another.
    assert_eq!(measured, 16 * 6 - 1 + 1);
}

#[test]
fn unknown_hours_are_empty_and_formulas_disarmed() {
    let mut report = example::report();
    let board = &mut report.boards[0];
    "=HYPERLINK(1)".clone_into(&mut board.panel);
    "@SUM".clone_into(&mut board.patches[0].patch);
    "MJ/m2 UV 295-385 nm".clone_into(&mut board.dose_kind);
    for it in &mut board.exposures {
        it.hours = None;
        it.dose /= 8.0;
    }
    for it in board.patches.iter_mut().flat_map(|it| &mut it.changes) {
        it.hours = None;
        it.dose /= 8.0;
    }
    let rows = rows(&report);
    assert_eq!(rows.len(), 18 * 6);
    assert_eq!(rows[0]["panel"], "'=HYPERLINK(1)");
    assert_eq!(rows[0]["patch"], "'@SUM");
    assert_eq!(rows[0]["dose"], "12.500");
    assert!(rows.iter().all(|it| it["hours"].is_empty()));
    assert!(
        rows.iter().any(|it| it["dL"].starts_with('-')),
        "numbers are never touched"
    );
}

#[test]
fn the_committed_schema_is_that_of_the_types() {
    // Renewal only on purpose: a change here is a change of everyone's files.
    if std::env::var_os("MASSTONE_RENEW_SCHEMA").is_some() {
        std::fs::write(SCHEMA, schema::generate()).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(SCHEMA).unwrap(),
        schema::generate(),
        "run the test with MASSTONE_RENEW_SCHEMA=1 if the change is meant"
    );
}

fn written(report: &Report) -> Vec<u8> {
    let mut bytes = Vec::new();
    json::write(report, &mut bytes).unwrap();
    bytes
}

/// The `jsonschema` crate as the judge: it validates against the draft itself, too.
fn errors(instance: &Value) -> Vec<String> {
    let schema: Value = serde_json::from_str(schema::COMMITTED).unwrap();
    jsonschema::meta::validate(&schema).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator
        .iter_errors(instance)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect()
}

#[test]
fn the_json_holds_to_the_schema_and_is_read_back_whole() {
    let report = example::report();
    let bytes = written(&report);
    assert!(bytes.ends_with(b"}\n"));
    let value: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(errors(&value), Vec::<String>::new());
    let back: Report = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(back, report);
}

#[test]
fn the_schema_refuses_what_is_no_report() {
    let good: Value = serde_json::from_slice(&written(&example::report())).unwrap();
    let spoil = |pointer: &str, value: Value| {
        let mut bad = good.clone();
        *bad.pointer_mut(pointer).unwrap() = value;
        errors(&bad)
    };
    for (pointer, value) in [
        ("/boards/0/patches/0/changes/0/dE00", Value::from("much")),
        (
            "/boards/0/patches/0/changes/0/flags",
            serde_json::json!(["faded"]),
        ),
        (
            "/boards/0/patches/0/course/models/0/name",
            Value::from("cubic"),
        ),
        ("/boards/0/patches/0/control", Value::from("white")),
        ("/boards/0/exposures", Value::Null),
    ] {
        assert!(!spoil(pointer, value).is_empty(), "{pointer}");
    }
}
