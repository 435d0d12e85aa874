//! A drift that all masked halves share: they would hide it as references, and what never was outdoors tells it.
//!
//! A coating yellows in the dark, too. A map fitted to yellowed halves as if they were what they were takes the yellowing out of the whole
//! photo, and so makes a grey card bluer than it is. Here such a map is fitted to the masked halves alone, and the card read with it.

use super::LEAST_LINEAR;
use super::map::{self, Model, Sighting, Terms};
use super::observe::Scene;
use crate::colour::{Lab, Matrix};
use crate::reference::Origin;
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
    for (it, outdoors) in sightings.iter().zip(&masked) {
        if !outdoors {
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

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}
