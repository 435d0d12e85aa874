//! How fast recipes are found, and whether any are missed: `cargo bench --bench mix_search -- [TARGETS] [FIRST SEED]`.
//!
//! `TARGETS` (default 12) colours are searched in a library of 60 pigments made by hand, all singles, pairs and triples, and by a plain grid in the same
//! run: 12 evenly spaced loads of each pigment within the limits, each recipe's colour from the model and its ΔE00; all singles and pairs, and a sample
//! of the triples, whose time is extrapolated to all. Then triples drawn for each target: grid, closer grid and Nelder and Mead's simplex against the search
//! with those three. `FIRST SEED` (default 90,000) draws library and targets; the search's constants were set on seeds 1 and 77. Times are those of the
//! clock: on a busy machine only the ratio says something.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]
#![expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]

#[path = "../tests/tinted/mod.rs"]
mod tinted;

use masstone::colour::Lab;
use masstone::mix::search::{Candidate, Found, search};
use masstone::mix::{Model, fit};
use rayon::prelude::*;
use std::time::{Duration, Instant};
use tinted::other::{Aim, G_PER_M2};
use tinted::{Numbers, library, task, trials};

const PIGMENTS: usize = 60;
/// Triples whose grid is worked out for each target; the others would take as long each.
const SAMPLE: usize = 400;
/// Triples that the simplex is held against for each target.
const CLOSELY: usize = 40;
/// Least load that can be weighed, as [`task`] has it.
const LEAST: f64 = 0.02;

/// Seconds that all threads of this process have worked; none where the system doesn't say. On a busy machine this is nearer the truth than the
/// clock.
fn worked() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // After the name, which may hold spaces: user and system time are fields 14 and 15 of the whole, in hundredths.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    Some((fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?) / 100.0)
}

fn nearest(found: &Found) -> f64 {
    let all = found.groups.iter().flatten().map(|it| it.delta_e);
    all.fold(f64::INFINITY, f64::min)
}

/// The nearest of plain grids, and how long they took.
fn grids(model: &Model, sets: &[Vec<Candidate>], wanted: Lab) -> (f64, Duration) {
    let start = Instant::now();
    let best = (sets.par_iter())
        .map(|pigments| {
            let aim = Aim {
                model,
                pigments,
                least: LEAST,
                wanted,
            };
            let grid = aim.grid(12, false);
            grid.iter().map(|it| it.0).fold(f64::INFINITY, f64::min)
        })
        .reduce(|| f64::INFINITY, f64::min);
    (best, start.elapsed())
}

fn three(candidates: &[Candidate], numbers: &mut Numbers) -> Vec<Candidate> {
    loop {
        let places = [0; 3].map(|_| numbers.place(candidates.len()));
        if places[0] < places[1] && places[1] < places[2] {
            return places.map(|it| candidates[it].clone()).to_vec();
        }
    }
}

