//! From a library to what mixing takes: the swatches of one coating as trials, what a coat of it weighs, tested limits, materials.
//!
//! All of mixing that knows the library. What can't serve as a trial is left out by name and reason, never silently.

mod ageing;
mod amount;
mod error;
mod materials;
mod swatch;
mod words;

pub use ageing::Seasons;
pub use amount::{NOMINAL_COAT, PerCoat, PerCoatFrom};
pub use error::ShelfError;
pub use words::{list, nearest};

use super::trial::{Load, Trial};
use crate::library::Library;
use crate::library::catalog::Named;
use crate::library::find::{Filter, Listed, Sort};
use crate::library::recipe::Recipe;
use crate::plan;
use crate::record::ControlEntry;
use amount::Amount;

/// The ground of controls that the panel file calls `clear-on-white`.
pub const WHITE: &str = "an inert white";

/// Everything that mixing takes of a library, for one coating.
#[derive(Clone, Debug)]
pub struct Shelf {
    /// The coating's id.
    pub coating: String,
    /// Swatches as made, by number.
    pub trials: Vec<Trial>,
    /// What one coat of it weighs.
    pub per_coat: PerCoat,
    /// What was tested.
    pub limits: plan::Limits,
    /// The coating as planning knows it: parts, price, hazard. None if nobody said how it is mixed.
    pub mixed: Option<plan::Coating>,
    /// Price of a kilogram of it as mixed, if known.
    pub coating_per_kg: Option<f64>,
    /// Its pigments, by id: price, hazard, what is left.
    pub pigments: Vec<plan::Pigment>,
    /// Swatches of this coating, or of none, that are no trials.
    pub left_out: Vec<LeftOut>,
    /// What a reader must know of the trials, as full sentences.
    pub notes: Vec<String>,
}

/// A swatch that is no trial.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Its number.
    pub swatch: i64,
    /// Its pigments.
    pub pigments: Vec<String>,
    /// What it lies on, if anybody said.
    pub ground: Option<String>,
    /// Why.
    pub reason: String,
}

impl Shelf {
    /// What a library holds of a coating: the one that is named, else the only one.
    ///
    /// # Errors
    ///
    /// If the coating is not there, several are and none is named, or no control is left to show what lies below; or if the library can't be read.
    pub fn of(library: &Library, coating: Option<&str>) -> Result<Self, ShelfError> {
        let coating = chosen(library, coating)?;
        let (trials, per_coat, mut left_out, mut notes) = trials(library, &coating)?.parts();
        let grounds = controlled(&trials);
        let (trials, uncontrolled): (Vec<Trial>, Vec<Trial>) =
            (trials.into_iter()).partition(|it| grounds.contains(&it.ground));
        left_out.extend(uncontrolled.into_iter().filter_map(|it| {
            Some(LeftOut {
                swatch: it.swatch?,
                pigments: it.pigments.into_iter().map(|it| it.pigment).collect(),
                reason: format!(
                    "there is no control on {}, so that nobody knows what lies below",
                    it.ground
                ),
                ground: Some(it.ground),
            })
        }));
        left_out.sort_by_key(|it| it.swatch);
        if trials.is_empty() {
            return Err(if left_out.is_empty() {
                ShelfError::NoSwatch { coating }
            } else {
                ShelfError::NoTrial {
                    coating,
                    reasons: words::reasons(&left_out),
                }
            });
        }
        notes.extend(per_coat.note());
        let materials = materials::of(library, &coating, &trials)?;
        Ok(Self {
            coating,
            trials,
            per_coat,
            limits: materials.limits,
            mixed: materials.coating,
            coating_per_kg: materials.coating_per_kg,
            pigments: materials.pigments,
            left_out,
            notes,
        })
    }

    /// The names of its pigments, in order.
    #[must_use]
    pub fn pigment_names(&self) -> Vec<String> {
        let pigments = self.trials.iter().flat_map(|it| &it.pigments);
        let mut names: Vec<String> = pigments.map(|it| it.pigment.clone()).collect();
        names.sort();
        names.dedup();
        names
    }

    /// The substrates that have a control, in order; not the inert white, which nobody coats.
    #[must_use]
    pub fn substrates(&self) -> Vec<String> {
        let mut names = controlled(&self.trials);
        names.retain(|it| it != WHITE);
        names
    }

