//! Whole boards from raw files, against the simulator's truth.

use crate::endtoend::{job, judge};
use crate::raw::{halved, shoot_raw};
use crate::scene::{Kind, Measured, kind, mean, measure, shoot};
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use masstone::correct::{ComponentName, CorrectionKind, Tone};
use masstone::measure;
use masstone::panel;
use masstone::photo::EncodingSource;
use masstone_simulator as sim;

/// Seeds of these tests alone.
const SEEDS: u64 = 85_500_000;

fn scenes(
    mixture: sim::Mixture,
    which: impl Fn(&sim::SceneSpec) -> bool,
    count: usize,
) -> Vec<sim::SceneSpec> {
    (SEEDS..)
        .map(|seed| sim::SceneSpec::draw(mixture, sim::Split::Test, seed))
        .filter(which)
        .take(count)
        .collect()
}

/// From the file to the record, each patch where it lies, and the proof.
#[test]
fn a_board_is_measured_from_a_raw_file() {
    let grey = |it: &sim::SceneSpec| kind(it) == Some(Kind::Grey);
    let spec = scenes(sim::Mixture::Ordinary, grey, 1).remove(0);
    let folder = tempfile::tempdir().unwrap();
    let scene = spec.build();
    scene.write_panel(folder.path()).unwrap();
    let [width, height] = scene.stored_size(3200);
    let image = scene.render_sensor(width, height, sim::Cfa::Gbrg);
    let written = sim::DngSpec::phone();
    let path = folder.path().join("board.dng");
    std::fs::write(&path, image.encode(&written).unwrap()).unwrap();
    let truth = halved(image.truth_in(&written));
    let panel = panel::read(&folder.path().join("panel.toml")).unwrap();
    let measured = measure::photo(&job(&path, Tone::Auto), &panel, true).unwrap();
    assert!(measured.proof.is_some());
    let record = measured.record;
    assert_eq!(record.photo.encoding.source, EncodingSource::Sensor);
    assert_eq!(record.photo.correction.kind, CorrectionKind::SensorNeutral);
    assert_eq!(judge(&record, &truth), Ok(truth.patches.len()));
    let mut inside = 0;
    for (reading, is) in record.readings.iter().zip(&truth.patches) {
        let known = Lab::new(is.lab[0], is.lab[1], is.lab[2]);
        let off = delta_e_2000(reading.lab().unwrap(), known);
        for (seen, known) in reading.outline.iter().zip(&is.quad) {
            let off = (seen[0] - known[0]).hypot(seen[1] - known[1]);
            assert!(off < 3.0, "{}: {off} pixels off", is.id);
        }
        // One in twenty may lie outside.
        inside += usize::from(off < reading.u95.unwrap());
        let of_tone = [ComponentName::Tone, ComponentName::LocalTone];
        let mut parts = reading.components.iter();
        assert!(
            parts.all(|it| !of_tone.contains(&it.name) || it.sd_lab.iter().all(|sd| *sd <= 0.0))
        );
    }
    let all = record.readings.len();
    assert!(10 * inside >= 9 * all, "{inside} of {all} within U95");
}

fn errors(photos: &[Vec<Measured>]) -> f64 {
    let all = photos.iter().flatten().filter(|it| it.clipped < 0.05);
    mean(all.filter_map(Measured::error))
}

fn raw_readings(spec: &sim::SceneSpec, tone: Tone) -> Vec<Measured> {
    let shot = shoot_raw(spec, 1600, &sim::DngSpec::phone()).unwrap();
    measure(&shot, tone).unwrap().0
}

/// A short run of `cargo bench --bench raw`.
#[test]
fn raw_files_leave_less_than_the_cameras_own_pictures() {
    let grey = |it: &sim::SceneSpec| kind(it) == Some(Kind::Grey);
    let specs = scenes(sim::Mixture::Ordinary, grey, 8);
    let raw: Vec<_> = specs
        .iter()
        .map(|it| raw_readings(it, Tone::Auto))
        .collect();
    let developed = specs.iter().map(|it| {
        let shot = shoot(it, 1600, true).unwrap();
        measure(&shot, Tone::Auto).unwrap().0
    });
    let (raw, developed) = (errors(&raw), errors(&developed.collect::<Vec<_>>()));
    println!("mean ΔE00 from raw files {raw:.2}, from developed pictures {developed:.2}");
    assert!(raw < 0.6 * developed, "{raw} of {developed}");
}

/// In the daylight between the standard's phases D50 and D65, for which files state matrices.
#[test]
fn in_daylight_hardly_more_is_left_than_the_cameras_own_error() {
    let daylight = |it: &sim::SceneSpec| {
        let phase = match it.light.light {
            sim::Light::Daylight(kelvin) => (5000.0..6600.0).contains(&kelvin),
            _ => false,
        };
        phase && it.second.is_none() && kind(it) == Some(Kind::Grey)
    };
    let specs = scenes(sim::Mixture::Flawless, daylight, 12);
    let raw: Vec<_> = specs
        .iter()
        .map(|it| raw_readings(it, Tone::None))
        .collect();
    let own = mean(raw.iter().flatten().map(Measured::camera_error));
    let left = errors(&raw);
    println!("mean ΔE00 from raw files {left:.2}, the camera's own {own:.2}");
    assert!(left < 1.1 * own, "{left} of {own}");
}

/// What white is the card says, not the camera.
#[test]
fn the_cameras_own_judgement_of_white_moves_nothing() {
    let grey = |it: &sim::SceneSpec| kind(it) == Some(Kind::Grey);
    let mut spec = scenes(sim::Mixture::Ordinary, grey, 3).remove(2);
    spec.camera.balance_error = [1.0; 3];
    let right = raw_readings(&spec, Tone::Auto);
    spec.camera.balance_error = [1.3, 1.0, 0.75];
    let wrong = raw_readings(&spec, Tone::Auto);
    for (one, other) in right.iter().zip(&wrong) {
        let off = delta_e_2000(one.ours.unwrap(), other.ours.unwrap());
        assert!(off < 0.05, "{off}");
    }
}
