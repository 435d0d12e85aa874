//! What references can't see, as figures with their basis: the constants of the uncertainty that no photo can measure.
//!
//! Where nothing else is said the figures are those of `cargo bench --bench allowances -- 200 800`, which varies one thing at a time over
//! simulated cameras, lights and curves that no test sees, and prints each under its constant's name.

use super::CorrectionKind;
use super::tone::Prior;
use crate::colour::{Lab, Matrix, lab};
use nalgebra::Vector3;

/// What phones do to tone beyond the sRGB encoding, where a file has eight or ten bits a channel: no curve, mild and strong ones together.
pub(super) const PHONE_TONE: Prior = Prior {
    contrast: 0.158,
    shift: -0.162,
    sd: [0.118, 0.277],
    correlation: -0.57,
};

/// Log light that the form of the tone curve leaves of a phone's, wherever it is undone.
pub(super) const TONE_LEFT: f64 = 0.0165;

/// Linear saturation of the scene over that of a phone's rendering: phones make pictures more vivid than what they show.
pub(super) const PHONE_SATURATION: f64 = 0.902;

/// A file of 16 bits has usually not been through a phone's rendering, but may have been: as wide as a phone's, about nothing.
/// Common practice, no source.
pub(super) const DEVELOPED_TONE: Prior = Prior {
    contrast: 0.0,
    shift: 0.0,
    sd: [0.12, 0.28],
    correlation: -0.55,
};

/// Standard deviations of lightness, chroma and hue of a camera's colour, a unit of chroma, where only neutrals are known.
/// Beside the study: two measured sensors under seven lights left 1–3 ΔE00 in daylight and 3–8 under lamps on 24 chart colours (mean
/// chroma about 40) with a grey card alone.
const CAMERA_NEUTRAL: [f64; 3] = [0.045, 0.125, 0.096];

/// The same of a sensor's values, by matrices that its maker states of another unit: a fifth more than the study's (0.027, 0.112, 0.080), since all
/// its sensors are simulated. Measured ones err more under lamps (see above), and what makers state of theirs is not known.
const CAMERA_SENSOR: [f64; 3] = [0.032, 0.134, 0.096];

/// By what that grows where a tone curve was fitted to neutrals: a curve that is not quite the camera's bends its colours too. U95 then holds for
/// 96 % of the study's readings with three zones (160 photos); without it, it held for 94 % in 96 others of the study's split (`cargo bench
/// --bench correction -- 320 1000 5000000 study`).
const BENT: f64 = 1.08;

/// Mean square of what is left of a patch under a map fitted to many colours, over the mean square that leaving these out shows. The study's
/// mean is 0.85 and its tail asks for 1.48; between them lies what lets U95 hold for 95 % of the study's whole mixture.
const LIKE_THE_COLOURS: f64 = 1.15;
/// The same of a map fitted to few colours, which are less sure of it when one of them is left out. The study's mean with half a chart is
/// 0.74, its tail asks for 1.22, but what tone and light leave shows there and is stated beside: U95 holds for 95.1 % of the study's readings with
/// half a chart; with 0.6 it held for 96.3 %, with 1.15 for 97.3 % (`cargo bench --bench allowances -- 200 800 mixture half`, where linear maps alone took
/// these).
const LIKE_FEW_COLOURS: f64 = 0.4;
/// Fewer colours are few. Between half a chart and most of one.
const FEW_COLOURS: usize = 16;

/// Mean square of what is left of a patch under a map fitted to so many colours, over the mean square that leaving them out shows.
pub(super) fn like_the_colours(colours: usize) -> f64 {
    if colours < FEW_COLOURS {
        LIKE_FEW_COLOURS
    } else {
        LIKE_THE_COLOURS
    }
}

/// Local tone mapping beyond what the surroundings tell, and stray light: standard deviation of the log light of a patch against that of the
/// references, from photos without much of it.
pub(super) const LOCAL_TONE_LEFT: f64 = 0.0163;

/// Strength of local tone mapping where nothing shows it: log light lost with a unit of log light of the surroundings. Root mean square over the
/// study's scenes, of which a fifth have 0.05 to 0.12.
pub(super) const USUAL_LOCAL_TONE: f64 = 0.04;

/// Share of the spread between stretches of substrate that is taken to be light; the rest is the substrate itself. With it, 95 % of the
/// study's errors of light lie within 1.81 times what is stated; 0.5 let them reach 2.43 times.
pub(super) const SUBSTRATE_IS_LIGHT: f64 = 0.7;

/// Log light that may differ between board and card where nothing shows the light's fall-off. Not from the study, no source.
pub(super) const UNSEEN_LIGHT: f64 = 0.08;

/// Log light that is never known better than this: stray light from the surroundings of each patch. Not from the study, no source.
pub(super) const LEAST_LIGHT: f64 = 0.005;

/// Standard deviations in Lab of a colour at an end of the encoding: only its side is known. Not from the study, no source.
pub(super) const END_OF_ENCODING: [f64; 3] = [5.0, 8.0, 8.0];

/// Covariance in Lab of the camera's colour.
pub(super) fn camera(kind: CorrectionKind, at: Lab) -> Matrix {
    match kind {
        CorrectionKind::Neutral => along_chroma(at, CAMERA_NEUTRAL),
        CorrectionKind::NeutralTone => along_chroma(at, CAMERA_NEUTRAL.map(|it| BENT * it)),
        CorrectionKind::SensorNeutral => along_chroma(at, CAMERA_SENSOR),
        // The references show it: it is in the residual of the fit.
        CorrectionKind::Linear
        | CorrectionKind::RootPolynomial
        | CorrectionKind::SensorLinear
        | CorrectionKind::SensorRootPolynomial
        | CorrectionKind::Saved => Matrix::zeros(),
    }
}

/// Standard deviation of the log luminance of a colour as a camera sees it that is balanced on neutrals.
pub(super) fn camera_luminance(at: Lab) -> f64 {
    // d ln Y/dL* = 3/(L* + 16).
    CAMERA_NEUTRAL[0] * lab::chroma(at) * 3.0 / (at.l + 16.0)
}

/// A covariance whose lightness, chroma and hue parts are proportional to the chroma of a colour.
pub(super) fn along_chroma(at: Lab, shares: [f64; 3]) -> Matrix {
    let chroma = lab::chroma(at);
    if chroma < 1e-9 {
        return Matrix::zeros();
    }
    let (cos, sin) = (at.a / chroma, at.b / chroma);
    let to_lab = Matrix::new(1.0, 0.0, 0.0, 0.0, cos, -sin, 0.0, sin, cos);
    let variances = Vector3::from(shares.map(|it| (it * chroma).powi(2)));
    to_lab * Matrix::from_diagonal(&variances) * to_lab.transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neutrals_need_no_camera_allowance_and_chroma_carries_most() {
        assert_eq!(
            camera(CorrectionKind::Neutral, Lab::new(50.0, 0.0, 0.0)),
            Matrix::zeros()
        );
        let yellow = camera(CorrectionKind::Neutral, Lab::new(70.0, 0.0, 50.0));
        assert!((yellow[(2, 2)].sqrt() - 50.0 * CAMERA_NEUTRAL[1]).abs() < 1e-9);
        assert!((yellow[(1, 1)].sqrt() - 50.0 * CAMERA_NEUTRAL[2]).abs() < 1e-9);
        assert!((yellow[(0, 0)].sqrt() - 50.0 * CAMERA_NEUTRAL[0]).abs() < 1e-9);
    }
}
