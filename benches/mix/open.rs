//! Rows on open data: real mixtures, and films worked out from real spectra.

use super::films::figures::Case;
use super::films::oils;
use super::films::watercolours::{Told, Watercolours, Way};
use super::real;
use super::shelves::{accuracy, inside, worst};
use super::table::Table;

/// The rows, where the machine has the data.
pub(crate) fn rows(table: &mut Table, list: bool) {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let mut row = |what: &str, cases: &[Case], goal: Option<f64>| {
        accuracy(table, what, cases, goal, true);
        inside(table, what, cases);
        if list {
            worst(cases);
        }
    };
    let oils = oils::cases(&folder);
    row(
        "oil paints' spectra: loads left out",
        &oils.loads,
        Some(1.5),
    );
    for (what, cases) in [
        (
            "among the first five, on which widths were set",
            &oils.set_on,
        ),
        ("of one of these with another", &oils.across),
        ("among the other five", &oils.apart),
        ("after ten mixtures of other pairs", &oils.after),
    ] {
        let what = format!("oil paints' spectra: mixtures {what}");
        row(&what, cases, Some(3.0));
    }
    let found = Watercolours::read(&folder);
    row(
        "measured watercolours: loads left out, of ladders of four",
        &found.loads_left_out(),
        Some(1.5),
    );
    row(
        "measured watercolours: loads between those of the ladders",
        &found.loads_between(),
        Some(1.5),
    );
    for (what, told) in [
        ("before any mixture was measured", Told::None),
        ("after seven mixtures of other pairs", Told::Seven),
        ("after thirteen mixtures of other pairs", Told::Thirteen),
    ] {
        let what = format!("measured watercolours: mixtures from ladders, {what}");
        let cases = found.by_ladders(told);
        row(&what, &cases, Some(3.0));
    }
    row(
        "measured watercolours: mixtures from three colours alone",
        &found.by_three_colours(1, Way::Model),
        None,
    );
    for (what, way) in [
        ("the same, as if it held half of each", Way::Halved),
        ("the same by summed K/S, as if films hid", Way::Summed),
    ] {
        accuracy(table, what, &found.by_three_colours(1, way), None, true);
    }
}