    /// The substrate that is meant: the one that is named, else the only one.
    ///
    /// # Errors
    ///
    /// If none or several could be meant, or it has no control.
    pub fn substrate(&self, named: Option<&str>) -> Result<String, ShelfError> {
        let there = self.substrates();
        match (named, &there[..]) {
            (Some(it), _) if there.iter().any(|other| other == it) || it == WHITE => {
                Ok(it.to_owned())
            }
            (Some(it), _) => Err(ShelfError::Substrate {
                named: it.to_owned(),
                coating: self.coating.clone(),
                there: nearest(it, &there),
            }),
            (None, [only]) => Ok(only.clone()),
            (None, _) => Err(ShelfError::WhichSubstrate {
                coating: self.coating.clone(),
                there,
            }),
        }
    }

    /// How much coating the middle one of the swatches on a ground has, g/m²; none where there is no swatch.
    #[must_use]
    pub fn usual_amount(&self, ground: &str) -> Option<f64> {
        let on_it = self.trials.iter().filter(|it| it.ground == ground);
        let mut amounts: Vec<f64> = on_it.map(|it| it.g_per_m2).collect();
        amounts.sort_by(f64::total_cmp);
        amounts.get(amounts.len() / 2).copied()
    }

    /// Checks that trials have this pigment.
    ///
    /// # Errors
    ///
    /// If none has, with the nearest names, or why its swatches are no trials.
    pub fn has_pigment(&self, id: &str) -> Result<(), ShelfError> {
        let there = self.pigment_names();
        if there.iter().any(|it| it == id) {
            return Ok(());
        }
        let of_it = |it: &&LeftOut| it.pigments.iter().any(|other| other == id);
        let left_out: Vec<LeftOut> = self.left_out.iter().filter(of_it).cloned().collect();
        Err(if left_out.is_empty() {
            ShelfError::Pigment {
                named: id.to_owned(),
                coating: self.coating.clone(),
                there: nearest(id, &there),
            }
        } else {
            ShelfError::PigmentLeftOut {
                named: id.to_owned(),
                coating: self.coating.clone(),
                reasons: words::reasons(&left_out),
            }
        })
    }

    /// What was left out, in words, each reason once.
    #[must_use]
    pub fn left_out_in_words(&self) -> Vec<String> {
        words::reasons(&self.left_out)
    }

    /// How loads stand to the tested limits.
    #[must_use]
    pub fn standing(&self, loads: &[Load]) -> plan::Standing {
        self.limits
            .standing(&materials::recipe(&self.coating, loads))
    }

    /// The usual cautions for these materials, where a recipe is printed.
    #[must_use]
    pub fn cautions(&self, loads: &[Load], outdoors: bool) -> Vec<String> {
        materials::cautions(self, loads, outdoors)
    }
}

/// The coating that is meant.
fn chosen(library: &Library, named: Option<&str>) -> Result<String, ShelfError> {
    let there = library.names(Named::Coating)?;
    match (named, &there[..]) {
        (Some(it), _) if there.iter().any(|other| other == it) => Ok(it.to_owned()),
        (Some(it), _) => Err(ShelfError::Coating {
            named: it.to_owned(),
            there: nearest(it, &there),
        }),
        (None, [only]) => Ok(only.clone()),
        (None, []) => Err(ShelfError::NoCoating),
        (None, _) => Err(ShelfError::WhichCoating { there }),
    }
}

/// The grounds that a control shows, in order.
fn controlled(trials: &[Trial]) -> Vec<String> {
    let controls = trials.iter().filter(|it| it.pigments.is_empty());
    let mut grounds: Vec<String> = controls.map(|it| it.ground.clone()).collect();
    grounds.sort();
    grounds.dedup();
    grounds
}

/// Swatches as trials, whether or not there is a control.
struct Found {
    trials: Vec<Trial>,
    per_coat: PerCoat,
    left_out: Vec<LeftOut>,
    notes: Vec<String>,
}

impl Found {
    fn parts(self) -> (Vec<Trial>, PerCoat, Vec<LeftOut>, Vec<String>) {
        (self.trials, self.per_coat, self.left_out, self.notes)
    }
}

