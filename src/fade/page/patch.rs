//! One patch through all exposures.

use super::common::Common;
use super::crops::{Crop, Strip};
use super::{course, numbers, path, sample, signed};
use crate::fade::kinetics::{Course, ModelName, Threshold};
use crate::fade::report::{Board, Change, FadeFlag, Patch};
use crate::fade::rows::same_dose;
use crate::fade::wording;
use crate::html::svg;
use crate::record::{ControlEntry, Half};
use maud::{Markup, html};

/// Most doses whose columns need not fill the page.
const FEW: usize = 3;

/// A patch's pictures, numbers, plots and words.
pub(super) fn article(
    anchor: &str,
    board: &Board,
    patch: &Patch,
    crops: &[Crop],
    furthest: f64,
    common: &Common<'_>,
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
            div.scroll { table.doses.few[doses.len() <= FEW] {
                thead { tr {
                    th scope="col" { (wording::unit(&board.dose_kind)) }
                    @for it in &doses { th.number scope="col" { (it) } }
                } }
                tbody {
                    (strip.row(Half::Masked, &doses, &board.dose_kind))
                    (strip.row(Half::Exposed, &doses, &board.dose_kind))
                    @if !patch.changes.is_empty() { (numbers::rows(&columns)) }
                }
            } }
            @if let Some(text) = strip.blocks(&doses) { p.faint { (text) } }
            div.plots {
                @if !patch.changes.is_empty() {
                    figure {
                        figcaption { "Change against dose" }
                        (svg(&course::plot(&patch.changes, patch.course.as_ref(), furthest, &board.dose_kind)))
                    }
                    figure {
                        figcaption { @if patch.start.is_some() { "Path of the colour" } @else { "Path of the change (the first colour is not known)" } }
                        (svg(&path::plot(patch.start, &patch.changes, furthest, &board.dose_kind)))
                    }
                }
                (said(board, patch, common))
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
fn said(board: &Board, patch: &Patch, common: &Common<'_>) -> Markup {
    let missing: Vec<String> = board
        .exposed()
        .filter(|it| patch.at(it.dose).is_none())
        .map(|it| it.dose.to_string())
        .collect();
    html! {
        ul.said {
            (changes(&patch.changes, &board.dose_kind))
            @if !missing.is_empty() {
                li { "Could not be measured after " (missing.join(", ")) " " (wording::unit(&board.dose_kind)) "." }
            }
            @match &patch.course {
                Some(it) => {
                    (course_in_words(it, &board.dose_kind))
                    @if !common.has_limit() { li.faint { (limit(it, &board.dose_kind)) } }
                }
                None if patch.changes.is_empty() => "",
                None => li { "No course: that takes two exposures or more after dose 0, and two points give a difference and no curve." },
            }
            (flags(&patch.changes, &board.dose_kind, |it| !common.has_flag(it)))
            @if !common.has_yellowness() && let Some(text) = patch.changes.iter().find_map(no_yellowness) {
                li.faint { "No yellowness index: " (ended(text)) }
            }
        }
    }
}

/// Each change in words; what is the same one after the other is said in one go.
pub(super) fn changes(changes: &[Change], dose_kind: &str) -> Markup {
    let same = |a: &Change, b: &Change| match (a.significant, b.significant) {
        (true, true) => a.words == b.words,
        (a, b) => a == b,
    };
    html! {
        @for run in changes.chunk_by(same) { @match run {
            [it] => li { "After " b { (wording::dose(it.dose, dose_kind)) } ": " (wording::change(it)) "." },
            [first, .., last] => li {
                "After " b { (doses(run)) " " (wording::unit(dose_kind)) } ": "
                @if first.significant {
                    (wording::direction(first)) " (ΔE00 " (range(run, |it| it.de_00)) "; at last "
                    (format!("{:.2} ± {:.2}", last.de_00, last.u95_de_00)) ")."
                } @else {
                    "no change told from none (ΔE00 " (range(run, |it| it.de_00)) "; noise alone stays below "
                    (range(run, |it| it.detection_limit)) ")."
                }
            },
            [] => "",
        } }
    }
}

fn doses<'a>(changes: impl IntoIterator<Item = &'a Change>) -> String {
    let doses: Vec<String> = (changes.into_iter())
        .map(|it| it.dose.to_string())
        .collect();
    doses.join(", ")
}

/// From the least to the largest.
fn range(changes: &[Change], value: fn(&Change) -> f64) -> String {
    let values = || changes.iter().map(value);
    let least = format!("{:.2}", values().fold(f64::INFINITY, f64::min));
    let most = format!("{:.2}", values().fold(f64::NEG_INFINITY, f64::max));
    if least == most {
        least
    } else {
        format!("{least} to {most}")
    }
}

/// The course's thresholds and models. Where one is out of reach, larger ones are, too.
pub(super) fn course_in_words(course: &Course, dose_kind: &str) -> Markup {
    let beyond = |low: f64| low >= course.limit_dose;
    let out_of_reach = |it: &Threshold| it.dose.is_none() && it.low.is_none_or(beyond);
    let all = &course.thresholds;
    let said = match all.iter().position(out_of_reach) {
        None => all.len(),
        Some(0) => 1,
        // The one before says it already, if it is most likely not reached.
        Some(first) => first + usize::from(all[first - 1].dose.is_some()),
    };
    html! {
        @for it in course.thresholds.iter().take(said) { li { (sentence(&wording::threshold(it, course, dose_kind))) } }
        @if !course.models.is_empty() { li.faint { "Models: " (models(course)) "." } }
    }
}

/// What the intervals of a course are, and where it ends.
pub(super) fn limit(course: &Course, dose_kind: &str) -> String {
    let interval = if course.range_over_models {
        "From–to is the range over all models, since fewer than six exposures can't choose between them."
    } else {
        "From–to holds the truth in 95 % of cases."
    };
    let end = if course.limit_reason.is_empty() {
        format!(
            "Nothing is said beyond {}.",
            wording::dose(course.limit_dose, dose_kind)
        )
    } else {
        sentence(&course.limit_reason)
    };
    format!("{interval} {end}")
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
pub(super) fn flags(
    changes: &[Change],
    dose_kind: &str,
    wanted: impl Fn(FadeFlag) -> bool,
) -> Markup {
    let mut all: Vec<FadeFlag> = changes.iter().flat_map(|it| it.flags.clone()).collect();
    all.sort_unstable();
    all.dedup();
    all.retain(|it| wanted(*it));
    let with = |flag: FadeFlag| {
        let with = || changes.iter().filter(move |it| it.flags.contains(&flag));
        if with().count() == changes.len() {
            "each exposure".to_owned()
        } else {
            format!("{} {}", doses(with()), wording::unit(dose_kind))
        }
    };
    html! {
        @for it in all { li { b { (it.name()) } " (" (with(it)) "): " (wording::flag(it)) } }
    }
}

/// Why a change has no yellowness index, if a reason is given.
pub(super) fn no_yellowness(it: &Change) -> Option<&str> {
    Some(it.why_no_yellowness.as_str())
        .filter(|reason| it.yellowness.is_none() && !reason.is_empty())
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let text = ended(text);
    let mut letters = text.chars();
    let first = letters.next().map(|it| it.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

/// With a full stop.
pub(super) fn ended(text: &str) -> String {
    format!("{}.", text.trim_end_matches('.'))
}
