//! Age: what a model's films look like after an exposure.
//!
//! Takes a fresh [`Model`] and how some coats changed at one dose: controls, and patches of one pigment each. Gives an [`AgedModel`].
//! What changes goes into the film, not into Lab: a pigment that loses colour shows more in a tint than at full load, and a coating
//! that yellows shows most over blue and white.
//!
//! 1. The controls tell what the coating absorbs more, and what its grounds reflect; on a white primer, which is inert, the coating alone.
//! 2. Each pigment gets a factor on its absorption, smooth over the bands and as small as it can be, with which its aged film has the
//!    colour that was measured (several loads: least squares). Scattering stays; what if it doesn't is in the uncertainty.
//!
//! Colours change from what the fresh model says of them, so that what the model leaves of a trial isn't taken for age.
//!
//! # Source
//! Loss of colorant as loss of absorption: R. Johnston-Feller, R. L. Feller, C. W. Bailie, M. Curran, *J. Am. Inst. Conserv.* 23 (1984) 114–129;
//! P. M. Whitmore, C. Bailie, *J. Am. Inst. Conserv.* 36 (1997) 207–230.

mod base;
mod pigment;
mod prior;
mod slopes;
mod solve;
#[cfg(test)]
mod tests;

use super::error::PredictError;
use super::model::{Coat, Model, Prediction};
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix, uncertainty};
use base::Base;
use nalgebra::{DMatrix, DVector, Vector3};
use pigment::Factor;
use std::collections::BTreeMap;

/// What the film carries from measured coats to another one it gets wrong by this share of what it carries, one standard deviation in each of L*, a*,
/// b*: the fresh model's own errors, and what isn't straight. From `intervals_hold` of `tests/mix_age` with seeds 7401 to 7404, which the test doesn't use.
const CARRYING: f64 = 0.15;

/// How a coat changed at the dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Aged {
    /// For people.
    pub name: String,
    /// What was laid.
    pub coat: Coat,
    /// What it lies on doesn't change: a white primer that is inert.
    pub inert: bool,
    /// Change of L*, a*, b*.
    pub change: Vector3<f64>,
    /// Its covariance.
    pub covariance: Matrix,
}

/// Why there is no aged colour.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AgeError {
    /// A pigment's fade isn't known.
    #[error(
        "how {pigment} fades isn't known, so there is no aged colour of what it is in{}",
        others(known)
    )]
    NoFade {
        /// Which.
        pigment: String,
        /// Those whose fade is known.
        known: Vec<String>,
    },
    /// Not in the model at all.
    #[error("{what} isn't among the pigments and substrates of this coating")]
    NotThere {
        /// Pigment or ground.
        what: String,
    },
    /// Not even a fresh one.
    #[error(transparent)]
    Fresh(#[from] PredictError),
}

fn others(known: &[String]) -> String {
    if known.is_empty() {
        String::new()
    } else {
        format!("; known is the fade of {}", known.join(", "))
    }
}

impl AgeError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::NoFade { .. } => {
                "Expose a half-masked patch of it alone, photograph it at hour 0 and later, and measure the photos into the library; or ask for the colour as made.".to_owned()
            }
            Self::NotThere { .. } => "Measure a patch of it into the library first.".to_owned(),
            Self::Fresh(it) => it.hint(),
        }
    }
}

/// A colour as made and after the dose.
#[derive(Clone, Debug, PartialEq)]
pub struct AgedColour {
    /// As made, by the fresh model.
    pub fresh: Lab,
    /// After the dose.
    pub aged: Lab,
    /// Covariance of the change: what the measured changes have, and what they leave open of the film.
    pub covariance: Matrix,
    /// What a reader must know, as full sentences.
    pub notes: Vec<String>,
}

/// What a pigment did by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnChange {
    /// At which of its measured coats it shows most: its load.
    pub load: f64,
    /// ΔE00 between this coat with only coating and ground aged, and with the pigment aged, too.
    pub de_00: f64,
}

/// A model after a dose.
#[derive(Clone, Debug)]
pub struct AgedModel {
    fresh: Model,
    /// The fresh one with the coating and grounds of after the dose, and the pigments whose fade is known.
    aged: Model,
    base: Base,
    factors: BTreeMap<String, Factor>,
    /// What holds for all of it.
    notes: Vec<String>,
}

