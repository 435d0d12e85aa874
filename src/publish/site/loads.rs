//! The same pigments from pale to full: what was measured and what is expected between, side by side without gaps.

use super::board::link;
use super::tint::{beyond_in_short, class, properties};
use crate::publish::range::{Range, Swatch, Tone};
use maud::{Markup, html};

/// A field of the strip.
enum Step<'a> {
    Measured(&'a Swatch),
    Predicted(&'a Tone),
}

pub(super) fn section(range: &Range, it: &Swatch) -> Markup {
    let others = it.loads.iter().filter_map(|of| {
        let swatch = range.swatches.get(of.swatch)?;
        Some((of.load, Step::Measured(swatch)))
    });
    let mut steps: Vec<(f64, Step<'_>)> = others.collect();
    if steps.is_empty() {
        steps.push((it.load(), Step::Measured(it)));
    }
    steps.extend((it.lighter.iter()).map(|it| (it.load, Step::Predicted(&it.tone))));
    steps.sort_by(|a, b| a.0.total_cmp(&b.0));
    html! {
        section {
            h2 { "From pale to full" }
            p.faint {
                "Pigments of the same name in the same proportion, coated in the same way: grams per 100 g of coating. "
                @if !it.lighter.is_empty() {
                    "“Expected” loads were not coated: they are reckoned from those that were, with ± as U95. Coat one before you promise it."
                }
            }
            ol.loads {
                @for (load, step) in &steps {
                    @match step {
                        Step::Measured(of) => li class=(class(&of.tone)) style=(properties(&of.tone)) {
                            @if of.id == it.id {
                                a href=(link(of, super::swatch::UP)) aria-current="page" { (number(*load)) " g" small { "this one" (beyond(&of.tone)) } }
                            } @else {
                                a href=(link(of, super::swatch::UP)) { (number(*load)) " g" small { bdi { (of.name) } (beyond(&of.tone)) } }
                            }
                        },
                        Step::Predicted(tone) => li class=(class(tone)) style=(properties(tone)) {
                            p { (number(*load)) " g" small { "expected" (tone.u95.map(|it| format!(", ±{it:.1} ΔE00")).unwrap_or_default()) (beyond(tone)) } }
                        },
                    }
                }
            }
        }
    }
}

/// That screens can't show it, if so.
fn beyond(tone: &Tone) -> String {
    let words = beyond_in_short(tone);
    words.map(|it| format!(", {it}")).unwrap_or_default()
}

fn number(load: f64) -> String {
    super::tint::number(load, 2)
}
