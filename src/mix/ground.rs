//! What lies below the coating, from the controls: patches of the coating without pigment.

use super::bands::{self, BANDS, Spectrum};
use super::error::FitError;
use super::prior::Over;
use super::solve::vector;
use super::surface::COATING;
use super::trial::Trial;
use crate::colour::reconstruction::reflectance_over;
use crate::colour::{Lab, Matrix, lab};
use nalgebra::Vector3;

/// A ground as the coating wets it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wetted {
    pub(super) name: String,
    /// Internal reflectance.
    pub(super) reflectance: Spectrum,
    /// Its covariance.
    pub(super) covariance: Box<Over>,
}

/// The smoothest ground that has exactly the mean colour of its controls.
pub(super) fn of_controls(name: &str, controls: &[&Trial]) -> Result<Wetted, FitError> {
    let (lab, _covariance) = mean(controls);
    let refused = || FitError::NoSurface {
        ground: name.to_owned(),
        lab: lab.into(),
    };
    let colour = Lab::new(lab.x, lab.y, lab.z);
    let seen = reflectance_over(bands::weights(), lab::to_xyz(colour)).map_err(|_| refused())?;
    let reflectance = seen.map(|it| COATING.within(it));
    if reflectance.iter().any(|it| *it > 1.0) {
        return Err(refused());
    }
    Ok(Wetted {
        name: name.to_owned(),
        reflectance,
        covariance: Box::new(Over::zeros()),
    })
}

/// Mean weighted by what is known of each, and its covariance.
fn mean(controls: &[&Trial]) -> (Vector3<f64>, Matrix) {
    // Without a covariance that can be inverted all weigh the same.
    let weights: Option<Vec<Matrix>> = controls
        .iter()
        .map(|it| it.covariance.try_inverse())
        .collect();
    let weights = weights.unwrap_or_else(|| vec![Matrix::identity(); controls.len()]);
    let total: Matrix = weights.iter().sum();
    let covariance = total.try_inverse().unwrap_or_else(Matrix::zeros);
    let sum: Vector3<f64> = (weights.iter().zip(controls))
        .map(|(weight, it)| weight * vector(it.lab))
        .sum();
    (covariance * sum, covariance)
}

#[allow(dead_code)]
const _: usize = BANDS;
