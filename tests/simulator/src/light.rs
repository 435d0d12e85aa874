//! Lights: what the spectral power is. How it falls on the board is in `field`.

use crate::random::{between, chance, normal, pick};
use crate::spectrum::{Spectrum, daylight_components, illuminant};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

/// Which family of cameras and lights a scene draws from: the two share none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Split {
    /// To set allowances with.
    Study,
    /// To test with.
    Test,
}

/// Kinds of light, for tables by kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum LightKind {
    /// Sun and sky, 4000–7000 K.
    Daylight,
    /// Overcast or shade, 6400–9600 K.
    Overcast,
    /// Incandescent, 2600–3300 K.
    Incandescent,
    /// Fluorescent tubes.
    Fluorescent,
    /// White LEDs.
    Led,
}

/// One light.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Light {
    /// CIE daylight of a correlated colour temperature, kelvin (4000–25000).
    Daylight(f64),
    /// A black body, kelvin.
    Planck(f64),
    /// A tabulated CIE illuminant, by its index in [`Light::TABLE`].
    Table(usize),
}

impl Light {
    /// Names of the tabulated lights.
    pub const TABLE: [&'static str; 23] = [
        "A", "D50", "D65", "FL1", "FL2", "FL3", "FL4", "FL5", "FL6", "FL7", "FL8", "FL9", "FL10",
        "FL11", "FL12", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-V1",
        "LED-V2",
    ];

    /// A tabulated light by name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::TABLE
            .iter()
            .position(|it| *it == name)
            .map(Self::Table)
    }

    /// Relative power, of mean 1 over the grid.
    ///
    /// # Panics
    ///
    /// Never: every name of the table has its column, which a test reads.
    #[must_use]
    pub fn spectrum(&self) -> Spectrum {
        let raw = match *self {
            Self::Daylight(kelvin) => daylight(kelvin),
            Self::Planck(kelvin) => planck(kelvin),
            Self::Table(index) => illuminant(Self::TABLE[index.min(22)]).expect("in the table"),
        };
        let mean = raw.0.iter().sum::<f64>() / 71.0;
        raw.map(|it| it / mean)
    }

    /// Draws a light of a kind. Temperatures of the two splits lie in alternate bands of 400 K from 4000 K (200 K for black
    /// bodies), tabulated lights are shared out.
    pub(crate) fn draw(rng: &mut ChaCha8Rng, kind: LightKind, split: Split) -> Self {
        let study = split == Split::Study;
        match kind {
            LightKind::Daylight => Self::Daylight(banded(rng, 4000.0, 7200.0, 400.0, study)),
            LightKind::Overcast => Self::Daylight(banded(rng, 6400.0, 9600.0, 400.0, study)),
            LightKind::Incandescent => Self::Planck(banded(rng, 2600.0, 3400.0, 200.0, study)),
            LightKind::Fluorescent => {
                let names = if study {
                    ["FL1", "FL3", "FL5", "FL7", "FL10", "FL12"]
                } else {
                    ["FL2", "FL4", "FL6", "FL8", "FL9", "FL11"]
                };
                Self::named(pick(rng, &names)).expect("in the table")
            }
            LightKind::Led => {
                let names = if study {
                    ["LED-B1", "LED-B3", "LED-B5", "LED-V1"]
                } else {
                    ["LED-B2", "LED-B4", "LED-BH1", "LED-V2"]
                };
                Self::named(pick(rng, &names)).expect("in the table")
            }
        }
    }
}

/// Uniform within every other band of `step` from `low` to `high`: the even ones for the study, the odd ones for the test.
fn banded(rng: &mut ChaCha8Rng, low: f64, high: f64, step: f64, study: bool) -> f64 {
    let pairs = ((high - low) / (2.0 * step)).round();
    let pair = between(rng, 0.0, pairs).floor().min(pairs - 1.0);
    let offset = if study { 0.0 } else { step };
    low + 2.0 * step * pair + offset + between(rng, 0.0, step)
}

/// CIE daylight (CIE 15), 4000–25000 K, M1 and M2 not rounded.
#[must_use]
pub fn daylight(kelvin: f64) -> Spectrum {
    let t = kelvin.clamp(4000.0, 25000.0);
    let (a, b, c, d) = if t <= 7000.0 {
        (-4.6070e9, 2.9678e6, 0.09911e3, 0.244063)
    } else {
        (-2.0064e9, 1.9018e6, 0.24748e3, 0.237040)
    };
    let x = a / t.powi(3) + b / t.powi(2) + c / t + d;
    let y = -3.0 * x * x + 2.870 * x - 0.275;
    let m = 0.0241 + 0.2562 * x - 0.7341 * y;
    let m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / m;
    let m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / m;
    let [s0, s1, s2] = daylight_components();
    s0.zip(&s1, |a, b| a + m1 * b).zip(&s2, |a, b| a + m2 * b)
}

/// Planck's law, relative.
#[must_use]
pub fn planck(kelvin: f64) -> Spectrum {
    let second_radiation_nm_k = 1.438_776_877e7;
    Spectrum::from_nm(|nm| {
        (560.0 / nm).powi(5) / ((second_radiation_nm_k / (nm * kelvin)).exp() - 1.0)
    })
}

/// The light that reaches the board: a lamp or the sky, tinted a little by what surrounds it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TintedLight {
    /// The source.
    pub light: Light,
    /// Slope of the tint over the grid, relative (0.1: ±5 % at the ends).
    pub slope: f64,
    /// Curvature of the tint, relative.
    pub bend: f64,
}

impl TintedLight {
    /// As it leaves the source.
    #[must_use]
    pub fn plain(light: Light) -> Self {
        Self {
            light,
            slope: 0.0,
            bend: 0.0,
        }
    }

    pub(crate) fn draw(rng: &mut ChaCha8Rng, kind: LightKind, split: Split) -> Self {
        let light = Light::draw(rng, kind, split);
        if chance(rng, 0.5) {
            Self::plain(light)
        } else {
            Self {
                light,
                slope: normal(rng, 0.06),
                bend: normal(rng, 0.03),
            }
        }
    }

    /// Relative power.
    #[must_use]
    pub fn spectrum(&self) -> Spectrum {
        let tint = Spectrum::from_nm(|nm| {
            let t = (nm - 555.0) / 175.0;
            (1.0 + 0.5 * self.slope * t + 0.5 * self.bend * (t * t - 1.0 / 3.0)).max(0.1)
        });
        self.light.spectrum().times(&tint)
    }
}
