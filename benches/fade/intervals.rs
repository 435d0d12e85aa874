//! Stated intervals of the dose at which ΔE00 reaches a threshold, beside the true dose.

use super::board::Run;
use masstone::fade::kinetics::Threshold;

/// Steps of the grid on which the true dose is sought, up to 1.5 times the last.
const STEPS: u32 = 150;
/// A stated interval beside the truth.
pub(crate) struct Interval {
    pub(crate) stated: Threshold,
    /// The true dose; none: not reached within what is told of.
    pub(crate) truth: Option<f64>,
    /// Nothing is told of beyond this dose.
    pub(crate) limit: f64,
}

impl Interval {
    /// Nothing stated as the lower end is 0, unless nothing at all is stated: then it is not reached.
    pub(crate) fn holds(&self) -> bool {
        let Threshold {
            dose, low, high, ..
        } = self.stated;
        let truth = self.truth.unwrap_or(f64::INFINITY);
        let not_reached = dose.is_none() && low.is_none() && high.is_none();
        let low = low.unwrap_or(if not_reached { self.limit } else { 0.0 });
        low <= truth && truth <= high.unwrap_or(f64::INFINITY)
    }

    /// Whether it could fail: the threshold is reached, or said to be.
    pub(crate) fn tells(&self) -> bool {
        self.truth.is_some() || self.stated.high.is_some()
    }
}

/// All intervals of a board.
pub(crate) fn intervals(run: &Run) -> Vec<Interval> {
    let last = run.series.last();
    let doses: Vec<f64> = (0..=STEPS)
        .map(|i| 1.5 * last * f64::from(i) / f64::from(STEPS))
        .collect();
    let courses = run.series.courses(&doses);
    let mut out = Vec::new();
    for (i, id) in run.series.ids().iter().enumerate() {
        let Some(course) = run.patch(id).and_then(|it| it.course.as_ref()) else {
            continue;
        };
        let sizes: Vec<f64> = courses[i].iter().map(|it| it.1).collect();
        for stated in &course.thresholds {
            out.push(Interval {
                stated: *stated,
                truth: crossing(&doses, &sizes, stated.de_00),
                limit: course.limit_dose,
            });
        }
    }
    out
}

/// Where a value first reaches a threshold, between the points of the grid.
pub(crate) fn crossing(doses: &[f64], sizes: &[f64], threshold: f64) -> Option<f64> {
    let after = sizes.iter().position(|it| *it >= threshold)?;
    if after == 0 {
        return Some(doses[0]);
    }
    let (low, high) = (sizes[after - 1], sizes[after]);
    let share = (threshold - low) / (high - low);
    Some(doses[after - 1] + share * (doses[after] - doses[after - 1]))
}
