//! Which lot a job takes its pigment from: that of its swatch, as long as there is some.

use super::Like;
use crate::plan::PlanError;
use crate::plan::material::{Load, Recipe};
use crate::plan::taken::{SAID, Taken};
use schemars::JsonSchema;
use serde::Serialize;

/// A lot that the library knows, and what is left of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LotLeft {
    /// The lot.
    pub lot: String,
    /// Whether there is any left.
    pub is_there: bool,
}

/// What the library says of two lots.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Compared {
    /// One lot.
    pub old: String,
    /// The other.
    pub new: String,
    /// ΔE00 between them at the swatch's load.
    pub delta_e: f64,
    /// Whether that is beyond the joint uncertainty; none where there are too few specimens to say.
    pub told_apart: Option<bool>,
    /// How many times as much of the new lot looks like the old, if that can be said.
    pub factor: Option<f64>,
    /// ΔE00 that no load mends.
    pub left: Option<f64>,
}

impl Compared {
    /// What it says of taking `lot` where another was, for people; the swatch's load is `load`.
    fn words(&self, pigment: &str, lot: &str, load: f64) -> String {
        let other = if self.new == lot {
            &self.old
        } else {
            &self.new
        };
        let pair = format!("lot {lot} against {other}");
        let apart = format!("{:.2} ΔE00", self.delta_e);
        match (self.told_apart, self.factor) {
            (None, _) => format!(
                "{pair}: {apart} between their readings; whether the lots differ takes two specimens of each"
            ),
            (Some(false), _) => format!("{pair}: the same as far as can be told ({apart})"),
            (Some(true), None) => format!(
                "{pair}: {apart} apart; how much more or less of it to use takes the old lot at a second load"
            ),
            (Some(true), Some(factor)) => {
                let factor = if self.new == lot {
                    factor
                } else {
                    1.0 / factor
                };
                let left = self
                    .left
                    .filter(|_| self.new == lot)
                    .map_or_else(String::new, |it| format!(", which leaves {it:.2} ΔE00"));
                format!(
                    "{pair}: {apart} apart; use {factor:.2} times as much of it{left} (--load {pigment}={:.2} instead of {load})",
                    factor * load
                )
            }
        }
    }
}

/// A recipe whose pigments have lots, and why these.
#[derive(Clone, Debug, PartialEq)]
pub struct WithLots {
    /// The recipe.
    pub recipe: Recipe,
    /// Where the lots were taken from.
    pub taken: Vec<Taken>,
    /// What to know of them.
    pub notes: Vec<String>,
}

impl Like {
    /// Its recipe with the lots that a user says, else that of the swatch where it is there, else the only one that is; and with
    /// other loads where a user says so, as for another lot.
    ///
    /// # Errors
    /// If a lot or load is said of a pigment that it hasn't got.
    pub fn with_lots(
        &self,
        said: &[(String, String)],
        loads: &[(String, f64)],
    ) -> Result<WithLots, PlanError> {
        let mut recipe = self.recipe.clone();
        let mut taken = Vec::new();
        let mut notes = Vec::new();
        for (pigment, lot) in said {
            self.load_of(&mut recipe, pigment)?.pigment.lot = Some(lot.clone());
            taken.retain(|it: &Taken| it.what != format!("lot of {pigment}"));
            taken.push(Taken::new(format!("lot of {pigment}"), lot, SAID));
        }
        if let [only] = &mut recipe.loads[..] {
            let pigment = only.pigment.pigment.clone();
            if only.pigment.lot.is_none()
                && let Some((lot, from)) = self.lot_at_hand()
            {
                taken.push(Taken::new(format!("lot of {pigment}"), &lot, from));
                only.pigment.lot = Some(lot);
            }
            notes = self.lot_notes(&pigment, only.pigment.lot.as_deref(), only.load);
        } else if !recipe.loads.is_empty() && !self.lots.is_empty() {
            notes.push(format!(
                "The swatch's specimens name lot {}, without saying of which of its pigments.",
                self.lots.join(", lot ")
            ));
        }
        for (pigment, wanted) in loads {
            let load = self.load_of(&mut recipe, pigment)?;
            notes.push(format!(
                "The swatch has load {} of {pigment}, this job {wanted}.",
                load.load
            ));
            load.load = *wanted;
            taken.push(Taken::new(
                format!("load of {pigment}"),
                wanted.to_string(),
                SAID,
            ));
        }
        Ok(WithLots {
            recipe,
            taken,
            notes,
        })
    }

