//! From records to the report.

use super::change::{self, Changed, Course};
use super::history::{self, Board};
use super::kinetics::{self, Point, Points};
use super::moved::{self, Moves};
use super::parts::{self, CoatingChange};
use super::report::{self, Change, Exposure, Fact, FadeFlag, Patch, Report};
use super::scale::{self, Scale};
use super::{difference, drift, swatches, told, words};
use crate::colour::{
    Lab, Matrix, difference as colour_difference, grey_scale, lightfastness, srgb, yellowness,
};
use crate::library::recipe::Recipe;
use crate::panel::Control;
use crate::record::{ControlEntry, PatchEntry, PhotoRecord, Program};
use nalgebra::Vector3;
use rayon::prelude::*;

/// What is known beside the records.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Only this panel.
    pub panel: Option<String>,
    /// Only these patches.
    pub patches: Vec<String>,
}

/// Why there is no report.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FadeError {
    /// No records.
    #[error("there is no measured photo to compare")]
    NoRecords,
    /// The panel isn't among them.
    #[error("no photo of panel `{panel}` is among the records{}", there(have))]
    NoPanel {
        /// Asked for.
        panel: String,
        /// What there is.
        have: Vec<String>,
    },
    /// A patch isn't on any panel.
    #[error("no panel has a patch `{patch}`")]
    NoPatch {
        /// Asked for.
        patch: String,
    },
    /// A patch is not half masked.
    #[error("patch `{patch}` has no masked half, so that no change can be told from the camera's")]
    NotMasked {
        /// Asked for.
        patch: String,
    },
    /// Nothing is half masked.
    #[error("no patch of {} has a masked half, so that no change can be told from the camera's", panels.join(", "))]
    NoMask {
        /// The panels.
        panels: Vec<String>,
    },
    /// No dose.
    #[error("no photo of {} states a dose after zero", panels.join(", "))]
    NoDose {
        /// The panels.
        panels: Vec<String>,
    },
}

fn there(have: &[String]) -> String {
    if have.is_empty() {
        String::new()
    } else {
        format!("; there are {}", have.join(", "))
    }
}

impl FadeError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoRecords => {
                "Measure the photos first: masstone measure --series FILE --out readings.json."
            }
            Self::NoPanel { .. } => "Check the panel's id, or leave --panel out.",
            Self::NoPatch { .. } => "`masstone panel show` lists the ids of a panel's patches.",
            Self::NotMasked { .. } | Self::NoMask { .. } => {
                "State in the panel file which half was masked (masked = \"left\"), and measure the photos again."
            }
            Self::NoDose { .. } => {
                "Measure the later photos with --hours, or all of them with a series file (--series)."
            }
        }
    }
}

/// How every colour of some boards changed.
///
/// # Errors
/// If nothing of it can be told: see [`FadeError`].
pub fn assess(records: &[PhotoRecord], options: &Options) -> Result<Report, FadeError> {
    if records.is_empty() {
        return Err(FadeError::NoRecords);
    }
    let mut ids: Vec<String> = records.iter().map(|it| it.photo.panel.id.clone()).collect();
    ids.sort_unstable();
    ids.dedup();
    if let Some(panel) = &options.panel {
        if !ids.contains(panel) {
            return Err(FadeError::NoPanel {
                panel: panel.clone(),
                have: ids,
            });
        }
        ids = vec![panel.clone()];
    }
    let wanted = |id: &str| options.panel.as_ref().is_none_or(|it| it == id);
    let patches = || {
        let panels = records.iter().map(|it| &it.photo.panel);
        panels
            .filter(|it| wanted(&it.id))
            .flat_map(|it| &it.patches)
    };
    for patch in &options.patches {
        let patch = || patch.clone();
        let mut named = patches().filter(|it| it.id == patch()).peekable();
        if named.peek().is_none() {
            return Err(FadeError::NoPatch { patch: patch() });
        }
        if !named.any(has_mask) {
            return Err(FadeError::NotMasked { patch: patch() });
        }
    }
    if !patches().any(has_mask) {
        return Err(FadeError::NoMask { panels: ids });
    }
    let (mut boards, notes) = history::boards(records);
    // From all boards: a report of one of them has the same numbers.
    let between = change::between_halves(&boards);
    boards.retain(|it| wanted(&it.panel.id));
    if !boards.iter().any(|it| it.later().next().is_some()) {
        return Err(FadeError::NoDose { panels: ids });
    }
    let mut notes: Vec<String> = (notes.into_iter())
        .filter(|it| wanted(it.0))
        .map(|it| it.1)
        .collect();
    let mut entries = Vec::new();
    let mut specimens = Vec::new();
    for it in &boards {
        if it.later().next().is_none() {
            notes.push(format!(
                "`{}` has photos before any sun only: no change yet",
                it.panel.id
            ));
            continue;
        }
        let (board, own) = board(it, options, &between);
        entries.push(board);
        specimens.extend(own);
    }
    let swatches = swatches::of(&specimens, &mut notes);
    Ok(Report {
        schema: report::SCHEMA,
        program: Program::this(),
        boards: entries,
        swatches,
        notes,
    })
}

