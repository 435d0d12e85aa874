//! How much of a pigment a coating takes: the tested limits, from how specimens cured.
//!
//! The highest load of a pigment in a coating that cured, and the lowest that did not. Only patches with one pigment tell; a
//! mixture is held against the sum Σ(load ÷ limit) ≤ 1, unless that very mixture cured. One with at least as much of each pigment as a
//! mixture that did not cure is beyond, whatever the sum; so is one with a pigment at a load that did not cure alone, whether or not
//! its other pigments were tested.

use super::notes::LATEST_CURE;
use super::recipe::{Ingredient, Recipe};
use super::{Library, LibraryError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What arithmetic may leave behind, relative to 1.
const SLACK: f64 = 1e-9;

/// What cured and what did not, of one pigment in one coating.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestedLimit {
    /// The pigment's id.
    pub pigment: String,
    /// The lot; null for all lots together.
    pub lot: Option<String>,
    /// The coating's id.
    pub coating: String,
    /// Highest load that cured, grams per 100 g of coating, below every load that did not.
    pub highest_cured: Option<f64>,
    /// Lowest load that did not cure.
    pub lowest_failed: Option<f64>,
    /// A load cured that is no lower than one that did not: the tests contradict each other.
    pub contradictory: bool,
}

/// A mixture of pigments that was tested.
#[derive(Clone, Debug, PartialEq)]
pub struct TestedMixture {
    /// Its pigments, two or more, with loads in grams per 100 g of coating.
    pub pigments: Vec<Ingredient>,
    /// Whether all its specimens cured.
    pub cured: bool,
}

/// What the tests say of a proposed recipe.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// This very mixture, or every pigment of it at this load alone and together by the sum, is within what cured; with the sum.
    Within(Option<f64>),
    /// This very mixture was tested and did not cure, or one with no more of any pigment.
    Failed,
    /// These pigments are at or above a load that did not cure alone, and this very mixture was not tested.
    BeyondFailure(Vec<FailedLoad>),
    /// The sum Σ(load ÷ limit) is beyond 1; with the sum, over the pigments that have a limit.
    Beyond(f64),
    /// For these pigments nothing was tested that cured; the others are within.
    Untested(Vec<String>),
}

/// A load at or above one that did not cure alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FailedLoad {
    /// The pigment's id.
    pub pigment: String,
    /// Its load in the recipe, grams per 100 g of coating.
    pub load: f64,
    /// The lowest load of it alone that did not cure.
    pub lowest_failed: f64,
}

/// Σ(load ÷ limit), or the pigments without a limit.
///
/// # Errors
///
/// The ids of those without a tested limit.
pub fn sum(pigments: &[Ingredient], limits: &[TestedLimit]) -> Result<f64, Vec<String>> {
    match added(pigments, limits) {
        (total, untested) if untested.is_empty() => Ok(total),
        (_, untested) => Err(untested),
    }
}

/// Σ(load ÷ limit) over the pigments that have a limit, and those that have none.
fn added(pigments: &[Ingredient], limits: &[TestedLimit]) -> (f64, Vec<String>) {
    let mut total = 0.0;
    let mut untested = Vec::new();
    for it in pigments {
        match of_all_lots(limits, &it.pigment).and_then(|limit| limit.highest_cured) {
            Some(limit) => total += it.load / limit,
            None => untested.push(it.pigment.clone()),
        }
    }
    (total, untested)
}

/// The pigments at or above a load that did not cure alone.
fn beyond_failures(pigments: &[Ingredient], limits: &[TestedLimit]) -> Vec<FailedLoad> {
    let failed = |it: &Ingredient| {
        let lowest_failed = of_all_lots(limits, &it.pigment)?.lowest_failed?;
        (it.load >= lowest_failed * (1.0 - SLACK)).then(|| FailedLoad {
            pigment: it.pigment.clone(),
            load: it.load,
            lowest_failed,
        })
    };
    pigments.iter().filter_map(failed).collect()
}

fn of_all_lots<'a>(limits: &'a [TestedLimit], pigment: &str) -> Option<&'a TestedLimit> {
    (limits.iter()).find(|it| it.pigment == pigment && it.lot.is_none())
}

/// A load that was tested, and what came of it.
#[derive(Clone, Debug)]
struct Test {
    pigment: String,
    lot: Option<String>,
    load: f64,
    cured: bool,
}

