//! Swatches over their specimens.

use super::{course, numbers, patch};
use crate::fade::report::{Change, Swatch};
use crate::fade::wording;
use crate::html::svg;
use maud::{Markup, html};

/// All swatches with specimens on several boards.
pub(super) fn section(swatches: &[Swatch]) -> Markup {
    html! {
        @if !swatches.is_empty() {
            section {
                h2 { "Swatches over all of their specimens" }
                p { "The mean over the specimens; what they differ by is in the uncertainty." }
                @for it in swatches { (article(it)) }
            }
        }
    }
}

fn article(swatch: &Swatch) -> Markup {
    let columns: Vec<Option<Option<&Change>>> =
        swatch.changes.iter().map(|it| Some(Some(it))).collect();
    let limit = swatch.course.as_ref().map_or(0.0, |it| it.limit_dose);
    let furthest = swatch
        .changes
        .iter()
        .map(|it| it.dose)
        .fold(limit, f64::max);
    html! {
        article {
            h3 { (swatch.swatch) }
            p.of { (swatch.specimens.join(", ")) "; dose in " (swatch.dose_kind) }
            div.scroll { table.doses {
                thead { tr {
                    th scope="col" { (wording::unit(&swatch.dose_kind)) }
                    @for it in &swatch.changes { th.number scope="col" { (it.dose) } }
                } }
                tbody { (numbers::rows(&columns)) }
            } }
            div.plots.two {
                figure {
                    figcaption { "Change against dose" }
                    (svg(&course::plot(&swatch.changes, swatch.course.as_ref(), furthest.max(f64::MIN_POSITIVE), &swatch.dose_kind)))
                }
                ul.said {
                    (patch::changes(&swatch.changes, &swatch.dose_kind))
                    @if let Some(it) = &swatch.course { (patch::course_in_words(it, &swatch.dose_kind)) li.faint { (patch::limit(it, &swatch.dose_kind)) } }
                    (patch::flags(&swatch.changes, &swatch.dose_kind, |_| true))
                }
            }
        }
    }
}
