//! What all pages begin and end with.

use super::{ICON_FILE, READING, SHEET, STYLE, STYLE_FILE, contrast};
use crate::publish::range::Range;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;

/// The grounds of pages, light and dark: neutral, so that they push no colour.
const GROUNDS: [[u8; 3]; 2] = [[0xf3; 3], [0x17; 3]];

/// A page of the site. `up` leads from its folder to the site's (`""` or `"../"`); a script is the program's own.
pub(super) fn page(
    range: &Range,
    title: &str,
    up: &str,
    script: Option<&str>,
    body: &Markup,
) -> String {
    let policy = policy(script);
    let head = html! {
        meta http-equiv="Content-Security-Policy" content=(policy);
        meta name="referrer" content="no-referrer";
        meta name="color-scheme" content="light dark";
        meta name="generator" content=(format!("{} {}", range.program.name, range.program.version));
        link rel="icon" href=(format!("{up}{ICON_FILE}")) type="image/svg+xml";
        link rel="stylesheet" href=(format!("{up}{STYLE_FILE}"));
    };
    let body = html! {
        a.skip href="#main" { "To the colours" }
        header.top {
            nav aria-label="Pages" {
                a href=(format!("{up}index.html")) { bdi { (range.title) } }
                a href=(format!("{up}{READING}")) { "How to read this" }
                a href=(format!("{up}{SHEET}")) { "To print" }
                @if let Some(home) = &range.home { a href=(home) rel="noopener" { "Workshop" } }
            }
        }
        main id="main" tabindex="-1" { (body) }
        footer {
            p {
                "Measured from photos beside a reference card, CIELAB D50, 2°. Screens and prints are not the coating: ask for a sample before you decide."
            }
        }
        @if let Some(script) = script { script { (PreEscaped(script)) } }
    };
    let title = if title == range.title {
        title.to_owned()
    } else {
        format!("{title} – {}", range.title)
    };
    crate::html::page(&title, &head, &body)
}

/// Nothing is loaded from elsewhere, and nothing runs but the script of this digest.
fn policy(script: Option<&str>) -> String {
    let script = script.map_or_else(
        || "'none'".to_owned(),
        |it| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(it))),
    );
    format!(
        "default-src 'none'; img-src 'self' file:; style-src 'self' file: 'unsafe-inline'; script-src {script}; base-uri 'none'; form-action 'none'"
    )
}

/// The styles, with the accent made legible on either ground.
pub(super) fn style(range: &Range) -> String {
    let accent = |ground| {
        let lab = range
            .accent
            .unwrap_or(crate::colour::Lab::new(38.0, -2.0, -38.0));
        contrast::hex(contrast::legible(lab, ground))
    };
    let [light, dark] = GROUNDS;
    format!(
        ":root{{--ground:{};--link:{};--dark-ground:{};--dark-link:{}}}\n{STYLE}",
        contrast::hex(light),
        accent(light),
        contrast::hex(dark),
        accent(dark)
    )
}

/// The site's icon: a board with the range's first four colours.
pub(super) fn icon(range: &Range) -> String {
    let mut svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 32 32\"><rect width=\"32\" height=\"32\" fill=\"#b4b4b4\"/>".to_owned();
    for (it, (x, y)) in (range.swatches.iter()).zip([(4, 4), (17, 4), (4, 17), (17, 17)]) {
        let hex = it.tone.hex();
        let _ = write!(
            svg,
            "<rect x=\"{x}\" y=\"{y}\" width=\"11\" height=\"11\" fill=\"{hex}\"/>"
        );
    }
    svg + "</svg>\n"
}
