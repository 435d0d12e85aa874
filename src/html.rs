//! HTML documents.
//!
//! Text goes through `maud`, which escapes it: a name can be anything.

use crate::drawing::Drawing;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A whole document that needs nothing else. The styles are the program's own, and stand as they are.
pub(crate) fn document(title: &str, styles: &[&str], body: &Markup) -> String {
    page(
        title,
        &html! { style { @for it in styles { (PreEscaped(it)) } } },
        body,
    )
}

/// A whole document with what its head loads.
pub(crate) fn page(title: &str, head: &Markup, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                (head)
            }
            body { (body) }
        }
    };
    // No control character of a name reaches the page.
    let keep = |it: char| {
        if it.is_control() && it != '\n' && it != '\t' {
            char::REPLACEMENT_CHARACTER
        } else {
            it
        }
    };
    page.into_string().chars().map(keep).collect()
}

/// A drawing within a document. What its title says is read out instead of its shapes.
pub(crate) fn svg(drawing: &Drawing) -> Markup {
    let svg = drawing.to_svg();
    // Within HTML there is no XML declaration.
    let svg = svg.find("<svg").map_or("", |at| &svg[at..]);
    PreEscaped(svg.replacen("<svg ", "<svg role=\"img\" ", 1))
}
