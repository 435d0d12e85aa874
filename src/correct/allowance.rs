//! What references can't see, as figures with their basis: the constants of the uncertainty that no photo can measure.

use super::CorrectionKind;
use super::tone::Prior;
use crate::colour::{Lab, Matrix, lab};
use nalgebra::Vector3;

/// What phones do to tone beyond the sRGB encoding, where a file has eight bits a channel.
pub(super) const PHONE_TONE: Prior = Prior {
    contrast: 0.165,
    shift: -0.175,
    sd: [0.12, 0.28],
    correlation: -0.55,
};

/// Linear saturation of the scene over that of a phone's rendering: phones make pictures more vivid than what they show. Basis: with
/// the tone curve known from a three-zone card, simulated phones still left chroma too high by a tenth on average.
pub(super) const PHONE_SATURATION: f64 = 0.90;

/// A file of 16 bits or of declared linear values has usually not been through a phone's rendering.
pub(super) const DEVELOPED_TONE: Prior = Prior {
    contrast: 0.0,
    shift: 0.0,
    sd: [0.12, 0.28],
    correlation: -0.55,
};

/// Standard deviations of lightness, chroma and hue of a camera's colour, a unit of chroma, where only neutrals are known.
/// Basis: two measured sensors under seven lights left 1–3 ΔE00 in daylight and 3–8 under lamps on 24 chart colours (mean chroma
/// about 40) with a grey card alone.
const CAMERA_NEUTRAL: [f64; 3] = [0.05, 0.12, 0.11];

/// Local tone mapping, and whatever else changes the light of a patch against that of the card where no reference is: relative standard
/// deviation. Basis: readings with a chart in simulated phone photos kept an offset of 3 to 4 % in light common to the whole board.
pub(super) const LOCAL_TONE: f64 = 0.035;

/// Share of the spread between stretches of substrate that is taken to be light; the rest is the substrate itself.
pub(super) const SUBSTRATE_IS_LIGHT: f64 = 0.8;

/// Log light that may differ between board and card where nothing shows the light's fall-off.
pub(super) const UNSEEN_LIGHT: f64 = 0.08;

/// Log light that is never known better than this: stray light from the surroundings of each patch.
pub(super) const LEAST_LIGHT: f64 = 0.005;

/// Standard deviations in Lab of a colour at an end of the encoding: only its side is known.
pub(super) const END_OF_ENCODING: [f64; 3] = [5.0, 8.0, 8.0];

/// Covariance in Lab of the camera's colour.
pub(super) fn camera(kind: CorrectionKind, at: Lab) -> Matrix {
    match kind {
        CorrectionKind::Neutral | CorrectionKind::NeutralTone => along_chroma(at, CAMERA_NEUTRAL),
        // The references show it: it is in the residual of the fit.
        CorrectionKind::Linear | CorrectionKind::RootPolynomial => Matrix::zeros(),
    }
}

/// A covariance whose lightness, chroma and hue parts are proportional to the chroma of a colour.
fn along_chroma(at: Lab, shares: [f64; 3]) -> Matrix {
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
        assert!((yellow[(2, 2)].sqrt() - 6.0).abs() < 1e-9);
        assert!((yellow[(1, 1)].sqrt() - 5.5).abs() < 1e-9);
        assert!((yellow[(0, 0)].sqrt() - 2.5).abs() < 1e-9);
    }
}
