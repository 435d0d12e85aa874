//! A drift that all masked halves share: they would hide it as references, and what never was outdoors tells it.
//!
//! A coating yellows in the dark, too. A map fitted to yellowed halves as if they were what they were takes the yellowing out of the whole
//! photo, and so makes a grey card bluer than it is. Here such a map is fitted to the masked halves alone, and the card read with it.

use super::LEAST_LINEAR;
use super::map::{self, Model, Sighting, Terms};
use super::observe::Observed;
use super::scene::Scene;
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
    /// Of the change of b*, what they are taken to have yellowed by: 0 where chance explains what is seen.
    pub yellowing: f64,
}

/// Standard deviation of how much b* of a light grey grows under a coating that yellows in the dark over a season, and how often one does: a choice, since nobody
/// knows beforehand. Of 24 boards of the study split (`fade -- 24 97000000 1600 study`), four of which drifted, what photos of these were off by in
/// common fell from 2.7 to 1.4 of b* with it, and grew from 0.3 to 0.5 on those that had not; for an eighth as often 1.7 and 0.4, for always 1.1 and 0.8.
const YELLOWING: f64 = 2.0;
const AS_OFTEN: f64 = 0.5;
/// No coat yellows by more in a season: three of its standard deviations. What is seen beyond that is something else, and stays in the doubt.
const MOST: f64 = 3.0 * YELLOWING;
/// Cube root of Z below which no card's grey lies.
const DARK: f64 = 0.1;

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

    /// The covariance of a drift that can't be excluded, about the yellowing that is taken for one.
    #[must_use]
    pub fn possible(&self) -> Matrix {
        let d = Vector3::from(self.lab) - Vector3::new(0.0, 0.0, self.yellowing);
        self.covariance + d * d.transpose()
    }

    /// The references with the masked halves as yellow as they are taken to be now: a yellowed coat takes from light of short waves a share, which
    /// is the same on all colours and on the cards' grey.
    pub(super) fn laid_on(&self, references: &[Observed]) -> Vec<Observed> {
        // The cube root of Z, of which b* is made.
        let root = |it: Lab| (it.l + 16.0) / 116.0 - it.b / 200.0;
        let indoors: Vec<f64> = (references.iter())
            .filter(|it| stays_indoors(&it.reference))
            .map(|it| root(it.reference.lab))
            .collect();
        let cards = indoors.iter().sum::<f64>() / float(indoors.len().max(1));
        let left = 1.0 - self.yellowing / 200.0 / cards.max(DARK);
        let mut references = references.to_vec();
        for it in &mut references {
            if matches!(it.reference.origin, Origin::Masked { .. }) {
                let lab = &mut it.reference.lab;
                lab.b += 200.0 * root(*lab) * (1.0 - left.max(0.0));
            }
        }
        references
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
    let (lab, covariance) = (sum / float(indoors), covariance / known);
    Some(Drift {
        lab: lab.into(),
        covariance,
        yellowing: yellowing(lab.z, covariance[(2, 2)]),
    })
}

/// Of a seen change of b*, what is taken for yellowing: the mean over both that a coating yellowed and that it didn't, each as likely as what is seen
/// makes it (Bayes).
fn yellowing(seen: f64, variance: f64) -> f64 {
    let usual = YELLOWING * YELLOWING;
    let variance = variance.max(f64::EPSILON);
    let likely = |variance: f64| (-seen * seen / variance / 2.0).exp() / variance.sqrt();
    let yellowed = AS_OFTEN * likely(usual + variance);
    let stayed = (1.0 - AS_OFTEN) * likely(variance);
    let share = yellowed / (yellowed + stayed);
    // Far beyond what is usual, neither is likely.
    let share = if share.is_finite() { share } else { 1.0 };
    (seen * share * usual / (usual + variance)).clamp(0.0, MOST)
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
        // So sure a one is taken for what it is; what is left of it is still stated.
        assert!((found.yellowing / truth.z - 1.0).abs() < 0.1, "{found:?}");
        let left = found.lab[2] - found.yellowing;
        let expected = found.covariance[(2, 2)] + left * left;
        assert!((found.possible()[(2, 2)] - expected).abs() < 1e-12);
    }

    #[test]
    fn what_chance_explains_is_no_yellowing() {
        // Four times and ten times as far off as the maps err; then as far as they do, and towards blue.
        assert!((yellowing(2.0, 0.25) - 2.0).abs() < 0.2);
        assert!((yellowing(3.0, 0.09) - 3.0).abs() < 0.1);
        let chance = yellowing(0.5, 0.25);
        assert!((0.0..0.15).contains(&chance), "{chance}");
        assert!(yellowing(-3.0, 0.09).abs() < 1e-12);
        // Each of a change's size may come from nothing at all, or lie beyond all that is usual.
        for (seen, variance) in [(0.0, 0.0), (1e3, 1e-6), (1e-3, 1e6), (60.0, 0.01)] {
            let found = yellowing(seen, variance);
            assert!(
                (0.0..=seen.min(MOST)).contains(&found),
                "{seen} {variance}: {found}"
            );
        }
    }

    #[test]
    fn a_yellowed_coat_takes_the_same_share_of_short_waves_from_all_colours() {
        let card = of_rgb([0.4; 3]);
        let observed = |lab: Lab, regions: Vec<RegionIndex>, origin: Origin| Observed {
            clipped: 0.0,
            reference: Reference {
                name: String::new(),
                regions,
                lab,
                covariance: Matrix::identity() * 0.01,
                origin,
            },
            blocks: Vec::new(),
        };
        let common = Matrix::zeros();
        let colours = [[0.8, 0.75, 0.7], [0.1, 0.2, 0.5], [0.6, 0.4, 0.05]].map(of_rgb);
        let masked = colours.map(|it| observed(it, Vec::new(), Origin::Masked { common }));
        let mut all = vec![observed(card, vec![RegionIndex::Card(0)], Origin::Stated)];
        all.extend(masked);
        // What the share makes of the card, by XYZ.
        let taken = |it: Lab| {
            let it = lab::to_xyz(it);
            lab::from_xyz(Xyz::new(it.x, it.y, YELLOWED * it.z))
        };
        let drift = Drift {
            lab: [0.0; 3],
            covariance: Matrix::zeros(),
            yellowing: taken(card).b - card.b,
        };
        let laid = drift.laid_on(&all);
        assert_eq!(laid[0].reference.lab, card);
        for (it, colour) in laid[1..].iter().zip(colours) {
            let off = vector(it.reference.lab) - vector(taken(colour));
            assert!(off.norm() < 1e-9, "{colour:?} {off}");
        }
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
