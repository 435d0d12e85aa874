//! CSV, read back by the reader of the crate `csv`.

use crate::{ranges, same, text, xyz};
use masstone::colour::srgb;
use masstone::publish::exchange::csv::{CHANGES, READINGS, SWATCHES};
use masstone::publish::{Age, Range, Swatch};
use std::collections::BTreeMap;

type Row = BTreeMap<String, String>;

/// Rows by column; a row of another length than the header's is an error of the reader.
fn rows(range: &Range, name: &str, header: &[&str]) -> Vec<Row> {
    let text = text(range, name);
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap(), header);
    reader.deserialize().map(|it| it.unwrap()).collect()
}

#[track_caller]
fn number(row: &Row, column: &str, meant: Option<f64>, decimals: i32) {
    match meant {
        Some(meant) => same(row[column].parse().unwrap(), meant, decimals, column),
        None => assert_eq!(row[column], "", "{column}"),
    }
}

/// What nobody takes for a formula: the text itself, or an apostrophe before it.
#[track_caller]
fn words(row: &Row, column: &str, meant: &str) {
    let cell = &row[column];
    assert!(
        !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
        "{column}: {cell}"
    );
    assert_eq!(cell.strip_prefix('\'').unwrap_or(cell), meant, "{column}");
}

fn colour(row: &Row, swatch: &Swatch, age: &Age) {
    let tone = &age.tone;
    let [l, a, b] = [tone.lab.l, tone.lab.a, tone.lab.b];
    assert_eq!(row["swatch"], swatch.id.to_string());
    words(row, "name", &swatch.name);
    let recipe = &swatch.recipe;
    let pigments: Vec<&str> = recipe.pigments.iter().map(|it| &*it.pigment).collect();
    words(row, "pigments", &pigments.join(" + "));
    let loads: Vec<f64> = (row["loads"].split(" + "))
        .map(|it| it.parse().unwrap())
        .collect();
    assert_eq!(loads.len(), recipe.pigments.len());
    for (read, meant) in loads.iter().zip(&recipe.pigments) {
        same(*read, meant.load, 12, "load");
    }
    words(row, "coating", recipe.coating.as_deref().unwrap_or(""));
    words(row, "substrate", recipe.substrate.as_deref().unwrap_or(""));
    number(row, "coats", recipe.coats, 12);
    number(row, "g_per_m2", recipe.g_per_m2, 12);
    number(row, "hours", age.hours, 12);
    assert_eq!(row["half"], format!("{:?}", age.half).to_lowercase());
    assert_eq!(row["masked"], age.masked.to_string());
    for (column, meant) in [("L", l), ("a", a), ("b", b), ("C", a.hypot(b))] {
        number(row, column, Some(meant), 3);
    }
    if a.hypot(b) > 0.0 {
        let h = b.atan2(a).to_degrees().rem_euclid(360.0);
        number(row, "h", Some(h), 3);
    }
    assert_eq!(row["hex"], srgb::to_hex(tone.lab));
    number(row, "Y", Some(xyz([l, a, b])[1]), 6);
    // The slope by a difference.
    let step = 1e-5;
    let slope = (xyz([l + step, a, b])[1] - xyz([l - step, a, b])[1]) / (2.0 * step);
    let u95_y = 1.959_964 * slope * tone.covariance[(0, 0)].sqrt();
    number(row, "U95_Y", Some(u95_y), 6);
    number(row, "U95", tone.u95, 3);
    number(row, "U95_of_another", tone.u95_of_another, 3);
    assert_eq!(row["specimens"], tone.specimens.to_string());
    assert_eq!(row["photos"], tone.photos.to_string());
    assert_eq!(row["disagree"], tone.disagree.to_string());
    words(row, "cure", &swatch.cure.join(" "));
}

