//! A board as it was photographed, with its patches in their places and a key beside it.

use super::index::{digit, hue_sign, letter, light_sign};
use super::tint::{beyond_in_short, number, wide};
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
    let usual = Extent::of(board, board.places.first());
    html! {
        section.plate {
            h2 { bdi { (title) } @if let Some(it) = &board.substrate { small { " on " bdi { (it) } } } }
            div.board style=(format!("aspect-ratio:{}/{};{}", mm(width), mm(height), usual.css())) {
                @for it in &board.places { (place(range, board, it, &usual)) }
            }
            ol.key { @for it in shown { (entry(&range.swatches[it])) } }
        }
    }
}

fn mm(it: f64) -> f64 {
    (it * 10.0).round() / 10.0
}

/// How large a patch is beside its board, in per cent.
#[derive(PartialEq)]
struct Extent(String, String);

impl Extent {
    fn of(board: &Board, place: Option<&Place>) -> Self {
        let [_, _, width, height] = place.map(|it| it.rect_mm).unwrap_or_default();
        let [w, h] = board.size_mm;
        Self(share(width, w), share(height, h))
    }

    fn css(&self) -> String {
        format!("--w:{};--h:{}", self.0, self.1)
    }
}

fn share(value: f64, whole: f64) -> String {
    format!("{}%", number(100.0 * value / whole, 1))
}

fn place(range: &Range, board: &Board, it: &Place, usual: &Extent) -> Markup {
    let [x, y, ..] = it.rect_mm;
    let [w, h] = board.size_mm;
    let mut style = format!("left:{};top:{}", share(x, w), share(y, h));
    let extent = Extent::of(board, Some(it));
    // Most patches of a board are alike: their size stands once.
    if extent != *usual {
        style = format!("{style};{}", extent.css());
    }
    let swatch = it.swatch.and_then(|it| range.swatches.get(it));
    html! {
        @if let Some(swatch) = swatch {
            a class=(format!("{}s{}", wide(&swatch.tone), swatch.id)) href=(link(swatch, "")) style=(style) {
                @if let Some(picture) = &it.picture { img src=(format!("{PICTURES}/{}", picture.file)) loading="lazy" alt=""; }
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
        .map(|it| format!(", ±{it:.1} ΔE00"))
        .unwrap_or_default();
    let [l, a, b] = [it.tone.lab.l, it.tone.lab.a, it.tone.lab.b].map(|it| number(it, 0));
    html! {
        li class=(format!("{}s{}", wide(&it.tone), it.id)) data-v=(sorted_by(it)) {
            a href=(link(it, "")) { b { (it.id) } " " bdi { (it.name) } }
            " " span { bdi { (made_of(it)) } " · L*a*b* " (l) " " (a) " " (b) (u95) @if let Some(it) = beyond_in_short(&it.tone) { " · " (it) } }
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

/// For the script: L*, C*, h, how much it changed, families, hue and lightness.
fn sorted_by(it: &Swatch) -> String {
    let Swatch { tone, families, .. } = it;
    let letters: String = families.iter().map(|it| letter(*it)).collect();
    format!(
        "{:.0},{:.0},{:.0},{},{letters},{},{}",
        tone.lab.l,
        lab::chroma(tone.lab),
        lab::hue_degrees(tone.lab),
        digit(it.band()),
        hue_sign(hue(tone.lab)),
        light_sign(lightness(tone.lab))
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
