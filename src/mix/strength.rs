//! How strongly a pigment tints beside another.

use super::bands;
use super::error::PredictError;
use super::identify;
use super::model::{Known, Model, Pigment};
use super::prior::nm;
use std::ops::RangeInclusive;

/// Strength relative to a reference pigment: above 1 where less of it is needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// Absorption of a gram by that of a gram of the reference, where the reference absorbs most.
    pub at_maximum: f64,
    /// Where that is, nm.
    pub nm: f64,
    /// The same, summed over all bands as the eye weighs them.
    pub over_all: f64,
    /// Both pigments' absorption is known; otherwise a guess is in it.
    pub known: bool,
}

/// Bands that a colour tells something of: 420–680 nm.
const VISIBLE: RangeInclusive<usize> = 4..=30;

impl Model {
    /// Tinting strength of a pigment relative to another.
    ///
    /// Beside much white, which does the scattering, K/S rises with each gram by that gram's absorption: so the ratio of what a load adds
    /// to K/S is that of the absorptions.
    ///
    /// # Errors
    /// [`PredictError::Pigment`] for one that is not in the model.
    ///
    /// # Source
    /// The notion of ISO 787-24 and ISO 18314-2 (at the maximum of absorption, and weighted by the sum of the colour matching functions
    /// under the light), from memory.
    pub fn tinting_strength(
        &self,
        pigment: &str,
        reference: &str,
    ) -> Result<Strength, PredictError> {
        let (own, other) = (self.one(pigment)?, self.one(reference)?);
        let (k, beside) = (&own.optics.k, &other.optics.k);
        let darker = |a: usize, b: usize| if beside[b] > beside[a] { b } else { a };
        let most = VISIBLE.fold(*VISIBLE.start(), darker);
        let sum = |k: &bands::Spectrum| -> f64 {
            let weighted = bands::weights().iter().zip(k);
            weighted.map(|(weight, k)| weight.sum() * k).sum()
        };
        Ok(Strength {
            at_maximum: k[most] / beside[most],
            nm: nm(most),
            over_all: sum(k) / sum(beside),
            known: self.absorption_known(own) && self.absorption_known(other),
        })
    }

    fn absorption_known(&self, it: &Pigment) -> bool {
        let mut groups = self.evidence.groups.iter();
        let told = groups.find_map(|group| {
            let slot = group.pigments.iter().position(|id| *id == it.id)?;
            Some(identify::absorption(group, slot))
        });
        // A model of known materials has no groups.
        it.known == Known::Both && told.unwrap_or(true)
    }
}
