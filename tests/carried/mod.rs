//! Two photos of one camera in one light: a chart, and later a board with a grey card only.

mod pair;
#[path = "../correction/scene.rs"]
pub(crate) mod scene;

use masstone::correct::{Carried, Given, Origin, Portable, Saved, Tone};
use masstone::photo::Metadata;
use masstone_simulator as sim;
pub(crate) use pair::pair;
use scene::{Measured, Shot, kind, measure, measure_given, shoot};

/// Which camera took them.
pub(crate) const CAMERA: &str = "Workshop Phone 1";

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

/// Shoots a scene; none where no card is in the picture.
pub(crate) fn shot(spec: &sim::SceneSpec, long_side: u32) -> Option<Shot> {
    kind(spec)?;
    shoot(spec, long_side, false).filter(|it| it.truth.cards.len() == spec.layout.cards.len())
}
