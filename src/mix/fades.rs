//! From fade reports to what each coat did by a dose.
//!
//! Takes a [`Report`] and what its patches were coated with; gives their changes at so many hours as [`Aged`] coats: by the course where
//! there is one, else between the exposures. Promises: hours are never other doses, boards exposed in other ways are never pooled, nothing is said
//! beyond 1.5 times a patch's furthest hours, and what is left out is named.

mod change;

use super::age::{Aged, AgedModel};
use super::model::Coat;
use crate::fade::Report;
use crate::fade::report::Board;
use nalgebra::{Matrix3, Vector3};
use std::collections::{BTreeMap, BTreeSet};

/// What the dose must count.
const HOURS: &str = "hours";
/// Nothing is said beyond this many times the furthest dose, as of courses.
pub const REACH: f64 = 1.5;

/// What lies under a patch: what was laid, and whether its ground is an inert white.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// What was laid on what.
    pub coat: Coat,
    /// The ground doesn't change.
    pub inert: bool,
}

/// What all patches were coated with, by panel and patch.
pub type Coats = BTreeMap<(String, String), Laid>;

/// Changes at one dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Fades {
    /// Hours of exposure.
    pub hours: f64,
    /// By panel and patch.
    pub changes: Vec<Aged>,
    /// What was left out and why, as full sentences.
    pub notes: Vec<String>,
}

/// Why there are no changes at all.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FadesError {
    /// Negative, or no number.
    #[error("{hours} is no number of hours: it must be 0 or more")]
    Hours {
        /// As given.
        hours: f64,
    },
    /// No board in hours.
    #[error("no board was exposed by the hour: the doses are in {}", kinds.join(", "))]
    OtherDose {
        /// What they count.
        kinds: Vec<String>,
    },
    /// No patch of the mixing model changed.
    #[error("no half-masked patch of these pigments was photographed after an exposure")]
    Nothing,
    /// Too far.
    #[error(
        "{hours} hours are beyond what the exposures say: nothing is said beyond {limit:.0} hours, {REACH} times the furthest"
    )]
    Beyond {
        /// As given.
        hours: f64,
        /// The furthest that is said of any patch.
        limit: f64,
    },
}

impl FadesError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Hours { .. } => "Give the hours as a number, as in 1500.",
            Self::OtherDose { .. } => {
                "State the hours of each photo in the series file, and measure them again; an energy isn't turned into hours."
            }
            Self::Nothing => {
                "Expose a half-masked panel of them, photograph it at hour 0 and later, and measure the photos into the library: `masstone plan PANEL.toml --fade` plans it."
            }
            Self::Beyond { .. } => "Ask for fewer hours, or expose the panels longer.",
        }
    }
}

/// What a pigment's own change is worth in a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Fastness {
    /// Its id.
    pub pigment: String,
    /// The load at which it shows most, of those exposed.
    pub load: f64,
    /// ΔE00 of its own change, the coating's and the ground's left out.
    pub de_00: f64,
}

/// The changes at so many hours; none at 0.
///
/// # Errors
/// If nothing can be said at that dose: see [`FadesError`].
pub fn at(report: &Report, hours: f64, coats: &Coats) -> Result<Fades, FadesError> {
    if !hours.is_finite() || hours < 0.0 {
        return Err(FadesError::Hours { hours });
    }
    let mut notes = Vec::new();
    let boards = alike(report, coats, &mut notes)?;
    let mut fades = Fades {
        hours,
        changes: Vec::new(),
        notes: Vec::new(),
    };
    let mut limit: f64 = 0.0;
    for (board, patch) in patches(&boards) {
        let Some(laid) = coats.get(&(board.panel.clone(), patch.patch.clone())) else {
            continue;
        };
        let Some(furthest) = patch.changes.last().map(|it| it.dose) else {
            continue;
        };
        limit = limit.max(REACH * furthest);
        let name = format!("{} of panel {}", patch.patch, board.panel);
        if hours > REACH * furthest {
            notes.push(format!(
                "{name}: exposed to {furthest} hours, so that nothing is said of it beyond {:.0}.",
                REACH * furthest
            ));
            continue;
        }
        let Some((change, covariance)) = change::at(patch, hours) else {
            notes.push(format!(
                "{name}: its colour before any sun isn't known, so that its change isn't used."
            ));
            continue;
        };
        fades.changes.push(Aged {
            name,
            coat: laid.coat.clone(),
            inert: laid.inert,
            change,
            covariance,
        });
    }
    if limit <= 0.0 {
        return Err(FadesError::Nothing);
    }
    if hours > limit {
        return Err(FadesError::Beyond { hours, limit });
    }
    if hours <= 0.0 {
        for it in &mut fades.changes {
            (it.change, it.covariance) = (Vector3::zeros(), Matrix3::zeros());
        }
    }
    fades.notes = notes;
    Ok(fades)
}

