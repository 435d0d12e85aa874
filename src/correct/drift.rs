//! A drift that all masked halves share: they would hide it as references, and what never was outdoors tells it.
//!
//! A coating yellows in the dark, too. A map fitted to yellowed halves as if they were what they were takes the yellowing out of the whole
//! photo, and so makes a grey card bluer than it is. Here such a map is fitted to the masked halves alone, and the card read with it.

use super::LEAST_LINEAR;
use super::map::{self, Model, Sighting, Terms};
use super::observe::Scene;
use crate::colour::{Lab, Matrix};
use crate::reference::{Origin, Reference, RegionIndex};
use crate::sample::float;
use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// How far masked halves have moved together since they were measured, seen against cards and what stays indoors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Change of L*, a*, b* of the masked halves, as it shows at the colour of the cards.
    pub lab: [f64; 3],
    /// Its covariance.
    pub covariance: Matrix,
}

/// The map may follow the masked halves wherever they went: all but no ridge.
const FREE: Model = Model::Ridge(Terms::Linear, 0.1);

impl Drift {
    /// Squared distance from none, in its covariance: χ² with three degrees of freedom if there is none.
    #[must_use]
    pub fn distance(&self) -> f64 {
        let d = Vector3::from(self.lab);
        self.covariance
            .try_inverse()
            .map_or(0.0, |inverse| d.dot(&(inverse * d)))
    }

    /// The covariance of a drift that can't be excluded, about none.
    #[must_use]
    pub fn possible(&self) -> Matrix {
        let d = Vector3::from(self.lab);
        self.covariance + d * d.transpose()
    }
}

/// None where too few masked halves, or nothing that stayed indoors, are references.
pub(super) fn of(scene: &Scene<'_>, sightings: &[Sighting]) -> Option<Drift> {
    let masked: Vec<bool> = (scene.references().iter())
        .map(|it| matches!(it.reference.origin, Origin::Masked { .. }))
        .collect();
    if masked.iter().filter(|it| **it).count() < LEAST_LINEAR {
        return None;
    }
    let fitted = map::among(FREE, &scene.to_xyz, sightings, &masked)?;
    let off = |it: &Sighting, map: &map::ColourMap| vector(it.lab) - vector(map.lab(it.rgb));
    // What the map leaves of a masked half that it doesn't know is what it leaves of any other colour.
    let mut covariance = Matrix::zeros();
    let mut known = 0.0;
    for ((it, map), weight) in sightings.iter().zip(&fitted.without).zip(&fitted.weights) {
        if let Some(map) = map.as_ref().filter(|_| *weight > 0.0) {
            let d = off(it, map);
            covariance += d * d.transpose() * *weight;
            known += weight;
        }
    }
    let mut sum = Vector3::zeros();
    let mut indoors = 0_usize;
    for (it, reference) in sightings.iter().zip(scene.references()) {
        if stays_indoors(&reference.reference) {
            sum += off(it, &fitted.map);
            indoors += 1;
        }
    }
    if indoors == 0 || known < float(LEAST_LINEAR) / 2.0 {
        return None;
    }
    Some(Drift {
        lab: (sum / float(indoors)).into(),
        covariance: covariance / known,
    })
}

/// Cards, and patches that were kept indoors. A stated colour on the board itself goes outdoors with it.
fn stays_indoors(reference: &Reference) -> bool {
    let on_card = |it: &RegionIndex| matches!(it, RegionIndex::Card(_));
    match reference.origin {
        Origin::Stated => reference.regions.iter().all(on_card),
        Origin::Indoors { .. } => true,
        Origin::Masked { .. } => false,
    }
}

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}

#[cfg(test)]
mod tests {
    use super::super::observe::Observed;
    use super::*;
    use crate::colour::Xyz;
    use crate::colour::lab;
    use crate::colour::srgb::RgbSpace;
    use crate::photo::EncodingSource;
    use crate::sample::{Overview, Samples};

