//! What a correction leaves on a masked half it leaves on the exposed one, too: a pigment that a camera sees apart in this light is seen apart on both.
//!
//! By what the masked half is read apart from its colour of before any sun, by the correction that doesn't know it, both halves of its patch are put right:
//! what lies between them stays as it was seen. On six boards of the simulator (`fade -- 6 88000000 1600 test changes`) colours of later photos were so off by half as much.

use super::super::Corrected;
use super::super::map::Sighting;
use super::super::scene::Scene;
use super::vector;
use crate::colour::Lab;
use crate::flag::UNSURE;
use crate::reference::{Origin, RegionIndex, patch_of};
use nalgebra::Vector3;

/// Puts the halves of masked patches right; gives by how much, reference by reference, as L*, a*, b* that were added. `weights` are those of the
/// references in the fit, 0–1: a half that moved is no reference, and says nothing of the other.
pub(in super::super) fn put_right(
    scene: &Scene<'_>,
    sightings: &[Sighting],
    weights: &[f64],
    readings: &mut [Corrected],
) -> Vec<Option<[f64; 3]>> {
    let references = scene.references().iter().zip(sightings).zip(weights);
    references
        .map(|((it, sighting), weight)| {
            let (Origin::Masked { .. }, [RegionIndex::Patch(region)]) =
                (it.reference.origin, &it.reference.regions[..])
            else {
                return None;
            };
            let masked = readings.get(*region)?;
            // What lies on it alone is not on the other.
            if masked.flags.iter().any(|it| UNSURE.contains(it)) {
                return None;
            }
            let (patch, seen) = (patch_of(masked.kind)?, masked.lab?);
            let off = (vector(sighting.lab) - vector(seen)) * *weight;
            let halves = readings
                .iter_mut()
                .filter(|it| patch_of(it.kind) == Some(patch));
            for half in halves {
                half.lab = half.lab.map(|it| sum(it, &off));
            }
            Some(off.into())
        })
        .collect()
}

fn sum(lab: Lab, d: &Vector3<f64>) -> Lab {
    Lab::new(lab.l + d.x, lab.a + d.y, lab.b + d.z)
}
