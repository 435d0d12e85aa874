//! The report as CSV: a view for people and other programs, which is not read back.
//!
//! One row a patch and exposure, in the report's order. A patch that could not be measured at an exposure keeps its row, with empty
//! numbers and the flag [`UNMEASURABLE`]. Swatches over their specimens are in the JSON.

use super::report::{Board, Change, Exposure, FadeFlag, Patch, Report};
use crate::flag::Flag;
use crate::record::csv::{as_stated, number, text, word};
use std::io::Write;

/// The columns, in order.
pub const HEADER: [&str; 17] = [
    "panel",
    "patch",
    "hours",
    "dose",
    "dose_kind",
    "dL",
    "da",
    "db",
    "dC",
    "dH",
    "dEab",
    "dE00",
    "U95_dE00",
    "grade",
    "band",
    "significant",
    "flags",
];

/// The flag of a row without numbers: that of readings that can't be measured.
pub const UNMEASURABLE: Flag = Flag::Unmeasurable;

/// Writes all rows below the header.
///
/// # Errors
///
/// What writing gives.
pub fn write(report: &Report, out: &mut dyn Write) -> std::io::Result<()> {
    let mut csv = ::csv::Writer::from_writer(out);
    csv.write_record(HEADER)?;
    for board in &report.boards {
        for patch in &board.patches {
            for exposure in board.exposed() {
                csv.write_record(row(board, patch, exposure))?;
            }
        }
    }
    csv.flush()
}

/// The cells of one patch at one exposure.
fn row(board: &Board, patch: &Patch, exposure: &Exposure) -> [String; 17] {
    let change = patch.at(exposure.dose);
    let measured = |value: fn(&Change) -> f64| number(change.map(value));
    let hours = change.and_then(|it| it.hours).or(exposure.hours);
    [
        text(&board.panel),
        text(&patch.patch),
        hours.map(as_stated).unwrap_or_default(),
        as_stated(exposure.dose),
        text(&board.dose_kind),
        measured(|it| it.dl),
        measured(|it| it.da),
        measured(|it| it.db),
        measured(|it| it.dc),
        measured(|it| it.dh),
        measured(|it| it.de_ab),
        measured(|it| it.de_00),
        measured(|it| it.u95_de_00),
        change.map_or_else(String::new, |it| text(&it.grade)),
        change.map_or_else(String::new, |it| text(&it.band)),
        change.map_or_else(String::new, |it| it.significant.to_string()),
        change.map_or_else(|| word(&UNMEASURABLE), flags),
    ]
}

fn flags(change: &Change) -> String {
    let flags: Vec<&str> = change.flags.iter().copied().map(FadeFlag::name).collect();
    flags.join(" ")
}
