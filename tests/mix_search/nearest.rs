//! Whether what is found is the nearest there is.

use super::tinted::other::{Aim, G_PER_M2};
use super::tinted::{Numbers, candidate, edge, library, model, pigment, trials};
use super::{all, colour, ids, loads, nearest, task};
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use masstone::mix::search::{Bound, search};
use masstone::mix::{Coat, fit};

/// Where targets are drawn from here; the search's constants were set on other libraries and other draws.
const SEED: u64 = 4000;

/// A colour that these pigments make, or one up to so far from it.
fn drawn(aim: &Aim<'_>, numbers: &mut Numbers, farthest: f64) -> Lab {
    let shares: Vec<f64> = aim
        .pigments
        .iter()
        .map(|_| numbers.between(0.0, 1.0))
        .collect();
    let scale = numbers.ratio(0.02, 1.0) / shares.iter().sum::<f64>();
    let loads: Vec<f64> = (aim.pigments.iter().zip(&shares))
        .map(|(it, share)| share * scale * it.limit.expect("a limit"))
        .collect();
    let at = aim.colour(&loads);
    let mut off = || farthest * numbers.between(-1.0, 1.0);
    Lab::new((at.l + off()).clamp(5.0, 90.0), at.a + off(), at.b + off())
}

#[test]
fn a_recipe_is_found_again_by_its_colour() {
    let (model, candidates) = library(14, SEED);
    for recipe in [
        vec![("P03", 0.8)],
        vec![("P03", 0.8), ("P10", 0.2)],
        vec![("P01", 1.1), ("P07", 0.3), ("P12", 0.4)],
    ] {
        let wanted = colour(&model, &recipe);
        let found = search(&task(&model, &candidates, wanted)).unwrap();
        assert!(
            nearest(&found).delta_e < 0.02,
            "{recipe:?}: {}",
            nearest(&found).delta_e
        );
        assert!(found.shortfall.is_none());
        // From its own pigments alone it is the very recipe, as far as three numbers tell three loads.
        let own: Vec<_> = candidates
            .iter()
            .filter(|it| recipe.iter().any(|one| one.0 == it.id))
            .cloned()
            .collect();
        let found = search(&task(&model, &own, wanted)).unwrap();
        let again = all(&found)
            .find(|it| it.parts.len() == recipe.len())
            .unwrap();
        for (part, (_, load)) in again.parts.iter().zip(&recipe) {
            assert!(
                (part.load / load - 1.0).abs() < 0.01,
                "{recipe:?}: {part:?}"
            );
        }
    }
}

#[test]
fn no_grid_comes_nearer() {
    let (model, candidates) = library(7, SEED + 1);
    let mut numbers = Numbers::new(SEED + 2);
    let mut worst = f64::NEG_INFINITY;
    for _ in 0..12 {
        let few = &candidates[..3];
        let aim = Aim {
            model: &model,
            pigments: few,
            least: 0.02,
            wanted: Lab::new(50.0, 0.0, 0.0),
        };
        let farthest = numbers.between(0.0, 15.0);
        let wanted = drawn(&aim, &mut numbers, farthest);
        let Ok(found) = search(&task(&model, &candidates, wanted)) else {
            continue;
        };
        let ours = nearest(&found).delta_e;
        for a in 0..7 {
            for b in 0..a {
                for c in 0..b {
                    let three = [a, b, c].map(|it| candidates[it].clone());
                    let aim = Aim {
                        model: &model,
                        pigments: &three,
                        least: 0.02,
                        wanted,
                    };
                    for ratio in [false, true] {
                        let grid = aim.grid(10, ratio);
                        let best = grid.iter().map(|it| it.0).fold(f64::INFINITY, f64::min);
                        worst = worst.max(ours - best);
                    }
                }
            }
        }
    }
    assert!(worst < 0.05, "a grid came nearer by {worst}");
}

#[test]
fn another_minimiser_comes_no_nearer() {
    let (model, candidates) = library(40, SEED + 3);
    let mut numbers = Numbers::new(SEED + 4);
    let mut tried = 0;
    while tried < 60 {
        let mut places = [0; 3].map(|_| numbers.place(candidates.len()));
        places.sort_unstable();
        if places[0] == places[1] || places[1] == places[2] {
            continue;
        }
        let three = places.map(|it| candidates[it].clone());
        let mut aim = Aim {
            model: &model,
            pigments: &three,
            least: 0.02,
            wanted: Lab::new(50.0, 0.0, 0.0),
        };
        let farthest = if tried % 3 == 0 {
            0.0
        } else {
            numbers.ratio(0.5, 30.0)
        };
        aim.wanted = drawn(&aim, &mut numbers, farthest);
        let Ok(found) = search(&task(&model, &three, aim.wanted)) else {
            continue;
        };
        tried += 1;
        let (other, loads) = aim.simplex();
        let ours = nearest(&found);
        assert!(
            ours.delta_e < other + 0.01,
            "{three:?} {:?}: {} {:?}, the other {other} {loads:?}",
            aim.wanted,
            ours.delta_e,
            ours.parts
        );
        // And what is said of it is what the model says.
        let parts: Vec<(&str, f64)> = ours
            .parts
            .iter()
            .map(|it| (it.pigment.as_str(), it.load))
            .collect();
        let again = delta_e_2000(colour(&model, &parts), aim.wanted);
        assert!((again - ours.delta_e).abs() < 1e-9);
    }
}