/// Swatches as made.
fn trials(library: &Library, coating: &str) -> Result<Found, ShelfError> {
    let mut listed = library.list(&Filter::default(), Sort::Number)?;
    let stated = |it: &Recipe| it.coating.is_some() && it.substrate.is_some();
    listed.retain(|it| {
        let recipe = &it.swatch.recipe;
        // Of a customer's sample nobody says anything: that it is no trial is no news.
        let is_sample = *recipe == Recipe::default();
        !is_sample && recipe.coating.as_deref().is_none_or(|it| it == coating)
    });
    let mut amounts = Vec::with_capacity(listed.len());
    for it in &listed {
        amounts.push(if stated(&it.swatch.recipe) {
            Amount::of(library, &it.swatch)?
        } else {
            None
        });
    }
    let stated_coat = library.coating(coating)?.and_then(|it| it.coat_g_per_m2);
    let per_coat = PerCoat::of(stated_coat, &amounts);
    let mut found = Found {
        trials: Vec::new(),
        per_coat,
        left_out: Vec::new(),
        notes: Vec::new(),
    };
    let (mut ageless, mut doubtful) = (Vec::new(), Vec::new());
    for (it, amount) in listed.iter().zip(amounts) {
        if let Some(reason) = unfit(it, amount, &per_coat) {
            found.left_out.push(left_out(it, reason));
            continue;
        }
        let Some((ground, amount)) = ground(&it.swatch.recipe).zip(amount) else {
            continue;
        };
        let trial = swatch::trial(library, it, ground, amount.grams(&per_coat))?;
        found.trials.push(trial);
        if it.exposure.hours.is_none() && !it.exposure.masked {
            ageless.push(it.swatch.id);
        }
        if it.disagree > 0 {
            doubtful.push(it.swatch.id);
        }
    }
    if !ageless.is_empty() {
        found.notes.push(format!(
            "Nobody stated the hours of {}: taken as made.",
            words::swatches(&ageless)
        ));
    }
    if !doubtful.is_empty() {
        found.notes.push(format!(
            "Some readings of {} disagree with the others: `masstone library show` names them.",
            words::swatches(&doubtful)
        ));
    }
    Ok(found)
}

fn left_out(it: &Listed, reason: String) -> LeftOut {
    let recipe = &it.swatch.recipe;
    LeftOut {
        swatch: it.swatch.id,
        pigments: recipe
            .pigments
            .iter()
            .map(|it| it.pigment.clone())
            .collect(),
        ground: ground(recipe),
        reason,
    }
}

/// Why a swatch can't be a trial; none if it can.
fn unfit(it: &Listed, amount: Option<Amount>, per_coat: &PerCoat) -> Option<String> {
    let recipe = &it.swatch.recipe;
    if recipe.pigments.is_empty() && recipe.control.is_none() {
        return Some("nobody said what is in it".to_owned());
    }
    if recipe.coating.is_none() {
        return Some("its panel file states no coating".to_owned());
    }
    if ground(recipe).is_none() {
        return Some("its panel file states no substrate".to_owned());
    }
    let failed = |it: &&String| !matches!(it.as_str(), "cured" | "slow");
    if let Some(word) = it.cure.iter().find(failed) {
        return Some(format!("it did not cure as it should: {word}"));
    }
    if 2 * it.disagree >= it.readings && it.disagree > 0 {
        return Some(
            "its readings contradict each other; `masstone library show` names them".to_owned(),
        );
    }
    if let Some(hours) = it.exposure.hours
        && hours > 0.0
        && !it.exposure.masked
    {
        return Some("it was measured only after it had been outdoors".to_owned());
    }
    match amount {
        None => Some("its panel file states neither coats nor grams".to_owned()),
        Some(Amount::Coats(_)) if !per_coat.compares() => Some(
            "its coats can't be compared with others' grams: state what a coat takes with `masstone library coatings NAME --coat G`"
                .to_owned(),
        ),
        Some(_) => None,
    }
}

fn ground(recipe: &Recipe) -> Option<String> {
    match recipe.control {
        Some(ControlEntry::ClearOnWhite) => Some(WHITE.to_owned()),
        _ => recipe.substrate.clone(),
    }
}
