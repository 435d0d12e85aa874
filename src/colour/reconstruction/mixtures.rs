//! What the smoothest reflectance is worth for mixtures: a published-in-file study, done again.
//!
//! Truth: the 24 reflectances of ISO 17321-1 mixed pairwise by Kubelka and Munk's K/S, at parts of 0.1, 0.25, 0.5, 0.75 and 0.9. Tried: the same from
//! the colours alone. The figures to meet were worked out with colour-science 0.4.7 (D65, 2°, 380–730 nm every 10 nm) and a Newton solver in numpy.

use super::smoothest;
use super::tests::published_weights;
use crate::colour::{Lab, difference, lab, white};
use crate::mix::film::{hiding, k_over_s};
use nalgebra::Vector3;

const PARTS: [f64; 5] = [0.1, 0.25, 0.5, 0.75, 0.9];

/// Every 10 nm from 380 to 730 nm: the table's last 81 columns are 380–780 nm every 5 nm.
fn chart() -> Vec<Vec<f64>> {
    let text = include_str!("../../../tests/data/colour-chart-24.csv");
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let spectrum = cells[cells.len() - 81..].iter().step_by(2).take(36);
        spectrum.map(|it| it.parse().unwrap()).collect()
    })
    .collect()
}

fn sums(weights: &[Vector3<f64>], reflectance: &[f64]) -> Vector3<f64> {
    weights.iter().zip(reflectance).map(|(w, r)| w * *r).sum()
}

/// Relative to the weights' own white.
fn lab_of(weights: &[Vector3<f64>], xyz: Vector3<f64>) -> Lab {
    let white: Vector3<f64> = weights.iter().sum();
    let it = xyz
        .component_div(&white)
        .component_mul(&Vector3::from(white::D50));
    lab::from_xyz(crate::colour::Xyz::new(it.x, it.y, it.z))
}

fn mixed(one: &[f64], other: &[f64], part: f64) -> Vec<f64> {
    one.iter()
        .zip(other)
        .map(|(a, b)| hiding((1.0 - part) * k_over_s(*a) + part * k_over_s(*b)))
        .collect()
}

/// Mean, median, 95th percentile, largest.
fn figures(mut all: Vec<f64>) -> [f64; 4] {
    all.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (all.len() - 1) as f64;
        let low = place.floor();
        let [a, b] = [low as usize, (low as usize + 1).min(all.len() - 1)].map(|i| all[i]);
        a + (b - a) * (place - low)
    };
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    [mean, at(0.5), at(0.95), at(1.0)]
}

#[test]
fn the_study_comes_out_as_it_did() {
    let weights = published_weights();
    let chart = chart();
    let rebuilt: Vec<Vec<f64>> = chart
        .iter()
        .map(|it| smoothest(&weights, sums(&weights, it)).unwrap())
        .collect();
    let (mut ours, mut linear, mut letdown) = (Vec::new(), Vec::new(), Vec::new());
    for one in 0..chart.len() {
        for other in one + 1..chart.len() {
            for part in PARTS {
                let lab = |it: &[f64]| lab_of(&weights, sums(&weights, it));
                let truth = lab(&mixed(&chart[one], &chart[other], part));
                let found = lab(&mixed(&rebuilt[one], &rebuilt[other], part));
                let [a, b] = [&chart[one], &chart[other]].map(|it| lab(it));
                let between = |a: f64, b: f64| a + (b - a) * part;
                let straight = Lab::new(between(a.l, b.l), between(a.a, b.a), between(a.b, b.b));
                let off = difference::delta_e_2000(truth, found);
                ours.push(off);
                linear.push(difference::delta_e_2000(truth, straight));
                // D1, the chart's white.
                if one == 18 || other == 18 {
                    letdown.push(off);
                }
            }
        }
    }
    assert_eq!(ours.len(), 1380);
    println!(
        "{:?} {:?} {:?}",
        figures(ours.clone()),
        figures(linear.clone()),
        figures(letdown.clone())
    );
    let near = |found: f64, printed: f64, last_digit: f64| {
        assert!(
            (found - printed).abs() <= 0.5 * last_digit,
            "{found} {printed}"
        );
    };
    let [mean, median, p95, most] = figures(ours);
    near(mean, 0.932, 1e-3);
    near(median, 0.510, 1e-3);
    near(p95, 3.14, 1e-2);
    near(most, 11.5, 0.1);
    let [mean, median, p95, most] = figures(linear);
    near(mean, 7.186, 1e-3);
    near(median, 5.579, 1e-3);
    near(p95, 19.2, 0.1);
    near(most, 34.5, 0.1);
    let [mean, _, p95, _] = figures(letdown);
    near(mean, 0.704, 1e-3);
    near(p95, 2.12, 1e-2);
}
