//! What lies below the coating, from the controls: patches of the coating without pigment.

use super::bands::{self, BANDS, Spectrum};
use super::controls::{self, Mean};
use super::directed;
use super::error::FitError;
use super::prior::{Logs, Over};
use super::residual::Contradiction;
use super::surface::COATING;
use super::trial::Trial;
use crate::colour::reconstruction::reflectance_over;
use crate::colour::{Lab, Matrix, lab};
use nalgebra::{SMatrix, Vector3};

/// Reflectance in each band by L*, a*, b*.
pub(super) type ByLab = SMatrix<f64, BANDS, 3>;

/// A ground as the coating wets it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wetted {
    pub(super) name: String,
    /// Internal reflectance.
    pub(super) reflectance: Spectrum,
    /// Its covariance.
    pub(super) covariance: Box<Over>,
    /// How it changes with its controls' mean L*, a*, b*.
    pub(super) by_lab: Box<ByLab>,
    /// What this mean is off by together with all trials: dLab by the error that all share.
    pub(super) together: Matrix,
    /// The same as a covariance, as if each control were off by itself.
    pub(super) apart: Matrix,
    /// Mean amount of its controls.
    pub(super) g_per_m2: f64,
    /// What the coating absorbs is told from controls of different amounts.
    pub(super) coating_known: bool,
    /// How many controls it has, and those that contradict the others: which of these.
    pub(super) controls: usize,
    pub(super) contradicts: Vec<(String, Contradiction)>,
}

/// The smoothest ground that has exactly the mean colour of its controls.
pub(super) fn of_controls(
    name: &str,
    controls: &[&Trial],
    coating: Option<&Spectrum>,
) -> Result<Wetted, FitError> {
    let Mean {
        lab,
        covariance,
        together,
        apart,
        contradicts,
    } = controls::mean(controls, coating);
    let refused = || FitError::NoSurface {
        ground: name.to_owned(),
        lab: lab.into(),
    };
    let reflectance = within(lab).ok_or_else(refused)?;
    let g_per_m2 = controls.iter().map(|it| it.g_per_m2).sum::<f64>() / controls.len() as f64;
    let mut slopes = by_lab(lab, &reflectance);
    // What the coating above lets through: 1 where it is taken for part of the ground.
    let passes = coating.map_or([1.0; BANDS], |k| k.map(|k| directed::clear(k * g_per_m2)));
    let below = std::array::from_fn(|band| f64::min(reflectance[band] / passes[band], 1.0));
    for (mut row, passes) in slopes.row_iter_mut().zip(passes) {
        row /= passes;
    }
    Ok(Wetted {
        name: name.to_owned(),
        reflectance: below,
        covariance: Box::new(slopes * covariance * slopes.transpose()),
        by_lab: Box::new(slopes),
        together,
        apart,
        g_per_m2,
        coating_known: coating.is_some(),
        controls: controls.len(),
        contradicts: (contradicts.into_iter())
            .map(|it| (controls[it.which].name.clone(), it))
            .collect(),
    })
}

/// How the smoothest internal reflectance changes with the colour that it has.
pub(super) fn by_lab(lab: Vector3<f64>, reflectance: &Spectrum) -> ByLab {
    let middle = Logs::from(*reflectance);
    let mut slopes = ByLab::zeros();
    for axis in 0..3 {
        let mut moved = lab;
        moved[axis] += STEP;
        // Near the edge of what a surface can have, the other way.
        if let Some(it) = within(moved) {
            slopes.set_column(axis, &((Logs::from(it) - middle) / STEP));
        } else {
            moved[axis] -= 2.0 * STEP;
            if let Some(it) = within(moved) {
                slopes.set_column(axis, &((middle - Logs::from(it)) / STEP));
            }
        }
    }
    slopes
}

/// For slopes, in L*, a*, b*.
const STEP: f64 = 0.2;

/// The smoothest internal reflectance of a colour; `None` where no surface has it.
pub(super) fn within(lab: Vector3<f64>) -> Option<Spectrum> {
    let colour = Lab::new(lab.x, lab.y, lab.z);
    let seen = reflectance_over(bands::weights(), lab::to_xyz(colour)).ok()?;
    let reflectance = seen.map(|it| COATING.within(it));
    reflectance
        .iter()
        .all(|it| *it <= 1.0)
        .then_some(reflectance)
}
