//! CIELAB: to and from XYZ, its polar form, and how it changes with XYZ.
//!
//! ISO/CIE 11664-4, with the exact constants 216/24389 and 24389/27.

use super::{Lab, Matrix, Xyz, white};
use palette::convert::FromColorUnclamped;

/// Where the cube root gives way to the straight line: (6/29)³.
const EPSILON: f64 = 216.0 / 24389.0;
/// Slope of L* in that line: (29/3)³.
const KAPPA: f64 = 24389.0 / 27.0;

/// XYZ relative to D50 to CIELAB. Defined for negative XYZ too (the straight line goes on).
#[must_use]
pub fn from_xyz(xyz: Xyz) -> Lab {
    Lab::from_color_unclamped(xyz)
}

/// CIELAB to XYZ relative to D50: the inverse of [`from_xyz`].
#[must_use]
pub fn to_xyz(lab: Lab) -> Xyz {
    Xyz::from_color_unclamped(lab)
}

/// L* of a luminance or of a neutral's reflectance factor (1 for the perfect diffuser).
#[must_use]
pub fn lightness(y: f64) -> f64 {
    116.0 * f(y) - 16.0
}

/// The luminance (1 for the perfect diffuser) of an L*: the inverse of [`lightness`].
#[must_use]
pub fn luminance(lightness: f64) -> f64 {
    f_inverse((lightness + 16.0) / 116.0)
}

/// C*ab.
#[must_use]
pub fn chroma(lab: Lab) -> f64 {
    lab.a.hypot(lab.b)
}

/// h_ab in degrees, `0.0..360.0`; 0 for an exact neutral, whose hue means nothing.
#[must_use]
pub fn hue_degrees(lab: Lab) -> f64 {
    let hue = lab.b.atan2(lab.a).to_degrees();
    // A tiny negative angle would round up to 360 on addition.
    if hue < 0.0 {
        (hue + 360.0) % 360.0
    } else {
        hue + 0.0
    }
}

/// The cube root with a straight line near black, of a component over its white.
fn f(t: f64) -> f64 {
    if t > EPSILON {
        t.cbrt()
    } else {
        (KAPPA * t + 16.0) / 116.0
    }
}

/// The inverse of [`f`].
fn f_inverse(v: f64) -> f64 {
    let cube = v.powi(3);
    if cube > EPSILON {
        cube
    } else {
        (116.0 * v - 16.0) / KAPPA
    }
}

/// The derivative of [`f`].
fn f_slope(t: f64) -> f64 {
    if t > EPSILON {
        t.cbrt().powi(-2) / 3.0
    } else {
        KAPPA / 116.0
    }
}

/// dLab/dXYZ at a colour: rows L*, a*, b*, columns X, Y, Z. Takes a covariance in XYZ to Lab as `J Σ Jᵀ`.
#[must_use]
pub fn jacobian(xyz: Xyz) -> Matrix {
    let [xn, yn, zn] = white::D50;
    let (x, y, z) = (
        f_slope(xyz.x / xn) / xn,
        f_slope(xyz.y / yn) / yn,
        f_slope(xyz.z / zn) / zn,
    );
    Matrix::new(
        0.0,
        116.0 * y,
        0.0, //
        500.0 * x,
        -500.0 * y,
        0.0, //
        0.0,
        200.0 * y,
        -200.0 * z,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn there_and_back(x in -0.01..1.2_f64, y in -0.01..1.2_f64, z in -0.01..1.2_f64) {
            let back = to_xyz(from_xyz(Xyz::new(x, y, z)));
            prop_assert!((back.x - x).abs() < 1e-12 && (back.y - y).abs() < 1e-12 && (back.z - z).abs() < 1e-12);
        }

        #[test]
        fn lightness_is_that_of_lab_and_inverts(y in 0.0..1.5_f64) {
            let [xn, _, zn] = white::D50;
            let lab = from_xyz(Xyz::new(xn * y, y, zn * y));
            prop_assert!((lab.l - lightness(y)).abs() < 1e-12);
            prop_assert!(chroma(lab) < 1e-10);
            prop_assert!((luminance(lightness(y)) - y).abs() < 1e-14);
        }

        #[test]
        fn polar_form_gives_the_colour_back(a in -120.0..120.0_f64, b in -120.0..120.0_f64) {
            let lab = Lab::new(50.0, a, b);
            let hue = hue_degrees(lab);
            prop_assert!((0.0..360.0).contains(&hue));
            prop_assert!((chroma(lab) * hue.to_radians().cos() - a).abs() < 1e-10);
            prop_assert!((chroma(lab) * hue.to_radians().sin() - b).abs() < 1e-10);
        }

        #[test]
        fn jacobian_is_the_slope(x in 0.02..1.0_f64, y in 0.02..1.0_f64, z in 0.02..1.0_f64) {
            let slope = jacobian(Xyz::new(x, y, z));
            let step = 1e-6;
            for (column, d) in [[step, 0.0, 0.0], [0.0, step, 0.0], [0.0, 0.0, step]].iter().enumerate() {
                let up = from_xyz(Xyz::new(x + d[0], y + d[1], z + d[2]));
                let down = from_xyz(Xyz::new(x - d[0], y - d[1], z - d[2]));
                for (row, change) in [up.l - down.l, up.a - down.a, up.b - down.b].iter().enumerate() {
                    // Central difference: error of order step² f‴, and rounding of Lab (1e-14) over the step.
                    prop_assert!((slope[(row, column)] - change / (2.0 * step)).abs() < 1e-5);
                }
            }
        }
    }

    #[test]
    fn hue_stays_below_360() {
        assert!(hue_degrees(Lab::new(50.0, 1.0, -1e-300)) < 360.0);
        assert!(hue_degrees(Lab::new(50.0, 0.0, -0.0)).abs() < f64::EPSILON);
    }

    #[test]
    fn jacobian_near_black_is_that_of_the_line() {
        let slope = jacobian(Xyz::new(0.001, 0.001, 0.001));
        assert!((slope[(0, 1)] - 24389.0 / 27.0).abs() < 1e-9);
    }
}