/// Patches that are there and have a mask.
fn masked<'a>(board: &Board<'a>) -> impl Iterator<Item = &'a PatchEntry> {
    board.panel.patches.iter().filter(|it| has_mask(it))
}

fn has_mask(patch: &PatchEntry) -> bool {
    !patch.empty && patch.masked.is_some()
}

/// One specimen, for what is told over several.
#[derive(Clone, Debug)]
pub(super) struct Specimen {
    /// What it is of; none where the panel file leaves that open.
    pub(super) recipe: Option<Recipe>,
    pub(super) kind: String,
    /// `panel patch`.
    pub(super) name: String,
    /// The patch's id.
    patch: String,
    /// What tints it, for people; empty where nobody said.
    made_of: String,
    pub(super) control: Option<ControlEntry>,
    pub(super) course: Course,
}

fn board(board: &Board<'_>, options: &Options, between: &Matrix) -> (report::Board, Vec<Specimen>) {
    let mut notes = Vec::new();
    let drifted = drifts(board, &mut notes);
    let mut moves = moved::of(board);
    if drifted.contains(&true) {
        // Coats that drift in the dark do so by different amounts: none of them moved on its own.
        moves.own.clear();
    }
    let scale = scale::of(board, &moves);
    if board.start().is_none() {
        notes.push(
            "no photo before any sun: halves laid by hand differ from the start, and by how much is taken from boards that show it, or from what is usual. Small changes can't be told. Photograph the next board before it goes out."
                .to_owned(),
        );
    }
    for (patch, own) in &moves.own {
        notes.push(format!(
            "the masked half of {patch} moved on its own, by {:.0} % (± {:.0} %) of what has come to lie between the halves: did its mask leak, or did heat reach it? Its share is added to the change of the exposed half.",
            100.0 * own.share, 200.0 * own.sd
        ));
    }
    let asked: Vec<&PatchEntry> = masked(board)
        .filter(|it| options.patches.is_empty() || options.patches.contains(&it.id))
        .collect();
    let specimens: Vec<Specimen> = (asked.iter())
        .map(|patch| specimen(board, patch, &moves, &scale, between, &drifted))
        .collect();
    notes.extend(missing(board, &specimens));
    let coating = coating(board, &moves, &scale, between, &specimens, &mut notes);
    // Thousands of draws a change: what costs most.
    let patches: Vec<Patch> = (specimens.par_iter())
        .zip(&asked)
        .map(|(specimen, patch)| self::patch(specimen, patch, &coating))
        .collect();
    notes.extend(of_controls(board));
    let entry = report::Board {
        panel: board.panel.id.clone(),
        title: board.panel.title.clone(),
        dose_kind: board.kind.clone(),
        conditions: conditions(board),
        exposures: board
            .exposures
            .iter()
            .map(|it| Exposure {
                dose: it.dose,
                hours: it.hours,
                photos: it.photos.iter().map(|it| it.photo.path.clone()).collect(),
            })
            .collect(),
        patches,
        notes,
    };
    (entry, specimens)
}

/// At which later exposures patches have no change, with a note each: a row that is missing says nothing.
fn missing(board: &Board<'_>, specimens: &[Specimen]) -> Vec<String> {
    let at = |exposure: &history::Exposure<'_>| {
        let without = |it: &&Specimen| {
            let mut changes = it.course.changes.iter();
            !changes.any(|it| it.dose.total_cmp(&exposure.dose).is_eq())
        };
        let names: Vec<&str> = (specimens.iter().filter(without))
            .map(|it| it.patch.as_str())
            .collect();
        (!names.is_empty()).then(|| {
            format!(
                "at {} no photo shows both halves of {} well (glare, clipping, the edge of a shadow, or not at all), so that no change is told: photograph it again in even light.",
                dose_words(exposure.dose, &board.kind),
                names.join(", ")
            )
        })
    };
    board.later().filter_map(at).collect()
}

