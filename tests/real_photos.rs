//! Photographs that real cameras made of 24-patch charts: found and rightly named, by place, or refused. Truth, where the files are:
//! `truth.json`, which patch lies where as seen, or boxes in pixels.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

mod real;

use image::{DynamicImage, ImageReader};
use masstone::geometry::Point;
use masstone::locate::{self, Located, locate};
use masstone::panel::{self, Panel};
use masstone::photo::{Options, Photo};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// The photographs' folder and what is known of them: each file's entry.
fn photos() -> Option<(PathBuf, Value)> {
    let folder = real::folder("real-photos")?;
    let text = std::fs::read_to_string(folder.join("truth.json")).unwrap();
    let truth: Value = serde_json::from_str(&text).unwrap();
    let mut all = serde_json::Map::new();
    for set in truth["sets"].as_array().unwrap() {
        all.extend(set["images"].as_object().unwrap().clone());
    }
    Some((folder, Value::Object(all)))
}

/// The built-in chart's colours on patches of another size and distance, as makers have them; in arbitrary units.
fn chart(patch: [f64; 2], pitch: [f64; 2]) -> Panel {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration/chart-24.toml");
    let text = std::fs::read_to_string(path).unwrap();
    let mut table: toml::Table = text.parse().unwrap();
    table.remove("board");
    let grid = table["grid"].as_table_mut().unwrap();
    let array = |it: [f64; 2]| toml::Value::from(it.to_vec());
    grid.insert("patch_mm".to_owned(), array(patch));
    grid.insert("pitch_mm".to_owned(), array(pitch));
    panel::read_text(&table.to_string(), Path::new("chart.toml")).unwrap()
}

/// 40 mm patches 45 mm apart: the built-in chart.
const LARGE: ([f64; 2], [f64; 2]) = ([40.0, 40.0], [45.0, 45.0]);

fn find(path: &Path, panel: &Panel, linear: bool) -> (Photo, Result<Located, String>) {
    let photo = Photo::open(path, &Options { linear }).unwrap();
    let located =
        locate(&photo, panel, &locate::Options::default()).map_err(|it| format!("{path:?}: {it}"));
    (photo, located)
}

/// Patch numbers row by row as they lie in the picture, by where the map puts their centres: no colour is looked at.
fn as_seen(panel: &Panel, located: &Located, columns: usize) -> Vec<Vec<u64>> {
    let mut centres: Vec<(Point, u64)> = panel
        .patches
        .iter()
        .zip(1..)
        .map(|(it, number)| (located.panel.map(it.rect.centre()), number))
        .collect();
    centres.sort_by(|a, b| a.0.y.total_cmp(&b.0.y));
    centres
        .chunks(columns)
        .map(|row| {
            let mut row = row.to_vec();
            row.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
            row.into_iter().map(|it| it.1).collect()
        })
        .collect()
}

/// What `truth.json` says of a photograph, after quarter turns clockwise.
fn true_rows(truth: &Value, name: &str, quarters: usize) -> Vec<Vec<u64>> {
    let layout = truth[name]["layout_patch_numbers_as_seen"].clone();
    let mut rows: Vec<Vec<u64>> = serde_json::from_value(layout).unwrap();
    for _ in 0..quarters {
        rows = (0..rows[0].len())
            .map(|column| rows.iter().rev().map(|row| row[column]).collect())
            .collect();
    }
    rows
}

/// Sharp and soft, upright and turned, the chart 90 pixels wide and 290: each as it is.
#[test]
fn real_charts_are_found_and_their_patches_rightly_named() {
    let Some((folder, truth)) = photos() else {
        return;
    };
    // The sizes of charts b and c are read off their photographs, in pixels.
    for (name, (patch, pitch)) in [
        ("card24-a.png", LARGE),
        ("card24-b.jpg", ([46.5, 46.5], [57.4, 57.4])),
        ("card24-c.jpg", ([39.0, 31.0], [53.2, 46.0])),
        ("card24-chamber-1.png", LARGE),
        ("card24-chamber-2.png", LARGE),
        ("card24-other-values.png", LARGE),
    ] {
        let panel = chart(patch, pitch);
        let (_, located) = find(&folder.join(name), &panel, false);
        let expected = true_rows(&truth, name, 0);
        let seen = as_seen(&panel, &located.unwrap(), expected[0].len());
        assert_eq!(seen, expected, "{name}");
    }
}

/// A chart's own colours tell its four turns, whatever the camera made of them.
#[test]
fn real_charts_turned_are_rightly_named_or_refused() {
    let Some((folder, truth)) = photos() else {
        return;
    };
    let panel = chart(LARGE.0, LARGE.1);
    let turned = tempfile::tempdir().unwrap();
    let mut found = 0;
    for name in [
        "card24-a.png",
        "card24-chamber-1.png",
        "card24-chamber-2.png",
    ] {
        let picture = ImageReader::open(folder.join(name))
            .unwrap()
            .decode()
            .unwrap();
        let turns: [fn(&DynamicImage) -> DynamicImage; 3] = [
            DynamicImage::rotate90,
            DynamicImage::rotate180,
            DynamicImage::rotate270,
        ];
        for (turn, quarters) in turns.iter().zip(1..) {
            let path = turned.path().join("turned.png");
            turn(&picture).save(&path).unwrap();
            let (_, located) = find(&path, &panel, false);
            let expected = true_rows(&truth, name, quarters);
            if let Ok(located) = located {
                let seen = as_seen(&panel, &located, expected[0].len());
                assert_eq!(seen, expected, "{name} turned {quarters} times");
                found += 1;
            }
        }
    }
    assert_eq!(found, 9, "of 9");
}

/// A file of linear values, declared so; truth are boxes around the patches' insides, in pixels.
#[test]
fn a_real_chart_in_linear_values_is_found() {
    let Some((folder, truth)) = photos() else {
        return;
    };
    let name = "chart24-lab-light.tif";
    let panel = chart(LARGE.0, LARGE.1);
    let (_, located) = find(&folder.join(name), &panel, true);
    let located = located.unwrap();
    let boxes = truth[name]["patches"].as_array().unwrap();
    assert_eq!(boxes.len(), panel.patches.len());
    for (patch, is) in panel.patches.iter().zip(boxes) {
        let edges: [f64; 4] = serde_json::from_value(is["bbox"].clone()).unwrap();
        let [left, top, right, bottom] = edges;
        let centre = located.panel.map(patch.rect.centre());
        let inside = (left..right).contains(&centre.x) && (top..bottom).contains(&centre.y);
        assert!(inside, "{}: {centre} in {edges:?}", patch.id);
    }
}

#[test]
fn real_pots_in_a_grid_are_no_chart() {
    let Some((folder, _)) = photos() else {
        return;
    };
    for (patch, pitch) in [LARGE, ([39.0, 31.0], [53.2, 46.0])] {
        let (_, located) = find(
            &folder.join("pots-no-card.jpg"),
            &chart(patch, pitch),
            false,
        );
        assert!(located.is_err(), "{located:?}");
    }
}
