//! The camera's tone curve, as far as neutrals of different lightness show it: one monotone function for all channels.

use super::robust;
use crate::colour::srgb;
use nalgebra::{Matrix2, Vector2};
use serde::{Deserialize, Serialize};

/// How the linear values of the file become values proportional to light: an S-shape in encoded values, undone.
///
/// With `v` the sRGB-encoded value and `logit v = ln v/(1 − v)`, the light is `decode(u)`, where
/// `logit u = (1 − contrast) · logit v + shift`; below 0.02 and above 0.98 a straight line to 0 and 1. Ends stay where they
/// are; it rises strictly for contrast < 1. `contrast` 0 and `shift` 0 change nothing.
///
/// Why this form: over 300 curves of three families (a logistic S in encoded values, a film-like one in linear light, a cubic S) from
/// 1 to 85 % of white, it leaves 0.5 to 3 % of light; a sine in encoded values with an exponent on light leaves 2 to 17 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToneCurve {
    /// Contrast of the middle tones that is taken out; negative where the camera flattened them.
    pub contrast: f64,
    /// Shift of the middle tones: positive where the camera darkened them.
    pub shift: f64,
    /// Where the two come from.
    pub source: ToneSource,
    /// Covariance of contrast and shift: what is not known of the curve.
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
    pub(super) shift: f64,
    /// Standard deviations of the two.
    pub(super) sd: [f64; 2],
    /// Their correlation.
    pub(super) correlation: f64,
}

impl Prior {
    fn covariance(&self) -> Matrix2<f64> {
        let [x, y] = self.sd;
        let both = self.correlation * x * y;
        Matrix2::new(x * x, both, both, y * y)
    }

    /// Half the squared distance.
    fn misfit(&self, at: Vector2<f64>) -> f64 {
        let d = Vector2::new(
            (at.x - self.contrast) / self.sd[0],
            (at.y - self.shift) / self.sd[1],
        );
        let r = self.correlation;
        (d.x * d.x + d.y * d.y - 2.0 * r * d.x * d.y) / (1.0 - r * r) / 2.0
    }
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

/// A linear value of the file with what no curve changes of its undoing, worked out once where many curves are tried.
#[derive(Clone, Copy, Debug)]
pub(super) struct Value {
    linear: f64,
    encoded: f64,
    /// ln v/(1 − v) of the encoded value.
    logit: f64,
}

impl Value {
    pub(super) fn of(linear: f64) -> Self {
        // No curve goes below black.
        let encoded = srgb::encode(linear.max(0.0));
        Self {
            linear,
            encoded,
            logit: (encoded / (1.0 - encoded)).ln(),
        }
    }

    pub(super) fn linear(&self) -> f64 {
        self.linear
    }
}

impl ToneCurve {
    /// The curve that changes nothing.
    pub(super) fn encoding() -> Self {
        Self {
            contrast: 0.0,
            shift: 0.0,
            source: ToneSource::Encoding,
            covariance: Matrix2::zeros(),
        }
    }

    /// The curve that is supposed where nothing shows it.
    pub(super) fn assumed(prior: &Prior) -> Self {
        Self {
            contrast: prior.contrast,
            shift: prior.shift,
            source: ToneSource::Assumed,
            covariance: prior.covariance(),
        }
    }

    /// Linear value of the file to light, both 0–1.
    #[must_use]
    pub fn undo(&self, linear: f64) -> f64 {
        self.undo_with_slope(linear).0
    }

    /// [`Self::undo`] with its derivative.
    pub(super) fn undo_with_slope(&self, linear: f64) -> (f64, f64) {
        self.undo_value(&Value::of(linear))
    }

    /// The same of a value that many curves are tried on.
    pub(super) fn undo_value(&self, value: &Value) -> (f64, f64) {
        let Value {
            linear, encoded, ..
        } = *value;
        if self.source == ToneSource::Encoding {
            return (linear, 1.0);
        }
        let linear = linear.max(0.0);
        // Beyond white there is no curve to know of.
        if encoded >= 1.0 {
            return (linear, 1.0);
        }
        // Of a power with an offset, v = s x^p − t, the derivative is p (v + t) / x; below the knee it is straight.
        let encoding = if encoded > KNEE {
            (encoded + OFFSET) / (GAMMA * linear)
        } else {
            LINE
        };
        let (even, bend) = self.even(value);
        let decoded = srgb::decode(even);
        let decoding = if even > KNEE {
            GAMMA * decoded / (even + OFFSET)
        } else {
            1.0 / LINE
        };
        (decoded, decoding * bend * encoding)
    }

