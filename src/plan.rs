//! Planning: what to weigh out for a panel of test patches or for a job, and what it costs.
//!
//! Takes surfaces (areas with recipes and coating per square metre), what is known of coatings and pigments, tested limits
//! and what the balance can do; gives weighings in the order in which they are made, the loads that they come to, totals and
//! cost, as plain types that [`page`] turns into a sheet to print. Only [`facts`] knows the library, and nothing here knows
//! files.
//!
//! Promises: no weighing is below the least weighable amount. What is weighed in is what is poured out, used and left.
//! Loads within the tested limits stay within them when weights are rounded. The same input gives the same plan.
//!
//! 1. [`board`]: a panel becomes surfaces, and what belongs to a test of fading beside them.
//! 2. `session`: surfaces become mixings that are used up within the pot life, mixings become cups.
//! 3. `ways`: each cup is weighed dry or poured from a stronger one, whichever wastes less.
//! 4. `weigh`: whole steps of the balance, and what they do to the loads.
//! 5. [`like`]: what a job is to look like, and what would make it look otherwise.
//! 6. [`job`]: the same for one recipe and many square metres, in batches that are alike.

pub mod board;
pub mod facts;
pub mod job;
pub mod like;
pub mod mixing;
pub mod page;
pub mod schema;
pub mod steps;

mod balance;
pub(crate) mod care;
mod coats;
mod cost;
mod error;
mod fade;
mod limit;
mod material;
mod session;
mod taken;
mod ways;
mod weigh;

pub use balance::Balance;
pub use board::PigmentAmount;
pub(crate) use care::{cautions, heat};
pub use coats::PutOn;
pub use cost::{Cost, Priced, Total};
pub use error::PlanError;
pub use fade::{Fade, Shot};
pub use limit::{Limit, Limits, Standing, Verdict};
pub use material::{Coating, GONE, Load, Part, Pigment, PigmentName, Price, Recipe, known};
pub use session::sessions;
pub use taken::Taken;

use schemars::JsonSchema;
use serde::Serialize;

/// The number of the form of plans as JSON.
pub const SCHEMA: u32 = 1;

/// How a workshop mixes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// What the balance can do.
    pub balance: Balance,
    /// What brushes, cups and hands keep, as a share of what lies on the surface: 0.2 for 20 %.
    pub overage: f64,
    /// The least tinted coating that can be stirred well in a cup, g.
    pub least_cup_g: f64,
    /// What stays on the walls of a cup that is poured empty, g.
    pub cling_g: f64,
    /// From a cup being filled to its patches being coated, minutes a cup.
    pub minutes_per_cup: f64,
    /// The share of the pot life that is worked in, 0–1; the rest is a reserve.
    pub worked_share: f64,
}

impl Settings {
    /// What is usual with this balance (common practice, no source): 20 % overage, 5 g a cup, 1 g left on its walls, 4 minutes
    /// a cup, three quarters of the pot life.
    #[must_use]
    pub fn usual(balance: Balance) -> Self {
        Self {
            balance,
            overage: 0.2,
            least_cup_g: 5.0,
            cling_g: 1.0,
            minutes_per_cup: 4.0,
            worked_share: 0.75,
        }
    }

    /// # Errors
    /// If a number can't be what it stands for.
    pub fn check(&self) -> Result<(), PlanError> {
        let within = |what: &str, value: f64, low: f64, high: f64| {
            if value.is_finite() && (low..=high).contains(&value) {
                return Ok(());
            }
            Err(PlanError::Number {
                what: what.to_owned(),
                value,
                must: format!("from {low} to {high}"),
            })
        };
        within("the overage", self.overage, 0.0, 10.0)?;
        within("the least amount in a cup", self.least_cup_g, 0.0, 1e5)?;
        within("what stays in a cup", self.cling_g, 0.0, 1e3)?;
        within("the minutes a cup takes", self.minutes_per_cup, 0.01, 1e4)?;
        within("the share of the pot life", self.worked_share, 0.05, 1.0)
    }
}

/// An area to be coated.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Surface {
    /// What it is called: a patch's id, or words.
    pub id: String,
    /// For people.
    pub name: Option<String>,
    /// What it is coated with.
    pub recipe: Recipe,
    /// Its area, m².
    pub area_m2: f64,
    /// Tinted wet coating that lies on it in the end, g/m², all coats together, pigment included.
    pub wet_g_per_m2: f64,
    /// In how many coats, at least 1.
    pub coats: u32,
}

impl Surface {
    /// Tinted wet coating that lies on it in the end, g.
    #[must_use]
    pub fn wet_g(&self) -> f64 {
        self.area_m2 * self.wet_g_per_m2
    }
}

