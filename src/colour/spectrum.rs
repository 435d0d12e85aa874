//! From a reflectance spectrum to XYZ.

mod interpolation;
mod optimal;
mod table;

pub use optimal::{NoSurface, is_of_a_surface, most_chroma};

use super::{Xyz, white};
use nalgebra::Vector3;
use std::sync::OnceLock;

/// Bands of the sums: 380–780 nm every 5 nm.
pub const BANDS: usize = table::ROWS.len();

/// A light under which a reflectance is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Illuminant {
    /// CIE D50.
    D50,
    /// CIE D65.
    D65,
    /// CIE A.
    A,
}

/// What is wrong with a spectrum.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SpectrumError {
    /// The wavelengths make no sense.
    #[error(
        "a spectrum that starts at {start_nm} nm with a step of {step_nm} nm makes no sense; both must be above 0"
    )]
    Wavelengths {
        /// As given, nm.
        start_nm: f64,
        /// As given, nm.
        step_nm: f64,
    },
    /// Not enough of the visible range is there.
    #[error(
        "the spectrum covers {from_nm}–{to_nm} nm; at least {}–{} nm are needed",
        NEEDED_NM[0],
        NEEDED_NM[1]
    )]
    Coverage {
        /// First wavelength, nm.
        from_nm: f64,
        /// Last wavelength, nm.
        to_nm: f64,
    },
    /// Steps so wide that the curve between them is a guess.
    #[error("the spectrum's step of {step_nm} nm is too wide; 20 nm at most")]
    TooCoarse {
        /// As given, nm.
        step_nm: f64,
    },
    /// A value that is no reflectance factor.
    #[error(
        "the value {value} at {at_nm} nm is no reflectance factor; they run from 0 to 1 (divide per cent by 100)"
    )]
    Value {
        /// Its wavelength, nm.
        at_nm: f64,
        /// The value.
        value: f64,
    },
}

/// What a spectrum must cover at least: 99.9 % of the observer's luminous weight; instruments give 400–700 nm.
const NEEDED_NM: [f64; 2] = [400.0, 700.0];
/// The widest step that ASTM E308 has weights for.
const WIDEST_NM: f64 = 20.0;

/// XYZ relative to [`white::D50`] of a surface under D50, 2° observer, Y = 1 for the perfect diffuser.
///
/// `values` are reflectance factors, 0–1, at `start_nm`, `start_nm + step_nm` … . Sums over 380–780 nm at 5 nm; values
/// between the given ones by Sprague's interpolation (by straight lines if there are fewer than six), values outside by
/// repeating the end ones.
///
/// The table's own white (0.96420, 1, 0.82512) is brought to the program's by rescaling, so a neutral spectrum is an exact
/// neutral and L*a*b* is what the table's white would give.
///
/// # Errors
/// [`SpectrumError`] for a step or start that makes no sense, a step above 20 nm, less than 400–700 nm, or a value outside 0–1.
///
/// # Source
/// CIE 15:2018 (5 nm summation, k so that Y = 1 for the perfect diffuser); CIE 167:2005 (interpolation, extrapolation).
pub fn reflectance_to_xyz_d50(
    start_nm: f64,
    step_nm: f64,
    values: &[f64],
) -> Result<Xyz, SpectrumError> {
    let sums = reflectance_to_xyz(Illuminant::D50, start_nm, step_nm, values)?;
    let xyz = white::rescale(white_of(Illuminant::D50)) * Vector3::from(sums);
    Ok(Xyz::new(xyz.x, xyz.y, xyz.z))
}

/// XYZ under any of the illuminants, relative to the table's own white of it ([`white_of`]). As [`reflectance_to_xyz_d50`].
///
/// # Errors
/// As [`reflectance_to_xyz_d50`].
pub fn reflectance_to_xyz(
    illuminant: Illuminant,
    start_nm: f64,
    step_nm: f64,
    values: &[f64],
) -> Result<[f64; 3], SpectrumError> {
    check(start_nm, step_nm, values)?;
    Ok(sum(illuminant, |nm| {
        interpolation::at((nm - start_nm) / step_nm, values)
    }))
}

/// XYZ of the perfect diffuser under an illuminant, by the same sums; Y = 1.
#[must_use]
pub fn white_of(illuminant: Illuminant) -> [f64; 3] {
    sum(illuminant, |_| 1.0)
}

fn check(start_nm: f64, step_nm: f64, values: &[f64]) -> Result<(), SpectrumError> {
    let sensible = |it: f64| it.is_finite() && it > 0.0;
    if !sensible(start_nm) || !sensible(step_nm) {
        return Err(SpectrumError::Wavelengths { start_nm, step_nm });
    }
    if step_nm > WIDEST_NM {
        return Err(SpectrumError::TooCoarse { step_nm });
    }
    let at_nm = |index: usize| start_nm + step_nm * index as f64;
    let to_nm = at_nm(values.len().saturating_sub(1));
    // A step of 10/3 nm must not fail for a rounding error.
    let slack = 1e-6;
    if values.is_empty() || start_nm > NEEDED_NM[0] + slack || to_nm < NEEDED_NM[1] - slack {
        return Err(SpectrumError::Coverage {
            from_nm: start_nm,
            to_nm,
        });
    }
    match values.iter().position(|it| !(0.0..=1.0).contains(it)) {
        Some(index) => Err(SpectrumError::Value {
            at_nm: at_nm(index),
            value: values[index],
        }),
        None => Ok(()),
    }
}

