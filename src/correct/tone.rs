//! The camera's tone curve, as far as neutrals of different lightness show it: one monotone function for all channels.

use crate::colour::srgb;
use nalgebra::{Matrix2, Vector2};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// How the linear values of the file become values proportional to light: an S-shape in encoded values, undone, then
/// an exponent.
///
/// With `v` the sRGB-encoded value, `u = v + contrast / 2π · sin 2πv`; the light is `decode(u) ^ exponent`. Ends stay
/// where they are; it rises strictly for |contrast| < 1 and exponent > 0. `contrast` 0 and `exponent` 1 change nothing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToneCurve {
    /// Depth of the S-shape that is undone; negative where the camera flattened the middle.
    pub contrast: f64,
    /// Exponent on linear light.
    pub exponent: f64,
    /// Where the two come from.
    pub source: ToneSource,
    /// Covariance of contrast and exponent: what is not known of the curve.
    pub covariance: Matrix2<f64>,
}

/// Where a tone curve comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToneSource {
    /// The file's encoding is taken at its word.
    Encoding,
    /// What phones usually do: there are too few neutrals to see it.
    Assumed,
    /// Fitted to the neutrals.
    Fitted,
}

/// What is supposed of a curve before any neutral is looked at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prior {
    pub(super) contrast: f64,
    pub(super) exponent: f64,
    /// Standard deviations of the two.
    pub(super) sd: [f64; 2],
}

/// One neutral: what its light should be up to a gain a channel, and what the file holds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Neutral {
    /// Linear values of the file.
    pub(super) seen: [f64; 3],
    /// Light relative to the photo's even light at the same place (the field), as a factor.
    pub(super) light: [f64; 3],
    /// Linear values that its stated colour would have.
    pub(super) stated: [f64; 3],
    /// Standard deviation of the logarithm of `stated` over `seen` beyond the curve.
    pub(super) sd: f64,
}

impl ToneCurve {
    /// The curve that changes nothing.
    pub(super) fn encoding() -> Self {
        Self {
            contrast: 0.0,
            exponent: 1.0,
            source: ToneSource::Encoding,
            covariance: Matrix2::zeros(),
        }
    }

    /// The curve that is supposed where nothing shows it.
    pub(super) fn assumed(prior: &Prior) -> Self {
        Self {
            contrast: prior.contrast,
            exponent: prior.exponent,
            source: ToneSource::Assumed,
            covariance: Matrix2::from_diagonal(&Vector2::from(prior.sd.map(|it| it * it))),
        }
    }

    /// Linear value of the file to light, both 0–1.
    #[must_use]
    pub fn undo(&self, linear: f64) -> f64 {
        if self.source == ToneSource::Encoding {
            return linear;
        }
        let encoded = srgb::encode(linear.max(0.0));
        // Beyond white there is no curve to know of.
        let even = if encoded < 1.0 {
            encoded + self.contrast / TAU * (TAU * encoded).sin()
        } else {
            encoded
        };
        srgb::decode(even).powf(self.exponent)
    }

    /// [`Self::undo`] with its derivative.
    pub(super) fn undo_with_slope(&self, linear: f64) -> (f64, f64) {
        if self.source == ToneSource::Encoding {
            return (linear, 1.0);
        }
        let linear = linear.max(0.0);
        let encoded = srgb::encode(linear);
        // Of a power with an offset, v = s x^p − t, the derivative is p (v + t) / x; below the knee it is straight.
        let encoding = if encoded > KNEE {
            (encoded + OFFSET) / (GAMMA * linear)
        } else {
            LINE
        };
        let (even, bend) = if encoded < 1.0 {
            let (sin, cos) = (TAU * encoded).sin_cos();
            (
                encoded + self.contrast / TAU * sin,
                1.0 + self.contrast * cos,
            )
        } else {
            (encoded, 1.0)
        };
        let decoded = srgb::decode(even);
        let decoding = if even > KNEE {
            GAMMA * decoded / (even + OFFSET)
        } else {
            1.0 / LINE
        };
        let light = decoded.powf(self.exponent);
        let power = self.exponent * light / decoded.max(1e-12);
        (light, power * decoding * bend * encoding)
    }

