//! The format of the Design Tokens Community Group: a group of colour tokens, a swatch's colour as made each.
//!
//! # Source
//! Design Tokens Format Module and Color Module 2025.10, reports of a W3C community group (no W3C standard). A name of a token begins with no `$` and holds none of
//! `{`, `}`, `.`: a swatch's id does. `lab` of the Color Module is CIELAB, D50, as here.

use super::values::{self, Derived, shows, uncertainty};
use super::{ORIGIN, UNCERTAINTY, id};
use crate::publish::{Range, Shows, Swatch};
use serde::ser::SerializeMap as _;
use serde::{Serialize, Serializer};

/// The group, indented, with a line end.
#[must_use]
pub fn group(range: &Range) -> String {
    values::json(&Group(range))
}

/// In the range's order, which a map of `serde_json` doesn't keep.
struct Group<'a>(&'a Range);

impl Serialize for Group<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Range {
            title, swatches, ..
        } = self.0;
        let mut map = serializer.serialize_map(Some(swatches.len() + 1))?;
        map.serialize_entry("$description", &format!("{title}. {ORIGIN} {UNCERTAINTY}"))?;
        for it in swatches {
            map.serialize_entry(&id(it.id), &Token::of(it))?;
        }
        map.end()
    }
}

#[derive(Serialize)]
struct Token {
    #[serde(rename = "$type")]
    kind: &'static str,
    #[serde(rename = "$description")]
    description: String,
    #[serde(rename = "$value")]
    value: Value,
    #[serde(rename = "$extensions")]
    extensions: Extensions,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Value {
    color_space: &'static str,
    components: [f64; 3],
    alpha: u8,
    /// For what can't show the colour itself: sRGB, mapped.
    hex: String,
}

/// The format asks for a key that nobody else takes and suggests a reversed domain. The program has no domain, and one that isn't its own would be worse than its
/// plain name.
#[derive(Serialize)]
struct Extensions {
    masstone: Extension,
}

/// What the format has no place for.
#[derive(Serialize)]
struct Extension {
    /// The name alone.
    name: String,
    /// In ΔE00.
    #[serde(rename = "U95")]
    u95: Option<f64>,
    /// Of L*, a*, b*.
    stdev: [f64; 3],
    white: &'static str,
    observer: &'static str,
    shows: &'static str,
}

impl Token {
    fn of(it: &Swatch) -> Self {
        let tone = &it.tone;
        let beyond = match tone.shows() {
            Shows::Srgb => "",
            Shows::DisplayP3 => "; beyond sRGB, hex is a stand-in",
            Shows::Neither => "; beyond sRGB and Display P3, hex is a stand-in",
        };
        Self {
            kind: "color",
            description: format!(
                "{} ({}, photographic, D50, 2 degree observer{beyond})",
                it.name,
                uncertainty(tone)
            ),
            value: Value {
                color_space: "lab",
                components: [tone.lab.l, tone.lab.a, tone.lab.b],
                alpha: 1,
                hex: tone.hex(),
            },
            extensions: Extensions {
                masstone: Extension {
                    name: it.name.clone(),
                    u95: tone.u95,
                    stdev: Derived::of(tone).deviations,
                    white: "D50",
                    observer: "2deg",
                    shows: shows(tone.shows()),
                },
            },
        }
    }
}