    /// Where a recipe has this pigment.
    fn load_of<'a>(
        &self,
        recipe: &'a mut Recipe,
        pigment: &str,
    ) -> Result<&'a mut Load, PlanError> {
        let mut loads = recipe.loads.iter_mut();
        loads
            .find(|it| it.pigment.pigment == pigment)
            .ok_or_else(|| PlanError::NoPigment {
                pigment: pigment.to_owned(),
                of: self.called.clone(),
            })
    }

    /// Whether there is any of a lot, as far as the library knows: where it names no lots, nobody can say that there is none.
    fn is_there(&self, lot: &str) -> bool {
        self.stock.is_empty() || self.stock.iter().any(|it| it.lot == lot && it.is_there)
    }

    /// The lot to take, with its origin; none where several are as good, or none is known.
    fn lot_at_hand(&self) -> Option<(String, String)> {
        let made: Vec<&String> = self.lots.iter().filter(|it| self.is_there(it)).collect();
        match made[..] {
            [lot] => return Some((lot.clone(), self.source.clone())),
            [] => {}
            _ => return None,
        }
        let here: Vec<&LotLeft> = self.stock.iter().filter(|it| it.is_there).collect();
        match (&here[..], &self.lots[..]) {
            ([only], _) => Some((
                only.lot.clone(),
                "the library: the only lot there".to_owned(),
            )),
            // Nothing is there: what has to be bought is more of the same.
            ([], [lot]) => Some((lot.clone(), self.source.clone())),
            _ => None,
        }
    }

    fn lot_notes(&self, pigment: &str, planned: Option<&str>, load: f64) -> Vec<String> {
        let mut notes = Vec::new();
        let here: Vec<&str> = self
            .stock
            .iter()
            .filter(|it| it.is_there)
            .map(|it| it.lot.as_str())
            .collect();
        let made = self.lots.join(", lot ");
        let there = match &here[..] {
            [] => "no lot of it is there".to_owned(),
            all => format!("there is lot {}", all.join(", lot ")),
        };
        if self.lots.is_empty() {
            if !here.is_empty() || planned.is_some() {
                notes.push(format!(
                    "Nobody said which lot of {pigment} the swatch was made with: {there}. Coat a trial piece first."
                ));
            }
            return notes;
        }
        if !self.lots.iter().any(|it| self.is_there(it)) {
            notes.push(format!(
                "The swatch was made with {pigment}, lot {made}, of which there is none any more: {there}."
            ));
        } else if self.lots.len() > 1 {
            notes.push(format!(
                "The swatch was made with several lots of {pigment}: lot {made}; its colour is their mean. Take all from one (--lot {pigment}=LOT)."
            ));
        } else {
            notes.push(format!("The swatch was made with {pigment}, lot {made}."));
        }
        // Which lots might be taken, and what is known of each against those of the swatch.
        let may_be: Vec<&str> = planned.map_or(here, |it| vec![it]);
        let mut told: Vec<&Compared> = Vec::new();
        for lot in may_be {
            let others: Vec<&String> = self.lots.iter().filter(|it| *it != lot).collect();
            if others.is_empty() {
                continue;
            }
            let about = |it: &&Compared| {
                others.iter().any(|other| {
                    (&it.old, &it.new) == (&lot.to_owned(), *other)
                        || (&it.new, &it.old) == (&lot.to_owned(), *other)
                })
            };
            let known: Vec<&Compared> = self.compared.iter().filter(about).collect();
            let of_swatch = self.lots.iter().any(|it| it == lot);
            if known.is_empty() && !of_swatch {
                notes.push(format!(
                    "Lot {lot} of {pigment} is another lot than the swatch's, and the library has no comparison of them: coat both beside each other at load {load}, two patches of each, before the job."
                ));
            }
            for it in known {
                if told.contains(&it) {
                    continue;
                }
                told.push(it);
                notes.push(format!("{pigment}, {}.", it.words(pigment, lot, load)));
            }
        }
        notes
    }
}