    /// The same curve moved along its two uncertain directions by one standard deviation each.
    pub(super) fn variants(&self) -> Vec<Self> {
        let eigen = self.covariance.symmetric_eigen();
        (0..2)
            .filter(|i| eigen.eigenvalues[*i] > 1e-12)
            .map(|i| {
                let step = eigen.eigenvectors.column(i) * eigen.eigenvalues[i].sqrt();
                Self {
                    contrast: (self.contrast + step[0]).clamp(-LIMIT, LIMIT),
                    exponent: (self.exponent + step[1]).clamp(EXPONENTS[0], EXPONENTS[1]),
                    ..*self
                }
            })
            .collect()
    }

    /// Fits the curve to neutrals: least squares in log light with a free gain a channel, held by the prior.
    pub(super) fn fit(neutrals: &[Neutral], prior: &Prior) -> Self {
        let cost = |at: Vector2<f64>| misfit(neutrals, prior, at);
        // A coarse grid first: the misfit can have a second valley.
        let mut best = (f64::INFINITY, Vector2::new(prior.contrast, prior.exponent));
        for i in 0..13 {
            for j in 0..12 {
                let at = Vector2::new(-0.5 + 0.1 * f64::from(i), 0.6 + 0.1 * f64::from(j));
                let value = cost(at);
                if value < best.0 {
                    best = (value, at);
                }
            }
        }
        let (mut value, mut at) = best;
        let mut step = 0.05;
        while step > 1e-5 {
            let moves = [
                (1., 0.),
                (-1., 0.),
                (0., 1.),
                (0., -1.),
                (1., 1.),
                (-1., -1.),
                (1., -1.),
                (-1., 1.),
            ];
            let better = moves
                .iter()
                .map(|(dx, dy)| within(at + Vector2::new(*dx, *dy) * step))
                .map(|it| (cost(it), it))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            match better {
                Some((lower, there)) if lower < value => (value, at) = (lower, there),
                _ => step /= 2.0,
            }
        }
        Self {
            contrast: at.x,
            exponent: at.y,
            source: ToneSource::Fitted,
            covariance: covariance(cost, at, prior),
        }
    }
}

/// Of the sRGB encoding (IEC 61966-2-1): where its straight line ends, encoded; that line's slope; its exponent and offset.
const KNEE: f64 = 0.040_45;
const LINE: f64 = 12.92;
const GAMMA: f64 = 2.4;
const OFFSET: f64 = 0.055;
/// Largest depth of an S-shape.
const LIMIT: f64 = 0.9;
/// Range of exponents.
const EXPONENTS: [f64; 2] = [0.5, 2.0];

fn within(at: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(
        at.x.clamp(-LIMIT, LIMIT),
        at.y.clamp(EXPONENTS[0], EXPONENTS[1]),
    )
}

/// Half the sum of squares of the standardised residuals, prior included.
fn misfit(neutrals: &[Neutral], prior: &Prior, at: Vector2<f64>) -> f64 {
    let curve = ToneCurve {
        contrast: at.x,
        exponent: at.y,
        source: ToneSource::Fitted,
        covariance: Matrix2::zeros(),
    };
    let mut total = ((at.x - prior.contrast) / prior.sd[0]).powi(2)
        + ((at.y - prior.exponent) / prior.sd[1]).powi(2);
    for c in 0..3 {
        let logs: Vec<(f64, f64)> = neutrals
            .iter()
            .map(|it| {
                let light = curve.undo(it.seen[c]) / it.light[c];
                (
                    it.stated[c].max(1e-5).ln() - light.max(1e-6).ln(),
                    1.0 / (it.sd * it.sd),
                )
            })
            .collect();
        let weight: f64 = logs.iter().map(|it| it.1).sum();
        let gain = logs.iter().map(|it| it.0 * it.1).sum::<f64>() / weight;
        // The three channels of one neutral err together: a third of the weight each.
        total += logs
            .iter()
            .map(|it| it.1 * (it.0 - gain).powi(2))
            .sum::<f64>()
            / 3.0;
    }
    total / 2.0
}

