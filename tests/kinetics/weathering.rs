//! Real weathering, where it is there: what was measured later lies where the course up to then says.

use super::{along_lightness, model, real};
use masstone::colour::{Lab, Matrix, difference};
use masstone::fade::kinetics::{Course, ModelName, Points, course};
use std::collections::BTreeMap;

/// Yellowness index of many specimens at each dose: mean, variance of the mean, number.
fn levels(file: &str, dose: &str) -> Option<Vec<(f64, f64, f64)>> {
    let path = real::folder("spectra")?.join("weathering").join(file);
    let mut reader = csv::Reader::from_path(path).ok()?;
    let column = |name: &str, header: &csv::StringRecord| header.iter().position(|it| it == name);
    let header = reader.headers().unwrap().clone();
    let (index, dose) = (
        column("YI", &header).unwrap(),
        column(dose, &header).unwrap(),
    );
    let mut by_dose: BTreeMap<u64, (f64, Vec<f64>)> = BTreeMap::new();
    for row in reader.records() {
        let row = row.unwrap();
        let number = |at: usize| row[at].parse::<f64>().unwrap();
        // Bits of what isn't negative are in order.
        let entry = by_dose.entry(number(dose).to_bits()).or_default();
        entry.0 = number(dose);
        entry.1.push(number(index));
    }
    // Single specimens have no spread of their own: that of all.
    let (mut squares, mut degrees) = (0.0, 0.0);
    let mean = |it: &[f64]| it.iter().sum::<f64>() / it.len() as f64;
    for (_, all) in by_dose.values() {
        squares += all.iter().map(|it| (it - mean(all)).powi(2)).sum::<f64>();
        degrees += all.len() as f64 - 1.0;
    }
    let pooled = squares / degrees;
    let level = |(dose, all): &(f64, Vec<f64>)| {
        let own =
            all.iter().map(|it| (it - mean(all)).powi(2)).sum::<f64>() / (all.len() as f64 - 1.0);
        let variance = if all.len() < 3 { pooled } else { own };
        (*dose, mean(all), variance / all.len() as f64)
    };
    Some(by_dose.values().map(level).collect())
}

/// The index as if it were lightness about L* 50, where ΔE00 is nearly its change.
fn points(levels: &[(f64, f64, f64)]) -> Points {
    let (before, after) = levels.split_first().unwrap();
    let course: Vec<(f64, f64)> = after.iter().map(|it| (it.0, it.1 - before.1)).collect();
    let mut points = along_lightness(49.0, &course, 1.0);
    for (point, level) in points.points.iter_mut().zip(after) {
        point.covariance = Matrix::identity() * level.2;
    }
    points.shared = Matrix::identity() * before.2;
    points
}

/// Whether the course's interval at a later dose and what was measured there overlap, each with 95 %.
fn holds(course: &Course, before: f64, later: (f64, f64, f64)) -> bool {
    assert!(later.0 < course.limit_dose);
    let start = Lab::new(49.0, 0.0, 0.0);
    let change = |it: f64| difference::delta_e_2000(start, Lab::new(49.0 + it, 0.0, 0.0));
    let (measured, sd) = (later.1 - before, later.2.sqrt());
    let around = (
        change((measured - 1.96 * sd).max(0.0)),
        change(measured + 1.96 * sd),
    );
    let after = course
        .curve
        .iter()
        .position(|it| it.dose >= later.0)
        .unwrap();
    let (one, other) = (&course.curve[after - 1], &course.curve[after]);
    one.low <= around.1 && other.high >= around.0
}

/// Polyester film that does not yellow in its first week, then ever faster: an induction that is none of the models.
#[test]
fn polyester_film_yellows_as_foretold() {
    let Some(levels) = levels("pet.csv", "Time") else {
        return;
    };
    assert_eq!(levels.len(), 8, "168 hours apart, from 0");
    let mut later = Vec::new();
    for known in 4..levels.len() {
        let course = course(&points(&levels[..known])).unwrap();
        let told = levels[known..].iter().filter(|it| it.0 < course.limit_dose);
        later.extend(told.map(|it| (levels[known - 1].0, it.0, holds(&course, levels[0].1, *it))));
    }
    assert_eq!(later.len(), 5, "as far as 1.5 times the furthest");
    let missed: Vec<_> = later.iter().filter(|it| !it.2).collect();
    // By chance two of five would miss in 2 % of cases.
    assert!(
        missed.len() <= 1,
        "not where foretold (from, at): {missed:?}"
    );
    // With all of it: not straight, faster and faster.
    let course = course(&points(&levels)).unwrap();
    assert_eq!(course.models[0].name, ModelName::Power);
    let exponent = model(&course, ModelName::Power).parameters[3].clone();
    assert!(
        exponent.value - 1.96 * exponent.sd.unwrap() > 1.0,
        "{exponent:?}"
    );
}

/// Acrylic sheets of several makes pooled: they scatter far more than their means' uncertainty, which must be said.
#[test]
fn pooled_acrylic_sheets_follow_no_model() {
    let Some(levels) = levels("acrylic.csv", "IrradTot") else {
        return;
    };
    let course = course(&points(&levels)).unwrap();
    assert!(
        course.limit_reason.contains("follow none of the models"),
        "{}",
        course.limit_reason
    );
    // Between the first exposure, surely below, and the second, surely above (means 0.6 and 2.3).
    let at_1 = course.thresholds[0];
    assert!(
        at_1.low.unwrap() <= levels[1].0 && at_1.high.unwrap() >= levels[2].0,
        "{at_1:?}"
    );
}
