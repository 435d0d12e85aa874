//! What a user says of materials, and whether that makes sense for the plan at hand.

use super::FactsError;
use crate::plan::material::PigmentName;
use crate::plan::{Coating, PlanError};

/// A value for one thing, or for all that it can be said of.
#[derive(Clone, Debug, PartialEq)]
pub struct Said<T> {
    /// Of what; none: of all.
    pub of: Option<String>,
    /// The value.
    pub value: T,
}

/// What a user says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given {
    /// Mixing ratios of coatings: parts by mass, or by volume where [`Self::densities_of_parts`] are said.
    pub ratios: Vec<Said<Vec<f64>>>,
    /// The ratios are by volume.
    pub by_volume: bool,
    /// Densities of a coating's parts, g/ml.
    pub densities_of_parts: Vec<Said<Vec<f64>>>,
    /// Pot lives of coatings, minutes.
    pub pot_lives: Vec<Said<f64>>,
    /// Wet coating of one coat, g/m².
    pub per_coat: Vec<Said<f64>>,
    /// Prices per kilogram of pigments, coatings, and parts (`PART`, or `COATING: PART`).
    pub prices: Vec<(String, f64)>,
    /// Densities of pigments and coatings, g/ml.
    pub densities: Vec<(String, f64)>,
    /// Tested limits of pigments.
    pub limits: Vec<(String, f64)>,
}

impl Given {
    /// # Errors
    /// If a number makes no sense, or something was said of a thing that is not there.
    pub(super) fn check(
        &self,
        coatings: &[Coating],
        pigments: &[PigmentName],
    ) -> Result<(), FactsError> {
        let coating_names: Vec<&str> = coatings.iter().map(|it| it.name.as_str()).collect();
        let mut pigment_names: Vec<&str> = pigments.iter().map(|it| it.pigment.as_str()).collect();
        pigment_names.dedup();
        let parts = coatings
            .iter()
            .flat_map(|it| &it.parts)
            .map(|it| it.name.as_str());
        let both: Vec<&str> = coating_names
            .iter()
            .chain(&pigment_names)
            .copied()
            .collect();
        let of_coatings = coatings.iter().filter(|it| it.is_mixed());
        let full: Vec<String> = of_coatings
            .flat_map(|it| {
                it.parts
                    .iter()
                    .map(|part| format!("{}: {}", it.name, part.name))
            })
            .collect();
        let all: Vec<&str> = both
            .iter()
            .copied()
            .chain(parts)
            .chain(full.iter().map(String::as_str))
            .collect();
        let of = |all: &[Said<f64>]| -> Vec<(String, f64)> {
            all.iter()
                .map(|it| (it.of.clone().unwrap_or_default(), it.value))
                .collect()
        };
        let pot_lives = of(&self.pot_lives);
        let per_coat = of(&self.per_coat);
        check_values("a price", &self.prices, &all)?;
        check_values("a density", &self.densities, &both)?;
        check_values("a tested limit", &self.limits, &pigment_names)?;
        check_values("a pot life", &pot_lives, &coating_names)?;
        check_values("wet coating of a coat", &per_coat, &coating_names)?;
        for (what, values) in [
            ("a mixing ratio", &self.ratios),
            ("densities of parts", &self.densities_of_parts),
        ] {
            for it in values.iter().filter_map(|it| it.of.as_deref()) {
                known_name(what, it, &coating_names)?;
            }
        }
        Ok(())
    }
}

fn check_values(
    what: &'static str,
    values: &[(String, f64)],
    there: &[&str],
) -> Result<(), FactsError> {
    for (name, value) in values {
        if !(value.is_finite() && *value > 0.0) {
            let of = if name.is_empty() { "all" } else { name };
            return Err(PlanError::Number {
                what: format!("{what} of {of}"),
                value: *value,
                must: "above 0".to_owned(),
            }
            .into());
        }
        known_name(what, name, there)?;
    }
    Ok(())
}

fn known_name(what: &'static str, name: &str, there: &[&str]) -> Result<(), FactsError> {
    if name.is_empty() || there.contains(&name) {
        return Ok(());
    }
    let there = if there.is_empty() {
        "nothing of the kind".to_owned()
    } else {
        there.join(", ")
    };
    Err(FactsError::NotThere {
        what,
        name: name.to_owned(),
        there,
    })
}

/// What is said of a thing by its name, else of all.
pub(super) fn said<'a, T>(all: &'a [Said<T>], name: &str) -> Option<&'a T> {
    let its = all.iter().rev().find(|it| it.of.as_deref() == Some(name));
    its.or_else(|| all.iter().rev().find(|it| it.of.is_none()))
        .map(|it| &it.value)
}

/// The number that is said of this name.
pub(super) fn named(all: &[(String, f64)], name: &str) -> Option<f64> {
    all.iter().rev().find(|it| it.0 == name).map(|it| it.1)
}
