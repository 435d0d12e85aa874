//! What of the changes comes from the coating, the substrate and the pigments, as far as the controls tell.

use super::sample;
use crate::fade::ranking::controls;
use crate::fade::report::{Board, Change, Parts, Patch};
use crate::fade::wording;
use crate::record::ControlEntry;
use maud::{Markup, html};

/// Hues that count as cool, degrees in a*b*: from green over blue to violet (common practice, no source).
const COOL: [f64; 2] = [150.0, 310.0];
/// Below this chroma there is no hue to speak of.
const LEAST_CHROMA: f64 = 4.0;

/// What the controls say, and what follows for each colour.
pub(super) fn section(board: &Board) -> Markup {
    let clear: Vec<&Patch> = controls(board, ControlEntry::Clear).collect();
    let white: Vec<&Patch> = controls(board, ControlEntry::ClearOnWhite).collect();
    let parts: Vec<(&Patch, &Change, &Parts)> =
        board.patches.iter().filter_map(last_parts).collect();
    // What isn't on the page may be on the board.
    let is_whole = board.not_shown == 0;
    html! {
        section {
            h2 { "Coating, substrate and pigment" }
            @if !is_whole {
                p { "Only some patches of the board are on this page; what its controls say is told with all of them." }
            }
            @if white.is_empty() && is_whole {
                p { "There is no control on an inert white, so what the coating does by itself is not known: every change below is of coating and pigment together." }
            }
            @for it in white { (control(board, it, "The coating by itself, on an inert white")) }
            @if clear.is_empty() && is_whole {
                p { "There is no control of clear coating on the panel's substrate, so what the bare substrate does under the coating is not known." }
            }
            @for it in clear { (control(board, it, "The panel's own substrate under clear coating: coating and substrate together")) }
            @if !parts.is_empty() {
                p { "What the coating alone would do to each colour is worked out through its transmission and is an upper bound: all of it is taken to lie over the pigment. The rest is the pigment's, and the substrate's where it shows through. Figures are of each patch's last exposure." }
                @if let Some(text) = cool(&parts) { p { (text) } }
                table.plain {
                    thead { tr {
                        th scope="col" { "patch" } th.number scope="col" { "after " (wording::unit(&board.dose_kind)) } th.number scope="col" { "ΔE00" }
                        th.number scope="col" { "coating, at most" } th.number scope="col" { "the rest" }
                    } }
                    tbody { @for (patch, change, parts) in &parts { tr {
                        td { (sample(patch.start_hex.as_deref())) (patch.patch) }
                        td.number { (change.dose) }
                        td.number { (format!("{:.2}", change.de_00)) }
                        td.number { (format!("{:.2}", parts.coating_de_00)) }
                        td.number { (format!("{:.2}", parts.rest_de_00)) }
                    } } }
                }
            }
        }
    }
}

fn last_parts(patch: &Patch) -> Option<(&Patch, &Change, &Parts)> {
    let change = patch.changes.last()?;
    Some((patch, change, change.parts.as_ref()?))
}

/// What a control did.
fn control(board: &Board, patch: &Patch, what: &str) -> Markup {
    html! {
        p {
            (sample(patch.start_hex.as_deref())) b { (what) } " (patch " (patch.patch) "): "
            @match patch.changes.last() {
                Some(it) => { "after " (wording::dose(it.dose, &board.dose_kind)) " " (wording::change(it))
                    ", Δb* " (super::signed(it.db))
                    @if let Some(index) = it.yellowness { ", yellowness index " (super::signed(index)) }
                    "." }
                None => "it could not be measured.",
            }
        }
    }
}

/// Whether cool colours show the coating's yellowing most, with figures.
fn cool(parts: &[(&Patch, &Change, &Parts)]) -> Option<String> {
    let (mut cool, mut warm) = (Vec::new(), Vec::new());
    for (patch, _, parts) in parts.iter().filter(|it| it.0.control.is_none()) {
        let Some([_, a, b]) = patch.start else {
            continue;
        };
        let hue = b.atan2(a).to_degrees().rem_euclid(360.0);
        let is_cool = a.hypot(b) >= LEAST_CHROMA && (COOL[0]..=COOL[1]).contains(&hue);
        if is_cool { &mut cool } else { &mut warm }.push(parts.coating_de_00);
    }
    let (of_cool, of_warm) = (mean(&cool)?, mean(&warm)?);
    let figures = format!(
        "a mean ΔE00 of {of_cool:.2} on cool colours (green to violet, {} of them) against {of_warm:.2} on the others ({})",
        cool.len(),
        warm.len()
    );
    Some(if of_cool > of_warm {
        format!("Cool colours show the coating's change most: {figures}.")
    } else {
        format!("Cool colours do not show the coating's change more than others here: {figures}.")
    })
}

fn mean(values: &[f64]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "patches of a board")]
    let count = values.len() as f64;
    (count > 0.0).then(|| values.iter().sum::<f64>() / count)
}
