//! The row on the dose at which ΔE00 reaches a threshold.

use super::board::Run;
use super::table::Table;
use masstone::fade::kinetics::Threshold;

/// Steps of the grid on which the true dose is sought, up to 1.5 times the last.
const STEPS: u32 = 150;
/// Fewest intervals that tell how often they hold.
const ENOUGH: usize = 100;

/// A stated interval beside the truth.
pub(crate) struct Interval {
    stated: Threshold,
    /// The true dose; none: not reached within what is told of.
    truth: Option<f64>,
    /// Nothing is told of beyond this dose.
    limit: f64,
}

impl Interval {
    /// Nothing stated as the lower end is 0, unless nothing at all is stated: then it is not reached.
    fn holds(&self) -> bool {
        let Threshold {
            dose, low, high, ..
        } = self.stated;
        let truth = self.truth.unwrap_or(f64::INFINITY);
        let not_reached = dose.is_none() && low.is_none() && high.is_none();
        let low = low.unwrap_or(if not_reached { self.limit } else { 0.0 });
        low <= truth && truth <= high.unwrap_or(f64::INFINITY)
    }

    /// Whether it could fail: the threshold is reached, or said to be.
    fn tells(&self) -> bool {
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
fn crossing(doses: &[f64], sizes: &[f64], threshold: f64) -> Option<f64> {
    let after = sizes.iter().position(|it| *it >= threshold)?;
    if after == 0 {
        return Some(doses[0]);
    }
    let (low, high) = (sizes[after - 1], sizes[after]);
    let share = (threshold - low) / (high - low);
    Some(doses[after - 1] + share * (doses[after] - doses[after - 1]))
}

pub(crate) fn row(table: &mut Table, all: &[Interval]) {
    let telling: Vec<&Interval> = all.iter().filter(|it| it.tells()).collect();
    let what = "dose-to-threshold intervals that hold the truth (95 % stated)";
    if telling.is_empty() {
        return table.row(what, "90–99 %", "no interval".into(), false);
    }
    let held = telling.iter().filter(|it| it.holds()).count();
    let share = held as f64 / telling.len() as f64;
    let mut widths: Vec<f64> = telling
        .iter()
        .filter_map(|it| {
            let dose = it.truth.or(it.stated.dose)?;
            Some((it.stated.high? - it.stated.low.unwrap_or(0.0)) / dose)
        })
        .collect();
    widths.sort_by(f64::total_cmp);
    let closed = widths.len();
    let median = widths.get(closed / 2).copied().unwrap_or(f64::NAN);
    let quiet = all.iter().filter(|it| !it.tells());
    let wrongly = quiet.clone().filter(|it| !it.holds()).count();
    table.row_of(
        what,
        "90–99 %",
        format!(
            "{:.1} % ({held} of {} that are reached or said to be; {closed} closed above, of median width {median:.2} of the dose; {wrongly} of {} others wrong)",
            100.0 * share,
            telling.len(),
            quiet.count()
        ),
        (0.90..=0.99).contains(&share),
        telling.len() >= ENOUGH,
    );
}