    /// The S-shape undone, with its derivative.
    fn even(&self, value: &Value) -> (f64, f64) {
        let steep = 1.0 - self.contrast;
        let at = |logit: f64| {
            let odds = (steep * logit + self.shift).exp();
            odds / (1.0 + odds)
        };
        let encoded = value.encoded;
        if encoded < END {
            let slope = at(LOGIT_OF_END) / END;
            (slope * encoded, slope)
        } else if encoded > 1.0 - END {
            let slope = (1.0 - at(-LOGIT_OF_END)) / END;
            (1.0 - slope * (1.0 - encoded), slope)
        } else {
            let even = at(value.logit);
            let slope = steep * even * (1.0 - even) / (encoded * (1.0 - encoded));
            (even, slope)
        }
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
                    shift: (self.shift + step[1]).clamp(-SHIFT, SHIFT),
                    ..*self
                }
            })
            .collect()
    }

    /// Fits the curve to what `misfit` says (half a sum of squares), held by the prior: Newton's steps from a curve not far off, damped
    /// until they lead down (Levenberg, *Quart. Appl. Math.* 2 (1944) 164–168).
    pub(super) fn fit(
        source: ToneSource,
        prior: &Prior,
        near: &Self,
        misfit: impl Fn(&Self) -> f64,
    ) -> Self {
        let curve = |at: Vector2<f64>| Self {
            contrast: at.x,
            shift: at.y,
            source,
            covariance: Matrix2::zeros(),
        };
        let cost = |at: Vector2<f64>| prior.misfit(at) + misfit(&curve(at));
        let mut at = within(Vector2::new(near.contrast, near.shift));
        let mut here = Surroundings::of(&cost, at);
        for _ in 0..STEPS {
            let Some((value, there)) = here.lower(&cost, at) else {
                break;
            };
            let done = (there - at).amax() < SETTLED || here.value - value < 1e-6;
            at = there;
            here = Surroundings::of(&cost, at);
            if done {
                break;
            }
        }
        Self {
            covariance: here.covariance(prior),
            ..curve(at)
        }
    }
}

/// Most steps of a fit.
const STEPS: usize = 30;
/// Change of contrast or shift in one step that is none.
const SETTLED: f64 = 1e-4;

/// A misfit with its slope and curvature at a place, by differences.
struct Surroundings {
    value: f64,
    slope: Vector2<f64>,
    curvature: Matrix2<f64>,
}

impl Surroundings {
    fn of(cost: &impl Fn(Vector2<f64>) -> f64, at: Vector2<f64>) -> Self {
        let h = 0.01;
        let (x, y) = (Vector2::new(h, 0.0), Vector2::new(0.0, h));
        let value = cost(at);
        let [left, right, below, above] = [-x, x, -y, y].map(|it| cost(at + it));
        let both = cost(at + x + y);
        let xy = both - right - above + value;
        Self {
            value,
            slope: Vector2::new(right - left, above - below) / (2.0 * h),
            curvature: Matrix2::new(
                right - 2.0 * value + left,
                xy,
                xy,
                above - 2.0 * value + below,
            ) / (h * h),
        }
    }

    /// A place where the misfit is less.
    fn lower(
        &self,
        cost: &impl Fn(Vector2<f64>) -> f64,
        at: Vector2<f64>,
    ) -> Option<(f64, Vector2<f64>)> {
        let scale = self.curvature.diagonal().amax().max(1.0);
        [0.0, 1e-3, 1e-2, 0.1, 1.0, 10.0, 100.0]
            .into_iter()
            .filter_map(|damping| {
                let held = self.curvature + Matrix2::identity() * (damping * scale);
                held.cholesky().map(|it| within(at - it.solve(&self.slope)))
            })
            .map(|there| (cost(there), there))
            .find(|it| it.0 < self.value)
    }

    /// The inverse of the curvature.
    fn covariance(&self, prior: &Prior) -> Matrix2<f64> {
        let inverse = self.curvature.try_inverse().filter(|it| {
            let eigen = it.symmetric_eigen();
            eigen.eigenvalues.iter().all(|v| v.is_finite() && *v > 0.0)
        });
        // A curvature that is no valley says nothing: the prior stays.
        inverse.unwrap_or_else(|| prior.covariance())
    }
}

/// Of the sRGB encoding (IEC 61966-2-1): where its straight line ends, encoded; that line's slope; its exponent and offset.
const KNEE: f64 = 0.040_45;
const LINE: f64 = 12.92;
const GAMMA: f64 = 2.4;
const OFFSET: f64 = 0.055;
/// Where the straight ends of the undone S-shape begin, encoded.
const END: f64 = 0.02;
/// ln v/(1 − v) there: −ln 49.
const LOGIT_OF_END: f64 = -3.891_820_298_110_627;
/// Largest contrast either way.
const LIMIT: f64 = 0.8;
/// Largest shift either way.
const SHIFT: f64 = 2.5;

