//! Photographs that real cameras made of 24-patch charts: found and rightly named, by place, or refused. Truth, where the files are:
//! `truth.json`, which patch lies where as seen, or boxes in pixels.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may fail, and says what it found"
)]

mod real;

use image::{DynamicImage, ImageReader};
use masstone::correct::{self, Correction, Tone, correct};
use masstone::geometry::{PlaneMap, Point};
use masstone::locate::{self, Located, Quality, locate};
use masstone::panel::{self, Panel};
use masstone::photo::{Options, Photo};
use masstone::reference::references;
use masstone::sample::{Samples, sample};
use nalgebra::Matrix3;
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

/// Fits a correction to the known colours of a panel.
fn fitted(panel: &Panel, samples: &Samples) -> Correction {
    let options = correct::Options { tone: Tone::Auto };
    correct(samples, &references(panel, samples), &options)
        .unwrap()
        .correction
}

/// As if all of it lay in one place: no light can be evened out then.
fn in_one_place(mut samples: Samples) -> Samples {
    let regions = samples
        .patches
        .iter_mut()
        .chain(&mut samples.cards)
        .chain(&mut samples.substrate);
    for block in regions.flat_map(|it| &mut it.blocks) {
        (block.mm, block.px) = ([0.0; 2], [0.0; 2]);
    }
    samples
}

/// A free 3×3 fit to the unsaturated patches of the same file leaves 4.7, as `truth.json` says: a mean of what was fitted, not left out.
#[test]
fn leave_one_out_on_a_real_linear_chart_is_no_worse_than_a_free_fit() {
    let Some((folder, truth)) = photos() else {
        return;
    };
    let name = "chart24-lab-light.tif";
    let free = truth[name]["check_3x3_fit_dE00_unsaturated"]["mean"]
        .as_f64()
        .unwrap();
    let panel = chart(LARGE.0, LARGE.1);
    let (photo, located) = find(&folder.join(name), &panel, true);
    let samples = sample(&photo, &panel, &located.unwrap());
    let left_out = fitted(&panel, &samples).leave_one_out.unwrap();
    println!("leave-one-out {left_out:.2}, free 3×3 {free:.2}");
    assert!(left_out <= 1.3 * free, "{left_out} of {free}");
}

/// Pages of painted chips under a strong gradient, where the chips were measured elsewhere (other chips of the same collection): evening out
/// what they themselves show of the light makes the fit to their colours better.
#[test]
fn evening_the_light_helps_on_real_pages_with_a_gradient() {
    let Some((folder, truth)) = photos() else {
        return;
    };
    // 1.89 of 2.81 and 1.56 of 2.27 when this was written.
    for name in ["pages-1.tif", "pages-2.tif"] {
        let mut text = "id = \"pages\"\n".to_owned();
        for (i, it) in truth[name]["patches"]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
        {
            let [left, top, right, bottom]: [f64; 4] =
                serde_json::from_value(it["bbox"].clone()).unwrap();
            let lab: [f64; 3] = serde_json::from_value(it["lab_d50"].clone()).unwrap();
            text += &format!(
                "[[patch]]\nid = \"chip-{i}\"\nat_mm = [{left}, {top}]\nsize_mm = [{}, {}]\nlab = {lab:?}\n",
                right - left,
                bottom - top
            );
        }
        let panel = panel::read_text(&text, Path::new("pages.toml")).unwrap();
        let photo = Photo::open(&folder.join(name), &Options { linear: true }).unwrap();
        let located = Located {
            panel: PlaneMap::new(Matrix3::identity()),
            cards: Vec::new(),
            quality: Quality {
                outline_rms_px: 0.5,
                seen: 1.0,
                rival: 0.0,
            },
            witnesses: Vec::new(),
            by_hand: true,
        };
        let samples = sample(&photo, &panel, &located);
        let even = fitted(&panel, &samples);
        let uneven = fitted(&panel, &in_one_place(samples));
        let [with, without] = [&even, &uneven].map(|it| it.leave_one_out.unwrap());
        let free = truth[name]["check_3x3_fit_dE00"]["mean"].as_f64().unwrap();
        let light: Vec<f64> = panel
            .patches
            .iter()
            .map(|it| {
                let centre = it.rect.centre();
                even.light.at([centre.x, centre.y])[1]
            })
            .collect();
        let range =
            light.iter().copied().fold(0.0, f64::max) / light.iter().copied().fold(9.0, f64::min);
        println!(
            "{name}: leave-one-out {with:.2} with the light evened, {without:.2} without ({:?} {:?}, {} chips; light falls off by {range:.2}; free 3×3 {free:.2}, neutral alone {:?} {:?})",
            even.kind,
            uneven.kind,
            even.references.len(),
            even.neutral_alone,
            uneven.neutral_alone
        );
        assert!(
            with < 0.8 * without,
            "{name}: {with} with, {without} without"
        );
    }
}
