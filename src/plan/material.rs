//! What is mixed: coatings of one or more parts, pigments, and recipes of them.

use super::PlanError;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt;

/// Shares and densities that are sensible: none is zero, none beyond this.
const MOST: f64 = 1e6;

/// A coating and what is known of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coating {
    /// Its name, as panels call it.
    pub name: String,
    /// What it is mixed from, at least one part; the shares add up to 1.
    pub parts: Vec<Part>,
    /// From mixing until it can't be used any more, minutes; none if it keeps, or if nobody said.
    pub pot_life_min: Option<f64>,
    /// Wet coating that one coat takes, g/m², pigment included.
    pub coat_g_per_m2: Option<f64>,
    /// What its price is of.
    pub price: Price,
    /// Density as mixed, g/ml.
    pub g_per_ml: Option<f64>,
    /// What to beware of.
    pub hazard: Option<String>,
    /// How much of it there is, where that is a reason to look: `running out`, `gone`.
    pub stock: Option<String>,
}

/// One part of a coating.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// Its name: `part A`.
    pub name: String,
    /// Its share of the mixed coating by mass, 0–1.
    pub share: f64,
    /// Its density, g/ml.
    pub g_per_ml: Option<f64>,
}

/// What the price of a coating is of: its parts or the whole, never both.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Price {
    /// Nobody said.
    #[default]
    Unknown,
    /// Of a kilogram of the coating as mixed.
    Mixed(f64),
    /// Of a kilogram of each part, in their order; none where nobody said.
    Parts(Vec<Option<f64>>),
}

impl Coating {
    /// A coating of parts that are mixed in this ratio by mass: `[4.0, 1.0]`.
    ///
    /// # Errors
    /// If there is no part, or a number is not a share.
    pub fn by_mass(name: &str, ratio: &[f64]) -> Result<Self, PlanError> {
        for it in ratio {
            positive(*it, || format!("a part of the mixing ratio of {name}"))?;
        }
        let whole: f64 = ratio.iter().sum();
        if ratio.is_empty() {
            return Err(PlanError::NoRatio {
                coating: name.to_owned(),
            });
        }
        let parts = ratio.iter().enumerate().map(|(index, it)| Part {
            name: if ratio.len() == 1 {
                name.to_owned()
            } else {
                part_name(index)
            },
            share: it / whole,
            g_per_ml: None,
        });
        Ok(Self {
            name: name.to_owned(),
            parts: parts.collect(),
            pot_life_min: None,
            coat_g_per_m2: None,
            price: Price::Unknown,
            g_per_ml: None,
            hazard: None,
            stock: None,
        })
    }

    /// A coating of parts that are mixed in this ratio by volume, with the density of each in g/ml.
    ///
    /// # Errors
    /// If there is no part, a number is not a share or a density, or there is not one density for each part.
    pub fn by_volume(name: &str, ratio: &[f64], g_per_ml: &[f64]) -> Result<Self, PlanError> {
        if ratio.len() != g_per_ml.len() {
            return Err(PlanError::Densities {
                coating: name.to_owned(),
                parts: ratio.len(),
                densities: g_per_ml.len(),
            });
        }
        for it in g_per_ml {
            positive(*it, || format!("a density of {name}"))?;
        }
        for it in ratio {
            positive(*it, || format!("a part of the mixing ratio of {name}"))?;
        }
        let masses: Vec<f64> = ratio
            .iter()
            .zip(g_per_ml)
            .map(|(volume, density)| volume * density)
            .collect();
        let mut coating = Self::by_mass(name, &masses)?;
        for (part, density) in coating.parts.iter_mut().zip(g_per_ml) {
            part.g_per_ml = Some(*density);
        }
        Ok(coating)
    }

    /// Whether it has to be mixed before use.
    #[must_use]
    pub fn is_mixed(&self) -> bool {
        self.parts.len() > 1
    }

    /// Volume of `grams` of it as mixed, ml; of its parts, without what mixing does, where only theirs is known.
    #[must_use]
    pub fn volume_ml(&self, grams: f64) -> Option<f64> {
        let parts = self.parts.iter();
        let parts = || parts.map(|it| Some(grams * it.share / it.g_per_ml?)).sum();
        self.g_per_ml.map(|it| grams / it).or_else(parts)
    }
}

