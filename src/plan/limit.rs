//! How far loads lie from what was tested to cure.
//!
//! Limits of single pigments add up: Σ(load ÷ limit) ≤ 1, unless that very mixture cured. One with at least as much of each pigment as a
//! mixture that did not cure is beyond, whatever the sum.

use super::material::{PigmentName, Recipe};
use schemars::JsonSchema;
use serde::Serialize;

/// What arithmetic may leave behind.
const SLACK: f64 = 1e-9;
/// Of a tested mixture's loads, what a balance may have taken away without its being another mixture (common practice, no source).
const SAME: f64 = 0.95;

/// How much of a pigment was tested in a coating.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// The pigment's name.
    pub pigment: String,
    /// Of which lot; none: of any.
    pub lot: Option<String>,
    /// In which coating; none: in any.
    pub coating: Option<String>,
    /// The highest load that cured.
    pub cured: Option<f64>,
    /// The lowest load that did not.
    pub failed: Option<f64>,
}

/// What was tested.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// Single pigments.
    pub single: Vec<Limit>,
    /// Mixtures that cured as they are.
    pub cured: Vec<Recipe>,
    /// Mixtures that did not; nor does what holds at least as much of each of their pigments.
    pub failed: Vec<Recipe>,
}

/// How loads stand to the tested limits.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Standing {
    /// Σ(load ÷ limit) over the pigments with a limit; none if no pigment has one.
    pub share: Option<f64>,
    /// Pigments without a tested limit.
    pub untested: Vec<String>,
    /// Pigments at or beyond a load that did not cure.
    pub failed: Vec<String>,
    /// This very mixture was tested: whether it cured. False, too, where one with no more of any pigment did not.
    pub mixture: Option<bool>,
    /// All of this in a word.
    pub verdict: Verdict,
}

/// The verdict in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// There is no pigment.
    Clear,
    /// Within the tested limits.
    Within,
    /// Beyond them.
    Beyond,
    /// Nothing is beyond a limit, but not everything was tested.
    Untested,
}

impl Standing {
    /// Within the limits of the single pigments, and no mixture is known that failed.
    fn is_by_sum(&self) -> bool {
        self.mixture != Some(false)
            && self.failed.is_empty()
            && self.untested.is_empty()
            && self.share.is_none_or(|it| it <= 1.0 + SLACK)
    }

    fn judged(&self) -> Verdict {
        match self.mixture {
            Some(true) => return Verdict::Within,
            Some(false) => return Verdict::Beyond,
            None => {}
        }
        if !self.failed.is_empty() {
            return Verdict::Beyond;
        }
        match self.share {
            Some(it) if it > 1.0 + SLACK => Verdict::Beyond,
            _ if !self.untested.is_empty() => Verdict::Untested,
            Some(_) => Verdict::Within,
            None => Verdict::Clear,
        }
    }
}

impl Limits {
    /// What is known of a pigment in a coating: the highest load that cured and the lowest that did not.
    ///
    /// Its own lot counts where that was tested, else the pigment as such, else its other lots. Of several the lowest.
    fn of(&self, pigment: &PigmentName, coating: &str) -> (Option<f64>, Option<f64>) {
        let fits = |it: &&Limit| {
            it.pigment == pigment.pigment && it.coating.as_deref().is_none_or(|it| it == coating)
        };
        let all: Vec<&Limit> = self.single.iter().filter(fits).collect();
        let of = |lot: &Option<String>| -> Vec<&Limit> {
            all.iter().copied().filter(|it| it.lot == *lot).collect()
        };
        // Without a lot, what any lot bore or didn't bear is what is known.
        let mut known = if pigment.lot.is_some() {
            of(&pigment.lot)
        } else {
            all.clone()
        };
        if known.is_empty() {
            known = of(&None);
        }
        if known.is_empty() {
            known = all;
        }
        let lowest = |all: &mut dyn Iterator<Item = f64>| all.min_by(f64::total_cmp);
        (
            lowest(&mut known.iter().filter_map(|it| it.cured)),
            lowest(&mut known.iter().filter_map(|it| it.failed)),
        )
    }

    /// How a recipe stands.
    #[must_use]
    pub fn standing(&self, recipe: &Recipe) -> Standing {
        let mut standing = Standing {
            share: None,
            untested: Vec::new(),
            failed: Vec::new(),
            mixture: self.mixture(recipe),
            verdict: Verdict::Clear,
        };
        for it in &recipe.loads {
            let (cured, failed) = self.of(&it.pigment, &recipe.coating);
            match cured.filter(|it| *it > 0.0) {
                Some(most) => *standing.share.get_or_insert(0.0) += it.load / most,
                None => standing.untested.push(it.pigment.to_string()),
            }
            if failed.is_some_and(|failed| it.load >= failed - SLACK) {
                standing.failed.push(it.pigment.to_string());
            }
        }
        standing.verdict = standing.judged();
        standing
    }

    /// Whether this mixture cured, if it was tested. One that failed outweighs any that cured, in whatever has as much of each pigment.
    fn mixture(&self, recipe: &Recipe) -> Option<bool> {
        let failed = |share| self.failed.iter().any(|it| is_in(it, recipe, share));
        if failed(1.0 - SLACK) {
            return Some(false);
        }
        if self.cured.iter().any(|it| is_same_mixture(it, recipe)) {
            return Some(true);
        }
        failed(SAME).then_some(false)
    }

    /// Whether loads that are a little other than wanted may be: they are no worse than the tested limits allow.
    ///
    /// What is wanted beyond the limits anyway (to test it) has itself as its limit.
    pub(super) fn allow(&self, wanted: &Recipe, weighed: &Recipe) -> bool {
        let before = self.standing(wanted);
        let after = self.standing(weighed);
        if before.verdict == Verdict::Within && before.is_by_sum() {
            return after.is_by_sum();
        }
        let bounded = |pigment: &PigmentName| {
            before.mixture.is_some() || self.of(pigment, &wanted.coating) != (None, None)
        };
        weighed.loads.iter().all(|it| {
            let most = wanted.load_of(&it.pigment).unwrap_or(0.0);
            !bounded(&it.pigment) || it.load <= most * (1.0 + SLACK)
        })
    }
}

/// Whether a recipe has at least `share` of each load of a tested mixture, and perhaps other pigments.
fn is_in(tested: &Recipe, recipe: &Recipe, share: f64) -> bool {
    tested.coating == recipe.coating
        && !tested.loads.is_empty()
        && tested.loads.iter().all(|there| {
            let of_it = recipe
                .loads
                .iter()
                .filter(|it| it.pigment.pigment == there.pigment.pigment);
            of_it.map(|it| it.load).sum::<f64>() >= share * there.load
        })
}

/// Whether a recipe is a tested mixture: no load is less than [`SAME`] of the tested one, or more than it.
fn is_same_mixture(tested: &Recipe, recipe: &Recipe) -> bool {
    recipe.loads.len() > 1
        && tested.loads.len() == recipe.loads.len()
        && is_in(tested, recipe, SAME)
        && is_in(recipe, tested, 1.0 - SLACK)
}
