//! Drawing lights and how they fall.

use crate::layout::Xy;
use crate::light::{LightKind, Split, TintedLight};
use crate::random::{between, chance, log_between, normal, pick, stream, weighted};
use crate::spec::{Field, Highlight, Mixture, Shadow};
use rand_chacha::ChaCha8Rng;

/// Kind and spectrum of the main light, and a second one.
pub(super) fn lights(
    seed: u64,
    mixture: Mixture,
    split: Split,
) -> (LightKind, TintedLight, Option<(TintedLight, f64)>) {
    let mut rng = stream(seed, 6);
    let kinds = [
        LightKind::Daylight,
        LightKind::Overcast,
        LightKind::Incandescent,
        LightKind::Fluorescent,
        LightKind::Led,
    ];
    let kind = kinds[weighted(&mut rng, &[0.45, 0.15, 0.08, 0.12, 0.2])];
    let light = TintedLight::draw(&mut rng, kind, split);
    let share = if mixture == Mixture::Hard { 0.35 } else { 0.15 };
    let second = (mixture != Mixture::Flawless && chance(&mut rng, share)).then(|| {
        let other = pick(
            &mut rng,
            &[LightKind::Overcast, LightKind::Incandescent, LightKind::Led],
        );
        (
            TintedLight::draw(&mut rng, other, split),
            between(&mut rng, 0.05, 0.3),
        )
    });
    (kind, light, second)
}

/// Light that falls off: to about 30 % across the board, to 60 % in hard scenes.
pub(super) fn field(rng: &mut ChaCha8Rng, hard: bool, half: f64, extent: Xy) -> Field {
    let across = between(rng, 0.0, if hard { 0.6 } else { 0.3 });
    let angle = between(rng, 0.0, std::f64::consts::TAU);
    let bend = 0.5 * across;
    let lamp = chance(rng, 0.3).then(|| {
        let away = half * between(rng, 0.3, 1.5);
        [
            extent[0] / 2.0 + away * angle.cos(),
            extent[1] / 2.0 + away * angle.sin(),
            half * between(rng, if hard { 2.0 } else { 3.5 }, 6.0),
        ]
    });
    let left = if lamp.is_some() { 0.3 } else { 0.5 };
    Field {
        linear: [left * across * angle.cos(), left * across * angle.sin()],
        quadratic: [
            normal(rng, 0.2 * bend),
            normal(rng, 0.2 * bend),
            normal(rng, 0.2 * bend),
        ]
        .map(|it| it.clamp(-0.12, 0.12)),
        lamp,
    }
}

pub(super) fn shadow(rng: &mut ChaCha8Rng, extent: Xy) -> Shadow {
    Shadow {
        through: [
            extent[0] * between(rng, 0.0, 1.0),
            extent[1] * between(rng, 0.0, 1.0),
        ],
        towards: between(rng, 0.0, 360.0),
        left: between(rng, 0.25, 0.75),
        soft_mm: log_between(rng, 3.0, 120.0),
    }
}

pub(super) fn highlights(rng: &mut ChaCha8Rng, mixture: Mixture, extent: Xy) -> Vec<Highlight> {
    let count = match mixture {
        Mixture::Flawless => 0,
        Mixture::Ordinary => weighted(rng, &[0.75, 0.2, 0.05]),
        Mixture::Hard => weighted(rng, &[0.4, 0.3, 0.2, 0.1]),
    };
    (0..count)
        .map(|_| Highlight {
            at: [
                extent[0] * between(rng, -0.05, 1.05),
                extent[1] * between(rng, -0.05, 1.05),
            ],
            size: [log_between(rng, 5.0, 40.0), log_between(rng, 5.0, 25.0)],
            angle: between(rng, 0.0, 180.0),
            peak: log_between(rng, 0.03, 0.8),
        })
        .collect()
}