    fn of_rgb(rgb: [f64; 3]) -> Lab {
        let xyz = *RgbSpace::Srgb.linear_to_xyz_d50() * Vector3::from(rgb);
        lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z))
    }

    /// A grey of stated colour in a region, then so many masked halves, with what is seen of each for what it was.
    fn drift(
        halves: usize,
        grey: Option<RegionIndex>,
        seen: impl Fn(usize, [f64; 3]) -> [f64; 3],
    ) -> Option<Drift> {
        let samples = Samples {
            to_xyz: *RgbSpace::Srgb.linear_to_xyz_d50(),
            encoding: EncodingSource::Linear,
            camera: None,
            size: [100, 100],
            bits: 16,
            code_step: 1e-5,
            patches: Vec::new(),
            cards: Vec::new(),
            substrate: Vec::new(),
            overview: Overview::default(),
        };
        let step = |i: usize, by: usize| 0.06 + 0.05 * float(i * by % 13);
        let card = grey.map(|_| ([0.4; 3], Origin::Stated));
        let common = Matrix::zeros();
        let masked = (0..halves).map(|i| {
            let rgb = [step(i, 5), step(i, 7), step(i, 11)];
            (rgb, Origin::Masked { common })
        });
        let all: Vec<([f64; 3], Origin)> = card.into_iter().chain(masked).collect();
        let observed: Vec<Observed> = (all.iter())
            .map(|(rgb, origin)| Observed {
                clipped: 0.0,
                reference: Reference {
                    name: String::new(),
                    regions: grey
                        .into_iter()
                        .filter(|_| *origin == Origin::Stated)
                        .collect(),
                    lab: of_rgb(*rgb),
                    covariance: Matrix::identity() * 0.01,
                    origin: *origin,
                },
                blocks: Vec::new(),
            })
            .collect();
        let sightings: Vec<Sighting> = (all.iter().enumerate())
            .map(|(i, (rgb, origin))| {
                let stated = *origin == Origin::Stated;
                Sighting {
                    rgb: if stated { *rgb } else { seen(i, *rgb) },
                    lab: of_rgb(*rgb),
                    stated: *rgb,
                    neutral: if stated { 1.0 } else { 0.0 },
                }
            })
            .collect();
        of(&Scene::of(&samples, &observed, 1.0), &sightings)
    }

    const CARD: Option<RegionIndex> = Some(RegionIndex::Card(0));
    /// Every masked half lost this much of its blue.
    const YELLOWED: f64 = 0.9;

    fn yellowed(_: usize, [r, g, b]: [f64; 3]) -> [f64; 3] {
        [r, g, YELLOWED * b]
    }

    #[test]
    fn halves_that_all_yellowed_are_told_with_sign_and_size() {
        let found = drift(14, CARD, yellowed).unwrap();
        // What the same loss makes of the card's grey.
        let (before, after) = (of_rgb([0.4; 3]), of_rgb([0.4, 0.4, YELLOWED * 0.4]));
        let truth = vector(after) - vector(before);
        assert!(truth.z > 2.0);
        let off = Vector3::from(found.lab) - truth;
        assert!(off.norm() < 0.15 * truth.norm(), "{found:?} {truth}");
        assert!(found.distance() > 100.0, "{found:?}");
        let possible = found.possible();
        assert!(possible[(2, 2)] >= found.lab[2].powi(2));
    }

    #[test]
    fn none_is_told_of_halves_that_stayed_and_of_one_that_leaked() {
        let stayed = drift(14, CARD, |_, rgb| rgb).unwrap();
        assert!(Vector3::from(stayed.lab).norm() < 0.05, "{stayed:?}");
        let leaked = drift(
            14,
            CARD,
            |i, [r, g, b]| {
                if i == 6 { [r, g, 0.6 * b] } else { [r, g, b] }
            },
        );
        let leaked = Vector3::from(leaked.unwrap().lab);
        assert!(leaked.norm() < 0.3, "{leaked}");
    }

    #[test]
    fn too_few_halves_or_nothing_indoors_tell_none() {
        assert!(drift(LEAST_LINEAR, CARD, yellowed).is_some());
        assert!(drift(LEAST_LINEAR - 1, CARD, yellowed).is_none());
        assert!(drift(14, None, yellowed).is_none());
        for outdoors in [RegionIndex::Patch(0), RegionIndex::Substrate] {
            assert!(drift(14, Some(outdoors), yellowed).is_none());
        }
    }
}
