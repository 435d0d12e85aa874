//! The row on the dose at which ΔE00 reaches a threshold.

use super::intervals::Interval;
use super::table::Table;

/// Over all boards, and whether these are enough to tell.
pub(crate) fn row(table: &mut Table, all: &[Interval], enough: bool) {
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
        enough,
    );
}
