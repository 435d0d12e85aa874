//! What is thought of a pigment before any trial: absorption and scattering in logarithms, each a Gaussian process over wavelength.
//!
//! Levels are so wide that a clearly non-hiding load decides them; shapes are smooth, since a colour says little of what goes on between
//! its three sums. What no trial decides keeps the prior's spread, and so makes predictions that hang on it wide.
//!
//! # Source
//! Common practice, no source, for the form. The levels: scattering of pigments in films lies between some 0.01 (organic ones, ground finely)
//! and 0.5 m²/g (titanium white), absorption between next to nothing and 10 m²/g (carbon black), from memory.

use super::bands::BANDS;
use nalgebra::{SMatrix, SVector};
use std::sync::OnceLock;

/// A covariance over the bands.
pub(super) type Over = SMatrix<f64, BANDS, BANDS>;
/// A logarithm for each band.
pub(super) type Logs = SVector<f64, BANDS>;

/// Of both spectra.
#[derive(Debug)]
pub(super) struct Prior {
    /// ln k, k in square metres per gram, band by band.
    pub(super) k: Over,
    /// ln s.
    pub(super) s: Over,
    /// Mean of ln s.
    pub(super) s_level: f64,
}

/// Mean of ln k: 0.2 m²/g.
pub(super) const K_LEVEL: f64 = -1.5;
/// Spread of its level, one standard deviation: a factor of 7.
const K_LEVEL_SD: f64 = 2.0;
/// Spread of its shape.
const K_SHAPE_SD: f64 = 1.5;
/// Over which it is alike, nm.
const K_LENGTH_NM: f64 = 80.0;
/// Mean of ln s: 0.025 m²/g.
pub(super) const S_LEVEL: f64 = -3.7;
/// Spread of its level: a factor of 5.5.
pub(super) const S_LEVEL_SD: f64 = 1.7;
/// Spread of the power of wavelength by which scattering changes: 4 for the smallest particles, 0 for coarse ones.
const S_POWER_SD: f64 = 1.0;
/// Spread of what else its shape has.
const S_SHAPE_SD: f64 = 0.15;
/// Over which that is alike, nm.
const S_LENGTH_NM: f64 = 100.0;
/// Where the power is taken from, nm.
const MIDDLE_NM: f64 = 560.0;

/// Wavelength of a band, nm.
pub(super) fn nm(band: usize) -> f64 {
    380.0 + 10.0 * band as f64
}

/// Of any pigment.
pub(super) fn usual() -> &'static Prior {
    uneven(USUAL)
}

/// How many sizes of unevenness are told apart, by equal ratios; which of them is the usual one.
pub(super) const SIZES: usize = 2 * USUAL + 1;
const USUAL: usize = 10;

/// How many times as large variances of shapes are as usually: from 0.18 to 5.7.
pub(super) fn times(size: usize) -> f64 {
    2.0_f64.powf((size as f64 - USUAL as f64) / 4.0)
}

/// Of a pigment whose spectra are so uneven, 0 to `SIZES` - 1.
pub(super) fn uneven(size: usize) -> &'static Prior {
    static IT: OnceLock<Vec<Prior>> = OnceLock::new();
    let of = |size: usize| {
        let (shapes, times) = (shapes(), times(size));
        Prior {
            k: (shapes.k * times).add_scalar(K_LEVEL_SD.powi(2)),
            s: (shapes.s * times).add_scalar(S_LEVEL_SD.powi(2)),
            s_level: S_LEVEL,
        }
    };
    &IT.get_or_init(|| (0..SIZES).map(of).collect())[size]
}

/// What of [`usual`] is shape: all but the levels.
pub(super) fn shapes() -> &'static Prior {
    static IT: OnceLock<Prior> = OnceLock::new();
    IT.get_or_init(|| {
        let power = |band: usize| (nm(band) / MIDDLE_NM).ln();
        Prior {
            k: over(|i, j| K_SHAPE_SD.powi(2) * matern(apart(i, j) / K_LENGTH_NM)),
            s: over(|i, j| {
                let slope = S_POWER_SD.powi(2) * power(i) * power(j);
                slope + S_SHAPE_SD.powi(2) * matern(apart(i, j) / S_LENGTH_NM)
            }),
            s_level: S_LEVEL,
        }
    })
}

/// Of a pigment with one load alone: scattering about alike in all bands.
pub(super) fn flat() -> &'static Prior {
    static IT: OnceLock<Prior> = OnceLock::new();
    IT.get_or_init(|| Prior {
        k: usual().k,
        s: over(|_, _| S_LEVEL_SD.powi(2)),
        s_level: S_LEVEL,
    })
}

/// How many levels of scattering are thought of where one trial alone can't tell it.
pub(super) const LEVELS: usize = 7;
/// How far they are apart, in standard deviations.
const LEVELS_APART: f64 = 0.8;

/// Where a level lies, in standard deviations.
fn away(level: usize) -> f64 {
    LEVELS_APART * (level as f64 - (LEVELS - 1) as f64 / 2.0)
}

/// Logarithm of how likely a level was thought to be, but for a constant.
pub(super) fn likely_level(level: usize) -> f64 {
    -away(level).powi(2) / 2.0
}

/// Of a pigment whose scattering has this level, 0 to `LEVELS` - 1.
pub(super) fn at_level(level: usize) -> &'static Prior {
    static IT: OnceLock<Vec<Prior>> = OnceLock::new();
    let all = IT.get_or_init(|| {
        (0..LEVELS)
            .map(|level| Prior {
                k: usual().k,
                s: shapes().s,
                s_level: S_LEVEL + S_LEVEL_SD * away(level),
            })
            .collect()
    });
    &all[level]
}

fn over(at: impl Fn(usize, usize) -> f64) -> Over {
    Over::from_fn(at)
}

fn apart(i: usize, j: usize) -> f64 {
    (nm(i) - nm(j)).abs()
}

/// Matérn's correlation of order 3/2.
fn matern(distance: f64) -> f64 {
    let scaled = 3.0_f64.sqrt() * distance;
    (1.0 + scaled) * (-scaled).exp()
}
