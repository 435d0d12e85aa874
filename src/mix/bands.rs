//! The bands that films are worked out in: 380–780 nm every 10 nm.
//!
//! Half as many as the program's sums of spectra: reflectances that are reconstructed from a colour are smooth, and a search through
//! recipes works out millions of them.

use crate::colour::spectrum::bands_to_xyz_d50;
use crate::colour::{Lab, Xyz, lab};
use nalgebra::Vector3;
use std::sync::OnceLock;

/// How many bands.
pub const BANDS: usize = 41;

/// A value for each band, 380 nm first.
pub type Spectrum = [f64; BANDS];

/// What each band adds to XYZ (D50, Y = 1 for the perfect diffuser) if all of it is reflected: the sums at 5 nm, of reflectances that are
/// straight lines between the bands.
pub fn weights() -> &'static [Vector3<f64>; BANDS] {
    static WEIGHTS: OnceLock<[Vector3<f64>; BANDS]> = OnceLock::new();
    WEIGHTS.get_or_init(|| {
        std::array::from_fn(|band| {
            let mut hat = [0.0; crate::colour::spectrum::BANDS];
            hat[2 * band] = 1.0;
            if band > 0 {
                hat[2 * band - 1] = 0.5;
            }
            if let Some(it) = hat.get_mut(2 * band + 1) {
                *it = 0.5;
            }
            let xyz = bands_to_xyz_d50(&hat);
            Vector3::new(xyz.x, xyz.y, xyz.z)
        })
    })
}

/// XYZ relative to D50 of reflectance factors in the bands.
#[must_use]
pub fn to_xyz(reflectance: &Spectrum) -> Xyz {
    let sums: Vector3<f64> = (weights().iter().zip(reflectance))
        .map(|(weight, r)| weight * *r)
        .sum();
    Xyz::new(sums.x, sums.y, sums.z)
}

/// CIELAB (D50, 2°) of reflectance factors in the bands.
#[must_use]
pub fn to_lab(reflectance: &Spectrum) -> Lab {
    lab::from_xyz(to_xyz(reflectance))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_reflectance_is_a_neutral() {
        let lab = to_lab(&[0.125; BANDS]);
        // L* 42 is 12.5 % exactly.
        assert!((lab.l - 42.0).abs() < 1e-9 && lab.a.abs() < 1e-9 && lab.b.abs() < 1e-9);
    }
}
