//! The yellowness index of ASTM E313, for white and nearly white surfaces such as a coated white.
//!
//! Today's form for D65 and the 2° observer. (An older one of the same number, 100 (1 − 0.847 Z/Y), gives other figures.) The standard has no
//! coefficients for D50, so colours are first adapted to D65 by Bradford's transform.

use super::adaptation::{Cones, matrix};
use super::{Lab, lab, white};
use nalgebra::Vector3;
use std::sync::LazyLock;

/// D65 as the standard takes it (ASTM E308, 2°), Y = 1: with it a perfect white has yellowness 0 to the last digit of the coefficients.
pub const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];
/// Coefficient of X, D65/2°.
const C_X: f64 = 1.2985;
/// Coefficient of Z, D65/2°.
const C_Z: f64 = 1.1335;

/// Yellowness of a colour: 0 for white, some 10 for a plainly yellowed one, below 0 for a bluish one. `None` for black, and what is no number.
///
/// Whether the index means anything for the colour: [`suits`].
///
/// # Source
/// ASTM E313 (D65/2°); Bradford's adaptation from D50 to D65.
#[must_use]
pub fn yellowness(colour: Lab) -> Option<f64> {
    of_xyz(xyz_d65(colour))
}

/// Yellowness of XYZ relative to D65 ([`WHITE`]), any scale. `None` unless Y > 0.
///
/// # Source
/// ASTM E313: 100 (Cx X − Cz Z)/Y, coefficients for D65/2° (E313-15e1).
#[must_use]
pub fn of_xyz(xyz: [f64; 3]) -> Option<f64> {
    let [x, y, z] = xyz;
    let index = 100.0 * (C_X * x - C_Z * z) / y;
    (y > 0.0 && index.is_finite()).then_some(index)
}

/// Luminance from which a surface counts as white or pale here. The standard has this limit (Y 65 %) for whiteness; taken for yellowness
/// too, to keep the index off paints.
const PALE: f64 = 0.65;
/// Chroma C*ab below which a surface counts as white whatever its hue: its dominant wavelength means nothing. A choice, no source.
const NO_HUE: f64 = 5.0;
/// The spectrum's colours at 570 and 580 nm, CIE 1931: x̄, ȳ, z̄. The standard is for dominant wavelengths between them.
const LOCUS: [[f64; 3]; 2] = [[0.7621, 0.952, 0.0021], [0.9163, 0.87, 0.001_65]];

/// Why the index doesn't suit a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Unsuited {
    /// Too dark.
    #[error("it is no white: its luminance is below 65 %")]
    Dark,
    /// Coloured, and not yellow.
    #[error("its hue is not that of yellowing: its dominant wavelength lies outside 570–580 nm")]
    Hue,
}

/// Whether the index says something about this colour: white, or pale with a dominant wavelength of 570–580 nm.
///
/// # Errors
/// [`Unsuited`], in words that can follow "no yellowness index, since".
///
/// # Source
/// Abstract of ASTM E313-20: dominant wavelength 570–580 nm, surfaces of one material, gloss and texture only.
pub fn suits(colour: Lab) -> Result<(), Unsuited> {
    let [x, y, z] = xyz_d65(colour);
    if y.is_nan() || y < PALE {
        return Err(Unsuited::Dark);
    }
    if lab::chroma(colour) < NO_HUE {
        return Ok(());
    }
    // Seen from white, between the directions to the spectrum at 580 nm and at 570 nm.
    let chromaticity = |it: [f64; 3]| {
        let sum: f64 = it.iter().sum();
        (it[0] / sum, it[1] / sum)
    };
    let (xn, yn) = chromaticity(WHITE);
    let [from, to, here] = [LOCUS[1], LOCUS[0], [x, y, z]]
        .map(chromaticity)
        .map(|(x, y)| (x - xn, y - yn));
    let turn = |one: (f64, f64), other: (f64, f64)| one.0 * other.1 - one.1 * other.0;
    if turn(from, here) >= 0.0 && turn(here, to) >= 0.0 {
        Ok(())
    } else {
        Err(Unsuited::Hue)
    }
}

