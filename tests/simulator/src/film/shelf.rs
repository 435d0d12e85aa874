//! A workshop's shelf of trials: pigments in one coating, laid by hand on boards, and measured from photos.

use super::pigments::{Family, FilmPigment, PigmentKind};
use super::{Scatterers, Viewing};
use crate::colorimetry::{Lab, lab_of, xyz_d50};
use crate::light::Split;
use crate::paint::{Substrate, edge, inside};
use crate::random::{between, normal, pick, stream};
use crate::spectrum::Spectrum;
use nalgebra::{Matrix3, Vector3};
use rand::seq::SliceRandom;

/// What is on a shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShelfPlan {
    /// Pigments.
    pub pigments: usize,
    /// Loads of each, the highest its limit.
    pub loads: usize,
    /// Grounds that everything is laid on, of [`FilmGround::ALL`], the wood first.
    pub grounds: usize,
}

/// What a film lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FilmGround {
    /// Larch, wetted by the coating.
    Larch,
    /// White, as contrast charts have it.
    White,
    /// Black.
    Black,
}

impl FilmGround {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Larch, Self::White, Self::Black];

    /// For people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Larch => "planed larch",
            Self::White => "white card",
            Self::Black => "black card",
        }
    }
}

/// What is to be laid.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// Index of a pigment, load in grams per 100 g of mixed coating (before pigment). None: the clear coating.
    pub pigments: Vec<(usize, f64)>,
    /// Wet coating, grams per square metre, pigment included.
    pub g_per_m2: f64,
    /// What it lies on.
    pub ground: FilmGround,
}

/// A film that was laid and measured.
#[derive(Clone, Debug)]
pub struct FilmPatch {
    /// As it was meant.
    pub film: Film,
    /// Colour of the film as it was meant: what a prediction is about.
    pub meant: Lab,
    /// Colour of the film as it was laid: what was measured.
    pub laid: Lab,
    /// As measured.
    pub measured: Lab,
    /// Covariance of the measuring.
    pub covariance: [[f64; 3]; 3],
    /// The part of it that all patches of a board have in common.
    pub common: [[f64; 3]; 3],
}

/// Pigments in one coating, and how they are laid, seen and measured.
#[derive(Clone, Debug)]
pub struct Shelf {
    /// Its draws.
    pub seed: u64,
    /// The pigments.
    pub pigments: Vec<FilmPigment>,
    /// What is usually laid, grams per square metre.
    pub g_per_m2: f64,
    plan: ShelfPlan,
    viewing: Viewing,
    coating: FilmPigment,
    larch: Spectrum,
    hand: f64,
    own: f64,
}

/// How far a board's photo is off in all colours alike, as a change of the coordinates' cube roots: 1 in L*, a* and b* is what a light
/// grey has. The light's colour is the least certain, between blue and yellow.
const COMMON: [f64; 3] = [0.45, 0.4, 1.0];
/// Pigments on a board.
const ON_A_BOARD: usize = 3;

impl Shelf {
    /// Draws a shelf. The same arguments always give the same one; with fewer loads or grounds its pigments stay.
    #[must_use]
    pub fn draw(split: Split, seed: u64, plan: ShelfPlan) -> Self {
        let mut rng = stream(seed, 31);
        let mut kinds = Vec::new();
        while kinds.len() < plan.pigments {
            let mut all = PigmentKind::ALL;
            all.shuffle(&mut rng);
            kinds.extend(all);
        }
        let rng = &mut stream(seed, 32);
        let mut family = Family { split, rng };
        let pigments = kinds[..plan.pigments]
            .iter()
            .map(|kind| FilmPigment::draw(*kind, &mut family))
            .collect();
        let rng = &mut stream(seed, 33);
        let mut family = Family { split, rng };
        let yellow = family.between(0.000_3, 0.001_2);
        let haze = family.between(0.000_02, 0.000_3);
        let coating = FilmPigment {
            kind: PigmentKind::Transparent,
            limit: 100.0,
            absorption: Spectrum::from_nm(|nm| yellow * ((400.0 - nm) / 38.0).exp() + 0.000_01),
            scattering: Spectrum::from_nm(|nm| haze * 550.0 / nm),
            asymmetry: 0.7,
            crowding: 0.0,
        };
        let viewing = Viewing::new(family.between(1.45, 1.55), family.between(0.0, 1.0));
        let (level, tilt) = (family.between(0.72, 0.95), family.between(-0.08, 0.08));
        let dry = Substrate::Larch.surface().0.map(inside);
        Self {
            seed,
            pigments,
            g_per_m2: pick(family.rng, &[150.0, 180.0, 210.0, 240.0, 270.0, 300.0]),
            plan,
            viewing,
            coating,
            larch: dry.zip(&Spectrum::from_nm(|nm| (nm - 550.0) / 170.0), |r, x| {
                level * r.powf(1.15) * (1.0 + tilt * x)
            }),
            hand: between(family.rng, 0.03, 0.05),
            own: between(family.rng, 0.3, 0.5),
        }
    }

    /// The loads of a pigment's trials, rising to its limit: about half each time, with a wider step to the palest.
    #[must_use]
    pub fn loads(&self, pigment: usize) -> Vec<f64> {
        const SHARES: [f64; 5] = [1.0, 0.5, 0.22, 0.1, 0.04];
        let limit = self.pigments[pigment].limit;
        let used = &SHARES[..self.plan.loads.clamp(1, SHARES.len())];
        let rounded = |it: f64| (it * 100.0).round() / 100.0;
        used.iter().rev().map(|it| rounded(it * limit)).collect()
    }