#[test]
fn every_colour_comes_back() {
    for range in ranges() {
        let all = rows(range, "swatches.csv", &SWATCHES);
        let count: usize = range.swatches.iter().map(|it| it.ages.len()).sum();
        assert_eq!(all.len(), count);
        for swatch in &range.swatches {
            let id = swatch.id.to_string();
            let of_it: Vec<&Row> = all.iter().filter(|it| it["swatch"] == id).collect();
            let made: Vec<&str> = of_it.iter().map(|it| &*it["as_made"]).collect();
            assert_eq!(made[0], "true", "as made comes first");
            assert!(made[1..].iter().all(|it| *it == "false"));
            same(of_it[0]["L"].parse().unwrap(), swatch.tone.lab.l, 3, "L");
            // Each age has exactly one row: by its hours and half.
            for age in &swatch.ages {
                let hours = age.hours.map(|it| it.to_string()).unwrap_or_default();
                let half = format!("{:?}", age.half).to_lowercase();
                let mut found = (of_it.iter()).filter(|it| {
                    it["hours"] == hours
                        && it["half"] == half
                        && it["masked"] == age.masked.to_string()
                });
                colour(found.next().unwrap(), swatch, age);
                assert!(found.next().is_none());
            }
        }
    }
}

#[test]
fn what_screens_show_is_said() {
    let all = rows(crate::by_hand::range(), "swatches.csv", &SWATCHES);
    let shows: Vec<&str> = (all.iter())
        .filter(|it| it["as_made"] == "true")
        .map(|it| &*it["shows"])
        .collect();
    let srgb = ["srgb"; 6];
    assert_eq!(shows[..6], srgb);
    assert_eq!(shows[6..], ["display-p3", "neither", "srgb"]);
}

#[test]
fn every_change_comes_back() {
    for range in ranges() {
        let all = rows(range, "changes.csv", &CHANGES);
        let mut left = all.iter();
        for swatch in &range.swatches {
            for of in &swatch.exposed {
                for it in &of.changes {
                    let row = left.next().unwrap();
                    assert_eq!(row["swatch"], swatch.id.to_string());
                    words(row, "name", &swatch.name);
                    words(row, "panel", &of.panel);
                    words(row, "patch", &of.patch);
                    words(row, "dose_kind", &of.dose_kind);
                    number(row, "dose", Some(it.dose), 12);
                    number(row, "hours", it.hours, 12);
                    number(row, "dE00", Some(it.de_00), 3);
                    number(row, "U95_dE00", Some(it.u95), 3);
                    number(row, "from_dE00", Some(it.interval[0]), 3);
                    number(row, "to_dE00", Some(it.interval[1]), 3);
                    number(row, "detection_limit", Some(it.detection_limit), 3);
                    assert_eq!(row["significant"], it.told.to_string());
                    words(row, "words", &it.words.join(" "));
                    words(row, "grade", &it.grade);
                }
            }
        }
        assert!(left.next().is_none() && !all.is_empty());
    }
}

#[test]
fn every_reading_comes_back() {
    for range in ranges() {
        let all = rows(range, "readings.csv", &READINGS);
        let mut left = all.iter();
        for swatch in &range.swatches {
            for it in &swatch.readings {
                let row = left.next().unwrap();
                assert_eq!(row["swatch"], swatch.id.to_string());
                words(row, "name", &swatch.name);
                words(row, "panel", &it.panel);
                words(row, "patch", &it.patch);
                assert_eq!(row["half"], format!("{:?}", it.half).to_lowercase());
                number(row, "hours", it.hours, 12);
                words(row, "photo", &it.photo);
                assert_eq!(row["sha256"], it.sha256);
                words(row, "taken", it.taken.as_deref().unwrap_or(""));
                words(row, "camera", it.camera.as_deref().unwrap_or(""));
                words(row, "correction", &it.correction);
                for (index, column) in ["L", "a", "b"].into_iter().enumerate() {
                    number(row, column, it.lab.map(|it| it[index]), 3);
                }
                number(row, "U95", it.u95, 3);
                assert_eq!(row["counts"], it.counts.to_string());
            }
        }
        assert!(left.next().is_none() && !all.is_empty());
    }
}
