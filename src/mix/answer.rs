//! Answers about mixtures as JSON, and their JSON Schema (draft 2020-12), made from their types and committed as `src/mix/schema.json`.

use super::forecast::Forecast;
use super::ladder::Ladder;
use super::model::Reach;
use super::recipes::Recipes;
use super::trial::Load;
use crate::colour::srgb::{self, RgbSpace};
use crate::colour::{Lab, lab};
use schemars::JsonSchema;
use serde::Serialize;

/// The number of the form of answers as JSON.
pub const SCHEMA: u32 = 1;

/// An answer as `--format json` writes it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
#[schemars(title = "Mix")]
pub enum Answer {
    /// What a mixture looks like.
    Predict(Box<Forecast>),
    /// A pigment from nothing to its full load.
    Ladder(Box<Ladder>),
    /// Recipes for a wanted colour.
    Match(Box<Recipes>),
}

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn generate() -> String {
    crate::schema::of::<Answer>()
}

/// A colour as JSON has it, numbers rounded to four decimals.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Shade {
    /// CIELAB L*, D50, 2° observer.
    #[serde(rename = "L")]
    pub l: f64,
    /// CIELAB a*.
    pub a: f64,
    /// CIELAB b*.
    pub b: f64,
    /// CIELAB chroma.
    #[serde(rename = "C")]
    pub c: f64,
    /// CIELAB hue angle, degrees.
    pub h: f64,
    /// sRGB, mapped into its gamut.
    pub hex: String,
    /// Whether sRGB can show it; else `hex` is only near.
    pub in_srgb: bool,
    /// ΔE00(colour, truth) ≤ this in 95 % of cases; null for a colour that is simply wanted.
    #[serde(rename = "U95")]
    pub u95: Option<f64>,
}

impl Shade {
    /// A colour with its U95, if it has one.
    #[must_use]
    pub fn of(lab: Lab, u95: Option<f64>) -> Self {
        Self {
            l: rounded(lab.l),
            a: rounded(lab.a),
            b: rounded(lab.b),
            c: rounded(lab::chroma(lab)),
            h: rounded(lab::hue_degrees(lab)) % 360.0,
            hex: srgb::to_hex(lab),
            in_srgb: srgb::is_in_gamut(RgbSpace::Srgb.linear(lab)),
            u95: u95.map(rounded),
        }
    }

    /// The colour, as far as it was rounded.
    #[must_use]
    pub fn lab(&self) -> Lab {
        Lab::new(self.l, self.a, self.b)
    }
}

/// Four decimals; no negative zero.
pub(super) fn rounded(it: f64) -> f64 {
    (it * 1e4).round() / 1e4 + 0.0
}

/// A pigment and its load as JSON has them.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PigmentLoad {
    /// The pigment's id.
    pub pigment: String,
    /// Grams per 100 g of mixed coating (all parts, before pigment).
    pub load: f64,
}

impl From<&Load> for PigmentLoad {
    fn from(it: &Load) -> Self {
        Self {
            pigment: it.pigment.clone(),
            load: it.load,
        }
    }
}

/// `PR101 12 + PBk11 0.5`; `clear` without any.
#[must_use]
pub fn in_short(loads: &[PigmentLoad]) -> String {
    if loads.is_empty() {
        return "clear".to_owned();
    }
    let parts: Vec<String> = loads
        .iter()
        .map(|it| format!("{} {}", it.pigment, it.load))
        .collect();
    parts.join(" + ")
}

/// How far a prediction lies from what was measured.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Distance {
    /// Whether this very coat was measured, or lies between measured loads, or beyond them.
    pub reach: ReachWord,
    /// Where it lies beyond, in words.
    pub beyond: Vec<String>,
    /// The largest difference of a load or of the amount from the nearest swatch of the same pigments and substrate, as a share of its own;
    /// null where there is none.
    pub nearest: Option<f64>,
}

/// How far, in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ReachWord {
    /// This very coat was measured.
    Measured,
    /// Between measured loads.
    Between,
    /// Beyond them.
    Beyond,
}

impl Distance {
    /// Of a prediction.
    #[must_use]
    pub fn of(reach: &Reach, nearest: f64) -> Self {
        let (reach, beyond) = match reach {
            Reach::Measured => (ReachWord::Measured, Vec::new()),
            Reach::Between => (ReachWord::Between, Vec::new()),
            Reach::Beyond(words) => (ReachWord::Beyond, words.clone()),
        };
        Self {
            reach,
            beyond,
            nearest: Some(nearest).filter(|it| it.is_finite()).map(rounded),
        }
    }

    /// In a sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let near = match self.nearest {
            Some(share) if share < 5e-4 => String::new(),
            Some(share) => format!(
                "; the nearest swatch of these pigments here is {:.0} % off",
                100.0 * share
            ),
            None => "; no swatch on this substrate has these pigments together".to_owned(),
        };
        match self.reach {
            ReachWord::Measured => {
                "This very coat was measured; its colour here is what all trials of its pigments say together.".to_owned()
            }
            ReachWord::Between => format!("Between measured loads{near}."),
            ReachWord::Beyond => format!(
                "BEYOND what was measured: {}{near}.",
                self.beyond.join("; ")
            ),
        }
    }
}
