//! How a board is exposed: what the standards of exposure want reported, as facts with names and values.
//!
//! The names follow what ASTM G7, D1435 and G154, ISO 877, 2810, 4892 and 16474 have in common (from memory: none of them was at hand).

use crate::panel::error::{Problem, Problems};
use crate::panel::table::{Table, Value};
use crate::record::{ExposureKind, Fact};

/// A key of the file.
struct Key {
    key: &'static str,
    /// What a reader is told that it is.
    name: &'static str,
    says: Says,
    /// What it is stated of; none: of both kinds.
    only: Option<ExposureKind>,
    /// A report of such an exposure is not complete without it.
    wanted: bool,
}

/// What a key holds.
enum Says {
    Text,
    /// A number in this range, with its unit.
    Number(f64, f64, &'static str),
    /// Whether there is glass over the board, and which.
    Glass,
}

const SUN: Option<ExposureKind> = Some(ExposureKind::Sun);
const LAMP: Option<ExposureKind> = Some(ExposureKind::Lamp);

const fn key(
    key: &'static str,
    name: &'static str,
    says: Says,
    only: Option<ExposureKind>,
    wanted: bool,
) -> Key {
    Key {
        key,
        name,
        says,
        only,
        wanted,
    }
}

/// In the order in which they are reported.
const ALL: [Key; 23] = [
    key("site", "site", Says::Text, None, false),
    key(
        "latitude",
        "latitude",
        Says::Number(-90.0, 90.0, "°"),
        SUN,
        true,
    ),
    key(
        "longitude",
        "longitude",
        Says::Number(-180.0, 180.0, "°"),
        SUN,
        false,
    ),
    key(
        "altitude_m",
        "altitude",
        Says::Number(-500.0, 9000.0, " m"),
        SUN,
        false,
    ),
    key("climate", "climate", Says::Text, SUN, false),
    key(
        "tilt",
        "tilt from horizontal",
        Says::Number(0.0, 180.0, "°"),
        SUN,
        true,
    ),
    key(
        "azimuth",
        "azimuth, clockwise from north",
        Says::Number(0.0, 360.0, "°"),
        SUN,
        true,
    ),
    key("glass", "glass", Says::Glass, SUN, true),
    key("device", "device", Says::Text, LAMP, true),
    key("lamp", "lamp", Says::Text, LAMP, false),
    key("filter", "filter", Says::Text, LAMP, true),
    key("irradiance", "irradiance", Says::Text, LAMP, true),
    key("cycle", "cycle", Says::Text, LAMP, false),
    key("black_panel", "black panel", Says::Text, LAMP, true),
    key("chamber_air", "chamber air", Says::Text, LAMP, false),
    key("humidity", "humidity", Says::Text, LAMP, false),
    key("dose_from", "dose from", Says::Text, None, false),
    key("wetness", "wetness", Says::Text, None, false),
    key("backing", "backing", Says::Text, None, true),
    key("mask", "mask", Says::Text, None, true),
    key("washing", "washing before reading", Says::Text, None, true),
    key("deviations", "deviations", Says::Text, None, false),
    key("notes", "notes", Says::Text, None, false),
];

/// Keys without which nobody knows what a lamp did.
const NEEDED_OF_A_LAMP: [(&str, &str); 2] = [
    ("lamp", "which lamp, as \"xenon arc\" or \"UVA-340\""),
    (
        "cycle",
        "what it does in turn, as \"8 h light at 60 °C, 4 h condensation at 50 °C\"",
    ),
];

/// The keys, for the table that they stand in.
pub(super) fn keys() -> impl Iterator<Item = &'static str> {
    ALL.iter().map(|it| it.key)
}

/// The facts that are stated, in the order in which they are reported.
pub(super) fn read(
    top: &Table<'_>,
    kind: Option<ExposureKind>,
    problems: &mut Problems,
) -> Vec<Fact> {
    let mut facts = Vec::new();
    for it in &ALL {
        let Some(value) = top.get(it.key) else {
            continue;
        };
        if let (Some(only), Some(kind)) = (it.only, kind)
            && only != kind
        {
            problems.add(misplaced(&value, it, only));
        } else if let Some(value) = problems.keep(said(&value, it)) {
            facts.push(Fact {
                name: it.name.to_owned(),
                value,
            });
        }
    }
    if kind == LAMP {
        for (key, why) in NEEDED_OF_A_LAMP {
            problems.keep(top.need(key, why));
        }
    }
    facts
}

fn misplaced(value: &Value<'_>, it: &Key, only: ExposureKind) -> Problem {
    let (of, other) = match only {
        ExposureKind::Sun => ("the sun", "a lamp"),
        ExposureKind::Lamp => ("a lamp", "the sun"),
    };
    value
        .wrong(format!(
            "`{}` is stated of {of}, and this board is exposed to {other}",
            it.key
        ))
        .with_hint("Put `kind` right, or say it in `notes`.")
}

fn said(value: &Value<'_>, it: &Key) -> Result<String, Problem> {
    match it.says {
        Says::Text => value.text(),
        Says::Number(low, high, unit) => {
            let number = value.number_in(low..=high)?;
            Ok(format!("{number}{unit}"))
        }
        Says::Glass if value.is_flag() => Ok(if value.flag()? {
            "behind glass"
        } else {
            "open"
        }
        .to_owned()),
        Says::Glass => value.text(),
    }
}

/// What a report of the exposure should state and the file does not: the keys.
pub(super) fn unstated(
    top: &Table<'_>,
    kind: ExposureKind,
    by_radiant_exposure: bool,
) -> Vec<&'static str> {
    let wanted = |it: &&Key| {
        // Where radiant exposure is counted, its value is worth what its source is.
        let wanted = it.wanted
            || (it.key == "site" && kind == ExposureKind::Sun)
            || (it.key == "dose_from" && by_radiant_exposure);
        wanted && it.only.is_none_or(|only| only == kind)
    };
    ALL.iter()
        .filter(wanted)
        .map(|it| it.key)
        .filter(|key| top.get(key).is_none())
        .collect()
}
