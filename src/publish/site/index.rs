//! The range: boards as they lie, each with its key; found, ordered and held beside each other by the page's script.

use super::board;
use super::head;
use super::tint::properties;
use crate::library::gaps::{self, hue, lightness};
use crate::publish::range::{Band, Family, Range, Swatch};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

const SCRIPT: &str = include_str!("range.js");

pub(super) fn page(range: &Range) -> String {
    let body = html! {
        h1 dir="auto" { (range.title) }
        @for it in &range.text { p dir="auto" { (it) } }
        p.faint {
            (count(range.swatches.len())) ", as they lie on the boards that were measured. Each field is a photo of the coat, evened for light; its frame is the measured mean. "
            "± is U95: in 95 of 100 cases the true colour is no farther away."
        }
        (finder(range))
        (styles(range))
        div id="boards" {
            @for it in &range.boards { (board::section(range, it)) }
            (off_board(range))
        }
        ol.key.flat id="flat" hidden {}
        section.held id="held" aria-label="Beside each other" hidden {}
    };
    head::page(range, &range.title, "", Some(SCRIPT), &body)
}

pub(super) fn count(swatches: usize) -> String {
    match swatches {
        1 => "1 colour".to_owned(),
        n => format!("{n} colours"),
    }
}

/// What narrows the range down. Without scripts it is not there, and all colours are.
fn finder(range: &Range) -> Markup {
    let hues: Vec<&str> = (gaps::hues())
        .filter(|name| range.swatches.iter().any(|it| hue(it.tone.lab) == *name))
        .collect();
    let lights: Vec<&str> = (LIGHTS.into_iter())
        .filter(|name| {
            range
                .swatches
                .iter()
                .any(|it| lightness(it.tone.lab) == *name)
        })
        .collect();
    let mut families: Vec<Family> = range
        .swatches
        .iter()
        .flat_map(|it| it.families.clone())
        .collect();
    families.sort_unstable();
    families.dedup();
    let mut bands: Vec<Band> = range.swatches.iter().map(Swatch::band).collect();
    bands.sort_unstable();
    bands.dedup();
    html! {
        form.finder id="finder" role="search" hidden {
            label { "Find" input type="search" id="f-text" autocomplete="off" placeholder="name, pigment, number"; }
            label { "Hue" select id="f-hue" { option value="" { "all" } @for it in hues { option value=(hue_sign(it)) { (it) } } } }
            label { "Lightness" select id="f-light" { option value="" { "all" } @for it in lights { option value=(light_sign(it)) { (it) } } } }
            @if bands.len() > 1 {
                label { "Change at its last exposure" select id="f-band" {
                    option value="" { "all" }
                    @for it in bands { option value=(digit(it)) { (band(it)) } }
                } }
            }
            @if families.len() > 1 {
                label { "Pigments" select id="f-family" {
                    option value="" { "all" }
                    @for it in families { option value=(letter(it)) { (family(it)) } }
                } }
            }
            label { "Order" select id="f-order" {
                option value="" { "as on the boards" }
                option value="light" { "light to dark" }
                option value="hue" { "by hue" }
                option value="chroma" { "most colourful first" }
                option value="band" { "by that change, least first" }
                option value="name" { "by name" }
            } }
            p id="found" role="status" { (count(range.swatches.len())) }
        }
    }
}

/// Each swatch's colour, once.
fn styles(range: &Range) -> Markup {
    let mut css = String::new();
    for it in &range.swatches {
        let _ = write!(css, ".s{}{{{}}}", it.id, properties(&it.tone));
    }
    html! { style { (PreEscaped(css)) } }
}

/// Swatches that no board shows any more.
fn off_board(range: &Range) -> Markup {
    let on_board = |index: usize| {
        let places = range.boards.iter().flat_map(|it| &it.places);
        places.into_iter().any(|it| it.swatch == Some(index))
    };
    let off: Vec<&Swatch> = (range.swatches.iter().enumerate())
        .filter(|it| !on_board(it.0))
        .map(|it| it.1)
        .collect();
    html! {
        @if !off.is_empty() {
            section.plate {
                h2 { "On no board that is described now" }
                ol.key { @for it in off { (board::entry(it)) } }
            }
        }
    }
}

/// How much a colour changed, in words.
pub(super) fn band(it: Band) -> &'static str {
    match it {
        Band::NotExposed => "no change measured",
        Band::NoneTold => "none told from noise",
        Band::Below1 => "less than ΔE00 1",
        Band::Below3 => "ΔE00 1 to 3",
        Band::From3 => "ΔE00 3 or more",
    }
}

/// The same for the script: the least changed first, what is not known last.
pub(super) fn digit(it: Band) -> u8 {
    match it {
        Band::Below1 => 0,
        Band::Below3 => 1,
        Band::From3 => 2,
        // It may be small, or only badly seen.
        Band::NoneTold => 3,
        Band::NotExposed => 4,
    }
}

/// The names of lightness, from the top.
const LIGHTS: [&str; 3] = ["light", "middle", "dark"];

/// A hue for the script: its place around the circle, or `g` for grey.
pub(super) fn hue_sign(name: &str) -> String {
    match gaps::hues().position(|it| it == name) {
        Some(at) if name != "grey" => at.to_string(),
        _ => "g".to_owned(),
    }
}

/// A lightness for the script.
pub(super) fn light_sign(name: &str) -> usize {
    LIGHTS.iter().position(|it| *it == name).unwrap_or_default()
}

fn family(it: Family) -> &'static str {
    match it {
        Family::Yellow => "yellow",
        Family::Orange => "orange",
        Family::Red => "red",
        Family::Violet => "violet",
        Family::Blue => "blue",
        Family::Green => "green",
        Family::Brown => "brown",
        Family::Black => "black",
        Family::White => "white",
        Family::Metal => "metal",
        Family::Other => "other",
    }
}

/// A family for the script.
pub(super) fn letter(it: Family) -> char {
    match it {
        Family::Yellow => 'y',
        Family::Orange => 'o',
        Family::Red => 'r',
        Family::Violet => 'v',
        Family::Blue => 'b',
        Family::Green => 'g',
        Family::Brown => 'n',
        Family::Black => 'k',
        Family::White => 'w',
        Family::Metal => 'm',
        Family::Other => 'x',
    }
}
