//! Rows on changes: how true they are, and how true what is stated of them is.

use super::compared::{Compared, Ours};
use super::table::Table;

/// Less than this is no true change, ΔE00: on a drifting board halves of other films part by so much.
const NOTHING: f64 = 0.05;
/// From here on a true change is to be seen, ΔE00.
const PLAIN_TO_SEE: f64 = 1.5;
/// Up to here the error of ΔE00 is judged.
const SMALL: f64 = 5.0;
/// 95 % point of χ² with three degrees of freedom (printed tables).
const CHI_SQUARE_95: f64 = 7.815;

fn share(part: usize, all: usize) -> f64 {
    part as f64 / all as f64
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The rows, over all boards, and whether these are enough to tell.
pub(crate) fn rows(table: &mut Table, all: &[Compared], enough: bool) {
    let told: Vec<(&Compared, &Ours)> = all
        .iter()
        .filter_map(|it| Some((it, it.ours.as_ref()?)))
        .collect();
    table.row(
        "changes told, of those that some photo shows unclipped (the rest glare or lie in a shadow's edge)",
        "≥ 90 %",
        format!("{} of {}", told.len(), all.len()),
        told.len() * 10 >= all.len() * 9 && !all.is_empty(),
    );
    if told.is_empty() {
        return;
    }
    vectors(table, &told, enough);
    sizes(table, &told, enough);
    significance(table, &told, enough);
    coverage(table, &told, enough);
}

fn vectors(table: &mut Table, told: &[(&Compared, &Ours)], enough: bool) {
    let ours: Vec<f64> = told
        .iter()
        .map(|(is, it)| (it.change - is.truth).norm())
        .collect();
    let plain: Vec<f64> = told
        .iter()
        .map(|(is, _)| (is.plain - is.truth).norm())
        .collect();
    let (ours, plain) = (mean(&ours), mean(&plain));
    table.row_of(
        "error of the change (vector in Lab) ÷ that of the plain method's exposed − masked",
        "≤ 0.4",
        format!("{:.2} ({ours:.2} of {plain:.2})", ours / plain),
        ours / plain <= 0.4,
        enough,
    );
}

fn sizes(table: &mut Table, told: &[(&Compared, &Ours)], enough: bool) {
    let mut errors: Vec<f64> = told
        .iter()
        .filter(|(is, _)| is.truth_e <= SMALL)
        .map(|(is, it)| (it.de_00 - is.truth_e).abs())
        .collect();
    errors.sort_by(f64::total_cmp);
    if errors.is_empty() {
        return;
    }
    let p95 = errors[(errors.len() * 95 / 100).min(errors.len() - 1)];
    let mean = mean(&errors);
    table.row_of(
        "error of ΔE00, mean / 95th percentile, for true changes up to 5",
        "≤ 0.4 / ≤ 1.2",
        format!("{mean:.2} / {p95:.2} ({} changes)", errors.len()),
        mean <= 0.4 && p95 <= 1.2,
        enough,
    );
}

fn significance(table: &mut Table, told: &[(&Compared, &Ours)], enough: bool) {
    let called = |wanted: &dyn Fn(f64) -> bool| {
        let some: Vec<_> = told.iter().filter(|it| wanted(it.0.truth_e)).collect();
        let called = some.iter().filter(|it| it.1.significant).count();
        (called, some.len())
    };
    let (none, of_none) = called(&|it| it < NOTHING);
    table.row_of(
        "patches with no true change called significant",
        "≤ 5 %",
        format!(
            "{:.1} % ({none} of {of_none})",
            100.0 * share(none, of_none)
        ),
        share(none, of_none) <= 0.05,
        enough,
    );
    let (seen, of_seen) = called(&|it| it >= PLAIN_TO_SEE);
    table.row_of(
        "patches with a true ΔE00 ≥ 1.5 called significant",
        "≥ 95 %",
        format!(
            "{:.1} % ({seen} of {of_seen})",
            100.0 * share(seen, of_seen)
        ),
        share(seen, of_seen) >= 0.95,
        enough,
    );
}

/// Whether U95 and the covariance hold, all together as rows, by the size of the true change as lines.
fn coverage(table: &mut Table, told: &[(&Compared, &Ours)], enough: bool) {
    let bounds = [
        0.0,
        NOTHING,
        0.75,
        PLAIN_TO_SEE,
        3.0,
        SMALL,
        8.0,
        f64::INFINITY,
    ];
    for pair in bounds.windows(2) {
        let some: Vec<_> = told
            .iter()
            .filter(|it| (pair[0]..pair[1]).contains(&it.0.truth_e))
            .copied()
            .collect();
        if let Some(it) = Coverage::of(&some) {
            println!(
                "    true ΔE00 {:.2} – {:.2}: {}",
                pair[0],
                pair[1],
                it.words()
            );
        }
    }
    let Some(it) = Coverage::of(told) else { return };
    println!("    all: {}", it.words());
    let held = |share: f64| (0.92..=0.98).contains(&share);
    table.row_of(
        "|ΔE00 − its true value| within U95",
        "92–98 %",
        format!("{:.1} % (mean U95 {:.2})", 100.0 * it.inside, it.u95),
        held(it.inside),
        enough,
    );
    table.row_of(
        "true change within the 95 % ellipsoid of the covariance",
        "92–98 %",
        format!(
            "{:.1} % (median χ² {:.2}, 2.37 if right)",
            100.0 * it.ellipsoid,
            it.median
        ),
        held(it.ellipsoid),
        enough,
    );
}

struct Coverage {
    count: usize,
    /// Share within U95, and mean U95.
    inside: f64,
    u95: f64,
    /// Share within the ellipsoid, and median χ².
    ellipsoid: f64,
    median: f64,
    /// Mean error of the vector, and of ΔE00 with its sign.
    vector: f64,
    bias: f64,
}

impl Coverage {
    fn of(told: &[(&Compared, &Ours)]) -> Option<Self> {
        let count = told.len();
        let inside = |it: &&(&Compared, &Ours)| (it.1.de_00 - it.0.truth_e).abs() <= it.1.u95;
        let mut chi: Vec<f64> = told
            .iter()
            .map(|(is, it)| {
                let off = it.change - is.truth;
                let inverse = it.covariance.try_inverse();
                inverse.map_or(f64::INFINITY, |inverse| off.dot(&(inverse * off)))
            })
            .collect();
        chi.sort_by(f64::total_cmp);
        let of = |value: &dyn Fn(&(&Compared, &Ours)) -> f64| {
            mean(&told.iter().map(value).collect::<Vec<_>>())
        };
        (count > 0).then(|| Self {
            count,
            inside: share(told.iter().filter(inside).count(), count),
            u95: of(&|it| it.1.u95),
            ellipsoid: share(chi.iter().filter(|it| **it <= CHI_SQUARE_95).count(), count),
            median: chi[count / 2],
            vector: of(&|(is, it)| (it.change - is.truth).norm()),
            bias: of(&|(is, it)| it.de_00 - is.truth_e),
        })
    }

    fn words(&self) -> String {
        format!(
            "n {:>4}  U95 holds {:5.1} % (mean {:.2})  ellipsoid {:5.1} % (median χ² {:.2})  vector off {:.2}, ΔE00 off {:+.2}",
            self.count,
            100.0 * self.inside,
            self.u95,
            100.0 * self.ellipsoid,
            self.median,
            self.vector,
            self.bias
        )
    }
}
