//! Text of ISO 28178 (CGATS.17): one table, a set for each swatch's colour as made.
//!
//! # Source
//! ISO 28178:2009 (earlier CGATS.17), keyword-value form: keyword lines, `KEYWORD` before a keyword or field that isn't the standard's, `BEGIN_DATA_FORMAT` …
//! `END_DATA`, strings in quotation marks, `#` before comments; from memory and from public files. Its text is 7-bit ASCII, and readers differ in what they
//! make of a quotation mark within a string. So a name is written as in JSON with nothing but plain ASCII: what has no place here is `\uXXXX`.

use super::values::{Derived, fixed};
use super::{ORIGIN, UNCERTAINTY, id};
use crate::publish::{Range, Shows, Swatch};
use std::fmt::Write as _;

/// The fields, in order. XYZ and `LUMINANCE_U95` are relative to Y = 100 for the perfect diffuser; `U95` is in ΔE00.
pub const FIELDS: [&str; 15] = [
    "SAMPLE_ID",
    "SAMPLE_NAME",
    "LAB_L",
    "LAB_A",
    "LAB_B",
    "LCH_C",
    "LCH_H",
    "XYZ_X",
    "XYZ_Y",
    "XYZ_Z",
    "STDEV_L",
    "STDEV_A",
    "STDEV_B",
    "U95",
    "LUMINANCE_U95",
];

/// What is declared, since the standard, or an earlier edition of it, doesn't have it.
const DECLARED: [&str; 7] = [
    "ILLUMINATION_NAME",
    "OBSERVER_ANGLE",
    "SAMPLE_NAME",
    "LCH_C",
    "LCH_H",
    "U95",
    "LUMINANCE_U95",
];

/// What stands for a U95 that isn't known: a reader of numbers takes it, and nobody takes it for one.
pub const UNKNOWN: &str = "-1";

/// The table.
#[must_use]
pub fn table(range: &Range) -> String {
    let mut out = String::from("CGATS.17\n");
    let mut keyword = |name: &str, value: &str| {
        // Writing to a string doesn't fail.
        let _ = writeln!(out, "{name} {}", quoted(value));
    };
    let program = &range.program;
    keyword(
        "ORIGINATOR",
        &format!("{} {}", program.name, program.version),
    );
    keyword("FILE_DESCRIPTOR", &range.title);
    if let Some(date) = latest(range) {
        keyword("CREATED", &date);
    }
    keyword("INSTRUMENTATION", "photo with a reference card in it");
    keyword(
        "MEASUREMENT_SOURCE",
        "photographic, geometry not that of ISO 13655",
    );
    for it in DECLARED {
        keyword("KEYWORD", it);
    }
    keyword("ILLUMINATION_NAME", "D50");
    keyword("OBSERVER_ANGLE", "2");
    for line in remarks(range) {
        let _ = writeln!(out, "# {line}");
    }
    let _ = writeln!(out, "NUMBER_OF_FIELDS {}", FIELDS.len());
    let _ = writeln!(
        out,
        "BEGIN_DATA_FORMAT\n{}\nEND_DATA_FORMAT",
        FIELDS.join(" ")
    );
    let _ = writeln!(out, "NUMBER_OF_SETS {}", range.swatches.len());
    out.push_str("BEGIN_DATA\n");
    for it in &range.swatches {
        let _ = writeln!(out, "{}", set(it).join(" "));
    }
    out.push_str("END_DATA\n");
    out
}

fn remarks(range: &Range) -> Vec<String> {
    let beyond = (range.swatches.iter())
        .filter(|it| it.tone.shows() != Shows::Srgb)
        .count();
    vec![
        ORIGIN.to_owned(),
        UNCERTAINTY.to_owned(),
        format!(
            "U95 {UNKNOWN}: not known. STDEV is that of the swatch's mean colour, not of single readings."
        ),
        "LUMINANCE_U95 is the U95 of XYZ_Y; both are 100 for a perfect white.".to_owned(),
        format!(
            "{beyond} of {} colours are beyond sRGB.",
            range.swatches.len()
        ),
        "Characters that have no place here are written as in JSON: \\u00fc is one.".to_owned(),
    ]
}

fn set(it: &Swatch) -> [String; 15] {
    let lab = it.tone.lab;
    let derived = Derived::of(&it.tone);
    let [x, y, z] = derived.xyz.map(|it| fixed(100.0 * it, 4));
    let [sd_l, sd_a, sd_b] = derived.deviations.map(|it| fixed(it, 4));
    [
        quoted(&id(it.id)),
        quoted(&it.name),
        fixed(lab.l, 3),
        fixed(lab.a, 3),
        fixed(lab.b, 3),
        fixed(derived.c, 3),
        fixed(derived.h, 3),
        x,
        y,
        z,
        sd_l,
        sd_a,
        sd_b,
        it.tone
            .u95
            .map_or_else(|| UNKNOWN.to_owned(), |it| fixed(it, 3)),
        fixed(100.0 * derived.u95_y, 4),
    ]
}

/// A string in quotation marks, 7-bit ASCII, on one line: the content of a JSON string.
///
/// Escaped, too, are `"`, which readers differ in, and `#`, where some take a comment to begin wherever it stands.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for it in text.chars() {
        match it {
            '"' | '#' | '\\' => {
                let _ = write!(out, "\\u{:04x}", u32::from(it));
            }
            ' '..='~' => out.push(it),
            _ => {
                for unit in it.encode_utf16(&mut [0; 2]) {
                    let _ = write!(out, "\\u{unit:04x}");
                }
            }
        }
    }
    out.push('"');
    out
}

/// The day of the latest photo, as far as photos say; year-month-day. Not the day of writing: the same range gives the same file.
fn latest(range: &Range) -> Option<String> {
    let readings = range.swatches.iter().flat_map(|it| &it.readings);
    let days = readings.filter_map(|it| day(it.taken.as_deref()?));
    days.max()
}

/// Of `year:month:day hours:minutes:seconds`, as photos write it.
fn day(taken: &str) -> Option<String> {
    let day = taken.split(' ').next()?;
    let parts: Vec<&str> = day.split([':', '-']).collect();
    let [year, month, of_month] = parts[..] else {
        return None;
    };
    let digits =
        |it: &str, length: usize| it.len() == length && it.bytes().all(|it| it.is_ascii_digit());
    let fits = digits(year, 4) && digits(month, 2) && digits(of_month, 2);
    fits.then(|| format!("{year}-{month}-{of_month}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_are_plain_ascii_that_json_reads_back() {
        for text in [
            "plain 5 %",
            "say \"red\" # 3 \\ 'x'",
            "two\nlines\ttab\u{7f}",
            "אדום \u{202e}🎨",
            "",
        ] {
            let it = quoted(text);
            let inner = it.strip_prefix('"').and_then(|it| it.strip_suffix('"'));
            assert!(
                inner
                    .unwrap()
                    .bytes()
                    .all(|it| matches!(it, b' '..=b'~') && !matches!(it, b'"' | b'#'))
            );
            assert_eq!(serde_json::from_str::<String>(&it).unwrap(), text);
        }
    }

    #[test]
    fn days_as_photos_say_them() {
        assert_eq!(
            day("2026:03:14 10:00:00 +02:00").as_deref(),
            Some("2026-03-14")
        );
        assert_eq!(day("2026-03-14").as_deref(), Some("2026-03-14"));
        for none in ["", "yesterday", "14:03:2026 10:00", "2026:3:14"] {
            assert_eq!(day(none), None, "{none}");
        }
    }
}
