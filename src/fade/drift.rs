//! A drift that all masked halves of a board share, told by what never was outdoors.

use super::difference;
use super::history::{Board, Exposure};
use super::trend::{self, Trend};
use crate::colour::{Lab, Matrix, difference as colour_difference};
use crate::sample::float;
use nalgebra::Vector3;

/// How all masked halves moved by a dose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Drifted {
    /// In L*, a*, b*.
    pub(super) lab: Vector3<f64>,
    /// ΔE00 of it.
    pub(super) size: f64,
}

/// ΔE00 that a drift by the last dose must have to be told, beside being significant: below, nobody would see it.
const LEAST: f64 = 0.8;
/// χ² with three degrees of freedom at 99.9 %: the photos of a board err in other ways than its maps do, too.
const TOLD: f64 = 16.266;
/// The same two where too few doses tell growth from what was off at dose 0.
const LEAST_OF_FEW: f64 = 2.0;
const TOLD_OF_FEW: f64 = 2.0 * TOLD;

/// Standard deviation of L*, a*, b* by which exposures scatter about a trend before any is seen, and how many seen ones that is worth. Simulated boards of the
/// study split have 0.2 to 0.8.
const USUAL: (f64, f64) = (0.5, 3.0);

/// Of the later exposures, in order; none where there is none, or nothing that tells.
pub(super) fn of(board: &Board<'_>) -> Vec<Option<Drifted>> {
    let later: Vec<&Exposure<'_>> = board.later().collect();
    let seen: Vec<Option<(Vector3<f64>, Matrix)>> = later.iter().map(|it| at(it)).collect();
    let points: Vec<(f64, Vector3<f64>)> = (later.iter().zip(&seen))
        .filter_map(|(exposure, seen)| Some((exposure.dose, seen.as_ref()?.0)))
        .collect();
    let Some(trend) = trend::of(&points) else {
        return seen
            .iter()
            .map(|it| told(&it.as_ref()?.0, &it.as_ref()?.1, TOLD_OF_FEW, LEAST_OF_FEW))
            .collect();
    };
    let last = told(&trend.last(), &scatter(&points, &trend), TOLD, LEAST);
    later
        .iter()
        .map(|it| {
            last?;
            let lab = trend.at(it.dose);
            let size = size(&lab);
            (size > LEAST / 2.0).then_some(Drifted { lab, size })
        })
        .collect()
}

/// Covariance of what has grown by the last dose, from how the exposures scatter about the trend: their maps err each in its own way, and all
/// of them by what was off at dose 0, which is no growth.
fn scatter(points: &[(f64, Vector3<f64>)], trend: &Trend) -> Matrix {
    let n = float(points.len());
    let left = |it: &(f64, Vector3<f64>)| it.1 - trend.at(it.0);
    let middle = points.iter().map(left).sum::<Vector3<f64>>() / n;
    let square = points
        .iter()
        .map(|it| left(it) - middle)
        .map(|it| it.component_mul(&it))
        .sum::<Vector3<f64>>();
    let (sd, worth) = USUAL;
    let variance = square.map(|it| (it + worth * sd * sd) / (n - 2.0 + worth));
    Matrix::from_diagonal(&(variance * trend.leverage))
}

fn told(lab: &Vector3<f64>, covariance: &Matrix, beyond: f64, least: f64) -> Option<Drifted> {
    let distance = lab.dot(&(covariance.try_inverse()? * lab));
    let size = size(lab);
    (distance > beyond && size > least).then_some(Drifted { lab: *lab, size })
}

/// ΔE00 of a drift of a light grey: what coatings look like on the colours that show it most.
fn size(lab: &Vector3<f64>) -> f64 {
    let grey = Lab::new(60.0, 0.0, 0.0);
    colour_difference::delta_e_2000(grey, difference::lab(&(difference::vector(grey) + lab)))
}

/// Mean drift against the cards with its covariance, over the photos that tell.
fn at(exposure: &Exposure<'_>) -> Option<(Vector3<f64>, Matrix)> {
    let told: Vec<_> = (exposure.photos.iter())
        .filter_map(|it| it.photo.correction.drift.as_ref())
        .collect();
    if told.is_empty() {
        return None;
    }
    let n = float(told.len());
    let sum: Vector3<f64> = told.iter().map(|it| Vector3::from(it.lab)).sum();
    // Photos of one dose are in one light mostly: their maps err together.
    let covariance: Matrix = told
        .iter()
        .map(|it| Matrix::from_fn(|row, column| it.covariance[row][column]))
        .sum();
    Some((sum / n, covariance / n))
}
