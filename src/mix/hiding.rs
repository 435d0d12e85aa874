//! How much of a pigment hides what lies below.

use super::bands::{self, BANDS};
use super::directed;
use super::error::{PredictError, by_nearness};
use super::fit::amounts;
use super::model::{Known, Model, Pigment};
use super::surface::COATING;
use super::trial::Load;

/// What hides, by convention: luminance over black is 98 % of that over white.
///
/// # Source
/// The notion of ASTM D2805, ISO 6504-3 and ISO 18314-2, from memory.
pub const HIDES: f64 = 0.98;
/// Reflectance of the two grounds, as light within the coating meets them.
const GROUNDS: [f64; 2] = [0.0, 0.8];
/// The highest load that is tried, grams per 100 g of mixed coating.
const MOST: f64 = 200.0;

/// The load that hides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hiding {
    /// Grams per 100 g of mixed coating.
    At {
        /// The lowest load that hides.
        load: f64,
        /// So much of it on a square metre was measured.
        measured: bool,
    },
    /// Not at any load that makes sense.
    Never,
    /// Its trials don't tell how much of it hides: [`Known`] is not `Both`.
    Unknown,
}

impl Model {
    /// Luminance over a black ground (0) by that over a white one (0.8, both within the coating), of a film of one pigment: 0–1, 1 hides wholly.
    ///
    /// # Errors
    /// [`PredictError`] for an unknown pigment, and loads and amounts that make no sense.
    pub fn contrast(&self, pigment: &str, load: f64, g_per_m2: f64) -> Result<f64, PredictError> {
        let found = self.one(pigment)?;
        if !(load.is_finite() && load >= 0.0) {
            let pigment = pigment.to_owned();
            return Err(PredictError::Load { pigment, load });
        }
        if !(g_per_m2.is_finite() && g_per_m2 > 0.0) {
            return Err(PredictError::Amount { g_per_m2 });
        }
        Ok(self.contrast_of(found, load, g_per_m2))
    }

    /// The lowest load of a pigment that [`HIDES`] in a coat of this amount.
    ///
    /// # Errors
    /// As [`contrast`](Self::contrast).
    pub fn hiding(&self, pigment: &str, g_per_m2: f64) -> Result<Hiding, PredictError> {
        let found = self.one(pigment)?;
        if self.contrast(pigment, MOST, g_per_m2)? < HIDES {
            return Ok(match found.known {
                Known::Both => Hiding::Never,
                Known::Ratio | Known::Single => Hiding::Unknown,
            });
        }
        if found.known != Known::Both {
            return Ok(Hiding::Unknown);
        }
        let load = lowest(MOST, |load| {
            self.contrast_of(found, load, g_per_m2) >= HIDES
        });
        // By what lies there: twice the load in half the coat is as much.
        let of_it = Load {
            pigment: found.id.clone(),
            load,
        };
        let (_, parts) = amounts(g_per_m2, &[of_it]);
        Ok(Hiding::At {
            load,
            measured: self.evidence.most(&found.id) >= parts[0],
        })
    }

    fn contrast_of(&self, pigment: &Pigment, load: f64, g_per_m2: f64) -> f64 {
        let loads = [Load {
            pigment: pigment.id.clone(),
            load,
        }];
        let (mixed, parts) = amounts(g_per_m2, &loads);
        let [black, white] = GROUNDS.map(|ground| {
            let seen: [f64; BANDS] = std::array::from_fn(|band| {
                let kx = mixed * self.coating.k[band] + parts[0] * pigment.optics.k[band];
                let sx = mixed * self.coating.s[band] + parts[0] * pigment.optics.s[band];
                COATING.seen(directed::reflectance(kx, sx, ground))
            });
            bands::to_xyz(&seen).y
        });
        // A film so black that nothing comes back from either ground hides them.
        if white > 0.0 { black / white } else { 1.0 }
    }

    /// The pigment of this id, or what there is instead.
    pub(super) fn one(&self, id: &str) -> Result<&Pigment, PredictError> {
        self.pigment(id).ok_or_else(|| PredictError::Pigment {
            pigment: id.to_owned(),
            known: by_nearness(id, self.pigments.iter().map(|it| &*it.id)),
        })
    }
}

/// Where something that holds at `high` begins to hold, to a millionth of it.
fn lowest(high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, high);
    let close = high * 1e-7;
    while high - low > close {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::film;

    /// Worked by another program from the closed form, black 0 and white 0.8, without a surface.
    #[test]
    fn hides_at_the_published_amounts() {
        for (k, s, printed) in [
            (0.5, 2.0, 1.435_827_707_15),
            (0.05, 5.0, 1.633_520_089_34),
            (3.0, 0.4, 0.968_665_552_849),
        ] {
            let contrast = |x: f64| {
                let [black, white] = GROUNDS.map(|it| film::reflectance(k * x, s * x, it));
                black / white
            };
            let ours = lowest(4.0, |x| contrast(x) >= HIDES);
            assert!((ours - printed).abs() < 1e-6, "{k} {s}: {ours}");
        }
        let half = GROUNDS.map(|it| film::reflectance(0.25, 1.0, it));
        assert!((half[0] / half[1] - 0.710_195_694).abs() < 1e-9);
    }
}
