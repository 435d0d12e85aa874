//! The readings as CSV: a view for people and other programs, which is not read back.

use super::{Reading, Record};
use serde::Serialize;
use std::io::Write;

/// The columns, in order.
pub const HEADER: [&str; 20] = [
    "photo",
    "panel",
    "patch",
    "half",
    "hours",
    "L",
    "a",
    "b",
    "C",
    "h",
    "hex",
    "sd_L",
    "sd_a",
    "sd_b",
    "unevenness",
    "pixels",
    "left_out",
    "U95",
    "correction",
    "flags",
];

/// Writes all readings, one a row, below the header.
///
/// # Errors
///
/// What writing gives.
pub fn write(record: &Record, out: &mut dyn Write) -> std::io::Result<()> {
    let mut csv = ::csv::Writer::from_writer(out);
    csv.write_record(HEADER)?;
    for reading in &record.readings {
        csv.write_record(row(reading))?;
    }
    csv.flush()
}

/// The cells of one reading.
fn row(it: &Reading) -> [String; 20] {
    let flags: Vec<String> = it.flags.iter().map(word).collect();
    [
        text(&it.photo),
        text(&it.panel),
        text(&it.patch),
        word(&it.half),
        it.hours.map(as_stated).unwrap_or_default(),
        number(it.l),
        number(it.a),
        number(it.b),
        number(it.c),
        hue(it.h),
        it.hex.clone().unwrap_or_default(),
        number(it.sd_l),
        number(it.sd_a),
        number(it.sd_b),
        number(it.unevenness),
        it.pixels.to_string(),
        number(Some(it.left_out)),
        number(it.u95),
        word(&it.correction),
        flags.join(" "),
    ]
}

/// A text cell; spreadsheets take some first characters for the start of a formula.
#[must_use]
pub fn text(value: &str) -> String {
    if value.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{value}")
    } else {
        value.to_owned()
    }
}

/// A measured number with three decimals; empty where there is none.
pub(crate) fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |it| {
        let text = format!("{it:.3}");
        // What rounds to zero has no sign.
        if text == "-0.000" {
            "0.000".to_owned()
        } else {
            text
        }
    })
}

/// A hue with three decimals; what rounds up to a full turn is none.
fn hue(value: Option<f64>) -> String {
    let text = number(value);
    if text == "360.000" {
        "0.000".to_owned()
    } else {
        text
    }
}

/// A number that the user stated: all of its digits, and at least three decimals.
pub(crate) fn as_stated(value: f64) -> String {
    let text = value.to_string();
    let decimals = text
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    if decimals < 3 {
        format!("{value:.3}")
    } else {
        text
    }
}

/// The word for a member of a closed list: the same as in the JSON.
pub fn word(value: &impl Serialize) -> String {
    serde_json::to_value(value)
        .ok()
        .and_then(|it| it.as_str().map(str::to_owned))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flag::Flag;

    #[test]
    fn formulas_are_disarmed_and_numbers_untouched() {
        for bad in ["=1+1", "+1", "-1", "@x", "\tx", "\rx"] {
            assert_eq!(text(bad), format!("'{bad}"));
        }
        for good in ["A1", "'A1", " =1", "1-2", ""] {
            assert_eq!(text(good), good);
        }
        assert_eq!(number(Some(-1.5)), "-1.500");
    }

    #[test]
    fn numbers_have_three_decimals_and_zero_no_sign() {
        assert_eq!(number(Some(-0.0004)), "0.000");
        assert_eq!(number(None), "");
        assert_eq!(hue(Some(359.9996)), "0.000");
        assert_eq!(as_stated(168.0), "168.000");
        assert_eq!(as_stated(0.00025), "0.00025");
        assert_eq!(as_stated(1e21), "1000000000000000000000.000");
    }

    #[test]
    fn words_are_those_of_the_json() {
        assert_eq!(word(&Flag::AssumedSrgb), "assumed-srgb");
    }
}