/// How the board was exposed, as the series file stated it when its latest photos were measured.
fn conditions(board: &Board<'_>) -> Vec<Fact> {
    let photos = board.exposures.iter().rev().flat_map(|it| &it.photos);
    let stated = photos.filter_map(|it| it.photo.exposure.as_ref()).next();
    stated.map_or_else(Vec::new, |it| it.conditions.clone())
}

/// A dose for people.
fn dose_words(dose: f64, kind: &str) -> String {
    format!("{dose} {kind}")
}

/// At which later exposures all masked halves have drifted, in order, with a note each.
fn drifts(board: &Board<'_>, notes: &mut Vec<String>) -> Vec<bool> {
    let found = drift::of(board);
    for (exposure, drifted) in board.later().zip(&found) {
        if let Some(drift::Drifted { lab, size }) = drifted {
            notes.push(format!(
                "at {} all masked halves have drifted against the card by about {size:.1} ΔE00 (ΔL* {:+.1}, Δa* {:+.1}, Δb* {:+.1}): coatings yellow in the dark, too. Changes are told against the masked half, not against the colour as made.",
                dose_words(exposure.dose, &board.kind), lab.x, lab.y, lab.z
            ));
        }
    }
    found.iter().map(Option::is_some).collect()
}

fn specimen(
    board: &Board<'_>,
    patch: &PatchEntry,
    moves: &Moves,
    scale: &Scale,
    between: &Matrix,
    drifted: &[bool],
) -> Specimen {
    let mut course = change::of(board, &patch.id, moves, scale, between);
    for (exposure, drifted) in board.later().zip(drifted) {
        for it in &mut course.changes {
            if *drifted && it.dose.total_cmp(&exposure.dose).is_eq() {
                it.flags.push(FadeFlag::CommonDrift);
                it.flags.sort_unstable();
            }
        }
    }
    let recipe = Recipe::of(board.panel, patch);
    let made_of = if recipe.pigments.is_empty() && recipe.control.is_none() {
        String::new()
    } else {
        recipe.in_short()
    };
    Specimen {
        made_of,
        recipe: recipe.is_complete().then_some(recipe),
        kind: board.kind.clone(),
        name: format!("{} {}", board.panel.id, patch.id),
        patch: patch.id.clone(),
        control: patch.control,
        course,
    }
}

/// The coating's change at each dose, from the control on an inert white.
type Coating = Vec<(f64, CoatingChange)>;

/// `specimens` are those on which the coating's change may show.
fn coating(
    board: &Board<'_>,
    moves: &Moves,
    scale: &Scale,
    between: &Matrix,
    specimens: &[Specimen],
    notes: &mut Vec<String>,
) -> Coating {
    let mut patches = board.panel.patches.iter();
    let on_white = |it: &&PatchEntry| !it.empty && it.control == Some(ControlEntry::ClearOnWhite);
    let Some(control) = patches.find(on_white) else {
        notes.push(
            "no control on an inert white: what the coating alone does can't be told from pigment and substrate. Coat one patch of clear coating on a white primer next time (control = \"clear-on-white\")."
                .to_owned(),
        );
        return Vec::new();
    };
    let course = change::of(board, &control.id, moves, scale, between);
    let (Some(start), Some(last)) = (course.start, course.changes.last()) else {
        notes.push(format!(
            "control {}: no later photo shows both its halves, so that what the coating alone does can't be told. See what the photos' own notes say of it.",
            control.id
        ));
        return Vec::new();
    };
    let start = difference::lab(&start);
    let mut found = Vec::new();
    for it in &course.changes {
        match CoatingChange::of_control(start, it.lab) {
            Ok(change) => found.push((it.dose, change)),
            Err(error) => {
                notes.push(format!("{}: {error}", control.id));
                return found;
            }
        }
    }
    let told = told::told(start, last.lab, &(last.own + course.shared), None);
    if !told.is_some_and(|it| it.significant) {
        notes.push(format!(
            "control {}: its change at {} isn't told from none, so that the coating's part of each change may be noise.",
            control.id,
            dose_words(last.dose, &board.kind)
        ));
        return found;
    }
    let colours: Vec<(String, Lab)> = (specimens.iter())
        .filter(|it| it.control.is_none())
        .filter_map(|it| Some((it.patch.clone(), difference::lab(&it.course.start?))))
        .collect();
    let most = found
        .last()
        .and_then(|it| parts::shows_most(&it.1, &colours));
    notes.extend(most.map(|it| format!("at {}: {it}", dose_words(last.dose, &board.kind))));
    found
}

