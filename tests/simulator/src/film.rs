//! Films by radiative transfer: what a pigmented coating on a ground reflects, worked out direction by direction.
//!
//! An independent truth for whatever explains films by two diffuse streams: light is followed in eleven directions of each hemisphere
//! (adding and doubling), scattered by Henyey and Greenstein's function, refracted and reflected by Fresnel's equations at the surface,
//! and thrown back diffusely by the ground. Pigments, coatings, grounds and how they are laid: [`Shelf`].

mod angles;
mod layer;
mod pigments;
mod shelf;

use angles::Angles;
use layer::{Directions, Scatterers};
use nalgebra::{SMatrix, SVector};
pub use pigments::{FilmPigment, PigmentKind};
pub use shelf::{Film, FilmGround, FilmPatch, Shelf, ShelfPlan};

/// Directions of each hemisphere: five beyond the critical angle, five within, and the beam.
const DIRECTIONS: usize = 11;

/// Where light comes from and what it is seen through; the eye or camera looks along the normal and sees no gloss.
#[derive(Clone, Debug)]
pub(crate) struct Viewing<const N: usize = DIRECTIONS> {
    directions: Directions<N>,
    /// Share of the light that comes from all sides; the rest comes as a beam at 45°.
    diffuse: f64,
}

impl<const N: usize> Viewing<N> {
    /// Through a coating of this index of refraction, in light of which this share (0–1) is diffuse.
    pub(crate) fn new(index: f64, diffuse: f64) -> Self {
        Self {
            directions: Directions::of(index),
            diffuse,
        }
    }

    /// Reflectance factor of a film on a ground whose reflectance within the coating is `ground`, 0–1.
    pub(crate) fn reflectance(&self, absorbs: f64, scatters: &Scatterers, ground: f64) -> f64 {
        let angles = &self.directions.angles;
        let film = self.directions.layer(absorbs, scatters);
        let back = film.over(angles, ground);
        let up = self.upwards(&back);
        let normal = Angles::<N>::NORMAL;
        let out = 1.0 - angles.thrown_back[normal];
        up[normal] / angles.share[normal] * out / angles.index.powi(2)
    }

    /// Light that meets the surface from within, for light of flux 1 from outside; `back` is what the film returns of each direction.
    fn upwards(&self, back: &SMatrix<f64, N, N>) -> SVector<f64, N> {
        let angles = &self.directions.angles;
        let mut entered = SVector::<f64, N>::from_fn(|i, _| {
            self.diffuse * angles.share[i] * angles.index.powi(2) * (1.0 - angles.thrown_back[i])
        });
        let beam = Angles::<N>::BEAM;
        entered[beam] += (1.0 - self.diffuse) * (1.0 - angles.thrown_back[beam]);
        let kept = SMatrix::from_diagonal(&SVector::from(angles.thrown_back));
        let rest = SMatrix::<f64, N, N>::identity() - back * kept;
        rest.try_inverse().expect("some light gets out") * (back * entered)
    }
}

#[cfg(test)]
mod tests;