fn main() {
    let given: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let targets = given.first().copied().unwrap_or(12);
    let seed = given.get(1).copied().unwrap_or(90_000);
    let (model, candidates) = library(PIGMENTS, seed);
    let mut numbers = Numbers::new(seed + 1);
    let of_one = candidates.iter().map(|it| vec![it.clone()]);
    let of_two = (0..PIGMENTS).flat_map(|a| (0..a).map(move |b| (a, b)));
    let few: Vec<Vec<Candidate>> = of_one
        .chain(of_two.map(|(a, b)| vec![candidates[a].clone(), candidates[b].clone()]))
        .collect();
    println!(
        "{PIGMENTS} pigments, {} threads",
        rayon::current_num_threads()
    );
    println!(
        "wanted L* a* b*        ΔE00 ours    grid   ours s   grid s, extrapolated   ratio   alike"
    );
    let (mut times, mut works, mut ratios, mut missed) = (Vec::new(), Vec::new(), Vec::new(), 0);
    let (mut gaps, mut tried): (Vec<f64>, usize) = (Vec::new(), 0);
    for target in 0..targets {
        // Every second one is duller, as exterior coatings are.
        let far = if target % 2 == 0 { 15.0 } else { 45.0 };
        let wanted = Lab::new(
            numbers.between(25.0, 75.0),
            numbers.between(-far, far),
            numbers.between(-far / 2.0, 1.3 * far),
        );
        let (start, before) = (Instant::now(), worked());
        let found = match search(&task(&model, &candidates, wanted)) {
            Ok(found) => found,
            Err(why) => {
                println!("{why}");
                continue;
            }
        };
        let time = start.elapsed();
        let work = worked().zip(before).map_or(f64::NAN, |it| it.0 - it.1);
        works.push(work);
        let sample: Vec<Vec<Candidate>> = (0..SAMPLE)
            .map(|_| three(&candidates, &mut numbers))
            .collect();
        let (best_of_few, of_few) = grids(&model, &few, wanted);
        let (best_of_sample, of_sample) = grids(&model, &sample, wanted);
        let triples = found.combinations - few.len();
        let grid_time =
            of_few.as_secs_f64() + of_sample.as_secs_f64() * triples as f64 / SAMPLE as f64;
        let grid = best_of_few.min(best_of_sample);
        let ours = nearest(&found);
        missed += usize::from(ours > grid + 0.05);
        times.push(time.as_secs_f64());
        ratios.push(grid_time / time.as_secs_f64());
        println!(
            "{:5.1} {:6.1} {:6.1} {ours:15.3} {grid:7.3} {:8.2} {grid_time:22.1} {:7.0} {:7}",
            wanted.l,
            wanted.a,
            wanted.b,
            time.as_secs_f64(),
            grid_time / time.as_secs_f64(),
            found.alike
        );
        let sets: Vec<Vec<Candidate>> = sample.into_iter().take(CLOSELY).collect();
        let of_sets: Vec<f64> = (sets.par_iter())
            .filter_map(|pigments| {
                let found = search(&task(&model, pigments, wanted)).ok()?;
                let aim = Aim {
                    model: &model,
                    pigments,
                    least: LEAST,
                    wanted,
                };
                Some(nearest(&found) - aim.simplex().0)
            })
            .collect();
        tried += of_sets.len();
        gaps.extend(of_sets);
    }
    fitted(&model, &candidates, seed);
    times.sort_by(f64::total_cmp);
    works.sort_by(f64::total_cmp);
    ratios.sort_by(f64::total_cmp);
    let middle = |of: &[f64]| of.get(of.len() / 2).copied().unwrap_or(f64::NAN);
    println!(
        "time: median {:.2} s, longest {:.2} s (to reach: 2)",
        middle(&times),
        times.last().unwrap_or(&f64::NAN)
    );
    println!(
        "processor time of all threads: median {:.2} s, longest {:.2} s",
        middle(&works),
        works.last().unwrap_or(&f64::NAN)
    );
    println!("grid takes {:.0} times as long (median)", middle(&ratios));
    println!("grid nearer by more than 0.05 ΔE00: {missed} of {targets} (to reach: 0)");
    let worst = gaps.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let over = gaps.iter().filter(|it| **it > 0.05).count();
    println!(
        "three pigments alone, against grid and simplex: nearer than ours by more than 0.05 in {over} of {tried}, at most {worst:.3}"
    );
}

/// The same with a model that was fitted to trials: predictions cost more then.
fn fitted(made: &Model, candidates: &[Candidate], seed: u64) {
    let model = match fit(&trials(made, G_PER_M2, 0.4, seed + 2)) {
        Ok(model) => model,
        Err(why) => return println!("{why}"),
    };
    let (start, before) = (Instant::now(), worked());
    let wanted = Lab::new(45.0, 12.0, 20.0);
    match search(&task(&model, candidates, wanted)) {
        Ok(found) => println!(
            "with a fitted model: {:.2} s, processor time {:.2} s, ΔE00 {:.3}, {} alike",
            start.elapsed().as_secs_f64(),
            worked().zip(before).map_or(f64::NAN, |it| it.0 - it.1),
            nearest(&found),
            found.alike
        ),
        Err(why) => println!("{why}"),
    }
}
