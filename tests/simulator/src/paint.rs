//! Paints and surfaces: reflectance from pigments, film and what lies below.
//!
//! A film of clear coating with pigment is a Kubelka–Munk layer over a substrate. Pigments have smooth absorption and
//! scattering spectra of the shapes that mineral pigments have (edges of iron oxides, the yellow–red window of
//! ultramarine, the double band of chromium oxide). They are made up: their values are from no data set.

use crate::random::{between, chance, pick, stream, weighted};
use crate::spectrum::Spectrum;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

/// A pigment's absorption and scattering, per unit of load × film.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pigment {
    name: &'static str,
    absorption: fn(f64) -> f64,
    scattering: fn(f64) -> f64,
}

/// A smooth step from 1 (short) to 0 (long wavelengths).
pub(crate) fn edge(nm: f64, at: f64, width: f64) -> f64 {
    1.0 / (1.0 + ((nm - at) / width).exp())
}

/// A bell.
pub(crate) fn bell(nm: f64, at: f64, width: f64) -> f64 {
    (-0.5 * ((nm - at) / width).powi(2)).exp()
}

/// The pigments, by Colour Index name.
pub(crate) const PIGMENTS: [Pigment; 14] = [
    Pigment {
        name: "PR101",
        absorption: |l| 9.0 * edge(l, 572.0, 9.0) + 0.9 * edge(l, 640.0, 25.0) + 0.12,
        scattering: |l| 1.2 + 0.5 * edge(l, 600.0, 40.0),
    },
    Pigment {
        name: "PR101b",
        absorption: |l| 7.5 * edge(l, 585.0, 12.0) + 2.0 * edge(l, 660.0, 30.0) + 0.5,
        scattering: |_| 1.4,
    },
    Pigment {
        name: "PY42",
        absorption: |l| {
            6.0 * edge(l, 492.0, 16.0)
                + 0.55 * edge(l, 570.0, 25.0)
                + 0.10
                + 0.12 * bell(l, 650.0, 40.0)
        },
        scattering: |_| 1.5,
    },
    Pigment {
        name: "PY43",
        absorption: |l| 3.0 * edge(l, 500.0, 22.0) + 0.6 * edge(l, 575.0, 35.0) + 0.25,
        scattering: |_| 1.0,
    },
    Pigment {
        name: "PBr7",
        absorption: |l| 4.0 * edge(l, 540.0, 40.0) + 1.6 * edge(l, 640.0, 60.0) + 0.9,
        scattering: |_| 1.1,
    },
    Pigment {
        name: "PBr7b",
        absorption: |l| 5.0 * edge(l, 565.0, 22.0) + 1.2 * edge(l, 650.0, 40.0) + 0.6,
        scattering: |_| 1.2,
    },
    Pigment {
        name: "PBr6",
        absorption: |l| 7.0 * edge(l, 580.0, 20.0) + 3.0 * edge(l, 660.0, 40.0) + 1.2,
        scattering: |_| 1.4,
    },
    Pigment {
        name: "PB29",
        absorption: |l| 6.0 * bell(l, 600.0, 48.0) + 0.9 * edge(l, 395.0, 15.0) + 0.25,
        scattering: |l| 0.5 + 0.3 * edge(l, 500.0, 40.0),
    },
    Pigment {
        name: "PG17",
        absorption: |l| {
            4.0 * bell(l, 460.0, 34.0)
                + 3.4 * bell(l, 605.0, 38.0)
                + 1.2 * edge(l, 400.0, 20.0)
                + 0.7
        },
        scattering: |_| 1.3,
    },
    Pigment {
        name: "PG18",
        absorption: |l| 4.5 * bell(l, 430.0, 30.0) + 5.0 * bell(l, 620.0, 50.0) + 0.35,
        scattering: |_| 0.6,
    },
    Pigment {
        name: "PB28",
        absorption: |l| 5.0 * bell(l, 595.0, 45.0) + 1.6 * bell(l, 545.0, 20.0) + 0.25,
        scattering: |_| 0.9,
    },
    Pigment {
        name: "PBk11",
        absorption: |l| 9.0 + 0.6 * edge(l, 500.0, 60.0),
        scattering: |_| 1.2,
    },
    Pigment {
        name: "PW6",
        absorption: |l| 0.010 + 1.5 * edge(l, 402.0, 6.0),
        scattering: |l| 9.0 * (550.0 / l).powf(0.6),
    },
    Pigment {
        name: "PW4",
        absorption: |l| 0.02 + 1.0 * edge(l, 390.0, 5.0),
        scattering: |_| 3.0,
    },
];