fn within(at: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(at.x.clamp(-LIMIT, LIMIT), at.y.clamp(-SHIFT, SHIFT))
}

/// One reference that has a colour: of it the luminance alone is asked, since the camera's colours are not the eye's.
#[derive(Clone, Copy, Debug)]
pub(super) struct Coloured {
    /// Linear values of the file.
    pub(super) seen: [f64; 3],
    /// As a neutral's.
    pub(super) light: [f64; 3],
    /// Luminance that its stated colour has, as the weights of `luminance` give it.
    pub(super) stated: f64,
    /// The part of each channel in luminance.
    pub(super) luminance: [f64; 3],
    /// Standard deviation of its log luminance as the camera sees it.
    pub(super) sd: f64,
}

/// Half the sum of the standardised residuals of neutrals and coloured references, in log light, with a free gain a channel that the neutrals
/// give: squares, of many neutrals ever less of them where one fits in badly (a spot of glare).
pub(super) fn misfit(neutrals: &[Neutral], coloured: &[Coloured], curve: &ToneCurve) -> f64 {
    let mut total = 0.0;
    let mut gains = [0.0; 3];
    let cost = |standardised: f64| {
        if neutrals.len() < robust::ENOUGH {
            standardised * standardised
        } else {
            robust::cauchy_cost(standardised)
        }
    };
    for (c, gain) in gains.iter_mut().enumerate() {
        let logs: Vec<(f64, f64)> = neutrals
            .iter()
            .map(|it| {
                let light = curve.undo(it.seen[c]) / it.light[c];
                (it.stated[c].max(1e-5).ln() - light.max(1e-6).ln(), it.sd)
            })
            .collect();
        *gain = robust::centre(&logs);
        // The three channels of one neutral err together: a third of the weight each.
        total += logs
            .iter()
            .map(|(log, sd)| cost((log - *gain) / sd))
            .sum::<f64>()
            / 3.0;
    }
    if !neutrals.is_empty() {
        for it in coloured {
            let part =
                |c: usize| it.luminance[c] * curve.undo(it.seen[c]) / it.light[c] * gains[c].exp();
            let luminance = part(0) + part(1) + part(2);
            let off = it.stated.max(1e-5).ln() - luminance.max(1e-6).ln();
            total += cost(off / it.sd);
        }
    }
    total / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDE: Prior = Prior {
        contrast: 0.0,
        shift: 0.0,
        sd: [10.0, 10.0],
        correlation: 0.0,
    };

    #[test]
    fn nothing_to_undo_is_undone_exactly() {
        let curve = ToneCurve::encoding();
        for linear in [0.1811642442, -0.01, 1.3] {
            assert!((curve.undo(linear) - linear).abs() < 1e-15);
        }
    }

    #[test]
    fn curves_rise_and_keep_their_ends() {
        for (contrast, shift) in [(0.6, 0.0), (-0.4, 0.7), (0.3, -0.9)] {
            let curve = ToneCurve {
                contrast,
                shift,
                source: ToneSource::Fitted,
                covariance: Matrix2::zeros(),
            };
            assert!(curve.undo(0.0).abs() < 1e-12 && (curve.undo(1.0) - 1.0).abs() < 1e-9);
            let values: Vec<f64> = (0..=100)
                .map(|i| curve.undo(f64::from(i) / 100.0))
                .collect();
            assert!(
                values.windows(2).all(|it| it[0] < it[1]),
                "{contrast} {shift}"
            );
        }
    }

    #[test]
    fn the_shape_has_no_step_where_its_straight_ends_begin() {
        let curve = ToneCurve {
            contrast: 0.3,
            shift: -0.9,
            source: ToneSource::Fitted,
            covariance: Matrix2::zeros(),
        };
        for end in [END, 1.0 - END] {
            let [before, after] = [end - 1e-9, end + 1e-9].map(|it| curve.undo(srgb::decode(it)));
            assert!((before - after).abs() < 1e-7, "{before} {after}");
        }
    }

    #[test]
    fn the_slope_is_that_of_the_curve() {
        for (contrast, shift) in [(0.6, 0.0), (-0.4, 0.7), (0.3, -0.9)] {
            let curve = ToneCurve {
                contrast,
                shift,
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
            contrast: 0.25,
            shift: -0.4,
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
        let found = ToneCurve::fit(ToneSource::Fitted, &WIDE, &ToneCurve::encoding(), |it| {
            misfit(&neutrals, &[], it)
        });
        assert!((found.contrast - 0.25).abs() < 1e-3, "{found:?}");
        assert!((found.shift + 0.4).abs() < 1e-3, "{found:?}");
    }
}
