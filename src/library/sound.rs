//! Whether what a record says can be: numbers that are numbers, colours that exist, statements that fit together.

pub(super) mod facts;

use crate::colour::{Lab, Matrix, lab};
use crate::record::{Half, PatchEntry, PhotoEntry, Reading};
use nalgebra::SymmetricEigen;

/// Lightness and the size of a* and b* that a reflecting surface can have, with room for what measuring errs by. Between those of the
/// optimal colours (D. L. MacAdam, *J. Opt. Soc. Am.* 25 (1935) 361–367) and these, nothing is refused.
const LIGHTNESS: std::ops::RangeInclusive<f64> = -5.0..=110.0;
const FARTHEST: f64 = 150.0;

/// Variance of a colour, its three channels together: what is known for sure, or is as wide as all colours, has no weight in a mean.
const VARIANCE: std::ops::RangeInclusive<f64> = 1e-9..=1e5;

/// How far numbers that follow from each other may be apart: they were rounded apart.
const ROUNDING: f64 = 2e-5;

/// What is wrong with a photo and its panel, in words; single patches, on which only their readings rest, are not looked at.
pub(super) fn photo(it: &PhotoEntry) -> Result<(), String> {
    if it.sha256.len() != 64
        || it
            .sha256
            .bytes()
            .any(|it| !matches!(it, b'0'..=b'9' | b'a'..=b'f'))
    {
        return Err("its sha256 is no SHA-256 in lower-case hexadecimal".to_owned());
    }
    if it.path.is_empty() {
        return Err("it has no path".to_owned());
    }
    for (what, value) in [("hours", it.hours), ("dose", it.dose)] {
        if value.is_some_and(|it| !(it.is_finite() && it >= 0.0)) {
            return Err(format!("its {what} are not a number of 0 or more"));
        }
    }
    if it.dose.is_some() != it.dose_kind.is_some() {
        return Err("it has one of dose and dose_kind, and neither says anything alone".to_owned());
    }
    facts::of_panel(&it.panel)
}

/// What is wrong with a reading of that photo, in words.
pub(super) fn reading(it: &Reading, photo: &PhotoEntry) -> Result<(), String> {
    if it.panel != photo.panel.id {
        return Err(format!(
            "it names the panel {}, and its photo was measured on {}",
            it.panel, photo.panel.id
        ));
    }
    let patch = photo
        .panel
        .patches
        .iter()
        .find(|other| other.id == it.patch);
    let patch = patch.ok_or_else(|| format!("the panel {} has no patch {}", it.panel, it.patch))?;
    facts::of_patch(patch)?;
    half_fits(it.half, patch)?;
    if it.hours.map(f64::to_bits) != photo.hours.map(f64::to_bits) {
        return Err(format!(
            "its hours ({}) are not those of its photo ({})",
            hours(it.hours),
            hours(photo.hours)
        ));
    }
    if it.correction != photo.correction.kind {
        return Err("its correction is not that of its photo".to_owned());
    }
    if !(0.0..=1.0).contains(&it.left_out) {
        return Err(format!(
            "left_out is {}, and a share is 0 to 1",
            it.left_out
        ));
    }
    if it.outline.iter().flatten().any(|it| !it.is_finite()) {
        return Err("its outline is not all numbers".to_owned());
    }
    let spreads = [
        ("sd_L", it.sd_l),
        ("sd_a", it.sd_a),
        ("sd_b", it.sd_b),
        ("unevenness", it.unevenness),
        ("U95", it.u95),
        ("C", it.c),
    ];
    for (name, value) in spreads {
        if value.is_some_and(|it| !(it.is_finite() && it >= 0.0)) {
            return Err(format!("{name} is not a number of 0 or more"));
        }
    }
    match (it.l, it.a, it.b) {
        (None, None, None) if it.u95.is_some() => Err("it has a U95 and no colour".to_owned()),
        (None, None, None) => Ok(()),
        (Some(l), Some(a), Some(b)) => colour(it, Lab::new(l, a, b)),
        _ => Err("it has a part of a colour only".to_owned()),
    }
}

fn hours(it: Option<f64>) -> String {
    it.map_or("unknown".to_owned(), |it| it.to_string())
}

fn half_fits(half: Half, patch: &PatchEntry) -> Result<(), String> {
    if patch.empty {
        return Err("the panel says that nothing is there".to_owned());
    }
    match (half, patch.masked.is_some()) {
        (Half::Whole, true) => Err("the patch is half masked, and this is all of it".to_owned()),
        (Half::Masked | Half::Exposed, false) => {
            Err("it is half of a patch that has no mask".to_owned())
        }
        _ => Ok(()),
    }
}

fn colour(it: &Reading, colour: Lab) -> Result<(), String> {
    let says = format!("L* {}, a* {}, b* {}", colour.l, colour.a, colour.b);
    let all = [colour.l, colour.a, colour.b];
    if all.iter().any(|it| !it.is_finite()) {
        return Err(format!("{says} are not all numbers"));
    }
    if !LIGHTNESS.contains(&colour.l) || colour.a.abs() > FARTHEST || colour.b.abs() > FARTHEST {
        return Err(format!("{says}: no surface has that colour"));
    }
    if it.u95.is_none() || it.cov_own.is_none() || it.cov_common.is_none() {
        return Err("a colour without its uncertainty (U95, cov_own, cov_common)".to_owned());
    }
    for (name, covariance) in [("cov_own", it.cov_own), ("cov_common", it.cov_common)] {
        if !covariance.is_some_and(|it| is_covariance(&it)) {
            return Err(format!("{name} is no covariance"));
        }
    }
    let variance: f64 = [it.cov_own, it.cov_common]
        .iter()
        .flatten()
        .map(|it| it[0][0] + it[1][1] + it[2][2])
        .sum();
    if !VARIANCE.contains(&variance) {
        return Err(format!(
            "cov_own and cov_common add up to a variance of {variance}: it must be from {} to {}",
            VARIANCE.start(),
            VARIANCE.end()
        ));
    }
    if it
        .c
        .is_some_and(|it| (it - lab::chroma(colour)).abs() > ROUNDING)
    {
        return Err(format!("C does not follow from a* and b* ({says})"));
    }
    let turned = it.h.map(|it| (it - lab::hue_degrees(colour)).abs() % 360.0);
    // Near the neutral axis the last digits of a* and b* turn the hue a lot.
    let slack = ROUNDING * 360.0 / lab::chroma(colour).max(ROUNDING);
    if turned.is_some_and(|it| it.min(360.0 - it) > slack + ROUNDING) {
        return Err(format!("h does not follow from a* and b* ({says})"));
    }
    Ok(())
}

/// Symmetric and without a negative direction, up to rounding.
fn is_covariance(rows: &[[f64; 3]; 3]) -> bool {
    let m = Matrix::from_fn(|row, column| rows[row][column]);
    if m.iter().any(|it| !it.is_finite()) || (m - m.transpose()).amax() > 1e-6 * m.amax().max(1.0) {
        return false;
    }
    let least = SymmetricEigen::new(m).eigenvalues.min();
    least >= -1e-6 * m.amax().max(1e-3)
}
