//! From a colour back to a reflectance spectrum: the smoothest one, strictly between 0 and 1, that has exactly this colour.
//!
//! Infinitely many reflectances share a colour. Real pigments' are smooth, so the smoothest is a fair guess wherever something acts
//! wavelength by wavelength: a coating that yellows, pigments that mix. What is guessed is the shape: sums over wide bands hold, single
//! wavelengths don't.

mod bordered;

use super::Xyz;
use super::spectrum::{BANDS, weights_d50};
use nalgebra::{DVector, Vector3};

/// Why there is no reflectance.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReconstructionError {
    /// Outside what a surface can have, or on its very edge.
    #[error(
        "no surface has the colour X {x:.4}, Y {y:.4}, Z {z:.4}: its reflectance would leave 0–1 somewhere"
    )]
    NoSurface {
        /// X, Y = 1 for the perfect diffuser.
        x: f64,
        /// Y.
        y: f64,
        /// Z.
        z: f64,
    },
}

/// The reflectance factors, each between 0 and 1 and neither, at 380–780 nm every 5 nm; under D50 they sum to `xyz` ([`super::spectrum`]).
///
/// They minimise Σ (zᵢ₊₁ − zᵢ)², where R = (tanh z + 1)/2. A neutral has a flat one.
///
/// # Errors
/// [`ReconstructionError::NoSurface`] for colours that no reflectance has (and those so near to them that rounding decides), and
/// for what is no number.
///
/// # Source
/// S. A. Burns, *Color Res. Appl.* 45 (2020) 8–21: least slope of the hyperbolic tangent's argument, by Newton's method.
pub fn reflectance(xyz: Xyz) -> Result<[f64; BANDS], ReconstructionError> {
    reflectance_over(weights_d50(), xyz)
}

/// The same over other bands: `weights` are what each adds to XYZ if all of it is reflected.
///
/// # Errors
/// As [`reflectance`].
pub fn reflectance_over<const N: usize>(
    weights: &[Vector3<f64>; N],
    xyz: Xyz,
) -> Result<[f64; N], ReconstructionError> {
    let refused = ReconstructionError::NoSurface {
        x: xyz.x,
        y: xyz.y,
        z: xyz.z,
    };
    let found = smoothest(weights, Vector3::new(xyz.x, xyz.y, xyz.z)).ok_or(refused)?;
    let mut values = [0.0; N];
    values.copy_from_slice(&found);
    Ok(values)
}

/// Sums are met to this, in units of Y = 1.
const EXACT: f64 = 1e-11;
/// Nearer to black or white than this, rounding decides.
const EDGE: f64 = 1e-6;
/// Newton's steps before a colour counts as one that can't be reached. Surfaces need 4–10.
const MOST_STEPS: usize = 40;
/// Derivative of a band's equation by the z of the band beside it.
const BESIDE: f64 = -2.0;
/// Steps from grey to a colour that isn't reached at once.
const MOST_HALVINGS: i32 = 8;

/// The smoothest reflectance whose weighted sums are `target`; `None` if there is none.
fn smoothest(weights: &[Vector3<f64>], target: Vector3<f64>) -> Option<Vec<f64>> {
    let white: Vector3<f64> = weights.iter().sum();
    let y = target.y / white.y;
    if !target.iter().all(|it| it.is_finite()) || !(EDGE..1.0 - EDGE).contains(&y) {
        return None;
    }
    // From the grey of that luminance: for a neutral it is the answer.
    let grey = white * y;
    let n = weights.len();
    let mut state = DVector::zeros(n + 3);
    let level = (2.0 * y - 1.0).atanh();
    state.rows_mut(0, n).fill(level);
    // Straight there, or in ever smaller steps: the far ones of saturated colours overshoot.
    let (mut done, mut step) = (0.0, 1.0);
    while done < 1.0 {
        let next = f64::min(done + step, 1.0);
        match newton(weights, grey + (target - grey) * next, &state) {
            Some(found) => {
                state = found;
                done = next;
            }
            None if step > 0.5_f64.powi(MOST_HALVINGS) => step /= 2.0,
            None => return None,
        }
    }
    Some(
        state
            .rows(0, n)
            .iter()
            .map(|z| to_reflectance(*z))
            .collect(),
    )
}

