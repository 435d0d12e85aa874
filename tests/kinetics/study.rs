//! Whether doses to a threshold lie in their intervals as often as is said, over made-up patches of known course.

#![expect(clippy::print_stdout, reason = "a study prints its table")]

use super::made::{KINDS, Kind, Patch, Random};
use masstone::fade::kinetics::{Threshold, course};
use masstone_simulator::Split;
use rayon::prelude::*;

const EXPOSURES: [u32; 4] = [3, 5, 6, 8];

/// One interval and the truth.
struct Case {
    kind: Kind,
    exposures: u32,
    sd: f64,
    /// True dose; none where it isn't reached by 1.5 times the furthest dose.
    truth: Option<f64>,
    said: Threshold,
}

impl Case {
    fn holds(&self) -> bool {
        let rounding = 1e-6;
        let low = self.said.low.unwrap_or(0.0);
        self.truth.is_none_or(|it| low <= it * (1.0 + rounding))
            && (self.said.high)
                .is_none_or(|high| self.truth.is_some_and(|it| it <= high * (1.0 + rounding)))
    }

    /// Width over the true dose; infinite where the interval is open.
    fn width(&self) -> Option<f64> {
        let truth = self.truth?;
        let high = self.said.high.unwrap_or(f64::INFINITY);
        Some((high - self.said.low.unwrap_or(0.0)) / truth)
    }
}

/// `patches` of each kind and number of exposures, three thresholds each. Constants were set on the study's patches only.
fn cases(split: Split, patches: u64) -> Vec<Case> {
    let seed = match split {
        Split::Study => 1_000_000,
        Split::Test => 9_000_000_000,
    };
    let all: Vec<(Kind, u32, u64)> = KINDS
        .iter()
        .flat_map(|kind| EXPOSURES.iter().map(move |it| (*kind, *it)))
        .flat_map(|(kind, exposures)| (0..patches).map(move |it| (kind, exposures, it)))
        .collect();
    let of = |(kind, exposures, patch): (Kind, u32, u64)| {
        let own = patch * 1000 + u64::from(exposures) * 10 + kind as u64;
        let mut random = Random::new(seed + own);
        let sd = random.by_factors(0.1, 0.6);
        let patch = Patch::new(kind, &mut random);
        let course = course(&patch.measured(exposures, sd, &mut random)).unwrap();
        let cases = course.thresholds.into_iter().map(|said| Case {
            kind,
            exposures,
            sd,
            truth: patch.dose(said.de_00),
            said,
        });
        cases.collect::<Vec<_>>()
    };
    all.into_par_iter().flat_map_iter(of).collect()
}

fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
}

/// What share of intervals holds the truth.
fn share(cases: &[&Case]) -> f64 {
    cases.iter().filter(|it| it.holds()).count() as f64 / cases.len() as f64
}

/// A line of the table; gives the share of all, and of those whose truth is within what is said.
fn line(what: &str, cases: &[&Case]) -> (f64, f64, f64) {
    let reached: Vec<&Case> = cases
        .iter()
        .copied()
        .filter(|it| it.truth.is_some())
        .collect();
    let closed = cases.iter().filter(|it| it.said.high.is_some()).count();
    let width = median(cases.iter().filter_map(|it| it.width()).collect());
    let errors = cases
        .iter()
        .filter_map(|it| Some((it.said.dose? / it.truth?).ln().abs()));
    println!(
        "{what:20} {:6} {:6.1} % {:6} {:6.1} % {:6.1} % {width:7.2} {:7.2}",
        cases.len(),
        100.0 * share(cases),
        reached.len(),
        100.0 * share(&reached),
        100.0 * closed as f64 / cases.len() as f64,
        median(errors.collect()),
    );
    (share(cases), share(&reached), width)
}

fn of(cases: &[Case], which: impl Fn(&Case) -> bool) -> Vec<&Case> {
    cases.iter().filter(|it| which(it)).collect()
}

fn heading() {
    println!(
        "{:20} {:>6} {:>8} {:>6} {:>8} {:>8} {:>7} {:>7}",
        "", "all", "hold", "within", "hold", "closed", "width", "error"
    );
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say_and_are_not_wide() {
    let cases = cases(Split::Test, 40);
    heading();
    let (all, within, _) = line("all", &of(&cases, |_| true));
    for share in [all, within] {
        assert!((0.90..=0.99).contains(&share), "{share}");
    }
    for exposures in EXPOSURES {
        let (all, within, _) = line(
            &format!("{exposures} exposures"),
            &of(&cases, |it| it.exposures == exposures),
        );
        assert!(
            (0.90..=0.99).contains(&all) && within >= 0.90,
            "{all} {within}"
        );
    }
    for (what, from, to) in [("sd under 0.25", 0.0, 0.25), ("sd over 0.25", 0.25, 1.0)] {
        let (all, within, _) = line(what, &of(&cases, |it| from < it.sd && it.sd <= to));
        assert!(all >= 0.90 && within >= 0.90, "{all} {within}");
    }
    for kind in KINDS {
        let (all, _, width) = line(&format!("{kind:?}"), &of(&cases, |it| it.kind == kind));
        assert!(all >= 0.90, "{kind:?} {all}");
        // Of what follows a model, half of the intervals are narrower than this much of the dose.
        if matches!(kind, Kind::Linear | Kind::Plateau | Kind::Power) {
            assert!(width < 0.7, "{kind:?} {width}");
        }
    }
    // Noise alone never gets a dose that ends.
    let nothing = of(&cases, |it| {
        it.kind == Kind::Nothing && it.said.high.is_some()
    });
    assert!(
        nothing.is_empty(),
        "{} of nothing's intervals are closed",
        nothing.len()
    );
}

/// The table that constants were set by: `cargo test --test kinetics -- --ignored --nocapture`.
#[test]
#[ignore = "prints the study, with more patches"]
fn study() {
    let cases = cases(Split::Study, 150);
    heading();
    line("all", &of(&cases, |_| true));
    for exposures in EXPOSURES {
        line(
            &format!("{exposures} exposures"),
            &of(&cases, |it| it.exposures == exposures),
        );
    }
    for kind in KINDS {
        for exposures in EXPOSURES {
            let which = |it: &Case| it.kind == kind && it.exposures == exposures;
            line(&format!("{kind:?} {exposures}"), &of(&cases, which));
        }
    }
    let closed = of(&cases, |it| {
        it.kind == Kind::Nothing && it.said.high.is_some()
    })
    .len();
    println!("{closed} of nothing's intervals are closed");
}
