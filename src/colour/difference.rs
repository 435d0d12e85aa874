//! Colour differences between two CIELAB colours, and the local metric of ΔE00.

mod ciede2000;

use super::{Lab, Matrix, lab};

/// ΔE00 with kL = kC = kH = 1. Symmetric.
///
/// # Source
/// CIE 142-2001, ISO/CIE 11664-6, with the mean hue on the shorter arc as Sharma, Wu & Dalal (*Color Res. Appl.* 30 (2005) 21–30) have it.
#[must_use]
pub fn delta_e_2000(one: Lab, other: Lab) -> f64 {
    ciede2000::delta_e(one, other)
}

/// [`delta_e_2000`] from one colour to each of those that lie so far from it in Lab: of many, in half the time.
#[must_use]
pub fn delta_e_2000_to_each(one: Lab, away: &[nalgebra::Vector3<f64>]) -> Vec<f64> {
    ciede2000::delta_e_to_each(one, away)
}

/// ΔE*ab, the distance in CIELAB (ISO/CIE 11664-4).
#[must_use]
pub fn delta_e_76(one: Lab, other: Lab) -> f64 {
    (one.l - other.l)
        .hypot(one.a - other.a)
        .hypot(one.b - other.b)
}

/// The parts of a CIELAB difference, sample minus standard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// ΔL*: positive where the sample is lighter.
    pub lightness: f64,
    /// Δa*.
    pub a: f64,
    /// Δb*.
    pub b: f64,
    /// ΔC*: positive where the sample has more chroma.
    pub chroma: f64,
    /// ΔH*: positive where the sample's hue angle is greater. With the other two: ΔL*² + ΔC*² + ΔH*² = ΔE*ab².
    pub hue: f64,
}

/// The parts of the difference of `sample` from `standard`.
///
/// # Source
/// Signs as in ASTM D2244: sample minus standard. ΔH* = 2 √(C₁C₂) sin(Δh/2), from ISO/CIE 11664-4; Δh in −180°..=180°.
#[must_use]
pub fn parts(standard: Lab, sample: Lab) -> Parts {
    let (before, after) = (lab::chroma(standard), lab::chroma(sample));
    // The angle between the two, from sine and cosine times the chromas: exact for small angles too.
    let sine = standard.a * sample.b - standard.b * sample.a;
    let cosine = standard.a * sample.a + standard.b * sample.b;
    Parts {
        lightness: sample.l - standard.l,
        a: sample.a - standard.a,
        b: sample.b - standard.b,
        chroma: after - before,
        hue: 2.0 * (before * after).sqrt() * (sine.atan2(cosine) / 2.0).sin(),
    }
}

