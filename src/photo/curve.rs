//! Tone curves: from encoded values to linear light, evaluated in `f64` into a table of every code value.

use super::error::Problem;

/// A tone curve over encoded values 0–1.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Curve {
    /// Values are linear already.
    Identity,
    /// A power law.
    Gamma(f64),
    /// Equally spaced samples, 0–65,535, at least two, linear between them (ICC `curveType`).
    Sampled(Vec<u16>),
    /// The general form of the five ICC `parametricCurveType` functions.
    Parametric(Parametric),
}

/// `(a x + b)^g + e` from `x = d` on, `c x + f` below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Parametric {
    pub(super) g: f64,
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) c: f64,
    pub(super) d: f64,
    pub(super) e: f64,
    pub(super) f: f64,
}

impl Parametric {
    /// From the parameters in file order: 1, 3, 4, 5 or 7 of them for function types 0 to 4.
    ///
    /// `None` for another number, and for `a = 0` in types 1 and 2, where the breakpoint is `−b/a`.
    ///
    /// # Source
    ///
    /// ICC.1:2022, 10.18.
    pub(super) fn from_icc(parameters: &[f64]) -> Option<Self> {
        let power = |g| Self {
            g,
            a: 1.0,
            b: 0.0,
            c: 0.0,
            d: 0.0,
            e: 0.0,
            f: 0.0,
        };
        let it = match *parameters {
            [g] => power(g),
            [g, a, b] => Self {
                a,
                b,
                d: -b / a,
                ..power(g)
            },
            [g, a, b, c] => Self {
                a,
                b,
                d: -b / a,
                e: c,
                f: c,
                ..power(g)
            },
            [g, a, b, c, d] => Self {
                a,
                b,
                c,
                d,
                ..power(g)
            },
            [g, a, b, c, d, e, f] => Self {
                g,
                a,
                b,
                c,
                d,
                e,
                f,
            },
            _ => return None,
        };
        it.d.is_finite().then_some(it)
    }

    /// The sRGB curve with the standard's rounded constants.
    ///
    /// # Source
    ///
    /// IEC 61966-2-1: `((v + 0.055) / 1.055)^2.4` above 0.04045, `v / 12.92` up to it.
    pub(super) const SRGB: Self = Self {
        g: 2.4,
        a: 1.0 / 1.055,
        b: 0.055 / 1.055,
        c: 1.0 / 12.92,
        d: 0.04045,
        e: 0.0,
        f: 0.0,
    };

    /// The camera's curve of ITU-R BT.709-6, item 1.2, turned round.
    pub(super) const BT_709: Self = Self {
        g: 1.0 / 0.45,
        a: 1.0 / 1.099,
        b: 0.099 / 1.099,
        c: 1.0 / 4.5,
        d: 0.081,
        e: 0.0,
        f: 0.0,
    };

    fn at(&self, x: f64) -> f64 {
        if x >= self.d {
            // A negative base has no real power; the standard clips to the range of the function.
            (self.a * x + self.b).max(0.0).powf(self.g) + self.e
        } else {
            self.c * x + self.f
        }
    }
}

impl Curve {
    /// Linear light of an encoded value, both 0–1; clipped to that range as ICC.1:2022, 10.6 and 10.18 ask.
    pub(super) fn at(&self, x: f64) -> f64 {
        let y = match self {
            Self::Identity => x,
            Self::Gamma(gamma) => x.powf(*gamma),
            Self::Parametric(it) => it.at(x),
            Self::Sampled(samples) => interpolate(samples, x),
        };
        y.clamp(0.0, 1.0)
    }

    /// Linear light of each code value from 0 to `max_code`.
    ///
    /// # Errors
    ///
    /// If the curve falls anywhere, has no real value, or rises by less than half: no camera encodes light so.
    pub(super) fn table(&self, max_code: u16) -> Result<Vec<f32>, Problem> {
        let step = 1.0 / f64::from(max_code);
        let exact: Vec<f64> = (0..=max_code)
            .map(|code| self.at(f64::from(code) * step))
            .collect();
        let broken = |what: &str| Err(Problem::BrokenProfile(format!("a tone curve {what}")));
        if exact.iter().any(|it| it.is_nan()) {
            return broken("has no value somewhere");
        }
        if exact.windows(2).any(|it| it[1] < it[0]) {
            return broken("falls where it should rise");
        }
        if exact
            .last()
            .zip(exact.first())
            .is_none_or(|(last, first)| last - first < 0.5)
        {
            return broken("hardly rises from black to white");
        }
        Ok(exact.into_iter().map(to_pixel).collect())
    }
}

/// Pixels are `f32`: 24 bits are enough for any code value.
#[expect(
    clippy::cast_possible_truncation,
    reason = "rounding to f32 is the purpose"
)]
fn to_pixel(value: f64) -> f32 {
    value as f32
}

/// `samples` has at least two entries; `x` is 0–1.
fn interpolate(samples: &[u16], x: f64) -> f64 {
    let last = samples.len() - 1;
    #[expect(
        clippy::cast_precision_loss,
        reason = "ICC tables have far fewer than 2^52 entries"
    )]
    let place = x * last as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 <= place <= last, floored on purpose"
    )]
    let below = (place as usize).min(last - 1);
    #[expect(clippy::cast_precision_loss, reason = "as above")]
    let share = place - below as f64;
    let (low, high) = (f64::from(samples[below]), f64::from(samples[below + 1]));
    (low + share * (high - low)) / 65_535.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Decoded values of codes on both sides of the join, IEC 61966-2-1, computed with colour-science 0.4.7.
    #[test]
    fn srgb_codes_decode_to_published_values() {
        let table = Curve::Parametric(Parametric::SRGB).table(255).unwrap();
        let known = [
            (10, 0.003_035_269_8),
            (11, 0.003_346_535_8),
            (118, 0.181_164_244_2),
            (119, 0.184_474_994_5),
            (128, 0.215_860_500_1),
        ];
        for (code, linear) in known {
            assert!(
                (f64::from(table[code]) - linear).abs() < 2e-8,
                "code {code}: {}",
                table[code]
            );
        }
        assert!(table[0].abs() < f32::EPSILON && (table[255] - 1.0).abs() < f32::EPSILON);
    }

    #[test]
    fn samples_are_joined_by_straight_lines() {
        let curve = Curve::Sampled(vec![0, 10_000, 65_535]);
        assert!((curve.at(0.25) - 5_000.0 / 65_535.0).abs() < 1e-12);
        assert!((curve.at(0.5) - 10_000.0 / 65_535.0).abs() < 1e-12);
        assert!((curve.at(1.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn senseless_curves_are_refused() {
        let nonsense = [
            Curve::Sampled(vec![65_535, 0]),
            Curve::Sampled(vec![0, 0]),
            Curve::Gamma(f64::NAN),
            Curve::Sampled(vec![0, 40_000, 30_000, 65_535]),
        ];
        for curve in nonsense {
            let problem = curve.table(255).unwrap_err();
            assert!(problem.to_string().contains("tone curve"), "{problem}");
        }
        assert!(Parametric::from_icc(&[2.2, 0.0, 0.0]).is_none());
        assert!(Parametric::from_icc(&[]).is_none());
    }
}
