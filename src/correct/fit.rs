//! Tone curve and light of one photo from references; what the stated ones alone make of the others.

use super::choose::choose;
use super::map::Sighting;
use super::observe::{self, Observed};
use super::scene::Scene;
use super::{
    BlankError, CorrectError, Given, LightField, Options, Tone, ToneCurve, allowance, blank,
    reading, tone,
};
use crate::colour::Lab;
use crate::reference::{Reference, RegionIndex};
use crate::sample::Samples;
use std::collections::BTreeMap;

/// The photo with its references, as the fits see it.
pub(super) fn scene<'a>(
    samples: &'a Samples,
    observed: &'a [Observed],
    options: &Options,
    given: &Given<'a>,
) -> Scene<'a> {
    let rendered =
        options.tone == Tone::Auto && is_as_phones_write(samples) && !samples.encoding.is_linear();
    let saturation = if rendered {
        allowance::PHONE_SATURATION
    } else {
        1.0
    };
    Scene::of(samples, observed, saturation).lit_by(given.blank)
}

/// The light, if a blank that is given agrees with it.
pub(super) fn agreed(
    scene: &Scene<'_>,
    observed: &[Observed],
    given: &Given<'_>,
    tone: &ToneCurve,
    light: LightField,
) -> Result<LightField, BlankError> {
    match given.blank {
        Some(_) => blank::agree(scene.samples(), observed, tone, light),
        None => Ok(light),
    }
}

/// Tone curve and light, with the references as they are seen through both.
pub(super) struct Fit {
    pub(super) tone: ToneCurve,
    pub(super) light: LightField,
    pub(super) sightings: Vec<Sighting>,
}

pub(super) fn fit(
    scene: &Scene<'_>,
    observed: &[Observed],
    options: &Options,
    given: &Given<'_>,
) -> Result<Fit, CorrectError> {
    let (tone, light) = fit_tone(scene.samples(), scene, options.tone);
    let light = agreed(scene, observed, given, &tone, light)?;
    let sightings = scene.sightings(&tone, &light);
    Ok(Fit {
        tone,
        light,
        sightings,
    })
}

/// The colours of the references that are known from before any sun, by those that are stated, reference by reference; nothing where all are
/// stated, or the stated ones make no correction.
pub(super) fn alone(
    samples: &Samples,
    references: &[Reference],
    options: &Options,
    given: &Given<'_>,
) -> BTreeMap<usize, Lab> {
    let (stated, before): (Vec<_>, Vec<_>) =
        references.iter().cloned().partition(Reference::is_stated);
    if before.is_empty() {
        return BTreeMap::new();
    }
    let by_stated = || {
        let observed = observe::observe(samples, &stated)?;
        let scene = scene(samples, &observed, options, given);
        let fit = fit(&scene, &observed, options, given)?;
        let chosen = choose(&scene, &fit.sightings)?;
        Ok::<_, CorrectError>((fit.tone, fit.light, chosen))
    };
    let Ok((tone, light, chosen)) = by_stated() else {
        return BTreeMap::new();
    };
    let patches = before.iter().flat_map(|it| &it.regions);
    let patches = patches.filter_map(|it| match it {
        RegionIndex::Patch(index) => Some(*index),
        _ => None,
    });
    patches
        .filter_map(|index| {
            let region = samples.patches.get(index)?;
            Some((
                index,
                reading::colour(region, &tone, &light, &chosen.fitted.map)?,
            ))
        })
        .collect()
}

/// What is supposed of the tone curve of such a file.
pub(super) fn prior(samples: &Samples) -> tone::Prior {
    if is_as_phones_write(samples) {
        allowance::PHONE_TONE
    } else {
        allowance::DEVELOPED_TONE
    }
}

/// Phones write 8 bits, some 10; what was developed with care comes in 16.
fn is_as_phones_write(samples: &Samples) -> bool {
    samples.bits <= 10
}

/// How often tone and light are looked at in turns; one time more moved no reading.
const ROUNDS: usize = 3;

/// Tone curve and light, which depend on each other: in turns.
fn fit_tone(samples: &Samples, scene: &Scene<'_>, tone: Tone) -> (ToneCurve, LightField) {
    if tone == Tone::None || samples.encoding.is_linear() {
        let tone = ToneCurve::encoding();
        let light = scene.light(&tone);
        return (tone, light);
    }
    let prior = prior(samples);
    let mut tone = ToneCurve::assumed(&prior);
    let mut light = scene.light(&tone);
    for _ in 0..ROUNDS {
        tone = scene.tone(&light, &tone, &prior);
        light = scene.light(&tone);
    }
    (tone, light)
}
