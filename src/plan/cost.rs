//! Totals and what they cost.
//!
//! A coating has a price of its parts or one of the whole, as [`Price`] says: each part is counted at its own, or everything that is mixed
//! at that of the whole. Never one part at its price and another at that of the whole.

use super::material::{Coating, Pigment, PigmentName, Price, known};
use super::{Add, Round};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How much of a material a plan takes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Total {
    /// The material: a pigment with its lot, or a coating and its part.
    pub what: String,
    /// All of it, g.
    pub grams: f64,
    /// Its volume, ml, if the density is known.
    pub ml: Option<f64>,
    /// `running out` or `gone`, where somebody noted so.
    pub stock: Option<String>,
}

/// What everything costs.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Cost {
    /// The currency that prices are in, if stated.
    pub currency: Option<String>,
    /// What has a price: pigments, and of each coating either its parts or the whole.
    pub lines: Vec<Priced>,
    /// The sum of these lines.
    pub sum: f64,
    /// Materials without a price.
    pub without: Vec<String>,
}

/// Something with a price.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Priced {
    /// What the price is of: a pigment with its lot, a coating's part, or a coating as mixed.
    pub what: String,
    /// All of it, g.
    pub grams: f64,
    /// The price of a kilogram.
    pub price_per_kg: f64,
    /// What it costs.
    pub cost: f64,
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
        let mut totals = Vec::new();
        let mut cost = Cost {
            currency: currency.map(str::to_owned),
            lines: Vec::new(),
            sum: 0.0,
            without: Vec::new(),
        };
        for coating in coatings {
            self.coating(coating, &mut totals, &mut cost);
        }
        for (name, grams) in &self.pigments {
            let known = known(pigments, name);
            let what = name.to_string();
            cost.add(&what, *grams, known.and_then(|it| it.price_per_kg));
            let density = known.and_then(|it| it.g_per_ml);
            let stock = known.and_then(|it| it.stock.clone());
            totals.push(total(what, *grams, density, stock));
        }
        cost.sum = cost.lines.iter().map(|it| it.cost).sum();
        (totals, cost)
    }

    /// A coating's parts, with a price of each or one of the whole.
    fn coating(&self, coating: &Coating, totals: &mut Vec<Total>, cost: &mut Cost) {
        let name = &coating.name;
        let mut whole = 0.0;
        for (index, part) in coating.parts.iter().enumerate() {
            let Some(grams) = self.parts.get(&(name.clone(), index)) else {
                continue;
            };
            whole += grams;
            let what = if coating.is_mixed() {
                format!("{name}: {}", part.name)
            } else {
                name.clone()
            };
            match &coating.price {
                Price::Mixed(_) => {}
                Price::Unknown => cost.add(&what, *grams, None),
                Price::Parts(all) => {
                    cost.add(&what, *grams, all.get(index).copied().flatten());
                }
            }
            let of_whole = coating.g_per_ml.filter(|_| !coating.is_mixed());
            let density = part.g_per_ml.or(of_whole);
            totals.push(total(what, *grams, density, coating.stock.clone()));
        }
        if let Price::Mixed(price) = coating.price
            && whole > 0.0
        {
            let what = if coating.is_mixed() {
                format!("{name}, as mixed")
            } else {
                name.clone()
            };
            cost.add(&what, whole, Some(price));
        }
    }
}

impl Cost {
    fn add(&mut self, what: &str, grams: f64, price_per_kg: Option<f64>) {
        let what = what.to_owned();
        match price_per_kg {
            Some(price_per_kg) => self.lines.push(Priced {
                what,
                grams: super::balance::tidy(grams),
                price_per_kg,
                cost: grams / 1000.0 * price_per_kg,
            }),
            None => self.without.push(what),
        }
    }
}

fn total(what: String, grams: f64, density: Option<f64>, stock: Option<String>) -> Total {
    Total {
        what,
        grams: super::balance::tidy(grams),
        ml: density.map(|it| grams / it),
        stock,
    }
}
