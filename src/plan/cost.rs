//! Totals and what they cost.

use super::material::{Coating, Pigment, PigmentName, known};
use super::{Add, Round};
use serde::Serialize;
use std::collections::BTreeMap;

/// How much of a material a plan takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Total {
    /// The material: a pigment with its lot, or a coating and its part.
    pub what: String,
    /// All of it, g.
    pub grams: f64,
    /// Its volume, ml, if the density is known.
    pub ml: Option<f64>,
    /// Price per kilogram, if known.
    pub price_per_kg: Option<f64>,
    /// What it costs, if the price is known.
    pub cost: Option<f64>,
    /// `running out` or `gone`, where somebody noted so.
    pub stock: Option<String>,
}

/// What everything costs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cost {
    /// The currency that prices are in, if stated.
    pub currency: Option<String>,
    /// The sum of what is known.
    pub sum: f64,
    /// Materials without a price.
    pub without: Vec<String>,
}

/// What is weighed out, by material.
#[derive(Debug, Default)]
pub(super) struct Used {
    /// Grams by coating and index of part.
    pub(super) parts: BTreeMap<(String, usize), f64>,
    /// Grams by pigment.
    pub(super) pigments: BTreeMap<PigmentName, f64>,
}

impl Used {
    /// Everything that the rounds weigh out, as often as they are weighed out.
    pub(super) fn of(rounds: &[Round]) -> Self {
        let mut used = Self::default();
        for round in rounds {
            let times = f64::from(round.times());
            for session in &round.sessions {
                for (index, part) in session.parts.iter().enumerate() {
                    *used
                        .parts
                        .entry((session.coating.clone(), index))
                        .or_default() += times * part.grams;
                }
                for add in session.cups.iter().flat_map(|it| &it.adds) {
                    if let Add::Pigment { pigment, grams } = add {
                        *used.pigments.entry(pigment.clone()).or_default() += times * grams;
                    }
                }
            }
        }
        used
    }

    /// Totals, coatings first, and what they cost.
    pub(super) fn priced(
        &self,
        coatings: &[Coating],
        pigments: &[Pigment],
        currency: Option<&str>,
    ) -> (Vec<Total>, Cost) {
        let total = |what: String,
                     grams: f64,
                     density: Option<f64>,
                     price: Option<f64>,
                     stock: Option<String>| Total {
            what,
            grams: super::balance::tidy(grams),
            ml: density.map(|it| grams / it),
            price_per_kg: price,
            cost: price.map(|it| grams / 1000.0 * it),
            stock,
        };
        let mut totals = Vec::new();
        for ((name, index), grams) in &self.parts {
            let Some(coating) = coatings.iter().find(|it| it.name == *name) else {
                continue;
            };
            let part = &coating.parts[*index];
            let what = if coating.is_mixed() {
                format!("{name}: {}", part.name)
            } else {
                name.clone()
            };
            let price = part.price_per_kg.or(coating.price_per_kg);
            let density = part
                .g_per_ml
                .or(coating.g_per_ml.filter(|_| !coating.is_mixed()));
            totals.push(total(what, *grams, density, price, coating.stock.clone()));
        }
        for (name, grams) in &self.pigments {
            let known = known(pigments, name);
            let price = known.and_then(|it| it.price_per_kg);
            let density = known.and_then(|it| it.g_per_ml);
            totals.push(total(
                name.to_string(),
                *grams,
                density,
                price,
                known.and_then(|it| it.stock.clone()),
            ));
        }
        let cost = Cost {
            currency: currency.map(str::to_owned),
            sum: totals.iter().filter_map(|it| it.cost).sum(),
            without: totals
                .iter()
                .filter(|it| it.cost.is_none())
                .map(|it| it.what.clone())
                .collect(),
        };
        (totals, cost)
    }
}
