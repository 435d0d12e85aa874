//! The least change of what is unknown that makes some colours what they were measured to be.
//!
//! Unknowns have a prior shape (a covariance up to one factor), colours have noise. Where noise is nothing and the colours fewer than the
//! unknowns, the answer meets them exactly and is the likeliest of all that do.

use nalgebra::{Cholesky, DMatrix, DVector};

/// How colours hang on the unknowns: values and slopes, a row a coordinate.
pub(super) type Forward<'a> = &'a dyn Fn(&DVector<f64>) -> (DVector<f64>, DMatrix<f64>);

/// What was found.
pub(super) struct Solution {
    /// The unknowns.
    pub(super) x: DVector<f64>,
    /// How they move with the colours.
    pub(super) gain: DMatrix<f64>,
    /// Covariance of what the colours leave open, as large as what they told suggests.
    pub(super) open: DMatrix<f64>,
    /// By how much the scatter is beyond the noise, as a factor of variances, ≥ 1.
    pub(super) excess: f64,
}

/// Gauss–Newton steps at most; exact answers need five to ten.
const MOST_STEPS: usize = 60;
/// A step moves no unknown by more.
const LONGEST_STEP: f64 = 1.0;
/// Steps smaller than this change nothing that is seen.
const SMALL: f64 = 1e-10;

/// `shape` is the prior covariance of the unknowns, `noise` the covariance of the targets; the unknowns start at zero.
pub(super) fn solve(
    shape: &DMatrix<f64>,
    forward: Forward<'_>,
    target: &DVector<f64>,
    noise: &DMatrix<f64>,
) -> Option<Solution> {
    let root = Cholesky::new(shape.clone())?.l();
    let weight = Cholesky::new(noise.clone())?;
    let unknowns = shape.nrows();
    let mut u = DVector::zeros(unknowns);
    let (mut values, mut slopes) = forward(&u);
    let cost = |u: &DVector<f64>, values: &DVector<f64>| {
        let missed = target - values;
        missed.dot(&weight.solve(&missed)) + u.norm_squared()
    };
    let mut here = cost(&u, &values);
    for _ in 0..MOST_STEPS {
        let white = &slopes * &root;
        let (gain, _) = gain(&white, noise)?;
        let mut step = gain * (target - &values + &white * &u) - &u;
        let longest = (&root * &step).amax();
        if !longest.is_finite() || longest < SMALL {
            break;
        }
        step *= f64::min(1.0, LONGEST_STEP / longest);
        let mut taken = false;
        for halvings in 0..12 {
            let next = &u + &step * 0.5_f64.powi(halvings);
            let (next_values, next_slopes) = forward(&(&root * &next));
            let there = cost(&next, &next_values);
            if there < here {
                (u, values, slopes, here) = (next, next_values, next_slopes, there);
                taken = true;
                break;
            }
        }
        if !taken {
            break;
        }
    }
    let white = &slopes * &root;
    let (gain, known) = gain(&white, noise)?;
    let missed = target - &values;
    let free = target.len() as f64 - known;
    let excess = if free > 0.5 {
        (missed.dot(&weight.solve(&missed)) / free).max(1.0)
    } else {
        1.0
    };
    // What was told is a draw from the shape, in as many directions as are known: its size is that of what wasn't, as far as so few tell it.
    let size = if known > 0.0 {
        u.norm_squared() / known * wider(known)
    } else {
        0.0
    };
    let open = &root * (DMatrix::identity(unknowns, unknowns) - &gain * &white);
    Some(Solution {
        x: &root * u,
        gain: &root * gain,
        open: &open * open.transpose() * size,
        excess,
    })
}

/// No size is told by fewer values: those of one colour.
const FEWEST: f64 = 3.0;

/// By how much a variance that is estimated from so many values is to be larger, so that twice its root holds 95 % none the less: the squared
/// ratio of Student's quantile to the normal one.
///
/// # Source
/// Abramowitz, Stegun, *Handbook of Mathematical Functions* 1964, 26.7.5, from memory; checked against tables of Student's distribution.
fn wider(values: f64) -> f64 {
    const Z: f64 = 1.959_964;
    let n = values.max(FEWEST);
    let z = |power: i32| Z.powi(power);
    let terms = [
        (z(3) + z(1)) / 4.0,
        (5.0 * z(5) + 16.0 * z(3) + 3.0 * z(1)) / 96.0,
        (3.0 * z(7) + 19.0 * z(5) + 17.0 * z(3) - 15.0 * z(1)) / 384.0,
    ];
    let more = terms.iter().zip(1..).map(|(it, power)| it / n.powi(power));
    ((Z + more.sum::<f64>()) / Z).powi(2)
}

/// How whitened unknowns move with the colours, and how many directions of them the colours tell.
fn gain(white: &DMatrix<f64>, noise: &DMatrix<f64>) -> Option<(DMatrix<f64>, f64)> {
    let spread = white * white.transpose() + noise;
    let back = Cholesky::new(spread)?.solve(white);
    let known = back.component_mul(white).sum();
    Some((back.transpose(), known))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_values_are_as_wide_as_student_says() {
        // 97.5 % points as tables print them.
        for (values, printed) in [
            (3.0, 3.182),
            (4.0, 2.776),
            (6.0, 2.447),
            (12.0, 2.179),
            (30.0, 2.042),
        ] {
            let ours = wider(values).sqrt() * 1.959_964;
            assert!((ours / printed - 1.0_f64).abs() < 0.01, "{values}: {ours}");
        }
        assert!((wider(0.1) - wider(3.0)).abs() < 1e-12);
    }
}