/// The model after the dose at which these coats changed. No changes at all: nothing is known to age, and no pigment has an aged colour.
#[must_use]
pub fn age(fresh: &Model, changes: &[Aged]) -> AgedModel {
    let mut notes = Vec::new();
    let changes: Vec<&Aged> = (changes.iter())
        .filter(|it| usable(fresh, it, &mut notes))
        .collect();
    let (controls, tinted): (Vec<&Aged>, Vec<&Aged>) =
        (changes.into_iter()).partition(|it| tints(&it.coat).next().is_none());
    let base = base::of(fresh, &controls, &mut notes);
    let mut by_pigment: BTreeMap<String, Vec<&Aged>> = BTreeMap::new();
    for it in tinted {
        let mut pigments = tints(&it.coat);
        match (pigments.next(), pigments.next()) {
            (Some(one), None) => by_pigment.entry(one.to_owned()).or_default().push(it),
            _ => notes.push(format!(
                "{}: how a mixture changed tells no pigment from the other, so that it isn't used.",
                it.name
            )),
        }
    }
    let mut aged = base.applied(fresh);
    let mut factors = BTreeMap::new();
    for (pigment, trials) in by_pigment {
        let found = pigment::of(fresh, &aged, &base, &pigment, &trials, &mut notes);
        if let Some(it) = found {
            factors.insert(pigment, it);
        }
    }
    for it in &mut aged.pigments {
        if let Some(factor) = factors.get(&it.id) {
            it.optics.k = factor.applied(&it.optics);
        }
    }
    AgedModel {
        fresh: fresh.clone(),
        aged,
        base,
        factors,
        notes,
    }
}

/// The pigments of a coat, those of no load left out.
fn tints(coat: &Coat) -> impl Iterator<Item = &str> {
    let loaded = coat.pigments.iter().filter(|it| it.load > 0.0);
    loaded.map(|it| it.pigment.as_str())
}

/// Whether a change can be used; if not, why.
fn usable(model: &Model, it: &Aged, notes: &mut Vec<String>) -> bool {
    let numbers = it.change.iter().chain(it.covariance.iter());
    let why = if !numbers.copied().all(f64::is_finite) {
        "its change is no number"
    } else if it.coat.g_per_m2.is_nan() || it.coat.g_per_m2 <= 0.0 {
        "how much was laid isn't known"
    } else if model.colour(&it.coat).is_none() {
        "its pigment or its substrate isn't in the model"
    } else {
        return true;
    };
    notes.push(format!(
        "{}: {why}, so that its change isn't used.",
        it.name
    ));
    false
}

impl AgedModel {
    /// The film model after the dose, for whoever searches it: only pigments that [`knows`](Self::knows) are aged in it.
    #[must_use]
    pub fn model(&self) -> &Model {
        &self.aged
    }

    /// Whether a pigment's fade is known.
    #[must_use]
    pub fn knows(&self, pigment: &str) -> bool {
        self.factors.contains_key(pigment)
    }

    /// What a reader must know of all aged colours, as full sentences.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The prediction of a coat after the dose: the fresh one, moved as the film moves, with what is unsure of both.
    ///
    /// # Errors
    /// If the fade of a pigment in it isn't known, or the fresh model can't predict it.
    pub fn predict(&self, coat: &Coat) -> Result<Prediction, AgeError> {
        let fresh = self.fresh.predict(coat)?;
        let it = self.colour(coat)?;
        let moved = vector(fresh.lab) + vector(it.aged) - vector(it.fresh);
        let lab = Lab::new(moved.x, moved.y, moved.z);
        let covariance = fresh.covariance + it.covariance;
        let mut notes = fresh.notes;
        for it in self.notes.iter().chain(&it.notes) {
            if !notes.contains(it) {
                notes.push(it.clone());
            }
        }
        Ok(Prediction {
            lab,
            covariance,
            u95: uncertainty::u95(lab, &covariance).unwrap_or(f64::INFINITY),
            notes,
            ..fresh
        })
    }

    /// The colour of a coat as made and after the dose.
    ///
    /// # Errors
    /// If the fade of a pigment in it isn't known, or it isn't in the model.
    pub fn colour(&self, coat: &Coat) -> Result<AgedColour, AgeError> {
        let fresh = self.of(&self.fresh, coat)?;
        if let Some(unknown) = tints(coat).find(|it| !self.knows(it)) {
            return Err(AgeError::NoFade {
                pigment: unknown.to_owned(),
                known: self.factors.keys().cloned().collect(),
            });
        }
        let aged = self.of(&self.aged, coat)?;
        let mut covariance = Matrix::zeros();
        let mut notes = self.base.notes(&coat.ground);
        // Pigments were told on top of coating and ground: what those are wrong by, they mend in part.
        let mut by_base = self.base.slopes(&self.aged, coat, &aged);
        let mut loads: Vec<_> = coat.pigments.iter().filter(|it| it.load > 0.0).collect();
        loads.sort_by(|one, other| one.pigment.cmp(&other.pigment));
        loads.dedup_by(|one, other| one.pigment == other.pigment);
        for it in loads {
            let Some(factor) = self.factors.get(&it.pigment) else {
                continue;
            };
            let load: f64 = (coat.pigments.iter())
                .filter(|other| other.pigment == it.pigment)
                .map(|it| it.load)
                .sum();
            let by_factor = factor.slopes(&aged, load);
            covariance += squared(&by_factor, &factor.covariance);
            covariance += factor.missed * self.shows(factor, coat, &it.pigment).powi(2);
            if let Some(pigment) = self.fresh.pigment(&it.pigment) {
                let by_body = factor.by_body(&pigment.optics, &aged, load);
                covariance += by_body * by_body.transpose();
            }
            by_base += &by_factor * &factor.by_base;
            notes.extend(factor.note.clone());
        }
        covariance += squared(&by_base, &self.base.covariance) + self.base.missed;
        let carried = vector(aged.lab) - vector(fresh.lab) - self.measured(coat);
        covariance += Matrix::identity() * (CARRYING.powi(2) * carried.norm_squared());
        Ok(AgedColour {
            fresh: fresh.lab,
            aged: aged.lab,
            covariance,
            notes,
        })
    }

