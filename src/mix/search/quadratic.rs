//! The least of a small quadratic form where variables have bounds and a sum that they may not exceed.

use super::MOST_PIGMENTS;
use crate::colour::Matrix;
use nalgebra::Vector3;

/// Where a step may go.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    /// How many of the three are variables; the rest stay.
    pub(super) count: usize,
    /// Least of each, ≤ 0.
    pub(super) lower: Vector3<f64>,
    /// Most of each, ≥ 0, infinite where there is none.
    pub(super) upper: Vector3<f64>,
    /// Most of their sum, ≥ 0.
    pub(super) sum: f64,
}

/// What arithmetic may leave behind.
const SLACK: f64 = 1e-12;

/// The step p with the least gᵀp + ½ pᵀHp within the bounds, for a positive definite H. No step where there is none.
///
/// Every set of bounds that may be active is tried: with three variables there are few, and which one is right needs no rounds of guessing.
///
/// # Source
/// The conditions of Karush, Kuhn and Tucker, which suffice for a convex form: J. Nocedal, S. Wright, *Numerical Optimization*, 2nd ed., 16.
pub(super) fn least(hessian: &Matrix, gradient: &Vector3<f64>, bounds: &Bounds) -> Vector3<f64> {
    let value = |step: &Vector3<f64>| gradient.dot(step) + 0.5 * step.dot(&(hessian * step));
    let mut best = (0.0, Vector3::zeros());
    let mut free = [true; MOST_PIGMENTS];
    let mut at = Vector3::zeros();
    free[bounds.count..].fill(false);
    for pattern in 0..3_usize.pow(u32::try_from(bounds.count).unwrap_or(0)) {
        let mut rest = pattern;
        let mut possible = true;
        for it in 0..bounds.count {
            let state = rest % 3;
            rest /= 3;
            free[it] = state == 0;
            at[it] = match state {
                0 => 0.0,
                1 => bounds.lower[it],
                _ => bounds.upper[it],
            };
            possible &= at[it].is_finite();
        }
        if !possible {
            continue;
        }
        let Some((step, ones)) = on_face(hessian, gradient, &free, &at) else {
            continue;
        };
        let slope: f64 = ones.sum();
        let over = step.sum() - bounds.sum;
        let on_sum = (slope > 0.0).then(|| step - ones * (over / slope));
        for step in [Some(step), on_sum].into_iter().flatten() {
            if within(&step, bounds) {
                let value = value(&step);
                if value < best.0 {
                    best = (value, step);
                }
                if pattern == 0 {
                    // The form's own least is within.
                    return best.1;
                }
            }
            if over <= 0.0 {
                break;
            }
        }
    }
    best.1
}

/// The least with some variables held, and how it moves with a price on the sum.
fn on_face(
    hessian: &Matrix,
    gradient: &Vector3<f64>,
    free: &[bool; MOST_PIGMENTS],
    at: &Vector3<f64>,
) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let mut reduced = *hessian;
    let mut target = -(gradient + hessian * at);
    let mut ones = Vector3::repeat(1.0);
    for it in 0..MOST_PIGMENTS {
        if !free[it] {
            reduced.row_mut(it).fill(0.0);
            reduced.column_mut(it).fill(0.0);
            reduced[(it, it)] = 1.0;
            target[it] = 0.0;
            ones[it] = 0.0;
        }
    }
    let factor = reduced.cholesky()?;
    Some((at + factor.solve(&target), factor.solve(&ones)))
}

fn within(step: &Vector3<f64>, bounds: &Bounds) -> bool {
    step.sum() <= bounds.sum + SLACK
        && (0..bounds.count).all(|it| {
            (bounds.lower[it] - SLACK..=bounds.upper[it] + SLACK).contains(&step[it])
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number() -> impl Strategy<Value = f64> {
        -1.0..1.0_f64
    }

    proptest! {
        /// Against points all over the allowed steps: none is lower.
        #[test]
        fn no_point_within_is_lower(
            entries in proptest::array::uniform9(number()),
            gradient in proptest::array::uniform3(number()),
            lower in proptest::array::uniform3(-0.5..0.0_f64),
            capped in proptest::array::uniform3(proptest::option::of(0.0..0.4_f64)),
            sum in 0.0..0.6_f64,
            count in 1..=3_usize,
        ) {
            let root = Matrix::from_row_slice(&entries);
            let hessian = root.transpose() * root + Matrix::identity() * 1e-3;
            let gradient = Vector3::from(gradient);
            let bounds = Bounds {
                count,
                lower: Vector3::from(lower),
                upper: Vector3::from(capped.map(|it| it.unwrap_or(f64::INFINITY))),
                sum,
            };
            let value = |step: &Vector3<f64>| gradient.dot(step) + 0.5 * step.dot(&(hessian * step));
            let found = least(&hessian, &gradient, &bounds);
            prop_assert!(within(&found, &bounds));
            let steps = 12_u32;
            let along = |it: usize, part: u32| {
                let most = bounds.upper[it].min(sum + 1.5);
                bounds.lower[it] + (most - bounds.lower[it]) * f64::from(part) / f64::from(steps)
            };
            for index in 0..13_u32.pow(3) {
                let parts = [index % 13, index / 13 % 13, index / 169];
                let point = Vector3::from_fn(|it, _| if it < count { along(it, parts[it]) } else { 0.0 });
                if within(&point, &bounds) {
                    prop_assert!(value(&found) <= value(&point) + 1e-9, "{found} {point}");
                }
            }
        }
    }
}
