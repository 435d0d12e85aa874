//! An embedded ICC profile as a colour space: matrix and tone curves of RGB profiles.
//!
//! The library parses; the curves are evaluated here, in full precision and without clipping colours that lie
//! outside of sRGB.

use super::curve::{Curve, Parametric};
use super::encoding::{EncodingSource, Space};
use super::error::Problem;
use crate::colour::Matrix;
use crate::colour::white::{ICC_PCS, icc_pcs_to_d50};
use moxcms::{
    ColorProfile, DataColorSpace, ProfileClass, ProfileText, ToneReprCurve, TransferCharacteristics,
};

/// How far the sum of the colorants may be from the profile connection space's white, in X, Y and Z: room for rounding.
/// Colorants that were left relative to D65 are off by 0.26 in Z, to D55 by 0.10. Common practice, no source.
const WHITE_TOLERANCE: f64 = 0.01;

/// Reads an ICC profile.
///
/// # Errors
///
/// If the profile is broken, or not of the matrix kind: tables (`A2B`), other channels than RGB, high dynamic range.
pub(super) fn read(icc: &[u8]) -> Result<Space, Problem> {
    let profile = ColorProfile::new_from_slice(icc)
        .map_err(|error| Problem::BrokenProfile(error.to_string()))?;
    let name = description(&profile).unwrap_or_else(|| "unnamed profile".to_owned());
    check_kind(&profile, &name)?;
    let curves = [
        (&profile.red_trc, "red"),
        (&profile.green_trc, "green"),
        (&profile.blue_trc, "blue"),
    ];
    let [red, green, blue] = curves.map(|(it, channel)| curve(it.as_ref(), channel));
    Ok(Space {
        source: EncodingSource::Profile,
        curves: [red?, green?, blue?],
        to_xyz: matrix(&profile)?,
        name,
    })
}

fn check_kind(profile: &ColorProfile, name: &str) -> Result<(), Problem> {
    let refuse = |what: String| Err(Problem::ProfileKind(format!("“{name}” {what}")));
    match profile.color_space {
        DataColorSpace::Rgb => {}
        DataColorSpace::Gray => return refuse("is for grey-scale pictures".to_owned()),
        DataColorSpace::Cmyk => return refuse("is for printing inks (CMYK)".to_owned()),
        other => return refuse(format!("is for {other:?} values")),
    }
    match profile.profile_class {
        ProfileClass::InputDevice | ProfileClass::DisplayDevice | ProfileClass::ColorSpace => {}
        other => {
            return refuse(format!(
                "is a profile of class {other:?}, not of a camera, display or colour space"
            ));
        }
    }
    let has_tables = profile.lut_a_to_b_perceptual.is_some()
        || profile.lut_a_to_b_colorimetric.is_some()
        || profile.lut_a_to_b_saturation.is_some();
    if has_tables || profile.pcs != DataColorSpace::Xyz {
        return refuse(
            "converts through tables; only profiles of three primaries and tone curves are read"
                .to_owned(),
        );
    }
    match profile.cicp.as_ref().map(|it| it.transfer_characteristics) {
        Some(TransferCharacteristics::Smpte2084 | TransferCharacteristics::Hlg) => {
            refuse("is for high dynamic range (PQ or HLG)".to_owned())
        }
        _ => Ok(()),
    }
}

fn description(profile: &ColorProfile) -> Option<String> {
    let text = match profile.description.as_ref()? {
        ProfileText::PlainString(text) => text.as_str(),
        ProfileText::Localizable(texts) => texts
            .iter()
            .find(|it| it.language == "en")
            .or(texts.first())?
            .value
            .as_str(),
        ProfileText::Description(it) if it.ascii_string.trim().is_empty() => &it.unicode_string,
        ProfileText::Description(it) => &it.ascii_string,
    };
    // It goes into messages and records: a line of ordinary characters, not a page.
    let name: String = text
        .chars()
        .filter(|it| !it.is_control())
        .take(80)
        .collect();
    let name = name.trim();
    (!name.is_empty()).then(|| name.to_owned())
}

fn curve(read: Option<&ToneReprCurve>, channel: &str) -> Result<Curve, Problem> {
    let broken = |what: &str| Problem::BrokenProfile(format!("the tone curve of {channel} {what}"));
    match read.ok_or_else(|| broken("is missing"))? {
        ToneReprCurve::Lut(samples) => Ok(match samples.as_slice() {
            [] => Curve::Identity,
            // A single entry is a gamma in u8Fixed8 (ICC.1:2022, 10.6).
            [gamma] => Curve::Gamma(f64::from(*gamma) / 256.0),
            _ => Curve::Sampled(samples.clone()),
        }),
        ToneReprCurve::Parametric(parameters) => {
            let parameters: Vec<f64> = parameters.iter().copied().map(f64::from).collect();
            Parametric::from_icc(&parameters)
                .map(Curve::Parametric)
                .ok_or_else(|| broken("has senseless parameters"))
        }
    }
}

/// The colorants are already adapted to D50 and serve as columns (ICC.1:2022, F.3).
fn matrix(profile: &ColorProfile) -> Result<Matrix, Problem> {
    let rows = profile.rgb_to_xyz_matrix().v;
    let colorants = Matrix::from_fn(|row, column| rows[row][column]);
    // A singular matrix would be a colour-blind camera.
    if colorants.determinant().abs() < 1e-4 {
        return Err(Problem::BrokenProfile(
            "its primaries are missing or lie on a line".to_owned(),
        ));
    }
    let white: [f64; 3] = std::array::from_fn(|row| colorants.row(row).sum());
    let off = white.iter().zip(ICC_PCS).map(|(it, d50)| (it - d50).abs());
    // Written so that a sum that is no number is refused too.
    if !off.into_iter().all(|it| it <= WHITE_TOLERANCE) {
        let [x, y, z] = white;
        return Err(Problem::BrokenProfile(format!(
            "its primaries add up to X {x:.3}, Y {y:.3}, Z {z:.3}, not to the white of profiles (D50: 0.964, 1.000, 0.825)"
        )));
    }
    Ok(icc_pcs_to_d50() * colorants)
}
