//! CSS custom properties: `--swatch-17`, a swatch's colour as made, and `--swatch-17-text`, black or white on it.
//!
//! # Source
//! CSS Color Module Level 4 (`lab()` is CIELAB, D50, as here; `color(display-p3 …)`), CSS Custom Properties, CSS Conditional Rules. A custom property takes any
//! value, whether a browser knows it or not, so what is newer than hexadecimal colours stands behind `@supports`.

use super::values::{fixed, rounded, uncertainty};
use super::{ORIGIN, UNCERTAINTY, id};
use crate::colour::srgb::{self, RgbSpace};
use crate::publish::{Range, Shows, Swatch, Tone};
use std::fmt::Write as _;

/// The style sheet.
#[must_use]
pub fn sheet(range: &Range) -> String {
    // Of a file that a server sends without its encoding.
    let mut out = String::from("@charset \"utf-8\";\n");
    heading(&mut out, range);
    out.push_str(":root {\n");
    for it in &range.swatches {
        base(&mut out, it);
    }
    out.push_str("}\n");
    let (shown, beyond): (Vec<&Swatch>, Vec<&Swatch>) =
        (range.swatches.iter()).partition(|it| it.tone.shows() == Shows::Srgb);
    if !shown.is_empty() {
        out.push_str("\n@supports (color: lab(0 0 0)) {\n  :root {\n");
        for it in shown {
            property(&mut out, 4, &id(it.id), &lab(&it.tone));
        }
        out.push_str("  }\n}\n");
    }
    if !beyond.is_empty() {
        out.push_str(
            "\n@media (color-gamut: p3) {\n  @supports (color: lab(0 0 0)) and (color: color(display-p3 0 0 0)) {\n    :root {\n",
        );
        for it in beyond {
            let (value, luminance) = wide(&it.tone);
            property(&mut out, 6, &id(it.id), &value);
            property(&mut out, 6, &format!("{}-text", id(it.id)), text(luminance));
        }
        out.push_str("    }\n  }\n}\n");
    }
    out
}

fn heading(out: &mut String, range: &Range) {
    let beyond = (range.swatches.iter())
        .filter(|it| it.tone.shows() != Shows::Srgb)
        .count();
    let lines = [
        range.title.clone(),
        format!("Written by {} {}.", range.program.name, range.program.version),
        ORIGIN.to_owned(),
        UNCERTAINTY.to_owned(),
        format!(
            "{beyond} of {} colours are beyond sRGB: what stands first for these is the nearest in kind that sRGB shows, and wide screens get more.",
            range.swatches.len()
        ),
        "-text is black or white, whichever contrasts more. By the formula of WCAG 2 that is 4.5:1 or more on any colour: the contrasts with the two multiply to 21, so that the larger is at least 4.58."
            .to_owned(),
    ];
    for it in lines {
        let _ = writeln!(out, "/* {} */", comment(&it));
    }
}

/// What every browser knows.
fn base(out: &mut String, it: &Swatch) {
    let _ = writeln!(out, "  /* {} */", comment(&it.name));
    let stand_in = match it.tone.shows() {
        Shows::Srgb => "",
        Shows::DisplayP3 => "; a stand-in: beyond sRGB, shown by Display P3",
        Shows::Neither => "; a stand-in: beyond sRGB and Display P3",
    };
    let _ = writeln!(out, "  /* {}{stand_in} */", uncertainty(&it.tone));
    let linear = srgb::to_rgb8(it.tone.lab).map(|it| srgb::decode(f64::from(it) / 255.0));
    property(out, 2, &id(it.id), &it.tone.hex());
    let on_it = text(luminance(RgbSpace::Srgb, linear));
    property(out, 2, &format!("{}-text", id(it.id)), on_it);
}

fn property(out: &mut String, indent: usize, name: &str, value: &str) {
    let _ = writeln!(out, "{:indent$}--{name}: {value};", "");
}

fn lab(it: &Tone) -> String {
    format!("lab({} {} {})", it.lab.l, it.lab.a, it.lab.b)
}

/// What a wide screen shows, and its luminance: the colour itself, or what stands for it.
fn wide(it: &Tone) -> (String, f64) {
    let mapped = srgb::map_to_gamut(RgbSpace::DisplayP3, it.lab).linear;
    let value = if it.shows() == Shows::Neither {
        // Five decimals are a fortieth of a step of ten bits.
        let [r, g, b] = mapped.map(|it| fixed(rounded(srgb::encode(it), 5), 5));
        format!("color(display-p3 {r} {g} {b})")
    } else {
        lab(it)
    };
    (value, luminance(RgbSpace::DisplayP3, mapped))
}

/// Relative luminance of linear RGB, 1 for white.
fn luminance(space: RgbSpace, linear: [f64; 3]) -> f64 {
    let to_xyz = space.linear_to_xyz_d65();
    (0..3).map(|it| to_xyz[(1, it)] * linear[it]).sum()
}

/// Black or white, whichever contrasts more with a luminance.
///
/// # Source
/// WCAG 2.2, "contrast ratio": (Y₁ + 0.05) / (Y₂ + 0.05). With white it is 1.05 / (Y + 0.05), with black (Y + 0.05) / 0.05: their product is 21.
fn text(luminance: f64) -> &'static str {
    let raised = luminance + 0.05;
    if raised / 0.05 >= 1.05 / raised {
        "#000000"
    } else {
        "#ffffff"
    }
}

/// Text within a comment: on one line, and not the end of the comment, nor of a style element around it. What turns the order of characters
/// is left out, lest what follows look to be elsewhere.
fn comment(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for it in text.chars() {
        match it {
            '\u{61c}'
            | '\u{200e}'
            | '\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2066}'..='\u{2069}' => {}
            it if it.is_control() || matches!(it, '\u{2028}' | '\u{2029}') => out.push(' '),
            // A slash after a star or a less-than sign, which would end what it stands in; a star before one is that star.
            '/' if out.ends_with(['*', '<']) => out.push_str(" /"),
            it => out.push(it),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_ends_a_comment() {
        for bad in [
            "*/ :root{}",
            "**/",
            "*\u{202e}/",
            "</style><script>",
            "<\u{200f}/style>",
            "a\nb\u{2028}c",
            "*",
        ] {
            let it = comment(bad);
            assert!(
                !it.contains("*/") && !it.contains("</") && !it.contains(char::is_control),
                "{it}"
            );
        }
        assert_eq!(
            comment("red / 5 % \"x\" אדום 🎨"),
            "red / 5 % \"x\" אדום 🎨"
        );
    }

    #[test]
    fn text_is_readable_on_everything() {
        for step in 0..=1000 {
            let luminance = f64::from(step) / 1000.0;
            let of_text = if text(luminance) == "#000000" {
                0.0
            } else {
                1.0
            };
            let (dark, light) = (luminance.min(of_text), luminance.max(of_text));
            assert!((light + 0.05) / (dark + 0.05) >= 4.58, "{luminance}");
        }
    }
}