/// What each control's change is a change of, in words.
fn of_controls(board: &Board<'_>) -> Vec<String> {
    let of = |entry: &PatchEntry| {
        let control = match entry.control? {
            ControlEntry::Clear => Control::Clear,
            ControlEntry::ClearOnWhite => Control::ClearOnWhite,
        };
        let tells = parts::tells_of(control);
        Some(format!(
            "control {}: its change is that of {tells}",
            entry.id
        ))
    };
    masked(board).filter_map(of).collect()
}

fn patch(specimen: &Specimen, entry: &PatchEntry, coating: &Coating) -> Patch {
    let start = specimen.course.start;
    Patch {
        patch: entry.id.clone(),
        name: entry.name.clone(),
        made_of: specimen.made_of.clone(),
        control: entry.control,
        start: start.map(Into::into),
        start_hex: start.map(|it| srgb::to_hex(difference::lab(&it))),
        changes: start.map_or_else(Vec::new, |start| {
            let all = specimen.course.changes.iter();
            all.filter_map(|it| {
                change_entry(
                    &start,
                    it,
                    &specimen.course.shared,
                    specimen.control,
                    coating,
                )
            })
            .collect()
        }),
        course: course(&specimen.course),
    }
}

/// The course over the dose; none where there is none to tell.
pub(super) fn course(course: &Course) -> Option<kinetics::Course> {
    let start = difference::lab(&course.start?);
    let points = course.changes.iter().map(|it| Point {
        dose: it.dose,
        change: it.lab.into(),
        covariance: it.own + it.scale * (1.0 - scale::SHARED),
    });
    kinetics::course(&Points {
        start,
        points: points.collect(),
        shared: course.shared,
        scale: course.scale,
    })
}

/// A change in all its figures; none for what is no number.
pub(super) fn change_entry(
    start: &Vector3<f64>,
    changed: &Changed,
    shared: &Matrix,
    control: Option<ControlEntry>,
    coating: &Coating,
) -> Option<Change> {
    let covariance = changed.own + changed.scale + shared;
    let (before, after) = (
        difference::lab(start),
        difference::lab(&(start + changed.lab)),
    );
    let told = told::told(before, changed.lab, &covariance, None)?;
    // Where nothing changed the scale has nothing to be off by: noise alone is what none is told from.
    let none = told::by_noise(before, changed.lab, &(changed.own + shared))?;
    let split = colour_difference::parts(before, after);
    let de_ab = changed.lab.norm();
    let (yellowness, why_no_yellowness) = of_yellowness(before, after, control);
    let by_coating = coating
        .iter()
        .find(|it| control.is_none() && it.0.total_cmp(&changed.dose).is_eq())
        .and_then(|it| parts::parts(before, changed.lab, &it.1).ok());
    Some(Change {
        dose: changed.dose,
        hours: changed.hours,
        photos: changed.photos,
        dl: changed.lab.x,
        da: changed.lab.y,
        db: changed.lab.z,
        dc: split.chroma,
        dh: split.hue,
        de_ab,
        de_00: told.de_00,
        u95_de_00: told.u95,
        interval_de_00: told.interval,
        detection_limit: none.detection_limit,
        significant: none.significant,
        p: none.p,
        covariance: [0, 1, 2].map(|i| [0, 1, 2].map(|j| covariance[(i, j)])),
        words: (words::words(before, changed.lab, &covariance, none.significant).iter())
            .map(|it| it.name().to_owned())
            .collect(),
        grade: grey_scale::grade(before, after).name().to_owned(),
        band: lightfastness::band(de_ab).name().to_owned(),
        yellowness,
        why_no_yellowness,
        unevenness: changed.unevenness,
        parts: by_coating,
        flags: changed.flags.clone(),
    })
}

/// Change of the yellowness index, or why there is none.
fn of_yellowness(before: Lab, after: Lab, control: Option<ControlEntry>) -> (Option<f64>, String) {
    if control != Some(ControlEntry::ClearOnWhite) {
        let why = "the index is for a coated white only; see the change of b*";
        return (None, why.to_owned());
    }
    let both = || {
        yellowness::suits(before)?;
        yellowness::suits(after)
    };
    if let Err(why) = both() {
        return (None, why.to_string());
    }
    match (
        yellowness::yellowness(before),
        yellowness::yellowness(after),
    ) {
        (Some(before), Some(after)) => (Some(after - before), String::new()),
        _ => (None, "the colour is black".to_owned()),
    }
}
