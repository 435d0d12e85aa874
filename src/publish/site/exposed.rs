//! What the sun did: both halves through the exposures, one above the other, so that the eye compares them at an edge.

use super::board::image;
use super::swatch::UP;
use crate::fade::wording;
use crate::publish::range::{Change, Exposed, Picture, Swatch};
use maud::{Markup, html};

pub(super) fn section(it: &Swatch) -> Markup {
    html! {
        section {
            h2 { "What exposure did" }
            p.faint {
                "Above, the half that was under a mask; below, the half in the sun or under the lamp. A change is what the one did beyond the other, each within one photo."
            }
            @for exposed in &it.exposed { (course(exposed, it.exposed.len() > 1)) }
        }
    }
}

fn course(it: &Exposed, several: bool) -> Markup {
    let conditions: Vec<String> = (it.conditions.iter())
        .map(|it| format!("{}: {}", it.name, it.value))
        .collect();
    let last = it.changes.last();
    let unit = it.dose_kind.as_str();
    html! {
        @if several { h3 { bdi { (it.panel) " " (it.patch) } } }
        @if let Some(change) = last { p.told { (in_words(change, &it.dose_kind)) } }
        div.scroll tabindex="0" role="region" aria-label=(format!("Exposures of {} {}", it.panel, it.patch)) {
            table.sun {
                thead { tr {
                    th scope="row" { (it.dose_kind) }
                    th.num scope="col" { "0" }
                    @for change in &it.changes { th.num scope="col" { (change.dose) } }
                } }
                tbody {
                    tr.top { th scope="row" { "masked" } (cell(it.start[0].as_ref(), "masked", 0.0, unit)) @for change in &it.changes { (cell(change.halves[0].as_ref(), "masked", change.dose, unit)) } }
                    tr.bottom { th scope="row" { "exposed" } (cell(it.start[1].as_ref(), "exposed", 0.0, unit)) @for change in &it.changes { (cell(change.halves[1].as_ref(), "exposed", change.dose, unit)) } }
                    tr { th scope="row" { "ΔE00" } td.num { "" } @for it in &it.changes { td.num { (format!("{:.1} ±{:.1}", it.de_00, it.u95)) } } }
                    tr { th scope="row" { "told" } td.num { "" } @for it in &it.changes { td.num { (if it.told { "yes" } else { "no" }) } } }
                    tr { th scope="row" { "grey scale" } td.num { "" } @for it in &it.changes { td.num { (it.grade) } } }
                }
            }
        }
        @if !conditions.is_empty() { p.faint { bdi { (conditions.join("; ")) } } }
    }
}

fn cell(picture: Option<&Picture>, half: &str, dose: f64, unit: &str) -> Markup {
    html! {
        td { @match picture {
            Some(it) => { (image(it, UP, &format!("{half} half at {}", wording::dose(dose, unit)))) }
            None => { span.none { "no photo" } }
        } }
    }
}

/// The furthest change as a sentence.
fn in_words(it: &Change, dose_kind: &str) -> String {
    let dose = wording::dose(it.dose, dose_kind);
    let amount = format!("ΔE00 {:.1} ± {:.1}", it.de_00, it.u95);
    if !it.told {
        return format!(
            "After {dose}: no change told from none ({amount}; noise alone stays below {:.1}).",
            it.detection_limit
        );
    }
    let direction = match &it.words[..] {
        [] => "changed".to_owned(),
        words => words.join(", "),
    };
    format!(
        "After {dose}: {direction} ({amount}), {}.",
        wording::seen(it.de_00)
    )
}