impl Library {
    /// The tested limits of a coating: for each pigment all lots together first, then by lot where lots are known.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn limits(&self, coating: &str) -> Result<Vec<TestedLimit>, LibraryError> {
        let tests = self.tests(coating)?;
        let mut keys: Vec<(String, Option<String>)> = tests
            .iter()
            .flat_map(|it| {
                [
                    (it.pigment.clone(), None),
                    (it.pigment.clone(), it.lot.clone()),
                ]
            })
            .collect();
        keys.sort();
        keys.dedup();
        Ok(keys
            .into_iter()
            .map(|(pigment, lot)| {
                let of_it: Vec<&Test> = tests
                    .iter()
                    .filter(|it| it.pigment == pigment && (lot.is_none() || it.lot == lot))
                    .collect();
                limit(coating, pigment, lot, &of_it)
            })
            .collect())
    }

    /// What the tests say of a recipe.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn judge(&self, recipe: &Recipe) -> Result<Verdict, LibraryError> {
        let Some(coating) = &recipe.coating else {
            return Ok(Verdict::Untested(
                recipe
                    .pigments
                    .iter()
                    .map(|it| it.pigment.clone())
                    .collect(),
            ));
        };
        let limits = self.limits(coating)?;
        let mixtures = self.mixtures(coating)?;
        let (cured, failed): (Vec<_>, Vec<_>) = mixtures.iter().partition(|it| it.cured);
        if failed.iter().any(|it| it.is_in(&recipe.pigments)) {
            return Ok(Verdict::Failed);
        }
        if cured.iter().any(|it| it.is(&recipe.pigments)) {
            return Ok(Verdict::Within(sum(&recipe.pigments, &limits).ok()));
        }
        let failures = beyond_failures(&recipe.pigments, &limits);
        if !failures.is_empty() {
            return Ok(Verdict::BeyondFailure(failures));
        }
        let (total, untested) = added(&recipe.pigments, &limits);
        // A sum of quotients is exact to a few last bits only.
        Ok(if total > 1.0 + SLACK {
            Verdict::Beyond(total)
        } else if untested.is_empty() {
            Verdict::Within(Some(total))
        } else {
            Verdict::Untested(untested)
        })
    }

    /// How specimens of one pigment cured in this coating, by their latest note of it.
    fn tests(&self, coating: &str) -> Result<Vec<Test>, LibraryError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT ingredient.pigment, specimen.lot, ingredient.load, note.word
             FROM note
             JOIN specimen ON specimen.id = note.specimen
             JOIN swatch ON swatch.id = specimen.swatch
             JOIN ingredient ON ingredient.swatch = swatch.id
             WHERE swatch.coating = ?1 AND {LATEST_CURE}
               AND (SELECT count(*) FROM ingredient AS other WHERE other.swatch = swatch.id) = 1"
        ))?;
        let rows = statement.query_map([coating], |row| {
            let lot: String = row.get(1)?;
            let word: String = row.get(3)?;
            Ok(Test {
                pigment: row.get(0)?,
                lot: Some(lot).filter(|it| !it.is_empty()),
                load: row.get(2)?,
                cured: has_cured(&word),
            })
        })?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// How mixtures of two pigments or more cured in this coating, each once: one specimen that failed outweighs any that cured.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn mixtures(&self, coating: &str) -> Result<Vec<TestedMixture>, LibraryError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT swatch.id, note.word FROM note
             JOIN specimen ON specimen.id = note.specimen
             JOIN swatch ON swatch.id = specimen.swatch
             WHERE swatch.coating = ?1 AND {LATEST_CURE}
               AND (SELECT count(*) FROM ingredient WHERE ingredient.swatch = swatch.id) > 1
             ORDER BY swatch.id"
        ))?;
        let rows = statement.query_map([coating], |row| {
            Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?))
        })?;
        let mut all: std::collections::BTreeMap<i64, bool> = std::collections::BTreeMap::new();
        for row in rows {
            let (id, word) = row?;
            *all.entry(id).or_insert(true) &= has_cured(&word);
        }
        let mut mixtures = Vec::with_capacity(all.len());
        for (id, cured) in all {
            if let Some(swatch) = super::recipe::swatch(&self.connection, id)? {
                mixtures.push(TestedMixture {
                    pigments: swatch.recipe.pigments,
                    cured,
                });
            }
        }
        Ok(mixtures)
    }
}

impl TestedMixture {
    /// Whether a recipe has at least this much of each of its pigments, and perhaps others.
    fn is_in(&self, recipe: &[Ingredient]) -> bool {
        self.pigments.iter().all(|tested| {
            let load = recipe
                .iter()
                .find(|it| it.pigment == tested.pigment)
                .map_or(0.0, |it| it.load);
            load >= tested.load * (1.0 - SLACK)
        })
    }

    fn is(&self, recipe: &[Ingredient]) -> bool {
        self.pigments.len() == recipe.len()
            && recipe.iter().all(|it| {
                self.pigments.iter().any(|tested| {
                    tested.pigment == it.pigment
                        && (tested.load - it.load).abs() <= SLACK * tested.load.max(it.load)
                })
            })
    }
}

/// What cured slowly has cured.
fn has_cured(word: &str) -> bool {
    matches!(word, "cured" | "slow")
}

fn limit(coating: &str, pigment: String, lot: Option<String>, tests: &[&Test]) -> TestedLimit {
    let loads = |cured: bool| {
        tests
            .iter()
            .filter(move |it| it.cured == cured)
            .map(|it| it.load)
    };
    let lowest_failed = loads(false).min_by(f64::total_cmp);
    let below = |it: &f64| lowest_failed.is_none_or(|failed| *it < failed);
    let highest = loads(true).max_by(f64::total_cmp);
    TestedLimit {
        pigment,
        lot,
        coating: coating.to_owned(),
        // Of tests that contradict each other, the cautious half counts.
        highest_cured: loads(true).filter(below).max_by(f64::total_cmp),
        lowest_failed,
        contradictory: highest.is_some_and(|it| !below(&it)),
    }
}