/// `part A`, `part B` …; with numbers beyond Z.
fn part_name(index: usize) -> String {
    match u8::try_from(index) {
        Ok(it) if it < 26 => format!("part {}", char::from(b'A' + it)),
        _ => format!("part {}", index + 1),
    }
}

fn positive(value: f64, what: impl FnOnce() -> String) -> Result<(), PlanError> {
    if value.is_finite() && 0.0 < value && value <= MOST {
        return Ok(());
    }
    Err(PlanError::Number {
        what: what(),
        value,
        must: format!("above 0 and at most {MOST}"),
    })
}

/// A pigment, of one lot where lots matter.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PigmentName {
    /// By preference the Colour Index name.
    pub pigment: String,
    /// Its lot, if stated.
    pub lot: Option<String>,
}

impl PigmentName {
    /// With its lot in brackets, where a number follows: a lot is often a number, too.
    #[must_use]
    pub fn before_number(&self) -> String {
        match &self.lot {
            Some(lot) => format!("{} (lot {lot})", self.pigment),
            None => self.pigment.clone(),
        }
    }
}

impl fmt::Display for PigmentName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.lot {
            Some(lot) => write!(f, "{}, lot {lot}", self.pigment),
            None => write!(f, "{}", self.pigment),
        }
    }
}

/// Of stock: there is none left.
pub const GONE: &str = "gone";

/// What is known of a pigment, or of one lot of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pigment {
    /// Which; without a lot: any lot of which nothing else is known.
    pub name: PigmentName,
    /// What its maker calls it.
    pub maker_name: Option<String>,
    /// Price per kilogram.
    pub price_per_kg: Option<f64>,
    /// Density, g/ml.
    pub g_per_ml: Option<f64>,
    /// What to beware of.
    pub hazard: Option<String>,
    /// How its maker says to wet it out.
    pub wetting: Option<String>,
    /// How much of it there is, where that is a reason to look: `running out`, `gone`.
    pub stock: Option<String>,
}

/// What is known of a pigment: of its lot, else of the pigment.
#[must_use]
pub fn known<'a>(pigments: &'a [Pigment], name: &PigmentName) -> Option<&'a Pigment> {
    let of_lot = pigments.iter().find(|it| it.name == *name);
    of_lot.or_else(|| {
        pigments
            .iter()
            .find(|it| it.name.lot.is_none() && it.name.pigment == name.pigment)
    })
}

/// A pigment and how much of it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Load {
    /// Which.
    #[serde(flatten)]
    pub pigment: PigmentName,
    /// Grams per 100 g of mixed coating (all parts, before pigment), > 0.
    pub load: f64,
}

/// What one cup is to hold.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Recipe {
    /// The coating's name.
    pub coating: String,
    /// Its pigments; none: clear coating.
    pub loads: Vec<Load>,
}

impl Recipe {
    /// All loads together, grams per 100 g of mixed coating.
    #[must_use]
    pub fn total_load(&self) -> f64 {
        self.loads.iter().map(|it| it.load).sum()
    }

    /// The same pigments in the same proportions, whatever their loads.
    #[must_use]
    pub(super) fn is_letdown_of(&self, other: &Self) -> bool {
        let (mine, its) = (self.total_load(), other.total_load());
        self.coating == other.coating
            && self.loads.len() == other.loads.len()
            && self.loads.iter().all(|it| {
                other
                    .load_of(&it.pigment)
                    .is_some_and(|load| (it.load / mine - load / its).abs() < 1e-9)
            })
    }

    /// The load of a pigment.
    #[must_use]
    pub(super) fn load_of(&self, pigment: &PigmentName) -> Option<f64> {
        self.loads
            .iter()
            .find(|it| it.pigment == *pigment)
            .map(|it| it.load)
    }
}

impl fmt::Display for Recipe {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.loads.is_empty() {
            return write!(f, "clear");
        }
        for (index, it) in self.loads.iter().enumerate() {
            let plus = if index == 0 { "" } else { " + " };
            write!(f, "{plus}{} {}", it.pigment.before_number(), it.load)?;
        }
        Ok(())
    }
}
