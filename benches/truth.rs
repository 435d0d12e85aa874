//! Whether what is stated is true under real conditions, as a table from a fresh run: `cargo bench --bench truth -- [PER CENT] [FIRST SEED]
//! [located|colours]`.
//!
//! `PER CENT` of the full size (default 100: some 40 minutes of processor time, half of it on two free cores): 120 ordinary and 100 hard photos from the file to the record,
//! 2500 and 2500 small renders that are only located, 200 photos of each kind of reference and as many of half a chart, 200 pairs of a
//! chart and a grey card, panels shot again. `FIRST SEED` (default 80,000,000) is where the scenes begin: no seed from there on has been used to
//! tune anything; take another for every fresh look. `located` leaves out the rows on colours, whose photos have the true geometry, and `colours` all others. Judged against the simulator's truth; rows that miss what is to be reached say so.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a command that prints its table"
)]

#[path = "../tests/carried/mod.rs"]
mod carried;
#[path = "rows/colours.rs"]
mod colours;
#[path = "rows/figures.rs"]
mod figures;
#[path = "../tests/correction/half.rs"]
mod half;
#[path = "rows/mod.rs"]
mod rows;

use carried::scene;
use masstone_simulator::Mixture;
use rows::photos::{Scenes, again, flawless, location, whole};
use rows::{Table, costs};
use std::time::Instant;

/// Pixels of the long side of whole photos: about 3 megapixels.
const LONG_SIDE: u32 = 2048;
/// The same of hard ones and of panels shot again, which are as large as phones take them: a smaller photo would have blur and noise of
/// more of its size.
const REAL: u32 = 4032;
/// Panels that are shot again and again: what is clipped, or lit from the side, differs from one to the next.
const PANELS: u64 = 3;

fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u64| numbers.get(i).copied().unwrap_or(default);
    let (share, first) = (number(0, 100), number(1, 80_000_000));
    let part = |full: u64| (full * share).div_ceil(100);
    let scenes = |mixture, offset, full: u32, found, enough| Scenes {
        mixture,
        first: first + offset,
        count: u32::try_from(part(u64::from(full))).unwrap(),
        found,
        enough,
    };
    let start = Instant::now();
    let since = |what: &str| {
        let (wall, busy) = (start.elapsed().as_secs_f64(), processor_seconds());
        println!("-- {what}: {wall:.0} s since the start, {busy:.0} s of processor time");
    };
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut table = Table::default();
    let has = |word: &str| std::env::args().any(|it| it == word);
    if !has("colours") {
        // The costs first: nothing else runs then.
        costs::costs(&mut table, folder, first);
        since("costs");
        let ordinary = scenes(Mixture::Ordinary, 0, 120, 1.0, 120);
        let shots = whole(&mut table, folder, &ordinary, LONG_SIDE);
        costs::batch(&mut table, &shots);
        whole(
            &mut table,
            folder,
            &scenes(Mixture::Hard, 100_000, 100, 0.98, 100),
            REAL,
        );
        since("whole photos");
        location(
            &mut table,
            &scenes(Mixture::Ordinary, 200_000, 2500, 1.0, 2500),
        );
        location(&mut table, &scenes(Mixture::Hard, 300_000, 2500, 1.0, 2500));
        since("location alone");
        let few = u32::try_from(part(20)).unwrap();
        flawless(&mut table, folder, first + 400_000, few, LONG_SIDE);
        again(&mut table, folder, first + 500_000, PANELS, REAL);
        since("no flaws, one set-up");
    }
    if !has("located") {
        colours::mixture(&mut table, first + 1_000_000, part(200));
        since("mixture of lights, phones, curves");
        colours::saved(&mut table, first + 2_000_000, part(200));
        since("saved corrections");
        colours::elsewhere(&mut table, first + 3_000_000, part(15));
        since("other lights, phones, poses");
    }
    // Where only colours are looked at, no photo became a record.
    if !has("colours") {
        table.readings_row();
    }
    table.print();
    println!(
        "{share} % of the full size; {:.0} s in all",
        start.elapsed().as_secs_f64()
    );
}

/// What this process has used so far, as Linux tells it in hundredths of a second; 0 elsewhere.
fn processor_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // After the name, which may hold anything; user and system time are the 12th and 13th field from there.
    let fields = text.rsplit(')').next().unwrap_or_default();
    let ticks = fields.split_whitespace().skip(11).take(2);
    ticks.filter_map(|it| it.parse::<f64>().ok()).sum::<f64>() / 100.0
}
