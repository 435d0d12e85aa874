//! From records to the report.

use super::change;
use super::entry::{self, Coating, Specimen};
use super::error::FadeError;
use super::history::{self, Board};
use super::moved::{self, Moves};
use super::parts::{self, CoatingChange};
use super::report::{self, Exposure, Fact, FadeFlag, Patch, Report};
use super::scale::{self, Scale};
use super::{difference, drift, swatches, told};
use crate::colour::{Lab, Matrix};
use crate::library::recipe::Recipe;
use crate::panel::Control;
use crate::record::{ControlEntry, PatchEntry, PhotoRecord, Program};
use rayon::prelude::*;

/// What is known beside the records.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Only this panel.
    pub panel: Option<String>,
    /// Only these patches.
    pub patches: Vec<String>,
}

/// How every colour of some boards changed.
///
/// # Errors
/// If nothing of it can be told: see [`FadeError`].
pub fn assess(records: &[PhotoRecord], options: &Options) -> Result<Report, FadeError> {
    assessed(records, options, Courses::Fitted)
}

/// The same of all boards without what is fitted over the dose and pooled over specimens, which is most of the work: the changes alone.
///
/// # Errors
/// If nothing of it can be told: see [`FadeError`].
pub fn changes(records: &[PhotoRecord]) -> Result<Report, FadeError> {
    assessed(records, &Options::default(), Courses::LeftOut)
}

/// Whether models are fitted to what each patch did over the dose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Courses {
    Fitted,
    LeftOut,
}

fn assessed(
    records: &[PhotoRecord],
    options: &Options,
    courses: Courses,
) -> Result<Report, FadeError> {
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
    if !patches().any(has_mask) {
        return Err(FadeError::NoMask { panels: ids });
    }
    for patch in &options.patches {
        let with_mask = patches().filter(|it| has_mask(it));
        let mut have: Vec<String> = with_mask.map(|it| it.id.clone()).collect();
        if !have.contains(patch) {
            have.sort_unstable();
            have.dedup();
            return Err(FadeError::NoPatch {
                patch: patch.clone(),
                have,
            });
        }
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
        let (board, own) = board(it, options, &between, courses);
        if !board.patches.is_empty() {
            entries.push(board);
        }
        specimens.extend(own);
    }
    let swatches = match courses {
        Courses::Fitted => swatches::of(&specimens, &mut notes),
        Courses::LeftOut => Vec::new(),
    };
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

fn board(
    board: &Board<'_>,
    options: &Options,
    between: &Matrix,
    courses: Courses,
) -> (report::Board, Vec<Specimen>) {
    let mut notes = Vec::new();
    let drifted = drifts(board, &mut notes);
    let mut moves = moved::of(board);
    if drifted.contains(&true) {
        // Coats that drift in the dark do so by different amounts: none of them moved on its own.
        moves.forget();
    }
    let scale = scale::of(board, &moves);
    if board.start().is_none() {
        notes.push(
            "no photo before any sun: halves laid by hand differ from the start, and by how much is taken from boards that show it, or from what is usual. Small changes can't be told. Photograph the next board before it goes out."
                .to_owned(),
        );
    }
    for patch in &moves.own {
        let whole = moves.whole(patch);
        notes.push(format!(
            "the masked half of {patch} moved on its own, by {:.0} % (± {:.0} %) of what has come to lie between the halves: did its mask leak, or did heat reach it? Its share is added to the change of the exposed half.",
            100.0 * (whole.mean - 1.0), 200.0 * whole.variance.sqrt()
        ));
    }
    for patch in &moves.unsure {
        let whole = moves.whole(patch);
        notes.push(format!(
            "the mask of {patch} may have leaked (about 1 chance in {:.0}); its masked half alone can't tell. Its change is told larger by {:.0} % (± {:.0} %) than what has come to lie between the halves, and is as unsure: look at how the mask lies, and compare the masked half with a patch that was kept indoors.",
            1.0 / whole.leaked, 100.0 * (whole.mean - 1.0), 200.0 * whole.variance.sqrt()
        ));
    }
    for (patch, times) in &moves.together {
        notes.push(format!(
            "both halves of {patch} seem to have moved together, by {times:.0} times what has come to lie between them: did its mask come off? Or this colour is read apart in other light. Its change is told as if the mask were sound: compare it with a patch that was kept indoors.",
        ));
    }
    let all: Vec<&PatchEntry> = masked(board).collect();
    let specimens: Vec<Specimen> = (all.iter())
        .map(|patch| Specimen {
            asked: options.patches.is_empty() || options.patches.contains(&patch.id),
            ..specimen(board, patch, &moves, &scale, between, &drifted)
        })
        .collect();
    notes.extend(missing(board, &specimens));
    let coating = coating(board, &moves, &scale, between, &specimens, &mut notes);
    // Thousands of draws a change: what costs most.
    let patches: Vec<Patch> = (specimens.par_iter())
        .zip(&all)
        .filter(|it| it.0.asked)
        .map(|(specimen, patch)| entry::patch(specimen, patch, &coating, courses))
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
        not_shown: specimens.iter().filter(|it| !it.asked).count(),
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
        let asked = specimens.iter().filter(|it| it.asked);
        let names: Vec<&str> = (asked.filter(without))
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
        asked: true,
    }
}

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
