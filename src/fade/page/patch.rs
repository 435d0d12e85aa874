//! One patch through all exposures.

use super::crops::{Crop, Strip};
use super::{course, numbers, path, sample, signed};
use crate::fade::kinetics::{Course, ModelName};
use crate::fade::report::{Board, Change, FadeFlag, Patch};
use crate::fade::rows::same_dose;
use crate::fade::words;
use crate::html::svg;
use crate::record::{ControlEntry, Half};
use maud::{Markup, html};

/// A patch's pictures, numbers, plots and words.
pub(super) fn article(
    anchor: &str,
    board: &Board,
    patch: &Patch,
    crops: &[Crop],
    furthest: f64,
) -> Markup {
    let doses: Vec<f64> = board.exposures.iter().map(|it| it.dose).collect();
    let columns: Vec<Option<Option<&Change>>> = doses
        .iter()
        .map(|it| (!same_dose(*it, 0.0)).then(|| patch.at(*it)))
        .collect();
    let strip = Strip::new(board, patch, crops);
    html! {
        article id=(anchor) {
            h3 { (sample(patch.start_hex.as_deref())) (patch.patch) @if let Some(name) = &patch.name { ": " (name) } }
            p.of { (of(patch)) }
            div.scroll { table.doses {
                thead { tr {
                    th scope="col" { (words::unit(&board.dose_kind)) }
                    @for it in &doses { th.number scope="col" { (it) } }
                } }
                tbody {
                    (strip.row(Half::Masked, &doses, &board.dose_kind))
                    (strip.row(Half::Exposed, &doses, &board.dose_kind))
                    (numbers::rows(&columns))
                }
            } }
            @if let Some(text) = strip.blocks(&doses) { p.faint { (text) } }
            div.plots {
                figure {
                    figcaption { "Change against dose" }
                    (svg(&course::plot(&patch.changes, patch.course.as_ref(), furthest, &board.dose_kind)))
                }
                figure {
                    figcaption { @if patch.start.is_some() { "Path of the colour" } @else { "Path of the change (the first colour is not known)" } }
                    (svg(&path::plot(patch.start, &patch.changes, furthest, &board.dose_kind)))
                }
                (said(board, patch))
            }
        }
    }
}

/// What it is made of, and where its colour begins.
fn of(patch: &Patch) -> String {
    let mut facts = Vec::new();
    if !patch.made_of.is_empty() {
        facts.push(patch.made_of.clone());
    }
    match patch.control {
        Some(ControlEntry::Clear) => {
            facts.push("control: coating and substrate together".to_owned());
        }
        Some(ControlEntry::ClearOnWhite) => {
            facts.push("control: the coating by itself".to_owned());
        }
        None => (),
    }
    facts.push(patch.start.map_or_else(
        || "the masked half could not be measured".to_owned(),
        |[l, a, b]| {
            format!(
                "from L* {l:.2}, a* {}, b* {}",
                signed(a).replace('+', ""),
                signed(b).replace('+', "")
            )
        },
    ));
    facts.join("; ")
}

/// Everything about it that is a sentence.
fn said(board: &Board, patch: &Patch) -> Markup {
    let missing: Vec<String> = board
        .exposed()
        .filter(|it| patch.at(it.dose).is_none())
        .map(|it| it.dose.to_string())
        .collect();
    html! {
        ul.said {
            (changes(&patch.changes, &board.dose_kind))
            @if !missing.is_empty() {
                li { "Could not be measured after " (missing.join(", ")) " " (words::unit(&board.dose_kind)) "." }
            }
            @match &patch.course {
                Some(it) => (course_in_words(it, &board.dose_kind)),
                None => li { "No course: that takes two exposures or more after dose 0, and two points give a difference and no curve." },
            }
            (flags(&patch.changes, &board.dose_kind))
            @if let Some(text) = yellowness(&patch.changes) { li.faint { (text) } }
        }
    }
}

/// Each change in words.
pub(super) fn changes(changes: &[Change], dose_kind: &str) -> Markup {
    html! {
        @for it in changes {
            li { "After " b { (words::dose(it.dose, dose_kind)) } ": " (words::change(it)) "." }
        }
    }
}

/// The course's thresholds, what they rest on, and where it ends.
pub(super) fn course_in_words(course: &Course, dose_kind: &str) -> Markup {
    let interval = if course.range_over_models {
        "From–to is the range over all models, since fewer than six exposures can't choose between them."
    } else {
        "From–to holds the truth in 95 % of cases."
    };
    html! {
        @for it in &course.thresholds { li { (sentence(&words::threshold(it, course, dose_kind))) } }
        li.faint {
            (interval) " Nothing is said beyond " (words::dose(course.limit_dose, dose_kind)) @if course.limit_reason.is_empty() { "." } @else { ": " (course.limit_reason) }
            @if !course.models.is_empty() { " Models: " (models(course)) "." }
        }
    }
}

fn models(course: &Course) -> String {
    let all: Vec<String> = course
        .models
        .iter()
        .map(|it| {
            let name = match it.name {
                ModelName::None => "no change",
                ModelName::Linear => "in proportion to the dose",
                ModelName::Plateau => "to a plateau",
                ModelName::Power => "a power of the dose",
            };
            format!("{name} {:.0} %", 100.0 * it.weight)
        })
        .collect();
    all.join(", ")
}

/// Each flag once, with the doses that have it.
pub(super) fn flags(changes: &[Change], dose_kind: &str) -> Markup {
    let mut all: Vec<FadeFlag> = changes.iter().flat_map(|it| it.flags.clone()).collect();
    all.sort_unstable();
    all.dedup();
    let doses = |flag: FadeFlag| {
        let with: Vec<&Change> = (changes.iter())
            .filter(|it| it.flags.contains(&flag))
            .collect();
        if with.len() == changes.len() {
            return "all exposures".to_owned();
        }
        let doses: Vec<String> = with.iter().map(|it| it.dose.to_string()).collect();
        format!("{} {}", doses.join(", "), words::unit(dose_kind))
    };
    html! {
        @for it in all { li { b { (it.name()) } " (" (doses(it)) "): " (words::flag(it)) } }
    }
}

/// Why there is no yellowness index; the index itself is in the table.
fn yellowness(changes: &[Change]) -> Option<String> {
    let reason = changes.iter().find(|it| it.yellowness.is_none())?;
    let reason = reason.why_no_yellowness.as_str();
    (!reason.is_empty()).then(|| format!("No yellowness index: {reason}"))
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|it| it.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}
