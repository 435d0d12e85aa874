//! Pigments that are drawn: what a gram of them absorbs and scatters on a square metre.
//!
//! Made up, of the shapes and sizes that pigments of a kind have: edges of iron oxides, ultramarine's band, the two bands of chromium
//! oxide. None is from a data set. [`Split`] halves every range: no pigment of one family has a place or a width of the other.

use crate::light::Split;
use crate::paint::{bell, edge};
use crate::random::{between, normal, pick};
use crate::spectrum::Spectrum;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

/// Kinds of pigment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum PigmentKind {
    /// Iron oxide red to violet.
    RedOxide,
    /// Iron oxide yellow and yellow earths.
    Ochre,
    /// Raw and burnt umber, brown oxide.
    Umber,
    /// Ultramarine.
    Ultramarine,
    /// Chromium oxide green and its hydrate.
    ChromeOxide,
    /// Iron oxide black, bone black, lamp black.
    Black,
    /// Titanium white.
    White,
    /// Chalk, baryte, zinc white: hardly hiding.
    ThinWhite,
    /// Red or yellow iron oxide ground so finely that it hardly scatters.
    Transparent,
}

impl PigmentKind {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::RedOxide,
        Self::Ochre,
        Self::Umber,
        Self::Ultramarine,
        Self::ChromeOxide,
        Self::Black,
        Self::White,
        Self::ThinWhite,
        Self::Transparent,
    ];
}

/// A pigment.
#[derive(Clone, Debug)]
pub struct FilmPigment {
    /// Its kind.
    pub kind: PigmentKind,
    /// Highest load, grams per 100 g of mixed coating.
    pub limit: f64,
    /// Square metres per gram.
    pub(crate) absorption: Spectrum,
    /// Square metres per gram, all directions together.
    pub(crate) scattering: Spectrum,
    /// Asymmetry of its scattering, 0.3–0.8.
    pub(crate) asymmetry: f64,
    /// Share of its scattering that a gram of any pigment in 100 g takes away: neighbours shade each other.
    pub(crate) crowding: f64,
}

/// Draws from a range cut into eight cells, of which each family has every other one.
pub(crate) struct Family<'a> {
    pub(crate) split: Split,
    pub(crate) rng: &'a mut ChaCha8Rng,
}

impl Family<'_> {
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        let first = match self.split {
            Split::Study => 0.0,
            Split::Test => 1.0,
        };
        let cell = pick(self.rng, &[0.0, 2.0, 4.0, 6.0]) + first;
        low + (high - low) * (cell + between(self.rng, 0.0, 1.0)) / 8.0
    }

    /// A strength about its usual one, which is that of pigment stirred in by hand: about half of what a mill makes of it. Makes differ by
    /// a factor of 1.6, more for single ones.
    fn strength(&mut self, usual: f64) -> f64 {
        usual * normal(self.rng, 0.5).clamp(-1.2, 1.2).exp()
    }
}

/// A shape of absorption, highest value about 1; scattering at 550 nm, its exponent; highest load.
struct Drawn {
    absorption: Spectrum,
    strength: f64,
    scattering: f64,
    exponent: [f64; 2],
    limit: [f64; 2],
    crowding: f64,
}

impl FilmPigment {
    /// One of a kind.
    pub(crate) fn draw(kind: PigmentKind, family: &mut Family<'_>) -> Self {
        let it = match kind {
            PigmentKind::RedOxide => red_oxide(family),
            PigmentKind::Ochre => ochre(family),
            PigmentKind::Umber => umber(family),
            PigmentKind::Ultramarine => ultramarine(family),
            PigmentKind::ChromeOxide => chrome_oxide(family),
            PigmentKind::Black => black(family),
            PigmentKind::White => white(family, 0.9, 0.012),
            PigmentKind::ThinWhite => white(family, 0.05, 0.004),
            PigmentKind::Transparent => transparent(family),
        };
        let exponent = family.between(it.exponent[0], it.exponent[1]);
        let (absorbs, scatters) = (family.strength(it.strength), family.strength(it.scattering));
        Self {
            kind,
            limit: family.between(it.limit[0], it.limit[1]).round(),
            absorption: it.absorption.map(|value| value * absorbs),
            scattering: Spectrum::from_nm(|nm| scatters * (550.0 / nm).powf(exponent)),
            asymmetry: family.between(0.3, 0.8),
            crowding: it.crowding * family.between(0.4, 1.0),
        }
    }
}