/// (tanh z + 1)/2, in the form that is exact near 0 too.
fn to_reflectance(z: f64) -> f64 {
    1.0 / (1.0 + (-2.0 * z).exp())
}

/// Newton's method from `start`, on z and the three Lagrange multipliers: gradient of the Lagrangian and the three sums are to vanish.
fn newton(
    weights: &[Vector3<f64>],
    target: Vector3<f64>,
    start: &DVector<f64>,
) -> Option<DVector<f64>> {
    let mut state = start.clone();
    let mut residual = equations(weights, target, &state);
    for _ in 0..MOST_STEPS {
        if residual.amax() < EXACT {
            return Some(state);
        }
        let mut step = newton_step(weights, &state, &residual)?;
        // Half the way, a quarter …, while that doesn't come nearer.
        let before = residual.norm();
        let mut shorter = 0;
        loop {
            let there = &state - &step;
            residual = equations(weights, target, &there);
            if residual.norm() < before {
                state = there;
                break;
            }
            shorter += 1;
            if shorter > 12 {
                return None;
            }
            step /= 2.0;
        }
    }
    None
}

/// sech² z / 2: the slope of the reflectance.
fn slope(z: f64) -> f64 {
    let r = to_reflectance(z);
    2.0 * r * (1.0 - r)
}

fn equations(weights: &[Vector3<f64>], target: Vector3<f64>, state: &DVector<f64>) -> DVector<f64> {
    let n = weights.len();
    let multipliers = Vector3::new(state[n], state[n + 1], state[n + 2]);
    let mut out = DVector::zeros(n + 3);
    let mut sums = -target;
    for (i, weight) in weights.iter().enumerate() {
        let z = state[i];
        let mut bend = 0.0;
        if i > 0 {
            bend += z - state[i - 1];
        }
        if i + 1 < n {
            bend += z - state[i + 1];
        }
        out[i] = 2.0 * bend + slope(z) * weight.dot(&multipliers);
        sums += weight * to_reflectance(z);
    }
    out.fixed_rows_mut::<3>(n).copy_from(&sums);
    out
}

/// Newton's step at a state: what to take off it, by the derivatives of [`equations`].
fn newton_step(
    weights: &[Vector3<f64>],
    state: &DVector<f64>,
    residual: &DVector<f64>,
) -> Option<DVector<f64>> {
    let n = weights.len();
    let multipliers = Vector3::new(state[n], state[n + 1], state[n + 2]);
    let (mut diagonal, mut border) = (Vec::with_capacity(n), Vec::with_capacity(n));
    for (i, weight) in weights.iter().enumerate() {
        let (z, slope) = (state[i], slope(state[i]));
        let neighbours = f64::from(u8::from(i > 0) + u8::from(i + 1 < n));
        // The slope's own slope is −2 tanh z times it.
        diagonal.push(2.0 * neighbours - 2.0 * z.tanh() * slope * weight.dot(&multipliers));
        border.push(weight * slope);
    }
    bordered::solve(&diagonal, BESIDE, &border, residual)
}

