//! What a search is asked.

use super::error::SearchError;
use crate::colour::spectrum::is_of_a_surface;
use crate::colour::{Lab, Matrix};
use crate::mix::age::AgedModel;
use crate::mix::{Load, Model};
use crate::plan::Balance;

/// Most pigments of a recipe.
pub const MOST_PIGMENTS: usize = 3;

/// A wanted colour and what may be taken for it. Plain numbers: nothing is looked up.
#[derive(Clone, Debug)]
pub struct Task<'a> {
    /// What the coating and its pigments look like.
    pub model: &'a Model,
    /// What they look like after a dose, where the aged colour is the wanted one; pigments whose fade isn't known are not taken then.
    pub aged: Option<&'a AgedModel>,
    /// The wanted colour.
    pub wanted: Lab,
    /// Covariance of the wanted colour; zero for one that is simply wanted.
    pub covariance: Matrix,
    /// What it is laid on, by name.
    pub ground: &'a str,
    /// Wet coating, grams per square metre, all coats together, pigment included, > 0.
    pub g_per_m2: f64,
    /// Pigments to choose from.
    pub candidates: &'a [Candidate],
    /// Mixtures that were tested.
    pub mixtures: &'a [Tested],
    /// Price of a kilogram of coating without pigment, if known.
    pub coating_per_kg: Option<f64>,
    /// Coating to be tinted, grams before pigment, > 0.
    pub batch_g: f64,
    /// What the pigments are weighed on.
    pub balance: Balance,
    /// Most pigments in a recipe, 1–3.
    pub most_pigments: usize,
    /// A pigment that every recipe has, by its id.
    pub base: Option<&'a str>,
    /// Only pigments that are in stock.
    pub in_stock: bool,
    /// Pigments of which no load is known to cure, too: up to the highest load measured.
    pub allow_untested: bool,
    /// Loads to 1.5 times what cured, too, below what did not.
    pub allow_beyond: bool,
    /// Which of recipes that can't be told apart comes first.
    pub order: Order,
    /// Recipes to list at most, ≥ 1.
    pub count: usize,
}

/// A pigment that may be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Its id, as the model has it.
    pub id: String,
    /// Highest load that cured, grams per 100 g of coating; none if untested.
    pub limit: Option<f64>,
    /// Lowest load that did not cure, if any.
    pub lowest_failed: Option<f64>,
    /// Price of a kilogram, if known.
    pub per_kg: Option<f64>,
    /// Whether there is any.
    pub in_stock: bool,
    /// Its own change in the light, if known.
    pub fastness: Option<Change>,
}

/// A change in the light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// ΔE00.
    pub delta_e: f64,
    /// After so many hours.
    pub hours: f64,
}

/// A mixture that was tested.
#[derive(Clone, Debug, PartialEq)]
pub struct Tested {
    /// Its pigments, two or more.
    pub pigments: Vec<Load>,
    /// Whether it cured.
    pub cured: bool,
}

/// Which of recipes that can't be told apart comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// The nearest.
    Nearest,
    /// That of the fewest pigments.
    FewestPigments,
    /// That which changes least in the light: as a whole where the aged model is there, otherwise by its worst pigment.
    MostLightfast,
    /// The cheapest.
    Cheapest,
}

impl Task<'_> {
    /// Whether every number can be what it stands for.
    pub(super) fn check(&self) -> Result<(), SearchError> {
        let above_0 = "a number above 0";
        number("the wet coating in g/m²", self.g_per_m2, above_0, |it| {
            it > 0.0
        })?;
        number("the batch in grams", self.batch_g, above_0, |it| it > 0.0)?;
        let count = |what: &str, it: usize, most: usize| {
            number(what, it as f64, &format!("1 to {most}"), |_| {
                (1..=most).contains(&it)
            })
        };
        count(
            "the most pigments of a recipe",
            self.most_pigments,
            MOST_PIGMENTS,
        )?;
        count("the recipes to list", self.count, MOST_LISTED)?;
        price("the coating", self.coating_per_kg)?;
        is_of_a_surface(self.wanted).map_err(SearchError::Wanted)?;
        for (index, it) in self.covariance.iter().enumerate() {
            let on_diagonal = index % 4 == 0;
            let what = "the covariance of the wanted colour";
            number(what, *it, "finite, with no negative variance", |it| {
                !on_diagonal || it >= 0.0
            })?;
        }
        for it in self.candidates {
            it.check()?;
        }
        let mut ids: Vec<&str> = self.candidates.iter().map(|it| it.id.as_str()).collect();
        ids.sort_unstable();
        if let Some(twice) = ids.windows(2).find(|it| it[0] == it[1]) {
            return Err(SearchError::Twice(twice[0].to_owned()));
        }
        for load in self.mixtures.iter().flat_map(|it| &it.pigments) {
            let what = format!("the load of {} in a tested mixture", load.pigment);
            number(&what, load.load, above_0, |it| it > 0.0)?;
        }
        Ok(())
    }
}

/// More is no choice any more.
const MOST_LISTED: usize = 1000;

impl Candidate {
    fn check(&self) -> Result<(), SearchError> {
        let load = |what: &str, load: Option<f64>| {
            let what = format!("{what} of {}", self.id);
            load.map_or(Ok(()), |it| {
                number(&what, it, "a load above 0", |it| it > 0.0)
            })
        };
        load("the highest load that cured", self.limit)?;
        load("the lowest load that did not cure", self.lowest_failed)?;
        if let (Some(limit), Some(failed)) = (self.limit, self.lowest_failed) {
            let what = format!("the highest load that cured of {}", self.id);
            let must = format!("below {failed}, which did not cure");
            number(&what, limit, &must, |it| it < failed)?;
        }
        price(&self.id, self.per_kg)?;
        if let Some(change) = self.fastness {
            let what = format!("the change of {} in the light", self.id);
            number(&what, change.delta_e, "0 or more", |it| it >= 0.0)?;
            let what = format!("the hours of the change of {}", self.id);
            number(&what, change.hours, "0 or more", |it| it >= 0.0)?;
        }
        Ok(())
    }
}

fn price(of: &str, per_kg: Option<f64>) -> Result<(), SearchError> {
    let what = format!("the price of {of}");
    per_kg.map_or(Ok(()), |it| number(&what, it, "0 or more", |it| it >= 0.0))
}

fn number(what: &str, value: f64, must: &str, is: impl Fn(f64) -> bool) -> Result<(), SearchError> {
    if value.is_finite() && is(value) {
        return Ok(());
    }
    Err(SearchError::Number {
        what: what.to_owned(),
        value,
        must: must.to_owned(),
    })
}