/// What each band adds to [`reflectance_to_xyz_d50`] if all of it is reflected.
pub(super) fn weights_d50() -> &'static [Vector3<f64>; BANDS] {
    static WEIGHTS: OnceLock<[Vector3<f64>; BANDS]> = OnceLock::new();
    WEIGHTS.get_or_init(|| {
        let to_white = white::rescale(white_of(Illuminant::D50));
        weights_of(Illuminant::D50).map(|it| to_white * it)
    })
}

/// XYZ relative to [`white::D50`] of reflectance factors at the sums' own bands: [`reflectance_to_xyz_d50`] without its checks.
#[must_use]
pub fn bands_to_xyz_d50(values: &[f64; BANDS]) -> Xyz {
    let xyz: Vector3<f64> = weights_d50()
        .iter()
        .zip(values)
        .map(|(weight, r)| weight * *r)
        .sum();
    Xyz::new(xyz.x, xyz.y, xyz.z)
}

/// S x̄ … of each band over Σ S ȳ.
pub(super) fn weights_of(illuminant: Illuminant) -> [Vector3<f64>; BANDS] {
    let column = match illuminant {
        Illuminant::D50 => 3,
        Illuminant::D65 => 4,
        Illuminant::A => 5,
    };
    let bands = table::ROWS.map(|row| Vector3::new(row[0], row[1], row[2]) * row[column]);
    let k: f64 = bands.iter().map(|it| it.y).sum();
    bands.map(|it| it / k)
}

/// XYZ of a light of this relative spectral power, by its wavelength in nm, on any scale.
pub(super) fn light_to_xyz(power: impl Fn(f64) -> f64) -> [f64; 3] {
    let rows = table::ROWS.iter().enumerate();
    let bands = rows.map(|(index, row)| {
        let nm = table::START_NM + table::STEP_NM * index as f64;
        Vector3::new(row[0], row[1], row[2]) * power(nm)
    });
    bands.sum::<Vector3<f64>>().into()
}

/// Σ S R x̄ … over Σ S ȳ.
fn sum(illuminant: Illuminant, reflectance: impl Fn(f64) -> f64) -> [f64; 3] {
    let nm = |index: usize| table::START_NM + table::STEP_NM * index as f64;
    let bands = weights_of(illuminant);
    let reflected = bands
        .iter()
        .enumerate()
        .map(|(index, it)| it * reflectance(nm(index)));
    reflected.sum::<Vector3<f64>>().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::lab;

    #[test]
    fn a_flat_spectrum_is_an_exact_neutral_at_any_step() {
        for (start, step, n) in [
            (380.0, 5.0, 81),
            (400.0, 10.0, 31),
            (380.0, 20.0, 21),
            (360.0, 1.0, 471),
            (395.0, 10.0 / 3.0, 100),
        ] {
            let lab = lab::from_xyz(reflectance_to_xyz_d50(start, step, &vec![0.125; n]).unwrap());
            // 12.5 % is L* 42 exactly.
            assert!((lab.l - 42.0).abs() < 1e-9, "{step}");
            assert!(lab.a.abs() < 1e-9 && lab.b.abs() < 1e-9, "{step}");
        }
    }

    #[test]
    fn whites_are_those_of_cie_15() {
        // The rounded table of CIE 15, two decimals of Y = 100 (as colour-science 0.4.7 has it); the 5 nm sums from 380 nm may differ by one in the last.
        for (illuminant, printed) in [
            (Illuminant::D50, [96.42, 100.0, 82.51]),
            (Illuminant::D65, [95.04, 100.0, 108.88]),
            (Illuminant::A, [109.85, 100.0, 35.58]),
        ] {
            for (ours, theirs) in white_of(illuminant).iter().zip(printed) {
                assert!(
                    (100.0 * ours - theirs).abs() < 0.01,
                    "{illuminant:?} {ours} {theirs}"
                );
            }
        }
    }

    #[test]
    fn bad_spectra_are_refused_with_their_place() {
        let good = [0.5; 31];
        assert!(matches!(
            reflectance_to_xyz_d50(400.0, 0.0, &good),
            Err(SpectrumError::Wavelengths { .. })
        ));
        assert!(matches!(
            reflectance_to_xyz_d50(f64::NAN, 10.0, &good),
            Err(SpectrumError::Wavelengths { .. })
        ));
        assert!(matches!(
            reflectance_to_xyz_d50(380.0, 40.0, &good),
            Err(SpectrumError::TooCoarse { .. })
        ));
        assert!(matches!(
            reflectance_to_xyz_d50(400.0, 10.0, &[]),
            Err(SpectrumError::Coverage { .. })
        ));
        assert!(matches!(
            reflectance_to_xyz_d50(420.0, 10.0, &good),
            Err(SpectrumError::Coverage { .. })
        ));
        let mut per_cent = good;
        per_cent[3] = 50.0;
        assert_eq!(
            reflectance_to_xyz_d50(400.0, 10.0, &per_cent)
                .unwrap_err()
                .to_string(),
            "the value 50 at 430 nm is no reflectance factor; they run from 0 to 1 (divide per cent by 100)"
        );
        per_cent[3] = f64::NAN;
        assert!(matches!(
            reflectance_to_xyz_d50(400.0, 10.0, &per_cent),
            Err(SpectrumError::Value { .. })
        ));
    }
}
