//! The ranking of the range, from most to least fast, as far as it can be told.

use super::interval::{self, Line};
use super::{anchor, sample};
use crate::fade::kinetics::Threshold;
use crate::fade::ranking::{RANKED_BY, Ranked, Ranking, rank};
use crate::fade::report::{Board, Change, Patch};
use crate::fade::wording;
use crate::html::svg;
use maud::{Markup, html};

/// The ranking of a board's colours.
pub(super) fn section(number: usize, board: &Board) -> Markup {
    let ranking = rank(board);
    let controls = board.patches.iter().any(|it| it.control.is_some());
    html! {
        section {
            h2 { "Which colours change fastest" }
            @if board.patches.is_empty() { p { "No patch of this board has a masked half." } }
            (by_dose(number, board, &ranking))
            (by_change(number, board, &ranking))
            @if !ranking.unranked.is_empty() {
                p { "Not ranked, since it could not be measured where the others are compared: " (names(&ranking.unranked)) "." }
            }
            @if ranking.by_dose.len() + ranking.by_change.len() > 1 {
                p.faint { "A place such as 2–4 says that the order within cannot be told: the intervals overlap. That is the cautious way; "
                    "colours with places of their own differ beyond doubt." @if controls { " Controls are not ranked." } }
            }
        }
    }
}

/// Those that reach the threshold at a known dose.
fn by_dose(number: usize, board: &Board, ranking: &Ranking<'_>) -> Markup {
    let list = &ranking.by_dose;
    let unit = wording::unit(&board.dose_kind);
    let lines: Vec<Line> = list
        .iter()
        .map(|it| Line {
            name: it.patch.patch.clone(),
            value: it.by.dose.unwrap_or(f64::NAN),
            low: it.by.low.unwrap_or(0.0),
            high: it.by.high,
            filled: true,
        })
        .collect();
    let title = format!(
        "Dose to ΔE00 {RANKED_BY}: {}",
        texts(list, |it| short(it.patch, it.by))
    );
    html! {
        @if !list.is_empty() {
            h3 { "By the dose after which most people see a change (ΔE00 " (RANKED_BY) ")" }
            (svg(&interval::plot(&lines, super::furthest(board), &format!("{unit} to ΔE00 {RANKED_BY}, with interval; arrow: open"), title)))
            table.plain.ranks {
                thead { tr { th.number scope="col" { "place" } th scope="col" { "patch" } th.number scope="col" { (unit) " (from–to)" } } }
                tbody { @for it in list { tr {
                    td.number { (places(it)) }
                    td { (link(number, it)) }
                    td.number { (short(it.patch, it.by)) }
                } } }
            }
        }
    }
}

/// The others, by how much they changed.
fn by_change(number: usize, board: &Board, ranking: &Ranking<'_>) -> Markup {
    let list = &ranking.by_change;
    let dose = ranking
        .common_dose
        .map(|it| wording::dose(it, &board.dose_kind))
        .unwrap_or_default();
    let lines: Vec<Line> = list
        .iter()
        .map(|it| Line {
            name: it.patch.patch.clone(),
            value: it.by.de_00,
            low: (it.by.de_00 - it.by.u95_de_00).max(0.0),
            high: Some(it.by.de_00 + it.by.u95_de_00),
            filled: it.by.significant,
        })
        .collect();
    let end = lines.iter().filter_map(|it| it.high).fold(1.0, f64::max);
    let title = format!("ΔE00 after {dose}: {}", texts(list, |it| amount(it.by)));
    html! {
        @if !list.is_empty() {
            h3 {
                @if ranking.by_dose.is_empty() { "By the change after " (dose) }
                @else { "The others, by their change after " (dose) ": that dose is beyond what can be said, or not known" }
            }
            (svg(&interval::plot(&lines, end, "ΔE00 with U95; hollow: not told from none", title)))
            table.plain.ranks {
                thead { tr { th.number scope="col" { "place" } th scope="col" { "patch" } th.number scope="col" { "ΔE00" } th scope="col" { "told from none" } } }
                tbody { @for it in list { tr {
                    td.number { (places(it)) }
                    td { (link(number, it)) }
                    td.number { (amount(it.by)) }
                    td { @if it.by.significant { "yes" } @else { "no" } }
                } } }
            }
        }
    }
}

fn texts<T>(list: &[Ranked<'_, T>], text: impl Fn(&Ranked<'_, T>) -> String) -> String {
    let all: Vec<String> = list
        .iter()
        .map(|it| format!("{} {}", it.patch.patch, text(it)))
        .collect();
    all.join("; ")
}

fn short(patch: &Patch, by: Threshold) -> String {
    let course = patch.course.as_ref();
    course.map_or_else(String::new, |it| wording::threshold_in_short(&by, it))
}

fn amount(it: &Change) -> String {
    format!("{:.2} ± {:.2}", it.de_00, it.u95_de_00)
}

fn places<T>(it: &Ranked<'_, T>) -> String {
    let [best, worst] = it.places;
    if best == worst {
        best.to_string()
    } else {
        format!("{best}–{worst}")
    }
}

fn link<T>(board: usize, it: &Ranked<'_, T>) -> Markup {
    html! {
        (sample(it.patch.start_hex.as_deref()))
        a href=(format!("#{}", anchor(board, it.number))) { (it.patch.patch) }
        @if let Some(name) = &it.patch.name { " " (name) }
    }
}

fn names(patches: &[&Patch]) -> String {
    let all: Vec<&str> = patches.iter().map(|it| it.patch.as_str()).collect();
    all.join(", ")
}
