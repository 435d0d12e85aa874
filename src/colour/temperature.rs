//! Correlated colour temperature: how warm a white is, as the temperature of the black body that looks most like it.

use super::spectrum;
use std::sync::OnceLock;

/// Second radiation constant, nm·K (CODATA 2018).
const C2_NM: f64 = 1.438_776_877e7;
/// Reciprocal temperatures of the black bodies that are compared with, in steps of one mired: 50,000 K to 1000 K. Equal steps look
/// about equally wide.
const MIREDS: std::ops::RangeInclusive<u16> = 20..=1000;

/// Temperature, K, of the black body nearest to a chromaticity in the CIE 1960 UCS diagram; 1000 to 50,000, beyond these its end.
///
/// # Source
///
/// CIE 15 (from memory): the definition itself, with Planck's law and the 2° observer, not a formula fitted to it.
#[must_use]
pub fn correlated([x, y]: [f64; 2]) -> f64 {
    let seen = ucs_1960([x, y, 1.0 - x - y]);
    let nearest = |pair: &[Body]| {
        let [one, other] = [pair[0], pair[1]];
        let along = [0, 1].map(|i| other.uv[i] - one.uv[i]);
        let off = [0, 1].map(|i| seen[i] - one.uv[i]);
        let share = (off[0] * along[0] + off[1] * along[1]) / along[0].hypot(along[1]).powi(2);
        let share = share.clamp(0.0, 1.0);
        let away = (off[0] - share * along[0]).hypot(off[1] - share * along[1]);
        (away, one.mired + share * (other.mired - one.mired))
    };
    let best = locus().windows(2).map(nearest);
    let best = best.min_by(|a, b| a.0.total_cmp(&b.0));
    1e6 / best.map_or(200.0, |it| it.1)
}

/// A black body's reciprocal temperature and chromaticity.
#[derive(Clone, Copy, Debug)]
struct Body {
    mired: f64,
    uv: [f64; 2],
}

fn locus() -> &'static [Body] {
    static LOCUS: OnceLock<Vec<Body>> = OnceLock::new();
    LOCUS.get_or_init(|| {
        let body = |mired: u16| {
            let mired = f64::from(mired);
            // Planck's law up to a factor, which chromaticity doesn't see.
            let power = |nm: f64| nm.powi(-5) / (C2_NM * mired / (1e6 * nm)).exp_m1();
            Body {
                mired,
                uv: ucs_1960(spectrum::light_to_xyz(power)),
            }
        };
        MIREDS.map(body).collect()
    })
}

/// Coordinates u, v of the CIE 1960 UCS diagram; XYZ on any scale.
fn ucs_1960([x, y, z]: [f64; 3]) -> [f64; 2] {
    let sum = x + 15.0 * y + 3.0 * z;
    [4.0 * x / sum, 6.0 * y / sum]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 15: illuminant A is a black body of 2856 K under the constant 1.4388 cm K; D65 has 6504 K, D50 5003 K.
    #[test]
    fn illuminants_have_the_temperatures_of_their_standard() {
        let cases = [
            ([0.447_58, 0.407_45], 2856.0, 2.0),
            ([0.3127, 0.3290], 6504.0, 4.0),
            ([0.345_67, 0.358_50], 5003.0, 4.0),
        ];
        for (xy, known, within) in cases {
            let found = correlated(xy);
            assert!(
                (found - known).abs() < within,
                "{xy:?}: {found} K, not {known}"
            );
        }
    }

    #[test]
    fn what_lies_beyond_has_the_temperature_of_an_end() {
        assert!((correlated([0.70, 0.29]) - 1000.0).abs() < 1.0);
        assert!((correlated([0.24, 0.23]) - 50_000.0).abs() < 1.0);
    }
}