    /// How much a pigment shows in a coat, as a share of what it shows where its fade was told: 0–1, 1 where it shows nothing there. What the
    /// film can't follow of its change is as much less where there is a trace of it.
    fn shows(&self, factor: &Factor, coat: &Coat, pigment: &str) -> f64 {
        if factor.missed == Matrix::zeros() {
            return 1.0;
        }
        let by_it = |coat: &Coat| {
            let mut without = coat.clone();
            without.pigments.retain(|it| it.pigment != pigment);
            let both = self.aged.colour(coat).zip(self.aged.colour(&without));
            both.map_or(0.0, |(with, without)| {
                (vector(with) - vector(without)).norm()
            })
        };
        let there = factor.coats.iter().map(by_it).fold(0.0, f64::max);
        let here = by_it(coat);
        if here < there { here / there } else { 1.0 }
    }

    /// The mean change of the coats from which a coat's pigments were told, by load; of the clear coating what it does on this ground.
    fn measured(&self, coat: &Coat) -> Vector3<f64> {
        let parts = coat.pigments.iter().filter(|it| it.load > 0.0);
        let known = parts.filter_map(|it| Some((self.factors.get(&it.pigment)?, it.load)));
        let (sum, total) = known.fold((Vector3::zeros(), 0.0), |(sum, total), (it, load)| {
            (sum + it.change * load, total + load)
        });
        if total > 0.0 {
            return sum / total;
        }
        let both = self.aged.colour(coat).zip(self.fresh.colour(coat));
        both.map_or_else(Vector3::zeros, |(aged, fresh)| vector(aged) - vector(fresh))
    }

    /// What a pigment did by itself, where it shows most of its measured coats; none where its fade isn't known.
    #[must_use]
    pub fn own_change(&self, pigment: &str) -> Option<OwnChange> {
        let factor = self.factors.get(pigment)?;
        let without = self.base.applied(&self.fresh);
        let changes = factor.coats.iter().filter_map(|coat| {
            let (before, after) = (without.colour(coat)?, self.aged.colour(coat)?);
            Some(OwnChange {
                load: coat.pigments.iter().map(|it| it.load).sum(),
                de_00: delta_e_2000(before, after),
            })
        });
        changes.max_by(|one, other| one.de_00.total_cmp(&other.de_00))
    }

    fn of(&self, model: &Model, coat: &Coat) -> Result<slopes::Seen, AgeError> {
        slopes::seen(model, coat).ok_or_else(|| {
            let mut pigments = coat.pigments.iter();
            let missing = pigments.find(|it| model.pigment(&it.pigment).is_none());
            AgeError::NotThere {
                what: missing.map_or(&coat.ground, |it| &it.pigment).clone(),
            }
        })
    }
}

/// J C Jᵀ.
fn squared(slopes: &DMatrix<f64>, covariance: &DMatrix<f64>) -> Matrix {
    let it = slopes * covariance * slopes.transpose();
    Matrix::from_fn(|row, column| f64::midpoint(it[(row, column)], it[(column, row)]))
}

/// Colours of coats, one below the other.
fn stacked(colours: &[Vector3<f64>]) -> DVector<f64> {
    DVector::from_iterator(3 * colours.len(), colours.iter().flatten().copied())
}

/// Covariances of coats that share nothing.
fn blocks(covariances: &[Matrix]) -> DMatrix<f64> {
    let size = 3 * covariances.len();
    let mut all = DMatrix::zeros(size, size);
    for (index, it) in covariances.iter().enumerate() {
        all.fixed_view_mut::<3, 3>(3 * index, 3 * index)
            .copy_from(it);
    }
    all
}

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}
