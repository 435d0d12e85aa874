//! The report on a series, from records made by hand: exact colours, no photo.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod made;

#[path = "fade/absurd.rs"]
mod absurd;
#[path = "fade/carried.rs"]
mod carried;
#[path = "fade/changes.rs"]
mod changes;
#[path = "fade/meaning.rs"]
mod meaning;
#[path = "fade/order.rs"]
mod order;
#[path = "fade/series.rs"]
mod series;

use masstone::fade::report::{Board, Patch};
use masstone::fade::{Options, Report};

/// The first board of a report.
fn board(report: &Report) -> &Board {
    &report.boards[0]
}

/// A patch of the first board.
fn patch<'a>(report: &'a Report, id: &str) -> &'a Patch {
    let patches = board(report).patches.iter();
    patches.into_iter().find(|it| it.patch == id).unwrap()
}

/// Only this patch: courses take their time.
fn only(patch: &str) -> Options {
    Options {
        patches: vec![patch.into()],
        ..Options::default()
    }
}