/// The inverse of the misfit's curvature.
fn covariance(cost: impl Fn(Vector2<f64>) -> f64, at: Vector2<f64>, prior: &Prior) -> Matrix2<f64> {
    let h = 0.01;
    let (x, y) = (Vector2::new(h, 0.0), Vector2::new(0.0, h));
    let middle = cost(at);
    let xx = (cost(at + x) - 2.0 * middle + cost(at - x)) / (h * h);
    let yy = (cost(at + y) - 2.0 * middle + cost(at - y)) / (h * h);
    let xy =
        (cost(at + x + y) - cost(at + x - y) - cost(at - x + y) + cost(at - x - y)) / (4.0 * h * h);
    let curvature = Matrix2::new(xx, xy, xy, yy);
    let inverse = curvature.try_inverse().filter(|it| {
        let eigen = it.symmetric_eigen();
        eigen.eigenvalues.iter().all(|v| v.is_finite() && *v > 0.0)
    });
    // A curvature that is no valley says nothing: the prior stays.
    inverse.unwrap_or_else(|| Matrix2::from_diagonal(&Vector2::from(prior.sd.map(|it| it * it))))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDE: Prior = Prior {
        contrast: 0.0,
        exponent: 1.0,
        sd: [10.0, 10.0],
    };

    #[test]
    fn nothing_to_undo_is_undone_exactly() {
        let curve = ToneCurve::encoding();
        assert!((curve.undo(0.1811642442) - 0.1811642442).abs() < 1e-15);
    }

    #[test]
    fn curves_rise_and_keep_their_ends() {
        for (contrast, exponent) in [(0.8, 1.0), (-0.6, 0.7), (0.3, 1.5)] {
            let curve = ToneCurve {
                contrast,
                exponent,
                source: ToneSource::Fitted,
                covariance: Matrix2::zeros(),
            };
            assert!(curve.undo(0.0).abs() < 1e-12 && (curve.undo(1.0) - 1.0).abs() < 1e-9);
            let values: Vec<f64> = (0..=100)
                .map(|i| curve.undo(f64::from(i) / 100.0))
                .collect();
            assert!(
                values.windows(2).all(|it| it[0] < it[1]),
                "{contrast} {exponent}"
            );
        }
    }

    #[test]
    fn the_slope_is_that_of_the_curve() {
        for (contrast, exponent) in [(0.8, 1.0), (-0.6, 0.7), (0.3, 1.5)] {
            let curve = ToneCurve {
                contrast,
                exponent,
                source: ToneSource::Fitted,
                covariance: Matrix2::zeros(),
            };
            for linear in [0.001, 0.01, 0.1, 0.5, 0.9, 1.1] {
                let (light, slope) = curve.undo_with_slope(linear);
                assert!((light - curve.undo(linear)).abs() < 1e-15);
                let step = 1e-6;
                let by_steps =
                    (curve.undo(linear + step) - curve.undo(linear - step)) / (2.0 * step);
                assert!(
                    (slope / by_steps - 1.0).abs() < 1e-5,
                    "{linear}: {slope} {by_steps}"
                );
            }
        }
    }

    #[test]
    fn four_neutrals_return_the_curve_and_its_white_balance_stays_free() {
        let truth = ToneCurve {
            contrast: 0.4,
            exponent: 1.15,
            source: ToneSource::Fitted,
            covariance: Matrix2::zeros(),
        };
        // The file's value of a light, by bisection: the inverse of `undo`.
        let seen = |light: f64| {
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..60 {
                let middle = (low + high) / 2.0;
                if truth.undo(middle) < light {
                    low = middle
                } else {
                    high = middle
                }
            }
            low
        };
        let neutrals: Vec<Neutral> = [0.035, 0.18, 0.42, 0.88]
            .into_iter()
            .map(|y: f64| Neutral {
                seen: [0.9, 0.8, 0.6].map(|gain| seen(y * gain)),
                light: [1.0; 3],
                stated: [y; 3],
                sd: 0.02,
            })
            .collect();
        let found = ToneCurve::fit(&neutrals, &WIDE);
        assert!((found.contrast - 0.4).abs() < 1e-3, "{found:?}");
        assert!((found.exponent - 1.15).abs() < 1e-3, "{found:?}");
    }
}
