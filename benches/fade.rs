//! How good what is said of exposure series is, as a table from a fresh run: `cargo bench --bench fade -- [BOARDS] [FIRST SEED]
//! [LONG SIDE] [study|test] [changes|costs] [boards]`.
//!
//! `BOARDS` (default 6) simulated boards, each with six exposures after hour 0 and one to three photos of each, two on average: other light, another
//! phone and other processing at each. Of six boards one has a mask that leaks and one a drift of all its halves; to every board comes
//! one photo that must be refused, of the board turned beside its card or of another board. Photos are JPEG files of 12 megapixels,
//! measured from the file to the report. `FIRST SEED` (default 70,000,000) is where the boards begin; `study` takes cameras and lights
//! on which constants may be set, `test` (the default) those that they are judged on. `changes` leaves out the costs, whose photos have 12
//! megapixels; `costs` the rest; `boards` says of every exposure what it is off by. `LONG SIDE` (default 4032 pixels) makes photos smaller, for a
//! study. Judged against the simulator's truth; rows that miss what is to be reached say so.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "fade/apart.rs"]
mod apart;
#[path = "fade/board.rs"]
mod board;
#[path = "fade/changes.rs"]
mod changes;
#[path = "fade/compared.rs"]
mod compared;
#[path = "fade/costs.rs"]
mod costs;
#[path = "../tests/endtoend/mod.rs"]
#[expect(dead_code, reason = "other benches and tests use the rest")]
mod endtoend;
#[path = "fade/faults.rs"]
mod faults;
#[path = "fade/intervals.rs"]
mod intervals;
#[path = "../tests/correction/plain.rs"]
mod plain;
#[path = "fade/run.rs"]
mod run;
#[path = "fade/scale.rs"]
mod scale;
#[path = "rows/table.rs"]
mod table;
#[path = "fade/thresholds.rs"]
mod thresholds;

use board::{Run, Slip};
use masstone_simulator::{Fault, Series, Split};
use rayon::prelude::*;
use std::path::Path;
use std::time::Instant;
use table::Table;

/// Pixels of the long side: 12 megapixels, as phones take them.
const LONG_SIDE: u64 = 4032;
/// Doses after 0, and photos of each at most.
const EXPOSURES: usize = 6;
const MOST_PHOTOS: u64 = 3;
/// Fewest boards that tell anything.
const ENOUGH: usize = 6;
/// Faults of the boards, in turn.
const FAULTS: [Fault; 6] = [
    Fault::None,
    Fault::Leak,
    Fault::Drift,
    Fault::None,
    Fault::None,
    Fault::None,
];

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = args.iter().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u64| numbers.get(i).copied().unwrap_or(default);
    let (boards, first) = (number(0, 6), number(1, 70_000_000));
    let long_side = u32::try_from(number(2, LONG_SIDE)).expect("pixels of a photo");
    let has = |word: &str| args.iter().any(|it| it == word);
    let split = if has("study") {
        Split::Study
    } else {
        Split::Test
    };
    let start = Instant::now();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut table = Table::default();
    if !has("changes") {
        // The costs first: nothing else runs then.
        costs::row(
            &mut table,
            &folder.path().join("costs"),
            split,
            first,
            boards,
        );
        println!("-- costs: {:.0} s", start.elapsed().as_secs_f64());
    }
    if has("costs") {
        return table.print();
    }
    let runs: Vec<Run> = (0..boards)
        .into_par_iter()
        .map(|i| {
            drawn(
                split,
                first + i,
                i,
                long_side,
                &folder.path().join(i.to_string()),
            )
        })
        .collect();
    println!("-- photos: {:.0} s", start.elapsed().as_secs_f64());
    if has("boards") {
        runs.iter().for_each(apart::print);
    }
    let enough = runs.len() >= ENOUGH;
    let compared: Vec<_> = runs.iter().flat_map(compared::compared).collect();
    changes::rows(&mut table, &compared, enough);
    let mut scale = scale::Errors::default();
    for run in &runs {
        scale.add(run);
    }
    scale.row(&mut table, enough);
    let intervals: Vec<_> = runs.iter().flat_map(intervals::intervals).collect();
    thresholds::row(&mut table, &intervals, enough);
    faults::rows(&mut table, &runs);
    table.readings_row();
    table.print();
    let photos: usize = runs.iter().map(|it| it.seen.len()).sum();
    println!(
        "{boards} boards, {photos} photos; {:.0} s in all",
        start.elapsed().as_secs_f64()
    );
}

/// The first board from a seed on whose panel file does not contradict itself.
fn drawn(split: Split, seed: u64, index: u64, long_side: u32, folder: &Path) -> Run {
    let fault = FAULTS[usize::try_from(index).unwrap_or(0) % FAULTS.len()];
    let slip = if index.is_multiple_of(2) {
        Slip::Turned
    } else {
        Slip::OtherBoard
    };
    (0..)
        .find_map(|again| {
            let series = Series::draw(
                split,
                seed + 1_000_003 * again,
                fault,
                EXPOSURES,
                MOST_PHOTOS,
            );
            board::run(series, slip, long_side, folder)
        })
        .expect("most panel files are sound")
}
