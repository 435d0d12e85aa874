//! Chromatic adaptation from one white to another, full adaptation.

use super::Matrix;
use nalgebra::Vector3;

/// The cone space in which the whites are matched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cones {
    /// Bradford: of ICC profiles and CSS.
    Bradford,
    /// CAT16: of CIECAM16.
    Cat16,
}

impl Cones {
    /// XYZ to cone responses.
    ///
    /// # Source
    /// Bradford: ICC.1:2022 (profile version 4.4), Annex E. CAT16: Li et al., *Color Res. Appl.* 42 (2017) 703–718; CIE 248:2022.
    #[must_use]
    pub fn from_xyz(self) -> Matrix {
        match self {
            Self::Bradford => Matrix::new(
                0.8951, 0.2664, -0.1614, //
                -0.7502, 1.7135, 0.0367, //
                0.0389, -0.0685, 1.0296,
            ),
            Self::Cat16 => Matrix::new(
                0.401_288, 0.650_173, -0.051_461, //
                -0.250_268, 1.204_414, 0.045_854, //
                -0.002_079, 0.048_952, 0.953_127,
            ),
        }
    }
}

/// The matrix that takes XYZ relative to `from` to XYZ relative to `to`; it takes `from` itself to `to`.
///
/// Both whites are XYZ on one scale (usually Y = 1). `None` if a cone response of either is not a positive finite
/// number: such a light is no white.
#[must_use]
pub fn matrix(cones: Cones, from: [f64; 3], to: [f64; 3]) -> Option<Matrix> {
    let to_cones = cones.from_xyz();
    let (from, to) = (to_cones * Vector3::from(from), to_cones * Vector3::from(to));
    let usable = |it: &f64| it.is_finite() && *it > 0.0;
    if !from.iter().chain(&to).all(usable) {
        return None;
    }
    let gains = Matrix::from_diagonal(&to.component_div(&from));
    Some(to_cones.try_inverse()? * gains * to_cones)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn white_to_white_and_back(x in 0.6..1.3_f64, z in 0.2..1.4_f64, cat16 in any::<bool>()) {
            let cones = if cat16 { Cones::Cat16 } else { Cones::Bradford };
            let (from, to) = ([x, 1.0, z], crate::colour::white::D50);
            let there = matrix(cones, from, to).unwrap();
            prop_assert!((there * Vector3::from(from) - Vector3::from(to)).norm() < 1e-12);
            let back = matrix(cones, to, from).unwrap();
            prop_assert!((there * back - Matrix::identity()).norm() < 1e-9);
        }
    }

    #[test]
    fn what_is_no_white_is_refused() {
        for bad in [
            [0.0; 3],
            [1.0, 0.0, 0.0],
            [f64::NAN, 1.0, 1.0],
            [1.0, 1.0, f64::INFINITY],
        ] {
            assert!(matrix(Cones::Bradford, bad, [1.0; 3]).is_none(), "{bad:?}");
        }
    }
}
