//! Rounding for files: the last bits of a result differ between machines, and none of them was measured.

/// To this many decimals; minus zero becomes zero.
pub(super) fn decimals(value: f64, n: u32) -> f64 {
    let scale = 10_f64.powi(i32::try_from(n).unwrap_or(i32::MAX));
    (value * scale).round() / scale + 0.0
}

/// To ten significant digits.
pub(crate) fn significant(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value) + 0.0
}

/// Colours, their spreads and pixel positions.
pub(super) fn six(value: f64) -> f64 {
    decimals(value, 6)
}

/// A covariance in Lab, row by row.
pub(super) fn covariance(m: &crate::colour::Matrix) -> [[f64; 3]; 3] {
    rows(m, |it| decimals(it, 9))
}

/// A matrix row by row, each entry through `round`.
pub(super) fn rows(m: &crate::colour::Matrix, round: impl Fn(f64) -> f64) -> [[f64; 3]; 3] {
    std::array::from_fn(|row| std::array::from_fn(|column| round(m[(row, column)])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_and_loses_the_sign_of_zero() {
        assert_eq!(six(0.123_456_78).to_string(), "0.123457");
        assert_eq!(six(-1e-9).to_string(), "0");
        assert_eq!(significant(-1_234.567_890_123).to_string(), "-1234.56789");
        assert_eq!(
            significant(1.234_567_890_123e-7).to_string(),
            "0.000000123456789"
        );
    }
}