/// The conditions of Karush, Kuhn and Tucker by small steps: no allowed one comes nearer.
#[test]
fn out_of_reach_no_small_step_comes_nearer() {
    let (model, candidates) = library(5, SEED + 5);
    for wanted in [
        Lab::new(20.0, 60.0, 30.0),
        Lab::new(70.0, -50.0, 20.0),
        Lab::new(30.0, 20.0, -50.0),
        Lab::new(85.0, 5.0, 60.0),
    ] {
        let found = search(&task(&model, &candidates, wanted)).unwrap();
        let best = nearest(&found);
        assert!(
            best.delta_e > 1.0 && found.shortfall.is_some(),
            "{wanted:?} {}",
            best.delta_e
        );
        let pigments: Vec<_> = ids(best)
            .iter()
            .map(|id| candidates.iter().find(|it| it.id == *id).unwrap().clone())
            .collect();
        let aim = Aim {
            model: &model,
            pigments: &pigments,
            least: 0.02,
            wanted,
        };
        let here: Vec<f64> = best.parts.iter().map(|it| it.load).collect();
        let n = here.len();
        let mut directions: Vec<Vec<f64>> = Vec::new();
        for it in 0..n {
            for sign in [-1.0, 1.0] {
                let mut one = vec![0.0; n];
                one[it] = sign * pigments[it].limit.unwrap();
                directions.push(one.clone());
                for other in (0..n).filter(|other| *other != it) {
                    let mut two = one.clone();
                    two[other] = -sign * pigments[other].limit.unwrap();
                    directions.push(two);
                }
            }
        }
        for direction in directions {
            for step in [1e-5, 1e-4, 1e-3] {
                let there: Vec<f64> = here
                    .iter()
                    .zip(&direction)
                    .map(|(load, by)| load + step * by)
                    .collect();
                assert!(
                    aim.off(&there) > best.delta_e - 1e-6,
                    "{wanted:?} {here:?} {direction:?} {step}: {}",
                    aim.off(&there) - best.delta_e
                );
            }
        }
    }
}

#[test]
fn what_stands_in_the_way_is_named() {
    // A red of which three times as much would be right.
    let red = pigment("PR101", edge(580.0, 15.0, 0.8, 0.1), &[0.6, 1.2]);
    let model = model(vec![red]);
    let candidates = [candidate("PR101", 1.2)];
    let wanted = colour(&model, &[("PR101", 3.6)]);
    let found = search(&task(&model, &candidates, wanted)).unwrap();
    let best = nearest(&found);
    let shortfall = found.shortfall.as_ref().unwrap();
    assert!(!best.reaches && (best.parts[0].load - 1.2).abs() < 1e-9);
    let [bound] = shortfall.bounds.as_slice() else {
        panic!("{shortfall:?}")
    };
    assert!(
        matches!(bound, Bound::Limit(id, limit) if id == "PR101" && (limit - 1.2).abs() < 1e-9)
    );
    assert_eq!(bound.to_string(), "PR101 is at its limit 1.2");
    let paler = best.fresh.lab.l > wanted.l;
    assert_eq!(
        shortfall.words.contains(&"not dark enough"),
        paler,
        "{:?} {wanted:?} {:?}",
        shortfall.words,
        best.fresh.lab
    );
}

#[test]
fn threads_change_nothing() {
    let (model, candidates) = library(16, SEED + 7);
    let on = |threads: usize, wanted: Lab| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| search(&task(&model, &candidates, wanted)).unwrap())
    };
    for wanted in [Lab::new(45.0, 10.0, 20.0), Lab::new(60.0, 40.0, 30.0)] {
        let one = on(1, wanted);
        assert_eq!(one, on(2, wanted));
        let mut seen: Vec<Vec<&str>> = all(&one).map(ids).collect();
        let count = seen.len();
        seen.sort();
        seen.dedup();
        assert_eq!(seen.len(), count, "each combination once");
    }
}

/// A fitted model predicts more than the film's colour: what counts is the prediction.
#[test]
fn what_counts_is_the_prediction() {
    let (made, candidates) = library(5, SEED + 8);
    let model = fit(&trials(&made, G_PER_M2, 0.4, SEED + 9)).unwrap();
    let coat = |parts: &[(&str, f64)]| Coat {
        pigments: loads(parts),
        g_per_m2: G_PER_M2,
        ground: "larch".to_owned(),
    };
    for recipe in [[("P01", 1.5), ("P03", 0.7)], [("P02", 0.4), ("P04", 0.9)]] {
        let wanted = model.predict(&coat(&recipe)).unwrap().lab;
        let found = search(&task(&model, &candidates, wanted)).unwrap();
        assert!(
            nearest(&found).delta_e < 0.02,
            "{}",
            nearest(&found).delta_e
        );
        for it in all(&found) {
            let parts: Vec<(&str, f64)> = (it.parts.iter())
                .map(|it| (it.pigment.as_str(), it.load))
                .collect();
            let again = model.predict(&coat(&parts)).unwrap();
            assert_eq!(again.lab, it.fresh.lab);
            assert!((delta_e_2000(again.lab, wanted) - it.delta_e).abs() < 1e-9);
            assert!(it.fresh.u95 > 0.0 && it.interval[1] > it.interval[0]);
        }
    }
}