/// What one cup is for.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// What it is to hold.
    pub recipe: Recipe,
    /// Tinted wet coating that its surfaces take, overage included, g.
    pub wet_g: f64,
    /// The surfaces.
    pub patches: Vec<String>,
}

/// Something weighed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Weighing {
    /// What.
    pub what: String,
    /// Grams, a whole number of the balance's steps.
    pub grams: f64,
}

/// Something that is weighed into a cup. Grams are whole numbers of the balance's steps.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
#[serde(tag = "add", rename_all = "lowercase")]
pub enum Add {
    /// Dry pigment.
    Pigment {
        /// Which.
        #[serde(flatten)]
        pigment: PigmentName,
        /// How much.
        grams: f64,
    },
    /// From another cup.
    Cup {
        /// The other cup's number.
        from: usize,
        /// How much.
        grams: f64,
    },
    /// Mixed clear coating.
    Coating {
        /// How much.
        grams: f64,
    },
}

/// A load as wanted and as weighed, in grams per 100 g of mixed coating.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct CupLoad {
    /// Which pigment.
    #[serde(flatten)]
    pub pigment: PigmentName,
    /// As wanted.
    pub wanted: f64,
    /// As the rounded weights have it.
    pub weighed: f64,
    /// At least, if every weighing is off by half a step.
    pub low: f64,
    /// At most.
    pub high: f64,
}

impl CupLoad {
    /// What rounding does to it, as a share: 0.01 for 1 % more.
    #[must_use]
    pub fn rounding(&self) -> f64 {
        self.weighed / self.wanted - 1.0
    }
}

/// A cup of one recipe.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Cup {
    /// Its number within its mixing, from 1.
    pub number: usize,
    /// What it is to hold.
    pub recipe: Recipe,
    /// The surfaces that it is for.
    pub patches: Vec<String>,
    /// What is weighed into it, in this order.
    pub adds: Vec<Add>,
    /// What its loads come to.
    pub loads: Vec<CupLoad>,
    /// Mixed coating in it, before pigment, g.
    pub coating_g: f64,
    /// Everything in it, g.
    pub wet_g: f64,
    /// What is poured from it into other cups, g.
    pub poured_g: f64,
    /// What its surfaces take, overage included, g.
    pub needed_g: f64,
    /// What is left beyond that, g.
    pub spare_g: f64,
    /// How its loads as weighed stand to the tested limits.
    pub standing: Standing,
}

/// One mixing: its coating is mixed at once and used up within the pot life.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Session {
    /// The coating.
    pub coating: String,
    /// Its parts as they are weighed together; of a coating of one part, just that.
    pub parts: Vec<Weighing>,
    /// Clear coating that the cups take of it, g.
    pub taken_g: f64,
    /// What stays of it, g.
    pub left_g: f64,
    /// How far the parts are off their ratio by rounding, as the largest relative error of a part.
    pub ratio_off: f64,
    /// The cups, in the order of their numbers.
    pub cups: Vec<Cup>,
    /// The order in which cups are filled: stronger ones before those that are poured from them.
    pub order: Vec<usize>,
    /// Pigments for which a cup to pour from would waste less, but the pot life leaves no time for one more cup.
    pub no_time_for: Vec<String>,
    /// How long the work takes from mixing on, minutes: every cup counts, also those that are only poured from.
    pub minutes: f64,
    /// The pot life, minutes.
    pub pot_life_min: Option<f64>,
}

/// The same mixings for one or more coats.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Round {
    /// The first coat that they are for, from 1.
    pub first_coat: u32,
    /// The last.
    pub last_coat: u32,
    /// All these coats are mixed at once (the coating keeps); else they are weighed out anew for each.
    pub at_once: bool,
    /// The mixings, one after the other.
    pub sessions: Vec<Session>,
}

impl Round {
    /// Which coats it is for, for people.
    #[must_use]
    pub fn name(&self) -> String {
        match (self.first_coat, self.last_coat) {
            (first, last) if first == last => format!("Coat {first}"),
            (first, last) => format!("Coats {first} to {last}"),
        }
    }

    /// Which coats it is for and how often it is mixed, for people.
    #[must_use]
    pub fn heading(&self) -> String {
        let name = self.name();
        if self.first_coat == self.last_coat {
            name
        } else if self.at_once {
            format!("{name}: mixed once, kept closed in between")
        } else {
            format!("{name}: weighed out anew for each")
        }
    }

    /// How many times it is weighed out.
    #[must_use]
    pub fn times(&self) -> u32 {
        if self.at_once {
            1
        } else {
            self.last_coat - self.first_coat + 1
        }
    }
}
