//! A measured colour in CSS: as `lab()` where the screen can show it, else as the nearest that it can, by CSS Color 4.

use super::contrast;
use crate::colour::srgb::{RgbSpace, encode, map_to_gamut, to_rgb8};
use crate::publish::range::{Shows, Tone};

/// The declarations that a painted element needs beside the class of [`class`]: custom properties only.
pub(super) fn properties(tone: &Tone) -> String {
    let hex = tone.hex();
    let ink = contrast::ink(to_rgb8(tone.lab));
    let ink = if ink == "#fff" { ";--ink:#fff" } else { "" };
    match tone.shows() {
        Shows::Srgb | Shows::DisplayP3 => format!("--s:{hex};--l:{}{ink}", lab(tone)),
        Shows::Neither => {
            let mapped = map_to_gamut(RgbSpace::DisplayP3, tone.lab).linear;
            let [r, g, b] = mapped.map(|it| number(encode(it), 5));
            format!("--s:{hex};--l:color(display-p3 {r} {g} {b}){ink}")
        }
    }
}

/// The class that paints it: `c` everywhere; `c w` with the wide colour only where the screen has it.
pub(super) fn class(tone: &Tone) -> &'static str {
    match tone.shows() {
        Shows::Srgb => "c",
        Shows::DisplayP3 | Shows::Neither => "c w",
    }
}

/// As CSS writes it.
pub(super) fn lab(tone: &Tone) -> String {
    let [l, a, b] = [tone.lab.l, tone.lab.a, tone.lab.b].map(|it| number(it, 3));
    format!("lab({l} {a} {b})")
}

/// The same where an element is painted anyway: only what is not for every screen.
pub(super) fn wide(tone: &Tone) -> &'static str {
    if tone.shows() == Shows::Srgb {
        ""
    } else {
        "w "
    }
}

/// In a word or two; none where every screen can show it.
pub(super) fn beyond_in_short(tone: &Tone) -> Option<&'static str> {
    match tone.shows() {
        Shows::Srgb => None,
        Shows::DisplayP3 => Some("beyond ordinary screens"),
        Shows::Neither => Some("beyond screens"),
    }
}

/// What a reader must know of how a screen shows it; none where every screen can.
pub(super) fn beyond(tone: &Tone) -> Option<&'static str> {
    match tone.shows() {
        Shows::Srgb => None,
        Shows::DisplayP3 => Some(
            "More colourful than an ordinary screen can show: there you see the nearest that it can. A wide-gamut screen (Display P3) shows it.",
        ),
        Shows::Neither => {
            Some("More colourful than screens can show: you see the nearest that yours can.")
        }
    }
}

/// A number with so many decimals at most, without zeros at its end.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}
