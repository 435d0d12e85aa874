//! From courses to doses at which ΔE00 reaches a threshold, and to the curve between.

use super::data::Data;
use super::draw::Draw;
use super::weight::Weighted;
use super::{CurvePoint, Threshold};
use crate::colour::{Lab, difference};
use nalgebra::Vector3;

/// Nothing is said beyond this many times the furthest dose.
pub(super) const REACH: f64 = 1.5;
/// Points of a curve after dose 0.
const POINTS: usize = 40;
/// Steps in which the averaged course is followed to a threshold.
const STEPS: usize = 300;
/// Ends of a 95 % interval.
const ENDS: (f64, f64) = (0.025, 0.975);

/// A model with its draws; none where nothing changes.
pub(super) type Drawn<'a> = (&'a Weighted, Vec<Draw>);

/// ΔE00 of a change.
fn de_00(start: Lab, change: &Vector3<f64>) -> f64 {
    let there = Lab::new(start.l + change.x, start.a + change.y, start.b + change.z);
    difference::delta_e_2000(start, there)
}

/// The averaged course.
pub(super) fn average(models: &[Weighted], x: f64) -> Vector3<f64> {
    models.iter().map(|it| it.fit.at(x) * it.weight).sum()
}

/// The dose at which ΔE00 reaches `threshold`.
pub(super) fn threshold(threshold: f64, models: &[Weighted], drawn: &[Drawn<'_>], range: bool, data: &Data) -> Threshold {
    let estimate = first_crossing(threshold, models, data);
    let reached = |draws: &[Draw]| -> Vec<(f64, f64)> {
        if draws.is_empty() {
            return vec![(f64::INFINITY, 1.0)];
        }
        draws.iter().map(|it| (reach(threshold, it, data.start), it.weight)).collect()
    };
    let (low, high) = interval(drawn, range, reached);
    let inside = |it: f64| (it <= REACH).then_some(it * data.last);
    let high = estimate.and_then(|estimate| inside(high.max(estimate)));
    let low = estimate.map_or(low, |estimate| low.min(estimate));
    Threshold {
        de_00: threshold,
        dose: estimate.and_then(inside),
        low: Some(low.min(REACH) * data.last),
        high,
    }
}

/// The averaged course between dose 0 and the end of what is said.
pub(super) fn curve(models: &[Weighted], drawn: &[Drawn<'_>], range: bool, data: &Data) -> Vec<CurvePoint> {
    (0..=POINTS)
        .map(|step| {
            let x = REACH * step as f64 / POINTS as f64;
            let change = average(models, x);
            let here = de_00(data.start, &change);
            let changed = |draws: &[Draw]| -> Vec<(f64, f64)> {
                if draws.is_empty() {
                    return vec![(0.0, 1.0)];
                }
                draws
                    .iter()
                    .map(|it| (de_00(data.start, &(it.change * it.shape.at(x))), it.weight))
                    .collect()
            };
            let (low, high) = interval(drawn, range, changed);
            CurvePoint {
                dose: x * data.last,
                change: change.into(),
                de_00: here,
                low: low.min(here),
                high: high.max(here),
            }
        })
        .collect()
}

/// A 95 % interval of what `values` gives with weights for the draws of each model: over all of them by the models' weights, or, as `range`,
/// from the least to the greatest of the models' own.
fn interval(drawn: &[Drawn<'_>], range: bool, values: impl Fn(&[Draw]) -> Vec<(f64, f64)>) -> (f64, f64) {
    if range {
        return drawn
            .iter()
            .filter(|it| !it.0.ruled_out)
            .map(|it| ends(values(&it.1)))
            .fold((f64::INFINITY, 0.0), |all, it| (all.0.min(it.0), it.1.max(all.1)));
    }
    ends(
        drawn
            .iter()
            .flat_map(|(model, draws)| {
                values(draws)
                    .into_iter()
                    .map(|(value, weight)| (value, weight * model.weight))
            })
            .collect(),
    )
}

/// Both ends of the 95 % interval of weighted values.
fn ends(mut values: Vec<(f64, f64)>) -> (f64, f64) {
    values.sort_by(|one, other| one.0.total_cmp(&other.0));
    let all: f64 = values.iter().map(|it| it.1).sum();
    let quantile = |share: f64| {
        let mut sum = 0.0;
        for (value, weight) in &values {
            sum += weight;
            if sum >= share * all {
                return *value;
            }
        }
        values.last().map_or(f64::NAN, |it| it.0)
    };
    (quantile(ENDS.0), quantile(ENDS.1))
}

/// The dose, over the furthest, at which a draw reaches the threshold; infinite beyond the reach.
fn reach(threshold: f64, draw: &Draw, start: Lab) -> f64 {
    let most = draw.shape.at(REACH);
    let above = |along: f64| de_00(start, &(draw.change * along)) - threshold;
    let (mut a, mut b) = (0.0, most);
    let (mut fa, mut fb) = (-threshold, above(most));
    if fb.is_nan() || fb < 0.0 {
        return f64::INFINITY;
    }
    let mut kept = 0;
    // False position, as in the fit; ΔE00 is nearly straight along a line.
    for _ in 0..30 {
        let c = (a * fb - b * fa) / (fb - fa);
        let fc = above(c);
        if fc.abs() < 1e-4 * threshold {
            return draw.shape.dose(c);
        }
        if fc < 0.0 {
            (a, fa) = (c, fc);
            if kept == 1 {
                fb /= 2.0;
            }
            kept = 1;
        } else {
            (b, fb) = (c, fc);
            if kept == 2 {
                fa /= 2.0;
            }
            kept = 2;
        }
    }
    draw.shape.dose(b)
}

/// The first dose, over the furthest, at which the averaged course reaches the threshold.
fn first_crossing(threshold: f64, models: &[Weighted], data: &Data) -> Option<f64> {
    let reached = |x: f64| de_00(data.start, &average(models, x)) >= threshold;
    let at = |step: usize| REACH * step as f64 / STEPS as f64;
    let step = (1..=STEPS).find(|step| reached(at(*step)))?;
    let (mut before, mut after) = (at(step - 1), at(step));
    for _ in 0..50 {
        let middle = f64::midpoint(before, after);
        if reached(middle) {
            after = middle;
        } else {
            before = middle;
        }
    }
    Some(after)
}