    /// Every trial of one pigment and the controls: board by board, three pigments and a control each, on each ground.
    #[must_use]
    pub fn patches(&self) -> Vec<FilmPatch> {
        let all: Vec<usize> = (0..self.pigments.len()).collect();
        let boards = all.chunks(ON_A_BOARD).enumerate();
        boards
            .flat_map(|(board, pigments)| {
                let films: Vec<Film> = FilmGround::ALL[..self.plan.grounds.clamp(1, 3)]
                    .iter()
                    .flat_map(|ground| {
                        let single = pigments
                            .iter()
                            .flat_map(|i| self.loads(*i).into_iter().map(|load| vec![(*i, load)]));
                        std::iter::once(Vec::new())
                            .chain(single)
                            .map(|pigments| self.film(pigments, *ground))
                    })
                    .collect();
                self.board(board, &films)
            })
            .collect()
    }

    /// What is usually laid of a mixture.
    #[must_use]
    pub fn film(&self, pigments: Vec<(usize, f64)>, ground: FilmGround) -> Film {
        Film {
            pigments,
            g_per_m2: self.g_per_m2,
            ground,
        }
    }

    /// Lays films on one board, by hand, and measures them from one photo. A board's number decides its draws.
    #[must_use]
    pub fn board(&self, number: usize, films: &[Film]) -> Vec<FilmPatch> {
        let mut rng = stream(
            self.seed,
            1000 + u64::try_from(number).unwrap_or(u64::MAX - 1000),
        );
        let off = Vector3::from(COMMON.map(|sd| normal(&mut rng, sd)));
        films
            .iter()
            .map(|film| {
                let mut laid = film.clone();
                laid.g_per_m2 *= 1.0 + normal(&mut rng, self.hand).clamp(-0.15, 0.15);
                let (meant, laid) = (self.lab(film), self.lab(&laid));
                // A gain of the light changes cube roots by their own size.
                let size = (laid[0] + 16.0) / 66.0;
                let own = Vector3::from_fn(|_, _| normal(&mut rng, self.own));
                let measured = Vector3::from(laid) + off * size + own;
                let common = Matrix3::from_diagonal(&Vector3::from(COMMON.map(|sd| sd * sd)));
                let common = common * size.powi(2);
                let covariance = Matrix3::identity() * self.own.powi(2) + common;
                FilmPatch {
                    film: film.clone(),
                    meant,
                    laid,
                    measured: measured.into(),
                    covariance: covariance.into(),
                    common: common.into(),
                }
            })
            .collect()
    }

    /// Reflectance of a film as it is meant, without gloss.
    #[must_use]
    pub fn reflectance(&self, film: &Film) -> Spectrum {
        let ground = match film.ground {
            FilmGround::Larch => self.larch,
            FilmGround::White => Spectrum::from_nm(|nm| 0.90 - 0.25 * edge(nm, 405.0, 12.0)),
            FilmGround::Black => Spectrum::flat(0.05),
        };
        self.over(film, &ground)
    }

    /// CIELAB D50/2° of a film as it is meant.
    #[must_use]
    pub fn lab(&self, film: &Film) -> Lab {
        lab_of(&self.reflectance(film))
    }

    /// How much of the ground a film hides: Y over black, 0, by Y over white, 0.8; every 20 nm.
    #[must_use]
    pub fn contrast_ratio(&self, film: &Film) -> f64 {
        let sight = self.sight(film);
        let luminance = |ground: f64| {
            let looked_at = Spectrum(std::array::from_fn(|band| {
                if band % 4 == 0 {
                    sight.reflectance(band, ground)
                } else {
                    0.0
                }
            }));
            xyz_d50(&looked_at).y
        };
        luminance(0.0) / luminance(0.8)
    }

    fn over(&self, film: &Film, ground: &Spectrum) -> Spectrum {
        let sight = self.sight(film);
        Spectrum(std::array::from_fn(|band| {
            sight.reflectance(band, ground.0[band])
        }))
    }

    fn sight(&self, film: &Film) -> Sight<'_> {
        let total: f64 = film.pigments.iter().map(|it| it.1).sum();
        let mixed = film.g_per_m2 / (1.0 + total / 100.0);
        let tinting = film.pigments.iter();
        let tinting = tinting.map(|(i, load)| (&self.pigments[*i], mixed * load / 100.0));
        Sight {
            viewing: &self.viewing,
            parts: std::iter::once((&self.coating, mixed))
                .chain(tinting)
                .collect(),
            load: total,
        }
    }
}

/// A film as light meets it.
struct Sight<'a> {
    viewing: &'a Viewing,
    /// Grams on a square metre.
    parts: Vec<(&'a FilmPigment, f64)>,
    load: f64,
}

impl Sight<'_> {
    fn reflectance(&self, band: usize, ground: f64) -> f64 {
        let mut scatters = Scatterers::default();
        let mut absorbs = 0.0;
        for (pigment, amount) in &self.parts {
            absorbs += amount * pigment.absorption.0[band];
            let left = 1.0 / (1.0 + pigment.crowding * self.load);
            scatters.add(
                amount * pigment.scattering.0[band] * left,
                pigment.asymmetry,
            );
        }
        self.viewing.reflectance(absorbs, &scatters, ground)
    }
}
