//! A board as it was photographed, with its patches in their places and a key beside it.

use super::index::{digit, letter};
use super::tint::{class, number};
use super::{PICTURES, SWATCHES};
use crate::colour::lab;
use crate::library::gaps::{hue, lightness};
use crate::publish::range::{Board, Picture, Place, Range, Swatch};
use crate::record::csv::word;
use maud::{Markup, html};

pub(super) fn section(range: &Range, board: &Board) -> Markup {
    let title = board.title.as_deref().unwrap_or(&board.panel);
    let mut shown: Vec<usize> = Vec::new();
    for it in board.places.iter().filter_map(|it| it.swatch) {
        if !shown.contains(&it) {
            shown.push(it);
        }
    }
    // In the order of the range.
    shown.sort_unstable();
    let [width, height] = board.size_mm;
    html! {
        section.plate {
            h2 { bdi { (title) } @if let Some(it) = &board.substrate { small { " on " bdi { (it) } } } }
            div.board style=(format!("aspect-ratio:{}/{}", mm(width), mm(height))) {
                @for it in &board.places { (place(range, board, it)) }
            }
            ol.key { @for it in shown { (entry(&range.swatches[it])) } }
        }
    }
}

fn mm(it: f64) -> f64 {
    (it * 10.0).round() / 10.0
}

fn place(range: &Range, board: &Board, it: &Place) -> Markup {
    let share = |value: f64, whole: f64| format!("{:.1}%", 100.0 * value / whole);
    let [x, y, width, height] = it.rect_mm;
    let [w, h] = board.size_mm;
    let style = format!(
        "left:{};top:{};width:{};height:{}",
        share(x, w),
        share(y, h),
        share(width, w),
        share(height, h)
    );
    let swatch = it.swatch.and_then(|it| range.swatches.get(it));
    html! {
        @if let Some(swatch) = swatch {
            a class=(format!("{} s{}", class(&swatch.tone), swatch.id)) href=(link(swatch, "")) style=(style) {
                @if let Some(picture) = &it.picture { (image(picture, "", "")) }
                b { (swatch.id) }
            }
        } @else {
            i style=(style) {}
        }
    }
}

/// A swatch in a key.
pub(super) fn entry(it: &Swatch) -> Markup {
    let u95 = it
        .tone
        .u95
        .map(|it| format!(" ±{it:.1}"))
        .unwrap_or_default();
    let [l, a, b] = [it.tone.lab.l, it.tone.lab.a, it.tone.lab.b].map(|it| number(it, 0));
    html! {
        li class=(format!("{} s{}", class(&it.tone), it.id)) data-v=(sorted_by(it)) {
            a href=(link(it, "")) { b { (it.id) } " " bdi { (it.name) } }
            " " span { bdi { (made_of(it)) } " · L*a*b* " (l) " " (a) " " (b) (u95) }
        }
    }
}

/// What it is made of, for people; empty where the name says that already.
pub(super) fn made_of(it: &Swatch) -> String {
    match it.recipe.control {
        Some(control) => word(&control).replace('-', " "),
        None => it.recipe.in_short(),
    }
}

/// For the script: L*, C*, h, how much it changed, families, hue and lightness by name.
fn sorted_by(it: &Swatch) -> String {
    let Swatch { tone, families, .. } = it;
    let letters: String = families.iter().map(|it| letter(*it)).collect();
    format!(
        "{:.0},{:.0},{:.0},{},{letters},{},{}",
        tone.lab.l,
        lab::chroma(tone.lab),
        lab::hue_degrees(tone.lab),
        digit(it.band()),
        hue(tone.lab),
        lightness(tone.lab)
    )
}

/// The page of a swatch.
pub(super) fn link(it: &Swatch, up: &str) -> String {
    format!("{up}{SWATCHES}/{}.html", it.id)
}

/// A picture that is loaded when it comes into view.
pub(super) fn image(it: &Picture, up: &str, alt: &str) -> Markup {
    html! {
        img src=(format!("{up}{PICTURES}/{}", it.file)) width=(it.width) height=(it.height) loading="lazy" alt=(alt);
    }
}
