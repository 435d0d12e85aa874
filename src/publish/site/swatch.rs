//! The page of one swatch.

use super::board::{image, made_of};
use super::tint::{class, properties};
use super::{exposed, facts, head, loads};
use crate::publish::range::{Range, Swatch};
use maud::{Markup, html};

/// What leads from a swatch's page to the site's folder.
pub(super) const UP: &str = "../";

pub(super) fn page(range: &Range, it: &Swatch) -> String {
    let made_of = made_of(it);
    let body = html! {
        h1 { b { (it.id) } " " bdi { (it.name) } }
        p.made { bdi { (made_of) } (facts::ground(it)) }
        @for it in &it.text { p dir="auto" { (it) } }
        div.first { (field(it)) (facts::numbers(it)) }
        (facts::words(it))
        @if !it.exposed.is_empty() { (exposed::section(it)) }
        @if !it.loads.is_empty() || !it.lighter.is_empty() { (loads::section(range, it)) }
        (facts::packs(it))
        (facts::measured(it))
        (facts::seen(it))
        (around(range, it))
    };
    head::page(range, &it.name, UP, None, &body)
}

/// The measured colour, with the coat itself in it.
fn field(it: &Swatch) -> Markup {
    let tone = &it.tone;
    html! {
        div class=(format!("field {}", class(tone))) style=(properties(tone)) {
            @match &it.picture {
                Some(picture) => {
                    (image(picture, UP, &format!("The coat of {}, from the photo, evened for light", it.name)))
                    span { "Inside: the coat, from the photo. Around it: the measured mean." }
                }
                None => { span { "The measured mean. No photo of the coat was kept." } }
            }
        }
    }
}

/// The ways to the one before and the one after.
fn around(range: &Range, it: &Swatch) -> Markup {
    let at = range.swatches.iter().position(|other| other.id == it.id);
    let before = at
        .and_then(|it| it.checked_sub(1))
        .and_then(|it| range.swatches.get(it));
    let after = at.and_then(|it| range.swatches.get(it + 1));
    html! {
        nav.around aria-label="Neighbours" {
            @if let Some(it) = before { a href=(format!("{}.html", it.id)) rel="prev" { "← " (it.id) " " bdi { (it.name) } } }
            @if let Some(it) = after { a href=(format!("{}.html", it.id)) rel="next" { (it.id) " " bdi { (it.name) } " →" } }
        }
    }
}
