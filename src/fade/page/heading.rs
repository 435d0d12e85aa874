//! What was exposed, how, and for how long.

use crate::fade::report::Board;
use crate::fade::wording;
use maud::{Markup, html};

/// Facts of a board.
pub(super) fn section(board: &Board) -> Markup {
    let exposures: Vec<String> = board
        .exposures
        .iter()
        .map(|it| match it.photos.len() {
            1 => format!("{} (1 photo)", it.dose),
            n => format!("{} ({n} photos)", it.dose),
        })
        .collect();
    html! {
        dl.facts {
            div { dt { "Board" } dd { (board.panel) } }
            div { dt { "Dose" } dd { (board.dose_kind) } }
            @for it in &board.conditions { div { dt { (it.name) } dd { (it.value) } } }
            div.wide { dt { "Exposures, " (wording::unit(&board.dose_kind)) } dd { (exposures.join(", ")) } }
        }
        @if board.conditions.is_empty() {
            p.faint { "Nothing is stated of site, tilt, glass or lamp: the doses compare with no other board's." }
        }
        (super::list("Doubtful, or left out", &board.notes))
    }
}

/// Which photos it rests on.
pub(super) fn photos(board: &Board) -> Markup {
    let hours = board.dose_kind != "hours" && board.exposures.iter().any(|it| it.hours.is_some());
    html! {
        section {
            h2 { "Photos" }
            table.plain {
                thead { tr {
                    th.number scope="col" { (wording::unit(&board.dose_kind)) }
                    @if hours { th.number scope="col" { "hours" } }
                    th scope="col" { "files" }
                } }
                tbody {
                    @for it in &board.exposures {
                        tr {
                            td.number { (it.dose) }
                            @if hours { td.number { @if let Some(hours) = it.hours { (hours) } @else { "–" } } }
                            td { (it.photos.join(", ")) }
                        }
                    }
                }
            }
        }
    }
}
