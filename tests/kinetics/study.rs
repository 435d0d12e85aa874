use super::made::{KINDS, Kind, Patch, Random};
use masstone::fade::kinetics::course;
use std::collections::BTreeMap;

#[derive(Default, Clone)]
struct Tally {
    all: u32,
    held: u32,
    reached: u32,
    reached_held: u32,
    below: u32,
    above: u32,
    closed: u32,
    estimates: u32,
    widths: Vec<f64>,
    errors: Vec<f64>,
}

fn median(mut it: Vec<f64>) -> f64 {
    it.sort_by(f64::total_cmp);
    it.get(it.len() / 2).copied().unwrap_or(f64::NAN)
}

#[test]
fn look() {
    let n: u64 = std::env::var("PATCHES").map_or(40, |it| it.parse().unwrap());
    let mut tallies: BTreeMap<(String, String), Tally> = BTreeMap::new();
    let begun = std::time::Instant::now();
    let mut count = 0;
    for kind in KINDS {
        for exposures in [3, 5, 6, 8] {
            for patch in 0..n {
                let mut random = Random::new(1_000_000 + patch * 1000 + u64::from(exposures) * 10 + kind as u64);
                let sd = random.by_factors(0.1, 0.6);
                let truth = Patch::new(kind, &mut random);
                let points = truth.measured(exposures, sd, &mut random);
                let course = course(&points).unwrap();
                count += 1;
                for it in &course.thresholds {
                    let dose = truth.dose(it.de_00);
                    let low_ok = it.low.is_none_or(|low| dose.is_none_or(|dose| low <= dose));
                    let high_ok = it.high.is_none_or(|high| dose.is_some_and(|dose| dose <= high * 1.0003));
                    let keys = [
                        ("kind".to_owned(), format!("{kind:?}")),
                        ("kind+exposures".to_owned(), format!("{kind:?} {exposures}")),
                        ("exposures".to_owned(), format!("{exposures}")),
                        ("sd".to_owned(), format!("{}", if sd < 0.2 { "small" } else if sd < 0.4 { "middle" } else { "wide" })),
                        ("threshold".to_owned(), format!("{}", it.de_00)),
                        ("all".to_owned(), String::new()),
                    ];
                    for key in keys {
                        let tally = tallies.entry(key).or_default();
                        tally.all += 1;
                        tally.held += u32::from(low_ok && high_ok);
                        tally.closed += u32::from(it.high.is_some());
                        tally.estimates += u32::from(it.dose.is_some());
                        tally.below += u32::from(!low_ok);
                        tally.above += u32::from(!high_ok);
                        if let Some(dose) = dose {
                            tally.reached += 1;
                            tally.reached_held += u32::from(low_ok && high_ok);
                            let width = it.high.map_or(f64::INFINITY, |high| (high - it.low.unwrap_or(0.0)) / dose);
                            tally.widths.push(width);
                            if let Some(estimate) = it.dose {
                                tally.errors.push((estimate / dose).ln().abs());
                            }
                        }
                    }
                }
            }
        }
    }
    println!("{} ms a course", begun.elapsed().as_secs_f64() * 1000.0 / f64::from(count));
    println!("{:14} {:16} {:>5} {:>6} {:>7} {:>7} {:>6} {:>6} {:>6} {:>6} {:>6}", "by", "", "all", "held%", "reached", "held%", "early", "late", "closed", "width", "err");
    for ((by, what), it) in &tallies {
        let share = |a: u32, b: u32| 100.0 * f64::from(a) / f64::from(b);
        println!(
            "{by:14} {what:16} {:5} {:6.1} {:7} {:7.1} {:6.1} {:6.1} {:6.1} {:6.2} {:6.2}",
            it.all, share(it.held, it.all), it.reached, share(it.reached_held, it.reached),
            share(it.below, it.all), share(it.above, it.all), share(it.closed, it.all), median(it.widths.clone()), median(it.errors.clone()),
        );
    }
}
