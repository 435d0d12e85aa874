//! Two photos of one camera in one light: a chart, and later a board with a grey card only.

#[path = "../correction/scene.rs"]
pub(crate) mod scene;

use masstone::correct::{Carried, Given, Origin, Portable, Saved, Tone};
use masstone::photo::Metadata;
use masstone_simulator as sim;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use scene::{Kind, Measured, Shot, kind, measure, measure_given, shoot};

/// Which camera took them.
pub(crate) const CAMERA: &str = "Workshop Phone 1";

/// A scene with a chart, and one of another board with a grey card, shot by the same camera in the same light: exposure
/// and white balance within what a phone changes from shot to shot.
pub(crate) fn pair(split: sim::Split, seed: u64) -> (sim::SceneSpec, sim::SceneSpec) {
    let draw = |from: u64, which| {
        (from..)
            .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, split, seed))
            .find(|it| kind(it) == Some(which))
    };
    let chart = draw(seed, Kind::Chart).expect("some seed has a chart");
    let mut grey = draw(seed + 500_000, Kind::Grey).expect("some seed has a grey card");
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut about =
        |spread: f64| 1.0 + spread * (f64::from(rng.next_u32()) / 2_147_483_648.0 - 1.0);
    grey.camera = sim::CameraSpec {
        white_level: (chart.camera.white_level * about(0.15)).min(1.0),
        ..chart.camera.clone()
    };
    for factor in &mut grey.camera.balance_error {
        *factor *= about(0.02);
    }
    grey.light_kind = chart.light_kind;
    grey.light = chart.light;
    // A second light falls its own way.
    let falls = grey.second.map_or(grey.field, |it| it.2);
    grey.second = chart.second.map(|(light, share, _)| (light, share, falls));
    grey.tone_strength = chart.tone_strength;
    (chart, grey)
}

/// What the camera says of its photos.
pub(crate) fn metadata() -> Metadata {
    Metadata {
        camera: Some(CAMERA.into()),
        ..Metadata::default()
    }
}

/// The correction that a photo of a chart gives.
pub(crate) fn fitted(shot: &Shot) -> Result<Saved, String> {
    let (_, _, outcome) = measure(shot, Tone::Auto)?;
    let fit = outcome.portable.ok_or("too few references")?;
    Ok(saved(fit))
}

pub(crate) fn saved(fit: Portable) -> Saved {
    Saved {
        origin: Origin {
            program: "masstone 0.1.0".into(),
            photo: "chart.jpg".into(),
            sha256: "0".repeat(64),
            panel: "chart".into(),
            camera: Some(CAMERA.into()),
            lens: None,
            manual_white_balance: None,
            taken: Some("2026-03-14T10:20:30+01:00".into()),
        },
        fit,
    }
}

/// Measures a shot with a saved correction.
pub(crate) fn carried(shot: &Shot, saved: &Saved, force: bool) -> Result<Vec<Measured>, String> {
    let metadata = metadata();
    let given = Given {
        saved: Some(Carried {
            saved,
            metadata: &metadata,
            force,
        }),
        blank: None,
    };
    measure_given(shot, Tone::Auto, &given).map(|it| it.0)
}

/// Shoots a scene; none where a card lies outside the picture.
pub(crate) fn shot(spec: &sim::SceneSpec, long_side: u32) -> Option<Shot> {
    shoot(spec, long_side, false).filter(|it| it.truth.cards.len() == spec.layout.cards.len())
}