/// The furthest hours that all pigments were exposed to, each on its longest board; none where none was.
#[must_use]
pub fn common_hours(report: &Report, coats: &Coats) -> Option<f64> {
    let boards = alike(report, coats, &mut Vec::new()).ok()?;
    let mut furthest: BTreeMap<&str, f64> = BTreeMap::new();
    for (board, patch) in patches(&boards) {
        let Some(laid) = coats.get(&(board.panel.clone(), patch.patch.clone())) else {
            continue;
        };
        if let ([pigment], Some(last)) = (&laid.coat.pigments[..], patch.changes.last()) {
            let known = furthest.entry(&pigment.pigment).or_default();
            *known = known.max(last.dose);
        }
    }
    furthest.into_values().min_by(f64::total_cmp)
}

/// How lightfast the pigments are, the fastest first: by what each did by itself, where it shows most.
#[must_use]
pub fn fastness(aged: &AgedModel) -> Vec<Fastness> {
    let pigments = aged.model().pigments.iter();
    let mut all: Vec<Fastness> = pigments
        .filter_map(|it| {
            let own = aged.own_change(&it.id)?;
            Some(Fastness {
                pigment: it.id.clone(),
                load: own.load,
                de_00: own.de_00,
            })
        })
        .collect();
    all.sort_by(|one, other| {
        (one.de_00.total_cmp(&other.de_00)).then_with(|| one.pigment.cmp(&other.pigment))
    });
    all
}

fn patches<'a>(
    boards: &[&'a Board],
) -> impl Iterator<Item = (&'a Board, &'a crate::fade::report::Patch)> {
    let of = |board: &'a Board| board.patches.iter().map(move |it| (board, it));
    boards.iter().copied().flat_map(of)
}

/// The boards in hours that were exposed in one way; of several ways the one with the most pigments, of equals that of the first board.
fn alike<'a>(
    report: &'a Report,
    coats: &Coats,
    notes: &mut Vec<String>,
) -> Result<Vec<&'a Board>, FadesError> {
    let (by_hour, others): (Vec<&Board>, Vec<&Board>) =
        (report.boards.iter()).partition(|it| it.dose_kind == HOURS);
    if by_hour.is_empty() {
        let kinds: BTreeSet<String> = others.iter().map(|it| it.dose_kind.clone()).collect();
        return Err(if kinds.is_empty() {
            FadesError::Nothing
        } else {
            FadesError::OtherDose {
                kinds: kinds.into_iter().collect(),
            }
        });
    }
    for it in others {
        notes.push(format!(
            "Panel {} was exposed in {}, which isn't turned into hours: its changes aren't used.",
            it.panel, it.dose_kind
        ));
    }
    let mut ways: Vec<Vec<&Board>> = Vec::new();
    for it in by_hour {
        match ways
            .iter_mut()
            .find(|way| way[0].conditions == it.conditions)
        {
            Some(way) => way.push(it),
            None => ways.push(vec![it]),
        }
    }
    let pigments = |way: &[&Board]| {
        let there = patches(way)
            .filter_map(|(board, patch)| coats.get(&(board.panel.clone(), patch.patch.clone())));
        let pigments: BTreeSet<&str> = there
            .flat_map(|it| &it.coat.pigments)
            .map(|it| it.pigment.as_str())
            .collect();
        pigments.len()
    };
    let mut best = 0;
    for index in 1..ways.len() {
        if pigments(&ways[index]) > pigments(&ways[best]) {
            best = index;
        }
    }
    let used = ways.swap_remove(best);
    let names = |way: &[&Board]| {
        let names: Vec<&str> = way.iter().map(|it| it.panel.as_str()).collect();
        names.join(", ")
    };
    for way in &ways {
        notes.push(format!(
            "Panel {} was exposed in another way than {}, whose hours are meant: its changes aren't used.",
            names(way),
            names(&used)
        ));
    }
    Ok(used)
}
