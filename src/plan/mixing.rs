//! The arithmetic of loads. A load is grams of pigment per 100 g of mixed coating: all parts, before pigment.
//!
//! It follows from that definition and from mass being conserved; `tests/plan.rs` has cases worked by hand.

use super::material::{PigmentName, Recipe};
use std::collections::BTreeMap;

/// Mixed coating in `wet_g` grams of tinted coating at a total load.
#[must_use]
pub fn coating_in(wet_g: f64, total_load: f64) -> f64 {
    wet_g / (1.0 + total_load / 100.0)
}

/// Tinted coating that `coating_g` grams of mixed coating become at a total load.
#[must_use]
pub fn wet_of(coating_g: f64, total_load: f64) -> f64 {
    coating_g * (1.0 + total_load / 100.0)
}

/// Pigment for a load in `coating_g` grams of mixed coating.
#[must_use]
pub fn pigment_for(coating_g: f64, load: f64) -> f64 {
    coating_g * load / 100.0
}

/// What is in a cup: masses in grams.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Content {
    /// Mixed coating.
    pub coating_g: f64,
    /// Pigments.
    pub pigments_g: BTreeMap<PigmentName, f64>,
}

impl Content {
    /// A recipe in this much mixed coating.
    #[must_use]
    pub fn of(recipe: &Recipe, coating_g: f64) -> Self {
        let pigments = recipe.loads.iter();
        let pigments = pigments.map(|it| (it.pigment.clone(), pigment_for(coating_g, it.load)));
        Self {
            coating_g,
            pigments_g: pigments.collect(),
        }
    }

    /// Everything in it, g.
    #[must_use]
    pub fn wet_g(&self) -> f64 {
        self.coating_g + self.pigments_g.values().sum::<f64>()
    }

    /// The load of a pigment; 0 without coating.
    #[must_use]
    pub fn load(&self, pigment: &PigmentName) -> f64 {
        let grams = self.pigments_g.get(pigment).copied().unwrap_or(0.0);
        if self.coating_g > 0.0 {
            100.0 * grams / self.coating_g
        } else {
            0.0
        }
    }

    /// Adds dry pigment.
    pub fn add_pigment(&mut self, pigment: &PigmentName, grams: f64) {
        *self.pigments_g.entry(pigment.clone()).or_default() += grams;
    }

    /// Adds `grams` of what another cup holds, stirred well.
    pub fn pour(&mut self, from: &Self, grams: f64) {
        let whole = from.wet_g();
        if whole <= 0.0 {
            return;
        }
        self.coating_g += grams * from.coating_g / whole;
        for (pigment, there) in &from.pigments_g {
            self.add_pigment(pigment, grams * there / whole);
        }
    }
}