/// The local metric `G` of ΔE00 at a colour: ΔE00² ≈ dᵀ G d for a small difference d in Lab.
///
/// # Source
/// The limit of CIE 142-2001 for two colours that meet: every weight is taken at the colour itself.
#[must_use]
pub fn local_metric(at: Lab) -> Matrix {
    // C⁷/(C⁷ + 25⁷), in the form that can't overflow.
    let seventh = |chroma: f64| {
        let ratio = (chroma / 25.0).powi(7);
        if ratio.is_finite() {
            ratio / (ratio + 1.0)
        } else {
            1.0
        }
    };
    let stretch = 1.5 - 0.5 * seventh(lab::chroma(at)).sqrt();
    let a = at.a * stretch;
    let chroma = a.hypot(at.b);
    let hue = at.b.atan2(a);
    let hue_positive = hue.to_degrees().rem_euclid(360.0);
    let from = |degrees: f64| degrees.to_radians();
    let t = 1.0 - 0.17 * (hue - from(30.0)).cos()
        + 0.24 * (2.0 * hue).cos()
        + 0.32 * (3.0 * hue + from(6.0)).cos()
        - 0.20 * (4.0 * hue - from(63.0)).cos();
    let l50 = (at.l - 50.0).powi(2);
    let s_l = 1.0 + 0.015 * l50 / (20.0 + l50).sqrt();
    let s_c = 1.0 + 0.045 * chroma;
    let s_h = 1.0 + 0.015 * chroma * t;
    let rotation = from(30.0) * (-((hue_positive - 275.0) / 25.0).powi(2)).exp();
    let r_t = -2.0 * seventh(chroma).sqrt() * (2.0 * rotation).sin();
    // dLab to (dL′/S_L, dC′/S_C, dH′/S_H).
    let (sin, cos) = hue.sin_cos();
    let to_parts = Matrix::new(
        1.0 / s_l,
        0.0,
        0.0, //
        0.0,
        stretch * cos / s_c,
        sin / s_c, //
        0.0,
        -stretch * sin / s_h,
        cos / s_h,
    );
    let weights = Matrix::new(1.0, 0.0, 0.0, 0.0, 1.0, r_t / 2.0, 0.0, r_t / 2.0, 1.0);
    to_parts.transpose() * weights * to_parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;
    use proptest::prelude::*;

    fn colour() -> impl Strategy<Value = Lab> {
        (0.0..100.0_f64, -100.0..100.0_f64, -100.0..100.0_f64)
            .prop_map(|(l, a, b)| Lab::new(l, a, b))
    }

    proptest! {
        #[test]
        fn no_difference_from_itself(it in colour()) {
            prop_assert!(delta_e_2000(it, it).abs() < 1e-9);
            prop_assert!(delta_e_76(it, it).abs() < f64::EPSILON);
        }

        #[test]
        fn symmetric_and_never_nan(one in colour(), other in colour()) {
            let there = delta_e_2000(one, other);
            prop_assert!(there.is_finite() && there >= 0.0);
            prop_assert!((there - delta_e_2000(other, one)).abs() < 1e-9);
        }

        #[test]
        fn parts_add_up_and_change_sign(standard in colour(), sample in colour()) {
            let it = parts(standard, sample);
            let total = it.lightness.hypot(it.chroma).hypot(it.hue);
            prop_assert!((total - delta_e_76(standard, sample)).abs() < 1e-9);
            let back = parts(sample, standard);
            prop_assert!((it.hue + back.hue).abs() < 1e-9 && (it.chroma + back.chroma).abs() < 1e-12);
        }

        #[test]
        fn local_metric_is_the_limit(at in colour(), l in -1.0..1.0_f64, a in -1.0..1.0_f64, b in -1.0..1.0_f64) {
            prop_assume!(l.abs() + a.abs() + b.abs() > 0.1);
            let d = Vector3::new(l, a, b) * 1e-4;
            // Half the step to either side, so that the weights are those of the middle.
            let exact = delta_e_2000(
                Lab::new(at.l - d.x / 2.0, at.a - d.y / 2.0, at.b - d.z / 2.0),
                Lab::new(at.l + d.x / 2.0, at.a + d.y / 2.0, at.b + d.z / 2.0),
            );
            let local = (d.transpose() * local_metric(at) * d).x.sqrt();
            prop_assert!((local / exact - 1.0).abs() < 1e-4, "{local} {exact}");
        }
    }

    #[test]
    fn hue_sign_is_that_of_d2244() {
        // From red towards yellow the hue angle grows.
        let it = parts(Lab::new(50.0, 20.0, 0.0), Lab::new(50.0, 0.0, 20.0));
        assert!((it.hue - 800.0_f64.sqrt()).abs() < 1e-9 && it.chroma.abs() < 1e-12);
        // A neutral has no hue difference.
        let grey = parts(Lab::new(50.0, 0.0, 0.0), Lab::new(40.0, 3.0, 4.0));
        assert!(
            grey.hue.abs() < 1e-12
                && (grey.chroma - 5.0).abs() < 1e-12
                && (grey.lightness + 10.0).abs() < 1e-12
        );
    }
}