#[cfg(test)]
mod mixtures;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::spectrum::{Illuminant, most_chroma, reflectance_to_xyz_d50, weights_of};
    use crate::colour::{Lab, lab, srgb, white};
    use nalgebra::DMatrix;
    use proptest::prelude::*;

    /// Every other band from 380 to 730 nm under D65, normalised to Y = 100 for white, and its white.
    pub(super) fn published_weights() -> Vec<Vector3<f64>> {
        let all: Vec<_> = weights_of(Illuminant::D65)[..=70]
            .iter()
            .step_by(2)
            .copied()
            .collect();
        let y: f64 = all.iter().map(|it| it.y).sum();
        all.iter().map(|it| it / y).collect()
    }

    /// A screen colour's XYZ on the scale of these weights: component by component, so that neutrals stay flat.
    pub(super) fn of_screen(weights: &[Vector3<f64>], rgb: [u8; 3]) -> Vector3<f64> {
        let white: Vector3<f64> = weights.iter().sum();
        let linear = rgb.map(|it| srgb::decode(f64::from(it) / 255.0));
        (srgb::RgbSpace::Srgb.linear_to_xyz_d65() * Vector3::from(linear))
            .component_div(&Vector3::from(white::D65))
            .component_mul(&white)
    }

    fn objective(values: &[f64]) -> f64 {
        let z: Vec<f64> = values.iter().map(|r| (2.0 * r - 1.0).atanh()).collect();
        z.windows(2).map(|it| (it[1] - it[0]).powi(2)).sum()
    }

    /// The same minimum by another method (sequential quadratic programming of scipy 1.17.1, observer and D65 of colour-science 0.4.7), six decimals.
    #[test]
    fn matches_another_minimiser() {
        let weights = published_weights();
        let white: Vector3<f64> = weights.iter().sum();
        let printed = Vector3::new(0.950_118_75, 1.0, 1.088_160_67);
        assert!((white - printed).amax() < 1e-8, "{white}");

        let brown = of_screen(&weights, [0x73, 0x52, 0x44]);
        // As printed with it, six decimals.
        assert!((brown - Vector3::new(0.111_266, 0.100_971, 0.068_261)).amax() < 1.5e-6);
        let brown = smoothest(&weights, brown).unwrap();
        let printed = [
            0.0614, 0.0614, 0.061401, 0.061405, 0.061418, 0.061465, 0.061585, 0.061836, 0.062274,
            0.062958, 0.063922, 0.065215, 0.066888, 0.069091, 0.072063, 0.076071, 0.08138, 0.08815,
            0.096481, 0.106288, 0.117241, 0.128684, 0.139754, 0.149446, 0.157045, 0.162386,
            0.165862, 0.167907, 0.169041, 0.169629, 0.169915, 0.170047, 0.170112, 0.170142,
            0.170154, 0.170158,
        ];
        for (ours, printed) in brown.iter().zip(printed) {
            assert!((ours - printed).abs() < 1e-6, "{ours} {printed}");
        }
        assert!((objective(&brown) - 0.021_872_689_5).abs() < 1e-6);
    }

    /// An orange and a green every 50 nm, from the same source.
    #[test]
    fn matches_it_for_saturated_colours() {
        let weights = published_weights();
        let every_50 = [
            (
                [0xC6, 0x5D, 0x06],
                [
                    0.018251, 0.018545, 0.028302, 0.074199, 0.269381, 0.530348, 0.567753, 0.568913,
                ],
            ),
            (
                [0x68, 0xA6, 0x39],
                [
                    0.044504, 0.046058, 0.114057, 0.414054, 0.278645, 0.144250, 0.131991, 0.131626,
                ],
            ),
        ];
        for (rgb, printed) in every_50 {
            let ours = smoothest(&weights, of_screen(&weights, rgb)).unwrap();
            for (ours, printed) in ours.iter().step_by(5).zip(printed) {
                assert!((ours - printed).abs() < 1e-6, "{ours} {printed}");
            }
        }
    }

    #[test]
    fn a_neutral_is_flat() {
        let weights = published_weights();
        let white: Vector3<f64> = weights.iter().sum();
        for r in [0.001, 0.215_861, 0.5, 0.999] {
            assert!(
                smoothest(&weights, white * r)
                    .unwrap()
                    .iter()
                    .all(|it| (it - r).abs() < 1e-9)
            );
        }
        let grey = reflectance(lab::to_xyz(Lab::new(42.0, 0.0, 0.0))).unwrap();
        // L* 42 is 12.5 % exactly.
        assert!(grey.iter().all(|it| (it - 0.125).abs() < 1e-9));
    }

    #[test]
    fn what_no_surface_has_is_refused() {
        for (l, a, b) in [
            (50.0, 120.0, 0.0),
            (97.0, 0.0, -30.0),
            (100.0, 0.0, 0.0),
            (0.0, 0.0, 0.0),
        ] {
            let colour = Lab::new(l, a, b);
            assert!(reflectance(lab::to_xyz(colour)).is_err(), "{colour:?}");
        }
        // Just beyond the most chroma that there is.
        for hue in [0.0, 45.0, 90.0, 140.0, 200.0, 260.0, 300.0] {
            let (sin, cos) = f64::to_radians(hue).sin_cos();
            let chroma = 1.03 * most_chroma(45.0, hue);
            let colour = Lab::new(45.0, chroma * cos, chroma * sin);
            assert!(reflectance(lab::to_xyz(colour)).is_err(), "{colour:?}");
        }
        assert!(reflectance(Xyz::new(f64::NAN, 0.5, 0.5)).is_err());
        assert!(reflectance(Xyz::new(0.5, f64::INFINITY, 0.5)).is_err());
        assert_eq!(
            reflectance(Xyz::new(0.5, 1.5, 0.5))
                .unwrap_err()
                .to_string(),
            "no surface has the colour X 0.5000, Y 1.5000, Z 0.5000: its reflectance would leave 0–1 somewhere"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]

        // To nine tenths of what a surface can have: beyond any paint.
        #[test]
        fn any_paint_is_met_exactly_within_bounds(l in 8.0..97.0_f64, hue in 0.0..360.0_f64, part in 0.0..0.9_f64) {
            let (sin, cos) = hue.to_radians().sin_cos();
            let chroma = part * most_chroma(l, hue);
            let colour = Lab::new(l, chroma * cos, chroma * sin);
            let found = reflectance(lab::to_xyz(colour));
            prop_assert!(found.is_ok(), "{colour:?}");
            let found = found.unwrap();
            prop_assert!(found.iter().all(|it| *it > 0.0 && *it < 1.0));
            let back = lab::from_xyz(reflectance_to_xyz_d50(380.0, 5.0, &found).unwrap());
            prop_assert!(crate::colour::difference::delta_e_76(back, colour) < 1e-6);
        }

        // No neighbour with the same colour is smoother: a check of the minimum that knows nothing of how it was found.
        #[test]
        fn nothing_of_the_same_colour_is_smoother(a in -25.0..25.0_f64, b in -20.0..40.0_f64, seed in 0..1000_u32) {
            let target = lab::to_xyz(Lab::new(55.0, a, b));
            let found = reflectance(target).unwrap();
            let weights = weights_d50();
            // A wave, from which what it does to the colour is taken out: to first order, then exactly.
            let z: Vec<f64> = found.iter().map(|r| (2.0 * r - 1.0).atanh()).collect();
            let wave = DVector::from_fn(BANDS, |i, _| (f64::from(seed) + i as f64 * (0.1 + f64::from(seed % 7) * 0.1)).sin());
            let effect = DMatrix::from_fn(3, BANDS, |k, i| weights[i][k] * slope(z[i]));
            let gram = (&effect * effect.transpose()).lu();
            let neutral = |d: &DVector<f64>| d - effect.transpose() * gram.solve(&(&effect * d)).unwrap();
            let mut moved = DVector::from_column_slice(&z) + neutral(&wave) * 0.05;
            for _ in 0..20 {
                let sums: Vector3<f64> = moved.iter().zip(weights).map(|(z, w)| w * to_reflectance(*z)).sum();
                let off = DVector::from_column_slice(&[sums.x - target.x, sums.y - target.y, sums.z - target.z]);
                moved -= effect.transpose() * gram.solve(&off).unwrap();
            }
            let sums: Vector3<f64> = moved.iter().zip(weights).map(|(z, w)| w * to_reflectance(*z)).sum();
            prop_assert!((sums - Vector3::new(target.x, target.y, target.z)).amax() < 1e-10);
            let values: Vec<f64> = moved.iter().map(|it| to_reflectance(*it)).collect();
            prop_assert!(objective(&values) > objective(&found) - 1e-9);
        }
    }
}