fn xyz_d65(colour: Lab) -> [f64; 3] {
    static TO_D65: LazyLock<super::Matrix> =
        LazyLock::new(|| matrix(Cones::Bradford, white::D50, WHITE).expect("both are whites"));
    let xyz = lab::to_xyz(colour);
    (*TO_D65 * Vector3::new(xyz.x, xyz.y, xyz.z)).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// XYZ of a CIELAB colour relative to the standard's own white.
    fn xyz_of(l: f64, a: f64, b: f64) -> [f64; 3] {
        let it = lab::to_xyz(Lab::new(l, a, b));
        let ratio = Vector3::new(it.x, it.y, it.z).component_div(&Vector3::from(white::D50));
        ratio.component_mul(&Vector3::from(WHITE)).into()
    }

    /// `colour.colorimetry.yellowness_ASTME313` of colour-science 0.4.7 on the same XYZ, four decimals.
    #[test]
    fn matches_an_independent_implementation() {
        for (colour, expected) in [
            ((90.0, 0.0, 5.0), 9.8547),
            ((85.0, 1.0, 12.0), 24.6490),
            ((92.0, -1.0, 3.0), 5.0756),
        ] {
            let ours = of_xyz(xyz_of(colour.0, colour.1, colour.2)).unwrap();
            assert!((ours - expected).abs() < 5e-5, "{colour:?} {ours}");
        }
        // The worked value of its documentation, two decimals.
        assert!((of_xyz([95.0, 100.0, 105.0]).unwrap() - 4.34).abs() < 5e-3);
    }

    /// The standard's own table has −0.0004 as the residual error of a perfect white, D65/2°.
    #[test]
    fn a_neutral_has_none_at_any_lightness() {
        for l in [20.0, 50.0, 93.0, 100.0] {
            let ours = yellowness(Lab::new(l, 0.0, 0.0)).unwrap();
            assert!((ours + 0.0004).abs() < 5e-5, "{l} {ours}");
        }
    }

    /// The same screen colours under both whites: XYZ relative to D65 and CIELAB relative to D50, from colour-science 0.4.7.
    #[test]
    fn adaptation_from_d50_is_in_it() {
        for (xyz, d50) in [
            ([37.1823, 34.8947, 25.8967], (65.9199, 14.9610, 17.2661)),
            ([11.1305, 10.0971, 6.8317], (38.2232, 12.7670, 13.9707)),
            ([76.9975, 92.7808, 13.8526], (97.6070, -15.7498, 93.3936)),
        ] {
            // The screen's D65 is (95.0456, 100, 108.9058): brought to the standard's, component by component.
            let xyz: [f64; 3] = Vector3::from(xyz)
                .component_div(&Vector3::from(white::D65))
                .component_mul(&Vector3::from(WHITE))
                .into();
            let direct = of_xyz(xyz).unwrap();
            let ours = yellowness(Lab::new(d50.0, d50.1, d50.2)).unwrap();
            // Four decimals of XYZ and Lab, and the two whites' fifth digit.
            assert!((ours - direct).abs() < 0.02, "{ours} {direct}");
        }
    }

    #[test]
    fn near_white_it_grows_with_b() {
        let of_b = |b: f64| yellowness(Lab::new(93.0, 0.0, b)).unwrap();
        assert!(of_b(-2.0) < 0.0 && of_b(2.0) > 0.0);
        // Some two units for each b*: from the table above, 9.85 at 5.
        assert!((1.6..2.2).contains(&(of_b(6.0) - of_b(5.0))));
    }

    #[test]
    fn suits_whites_and_what_yellowed_of_them_only() {
        for white in [
            (95.0, 0.0, 2.0),
            (92.0, -1.0, 3.0),
            (90.0, 0.0, 5.0),
            (85.0, 1.0, 12.0),
        ] {
            assert_eq!(
                suits(Lab::new(white.0, white.1, white.2)),
                Ok(()),
                "{white:?}"
            );
        }
        let unsuited = [
            ((40.0, 45.0, 25.0), Unsuited::Dark),
            ((70.0, 8.0, 25.0), Unsuited::Dark),
            ((88.0, -15.0, 10.0), Unsuited::Hue),
            ((88.0, 12.0, 4.0), Unsuited::Hue),
            ((88.0, -3.0, -12.0), Unsuited::Hue),
        ];
        for (colour, why) in unsuited {
            assert_eq!(
                suits(Lab::new(colour.0, colour.1, colour.2)),
                Err(why),
                "{colour:?}"
            );
        }
    }

    #[test]
    fn black_and_what_is_no_number_have_none() {
        assert!(yellowness(Lab::new(0.0, 0.0, 0.0)).is_none());
        assert!(yellowness(Lab::new(f64::NAN, 0.0, 0.0)).is_none());
        assert!(suits(Lab::new(f64::NAN, 0.0, 0.0)).is_err());
    }
}
