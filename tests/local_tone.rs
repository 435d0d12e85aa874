//! Local tone mapping in simulated photos: found where it is, hardly ever where it is not, and taken out and stated.

#![expect(clippy::unwrap_used, reason = "a helper of tests")]

#[path = "correction/scene.rs"]
mod scene;

use masstone::correct::{ComponentName, Outcome, Tone};
use masstone::flag::Flag;
use masstone_simulator as sim;
use scene::{Kind, Measured, kind, mean, measure, of_halves, shoot};

/// Photos of the ordinary mixture with local tone mapping of a strength instead of what was drawn.
fn photos(strength: f64) -> Vec<(Vec<Measured>, Outcome)> {
    (0..)
        .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, sim::Split::Test, 44_000 + seed))
        .filter(|it| kind(it) == Some(Kind::Chart))
        .filter_map(|mut it| {
            it.camera.local_tone = strength;
            shoot(&it, 700, false).filter(|shot| shot.truth.cards.len() == it.layout.cards.len())
        })
        .take(30)
        .map(|it| {
            let (measured, _, outcome) = measure(&it, Tone::Auto).unwrap();
            (measured, outcome)
        })
        .collect()
}

fn seen(photos: &[(Vec<Measured>, Outcome)]) -> usize {
    let seen =
        |it: &&(Vec<Measured>, Outcome)| it.1.correction.local_tone.is_some_and(|it| it.is_seen());
    photos.iter().filter(seen).count()
}

fn inside(photos: &[(Vec<Measured>, Outcome)]) -> f64 {
    mean(
        photos
            .iter()
            .flat_map(|it| &it.0)
            .filter(|it| it.clipped < 0.25)
            .filter_map(|it| it.error().map(|error| f64::from(u8::from(error <= it.u95)))),
    )
}

#[test]
fn local_tone_mapping_is_found_and_false_alarms_are_rare() {
    let (without, with) = (photos(0.0), photos(0.12));
    // `cargo bench --bench allowances -- 100 800 local` has the rates on other scenes: 3 % and 67 %.
    let (alarms, found) = (seen(&without), seen(&with));
    assert!(alarms <= 2, "{alarms} false alarms in {}", without.len());
    assert!(found >= 15, "{found} found in {}", with.len());
    // As strong as it is in the mean of all: those alone that show it beyond doubt would be the strong ones.
    let strengths = with.iter().filter_map(|it| it.1.correction.local_tone);
    let mean_strength = mean(strengths.map(|it| it.strength));
    assert!((0.08..0.17).contains(&mean_strength), "{mean_strength}");
    // It is told, patch by patch, and U95 holds.
    let flagged = |photos: &[(Vec<Measured>, Outcome)]| {
        let readings = photos.iter().flat_map(|it| &it.1.readings);
        readings
            .filter(|it| it.flags.contains(&Flag::LocalTone))
            .count()
    };
    assert!(flagged(&with) > 100, "{}", flagged(&with));
    assert!(flagged(&without) <= 40, "{}", flagged(&without));
    assert!((0.9..=0.995).contains(&inside(&with)), "{}", inside(&with));
    assert!(
        (0.92..=0.995).contains(&inside(&without)),
        "{}",
        inside(&without)
    );
    // The colours stay nearer to the camera's own error than to the plain method's.
    let of = |error: fn(&Measured) -> f64| mean(with.iter().flat_map(|it| &it.0).map(error));
    let ours = of(|it| it.error().unwrap_or(f64::NAN));
    let (camera, plain) = (of(Measured::camera_error), of(Measured::plain_error));
    assert!(
        ours < (camera + plain) / 2.0,
        "{ours}: camera {camera}, plain {plain}"
    );
    let halves: Vec<&[Measured]> = with.iter().map(|it| it.0.as_slice()).collect();
    assert!(of_halves(&halves).is_some_and(|[ours, plain]| ours < 0.6 * plain));
}

#[test]
fn each_reading_states_what_local_tone_mapping_leaves() {
    for (_, outcome) in photos(0.12).iter().take(3) {
        for reading in outcome.readings.iter().filter(|it| it.lab.is_some()) {
            let part = reading
                .components
                .iter()
                .find(|it| it.name == ComponentName::LocalTone);
            assert!(
                part.is_some_and(|it| it.sd_lab[0] > 0.05),
                "{:?}",
                reading.components
            );
        }
    }
}
