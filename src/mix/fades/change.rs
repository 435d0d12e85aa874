//! A patch's change at a dose between its exposures.

use crate::colour::difference::{delta_e_2000, local_metric};
use crate::colour::{Lab, Matrix};
use crate::fade::kinetics::Course;
use crate::fade::report::{Change, Patch};
use nalgebra::{Matrix3, Vector3};

/// The change and its covariance at a dose that is said of the patch; none where its colour before isn't known or nothing was measured.
pub(super) fn at(patch: &Patch, dose: f64) -> Option<(Vector3<f64>, Matrix)> {
    let start = patch.start.map(|[l, a, b]| Lab::new(l, a, b))?;
    patch.changes.last()?;
    let (straight, mut covariance) = between(&patch.changes, dose);
    let Some(course) = &patch.course else {
        return Some((straight, covariance + doubt(&patch.changes, dose)));
    };
    // A course's covariance isn't in the report, but the ends of its ΔE00 are: along the change at least so wide, across as the exposures are.
    let (change, half) = on(course, dose);
    let de_00 = delta_e_2000(
        start,
        Lab::new(start.l + change.x, start.a + change.y, start.b + change.z),
    );
    let along = if de_00 > 1e-6 {
        change / de_00
    } else {
        // No direction: so wide all around.
        let metric = local_metric(start);
        let sd = half / 1.96;
        let around = metric.try_inverse().unwrap_or_else(Matrix3::identity);
        return Some((change, covariance + around * sd * sd));
    };
    let has = along_of(&along, &covariance);
    let sd = half / 1.96;
    if sd * sd > has {
        covariance += along * along.transpose() * (sd * sd - has);
    }
    Some((change, covariance))
}

/// The variance that a covariance has along a direction.
fn along_of(along: &Vector3<f64>, covariance: &Matrix) -> f64 {
    let length = along.norm_squared();
    if length > 0.0 {
        along.dot(&(covariance * along)) / (length * length)
    } else {
        0.0
    }
}

/// On straight lines between the exposures, 0 at dose 0; beyond the last one as from 0 to it.
fn between(changes: &[Change], dose: f64) -> (Vector3<f64>, Matrix) {
    let of = |it: &Change| (Vector3::new(it.dl, it.da, it.db), covariance(it));
    let after = changes.iter().position(|it| it.dose >= dose);
    let (before, after) = match after {
        Some(0) => (None, &changes[0]),
        Some(index) => (Some(&changes[index - 1]), &changes[index]),
        None => (None, &changes[changes.len() - 1]),
    };
    let (to, to_covariance) = of(after);
    let Some(before) = before else {
        let share = dose / after.dose;
        return (to * share, to_covariance * share * share);
    };
    let (from, from_covariance) = of(before);
    let share = (dose - before.dose) / (after.dose - before.dose);
    // Neighbours share most of their noise, so that it doesn't shrink between them.
    (
        from * (1.0 - share) + to * share,
        from_covariance * (1.0 - share) + to_covariance * share,
    )
}

/// What a straight line may be wrong by: a course may run fast first or last. Half of what lies between the square root and the square, as
/// standard deviation, of the change on that stretch: a choice, no source.
fn doubt(changes: &[Change], dose: f64) -> Matrix {
    let index = (changes.iter().position(|it| it.dose >= dose)).unwrap_or(changes.len() - 1);
    let of = |it: &Change| Vector3::new(it.dl, it.da, it.db);
    let beyond = dose > changes[index].dose;
    let (from, start) = if index == 0 || beyond {
        (Vector3::zeros(), 0.0)
    } else {
        (of(&changes[index - 1]), changes[index - 1].dose)
    };
    let share = (dose - start) / (changes[index].dose - start);
    let sd = (share.sqrt() - share * share).abs() / 2.0;
    let stretch = (of(&changes[index]) - from) * sd;
    stretch * stretch.transpose()
}

fn covariance(it: &Change) -> Matrix {
    Matrix::from_fn(|row, column| it.covariance[row][column])
}

/// The averaged course at a dose, and half of its 95 % interval in ΔE00.
fn on(course: &Course, dose: f64) -> (Vector3<f64>, f64) {
    let after = course.curve.iter().position(|it| it.dose >= dose);
    let Some(after) = after.or(course.curve.len().checked_sub(1)) else {
        return (Vector3::zeros(), 0.0);
    };
    let to = &course.curve[after];
    let from = &course.curve[after.saturating_sub(1)];
    let span = to.dose - from.dose;
    let share = if span > 0.0 {
        ((dose - from.dose) / span).min(1.0)
    } else {
        1.0
    };
    let mixed = |from: f64, to: f64| from + (to - from) * share;
    let change = |axis: usize| mixed(from.change[axis], to.change[axis]);
    (
        Vector3::new(change(0), change(1), change(2)),
        mixed(from.high - from.low, to.high - to.low) / 2.0,
    )
}
