//! White points, XYZ with Y = 1, 2° observer.
//!
//! CIELAB is a ratio to a white, so what matters is that a colour and the white it is divided by come from the same
//! source. The sources of D50 disagree in the fifth digit; a neutral taken from one and divided by another is no longer
//! neutral (b* off by 0.03). Hence one constant, [`D50`], that of the type [`super::Lab`]; whatever comes in relative to
//! another edition of D50 is rescaled where it enters: [`icc_pcs_to_d50`] for colours from profiles, and inside
//! [`super::spectrum`] for reflectances.

use super::Matrix;
use nalgebra::Vector3;

/// The program's white: CIE D50 as `palette` and ASTM E308 have it (96.422, 100, 82.521).
///
/// Taken rather than the profile connection space's rounded value because instruments' data sheets are computed with
/// the tables of ASTM E308, and because every conversion of the type then uses the same number.
pub const D50: [f64; 3] = [0.964_22, 1.0, 0.825_21];

/// D50 of the profile connection space, as stored: s15Fixed16 of (0.9642, 1, 0.8249).
///
/// # Source
/// ICC.1:2022 (profile version 4.4), 7.2.16.
pub const ICC_PCS: [f64; 3] = [0xF6D6 as f64 / 65536.0, 1.0, 0xD32D as f64 / 65536.0];

/// D65 from its chromaticity (0.3127, 0.3290): the white of sRGB and Display P3.
///
/// # Source
/// IEC 61966-2-1:1999; CSS Color Module Level 4.
pub const D65: [f64; 3] = from_xy(0.3127, 0.3290);

/// XYZ, Y = 1, of a chromaticity; `y` must not be 0.
#[must_use]
pub const fn from_xy(x: f64, y: f64) -> [f64; 3] {
    [x / y, 1.0, (1.0 - x - y) / y]
}

/// Takes XYZ relative to the profile connection space's white to XYZ relative to [`D50`].
///
/// A plain rescaling of each component, so that L*a*b* stays exactly what the profile's own white would give.
#[must_use]
pub fn icc_pcs_to_d50() -> Matrix {
    rescale(ICC_PCS)
}

/// The rescaling from another edition of D50 to [`D50`].
pub(super) fn rescale(white: [f64; 3]) -> Matrix {
    Matrix::from_diagonal(&Vector3::from(D50).component_div(&Vector3::from(white)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use palette::white_point::WhitePoint;

    #[test]
    fn d50_is_the_white_of_the_type() {
        let white: palette::Xyz<_, f64> = palette::white_point::D50::get_xyz();
        assert_eq!(<[f64; 3]>::from(white), D50);
    }

    #[test]
    fn editions_of_d50_differ_in_the_fifth_digit_only() {
        for other in [ICC_PCS, from_xy(0.3457, 0.3585)] {
            for (ours, theirs) in D50.iter().zip(other) {
                assert!((ours - theirs).abs() < 4e-4, "{ours} {theirs}");
            }
        }
    }

    #[test]
    fn a_profile_s_neutral_is_neutral() {
        let grey = icc_pcs_to_d50() * Vector3::from(ICC_PCS) * 0.18;
        let lab = crate::colour::lab::from_xyz(crate::colour::Xyz::new(grey.x, grey.y, grey.z));
        assert!((lab.l - 49.496_108).abs() < 1e-6);
        assert!(lab.a.abs() < 1e-12 && lab.b.abs() < 1e-12);
    }
}