/// What is in a patch: pigments with loads in grams per 100 g, and the film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recipe {
    /// What people call it.
    pub name: Option<String>,
    /// Index among the pigments, load in grams per 100 g. None: a clear control.
    pub pigments: Vec<(usize, f64)>,
    /// Film, relative to the usual three coats.
    pub film: f64,
    /// Laid over an opaque inert white instead of the panel's substrate.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on_white: bool,
}

impl Recipe {
    /// Names and loads for the panel file; shades of one Colour Index name share it.
    #[must_use]
    pub fn named(&self) -> Vec<(&'static str, f64)> {
        self.pigments
            .iter()
            .map(|(i, load)| (PIGMENTS[*i % 14].name.trim_end_matches('b'), *load))
            .collect()
    }

    /// Draws a patch: full loads, letdowns with white, mixtures, pale tints, greys; one in twelve a clear control.
    pub(crate) fn draw(rng: &mut ChaCha8Rng) -> Self {
        let film = between(rng, 0.85, 1.15);
        let colour = |rng: &mut ChaCha8Rng| pick(rng, &[0, 0, 1, 2, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
        let pigments = match weighted(rng, &[0.34, 0.20, 0.14, 0.10, 0.05, 0.09, 0.08]) {
            0 => vec![(colour(rng), between(rng, 6.0, 16.0))],
            1 => vec![
                (colour(rng), between(rng, 1.0, 5.0)),
                (12, between(rng, 3.0, 12.0)),
            ],
            2 => vec![
                (colour(rng), between(rng, 2.0, 8.0)),
                (colour(rng), between(rng, 2.0, 8.0)),
            ],
            3 => vec![(colour(rng), between(rng, 0.3, 1.2))],
            4 => vec![(11, between(rng, 3.0, 9.0))],
            5 => vec![(11, between(rng, 0.1, 3.0)), (12, between(rng, 4.0, 12.0))],
            _ if chance(rng, 0.5) => vec![(pick(rng, &[12, 13]), between(rng, 4.0, 14.0))],
            _ => Vec::new(),
        };
        Self {
            name: None,
            pigments,
            film,
            on_white: false,
        }
    }

    /// Reflectance over a substrate, the film `film` times as thick as the recipe says; specular excluded, internal
    /// reflection by Saunderson's correction.
    #[must_use]
    pub fn over(&self, substrate: &Spectrum, film: f64) -> Spectrum {
        let thick = self.film * film;
        let sum = |nm: f64, which: fn(&Pigment) -> fn(f64) -> f64| -> f64 {
            self.pigments
                .iter()
                .map(|(i, load)| which(&PIGMENTS[*i % 14])(nm) * load / 10.0)
                .sum()
        };
        // The coating itself is slightly yellow and scatters a little.
        let k = Spectrum::from_nm(|nm| {
            (sum(nm, |it| it.absorption) + 0.02 + 0.12 * edge(nm, 430.0, 18.0)) * thick
        });
        let s = Spectrum::from_nm(|nm| (sum(nm, |it| it.scattering) + 0.03) * thick);
        let inner = substrate.map(inside);
        Spectrum(std::array::from_fn(|i| {
            outside(layer(k.0[i], s.0[i], inner.0[i]))
        }))
    }
}

/// Share of diffuse light reflected inside at the surface of a coating of index 1.5, and outside at normal incidence.
const INNER: f64 = 0.596;
const OUTER: f64 = 0.04;

/// From measured (specular excluded) to internal reflectance (Saunderson 1942).
pub(crate) fn inside(measured: f64) -> f64 {
    measured / ((1.0 - OUTER) * (1.0 - INNER) + INNER * measured)
}

/// From internal to measured reflectance, specular excluded.
fn outside(internal: f64) -> f64 {
    (1.0 - OUTER) * (1.0 - INNER) * internal / (1.0 - INNER * internal)
}

/// Kubelka–Munk reflectance of a layer with absorption `k` and scattering `s` (both times thickness) over `ground`.
#[must_use]
pub fn layer(k: f64, s: f64, ground: f64) -> f64 {
    let a = 1.0 + k / s;
    let b = (a * a - 1.0).sqrt();
    let c = b / (b * s).tanh();
    (1.0 - ground * (a - c)) / (a - ground + c)
}

/// What the patches are on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Substrate {
    /// Planed larch: reddish yellow, marked grain.
    Larch,
    /// Pale wood.
    PaleWood,
    /// Dark stained wood.
    StainedWood,
    /// White board.
    WhiteBoard,
    /// Grey board.
    GreyBoard,
    /// Black board.
    BlackBoard,
}

impl Substrate {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Larch,
        Self::PaleWood,
        Self::StainedWood,
        Self::WhiteBoard,
        Self::GreyBoard,
        Self::BlackBoard,
    ];

