//! How good it is, as a table from a fresh run: `cargo bench --bench accuracy -- [PHOTOS] [RENDERS] [LONG_SIDE]`.
//!
//! `PHOTOS` (default 60) simulated photos with the whole camera, `LONG_SIDE` (default 3264, 8 megapixels) pixels long, are written as
//! JPEG files and measured from the file to the record; `RENDERS` (default 2000) small renders are only located. Everything is judged
//! against the simulator's truth, patches by place. Rows that miss what is to be reached say so.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a command that prints its table"
)]

#[path = "rows/mod.rs"]
mod rows;

use masstone_simulator::Mixture;
use rows::photos::{Scenes, again, flawless, location, whole};
use rows::{Table, costs};
use std::time::Instant;

/// Seeds of the scenes, apart from those of the tests and of other benches.
const ORDINARY: u64 = 9_000_000;
const SMALL: u64 = 9_100_000;
const FLAWLESS: u64 = 9_200_000;
const AGAIN: u64 = 9_300_000;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u32| numbers.get(i).copied().unwrap_or(default);
    let (photos, renders, long_side) = (number(0, 60), number(1, 2000), number(2, 3264));
    let start = Instant::now();
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut table = Table::default();
    // The costs first: nothing else runs then.
    costs::costs(&mut table, folder, ORDINARY);
    let scenes = |first, count, enough| Scenes {
        mixture: Mixture::Ordinary,
        first,
        count,
        found: 1.0,
        enough,
    };
    let shots = whole(&mut table, folder, &scenes(ORDINARY, photos, 60), long_side);
    costs::batch(&mut table, &shots);
    location(&mut table, &scenes(SMALL, renders, 2000));
    flawless(&mut table, folder, FLAWLESS, photos.div_ceil(4), long_side);
    again(&mut table, folder, AGAIN, 1, long_side);
    table.readings_row();
    table.print();
    println!(
        "{photos} photos, {renders} small renders; {:.0} s in all",
        start.elapsed().as_secs_f64()
    );
}
