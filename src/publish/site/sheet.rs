//! The range on paper: A4 or Letter, whichever the printer has.

use super::board::made_of;
use super::head;
use super::tint::{class, properties};
use crate::fade::wording;
use crate::publish::range::{Change, Range, Shows, Swatch};
use maud::{Markup, html};

/// Its title.
const TITLE: &str = "To print";

pub(super) fn page(range: &Range) -> String {
    let body = html! {
        h1 dir="auto" { (range.title) }
        p.caution {
            strong { "Print is not the coating. " }
            "Inks, paper and printers show other colours than paint on wood; these fields are a reminder, the numbers are what was measured. Choose by a coated sample, in the light in which it will be seen."
        }
        ol.sheet { @for it in &range.swatches { (entry(it)) } }
        p.faint {
            "L* a* b*: CIELAB, D50, 2°, from photos beside a reference card. ±: U95. Last line: after that exposure, how much it changed beyond what was under a mask. * is more colourful than sRGB: the field is the nearest that it has."
        }
    };
    head::page(range, TITLE, "", None, &body)
}

fn entry(it: &Swatch) -> Markup {
    let tone = &it.tone;
    let u95 = tone
        .u95
        .map(|it| format!(", ±{it:.1} ΔE00"))
        .unwrap_or_default();
    html! {
        li {
            i class=(class(tone)) style=(properties(tone)) {}
            div {
                strong { (it.id) " " bdi { (it.name) } }
                @if tone.shows() != Shows::Srgb { "*" }
                span { bdi { (made_of(it)) } }
                span { (format!("{:.1} / {:.1} / {:.1}{u95}", tone.lab.l, tone.lab.a, tone.lab.b)) }
                @if let Some((exposed, change)) = it.last_change() {
                    span { (wording::dose(change.dose, &exposed.dose_kind)) ": " (changed(change)) }
                }
            }
        }
    }
}

fn changed(it: &Change) -> String {
    if it.told {
        format!("ΔE00 {:.1} ±{:.1}", it.de_00, it.u95)
    } else {
        "no change told".to_owned()
    }
}