    /// As a person would write it in the panel file.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Larch => "planed larch",
            Self::PaleWood => "pale wood",
            Self::StainedWood => "dark stained wood",
            Self::WhiteBoard => "white board",
            Self::GreyBoard => "grey board",
            Self::BlackBoard => "black board",
        }
    }

    /// Mean reflectance and what the grain takes from it at full strength (a reflectance difference).
    #[must_use]
    pub fn surface(self) -> (Spectrum, Spectrum) {
        let wood = |low: f64, high: f64, at: f64, width: f64| {
            Spectrum::from_nm(move |nm| low + (high - low) * (1.0 - edge(nm, at, width)))
        };
        match self {
            Self::Larch => grained(
                &wood(0.13, 0.60, 545.0, 58.0),
                &wood(0.07, 0.42, 575.0, 52.0),
            ),
            Self::PaleWood => grained(
                &wood(0.28, 0.72, 490.0, 62.0),
                &wood(0.24, 0.66, 500.0, 60.0),
            ),
            Self::StainedWood => grained(
                &wood(0.030, 0.16, 610.0, 55.0),
                &wood(0.022, 0.11, 620.0, 55.0),
            ),
            Self::WhiteBoard => grained(
                &wood(0.60, 0.88, 405.0, 14.0),
                &wood(0.59, 0.87, 405.0, 14.0),
            ),
            Self::GreyBoard => grained(
                &wood(0.30, 0.36, 450.0, 60.0),
                &wood(0.29, 0.35, 450.0, 60.0),
            ),
            Self::BlackBoard => grained(
                &wood(0.040, 0.045, 500.0, 80.0),
                &wood(0.038, 0.043, 500.0, 80.0),
            ),
        }
    }
}

/// Mean and half difference of early and late wood.
fn grained(early: &Spectrum, late: &Spectrum) -> (Spectrum, Spectrum) {
    (early.lerp(late, 0.5), late.zip(early, |l, e| 0.5 * (l - e)))
}

/// Forty everyday surfaces for makers to fit their matrices on: smooth spectra, none of them a paint of any scene.
pub(crate) fn training() -> Vec<Spectrum> {
    let mut rng = stream(0x0074_7261_696e, 1);
    let mut one = || {
        let level = between(&mut rng, 0.05, 0.75);
        any_surface(&mut rng, level, 0.9)
    };
    (0..40).map(|_| one()).collect()
}

/// A plain surface for tables, papers and cloth: a random smooth reflectance of a given lightness (0–1) and colourfulness.
pub(crate) fn any_surface(rng: &mut ChaCha8Rng, level: f64, colour: f64) -> Spectrum {
    let bells: Vec<(f64, f64, f64)> = (0..3)
        .map(|_| {
            (
                between(rng, 400.0, 700.0),
                between(rng, 35.0, 90.0),
                between(rng, -colour, colour),
            )
        })
        .collect();
    Spectrum::from_nm(|nm| {
        let tilt: f64 = bells
            .iter()
            .map(|(at, width, amount)| amount * bell(nm, *at, *width))
            .sum();
        (level * (1.0 + tilt)).clamp(0.02, 0.92)
    })
}
