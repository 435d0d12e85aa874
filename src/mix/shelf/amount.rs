//! How much coating a swatch has, in grams per square metre.

use crate::library::recipe::Swatch;
use crate::library::{Library, LibraryError};

/// Wet coating of a coat where nobody weighed or stated any, g/m²: what brushes lay of most clear coatings (common practice, no source).
/// Amounts are then in coats, and this only their unit.
pub const NOMINAL_COAT: f64 = 100.0;

/// What is known of a swatch's amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Amount {
    /// Weighed: grams per square metre, all coats together, and in how many coats, if that was stated.
    Weighed(f64, Option<f64>),
    /// Counted.
    Coats(f64),
}

impl Amount {
    /// The mean of the specimens that were weighed, else what the recipe states, else its coats.
    pub(super) fn of(library: &Library, swatch: &Swatch) -> Result<Option<Self>, LibraryError> {
        let recipe = &swatch.recipe;
        let specimens = library.specimens(swatch.id)?;
        let weighed: Vec<f64> = specimens.iter().filter_map(|it| it.g_per_m2).collect();
        #[expect(clippy::cast_precision_loss, reason = "specimens are few")]
        let mean = (!weighed.is_empty())
            .then(|| weighed.iter().sum::<f64>() / weighed.len() as f64)
            .or(recipe.g_per_m2);
        Ok(match (mean, recipe.coats) {
            (Some(grams), coats) => Some(Self::Weighed(grams, coats)),
            (None, Some(coats)) => Some(Self::Coats(coats)),
            (None, None) => None,
        })
    }

    pub(super) fn grams(self, per_coat: &PerCoat) -> f64 {
        match self {
            Self::Weighed(grams, _) => grams,
            Self::Coats(coats) => coats * per_coat.g_per_m2,
        }
    }
}

/// What one coat weighs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PerCoat {
    /// Wet coating, grams per square metre, pigment included, > 0.
    pub g_per_m2: f64,
    /// How that is known.
    pub from: PerCoatFrom,
}

/// How it is known what a coat weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PerCoatFrom {
    /// The library states it of the coating.
    Stated,
    /// Swatches were weighed whose coats are stated.
    Weighed,
    /// Nobody knows: [`NOMINAL_COAT`].
    Nominal {
        /// Whether some swatches are known in grams all the same.
        some_weighed: bool,
    },
}

impl PerCoat {
    pub(super) fn of(stated: Option<f64>, amounts: &[Option<Amount>]) -> Self {
        if let Some(g_per_m2) = stated {
            return Self {
                g_per_m2,
                from: PerCoatFrom::Stated,
            };
        }
        let (mut grams, mut coats, mut some_weighed) = (0.0, 0.0, false);
        for it in amounts.iter().flatten() {
            if let Amount::Weighed(weighed, in_coats) = it {
                some_weighed = true;
                if let Some(in_coats) = in_coats {
                    grams += weighed;
                    coats += in_coats;
                }
            }
        }
        if coats > 0.0 {
            return Self {
                g_per_m2: grams / coats,
                from: PerCoatFrom::Weighed,
            };
        }
        Self {
            g_per_m2: NOMINAL_COAT,
            from: PerCoatFrom::Nominal { some_weighed },
        }
    }

    /// Whether coats and grams can be held against each other.
    pub(super) fn compares(&self) -> bool {
        self.from != PerCoatFrom::Nominal { some_weighed: true }
    }

    /// Whether amounts are known in coats only, so that grams say nothing.
    #[must_use]
    pub fn is_nominal(&self) -> bool {
        matches!(
            self.from,
            PerCoatFrom::Nominal {
                some_weighed: false
            }
        )
    }

    pub(super) fn note(&self) -> Option<String> {
        match self.from {
            PerCoatFrom::Nominal {
                some_weighed: false,
            } => Some(format!(
                "Nobody weighed or stated what a coat takes: amounts are in coats, each counted as {NOMINAL_COAT} g/m². \
                 `masstone library coatings NAME --coat G` states it."
            )),
            PerCoatFrom::Weighed => Some(format!(
                "A coat takes {:.0} g/m², as the weighed swatches have it.",
                self.g_per_m2
            )),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coat_weighs_what_is_stated_else_what_was_weighed() {
        let weighed = Some(Amount::Weighed(250.0, Some(3.0)));
        let more = Some(Amount::Weighed(150.0, Some(1.0)));
        let only_grams = Some(Amount::Weighed(80.0, None));
        let coats = Some(Amount::Coats(2.0));
        let of = |stated, amounts: &[Option<Amount>]| PerCoat::of(stated, amounts);
        let near = |it: PerCoat, grams: f64| assert!((it.g_per_m2 - grams).abs() < 1e-9, "{it:?}");
        near(of(Some(90.0), &[weighed]), 90.0);
        near(of(None, &[weighed, more, only_grams, coats, None]), 100.0);
        near(of(None, &[weighed, coats]), 250.0 / 3.0);
        assert!(of(None, &[coats]).is_nominal());
        let unlike = of(None, &[coats, only_grams]);
        assert!(!unlike.compares() && !unlike.is_nominal());
        assert!((Amount::Coats(2.0).grams(&of(Some(90.0), &[])) - 180.0).abs() < 1e-12);
    }
}
