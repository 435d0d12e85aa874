//! What a coating, its pigments and its grounds do to light, as the trials have it.

use super::bands::{self, BANDS, Spectrum};
use super::directed;
use super::evidence::Evidence;
use super::surface::COATING;
use super::trial::Load;
use crate::colour::{Lab, Matrix};

/// Absorption and scattering of a material by amount, square metres per gram, each ≥ 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Optics {
    /// Absorption, band by band.
    pub k: Spectrum,
    /// Scattering, band by band.
    pub s: Spectrum,
}

/// What the trials determine of a pigment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Absorption and scattering each: a load that doesn't hide, or two grounds.
    Both,
    /// Their ratio only: all trials hide the ground. How much of it hides is a guess.
    Ratio,
    /// One load alone: scattering is taken as pigments usually have it, and about alike in all bands.
    Single,
}

/// A pigment in this coating.
#[derive(Clone, Debug, PartialEq)]
pub struct Pigment {
    /// Its id.
    pub id: String,
    /// By gram of pigment and square metre.
    pub optics: Optics,
    /// What the trials determine.
    pub known: Known,
    /// Loads that were measured, ascending, grams per 100 g of mixed coating.
    pub loads: Vec<f64>,
}

/// What lies below, as light within the coating meets it: wetted, as the control shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// Its name.
    pub name: String,
    /// Internal reflectance, band by band, 0–1.
    pub reflectance: Spectrum,
}

/// One coating with its pigments and grounds.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// The coating itself, by gram of mixed coating and square metre.
    pub coating: Optics,
    /// By id.
    pub pigments: Vec<Pigment>,
    /// By name.
    pub grounds: Vec<Ground>,
    /// What it was fitted to, and how sure the trials leave one of it.
    pub(super) evidence: Evidence,
}

/// What is laid: loads, amount, ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Coat {
    /// Its pigments; empty for the clear coating.
    pub pigments: Vec<Load>,
    /// Wet coating, grams per square metre, all coats together, pigment included, > 0.
    pub g_per_m2: f64,
    /// What it lies on, by name.
    pub ground: String,
}

impl Model {
    /// A model of materials that are known, without trials: predictions have no uncertainty of their own.
    #[must_use]
    pub fn of_optics(
        coating: Optics,
        mut pigments: Vec<Pigment>,
        mut grounds: Vec<Ground>,
    ) -> Self {
        pigments.sort_by(|a, b| a.id.cmp(&b.id));
        grounds.sort_by(|a, b| a.name.cmp(&b.name));
        Self {
            coating,
            pigments,
            grounds,
            evidence: Evidence::default(),
        }
    }

    /// The colour of a coat, without gloss; none where a pigment or the ground is not in the model.
    #[must_use]
    pub fn colour(&self, coat: &Coat) -> Option<Lab> {
        Some(bands::to_lab(&self.reflectance(coat)?))
    }

    /// Reflectance factors of a coat as seen, without gloss, band by band; none where a pigment or the ground is not in the model.
    #[must_use]
    pub fn reflectance(&self, coat: &Coat) -> Option<Spectrum> {
        let ground = self.ground(&coat.ground)?;
        let total: f64 = coat.pigments.iter().map(|it| it.load).sum();
        // Grams of mixed coating on a square metre; a load is by 100 g of it.
        let mixed = coat.g_per_m2 / (1.0 + total / 100.0);
        let mut kx = self.coating.k.map(|it| it * mixed);
        let mut sx = self.coating.s.map(|it| it * mixed);
        for it in &coat.pigments {
            let optics = &self.pigment(&it.pigment)?.optics;
            let amount = mixed * it.load / 100.0;
            for band in 0..BANDS {
                kx[band] += amount * optics.k[band];
                sx[band] += amount * optics.s[band];
            }
        }
        Some(std::array::from_fn(|band| {
            COATING.seen(directed::reflectance(
                kx[band],
                sx[band],
                ground.reflectance[band],
            ))
        }))
    }

    /// The pigment of this id.
    #[must_use]
    pub fn pigment(&self, id: &str) -> Option<&Pigment> {
        self.pigments.iter().find(|it| it.id == id)
    }

    /// The ground of this name.
    #[must_use]
    pub fn ground(&self, name: &str) -> Option<&Ground> {
        self.grounds.iter().find(|it| it.name == name)
    }
}

/// How far what is predicted lies from what was measured.
#[derive(Clone, Debug, PartialEq)]
pub enum Reach {
    /// This very coat was measured.
    Measured,
    /// Between measured loads of the same pigments, and mixtures of them.
    Between,
    /// Beyond them, in words: `PR101 at 14 is above the highest load measured, 12`.
    Beyond(Vec<String>),
}

/// A colour that was not measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// CIELAB D50/2°, without gloss.
    pub lab: Lab,
    /// Covariance: the trials' own, what they leave open of the model, and what the model leaves of colours that it was not shown.
    pub covariance: Matrix,
    /// ΔE00(prediction, truth) ≤ this in 95 % of cases.
    pub u95: f64,
    /// How far from data.
    pub reach: Reach,
    /// Distance from the nearest trial with the same pigments and ground: the largest difference of a load or of the amount, as a share of the
    /// nearest trial's; infinite where no trial has these pigments.
    pub distance: f64,
    /// Mean ΔE00 of the trials of these pigments, each predicted from the others; none where none can be left out.
    pub left_out: Option<f64>,
    /// What a reader must know, as full sentences: what the trials don't determine, what was guessed.
    pub notes: Vec<String>,
}
