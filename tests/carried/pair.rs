//! Scenes of one camera in one light.

use masstone_simulator as sim;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

/// A scene with a chart, and one of another board with a grey card, shot by the same camera in the same light: exposure
/// and white balance within what a phone changes from shot to shot.
pub(crate) fn pair(split: sim::Split, seed: u64) -> (sim::SceneSpec, sim::SceneSpec) {
    let draw = |from: u64, which| {
        (from..)
            .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, split, seed))
            .find(|it| it.layout.cards.len() == 1 && it.layout.cards[0].kind == which)
    };
    let chart = draw(seed, sim::CardKind::Chart24).expect("some seed has a chart alone");
    let mut grey = draw(seed + 500_000, sim::CardKind::Grey18).expect("some seed has a grey card");
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
