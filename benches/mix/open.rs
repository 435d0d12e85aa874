//! Rows on open data: real mixtures, and films worked out from real spectra.

use super::films::figures::Case;
use super::films::{oils, watercolours};
use super::real;
use super::shelves::{accuracy, worst};
use super::table::Table;

/// The rows, where the machine has the data; every mixture in both orders.
pub(crate) fn rows(table: &mut Table, list: bool) {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let mut row = |what: &str, cases: &[Case], goal: Option<f64>| {
        accuracy(table, what, cases, goal, true);
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
    row(
        "oil paints' spectra: two-paint mixtures",
        &oils.pairs,
        Some(3.0),
    );
    let watercolours = watercolours::cases(&folder, 1);
    row(
        "measured watercolours: mixtures of two films on paper, from three colours alone",
        &watercolours,
        None,
    );
}
