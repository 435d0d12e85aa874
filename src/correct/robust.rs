//! Robust statistics: spread and weights that a few wrong values don't move.

/// Standard deviation about zero from the median of absolute values (× 1.4826, exact for a normal distribution).
#[must_use]
pub(super) fn sigma(residuals: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|it| it.abs()).collect();
    1.4826 * median(&mut sizes)
}

/// Tukey's biweight at 4.685 standard deviations (95 % efficient for normal errors; Huber, *Robust Statistics*).
#[must_use]
pub(super) fn tukey(standardised: f64) -> f64 {
    let u = standardised / 4.685;
    if u.abs() < 1.0 {
        (1.0 - u * u).powi(2)
    } else {
        0.0
    }
}

/// The median; the mean of the middle two of an even count; 0 of nothing. Reorders its input.
#[must_use]
pub(super) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    values.select_nth_unstable_by(middle, f64::total_cmp);
    let upper = values[middle];
    if values.len() % 2 == 1 {
        return upper;
    }
    let lower = values[..middle]
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    (lower + upper) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_of_odd_and_even_counts() {
        assert!((median(&mut [3.0, 1.0, 2.0]) - 2.0).abs() < 1e-15);
        assert!((median(&mut [4.0, 1.0, 2.0, 3.0]) - 2.5).abs() < 1e-15);
        assert!(median(&mut []).abs() < 1e-15);
    }
}
