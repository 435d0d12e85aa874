//! Colour spaces that a file names by code points (ITU-T H.273), as PNG's `cICP` and HEIF's colour box do.

use super::curve::{Curve, Parametric};
use super::encoding::{EncodingSource, SRGB_PRIMARIES, Space};
use super::error::Problem;

const UNSPECIFIED: u16 = 2;

impl Space {
    /// From the code points for primaries and transfer characteristics.
    ///
    /// What is unspecified is assumed to be sRGB's. The transfer characteristics of television standards are taken as
    /// they are written there, for the camera's side.
    ///
    /// # Errors
    ///
    /// If they stand for high dynamic range, for a white other than D65, or for what no camera writes.
    ///
    /// # Source
    ///
    /// ITU-T H.273 (07/2021), tables 2 and 3.
    pub(super) fn of_code_points(primaries: u16, transfer: u16) -> Result<Self, Problem> {
        let refused = |what: &str| {
            Err(Problem::ColourStatement(format!(
                "code points {primaries} (primaries) and {transfer} (transfer){what}"
            )))
        };
        let (gamut, places) = match primaries {
            1 => ("BT.709", SRGB_PRIMARIES),
            UNSPECIFIED => ("assumed", SRGB_PRIMARIES),
            5 => (
                "BT.601 (625 lines)",
                [[0.64, 0.33], [0.29, 0.60], [0.15, 0.06]],
            ),
            6 | 7 => (
                "BT.601 (525 lines)",
                [[0.630, 0.340], [0.310, 0.595], [0.155, 0.070]],
            ),
            9 => ("BT.2020", [[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]]),
            12 => (
                "Display P3",
                [[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]],
            ),
            _ => return refused("; sRGB, Display P3, BT.709, BT.601 and BT.2020 are read"),
        };
        let (tone, curve) = match transfer {
            1 | 6 | 14 | 15 => ("BT.709", Curve::Parametric(Parametric::BT_709)),
            UNSPECIFIED => ("assumed", Curve::Parametric(Parametric::SRGB)),
            4 => ("gamma 2.2", Curve::Gamma(2.2)),
            5 => ("gamma 2.8", Curve::Gamma(2.8)),
            8 => ("linear", Curve::Identity),
            13 => ("sRGB", Curve::Parametric(Parametric::SRGB)),
            16 | 18 => return refused(", which is high dynamic range (PQ or HLG)"),
            _ => return refused(""),
        };
        let assumed = [primaries, transfer].contains(&UNSPECIFIED);
        let (source, name) = match (primaries, transfer) {
            (1, 13) => (EncodingSource::StatedSrgb, "sRGB".to_owned()),
            (12, 13) => (EncodingSource::Stated, "Display P3".to_owned()),
            _ if assumed => (
                EncodingSource::AssumedSrgb,
                format!("sRGB, assumed in part: primaries {gamut}, curve {tone}"),
            ),
            _ => (
                EncodingSource::Stated,
                format!("primaries {gamut}, curve {tone}"),
            ),
        };
        Ok(Self::named(source, &name, curve, places))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// BT.709-6, item 1.2: 0.009 of light has 4.5 times that as its value, all of it 1. (At 0.018, where both of its formulas meet, they differ by
    /// 5e-5 of light, since its numbers are rounded.) Half of the values by hand:
    /// ((0.5 + 0.099) / 1.099)^(1 / 0.45) = 0.259589.
    #[test]
    fn curves_are_those_of_the_standards() {
        let space = Space::of_code_points(1, 1).unwrap();
        for (code, light) in [(0.0405, 0.009), (0.5, 0.259_589), (1.0, 1.0)] {
            assert!((space.curves[0].at(code) - light).abs() < 2e-5, "{code}");
        }
        assert_eq!(space.source, EncodingSource::Stated);
        let linear = Space::of_code_points(9, 8).unwrap();
        assert!((linear.curves[2].at(0.3) - 0.3).abs() < 1e-12);
    }

    /// The luminance of BT.2020's primaries as its table 4 has them (relative to D65; the change to D50 is below 0.02).
    #[test]
    fn wide_primaries_have_their_luminance() {
        let y = Space::of_code_points(9, 13).unwrap().to_xyz;
        for (seen, is) in y.row(1).iter().zip([0.2627, 0.6780, 0.0593]) {
            assert!((seen - is).abs() < 0.02, "{y}");
        }
    }

    #[test]
    fn what_is_left_open_is_assumed_and_said() {
        for (points, source) in [
            ((1, 13), EncodingSource::StatedSrgb),
            ((12, 13), EncodingSource::Stated),
            ((12, 2), EncodingSource::AssumedSrgb),
            ((2, 13), EncodingSource::AssumedSrgb),
        ] {
            let space = Space::of_code_points(points.0, points.1).unwrap();
            assert_eq!(space.source, source, "{points:?}");
        }
        for (points, word) in [
            ((9, 16), "dynamic"),
            ((9, 18), "dynamic"),
            ((11, 13), "BT.2020"),
        ] {
            let problem = Space::of_code_points(points.0, points.1).unwrap_err();
            assert!(problem.to_string().contains(word), "{problem}");
        }
    }
}
