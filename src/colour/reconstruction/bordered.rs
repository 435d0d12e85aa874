//! Linear equations whose matrix is tridiagonal but for a border of three rows and columns.
//!
//! A spectrum of some eighty bands, each tied to its neighbours and all to three sums, makes such equations. Elimination along the bands takes
//! time in proportion to their number, where that of a full matrix takes its cube.

use nalgebra::{DVector, Matrix4, Vector3, Vector4};

/// The solution of
///
/// ```text
/// T  C    x     right, first n
/// Cᵀ 0    y  =  right, last three
/// ```
///
/// where T is symmetric and has `diagonal` (n values, at least two) and, beside it, `beside` throughout; row i of C is `border[i]`. `None` where
/// there is none, where rounding decides whether there is, and where a pivot along T vanishes: rows aren't exchanged.
///
/// T itself may be singular, as that of differences alone is: the first unknown is counted to the border.
pub(super) fn solve(
    diagonal: &[f64],
    beside: f64,
    border: &[Vector3<f64>],
    right: &DVector<f64>,
) -> Option<DVector<f64>> {
    let n = diagonal.len();
    // The border as each of the other rows has it.
    let row = |i: usize| {
        let first = if i == 1 { beside } else { 0.0 };
        Vector4::new(first, border[i].x, border[i].y, border[i].z)
    };
    // Downwards: pivots, and what is right of the matrix, of the border and of the equations.
    let mut below: Vec<(f64, Vector4<f64>, f64)> = Vec::with_capacity(n);
    below.push((f64::INFINITY, Vector4::zeros(), 0.0));
    for i in 1..n {
        let (pivot, border, value) = below[i - 1];
        let times = beside / pivot;
        let pivot = diagonal[i] - times * beside;
        if pivot.abs() < SINGULAR {
            return None;
        }
        below.push((pivot, row(i) - border * times, right[i] - value * times));
    }
    // Upwards: each unknown is its value less its part of the border's unknowns; what the border's own rows get of it on the way.
    let mut left = Matrix4::zeros();
    left[(0, 0)] = diagonal[0];
    for k in 0..3 {
        left[(0, k + 1)] = border[0][k];
        left[(k + 1, 0)] = border[0][k];
    }
    let mut of_border = Vector4::new(right[0], right[n], right[n + 1], right[n + 2]);
    let (mut part, mut value) = (Vector4::zeros(), 0.0);
    for i in (1..n).rev() {
        let (pivot, own_part, own_value) = below[i];
        part = (own_part - part * beside) / pivot;
        value = (own_value - value * beside) / pivot;
        below[i] = (pivot, part, value);
        left -= row(i) * part.transpose();
        of_border -= row(i) * value;
    }
    let ends = left.lu().solve(&of_border)?;
    let mut out = DVector::zeros(n + 3);
    out[0] = ends[0];
    for i in 1..n {
        out[i] = below[i].2 - below[i].1.dot(&ends);
    }
    out.fixed_rows_mut::<3>(n)
        .copy_from(&ends.fixed_rows::<3>(1));
    Some(out)
}

/// Pivots nearer to none than this leave nothing but rounding.
const SINGULAR: f64 = 1e-12;

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DMatrix;
    use proptest::prelude::*;

    /// The whole matrix, with −2 beside the diagonal.
    fn full(diagonal: &[f64], border: &[Vector3<f64>]) -> DMatrix<f64> {
        let n = diagonal.len();
        let mut full = DMatrix::zeros(n + 3, n + 3);
        for i in 0..n {
            full[(i, i)] = diagonal[i];
            if i > 0 {
                full[(i, i - 1)] = -2.0;
                full[(i - 1, i)] = -2.0;
            }
            for k in 0..3 {
                full[(i, n + k)] = border[i][k];
                full[(n + k, i)] = border[i][k];
            }
        }
        full
    }

    proptest! {
        // The library's elimination of the full matrix.
        #[test]
        fn agrees_with_a_full_elimination(
            odd in prop::collection::vec((-0.5..1.5_f64, 0.0..0.1_f64, 0.0..0.1_f64, 0.0..0.1_f64, -1.0..1.0_f64), 2..90),
            sums in (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64),
        ) {
            prop_assume!(odd.len() > 4);
            let n = odd.len();
            let ends = |i: usize| if i == 0 || i + 1 == n { 2.0 } else { 4.0 };
            let diagonal: Vec<f64> = odd.iter().enumerate().map(|(i, it)| ends(i) + it.0).collect();
            let border: Vec<_> = odd.iter().map(|it| Vector3::new(it.1, it.2, it.3)).collect();
            let right = odd.iter().map(|it| it.4).chain([sums.0, sums.1, sums.2]);
            let right = DVector::from_iterator(n + 3, right);
            let full = full(&diagonal, &border);
            let theirs = full.clone().lu().solve(&right).unwrap();
            let ours = solve(&diagonal, -2.0, &border, &right).unwrap();
            prop_assert!((&ours - &theirs).amax() < 1e-6 * (1.0 + theirs.amax()), "{} {}", ours, theirs);
            prop_assert!((full * ours - right).amax() < 1e-6 * (1.0 + theirs.amax()));
        }
    }

    proptest! {
        // Pivots of either sign, none near zero: the diagonal outweighs what is beside it.
        #[test]
        fn negative_pivots_are_as_good(
            odd in prop::collection::vec((5.0..8.0_f64, any::<bool>(), -1.0..1.0_f64), 5..60),
        ) {
            let n = odd.len();
            let diagonal: Vec<f64> = odd.iter().map(|it| if it.1 { -it.0 } else { it.0 }).collect();
            let border: Vec<_> = (0..n)
                .map(|i| {
                    let x = i as f64 / n as f64;
                    Vector3::new(1.0, x, x * x)
                })
                .collect();
            let right = odd.iter().map(|it| it.2).chain([0.3, -0.2, 0.1]);
            let right = DVector::from_iterator(n + 3, right);
            let full = full(&diagonal, &border);
            let theirs = full.lu().solve(&right).unwrap();
            prop_assume!(theirs.amax() < 1e4);
            let ours = solve(&diagonal, -2.0, &border, &right).unwrap();
            prop_assert!((&ours - &theirs).amax() < 1e-7 * (1.0 + theirs.amax()), "{} {}", ours, theirs);
        }
    }

    #[test]
    fn differences_alone_need_a_sum_to_have_a_solution() {
        // x₀ = x₁ = x₂ from the differences, and their sum is 6.
        let diagonal = [2.0, 4.0, 2.0];
        let right = DVector::from_vec(vec![0.0, 0.0, 0.0, 6.0, 0.0, 0.0]);
        let none = [Vector3::zeros(); 3];
        assert!(solve(&diagonal, -2.0, &none, &right).is_none());
        let border = [
            Vector3::new(1.0, 0.0, 0.0),
            Vector3::new(1.0, 1.0, 0.0),
            Vector3::new(1.0, 0.0, 1.0),
        ];
        let right = DVector::from_vec(vec![0.0, 0.0, 0.0, 6.0, 2.0, 2.0]);
        let found = solve(&diagonal, -2.0, &border, &right).unwrap();
        for i in 0..3 {
            assert!((found[i] - 2.0).abs() < 1e-12, "{found}");
        }
    }
}
