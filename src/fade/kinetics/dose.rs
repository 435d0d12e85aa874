//! From courses to doses at which ΔE00 reaches a threshold, and to the curve between.

use super::data::Data;
use super::draw::Draw;
use super::ray::de_00;
use super::weight::Weighted;
use super::{CurvePoint, REACH, Threshold};
use crate::colour::{Lab, uncertainty};
use nalgebra::Vector3;

/// Points of a curve after dose 0.
const POINTS: usize = 40;
/// Steps in which the averaged course is followed to a threshold.
const STEPS: usize = 300;
/// A curve is from one draw in so many.
const EVERY: usize = 3;
/// Ends of a 95 % interval.
const ENDS: (f64, f64) = (0.025, 0.975);

/// A model with its draws: none where nothing changes.
pub(super) type Drawn<'a> = (&'a Weighted, Vec<Draw>);

/// What can be said of a change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Said<'a> {
    /// All models.
    pub(super) models: &'a [Weighted],
    /// The same with their draws.
    pub(super) drawn: &'a [Drawn<'a>],
    /// Whether intervals are the range over the models.
    pub(super) range: bool,
    /// Whether the points follow none of them.
    pub(super) misfit: bool,
    /// The points.
    pub(super) data: &'a Data,
    /// What each of them says alone; asked for where they follow no model.
    pub(super) alone: &'a [Alone],
}

impl Said<'_> {
    /// The averaged course.
    fn average(&self, x: f64) -> Vector3<f64> {
        let parts = self.models.iter().map(|it| it.fit.at(x) * it.weight);
        parts.sum()
    }

    /// The dose at which ΔE00 reaches `threshold`.
    pub(super) fn threshold(&self, threshold: f64) -> Threshold {
        let estimate = self.first_crossing(threshold);
        let (mut low, mut high) = self.interval(f64::INFINITY, |it| reach(threshold, it), 1);
        if self.misfit {
            let (after, before) = bracket(threshold, self.alone);
            (low, high) = (low.min(after), high.max(before));
        }
        let inside = |it: f64| (it <= REACH).then_some(it * self.data.last);
        Threshold {
            de_00: threshold,
            dose: estimate.and_then(inside),
            low: Some(estimate.map_or(low, |it| low.min(it)).min(REACH) * self.data.last),
            // Where the averaged course doesn't reach it, nor does the interval end.
            high: estimate.and_then(|it| inside(high.max(it))),
        }
    }

    /// The averaged course between dose 0 and the end of what is said.
    pub(super) fn curve(&self) -> Vec<CurvePoint> {
        (0..=POINTS)
            .map(|step| {
                let x = REACH * step as f64 / POINTS as f64;
                let change = self.average(x);
                let here = de_00(self.data.start, &change);
                let changed = |it: &Draw| it.ray.at(it.shape.at(x));
                let (mut low, mut high) = self.interval(0.0, changed, EVERY);
                if self.misfit && step > 0 {
                    let (least, most) = between(x, self.alone);
                    (low, high) = (low.min(least), high.max(most));
                }
                CurvePoint {
                    dose: x * self.data.last,
                    change: change.into(),
                    de_00: here,
                    low: low.min(here),
                    high: high.max(here),
                }
            })
            .collect()
    }

    /// A 95 % interval of `value` over one draw in `every`: over all by the models' weights, or from the least to the greatest
    /// of the models' own. `unchanged`: the value where nothing changes.
    fn interval(&self, unchanged: f64, value: impl Fn(&Draw) -> f64, every: usize) -> (f64, f64) {
        let values = |draws: &[Draw], weight: f64| -> Vec<(f64, f64)> {
            if draws.is_empty() {
                return vec![(unchanged, weight)];
            }
            let drawn: Vec<&Draw> = draws.iter().step_by(every).collect();
            let all: f64 = drawn.iter().map(|it| it.weight).sum();
            (drawn.iter().map(|it| (value(it), it.weight / all * weight))).collect()
        };
        if self.range {
            let possible = self.drawn.iter().filter(|it| !it.0.ruled_out);
            return possible
                .map(|it| ends(values(&it.1, 1.0)))
                .fold((f64::INFINITY, 0.0), |all, it| {
                    (all.0.min(it.0), it.1.max(all.1))
                });
        }
        let weighted = self.drawn.iter().flat_map(|it| values(&it.1, it.0.weight));
        ends(weighted.collect())
    }

    /// The first dose, over the furthest, at which the averaged course reaches the threshold.
    fn first_crossing(&self, threshold: f64) -> Option<f64> {
        let reached = |x: f64| de_00(self.data.start, &self.average(x)) >= threshold;
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
}

/// Both ends of the 95 % interval of weighted values.
fn ends(mut values: Vec<(f64, f64)>) -> (f64, f64) {
    values.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
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

/// A point without a course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Alone {
    /// Over the furthest.
    dose: f64,
    /// Measured ΔE00, and its U95.
    de_00: f64,
    u95: f64,
}

/// The points alone, in order.
pub(super) fn alone(data: &Data) -> Vec<Alone> {
    let start = data.start;
    let points = data.doses.iter().zip(&data.alone);
    points
        .filter_map(|(dose, (change, covariance))| {
            let there = Lab::new(start.l + change.x, start.a + change.y, start.b + change.z);
            Some(Alone {
                dose: *dose,
                de_00: de_00(start, change),
                u95: uncertainty::u95(there, covariance)?,
            })
        })
        .collect()
}

/// Doses between which a change reaches the threshold by the points alone, whatever the course between them, if it only ever
/// grows: after the last point that is surely below, before the first later one that is surely above.
fn bracket(threshold: f64, points: &[Alone]) -> (f64, f64) {
    let mut before = f64::INFINITY;
    for it in points.iter().rev() {
        if it.de_00 + it.u95 < threshold {
            return (it.dose, before);
        }
        if it.de_00 - it.u95 > threshold {
            before = it.dose;
        }
    }
    (0.0, before)
}

/// ΔE00 at a dose by the points alone, if it only ever grows: no less than at any before, no more than at any after. Above the last
/// one nothing bounds it, and 0 is said.
fn between(x: f64, points: &[Alone]) -> (f64, f64) {
    let (before, after): (Vec<&Alone>, Vec<&Alone>) = points.iter().partition(|it| it.dose < x);
    let least = (before.iter().map(|it| it.de_00 - it.u95)).fold(0.0, f64::max);
    let most = (after.iter().map(|it| it.de_00 + it.u95)).reduce(f64::min);
    (least, most.unwrap_or(0.0))
}

/// The dose, over the furthest, at which a draw reaches the threshold; infinite beyond the reach.
fn reach(threshold: f64, draw: &Draw) -> f64 {
    let along = draw.ray.reaches(threshold);
    along.map_or(f64::INFINITY, |it| draw.shape.dose(it))
}
