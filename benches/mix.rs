//! How good predicted colours are, as a table from a fresh run: `cargo bench --bench mix -- [SHELVES] [FIRST_SEED] [study|test] [apart] [worst]`.
//!
//! `SHELVES` (default 24: twelve scatter by a tenth) simulated shelves of six pigments in one coating on larch, with two to five loads each, laid by hand and measured as
//! photos do; films are worked out by radiative transfer, which the program knows nothing of. `FIRST_SEED` (default 90,000,000) is where they
//! begin; `study` takes pigments on which constants may be set, `test` (the default) those that they are judged on; `worst` lists the worst predictions; `apart`
//! leaves out of the intervals what all patches of a photo are off by together.
//! Truth is the colour of the film as it is meant, without the hand's and the photo's errors. Real mixtures are looked at where the machine has them.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]
#![expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]

#[path = "../tests/endtoend/mod.rs"]
#[expect(dead_code, reason = "other benches and tests use the rest")]
mod endtoend;
#[path = "../tests/films/mod.rs"]
#[expect(dead_code, reason = "the tests use the rest")]
mod films;
#[path = "mix/open.rs"]
mod open;
#[path = "../tests/real/mod.rs"]
mod real;
#[path = "mix/shelves.rs"]
mod shelves;
#[path = "rows/table.rs"]
#[expect(dead_code, reason = "no photo is measured here")]
mod table;

use masstone_simulator::Split;
use rayon::prelude::*;
use shelves::Asked;
use std::time::Instant;
use table::Table;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = args.iter().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u64| numbers.get(i).copied().unwrap_or(default);
    let (shelves, first) = (number(0, 24), number(1, 90_000_000));
    let has = |word: &str| args.iter().any(|it| it == word);
    let split = if has("study") {
        Split::Study
    } else {
        Split::Test
    };
    let start = Instant::now();
    let mut table = Table::default();
    let all: Vec<Asked> = (0..shelves)
        .into_par_iter()
        .map(|i| Asked::of(split, first + i, i, has("apart")))
        .collect();
    println!("-- shelves: {:.0} s", start.elapsed().as_secs_f64());
    shelves::rows(&mut table, &all, has("worst"));
    open::rows(&mut table, has("worst"));
    table.print();
    println!(
        "{shelves} shelves; {:.0} s in all",
        start.elapsed().as_secs_f64()
    );
}
