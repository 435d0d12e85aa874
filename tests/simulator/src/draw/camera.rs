//! Drawing the camera, its processing, its pose and its metadata.

use crate::camera::{CAMERAS_PER_SPLIT, CameraId};
use crate::light::{LightKind, Split, TintedLight};
use crate::random::{between, chance, log_between, normal, pick};
use crate::spec::{CameraSpec, Encoding, ExifSpec, Mixture, Space, ToneCurve, ToneStrength};
use crate::view::Pose;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

pub(super) fn tone(rng: &mut ChaCha8Rng, strength: ToneStrength) -> ToneCurve {
    match strength {
        ToneStrength::None => ToneCurve::None,
        ToneStrength::Mild => match rng.random_range(0..3) {
            0 => ToneCurve::Logistic {
                steepness: between(rng, 2.0, 4.0),
                middle: between(rng, 0.4, 0.55),
                exponent: between(rng, 0.88, 1.08),
            },
            1 => ToneCurve::Filmic {
                strength: between(rng, 0.2, 0.55),
                white: between(rng, 0.8, 1.4),
            },
            _ => ToneCurve::Cubic {
                amount: between(rng, 0.15, 0.5),
            },
        },
        ToneStrength::Strong => match rng.random_range(0..3) {
            0 => ToneCurve::Logistic {
                steepness: between(rng, 4.5, 7.0),
                middle: between(rng, 0.38, 0.55),
                exponent: between(rng, 0.8, 1.05),
            },
            1 => ToneCurve::Filmic {
                strength: between(rng, 0.7, 1.0),
                white: between(rng, 1.0, 2.2),
            },
            _ => ToneCurve::Cubic {
                amount: between(rng, 0.6, 0.95),
            },
        },
    }
}

pub(super) fn camera(
    rng: &mut ChaCha8Rng,
    mixture: Mixture,
    split: Split,
    strength: ToneStrength,
) -> CameraSpec {
    let flawless = mixture == Mixture::Flawless;
    let hard = mixture == Mixture::Hard;
    let id = CameraId {
        split,
        number: rng.random_range(0..CAMERAS_PER_SPLIT),
    };
    let balance = normal(rng, if hard { 0.10 } else { 0.05 });
    let tint = normal(rng, 0.02);
    let wrong_light = chance(rng, if hard { 0.5 } else { 0.35 });
    let other = pick(
        rng,
        &[LightKind::Daylight, LightKind::Incandescent, LightKind::Led],
    );
    let matrix_light = TintedLight::draw(rng, other, split);
    let noise = log_between(rng, 0.004, if hard { 0.03 } else { 0.018 });
    let sharpening = chance(rng, 0.6).then(|| (between(rng, 0.2, 0.9), between(rng, 0.8, 1.6)));
    let base = CameraSpec {
        id,
        balance_error: [1.0 + balance, 1.0 + tint, 1.0 - balance],
        matrix_light: wrong_light.then_some(matrix_light),
        white_level: between(
            rng,
            if hard { 0.45 } else { 0.6 },
            if hard { 1.15 } else { 0.98 },
        ),
        shot_noise: noise,
        read_noise: noise * between(rng, 0.1, 0.25),
        blur_px: between(rng, 0.6, if hard { 3.0 } else { 1.5 }),
        vignetting: between(rng, 0.0, if hard { 0.35 } else { 0.2 }),
        flare: between(rng, 0.0, if hard { 0.015 } else { 0.006 }),
        local_tone: if chance(rng, if hard { 0.5 } else { 0.2 }) {
            between(rng, 0.05, if hard { 0.3 } else { 0.12 })
        } else {
            0.0
        },
        saturation: between(rng, 1.0, 1.18),
        tone: tone(rng, strength),
        sharpening,
        space: if chance(rng, 0.5) {
            Space::DisplayP3
        } else {
            Space::Srgb
        },
        encoding: Encoding::Display,
        jpeg_quality: rng.random_range(84..=96),
        jpeg_420: chance(rng, 0.7),
        progressive: chance(rng, 0.2),
        embed_profile: chance(rng, 0.85),
    };
    let base = CameraSpec {
        embed_profile: base.embed_profile || base.space == Space::DisplayP3,
        ..base
    };
    if !flawless {
        return base;
    }
    CameraSpec {
        balance_error: [1.0; 3],
        matrix_light: None,
        white_level: 0.78,
        shot_noise: 0.003,
        read_noise: 0.0003,
        blur_px: 0.7,
        vignetting: 0.0,
        flare: 0.0,
        local_tone: 0.0,
        saturation: 1.0,
        tone: ToneCurve::None,
        sharpening: None,
        space: Space::DisplayP3,
        jpeg_quality: 97,
        jpeg_420: false,
        progressive: false,
        embed_profile: true,
        ..base
    }
}

pub(super) fn pose(rng: &mut ChaCha8Rng, mixture: Mixture, turn: f64) -> Pose {
    let hard = mixture == Mixture::Hard;
    Pose {
        turn: turn + normal(rng, if hard { 6.0 } else { 3.0 }).clamp(-14.0, 14.0),
        tilt: match mixture {
            Mixture::Flawless => between(rng, 0.0, 8.0),
            Mixture::Ordinary => between(rng, 0.0, 20.0),
            Mixture::Hard => between(rng, 5.0, 30.0),
        },
        towards: between(rng, 0.0, 360.0),
        fill: between(rng, if hard { 0.4 } else { 0.6 }, 0.92),
        shift: [between(rng, -0.6, 0.6), between(rng, -0.6, 0.6)],
        focal: between(rng, 0.68, 0.8),
        distortion: normal(rng, if hard { 0.012 } else { 0.004 }),
    }
}

pub(super) fn exif(rng: &mut ChaCha8Rng, kind: LightKind) -> ExifSpec {
    let dim = matches!(
        kind,
        LightKind::Incandescent | LightKind::Fluorescent | LightKind::Led
    );
    ExifSpec {
        make: "Workshop".to_owned(),
        model: format!("Workshop Phone {}", rng.random_range(1..=5)),
        taken: format!(
            "2026:{:02}:{:02} {:02}:{:02}:{:02}",
            rng.random_range(1..=12),
            rng.random_range(1..=28),
            rng.random_range(8..=17),
            rng.random_range(0..60),
            rng.random_range(0..60)
        ),
        offset: "+01:00".to_owned(),
        exposure_per_s: if dim {
            pick(rng, &[30, 60, 100])
        } else {
            pick(rng, &[120, 250, 500])
        },
        iso: if dim {
            pick(rng, &[200, 400, 640])
        } else {
            pick(rng, &[32, 50, 100])
        },
        flash: false,
        zoom: None,
    }
}
