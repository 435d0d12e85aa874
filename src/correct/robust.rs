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

/// Width of Cauchy's weight function, 95 % efficient for normal errors (Holland & Welsch, *Commun. Stat.* A6 (1977) 813–827).
const CAUCHY: f64 = 2.385;

/// Fewest values of which one may be wrong: of few that disagree nobody knows which it is, and a curve through three bends to either.
pub(super) const ENOUGH: usize = 5;

/// What a standardised residual costs by Cauchy's function: its square where it is small, the logarithm of it where it is large. Smooth
/// everywhere.
#[must_use]
pub(crate) fn cauchy_cost(standardised: f64) -> f64 {
    CAUCHY * CAUCHY * (1.0 + (standardised / CAUCHY).powi(2)).ln()
}

/// What a standardised residual counts where that is least, 0–1.
#[must_use]
pub(crate) fn cauchy_weight(standardised: f64) -> f64 {
    1.0 / (1.0 + (standardised / CAUCHY).powi(2))
}

/// The centre of values with their standard deviations: a weighted mean; one of [`ENOUGH`] that lies apart from the others counts for
/// little (Cauchy's weights). 0 of nothing.
#[must_use]
pub(super) fn centre(values: &[(f64, f64)]) -> f64 {
    let mean = |weight: &dyn Fn(f64, f64) -> f64| {
        let (mut sum, mut all) = (0.0, 0.0);
        for (value, sd) in values {
            let weight = weight(*value, *sd);
            sum += weight * value;
            all += weight;
        }
        if all > 0.0 { sum / all } else { 0.0 }
    };
    let mut centre = mean(&|_, sd| sd.powi(-2));
    if values.len() < ENOUGH {
        return centre;
    }
    for _ in 0..CENTRE_ROUNDS {
        centre = mean(&|value, sd| sd.powi(-2) * cauchy_weight((value - centre) / sd));
    }
    centre
}

/// Rounds of reweighting: beyond them nothing moves by a thousandth of a standard deviation.
const CENTRE_ROUNDS: usize = 10;

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
    fn one_value_apart_from_four_counts_for_little() {
        let alike = [(0.01, 0.02), (-0.01, 0.02), (0.005, 0.02), (-0.005, 0.02)];
        assert!(centre(&alike).abs() < 1e-12);
        let with_one = |off: f64| centre(&[alike[0], alike[1], alike[2], alike[3], (off, 0.02)]);
        assert!(with_one(0.4) < 0.01, "{}", with_one(0.4));
        assert!((centre(&[(0.0, 0.02), (0.4, 0.02)]) - 0.2).abs() < 1e-12);
        assert!(centre(&[]).abs() < 1e-12);
    }

    #[test]
    fn small_residuals_cost_their_square_and_large_ones_less() {
        assert!((cauchy_cost(0.1) / 0.01 - 1.0).abs() < 1e-3);
        assert!(cauchy_cost(20.0) < 30.0);
    }

    #[test]
    fn medians_of_odd_and_even_counts() {
        assert!((median(&mut [3.0, 1.0, 2.0]) - 2.0).abs() < 1e-15);
        assert!((median(&mut [4.0, 1.0, 2.0, 3.0]) - 2.5).abs() < 1e-15);
        assert!(median(&mut []).abs() < 1e-15);
    }
}