fn red_oxide(family: &mut Family<'_>) -> Drawn {
    let (at, width) = (family.between(560.0, 592.0), family.between(8.0, 15.0));
    let (tail, tail_at) = (family.between(0.05, 0.22), family.between(620.0, 670.0));
    let floor = family.between(0.008, 0.05);
    let dip = family.between(0.0, 0.2);
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            edge(nm, at, width) * (1.0 - dip * bell(nm, 440.0, 40.0))
                + tail * edge(nm, tail_at, 25.0)
                + floor
        }),
        strength: 0.2,
        scattering: 0.4,
        exponent: [0.0, 1.0],
        limit: [8.0, 18.0],
        crowding: 0.004,
    }
}

fn ochre(family: &mut Family<'_>) -> Drawn {
    let (at, width) = (family.between(485.0, 520.0), family.between(12.0, 24.0));
    let (tail, tail_at) = (family.between(0.06, 0.2), family.between(560.0, 590.0));
    let (band, floor) = (family.between(0.0, 0.05), family.between(0.01, 0.08));
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            edge(nm, at, width)
                + tail * edge(nm, tail_at, 28.0)
                + band * bell(nm, 650.0, 35.0)
                + floor
        }),
        strength: 0.09,
        scattering: 0.25,
        exponent: [0.2, 1.4],
        limit: [12.0, 30.0],
        crowding: 0.004,
    }
}

fn umber(family: &mut Family<'_>) -> Drawn {
    let (fall, floor) = (family.between(70.0, 150.0), family.between(0.05, 0.25));
    let (at, step) = (family.between(540.0, 600.0), family.between(0.0, 0.5));
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            0.6 * ((400.0 - nm) / fall).exp() + step * edge(nm, at, 25.0) + floor
        }),
        strength: 0.13,
        scattering: 0.2,
        exponent: [0.2, 1.5],
        limit: [10.0, 30.0],
        crowding: 0.004,
    }
}

fn ultramarine(family: &mut Family<'_>) -> Drawn {
    let (at, width) = (family.between(580.0, 612.0), family.between(36.0, 52.0));
    let (side, violet) = (family.between(0.1, 0.35), family.between(0.05, 0.25));
    let floor = family.between(0.01, 0.05);
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            bell(nm, at, width)
                + side * bell(nm, at - 50.0, 22.0)
                + violet * edge(nm, 398.0, 12.0)
                + floor
        }),
        strength: 0.15,
        scattering: 0.04,
        exponent: [0.3, 2.0],
        limit: [8.0, 24.0],
        crowding: 0.002,
    }
}

fn chrome_oxide(family: &mut Family<'_>) -> Drawn {
    let (blue, red) = (family.between(425.0, 465.0), family.between(592.0, 625.0));
    let (narrow, wide) = (family.between(28.0, 40.0), family.between(34.0, 52.0));
    let (share, floor) = (family.between(0.7, 1.1), family.between(0.03, 0.16));
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            share * bell(nm, blue, narrow)
                + bell(nm, red, wide)
                + 0.3 * edge(nm, 400.0, 18.0)
                + floor
        }),
        strength: 0.1,
        scattering: 0.25,
        exponent: [0.0, 1.0],
        limit: [10.0, 26.0],
        crowding: 0.003,
    }
}

fn black(family: &mut Family<'_>) -> Drawn {
    let (tilt, bend) = (family.between(-0.15, 0.35), family.between(-0.1, 0.1));
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            let x = (nm - 550.0) / 170.0;
            1.0 - tilt * x + bend * x * x
        }),
        strength: 0.7,
        scattering: 0.12,
        exponent: [0.2, 1.5],
        limit: [5.0, 12.0],
        crowding: 0.003,
    }
}

fn white(family: &mut Family<'_>, scattering: f64, crowding: f64) -> Drawn {
    let (at, width) = (family.between(385.0, 408.0), family.between(4.0, 9.0));
    let floor = family.between(0.0005, 0.004);
    Drawn {
        absorption: Spectrum::from_nm(|nm| edge(nm, at, width) + floor),
        strength: 0.3 * f64::min(scattering, 1.0),
        scattering,
        exponent: [0.2, 1.0],
        limit: [20.0, 40.0],
        crowding,
    }
}

fn transparent(family: &mut Family<'_>) -> Drawn {
    let (at, width) = (family.between(500.0, 585.0), family.between(14.0, 24.0));
    let (tail, floor) = (family.between(0.04, 0.2), family.between(0.003, 0.02));
    Drawn {
        absorption: Spectrum::from_nm(|nm| {
            edge(nm, at, width) + tail * edge(nm, at + 65.0, 30.0) + floor
        }),
        strength: 0.2,
        scattering: 0.02,
        exponent: [1.0, 2.0],
        limit: [5.0, 15.0],
        crowding: 0.002,
    }
}
