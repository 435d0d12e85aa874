//! A short run of `cargo bench --bench fade`: small boards through their exposures, from the files to the report.

#[path = "../benches/fade/board.rs"]
#[expect(dead_code, reason = "the bench uses the rest")]
mod board;
#[path = "../benches/fade/compared.rs"]
#[expect(dead_code, reason = "the bench uses the rest")]
mod compared;
#[expect(dead_code, reason = "benches use the rest")]
mod endtoend;
#[path = "../benches/fade/intervals.rs"]
mod intervals;
#[path = "correction/plain.rs"]
mod plain;
#[path = "../benches/fade/run.rs"]
mod run;

use board::{Run, Slip};
use compared::compared;
use intervals::{Interval, crossing, intervals};
use masstone::fade::kinetics::Threshold;
use masstone_simulator::{Fault, Series, Split};

/// About 1.5 megapixels.
const LONG_SIDE: u32 = 1400;
/// Doses after 0, and photos of each at most.
const EXPOSURES: usize = 3;
const MOST_PHOTOS: u64 = 2;

fn run(seed: u64, fault: Fault, slip: Slip) -> Run {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let series = Series::draw(Split::Test, seed, fault, EXPOSURES, MOST_PHOTOS);
    board::run(series, slip, LONG_SIDE, folder.path()).expect("a sound panel file")
}

/// Every photo is measured and named by place, and the board is assessed.
fn is_whole(run: &Run) {
    for seen in &run.seen {
        let named = seen.given.as_ref().map(|_| seen.misnamed.as_deref());
        assert_eq!(named, Ok(None));
    }
    let board = run.report.as_ref().expect("the board is assessed");
    assert_eq!(board.exposures.len(), run.series.doses.len());
}

#[test]
fn changes_are_nearer_the_truth_than_the_plain_methods() {
    let run = run(8_300_000, Fault::None, Slip::Turned);
    is_whole(&run);
    let all = compared(&run);
    assert!(!all.is_empty());
    let (mut ours, mut plain) = (0.0, 0.0);
    for it in &all {
        let told = it.ours.as_ref().expect("every readable change is told");
        ours += (told.change - it.truth).norm();
        plain += (it.plain - it.truth).norm();
    }
    assert!(ours <= 0.6 * plain, "{:.2}", ours / plain);
    // Whatever is said of doses holds a number of each.
    assert!(
        intervals(&run)
            .iter()
            .all(|it| it.limit > run.series.last())
    );
}

/// How the bench judges intervals, by hand.
#[test]
fn an_interval_holds_the_dose_that_lies_in_it() {
    let doses = [0.0, 100.0, 200.0, 300.0];
    let dose = crossing(&doses, &[0.0, 0.5, 1.5, 1.2], 1.0).expect("it is reached");
    assert!((dose - 150.0).abs() < 1e-9);
    assert_eq!(crossing(&doses, &[0.0, 0.5, 1.5, 1.2], 2.0), None);
    let interval = |dose, low, high, truth| Interval {
        stated: Threshold {
            de_00: 1.0,
            dose,
            low,
            high,
        },
        truth,
        limit: 450.0,
    };
    let some = Some(140.0);
    assert!(interval(some, Some(100.0), Some(200.0), Some(150.0)).holds());
    assert!(!interval(some, Some(100.0), Some(200.0), Some(201.0)).holds());
    assert!(!interval(some, Some(100.0), Some(200.0), None).holds());
    // Open above, and nothing below.
    assert!(interval(some, Some(100.0), None, None).holds());
    assert!(!interval(some, Some(100.0), None, Some(99.0)).holds());
    assert!(interval(some, None, Some(200.0), Some(1.0)).holds());
    // Nothing stated: not reached before the limit.
    let nothing = interval(None, None, None, None);
    assert!(nothing.holds() && !nothing.tells());
    assert!(!interval(None, None, None, Some(400.0)).holds());
}
