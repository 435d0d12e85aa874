//! How much of a pigment a coating takes: the tested limits, from how specimens cured.
//!
//! The highest load of a pigment in a coating that cured, and the lowest that did not. Only patches with one pigment tell; a
//! mixture is held against the sum Σ(load ÷ limit) ≤ 1, unless that very mixture was tested itself.

use super::notes::LATEST_CURE;
use super::recipe::{Ingredient, Recipe};
use super::{Library, LibraryError, number};
use rusqlite::params;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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

/// What the tests say of a proposed recipe.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// This very mixture, or every pigment of it at this load alone and together by the sum, is within what cured; with the sum.
    Within(Option<f64>),
    /// This very mixture was tested, and did not cure.
    Failed,
    /// The sum Σ(load ÷ limit) is beyond 1; with the sum.
    Beyond(f64),
    /// For these pigments nothing was tested that cured.
    Untested(Vec<String>),
}

/// Σ(load ÷ limit), or the pigments without a limit.
///
/// # Errors
///
/// The ids of those without a tested limit.
pub fn sum(pigments: &[Ingredient], limits: &[TestedLimit]) -> Result<f64, Vec<String>> {
    let mut total = 0.0;
    let mut untested = Vec::new();
    for it in pigments {
        let limit = limits
            .iter()
            .find(|limit| limit.pigment == it.pigment && limit.lot.is_none())
            .and_then(|limit| limit.highest_cured);
        match limit {
            Some(limit) => total += it.load / limit,
            None => untested.push(it.pigment.clone()),
        }
    }
    if untested.is_empty() {
        Ok(total)
    } else {
        Err(untested)
    }
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
        let added = sum(&recipe.pigments, &limits);
        match self.tested_itself(recipe, coating)? {
            Some(true) => return Ok(Verdict::Within(added.ok())),
            Some(false) => return Ok(Verdict::Failed),
            None => {}
        }
        Ok(match added {
            // A sum of quotients is exact to a few last bits only.
            Ok(sum) if sum <= 1.0 + 1e-9 => Verdict::Within(Some(sum)),
            Ok(sum) => Verdict::Beyond(sum),
            Err(untested) => Verdict::Untested(untested),
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

    /// Whether these very pigments at these very loads cured in this coating; `None` if nobody tried, or if it is a single pigment,
    /// whose limit already says it.
    fn tested_itself(&self, recipe: &Recipe, coating: &str) -> Result<Option<bool>, LibraryError> {
        if recipe.pigments.len() < 2 {
            return Ok(None);
        }
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT swatch.id, note.word FROM note
             JOIN specimen ON specimen.id = note.specimen
             JOIN swatch ON swatch.id = specimen.swatch
             WHERE swatch.coating = ?1 AND {LATEST_CURE}
               AND (SELECT count(*) FROM ingredient WHERE ingredient.swatch = swatch.id) = ?2
               AND EXISTS (SELECT 1 FROM ingredient WHERE ingredient.swatch = swatch.id AND pigment = ?3)"
        ))?;
        let first = &recipe.pigments[0].pigment;
        let rows = statement.query_map(
            params![coating, number(recipe.pigments.len()), first],
            |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)),
        )?;
        let mut verdict = None;
        for row in rows {
            let (id, word) = row?;
            let Some(other) = super::recipe::swatch(&self.connection, id)? else {
                continue;
            };
            let same = |(a, b): (&Ingredient, &Ingredient)| {
                a.pigment == b.pigment && (a.load - b.load).abs() <= 1e-9 * a.load.max(b.load)
            };
            let mut wanted = recipe.pigments.clone();
            wanted.sort_by(|a, b| a.pigment.cmp(&b.pigment));
            if wanted.iter().zip(&other.recipe.pigments).all(same) {
                // One that failed outweighs any that cured.
                verdict = Some(verdict.unwrap_or(true) && has_cured(&word));
            }
        }
        Ok(verdict)
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
