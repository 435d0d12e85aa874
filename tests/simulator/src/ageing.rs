//! What light and heat have done to a coat, and how it grows with the dose.

use serde::{Deserialize, Serialize};

/// What has happened to one half of a patch since it was laid. All zero: nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Wear {
    /// Loss of pigment, 0–1.1: 1 takes 85 % of the most sensitive pigment's load, a quarter of the least sensitive's.
    pub fading: f64,
    /// Share of the light at 400 nm that the yellowed coating takes, 0–0.9; less towards green.
    pub yellowing: f64,
    /// Light of all wavelengths that a bleached or chalked surface sends back in addition, as a share; negative: it has darkened.
    pub lightening: f64,
    /// How far the substrate below has weathered, 0–1 (1: grey).
    pub ground: f64,
}

impl Wear {
    /// This share of it.
    #[must_use]
    pub fn scaled(self, share: f64) -> Self {
        Self {
            fading: self.fading * share,
            yellowing: self.yellowing * share,
            lightening: self.lightening * share,
            ground: self.ground * share,
        }
    }

    /// Both.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            fading: self.fading + other.fading,
            yellowing: self.yellowing + other.yellowing,
            lightening: self.lightening + other.lightening,
            ground: self.ground + other.ground,
        }
    }

    /// Whether it lies within what the coats' physics bears.
    #[must_use]
    pub fn is_possible(self) -> bool {
        (0.0..=1.1).contains(&self.fading)
            && (0.0..=0.9).contains(&self.yellowing)
            && (-0.75..=0.8).contains(&self.lightening)
            && (0.0..=1.0).contains(&self.ground)
    }
}

/// What has happened to a whole board.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Ageing {
    /// Masked and exposed half of every patch that is not empty, in panel order.
    pub patches: Vec<[Wear; 2]>,
    /// How far the bare board has weathered where the mask lies and where not, as `SceneSpec::exposure` counts it.
    pub substrate: [f64; 2],
}

/// How wear grows with the dose.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Course {
    /// Not at all.
    None,
    /// In proportion.
    Linear,
    /// First order to a plateau, this rate at the last dose.
    Plateau {
        /// Rate times last dose.
        rate: f64,
    },
    /// A power of the dose, such as the square root of what has to diffuse.
    Power {
        /// Exponent, below 1.
        exponent: f64,
    },
    /// Little until a stabiliser is used up, then in proportion.
    SlowStart {
        /// When it is used up, as a share of the last dose.
        start: f64,
    },
}

/// Width of the bend where a slow start ends, as a share of the last dose.
const BEND: f64 = 0.08;

impl Course {
    /// Wear at a dose as a share of that at the last: the dose likewise as a share of the last, ≥ 0, also beyond 1.
    #[must_use]
    pub fn share(self, dose: f64) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Linear => dose,
            Self::Plateau { rate } => (-rate * dose).exp_m1() / (-rate).exp_m1(),
            Self::Power { exponent } => dose.powf(exponent),
            Self::SlowStart { start } => {
                let bent = |dose: f64| BEND * ((dose - start) / BEND).exp().ln_1p();
                (bent(dose) - bent(0.0)) / (bent(1.0) - bent(0.0))
            }
        }
    }
}
